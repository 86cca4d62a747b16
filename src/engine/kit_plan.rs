//! The station with its uncertain figures.

mod draw;
mod label;

use std::sync::Arc;

use super::arrays;
use super::fuel::FuelPlan;
use super::joint::{Joint, MOST_FIGURES};
use super::plan::PlanError;
use super::rig::Rig;
use crate::kit::battery::Habits;
use crate::kit::{FitnessTable, LossCurve, cable, electrical};
use crate::math;
use crate::scenario::model::{Chemistry, EfficiencyPoint, Inverter, Outlet, SecondStation, Stands, Station};
use crate::scenario::record::FigureKind;
use crate::units::{Celsius, Fraction, NORMAL_95, Quantity, Uncertain, WattHours};
use label::Assumed;
pub use label::BeyondLabel;

/// Cells of a station that nobody has tested, and whose label is written without a ± of its own: share of the label, and the half-width of its 95 % interval. Through the
/// losses assumed beside it this gives 73 to 86 % of the label at the AC outlet under a load of a fifth of the label,
/// the lower end of the 80 to 90 % that healthy units give (common practice, no source).
pub const UNPROVED_SHARE: (f64, f64) = (0.97, 0.08);

/// Temperature of a heated room \[°C\]. Typical; a house without heat cools, and then its temperature should be given.
pub const INDOORS_C: f64 = 20.0;

/// Temperature of a room \[°C\] where the air outside is so warm on the mean of the month: that of a heated one, and never colder
/// than outside, where nobody heats and nothing may cool (our choice).
#[must_use]
pub fn room_c(outside_mean_c: f64) -> f64 {
    INDOORS_C.max(outside_mean_c)
}

/// Warm cells can feed all outlets at their limits through converters as bad as this.
const LEAST_CONVERTER_EFFICIENCY: f64 = 0.8;

/// Uncertain figures of a station that was not proved: size, efficiencies, idle draw.
const PLAIN_FIGURES: usize = 4;
/// Place of the inverter's losses beyond its idle draw among the uncertain figures.
const INVERTER_LOSSES: usize = 13;
/// One past the last of the plain ones, those of a proved kit, and the inverter's losses.
const TESTED: usize = PLAIN_FIGURES + MOST_FIGURES + 1;
/// Behind them: the least load that keeps the AC outlet on, and how long that stays on under less.
const LEAST_AC: usize = TESTED;
const AC_OFF_AFTER: usize = TESTED + 1;
/// What a second station delivers, what packs hold, and what a generator burns.
const SECOND: usize = TESTED + 2;
const PACKS: usize = TESTED + 3;
const THIRST: usize = TESTED + 4;
/// All uncertain figures.
const FIGURES: usize = TESTED + 5;

/// Places of a proved kit's figures: all behind the plain ones but that of the inverter's losses.
fn places_of_tests() -> impl Iterator<Item = usize> {
    (PLAIN_FIGURES..TESTED).filter(|place| *place != INVERTER_LOSSES)
}

/// A figure with its standard uncertainty.
pub(super) type Known = (f64, f64);

/// What belongs to a standard normal number.
pub(super) fn at((mean, sd): Known, z: f64) -> f64 {
    mean + sd * z
}

/// How the size of the battery is known.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Size {
    Cells(Known),
    BenchTest {
        delivered_wh: Known,
        load_w: f64,
        outlet: usize,
        /// What the cells can hold by the label and the ± of the test: losses that are only assumed cannot put more in them.
        most_wh: f64,
        /// Whether the losses stated ask for more and the cells are held to it.
        held: bool,
    },
}

