//! A generator with so much fuel, started by hand.

use super::cells::Lane;
use super::kit_plan::{Known, at};
use super::rig::Rig;
use crate::loads::coverage;
use crate::scenario::model::{Generator, Station};

/// What a generator burns.
#[derive(Debug, Clone, PartialEq)]
pub struct FuelPlan {
    /// On hand as the outage begins \[L\].
    pub litres: f64,
    /// For each watt-hour that it gives \[L/Wh\].
    per_wh: Known,
    /// In each hour that it runs, however little it gives \[L/h\].
    per_h: Known,
    /// Share of each step of the day in which it runs.
    pub(super) runs: Vec<f64>,
}

/// Share of each step of the day in which a generator runs, if it has fuel: a run begins with the first step in which somebody is
/// there to start it, and one in which nobody ever is does not begin at all.
///
/// * `home` — the steps in which somebody is there.
pub(super) fn runs(generator: &Generator, home: &[bool]) -> Vec<f64> {
    let mut shares = coverage(&generator.hours, home.len());
    let n = shares.len();
    // One that never stops is never started anew.
    let Some(still) = shares.iter().position(|share| *share <= 0.0) else { return shares };
    let mut started = false;
    for at in (still..still + n).map(|at| at % n) {
        started = shares[at] > 0.0 && (started || home[at]);
        if !started {
            shares[at] = 0.0;
        }
    }
    shares
}

/// What it lets the wall charger draw in each step of the day \[W\].
pub(super) fn wall_w(generator: &Generator, station: &Station, runs: &[f64]) -> Vec<f64> {
    let watts = station.wall_charger.as_ref().map_or(0.0, |charger| generator.feeds_w(charger));
    runs.iter().map(|share| share * watts).collect()
}

impl FuelPlan {
    /// `None` where its fuel never ends.
    pub(super) fn new(generator: &Generator, runs: &[f64]) -> Option<FuelPlan> {
        Some(FuelPlan {
            litres: generator.fuel?.0,
            per_wh: generator
                .fuel_per_kwh
                .map_or((0.0, 0.0), |thirst| (thirst.value.0 / 1000.0, thirst.standard() / 1000.0)),
            per_h: generator.fuel_per_hour.map_or((0.0, 0.0), |thirst| (thirst.value.0, thirst.standard())),
            runs: runs.to_vec(),
        })
    }

    /// Whether it is not known to the last drop what is burned.
    pub(super) fn is_doubtful(&self) -> bool {
        self.per_wh.1 > 0.0 || self.per_h.1 > 0.0
    }

    /// Burned for each watt-hour given \[L/Wh\] and in each hour of running \[L/h\] in the trial of a rig: both are off by the same
    /// number of standard uncertainties.
    fn thirst(&self, rig: &Rig) -> (f64, f64) {
        (at(self.per_wh, rig.thirst_z).max(0.0), at(self.per_h, rig.thirst_z).max(0.0))
    }
}

/// The tank of each lane.
#[derive(Debug)]
pub(super) struct Tank<const L: usize> {
    /// What is left \[L\].
    pub left_l: [f64; L],
    /// Share of the present step's run that there is fuel for.
    pub share: [f64; L],
    /// Bus power from the wall so far \[W × steps\].
    before: [f64; L],
}

impl<const L: usize> Default for Tank<L> {
    fn default() -> Tank<L> {
        Tank { left_l: [0.0; L], share: [1.0; L], before: [0.0; L] }
    }
}

impl<const L: usize> Tank<L> {
    /// Full, as the outage begins.
    pub(super) fn begin(&mut self, plan: &FuelPlan) {
        *self = Tank { left_l: [plan.litres; L], ..Tank::default() };
    }

    /// Works out for which share of a step's run there is fuel, were the generator to give all that it is allowed.
    ///
    /// * `wall_w` — the most that the charger draws from it, as a mean over the step \[W\]; `direct_w` — what loads ask of it
    ///   while it runs \[W\].
    pub(super) fn before(
        &mut self,
        plan: &FuelPlan,
        (at, wall_w, step_h): (usize, f64, f64),
        (lane, rigs, direct_w): (&Lane<L>, &[Rig], &[f64; L]),
    ) {
        for l in 0..L {
            let (per_wh, per_h) = plan.thirst(&rigs[l]);
            let most_l = ((wall_w + plan.runs[at] * direct_w[l]) * per_wh + plan.runs[at] * per_h) * step_h;
            let enough = plan.runs[at] <= 0.0 || most_l <= self.left_l[l];
            self.share[l] = if enough { 1.0 } else { self.left_l[l] / most_l };
        }
        self.before = *lane.wall_sum();
    }

    /// Burns what the step took, in the lanes whose outage it is in.
    ///
    /// * `others_w` — bus power of the step that came from other sources \[W\]; `direct_w` — what loads had of it \[W\].
    pub(super) fn after(
        &mut self,
        plan: &FuelPlan,
        (at, step_h): (usize, f64),
        active: &[bool; L],
        (lane, rigs, others_w, direct_w): (&Lane<L>, &[Rig], &[f64; L], &[f64; L]),
    ) {
        if plan.runs[at] <= 0.0 {
            return;
        }
        for l in (0..L).filter(|&l| active[l]) {
            let given_w = (lane.wall_sum()[l] - self.before[l] - others_w[l]) / rigs[l].wall_efficiency + direct_w[l];
            let (per_wh, per_h) = plan.thirst(&rigs[l]);
            let burnt_l = (given_w * per_wh + plan.runs[at] * self.share[l] * per_h) * step_h;
            self.left_l[l] = (self.left_l[l] - burnt_l).max(0.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::model::{ClockWindow, FeedsAc};
    use crate::units::Watts;

    #[test]
    fn a_run_waits_for_somebody_to_start_it() {
        let window = |from: u16, to: u16| ClockWindow { from_minute: 60 * from, to_minute: 60 * to };
        let of = |hours: Vec<ClockWindow>, home: std::ops::Range<usize>| {
            let generator = Generator {
                limit: Watts(1.0),
                hours,
                fuel_per_kwh: None,
                fuel: None,
                fuel_per_hour: None,
                feeds_ac: FeedsAc::No,
                feeds_ac_up_to: None,
            };
            let home: Vec<bool> = (0..24).map(|at| home.contains(&at)).collect();
            let runs = runs(&generator, &home);
            (0..24).filter(|at| runs[*at] > 0.0).collect::<Vec<usize>>()
        };
        assert_eq!(of(vec![window(16, 20)], 18..22), [18, 19]);
        assert_eq!(of(vec![window(16, 20)], 0..24), [16, 17, 18, 19]);
        assert_eq!(of(vec![window(8, 10), window(16, 20)], 17..18), [17, 18, 19]);
        // Over midnight, begun in the evening.
        assert_eq!(of(vec![window(22, 2)], 22..23), [0, 1, 22, 23]);
    }
}
