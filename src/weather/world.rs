//! The built-in climate of any land place: days of NASA MERRA-2 clearness, their monthly means by sunshine and stations,
//! ERA5 air temperature, packed in `weather/world.bin`. Sources, licences and errors: `weather/README.md`.

pub mod almanac;
mod cold;
mod correction;
mod habits;
mod shape;
mod table;

use thiserror::Error;

use super::climate::{Basis, Climate, LEVELS, quantile_mean};
use super::doubt::Doubt;
use crate::sky::extraterrestrial::{daily_horizontal_wh_m2, declination_deg, normal_w_m2};
use crate::sky::globe::{EARTH_KM, distance_km};
use almanac::{DARK_WH_M2, month_mean_wh_m2, outside_wh_m2};
use table::{AirNode, LAND_COLUMNS, LAND_ROWS, Table};

/// A place counts as land within this distance of the centre of a 0.25° box that holds land \[km]: half the diagonal
/// of a box (20 km) and 30 km more, for harbours, moorings and islets.
const COAST_KM: f64 = 50.0;
/// The sun of a place is taken from cells whose centre is no farther away than this \[km], a little over a cell's width
/// (3° are 334 km): beyond it the table describes another place.
const SUN_REACH_KM: f64 = 400.0;
/// Fall of the mean temperature with height \[K/m], the standard atmosphere's (ISO 2533).
const LAPSE_K_PER_M: f64 = 0.0065;

/// Why the table has no climate for a place.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum NotOnLand {
    /// The figures name no place on earth.
    #[error(
        "latitude {latitude_deg}, longitude {longitude_deg} is no place on earth; \
         allowed: latitude -90 to 90, longitude -180 to 360"
    )]
    NoPlace {
        /// As given \[°].
        latitude_deg: f64,
        /// As given \[°].
        longitude_deg: f64,
    },
    /// The height is no height on earth.
    #[error("a height of {height_m} m is no height on earth; allowed: -500 m to 9000 m")]
    NoHeight {
        /// As given \[m].
        height_m: f64,
    },
    /// The place lies in the open sea.
    #[error(
        "{} lies at sea, about {distance_km:.0} km from the nearest land ({}); the built-in climate is for land: \
         {}, or give a climate file or an hourly record",
        words(*latitude_deg, *longitude_deg),
        words(land.0, land.1),
        slips(*latitude_deg, *longitude_deg)
    )]
    AtSea {
        /// As given \[°].
        latitude_deg: f64,
        /// As given \[°].
        longitude_deg: f64,
        /// To the nearest land \[km], good to about 20 km.
        distance_km: f64,
        /// Latitude and longitude of the nearest land \[°], on a grid of 0.25°.
        land: (f64, f64),
    },
    /// Land, but farther from the cells of the table than one cell's width: polar lands and lone islands.
    #[error(
        "the built-in climate does not reach {}: its nearest cell ({}) is {distance_km:.0} km away and should be \
         within {SUN_REACH_KM:.0} km; give a climate file or an hourly record",
        words(*latitude_deg, *longitude_deg),
        words(cell.0, cell.1)
    )]
    OutOfReach {
        /// As given \[°].
        latitude_deg: f64,
        /// As given \[°].
        longitude_deg: f64,
        /// To the nearest cell of the table \[km].
        distance_km: f64,
        /// Latitude and longitude of that cell \[°].
        cell: (f64, f64),
    },
}

