//! Panels, their cables and the solar input.

use super::Sentence;
use crate::kit::Matter;
use crate::kit::electrical::SHEDS_SNOW_DEG;
use crate::kit::matter::{ArrayVolts, ColdVolts, PanelWatts, StartVolts};
use crate::units::{Amps, Metres, Volts};

/// Why many strings side by side are fused, and what to do.
pub const FUSES: (&str, &str) = (
    "if one string fails, the others all feed their current into it, and its wires and panels may overheat and burn",
    "usual practice is a fuse made for direct current in each string, no larger than the series fuse rating on the panel's \
     label; local code and the makers' manuals have the last word",
);

pub(super) fn words(matter: &Matter, fits: bool) -> Sentence {
    match matter {
        Matter::InputLimitUnknown { array } => Sentence::new(
            format!("{array}: volts on the coldest morning"),
            "does not say its highest voltage, so nobody knows what its panels may do to it",
        )
        .because("too many volts destroy a solar input, most of all on a cold morning")
        .remedy("copy the highest input voltage from the station's label (in the file: volts_max under solar_input)"),
        Matter::PanelVoltsUnknown { array, limit_v } => Sentence::new(
            format!("{array}: volts on the coldest morning"),
            "is not given, so nobody knows whether the solar input survives a cold morning",
        )
        .allowed(format!("at most {} in all", Volts(*limit_v)))
        .remedy("copy Voc from the panel's label (in the file: open_circuit_voltage under panel)"),
        Matter::ColdVolts { .. } => cold_volts(matter),
        Matter::StartVolts { how, array, best_v, hot_v, hot_c, least_v } => {
            let said = |what: &str| {
                Sentence::new(format!("{array}: volts in the heat"), what)
                    .found(format!("{best_v:.1} V at best power, {hot_v:.1} V with cells at {hot_c:.0} °C"))
                    .allowed(format!("{} or more", Volts(*least_v)))
                    .there("starts here")
            };
            match how {
                StartVolts::Never => said("is too low for the solar input to start")
                    .because("below its least voltage an input takes nothing")
                    .remedy("wire more panels in series, or nothing will be charged"),
                StartVolts::NotWhenHot => said("falls below what the solar input needs on hot days")
                    .because("hot cells lose volts, and below its least voltage an input takes nothing")
                    .remedy("wire more panels in series, within the limit on cold mornings"),
                StartVolts::Always => said("starts the input, hot or cold"),
            }
        }
        Matter::CableLoss {
            array,
            amps,
            length_m,
            gauge,
            drop_v,
            volts,
            lost_w,
            lost_share,
            allowed_share,
            enough,
        } => {
            let about = format!("{}: cable", array.as_deref().unwrap_or("12 V outlet"));
            let said = Sentence::new(about, if fits { "loses little" } else { "loses much of the power" })
                .found(format!(
                    "{amps:.1} A through {:.1} of {gauge}: {drop_v:.2} V of {volts:.1} V, {lost_w:.0} W, {:.1} %",
                    Metres(*length_m),
                    lost_share * 100.0
                ))
                .allowed(format!("{:.0} % at full power", allowed_share * 100.0));
            if fits {
                return said;
            }
            let remedy = match enough {
                Some(gauge) => format!("{gauge} would do; so would a shorter cable or more volts"),
                None => "no common wire is thick enough: bring it nearer, or raise the voltage (panels in series)"
                    .to_string(),
            };
            said.because("the loss grows with the square of the amps and falls with the square of the volts; thin wires under many amps also get warm")
                .remedy(remedy)
        }
        Matter::InputAmps { input, amps, limit_a } => {
            let said = |what: &str| {
                Sentence::new(format!("{}: amps", named("solar input", input)), what)
                    .found(format!("{amps:.1} A at full sun"))
                    .allowed(format!("takes {}", Amps(*limit_a)))
            };
            if fits {
                return said("takes all the panels can give");
            }
            said("is less than the panels can give, so part of the sun is not taken")
                .because(format!("at most {:.0} % of full sun gets in; it does no harm", 100.0 * limit_a / amps))
                .remedy("wire more in series and fewer side by side, as far as the volts on a cold morning allow")
        }
        Matter::InputWatts { how, input, panels_w, limit_w } => {
            let about = input.as_deref().map_or("all solar inputs".into(), |input| named("solar input", input));
            let said = |what: &str| {
                Sentence::new(format!("{about}: watts"), what)
                    .found(format!("{panels_w:.0} W of panels"))
                    .allowed(format!("takes {limit_w:.0} W"))
            };
            match how {
                PanelWatts::BeyondBelief => {
                    said("is so much less than the panels can give that a figure must be wrong")
                        .because(format!(
                            "they are {:.0} times what the input takes; so many panels cannot be meant for it, and their wires, fuses and \
                             short circuits are no matter for a portable station",
                            panels_w / limit_w
                        ))
                        .remedy("check the panels' watts, their count and the input's limit (in the file: rated, count, limit); if they are right, ask the maker before anything is connected")
                }
                PanelWatts::Clipped => said("is less than the panels can give, so part of full sun is not taken")
                    .because("it does no harm, and on dull days the larger panels pay")
                    .remedy("none is needed; more panels than this bring little on bright days"),
                PanelWatts::Taken => said("takes all the panels can give"),
            }
        }
        Matter::Fuses { strings, unfused_strings } => {
            Sentence::new("strings side by side", "makes so many that each wants a fuse of its own")
                .found(format!("{strings} strings on one input"))
                .allowed(format!("{unfused_strings} without fuses"))
                .because(FUSES.0)
                .remedy(FUSES.1)
        }
        Matter::UnequalArrays { input, arrays, lost_share, alike_share } => {
            let one = |ArrayVolts { array, best_v }: &ArrayVolts| format!("{array} {best_v:.1} V");
            let list = arrays.iter().map(one).collect::<Vec<_>>().join(", ");
            let about = match input.as_str() {
                "" => "arrays side by side on one input".to_string(),
                input => format!("arrays side by side on input {input}"),
            };
            if fits {
                return Sentence::new(about, "has the same volts as the others").found(list);
            }
            Sentence::new(about, "has other volts than the arrays beside it")
                .found(format!("{list} at best power; {:.0} % of its power is lost", 100.0 * lost_share))
                .allowed(format!("within {:.0} %", alike_share * 100.0))
                .because("side by side all work at one voltage: strings that want more are held down, those that want less give nothing")
                .remedy("wire all strings to the same volts, or use panels of one kind")
        }
        Matter::Snow { mean_c } => Sentence::new("panels: snow", "may lie under snow in this season")
            .found(format!("outside: mean {mean_c:.0} °C"))
            .because("panels under snow give nothing; the answer assumes swept panels")
            .remedy(format!(
                "sweep them; where nobody can, {SHEDS_SNOW_DEG:.0}° or steeper sheds it, for a little less sun on the days without"
            )),
        Matter::HeldAt { array, held_v, best_v, share, well_share } => {
            let said = |what: &str| {
                Sentence::new(format!("{array}: at the battery's voltage"), what).found(format!(
                    "{} of {best_v:.1} V: {:.0} % of their best power",
                    Volts(*held_v),
                    100.0 * share
                ))
            };
            if fits {
                return said("suits the controller");
            }
            if held_v > best_v {
                return said("is below where the controller holds the panels")
                    .because("above their best voltage panels give less and less current, and less still when the sun heats them")
                    .remedy("wire panels in series, or take some of more volts")
                    .there("holds them here");
            }
            said("is far above where the controller holds the panels")
                .allowed(format!("about {:.0} V or less", held_v / well_share))
                .because("a controller that does not search for the best power gives their current times the battery's volts; the answer counts that")
                .remedy("wire fewer panels in series, or use a controller that searches (maximum power point)")
                .there("holds them here")
        }
        _ => Sentence::default(),
    }
}

