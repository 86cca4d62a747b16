//! Years of random outages: what must come out whatever the kit, and conclusions that hold under finer steps and more
//! histories.

use std::path::Path;

use tideover::report::{json, years as years_report};
use tideover::study::years::{YearsAnswer, YearsPlan, YearsSettings, years};
use tideover::trials::run::Quiet;
use tideover::trials::{Settings, run};

use crate::common::{plan_of, scenario_of};
use crate::program;

const DEMO: &str = include_str!("../../scenarios/ten-years.toml");

fn compile(text: &str, step_minutes: u32) -> YearsPlan {
    let scenario = scenario_of(text);
    let plan = plan_of(&scenario, step_minutes);
    YearsPlan::compile(&scenario, &plan, None).expect("a plan of years")
}

fn answer(plan: &YearsPlan, histories: u64, years_long: usize) -> YearsAnswer {
    years(plan, &YearsSettings { seed: 1, histories, years: years_long }, &Quiet).expect("an answer")
}

/// The demo with the sections about years replaced.
fn with_years(sections: &str) -> String {
    let kit = DEMO.split("[outages]").next().expect("the part before the outages");
    format!("{kit}{sections}")
}

#[test]
fn a_full_cycle_a_day_wears_a_battery_out_in_the_trades_five_and_a_half_years() {
    // Common practice, no source: 2000 full cycles to 80 %, 5.5 years of one a day; about 4000 cycles between 80 and
    // 20 %. A heater empties the battery within hours, the night fills it again; outages are as good as none.
    let text = with_years(
        r#"
[[load]]
name = "heater"
outlet = "ac"
priority = "spare"
watts = "400 W"
[outages]
frequency = "0.001 a year"
lasts = "1 h"
[wear]
model = "trade rule"
[[strategy]]
name = "full cycles"
daily_use = { between = ["0 %", "100 %"], loads = ["heater"], recharge = "00:00-06:00" }
[[strategy]]
name = "80 to 20"
daily_use = { between = ["20 %", "80 %"], loads = ["heater"], recharge = "00:00-06:00" }
"#,
    )
    // Cells that give all they hold at any rate are emptied whole every day.
    .replace("chemistry = \"LFP\"", "chemistry = \"LFP\"\nloses_by_rate = \"0 %\"");
    // The rule for NMC is another: 500 and 1000.
    let nmc = text.replace("chemistry = \"LFP\"", "chemistry = \"NMC\"");
    assert_ne!(nmc, text);
    // A life ends at the end of a day, and the first night recharges what no day had taken: within four days (0.01 years).
    let worn = answer(&compile(&nmc, 60), 20, 10);
    for (strategy, cycles) in worn.strategies.iter().zip([500.0, 1000.0]) {
        assert!((strategy.years.mean - cycles / 365.0).abs() < 0.01, "{} years", strategy.years.mean);
    }
    let answer = answer(&compile(&text, 60), 20, 10);
    let [full, gentle] = &answer.strategies[..] else { panic!("two strategies") };
    // The night before the first day has nothing to count: half a cycle of 3,650 in ten years, so 0.05 a year.
    assert!((full.full_cycles_a_year - 365.0).abs() < 0.1, "{} cycles a year", full.full_cycles_a_year);
    assert!((full.years.mean - 2000.0 / 365.0).abs() < 0.01, "{} years", full.years.mean);
    assert!((gentle.years.mean - 4000.0 / 365.0).abs() < 0.01, "{} years", gentle.years.mean);
    // Where the published laws disagree: kinder to cycles at 22 °C, but standing still wears too.
    let published: Vec<f64> = full.years_by_model.iter().map(|years| years.mean).collect();
    assert!(published[0] > published[2] && published[1] > published[2], "{published:?}");
}

#[test]
fn a_battery_at_rest_lives_as_long_as_the_calendar_law_says() {
    // Naumann et al. 2018 at 25 °C: 20 % after 22.11 years at half charge (checks of the paper's own projection). A
    // battery held there all its life must come out the same; outages are as good as none.
    let text = with_years(
        r#"
[outages]
frequency = "0.001 a year"
lasts = "1 h"
[[strategy]]
name = "half full"
rest_at = "50 %"
stored_at = "25 °C"
"#,
    );
    let answer = answer(&compile(&text, 60), 10, 10);
    let years = answer.strategies[0].years.mean;
    // A year here has 365 days, there 365.25; a life ends on a whole day (0.003 years), and the printed figure has four decimals.
    assert!((years - 22.1138 * 365.25 / 365.0).abs() < 0.003, "{years} years");
}

