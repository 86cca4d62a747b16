//! Where arrays look, and what shades leave them, by hand.

use super::*;
use crate::engine::tests::{load, scenario};

fn panel(more: &str) -> Panel {
    let text = format!("[station.solar_input]\nlimit = \"500 W\"\n[[panel]]\nrated = \"100 W\"\n{more}\n");
    scenario(&(text + &load("radio", "dc", "watts = \"5 W\""))).panels.remove(0)
}

fn sun(minute: f64, zenith_deg: f64, azimuth_deg: f64) -> SunAt {
    SunAt { minute, zenith_deg, azimuth_deg }
}

/// The sun up from six to six, 15° of direction an hour, highest at noon.
fn path() -> Vec<SunAt> {
    (0..24)
        .map(|k| (f64::from(k) + 0.5) * 60.0)
        .map(|minute| sun(minute, 30.0 + (minute - 720.0).abs() / 6.0, minute / 4.0))
        .collect()
}

#[test]
fn turned_by_hand_an_array_looks_to_the_middle_of_each_part_of_the_days_light() {
    let panel = panel("aim = { times_a_day = 3 }");
    let aim = DayAim::new(&panel, &path(), &ShareOut::new(&panel), 0.2);
    // Twelve hours of light from 6:30 on: parts from the first, fifth and ninth, the sun of the third, seventh and eleventh.
    let DayAim::Turns(turns) = &aim else { panic!("{aim:?}") };
    let hour = |k: usize| path()[k];
    assert_eq!(turns.iter().map(|(from, _)| *from).collect::<Vec<_>>(), [390.0, 630.0, 870.0]);
    for ((_, plane), k) in turns.iter().zip([8, 12, 16]) {
        assert_eq!((plane.tilt_deg, plane.facing_deg, plane.albedo), (hour(k).zenith_deg, hour(k).azimuth_deg, 0.2));
    }
    // From the minute of a turn on it looks the new way; before the first as in the first.
    for (minute, turn) in [(0.0, 0), (390.0, 0), (629.9, 0), (630.0, 1), (869.9, 1), (870.0, 2), (1439.0, 2)] {
        assert_eq!(aim.plane(&sun(minute, 50.0, 10.0)), turns[turn].1, "{minute}");
    }
    // Without any light it lies flat.
    assert_eq!(DayAim::Turns(Vec::new()).plane(&hour(12)), Plane::new(0.0, 180.0));
}

#[test]
fn a_panel_that_follows_looks_at_the_sun_and_to_the_horizon_at_night() {
    let panel = panel("aim = \"at the sun\"");
    let aim = DayAim::new(&panel, &path(), &ShareOut::new(&panel), 0.3);
    assert_eq!(aim.plane(&sun(0.0, 40.0, 200.0)), Plane { tilt_deg: 40.0, facing_deg: 200.0, albedo: 0.3 });
    assert_eq!(aim.plane(&sun(0.0, 130.0, 10.0)).tilt_deg, 90.0);
    let fixed = self::panel("tilt = \"35°\"\nfacing = \"170°\"");
    let aim = DayAim::new(&fixed, &path(), &ShareOut::new(&fixed), 0.3);
    assert_eq!(aim.plane(&sun(0.0, 40.0, 200.0)), Plane { tilt_deg: 35.0, facing_deg: 170.0, albedo: 0.3 });
}

/// A house takes half of the light from 315° through north to 45° below 30° of height, a tree three tenths from nine to ten.
#[test]
fn the_deepest_shade_counts_where_and_when_it_falls() {
    use crate::scenario::model::{ClockWindow, PutOut, Shade};
    use crate::units::{Degrees, Fraction};
    let mut panel = panel("tilt = \"35°\"\nfacing = \"south\"");
    assert!(ShareOut::new(&panel).always());
    let window = |from: u16, to: u16| ClockWindow { from_minute: 60 * from, to_minute: 60 * to };
    let house = ShadeWhen::Sun { from: Degrees(315.0), to: Degrees(45.0), below: Degrees(30.0) };
    panel.shade = vec![
        Shade { when: house, loses: Fraction(0.5) },
        Shade { when: ShadeWhen::Clock(window(9, 10)), loses: Fraction(0.3) },
    ];
    let at = |panel: &Panel, minute: f64, height_deg: f64, azimuth_deg: f64| {
        ShareOut::new(panel).at(&sun(minute, 90.0 - height_deg, azimuth_deg))
    };
    for (height_deg, azimuth_deg, left) in [
        (20.0, 0.0, 0.5),
        (20.0, 315.0, 0.5),
        (20.0, 45.0, 0.5),
        (29.9, 350.0, 0.5),
        (30.0, 350.0, 1.0),
        (20.0, 314.0, 1.0),
        (20.0, 46.0, 1.0),
        (20.0, 180.0, 1.0),
    ] {
        assert_eq!(at(&panel, 700.0, height_deg, azimuth_deg), left, "{height_deg} {azimuth_deg}");
    }
    assert_eq!(
        [at(&panel, 540.0, 50.0, 90.0), at(&panel, 600.0, 50.0, 90.0), at(&panel, 570.0, 20.0, 0.0)],
        [0.7, 1.0, 0.5]
    );
    assert!(!ShareOut::new(&panel).always());
    // Put out from eight to eleven it has nothing at other times.
    panel.out = Some(PutOut { hours: vec![window(8, 11)], if_clearer_than: Fraction(0.0) });
    assert_eq!(
        [at(&panel, 479.0, 50.0, 90.0), at(&panel, 480.0, 50.0, 90.0), at(&panel, 660.0, 50.0, 90.0)],
        [0.0, 1.0, 0.0]
    );
    panel.shade.clear();
    assert!(!ShareOut::new(&panel).always());
    panel.out = Some(PutOut { hours: Vec::new(), if_clearer_than: Fraction(0.0) });
    assert!(ShareOut::new(&panel).always());
    assert_eq!(at(&panel, 479.0, 50.0, 90.0), 1.0);
}
