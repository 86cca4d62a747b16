//! Facts that say the same twice, and clocks that change.

use super::super::log::{Clock, parse};
use super::*;

/// A record with one discharge of `body`, at a place where summer time came on 2027-03-14 at 2:00 (it is the second Sunday
/// of March: 15 U.S.C. 260a) and goes on 2027-11-07.
fn record(body: &str) -> String {
    format!(
        "[unit]\nrated_capacity = \"600 Wh\"\ninverter = \"600 W\"\n[site]\nlatitude = 44.2\nlongitude = -72.6\n\
         timezone = \"America/New_York\"\n[[meter]]\nname = \"plug\"\naccuracy = \"1 %\"\n[[capacity]]\nfrom = \"100 %\"\n\
         to = \"0 %\"\n{body}\n"
    )
}

/// A log of 120 W, a row a minute, from one hour of the day to another, with dates or without.
fn minutes(from_min: u32, to_min: u32, dated: bool, off_from: u32) -> String {
    let rows = (from_min..=to_min).map(|m| {
        let day = if dated { "2027-05-10T" } else { "" };
        format!("{day}{:02}:{:02},{}\n", m / 60, m % 60, if m < off_from { 120 } else { 0 })
    });
    format!("time,watts\n{}", rows.collect::<String>())
}

fn read_with(body: &str, log: &str) -> Result<Record, String> {
    let source = Source::new("record.toml", record(body));
    match read(&source, &|_| Ok(log.to_string())) {
        Ok((record, _, problems)) => {
            assert!(problems.iter().all(|problem| problem.level != crate::scenario::Level::Error));
            Ok(record)
        }
        Err(problems) => Err(problems.iter().map(|p| format!("{}: {:?}", source.one_line(p), p.help)).collect()),
    }
}

fn remarks(body: &str, log: &str) -> String {
    let source = Source::new("record.toml", record(body));
    let (_, _, problems) = read(&source, &|_| Ok(log.to_string())).expect("a sound record");
    problems.iter().map(|problem| source.one_line(problem)).collect::<Vec<_>>().join("\n")
}

const STAMPS: &str = "start = \"2027-05-10T10:00\"\nstop = \"2027-05-10T14:12\"\nlog = \"run.csv\"";

/// 10:00 to 14:12 by the record; a logger that sees all of it agrees, one that wakes late or dies early is named.
#[test]
fn a_log_and_its_stamps_are_held_against_each_other() {
    let off = 14 * 60 + 12;
    for dated in [true, false] {
        let whole = read_with(STAMPS, &minutes(600, 860, dated, off)).unwrap();
        // Off by the row of 14:12, so on until halfway from the row before.
        assert!((whole.capacities[0].run.lasted.0 - (4.2 - 0.5 / 60.0)).abs() < 1e-9);
        let late = read_with(STAMPS, &minutes(630, 860, dated, off)).unwrap_err();
        assert!(late.contains("capacity.0.log and the times of the record contradict each other"), "{late}");
        assert!(late.contains("the logger woke 30 min late") && !late.contains("died"), "{late}");
        assert!(late.contains("4 h 12 min by the record") && late.contains("on for 3 h 42 min"), "{late}");
        let early = read_with(STAMPS, &minutes(600, off - 30, dated, off)).unwrap_err();
        assert!(early.contains("the logger died 30 min early") && !early.contains("woke"), "{early}");
    }
    // Without clock times in the log, or with a length alone, either end may be the short one.
    let hours = "hours,watts\n0,120\n0.5,120\n1,120\n1.5,120\n2,120\n2.5,120\n3,120\n";
    let length = "lasted = \"4.5 h\"\nlog = \"run.csv\"";
    let short = read_with(length, hours).unwrap_err();
    assert!(short.contains("the logger woke late, or the logger died early"), "{short}");
    assert!(read_with("lasted = \"3 h\"\nlog = \"run.csv\"", hours).is_ok());
    // One stamp alone.
    let begun = "start = \"2027-05-10T10:00\"\nlog = \"run.csv\"";
    let late = read_with(begun, &minutes(630, 860, true, off)).unwrap_err();
    assert!(late.contains("woke 30 min late"), "{late}");
    assert!(read_with(begun, &minutes(600, 860, true, off)).is_ok());
    let stopped = "stop = \"2027-05-10T14:12\"\nlog = \"run.csv\"";
    let early = read_with(stopped, &minutes(600, off - 30, true, off)).unwrap_err();
    assert!(early.contains("died 30 min early"), "{early}");
    // Clocks read roughly, and two clocks that differ.
    let rough = format!("{STAMPS}\nclock = \"10 min\"");
    assert!(read_with(&rough, &minutes(615, 860, true, off)).is_ok());
    assert_eq!(remarks(STAMPS, &minutes(610, 880, true, off + 10)), "");
    let apart = remarks(STAMPS, &minutes(660, 930, true, off + 60));
    assert!(apart.contains("is as long as its run and does not begin with it"), "{apart}");
}

