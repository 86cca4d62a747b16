//! How long the battery alone lasts: the plain sums behind a kit.
//!
//! A load with hours of its own makes the answer hang on when the outage begins: every hour of the day (of the week, where
//! the days differ) is tried, and the shortest is what counts. Cells that stand in the weather are taken as cold as on a day
//! colder than nineteen of twenty. An AC outlet that switches itself off, or sleeps, under so small a load ends a run as it
//! does in an outage.

use crate::engine::awake::{AcAsked, AcWatch};
use crate::engine::ledger::Flow;
use crate::engine::{Demand, Ledger, Limits, Plan, Rig, Supply, TrialSeed, Unit};

/// How long something runs without sun, by the hour at which that begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Runtime {
    /// From the worst hour to begin \[h\].
    pub shortest_h: f64,
    /// That hour: step of the week, from Monday midnight.
    pub shortest_from: usize,
    /// From the best hour to begin \[h\].
    pub longest_h: f64,
    /// That hour.
    pub longest_from: usize,
}

impl Runtime {
    /// Of what never runs.
    const NONE: Runtime = Runtime { shortest_h: 0.0, shortest_from: 0, longest_h: 0.0, longest_from: 0 };

    /// Whether the hour at which it begins is worth telling: a twentieth of the shortest.
    #[must_use]
    pub fn hangs_on_the_hour(&self) -> bool {
        self.longest_h - self.shortest_h > 0.05 * self.shortest_h + 1e-9
    }
}

/// The plain sums of a plan, by best estimates.
#[derive(Debug, Clone, PartialEq)]
pub struct Endurance {
    /// Energy in the cells when full \[Wh\].
    pub cells_wh: f64,
    /// Of that, what the cells give at the temperature reckoned with, down to the charge that is kept \[Wh\].
    pub usable_wh: f64,
    /// What all loads ask for at their outlets in a day \[Wh\].
    pub asked_a_day_wh: f64,
    /// What that takes from the bus, converters and the station's own draw counted \[Wh a day\].
    pub drawn_a_day_wh: f64,
    /// How long a full battery runs everything without sun.
    pub all: Runtime,
    /// How long it runs the vital loads alone.
    pub vital: Runtime,
    /// How long each load alone would run, in the order of the plan.
    pub each: Vec<Runtime>,
    /// How long at least, of everything, of the vital loads and of each load, where an AC outlet of which nobody has told may end
    /// it sooner under so small a load \[h\]: see [`may_end_h`].
    pub may_end_h: MayEnd,
}

/// Hours after which an AC outlet may end a run sooner.
#[derive(Debug, Clone, PartialEq)]
pub struct MayEnd {
    /// Of everything.
    pub all: Option<f64>,
    /// Of the vital loads.
    pub vital: Option<f64>,
    /// Of each load alone.
    pub each: Vec<Option<f64>>,
}

/// Longest run that is looked for \[h\].
const LONGEST_H: f64 = 24.0 * 365.0;

/// A run as long as this hangs on the hour at which it begins by less than a twentieth: no other hour is tried \[h\].
const LONG_H: f64 = 24.0 * 20.0;

/// Works them out with the engine's own step.
///
/// * `cells_c` — temperature of the cells \[°C\].
#[must_use]
pub fn endurance(plan: &Plan, cells_c: f64) -> Endurance {
    let rig = plan.kit.best_estimate();
    let full = rig.full();
    let run = |picked: &dyn Fn(usize) -> bool| runtime(plan, cells_c, full, &|k| picked(k));
    let (all, vital) = (run(&|_| true), run(&|k| plan.loads[k].class == 0));
    let each: Vec<Runtime> = (0..plan.loads.len()).map(|only| run(&|k| k == only)).collect();
    let ends = |picked: &dyn Fn(usize) -> bool, best: &Runtime| may_end_h(plan, (cells_c, full), &|k| picked(k), best);
    let may_end_h = MayEnd {
        all: ends(&|_| true, &all),
        vital: ends(&|k| plan.loads[k].class == 0, &vital),
        each: each.iter().enumerate().map(|(only, best)| ends(&|k| k == only, best)).collect(),
    };
    Endurance {
        cells_wh: rig.capacity_wh,
        usable_wh: (rig.ceiling_wh - rig.limits_at(cells_c).floor_wh).max(0.0),
        asked_a_day_wh: plan.loads.iter().filter(|load| !load.never_runs()).map(|load| load.day_wh()).sum(),
        drawn_a_day_wh: drawn_a_day_wh(plan, &rig, cells_c),
        all,
        vital,
        each,
        may_end_h,
    }
}

