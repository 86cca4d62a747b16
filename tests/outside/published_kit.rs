//! Cables, cold volts and inverters against published tables and worked examples.
//!
//! Sources and their standing: tests/data/README.md, under "Electrical".

use tideover::kit::LossCurve;
use tideover::kit::cable::{AWG_OHM_PER_KFT, MM2_OHM_PER_KM, loop_ohm, loss_share, ohm_per_km};
use tideover::kit::electrical::{cold_factor, open_circuit_string_v};
use tideover::scenario::model::{Cable, Gauge};
use tideover::units::{Celsius, Metres, SquareMillimetres};

use crate::values;

fn rows(text: &str, expected: usize) -> Vec<Vec<String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<Vec<String>> =
        reader.records().map(|row| row.expect("a row").iter().map(str::to_owned).collect()).collect();
    assert_eq!(rows.len(), expected, "rows read");
    rows
}

fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{text} is no number"))
}

fn value(table: &toml::Table, key: &str) -> f64 {
    values::number(table.get(key).unwrap_or_else(|| panic!("no {key}")))
}

fn entries(file: &toml::Table, list: &str, expected: usize) -> Vec<toml::Table> {
    let entries: Vec<toml::Table> =
        file[list].as_array().expect("a list").iter().map(|entry| entry.as_table().expect("a table").clone()).collect();
    assert_eq!(entries.len(), expected, "entries of {list}");
    entries
}

fn table_of(rows: &toml::Value) -> Vec<Vec<f64>> {
    rows.as_array().expect("rows").iter().map(values::numbers).collect()
}

fn examples() -> toml::Table {
    include_str!("../data/electrical_examples.toml").parse().expect("valid TOML")
}

fn more() -> toml::Table {
    include_str!("../data/electrical_more.toml").parse().expect("valid TOML")
}

fn awg_of(length_ft: f64, awg: f64) -> Cable {
    Cable { length: Metres(length_ft * 0.3048), gauge: Gauge::Awg(awg as u8) }
}

#[test]
fn factors_for_cold_are_the_codes() {
    for row in rows(include_str!("../data/cold_voltage_factors.csv"), 13) {
        let (warm, cold) = row[0].split_once(" to ").expect("a range");
        for celsius in [number(warm), number(cold), 0.5 * (number(warm) + number(cold))] {
            assert_eq!(cold_factor(Celsius(celsius)), Some(number(&row[1])), "{celsius} °C");
        }
    }
    assert_eq!(cold_factor(Celsius(25.0)), Some(1.0));
    assert_eq!(cold_factor(Celsius(-40.1)), None);
    let seen = more()["table_690_7_rows_seen"]["rows"].as_array().expect("rows").clone();
    assert_eq!(seen.len(), 3);
    for row in seen {
        let row = row.as_table().expect("a row");
        assert_eq!(cold_factor(Celsius(value(row, "from_c"))), Some(value(row, "factor")));
    }
}

#[test]
fn cold_volts_follow_the_worked_examples() {
    for case in entries(&examples(), "cold_voltage", 5) {
        let cell = Celsius(value(&case, "celsius"));
        let (series, voc) = (value(&case, "in_series") as u32, value(&case, "voc_stc"));
        let volts = open_circuit_string_v(series, voc, value(&case, "beta_per_k"), cell);
        let by_table = f64::from(series) * voc * cold_factor(cell).expect("a factor");
        let limit = value(&case, "input_limit_v");
        // Printed to 1e-6 V.
        assert!((volts - value(&case, "voc_cold_v")).abs() < 1e-6, "{case:?}");
        assert!((by_table - value(&case, "voc_cold_nec_v")).abs() < 1e-6, "{case:?}");
        assert_eq!(volts > limit, case["over_limit"].as_bool().expect("yes or no"));
        assert_eq!(by_table > limit, case["over_limit_nec"].as_bool().expect("yes or no"));
    }
    // An electricians' course for the 2023 code: 54.18 V, printed to 0.01; 11 in series by the coefficient, 10 by the table.
    let seen = more()["cold_voltage_seen"].as_table().expect("a table").clone();
    let cold = Celsius(value(&seen, "lowest_ambient_c"));
    let one = open_circuit_string_v(1, value(&seen, "voc_stc"), value(&seen, "beta_percent_per_k") / 100.0, cold);
    assert!((one - value(&seen, "voc_cold")).abs() < 0.005);
    assert_eq!((value(&seen, "limit_v") / one).floor(), value(&seen, "most_in_series"));
    let by_table = value(&seen, "voc_stc") * cold_factor(cold).expect("a factor");
    assert!((by_table - value(&seen, "voc_cold_by_table")).abs() < 0.005);
    assert_eq!((value(&seen, "limit_v") / by_table).floor(), value(&seen, "most_in_series_by_table"));
}

