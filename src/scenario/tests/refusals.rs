//! What is refused, and in which words; other spellings that are understood.

use super::{CAPACITY, LASTS, SMALLEST, START, WATTS, check, problems, reads};
use crate::scenario::model::*;
use crate::scenario::{Paint, Source, read, render};
use crate::units::{Degrees, Fraction};

const ENERGY: &str = "energy above 0 Wh, up to 10000 kWh (Wh or kWh)";
const SHARE: &str = "share 0 % to 100 %";

#[test]
fn quantities_are_refused_with_what_to_write() {
    let at = "11:18 error: station.rated_capacity";
    for (value, what, found) in [
        ("600", "needs a unit", "600"),
        ("0.5", "needs a unit", "0.5"),
        ("nan", "cannot be read as an energy", "nan"),
        ("inf", "cannot be read as an energy", "inf"),
        ("true", "cannot be read as an energy", "true"),
        ("[]", "cannot be read as an energy", "an empty list"),
        ("2027-01-14", "cannot be read as an energy", "2027-01-14"),
        ("\"\"", "cannot be read as an energy", "\"\""),
        ("\"much\"", "cannot be read as an energy", "\"much\""),
        ("\"600\"", "needs a unit", "\"600\""),
        ("\"600 W\"", "is not in a unit of energy", "\"600 W\""),
        ("\"50 Ah\"", "gives no energy without volts", "\"50 Ah\""),
        ("\"0 Wh\"", "is out of range", "\"0 Wh\""),
        ("\"11 MWh\"", "is not in a unit of energy", "\"11 MWh\""),
        ("\"11000 kWh\"", "is out of range", "\"11000 kWh\""),
        ("\"600 Wh ± \"", "cannot be read as an energy", "\"600 Wh ± \""),
        ("\"600 Wh ± 5\"", "needs a unit", "\"600 Wh ± 5\""),
        ("\"600 Wh ± -5 %\"", "has an impossible uncertainty", "\"600 Wh ± -5 %\""),
    ] {
        check(
            CAPACITY,
            &format!("rated_capacity = {value}"),
            &format!("{at} {what}; found {found}; allowed: {ENERGY}"),
        );
    }
}

/// Losses that grow with the square of a load over a rating of milliwatts are sums that round beyond what an account may be off.
#[test]
fn an_inverter_gives_a_watt_or_more() {
    const RATED: &str = "rated = \"500 W\"";
    let inverter = |rated: &str| format!("rated = \"{rated}\"");
    for (rated, found) in [("0.000002 kW", "0.000002 kW"), ("0.99 W", "0.99 W"), ("1001 kW", "1001 kW")] {
        let problem = problems(RATED, &inverter(rated)).1.remove(0);
        assert_eq!((problem.key.as_str(), problem.what.as_str()), ("station.inverter.rated", "is out of range"));
        assert!(problem.found.contains(found), "{rated}: {problem:?}");
    }
    for rated in ["1 W", "1000 kW"] {
        reads(&[(RATED, &inverter(rated))]);
    }
}

#[test]
fn help_says_what_to_write() {
    let help = |old: &str, new: &str| problems(old, new).1[0].help.clone().unwrap_or_default();
    assert_eq!(help(CAPACITY, "rated_capacity = 0x10"), "write \"16 Wh\"");
    assert_eq!(help(CAPACITY, "rated_capacity = \"1.2\""), "write \"1.2 Wh\"");
    assert_eq!(help(CAPACITY, "rated_capacity = \"600 Wh\"\ncharge_to = 0.29"), "write \"29 %\"");
    assert_eq!(help(CAPACITY, "rated_capacity = \"600 Wh\"\ncharge_to = 85"), "write \"85 %\"");
    assert_eq!(help("tilt = \"50°\"", "tilt = 50"), "write \"50°\"");
    assert_eq!(help(LASTS, "lasts = 72"), "write \"72 h\"");
    assert_eq!(
        help(CAPACITY, "rated_capacity = \"50 Ah\""),
        "write the nominal volts too: \"12 V x 50 Ah\" for lead-acid, \"12.8 V x 50 Ah\" for four LFP cells in a row, \"51.2 V \
         x 50 Ah\" for sixteen"
    );
    assert_eq!(help("priority = \"vital\"", "priority = \"vita\""), "did you mean \"vital\"?");
    for (zone, told) in [
        ("+1", "write \"+01:00\""),
        ("-5", "write \"-05:00\""),
        ("\u{2212}5 h", "write \"-05:00\""),
        ("+0100", "write \"+01:00\""),
        ("+5.5", "write \"+05:30\""),
        ("-3:30", "write \"-03:30\""),
        ("2", "write \"+02:00\" for a clock ahead of UTC, \"-02:00\" for one behind, or the zone's name"),
        ("+15", "write sign, hours, minutes, -12:00 to +14:00: \"-05:00\""),
        ("+nonsense", "write sign, hours, minutes, -12:00 to +14:00: \"-05:00\""),
        ("Norwegen", "did you mean \"Europe/Oslo\"?"),
        ("Japon", "did you mean \"Asia/Tokyo\"?"),
    ] {
        let site = format!("longitude = -72.6\ntimezone = \"{zone}\"");
        assert_eq!(help("longitude = -72.6", &site), told, "{zone}");
    }
    assert_eq!(help(START, "month = \"13\""), "write it like \"January\"");
    assert_eq!(help(START, "month = \"12\""), "write \"December\"");
}

