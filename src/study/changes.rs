//! Single changes to a kit or to how it is used, and what each would do.

mod candidates;
mod together;

pub(in crate::study) use candidates::{CHOSEN_ON, choosing_seed};
pub use candidates::{WORTH_A_STEP, food_by_name, holds_food, keeps_the_house};
pub use together::{Together, free_together};

use serde::{Serialize, Serializer};

use super::compare::Pair;
use crate::engine::Plan;
use crate::scenario::model::{Aim, ClockWindow, Generator, OutletKind, Panel, PutOut, Scenario};
use crate::trials::run::Progress;
use crate::trials::unknowns::{Survival, survivals};
use crate::trials::{Settings, Tally, run};
use crate::units::Degrees;

/// One change to a kit.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Change {
    /// One more string of the same panels side by side with those of an array, wired as they are; the input's limits stay.
    OneMoreString {
        /// Index of the array.
        #[serde(skip)]
        array: usize,
        /// Panels in series in a string, 1 or more.
        series: u32,
        /// Power of one panel \[W\].
        #[serde(rename = "panel_w")]
        watts: f64,
        /// The array's name, where there are several.
        beside: Option<String>,
        /// Panels that the array has.
        #[serde(skip)]
        has: u32,
    },
    /// A quarter more battery.
    BiggerBattery,
    /// A load plugged in elsewhere.
    MoveLoad {
        /// Index of the load.
        #[serde(skip)]
        load: usize,
        /// Its name.
        #[serde(rename = "load")]
        name: String,
        /// The outlet.
        #[serde(serialize_with = "outlet_code")]
        to: OutletKind,
        /// What it draws there \[W\].
        #[serde(rename = "watts_w")]
        watts: f64,
        /// Whether a person's health hangs on it: it then takes a supply that its maker approves.
        medical: bool,
    },
    /// A load left off.
    LeaveOff {
        /// Index of the load.
        #[serde(skip)]
        load: usize,
        /// Its name.
        #[serde(rename = "load")]
        name: String,
        /// Whether it is vital: it is given up, and survival is then of the other vital loads alone.
        vital: bool,
    },
    /// A load off in the hours of the night, 23:00 to 06:00.
    OffAtNight {
        /// Index of the load.
        #[serde(skip)]
        load: usize,
        /// Its name.
        #[serde(rename = "load")]
        name: String,
        /// Whether it is vital: it is dark then all the same, and that is not counted as missed.
        vital: bool,
    },
    /// A load switched off below a state of charge, or below another than now.
    MoveMark {
        /// Index of the load.
        #[serde(skip)]
        load: usize,
        /// Its name.
        #[serde(rename = "load")]
        name: String,
        /// The state of charge, 0 to 1.
        off_below: f64,
        /// That of now, where there is one.
        now_off_below: Option<f64>,
    },
    /// The generator an hour longer each time it runs last in a day.
    GeneratorLonger {
        /// How much longer \[h\].
        hours_h: f64,
    },
    /// The generator started earlier or later, for as long as now.
    GeneratorAt {
        /// How much later \[h\]; negative for earlier.
        later_h: f64,
        /// When it starts then, the first time in a day \[minutes after midnight\].
        starts_min: u16,
    },
    /// Panels that are put out for some hours, an hour earlier and an hour longer.
    OutLonger {
        /// Index of the array.
        #[serde(skip)]
        array: usize,
        /// Its name.
        #[serde(rename = "panel")]
        name: String,
    },
    /// Panels tilted steeper.
    Steeper {
        /// Index of the array.
        #[serde(skip)]
        array: usize,
        /// Its name.
        #[serde(rename = "panel")]
        name: String,
        /// The slope against the horizontal \[°\].
        tilt_deg: f64,
    },
    /// The battery full as the outage begins.
    StartFull,
    /// The station in a heated room.
    BringInside,
}

fn outlet_code<S: Serializer>(outlet: &OutletKind, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(match outlet {
        OutletKind::Ac => "ac",
        OutletKind::Dc => "dc",
        OutletKind::Usb => "usb",
    })
}

