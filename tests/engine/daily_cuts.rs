//! Cuts that come back every day, by closed forms: without sun and losses the hours missed are whole numbers worked out by hand.

use tideover::engine::Silent;
use tideover::report::cuts::Cuts;
use tideover::study::outage::outage;
use tideover::trials::Settings;
use tideover::trials::run::Quiet;

use crate::common::{plan_of, scenario_of};
use crate::{FIRST, one_trial};

/// A battery of 100 Wh that loses nothing, for two weeks from a midnight on.
fn spell(outage: &str, charger: &str, load: &str) -> String {
    format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"14 days\"\n\
         starts_charged = \"100 %\"\n{outage}\n[station]\nrated_capacity = \"100 Wh ± 0 %\"\nown_draw = \"0 W\"\n\
         self_discharge = \"0 %\"\nloses_by_rate = \"0 %\"\ntapers_from = \"100 %\"\ncharge_efficiency = \"100 % ± 0 %\"\n\
         discharge_efficiency = \"100 % ± 0 %\"\n[station.dc_outlet]\nlimit = \"120 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n{charger}\n\
         [[load]]\noutlet = \"dc\"\npriority = \"vital\"\n{load}\n"
    )
}

const TWICE: &str = "every_day = [\"10:00-14:00\", \"18:00-22:00\"]";
const CHARGER: &str = "[station.wall_charger]\nlimit = \"100 W\"\nefficiency = \"100 %\"";
const LAMP: &str = "name = \"lamp\"\nwatts = \"50 W\"";

/// Hours and watt-hours that the load missed and asked for, days with a miss, and what was missed in the worst week \[Wh\].
fn run(text: &str) -> (f64, f64, f64, u32, f64) {
    run_by(text, 60)
}

/// The same by steps of so many minutes.
fn run_by(text: &str, step_minutes: u32) -> (f64, f64, f64, u32, f64) {
    let plan = plan_of(&scenario_of(text), step_minutes);
    let (outcome, loads) = one_trial(&plan, FIRST, &mut Silent);
    let load = loads[0];
    rounded((load.off_h, load.unserved_wh, load.asked_wh, outcome.days_missed, outcome.worst_week_wh))
}

#[test]
fn what_twice_daily_cuts_miss_is_what_the_battery_lacks() {
    // 100 Wh last two of a cut's four hours, and the mains fills it in the four between.
    assert_eq!(run(&spell(TWICE, CHARGER, LAMP)), (56.0, 2800.0, 5600.0, 14, 1400.0));
    // A weak mains brings 50 Wh until the evening: an hour of it. In the night it fills.
    let weak = format!("{TWICE}\nmains_limit = \"12.5 W\"");
    assert_eq!(run(&spell(&weak, CHARGER, LAMP)), (70.0, 3500.0, 5600.0, 14, 1750.0));
    // Without a charger the first cut has all there is.
    assert_eq!(run(&spell(TWICE, "", LAMP)), (110.0, 5500.0, 5600.0, 14, 2800.0));
    // What the battery can carry is never missed.
    assert_eq!(run(&spell(TWICE, CHARGER, "name = \"lamp\"\nwatts = \"25 W\"")), (0.0, 0.0, 2800.0, 0, 0.0));
    // Load on Saturdays and Sundays alone: 10 July 2027 is a Saturday.
    let weekend = format!("{LAMP}\nhours = \"00:00-24:00\"\ndays = \"weekends\"");
    assert_eq!(run(&spell(TWICE, CHARGER, &weekend)), (16.0, 800.0, 1600.0, 4, 400.0));
}

#[test]
fn cuts_that_begin_and_end_within_a_step_count_by_their_share_in_their_order() {
    // 10:20 to 13:45: 205 minutes, of which 100 Wh last 120.
    let odd = "every_day = \"10:20-13:45\"";
    let of = |minutes: f64| 14.0 * minutes / 60.0;
    assert_eq!(
        run(&spell(odd, CHARGER, LAMP)),
        rounded((of(85.0), of(85.0) * 50.0, of(205.0) * 50.0, 14, of(42.5) * 50.0))
    );
    // A lamp that is on from 10:40 to 13:10: 150 minutes; one of all day on a duty of 40 % draws 20 W: never short.
    let hours = format!("{LAMP}\nhours = \"10:40-13:10\"");
    assert_eq!(
        run(&spell(odd, CHARGER, &hours)),
        rounded((of(30.0), of(30.0) * 50.0, of(150.0) * 50.0, 14, of(15.0) * 50.0))
    );
    assert_eq!(run(&spell(odd, CHARGER, &format!("{LAMP}\nduty = \"40 %\""))).0, 0.0);
    // Two cuts within one hour. Between them the mains gives 100 W for 10 minutes: 16.7 Wh more than the first cut left, and
    // what it gives behind the second does not help that.
    let within = "every_day = [\"07:00-10:20\", \"10:30-10:50\"]";
    // 200 minutes: 80 missed. Then 20 minutes: 16.7 of the 16.67 Wh that it asks for are there.
    assert_eq!(
        run(&spell(within, CHARGER, LAMP)),
        rounded((of(80.0), of(80.0) * 50.0, of(220.0) * 50.0, 14, of(40.0) * 50.0))
    );
    let weak = format!("{within}\nmains_limit = \"50 W\"");
    // 8.33 Wh for 20 minutes of 50 W: half of them.
    assert_eq!(
        run(&spell(&weak, CHARGER, LAMP)),
        rounded((of(90.0), of(90.0) * 50.0, of(220.0) * 50.0, 14, of(45.0) * 50.0))
    );
    // Shorter steps come to the same.
    for text in [spell(odd, CHARGER, LAMP), spell(odd, CHARGER, &hours), spell(&weak, CHARGER, LAMP)] {
        assert_eq!(run_by(&text, 5), run(&text), "{text}");
    }
    // In the last minutes before a cut a full battery stays full: what the mains gives then is not kept for later.
    let late = "every_day = \"10:45-13:45\"";
    assert_eq!(run(&spell(late, CHARGER, LAMP)).0, of(60.0));
}

