//! Steps in which rules hold loads off: what is left to be served, for all lanes at once.
//!
//! Lanes that can have all the rest take the step with the others. What comes out has the bits of [`Outlets::serve`], where
//! lanes are settled that cannot: sums are formed in the same order.
//!
//! [`Outlets::serve`]: crate::engine::outlets::Outlets::serve

use super::demand::DayDemand;
use super::wants::Wants;
use crate::engine::cells::Flags;
use crate::engine::plan::Plan;
use crate::engine::rig::{CLASSES, OUTLETS};
use crate::random::masks::{either, masked};

/// What is asked for without the loads that rules hold off.
#[derive(Debug)]
pub(super) struct HeldOff<const L: usize> {
    /// The lanes in which there are any.
    pub lanes: Flags<L>,
    /// Bus power \[W\] of every lane, held off or not; infinite where an outlet's limit is exceeded.
    pub bus_w: [f64; L],
    /// Delivered at each outlet \[W\].
    pub delivered_w: [[f64; L]; OUTLETS],
    /// Lost in each outlet's converter \[W\].
    pub lost_w: [[f64; L]; OUTLETS],
}

impl<const L: usize> Default for HeldOff<L> {
    fn default() -> HeldOff<L> {
        let zero = [[0.0; L]; OUTLETS];
        HeldOff { lanes: [0; L], bus_w: [0.0; L], delivered_w: zero, lost_w: zero }
    }
}

impl<const L: usize> HeldOff<L> {
    /// Works out a step.
    ///
    /// * `at` — the step of the day; `lanes` — those that have any load off; `weekday`, `factors` — see [`Wants::wanted`].
    #[inline(always)]
    pub(super) fn work_out(
        &mut self,
        plan: &Plan,
        at: usize,
        lanes: &Flags<L>,
        (wants, demand): (&Wants<L>, &DayDemand<L>),
        (weekday, factors): super::wants::DaysOf<'_, L>,
    ) {
        self.lanes = *lanes;
        let everything = &demand.step(at).bus_w;
        let mut bus_w = demand.outlets.own_w;
        for outlet in (0..OUTLETS).filter(|&outlet| demand.on[outlet]) {
            let (mut delivered_w, mut variance_w2, mut on) = ([0.0; L], [0.0; L], [0; L]);
            for class in 0..CLASSES {
                let loads = plan.loads.iter().enumerate();
                let (mut of_class_w, mut of_class_w2, mut any) = ([0.0; L], [0.0; L], false);
                for (place, load) in loads.filter(|(_, load)| (load.class, load.outlet) == (class, outlet)) {
                    any = true;
                    let (mean_w, spread_w2) =
                        Wants::known::<L>(load, (0, at, plan.fed(at)), (weekday, &factors[place]));
                    let off = &wants.off[place];
                    for l in 0..L {
                        of_class_w[l] += masked(mean_w[l], !off[l]);
                        on[l] |= !off[l];
                    }
                    if outlet == 0 {
                        for l in 0..L {
                            of_class_w2[l] += masked(spread_w2[l], !off[l]);
                        }
                    }
                }
                if any {
                    for l in 0..L {
                        delivered_w[l] += of_class_w[l];
                        variance_w2[l] += of_class_w2[l];
                    }
                }
            }
            let (mut lost_w, limit_w) = ([0.0; L], demand.outlets.limit_w(outlet));
            for l in 0..L {
                let watts = delivered_w[l];
                lost_w[l] = masked(demand.outlets.lost_w(outlet, l, watts, variance_w2[l]), on[l]);
                bus_w[l] += if watts <= limit_w[l] { watts + lost_w[l] } else { f64::INFINITY };
            }
            self.delivered_w[outlet] = delivered_w;
            self.lost_w[outlet] = lost_w;
        }
        for l in 0..L {
            self.bus_w[l] = either(lanes[l], bus_w[l], everything[l]);
        }
    }
}
