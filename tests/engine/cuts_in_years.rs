//! Cuts that come back all year, and what their cycling does to the battery.

use tideover::study::years::{YearsPlan, YearsSettings, years};
use tideover::trials::run::Quiet;

use crate::common::{plan_of, scenario_of};

/// Full cycles a year, weeks ridden through and the share lost by the harshest law, of a battery of 100 Wh that loses nothing under
/// four hours of 12.5 W a day.
fn lived(outage: &str) -> (f64, f64, f64) {
    let text = format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nmonth = \"January\"\nlasts = \"7 days\"\nstarts_charged = \"100 %\"\n{outage}\n\
         [station]\nrated_capacity = \"100 Wh ± 0 %\"\nown_draw = \"0 W\"\nself_discharge = \"0 %\"\nloses_by_rate = \"0 %\"\ntapers_from = \"100 %\"\n\
         charge_efficiency = \"100 % ± 0 %\"\ndischarge_efficiency = \"100 % ± 0 %\"\n[station.dc_outlet]\nlimit = \"120 W\"\n\
         efficiency = \"100 %\"\nidle = \"0 W\"\n[station.wall_charger]\nlimit = \"100 W\"\nefficiency = \"100 %\"\n\
         [[load]]\noutlet = \"dc\"\npriority = \"vital\"\nname = \"lamp\"\nwatts = \"12.5 W\"\n\
         [[strategy]]\nname = \"full\"\nrest_at = \"100 %\"\n"
    );
    let scenario = scenario_of(&text);
    let plan = YearsPlan::compile(&scenario, &plan_of(&scenario, 60), None).expect("a plan");
    let settings = YearsSettings { seed: 1, histories: 10, years: 1 };
    let answer = years(&plan, &settings, &Quiet).expect("an answer");
    let way = &answer.strategies[0];
    assert_eq!(way.rode.outages, 10 * 53);
    (way.full_cycles_a_year, way.rode.probability, way.lost_by_model.iter().copied().fold(0.0, f64::max))
}

#[test]
fn every_cut_is_a_cycle() {
    let (cycles, rode, lost) = lived("every_day = \"10:00-14:00\"");
    // Half of the capacity a day: 182.5 full cycles, a little more as the capacity shrinks.
    assert_eq!(rode, 1.0);
    assert!(182.5 - 1e-6 <= cycles && cycles <= 182.5 / (1.0 - lost) + 1e-6, "{cycles} {lost}");
    // Cuts on half of the days are half of the cycles: binomial, 3.5 standard deviations of ten years.
    let (fewer, _, less) = lived("every_day = \"10:00-14:00\"\nhappens = \"50 %\"");
    let expected = 0.5 * cycles;
    assert!(
        (fewer - expected).abs() < 3.5 * (3650.0_f64 * 0.25).sqrt() / 10.0 * 0.5 + 0.02 * expected,
        "{fewer} {expected}"
    );
    assert!(less < lost, "{less} {lost}");
}
