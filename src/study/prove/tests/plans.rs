//! What is proposed, what it would tell, and what is said of runs that do otherwise.

use super::super::expected::{Step, expected};
use super::super::fit::BENCH_LOAD_PER_WH;
use super::*;
use crate::units::{WattHours, Watts};

const Z: f64 = 1.959963984540054;

/// The trade's figures by hand (no source beyond those in `plan`): a draw of 3 W and 1.5 % of the label, 5 to 15 W; at the outlet comes
/// 94 % of the label over 1.07 and the draw for each watt.
fn outlet_share(rated_wh: f64, load_w: f64) -> f64 {
    0.94 / (1.07 + (3.0 + 0.015 * rated_wh).clamp(5.0, 15.0) / load_w)
}

#[test]
fn the_loads_and_hours_of_a_plan_are_those_of_its_own_figures() {
    let plan = plan::plan(537.0, Chemistry::Lfp, None);
    assert_eq!((plan.load_w, plan.second_load_w, plan.small_load_w), (100.0, 45.0, 9.0));
    near(plan.draw_w, 11.055, 1e-9);
    near(plan.hours.0, 0.8 * 5.37, 1e-9);
    near(plan.hours.1, 0.9 * 5.37, 1e-9);
    let less = outlet_share(537.0, 45.0) / outlet_share(537.0, 100.0);
    near(plan.second_hours.0, 0.8 * less * 537.0 / 45.0, 1e-9);
    near(plan.second_hours.1, 0.9 * less * 537.0 / 45.0, 1e-9);
    near(plan.typical_share, outlet_share(537.0, 100.0), 1e-12);
    near(plan.small_share, outlet_share(537.0, 9.0), 1e-12);
    assert!(!plan.limited && plan.every_min == 30.0);
    // The draw's ends.
    assert_eq!([100.0, 900.0].map(|rated_wh| plan::plan(rated_wh, Chemistry::Lfp, None).draw_w), [5.0, 15.0]);
    // A watt is the least load; it empties two watt-hours in less than two hours, which wants more readings.
    let least = plan::plan(2.0, Chemistry::Lfp, None);
    assert_eq!((least.load_w, least.every_min), (1.0, 10.0));
}

/// Four fifths of an inverter are its most; a load for a hand that would be above them is what they are.
#[test]
fn a_small_inverter_limits_the_loads_of_a_plan() {
    let loads = |inverter_w: f64| {
        let plan = plan::plan(1000.0, Chemistry::Lfp, Some(inverter_w));
        (plan.load_w, plan.second_load_w, plan.small_load_w, plan.limited)
    };
    assert_eq!(loads(1000.0), (200.0, 80.0, 16.0, false));
    assert_eq!(loads(250.0), (200.0, 80.0, 16.0, false));
    assert_eq!(loads(200.0), (160.0, 65.0, 13.0, true));
    // 112 W are nearer to 120 W than to 100 W.
    assert_eq!(loads(140.0), (112.0, 45.0, 9.0, true));
    // Steps of 1, 5, 20 and 100 W below 20, 100 and 500 W and from there on.
    for (rated_wh, load_w) in
        [(97.0, 19.0), (112.0, 20.0), (460.0, 90.0), (555.0, 120.0), (2450.0, 500.0), (2800.0, 600.0)]
    {
        assert_eq!(plan::plan(rated_wh, Chemistry::Lfp, None).load_w, load_w, "{rated_wh} Wh");
    }
}

/// The most that is typically drawn, the upper end of what is known before any test, must not empty nine tenths of the label in a night (of
/// lead, that gives less in haste, four fifths of that); twelve hours are a night and one is the least.
#[test]
fn a_night_of_the_plan_empties_no_healthy_unit() {
    for (rated_wh, chemistry, inverter_w, hours) in [
        (100.0, Chemistry::Lfp, None, 6.0),
        (500.0, Chemistry::Nmc, Some(2000.0), 5.0),
        (500.0, Chemistry::LeadAcid, Some(2000.0), 4.0),
        (150.0, Chemistry::Lfp, Some(250.0), 9.0),
        (1000.0, Chemistry::Lfp, None, 12.0),
        (10.0, Chemistry::Lfp, None, 1.0),
    ] {
        let night_h = plan::plan(rated_wh, chemistry, inverter_w).night_h;
        assert_eq!(night_h, hours, "{rated_wh} Wh");
        let taken_w = inverter_w.unwrap_or(rated_wh);
        let record = read(&format!("[unit]\nrated_capacity = \"{rated_wh} Wh\"\ninverter = \"{taken_w} W\"\n"));
        let (mean, half) = unknowns::typical(&Unknown::Draw(OutletKind::Ac), &record).unwrap();
        let left_wh = 0.9 * rated_wh * if chemistry == Chemistry::LeadAcid { 0.8 } else { 1.0 };
        assert!(night_h == 1.0 || night_h * (mean + half) <= left_wh, "{rated_wh} Wh");
        assert!(night_h == 12.0 || left_wh < (night_h + 1.0) * (mean + half), "{rated_wh} Wh");
    }
}

