//! Volts, amps, watts and strings by hand, on both sides of each limit.

use super::*;
use crate::kit::matter::Source;
use crate::scenario::model::Gauge;
use crate::scenario::{self, Source as Text};
use crate::units::{Amps, Metres, SquareMillimetres, Uncertain, Volts, Watts};

/// An array of so many panels in series and strings side by side, each of 100 W.
fn array(series: u32, parallel: u32, best_v: Option<f64>) -> Panel {
    let panel = smallest().panels[0].clone();
    let rated = Uncertain::exact(Watts(100.0));
    Panel { rated, series, parallel, max_power_voltage: best_v.map(Volts), open_circuit_voltage: None, ..panel }
}

fn smallest() -> Scenario {
    scenario::read(&Text::new("s", include_str!("../../../tests/data/smallest.toml"))).expect("a sound scenario").0
}

fn judged(panels: &[Panel], cold_c: f64, input: impl Fn(&mut SolarInput)) -> Vec<Judgement> {
    let mut scenario = smallest();
    scenario.panels = panels.to_vec();
    input(&mut scenario.station.solar_inputs[0]);
    verdicts(&scenario, Celsius(cold_c))
}

/// The judgements of one matter.
fn of(all: Vec<Judgement>, matter: fn(&Matter) -> bool) -> Vec<Judgement> {
    all.into_iter().filter(|one| matter(&one.matter)).collect()
}

#[test]
fn a_source_names_the_key_of_its_limit() {
    let keys = [Source::Inverter, Source::DcOutlet, Source::UsbOutlet, Source::Station].map(Source::limit_key);
    let expected =
        ["station.inverter.rated", "station.dc_outlet.limit", "station.usb.limit", "station.discharge_limit"];
    assert_eq!(keys, expected);
}

/// Ohm and Watt: six panels of 100 W in strings of 2 × 20 V are 600 W / 40 V = 15 A, two more at 25 V 8 A. What is at the limit fits.
#[test]
fn amps_of_all_arrays_are_held_against_the_limit() {
    let first = [array(2, 3, Some(20.0))];
    let both = [array(2, 3, Some(20.0)), array(1, 2, Some(25.0)), array(1, 1, None)];
    for (panels, amps, limit_a, weight) in [
        (&first[..], 15.0, 14.9, Weight::Warns),
        (&first, 15.0, 15.0, Weight::Fits),
        (&first, 15.0, 16.0, Weight::Fits),
        // Of an array of unknown volts nobody knows the amps.
        (&both, 23.0, 22.9, Weight::Warns),
        (&both, 23.0, 23.0, Weight::Fits),
    ] {
        let all = judged(panels, 0.0, |input| input.amps_max = Some(Amps(limit_a)));
        let found = of(all, |matter| matches!(matter, Matter::InputAmps { .. }));
        let key = format!("{}.amps_max", smallest().station.solar_inputs[0].key);
        assert_eq!((found.len(), found[0].weight, &found[0].key), (1, weight, &key));
        assert_eq!(found[0].matter, Matter::InputAmps { input: String::new(), amps, limit_a });
    }
    let unlimited = judged(&first, 0.0, |_| ());
    assert!(of(unlimited, |matter| matches!(matter, Matter::InputAmps { .. })).is_empty());
}

/// 600 W: taken up to the limit, clipped above it, and beyond belief above five times the limit.
#[test]
fn watts_beyond_the_limit_are_clipped_and_far_beyond_not_believed() {
    for (limit_w, weight, how) in [
        (601.0, Weight::Fits, PanelWatts::Taken),
        (600.0, Weight::Fits, PanelWatts::Taken),
        (599.0, Weight::Warns, PanelWatts::Clipped),
        (120.0, Weight::Warns, PanelWatts::Clipped),
        (119.0, Weight::Warns, PanelWatts::BeyondBelief),
    ] {
        let mut scenario = smallest();
        scenario.panels = vec![array(2, 1, None), array(1, 4, None)];
        scenario.station.solar_inputs[0].limit = Watts(limit_w);
        scenario.station.solar_limit = Some(Watts(650.0));
        let all = of(verdicts(&scenario, Celsius(0.0)), |matter| matches!(matter, Matter::InputWatts { .. }));
        let [at_input, at_all] = &all[..] else { panic!("{all:?}") };
        assert_eq!(at_input.weight, weight, "{limit_w} W");
        let name = Some(scenario.station.solar_inputs[0].name.clone());
        assert_eq!(at_input.matter, Matter::InputWatts { how, input: name, panels_w: 600.0, limit_w });
        assert_eq!((at_all.key.as_str(), at_all.weight), ("station.solar_limit", Weight::Fits));
        let how = PanelWatts::Taken;
        assert_eq!(at_all.matter, Matter::InputWatts { how, input: None, panels_w: 600.0, limit_w: 650.0 });
    }
}

