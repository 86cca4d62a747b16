//! The course of one plan through a chunk's outages, a day at a time.

mod sums;

use std::ops::Range;

use super::account::Account;
use super::asking::Askers;
use super::cells::{Cells, Lane};
use super::demand::DayDemand;
use super::follow::Following;
use super::short::{Fixes, Where};
use super::{Chunk, Sink, Yields, panels};
use crate::engine::load::LoadLuck;
use crate::engine::plan::Plan;
use crate::engine::rig::{Limits, OUTLETS, Rig};
use crate::engine::step::Supply;
use crate::engine::trial::{History, LoadOutcome, hundredths};
use crate::engine::wiring::AtInput;
use crate::random::masks::flag;
use crate::random::polynomials::less;
use crate::random::real::Real;
use crate::weather::lanes::DaySky;
use sums::add;

/// Everything that one plan carries from day to day. Reused from chunk to chunk, for the one plan.
#[derive(Debug)]
pub(super) struct Course<R, const L: usize> {
    rigs: Vec<Rig>,
    limits: Vec<Limits>,
    unknowns: Vec<Vec<f64>>,
    rated_w: Vec<[R; L]>,
    /// For each load that varies or is not known, the lanes' luck; empty for the others.
    luck: Vec<Vec<LoadLuck>>,
    /// Day factor of each load.
    factors: Vec<[f64; L]>,
    varies: bool,
    /// Whether any load has days of the week, and which it is.
    weekly: bool,
    weekday: [usize; L],
    /// Whether there may be power from the wall, cells whose temperature changes, or cells that do not work.
    more: bool,
    following: Following<L>,
    demand: DayDemand<L>,
    /// Whether the demand holds for all trials of the plan.
    demand_stands: bool,
    account: Account,
    askers: Askers<L>,
    delivered: [[f64; L]; OUTLETS],
    lost: [[f64; L]; OUTLETS],
    fixes: Fixes<L>,
    loads: Vec<LoadOutcome>,
    cells: Cells<L>,
    per_capacity: [f64; L],
    own_draw_w: [f64; L],
    lane: Lane<L>,
    lit: Vec<bool>,
    at_input: Vec<AtInput<R, L>>,
    /// Charge after each step of the day in hundredths.
    levels: Vec<[u32; L]>,
}

impl<R: Real, const L: usize> Default for Course<R, L> {
    fn default() -> Course<R, L> {
        Course {
            rigs: Vec::new(),
            limits: Vec::new(),
            unknowns: vec![Vec::new(); L],
            rated_w: Vec::new(),
            luck: Vec::new(),
            factors: Vec::new(),
            varies: false,
            weekly: false,
            weekday: [0; L],
            more: false,
            following: Following::default(),
            demand: DayDemand::default(),
            demand_stands: false,
            account: Account::default(),
            askers: Askers::default(),
            delivered: [[0.0; L]; OUTLETS],
            lost: [[0.0; L]; OUTLETS],
            fixes: Fixes::default(),
            loads: Vec::new(),
            cells: Cells::default(),
            per_capacity: [0.0; L],
            own_draw_w: [0.0; L],
            lane: Lane::default(),
            lit: Vec::new(),
            at_input: Vec::new(),
            levels: Vec::new(),
        }
    }
}

