//! `tideover climate`.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};

use super::input::reader_of;
use super::output::{PendingFile, print, terminal_columns};
use super::place::by_name_or_position;
use super::{Done, Failure};
use tideover::open::weather;
use tideover::report::climate as report;
use tideover::report::document::Block;
use tideover::report::place::{Asked, Whereabouts};
use tideover::report::told::Words;
use tideover::weather::{climate_file, world};

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
        /// A town by its name, like bergen or "Springfield, Illinois", or latitude and longitude, as of `tideover place`
        #[arg(value_name = "NAME or LAT LON", allow_negative_numbers = true, conflicts_with_all = ["at", "place", "file"])]
        words: Vec<String>,
        /// Latitude and longitude, north and east positive, like 44.2,-72.6 or 44.2N 72.6W
        #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true, conflicts_with = "file")]
        at: Option<String>,
        /// A town by its name instead, like "Bergen, Norway"; its height too, unless --height says another
        #[arg(long, value_name = "NAME", conflicts_with_all = ["at", "file"])]
        place: Option<String>,
        /// Height above sea level in metres, for the air temperature
        #[arg(long, value_name = "METRES", allow_hyphen_values = true)]
        height: Option<f64>,
        /// A climate file instead of the built-in table
        #[arg(long, value_name = "FILE")]
        file: Option<PathBuf>,
    },
    /// Fit a climate to a record of a year or more: our hourly CSV, TMY3, EPW, or days of sun
    Fit {
        /// The record, plain or packed with gzip
        record: PathBuf,
        /// Where it was taken, unless its heading says so
        #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true)]
        at: Option<String>,
        /// The town where it was taken, by its name, instead
        #[arg(long, value_name = "NAME", conflicts_with = "at")]
        place: Option<String>,
        /// What to call the climate (default: the name of the file)
        #[arg(long)]
        name: Option<String>,
        /// Write the climate to this file, for `climate = "mine.toml"` in a scenario
        #[arg(long, short, value_name = "FILE")]
        out: Option<PathBuf>,
    },
}

/// Reads "44.2,-72.6", "44°12'N 72°36'W".
pub fn parse_place(text: &str) -> Result<(f64, f64), Failure> {
    let wrong = |why: &str| Failure::Input(format!("error: --at is `{text}`, which {why}"));
    match tideover::scenario::position(text) {
        Some(Ok(place)) => Ok(place),
        Some(Err(why)) => Err(wrong(&why)),
        None => Err(wrong(
            "is no position; allowed: latitude and longitude, like 44.2,-72.6 or 44°12'N 72°36'W; a town by its name goes with \
             --place",
        )),
    }
}

/// Latitude and longitude \[°\], with the height \[m\] where it is known.
type Position = ((f64, f64), Option<f64>);

/// A position from `--at` or `--place`, with the height where the town's is known.
pub fn position(at: Option<&str>, place: Option<&str>) -> Result<Option<Position>, Failure> {
    match (at, place) {
        (Some(at), _) => Ok(Some((parse_place(at)?, None))),
        (None, Some(name)) => {
            let (asked, town, _) = by_name_or_position(name)?;
            Ok(Some(match asked {
                Asked::Name => ((town.latitude_deg, town.longitude_deg), town.height_m),
                Asked::Near { latitude_deg, longitude_deg, .. } => ((latitude_deg, longitude_deg), None),
            }))
        }
        (None, None) => Ok(None),
    }
}

fn fitted(record: &Path, place: Option<(f64, f64)>, name: Option<&str>, out: Option<&Path>) -> Result<Done, Failure> {
    let out = out.map(PendingFile::open).transpose()?;
    let path = record.display().to_string();
    let mut fit = weather::fitted(reader_of(record)?, &path, place)?;
    let file = record.file_name().map_or(path.clone(), |file| file.to_string_lossy().into_owned());
    // Where the file lay is nobody's business later on.
    fit.climate.source = fit.climate.source.replace(&path, &file);
    fit.climate.name = name.map_or_else(|| file.split('.').next().unwrap_or(&file).to_string(), String::from);
    if let Some(file) = out {
        file.commit(&climate_file::write(&fit.climate))?;
    }
    let mut document = report::document(&fit.climate);
    report::add_quality(&mut document, &fit);
    print(&document.text(terminal_columns()))?;
    Ok(Done::Answered)
}

/// Runs the command.
pub fn main(args: &ClimateArgs) -> Result<Done, Failure> {
    let (given, height, file) = match &args.command {
        Question::Show { words, at, place, height, file } => {
            let named = (!words.is_empty()).then(|| words.join(" "));
            (position(at.as_deref(), named.as_deref().or(place.as_deref()))?, height, file)
        }
        Question::Fit { record, at, place, name, out } => {
            let place = position(at.as_deref(), place.as_deref())?.map(|(place, _)| place);
            return fitted(record, place, name.as_deref(), out.as_deref());
        }
    };
    let climate = match (given, file) {
        (Some(((latitude, longitude), town_height)), _) => {
            if height.is_some_and(|h| !(-500.0..=6000.0).contains(&h)) {
                return Err(Failure::Input("error: --height is out of range; allowed: -500 to 6000 metres".into()));
            }
            world::lookup(latitude, longitude, height.or(town_height))
                .map_err(|error| Failure::Input(format!("error: {latitude},{longitude}: {error}")))?
        }
        (None, Some(path)) => super::input::climate_file(path)?,
        (None, None) => return Err(Failure::Input(
            "error: name a town, like `tideover climate show \"Bergen, Norway\"`, or give --at LAT,LON or --file FILE"
                .into(),
        )),
    };
    let mut document = report::document(&climate);
    if let Some(((latitude, longitude), _)) = given {
        document.blocks.insert(0, Block::Under(Whereabouts::at(latitude, longitude).words()));
    }
    print(&document.text(terminal_columns()))?;
    Ok(Done::Answered)
}
