//! Everything about years that does not depend on chance.

use thiserror::Error;

use super::arrivals::{ArrivalPlan, Clock};
use super::record::OutageRecord;
use crate::ageing::wear::LONGEST_YEARS;
use crate::ageing::{Model, WearTables};
use crate::engine::KitPlan;
use crate::engine::plan::{Plan, PlanError};
use crate::engine::{Demand, LoadPlan};
use crate::scenario::model::{Chemistry, ClockWindow, Scenario, Station, WallCharger};
use crate::scenario::years::{Arrivals, DailyUse, Strategy, Tariff, WearModel};
use crate::study::fit::overloads;
use crate::study::fuel::FuelTaken;
use crate::study::verdict::Stakes;
use crate::units::{Fraction, Uncertain, WattHours, Watts};
use crate::weather::doubt::YearDrawing;

/// Half-width of a 95 % interval that stands for a standard deviation of 1.
const ONE_SIGMA: f64 = crate::units::NORMAL_95;

/// Power from the wall where nothing is said, as a share of the capacity in an hour (typical; no source).
pub const TYPICAL_CHARGE_RATE_PER_H: f64 = 0.2;

/// Power arriving in the station over power from the plug, where nothing is said of a charger: that of one whose efficiency is left
/// out (typical; no source).
pub const TYPICAL_WALL_EFFICIENCY: Fraction = Fraction(0.9);

/// Why years cannot be simulated.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum YearsError {
    /// The file asks no such question.
    #[error("has no [[strategy]], so there is nothing to compare")]
    NoStrategy,
    /// No law of wear is known for the cells.
    #[error("is lead-acid, and no law of wear for it is built in; allowed: LFP, NMC")]
    NoLaw,
    /// A record of outages was named and not given.
    #[error("names a record of outages that was not read")]
    NoRecord,
    /// The kit contradicts itself.
    #[error(transparent)]
    Plan(#[from] PlanError),
}

/// Prices by step of the day, in the tariff's currency.
#[derive(Debug, Clone, PartialEq)]
pub struct Prices {
    /// Name of the currency.
    pub currency: String,
    /// Of a Wh from the wall in each step of the day.
    pub a_wh: Vec<f64>,
    /// Of a Wh outside cheap hours.
    pub dear_a_wh: f64,
    /// Of the station.
    pub station: Option<f64>,
}

/// Daily use by step of the day.
#[derive(Debug, Clone, PartialEq)]
pub struct DailyPlan {
    /// The loads go back to the wall at this charge.
    pub down_to: f64,
    /// Recharging stops at this charge.
    pub up_to: f64,
    /// What the loads ask for.
    pub demand: Vec<Demand>,
    /// Whether it recharges from the wall.
    pub recharge: Vec<bool>,
}

/// One way of keeping the battery.
#[derive(Debug, Clone)]
pub struct StrategyPlan {
    /// The rules as written.
    pub rules: Strategy,
    /// The outage's plan. Its kit begins an outage at the charge that [`crate::engine::History::charge_z`] tells.
    pub plan: Plan,
    /// The station with this strategy's limit, and a typical wall charger where none is told.
    pub station: Station,
    /// What happens every day, where anything does.
    pub daily: Option<DailyPlan>,
}

impl StrategyPlan {
    /// The kit once its resistance has risen by a share: what is lost on the way in and out grows with it.
    ///
    /// # Errors
    /// As [`KitPlan::new`].
    pub fn kit(&self, resistance_rise: f64) -> Result<KitPlan, PlanError> {
        let from_charge = Uncertain::new(Fraction(0.0), ONE_SIGMA);
        let like = |kit: Result<KitPlan, _>| {
            let mut kit = kit?;
            kit.discharges_as(&self.plan.kit);
            Ok(kit)
        };
        if resistance_rise == 0.0 {
            return like(KitPlan::new(&self.station, &from_charge));
        }
        let aged = |new: &Uncertain<Fraction>| {
            let lost = (1.0 - new.value.0) * (1.0 + resistance_rise);
            Uncertain::new(Fraction((1.0 - lost).max(0.3)), new.plus_minus * (1.0 + resistance_rise))
        };
        let mut station = self.station.clone();
        station.charge_efficiency = aged(&self.station.charge_efficiency);
        station.discharge_efficiency = aged(&self.station.discharge_efficiency);
        like(KitPlan::new(&station, &from_charge))
    }
}

