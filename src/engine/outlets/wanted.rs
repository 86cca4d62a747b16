//! What the outlets are asked for, in lanes.

use crate::engine::awake::AC;
use crate::engine::cells::Flags;
use crate::engine::cuts::Part;
use crate::engine::feeds::Direct;
use crate::engine::rig::{CLASSES, OUTLETS};
use crate::engine::step::Demand;
use crate::random::masks::{either, flag};
use crate::random::polynomials::less;

/// What is asked for in one step.
#[derive(Debug, Clone, Copy)]
pub(in crate::engine) struct Wanted<const B: usize> {
    /// Mean power by class and outlet \[W\].
    pub watts: [[[f64; B]; OUTLETS]; CLASSES],
    /// Variance of AC power within the step, by class \[W²\].
    pub variance_w2: [[f64; B]; CLASSES],
    /// Whether a load of the class is plugged in and switched on at the outlet, drawing or not.
    pub plugged: [[Flags<B>; OUTLETS]; CLASSES],
}

impl<const B: usize> Default for Wanted<B> {
    fn default() -> Wanted<B> {
        Wanted {
            watts: [[[0.0; B]; OUTLETS]; CLASSES],
            variance_w2: [[0.0; B]; CLASSES],
            plugged: [[[0; B]; OUTLETS]; CLASSES],
        }
    }
}

impl<const B: usize> Wanted<B> {
    /// What is asked of the station in a part of a step: nothing while the mains feeds the loads, nothing at an AC outlet that
    /// is off, and nothing for AC loads that a generator feeds: the inverter counts as on all the same.
    ///
    /// * `idles` — whether its converter counts as on all the same.
    #[inline(always)]
    pub(in crate::engine) fn in_part(&self, part: &Part, idles: bool) -> Wanted<B> {
        let mut wanted = if part.on_mains { Wanted { plugged: self.plugged, ..Wanted::default() } } else { *self };
        if !part.ac_on {
            wanted.without(AC, idles);
        }
        if let Some(direct) = &part.direct {
            for class in (0..CLASSES).filter(|&class| direct.carries[class]) {
                (wanted.watts[class][AC], wanted.variance_w2[class]) = ([0.0; B], [0.0; B]);
            }
        }
        wanted
    }

    /// What a generator gives of it straight to loads \[W\], and its share of what each class asks for at the AC outlet: vital loads
    /// first, where it is less than they ask for.
    #[inline(always)]
    pub(in crate::engine) fn given_directly(&self, direct: &Direct) -> ([f64; B], [[f64; B]; CLASSES]) {
        let (mut given_w, mut share) = ([0.0; B], [[1.0; B]; CLASSES]);
        for class in (0..CLASSES).filter(|&class| direct.carries[class]) {
            for b in 0..B {
                let asked_w = self.watts[class][AC][b];
                let has_w = less(asked_w, direct.most_w - given_w[b]);
                share[class][b] = either(flag(has_w < asked_w), has_w / asked_w, 1.0);
                given_w[b] += has_w;
            }
        }
        (given_w, share)
    }

    /// Asks for nothing at an outlet that is off.
    ///
    /// * `idles` — whether its converter counts as on all the same.
    #[inline(always)]
    fn without(&mut self, outlet: usize, idles: bool) {
        for class in 0..CLASSES {
            self.watts[class][outlet] = [0.0; B];
            if outlet == AC {
                self.variance_w2[class] = [0.0; B];
            }
            if !idles {
                self.plugged[class][outlet] = [0; B];
            }
        }
    }
}

impl From<&Demand> for Wanted<1> {
    #[inline(always)]
    fn from(demand: &Demand) -> Wanted<1> {
        let mut wanted = Wanted::default();
        for class in 0..CLASSES {
            wanted.variance_w2[class][0] = demand.variance_w2[class];
            for outlet in 0..OUTLETS {
                wanted.watts[class][outlet][0] = demand.watts[class][outlet];
                wanted.plugged[class][outlet][0] = flag(demand.plugged[class][outlet]);
            }
        }
        wanted
    }
}

impl Wanted<1> {
    /// The same in plain numbers.
    pub(in crate::engine) fn demand(&self) -> Demand {
        Demand {
            watts: self.watts.map(|of_class| of_class.map(|[watts]| watts)),
            variance_w2: self.variance_w2.map(|[variance_w2]| variance_w2),
            plugged: self.plugged.map(|of_class| of_class.map(|[plugged]| plugged != 0)),
        }
    }
}

#[cfg(test)]
mod tests;
