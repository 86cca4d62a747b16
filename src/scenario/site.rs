//! `[site]`: where the kit stands.

use super::amount::Amount;
use super::fields::Fields;
use super::forms::{Fault, Form, Item, OneOf, Text};
use super::model::{ClimateSource, Site, TimeZone};
use super::nearest::nearest;
use super::problem::Problem;
use crate::places::zones;
use crate::units::{Degrees, Fraction, Metres, Quantity};
use toml::de::DeValue;

/// Degrees on the globe: a bare number, or a text with `°`.
struct Globe {
    name: &'static str,
    limit: f64,
    signs: &'static str,
    example: &'static str,
}

const LATITUDE: Globe = Globe { name: "latitude", limit: 90.0, signs: "south is negative", example: "44.2" };
const LONGITUDE: Globe = Globe { name: "longitude", limit: 180.0, signs: "west is negative", example: "-72.6" };

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
                bare.or_else(|| Degrees::parse(text).ok().map(|angle| angle.0)).filter(|d| d.is_finite()).ok_or_else(
                    || {
                        let help = format!("write decimal degrees, like {}; {}", self.example, self.signs);
                        Fault::new(format!("cannot be read as a {}", self.name)).help(help)
                    },
                )?
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
}

/// An offset from UTC or the name of a time zone.
struct Zone;