/// A thing with its name, where it has one.
fn named(what: &str, name: &str) -> String {
    if name.is_empty() { what.to_string() } else { format!("{what} {name}") }
}

fn cold_volts(matter: &Matter) -> Sentence {
    let Matter::ColdVolts {
        how,
        array,
        series,
        open_circuit_v,
        cold_c,
        per_k,
        per_k_is_typical,
        by_coefficient_v,
        table_factor,
        by_table_v,
        limit_v,
        most_in_series,
    } = matter
    else {
        return Sentence::default();
    };
    let table = match table_factor.zip(*by_table_v) {
        Some((factor, volts)) => format!("{volts:.1} V by the code's table (x {factor})"),
        None => "the code's table ends at -40 °C".to_string(),
    };
    let typical = if *per_k_is_typical { ", typical" } else { "" };
    let said = |what: &str| {
        Sentence::new(format!("{array}: volts on the coldest morning"), what)
            .found(format!(
                "{series} x {} at {cold_c:.0} °C, the design cold here: {by_coefficient_v:.1} V by the coefficient ({:.2} %/K{typical}), \
                 {table}",
                Volts(*open_circuit_v),
                per_k * 100.0
            ))
            .allowed(format!("at most {}", Volts(*limit_v)))
            .there("the input's limit")
    };
    let close = |said: Sentence| {
        said.because("labels and records are not exact").remedy("leave more room: fewer panels in series")
    };
    match how {
        ColdVolts::Destroy => said("makes a voltage on a cold morning that destroys the solar input")
            .because("cold cells make more volts than their label says, and a solar input over its limit is destroyed")
            .remedy(if *most_in_series >= 1.0 {
                format!(
                    "wire at most {most_in_series:.0} in series and the rest side by side, within the input's amps; the maker's manual has the last word"
                )
            } else {
                "not even one of these panels suits this input: use panels of fewer volts, or another station".to_string()
            }),
        ColdVolts::PassByOneWay => {
            close(said("passes the input's limit on a cold morning by one of the two ways to reckon"))
        }
        ColdVolts::Close => close(said("comes within 5 % of the input's limit on a cold morning")),
        ColdVolts::Below => said("stays below the input's limit"),
    }
}
