//! What the owner has seen of the sun: readings weighed against the table.

use tideover::scenario::Scenario;
use tideover::weather::world;

use crate::common::scenario_of;
use crate::study::PLAIN;

/// The scenario with readings, and the climate after them.
fn after_seeing(readings: &str) -> Result<(Scenario, tideover::weather::Climate), String> {
    let text = PLAIN.replace("[[panel]]\n", "[[panel]]\nname = \"roof\"\n") + readings;
    let scenario = scenario_of(&text);
    let climate = world::lookup(44.2, -72.6, None).expect("land");
    match tideover::study::seen::learn(&scenario, climate) {
        Ok(climate) => Ok((scenario, climate)),
        Err((k, error)) => Err(format!("{k}: {error}")),
    }
}

#[test]
fn what_the_owner_measured_moves_the_sun_and_narrows_it() {
    let before = world::lookup(44.2, -72.6, None).expect("land");
    let mean = |climate: &tideover::weather::Climate, month: usize| {
        use tideover::weather::climate::LEVELS;
        let q = climate.months[month].clearness;
        (1..25).map(|k| (LEVELS[k] - LEVELS[k - 1]) * 0.5 * (q[k] + q[k - 1])).sum::<f64>()
    };
    // A dull January by the meter: the expected sum is the mean clearness of the month times the light outside the air.
    let outside_kwh: f64 = {
        use tideover::sky::extraterrestrial::{daily_horizontal_wh_m2, declination_deg, normal_w_m2};
        (1..=31)
            .map(|day| {
                daily_horizontal_wh_m2(44.2, declination_deg(f64::from(day)), normal_w_m2(f64::from(day))) / 1000.0
            })
            .sum()
    };
    let expected_kwh = outside_kwh * mean(&before, 0);
    let reading = |factor: f64, more: &str| {
        let sun = factor * expected_kwh;
        format!("[[seen]]\nfrom = \"2026-01-01\"\nto = \"2026-01-31\"\nsun_kwh_m2 = {sun:.3}\n{more}")
    };
    let (_, dull) = after_seeing(&reading(0.8, "")).expect("a sound reading");
    let moved = (mean(&dull, 0) / mean(&before, 0)).ln();
    // A normal prior of variance P and a reading of variance R move the estimate P / (P + R) of the way (Gelman et al.,
    // Bayesian Data Analysis, 3rd ed., section 2.5) and leave 1 / (1/P + 1/R): both can be told from each other.
    let (prior, left) = (before.doubt.level_sd()[0], dull.doubt.level_sd()[0]);
    let gain = 1.0 - left * left / (prior * prior);
    assert!((moved / 0.8_f64.ln() / gain - 1.0).abs() < 0.1, "moved {moved}, gain {gain}");
    assert!((0.05..0.6).contains(&gain), "{gain}");
    // Its neighbour learns less, July the least; a sharper meter tells little more, for a month is short.
    let share = |month: usize| dull.doubt.level_sd()[month] / before.doubt.level_sd()[month];
    assert!(share(0) < share(1) && share(1) < share(6) && share(6) < 1.0);
    let (_, sharp) = after_seeing(&reading(0.8, "plus_minus = \"0 %\"")).expect("a sound reading");
    assert!(sharp.doubt.level_sd()[0] < left && 0.9 * left < sharp.doubt.level_sd()[0]);
    // What is expected moves nothing, but narrows.
    let (_, same) = after_seeing(&reading(1.0, "")).expect("a sound reading");
    assert!((mean(&same, 0) / mean(&before, 0)).ln().abs() < 0.01 && same.doubt.level_sd()[0] < prior);
    // What cannot be is refused.
    let refused = after_seeing(&reading(30.0, "")).expect_err("thirty times the sun");
    assert!(refused.starts_with("0: is ") && refused.contains("times what these days give"), "{refused}");
    // A month with twice its mean sun would be brighter than a cloudless one; a fifth of it darker than any.
    assert!(after_seeing(&reading(2.0, "")).is_err() && after_seeing(&reading(0.15, "")).is_err());
}

#[test]
fn a_panels_own_count_tells_what_its_sun_would() {
    let before = world::lookup(44.2, -72.6, None).expect("land");
    let of = |kwh: f64| {
        let from = "[[seen]]\nfrom = \"2026-10-01\"\nto = \"2026-10-31\"\npanel = \"roof\"\n";
        after_seeing(&format!("{from}energy = \"{kwh:.2} kWh\"\n"))
    };
    // Three hundred watts in an October of some 2.5 kWh/m² a day on a plane of 60°: 15 to 35 kWh by hand.
    let (poor, rich) = (of(12.0).expect("a sound reading").1, of(35.0).expect("a sound reading").1);
    let octobers = [&poor, &before, &rich].map(|climate| climate.months[9].clearness.iter().sum::<f64>());
    assert!(octobers[0] < octobers[1] && octobers[1] < octobers[2], "{octobers:?}");
    assert!(poor.doubt.level_sd()[9] < before.doubt.level_sd()[9]);
    let missing =
        after_seeing("[[seen]]\nfrom = \"2026-10-01\"\nto = \"2026-10-31\"\npanel = \"shed\"\nenergy = \"20 kWh\"\n");
    assert!(missing.expect_err("no such panel").contains("shed"));
}
