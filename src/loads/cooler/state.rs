//! A cooler in several trials side by side, one lane each.
//!
//! Every lane takes the same additions, multiplications and choices, so that the compiler makes vectors of them. What happens
//! seldom, a part that begins to melt or food that passes its limit, is worked out lane by lane.

use super::part::{Food, PartState, ROUNDING, Thermometer, share_above, soft_wh};
use super::{CoolerPlan, HOT_ROOM_C, INDOORS_C, PARTS, PartPlan, lift_k};
use crate::loads::Turn;
use crate::loads::contents::Insulated;
use crate::random::masks::{either, flag, masked};
use crate::random::polynomials::{less, more};
use crate::scenario::model::Room;
use crate::units::Celsius;

/// A cooler within `L` trials.
///
/// Loops write to arrays of one object at known places only, which lets the compiler see that none overlaps another.
#[derive(Debug, Clone, PartialEq)]
pub struct CoolerState<const L: usize> {
    parts: [PartState<L>; PARTS],
    room_c: [f64; L],
    needs_w: [f64; L],
    holds_w: [f64; L],
    run: [f64; L],
    /// Of the heat that is to be taken out, what the compressor manages while it has power.
    manages: [f64; L],
    nominal: [f64; L],
    /// Of the heat that is to be taken out in a step, what is.
    removed: [f64; L],
    /// Hours that a step counts: of warmth, and without power while the food is warm and while it is cold \[h\].
    counts_h: [[f64; L]; 3],
    takes: [u64; L],
    lost_now: [bool; L],
}

impl<const L: usize> Default for CoolerState<L> {
    fn default() -> CoolerState<L> {
        let zero = [0.0; L];
        CoolerState {
            parts: Default::default(),
            room_c: zero,
            needs_w: zero,
            holds_w: zero,
            run: zero,
            manages: zero,
            nominal: zero,
            removed: zero,
            counts_h: [zero; 3],
            takes: [0; L],
            lost_now: [false; L],
        }
    }
}

impl<const L: usize> CoolerState<L> {
    /// As the power fails.
    ///
    /// * `leak` — factor on the leak of the walls; `phase` — where the thermostat stands in its band, 0 (coldest) to 1.
    #[must_use]
    pub fn new(plan: &CoolerPlan, leak: &[f64; L], phase: &[f64; L], step_h: f64) -> CoolerState<L> {
        let mut state = CoolerState::default();
        for l in 0..L {
            state.begin(plan, l, (leak[l], phase[l]), step_h);
        }
        state
    }

    /// As the power fails in one lane; see [`CoolerState::new`].
    pub fn begin(&mut self, plan: &CoolerPlan, l: usize, (leak, phase): (f64, f64), step_h: f64) {
        for (state, part) in self.parts.iter_mut().zip(&plan.parts) {
            if let Some(part) = part {
                state.begin(plan, part, l, (leak.max(0.05), phase), step_h);
            }
        }
        self.lost_now[l] = false;
    }

    /// Share of the coming step that the compressor wants to run, 0 to 1.
    ///
    /// * `air_c` — temperature outdoors, or of the room where that cools \[°C\].
    #[inline(always)]
    pub fn asks(&mut self, plan: &CoolerPlan, air_c: &[f64; L], step_h: f64) -> &[f64; L] {
        self.room_c = *air_c;
        let (least_c, most_c) = match plan.room {
            Room::At(Celsius(room_c)) => (room_c, room_c),
            Room::Outdoors => (f64::NEG_INFINITY, f64::INFINITY),
            Room::Indoors if plan.room_cools => (f64::NEG_INFINITY, f64::INFINITY),
            Room::Indoors => (INDOORS_C, f64::INFINITY),
        };
        for l in 0..L {
            self.room_c[l] = less(more(self.room_c[l], least_c), most_c);
            self.needs_w[l] = 0.0;
            self.holds_w[l] = 0.0;
        }
        self.need::<0>(plan, 1.0 / step_h);
        self.need::<1>(plan, 1.0 / step_h);
        let mut short = 0;
        for l in 0..L {
            let lift_k = lift_k(plan.evaporator_c, self.room_c[l]) * plan.per_cooling_w_k;
            let wanted = self.needs_w[l] * lift_k;
            self.needs_w[l] = wanted;
            self.run[l] = less(wanted, 1.0);
            self.nominal[l] = less(self.holds_w[l] * lift_k, 1.0);
            self.manages[l] = 1.0;
            // The sign bit.
            short |= (1.0 - wanted).to_bits();
        }
        if short >> 63 != 0 {
            for l in 0..L {
                self.manages[l] = 1.0 / more(self.needs_w[l], 1.0);
            }
        }
        &self.run
    }

