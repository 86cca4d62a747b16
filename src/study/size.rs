//! What is the smallest kit that reaches a target?
//!
//! Over a grid of batteries and numbers of panels, in whole strings wired as the scenario's. On one trial's random numbers more battery or more panels never make a surviving
//! kit fail, so each trial is walked once along the staircase between failing and surviving cells, in about as many
//! simulations as there are rows and columns, and every cell of the grid is counted. (A rule that switches loads off by
//! charge can break that order by a little; the cells of the frontier are therefore simulated by themselves afterwards, and
//! it is those answers that are given.)

mod largest;

use super::fit::overloads;
use super::fuel::FuelTaken;
use super::rare::rare_failure;
use super::verdict::Stakes;
use crate::engine::Plan;
use crate::engine::lanes::{self, Chunks};
use crate::scenario::model::{Choice, Scenario, Size};
use crate::scenario::size::count_name;
use crate::trials::interval::Interval;
use crate::trials::run::{Progress, each, waiting};
use crate::trials::unknowns::{ENOUGH, Survival, moved, survival_under, survivals};
use crate::trials::{Settings, Tally, run};
pub use largest::{Account, Lack, Largest};

/// The counted grid and the kits that reach the target.
#[derive(Debug, Clone)]
pub struct Sizing {
    /// Batteries, smallest first.
    pub batteries: Vec<Choice>,
    /// Numbers of panels, fewest first; whole strings alone.
    pub panels: Vec<Choice>,
    /// How the panels are wired, and what the input takes of them.
    pub wiring: Wiring,
    /// The scenario's own kit in the grid, by panels and battery; none where the grid does not hold it.
    pub own: Option<(usize, usize)>,
    /// Money of the prices.
    pub currency: String,
    /// Survival that the lower end of the range must reach.
    pub target: f64,
    /// Trials that survived, by panels and battery.
    pub survived: Vec<Vec<u64>>,
    /// Lower end of each cell's 95 % range, chance and what is not known together, by panels and battery, 0 to 1; read off fewer
    /// trials than those counted, but for the frontier's. Empty where the run was stopped before.
    pub lows: Vec<Vec<f64>>,
    /// Trials of the grid.
    pub trials: u64,
    /// Trials that were asked for.
    pub asked: u64,
    /// Whether kits were judged against the target; where not, the frontier is empty for want of an answer.
    pub judged: bool,
    /// The smallest battery for each number of panels that reaches the target, cells that cost both more battery and more
    /// panels than another left out; fewest panels first.
    pub frontier: Vec<SizedKit>,
    /// The largest kit, where none reaches the target; none where the run was stopped before it was looked at.
    pub largest: Option<Largest>,
    /// The cheapest kit of the frontier, where all its cells have a price.
    pub cheapest: Option<SizedKit>,
    /// The lightest, where all have a weight.
    pub lightest: Option<SizedKit>,
    /// The least kit for other targets: what reliability costs. Holds the targets that were worked out before a stop.
    pub ladder: Vec<(f64, Option<SizedKit>)>,
    /// Whether the run was stopped before all of this was worked out.
    pub stopped_early: bool,
}

/// How the panels of the grid are wired.
#[derive(Debug, Clone, PartialEq)]
pub struct Wiring {
    /// Panels in series in a string, 1 or more.
    pub series: u32,
    /// Numbers of panels that were asked for and make no whole strings, left out.
    pub left_out: Vec<u32>,
    /// Power of one panel \[W\].
    pub panel_w: f64,
    /// Power of the panels of all other arrays at its input \[W\].
    pub others_w: f64,
    /// What the solar input takes \[W\].
    pub input_w: f64,
    /// The most panels whose current the input takes as well; infinite where amps do not limit it.
    pub most_by_amps: f64,
}

