//! What is asked for on one day, in lanes.

use crate::engine::load::LoadPlan;
use crate::engine::plan::Plan;
use crate::engine::rig::{OUTLETS, Rig};

/// Whether a load draws the same on every day of every trial.
pub(super) fn is_fixed(load: &LoadPlan) -> bool {
    load.watts_sd == 0.0 && load.day_sigma == 0.0
}

/// One step of a day when everything asked for is served.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct StepDemand<const L: usize> {
    /// Bus power \[W\]; infinite where an outlet's limit is exceeded.
    pub bus_w: [f64; L],
    /// Delivered at each outlet \[W\].
    pub delivered_w: [[f64; L]; OUTLETS],
    /// Lost in each outlet's converter \[W\].
    pub lost_w: [[f64; L]; OUTLETS],
}

/// A day's demand.
#[derive(Debug)]
pub(super) struct DayDemand<const L: usize> {
    /// Step by step.
    pub steps: Vec<StepDemand<L>>,
    /// Sums over the day of what is delivered and lost \[W × steps\].
    pub delivered: [[f64; L]; OUTLETS],
    pub lost: [[f64; L]; OUTLETS],
}

impl<const L: usize> Default for DayDemand<L> {
    fn default() -> DayDemand<L> {
        DayDemand { steps: Vec::new(), delivered: [[0.0; L]; OUTLETS], lost: [[0.0; L]; OUTLETS] }
    }
}

/// A converter's figures, lane by lane.
struct Curves<const L: usize> {
    idle_w: [f64; L],
    linear: [f64; L],
    quadratic_per_w: [f64; L],
}

impl<const L: usize> DayDemand<L> {
    /// Works out a day.
    ///
    /// * `factors` — day factor of each load, in lanes.
    #[inline(always)]
    pub(super) fn fill(&mut self, plan: &Plan, rigs: &[Rig], factors: &[[f64; L]]) {
        let n = plan.season.steps_a_day;
        self.delivered = [[0.0; L]; OUTLETS];
        self.lost = [[0.0; L]; OUTLETS];
        let curve = |outlet: usize, l: usize| if outlet == 0 { &rigs[l].inverter } else { &rigs[l].converter[outlet] };
        let curves: [Curves<L>; OUTLETS] = std::array::from_fn(|outlet| Curves {
            idle_w: std::array::from_fn(|l| curve(outlet, l).idle_w),
            linear: std::array::from_fn(|l| curve(outlet, l).linear),
            quadratic_per_w: std::array::from_fn(|l| curve(outlet, l).quadratic_per_w),
        });
        let own_w: [f64; L] = std::array::from_fn(|l| rigs[l].own_draw_w);
        let limit_w: [[f64; L]; OUTLETS] =
            std::array::from_fn(|outlet| std::array::from_fn(|l| rigs[l].outlet_limit_w[outlet]));
        let on: [bool; OUTLETS] = std::array::from_fn(|outlet| plan.loads.iter().any(|load| load.outlet == outlet));
        let sleeps = rigs.first().is_some_and(|rig| rig.inverter_sleeps);
        self.steps.clear();
        for at in 0..n {
            let mut watts = [[0.0; L]; OUTLETS];
            let mut variance_w2 = [0.0; L];
            for (k, load) in plan.loads.iter().enumerate() {
                let (nominal_w, nominal_w2) = (load.profile.watts[at], load.profile.variance_w2[at]);
                if nominal_w == 0.0 && nominal_w2 == 0.0 {
                    continue;
                }
                let (sum, factor) = (&mut watts[load.outlet], &factors[k]);
                for l in 0..L {
                    sum[l] += nominal_w * factor[l];
                }
                if load.outlet == 0 {
                    for l in 0..L {
                        variance_w2[l] += nominal_w2 * factor[l] * factor[l];
                    }
                }
            }
            let mut step = StepDemand { bus_w: own_w, delivered_w: watts, lost_w: [[0.0; L]; OUTLETS] };
            for outlet in (0..OUTLETS).filter(|&outlet| on[outlet]) {
                let Curves { idle_w, linear, quadratic_per_w } = &curves[outlet];
                let (watts, lost) = (&watts[outlet], &mut step.lost_w[outlet]);
                for l in 0..L {
                    let square = if outlet == 0 { watts[l] * watts[l] + variance_w2[l] } else { watts[l] * watts[l] };
                    let awake = if outlet == 0 && sleeps && watts[l] <= 0.0 { 0.0 } else { 1.0 };
                    let loss = (idle_w[l] + linear[l] * watts[l] + quadratic_per_w[l] * square) * awake;
                    lost[l] = loss;
                    step.bus_w[l] += if watts[l] <= limit_w[outlet][l] { watts[l] + loss } else { f64::INFINITY };
                    self.delivered[outlet][l] += watts[l];
                    self.lost[outlet][l] += loss;
                }
            }
            self.steps.push(step);
        }
    }
}
