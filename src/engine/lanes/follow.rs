//! Cells whose temperature changes, in lanes.

use super::cells::Cells;
use crate::engine::plan::Plan;
use crate::engine::rig::Rig;
use crate::engine::warmth::Lump;
use crate::random::masks::{flag, masked};
use crate::random::polynomials::less;
use crate::random::real::Real;

/// What the limits of each lane's cells follow from, see [`Rig::limits_at`].
#[derive(Debug)]
pub(super) struct Following<const L: usize> {
    lump: Option<Lump>,
    /// Temperature of the cells \[°C\].
    pub cell_c: [f64; L],
    floor_wh: [f64; L],
    above_floor_wh: [f64; L],
    rate_share: [f64; L],
    charge_limit_w: [f64; L],
    charge_base_w: [f64; L],
    discharge_limit_w: [f64; L],
    discharge_base_w: [f64; L],
    taper_wh: [f64; L],
}

impl<const L: usize> Default for Following<L> {
    fn default() -> Following<L> {
        let zero = [0.0; L];
        Following {
            lump: None,
            cell_c: zero,
            floor_wh: zero,
            above_floor_wh: zero,
            rate_share: zero,
            charge_limit_w: zero,
            charge_base_w: zero,
            discharge_limit_w: zero,
            discharge_base_w: zero,
            taper_wh: zero,
        }
    }
}

impl<const L: usize> Following<L> {
    /// Takes over the rigs of a chunk, where their temperature changes.
    pub(super) fn begin(&mut self, plan: &Plan, rigs: &[Rig]) {
        self.lump = Lump::of(plan, &rigs[0]);
        if self.lump.is_none() {
            return;
        }
        for (l, rig) in rigs.iter().enumerate().take(L) {
            self.floor_wh[l] = rig.floor_wh;
            self.above_floor_wh[l] = rig.capacity_wh - rig.floor_wh;
            self.rate_share[l] = rig.rate_share;
            self.charge_limit_w[l] = rig.charge_limit_w;
            self.charge_base_w[l] = rig.charge_base_w;
            self.discharge_limit_w[l] = rig.discharge_limit_w;
            self.discharge_base_w[l] = rig.discharge_base_w;
            self.taper_wh[l] = rig.taper_wh;
        }
    }

    /// Whether the cells' temperature changes.
    pub(super) fn follows(&self) -> bool {
        self.lump.is_some()
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
            cell_c[l] = lump.after_c(cell_c[l], around_c[l], heat_w[l]);
        }
        self.cell_c = cell_c;
        if rig.heater_w > 0.0 {
            for l in 0..L {
                cells.heater_w[l] = lump.heater_w(rig, cell_c[l], around_c[l]);
            }
        }
        let (mut usable, mut charge, mut discharge) = (zero, zero, zero);
        for l in 0..L {
            let fitness = rig.fitness.at(cell_c[l]);
            (usable[l], charge[l], discharge[l]) = (fitness.usable, fitness.charge, fitness.discharge);
            cells.works[l] = flag(fitness.works);
            cells.heater_w[l] = masked(cells.heater_w[l], cells.works[l]);
        }
        // Nothing of an unlimited power would not be a number.
        let of = |base_w: f64, share: f64| if share > 0.0 { base_w * share } else { 0.0 };
        let (mut floor_wh, mut charge_w, mut discharge_w) = (zero, zero, zero);
        let (mut taper, mut barred) = (zero, [0; L]);
        for l in 0..L {
            floor_wh[l] = self.floor_wh[l] + (1.0 - usable[l] * self.rate_share[l]) * self.above_floor_wh[l];
            let taper_from_w = of(self.charge_base_w[l], charge[l]);
            charge_w[l] = less(self.charge_limit_w[l], taper_from_w);
            discharge_w[l] = less(self.discharge_limit_w[l], of(self.discharge_base_w[l], discharge[l]));
            taper[l] = cells.taper_w_per_wh(l, taper_from_w, self.taper_wh[l]);
            barred[l] = flag(charge_w[l] == 0.0);
        }
        (cells.floor_wh, cells.charge_w, cells.discharge_w) = (floor_wh, charge_w, discharge_w);
        (cells.taper_w_per_wh, cells.barred) = (taper, barred);
    }
}
