//! What charges or joins a station beside the sun.

use super::ClockWindow;
use crate::units::{Fraction, Litres, Uncertain, WattHours, Watts};

/// What charges the station from a wall outlet or a generator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallCharger {
    /// Most power it draws from the plug.
    pub limit: Watts,
    /// Power arriving in the station over power from the plug.
    pub efficiency: Fraction,
}

/// A generator that charges the station through its wall charger, and may feed AC loads directly.
#[derive(Debug, Clone, PartialEq)]
pub struct Generator {
    /// Most power for long.
    pub limit: Watts,
    /// When it runs, every day.
    pub hours: Vec<ClockWindow>,
    /// Fuel burned for each kWh that it gives, where known.
    pub fuel_per_kwh: Option<Uncertain<Litres>>,
    /// Fuel on hand as the outage begins; none given: it never ends.
    pub fuel: Option<Litres>,
    /// Fuel burned in each hour that it runs, beside what each kWh takes.
    pub fuel_per_hour: Option<Uncertain<Litres>>,
    /// Whether AC loads run on it while it runs.
    pub feeds_ac: FeedsAc,
    /// Most power that goes to them; none given: all that it gives.
    pub feeds_ac_up_to: Option<Watts>,
}

/// How AC loads run on a generator while it runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FeedsAc {
    /// They do not: it charges the station, and that feeds them.
    #[default]
    No,
    /// Somebody plugs those into it that it can carry, and back into the station.
    ByHand,
    /// The station passes on to its AC outlets what comes in at its wall charger's plug: to all of them.
    Through,
}

/// A battery that is plugged into the station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pack {
    /// What is on its label.
    pub rated_capacity: Uncertain<WattHours>,
    /// Whether that ± is the owner's, see [`super::Station::capacity_told`].
    pub capacity_told: bool,
    /// What is left of it.
    pub state_of_health: Uncertain<Fraction>,
}

/// A second station that refills the first, and can be carried away to be charged.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondStation {
    /// What is on its label.
    pub rated_capacity: WattHours,
    /// Of that, what comes out of its outlet from full to empty.
    pub delivers: Uncertain<Fraction>,
    /// Most power at its outlet.
    pub limit: Watts,
    /// Its charge as the outage begins.
    pub starts_charged: Fraction,
    /// When it is carried away, where it is.
    pub trips: Option<Trips>,
}

/// Trips on which a station is charged elsewhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trips {
    /// From when to when it is away.
    pub away: ClockWindow,
    /// Days from one trip to the next, and from the first day of the outage to the first.
    pub every_days: u32,
    /// Its charge as it is back.
    pub returns_at: Fraction,
}
