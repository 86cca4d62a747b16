//! From what the outlets are asked for to power at the bus, in lanes; and what is served where there is too little of it.

mod served;
mod wanted;

use super::cells::Flags;
use super::dawn::Available;
use super::rig::{CLASSES, OUTLETS, Rig};
use crate::kit::LossCurve;
use crate::random::masks::{block, either, flag, masked};
use crate::random::polynomials::less;
pub(super) use served::Served;
pub(super) use wanted::Wanted;

/// Converters and electronics, lane by lane.
#[derive(Debug, Clone)]
pub(super) struct Outlets<const L: usize> {
    idle_w: [[f64; L]; OUTLETS],
    linear: [[f64; L]; OUTLETS],
    quadratic_per_w: [[f64; L]; OUTLETS],
    step_w: [[f64; L]; OUTLETS],
    step_per_w: [[f64; L]; OUTLETS],
    limit_w: [[f64; L]; OUTLETS],
    /// Drawn by the electronics \[W\].
    pub own_w: [f64; L],
    /// Whether each sleeps while nothing is asked for.
    sleeps: [bool; OUTLETS],
}

impl<const L: usize> Default for Outlets<L> {
    fn default() -> Outlets<L> {
        let zero = [[0.0; L]; OUTLETS];
        Outlets {
            idle_w: zero,
            linear: zero,
            quadratic_per_w: zero,
            step_w: zero,
            step_per_w: zero,
            limit_w: zero,
            own_w: [0.0; L],
            sleeps: [false; OUTLETS],
        }
    }
}

/// Bus power of running some classes for the whole step.
#[derive(Debug, Clone, Copy)]
struct Running<const B: usize> {
    delivered_w: [[f64; B]; OUTLETS],
    lost_w: [[f64; B]; OUTLETS],
    own_w: [f64; B],
    bus_w: [f64; B],
}

impl<const L: usize> Outlets<L> {
    /// Takes over the rigs of all lanes.
    pub(super) fn set(&mut self, rigs: &[Rig]) {
        self.sleeps[0] = rigs.first().is_some_and(|rig| rig.inverter_sleeps);
        for (l, rig) in rigs.iter().enumerate().take(L) {
            for outlet in 0..OUTLETS {
                let curve = rig.curve(outlet);
                self.idle_w[outlet][l] = curve.idle_w;
                self.linear[outlet][l] = curve.linear;
                self.quadratic_per_w[outlet][l] = curve.quadratic_per_w;
                self.step_w[outlet][l] = curve.step_w;
                self.step_per_w[outlet][l] = curve.step_per_w;
                self.limit_w[outlet][l] = rig.outlet_limit_w[outlet];
            }
            self.own_w[l] = rig.own_draw_w;
        }
    }

    /// The `k`th block of lanes.
    #[inline(always)]
    pub(super) fn block<const B: usize>(&self, k: usize) -> Outlets<B> {
        let mut out = Outlets { own_w: *block(&self.own_w, k), sleeps: self.sleeps, ..Outlets::default() };
        for outlet in 0..OUTLETS {
            out.idle_w[outlet] = *block(&self.idle_w[outlet], k);
            out.linear[outlet] = *block(&self.linear[outlet], k);
            out.quadratic_per_w[outlet] = *block(&self.quadratic_per_w[outlet], k);
            out.step_w[outlet] = *block(&self.step_w[outlet], k);
            out.step_per_w[outlet] = *block(&self.step_per_w[outlet], k);
            out.limit_w[outlet] = *block(&self.limit_w[outlet], k);
        }
        out
    }

    /// What a lane's outlet may give \[W\].
    #[inline(always)]
    pub(super) fn limit_w(&self, outlet: usize) -> &[f64; L] {
        &self.limit_w[outlet]
    }

    /// What a lane's converter loses \[W\].
    #[inline(always)]
    pub(super) fn lost_w(&self, outlet: usize, l: usize, watts: f64, variance_w2: f64) -> f64 {
        let curve = LossCurve {
            idle_w: self.idle_w[outlet][l],
            linear: self.linear[outlet][l],
            quadratic_per_w: self.quadratic_per_w[outlet][l],
            step_w: self.step_w[outlet][l],
            step_per_w: self.step_per_w[outlet][l],
        };
        masked(curve.lost_w(watts, variance_w2), !(flag(self.sleeps[outlet]) & flag(watts <= 0.0)))
    }

    /// What a converter loses, and bus power with it; infinite where the outlet's limit is exceeded.
    #[inline(always)]
    pub(super) fn convert(
        &self,
        outlet: usize,
        (watts, variance_w2): (&[f64; L], &[f64; L]),
        lost_w: &mut [f64; L],
        bus_w: &mut [f64; L],
    ) {
        for l in 0..L {
            let watts = watts[l];
            let loss = self.lost_w(outlet, l, watts, variance_w2[l]);
            lost_w[l] = loss;
            bus_w[l] += if watts <= self.limit_w[outlet][l] { watts + loss } else { f64::INFINITY };
        }
    }

