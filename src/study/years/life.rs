//! One battery through one history, kept by one strategy.
//!
//! Between outages little happens, and little is computed: a resting battery goes day by day in closed form, one in
//! daily use step by step through the engine's own balance (and where a day begins exactly as the last one did, it is
//! repeated). In outages the engine's [`Workspace`] runs everything.

mod calm;

use super::arrivals::Arrival;
use super::plan::{StrategyPlan, TYPICAL_CHARGE_RATE_PER_H, YearsPlan};
use crate::ageing::{Surroundings, Wear, WearTables};
use crate::calendar::month_of_day;
use crate::engine::ledger::Flow;
use crate::engine::trial::ClimateZ;
use crate::engine::{Observer, Plan, Rig, StepView, TrialSeed, Unit, Workspace};
use crate::scenario::years::StoredAt;
use crate::units::Celsius;
use crate::weather::WeatherTrace;
use calm::Repeat;

/// Days between two looks at how much the battery has lost.
const DAYS_A_LOOK: usize = 30;

/// Least capacity that is left of a battery, as a share of the new one: below, every law is guesswork.
const LEAST_CAPACITY: f64 = 0.1;

/// What a history holds for all strategies.
#[derive(Debug)]
pub struct HistoryOf<'a> {
    /// Address of its random stream.
    pub rng: TrialSeed,
    /// Its weather from 1 January on, two months longer than its years.
    pub weather: &'a WeatherTrace,
    /// Normal number behind the error of that weather.
    pub climate_z: ClimateZ,
    /// What the panels could give in each step \[W\]; empty where no strategy asks.
    pub panel_w: &'a [f64],
    /// Mean air temperature of each day \[°C\]; empty where no strategy asks.
    pub day_air_c: &'a [f64],
    /// The outages.
    pub arrivals: &'a [Arrival],
    /// Years.
    pub years: usize,
}

/// What a life came to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LifeOutcome {
    /// Whether each outage was ridden through, in order.
    pub rode: Vec<bool>,
    /// Years until 20 % was lost, under each law in order.
    pub years_to_worn: Vec<f64>,
    /// Share lost at the end, under each law in order.
    pub lost: Vec<f64>,
    /// The same at the end of each year, or when it was next looked at: year by year, law by law.
    pub lost_by_year: Vec<f64>,
    /// Delivered at the outlets in outages \[Wh\].
    pub outage_wh: f64,
    /// Delivered at the outlets on ordinary days \[Wh\].
    pub daily_wh: f64,
    /// Taken from the wall \[Wh\].
    pub wall_wh: f64,
    /// What the daily energy would have cost.
    pub saved: f64,
    /// What the energy from the wall cost.
    pub paid: f64,
    /// The standard normal numbers behind what is not known, as in the engine; empty without an outage.
    pub unknowns: Vec<f64>,
    /// Charge moved in full equivalent cycles.
    pub full_cycles: f64,
    /// Σ charge × hours between outages, by month.
    pub charge_h: [f64; 12],
    /// Σ hours between outages, by month.
    pub calm_h: [f64; 12],
}

/// Room for one life after another.
#[derive(Debug)]
pub struct Life<'a> {
    years: &'a YearsPlan,
    strategy: &'a StrategyPlan,
    plan: Plan,
    wear: Wear,
    rig: Rig,
    /// The kit within the limits of daily use.
    daily_unit: Unit,
    /// Charge gained in an hour at the wall \[1/h\].
    wall_rate_per_h: f64,
    steady: Option<Surroundings>,
    repeat: Repeat,
    unknowns: Vec<f64>,
    since_top_up_h: f64,
    top_up_due: bool,
    losses: Vec<f64>,
    /// Σ charge × hours of the present stretch without outage \[h\].
    charge_h: f64,
    out: LifeOutcome,
}

/// Follows the charge through an outage.
struct Follow<'w> {
    wear: &'w mut Wear,
    tables: &'w WearTables,
    around: Surroundings,
    step_h: f64,
    /// Sum of charge times hours.
    charge_h: f64,
}

