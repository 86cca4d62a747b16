//! A car, running water and the wind that charge the station beside sun and wall.

use super::cells::Lane;
use super::trial::TrialSeed;
use crate::loads::coverage;
use crate::math;
use crate::random::{Purpose, Stream, address};
use crate::scenario::model::{Gives, PowerSource};
use crate::statistics::normal_cdf;

/// Correlation of the scores behind the wind of two hours in a row: half of what a day's calm or gale tells is left after 14 hours.
/// Typical; no source at hand (records of hours have 0.85 to 0.95 and more).
const WIND_KEPT_AN_HOUR: f64 = 0.95;

/// Where nobody has told how sure a mean wind is, it lies between this share of it and all of it, evenly: maps tell what blows over
/// open land, and among houses and trees half of it is common. Common practice, no source.
const LEAST_SHELTERED: f64 = 0.5;

/// What is at hand from all sources, or what was taken of it \[W\]: at the bus, and at the sources.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Plugged {
    /// Arriving at the bus.
    pub bus_w: f64,
    /// What the sources give for it.
    pub drawn_w: f64,
}

impl Plugged {
    /// So much of it at the bus, and what the sources give for that.
    #[must_use]
    pub fn of(&self, bus_w: f64) -> Plugged {
        let taken_w = bus_w.min(self.bus_w);
        let drawn_w = if self.bus_w > 0.0 { taken_w * (self.drawn_w / self.bus_w) } else { 0.0 };
        Plugged { bus_w: taken_w, drawn_w }
    }
}

/// What a source gives.
#[derive(Debug, Clone, PartialEq)]
pub struct SourcePlan {
    /// What to call it.
    pub name: String,
    /// What kind it is of, and what that gives.
    pub gives: Gives,
    /// The address of its random stream.
    stream: u64,
    /// Share of each step of the day in which it runs.
    runs: Vec<f64>,
    /// Power arriving at the bus over what it gives.
    efficiency: f64,
}

impl SourcePlan {
    pub(super) fn new(source: &PowerSource, steps_a_day: usize) -> SourcePlan {
        SourcePlan {
            name: source.name.clone(),
            gives: source.gives.clone(),
            stream: address(&source.name),
            runs: if source.hours.is_empty() { vec![1.0; steps_a_day] } else { coverage(&source.hours, steps_a_day) },
            efficiency: source.efficiency.0,
        }
    }

    /// All of a scenario, in an order that does not hang on the file's.
    pub(super) fn all(sources: &[PowerSource], steps_a_day: usize) -> Vec<SourcePlan> {
        let mut plans: Vec<SourcePlan> = sources.iter().map(|source| SourcePlan::new(source, steps_a_day)).collect();
        plans.sort_by(|a, b| a.name.cmp(&b.name));
        plans
    }

    /// Code of what is not known of it, where something is not.
    pub(super) fn unknown(&self) -> Option<&'static str> {
        match &self.gives {
            Gives::Car { watts, .. } | Gives::Water { watts } => (watts.standard() > 0.0).then_some("source_watts"),
            Gives::Wind { mean, told, .. } => (!told || mean.standard() > 0.0).then_some("mean_wind"),
        }
    }

    /// Watts of a car or of water, or the mean wind \[m/s\], that belong to a standard normal number.
    fn level(&self, z: f64) -> f64 {
        match &self.gives {
            Gives::Car { watts, .. } | Gives::Water { watts } => (watts.value.0 + watts.standard() * z).max(0.0),
            Gives::Wind { mean, told: true, .. } => (mean.value.0 + mean.standard() * z).max(0.0),
            Gives::Wind { mean, told: false, .. } => {
                mean.value.0 * (LEAST_SHELTERED + (1.0 - LEAST_SHELTERED) * normal_cdf(z))
            }
        }
    }
}

/// Wind that belongs to a standard normal score \[m/s\]: Rayleigh's distribution (Weibull's with a shape of 2), whose mean is told.
///
/// `P(v > x) = exp(−π/4 (x/mean)²)` (IEC 61400-1; any handbook of wind power).
pub(crate) fn wind_m_s(mean_m_s: f64, score: f64) -> f64 {
    let above = normal_cdf(-score).max(f64::MIN_POSITIVE);
    mean_m_s * (-4.0 / std::f64::consts::PI * math::ln(above)).max(0.0).sqrt()
}

