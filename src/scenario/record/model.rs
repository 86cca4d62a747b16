//! The record of a bench test as people mean it: what was read off meters, displays and labels.

use jiff::civil::{Date, DateTime};

use crate::scenario::model::{Chemistry, OutletKind, Site};
use crate::units::{Celsius, Degrees, Fraction, Hours, PerKelvin, Uncertain, WattHours, Watts, WattsPerSquareMetre};

/// Everything that was tested on one unit at about one time.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// What to call it.
    pub title: String,
    /// The unit by its label.
    pub unit: Unit,
    /// Where the solar tests were made.
    pub site: Option<Site>,
    /// How it arrived.
    pub arrival: Option<Arrival>,
    /// Meters held against known loads.
    pub checks: Vec<MeterCheck>,
    /// Charging from the wall.
    pub walls: Vec<WallTest>,
    /// Discharging into a known load.
    pub capacities: Vec<CapacityTest>,
    /// A panel in the sun.
    pub solars: Vec<SolarTest>,
    /// Outlets tried one by one.
    pub outlets: Vec<OutletTest>,
    /// What was heard.
    pub noise: Option<String>,
    /// What got warm.
    pub heat: Option<String>,
    /// Who tested it.
    pub tester: Option<String>,
    /// Where.
    pub place: Option<String>,
    /// Names of files with photographs, as written.
    pub photographs: Vec<String>,
}

impl Record {
    /// Day of the last test of capacity or charging, else of the arrival.
    #[must_use]
    pub fn date(&self) -> Option<Date> {
        let capacities = self.capacities.iter().filter_map(|test| test.run.start);
        let walls = self.walls.iter().filter_map(|test| test.run.start);
        let arrival = self.arrival.as_ref().and_then(|arrival| arrival.date);
        capacities.chain(walls).map(|time| time.date()).max().or(arrival)
    }

    /// What is wrong with the unit beside what it gives, one phrase each: damage, parts that are missing, outlets that do not work, runs in
    /// which it may have tripped.
    #[must_use]
    pub fn defects(&self) -> Vec<String> {
        let came = self.arrival.iter().flat_map(|arrival| {
            let damage = arrival.damage.iter().map(|damage| format!("damage: {damage}"));
            damage.chain(arrival.missing().into_iter().map(|part| format!("missing from the box: {part}")))
        });
        let dead = self.outlets.iter().filter(|test| !test.passed).map(|test| match &test.remark {
            Some(remark) => format!("the outlet \"{}\" does not work ({remark})", test.name),
            None => format!("the outlet \"{}\" does not work", test.name),
        });
        let off =
            self.tripped().map(|test| format!("it may have switched itself off in the midst of \"{}\"", test.name));
        came.chain(dead).chain(off).collect()
    }

    /// The runs in which the unit may have tripped; none where somebody noted that the load was switched by hand.
    pub fn tripped(&self) -> impl Iterator<Item = &CapacityTest> {
        let remarks =
            self.noise.iter().chain(&self.heat).chain(self.outlets.iter().filter_map(|test| test.remark.as_ref()));
        let by_hand = remarks.into_iter().any(|remark| remark.to_lowercase().contains("by hand"));
        self.capacities.iter().filter(move |test| !by_hand && test.run.tripped())
    }

    /// The meters that tests were read off, each with the names of its tests.
    #[must_use]
    pub fn meters_used(&self) -> Vec<(&Meter, Vec<&str>)> {
        let walls = self.walls.iter().map(|test| (&test.run.meter, test.name.as_str()));
        let capacities = self.capacities.iter().map(|test| (&test.run.meter, test.name.as_str()));
        let solars = self.solars.iter().map(|test| (&test.meter, test.name.as_str()));
        let checks = self.checks.iter().map(|test| (&test.meter, test.name.as_str()));
        let mut used: Vec<(&Meter, Vec<&str>)> = Vec::new();
        for (meter, test) in walls.chain(capacities).chain(solars).chain(checks) {
            match used.iter_mut().find(|(other, _)| *other == meter) {
                Some((_, tests)) => tests.push(test),
                None => used.push((meter, vec![test])),
            }
        }
        used
    }
}

/// The unit by its label.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// Energy on the label.
    pub rated_capacity: WattHours,
    /// Kind of cells.
    pub chemistry: Chemistry,
    /// The inverter's power for long, needed once the AC outlet is tested.
    pub inverter: Option<Watts>,
    /// Most power taken from panels.
    pub solar_limit: Option<Watts>,
    /// What its maker calls it.
    pub model: Option<String>,
    /// The number that tells it from others of its kind.
    pub serial_number: Option<String>,
    /// Full cycles so far, where the unit counts them.
    pub cycles: Option<u32>,
}

/// How the unit arrived.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrival {
    /// When.
    pub date: Option<Date>,
    /// Damage seen; `None` for none.
    pub damage: Option<String>,
    /// What the packing list promises.
    pub packing_list: Vec<String>,
    /// What was in the box.
    pub found: Vec<String>,
    /// Whether the packaging was kept, as returns ask for.
    pub packaging_kept: Option<bool>,
    /// Last day to send it back.
    pub return_by: Option<Date>,
    /// Last day of the warranty.
    pub warranty_until: Option<Date>,
    /// State of charge on the display as delivered.
    pub charge: Option<Fraction>,
}

impl Arrival {
    /// What the packing list promises and nobody found.
    #[must_use]
    pub fn missing(&self) -> Vec<&str> {
        let found = |wanted: &str| self.found.iter().any(|item| item.to_lowercase() == wanted.to_lowercase());
        self.packing_list.iter().map(String::as_str).filter(|item| !found(item)).collect()
    }
}

