//! Addressed random streams.
//!
//! TrialSeed is addressed, not shared: `Stream::new(seed, trial, purpose)` always begins at the same place, whichever
//! thread asks and whatever was drawn before. Variants of a kit therefore meet the same weather and the same draws for loads
//! (common random numbers), and a single trial can be replayed alone.

pub mod lanes;
pub mod masks;
mod normal;
pub mod polynomials;
pub mod real;

use rand::rngs::Xoshiro256PlusPlus;
use rand::{Rng, SeedableRng};

use crate::math;

/// What a stream of random numbers is used for. The numbers are part of the promise that the same seed gives the same answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// When the outage begins, how long it lasts and how full the battery is then.
    Outage,
    /// Day-to-day and hour-to-hour sky and air temperature.
    Weather,
    /// Uncertain quantities of the station, drawn once per trial.
    Station,
    /// Systematic error of the climate data, drawn once per trial.
    Climate,
    /// Uncertain quantities of one array of panels, by its [`address`].
    Array(u64),
    /// What one load really draws and how its use varies from day to day, by its [`address`].
    Load(u64),
    /// What a car, water or the wind gives, by its [`address`].
    Source(u64),
    /// On which days and at which hours cuts come that differ from day to day, from a day of the year on.
    Cuts(u32),
}

impl Purpose {
    const fn code(self) -> u64 {
        match self {
            Purpose::Outage => 1,
            Purpose::Weather => 2,
            Purpose::Station => 3,
            Purpose::Climate => 4,
            Purpose::Cuts(day) => 7 | (day as u64) << 8,
            Purpose::Array(address) => 5 | address << 8,
            Purpose::Load(address) => 6 | address << 8,
            Purpose::Source(address) => 8 | address << 8,
        }
    }
}

/// Where the chance of something with a name is found, wherever it stands in the scenario: 56 bits of the FNV-1a hash (Fowler,
/// Noll & Vo) of the name, mixed. Of a thousand names, two share their random numbers once in 10^11.
#[must_use]
pub fn address(name: &str) -> u64 {
    let hash = name
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3));
    mix(hash) >> 8
}

/// One stream of random numbers: xoshiro256++ (Blackman & Vigna 2019), seeded by a hash of its address.
#[derive(Debug, Clone)]
pub struct Stream(Xoshiro256PlusPlus);

