//! `tideover place`.

use clap::Args;

use super::output::{print, terminal_columns};
use super::{Done, Failure};
use tideover::places::{Found, Place, find, nearest};
use tideover::report::place::Asked;
use tideover::report::{json, place as report};
use tideover::scenario::position;

/// Arguments of `place`.
#[derive(Debug, Args)]
pub struct PlaceArgs {
    /// A name, like bergen or "Springfield, Illinois", or latitude and longitude, like 60.4 5.3 or "60°24'N 5°18'E"
    #[arg(required = true, allow_negative_numbers = true, value_name = "NAME or LAT LON")]
    words: Vec<String>,
    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
}

/// The one place of a name.
///
/// # Errors
/// A refusal with candidates or near names where it is not one place.
fn by_name(name: &str) -> Result<(Place, Vec<Place>), Failure> {
    match find(name) {
        Found::One { place, passed_over } => Ok((place, passed_over)),
        Found::Many(places) => Err(Failure::Input(report::refusal(name, &places, true))),
        Found::Wider { is, town } => {
            Err(Failure::Input(format!("error: `{name}` is {is}: name a town in it, like \"{}\"\n", town.full_title())))
        }
        Found::NoPlace { why, .. } => Err(Failure::Input(format!("error: `{name}` {why}"))),
        Found::None(near) => Err(Failure::Input(report::refusal(name, &near, false))),
    }
}

/// A place by its name or by its position, as a person writes either; with smaller ones of the name.
///
/// # Errors
/// A refusal that says what to write.
pub fn by_name_or_position(text: &str) -> Result<(Asked, Place, Vec<Place>), Failure> {
    let wrong = |why: &str| Failure::Input(format!("error: `{text}` {why}"));
    match position(text) {
        Some(Ok((latitude_deg, longitude_deg))) => {
            let (place, away_km) = nearest(latitude_deg, longitude_deg).ok_or_else(|| wrong("is no place on earth"))?;
            Ok((Asked::Near { latitude_deg, longitude_deg, away_km }, place, Vec::new()))
        }
        Some(Err(why)) => Err(wrong(&why)),
        None => by_name(text).map(|(place, passed_over)| (Asked::Name, place, passed_over)),
    }
}

/// Runs the command.
pub fn main(args: &PlaceArgs) -> Result<Done, Failure> {
    let text = args.words.join(" ");
    let (asked, place, passed_over) = by_name_or_position(&text)?;
    let told = if args.json {
        json::text("place", &report::json(asked, &place, &passed_over))
    } else {
        report::document(asked, &place, &passed_over, Some(&text)).text(terminal_columns())
    };
    print(&told)?;
    Ok(Done::Answered)
}
