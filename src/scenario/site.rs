//! `[site]`: where the kit stands.

use super::as_written::{self, Axis};
use super::fields::Fields;
use super::forms::{Braces, Custom, Fault, Form, Item, OneOf, OrBraces, Text, any_case, any_text, text_like};
use super::model::{ClimateSource, CoolingRoom, Site, TimeZone};
use super::nearest::nearest;
use super::problem::Problem;
use super::schema::site::cooling_room;
use super::schema::{key, required};
use super::whereabouts;
use crate::places::{Place, zones};
use crate::units::{Degrees, Metres, Quantity};
use serde_json::{Value as Json, json};

/// Degrees on the globe: a bare number, or a text with `°`.
pub(super) struct Globe {
    axis: Axis,
    name: &'static str,
    limit: f64,
    signs: &'static str,
    example: &'static str,
}

pub(super) const LATITUDE: Globe =
    Globe { axis: Axis::Latitude, name: "latitude", limit: 90.0, signs: "south is negative", example: "44.2" };
pub(super) const LONGITUDE: Globe =
    Globe { axis: Axis::Longitude, name: "longitude", limit: 180.0, signs: "west is negative", example: "-72.6" };

impl Form for Globe {
    type Output = f64;
    fn allowed(&self) -> String {
        format!("degrees from -{0} to {0}; {1}", self.limit, self.signs)
    }
    fn example(&self) -> String {
        self.example.into()
    }
    fn read(&self, item: &Item) -> Result<f64, Fault> {
        let degrees = match (item.number(), item.value.as_str()) {
            (Some(number), _) => number,
            (None, Some(text)) => {
                let text = text.trim();
                let bare = text.parse::<f64>().ok();
                match bare.or_else(|| Degrees::parse(text).ok().map(|angle| angle.0)).filter(|d| d.is_finite()) {
                    Some(degrees) => degrees,
                    None => match as_written::degrees(self.axis, text) {
                        Some(reading) => reading.told(item)?,
                        None => {
                            let help = format!("write decimal degrees, like {}; {}", self.example, self.signs);
                            return Err(Fault::new(format!("cannot be read as a {}", self.name)).help(help));
                        }
                    },
                }
            }
            _ => return Err(Fault::new(format!("cannot be read as a {}", self.name))),
        };
        if degrees.abs() <= self.limit {
            return Ok(degrees);
        }
        let fault = Fault::new("is out of range");
        let exchanged = self.limit < LONGITUDE.limit && degrees.abs() <= LONGITUDE.limit;
        Err(if exchanged { fault.help("latitude and longitude exchanged?") } else { fault })
    }
    fn json(&self) -> Json {
        let number = json!({ "type": "number", "minimum": -self.limit, "maximum": self.limit });
        json!({ "anyOf": [number, { "type": "string", "pattern": "^ *[-+−]?[0-9.]+ *(°|deg.*)? *$" }] })
    }
}

/// An offset from UTC or the name of a time zone.
pub(super) const ZONE: Custom<TimeZone> = Custom {
    allowed: "an offset like \"-05:00\" or a name like \"America/New_York\"",
    example: "\"-05:00\"",
    read: read_zone,
    json: any_text,
};

fn read_zone(item: &Item) -> Result<TimeZone, Fault> {
    let Some(text) = item.value.as_str().map(str::trim) else {
        return Err(Fault::new("must be a text").help("write it in quotes, like \"-05:00\""));
    };
    if text.starts_with(['+', '-', '\u{2212}']) || text.starts_with(|c: char| c.is_ascii_digit()) {
        return offset(text).map(TimeZone::Fixed).ok_or_else(|| {
            let fault = Fault::new("is not an offset from UTC");
            match in_full(text) {
                Some(("", told)) => fault.help(format!(
                    "write \"+{told}\" for a clock ahead of UTC, \"-{told}\" for one behind, or the zone's name"
                )),
                Some((sign, told)) => fault.help(format!("write \"{sign}{told}\"")),
                None => fault.help("write sign, hours, minutes, -12:00 to +14:00: \"-05:00\""),
            }
        });
    }
    if text.eq_ignore_ascii_case("utc") || text == "Z" {
        return Ok(TimeZone::Fixed(0));
    }
    if let Some((name, sign, offset)) = zones::offset_behind_a_name(text).filter(|(name, ..)| !name.contains('/')) {
        if offset == "00:00" {
            return Ok(TimeZone::Fixed(0));
        }
        return Err(Fault::new("mixes a name with an offset").help(format!(
            "write \"{sign}{offset}\" for a clock {} {}; names such as Etc/GMT+1 count the other way round",
            if sign == '+' { "ahead of" } else { "behind" },
            name.to_uppercase()
        )));
    }
    if let Ok(zone) = jiff::tz::TimeZone::get(text) {
        return Ok(TimeZone::Named(zone.iana_name().unwrap_or(text).to_string()));
    }
    let names: Vec<String> = jiff::tz::db().available().map(|name| name.to_string()).collect();
    let last = |name: &str| name.rsplit('/').next().map(str::to_lowercase);
    let wanted = last(&text.replace(' ', "_"));
    // A city alone is enough to find its zone.
    let near = names
        .iter()
        .find(|name| last(name) == wanted)
        .map(String::as_str)
        .or_else(|| nearest(text, names.iter().map(String::as_str)));
    let fault = Fault::new("is not a known time zone");
    if let Some(meant) = zones::meant(text) {
        return Err(fault.help(format!("did you mean {meant}?")));
    }
    Err(match near {
        Some(near) => fault.help(format!("did you mean \"{near}\"?")),
        None => fault,
    })
}

