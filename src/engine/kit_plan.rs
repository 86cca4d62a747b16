//! The station with its uncertain figures, and one trial's rig drawn from them.

use std::sync::Arc;

use super::joint::{Joint, MOST_FIGURES};
use super::plan::PlanError;
use super::rig::Rig;
use super::trial::Luck;
use crate::kit::battery::Habits;
use crate::kit::{FitnessTable, LossCurve, cable, cells_from_bench_test, electrical};
use crate::random::Purpose;
use crate::scenario::model::{Outlet, OutletKind, Stands, Station};
use crate::scenario::record::FigureKind;
use crate::units::{Celsius, Fraction, Quantity, Uncertain, WattHours};

/// Cells of a station that nobody has tested: share of the label, and the half-width of its 95 % interval. Through the
/// losses assumed beside it this gives 73 to 86 % of the label at the AC outlet under a load of a fifth of the label,
/// the lower end of the 80 to 90 % that healthy units give (common practice, no source).
pub const UNPROVED_SHARE: (f64, f64) = (0.97, 0.08);

/// Temperature of a heated room \[°C\]. Typical; a house without heat cools, and then its temperature should be given.
pub const INDOORS_C: f64 = 20.0;

/// Warm cells can feed all outlets at their limits through converters as bad as this.
const LEAST_CONVERTER_EFFICIENCY: f64 = 0.8;

/// Uncertain figures of a station that was not proved: size, efficiencies, idle draw.
const PLAIN_FIGURES: usize = 4;
/// All uncertain figures, those of a proved kit behind the others.
const FIGURES: usize = PLAIN_FIGURES + MOST_FIGURES;

/// A figure with its standard uncertainty.
type Known = (f64, f64);

/// How the size of the battery is known.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Size {
    Cells(Known),
    BenchTest { delivered_wh: Known, load_w: f64, outlet: usize },
}

/// The station with its uncertain figures.
#[derive(Debug, Clone, PartialEq)]
pub struct KitPlan {
    nominal: Rig,
    size: Size,
    charge_efficiency: Known,
    discharge_efficiency: Known,
    idle_w: Known,
    start: Known,
    floor: f64,
    ceiling: f64,
    /// Where the station stands.
    pub stands: Stands,
    /// Share of the capacity above which charging slows down.
    tapers_from: f64,
    /// What the shares of the cells' fitness are shares of, over the capacity \[W/Wh\]; infinite for a toy.
    charge_c_rate: f64,
    /// Figures of a proved kit, which replace size, efficiencies and draws.
    joint: Option<Joint>,
    /// Factor on the capacity, for variants.
    pub scale: f64,
}

fn known<Q: Quantity>(uncertain: &Uncertain<Q>) -> Known {
    (uncertain.value.base(), uncertain.standard())
}

