//! What the panels give, in lanes.

use std::sync::Arc;

use super::{Room, Waiting, Yield};
use crate::engine::arrays::ArrayPlan;
use crate::engine::plan::Plan;
use crate::engine::supply::MOST_CABLE_LOSS;
use crate::random::Purpose;

/// Fills panel and usable power of every step of the chunk's weather that has light; adds the normal numbers behind what is
/// uncertain to `unknowns`.
#[inline(always)]
pub(super) fn fill<const L: usize>(room: &mut Room<L>, plan: &Plan, lanes: &[Waiting; L], days: usize) {
    let n = plan.season.steps_a_day;
    let first = lanes[0].history.first_day as usize % 365;
    let lit = |day: usize, step: usize, array: &ArrayPlan| array.geometry.lit((first + day) % 365 * n + step);
    room.lit.clear();
    for day in 0..days {
        room.lit.extend((0..n).map(|step| plan.arrays.iter().any(|array| lit(day, step, array))));
    }
    for values in [&mut room.panel_w, &mut room.usable_w, &mut room.amps] {
        values.clear();
        values.resize(days * n, [0.0; L]);
    }
    let counts_amps = plan.input.amps_max < f64::INFINITY;
    for (index, array) in plan.arrays.iter().enumerate() {
        let mut rated_w = [0.0; L];
        for l in 0..L {
            let z = if array.rated_w_sd > 0.0 {
                let z = lanes[l].luck.stream(Purpose::Array(index as u32)).normal();
                room.unknowns[l].push(z);
                z
            } else {
                0.0
            };
            rated_w[l] = (array.rated_w + array.rated_w_sd * z).max(0.0);
        }
        let slot = yield_of(room, plan, array, lanes[0].history.first_day, days);
        let made = &room.yields[slot];
        let plain = array.cable_ohm == 0.0 && !counts_amps;
        for step in (0..days * n).filter(|&step| room.lit[step]) {
            let (per_watt, warmth) = (&made.per_watt[step], &made.warmth[step]);
            let (panel_w, usable_w, amps) = (&mut room.panel_w[step], &mut room.usable_w[step], &mut room.amps[step]);
            if plain {
                for l in 0..L {
                    let watts = rated_w[l] * per_watt[l] * array.matched;
                    panel_w[l] += watts;
                    usable_w[l] += if array.string_v * warmth[l] >= plan.input.volts_min { watts } else { 0.0 };
                }
            } else {
                wired(array, plan.input.volts_min, &rated_w, (per_watt, warmth), (panel_w, usable_w, amps));
            }
        }
    }
    if counts_amps {
        for step in (0..days * n).filter(|&step| room.lit[step]) {
            let (usable_w, amps) = (&mut room.usable_w[step], &room.amps[step]);
            for l in 0..L {
                usable_w[l] *= if amps[l] > plan.input.amps_max { plan.input.amps_max / amps[l] } else { 1.0 };
            }
        }
    }
}

/// Adds one step of an array behind its cable; see `Supplies::add`.
#[inline(always)]
fn wired<const L: usize>(
    array: &ArrayPlan,
    volts_min: f64,
    rated_w: &[f64; L],
    (per_watt, warmth): (&[f64; L], &[f64; L]),
    (panel_w, usable_w, amps): (&mut [f64; L], &mut [f64; L], &mut [f64; L]),
) {
    for l in 0..L {
        let at_panels_w = rated_w[l] * per_watt[l] * array.matched;
        let volts = array.string_v * warmth[l];
        let current = at_panels_w / volts;
        let lost = current * array.cable_ohm / volts;
        let long = lost >= MOST_CABLE_LOSS;
        let watts = if long { 0.25 * volts * volts / array.cable_ohm } else { at_panels_w * (1.0 - lost) };
        let lost = if long { MOST_CABLE_LOSS } else { lost };
        let any = at_panels_w > 0.0;
        let taken = any && volts * (1.0 - lost) >= volts_min;
        panel_w[l] += if any { watts } else { 0.0 };
        usable_w[l] += if taken { watts } else { 0.0 };
        amps[l] += if taken { current } else { 0.0 };
    }
}

/// Where the yields of an array's geometry under the chunk's weather are.
#[inline(always)]
fn yield_of<const L: usize>(room: &mut Room<L>, plan: &Plan, array: &ArrayPlan, first_day: u32, days: usize) -> usize {
    let known = room.yields[..room.yields_in_use].iter().position(|y| Arc::ptr_eq(&y.geometry, &array.geometry));
    if let Some(slot) = known {
        return slot;
    }
    let slot = room.yields_in_use;
    room.yields_in_use += 1;
    if slot == room.yields.len() {
        room.yields.push(Yield { geometry: Arc::clone(&array.geometry), per_watt: Vec::new(), warmth: Vec::new() });
    }
    let (made, weather) = (&mut room.yields[slot], &room.weather);
    made.geometry = Arc::clone(&array.geometry);
    let n = plan.season.steps_a_day;
    made.per_watt.clear();
    made.warmth.clear();
    made.per_watt.resize(days * n, [0.0; L]);
    made.warmth.resize(days * n, [1.0; L]);
    for day in 0..days {
        for step in 0..n {
            let at = (first_day as usize + day) % 365 * n + step;
            if !made.geometry.lit(at) {
                continue;
            }
            let here = day * n + step;
            let air_c = plan.season.weather.air_c(weather, first_day, day, step);
            made.geometry.lanes(
                at,
                (&weather.ghi_w_m2[here], &air_c, &weather.daily_clearness[day]),
                (&mut made.per_watt[here], &mut made.warmth[here]),
            );
        }
    }
    slot
}
