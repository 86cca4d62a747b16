//! One possible climate of a place: how its days differ from those of the best estimate.
//!
//! A climate that is drawn has another mean sun, its days are spread wider or closer about it, its darkest days are darker or
//! milder against the merely dull ones, and one day follows the other more or less faithfully. With u = K − μ and σ, γ the
//! standard deviation and skewness of the month's daily clearness K in the best estimate, a day's clearness becomes
//!
//! K′ = f (K + s₁ u + s₂ σ g), g = n ((u/σ)² − 1 − γ u/σ),
//!
//! where f is the factor on the mean, s₁ stretches the distribution about its mean, and s₂ moves its ends against its middle;
//! n gives g unit variance. 1, u and g are orthogonal, so that the month's mean stays f μ. Over records s₁ and s₂ together
//! take 72 % of what shapes differ by, two principal components 82 % (weather/README.md).

use super::climate::LEVELS;
use super::seasons::MidMonths;
use crate::math;
use crate::random::polynomials::{exp, less, more};
use crate::random::real::Real;

/// Figures of a month that are not known: logarithm of the mean, s₁, s₂, and the change of the inverse hyperbolic tangent of
/// the persistence.
pub const FIGURES: usize = 4;

/// Standard normal numbers behind a drawn climate: those of [`FIGURES`], of the hours' unrest, of the air, and of the chance of a
/// replayed record's years.
pub const NUMBERS: usize = FIGURES + 3;

/// Place of the air's number.
const AIR: usize = FIGURES + 1;

/// Codes of what the numbers stand for, in their order.
pub const NAMES: [&str; NUMBERS] = [
    "mean_sun",
    "spread_of_days",
    "darkest_days",
    "length_of_spells",
    "unrest_of_hours",
    "air_temperature",
    "luck_of_the_years",
];

/// No day is made darker than this, unless it was \[–\].
pub(super) const DARKEST: f64 = 0.012;
/// No day is made brighter than this, unless it was \[–\].
pub(super) const BRIGHTEST: f64 = 0.86;

/// How a drawn climate differs from the best estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawn {
    /// On every day's clearness \[–\]: f.
    pub factor: f64,
    /// s₁ \[–\].
    pub spread: f64,
    /// s₂ \[–\].
    pub tail: f64,
    /// Added to the inverse hyperbolic tangent of the persistence of days \[–\].
    pub persistence: f64,
    /// On the spread of hourly clearness within the day \[–\].
    pub unrest: f64,
    /// Added to the air temperature \[K\].
    pub air_k: f64,
    /// How much oftener a replayed record's brighter stretches are taken than its darker ones: on the logarithm of the odds, a
    /// standard deviation of their mean clearness \[–].
    pub tilt: f64,
}

impl Drawn {
    /// The best estimate itself.
    pub const BEST: Drawn =
        Drawn { factor: 1.0, spread: 0.0, tail: 0.0, persistence: 0.0, unrest: 1.0, air_k: 0.0, tilt: 0.0 };

    /// The best estimate with every day's clearness multiplied by a factor.
    #[must_use]
    pub fn scaled(factor: f64) -> Drawn {
        Drawn { factor, ..Drawn::BEST }
    }

    /// Between this and another, `part` of the way.
    #[must_use]
    pub fn towards(&self, other: &Drawn, part: f64) -> Drawn {
        let between = |a: f64, b: f64| a + part * (b - a);
        Drawn {
            factor: between(self.factor, other.factor),
            spread: between(self.spread, other.spread),
            tail: between(self.tail, other.tail),
            persistence: between(self.persistence, other.persistence),
            unrest: between(self.unrest, other.unrest),
            air_k: between(self.air_k, other.air_k),
            tilt: between(self.tilt, other.tilt),
        }
    }
}

/// The climates that histories side by side are drawn in.
#[derive(Debug, Clone, Copy)]
pub enum Climates<'a, const L: usize> {
    /// One a lane.
    Steady(&'a [Drawn; L]),
    /// Twelve a lane, that pass into each other from the middle of a month to the middle of the next.
    Monthly(&'a [[Drawn; 12]; L]),
}

impl<const L: usize> Climates<'_, L> {
    /// On a day of the year.
    pub(super) fn on(&self, day: usize) -> [Drawn; L] {
        match self {
            Climates::Steady(drawn) => **drawn,
            Climates::Monthly(months) => {
                let (a, b, part) = MidMonths::surround(day);
                std::array::from_fn(|l| months[l][a].towards(&months[l][b], part))
            }
        }
    }
}

impl Climates<'static, 1> {
    /// The best estimate itself.
    pub const BEST: Climates<'static, 1> = Climates::Steady(&[Drawn::BEST]);
}

