//! How one day's sky hangs together with the next.
//!
//! The latent score of a day is z = √a h(x) + √s y + √(1 − a − s) w. x is a standard normal AR(1) with coefficient φ
//! (spells of weather, days to a week), y a standard normal number kept for the whole history (a dull or a bright month
//! as a whole), w fresh every day. h(x) = (e^(κx) − e^(κ²/2)) / √(e^(κ²)(e^(κ²) − 1)) has mean 0 and variance 1: with
//! κ > 0 bright spells differ among each other and last, while dull ones are all alike, so that bright days follow
//! bright days more faithfully than dark follow dark. κ = 0 gives h(x) = x, a Gaussian copula.
//!
//! z has distribution F, and S = Φ⁻¹(F(z)) is the day's normal score. With m(x) = E\[S | x\] and its Hermite coefficients
//! c_j the lag-n correlation of S is Σ c_j² φ^(jn) + s (Mehler's formula, 1866; s enters as for a Gaussian).

use crate::math;
use crate::random::real::Real;
use crate::statistics::{normal_cdf, normal_quantile};

/// Nodes of tables over z, from −[`EDGE`] to [`EDGE`].
pub(super) const NODES: usize = 97;
pub(super) const NODES_PER_UNIT: f64 = 8.0;
pub(super) const EDGE: f64 = 6.0;

/// Largest share of the spells: the rest leaves the distribution smooth.
const MOST_SHARE: f64 = 0.85;
/// Hermite polynomials in use.
const ORDERS: usize = 9;
/// Scores beyond this are cut in statistics, as those of a record of a few hundred days a month are.
const MOST_SCORE: f64 = 2.88;

/// The shape h of the spells, ready for use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shape {
    settled: f64,
    offset: f64,
    scale: f64,
}

impl Shape {
    /// * `settled` — κ, 0..=1; values below 0.001 count as 0.
    pub(super) fn new(settled: f64) -> Shape {
        if settled < 1e-3 {
            return Shape { settled: 0.0, offset: 0.0, scale: 1.0 };
        }
        let square = math::exp(settled * settled);
        Shape { settled, offset: square.sqrt(), scale: 1.0 / (square * (square - 1.0)).sqrt() }
    }

    /// h(x).
    pub(super) fn at(&self, x: f64) -> f64 {
        if self.settled == 0.0 { x } else { (math::exp(self.settled * x) - self.offset) * self.scale }
    }

    /// h(x) in lanes, by polynomials.
    #[inline(always)]
    pub(super) fn lanes<R: Real, const L: usize>(&self, x: &[R; L]) -> [R; L] {
        if self.settled == 0.0 {
            return *x;
        }
        let (settled, offset, scale) = (R::of(self.settled), R::of(self.offset), R::of(self.scale));
        let mut out = [R::default(); L];
        for l in 0..L {
            out[l] = ((settled * x[l]).exp() - offset) * scale;
        }
        out
    }

    /// Correlation of h of two normal numbers with correlation `r`: (e^(κ²r) − 1)/(e^(κ²) − 1).
    fn correlation(&self, r: f64) -> f64 {
        let k2 = self.settled * self.settled;
        if self.settled == 0.0 { r } else { (math::exp(k2 * r) - 1.0) / (math::exp(k2) - 1.0) }
    }

    /// The correlation of normal numbers whose h have correlation `c`.
    fn inverse_correlation(&self, c: f64) -> f64 {
        let k2 = self.settled * self.settled;
        if self.settled == 0.0 { c } else { math::ln(1.0 + c * (math::exp(k2) - 1.0)) / k2 }
    }

    /// Correlation of h(x) with x itself: κ/√(e^(κ²) − 1).
    pub(super) fn linear(&self) -> f64 {
        let k = self.settled;
        if k == 0.0 { 1.0 } else { k / (math::exp(k * k) - 1.0).sqrt() }
    }
}

/// A month's spells.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Spells {
    pub shape: Shape,
    /// φ of x.
    pub phi: f64,
    /// a, the share of the spells in the variance.
    pub share: f64,
    /// s, the share of the slow part.
    pub slow: f64,
    /// F at the nodes.
    pub cdf: [f64; NODES],
}

