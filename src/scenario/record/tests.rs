//! Checks of the record reader: each case is a small record with a line changed.

use super::model::{Aim, Metered};
use super::{FigureKind, ProvedKit, Record, kit_file, read};
use crate::scenario::{Places, Problem, Source};
use crate::units::Watts;

mod agreement;

const SMALL: &str = r#"[unit]
rated_capacity = "600 Wh"
inverter = "600 W"

[[meter]]
name = "plug"
accuracy = "1 %"

[[capacity]]
start = "2027-03-14T10:00"
stop = "2027-03-14T14:12"
from = "100 %"
to = "0 %"
energy = "505 Wh"
"#;

const LOG: &str = "time,watts\n10:00,120\n10:30,121\n11:00,120\n11:30,119\n12:00,0\n";

fn logs(name: &str) -> Result<String, String> {
    match name {
        "run.csv" => Ok(LOG.to_string()),
        "bad.csv" => Ok("time,watts\n10:00,120\n10:30,1e\n".into()),
        "back.csv" => Ok("time,watts\n10:00,120\n10:30,121\n10:20,120\n".into()),
        "none.csv" => Ok("when,what\n1,2\n".into()),
        _ => Err("there is no such file".into()),
    }
}

type Outcome = Result<(Record, Places, Vec<Problem>), Vec<Problem>>;

fn of(text: &str) -> (Source, Outcome) {
    let source = Source::new("record.toml", text);
    let read = read(&source, &logs);
    (source, read)
}

/// What is said of the small record with a text replaced.
#[track_caller]
fn check(old: &str, new: &str, expected: &str) {
    assert!(SMALL.contains(old), "{old} is not in the record");
    let (source, read) = of(&SMALL.replacen(old, new, 1));
    let problems = match read {
        Ok((_, _, problems)) | Err(problems) => problems,
    };
    let shown: Vec<String> = problems.iter().map(|problem| source.one_line(problem)).collect();
    assert_eq!(shown.join("\n"), expected);
}

#[track_caller]
fn reads(old: &str, new: &str) -> Record {
    assert!(SMALL.contains(old), "{old} is not in the record");
    let (source, read) = of(&SMALL.replacen(old, new, 1));
    match read {
        Ok((record, _, _)) => record,
        Err(problems) => panic!("{}", problems.iter().map(|p| source.one_line(p)).collect::<Vec<_>>().join("\n")),
    }
}

#[test]
fn a_small_record_is_read() {
    let record = reads("", "");
    let run = &record.capacities[0].run;
    assert!((run.lasted.0 - 4.2).abs() < 1e-12);
    assert_eq!(run.meter.name, "plug");
    assert_eq!((run.charge.0.plus_minus, run.charge.1.plus_minus), (0.0, 0.0));
    assert_eq!(record.date().map(|date| date.to_string()).as_deref(), Some("2027-03-14"));
    // A charge in between is a display's.
    assert_eq!(reads("to = \"0 %\"", "to = \"20 %\"").capacities[0].run.charge.1.plus_minus, 0.05);
    assert_eq!(reads("to = \"0 %\"", "to = \"20 % ± 2 %\"").capacities[0].run.charge.1.plus_minus, 0.02);
}

