//! Everything that does not depend on chance, worked out once.

use std::sync::Arc;

use serde::Serialize;
use thiserror::Error;

use super::arrays::{self, ArrayPlan, array, geometry, order_and_rng, twin};
use super::asking::Asks;
use super::awake::{AcOutlet, somebody_home};
use super::clock::{self, ClockError};
use super::cuts::{self, Part, Parted};
use super::feeds::FeedsPlan;
use super::fuel::{self, FuelPlan};
use super::kit_plan::{INDOORS_C, KitPlan};
use super::load::LoadPlan;
use super::rig::Rig;
use super::second::SecondPlan;
use super::sources::SourcePlan;
use super::step::{Demand, bus_w};
use super::varying::VaryingCuts;
use super::warmth::RoomPlan;
use super::wiring::InputWindow;
use crate::kit::CurveError;
use crate::scenario::model::{Begins, Lasts, OutletKind, Scenario};
use crate::units::Hours;
use crate::weather::{Climate, HourlyRecord, WeatherError};

pub use super::season::{LONGEST_OUTAGE_H, Onset, OutagePlan, Season, lengthened_to_h, whole_steps};

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
    /// A record of bench tests is named and nobody has read it.
    #[error("the record `{file}` has not been read")]
    Unread {
        /// The record's name.
        file: String,
    },
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

