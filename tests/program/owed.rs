//! What an answer owes to whoever acts on it: no promise that the trials do not hold, and the cautions that a kit calls for.

use std::fs;

use serde_json::Value;

use crate::program::{answered, command, folder, root, unbroken, written};
use crate::verdicts::by_the_rules;

/// A battery without losses and no sun; by hand, watt-hours over watts are hours.
fn plain(outage: &str, station: &str, loads: &str) -> String {
    format!(
        "title = \"plain\"\n[site]\nlatitude = 44.2\nlongitude = -72.6\ntimezone = \"-05:00\"\n[outage]\n{outage}\n[station]\n\
         own_draw = \"0 W\"\nself_discharge = \"0 %\"\ncharge_efficiency = \"100 % ± 0 %\"\ndischarge_efficiency = \"100 % ± 0 %\"\n\
         {station}\n[station.dc_outlet]\nlimit = \"120 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n{loads}"
    )
}

fn load(name: &str, keys: &str) -> String {
    format!("[[load]]\nname = \"{name}\"\npriority = \"vital\"\n{keys}\n")
}

const JANUARY: &str = "month = \"January\"\nlasts = \"4 days\"";
const EXACT: &str = "rated_capacity = \"100 Wh ± 0 %\"";

/// What the program prints of a scenario's text.
#[track_caller]
fn told(test: &str, text: &str, question: &str, more: &[&str]) -> String {
    unbroken(answered(&[&[question, &*written("owed", test, text)], more].concat()))
}

fn demo(name: &str) -> String {
    fs::read_to_string(root().join("scenarios").join(name)).expect("the demo")
}

const FEW: [&str; 3] = ["--quiet", "--trials", "1000"];

#[track_caller]
fn json(test: &str, text: &str, question: &str, more: &[&str]) -> Value {
    serde_json::from_str(&told(test, text, question, &[&FEW[..], more, &["--json"]].concat())).expect("JSON")
}

const STANDING: [&str; 4] = ["--charge", "100 % ± 0 %", "--at", "2027-01-14 20:00"];

#[test]
fn a_look_ahead_is_judged_by_the_whole_outage_and_a_shorter_time_comes_second() {
    // By hand: 100 Wh at 4 W are 25 hours of an outage of four days.
    let lamp = plain(JANUARY, EXACT, &load("lamp", "outlet = \"dc\"\nwatts = \"4 W\""));
    let answer = json("judged", &lamp, "now", &STANDING);
    assert_eq!(answer["judged_h"].as_f64(), Some(96.0));
    assert_eq!(answer["advice"]["verdict"]["kind"], "do_not_count");
    assert_eq!(
        (answer["sooner"]["hours_h"].as_f64(), &answer["sooner"]["verdict"]["kind"]),
        (Some(24.0), &"count_on_it".into())
    );
    let text = told("judged", &lamp, "now", &[&FEW[..], &STANDING].concat());
    let (first, second) =
        (text.find("To last 4 days: do not count on it."), text.find("For a shorter time, 24 h: count on it"));
    assert!(first.expect("the verdict") < second.expect("the shorter time"), "{text}");
    assert!(text.contains("As planned it will not last 4 days."), "{text}");
}

#[test]
fn a_look_ahead_names_options_as_they_are_typed_and_tells_no_more_hours_than_it_looks() {
    let lamp =
        plain("month = \"January\"\nlasts = \"3 days\"", EXACT, &load("lamp", "outlet = \"dc\"\nwatts = \"1 W\""));
    let text = told("switches", &lamp, "now", &[&FEW[..], &STANDING[..2], &["--at", "2027-01-14 20:00"]].concat());
    assert!(text.contains("(typed: --until 22:00)") && text.contains("(typed: --sky "), "{text}");
    assert!(text.contains("over 3 days") && !text.contains("over 4 days"), "{text}");
    assert!(text.contains("Go on as planned. The lamp lasts 3 days in"), "{text}");
}

#[test]
fn a_look_ahead_says_what_a_run_says_of_food_gas_and_what_it_rests_on() {
    let fridge = load("fridge", "outlet = \"dc\"\nwatts = \"40 W\"\nduty = \"30 %\"");
    let kit = plain(JANUARY, "rated_capacity = \"100 Wh\"\nchemistry = \"lead-acid\"", &fridge);
    let now = told("food", &kit, "now", &[&FEW[..], &STANDING].concat());
    for (question, text) in
        [("now", &now), ("run", &told("food", &kit, "run", &FEW)), ("card", &told("food", &kit, "card", &FEW))]
    {
        for part in ["door closed: food keeps about 4 hours", "above 4 °C (40 °F)", "gives off hydrogen"] {
            assert!(text.contains(part), "{question} lacks {part}: {text}");
        }
    }
    assert!(
        now.contains("Nobody has tested this station's capacity") && now.contains("follow the makers' manuals"),
        "{now}"
    );
    assert!(!now.contains("4 h off"), "{now}");
    let cooler = plain(JANUARY, EXACT, &load("box", "like = \"12 V cooler, 30 litres\""));
    let answer = json("cooler", &cooler, "now", &STANDING);
    assert_eq!((&answer["food"][0]["load"], &answer["food"][0]["part"]), (&"box".into(), &"fridge".into()));
}