#[test]
fn readiness_follows_charge_and_age() {
    // A bigger charge under the same outages never rides through fewer of them.
    let text = with_years(
        r#"
[outages]
frequency = "4 a year"
lasts = { median = "12 h", p95 = "60 h" }
[[strategy]]
name = "full"
[[strategy]]
name = "half"
rest_at = "50 %"
[[strategy]]
name = "hot"
stored_at = "45 °C"
"#,
    );
    let answer = answer(&compile(&text, 60), 200, 10);
    let [full, half, hot] = &answer.strategies[..] else { panic!("three strategies") };
    assert!(half.more_than_first.1.high < 0.0, "half full costs outages: {:?}", half.more_than_first);
    assert!(half.years.mean > full.years.mean + 5.0);
    assert!(hot.years.mean < full.years.mean - 2.0);
    // The hot battery starts as ready as the other and falls behind as it ages. In its first year it has lost a few percent of
    // capacity on the mean, and some 800 outages tell a share no closer than 0.02.
    assert!((hot.by_year[0].probability - full.by_year[0].probability).abs() < 0.02);
    let behind = full.rode_last.probability - hot.rode_last.probability;
    assert!(behind > 0.02, "the hot battery is only {behind} behind in its last years");
    assert!(hot.rode_last.probability < hot.rode_first.probability - 0.02);
}

#[test]
fn rare_january_outages_of_a_new_battery_come_out_as_run_answers_them() {
    // The same question on two roads: `run` draws one January outage after another from a battery at 80 %; the years
    // draw rare ones out of whole histories of weather, with a law of wear that is blind to standing still.
    let months = "winter = 0, spring = 0, summer = 0, autumn = 0, january = 1";
    let text = with_years(&format!(
        "[outages]\nfrequency = \"0.5 a year\"\nlasts = {{ median = \"6 h\", p95 = \"60 h\" }}\n\
         season_weights = {{ {months} }}\nin_bad_weather = \"0 %\"\n[wear]\nmodel = \"trade rule\"\n\
         [[strategy]]\nname = \"at 80 %\"\nrest_at = \"80 %\"\n"
    ));
    let plan = compile(&text, 60);
    let rode = answer(&plan, 16_000, 1).strategies[0].rode;
    let outage = plan_of(&scenario_of(&text), 60);
    let settings = Settings { seed: 2, trials: 16_000, precision: None };
    let tally = &run(&[outage], &settings, &Quiet)[0];
    let (p, q) = (rode.probability, tally.survival_share());
    let (n, m) = (rode.outages as f64, tally.trials as f64);
    assert!(n > 7_000.0, "{n} outages");
    // 4.9 standard errors of the difference: a false alarm once in a million.
    let error = (p * (1.0 - p) / n + q * (1.0 - q) / m).sqrt();
    assert!((p - q).abs() < 4.9 * error, "{p} over years, {q} one by one, standard error {error}");
}