/// As [`run`] rounds.
fn rounded((off_h, missed_wh, asked_wh, days, week_wh): (f64, f64, f64, u32, f64)) -> (f64, f64, f64, u32, f64) {
    let round = |number: f64| (number * 1e6).round() / 1e6;
    (round(off_h), round(missed_wh), round(asked_wh), days, round(week_wh))
}

#[test]
fn a_day_without_a_miss_is_told_as_a_share() {
    let scenario =
        scenario_of(&spell(TWICE, CHARGER, &format!("{LAMP}\nhours = \"00:00-24:00\"\ndays = \"weekends\"")));
    let plan = plan_of(&scenario, 60);
    let settings = Settings { seed: 1, trials: 500, precision: None };
    let answer = outage(&scenario, &plan, &settings, &Quiet).expect("an answer");
    let cuts = Cuts::of(&plan, &answer.tally).expect("cuts");
    assert_eq!((cuts.days, cuts.days_without_a_miss, cuts.worst_week_wh), (14.0, 10.0 / 14.0, 400.0));
    assert!(cuts.low < cuts.days_without_a_miss && cuts.days_without_a_miss < cuts.high);
    let headline = tideover::report::headline::headline(&scenario, &answer);
    assert!(headline.contains("spells of daily cuts"), "{headline}");
}

#[test]
fn between_cuts_the_mains_keeps_the_food_cold_and_asks_the_station_for_nothing() {
    let cooler = "name = \"box\"\nlike = \"12 V cooler, 30 litres\"\nfood = \"lost after 4 h without power\"";
    // A battery that is empty from the start: an hour a day does not warm the food, a fortnight does.
    let empty = |outage: &str| spell(outage, "", cooler).replace("\"100 %\"\nevery", "\"0 %\"\nevery");
    let survived = |text: &str| {
        let plan = plan_of(&scenario_of(text), 60);
        one_trial(&plan, FIRST, &mut Silent).0.survived
    };
    assert!(survived(&empty("every_day = \"10:00-11:00\"")));
    assert!(!survived(&empty("every_day = \"00:00-23:00\"")));
    // In its cut it asks for an hour's running at most.
    let (_, _, asked_wh, ..) = run(&empty("every_day = \"10:00-11:00\""));
    assert!(0.0 < asked_wh && asked_wh < 14.0 * 60.0, "{asked_wh}");
}

/// Between the cuts the mains fills the battery, whatever is in a generator's tank, and burns nothing of it. In the first hour of the
/// morning's cut a generator feeds the lamp: 50 Wh, 0.025 L a day of 0.1 L, four days. In those the morning misses one hour of four, else
/// two; the evening always two.
#[test]
fn the_mains_burns_no_fuel_and_needs_none() {
    let generator = format!(
        "{CHARGER}\n[generator]\nlimit = \"100 W\"\nhours = \"10:00-11:00\"\nfuel_per_kwh = \"0.5 L ± 0 %\"\nfuel = \"0.1 L\""
    );
    let text = spell(TWICE, &generator, LAMP);
    let hours = 4.0 * 3.0 + 10.0 * 4.0;
    assert_eq!(run(&text), (hours, 50.0 * hours, 5600.0, 14, 1400.0));
    let (outcome, _) = one_trial(&plan_of(&scenario_of(&text), 60), FIRST, &mut Silent);
    assert!((outcome.burnt_l - 0.1).abs() < 1e-9, "{}", outcome.burnt_l);
}

/// A generator that is run at other hours is what it is in a scenario that says so: between the cuts, and in the hours in which they
/// begin and end, the mains charges as before.
#[test]
fn other_hours_of_a_generator_leave_the_mains_as_it_is() {
    let text = |hours: &str| {
        let generator = format!("{CHARGER}\n[generator]\nlimit = \"60 W\"\nhours = \"{hours}\"");
        spell("every_day = [\"10:20-13:45\", \"18:00-22:00\"]\nmains_limit = \"40 W\"", &generator, LAMP)
    };
    let (before, after) = (scenario_of(&text("11:00-12:00")), scenario_of(&text("12:00-12:30")));
    let generator = after.generator.as_ref().expect("a generator");
    let moved = plan_of(&before, 60).with_generator(generator, &after.station);
    let told = plan_of(&after, 60);
    assert_eq!(moved.wall_w, told.wall_w);
    let mut by_hand = vec![40.0; 24];
    (by_hand[10], by_hand[13]) = (40.0 / 3.0, 10.0);
    by_hand[11..13].copy_from_slice(&[0.0, 30.0]);
    by_hand[18..22].fill(0.0);
    assert!(told.wall_w.iter().zip(&by_hand).all(|(a, b)| (a - b).abs() < 1e-9), "{:?}", told.wall_w);
    assert_eq!(one_trial(&moved, FIRST, &mut Silent), one_trial(&told, FIRST, &mut Silent));
}
