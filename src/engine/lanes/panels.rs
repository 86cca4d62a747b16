//! What the panels give on one day, in lanes.

use std::ops::Range;
use std::sync::Arc;

use super::{Yield, Yields};
use crate::engine::arrays::ArrayPlan;
use crate::engine::plan::{Plan, Season};
use crate::engine::trial::TrialSeed;
use crate::engine::wiring::{AtInput, InputWindow};
use crate::random::Purpose;
use crate::random::real::Real;
use crate::weather::lanes::DaySky;

/// Draws the power of each array's panels \[W\], lane by lane; adds the normal numbers behind what is uncertain to `unknowns`.
///
/// * `kits` — whose panels each lane has: as many arrays as `plan`'s, in the same order.
#[inline(always)]
pub(super) fn draw<R: Real, const L: usize>(
    (plan, kits): (&Plan, &[&Plan; L]),
    rng: &[TrialSeed; L],
    rated_w: &mut Vec<[R; L]>,
    unknowns: &mut [Vec<f64>],
) {
    rated_w.clear();
    for (k, array) in plan.arrays_in_order().enumerate() {
        let mut watts = [R::default(); L];
        for l in 0..L {
            let z = if array.rated_w_sd > 0.0 {
                let z = rng[l].stream(Purpose::Array(array.stream)).normal();
                unknowns[l].push(z);
                z
            } else {
                0.0
            };
            watts[l] = R::of(kits[l].arrays_in_order().nth(k).map_or(0.0, |array| array.drawn_w(z)));
        }
        rated_w.push(watts);
    }
}

/// Fills what comes in at the input in some steps of a day, and says which steps have light.
///
/// * `of_year` — the day of the year; `steps` — which of its steps are wanted, the same for all plans of a chunk.
#[inline(always)]
pub(super) fn fill<R: Real, const L: usize>(
    plan: &Plan,
    (of_year, steps): (usize, Range<usize>),
    sky: &DaySky<R, L>,
    yields: &mut Yields<R, L>,
    rated_w: &[[R; L]],
    (lit, at_input): (&mut Vec<bool>, &mut Vec<AtInput<R, L>>),
) {
    let n = plan.season.steps_a_day;
    lit.clear();
    lit.extend(sky.lit.iter().map(|lit| *lit && !plan.arrays.is_empty()));
    at_input.resize(n, AtInput::none());
    if rated_w.is_empty() {
        return;
    }
    if let [window] = &plan.inputs[..] {
        let all = plan.arrays_in_order().zip(rated_w);
        gather(plan, (of_year, steps), all, (sky, yields), window, (lit, at_input));
        return;
    }
    // Those at one input stand together.
    let mut at_one = std::mem::take(&mut yields.at_one);
    at_one.resize(n, AtInput::none());
    let (mut from, count) = (0, rated_w.len());
    while from < count {
        let of = |k: usize| plan.arrays_in_order().nth(k).map_or(0, |array| array.input);
        let input = of(from);
        let to = (from..count).find(|k| of(*k) != input).unwrap_or(count);
        let window = plan.inputs.get(input).unwrap_or(&InputWindow::OPEN);
        let those = plan.arrays_in_order().zip(rated_w).skip(from).take(to - from);
        gather(plan, (of_year, steps.clone()), those, (sky, yields), window, (lit, &mut at_one));
        for step in steps.clone().filter(|step| lit[*step]) {
            if from == 0 {
                at_input[step].join::<true>(&at_one[step], window);
            } else {
                at_input[step].join::<false>(&at_one[step], window);
            }
        }
        from = to;
    }
    yields.at_one = at_one;
}

/// Adds up what some arrays bring to one input, within its volts and amps.
#[inline(always)]
fn gather<'p, R: Real, const L: usize>(
    plan: &Plan,
    (of_year, steps): (usize, Range<usize>),
    arrays: impl Iterator<Item = (&'p ArrayPlan, &'p [R; L])>,
    (sky, yields): (&DaySky<R, L>, &mut Yields<R, L>),
    window: &InputWindow,
    (lit, at_input): (&[bool], &mut [AtInput<R, L>]),
) {
    for (k, (array, rated_w)) in arrays.enumerate() {
        let slot = yield_of(&plan.season, array, (of_year, steps.clone()), sky, yields);
        let made = &yields.made[slot];
        let made = made.per_watt[steps.clone()].iter().zip(&made.warmth[steps.clone()]);
        let lit = &lit[steps.clone()];
        for ((at_input, lit), (per_watt, warmth)) in at_input[steps.clone()].iter_mut().zip(lit).zip(made) {
            if !lit {
                continue;
            }
            if k == 0 {
                at_input.add::<true>(array, window, rated_w, (per_watt, warmth));
            } else {
                at_input.add::<false>(array, window, rated_w, (per_watt, warmth));
            }
        }
    }
    if window.amps_max < f64::INFINITY {
        for at_input in &mut at_input[steps] {
            at_input.cut_to_amps(window);
        }
    }
}

/// Where the yields of an array's geometry under the day's weather are.
#[inline(always)]
fn yield_of<R: Real, const L: usize>(
    season: &Season,
    array: &ArrayPlan,
    (of_year, steps): (usize, Range<usize>),
    sky: &DaySky<R, L>,
    yields: &mut Yields<R, L>,
) -> usize {
    let known = yields.made[..yields.in_use].iter().position(|made| Arc::ptr_eq(&made.geometry, &array.geometry));
    if let Some(slot) = known {
        return slot;
    }
    let slot = yields.in_use;
    yields.in_use += 1;
    if slot == yields.made.len() {
        yields.made.push(Yield { geometry: Arc::clone(&array.geometry), per_watt: Vec::new(), warmth: Vec::new() });
    }
    let made = &mut yields.made[slot];
    if !Arc::ptr_eq(&made.geometry, &array.geometry) {
        made.geometry = Arc::clone(&array.geometry);
    }
    let n = season.steps_a_day;
    made.per_watt.resize(n, [R::default(); L]);
    made.warmth.resize(n, [R::ONE; L]);
    for step in steps {
        if sky.lit[step] {
            let air_c = season.weather.air_c(sky, of_year, step);
            made.geometry.lanes(
                of_year * n + step,
                (&sky.ghi_w_m2[step], sky.dhi_w_m2.get(step)),
                (&air_c, &sky.clearness),
                (&mut made.per_watt[step], &mut made.warmth[step]),
            );
        }
    }
    slot
}
