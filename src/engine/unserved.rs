//! What goes missing, and with whom, in lanes.

use super::asking::Settled;
use super::cells::Flags;
use super::cuts::CutDays;
use super::ledger::Ledger;
use super::plan::Plan;
use super::trial::{LoadOutcome, Outcome};
use crate::random::masks::{block, block_mut, either, flag, masked};

/// Rounding in the shares is not a failure: so much is forgiven \[Wh\].
pub(super) const ROUNDING_WH: f64 = 1e-9;

/// Sums of what was missed, and the first failure.
#[derive(Debug)]
pub(super) struct Missed<const L: usize> {
    /// By all loads \[Wh\].
    all_wh: [f64; L],
    /// By vital loads \[Wh\].
    vital_wh: [f64; L],
    /// Of that, what the allowance is for: not the energy of coolers whose food is judged \[Wh\].
    counted_wh: [f64; L],
    /// In the present step: the most that a vital load missed \[Wh\], and which; of equals the first that is booked.
    worst: ([f64; L], [u64; L]),
    /// First step in which the allowance was used up or food was lost, and the load.
    failure: [Option<(u32, u32)>; L],
    loads: Vec<OfLoad<L>>,
    /// Day by day, where cuts come back.
    cuts: Option<Box<CutDays<L>>>,
    /// The present step, counted from the midnight at which the weather begins, and how many of the lanes are told of; `None`
    /// where nobody asks when loads are dark.
    counting: Option<(usize, usize)>,
}

/// What one load missed.
#[derive(Debug, Clone)]
struct OfLoad<const L: usize> {
    unserved_wh: [f64; L],
    by_rule_wh: [f64; L],
    off_h: [f64; L],
    /// First step of the outage in which it went without; all bits set for none.
    first: [u64; L],
    /// Lanes in which it went without, by the step counted from the midnight at which the weather begins.
    dark: Vec<u32>,
}

impl<const L: usize> Default for Missed<L> {
    fn default() -> Missed<L> {
        let zero = [0.0; L];
        Missed {
            all_wh: zero,
            vital_wh: zero,
            counted_wh: zero,
            worst: (zero, [0; L]),
            failure: [None; L],
            loads: Vec::new(),
            cuts: None,
            counting: None,
        }
    }
}

impl<const L: usize> Missed<L> {
    /// Forgets everything.
    pub(super) fn begin(&mut self, plan: &Plan) {
        let mut loads = std::mem::take(&mut self.loads);
        let (zero, first) = ([0.0; L], [u64::MAX; L]);
        loads.clear();
        let nothing = OfLoad { unserved_wh: zero, by_rule_wh: zero, off_h: zero, first, dark: Vec::new() };
        loads.resize(plan.loads.len(), nothing);
        let cuts = (!plan.mains.is_empty()).then(|| Box::new(CutDays::new(plan.season.steps_a_day)));
        *self = Missed { loads, cuts, ..Missed::default() };
    }

    /// Counts from now on when loads are dark.
    ///
    /// * `now` — the present step, counted from the midnight at which the weather begins; `lanes` — how many of the lanes
    ///   are told of.
    #[inline(always)]
    pub(super) fn count_at(&mut self, now: usize, lanes: usize) {
        self.counting = Some((now, lanes));
    }

    /// Lanes in which a load went without, by the step counted from the midnight at which the weather begins.
    pub(super) fn dark(&self, k: usize) -> &[u32] {
        &self.loads[k].dark
    }

