//! The energy balance of a chunk over its outages.

use super::short::{Fixes, Where};
use super::{Room, Sink, Waiting, panels};
use crate::engine::ledger::Ledger;
use crate::engine::plan::Plan;
use crate::engine::rig::{OUTLETS, Rig};
use crate::engine::step::Supply;
use crate::engine::trial::{LoadOutcome, Outcome};
use crate::random::polynomials::{less, more};

/// What the cells and the solar input of each lane can do.
struct Cells<const L: usize> {
    floor_wh: [f64; L],
    ceiling_wh: [f64; L],
    capacity_wh: [f64; L],
    /// Bus power out of a watt-hour above the floor, within a step \[W/Wh\].
    power_per_wh: [f64; L],
    discharge_w: [f64; L],
    /// Taken from the cells for a watt at the bus \[Wh/W\].
    out_wh_per_w: [f64; L],
    /// Arriving in the cells for a watt sent to them \[Wh/W\].
    into_wh_per_w: [f64; L],
    into_w_per_wh: [f64; L],
    most_into_wh: [f64; L],
    /// Share of the room up to full that the taper lets in within a step; huge where there is none.
    taper: [f64; L],
    self_discharge: f64,
    solar_limit_w: f64,
    solar_efficiency: f64,
}

impl<const L: usize> Cells<L> {
    #[inline(always)]
    fn new(rigs: &[Rig], step_h: f64) -> Cells<L> {
        let lane = |of: &dyn Fn(&Rig) -> f64| -> [f64; L] { std::array::from_fn(|l| of(&rigs[l])) };
        let into = |rig: &Rig| rig.charge_efficiency * step_h;
        Cells {
            floor_wh: lane(&|rig| rig.limits().floor_wh),
            ceiling_wh: lane(&|rig| rig.ceiling_wh),
            capacity_wh: lane(&|rig| rig.capacity_wh),
            power_per_wh: lane(&|rig| rig.discharge_efficiency / step_h),
            discharge_w: lane(&|rig| rig.limits().discharge_w),
            out_wh_per_w: lane(&|rig| step_h / rig.discharge_efficiency),
            into_wh_per_w: lane(&into),
            into_w_per_wh: lane(&|rig| 1.0 / into(rig)),
            most_into_wh: lane(&|rig| rig.limits().charge_w * into(rig)),
            taper: lane(&|rig| {
                let x = rig.limits().taper_from_w * into(rig);
                let share = x / (rig.taper_wh + x);
                if rig.taper_wh > 0.0 && share.is_finite() { share } else { 1e30 }
            }),
            self_discharge: (rigs[0].self_discharge_per_h * step_h).min(1.0),
            solar_limit_w: rigs[0].solar_limit_w,
            solar_efficiency: rigs[0].solar_efficiency,
        }
    }
}

/// State and sums of each lane. Sums are in the units of a step: watts are not yet multiplied by its length.
struct Lane<const L: usize> {
    stored_wh: [f64; L],
    lowest_wh: [f64; L],
    panel_w: [f64; L],
    clipped_w: [f64; L],
    used_w: [f64; L],
    into_w: [f64; L],
    out_wh: [f64; L],
    self_discharge_wh: [f64; L],
}

impl<const L: usize> Lane<L> {
    /// Energy before the step with self-discharge taken off, and whether any lane cannot be served in full.
    #[inline(always)]
    fn before(&self, cells: &Cells<L>, rate: &[f64; L], solar_w: &[f64; L], bus_w: &[f64; L]) -> ([f64; L], [bool; L]) {
        let (mut left_wh, mut short) = ([0.0; L], [false; L]);
        for l in 0..L {
            let left = self.stored_wh[l] - self.stored_wh[l] * rate[l];
            let from_cells_w = less(more(left - cells.floor_wh[l], 0.0) * cells.power_per_wh[l], cells.discharge_w[l]);
            left_wh[l] = left;
            short[l] = solar_w[l] + from_cells_w < bus_w[l];
        }
        (left_wh, short)
    }

