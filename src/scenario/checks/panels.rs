//! Panels against the solar inputs that they are wired to, and against the sun.

use super::entries;
use crate::scenario::amount::shown;
use crate::scenario::fields::Findings;
use crate::scenario::model::{Aim, Panel, SolarInput, Station};
use crate::scenario::problem::Problem;
use crate::units::Degrees;

/// What is said of panels that destroy the solar input in any weather.
pub(in crate::scenario) const TOO_MANY_VOLTS: &str = "is too high for the solar input and would destroy it";

pub(super) fn panels_and_inputs(panels: &[Option<Panel>], station: &Station, findings: &Findings) {
    if station.solar_inputs.is_empty() {
        if !panels.is_empty() {
            let missing = Problem::error("panel.0", "has nowhere to be plugged in")
                .help("add a section [station.solar_input] with the limit on its label, or take the panels out")
                .against("station", "no solar input");
            findings.push(missing);
        }
        return;
    }
    for (key, panel) in entries("panel", panels) {
        if let Some(input) = which_input(&key, panel, station, findings) {
            panel_and_input(&key, panel, input, findings);
        }
    }
}

/// The solar input that an array feeds; that it is not told which is told.
fn which_input<'s>(key: &str, panel: &Panel, station: &'s Station, findings: &Findings) -> Option<&'s SolarInput> {
    let inputs = &station.solar_inputs;
    let quoted = |input: &SolarInput| crate::scenario::forms::quoted(&input.name);
    let names: Vec<String> = inputs.iter().filter(|input| !input.name.is_empty()).map(quoted).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let key = format!("{key}.input");
    if panel.input.is_empty() {
        if inputs.len() > 1 {
            let which = Problem::error(key, "must be said: the station has several solar inputs")
                .allowed(crate::scenario::forms::either(&names))
                .help(format!("write input = {}", names.first().unwrap_or(&"\"left\"")))
                .against(inputs[0].key.clone(), "one of them");
            findings.push(which);
            return None;
        }
        return inputs.first();
    }
    let found = station.input_of(panel).and_then(|at| inputs.get(at));
    if found.is_none() {
        let unknown =
            Problem::error(key, "is not the name of a solar input").found(crate::scenario::forms::quoted(&panel.input));
        let near = crate::scenario::nearest::nearest(&panel.input, inputs.iter().map(|input| input.name.as_str()));
        findings.push(match (near, names.is_empty()) {
            (Some(near), _) => unknown
                .allowed(crate::scenario::forms::either(&names))
                .help(format!("did you mean {}?", crate::scenario::forms::quoted(near))),
            (None, false) => unknown.allowed(crate::scenario::forms::either(&names)),
            (None, true) => unknown.help(format!(
                "the station has one input and it has no name: leave this out, or write name = {} in [{}]",
                crate::scenario::forms::quoted(&panel.input),
                inputs[0].key
            )),
        });
    }
    found
}

/// Volts of an array against those of its input.
fn panel_and_input(key: &str, panel: &Panel, input: &SolarInput, findings: &Findings) {
    let (series, of_input) = (f64::from(panel.series), |name: &str| format!("{}.{name}", input.key));
    if let Some(held) = input.held_at {
        let best = crate::scenario::model::best_string_v(panel);
        if best.is_none() {
            let unknown = Problem::error(
                format!("{key}.max_power_voltage"),
                "is needed with a controller that holds panels at the battery's voltage",
            )
            .help("copy Vmp from the panel's label: watts over it are the current that the battery gets")
            .against(of_input("pwm_at"), "holds them here");
            findings.push(unknown);
        } else if best.is_some_and(|volts| volts < held.0) {
            let low = Problem::warning(
                format!("{key}.max_power_voltage"),
                "is below the battery's voltage: it charges little or nothing",
            )
            .found(format!("{:.1} V", best.unwrap_or_default()))
            .allowed(format!("{held} or more"))
            .help("wire more panels in series")
            .against(of_input("pwm_at"), "the battery's");
            findings.push(low);
        }
    }
    if let (Some(open), Some(most)) = (panel.open_circuit_voltage, input.volts_max)
        && most <= open * series
    {
        let high = Problem::error(format!("{key}.open_circuit_voltage"), TOO_MANY_VOLTS)
            .found(format!("{} x {open} in series, {:.1} V at 25 °C", panel.series, open.0 * series))
            .allowed(format!("below {most} in all, with room for cold mornings, when the voltage rises"))
            .help("wire fewer panels in series")
            .against(of_input("volts_max"), "must never be exceeded");
        findings.push(high);
    }
    if let (Some(best), Some(least)) = (panel.max_power_voltage, input.volts_min)
        && best * series < least
    {
        let low = Problem::warning(format!("{key}.max_power_voltage"), "is too low for the solar input to start")
            .found(format!("{} x {best} in series, {:.1} V", panel.series, best.0 * series))
            .allowed(format!("{least} or more"))
            .help("wire more panels in series, or nothing will be charged")
            .against(of_input("volts_min"), "starts here");
        findings.push(low);
    }
}

/// Outside the tropics a steep panel that looks away from the equator is most likely a slip.
pub(super) fn directions(panels: &[Option<Panel>], latitude_deg: f64, findings: &Findings) {
    let (equator, towards_deg) = if 0.0 <= latitude_deg { ("south", 180.0) } else { ("north", 0.0) };
    for (key, panel) in entries("panel", panels) {
        let Aim::Fixed { tilt, facing } = panel.aim else { continue };
        let off = (facing.0 - towards_deg + 180.0_f64).rem_euclid(360.0) - 180.0;
        if 23.5 < latitude_deg.abs() && 15.0 < tilt.0 && 90.0 < off.abs() {
            let away = Problem::warning(format!("{key}.facing"), "looks away from the midday sun")
                .found(shown::<Degrees>(facing.0))
                .help(format!("at this latitude the midday sun stands in the {equator}"))
                .against("site.latitude", "this latitude");
            findings.push(away);
        }
    }
}
