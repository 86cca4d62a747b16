//! What the histories say about each strategy.

use super::YearsSettings;
use super::plan::YearsPlan;
use super::tally::{Share, StrategyTally, stretch};
use crate::ageing::wear::LONGEST_YEARS;
use crate::scenario::years::WearModel;
use crate::statistics::{mean, quantile};
use crate::study::verdict::{Stakes, Verdict};
use crate::trials::interval::Interval;

/// A quantity over the histories.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Mean.
    pub mean: f64,
    /// A tenth of the histories stay at or below.
    pub p10: f64,
    /// Nine tenths stay at or below.
    pub p90: f64,
}

impl Spread {
    fn of(values: &[f32]) -> Spread {
        let mut sorted = values.to_vec();
        sorted.sort_by(f32::total_cmp);
        Spread { mean: mean(values), p10: quantile(&sorted, 0.1), p90: quantile(&sorted, 0.9) }
    }
}

/// One strategy.
#[derive(Debug, Clone, PartialEq)]
pub struct StrategyAnswer {
    /// Its name.
    pub name: String,
    /// Outages ridden through.
    pub rode: Share,
    /// Those of the first years.
    pub rode_first: Share,
    /// Those of the last years.
    pub rode_last: Share,
    /// By year.
    pub by_year: Vec<Share>,
    /// By month in which the outage begins, January first.
    pub by_month: Vec<Share>,
    /// Mean charge between outages by month, 0 to 1.
    pub charge_by_month: [f64; 12],
    /// Share ridden through less that of the first strategy, and its 95 % interval.
    pub more_than_first: (f64, Interval),
    /// Years until 20 % is lost, as the outages felt it.
    pub years: Spread,
    /// Those years less those of the first strategy, mean.
    pub years_more_than_first: f64,
    /// Years under each law, in the order of [`YearsAnswer::models`].
    pub years_by_model: Vec<Spread>,
    /// Share lost at the end under each law, mean.
    pub lost_by_model: Vec<f64>,
    /// The same at the end of each year: law by law, year by year.
    pub lost_by_year: Vec<Vec<f64>>,
    /// Delivered in outages \[Wh a year\].
    pub outage_wh_a_year: f64,
    /// Delivered on ordinary days \[Wh a year\].
    pub daily_wh_a_year: f64,
    /// Taken from the wall \[Wh a year\].
    pub wall_wh_a_year: f64,
    /// Saved less paid in a year, where there is a tariff.
    pub money_a_year: Option<f64>,
    /// Cost of a kWh delivered over the battery's life: the station and the energy from the wall.
    pub cost_a_kwh: Option<f64>,
    /// Full equivalent cycles in a year.
    pub full_cycles_a_year: f64,
    /// Whether no other strategy both lasts as long and rides through as many.
    pub on_the_frontier: bool,
}

/// What the histories say.
#[derive(Debug, Clone, PartialEq)]
pub struct YearsAnswer {
    /// The strategies in the order of the file.
    pub strategies: Vec<StrategyAnswer>,
    /// Names of the laws of wear.
    pub models: Vec<&'static str>,
    /// Name of the currency, where there is a tariff.
    pub currency: Option<String>,
    /// Histories done.
    pub histories: u64,
    /// Settings asked for.
    pub settings: YearsSettings,
    /// Years that count as first and as last.
    pub stretch: usize,
    /// Whether weeks of cuts that come back are counted instead of outages.
    pub cuts: bool,
    /// Mean outages a year that the plan expects.
    pub outages_a_year: f64,
    /// The strategy to take (the longest lasting of the readiest).
    pub choice: usize,
    /// The law of wear that outages feel, and that years, choice and cost of a kWh go by.
    pub felt: WearModel,
    /// What hangs on it beside its range.
    pub stakes: Stakes,
}

impl YearsAnswer {
    /// Whether it was stopped before its time.
    #[must_use]
    pub fn stopped_early(&self) -> bool {
        self.histories < self.settings.histories
    }

