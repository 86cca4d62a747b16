//! The sections about years: what sound ones are read as, and what is refused.

use super::{COMPLETE, SMALLEST};
use crate::math;
use crate::scenario::model::{ClockWindow, Lasts};
use crate::scenario::years::{Arrivals, DailyUse, StoredAt, StormRule, WearChoice, WearModel};
use crate::scenario::{Level, Source, read};
use crate::units::{Celsius, Fraction, Hours, Watts};

#[test]
fn the_complete_scenario_has_its_years() {
    let (scenario, _, _) = read(&Source::new("complete.toml", COMPLETE)).expect("a sound scenario");
    let years = scenario.years.expect("years");
    let Arrivals::Often { a_year, lasts } = years.outages.arrivals else { panic!("a frequency") };
    assert_eq!((a_year, lasts), (2.5, Lasts::LogNormal { median: Hours(3.0), p95: Hours(30.0) }));
    assert_eq!(years.outages.month_weights, [3.0, 3.0, 1.0, 1.0, 1.0, 1.0, 2.0, 1.0, 1.0, 1.0, 1.0, 3.0]);
    assert_eq!(years.wear, WearChoice { model: WearModel::Worst, resistance_grows: true });
    let tariff = years.tariff.expect("a tariff");
    assert_eq!((tariff.currency.as_str(), tariff.price_a_kwh, tariff.station), ("EUR", 0.32, Some(700.0)));
    let night = vec![ClockWindow { from_minute: 1380, to_minute: 360 }];
    assert_eq!(tariff.cheap, Some((0.19, night.clone())));
    let [rest, sun] = years.strategies.as_slice() else { panic!("two strategies") };
    assert_eq!((rest.charge_to, rest.rest_at), (Fraction(0.9), Fraction(0.8)));
    assert_eq!((rest.top_up_every, rest.charge_with), (Some(Hours(720.0)), Some(Watts(200.0))));
    let rule = StormRule { charge_to: Fraction(0.9), warned: Fraction(70.0 * 0.01), ahead: Hours(24.0) };
    assert_eq!((rest.before_a_storm, rest.stored_at), (Some(rule), StoredAt::Steady(Celsius(15.0))));
    let daily = DailyUse { down_to: Fraction(0.2), up_to: Fraction(0.8), loads: vec![0, 2], recharge: night };
    assert_eq!(sun.daily_use, Some(daily));
    assert_eq!((sun.stored_at, sun.use_solar_daily, sun.rest_at), (StoredAt::Outside, true, Fraction(95.0 * 0.01)));
}

#[test]
fn a_reliability_index_sets_frequency_and_mean_length() {
    // IEEE 1366 (from memory): SAIDI / SAIFI is the mean length. 432 min over 1.8 a year are 4 h.
    let often = "frequency = \"2.5 a year\"\nlasts = { median = \"3 h\", p95 = \"30 h\" }";
    let text = COMPLETE.replace(often, "reliability = { saidi = \"432 min\", saifi = \"1.8 a year\" }");
    let (scenario, _, problems) = read(&Source::new("index.toml", text)).expect("a sound scenario");
    let Arrivals::Often { a_year, lasts: Lasts::LogNormal { median, p95 } } =
        scenario.years.expect("years").outages.arrivals
    else {
        panic!("a log-normal length")
    };
    let sigma = math::ln(p95.0 / median.0) / crate::statistics::NORMAL_P95;
    assert_eq!(a_year, 1.8);
    assert!((median.0 * math::exp(0.5 * sigma * sigma) - 4.0).abs() < 1e-9);
    assert!(problems.iter().any(|problem| problem.level == Level::Note && problem.key == "outages.reliability"));
}

/// The problems of the smallest scenario with sections behind it, each without its place.
#[track_caller]
fn check(sections: &str, expected: &[&str]) {
    let source = Source::new("test.toml", format!("{SMALLEST}\n{sections}"));
    let problems = match read(&source) {
        Ok((_, _, problems)) => problems,
        Err(problems) => problems,
    };
    let shown: Vec<String> = problems
        .iter()
        .map(|problem| {
            let line = source.one_line(problem);
            let place = line.split_once(' ').filter(|(place, _)| place.starts_with(|c: char| c.is_ascii_digit()));
            place.map_or(line.clone(), |(_, rest)| rest.to_string())
        })
        .collect();
    assert_eq!(shown, expected);
}

