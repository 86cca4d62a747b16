//! Do the parts of a kit fit together? A list of judgements, each with its numbers, reason and remedy.

mod allowance;
mod cells;
mod watts;

use crate::calendar::month_of_day;
use crate::engine::Plan;
use crate::engine::plan::Onset;
use crate::kit::electrical::{self, DC_OUTLET_V};
use crate::kit::{Judgement, Weight};
use crate::scenario::model::{Chemistry, OutletKind, Scenario, Stands};
use crate::scenario::record::FigureKind;
use crate::study::prove::unknowns::draw_is_typical;
use crate::units::Celsius;
use crate::weather::Climate;
pub use allowance::{Unjudged, unjudged};
pub use cells::bench_test;
use cells::discharge_rate;
use watts::{Of, busiest, clock, may_run, never_run, outlets, small_ac, switched_over};
pub use watts::{Overload, Source, overloads};

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
    /// the weather that of a day colder than nineteen of twenty in the outage's month.
    #[must_use]
    pub fn cells_c(&self, plan: &Plan) -> f64 {
        let home_c = plan.kit.best_estimate().home_c;
        match plan.kit.stands {
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
    all.extend(snow(scenario, plan, air));
    all.extend(bench_test(&plan.kit));
    all.extend(discharge_rate(plan));
    all.extend(never_run(plan));
    all.extend(outlets(scenario, plan));
    all.extend(starts(scenario, plan));
    all.extend(idle(scenario, plan));
    all.extend(small_ac(scenario, plan));
    all.extend(switched_over(scenario));
    all.extend(dc_cable(scenario, plan));
    all.extend(generator(scenario));
    all.extend(starting(scenario, plan));
    all.extend(allowance::verdict(scenario, plan));
    all.extend(controller(scenario));
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
    let about = "station: temperature";
    let key = "station.stands";
    let range = |what: &str| format!("{what}: mean {mean:.0} °C, warm hours {high:.0} °C, design cold {low:.0} °C");
    let rig = plan.kit.best_estimate();
    let usable = |c: f64| {
        let fitness = rig.fitness.at(c);
        if fitness.works { 100.0 * fitness.usable } else { 0.0 }
    };
    let works_from = station.works_between.0;
    // What a heater that is fed without end keeps up against the loss.
    let lift = rig.heater_w / rig.heat_loss_w_per_k;
    let heater = if lift > 0.0 { format!("; its heater keeps it {lift:.0} K warmer at most") } else { String::new() };
    match station.stands {
        Stands::InTheSun => Judgement::new(Weight::Warns, about, key, "puts the station in the sun")
            .found(format!("{}; up to 25 K more in full sun", range("outside")))
            .because("a station in the sun slows down or stops charging when it gets hot, and hot cells age fast")
            .remedy("shade it: only the panels belong in the sun"),
        Stands::Outdoors if mean < works_from.0 || (low < works_from.0 && coldest_charge.0 <= low + lift) => {
            let when = if mean < works_from.0 { "most of the time" } else { "on the coldest days" };
            Judgement::new(Weight::Warns, about, key, format!("leaves the station too cold to work at all {when}"))
                .found(format!("{}{heater}", range("outside")))
                .allowed(format!("working from {works_from} to {}", station.works_between.1))
                .because(
                    "outside its limits it serves nothing, whether from cells, sun or generator, and warms nothing",
                )
                .remedy("bring the station into a warm room and lead the panel's cable inside")
        }
        Stands::Outdoors if mean + lift < coldest_charge.0 => {
            Judgement::new(Weight::Warns, about, key, "leaves the cells too cold to be charged most of the time")
                .found(format!(
                    "{}; {:.0} % of the energy usable at {mean:.0} °C{heater}",
                    range("outside"),
                    usable(mean)
                ))
                .allowed(format!("charging from {coldest_charge}"))
                .because(if station.chemistry == Chemistry::LeadAcid {
                    "below its limit the station refuses to charge"
                } else {
                    "lithium cells must not be charged below freezing: the station refuses, however bright the sun"
                })
                .remedy("bring the station into a warm room and lead the panel's cable inside")
        }
        Stands::Outdoors if low + lift < coldest_charge.0 => {
            Judgement::new(Weight::Warns, about, key, "leaves the cells too cold to be charged in hard frost")
                .found(format!(
                    "{}; {:.0} % of the energy usable at {low:.0} °C{heater}",
                    range("outside"),
                    usable(low)
                ))
                .allowed(format!("charging from {coldest_charge}"))
                .because("below its limit the station refuses to charge, however bright the sun")
                .remedy("bring the station inside on such days")
        }
        Stands::Outdoors if low < COLD_BELOW_C => {
            Judgement::new(Weight::Fits, about, key, "is cold at times, but can be charged").found(format!(
                "{}; {:.0} % of the energy usable at {low:.0} °C{heater}",
                range("outside"),
                usable(low)
            ))
        }
        Stands::Outdoors => {
            Judgement::new(Weight::Fits, about, key, "keeps the station where it is never cold").found(range("outside"))
        }
        Stands::At(c) if !rig.limits().works => {
            Judgement::new(Weight::Warns, about, key, "is a temperature at which the station does not work at all")
                .found(c.to_string())
                .allowed(format!("working from {} to {}", station.works_between.0, station.works_between.1))
                .because("outside its limits it serves nothing, whether from cells, sun or generator")
                .remedy("find it a place of milder air")
        }
        Stands::At(c) if c.0 + lift < coldest_charge.0 || warmest_charge < c => {
            Judgement::new(Weight::Warns, about, key, "is a temperature at which the cells are not charged")
                .found(format!("{c}; {:.0} % of the energy usable{heater}", usable(c.0)))
                .allowed(format!("charging from {coldest_charge} to {warmest_charge}"))
                .because("the station refuses to charge outside its limits")
                .remedy("find it a place of milder air")
        }
        Stands::At(c) => Judgement::new(Weight::Fits, about, key, "lets the cells work")
            .found(format!("{c}; {:.0} % of the energy usable{heater}", usable(c.0))),
        Stands::Indoors if plan.room_falls_to_c(mean).is_some_and(|c| c + lift < coldest_charge.0) => {
            let c = plan.room_falls_to_c(mean).unwrap_or(mean);
            Judgement::new(Weight::Warns, about, key, "is a room that cools until the cells are not charged")
                .found(format!("towards {c:.0} °C; {:.0} % of the energy usable{heater}", usable(c)))
                .allowed(format!("charging from {coldest_charge}"))
                .because("the station refuses to charge outside its limits")
                .remedy("keep it where a heated body or a blanket leaves it warmer, or give it a heater")
        }
        Stands::Indoors if plan.room_falls_to_c(mean).is_some() => {
            let c = plan.room_falls_to_c(mean).unwrap_or(mean);
            Judgement::new(Weight::Fits, about, key, "is a room that cools")
                .found(format!("towards {c:.0} °C; {:.0} % of the energy usable{heater}", usable(c)))
        }
        Stands::Indoors => Judgement::new(Weight::Fits, about, key, "keeps the station in a heated room")
            .found(format!("20 °C; outside: mean {mean:.0} °C"))
            .remedy(if mean < 5.0 {
                "if the outage takes the heating too, write how the room cools: site.room = { falls_to = \"8 °C\", in = \"24 h\" }"
            } else {
                ""
            }),
    }
}

/// Air that nobody calls cold, and that costs cells next to nothing \[°C\].
pub const COLD_BELOW_C: f64 = 15.0;

/// Mean air below which snow is to be reckoned with \[°C\]. Common practice, no source: most snow falls at 2 °C or less.
const SNOW_BELOW_C: f64 = 2.0;

fn snow(scenario: &Scenario, plan: &Plan, air: &Air) -> Option<Judgement> {
    let mean = air.means_c[month(plan)];
    if scenario.panels.is_empty() || mean >= SNOW_BELOW_C {
        return None;
    }
    Some(
        Judgement::new(Weight::Warns, "panels: snow", "panel.0", "may lie under snow in this season")
            .found(format!("outside: mean {:.0} °C", mean.round() + 0.0))
            .because("panels under snow give nothing; the answer assumes swept panels")
            .remedy("sweep them, or stand them steep")
            .in_the_answer(),
    )
}

/// Motors that start while everything else runs.
fn starts(scenario: &Scenario, plan: &Plan) -> Option<Judgement> {
    let inverter = scenario.station.inverter.as_ref()?;
    let mut worst: Option<(f64, usize, usize)> = None;
    for step in 0..plan.season.steps_a_day {
        let on = |k: usize| plan.loads[k].outlet == 0 && may_run(&plan.loads[k], step);
        let running: f64 = (0..plan.loads.len()).filter(|k| on(*k)).map(|k| plan.loads[k].running_w).sum();
        for (k, load) in scenario.loads.iter().enumerate().take(plan.loads.len()).filter(|(k, _)| on(*k)) {
            let Some(starting) = load.starting else { continue };
            // One of several starts while the others of its kind run.
            let total = running - plan.loads[k].running_w.min(starting.0) + starting.0;
            if worst.is_none_or(|(most, _, _)| total > most) {
                worst = Some((total, k, step));
            }
        }
    }
    let (total, k, step) = worst?;
    let load = &scenario.loads[k];
    let starting = load.starting?;
    let about = format!("inverter: start of the {}", load.name);
    let found = format!("{starting} to start, {total:.0} W with what else runs from {}", clock(plan, step));
    let key = format!("load.{k}.starting_watts");
    let because =
        "a motor takes several times its running watts for a moment; an inverter that cannot give them switches off";
    Some(match inverter.surge {
        Some(surge) if surge < starting => Judgement::new(
            Weight::Stops,
            about,
            key,
            "is more than the inverter gives for a moment: it will never start",
        )
        .found(found)
        .allowed(format!("surge {surge}"))
        .because(because)
        .remedy("use a stronger inverter, or a model with a gentle start; do not count on this load")
        .against("station.inverter.surge", "for a moment"),
        Some(surge) if surge.0 < total => {
            Judgement::new(Weight::Warns, about, key, "is too much for the inverter while the others run")
                .found(found)
                .allowed(format!("surge {surge}"))
                .because(because)
                .remedy("let it start alone: run the others at other hours or from another outlet")
                .against("station.inverter.surge", "for a moment")
        }
        Some(surge) => Judgement::new(Weight::Fits, about, key, "is within what the inverter gives for a moment")
            .found(found)
            .allowed(format!("surge {surge}")),
        None if inverter.rated.0 < total => {
            Judgement::new(Weight::Warns, about, key, "is above the inverter's rated power, and its surge is not known")
                .found(found)
                .allowed(format!("rated {}", inverter.rated))
                .because(because)
                .remedy("write the surge from the label, or try it before the outage")
                .against("station.inverter.rated", "for hours")
        }
        None => Judgement::new(Weight::Fits, about, key, "is within the inverter's rated power")
            .found(found)
            .allowed(format!("rated {}", inverter.rated)),
    })
}

/// An inverter's draw up to this share of what its loads ask for is small beside them; common practice, no source.
const SMALL_DRAW: f64 = 0.1;

/// An inverter that eats more than it serves.
fn idle(scenario: &Scenario, plan: &Plan) -> Option<Judgement> {
    let inverter = scenario.station.inverter.as_ref()?;
    let on_ac: Vec<_> = plan.loads.iter().filter(|load| load.outlet == 0).collect();
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
    let (idle_w, told) = match tested {
        Some((draw_w, standard_w)) if draw_is_typical(Some(inverter.rated), standard_w) => (
            draw_w,
            format!("{draw_w:.1} W, a typical figure that no bench test told, the station's own draw counted,"),
        ),
        Some((draw_w, _)) => (draw_w, format!("{draw_w:.1} W by the bench tests, the station's own draw counted,")),
        None => (inverter.idle.value.0, format!("{:.0} W", inverter.idle.value.0)),
    };
    let idle_wh = idle_w * on_h;
    let about = "inverter: its own appetite";
    let found = format!("{told} for {on_h:.0} h make {idle_wh:.0} Wh a day; the AC loads ask for {asked_wh:.0} Wh");
    let key = "station.inverter.idle";
    let movable: Vec<&str> = scenario
        .loads
        .iter()
        .filter(|l| l.outlet == OutletKind::Ac && l.could_use.is_some())
        .map(|l| l.name.as_str())
        .collect();
    Some(if idle_wh > 0.5 * asked_wh {
        let heavy = if idle_wh > asked_wh {
            "eats more than all AC loads together"
        } else {
            "eats more than half of what the AC loads need"
        };
        let remedy = if movable.is_empty() {
            "feed small things from the 12 V or USB outlet, or switch AC off while nothing needs it".to_string()
        } else {
            format!("{} could hang on another outlet; with nothing left on AC, switch it off", movable.join(", "))
        };
        Judgement::new(Weight::Warns, about, key, heavy)
            .found(found)
            .because("an inverter draws this day and night while it is on, whatever hangs on it")
            .remedy(remedy)
    } else {
        let told = match idle_wh / asked_wh {
            share if share <= SMALL_DRAW => "is small beside the loads".to_string(),
            share => format!("takes {:.0} % of what the AC loads ask for, on top of it", 100.0 * share),
        };
        Judgement::new(Weight::Fits, about, key, told).found(found)
    })
}

fn dc_cable(scenario: &Scenario, plan: &Plan) -> Option<Judgement> {
    let wire = scenario.station.dc_outlet?.cable?;
    let (watts, _, _) = busiest(plan, OutletKind::Dc as usize, Of::ALL);
    Some(electrical::cable_verdict("12 V outlet: cable", "station.dc_outlet.cable", &wire, watts, DC_OUTLET_V))
}

/// Share of their best power below which panels on a controller that does not search are hardly worth their price. No source.
const HELD_WELL: f64 = 0.85;

/// Panels that a controller without a search for the best power holds at the battery's voltage.
fn controller(scenario: &Scenario) -> Vec<Judgement> {
    let Some(held) = scenario.station.solar_input.and_then(|input| input.held_at) else { return Vec::new() };
    let judged = scenario.panels.iter().enumerate().filter_map(|(k, panel)| {
        let volts = electrical::best_string_v(panel)?;
        let share = (held.0 / volts).min(1.0);
        let about = format!("{}: at the battery's voltage", panel.name);
        let found = format!("{held} of {volts:.1} V: {:.0} % of their best power", 100.0 * share);
        let key = format!("panel.{k}.max_power_voltage");
        Some(if share < HELD_WELL {
            Judgement::new(Weight::Warns, about, key, "is far above where the controller holds the panels")
                .found(found)
                .allowed(format!("about {:.0} V or less", held.0 / HELD_WELL))
                .because("a controller that does not search for the best power gives their current times the battery's volts; the answer counts that")
                .remedy("wire fewer panels in series, or use a controller that searches (maximum power point)")
                .against("station.solar_input.pwm_at", "holds them here")
        } else {
            Judgement::new(Weight::Fits, about, key, "suits the controller").found(found)
        })
    });
    judged.collect()
}

fn generator(scenario: &Scenario) -> Option<Judgement> {
    let generator = scenario.generator.as_ref()?;
    let charger = scenario.station.wall_charger?;
    let about = "generator and wall charger";
    let key = "generator.limit";
    let found = format!("the charger draws up to {}", charger.limit);
    let allowed = format!("the generator gives {}", generator.limit);
    Some(if generator.limit < charger.limit {
        Judgement::new(Weight::Warns, about, key, "is less than the wall charger draws")
            .found(found)
            .allowed(allowed)
            .because("an overloaded generator stalls; the answer assumes that the charger is held to what the generator gives")
            .remedy("set the charger to a slower speed, if it has one")
            .against("station.wall_charger.limit", "draws this")
    } else {
        Judgement::new(Weight::Fits, about, key, "carries the wall charger").found(found).allowed(allowed)
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
    let what = if runs_h <= 0.0 {
        "is never started: nobody is at home in its hours"
    } else {
        "starts later than its hours say, or not in all of them: nobody is at home then"
    };
    Some(
        Judgement::new(Weight::Warns, "generator: who starts it", "generator.hours", what)
            .found(format!("{runs_h:.1} h a day of {meant_h:.1} h"))
            .because("a generator is started by hand, and the answer counts only what runs")
            .remedy("move its hours into those in which somebody is at home, or say otherwise who starts it")
            .against("outage.somebody_home", "somebody is there")
            .in_the_answer(),
    )
}
