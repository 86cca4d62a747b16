//! Loads that ask by their own state: coolers and devices with a battery of their own.

use super::load::{LoadDraws, LoadPlan};
use super::unserved::ROUNDING_WH;
use crate::loads::cooler::{Food, PARTS};
use crate::loads::{ChargePlan, ChargeState, CoolerPlan, CoolerState, DayProfile, Turn};
use crate::random::masks::masked;
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
            DayProfile { watts: mean, variance_w2: variance, wants: vec![1.0; steps_a_day] }
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

/// The state of such a load within `L` trials, one lane each.
#[derive(Debug, Default)]
pub(super) enum Asking<const L: usize> {
    /// Its demand is known beforehand.
    #[default]
    No,
    Cooler(Box<CoolerState<L>>),
    Charge(Box<ChargeState<L>>),
}

/// What a step did to a load.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Settled {
    /// Energy missed at the outlet \[Wh\].
    pub unserved_wh: f64,
    /// Time that it wanted to run and could not \[h\].
    pub off_h: f64,
    /// Whether the rule of a cooler declared its food lost.
    pub food_lost: bool,
}

impl Settled {
    /// Of a load that asked for `asked_wh` \[Wh\] and had power for a share of the hours in which it wanted to run.
    #[inline(always)]
    pub fn with_power(asked_wh: f64, share: f64, wanted_h: f64) -> Settled {
        Settled { unserved_wh: asked_wh * (1.0 - share), off_h: (1.0 - share) * wanted_h, food_lost: false }
    }
}

/// What a load needs to know of a step.
pub(super) struct StepOf<'a, const L: usize> {
    /// Step of the day.
    pub at: usize,
    /// Length \[h\].
    pub step_h: f64,
    /// Temperature outdoors \[°C\].
    pub air_c: &'a [f64; L],
    /// Temperature of rooms that cool \[°C\].
    pub room_c: &'a [f64; L],
    /// The load's use on this day over its usual.
    pub day_factor: &'a [f64; L],
}

/// At the outlet for a watt-hour in the device's battery, losses counted.
fn at_outlet(load: &LoadPlan, plan: &ChargePlan) -> f64 {
    load.running_w / (plan.charger_w * plan.efficiency)
}

impl<const L: usize> Asking<L> {
    /// Makes room for a load's state.
    pub fn prepare(&mut self, load: &LoadPlan) {
        match (&self, load.asks.as_deref()) {
            (Asking::No, None)
            | (Asking::Cooler(_), Some(Asks::Cooler(_)))
            | (Asking::Charge(_), Some(Asks::Charge(_))) => {}
            (_, None) => *self = Asking::No,
            (_, Some(Asks::Cooler(_))) => *self = Asking::Cooler(Box::default()),
            (_, Some(Asks::Charge(_))) => *self = Asking::Charge(Box::default()),
        }
    }

    /// As the outage of a lane begins, at step `at` of a day.
    ///
    /// * `rng` — of the load; its factor is what it really needs over what is written.
    pub fn begin(&mut self, load: &LoadPlan, l: usize, rng: &mut LoadDraws, at: usize, step_h: f64) {
        match (self, load.asks.as_deref()) {
            (Asking::Cooler(state), Some(Asks::Cooler(plan))) => {
                state.begin(plan, l, (rng.real, rng.stream.uniform()), step_h);
            }
            (Asking::Charge(state), Some(Asks::Charge(plan))) => state.begin(plan, l, at),
            _ => {}
        }
    }

    /// Works out which share of a step the load wants to run; a load switched off asks for nothing but still needs.
    #[inline(always)]
    pub fn ask(&mut self, load: &LoadPlan, step: &StepOf<'_, L>) {
        match (self, load.asks.as_deref()) {
            (Asking::Cooler(state), Some(Asks::Cooler(plan))) => {
                state.asks(plan, if plan.room_cools { step.room_c } else { step.air_c }, step.step_h);
            }
            (Asking::Charge(state), Some(Asks::Charge(plan))) => {
                state.asks(plan, step.at, step.day_factor, step.step_h);
            }
            _ => {}
        }
    }

    /// That share; `None` for a load whose demand is known beforehand.
    #[inline(always)]
    pub fn run(&self) -> Option<&[f64; L]> {
        match self {
            Asking::No => None,
            Asking::Cooler(state) => Some(state.run()),
            Asking::Charge(state) => Some(state.run()),
        }
    }

    /// Takes the step, with power for a share of it, and adds up what was asked for \[Wh\]. Says whether in any lane food
    /// was lost or a device ran out.
    #[inline(always)]
    pub fn settle(&mut self, load: &LoadPlan, given: &[f64; L], turn: &Turn<'_, L>, asked_wh: &mut [f64; L]) -> bool {
        let (usual, per_usual_wh, any) = match (self, load.asks.as_deref()) {
            (Asking::Cooler(state), Some(Asks::Cooler(plan))) => {
                let lost = state.settle(plan, given, turn);
                (state.nominal(), load.running_w * turn.step_h, lost)
            }
            (Asking::Charge(state), Some(Asks::Charge(plan))) => {
                let out = state.settle(plan, given, turn);
                (state.use_factor(), plan.use_w * turn.step_h * at_outlet(load, plan), out)
            }
            _ => return false,
        };
        for l in 0..L {
            asked_wh[l] += masked(usual[l] * per_usual_wh, turn.takes[l]);
        }
        any
    }

    /// Whether a lane's food was lost or its device ran out in the step just taken.
    pub fn tells(&self, l: usize) -> bool {
        match self {
            Asking::No => false,
            Asking::Cooler(state) => state.lost_now()[l],
            Asking::Charge(state) => state.unserved_wh()[l] > ROUNDING_WH,
        }
    }

    /// What the step just taken did to one lane's load, which had power for a share of it.
    pub fn settled(&self, load: &LoadPlan, l: usize, given: f64, step_h: f64) -> Settled {
        match (self, load.asks.as_deref()) {
            (Asking::Cooler(state), _) => Settled {
                food_lost: state.lost_now()[l],
                ..Settled::with_power(state.nominal()[l] * load.running_w * step_h, given, step_h)
            },
            (Asking::Charge(state), Some(Asks::Charge(plan))) => {
                let unserved_wh = state.unserved_wh()[l];
                let used_w = plan.use_w * state.use_factor()[l];
                Settled {
                    unserved_wh: unserved_wh * at_outlet(load, plan),
                    off_h: if used_w > 0.0 { unserved_wh / used_w } else { 0.0 },
                    food_lost: false,
                }
            }
            _ => Settled::default(),
        }
    }

    /// What became of the food in a lane's cooler.
    pub fn food(&self, load: &LoadPlan, l: usize) -> [Option<Food>; PARTS] {
        match (self, load.asks.as_deref()) {
            (Asking::Cooler(state), Some(Asks::Cooler(plan))) => state.food(plan, l),
            _ => [None; PARTS],
        }
    }
}

impl LoadPlan {
    /// Mean power \[W\] of a load that runs for a share of a step, and the variance about it \[W²\]: a motor that runs a
    /// share d of the step, and stands still for the rest, P² d (1 - d).
    #[inline(always)]
    pub(super) fn while_running(&self, share: f64) -> (f64, f64) {
        (share * self.running_w, self.running_w * self.running_w * share * (1.0 - share))
    }
}

#[cfg(test)]
mod tests;
