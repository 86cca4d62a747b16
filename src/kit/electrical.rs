//! Volts and amps of panels, and whether they suit the solar input.

use super::cable;
use super::judgement::{Judgement, Weight};
use crate::scenario::model::{Panel, PanelCable, Scenario, SolarInput};
use crate::units::{Celsius, PerKelvin, Quantity, Watts};

/// Reference temperature of panel data sheets \[°C\] (standard test conditions, IEC 60904-3).
const STC_C: f64 = 25.0;

/// Change of open-circuit voltage with temperature where the label says nothing \[1/K\]. Typical of crystalline silicon.
pub const TYPICAL_VOLTAGE_PER_K: PerKelvin = PerKelvin(-0.003);

/// Voltage at best power over open-circuit voltage where the label gives only the latter. Typical, no source.
const BEST_OVER_OPEN: f64 = 0.82;

/// Cells of a panel in a hot summer noon \[°C\]: air of 40 °C and 30 K of sun (Faiman 2008 in a light breeze).
const HOT_CELL_C: f64 = 70.0;

/// Panels of more than so many times what the input takes are hardly meant so. No source.
const MOST_LIKELY: f64 = 5.0;

/// Voltage at a 12 V outlet \[V\].
pub const DC_OUTLET_V: f64 = 12.0;

/// Most loss in a cable that is not worth a word. Common practice (3 %), no source.
pub const CABLE_LOSS_ALLOWED: f64 = 0.03;

/// Strings side by side whose voltages differ by less than this share the input well. Typical, no source.
const VOLTS_ALIKE: f64 = 0.05;

/// Strings side by side that need no fuses of their own: the current of one alone cannot harm the other (the usual reading of
/// NEC 690.9(A) and IEC 62548, from memory).
pub const UNFUSED_STRINGS: u32 = 2;

/// Why strings beyond [`UNFUSED_STRINGS`] are fused, and what to do.
pub const FUSES: (&str, &str) = (
    "if one string fails, the others all feed their current into it, and its wires and panels may overheat and burn",
    "usual practice is a fuse made for direct current in each string, no larger than the series fuse rating on the panel's \
     label; local code and the makers' manuals have the last word",
);

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

/// Voltage of an array's strings at best power and 25 °C \[V\]: from `max_power_voltage`, else 82 % of the open-circuit
/// voltage; none where neither is known.
#[must_use]
pub fn best_string_v(panel: &Panel) -> Option<f64> {
    let one = panel.max_power_voltage.map(|v| v.0).or(panel.open_circuit_voltage.map(|v| BEST_OVER_OPEN * v.0))?;
    Some(f64::from(panel.series) * one)
}

/// Share of each array's power that is left where all hang side by side on one input.
///
/// Arrays in parallel work at one voltage. One that would rather have more gives its current at less voltage, one that
/// would rather have less gives nothing. The input is taken to hold the voltage that gives most at full sun, of several that
/// give as much the highest, whatever the order of the arrays. Arrays of unknown voltage are left alone.
#[must_use]
pub fn matched(panels: &[&Panel]) -> Vec<f64> {
    let volts: Vec<Option<f64>> = panels.iter().map(|panel| best_string_v(panel)).collect();
    let rated = |k: usize| panels[k].rated.value.0 * f64::from(panels[k].count());
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
        all.push(cold_volts(&key, panel, input, record_low));
        all.extend(start_volts(&key, panel, input));
        all.extend(panel_cable(&key, panel));
    }
    for (at, input) in station.solar_inputs.iter().enumerate() {
        let on: Vec<(usize, &Panel)> =
            scenario.panels.iter().enumerate().filter(|(_, panel)| station.input_of(panel) == Some(at)).collect();
        if !on.is_empty() {
            all.extend(amps(&on, input));
            all.push(watts(&on, (&about(input), &format!("{}.limit", input.key), input.limit)));
            all.extend(unequal(&on, input));
            all.extend(fuses(&on));
        }
    }
    if let Some(limit) = station.solar_limit.filter(|_| !scenario.panels.is_empty()) {
        let of_all: Vec<(usize, &Panel)> = scenario.panels.iter().enumerate().collect();
        all.push(watts(&of_all, ("all solar inputs", "station.solar_limit", limit)));
    }
    all
}

