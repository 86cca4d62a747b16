//! AC loads that run on a generator while it runs, by closed forms: watts times hours, litres over what they burn.

use tideover::engine::{Flow, LoadOutcome, Outcome, Plan, Silent};

use crate::common::{plan_of, scenario_of};
use crate::{FIRST, one_trial};

/// A battery that loses nothing and an inverter that loses nothing; three days from a midnight on.
fn text(outage: &str, generator: &str, loads: &str) -> String {
    format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"3 days\"\n{outage}\n\
         [station]\nrated_capacity = \"500 Wh ± 0 %\"\nown_draw = \"0 W\"\nself_discharge = \"0 %\"\nloses_by_rate = \"0 %\"\n\
         tapers_from = \"100 %\"\ncharge_efficiency = \"100 % ± 0 %\"\ndischarge_efficiency = \"100 % ± 0 %\"\n\
         [station.inverter]\nrated = \"1 kW\"\nidle = \"0 W ± 0 W\"\nefficiency = [{{ load = \"500 W\", efficiency = \"100 %\" }}]\n\
         switches_off_below = \"0 W\"\n[station.dc_outlet]\nlimit = \"120 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n\
         [station.wall_charger]\nlimit = \"500 W\"\nefficiency = \"100 %\"\n{generator}\n{loads}\n"
    )
}

const FULL: &str = "starts_charged = \"100 %\"";
const EMPTY: &str = "starts_charged = \"0 %\"";

fn generator(limit: &str, hours: &str, more: &str) -> String {
    format!("[generator]\nlimit = \"{limit}\"\nhours = \"{hours}\"\n{more}")
}

fn load(name: &str, priority: &str, more: &str) -> String {
    format!("[[load]]\nname = \"{name}\"\noutlet = \"ac\"\npriority = \"{priority}\"\n{more}\n")
}

fn run_by(text: &str, step_minutes: u32) -> (Outcome, Vec<LoadOutcome>) {
    let plan = plan_of(&scenario_of(text), step_minutes);
    let (outcome, loads) = one_trial(&plan, FIRST, &mut Silent);
    assert!(outcome.ledger.imbalance() < 1e-9);
    (outcome, loads)
}

fn round(number: f64) -> f64 {
    (number * 1e6).round() / 1e6
}

/// Straight to loads, all that the generator gave, burnt \[Wh\], \[Wh\], \[L\].
fn given(text: &str) -> (f64, f64, f64) {
    let (outcome, _) = run_by(text, 60);
    (round(outcome.direct_wh), round(outcome.ledger[Flow::Wall]), round(outcome.burnt_l))
}

/// Hours that the first load went without, and the step of the first failure.
fn dark(text: &str) -> (f64, Option<u32>) {
    let (outcome, loads) = run_by(text, 60);
    (round(loads[0].off_h), outcome.failure.map(|(step, _)| step))
}

#[test]
fn hours_on_the_generator_are_hours_without_the_load() {
    // 50 W of 500 Wh: ten hours. The generator carries the load from 8 to 10 and has nothing left for the charger.
    let pump = load("pump", "vital", "watts = \"50 W\"");
    let fed = text(FULL, &generator("50 W", "08:00-10:00", "feeds_ac = \"by hand\""), &pump);
    let rests = text(FULL, "", &load("pump", "vital", "watts = \"50 W\"\nhours = \"10:00-08:00\""));
    // Ten hours of 66 either way, dark from 12:00 on.
    assert_eq!(dark(&fed), (56.0, Some(12)));
    assert_eq!(dark(&rests), (56.0, Some(12)));
    assert_eq!(given(&fed), (300.0, 300.0, 0.0));
    // As it is without the key: the charger takes the 50 W, the station gives them out again.
    let station = text(FULL, &generator("50 W", "08:00-10:00", ""), &pump);
    assert_eq!((dark(&station), given(&station)), ((56.0, Some(12)), (0.0, 300.0, 0.0)));
    // What the inverter would lose of it is saved. A tenth of the station's power is lost: nine hours from the cells on the first day
    // and six on the generator; through the station 1.8 hours of each two.
    let lossy = |text: &str| text.replace("\"500 W\", efficiency = \"100 %\" }", "\"50 W\", efficiency = \"90 %\" }");
    assert_eq!(dark(&lossy(&fed)).0, 72.0 - 9.0 - 6.0);
    assert_eq!(dark(&lossy(&station)).0, 72.0 - 9.0 - 5.4);
}

