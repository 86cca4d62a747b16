//! `tideover lineup` with a kit whose panels are wired wrongly.

use crate::program::{folder, tideover};

const HEAD: &str = "name,price,currency,capacity_wh,ac_w,dc_w,usb_w,solar_w,solar_volts_max,solar_amps_max,panel_w,panels,panel_wiring,\
                    panel_open_circuit_v,panel_max_power_v\n";

/// Two panels of 22 V in series are 44 V in any weather, on an input of 40 V: side by side they fit. The other kits keep their answers,
/// and what destroys an input is said before what merely does not work.
#[test]
fn one_kit_wired_wrongly_is_marked_and_the_others_are_answered() {
    let here = folder("lineup", "wired-wrongly");
    let catalogue = here.join("kits.csv").display().to_string();
    let kits = "Sound,299,EUR,600,600,120,60,200,46,20,100,1,,22,18\nCrossed,299,EUR,600,600,120,60,200,40,20,100,2,series,22,18\n\
                Crossed and tiny,59,EUR,80,1,2,1,200,40,20,100,2,series,22,18\n";
    std::fs::write(&catalogue, format!("{HEAD}{kits}")).expect("a catalogue");
    let output =
        tideover(&["lineup", &catalogue, "--cases", "scenarios/lineup/cases/weekend-camp.toml", "--trials", "200"]);
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).split_whitespace().collect::<Vec<_>>().join(" ");
    let (out, err) = (text(&output.stdout), text(&output.stderr));
    assert!(output.status.success(), "{err}");
    assert!(err.contains("`kit.1.panel.0.open_circuit_voltage`") && err.contains("warning"), "{err}");
    assert!(out.contains("Crossed w wiring") && out.contains("Crossed and tiny w wiring"), "{out}");
    assert!(out.contains("in parallel they fit"), "{out}");
    assert!(!out.contains("Sound w wiring"), "{out}");
}
