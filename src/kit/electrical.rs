//! Volts and amps of panels, and whether they suit the solar input.

use super::cable;
use super::judgement::{Judgement, Weight};
use super::matter::{ArrayVolts, ColdVolts, Matter, PanelWatts, StartVolts};
use crate::scenario::model::{Cable, Panel, PanelCable, Scenario, SolarInput, best_string_v};
use crate::units::{Celsius, PerKelvin};

/// Reference temperature of panel data sheets \[°C\] (standard test conditions, IEC 60904-3).
const STC_C: f64 = 25.0;

/// Change of open-circuit voltage with temperature where the label says nothing \[1/K\]. Typical of crystalline silicon.
pub const TYPICAL_VOLTAGE_PER_K: PerKelvin = PerKelvin(-0.003);

/// Cells of a panel in a hot summer noon \[°C\]: air of 40 °C and 30 K of sun (Faiman 2008 in a light breeze).
const HOT_CELL_C: f64 = 70.0;

/// Panels of more than so many times what the input takes are hardly meant so. No source.
const MOST_LIKELY: f64 = 5.0;

/// From this tilt on snow slides off a panel \[°\]. Common practice, no source.
pub const SHEDS_SNOW_DEG: f64 = 75.0;

/// Voltage at a 12 V outlet \[V\].
pub const DC_OUTLET_V: f64 = 12.0;

/// Most loss in a cable that is not worth a word. Common practice (3 %), no source.
pub const CABLE_LOSS_ALLOWED: f64 = 0.03;

/// Strings side by side whose voltages differ by less than this share the input well. Typical, no source.
const VOLTS_ALIKE: f64 = 0.05;

/// Strings side by side that need no fuses of their own: the current of one alone cannot harm the other (the usual reading of
/// NEC 690.9(A) and IEC 62548, from memory).
pub const UNFUSED_STRINGS: u32 = 2;

/// Coldest expected air \[°C\] with the factor on open-circuit voltage: NEC table 690.7(A), crystalline silicon (from
/// memory; the lines 24 to 20, -6 to -10 and -16 to -20 °C seen second hand). Each line reaches down to its temperature.
pub const COLD_FACTORS: [(f64, f64); 13] = [
    (20.0, 1.02),
    (15.0, 1.04),
    (10.0, 1.06),
    (5.0, 1.08),
    (0.0, 1.10),
    (-5.0, 1.12),
    (-10.0, 1.14),
    (-15.0, 1.16),
    (-20.0, 1.18),
    (-25.0, 1.20),
    (-30.0, 1.21),
    (-35.0, 1.23),
    (-40.0, 1.25),
];

/// The code's factor on open-circuit voltage for the coldest expected air; 1 at 25 °C and above, none below -40 °C.
#[must_use]
pub fn cold_factor(coldest: Celsius) -> Option<f64> {
    if coldest.0 >= STC_C {
        return Some(1.0);
    }
    COLD_FACTORS.iter().find(|(down_to, _)| *down_to <= coldest.0).map(|(_, factor)| *factor)
}

/// Voltage of a string of panels with nothing drawn, at a cell temperature.
///
/// `V = n Voc (1 + β (t − 25 °C))`, the coefficient method of NEC 690.7(A)(1).
///
/// * `series` — panels one after another; `open_circuit_v` — of one panel at 25 °C \[V\]; `per_k` — β \[1/K\], negative.
#[must_use]
pub fn open_circuit_string_v(series: u32, open_circuit_v: f64, per_k: f64, cell: Celsius) -> f64 {
    f64::from(series) * open_circuit_v * (1.0 + per_k * (cell.0 - STC_C))
}

