//! A device with a battery of its own: a telephone, a laptop, a lantern.

use super::Turn;
use super::profile::coverage;
use crate::random::masks::{either, flag, masked};
use crate::random::polynomials::{less, more};
use crate::scenario::model::Charge;

/// A device that is used all day and charged while it is plugged in.
#[derive(Debug, Clone, PartialEq)]
pub struct ChargePlan {
    /// What its use takes out of its battery \[W\], always.
    pub use_w: f64,
    /// What its battery holds \[Wh\].
    pub holds_wh: f64,
    /// Energy arriving in its battery over energy that the charger takes, above 0 to 1.
    pub efficiency: f64,
    /// What the charger takes while it charges \[W\].
    pub charger_w: f64,
    /// Share of each step of the day in which it is plugged in.
    pub plugged: Vec<f64>,
    /// What is in its battery before each step of the day when nothing ever fails \[Wh\].
    pub usual_wh: Vec<f64>,
    /// Share of each step of the day in which its charger then runs.
    pub usual_run: Vec<f64>,
}

/// Days after which a device charged every day has found its rhythm.
const SETTLING_DAYS: usize = 4;

impl ChargePlan {
    /// From the scenario's device.
    ///
    /// * `charger_w` — what its charger takes while it charges \[W\], above 0; `steps_a_day` — a divisor of 1440.
    #[must_use]
    pub fn new(charge: &Charge, charger_w: f64, steps_a_day: usize) -> ChargePlan {
        let mut plan = ChargePlan {
            use_w: charge.energy_a_day.value.0 / 24.0,
            holds_wh: charge.holds.0,
            efficiency: charge.efficiency.0,
            charger_w,
            plugged: coverage(&charge.hours, steps_a_day),
            usual_wh: vec![0.0; steps_a_day],
            usual_run: vec![0.0; steps_a_day],
        };
        let step_h = 24.0 / steps_a_day as f64;
        let mut left_wh = plan.holds_wh;
        for step in 0..SETTLING_DAYS * steps_a_day {
            let at = step % steps_a_day;
            plan.usual_wh[at] = left_wh;
            plan.usual_run[at] = plan.asks(left_wh, at, 1.0, step_h);
            left_wh = plan.after_step(left_wh, plan.usual_run[at], 1.0, step_h).0;
        }
        plan
    }

    /// Share of a step that the charger wants to run, 0 to 1.
    ///
    /// * `left_wh` — in its battery before \[Wh\]; `at` — step of the day; `use_factor` — the day's use over the usual.
    #[must_use]
    #[inline(always)]
    pub fn asks(&self, left_wh: f64, at: usize, use_factor: f64, step_h: f64) -> f64 {
        let (per_h, per_full_w) = (1.0 / step_h, 1.0 / (self.efficiency * self.charger_w));
        let room_w = more(self.holds_wh - left_wh, 0.0) * per_h + self.use_w * use_factor;
        less(room_w * per_full_w, self.plugged[at])
    }

    /// What is left in its battery after a step in which the charger ran for a share `run` of it, and the use that it
    /// could not give \[Wh\].
    #[must_use]
    #[inline(always)]
    pub fn after_step(&self, left_wh: f64, run: f64, use_factor: f64, step_h: f64) -> (f64, f64) {
        let full_w = self.charger_w * self.efficiency;
        let then_wh = left_wh + (run * full_w - self.use_w * use_factor) * step_h;
        (less(more(then_wh, 0.0), self.holds_wh), more(-then_wh, 0.0))
    }
}

/// A device within `L` trials, one lane each.
#[derive(Debug, Clone, PartialEq)]
pub struct ChargeState<const L: usize> {
    left_wh: [f64; L],
    run: [f64; L],
    use_factor: [f64; L],
    unserved_wh: [f64; L],
}

impl<const L: usize> Default for ChargeState<L> {
    fn default() -> ChargeState<L> {
        let zero = [0.0; L];
        ChargeState { left_wh: zero, run: zero, use_factor: zero, unserved_wh: zero }
    }
}

impl<const L: usize> ChargeState<L> {
    /// As the power fails in one lane, at step `at` of a day.
    pub fn begin(&mut self, plan: &ChargePlan, l: usize, at: usize) {
        (self.left_wh[l], self.run[l], self.unserved_wh[l]) = (plan.usual_wh[at], 0.0, 0.0);
    }