    /// Takes in what a load missed in the `at`th block of lanes. In one step loads come in the order of the addresses of their
    /// chance, so that the order of the scenario does not matter.
    ///
    /// * `counts` — whether energy counts against the allowance; `off` — the lanes in which its rule held it off; `index` —
    ///   the step of each outage.
    #[inline(always)]
    pub(super) fn book<const B: usize>(
        &mut self,
        plan: &Plan,
        (k, counts): (usize, bool),
        at: usize,
        (unserved_wh, off_h): (&[f64; B], &[f64; B]),
        (off, index): (&Flags<B>, &[u64; B]),
    ) {
        let load = &mut self.loads[k];
        add(unserved_wh, block_mut::<_, L, B>(&mut load.unserved_wh, at));
        add(unserved_wh, block_mut::<_, L, B>(&mut self.all_wh, at));
        let (by_rule_wh, off_sum_h) =
            (block_mut::<_, L, B>(&mut load.by_rule_wh, at), block_mut::<_, L, B>(&mut load.off_h, at));
        let first = block_mut::<_, L, B>(&mut load.first, at);
        for b in 0..B {
            let any = flag(unserved_wh[b] > ROUNDING_WH);
            by_rule_wh[b] += masked(unserved_wh[b], off[b]);
            off_sum_h[b] += masked(off_h[b], any);
            first[b] = first[b].min(index[b] | !any);
        }
        if let Some((now, lanes)) = self.counting {
            // Lanes beyond those told of repeat the last one.
            let mut dark = 0;
            for b in 0..B {
                dark += u32::from(at * B + b < lanes && unserved_wh[b] > ROUNDING_WH);
            }
            if dark > 0 {
                if load.dark.len() <= now {
                    load.dark.resize(now + 1, 0);
                }
                load.dark[now] += dark;
            }
        }
        if plan.loads[k].class != 0 {
            return;
        }
        add(unserved_wh, block_mut::<_, L, B>(&mut self.vital_wh, at));
        if let Some(cuts) = &mut self.cuts {
            for b in (0..B).filter(|&b| unserved_wh[b] > ROUNDING_WH) {
                cuts.book(at * B + b, index[b], unserved_wh[b]);
            }
        }
        if counts {
            add(unserved_wh, block_mut::<_, L, B>(&mut self.counted_wh, at));
            let (most_wh, with) =
                (block_mut::<_, L, B>(&mut self.worst.0, at), block_mut::<_, L, B>(&mut self.worst.1, at));
            for b in 0..B {
                let worse = flag(unserved_wh[b] > most_wh[b]);
                most_wh[b] = either(worse, unserved_wh[b], most_wh[b]);
                with[b] = (k as u64 & worse) | (with[b] & !worse);
            }
        }
    }

    /// Takes in what a step did to a load in one lane; see [`Missed::book`].
    pub(super) fn book_one(
        &mut self,
        plan: &Plan,
        (k, counts): (usize, bool),
        l: usize,
        settled: &Settled,
        (off, index): (u64, u32),
    ) {
        let missed = (&[settled.unserved_wh], &[settled.off_h]);
        self.book::<1>(plan, (k, counts), l, missed, (&[off], &[u64::from(index)]));
        // Of food lost in one step, that of the first by the address of its random stream.
        if plan.loads[k].class == 0 && settled.food_lost && self.failure[l].is_none_or(|(at, _)| at > index) {
            self.failure[l] = Some((index, k as u32));
        }
    }

    /// Judges the step in the `at`th block of lanes.
    #[inline(always)]
    pub(super) fn judge<const B: usize>(&mut self, plan: &Plan, at: usize, index: &[u64; B]) {
        let counted_wh = block::<_, L, B>(&self.counted_wh, at);
        let (mut over, mut any) = ([0; B], 0);
        for b in 0..B {
            over[b] = flag(counted_wh[b] > plan.allow_unmet_wh + ROUNDING_WH);
            any |= over[b];
        }
        let with = block_mut::<_, L, B>(&mut self.worst.1, at);
        if any != 0 {
            let failure = block_mut::<_, L, B>(&mut self.failure, at);
            for b in (0..B).filter(|&b| over[b] != 0) {
                failure[b].get_or_insert((index[b] as u32, with[b] as u32));
            }
        }
        *with = [0; B];
        *block_mut::<_, L, B>(&mut self.worst.0, at) = [0.0; B];
    }

    /// What a lane's load missed.
    pub(super) fn load(&self, k: usize, l: usize) -> LoadOutcome {
        let of = &self.loads[k];
        LoadOutcome {
            unserved_wh: of.unserved_wh[l],
            by_rule_wh: of.by_rule_wh[l],
            off_h: of.off_h[l],
            first_off_step: (of.first[l] != u64::MAX).then_some(of.first[l] as u32),
            ..LoadOutcome::default()
        }
    }

    /// What a lane's trial came to.
    ///
    /// * `lowest_wh` — least energy in the cells after any step \[Wh\].
    pub(super) fn outcome(&self, l: usize, lowest_wh: f64, capacity_wh: f64, ledger: Ledger) -> Outcome {
        let survived = self.failure[l].is_none();
        let (days_missed, worst_week_wh) = self.cuts.as_ref().map_or((0, 0.0), |cuts| cuts.of(l));
        Outcome {
            survived,
            failure: self.failure[l],
            vital_missed_wh: self.vital_wh[l],
            unserved_wh: self.all_wh[l],
            lowest_charge: lowest_wh / capacity_wh,
            // Food can be lost without any energy missed.
            margin: if survived { lowest_wh } else { -self.vital_wh[l].max(1e-3) } / capacity_wh,
            ledger,
            days_missed,
            worst_week_wh,
            burnt_l: 0.0,
            direct_wh: 0.0,
        }
    }
}

/// Adds lane by lane.
#[inline(always)]
fn add<const B: usize>(of: &[f64; B], sum: &mut [f64; B]) {
    for b in 0..B {
        sum[b] += of[b];
    }
}