impl Form for Zone {
    type Output = TimeZone;
    fn allowed(&self) -> String {
        "an offset like \"-05:00\" or a name like \"America/New_York\"".into()
    }
    fn example(&self) -> String {
        "\"-05:00\"".into()
    }
    fn read(&self, item: &Item) -> Result<TimeZone, Fault> {
        let Some(text) = item.value.as_str().map(str::trim) else {
            return Err(Fault::new("must be a text").help("write it in quotes, like \"-05:00\""));
        };
        if text.starts_with(['+', '-', '\u{2212}']) || text.starts_with(|c: char| c.is_ascii_digit()) {
            return offset(text).map(TimeZone::Fixed).ok_or_else(|| {
                Fault::new("is not an offset from UTC").help("write sign, hours, minutes, -12:00 to +14:00: \"-05:00\"")
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
struct TwelveSuns;

impl Form for TwelveSuns {
    type Output = [f64; 12];
    fn allowed(&self) -> String {
        "twelve numbers, January to December, 0 to 12 kWh/m² a day on a level plane".into()
    }
    fn example(&self) -> String {
        "[1.5, 2.3, 3.3, 4.4, 5.0, 5.5, 5.7, 5.0, 4.1, 2.7, 1.7, 1.2]".into()
    }
    fn read(&self, item: &Item) -> Result<[f64; 12], Fault> {
        let DeValue::Array(list) = item.value else { return Err(Fault::new("must be a list of twelve numbers")) };
        let mut suns = [0.0; 12];
        if list.len() != 12 {
            let mut fault = Fault::new("must have one number for each month");
            fault.found = Some(format!("{} entries", list.len()));
            return Err(fault);
        }
        for (month, (sun, entry)) in suns.iter_mut().zip(list.iter()).enumerate() {
            let inner = Item { key: item.key.clone(), span: entry.span(), value: entry.get_ref() };
            *sun = inner.number().filter(|number| (0.0..=12.0).contains(number)).ok_or_else(|| {
                let mut fault = Fault::new(format!("has an entry that is no such number, for month {}", month + 1));
                fault.found = Some(inner.found());
                fault
            })?;
        }
        Ok(suns)
    }
}

/// Whether an hourly record is fitted first.
const FROM: OneOf<bool> = OneOf { names: &[("replay", false), ("model", true)], also: &[] };

const CLIMATE: &str = "\"world\", a climate file \"….toml\", or { hourly = \"….csv\" }";

fn climate(fields: &mut Fields) -> ClimateSource {
    let Some(item) = fields.item("climate") else { return ClimateSource::World };
    if let Some(mut inner) = Fields::of(&item, fields.findings()) {
        let path = inner.required("hourly", &Text);
        inner.finish();
        let fitted = fields.or("weather_from", &FROM, false);
        return path.map_or(ClimateSource::World, |file| ClimateSource::Hourly { file, fitted });
    }
    let fault = match item.value {
        DeValue::String(text) => {
            let (text, lower) = (text.trim(), text.trim().to_lowercase());
            match lower.as_str() {
                "world" => return ClimateSource::World,
                _ if lower.ends_with(".toml") => return ClimateSource::File(text.to_string()),
                _ if lower.contains(".csv") => Fault::new("names an hourly record as a climate file")
                    .help(format!("write climate = {{ hourly = \"{}\" }}", super::forms::tidy(text))),
                _ => match nearest(text, ["world"]) {
                    Some(near) => Fault::new("is not a climate").help(format!("did you mean \"{near}\"?")),
                    None => Fault::new("is not a climate"),
                },
            }
        }
        _ => Fault::new("is not a climate"),
    };
    fields.refuse(&item, fault, CLIMATE.into());
    ClimateSource::World
}

pub(super) fn read(fields: &mut Fields) -> Option<Site> {
    let latitude = fields.required("latitude", &LATITUDE);
    let longitude = fields.required("longitude", &LONGITUDE);
    let height = fields.optional("height", &Amount::between(Metres(-450.0), Metres(9000.0)));
    let timezone = fields.or("timezone", &Zone, TimeZone::FromLongitude);
    let climate = climate(fields);
    let ground_reflection =
        fields.or("ground_reflection", &Amount::between(Fraction::ZERO, Fraction::ONE), Fraction(0.2));
    if !matches!(climate, ClimateSource::Hourly { .. })
        && let Some(item) = fields.item("weather_from")
    {
        let fault = Fault::new("goes with an hourly record only").help("write climate = { hourly = \"….csv\" }");
        fields.refuse(&item, fault, String::new());
    }
    let monthly_sun = fields.optional("monthly_sun_kwh_m2_day", &TwelveSuns);
    if let (Some(_), ClimateSource::Hourly { fitted: false, .. }) = (monthly_sun, &climate) {
        let clash = Problem::error(fields.key("monthly_sun_kwh_m2_day"), "cannot go with a replayed record")
            .help("a record brings its own sun: leave one of the two out")
            .against(fields.key("climate"), "the record");
        fields.findings().push(clash);
    }
    if let Some(longitude_deg) = longitude
        && !latitude.is_some_and(|latitude_deg| check_region(fields, (latitude_deg, longitude_deg), &timezone))
    {
        check_clock(fields, longitude_deg, &timezone);
    }
    Some(Site {
        latitude_deg: latitude?,
        longitude_deg: longitude?,
        height,
        timezone,
        climate,
        monthly_sun,
        ground_reflection,
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

/// Doubts a place outside its zone's countries that a wrong sign or an exchange of its figures explains, and a name whose sign
/// is turned. Says whether the place was doubted.
fn check_region(fields: &Fields, place: (f64, f64), timezone: &TimeZone) -> bool {
    let TimeZone::Named(name) = timezone else { return false };
    if let Some((_, sign, offset)) = zones::offset_behind_a_name(name)
        && offset != "00:00"
    {
        let (told, other, turned) = if sign == '+' { ("behind", "ahead of", '-') } else { ("ahead of", "behind", '+') };
        fields.findings().push(
            Problem::warning(
                fields.key("timezone"),
                format!("is a clock {told} UTC: names of this kind turn the sign"),
            )
            .help(format!("write \"{turned}{offset}\" to be plain, or \"{sign}{offset}\" if it is {other} UTC")),
        );
        return false;
    }
    let Some(doubt) = zones::elsewhere(name, place) else { return false };
    let told = |reading: &zones::Reading| {
        let (latitude, longitude) = reading.place;
        if reading.exchanged {
            format!("latitude and longitude exchanged? latitude = {latitude}, longitude = {longitude}")
        } else if latitude != place.0 && longitude != place.1 {
            format!("south and west are negative: latitude = {latitude}, longitude = {longitude}?")
        } else if latitude != place.0 {
            format!("south is negative, north is not: latitude = {latitude}?")
        } else {
            format!("west is negative, east is not: longitude = {longitude}?")
        }
    };
    let help = doubt.meant.iter().map(told).collect::<Vec<_>>().join(" Or: ");
    let key = match doubt.meant.first() {
        Some(reading) if !reading.exchanged && reading.place.0 == place.0 => "longitude",
        _ => "latitude",
    };
    fields.findings().push(
        Problem::warning(fields.key(key), "does not fit the time zone")
            .found(format!(
                "{}, {}, about {:.0} km from the nearest principal place of the zone's countries",
                place.0,
                place.1,
                (doubt.away_km / 100.0).round() * 100.0
            ))
            .help(help)
            .against(fields.key("timezone"), "this zone"),
    );
    true
}

/// A clock far from the sun's most likely means that the sign of the longitude is wrong. The clocks of inhabited places
/// are at most about three and a half hours from the sun (common practice, no source).
fn check_clock(fields: &Fields, longitude_deg: f64, timezone: &TimeZone) {
    let offset_h = match timezone {
        TimeZone::FromLongitude => return,
        TimeZone::Fixed(minutes) => f64::from(*minutes) / 60.0,
        TimeZone::Named(name) => match jiff::tz::TimeZone::get(name) {
            Ok(zone) => f64::from(zone.to_offset(jiff::Timestamp::UNIX_EPOCH).seconds()) / 3600.0,
            Err(_) => return,
        },
    };
    let sun_h = longitude_deg / 15.0;
    let apart = (offset_h - sun_h + 12.0).rem_euclid(24.0) - 12.0;
    if 4.0 < apart.abs() {
        let warning = Problem::warning(fields.key("longitude"), "does not fit the time zone")
            .found(format!("{longitude_deg}°, where the sun is {:.1} h off this clock", apart.abs()))
            .help("west is negative: check the sign of the longitude and of the offset")
            .against(fields.key("timezone"), "this clock");
        fields.findings().push(warning);
    }
}
