//! Shapes of days and hours in a record and in the model, and the pace of drawing them.

use super::judging::mean;
use super::records::{Truth, month_of};
use tideover::random::{Purpose, Stream};
use tideover::weather::{Calendar, Climate, Climates, Opening, WeatherPlan, WeatherTrace};

/// Shapes of a series of days: lags of normal scores, dark runs.
#[derive(Default, Clone, Copy)]
pub struct Shapes {
    pub products: [f64; 2],
    pub squares: [f64; 2],
    pub dark: f64,
    pub dark_pairs: f64,
    pub runs: f64,
    pub days: f64,
}

impl Shapes {
    /// Adds a series of consecutive days: normal scores and whether the day is among the darkest fifth of its month.
    pub fn add(&mut self, scores: &[f64]) {
        let dark = |z: f64| z <= -0.8416;
        for lag in [1, 2] {
            for pair in scores.windows(lag + 1) {
                self.products[lag - 1] += pair[0] * pair[lag];
                self.squares[lag - 1] += pair[0] * pair[0];
            }
        }
        for pair in scores.windows(2) {
            self.dark += f64::from(u8::from(dark(pair[0])));
            self.dark_pairs += f64::from(u8::from(dark(pair[0]) && dark(pair[1])));
        }
        let mut run = 0;
        for &z in scores {
            run = if dark(z) { run + 1 } else { 0 };
            self.runs += f64::from(u8::from(run == 3));
        }
        self.days += scores.len() as f64;
    }

    pub fn print(&self) -> String {
        format!(
            "lag-1 {:.2} lag-2 {:.2}, dark after dark {:.3}, runs of 3 dark days a year {:.1}",
            self.products[0] / self.squares[0],
            self.products[1] / self.squares[1],
            self.dark_pairs / self.dark,
            self.runs / self.days * 365.0
        )
    }
}

/// Within-day spread and lag-1 of hourly clearness less the day's clearness, and their counts.
#[derive(Default)]
pub struct HourShapes([f64; 4]);

impl HourShapes {
    pub fn add(&mut self, ghi: &[f64], light: &[f64], clearness: f64) {
        let off: Vec<f64> =
            ghi.iter().zip(light).filter(|(_, l)| 100.0 < **l).map(|(g, l)| g / l - clearness).collect();
        self.0[0] += off.iter().map(|o| o * o).sum::<f64>();
        self.0[1] += off.len() as f64;
        self.0[2] += off.windows(2).map(|p| p[0] * p[1]).sum::<f64>();
        self.0[3] += off.len().saturating_sub(1) as f64;
    }

    pub fn print(&self) -> String {
        let [squares, hours, products, pairs] = self.0;
        format!("within the day sd {:.3} lag-1 {:.2}", (squares / hours).sqrt(), products / pairs / (squares / hours))
    }
}

pub fn score(climate: &Climate, day: usize, clearness: f64) -> f64 {
    use statrs::distribution::{ContinuousCDF, Normal};
    let p =
        tideover::weather::climate::level_of(&climate.months[month_of(day)].clearness, clearness).clamp(0.002, 0.998);
    Normal::standard().inverse_cdf(p)
}