/// Watts by a curve of wind \[m/s\] and watts, straight between its points; nothing below the first and above the last.
pub(crate) fn by_curve(curve: &[(f64, f64)], wind_m_s: f64) -> f64 {
    match curve {
        [(first, _), .., (last, _)] if (*first..=*last).contains(&wind_m_s) => math::along(curve, wind_m_s),
        [(only, watts)] if *only == wind_m_s => *watts,
        _ => 0.0,
    }
}

/// The sources of each lane.
#[derive(Debug)]
pub(super) struct Sources<const L: usize> {
    /// By source, then lane.
    rng: Vec<Vec<Stream>>,
    /// Watts of a car or of water, mean wind \[m/s\].
    level: Vec<[f64; L]>,
    /// The score of the present wind.
    score: Vec<[f64; L]>,
    /// What is at hand in each step of the day.
    now: Vec<[Plugged; L]>,
    /// Taken so far \[W × steps\].
    taken: [Plugged; L],
    /// Of that, in the last step; at the bus \[W\].
    pub took_w: [f64; L],
    /// Bus power from wall and sources before the step \[W × steps\].
    before: [f64; L],
    /// Whether parts of the step were booked one after another.
    parted: [bool; L],
}

impl<const L: usize> Default for Sources<L> {
    fn default() -> Sources<L> {
        Sources {
            rng: Vec::new(),
            level: Vec::new(),
            score: Vec::new(),
            now: Vec::new(),
            taken: [Plugged::default(); L],
            took_w: [0.0; L],
            before: [0.0; L],
            parted: [false; L],
        }
    }
}

impl<const L: usize> Sources<L> {
    /// As the weather begins; the normal numbers behind what is not known are added to `unknowns`.
    pub(super) fn begin(&mut self, plans: &[SourcePlan], trials: &[TrialSeed; L], unknowns: &mut [Vec<f64>]) {
        (self.taken, self.took_w) = ([Plugged::default(); L], [0.0; L]);
        self.rng.resize_with(plans.len(), Vec::new);
        self.level.clear();
        self.score.clear();
        for (plan, rng) in plans.iter().zip(&mut self.rng) {
            rng.clear();
            rng.extend(trials.iter().map(|trial| trial.stream(Purpose::Source(plan.stream))));
            let (mut level, mut score) = ([plan.level(0.0); L], [0.0; L]);
            for (l, rng) in rng.iter_mut().enumerate() {
                if plan.unknown().is_some() {
                    let z = rng.normal();
                    unknowns[l].push(z);
                    level[l] = plan.level(z);
                }
                if matches!(plan.gives, Gives::Wind { .. }) {
                    score[l] = rng.normal();
                }
            }
            self.level.push(level);
            self.score.push(score);
        }
    }

    /// Draws what they give on the next day.
    pub(super) fn day(&mut self, plans: &[SourcePlan], step_h: f64) {
        let kept = math::exp(step_h * math::ln(WIND_KEPT_AN_HOUR));
        let fresh = (1.0 - kept * kept).sqrt();
        self.now.clear();
        self.now.resize(plans.first().map_or(0, |plan| plan.runs.len()), [Plugged::default(); L]);
        for (k, plan) in plans.iter().enumerate() {
            for (l, rng) in self.rng[k].iter_mut().enumerate() {
                let level = self.level[k][l];
                let driven = match &plan.gives {
                    Gives::Car { on_days, .. } => rng.uniform() < on_days.0,
                    _ => true,
                };
                for (now, runs) in self.now.iter_mut().zip(&plan.runs) {
                    let watts = match &plan.gives {
                        Gives::Wind { curve, .. } => {
                            self.score[k][l] = kept * self.score[k][l] + fresh * rng.normal();
                            by_curve(curve, wind_m_s(level, self.score[k][l]))
                        }
                        _ if driven => level,
                        _ => 0.0,
                    };
                    now[l].drawn_w += watts * runs;
                    now[l].bus_w += watts * runs * plan.efficiency;
                }
            }
        }
    }