/// How climates of a stretch of the year are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Drawing {
    /// Lower triangle whose product with the numbers gives the figures.
    pub(super) lower: [[f64; FIGURES]; FIGURES],
    /// Standard deviation of the logarithm of the unrest.
    pub(super) unrest: f64,
    /// Standard deviation of the air's mean \[K\].
    pub(super) air_k: f64,
    /// Standard deviation of the tilt.
    pub(super) tilt: f64,
}

impl Drawing {
    /// Which of the numbers move anything.
    #[must_use]
    pub fn counts(&self) -> [bool; NUMBERS] {
        std::array::from_fn(|k| match k {
            0..FIGURES => self.lower.iter().any(|row| row[k] != 0.0),
            FIGURES => self.unrest > 0.0,
            AIR => self.air_k > 0.0,
            _ => self.tilt > 0.0,
        })
    }

    /// Whether there is anything to draw.
    #[must_use]
    pub fn draws(&self) -> bool {
        self.counts().contains(&true)
    }

    /// The climate that belongs to standard normal numbers.
    #[must_use]
    #[inline(always)]
    pub fn drawn(&self, z: &[f64; NUMBERS]) -> Drawn {
        let mut theta = [0.0; FIGURES];
        for (k, row) in self.lower.iter().enumerate() {
            for j in 0..=k {
                theta[k] += row[j] * z[j];
            }
        }
        let tilt = self.tilt * z[AIR + 1];
        Drawn { tilt, ..drawn(theta, self.unrest * z[FIGURES], self.air_k * z[AIR]) }
    }
}

/// A climate from its figures.
///
/// * `theta` — the four [`FIGURES`]; `unrest` — logarithm of the factor; `air_k` — \[K\].
#[inline(always)]
pub(super) fn drawn(theta: [f64; FIGURES], unrest: f64, air_k: f64) -> Drawn {
    let [mean, spread, tail, persistence] = theta;
    Drawn {
        factor: exp(less(more(mean, -2.0), 2.0)),
        spread: less(more(spread, -0.8), 0.8),
        tail: less(more(tail, -0.5), 0.5),
        persistence,
        unrest: exp(less(more(unrest, -1.0), 1.0)),
        air_k,
        tilt: 0.0,
    }
}

/// Drawn climates side by side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lanes<R, const L: usize> {
    factor: [R; L],
    spread: [R; L],
    tail: [R; L],
    persistence: [R; L],
    unrest: [R; L],
    air_k: [R; L],
}

impl<R: Real, const L: usize> Lanes<R, L> {
    #[inline(always)]
    pub(super) fn new(of: &[Drawn; L]) -> Lanes<R, L> {
        let zero = [R::default(); L];
        let mut lanes = Lanes { factor: zero, spread: zero, tail: zero, persistence: zero, unrest: zero, air_k: zero };
        for l in 0..L {
            lanes.factor[l] = R::of(of[l].factor);
            lanes.spread[l] = R::of(of[l].spread);
            lanes.tail[l] = R::of(of[l].tail);
            lanes.persistence[l] = R::of(of[l].persistence);
            lanes.unrest[l] = R::of(of[l].unrest);
            lanes.air_k[l] = R::of(of[l].air_k);
        }
        lanes
    }

    /// Factors on the spread of the hours.
    #[inline(always)]
    pub(super) fn unrest(&self) -> &[R; L] {
        &self.unrest
    }

    /// Added to the air \[K\].
    #[inline(always)]
    pub(super) fn air_k(&self) -> &[R; L] {
        &self.air_k
    }

    /// Roots of the shares of spells and of the day's own number in the latent score, where they are `share` and what
    /// `slow` leaves.
    ///
    /// * `per_change` — what a small change of the inverse hyperbolic tangent of the persistence does to the share, as a
    ///   part of it.
    #[inline(always)]
    pub(super) fn weights(&self, share: f64, slow: f64, per_change: f64) -> ([R; L], [R; L]) {
        let (mut of_spells, mut own) = ([R::default(); L], [R::default(); L]);
        let (share, all, per_change) = (R::of(share), R::of((1.0 - slow).max(0.0)), R::of(per_change));
        for l in 0..L {
            let moved = less(more(share + share * per_change * self.persistence[l], R::default()), all);
            (of_spells[l], own[l]) = (moved.root(), (all - moved).root());
        }
        (of_spells, own)
    }

