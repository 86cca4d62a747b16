//! What a plan's loads ask for over any steps of its outages: step by step of a day, and where they ask for the same on every
//! day of every trial, of whole outages.

use crate::engine::plan::Plan;
use crate::engine::rig::{OUTLETS, Rig};
use crate::engine::step::Demand;

/// Sums from midnight up to each step of a day, one more than the day has steps.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Until(Vec<f64>);

impl Until {
    fn of(values: impl Iterator<Item = f64>) -> Until {
        let mut sum = 0.0;
        let sums = values.map(|value| {
            sum += value;
            sum
        });
        Until([0.0].into_iter().chain(sums).collect())
    }

    /// The sum over the steps of a day from one up to another.
    #[inline(always)]
    pub(super) fn between(&self, first: usize, last: usize) -> f64 {
        self.0[last] - self.0[first]
    }

    /// The sum over some steps.
    #[inline(always)]
    fn over(&self, steps: &Steps) -> f64 {
        steps.midnights * self.0[self.0.len() - 1] + self.between(steps.first, steps.last)
    }
}

/// The steps of an outage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Steps {
    /// Step of the day of the first, and of the one past the last.
    first: usize,
    last: usize,
    /// Midnights between the two.
    midnights: f64,
}

impl Steps {
    /// Those from `first` up to `end`, counted from a midnight, of days of `n` steps.
    #[inline(always)]
    pub(super) fn new(first: usize, end: usize, n: usize) -> Steps {
        Steps { first: first % n, last: end % n, midnights: (end / n) as f64 - (first / n) as f64 }
    }
}

/// What is asked for at an outlet.
#[derive(Debug, Clone, PartialEq, Default)]
struct Outlet {
    /// Steps in which its converter is on.
    awake: Until,
    /// Power \[W × steps\], and squares of it with the variance within a step \[W² × steps\].
    watts: Until,
    squares_w2: Until,
}

/// Sums of a plan; those over whole outages hold where its loads are fixed.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Account {
    /// Power of each load \[W × steps\] on its plain day, or on the days of the week where they differ.
    pub loads: Vec<Vec<Until>>,
    outlets: [Option<Outlet>; OUTLETS],
    /// What is asked for in each step of a day.
    pub demands: Vec<Demand>,
    /// The steps summed last.
    steps: Option<Steps>,
    /// Energy that each load asks for in them \[W × steps\].
    pub asked: Vec<f64>,
    /// At each outlet: steps awake, power, squares of power.
    sums: [[f64; 3]; OUTLETS],
}

impl Account {
    pub(super) fn new(plan: &Plan) -> Account {
        let n = plan.season.steps_a_day;
        let sleeps = plan.kit.best_estimate().inverter_sleeps;
        let mut account = Account::default();
        account.demands.resize(n, Demand::default());
        for load in &plan.loads {
            for (at, demand) in account.demands.iter_mut().enumerate() {
                demand.add(load, (0, at), 1.0);
            }
        }
        account.loads.extend(plan.loads.iter().map(|load| {
            let days = 0..if load.week.is_some() { 7 } else { 1 };
            days.map(|weekday| Until::of(load.day(weekday).watts.iter().copied())).collect()
        }));
        for (k, outlet) in account.outlets.iter_mut().enumerate() {
            let loads = || plan.loads.iter().filter(move |load| load.outlet == k);
            if loads().next().is_none() {
                continue;
            }
            let watts = |at: usize| loads().map(|load| load.profile.watts[at]).sum::<f64>();
            let variance_w2 = |at: usize| loads().map(|load| load.profile.variance_w2[at]).sum::<f64>();
            let awake = |at: usize| k != 0 || !sleeps || watts(at) > 0.0;
            *outlet = Some(Outlet {
                awake: Until::of((0..n).map(|at| if awake(at) { 1.0 } else { 0.0 })),
                watts: Until::of((0..n).map(watts)),
                squares_w2: Until::of((0..n).map(|at| {
                    let beside = if k == 0 { variance_w2(at) } else { 0.0 };
                    if awake(at) { watts(at) * watts(at) + beside } else { 0.0 }
                })),
            });
        }
        account
    }

    /// Sums over some steps.
    #[inline]
    pub(super) fn over(&mut self, steps: Steps) {
        // Neighbours in a chunk mostly have the same.
        if self.steps == Some(steps) {
            return;
        }
        self.steps = Some(steps);
        self.asked.clear();
        self.asked.extend(self.loads.iter().map(|days| days[0].over(&steps)));
        for (sums, outlet) in self.sums.iter_mut().zip(&self.outlets) {
            if let Some(Outlet { awake, watts, squares_w2 }) = outlet {
                *sums = [awake.over(&steps), watts.over(&steps), squares_w2.over(&steps)];
            }
        }
    }

    /// Delivered at each outlet in the steps summed last, and lost in its converter, when everything asked for is served
    /// \[W × steps\].
    #[inline(always)]
    pub(super) fn outlets(&self, rig: &Rig) -> ([f64; OUTLETS], [f64; OUTLETS]) {
        let (mut delivered, mut lost) = ([0.0; OUTLETS], [0.0; OUTLETS]);
        for (k, [awake, watts, squares_w2]) in self.sums.iter().enumerate() {
            let curve = if k == 0 { &rig.inverter } else { &rig.converter[k] };
            delivered[k] = *watts;
            lost[k] = curve.idle_w * awake + curve.linear * watts + curve.quadratic_per_w * squares_w2;
        }
        (delivered, lost)
    }
}
