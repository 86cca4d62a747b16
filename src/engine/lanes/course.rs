//! The course of one plan through a chunk's outages, a day at a time.

mod plugged;
mod settle;
mod show;
mod steps;

use super::asking::Askers;
use super::demand::DayDemand;
use super::follow::Following;
use super::sums::{Given, add};
use super::wants::Wants;
use super::{Chunk, Sink, Yields, panels};
use crate::engine::cells::{Cells, Lane};
use crate::engine::feeds::Fed;
use crate::engine::fuel::Tank;
use crate::engine::kit_plan::INDOORS_C;
use crate::engine::ledger::Ledger;
use crate::engine::load::LoadDraws;
use crate::engine::outlets::Served;
use crate::engine::plan::Plan;
use crate::engine::rig::{Limits, OUTLETS, Rig};
use crate::engine::second::Second;
use crate::engine::sources::Sources;
use crate::engine::trial::{History, LoadOutcome};
use crate::engine::varying::LaneCuts;
use crate::engine::wiring::AtInput;
use crate::random::real::Real;
use crate::weather::lanes::DaySky;

/// Lanes in which it is settled at once what is served where one of them goes short; divides all widths but one.
const BLOCK: usize = 8;
/// Everything that one plan carries from day to day. Reused from chunk to chunk and, once it has forgotten the one before, for
/// another plan.
#[derive(Debug)]
pub(super) struct Course<R, const L: usize> {
    pub(super) rigs: Vec<Rig>,
    pub(super) unknowns: Vec<Vec<f64>>,
    rated_w: Vec<[R; L]>,
    /// For each load that varies or is not known, the lanes' random numbers; empty for the others.
    rng: Vec<Vec<LoadDraws>>,
    /// Day factor of each load.
    pub(super) factors: Vec<[f64; L]>,
    /// Whether the demand may differ from day to day.
    pub(super) varies: bool,
    /// Whether any load has days of the week, and which it is.
    weekly: bool,
    pub(super) weekday: [usize; L],
    /// Whether there may be power from the wall, cells whose temperature changes, or cells that do not work.
    pub(super) more: bool,
    following: Following<L>,
    /// Temperature of rooms that cool \[°C\].
    room_c: [f64; L],
    pub(super) demand: DayDemand<L>,
    /// Whether the demand holds for all trials of the plan.
    demand_stands: bool,
    pub(super) askers: Askers<L>,
    pub(super) given: Given<L>,
    pub(super) wants: Wants<L>,
    /// What became of the loads of the lane last told of.
    pub(super) loads: Vec<LoadOutcome>,
    pub(super) cells: Cells<L>,
    per_capacity: [f64; L],
    own_draw_w: [f64; L],
    pub(super) lane: Lane<L>,
    lit: Vec<bool>,
    at_input: Vec<AtInput<R, L>>,
    /// Charge after each step of the day in hundredths.
    levels: Vec<[u32; L]>,
    /// The generators' tanks, where their fuel ends.
    pub(super) tank: Tank<L>,
    /// What they feed directly, where they do.
    pub(super) fed: Fed<L>,
    /// The second stations, where there are any.
    pub(super) second: Second<L>,
    /// Cars, water and wind, where there are any.
    pub(super) sources: Sources<L>,
    /// Cuts that differ from day to day, where there are any.
    pub(super) cuts: LaneCuts<L>,
    /// What was served in the last step, where somebody looks and not everything was.
    served: Option<Served<1>>,

    /// The account so far, where somebody looks.
    seen: Ledger,
}

impl<R: Real, const L: usize> Default for Course<R, L> {
    fn default() -> Course<R, L> {
        Course {
            rigs: Vec::new(),
            unknowns: vec![Vec::new(); L],
            rated_w: Vec::new(),
            rng: Vec::new(),
            factors: Vec::new(),
            varies: false,
            weekly: false,
            weekday: [0; L],
            more: false,
            following: Following::default(),
            room_c: [INDOORS_C; L],
            demand: DayDemand::default(),
            demand_stands: false,
            askers: Askers::default(),
            given: Given::default(),
            wants: Wants::default(),
            loads: Vec::new(),
            cells: Cells::default(),
            per_capacity: [0.0; L],
            own_draw_w: [0.0; L],
            lane: Lane::default(),
            lit: Vec::new(),
            at_input: Vec::new(),
            levels: Vec::new(),
            tank: Tank::default(),
            fed: Fed::default(),
            second: Second::default(),
            sources: Sources::default(),
            cuts: LaneCuts::default(),
            served: None,
            seen: Ledger::default(),
        }
    }
}