/// What an input is called in judgements.
fn about(input: &SolarInput) -> String {
    if input.name.is_empty() { "solar input".to_string() } else { format!("solar input {}", input.name) }
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
    let about = format!("{}: volts on the coldest morning", panel.name);
    let wiring = format!("{key}.wiring");
    let Some(limit) = input.volts_max else {
        return Judgement::new(
            Weight::Warns,
            about,
            input.key.clone(),
            "has no `volts_max`, so nobody knows what its panels may do to it",
        )
        .because("too many volts destroy a solar input, most of all on a cold morning")
        .remedy("copy the greatest input voltage from the station's label")
        .in_the_answer();
    };
    let Some(voc) = panel.open_circuit_voltage else {
        return Judgement::new(
            Weight::Warns,
            about,
            format!("{key}.open_circuit_voltage"),
            "is not given, so nobody knows whether the solar input survives a cold morning",
        )
        .allowed(format!("at most {limit} in all"))
        .remedy("copy Voc from the panel's label")
        .known_to_reader()
        .in_the_answer();
    };
    let per_k = panel.voltage_coefficient.unwrap_or(TYPICAL_VOLTAGE_PER_K);
    let by_coefficient = open_circuit_string_v(panel.series, voc.0, per_k.0, record_low);
    let by_table = cold_factor(record_low).map(|factor| (factor, f64::from(panel.series) * voc.0 * factor));
    let decisive = cold_string_v(panel, record_low).unwrap_or(by_coefficient);
    let table = match by_table {
        Some((factor, volts)) => format!("{volts:.1} V by the code's table (x {factor})"),
        None => "the code's table ends at -40 °C".to_string(),
    };
    let typical = if panel.voltage_coefficient.is_some() { "" } else { ", typical" };
    let found = format!(
        "{} x {voc} at {:.0} °C, the design cold here: {by_coefficient:.1} V by the coefficient ({:.2} %/K{typical}), {table}",
        panel.series,
        record_low.0,
        per_k.0 * 100.0
    );
    let allowed = format!("at most {limit}");
    let most = (f64::from(panel.series) * limit.0 / decisive).floor();
    let fewer = if most >= 1.0 {
        format!(
            "wire at most {most:.0} in series and the rest side by side, within the input's amps; the maker's manual has the last word"
        )
    } else {
        "not even one of these panels suits this input: use panels of fewer volts, or another station".to_string()
    };
    let reason = "cold cells make more volts than their label says, and a solar input over its limit is destroyed";
    let limit_key = (format!("{}.volts_max", input.key), "the input's limit");
    let other = by_table.map_or(by_coefficient, |(_, volts)| volts.max(by_coefficient));
    if decisive > limit.0 {
        Judgement::new(Weight::Stops, about, wiring, "makes a voltage on a cold morning that destroys the solar input")
            .found(found)
            .allowed(allowed)
            .because(reason)
            .remedy(fewer)
            .against(limit_key.0, limit_key.1)
    } else if decisive > 0.95 * limit.0 || other > limit.0 {
        let what = if other > limit.0 {
            "passes the input's limit on a cold morning by one of the two ways to reckon"
        } else {
            "comes within 5 % of the input's limit on a cold morning"
        };
        Judgement::new(Weight::Warns, about, wiring, what)
            .found(found)
            .allowed(allowed)
            .because("labels and records are not exact")
            .remedy("leave more room: fewer panels in series")
            .against(limit_key.0, limit_key.1)
    } else {
        Judgement::new(Weight::Fits, about, wiring, "stays below the input's limit").found(found).allowed(allowed)
    }
}

