//! Everything that does not depend on luck, worked out once.

use std::sync::Arc;

use thiserror::Error;

use super::asking::Asks;
use super::clock::{self, ClockError};
use super::geometry::ArrayGeometry;
use super::load::LoadPlan;
use super::rig::Rig;
use super::trial::Luck;
use crate::kit::{CurveError, LossCurve, cells_from_bench_test};
use crate::random::{Purpose, Stream};
use crate::scenario::model::{Begins, Lasts, OutletKind, Panel, Scenario, Station};
use crate::sky::plane::Plane;
use crate::units::{Fraction, Hours, Quantity, Uncertain, WattHours};
use crate::weather::{Calendar, Climate, HourlyRecord, Opening, WeatherError, WeatherPlan};

/// Cells of a station that nobody has tested: share of the label, and the half-width of its 95 % interval. Through the
/// losses assumed beside it this gives 73 to 86 % of the label at the AC outlet under a load of a fifth of the label,
/// the lower end of the 80 to 90 % that healthy units give (common practice, no source).
pub const UNPROVED_SHARE: (f64, f64) = (0.97, 0.08);

/// Longest outage that is simulated \[h\]: rare longer ones, drawn from a distribution, are cut to it.
pub const LONGEST_OUTAGE_H: f64 = 60.0 * 24.0;

/// 95 % point of the standard normal distribution.
const NORMAL_P95: f64 = 1.644_853_626_951_472_2;

/// Why a scenario cannot be simulated.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PlanError {
    /// The weather refuses.
    #[error(transparent)]
    Weather(#[from] WeatherError),
    /// The clock of the place is not known.
    #[error(transparent)]
    Clock(#[from] ClockError),
    /// The inverter's figures contradict each other.
    #[error("station.inverter: {0}")]
    Inverter(#[from] CurveError),
    /// A load follows a file that nobody has read.
    #[error("the profile of load `{load}` has not been read")]
    NoProfile {
        /// Name of the load.
        load: String,
    },
    /// A load hangs on an outlet that is not there.
    #[error("load `{load}` is plugged into an outlet that the station lacks")]
    NoOutlet {
        /// Name of the load.
        load: String,
    },
}

/// Where the weather is drawn from.
#[derive(Debug, Clone)]
pub enum Sky {
    /// The statistics of a climate.
    Climate(Climate),
    /// A record, replayed, with a climate's air temperature where it has none.
    Record(Box<HourlyRecord>, Option<Climate>),
}

/// When an outage can begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Onset {
    /// At any step of these days, all equally likely.
    AnyOf {
        /// Day of the year, 0 for 1 January.
        first_day: u32,
        /// How many days.
        days: u32,
    },
    /// At one step.
    At {
        /// Day of the year, 0 for 1 January.
        day: u32,
        /// Step of the day.
        step: usize,
    },
}

/// When and how long.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutagePlan {
    /// When it begins.
    pub onset: Onset,
    /// How long it lasts.
    pub lasts: Lasts,
}

impl OutagePlan {
    /// First day, first step and number of steps of one outage. Always takes two numbers from the stream.
    pub fn draw(&self, luck: &mut Stream, steps_a_day: usize, step_h: f64) -> (u32, usize, usize) {
        let (u, z) = (luck.uniform(), luck.normal());
        let (day, step) = match self.onset {
            Onset::At { day, step } => (day, step),
            Onset::AnyOf { first_day, days } => {
                let at = (u * f64::from(days) * steps_a_day as f64) as usize;
                (first_day + (at / steps_a_day) as u32, at % steps_a_day)
            }
        };
        let hours = match self.lasts {
            Lasts::Fixed(hours) => hours.0,
            Lasts::LogNormal { median, p95 } => median.0 * ((p95 / median).ln() / NORMAL_P95 * z).exp(),
        };
        (day % 365, step, ((hours.min(LONGEST_OUTAGE_H) / step_h).round() as usize).max(1))
    }

    /// The most steps that a drawn outage can have.
    #[must_use]
    pub fn longest_steps(&self, step_h: f64) -> usize {
        let hours = match self.lasts {
            Lasts::Fixed(hours) => hours.0,
            Lasts::LogNormal { .. } => LONGEST_OUTAGE_H,
        };
        ((hours.min(LONGEST_OUTAGE_H) / step_h).round() as usize).max(1)
    }
}

