//! Places by position.

use super::Place;
use super::table::Table;
use crate::sky::globe::{EARTH_KM, distance_km};

/// A far larger place no farther than this behind the nearest is as near to a person \[km\] (our choice).
const AS_NEAR_KM: f64 = 1.0;
/// So many times the people make a place far larger (our choice).
const FAR_LARGER: u32 = 10;

/// The nearest place and how far away it is \[km]; where a far larger one is as near, that, and not a part of it.
///
/// * `latitude_deg` — -90 to 90, north positive.
/// * `longitude_deg` — -180 to 360, east positive.
///
/// `None` for figures that name no place on earth.
#[must_use]
pub fn nearest(latitude_deg: f64, longitude_deg: f64) -> Option<(Place, f64)> {
    let (first, km) = nearest_of(latitude_deg, longitude_deg)?;
    let (table, here) = (Table::get(), (latitude_deg, longitude_deg));
    let people = |place: &usize| table.people(*place).unwrap_or(0);
    let others = within(here, km + AS_NEAR_KM)
        .into_iter()
        .filter(|other| people(&first).saturating_mul(FAR_LARGER) < people(other));
    let place = others.max_by_key(|other| (people(other), std::cmp::Reverse(*other))).unwrap_or(first);
    Some((table.place(place), distance_km(here, table.position(place))))
}

/// The same by its index.
pub(super) fn nearest_of(latitude_deg: f64, longitude_deg: f64) -> Option<(usize, f64)> {
    let here = on_earth(latitude_deg, longitude_deg)?;
    let mut best = (f64::INFINITY, 0);
    walk(here, |place, km| {
        if km < best.0 || km == best.0 && place < best.1 {
            best = (km, place);
        }
        best.0
    });
    best.0.is_finite().then_some((best.1, best.0))
}

/// The time zone of the nearest place.
///
/// Arguments as of [`nearest`]; `None` for figures that name no place on earth, and more than 500 km from any place.
#[must_use]
pub fn zone_of(latitude_deg: f64, longitude_deg: f64) -> Option<&'static str> {
    let (place, km) = nearest_of(latitude_deg, longitude_deg)?;
    (km <= LONELY_KM).then(|| Table::get().zone(place))
}

/// Farther than this from any place nothing is said of the zone, and a position lies near none \[km].
pub const LONELY_KM: f64 = 500.0;

/// Places within a distance \[km].
pub(super) fn within(here: (f64, f64), reach_km: f64) -> Vec<usize> {
    let mut found = Vec::new();
    walk(here, |place, km| {
        if km <= reach_km {
            found.push(place);
        }
        reach_km
    });
    found
}

/// People of all places of a zone.
pub(super) fn people_in(zone: &str) -> u64 {
    let table = Table::get();
    let places = (0..table.len()).filter(|place| table.zone(*place) == zone);
    places.filter_map(|place| table.people(place)).map(u64::from).sum()
}

fn on_earth(latitude_deg: f64, longitude_deg: f64) -> Option<(f64, f64)> {
    let known = (-90.0..=90.0).contains(&latitude_deg) && (-180.0..=360.0).contains(&longitude_deg);
    known.then_some((latitude_deg, longitude_deg))
}

/// Shows places from the latitude of a position outwards with their distance \[km], until the difference of latitudes alone is
/// more than what `visit` answers.
fn walk(here: (f64, f64), mut visit: impl FnMut(usize, f64) -> f64) {
    let table = Table::get();
    let order = table.by_latitude();
    let start = order.partition_point(|place| table.position(*place as usize).0 < here.0);
    let km_a_degree = 1_f64.to_radians() * EARTH_KM;
    let (mut south, mut north) = (start, start);
    let mut reach_km = f64::INFINITY;
    loop {
        let apart = |at: Option<&u32>| at.map(|place| (table.position(*place as usize).0 - here.0).abs() * km_a_degree);
        let below = apart(south.checked_sub(1).and_then(|at| order.get(at))).filter(|km| *km <= reach_km);
        let above = apart(order.get(north)).filter(|km| *km <= reach_km);
        let place = match (below, above) {
            (None, None) => return,
            (Some(down), up) if up.is_none_or(|up| down < up) => {
                south -= 1;
                order[south] as usize
            }
            _ => {
                north += 1;
                order[north - 1] as usize
            }
        };
        reach_km = visit(place, distance_km(here, table.position(place)));
    }
}