#[test]
fn a_unit_with_a_sign_is_one_character_wide() {
    let text = SMALLEST.replace("tilt = \"50°\"", "\"°±漢\" = 1\ntilt = 50");
    let source = Source::new("test.toml", text);
    let problems = read(&source).expect_err("two problems");
    assert_eq!(
        source.one_line(problems.last().expect("a problem")),
        "28:8 error: panel.0.tilt needs a unit; found 50; allowed: angle 0° to 90°"
    );
    // In one line with wide signs, the column of the drawing is that of the list.
    let source = Source::new("test.toml", "site = { timezone = \"°漢±\", latitude = 95 }\n");
    let problems = read(&source).expect_err("problems");
    let latitude = problems.iter().find(|problem| problem.key == "site.latitude").expect("the latitude");
    assert!(source.one_line(latitude).starts_with("1:39 "), "{}", source.one_line(latitude));
    let drawn = render(&source, std::slice::from_ref(latitude), Paint::Plain);
    assert!(drawn.contains("test.toml:1:39"), "{drawn}");
    assert!(render(&source, std::slice::from_ref(latitude), Paint::Coloured).contains("\u{1b}["));
}

#[test]
fn line_ends_and_a_byte_order_mark_move_no_mark() {
    let text = SMALLEST.replace("longitude = -72.6", "longitude = 272.6");
    let shown = |text: String| {
        let source = Source::new("test.toml", text);
        let problems = read(&source).expect_err("a longitude out of range");
        problems.iter().map(|problem| source.one_line(problem)).collect::<Vec<_>>()
    };
    let plain = shown(text.clone());
    assert!(plain[0].starts_with("4:13 error: site.longitude is out of range"), "{plain:?}");
    assert_eq!(shown(text.replace('\n', "\r\n")), plain);
    assert_eq!(shown(format!("\u{feff}{text}")), plain);
}

/// A slip in a section is told; that its outlet is missing then is no other.
#[test]
fn an_outlet_whose_section_is_wrong_is_not_lacking() {
    for rated in ["\"500 VAA\"", "500"] {
        let (_, found) = problems("rated = \"500 W\"", &format!("rated = {rated}"));
        let keys: Vec<&str> = found.iter().map(|problem| problem.key.as_str()).collect();
        assert_eq!(keys, ["station.inverter.rated"], "{rated}");
    }
}

#[test]
fn one_cause_is_one_problem() {
    check(
        CAPACITY,
        "rated_capcity = \"600 Wh\"",
        "11:1 error: station.rated_capcity is not a known key; found `rated_capcity`; allowed: `rated_capacity`",
    );
    check("[[load]]", "[[loads]]", "30:3 error: loads is not a known section; found `loads`; allowed: `load`");
    check("[[panel]]", "[[pannel]]", "25:3 error: pannel is not a known section; found `pannel`; allowed: `panel`");
    // A value that cannot be read takes no part in comparisons.
    check(
        CAPACITY,
        "rated_capacity = \"600 Wh\"\ncharge_to = \"5o %\"\nkeep_above = \"90 %\"",
        &format!(
            "12:13 error: station.charge_to is not in a unit of share; found \"5o %\"; allowed: {}",
            SHARE.replace("0 % to", "above 0 %, up to")
        ),
    );
}

