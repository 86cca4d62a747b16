//! One trial: one outage, one history of weather, hour by hour.

use super::cuts::Part;
use super::lanes::{self, Ended, Room, Sink, Waiting};
use super::ledger::Ledger;
use super::outlets::Wanted;
use super::plan::{Plan, Season};
use super::rig::{CLASSES, Rig};
use super::step::{Balance, Demand, Supply};
use crate::loads::cooler::{Food, PARTS};
use crate::random::{Purpose, Stream};
use crate::weather::bend::{NAMES, NUMBERS};
use crate::weather::{Climates, Opening, WeatherTrace};

/// The address of a trial's random stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TrialSeed {
    /// The run's seed.
    pub seed: u64,
    /// The trial's number, from 0.
    pub trial: u64,
}

impl TrialSeed {
    /// The stream of this trial for one purpose.
    #[must_use]
    #[inline]
    pub fn stream(self, purpose: Purpose) -> Stream {
        Stream::new(self.seed, self.trial, purpose)
    }
}

/// The standard normal numbers behind a drawn climate, in the order of [`NAMES`].
pub type ClimateZ = [f64; NUMBERS];

/// When a trial's outage happens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct History {
    /// Day of the year at whose midnight the weather begins, 0 for 1 January.
    pub first_day: u32,
    /// Step of that day at which the outage begins.
    pub first_step: usize,
    /// Length of the outage \[steps\].
    pub steps: usize,
    /// Days of weather.
    pub days: usize,
    /// Day of the week at whose midnight the weather begins, 0 for Monday.
    pub weekday: usize,
    /// Standard normal number behind the charge at the start.
    pub charge_z: f64,
    /// Standard normal numbers behind the climate that was drawn.
    pub climate_z: ClimateZ,
}

/// What happened to one load in a trial.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LoadOutcome {
    /// Energy it asked for at its outlet \[Wh\].
    pub asked_wh: f64,
    /// Of that, energy it did not get \[Wh\], whether for shortage or by rule.
    pub unserved_wh: f64,
    /// Of the missed energy, what its own rule switched off \[Wh\].
    pub by_rule_wh: f64,
    /// Time that it wanted to run and could not \[h\].
    pub off_h: f64,
    /// First step of the outage in which it went without.
    pub first_off_step: Option<u32>,
    /// What became of the food, in a cooler's fridge and freezer.
    pub food: [Option<Food>; PARTS],
}

/// What a trial came to.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Outcome {
    /// Whether the vital loads got all but the allowed shortfall, and the food in vital coolers kept.
    pub survived: bool,
    /// First step of the outage in which the allowance was used up, and the load that missed most in it; or in which the
    /// food in a vital cooler was lost, and the cooler.
    pub failure: Option<(u32, u32)>,
    /// Energy that vital loads missed \[Wh\].
    pub vital_missed_wh: f64,
    /// Energy that any load missed \[Wh\].
    pub unserved_wh: f64,
    /// Least energy in the cells after any step, as a share of the capacity.
    pub lowest_charge: f64,
    /// How clearly it survived: the lowest charge where it did, the vital energy missed as a share of the capacity,
    /// negative, where it did not.
    pub margin: f64,
    /// The account.
    pub ledger: Ledger,
    /// Where cuts come back every day: days on which a vital load missed anything, and what they missed in the worst week, both
    /// counted from the beginning \[Wh\].
    pub days_missed: u32,
    /// See [`Outcome::days_missed`].
    pub worst_week_wh: f64,
    /// What the generator burnt, where its fuel can end \[L\].
    pub burnt_l: f64,
    /// What it gave straight to AC loads \[Wh\].
    pub direct_wh: f64,
}

/// A charge of 0 to 1 in hundredths, to the nearest.
#[inline(always)]
#[must_use]
pub fn hundredths(charge: f64) -> u32 {
    /// Adding this rounds to whole numbers and leaves them in the low bits.
    const ROUND: f32 = 12_582_912.0;
    ((charge * 100.0) as f32 + ROUND).to_bits() & 0xff
}

/// Looks on at every step of a trial.
pub trait Observer {
    /// Whether it looks at all.
    fn looks(&self) -> bool {
        true
    }

    /// Called after each step of the outage, counted from 0.
    fn step(&mut self, index: usize, view: &StepView<'_>);
}

/// An observer that does not look.
#[derive(Debug, Clone, Copy, Default)]
pub struct Silent;

impl Observer for Silent {
    fn looks(&self) -> bool {
        false
    }

