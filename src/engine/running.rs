//! Watts while things run, against what the station gives for long. Hourly means hide them: a motor of 100 W that runs a
//! third of the time never runs on 50 W.

use super::load::LoadPlan;
use super::plan::Plan;
use super::rig::{Limits, Rig};
use super::step::{Demand, bus_w};

/// The class that is served last.
const LAST_CLASS: usize = 2;

/// Rounding in sums of watts.
const ROUNDING: f64 = 1e-9;

impl Plan {
    /// Power at the bus \[W\] while some loads all run at once, each at its own watts, losses counted.
    #[must_use]
    pub fn running_bus_w(&self, rig: &Rig, loads: &[usize]) -> f64 {
        let mut demand = Demand::default();
        for load in loads.iter().filter_map(|k| self.loads.get(*k)) {
            demand.watts[0][load.outlet] += load.running_w;
            demand.plugged[0][load.outlet] = true;
        }
        bus_w(rig, &demand)
    }

    /// Most power at the bus \[W\] out of the cells where the station stands, by best estimates; that of warm cells where
    /// it stands in the weather.
    #[must_use]
    pub fn gives_w(&self) -> f64 {
        self.kit.best_estimate().limits().discharge_w
    }

    /// Whether a load by itself runs at more watts than the station gives, so that it never runs. What the sun adds by day
    /// is not counted on (cautious): a load that only runs in bright sun is no load to count on.
    #[must_use]
    pub fn overloads(&self, load: usize) -> bool {
        let rig = self.kit.best_estimate();
        let Some(planned) = self.loads.get(load) else { return false };
        let Limits { discharge_w, works, .. } = rig.limits();
        let beyond = |asked_w: f64, given_w: f64| asked_w > given_w * (1.0 + ROUNDING);
        // A station that does not work at all serves nothing anyway.
        works
            && (beyond(planned.running_w, rig.outlet_limit_w[planned.outlet])
                || beyond(self.running_bus_w(&rig, &[load]), discharge_w))
    }

    /// Holds off, from the first step on, the loads that the station cannot run, and lets the others run. Where other vital
    /// loads run, an outage is judged by these alone.
    pub fn hold_off_overloads(&mut self) {
        for k in 0..self.loads.len() {
            let held = self.overloads(k);
            let load = &mut self.loads[k];
            if held {
                load.off_from_step = 0;
            } else if load.never_runs() {
                load.off_from_step = usize::MAX;
            }
        }
        let runs = self.loads.iter().any(|load| load.priority == 0 && !load.never_runs());
        for load in &mut self.loads {
            load.class = if runs && load.priority == 0 && load.never_runs() { LAST_CLASS } else { load.priority };
        }
        self.mind_rules();
    }

    /// The plan with some of its loads only.
    ///
    /// * `keeps` — which ones, by their place in the plan.
    #[must_use]
    pub fn keeping(&self, keeps: impl Fn(usize) -> bool) -> Plan {
        let mut plan = self.clone();
        let mut at = 0..;
        plan.loads.retain(|_| at.next().is_some_and(&keeps));
        plan.mind_rules();
        plan
    }

    /// The plan with an AC outlet that is always on, as if nobody had to switch it on and it never slept.
    #[must_use]
    pub fn with_ac_always_on(&self) -> Plan {
        let mut plan = Plan { ac: None, ..self.clone() };
        plan.mind_rules();
        plan
    }

    /// Counts some of its loads as vital, whatever their priority.
    pub fn count_as_vital(&mut self, picked: impl Fn(usize) -> bool) {
        let loads = self.loads.iter_mut().enumerate().filter(|(k, _)| picked(*k));
        loads.for_each(|(_, load)| (load.priority, load.class) = (0, 0));
        self.mind_rules();
    }

    /// Looks anew whether any load is ever switched off by a rule of charge or time, or with its outlet, and what a generator
    /// carries: after every change of the loads.
    pub fn mind_rules(&mut self) {
        let matters = self.ac_matters();
        if let Some(ac) = &mut self.ac {
            ac.matters = matters;
        }
        self.kit.minds_the_ac_outlet(matters);
        let ruled = |load: &LoadPlan| load.off_below > f64::NEG_INFINITY || load.off_from_step < usize::MAX;
        self.any_rule = matters || self.loads.iter().any(ruled);
        self.mind_the_generator();
    }
}
