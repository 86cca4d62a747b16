//! `tideover place`.

use clap::Args;

use super::output::{print, terminal_columns};
use super::{Done, Failure};
use tideover::places::{Found, Place, find, nearest};
use tideover::report::place::Asked;
use tideover::report::{json, place as report};

/// Arguments of `place`.
#[derive(Debug, Args)]
pub struct PlaceArgs {
    /// A name, like bergen or "Springfield, Illinois", or latitude and longitude in degrees, like 60.4 5.3
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
pub fn by_name(name: &str) -> Result<(Place, Vec<Place>), Failure> {
    match find(name) {
        Found::One { place, passed_over } => Ok((place, passed_over)),
        Found::Many(places) => Err(Failure::Input(report::refusal(name, &places, true))),
        Found::None(near) => Err(Failure::Input(report::refusal(name, &near, false))),
    }
}

/// Two numbers: "60.4 5.3", "60.4, 5.3", "60.4,5.3".
fn two_numbers(text: &str) -> Option<(f64, f64)> {
    let mut parts = text.split([',', ' ']).filter(|part| !part.is_empty());
    let mut number = || parts.next()?.trim_end_matches('°').replace('\u{2212}', "-").parse::<f64>().ok();
    let both = (number()?, number()?);
    parts.next().is_none().then_some(both)
}

/// Runs the command.
pub fn main(args: &PlaceArgs) -> Result<Done, Failure> {
    let text = args.words.join(" ");
    let (asked, place, passed_over) = match two_numbers(&text) {
        Some((latitude_deg, longitude_deg)) => {
            let (place, away_km) = nearest(latitude_deg, longitude_deg).ok_or_else(|| {
                Failure::Input(format!(
                    "error: `{text}` is no place on earth; allowed: latitude -90 to 90, longitude -180 to 180"
                ))
            })?;
            (Asked::Near { latitude_deg, longitude_deg, away_km }, place, Vec::new())
        }
        None => {
            let (place, passed_over) = by_name(&text)?;
            (Asked::Name, place, passed_over)
        }
    };
    let told = if args.json {
        json::text("place", &report::json(asked, &place, &passed_over))
    } else {
        report::document(asked, &place, &passed_over, Some(&text)).text(terminal_columns())
    };
    print(&told)?;
    Ok(Done::Answered)
}