/// What all variants of a kit share: weather and outage.
#[derive(Debug)]
pub struct Season {
    /// The weather.
    pub weather: WeatherPlan,
    /// How it begins.
    pub opening: Opening,
    /// Standard deviation of the logarithm of the sun's systematic error.
    pub sun_uncertainty: f64,
    /// The outage.
    pub outage: OutagePlan,
    /// Length of a step \[h\].
    pub step_h: f64,
    /// Steps in a day.
    pub steps_a_day: usize,
    /// Day of the week on which every outage begins, 0 for Monday; `None` where it is drawn.
    pub weekday: Option<usize>,
}

/// An array of panels.
#[derive(Debug, Clone)]
pub struct ArrayPlan {
    /// What to call it.
    pub name: String,
    /// How it sees the sun.
    pub geometry: Arc<ArrayGeometry>,
    /// Rated power of all its panels \[W\].
    pub rated_w: f64,
    /// Standard uncertainty of that \[W\].
    pub rated_w_sd: f64,
    /// Power of one of its panels \[W\].
    pub panel_w: f64,
    /// Most power it can pass at the input's most current \[W\].
    pub current_limit_w: f64,
}

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
        let size = match station.measured {
            Some(test) => Size::BenchTest {
                delivered_wh: known(&test.delivered),
                load_w: test.load.0,
                outlet: test.outlet as usize,
            },
            None => {
                let (share, half_width) = UNPROVED_SHARE;
                let spread = (half_width * rated.value.0).hypot(rated.plus_minus);
                Size::Cells(known(&Uncertain::new(WattHours(share * rated.value.0), spread)))
            }
        };
        let curve = match &station.inverter {
            Some(inverter) => {
                let points: Vec<(f64, f64)> = inverter.efficiency.iter().map(|p| (p.load.0, p.efficiency.0)).collect();
                LossCurve::from_points(inverter.rated.0, inverter.idle.value.0, &points)?
            }
            None => LossCurve::IDEAL,
        };
        let limit = |outlet: &Option<crate::scenario::model::Outlet>| outlet.map_or(0.0, |o| o.limit.0);
        let efficiency = |outlet: &Option<crate::scenario::model::Outlet>| outlet.map_or(1.0, |o| o.efficiency.0);
        let idle = |outlet: &Option<crate::scenario::model::Outlet>| outlet.map_or(0.0, |o| o.idle.0);
        let nominal = Rig {
            charge_limit_w: station.charge_limit.map_or(f64::INFINITY, |w| w.0),
            discharge_limit_w: station.discharge_limit.map_or(f64::INFINITY, |w| w.0),
            own_draw_w: station.own_draw.0,
            self_discharge_per_h: station.self_discharge_a_month.0 / (30.0 * 24.0),
            inverter: curve,
            inverter_sleeps: station.inverter.as_ref().is_some_and(|i| i.sleeps),
            outlet_limit_w: [
                station.inverter.as_ref().map_or(0.0, |i| i.rated.0),
                limit(&station.dc_outlet),
                limit(&station.usb),
            ],
            outlet_efficiency: [1.0, efficiency(&station.dc_outlet), efficiency(&station.usb)],
            outlet_idle_w: [0.0, idle(&station.dc_outlet), idle(&station.usb)],
            solar_limit_w: station.solar_input.map_or(0.0, |s| s.limit.0),
            solar_efficiency: station.solar_input.map_or(1.0, |s| s.efficiency.0),
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
            scale: 1.0,
            nominal: rig.clone(),
        }
    }

    fn resolve(&self, z: [f64; 4], charge_z: f64) -> Rig {
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
                    _ => rig.outlet_idle_w[outlet] + load_w / rig.outlet_efficiency[outlet],
                };
                cells_from_bench_test(at(delivered_wh, z[0]), load_w, drawn_w, rig.own_draw_w, discharge_efficiency)
            }
        };
        // A battery of nothing has no state of charge: a thousandth of a watt-hour stands for it.
        rig.capacity_wh = (cells_wh * self.scale).max(1e-3);
        rig.floor_wh = self.floor * rig.capacity_wh;
        rig.ceiling_wh = self.ceiling * rig.capacity_wh;
        rig.start_wh = at(self.start, charge_z).clamp(0.0, 1.0) * rig.capacity_wh;
        rig
    }

    /// The kit by its best estimates.
    #[must_use]
    pub fn best_estimate(&self) -> Rig {
        self.resolve([0.0; 4], 0.0)
    }

    /// Lets every outage begin at this state of charge, 0 to 1.
    pub fn start_at(&mut self, charge: f64) {
        self.start = (charge, 0.0);
    }

    /// Lets every outage begin with the battery as full as it may be charged.
    pub fn start_full(&mut self) {
        self.start = (self.ceiling, 0.0);
    }

    fn uncertain_figures(&self) -> [(&'static str, f64); 4] {
        let size_sd = match self.size {
            Size::Cells((_, sd)) => sd,
            Size::BenchTest { delivered_wh: (_, sd), .. } => sd,
        };
        [
            ("battery capacity", size_sd),
            ("charging efficiency", self.charge_efficiency.1),
            ("discharging efficiency", self.discharge_efficiency.1),
            ("inverter idle draw", self.idle_w.1),
        ]
    }

    /// One trial's kit; the normal numbers behind what is uncertain are added to `unknowns`.
    #[must_use]
    pub fn draw(&self, luck: Luck, charge_z: f64, unknowns: &mut Vec<f64>) -> Rig {
        let figures = self.uncertain_figures();
        let mut z = [0.0; 4];
        if figures.iter().any(|(_, sd)| *sd > 0.0) {
            let mut stream = luck.stream(Purpose::Station);
            for (z, (_, sd)) in z.iter_mut().zip(figures) {
                *z = stream.normal();
                if sd > 0.0 {
                    unknowns.push(*z);
                }
            }
        }
        self.resolve(z, charge_z)
    }
}