/// The built-in climate of a land place.
///
/// * `latitude_deg` — -90 to 90, north positive.
/// * `longitude_deg` — -180 to 360, east positive.
/// * `height_m` — the site's height above sea level, -500 to 9000; `None` takes the mean height of the land around.
///
/// Monthly means of clearness are interpolated between the four 1° nodes around the place (where these have none they are the
/// reanalysis's, corrected for its bias); how days lie about them follows from the mean, the air and how dark the darkest
/// fifth of days is in the reanalysis, interpolated between the four 3° cells; temperature between the same nodes, each brought to the site's height at -6.5 K per km. Cells at sea are left
/// out and the others weigh more. Persistence, hours and the rest of the air follow from these by rules fitted to records.
///
/// # Errors
/// [`NotOnLand`] at sea (more than about 50 km from land), beyond the table's reach (400 km from its cells: north of
/// about 75° N, Antarctica, lone islands), and for figures that name no place.
///
/// ```
/// use tideover::weather::world::lookup;
/// let copenhagen = lookup(55.7, 12.6, Some(10.0)).unwrap();
/// assert!(copenhagen.months[0].air.mean_c < copenhagen.months[6].air.mean_c);
/// assert!(lookup(47.0, -30.0, None).unwrap_err().to_string().contains("lies at sea"));
/// ```
///
/// Reference: Gelaro et al. (2017), J. Climate 30, 5419 (MERRA-2); Hersbach et al. (2020), Q. J. R. Meteorol. Soc.
/// 146, 1999 (ERA5).
pub fn lookup(latitude_deg: f64, longitude_deg: f64, height_m: Option<f64>) -> Result<Climate, NotOnLand> {
    if let Some(height_m) = height_m.filter(|height_m| !(-500.0..=9000.0).contains(height_m)) {
        return Err(NotOnLand::NoHeight { height_m });
    }
    let (table, longitude) = land(latitude_deg, longitude_deg)?;
    let raw = sun(table, latitude_deg, longitude)?;
    let around = around(table, latitude_deg, longitude);
    let clearness = std::array::from_fn(|month| {
        let corrected = || quantile_mean(&correction::correct(&raw[month], around.mean_c[month]));
        let mean = around.clearness[month].unwrap_or_else(corrected);
        shape::of_mean(mean, around.mean_c[month], &raw[month])
    });
    let height_m = height_m.unwrap_or(around.height_m);
    let here_c = around.mean_c.map(|mean_c| mean_c - LAPSE_K_PER_M * (height_m - around.height_m));
    let climate = Climate {
        name: words(latitude_deg, longitude),
        source: format!(
            "built-in world table: each day's sun as a weather model works it out afterwards from measurements (MERRA-2 of NASA, \
             2011-2015; Gelaro et al. 2017), its monthly means moved by {} to those of stations (sunshine 2003-2021, source: \
             Deutscher Wetterdienst, CC BY 4.0, changed); mean air temperature from another such model (ERA5, 2000-2025; contains \
             modified Copernicus Climate Change Service information 2026); the rest by rules fitted to open records",
            moved(&raw, &clearness)
        ),
        latitude_deg,
        longitude_deg: longitude,
        height_m: Some(height_m),
        basis: Basis::Table,
        seen: 0,
        doubt: Doubt::of_table(latitude_deg),
        months: habits::months(
            (latitude_deg, longitude),
            cold::share_of_land(table, latitude_deg, longitude),
            &clearness,
            &around.mean_c,
            &here_c,
        ),
    };
    Ok(under_true_sun(climate))
}

/// A climate of the table's clearness, in that of the true sun: the same light on the ground.
///
/// The table's clearness is over the irradiation outside the air by Spencer's (1971) series, which at 45° N falls 1.3 %
/// short of the true sun's in February and March and lies 1.6 % above it in October (2.7 % and 3.1 % at 60° N; within
/// 0.3 % at the equator). Left as it is it would take that from the sun of the source, or add it.
/// Held at 1, which only the fullest days of a month at the edge of polar night would pass.
#[must_use]
pub fn under_true_sun(mut climate: Climate) -> Climate {
    for (month, of_month) in climate.months.iter_mut().enumerate() {
        let tables = month_mean_wh_m2(month, |day| {
            let n = day as f64 + 1.0;
            daily_horizontal_wh_m2(climate.latitude_deg, declination_deg(n), normal_w_m2(n))
        });
        let ours = outside_wh_m2(climate.latitude_deg, climate.longitude_deg, month);
        if DARK_WH_M2 < tables.min(ours) {
            of_month.clearness.iter_mut().for_each(|clearness| *clearness = (*clearness * tables / ours).min(1.0));
        }
    }
    climate
}

/// The table and the longitude in -180..180 of a place on land.
fn land(latitude_deg: f64, longitude_deg: f64) -> Result<(&'static Table, f64), NotOnLand> {
    let place = (-90.0..=90.0).contains(&latitude_deg) && (-180.0..=360.0).contains(&longitude_deg);
    if !place {
        return Err(NotOnLand::NoPlace { latitude_deg, longitude_deg });
    }
    let (table, longitude) = (Table::get(), wrap(longitude_deg));
    near_land(table, latitude_deg, longitude)?;
    Ok((table, longitude))
}