/// An offset that is written otherwise ("+1", "-5:30", "0100", "+5.5"): its sign, which may be missing, and how it is written
/// in full without it; `None` where it is none.
fn in_full(text: &str) -> Option<(&'static str, String)> {
    let (sign, digits) = match text.strip_prefix(['-', '\u{2212}']) {
        Some(digits) => ("-", digits),
        None => text.strip_prefix('+').map_or(("", text), |digits| ("+", digits)),
    };
    let bare = digits.trim().trim_end_matches(['h', 'H']).trim_end();
    let hours = match bare.replace(',', ".").parse::<f64>() {
        Ok(hours) if bare.len() < 4 || bare.contains(['.', ',']) => Some(hours),
        _ => None,
    };
    let told = match hours {
        Some(hours) if (0.0..=14.0).contains(&hours) && (hours * 4.0).fract() == 0.0 => {
            format!("{:02}:{:02}", hours.floor(), 60.0 * hours.fract())
        }
        Some(_) => return None,
        None => zones::offset_behind_a_name(&format!("UTC+{bare}"))?.2,
    };
    offset(&format!("{}{told}", if sign.is_empty() { "+" } else { sign })).map(|_| (sign, told))
}

/// Minutes east of UTC from `+HH:MM`.
fn offset(text: &str) -> Option<i32> {
    let (sign, rest) = match text.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (-1, rest),
        None => (1, text.strip_prefix('+')?),
    };
    let (hours, minutes) = rest.split_once(':')?;
    let digits = |part: &str| (part.len() == 2 && part.bytes().all(|b| b.is_ascii_digit())).then(|| part.parse().ok());
    let (hours, minutes): (i32, i32) = (digits(hours)??, digits(minutes)??);
    let offset = sign * (60 * hours + minutes);
    (minutes < 60 && (-720..=840).contains(&offset)).then_some(offset)
}

/// Twelve monthly means of sun on a level plane \[kWh/m² a day\], January to December.
pub(super) const TWELVE_SUNS: Custom<[f64; 12]> = Custom {
    allowed: "twelve numbers, January to December, 0 to 12 kWh/m² a day on a level plane",
    example: "[1.5, 2.3, 3.3, 4.4, 5.0, 5.5, 5.7, 5.0, 4.1, 2.7, 1.7, 1.2]",
    read: read_twelve_suns,
    json: || {
        let sun = json!({ "type": "number", "minimum": 0, "maximum": 12 });
        json!({ "type": "array", "items": sun, "minItems": 12, "maxItems": 12 })
    },
};

fn read_twelve_suns(item: &Item) -> Result<[f64; 12], Fault> {
    let list = item.entries().ok_or_else(|| Fault::new("must be a list of twelve numbers"))?;
    let mut suns = [0.0; 12];
    if list.len() != 12 {
        return Err(Fault::new("must have one number for each month").found(format!("{} entries", list.len())));
    }
    for (month, (sun, inner)) in suns.iter_mut().zip(&list).enumerate() {
        *sun = inner.number().filter(|number| (0.0..=12.0).contains(number)).ok_or_else(|| {
            Fault::new(format!("has an entry that is no such number, for month {}", month + 1)).found(inner.found())
        })?;
    }
    Ok(suns)
}

/// Whether an hourly record is fitted first.
pub(super) const FROM: OneOf<bool> = OneOf { names: &[("replay", false), ("model", true)], also: &[] };

