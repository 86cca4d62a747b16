//! What would make an answer surer: the unknown that carries most of its range, and a measurement that an owner can make.

use serde::Serialize;

use super::verdict::{Stakes, Verdict};
use crate::engine::{Plan, Rig, Unknown};
use crate::scenario::model::Scenario;
use crate::trials::interval::Interval;
use crate::trials::unknowns::{Held, Survival};

/// Least share of what is not known that is worth a measurement.
const WORTH_MEASURING: f64 = 0.05;
/// Part of a range's width by which a measurement must make it narrower to be worth telling, 0 to 1, unless it changes the verdict.
const NARROWER: f64 = 0.1;
/// And by how much of all outages at least, 0 to 1.
pub const NARROWER_BY: f64 = 0.02;
/// Least that a quick measurement must take off a range to be told beside records of years, 0 to 1.
const SEEN: f64 = 0.01;
/// Charge that a measurement of an idle draw should take at least, 0 to 1: a display counts in whole percents.
const READABLE: f64 = 0.1;
/// Charge that it may take at most.
const MOST: f64 = 0.8;
/// Hours that one could take \[h\].
const HOURS: [f64; 5] = [12.0, 24.0, 48.0, 6.0, 3.0];

/// A measurement.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Measure {
    /// An outlet on with nothing in it, and the charge read before and after.
    IdleDraw {
        /// `ac`, `dc` or `usb`.
        outlet: &'static str,
        /// How long \[h\].
        hours_h: f64,
        /// Draw that the loss of one percent of charge in that time means, the station's own draw in it \[W\].
        watts_a_percent_w: f64,
        /// Charge that is lost if the draw is what is assumed, in percent.
        expected_percent: f64,
        /// The draw assumed, the station's own in it \[W\].
        assumed_w: f64,
        /// Of that, the station's own \[W\].
        own_draw_w: f64,
    },
    /// A discharge from full to empty through a known load.
    CapacityTest {
        /// What is on the label \[Wh\].
        capacity_wh: f64,
    },
    /// The same with a small load and a large one, which tells the converter's losses from the cells.
    TwoLoads {
        /// See [`Measure::CapacityTest`].
        capacity_wh: f64,
    },
    /// A meter between the outlet and a load.
    PlugMeter {
        /// The load's name.
        load: String,
    },
    /// The smallest load alone on the AC outlet for a night.
    NightWithSmallLoad {
        /// The key that ends the doubt.
        key: &'static str,
    },
    /// The second station emptied into a known load.
    SecondStation {
        /// What is on its label \[Wh\].
        capacity_wh: f64,
    },
    /// A generator's tank filled to a mark before and after a run.
    FuelOfARun,
    /// A panel at noon under a clear sky.
    PanelAtNoon {
        /// The panel's name.
        panel: String,
    },
    /// What the own panel gives over some weeks.
    CountedSun,
    /// Daily sums of sun near by, over some years.
    RecordOfDays,
    /// Air temperatures near by.
    RecordOfAir,
    /// More years of the record that is there.
    MoreYears,
}

impl Measure {
    /// Whether a day or two and a cheap meter are enough.
    #[must_use]
    pub fn is_quick(&self) -> bool {
        !matches!(self, Measure::CountedSun | Measure::RecordOfDays | Measure::RecordOfAir | Measure::MoreYears)
    }

    /// The one that tells a quantity.
    fn of(unknown: &Unknown, scenario: &Scenario, plan: &Plan) -> Option<Measure> {
        let rig = plan.kit.best_estimate();
        let name = || unknown.of.clone().unwrap_or_default();
        let capacity_wh = scenario.station.rated_capacity.value.0;
        let idle = |outlet, draw_w| idle_draw(&rig, outlet, draw_w);
        Some(match unknown.quantity {
            "inverter_idle" | "ac_draw" => idle("ac", rig.inverter.idle_w)?,
            "dc_draw" => idle("dc", rig.converter[1].idle_w)?,
            "usb_draw" => idle("usb", rig.converter[2].idle_w)?,
            "battery_capacity" | "usable_energy" | "charge_efficiency" | "discharge_efficiency" => {
                Measure::CapacityTest { capacity_wh }
            }
            "inverter_efficiency" | "ac_conversion" | "dc_conversion" | "usb_conversion" | "ac_step" | "rate_loss" => {
                Measure::TwoLoads { capacity_wh }
            }
            "load_watts" | "load_use" | "heat_leak" => Measure::PlugMeter { load: name() },
            "second_station" => {
                Measure::SecondStation { capacity_wh: scenario.second_station.as_ref()?.rated_capacity.0 }
            }
            "generator_thirst" => Measure::FuelOfARun,
            "wakes_above" => Measure::NightWithSmallLoad { key: "wakes_above" },
            "switches_off_below" | "switches_off_after" => Measure::NightWithSmallLoad { key: "switches_off_below" },
            "panel_power" => Measure::PanelAtNoon { panel: name() },
            "mean_sun" if !plan.arrays.is_empty() => Measure::CountedSun,
            "mean_sun" | "spread_of_days" | "darkest_days" | "length_of_spells" | "unrest_of_hours" => {
                Measure::RecordOfDays
            }
            "air_temperature" => Measure::RecordOfAir,
            "luck_of_the_years" => Measure::MoreYears,
            _ => return None,
        })
    }
}

