//! `[outage]`: when the mains fail and for how long.

use super::amount::{Amount, shown};
use super::fields::Fields;
use super::forms::{Braces, Custom, Fault, Form, Item, Map, OneOf, OrBraces, any_case, text_like};
use super::model::{Begins, DailyCuts, Lasts, Outage};
use super::problem::Problem;
use super::schema::site::spread_of_lengths;
use crate::calendar;
use crate::units::Hours;
use toml::de::DeValue;

/// The longest outage \[h\]: 60 days; rare longer ones, drawn from a distribution, are cut to it.
pub(crate) const LONGEST: Hours = Hours(60.0 * 24.0);
/// The longest that cuts may come back \[h\]: a year.
pub(crate) const LONGEST_WITH_CUTS: Hours = Hours(366.0 * 24.0);

/// Months by name or by their first three letters.
pub(super) const MONTHS: OneOf<u8> = OneOf {
    names: &{
        let (mut names, mut month) = ([("", 0); 12], 0);
        while month < 12 {
            names[month] = (calendar::MONTHS[month], month as u8 + 1);
            month += 1;
        }
        names
    },
    also: &[
        ("Jan", 1),
        ("Feb", 2),
        ("Mar", 3),
        ("Apr", 4),
        ("Jun", 6),
        ("Jul", 7),
        ("Aug", 8),
        ("Sep", 9),
        ("Sept", 9),
        ("Oct", 10),
        ("Nov", 11),
        ("Dec", 12),
    ],
};

/// A month by its name.
pub(super) const MONTH: Custom<u8> = Custom {
    allowed: "the name of a month, like \"January\" or \"Jan\"",
    example: "\"January\"",
    read: read_month,
    json: || {
        let words = MONTHS.names.iter().chain(MONTHS.also).map(|(name, _)| any_case(name, ""));
        let names: Vec<_> = MONTHS.names.iter().map(|(name, _)| *name).collect();
        serde_json::json!({ "anyOf": [{ "enum": names }, text_like(&words.collect::<Vec<_>>().join("|"))] })
    },
};

fn read_month(item: &Item) -> Result<u8, Fault> {
    let number = item.number().or_else(|| item.value.as_str().and_then(|text| text.trim().parse().ok()));
    match MONTHS.names.iter().find(|(_, month)| number == Some(f64::from(*month))) {
        Some((name, _)) => {
            Err(Fault::new("must be a name, so that nobody has to count").help(format!("write \"{name}\"")))
        }
        // Marks within a name are a slip or a range ("Jan-Feb"): not to be guessed.
        None => match item.value.as_str().map(str::trim).filter(|text| !text.chars().all(char::is_alphabetic)) {
            Some(text) => {
                let fault = Fault::new("is not one of the names allowed");
                let meant = MONTHS.names.iter().find(|(_, month)| MONTHS.find(text) == Some(*month));
                Err(match meant.map(|(name, _)| *name).or_else(|| MONTHS.near(text)) {
                    Some(near) => fault.help(format!("did you mean \"{near}\"?")),
                    None => fault,
                })
            }
            None => MONTHS.read(item).map_err(|fault| {
                let season = item.value.as_str().and_then(|text| season(text, None));
                season.map_or(fault, |(what, help)| Fault::new(what).help(help))
            }),
        },
    }
}

/// Seasons and the month in the middle of each, north of the equator (common practice, no source).
const SEASONS: [(&str, u8); 5] = [("winter", 1), ("spring", 4), ("summer", 7), ("autumn", 10), ("fall", 10)];

/// Farther from the equator than this a year has a summer and a winter \[°\] (the tropics end at 23.4°).
const TROPICS_DEG: f64 = 23.4;

/// What is wrong with a season where a month is asked for, and what to write; nothing where it is none.
///
/// * `latitude_deg` — of the place, where it is known.
pub(super) fn season(text: &str, latitude_deg: Option<f64>) -> Option<(String, String)> {
    let lower = text.trim().to_lowercase();
    if ["wet season", "rainy season", "dry season", "monsoon", "wet", "rainy", "dry"].contains(&lower.as_str()) {
        return Some((
            "is a season of several months, others from place to place".into(),
            "write the month of it that you fear most, like \"July\"; tideover climate show tells the sun of each month".into(),
        ));
    }
    let (name, north) = SEASONS.iter().find(|(name, _)| *name == lower)?;
    // The month before the middle one, that, and the one behind it.
    let three = |middle: u8| [10, 11, 12].map(|ahead| calendar::MONTHS[(usize::from(middle) + ahead) % 12]);
    let south = (north + 5) % 12 + 1;
    let told = |months: [&str; 3]| format!("\"{}\", \"{}\" or \"{}\"", months[0], months[1], months[2]);
    let help = match latitude_deg {
        Some(degrees) if degrees.abs() < TROPICS_DEG => {
            format!(
                "there is hardly a {name} so near to the equator: write the month that you fear most, like \"July\""
            )
        }
        Some(degrees) => {
            format!("write one of its months: {}", told(three(if degrees < 0.0 { south } else { *north })))
        }
        None => {
            format!("write one of its months: {}, or south of the equator {}", told(three(*north)), told(three(south)))
        }
    };
    Some(("is a season of three months".into(), help))
}