/// Two panels of 24 V at -10 °C: 48 V × 1.14 = 54.72 V by the code's table, 48 V × (1 + β · -35 K) by a coefficient: 53.04 V by the
/// typical -0.3 %/K, 52.2 V by -0.25 %/K, 55.56 V by -0.45 %/K. The label's coefficient decides, without one the table does.
#[test]
fn cold_volts_are_held_against_the_limit_both_ways() {
    for (per_k, limit_v, weight, how, decisive_v) in [
        (None, 54.0, Weight::Stops, ColdVolts::Destroy, 54.72),
        (None, 55.0, Weight::Warns, ColdVolts::Close, 54.72),
        (None, 57.5, Weight::Warns, ColdVolts::Close, 54.72),
        (None, 57.7, Weight::Fits, ColdVolts::Below, 54.72),
        (None, 82.0, Weight::Fits, ColdVolts::Below, 54.72),
        (None, 82.2, Weight::Fits, ColdVolts::Below, 54.72),
        (Some(-0.0025), 52.0, Weight::Stops, ColdVolts::Destroy, 52.2),
        (Some(-0.0025), 53.0, Weight::Warns, ColdVolts::PassByOneWay, 52.2),
        (Some(-0.0025), 54.8, Weight::Warns, ColdVolts::Close, 52.2),
        (Some(-0.0025), 55.0, Weight::Fits, ColdVolts::Below, 52.2),
        (Some(-0.0045), 55.0, Weight::Stops, ColdVolts::Destroy, 55.56),
    ] {
        let open = Some(Volts(24.0));
        let coefficient = per_k.map(PerKelvin);
        let panel = Panel { open_circuit_voltage: open, voltage_coefficient: coefficient, ..array(2, 1, Some(20.0)) };
        assert!((cold_string_v(&panel, Celsius(-10.0)).unwrap() - decisive_v).abs() < 1e-9);
        let all = judged(&[panel], -10.0, |input| input.volts_max = Some(Volts(limit_v)));
        let all = of(all, |matter| matches!(matter, Matter::ColdVolts { .. }));
        let [one] = &all[..] else { panic!("{all:?}") };
        let Matter::ColdVolts {
            how: found,
            series,
            open_circuit_v,
            cold_c,
            per_k: by_k,
            per_k_is_typical,
            by_coefficient_v,
            table_factor,
            by_table_v,
            limit_v: held,
            most_in_series,
            ..
        } = &one.matter
        else {
            panic!("{one:?}")
        };
        assert_eq!((one.weight, *found), (weight, how), "{per_k:?} at {limit_v} V");
        assert_eq!((*series, *open_circuit_v, *cold_c, *held), (2, 24.0, -10.0, limit_v));
        assert_eq!((*by_k, *per_k_is_typical), (per_k.unwrap_or(-0.003), per_k.is_none()));
        assert!((by_coefficient_v - 48.0 * (1.0 + 35.0 * -by_k)).abs() < 1e-9);
        assert_eq!(*table_factor, Some(1.14));
        assert!((by_table_v.unwrap() - 54.72).abs() < 1e-9);
        // A panel of half of the string's volts fits so often.
        assert_eq!(*most_in_series, (limit_v / (0.5 * decisive_v)).floor(), "{limit_v} V");
        assert_eq!(one.against.is_some(), weight != Weight::Fits);
    }
    // Below -40 °C the table ends and the typical coefficient stands in: 48 V × (1 + 0.3 % × 70).
    let panel = Panel { open_circuit_voltage: Some(Volts(24.0)), ..array(2, 1, Some(20.0)) };
    assert!((cold_string_v(&panel, Celsius(-45.0)).unwrap() - 58.08).abs() < 1e-9);
    // Where it is never below 25 °C nothing is added.
    assert!((cold_string_v(&panel, Celsius(25.0)).unwrap() - 48.0).abs() < 1e-9);
    assert!((cold_string_v(&panel, Celsius(24.9)).unwrap() - 48.0 * 1.02).abs() < 1e-9);
}