    /// Mean power that must be taken out of part `K` so that it ends the step at its target, and what holds its set point.
    /// Exact where nothing melts or freezes on the way; otherwise by the heat to be moved and the mean temperature, which
    /// the next step puts right.
    #[inline(always)]
    fn need<const K: usize>(&mut self, plan: &CoolerPlan, per_h: f64) {
        let (state, Some(part)) = (&mut self.parts[K], &plan.parts[K]) else { return };
        let set_c = part.set_c;
        for l in 0..L {
            let (room_c, ua, now_c) = (self.room_c[l], state.ua_w_per_k[l], state.inside_c[l]);
            let above_wh = state.heat_wh[l] - state.target_wh[l];
            let across = flag(state.heat_wh[l] < state.side_wh[0][l]) | flag(state.heat_wh[l] > state.side_wh[1][l]);
            let per_h = either(across, per_h, state.per_h[l]);
            let half_way = masked(0.5 * ua * (now_c - state.target_c[l]), across);
            let watts = more(ua * (room_c - now_c) + above_wh * per_h + half_way, 0.0);
            state.needs_w[l] = watts;
            self.needs_w[l] += watts;
            self.holds_w[l] += more(ua * (room_c - set_c), 0.0);
        }
    }

    /// What [`CoolerState::asks`] came to last.
    #[must_use]
    #[inline(always)]
    pub fn run(&self) -> &[f64; L] {
        &self.run
    }

    /// Share of the step that would have held the set points: what a step without power is short of.
    #[must_use]
    #[inline(always)]
    pub fn nominal(&self) -> &[f64; L] {
        &self.nominal
    }

    /// Takes the step with power for a share of it. Says whether any food was lost in it by one of its clocks.
    #[inline(always)]
    pub fn settle(&mut self, plan: &CoolerPlan, given: &[f64; L], turn: &Turn<'_, L>) -> bool {
        self.lost_now = [false; L];
        self.takes = *turn.takes;
        self.removed = *given;
        let step_h = turn.step_h;
        for l in 0..L {
            let given = self.removed[l];
            self.removed[l] = given * self.manages[l];
            // Above 90 °F an hour of warmth counts twice. An hour with power makes good an hour without, but only once the
            // food is cold again.
            self.counts_h[0][l] = step_h + masked(step_h, flag(self.room_c[l] > HOT_ROOM_C + ROUNDING));
            self.counts_h[1][l] = (1.0 - given) * step_h;
            self.counts_h[2][l] = (1.0 - given - given) * step_h;
        }
        let first = self.settle_part::<0>(plan, turn);
        let second = self.settle_part::<1>(plan, turn);
        first | second
    }