/// Share of each array's power that is left where all hang side by side on one input.
///
/// Arrays in parallel work at one voltage. One that would rather have more gives its current at less voltage, one that
/// would rather have less gives nothing. The input is taken to hold the voltage that gives most at full sun, of several that
/// give as much the highest, whatever the order of the arrays. Arrays of unknown voltage are left alone.
#[must_use]
pub fn matched(panels: &[&Panel]) -> Vec<f64> {
    let volts: Vec<Option<f64>> = panels.iter().map(|panel| best_string_v(panel)).collect();
    let rated = |k: usize| panels[k].array_w();
    let share = |own: Option<f64>, held: f64| match own {
        None => 1.0,
        Some(own) if (own - held).abs() <= VOLTS_ALIKE * held => 1.0,
        Some(own) if own > held => held / own,
        Some(_) => 0.0,
    };
    let total = |held: f64| (0..panels.len()).map(|k| rated(k) * share(volts[k], held)).sum::<f64>();
    // Sums of the same watts in another order are as much but for rounding.
    let gives = |held: f64| (1e6 * total(held)).round();
    let best = volts.iter().flatten().copied().max_by(|a, b| gives(*a).total_cmp(&gives(*b)).then(a.total_cmp(b)));
    volts.iter().map(|own| best.map_or(1.0, |held| share(*own, held))).collect()
}

/// Judges panels against the solar input.
///
/// * `record_low` — the coldest air of the place: a cell in first light is no warmer.
#[must_use]
pub fn verdicts(scenario: &Scenario, record_low: Celsius) -> Vec<Judgement> {
    let station = &scenario.station;
    if station.solar_inputs.is_empty() {
        return Vec::new();
    }
    let mut all = Vec::new();
    for (k, panel) in scenario.panels.iter().enumerate() {
        let Some(input) = station.input_of(panel).and_then(|at| station.solar_inputs.get(at)) else { continue };
        let key = format!("panel.{k}");
        let cold = cold_volts(&key, panel, input, record_low);
        // Of an input whose limit is not known that is said once, however many arrays it has.
        let said = |other: &Judgement| {
            matches!(other.matter, Matter::InputLimitUnknown { .. })
                && matches!(cold.matter, Matter::InputLimitUnknown { .. })
                && other.key == cold.key
        };
        if !all.iter().any(said) {
            all.push(cold);
        }
        all.extend(start_volts(&key, panel, input));
        all.extend(panel_cable(&key, panel));
    }
    for (at, input) in station.solar_inputs.iter().enumerate() {
        let on: Vec<(usize, &Panel)> =
            scenario.panels.iter().enumerate().filter(|(_, panel)| station.input_of(panel) == Some(at)).collect();
        if !on.is_empty() {
            all.extend(amps(&on, input));
            all.push(watts(&on, Some(input), (&format!("{}.limit", input.key), input.limit.0)));
            all.extend(unequal(&on, input));
            all.extend(fuses(&on));
        }
    }
    if let Some(limit) = station.solar_limit.filter(|_| !scenario.panels.is_empty()) {
        let of_all: Vec<(usize, &Panel)> = scenario.panels.iter().enumerate().collect();
        all.push(watts(&of_all, None, ("station.solar_limit", limit.0)));
    }
    all
}

/// Volts of an array's string on the coldest morning, by the panel's own coefficient, or by the code's table where its label has
/// none; none where its open-circuit voltage is not known. What a solar input's limit is held against.
#[must_use]
pub fn cold_string_v(panel: &Panel, record_low: Celsius) -> Option<f64> {
    let voc = panel.open_circuit_voltage?;
    let by_table = cold_factor(record_low).map(|factor| f64::from(panel.series) * voc.0 * factor);
    let per_k = panel.voltage_coefficient.unwrap_or(TYPICAL_VOLTAGE_PER_K);
    let by_coefficient = open_circuit_string_v(panel.series, voc.0, per_k.0, record_low);
    // The label's own coefficient decides; without one the code's table does.
    Some(by_table.filter(|_| panel.voltage_coefficient.is_none()).unwrap_or(by_coefficient))
}

