//! The largest kit of a grid none of which reaches the target: what it lacks, and what would help it.

use serde::Serialize;

use super::{SizedKit, sized};
use crate::engine::Plan;
use crate::engine::ledger::Flow;
use crate::scenario::model::Scenario;
use crate::study::changes::{Change, Costs, Effect, Tried};
use crate::study::device::names;
use crate::study::endurance::drawn_a_day_wh;
use crate::study::surer::{Surer, surer};
use crate::study::verdict::Stakes;
use crate::trials::run::{Progress, run_part};
use crate::trials::{Settings, Tally};

/// The largest kit, simulated by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Largest {
    /// It, with its survival.
    pub kit: SizedKit,
    /// Why it falls short.
    pub lacks: Lack,
    /// Single changes to it that help, on the same trials: the most helpful first.
    pub effects: Vec<Effect>,
    /// What measuring would narrow its range.
    pub surer: Vec<Surer>,
}

/// Why the largest kit falls short.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Lack {
    /// Vital loads are more than the station gives: neither battery nor panels mend that.
    Power {
        /// Their names.
        loads: Vec<String>,
    },
    /// The best estimate reaches the target, the lower end of the range does not.
    Knowledge,
    /// What runs takes more than battery, sun and all else hold and give in a mean outage.
    Energy(Account),
    /// In a mean outage there is enough, but the AC outlet is off in hours in which something vital hangs on it.
    Outlet(Account),
    /// In a mean outage there is enough, but the cells are too cold, or too hot, to give or take it where the station stands.
    Cells(Account),
    /// In a mean outage there is enough, but not in the worst, which are longer or darker, or not when it is needed.
    WorstOutages(Account),
}

/// What is there for a mean outage and what it takes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Account {
    /// What runs takes from the battery, losses counted \[Wh a day\].
    pub drawn_a_day_wh: f64,
    /// What the panels could give, as far as input and cells take it \[Wh a day\].
    pub sun_a_day_wh: f64,
    /// From the wall, a generator or other sources \[Wh a day\].
    pub other_a_day_wh: f64,
    /// In the battery as the outage begins \[Wh\].
    pub battery_wh: f64,
    /// Length of a mean outage \[days\].
    pub days: f64,
}

impl Account {
    fn of(plan: &Plan, tally: &Tally) -> Account {
        let (hours, n) = (tally.hours.max(1e-9), tally.trials as f64);
        let a_day = |flow: Flow| tally.ledger[flow] / hours * 24.0;
        let rig = plan.kit.best_estimate();
        Account {
            drawn_a_day_wh: drawn_a_day_wh(plan, &rig, rig.home_c),
            sun_a_day_wh: a_day(Flow::Solar) - a_day(Flow::Clipped) - a_day(Flow::Barred),
            other_a_day_wh: a_day(Flow::Wall) + a_day(Flow::Source),
            battery_wh: tally.ledger[Flow::Start] / n,
            days: hours / n / 24.0,
        }
    }

    /// Whether a mean outage takes more than there is.
    #[must_use]
    pub fn falls_short(&self) -> bool {
        self.enough_for_wh() < self.drawn_a_day_wh
    }

    /// What it would be enough for in a mean outage \[Wh a day\].
    #[must_use]
    pub fn enough_for_wh(&self) -> f64 {
        self.battery_wh / self.days.max(1e-9) + self.sun_a_day_wh + self.other_a_day_wh
    }
}

/// What keeps a kit down that has enough.
enum Cause {
    Outlet,
    Cells,
}

/// Most trials that a cause is looked for in.
const LOOKED: u64 = 2_000;

/// Whether a kit comes at least half of the way to its target where its AC outlet never goes off, or its cells are in a warm room.
fn cause(own: &Plan, target: f64, settings: &Settings) -> Option<Cause> {
    let mut inside = own.clone();
    inside.kit.bring_inside();
    let plans = [own.clone(), own.with_ac_always_on(), inside];
    let tallies = run_part(&plans, settings.seed, 0..settings.trials.min(LOOKED));
    let share = |k: usize| tallies.get(k).map_or(0.0, |tally| tally.survived as f64 / tally.trials.max(1) as f64);
    let (outlet, cells) = (share(1) - share(0), share(2) - share(0));
    let half = 0.5 * (target - share(0));
    match outlet.max(cells) {
        most if most <= 0.0 || most < half => None,
        _ if cells > outlet => Some(Cause::Cells),
        _ => Some(Cause::Outlet),
    }
}

/// Looks at it; `None` where the run was stopped before.
///
/// * `kit` — its place in the grid and what it costs; `amounts` — panels and battery as [`sized`] takes them.
pub(super) fn largest(
    (scenario, plan): (&Scenario, &Plan),
    kit: impl FnOnce(crate::trials::unknowns::Survival) -> SizedKit,
    (panels, battery): (f64, f64),
    (target, stakes): (f64, Stakes),
    settings: &Settings,
    progress: &dyn Progress,
) -> Option<Largest> {
    let own = sized(plan, panels, battery);
    // A kit that has none of the panels of its plan cannot be given more of them by a factor.
    let tried = if own.arrays.first().is_some_and(|array| array.rated_w <= 0.0) {
        Vec::new()
    } else {
        Change::worth_telling(scenario, &own, settings, progress)?
    };
    let Tried { tally, survival, mut effects } = Tried::of(&own, tried, settings, progress)?;
    if progress.stop() {
        return None;
    }
    effects.retain(|effect| effect.pair.interval.low > 0.0 && effect.change.costs() != Costs::GivesUp);
    effects.sort_by(|a, b| b.pair.difference.total_cmp(&a.pair.difference));
    let never = names(&own, &|k| own.loads[k].class == 0 && own.loads[k].never_runs());
    let account = Account::of(&own, &tally);
    let lacks = if !never.is_empty() {
        Lack::Power { loads: never }
    } else if survival.probability >= target {
        Lack::Knowledge
    } else if account.falls_short() {
        Lack::Energy(account)
    } else {
        match cause(&own, target, settings) {
            Some(Cause::Outlet) => Lack::Outlet(account),
            Some(Cause::Cells) => Lack::Cells(account),
            None => Lack::WorstOutages(account),
        }
    };
    let surer = surer(scenario, &own, &survival, stakes);
    Some(Largest { kit: kit(survival), lacks, effects, surer })
}
