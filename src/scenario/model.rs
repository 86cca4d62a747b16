//! The scenario as people mean it: a plain record of the file, checked for form, with defaults filled in.
//!
//! Nothing here is precomputed and nothing knows where in the file it stood; places are kept beside it (see
//! [`super::source`]).

mod charging;
mod load;
mod outage;
mod panel;
mod power_source;
mod site;
mod station;

pub use super::clock::ClockWindow;
pub use super::cuts::{CutTable, CutTableError, CutWindow, DailyCuts};
pub use super::kinds::*;
pub use charging::{FeedsAc, Generator, Pack, SecondStation, Trips, WallCharger};
pub use load::{Load, Priority, Weekdays};
pub use outage::{Begins, Lasts, Outage};
pub use panel::{
    Aim, Cable, Gauge, Panel, PanelCable, PutOut, Shade, ShadeWhen, SolarInput, best_string_v, open_string_v,
};
pub use power_source::{Gives, PowerSource};
pub use site::{ClimateSource, CoolingRoom, Site, TimeZone};
pub use station::{
    Chemistry, EfficiencyPoint, Inverter, MeasuredCapacity, Outlet, OutletKind, Proved, Stands, Station, StaysOn,
};

use crate::units::{Fraction, WattHours};

/// One question: a place, an outage, a kit and what must stay on.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// What to call it.
    pub title: String,
    /// Where.
    pub site: Site,
    /// When and how long.
    pub outage: Outage,
    /// The power station or battery kit.
    pub station: Station,
    /// The solar arrays, possibly none.
    pub panels: Vec<Panel>,
    /// A generator that runs some hours a day.
    pub generator: Option<Generator>,
    /// A second station.
    pub second_station: Option<SecondStation>,
    /// Cars, water and wind that charge the station.
    pub sources: Vec<PowerSource>,
    /// What must stay on, at least one.
    pub loads: Vec<Load>,
    /// Strategies over years, where the file has any.
    pub years: Option<super::years::Years>,
    /// Sun that the owner measured, possibly none.
    pub seen: Vec<Seen>,
    /// Variants to compare with, possibly none.
    pub variants: Vec<Variant>,
    /// What to choose a kit from, where given.
    pub size: Option<Size>,
}

/// Sun that the owner measured over some days.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// Day of the year on which they begin, 0 for 1 January.
    pub first_day: u32,
    /// How many days, 1 to 366.
    pub days: u32,
    /// What was measured.
    pub sun: SeenSun,
    /// Half-width of the 95 % interval of the reading as a share of it.
    pub plus_minus: Fraction,
}

/// What an owner measured.
#[derive(Debug, Clone, PartialEq)]
pub enum SeenSun {
    /// Sun on a level plane.
    Level {
        /// Sum over the days \[kWh/m²\].
        kwh_m2: f64,
    },
    /// What a panel of the scenario gave while the battery was not full.
    Panel {
        /// Its name.
        panel: String,
        /// Sum over the days, at the station's solar input.
        energy: WattHours,
    },
}

/// What `size` chooses from, and what it aims at.
#[derive(Debug, Clone, PartialEq)]
pub struct Size {
    /// Survival that the lower end of the range must reach.
    pub target: Fraction,
    /// Name of the money that prices are in, possibly empty.
    pub currency: String,
    /// Batteries, the smallest first; empty for steps around the scenario's own.
    pub batteries: Vec<Choice>,
    /// Numbers of panels, the fewest first; empty for steps around the scenario's own.
    pub panels: Vec<Choice>,
}

/// One battery or one number of panels to choose.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// What to call it.
    pub name: String,
    /// Capacity by the label \[Wh\], or number of panels.
    pub amount: f64,
    /// What it costs, where given.
    pub price: Option<f64>,
    /// What it weighs \[kg\], where given.
    pub weight_kg: Option<f64>,
}

/// A variant of the scenario it stands in.
#[derive(Debug, Clone, PartialEq)]
pub struct Variant {
    /// What to call it.
    pub name: String,
    /// Keys that differ, as dotted paths (`panel.0.count`, `load.fridge.watts`), and their values as written.
    pub set: Vec<(String, toml::Value)>,
    /// Entries left out (`load.radio`).
    pub without: Vec<String>,
}

impl Scenario {
    /// Whether a person's health hangs on one of the loads.
    #[must_use]
    pub fn medical(&self) -> bool {
        self.loads.iter().any(|load| load.medical)
    }

    /// How rooms cool; `None` where they stay warm, or the mains comes back to heat them.
    #[must_use]
    pub fn cooling_room(&self) -> Option<CoolingRoom> {
        self.site.room.filter(|_| !self.outage.cuts.any())
    }
}