impl<R: Real, const L: usize> Course<R, L> {
    /// Forgets the plan before.
    pub(super) fn forget(&mut self) {
        self.rigs.clear();
        self.demand_stands = false;
        self.wants.forget();
    }

    /// Draws kits, panels and loads of all lanes.
    ///
    /// * `kits` — whose station and panels each lane has: variations of `plan` in the size of battery and arrays alone.
    #[inline(always)]
    pub(super) fn begin(&mut self, (plan, kits): (&Plan, &[&Plan; L]), chunk: &Chunk<'_, L>) {
        if self.rigs.is_empty() {
            self.rigs.resize(L, plan.kit.best_estimate());
        }
        let doubtful = plan.kit.doubtful();
        for (l, (unknowns, rig)) in self.unknowns.iter_mut().zip(&mut self.rigs).enumerate() {
            let History { climate_z, charge_z, .. } = chunk.lanes[l].history;
            unknowns.clear();
            plan.season.push_unknowns(&climate_z, unknowns);
            kits[l].kit.draw_anew(&doubtful, (chunk.rng[l], charge_z), unknowns, rig);
        }
        panels::draw((plan, kits), &chunk.rng, &mut self.rated_w, &mut self.unknowns);
        self.rng.resize_with(plan.loads.len(), Vec::new);
        self.factors.clear();
        self.factors.resize(plan.loads.len(), [1.0; L]);
        self.varies = false;
        for (load, rng) in plan.loads.iter().zip(&mut self.rng) {
            rng.clear();
            if !load.is_fixed() {
                let lanes = chunk.rng.iter().zip(&mut self.unknowns);
                rng.extend(lanes.map(|(of_trial, unknowns)| LoadDraws::new(load, *of_trial, unknowns)));
                self.varies |= load.asks.is_none();
            }
        }
        self.sources.begin(&plan.sources, &chunk.rng, &mut self.unknowns);
        self.weekly = plan.loads.iter().any(|load| load.week.is_some());
        self.varies |= self.weekly;
        self.askers.begin(plan, &mut self.rng, &chunk.first);
        let shape = self.rigs[0].fitness.at(self.rigs[0].home_c);
        let limits: [Limits; L] = std::array::from_fn(|l| self.rigs[l].bounds().limits(&shape));
        if !self.demand_stands {
            self.demand.begin(plan, &self.rigs);
        }
        self.following.begin(plan, &self.rigs);
        self.room_c = [INDOORS_C; L];
        let plugged = !plan.sources.is_empty() || plan.wall_w.iter().any(|watts| *watts > 0.0) || plan.feeds.is_some();
        self.more = self.following.follows() || !shape.works || plugged;
        self.cells.set(&self.rigs, &limits, plan.season.step_h);
        for l in 0..L {
            self.per_capacity[l] = 1.0 / self.rigs[l].capacity_wh;
            self.own_draw_w[l] = self.rigs[l].own_draw_w;
        }
        self.lane.begin(&self.rigs);
        self.given = Given::default();
        self.wants.begin(plan, &self.rigs);
        self.seen = Ledger::starting_with(self.rigs[0].start_wh);
        if let Some(fuel) = &plan.fuel {
            self.tank.begin(fuel);
        }
        self.fed.begin();
        if let Some(second) = &plan.second {
            self.second.begin(second, &self.rigs);
        }
        if let Some(cuts) = &plan.varying {
            self.cuts.begin(cuts, &chunk.rng, |l| &chunk.lanes[l].history);
        }
    }

