//! Is the range that a run states honest?
//!
//! The toy kits meet weather drawn as a run draws it: every trial with its own factor on the sun, and the range made of
//! the trials by `trials::unknowns::survival`. Only the engine is replaced by the toys' balance.

use super::judging::{
    CAPACITIES, Counter, LONGEST, OUTAGES, SUNS, for_each_window, mean, mean_absolute, quantile_absolute,
};
use super::records::{MONTHS, Truth, mean_course, month_of};
use std::collections::BTreeMap;
use tideover::random::{Purpose, Stream};
use tideover::trials::Interval;
use tideover::trials::unknowns::survival;
use tideover::weather::bend::NUMBERS;
use tideover::weather::climate::LEVELS;
use tideover::weather::{Climate, Climates, Opening, WeatherPlan, WeatherTrace};

/// Kits of one capacity and sun, and one outage.
const CELLS: usize = CAPACITIES.len() * SUNS.len() * OUTAGES.len();

/// One kit, outage, month and record.
#[derive(Clone, Copy)]
pub struct Cell {
    /// Month, 0 for January, and days of the outage.
    pub month: usize,
    pub days: usize,
    /// Mean clearness of the month in the climate that was drawn from.
    pub clearness: f64,
    /// Survival in the record, and its standard error from how few its years are.
    pub replay: f64,
    pub error: f64,
    /// What a run states.
    pub stated: f64,
    pub range: Interval,
}

/// Whether survival says something of a kit: neither hopeless nor ample.
pub fn telling(survival: f64) -> bool {
    (0.03..=0.97).contains(&survival)
}

impl Cell {
    /// Whether the record's survival lies below the range, as far as its own chance counts: the lower half of the range
    /// and 1.96 standard errors of the record are added as squares.
    fn rosy(&self) -> bool {
        let reach = (self.stated - self.range.low).max(0.0).hypot(1.96 * self.error);
        self.replay < self.range.low && reach < self.stated - self.replay
    }

    /// The same above the range.
    fn gloomy(&self) -> bool {
        let reach = (self.range.high - self.stated).max(0.0).hypot(1.96 * self.error);
        self.range.high < self.replay && reach < self.replay - self.stated
    }
}

/// Variance between years of a year's survival through 2, 4 and 7 days over p (1 - p), pooled over 17 long records: a single
/// record's own scatter says too little about itself where its years are few.
const YEARS_DIFFER: [f64; OUTAGES.len()] = [0.114, 0.169, 0.252];

/// Survival in some years of the record by month and cell, with its standard error.
pub fn replay_with_errors(truth: &Truth, years: impl Fn(i64) -> bool) -> Vec<[(f64, f64); CELLS]> {
    let mut counters: BTreeMap<(usize, i64), Counter> = BTreeMap::new();
    for_each_window(truth, |day, window| {
        let month = month_of(day.day);
        if years(day.year) {
            let counter = counters.entry((month, day.year)).or_insert_with(Counter::new);
            counter.add(window, truth.mean_wh_m2[month]);
        }
    });
    let of_month = |month: usize| {
        let years: Vec<(f64, Vec<f64>)> = counters
            .range((month, i64::MIN)..=(month, i64::MAX))
            .map(|(_, c)| (c.count, c.alive.iter().flatten().flatten().copied().collect()))
            .collect();
        let count: f64 = years.iter().map(|(count, _)| count).sum();
        std::array::from_fn(|cell| {
            let share = years.iter().map(|(_, alive)| alive[cell]).sum::<f64>() / count;
            let error = (YEARS_DIFFER[cell % OUTAGES.len()] * share * (1.0 - share) / (count / 30.4)).sqrt();
            if 20.0 <= count { (share, error) } else { (f64::NAN, f64::NAN) }
        })
    };
    (0..12).map(of_month).collect()
}

/// How clearly the kit survives outages of each length: the lowest charge on the way, or what it misses below 0, as
/// shares of the capacity. Survives as [`super::judging::first_failure`] does.
fn margins(hours: &[f64], capacity: f64, per_wh_m2: f64) -> [f32; OUTAGES.len()] {
    let (mut charge, mut lowest, mut missed) = (0.8 * capacity, 0.8 * capacity, 0.0);
    let mut out = [0.0; OUTAGES.len()];
    for (hour, ghi) in hours.iter().enumerate() {
        let balance = ghi * per_wh_m2 - 1.0 / 24.0;
        charge = if balance > 0.0 { (charge + 0.9 * balance).min(capacity) } else { charge + balance };
        if charge < 0.0 {
            missed -= charge;
            charge = 0.0;
        }
        lowest = lowest.min(charge);
        for (n, &days) in OUTAGES.iter().enumerate() {
            if hour + 1 == 24 * days {
                out[n] = (if missed > 0.0 { -missed } else { lowest } / capacity) as f32;
            }
        }
    }
    out
}