impl Wiring {
    fn of(plan: &Plan, series: u32, left_out: Vec<u32>) -> Wiring {
        let amps = |watts: f64, volts: f64| if volts.is_finite() { watts / volts } else { 0.0 };
        let first = plan.arrays.first();
        let input = first.map_or(0, |array| array.input);
        let others = || plan.arrays.iter().skip(1).filter(|array| array.input == input);
        let amps_max = plan.inputs.get(input).map_or(f64::INFINITY, |window| window.amps_max);
        let own_w = first.map_or(0.0, |array| array.rated_w);
        // Of the limits that the panels share with others the one that leaves least.
        let [of_input, of_all] = plan.beside_at_inputs_w(0);
        let (beside_w, input_w) = if of_input.1 - of_input.0 < of_all.1 - of_all.0 { of_input } else { of_all };
        let others_a: f64 = others().map(|array| amps(array.rated_w, array.string_v)).sum();
        let one = plan.arrays.first().map_or(0.0, |array| amps(array.panel_w, array.string_v));
        Wiring {
            series,
            left_out,
            panel_w: plan.arrays.first().map_or(0.0, |array| array.panel_w),
            others_w: beside_w - own_w,
            input_w,
            most_by_amps: if one > 0.0 { ((amps_max - others_a) / one).max(0.0) } else { f64::INFINITY },
        }
    }

    /// Whether so many panels can make more than the solar input takes.
    #[must_use]
    pub fn beyond_the_input(&self, panels: f64) -> bool {
        panels > 0.0
            && (self.others_w + panels * self.panel_w > self.input_w + 1e-9 || panels > self.most_by_amps + 1e-9)
    }
}

/// One cell of the grid, simulated by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct SizedKit {
    /// Index of the battery.
    pub battery: usize,
    /// Index of the number of panels.
    pub panels: usize,
    /// Its survival.
    pub survival: Survival,
    /// Its price, where both parts have one.
    pub price: Option<f64>,
    /// Its weight \[kg\], where both parts have one.
    pub weight_kg: Option<f64>,
}

/// From this target on plain trials see too few failures: cells are judged by random numbers that lean towards dark weather.
pub const RARE_FROM: f64 = 0.999;

/// Puts the rare failure of a cell in the place of what plain trials say of it.
///
/// Leaning trials sharpen the part of chance; what is not known widens the range as far beyond chance as in plain trials, on
/// the probit scale. A cell whose plain range does not reach the rare targets is not lifted there by leaning ones, so that a
/// higher target never asks for less.
fn judge_rare(answer: &mut Survival, plan: &Plan, settings: &Settings, progress: &dyn Progress) {
    if let Some(rare) = rare_failure(plan, settings, progress) {
        let plain = answer.clone();
        answer.probability = 1.0 - rare.failure;
        answer.chance = Interval { low: 1.0 - rare.interval.high, high: 1.0 - rare.interval.low };
        answer.interval = Interval {
            low: moved(answer.chance.low, plain.chance.low, plain.interval.low).min(answer.chance.low),
            high: moved(answer.chance.high, plain.chance.high, plain.interval.high).max(answer.chance.high),
        };
        if plain.interval.low < RARE_FROM {
            answer.interval.low = answer.interval.low.min(plain.interval.low);
        }
        answer.trials = rare.trials();
    }
}

/// Targets of the ladder.
const LADDER: [f64; 4] = [0.80, 0.90, 0.95, 0.99];

/// Batteries and numbers of panels around the scenario's own, for a scenario that names none.
fn choices(scenario: &Scenario) -> (Vec<Choice>, Vec<Choice>) {
    let plain = |name: String, amount: f64| Choice { name, amount, price: None, weight_kg: None };
    let rated = scenario.station.rated_capacity.value.0;
    let batteries = [0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0].map(|f| plain(format!("{:.0} Wh", f * rated), f * rated));
    let (own, series) = scenario.panels.first().map_or((0, 1), |panel| (panel.count(), panel.series));
    let panels =
        (0..=2 * (own / series) + 2).map(|strings| strings * series).map(|n| plain(count_name(n), f64::from(n)));
    (batteries.to_vec(), if scenario.panels.is_empty() { vec![plain(count_name(0), 0.0)] } else { panels.collect() })
}