#[test]
fn a_device_that_may_fail_is_given_somewhere_else_to_go_and_its_makers_supply() {
    let device = load("breather", "outlet = \"dc\"\nwatts = \"30 W\"\nmedical = true");
    let kit = plain(JANUARY, EXACT, &device);
    let now = told("device", &kit, "now", &[&FEW[..], &STANDING].concat());
    let (run, card) = (told("device", &kit, "run", &FEW), told("device", &kit, "card", &FEW));
    for text in [&now, &run, &card] {
        for part in
            ["a hospital or clinic, a neighbour with power", "only through the DC supply that its maker approves"]
        {
            assert!(text.contains(part), "{part}: {text}");
        }
    }
    // One that can be counted on is not sent away.
    let sure = plain("month = \"January\"\nlasts = \"1 h\"\nstarts_charged = \"100 %\"", EXACT, &device);
    assert!(!told("sure", &sure, "run", &FEW).contains("a hospital or clinic"));
}

#[test]
fn a_card_counts_a_devices_hours_by_the_lower_end() {
    // By hand: 1 kWh at 50 W are 20 h; ± 20 % is the 95 % range of a normal distribution, so 39 of 40 kits last 16 h.
    let device = load("breather", "outlet = \"dc\"\nwatts = \"50 W\"\nmedical = true");
    let card = told("lower", &plain(JANUARY, "rated_capacity = \"1 kWh ± 20 %\"", &device), "card", &FEW);
    let row = card.split("breather alone").nth(1).unwrap_or_else(|| panic!("{card}"));
    let hours: f64 =
        row.split_whitespace().next().and_then(|cell| cell.parse().ok()).unwrap_or_else(|| panic!("{row}"));
    // Standard error of that quantile of 400 draws: 0.27 h.
    assert!((hours - 16.0).abs() < 1.0, "{hours}: {card}");
    assert!(card.contains("39 of 40 kits like this one last at least as long as this"), "{card}");
}

#[test]
fn hours_without_sun_end_where_the_outlet_switches_itself_off() {
    // By hand: under 8 W an AC outlet stays on for an hour (assumed); 5 W would empty 1 kWh in days.
    let inverter = "rated_capacity = \"1 kWh\"\n[station.inverter]\nrated = \"300 W\"\nidle = \"5 W\"";
    let lamp = plain(JANUARY, inverter, &load("lamp", "outlet = \"ac\"\nwatts = \"5 W\""));
    let check = told("asleep", &lamp, "check", &[]);
    assert!(check.contains("a full battery runs everything for 1 h "), "{check}");
    let card = told("asleep", &lamp, "card", &FEW);
    assert!(
        card.contains("Lamp alone: no more than 1 h can be counted on at any charge, as its AC outlet may"),
        "{card}"
    );
    let on = plain(
        JANUARY,
        &format!("{inverter}\nswitches_off_below = \"0 W\""),
        &load("lamp", "outlet = \"ac\"\nwatts = \"5 W\""),
    );
    assert!(!told("awake", &on, "check", &[]).contains("everything for 1 h "));
}

