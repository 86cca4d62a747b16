//! The inverter's losses over its load.

use thiserror::Error;

use crate::math;
use crate::random::polynomials::less;

/// What an inverter draws for what it gives:
/// `drawn = P + p0 + k1 P + k2 P² / P_rated + s min(P / P_s, 1)` while it is on.
///
/// The form is that of Schmidt & Sauer (1996): a constant part (electronics, magnetising), one that grows with current
/// (switches), one that grows with its square (wires). A fan or another step `s` is a fourth, where tests tell one: a load of
/// `P_s` that runs for part of an hour has it on for that part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LossCurve {
    /// p0: drawn with nothing connected \[W\].
    pub idle_w: f64,
    /// k1: loss in proportion to the load \[–\].
    pub linear: f64,
    /// k2 / P_rated: loss in proportion to the square of the load \[1/W\].
    pub quadratic_per_w: f64,
    /// s: taken by a fan or another step at loads of `1 / step_per_w` and above \[W\].
    pub step_w: f64,
    /// 1 / P_s: the step's share for each watt of load below that, 0 where there is no step \[1/W\].
    pub step_per_w: f64,
}

/// Why no loss curve goes through the points given.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum CurveError {
    /// The loss at a point is less than the idle draw that it contains.
    #[error(
        "at {load_w} W an efficiency of {} % loses only {loss_w:.1} W, less than the idle draw of {idle_w} W alone", .efficiency * 100.0
    )]
    LossBelowIdle {
        /// The load at the point \[W\].
        load_w: f64,
        /// The efficiency stated there, 0 to 1.
        efficiency: f64,
        /// What that loses \[W\].
        loss_w: f64,
        /// The idle draw \[W\].
        idle_w: f64,
    },
}

/// Share of the rated power lost in proportion to the square of the load at full load, where only one point of the
/// curve is known. Typical of small units; no source.
pub(crate) const TYPICAL_QUADRATIC: f64 = 0.02;

impl LossCurve {
    /// An ideal inverter: gives what it takes.
    pub const IDEAL: LossCurve =
        LossCurve { idle_w: 0.0, linear: 0.0, quadratic_per_w: 0.0, step_w: 0.0, step_per_w: 0.0 };

    /// The curve with a given idle draw that passes through the points (load \[W\], efficiency 0 to 1, idle included):
    /// exactly through one or two of them, nearest in least squares through more. Coefficients are never negative: where
    /// the points ask for a negative one it is 0 and the other follows the points alone.
    ///
    /// # Errors
    /// [`CurveError::LossBelowIdle`] when a point contradicts the idle draw.
    pub fn from_points(rated_w: f64, idle_w: f64, points: &[(f64, f64)]) -> Result<LossCurve, CurveError> {
        // Loss beyond idle at each point: y = k1 P + q P².
        let mut losses = Vec::with_capacity(points.len());
        for &(load_w, efficiency) in points {
            let loss_w = load_w / efficiency - load_w;
            if loss_w < idle_w {
                return Err(CurveError::LossBelowIdle { load_w, efficiency, loss_w, idle_w });
            }
            losses.push((load_w, loss_w - idle_w));
        }
        let proportional = |known_quadratic: f64| {
            let (mut xy, mut xx) = (0.0, 0.0);
            for &(p, y) in &losses {
                xy += p * (y - known_quadratic * p * p);
                xx += p * p;
            }
            if xx > 0.0 { xy / xx } else { 0.0 }
        };
        let pure_quadratic = || {
            let (mut xy, mut xx) = (0.0, 0.0);
            for &(p, y) in &losses {
                xy += p * p * y;
                xx += math::powi(p, 4);
            }
            if xx > 0.0 { xy / xx } else { 0.0 }
        };
        let (linear, quadratic_per_w) = if losses.len() < 2 {
            let quadratic = TYPICAL_QUADRATIC / rated_w;
            let linear = proportional(quadratic);
            if linear >= 0.0 { (linear, quadratic) } else { (0.0, pure_quadratic()) }
        } else {
            let (mut s2, mut s3, mut s4, mut y1, mut y2) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for &(p, y) in &losses {
                s2 += p * p;
                s3 += math::powi(p, 3);
                s4 += math::powi(p, 4);
                y1 += p * y;
                y2 += p * p * y;
            }
            let determinant = s2 * s4 - s3 * s3;
            if determinant <= 1e-12 * s2 * s4 {
                (proportional(0.0), 0.0) // all points at one load
            } else {
                let linear = (y1 * s4 - y2 * s3) / determinant;
                let quadratic = (s2 * y2 - s3 * y1) / determinant;
                match (linear >= 0.0, quadratic >= 0.0) {
                    (true, true) => (linear, quadratic),
                    (false, _) => (0.0, pure_quadratic()),
                    (true, false) => (proportional(0.0), 0.0),
                }
            }
        };
        Ok(LossCurve { idle_w, linear, quadratic_per_w, ..LossCurve::IDEAL })
    }