/// A question about years, ready to be simulated.
#[derive(Debug, Clone)]
pub struct YearsPlan {
    /// The strategies; the others are held against the first.
    pub strategies: Vec<StrategyPlan>,
    /// How the climates that the place may have are drawn, month by month.
    pub climates: YearDrawing,
    /// The outages.
    pub arrivals: ArrivalPlan,
    /// Whether it lives with cuts that come back instead, week after week.
    pub cuts: bool,
    /// The laws of wear.
    pub tables: WearTables,
    /// Which of them later outages feel.
    pub felt: WearModel,
    /// Prices, where given.
    pub prices: Option<Prices>,
    /// Steps.
    pub clock: Clock,
    /// What the label says the battery holds \[Wh\].
    pub rated_wh: WattHours,
    /// What hangs on its answer beside its range.
    pub stakes: Stakes,
}

impl YearsPlan {
    /// Compiles the sections about years.
    ///
    /// * `plan` — the scenario's plan; its step and weather are used, its outage is not.
    /// * `record` — the outages on record, where the scenario names a file of them.
    ///
    /// # Errors
    /// [`YearsError`].
    pub fn compile(scenario: &Scenario, plan: &Plan, record: Option<&OutageRecord>) -> Result<YearsPlan, YearsError> {
        let years = scenario.years.as_ref().ok_or(YearsError::NoStrategy)?;
        let models: &[Model] = match scenario.station.chemistry {
            Chemistry::Lfp => &[Model::LfpNaumann, Model::LfpWang, Model::TradeRule],
            Chemistry::Nmc => &[Model::NmcSchmalstieg, Model::NmcTradeRule],
            Chemistry::LeadAcid => return Err(YearsError::NoLaw),
        };
        // The law of resistance is of LFP cells; the others are taken not to change.
        let resistance_grows = years.wear.resistance_grows && scenario.station.chemistry == Chemistry::Lfp;
        let (weights, bad) = (years.outages.month_weights, years.outages.in_bad_weather.0);
        let arrivals = match &years.outages.arrivals {
            Arrivals::Often { a_year, lasts } => ArrivalPlan::often(*a_year, *lasts, weights, bad),
            Arrivals::History { years, .. } => {
                ArrivalPlan::recorded(record.ok_or(YearsError::NoRecord)?, *years, weights, bad)
            }
        };
        let unsaid = WallCharger { limit: Watts(f64::INFINITY), efficiency: TYPICAL_WALL_EFFICIENCY };
        let wall_charger = scenario.station.wall_charger.or(Some(unsaid));
        let clock = Clock { steps_a_day: plan.season.steps_a_day, step_h: plan.season.step_h };
        let strategies = years
            .strategies
            .iter()
            .map(|rules| {
                let station = Station { charge_to: rules.charge_to, wall_charger, ..scenario.station.clone() };
                let daily = daily(rules, &plan.loads, clock.steps_a_day);
                let mut strategy = StrategyPlan { rules: rules.clone(), plan: plan.clone(), station, daily };
                strategy.plan.kit = strategy.kit(0.0)?;
                Ok(strategy)
            })
            .collect::<Result<_, YearsError>>()?;
        Ok(YearsPlan {
            climates: plan.season.weather.doubt().year(),
            strategies,
            arrivals,
            cuts: scenario.outage.cuts.any(),
            tables: WearTables::new(models, resistance_grows),
            felt: years.wear.model,
            prices: years.tariff.as_ref().map(|tariff| prices(tariff, clock.steps_a_day)),
            clock,
            rated_wh: scenario.station.rated_capacity.value,
            stakes: Stakes::of(scenario.medical(), &overloads(scenario, plan), FuelTaken::of(scenario, plan)),
        })
    }

    /// Whether later outages may feel a law.
    fn is_felt(&self, model: Model) -> bool {
        match self.felt {
            WearModel::Worst => true,
            WearModel::Published => model.published(),
            WearModel::TradeRule => !model.published(),
        }
    }

    /// Loss that later outages feel, from the loss under each law in order \[–\]: the greatest of those that count.
    #[must_use]
    pub fn felt_loss(&self, losses: impl Iterator<Item = f64>) -> f64 {
        let models = self.tables.models().iter();
        models.zip(losses).filter(|(model, _)| self.is_felt(**model)).map(|(_, loss)| loss).fold(0.0, f64::max)
    }

    /// Years until that loss is 20 %, from the years under each law in order: the fewest of those that count.
    #[must_use]
    pub fn felt_years(&self, years: impl Iterator<Item = f64>) -> f64 {
        let models = self.tables.models().iter();
        models
            .zip(years)
            .filter(|(model, _)| self.is_felt(**model))
            .map(|(_, years)| years)
            .fold(LONGEST_YEARS, f64::min)
    }
}

