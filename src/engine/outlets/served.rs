//! What is served of what the outlets are asked for, in lanes.

use crate::engine::awake::AC;
use crate::engine::cells::{Flags, FromBus};
use crate::engine::feeds::Direct;
use crate::engine::rig::{CLASSES, OUTLETS};
use crate::random::masks::flag;

/// What is served of a step's demand.
#[derive(Debug, Clone, Copy)]
pub(in crate::engine) struct Served<const B: usize> {
    /// Share of the demand served, by class and outlet, 0 to 1.
    pub share: [[[f64; B]; OUTLETS]; CLASSES],
    /// Whether everything asked for is served.
    pub all: Flags<B>,
    /// What that takes: delivered at each outlet and lost in its converter, drawn by the electronics, means over the step \[W\].
    pub delivered_w: [[f64; B]; OUTLETS],
    pub lost_w: [[f64; B]; OUTLETS],
    pub own_w: [f64; B],
    /// The sum of it: no more than was there, to the last bit.
    pub bus_w: [f64; B],
}

impl<const B: usize> Served<B> {
    /// Nothing yet, in no time at all.
    pub(in crate::engine) fn none() -> Served<B> {
        let zero = [[0.0; B]; OUTLETS];
        Served {
            share: [zero; CLASSES],
            all: [u64::MAX; B],
            delivered_w: zero,
            lost_w: zero,
            own_w: [0.0; B],
            bus_w: [0.0; B],
        }
    }

    /// Adds what is served in a part of the step.
    ///
    /// * `part` — share of the step; `of_demand` — share of the step's demand that it asks for.
    #[inline(always)]
    pub(in crate::engine) fn add(&mut self, served: &Served<B>, part: f64, of_demand: f64) {
        for b in 0..B {
            self.all[b] &= served.all[b];
            self.own_w[b] += part * served.own_w[b];
            self.bus_w[b] += part * served.bus_w[b];
            for outlet in 0..OUTLETS {
                self.delivered_w[outlet][b] += part * served.delivered_w[outlet][b];
                self.lost_w[outlet][b] += part * served.lost_w[outlet][b];
                for class in 0..CLASSES {
                    self.share[class][outlet][b] += of_demand * served.share[class][outlet][b];
                }
            }
        }
    }

    /// Counts all that hangs on an outlet as missed.
    #[inline(always)]
    pub(in crate::engine) fn misses(&mut self, outlet: usize) {
        self.all = [0; B];
        for class in 0..CLASSES {
            self.share[class][outlet] = [0.0; B];
        }
    }

    /// Counts the AC loads that a generator feeds as served by it.
    #[inline(always)]
    pub(in crate::engine) fn served_directly(&mut self, direct: &Direct, share: &[[f64; B]; CLASSES]) {
        for class in (0..CLASSES).filter(|&class| direct.carries[class]) {
            self.share[class][AC] = share[class];
            for b in 0..B {
                self.all[b] &= flag(share[class][b] >= 1.0);
            }
        }
    }

    /// What a lane's electronics and converters take of it \[W\].
    #[inline(always)]
    pub(in crate::engine) fn electronics_w(&self, b: usize) -> f64 {
        self.own_w[b] + self.lost_w[0][b] + self.lost_w[1][b] + self.lost_w[2][b]
    }

    /// The first lane.
    pub(in crate::engine) fn first(&self) -> Served<1> {
        let of = |watts: &[[f64; B]; OUTLETS]| watts.map(|watts| [watts[0]]);
        Served {
            share: self.share.map(|of_class| of(&of_class)),
            all: [self.all[0]],
            delivered_w: of(&self.delivered_w),
            lost_w: of(&self.lost_w),
            own_w: [self.own_w[0]],
            bus_w: [self.bus_w[0]],
        }
    }
}

impl Served<1> {
    /// The shares in plain numbers.
    #[inline(always)]
    pub(in crate::engine) fn shares(&self) -> [[f64; OUTLETS]; CLASSES] {
        self.share.map(|of_class| of_class.map(|[share]| share))
    }

    /// What it takes of the bus.
    #[inline(always)]
    pub(in crate::engine) fn bus(&self) -> FromBus {
        let of = |watts: [[f64; 1]; OUTLETS]| watts.map(|[watts]| watts);
        FromBus { delivered_w: of(self.delivered_w), lost_w: of(self.lost_w), own_w: self.own_w[0] }
    }
}
