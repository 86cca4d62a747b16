//! The coldest air to reckon with at a place, by a rule in what the table holds.
//!
//! Fitted by `weather/fit_cold.py` to the coldest ever measured at 151 towns (`tests/data/coldest_measured.csv`), towns left
//! out good to 4.0 K, whole regions left out to 4.6 K, and then lowered by [`MARGIN_K`].

use crate::math;
use crate::sky::globe::{EARTH_KM, distance_km};
use crate::weather::world::table::{LAND_COLUMNS, LAND_ROWS, Table};

/// Land within this distance counts \[km\].
const NEAR_KM: f64 = 300.0;
/// Below the middle of the fit, for caution \[K\]: three quarters of its error.
const MARGIN_K: f64 = 3.0;
/// No month is reckoned with less below its mean \[K\] (our choice).
const LEAST_GAP_K: f64 = 5.0;
/// Spreads of daily means that a month's shape counts beside half its swing: in nine records of 10 to 30 years a month went
/// below the rule in 5 of 108 cases, all at one place, by 2.1 K at most.
const SPREADS: f64 = 3.0;

/// Design cold of twelve months \[°C\].
///
/// * `latitude_deg`, `longitude_deg` — north and east positive, longitude -180 to 180.
/// * `share_of_land` — of what lies within 300 km, 0 to 1 ([`share_of_land`]).
/// * `range_k` — warmest less coldest month.
/// * `here_c` — monthly means at the site's own height.
/// * `swings_k`, `spreads_k` — of the day, and of daily means, by month.
pub(super) fn design_c(
    (latitude_deg, longitude_deg): (f64, f64),
    share_of_land: f64,
    range_k: f64,
    here_c: &[f64; 12],
    swings_k: &[f64; 12],
    spreads_k: &[f64; 12],
) -> [f64; 12] {
    let coldest = (0..12).min_by(|&a, &b| here_c[a].total_cmp(&here_c[b])).unwrap_or_default();
    let mean_c = here_c[coldest];
    // East of the Rocky Mountains nothing keeps the air of the Arctic from the Gulf.
    let open_north =
        ramp(longitude_deg, -120.0, -112.0) * ramp(-longitude_deg, 50.0, 60.0) * ramp(latitude_deg, 20.0, 25.0);
    let tropics = 1.0 - ramp(latitude_deg.abs(), 5.0, 25.0);
    let range_k = range_k.min(36.0);
    let middle_c = -9.86 + 1.081 * mean_c.min(25.0)
        // Where the whole month is cold already, less is left to fall.
        - 0.612 * (mean_c + 10.0).min(0.0)
        // The sea keeps cold from coasts.
        - 11.12 * share_of_land
        + (0.411 - 0.647 * latitude_deg.abs() / 45.0) * range_k
        - 5.64 * open_north
        + 3.15 * tropics;
    let gap_k = (mean_c - (middle_c - MARGIN_K)).max(LEAST_GAP_K);
    // Other months fall short of their means as their days differ.
    let shape = |month: usize| 0.5 * swings_k[month] + SPREADS * spreads_k[month];
    std::array::from_fn(|month| {
        let gap_k = (gap_k * shape(month) / shape(coldest)).max(LEAST_GAP_K);
        (here_c[month] - gap_k).max(-90.0)
    })
}

/// 0 at `none` and before, 1 at `whole` and beyond.
fn ramp(value: f64, none: f64, whole: f64) -> f64 {
    ((value - none) / (whole - none)).clamp(0.0, 1.0)
}

/// Share of land, by area, in the boxes of 0.25° within 300 km of a place.
pub(super) fn share_of_land(table: &Table, latitude_deg: f64, longitude_deg: f64) -> f64 {
    let (mut land, mut all) = (0.0, 0.0);
    for row in 0..LAND_ROWS {
        let north_deg = row as f64 / 4.0 - 90.0;
        if NEAR_KM < distance_km((north_deg, longitude_deg), (latitude_deg, longitude_deg)) {
            continue;
        }
        let area = math::cos(north_deg.to_radians()).max(0.0);
        for column in near_columns(north_deg, (latitude_deg, longitude_deg)) {
            if distance_km((north_deg, column as f64 / 4.0 - 180.0), (latitude_deg, longitude_deg)) <= NEAR_KM {
                all += area;
                land += if table.is_land(row, column) { area } else { 0.0 };
            }
        }
    }
    if 0.0 < all { land / all } else { 1.0 }
}

