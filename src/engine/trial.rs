//! One trial: one outage, one history of weather, hour by hour.

mod placed;

use super::asking::Asking;
use super::ledger::{Flow, Ledger};
use super::load::{LoadLuck, LoadPlan};
use super::missed::{self, LoadState, Missed, Moment};
use super::plan::{Plan, Season};
use super::rig::{CLASSES, Rig};
use super::step::{Balance, Demand, Supply, step};
use super::supply::Supplies;
use super::warmth::Lump;
use crate::loads::cooler::{Food, PARTS};
use crate::random::{Purpose, Stream};
use crate::weather::bend::{NAMES, NUMBERS};
use crate::weather::{Climates, Lean, WeatherTrace};

/// The address of a trial's luck.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Luck {
    /// The run's seed.
    pub seed: u64,
    /// The trial's number, from 0.
    pub trial: u64,
}

impl Luck {
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
    pub missed_wh: f64,
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
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    /// Whether the vital loads got all but the allowed shortfall, and the food in vital coolers kept.
    pub survived: bool,
    /// First step of the outage in which the allowance was used up, and the load that missed most in it; or in which the
    /// food in a vital cooler was lost, and the cooler.
    pub failure: Option<(u32, u32)>,
    /// Energy that vital loads missed \[Wh\].
    pub vital_missed_wh: f64,
    /// Energy that any load missed \[Wh\].
    pub missed_wh: f64,
    /// Least energy in the cells after any step, as a share of the capacity.
    pub lowest_charge: f64,
    /// How clearly it survived: the lowest charge where it did, the vital energy missed as a share of the capacity,
    /// negative, where it did not.
    pub margin: f64,
    /// The account.
    pub ledger: Ledger,
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
    /// Whether it looks at [`StepView::asked_wh`], which costs a little.
    const MINDS_ASKED: bool = false;