    /// Takes a step without light.
    #[inline(always)]
    fn night(&mut self, cells: &Cells<L>, left_wh: &[f64; L], bus_w: &[f64; L]) {
        for l in 0..L {
            let out_wh = bus_w[l] * cells.out_wh_per_w[l];
            let stored = more(left_wh[l] - out_wh, 0.0);
            self.self_discharge_wh[l] += self.stored_wh[l] - left_wh[l];
            self.stored_wh[l] = stored;
            self.lowest_wh[l] = less(stored, self.lowest_wh[l]);
            self.out_wh[l] += out_wh;
        }
    }

    /// Takes a step with light.
    #[inline(always)]
    fn day(
        &mut self,
        cells: &Cells<L>,
        left_wh: &[f64; L],
        bus_w: &[f64; L],
        (panel_w, taken_w, solar_w): (&[f64; L], &[f64; L], &[f64; L]),
    ) {
        for l in 0..L {
            let left = left_wh[l];
            let missing_w = more(bus_w[l] - solar_w[l], 0.0);
            let surplus_w = more(solar_w[l] - bus_w[l], 0.0);
            let out_wh = missing_w * cells.out_wh_per_w[l];
            let room_wh = less(more(cells.ceiling_wh[l] - left, 0.0), cells.most_into_wh[l]);
            let accepted_wh = less(room_wh, more(cells.capacity_wh[l] - left, 0.0) * cells.taper[l]);
            let into_w = less(surplus_w, accepted_wh * cells.into_w_per_wh[l]);
            let stored = more(left + into_w * cells.into_wh_per_w[l] - out_wh, 0.0);
            self.self_discharge_wh[l] += self.stored_wh[l] - left;
            self.stored_wh[l] = stored;
            self.lowest_wh[l] = less(stored, self.lowest_wh[l]);
            self.panel_w[l] += panel_w[l];
            self.clipped_w[l] += panel_w[l] - taken_w[l];
            self.used_w[l] += solar_w[l] - (surplus_w - into_w);
            self.into_w[l] += into_w;
            self.out_wh[l] += out_wh;
        }
    }

    /// The sums of one lane, to be put back.
    fn sums(&self, l: usize) -> [f64; 8] {
        [
            self.stored_wh[l],
            self.lowest_wh[l],
            self.panel_w[l],
            self.clipped_w[l],
            self.used_w[l],
            self.into_w[l],
            self.out_wh[l],
            self.self_discharge_wh[l],
        ]
    }

    fn put_back(&mut self, l: usize, sums: [f64; 8]) {
        [
            self.stored_wh[l],
            self.lowest_wh[l],
            self.panel_w[l],
            self.clipped_w[l],
            self.used_w[l],
            self.into_w[l],
            self.out_wh[l],
            self.self_discharge_wh[l],
        ] = sums;
    }
}

