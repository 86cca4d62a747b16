//! Do the parts of a kit fit together? A list of judgements, each with its numbers, reason and remedy.

mod allowance;
mod cells;
mod plugs;
mod starts;
mod watts;

use crate::calendar::month_of_day;
use crate::engine::Plan;
use crate::engine::kit_plan::INDOORS_C;
use crate::engine::plan::Onset;
use crate::engine::warmth::CLOSED_BOX_K;
use crate::engine::wiring::held_share;
use crate::kit::battery::acid_freezes_c;
use crate::kit::electrical::{self, DC_OUTLET_V, SHEDS_SNOW_DEG};
pub use crate::kit::matter::Source;
use crate::kit::matter::{CellsIn, DrawFrom};
use crate::kit::{Judgement, Matter, Weight};
use crate::scenario::model::{Aim, Chemistry, OutletKind, Panel, Scenario, Stands, best_string_v, open_string_v};
use crate::scenario::record::FigureKind;
use crate::study::prove::unknowns::draw_is_typical;
use crate::units::Celsius;
use crate::weather::Climate;
pub use allowance::{Unjudged, unjudged};
pub use cells::bench_test;
use cells::discharge_rate;
use watts::{ALL, busiest, never_run, outlets, small_ac, switched_over};
pub use watts::{Overload, overloads};

/// The air that a kit has to reckon with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Coldest on record in any month.
    pub record_low: Celsius,
    /// Coldest on record in each month.
    pub lows_c: [f64; 12],
    /// Mean of each month.
    pub means_c: [f64; 12],
    /// Mean of each month's warmest hours.
    pub highs_c: [f64; 12],
    /// Mean of a day colder than nineteen of twenty, of each month.
    pub cold_days_c: [f64; 12],
}

impl Air {
    /// Of a climate.
    #[must_use]
    pub fn of(climate: &Climate) -> Air {
        let months = &climate.months;
        Air {
            record_low: Celsius(months.iter().map(|m| m.air.record_low_c).fold(f64::INFINITY, f64::min)),
            lows_c: std::array::from_fn(|m| months[m].air.record_low_c),
            means_c: std::array::from_fn(|m| months[m].air.mean_c),
            highs_c: std::array::from_fn(|m| months[m].air.mean_c + 0.5 * months[m].air.swing_k),
            cold_days_c: std::array::from_fn(|m| {
                months[m].air.mean_c - crate::statistics::NORMAL_P95 * months[m].air.day_sd_k
            }),
        }
    }

    /// Temperature of the cells that the plain sums reckon with \[°C\]: that of the place where the station stands, and in
    /// the weather that of a day colder than nineteen of twenty in the outage's month; in a closed box that of a sunny afternoon, where
    /// that stops it.
    #[must_use]
    pub fn cells_c(&self, plan: &Plan) -> f64 {
        let home_c = plan.kit.best_estimate().home_c;
        match plan.kit.stands {
            Stands::InAClosedBox => {
                // Where the afternoon stops it, no cold day is worse.
                let hot_c = self.highs_c[month(plan)] + CLOSED_BOX_K[1];
                let works = plan.kit.best_estimate().limits_at(hot_c).discharge_w > 0.0;
                if works { self.cold_days_c[month(plan)] } else { hot_c }
            }
            Stands::Outdoors | Stands::InTheSun => self.cold_days_c[month(plan)],
            Stands::Indoors => plan.room_falls_to_c(self.cold_days_c[month(plan)]).unwrap_or(home_c),
            Stands::At(_) => home_c,
        }
    }
}

/// Judges a kit: panels, cables, input, station's place, outlets, motors, generator. The gravest come first.
#[must_use]
pub fn verdicts(scenario: &Scenario, plan: &Plan, air: &Air) -> Vec<Judgement> {
    let mut all = electrical::verdicts(scenario, air.record_low);
    all.push(place(scenario, plan, air));
    all.extend(acid_freezes(scenario, plan, air));
    all.extend(snow(scenario, plan, air));
    all.extend(bench_test(&plan.kit));
    all.extend(discharge_rate(plan));
    all.extend(never_run(plan));
    all.extend(outlets(scenario, plan));
    all.extend(starts::starts(scenario, plan));
    all.extend(idle(scenario, plan));
    all.extend(small_ac(scenario, plan));
    all.extend(switched_over(scenario));
    all.extend(dc_cable(scenario, plan));
    all.extend(generator(scenario));
    all.extend(plugs::on_the_generator(scenario, plan));
    all.extend(starting(scenario, plan));
    all.extend(allowance::verdict(scenario, plan));
    all.extend(controller(scenario));
    all.extend(plugs::car(scenario));
    all.extend(plugs::switching_over(scenario));
    all.sort_by_key(|verdict| verdict.weight);
    all
}

/// The month in which a plan's outages begin, from 0.
pub(crate) fn month(plan: &Plan) -> usize {
    match plan.season.outage.onset {
        Onset::AnyOf { first_day, .. } => month_of_day(first_day as usize),
        Onset::At { day, .. } => month_of_day(day as usize),
    }
}

