//! A car, running water and the wind that charge the station, by closed forms: without sun and losses the hours missed are whole
//! numbers worked out by hand.

use tideover::engine::{Flow, Outcome, Silent, TrialSeed};

use crate::common::{plan_of, scenario_of};
use crate::one_trial;

/// A battery of 100 Wh that loses nothing, a lamp of 10 W, from a midnight on for four days.
fn text(sources: &str) -> String {
    format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"4 days\"\n\
         starts_charged = \"100 %\"\n[station]\nrated_capacity = \"100 Wh ± 0 %\"\nown_draw = \"0 W\"\n\
         self_discharge = \"0 %\"\ntapers_from = \"100 %\"\ncharge_efficiency = \"100 % ± 0 %\"\ncharge_limit = \"200 W\"\n\
         discharge_efficiency = \"100 % ± 0 %\"\n[station.dc_outlet]\nlimit = \"120 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n\
         {sources}\n[[load]]\noutlet = \"dc\"\npriority = \"vital\"\nname = \"lamp\"\nwatts = \"10 W\"\n"
    )
}

fn run(text: &str, trial: u64) -> (f64, Outcome) {
    let plan = plan_of(&scenario_of(text), 60);
    let (outcome, loads) = one_trial(&plan, TrialSeed { seed: 1, trial }, &mut Silent);
    assert!(outcome.ledger.imbalance() < 1e-9);
    ((loads[0].off_h * 1e6).round() / 1e6, outcome)
}

const WATER: &str = "[[source]]\nname = \"brook\"\nkind = \"water\"\nwatts = \"5 W\"\nefficiency = \"80 %\"\n";
const CAR: &str = "[[source]]\nname = \"van\"\nkind = \"car\"\nwatts = \"100 W\"\nhours = \"18:00-18:30\"\non_days = \"100 %\"\n\
                   efficiency = \"80 %\"\n";

#[test]
fn water_carries_its_share_of_the_lamp() {
    // 4 W of 10 arrive; the other 6 empty 100 Wh in 16 hours and 40 minutes, and 4 W of 10 go on to be served after that: six tenths
    // of each hour are missed.
    let (off_h, outcome) = run(&text(WATER), 0);
    assert!((outcome.ledger[Flow::Source] - 96.0 * 5.0).abs() < 1e-9);
    assert!((outcome.ledger[Flow::SourceLoss] - 96.0).abs() < 1e-9);
    assert!((outcome.unserved_wh - (960.0 - 100.0 - 384.0)).abs() < 1e-6, "{off_h} {}", outcome.unserved_wh);
    // What the full battery does not take is not drawn.
    let strong = WATER.replace("5 W", "500 W");
    let (off_h, outcome) = run(&text(&strong), 0);
    assert_eq!(off_h, 0.0);
    assert!((outcome.ledger[Flow::Source] - 960.0 / 0.8).abs() < 1e-6);
    // By night alone.
    let night = format!("{strong}hours = \"22:00-02:00\"\n");
    assert_eq!(run(&text(&night), 0).0, 4.0 * 10.0);
}

#[test]
fn a_drive_brings_what_its_half_hour_holds() {
    // A full battery burns the lamp for ten hours, to 10:00 of the first day; then 40 Wh at the bus each day from 18:00 on do for four.
    let (off_h, outcome) = run(&text(CAR), 0);
    assert_eq!(off_h, 96.0 - 10.0 - 4.0 * 4.0);
    assert!((outcome.ledger[Flow::Source] - 4.0 * 50.0).abs() < 1e-9);
    assert_eq!(outcome.failure.map(|(step, _)| step), Some(10));
    // Beside water: both count.
    let (_, both) = run(&text(&format!("{CAR}{WATER}")), 0);
    assert!((both.ledger[Flow::Source] - 200.0 - 480.0).abs() < 1e-9);
    // Driven on half of the days: each trial brings whole drives, two of four in the mean.
    let half = CAR.replace("100 %\"\neff", "50 %\"\neff");
    let drives: Vec<f64> = (0..400).map(|trial| run(&text(&half), trial).1.ledger[Flow::Source] / 50.0).collect();
    assert!(drives.iter().all(|n| (n - n.round()).abs() < 1e-9));
    // 1,600 days: 800 driven, with a standard deviation of 20.
    assert!((drives.iter().sum::<f64>() - 800.0).abs() < 80.0);
}