#[test]
fn the_outage_may_be_said_in_several_ways() {
    for (month, number) in [("January", 1), ("jan", 1), ("MAY", 5), ("Sept", 9), ("december", 12)] {
        assert_eq!(reads(&[(START, &format!("month = \"{month}\""))]).outage.begins, Begins::Month(number));
    }
    let evening = Begins::At { year: 2027, month: 1, day: 14, minute_of_day: 1080 };
    for start in ["2027-01-14T18:00", "\"2027-01-14T18:00\"", "\"2027-01-14 18:00:00\"", "2027-01-14 18:00:00"] {
        assert_eq!(reads(&[(START, &format!("start = {start}"))]).outage.begins, evening, "{start}");
    }
    let allowed = "date and clock time of the place, whole minutes, years 1900 to 2100, like \"2027-01-14T18:00\"";
    for (start, what) in [
        ("\"2027-02-30T18:00\"", "is no day of the calendar from 1900 to 2100"),
        ("2027-01-14", "has no time of the day"),
        ("18:00:00", "has no date"),
        ("2027-01-14T18:00:30", "is out of range"),
        ("1066-10-14T09:00:00", "is out of range"),
        ("2027-01-14T18:00:00+01:00", "must be the clock time of the place"),
        ("5", "cannot be read as a date with a time"),
    ] {
        let expected = format!("7:9 error: outage.start {what}; found {start}; allowed: {allowed}");
        check(START, &format!("start = {start}"), &expected);
    }
    check(START, "", "6:1 error: outage.month is missing; allowed: the name of a month, like \"January\" or \"Jan\"");
    check(
        LASTS,
        "lasts = { median = \"18 h\" }",
        "8:9 error: outage.lasts.p95 is missing; allowed: duration above 0 h, up to 60 days (h, min, days or weeks)",
    );
    check(
        LASTS,
        "lasts = { median = \"18 h\", p95 = \"18 h\" }",
        "8:34 error: outage.lasts.p95 must be longer than the median; found 18 h; allowed: above 18 h",
    );
}

#[test]
fn places_and_clocks_are_checked() {
    let zone = |zone: &str| {
        reads(&[("longitude = -72.6", &format!("longitude = -72.6\ntimezone = \"{zone}\""))]).site.timezone
    };
    assert_eq!(zone("-05:00"), TimeZone::Fixed(-300));
    assert_eq!(zone("\u{2212}03:30"), TimeZone::Fixed(-210));
    assert_eq!(zone("UTC"), TimeZone::Fixed(0));
    assert_eq!(zone("america/new_york"), TimeZone::Named("America/New_York".into()));
    for wrong in ["-5", "-05:60", "+15:00", "05:00", "-5:00", "-05:00:00"] {
        let expected = format!(
            "5:12 error: site.timezone is not an offset from UTC; found \"{wrong}\"; allowed: an offset like \"-05:00\" or a name like \"America/New_York\""
        );
        check("longitude = -72.6", &format!("longitude = -72.6\ntimezone = \"{wrong}\""), &expected);
    }
    assert_eq!(reads(&[("44.2", "\"44.2°\"")]).site.latitude_deg, 44.2);
    assert_eq!(reads(&[("44.2", "\"44.2\"")]).site.latitude_deg, 44.2);
    check(
        "44.2",
        "-90.1",
        "3:12 error: site.latitude is out of range; found -90.1; allowed: degrees from -90 to 90; south is negative",
    );
    let climate =
        |text: &str| reads(&[("longitude = -72.6", &format!("longitude = -72.6\nclimate = {text}"))]).site.climate;
    assert_eq!(climate("\"hills.toml\""), ClimateSource::File("hills.toml".into()));
    assert_eq!(
        climate("{ hourly = \"my-years.csv\" }"),
        ClimateSource::Hourly { file: "my-years.csv".into(), fitted: false }
    );
    check(
        "longitude = -72.6",
        "longitude = -72.6\nclimate = \"wrold\"",
        "5:11 error: site.climate is not a climate; found \"wrold\"; allowed: \"world\", a climate file \"….toml\", or { hourly = \"….csv\" }",
    );
}

