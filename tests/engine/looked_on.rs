//! What somebody sees who looks on at a trial, step by step: worked out by hand, and the same as one kit's steps.

use std::collections::BTreeMap;

use tideover::engine::lanes::{Chunks, Ended, Manner, Sink, Waiting, arrange};
use tideover::engine::{Ledger, LoadOutcome, Observer, Outcome, Plan, Silent, StepView, Supply, TrialSeed, step};

use crate::common::{plan_of, scenario_of};
use crate::{FIRST, one_trial};

/// A station without losses at its DC outlet, and whatever else is said of place, outage and kit.
fn text(site: &str, outage: &str, kit: &str, load: &str) -> String {
    format!(
        "[site]\n{site}\n[outage]\n{outage}\n[station]\nrated_capacity = \"100 Wh ± 0 %\"\nown_draw = \"0 W\"\n\
         self_discharge = \"0 %\"\nloses_by_rate = \"0 %\"\ntapers_from = \"100 %\"\ncharge_efficiency = \"100 % ± 0 %\"\n\
         discharge_efficiency = \"100 % ± 0 %\"\n[station.dc_outlet]\nlimit = \"120 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n\
         {kit}\n[[load]]\noutlet = \"dc\"\npriority = \"vital\"\nname = \"lamp\"\n{load}\n"
    )
}

const HERE: &str = "latitude = 44.2\nlongitude = -72.6";
const CHARGER: &str = "[station.wall_charger]\nlimit = \"100 W\"\nefficiency = \"100 %\"";
const PANEL: &str = "[station.solar_input]\nlimit = \"300 W\"\nefficiency = \"100 %\"\n[[panel]]\nrated = \"200 W\"\ntilt = \"40°\"\nfacing = \"south\"";

/// Whatever is asked of each step.
struct Looks<F: FnMut(usize, &StepView<'_>)>(F);

impl<F: FnMut(usize, &StepView<'_>)> Observer for Looks<F> {
    fn step(&mut self, index: usize, view: &StepView<'_>) {
        (self.0)(index, view);
    }
}

/// What the wall charger may draw in each step \[W\], and what the loads asked for in all \[Wh\].
fn wall_w(outage: &str, kit: &str) -> Vec<f64> {
    let plan = plan_of(&scenario_of(&text(HERE, outage, kit, "watts = \"50 W\"")), 60);
    let (mut watts, mut asked_wh) = (Vec::new(), 0.0);
    let mut looks = Looks(|_, view: &StepView<'_>| {
        watts.push((view.supply.wall_w * 1e6).round() / 1e6);
        asked_wh += view.asked_wh.iter().sum::<f64>();
    });
    let (_, loads) = one_trial(&plan, FIRST, &mut looks);
    assert!((asked_wh - loads[0].asked_wh).abs() < 1e-9, "{asked_wh}");
    watts
}

/// 10 July 2027 is a Saturday.
const SATURDAY: &str = "start = \"2027-07-10T00:00\"";

#[test]
fn what_the_wall_charger_may_draw_is_seen() {
    // A generator of 60 W from eight to half past ten.
    let outage = format!("{SATURDAY}\nlasts = \"1 day\"");
    let generator = format!("{CHARGER}\n[generator]\nlimit = \"60 W\"\nhours = \"08:00-10:30\"");
    let mut by_hand = vec![0.0; 24];
    by_hand[8..11].copy_from_slice(&[60.0, 60.0, 30.0]);
    assert_eq!(wall_w(&outage, &generator), by_hand);
    // The mains but for 10:20 to 14:00, on every day or on Mondays alone.
    let cut = [100.0 / 3.0, 0.0, 0.0, 0.0].map(|watts: f64| (watts * 1e6).round() / 1e6);
    let mut alike = vec![100.0; 72];
    for day in 0..3 {
        alike[24 * day + 10..24 * day + 14].copy_from_slice(&cut);
    }
    let mut mondays = vec![100.0; 72];
    mondays[58..62].copy_from_slice(&cut);
    let outage = |cuts: &str| format!("{SATURDAY}\nlasts = \"3 days\"\nevery_day = \"{cuts}\"");
    assert_eq!(wall_w(&outage("10:20-14:00"), CHARGER), alike);
    assert_eq!(wall_w(&outage("Mon-Fri 10:20-14:00"), CHARGER), mondays);
}

