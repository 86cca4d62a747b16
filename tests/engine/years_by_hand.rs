//! Years worked out by hand, of a battery of 1 kWh of which every loss is known: the charger gives on four fifths of what it takes from
//! the wall, nine tenths of that arrive in the cells, and all that they hold comes out again.

use tideover::study::years::{YearsAnswer, YearsPlan, YearsSettings, years};
use tideover::trials::run::Quiet;

use crate::common::{plan_of, scenario_of};

/// Over what is taken from the wall \[–]: at the bus, and in the cells.
const TO_BUS: f64 = 0.8;
const TO_CELLS: f64 = 0.72;

/// What wears by cycles alone, so that a battery at rest stays what it is.
const BY_CYCLES: &str = "[wear]\nmodel = \"trade rule\"\n";
/// Outages that do not come.
const NONE: &str = "[outages]\nfrequency = \"0.0001 a year\"\nlasts = \"1 h\"\n";

/// A charger that takes 200 W.
const CHARGER: &str = "[station.wall_charger]\nlimit = \"200 W\"\nefficiency = \"80 %\"\n";

/// * its own draw, what it loses by itself and its charger; the other sections of the file.
fn lived(
    (own_draw, self_discharge, charger): (&str, &str, &str),
    sections: &str,
    step_minutes: u32,
    years_long: usize,
) -> YearsAnswer {
    let scenario = scenario_of(&format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nmonth = \"January\"\nlasts = \"7 days\"\n\
         [station]\nrated_capacity = \"1000 Wh ± 0 %\"\nown_draw = \"{own_draw}\"\nself_discharge = \"{self_discharge}\"\n\
         loses_by_rate = \"0 %\"\ntapers_from = \"100 %\"\ncharge_efficiency = \"90 % ± 0 %\"\n\
         discharge_efficiency = \"100 % ± 0 %\"\n[station.dc_outlet]\nlimit = \"600 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n\
         {charger}{BY_CYCLES}{sections}"
    ));
    let plan = YearsPlan::compile(&scenario, &plan_of(&scenario, step_minutes), None).expect("a plan");
    years(&plan, &YearsSettings { seed: 1, histories: 10, years: years_long }, &Quiet).expect("an answer")
}

/// Within a share of what is expected.
#[track_caller]
fn assert_near(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected.abs(), "{found} for {expected}");
}

/// A battery held at 80 % loses 0.8 of 3 % of a kWh in thirty days, 292 Wh in a year; its electronics take 2 W all the while. Wall and
/// charger give both, and nothing is worn.
#[test]
fn a_battery_held_at_the_wall_buys_what_it_loses() {
    let load = "[[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"50 W\"\n";
    let price = "[tariff]\nprice = \"0.40 USD/kWh\"\ncheap = \"0.10 USD/kWh\"\ncheap_hours = \"22:00-06:00\"\n";
    let held = "[[strategy]]\nname = \"held\"\nrest_at = \"80 %\"\n";
    let answer = lived(("2 W", "3 %", CHARGER), &format!("{load}{NONE}{price}{held}"), 60, 2);
    let [way] = &answer.strategies[..] else { panic!("one strategy") };
    let wall_wh = 2.0 * 8760.0 / TO_BUS + 0.8 * 1000.0 * 0.03 * 365.0 / 30.0 / TO_CELLS;
    assert_near(way.wall_wh_a_year, wall_wh, 1e-9);
    // Held at any hour: nothing is put off to the cheap ones (cautious).
    assert_near(way.money_a_year.expect("prices"), -0.40 * wall_wh / 1000.0, 1e-9);
    assert!(way.charge_by_month.iter().all(|charge| (charge - 0.8).abs() < 1e-9), "{:?}", way.charge_by_month);
    assert_eq!((way.full_cycles_a_year, way.daily_wh_a_year, way.rode.outages), (0.0, 0.0, 0));
}

/// Switched off at 60 % and topped up every thirty days: a thousandth a day of what is left goes, and twelve times a year it is
/// brought back. Off, the electronics take nothing.
#[test]
fn a_battery_topped_up_every_thirty_days_is_topped_up_twelve_times_a_year() {
    let load = "[[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"50 W\"\n";
    let off = "[[strategy]]\nname = \"off\"\nrest_at = \"60 %\"\ntop_up_every = \"30 days\"\n";
    let answer = lived(("2 W", "3 %", CHARGER), &format!("{load}{NONE}{off}"), 60, 1);
    let [way] = &answer.strategies[..] else { panic!("one strategy") };
    let lost_wh = 600.0 * (1.0 - 0.999_f64.powi(30));
    // An eighth of an hour of charging in thirty days, in which nothing is counted as lost.
    assert_near(way.wall_wh_a_year, 12.0 * lost_wh / TO_CELLS, 0.125 / 720.0);
    // From a charge c that falls by a thousandth a day the mean of thirty days is c (1 - e^-30k) / 30k, k = -ln 0.999; months begin
    // at other days than the thirty.
    let k = -(0.999_f64.ln());
    let mean = way.charge_by_month.iter().sum::<f64>() / 12.0;
    assert_near(mean, 0.6 * (1.0 - (-30.0 * k).exp()) / (30.0 * k), 5e-4);
}

