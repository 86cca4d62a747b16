//! `tideover climate`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

use super::output::print;
use super::{Done, Failure};
use crate::report::climate as report;
use crate::weather::world;

/// Arguments of `climate`.
#[derive(Debug, Args)]
pub struct ClimateArgs {
    #[command(subcommand)]
    command: Question,
}

#[derive(Debug, Subcommand)]
enum Question {
    /// Print the twelve months of a place: sun, persistence, air temperature
    Show {
        /// Latitude and longitude in degrees, north and east positive, like 44.2,-72.6
        #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true, conflicts_with = "file")]
        at: Option<String>,
        /// Height above sea level in metres, for the air temperature
        #[arg(long, value_name = "METRES", allow_hyphen_values = true)]
        height: Option<f64>,
        /// A climate file instead of the built-in table
        #[arg(long, value_name = "FILE", required_unless_present = "at")]
        file: Option<PathBuf>,
    },
}

/// Reads "44.2,-72.6".
pub fn parse_place(text: &str) -> Result<(f64, f64), Failure> {
    let wrong = || {
        Failure::Input(format!(
            "error: --at is `{text}`; allowed: latitude and longitude in degrees with a comma between, like 44.2,-72.6"
        ))
    };
    let (latitude, longitude) = text.split_once(',').ok_or_else(wrong)?;
    let number = |text: &str| text.trim().trim_end_matches('°').parse::<f64>().map_err(|_| wrong());
    let (latitude, longitude) = (number(latitude)?, number(longitude)?);
    if !(-90.0..=90.0).contains(&latitude) || !(-180.0..=180.0).contains(&longitude) {
        return Err(Failure::Input(format!(
            "error: --at is `{text}`; allowed: latitude -90 to 90, longitude -180 to 180"
        )));
    }
    Ok((latitude, longitude))
}

/// Runs the command.
pub fn main(args: &ClimateArgs) -> Result<Done, Failure> {
    let Question::Show { at, height, file } = &args.command;
    let climate = match (at, file) {
        (Some(at), _) => {
            let (latitude, longitude) = parse_place(at)?;
            if height.is_some_and(|h| !(-500.0..=6000.0).contains(&h)) {
                return Err(Failure::Input("error: --height is out of range; allowed: -500 to 6000 metres".into()));
            }
            world::lookup(latitude, longitude, *height)
                .map_err(|error| Failure::Input(format!("error: --at {at}: {error}")))?
        }
        (None, Some(path)) => super::input::climate_file(path)?,
        (None, None) => return Err(Failure::Input("error: give --at LAT,LON or --file FILE".into())),
    };
    print(&report::text(&climate))?;
    Ok(Done::Answered)
}