#[test]
fn what_cannot_be_is_refused_at_its_place() {
    check(
        "2027-03-14T14:12",
        "2027-03-14T09:12",
        "11:8 error: capacity.0.stop is not after the start; found 2027-03-14T09:12:00; allowed: later than 2027-03-14T10:00:00",
    );
    check(
        "to = \"0 %\"",
        "to = \"100 %\"",
        "13:6 error: capacity.0.to does not fall: a discharge ends lower than it began; found 100 %",
    );
    check(
        "energy = \"505 Wh\"",
        "load = \"700 W\"",
        "14:8 error: capacity.0.load is more than the inverter can give for long; found 700 W on the mean; allowed: up to 600 W",
    );
    check(
        "energy = \"505 Wh\"",
        "readings = [{ after = \"0 h\", watts = \"120 W\" }, { after = \"1 h\", watts = \"650 W\" }]",
        "14:12 warning: capacity.0.readings holds a reading above the inverter's power; found 650 W; allowed: up to 600 W",
    );
    check(
        "energy = \"505 Wh\"",
        "readings = [{ after = \"0 h\", watts = \"120 W\", charge = \"80 %\" }, { after = \"1 h\", watts = \"120 W\", charge = \"85 %\" }]",
        "14:12 error: capacity.0.readings shows the charge rising within a discharge; found 85 % after 1 h, when it had been 80 %",
    );
    check(
        "energy = \"505 Wh\"",
        "readings = [{ after = \"2 h\", watts = \"120 W\" }, { after = \"1 h\", watts = \"120 W\" }]",
        "14:59 error: capacity.0.readings.1.after goes back from the reading before it; found 1 h; allowed: later than 2 h",
    );
    check(
        "energy = \"505 Wh\"",
        "readings = [{ after = \"2 h\", watts = \"120 W\" }, { after = \"5 h\", watts = \"120 W\" }]",
        "14:12 error: capacity.0.readings holds a reading after the stop; found one after 5 h; allowed: up to 4.2 h, when the run \
         stopped",
    );
    check("inverter = \"600 W\"\n", "", "1:1 error: unit.inverter is missing, and the AC outlet was tested");
    check(
        "energy = \"505 Wh\"\n",
        "",
        "9:1 error: capacity.0.load is missing, and nothing else says what flowed; allowed: one of load = \"100 W\", energy = \
         \"450 Wh\", readings = […], log = \"run.csv\"",
    );
    check(
        "stop = \"2027-03-14T14:12\"\n",
        "",
        "9:1 error: capacity.0.lasted is missing, and start and stop do not say it",
    );
    check(
        "stop = \"2027-03-14T14:12\"",
        "stop = \"2028-03-14T14:12\"",
        "11:8 error: capacity.0.stop makes the run too long; found 366.175 days; allowed: up to 14 days",
    );
    check(
        "energy = \"505 Wh\"",
        "energy = \"505 Wh\"\nlog = \"run.csv\"",
        "15:7 error: capacity.0.log and `energy` cannot both be given",
    );
    check(
        "energy = \"505 Wh\"",
        "energy = \"505 Wh\"\nmeter = \"plugg\"",
        "15:9 error: capacity.0.meter is not one of the meters described; found \"plugg\"; allowed: the name of a [[meter]]",
    );
    check(
        "energy = \"505 Wh\"",
        "enrgy = \"505 Wh\"",
        "9:1 error: capacity.0.load is missing, and nothing else says what flowed; allowed: one of load = \"100 W\", energy = \
         \"450 Wh\", readings = […], log = \"run.csv\"\n14:1 error: capacity.0.enrgy is not a known key; found `enrgy`; allowed: \
         `energy`",
    );
    check(
        "2027-03-14T10:00",
        "2027-02-30T10:00",
        "10:9 error: capacity.0.start cannot be read as a date with a time; found \"2027-02-30T10:00\"; allowed: date and clock time of the place, years 1990 to 2100, like \"2027-03-14T10:05\"",
    );
}

#[test]
fn a_syntax_error_speaks_of_the_record() {
    let (_, read) = of("[unit]\nrated_capacity = 600 Wh\n");
    assert!(read.unwrap_err()[0].title().starts_with("the record "));
}