/// A clock time of the place on a date.
pub(super) const START: Custom<Begins> = Custom {
    allowed: "date and clock time of the place, whole minutes, years 1900 to 2100, like \"2027-01-14T18:00\"",
    example: "\"2027-01-14T18:00\"",
    read: read_start,
    json: || text_like("[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{2}:[0-9]{2}(:00)?"),
};

fn read_start(item: &Item) -> Result<Begins, Fault> {
    let time: toml::value::Datetime = match item.value {
        DeValue::Datetime(time) => *time,
        DeValue::String(text) => match text.trim().parse() {
            Ok(time) => time,
            Err(_) => return as_written(item, text),
        },
        _ => return Err(Fault::new("cannot be read as a date with a time")),
    };
    let (Some(date), Some(clock)) = (time.date, time.time) else {
        let missing = if time.date.is_none() { "has no date" } else { "has no time of the day" };
        return Err(Fault::new(missing));
    };
    if time.offset.is_some() {
        return Err(Fault::new("must be the clock time of the place")
            .help("leave out Z or the offset; the clock is set by site.timezone"));
    }
    if clock.second.unwrap_or(0) != 0 || clock.nanosecond.unwrap_or(0) != 0 || !(1900..=2100).contains(&date.year) {
        return Err(Fault::new("is out of range"));
    }
    let year = i16::try_from(date.year).map_err(|_| Fault::new("is out of range"))?;
    let minute_of_day = u16::from(clock.hour) * 60 + u16::from(clock.minute);
    Ok(Begins::At { year, month: date.month, day: date.day, minute_of_day })
}

/// A moment in another form than a file's.
fn as_written(item: &Item, text: &str) -> Result<Begins, Fault> {
    let moment = super::moment(text).map_err(|why| match why.split_once(": ") {
        Some((what, help)) => Fault::new(what).help(help),
        None => Fault::new(why),
    })?;
    let Some((year, month, day)) = moment.date else { return Err(Fault::new("has no date")) };
    let clock = calendar::clock(moment.minute_of_day);
    let says = format!("is read as {year}-{month:02}-{day:02} {clock}");
    item.findings.push(Problem::note(item.key.clone(), says).found(item.found()));
    Ok(Begins::At { year, month, day, minute_of_day: moment.minute_of_day })
}

fn begins(fields: &Fields) -> Option<Begins> {
    if fields.has("month") && fields.has("start") {
        let clash = Problem::error(fields.key("month"), "and `outage.start` cannot both be given")
            .help("keep month for any day of it, or start for one moment")
            .against(fields.key("start"), "the other one");
        fields.findings().push(clash);
    }
    if fields.has("start") { fields.get("start") } else { fields.needed("month").map(Begins::Month) }
}

/// The form of `lasts`.
///
/// * `longest` — where it is always the same.
pub(super) fn lasts(longest: Hours) -> OrBraces<Map<Amount<Hours>, Lasts>, Lasts> {
    OrBraces {
        one: Map(Amount::positive_to(longest), Lasts::Fixed),
        allowed: None,
        braces: Braces {
            keys: spread_of_lengths(LONGEST),
            wrong: "must be a length",
            example: "{ median = \"18 h\", p95 = \"4 days\" }",
            build: log_normal,
        },
    }
}

fn log_normal(inner: &Fields) -> Option<Lasts> {
    let (median, p95): (Hours, Hours) = (inner.get("median")?, inner.get("p95")?);
    if p95 <= median {
        let clash = Problem::error(inner.key("p95"), "must be longer than the median")
            .found(shown::<Hours>(p95.0))
            .allowed(format!("above {}", shown::<Hours>(median.0)))
            .help("p95 is the duration that only one outage in twenty exceeds")
            .against(inner.key("median"), "the median");
        inner.findings().push(clash);
    }
    Some(Lasts::LogNormal { median, p95 })
}

pub(super) fn read(fields: &Fields) -> Option<Outage> {
    let begins = begins(fields);
    Some(Outage {
        begins: begins?,
        lasts: fields.get("lasts")?,
        starts_charged: fields.get("starts_charged")?,
        begins_in_a_storm: fields.get("begins_in_a_storm")?,
        allow_unmet: fields.get("allow_unmet")?,
        cuts: DailyCuts {
            windows: fields.get("every_day").unwrap_or_default(),
            happens: fields.get("happens")?,
            wanders: fields.get("wanders")?,
            table: fields.get("cuts_from"),
        },
        mains_limit: fields.get("mains_limit"),
        somebody_home: fields.get("somebody_home").unwrap_or_default(),
    })
}