#[test]
fn the_time_said_and_the_time_between_the_stamps_are_held_against_each_other() {
    let body = |lasted: &str| {
        format!("start = \"2027-05-10T10:00\"\nstop = \"2027-05-10T14:12\"\nlasted = \"{lasted}\"\nenergy = \"505 Wh\"")
    };
    assert!(read_with(&body("4.2 h"), "").is_ok());
    let wrong = read_with(&body("3.2 h"), "").unwrap_err();
    assert!(wrong.contains("capacity.0.lasted is not the time between start and stop; found 3 h 12 min"), "{wrong}");
    assert!(wrong.contains("allowed: 4 h 12 min"), "{wrong}");
}

/// 205 W for 4.25 h make 871 Wh.
#[test]
fn a_load_and_the_counter_are_held_against_each_other() {
    let body = |load: &str, energy: &str| format!("lasted = \"4.25 h\"\nload = \"{load}\"\nenergy = \"{energy}\"");
    let wrong = read_with(&body("205 W", "480 Wh"), "").unwrap_err();
    assert!(wrong.contains("capacity.0.load and the counter's energy contradict each other"), "{wrong}");
    assert!(wrong.contains("205 W for 4 h 15 min make 871 Wh") && wrong.contains("480 Wh by `energy`"), "{wrong}");
    assert!(wrong.contains("was it set to 0 at the start?"), "{wrong}");
    // Within 5 % for the one reading, twice 1 % for the meter, a minute at either end: 7.8 %.
    assert!(read_with(&body("120 W", "505 Wh"), "").is_ok());
    assert!(read_with(&body("120 W", "475 Wh"), "").is_ok());
    assert!(read_with(&body("120 W", "465 Wh"), "").is_err());
}

/// From 1:00 to 6:00 on the day on which summer time comes four hours go by, on the day on which it goes six.
#[test]
fn a_change_to_summer_time_is_no_hour_of_running() {
    let body = |day: &str, from: &str| format!("start = \"{day}T{from}\"\nstop = \"{day}T06:00\"\nenergy = \"480 Wh\"");
    let hours = |body: &str| read_with(body, "").map(|record| record.capacities[0].run.lasted.0);
    assert_eq!(hours(&body("2027-03-14", "01:00")), Ok(4.0));
    assert_eq!(hours(&body("2027-11-07", "00:30")), Ok(6.5));
    assert_eq!(hours(&body("2027-05-10", "01:00")), Ok(5.0));
    let skipped = hours(&body("2027-03-14", "02:30")).unwrap_err();
    assert!(skipped.contains("capacity.0.start is skipped by the clock of the place"), "{skipped}");
    let twice = hours(&body("2027-11-07", "01:30")).unwrap_err();
    assert!(twice.contains("is shown twice") && twice.contains("lasted = "), "{twice}");
    assert_eq!(hours(&format!("{}\nlasted = \"5.5 h\"", body("2027-11-07", "01:30"))), Ok(5.5));
}