    /// A day's clearness in each drawn climate.
    #[inline(always)]
    pub(super) fn bend(&self, how: &Bend, clearness: &[R; L]) -> [R; L] {
        let (mean, darkest, brightest) = (R::of(how.mean), R::of(DARKEST), R::of(BRIGHTEST));
        let [square, line, level] = how.tail.map(R::of);
        let mut out = [R::default(); L];
        for l in 0..L {
            let k = clearness[l];
            let u = k - mean;
            let tail = (square * u + line) * u + level;
            let bent = self.factor[l] * (k + self.spread[l] * u + self.tail[l] * tail);
            out[l] = less(more(bent, less(k, darkest)), more(k, brightest));
        }
        out
    }
}

/// A distribution of daily clearness, ready to be bent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bend {
    /// μ.
    mean: f64,
    /// σ g as a polynomial in u: of u², u and 1.
    tail: [f64; 3],
}

/// Weights of the [`LEVELS`] in a mean, straight lines between them.
fn weights() -> [f64; LEVELS.len()] {
    let mut weights = [0.0; LEVELS.len()];
    for k in 1..LEVELS.len() {
        let half = 0.5 * (LEVELS[k] - LEVELS[k - 1]);
        weights[k - 1] += half;
        weights[k] += half;
    }
    weights
}

impl Bend {
    /// Of a distribution given by its quantiles at [`LEVELS`].
    pub(super) fn new(quantiles: &[f64; LEVELS.len()]) -> Bend {
        let weights = weights();
        let over = |of: &dyn Fn(f64) -> f64| quantiles.iter().zip(weights).map(|(&q, w)| w * of(q)).sum::<f64>();
        let mean = over(&|q| q);
        let sd = over(&|q| math::powi(q - mean, 2)).sqrt();
        if sd < 1e-4 {
            return Bend { mean, tail: [0.0; 3] };
        }
        let skew = over(&|q| math::powi((q - mean) / sd, 3));
        let fourth = over(&|q| math::powi((q - mean) / sd, 4));
        let left = fourth - 1.0 - skew * skew;
        let unit = if left > 1e-6 { 1.0 / left.sqrt() } else { 0.0 };
        Bend { mean, tail: [unit / sd, -unit * skew, -unit * sd] }
    }

    /// σ g at a clearness.
    fn tail_at(&self, clearness: f64) -> f64 {
        let u = clearness - self.mean;
        (self.tail[0] * u + self.tail[1]) * u + self.tail[2]
    }

    /// One day's clearness in a drawn climate.
    pub(super) fn bent(&self, drawn: &Drawn, clearness: f64) -> f64 {
        Lanes::<f64, 1>::new(&[*drawn]).bend(self, &[clearness])[0]
    }

    /// The quantiles of a drawn climate: rising, and their mean the factor times the old one.
    pub(super) fn table(&self, drawn: &Drawn, quantiles: &[f64; LEVELS.len()]) -> [f64; LEVELS.len()] {
        let bent = quantiles.map(|q| self.bent(drawn, q));
        settled(bent, drawn.factor * self.mean)
    }

    /// The figures by which another distribution differs from this one: logarithm of the mean's ratio, s₁ and s₂; and what
    /// they leave over, by level, for a mean like this one's.
    pub(super) fn told_by(&self, own: &[f64; LEVELS.len()], other: &[f64; LEVELS.len()]) -> [f64; 3] {
        let weights = weights();
        let mean = other.iter().zip(weights).map(|(q, w)| w * q).sum::<f64>().max(1e-6);
        let ratio = mean / self.mean;
        let (mut along, mut square, mut tail, mut unit) = (0.0, 0.0, 0.0, 0.0);
        for k in 0..LEVELS.len() {
            let (u, g, apart) = (own[k] - self.mean, self.tail_at(own[k]), other[k] / ratio - own[k]);
            along += weights[k] * apart * u;
            square += weights[k] * u * u;
            tail += weights[k] * apart * g;
            unit += weights[k] * g * g;
        }
        let over = |a: f64, b: f64| if b > 1e-12 { a / b } else { 0.0 };
        [math::ln(ratio), over(along, square), over(tail, unit)]
    }
}

/// Makes levels rise and gives them a mean, within what days can be.
pub(super) fn settled(mut levels: [f64; LEVELS.len()], mean: f64) -> [f64; LEVELS.len()] {
    let weights = weights();
    let top = levels.iter().copied().fold(BRIGHTEST, f64::max);
    let mut least = 0.0_f64;
    for level in &mut levels {
        least = least.max(*level);
        *level = least;
    }
    // What the bounds cut off is given to the rest: a few rounds settle it.
    for _ in 0..20 {
        let now: f64 = levels.iter().zip(weights).map(|(q, w)| w * q).sum();
        if now <= 0.0 || (now / mean - 1.0).abs() < 1e-12 {
            break;
        }
        levels = levels.map(|q| (q * mean / now).clamp(0.0, top));
    }
    levels
}

#[cfg(test)]
mod tests;