const LAMP: &str =
    "[[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"50 W\"\nhours = \"18:00-22:00\"\n";

/// A lamp of 50 W for four hours and the electronics' 2 W for the sixteen hours outside the cheap ones take 232 Wh a day out of the
/// cells, which cheap hours bring back at 144 Wh an hour: within the two before midnight. In all eight of them the wall feeds the electronics.
#[test]
fn everyday_use_buys_cheap_what_it_saves_dear() {
    let sections = "[tariff]\nprice = \"0.30 USD/kWh\"\ncheap = \"0.10 USD/kWh\"\ncheap_hours = \"22:00-06:00\"\nstation = \"500 USD\"\n\
         [[strategy]]\nname = \"used\"\ndaily_use = { between = [\"20 %\", \"80 %\"], loads = [\"lamp\"] }\n";
    for step_minutes in [60, 30] {
        let answer = lived(("2 W", "0 %", CHARGER), &format!("{LAMP}{NONE}{sections}"), step_minutes, 1);
        let [way] = &answer.strategies[..] else { panic!("one strategy") };
        let wall_wh = 365.0 * (232.0 / TO_CELLS + 8.0 * 2.0 / TO_BUS);
        assert_near(way.wall_wh_a_year, wall_wh, 1e-6);
        assert_near(way.daily_wh_a_year, 365.0 * 200.0, 1e-6);
        assert_near(way.money_a_year.expect("prices"), 0.30 * 73.0 - 0.10 * wall_wh / 1000.0, 1e-6);
        let (lost, lasts) = (way.lost_by_model[2], way.years.mean);
        assert_near(way.cost_a_kwh.expect("a price"), (500.0 / lasts + 0.10 * wall_wh / 1000.0) / 73.0, 1e-6);
        // A smaller battery goes a little further up and down.
        let cycles = 365.0 * 0.232;
        assert!(cycles * (1.0 - 1e-9) <= way.full_cycles_a_year && way.full_cycles_a_year <= cycles / (1.0 - lost));
        // 80 % until six, straight down to 77.6 % until six in the evening and to 56.8 % until ten, and up again by 14.4 and 8.8 points,
        // the second of them in 0.61 h, which counts as straight over the step.
        let mean = (6.0 * 0.8 + 12.0 * 0.788 + 4.0 * 0.672 + 0.64 + 0.756) / 24.0;
        for charge in way.charge_by_month {
            assert!((charge - mean).abs() < 0.2 * lost + 0.25 * 0.088 / 24.0, "{charge} for {mean}");
        }
    }
}

/// A lamp of 400 W in the same hours asks for more than the 600 Wh between 80 and 20 %: that much is given every day and bought every
/// night, less as the cells wear.
#[test]
fn everyday_use_ends_where_it_is_told_to() {
    let sections =
        "[[strategy]]\nname = \"used\"\ndaily_use = { between = [\"20 %\", \"80 %\"], loads = [\"lamp\"] }\n";
    let lamp = LAMP.replace("50 W", "400 W");
    let answer = lived(("0 W", "0 %", CHARGER), &format!("{lamp}{NONE}{sections}"), 60, 1);
    let [way] = &answer.strategies[..] else { panic!("one strategy") };
    let (given_wh, left) = (365.0 * 600.0, 1.0 - way.lost_by_model[2]);
    assert!(0.98 < left && left < 1.0, "{left}");
    assert!(given_wh * left <= way.daily_wh_a_year && way.daily_wh_a_year <= given_wh, "{}", way.daily_wh_a_year);
    // The first night has nothing to bring back and the last evening is not brought back.
    assert_near(way.wall_wh_a_year, way.daily_wh_a_year * 364.0 / 365.0 / TO_CELLS, 1e-4);
}

