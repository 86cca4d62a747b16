//! What lanes are served that cannot have everything, or in which not all is alike throughout a step.

use super::{BLOCK, Chunk, Course, Wants};
use crate::engine::awake::AC;
use crate::engine::cells::Flags;
use crate::engine::cuts::Part;
use crate::engine::dawn::FOLLOWED_H;
use crate::engine::outlets::Served;
use crate::engine::plan::Plan;
use crate::engine::wiring::AtInput;
use crate::random::masks::{block, flag};
use crate::random::real::Real;

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
        (now, at): (usize, usize),
        k: usize,
        short: &Flags<L>,
    ) {
        let days = (&self.weekday, &self.factors[..]);
        let asking = if plan.on_mains(at) { &[][..] } else { &self.askers.states };
        let mut wanted = self.wants.wanted::<B>(plan, (k, at), days, asking);
        let (mut lane, mut cells) = (self.lane.block::<B>(k), self.cells.block::<B>(k));
        let (takes, first) = (block::<_, L, B>(short, k), block::<_, L, B>(&chunk.first, k));
        let at_input = self.at_input_of::<B>(at, k);
        let (wall_w, mut still, mut index) = (plan.plug_w(at), [0; B], [0; B]);
        for b in 0..B {
            (still[b], index[b]) = (!takes[b], now.wrapping_sub(first[b]) as u64);
        }
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
            lane.step::<R, true, false, true>(&cells, powers, &at_input, &still, lacks)
        } else {
            lane.step::<R, false, false, false>(&cells, powers, &at_input, &still, lacks)
        };
        debug_assert!(!less, "less is available than was settled");
        self.lane.put_block(k, &lane);
        self.given.correct(k, takes, &served, (self.demand.step(at), &self.own_draw_w));
        self.wants.miss(plan, (k, at), (takes, &index), (Some(&served.share), 1.0), days);
        if !plan.on_mains(at) {
            self.askers.give(plan, (k, 1.0), takes, &served.share, &self.wants);
        }
        if L == 1 {
            self.served = Some(served.first());
        }
    }

    /// Takes lane `l` by itself through a step in which its AC outlet goes off or on.
    #[inline(never)]
    pub(super) fn settle_split(
        &mut self,
        plan: &Plan,
        chunk: &Chunk<'_, L>,
        when: (usize, usize),
        l: usize,
        active: &[bool; L],
    ) {
        let parts = std::mem::take(&mut self.wants.parts[l]);
        self.settle_parts::<1>(plan, chunk, when, (l, &parts), active);
        self.wants.parts[l] = parts;
    }

    /// Takes the lanes through a step in which the mains comes or goes, or a generator feeds loads.
    pub(super) fn settle_parted(
        &mut self,
        plan: &Plan,
        chunk: &Chunk<'_, L>,
        when: (usize, usize),
        active: &[bool; L],
    ) {
        let step = plan.parts(when.1);
        let by_lane = plan.feeds_at(when.1).is_some() || plan.open(when.1).is_some();
        // Lanes may have parts of their own, for the mains or for a generator that feeds loads; where that has no fuel, none.
        let mut own = if plan.open(when.1).is_some() {
            std::mem::take(&mut self.cuts.parts)
        } else {
            std::mem::take(&mut self.fed.parts)
        };
        let split = |wants: &Wants<L>, l: usize| wants.parts.get(l).is_some_and(|parts| !parts.is_empty());
        let takes: Flags<L> = std::array::from_fn(|l| flag(active[l]));
        for k in 0..L.div_ceil(BLOCK) {
            let lanes = k * BLOCK..((k + 1) * BLOCK).min(L);
            let alike = !by_lane || own[lanes.clone()].iter().all(|parts| *parts == own[lanes.start]);
            if alike && lanes.len() == BLOCK && !lanes.clone().any(|l| split(&self.wants, l)) {
                match if by_lane { &own[lanes.start] } else { step } {
                    [] => self.settle::<BLOCK>(plan, chunk, when, k, &takes),
                    parts => self.settle_parts::<BLOCK>(plan, chunk, when, (k, parts), active),
                }
                continue;
            }
            for l in lanes {
                if split(&self.wants, l) {
                    self.settle_split(plan, chunk, when, l, active);
                    continue;
                }
                match if by_lane { &own[l] } else { step } {
                    [] if active[l] => self.settle_one(plan, chunk, when, l, &takes),
                    [] => {}
                    parts => self.settle_parts::<1>(plan, chunk, when, (l, parts), active),
                }
            }
        }
        std::mem::swap(if plan.open(when.1).is_some() { &mut self.cuts.parts } else { &mut self.fed.parts }, &mut own);
    }

    /// Takes the `k`th block of lanes through a step part after part: fed by the mains the loads ask the station for nothing,
    /// and with the AC outlet off those that hang on it go without.
    ///
    /// * `active` — the lanes whose outage the step is in.
    #[inline(never)]
    pub(super) fn settle_parts<const B: usize>(
        &mut self,
        plan: &Plan,
        chunk: &Chunk<'_, L>,
        (now, at): (usize, usize),
        (k, parts): (usize, &[Part]),
        active: &[bool; L],
    ) {
        let days = (&self.weekday, &self.factors[..]);
        // Of cuts that differ from day to day the demand is that of a step without mains; this lane's asks for a part of it.
        let part = if plan.open(at).is_some() { self.cuts.fed[k * B] } else { 1.0 };
        let fed = plan.fed(at) * part;
        let wanted = self.wants.wanted::<B>(plan, (k, at), days, &self.askers.states);
        let (mut lane, first) = (self.lane.block::<B>(k), block::<_, L, B>(&chunk.first, k));
        let (mut takes, mut still, mut index) = ([0; B], [0; B], [0; B]);
        for b in 0..B {
            takes[b] = flag(active[k * B + b]);
            (still[b], index[b]) = (!takes[b], now.wrapping_sub(first[b]) as u64);
        }
        let at_input = self.at_input_of::<B>(at, k);
        let outlets = self.demand.outlets.block::<B>(k);
        let (mut whole, mut heat_w) = (Served::none(), [0.0; B]);
        let idles = plan.ac_idles();
        for part @ &Part { share, on_mains, wall_w, ac_on, direct } in parts {
            let mut cells = self.cells.block::<B>(k).lasting(share);
            let mut plug_w = wall_w;
            if !plan.sources.is_empty() {
                plug_w = 1.0;
                for b in 0..B {
                    let l = k * B + b;
                    let from_wall_w = wall_w * self.wall_share(plan, at, l) * self.rigs[l].wall_efficiency;
                    cells.plug_in(b, from_wall_w + self.sources.at(at, l).bus_w);
                }
            }
            let mut asked = wanted.in_part(part, idles);
            let available = cells.supplied(&lane.stored_wh, (&at_input.usable_w, plug_w), None);
            let mut served = outlets.serve(&available, &mut asked);
            if !ac_on {
                served.misses(AC);
            } else if !on_mains {
                self.wants.trip(k, &takes, &asked, &served.share);
            }
            if let Some(direct) = &direct {
                let (given_w, of_class) = wanted.given_directly(direct);
                served.served_directly(direct, &of_class);
                self.fed.book(k, &takes, share, &given_w);
            }
            for b in 0..B {
                cells.electronics_w[b] = served.electronics_w(b);
            }
            let (powers, mut within) = ((&served.bus_w, plug_w), lane.without_sums());
            let less = within.step::<R, true, false, true>(&cells, powers, &at_input, &still, &mut [0; B]);
            debug_assert!(!less, "less is available than was settled");
            lane.add_part(&within, share);
            if !plan.sources.is_empty() {
                for b in 0..B {
                    self.sources.book_part(at, k * B + b, (share, within.wall_sum()[b]));
                }
            }
            for b in 0..B {
                heat_w[b] += share * within.heat_w[b];
            }
            whole.add(&served, share, if on_mains { 0.0 } else { share / fed });
        }
        lane.heat_w = heat_w;
        self.lane.put_block(k, &lane);
        self.given.correct(k, &takes, &whole, (self.demand.step(at), &self.own_draw_w));
        self.wants.miss(plan, (k, at), (&takes, &index), (Some(&whole.share), part), days);
        self.askers.give(plan, (k, fed), &takes, &whole.share, &self.wants);
        if L == 1 {
            self.served = Some(whole.first());
        }
    }

    /// The sun at the inputs of the `k`th block of lanes.
    #[inline(always)]
    fn at_input_of<const B: usize>(&self, at: usize, k: usize) -> AtInput<R, B> {
        let mut at_input = AtInput::none();
        if self.lit[at] {
            at_input.panel_w = *block::<_, L, B>(&self.at_input[at].panel_w, k);
            at_input.usable_w = *block::<_, L, B>(&self.at_input[at].usable_w, k);
        }
        at_input
    }
}
