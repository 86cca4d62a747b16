//! Where an answer could be rosy: watts, cold, rates, short records, rounded lengths. Each check names its source.

use tideover::engine::plan::Sky;
use tideover::engine::{KitPlan, Luck, Plan, Rig};
use tideover::scenario::{Scenario, Source, read};
use tideover::study::endurance::endurance;
use tideover::study::now::{Standing, now};
use tideover::study::size::size;
use tideover::study::{fit, outage};
use tideover::trials::run::Quiet;
use tideover::trials::{Settings, run};
use tideover::weather::{Calendar, Climate, HourlyRecord, Opening, world};

const SETTINGS: Settings = Settings { seed: 11, trials: 1_000, precision: None };

/// A scenario with a station without losses to speak of.
fn text(outage: &str, station: &str, rest: &str) -> String {
    format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\n{outage}\n[station]\nown_draw = \"0 W\"\ncharge_efficiency = \"100 %\"\n\
         discharge_efficiency = \"100 %\"\nself_discharge = \"0 %\"\n{station}\n[station.dc_outlet]\nlimit = \"500 W\"\nidle = \"0 W\"\n\
         efficiency = \"100 %\"\n{rest}\n"
    )
}

fn load(name: &str, more: &str) -> String {
    let outlet = if more.contains("outlet") { "" } else { "outlet = \"dc\"\n" };
    let priority = if more.contains("priority") { "" } else { "priority = \"vital\"\n" };
    format!("[[load]]\nname = \"{name}\"\n{outlet}{priority}{more}\n")
}

fn scenario_of(text: &str) -> Scenario {
    read(&Source::new("t.toml", text)).unwrap_or_else(|problems| panic!("{problems:?}")).0
}

fn here() -> Climate {
    world::lookup(44.2, -72.6, None).expect("land")
}

fn plan_of(text: &str) -> (Scenario, Plan) {
    let scenario = scenario_of(text);
    let plan = Plan::compile(&scenario, &Sky::Climate(here()), 60).expect("a sound scenario");
    (scenario, plan)
}

fn survival(plan: &Plan) -> f64 {
    run(std::slice::from_ref(plan), &SETTINGS, &Quiet)[0].survival_share()
}

const WINTER: &str = "start = \"2027-01-11T06:00\"\nlasts = \"24 h\"\nstarts_charged = \"100 %\"";

#[test]
fn looking_ahead_minds_the_day_of_the_week() {
    // 100 W from Monday to Saturday out of 1 kWh: from a Monday morning some ten hours, from a Sunday morning a day more.
    let days =
        "watts = \"100 W\"\ndays = [\"Mon\", \"Tue\", \"Wed\", \"Thu\", \"Fri\", \"Sat\"]\nhours = \"00:00-24:00\"";
    let battery = "rated_capacity = \"1 kWh\"";
    for begins in ["start = \"2027-01-10T06:00\"", "start = \"2027-01-11T06:00\"", "month = \"January\""] {
        let (_, plan) = plan_of(&text(&format!("{begins}\nlasts = \"2 days\""), battery, &load("heater", days)));
        // 10 January 2027 is a Sunday.
        let lasting = |day: u8, weekday: usize| {
            let standing =
                Standing { charge: 1.0, month: 1, day, weekday, minute_of_day: 6 * 60, opening: Opening::Any };
            now(&plan, &standing, &SETTINGS, &Quiet).expect("an answer").courses[0].lasts.map(|(share, _)| share)
        };
        assert_eq!(lasting(11, 0), [0.0; 4], "{begins}");
        assert_eq!(lasting(10, 6), [1.0, 1.0, 0.0, 0.0], "{begins}");
    }
}

#[test]
fn four_hours_on_and_four_off_halves_a_load_that_has_days_off() {
    // 1 kWh at 100 W and 90 % duty is 11 hours; by turns it is twice that.
    let days = "watts = \"100 W\"\nduty = \"90 %\"\ndays = [\"Mon\", \"Tue\", \"Wed\", \"Thu\", \"Fri\"]";
    let (_, plan) = plan_of(&text(WINTER, "rated_capacity = \"1 kWh\"", &load("heater", days)));
    let standing =
        Standing { charge: 1.0, month: 1, day: 11, weekday: 0, minute_of_day: 4 * 60, opening: Opening::Any };
    let outlook = now(&plan, &standing, &SETTINGS, &Quiet).expect("an answer");
    let turns = outlook.courses.iter().find(|course| course.name.contains("4 h on and 4 h off")).expect("by turns");
    let half = |course: &tideover::study::now::Course| course.half_last_h.expect("runs out");
    assert!(half(turns) > half(&outlook.courses[0]) + 8.0, "{} {}", half(turns), half(&outlook.courses[0]));
}

#[test]
fn unmet_energy_of_a_medical_device_is_warned_of() {
    let warned = |allow: &str, medical: &str| {
        let outage = format!("month = \"January\"\nlasts = \"24 h\"\n{allow}");
        let source = Source::new(
            "t.toml",
            text(&outage, "rated_capacity = \"1 kWh\"", &load("device", &format!("watts = \"10 W\"\n{medical}"))),
        );
        let (_, _, findings) = read(&source).expect("sound");
        findings.iter().any(|problem| problem.key == "outage.allow_unmet")
    };
    assert!(warned("allow_unmet = \"100 Wh\"", "medical = true"));
    assert!(!warned("allow_unmet = \"100 Wh\"", "") && !warned("", "medical = true"));
}