    /// Takes the plan through the next day.
    ///
    /// * `day` — counted from that at whose midnight the weather begins.
    #[inline(always)]
    pub(super) fn day(
        &mut self,
        (index, plan): (usize, &Plan),
        chunk: &Chunk<'_, L>,
        day: usize,
        sky: &DaySky<R, L>,
        yields: &mut Yields<R, L>,
        sink: &mut dyn Sink,
    ) {
        let n = plan.season.steps_a_day;
        for (rng, factor) in self.rng.iter_mut().zip(&mut self.factors) {
            for (rng, factor) in rng.iter_mut().zip(factor) {
                *factor = rng.day();
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
        if !plan.sources.is_empty() {
            self.sources.day(&plan.sources, plan.season.step_h);
        }
        let of_year = (chunk.first_day + day) % 365;
        let (midnight, next) = (day * n, (day + 1) * n);
        let (any, all) = chunk.steps(midnight, n);
        let sunny = (&mut self.lit, &mut self.at_input);
        // The sun is followed from a step before to one behind.
        let seen = any.start.saturating_sub(1)..(any.end + 1).min(n);
        panels::fill(plan, (of_year, seen), sky, yields, &self.rated_w, sunny);
        self.sum_up(plan, chunk, midnight);
        let wants_charge = sink.wants_charge(index);
        let looks = L == 1 && sink.observer().is_some();
        self.levels.resize(n, [0; L]);
        if day == 0 && self.following.follows() {
            // Cells follow the weather before the outage too.
            for at in 0..any.start {
                self.follow(plan, (of_year, at), (at, &chunk.first), sky);
            }
        }
        for (steps, whole) in [(any.start..all.start, false), (all.clone(), true), (all.end..any.end, false)] {
            self.steps((plan, whole), chunk, (midnight, of_year, steps), sky, (wants_charge, looks), sink);
        }
        if wants_charge {
            for l in 0..chunk.count {
                let (from, to) = (chunk.first[l].max(midnight), chunk.end[l].min(next));
                if from < to {
                    let levels = self.levels[from - midnight..to - midnight].as_flattened();
                    sink.charges(index, from - chunk.first[l], levels, (L, l));
                }
            }
        }
    }

    /// Temperature outdoors in a step \[°C\], which the cells follow where they stand in the weather.
    ///
    /// * `now` — the step, counted from the midnight at which the weather begins; `first` — those at which the outages begin.
    #[inline(always)]
    fn follow(
        &mut self,
        plan: &Plan,
        (of_year, at): (usize, usize),
        (now, first): (usize, &[usize; L]),
        sky: &DaySky<R, L>,
    ) -> [f64; L] {
        let air: [R; L] = plan.season.weather.air_c(sky, of_year, at);
        let mut air_c = [0.0; L];
        for l in 0..L {
            air_c[l] = air[l].wide();
        }
        if let Some(room) = &plan.room {
            for l in 0..L {
                self.room_c[l] = room.after_c(self.room_c[l], now < first[l], air_c[l]);
            }
        }
        let beside_c = if self.following.is_in_a_room() { &self.room_c } else { &air_c };
        let around = (beside_c, &sky.ghi_w_m2[at], &self.lane.heat_w);
        self.following.step(now == 0, around, &self.rigs[0], &mut self.cells);
        air_c
    }

    /// Works out what loads ask for that ask by their own state.
    #[inline(always)]
    fn ask(&mut self, plan: &Plan, at: usize, air_c: &[f64; L], active: &[bool; L]) {
        let mut counted = [0.0; L];
        for l in 0..L {
            counted[l] = if active[l] { 1.0 } else { 0.0 };
        }
        self.askers.ask(plan, at, (air_c, &self.room_c), &self.factors);
        let asking = if plan.on_mains(at) { &[][..] } else { &self.askers.states };
        self.demand.ask(plan, at, asking);
        let asked = self.demand.step(at);
        for outlet in (0..OUTLETS).filter(|&outlet| self.demand.asked[outlet]) {
            add(&counted, &asked.delivered_w[outlet], &mut self.given.delivered[outlet]);
            add(&counted, &asked.lost_w[outlet], &mut self.given.lost[outlet]);
        }
    }
}