impl<R: Real, const L: usize> Course<R, L> {
    /// Draws kits, panels and loads of all lanes.
    #[inline(always)]
    pub(super) fn begin(&mut self, plan: &Plan, chunk: &Chunk<'_, L>) {
        if self.rigs.is_empty() {
            self.account = Account::new(plan);
            self.rigs.resize(L, plan.kit.best_estimate());
        }
        let doubtful = plan.kit.doubtful();
        for (l, (unknowns, rig)) in self.unknowns.iter_mut().zip(&mut self.rigs).enumerate() {
            let History { climate_z, charge_z, .. } = chunk.lanes[l].history;
            unknowns.clear();
            plan.season.push_unknowns(&climate_z, unknowns);
            plan.kit.draw_anew(&doubtful, (chunk.luck[l], charge_z), unknowns, rig);
        }
        panels::draw(plan, chunk, &mut self.rated_w, &mut self.unknowns);
        self.luck.resize_with(plan.loads.len(), Vec::new);
        self.factors.clear();
        self.factors.resize(plan.loads.len(), [1.0; L]);
        self.varies = false;
        for (load, luck) in plan.loads.iter().zip(&mut self.luck) {
            luck.clear();
            if !load.is_fixed() {
                let lanes = chunk.luck.iter().zip(&mut self.unknowns);
                luck.extend(lanes.map(|(of_trial, unknowns)| LoadLuck::new(load, *of_trial, unknowns)));
                self.varies |= load.asks.is_none();
            }
        }
        self.weekly = plan.loads.iter().any(|load| load.week.is_some());
        self.varies |= self.weekly;
        self.askers.begin(plan, &mut self.luck, &chunk.first);
        let shape = self.rigs[0].fitness.at(self.rigs[0].home_c);
        self.limits.clear();
        self.limits.extend(self.rigs.iter().map(|rig| rig.limits_of(&shape)));
        if !self.demand_stands {
            self.demand.begin(plan, &self.rigs);
        }
        self.following.begin(plan, &self.rigs);
        self.more = self.following.follows()
            || self.limits.iter().any(|limits| !limits.works)
            || plan.wall_w.iter().any(|watts| *watts > 0.0);
        self.cells.set(&self.rigs, &self.limits, plan.season.step_h);
        for l in 0..L {
            self.per_capacity[l] = 1.0 / self.cells.capacity_wh[l];
            self.own_draw_w[l] = self.rigs[l].own_draw_w;
        }
        self.lane.begin(&self.rigs);
        for of_outlet in self.delivered.iter_mut().chain(&mut self.lost) {
            of_outlet.fill(0.0);
        }
        self.loads.resize(L * plan.loads.len(), LoadOutcome::default());
        self.fixes.begin(plan, &mut self.loads);
    }

    /// Takes the plan through the next day.
    ///
    /// * `day` — counted from that at whose midnight the weather begins.
    #[inline(always)]
    pub(super) fn day<S: Sink>(
        &mut self,
        (index, plan): (usize, &Plan),
        chunk: &Chunk<'_, L>,
        day: usize,
        sky: &DaySky<R, L>,
        yields: &mut Yields<R, L>,
        sink: &mut S,
    ) {
        let n = plan.season.steps_a_day;
        for (luck, factor) in self.luck.iter_mut().zip(&mut self.factors) {
            for (luck, factor) in luck.iter_mut().zip(factor) {
                *factor = luck.day();
            }
        }
        if self.weekly {
            for l in 0..L {
                self.weekday[l] = (chunk.lanes[l].history.weekday + day) % 7;
            }
        }
        if self.varies || (day == 0 && !self.demand_stands) {
            self.demand.fill(plan, &self.factors, &self.weekday);
            self.demand_stands = !self.varies && !plan.any_asks && plan.kit.outlets_are_known();
        }
        let of_year = (chunk.first_day + day) % 365;
        let (midnight, next) = (day * n, (day + 1) * n);
        let (any, all) = chunk.steps(midnight, n);
        let sunny = (&mut self.lit, &mut self.at_input);
        panels::fill(plan, (of_year, any.clone()), sky, yields, &self.rated_w, sunny);

        if self.varies || plan.any_asks {
            self.sum_up(plan, chunk, midnight, any.clone());
        }
        let wants_charge = sink.wants_charge(index);
        self.levels.resize(n, [0; L]);
        let when = (midnight, of_year);
        if day == 0 && self.following.follows() {
            // Cells follow the weather before the outage too.
            for at in 0..any.start {
                self.follow(plan, (of_year, at), at == 0, sky);
            }
        }
        self.steps::<false>(plan, chunk, when, any.start..all.start, sky, wants_charge);
        self.steps::<true>(plan, chunk, when, all.clone(), sky, wants_charge);
        self.steps::<false>(plan, chunk, when, all.end..any.end, sky, wants_charge);
        if wants_charge {
            for l in 0..chunk.count {
                let (from, to) = (chunk.first[l].max(midnight), chunk.end[l].min(next));
                if from < to {
                    sink.charges(index, from - chunk.first[l], &self.levels[from - midnight..to - midnight], l);
                }
            }
        }
    }