/// A question ready to be simulated.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Weather and outage.
    pub season: Arc<Season>,
    /// The station.
    pub kit: KitPlan,
    /// The panels.
    pub arrays: Vec<ArrayPlan>,
    /// The loads.
    pub loads: Vec<LoadPlan>,
    /// Whether any load is switched off by charge.
    pub any_rule: bool,
    /// Whether any load asks by its own state.
    pub any_asks: bool,
    /// Energy that vital loads may miss \[Wh\].
    pub allow_unmet_wh: f64,
}

impl Plan {
    /// Compiles a scenario.
    ///
    /// * `step_minutes` — a divisor of 60.
    ///
    /// # Errors
    /// [`PlanError`] where the parts contradict each other or the weather refuses.
    pub fn compile(scenario: &Scenario, sky: &Sky, step_minutes: u32) -> Result<Plan, PlanError> {
        let calendar = clock::calendar(scenario, step_minutes)?;
        let (weather, sun_uncertainty) = match sky {
            Sky::Climate(climate) => (WeatherPlan::stochastic(climate, &calendar)?, climate.sun_uncertainty),
            Sky::Record(record, None) => (WeatherPlan::replay(record, &calendar)?, 0.0),
            Sky::Record(record, Some(air)) => (WeatherPlan::replay_with_air_of(record, air, &calendar)?, 0.0),
        };
        let outlets = [
            (OutletKind::Ac, scenario.station.inverter.is_some()),
            (OutletKind::Dc, scenario.station.dc_outlet.is_some()),
            (OutletKind::Usb, scenario.station.usb.is_some()),
        ];
        if let Some(load) = scenario.loads.iter().find(|load| outlets.contains(&(load.outlet, false))) {
            return Err(PlanError::NoOutlet { load: load.name.clone() });
        }
        if let Some(load) = scenario.loads.iter().find(|load| load.lacks_profile()) {
            return Err(PlanError::NoProfile { load: load.name.clone() });
        }
        let steps_a_day = calendar.steps_per_day();
        let (Begins::Month(month) | Begins::At { month, .. }) = scenario.outage.begins;
        let air_c = match sky {
            Sky::Climate(climate) | Sky::Record(_, Some(climate)) => {
                climate.months[usize::from(month.clamp(1, 12)) - 1].air.mean_c
            }
            Sky::Record(_, None) => crate::loads::cooler::INDOORS_C,
        };
        let arrays = scenario.panels.iter().map(|panel| array(panel, scenario, &calendar, &weather)).collect();
        let loads: Vec<LoadPlan> = scenario
            .loads
            .iter()
            .enumerate()
            .map(|(k, load)| LoadPlan::new(load, k as u32, steps_a_day, air_c))
            .collect();
        let onset = match scenario.outage.begins {
            Begins::Month(month) => {
                let (first_day, days) = clock::month_days(month);
                Onset::AnyOf { first_day, days }
            }
            Begins::At { month, day, minute_of_day, .. } => {
                let (first_day, days) = clock::month_days(month);
                Onset::At {
                    day: first_day + u32::from(day).clamp(1, days) - 1,
                    step: usize::from(minute_of_day) / step_minutes as usize,
                }
            }
        };
        Ok(Plan {
            season: Arc::new(Season {
                weather,
                opening: if scenario.outage.begins_in_a_storm { Opening::STORM } else { Opening::Any },
                sun_uncertainty,
                outage: OutagePlan { onset, lasts: scenario.outage.lasts },
                step_h: f64::from(step_minutes) / 60.0,
                steps_a_day,
                weekday: clock::weekday(&scenario.outage.begins),
            }),
            kit: KitPlan::new(&scenario.station, &scenario.outage.starts_charged)?,
            arrays,
            any_rule: loads.iter().any(|load| load.off_below > f64::NEG_INFINITY),
            any_asks: loads.iter().any(|load| load.asks.is_some()),
            loads,
            allow_unmet_wh: scenario.outage.allow_unmet.0,
        })
    }