/// The station with its uncertain figures.
#[derive(Debug, Clone, PartialEq)]
pub struct KitPlan {
    nominal: Rig,
    size: Size,
    charge_efficiency: Known,
    discharge_efficiency: Known,
    idle_w: Known,
    /// Standard deviation of the inverter's losses beyond its idle draw, as a share of them.
    inverter_loss_sd: f64,
    assumed: Assumed,
    /// Between what the least load lies that keeps the AC outlet on \[W\], and for how long it stays on under less \[h\].
    least_ac_w: (f64, f64),
    ac_off_after_h: (f64, f64),
    /// Whether that can leave a load in the dark.
    ac_goes_off: bool,
    /// In the cells of the packs plugged into it \[Wh\].
    packs_wh: Known,
    /// What the outlet of a second station gives from full to empty \[Wh\].
    second_wh: Known,
    /// Whether a generator's fuel can end, and what it burns is not known to the last drop.
    burns_are_doubtful: bool,
    /// Most power out of the cells \[W\] where the scenario limits it, their own loss counted.
    cells_give_w: Option<f64>,
    start: Known,
    floor: f64,
    ceiling: f64,
    /// Where the station stands.
    pub stands: Stands,
    /// Of a room there \[°C\], see [`room_c`].
    room_c: f64,
    /// Of the air outside on the mean of the outage's month \[°C\].
    outside_c: f64,
    /// Share of the capacity above which charging slows down.
    tapers_from: f64,
    /// What the shares of the cells' fitness are shares of, over the capacity \[W/Wh\]; infinite for a toy.
    charge_c_rate: f64,
    /// Of lithium cells: share of the energy that goes for each C beyond the rate that it is told for; `None` of lead-acid.
    loses_by_rate: Option<f64>,
    /// Bus power by step of the day \[W\], which is what the rate of discharge goes by; `None` before a plan tells it.
    discharges_w: Option<Arc<[f64]>>,
    /// Figures of a proved kit, which replace size, efficiencies and draws.
    joint: Option<Joint>,
    /// Factor on the capacity, for variants.
    pub scale: f64,
}

/// Half-width of the 95 % interval of an efficiency that is only assumed. Typical, no source.
const EFFICIENCY_PLUS_MINUS: f64 = 0.03;

/// Standard deviation of the losses beyond idle, as a share of them, behind an efficiency that is only assumed.
fn loss_sd(curve: &LossCurve, inverter: &Inverter) -> f64 {
    let spread = |point: &EfficiencyPoint| {
        let beyond_w = curve.drawn_beyond_idle(point.load.0, 0.0) - point.load.0;
        let lower = (point.efficiency.0 - EFFICIENCY_PLUS_MINUS).max(0.3);
        let more_w = point.load.0 / lower - point.load.0 / point.efficiency.0;
        if beyond_w > 0.0 { more_w / beyond_w / NORMAL_95 } else { 0.0 }
    };
    inverter.efficiency.first().map_or(0.0, spread)
}

/// Half-width of the 95 % interval over the value.
fn relative<Q: Quantity>(uncertain: &Uncertain<Q>) -> f64 {
    if uncertain.value.base() > 0.0 { uncertain.plus_minus / uncertain.value.base() } else { 0.0 }
}

fn known<Q: Quantity>(uncertain: &Uncertain<Q>) -> Known {
    (uncertain.value.base(), uncertain.standard())
}

/// What cells hold of which only the label and their health are known.
///
/// * `told` — whether the label's ± is the owner's own.
fn held(rated: &Uncertain<WattHours>, told: bool, health: &Uncertain<Fraction>) -> Known {
    let (share, half_width) = if told { (1.0, 0.0) } else { UNPROVED_SHARE };
    let spread = math::hypot(
        math::hypot(half_width * rated.value.0 * health.value.0, rated.plus_minus * health.value.0),
        share * rated.value.0 * health.plus_minus,
    );
    known(&Uncertain::new(WattHours(share * rated.value.0 * health.value.0), spread))
}

