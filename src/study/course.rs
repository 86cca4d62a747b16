//! The course of outages: how many still ride through after each hour, single ones to look at, their nights and their sun.

use super::outage::OutageAnswer;
use crate::engine::{History, Observer, Onset, Plan, Season, StepView, TrialSeed, Workspace};
use crate::statistics::{normal_cdf, normal_quantile, quantile};
use crate::trials::interval::Interval;
use crate::trials::run::each;
use crate::trials::tally::Tally;
use crate::trials::unknowns::{ENOUGH, survival_under};
use crate::weather::Opening;

/// Share of outages that have failed nothing so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Riding {
    /// Hours since the lights went out.
    pub after_h: f64,
    /// Share of all outages, 0 to 1; one that ended whole counts as riding through from then on.
    pub share: f64,
    /// Its 95 % interval, of chance and of what is not known.
    pub interval: Interval,
}

/// Hours at which the part of the range that is not chance is read off the trials; between them it is interpolated.
const READ_AT: usize = 6;

/// Share riding through after each step, from the beginning to the last step of the longest outage. The last entry is the
/// answer's own survival with its own range.
///
/// What is not known moves early and late failures differently: how far is read off the trials at some of the hours, as in
/// [`crate::trials::unknowns`], and taken as straight between them on the probit scale. With fewer than
/// [`ENOUGH`] trials these say too little, and the whole range's reach on that scale holds for every hour.
#[must_use]
pub fn riding(plan: &Plan, answer: &OutageAnswer) -> Vec<Riding> {
    let tally = &answer.tally;
    let steps = tally.fan.steps().max(tally.failure_step.len());
    let mut failed = 0;
    let survived: Vec<u64> = (0..steps)
        .map(|step| {
            failed += u64::from(tally.failure_step.get(step).copied().unwrap_or(0));
            tally.trials - failed
        })
        .collect();
    let whole = Reach::of(answer.survival.probability, answer.survival.interval, tally.trials);
    // With the last failure the answer is there, however long some outages go on.
    let last = tally.failure_step.len().saturating_sub(1);
    let few = tally.trials < ENOUGH || last < READ_AT;
    let knots: Vec<usize> = if few { Vec::new() } else { (1..READ_AT).map(|k| last * k / READ_AT).collect() };
    let read = |&step: &usize| (step, reach_after(plan, tally, step, survived[step]));
    let mut reaches: Vec<(usize, Reach)> = each(&knots, read);
    reaches.push((last, whole));
    let mut out: Vec<Riding> = survived
        .iter()
        .enumerate()
        .map(|(step, &survived)| {
            let share = survived as f64 / tally.trials as f64;
            let interval = Reach::at(&reaches, step).around(share, tally.trials);
            Riding { after_h: (step + 1) as f64 * plan.season.step_h, share, interval }
        })
        .collect();
    // To the last digit: the way there and back over the probit scale rounds.
    out.iter_mut().skip(last).for_each(|riding| riding.interval = answer.survival.interval);
    // Who rides through longer has ridden through until then: no end of a range lies below that of a later hour.
    for at in (1..out.len()).rev() {
        let later = out[at].interval;
        let interval = &mut out[at - 1].interval;
        *interval = Interval { low: interval.low.max(later.low), high: interval.high.max(later.high) };
    }
    let first = Riding { after_h: 0.0, share: 1.0, interval: Interval { low: 1.0, high: 1.0 } };
    std::iter::once(first).chain(out).collect()
}

/// How far a range reaches from its estimate on the probit scale, downwards and upwards.
#[derive(Debug, Clone, Copy)]
struct Reach(f64, f64);

impl Reach {
    /// On the probit scale; half a trial stands for an end that has no finite place there.
    fn probit(p: f64, trials: u64) -> f64 {
        let half = 0.5 / trials.max(1) as f64;
        normal_quantile(p.clamp(half, 1.0 - half))
    }

    fn of(share: f64, interval: Interval, trials: u64) -> Reach {
        let at = |p: f64| Reach::probit(p, trials);
        Reach(at(share) - at(interval.low), at(interval.high) - at(share))
    }

    /// Of the step, among some in order.
    fn at(reaches: &[(usize, Reach)], step: usize) -> Reach {
        let next = reaches.partition_point(|(at, _)| *at < step).min(reaches.len() - 1);
        let (to, after) = reaches[next];
        let Some(&(from, before)) = next.checked_sub(1).and_then(|k| reaches.get(k)) else { return after };
        let part = (step.saturating_sub(from)) as f64 / (to - from).max(1) as f64;
        let between = |a: f64, b: f64| a + part.min(1.0) * (b - a);
        Reach(between(before.0, after.0), between(before.1, after.1))
    }

    fn around(self, share: f64, trials: u64) -> Interval {
        let at = Reach::probit(share, trials);
        Interval { low: normal_cdf(at - self.0).min(share), high: normal_cdf(at + self.1).max(share) }
    }
}

fn reach_after(plan: &Plan, tally: &Tally, step: usize, survived: u64) -> Reach {
    let outcomes: Vec<bool> = tally.failed_at.iter().map(|&at| at as usize > step).collect();
    let until = survival_under(plan, survived, tally.trials, &tally.margin, &outcomes, &tally.unknowns);
    Reach::of(until.probability, until.interval, tally.trials)
}

/// A trial of the run, to look at.
#[derive(Debug, Clone, PartialEq)]
pub struct Single {
    /// Its number; `--trace` tells all of it.
    pub trial: u64,
    /// Share of the trials that went worse, 0 to 1.
    pub rank: f64,
    /// Whether it was ridden through.
    pub survived: bool,
    /// Charge after each step of its outage, 0 to 1.
    pub charge: Vec<f64>,
}