fn place(scenario: &Scenario, plan: &Plan, air: &Air) -> Judgement {
    let station = &scenario.station;
    let m = month(plan);
    // Rounded here, and without a negative zero.
    let [low, mean, high] = [air.lows_c[m], air.means_c[m], air.highs_c[m]].map(|c| c.round() + 0.0);
    let (coldest_charge, warmest_charge) = (station.charges_between.0, station.charges_between.1);
    let (works, rig) = (station.works_between, plan.kit.best_estimate());
    // What a heater that is fed without end keeps up against the loss.
    let lift_k = rig.heater_w / rig.heat_loss_w_per_k;
    let cools_to_c = plan.room_falls_to_c(mean);
    let (how, at_c) = match station.stands {
        Stands::InTheSun => (CellsIn::Sun, mean),
        Stands::InAClosedBox => (CellsIn::ClosedBox, (high + CLOSED_BOX_K[1]).round()),
        Stands::Outdoors if mean < works.0.0 => (CellsIn::TooColdToWorkMostly, mean),
        Stands::Outdoors if low < works.0.0 && coldest_charge.0 <= low + lift_k => (CellsIn::TooColdToWorkAtTimes, low),
        Stands::Outdoors if mean + lift_k < coldest_charge.0 => (CellsIn::TooColdToCharge, mean),
        Stands::Outdoors if low + lift_k < coldest_charge.0 => (CellsIn::FrostStopsCharging, low),
        Stands::Outdoors if low < COLD_BELOW_C && mean < HOT_FROM_C => (CellsIn::ColdAtTimes, low),
        Stands::Outdoors => (CellsIn::NeverCold, low),
        Stands::At(c) if !rig.limits().works => (CellsIn::DoesNotWorkThere, c.0),
        Stands::At(c) if c.0 + lift_k < coldest_charge.0 || warmest_charge < c => (CellsIn::NotChargedThere, c.0),
        Stands::At(c) => (CellsIn::WorksThere, c.0),
        Stands::Indoors => match cools_to_c {
            Some(c) if c + lift_k < coldest_charge.0 => (CellsIn::CoolingRoomStopsCharging, c),
            Some(c) => (CellsIn::CoolingRoom, c),
            None if INDOORS_C < plan.kit.room_c() => (CellsIn::WarmRoom, plan.kit.room_c()),
            None => (CellsIn::HeatedRoom, rig.home_c),
        },
    };
    let fitness = rig.fitness.at(at_c);
    let fits = matches!(
        how,
        CellsIn::ColdAtTimes
            | CellsIn::NeverCold
            | CellsIn::WorksThere
            | CellsIn::CoolingRoom
            | CellsIn::HeatedRoom
            | CellsIn::WarmRoom
    );
    let temperature = Matter::Temperature {
        how,
        mean_c: mean,
        high_c: high,
        low_c: low,
        at_c,
        usable_share: if fitness.works { fitness.usable } else { 0.0 },
        heater_lift_k: lift_k,
        charges_between_c: [coldest_charge.0, warmest_charge.0],
        works_between_c: [works.0.0, works.1.0],
        lead_acid: station.chemistry == Chemistry::LeadAcid,
    };
    Judgement::new(if fits { Weight::Fits } else { Weight::Warns }, "station.stands", temperature)
}

/// Lead-acid cells where it freezes, which burst once they are empty: however high the charge at which the station stops, what
/// hangs on the poles goes on.
fn acid_freezes(scenario: &Scenario, plan: &Plan, air: &Air) -> Option<Judgement> {
    let station = &scenario.station;
    let m = month(plan);
    let around_c = match station.stands {
        Stands::InTheSun | Stands::InAClosedBox | Stands::Outdoors => air.lows_c[m],
        Stands::At(c) => c.0,
        Stands::Indoors => plan.room_falls_to_c(air.means_c[m])?,
    };
    let coldest_c = around_c.round() + 0.0;
    let flat_c = acid_freezes_c(0.0);
    // A heater is fed by sun or wall alone: it keeps no empty battery from freezing.
    (station.chemistry == Chemistry::LeadAcid && coldest_c < flat_c).then(|| {
        let kept = station.keep_above.0;
        let matter = Matter::AcidFreezes { coldest_c, flat_c, kept, kept_c: acid_freezes_c(kept) };
        Judgement::new(Weight::Warns, "station.chemistry", matter).in_the_answer()
    })
}

/// Air that nobody calls cold, and that costs cells next to nothing \[°C\].
pub const COLD_BELOW_C: f64 = 15.0;

/// From this mean of the month on nobody calls a place cold, however low the design cold lies for caution's sake \[°C\]: cells are
/// rated at it.
const HOT_FROM_C: f64 = 25.0;

/// Mean air below which snow is to be reckoned with \[°C\]. Common practice, no source: most snow falls at 2 °C or less.
const SNOW_BELOW_C: f64 = 2.0;

