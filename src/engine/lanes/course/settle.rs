//! What lanes are served that cannot have everything, or in which not all is alike throughout a step.

use super::plugged::lane_parts;
use super::{BLOCK, Chunk, Course, Wants};
use crate::engine::awake::AC;
use crate::engine::cells::{Flags, Lane};
use crate::engine::cuts::Part;
use crate::engine::dawn::FOLLOWED_H;
use crate::engine::outlets::Served;
use crate::engine::plan::Plan;
use crate::engine::wiring::AtInput;
use crate::random::masks::{block, flag};
use crate::random::real::Real;

/// Whose parts of a step are taken one after the other.
#[derive(Debug, Clone, Copy)]
enum PartsOf {
    /// Of the step, alike in all lanes.
    Step,
    /// A lane's own, of the mains or a generator.
    Lane(usize),
    /// A lane's, in which its AC outlet goes off or on.
    Outlet(usize),
}

/// A block of lanes that goes through a step by itself.
struct Taken<R, const B: usize> {
    lane: Lane<B>,
    at_input: AtInput<R, B>,
    /// The lanes that count, those that stand still, and the step of each outage.
    takes: Flags<B>,
    still: Flags<B>,
    index: [u64; B],
}

impl<R: Real, const L: usize> Course<R, L> {
    /// Whether the sun is followed within a step of the day: in the first hours of light after a step without.
    #[inline(always)]
    pub(super) fn is_dawn(&self, plan: &Plan, at: usize) -> bool {
        let followed = (FOLLOWED_H / plan.season.step_h) as usize;
        self.lit[at] && self.lit[at.saturating_sub(followed)..at].iter().any(|lit| !lit)
    }

    /// What is usable in lane `l` in the steps before and after \[W\], where the sun is followed within a step.
    pub(super) fn around_w(&self, plan: &Plan, at: usize, l: usize) -> Option<[f64; 2]> {
        let of = |at: usize| if self.lit[at] { self.at_input[at].usable_w[l].wide() } else { 0.0 };
        let last = self.lit.len() - 1;
        self.is_dawn(plan, at).then(|| [of(at - 1), of((at + 1).min(last))])
    }

    /// Lets the lanes stand still whose cells are empty before the sun of a step is there; says whether there are any.
    #[inline(never)]
    pub(super) fn find_late(
        &self,
        plan: &Plan,
        at: usize,
        bus_w: &[f64; L],
        active: &[bool; L],
        still: &mut Flags<L>,
    ) -> bool {
        let mut any = false;
        let low = |l: usize| self.cells.is_low(l, self.lane.stored_wh[l], bus_w[l]);
        for l in (0..L).filter(|&l| active[l] && bus_w[l].is_finite() && low(l)) {
            let Some([before_w, after_w]) = self.around_w(plan, at, l) else { continue };
            let usable_w = [before_w, self.at_input[at].usable_w[l].wide(), after_w];
            let (cells_w, wall_w, dawn) = self.cells.at_dawn(l, self.lane.stored_wh[l], usable_w, plan.plug_w(at));
            if dawn.ahead_w((bus_w[l] - wall_w).max(0.0)) > cells_w {
                (still[l], any) = (u64::MAX, true);
            }
        }
        any
    }

    /// The `k`th block of lanes as a step begins.
    ///
    /// * `takes` — those of them that count.
    #[inline(always)]
    fn taken<const B: usize>(
        &self,
        chunk: &Chunk<'_, L>,
        (now, at): (usize, usize),
        k: usize,
        takes: Flags<B>,
    ) -> Taken<R, B> {
        let first = block::<_, L, B>(&chunk.first, k);
        let (mut still, mut index) = ([0; B], [0; B]);
        for b in 0..B {
            (still[b], index[b]) = (!takes[b], now.wrapping_sub(first[b]) as u64);
        }
        let mut at_input = AtInput::none();
        if self.lit[at] {
            at_input.panel_w = *block::<_, L, B>(&self.at_input[at].panel_w, k);
            at_input.usable_w = *block::<_, L, B>(&self.at_input[at].usable_w, k);
        }
        Taken { lane: self.lane.block::<B>(k), at_input, takes, still, index }
    }

