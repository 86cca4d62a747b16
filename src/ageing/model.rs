//! The models of wear behind one face.

use super::rainflow::Cycle;
use super::wear::Moved;
use super::{REFERENCE_K, arrhenius, lfp, nmc, trade};
use crate::math;

/// A set of laws for calendar and cycle wear.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Model {
    /// LFP: calendar by Naumann et al. 2018, cycles by Naumann et al. 2020, added as the papers do.
    LfpNaumann,
    /// LFP: calendar by Naumann et al. 2018, cycles by Wang et al. 2011. Wang's cycles took time as well, so that some
    /// calendar wear is counted twice: the dark side of the published figures.
    LfpWang,
    /// NMC: both by Schmalstieg et al. 2014.
    NmcSchmalstieg,
    /// The trade's rule of thumb for LFP: cycles only.
    TradeRule,
    /// The trade's rule of thumb for NMC: cycles only.
    NmcTradeRule,
}

impl Model {
    /// What to call it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Model::LfpNaumann => "Naumann 2018 and 2020",
            Model::LfpWang => "Naumann 2018 and Wang 2011",
            Model::NmcSchmalstieg => "Schmalstieg 2014",
            Model::TradeRule | Model::NmcTradeRule => "trade rule",
        }
    }

    /// Whether it rests on a paper.
    #[must_use]
    pub fn published(self) -> bool {
        !matches!(self, Model::TradeRule | Model::NmcTradeRule)
    }

    /// Exponents that turn damage of rest and of cycles into loss.
    #[must_use]
    pub fn exponents(self) -> (f64, f64) {
        match self {
            Model::LfpNaumann => (0.5, 0.5),
            Model::LfpWang => (0.5, lfp::throughput::EXPONENT),
            Model::NmcSchmalstieg => (nmc::CALENDAR_EXPONENT, 0.5),
            Model::TradeRule | Model::NmcTradeRule => (1.0, 1.0),
        }
    }

    /// Damage of an hour's rest at 25 °C.
    ///
    /// * `charge` — state of charge, 0 to 1.
    #[must_use]
    pub fn rest_damage_per_h(self, charge: f64) -> f64 {
        match self {
            Model::LfpNaumann | Model::LfpWang => {
                let k = lfp::calendar::loss_per_root_second(charge).max(0.0);
                k * k * 3600.0
            }
            Model::NmcSchmalstieg => {
                let k = nmc::calendar_loss_per_day(nmc::resting_volts(charge), REFERENCE_K);
                math::pow(k, 1.0 / nmc::CALENDAR_EXPONENT) / 24.0
            }
            Model::TradeRule | Model::NmcTradeRule => 0.0,
        }
    }

    /// Factor on the damage of rest at another temperature.
    ///
    /// * `kelvin` — temperature of the cells.
    #[must_use]
    pub fn rest_factor(self, kelvin: f64) -> f64 {
        match self {
            Model::LfpNaumann | Model::LfpWang => math::powi(arrhenius(lfp::calendar::ACTIVATION_J_MOL, kelvin), 2),
            Model::NmcSchmalstieg => {
                math::exp(nmc::ACTIVATION_K / nmc::CALENDAR_EXPONENT * (1.0 / REFERENCE_K - 1.0 / kelvin))
            }
            Model::TradeRule | Model::NmcTradeRule => 1.0,
        }
    }

    /// Damage of a counted cycle.
    ///
    /// * `cycle` — its range and mean are states of charge, 0 to 1; its notes tell how fast the charge moved;
    ///   `kelvin` — temperature of the cells.
    #[must_use]
    pub fn cycle_damage(self, cycle: &Cycle<Moved>, kelvin: f64) -> f64 {
        let depth = cycle.range.min(1.0);
        if depth <= 0.0 {
            return 0.0;
        }
        let rate_per_h = Moved::rate_per_h(cycle.from, cycle.to);
        match self {
            Model::LfpNaumann => {
                let k = lfp::cycle::loss_per_root_cycle(rate_per_h, depth);
                k * k * depth * cycle.count
            }
            Model::LfpWang => {
                let k = lfp::throughput::loss_per_ah(rate_per_h, kelvin);
                math::pow(k, 1.0 / lfp::throughput::EXPONENT) * lfp::throughput::CELL_AH * depth * cycle.count
            }
            Model::NmcSchmalstieg => {
                let k = nmc::cycle_loss_per_root_ah(nmc::resting_volts(cycle.mean), depth);
                k * k * 2.0 * nmc::CELL_AH * depth * cycle.count
            }
            Model::TradeRule => trade::WORN_OUT / trade::LFP.cycles_to_worn_out(depth) * cycle.count,
            Model::NmcTradeRule => trade::WORN_OUT / trade::NMC.cycles_to_worn_out(depth) * cycle.count,
        }
    }
}