/// 333.3 Wh and an inverter of 200 W: the plan's typical draw, 3 W and 1.5 % of the label, is what is known of a unit before its tests, 3 W
/// and 5 W. Whoever tests a unit that is typical in all finds it typical, after each test as before the first.
#[test]
fn a_typical_unit_is_found_to_be_typical() {
    let rated_wh = 1000.0 / 3.0;
    let record = read("[unit]\nrated_capacity = \"333 Wh\"\ninverter = \"200 W\"\n");
    let unit = crate::scenario::record::model::Unit { rated_capacity: WattHours(rated_wh), ..record.unit };
    let plan = plan::plan(rated_wh, Chemistry::Lfp, Some(200.0));
    assert_ne!(plan.load_w, BENCH_LOAD_PER_WH * rated_wh);
    let all = expected(&plan, &unit);
    assert_eq!(all.iter().map(|known| known.after).collect::<Vec<_>>(), Step::ALL);
    // By hand, under a fifth of the label: t B = U (1 − k (1/t − 0.2)).
    let (load_w, usable_wh) = (0.2 * rated_wh, rated_wh * 0.97 * 0.97);
    let (mean_w, on) = (200.0 / 150.0, 0.8 * (load_w / 200.0 - 0.05) / 0.3);
    let bus_w = load_w * (1.07 + 0.02 / 200.0 * load_w) + 8.0 + mean_w * on;
    let hours = all[0].outlet.value * rated_wh / load_w;
    near(hours * bus_w, usable_wh * (1.0 - 0.04 * (1.0 / hours - 0.2)), 1e-9 * usable_wh);
    for known in &all {
        // The night's charge is reckoned without what its own small rate would spare: 0.04 × 0.31 C × 0.025 of the energy.
        let off = if matches!(known.after, Step::Nothing | Step::First | Step::Second) { 1e-7 } else { 4e-4 };
        near(known.cells.value, 0.97, off);
        near(known.outlet.value, all[0].outlet.value, off);
        near(known.draw.value, 8.0, 25.0 * off);
    }
    // Doubt before any test, by implicit derivatives: cells, what of them comes to the bus, rate, converter, draw and fan.
    let slope = bus_w - usable_wh * 0.04 / (hours * hours);
    let (by_energy, by_watt) = (hours * bus_w / slope, hours / slope);
    let variance = mean_w * mean_w * (1.25 * on - on * on + 0.0025);
    let parts = [
        by_energy * 0.08 / 0.97 / Z,
        by_energy * 0.02 / 0.97 / Z,
        usable_wh * (1.0 / hours - 0.2) / slope * 0.08 / Z,
        by_watt * load_w * 0.06 / Z,
        by_watt * 0.8 * 8.0 / Z,
        by_watt * variance.sqrt(),
    ];
    let standard = parts.iter().map(|part| part * part).sum::<f64>().sqrt() * load_w / rated_wh;
    near(all[0].outlet.standard / standard, 1.0, 1e-5);
    near(all[0].cells.standard, 0.08 / Z, 1e-12);
    near(all[0].draw.standard, 0.8 * 8.0 / Z, 1e-12);
    // A charge of four hours: 97 % into the cells and 97 % out of them, 3 W beside, 91 % through the charger.
    let into_wh = (usable_wh / 0.97 / 0.97 + 3.0 * 4.0) / 0.91;
    for known in &all {
        let charged = matches!(known.after, Step::Wall | Step::Check);
        assert_eq!(known.round_trip.is_some(), charged);
        if let Some(trip) = known.round_trip {
            near(trip.value, all[0].outlet.value * rated_wh / into_wh, 1e-3);
        }
    }
}

/// Without an inverter told one of as many watts as the label has watt-hours is taken.
#[test]
fn a_label_without_an_inverter_is_taken_to_have_one_of_its_own_size() {
    let record = read("[unit]\nrated_capacity = \"600 Wh\"\n");
    let plan = plan::plan(600.0, Chemistry::Lfp, None);
    let unit = crate::scenario::record::model::Unit { inverter: Some(Watts(600.0)), ..record.unit.clone() };
    assert_eq!(expected(&plan, &record.unit), expected(&plan, &unit));
    near(expected(&plan, &record.unit)[0].draw.value, 3.0 + 12.0, 1e-12);
}

