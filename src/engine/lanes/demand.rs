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
    /// Whether any load hangs on an outlet.
    pub on: [bool; OUTLETS],
}

impl<const L: usize> Default for DayDemand<L> {
    fn default() -> DayDemand<L> {
        DayDemand { steps: Vec::new(), delivered: [[0.0; L]; OUTLETS], lost: [[0.0; L]; OUTLETS], on: [false; OUTLETS] }
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
        let zero = [[0.0; L]; OUTLETS];
        if on != self.on {
            // Outlets without loads stay as they are from here on: at nothing.
            self.steps.clear();
            self.on = on;
        }
        self.steps.resize(n, StepDemand { bus_w: own_w, delivered_w: zero, lost_w: zero });
        let (mut delivered, mut lost_sum, mut variance_w2) = (zero, zero, [0.0; L]);
        for (at, step) in self.steps.iter_mut().enumerate() {
            variance_w2.fill(0.0);
            for (watts, on) in step.delivered_w.iter_mut().zip(on) {
                if on {
                    watts.fill(0.0);
                }
            }
            for (k, load) in plan.loads.iter().enumerate() {
                let (nominal_w, nominal_w2) = (load.profile.watts[at], load.profile.variance_w2[at]);
                if nominal_w != 0.0 {
                    add(nominal_w, &factors[k], None, &mut step.delivered_w[load.outlet]);
                }
                if load.outlet == 0 && nominal_w2 != 0.0 {
                    add(nominal_w2, &factors[k], Some(&factors[k]), &mut variance_w2);
                }
            }
            step.bus_w = own_w;
            for outlet in (0..OUTLETS).filter(|&outlet| on[outlet]) {
                let Curves { idle_w, linear, quadratic_per_w } = &curves[outlet];
                let (watts, lost) = (&step.delivered_w[outlet], &mut step.lost_w[outlet]);
                for l in 0..L {
                    let square = if outlet == 0 { watts[l] * watts[l] + variance_w2[l] } else { watts[l] * watts[l] };
                    let awake = if outlet == 0 && sleeps && watts[l] <= 0.0 { 0.0 } else { 1.0 };
                    let loss = (idle_w[l] + linear[l] * watts[l] + quadratic_per_w[l] * square) * awake;
                    lost[l] = loss;
                    step.bus_w[l] += if watts[l] <= limit_w[outlet][l] { watts[l] + loss } else { f64::INFINITY };
                }
                for l in 0..L {
                    delivered[outlet][l] += watts[l];
                    lost_sum[outlet][l] += lost[l];
                }
            }
        }
        (self.delivered, self.lost) = (delivered, lost_sum);
    }
}

/// Adds a number times a factor, and times another where there is one.
#[inline(always)]
fn add<const L: usize>(number: f64, factor: &[f64; L], other: Option<&[f64; L]>, sum: &mut [f64; L]) {
    for l in 0..L {
        sum[l] += match other {
            Some(other) => number * factor[l] * other[l],
            None => number * factor[l],
        };
    }
}
