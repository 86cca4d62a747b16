//! From panels through cables to the solar input, in lanes.

use super::arrays::ArrayPlan;
use crate::random::real::Real;

/// The window of a solar input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InputWindow {
    /// Takes nothing below this voltage \[V\].
    pub volts_min: f64,
    /// Takes no more than this current \[A\].
    pub amps_max: f64,
    /// The battery's voltage, at which a controller without a search for the best power holds the panels \[V\]; infinite where it
    /// searches.
    pub held_v: f64,
    /// Takes no more power than this \[W\]; infinite where it is the only input, whose watts are the step's business.
    pub watts_max: f64,
}

impl InputWindow {
    /// A window without limits.
    pub const OPEN: InputWindow =
        InputWindow { volts_min: 0.0, amps_max: f64::INFINITY, held_v: f64::INFINITY, watts_max: f64::INFINITY };
}

/// The most that a cable takes: beyond half of the power, sending more brings no more, `V² / 4 R` at most.
const MOST_CABLE_LOSS: f64 = 0.5;

/// Power at the terminals of the input \[W\], what of it lies within the input's volts and amps \[W\], and the current
/// \[A\], which is counted only where amps are limited.
#[derive(Debug, Clone, Copy)]
pub(super) struct AtInput<R, const L: usize> {
    pub panel_w: [R; L],
    pub usable_w: [R; L],
    pub amps: [R; L],
}

/// Share of their best current that panels give a controller which holds its input at a voltage: all of it as long as that leaves
/// them at their best voltage or below (cautious: none more), and from there to their open-circuit voltage along a straight line to
/// nothing, which lies below the curve of any panel, for that bends downwards.
///
/// * `held_v` — at the controller \[V\]; `best_v`, `open_v` — of the strings at their temperature \[V\]; `drop_v` — in the cable at
///   the best current \[V\].
#[inline(always)]
pub(crate) fn held_share<R: Real>(held_v: R, (best_v, open_v): (R, R), drop_v: R) -> R {
    let share = (open_v - held_v) / (open_v - best_v + drop_v);
    if share >= R::ONE {
        R::ONE
    } else if share > R::default() {
        share
    } else {
        R::default()
    }
}

impl<R: Real, const L: usize> AtInput<R, L> {
    /// Nothing.
    #[inline(always)]
    pub(super) fn none() -> AtInput<R, L> {
        let zero = [R::default(); L];
        AtInput { panel_w: zero, usable_w: zero, amps: zero }
    }

    /// Adds an array; the `FIRST` takes the place of what is here.
    ///
    /// * `rated_w` — power of all its panels \[W\], see [`ArrayPlan::drawn_w`]; `per_watt`, `warmth` — see `ArrayGeometry::power_and_warmth`.
    #[inline(always)]
    pub(super) fn add<const FIRST: bool>(
        &mut self,
        array: &ArrayPlan,
        window: &InputWindow,
        rated_w: &[R; L],
        (per_watt, warmth): (&[R; L], &[R; L]),
    ) {
        let (string_v, volts_min) = (R::of(array.string_v), R::of(window.volts_min));
        if array.cable_ohm == 0.0 && window.amps_max == f64::INFINITY && window.held_v == f64::INFINITY {
            for l in 0..L {
                let watts = rated_w[l] * per_watt[l];
                let usable = if string_v * warmth[l] >= volts_min { watts } else { R::default() };
                self.panel_w[l] = if FIRST { watts } else { self.panel_w[l] + watts };
                self.usable_w[l] = if FIRST { usable } else { self.usable_w[l] + usable };
            }
            return;
        }
        if FIRST {
            *self = AtInput::none();
        }
        let open_v = R::of(array.open_v);
        let (held_v, holds) = (R::of(window.held_v), window.held_v < f64::INFINITY);
        let (ohm, zero, most) = (R::of(array.cable_ohm), R::default(), R::of(MOST_CABLE_LOSS));
        for l in 0..L {
            let at_panels_w = rated_w[l] * per_watt[l];
            let volts = string_v * warmth[l];
            let current = at_panels_w / volts;
            // I R / V is the share of the voltage, and so of the power, that stays in the cable.
            let lost = current * ohm / volts;
            let long = lost >= most;
            let watts = if long { R::of(0.25) * volts * volts / ohm } else { at_panels_w * (R::ONE - lost) };
            let lost = if long { most } else { lost };
            let any = at_panels_w > zero;
            let at_input_v = volts * (R::ONE - lost);
            let held = if holds { held_share(held_v, (volts, open_v * warmth[l]), current * ohm) } else { R::ONE };
            let held_w = current * held * held_v;
            let usable = if holds && held_w < watts { held_w } else { watts };
            let taken = any && at_input_v >= volts_min;
            self.panel_w[l] += if any { watts } else { zero };
            self.usable_w[l] += if taken { usable } else { zero };
            self.amps[l] += if taken { current * held } else { zero };
        }
    }

    /// Adds what comes in at another input and is cut to what that takes; the `FIRST` takes the place of what is here.
    #[inline(always)]
    pub(super) fn join<const FIRST: bool>(&mut self, other: &AtInput<R, L>, window: &InputWindow) {
        let most = R::of(window.watts_max);
        for l in 0..L {
            let usable = if other.usable_w[l] > most { most } else { other.usable_w[l] };
            self.panel_w[l] = if FIRST { other.panel_w[l] } else { self.panel_w[l] + other.panel_w[l] };
            self.usable_w[l] = if FIRST { usable } else { self.usable_w[l] + usable };
        }
    }

    /// Cuts what is usable to the amps that the input takes.
    #[inline(always)]
    pub(super) fn cut_to_amps(&mut self, window: &InputWindow) {
        if window.amps_max == f64::INFINITY {
            return;
        }
        let most = R::of(window.amps_max);
        for l in 0..L {
            self.usable_w[l] = self.usable_w[l] * if self.amps[l] > most { most / self.amps[l] } else { R::ONE };
        }
    }
}

#[cfg(test)]
mod tests;
