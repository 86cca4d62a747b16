//! The panels of a plan, and what the wall may give.

use std::sync::Arc;

use super::geometry::ArrayGeometry;
use super::plan::Plan;
use crate::kit::{cable, electrical};
use crate::random::address;
use crate::scenario::model::{Panel, PanelCable, Scenario};
use crate::weather::{Calendar, WeatherPlan};

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
    /// Voltage at its best power under standard test conditions \[V\]; infinite where it is not known, so that neither
    /// volts nor amps limit it.
    pub string_v: f64,
    /// Resistance of its cable, there and back \[ohm\].
    pub cable_ohm: f64,
    /// The address of its random stream.
    pub stream: u64,
    /// Share of its power left because other arrays hold the input at another voltage, 0 to 1.
    pub matched: f64,
}

impl ArrayPlan {
    /// Power of all its panels in a trial \[W\], less what the other arrays cost it.
    ///
    /// * `z` — the standard normal number behind its doubt.
    #[inline]
    pub(super) fn drawn_w(&self, z: f64) -> f64 {
        (self.rated_w + self.rated_w_sd * z).max(0.0) * self.matched
    }
}

/// How a panel sees the sun.
pub(super) fn geometry(
    panel: &Panel,
    ground_reflection: f64,
    calendar: &Calendar,
    weather: &WeatherPlan,
) -> ArrayGeometry {
    let outside = |day: u32| weather.extraterrestrial_w_m2(day);
    let flat_loss = match panel.cable {
        PanelCable::Loses(share) => share.0,
        PanelCable::Wire(_) => 0.0,
    };
    ArrayGeometry::new(panel, ground_reflection, calendar, outside, (1.0 - panel.soiling.0) * (1.0 - flat_loss))
}

/// The geometry of a panel in a plan of the same place and season that differs in nothing but name and power.
pub(super) fn twin(panel: &Panel, (scenario, plan): (&Scenario, &Plan)) -> Option<Arc<ArrayGeometry>> {
    let alike = |other: &Panel| {
        let renamed = Panel { name: panel.name.clone(), rated: panel.rated, ..other.clone() };
        Panel { series: panel.series, parallel: panel.parallel, ..renamed } == *panel
    };
    let (_, array) = scenario.panels.iter().zip(&plan.arrays).find(|(other, _)| alike(other))?;
    Some(Arc::clone(&array.geometry))
}

/// One array, from the scenario's panel.
pub(super) fn array(panel: &Panel, matched: f64, geometry: Arc<ArrayGeometry>) -> ArrayPlan {
    let cable_ohm = match panel.cable {
        PanelCable::Loses(_) => 0.0,
        PanelCable::Wire(wire) => cable::loop_ohm(&wire),
    };
    let count = f64::from(panel.count());
    ArrayPlan {
        name: panel.name.clone(),
        geometry,
        rated_w: panel.rated.value.0 * count,
        rated_w_sd: panel.rated.standard() * count,
        panel_w: panel.rated.value.0,
        string_v: electrical::best_string_v(panel).unwrap_or(f64::INFINITY),
        cable_ohm,
        stream: 0,
        matched,
    }
}

/// The order in which panels are added up, whatever the order of the scenario, and the address of each one's random stream.
///
/// A panel goes by its name. Those without one, and those of one name, go by what they are: equal ones may change places.
pub(super) fn order_and_rng(panels: &[Panel]) -> (Vec<usize>, Vec<u64>) {
    let name = |k: usize| {
        let name = panels[k].name.as_str();
        // What the reader calls panels without a name tells nothing but their place.
        let numbered = name.strip_prefix("panel ").is_some_and(|rest| rest.parse::<usize>().is_ok());
        if numbered { "" } else { name }
    };
    let told = |k: usize| format!("{:?}", Panel { name: String::new(), ..panels[k].clone() });
    let mut order: Vec<usize> = (0..panels.len()).collect();
    order.sort_by_cached_key(|&k| (name(k).to_owned(), told(k)));
    let mut streams = vec![0; panels.len()];
    for (at, &k) in order.iter().enumerate() {
        let namesakes = order[..at].iter().filter(|&&other| name(other) == name(k)).count();
        streams[k] = address(name(k)).wrapping_add(namesakes as u64);
    }
    (order, streams)
}