/// Takes one plan through the chunk's weather.
#[inline(always)]
pub(super) fn run<const L: usize, S: Sink>(
    room: &mut Room<L>,
    plan: &Plan,
    index: usize,
    lanes: &[Waiting; L],
    (count, days): (usize, usize),
    sink: &mut S,
) {
    let season = &plan.season;
    let (n, step_h) = (season.steps_a_day, season.step_h);
    draw(room, plan, lanes, days);
    let rigs = std::mem::take(&mut room.rigs);
    let cells: Cells<L> = Cells::new(&rigs, step_h);
    let start = std::array::from_fn(|l| rigs[l].start_wh);
    let zero = [0.0; L];
    let mut lane = Lane {
        stored_wh: start,
        lowest_wh: start,
        panel_w: zero,
        clipped_w: zero,
        used_w: zero,
        into_w: zero,
        out_wh: zero,
        self_discharge_wh: zero,
    };
    let first: [usize; L] = std::array::from_fn(|l| lanes[l].history.first_step);
    let end: [usize; L] = std::array::from_fn(|l| first[l] + lanes[l].history.steps);
    let (latest_first, earliest_end) = (first.iter().max().copied(), end.iter().min().copied());
    let per_capacity: [f64; L] = std::array::from_fn(|l| 1.0 / rigs[l].capacity_wh);
    let wants_charge = sink.wants_charge(index);
    let varies = plan.loads.iter().any(|load| !super::demand::is_fixed(load));
    let (mut delivered, mut lost) = ([[0.0; L]; OUTLETS], [[0.0; L]; OUTLETS]);
    let mut fixes: Fixes<L> = Fixes::new(plan);
    let mut demand = std::mem::take(&mut room.demand);
    room.loads.clear();
    room.loads.resize(L * plan.loads.len(), LoadOutcome::default());
    for day in 0..days {
        if day == 0 || varies {
            demand.fill(plan, &rigs, |k| &room.factors[k * days + day]);
        }
        // Whole days are summed by their totals, days cut by an end of the outage step by step: lane by lane, so that sums
        // do not depend on the neighbours.
        let (midnight, next) = (day * n, (day + 1) * n);
        let whole = latest_first <= Some(midnight) && Some(next) <= earliest_end;
        let whole_lane: [bool; L] = std::array::from_fn(|l| first[l] <= midnight && next <= end[l]);
        for outlet in 0..OUTLETS {
            for l in 0..L {
                delivered[outlet][l] += if whole_lane[l] { demand.delivered[outlet][l] } else { 0.0 };
                lost[outlet][l] += if whole_lane[l] { demand.lost[outlet][l] } else { 0.0 };
            }
        }
        fixes.ask(plan, day * n, &first, &end, |k| &room.factors[k * days + day], &mut room.loads);
        for at in 0..n {
            let now = day * n + at;
            let asked = &demand.steps[at];
            let mut active = [true; L];
            let (mut rate, mut bus_w) = ([cells.self_discharge; L], asked.bus_w);
            if !whole {
                for l in 0..L {
                    active[l] = first[l] <= now && now < end[l];
                }
                if !active.contains(&true) {
                    continue;
                }
                for l in 0..L {
                    let weight = if active[l] { 1.0 } else { 0.0 };
                    rate[l] *= weight;
                    bus_w[l] = if active[l] { bus_w[l] } else { 0.0 };
                    let counted = if active[l] && !whole_lane[l] { 1.0 } else { 0.0 };
                    for outlet in 0..OUTLETS {
                        delivered[outlet][l] += counted * asked.delivered_w[outlet][l];
                        lost[outlet][l] += counted * asked.lost_w[outlet][l];
                    }
                }
            }
            let lit = room.lit[now];
            let (mut panel_w, mut taken_w, mut solar_w) = (zero, zero, zero);
            if lit {
                for l in 0..L {
                    let weight = if active[l] { 1.0 } else { 0.0 };
                    panel_w[l] = room.panel_w[now][l] * weight;
                    taken_w[l] = less(room.usable_w[now][l], cells.solar_limit_w) * weight;
                    solar_w[l] = taken_w[l] * cells.solar_efficiency;
                }
            }
            let (left_wh, mut short) = lane.before(&cells, &rate, &solar_w, &bus_w);
            if plan.any_rule {
                fixes.rule(plan, now, &first, &active, (&lane.stored_wh, &cells.capacity_wh), &mut short);
            }
            let any = short.iter().fold(false, |any, short| any | short);
            let saved = if any {
                std::array::from_fn(|l| if short[l] { lane.sums(l) } else { [0.0; 8] })
            } else {
                [[0.0; 8]; L]
            };
            if lit {
                lane.day(&cells, &left_wh, &bus_w, (&panel_w, &taken_w, &solar_w));
            } else {
                lane.night(&cells, &left_wh, &bus_w);
            }
            if any {
                for l in (0..L).filter(|&l| short[l]) {
                    lane.put_back(l, saved[l]);
                    let supply = Supply { panel_w: panel_w[l], usable_w: room.usable_w[now][l], wall_w: 0.0 };
                    let here = Where { l, at, index: (now - first[l]) as u32 };
                    let stored = fixes.step(
                        plan,
                        &rigs[l],
                        (lane.stored_wh[l], supply),
                        here,
                        asked,
                        |k| room.factors[k * days + day][l],
                        &mut room.loads[l * plan.loads.len()..(l + 1) * plan.loads.len()],
                    );
                    lane.stored_wh[l] = stored;
                    lane.lowest_wh[l] = less(stored, lane.lowest_wh[l]);
                }
            }
            if wants_charge {
                for l in 0..count {
                    if active[l] {
                        sink.charge(index, now - first[l], lane.stored_wh[l] * per_capacity[l]);
                    }
                }
            }
        }
    }
    for l in 0..count {
        let rig = &rigs[l];
        let mut ledger = fixes.extra[l];
        let steps = (end[l] - first[l]) as f64;
        let used_wh = lane.used_w[l] * step_h;
        ledger.add(&Ledger {
            solar_wh: lane.panel_w[l] * step_h,
            curtailed_wh: lane.panel_w[l] * step_h - used_wh / rig.solar_efficiency,
            clipped_wh: lane.clipped_w[l] * step_h,
            barred_wh: if cells.most_into_wh[l] == 0.0 {
                (lane.panel_w[l] - lane.clipped_w[l]) * step_h - used_wh / rig.solar_efficiency
            } else {
                0.0
            },
            start_wh: rig.start_wh,
            end_wh: lane.stored_wh[l],
            served_wh: std::array::from_fn(|outlet| delivered[outlet][l] * step_h),
            solar_input_loss_wh: used_wh * (1.0 / rig.solar_efficiency - 1.0),
            charging_loss_wh: lane.into_w[l] * step_h * (1.0 - rig.charge_efficiency),
            discharging_loss_wh: lane.out_wh[l] * (1.0 - rig.discharge_efficiency),
            outlet_loss_wh: std::array::from_fn(|outlet| lost[outlet][l] * step_h),
            own_draw_wh: rig.own_draw_w * steps * step_h,
            self_discharge_wh: lane.self_discharge_wh[l],
            ..Ledger::default()
        });
        debug_assert!(ledger.imbalance() < 1e-9, "the ledger does not close: {ledger:?}");
        let missed = &fixes.missed[l];
        let survived = missed.failure.is_none();
        let outcome = Outcome {
            survived,
            failure: missed.failure,
            vital_missed_wh: missed.vital_wh,
            missed_wh: missed.all_wh,
            lowest_charge: lane.lowest_wh[l] / rig.capacity_wh,
            margin: if survived { lane.lowest_wh[l] } else { -missed.vital_wh } / rig.capacity_wh,
            ledger,
        };
        let loads = &room.loads[l * plan.loads.len()..(l + 1) * plan.loads.len()];
        sink.outcome(index, &lanes[l], &outcome, loads, &room.unknowns[l]);
    }
    room.demand = demand;
    room.rigs = rigs;
}

/// Draws kits, panels and loads of all lanes.
#[inline(always)]
fn draw<const L: usize>(room: &mut Room<L>, plan: &Plan, lanes: &[Waiting; L], days: usize) {
    room.unknowns.resize_with(L, Vec::new);
    room.rigs.clear();
    for l in 0..L {
        let unknowns = &mut room.unknowns[l];
        unknowns.clear();
        if plan.season.sun_uncertainty > 0.0 {
            unknowns.push(lanes[l].history.climate_z);
        }
        room.rigs.push(plan.kit.draw(lanes[l].luck, lanes[l].history.charge_z, unknowns));
    }
    panels::fill(room, plan, lanes, days);
    room.factors.clear();
    room.factors.resize(plan.loads.len() * days, [1.0; L]);
    for (k, load) in plan.loads.iter().enumerate() {
        for l in 0..L {
            if let Some(mut factor) = load.days(lanes[l].luck, &mut room.unknowns[l]) {
                for day in 0..lanes[l].history.days {
                    room.factors[k * days + day][l] = factor();
                }
            }
        }
    }
}