fn cold_volts(key: &str, panel: &Panel, input: &SolarInput, record_low: Celsius) -> Judgement {
    let array = panel.name.clone();
    let Some(limit) = input.volts_max else {
        let unknown = Matter::InputLimitUnknown { array };
        return Judgement::new(Weight::Warns, &*input.key, unknown).in_the_answer();
    };
    let Some(voc) = panel.open_circuit_voltage else {
        let unknown = Matter::PanelVoltsUnknown { array, limit_v: limit.0 };
        let judged = Judgement::new(Weight::Warns, format!("{key}.open_circuit_voltage"), unknown);
        return judged.known_to_reader().in_the_answer();
    };
    let per_k = panel.voltage_coefficient.unwrap_or(TYPICAL_VOLTAGE_PER_K);
    let by_coefficient_v = open_circuit_string_v(panel.series, voc.0, per_k.0, record_low);
    let table_factor = cold_factor(record_low);
    let by_table_v = table_factor.map(|factor| f64::from(panel.series) * voc.0 * factor);
    let decisive_v = cold_string_v(panel, record_low).unwrap_or(by_coefficient_v);
    let other_v = by_table_v.map_or(by_coefficient_v, |volts| volts.max(by_coefficient_v));
    let (weight, how) = match () {
        () if decisive_v > limit.0 => (Weight::Stops, ColdVolts::Destroy),
        () if other_v > limit.0 => (Weight::Warns, ColdVolts::PassByOneWay),
        () if decisive_v > 0.95 * limit.0 => (Weight::Warns, ColdVolts::Close),
        () => (Weight::Fits, ColdVolts::Below),
    };
    let volts = Matter::ColdVolts {
        how,
        array,
        series: panel.series,
        open_circuit_v: voc.0,
        cold_c: record_low.0,
        per_k: per_k.0,
        per_k_is_typical: panel.voltage_coefficient.is_none(),
        by_coefficient_v,
        table_factor,
        by_table_v,
        limit_v: limit.0,
        most_in_series: (f64::from(panel.series) * limit.0 / decisive_v).floor(),
    };
    let judged = Judgement::new(weight, format!("{key}.wiring"), volts);
    if weight == Weight::Fits { judged } else { judged.against(format!("{}.volts_max", input.key)) }
}

fn start_volts(key: &str, panel: &Panel, input: &SolarInput) -> Option<Judgement> {
    let least_v = input.volts_min?.0;
    let best_v = best_string_v(panel)?;
    let hot_v = best_v * (1.0 + panel.power_coefficient.0 * (HOT_CELL_C - STC_C));
    let (weight, how) = match () {
        () if best_v < least_v => (Weight::Warns, StartVolts::Never),
        () if hot_v < least_v => (Weight::Warns, StartVolts::NotWhenHot),
        () => (Weight::Fits, StartVolts::Always),
    };
    let volts = Matter::StartVolts { how, array: panel.name.clone(), best_v, hot_v, hot_c: HOT_CELL_C, least_v };
    let judged = Judgement::new(weight, format!("{key}.max_power_voltage"), volts);
    let judged = judged.against(format!("{}.volts_min", input.key));
    let told = how == StartVolts::Never && panel.max_power_voltage.is_some();
    Some(if told { judged.known_to_reader() } else { judged })
}

fn panel_cable(key: &str, panel: &Panel) -> Option<Judgement> {
    let PanelCable::Wire(wire) = panel.cable else { return None };
    let volts = best_string_v(panel)?;
    let watts = panel.array_w();
    Some(cable_verdict(Some(&panel.name), &format!("{key}.cable"), &wire, watts, volts))
}

