//! Toy kits in a record's weather and in the model's.

use super::records::{MONTHS, Truth, mean_course, month_of};
use tideover::random::{Purpose, Stream};
use tideover::sky::year::SunOfDay;
use tideover::weather::daily::DailyReading;
use tideover::weather::fit::fit;
use tideover::weather::{Calendar, Climate, Climates, DailyRecord, Opening, WeatherPlan, WeatherTrace};

pub const CAPACITIES: [f64; 4] = [0.5, 1.0, 1.5, 2.0];
pub const SUNS: [f64; 6] = [0.6, 0.8, 1.0, 1.3, 1.6, 2.0];
pub const OUTAGES: [usize; 3] = [2, 4, 7];
pub const LONGEST: usize = 7;

/// Survival by month, capacity, sun and outage; NaN where there are too few windows.
pub type Survival = Vec<[[[f64; OUTAGES.len()]; SUNS.len()]; CAPACITIES.len()]>;

/// First hour that the kit fails in, or the number of hours.
pub fn first_failure(hours: &[f64], capacity: f64, per_wh_m2: f64) -> usize {
    let mut charge = 0.8 * capacity;
    for (hour, ghi) in hours.iter().enumerate() {
        let balance = ghi * per_wh_m2 - 1.0 / 24.0;
        charge = if balance > 0.0 { (charge + 0.9 * balance).min(capacity) } else { charge + balance };
        if charge < 0.0 {
            return hour;
        }
    }
    hours.len()
}

#[derive(Clone)]
pub struct Counter {
    pub alive: [[[f64; OUTAGES.len()]; SUNS.len()]; CAPACITIES.len()],
    pub count: f64,
}

impl Counter {
    pub fn new() -> Counter {
        Counter { alive: Default::default(), count: 0.0 }
    }

    pub fn add(&mut self, hours: &[f64], mean_wh_m2: f64) {
        self.count += 1.0;
        for (c, &capacity) in CAPACITIES.iter().enumerate() {
            for (s, &sun) in SUNS.iter().enumerate() {
                let failure = first_failure(hours, capacity, sun / mean_wh_m2);
                for (n, &days) in OUTAGES.iter().enumerate() {
                    self.alive[c][s][n] += f64::from(u8::from(24 * days <= failure));
                }
            }
        }
    }

    pub fn shares(mut self, fewest: f64) -> [[[f64; OUTAGES.len()]; SUNS.len()]; CAPACITIES.len()] {
        for value in self.alive.iter_mut().flatten().flatten() {
            *value = if self.count < fewest { f64::NAN } else { *value / self.count };
        }
        self.alive
    }
}

/// Goes through all windows of [`LONGEST`] whole days that follow each other, with the first day and the sun of the hours.
pub fn for_each_window(truth: &Truth, mut each: impl FnMut(&DailyReading, &[f64])) {
    let days = truth.days.days();
    let mut window = Vec::new();
    for (k, start) in days.iter().enumerate() {
        let Some(end) = days.get(k + LONGEST - 1) else { break };
        let whole = days[k..k + LONGEST].iter().all(|d| d.clearness.is_finite());
        if end.number != start.number + LONGEST as i64 - 1 || !whole {
            continue;
        }
        window.clear();
        truth.hours[k..k + LONGEST].iter().for_each(|hours| window.extend_from_slice(hours));
        each(start, &window);
    }
}

/// Survival over all windows of whole days that begin in the years wanted.
pub fn replay(truth: &Truth, years: impl Fn(i64) -> bool) -> Survival {
    let mut counters = vec![Counter::new(); 12];
    for_each_window(truth, |start, window| {
        let month = month_of(start.day);
        if years(start.year) {
            counters[month].add(window, truth.mean_wh_m2[month]);
        }
    });
    counters.into_iter().map(|c| c.shares(20.0)).collect()
}

/// Survival in the model's weather.
pub fn model(truth: &Truth, climate: &Climate, trials: u64) -> Survival {
    let plan = WeatherPlan::stochastic(climate, &truth.calendar).expect("a climate");
    let mut trace = WeatherTrace::default();
    let mut window = Vec::new();
    let mut of_month = |month: usize| {
        let mut counter = Counter::new();
        let length = (MONTHS[month + 1] - MONTHS[month]) as u64;
        for trial in 0..trials {
            let mut rng = Stream::new(11, trial + 1_000_000 * month as u64, Purpose::Weather);
            let day = MONTHS[month] as u64 + trial % length;
            plan.generate(day as u32, LONGEST as u32, &Opening::Any, &mut rng, Climates::BEST, &mut trace);
            if truth.hourly {
                counter.add(&trace.ghi_w_m2, truth.mean_wh_m2[month]);
            } else {
                window.clear();
                for (k, &clearness) in trace.daily_clearness.iter().enumerate() {
                    let on = (day as usize + k) % 365;
                    window.extend(mean_course(&plan, truth.calendar.latitude_deg, on, clearness, 0.0));
                }
                counter.add(&window, truth.mean_wh_m2[month]);
            }
        }
        counter.shares(1.0)
    };
    (0..12).map(&mut of_month).collect()
}

/// Differences of survival in points, a minus b, where b lies between 3 and 97 %.
pub fn differences(a: &Survival, b: &Survival, truth: &Survival) -> Vec<f64> {
    let flat = |s: &Survival| -> Vec<f64> { s.iter().flatten().flatten().flatten().copied().collect() };
    let (a, b, truth) = (flat(a), flat(b), flat(truth));
    let judged = |k: &usize| (0.03..=0.97).contains(&truth[*k]) && a[*k].is_finite() && b[*k].is_finite();
    (0..a.len()).filter(judged).map(|k| 100.0 * (a[k] - b[k])).collect()
}