fn start_volts(key: &str, panel: &Panel, input: &SolarInput) -> Option<Judgement> {
    let least = input.volts_min?;
    let volts = best_string_v(panel)?;
    let hot = volts * (1.0 + panel.power_coefficient.0 * (HOT_CELL_C - STC_C));
    let about = format!("{}: volts in the heat", panel.name);
    let found = format!("{volts:.1} V at best power, {hot:.1} V with cells at {HOT_CELL_C:.0} °C");
    let place = format!("{key}.max_power_voltage");
    let allowed = format!("{least} or more");
    let verdict = if volts < least.0 {
        Judgement::new(Weight::Warns, about, place, "is too low for the solar input to start")
            .because("below its least voltage an input takes nothing")
            .remedy("wire more panels in series, or nothing will be charged")
    } else if hot < least.0 {
        Judgement::new(Weight::Warns, about, place, "falls below what the solar input needs on hot days")
            .because("hot cells lose volts, and below its least voltage an input takes nothing")
            .remedy("wire more panels in series, within the limit on cold mornings")
    } else {
        Judgement::new(Weight::Fits, about, place, "starts the input, hot or cold")
    };
    let told = volts < least.0 && panel.max_power_voltage.is_some();
    let verdict = verdict.found(found).allowed(allowed).against(format!("{}.volts_min", input.key), "starts here");
    Some(if told { verdict.known_to_reader() } else { verdict })
}

fn panel_cable(key: &str, panel: &Panel) -> Option<Judgement> {
    let PanelCable::Wire(wire) = panel.cable else { return None };
    let volts = best_string_v(panel)?;
    let watts = panel.rated.value.0 * f64::from(panel.count());
    Some(cable_verdict(&format!("{}: cable", panel.name), &format!("{key}.cable"), &wire, watts, volts))
}

/// Judges a cable at the most power that flows through it.
#[must_use]
pub fn cable_verdict(
    about: &str,
    key: &str,
    wire: &crate::scenario::model::Cable,
    watts: f64,
    volts: f64,
) -> Judgement {
    let share = cable::loss_share(wire, watts, volts);
    let found = format!(
        "{:.1} A through {:.1} of {}: {:.2} V of {volts:.1} V, {:.0} W, {:.1} %",
        watts / volts,
        wire.length,
        cable::gauge_name(wire.gauge),
        share * volts,
        share * watts,
        share * 100.0
    );
    let allowed = format!("{:.0} % at full power", CABLE_LOSS_ALLOWED * 100.0);
    if share <= CABLE_LOSS_ALLOWED {
        return Judgement::new(Weight::Fits, about, key, "loses little").found(found).allowed(allowed);
    }
    let enough = cable::gauges_like(wire.gauge).into_iter().find(|gauge| {
        let thicker = crate::scenario::model::Cable { gauge: *gauge, ..*wire };
        cable::loss_share(&thicker, watts, volts) <= CABLE_LOSS_ALLOWED
    });
    let remedy = match enough {
        Some(gauge) => format!("{} would do; so would a shorter cable or more volts", cable::gauge_name(gauge)),
        None => "no common wire is thick enough: bring it nearer, or raise the voltage (panels in series)".to_string(),
    };
    Judgement::new(Weight::Warns, about, key, "loses much of the power")
        .found(found)
        .allowed(allowed)
        .because("the loss grows with the square of the amps and falls with the square of the volts; thin wires under many amps also get warm")
        .remedy(remedy)
}

fn amps(panels: &[(usize, &Panel)], input: &SolarInput) -> Option<Judgement> {
    let most = input.amps_max?;
    let amps: f64 =
        panels.iter().filter_map(|(_, p)| Some(p.rated.value.0 * f64::from(p.count()) / best_string_v(p)?)).sum();
    let about = format!("{}: amps", about(input));
    let found = format!("{amps:.1} A at full sun");
    let allowed = format!("takes {most}");
    let key = format!("{}.amps_max", input.key);
    Some(if amps > most.0 {
        Judgement::new(Weight::Warns, about, key, "is less than the panels can give, so part of the sun is not taken")
            .found(found)
            .allowed(allowed)
            .because(format!("at most {:.0} % of full sun gets in; it does no harm", 100.0 * most.0 / amps))
            .remedy("wire more in series and fewer side by side, as far as the volts on a cold morning allow")
    } else {
        Judgement::new(Weight::Fits, about, key, "takes all the panels can give").found(found).allowed(allowed)
    })
}