    /// Takes some steps of a day.
    ///
    /// * `WHOLE` — whether they are within all lanes' outages.
    #[inline(always)]
    fn steps<const WHOLE: bool>(
        &mut self,
        plan: &Plan,
        chunk: &Chunk<'_, L>,
        (midnight, of_year): (usize, usize),
        steps: Range<usize>,
        sky: &DaySky<R, L>,
        wants_charge: bool,
    ) {
        let mut still = [0; L];
        let mut short = [0; L];
        for at in steps {
            let now = midnight + at;
            let mut air_c = [0.0; L];
            if plan.any_asks || self.following.follows() {
                air_c = self.follow(plan, (of_year, at), now == 0, sky);
            }
            let mut active = [true; L];
            if !WHOLE {
                for l in 0..L {
                    active[l] = chunk.first[l] <= now && now < chunk.end[l];
                    still[l] = flag(!active[l]);
                }
            }
            if plan.any_asks {
                self.ask(plan, at, &air_c, &active);
            }
            let mut held = false;
            if plan.any_rule {
                let charge = (&self.lane.stored_wh, &self.cells.capacity_wh);
                let off = self.fixes.rule(plan, now, chunk, charge);
                for l in 0..L {
                    let holds = off[l] && active[l];
                    still[l] = flag(holds || !active[l]);
                    held |= holds;
                }
            }
            let all = WHOLE && !held;
            let asked = self.demand.step(at);
            if self.following.follows() {
                for l in 0..L {
                    let [ac_w, dc_w, usb_w] = [0, 1, 2].map(|outlet: usize| asked.lost_w[outlet][l]);
                    self.cells.electronics_w[l] = self.own_draw_w[l] + ac_w + dc_w + usb_w;
                }
            }
            let (lane, cells, at_input) = (&mut self.lane, &self.cells, &self.at_input[at]);
            let powers = (&asked.bus_w, plan.wall_w[at]);
            let short = &mut short;
            let any = match (self.lit[at], all, self.more) {
                (true, true, false) => lane.step::<R, true, true, false>(cells, powers, at_input, &still, short),
                (true, false, false) => lane.step::<R, true, false, false>(cells, powers, at_input, &still, short),
                (false, true, false) => lane.step::<R, false, true, false>(cells, powers, at_input, &still, short),
                (false, false, false) => lane.step::<R, false, false, false>(cells, powers, at_input, &still, short),
                (true, _, true) => lane.step::<R, true, false, true>(cells, powers, at_input, &still, short),
                (false, _, true) => lane.step::<R, false, false, true>(cells, powers, at_input, &still, short),
            };
            if any || held {
                if held {
                    for l in 0..L {
                        short[l] |= if active[l] { still[l] } else { 0 };
                    }
                }
                for four in (0..L).step_by(4) {
                    if short[four] | short[four + 1] | short[four + 2] | short[four + 3] != 0 {
                        for l in (four..four + 4).filter(|&l| short[l] != 0) {
                            self.alone(plan, chunk, (now, at), l);
                        }
                    }
                }
            }
            if plan.any_asks {
                let mut takes = [0; L];
                for l in 0..L {
                    takes[l] = flag(active[l]);
                }
                let when = (now, &chunk.first);
                self.askers.settle(plan, when, &takes, &mut self.fixes, &mut self.loads);
            }
            if wants_charge {
                levels(&self.lane.stored_wh, &self.per_capacity, &mut self.levels[at]);
            }
        }
    }

