//! Loads that ask by their own state: coolers and devices with a battery of their own.

use super::load::LoadPlan;
use super::step::Demand;
use super::trial::LoadOutcome;
use crate::loads::{ChargePlan, CoolerPlan, CoolerState, DayProfile};
use crate::random::Stream;
use crate::scenario::model::{Load, Pattern};

/// How a load asks.
#[derive(Debug, Clone, PartialEq)]
pub enum Asks {
    /// By its thermostat.
    Cooler(CoolerPlan),
    /// By what its battery lacks.
    Charge(ChargePlan),
}

impl Asks {
    /// How the scenario's load asks; `None` where that is known beforehand.
    #[must_use]
    pub fn of(load: &Load, steps_a_day: usize) -> Option<Asks> {
        let watts = load.watts.value.0;
        match &load.pattern {
            Pattern::Cooler(cooler) => Some(Asks::Cooler(CoolerPlan::new(cooler, watts))),
            Pattern::Charge(charge) => Some(Asks::Charge(ChargePlan::new(charge, watts, steps_a_day))),
            _ => None,
        }
    }

    /// Its mean day when nothing fails.
    ///
    /// * `watts` — drawn while it runs \[W\]; `air_c` — mean temperature outdoors \[°C\].
    #[must_use]
    pub fn nominal_day(&self, watts: f64, steps_a_day: usize, air_c: f64) -> DayProfile {
        let of_runs = |runs: &mut dyn Iterator<Item = f64>| {
            let (mean, variance) = runs.map(|run| (watts * run, watts * watts * run * (1.0 - run))).unzip();
            DayProfile { watts: mean, variance_w2: variance }
        };
        match self {
            Asks::Cooler(cooler) => {
                let run = cooler.holding_share(cooler.room_c(air_c), 1.0).min(1.0);
                of_runs(&mut std::iter::repeat_n(run, steps_a_day))
            }
            Asks::Charge(charge) => of_runs(&mut charge.usual_run.iter().copied()),
        }
    }

    /// Whether missed energy counts as with other loads; with a cooler whose food is judged it does not.
    #[must_use]
    pub fn counts_energy(&self) -> bool {
        !matches!(self, Asks::Cooler(cooler) if cooler.judged_by != [false, false])
    }
}

/// The state of such a load within a trial.
#[derive(Debug, Clone, Copy, Default)]
#[allow(clippy::large_enum_variant, reason = "a boxed state would be allocated anew in every trial")]
pub(super) enum Asking {
    /// Its demand is known beforehand.
    #[default]
    No,
    Cooler(CoolerState),
    Charge {
        left_wh: f64,
        run: f64,
        use_factor: f64,
    },
}

/// What a step did to such a load.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Settled {
    /// Energy missed at the outlet \[Wh\].
    pub missed_wh: f64,
    /// Whether the rule of a cooler declared its food lost.
    pub food_lost: bool,
}

impl Asking {
    /// As the outage begins, at step `at` of a day.
    ///
    /// * `real` — what it really needs over what is written.
    pub fn begin(load: &LoadPlan, luck: &mut Stream, real: f64, at: usize, step_h: f64) -> Asking {
        match load.asks.as_deref() {
            None => Asking::No,
            Some(Asks::Cooler(plan)) => Asking::Cooler(CoolerState::new(plan, real, luck.uniform(), step_h)),
            Some(Asks::Charge(plan)) => Asking::Charge { left_wh: plan.usual_wh[at], run: 0.0, use_factor: 1.0 },
        }
    }

    /// Adds what the load asks for in a step to the demand; a load switched off asks for nothing but still needs.
    pub fn ask(&mut self, load: &LoadPlan, step: &StepOf, switched_off: bool, demand: &mut Demand) {
        let run = match (self, load.asks.as_deref()) {
            (Asking::Cooler(state), Some(Asks::Cooler(plan))) => state.asks(plan, step.air_c),
            (Asking::Charge { left_wh, run, use_factor }, Some(Asks::Charge(plan))) => {
                *use_factor = step.day_factor;
                *run = plan.asks(*left_wh, step.at, *use_factor, step.step_h);
                *run
            }
            _ => return,
        };
        if switched_off {
            return;
        }
        demand.watts[load.class][load.outlet] += run * load.running_w;
        if load.outlet == 0 {
            // A motor that runs a share d of the step, and stands still for the rest: P² d (1 - d).
            demand.variance_w2[load.class] += load.running_w * load.running_w * run * (1.0 - run);
        }
    }

    /// Takes the step, with power for a `share` of it, and books it.
    pub fn settle(&mut self, load: &LoadPlan, share: f64, index: u32, step_h: f64, out: &mut LoadOutcome) -> Settled {
        let (asked_wh, missed_wh, off_h, food_lost) = match (self, load.asks.as_deref()) {
            (Asking::Cooler(state), Some(Asks::Cooler(plan))) => {
                let lost = state.settle(plan, share, index, step_h);
                let asked_wh = state.nominal(plan) * load.running_w * step_h;
                out.food = state.food();
                (asked_wh, asked_wh * (1.0 - share), (1.0 - share) * step_h, lost)
            }
            (Asking::Charge { left_wh, run, use_factor }, Some(Asks::Charge(plan))) => {
                let (left, missed) = plan.after_step(*left_wh, *run * share, *use_factor, step_h);
                *left_wh = left;
                // At the outlet, losses counted.
                let at_outlet = load.running_w / (plan.charger_w * plan.efficiency);
                let used_w = plan.use_w * *use_factor;
                let off_h = if used_w > 0.0 { missed / used_w } else { 0.0 };
                (used_w * step_h * at_outlet, missed * at_outlet, off_h, false)
            }
            _ => return Settled::default(),
        };
        out.asked_wh += asked_wh;
        if missed_wh > 0.0 {
            out.missed_wh += missed_wh;
            out.off_h += off_h;
            out.first_off_step.get_or_insert(index);
        }
        Settled { missed_wh, food_lost }
    }
}

/// What a load needs to know of a step.
pub(super) struct StepOf {
    /// Step of the day.
    pub at: usize,
    /// Length \[h\].
    pub step_h: f64,
    /// Temperature outdoors \[°C\].
    pub air_c: f64,
    /// The load's use on this day over its usual.
    pub day_factor: f64,
}
