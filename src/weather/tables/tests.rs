//! What one day is drawn from, where it follows by hand.

use super::*;
use crate::weather::tests::northern;
use crate::weather::{Calendar, Climate};

/// January all the year: nothing between the months to straighten out.
fn always_january() -> Climate {
    let mut climate = northern();
    climate.months = std::array::from_fn(|_| climate.months[0].clone());
    climate
}

fn tables(climate: &Climate, step_minutes: u32) -> Option<DayTables> {
    let calendar = Calendar::fixed(step_minutes, 20, 52.0, 5.0);
    WeatherPlan::stochastic(climate, &calendar).expect("a climate").day_tables(100)
}

/// Days spread evenly from 0.03 on, of spells without a lean: the latent score is normal, and clearness goes up with its distribution function
/// (Abramowitz & Stegun, table 26.1).
#[test]
fn clearness_goes_by_the_normal_distribution_of_the_score() {
    let climate = always_january();
    let tables = tables(&climate, 60).expect("hours");
    let (low, high) = (climate.months[0].clearness[0], climate.months[0].clearness[24]);
    assert_eq!(tables.clearness.len(), 97);
    for (score, share) in [
        (-6.0, 0.0),
        (-2.0, 0.022_750_1),
        (-1.0, 0.158_655_3),
        (-0.25, 0.401_293_7),
        (0.0, 0.5),
        (1.5, 0.933_192_8),
        (6.0, 1.0),
    ] {
        let found = tables.clearness[((score + 6.0) * 8.0) as usize];
        let expected = low + share * (high - low);
        assert!((found - expected).abs() < 1e-5, "at {score}: {found} for {expected}");
    }
    assert!((tables.mean_clearness - 0.5 * (low + high)).abs() < 1e-12);
    // A hundredth of the days exceed 0.99 of the way, and a cloudless day has 1.04 times that.
    assert!((tables.cloudless - 1.04 * (low + 0.99 * (high - low))).abs() < 1e-12);
}

/// Scores of days a day apart go together by 0.35 and of days two apart by 0.01 and 0.45 of the rest, by spells that go on by φ.
#[test]
fn weights_and_spells_give_the_wanted_persistence() {
    let tables = tables(&always_january(), 60).expect("hours");
    let [spells, slow, own] = tables.weights.map(|weight| weight * weight);
    let phi = tables.spell_persistence;
    assert!((spells + slow + own - 1.0).abs() < 1e-12 && (slow - 0.01).abs() < 1e-12);
    assert!((spells * phi + slow - 0.35).abs() < 1e-9);
    assert!((spells * phi * phi + slow - (0.01 + 0.45 * 0.34)).abs() < 1e-9);
    assert!(tables.settled.abs() < 1e-9);
    let mut settled = always_january();
    settled.months.iter_mut().for_each(|month| month.habits.settled = 0.37);
    let tables = super::tests::tables(&settled, 60).expect("hours");
    assert!((tables.settled - 0.37).abs() < 1e-6, "{}", tables.settled);
}

/// The air has its month's figures, its spread made up for what lines from day to day take of it.
#[test]
fn the_air_is_that_of_the_month() {
    let climate = always_january();
    let tables = tables(&climate, 60).expect("hours");
    let air = &climate.months[0].air;
    // Daily means weigh the day before, the day and the day after by 1/8, 3/4 and 1/8.
    let b: f64 = 0.75;
    let kept = 2.0 / 64.0 + 0.5625 + 2.0 * b * 2.0 * 0.75 / 8.0 + 2.0 * b * b / 64.0;
    assert!((tables.air_mean_c - air.mean_c).abs() < 1e-9);
    assert!((tables.air_sd_k - air.day_sd_k / kept.sqrt()).abs() < 1e-9, "{}", tables.air_sd_k);
    assert_eq!((tables.air_swing_k, tables.air_persistence), (air.swing_k, b));
    assert!((tables.air_weights.iter().map(|weight| weight * weight).sum::<f64>() - 1.0).abs() < 1e-12);
    assert!(tables.air_shape.iter().sum::<f64>().abs() < 1e-9);
    // Coldest about sunrise, warmest about half past two of the sun's clock.
    let at = |wanted: f64| tables.air_shape.iter().position(|shape| (shape - wanted).abs() < 1e-12);
    let (least, most) = tables.air_shape.iter().fold((0.0, 0.0), |(a, b): (f64, f64), &x| (a.min(x), b.max(x)));
    assert!((most - least - 1.0).abs() < 0.03, "{least} {most}");
    assert_eq!((at(most), at(least)), (Some(14), Some(5)));
}

/// The light of a day is what falls outside the air (Duffie & Beckman, equation 1.10.3), its profile has a mean of 1 by light, and no table is
/// given where days are not drawn in hours.
#[test]
fn light_and_profile_belong_together() {
    let climate = always_january();
    let tables = tables(&climate, 60).expect("hours");
    let total = crate::sky::year::SunOfDay::at(100, 5.0).horizontal_wh_m2(52.0);
    assert!((tables.total_wh_m2 / total - 1.0).abs() < 1e-4);
    assert!((tables.light_w_m2.iter().sum::<f64>() - tables.total_wh_m2).abs() < 1e-9);
    let weighted: f64 = tables.light_w_m2.iter().zip(tables.profile).map(|(light, p)| light * p).sum();
    assert!((weighted / tables.total_wh_m2 - 1.0).abs() < 1e-9);
    // 11 April at 52° N: the sun is up from 5 h 20 min to 18 h 42 min of its own clock, and the clock of 5 minutes east shows as much.
    assert_eq!(tables.lit, (5, 19));
    let room: f64 = tables.light_w_m2.iter().zip(tables.ceiling).map(|(light, c)| light * c).sum();
    assert!(1.03 * climate.months[0].clearness[24] * tables.total_wh_m2 <= room * (1.0 + 1e-9));
    assert!((tables.hourly_spread, tables.hourly_persistence) == (1.4, 0.54));
    assert!(super::tests::tables(&climate, 30).is_none());
}