/// The instrument that watts or watt-hours were read from.
#[derive(Debug, Clone, PartialEq)]
pub struct Meter {
    /// What to call it: tests with the same name share its error.
    pub name: String,
    /// Limits of its error as a share of the reading, as its maker states them.
    pub accuracy: Fraction,
    /// Its last digit, for power.
    pub last_digit: Watts,
}

/// A meter held against a load that is known.
#[derive(Debug, Clone, PartialEq)]
pub struct MeterCheck {
    /// What to call it.
    pub name: String,
    /// The meter.
    pub meter: Meter,
    /// What it read.
    pub read: Watts,
    /// What really flowed.
    pub known: Uncertain<Watts>,
}

/// How far a charge between empty and full may be off on a display, in points, 95 %. Displays jump and are not straight;
/// common practice, no source.
pub const DISPLAY: f64 = 0.05;

/// What a charge on a display may be off by where nothing is said, 95 %: full by the charger and off by itself are events, not
/// readings.
///
/// * `charge` — 0 to 1.
#[must_use]
pub fn display_doubt(charge: f64) -> f64 {
    if 0.0 < charge && charge < 1.0 { DISPLAY } else { 0.0 }
}

/// Half-width of the error of one reading that stands for a whole run, as a share, 95 %: warm resistors, sagging or
/// creeping loads. No source.
pub const ONE_READING: f64 = 0.05;

/// So long somebody may take to move a plug or to look at a display \[h\].
const MOVED_H: f64 = 5.0 / 60.0;

/// One reading of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Since the run began.
    pub after: Hours,
    /// Power.
    pub watts: Watts,
    /// State of charge on the display, where it was noted.
    pub charge: Option<Fraction>,
}

/// How the energy of a run is known.
#[derive(Debug, Clone, PartialEq)]
pub enum Metered {
    /// The meter counted watt-hours itself.
    Counted(Uncertain<WattHours>),
    /// One reading of the power stands for all of the time.
    Steady(Watts),
    /// Several readings, in order of time.
    Readings(Vec<Reading>),
}

/// A flow of energy through a meter from start to stop.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Clock time of the place at which it began, where given.
    pub start: Option<DateTime>,
    /// How long it lasted.
    pub lasted: Hours,
    /// How far start and stop may each be off.
    pub clock: Hours,
    /// The energy.
    pub metered: Metered,
    /// The instrument.
    pub meter: Meter,
    /// State of charge at the start and at the stop; the uncertainty is that of the display.
    pub charge: (Uncertain<Fraction>, Uncertain<Fraction>),
    /// Temperature of the air.
    pub ambient: Option<Celsius>,
}

impl Run {
    /// Whether its power dropped to nothing in the midst, for longer than a hand needs to move a plug: it may have tripped.
    #[must_use]
    pub fn tripped(&self) -> bool {
        matches!(&self.metered, Metered::Readings(readings) if super::agree::spells_off(readings).iter().any(|(from, to)| MOVED_H < to - from))
    }
}

/// The unit discharged into a load.
#[derive(Debug, Clone, PartialEq)]
pub struct CapacityTest {
    /// What to call it.
    pub name: String,
    /// Where the load hung.
    pub outlet: OutletKind,
    /// What came out.
    pub run: Run,
}

/// The unit charged from the wall, metered before its charger.
#[derive(Debug, Clone, PartialEq)]
pub struct WallTest {
    /// What to call it.
    pub name: String,
    /// What went in.
    pub run: Run,
}

/// What the sky looked like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SkyLook {
    /// Blue, no cloud near the sun.
    Clear,
    /// Milky, the sun still throws a sharp shadow.
    Hazy,
    /// Anything else: no panel can be judged by it.
    Cloudy,
}

/// Which way the panel looked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    /// Squarely at the sun: a stick on the panel threw no shadow.
    AtTheSun,
    /// Fixed.
    Fixed {
        /// Slope, 0 lying flat.
        tilt: Degrees,
        /// Compass direction.
        facing: Degrees,
    },
}

/// How well a light meter held in the panel's plane does as a share, 95 %. Typical, no source.
pub const LIGHT_METER: f64 = 0.05;

/// Panels in the sun at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct SolarTest {
    /// What to call it.
    pub name: String,
    /// Clock time of the place.
    pub at: DateTime,
    /// Power that was read.
    pub watts: Watts,
    /// The instrument.
    pub meter: Meter,
    /// Label of all panels together.
    pub rated: Watts,
    /// Light on their plane by a meter held in it \[W/m²\].
    pub irradiance: Option<Uncertain<WattsPerSquareMetre>>,
    /// Which way they looked; always there without a measured irradiance.
    pub aim: Option<Aim>,
    /// The sky; always there without a measured irradiance.
    pub sky: Option<SkyLook>,
    /// Air temperature, where it was noted.
    pub air: Option<Celsius>,
    /// State of charge of the station, where it was noted: near full it takes less.
    pub charge: Option<Fraction>,
    /// Change of power with temperature.
    pub power_coefficient: PerKelvin,
}

/// One outlet tried.
#[derive(Debug, Clone, PartialEq)]
pub struct OutletTest {
    /// What to call it.
    pub name: String,
    /// What hung on it.
    pub load: Option<Watts>,
    /// Whether it worked.
    pub passed: bool,
    /// What was noted.
    pub remark: Option<String>,
}