/// The columns of a row of boxes among which those within [`NEAR_KM`] lie: on a sphere cos φ₁ cos φ₂ sin²(Δλ/2) is at most
/// sin²(d/2R).
fn near_columns(north_deg: f64, (latitude_deg, longitude_deg): (f64, f64)) -> impl Iterator<Item = usize> {
    let half_chord = math::sin(0.5 * NEAR_KM / EARTH_KM);
    let cosines = math::cos(north_deg.to_radians()) * math::cos(latitude_deg.to_radians());
    let sine = if cosines > 0.0 { half_chord / cosines.sqrt() } else { 1.0 };
    // To the next box on either side.
    let reach = if sine < 1.0 { (2.0 * math::asin(sine).to_degrees() * 4.0).ceil() as usize + 1 } else { LAND_COLUMNS };
    let middle = ((longitude_deg + 180.0) * 4.0).round() as usize;
    let count = (2 * reach + 1).min(LAND_COLUMNS);
    (0..count).map(move |k| (middle + LAND_COLUMNS + k - count / 2) % LAND_COLUMNS)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What was measured: lists of extremes, most of them from memory to some 2 K (`tests/data/README.md`); but for Lima they are the
    /// towns that the rule was fitted to. It is meant to lie within 8 K below and 2 K above at most places: so at nine of ten on the warm
    /// side, where too little cold is reckoned with, and at fourteen of fifteen on the other. 7.3 K is what the coldest of a century lies
    /// below the coldest of nine winters in ten (E. J. Gumbel, Statistics of Extremes, 1958: (4.60 - 2.25) √6/π = 1.83 standard deviations
    /// of the yearly minimum, 4 K by common practice).
    #[test]
    fn the_design_cold_stands_against_the_coldest_ever_measured() {
        let rows = include_str!("../../../tests/data/coldest_measured.csv").lines().skip(1);
        let mut gaps = Vec::new();
        for row in rows {
            let fields: Vec<&str> = row.split(';').collect();
            let number = |at: usize| fields[at].parse::<f64>().expect("a number");
            let climate = super::super::lookup(number(2), number(3), fields[4].parse().ok()).expect("a climate");
            let design = climate.months.iter().map(|month| month.air.record_low_c).fold(f64::INFINITY, f64::min);
            let above_k = design - number(1);
            println!("{:32} measured {:6.1} design {design:6.1} {above_k:+5.1} K", fields[0], number(1));
            gaps.push(above_k);
        }
        let count = |is: &dyn Fn(&f64) -> bool| gaps.iter().filter(|gap| is(gap)).count();
        let (warmer, colder) = (count(&|gap| 2.0 < *gap), count(&|gap| *gap < -8.0));
        let most_k = gaps.iter().copied().fold(0.0, f64::max);
        println!(
            "of {}: {warmer} warmer by more than 2 K (most {most_k:.1} K), {colder} colder by more than 8 K",
            gaps.len()
        );
        assert!(150 < gaps.len() && 10 * warmer < gaps.len() && most_k < 7.3, "{warmer}, {most_k}");
        assert!(15 * colder < gaps.len(), "{colder}");
    }

    /// Far inland all is land; the middle of an ocean has none; Valletta's island is a few boxes.
    #[test]
    fn coasts_have_less_land_around_them() {
        let share = |latitude, longitude| share_of_land(Table::get(), latitude, longitude);
        assert!(share(48.0, 68.0) > 0.99 && share(35.9, 14.5) < 0.25);
        assert!((0.4..0.7).contains(&share(38.7, -9.1)), "{}", share(38.7, -9.1));
        // Across the line of dates as anywhere.
        assert!((share(66.0, 179.99) - share(66.0, -179.99)).abs() < 0.02);
    }

    /// The coldest of the year is that of the coldest month, and summers fall less. The figures are those of `weather/fit_cold.py`, to
    /// which this holds the program; the test above holds both against what was measured.
    #[test]
    fn months_fall_as_their_days_differ() {
        let here: [f64; 12] = std::array::from_fn(|m| 10.0 - 10.0 * math::cos(std::f64::consts::TAU * m as f64 / 12.0));
        let spreads = std::array::from_fn(|m| 3.0 + math::cos(std::f64::consts::TAU * m as f64 / 12.0));
        let cold = design_c((50.0, 10.0), 0.9, 20.0, &here, &[8.0; 12], &spreads);
        let gap = |m: usize| here[m] - cold[m];
        assert!(cold[1..].iter().all(|&other| cold[0] < other) && gap(6) < 0.75 * gap(0));
        // More sea around, less cold; east of the Rocky Mountains more of it.
        let coast = design_c((50.0, 10.0), 0.5, 20.0, &here, &[8.0; 12], &spreads);
        let plains = design_c((50.0, -95.0), 0.9, 20.0, &here, &[8.0; 12], &spreads);
        assert!((coast[0] - cold[0] - 0.4 * 11.12).abs() < 1e-9 && (cold[0] - plains[0] - 5.64).abs() < 1e-9);
    }
}