/// How long some of the loads run without sun from a state of charge, by best estimates, at most a year. A load with a mark of
/// its own is off below it, as in an outage: what runs on without it counts, and where nothing is left the run is over.
///
/// * `cells_c` — temperature of the cells \[°C\]; `charge` — state of charge at first, 0 to 1; `picked` — which loads run,
///   by their place in the plan.
#[must_use]
pub fn runtime(plan: &Plan, cells_c: f64, charge: f64, picked: &impl Fn(usize) -> bool) -> Runtime {
    runtime_of(plan, &best_estimate(plan), (cells_c, charge), picked)
}

/// The kit by best estimates; where it is not told, the middle of what loads may be too small for the AC outlet, and the shortest
/// that it may stay on.
fn best_estimate(plan: &Plan) -> Rig {
    let mut rig = plan.kit.best_estimate();
    rig.ac_off_after_h = plan.ac.as_ref().map_or(rig.ac_off_after_h, |outlet| outlet.off_after_h);
    rig
}

/// The same begun at one step of the week, from Monday midnight.
#[must_use]
pub fn runtime_begun(plan: &Plan, cells_c: f64, charge: f64, picked: &impl Fn(usize) -> bool, from: usize) -> Runtime {
    if never_runs(plan, picked) {
        return Runtime::NONE;
    }
    let rig = best_estimate(plan);
    let hours = without_sun(plan, &rig, (cells_c, charge, LONGEST_H), &Weeks::new(plan, &rig, picked, &|_| 1.0), from);
    Runtime { shortest_h: hours, shortest_from: from, longest_h: hours, longest_from: from }
}

/// How long at least some of the loads run from a state of charge where an AC outlet that sleeps, or switches itself off, needs as
/// much to stay on as it may need and waits no longer than it may \[h\]; `None` where nobody need fear that, since it was told or
/// they draw enough.
///
/// * `best` — the runtime by best estimates; the rest as for [`runtime`].
#[must_use]
pub fn may_end_h(
    plan: &Plan,
    (cells_c, charge): (f64, f64),
    picked: &impl Fn(usize) -> bool,
    best: &Runtime,
) -> Option<f64> {
    let outlet = plan.ac.as_ref().filter(|outlet| outlet.assumed)?;
    let mut rig = plan.kit.best_estimate();
    (rig.least_ac_w, rig.ac_off_after_h) = (outlet.least_w, outlet.off_after_h);
    let shortest_h = runtime_of(plan, &rig, (cells_c, charge), picked).shortest_h;
    (shortest_h < best.shortest_h - 1e-9).then_some(shortest_h)
}

/// How long some of the loads run on one kit.
fn runtime_of(plan: &Plan, rig: &Rig, (cells_c, charge): (f64, f64), picked: &impl Fn(usize) -> bool) -> Runtime {
    if never_runs(plan, picked) {
        return Runtime::NONE;
    }
    let weeks = Weeks::new(plan, rig, picked, &|_| 1.0);
    let differ = plan.loads.iter().any(|load| load.week.is_some());
    let starts = if differ { 7 * plan.season.steps_a_day } else { plan.season.steps_a_day };
    let mut found: Option<Runtime> = None;
    for from in 0..starts {
        let hours = without_sun(plan, rig, (cells_c, charge, LONGEST_H), &weeks, from);
        let so_far = found.get_or_insert(Runtime {
            shortest_h: hours,
            shortest_from: from,
            longest_h: hours,
            longest_from: from,
        });
        if hours < so_far.shortest_h {
            (so_far.shortest_h, so_far.shortest_from) = (hours, from);
        }
        if hours > so_far.longest_h {
            (so_far.longest_h, so_far.longest_from) = (hours, from);
        }
        if hours > LONG_H && !differ {
            break;
        }
    }
    found.unwrap_or(Runtime::NONE)
}