#[test]
fn logs_are_read_and_trimmed_to_the_load() {
    // Nothing but the log says how long it ran.
    let stamps = "start = \"2027-03-14T10:00\"\nstop = \"2027-03-14T14:12\"\nfrom = \"100 %\"\nto = \"0 %\"\nenergy = \"505 Wh\"";
    let record = reads(stamps, "from = \"100 %\"\nto = \"0 %\"\nlog = \"run.csv\"");
    let run = &record.capacities[0].run;
    let Metered::Readings(readings) = &run.metered else { panic!("{run:?}") };
    assert_eq!(readings.len(), 4);
    // It went off somewhere between 11:30 and 12:00.
    assert!((run.lasted.0 - 1.75).abs() < 1e-9 && (run.clock.0 - 0.25).abs() < 1e-9, "{run:?}");
    for (name, why) in [
        ("bad.csv", "bad.csv: line 3: `1e` is not a power in watts"),
        ("back.csv", "back.csv: line 4: the time goes back from the line above"),
        ("none.csv", "none.csv: has no column for watts, or volts and amps in its first line; found when,what"),
        ("gone.csv", "gone.csv: there is no such file"),
    ] {
        let expected = format!("14:7 error: capacity.0.log cannot be used; found {why}");
        check("energy = \"505 Wh\"", &format!("log = \"{name}\""), &expected);
    }
}

