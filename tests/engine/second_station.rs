//! A second station that refills the first and is carried away, by closed forms: without sun and losses the hours missed are
//! whole numbers worked out by hand.

use tideover::engine::{Flow, Outcome, Silent, TrialSeed};

use crate::common::{plan_of, scenario_of};
use crate::{FIRST, one_trial};

/// A battery of 100 Wh that loses nothing, a lamp of 10 W, from a midnight on for four days.
fn text(second: &str, charger: &str) -> String {
    format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"4 days\"\n\
         starts_charged = \"100 %\"\n[station]\nrated_capacity = \"100 Wh ± 0 %\"\nown_draw = \"0 W\"\n\
         self_discharge = \"0 %\"\ntapers_from = \"100 %\"\ncharge_efficiency = \"100 % ± 0 %\"\n\
         discharge_efficiency = \"100 % ± 0 %\"\n[station.dc_outlet]\nlimit = \"120 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n\
         [station.wall_charger]\n{charger}\n[second_station]\n{second}\n\
         [[load]]\noutlet = \"dc\"\npriority = \"vital\"\nname = \"lamp\"\nwatts = \"10 W\"\n"
    )
}

const CHARGER: &str = "limit = \"100 W\"\nefficiency = \"100 %\"";
const SECOND: &str = "rated_capacity = \"100 Wh\"\ndelivers = \"80 % ± 0 %\"\nlimit = \"50 W\"";

fn run(text: &str) -> (f64, Outcome) {
    let plan = plan_of(&scenario_of(text), 60);
    let (outcome, loads) = one_trial(&plan, FIRST, &mut Silent);
    assert!(outcome.ledger.imbalance() < 1e-9);
    ((loads[0].off_h * 1e6).round() / 1e6, outcome)
}

#[test]
fn what_it_delivers_lasts_as_long_as_it_should() {
    // 100 Wh and 80 % of 100 Wh: eighteen hours of 96.
    let (off_h, outcome) = run(&text(SECOND, CHARGER));
    assert_eq!(off_h, 96.0 - 18.0);
    assert!((outcome.ledger[Flow::Wall] - 80.0).abs() < 1e-9);
    // Half of it, and a charger that loses a fifth of what it draws.
    let half = format!("{SECOND}\nstarts_charged = \"50 %\"");
    assert!((run(&text(&half, &CHARGER.replace("100 %", "80 %"))).0 - (96.0 - 13.2)).abs() < 1e-6);
    // No more than its outlet or the charger lets through: 5 W beside a lamp of 10 W halve what the lamp takes of the cells,
    // for 16 hours; of the 20 Wh that are left in these the lamp has two hours more.
    let slow = SECOND.replace("50 W", "5 W");
    assert_eq!(run(&text(&slow, CHARGER)).0, 96.0 - 18.0);
    assert_eq!(run(&text(SECOND, &CHARGER.replace("100 W", "5 W"))).0, 96.0 - 18.0);
}

#[test]
fn what_it_brings_home_counts_from_the_hour_in_which_it_is_back() {
    // Away on the second and the fourth day from 9 to 15 o'clock, each time back with 80 Wh: eight hours of light each.
    let trips = format!("{SECOND}\naway = \"09:00-15:00\"\nevery_days = 1");
    let every_other = trips.replace("every_days = 1", "every_days = 2");
    // Daily on days 1, 2 and 3: eight hours each from 15:00 on.
    let (off_h, outcome) = run(&text(&trips, CHARGER));
    assert_eq!(off_h, 96.0 - 18.0 - 3.0 * 8.0);
    assert!((outcome.ledger[Flow::Wall] - 4.0 * 80.0).abs() < 1e-9);
    // Dark from 18:00 on the first day on, first failure there.
    assert_eq!(outcome.failure.map(|(step, _)| step), Some(18));
    assert_eq!(run(&text(&every_other, CHARGER)).0, 96.0 - 18.0 - 8.0);
    // Back half full.
    let half = format!("{every_other}\nreturns_at = \"50 %\"");
    assert_eq!(run(&text(&half, CHARGER)).0, 96.0 - 18.0 - 4.0);
    // An hour that it is away for any part of counts whole.
    let late = trips.replace("15:00", "15:20");
    assert_eq!(run(&text(&late, CHARGER)).0, 96.0 - 18.0 - 3.0 * 8.0);
    // While it is away it gives nothing: full at first, of 240 Wh, 12 hours of light are left when it leaves on the second day.
    let big = trips.replace("\"100 Wh\"", "\"300 Wh\"").replace("09:00-15:00", "00:00-24:00");
    // 100 Wh in the first, 240 in the second: day 0 takes 240 of both, the first left full; it lasts ten hours of day 1.
    assert_eq!(run(&text(&big, CHARGER)).0, 96.0 - 24.0 - 10.0);
}

#[test]
fn packs_add_what_their_own_age_leaves_of_them() {
    let rig = |packs: &str| {
        let text = text(SECOND, CHARGER).replace("[station.wall_charger]", &format!("{packs}\n[station.wall_charger]"));
        plan_of(&scenario_of(&text), 60)
    };
    let pack = |label: &str, health: &str| {
        format!("[[station.pack]]\nrated_capacity = \"{label}\"\nstate_of_health = \"{health}\"\n")
    };
    // 100 Wh, 80 % of 200 Wh and half of 60 Wh, the whole full at the start.
    let plan = rig(&(pack("200 Wh ± 0 %", "80 % ± 0 %") + &pack("60 Wh ± 0 %", "50 % ± 0 %")));
    let best = plan.kit.best_estimate();
    assert!((best.capacity_wh - 290.0).abs() < 1e-9 && (best.start_wh - 290.0).abs() < 1e-9, "{best:?}");
    assert!(plan.unknowns().iter().all(|unknown| unknown.quantity != "packs"));
    // Labels alone: 97 % of each; their doubts are their own and add by squares.
    let plan = rig(&(pack("300 Wh", "100 %") + &pack("400 Wh", "100 %")));
    assert!((plan.kit.best_estimate().capacity_wh - 100.0 - 0.97 * 700.0).abs() < 1e-9);
    let drawn: Vec<f64> =
        (0..4_000).map(|trial| plan.kit.draw(TrialSeed { seed: 1, trial }, 0.0, &mut Vec::new()).capacity_wh).collect();
    let mean = drawn.iter().sum::<f64>() / drawn.len() as f64;
    let sd = (drawn.iter().map(|wh| (wh - mean) * (wh - mean)).sum::<f64>() / drawn.len() as f64).sqrt();
    // 8 % of 500 Wh (3, 4, 5) at 1.96 standard deviations; that of the standard deviation of 4,000 is 1.1 %.
    assert!((sd / (0.08 * 500.0 / 1.959_964) - 1.0).abs() < 0.04, "{sd}");
}

#[test]
fn what_it_delivers_is_drawn_where_it_is_not_known() {
    let open = SECOND.replace("± 0 %", "± 10 %");
    let plan = plan_of(&scenario_of(&text(&open, CHARGER)), 60);
    assert!(plan.unknowns().iter().any(|unknown| unknown.quantity == "second_station"));
    let plan = plan_of(&scenario_of(&text(SECOND, CHARGER)), 60);
    assert!(plan.unknowns().iter().all(|unknown| unknown.quantity != "second_station"));
}