    /// Called after each step of the outage, counted from 0.
    fn step(&mut self, index: usize, view: &StepView<'_>);
}

/// An observer that does not look.
#[derive(Debug, Clone, Copy, Default)]
pub struct Silent;

impl Observer for Silent {
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
    /// What was asked for, after switching off by rule.
    pub demand: &'a Demand,
    /// What the loads of each class asked for in this step \[Wh\], as in [`LoadOutcome::asked_wh`]: those switched off by rule
    /// too, coolers by what holds their temperature, devices by their use. Zeros for an observer that does not mind.
    pub asked_wh: [f64; CLASSES],
    /// What became of it.
    pub balance: &'a Balance,
    /// The account so far.
    pub ledger: &'a Ledger,
}

/// Room for one trial after another; grows to the longest and is then reused.
#[derive(Debug, Default)]
pub struct Workspace {
    weather: WeatherTrace,
    supplies: Supplies,
    states: Vec<LoadState>,
    /// The states of loads that ask by themselves, in the order of the plan's loads; empty where there are none.
    asking: Vec<Asking<1>>,
    demands: Vec<Demand>,
    loads: Vec<LoadOutcome>,
    /// Standard normal numbers behind the quantities that are not known, in the order of [`Plan::unknowns`].
    unknowns: Vec<f64>,
}

impl Season {
    /// The numbers behind a trial's climate; zeros where nothing of it is unknown.
    #[inline]
    pub(super) fn climate_z(&self, luck: Luck) -> ClimateZ {
        if !self.climate.draws() {
            return [0.0; NUMBERS];
        }
        let mut stream = luck.stream(Purpose::Climate);
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

    /// Draws a trial's outage.
    #[inline]
    pub(super) fn draw(&self, luck: Luck, climate_z: ClimateZ) -> History {
        let mut stream = luck.stream(Purpose::Outage);
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
    pub fn begin(&mut self, season: &Season, luck: Luck) -> History {
        self.begin_leaning(season, luck, &[0.0; NUMBERS], Lean::default())
    }

    /// As [`Workspace::begin`], with the numbers behind the climate and the days drawn around other means than 0,
    /// for importance sampling. What was drawn is told by `climate_z` and by the weather's `leaned`.
    pub fn begin_leaning(&mut self, season: &Season, luck: Luck, climate: &ClimateZ, lean: Lean) -> History {
        let mut climate_z = season.climate_z(luck);
        for (z, lean) in climate_z.iter_mut().zip(climate) {
            *z += lean;
        }
        let history = season.draw(luck, climate_z);
        let drawn = [season.climate.drawn(&climate_z)];
        self.supplies.begin();
        season.weather.generate_leaning(
            history.first_day,
            history.days as u32,
            &season.opening,
            &mut luck.stream(Purpose::Weather),
            (Climates::Steady(&drawn), lean),
            &mut self.weather,
        );
        history
    }

    /// The weather of the present trial.
    #[must_use]
    pub fn weather(&self) -> &WeatherTrace {
        &self.weather
    }

    /// What happened to each load of the plan last run.
    #[must_use]
    pub fn loads(&self) -> &[LoadOutcome] {
        &self.loads
    }

    /// The standard normal numbers behind what is not known, for the plan last run, in the order of its `unknowns`.
    #[must_use]
    pub fn unknowns(&self) -> &[f64] {
        &self.unknowns
    }

    /// Takes one plan through the outage and weather drawn by [`Workspace::begin`].
    pub fn run(&mut self, plan: &Plan, luck: Luck, history: &History, observer: &mut impl Observer) -> Outcome {
        self.unknowns.clear();
        plan.season.push_unknowns(&history.climate_z, &mut self.unknowns);
        let rig = plan.kit.draw(luck, history.charge_z, &mut self.unknowns);
        self.supplies.fill(plan, luck, history, &self.weather, &mut self.unknowns);
        self.draw_loads(plan, luck, history);
        self.balance(plan, &rig, history, observer)
    }

    /// What each load draws on each day, as a factor on its nominal profile.
    fn draw_loads(&mut self, plan: &Plan, luck: Luck, history: &History) {
        let days = history.days;
        self.states.resize_with(plan.loads.len(), LoadState::default);
        self.asking.resize_with(if plan.any_asks { plan.loads.len() } else { 0 }, Asking::default);
        for (asking, load) in self.asking.iter_mut().zip(&plan.loads) {
            asking.prepare(load);
        }
        for (k, (state, load)) in self.states.iter_mut().zip(&plan.loads).enumerate() {
            state.switched_off = false;
            state.day_factor.clear();
            if load.is_fixed() {
                state.day_factor.resize(days, 1.0);
                continue;
            }
            let mut luck_of_load = LoadLuck::new(load, luck, &mut self.unknowns);
            if load.asks.is_some() {
                let (at, step_h) = (history.first_step, plan.season.step_h);
                self.asking[k].begin(load, 0, &mut luck_of_load, at, step_h);
            }
            state.day_factor.extend((0..days).map(|_| luck_of_load.day()));
        }
    }

    /// The energy balance over the outage.
    fn balance<O: Observer>(&mut self, plan: &Plan, rig: &Rig, history: &History, observer: &mut O) -> Outcome {
        let season = &plan.season;
        let (steps_a_day, step_h) = (season.steps_a_day, season.step_h);
        self.loads.clear();
        self.loads.resize(plan.loads.len(), LoadOutcome::default());
        let mut ledger = Ledger::starting_with(rig.start_wh);
        let mut stored_wh = rig.start_wh;
        let mut lowest_wh = stored_wh;
        let mut sums = Missed::default();
        let (mut day_of_demands, mut weekday) = (usize::MAX, 0);
        let mut limits = rig.limits();
        let lump = Lump::of(plan, rig);
        let mut cell_c = lump.map_or(rig.home_c, |lump| self.before_the_outage_c(&lump, history.first_step));
        let mut heat_w = 0.0;
        for index in 0..history.steps {
            let weather_step = history.first_step + index;
            let (day, step_of_day) = (weather_step / steps_a_day, weather_step % steps_a_day);
            if day != day_of_demands {
                day_of_demands = day;
                let until = (history.first_step + history.steps - day * steps_a_day).min(steps_a_day);
                weekday = (history.weekday + day) % 7;
                self.day_of_demands(&plan.loads, (day, weekday), step_of_day..until, steps_a_day, step_h);
            }
            let mut demand = self.demands[step_of_day];
            let now = Moment { index: index as u32, day, weekday, at: step_of_day, step_h };
            let any_rule = plan.any_rule && self.apply_rules(plan, stored_wh / rig.capacity_wh, now, &mut demand);
            if plan.any_asks {
                let air_c = self.weather.air_c[weather_step];
                missed::ask(plan, &self.states, &mut self.asking, now, air_c, &mut demand);
            }
            let supply = self.supplies.at(weather_step, plan.wall_w[step_of_day]);
            if let Some(lump) = lump {
                let around_c = self.around_c(&lump, weather_step);
                cell_c = lump.after_c(cell_c, around_c, heat_w);
                limits = lump.limits(rig, cell_c, around_c);
            }
            let balance = step(rig, &limits, stored_wh, supply, &demand, step_h, &mut ledger);
            heat_w = balance.heat_w;
            stored_wh = balance.stored_wh;
            lowest_wh = lowest_wh.min(stored_wh);
            if any_rule || !balance.all_served {
                missed::known(plan, &self.states, &balance, now, &mut self.loads, &mut sums);
            }
            let mut asked_wh = [0.0; CLASSES];
            if O::MINDS_ASKED {
                for (k, load) in plan.loads.iter().enumerate() {
                    asked_wh[load.class] += match load.asks {
                        Some(_) => -self.loads[k].asked_wh,
                        None => load.day(weekday).watts[step_of_day] * self.states[k].day_factor[day] * step_h,
                    };
                }
            }
            if plan.any_asks {
                missed::settle(plan, &self.states, &mut self.asking, &balance, now, &mut self.loads, &mut sums);
            }
            if O::MINDS_ASKED {
                for (load, out) in plan.loads.iter().zip(&self.loads).filter(|(load, _)| load.asks.is_some()) {
                    asked_wh[load.class] += out.asked_wh;
                }
            }
            let (demand, balance, ledger) = (&demand, &balance, &ledger);
            observer.step(index, &StepView { weather_step, rig, supply, cell_c, demand, asked_wh, balance, ledger });
        }
        for ((asking, load), out) in self.asking.iter().zip(&plan.loads).zip(&mut self.loads) {
            out.food = asking.food(load, 0);
        }
        ledger[Flow::End] = stored_wh;
        debug_assert!(ledger.imbalance() < 1e-9, "the ledger does not close: {ledger:?}");
        sums.outcome(lowest_wh, rig.capacity_wh, ledger)
    }

    /// What is around the station in a step of the weather \[°C\].
    fn around_c(&self, lump: &Lump, step: usize) -> f64 {
        lump.around_c(self.weather.air_c[step], self.weather.ghi_w_m2[step])
    }

    /// Temperature of the cells after the steps of the weather before the outage, in which nothing warms them \[°C\].
    fn before_the_outage_c(&self, lump: &Lump, steps: usize) -> f64 {
        let begins_c = lump.begins_c(self.weather.air_c.first().copied().unwrap_or(0.0));
        (0..steps).fold(begins_c, |cell_c, step| lump.after_c(cell_c, self.around_c(lump, step), 0.0))
    }

    /// Adds up what the loads ask for in some steps of one day.
    fn day_of_demands(
        &mut self,
        loads: &[LoadPlan],
        (day, weekday): (usize, usize),
        steps: std::ops::Range<usize>,
        steps_a_day: usize,
        step_h: f64,
    ) {
        self.demands.clear();
        self.demands.resize(steps_a_day, Demand::default());
        for (k, load) in loads.iter().enumerate() {
            if load.asks.is_some() {
                for at in steps.clone() {
                    self.demands[at].plugged[load.class][load.outlet] = true;
                }
                continue;
            }
            let factor = self.states[k].day_factor[day];
            let profile = load.day(weekday);
            for at in steps.clone() {
                self.demands[at].add(load, (weekday, at), factor);
                self.loads[k].asked_wh += profile.watts[at] * factor * step_h;
            }
        }
    }

    /// Switches loads off and on by their rules and rebuilds the step's demand; says whether any is off.
    fn apply_rules(&mut self, plan: &Plan, charge: f64, now: Moment, demand: &mut Demand) -> bool {
        let mut any = false;
        for (state, load) in self.states.iter_mut().zip(&plan.loads) {
            if charge < load.off_below || load.off_from_step <= now.index as usize {
                state.switched_off = true;
            } else if charge >= load.on_above {
                state.switched_off = false;
            }
            any |= state.switched_off;
        }
        if any {
            *demand = Demand::default();
            for (state, load) in self.states.iter().zip(&plan.loads).filter(|(state, _)| !state.switched_off) {
                if load.asks.is_some() {
                    demand.plugged[load.class][load.outlet] = true;
                } else {
                    demand.add(load, (now.weekday, now.at), state.day_factor[now.day]);
                }
            }
        }
        any
    }
}
