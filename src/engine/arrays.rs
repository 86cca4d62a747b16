//! The panels of a plan and the inputs that they feed.

use std::sync::Arc;

use super::geometry::ArrayGeometry;
use super::plan::Plan;
use super::wiring::InputWindow;
use crate::kit::{cable, electrical};
use crate::random::address;
use crate::scenario::model::{Panel, PanelCable, Scenario, SolarInput, Station, best_string_v, open_string_v};
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
    /// Its open-circuit voltage under standard test conditions \[V\]; infinite where neither is known.
    pub open_v: f64,
    /// Resistance of its cable, there and back \[ohm\].
    pub cable_ohm: f64,
    /// The address of its random stream.
    pub stream: u64,
    /// Share of its power left because other arrays hold the input at another voltage, 0 to 1.
    pub matched: f64,
    /// The input that it feeds: a place among [`Plan::inputs`].
    pub input: usize,
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
        let renamed =
            Panel { name: panel.name.clone(), input: panel.input.clone(), rated: panel.rated, ..other.clone() };
        Panel { series: panel.series, parallel: panel.parallel, ..renamed } == *panel
    };
    let (_, array) = scenario.panels.iter().zip(&plan.arrays).find(|(other, _)| alike(other))?;
    Some(Arc::clone(&array.geometry))
}

/// One array, from the scenario's panel.
///
/// * `matched`, `input` — see [`ArrayPlan`].
pub(super) fn array(panel: &Panel, (matched, input): (f64, usize), geometry: Arc<ArrayGeometry>) -> ArrayPlan {
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
        string_v: best_string_v(panel).unwrap_or(f64::INFINITY),
        open_v: open_string_v(panel).unwrap_or(f64::INFINITY),
        cable_ohm,
        stream: 0,
        matched,
        input,
    }
}

/// The windows of a station's solar inputs. A single one leaves its watts to the cells' step.
pub(super) fn windows(station: &Station) -> Vec<InputWindow> {
    let several = station.solar_inputs.len() > 1;
    let window = |input: &SolarInput| InputWindow {
        volts_min: input.volts_min.map_or(0.0, |v| v.0),
        amps_max: input.amps_max.map_or(f64::INFINITY, |a| a.0),
        held_v: input.held_at.map_or(f64::INFINITY, |v| v.0),
        watts_max: if several { input.limit.0 } else { f64::INFINITY },
    };
    station.solar_inputs.iter().map(window).collect()
}

/// Most power that all solar inputs take together \[W\], but for what each of several takes.
pub(super) fn solar_limit_w(station: &Station) -> f64 {
    let of_all_w = station.solar_limit.map_or(f64::INFINITY, |limit| limit.0);
    match &station.solar_inputs[..] {
        [] => 0.0,
        [only] => only.limit.0.min(of_all_w),
        _ => of_all_w,
    }
}

/// For each array the share of its power that those beside it at its input leave, and the input.
pub(super) fn at_inputs(scenario: &Scenario) -> Vec<(f64, usize)> {
    let station = &scenario.station;
    let inputs: Vec<usize> = scenario.panels.iter().map(|panel| station.input_of(panel).unwrap_or(0)).collect();
    let mut at_inputs: Vec<(f64, usize)> = inputs.iter().map(|input| (1.0, *input)).collect();
    for (at, input) in station.solar_inputs.iter().enumerate() {
        // Held at the battery's voltage, panels do not mind what the others would rather have.
        if input.held_at.is_some() {
            continue;
        }
        let on: Vec<usize> = (0..inputs.len()).filter(|k| inputs[*k] == at).collect();
        let left = electrical::matched(&on.iter().map(|k| &scenario.panels[*k]).collect::<Vec<_>>());
        for (k, left) in on.into_iter().zip(left) {
            at_inputs[k].0 = left;
        }
    }
    at_inputs
}

impl Plan {
    /// Power of all panels \[W\] that share a limit with an array, itself among them, and that limit \[W\]: those at its input, and
    /// those of all inputs.
    #[must_use]
    pub fn beside_at_inputs_w(&self, array: usize) -> [(f64, f64); 2] {
        let input = self.arrays.get(array).map_or(0, |array| array.input);
        let rated = |at: &dyn Fn(&ArrayPlan) -> bool| -> f64 {
            self.arrays.iter().filter(|array| at(array)).map(|array| array.rated_w).sum()
        };
        let watts_max = self.inputs.get(input).map_or(f64::INFINITY, |window| window.watts_max);
        let of_all_w = self.kit.best_estimate().solar_limit_w;
        [(rated(&|array| array.input == input), watts_max), (rated(&|_| true), of_all_w)]
    }
}

/// The order in which panels are added up, whatever the order of the scenario, and the address of each one's random stream.
///
/// Those at one input stand together. A panel goes by its name. Those without one, and those of one name, go by what they are:
/// equal ones may change places.
pub(super) fn order_and_rng(panels: &[Panel]) -> (Vec<usize>, Vec<u64>) {
    let name = |k: usize| {
        let name = panels[k].name.as_str();
        // What the reader calls panels without a name tells nothing but their place.
        let numbered = name.strip_prefix("panel ").is_some_and(|rest| rest.parse::<usize>().is_ok());
        if numbered { "" } else { name }
    };
    let told = |k: usize| format!("{:?}", Panel { name: String::new(), ..panels[k].clone() });
    let mut order: Vec<usize> = (0..panels.len()).collect();
    order.sort_by_cached_key(|&k| (panels[k].input.clone(), name(k).to_owned(), told(k)));
    let mut streams = vec![0; panels.len()];
    for (at, &k) in order.iter().enumerate() {
        let namesakes = order[..at].iter().filter(|&&other| name(other) == name(k)).count();
        streams[k] = address(name(k)).wrapping_add(namesakes as u64);
    }
    (order, streams)
}
