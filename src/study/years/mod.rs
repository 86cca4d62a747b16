//! Ways of keeping a battery over years: which wears it least, which has it ready when the lights go out?

pub mod answer;
pub mod arrivals;
pub mod life;
pub mod plan;
pub mod record;
pub mod tally;

pub use answer::{StrategyAnswer, YearsAnswer};
pub use plan::{YearsError, YearsPlan};
pub use record::OutageRecord;

use crate::engine::plan::LONGEST_OUTAGE_H;
use crate::engine::{TrialSeed, Workspace};
use crate::random::Purpose;
use crate::scenario::years::StoredAt;
use crate::statistics::mean;
use crate::trials::Progress;
use crate::trials::run::each;
use crate::weather::{Climates, Opening, WeatherTrace};
use arrivals::{Arrival, weeks};
use life::{HistoryOf, Life};
use tally::StrategyTally;

/// Histories in one piece of work. Fixed, so that sums are folded the same way on any number of threads.
const GROUP: u64 = 10;
/// Groups between two looks at whether to stop.
const GROUPS_A_ROUND: u64 = 8;

/// How many histories, how long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct YearsSettings {
    /// The run's seed.
    pub seed: u64,
    /// Most histories.
    pub histories: u64,
    /// Years in each, 1 to 30.
    pub years: usize,
}

/// Takes every strategy through the same histories: the same weather, the same outages, the same random numbers with the kit.
///
/// `None` where it was stopped before the first histories were done. Bit-identical for any number of threads.
pub fn years(plan: &YearsPlan, settings: &YearsSettings, progress: &dyn Progress) -> Option<YearsAnswer> {
    let models = plan.tables.models().len();
    let mut tallies = vec![StrategyTally::new(settings.years, models); plan.strategies.len()];
    let groups = settings.histories.div_ceil(GROUP);
    let (mut next, mut done) = (0, 0);
    while next < groups && !progress.stop() {
        let round: Vec<u64> = (next..groups.min(next + GROUPS_A_ROUND)).collect();
        next += round.len() as u64;
        for group in each(&round, |&group| self::group(plan, settings, group)) {
            for (sum, other) in tallies.iter_mut().zip(&group) {
                sum.merge(other);
            }
        }
        done = (next * GROUP).min(settings.histories);
        progress.done(done);
    }
    (done > 0).then(|| answer::summarise(plan, settings, done, &tallies))
}

fn group(plan: &YearsPlan, settings: &YearsSettings, group: u64) -> Vec<StrategyTally> {
    let models = plan.tables.models().len();
    let mut tallies = vec![StrategyTally::new(settings.years, models); plan.strategies.len()];
    let mut lives: Vec<Life<'_>> = plan.strategies.iter().map(|strategy| Life::new(plan, strategy)).collect();
    let mut room = Room::default();
    for trial in group * GROUP..((group + 1) * GROUP).min(settings.histories) {
        let history = room.draw(plan, settings, TrialSeed { seed: settings.seed, trial });
        let mut first_rode = None;
        for (life, tally) in lives.iter_mut().zip(&mut tallies) {
            let outcome = life.live(&history.0, history.1);
            let rode = outcome.rode.iter().filter(|&&rode| rode).count() as u64;
            tally.add(plan, outcome, history.0.arrivals, *first_rode.get_or_insert(rode));
        }
    }
    tallies
}

/// Room for one history after another.
#[derive(Debug, Default)]
struct Room {
    weather: WeatherTrace,
    arrivals: Vec<Arrival>,
    panel_w: Vec<f64>,
    day_air_c: Vec<f64>,
    workspace: Workspace,
}

impl Room {
    /// Draws the weather and the outages of a history.
    fn draw(&mut self, plan: &YearsPlan, settings: &YearsSettings, rng: TrialSeed) -> (HistoryOf<'_>, &mut Workspace) {
        let first = &plan.strategies[0].plan;
        let season = &first.season;
        let mut stream = rng.stream(Purpose::Climate);
        let climate_z = std::array::from_fn(|_| stream.normal());
        let months = [plan.climates.drawn(&climate_z, &mut stream)];
        // Long enough for the longest outage that begins on the last day.
        let days = settings.years * 365 + (LONGEST_OUTAGE_H / 24.0) as usize + 2;
        let mut stream = rng.stream(Purpose::Weather);
        season.weather.generate(
            0,
            days as u32,
            &Opening::Any,
            &mut stream,
            Climates::Monthly(&months),
            &mut self.weather,
        );
        let mut stream = rng.stream(Purpose::Outage);
        let clearness = &self.weather.daily_clearness;
        if plan.cuts {
            weeks(settings.years, &plan.clock, &mut self.arrivals);
        } else {
            plan.arrivals.draw(settings.years, &plan.clock, clearness, &mut stream, &mut self.arrivals);
        }
        self.panel_w.clear();
        if plan.strategies.iter().any(|strategy| strategy.rules.use_solar_daily) {
            let steps = days * plan.clock.steps_a_day;
            let whole = self.workspace.place((&self.weather, 0), plan.clock.steps_a_day, 0, steps, climate_z);
            self.panel_w.extend(self.workspace.solar_power_w(first, rng, &whole));
        }
        self.day_air_c.clear();
        if plan.strategies.iter().any(|strategy| strategy.rules.stored_at == StoredAt::Outside) {
            let days = self.weather.air_c.chunks_exact(plan.clock.steps_a_day);
            self.day_air_c.extend(days.map(mean));
        }
        let history = HistoryOf {
            rng,
            weather: &self.weather,
            climate_z,
            panel_w: &self.panel_w,
            day_air_c: &self.day_air_c,
            arrivals: &self.arrivals,
            years: settings.years,
        };
        (history, &mut self.workspace)
    }
}
