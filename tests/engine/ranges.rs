//! Whether a range ends where trials of the same kit end.
//!
//! Trials are put in order by a straight regression of survival on what is not known, whose slopes point the way of any curve's
//! as long as the numbers are normal (Brillinger 1982, "A generalized linear model with 'Gaussian' regressor variables"), fitted
//! to one half of them. Of the other half the twentieth that lies lowest, and the one that lies highest, hold the 2.5 % and the
//! 97.5 % point in their middle: their shares of survivors owe nothing to how the range was come by.

use tideover::trials::interval::{Z_95, wilson};
use tideover::trials::run::{Quiet, Settings, run, run_part};
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

/// Looked at every 2,000 trials, a run stops at the first look at which Wilson's interval is as narrow as asked, and has then counted what
/// so many trials count; one that does not come so far does all its trials. Parts of it are the whole.
#[test]
fn a_run_stops_at_the_first_look_that_is_precise_enough() {
    // 396 Wh and what the station takes itself in twelve hours from a battery of 500 Wh, of which nobody knows a quarter: half of them or so carry it.
    let plans = [plan_of(
        &scenario_of(
            "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nmonth = \"January\"\nlasts = \"12 h\"\n\
             [station]\nrated_capacity = \"500 Wh ± 25 %\"\n[station.dc_outlet]\nlimit = \"600 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n\
             [[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"33 W\"\n",
        ),
        60,
    )];
    let counted = |trials: u64, precision: Option<f64>| {
        let tally = run(&plans, &Settings { seed: 3, trials, precision }, &Quiet).remove(0);
        (tally.trials, tally.survived, wilson(tally.survived, tally.trials, Z_95).width())
    };
    let all = counted(20_000, None);
    assert!(all.0 == 20_000 && (0.1..0.9).contains(&(all.1 as f64 / 20_000.0)), "{all:?}");
    for half_width in [0.017, 0.0125, 0.011] {
        let stopped = counted(20_000, Some(half_width));
        assert!(stopped.0 % 2_000 == 0 && stopped.2 <= 2.0 * half_width, "{stopped:?}");
        assert_eq!(stopped, counted(stopped.0, None));
        assert!(stopped.0 == 2_000 || counted(stopped.0 - 2_000, None).2 > 2.0 * half_width, "{stopped:?}");
    }
    // A run that ends between two looks does not stop there, however precise it is.
    assert_eq!(counted(2_500, Some(1e-3)).0, 2_500);
    assert_eq!(counted(1_500, Some(0.4)).0, 1_500);
    let (mut parts, next) = (run_part(&plans, 3, 0..700).remove(0), run_part(&plans, 3, 700..2_500).remove(0));
    parts.merge(&next);
    assert_eq!((parts.trials, parts.survived), (2_500, counted(2_500, None).1));
    assert_eq!(parts.survival, run(&plans, &Settings { seed: 3, trials: 2_500, precision: None }, &Quiet)[0].survival);
}
