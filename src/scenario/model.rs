//! The scenario as people mean it: a plain record of the file, checked for form, with defaults filled in.
//!
//! Nothing here is precomputed and nothing knows where in the file it stood; places are kept beside it (see
//! [`super::source`]).

mod panel;
mod power_source;

pub use super::clock::ClockWindow;
pub use super::cuts::{CutTable, CutTableError, CutWindow, DailyCuts};
pub use super::kinds::*;
pub use panel::{
    Aim, Cable, Gauge, Panel, PanelCable, PutOut, Shade, ShadeWhen, SolarInput, best_string_v, open_string_v,
};
pub use power_source::{Gives, PowerSource};

use super::record::ProvedKit;
use crate::units::{
    Celsius, Fraction, Hours, Litres, Metres, Milliseconds, Uncertain, WattHours, WattHoursPerKelvin, Watts,
    WattsPerKelvin,
};

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

/// Where the kit stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// Latitude \[°\], north positive, -90 to 90.
    pub latitude_deg: f64,
    /// Longitude \[°\], east positive, -180 to 180.
    pub longitude_deg: f64,
    /// Height above sea level, where given.
    pub height: Option<Metres>,
    /// Clock of the place.
    pub timezone: TimeZone,
    /// Where the weather comes from.
    pub climate: ClimateSource,
    /// Twelve monthly means of sun on a level plane \[kWh/m² a day\] that replace the climate's own.
    pub monthly_sun: Option<[f64; 12]>,
    /// Share of light that the ground sends back (0.2 for grass and soil, 0.6 for fresh snow).
    pub ground_reflection: Fraction,
    /// How the rooms indoors cool once the outage takes the heating; not given: they stay warm.
    pub room: Option<CoolingRoom>,
}

/// A room without heating.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoolingRoom {
    /// What it comes to; not given: the air outdoors.
    pub falls_to: Option<Celsius>,
    /// When it has come to within a twentieth of the way.
    pub within: Hours,
}

/// The clock of the place.
#[derive(Debug, Clone, PartialEq)]
pub enum TimeZone {
    /// Not given: the whole hour nearest to the sun, from the longitude.
    FromLongitude,
    /// A fixed offset from UTC \[minutes\], east positive.
    Fixed(i32),
    /// An IANA name, summer time included.
    Named(String),
}

/// Where the weather comes from. Paths are as written, relative to the scenario file.
#[derive(Debug, Clone, PartialEq)]
pub enum ClimateSource {
    /// The built-in world table.
    World,
    /// A climate file.
    File(String),
    /// An hourly record, replayed as it was, or fitted first.
    Hourly {
        /// The file.
        file: String,
        /// Fit a climate to it and draw from that, rather than replay its days.
        fitted: bool,
    },
}

impl Scenario {
    /// How rooms cool; `None` where they stay warm, or the mains comes back to heat them.
    #[must_use]
    pub fn cooling_room(&self) -> Option<CoolingRoom> {
        self.site.room.filter(|_| !self.outage.cuts.any())
    }
}

/// The time without mains power.
#[derive(Debug, Clone, PartialEq)]
pub struct Outage {
    /// When it begins.
    pub begins: Begins,
    /// How long it lasts.
    pub lasts: Lasts,
    /// State of charge as the lights go out.
    pub starts_charged: Uncertain<Fraction>,
    /// Whether the first days are drawn from the darkest part of the season's weather.
    pub begins_in_a_storm: bool,
    /// Energy that the vital loads may miss before the outage counts as failed.
    pub allow_unmet: WattHours,
    /// The cuts, where the mains comes back between them; none: one outage from end to end.
    pub cuts: DailyCuts,
    /// The most that a weak mains gives the wall charger between cuts.
    pub mains_limit: Option<Watts>,
    /// When somebody is there and awake to switch an outlet on; empty: at all hours.
    pub somebody_home: Vec<ClockWindow>,
}

/// When an outage begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Begins {
    /// Any day and hour of a month (1 to 12), all equally likely.
    Month(u8),
    /// At this clock time.
    At {
        /// Calendar year.
        year: i16,
        /// 1 to 12.
        month: u8,
        /// 1 to 31.
        day: u8,
        /// Minutes after midnight, 0 to 1439.
        minute_of_day: u16,
    },
}

/// How long an outage lasts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lasts {
    /// Always the same.
    Fixed(Hours),
    /// Log-normal: half are shorter than the median, 95 % shorter than the 95 % point.
    LogNormal {
        /// Half of all outages are shorter.
        median: Hours,
        /// 95 % of all outages are shorter.
        p95: Hours,
    },
}

impl Lasts {
    /// The length that 19 of 20 outages stay within; that of all of them where it is always the same.
    #[must_use]
    pub fn nineteen_of_twenty(self) -> Hours {
        match self {
            Lasts::Fixed(hours) => hours,
            Lasts::LogNormal { p95, .. } => p95,
        }
    }
}