/// Ranks of the trials that are looked at: a bad one, a middling and a good one.
pub const RANKS: [f64; 3] = [0.1, 0.5, 0.9];

struct Levels(Vec<f64>);

impl Observer for Levels {
    fn step(&mut self, _: usize, view: &StepView<'_>) {
        self.0.push(view.balance.stored_wh / view.rig.capacity_wh);
    }
}

/// Three trials of a run: those at [`RANKS`] when the first trials of it ([`crate::trials::tally::MOST_UNKNOWN_ROWS`]) are
/// put in the order of how clearly they survived, of equals the first.
#[must_use]
pub fn singles(plan: &Plan, answer: &OutageAnswer) -> Vec<Single> {
    let margins = &answer.tally.margin;
    let mut order: Vec<usize> = (0..margins.len()).collect();
    order.sort_by(|&a, &b| margins[a].total_cmp(&margins[b]).then(a.cmp(&b)));
    let Some(last) = order.len().checked_sub(1) else { return Vec::new() };
    let mut workspace = Workspace::new();
    RANKS
        .into_iter()
        .map(|rank| {
            let trial = order[(rank * last as f64) as usize] as u64;
            let rng = TrialSeed { seed: answer.settings.seed, trial };
            let history = workspace.begin(&plan.season, rng);
            let mut levels = Levels(Vec::with_capacity(history.steps));
            let outcome = workspace.run(plan, rng, &history, &mut levels);
            Single { trial, rank, survived: outcome.survived, charge: levels.0 }
        })
        .collect()
}

/// The middle day of those on which outages begin, and the step in which they do where it is one.
#[must_use]
pub fn begins(season: &Season) -> (u32, Option<usize>) {
    match season.outage.onset {
        Onset::At { day, step } => (day, Some(step)),
        Onset::AnyOf { first_day, days } => ((first_day + days / 2) % 365, None),
    }
}

/// Stretches of a day without any sun above the horizon \[h since midnight\], by whole steps.
#[must_use]
pub fn nights(season: &Season, day: u32) -> Vec<(f64, f64)> {
    let dark = season.weather.extraterrestrial_w_m2(day).iter().map(|watts| *watts <= 0.0);
    let mut out: Vec<(f64, f64)> = Vec::new();
    for (step, _) in dark.enumerate().filter(|(_, dark)| *dark) {
        let (from, to) = (step as f64 * season.step_h, (step + 1) as f64 * season.step_h);
        match out.last_mut() {
            Some((_, end)) if (*end - from).abs() < 1e-9 => *end = to,
            _ => out.push((from, to)),
        }
    }
    out
}

/// The sun of some days, global on the horizontal \[kWh/m² a day\].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sun {
    /// Quantiles at 5, 25, 50, 75 and 95 of 100.
    pub quantiles: [f64; 5],
    /// How many days or outages these are of.
    pub of: usize,
}

impl Sun {
    fn of(mut values: Vec<f64>) -> Sun {
        values.sort_by(f64::total_cmp);
        Sun { quantiles: [0.05, 0.25, 0.5, 0.75, 0.95].map(|p| quantile(&values, p)), of: values.len() }
    }
}

/// The sun of a run's outages and of the place.
#[derive(Debug, Clone, PartialEq)]
pub struct Suns {
    /// Any day of such a season, however it begins.
    pub usual: Sun,
    /// The days that outages touch, the first being that on which the lights go out; as many as half of the outages have.
    pub days: Vec<Sun>,
    /// The darkest of an outage's days, and the mean of them.
    pub darkest: Sun,
    /// See `darkest`.
    pub mean: Sun,
}

/// Outages whose sun is looked at: quantiles at 5 and 95 of 100 rest on ten each.
const LOOKED_AT: u64 = 200;
/// Most days told one by one.
const MOST_DAYS: usize = 5;

/// The sun of the first outages of a run, and of the same days where no storm is asked for.
#[must_use]
pub fn suns(plan: &Plan, answer: &OutageAnswer) -> Suns {
    let season = &plan.season;
    let daily = |workspace: &Workspace, history: &History| -> Vec<f64> {
        let whole = workspace.weather().ghi_w_m2.chunks_exact(season.steps_a_day).take(history.days);
        whole.map(|day| day.iter().sum::<f64>() * season.step_h / 1000.0).collect()
    };
    let mut workspace = Workspace::new();
    let (mut outages, mut usual) = (Vec::new(), Vec::new());
    for trial in 0..LOOKED_AT.min(answer.tally.trials) {
        let rng = TrialSeed { seed: answer.settings.seed, trial };
        let history = workspace.begin(season, rng);
        outages.push(daily(&workspace, &history));
        if season.opening != Opening::Any {
            let history = workspace.begin_with(season, &Opening::Any, rng);
            usual.extend(daily(&workspace, &history));
        }
    }
    if season.opening == Opening::Any {
        usual = outages.concat();
    }
    let day = |k: usize| outages.iter().filter_map(|days| days.get(k).copied()).collect::<Vec<f64>>();
    let days = (0..MOST_DAYS).map(day).take_while(|days| 2 * days.len() >= outages.len()).map(Sun::of).collect();
    let least = |days: &Vec<f64>| days.iter().copied().fold(f64::INFINITY, f64::min);
    let mean = |days: &Vec<f64>| days.iter().sum::<f64>() / days.len().max(1) as f64;
    Suns {
        usual: Sun::of(usual),
        days,
        darkest: Sun::of(outages.iter().map(least).collect()),
        mean: Sun::of(outages.iter().map(mean).collect()),
    }
}
