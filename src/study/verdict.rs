//! A word before the number: what a range of survival means for somebody who has to decide.
//!
//! The steps are read off the calibrated words of the guidance note for authors of the fifth assessment of the climate panel
//! (Mastrandrea et al. 2010, table 1): extremely likely from 95 %, likely from 66 %, more likely than not above 50 %. There they
//! stand for one probability; here the lower end of the range has its say too.

use serde::Serialize;

use super::fit::Overload;
use super::fuel::FuelTaken;
use crate::trials::interval::Interval;
use crate::trials::unknowns::Survival;

/// How far an answer can be relied on, the best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The lower end of the range reaches [`SURE`].
    CountOnIt,
    /// The best estimate reaches [`LIKELY`], and the lower end a half.
    Likely,
    /// Neither the one nor the other.
    TossUp,
    /// The best estimate lies below a half.
    DoNotCount,
}

/// Survival that the lower end must reach to be counted on, 0 to 1.
pub const SURE: f64 = 0.95;
/// Survival that the best estimate must reach to be likely.
pub const LIKELY: f64 = 0.66;
/// As often as not: what is below is not to be counted on, however wide its range.
pub const EVEN: f64 = 0.5;

/// What hangs on an answer beside its range.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stakes {
    /// Whether a person's health hangs on a load: then the lower end of the range stands for the best estimate.
    pub medical: bool,
    /// Whether vital loads overload their outlet, which trials do not know of: nothing is to be counted on.
    pub overloaded: bool,
    /// Whether the start of a vital load may switch its outlet off, as far as anybody has told: nothing is to be counted on for sure.
    pub may_stop: bool,
    /// Fuel that is taken never to end: where nobody knows how much it takes, nothing is to be counted on for sure.
    pub fuel: FuelTaken,
}

impl Stakes {
    /// Of a kit's loads, the outlets that switch off and its generator's fuel.
    #[must_use]
    pub fn of(medical: bool, overloads: &[Overload], fuel: FuelTaken) -> Stakes {
        let overloaded = overloads.iter().any(Overload::stops);
        let may_stop = overloads.iter().any(|overload| overload.vital && !overload.certain);
        Stakes { medical, overloaded, may_stop, fuel }
    }
}

impl Verdict {
    /// All of them, the best first.
    pub const ALL: [Verdict; 4] = [Verdict::CountOnIt, Verdict::Likely, Verdict::TossUp, Verdict::DoNotCount];

    /// The verdict on a share of outages.
    ///
    /// * `estimate` — best estimate, 0 to 1; `interval` — 95 % range about it, what is not known counted.
    #[must_use]
    pub fn of(estimate: f64, interval: Interval, stakes: Stakes) -> Verdict {
        let low = interval.low;
        let estimate = if stakes.medical { low.min(estimate) } else { estimate };
        if stakes.overloaded || estimate < EVEN {
            Verdict::DoNotCount
        } else if low >= SURE && stakes.fuel != FuelTaken::Unmeasured && !stakes.may_stop {
            Verdict::CountOnIt
        } else if estimate >= LIKELY && low >= EVEN {
            Verdict::Likely
        } else {
            Verdict::TossUp
        }
    }

    /// The verdict by estimate and range, whatever the range holds.
    #[must_use]
    pub fn by_range(survival: &Survival, stakes: Stakes) -> Verdict {
        Verdict::of(survival.probability, survival.interval, stakes)
    }

