//! What stores and hands out the energy.

use super::{Cable, Pack, SolarInput, WallCharger};
use crate::scenario::record::ProvedKit;
use crate::units::{
    Celsius, Fraction, Hours, Milliseconds, Uncertain, WattHours, WattHoursPerKelvin, Watts, WattsPerKelvin,
};

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