/// Whether a step of the day lies in one of some windows; a step counts by its middle.
fn within(windows: &[ClockWindow], step: usize, steps_a_day: usize) -> bool {
    let minute = (step as f64 + 0.5) * 1440.0 / steps_a_day as f64;
    windows.iter().any(|window| window.contains(minute))
}

fn prices(tariff: &Tariff, steps_a_day: usize) -> Prices {
    let a_wh = (0..steps_a_day)
        .map(|step| match &tariff.cheap {
            Some((cheap, hours)) if within(hours, step, steps_a_day) => cheap / 1000.0,
            _ => tariff.price_a_kwh / 1000.0,
        })
        .collect();
    Prices {
        currency: tariff.currency.clone(),
        a_wh,
        dear_a_wh: tariff.price_a_kwh.max(tariff.cheap.as_ref().map_or(0.0, |(cheap, _)| *cheap)) / 1000.0,
        station: tariff.station,
    }
}

/// Everyday life: the rule's own loads, or none but the station itself where the sun alone keeps the battery up.
fn daily(rules: &Strategy, loads: &[LoadPlan], steps_a_day: usize) -> Option<DailyPlan> {
    let alone = DailyUse { down_to: Fraction::ZERO, up_to: rules.rest_at, loads: Vec::new(), recharge: Vec::new() };
    let use_of = rules.daily_use.as_ref().or(rules.use_solar_daily.then_some(&alone))?;
    let mut demand = vec![Demand::default(); steps_a_day];
    for load in use_of.loads.iter().filter_map(|&place| loads.get(place)) {
        for (at, demand) in demand.iter_mut().enumerate() {
            demand.watts[load.class][load.outlet] += load.profile.watts[at];
            demand.plugged[load.class][load.outlet] = true;
            if load.outlet == 0 {
                demand.variance_w2[load.class] += load.profile.variance_w2[at];
            }
        }
    }
    Some(DailyPlan {
        down_to: use_of.down_to.0,
        up_to: use_of.up_to.0,
        demand,
        recharge: (0..steps_a_day).map(|step| within(&use_of.recharge, step, steps_a_day)).collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window(from_minute: u16, to_minute: u16) -> ClockWindow {
        ClockWindow { from_minute, to_minute }
    }

    /// A step counts by its middle: from 22:30 to 6:20 the hours from 23 to 5, and the one at 22, whose middle is where it begins, but not
    /// that at 6.
    #[test]
    fn a_step_lies_in_the_window_that_its_middle_lies_in() {
        let cheap = [window(22 * 60 + 30, 6 * 60 + 20), window(12 * 60, 13 * 60)];
        let hours: Vec<usize> = (0..24).filter(|&step| within(&cheap, step, 24)).collect();
        assert_eq!(hours, [0, 1, 2, 3, 4, 5, 12, 22, 23]);
        let halves: Vec<usize> = (0..48).filter(|&step| within(&cheap[..1], step, 48)).collect();
        assert_eq!(halves, [(0..13).collect::<Vec<_>>(), vec![45, 46, 47]].concat());
        assert!(!within(&[], 3, 24));
    }

    /// By hand: 0.30 a kWh is 0.0003 a Wh, in cheap hours 0.00008; whatever cannot wait is bought at the dearer of the two.
    #[test]
    fn prices_are_those_of_their_hours() {
        let tariff = |cheap| Tariff { currency: "EUR".into(), price_a_kwh: 0.30, cheap, station: Some(700.0) };
        let near = |found: f64, expected: f64| assert!((found - expected).abs() < 1e-15, "{found}");
        let plain = prices(&tariff(None), 24);
        plain.a_wh.iter().for_each(|&price| near(price, 0.0003));
        near(plain.dear_a_wh, 0.0003);
        assert_eq!((plain.a_wh.len(), plain.station, plain.currency.as_str()), (24, Some(700.0), "EUR"));
        let nights = prices(&tariff(Some((0.08, vec![window(0, 300)]))), 24);
        (0..24).for_each(|hour| near(nights.a_wh[hour], if hour < 5 { 0.00008 } else { 0.0003 }));
        near(nights.dear_a_wh, 0.0003);
        near(prices(&tariff(Some((0.45, vec![window(0, 300)]))), 24).dear_a_wh, 0.00045);
    }
}