/// Prints shapes of record and model, and returns the greatest distance between their monthly distributions.
pub fn shapes(name: &str, truth: &Truth, climate: &Climate) -> f64 {
    let (mut of_record, mut of_model) = (Shapes::default(), Shapes::default());
    let (mut record_hours, mut model_hours) = (HourShapes::default(), HourShapes::default());
    let plan = WeatherPlan::stochastic(climate, &truth.calendar).expect("a climate");
    let mut series: Vec<f64> = Vec::new();
    let mut by_month = vec![(Vec::new(), Vec::new()); 12];
    let mut last = i64::MIN;
    for (day, hours) in truth.days.days().iter().zip(&truth.hours) {
        if day.number != last + 1 || !day.clearness.is_finite() {
            of_record.add(&series);
            series.clear();
        }
        last = day.number;
        if day.clearness.is_finite() {
            series.push(score(climate, day.day, day.clearness));
            by_month[month_of(day.day)].0.push(day.clearness);
            record_hours.add(hours, plan.extraterrestrial_w_m2(day.day as u32), day.clearness);
        }
    }
    of_record.add(&series);
    let mut trace = WeatherTrace::default();
    for trial in 0..100 {
        // Ninety days at a time: the slow part belongs to a season.
        for quarter in 0..4 {
            let mut rng = Stream::new(12, 4 * trial + quarter, Purpose::Weather);
            let first = 91 * quarter as u32;
            plan.generate(first, 91, &Opening::Any, &mut rng, Climates::BEST, &mut trace);
            let on = |k: usize| (first as usize + k) % 365;
            let scores: Vec<f64> =
                trace.daily_clearness.iter().enumerate().map(|(k, &c)| score(climate, on(k), c)).collect();
            of_model.add(&scores);
            for (k, &clearness) in trace.daily_clearness.iter().enumerate() {
                by_month[month_of(on(k))].1.push(clearness);
                let light = plan.extraterrestrial_w_m2(on(k) as u32);
                model_hours.add(&trace.ghi_w_m2[24 * k..24 * (k + 1)], light, clearness);
            }
        }
    }
    let distances: Vec<f64> = by_month.iter_mut().map(|(a, b)| kolmogorov(a, b)).collect();
    let worst = distances.iter().copied().fold(0.0, f64::max);
    println!("{name:<15} distribution of days: distance {:.3} (mean month), {worst:.3} (worst)", mean(&distances));
    println!("{:<15}   record: {}", "", of_record.print());
    println!("{:<15}   model:  {}", "", of_model.print());
    if truth.hourly {
        println!("{:<15}   record: {}", "", record_hours.print());
        println!("{:<15}   model:  {}", "", model_hours.print());
    }
    worst
}

/// Prints the middle of the courses of the day over climates and months, mornings and afternoons taken together.
pub fn middle_course<'a>(climates: impl Iterator<Item = &'a Climate>) {
    use tideover::weather::climate::COURSE;
    let courses: Vec<[f64; COURSE]> = climates.flat_map(|c| c.months.each_ref().map(|m| m.habits.course)).collect();
    let middles = (0..COURSE / 2).map(|k| {
        let mut parts: Vec<f64> = courses.iter().flat_map(|c| [c[k], c[COURSE - 1 - k]]).collect();
        parts.sort_by(f64::total_cmp);
        format!("{:.2}", parts[parts.len() / 2])
    });
    println!(
        "\ncourse of the day from the horizon to noon, middle of {} months: {}",
        courses.len(),
        middles.collect::<Vec<_>>().join(", ")
    );
}

/// Prints how fast weather is drawn.
pub fn pace(climate: &Climate, calendar: &Calendar) {
    let plan = WeatherPlan::stochastic(climate, calendar).expect("a climate");
    let mut trace = WeatherTrace::default();
    let (begin, mut sum) = (std::time::Instant::now(), 0.0);
    for trial in 0..20_000 {
        let mut rng = Stream::new(13, trial, Purpose::Weather);
        plan.generate((trial % 365) as u32, 14, &Opening::Any, &mut rng, Climates::BEST, &mut trace);
        sum += trace.ghi_w_m2[12];
    }
    let ns = begin.elapsed().as_nanos() as f64 / (20_000.0 * 14.0 * 24.0);
    println!("\nhours of sun and air drawn at {ns:.1} ns each (14 days a history; check {sum:.0})");
}

/// Kolmogorov and Smirnov's distance between two samples.
pub fn kolmogorov(a: &mut [f64], b: &mut [f64]) -> f64 {
    a.sort_by(f64::total_cmp);
    b.sort_by(f64::total_cmp);
    let at = |sorted: &[f64], x: f64| sorted.partition_point(|&v| v <= x) as f64 / sorted.len() as f64;
    a.iter().chain(b.iter()).map(|&x| (at(a, x) - at(b, x)).abs()).fold(0.0, f64::max)
}
