//! Whether a range ends where trials of the same kit end.
//!
//! Trials are put in order by a straight regression of survival on what is not known, whose slopes point the way of any curve's
//! as long as the numbers are normal (Brillinger 1982, "A generalized linear model with 'Gaussian' regressor variables"), fitted
//! to one half of them. Of the other half the twentieth that lies lowest, and the one that lies highest, hold the 2.5 % and the
//! 97.5 % point in their middle: their shares of survivors owe nothing to how the range was come by.

use tideover::trials::run::{Quiet, Settings, run};
use tideover::trials::unknowns::survivals;

use crate::common::{plan_of, scenario_of};

const TRIALS: u64 = 20_000;

/// Slopes of a straight regression of survival on the numbers of each trial: as these are normal with variance 1 and owe nothing
/// to each other, each slope is a covariance.
fn slopes(outcomes: &[bool], rows: &[f32], width: usize) -> Vec<f64> {
    let mean = outcomes.iter().filter(|&&s| s).count() as f64 / outcomes.len() as f64;
    let mut sums = vec![0.0; width];
    for (&survived, row) in outcomes.iter().zip(rows.chunks_exact(width)) {
        for (sum, &z) in sums.iter_mut().zip(row) {
            *sum += (f64::from(u8::from(survived)) - mean) * f64::from(z);
        }
    }
    sums
}

#[test]
fn ranges_end_where_trials_of_the_other_half_do() {
    for demo in
        ["balcony", "templates/load-shedding", "twice-daily-cuts", "winter-storm", "templates/camp", "two-stations"]
    {
        let text = std::fs::read_to_string(format!("scenarios/{demo}.toml")).expect("a demo");
        let plans = [plan_of(&scenario_of(&text), 60)];
        let settings = Settings { seed: 5, trials: TRIALS, precision: None };
        let tallies = run(&plans, &settings, &Quiet);
        let range = survivals(&plans, &tallies, &settings, &Quiet)[0].interval;
        let (outcomes, rows, width) = (&tallies[0].survival, &tallies[0].unknowns, plans[0].unknowns().len());
        let half = outcomes.len() / 2;
        let slopes = slopes(&outcomes[..half], &rows[..half * width], width);
        let along = |row: &[f32]| row.iter().zip(&slopes).map(|(&z, b)| f64::from(z) * b).sum::<f64>();
        let mut order: Vec<(f64, bool)> =
            rows[half * width..].chunks_exact(width).map(along).zip(outcomes[half..].iter().copied()).collect();
        order.sort_by(|a, b| a.0.total_cmp(&b.0));
        let part = order.len() / 20;
        let share = |trials: &[(f64, bool)]| trials.iter().filter(|(_, s)| *s).count() as f64 / trials.len() as f64;
        let (lowest, highest) = (share(&order[..part]), share(&order[order.len() - part..]));
        // Of 500 trials a share of a half has a standard error of 2.2 %, of the range's own 1,000 one of 1.6 %: 9 % are 3.3
        // standard errors of both.
        println!("{demo}: {:.3} to {:.3}; the other half {lowest:.3} to {highest:.3}", range.low, range.high);
        assert!(
            (range.low - lowest).abs() < 0.09,
            "{demo}: from {:.3}, where the worst half show {lowest:.3}",
            range.low
        );
        assert!((range.high - highest).abs() < 0.09, "{demo}: to {:.3}, where the best show {highest:.3}", range.high);
    }
}
