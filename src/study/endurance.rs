//! How long the battery alone lasts, and what the sun brings: the plain sums behind a kit.

use crate::engine::{Demand, Ledger, Limits, Plan, Supply, step};

/// The plain sums of a plan, by best estimates.
#[derive(Debug, Clone, PartialEq)]
pub struct Endurance {
    /// Energy in the cells when full \[Wh\].
    pub cells_wh: f64,
    /// What all loads ask for at their outlets in a day \[Wh\].
    pub asked_a_day_wh: f64,
    /// What that takes from the bus, converters and the station's own draw counted \[Wh a day\].
    pub drawn_a_day_wh: f64,
    /// Hours that a full battery runs everything without sun, from midnight \[h\].
    pub hours_all: f64,
    /// Hours that it runs the vital loads alone \[h\].
    pub hours_vital: f64,
    /// Hours that each load alone would run \[h\], in the order of the plan.
    pub hours_each: Vec<f64>,
}

/// Longest run that is looked for \[h\].
const LONGEST_H: f64 = 24.0 * 365.0;

/// Works them out with the engine's own step.
#[must_use]
pub fn endurance(plan: &Plan) -> Endurance {
    let vital = |k: usize| plan.loads[k].class == 0;
    let full = plan.kit.best_estimate();
    let full = full.ceiling_wh / full.capacity_wh;
    let (hours_all, drawn_a_day_wh) = without_sun(plan, full, &|_| true);
    Endurance {
        cells_wh: plan.kit.best_estimate().capacity_wh,
        asked_a_day_wh: plan.loads.iter().map(|load| load.day_wh()).sum(),
        drawn_a_day_wh,
        hours_all,
        hours_vital: without_sun(plan, full, &vital).0,
        hours_each: (0..plan.loads.len()).map(|only| without_sun(plan, full, &|k| k == only).0).collect(),
    }
}

/// Hours that some of the loads run without sun from a state of charge, by best estimates \[h\], at most a year.
///
/// * `charge` — state of charge at midnight, 0 to 1; `picked` — which loads run, by their place in the plan.
#[must_use]
pub fn runtime_h(plan: &Plan, charge: f64, picked: &impl Fn(usize) -> bool) -> f64 {
    without_sun(plan, charge, picked).0
}

/// Hours until something asked for is missed, and what a day takes from the bus \[Wh\].
fn without_sun(plan: &Plan, charge: f64, picked: &impl Fn(usize) -> bool) -> (f64, f64) {
    let rig = plan.kit.best_estimate();
    let (steps_a_day, step_h) = (plan.season.steps_a_day, plan.season.step_h);
    let mut day = vec![Demand::default(); steps_a_day];
    for (_, load) in plan.loads.iter().enumerate().filter(|(k, _)| picked(*k)) {
        for (at, demand) in day.iter_mut().enumerate() {
            demand.watts[0][load.outlet] += load.profile.watts[at];
            demand.plugged[0][load.outlet] = true;
            if load.outlet == 0 {
                demand.variance_w2[0] += load.profile.variance_w2[at];
            }
        }
    }
    // A day out of a battery that never ends tells what a day takes.
    let mut endless = rig.clone();
    (endless.capacity_wh, endless.self_discharge_per_h) = (1e9, 0.0);
    let mut ledger = Ledger::default();
    let mut left = endless.capacity_wh;
    let limits = rig.limits();
    let no_floor = Limits { floor_wh: 0.0, ..limits };
    for demand in &day {
        left = step(&endless, &no_floor, left, Supply::default(), demand, step_h, &mut ledger).stored_wh;
    }
    let drawn_wh = ledger.delivered_wh() + ledger.outlet_loss_wh.iter().sum::<f64>() + ledger.own_draw_wh;

    if plan.loads.iter().enumerate().any(|(k, load)| picked(k) && load.never_runs()) {
        return (0.0, drawn_wh);
    }
    let mut stored = charge * rig.capacity_wh;
    let mut hours = 0.0;
    let mut at = 0;
    while hours < LONGEST_H {
        let demand = &day[at % steps_a_day];
        let mut ledger = Ledger::default();
        let balance = step(&rig, &limits, stored, Supply::default(), demand, step_h, &mut ledger);
        stored = balance.stored_wh;
        if !balance.all_served {
            // The share of the step that was served is the time it lasted.
            let served = (0..3).map(|o| balance.served[0][o]).fold(1.0, f64::min);
            return (hours + served * step_h, drawn_wh);
        }
        at += 1;
        hours = at as f64 * step_h;
    }
    (LONGEST_H, drawn_wh)
}
