//! Cells whose temperature changes, in lanes.

use crate::engine::cells::Cells;
use crate::engine::plan::Plan;
use crate::engine::rig::{Bounds, Rig};
use crate::engine::warmth::Lump;
use crate::kit::battery::Fitness;
use crate::random::masks::{flag, masked};
use crate::random::real::Real;

/// What the limits of each lane's cells follow from, see [`Bounds`].
#[derive(Debug)]
pub(super) struct Following<const L: usize> {
    lump: Option<Lump>,
    /// Temperature of the cells \[°C\].
    pub cell_c: [f64; L],
    bounds: [[f64; L]; 7],
    taper_wh: [f64; L],
    loss_w_per_k: [f64; L],
}

impl<const L: usize> Default for Following<L> {
    fn default() -> Following<L> {
        let zero = [0.0; L];
        Following { lump: None, cell_c: zero, bounds: [zero; 7], taper_wh: zero, loss_w_per_k: zero }
    }
}

impl<const L: usize> Following<L> {
    /// Takes over the rigs of a chunk, where their temperature changes.
    pub(super) fn begin(&mut self, plan: &Plan, rigs: &[Rig]) {
        self.lump = Lump::of(plan, &rigs[0]);
        self.cell_c = [rigs[0].home_c; L];
        if self.lump.is_none() {
            return;
        }
        for (l, rig) in rigs.iter().enumerate().take(L) {
            for (lanes, bound) in self.bounds.iter_mut().zip(rig.bounds().0) {
                lanes[l] = bound;
            }
            self.taper_wh[l] = rig.taper_wh;
            self.loss_w_per_k[l] = rig.heat_loss_w_per_k;
        }
    }

    /// Whether the cells' temperature changes.
    pub(super) fn follows(&self) -> bool {
        self.lump.is_some()
    }

    /// Whether the station stands in a room that cools.
    pub(super) fn is_in_a_room(&self) -> bool {
        self.lump.is_some_and(|lump| lump.is_in_a_room())
    }

    /// Lets the cells go through a step and gives them the limits they then have.
    ///
    /// * `first` — whether this is the first step of the weather; `heat_w` — what warmed the cells in the step before \[W\];
    ///   `rig` — any of the chunk's.
    #[inline(always)]
    pub(super) fn step<R: Real>(
        &mut self,
        first: bool,
        (air_c, ghi_w_m2, heat_w): (&[f64; L], &[R; L], &[f64; L]),
        rig: &Rig,
        cells: &mut Cells<L>,
    ) {
        let Some(lump) = self.lump else { return };
        if first {
            self.cell_c = air_c.map(|air_c| lump.begins_c(air_c));
        }
        let zero = [0.0; L];
        let (mut cell_c, mut around_c) = (self.cell_c, zero);
        for l in 0..L {
            around_c[l] = lump.around_c(air_c[l], ghi_w_m2[l].wide());
            cell_c[l] = lump.after_c(cell_c[l], around_c[l], (heat_w[l], self.loss_w_per_k[l]));
        }
        self.cell_c = cell_c;
        if rig.heater_w > 0.0 {
            for l in 0..L {
                cells.heater_w[l] = lump.heater_w(rig, self.loss_w_per_k[l], cell_c[l], around_c[l]);
            }
        }
        let (mut usable, mut charge, mut discharge) = (zero, zero, zero);
        for l in 0..L {
            let fitness = rig.fitness.at(cell_c[l]);
            (usable[l], charge[l], discharge[l]) = (fitness.usable, fitness.charge, fitness.discharge);
            cells.works[l] = flag(fitness.works);
            cells.heater_w[l] = masked(cells.heater_w[l], cells.works[l]);
        }
        for l in 0..L {
            let fitness = Fitness { usable: usable[l], charge: charge[l], discharge: discharge[l], works: true };
            let [a, b, c, d, e, f, g] = &self.bounds;
            let bounds = Bounds([a[l], b[l], c[l], d[l], e[l], f[l], g[l]]);
            cells.allow(l, &bounds.limits(&fitness), self.taper_wh[l]);
        }
    }
}