    /// Temperature outdoors in a step \[°C\], which the cells follow where they stand in the weather.
    ///
    /// * `first` — whether this is the first step of the weather.
    #[inline(always)]
    fn follow(&mut self, plan: &Plan, (of_year, at): (usize, usize), first: bool, sky: &DaySky<R, L>) -> [f64; L] {
        let air: [R; L] = plan.season.weather.air_c(sky, of_year, at);
        let mut air_c = [0.0; L];
        for l in 0..L {
            air_c[l] = air[l].wide();
        }
        let around = (&air_c, &sky.ghi_w_m2[at], &self.lane.heat_w);
        self.following.step(first, around, &self.rigs[0], &mut self.cells);
        air_c
    }

    /// Works out what loads ask for that ask by their own state.
    #[inline(always)]
    fn ask(&mut self, plan: &Plan, at: usize, air_c: &[f64; L], active: &[bool; L]) {
        let mut counted = [0.0; L];
        for l in 0..L {
            counted[l] = if active[l] { 1.0 } else { 0.0 };
        }
        self.askers.ask(plan, at, air_c, &self.factors);
        self.demand.ask(plan, at, &self.askers.states);
        let asked = self.demand.step(at);
        for outlet in (0..OUTLETS).filter(|&outlet| self.demand.asked[outlet]) {
            add(&counted, &asked.delivered_w[outlet], &mut self.delivered[outlet]);
            add(&counted, &asked.lost_w[outlet], &mut self.lost[outlet]);
        }
    }

    /// Takes a lane through a step by itself.
    #[inline(never)]
    fn alone(&mut self, plan: &Plan, chunk: &Chunk<'_, L>, (now, at): (usize, usize), l: usize) {
        let lit = self.lit[at];
        let of_sun = |watts: &[R; L]| if lit { watts[l].wide() } else { 0.0 };
        let supply = Supply {
            panel_w: of_sun(&self.at_input[at].panel_w),
            usable_w: of_sun(&self.at_input[at].usable_w),
            wall_w: plan.wall_w[at],
        };
        let here = Where { l, at, index: (now - chunk.first[l]) as u32, weekday: self.weekday[l] };
        let loads = &mut self.loads[l * plan.loads.len()..(l + 1) * plan.loads.len()];
        let asked = self.demand.step(at);
        let now;
        let demand = if self.varies || plan.any_rule || plan.any_asks {
            now = self.fixes.demand(plan, here, &self.factors, &self.askers.states);
            &now
        } else {
            &self.account.demands[at]
        };
        let of_lane = (self.lane.stored_wh[l], supply);
        if self.following.follows() {
            self.limits[l] =
                Limits { heater_w: self.cells.heater_w[l], ..self.rigs[l].limits_at(self.following.cell_c[l]) };
        }
        let rig = (&self.rigs[l], &self.limits[l]);
        let balance = self.fixes.step(plan, rig, of_lane, here, (demand, asked), (&self.factors, loads));
        self.askers.give(plan, l, &balance, &self.fixes);
        let stored = balance.stored_wh;
        self.lane.heat_w[l] = balance.heat_w;
        let at_outlets = |outlet: usize| asked.delivered_w[outlet][l] + asked.lost_w[outlet][l];
        self.lane.alone_w[l] += self.rigs[l].own_draw_w + (0..OUTLETS).map(at_outlets).sum::<f64>();
        self.lane.alone_wh[l] += stored - self.lane.stored_wh[l];
        self.lane.stored_wh[l] = stored;
        self.lane.lowest_wh[l] = less(stored, self.lane.lowest_wh[l]);
    }
}

/// Charges in hundredths.
#[inline(always)]
fn levels<const L: usize>(stored_wh: &[f64; L], per_capacity: &[f64; L], out: &mut [u32; L]) {
    for l in 0..L {
        out[l] = hundredths(stored_wh[l] * per_capacity[l]);
    }
}