#[test]
fn an_outage_is_as_long_over_the_years_as_one_by_one() {
    // 4.4 h are simulated as five whole hours on either road: a battery that holds for some 4.5 h carries none of them.
    let kit = |lasts: &str| {
        format!(
            "title = \"t\"\n[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nmonth = \"January\"\nlasts = \"{lasts}\"\n\
             starts_charged = \"100 %\"\n[station]\nrated_capacity = \"120 Wh\"\nmeasured_capacity = \"90 Wh\"\n\
             measured_at = \"dc\"\nmeasured_load = \"20 W\"\nchemistry = \"LFP\"\n[station.dc_outlet]\nlimit = \"100 W\"\n\
             [station.wall_charger]\nlimit = \"50 W\"\n[[load]]\nname = \"radio\"\noutlet = \"dc\"\npriority = \"vital\"\n\
             watts = \"20 W\"\n[outages]\nfrequency = \"6 a year\"\nlasts = \"{lasts}\"\nin_bad_weather = \"0 %\"\n\
             [[strategy]]\nname = \"full\"\nrest_at = \"100 %\"\n"
        )
    };
    let both = |lasts: &str| {
        let text = kit(lasts);
        let rode = answer(&compile(&text, 60), 60, 1).strategies[0].rode.probability;
        let plan = plan_of(&scenario_of(&text), 60);
        (rode, run(&[plan], &Settings { seed: 2, trials: 200, precision: None }, &Quiet)[0].survival_share())
    };
    assert_eq!(both("4.4 h"), (0.0, 0.0));
    assert_eq!(both("5 h"), (0.0, 0.0));
    let (years, one) = both("4 h");
    assert!(years > 0.9 && one > 0.9, "{years} over years, {one} one by one");
}

/// Every conclusion of an answer against the same of another, within both their intervals.
fn assert_alike(a: &YearsAnswer, b: &YearsAnswer, why: &str) {
    assert_eq!(a.strategies.len(), 5);
    assert_eq!(a.strategies[a.choice].name, b.strategies[b.choice].name, "{why}: the choice");
    for (x, y) in a.strategies.iter().zip(&b.strategies) {
        let (p, q) = (&x.rode, &y.rode);
        assert!(
            p.chance.low <= q.chance.high && q.chance.low <= p.chance.high,
            "{why}: {} rides through {p:?} or {q:?}",
            x.name
        );
        let ((_, i), (_, j)) = (x.more_than_first, y.more_than_first);
        assert!(i.low <= j.high && j.low <= i.high, "{why}: {} differs by {i:?} or {j:?}", x.name);
        // Years have hardly any chance in them: half a tenth of a year and 1 %.
        let (s, t) = (x.years.mean, y.years.mean);
        assert!((s - t).abs() < 0.05 + 0.01 * s, "{why}: {} lasts {s} or {t} years", x.name);
    }
}

#[test]
fn halving_the_step_or_doubling_the_histories_changes_no_conclusion() {
    let base = answer(&compile(DEMO, 60), 200, 10);
    assert_alike(&base, &answer(&compile(DEMO, 30), 200, 10), "half the step");
    assert_alike(&base, &answer(&compile(DEMO, 60), 400, 10), "twice the histories");
}

#[test]
fn the_answer_does_not_depend_on_the_threads() {
    let scenario = scenario_of(DEMO);
    let plan = compile(DEMO, 60);
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        let answer = pool.install(|| answer(&plan, 60, 5));
        json::text("years", &years_report::json::of(&scenario, &answer, &[]))
    };
    let one = on(1);
    assert!(one.contains("\"kind\": \"years\""));
    assert_eq!(one, on(3));
}

#[test]
fn growing_resistance_costs_readiness() {
    let answers = ["false", "true"].map(|grows| {
        let text = with_years(&format!(
            "[outages]\nfrequency = \"6 a year\"\nlasts = {{ median = \"20 h\", p95 = \"60 h\" }}\n[wear]\n\
             resistance_grows = {grows}\n[[strategy]]\nname = \"warm\"\nstored_at = \"40 °C\"\n"
        ));
        // Some outages in ten thousand: the same histories, enough of them to hold a few.
        answer(&compile(&text, 60), 600, 10)
    });
    let last = answers.each_ref().map(|answer| answer.strategies[0].rode_last.probability);
    assert!(last[1] < last[0], "{last:?}");
}

fn tideover(arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = program::tideover(arguments);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    (output.status.code(), text(output.stdout), text(output.stderr))
}