#[test]
fn the_charger_has_what_the_loads_leave() {
    let press = load("press", "vital", "watts = \"200 W\"\nhours = \"08:00-12:00\"");
    let of = |limit: &str, more: &str| text(EMPTY, &generator(limit, "08:00-10:00", more), &press);
    // Two hours of three days. 500 W: 200 for the load and 300 for the charger; the first hours fill 500 Wh in 1.67 h, and what
    // the load takes of it from 10:00 on is made good on the next day: 400 Wh of the 500.
    let fed = given(&of("500 W", "feeds_ac = \"by hand\""));
    assert_eq!(fed, (1200.0, 1200.0 + 500.0 + 400.0 + 400.0, 0.0));
    // 250 W leave 50 W: 100 Wh a day, half an hour of light behind the generator's two.
    let small = of("250 W", "feeds_ac = \"by hand\"");
    assert_eq!((given(&small), dark(&small).0), ((1200.0, 1500.0, 0.0), 3.0 * 1.5));
    // A cord or a plug that lets less through than the load needs feeds nothing: as without the key.
    let cord = of("500 W", "feeds_ac = \"by hand\"\nfeeds_ac_up_to = \"199 W\"");
    assert_eq!(given(&cord), given(&of("500 W", "")));
    assert_eq!(given(&cord).0, 0.0);
    // Loads on another outlet stay with the station.
    let lamp = press.replace("\"ac\"", "\"dc\"").replace("200 W", "100 W");
    assert_eq!(given(&text(EMPTY, &generator("500 W", "08:00-10:00", "feeds_ac = \"by hand\""), &lamp)).0, 0.0);
}

#[test]
fn litres_burn_for_what_loads_take_too_and_end_for_both() {
    let thirst = "fuel_per_kwh = \"0.5 L ± 0 %\"\nfuel_per_hour = \"0.25 L ± 0 %\"\nfeeds_ac = \"by hand\"";
    let press = load("press", "vital", "watts = \"100 W\"");
    // 100 W for the load and nothing for the charger: 0.3 L an hour.
    let of = |litres: &str| {
        let more = format!("{thirst}\nfuel = \"{litres}\"");
        text(EMPTY, &generator("100 W", "08:00-10:00", &more), &press)
    };
    assert_eq!(given(&of("30 L")), (600.0, 600.0, 1.8));
    assert_eq!(dark(&of("30 L")).0, 72.0 - 6.0);
    // A litre: three hours and a third, the last one begun and not ended.
    let end = of("1 L");
    assert_eq!(given(&end), (round(1000.0 / 3.0), round(1000.0 / 3.0), 1.0));
    assert_eq!(dark(&end).0, round(72.0 - 10.0 / 3.0));
    // With 300 W for the charger beside it 0.45 L an hour: a litre gives 889 Wh, a quarter of it to the load at once, and the load has
    // the rest from the cells: all 889 Wh.
    let both = end.replace("limit = \"100 W\"\nhours = \"08:00-10:00", "limit = \"400 W\"\nhours = \"08:00-09:00");
    assert_eq!(given(&both), (round(1000.0 / 0.45 * 0.1), round(1000.0 / 0.45 * 0.4), 1.0));
    assert_eq!(dark(&both).0, round(72.0 - 4.0 / 0.45));
}

#[test]
fn runs_that_begin_and_end_within_a_step_feed_for_their_minutes() {
    let press = load("press", "vital", "watts = \"100 W\"");
    let of = |hours: &str| text(EMPTY, &generator("100 W", hours, "feeds_ac = \"by hand\""), &press);
    for (hours, minutes) in [("08:20-10:50", 150.0), ("08:10-08:50", 40.0), ("23:40-00:15", 35.0)] {
        let (hour, five) = (run_by(&of(hours), 60), run_by(&of(hours), 5));
        assert_eq!(round(hour.0.direct_wh), round(3.0 * minutes / 60.0 * 100.0), "{hours}");
        assert_eq!(round(hour.1[0].off_h), round(72.0 - 3.0 * minutes / 60.0), "{hours}");
        assert_eq!(
            (round(five.0.direct_wh), round(five.1[0].off_h)),
            (round(hour.0.direct_wh), round(hour.1[0].off_h)),
            "{hours}"
        );
    }
}

