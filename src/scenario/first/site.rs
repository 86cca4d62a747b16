//! The place of an answer: a town by its name, or a position.

use super::{Answered, First, Wrong};
use crate::places::{self, Found};
use crate::scenario::as_written;
use crate::scenario::whereabouts::site_lines;

/// Most towns that are offered to choose from.
const MOST_OFFERED: usize = 6;

/// The lines of `[site]` for a town or a position, with the latitude \[°\].
pub(super) fn site(text: &str, said: &mut Answered) -> Result<(String, f64), Wrong> {
    let wrong = |why: String| Wrong::new(0, why);
    if text.is_empty() {
        return Err(wrong("a town is needed, like \"Bergen, Norway\"".into()));
    }
    match as_written::position(text) {
        Some(Ok((latitude_deg, longitude_deg))) => {
            let near = places::nearest(latitude_deg, longitude_deg)
                .ok_or_else(|| wrong("that is no place on earth".into()))?;
            return Ok((site_lines(Some((latitude_deg, longitude_deg, near.1)), &near.0), latitude_deg));
        }
        Some(Err(why)) => return Err(wrong(format!("`{text}` {why}"))),
        None => {}
    }
    let offer = |places: &[places::Place], why: &dyn Fn(String) -> String| {
        let mut choices: Vec<String> = Vec::new();
        for title in places.iter().map(places::Place::full_title) {
            // Of several that are written alike the largest stands for all.
            if !choices.contains(&title) && choices.len() < MOST_OFFERED {
                choices.push(title);
            }
        }
        let quoted = choices.iter().map(|title| format!("\"{title}\"")).collect::<Vec<_>>().join(", ");
        Wrong { question: 0, why: why(quoted), choices }
    };
    match places::find(text) {
        Found::One { place, .. } => {
            if !places::is_called(&place, text) {
                said.told.push(format!("{text}: taken for {}", place.full_title()));
            }
            Ok((site_lines(None, &place), place.latitude_deg))
        }
        Found::Wider { is, town } => {
            Err(offer(&[town], &|town| format!("`{text}` is {is}: name a town in it, like {town}")))
        }
        Found::Many(several) => {
            let many = several.len();
            Err(offer(&several, &|towns| format!("`{text}` is the name of {many} places: write one of {towns}")))
        }
        Found::NoPlace { why, .. } => Err(wrong(format!("`{text}` {why}"))),
        Found::None(near) if near.is_empty() => {
            let why = "is not a town that is known: write a larger one near by, or latitude and longitude";
            Err(wrong(format!("`{text}` {why}")))
        }
        Found::None(near) => {
            Err(offer(&near, &|towns| format!("`{text}` is not a town that is known: did you mean {towns}?")))
        }
    }
}

/// No town is as near as this to a position that its sign may be wrong for \[km\] (our choice).
const NEAR_A_TOWN_KM: f64 = 30.0;

/// A position far from every town that lies near one where east is taken for west, south for north, or one figure for the other.
pub(super) fn mirrored(first: &First) -> Option<String> {
    let (latitude, longitude) = (first.latitude_deg, first.longitude_deg);
    let (_, away_km) = places::nearest(latitude, longitude)?;
    if away_km <= NEAR_A_TOWN_KM {
        return None;
    }
    let others = [
        (latitude, -longitude, "with the longitude the other way"),
        (-latitude, longitude, "with the latitude the other way"),
        (longitude, latitude, "with the two exchanged"),
    ];
    let there =
        others.into_iter().filter(|(latitude, ..)| latitude.abs() <= 90.0).find_map(|(latitude, longitude, how)| {
            let (place, km) = places::nearest(latitude, longitude)?;
            (km <= NEAR_A_TOWN_KM).then(|| format!("{how}, {latitude}, {longitude} lies near {}", place.full_title()))
        })?;
    Some(format!(
        "{latitude}, {longitude} is {away_km:.0} km from the nearest town; {there}: look at the signs and at which comes first"
    ))
}