    /// Power lost \[W\] at a load of mean `load_w` whose square varies within the hour by `variance_w2` about the mean's
    /// square (loads that cycle), idle draw counted.
    #[must_use]
    #[inline(always)]
    pub fn lost_w(&self, load_w: f64, variance_w2: f64) -> f64 {
        self.idle_w + self.lost_beyond_idle(load_w, variance_w2)
    }

    #[inline(always)]
    fn lost_beyond_idle(&self, load_w: f64, variance_w2: f64) -> f64 {
        let step_w = self.step_w * less(load_w * self.step_per_w, 1.0);
        self.linear * load_w + self.quadratic_per_w * (load_w * load_w + variance_w2) + step_w
    }

    /// Power drawn from the bus \[W\] for an AC load of mean `load_w` whose square varies within the hour by
    /// `variance_w2` about the mean's square (loads that cycle), idle draw not counted.
    #[must_use]
    pub fn drawn_beyond_idle(&self, load_w: f64, variance_w2: f64) -> f64 {
        load_w + self.lost_beyond_idle(load_w, variance_w2)
    }

    /// AC power over DC power at a steady load \[W\], idle draw counted; 0 for no load.
    #[must_use]
    pub fn efficiency(&self, load_w: f64) -> f64 {
        if load_w > 0.0 { load_w / (self.idle_w + self.drawn_beyond_idle(load_w, 0.0)) } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_passes_through_its_points() {
        let curve = LossCurve::from_points(600.0, 9.0, &[(300.0, 0.90)]).unwrap();
        assert!((curve.efficiency(300.0) - 0.90).abs() < 1e-12);
        let curve = LossCurve::from_points(600.0, 9.0, &[(60.0, 0.80), (500.0, 0.89)]).unwrap();
        assert!((curve.efficiency(60.0) - 0.80).abs() < 1e-12);
        assert!((curve.efficiency(500.0) - 0.89).abs() < 1e-12);
    }

    #[test]
    fn a_point_that_contradicts_the_idle_draw_is_refused() {
        let error = LossCurve::from_points(600.0, 12.0, &[(100.0, 0.95)]).unwrap_err();
        assert_eq!(
            error.to_string(),
            "at 100 W an efficiency of 95 % loses only 5.3 W, less than the idle draw of 12 W alone"
        );
    }

    #[test]
    fn coefficients_are_never_negative() {
        // One point with losses just above idle; two points that fall faster than a line.
        for points in [&[(300.0, 0.97)][..], &[(100.0, 0.80), (500.0, 0.95)], &[(100.0, 0.90), (500.0, 0.80)]] {
            let curve = LossCurve::from_points(600.0, 5.0, points).unwrap();
            assert!(curve.linear >= 0.0 && curve.quadratic_per_w >= 0.0, "{points:?}: {curve:?}");
        }
    }

    /// What is lost at a point beyond the idle draw of 5 W, as an efficiency.
    fn at(load_w: f64, beyond_idle_w: f64) -> (f64, f64) {
        (load_w, load_w / (load_w + 5.0 + beyond_idle_w))
    }

    fn through(points: &[(f64, f64)]) -> (f64, f64) {
        let curve = LossCurve::from_points(600.0, 5.0, points).unwrap();
        assert_eq!((curve.idle_w, curve.step_w, curve.step_per_w), (5.0, 0.0, 0.0));
        (curve.linear, curve.quadratic_per_w)
    }

    /// Least squares through the origin: k1 = Σ P y / Σ P² of a line, q = Σ P² y / Σ P⁴ of a parabola, by hand.
    #[test]
    fn where_one_coefficient_would_be_negative_the_other_follows_the_points_alone() {
        let near = |(linear, quadratic): (f64, f64), expected: (f64, f64)| {
            let off = |got: f64, expected: f64| (got - expected).abs() <= 1e-9 * expected;
            assert!(
                off(linear, expected.0) && off(quadratic, expected.1),
                "{linear}, {quadratic}, expected {expected:?}"
            );
        };
        // One point: 2 % of 600 W at full load are 0.75 W at 150 W. What is lost beyond that grows with the load ...
        near(through(&[at(150.0, 3.0)]), (2.25 / 150.0, 0.02 / 600.0));
        // ... and where less is lost, it is the square alone.
        near(through(&[at(150.0, 0.3)]), (0.0, 0.3 / 22_500.0));
        // Nothing beyond the idle draw is no contradiction.
        near(
            LossCurve::from_points(600.0, 0.0, &[(150.0, 1.0)]).map(|c| (c.linear, c.quadratic_per_w)).unwrap(),
            (0.0, 0.0),
        );
        // 1 W at 100 W and 36 W at 500 W rise more than squares do; of the two squares the larger load's counts most.
        near(through(&[at(100.0, 1.0), at(500.0, 36.0)]), (0.0, (1e4 * 1.0 + 25e4 * 36.0) / (1e8 + 625e8)));
        // 10 W at 100 W and 20 W at 500 W rise less than a line does.
        near(through(&[at(100.0, 10.0), at(500.0, 20.0)]), ((100.0 * 10.0 + 500.0 * 20.0) / (1e4 + 25e4), 0.0));
        // Two points at one load tell no square: the mean.
        near(through(&[at(200.0, 8.0), at(200.0, 12.0)]), (10.0 / 200.0, 0.0));
        // Two that a curve goes through.
        near(through(&[at(100.0, 3.0), at(400.0, 24.0)]), (0.02, 1e-4));
    }

    /// Gauss: what least squares leave is at right angles to both columns, Σ P r = 0 and Σ P² r = 0.
    #[test]
    fn three_points_leave_a_rest_that_no_coefficient_takes_up() {
        let losses = [(100.0, 3.5), (250.0, 10.0), (500.0, 36.0)];
        let (linear, quadratic) = through(&losses.map(|(p, y)| at(p, y)));
        assert!(linear > 0.0 && quadratic > 0.0);
        let left = losses.map(|(p, y)| (p, y - linear * p - quadratic * p * p));
        assert!(left.iter().any(|(_, r)| r.abs() > 0.1), "{left:?}");
        for power in [1, 2] {
            let sum: f64 = left.iter().map(|(p, r)| math::powi(p / 500.0, power) * r).sum();
            assert!(sum.abs() < 1e-9, "{sum}");
        }
    }

    /// By hand: 9 W idle, 5 % of 200 W, 1e-4 of 200² and of a variance of 3000 W², and a fan of 6 W that is on for 200 of 250 W.
    #[test]
    fn each_part_of_a_loss_has_its_own_share() {
        let curve =
            LossCurve { idle_w: 9.0, linear: 0.05, quadratic_per_w: 1e-4, step_w: 6.0, step_per_w: 1.0 / 250.0 };
        let beyond = 10.0 + 4.0 + 0.3 + 4.8;
        assert!((curve.lost_w(200.0, 3000.0) - (9.0 + beyond)).abs() < 1e-12);
        assert!((curve.drawn_beyond_idle(200.0, 3000.0) - (200.0 + beyond)).abs() < 1e-12);
        // Above its load the fan takes no more.
        assert!((curve.lost_w(300.0, 0.0) - (9.0 + 15.0 + 9.0 + 6.0)).abs() < 1e-12);
        assert!((curve.efficiency(300.0) - 300.0 / 339.0).abs() < 1e-12);
        assert_eq!(curve.efficiency(0.0), 0.0);
    }
}