#[test]
fn it_carries_what_fits_at_once_vital_loads_first_and_a_station_all_or_none() {
    let loads = load("pump", "vital", "watts = \"200 W\"\nduty = \"50 %\"")
        + &load("kettle", "useful", "watts = \"250 W\"\nhours = \"09:00-10:00\"")
        + &load("iron", "spare", "watts = \"100 W\"\nhours = \"08:00-09:00\"");
    let direct = |limit: &str, more: &str| given(&text(EMPTY, &generator(limit, "08:00-10:00", more), &loads)).0;
    // The pump's 100 W on average, the kettle an hour, the iron another.
    assert_eq!(direct("450 W", "feeds_ac = \"by hand\""), 3.0 * (200.0 + 250.0 + 100.0));
    // Pump and kettle at once are 450 W: a watt less carries the pump alone, though pump and iron would fit.
    assert_eq!(direct("449 W", "feeds_ac = \"by hand\""), 3.0 * 200.0);
    assert_eq!(direct("199 W", "feeds_ac = \"by hand\""), 0.0);
    assert_eq!(direct("450 W", "feeds_ac = \"through the station\""), 3.0 * (200.0 + 250.0 + 100.0));
    assert_eq!(direct("449 W", "feeds_ac = \"through the station\""), 0.0);
    // Of watts that are not known the upper end has to fit.
    let doubtful = load("pump", "vital", "watts = \"200 W ± 10 %\"");
    let carries = |limit: &str| {
        given(&text(EMPTY, &generator(limit, "08:00-10:00", "feeds_ac = \"by hand\""), &doubtful)).0 > 0.0
    };
    assert!(carries("220 W") && !carries("219 W"));
}

#[test]
fn what_was_plugged_over_waits_for_a_hand() {
    // Somebody is there from 7 to 9 and from 18 to 22; the generator runs from 8 on for two hours.
    let pump = load("pump", "vital", "watts = \"10 W\"");
    let outage = format!("{FULL}\nsomebody_home = [\"07:00-09:00\", \"18:00-22:00\"]");
    let of = |more: &str, ups: &str| {
        text(&outage, &generator("100 W", "08:00-10:00", more), &pump)
            .replace("switches_off_below", &format!("{ups}\nswitches_off_below"))
    };
    // With ups the station has taken over, and by hand the pump hangs on a generator that stands still until 18:00.
    assert_eq!(dark(&of("feeds_ac = \"by hand\"", "ups = true")).0, 3.0 * 8.0);
    assert_eq!(dark(&of("feeds_ac = \"through the station\"", "ups = true")).0, 0.0);
    assert_eq!(dark(&of("feeds_ac = \"no\"", "ups = true")).0, 0.0);
    // Without it the outlet is dark from the beginning until 7:00 too.
    assert_eq!(dark(&of("feeds_ac = \"through the station\"", "ups = false")).0, 7.0 + 3.0 * 8.0);
}

/// 90 W vital and 50 W useful on a generator of 100 W: it carries the vital load alone. Where both count as vital they do not fit at
/// once, and it carries neither.
#[test]
fn a_load_that_is_counted_as_vital_is_carried_as_one() {
    let loads = load("pump", "vital", "watts = \"90 W\"") + &load("device", "useful", "watts = \"50 W\"");
    let mut plan =
        plan_of(&scenario_of(&text(FULL, &generator("100 W", "08:00-10:00", "feeds_ac = \"by hand\""), &loads)), 60);
    let carries = |plan: &Plan| plan.feeds.as_ref().expect("it feeds").carries;
    assert_eq!(carries(&plan), [true, false, false]);
    plan.count_as_vital(|k| k == 1);
    assert_eq!(carries(&plan), [false; 3]);
}
