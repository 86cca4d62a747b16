//! Looking ahead: the same answer as a run from the same start, under the same sky, and a stop that keeps its promise.

use std::io::Read;
use std::process::{Child, Output, Stdio};
use std::time::{Duration, Instant};

use proptest::prelude::*;
use tideover::engine::Plan;
use tideover::engine::plan::Sky;
use tideover::scenario::model::{Outage, Scenario};
use tideover::study::now::{AssumedSky, HORIZONS_H, Situation, Until, now};
use tideover::trials::run::Quiet;
use tideover::trials::{Settings, run};
use tideover::weather::world;

use crate::common::scenario_of as scenario;
use crate::exact::{self, VITAL};
use crate::program::{answered, command, folder, root, tideover as told, unbroken};

/// Judged by three days, as far as the horizons reach that are always told.
const UNTIL: Until = Until::Asked { hours_h: 72.0 };

const STORM: &str = include_str!("../../scenarios/winter-storm.toml");

fn plan(scenario: &Scenario) -> Option<Plan> {
    let site = &scenario.site;
    let climate = world::lookup(site.latitude_deg, site.longitude_deg, None).ok()?;
    Some(Plan::compile(scenario, &Sky::Climate(climate), 60).expect("a plan"))
}

/// A scenario with an outage of its own lines.
fn kit(latitude: f64, outage: &str, load: &str) -> String {
    format!(
        "[site]\nlatitude = {latitude:.2}\nlongitude = 22\ntimezone = \"Europe/Helsinki\"\n[outage]\n{outage}[station]\n\
         rated_capacity = \"900 Wh ± 10 %\"\nstands = \"outdoors\"\n[station.inverter]\nrated = \"300 W\"\n\
         [station.dc_outlet]\nlimit = \"120 W\"\n[station.solar_input]\nlimit = \"300 W\"\n[[panel]]\nrated = \"100 W\"\n\
         count = 2\nwiring = \"parallel\"\ntilt = \"50°\"\nfacing = \"south\"\n{load}"
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// The same charge, clock, length and sky: trial by trial the same failures, whatever the file's own month, charge and
    /// length are.
    #[test]
    fn looking_ahead_is_a_run_from_the_same_start(
        latitude in -34.0..66.0_f64,
        (charge, file_charge) in (5..=100_u32, 5..=100_u32),
        (month, day, hour, file_month) in (1..=12_u8, 1..=28_u8, 0..24_u16, 0..12_usize),
        storm in any::<bool>(),
        load in prop::sample::select(vec![
            "[[load]]\nname = \"pump\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"18 W\"\nvaries = \"20 %\"\n",
            "[[load]]\nname = \"fridge\"\noutlet = \"ac\"\npriority = \"vital\"\nwatts = \"60 W\"\nduty = \"30 %\"\n",
            "[[load]]\nname = \"box\"\npriority = \"vital\"\nlike = \"12 V cooler, 30 litres\"\n",
            "[[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"40 W\"\nhours = \"17:00-23:30\"\n\
             days = \"weekends\"\n",
        ]),
    ) {
        const MONTHS: [&str; 12] =
            ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
        let settings = Settings { seed: 5, trials: 200, precision: None };
        let own = format!(
            "month = \"{}\"\nlasts = \"30 h\"\nstarts_charged = \"{file_charge} %\"\nbegins_in_a_storm = {storm}\n",
            MONTHS[file_month]
        );
        let file = scenario(&kit(latitude, &own, load));
        let standing = Situation {
            charge: f64::from(charge) / 100.0, charge_plus_minus: 0.0, year: 2027, month, day, minute_of_day: 60 * hour + 30
        };
        // A few points of the meridian lie in the sea.
        let from_here = standing.from_here(&file, &UNTIL);
        let Some(here) = plan(&from_here) else { return Ok(()) };
        let outlook = now((&from_here, &here), (&AssumedSky::of(&file.outage, &standing), &UNTIL), &settings, &Quiet).expect("an answer");
        // 72 h, as far as is looked ahead, and a horizon as a run of its own that ends on the same or a later day than
        // the storm does.
        for (lasts, horizons) in [(72, &HORIZONS_H[..]), (48, &HORIZONS_H[2..3])] {
            let same = format!(
                "start = \"2027-{month:02}-{day:02}T{hour:02}:30\"\nlasts = \"{lasts} h\"\nstarts_charged = \"{charge} %\"\n\
                 begins_in_a_storm = {storm}\n"
            );
            let tally = &run(&[plan(&scenario(&kit(latitude, &same, load))).expect("land")], &settings, &Quiet)[0];
            for hours in horizons {
                let k = HORIZONS_H.iter().position(|h| h == hours).expect("a horizon");
                let failed: u32 = tally.failure_step.iter().take(*hours as usize).sum();
                let share = 1.0 - f64::from(failed) / 200.0;
                let told = outlook.courses[0].lasts[k].0;
                prop_assert!((told - share).abs() < 1e-12, "{} h of {}: {} against {}", hours, lasts, told, share);
            }
        }
    }
}

#[test]
fn of_a_storm_that_began_before_the_rest_is_left() {
    let outage = |begins: &str| -> Outage {
        scenario(&STORM.replace("month = \"January\"", begins).replace("lasts = \"4 days\"", "lasts = \"3 days\""))
            .outage
    };
    let at = |day: u8, hour: u16| Situation {
        charge: 0.5,
        charge_plus_minus: 0.0,
        year: 2027,
        month: 1,
        day,
        minute_of_day: 60 * hour,
    };
    assert!(outage("month = \"January\"").begins_in_a_storm, "the scenario is meant to begin in one");
    let whole = AssumedSky::Storm { days: 2 };
    assert_eq!(AssumedSky::of(&outage("month = \"January\""), &at(14, 20)), whole);
    let dated = outage("start = \"2027-01-14T18:00\"");
    assert_eq!(AssumedSky::of(&dated, &at(14, 20)), whole);
    assert_eq!(AssumedSky::of(&dated, &at(15, 3)), AssumedSky::Storm { days: 1 });
    assert_eq!(AssumedSky::of(&dated, &at(16, 3)), AssumedSky::StormPast);
    // Before it, long after it, in another year: an outage like it begins.
    assert_eq!(AssumedSky::of(&dated, &at(14, 17)), whole);
    assert_eq!(AssumedSky::of(&dated, &at(18, 3)), whole);
    assert_eq!(AssumedSky::of(&outage("start = \"2026-01-14T18:00\""), &at(15, 3)), whole);
    let calm = Outage { begins_in_a_storm: false, ..dated };
    assert_eq!(AssumedSky::of(&calm, &at(14, 20)), AssumedSky::Any);
}

const NOW: [&str; 7] = ["now", "scenarios/winter-storm.toml", "--charge", "43%", "--at", "2027-01-14 20:30", "--quiet"];

fn answer(more: &[&str]) -> String {
    answered(&[&NOW[..], more].concat())
}

#[test]
fn the_first_lines_say_which_sky_is_assumed() {
    let first = |more: &[&str]| -> String {
        let text = answer(&[&["--trials", "200"], more].concat());
        unbroken(text.split("Of 100").next().unwrap_or_default())
    };
    let own = first(&[]);
    assert!(own.contains("Sky assumed: a storm, as the scenario begins: two dark days, today the first."), "{own}");
    let told = first(&["--sky", "dark,clear"]);
    assert!(told.contains("Sky as told, from tomorrow: dark,clear."), "{told}");
    let json: serde_json::Value = serde_json::from_str(&answer(&["--trials", "200", "--json"])).expect("JSON");
    assert_eq!((json["sky"]["kind"].as_str(), json["sky"]["dark_days"].as_u64()), (Some("storm"), Some(2)));
    assert_eq!(json["stopped_early"].as_bool(), Some(false));
    // Told as any weather, the storm is not assumed, and things last longer.
    let lasts = |text: &str| {
        let json: serde_json::Value = serde_json::from_str(text).expect("JSON");
        json["courses"][0]["lasts"][2]["probability"].as_f64().expect("a share")
    };
    let (storm, any) = (answer(&["--json"]), answer(&["--json", "--sky", "any"]));
    assert!(lasts(&storm) < lasts(&any), "{} {}", lasts(&storm), lasts(&any));
}

#[test]
fn a_precision_that_cannot_be_kept_is_refused() {
    let size = ["size", "scenarios/winter-storm.toml", "--quiet"];
    for command_line in [&NOW[..], &size[..]] {
        for (asked, told) in [("1 %", "--precision cannot be given to"), ("bogus", "error: --precision: ")] {
            let output =
                command(&[command_line, &["--precision", asked]].concat()).output().expect("the binary starts");
            let text = String::from_utf8_lossy(&output.stderr);
            assert_eq!(output.status.code(), Some(2), "{text}");
            assert!(text.contains(told) && output.stdout.is_empty(), "{text}");
        }
    }
}

/// A run far too long to end, interrupted so many times a little apart; with how long it took to end after the last.
#[cfg(unix)]
fn interrupted(arguments: &[&str], times: u32) -> (Output, Duration) {
    let mut child: Child = command(arguments)
        .args(["--trials", "3000000"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the binary starts");
    std::thread::sleep(Duration::from_secs(4));
    for k in 0..times {
        if k > 0 {
            std::thread::sleep(Duration::from_millis(30));
        }
        crate::program::interrupt(&child);
    }
    let since = Instant::now();
    let (mut stdout, mut stderr) = (Vec::new(), Vec::new());
    child.stdout.take().expect("a pipe").read_to_end(&mut stdout).expect("its answer");
    child.stderr.take().expect("a pipe").read_to_end(&mut stderr).expect("its messages");
    let status = child.wait().expect("an end");
    (Output { status, stdout, stderr }, since.elapsed())
}

#[cfg(unix)]
#[test]
fn an_interrupted_look_ahead_is_marked_partial_at_once() {
    let (output, took) = interrupted(&NOW, 1);
    let text = unbroken(&output.stdout);
    assert_eq!(output.status.code(), Some(3), "{text}");
    assert!(text.contains("Stopped before its time: this is the answer of"), "{text}");
    assert!(text.contains("of 3,000,000 trials."), "{text}");
    // Half a second on a machine of its own; a busy one is given ten times that.
    assert!(took < Duration::from_secs(5), "{took:?}");
    let (output, _) = interrupted(&[&NOW[..], &["--json"]].concat(), 1);
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!((output.status.code(), json["stopped_early"].as_bool()), (Some(3), Some(true)));
    assert!(json["trials"].as_u64().is_some_and(|n| 0 < n && n < 3_000_000));
}

#[cfg(unix)]
#[test]
fn every_interrupted_answer_says_so_in_its_first_lines() {
    let storm = "scenarios/winter-storm.toml";
    let first_lines = |arguments: &[&str]| {
        let (output, _) = interrupted(arguments, 1);
        assert_eq!(output.status.code(), Some(3), "{arguments:?}");
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        let first = text.lines().skip(2).take(4).collect::<Vec<_>>().join(" ");
        assert!(first.trim_start().starts_with("Stopped before its time: "), "{arguments:?}: {first}");
        assert!(first.contains("of 3,000,000 trials"), "{arguments:?}: {first}");
        text
    };
    first_lines(&["compare", storm, "-q"]);
    first_lines(&["card", storm, "-q"]);
    first_lines(&["now", storm, "--charge", "50 %", "--at", "20:30", "-q"]);
    let text = first_lines(&["size", storm, "-q"]);
    for untrue in ["No kit", "none of these", "reaches the target\n"] {
        assert!(!text.contains(untrue), "{text}");
    }
    for command in ["size", "compare", "run"] {
        let (output, _) = interrupted(&[command, storm, "-q", "--json"], 1);
        let json: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        assert_eq!((output.status.code(), json["stopped_early"].as_bool()), (Some(3), Some(true)), "{command}");
        if command == "size" {
            assert!(json["frontier"].is_null() && json["ladder"].as_array().is_some_and(Vec::is_empty), "{json}");
        }
    }
}

#[cfg(unix)]
#[test]
fn a_second_interrupt_ends_at_once_and_leaves_nothing_behind() {
    let folder = folder("now", "interrupted");
    // Sixty days a trial: a stretch between two looks takes far longer than the two signals are apart.
    let long = folder.join("long.toml");
    std::fs::write(&long, STORM.replace("lasts = \"4 days\"", "lasts = \"60 days\"")).expect("a file");
    let (scenario, out) = (long.display().to_string(), folder.join("answer.txt").display().to_string());
    let (output, took) = interrupted(&["run", &scenario, "--out", &out, "--quiet"], 2);
    assert_eq!(output.status.code(), Some(3), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(took < Duration::from_secs(2), "{took:?}");
    let left: Vec<_> =
        std::fs::read_dir(&folder).expect("the folder").map(|e| e.expect("an entry").file_name()).collect();
    assert_eq!(left, ["long.toml"]);
}

/// A display of a few points' doubt makes hours that hang on little less sure, and is told; an exact charge is taken where it is
/// said to be exact.
#[test]
fn the_doubt_of_the_display_moves_the_answer() {
    let of = |charge: &str| -> serde_json::Value {
        let args = ["now", "scenarios/winter-storm.toml", "--charge", charge, "--at", "2027-01-14 20:30", "--quiet"];
        let output =
            command(&[&args[..], &["--trials", "2000", "--json"]].concat()).output().expect("the binary starts");
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        serde_json::from_slice(&output.stdout).expect("JSON")
    };
    let (plain, told, exact) = (of("43%"), of("43 % ± 5 %"), of("43 % ± 0 %"));
    assert_eq!(plain["courses"], told["courses"]);
    assert_eq!((&plain["charge_plus_minus_percent"], &plain["charge_plus_minus_assumed"]), (&5.0.into(), &true.into()));
    assert_eq!(told["charge_plus_minus_assumed"], false);
    assert_ne!(plain["courses"], exact["courses"]);
    // Half of the units hold less than 43 %: nine of ten last a shorter time.
    let hours = |json: &serde_json::Value| json["courses"][0]["nine_of_ten_last_h"].as_f64().expect("hours");
    let rough = of("43 % ± 25 %");
    assert!(hours(&rough) < hours(&exact), "{} {}", hours(&rough), hours(&exact));
    let text = unbroken(answer(&["--trials", "200"]));
    assert!(
        text.contains("Battery at 43 % (± 5), 14 January, 20:30: Winter storm at the cabin")
            && text.contains("common practice, no source"),
        "{text}"
    );
    for wrong in ["43 % ± 60 %", "43 % ± x", "143 % ± 5 %"] {
        let output =
            command(&["now", "scenarios/winter-storm.toml", "--charge", wrong]).output().expect("the binary starts");
        assert_eq!(output.status.code(), Some(2), "{wrong}");
    }
}
/// A device of the night that finds the battery empty in the evening: the hours told end with its last use, not when it is next asked for.
#[test]
fn hours_of_a_device_that_rests_by_day_end_before_the_battery_does() {
    // By hand: 100 Wh, 10 W from 22:00 to 07:00 are 90 Wh a night; the last 10 Wh hold the second night for an hour or so, and with
    // 1 W of the station's own draw by day (15 Wh) they are gone before it begins.
    let device = "name = \"breather\"\noutlet = \"dc\"\nwatts = \"10 W\"\nhours = \"22:00-07:00\"\nmedical = true";
    let text = exact::kit("lasts = \"2 days\"", "", &format!("[[load]]\n{VITAL}\n{device}\n"));
    let text = text.replace("own_draw = \"0 W\"", "own_draw = \"1 W\"").replace("100 Wh ±", "112 Wh ±");
    let at = ["now", "--trials", "200", "--charge", "100 % ± 0 %", "--at", "2027-01-14 22:00"];
    let (text, json) = exact::both("now", "rests-by-day", &text, &at);
    assert!(text.contains("Plan for no more than 9 h, until 07:00 tomorrow"), "{text}");
    assert!(text.contains("It is next needed at 22:00 tomorrow, and the battery may be empty well before."), "{text}");
    assert!(text.contains("arrange another supply for it before 07:00 tomorrow"), "{text}");
    assert!(!text.contains("until 22:00 tomorrow") && !text.contains("before 22:00 tomorrow"), "{text}");
    // Nowhere longer than the battery by itself.
    let alone = json["device_alone"]["at_least_h"].as_f64().expect("hours");
    for hours in
        [&json["advice"]["count_on_h"], &json["courses"][0]["nine_of_ten_last_h"], &json["courses"][0]["half_last_h"]]
    {
        assert!(hours.as_f64().is_some_and(|hours| hours <= alone + 1e-9), "{hours} {alone}");
    }
}

/// A lamp or another load on the exact kit.
fn by_hand(station: &str, load: &str) -> String {
    exact::kit("lasts = \"6 h\"", station, &format!("[[load]]\n{VITAL}\n{load}\n"))
}

fn said(test: &str, text: &str, more: &[&str]) -> (String, serde_json::Value) {
    exact::both("now", test, text, &[&["now", "--trials", "200"], more].concat())
}

const LAMP: &str = "name = \"lamp\"\noutlet = \"dc\"\nwatts = \"50 W\"";

#[test]
fn it_is_judged_by_the_time_that_was_asked_for() {
    // 100 Wh at 50 W: two hours from 20:30, not from 20:00.
    let lamp = by_hand("", LAMP);
    let at = ["--charge", "100%", "--at", "2027-01-14 20:30"];
    for (until, hours, share) in [
        ("22:00", 1.5, 1.0),
        ("22:30", 2.0, 1.0),
        ("23:00", 2.5, 0.0),
        ("90 min", 1.5, 1.0),
        ("2027-01-14 23:30", 3.0, 0.0),
        // The next 20:30 is tomorrow's.
        ("20:30", 24.0, 0.0),
    ] {
        let (text, json) = said("until", &lamp, &[&at[..], &["--until", until]].concat());
        assert_eq!(json["judged_h"].as_f64(), Some(hours), "{until}");
        let lasts = json["courses"][0]["lasts"].as_array().expect("horizons");
        let at = lasts.iter().find(|lasts| lasts["hours_h"].as_f64() == Some(hours)).expect("that horizon");
        assert_eq!(at["probability"].as_f64(), Some(share), "{until}");
        assert!(text.contains("as asked"), "{text}");
        if share < 1.0 {
            assert!(text.contains("Plan for no more than 2 h, until 22:30 today"), "{text}");
        }
    }
    // Without it, the scenario's own length, said aloud; what is left of one that is under way.
    let (text, json) = said("own", &lamp, &at);
    assert!(text.contains("6 h from now, as long as the scenario's outage lasts"), "{text}");
    assert_eq!(json["until"]["kind"].as_str(), Some("own_length"));
    let dated = lamp.replace("month = \"January\"", "start = \"2027-01-14T18:30\"");
    let (text, _) = said("left", &dated, &at);
    assert!(text.contains("4 h from now, the end of the scenario's outage"), "{text}");
    for wrong in ["tomorrow", "0 h", "2027-01-14 20:00", "90 days"] {
        let output = command(&[&NOW[..], &["--until", wrong]].concat()).output().expect("the binary starts");
        let text = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{text}");
        assert!(text.contains("--until is `") && text.contains("allowed: a clock time"), "{text}");
    }
}

#[test]
fn a_battery_below_what_it_should_keep_is_explained_and_may_be_drawn_further() {
    let lead = by_hand("chemistry = \"lead-acid\"", LAMP);
    let at = ["--charge", "43%", "--at", "2027-01-14 20:00", "--until", "30 min"];
    let (text, json) = said("floor", &lead, &at);
    assert!(text.contains("43 % is below the 50 % that this battery should keep"), "{text}");
    assert!(text.contains("below-floor 25%") && text.contains("wears the battery about as much as"), "{text}");
    assert_eq!(json["advice"]["lasts"].as_bool(), Some(false));
    // A tenth of the capacity at the twenty-hour rate is enough for some minutes at any rate of lead-acid's.
    let (text, json) = said("floor", &lead, &[&at[..], &["--below-floor", "1%"]].concat());
    assert!(text.contains("Goes on below the 50 % that this battery should keep"), "{text}");
    assert_eq!(json["floor"]["instead"].as_f64(), Some(0.01));
    let output = command(&[&NOW[..], &["--below-floor", "20%"]].concat()).output().expect("the binary starts");
    assert_eq!(output.status.code(), Some(2), "a floor where the battery keeps none");
}

#[test]
fn food_that_keeps_is_not_called_a_fridge_that_is_on() {
    let fridge = by_hand("", "name = \"box\"\nlike = \"12 V cooler, 30 litres\"");
    let (text, json) = said("food", &fridge, &["--charge", "100%", "--at", "2027-01-14 20:00"]);
    assert!(text.contains("still on, and food not lost, after") && text.contains("The food in the box last"), "{text}");
    assert_eq!(json["courses"][0]["keeps_food"][0].as_str(), Some("box"));
    let (text, _) = said("food", &by_hand("", LAMP), &["--charge", "100%", "--at", "2027-01-14 20:00"]);
    assert!(!text.contains("food"), "{text}");
}

/// What the scenario takes of mains and second station is told with the answer: hours by its own windows, worked out by hand.
#[test]
fn it_is_told_when_the_mains_comes_back_and_how_the_second_station_stands() {
    let ask = |scenario: &str, at: &str| {
        let output = told(&["now", scenario, "--charge", "60 %", "--at", at, "--trials", "200", "--quiet"]);
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        unbroken(&output.stdout)
    };
    let cuts = std::fs::read_to_string(root().join("scenarios/twice-daily-cuts.toml")).expect("the demo");
    assert!(cuts.contains("every_day = [\"09:00-14:00\", \"17:00-23:00\"]"), "{cuts}");
    for (clock, told) in [
        ("12:32", "the mains is off now, until 14:00."),
        ("09:00", "the mains is off now, until 14:00."),
        ("14:00", "the mains is there now, until 17:00."),
        ("23:10", "the mains is there now, until 09:00."),
    ] {
        let text = ask("scenarios/twice-daily-cuts.toml", &format!("2027-07-14 {clock}"));
        assert!(text.contains(told), "{clock}: {text}");
    }
    let text = ask("scenarios/two-stations.toml", "2026-11-18 12:00");
    assert!(text.contains("The second station is taken to be here, charged to"), "{text}");
}

/// A row that the table calls not to be counted on is not named as one that would last: 0.5 W for 6 h of 10 Wh lasts by hand, and
/// the trials say so, but they know nothing of the outlet that lamp and radio together switch off.
#[test]
fn no_row_is_said_to_last_that_the_table_says_not_to_count_on() {
    let two = |limit: &str| {
        let radio = "\n[[load]]\nname = \"radio\"\npriority = \"vital\"\noutlet = \"dc\"\nwatts = \"0.5 W\"";
        by_hand("", &format!("{LAMP}{radio}")).replace("\"120 W\"", limit)
    };
    let at = ["--charge", "10%", "--at", "2027-01-14 20:00"];
    for (limit, verdict, words) in [
        ("\"120 W\"", "count_on_it", "What would last 6 h: only the radio, 100 of 100"),
        (
            "\"50.2 W\"",
            "do_not_count",
            "What lasts longest, though not to be counted on for 6 h: only the radio, 100 of 100",
        ),
    ] {
        let (text, json) = said("overload", &two(limit), &at);
        let radio =
            json["courses"].as_array().and_then(|all| all.iter().find(|course| course["text"] == "only the radio"));
        assert_eq!(radio.expect("the row")["verdict"]["kind"], verdict, "{json}");
        assert!(text.contains(words), "{limit}: {text}");
    }
}