/// Chooses. `None` where the run was stopped before a single trial was done.
pub fn size(
    scenario: &Scenario,
    plan: &Plan,
    target: Option<f64>,
    settings: &Settings,
    progress: &dyn Progress,
) -> Option<Sizing> {
    let (own_batteries, own_panels) = choices(scenario);
    let given = scenario.size.clone().unwrap_or(Size {
        target: crate::units::Fraction(0.95),
        currency: String::new(),
        batteries: Vec::new(),
        panels: Vec::new(),
    });
    let batteries = if given.batteries.is_empty() { own_batteries } else { given.batteries };
    let series = scenario.panels.first().map_or(1, |panel| panel.series);
    let whole = |choice: &Choice| (choice.amount as u32).is_multiple_of(series);
    let (whole, part): (Vec<Choice>, Vec<Choice>) = given.panels.into_iter().partition(whole);
    let left_out = if plan.arrays.is_empty() { Vec::new() } else { part.iter().map(|c| c.amount as u32).collect() };
    let panels = if whole.is_empty() || plan.arrays.is_empty() { own_panels } else { whole };
    let rated = scenario.station.rated_capacity.value.0;
    let cell = |p: usize, b: usize| sized(plan, panels[p].amount, batteries[b].amount / rated);
    let grid: Vec<Vec<Plan>> = (0..panels.len()).map(|p| (0..batteries.len()).map(|b| cell(p, b)).collect()).collect();
    let (survived, trials) = staircase(plan, &grid, settings, progress);
    if trials == 0 {
        return None;
    }
    let target = target.unwrap_or(given.target.0);
    let own_count = scenario.panels.first().map_or(0.0, |panel| f64::from(panel.count()));
    let near = |amount: f64, own: f64| (amount - own).abs() <= 1e-3 * own;
    let own_panels = panels.iter().position(|choice| near(choice.amount, own_count));
    let own = own_panels.zip(batteries.iter().position(|choice| near(choice.amount, rated)));
    let mut sizing = Sizing {
        batteries,
        panels,
        wiring: Wiring::of(plan, series, left_out),
        own,
        currency: given.currency,
        target,
        survived,
        lows: Vec::new(),
        trials,
        asked: settings.trials,
        judged: false,
        frontier: Vec::new(),
        largest: None,
        cheapest: None,
        lightest: None,
        ladder: Vec::new(),
        stopped_early: true,
    };
    // Kits are judged by a whole grid alone.
    let whole = trials >= settings.trials;
    let Some(frontier) = whole.then(|| sizing.reach(&grid, target, settings, progress)).flatten() else {
        return Some(sizing);
    };
    (sizing.frontier, sizing.judged) = (frontier, true);
    if sizing.frontier.is_empty() {
        let (p, b) = (sizing.panels.len() - 1, sizing.batteries.len() - 1);
        let amounts = (sizing.panels[p].amount, sizing.batteries[b].amount / rated);
        let medical = scenario.medical();
        let stakes = Stakes::of(medical, &overloads(scenario, plan), FuelTaken::of(scenario, plan));
        let kit = |survival: Survival| sizing.kit((p, b), survival);
        let found = largest::largest((scenario, plan), kit, amounts, (target, stakes), settings, progress);
        let Some(found) = found else { return Some(sizing) };
        sizing.largest = Some(found);
    }
    let Some(lows) = sizing.lower_ends(&grid, settings, progress) else { return Some(sizing) };
    sizing.lows = lows;
    sizing.cheapest = least_of(&sizing.frontier, |kit| kit.price).cloned();
    sizing.lightest = least_of(&sizing.frontier, |kit| kit.weight_kg).cloned();
    for rung in LADDER {
        let kits = if (rung - target).abs() < 1e-12 {
            Some(sizing.frontier.clone())
        } else {
            sizing.reach(&grid, rung, settings, progress)
        };
        let Some(kits) = kits else { return Some(sizing) };
        sizing.ladder.push((rung, least_kit(&kits).cloned()));
    }
    sizing.stopped_early = false;
    Some(sizing)
}

