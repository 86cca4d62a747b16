//! What is asked for on one day, in lanes.

use crate::engine::asking::Asking;
use crate::engine::cells::FromBus;
use crate::engine::outlets::Outlets;
use crate::engine::plan::Plan;
use crate::engine::rig::{OUTLETS, Rig};

/// One step of a day when everything asked for is served.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct StepDemand<const L: usize> {
    /// Bus power \[W\]; infinite where an outlet's limit is exceeded.
    pub bus_w: [f64; L],
    /// Delivered at each outlet \[W\].
    pub delivered_w: [[f64; L]; OUTLETS],
    /// Lost in each outlet's converter \[W\].
    pub lost_w: [[f64; L]; OUTLETS],
    /// Variance of AC power within the step \[W²\]; kept where loads ask for AC by their own state.
    variance_w2: [f64; L],
}

impl<const L: usize> Default for StepDemand<L> {
    fn default() -> StepDemand<L> {
        let zero = [[0.0; L]; OUTLETS];
        StepDemand { bus_w: [0.0; L], delivered_w: zero, lost_w: zero, variance_w2: [0.0; L] }
    }
}

impl<const L: usize> StepDemand<L> {
    /// What the first lane asks for.
    pub(super) fn bus(&self, own_w: f64) -> FromBus {
        let of = |watts: &[[f64; L]; OUTLETS]| watts.map(|watts| watts[0]);
        FromBus { delivered_w: of(&self.delivered_w), lost_w: of(&self.lost_w), own_w }
    }
}

/// Delivered and lost in some steps \[W × steps\].
type UpTo<const L: usize> = ([f64; L], [f64; L]);

/// A day's demand.
#[derive(Debug)]
pub(super) struct DayDemand<const L: usize> {
    /// Step by step, without the loads that ask by their own state and what their outlets lose.
    pub steps: Vec<StepDemand<L>>,
    /// Sums over the day of what is delivered and lost \[W × steps\], without the outlets of those loads.
    pub delivered: [[f64; L]; OUTLETS],
    pub lost: [[f64; L]; OUTLETS],
    /// The same up to each step of the day and past the last, outlet by outlet: what is delivered and what is lost. Empty until
    /// a day that an outage has only part of asks for it.
    pub until: Vec<(usize, Vec<UpTo<L>>)>,
    /// Whether that is of the present day.
    added_up: bool,
    /// Whether any load hangs on an outlet.
    pub on: [bool; OUTLETS],
    /// Whether a load that asks by its own state does.
    pub asked: [bool; OUTLETS],
    /// The present step with those loads.
    present: StepDemand<L>,
    pub outlets: Outlets<L>,
}

impl<const L: usize> Default for DayDemand<L> {
    fn default() -> DayDemand<L> {
        let zero = [[0.0; L]; OUTLETS];
        DayDemand {
            steps: Vec::new(),
            delivered: zero,
            lost: zero,
            until: Vec::new(),
            added_up: false,
            on: [false; OUTLETS],
            asked: [false; OUTLETS],
            present: StepDemand::default(),
            outlets: Outlets::default(),
        }
    }
}

impl<const L: usize> DayDemand<L> {
    /// Takes over the rigs of a chunk.
    #[inline(always)]
    pub(super) fn begin(&mut self, plan: &Plan, rigs: &[Rig]) {
        self.outlets.set(rigs);
        let mut on = [false; OUTLETS];
        self.asked = [false; OUTLETS];
        for load in &plan.loads {
            on[load.outlet] = true;
            self.asked[load.outlet] |= load.asks.is_some();
        }
        if on != self.on {
            // Outlets without loads stay as they are from here on: at nothing.
            self.steps.clear();
            self.present = StepDemand::default();
            self.on = on;
        }
    }