    /// Adds a class to those that run.
    #[inline(always)]
    fn add(
        wanted: &Wanted<L>,
        class: usize,
        now: &mut Running<L>,
        (variance_w2, on): &mut ([f64; L], [Flags<L>; OUTLETS]),
    ) {
        for l in 0..L {
            variance_w2[l] += wanted.variance_w2[class][l];
        }
        for outlet in 0..OUTLETS {
            for l in 0..L {
                now.delivered_w[outlet][l] += wanted.watts[class][outlet][l];
                on[outlet][l] |= wanted.plugged[class][outlet][l];
            }
        }
    }

    /// Works out what those that run take.
    #[inline(always)]
    fn take(&self, now: &mut Running<L>, (variance_w2, on): &([f64; L], [Flags<L>; OUTLETS])) {
        now.own_w = self.own_w;
        now.bus_w = self.own_w;
        for outlet in 0..OUTLETS {
            for l in 0..L {
                let watts = now.delivered_w[outlet][l];
                let lost_w = self.lost_w(outlet, l, watts, if outlet == 0 { variance_w2[l] } else { 0.0 });
                now.lost_w[outlet][l] = masked(lost_w, on[outlet][l]);
                now.bus_w[l] += watts + now.lost_w[outlet][l];
            }
        }
    }

    /// What running everything takes.
    #[inline(always)]
    fn everything(&self, wanted: &Wanted<L>) -> Running<L> {
        let (mut now, mut sums) = (Running::default(), ([0.0; L], [[0; L]; OUTLETS]));
        for class in 0..CLASSES {
            Self::add(wanted, class, &mut now, &mut sums);
        }
        self.take(&mut now, &sums);
        now
    }

    /// Bus power of everything asked for \[W\].
    pub(super) fn bus_w(&self, wanted: &Wanted<L>) -> [f64; L] {
        self.everything(wanted).bus_w
    }

    /// Cuts the demand at each outlet to the outlet's limit, spare loads first, and the shares with it. Returns the lanes in which
    /// anything is cut.
    #[inline(always)]
    fn cut_to_limits(&self, wanted: &mut Wanted<L>, share: &mut [[[f64; L]; OUTLETS]; CLASSES]) -> Flags<L> {
        let mut cut = [0; L];
        for outlet in 0..OUTLETS {
            let mut room_w = self.limit_w[outlet];
            let (mut over, mut any) = ([0; L], 0);
            for l in 0..L {
                let asked_w: f64 = wanted.watts[0][outlet][l] + wanted.watts[1][outlet][l] + wanted.watts[2][outlet][l];
                over[l] = flag(asked_w > room_w[l]);
                cut[l] |= over[l];
                any |= over[l];
            }
            if any == 0 {
                continue;
            }
            for class in 0..CLASSES {
                for l in 0..L {
                    let asked_w = wanted.watts[class][outlet][l];
                    let given_w = less(asked_w, room_w[l]);
                    let less = over[l] & flag(given_w < asked_w);
                    let left = either(less, given_w / asked_w, 1.0);
                    share[class][outlet][l] = left;
                    wanted.watts[class][outlet][l] = either(less, given_w, asked_w);
                    wanted.variance_w2[class][l] *= if outlet == 0 { left } else { 1.0 };
                    room_w[l] -= given_w;
                }
            }
        }
        cut
    }

