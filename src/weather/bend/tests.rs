//! Climates bent, against what they are bent to.

use super::*;

fn some() -> [f64; LEVELS.len()] {
    LEVELS.map(|p| 0.05 + 0.7 * math::pow(p, 0.7))
}

fn moments(q: &[f64; LEVELS.len()]) -> (f64, f64) {
    let w = weights();
    let mean: f64 = q.iter().zip(w).map(|(q, w)| w * q).sum();
    (mean, q.iter().zip(w).map(|(q, w)| w * math::powi(q - mean, 2)).sum::<f64>().sqrt())
}

#[test]
fn the_mean_is_the_factors_and_the_spread_is_stretched() {
    let (q, bend) = (some(), Bend::new(&some()));
    let (mean, sd) = moments(&q);
    for (factor, spread, tail) in [(1.0, 0.1, 0.0), (0.9, 0.0, 0.05), (1.05, -0.1, 0.03), (1.0, 0.0, 0.0)] {
        let drawn = Drawn { factor, spread, tail, ..Drawn::BEST };
        let bent = q.map(|k| bend.bent(&drawn, k));
        let (new_mean, new_sd) = moments(&bent);
        // Orthogonal parts: means multiply, variances add.
        assert!((new_mean / mean - factor).abs() < 2e-3, "{factor} {spread} {tail}: {new_mean}");
        let expected = factor * sd * (math::powi(1.0 + spread, 2) + tail * tail).sqrt();
        assert!((new_sd / expected - 1.0).abs() < 0.02, "{factor} {spread} {tail}: {new_sd} {expected}");
    }
}

#[test]
fn what_was_bent_tells_how() {
    let (q, bend) = (some(), Bend::new(&some()));
    for (factor, spread, tail) in [(1.0, 0.1, 0.0), (0.93, 0.05, 0.04), (1.04, -0.1, -0.03)] {
        let drawn = Drawn { factor, spread, tail, ..Drawn::BEST };
        let bent = q.map(|k| factor * (k + spread * (k - bend.mean) + tail * bend.tail_at(k)));
        let [log, s1, s2] = bend.told_by(&q, &bent);
        assert!((log - math::ln(factor)).abs() < 1e-9 && (s1 - spread).abs() < 1e-9 && (s2 - tail).abs() < 1e-9);
        let table = bend.table(&drawn, &q);
        assert!(table.windows(2).all(|pair| pair[0] <= pair[1]));
        assert!((moments(&table).0 / (factor * bend.mean) - 1.0).abs() < 1e-9);
    }
}

#[test]
fn days_stay_within_what_days_can_be() {
    let bend = Bend::new(&some());
    for factor in [0.2, 1.0, 3.0] {
        for spread in [-0.8, 0.0, 0.8] {
            for tail in [-0.5, 0.0, 0.5] {
                let drawn = Drawn { factor, spread, tail, ..Drawn::BEST };
                for k in [0.0, 0.005, 0.05, 0.4, 0.8, 0.9] {
                    let bent = bend.bent(&drawn, k);
                    assert!((k.min(DARKEST)..=k.max(BRIGHTEST)).contains(&bent), "{drawn:?} {k}: {bent}");
                }
            }
        }
    }
}

#[test]
fn lanes_are_single_days_and_the_best_estimate_bends_nothing() {
    let bend = Bend::new(&some());
    let a = Drawn { factor: 0.9, spread: 0.1, tail: 0.02, ..Drawn::BEST };
    let both = Lanes::<f64, 2>::new(&[a, Drawn::BEST]).bend(&bend, &[0.3, 0.3]);
    assert_eq!(both, [bend.bent(&a, 0.3), 0.3]);
}
