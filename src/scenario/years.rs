//! What the years ahead are made of: strategies for the battery, outages that come by chance, prices.

use super::model::{ClockWindow, Lasts};
use crate::units::{Celsius, Fraction, Hours, Watts};

mod forms;
mod outages;
mod read;
mod strategy;

pub(super) use forms::{KWH, Often, PRICE, WARNED, WEIGHT, YEARS_LONG};
pub(super) use outages::{history, reliability, season_weights, weight_names};
pub(super) use read::{Known, WEAR_MODEL, read};
pub(super) use strategy::{Between, LOAD_NAMES, STORED_AT, before_a_storm, daily_use};

/// A question about years.
#[derive(Debug, Clone, PartialEq)]
pub struct Years {
    /// The ways of keeping the battery that are compared, at least one; the others are held against the first.
    pub strategies: Vec<Strategy>,
    /// When and how long the mains fail.
    pub outages: Outages,
    /// Prices, where given.
    pub tariff: Option<Tariff>,
    /// Which law of wear later outages feel.
    pub wear: WearChoice,
}

/// A way of keeping the battery.
#[derive(Debug, Clone, PartialEq)]
pub struct Strategy {
    /// What to call it.
    pub name: String,
    /// Charging stops here, in outages too.
    pub charge_to: Fraction,
    /// Where it rests between outages.
    pub rest_at: Fraction,
    /// Switched off and topped up this often; not given: plugged in and held there.
    pub top_up_every: Option<Hours>,
    /// Used every day, between outages too.
    pub daily_use: Option<DailyUse>,
    /// What is done when a storm is announced.
    pub before_a_storm: Option<StormRule>,
    /// Whether the panels stand in the sun all year, not in outages only.
    pub use_solar_daily: bool,
    /// Where it stands.
    pub stored_at: StoredAt,
    /// Power taken from the wall to charge; not given: a fifth of the capacity an hour.
    pub charge_with: Option<Watts>,
}

/// Everyday use.
#[derive(Debug, Clone, PartialEq)]
pub struct DailyUse {
    /// The loads go back to the wall at this charge.
    pub down_to: Fraction,
    /// Recharging stops at this charge.
    pub up_to: Fraction,
    /// The loads that it runs, by their place among the scenario's loads.
    pub loads: Vec<usize>,
    /// When it recharges from the wall; empty: never, the sun alone does it.
    pub recharge: Vec<ClockWindow>,
}

/// What is done before announced outages.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StormRule {
    /// Charged to this.
    pub charge_to: Fraction,
    /// Share of the outages that are announced.
    pub warned: Fraction,
    /// So long before.
    pub ahead: Hours,
}

/// Where a battery stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StoredAt {
    /// At this temperature all year.
    Steady(Celsius),
    /// In the air of the place.
    Outside,
}

/// Outages that come by chance.
#[derive(Debug, Clone, PartialEq)]
pub struct Outages {
    /// How often and how long.
    pub arrivals: Arrivals,
    /// How likely an outage begins in each month against the others, January first.
    pub month_weights: [f64; 12],
    /// Share of the outages that begin with the darkest days of their month.
    pub in_bad_weather: Fraction,
}

impl Outages {
    /// None beside the cuts that come back.
    pub(super) fn none() -> Outages {
        let arrivals = Arrivals::Often { a_year: 0.0, lasts: Lasts::Fixed(Hours(1.0)) };
        Outages { arrivals, month_weights: [1.0; 12], in_bad_weather: Fraction::ZERO }
    }
}

/// Where frequency and duration come from.
#[derive(Debug, Clone, PartialEq)]
pub enum Arrivals {
    /// So many a year, each so long.
    Often {
        /// Mean number in a year.
        a_year: f64,
        /// How long.
        lasts: Lasts,
    },
    /// One's own record of outages: a file, as written, and the years that it covers.
    History {
        /// Path relative to the scenario file.
        file: String,
        /// Years watched.
        years: f64,
    },
}

/// Prices in one currency.
#[derive(Debug, Clone, PartialEq)]
pub struct Tariff {
    /// As written: "EUR".
    pub currency: String,
    /// Of a kWh from the wall.
    pub price_a_kwh: f64,
    /// Of a kWh in cheap hours, and when they are.
    pub cheap: Option<(f64, Vec<ClockWindow>)>,
    /// Of the station, panels aside.
    pub station: Option<f64>,
}

/// Which law of wear later outages feel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WearChoice {
    /// The law.
    pub model: WearModel,
    /// Whether the resistance grows too, and with it the losses.
    pub resistance_grows: bool,
}

/// The laws of wear by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WearModel {
    /// At every moment the law that has lost most.
    Worst,
    /// The published one.
    Published,
    /// The trade's rule of thumb.
    TradeRule,
}