/// The kit of which something is least; none where it is not known of all.
fn least_of(kits: &[SizedKit], of: fn(&SizedKit) -> Option<f64>) -> Option<&SizedKit> {
    let all = kits.iter().map(|kit| of(kit).map(|v| (v, kit))).collect::<Option<Vec<_>>>()?;
    all.into_iter().min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, kit)| kit)
}

/// The kit that is named first of several that suffice: the cheapest where all have a price, else the one with the least battery.
fn least_kit(kits: &[SizedKit]) -> Option<&SizedKit> {
    least_of(kits, |kit| kit.price).or_else(|| kits.iter().min_by_key(|kit| (kit.battery, kit.panels)))
}

/// The plan with another number of panels in its first array and another battery.
fn sized(plan: &Plan, panels: f64, battery: f64) -> Plan {
    let mut plan = plan.clone();
    plan.kit.scale *= battery;
    if let Some(array) = plan.arrays.first_mut() {
        let factor = panels * array.panel_w / array.rated_w;
        array.rated_w *= factor;
        array.rated_w_sd *= factor;
    }
    plan
}

/// Counts the survivors of every cell: by panels, then battery.
fn staircase(plan: &Plan, grid: &[Vec<Plan>], settings: &Settings, progress: &dyn Progress) -> (Vec<Vec<u64>>, u64) {
    const ROUND: u64 = 2000;
    let (rows, columns) = (grid.len(), grid.first().map_or(0, Vec::len));
    let mut counts = vec![vec![0_u64; columns]; rows];
    let mut done = 0;
    while done < settings.trials && !progress.stop() {
        let until = settings.trials.min(done + ROUND);
        let waiting = waiting(&plan.season, settings.seed, done..until);
        let order = lanes::arrange(&waiting);
        let parts = each(&lanes::batches(&waiting, &order), |batch| {
            let mut part = vec![vec![0_u64; columns]; rows];
            // The row above the trial's present cell, and its column.
            let mut stairs = vec![(rows, 0); waiting.len()];
            let mut chunks: Chunks = Chunks::default();
            chunks.walk(plan, &waiting, batch, &mut |trial, last| {
                let (above, battery) = &mut stairs[(trial.rng.trial - done) as usize];
                match last {
                    Some(outcome) if outcome.survived => {
                        *above -= 1;
                        part[*above][*battery..].iter_mut().for_each(|count| *count += 1);
                    }
                    Some(_) => *battery += 1,
                    None => {}
                }
                grid[..*above].last()?.get(*battery)
            });
            part
        });
        for part in parts {
            for (sum, row) in counts.iter_mut().zip(part) {
                for (sum, count) in sum.iter_mut().zip(row) {
                    *sum += count;
                }
            }
        }
        done = until;
        progress.done(done);
    }
    (counts, done)
}

/// What a cell that is known to fall short of the target is told below it at least.
const SHORT: f64 = 1e-6;

/// Most trials that the lower ends of the grid are read off.
const READ_OFF: u64 = 2_000;

impl Sizing {
    /// The lower end of every cell's range; `None` where the run was stopped before.
    fn lower_ends(&self, grid: &[Vec<Plan>], settings: &Settings, progress: &dyn Progress) -> Option<Vec<Vec<f64>>> {
        let few = Settings { trials: settings.trials.clamp(ENOUGH, READ_OFF), precision: None, ..*settings };
        let plans: Vec<Plan> = grid.iter().flatten().cloned().collect();
        let tallies = run(&plans, &few, progress);
        if progress.stop() {
            return None;
        }
        let low = |(k, (plan, tally)): (usize, (&Plan, &Tally))| {
            let survived = self.survived[k / self.batteries.len()][k % self.batteries.len()];
            survival_under(plan, survived, self.trials, &tally.margin, &tally.survival, &tally.unknowns).interval.low
        };
        let all: Vec<f64> = plans.iter().zip(&tallies).enumerate().map(low).collect();
        let mut lows: Vec<Vec<f64>> = all.chunks(self.batteries.len()).map(<[f64]>::to_vec).collect();
        // Whether a cell reaches the target is known from all trials: fewer say no other.
        for (p, row) in lows.iter_mut().enumerate() {
            for (b, low) in row.iter_mut().enumerate() {
                *low = if self.suffices(p, b) { low.max(self.target) } else { low.min(self.target - SHORT) };
            }
        }
        for kit in &self.frontier {
            lows[kit.panels][kit.battery] = kit.survival.interval.low;
        }
        Some(lows)
    }