#[test]
fn panels_are_wired_and_turned() {
    let panel = |lines: &str| reads(&[("tilt = \"50°\"\nfacing = \"south\"", lines)]).panels.remove(0);
    let layout = |lines: &str| {
        let panel = panel(&format!("{lines}\ntilt = \"50°\"\nfacing = \"S\""));
        (panel.series, panel.parallel)
    };
    assert_eq!(layout("count = 3\nwiring = \"series\""), (3, 1));
    assert_eq!(layout("count = 3\nwiring = \"parallel\""), (1, 3));
    assert_eq!(layout("wiring = { series = 2, parallel = 3 }"), (2, 3));
    assert_eq!(layout("wiring = \"series\""), (1, 1));
    for (facing, degrees) in
        [("south-east", 135.0), ("South East", 135.0), ("sw", 225.0), ("170°", 170.0), ("360°", 0.0), ("WNW", 292.5)]
    {
        let aim = Aim::Fixed { tilt: Degrees(10.0), facing: Degrees(degrees) };
        assert_eq!(panel(&format!("tilt = \"10°\"\nfacing = \"{facing}\"")).aim, aim, "{facing}");
    }
    let flat = Aim::Fixed { tilt: Degrees(0.0), facing: Degrees(180.0) };
    assert_eq!(panel("tilt = \"0°\"").aim, flat);
    let tilt = "tilt = \"50°\"";
    check(
        tilt,
        "tilt = \"50°\"\nmax_power_voltage = \"22 V\"\nopen_circuit_voltage = \"18 V\"",
        "28:21 error: panel.0.max_power_voltage must be below `open_circuit_voltage`; found 22 V; allowed: below 18 V",
    );
    check(
        tilt,
        "tilt = \"50°\"\nvoltage_coefficient = \"0 %/K\"",
        "28:23 error: panel.0.voltage_coefficient is out of range; found \"0 %/K\"; allowed: temperature coefficient from -1 %/K to below 0 %/K",
    );
    check(
        tilt,
        "tilt = \"50°\"\ncount = 0",
        "28:9 error: panel.0.count is out of range; found 0; allowed: a whole number from 1 to 10000",
    );
    check(
        tilt,
        "tilt = \"50°\"\ncount = 1.5",
        "28:9 error: panel.0.count must be a whole number; found 1.5; allowed: a whole number from 1 to 10000",
    );
    check(
        tilt,
        "tilt = \"50°\"\nwiring = { series = 10000, parallel = 10000 }\ncount = 2",
        "28:10 error: panel.0.wiring does not add up to `count`; found 10000 in series times 10000 in parallel, which is 100000000; allowed: 2 panels in all",
    );
}

#[test]
fn loads_run_by_the_clock() {
    let pattern = |lines: &str| reads(&[(WATTS, &format!("watts = \"9 W\"\n{lines}"))]).loads.remove(0).pattern;
    let window = |from_minute, to_minute| ClockWindow { from_minute, to_minute };
    assert_eq!(pattern("hours = \"18:00-23:00\""), Pattern::Schedule(vec![window(1080, 1380)]));
    assert_eq!(pattern("hours = \"22:00 – 6:00\""), Pattern::Schedule(vec![window(1320, 360)]));
    assert_eq!(pattern("hours = \"00:00-24:00\""), Pattern::Schedule(vec![window(0, 1440)]));
    assert_eq!(pattern("hours = \"18:00-00:00\""), Pattern::Schedule(vec![window(1080, 1440)]));
    let duty = Pattern::Duty { share: Fraction(0.25), hours: vec![window(1080, 1380)] };
    assert_eq!(pattern("duty = \"25 %\"\nhours = \"18:00-23:00\""), duty);
    let allowed = "from and to on the 24-hour clock, like \"18:00-23:00\"; \"22:00-06:00\" runs over midnight";
    for (hours, what) in [
        ("\"18:00\"", "needs a beginning and an end"),
        ("\"18:00-18:00\"", "begins and ends at the same time"),
        ("\"24:00-06:00\"", "begins at 24:00"),
        ("\"24:01-06:00\"", "has a clock time that no day has"),
        ("\"6-11\"", "does not say whether it is before or after noon"),
        ("18", "cannot be read as hours of the day"),
    ] {
        let expected = format!("35:9 error: load.0.hours {what}; found {hours}; allowed: {allowed}");
        check(WATTS, &format!("watts = \"9 W\"\nhours = {hours}"), &expected);
    }
    check(
        WATTS,
        "watts = \"9 W\"\nkind = \"duty\"",
        "30:1 error: load.0.duty is missing; allowed: share above 0 %, up to 100 %",
    );
    check(
        WATTS,
        "watts = \"9 W\"\ncould_use = \"ac\"",
        "35:13 error: load.0.could_use is the outlet that it uses already",
    );
}

#[test]
fn what_stands_on_no_outlet_is_found() {
    let usb = "[station.usb]\nlimit = \"60 W\"\n";
    check(usb, "", "");
    check(
        "priority = \"vital\"",
        "priority = \"spare\"",
        "30:1 error: load has no vital entry, so no outage can count as failed",
    );
}