/// How a draw shows in the charge: power times hours over what the cells hold, the discharging loss counted. `None` where no
/// sensible time would show it.
fn idle_draw(rig: &Rig, outlet: &'static str, draw_w: f64) -> Option<Measure> {
    let (own_draw_w, assumed_w) = (rig.own_draw_w, draw_w + rig.own_draw_w);
    let bus_wh = rig.capacity_wh * rig.discharge_efficiency;
    let lost = |hours: f64| assumed_w * hours / bus_wh;
    let hours_h = HOURS.into_iter().find(|hours| (READABLE..=MOST).contains(&lost(*hours)))?;
    Some(Measure::IdleDraw {
        outlet,
        hours_h,
        watts_a_percent_w: 0.01 * bus_wh / hours_h,
        expected_percent: 100.0 * lost(hours_h),
        assumed_w,
        own_draw_w,
    })
}

/// Something that would make an answer surer.
#[derive(Debug, Clone, PartialEq)]
pub struct Surer {
    /// What is not known.
    pub unknown: Unknown,
    /// Its share of what is not known, above 0 to 1.
    pub share: f64,
    /// What to do about it.
    pub measure: Measure,
    /// Survival if it were known exactly and came out as assumed, on the same trials.
    pub held: Held,
}

/// Whether a range known better tells a person anything new: another verdict, or a range that is noticeably narrower.
fn tells_more(survival: &Survival, held: &Held, stakes: Stakes) -> bool {
    let other = Verdict::of(held.probability, held.interval, stakes) != Verdict::by_range(survival, stakes);
    let width = |interval: Interval| interval.high - interval.low;
    let narrower = width(survival.interval) - width(held.interval);
    other || narrower >= (NARROWER * width(survival.interval)).max(NARROWER_BY)
}

/// Whether it would at least narrow the range by what a reader of whole outages in a hundred sees.
fn tells_anything(survival: &Survival, held: &Held) -> bool {
    let width = |interval: Interval| interval.high - interval.low;
    width(survival.interval) - width(held.interval) >= SEEN
}

/// What would make an answer surer: first the greatest of those unknowns that take a day or two and a cheap meter to measure,
/// beside it the greatest of all where that is another. What would neither change the verdict nor make the range noticeably
/// narrower is left out, but for a quick measurement beside nothing but years of records.
#[must_use]
pub fn surer(scenario: &Scenario, plan: &Plan, survival: &Survival, stakes: Stakes) -> Vec<Surer> {
    let unknowns = plan.unknowns();
    let mut told: Vec<(bool, Surer)> = unknowns
        .into_iter()
        .zip(survival.shares.iter().zip(&survival.held))
        .filter_map(|(unknown, (share, held))| {
            let (share, held) = ((*share).filter(|share| *share >= WORTH_MEASURING)?, (*held)?);
            let more = tells_more(survival, &held, stakes);
            let surer = Surer { measure: Measure::of(&unknown, scenario, plan)?, unknown, share, held };
            (more || (surer.measure.is_quick() && tells_anything(survival, &held))).then_some((more, surer))
        })
        .collect();
    told.sort_by(|a, b| b.0.cmp(&a.0).then(b.1.share.total_cmp(&a.1.share)));
    let greatest =
        told.iter().filter(|(more, _)| *more).map(|(_, surer)| surer).max_by(|a, b| a.share.total_cmp(&b.share));
    let quick = told.iter().map(|(_, surer)| surer).find(|surer| surer.measure.is_quick());
    // A quick one that hardly tells anything stands only beside what takes years.
    let quick = quick.filter(|_| greatest.is_some());
    let other = greatest.filter(|greatest| quick.is_none_or(|quick| quick.unknown != greatest.unknown));
    quick.into_iter().chain(other).cloned().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_idle_draw_shows_in_the_charge_by_capacity_times_percent_over_hours() {
        // By hand: 1000 Wh of cells that give all they hold, 100 to 82 % in 12 h: 1000 × 0.18 / 12 = 15 W.
        let rig = Rig { own_draw_w: 3.0, ..Rig::ideal(1000.0, 1000.0) };
        let Some(Measure::IdleDraw { hours_h, watts_a_percent_w, expected_percent, assumed_w, own_draw_w, .. }) =
            idle_draw(&rig, "ac", 12.0)
        else {
            panic!("a measurement")
        };
        assert_eq!((hours_h, assumed_w, own_draw_w), (12.0, 15.0, 3.0));
        assert!((expected_percent - 18.0).abs() < 1e-9 && (18.0 * watts_a_percent_w - 15.0).abs() < 1e-9);
        // What would empty the battery overnight is looked at for a shorter time, what hardly shows for a longer one.
        let hours = |draw_w: f64| match idle_draw(&rig, "ac", draw_w) {
            Some(Measure::IdleDraw { hours_h, .. }) => Some(hours_h),
            _ => None,
        };
        assert_eq!(
            [hours(97.0), hours(3.0), hours(0.0), hours(0.0001 - 3.0)],
            [Some(6.0), Some(24.0), Some(48.0), None]
        );
    }
}