    /// Share of a step that the charger wants to run, 0 to 1; see [`ChargePlan::asks`].
    #[inline(always)]
    pub fn asks(&mut self, plan: &ChargePlan, at: usize, use_factor: &[f64; L], step_h: f64) -> &[f64; L] {
        self.use_factor = *use_factor;
        for l in 0..L {
            self.run[l] = plan.asks(self.left_wh[l], at, self.use_factor[l], step_h);
        }
        &self.run
    }

    /// What [`ChargeState::asks`] came to last.
    #[must_use]
    pub fn run(&self) -> &[f64; L] {
        &self.run
    }

    /// Factor on its use on the present day.
    #[must_use]
    pub fn use_factor(&self) -> &[f64; L] {
        &self.use_factor
    }

    /// Takes the step with power for a share of it; says whether any lane's device ran out. See
    /// [`ChargePlan::after_step`].
    #[inline(always)]
    pub fn settle(&mut self, plan: &ChargePlan, given: &[f64; L], turn: &Turn<'_, L>) -> bool {
        let mut out = 0;
        let (mut left, mut unserved) = ([0.0; L], [0.0; L]);
        for l in 0..L {
            let (before_wh, run, takes) = (self.left_wh[l], self.run[l] * given[l], turn.takes[l]);
            let (then_wh, unserved_wh) = plan.after_step(before_wh, run, self.use_factor[l], turn.step_h);
            left[l] = either(takes, then_wh, before_wh);
            unserved[l] = masked(unserved_wh, takes);
            out |= flag(unserved[l] > 0.0);
        }
        (self.left_wh, self.unserved_wh) = (left, unserved);
        out != 0
    }