fn snow(scenario: &Scenario, plan: &Plan, air: &Air) -> Option<Judgement> {
    let mean = air.means_c[month(plan)];
    let keeps_snow = |panel: &Panel| match panel.aim {
        Aim::Fixed { tilt, .. } => tilt.0 < SHEDS_SNOW_DEG,
        // Turned towards a low sun and back; looked after by hand, but not all day.
        Aim::ByHand { .. } | Aim::AtTheSun => true,
    };
    let at = scenario.panels.iter().position(keeps_snow).filter(|_| mean < SNOW_BELOW_C)?;
    let snow = Matter::Snow { mean_c: mean.round() + 0.0 };
    Some(Judgement::new(Weight::Warns, format!("panel.{at}"), snow).in_the_answer())
}

/// An inverter that eats more than it serves.
fn idle(scenario: &Scenario, plan: &Plan) -> Option<Judgement> {
    let inverter = scenario.station.inverter.as_ref()?;
    let on_ac: Vec<_> = plan.loads.iter().filter(|load| load.outlet == 0 && !load.never_runs()).collect();
    let asked_wh: f64 = on_ac.iter().map(|load| load.day_wh()).sum();
    let steps = plan.season.steps_a_day;
    let busy = |at: usize| on_ac.iter().any(|load| load.profile.watts.get(at).is_some_and(|w| *w > 0.0));
    let on_h = if on_ac.is_empty() {
        return None;
    } else if inverter.sleeps {
        (0..steps).filter(|at| busy(*at)).count() as f64 * plan.season.step_h
    } else {
        24.0
    };
    // A test tells what the unit draws with AC on, its own electronics counted.
    let proved = scenario.station.proved.as_ref().and_then(|proved| proved.kit.as_ref());
    let tested = proved.and_then(|kit| kit.get(FigureKind::Draw(OutletKind::Ac)));
    let (draw_w, by) = match tested {
        Some((draw_w, standard_w)) if draw_is_typical(Some(inverter.rated), standard_w) => (draw_w, DrawFrom::Typical),
        Some((draw_w, _)) => (draw_w, DrawFrom::Tests),
        None => (inverter.idle.value.0, DrawFrom::Written),
    };
    let draw_wh = draw_w * on_h;
    let movable = scenario.loads.iter().filter(|load| load.outlet == OutletKind::Ac && load.could_use.is_some());
    let movable = movable.map(|load| load.name.clone()).collect();
    let weight = if draw_wh > 0.5 * asked_wh { Weight::Warns } else { Weight::Fits };
    let draw = Matter::InverterDraw { draw_w, by, on_h, draw_wh, asked_wh, movable };
    Some(Judgement::new(weight, "station.inverter.idle", draw))
}

fn dc_cable(scenario: &Scenario, plan: &Plan) -> Option<Judgement> {
    let wire = scenario.station.dc_outlet?.cable?;
    let (watts, _, _) = busiest(plan, OutletKind::Dc as usize, ALL);
    Some(electrical::cable_verdict(None, "station.dc_outlet.cable", &wire, watts, DC_OUTLET_V))
}

/// Share of their best power below which panels on a controller that does not search are hardly worth their price. No source.
const HELD_WELL: f64 = 0.85;

/// Panels that a controller without a search for the best power holds at the battery's voltage.
fn controller(scenario: &Scenario) -> Vec<Judgement> {
    let station = &scenario.station;
    let judged = scenario.panels.iter().enumerate().filter_map(|(k, panel)| {
        let input = station.solar_inputs.get(station.input_of(panel)?)?;
        let held = input.held_at?;
        let volts = best_string_v(panel)?;
        let current = held_share(held.0, (volts, open_string_v(panel)?), 0.0);
        let share = (held.0 / volts * current).min(1.0);
        let (array, key) = (panel.name.clone(), format!("panel.{k}.max_power_voltage"));
        let held_at = Matter::HeldAt { array, held_v: held.0, best_v: volts, share, well_share: HELD_WELL };
        Some(if share < HELD_WELL {
            let judged = Judgement::new(Weight::Warns, key, held_at).against(format!("{}.pwm_at", input.key));
            if volts < held.0 { judged.known_to_reader() } else { judged }
        } else {
            Judgement::new(Weight::Fits, key, held_at)
        })
    });
    judged.collect()
}

fn generator(scenario: &Scenario) -> Option<Judgement> {
    let generator = scenario.generator.as_ref()?;
    let charger = scenario.station.wall_charger?;
    let both = Matter::Generator { charger_w: charger.limit.0, generator_w: generator.limit.0 };
    Some(if generator.limit < charger.limit {
        Judgement::new(Weight::Warns, "generator.limit", both).against("station.wall_charger.limit")
    } else {
        Judgement::new(Weight::Fits, "generator.limit", both)
    })
}

/// A generator that nobody is there to start, or to start in time.
fn starting(scenario: &Scenario, plan: &Plan) -> Option<Judgement> {
    let generator = scenario.generator.as_ref()?;
    let (meant_h, runs_h): (f64, f64) =
        (generator.hours.iter().map(|window| window.hours().0).sum(), plan.generator_runs_h(generator));
    if runs_h >= meant_h - 0.02 {
        return None;
    }
    let starts = Matter::GeneratorStarts { runs_h, meant_h };
    Some(Judgement::new(Weight::Warns, "generator.hours", starts).against("outage.somebody_home").in_the_answer())
}
