//! The kinds of load: what each one is, and how it is read. Its name and keys stand in [`super::schema`].

use super::amount::shown;
use super::clock::ClockWindow;
use super::cooler;
use super::fields::Fields;
use super::forms::{Braces, Map, OrBraces, Text};
use super::problem::Problem;
use super::schema::load::{CHARGE, COOLER, DUTY, PROFILE, PUMP, SCHEDULE, STEADY, file_and_column};
use crate::units::{Celsius, Fraction, Hours, Kelvins, Kilograms, Litres, Metres, Uncertain, WattHours, Watts};

/// When a load draws power.
#[derive(Debug, Clone, PartialEq)]
pub enum Pattern {
    /// All the time.
    Steady,
    /// Within these windows of the clock.
    Schedule(Vec<ClockWindow>),
    /// On and off by itself: this share of the time, spread evenly, within these windows (all day when empty).
    Duty {
        /// Share of the time that it runs.
        share: Fraction,
        /// When it is plugged in; empty for all day.
        hours: Vec<ClockWindow>,
    },
    /// As a file says, hour by hour.
    Profile(HourlyProfile),
    /// A device with a battery of its own, topped up when it is plugged in; a pump with its tank.
    Charge(Charge),
    /// A fridge, freezer or cool box, whose compressor runs as its thermostat asks.
    Cooler(Cooler),
}

/// Reads what a load of a kind has beside the keys of all.
///
/// * `watts` — what one of them draws while it runs.
pub(super) fn read(fields: &Fields, kind: &str, count: u32, watts: Option<Watts>) -> Option<Pattern> {
    let hours = || fields.get::<Vec<ClockWindow>>("hours");
    Some(match kind {
        SCHEDULE => Pattern::Schedule(hours()?),
        DUTY => Pattern::Duty { share: fields.get("duty")?, hours: hours().unwrap_or_default() },
        PROFILE => Pattern::Profile(HourlyProfile { count, ..fields.get("profile")? }),
        CHARGE => Pattern::Charge(charge(fields, hours().unwrap_or_default(), watts, f64::from(count))?),
        PUMP => Pattern::Charge(pump(fields, hours().unwrap_or_default(), watts, f64::from(count))?),
        COOLER => Pattern::Cooler(cooler::read(fields, watts)?),
        STEADY => Pattern::Steady,
        _ => return None,
    })
}

/// A file, or a file with a column.
pub(super) fn profile_file() -> OrBraces<Map<Text, HourlyProfile>, HourlyProfile> {
    const fn of(file: String, column: Option<String>) -> HourlyProfile {
        HourlyProfile { file, column, watts: Vec::new(), count: 1 }
    }
    OrBraces {
        one: Map(Text, |file| of(file, None)),
        allowed: Some("a file, like \"heater.csv\", or { file = \"heater.csv\", column = \"watts\" }"),
        braces: Braces {
            keys: file_and_column(),
            wrong: "must name a file",
            example: "{ file = \"heater.csv\", column = \"watts\" }",
            build: |inner| Some(of(inner.get("file")?, Some(inner.get("column")?))),
        },
    }
}

/// A device with a battery of its own.
fn charge(fields: &Fields, hours: Vec<ClockWindow>, watts: Option<Watts>, count: f64) -> Option<Charge> {
    let energy_a_day: Uncertain<WattHours> = fields.get("energy_a_day")?;
    let holds = fields.get("holds").unwrap_or(energy_a_day.value);
    let charge = Charge { energy_a_day, holds, efficiency: fields.get("charging_efficiency")?, hours };
    enough(fields, "energy_a_day", &charge, watts, shown::<WattHours>);
    Some(charge.times(count))
}

/// Energy that lifts a litre of water by a metre \[Wh\]: 1 kg times standard gravity (9.80665 m/s², CGPM 1901).
const LIFTING_WH: f64 = 9.806_65 / 3600.0;

/// A pump that fills a tank: the tank is a store of the energy that lifts its water, as a battery is. The height counts pipe
/// friction in, if the person who gives it does.
fn pump(fields: &Fields, hours: Vec<ClockWindow>, watts: Option<Watts>, count: f64) -> Option<Charge> {
    let (lift, water_a_day): (Metres, Litres) = (fields.get("lift")?, fields.get("water_a_day")?);
    let lifted = |water: Litres| WattHours(LIFTING_WH * lift.0 * water.0);
    let charge = Charge {
        energy_a_day: Uncertain::exact(lifted(water_a_day)),
        holds: lifted(fields.get("tank").unwrap_or(water_a_day)),
        efficiency: fields.get("pump_efficiency")?,
        hours,
    };
    if charge.holds.0 < charge.energy_a_day.value.0 * (1.0 - 1e-9) {
        let small = Problem::warning(fields.key("tank"), "holds less than a day's water")
            .found(shown::<Litres>(fields.get("tank").unwrap_or(water_a_day).0))
            .allowed(format!("{} or more to last a day", shown::<Litres>(water_a_day.0)))
            .help(
                "a tank that empties within the day goes without whenever the pump waits; correct it if it is a slip",
            );
        fields.findings().push(small);
    }
    enough(fields, "water_a_day", &charge, watts, |wh| shown::<Litres>((wh / lifted(Litres(1.0)).0).round()));
    Some(charge.times(count))
}

/// Whether what fills a store gives in a day what is taken out of it.
///
/// * `told` — so many watt-hours in the store, as its owner counts them.
fn enough(fields: &Fields, key: &str, charge: &Charge, watts: Option<Watts>, told: impl Fn(f64) -> String) {
    let Some(watts) = watts else { return };
    let plugged: f64 =
        if charge.hours.is_empty() { 24.0 } else { charge.hours.iter().map(|window| window.hours().0).sum() };
    let most = watts.0 * plugged * charge.efficiency.0;
    if most < charge.energy_a_day.value.0 {
        let slow = Problem::error(fields.key(key), "is more than what fills it gives in a day")
            .found(told(charge.energy_a_day.value.0))
            .allowed(format!(
                "up to {}: {watts} for {plugged} h, of which {} arrive",
                told(most.round()),
                charge.efficiency
            ))
            .help("let it run for longer, or correct watts")
            .against(fields.key("watts"), "what it draws");
        fields.findings().push(slow);
    }
}

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

impl Charge {
    /// So many of the same.
    fn times(self, count: f64) -> Charge {
        let Uncertain { value, plus_minus } = self.energy_a_day;
        Charge { energy_a_day: Uncertain::new(value * count, plus_minus * count), holds: self.holds * count, ..self }
    }
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