#[test]
fn what_nobody_knows_of_volts_is_said_once_for_an_input_and_for_each_array() {
    let panels = [array(2, 1, Some(20.0)), array(1, 1, Some(20.0))];
    let unknown = of(judged(&panels, 0.0, |_| ()), |matter| matches!(matter, Matter::InputLimitUnknown { .. }));
    assert_eq!(unknown.len(), 1, "{unknown:?}");
    assert!(unknown[0].in_the_answer && unknown[0].weight == Weight::Warns);
    let all = judged(&panels, 0.0, |input| input.volts_max = Some(Volts(60.0)));
    let unknown = of(all, |matter| matches!(matter, Matter::PanelVoltsUnknown { .. }));
    let keys: Vec<&str> = unknown.iter().map(|one| one.key.as_str()).collect();
    assert_eq!(keys, ["panel.0.open_circuit_voltage", "panel.1.open_circuit_voltage"]);
    assert!(unknown.iter().all(|one| one.in_the_answer && one.known_to_reader));
}

/// 40 V at 25 °C are 40 V × (1 − 0.4 % × 45) = 32.8 V at 70 °C.
#[test]
fn an_input_that_starts_cold_may_not_start_hot() {
    for (least_v, weight, how) in [
        (40.1, Weight::Warns, StartVolts::Never),
        (40.0, Weight::Warns, StartVolts::NotWhenHot),
        (32.9, Weight::Warns, StartVolts::NotWhenHot),
        (32.7, Weight::Fits, StartVolts::Always),
    ] {
        // The same by the label's best volts and by 82 % of its open-circuit volts.
        for (best_v, open_v) in [(Some(20.0), None), (None, Some(20.0 / 0.82))] {
            let panel = Panel {
                open_circuit_voltage: open_v.map(Volts),
                power_coefficient: PerKelvin(-0.004),
                ..array(2, 1, best_v)
            };
            let all = judged(&[panel], 0.0, |input| input.volts_min = Some(Volts(least_v)));
            let all = of(all, |matter| matches!(matter, Matter::StartVolts { .. }));
            let [one] = &all[..] else { panic!("{all:?}") };
            let Matter::StartVolts { how: found, best_v: at_25, hot_v, .. } = one.matter else { panic!("{one:?}") };
            assert_eq!((one.weight, found), (weight, how), "{least_v} V");
            assert!((at_25 - 40.0).abs() < 1e-9 && (hot_v - 32.8).abs() < 1e-9);
            assert_eq!(one.known_to_reader, how == StartVolts::Never && best_v.is_some(), "{least_v} V");
        }
    }
}

/// Arrays in parallel share one voltage. 600 W at 40 V and 400 W at 30 V: held at 40 V the second gives nothing, held at 30 V the first
/// gives three quarters, 450 + 400 W. Within 5 % of the volts held both give all. What is as much is had at the higher voltage.
#[test]
fn arrays_side_by_side_work_at_the_volts_that_give_most() {
    let first = array(2, 3, Some(20.0));
    for (second, expected) in [
        (array(1, 4, Some(30.0)), [0.75, 1.0]),
        // 450 + 75 W are less than 600 W.
        (Panel { rated: Uncertain::exact(Watts(75.0)), ..array(1, 1, Some(30.0)) }, [1.0, 0.0]),
        // 450 + 150 W are as much.
        (Panel { rated: Uncertain::exact(Watts(150.0)), ..array(1, 1, Some(30.0)) }, [1.0, 0.0]),
        (array(1, 4, Some(38.0)), [1.0, 1.0]),
        // Just too far: 600 W alone are less than 37.9 / 40 of it and 400 W.
        (array(1, 4, Some(37.9)), [37.9 / 40.0, 1.0]),
        (array(1, 4, None), [1.0, 1.0]),
    ] {
        for turned in [false, true] {
            let mut panels = [&first, &second];
            let mut shares = expected;
            if turned {
                panels.reverse();
                shares.reverse();
            }
            let found = matched(&panels);
            assert!(found.iter().zip(shares).all(|(a, b)| (a - b).abs() < 1e-12), "{found:?}, expected {shares:?}");
        }
        let all = judged(&[first.clone(), second.clone()], 0.0, |_| ());
        let all = of(all, |matter| matches!(matter, Matter::UnequalArrays { .. }));
        if second.max_power_voltage.is_none() {
            assert!(all.is_empty(), "{all:?}");
            continue;
        }
        let [one] = &all[..] else { panic!("{all:?}") };
        let Matter::UnequalArrays { arrays, lost_share, .. } = &one.matter else { panic!("{one:?}") };
        let least = expected[0].min(expected[1]);
        assert!((lost_share - (1.0 - least)).abs() < 1e-12, "{one:?}");
        assert_eq!(one.weight, if least < 1.0 { Weight::Warns } else { Weight::Fits });
        assert_eq!(one.key, if expected[1] < expected[0] { "panel.1.wiring" } else { "panel.0.wiring" });
        assert_eq!(arrays.iter().map(|of| of.best_v).collect::<Vec<_>>(), [40.0, best_string_v(&second).unwrap()]);
    }
    // One array is equal to itself.
    assert!(of(judged(&[first], 0.0, |_| ()), |matter| matches!(matter, Matter::UnequalArrays { .. })).is_empty());
}