    fn step(&mut self, _: usize, _: &StepView<'_>) {}
}

/// What an observer sees of a step.
#[derive(Debug)]
pub struct StepView<'a> {
    /// Step counted from the midnight at which the weather begins.
    pub weather_step: usize,
    /// The trial's kit.
    pub rig: &'a Rig,
    /// What could come in.
    pub supply: Supply,
    /// Temperature of the cells \[°C\].
    pub cell_c: f64,
    /// What was asked for, after switching off by rule; where the mains comes or goes, in the parts in which it is not there.
    pub demand: &'a Demand,
    /// Parts of the step, where the mains, the AC outlet or a generator that feeds loads comes or goes; none otherwise.
    pub parts: &'a [Part],
    /// Whether the AC outlet's converter counts as on even while that is off.
    pub idles: bool,
    /// What the loads of each class asked for in this step \[Wh\], as in [`LoadOutcome::asked_wh`]: those switched off by rule
    /// too, coolers by what holds their temperature, devices by their use.
    pub asked_wh: [f64; CLASSES],
    /// What became of it.
    pub balance: &'a Balance,
    /// The account so far.
    pub ledger: &'a Ledger,
}

impl StepView<'_> {
    /// Share of the step in which the station feeds the loads, if it does at all.
    #[must_use]
    pub fn fed(&self) -> f64 {
        let fed = self.parts.iter().filter(|part| !part.on_mains);
        if self.parts.is_empty() { 1.0 } else { fed.map(|part| part.share).sum() }
    }

    /// What is asked of the station in one of the parts.
    #[must_use]
    pub fn demand_in(&self, part: &Part) -> Demand {
        Wanted::from(self.demand).in_part(part, self.idles).demand()
    }

    /// What a generator gives straight to AC loads in one of the parts \[W\], and its share of what each class asks for there.
    #[must_use]
    pub fn given_directly(&self, part: &Part) -> (f64, [f64; CLASSES]) {
        let given = |direct| Wanted::from(self.demand).given_directly(direct);
        part.direct.as_ref().map(given).map_or((0.0, [1.0; CLASSES]), |([watts], share)| (watts, share.map(|[s]| s)))
    }
}

/// One trial after another, each alone.
#[derive(Debug, Default)]
pub struct Workspace {
    room: Room<f32, 1>,
    weather: WeatherTrace,
    /// Whether that weather was told, and is not what belongs to the trial's random numbers.
    told: bool,
    kept: Kept,
}

/// What the plan last run came to.
#[derive(Debug, Default)]
struct Kept {
    outcome: Outcome,
    loads: Vec<LoadOutcome>,
    /// Standard normal numbers behind the quantities that are not known, in the order of [`Plan::unknowns`].
    unknowns: Vec<f64>,
}

/// Keeps it, and lets somebody look on.
struct Keeper<'a>(&'a mut Kept, &'a mut dyn Observer);

impl Sink for Keeper<'_> {
    fn observer(&mut self) -> Option<&mut dyn Observer> {
        if self.1.looks() { Some(&mut *self.1) } else { None }
    }

    fn outcome(&mut self, _: usize, ended: &Ended<'_>) {
        self.0.outcome = *ended.outcome;
        self.0.loads.clear();
        self.0.loads.extend_from_slice(ended.loads);
        self.0.unknowns.clear();
        self.0.unknowns.extend_from_slice(ended.unknowns);
    }
}

impl Season {
    /// The numbers behind a trial's climate; zeros where nothing of it is unknown.
    #[inline]
    pub(super) fn climate_z(&self, rng: TrialSeed) -> ClimateZ {
        if !self.climate.draws() {
            return [0.0; NUMBERS];
        }
        let mut stream = rng.stream(Purpose::Climate);
        std::array::from_fn(|_| stream.normal())
    }

    /// Adds those of them that count to the numbers behind what is not known.
    #[inline]
    pub(super) fn push_unknowns(&self, climate_z: &ClimateZ, unknowns: &mut Vec<f64>) {
        let counts = self.climate.counts();
        unknowns.extend(climate_z.iter().zip(counts).filter_map(|(z, counts)| counts.then_some(*z)));
    }