/// A quantity that is not known and drawn once per trial.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Unknown {
    /// Its code: one of [`crate::weather::bend::NAMES`], a figure of the station, or one of `panel_power`, `load_watts`,
    /// `heat_leak`, `load_use`, `source_watts` and `mean_wind`.
    pub quantity: &'static str,
    /// Name of the panels or the load that it belongs to.
    pub of: Option<String>,
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
    /// The order in which they are added up: the same whatever the order of the scenario.
    pub(super) order: Vec<usize>,
    /// What the solar inputs take of them.
    pub inputs: Vec<InputWindow>,
    /// What may be drawn from the wall or a generator, by step of the day \[W\].
    pub wall_w: Vec<f64>,
    /// The loads.
    pub loads: Vec<LoadPlan>,
    /// The generator's fuel; `None` where it never ends.
    pub fuel: Option<FuelPlan>,
    /// The AC loads that it feeds while it runs; `None` where it charges the station alone.
    pub feeds: Option<FeedsPlan>,
    /// A second station; `None` where there is none.
    pub second: Option<SecondPlan>,
    /// Cars, water and wind.
    pub sources: Vec<SourcePlan>,
    /// How rooms cool; `None` where they stay warm.
    pub(super) room: Option<RoomPlan>,
    /// In which steps of a day somebody is at home.
    pub(super) home: Vec<bool>,
    /// In which steps of a day the mains feeds the loads, where cuts come back every day; empty where it never does.
    pub mains: Vec<bool>,
    /// Those in which it comes or goes; empty where it does so between steps alone.
    pub(super) parted: Vec<Parted>,
    /// Cuts of which one day's may differ from another's; `None` where all are alike, or there are none.
    pub(super) varying: Option<VaryingCuts>,
    /// When the AC outlet is on; `None` where there is none.
    pub ac: Option<AcOutlet>,
    /// Whether any load is switched off by charge, by time, or with its outlet.
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
        Plan::compile_with(scenario, sky, step_minutes, None)
    }

    /// * `base` — a plan of the same weather and outage, whose season and geometries are shared.
    fn compile_with(
        scenario: &Scenario,
        sky: &Sky,
        step_minutes: u32,
        base: Option<(&Scenario, &Plan)>,
    ) -> Result<Plan, PlanError> {
        let calendar = clock::calendar(scenario, step_minutes)?;
        let season = match base {
            Some((_, plan)) => Arc::clone(&plan.season),
            None => Arc::new(Season::new(scenario, sky, step_minutes, &calendar)?),
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
        if let Some(table) = scenario.outage.cuts.table.as_ref().filter(|table| table.cuts.is_empty()) {
            return Err(PlanError::Unread { file: table.file.clone() });
        }
        let steps_a_day = calendar.steps_per_day();
        let (Begins::Month(month) | Begins::At { month, .. }) = scenario.outage.begins;
        let air_c = match sky {
            Sky::Climate(climate) | Sky::Record(_, Some(climate)) => {
                climate.months[usize::from(month.clamp(1, 12)) - 1].air.mean_c
            }
            Sky::Record(_, None) => INDOORS_C,
        };
        let (order, streams) = order_and_rng(&scenario.panels);
        let arrays = scenario
            .panels
            .iter()
            .zip(arrays::at_inputs(scenario))
            .zip(streams)
            .map(|((panel, at_input), stream)| {
                let geometry = base.and_then(|base| twin(panel, base)).unwrap_or_else(|| {
                    Arc::new(geometry(panel, scenario.site.ground_reflection.0, &calendar, &season.weather))
                });
                ArrayPlan { stream, ..array(panel, at_input, geometry) }
            })
            .collect();
        let mut loads: Vec<LoadPlan> =
            scenario.loads.iter().map(|load| LoadPlan::new(load, steps_a_day, air_c)).collect();
        let room = scenario.cooling_room().map(|room| RoomPlan::new(&room, f64::from(step_minutes) / 60.0));
        if room.is_some() {
            loads.iter_mut().for_each(|load| load.let_the_room_cool(true));
        }
        let mains_w = cuts::mains_w(&scenario.outage, &scenario.station);
        let varying = VaryingCuts::new(&scenario.outage.cuts, mains_w, steps_a_day);
        let mains = cuts::mains(&scenario.outage, varying.as_ref(), steps_a_day);
        let parted = cuts::parted(&scenario.outage, &scenario.station, steps_a_day);
        let hours =
            varying.as_ref().map(VaryingCuts::hours).or_else(|| scenario.outage.cuts.alike()).unwrap_or_default();
        for (plan, load) in loads.iter_mut().zip(&scenario.loads) {
            plan.spare_the_station(load, &hours);
        }
        let home = somebody_home(&scenario.outage.somebody_home, steps_a_day);
        let ac = scenario.station.inverter.as_ref().map(|inverter| AcOutlet::new(inverter, &home));
        let mut runs =
            scenario.generator.as_ref().map_or(vec![0.0; steps_a_day], |generator| fuel::runs(generator, &home));
        cuts::rest_generator(&mains, &parted, varying.as_ref(), &mut runs);
        let mut charged_w = match &scenario.generator {
            Some(generator) => fuel::wall_w(generator, &scenario.station, &runs),
            None => vec![0.0; steps_a_day],
        };
        cuts::charge_from_mains(&scenario.outage, &scenario.station, (&mains, &parted), &mut charged_w);
        let second = scenario.second_station.as_ref();
        let second_plan = second.map(|second| SecondPlan::new(second, &scenario.station, steps_a_day));
        if let Some(second) = &second_plan {
            charged_w = vec![second.gives_w; steps_a_day];
        }
        let mut kit = KitPlan::new(&scenario.station, &scenario.outage.starts_charged)?;
        kit.outside(air_c);
        if let Some(second) = second {
            kit.beside(second);
        }
        let fuel = scenario.generator.as_ref().and_then(|generator| FuelPlan::new(generator, &runs));
        kit.fuelled(fuel.as_ref());
        let mut plan = Plan {
            season,
            kit,
            arrays,
            order,
            inputs: arrays::windows(&scenario.station),
            wall_w: charged_w,
            fuel,
            feeds: scenario
                .generator
                .as_ref()
                .and_then(|generator| FeedsPlan::new(generator, &scenario.station, &runs)),
            second: second_plan,
            sources: SourcePlan::all(&scenario.sources, steps_a_day),
            room,
            home,
            mains,
            parted,
            varying,
            ac,
            any_rule: false,
            any_asks: loads.iter().any(|load| load.asks.is_some()),
            loads,
            allow_unmet_wh: scenario.outage.allow_unmet.0,
        };
        plan.hold_off_overloads();
        let rig = plan.kit.best_estimate();
        let busiest: Vec<f64> = (0..steps_a_day).map(|at| plan.asked_bus_w(&rig, at)).collect();
        plan.kit.discharges_by_day(busiest.into());
        Ok(plan)
    }

    /// Bus power \[W\] that all loads ask for in a step of the day, each on the day of the week on which it asks most.
    fn asked_bus_w(&self, rig: &Rig, at: usize) -> f64 {
        let mut demand = Demand::default();
        for load in self.loads.iter().filter(|load| !load.never_runs()) {
            let most = (0..7).map(|day| load.day(day).watts[at]).fold(0.0, f64::max) / self.fed(at);
            demand.watts[0][load.outlet] += most;
            demand.plugged[0][load.outlet] = true;
        }
        bus_w(rig, &demand)
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
        let (base_scenario, base_plan) = base;
        let (a, b) = (&scenario.outage, &base_scenario.outage);
        let same_outage = (a.begins, a.lasts, a.begins_in_a_storm) == (b.begins, b.lasts, b.begins_in_a_storm);
        let same_steps = base_plan.season.step_h == f64::from(step_minutes) / 60.0;
        let same = same_outage && same_steps && scenario.site == base_scenario.site;
        let mut plan = Plan::compile_with(scenario, sky, step_minutes, Some(base).filter(|_| same))?;
        if same {
            for array in &mut plan.arrays {
                if let Some(twin) = base_plan.arrays.iter().find(|twin| twin.geometry == array.geometry) {
                    array.geometry = Arc::clone(&twin.geometry);
                }
            }
        }
        Ok(plan)
    }

    /// The arrays in the order in which they are added up.
    pub(super) fn arrays_in_order(&self) -> impl Iterator<Item = &ArrayPlan> {
        self.order.iter().filter_map(|k| self.arrays.get(*k))
    }

    /// The quantities that are drawn once per trial because they are not known, in the order of
    /// [`super::Workspace::unknowns`].
    #[must_use]
    pub fn unknowns(&self) -> Vec<Unknown> {
        let alone = |quantity| Unknown { quantity, of: None };
        let of = |quantity, name: &String| Unknown { quantity, of: Some(name.clone()) };
        let station = self.kit.uncertain_figures().into_iter().filter(|(_, sd)| *sd > 0.0).map(|(code, _)| alone(code));
        let arrays = self.arrays_in_order().filter(|a| a.rated_w_sd > 0.0).map(|a| of("panel_power", &a.name));
        let figure = |load: &LoadPlan| match load.asks.as_deref() {
            None => "load_watts",
            Some(Asks::Cooler(_)) => "heat_leak",
            Some(Asks::Charge(_)) => "load_use",
        };
        let loads = self.loads.iter().filter(|l| l.watts_sd > 0.0).map(|l| of(figure(l), &l.name));
        let sources = self.sources.iter().filter_map(|source| Some(of(source.unknown()?, &source.name)));
        self.season.unknown_names().map(alone).chain(station).chain(arrays).chain(loads).chain(sources).collect()
    }

    /// Whether the mains feeds the loads in a step of the day.
    #[inline(always)]
    pub(super) fn on_mains(&self, at: usize) -> bool {
        self.mains.get(at).is_some_and(|mains| *mains)
    }

    /// What is drawn from the plug in a step of the day \[W\], for the cells' step: with other sources beside it a watt, for which they
    /// get what all together give.
    #[inline(always)]
    pub(super) fn plug_w(&self, at: usize) -> f64 {
        if self.sources.is_empty() { self.wall_w[at] } else { 1.0 }
    }

    /// The cuts, in a step of the day in which they may be there on one day and not on another.
    #[inline(always)]
    pub(super) fn open(&self, at: usize) -> Option<&VaryingCuts> {
        self.varying.as_ref().filter(|cuts| cuts.open[at])
    }

    /// Whether one day's cuts may differ from another's.
    #[must_use]
    pub fn cuts_vary(&self) -> bool {
        self.varying.is_some()
    }

    /// Whether cuts come back, day by day, with mains between them.
    #[must_use]
    pub fn cuts_come_back(&self) -> bool {
        !self.mains.is_empty() || self.cuts_vary()
    }

    /// The parts of a step of the day in which the mains comes or goes; none where it does not.
    #[inline(always)]
    pub(super) fn parts(&self, at: usize) -> &[Part] {
        self.parted.get(at).map_or(&[], |step| &step.parts)
    }

    /// Share of a step of the day in which the station is what feeds the loads, if it does at all.
    #[inline(always)]
    pub(super) fn fed(&self, at: usize) -> f64 {
        self.parted.get(at).map_or(1.0, Parted::fed)
    }

    /// What rooms that cool come to \[°C\], with such air outdoors; `None` where they stay warm.
    #[must_use]
    pub fn room_falls_to_c(&self, air_c: f64) -> Option<f64> {
        self.room.map(|room| room.ends_c(air_c))
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
