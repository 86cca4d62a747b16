//! Positions.

use super::table::{Row, Table, Worst, unix_s};
use tideover::engine::aim::sun_path;
use tideover::sky::extraterrestrial::{self, SOLAR_CONSTANT_W_M2};
use tideover::sky::plane::Plane;
use tideover::sky::sun::{Observer, SunError, zenith_and_azimuth_deg};
use tideover::sky::year::SunOfDay;
use tideover::weather::Calendar;

const SPA_EXAMPLE: &str = include_str!("../../data/sun_position_spa_example.toml");
const POSITIONS: &str = include_str!("../../data/sun_positions.csv");
const POSITIONS_MORE: &str = include_str!("../../data/sun_positions_more.csv");
const DAYS_MORE: &str = include_str!("../../data/sunrise_sunset_more.csv");
const BOOK: &str = include_str!("../../data/duffie_beckman_examples.csv");

/// Zenith angle of the sun's centre at sunrise and sunset \[°]: 34' of refraction and 16' of the sun's radius (common practice
/// of almanacs; the same as in NREL/TP-560-34302, section A.2).
const RISE_AND_SET_ZENITH_DEG: f64 = 90.0 + 50.0 / 60.0;

#[test]
fn the_worked_example_of_the_spa_report_comes_out_to_its_last_digit() {
    let document: toml::Table = SPA_EXAMPLE.parse().unwrap();
    let input = |key: &str| {
        let value = &document["input"][key];
        value.as_float().or(value.as_integer().map(|n| n as f64)).unwrap()
    };
    let published = |key: &str| document["published"][key].as_float().unwrap();
    let golden = Observer::new(input("latitude_deg"), input("longitude_deg_east"))
        .unwrap()
        .in_air(input("elevation_m"), input("pressure_mbar"), input("temperature_c"))
        .unwrap()
        .with_delta_t(input("delta_t_s"));
    let sun = golden.position(unix_s(document["input"]["local_time"].as_str().unwrap())).unwrap();

    // The report's zenith is printed with 5 decimals and includes refraction; its azimuth has 6 in the copy at hand.
    assert!((sun.apparent_zenith_deg - published("zenith_deg")).abs() < 6e-6, "{sun:?}");
    assert!((sun.azimuth_deg - published("azimuth_deg")).abs() < 1e-6, "{sun:?}");
    let geometric = 90.0 - published("elevation_without_refraction_deg");
    assert!((sun.zenith_deg - geometric).abs() < 1e-6, "{sun:?}");

    // The plane is turned 10 degrees east of south. Its incidence is from memory, reproduced by a reference library.
    let plane = Plane::new(input("surface_tilt_deg"), 180.0 + input("surface_azimuth_rotation_deg"));
    let incidence = plane.incidence_deg(sun.apparent_zenith_deg, sun.azimuth_deg);
    assert!((incidence - published("incidence_on_surface_deg")).abs() < 6e-6, "{incidence}");
}

fn observer(row: Row) -> Observer {
    let observer = Observer::new(row.number("latitude"), row.number("longitude_east")).unwrap();
    // As the reference was set: sea level, 101325 Pa (its notes round this to 1013 hPa), 12 degrees, delta T 70 s.
    observer.in_air(0.0, 1013.25, 12.0).unwrap().with_delta_t(70.0)
}

#[test]
fn positions_agree_with_a_reference_library() {
    let (mut zenith, mut apparent, mut azimuth) = (Worst::new(), Worst::new(), Worst::new());
    for table in [Table::csv(POSITIONS, 40), Table::csv(POSITIONS_MORE, 56)] {
        for row in table.rows() {
            let sun = observer(row).position(row.instant("time_utc")).unwrap();
            zenith.add(sun.zenith_deg, row.number("zenith_deg"), row);
            apparent.add(sun.apparent_zenith_deg, row.number("apparent_zenith_deg"), row);
            let turn = (sun.azimuth_deg - row.number("azimuth_deg_from_north") + 180.0).rem_euclid(360.0) - 180.0;
            azimuth.add(turn * sun.zenith_deg.to_radians().sin(), 0.0, row);
        }
    }
    // Five decimals, and the same algorithm in another hand.
    zenith.within(96, 1e-5);
    apparent.within(96, 1e-5);
    azimuth.within(96, 1e-5);
}