pub fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

pub fn mean_absolute(values: &[f64]) -> f64 {
    values.iter().map(|v| v.abs()).sum::<f64>() / values.len().max(1) as f64
}

pub fn quantile_absolute(values: &[f64], p: f64) -> f64 {
    let mut sorted: Vec<f64> = values.iter().map(|v| v.abs()).collect();
    sorted.sort_by(f64::total_cmp);
    sorted.get(((sorted.len() as f64 * p) as usize).min(sorted.len().saturating_sub(1))).copied().unwrap_or(0.0)
}

#[derive(Default)]
pub struct Verdict {
    pub inside: Vec<f64>,
    pub model: Vec<f64>,
    pub replayed: Vec<f64>,
    pub even_model: Vec<f64>,
    pub even_replayed: Vec<f64>,
}

impl Verdict {
    pub fn add(&mut self, other: &Verdict) {
        self.inside.extend(&other.inside);
        self.model.extend(&other.model);
        self.replayed.extend(&other.replayed);
        self.even_model.extend(&other.even_model);
        self.even_replayed.extend(&other.even_replayed);
    }

    pub fn print(&self, name: &str) {
        let ratio = |a: &[f64], b: &[f64]| mean_absolute(a) / mean_absolute(b);
        print!(
            "{name:<15} {:>5} cells  |d| {:5.2}  95 % {:5.2}  bias {:+5.2}",
            self.inside.len(),
            mean_absolute(&self.inside),
            quantile_absolute(&self.inside, 0.95),
            mean(&self.inside)
        );
        if !self.replayed.is_empty() {
            print!(
                "  | even to odd: model {:5.2} replay {:5.2} ratio {:.3} bias {:+5.2}  | both ways: ratio {:.3} bias {:+5.2}",
                mean_absolute(&self.even_model),
                mean_absolute(&self.even_replayed),
                ratio(&self.even_model, &self.even_replayed),
                mean(&self.even_model),
                ratio(&self.model, &self.replayed),
                mean(&self.model)
            );
        }
        println!();
    }
}

pub fn judge(truth: &Truth, trials: u64) -> (Verdict, Climate) {
    let climate = fit(&truth.days, Some(&truth.air)).unwrap_or_else(|e| panic!("{e}")).climate;
    let all = replay(truth, |_| true);
    let inside = differences(&model(truth, &climate, trials), &all, &all);
    let mut verdict = Verdict { inside, ..Verdict::default() };
    if truth.years() >= 10 {
        for parity in [0, 1] {
            let of = |year: i64| year.rem_euclid(2) == parity;
            let other = replay(truth, |year| !of(year));
            let same = replay(truth, of);
            let climate = fit(&truth.days.of_years(of), Some(&truth.air)).unwrap_or_else(|e| panic!("{e}")).climate;
            let of_model = differences(&model(truth, &climate, trials), &other, &other);
            let of_replay = differences(&same, &other, &other);
            if parity == 0 {
                verdict.even_model = of_model.clone();
                verdict.even_replayed = of_replay.clone();
            }
            verdict.model.extend(of_model);
            verdict.replayed.extend(of_replay);
        }
    }
    (verdict, climate)
}

/// The differences that would be left if the model were the truth: a record of the same days is drawn from it, fitted
/// and judged like a real one. No model that is fitted to so few years can be closer to their replay than this.
pub fn least_possible(truth: &Truth, climate: &Climate, trials: u64) -> Vec<f64> {
    let plan = WeatherPlan::stochastic(climate, &truth.calendar).expect("a climate");
    let mut trace = WeatherTrace::default();
    let latitude = truth.calendar.latitude_deg;
    let mut text = String::from("date,ghi_kwh_m2_day\n");
    let mut year = i64::MIN;
    for day in truth.days.days() {
        if day.year != year {
            year = day.year;
            let mut rng = Stream::new(14, year.unsigned_abs(), Purpose::Weather);
            plan.generate(0, 365, &Opening::Any, &mut rng, Climates::BEST, &mut trace);
        }
        let month = month_of(day.day);
        let light = SunOfDay::at(day.day, truth.calendar.longitude_deg).horizontal_wh_m2(latitude);
        let leap_day = month == 1 && day.day == 58 && text.contains(&format!("{year}-02-28"));
        if day.clearness.is_finite() && !leap_day {
            let kwh = trace.daily_clearness[day.day].min(0.899) * light / 1000.0;
            text.push_str(&format!("{year}-{:02}-{:02},{kwh:.5}\n", month + 1, day.day - MONTHS[month] + 1));
        }
    }
    let days = DailyRecord::parse(text.as_bytes(), "drawn", latitude, truth.calendar.longitude_deg).expect("a record");
    let course = |d: &DailyReading| mean_course(&plan, latitude, d.day, d.clearness, 0.0);
    let hours = days.days().iter().map(course).collect();
    let zone = (truth.calendar.longitude_deg * 4.0).round() as i32;
    let calendar = Calendar::fixed(60, zone, latitude, truth.calendar.longitude_deg);
    let mut drawn = Truth { days, hours, calendar, hourly: false, mean_wh_m2: [0.0; 12], air: truth.air.clone() };
    drawn.take_means();
    let fitted = fit(&drawn.days, Some(&drawn.air)).unwrap_or_else(|e| panic!("{e}")).climate;
    let all = replay(&drawn, |_| true);
    differences(&model(&drawn, &fitted, trials), &all, &all)
}