    /// What is at hand in a step of the day, in lane `l`.
    pub(super) fn at(&self, at: usize, l: usize) -> Plugged {
        self.now.get(at).map_or(Plugged::default(), |now| now[l])
    }

    /// Notes what came from wall and sources before a step.
    pub(super) fn before(&mut self, lane: &Lane<L>) {
        (self.before, self.took_w, self.parted) = (*lane.wall_sum(), [0.0; L], [false; L]);
    }

    /// Books what a part of a step took of wall and sources.
    ///
    /// * `share` — how long it lasted, in steps; `bus_w` — what was taken meanwhile, as a mean.
    pub(super) fn book_part(&mut self, at: usize, l: usize, (share, bus_w): (f64, f64)) {
        self.parted[l] = true;
        self.book(at, l, (share, bus_w));
    }

    /// As [`Sources::book_part`]: of the sources first.
    fn book(&mut self, at: usize, l: usize, (share, bus_w): (f64, f64)) {
        let taken = self.at(at, l).of(bus_w);
        self.taken[l].bus_w += share * taken.bus_w;
        self.taken[l].drawn_w += share * taken.drawn_w;
        self.took_w[l] += share * taken.bus_w;
    }

    /// Books what a step took as a whole where it had no parts.
    pub(super) fn after(&mut self, at: usize, lane: &Lane<L>) {
        let parted = self.parted;
        for l in (0..L).filter(|&l| !parted[l]) {
            self.book(at, l, (1.0, lane.wall_sum()[l] - self.before[l]));
        }
    }

