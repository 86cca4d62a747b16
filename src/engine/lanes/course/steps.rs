//! The steps of a day: all lanes at once where each gets everything, and what is settled for those that do not.

use std::ops::Range;

use super::plugged::lane_parts;
use super::{BLOCK, Course};
use crate::engine::lanes::held::HeldOff;
use crate::engine::lanes::{Chunk, Sink};
use crate::engine::plan::Plan;
use crate::engine::trial::hundredths;
use crate::random::masks::flag;
use crate::random::real::Real;
use crate::weather::lanes::DaySky;

/// So many of them that go short are settled sooner one after the other than all at once.
const FEW: u64 = 2;
/// So many lanes with loads held off are settled sooner by themselves than by working out for all lanes what the rest take.
const FEW_HELD: u64 = 3;

impl<R: Real, const L: usize> Course<R, L> {
    /// Takes some steps of a day.
    ///
    /// * `whole` — whether they are within all lanes' outages.
    #[inline(always)]
    pub(super) fn steps(
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
            let parted = lane_parts(plan, at, &self.cuts, &self.fed).is_some() || !plan.parts(at).is_empty();
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
                let parts = lane_parts(plan, at, &self.cuts, &self.fed);
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
}

/// Charges in hundredths.
#[inline(always)]
fn levels<const L: usize>(stored_wh: &[f64; L], per_capacity: &[f64; L], out: &mut [u32; L]) {
    for l in 0..L {
        out[l] = hundredths(stored_wh[l] * per_capacity[l]);
    }
}