/// Two strings side by side need no fuses, three do (NEC 690.9(A), IEC 62548, from memory). The array of most strings is named.
#[test]
fn three_strings_on_one_input_want_fuses() {
    for (parallel, expected) in [
        (&[2][..], None),
        (&[1, 1], None),
        (&[3], Some((3, "panel.0.wiring"))),
        (&[1, 2], Some((3, "panel.1.wiring"))),
        (&[2, 2], Some((4, "panel.0.wiring"))),
    ] {
        let panels: Vec<Panel> = parallel.iter().map(|parallel| array(1, *parallel, Some(20.0))).collect();
        let all = of(judged(&panels, 0.0, |_| ()), |matter| matches!(matter, Matter::Fuses { .. }));
        let found = all.first().map(|one| (one.matter.clone(), one.key.as_str(), one.weight, one.in_the_answer));
        let fuses = |strings| Matter::Fuses { strings, unfused_strings: 2 };
        assert_eq!(found, expected.map(|(strings, key)| (fuses(strings), key, Weight::Warns, true)), "{parallel:?}");
    }
}

/// Ten metres there and back of 2.5 mm² with 7.98 Ω/km at 20 °C (IEC 60228, class 5), 1 + 0.393 % × 55 times that at 75 °C: 0.1941 Ω. 120 W
/// at 12 V are 10 A, which lose 1.94 V and 19.4 W. 3 % of 12 V are 0.36 V, 36 mΩ: 1.48 Ω/km at 20 °C, which of the sizes 16 mm² (1.21)
/// holds and 10 mm² (1.91) does not.
#[test]
fn a_cable_that_loses_too_much_is_told_which_would_do() {
    let wire = |length_m, mm2| Cable { length: Metres(length_m), gauge: Gauge::Metric(SquareMillimetres(mm2)) };
    let of = |wire: &Cable, watts: f64| cable_verdict(None, "station.cable", wire, watts, 12.0);
    let thin = of(&wire(10.0, 2.5), 120.0);
    let Matter::CableLoss { amps, length_m, drop_v, volts, lost_w, lost_share, enough, .. } = &thin.matter else {
        panic!("{thin:?}")
    };
    let ohm: f64 = 2.0 * 0.010 * 7.98 * (1.0 + 0.003_93 * 55.0);
    assert!((ohm - 0.1941).abs() < 5e-5);
    assert_eq!((thin.weight, *length_m, *volts), (Weight::Warns, 10.0, 12.0));
    for (got, expected) in
        [(*amps, 10.0), (*drop_v, 10.0 * ohm), (*lost_w, 100.0 * ohm), (*lost_share, 10.0 * ohm / 12.0)]
    {
        assert!((got - expected).abs() < 1e-9, "{got}, expected {expected}");
    }
    assert_eq!(enough.as_deref(), Some("16 mm²"));
    let enough = |judged: &Judgement| match &judged.matter {
        Matter::CableLoss { enough, .. } => enough.clone(),
        other => panic!("{other:?}"),
    };
    let thick = of(&wire(10.0, 16.0), 120.0);
    assert_eq!((thick.weight, enough(&thick)), (Weight::Fits, None));
    // 25 m: none of the sizes does.
    let far = of(&wire(25.0, 16.0), 120.0);
    assert_eq!((far.weight, enough(&far)), (Weight::Warns, None));
    // All is the most that a cable can take.
    let all = of(&wire(100.0, 0.5), 120.0);
    assert!(matches!(all.matter, Matter::CableLoss { lost_share, .. } if lost_share == 1.0), "{all:?}");
}