/// Whether there are loads, and each is more than the station can run. Beside others such a load is taken as never plugged in.
fn never_runs(plan: &Plan, picked: &impl Fn(usize) -> bool) -> bool {
    let mut loads = plan.loads.iter().enumerate().filter(|(k, _)| picked(*k)).peekable();
    loads.peek().is_some() && loads.all(|(_, load)| load.never_runs())
}

/// Kits that the lower end of a runtime is read off.
const DRAWN: u64 = 400;

/// The lower ends of the 95 % ranges of runtimes from several states of charge \[h\]: what 39 of 40 kits last at least whose capacity, draws, efficiencies and
/// watts are drawn as the trials draw them, and with them the load under which an AC outlet of which nobody has told goes off, and
/// how soon. Begun at the hour at which the best estimate is shortest, and no longer than that.
///
/// A lower charge is never told a longer one than a higher: where something goes dark from the full battery on, as an AC outlet does
/// that switches itself off, its going dark is no gain of the charge at which a rule has it off, or of another hour to begin at.
///
/// * `runs` — states of charge at first, 0 to 1, the highest first, each with the runtime by best estimates; `seed` — of the trials; `most_h` — longest
///   that is looked for \[h\]; the rest as for [`runtime`].
#[must_use]
pub fn at_least_h(
    plan: &Plan,
    cells_c: f64,
    picked: &impl Fn(usize) -> bool,
    runs: &[(f64, Runtime)],
    (seed, most_h): (u64, f64),
) -> Vec<f64> {
    if never_runs(plan, picked) {
        return vec![0.0; runs.len()];
    }
    // What these loads leave open: beside others the AC outlet may have enough to stay on.
    let alone = plan.keeping(picked);
    let mut hours = vec![Vec::with_capacity(DRAWN as usize); runs.len()];
    for trial in 0..DRAWN {
        let rng = TrialSeed { seed, trial };
        let rig = alone.kit.draw(rng, 0.0, &mut Vec::new());
        let weeks = Weeks::new(plan, &rig, picked, &|k| plan.loads[k].real_factor(rng));
        for (hours, (charge, best)) in hours.iter_mut().zip(runs) {
            hours.push(without_sun(plan, &rig, (cells_c, *charge, most_h), &weeks, best.shortest_from));
        }
    }
    let low = |(mut hours, (_, best)): (Vec<f64>, &(f64, Runtime))| {
        hours.sort_by(f64::total_cmp);
        hours[(DRAWN / 40 - 1) as usize].min(best.shortest_h)
    };
    let mut least = f64::INFINITY;
    let mut falling = |hours: f64| {
        least = hours.min(least);
        least
    };
    hours.into_iter().zip(runs).map(low).map(&mut falling).collect()
}

/// What is asked for in a step.
#[derive(Debug, Clone, Copy, Default)]
struct Asked {
    demand: Demand,
    ac: AcAsked,
}

/// What some of the loads ask for, step by step through a week from Monday midnight.
///
/// * `factor` — what each load really draws over what it is said to.
fn week(plan: &Plan, picked: &impl Fn(usize) -> bool, factor: &impl Fn(usize) -> f64) -> Vec<Asked> {
    let steps_a_day = plan.season.steps_a_day;
    let mut steps = vec![Asked::default(); 7 * steps_a_day];
    for (k, load) in plan.loads.iter().enumerate().filter(|(k, load)| picked(*k) && !load.never_runs()) {
        let real = factor(k);
        for (at, Asked { demand, ac }) in steps.iter_mut().enumerate() {
            let (weekday, at) = (at / steps_a_day, at % steps_a_day);
            let day = load.day(weekday);
            demand.watts[0][load.outlet] += day.watts[at] * real;
            demand.plugged[0][load.outlet] = true;
            if load.outlet == 0 {
                demand.variance_w2[0] += day.variance_w2[at] * real * real;
            }
            ac.add(load, day, at, real);
        }
    }
    steps
}