    /// Use that it could not give in the step just taken \[Wh\].
    #[must_use]
    pub fn unserved_wh(&self) -> &[f64; L] {
        &self.unserved_wh
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::model::ClockWindow;
    use crate::units::{Fraction, Uncertain, WattHours};

    fn laptop() -> ChargePlan {
        let charge = Charge {
            energy_a_day: Uncertain::exact(WattHours(48.0)),
            holds: WattHours(60.0),
            efficiency: Fraction(0.8),
            hours: vec![ClockWindow { from_minute: 18 * 60, to_minute: 22 * 60 }],
        };
        ChargePlan::new(&charge, 60.0, 24)
    }

    #[test]
    fn a_day_takes_what_the_day_used_over_the_efficiency() {
        let plan = laptop();
        let mut left = 60.0;
        let mut drawn = 0.0;
        for hour in 0..24 * 10 {
            let run = plan.asks(left, hour % 24, 1.0, 1.0);
            let missed;
            (left, missed) = plan.after_step(left, run, 1.0, 1.0);
            assert_eq!(missed, 0.0);
            assert!(run == 0.0 || (18..22).contains(&(hour % 24)));
            drawn += run * 60.0;
        }
        // 48 Wh a day over 0.8 is 60 Wh a day, less what the two hours after the last charge still owe.
        assert!((drawn - (600.0 - (60.0 - left) / 0.8)).abs() < 1e-9, "{drawn}");
    }

    /// A full battery asks for what it gives meanwhile, over the efficiency: 48 Wh a day are 2 W, of 60 W times 0.8 a 24th; twice that
    /// on a day of twice the use.
    #[test]
    fn a_full_battery_asks_for_the_days_use() {
        let plan = laptop();
        for (factor, share) in [(1.0, 1.0 / 24.0), (2.0, 1.0 / 12.0), (0.5, 1.0 / 48.0)] {
            assert!((plan.asks(60.0, 19, factor, 1.0) - share).abs() < 1e-12, "{factor}");
        }
    }

    #[test]
    fn a_device_that_is_never_charged_runs_empty_when_its_battery_says() {
        let plan = laptop();
        let (mut left, mut first) = (60.0, None);
        for hour in 0..40 {
            let missed;
            (left, missed) = plan.after_step(left, 0.0, 1.0, 1.0);
            if missed > 1e-9 {
                first.get_or_insert(hour);
            }
        }
        // 60 Wh at 2 W last 30 hours.
        assert_eq!(first, Some(30));
        let day_wh: f64 = plan.usual_run.iter().map(|run| run * 60.0).sum();
        assert!((day_wh - 60.0).abs() < 1e-9, "48 Wh of use over 0.8 a day, not {day_wh}");
        // Twenty hours after it was filled up, 40 Wh are gone; the charger gives 46 W net and is done within an hour.
        assert!(
            (plan.usual_wh[18] - 20.0).abs() < 1e-9 && (plan.usual_wh[19] - 60.0).abs() < 1e-9,
            "{:?}",
            plan.usual_wh
        );
    }

    /// By hand, a laptop that uses 2 W, of 60 W at the plug 48 W in its battery: in half an hour at full power 23 Wh more, at a quarter
    /// 5 Wh, without 1 Wh less, at twice the use 2 Wh less; no fuller than full, and what is not there is missed. It asks for no more than
    /// it has room for: 10 Wh in half an hour are 20 W, with the use 22 of 48, and where it is plugged in for half of a step for half.
    #[test]
    fn a_step_adds_up() {
        let plan = laptop();
        let near = |found: (f64, f64), expected: (f64, f64)| {
            assert!((found.0 - expected.0).abs() < 1e-12 && (found.1 - expected.1).abs() < 1e-12, "{found:?}");
        };
        near(plan.after_step(20.0, 1.0, 1.0, 0.5), (43.0, 0.0));
        near(plan.after_step(20.0, 0.25, 1.0, 0.5), (25.0, 0.0));
        near(plan.after_step(20.0, 0.0, 1.0, 0.5), (19.0, 0.0));
        near(plan.after_step(20.0, 0.0, 2.0, 0.5), (18.0, 0.0));
        near(plan.after_step(50.0, 1.0, 1.0, 0.5), (60.0, 0.0));
        near(plan.after_step(0.25, 0.0, 1.0, 0.5), (0.0, 0.75));
        assert!((plan.asks(50.0, 19, 1.0, 0.5) - 22.0 / 48.0).abs() < 1e-12);
        assert_eq!((plan.asks(0.0, 19, 1.0, 0.5), plan.asks(0.0, 12, 1.0, 0.5)), (1.0, 0.0));
        let part = ChargePlan { plugged: vec![0.5; 24], ..plan };
        assert_eq!((part.asks(0.0, 3, 1.0, 0.5), part.asks(60.0, 3, 1.0, 0.5)), (0.5, 2.0 / 48.0));
        // Fuller than it holds it still asks for its use alone.
        assert_eq!(part.asks(61.0, 3, 1.0, 0.5), 2.0 / 48.0);
    }

    /// Four devices side by side, half an hour at 19:00: given all it asks for, half of it, with twice the use, and one that takes no step.
    #[test]
    fn lanes_take_their_steps_one_by_one() {
        let plan = ChargePlan { usual_wh: (0..24).map(f64::from).collect(), ..laptop() };
        let mut state = ChargeState::<4>::default();
        (0..4).for_each(|l| state.begin(&plan, l, 18));
        let run = *state.asks(&plan, 19, &[1.0, 1.0, 2.0, 1.0], 0.5);
        assert_eq!((run, *state.run(), *state.use_factor()), ([1.0; 4], [1.0; 4], [1.0, 1.0, 2.0, 1.0]));
        let all = u64::MAX;
        let takes = [all, all, all, 0];
        let turn = Turn { takes: &takes, now: 0, first: &[0; 4], step_h: 0.5 };
        assert!(!state.settle(&plan, &[1.0, 0.5, 1.0, 1.0], &turn));
        // 18 Wh and 23, 11 and 22 more; the last stays.
        assert_eq!((state.left_wh, *state.unserved_wh()), ([41.0, 29.0, 40.0, 18.0], [0.0; 4]));
        // At noon none is plugged in: ten hours at 2 W take 20 Wh, at 4 W 40; nobody misses anything where no step is taken.
        state.left_wh = [41.0, 15.0, 40.0, 0.0];
        state.asks(&plan, 12, &[1.0, 1.0, 2.0, 1.0], 10.0);
        let turn = Turn { step_h: 10.0, ..turn };
        assert!(state.settle(&plan, &[1.0; 4], &turn));
        assert_eq!((state.left_wh, *state.unserved_wh()), ([21.0, 0.0, 0.0, 0.0], [0.0, 5.0, 0.0, 0.0]));
        state.begin(&plan, 1, 7);
        assert_eq!((state.left_wh[1], state.unserved_wh()[1], state.run()[1]), (7.0, 0.0, 0.0));
    }
}