    /// Whether a cell was found to reach the target: as much battery and as many panels as a kit of the frontier, or more.
    #[must_use]
    pub fn suffices(&self, panels: usize, battery: usize) -> bool {
        self.frontier.iter().any(|kit| kit.panels <= panels && kit.battery <= battery)
    }

    /// The kit that is proposed: of those of the frontier the cheapest where prices are known, else the one with the least battery.
    #[must_use]
    pub fn proposed(&self) -> Option<&SizedKit> {
        least_kit(&self.frontier)
    }

    /// Whether all kits of the frontier have a price.
    #[must_use]
    pub fn priced(&self) -> bool {
        self.frontier.iter().all(|kit| kit.price.is_some())
    }

    /// A cell as a kit.
    fn kit(&self, (p, b): (usize, usize), survival: Survival) -> SizedKit {
        let (battery, panels) = (&self.batteries[b], &self.panels[p]);
        let sum = |a: Option<f64>, b: Option<f64>| Some(a? + b?);
        SizedKit {
            battery: b,
            panels: p,
            survival,
            price: sum(battery.price, panels.price),
            weight_kg: sum(battery.weight_kg, panels.weight_kg),
        }
    }

    /// The frontier for a target: for each number of panels the smallest battery whose range begins at or above it. `None`
    /// where the run was stopped before that was known.
    fn reach(
        &self,
        grid: &[Vec<Plan>],
        target: f64,
        settings: &Settings,
        progress: &dyn Progress,
    ) -> Option<Vec<SizedKit>> {
        // Bisection over the batteries of all rows at once, so that they share their weather. In row p the cells below
        // low[p] fall short, those from high[p] on reach it.
        let columns = self.batteries.len();
        let enough = |p: usize, b: usize| self.survived[p][b] as f64 >= target * self.trials as f64;
        let first = |p: usize| (0..columns).find(|&b| enough(p, b)).unwrap_or(columns);
        let mut low: Vec<usize> = (0..self.panels.len()).map(first).collect();
        let mut high = vec![columns; self.panels.len()];
        let mut found: Vec<Option<Survival>> = vec![None; self.panels.len()];
        loop {
            let asked: Vec<(usize, usize)> = (0..low.len())
                .filter(|&p| low[p] < high[p])
                // The first guess is the first cell whose count suffices: it is rarely far off.
                .map(|p| (p, if found[p].is_none() && high[p] == columns { low[p] } else { (low[p] + high[p]) / 2 }))
                .collect();
            if asked.is_empty() {
                break;
            }
            let plans: Vec<Plan> = asked.iter().map(|&(p, b)| grid[p][b].clone()).collect();
            let tallies = run(&plans, settings, progress);
            let mut answers = survivals(&plans, &tallies, settings, progress);
            if RARE_FROM <= target {
                for (answer, plan) in answers.iter_mut().zip(&plans) {
                    judge_rare(answer, plan, settings, progress);
                }
            }
            // Whatever of these was cut short is no ground to judge a kit on.
            if progress.stop() {
                return None;
            }
            for ((p, b), answer) in asked.into_iter().zip(answers) {
                if answer.interval.low >= target {
                    high[p] = b;
                    found[p] = Some(answer);
                } else {
                    low[p] = b + 1;
                }
            }
        }
        let mut kits: Vec<SizedKit> = Vec::new();
        for (p, answer) in found.into_iter().enumerate() {
            let Some(survival) = answer.filter(|_| high[p] < columns) else { continue };
            // With more panels a kit is worth showing only when it needs less battery.
            if kits.last().is_some_and(|kit| kit.battery <= high[p]) {
                continue;
            }
            kits.push(self.kit((p, high[p]), survival));
        }
        Some(kits)
    }
}
