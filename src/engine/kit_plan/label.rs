//! A bench test of the battery held against its label.

use super::{KitPlan, Size, UNPROVED_SHARE};
use crate::kit::{LossCurve, cells_from_bench_test};
use crate::units::NORMAL_95;

/// Which of the inverter's losses nobody has told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Assumed {
    pub(super) idle: bool,
    pub(super) efficiency: bool,
}

impl Assumed {
    /// Lowers the losses that are only assumed until a test's load loses no more than there was room for \[W\]: first what
    /// grows with the load, the idle draw last, so that small loads are not made cheap.
    pub(super) fn lower(self, curve: &mut LossCurve, load_w: f64, room_w: f64) {
        let room_w = room_w.max(0.0);
        let beyond_w = curve.drawn_beyond_idle(load_w, 0.0) - load_w;
        if self.efficiency && beyond_w > 0.0 {
            let left = ((room_w - curve.idle_w) / beyond_w).clamp(0.0, 1.0);
            curve.linear *= left;
            curve.quadratic_per_w *= left;
        }
        if self.idle {
            let beyond_w = curve.drawn_beyond_idle(load_w, 0.0) - load_w;
            curve.idle_w = curve.idle_w.min((room_w - beyond_w).max(0.0));
        }
    }
}

/// A bench test that asks for more cells than there can be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeyondLabel {
    /// What it asks for by the best estimates of all losses \[Wh\].
    pub cells_wh: f64,
    /// The same by the least losses that what is written allows: what is only assumed is lowered, the cells give back as
    /// much as their ± lets them, and a DC converter loses nothing \[Wh\].
    pub least_wh: f64,
    /// What the label and the ± of label and test allow \[Wh\].
    pub most_wh: f64,
    /// How long the test lasted \[h\].
    pub hours: f64,
    /// Whether losses are only assumed, and lowered for it.
    pub lowered: bool,
}

impl BeyondLabel {
    /// Whether nothing that is written lets the cells fit the label, or the little above it that untested cells may hold: one
    /// of the figures must be wrong.
    #[must_use]
    pub fn is_impossible(&self) -> bool {
        let (share, half_width) = UNPROVED_SHARE;
        self.least_wh > self.most_wh * (share + half_width)
    }
}

impl KitPlan {
    /// Where a bench test, by the losses stated or assumed, asks for more cells than the label and the test's own ± allow.
    #[must_use]
    pub fn beyond_label(&self) -> Option<BeyondLabel> {
        let Size::BenchTest { delivered_wh, load_w, outlet, most_wh, .. } = self.size else { return None };
        let (efficiency, standard) = self.discharge_efficiency;
        let best_efficiency = (efficiency + NORMAL_95 * standard).min(1.0);
        let own_w = self.nominal.own_draw_w;
        let cells = |curve: &LossCurve, efficiency: f64| {
            let drawn_w = curve.idle_w + curve.drawn_beyond_idle(load_w, 0.0);
            cells_from_bench_test(delivered_wh.0, load_w, drawn_w, own_w, efficiency)
        };
        let lowered = outlet != 0 || self.assumed.idle || self.assumed.efficiency;
        let (stated, mut least) = match outlet {
            0 => {
                let stated = LossCurve { idle_w: self.idle_w.0, ..self.nominal.inverter };
                (stated, stated)
            }
            outlet => (self.nominal.converter[outlet], LossCurve::IDEAL),
        };
        if outlet == 0 {
            let room_w = most_wh * best_efficiency * load_w / delivered_wh.0 - own_w - load_w;
            self.assumed.lower(&mut least, load_w, room_w);
        }
        let beyond = BeyondLabel {
            cells_wh: cells(&stated, efficiency),
            least_wh: cells(&least, best_efficiency),
            most_wh,
            hours: delivered_wh.0 / load_w,
            lowered,
        };
        (beyond.cells_wh > most_wh).then_some(beyond)
    }
}
