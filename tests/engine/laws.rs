//! More to live on, or less to feed, never loses a trial that was survived before: random kits, trial by trial, on the same weather
//! and the same draws. What breaks a law for a physical reason is named with the law, and left out of the kits that it is asked of.

use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::TestRunner;
use tideover::engine::Plan;
use tideover::engine::plan::Sky;
use tideover::scenario::{Source, read};
use tideover::trials::run::Quiet;
use tideover::trials::{Settings, run};
use tideover::weather::world;

use crate::random_kits::scenarios;

/// The plan of a made scenario; `None` where its place lies in the sea.
fn plan(text: &str) -> Option<Plan> {
    let (scenario, _, _) = read(&Source::new("random.toml", text)).expect("a sound scenario");
    let climate = world::lookup(scenario.site.latitude_deg, scenario.site.longitude_deg, None).ok()?;
    Some(Plan::compile(&scenario, &Sky::Climate(climate), 60).expect("a sound scenario"))
}

/// A law.
struct Law {
    name: &'static str,
    /// Leaves out of a scenario what the law does not hold with.
    without: fn(&str) -> String,
    /// The plan with more to live on than the one as written.
    with: fn(&str) -> Option<Plan>,
}

const LAWS: [Law; 3] = [
    Law { name: "more battery", without: well_charged, with: more_battery },
    Law { name: "more panels", without: searching, with: more_panels },
    Law { name: "less load", without: awake, with: less_load },
];

fn more_battery(text: &str) -> Option<Plan> {
    let mut plan = plan(text)?;
    plan.kit.scale *= 1.25;
    Some(plan)
}

/// Cells that begin below what is kept in them must be charged up to it before anything runs, and that is more in larger ones.
fn well_charged(text: &str) -> String {
    each_line(text, |line| match line.strip_prefix("starts_charged = ") {
        Some(_) => Some("starts_charged = \"85 %\"".to_owned()),
        None => Some(line.to_owned()),
    })
}

fn more_panels(text: &str) -> Option<Plan> {
    let mut plan = plan(text)?;
    for array in &mut plan.arrays {
        array.rated_w *= 1.25;
        array.rated_w_sd *= 1.25;
    }
    Some(plan)
}

/// A controller without a search for the best power takes nothing from panels whose volts, less the cable's, lie below the battery's:
/// more amps lose more volts on the same cable. Likewise an input below the least volts that it starts at.
fn searching(text: &str) -> String {
    let heeds = ["pwm_at", "volts_min"];
    each_line(text, |line| (!heeds.iter().any(|key| line.starts_with(key))).then(|| line.to_owned()))
}

/// Every load that is a number of watts takes four fifths.
fn less_load(text: &str) -> Option<Plan> {
    plan(&each_line(text, |line| match line.strip_prefix("watts = \"").and_then(|rest| rest.strip_suffix(" W\"")) {
        Some(watts) => Some(format!("watts = \"{:.1} W\"", 0.8 * watts.parse::<f64>().expect("watts"))),
        None => Some(line.to_owned()),
    }))
}

/// An outlet that sleeps or switches off while little is asked of it feeds a large load and not a small one.
fn awake(text: &str) -> String {
    let heeds = ["sleeps", "wakes_above", "switches_off"];
    each_line(text, |line| match line {
        "[station.inverter]" => Some(format!("{line}\nswitches_off_below = \"0 W\"")),
        _ => (!heeds.iter().any(|key| line.starts_with(key))).then(|| line.to_owned()),
    })
}

fn each_line(text: &str, to: impl Fn(&str) -> Option<String>) -> String {
    text.lines().filter_map(|line| to(line).map(|line| line + "\n")).collect()
}

/// Trials that a law gained and lost.
fn compared(law: &Law, text: &str, trials: u64) -> Option<(u64, u64)> {
    let plans = [plan(text)?, (law.with)(text)?];
    let [before, after] = &run(&plans, &Settings { seed: 5, trials, precision: None }, &Quiet)[..] else { return None };
    let pairs = || before.survival.iter().zip(&after.survival);
    let gained = pairs().filter(|(before, after)| !**before && **after).count();
    let lost = pairs().filter(|(before, after)| **before && !**after).count();
    Some((gained as u64, lost as u64))
}

/// Holds every law on so many made kits.
pub fn hold(kits: u64, trials: u64) {
    let mut runner = TestRunner::deterministic();
    let made = scenarios();
    let mut gained = [0; 3];
    for _ in 0..kits {
        let text = made.new_tree(&mut runner).expect("a scenario").current();
        for (law, gained) in LAWS.iter().zip(&mut gained) {
            let text = (law.without)(&text);
            let Some((more, lost)) = compared(law, &text, trials) else { continue };
            *gained += more;
            assert_eq!(lost, 0, "{} loses {lost} of {trials} trials:\n{text}", law.name);
        }
    }
    println!("{kits} kits of {trials} trials: battery, panels, load gained {gained:?}, none lost");
    assert!(gained.iter().all(|gained| *gained > 0), "no kit was on the edge: {gained:?}");
}

#[test]
fn more_to_live_on_loses_no_trial() {
    hold(40, 48);
}