    /// What was taken so far \[W × steps\].
    pub(super) fn taken(&self, l: usize) -> Plugged {
        self.taken[l]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::normal_quantile;
    use crate::units::{MetresPerSecond, Uncertain, Watts};

    fn wind(mean: f64, curve: Vec<(f64, f64)>, told: bool) -> SourcePlan {
        let gives = Gives::Wind { mean: Uncertain::exact(MetresPerSecond(mean)), told, curve };
        SourcePlan { name: "mast".into(), gives, stream: 7, runs: vec![1.0; 24], efficiency: 1.0 }
    }

    #[test]
    fn winds_have_rayleighs_moments() {
        // Mean and mean cube of Rayleigh's distribution: 1, and 6/π of the cube of the mean (the energy pattern factor of 1.91 of the
        // handbooks, from memory; closed form). By the middles of 200,000 equal shares; the last ones miss a little of the cube.
        let n = 200_000;
        let (mut mean, mut cube) = (0.0, 0.0);
        for k in 0..n {
            let v = wind_m_s(4.0, normal_quantile((f64::from(k) + 0.5) / f64::from(n)));
            mean += v / f64::from(n);
            cube += v * v * v / f64::from(n);
        }
        assert!((mean / 4.0 - 1.0).abs() < 1e-4, "{mean}");
        assert!((cube / (64.0 * 6.0 / std::f64::consts::PI) - 1.0).abs() < 1e-3, "{cube}");
        // Half of all hours have less than 0.939 of the mean: sqrt(4 ln 2 / π).
        assert!((wind_m_s(1.0, 0.0) - (4.0 * std::f64::consts::LN_2 / std::f64::consts::PI).sqrt()).abs() < 1e-9);
    }

    #[test]
    fn a_year_of_wind_gives_what_the_curve_gives_of_rayleighs_winds() {
        let curve = vec![(3.0, 0.0), (6.0, 60.0), (12.0, 400.0), (20.0, 400.0)];
        // The integral of curve times density, by the middles of steps of a millimetre a second.
        let density =
            |v: f64| std::f64::consts::FRAC_PI_2 * v / 25.0 * math::exp(-std::f64::consts::FRAC_PI_4 * v * v / 25.0);
        let expected: f64 =
            (0..25_000).map(|k| f64::from(k) * 1e-3 + 5e-4).map(|v| by_curve(&curve, v) * density(v) * 1e-3).sum();
        let plans = [wind(5.0, curve, true)];
        let mut sources = Sources::<1>::default();
        let (mut sum, mut count, mut pairs, mut squares) = (0.0, 0.0, 0.0, 0.0);
        for trial in 0..40 {
            sources.begin(&plans, &[TrialSeed { seed: 5, trial }], &mut [Vec::new()]);
            let mut before: Option<f64> = None;
            for _ in 0..365 {
                sources.day(&plans, 1.0);
                for at in 0..24 {
                    let watts = sources.at(at, 0).drawn_w;
                    if let Some(before) = before {
                        pairs += (watts - expected) * (before - expected);
                        squares += (watts - expected) * (watts - expected);
                    }
                    before = Some(watts);
                    sum += watts;
                    count += 1.0;
                }
            }
        }
        // Watts scatter by 1.315 of their mean, and 33.9 hours stand for one (worked out apart, by Hermite's polynomials up to the 39th):
        // the mean of 350,400 has a standard deviation of 1.29 %.
        assert!((sum / count / expected - 1.0).abs() < 0.039, "{} {expected}", sum / count);
        // From one hour to the next they keep 0.934 where scores keep 0.95.
        let kept = pairs / squares;
        assert!((kept - 0.934).abs() < 0.01, "{kept}");
    }

    #[test]
    fn a_mean_of_which_nobody_told_how_sure_it_is_is_never_exceeded() {
        let plan = wind(4.0, vec![(3.0, 0.0), (10.0, 100.0)], false);
        assert_eq!(plan.unknown(), Some("mean_wind"));
        assert!((plan.level(0.0) - 3.0).abs() < 1e-9);
        assert!((plan.level(-9.0) - 2.0).abs() < 1e-9 && (plan.level(9.0) - 4.0).abs() < 1e-9);
        assert_eq!(wind(4.0, Vec::new(), true).unknown(), None);
    }

    #[test]
    fn curves_are_straight_between_points_and_end() {
        let curve = [(3.0, 0.0), (5.0, 20.0), (12.0, 300.0)];
        assert_eq!([2.9, 3.0, 4.0, 5.0, 12.0, 12.1].map(|v| by_curve(&curve, v)), [0.0, 0.0, 10.0, 20.0, 300.0, 0.0]);
    }

    #[test]
    fn a_car_is_driven_on_as_many_days_as_told() {
        let gives = Gives::Car { watts: Uncertain::exact(Watts(100.0)), on_days: crate::units::Fraction(0.3) };
        let plans = [SourcePlan { name: "van".into(), gives, stream: 9, runs: vec![1.0; 24], efficiency: 0.8 }];
        let mut sources = Sources::<2>::default();
        let trials = [0, 1].map(|trial| TrialSeed { seed: 5, trial });
        sources.begin(&plans, &trials, &mut [Vec::new(), Vec::new()]);
        let mut days = 0.0;
        for _ in 0..10_000 {
            sources.day(&plans, 1.0);
            assert!([0.0, 80.0].contains(&sources.at(7, 0).bus_w));
            days += sources.at(7, 0).drawn_w / 100.0;
        }
        // Binomial: 3,000 with a standard deviation of 46.
        assert!((days - 3_000.0_f64).abs() < 4.0 * 46.0, "{days}");
    }

    #[test]
    fn what_is_taken_is_taken_of_the_sources_first_and_no_more_than_there_is() {
        let there = Plugged { bus_w: 40.0, drawn_w: 50.0 };
        assert_eq!(there.of(16.0), Plugged { bus_w: 16.0, drawn_w: 20.0 });
        assert_eq!(there.of(90.0), there);
        assert_eq!(Plugged::default().of(16.0), Plugged::default());
        let mut sources = Sources::<2> { now: vec![[there; 2]; 2], ..Sources::default() };
        let lane = Lane::<2>::default();
        sources.before(&lane);
        // A quarter of a step with 16 W, and half of one with more than there is; the other lane takes the step as a whole, and nothing.
        sources.book_part(1, 0, (0.25, 16.0));
        sources.book_part(1, 0, (0.5, 90.0));
        sources.after(1, &lane);
        assert_eq!((sources.taken(0), sources.taken(1)), (Plugged { bus_w: 24.0, drawn_w: 30.0 }, Plugged::default()));
        assert_eq!(sources.took_w, [24.0, 0.0]);
        assert_eq!(sources.at(2, 0), Plugged::default());
        sources.before(&lane);
        assert_eq!((sources.took_w, sources.taken(0).bus_w), ([0.0, 0.0], 24.0));
    }
}