fn watts(panels: &[(usize, &Panel)], (about, key, limit): (&str, &str, Watts)) -> Judgement {
    let total: f64 = panels.iter().map(|(_, p)| p.rated.value.0 * f64::from(p.count())).sum();
    let about = format!("{about}: watts");
    let found = format!("{total:.0} W of panels");
    let allowed = format!("takes {:.0} W", limit.base());
    if total > MOST_LIKELY * limit.0 {
        Judgement::new(Weight::Warns, about, key, "is so much less than the panels can give that a figure must be wrong")
            .found(found)
            .allowed(allowed)
            .because(format!(
                "they are {:.0} times what the input takes; so many panels cannot be meant for it, and their wires, fuses and \
                 short circuits are no matter for a portable station",
                total / limit.0
            ))
            .remedy("check `rated`, `count` and `limit`; if they are right, ask the maker before anything is connected")
    } else if total > limit.0 {
        Judgement::new(Weight::Warns, about, key, "is less than the panels can give, so part of full sun is not taken")
            .found(found)
            .allowed(allowed)
            .because("it does no harm, and on dull days the larger panels pay")
            .remedy("none is needed; more panels than this bring little on bright days")
    } else {
        Judgement::new(Weight::Fits, about, key, "takes all the panels can give").found(found).allowed(allowed)
    }
}

/// Three strings or more on one input.
fn fuses(panels: &[(usize, &Panel)]) -> Option<Judgement> {
    let strings: u32 = panels.iter().map(|(_, panel)| panel.parallel).sum();
    let most = panels.iter().max_by_key(|(k, panel)| (panel.parallel, std::cmp::Reverse(*k)))?.0;
    (UNFUSED_STRINGS < strings).then(|| {
        let key = format!("panel.{most}.wiring");
        Judgement::new(Weight::Warns, "strings side by side", key, "makes so many that each wants a fuse of its own")
            .found(format!("{strings} strings on one input"))
            .allowed(format!("{UNFUSED_STRINGS} without fuses"))
            .because(FUSES.0)
            .remedy(FUSES.1)
            .in_the_answer()
    })
}

fn unequal(panels: &[(usize, &Panel)], input: &SolarInput) -> Option<Judgement> {
    let left = matched(&panels.iter().map(|(_, panel)| *panel).collect::<Vec<_>>());
    let volts: Vec<f64> = panels.iter().map(|(_, panel)| best_string_v(panel)).collect::<Option<_>>()?;
    let ((k, _), share) = panels.iter().zip(&left).min_by(|a, b| a.1.total_cmp(b.1))?;
    if panels.len() < 2 {
        return None;
    }
    let list: Vec<String> = panels.iter().zip(&volts).map(|((_, p), v)| format!("{} {v:.1} V", p.name)).collect();
    let about = match input.name.as_str() {
        "" => "arrays side by side on one input".to_string(),
        name => format!("arrays side by side on input {name}"),
    };
    let key = format!("panel.{k}.wiring");
    Some(if *share < 1.0 {
        Judgement::new(Weight::Warns, about, key, "has other volts than the arrays beside it")
            .found(format!("{} at best power; {:.0} % of its power is lost", list.join(", "), 100.0 * (1.0 - share)))
            .allowed(format!("within {:.0} %", VOLTS_ALIKE * 100.0))
            .because("side by side all work at one voltage: strings that want more are held down, those that want less give nothing")
            .remedy("wire all strings to the same volts, or use panels of one kind")
    } else {
        Judgement::new(Weight::Fits, about, key, "has the same volts as the others").found(list.join(", "))
    })
}