#[test]
fn the_command_decides_draws_and_exits_as_it_should() {
    let folder = std::env::temp_dir().join(format!("tideover-years-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let (html, csv) = (folder.join("years.html"), folder.join("years.csv"));
    let path = |p: &Path| p.display().to_string();
    let (html_path, csv_path) = (path(&html), path(&csv));
    let few = ["--histories", "40", "--quiet"];
    let arguments =
        [&["years", "scenarios/ten-years.toml", "--html", &html_path, "--csv", &csv_path], &few[..]].concat();
    let (code, out, _) = tideover(&arguments);
    assert_eq!(code, Some(0));
    assert!(out.contains("Choose \"") && out.contains("\"kept at 80 %\" rides through"), "{out}");
    let page = std::fs::read_to_string(&html).expect("a page");
    assert!(page.matches("<svg").count() >= 4 && page.matches("<svg").count() == page.matches("</svg>").count());
    assert!(!page.contains("NaN") && !page.contains("http"));
    let lines = std::fs::read_to_string(&csv).expect("a table");
    assert_eq!(lines.lines().count(), 6);
    let columns = lines.lines().next().map_or(0, |head| head.split(',').count());
    assert_eq!(columns, 27, "{lines}");
    // What lies beyond what can be foretold is flagged: the trade rule gives the kept-full battery over 40 years.
    let (heads, first) = (lines.lines().next().expect("heads"), lines.lines().nth(1).expect("a row"));
    let cells = || heads.split(',').zip(first.split(','));
    let of = |name: &str| cells().find(|(head, _)| *head == name).expect(name).1;
    assert_eq!((of("years_trade_rule"), of("years_trade_rule_or_more")), ("40.000", "true"), "{lines}");
    assert_eq!(of("years_or_more"), "false", "{lines}");
    let told = out.replace('\n', " ");
    let (code, json, _) = tideover(&[&["years", "scenarios/ten-years.toml", "--json"], &few[..]].concat());
    let value: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(code, Some(0));
    assert_eq!(value["strategies"].as_array().map(Vec::len), Some(5));
    // The middle law of three leads, with the laws' spread behind it.
    let chosen = value["strategies"].as_array().and_then(|all| all.iter().find(|one| one["name"] == value["choice"]));
    let chosen = chosen.expect("the choice");
    let mut laws: Vec<f64> =
        (0..3).map(|k| chosen["laws"][k]["years_to_80_percent"]["mean"].as_f64().expect("years")).collect();
    laws.sort_by(f64::total_cmp);
    assert_eq!(chosen["years_middle_law"].as_f64(), Some(laws[1]));
    let spread = format!("for about {:.1} years ({:.1} to over 40, by the law of wear)", laws[1], laws[0]);
    assert!(told.contains(&spread), "{spread}: {out}");
    assert!(told.contains(&format!("{:.1} ({:.1} to over 40)", laws[1], laws[0])), "{out}");
    assert!(value["strategies"][0]["rode"]["low"].as_f64() < value["strategies"][0]["rode"]["high"].as_f64());
    // A scenario without strategies, and one of cells that no law is known for, are refused.
    let (code, _, error) = tideover(&["years", "scenarios/winter-storm.toml"]);
    assert!(code == Some(2) && error.contains("[[strategy]]"), "{error}");
    let lead = folder.join("lead.toml");
    std::fs::write(
        &lead,
        DEMO.replace("chemistry = \"LFP\"", "chemistry = \"lead-acid\"").replace("1.72 kWh", "1.5 kWh"),
    )
    .expect("a file");
    let (code, _, error) = tideover(&["years", &path(&lead)]);
    assert!(code == Some(2) && error.contains("no law of wear"), "{error}");
    // A record of outages stands beside the scenario.
    let own = folder.join("own.toml");
    let often = "frequency = \"2.5 a year\"\nlasts = { median = \"6 h\", p95 = \"60 h\" }\n";
    assert!(DEMO.contains(often));
    let history = "history = { file = \"outages.csv\", years = \"4 years\" }\n";
    std::fs::write(&own, DEMO.replace(often, history)).expect("a file");
    let (code, _, error) = tideover(&["years", &path(&own)]);
    assert!(code == Some(2) && error.contains("outages.csv"), "{error}");
    std::fs::write(
        folder.join("outages.csv"),
        "start,hours\n2023-01-09T03:00,5\n2023-12-18T17:30,31\n2025-10-02T08:00,2\n",
    )
    .expect("a file");
    let (code, out, _) = tideover(&[&["years", &path(&own)], &few[..]].concat());
    assert!(code == Some(0) && out.contains("your own record"), "{out}");
    std::fs::remove_dir_all(&folder).expect("the folder to go");
}