#[test]
fn a_source_saves_fuel_and_leaves_the_generators_account_its_own() {
    let generator = "[station.wall_charger]\nlimit = \"20 W\"\nefficiency = \"50 %\"\n[generator]\nlimit = \"20 W\"\nhours = \"00:00-24:00\"\n\
                     fuel_per_kwh = \"1 L ± 0 %\"\nfuel = \"5 L\"\n";
    // Ten watts at the bus are missing, of which the brook brings four; six come from twelve at the generator's plug.
    let (off_h, outcome) = run(&text(&format!("{generator}{WATER}")), 0);
    assert_eq!(off_h, 0.0);
    assert!((outcome.ledger[Flow::Source] - 480.0).abs() < 1e-6, "{:?}", outcome.ledger);
    assert!((outcome.ledger[Flow::Wall] - 96.0 * 12.0).abs() < 1e-6, "{:?}", outcome.ledger);
    assert!((outcome.burnt_l - 0.096 * 12.0).abs() < 1e-9, "{}", outcome.burnt_l);
    // The other way round: where fuel ends after 0.6 L of 0.012 L an hour, 50 hours are carried, and then cells and brook last on.
    let (_, ends) = run(&text(&format!("{}{WATER}", generator.replace("5 L", "0.6 L"))), 0);
    assert!((ends.burnt_l - 0.6).abs() < 1e-9);
    assert!((ends.unserved_wh - (460.0 - 100.0 - 4.0 * 46.0)).abs() < 1e-6, "{}", ends.unserved_wh);
}

#[test]
fn between_cuts_a_source_and_the_mains_charge_together() {
    // Cut from noon to midnight; between cuts the mains brings 2 W at the bus, the brook 4 W all day long.
    let cuts = "every_day = \"12:00-24:00\"\nmains_limit = \"4 W\"\nstarts_charged = \"0 %\"";
    let station = "[station.wall_charger]\nlimit = \"300 W\"\nefficiency = \"50 %\"\n";
    let text = text(&format!("{station}{WATER}")).replace("starts_charged = \"100 %\"", cuts);
    let (_, outcome) = run(&text, 0);
    // 72 Wh by noon, 48 more until midnight: of 120 Wh asked for everything is there, on each of the four days.
    assert!(outcome.unserved_wh.abs() < 1e-6, "{}", outcome.unserved_wh);
    assert!(
        (outcome.ledger[Flow::Source] - 480.0).abs() < 1e-6 && (outcome.ledger[Flow::Wall] - 4.0 * 48.0).abs() < 1e-6
    );
    // Cuts that begin within an hour: part after part, with the same sums.
    let (_, parted) = run(&text.replace("12:00-24:00", "11:30-23:30"), 0);
    assert!((parted.ledger[Flow::Source] - 480.0).abs() < 1e-6, "{:?}", parted.ledger);
    assert!((parted.ledger[Flow::Wall] - 4.0 * 48.0).abs() < 1e-6, "{:?}", parted.ledger);
}

#[test]
fn what_is_not_known_of_a_source_is_drawn() {
    let wind = "[[source]]\nname = \"mast\"\nkind = \"wind\"\nmean_wind = \"4 m/s\"\n\
                curve = [{ wind = \"3 m/s\", gives = \"0 W\" }, { wind = \"11 m/s\", gives = \"300 W\" }]\n";
    let unknown = |sources: &str| {
        let plan = plan_of(&scenario_of(&text(sources)), 60);
        let of = |quantity: &str| plan.unknowns().iter().any(|unknown| unknown.quantity == quantity);
        (of("mean_wind"), of("source_watts"))
    };
    assert_eq!(unknown(wind), (true, false));
    assert_eq!(unknown(&wind.replace("4 m/s\"\n", "4 m/s ± 0 %\"\n")), (false, false));
    assert_eq!(unknown(WATER), (false, false));
    assert_eq!(unknown(&WATER.replace("\"5 W\"", "\"5 W ± 20 %\"")), (false, true));
    // Another order of the blocks changes nothing, nor does another source beside it what the wind blows.
    let van_first = run(&text(&format!("{CAR}{wind}")), 3);
    assert_eq!(run(&text(&format!("{wind}{CAR}")), 3), van_first);
}