    /// Settles what is served of a demand with so much power at the bus.
    ///
    /// Nobody foresees the moment at which the cells are empty: until then everything runs that they can give power for, and
    /// for the rest of the step what sun and wall feed. Power that does not suffice is shared out in time: with enough for the
    /// vital loads but not for all, the spare ones run for a part of it. Loads of one class share alike, so their order does
    /// not matter.
    #[inline(always)]
    pub(super) fn serve(&self, available: &Available<L>, wanted: &mut Wanted<L>) -> Served<L> {
        let mut share = [[[1.0; L]; OUTLETS]; CLASSES];
        let cut = self.cut_to_limits(wanted, &mut share);
        let everything = self.everything(wanted);
        let (mut fits, mut any_lacks) = ([0; L], 0);
        for l in 0..L {
            fits[l] = flag(everything.bus_w[l] <= available.of(l, everything.bus_w[l]));
            any_lacks |= !fits[l];
        }
        let mut served = Served {
            share,
            all: fits,
            delivered_w: everything.delivered_w,
            lost_w: everything.lost_w,
            own_w: everything.own_w,
            bus_w: everything.bus_w,
        };
        for l in 0..L {
            served.all[l] &= !cut[l];
        }
        if any_lacks == 0 {
            return served;
        }
        let until = self.share_out(&available.while_cells_last(), wanted, &everything);
        let mut lasts = [1.0; L];
        for l in 0..L {
            lasts[l] = available.lasts(l, until.bus_w[l]);
        }
        let after = self.share_out(&available.once_empty(&lasts), wanted, &everything);
        for l in 0..L {
            let mix = |with: f64, without: f64, of_all: f64| {
                either(fits[l], of_all, lasts[l] * with + (1.0 - lasts[l]) * without)
            };
            for outlet in 0..OUTLETS {
                for class in 0..CLASSES {
                    let share = &mut served.share[class][outlet][l];
                    *share *= mix(until.share[class][l], after.share[class][l], 1.0);
                }
                let watts = &mut served.delivered_w[outlet][l];
                *watts = mix(until.delivered_w[outlet][l], after.delivered_w[outlet][l], *watts);
                let watts = &mut served.lost_w[outlet][l];
                *watts = mix(until.lost_w[outlet][l], after.lost_w[outlet][l], *watts);
            }
            served.own_w[l] = mix(until.own_w[l], after.own_w[l], served.own_w[l]);
            // Sums that round must not ask for more than there is.
            served.bus_w[l] = less(mix(until.bus_w[l], after.bus_w[l], served.bus_w[l]), available.most_w[l]);
        }
        served
    }

    /// Shares out power that is there in the same way for some time.
    #[inline(always)]
    fn share_out(&self, available: &Available<L>, wanted: &Wanted<L>, everything: &Running<L>) -> Shared<L> {
        let mut served = Shared {
            share: [[1.0; L]; CLASSES],
            delivered_w: everything.delivered_w,
            lost_w: everything.lost_w,
            own_w: everything.own_w,
            bus_w: everything.bus_w,
        };
        let mut all_fit = [0; L];
        for l in 0..L {
            all_fit[l] = flag(everything.bus_w[l] <= available.of(l, everything.bus_w[l]));
        }
        // Lanes in which all classes so far run for the whole time, and what they take.
        let (mut whole, mut before) = ([u64::MAX; L], Running::default());
        let (mut now, mut sums) = (before, ([0.0; L], [[0; L]; OUTLETS]));
        for class in 0..CLASSES {
            if whole.iter().all(|whole| *whole == 0) {
                served.share[class] = [0.0; L];
                continue;
            }
            if class + 1 < CLASSES {
                Self::add(wanted, class, &mut now, &mut sums);
                self.take(&mut now, &sums);
            } else {
                now = *everything;
            }
            for l in 0..L {
                let available_w = available.of(l, now.bus_w[l]);
                let fits = all_fit[l] | flag(now.bus_w[l] <= available_w);
                // Part of the time with this class, the rest without it and all below it.
                let share = (available_w - before.bus_w[l]) / (now.bus_w[l] - before.bus_w[l]);
                let part = masked(either(fits, 1.0, share), whole[l]);
                // Only the class that runs short is mixed with those before it; where one has, it stays at that.
                let short = whole[l] & !fits;
                let settle = |with: f64, without: f64, settled: &mut f64| {
                    *settled = either(short, part * with + (1.0 - part) * without, *settled);
                };
                settle(now.own_w[l], before.own_w[l], &mut served.own_w[l]);
                for outlet in 0..OUTLETS {
                    let (with, without) = (&now, &before);
                    settle(
                        with.delivered_w[outlet][l],
                        without.delivered_w[outlet][l],
                        &mut served.delivered_w[outlet][l],
                    );
                    settle(with.lost_w[outlet][l], without.lost_w[outlet][l], &mut served.lost_w[outlet][l]);
                }
                served.share[class][l] = part;
                served.bus_w[l] = either(short, available_w, served.bus_w[l]);
                whole[l] &= fits;
            }
            before = now;
        }
        served
    }
}

/// What is served while power is there in the same way.
#[derive(Debug, Clone, Copy)]
struct Shared<const B: usize> {
    /// Share of the demand served, by class.
    share: [[f64; B]; CLASSES],
    delivered_w: [[f64; B]; OUTLETS],
    lost_w: [[f64; B]; OUTLETS],
    own_w: [f64; B],
    bus_w: [f64; B],
}

impl<const B: usize> Default for Running<B> {
    fn default() -> Running<B> {
        let zero = [0.0; B];
        Running { delivered_w: [zero; OUTLETS], lost_w: [zero; OUTLETS], own_w: zero, bus_w: zero }
    }
}

#[cfg(test)]
mod tests;