/// What the monthly means of the reanalysis change by, least and most, in words.
fn moved(raw: &[[f64; 25]; 12], now: &[[f64; 25]; 12]) -> String {
    let percents = || raw.iter().zip(now).map(|(raw, now)| 100.0 * (quantile_mean(now) / quantile_mean(raw) - 1.0));
    let (least, most) = (percents().fold(f64::INFINITY, f64::min), percents().fold(f64::NEG_INFINITY, f64::max));
    format!("{least:+.0} to {most:+.0} %")
}

/// Slips of the pen that would explain a place at sea: those whose other reading lies on land.
fn slips(latitude_deg: f64, longitude_deg: f64) -> String {
    let there = |latitude: f64, longitude: f64| latitude.abs() <= 90.0 && land(latitude, longitude).is_ok();
    let found: Vec<&str> = [
        (there(-latitude_deg, longitude_deg), "check the sign of the latitude (south is negative)"),
        (there(latitude_deg, -longitude_deg), "check the sign of the longitude (west is negative)"),
        (there(-latitude_deg, -longitude_deg), "check both signs (south and west are negative)"),
        (there(longitude_deg, latitude_deg), "latitude and longitude may be exchanged"),
    ]
    .into_iter()
    .filter_map(|(there, slip)| there.then_some(slip))
    .collect();
    if found.is_empty() { "check latitude and longitude".into() } else { found.join(", or ") }
}

/// Latitude and longitude in words.
fn words(latitude_deg: f64, longitude_deg: f64) -> String {
    let longitude = wrap(longitude_deg);
    let north = if latitude_deg < 0.0 { "S" } else { "N" };
    let east = if longitude < 0.0 { "W" } else { "E" };
    format!("{:.2}° {north}, {:.2}° {east}", latitude_deg.abs(), longitude.abs())
}

/// Longitude in -180..180 \[°].
fn wrap(longitude_deg: f64) -> f64 {
    (longitude_deg + 180.0).rem_euclid(360.0) - 180.0
}

/// Refuses a place in the open sea, naming the nearest land.
fn near_land(table: &Table, latitude_deg: f64, longitude_deg: f64) -> Result<(), NotOnLand> {
    let here = (latitude_deg, longitude_deg);
    let own = ((latitude_deg + 90.0) * 4.0).round() as usize;
    let mut nearest = (f64::INFINITY, here);
    // Row by row away from the place, until a row itself lies farther off than the best found.
    for away in 0..LAND_ROWS {
        if nearest.0 < (away as f64 - 0.5) * 0.25_f64.to_radians() * EARTH_KM {
            break;
        }
        let north = own + away;
        let south = own.checked_sub(away).filter(|&row| row != north);
        for row in [Some(north).filter(|&row| row < LAND_ROWS), south].into_iter().flatten() {
            for column in (0..LAND_COLUMNS).filter(|&column| table.is_land(row, column)) {
                let land = (row as f64 / 4.0 - 90.0, column as f64 / 4.0 - 180.0);
                let distance = distance_km(here, land);
                if distance < nearest.0 {
                    nearest = (distance, land);
                }
            }
        }
    }
    if nearest.0 <= COAST_KM {
        return Ok(());
    }
    Err(NotOnLand::AtSea { latitude_deg, longitude_deg, distance_km: nearest.0, land: nearest.1 })
}

