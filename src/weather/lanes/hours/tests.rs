//! The hours of a day of three, by hand.

use super::*;

/// The numbers as told, one an hour.
struct Told<'a>(std::slice::Iter<'a, f32>, [f32; 1]);

impl Draw<1> for Told<'_> {
    fn draw(&mut self) -> &[f32; 1] {
        self.1 = [*self.0.next().expect("a number an hour")];
        &self.1
    }
}

const LIGHT: [f64; 3] = [100.0, 300.0, 200.0];
/// Its mean by light is 1.
const PROFILE: [f64; 3] = [0.8, 1.1, 0.95];

/// Three hours from ten o'clock.
fn at_ten(of: [f64; 3]) -> [f64; 24] {
    std::array::from_fn(|hour| if (10..13).contains(&hour) { of[hour - 10] } else { 0.0 })
}

/// Day and hours of a wanted clearness, where the hours' disturbances last by 0.6 and a cloudless day has 0.8.
fn drawn(wanted: f64, ceiling: [f64; 3], z: [f32; 3]) -> (f64, [f64; 3]) {
    let hours = at_ten(LIGHT);
    let sky = SkyDay {
        steps: &[],
        hours: &hours,
        profile: &[],
        place: &[],
        ceiling: &[],
        total_wh_m2: 600.0,
        light: (10, 13),
    };
    let how = Disturbance { spread: 1.25, persistence: 0.6, cloudless: 0.8 };
    let mut out = [[9.0]; 24];
    let course = (&at_ten(PROFILE), &at_ten(ceiling));
    let mut told = Told(z.iter(), [0.0]);
    let [day] = hourly_clearness(course, &sky, &[wanted], (&how, &[0.8]), &mut told, &mut out);
    assert!(out[9] == [9.0] && out[13] == [9.0], "hours without light are left alone");
    (day, std::array::from_fn(|k| out[10 + k][0]))
}

#[track_caller]
fn close(found: [f64; 3], expected: [f64; 3]) {
    assert!(found.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-6), "{found:?} for {expected:?}");
}

/// 0.16 sin(π K/K_max) (Graham & Hollands 1990), a half of it at a sixth and none below nothing.
#[test]
fn hours_spread_as_published() {
    for (of_brightest, of_most) in [(0.5, 1.0), (1.0 / 6.0, 0.5), (5.0 / 6.0, 0.5), (0.0, 0.0), (-0.3, 0.0)] {
        assert!((graham_hollands_spread::<f64>(of_brightest) - 0.16 * of_most).abs() < 1e-6);
    }
    assert_eq!(graham_hollands_spread(0.97_f64), graham_hollands_spread(1.4));
}

/// Half of a cloudless day spreads its hours by 0.16, of which 1.25 × 0.8 are all. Disturbances of 0.5, 0.6 × 0.5 − 0.8 = −0.5 and −0.6 × 0.5 + 0.8 × 2 =
/// 1.3 about 0.32, 0.44 and 0.38; then all by one factor.
#[test]
fn hours_go_about_their_course_and_keep_the_days_sum() {
    let (day, hours) = drawn(0.4, [0.9; 3], [0.5, -1.0, 2.0]);
    assert!((day - 0.4).abs() < 1e-12);
    let factor = 240.0 / (100.0 * 0.40 + 300.0 * 0.36 + 200.0 * 0.588);
    close(hours, [0.40, 0.36, 0.588].map(|c| c * factor));
    // No disturbance: the course.
    close(drawn(0.4, [0.9; 3], [0.0; 3]).1, PROFILE.map(|p| 0.4 * p));
    // A great one is cut to nine tenths of the course below it, and to as much above.
    let (_, low) = drawn(0.4, [0.9; 3], [-20.0, 0.0, 0.0]);
    let (a, b, c) = (0.1 * 0.32, 0.1 * 0.44, 0.1 * 0.38);
    close(low, [a, b, c].map(|of| of * 0.4 / (0.1 * 0.4)));
    let (_, high) = drawn(0.4, [2.0; 3], [20.0, -15.0, 0.0]);
    let sum = 100.0 * 1.9 * 0.32 + 300.0 * 0.44 + 200.0 * 0.38;
    close(high, [1.9 * 0.32, 0.44, 0.38].map(|c| c * 240.0 / sum));
}

/// The second hour is cut to a tenth of its course, the third to as much below it as the ceiling leaves above, 0.07; what the ceiling then takes comes
/// back as one share of the room in every hour.
#[test]
fn what_the_ceiling_takes_comes_back_in_all_hours() {
    let (day, hours) = drawn(0.4, [0.9, 0.9, 0.45], [0.5, -10.0, 2.0]);
    let factor = 240.0 / (100.0 * 0.40 + 300.0 * 0.044 + 200.0 * 0.31);
    let (first, second) = (0.40 * factor, 0.044 * factor);
    assert!(0.45 < 0.31 * factor);
    let lacks = 240.0 - (100.0 * first + 300.0 * second + 200.0 * 0.45);
    let share = lacks / (100.0 * (0.9 - first) + 300.0 * (0.9 - second));
    close(hours, [first + share * (0.9 - first), second + share * (0.9 - second), 0.45]);
    let sum: f64 = hours.iter().zip(LIGHT).map(|(c, light)| c * light).sum();
    assert!((day - 0.4).abs() < 1e-12 && (sum - 240.0).abs() < 1e-9);
}

/// A day brighter than the sky allows has the ceiling in every hour, a day of nothing has nothing, and none is left without a number.
#[test]
fn a_day_brighter_than_the_sky_has_the_ceiling_in_every_hour() {
    for z in [[0.5, -1.0, 2.0], [0.0; 3]] {
        let (day, hours) = drawn(1.3, [0.9, 0.8, 0.45], z);
        assert!((day - (90.0 + 240.0 + 90.0) / 600.0).abs() < 1e-12);
        close(hours, [0.9, 0.8, 0.45]);
        for nothing in [0.0, -0.1] {
            assert_eq!(drawn(nothing, [0.9; 3], z), (0.0, [0.0; 3]));
        }
    }
}

/// Without light the day's clearness is what was wanted, from nothing to all.
#[test]
fn a_day_without_light_keeps_its_clearness() {
    let sky = SkyDay {
        steps: &[],
        hours: &[0.0; 24],
        profile: &[],
        place: &[],
        ceiling: &[],
        total_wh_m2: 0.0,
        light: (0, 0),
    };
    let how = Disturbance { spread: 1.0, persistence: 0.5, cloudless: 0.7 };
    for (wanted, kept) in [(0.3, 0.3), (1.4, 1.0), (-0.2, 0.0)] {
        let (none, mut hours) = ([0.0; 24], [[0.0]; 24]);
        let mut told = Told([].iter(), [0.0]);
        let day = hourly_clearness((&none, &none), &sky, &[wanted], (&how, &[1.0]), &mut told, &mut hours);
        assert_eq!(day, [kept]);
    }
}