    /// [`Insulated::after_step`] and the food's clocks of part `K` in lanes. Says whether any food was lost.
    #[inline(always)]
    fn settle_part<const K: usize>(&mut self, plan: &CoolerPlan, turn: &Turn<'_, L>) -> bool {
        let (state, Some(part)) = (&mut self.parts[K], &plan.parts[K]) else { return false };
        let thermometer = Thermometer::new(&part.contents);
        let latent_wh = part.contents.latent_wh;
        let limit_c = plan.limit_c + ROUNDING;
        let soft_wh = soft_wh(part);
        let mut odd = [0; L];
        let (mut any, mut lost) = (0, 0);
        for l in 0..L {
            let (heat_wh, before_c) = (state.heat_wh[l], state.inside_c[l]);
            let settles_c = self.room_c[l] - state.needs_w[l] * self.removed[l] * state.per_ua[l];
            let (frozen, thawed) = (flag(heat_wh < 0.0), flag(heat_wh > latent_wh));
            let [of_frozen, of_melting, of_thawed] = &state.takes_wh_per_k;
            let takes_wh_per_k = either(frozen, of_frozen[l], either(thawed, of_thawed[l], of_melting[l]));
            let then_wh = heat_wh + (settles_c - before_c) * takes_wh_per_k;
            let after_c = thermometer.temperature_c(then_wh);
            let (was, is) = (flag(before_c > limit_c), flag(after_c > limit_c));
            let passes = (frozen ^ flag(then_wh < 0.0)) | (thawed ^ flag(then_wh > latent_wh)) | (was ^ is);
            let (seldom, takes) = (passes & self.takes[l], self.takes[l] & !passes);
            odd[l] = seldom;
            any |= seldom;
            let warm = is | flag(then_wh > soft_wh);
            state.heat_wh[l] = either(takes, then_wh, heat_wh);
            let inside_c = either(takes, after_c, before_c);
            state.inside_c[l] = inside_c;
            state.warmest_c[l] = more(inside_c, state.warmest_c[l]);
            let warm_h = state.warm_h[l] + masked(self.counts_h[0][l], warm & takes);
            let counts_h = either(warm, self.counts_h[1][l], self.counts_h[2][l]);
            let without_h = more(state.without_h[l] + masked(counts_h, takes), 0.0);
            (state.warm_h[l], state.without_h[l]) = (warm_h, without_h);
            // The sign bit of what is left of either clock.
            lost |= (state.most_h[0][l] - warm_h).to_bits() | (state.most_h[1][l] - without_h).to_bits();
        }
        if any != 0 {
            for l in (0..L).filter(|&l| odd[l] != 0) {
                lost |= self.settle_lane(part, (K, l), (limit_c, soft_wh), turn.step_h);
            }
        }
        let lost = lost >> 63 != 0;
        if lost {
            for l in 0..L {
                self.parts[K].lose(plan, l, turn.now.wrapping_sub(turn.first[l]), &mut self.lost_now[l]);
            }
        }
        lost
    }

    /// A lane in which something begins to melt or to freeze, or food passes its limit. Returns the sign bit of what is left
    /// of either clock.
    #[inline(never)]
    fn settle_lane(
        &mut self,
        part: &PartPlan,
        (k, l): (usize, usize),
        (limit_c, soft_wh): (f64, f64),
        step_h: f64,
    ) -> u64 {
        let state = &mut self.parts[k];
        let walls = Insulated::new(part.contents, state.ua_w_per_k[l], step_h);
        let then_wh = walls.after_step(state.heat_wh[l], self.room_c[l], state.needs_w[l] * self.removed[l]);
        let after_c = Thermometer::new(&part.contents).temperature_c(then_wh);
        let warm = if then_wh > soft_wh { 1.0 } else { share_above(state.inside_c[l], after_c, limit_c) };
        (state.heat_wh[l], state.inside_c[l]) = (then_wh, after_c);
        state.warmest_c[l] = state.warmest_c[l].max(after_c);
        state.warm_h[l] += self.counts_h[0][l] * warm;
        let counts_h = self.counts_h[if warm > 0.0 { 1 } else { 2 }][l];
        state.without_h[l] = (state.without_h[l] + counts_h).max(0.0);
        (state.most_h[0][l] - state.warm_h[l]).to_bits() | (state.most_h[1][l] - state.without_h[l]).to_bits()
    }

    /// Lanes in which the rule of the plan declared the food lost in the step just taken.
    #[must_use]
    pub fn lost_now(&self) -> &[bool; L] {
        &self.lost_now
    }

    /// What became of the food of a lane so far.
    #[must_use]
    pub fn food(&self, plan: &CoolerPlan, l: usize) -> [Option<Food>; PARTS] {
        let mut food = [None; PARTS];
        for ((food, state), part) in food.iter_mut().zip(&self.parts).zip(&plan.parts) {
            *food = part.map(|_| Food { warmest_c: state.warmest_c[l], lost_step: state.lost_step[l] });
        }
        food
    }

    /// Temperatures of the parts in a lane \[°C\].
    #[must_use]
    pub fn inside_c(&self, plan: &CoolerPlan, l: usize) -> [Option<f64>; PARTS] {
        let mut inside_c = [None; PARTS];
        for ((inside_c, state), part) in inside_c.iter_mut().zip(&self.parts).zip(&plan.parts) {
            *inside_c = part.map(|_| state.inside_c[l]);
        }
        inside_c
    }
}

#[cfg(test)]
mod tests;