/// Twelve months of clearness at [`LEVELS`], interpolated between the cells around.
fn sun(table: &Table, latitude_deg: f64, longitude_deg: f64) -> Result<[[f64; 25]; 12], NotOnLand> {
    let here = (latitude_deg, longitude_deg);
    let away = |cell: usize| {
        let node = table.sun_nodes()[cell];
        distance_km(here, (node.latitude_deg, node.longitude_deg))
    };
    let mut cells: Vec<(usize, f64)> =
        table.sun_around(latitude_deg, longitude_deg).filter(|&(_, weight)| 0.0 < weight).collect();
    if cells.iter().all(|&(cell, _)| SUN_REACH_KM < away(cell)) {
        let nearest = (0..table.sun_nodes().len()).min_by(|&a, &b| away(a).total_cmp(&away(b))).unwrap_or_default();
        let node = table.sun_nodes()[nearest];
        if SUN_REACH_KM < away(nearest) {
            return Err(NotOnLand::OutOfReach {
                latitude_deg,
                longitude_deg,
                distance_km: away(nearest),
                cell: (node.latitude_deg, node.longitude_deg),
            });
        }
        cells = vec![(nearest, 1.0)];
    }
    let total: f64 = cells.iter().map(|&(_, weight)| weight).sum();
    let mut months = [[0.0; LEVELS.len()]; 12];
    for (cell, weight) in cells {
        for (month, quantiles) in months.iter_mut().enumerate() {
            for (sum, value) in quantiles.iter_mut().zip(table.clearness(cell, month)) {
                *sum += value * weight / total;
            }
        }
    }
    Ok(months)
}

