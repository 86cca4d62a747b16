//! Do panels and solar input fit together, electrically?

use crate::scenario::model::Scenario;
use crate::scenario::problem::Problem;
use crate::units::Celsius;

/// Reference temperature of panel data sheets \[°C\] (standard test conditions, IEC 60904-3).
const STC_C: f64 = 25.0;

/// Voltage of a string of panels with nothing drawn, at a cell temperature.
///
/// `V = n Voc (1 + β (t − 25 °C))`, the coefficient method of NEC 690.7(A)(1).
///
/// * `series` — panels one after another; `open_circuit_v` — of one panel at 25 °C \[V\]; `per_k` — β \[1/K\], negative.
#[must_use]
pub fn open_circuit_string_v(series: u32, open_circuit_v: f64, per_k: f64, cell: Celsius) -> f64 {
    f64::from(series) * open_circuit_v * (1.0 + per_k * (cell.0 - STC_C))
}

/// Judges every array's cold voltage against the solar input's limit.
///
/// A cell in first light is as cold as the air, so the place's record low is the temperature to fear. A string above the
/// limit is an error: over-voltage destroys charge controllers.
#[must_use]
pub fn check(scenario: &Scenario, record_low: Celsius) -> Vec<Problem> {
    let Some(input) = scenario.station.solar_input else { return Vec::new() };
    let Some(limit) = input.volts_max else { return Vec::new() };
    let mut problems = Vec::new();
    for (k, panel) in scenario.panels.iter().enumerate() {
        let Some(voc) = panel.open_circuit_voltage else {
            problems.push(
                Problem::warning(
                    format!("panel.{k}"),
                    "has no `open_circuit_voltage`, so its cold voltage cannot be checked",
                )
                .help("write the Voc from the panel's label, like open_circuit_voltage = \"22.3 V\""),
            );
            continue;
        };
        let warm = f64::from(panel.series) * voc.0;
        if warm >= limit.0 {
            continue; // The reader refuses this already.
        }
        let cold = open_circuit_string_v(panel.series, voc.0, panel.voltage_coefficient.0, record_low);
        let sum =
            format!("{} x {} V at {:.0} °C, the record low here, is {cold:.1} V", panel.series, voc.0, record_low.0);
        if cold > limit.0 {
            problems.push(
                Problem::error(format!("panel.{k}.wiring"), "makes a voltage on a cold morning that destroys the solar input")
                    .found(sum)
                    .allowed(format!("at most {} V", limit.0))
                    .help("wire fewer panels in series (more in parallel), within the input's amps; the maker's manual has the last word")
                    .against("station.solar_input.volts_max", "the input's limit"),
            );
        } else if cold > 0.95 * limit.0 {
            problems.push(
                Problem::warning(
                    format!("panel.{k}.wiring"),
                    "comes within 5 % of the input's limit on a cold morning",
                )
                .found(sum)
                .allowed(format!("at most {} V", limit.0))
                .help("labels and records are not exact: leave more room")
                .against("station.solar_input.volts_max", "the input's limit"),
            );
        }
    }
    problems
}