/// What some of the loads ask for by the stored energy: below a load's mark its rule holds it off.
struct Weeks {
    /// From which stored energy on \[Wh\], the most first, and what is asked for there.
    by_stored: Vec<(f64, Vec<Asked>)>,
}

impl Weeks {
    fn new(plan: &Plan, rig: &Rig, picked: &impl Fn(usize) -> bool, factor: &impl Fn(usize) -> f64) -> Weeks {
        let marked = plan.loads.iter().enumerate().filter(|(k, load)| picked(*k) && load.off_below > 0.0);
        let mut marks: Vec<f64> = marked.map(|(_, load)| load.off_below).chain([0.0]).collect();
        marks.sort_by(|a, b| b.total_cmp(a));
        marks.dedup();
        let on = |mark: f64, k: usize| picked(k) && plan.loads[k].off_below <= mark;
        let any = |mark: &f64| (0..plan.loads.len()).any(|k| on(*mark, k));
        let asked = |mark: f64| (mark * rig.capacity_wh, week(plan, &|k| on(mark, k), factor));
        Weeks { by_stored: marks.into_iter().filter(any).map(asked).collect() }
    }

    /// Stored energy below which nothing is on [Wh].
    fn last_mark_wh(&self) -> f64 {
        self.by_stored.last().map_or(0.0, |(from_wh, _)| *from_wh)
    }

    /// What is asked for with so much stored; `None` where nothing is left on.
    fn at(&self, stored_wh: f64) -> Option<&[Asked]> {
        // Charges are told in whole percents, and a mark that is just reached is not passed.
        self.by_stored.iter().find(|(from_wh, _)| *from_wh <= stored_wh + 1e-9).map(|(_, steps)| steps.as_slice())
    }
}

/// What a mean day takes from the bus \[Wh\], out of a battery that never ends.
pub(super) fn drawn_a_day_wh(plan: &Plan, rig: &Rig, cells_c: f64) -> f64 {
    let mut endless = rig.clone();
    (endless.capacity_wh, endless.self_discharge_per_h) = (1e9, 0.0);
    let no_floor = Limits { floor_wh: 0.0, ..rig.limits_at(cells_c) };
    let mut ledger = Ledger::default();
    let mut left = endless.capacity_wh;
    let mut unit = Unit::new(endless, &no_floor, plan.season.step_h);
    for Asked { demand, .. } in &week(plan, &|_| true, &|_| 1.0) {
        left = unit.step(left, Supply::default(), demand, Some(&mut ledger)).stored_wh;
    }
    (ledger.delivered_wh() + Flow::OUTLET_LOSS.map(|flow| ledger[flow]).iter().sum::<f64>() + ledger[Flow::OwnDraw])
        / 7.0
}