    /// The verdict on the outages that a strategy rides through; `None` where there was none.
    #[must_use]
    pub fn verdict(&self, rode: &Share) -> Option<Verdict> {
        (rode.outages > 0).then(|| Verdict::of(rode.probability, rode.interval, self.stakes))
    }

    /// Whether the years of a strategy reach the end of what is foretold.
    #[must_use]
    pub fn beyond_telling(years: f64) -> bool {
        years >= LONGEST_YEARS - 0.05
    }

    /// Index of the strategy that lasts longest among those that ride through as many outages as the best one, within
    /// half an outage of a hundred; of several that last alike (to a tenth of a year) the one with more money left.
    fn choose(strategies: &[StrategyAnswer]) -> usize {
        const AS_GOOD: f64 = 0.005;
        let best = strategies.iter().map(|s| s.rode.probability).fold(0.0, f64::max);
        let worth = |s: &StrategyAnswer| ((s.years.mean * 10.0).round(), s.money_a_year.unwrap_or(0.0));
        let mut chosen: Option<usize> = None;
        for (index, strategy) in strategies.iter().enumerate() {
            let good = strategy.rode.probability >= best - AS_GOOD;
            if good && chosen.is_none_or(|other| worth(&strategies[other]) < worth(strategy)) {
                chosen = Some(index);
            }
        }
        chosen.unwrap_or(0)
    }
}