/// What all packs together hold: each is known by itself.
fn packs(station: &Station) -> Known {
    station.packs.iter().fold((0.0, 0.0), |(wh, sd), pack| {
        let (of_wh, of_sd) = held(&pack.rated_capacity, pack.capacity_told, &pack.state_of_health);
        (wh + of_wh, math::hypot(sd, of_sd))
    })
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
                most_wh: rated.value.0 * (1.0 + math::hypot(relative(&test.delivered), relative(&rated))),
                held: false,
            },
            None => Size::Cells(held(&rated, station.capacity_told, &station.state_of_health)),
        };
        let curve = match &station.inverter {
            Some(inverter) => {
                let points: Vec<(f64, f64)> = inverter.efficiency.iter().map(|p| (p.load.0, p.efficiency.0)).collect();
                LossCurve::from_points(inverter.rated.0, inverter.idle.value.0, &points)?
            }
            None => LossCurve::IDEAL,
        };
        let nominal_curve = curve;
        let limit = |outlet: &Option<Outlet>| outlet.map_or(0.0, |o| o.limit.0);
        let outlet_limit_w =
            [station.inverter.as_ref().map_or(0.0, |i| i.rated.0), limit(&station.dc_outlet), limit(&station.usb)];
        let habits = Habits::of(station.chemistry);
        let heat_capacity_wh_per_k = station.heat_capacity.map_or(
            habits.heat_capacity_per_k
                * station.packs.iter().fold(rated.value.0, |wh, pack| wh + pack.rated_capacity.value.0),
            |capacity| capacity.0,
        );
        // The converters can get what they need of warm cells.
        let outlets_need_w = outlet_limit_w.iter().sum::<f64>() / LEAST_CONVERTER_EFFICIENCY;
        let nominal = Rig {
            charge_limit_w: station.charge_limit.map_or(f64::INFINITY, |w| w.0),
            discharge_base_w: outlets_need_w,
            fitness: Arc::new(FitnessTable::new(station.chemistry, station.charges_between, station.works_between)),
            home_c: match station.stands {
                Stands::At(celsius) => celsius.0,
                _ => INDOORS_C,
            },
            charges_from_c: station.charges_between.0.0,
            heater_w: station.self_heating.map_or(0.0, |w| w.0),
            heats_to_c: station.charges_between.0.0 + heats_above_k(station.charges_between),
            heat_capacity_wh_per_k,
            heat_loss_w_per_k: station.heat_loss.map_or(heat_capacity_wh_per_k / habits.lag_h, |loss| loss.0),
            own_draw_w: station.own_draw.0,
            self_discharge_per_h: station.self_discharge_a_month.0 / (30.0 * 24.0),
            inverter: curve,
            inverter_sleeps: station.inverter.as_ref().is_some_and(|i| i.sleeps),
            outlet_limit_w,
            converter: [LossCurve::IDEAL, converter(station.dc_outlet), converter(station.usb)],
            solar_limit_w: arrays::solar_limit_w(station),
            solar_efficiency: station.solar_efficiency().0,
            wall_efficiency: station.wall_charger.map_or(1.0, |w| w.efficiency.0),
            ..Rig::ideal(rated.value.0, 0.0)
        };
        let stays = station.inverter.as_ref().map(|inverter| inverter.stays);
        let mut kit = KitPlan {
            nominal,
            size,
            charge_efficiency: known(&station.charge_efficiency),
            discharge_efficiency: known(&station.discharge_efficiency),
            idle_w: station.inverter.as_ref().map_or((0.0, 0.0), |i| known(&i.idle)),
            inverter_loss_sd: station
                .inverter
                .as_ref()
                .filter(|i| i.efficiency_assumed)
                .map_or(0.0, |inverter| loss_sd(&nominal_curve, inverter)),
            assumed: Assumed {
                idle: station.inverter.as_ref().is_some_and(|i| i.idle_assumed),
                efficiency: station.inverter.as_ref().is_some_and(|i| i.efficiency_assumed),
            },
            least_ac_w: stays.map_or((0.0, 0.0), |stays| (stays.least.0.0, stays.least.1.0)),
            ac_off_after_h: stays.map_or((0.0, 0.0), |stays| (stays.off_after.0.0, stays.off_after.1.0)),
            ac_goes_off: false,
            packs_wh: packs(station),
            second_wh: (0.0, 0.0),
            burns_are_doubtful: false,
            cells_give_w: station.discharge_limit.map(|w| w.0),
            start: known(starts_charged),
            floor: station.keep_above.0,
            ceiling: station.charge_to.0,
            stands: station.stands,
            room_c: INDOORS_C,
            outside_c: INDOORS_C,
            tapers_from: station.tapers_from.0,
            charge_c_rate: habits.charge_c_rate,
            loses_by_rate: (station.chemistry != Chemistry::LeadAcid).then_some(station.loses_by_rate.0),
            discharges_w: None,
            joint,
            scale: 1.0,
        };
        let beyond = kit.beyond_label().is_some();
        if let Size::BenchTest { held, .. } = &mut kit.size {
            *held = beyond;
        }
        Ok(kit)
    }

    /// A kit that is known exactly, for toy cases and tests.
    #[must_use]
    pub fn exactly(rig: &Rig) -> KitPlan {
        KitPlan {
            size: Size::Cells((rig.capacity_wh, 0.0)),
            charge_efficiency: (rig.charge_efficiency, 0.0),
            discharge_efficiency: (rig.discharge_efficiency, 0.0),
            idle_w: (rig.inverter.idle_w, 0.0),
            inverter_loss_sd: 0.0,
            assumed: Assumed { idle: false, efficiency: false },
            least_ac_w: (rig.least_ac_w, rig.least_ac_w),
            ac_off_after_h: (rig.ac_off_after_h, rig.ac_off_after_h),
            ac_goes_off: false,
            packs_wh: (0.0, 0.0),
            second_wh: (rig.second_wh, 0.0),
            burns_are_doubtful: false,
            cells_give_w: None,
            start: (rig.start_wh / rig.capacity_wh, 0.0),
            floor: rig.floor_wh / rig.capacity_wh,
            ceiling: rig.full(),
            stands: Stands::At(Celsius(rig.home_c)),
            room_c: INDOORS_C,
            outside_c: INDOORS_C,
            tapers_from: 1.0 - rig.taper_wh / rig.capacity_wh,
            charge_c_rate: rig.charge_base_w / rig.capacity_wh,
            loses_by_rate: None,
            discharges_w: None,
            joint: None,
            scale: 1.0,
            nominal: rig.clone(),
        }
    }

    /// Whether a plan has told it its loads.
    #[cfg(test)]
    pub(crate) fn knows_its_loads(&self) -> bool {
        self.discharges_w.is_some()
    }

    /// Whether its cells are of lithium.
    #[must_use]
    pub fn is_lithium(&self) -> bool {
        self.loses_by_rate.is_some()
    }

    /// Whether bench tests say what a rate of discharge takes of it.
    #[must_use]
    pub fn rate_is_tested(&self) -> bool {
        self.joint.as_ref().is_some_and(|joint| joint.has(FigureKind::RateLoss))
    }

    /// Tells the cells, whose capacity hangs on the rate of discharge, what is drawn at the bus in each step of a day \[W\].
    pub fn discharges_by_day(&mut self, bus_w: Arc<[f64]>) {
        self.discharges_w = Some(bus_w);
    }

    /// Takes over the rates of another of the same loads.
    pub(crate) fn discharges_as(&mut self, other: &KitPlan) {
        self.discharges_w.clone_from(&other.discharges_w);
    }

    /// Puts a second station beside it.
    pub(super) fn beside(&mut self, second: &SecondStation) {
        let rated_wh = second.rated_capacity.0;
        self.second_wh = (rated_wh * second.delivers.value.0, rated_wh * second.delivers.standard());
    }

    /// Tells what a generator burns, where its fuel can end.
    pub(super) fn fuelled(&mut self, fuel: Option<&FuelPlan>) {
        self.burns_are_doubtful = fuel.is_some_and(FuelPlan::is_doubtful);
    }

    /// Tells whether the AC outlet can ever be off while something asks for it: otherwise nothing of that is drawn.
    pub(super) fn minds_the_ac_outlet(&mut self, minds: bool) {
        self.ac_goes_off = minds;
    }

    /// The kit by its best estimates.
    #[must_use]
    pub fn best_estimate(&self) -> Rig {
        let mut rig = self.nominal.clone();
        self.resolve(&[0.0; FIGURES], 0.0, &mut rig);
        rig
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
            Stands::Outdoors | Stands::InTheSun | Stands::InAClosedBox => true,
            Stands::At(celsius) => self.nominal.fitness.at(celsius.0).charge <= 0.0,
        }
    }

    /// Brings the station into a room.
    pub fn bring_inside(&mut self) {
        self.stands = Stands::Indoors;
        self.nominal.home_c = self.cells_in_a_room_c();
    }

    /// The air outside on the mean of the outage's month \[°C\].
    #[must_use]
    pub fn outside_c(&self) -> f64 {
        self.outside_c
    }

    /// Temperature of a room there \[°C\]: see [`room_c`].
    #[must_use]
    pub fn room_c(&self) -> f64 {
        self.room_c
    }

    /// What the cells are reckoned at in a room \[°C\]: its own temperature, but what more a warm room gives than a heated one
    /// (lead-acid cells) is not counted on.
    fn cells_in_a_room_c(&self) -> f64 {
        let usable = |c: f64| self.nominal.fitness.at(c).usable;
        if usable(INDOORS_C) < usable(self.room_c) { INDOORS_C } else { self.room_c }
    }

    /// Tells what the air outside is on the mean of the outage's month \[°C\]: see [`room_c`].
    pub(super) fn outside(&mut self, mean_c: f64) {
        self.room_c = room_c(mean_c);
        self.outside_c = mean_c;
        if self.stands == Stands::Indoors {
            self.nominal.home_c = self.cells_in_a_room_c();
        }
    }
}

/// How far a heater warms the cells above where charging is allowed \[K\]: 5 K, typical, no source, or to the middle of a
/// narrow span. Half a line of the fitness table is added, so that rounding does not decide between two of them.
fn heats_above_k((low, high): (Celsius, Celsius)) -> f64 {
    (0.5 * (high.0 - low.0)).min(5.125)
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
        ..LossCurve::IDEAL
    })
}

#[cfg(test)]
mod tests;