/// Loggers that change their clocks with the place, and loggers that do not: the even steps tell.
#[test]
fn logs_over_a_change_of_clocks_count_the_hours_that_went_by() {
    let zone = jiff::tz::TimeZone::get("America/New_York").ok();
    let last = |text: &str, zone: &Option<jiff::tz::TimeZone>| {
        let log = parse(text, &Clock { zone: zone.clone(), start: None }).unwrap_or_else(|e| panic!("{text}: {e}"));
        log.readings.last().map(|reading| reading.after.0)
    };
    let rows = |day: &str, clocks: &[&str]| {
        let rows: String = clocks.iter().map(|clock| format!("{day}T{clock},120\n")).collect();
        format!("time,watts\n{rows}")
    };
    let spring = |clocks: &[&str]| rows("2027-03-14", clocks);
    let follows = spring(&["01:00", "01:30", "03:00", "03:30", "04:00"]);
    assert_eq!(last(&follows, &zone), Some(2.0));
    assert_eq!(last(&follows, &None), Some(3.0));
    assert_eq!(last(&spring(&["01:00", "01:30", "02:00", "02:30", "03:00"]), &zone), Some(2.0));
    let autumn = |clocks: &[&str]| rows("2027-11-07", clocks);
    let follows = autumn(&["00:30", "01:00", "01:30", "01:00", "01:30", "02:00", "02:30"]);
    assert_eq!(last(&follows, &zone), Some(3.0));
    assert!(parse(&follows, &Clock::default()).is_err());
    assert_eq!(last(&autumn(&["00:30", "01:00", "01:30", "02:00", "02:30"]), &zone), Some(2.0));
    assert_eq!(last(&autumn(&["01:20", "01:40", "02:00", "02:20"]), &zone), Some(1.0));
    // Without dates the record's start gives the day.
    let bare = "time,watts\n23:30,120\n00:30,120\n01:30,120\n03:30,120\n04:30,120\n";
    let clock = Clock { zone, start: crate::scenario::record::times::parse_moment("2027-03-13T23:30") };
    let log = parse(bare, &clock).expect("a log");
    assert_eq!(log.readings.last().map(|reading| reading.after.0), Some(4.0));
}

/// Twenty minutes without power in the midst of a run are mentioned; a load with a thermostat is not.
#[test]
fn a_trip_is_a_defect_to_look_at() {
    let log = |off: &dyn Fn(u32) -> bool| {
        let rows: String = (0..=252).map(|m| format!("{m},{}\n", if off(m) { 0 } else { 120 })).collect();
        format!("minutes,watts\n{rows}")
    };
    let body = "log = \"run.csv\"";
    let tripped = remarks(body, &log(&|m| (90..110).contains(&m)));
    assert!(
        tripped.contains("capacity.0.log drops to nothing in the midst of the run; the unit may have tripped"),
        "{tripped}"
    );
    assert!(tripped.contains("no power for 21 min after 1 h 29 min"), "{tripped}");
    assert_eq!(remarks(body, &log(&|_| false)), "");
    assert_eq!(remarks(body, &log(&|m| m % 30 > 20)), "");
}

/// Charges noted beside the watts and `from` and `to` say the same twice.
#[test]
fn charges_of_a_log_are_held_against_from_and_to() {
    let log = |from: f64, to: f64| {
        let rows = (0..=252).map(|m| format!("{m},120,{:.1}\n", from + (to - from) * f64::from(m) / 252.0));
        format!("minutes,watts,charge\n{}", rows.collect::<String>())
    };
    let body = "log = \"run.csv\"";
    assert!(read_with(body, &log(100.0, 2.0)).is_ok());
    // Displays are not straight: nine points off are allowed, 15 are not.
    assert!(read_with(body, &log(91.0, 9.0)).is_ok());
    let short = read_with(body, &log(100.0, 40.0)).unwrap_err();
    assert!(short.contains("`to` contradict each other") && short.contains("40 % on the display"), "{short}");
    let low = read_with(body, &log(85.0, 0.0)).unwrap_err();
    assert!(low.contains("`from` contradict each other") && low.contains("85 % on the display"), "{low}");
}

/// A meter that reads beyond its limits on a known load is named with both figures; a load without its ± says nothing.
#[test]
fn a_check_of_a_meter_is_held_against_its_limits() {
    let body = |read: &str, known: &str| {
        format!("lasted = \"4.2 h\"\nenergy = \"504 Wh\"\n[[meter_check]]\nread = \"{read}\"\nknown = \"{known}\"")
    };
    let sound = read_with(&body("101.2 W", "100 W ± 0.5 %"), "").unwrap();
    assert_eq!(sound.checks[0].meter.name, "plug");
    assert!((sound.checks[0].known.plus_minus - 0.5).abs() < 1e-9);
    let off = read_with(&body("106 W", "100 W ± 0.5 %"), "").unwrap_err();
    for part in ["lie beyond the meter's limits", "106 W where 100 W flowed: 6 % off", "`accuracy` 1 %"] {
        assert!(off.contains(part), "{part}: {off}");
    }
    let vague = read_with(&body("100 W", "100 W"), "").unwrap_err();
    assert!(vague.contains("does not say how well the load is known"), "{vague}");
}
