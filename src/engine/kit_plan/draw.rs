//! One trial's rig, drawn from a kit's uncertain figures.

use super::{
    AC_OFF_AFTER, FIGURES, INVERTER_LOSSES, KitPlan, LEAST_AC, PACKS, SECOND, Size, THIRST, at, places_of_tests,
};
use crate::engine::joint::MOST_FIGURES;
use crate::engine::rig::Rig;
use crate::engine::trial::TrialSeed;
use crate::kit::battery::{PROVED_RATE, RATED_HOURS, lithium_rate_share, rate_share};
use crate::kit::{LossCurve, cells_from_bench_test};
use crate::math;
use crate::random::Purpose;
use crate::scenario::model::OutletKind;
use crate::scenario::record::FigureKind;
use crate::statistics::normal_cdf;

/// Which of a kit's figures are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::engine) struct Doubtful {
    counts: [bool; FIGURES],
    /// Normal numbers that are taken from the stream: up to the last that counts.
    taken: usize,
}

/// What belongs to a standard normal number where all that is known are the ends: even on a scale of ratios between them.
pub(super) fn between((from, to): (f64, f64), z: f64) -> f64 {
    if from < to && from > 0.0 { from * math::exp(math::ln(to / from) * normal_cdf(z)) } else { from }
}

impl KitPlan {
    /// Puts the figures that belong to standard normal numbers into a kit that is this one's nominal kit, or was drawn
    /// from it.
    pub(super) fn resolve(&self, z: &[f64; FIGURES], charge_z: f64, rig: &mut Rig) {
        let charge_efficiency = at(self.charge_efficiency, z[1]).clamp(0.3, 1.0);
        let discharge_efficiency = at(self.discharge_efficiency, z[2]).clamp(0.3, 1.0);
        let beyond_idle = (1.0 + self.inverter_loss_sd * z[INVERTER_LOSSES]).max(0.0);
        rig.charge_efficiency = charge_efficiency;
        rig.discharge_efficiency = discharge_efficiency;
        rig.inverter = LossCurve {
            idle_w: at(self.idle_w, z[3]).max(0.0),
            linear: self.nominal.inverter.linear * beyond_idle,
            quadratic_per_w: self.nominal.inverter.quadratic_per_w * beyond_idle,
            ..LossCurve::IDEAL
        };
        rig.least_ac_w = between(self.least_ac_w, z[LEAST_AC]);
        rig.ac_off_after_h = between(self.ac_off_after_h, z[AC_OFF_AFTER]);
        rig.second_wh = at(self.second_wh, z[SECOND]).max(0.0);
        rig.thirst_z = z[THIRST];
        if self.joint.is_some() {
            // The tests' figures were put here in the trial before.
            (rig.own_draw_w, rig.converter) = (self.nominal.own_draw_w, self.nominal.converter);
        }
        let mut tested_bus_w = None;
        let cells_wh = match self.size {
            Size::Cells(cells) => at(cells, z[0]),
            Size::BenchTest { delivered_wh, load_w, outlet, most_wh, held } => {
                let delivered_wh = at(delivered_wh, z[0]);
                if outlet == 0 {
                    // What the label's cells leave for the inverter over the hours of the test.
                    let room_w = most_wh * discharge_efficiency * load_w / delivered_wh - rig.own_draw_w - load_w;
                    self.assumed.lower(&mut rig.inverter, load_w, room_w);
                }
                let curve = if outlet == 0 { &rig.inverter } else { &rig.converter[outlet] };
                let drawn_w = curve.idle_w + curve.drawn_beyond_idle(load_w, 0.0);
                tested_bus_w = Some(drawn_w + rig.own_draw_w);
                let cells_wh =
                    cells_from_bench_test(delivered_wh, load_w, drawn_w, rig.own_draw_w, discharge_efficiency);
                if held { cells_wh.min(most_wh) } else { cells_wh }
            }
        };
        rig.capacity_wh = cells_wh;
        let mut rate_loss = None;
        if let Some(joint) = &self.joint {
            let mut of_tests = [0.0; MOST_FIGURES];
            of_tests.iter_mut().zip(places_of_tests()).for_each(|(own, place)| *own = z[place]);
            rate_loss = joint.apply(&of_tests, rig);
        }
        // A battery of nothing has no state of charge: a thousandth of a watt-hour stands for it.
        rig.capacity_wh = (rig.capacity_wh * self.scale + at(self.packs_wh, z[PACKS])).max(1e-3);
        if let Some(day_w) = &self.discharges_w {
            // The label holds over 20 hours, a bench test at its own power, a proof at the rate that it is reckoned for.
            let usable_wh = rig.capacity_wh * rig.discharge_efficiency;
            let rated_w = if self.joint.is_some() { usable_wh * PROVED_RATE } else { usable_wh / RATED_HOURS };
            // No slower test makes a label of a slower discharge.
            let tested_rate = tested_bus_w.map_or(PROVED_RATE, |watts| watts / usable_wh);
            rig.rate_share = match rate_loss
                .map(|loss| (loss, PROVED_RATE))
                .or(self.loses_by_rate.map(|loss| (loss, tested_rate)))
            {
                Some((loss, from_rate)) => lithium_rate_share(day_w, usable_wh, loss, from_rate),
                None => rate_share(day_w, tested_bus_w.unwrap_or(rated_w)),
            };
        }
        if let Some(cells_w) = self.cells_give_w {
            // What leaves the cells is limited, and less of it arrives at the bus.
            rig.discharge_limit_w = cells_w * rig.discharge_efficiency;
            rig.discharge_base_w = self.nominal.discharge_base_w.max(rig.discharge_limit_w);
        }
        // A limit that the owner states holds even where the chemistry's habit is slower.
        let stated_w = if rig.charge_limit_w < f64::INFINITY { rig.charge_limit_w } else { 0.0 };
        rig.charge_base_w = (self.charge_c_rate * rig.capacity_wh).max(stated_w);
        // More cells weigh more and, in a bigger case, lose more: the lag stays.
        rig.heat_capacity_wh_per_k = self.nominal.heat_capacity_wh_per_k * self.scale;
        rig.heat_loss_w_per_k = self.nominal.heat_loss_w_per_k * self.scale;
        rig.taper_wh = (1.0 - self.tapers_from) * rig.capacity_wh;
        rig.floor_wh = self.floor * rig.capacity_wh;
        rig.ceiling_wh = self.ceiling * rig.capacity_wh;
        // A doubt about the charge reaches up to where charging stops; above it only where that is said.
        let fullest = self.ceiling.max(self.start.0).min(1.0);
        rig.start_wh = at(self.start, charge_z).clamp(0.0, fullest) * rig.capacity_wh;
    }