const OUTAGES: &str = "[outages]\nfrequency = \"2 a year\"\nlasts = \"6 h\"\n";

#[test]
fn the_least_that_must_be_said_is_a_name_and_how_often() {
    check(&format!("{OUTAGES}[[strategy]]\nname = \"full\"\n"), &[]);
    check(
        "[[strategy]]\nname = \"full\"\n",
        &["error: outages is missing; allowed: a section [outages] with frequency and lasts"],
    );
    check(OUTAGES, &["warning: outages is of no use without a [[strategy]]"]);
}

#[test]
fn slips_in_strategies_are_told() {
    let strategy = |lines: &str| format!("{OUTAGES}[[strategy]]\nname = \"full\"\n{lines}\n");
    check(
        &strategy("rest_at = 80"),
        &["error: strategy.0.rest_at needs a unit; found 80; allowed: share above 0 %, up to 100 %"],
    );
    check(
        &strategy("charge_to = \"80 %\"\nrest_at = \"90 %\""),
        &["error: strategy.0.rest_at is above where charging stops; found 90 %; allowed: up to 80 %"],
    );
    check(
        &strategy("daily_use = { between = [\"80 %\", \"20 %\"], loads = [\"router\"] }"),
        &["error: strategy.0.daily_use.between must be two shares, the lower one first; found 80 %, 20 %; \
         allowed: two shares, the lower one first"],
    );
    check(
        &strategy("daily_use = { between = [\"20 %\", \"80 %\"], loads = [\"rooter\"] }"),
        &["error: strategy.0.daily_use.loads.0 is no load of this file; found \"rooter\"; allowed: router"],
    );
    check(
        &strategy("rest_at = \"50 %\"\ndaily_use = { between = [\"20 %\", \"80 %\"], loads = [\"router\"] }"),
        &["error: strategy.0.rest_at has no meaning for a battery in daily use"],
    );
    check(
        &strategy("before_a_storm = { warned = \"often\" }"),
        &[
            "error: strategy.0.before_a_storm.warned cannot be read as a warning; found \"often\"; allowed: share of the \
         outages and time, like \"70 % of outages, 24 h ahead\"; up to 100 %, up to 7 days",
        ],
    );
    check(
        &strategy("stored_at = \"90 °C\""),
        &["error: strategy.0.stored_at is out of range; found \"90 °C\"; allowed: a temperature from -20 to 50 °C \
         (°C or °F), or \"outside\""],
    );
    check(
        &strategy("[[strategy]]\nname = \"Full\""),
        &["error: strategy.1.name is taken by another strategy; found \"Full\""],
    );
}

#[test]
fn slips_in_outages_and_prices_are_told() {
    let strategy = "[[strategy]]\nname = \"full\"\n";
    let outages = |lines: &str| format!("{strategy}[outages]\n{lines}\n");
    check(
        &outages("frequency = 2\nlasts = \"6 h\""),
        &["error: outages.frequency must say a year; found 2; allowed: how often in a year, above 0, up to 400, like \
         \"2.5 a year\""],
    );
    check(
        &outages("frequency = \"2 a year\"\nlasts = \"6 h\"\nhistory = { file = \"a.csv\", years = \"3 years\" }"),
        &["error: outages.history and `outages.frequency` cannot both be given"],
    );
    check(
        &outages(
            "frequency = \"2 a year\"\nlasts = \"6 h\"\nseason_weights = { winter = 0, spring = 0, summer = 0, autumn = 0 }",
        ),
        &["error: outages.season_weights leaves no month for an outage"],
    );
    check(
        &format!("{strategy}{OUTAGES}[tariff]\nprice = \"0.32 EUR\""),
        &["error: tariff.price must say for a kWh; found \"0.32 EUR\"; allowed: a price for a kWh with its currency, \
         0 or more, like \"0.32 EUR/kWh\""],
    );
    check(
        &format!("{strategy}{OUTAGES}[tariff]\nprice = \"0.32 EUR/kWh\"\nstation = \"700 USD\""),
        &["error: tariff.station is in another currency; found USD; allowed: EUR"],
    );
    check(
        &format!("{strategy}{OUTAGES}[tariff]\nprice = \"0.32 EUR/kWh\"\ncheap = \"0.2 EUR/kWh\""),
        &["error: tariff.cheap needs `cheap_hours` beside it"],
    );
}