/// What a month's days are asked to show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Wanted {
    /// Lag-1 autocorrelation of normal scores.
    pub persistence: f64,
    /// Lag-2 over lag-1 autocorrelation, the slow part taken off both.
    pub memory: f64,
    /// κ.
    pub settled: f64,
    /// s.
    pub slow: f64,
}

/// Distribution function of z at the nodes.
fn cdf_of(shape: Shape, share: f64) -> [f64; NODES] {
    let rest = (1.0 - share).max(0.02).sqrt();
    let mut cdf = [0.0; NODES];
    let (step, root) = (0.1, share.sqrt());
    let mut weights = 0.0;
    for k in -60..=60 {
        let x = f64::from(k) * step;
        let weight = math::exp(-0.5 * x * x);
        let centre = root * shape.at(x);
        weights += weight;
        for (node, value) in cdf.iter_mut().enumerate() {
            let z = (node as f64 / NODES_PER_UNIT - EDGE - centre) / rest;
            // Beyond seven standard deviations the tail adds less than a rounding error.
            *value += weight
                * if z < -7.0 {
                    0.0
                } else if 7.0 < z {
                    1.0
                } else {
                    normal_cdf(z)
                };
        }
    }
    cdf.map(|value| value / weights)
}

/// Hermite coefficients of E\[S|x\] and of E\[S²|x\].
fn coefficients(shape: Shape, share: f64, cdf: &[f64; NODES]) -> ([f64; ORDERS], [f64; ORDERS]) {
    let scores = cdf.map(|p| normal_quantile(p.clamp(1e-12, 1.0 - 1e-12)).clamp(-MOST_SCORE, MOST_SCORE));
    let score = |z: f64| {
        let at = (z.clamp(-EDGE, EDGE) + EDGE) * NODES_PER_UNIT;
        let k = (at as usize).min(NODES - 2);
        scores[k] + (at - k as f64) * (scores[k + 1] - scores[k])
    };
    let (root, rest) = (share.sqrt(), (1.0 - share).max(0.02).sqrt());
    let normal: Vec<(f64, f64)> =
        (-40..=40).map(|k| f64::from(k) * 0.125).map(|x| (x, math::exp(-0.5 * x * x))).collect();
    let total: f64 = normal.iter().map(|(_, weight)| weight).sum();
    let (mut first, mut second) = ([0.0; ORDERS], [0.0; ORDERS]);
    for &(x, weight) in &normal {
        let (mut mean, mut square) = (0.0, 0.0);
        for &(w, part) in normal.iter().step_by(2) {
            let s = score(root * shape.at(x) + rest * w);
            mean += part * s;
            square += part * s * s;
        }
        let half: f64 = total / 2.0;
        let (mean, square) = (mean / half, square / half);
        // Normalised Hermite polynomials: √(j+1) H_{j+1} = x H_j − √j H_{j−1}.
        let (mut before, mut now) = (0.0, 1.0);
        for order in 0..ORDERS {
            first[order] += weight / total * mean * now;
            second[order] += weight / total * square * now;
            let j = order as f64;
            let next = (x * now - j.sqrt() * before) / (j + 1.0).sqrt();
            (before, now) = (now, next);
        }
    }
    (first, second)
}

impl Spells {
    /// The spells that show what is wanted, as nearly as they can: correlations below the slow share cannot be met.
    pub(super) fn fit(wanted: Wanted) -> Spells {
        let shape = Shape::new(wanted.settled);
        let slow = wanted.slow;
        let target = (wanted.persistence - slow).clamp(0.0, 0.9 - slow);
        // φ such that h's correlations at lags 2 and 1 have the wanted ratio.
        let mut phi = Spells::phi_for(shape, wanted.memory);
        let mut share = 0.0;
        let mut asked = target;
        for _ in 0..6 {
            let c = shape.correlation(phi).max(asked / MOST_SHARE.min(1.0 - slow)).min(0.97);
            phi = shape.inverse_correlation(c);
            share = (asked / c).clamp(0.0, 1.0 - slow);
            if wanted.settled < 1e-3 || target <= 0.0 {
                break;
            }
            let (first, _) = coefficients(shape, share, &cdf_of(shape, share));
            let got: f64 = first.iter().enumerate().skip(1).map(|(j, c)| c * c * math::powi(phi, j as i32)).sum();
            if (got - target).abs() < 5e-4 || got <= 0.0 {
                break;
            }
            asked = (asked * target / got).clamp(0.0, 0.9);
        }
        Spells { shape, phi, share, slow, cdf: cdf_of(shape, share) }
    }

