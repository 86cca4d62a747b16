//! Days without outage: a battery at rest, or in everyday use.

use super::{HistoryOf, Life};
use crate::ageing::Surroundings;
use crate::calendar::month_of_day;
use crate::engine::Supply;
use crate::study::years::plan::{DailyPlan, StrategyPlan};

/// A day of everyday use that can be repeated.
#[derive(Debug, Default)]
pub(super) struct Repeat {
    /// Charge after each step.
    charges: Vec<f64>,
    start: f64,
    daily_wh: f64,
    wall_wh: f64,
    saved: f64,
    paid: f64,
    pub(super) valid: bool,
}

impl<'a> Life<'a> {
    /// A stretch of one day without outage.
    pub(super) fn calm(&mut self, history: &HistoryOf<'_>, from: usize, until: usize, warned: bool) {
        let clock = self.years.clock;
        let hours = (until - from) as f64 * clock.step_h;
        let around = self.around(history, from);
        self.charge_h = 0.0;
        let strategy: &'a StrategyPlan = self.strategy;
        match &strategy.daily {
            None => self.rest(hours, warned, &around),
            Some(daily) => {
                let whole = from.is_multiple_of(clock.steps_a_day) && until - from == clock.steps_a_day && !warned;
                if whole && !self.strategy.rules.use_solar_daily {
                    self.same_day(daily, from, &around);
                } else {
                    for at in from..until {
                        self.use_step(daily, history, at, warned, &around);
                    }
                }
            }
        }
        let month = month_of_day(from / clock.steps_a_day);
        self.out.charge_h[month] += self.charge_h;
        self.out.calm_h[month] += hours;
    }

    /// The charge moves straight to another.
    fn go(&mut self, reached: f64, hours: f64, around: &Surroundings) {
        self.charge_h += 0.5 * (self.wear.charge() + reached) * hours;
        self.wear.go(&self.years.tables, reached, hours, around);
    }

    /// The charge stays what it is.
    fn stay(&mut self, hours: f64, around: &Surroundings) {
        self.charge_h += self.wear.charge() * hours;
        self.wear.rest(&self.years.tables, hours, around);
    }

    fn storm_charge(&self) -> f64 {
        self.strategy.rules.before_a_storm.map_or(0.0, |rule| rule.charge_to.0)
    }

    /// Energy from the wall that takes the cells up by a share of their capacity \[Wh\].
    fn wall_wh(&self, gained: f64) -> f64 {
        self.at_plug(gained * self.rig.capacity_wh / self.rig.charge_efficiency)
    }

    /// What the charger takes from the plug for what arrives in the station, both energy or both power.
    fn at_plug(&self, arrives: f64) -> f64 {
        arrives / self.rig.wall_efficiency
    }

    pub(super) fn buy(&mut self, wh: f64, price_a_wh: Option<f64>) {
        self.out.wall_wh += wh;
        self.out.paid += wh * price_a_wh.unwrap_or(0.0);
    }

    /// A resting battery: charged to where it rests, held there, or left to lose a little.
    fn rest(&mut self, hours: f64, warned: bool, around: &Surroundings) {
        let rules = &self.strategy.rules;
        let rest_at = if warned { self.storm_charge().max(rules.rest_at.0) } else { rules.rest_at.0 };
        let plugged = warned || rules.top_up_every.is_none();
        if rules.top_up_every.is_some_and(|every| self.since_top_up_h >= every.0) {
            self.top_up_due = true;
        }
        self.since_top_up_h += hours;
        let dear = self.years.prices.as_ref().map(|prices| prices.dear_a_wh);
        let mut left = hours;
        let charge = self.wear.charge();
        if (plugged || self.top_up_due) && charge < rest_at {
            let needed = (rest_at - charge) / self.wall_rate_per_h;
            let (reached, takes) =
                if needed <= left { (rest_at, needed) } else { (charge + left * self.wall_rate_per_h, left) };
            self.go(reached, takes, around);
            self.buy(self.wall_wh(reached - charge), dear);
            left -= takes;
        }
        if self.top_up_due && self.wear.charge() >= rest_at {
            // Counted from the day on which it was done.
            (self.top_up_due, self.since_top_up_h) = (false, hours);
        }
        if left <= 0.0 {
            return;
        }
        let lost = self.wear.charge() * self.rig.self_discharge_per_h * left;
        if plugged && self.wear.charge() <= rest_at {
            // Held: the wall feeds the electronics and makes up for what the cells lose.
            self.stay(left, around);
            self.buy(self.at_plug(self.rig.own_draw_w * left) + self.wall_wh(lost), dear);
        } else {
            self.go(self.wear.charge() - lost, left, around);
            if plugged {
                self.buy(self.at_plug(self.rig.own_draw_w * left), dear);
            }
        }
    }