    /// Codes and standard uncertainties of the figures behind the normal numbers of [`KitPlan::draw`].
    pub(in crate::engine) fn uncertain_figures(&self) -> [(&'static str, f64); FIGURES] {
        let mut figures = [("", 0.0); FIGURES];
        let size_sd = match self.size {
            Size::Cells((_, sd)) => sd,
            Size::BenchTest { delivered_wh: (_, sd), .. } => sd,
        };
        // What the tests tell is drawn from the tests.
        let open = |kind, sd: f64| if self.joint.as_ref().is_some_and(|joint| joint.has(kind)) { 0.0 } else { sd };
        figures[0] = ("battery_capacity", open(FigureKind::UsableEnergy, size_sd));
        figures[1] = ("charge_efficiency", open(FigureKind::ChargeEfficiency, self.charge_efficiency.1));
        figures[2] = ("discharge_efficiency", open(FigureKind::DischargeEfficiency, self.discharge_efficiency.1));
        figures[3] = ("inverter_idle", open(FigureKind::Draw(OutletKind::Ac), self.idle_w.1));
        let losses = open(FigureKind::Conversion(OutletKind::Ac), self.inverter_loss_sd);
        figures[INVERTER_LOSSES] = ("inverter_efficiency", losses);
        // Not a spread about a mean: drawn at all or not.
        let drawn = |(from, to): (f64, f64)| if self.ac_goes_off && from < to { 1.0 } else { 0.0 };
        let code = if self.nominal.inverter_sleeps { "wakes_above" } else { "switches_off_below" };
        figures[LEAST_AC] = (code, drawn(self.least_ac_w));
        let off_after = if self.nominal.inverter_sleeps { 0.0 } else { drawn(self.ac_off_after_h) };
        figures[PACKS] = ("packs", self.packs_wh.1);
        figures[SECOND] = ("second_station", self.second_wh.1);
        figures[THIRST] = ("generator_thirst", if self.burns_are_doubtful { 1.0 } else { 0.0 });
        figures[AC_OFF_AFTER] = ("switches_off_after", off_after);
        if let Some(joint) = &self.joint {
            for (place, figure) in places_of_tests().zip(joint.figures()) {
                figures[place] = figure;
            }
        }
        figures
    }

    /// Which figures are drawn.
    pub(in crate::engine) fn doubtful(&self) -> Doubtful {
        let counts = self.uncertain_figures().map(|(_, sd)| sd > 0.0);
        Doubtful { counts, taken: counts.iter().rposition(|counts| *counts).map_or(0, |last| last + 1) }
    }

    /// Whether draws of the electronics and losses at the outlets are the same in every trial.
    pub(in crate::engine) fn outlets_are_known(&self) -> bool {
        let lowered = self.assumed.idle || self.assumed.efficiency;
        self.joint.is_none() && self.idle_w.1 == 0.0 && self.inverter_loss_sd == 0.0 && !lowered
    }

    /// One trial's kit; the normal numbers behind what is uncertain are added to `unknowns`.
    #[must_use]
    pub fn draw(&self, rng: TrialSeed, charge_z: f64, unknowns: &mut Vec<f64>) -> Rig {
        let mut rig = self.nominal.clone();
        self.draw_anew(&self.doubtful(), (rng, charge_z), unknowns, &mut rig);
        rig
    }

    /// [`KitPlan::draw`] into the rig of another trial of this kit, or its best estimate.
    #[inline]
    pub(in crate::engine) fn draw_anew(
        &self,
        doubtful: &Doubtful,
        (rng, charge_z): (TrialSeed, f64),
        unknowns: &mut Vec<f64>,
        rig: &mut Rig,
    ) {
        let mut z = [0.0; FIGURES];
        if doubtful.taken > 0 {
            let mut stream = rng.stream(Purpose::Station);
            for k in 0..doubtful.taken.min(FIGURES) {
                z[k] = stream.normal();
                if doubtful.counts[k] {
                    unknowns.push(z[k]);
                }
            }
        }
        self.resolve(&z, charge_z, rig);
    }
}