/// What a change costs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Costs {
    /// Nothing but a habit.
    Nothing,
    /// Something vital, which is then done without.
    GivesUp,
    /// Fuel for the generator.
    Fuel,
    /// Something to buy.
    Money,
}

/// The hours of the night in which something can be off [minutes after midnight].
pub const NIGHT: ClockWindow = ClockWindow { from_minute: 23 * 60, to_minute: 6 * 60 };

/// A clock time moved by so many minutes.
fn moved(minute: u16, by: i32) -> u16 {
    (i32::from(minute) + by).rem_euclid(1440) as u16
}

/// A window that begins and ends so much later; its end is 1 to 1440.
fn shifted(window: ClockWindow, from_by: i32, to_by: i32) -> ClockWindow {
    let to_minute = moved(window.to_minute, to_by);
    ClockWindow {
        from_minute: moved(window.from_minute, from_by),
        to_minute: if to_minute == 0 { 1440 } else { to_minute },
    }
}

/// A generator whose last run of the day is longer.
fn longer(generator: &Generator, hours_h: f64) -> Generator {
    let mut generator = generator.clone();
    if let Some(last) = generator.hours.last_mut() {
        *last = shifted(*last, 0, (60.0 * hours_h) as i32);
    }
    generator
}

/// A generator that starts later.
fn later(generator: &Generator, later_h: f64) -> Generator {
    let by = (60.0 * later_h) as i32;
    Generator { hours: generator.hours.iter().map(|window| shifted(*window, by, by)).collect(), ..generator.clone() }
}

/// A panel that is out an hour earlier and an hour longer.
fn out_longer(panel: &Panel) -> Panel {
    let out = panel
        .out
        .as_ref()
        .map(|out| PutOut { hours: out.hours.iter().map(|window| shifted(*window, -60, 60)).collect(), ..out.clone() });
    Panel { out, ..panel.clone() }
}

/// A panel at another slope.
fn tilted(panel: &Panel, tilt_deg: f64) -> Panel {
    match panel.aim {
        Aim::Fixed { facing, .. } => Panel { aim: Aim::Fixed { tilt: Degrees(tilt_deg), facing }, ..panel.clone() },
        _ => panel.clone(),
    }
}

impl Change {
    /// Whether it leaves something vital in the dark at night.
    #[must_use]
    pub fn darkens_vital(&self) -> bool {
        matches!(self, Change::OffAtNight { vital: true, .. })
    }

    /// What it costs.
    #[must_use]
    pub fn costs(&self) -> Costs {
        match self {
            Change::OneMoreString { .. } | Change::BiggerBattery | Change::MoveLoad { medical: true, .. } => {
                Costs::Money
            }
            Change::GeneratorLonger { .. } => Costs::Fuel,
            Change::LeaveOff { vital: true, .. } => Costs::GivesUp,
            Change::MoveLoad { .. }
            | Change::LeaveOff { .. }
            | Change::OffAtNight { .. }
            | Change::MoveMark { .. }
            | Change::GeneratorAt { .. }
            | Change::OutLonger { .. }
            | Change::Steeper { .. }
            | Change::StartFull
            | Change::BringInside => Costs::Nothing,
        }
    }

    /// The plan with the change made.
    ///
    /// * `scenario` — that which the plan was compiled from.
    #[must_use]
    pub fn apply_to(&self, scenario: &Scenario, plan: &Plan) -> Plan {
        let lit = |array: usize, panel: &dyn Fn(&Panel) -> Panel| {
            let changed = scenario.panels.get(array).map(|old| plan.with_light(scenario, array, &panel(old)));
            changed.and_then(Result::ok).unwrap_or_else(|| plan.clone())
        };
        let run = |generator: &dyn Fn(&Generator) -> Generator| match &scenario.generator {
            Some(old) => plan.with_generator(&generator(old), &scenario.station),
            None => plan.clone(),
        };
        match *self {
            Change::GeneratorLonger { hours_h } => run(&|old| longer(old, hours_h)),
            Change::GeneratorAt { later_h, .. } => run(&|old| later(old, later_h)),
            Change::OutLonger { array, .. } => lit(array, &out_longer),
            Change::Steeper { array, tilt_deg, .. } => lit(array, &|old| tilted(old, tilt_deg)),
            _ => self.apply(plan),
        }
    }