    /// Works out a day.
    ///
    /// * `factors` — day factor of each load, in lanes; `weekday` — the day of the week of each lane.
    #[inline(always)]
    pub(super) fn fill(&mut self, plan: &Plan, factors: &[[f64; L]], weekday: &[usize; L]) {
        self.added_up = false;
        self.steps.resize_with(plan.season.steps_a_day, StepDemand::default);
        let (mut delivered, mut lost) = ([[0.0; L]; OUTLETS], [[0.0; L]; OUTLETS]);
        for (at, step) in self.steps.iter_mut().enumerate() {
            let mut variance_w2 = [0.0; L];
            for (watts, on) in step.delivered_w.iter_mut().zip(self.on) {
                if on {
                    watts.fill(0.0);
                }
            }
            for (load, factor) in plan.loads.iter().zip(factors).filter(|(load, _)| load.asks.is_none()) {
                if load.week.is_some() {
                    let watts = &mut step.delivered_w[load.outlet];
                    for l in 0..L {
                        let (profile, factor) = (load.day(weekday[l]), factor[l]);
                        watts[l] += profile.watts[at] * factor;
                        if load.outlet == 0 {
                            variance_w2[l] += profile.variance_w2[at] * factor * factor;
                        }
                    }
                    continue;
                }
                let (nominal_w, nominal_w2) = (load.profile.watts[at], load.profile.variance_w2[at]);
                if nominal_w != 0.0 {
                    add(nominal_w, factor, None, &mut step.delivered_w[load.outlet]);
                }
                if load.outlet == 0 && nominal_w2 != 0.0 {
                    add(nominal_w2, factor, Some(factor), &mut variance_w2);
                }
            }
            step.bus_w = self.outlets.own_w;
            for outlet in (0..OUTLETS).filter(|&outlet| self.on[outlet] && !self.asked[outlet]) {
                let (watts, lost_w) = (&step.delivered_w[outlet], &mut step.lost_w[outlet]);
                let variance_w2 = if outlet == 0 { &variance_w2 } else { &[0.0; L] };
                self.outlets.convert(outlet, (watts, variance_w2), lost_w, &mut step.bus_w);
                for l in 0..L {
                    delivered[outlet][l] += watts[l];
                    lost[outlet][l] += lost_w[l];
                }
            }
            if self.asked[0] {
                step.variance_w2 = variance_w2;
            }
        }
        (self.delivered, self.lost) = (delivered, lost);
    }

    /// Adds up what is delivered and lost to each step of the day, unless that is done.
    #[inline(always)]
    pub(super) fn add_up(&mut self) {
        if self.added_up {
            return;
        }
        self.added_up = true;
        let outlets = (0..OUTLETS).filter(|&outlet| self.on[outlet] && !self.asked[outlet]);
        self.until.resize_with(outlets.clone().count(), Default::default);
        for (outlet, (of, until)) in outlets.zip(&mut self.until) {
            *of = outlet;
            until.resize(self.steps.len() + 1, ([0.0; L], [0.0; L]));
            let (mut delivered, mut lost) = ([0.0; L], [0.0; L]);
            for (step, until) in self.steps.iter().zip(&mut until[1..]) {
                for l in 0..L {
                    delivered[l] += step.delivered_w[outlet][l];
                    lost[l] += step.lost_w[outlet][l];
                }
                *until = (delivered, lost);
            }
        }
    }

    /// Works out a step with the loads that ask by their own state, and what their outlets lose.
    #[inline(always)]
    pub(super) fn ask(&mut self, plan: &Plan, at: usize, asking: &[Asking<L>]) {
        let (base, now) = (&self.steps[at], &mut self.present);
        let mut bus_w = base.bus_w;
        for outlet in (0..OUTLETS).filter(|&outlet| self.on[outlet]) {
            let mut watts = base.delivered_w[outlet];
            if !self.asked[outlet] {
                (now.delivered_w[outlet], now.lost_w[outlet]) = (watts, base.lost_w[outlet]);
                continue;
            }
            let mut variance_w2 = if outlet == 0 { base.variance_w2 } else { [0.0; L] };
            let loads = plan.loads.iter().zip(asking).filter(|(load, _)| load.outlet == outlet);
            for (load, run) in loads.filter_map(|(load, asking)| Some((load, asking.run()?))) {
                for l in 0..L {
                    let (mean_w, spread_w2) = load.while_running(run[l]);
                    watts[l] += mean_w;
                    variance_w2[l] += if outlet == 0 { spread_w2 } else { 0.0 };
                }
            }
            let mut lost_w = [0.0; L];
            self.outlets.convert(outlet, (&watts, &variance_w2), &mut lost_w, &mut bus_w);
            (now.delivered_w[outlet], now.lost_w[outlet]) = (watts, lost_w);
        }
        now.bus_w = bus_w;
    }

    /// A step, the present one where loads ask by their own state.
    #[inline(always)]
    pub(super) fn step(&self, at: usize) -> &StepDemand<L> {
        if self.asked == [false; OUTLETS] { &self.steps[at] } else { &self.present }
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