    /// Takes over a block of lanes that went through the step, and books what is missed.
    ///
    /// * `part` — share of the step's demand that is asked of the station at all, `fed` — share of the step in which it is.
    #[inline(always)]
    fn put<const B: usize>(
        &mut self,
        plan: &Plan,
        (k, at): (usize, usize),
        taken: &Taken<R, B>,
        served: &Served<B>,
        (part, fed): (f64, f64),
    ) {
        let Taken { lane, takes, index, .. } = taken;
        let days = (&self.weekday, &self.factors[..]);
        self.lane.put_block(k, lane);
        self.given.correct(k, takes, served, (self.demand.step(at), &self.own_draw_w));
        self.wants.miss(plan, (k, at), (takes, index), (Some(&served.share), part), days);
        if !plan.on_mains(at) {
            self.askers.give(plan, (k, fed), takes, &served.share, &self.wants);
        }
        if L == 1 {
            self.served = Some(served.first());
        }
    }

    /// As [`Course::settle`] in lane `l` alone.
    #[inline(never)]
    pub(super) fn settle_one(
        &mut self,
        plan: &Plan,
        chunk: &Chunk<'_, L>,
        when: (usize, usize),
        l: usize,
        short: &Flags<L>,
    ) {
        self.settle::<1>(plan, chunk, when, l, short);
    }

    /// Settles what is served in the `k`th block of lanes where one cannot have everything or holds something off, books what is
    /// missed, and takes those lanes through the step.
    ///
    /// * `short` — which lanes these are.
    #[inline(always)]
    pub(super) fn settle<const B: usize>(
        &mut self,
        plan: &Plan,
        chunk: &Chunk<'_, L>,
        when: (usize, usize),
        k: usize,
        short: &Flags<L>,
    ) {
        let (at, days) = (when.1, (&self.weekday, &self.factors[..]));
        let asking = if plan.on_mains(at) { &[][..] } else { &self.askers.states };
        let mut wanted = self.wants.wanted::<B>(plan, (k, at), days, asking);
        let mut taken = self.taken::<B>(chunk, when, k, *block(short, k));
        let Taken { lane, at_input, takes, still, .. } = &mut taken;
        let (mut cells, wall_w) = (self.cells.block::<B>(k), plan.plug_w(at));
        let mut around_w = [[0.0; 2]; B];
        let followed = self.is_dawn(plan, at);
        if followed {
            for b in 0..B {
                around_w[b] = self.around_w(plan, at, k * B + b).unwrap_or_default();
            }
        }
        let available = cells.supplied(&lane.stored_wh, (&at_input.usable_w, wall_w), followed.then_some(&around_w));
        let served = self.demand.outlets.block::<B>(k).serve(&available, &mut wanted);
        self.wants.trip(k, takes, &wanted, &served.share);
        for b in 0..B {
            cells.electronics_w[b] = served.electronics_w(b);
        }
        let (powers, lacks) = ((&served.bus_w, wall_w), &mut [0; B]);
        let less = if self.lit[at] || self.more || L == 1 {
            lane.step::<R, true, false, true>(&cells, powers, at_input, still, lacks)
        } else {
            lane.step::<R, false, false, false>(&cells, powers, at_input, still, lacks)
        };
        debug_assert!(!less, "less is available than was settled");
        self.put(plan, (k, at), &taken, &served, (1.0, 1.0));
    }

    /// Takes lane `l` by itself through a step in which its AC outlet goes off or on.
    pub(super) fn settle_split(
        &mut self,
        plan: &Plan,
        chunk: &Chunk<'_, L>,
        when: (usize, usize),
        l: usize,
        active: &[bool; L],
    ) {
        self.settle_parts::<1>(plan, chunk, when, (l, PartsOf::Outlet(l)), active);
    }

    /// Takes the lanes through a step in which the mains comes or goes, or a generator feeds loads.
    pub(super) fn settle_parted(
        &mut self,
        plan: &Plan,
        chunk: &Chunk<'_, L>,
        when: (usize, usize),
        active: &[bool; L],
    ) {
        let (at, takes) = (when.1, std::array::from_fn(|l| flag(active[l])));
        let split = |wants: &Wants<L>, l: usize| wants.parts.get(l).is_some_and(|parts| !parts.is_empty());
        for k in 0..L.div_ceil(BLOCK) {
            let lanes = k * BLOCK..((k + 1) * BLOCK).min(L);
            let own = lane_parts(plan, at, &self.cuts, &self.fed);
            let alike = own.is_none_or(|own| own[lanes.clone()].iter().all(|parts| *parts == own[lanes.start]));
            let by_lane = own.is_some();
            let of = |l: usize| if by_lane { PartsOf::Lane(l) } else { PartsOf::Step };
            if alike && lanes.len() == BLOCK && !lanes.clone().any(|l| split(&self.wants, l)) {
                let of = of(lanes.start);
                match self.parts(plan, at, of) {
                    [] => self.settle::<BLOCK>(plan, chunk, when, k, &takes),
                    _ => self.settle_parts::<BLOCK>(plan, chunk, when, (k, of), active),
                }
                continue;
            }
            for l in lanes {
                let of = if split(&self.wants, l) { PartsOf::Outlet(l) } else { of(l) };
                match self.parts(plan, at, of) {
                    [] if active[l] => self.settle_one(plan, chunk, when, l, &takes),
                    [] => {}
                    _ => self.settle_parts::<1>(plan, chunk, when, (l, of), active),
                }
            }
        }
    }