    /// The same for a change that needs nothing of the scenario; others leave the plan as it is.
    #[must_use]
    pub fn apply(&self, plan: &Plan) -> Plan {
        let mut plan = plan.clone();
        match *self {
            Change::OneMoreString { array, series, .. } => {
                if let Some(array) = plan.arrays.get_mut(array) {
                    let grown = (array.rated_w + f64::from(series) * array.panel_w) / array.rated_w;
                    array.rated_w *= grown;
                    array.rated_w_sd *= grown;
                }
            }
            Change::BiggerBattery => plan.kit.scale *= 1.25,
            Change::MoveLoad { load, to, watts, .. } => {
                if let Some(load) = plan.loads.get_mut(load) {
                    load.outlet = to as usize;
                    load.scale_watts(watts);
                }
                plan.hold_off_overloads();
            }
            Change::LeaveOff { load, .. } => {
                if load < plan.loads.len() {
                    plan.loads.remove(load);
                    plan.mind_rules();
                }
            }
            Change::OffAtNight { load, .. } => {
                if let Some(load) = plan.loads.get_mut(load) {
                    load.rest_between(f64::from(NIGHT.from_minute) / 60.0, f64::from(NIGHT.to_minute) / 60.0);
                }
                plan.mind_rules();
            }
            Change::MoveMark { load, off_below, .. } => {
                if let Some(load) = plan.loads.get_mut(load) {
                    load.set_rule(Some(off_below));
                }
                plan.mind_rules();
            }
            Change::GeneratorLonger { .. }
            | Change::GeneratorAt { .. }
            | Change::OutLonger { .. }
            | Change::Steeper { .. } => {}
            Change::StartFull => plan.kit.start_full(),
            Change::BringInside => plan.kit.bring_inside(),
        }
        plan
    }
}

/// What a change does to survival, on the same weather and draws for loads.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// The change.
    pub change: Change,
    /// Survival with it.
    pub survival: Survival,
    /// The kit as it is and the changed one on the same trials.
    pub pair: Pair,
}

impl Effect {
    /// Whether it costs nothing and surely helps.
    #[must_use]
    pub fn helps_for_nothing(&self) -> bool {
        self.change.costs() == Costs::Nothing && self.pair.interval.low > 0.0
    }

    /// Compares two tallies of the same trials.
    #[must_use]
    pub fn of(change: Change, survival: Survival, base: &Tally, changed: &Tally) -> Effect {
        Effect { change, survival, pair: Pair::of(base, changed) }
    }
}

/// A plan and single changes to it on the same trials.
#[derive(Debug)]
pub(super) struct Tried {
    pub tally: Tally,
    pub survival: Survival,
    /// In the order of the changes.
    pub effects: Vec<Effect>,
}

impl Tried {
    /// `None` where the run was stopped before the first trials were done.
    pub(super) fn of(
        plan: &Plan,
        changes: Vec<(Change, Plan)>,
        settings: &Settings,
        progress: &dyn Progress,
    ) -> Option<Tried> {
        let (changes, changed): (Vec<Change>, Vec<Plan>) = changes.into_iter().unzip();
        let plans: Vec<Plan> = std::iter::once(plan.clone()).chain(changed).collect();
        let mut tallies = run(&plans, settings, progress);
        if tallies.first()?.trials == 0 {
            return None;
        }
        let mut survivals = survivals(&plans, &tallies, settings, progress).into_iter();
        let changed = tallies.split_off(1);
        let (tally, survival) = (tallies.pop()?, survivals.next()?);
        let effects = changes.into_iter().zip(changed.iter().zip(survivals));
        let effects = effects.map(|(change, (changed, survival))| Effect::of(change, survival, &tally, changed));
        Some(Tried { effects: effects.collect(), tally, survival })
    }
}

#[cfg(test)]
mod tests;