impl KitPlan {
    /// From the scenario's station.
    ///
    /// # Errors
    /// An inverter whose figures contradict each other.
    pub fn new(station: &Station, starts_charged: &Uncertain<Fraction>) -> Result<KitPlan, PlanError> {
        let rated = station.rated_capacity;
        let joint = match &station.proved {
            Some(proved) => match &proved.kit {
                Some(kit) => Some(Joint::new(kit)),
                None => return Err(PlanError::Unread { file: proved.file.clone() }),
            },
            None => None,
        };
        let size = match station.measured {
            Some(test) => Size::BenchTest {
                delivered_wh: known(&test.delivered),
                load_w: test.load.0,
                outlet: test.outlet as usize,
            },
            None => {
                let (share, half_width) = UNPROVED_SHARE;
                let health = station.state_of_health;
                let spread = (half_width * rated.value.0 * health.value.0)
                    .hypot(rated.plus_minus * health.value.0)
                    .hypot(share * rated.value.0 * health.plus_minus);
                Size::Cells(known(&Uncertain::new(WattHours(share * rated.value.0 * health.value.0), spread)))
            }
        };
        let curve = match &station.inverter {
            Some(inverter) => {
                let points: Vec<(f64, f64)> = inverter.efficiency.iter().map(|p| (p.load.0, p.efficiency.0)).collect();
                LossCurve::from_points(inverter.rated.0, inverter.idle.value.0, &points)?
            }
            None => LossCurve::IDEAL,
        };
        let limit = |outlet: &Option<Outlet>| outlet.map_or(0.0, |o| o.limit.0);
        let outlet_limit_w =
            [station.inverter.as_ref().map_or(0.0, |i| i.rated.0), limit(&station.dc_outlet), limit(&station.usb)];
        let habits = Habits::of(station.chemistry);
        // The converters can get what they need of warm cells.
        let outlets_need_w = outlet_limit_w.iter().sum::<f64>() / LEAST_CONVERTER_EFFICIENCY;
        let nominal = Rig {
            charge_limit_w: station.charge_limit.map_or(f64::INFINITY, |w| w.0),
            discharge_limit_w: station.discharge_limit.map_or(f64::INFINITY, |w| w.0),
            discharge_base_w: outlets_need_w.max(station.discharge_limit.map_or(0.0, |w| w.0)),
            fitness: Arc::new(FitnessTable::new(station.chemistry, station.charges_between, station.works_between)),
            home_c: match station.stands {
                Stands::At(celsius) => celsius.0,
                _ => INDOORS_C,
            },
            charges_from_c: station.charges_between.0.0,
            heater_w: station.self_heating.map_or(0.0, |w| w.0),
            own_draw_w: station.own_draw.0,
            self_discharge_per_h: station.self_discharge_a_month.0 / (30.0 * 24.0),
            inverter: curve,
            inverter_sleeps: station.inverter.as_ref().is_some_and(|i| i.sleeps),
            outlet_limit_w,
            converter: [LossCurve::IDEAL, converter(station.dc_outlet), converter(station.usb)],
            solar_limit_w: station.solar_input.map_or(0.0, |s| s.limit.0),
            solar_efficiency: station.solar_input.map_or(1.0, |s| s.efficiency.0),
            wall_efficiency: station.wall_charger.map_or(1.0, |w| w.efficiency.0),
            ..Rig::ideal(rated.value.0, 0.0)
        };
        Ok(KitPlan {
            nominal,
            size,
            charge_efficiency: known(&station.charge_efficiency),
            discharge_efficiency: known(&station.discharge_efficiency),
            idle_w: station.inverter.as_ref().map_or((0.0, 0.0), |i| known(&i.idle)),
            start: known(starts_charged),
            floor: station.keep_above.0,
            ceiling: station.charge_to.0,
            stands: station.stands,
            tapers_from: station.tapers_from.0,
            charge_c_rate: habits.charge_c_rate,
            joint,
            scale: 1.0,
        })
    }

    /// A kit that is known exactly, for toy cases and tests.
    #[must_use]
    pub fn exactly(rig: &Rig) -> KitPlan {
        KitPlan {
            size: Size::Cells((rig.capacity_wh, 0.0)),
            charge_efficiency: (rig.charge_efficiency, 0.0),
            discharge_efficiency: (rig.discharge_efficiency, 0.0),
            idle_w: (rig.inverter.idle_w, 0.0),
            start: (rig.start_wh / rig.capacity_wh, 0.0),
            floor: rig.floor_wh / rig.capacity_wh,
            ceiling: rig.ceiling_wh / rig.capacity_wh,
            stands: Stands::At(Celsius(rig.home_c)),
            tapers_from: 1.0 - rig.taper_wh / rig.capacity_wh,
            charge_c_rate: rig.charge_base_w / rig.capacity_wh,
            joint: None,
            scale: 1.0,
            nominal: rig.clone(),
        }
    }

    fn resolve(&self, z: &[f64; FIGURES], charge_z: f64) -> Rig {
        let at = |(mean, sd): Known, z: f64| mean + sd * z;
        let charge_efficiency = at(self.charge_efficiency, z[1]).clamp(0.3, 1.0);
        let discharge_efficiency = at(self.discharge_efficiency, z[2]).clamp(0.3, 1.0);
        let inverter = LossCurve { idle_w: at(self.idle_w, z[3]).max(0.0), ..self.nominal.inverter };
        let mut rig = Rig { charge_efficiency, discharge_efficiency, inverter, ..self.nominal.clone() };
        let cells_wh = match self.size {
            Size::Cells(cells) => at(cells, z[0]),
            Size::BenchTest { delivered_wh, load_w, outlet } => {
                let drawn_w = match outlet {
                    0 => inverter.idle_w + inverter.drawn_beyond_idle(load_w, 0.0),
                    _ => rig.converter[outlet].idle_w + rig.converter[outlet].drawn_beyond_idle(load_w, 0.0),
                };
                cells_from_bench_test(at(delivered_wh, z[0]), load_w, drawn_w, rig.own_draw_w, discharge_efficiency)
            }
        };
        rig.capacity_wh = cells_wh;
        if let Some(joint) = &self.joint {
            joint.apply(&z[PLAIN_FIGURES..], &mut rig);
        }
        // A battery of nothing has no state of charge: a thousandth of a watt-hour stands for it.
        rig.capacity_wh = (rig.capacity_wh * self.scale).max(1e-3);
        // A limit that the owner states holds even where the chemistry's habit is slower.
        let stated_w = if rig.charge_limit_w < f64::INFINITY { rig.charge_limit_w } else { 0.0 };
        rig.charge_base_w = (self.charge_c_rate * rig.capacity_wh).max(stated_w);
        rig.taper_wh = (1.0 - self.tapers_from) * rig.capacity_wh;
        rig.floor_wh = self.floor * rig.capacity_wh;
        rig.ceiling_wh = self.ceiling * rig.capacity_wh;
        rig.start_wh = at(self.start, charge_z).clamp(0.0, 1.0) * rig.capacity_wh;
        rig
    }

