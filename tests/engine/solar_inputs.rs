//! Several solar inputs: each with limits of its own, and what they come to together.

use tideover::engine::{Flow, Observer, Outcome, StepView};

use crate::common::{plan_of, scenario_of};
use crate::{FIRST, one_trial};

/// What the panels could give and what of it is within the inputs' limits, hour by hour \[W\].
#[derive(Default)]
struct Hours(Vec<(f64, f64)>);

impl Observer for Hours {
    fn step(&mut self, _: usize, view: &StepView<'_>) {
        self.0.push((view.supply.panel_w, view.supply.usable_w));
    }
}

fn run(station: &str, panels: &str) -> (Vec<(f64, f64)>, Outcome) {
    let text = format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-06-10T00:00\"\nlasts = \"6 days\"\nstarts_charged = \
         \"20 %\"\n[station]\nrated_capacity = \"90 kWh\"\n{station}\n[station.dc_outlet]\nlimit = \"120 W\"\n{panels}\n\
         [[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"10 W\"\n"
    );
    let plan = plan_of(&scenario_of(&text), 60);
    let mut hours = Hours::default();
    let (outcome, _) = one_trial(&plan, FIRST, &mut hours);
    assert!(outcome.ledger.imbalance() < 1e-9);
    (hours.0, outcome)
}

fn panel(name: &str, input: &str, facing: &str, volts: &str) -> String {
    let input = if input.is_empty() { String::new() } else { format!("input = \"{input}\"\n") };
    format!(
        "[[panel]]\nname = \"{name}\"\n{input}rated = \"300 W ± 5 %\"\ntilt = \"30°\"\nfacing = \"{facing}\"\n\
         max_power_voltage = \"{volts}\"\n"
    )
}

fn input(name: &str, limits: &str) -> String {
    format!("[[station.solar_input]]\nname = \"{name}\"\n{limits}\n")
}

/// Single precision: a part in a million.
fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 2e-6 * b.abs().max(1.0)
}

const EAST: (&str, &str) = ("east roof", "east");
const WEST: (&str, &str) = ("west roof", "west");

#[test]
fn one_input_is_the_same_however_it_is_written() {
    let limits = "limit = \"200 W\"\nvolts_min = \"15 V\"\namps_max = \"9 A\"";
    let panels = |name: &str| panel(EAST.0, name, EAST.1, "18 V") + &panel(WEST.0, name, WEST.1, "18 V");
    let plain = run(&format!("[station.solar_input]\n{limits}"), &panels(""));
    assert_eq!(run(&format!("[[station.solar_input]]\n{limits}"), &panels("")), plain);
    assert_eq!(run(&input("roof", limits), &panels("roof")), plain);
    assert_eq!(run(&input("roof", limits), &panels("")), plain);
    // A limit of all inputs that is no less changes nothing; one that is less is the input's.
    let told = |watts: &str| format!("solar_limit = \"{watts}\"\n{}", input("roof", limits));
    assert_eq!(run(&told("200 W"), &panels("")), plain);
    let (low, lower) = (limits.replace("200 W", "120 W"), run(&told("120 W"), &panels("")));
    assert_eq!(run(&input("roof", &low), &panels("")), lower);
    assert!(lower.1.ledger[Flow::Clipped] > plain.1.ledger[Flow::Clipped]);
}

#[test]
fn each_input_takes_what_it_would_take_alone() {
    let (east, west) = ("limit = \"110 W\"\namps_max = \"7 A\"", "limit = \"160 W\"\npwm_at = \"13 V\"");
    // The same arrays by themselves, their watts not yet cut: those of one input are the cells' business.
    let alone = |limits: &str, (name, facing): (&str, &str)| {
        run(&format!("[station.solar_input]\n{limits}"), &panel(name, "", facing, "18 V")).0
    };
    let (east_alone, west_alone) = (alone(east, EAST), alone(west, WEST));
    let panels = panel(EAST.0, "left", EAST.1, "18 V") + &panel(WEST.0, "right", WEST.1, "18 V");
    let station = input("left", east) + &input("right", west);
    let (both, outcome) = run(&station, &panels);
    let (mut cut, mut clipped_wh) = (0, 0.0);
    for ((both, left), right) in both.iter().zip(&east_alone).zip(&west_alone) {
        let usable_w = left.1.min(110.0) + right.1.min(160.0);
        assert!(near(both.0, left.0 + right.0) && near(both.1, usable_w), "{both:?} {left:?} {right:?}");
        cut += usize::from(left.1 > 110.0 && right.1 < 160.0);
        clipped_wh += both.0 - both.1;
    }
    assert!(cut > 5, "{cut}: one input is full while the other has room");
    assert!((outcome.ledger[Flow::Clipped] - clipped_wh).abs() < 1e-5 * clipped_wh);
    // Together they are held to less than the sum of both.
    let (_, held) = run(&format!("solar_limit = \"150 W\"\n{station}"), &panels);
    let of_all_wh: f64 = both.iter().map(|(panel_w, usable_w)| panel_w - usable_w.min(150.0)).sum();
    assert!((held.ledger[Flow::Clipped] - of_all_wh).abs() < 1e-5 * of_all_wh && of_all_wh > 1.2 * clipped_wh);
    // Whichever stands first.
    let turned = input("right", west) + &input("left", east);
    let other_way = panel(WEST.0, "right", WEST.1, "18 V") + &panel(EAST.0, "left", EAST.1, "18 V");
    assert_eq!(run(&turned, &other_way).0, both);
}

#[test]
fn volts_are_matched_at_one_input_alone() {
    let one = "[station.solar_input]\nlimit = \"900 W\"";
    let two = input("a", "limit = \"900 W\"") + &input("b", "limit = \"900 W\"");
    let wh = |hours: &[(f64, f64)]| hours.iter().map(|(_, usable_w)| usable_w).sum::<f64>();
    let sum = |station: &str, volts: &str, names: [&str; 2]| {
        wh(&run(station, &(panel(EAST.0, names[0], EAST.1, "18 V") + &panel(WEST.0, names[1], WEST.1, volts))).0)
    };
    let alike = sum(one, "18 V", ["", ""]);
    // 18 V and 36 V on one input: the array of 36 V held at 18 V gives half of its power, as much as 36 V alone would.
    assert!(sum(one, "36 V", ["", ""]) < 0.8 * alike);
    assert!(near(sum(&two, "36 V", ["a", "b"]), alike));
    assert!(sum(&two, "36 V", ["a", "a"]) < 0.8 * alike);
}

#[test]
fn the_worst_efficiency_counts_for_all() {
    let panels = panel(EAST.0, "left", EAST.1, "18 V") + &panel(WEST.0, "right", WEST.1, "18 V");
    let with = |left: &str, right: &str| {
        let of = |share: &str| format!("limit = \"300 W\"\nefficiency = \"{share}\"");
        run(&(input("left", &of(left)) + &input("right", &of(right))), &panels).1
    };
    assert_eq!(with("98 %", "90 %"), with("90 %", "90 %"));
    let ledger = with("98 %", "90 %").ledger;
    let used_wh = ledger[Flow::Solar] - ledger[Flow::Curtailed];
    assert!((ledger[Flow::SolarInputLoss] / used_wh - 0.1).abs() < 1e-9);
}