/// The form of `climate`.
pub(super) fn climate() -> OrBraces<Custom<ClimateSource>, ClimateSource> {
    OrBraces {
        one: CLIMATE_NAME,
        allowed: Some("\"world\", a climate file \"….toml\", or { hourly = \"….csv\" }"),
        braces: Braces {
            keys: vec![key("hourly", Text, required()).says("an hourly record")].into(),
            wrong: "is not a climate",
            example: "{ hourly = \"….csv\" }",
            build: |inner| Some(ClimateSource::Hourly { file: inner.get("hourly")?, fitted: false }),
        },
    }
}

/// The built-in world table, or a climate file.
pub(super) const CLIMATE_NAME: Custom<ClimateSource> = Custom {
    allowed: "\"world\", or a climate file \"….toml\"",
    example: "\"world\"",
    read: read_climate_name,
    json: || {
        let file = format!("{}|.+\\.{}", any_case("world", ""), any_case("toml", ""));
        json!({ "anyOf": [{ "enum": ["world"] }, text_like(&file)] })
    },
};

fn read_climate_name(item: &Item) -> Result<ClimateSource, Fault> {
    let text = item.value.as_str().ok_or_else(|| Fault::new("is not a climate"))?.trim();
    let lower = text.to_lowercase();
    if lower == "world" {
        return Ok(ClimateSource::World);
    }
    if lower.ends_with(".toml") {
        return Ok(ClimateSource::File(text.to_string()));
    }
    if lower.contains(".csv") {
        return Err(Fault::new("names an hourly record as a climate file")
            .help(format!("write climate = {{ hourly = {} }}", super::forms::quoted(text))));
    }
    let fault = Fault::new("is not a climate");
    Err(match nearest(text, ["world"]) {
        Some(near) => fault.help(format!("did you mean \"{near}\"?")),
        None => fault,
    })
}

/// How a room cools.
pub(super) fn room() -> Braces<CoolingRoom> {
    Braces {
        keys: cooling_room(),
        wrong: "must say how the room cools",
        example: "{ falls_to = \"8 °C\", in = \"24 h\" }",
        build: |inner| Some(CoolingRoom { falls_to: inner.get("falls_to"), within: inner.get("in")? }),
    }
}

pub(super) fn read(fields: &Fields) -> Option<Site> {
    let town: Option<Place> = fields.get("place");
    let (latitude, longitude) = whereabouts::position(fields, town.as_ref());
    let zone_of_town = || town.map(|town| TimeZone::Named(town.zone.to_string()));
    let timezone = fields.get("timezone").or_else(zone_of_town).unwrap_or(TimeZone::FromLongitude);
    let mut climate = fields.get("climate")?;
    match &mut climate {
        ClimateSource::Hourly { fitted, .. } => *fitted = fields.get("weather_from")?,
        _ if fields.has("weather_from") => {
            let alone = Problem::error(fields.key("weather_from"), "goes with an hourly record only")
                .help("write climate = { hourly = \"….csv\" }");
            fields.findings().push(alone);
        }
        _ => {}
    }
    let monthly_sun: Option<[f64; 12]> = fields.get("monthly_sun_kwh_m2_day");
    if let (Some(_), ClimateSource::Hourly { fitted: false, .. }) = (monthly_sun, &climate) {
        let clash = Problem::error(fields.key("monthly_sun_kwh_m2_day"), "cannot go with a replayed record")
            .help("a record brings its own sun: leave one of the two out")
            .against(fields.key("climate"), "the record");
        fields.findings().push(clash);
    }
    whereabouts::check(fields, (latitude, longitude), &timezone);
    // Of the middle of the town: a position of one's own may lie higher or lower.
    let height_of_town = || town.filter(|_| !fields.has("latitude"))?.height_m.map(Metres);
    Some(Site {
        latitude_deg: latitude?,
        longitude_deg: longitude?,
        height: fields.get("height").or_else(height_of_town),
        timezone,
        climate,
        monthly_sun,
        ground_reflection: fields.get("ground_reflection")?,
        room: fields.get("room"),
    })
}

impl Site {
    /// The clock of the place; `None` for a name that is no zone.
    #[must_use]
    pub fn clock(&self) -> Option<jiff::tz::TimeZone> {
        let fixed = |minutes: i32| Some(jiff::tz::Offset::from_seconds(minutes * 60).ok()?.to_time_zone());
        match &self.timezone {
            TimeZone::FromLongitude => fixed((self.longitude_deg / 15.0).round() as i32 * 60),
            TimeZone::Fixed(minutes) => fixed(*minutes),
            TimeZone::Named(name) => jiff::tz::TimeZone::get(name).ok(),
        }
    }
}