/// What stores and hands out the energy.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Energy in the cells by the label.
    pub rated_capacity: Uncertain<WattHours>,
    /// Whether it is written with a ± of its own, even of 0: then it is what the cells hold.
    pub capacity_told: bool,
    /// A bench test at an outlet, where one was made.
    pub measured: Option<MeasuredCapacity>,
    /// A record of bench tests that stands for capacity, draws and efficiencies, where one is named.
    pub proved: Option<Proved>,
    /// Kind of cells.
    pub chemistry: Chemistry,
    /// What is left of the label's capacity; counts only where nothing was measured.
    pub state_of_health: Uncertain<Fraction>,
    /// Where it stands, which sets its temperature.
    pub stands: Stands,
    /// Charging is allowed between these temperatures of the cells.
    pub charges_between: (Celsius, Celsius),
    /// The station works at all between these temperatures of the cells.
    pub works_between: (Celsius, Celsius),
    /// A heater that warms cells too cold to be charged, drawing this while it does.
    pub self_heating: Option<Watts>,
    /// Heat that warms the station by a kelvin; none given: by label and chemistry (see [`crate::kit::battery`]).
    pub heat_capacity: Option<WattHoursPerKelvin>,
    /// Heat that it loses for each kelvin above what is around it; none given: by a typical lag.
    pub heat_loss: Option<WattsPerKelvin>,
    /// From this state of charge on charging slows down.
    pub tapers_from: Fraction,
    /// Charging stops at this state of charge.
    pub charge_to: Fraction,
    /// Discharging stops at this state of charge.
    pub keep_above: Fraction,
    /// Share of the energy sent to the cells that arrives in them.
    pub charge_efficiency: Uncertain<Fraction>,
    /// Share of the energy taken from the cells that arrives at the outlets' converters.
    pub discharge_efficiency: Uncertain<Fraction>,
    /// Most power sent to the cells, before their charging loss; none given: by the chemistry (see [`crate::kit::battery`]).
    pub charge_limit: Option<Watts>,
    /// Most power out of the cells, before their discharging loss; none given: no limit but the outlets'.
    pub discharge_limit: Option<Watts>,
    /// What the electronics draw from the cells as long as the station is on.
    pub own_draw: Watts,
    /// Share of the capacity lost in 30 days of standing.
    pub self_discharge_a_month: Fraction,
    /// Of lithium cells: share of the energy that goes for each C beyond 0.2 C, or the rate of a bench test.
    pub loses_by_rate: Fraction,
    /// The AC outlet.
    pub inverter: Option<Inverter>,
    /// The regulated 12 V outlet.
    pub dc_outlet: Option<Outlet>,
    /// The USB outlets together.
    pub usb: Option<Outlet>,
    /// Most power of each of its ports; empty where any port gives all.
    pub usb_ports: Vec<Watts>,
    /// The solar inputs.
    pub solar_inputs: Vec<SolarInput>,
    /// Most power that they take together, where it is less than what each of them takes.
    pub solar_limit: Option<Watts>,
    /// Batteries plugged into it.
    pub packs: Vec<Pack>,
    /// The charger for mains or a generator.
    pub wall_charger: Option<WallCharger>,
}

/// Where a station stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stands {
    /// In a heated room: 20 °C.
    Indoors,
    /// Outside in the shade: follows the air.
    Outdoors,
    /// Outside in the sun: warmer than the air by day.
    InTheSun,
    /// In a closed box or car in the sun: far warmer than the air by day.
    InAClosedBox,
    /// Somewhere that keeps this temperature.
    At(Celsius),
}

/// What charges the station from a wall outlet or a generator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallCharger {
    /// Most power it draws from the plug.
    pub limit: Watts,
    /// Power arriving in the station over power from the plug.
    pub efficiency: Fraction,
}

/// A generator that charges the station through its wall charger.
#[derive(Debug, Clone, PartialEq)]
pub struct Generator {
    /// Most power for long.
    pub limit: Watts,
    /// When it runs, every day.
    pub hours: Vec<ClockWindow>,
    /// Fuel burned for each kWh that it gives, where known.
    pub fuel_per_kwh: Option<Litres>,
    /// Fuel on hand as the outage begins; none given: it never ends.
    pub fuel: Option<Litres>,
    /// Fuel burned in each hour that it runs, beside what each kWh takes.
    pub fuel_per_hour: Option<Litres>,
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
    /// Whether that ± is the owner's, see [`Station::capacity_told`].
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

/// A capacity measured at an outlet under a known load, from full to empty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredCapacity {
    /// Energy that came out of the outlet.
    pub delivered: Uncertain<WattHours>,
    /// Which outlet.
    pub outlet: OutletKind,
    /// The load during the test.
    pub load: Watts,
}