/// The sun is followed within a step in the first four hours of a day's light, and in no others; never where it does not set.
#[test]
fn the_sun_is_followed_in_the_first_hours_of_light() {
    for minutes in [60, 30, 10] {
        let outage = "start = \"2027-03-10T00:00\"\nlasts = \"3 days\"";
        let plan = plan_of(&scenario_of(&text(HERE, outage, PANEL, "watts = \"5 W\"")), minutes);
        let (mut lit, mut followed) = (Vec::new(), Vec::new());
        let mut looks = Looks(|_, view: &StepView<'_>| {
            lit.push(view.supply.panel_w);
            followed.push(view.supply.around_w);
        });
        one_trial(&plan, FIRST, &mut looks);
        let (a_day, hours) = (24 * 60 / minutes as usize, 60 / minutes as usize);
        for day in 0..3 {
            let of_day = day * a_day..(day + 1) * a_day;
            let first = of_day.clone().find(|at| lit[*at] > 0.0).expect("a day");
            for at in of_day {
                // What is usable in the steps before and after, beside it.
                let by_hand = (first..first + 4 * hours).contains(&at).then(|| [lit[at - 1], lit[at + 1]]);
                assert_eq!(followed[at], by_hand, "{minutes} min: {at}");
            }
        }
    }
    let polar = "latitude = 69.0\nlongitude = 25.0";
    let outage = "start = \"2027-06-20T00:00\"\nlasts = \"2 days\"";
    let plan = plan_of(&scenario_of(&text(polar, outage, PANEL, "watts = \"5 W\"")), 60);
    let mut steps = 0;
    let mut looks = Looks(|_, view: &StepView<'_>| {
        assert!(view.supply.panel_w > 0.0 && view.supply.around_w.is_none());
        steps += 1;
    });
    one_trial(&plan, FIRST, &mut looks);
    assert_eq!(steps, 48);
}

/// Cells that are empty before the sun of an hour is there leave loads in the dark, though the hour's sun would do: as in the steps of
/// one kit alone, which are held by closed forms.
#[test]
fn sun_that_comes_late_within_an_hour_is_missed_before_it_comes() {
    let mut late = 0;
    for charged in (4..100).step_by(4) {
        let outage = format!("start = \"2027-03-10T00:00\"\nlasts = \"1 day\"\nstarts_charged = \"{charged} % ± 0 %\"");
        let plan = plan_of(&scenario_of(&text(HERE, &outage, PANEL, "watts = \"12 W ± 0 W\"")), 60);
        for trial in 0..6 {
            let mut stored_wh = f64::from(charged);
            let mut looks = Looks(|at, view: &StepView<'_>| {
                let (rig, balance) = (view.rig, view.balance);
                let limits = rig.limits_at(view.cell_c);
                let Supply { usable_w, around_w, .. } = view.supply;
                let once = step(rig, &limits, stored_wh, view.supply, view.demand, 1.0, &mut Ledger::default());
                let steady = Supply { around_w: None, ..view.supply };
                let even = step(rig, &limits, stored_wh, steady, view.demand, 1.0, &mut Ledger::default());
                assert!((once.stored_wh - balance.stored_wh).abs() < 1e-9, "{charged} %, {at}: {once:?}, {balance:?}");
                assert!(
                    (once.served[0][1] - balance.served[0][1]).abs() < 1e-9,
                    "{charged} %, {at}: {once:?}, {balance:?}"
                );
                let missed = around_w.is_some() && even.all_served && !balance.all_served;
                late += u32::from(missed && usable_w > 12.0);
                stored_wh = balance.stored_wh;
            });
            one_trial(&plan, TrialSeed { seed: 1, trial }, &mut looks);
        }
    }
    assert!(late >= 5, "{late}");
}