/// The mains that fail every evening from six to ten are the same to a battery as a lamp that is fed from it in those hours by choice and
/// a wall that it hangs on in all others.
#[test]
fn cuts_every_evening_are_everyday_use_of_every_evening() {
    let cuts = {
        let strategy = "[[strategy]]\nname = \"full\"\nrest_at = \"100 %\"\n";
        let scenario = scenario_of(&format!(
            "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nmonth = \"January\"\nlasts = \"7 days\"\nevery_day = \"18:00-22:00\"\n\
             starts_charged = \"100 %\"\n\
             [station]\nrated_capacity = \"1000 Wh ± 0 %\"\nown_draw = \"2 W\"\nself_discharge = \"0 %\"\n\
             loses_by_rate = \"0 %\"\ntapers_from = \"100 %\"\ncharge_efficiency = \"90 % ± 0 %\"\n\
             discharge_efficiency = \"100 % ± 0 %\"\n[station.dc_outlet]\nlimit = \"600 W\"\nefficiency = \"100 %\"\nidle = \"0 W\"\n\
             {CHARGER}{BY_CYCLES}{LAMP}{strategy}"
        ));
        let plan = YearsPlan::compile(&scenario, &plan_of(&scenario, 60), None).expect("a plan");
        years(&plan, &YearsSettings { seed: 1, histories: 10, years: 1 }, &Quiet).expect("an answer")
    };
    let sections = "[[strategy]]\nname = \"used\"\n\
         daily_use = { between = [\"0 %\", \"100 %\"], loads = [\"lamp\"], recharge = \"22:00-18:00\" }\n";
    let used = lived(("2 W", "0 %", CHARGER), &format!("{LAMP}{NONE}{sections}"), 60, 1);
    // Weeks in a year.
    assert!((cuts.outages_a_year - 365.0 / 7.0).abs() < 1e-9 && cuts.cuts);
    assert!((used.outages_a_year - 0.0001).abs() < 1e-12 && !used.cuts);
    let (cuts, used) = (&cuts.strategies[0], &used.strategies[0]);
    assert_eq!(cuts.rode.probability, 1.0);
    assert_near(cuts.outage_wh_a_year, used.daily_wh_a_year, 1e-6);
    assert_near(cuts.wall_wh_a_year, used.wall_wh_a_year, 1e-6);
    assert_near(cuts.full_cycles_a_year, used.full_cycles_a_year, 1e-3);
    for (a, b) in cuts.charge_by_month.iter().zip(used.charge_by_month) {
        assert_near(*a, b, 1e-3);
    }
}

/// Outages of four hours under 200 W take 808 Wh with the electronics' 2 W. From half, at 72 Wh an hour, five hours of notice are
/// enough and four are not; who is told of every second outage rides through every second one. At rest or in everyday use.
#[test]
fn a_storm_announced_in_time_is_ridden_through() {
    let load = "[[load]]\nname = \"pump\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"200 W\"\n\
         [[load]]\nname = \"radio\"\noutlet = \"dc\"\npriority = \"spare\"\nwatts = \"1 W\"\nhours = \"18:00-19:00\"\n\
         [outages]\nfrequency = \"2 a year\"\nlasts = \"4 h\"\nin_bad_weather = \"0 %\"\n";
    // What limits the charging: how it is charged, or the charger.
    let ways = [
        ("rest_at = \"50 %\"", "100 W", CHARGER.to_owned(), 60),
        (
            "daily_use = { between = [\"10 %\", \"50 %\"], loads = [\"radio\"], recharge = \"00:00-23:00\" }",
            "200 W",
            CHARGER.replace("200 W", "100 W"),
            30,
        ),
    ];
    let rules = |keeps: &str, with: &str| {
        [("100 %", 5), ("100 %", 4), ("50 %", 12)]
            .map(|(warned, ahead)| {
                format!(
                    "[[strategy]]\nname = \"{warned} {ahead}\"\n{keeps}\ncharge_with = \"{with}\"\n\
                     before_a_storm = {{ charge_to = \"100 %\", warned = \"{warned} of outages, {ahead} h ahead\" }}\n"
                )
            })
            .concat()
    };
    for (keeps, with, charger, step_minutes) in ways {
        let answer = lived(("2 W", "0 %", &charger), &format!("{load}{}", rules(keeps, with)), step_minutes, 20);
        let [in_time, late, half] = [0, 1, 2].map(|k| answer.strategies[k].rode);
        let n = in_time.outages as f64;
        // Poisson, three and a half standard deviations; outages that meet are put together.
        assert!((n - 400.0).abs() < 3.5 * 20.0, "{n} outages");
        // Two outages within half a day of each other are one in three or four hundred.
        assert!(in_time.probability >= 0.98 && late.probability == 0.0, "{keeps}: {in_time:?} {late:?}");
        assert!((half.probability - 0.5).abs() < 3.5 * (0.25 / n).sqrt(), "{keeps}: {half:?}");
    }
}

/// A charger of which nothing is said is one whose efficiency is left out, and large enough.
#[test]
fn an_untold_charger_is_a_typical_one() {
    let sections = format!("{LAMP}{NONE}[[strategy]]\nname = \"held\"\nrest_at = \"80 %\"\n");
    let [untold, typical] = ["", "[station.wall_charger]\nlimit = \"5 kW\"\n"]
        .map(|charger| lived(("2 W", "3 %", charger), &sections, 60, 1).strategies[0].wall_wh_a_year);
    assert_near(untold, typical, 1e-12);
    assert!(untold > 2.0 * 8760.0, "{untold}");
}
