//! How panels stand: "roof south-west", "balcony", "35° south".

use super::super::nearest;
use crate::scenario::as_written::{self, Shaded};

/// How panels stand.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stands {
    pub tilt: String,
    pub facing: Option<String>,
    pub said: &'static str,
    /// What was not told of it.
    pub assumed: Option<String>,
    /// When something shades them, where that is told.
    pub shade: Option<Vec<String>>,
}

const WAYS: [&str; 8] = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
const SHORT: [&str; 8] = ["n", "ne", "e", "se", "s", "sw", "w", "nw"];

/// Least and greatest slope for the sun of the whole year \[°\] (common practice, no source).
const SLOPE_DEG: (f64, f64) = (15.0, 65.0);

/// The winds between the eight.
const BETWEEN: [&str; 8] = ["nne", "ene", "ese", "sse", "ssw", "wsw", "wnw", "nnw"];

/// "roof south-west", "balcony south, a tree in the morning", "flat", "35° south".
pub(super) fn stands(text: &str, latitude_deg: f64) -> Result<Stands, String> {
    let (text, shade) = match as_written::shaded(text) {
        None => (text.to_string(), None),
        Some(Ok(Shaded { rest, hours })) => (rest, Some(hours)),
        Some(Err((what, help))) => return Err(format!("{what}: {help}")),
    };
    let lower = text.to_lowercase().replace(['_', ',', '/'], " ");
    let lower = ["north", "south"].iter().fold(lower, |text, way| {
        text.replace(&format!("{way} east"), &format!("{way}-east"))
            .replace(&format!("{way} west"), &format!("{way}-west"))
    });
    let mut facing = None;
    let mut tilt_deg = None;
    let mut told = false;
    let mut said = "on the ground";
    let mut compass = false;
    for written in lower.split_whitespace() {
        let word = written.trim_end_matches('.');
        let plain =
            word.trim_end_matches("-facing").trim_end_matches('-').trim_end_matches("'s").trim_end_matches("’s");
        let joined = plain.replace('-', "");
        let way = WAYS
            .iter()
            .position(|way| way.replace('-', "") == joined)
            .or_else(|| SHORT.iter().position(|s| *s == joined));
        let degrees = word.trim_end_matches(['°', 'º']).trim_end_matches("deg").parse::<f64>().ok();
        let between = BETWEEN.iter().position(|wind| *wind == joined);
        match (way, degrees, plain) {
            _ if between.is_some() => {
                facing = between.map(|wind| format!("{}°", 22.5 + 45.0 * wind as f64));
            }
            // "2nd floor", "fifth floor".
            _ if is_floor(plain) => {}
            (Some(way), ..) => facing = Some(WAYS[way].to_string()),
            // "azimuth 180", "35° 210°": degrees of the compass, clockwise from north.
            (_, Some(degrees), _) if (0.0..=360.0).contains(&degrees) && (compass || 90.0 < degrees) => {
                (facing, compass) = (Some(format!("{degrees}°")), false);
            }
            (.., "azimuth" | "compass" | "bearing") => compass = true,
            (_, Some(degrees), _) if (0.0..=90.0).contains(&degrees) => (tilt_deg, told) = (Some(degrees), true),
            (
                ..,
                "ground" | "yard" | "garden" | "lawn" | "field" | "terrace" | "deck" | "porch" | "patio" | "grass"
                | "meadow" | "courtyard",
            ) => {}
            (.., "van" | "camper" | "campervan" | "caravan" | "motorhome" | "rv" | "boat") => {
                (said, tilt_deg, told) = ("lying flat", Some(0.0), true);
            }
            (.., "vertical" | "vertically" | "upright") => {
                (said, tilt_deg, told) = ("standing upright", Some(90.0), true);
            }
            (.., "street" | "road" | "sea" | "valley" | "courtyards" | "neighbours" | "park") => {
                return Err(format!(
                    "`{word}` is no direction of the compass: write one like south-west, which a map tells"
                ));
            }
            (.., "snow" | "snowy" | "snowed" | "ice" | "icy") => {
                return Err(format!(
                    "`{word}`: leave it out here; where snow lies on the panels hardly any light gets in, which stands in the file, in the \
                     panel's section: shade = [{{ hours = \"00:00-24:00\", loses = \"95 %\" }}], or answer \"none\" for the panels"
                ));
            }
            (.., "roof") => (said, tilt_deg) = ("on a roof", tilt_deg.or(Some(30.0))),
            (.., "balcony" | "railing") => (said, tilt_deg) = ("on a balcony", tilt_deg.or(Some(75.0))),
            (.., "wall" | "fence" | "facade" | "window") => {
                (said, tilt_deg) = ("upright on a wall", tilt_deg.or(Some(90.0)));
            }
            (.., "flat" | "horizontal" | "horizontally") => (said, tilt_deg, told) = ("lying flat", Some(0.0), true),
            (
                ..,
                "on" | "the" | "a" | "in" | "facing" | "looking" | "looks" | "to" | "at" | "leaning" | "my" | "degrees"
                | "tilt" | "tilted" | "and" | "steep" | "shed" | "house" | "garage" | "barn" | "carport" | "of"
                | "outside" | "faces" | "face" | "points" | "pointing" | "pointed" | "towards" | "toward" | "direction"
                | "over" | "hung" | "hangs" | "hanging" | "mounted" | "fixed" | "stand" | "stands" | "standing"
                | "against" | "with" | "slope" | "sloped" | "it" | "they" | "is" | "are" | "i" | "put" | "out"
                | "folding" | "from" | "terraced" | "your" | "our" | "apartment" | "top" | "fully" | "nearly" | "side"
                | "outdoors" | "lying" | "laid" | "about" | "due" | "wooden",
            ) => {}
            _ => {
                let known = ["ground", "roof", "balcony", "flat"].into_iter().chain(WAYS);
                let near =
                    nearest::nearest(plain, known).map_or(String::new(), |near| format!("; did you mean {near}?"));
                return Err(format!(
                    "`{written}` says nothing of panels: write ground, roof, balcony or flat, a direction like south-west, a tilt \
                     like 35°{near}"
                ));
            }
        }
    }
    let to_the_sun = if latitude_deg < 0.0 { "north" } else { "south" };
    let tilt_deg = tilt_deg.unwrap_or_else(|| latitude_deg.abs().round().clamp(SLOPE_DEG.0, SLOPE_DEG.1));
    let looks = if tilt_deg == 0.0 { None } else { Some(facing.clone().unwrap_or(to_the_sun.into())) };
    let assumed = match (told, looks.as_ref().filter(|_| facing.is_none())) {
        (true, None) => None,
        (true, Some(way)) => Some(format!("The panels look {way} (panel.0.facing).")),
        (false, None) => Some(format!("The panels stand {said} at a tilt of {tilt_deg}° (panel.0.tilt).")),
        (false, Some(way)) => Some(format!(
            "The panels stand {said} at a tilt of {tilt_deg}° and look {way} (panel.0.tilt, panel.0.facing)."
        )),
    };
    Ok(Stands { tilt: format!("{tilt_deg}°"), facing: looks, said, assumed, shade })
}

/// Words for which floor of a house something is on, which say nothing of the panels there.
fn is_floor(word: &str) -> bool {
    let ends = ["st", "nd", "rd", "th"];
    let number = ends.iter().find_map(|end| word.strip_suffix(end)).is_some_and(|number| number.parse::<u8>().is_ok());
    number
        || as_written::ORDINAL_WORDS.contains(&word)
        || ["floor", "storey", "story", "level", "upper", "lower", "upstairs"].contains(&word)
}