#[test]
fn wires_resist_as_the_tables_say() {
    let ours = |awg: f64| ohm_per_km(Gauge::Awg(awg as u8)) * 0.3048;
    for row in rows(include_str!("../data/wire_resistance_stranded.csv"), 7) {
        let awg = number(&row[0]);
        assert!((ours(awg) - number(&row[2])).abs() < 1e-9, "{awg} AWG");
        // Stranded wire lies 1.8 to 2.5 % above physics: the lay of the strands.
        assert!((1.0..1.03).contains(&(ours(awg) / number(&row[6]))), "{awg} AWG");
    }
    for row in rows(include_str!("../data/wire_resistance.csv"), 7) {
        // Solid wire for 18 to 8 AWG: the stranded one resists up to 3 % more.
        assert!((1.0 - 1e-9..1.03).contains(&(ours(number(&row[0])) / number(&row[1]))), "{row:?}");
    }
    let table = more();
    let stranded = table_of(&table["wire_table_8"]["rows"]);
    let only_stranded = table_of(&table["wire_table_8"]["only_stranded_in_the_table"]);
    let printed: Vec<(u8, f64)> = stranded
        .iter()
        .map(|row| (row[0] as u8, row[2]))
        .chain(only_stranded.iter().map(|row| (row[0] as u8, row[1])))
        .collect();
    assert_eq!(printed, AWG_OHM_PER_KFT);
    let flexible: Vec<(f64, f64)> = table_of(&table["iec_60228"]["rows"]).iter().map(|row| (row[0], row[2])).collect();
    assert_eq!(flexible, MM2_OHM_PER_KM);
    // From 20 to 75 °C by physics: the inverse of the ratio printed for 75 to 20 °C, to its six digits.
    let ratio = value(&entries(&examples(), "resistance_at_temperature", 2)[0], "ratio_physics");
    for (mm2, ohm) in MM2_OHM_PER_KM {
        let warm = ohm_per_km(Gauge::Metric(SquareMillimetres(mm2)));
        assert!((ohm / warm - ratio).abs() < 1e-6, "{mm2} mm²");
    }
    // A size that no table has lies between its neighbours.
    let odd = ohm_per_km(Gauge::Metric(SquareMillimetres(3.0)));
    let (thin, thick) =
        (ohm_per_km(Gauge::Metric(SquareMillimetres(2.5))), ohm_per_km(Gauge::Metric(SquareMillimetres(4.0))));
    assert!(thick < odd && odd < thin);
}

#[test]
fn cables_drop_what_the_worked_examples_drop() {
    for case in entries(&examples(), "voltage_drop", 4) {
        let wire = awg_of(value(&case, "one_way_ft"), value(&case, "awg"));
        let (volts, amps) = (value(&case, "volts"), value(&case, "amps"));
        let share = loss_share(&wire, volts * amps, volts);
        // Printed to 1e-6 ohm, 1e-6 V, 1e-4 %, 1e-5 W: half a unit of each.
        assert!((loop_ohm(&wire) - value(&case, "loop_ohm")).abs() < 5.1e-7, "{case:?}");
        assert!((share * volts - value(&case, "drop_v")).abs() < 5.1e-7, "{case:?}");
        assert!((share * 100.0 - value(&case, "drop_percent")).abs() < 5.1e-5, "{case:?}");
        assert!((share * volts * amps - value(&case, "loss_w")).abs() < 5.1e-6, "{case:?}");
    }
    // The metric rows hold for 20 °C; ours are at 75 °C.
    let warmer = 1.0 + 0.00393 * 55.0;
    let table = table_of(&more()["voltage_drop_metric"]["rows"]);
    assert_eq!(table.len(), 4);
    for row in table {
        let [length, amps, ohm, volts, drop_v, percent, loss_w] = row[..] else { panic!("seven columns") };
        let (mm2, _) = MM2_OHM_PER_KM.into_iter().find(|(_, r)| *r == ohm).expect("a size of the table");
        let wire = Cable { length: Metres(length), gauge: Gauge::Metric(SquareMillimetres(mm2)) };
        let share = loss_share(&wire, volts * amps, volts) / warmer;
        // Printed to 1e-5 V, 1e-4 %, 1e-5 W.
        assert!((share * volts - drop_v).abs() < 5.1e-6);
        assert!((share * 100.0 - percent).abs() < 5.1e-5);
        assert!((share * volts * amps - loss_w).abs() < 5.1e-6);
    }
}

/// Weights of the European efficiency (EN 50530) and of the Californian one, by load per unit.
const EUROPEAN: [(f64, f64); 6] = [(0.05, 0.03), (0.10, 0.06), (0.20, 0.13), (0.30, 0.10), (0.50, 0.48), (1.00, 0.20)];
const CALIFORNIAN: [(f64, f64); 6] =
    [(0.10, 0.04), (0.20, 0.05), (0.30, 0.12), (0.50, 0.21), (0.75, 0.53), (1.00, 0.05)];

#[test]
fn inverters_follow_the_part_load_curve_and_its_weighted_means() {
    const RATED_W: f64 = 800.0;
    let weighted = |curve: &LossCurve, weights: [(f64, f64); 6]| -> f64 {
        weights.iter().map(|(load, weight)| weight * curve.efficiency(load * RATED_W)).sum()
    };
    let mut compared = 0;
    for row in rows(include_str!("../data/inverter_part_load.csv"), 24) {
        let [own, linear, square] = [1, 2, 3].map(|column| number(&row[column]));
        let curve = LossCurve { idle_w: own * RATED_W, linear, quadratic_per_w: square / RATED_W, ..LossCurve::IDEAL };
        // A curve laid through two of its own points is the same curve.
        let point = |load: f64| (load * RATED_W, curve.efficiency(load * RATED_W));
        let through = LossCurve::from_points(RATED_W, curve.idle_w, &[point(0.1), point(1.0)]).expect("a curve");
        let expected = number(&row[5]);
        for curve in [curve, through] {
            let found = match row[4].as_str() {
                "european" => weighted(&curve, EUROPEAN),
                "cec" => weighted(&curve, CALIFORNIAN),
                peak if peak.starts_with("peak_at_") => {
                    let at = number(&peak["peak_at_".len()..]);
                    // Printed to 1e-6; the best load is where the constant loss equals the square one.
                    assert!((at - (own / square).sqrt()).abs() < 1e-6);
                    curve.efficiency(at * RATED_W)
                }
                load => curve.efficiency(number(load) * RATED_W),
            };
            assert!((found - expected).abs() < 1e-6, "{row:?}: {found}");
            compared += 1;
        }
    }
    assert_eq!(compared, 48);
}