    fn phi_for(shape: Shape, memory: f64) -> f64 {
        let ratio = |phi: f64| shape.correlation(phi * phi) / shape.correlation(phi);
        let (mut low, mut high) = (0.02, 0.97);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if ratio(middle) < memory { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }

    /// Third-order dependence E\[S0 S1 (S0 + S1)\]/2: 0 for a Gaussian copula, above it where bright spells last.
    pub(super) fn lean(&self) -> f64 {
        let (first, second) = coefficients(self.shape, self.share, &self.cdf);
        (1..ORDERS).map(|j| first[j] * second[j] * math::powi(self.phi, j as i32)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Purpose, Stream};

    /// Scores of pairs of days, drawn.
    fn pairs(spells: &Spells, count: usize) -> Vec<(f64, f64)> {
        let mut rng = Stream::new(5, 0, Purpose::Weather);
        let score = |x: f64, y: f64, w: f64| {
            let z = spells.share.sqrt() * spells.shape.at(x)
                + spells.slow.sqrt() * y
                + (1.0 - spells.share - spells.slow).max(0.0).sqrt() * w;
            let at = (z.clamp(-EDGE, EDGE) + EDGE) * NODES_PER_UNIT;
            let k = (at as usize).min(NODES - 2);
            let p = spells.cdf[k] + (at - k as f64) * (spells.cdf[k + 1] - spells.cdf[k]);
            normal_quantile(p.clamp(1e-9, 1.0 - 1e-9))
        };
        let mut out = Vec::new();
        for _ in 0..count {
            let (x, y) = (rng.normal(), rng.normal());
            let next = spells.phi * x + (1.0 - spells.phi * spells.phi).sqrt() * rng.normal();
            out.push((score(x, y, rng.normal()), score(next, y, rng.normal())));
        }
        out
    }

    #[test]
    fn spells_show_the_wanted_persistence_on_normal_margins() {
        for settled in [0.0, 0.3, 0.7] {
            let wanted = Wanted { persistence: 0.38, memory: 0.5, settled, slow: 0.02 };
            let spells = Spells::fit(wanted);
            let n = 200_000;
            let drawn = pairs(&spells, n);
            let mean = |of: &dyn Fn(&(f64, f64)) -> f64| drawn.iter().map(of).sum::<f64>() / n as f64;
            // Standard errors of a mean, a variance and a correlation of n values; five of them. The third-order
            // moment has a standard deviation of about 2.
            let error = 5.0 / (n as f64).sqrt();
            assert!(mean(&|p| p.0).abs() < error);
            assert!((mean(&|p| p.0 * p.0) - 1.0).abs() < 1.5 * error);
            let lag = mean(&|p| p.0 * p.1);
            assert!((lag - 0.38).abs() < error + 0.005, "settled {settled}: {lag}");
            let lean = mean(&|p| p.0 * p.1 * (p.0 + p.1)) / 2.0;
            assert!((lean - spells.lean()).abs() < 2.0 * error + 0.01, "settled {settled}: {lean} {}", spells.lean());
        }
    }

    #[test]
    fn a_gaussian_copula_needs_no_correction() {
        let spells = Spells::fit(Wanted { persistence: 0.3, memory: 0.5, settled: 0.0, slow: 0.0 });
        assert!((spells.share * spells.phi - 0.3).abs() < 1e-9 && (spells.phi - 0.5).abs() < 1e-9);
        for (node, p) in spells.cdf.iter().enumerate() {
            assert!((p - normal_cdf(node as f64 / NODES_PER_UNIT - EDGE)).abs() < 1e-9);
        }
        assert!(spells.lean().abs() < 1e-6);
    }
}