/// From the sums to the answer.
pub(super) fn summarise(
    plan: &YearsPlan,
    settings: &YearsSettings,
    histories: u64,
    tallies: &[StrategyTally],
) -> YearsAnswer {
    let lived = histories as f64 * settings.years as f64;
    let mean_years = |tally: &StrategyTally| Spread::of(&tally.years_felt).mean;
    let mut strategies: Vec<StrategyAnswer> = plan
        .strategies
        .iter()
        .zip(tallies)
        .map(|(strategy, tally)| {
            let years = Spread::of(&tally.years_felt);
            let between = tally.slopes.variance(&tally.all);
            let delivered_a_year = (tally.outage_wh + tally.daily_wh) / lived;
            let money = |value: f64| plan.prices.as_ref().map(|_| value / lived);
            let station = plan.prices.as_ref().and_then(|prices| prices.station);
            let cost_a_kwh = station
                .filter(|_| delivered_a_year > 0.0)
                .map(|price| (price + tally.paid / lived * years.mean) / (delivered_a_year * years.mean / 1000.0));
            StrategyAnswer {
                name: strategy.rules.name.clone(),
                rode: tally.all.share(between),
                rode_first: tally.first_years.share(between),
                rode_last: tally.last_years.share(between),
                by_year: tally.by_year.iter().map(|sums| sums.share(between)).collect(),
                by_month: tally.by_month.iter().map(|sums| sums.share(between)).collect(),
                charge_by_month: std::array::from_fn(|month| tally.charge_h[month] / tally.calm_h[month]),
                more_than_first: tally.against_first.difference(),
                years,
                years_more_than_first: years.mean - mean_years(&tallies[0]),
                years_by_model: tally.years_by_model.iter().map(|years| Spread::of(years)).collect(),
                lost_by_model: tally.lost.iter().map(|sum| sum / histories as f64).collect(),
                lost_by_year: (0..tally.lost.len())
                    .map(|law| tally.lost_by_year.iter().skip(law).step_by(tally.lost.len()))
                    .map(|sums| sums.map(|sum| sum / histories as f64).collect())
                    .collect(),
                outage_wh_a_year: tally.outage_wh / lived,
                daily_wh_a_year: tally.daily_wh / lived,
                wall_wh_a_year: tally.wall_wh / lived,
                money_a_year: money(tally.saved - tally.paid),
                cost_a_kwh,
                full_cycles_a_year: tally.full_cycles / lived,
                on_the_frontier: false,
            }
        })
        .collect();
    let points: Vec<(f64, f64)> = strategies.iter().map(|s| (s.rode.probability, s.years.mean)).collect();
    for (index, strategy) in strategies.iter_mut().enumerate() {
        let (rode, years) = points[index];
        strategy.on_the_frontier = !points.iter().any(|&(r, y)| r >= rode && y >= years && (r > rode || y > years));
    }
    YearsAnswer {
        choice: YearsAnswer::choose(&strategies),
        strategies,
        models: plan.tables.models().iter().map(|model| model.name()).collect(),
        currency: plan.prices.as_ref().map(|prices| prices.currency.clone()),
        histories,
        settings: *settings,
        stretch: stretch(settings.years).min(settings.years),
        cuts: plan.cuts,
        outages_a_year: if plan.cuts { 365.0 / 7.0 } else { plan.arrivals.mean_a_year() },
        felt: plan.felt,
        stakes: plan.stakes,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A strategy that rides through so much, lasts so long and leaves so much money.
    fn strategy((rode, years, money): (f64, f64, Option<f64>)) -> StrategyAnswer {
        let share = Share { probability: rode, chance: Interval::ALL, interval: Interval::ALL, outages: 100 };
        StrategyAnswer {
            name: String::new(),
            rode: share,
            rode_first: share,
            rode_last: share,
            by_year: Vec::new(),
            by_month: Vec::new(),
            charge_by_month: [0.5; 12],
            more_than_first: (0.0, Interval::ALL),
            years: Spread { mean: years, p10: years, p90: years },
            years_more_than_first: 0.0,
            years_by_model: Vec::new(),
            lost_by_model: Vec::new(),
            lost_by_year: Vec::new(),
            outage_wh_a_year: 0.0,
            daily_wh_a_year: 0.0,
            wall_wh_a_year: 0.0,
            money_a_year: money,
            cost_a_kwh: None,
            full_cycles_a_year: 0.0,
            on_the_frontier: false,
        }
    }

    /// The choice is the longest lasting of those within half a point of the readiest; of those that last alike to a tenth of a year the
    /// one with more money left; of those alike the first.
    #[test]
    fn the_longest_lasting_of_the_readiest_is_chosen() {
        let choose =
            |of: &[(f64, f64, Option<f64>)]| YearsAnswer::choose(&of.iter().copied().map(strategy).collect::<Vec<_>>());
        assert_eq!(choose(&[(0.90, 20.0, None), (0.98, 9.0, None), (0.977, 11.0, None)]), 2);
        assert_eq!(choose(&[(0.98, 9.0, None), (0.974, 11.0, None)]), 0);
        assert_eq!(choose(&[(0.98, 9.02, Some(-30.0)), (0.98, 8.98, Some(-20.0)), (0.98, 8.9, Some(50.0))]), 1);
        assert_eq!(choose(&[(0.98, 9.0, Some(1.0)), (0.98, 9.0, Some(1.0))]), 0);
        assert_eq!(choose(&[(0.98, 9.0, Some(-5.0)), (0.98, 9.0, None)]), 1);
        // Without any outage, and so without a share, the first.
        assert_eq!(choose(&[(f64::NAN, 9.0, None), (f64::NAN, 12.0, None)]), 0);
    }

    /// By hand: of five values the first is that of a tenth, the fifth that of nine tenths.
    #[test]
    fn a_spread_is_the_mean_and_its_tenths() {
        let spread = Spread::of(&[9.0, 2.0, 4.0, 3.0, 12.0]);
        assert_eq!(spread, Spread { mean: 6.0, p10: 2.0, p90: 12.0 });
        let eleven: Vec<f32> = (0..20).rev().map(|k| k as f32).collect();
        assert_eq!(Spread::of(&eleven), Spread { mean: 9.5, p10: 1.0, p90: 17.0 });
        // Forty years are the most that is foretold, which twentieths of a year do not hide.
        assert!(YearsAnswer::beyond_telling(39.96) && !YearsAnswer::beyond_telling(39.9));
    }
}
