//! `tideover lineup` with a kit whose panels are wired wrongly.

use std::fs;

use serde_json::Value;

use crate::lineup::{case, json};
use crate::program::{answered, folder, tideover, unbroken};

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
    fs::write(&catalogue, format!("{HEAD}{kits}")).expect("a catalogue");
    let output =
        tideover(&["lineup", &catalogue, "--cases", "scenarios/lineup/cases/weekend-camp.toml", "--trials", "200"]);
    let (out, err) = (unbroken(&output.stdout), unbroken(&output.stderr));
    assert!(output.status.success(), "{err}");
    assert!(err.contains("`kit.1.panel.0.open_circuit_voltage`") && err.contains("warning"), "{err}");
    assert!(out.contains("Crossed w wiring") && out.contains("Crossed and tiny w wiring"), "{out}");
    assert!(out.contains("in parallel they fit"), "{out}");
    assert!(!out.contains("Sound w wiring"), "{out}");
}

/// Volts of a wiring against the input's limit by NEC table 690.7(A): a winter of -25 °C or so has a factor of 1.2, so that two panels of
/// 24 V in series give some 58 V.
#[test]
fn a_wrong_wiring_says_how_the_panels_fit() {
    let kit = |name: &str, wiring: &str, voc: f64, volts_max: f64| {
        format!(
            "[[kit]]\nname = \"{name}\"\n[kit.station]\nrated_capacity = \"1000 Wh\"\n[kit.station.inverter]\nrated = \"1000 W\"\nsurge = \
             \"2000 W\"\n[kit.station.dc_outlet]\nlimit = \"120 W\"\n[kit.station.usb]\nlimit = \"100 W\"\n[kit.station.solar_input]\nlimit = \
             \"800 W\"\nvolts_min = \"11 V\"\nvolts_max = \"{volts_max} V\"\namps_max = \"100 A\"\n[[kit.panel]]\nrated = \"100 W\"\nwiring = {wiring}\n\
             open_circuit_voltage = \"{voc} V\"\nmax_power_voltage = \"{:.1} V\"\n",
            0.82 * voc
        )
    };
    let kits = [
        kit("parallel", "{ series = 2, parallel = 1 }", 24.0, 50.0),
        kit("mixed", "{ series = 4, parallel = 1 }", 24.0, 100.0),
        kit("none", "{ series = 1, parallel = 1 }", 24.0, 25.0),
        kit("good", "{ series = 1, parallel = 2 }", 24.0, 50.0),
    ];
    let place = folder("lineup", "wiring");
    let (catalogue, table) = (place.join("kits.toml"), place.join("table.csv"));
    fs::write(&catalogue, kits.concat()).expect("a catalogue to write");
    let (catalogue, csv) = (catalogue.display().to_string(), table.display().to_string());
    let case = case("winter-fridge");
    let arguments = ["lineup", &catalogue, "--cases", &case, "--trials", "100", "--quiet"];
    let answer = json(&answered(&[&arguments[..], &["--json"]].concat()));
    let cell = |kit: &str| answer["cells"].as_array().unwrap().iter().find(|cell| cell["kit"] == kit).unwrap();
    for (kit, fits, told) in [
        ("parallel", serde_json::json!({"series": 1, "parallel": 2}), "the two panels in series give up to"),
        ("parallel", serde_json::json!({"series": 1, "parallel": 2}), "this input takes 50 V; in parallel they fit"),
        (
            "mixed",
            serde_json::json!({"series": 2, "parallel": 2}),
            "two in series and two such strings side by side fit",
        ),
        ("none", Value::Null, "no wiring of these panels fits it"),
    ] {
        let misfit = &cell(kit)["misfit"];
        assert_eq!((&misfit["kind"], &misfit["fits"]), (&"wiring".into(), &fits), "{kit}: {misfit}");
        let text = misfit["text"].as_str().unwrap();
        assert!(text.contains(told) && !text.contains("panel.0"), "{kit}: {text}");
        assert!(cell(kit)["verdict"].is_null(), "{kit}");
    }
    assert_eq!(cell("good")["fits"], true);
    // Kept results say the same, and so does the table.
    let text = unbroken(answered(&[&arguments[..], &["--csv", &csv]].concat()));
    for part in ["w wiring", "wrong wiring: the panels as they are wired", "in parallel they fit"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let rows = fs::read_to_string(&table).expect("a table");
    assert!(rows.lines().next().unwrap().ends_with(",fits_in_series,fits_in_parallel"), "{rows}");
    let row = |kit: &str| rows.lines().find(|row| row.contains(&format!(",{kit},"))).unwrap().to_string();
    assert!(row("parallel").contains(",wrong wiring,") && row("parallel").ends_with(",1,2"), "{rows}");
    assert!(row("none").contains(",wrong wiring,") && row("none").ends_with(",,"), "{rows}");
}