#[test]
fn logs_come_in_many_shapes() {
    let hours = |text: &str| {
        let log =
            super::log::parse(text, &super::log::Clock::default()).unwrap_or_else(|error| panic!("{text}: {error}"));
        log.readings.iter().map(|r| (r.after.0, r.watts.0)).collect::<Vec<_>>()
    };
    let expected = vec![(0.0, 100.0), (1.0, 90.0)];
    for text in [
        "time,watts\n2027-03-14T10:00,100\n2027-03-14T11:00:00,90\n",
        "Time;Power (W)\n2027-03-14 10:00;100\n2027-03-14 11:00;90\n",
        "minutes,volts,amps\n5,100,1\n65,100,0.9\n",
        "time_s,watts,charge\n0,100,90\n3600,90,80 %\n",
        "# a remark\nhours\tW\n0\t100\n1\t90\n",
        "time,watts\n23:30,100\n00:30,90\n",
    ] {
        let got = hours(text);
        assert!(
            got.iter().zip(&expected).all(|(a, b)| (a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9),
            "{text}: {got:?}"
        );
    }
    assert!(
        super::log::parse("", &Default::default()).is_err()
            && super::log::parse("time,watts\n10:00,5\n", &Default::default()).is_err()
    );
}

#[test]
fn solar_tests_need_a_place_and_one_way_to_stand() {
    let solar = "energy = \"505 Wh\"\n[[solar]]\nat = \"2027-03-14T13:00\"\nwatts = \"90 W\"\nrated = \"100 W\"\nsky = \"clear\"\n";
    check(
        "energy = \"505 Wh\"",
        &format!("{solar}aim = \"at the sun\""),
        "error: site is missing, and a panel was tested",
    );
    let site = "\n[site]\nlatitude = 44.2\nlongitude = -72.6";
    let record = reads("energy = \"505 Wh\"", &format!("{solar}tilt = \"40°\"\nfacing = \"SSW\"{site}"));
    assert!(matches!(record.solars[0].aim, Some(Aim::Fixed { facing, .. }) if facing.0 == 202.5));
    check(
        "energy = \"505 Wh\"",
        &format!("{solar}aim = \"at the sun\"\ntilt = \"40°\"\nfacing = \"south\"{site}"),
        "20:7 error: solar.0.aim and a tilt or facing cannot both be given",
    );
}

#[test]
fn a_kit_file_comes_back_as_it_was_written() {
    let figures = vec![
        super::Figure { kind: FigureKind::UsableEnergy, value: 576.3 },
        super::Figure { kind: FigureKind::DischargeEfficiency, value: 0.97 },
        super::Figure { kind: FigureKind::Draw(crate::scenario::model::OutletKind::Ac), value: 0.9 },
        super::Figure { kind: FigureKind::Conversion(crate::scenario::model::OutletKind::Ac), value: 0.94 },
    ];
    let mut covariance = vec![0.0; 16];
    for (k, sd) in [12.0, 0.01, 0.6, 0.02_f64].into_iter().enumerate() {
        covariance[5 * k] = sd * sd;
    }
    (covariance[3], covariance[12]) = (-0.8 * 12.0 * 0.02, -0.8 * 12.0 * 0.02);
    let kit = ProvedKit {
        step_from: None,
        defects: vec!["the outlet \"USB\" does not work".into()],
        title: "a \"unit\" \\ ü".into(),
        rated_capacity: crate::units::WattHours(600.0),
        inverter: Some(Watts(600.0)),
        figures,
        covariance,
    };
    let text = kit.to_toml("mine.toml");
    assert!(kit_file::is_kit_file(&text) && !kit_file::is_kit_file(SMALL));
    let back = kit_file::read(&Source::new("kit.toml", text.clone())).unwrap();
    assert_eq!(back.defects, kit.defects);
    assert_eq!((&back.title, back.rated_capacity, back.inverter), (&kit.title, kit.rated_capacity, kit.inverter));
    for (a, b) in back.figures.iter().zip(&kit.figures) {
        assert_eq!(a.kind, b.kind);
        assert!((a.value - b.value).abs() < 1e-5 * b.value);
    }
    for (k, (a, b)) in back.covariance.iter().zip(&kit.covariance).enumerate() {
        assert!((a - b).abs() < 2e-3 * kit.standard(k / 4) * kit.standard(k % 4) + 1e-12, "{k}: {a} {b}");
    }
    for (old, new, what) in [
        ("-0.8000", "-1.8000", "holds correlations that cannot be"),
        ("correlation = [\n", "correlation = [\n [1.0],\n", "is not a square of numbers"),
        ("inverter = \"600 W\"\n", "", "is missing, and the AC outlet has figures"),
        ("ac_draw", "ac_drew", "is missing"),
    ] {
        let wrong = text.replacen(old, new, 1);
        let problems = kit_file::read(&Source::new("kit.toml", wrong)).unwrap_err();
        assert!(problems.iter().any(|p| p.what.contains(what)), "{old}: {problems:?}");
    }
}

/// Whatever is done to a record, reading and proving it ends with an answer or with problems.
#[test]
fn no_mangled_record_panics() {
    let sound = format!(
        "{SMALL}readings = []\n[site]\nlatitude = 44.2\nlongitude = -72.6\n[[solar]]\nat = \"2027-03-14T13:00\"\nwatts = \
         \"90 W\"\nrated = \"100 W\"\nsky = \"clear\"\naim = \"at the sun\"\n[[wall]]\nlasted = \"4 h\"\nfrom = \"0 %\"\nto = \
         \"100 %\"\nload = \"165 W\"\n"
    );
    let mut read_well = 0;
    let texts = [sound.replace("readings = []\n", ""), sound];
    for text in &texts {
        let lines: Vec<&str> = text.lines().collect();
        for skip in 0..lines.len() {
            for value in [
                "",
                "0",
                "-1",
                "\"0 Wh\"",
                "\"1e300 h\"",
                "\"100 %\"",
                "[]",
                "{}",
                "nan",
                "\"2027-03-14T10:00\"",
                "true",
            ] {
                let mut mangled = lines.clone();
                let replaced = lines[skip].split_once(" = ").map(|(key, _)| format!("{key} = {value}"));
                match &replaced {
                    Some(line) if !value.is_empty() => mangled[skip] = line,
                    _ => drop(mangled.remove(skip)),
                }
                let (_, read) = of(&mangled.join("\n"));
                if let Ok((record, _, _)) = read {
                    read_well += 1;
                    let _ = crate::study::prove::prove(&record);
                }
            }
        }
    }
    assert!(20 < read_well, "{read_well}");
}

proptest::proptest! {
    /// Whatever a log holds, reading it ends with readings in order of time or with an error.
    #[test]
    fn no_log_panics(lines in proptest::collection::vec("[0-9:;,.eT\\t -]{0,24}|\\PC{0,12}", 0..8), head in 0_usize..4) {
        let head = ["time,watts", "hours;volts;amps", "seconds\tW\tcharge", ""][head];
        if let Ok(log) = super::log::parse(&format!("{head}\n{}", lines.join("\n")), &Default::default()) {
            proptest::prop_assert!(log.readings.windows(2).all(|pair| pair[0].after < pair[1].after));
        }
    }
}