/// The finaliser of SplitMix64 (Steele, Lea & Flood 2014): a bijection of 64 bits that mixes every bit into every other.
const fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Stream {
    /// The stream of `trial` for one `purpose` under `seed`.
    #[inline]
    pub fn new(seed: u64, trial: u64, purpose: Purpose) -> Stream {
        const GOLDEN: u64 = 0x9e37_79b9_7f4a_7c15;
        let address =
            mix(mix(mix(seed.wrapping_add(GOLDEN)) ^ trial.wrapping_mul(GOLDEN)).wrapping_add(purpose.code()));
        let mut bytes = [0_u8; 32];
        for (word, chunk) in bytes.chunks_exact_mut(8).enumerate() {
            chunk.copy_from_slice(&mix(address.wrapping_add(GOLDEN.wrapping_mul(word as u64 + 1))).to_le_bytes());
        }
        Stream(Xoshiro256PlusPlus::from_seed(bytes))
    }

    /// A number from [0, 1), each of 2^53 equally spaced values equally likely.
    #[inline]
    pub fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 * (1.0 / (1_u64 << 53) as f64)
    }

    /// 64 random bits: a key for streams in lanes.
    #[inline]
    pub fn key(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// A standard normal number (ziggurat method, exact in distribution).
    #[inline]
    pub fn normal(&mut self) -> f64 {
        normal::next(self)
    }

    /// A Poisson number.
    ///
    /// * `mean` — 0 or more; nothing comes of less.
    pub fn poisson(&mut self, mean: f64) -> usize {
        // Uniform numbers are multiplied until less than e^-mean is left (Knuth 1969, The Art of Computer Programming, volume 2,
        // 3.4.1); a large mean is taken in parts, whose counts add up.
        const PART: f64 = 12.0;
        let (mut left, mut count) = (mean, 0);
        while left > 0.0 {
            let part = if left < PART { left } else { 0.5 * PART };
            let least = math::exp(-part);
            let mut product = self.uniform();
            while product > least {
                product *= self.uniform();
                count += 1;
            }
            left -= part;
        }
        count
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_address_gives_the_same_numbers() {
        let mut a = Stream::new(7, 4711, Purpose::Weather);
        let mut b = Stream::new(7, 4711, Purpose::Weather);
        assert!((0..100).all(|_| a.uniform() == b.uniform() && a.normal() == b.normal()));
    }

    #[test]
    fn neighbouring_addresses_are_unrelated() {
        // 20,000 pairs of independent uniforms: the correlation has standard error 0.0071; 5 of them is a false alarm
        // once in 1.7 million.
        for (name, other) in [
            ("trial", (7, 1, Purpose::Weather)),
            ("seed", (8, 0, Purpose::Weather)),
            ("purpose", (7, 0, Purpose::Load(0))),
        ] {
            let mut sum = 0.0;
            for k in 0..20_000 {
                let a = Stream::new(7, 2 * k, Purpose::Weather).uniform() - 0.5;
                let b = Stream::new(other.0, 2 * k + other.1, other.2).uniform() - 0.5;
                sum += a * b;
            }
            let correlation = sum / 20_000.0 * 12.0;
            assert!(correlation.abs() < 5.0 * 0.0071, "{name}: correlation {correlation}");
        }
    }

    #[test]
    fn normals_and_counts_are_those_of_another_implementation() {
        // `rand_distr` draws by the same methods; its tables were computed apart, its logarithm is another.
        use rand_distr::{Distribution, Poisson, StandardNormal};
        let mut ours = Stream::new(4, 7, Purpose::Weather);
        let mut theirs = ours.clone();
        for _ in 0..500_000 {
            let (a, b): (f64, f64) = (ours.normal(), StandardNormal.sample(&mut theirs.0));
            assert!((a - b).abs() < 2e-14 * b.abs(), "{a} for {b}");
        }
        for k in 0..20_000 {
            let mean = 0.0006 * f64::from(k);
            let expected = Poisson::new(mean).map_or(0.0, |counts| counts.sample(&mut theirs.0));
            assert_eq!(ours.poisson(mean), expected as usize, "mean {mean}");
        }
    }

    #[test]
    fn a_large_count_has_its_mean_for_a_variance() {
        let (mut stream, n, mean) = (Stream::new(4, 8, Purpose::Weather), 100_000.0, 40.5);
        let counts: Vec<f64> = (0..100_000).map(|_| stream.poisson(mean) as f64).collect();
        let found = counts.iter().sum::<f64>() / n;
        let variance = counts.iter().map(|count| (count - found) * (count - found)).sum::<f64>() / n;
        // Standard errors sqrt(mean/n) and, the fourth cumulant of a Poisson number being its mean, sqrt((mean + 2 mean²)/n); five.
        assert!((found - mean).abs() < 5.0 * (mean / n).sqrt(), "{found}");
        assert!((variance - mean).abs() < 5.0 * ((mean + 2.0 * mean * mean) / n).sqrt(), "{variance}");
    }

    #[test]
    fn normals_have_mean_0_and_variance_1() {
        let mut stream = Stream::new(1, 2, Purpose::Weather);
        let n = 200_000.0;
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..200_000 {
            let z = stream.normal();
            sum += z;
            squares += z * z;
        }
        // Standard errors: 1/sqrt(n) and sqrt(2/n); five of them.
        assert!((sum / n).abs() < 5.0 / n.sqrt());
        assert!((squares / n - 1.0).abs() < 5.0 * (2.0 / n).sqrt());
    }
}