#[test]
fn an_allowance_that_nothing_can_use_up_is_refused_or_said() {
    let lamp = load("lamp", "outlet = \"dc\"\nwatts = \"10 W\"\nhours = \"18:00-20:00\"");
    let file = folder("owed", "allowance").join("scenario.toml");
    // By hand: 20 Wh a day are 80 Wh in four days.
    for (allowed, code) in [("80 Wh", 2), ("79 Wh", 0)] {
        let text = plain(&format!("{JANUARY}\nallow_unmet = \"{allowed}\""), EXACT, &lamp);
        fs::write(&file, text).expect("a file to write to");
        let output = command(&["run", &file.display().to_string()]).args(FEW).output().expect("a start");
        let said = unbroken(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{allowed}: {said}");
        assert_eq!(said.contains("so none could ever fail"), code == 2, "{said}");
    }
    let text = told("allowed", &demo("food-and-little-unmet.toml"), "run", &FEW);
    assert!(text.contains("Nothing here hangs on the phones: the scenario lets 500 Wh be missed"), "{text}");
    assert!(!text.contains("the phones stayed on"), "{text}");
}

#[test]
fn a_run_says_what_starts_again_who_starts_and_what_nobody_wrote() {
    let fuel = demo("two-weeks-of-fuel.toml");
    let text = told("hand", &fuel, "run", &FEW);
    assert!(text.contains("stays off until somebody who is at home switches it on"), "{text}");
    assert!(!text.contains("starts again by itself"), "{text}");
    // The input's greatest volts are not written there: the answer itself says so.
    assert!(text.contains("the solar input does not say its highest voltage, so nobody knows"), "{text}");
    let never = fuel.replace("\"16:00-23:00\"]", "\"12:00-13:00\"]");
    assert!(
        told("never", &never, "run", &FEW).contains("the generator is never started: nobody is at home in its hours")
    );
    let hot = told("hot", &demo("food-and-little-unmet.toml"), "run", &FEW);
    assert!(hot.contains("a room without cooling may be warmer") && !hot.contains("takes the heating"), "{hot}");
}

#[test]
fn fuel_is_the_same_on_the_card_in_a_run_and_in_its_json() {
    let fuel = demo("two-weeks-of-fuel.toml");
    let answer = json("fuel", &fuel, "run", &[]);
    let [mean, most] = ["fuel_l", "fuel_most_l"].map(|key| format!("{:.1} L", answer[key].as_f64().expect(key)));
    // By hand: 600 W for 2.5 h a day at 0.45 L/kWh and 0.25 L/h, each ± 15 %, for 14 days.
    assert_eq!(most, format!("{:.1} L", 1.15 * 14.0 * (0.6 * 2.5 * 0.45 + 2.5 * 0.25)));
    for question in ["run", "card"] {
        let text = told("fuel", &fuel, question, &FEW);
        let burns = format!("burns {}", &mean[..mean.len() - 2]);
        // 20.9 L and a little are told as no less than they are.
        assert!(text.contains(&burns) && text.contains("Fuel to have: 21.0 L for 14 days"), "{question}: {text}");
    }
}

#[test]
fn nothing_is_proposed_that_harms_and_a_dark_vital_thing_is_named() {
    for name in ["food-and-little-unmet.toml", "two-weeks-of-fuel.toml", "device-night.toml"] {
        let answer = json("harm", &demo(name), "run", &[]);
        for change in answer["changes"].as_array().expect("changes") {
            assert!(change["difference"].as_f64().expect("a difference") >= 0.0, "{name}: {change}");
            if change["kind"] == "off_at_night" && change["vital"] == true {
                assert!(change["text"].as_str().is_some_and(|text| text.ends_with("though it is vital")), "{change}");
            }
            if change["kind"] == "move_load" && change["medical"] == true {
                assert_eq!(change["costs"], "money", "{change}");
            }
        }
        // What would make it surer: another verdict, a range narrower by a tenth, or, measured in a day beside what takes years, by
        // one in a hundred.
        let width = |of: &Value, low: &str, high: &str| of[high].as_f64().expect(high) - of[low].as_f64().expect(low);
        let now = width(&answer["survival"], "low", "high");
        let list = answer["surer"].as_array().expect("a list");
        for (place, surer) in list.iter().enumerate() {
            let beside = place + 1 < list.len();
            let least = if beside { now - 0.01 } else { 0.9 * now };
            let narrower = width(surer, "then_low", "then_high") <= least + 1e-9;
            let ends = |of: &Value, keys: [&str; 3]| keys.map(|key| of[key].as_f64().expect(key));
            let medical = answer["medical"] == true;
            let [before, then] = [
                ends(&answer["survival"], ["low", "probability", "high"]),
                ends(surer, ["then_low", "then_probability", "then_high"]),
            ]
            .map(|[low, estimate, _]| by_the_rules(low, estimate, medical));
            assert!(narrower || before != then, "{name}: {surer}");
        }
    }
}

#[test]
fn shares_and_hours_of_a_table_are_told_as_everywhere() {
    let fuel = demo("two-weeks-of-fuel.toml");
    let (text, answer) = (told("digits", &fuel, "run", &FEW), json("digits", &fuel, "run", &[]));
    let pump = &answer["loads"][0];
    let share = pump["always_on"]["probability"].as_f64().expect("a share");
    let row = text.split("pump of the heating vital AC").nth(1).unwrap_or_else(|| panic!("{text}"));
    let row = row.split("router").next().expect("its row");
    assert!(row.contains(&format!(" {:.0} of 100 (", 100.0 * share)), "{row}");
    let [from, to] = ["first_off_from_h_p50", "first_off_h_p50"].map(|key| pump[key].as_f64().expect(key));
    // Beyond five days in days, rounded outwards to a tenth.
    let [from, to] = [(from / 2.4).floor() / 10.0, (to / 2.4).ceil() / 10.0];
    assert!(row.contains(&format!("{from}-{to} (")) && row.contains(") days"), "{row}");
    let first = &answer["first_failure"];
    assert_eq!(first["after_h_p50"].as_f64(), first["from_h_p50"].as_f64().map(|hours| hours + 1.0), "{first}");
}