    /// The verdict on a survival. Where a person's health hangs on it, a range of chance alone, into which nothing of what is not known
    /// went, is not counted on for sure.
    #[must_use]
    pub fn on(survival: &Survival, stakes: Stakes) -> Verdict {
        let by_range = Verdict::by_range(survival, stakes);
        if survival.chance_alone && stakes.medical { by_range.max(Verdict::Likely) } else { by_range }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(low: f64, estimate: f64, high: f64) -> Verdict {
        Verdict::of(estimate, Interval { low, high }, Stakes::default())
    }

    #[test]
    fn every_threshold_belongs_to_the_better_side() {
        // The bounds of Mastrandrea et al. 2010, table 1: 95, 66 and 50 %.
        assert_eq!(of(0.95, 0.97, 0.99), Verdict::CountOnIt);
        assert_eq!(of(0.949, 0.97, 0.99), Verdict::Likely);
        assert_eq!(of(0.5, 0.66, 0.8), Verdict::Likely);
        assert_eq!(of(0.499, 0.66, 0.8), Verdict::TossUp);
        assert_eq!(of(0.5, 0.659, 0.8), Verdict::TossUp);
        assert_eq!(of(0.1, 0.5, 0.9), Verdict::TossUp);
        // A wide range earns no better word than a narrow one about the same estimate.
        assert_eq!(of(0.1, 0.499, 0.95), Verdict::DoNotCount);
        assert_eq!(of(0.45, 0.499, 0.55), Verdict::DoNotCount);
    }

    #[test]
    fn where_health_hangs_on_it_a_range_of_chance_alone_is_never_sure() {
        let survival = |probability: f64, low: f64, chance_alone: bool| {
            let interval = Interval { low, high: 1.0 };
            let (shares, held) = (Vec::new(), Vec::new());
            Survival { probability, interval, chance: interval, chance_alone, trials: 1_000, shares, held }
        };
        let medical = Stakes { medical: true, ..Stakes::default() };
        let on = |chance_alone, p, low| Verdict::on(&survival(p, low, chance_alone), medical);
        assert_eq!([on(false, 1.0, 0.996), on(true, 1.0, 0.996)], [Verdict::CountOnIt, Verdict::Likely]);
        assert_eq!(Verdict::on(&survival(1.0, 0.996, true), Stakes::default()), Verdict::CountOnIt);
        // It makes nothing better.
        assert_eq!(on(true, 0.6, 0.55), Verdict::TossUp);
        assert_eq!(on(true, 0.0, 0.0), Verdict::DoNotCount);
    }

    #[test]
    fn better_numbers_never_make_a_worse_verdict() {
        let steps = || (0..=20).map(|k| f64::from(k) / 20.0);
        for (low, estimate, high) in
            steps().flat_map(|low| steps().flat_map(move |p| steps().map(move |high| (low, p, high))))
        {
            if low <= estimate && estimate <= high {
                let worse = of((low - 0.05).max(0.0), (estimate - 0.05).max(0.0), (high - 0.05).max(0.0));
                assert!(of(low, estimate, high) <= worse, "{low} {estimate} {high}");
            }
        }
    }

    #[test]
    fn health_is_judged_by_the_lower_end_and_an_overload_by_nothing() {
        let wide = Interval { low: 0.6, high: 0.99 };
        let medical = Stakes { medical: true, ..Stakes::default() };
        assert_eq!(Verdict::of(0.9, wide, Stakes::default()), Verdict::Likely);
        assert_eq!(Verdict::of(0.9, wide, medical), Verdict::TossUp);
        assert_eq!(Verdict::of(0.9, Interval { low: 0.3, high: 0.99 }, medical), Verdict::DoNotCount);
        for medical in [false, true] {
            let overloaded = Stakes { medical, overloaded: true, ..Stakes::default() };
            assert_eq!(Verdict::of(1.0, Interval { low: 1.0, high: 1.0 }, overloaded), Verdict::DoNotCount);
        }
    }

    #[test]
    fn fuel_that_nobody_can_reckon_leaves_nothing_to_count_on() {
        let sure = |fuel| Verdict::of(0.99, Interval { low: 0.97, high: 1.0 }, Stakes { fuel, ..Stakes::default() });
        assert_eq!(sure(FuelTaken::Told), Verdict::CountOnIt);
        assert_eq!(sure(FuelTaken::UpTo { most_l: 2.5 }), Verdict::CountOnIt);
        assert_eq!(sure(FuelTaken::Unmeasured), Verdict::Likely);
        // Nor a start that the outlet may not bear.
        let start = Stakes { may_stop: true, ..Stakes::default() };
        assert_eq!(Verdict::of(0.99, Interval { low: 0.97, high: 1.0 }, start), Verdict::Likely);
        // It makes nothing else worse, and nothing better.
        let unsure = Stakes { fuel: FuelTaken::Unmeasured, ..Stakes::default() };
        assert_eq!(Verdict::of(0.7, Interval { low: 0.6, high: 0.8 }, unsure), Verdict::Likely);
        assert_eq!(Verdict::of(0.4, Interval { low: 0.3, high: 0.5 }, unsure), Verdict::DoNotCount);
    }
}
