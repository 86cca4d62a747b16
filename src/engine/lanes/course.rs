//! The course of one plan through a chunk's outages, a day at a time.

mod plugged;
mod settle;
mod show;

use std::ops::Range;

use super::asking::Askers;
use super::demand::DayDemand;
use super::follow::Following;
use super::held::HeldOff;
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
use crate::engine::trial::{History, LoadOutcome, hundredths};
use crate::engine::varying::LaneCuts;
use crate::engine::wiring::AtInput;
use crate::random::masks::flag;
use crate::random::real::Real;
use crate::weather::lanes::DaySky;

/// Lanes in which it is settled at once what is served where one of them goes short; divides all widths but one.
const BLOCK: usize = 8;
/// So many of them that go short are settled sooner one after the other than all at once.
const FEW: u64 = 2;
/// So many lanes with loads held off are settled sooner by themselves than by working out for all lanes what the rest take.
const FEW_HELD: u64 = 3;

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

    /// Takes some steps of a day.
    ///
    /// * `whole` — whether they are within all lanes' outages.
    #[inline(always)]
    fn steps(
        &mut self,
        (plan, whole): (&Plan, bool),
        chunk: &Chunk<'_, L>,
        (midnight, of_year, steps): (usize, usize, Range<usize>),
        sky: &DaySky<R, L>,
        (wants_charge, looks): (bool, bool),
        sink: &mut dyn Sink,
    ) {
        let (mut still, mut short) = ([0; L], [0; L]);
        let (mut active, mut air_c, mut late) = ([true; L], [0.0; L], false);
        // Where nothing but rules holds loads off, lanes that have the rest go on with the others.
        let ride = L > 1 && !looks && !plan.any_asks && !self.following.follows() && !self.wants.hangs_on_outlet();
        let mut held_off = HeldOff::default();
        let plugged = plan.fuel.is_some() || plan.feeds.is_some() || plan.second.is_some() || !plan.sources.is_empty();
        for at in steps {
            let now = midnight + at;
            if wants_charge {
                self.wants.missed.count_at(now, chunk.count);
            }
            if plan.any_asks || self.following.follows() {
                air_c = self.follow(plan, (of_year, at), (now, &chunk.first), sky);
            }
            if !whole {
                for l in 0..L {
                    active[l] = chunk.first[l] <= now && now < chunk.end[l];
                    still[l] = flag(!active[l]);
                }
            }
            if plan.any_asks {
                self.ask(plan, at, &air_c, &active);
            }
            if plugged {
                self.plug_in(plan, chunk, (now, at));
            }
            let (mut held, mut riding) = (false, false);
            let open = plan.open(at);
            if let Some(cuts) = open {
                self.cuts.step(cuts, now, plan.season.step_h);
            }
            let feeds = plan.feeds_at(at).is_some();
            let parted = open.is_some() || feeds || !plan.parts(at).is_empty();
            if late {
                for l in 0..L {
                    still[l] = flag(!active[l]);
                }
                late = false;
            }
            if plan.any_rule {
                let charge = (&self.lane.stored_wh, &self.cells.capacity_wh);
                let mut off = self.wants.rule(plan, now, chunk, charge);
                let days = (&self.weekday, &self.factors[..]);
                let parts = if feeds { Some(&self.fed.parts) } else { open.map(|_| &self.cuts.parts) };
                self.wants.darken(plan, (now, at), chunk, (days, parts), &self.askers.states, &mut off);
                let mut count = 0;
                for l in 0..L {
                    off[l] &= flag(active[l]);
                    count += off[l] & 1;
                }
                riding = ride && !parted && count > FEW_HELD;
                held = count > 0 && !riding;
                let holds = if riding { &[0; L] } else { &off };
                for l in 0..L {
                    still[l] = holds[l] | flag(!active[l]);
                }
                if riding {
                    held_off.work_out(plan, at, &off, (&self.wants, &self.demand), (&self.weekday, &self.factors));
                }
            }
            let bus_w = if riding { &held_off.bus_w } else { &self.demand.step(at).bus_w };
            if !parted && self.is_dawn(plan, at) && self.cells.any_low(&self.lane.stored_wh, bus_w) {
                late = self.find_late(plan, at, bus_w, &active, &mut still);
                held |= late;
            }
            if self.following.follows() || looks {
                let asked = self.demand.step(at);
                for l in 0..L {
                    let [ac_w, dc_w, usb_w] = [0, 1, 2].map(|outlet: usize| asked.lost_w[outlet][l]);
                    self.cells.electronics_w[l] = self.own_draw_w[l] + ac_w + dc_w + usb_w;
                }
            }
            let before = if L == 1 && looks { Some(self.lane) } else { None };
            self.served = None;
            if parted {
                self.settle_parted(plan, chunk, (now, at), &active);
            }
            let (all, more) = (whole && !held, self.more || looks);
            let (lane, cells, at_input) = (&mut self.lane, &self.cells, &self.at_input[at]);
            let bus_w = if riding { &held_off.bus_w } else { &self.demand.step(at).bus_w };
            let powers = (bus_w, plan.plug_w(at));
            let flags = &mut short;
            let any = !parted
                && match (self.lit[at], all, more) {
                    (true, true, false) => lane.step::<R, true, true, false>(cells, powers, at_input, &still, flags),
                    (true, false, false) => lane.step::<R, true, false, false>(cells, powers, at_input, &still, flags),
                    (false, true, false) => lane.step::<R, false, true, false>(cells, powers, at_input, &still, flags),
                    (false, false, false) => {
                        lane.step::<R, false, false, false>(cells, powers, at_input, &still, flags)
                    }
                    (true, _, true) => lane.step::<R, true, false, true>(cells, powers, at_input, &still, flags),
                    (false, _, true) => lane.step::<R, false, false, true>(cells, powers, at_input, &still, flags),
                };
            if riding {
                let mut takes = held_off.lanes;
                for l in 0..L {
                    takes[l] &= !(short[l] | still[l]);
                }
                self.given.correct_held(&takes, &held_off, self.demand.step(at));
                let mut index = [0; L];
                for l in 0..L {
                    index[l] = now.wrapping_sub(chunk.first[l]) as u64;
                }
                let days = (&self.weekday, &self.factors[..]);
                self.wants.miss::<L>(plan, (0, at), (&takes, &index), (None, 1.0), days);
            }
            if (any || held) && !parted {
                if held {
                    for l in 0..L {
                        short[l] |= if active[l] { still[l] } else { 0 };
                    }
                    for l in 0..self.wants.parts.len() {
                        if active[l] && !self.wants.parts[l].is_empty() {
                            self.settle_split(plan, chunk, (now, at), l, &active);
                            short[l] = 0;
                        }
                    }
                }
                if L == 1 && short[0] != 0 {
                    self.settle_one(plan, chunk, (now, at), 0, &short);
                }
                for (k, flags) in short.as_chunks::<BLOCK>().0.iter().enumerate() {
                    match flags.iter().fold(0, |count: u64, flag| count.wrapping_sub(*flag)) {
                        0 => {}
                        1..=FEW => {
                            for b in (0..BLOCK).filter(|&b| flags[b] != 0) {
                                self.settle_one(plan, chunk, (now, at), k * BLOCK + b, &short);
                            }
                        }
                        _ => self.settle::<BLOCK>(plan, chunk, (now, at), k, &short),
                    }
                }
            }
            if plugged {
                self.unplug(plan, at, &active);
            }
            if plan.any_asks {
                let mut takes = [0; L];
                for l in 0..L {
                    takes[l] = flag(active[l]);
                }
                let asked_wh: Vec<f64> = if looks { self.asked_wh() } else { Vec::new() };
                let fed = open.map(|_| &self.cuts.fed);
                self.askers.settle(plan, (now, at, &chunk.first), (&takes, fed), &mut self.wants);
                if looks && active[0] {
                    self.show(plan, chunk, (now, at), before, &asked_wh, sink);
                }
            } else if looks && active[0] {
                self.show(plan, chunk, (now, at), before, &[], sink);
            }
            if wants_charge {
                levels(&self.lane.stored_wh, &self.per_capacity, &mut self.levels[at]);
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

/// Charges in hundredths.
#[inline(always)]
fn levels<const L: usize>(stored_wh: &[f64; L], per_capacity: &[f64; L], out: &mut [u32; L]) {
    for l in 0..L {
        out[l] = hundredths(stored_wh[l] * per_capacity[l]);
    }
}