#[test]
fn positions_agree_with_an_astronomical_library() {
    let mut apart = Worst::new();
    for row in Table::csv(POSITIONS_MORE, 56).rows() {
        let sun = observer(row).position(row.instant("time_utc")).unwrap();
        apart.add(sun.zenith_deg, row.number("zenith_deg_astropy"), row);
    }
    // Another theory of the earth's motion; the two differ by up to 0.001 degree.
    apart.within(56, 1e-3);
}

/// 1 on 1 January, with the fraction of the UTC day.
fn day_of_year(time_utc: &str) -> f64 {
    let start_of_year = unix_s(&format!("{}-01-01T00:00:00Z", &time_utc[..4]));
    1.0 + (unix_s(time_utc) - start_of_year) / 86_400.0
}

#[test]
fn simple_series_stay_near_the_true_sun() {
    let (mut declination, mut normal) = (Worst::new(), Worst::new());
    for row in Table::csv(POSITIONS_MORE, 56).rows() {
        let day = day_of_year(row.text("time_utc"));
        declination.add(extraterrestrial::declination_deg(day), row.number("declination_deg_astropy"), row);
    }
    for row in Table::csv(POSITIONS, 40).rows() {
        let day = day_of_year(row.text("time_utc")).floor();
        normal.add(extraterrestrial::normal_w_m2(day), row.number("extraterrestrial_normal_w_m2"), row);
    }
    // One series for all years: a day of the year names a declination that moves by up to 0.4 degree a day, and the leap
    // day shifts it by up to three quarters of a day. With Spencer's own 0.035 degree:
    declination.within(56, 0.75 * 0.4 + 0.035);
    // Three decimals, the same series.
    normal.within(40, 6e-4);
}

/// The sun of the program's year at an instant, straight between the noons of its dates: declination \[°] and equation of
/// time \[min].
fn of_our_year(time_utc: &str, longitude_deg: f64) -> (f64, f64) {
    let (year, day) = (time_utc[..4].parse::<i32>().unwrap(), day_of_year(time_utc));
    let leap_day = if year % 4 == 0 && 61.0 <= day { 1.0 } else { 0.0 };
    let since_noon = day - 1.5 - leap_day + longitude_deg / 360.0;
    let (before, part) = (since_noon.floor(), since_noon - since_noon.floor());
    let at = |day: f64| SunOfDay::at(day.rem_euclid(365.0) as usize, longitude_deg);
    let (from, to) = (at(before), at(before + 1.0));
    let between = |from: f64, to: f64| from + part * (to - from);
    (between(from.declination_deg, to.declination_deg), between(from.equation_of_time_min, to.equation_of_time_min))
}

#[test]
fn the_year_of_the_engine_has_the_published_sun() {
    let (mut declination, mut equation) = (Worst::new(), Worst::new());
    // 29 February is no date of that year, nor is the evening of it in the west, which is March already by UTC.
    let dates = Table::csv(POSITIONS_MORE, 56);
    let evening = |row: &Row| row.text("time_utc").starts_with("2028-03-01T00") && row.number("longitude_east") < 0.0;
    let dates: Vec<Row> =
        dates.rows().filter(|row| !row.text("time_utc").contains("-02-29T") && !evening(row)).collect();
    for &row in &dates {
        let (found_declination, found_equation) = of_our_year(row.text("time_utc"), row.number("longitude_east"));
        declination.add(found_declination, row.number("declination_deg_astropy"), row);
        equation.add(found_equation, row.number("equation_of_time_min"), row);
    }
    // A date of a leap cycle lies within half a day of the cycle's mean: the sun's declination moves by up to 0.4 degree a
    // day, the equation of time by half a minute. A straight line between noons leaves 0.001 degree.
    assert!(50 <= dates.len());
    declination.within(dates.len(), 0.5 * 0.4 + 0.001);
    equation.within(dates.len(), 0.5 * 0.5);
}

#[test]
fn the_sun_is_nearest_in_january_and_farthest_in_july() {
    // Perihelion 0.9833 and aphelion 1.0167 astronomical units, from memory of almanacs; the moon moves them by up to
    // 0.00005 from year to year, and they are rounded to as much.
    for (day, distance_au) in [(2, 0.9833), (184, 1.0167)] {
        let found = (SOLAR_CONSTANT_W_M2 / SunOfDay::at(day, 0.0).normal_w_m2).sqrt();
        assert!((found - distance_au).abs() <= 1e-4, "{found}");
    }
}