    /// A whole day of everyday use without sun: repeated where it begins as the last one did.
    fn same_day(&mut self, daily: &'a DailyPlan, from: usize, around: &Surroundings) {
        let mut repeat = std::mem::take(&mut self.repeat);
        let step_h = self.years.clock.step_h;
        if repeat.valid && repeat.start == self.wear.charge() {
            for &charge in &repeat.charges {
                self.go(charge, step_h, around);
            }
            self.out.daily_wh += repeat.daily_wh;
            self.out.wall_wh += repeat.wall_wh;
            self.out.saved += repeat.saved;
            self.out.paid += repeat.paid;
        } else {
            repeat.charges.clear();
            repeat.start = self.wear.charge();
            let before = (self.out.daily_wh, self.out.wall_wh, self.out.saved, self.out.paid);
            for at in from..from + self.years.clock.steps_a_day {
                self.use_in(daily, at, 0.0, false, around);
                repeat.charges.push(self.wear.charge());
            }
            repeat.daily_wh = self.out.daily_wh - before.0;
            repeat.wall_wh = self.out.wall_wh - before.1;
            repeat.saved = self.out.saved - before.2;
            repeat.paid = self.out.paid - before.3;
            repeat.valid = true;
        }
        self.repeat = repeat;
    }

    fn use_step(&mut self, daily: &DailyPlan, history: &HistoryOf<'_>, at: usize, warned: bool, around: &Surroundings) {
        let panel_w = if self.strategy.rules.use_solar_daily { history.panel_w.get(at).copied() } else { None };
        self.use_in(daily, at, panel_w.unwrap_or(0.0), warned, around);
    }

    /// A step of everyday use: at the wall while a storm is announced or in the hours of recharging, else on its own.
    fn use_in(&mut self, daily: &DailyPlan, at: usize, panel_w: f64, warned: bool, around: &Surroundings) {
        let clock = self.years.clock;
        let of_day = at % clock.steps_a_day;
        let price = self.years.prices.as_ref().map(|prices| prices.a_wh[of_day]);
        let charge = self.wear.charge();
        if warned || daily.recharge[of_day] {
            let top = if warned { self.storm_charge().max(daily.up_to) } else { daily.up_to };
            let reached = (charge + self.wall_rate_per_h * clock.step_h).min(top).max(charge);
            self.go(reached, clock.step_h, around);
            self.buy(self.wall_wh(reached - charge) + self.at_plug(self.rig.own_draw_w * clock.step_h), price);
            return;
        }
        let stored_wh = charge * self.rig.capacity_wh;
        if panel_w <= 0.0 && stored_wh <= self.daily_unit.rig.floor_wh {
            // Empty and dark: everything hangs on the wall, the station is off.
            self.stay(clock.step_h, around);
            return;
        }
        let balance = self.daily_unit.step(stored_wh, Supply::sun(panel_w), &daily.demand[of_day], None);
        self.go(balance.stored_wh / self.rig.capacity_wh, clock.step_h, around);
        let delivered = balance.delivered_w.iter().sum::<f64>() * clock.step_h;
        self.out.daily_wh += delivered;
        self.out.saved += delivered * price.unwrap_or(0.0);
    }
}