    /// Compiles a variant of a scenario that is compiled already. Where place and outage are the same it shares the
    /// season, and where an array looks the same way it shares the geometry, so that trials can share weather and yields.
    ///
    /// # Errors
    /// As [`Plan::compile`].
    pub fn compile_beside(
        scenario: &Scenario,
        sky: &Sky,
        step_minutes: u32,
        base: (&Scenario, &Plan),
    ) -> Result<Plan, PlanError> {
        let mut plan = Plan::compile(scenario, sky, step_minutes)?;
        let (base_scenario, base_plan) = base;
        let (a, b) = (&scenario.outage, &base_scenario.outage);
        let same_outage = (a.begins, a.lasts, a.begins_in_a_storm) == (b.begins, b.lasts, b.begins_in_a_storm);
        if same_outage && scenario.site == base_scenario.site {
            plan.season = Arc::clone(&base_plan.season);
            for array in &mut plan.arrays {
                if let Some(twin) = base_plan.arrays.iter().find(|twin| twin.geometry == array.geometry) {
                    array.geometry = Arc::clone(&twin.geometry);
                }
            }
        }
        Ok(plan)
    }

    /// Names of the quantities that are drawn once per trial because they are not known, in the order of
    /// [`super::Workspace::unknowns`].
    #[must_use]
    pub fn unknowns(&self) -> Vec<String> {
        let climate = (self.season.sun_uncertainty > 0.0).then(|| "sun of the climate table".to_string());
        let station = self.kit.uncertain_figures().into_iter().filter(|(_, sd)| *sd > 0.0).map(|(name, _)| name.into());
        let arrays = self.arrays.iter().filter(|a| a.rated_w_sd > 0.0).map(|a| format!("power of {}", a.name));
        let figure = |load: &LoadPlan| match load.asks.as_deref() {
            None => "watts",
            Some(Asks::Cooler(_)) => "heat leak",
            Some(Asks::Charge(_)) => "use",
        };
        let loads = self.loads.iter().filter(|l| l.watts_sd > 0.0).map(|l| format!("{} of {}", figure(l), l.name));
        climate.into_iter().chain(station).chain(arrays).chain(loads).collect()
    }

    /// The most steps that an outage of this plan can have.
    #[must_use]
    pub fn longest(&self) -> usize {
        self.season.outage.longest_steps(self.season.step_h)
    }

    /// Nominal length of an outage: the fixed one or the median.
    #[must_use]
    pub fn typical_length(&self) -> Hours {
        match self.season.outage.lasts {
            Lasts::Fixed(hours) => hours,
            Lasts::LogNormal { median, .. } => median,
        }
    }
}

fn array(panel: &Panel, scenario: &Scenario, calendar: &Calendar, weather: &WeatherPlan) -> ArrayPlan {
    let plane = Plane { tilt_deg: panel.tilt.0, facing_deg: panel.facing.0, albedo: scenario.site.ground_reflection.0 };
    let kept = (1.0 - panel.soiling.0) * (1.0 - panel.cable_loss.0);
    let outside = |day: u32| weather.extraterrestrial_w_m2(day);
    let geometry = ArrayGeometry::new(plane, calendar, outside, panel.power_coefficient.0, kept);
    let count = f64::from(panel.count());
    let amps = scenario.station.solar_input.and_then(|input| input.amps_max);
    let current_limit_w = match (amps, panel.max_power_voltage) {
        (Some(amps), Some(volts)) => (volts * f64::from(panel.series) * amps).0,
        _ => f64::INFINITY,
    };
    ArrayPlan {
        name: panel.name.clone(),
        geometry: Arc::new(geometry),
        rated_w: panel.rated.value.0 * count,
        rated_w_sd: panel.rated.standard() * count,
        panel_w: panel.rated.value.0,
        current_limit_w,
    }
}