    /// The kit by its best estimates.
    #[must_use]
    pub fn best_estimate(&self) -> Rig {
        self.resolve(&[0.0; FIGURES], 0.0)
    }

    /// Lets every outage begin at this state of charge, 0 to 1.
    pub fn start_at(&mut self, charge: f64) {
        self.start = (charge, 0.0);
    }

    /// Lets every outage begin with the battery as full as it may be charged.
    pub fn start_full(&mut self) {
        self.start = (self.ceiling, 0.0);
    }

    /// Whether the cells stand where they can be too cold or too hot.
    #[must_use]
    pub fn stands_in_the_weather(&self) -> bool {
        match self.stands {
            Stands::Indoors => false,
            Stands::Outdoors | Stands::InTheSun => true,
            Stands::At(celsius) => self.nominal.fitness.at(celsius.0).charge <= 0.0,
        }
    }

    /// Brings the station into a heated room.
    pub fn bring_inside(&mut self) {
        self.stands = Stands::Indoors;
        self.nominal.home_c = INDOORS_C;
    }

    /// Names and standard uncertainties of the figures behind the normal numbers of [`KitPlan::draw`].
    pub(super) fn uncertain_figures(&self) -> [(&'static str, f64); FIGURES] {
        let mut figures = [("", 0.0); FIGURES];
        let size_sd = match self.size {
            Size::Cells((_, sd)) => sd,
            Size::BenchTest { delivered_wh: (_, sd), .. } => sd,
        };
        // What the tests tell is drawn from the tests.
        let open = |kind, sd: f64| if self.joint.as_ref().is_some_and(|joint| joint.has(kind)) { 0.0 } else { sd };
        figures[0] = ("battery capacity", open(FigureKind::UsableEnergy, size_sd));
        figures[1] = ("charging efficiency", open(FigureKind::ChargeEfficiency, self.charge_efficiency.1));
        figures[2] = ("discharging efficiency", open(FigureKind::DischargeEfficiency, self.discharge_efficiency.1));
        figures[3] = ("inverter idle draw", open(FigureKind::Draw(OutletKind::Ac), self.idle_w.1));
        if let Some(joint) = &self.joint {
            for (place, figure) in figures[PLAIN_FIGURES..].iter_mut().zip(joint.figures()) {
                *place = figure;
            }
        }
        figures
    }

    /// One trial's kit; the normal numbers behind what is uncertain are added to `unknowns`.
    #[must_use]
    pub fn draw(&self, luck: Luck, charge_z: f64, unknowns: &mut Vec<f64>) -> Rig {
        let figures = self.uncertain_figures();
        let mut z = [0.0; FIGURES];
        if let Some(last) = figures.iter().rposition(|(_, sd)| *sd > 0.0) {
            let mut stream = luck.stream(Purpose::Station);
            for (z, (_, sd)) in z.iter_mut().zip(figures).take(last + 1) {
                *z = stream.normal();
                if sd > 0.0 {
                    unknowns.push(*z);
                }
            }
        }
        self.resolve(&z, charge_z)
    }
}

/// A converter of constant efficiency, and the cable behind it where there is one.
fn converter(outlet: Option<Outlet>) -> LossCurve {
    outlet.map_or(LossCurve::IDEAL, |o| LossCurve {
        idle_w: o.idle.0,
        linear: 1.0 / o.efficiency.0 - 1.0,
        // I² R in the cable, drawn through the converter.
        quadratic_per_w: o.cable.map_or(0.0, |wire| {
            cable::loop_ohm(&wire) / (electrical::DC_OUTLET_V * electrical::DC_OUTLET_V) / o.efficiency.0
        }),
    })
}