/// Hours until something asked for is missed.
///
/// * `most_h` — longest that is looked for \[h\].
fn without_sun(plan: &Plan, rig: &Rig, (cells_c, charge, most_h): (f64, f64, f64), weeks: &Weeks, from: usize) -> f64 {
    let mut ac = AcWatch::new(plan, rig);
    let step_h = plan.season.step_h;
    let mut unit = Unit::new(rig.clone(), &rig.limits_at(cells_c), step_h);
    let mut stored = charge * rig.capacity_wh;
    let mut before = stored;
    let mut done = 0;
    while (done as f64) * step_h < most_h {
        let Some(steps) = weeks.at(stored) else {
            // The step in which the last mark was passed counts as far as it.
            let past = if before > stored {
                ((weeks.last_mark_wh() - stored) / (before - stored)).clamp(0.0, 1.0)
            } else {
                0.0
            };
            return (done as f64 - past) * step_h;
        };
        let Asked { demand, ac: on_ac } = &steps[(from + done) % steps.len()];
        if ac.as_mut().is_some_and(|ac| ac.leaves_dark(on_ac, (from + done) % plan.season.steps_a_day)) {
            return done as f64 * step_h;
        }
        before = stored;
        let balance = unit.step(stored, Supply::default(), demand, None);
        stored = balance.stored_wh;
        if !balance.all_served {
            // The share of the step that was served is the time it lasted.
            let served = (0..3).map(|o| balance.served[0][o]).fold(1.0, f64::min);
            return (done as f64 + served) * step_h;
        }
        done += 1;
    }
    most_h
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::plan::Sky;
    use crate::scenario::{Source, read};
    use crate::weather::world;

    /// A device of 60 W from 22:00 to 07:00 on a battery that is known: 450 Wh delivered at 60 W on DC are 7.5 h of it.
    const NIGHTS: &str = concat!(
        keys!(title = "nights"),
        here!(),
        section!("outage", month = "January", lasts = "10 h"),
        section!(
            "station",
            rated_capacity = "600 Wh",
            measured_capacity = "450 Wh",
            measured_at = "dc",
            measured_load = "60 W",
            own_draw = "0 W",
            self_discharge = "0 %"
        ),
        section!("station.dc_outlet", limit = "120 W", idle = "0 W"),
        load!("device", "dc", "vital", "60 W", hours = "22:00-07:00"),
    );

    fn plan(text: &str) -> Plan {
        let (scenario, _, _) = read(&Source::new("t.toml", text)).unwrap_or_else(|p| panic!("{p:?}"));
        let climate = world::lookup(44.2, -72.6, None).expect("land");
        Plan::compile(&scenario, &Sky::Climate(climate), 60).expect("a plan")
    }

    #[test]
    fn the_worst_hour_to_begin_counts() {
        // By the clock: from 22:00 or 23:00 the 7.5 h of use end before 07:00; from 07:00 the device rests for fifteen hours
        // first.
        let sums = endurance(&plan(NIGHTS), 20.0);
        let Runtime { shortest_h, shortest_from, longest_h, .. } = sums.vital;
        assert!((shortest_h - 7.5).abs() < 1e-6 && [22, 23].contains(&shortest_from), "{:?}", sums.vital);
        assert!((longest_h - 22.5).abs() < 1e-6, "{:?}", sums.vital);
        assert!(sums.vital.hangs_on_the_hour());
    }

    #[test]
    fn a_steady_load_does_not_care_when() {
        let steady = endurance(&plan(&NIGHTS.replace("hours = \"22:00-07:00\"\n", "")), 20.0).vital;
        assert!((steady.shortest_h - 7.5).abs() < 1e-6 && !steady.hangs_on_the_hour(), "{steady:?}");
    }

    #[test]
    fn a_load_with_a_mark_runs_down_to_it_and_no_further() {
        // By hand: 450 Wh delivered at 60 W are 7.5 h; a lamp of 60 W alone that goes off below 40 % has 60 % of that from full,
        // 10 % of it from a half and nothing from 20 %. Beside a device that stays on it counts down to its mark alone.
        let lamp = "[[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"spare\"\nwatts = \"60 W\"\noff_below = \"40 %\"\n";
        let plan = plan(&(NIGHTS.replace("hours = \"22:00-07:00\"\n", "") + lamp));
        let alone = |charge: f64| runtime(&plan, 20.0, charge, &|k| k == 1).shortest_h;
        assert!((alone(1.0) - 4.5).abs() < 1e-6, "{}", alone(1.0));
        assert!((alone(0.5) - 0.75).abs() < 1e-6 && alone(0.2) == 0.0, "{} {}", alone(0.5), alone(0.2));
        // From 30 % on the lamp is off, and what runs lasts as long as the device alone.
        let all = runtime(&plan, 20.0, 0.3, &|_| true).shortest_h;
        assert_eq!(all, runtime(&plan, 20.0, 0.3, &|k| k == 0).shortest_h);
    }

    #[test]
    fn cold_cells_give_less_of_what_is_in_them() {
        // LFP at 0 °C gives 80 % of its energy (typical, no source: see kit::battery).
        let plan = plan(NIGHTS);
        let (warm, cold) = (endurance(&plan, 20.0), endurance(&plan, 0.0));
        assert!((cold.usable_wh / warm.usable_wh - 0.8).abs() < 1e-9, "{cold:?}");
        assert!((cold.vital.shortest_h / warm.vital.shortest_h - 0.8).abs() < 1e-6, "{cold:?}");
    }
}