/// What a run in this climate would state, for every cell where that or the record is telling.
pub fn stated(truth: &Truth, climate: &Climate, trials: u64, replayed: &[[(f64, f64); CELLS]]) -> Vec<Cell> {
    let plan = WeatherPlan::stochastic(climate, &truth.calendar).expect("a climate");
    let mut trace = WeatherTrace::default();
    let mut window = Vec::new();
    let mut cells = Vec::new();
    for (month, replayed) in replayed.iter().enumerate() {
        let length = (MONTHS[month + 1] - MONTHS[month]) as u64;
        let first = MONTHS[month];
        let drawing = climate.doubt.drawing((0..length as usize).flat_map(|day| (0..4).map(move |k| first + day + k)));
        let counts = drawing.counts();
        let width = counts.iter().filter(|counts| **counts).count();
        let (mut unknowns, mut all) = (Vec::new(), vec![Vec::<f32>::new(); CELLS]);
        for trial in 0..trials {
            let number = trial + 1_000_000 * month as u64;
            let mut rng = Stream::new(11, number, Purpose::Climate);
            let climate_z: [f64; NUMBERS] = std::array::from_fn(|_| rng.normal());
            unknowns.extend(climate_z.iter().zip(counts).filter_map(|(z, counts)| counts.then_some(*z as f32)));
            let day = MONTHS[month] as u64 + trial % length;
            let mut rng = Stream::new(11, number, Purpose::Weather);
            let drawn = [drawing.drawn(&climate_z)];
            let climates = Climates::Steady(&drawn);
            plan.generate(day as u32, LONGEST as u32, &Opening::Any, &mut rng, climates, &mut trace);
            window.clear();
            if truth.hourly {
                window.extend_from_slice(&trace.ghi_w_m2);
            } else {
                for (k, &clearness) in trace.daily_clearness.iter().enumerate() {
                    let on = (day as usize + k) % 365;
                    window.extend(mean_course(&plan, truth.calendar.latitude_deg, on, clearness, 0.0));
                }
            }
            let mut at = 0;
            for capacity in CAPACITIES {
                for sun in SUNS {
                    for margin in margins(&window, capacity, sun / truth.mean_wh_m2[month]) {
                        all[at].push(margin);
                        at += 1;
                    }
                }
            }
        }
        let clearness = mean_clearness(&climate.months[month].clearness);
        for (cell, (margins, &(replay, error))) in all.iter().zip(replayed).enumerate() {
            let outcomes: Vec<bool> = margins.iter().map(|&m| 0.0 <= m).collect();
            let survived = outcomes.iter().filter(|&&s| s).count() as u64;
            if replay.is_finite() && (telling(replay) || telling(survived as f64 / trials as f64)) {
                let answer = survival(survived, trials, margins, &outcomes, &unknowns, width);
                let days = OUTAGES[cell % OUTAGES.len()];
                cells.push(Cell {
                    month,
                    days,
                    clearness,
                    replay,
                    error,
                    stated: answer.probability,
                    range: answer.interval,
                });
            }
        }
    }
    cells
}

fn mean_clearness(quantiles: &[f64; LEVELS.len()]) -> f64 {
    (1..LEVELS.len()).map(|k| (LEVELS[k] - LEVELS[k - 1]) * 0.5 * (quantiles[k] + quantiles[k - 1])).sum()
}

/// How what was stated stands to the record.
pub struct Standing {
    pub cells: usize,
    /// Differences in points, stated less record: mean of the size, the size that 95 % stay below, mean.
    pub size: f64,
    pub most: f64,
    pub bias: f64,
    /// Mean width of the ranges in points.
    pub width: f64,
    /// Shares of the cells in percent: the record below the range, above it.
    pub below: f64,
    pub above: f64,
    /// The same, as far as the record's own chance counts.
    pub rosy: f64,
    pub gloomy: f64,
}

impl Standing {
    pub fn of(cells: &[Cell]) -> Standing {
        let differences: Vec<f64> = cells.iter().map(|c| 100.0 * (c.stated - c.replay)).collect();
        let widths: Vec<f64> = cells.iter().map(|c| 100.0 * c.range.width()).collect();
        let share = |of: &dyn Fn(&Cell) -> bool| {
            100.0 * cells.iter().filter(|c| of(c)).count() as f64 / cells.len().max(1) as f64
        };
        Standing {
            cells: cells.len(),
            size: mean_absolute(&differences),
            most: quantile_absolute(&differences, 0.95),
            bias: mean(&differences),
            width: mean(&widths),
            below: share(&|c| c.replay < c.range.low),
            above: share(&|c| c.range.high < c.replay),
            rosy: share(&Cell::rosy),
            gloomy: share(&Cell::gloomy),
        }
    }

    /// Share of the cells within the range in percent.
    pub fn within(&self) -> f64 {
        100.0 - self.below - self.above
    }

    /// The same, as far as the record's own chance counts.
    pub fn honest(&self) -> f64 {
        100.0 - self.rosy - self.gloomy
    }

    pub fn print(&self, name: &str) {
        println!(
            "{name:<25} {:>5} cells  |d| {:5.2}  95 % {:5.2}  bias {:+6.2}  width {:4.1}  within {:5.1} %, below {:4.1}, above {:4.1}  \
             | with its chance {:5.1} %, below {:4.1}, above {:4.1}",
            self.cells,
            self.size,
            self.most,
            self.bias,
            self.width,
            self.within(),
            self.below,
            self.above,
            self.honest(),
            self.rosy,
            self.gloomy,
        );
    }
}