/// The rule in words: above 97 % nobody believes, above 90 % the meter is to be checked, from 80 % on healthy, below weak; all by the whole
/// interval. A small label gives less, and lead in five hours 76 % of twenty hours' or 66 %.
#[test]
fn verdicts_stand_at_their_boundaries() {
    let of = |low: f64, high: f64, rated_wh: f64, chemistry: Chemistry| {
        let share = Estimate { value: 0.5 * (low + high), standard: 0.5 * (high - low) / Z };
        Verdict::of(&share, rated_wh, chemistry)
    };
    let step = 1e-6;
    for (end, below, above) in [
        (0.97, Verdict::High, Verdict::TooGood),
        (0.90, Verdict::Healthy, Verdict::High),
        (0.80, Verdict::Open, Verdict::Healthy),
    ] {
        for high in [1.0, 1.2] {
            assert_eq!(of(end - step, high, 1000.0, Chemistry::Lfp), below, "{end}");
            assert_eq!(of(end + step, high, 1000.0, Chemistry::Nmc), above, "{end}");
        }
    }
    assert_eq!(of(0.3, 0.80 - step, 1000.0, Chemistry::Lfp), Verdict::Weak);
    assert_eq!(of(0.3, 0.80 + step, 1000.0, Chemistry::Lfp), Verdict::Open);
    let small = 0.80 * outlet_share(90.0, 18.0) / outlet_share(537.0, 107.4);
    near(healthy(90.0, Chemistry::Nmc).0, small, 1e-12);
    assert_eq!(of(0.3, small - step, 90.0, Chemistry::Lfp), Verdict::Weak);
    assert_eq!(of(small - 2.0 * step, small + step, 90.0, Chemistry::Lfp), Verdict::Open);
    assert_eq!(of(0.80 + step, 0.85, 90.0, Chemistry::Lfp), Verdict::Healthy);
    let lead = Chemistry::LeadAcid;
    assert_eq!(of(0.80 * 0.76 + step, 0.7, 1000.0, lead), Verdict::Healthy);
    assert_eq!(of(0.80 * 0.76 - step, 0.7, 1000.0, lead), Verdict::Open);
    assert_eq!(of(0.3, 0.80 * 0.66 + step, 1000.0, lead), Verdict::Open);
    assert_eq!(of(0.3, 0.80 * 0.66 - step, 1000.0, lead), Verdict::Weak);
    // Peukert's law, 4^(1 − k) with k of 1.3 and 1.2, to two digits.
    near(LEAD_IN_FIVE_HOURS.0, math::pow(4.0, -0.3), 0.005);
    near(LEAD_IN_FIVE_HOURS.1, math::pow(4.0, -0.2), 0.005);
}

/// What is said of a run at both sides of each limit: air of 10 to 35 °C, half of the charge, half of the bench load of 120 W.
#[test]
fn runs_that_tell_little_are_named_and_others_are_not() {
    let head =
        "[unit]\nrated_capacity = \"600 Wh\"\ninverter = \"600 W\"\n[[meter]]\nname = \"m\"\naccuracy = \"1 %\"\n";
    let run = |load_w: f64, share: f64, more: &str| {
        let wh = 500.0 * share;
        format!(
            "[[capacity]]\nlasted = \"{} h\"\nfrom = \"100 %\"\nto = \"{} %\"\nenergy = \"{wh} Wh\"\n{more}\n",
            wh / load_w,
            100.0 * (1.0 - share)
        )
    };
    let kinds = |text: &str| -> Vec<(String, &'static str)> {
        let named = |of: &Weakness| match of {
            Weakness::Ambient { .. } => "ambient",
            Weakness::SmallPart { .. } => "small part",
            Weakness::SmallLoad { .. } => "small load",
            _ => "another",
        };
        let warnings = proved(&format!("{head}{text}")).warnings;
        warnings.iter().map(|warning| (warning.key.clone(), named(&warning.of))).collect()
    };
    for (air, said) in [("9.9 °C", true), ("10 °C", false), ("35 °C", false), ("35.1 °C", true)] {
        let found = kinds(&run(120.0, 1.0, &format!("ambient = \"{air}\"")));
        let expected = if said { vec![("capacity.0.ambient".to_string(), "ambient")] } else { vec![] };
        assert_eq!(found, expected, "{air}");
    }
    for (share, said) in [(0.49, true), (0.5, false), (0.75, false)] {
        let found = kinds(&run(120.0, share, ""));
        let expected = if said { vec![("capacity.0.to".to_string(), "small part")] } else { vec![] };
        assert_eq!(found, expected, "{share}");
    }
    for (load_w, said) in [(59.9, true), (60.1, false)] {
        let small = ("capacity.0".to_string(), "small load");
        assert_eq!(kinds(&run(load_w, 1.0, "")), if said { vec![small] } else { vec![] }, "{load_w} W");
        // Beside a larger one it is what tells the inverter's draw.
        assert!(
            !kinds(&format!("{}{}", run(load_w, 1.0, ""), run(120.0, 1.0, ""))).iter().any(|w| w.1 == "small load")
        );
    }
    // At half to twice the bench load, through the AC outlet, a run can be held against what healthy units give.
    for (load_w, outlet, like) in
        [(59.9, "ac", false), (60.1, "ac", true), (239.9, "ac", true), (240.1, "ac", false), (120.0, "dc", false)]
    {
        let proof = proved(&format!("{head}{}", run(load_w, 1.0, &format!("outlet = \"{outlet}\""))));
        assert_eq!(proof.like_the_bench_load(&proof.delivered[0]), like, "{load_w} W, {outlet}");
    }
}