#[test]
fn the_path_of_the_engine_rises_and_sets_when_the_tables_say() {
    let mut height = Worst::new();
    for row in Table::csv(DAYS_MORE, 40).rows().filter(|row| row.text("state") == "rises and sets") {
        let (latitude, longitude) = (row.number("latitude"), row.number("longitude_east"));
        let zone_min = (longitude / 15.0).round() as i32 * 60;
        let calendar = Calendar::fixed(1, zone_min, latitude, longitude);
        let date = unix_s(&format!("{}T00:00:00Z", row.text("utc_date")));
        let day = day_of_year(&format!("{}T00:00:00Z", row.text("utc_date"))) as u32 - 1;
        let path = sun_path(&calendar, day);
        for event in ["sunrise_utc", "sunset_utc"] {
            // Minutes of the local day; the path has a sun at the middle of each. Polar edges may fall on the next day.
            let minute = (row.instant(event) - date) / 60.0 + f64::from(zone_min);
            let (before, part) = ((minute - 0.5).floor(), (minute - 0.5) - (minute - 0.5).floor());
            if !(0.0..1439.0).contains(&before) {
                continue;
            }
            let (from, to) = (path[before as usize], path[before as usize + 1]);
            height.add(from.zenith_deg + part * (to.zenith_deg - from.zenith_deg), RISE_AND_SET_ZENITH_DEG, row);
        }
    }
    // The path holds noon's declination all day. Near the equinoxes, where that moves by 0.4 degree a day, the sun rises and
    // sets a quarter of a day from noon and 2026's date lies 0.13 days from the mean; the equation of time moves by half
    // a minute a day, which turns the sun by 0.125 degree.
    let events = height.compared();
    assert!(70 <= events, "{events} events compared");
    height.within(events, 0.38 * 0.40 + 0.38 * 0.125);
}

#[test]
fn the_spherical_triangle_gives_the_worked_examples_of_the_textbook() {
    // Duffie & Beckman, examples 1.6.1 and 1.6.2, from memory; the declinations are the book's own.
    let south_west_positive = |azimuth: f64| azimuth - 180.0;
    let morning = zenith_and_azimuth_deg(43.0, -14.0, -37.5);
    let evening = zenith_and_azimuth_deg(43.0, 23.1, 97.5);
    let (zenith, azimuth) = zenith_and_azimuth_deg(43.0, -14.0, -22.5);
    let incidence = Plane::new(45.0, 195.0).incidence_deg(zenith, azimuth);
    let mut checked = 0;
    for row in Table::csv(BOOK, 9).rows() {
        let (found, rounding) = match row.text("example") {
            "1.6.1 incidence" => (incidence, 0.5),
            "1.6.2a zenith" => (morning.0, 0.05),
            // The book carries the zenith angle rounded to a tenth into the azimuth.
            "1.6.2a azimuth" => (south_west_positive(morning.1), 0.15),
            "1.6.2b zenith" => (evening.0, 0.05),
            "1.6.2b azimuth" => (south_west_positive(evening.1), 0.05),
            _ => continue,
        };
        checked += 1;
        let published = row.number("published_from_memory");
        assert!((found - published).abs() <= rounding, "found {found} in {}", row.shown());
    }
    assert_eq!(checked, 5);
}

#[test]
fn the_spherical_triangle_agrees_with_full_positions() {
    // The hour angle of a full position is not given, so the meridian is taken: zenith = |latitude - declination|.
    for latitude in [-80.0, -23.0, 0.0, 23.0, 80.0] {
        for declination in [-23.4, 0.0, 12.0] {
            let (zenith, _) = zenith_and_azimuth_deg(latitude, declination, 0.0);
            assert!((zenith - f64::abs(latitude - declination)).abs() < 1e-9);
        }
    }
}

#[test]
fn places_off_the_globe_and_instants_off_the_calendar_are_refused() {
    assert!(matches!(Observer::new(90.1, 0.0), Err(SunError::Latitude(_))));
    assert!(matches!(Observer::new(f64::NAN, 0.0), Err(SunError::Latitude(_))));
    assert!(matches!(Observer::new(0.0, -180.5), Err(SunError::Longitude(_))));
    let pole = Observer::new(90.0, 180.0).unwrap();
    assert!(matches!(pole.in_air(f64::INFINITY, 1013.0, 12.0), Err(SunError::Air { .. })));
    for instant in [f64::NAN, f64::INFINITY, 1e15] {
        assert!(matches!(pole.position(instant), Err(SunError::Instant(_))));
    }
    assert!(pole.with_delta_t(f64::NAN).position(0.0).is_err());
}