/// Judges a cable at the most power that flows through it.
///
/// * `array` — whose it is; `None` for that of the 12 V outlet.
#[must_use]
pub fn cable_verdict(array: Option<&str>, key: &str, wire: &Cable, watts: f64, volts: f64) -> Judgement {
    let share = cable::loss_share(wire, watts, volts);
    let loses_little = share <= CABLE_LOSS_ALLOWED;
    let does = |gauge: &_| cable::loss_share(&Cable { gauge: *gauge, ..*wire }, watts, volts) <= CABLE_LOSS_ALLOWED;
    let enough = || cable::gauges_like(wire.gauge).into_iter().find(does).map(cable::gauge_name);
    let loss = Matter::CableLoss {
        array: array.map(String::from),
        amps: watts / volts,
        length_m: wire.length.0,
        gauge: cable::gauge_name(wire.gauge),
        drop_v: share * volts,
        volts,
        lost_w: share * watts,
        lost_share: share,
        allowed_share: CABLE_LOSS_ALLOWED,
        enough: if loses_little { None } else { enough() },
    };
    Judgement::new(if loses_little { Weight::Fits } else { Weight::Warns }, key, loss)
}

fn amps(panels: &[(usize, &Panel)], input: &SolarInput) -> Option<Judgement> {
    let limit_a = input.amps_max?.0;
    let amps: f64 = panels.iter().filter_map(|(_, p)| Some(p.array_w() / best_string_v(p)?)).sum();
    let weight = if amps > limit_a { Weight::Warns } else { Weight::Fits };
    let amps = Matter::InputAmps { input: input.name.clone(), amps, limit_a };
    Some(Judgement::new(weight, format!("{}.amps_max", input.key), amps))
}

/// Watts of panels on an input, or on all of them together, against a limit and its key.
fn watts(panels: &[(usize, &Panel)], input: Option<&SolarInput>, (key, limit_w): (&str, f64)) -> Judgement {
    let panels_w: f64 = panels.iter().map(|(_, p)| p.array_w()).sum();
    let (weight, how) = match () {
        () if panels_w > MOST_LIKELY * limit_w => (Weight::Warns, PanelWatts::BeyondBelief),
        () if panels_w > limit_w => (Weight::Warns, PanelWatts::Clipped),
        () => (Weight::Fits, PanelWatts::Taken),
    };
    let input = input.map(|input| input.name.clone());
    Judgement::new(weight, key, Matter::InputWatts { how, input, panels_w, limit_w })
}

/// Three strings or more on one input.
fn fuses(panels: &[(usize, &Panel)]) -> Option<Judgement> {
    let strings: u32 = panels.iter().map(|(_, panel)| panel.parallel).sum();
    let most = panels.iter().max_by_key(|(k, panel)| (panel.parallel, std::cmp::Reverse(*k)))?.0;
    let fuses = Matter::Fuses { strings, unfused_strings: UNFUSED_STRINGS };
    (UNFUSED_STRINGS < strings)
        .then(|| Judgement::new(Weight::Warns, format!("panel.{most}.wiring"), fuses).in_the_answer())
}

fn unequal(panels: &[(usize, &Panel)], input: &SolarInput) -> Option<Judgement> {
    let left = matched(&panels.iter().map(|(_, panel)| *panel).collect::<Vec<_>>());
    let volts: Vec<f64> = panels.iter().map(|(_, panel)| best_string_v(panel)).collect::<Option<_>>()?;
    let ((k, _), share) = panels.iter().zip(&left).min_by(|a, b| a.1.total_cmp(b.1))?;
    if panels.len() < 2 {
        return None;
    }
    let arrays = panels.iter().zip(volts).map(|((_, panel), best_v)| ArrayVolts { array: panel.name.clone(), best_v });
    let (input, arrays) = (input.name.clone(), arrays.collect());
    let unequal = Matter::UnequalArrays { input, arrays, lost_share: 1.0 - share, alike_share: VOLTS_ALIKE };
    let weight = if *share < 1.0 { Weight::Warns } else { Weight::Fits };
    Some(Judgement::new(weight, format!("panel.{k}.wiring"), unequal))
}

#[cfg(test)]
mod tests;