/// A record of bench tests, by name and, once it was read, by what it says.
#[derive(Debug, Clone, PartialEq)]
pub struct Proved {
    /// File as written, relative to the scenario.
    pub file: String,
    /// What the tests say; whoever can read files fills it in before the scenario is compiled.
    pub kit: Option<ProvedKit>,
}

/// Kind of cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Chemistry {
    /// Lithium iron phosphate.
    Lfp,
    /// Lithium nickel manganese cobalt oxide and its relatives.
    Nmc,
    /// Lead-acid.
    LeadAcid,
}

/// The three kinds of outlet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum OutletKind {
    /// Mains voltage from the inverter.
    Ac,
    /// 12 V.
    Dc,
    /// USB.
    Usb,
}

/// The inverter behind the AC outlet.
#[derive(Debug, Clone, PartialEq)]
pub struct Inverter {
    /// Most power for long.
    pub rated: Watts,
    /// Most power for a moment.
    pub surge: Option<Watts>,
    /// What it draws with nothing connected while it is switched on.
    pub idle: Uncertain<Watts>,
    /// Efficiency at some loads, idle draw included; at least one point.
    pub efficiency: Vec<EfficiencyPoint>,
    /// Whether it sleeps, drawing nothing, while too little asks for AC.
    pub sleeps: bool,
    /// The gap as it takes over from the mains, where known.
    pub switchover: Option<Milliseconds>,
    /// What it makes of small loads and of empty cells.
    pub stays: StaysOn,
    /// Whether nobody has told the idle draw.
    pub idle_assumed: bool,
    /// Whether nobody has told an efficiency.
    pub efficiency_assumed: bool,
}

/// When the AC outlet is on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StaysOn {
    /// Least load that wakes an inverter that sleeps, or keeps the outlet of another one on: between these, the same where that
    /// is told.
    pub least: (Watts, Watts),
    /// Whether nobody has told that.
    pub assumed: bool,
    /// Time under less than that after which an outlet that does not sleep switches itself off: between these, the same where
    /// that is told.
    pub off_after: (Hours, Hours),
    /// Whether it takes over by itself when the mains fails.
    pub ups: bool,
    /// Whether it comes on again by itself once there is something in the cells after it went off.
    pub comes_back: bool,
}

/// An inverter's efficiency at one load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EfficiencyPoint {
    /// The AC load.
    pub load: Watts,
    /// AC power over DC power, idle draw included.
    pub efficiency: Fraction,
}

/// A DC or USB outlet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outlet {
    /// Most power.
    pub limit: Watts,
    /// Power out over power in.
    pub efficiency: Fraction,
    /// What it draws while switched on with nothing connected.
    pub idle: Watts,
    /// The cable from a 12 V outlet to what it feeds, where it matters.
    pub cable: Option<Cable>,
}

/// One thing that is plugged in.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// What to call it; no two loads share a name.
    pub name: String,
    /// Where it is plugged in.
    pub outlet: OutletKind,
    /// How much it matters.
    pub priority: Priority,
    /// Power while it runs; for duty loads while the motor runs.
    pub watts: Uncertain<Watts>,
    /// How many of the same that is.
    pub count: u32,
    /// The longest gap at an AC outlet that it rides through, where known.
    pub tolerates: Option<Milliseconds>,
    /// Power of one of them for the moment in which its motor starts, where known.
    pub starting: Option<Watts>,
    /// When it draws power.
    pub pattern: Pattern,
    /// The days of the week on which it is used.
    pub days: Weekdays,
    /// Day-to-day standard deviation of its use, as a share of its mean.
    pub varies: Fraction,
    /// Switched off while the state of charge is below this.
    pub off_below: Option<Fraction>,
    /// Where else the same thing could be plugged in, and the watts it would draw there.
    pub could_use: Option<(OutletKind, Watts)>,
    /// Whether a person's health hangs on it.
    pub medical: bool,
}

impl Load {
    /// Whether it follows a file that has not been read yet.
    #[must_use]
    pub fn lacks_profile(&self) -> bool {
        matches!(&self.pattern, Pattern::Profile(profile) if profile.watts.is_empty())
    }
}

/// Days of the week, Monday first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Weekdays(pub [bool; 7]);

impl Weekdays {
    /// Every day.
    pub const ALL: Weekdays = Weekdays([true; 7]);
    /// No day.
    pub const NONE: Weekdays = Weekdays([false; 7]);

    /// The days of either.
    #[must_use]
    pub fn or(self, other: Weekdays) -> Weekdays {
        Weekdays(std::array::from_fn(|day| self.0[day] || other.0[day]))
    }
}

/// How much a load matters. Less important ones are given up first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Priority {
    /// Must stay on: the outage counts as failed when it does not.
    Vital,
    /// Given up only for the vital ones.
    Useful,
    /// The first to go.
    Spare,
}