#[derive(Default)]
struct Keeper(BTreeMap<u64, (Outcome, Vec<LoadOutcome>)>);

impl Sink for Keeper {
    fn outcome(&mut self, _: usize, ended: &Ended<'_>) {
        self.0.insert(ended.trial.rng.trial, (*ended.outcome, ended.loads.to_vec()));
    }
}

/// Sixteen trials side by side.
fn side_by_side(plan: &Plan, trials: u64) -> BTreeMap<u64, (Outcome, Vec<LoadOutcome>)> {
    let mut keeper = Keeper::default();
    let waiting: Vec<Waiting> =
        (0..trials).map(|trial| Waiting::new(&plan.season, TrialSeed { seed: 1, trial })).collect();
    let manner = Manner { narrow: true, ..Manner::default() };
    Chunks::<f32>::default().run(&[(0, plan)], &waiting, &arrange(&waiting), &manner, &mut keeper);
    keeper.0
}

/// A lamp whose rule holds it off in some trials and not in others, beside one of weekdays.
const RULED: &str = "watts = \"9 W ± 20 %\"\nvaries = \"40 %\"\noff_below = \"50 %\"\n[[load]]\noutlet = \"dc\"\npriority = \"useful\"\n\
                     name = \"fan\"\nwatts = \"5 W ± 20 %\"\nhours = \"00:00-24:00\"\ndays = \"weekdays\"";
/// A lamp beside what asks by its own state.
const COOLED: &str =
    "watts = \"4 W ± 20 %\"\n[[load]]\nname = \"box\"\nlike = \"12 V cooler, 30 litres\"\npriority = \"useful\"";
/// A lamp beside a pump that wakes an inverter on some days.
const ON_AC: &str = "watts = \"4 W ± 20 %\"\n[[load]]\noutlet = \"ac\"\npriority = \"vital\"\nname = \"pump\"\nwatts = \"12 W ± 20 %\"\n\
                     duty = \"40 %\"\nvaries = \"50 %\"";

/// Whatever differs from trial to trial, beside others a trial comes to what it comes to alone: cuts on most days, loads that
/// vary, sun that comes late, cells that run empty, rules, and outlets that sleep.
#[test]
fn beside_others_a_trial_is_what_it_is_alone() {
    let cuts = "lasts = \"14 days\"\nevery_day = \"10:00-14:00\"\nhappens = \"89 %\"";
    let late = "lasts = \"3 days\"\nstarts_charged = \"60 %\"";
    let asleep = format!("{PANEL}\n[station.inverter]\nrated = \"100 W\"\nsleeps = true\nwakes_above = \"9 W\"");
    for (outage, kit, load, trials) in [
        (cuts, CHARGER, "watts = \"50 W ± 20 %\"\nvaries = \"40 %\"", 128),
        (late, PANEL, "watts = \"12 W ± 20 %\"\nvaries = \"40 %\"", 32),
        (late, PANEL, RULED, 32),
        (late, PANEL, COOLED, 16),
        (late, &asleep, ON_AC, 16),
    ] {
        let plan = plan_of(&scenario_of(&text(HERE, &format!("{SATURDAY}\n{outage}"), kit, load)), 60);
        let beside = side_by_side(&plan, trials);
        assert_eq!(beside.len() as u64, trials);
        let mut missed = 0;
        for (trial, beside) in beside {
            let alone = one_trial(&plan, TrialSeed { seed: 1, trial }, &mut Silent);
            assert_eq!(alone, beside, "{trial}");
            missed += u32::from(alone.1.iter().any(|load| load.unserved_wh > 0.0));
        }
        assert!(missed > 5, "{missed}");
    }
}
