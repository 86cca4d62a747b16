//! What the kinds of load need beside watts.

use super::ClockWindow;
use crate::units::{Celsius, Fraction, Hours, Kelvins, Kilograms, Litres, Uncertain, WattHours};

/// Power hour by hour, from a file.
#[derive(Debug, Clone, PartialEq)]
pub struct HourlyProfile {
    /// The file as written, relative to the scenario file.
    pub file: String,
    /// The column, where the file has several.
    pub column: Option<String>,
    /// What the file says \[W\]: 24 hours of every day, or the 168 of a week that begins on Monday; empty until the file
    /// has been read (see [`crate::loads::hourly`]).
    pub watts: Vec<f64>,
    /// How many of the same.
    pub count: u32,
}

/// A device with a battery of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Charge {
    /// What its use takes out of its battery in a day, spread evenly.
    pub energy_a_day: Uncertain<WattHours>,
    /// What its battery holds.
    pub holds: WattHours,
    /// Energy arriving in its battery over energy taken from the outlet.
    pub efficiency: Fraction,
    /// When it is plugged in; empty for all day.
    pub hours: Vec<ClockWindow>,
}

/// A cooled box with a thermostat: a fridge, a freezer, or both in one.
#[derive(Debug, Clone, PartialEq)]
pub struct Cooler {
    /// Energy a year by its label.
    pub label: Uncertain<WattHours>,
    /// Temperature of the room in the label's test.
    pub label_room: Celsius,
    /// The part for fresh food.
    pub fridge: Option<Compartment>,
    /// The part for frozen food.
    pub freezer: Option<Compartment>,
    /// How far the thermostat lets the temperature swing, from coldest to warmest.
    pub band: Kelvins,
    /// How warm it is around it.
    pub room: Room,
    /// How often its door is opened in a day.
    pub door_openings: u32,
    /// When its food is lost.
    pub food: FoodRule,
}

/// One part of a cooler.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compartment {
    /// Volume inside.
    pub volume: Litres,
    /// Food in it.
    pub contents: Kilograms,
    /// What the thermostat is set to.
    pub set: Celsius,
}

/// How warm it is around a cooler.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Room {
    /// Always the same.
    At(Celsius),
    /// 21 °C, or as warm as outdoors where that is warmer.
    Indoors,
    /// As the weather has it.
    Outdoors,
}

/// When the food in a vital cooler counts as lost, and the outage as failed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FoodRule {
    /// By whichever of the agencies' two rules comes first: [`FoodRule::SAFE`] or the hours without power.
    Sooner,
    /// Once it has been warmer than this for so long in all (with a thermometer).
    Above {
        /// The warmest that is safe.
        limit: Celsius,
        /// How long it may be warmer.
        hours: Hours,
    },
    /// Once a fridge has been without power for so long (no thermometer, doors closed); a freezer lasts up to twelve
    /// times as long, by how full it is.
    WithoutPower {
        /// How long a fridge may be without power.
        hours: Hours,
    },
    /// Nobody minds: energy missed counts as with other loads.
    NotJudged,
}

impl FoodRule {
    /// Food must not be warmer than this for longer than that: 40 °F, rounded down, and two hours (USDA FSIS).
    pub const SAFE: (Celsius, Hours) = (Celsius(4.0), Hours(2.0));

    /// What the thermometer says; the agencies' limit where the rule names none.
    #[must_use]
    pub fn limit(self) -> (Celsius, Hours) {
        match self {
            FoodRule::Above { limit, hours } => (limit, hours),
            _ => FoodRule::SAFE,
        }
    }
}

/// Days of the week, Monday first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Weekdays(pub [bool; 7]);

impl Weekdays {
    /// Every day.
    pub const ALL: Weekdays = Weekdays([true; 7]);
}