    /// Codes of what is not known of the climate.
    pub(super) fn unknown_names(&self) -> impl Iterator<Item = &'static str> {
        NAMES.into_iter().zip(self.climate.counts()).filter_map(|(name, counts)| counts.then_some(name))
    }

    /// A trial's outage without its weather: when it begins, and how long it lasts.
    #[must_use]
    pub fn begins(&self, rng: TrialSeed) -> History {
        self.draw(rng, self.climate_z(rng))
    }

    /// Draws a trial's outage.
    #[inline]
    pub(super) fn draw(&self, rng: TrialSeed, climate_z: ClimateZ) -> History {
        let mut stream = rng.stream(Purpose::Outage);
        let (first_day, first_step, steps) = self.outage.draw(&mut stream, self.steps_a_day, self.step_h);
        let charge_z = stream.normal();
        let days = (first_step + steps).div_ceil(self.steps_a_day);
        let weekday = self.weekday.unwrap_or_else(|| (stream.uniform() * 7.0) as u32 as usize);
        History { first_day, first_step, steps, days, weekday, charge_z, climate_z }
    }
}

impl Workspace {
    /// An empty one.
    #[must_use]
    pub fn new() -> Workspace {
        Workspace::default()
    }

    /// Draws a trial's outage and its weather; several plans that share the season can then be run through it.
    pub fn begin(&mut self, season: &Season, rng: TrialSeed) -> History {
        self.begin_with(season, &season.opening, rng)
    }

    /// The same with another beginning of the weather, to look at: a plan that is run through it meets its own.
    pub fn begin_with(&mut self, season: &Season, opening: &Opening, rng: TrialSeed) -> History {
        let history = season.draw(rng, season.climate_z(rng));
        let drawn = [season.climate.drawn(&history.climate_z)];
        self.told = false;
        season.weather.generate(
            history.first_day,
            history.days as u32,
            opening,
            &mut rng.stream(Purpose::Weather),
            Climates::Steady(&drawn),
            &mut self.weather,
        );
        history
    }

    /// Sets up an outage in a longer history of weather that begins at some midnight; several plans can then be run through
    /// it, as after [`Workspace::begin`].
    ///
    /// * `weather`, `begins` — the history and the day of the year on which it begins, 0 for 1 January.
    /// * `start` — step of the history at which the outage begins; `steps` — its length, at least 1; the history must
    ///   reach the end of the outage's last day (what is missing is left out).
    /// * `climate_z` — standard normal numbers behind the climate of that weather.
    pub fn place(
        &mut self,
        (weather, begins): (&WeatherTrace, u32),
        steps_a_day: usize,
        start: usize,
        steps: usize,
        climate_z: ClimateZ,
    ) -> History {
        let (day, first_step) = (start / steps_a_day, start % steps_a_day);
        let days = (first_step + steps).div_ceil(steps_a_day);
        let copy = |from: &[f64], into: &mut Vec<f64>, a_day: usize| {
            into.clear();
            let range = day * a_day..(day + days) * a_day;
            into.extend_from_slice(&from[range.start.min(from.len())..range.end.min(from.len())]);
        };
        copy(&weather.ghi_w_m2, &mut self.weather.ghi_w_m2, steps_a_day);
        copy(&weather.air_c, &mut self.weather.air_c, steps_a_day);
        copy(&weather.daily_clearness, &mut self.weather.daily_clearness, 1);
        copy(&weather.dhi_w_m2, &mut self.weather.dhi_w_m2, steps_a_day);
        self.told = true;
        let in_reach = (self.weather.ghi_w_m2.len().saturating_sub(first_step)).min(steps);
        let first_day = (begins + day as u32) % 365;
        History { first_day, first_step, steps: in_reach, days, weekday: day % 7, charge_z: 0.0, climate_z }
    }

    /// The weather of the present trial.
    #[must_use]
    pub fn weather(&self) -> &WeatherTrace {
        &self.weather
    }

    /// What happened to each load of the plan last run.
    #[must_use]
    pub fn loads(&self) -> &[LoadOutcome] {
        &self.kept.loads
    }

    /// The standard normal numbers behind what is not known, for the plan last run, in the order of its `unknowns`.
    #[must_use]
    pub fn unknowns(&self) -> &[f64] {
        &self.kept.unknowns
    }

    /// Takes one plan through the outage and weather drawn by [`Workspace::begin`] or set up by [`Workspace::place`].
    pub fn run(&mut self, plan: &Plan, rng: TrialSeed, history: &History, observer: &mut impl Observer) -> Outcome {
        let trial = Waiting::of(&plan.season, rng, *history);
        let told = self.told.then_some(&self.weather);
        lanes::alone(&mut self.room, plan, &trial, told, &mut Keeper(&mut self.kept, observer));
        self.kept.outcome
    }

    /// What a plan's solar input can take of all its panels in each step of the weather in place, but for the input's
    /// watts \[W\].
    #[must_use]
    pub fn solar_power_w(&self, plan: &Plan, rng: TrialSeed, history: &History) -> Vec<f64> {
        lanes::usable_w(plan, rng, (history, &self.weather))
    }
}