impl Observer for Follow<'_> {
    fn step(&mut self, _: usize, view: &StepView<'_>) {
        let (before, charge) = (self.wear.charge(), view.balance.stored_wh / view.rig.capacity_wh);
        self.wear.go(self.tables, charge, self.step_h, &self.around);
        self.charge_h += 0.5 * (before + charge) * self.step_h;
    }
}

/// A kit in daily use, its cells as warm as where it stands.
fn unit(rig: Rig, step_h: f64) -> Unit {
    let limits = rig.limits_at(rig.heated_c());
    Unit::new(rig, &limits, step_h)
}

impl<'a> Life<'a> {
    /// Room for the lives of one strategy.
    #[must_use]
    pub fn new(years: &'a YearsPlan, strategy: &'a StrategyPlan) -> Life<'a> {
        let steady = match strategy.rules.stored_at {
            StoredAt::Steady(cells) => Some(years.tables.surroundings(cells)),
            StoredAt::Outside => None,
        };
        let rig = strategy.plan.kit.best_estimate();
        Life {
            years,
            strategy,
            plan: strategy.plan.clone(),
            wear: Wear::new(0.0),
            daily_unit: unit(rig.clone(), years.clock.step_h),
            rig,
            wall_rate_per_h: 0.0,
            steady,
            repeat: Repeat::default(),
            unknowns: Vec::new(),
            since_top_up_h: 0.0,
            top_up_due: false,
            losses: Vec::new(),
            charge_h: 0.0,
            out: LifeOutcome::default(),
        }
    }

    /// Takes a new battery through a history.
    pub fn live(&mut self, history: &HistoryOf<'_>, workspace: &mut Workspace) -> &LifeOutcome {
        let models = self.years.tables.models().len();
        self.out = LifeOutcome {
            rode: std::mem::take(&mut self.out.rode),
            years_to_worn: vec![f64::NAN; models],
            ..LifeOutcome::default()
        };
        self.out.rode.clear();
        self.losses = vec![0.0; models];
        let rest = self.strategy.daily.as_ref().map_or(self.strategy.rules.rest_at.0, |daily| daily.up_to);
        self.wear.renew(rest);
        (self.since_top_up_h, self.top_up_due) = (0.0, false);
        self.age(history, 0);
        let clock = self.years.clock;
        let end = history.years * 365 * clock.steps_a_day;
        let (mut now, mut next_look) = (0, DAYS_A_LOOK * clock.steps_a_day);
        for arrival in
            history.arrivals.iter().chain(std::iter::once(&Arrival { start: end, steps: 0, warned_from: 1.0 }))
        {
            let start = arrival.start.min(end).max(now);
            let warned = match &self.strategy.rules.before_a_storm {
                Some(rule) if arrival.warned_from < rule.warned.0 => {
                    // A step of notice that is not whole is none (cautious), but for rounding.
                    start.saturating_sub((rule.ahead.0 / clock.step_h + 1e-6) as usize).max(now)
                }
                _ => start,
            };
            while now < start {
                let midnight = (now / clock.steps_a_day + 1) * clock.steps_a_day;
                let in_warning = now >= warned && warned < start;
                let until = midnight.min(if in_warning { start } else { warned.max(now + 1) }).min(start);
                self.calm(history, now, until, in_warning);
                now = until;
                if now >= next_look {
                    self.age(history, now);
                    next_look += DAYS_A_LOOK * clock.steps_a_day;
                }
            }
            if arrival.steps > 0 && start < end {
                self.age(history, now);
                now = self.outage(history, workspace, start, arrival.steps);
            }
        }
        self.finish(history, end);
        &self.out
    }

    fn around(&self, history: &HistoryOf<'_>, at: usize) -> Surroundings {
        self.steady.unwrap_or_else(|| {
            let day = at / self.years.clock.steps_a_day;
            let air = history.day_air_c.get(day).copied().unwrap_or(25.0);
            self.years.tables.surroundings(Celsius(air))
        })
    }

    /// Brings the kit up to its age, and notes when a law has reached 20 %.
    fn age(&mut self, history: &HistoryOf<'_>, now: usize) {
        let at_years = now as f64 / (365 * self.years.clock.steps_a_day) as f64;
        for (index, loss) in self.wear.losses(&self.years.tables).enumerate() {
            if self.out.years_to_worn[index].is_nan() && loss >= crate::ageing::trade::WORN_OUT {
                let model = self.years.tables.models()[index];
                self.out.years_to_worn[index] = self.wear.damage(index).years_to_worn_out(model, at_years);
            }
            self.losses[index] = loss;
        }
        let over = now / (365 * self.years.clock.steps_a_day);
        while self.out.lost_by_year.len() < over * self.losses.len() {
            self.out.lost_by_year.extend_from_slice(&self.losses);
        }
        let loss = self.years.felt_loss(self.losses.iter().copied());
        let rise = self.wear.resistance_rise();
        // The station was compiled once with these figures: a worse efficiency cannot make it contradict itself.
        if rise > 0.0
            && let Ok(kit) = self.strategy.kit(rise)
        {
            self.plan.kit = kit;
        } else if now == 0 {
            self.plan.kit = self.strategy.plan.kit.clone();
        }
        self.plan.kit.scale = (1.0 - loss).max(LEAST_CAPACITY);
        self.unknowns.clear();
        self.rig = self.plan.kit.draw(history.rng, 0.0, &mut self.unknowns);
        if let Some(daily) = &self.strategy.daily {
            let mut rig = self.rig.clone();
            rig.floor_wh = (daily.down_to * rig.capacity_wh).max(rig.floor_wh);
            rig.ceiling_wh = (daily.up_to * rig.capacity_wh).min(rig.ceiling_wh);
            self.daily_unit = unit(rig, self.years.clock.step_h);
        }
        let watts = self.strategy.rules.charge_with.map_or(TYPICAL_CHARGE_RATE_PER_H * self.years.rated_wh.0, |w| w.0);
        let charger_w = self.strategy.station.wall_charger.map_or(f64::INFINITY, |charger| charger.limit.0);
        let bus_w = (watts.min(charger_w) * self.rig.wall_efficiency).min(self.rig.charge_limit_w);
        self.wall_rate_per_h = bus_w * self.rig.charge_efficiency / self.rig.capacity_wh;
        self.repeat.valid = false;
    }

    fn outage(&mut self, history: &HistoryOf<'_>, workspace: &mut Workspace, start: usize, steps: usize) -> usize {
        let clock = self.years.clock;
        let mut placed = workspace.place((history.weather, 0), clock.steps_a_day, start, steps, history.climate_z);
        placed.charge_z = self.wear.charge();
        let around = self.around(history, start);
        let (wear, tables) = (&mut self.wear, &self.years.tables);
        let mut follow = Follow { wear, tables, around, step_h: clock.step_h, charge_h: 0.0 };
        let outcome = workspace.run(&self.plan, history.rng, &placed, &mut follow);
        if self.out.rode.is_empty() {
            self.out.unknowns.extend_from_slice(workspace.unknowns());
        }
        self.out.rode.push(outcome.survived);
        self.out.outage_wh += outcome.ledger.delivered_wh();
        if self.years.cuts {
            // Between cuts the mains charges: that is ordinary life.
            let month = month_of_day(start / clock.steps_a_day);
            self.out.charge_h[month] += follow.charge_h;
            self.out.calm_h[month] += steps as f64 * clock.step_h;
            let dear = self.years.prices.as_ref().map(|prices| prices.dear_a_wh);
            self.buy(outcome.ledger[Flow::Wall], dear);
        }
        self.top_up_due = true;
        start + steps
    }

    fn finish(&mut self, history: &HistoryOf<'_>, end: usize) {
        let around = self.around(history, end);
        self.wear.finish(&self.years.tables, &around);
        self.out.full_cycles = self.wear.full_cycles();
        self.out.lost = self.wear.losses(&self.years.tables).collect();
        while self.out.lost_by_year.len() < history.years * self.losses.len() {
            self.out.lost_by_year.extend_from_slice(&self.out.lost);
        }
        self.out.lost_by_year.truncate(history.years * self.losses.len());
        let lived = history.years as f64;
        for (index, &model) in self.years.tables.models().iter().enumerate() {
            let years = &mut self.out.years_to_worn[index];
            if years.is_nan() {
                *years = self.wear.damage(index).years_to_worn_out(model, lived);
            }
        }
    }
}
