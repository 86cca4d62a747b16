//! Figures of a proved kit, drawn together.

use super::rig::Rig;
use crate::kit::LossCurve;
use crate::kit::inverter::TYPICAL_QUADRATIC;
use crate::linear::triangle;
use crate::scenario::model::OutletKind;
use crate::scenario::record::{FigureKind, ProvedKit};

/// Most figures a proved kit can have.
pub const MOST_FIGURES: usize = FigureKind::ALL.len();

/// A figure whose variance the figures before it leave no more of than this share is determined by them.
const TIED: f64 = 1e-9;

/// The figures of a proved kit and how to draw them: x = mean + L z with L Lᵀ their covariance.
#[derive(Debug, Clone, PartialEq)]
pub struct Joint {
    kinds: Vec<FigureKind>,
    means: Vec<f64>,
    /// L, row by row, lower triangle.
    factor: Vec<f64>,
    /// k2 / P_rated of the inverter, held while the tests were fitted \[1/W\].
    quadratic_per_w: f64,
    /// One over the load from which a step is taken whole; 0 where there is none \[1/W\].
    step_per_w: f64,
}

impl Joint {
    /// Prepares the figures. A covariance that rounding has made slightly impossible is taken as the nearest plain one.
    #[must_use]
    pub fn new(kit: &ProvedKit) -> Joint {
        let n = kit.figures.len();
        Joint {
            kinds: kit.figures.iter().map(|figure| figure.kind).collect(),
            means: kit.figures.iter().map(|figure| figure.value).collect(),
            factor: triangle(kit.covariance.clone(), n, TIED),
            quadratic_per_w: kit.inverter.map_or(0.0, |rated| TYPICAL_QUADRATIC / rated.0),
            step_per_w: kit.step_from.map_or(0.0, |from| 1.0 / from.0),
        }
    }

    /// Whether the tests tell a figure.
    #[must_use]
    pub fn has(&self, kind: FigureKind) -> bool {
        self.kinds.contains(&kind)
    }

    /// Code and uncertainty given the figures before it, for each figure: which of the normal numbers count.
    pub fn figures(&self) -> impl Iterator<Item = (&'static str, f64)> {
        let n = self.kinds.len();
        self.kinds.iter().enumerate().map(move |(k, kind)| (kind.key(), self.factor[k * n + k]))
    }

    /// Puts the figures that belong to standard normal numbers `z` into a kit. Returns what a rate of discharge costs, where the
    /// tests tell it: share of the energy for each C.
    pub fn apply(&self, z: &[f64], rig: &mut Rig) -> Option<f64> {
        let n = self.kinds.len();
        let value = |k: usize| self.means[k] + (0..=k).map(|j| self.factor[k * n + j] * z[j]).sum::<f64>();
        let (mut usable_wh, mut rate_loss) = (rig.capacity_wh, None);
        for (k, kind) in self.kinds.iter().enumerate() {
            let x = value(k);
            match kind {
                FigureKind::UsableEnergy => usable_wh = x,
                FigureKind::DischargeEfficiency => rig.discharge_efficiency = x.clamp(0.3, 1.0),
                FigureKind::ChargeEfficiency => rig.charge_efficiency = x.clamp(0.3, 1.0),
                FigureKind::Draw(OutletKind::Ac) => {
                    // The tests tell the sum; the electronics' own share of it is the scenario's.
                    rig.own_draw_w = rig.own_draw_w.min(x.max(0.0));
                    rig.inverter.idle_w = (x - rig.own_draw_w).max(0.0);
                }
                FigureKind::Draw(outlet) => rig.converter[*outlet as usize].idle_w = (x - rig.own_draw_w).max(0.0),
                FigureKind::Conversion(OutletKind::Ac) => {
                    rig.inverter = LossCurve {
                        linear: (1.0 / x.clamp(0.3, 1.0) - 1.0).max(0.0),
                        quadratic_per_w: self.quadratic_per_w,
                        ..rig.inverter
                    };
                }
                FigureKind::Step => {
                    (rig.inverter.step_w, rig.inverter.step_per_w) = (x.max(0.0), self.step_per_w);
                }
                FigureKind::RateLoss => rate_loss = Some(x.max(0.0)),
                FigureKind::Conversion(outlet) => {
                    rig.converter[*outlet as usize].linear = 1.0 / x.clamp(0.3, 1.0) - 1.0
                }
            }
        }
        rig.capacity_wh = usable_wh / rig.discharge_efficiency;
        rate_loss
    }
}

#[cfg(test)]
mod tests;