/// Means around a place, interpolated between the 1° nodes: temperatures at the mean height of the land.
fn around(table: &Table, latitude_deg: f64, longitude_deg: f64) -> AirNode {
    let nodes: Vec<(&AirNode, f64)> = table
        .air_around(latitude_deg, longitude_deg)
        .filter(|&(_, weight)| 0.0 < weight)
        .map(|(node, weight)| (table.air(node), weight))
        .collect();
    // Nodes without the value are left out and the others weigh more.
    let mean = |value: &dyn Fn(&AirNode) -> Option<f64>| {
        let known = || nodes.iter().filter_map(|(node, weight)| value(node).map(|value| (value, weight)));
        let total: f64 = known().map(|(_, weight)| weight).sum();
        (0.0 < total).then(|| known().map(|(value, weight)| value * weight / total).sum::<f64>())
    };
    let sea_c = |node: &AirNode, month: usize| node.mean_c[month] + LAPSE_K_PER_M * node.height_m;
    let height_m = mean(&|node| Some(node.height_m)).unwrap_or_default();
    let by_month = |value: &dyn Fn(&AirNode, usize) -> f64| {
        std::array::from_fn(|month| mean(&|node| Some(value(node, month))).unwrap_or_default())
    };
    AirNode {
        height_m,
        mean_c: by_month(&sea_c).map(|sea_c: f64| sea_c - LAPSE_K_PER_M * height_m),
        clearness: std::array::from_fn(|month| mean(&|node| node.clearness[month])),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Monthly means read directly from the PyPI package gsee-climate-data 1.0.0 (NASA MERRA-2) by
    /// `weather/build_world.py --samples`, before anything is done to them.
    #[test]
    fn the_raw_sun_is_that_of_the_source() {
        let first = [1, 32, 60, 91, 121, 152, 182, 213, 244, 274, 305, 335, 366];
        let mut ratios = Vec::new();
        for line in include_str!("../../tests/data/world_source_sun.csv").lines().skip(1) {
            let row: Vec<f64> = line.split(',').map(|text| text.parse().unwrap()).collect();
            let (latitude, month) = (row[0], row[2] as usize - 1);
            let days = (first[month]..first[month + 1]).map(f64::from);
            let outside: Vec<f64> = days
                .map(|day| daily_horizontal_wh_m2(latitude, declination_deg(day), normal_w_m2(day)) / 24.0)
                .collect();
            let outside_w_m2 = outside.iter().sum::<f64>() / outside.len() as f64;
            // The table's clearness is over Spencer's series.
            let raw = sun(Table::get(), latitude, row[1]).unwrap();
            let ratio = outside_w_m2 * quantile_mean(&raw[month]) / row[3];
            // Where the sun barely rises, days differ tenfold within the month and the mean of ratios is not the ratio
            // of means: 60 W/m² over the day is a December at 55° N.
            if 60.0 < outside_w_m2 {
                assert!((ratio - 1.0).abs() < 0.03, "{line}: {ratio:.4}");
                ratios.push(ratio);
            }
        }
        let mean = ratios.iter().sum::<f64>() / ratios.len() as f64;
        println!("table over source: {} months, mean {mean:.4}", ratios.len());
        assert!(100 <= ratios.len() && (mean - 1.0).abs() < 0.003);
    }

    /// Light on the ground is the table's clearness times Spencer's irradiation outside, under which it was made.
    #[test]
    fn the_true_sun_takes_no_light_from_the_table_and_adds_none() {
        for latitude in [60.0, 44.2, 0.0, -33.0] {
            let mut climate = lookup(44.2, -72.6, None).unwrap();
            climate.latitude_deg = latitude;
            let moved = under_true_sun(climate.clone());
            for month in 0..12 {
                let spencer = month_mean_wh_m2(month, |day| {
                    let n = day as f64 + 1.0;
                    daily_horizontal_wh_m2(latitude, declination_deg(n), normal_w_m2(n))
                });
                let before = quantile_mean(&climate.months[month].clearness) * spencer;
                let after = quantile_mean(&moved.months[month].clearness) * outside_wh_m2(latitude, -72.6, month);
                assert!((after / before - 1.0).abs() < 1e-9, "{latitude}, month {month}: {after} for {before}");
            }
        }
    }

    #[test]
    fn distances_are_those_of_a_sphere() {
        // A degree of a great circle is 111.19 km on a sphere of 6371 km.
        assert!((distance_km((0.0, 179.5), (0.0, -179.5)) - 111.19).abs() < 0.01);
        assert!((distance_km((60.0, 10.0), (61.0, 10.0)) - 111.19).abs() < 0.01);
        assert!((distance_km((90.0, 0.0), (-90.0, 77.0)) - 6371.0 * std::f64::consts::PI).abs() < 1e-6);
    }

    /// The nearest land is named though there is land on the place's own latitude: Corvo (39.70° N, 31.11° W), 4.3° to the south.
    #[test]
    fn at_sea_the_nearest_land_of_any_latitude_is_named() {
        let NotOnLand::AtSea { distance_km, land, .. } = lookup(44.0, -31.1, None).unwrap_err() else {
            panic!("the North Atlantic is sea");
        };
        assert!((land.0 - 39.7).abs() < 0.3 && (land.1 + 31.1).abs() < 0.5, "{land:?}");
        assert!((distance_km - 4.3 * 111.19).abs() < 30.0, "{distance_km}");
        // Of a place in the middle of the Gulf of Guinea the coast is nearest straight to the north: Cape Three Points, 4.74° N, 2.09° W.
        let NotOnLand::AtSea { distance_km, land, .. } = lookup(0.0, -2.1, None).unwrap_err() else {
            panic!("the Gulf of Guinea is sea");
        };
        assert!((land.0 - 4.74).abs() < 0.3 && (land.1 + 2.09).abs() < 0.6, "{land:?}");
        assert!((distance_km - 4.74 * 111.19).abs() < 30.0, "{distance_km}");
    }

    /// Slips of the pen are named where the other reading lies on land, and only there.
    #[test]
    fn at_sea_the_slip_that_would_be_on_land_is_named() {
        let told = |latitude: f64, longitude: f64| lookup(latitude, longitude, None).unwrap_err().to_string();
        let (north, east) = ("the sign of the latitude (south", "the sign of the longitude (west");
        let (both, swapped) = ("check both signs", "may be exchanged");
        let none = "check latitude and longitude";
        for (latitude, longitude, slips) in [
            // Ukraine, New Zealand, Argentina or Afghanistan, Bolivia or Sweden.
            (47.0, -30.0, vec![east]),
            (36.0, -65.0, vec![north, east]),
            (41.0, 175.0, vec![north]),
            (15.0, 65.0, vec![both, swapped]),
            // Off all land with either sign: south of Hawaii, and north of New Ireland.
            (0.0, -150.0, vec![none]),
        ] {
            let text = told(latitude, longitude);
            for slip in [north, east, both, swapped, none] {
                assert_eq!(text.contains(slip), slips.contains(&slip), "{text}: {slip}");
            }
            // One more leads to what else may be given.
            assert_eq!(text.matches(", or ").count(), slips.len(), "{text}");
        }
        assert_eq!(words(-40.0, 200.0), "40.00° S, 160.00° W");
        assert_eq!((wrap(180.0), wrap(-180.0), wrap(190.0), wrap(359.0)), (-180.0, -180.0, -170.0, -1.0));
    }
}