    /// Some parts of a step; none of a lane in which a generator that would feed loads has no fuel.
    fn parts<'s>(&'s self, plan: &'s Plan, at: usize, of: PartsOf) -> &'s [Part] {
        match of {
            PartsOf::Step => plan.parts(at),
            PartsOf::Lane(l) => lane_parts(plan, at, &self.cuts, &self.fed).map_or(&[], |own| &own[l]),
            PartsOf::Outlet(l) => &self.wants.parts[l],
        }
    }

    /// Takes the `k`th block of lanes through a step part after part: fed by the mains the loads ask the station for nothing,
    /// and with the AC outlet off those that hang on it go without.
    ///
    /// * `active` — the lanes whose outage the step is in.
    #[inline(never)]
    fn settle_parts<const B: usize>(
        &mut self,
        plan: &Plan,
        chunk: &Chunk<'_, L>,
        when: (usize, usize),
        (k, of): (usize, PartsOf),
        active: &[bool; L],
    ) {
        let (at, days) = (when.1, (&self.weekday, &self.factors[..]));
        // Of cuts that differ from day to day the demand is that of a step without mains; this lane's asks for a part of it.
        let part_of_demand = if plan.open(at).is_some() { self.cuts.fed[k * B] } else { 1.0 };
        let fed = plan.fed(at) * part_of_demand;
        let wanted = self.wants.wanted::<B>(plan, (k, at), days, &self.askers.states);
        let takes = std::array::from_fn(|b| flag(active[k * B + b]));
        let mut taken = self.taken::<B>(chunk, when, k, takes);
        let Taken { lane, at_input, still, .. } = &mut taken;
        let outlets = self.demand.outlets.block::<B>(k);
        let (mut whole, mut heat_w) = (Served::none(), [0.0; B]);
        let idles = plan.ac_idles();
        for place in 0..self.parts(plan, at, of).len() {
            let part = self.parts(plan, at, of)[place];
            let mut cells = self.cells.block::<B>(k).lasting(part.share);
            let mut plug_w = part.wall_w;
            if !plan.sources.is_empty() {
                plug_w = 1.0;
                for b in 0..B {
                    let bus_w = self.beside_the_sun_w(plan, at, k * B + b, part.wall_w);
                    cells.plug_in(b, bus_w);
                }
            }
            let mut asked = wanted.in_part(&part, idles);
            let available = cells.supplied(&lane.stored_wh, (&at_input.usable_w, plug_w), None);
            let mut served = outlets.serve(&available, &mut asked);
            if !part.ac_on {
                served.misses(AC);
            } else if !part.on_mains {
                self.wants.trip(k, &takes, &asked, &served.share);
            }
            if let Some(direct) = &part.direct {
                let (given_w, of_class) = wanted.given_directly(direct);
                served.served_directly(direct, &of_class);
                self.fed.book(k, &takes, part.share, &given_w);
            }
            for b in 0..B {
                cells.electronics_w[b] = served.electronics_w(b);
            }
            let (powers, mut within) = ((&served.bus_w, plug_w), lane.without_sums());
            let less = within.step::<R, true, false, true>(&cells, powers, at_input, still, &mut [0; B]);
            debug_assert!(!less, "less is available than was settled");
            lane.add_part(&within, part.share);
            if !plan.sources.is_empty() {
                for b in 0..B {
                    self.sources.book_part(at, k * B + b, (part.share, within.wall_sum()[b]));
                }
            }
            for b in 0..B {
                heat_w[b] += part.share * within.heat_w[b];
            }
            whole.add(&served, part.share, if part.on_mains { 0.0 } else { part.share / fed });
        }
        lane.heat_w = heat_w;
        self.put(plan, (k, at), &taken, &whole, (part_of_demand, fed));
    }
}
