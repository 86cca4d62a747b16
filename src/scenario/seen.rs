//! `[[seen]]`: sun that the owner measured.

use super::fields::Fields;
use super::forms::{Custom, Fault, Item, Number};
use super::model::{Seen, SeenSun};
use super::problem::Problem;
use serde_json::json;
use toml::de::DeValue;

/// Longest stretch of days.
const LONGEST: i64 = 366;
/// A day of the calendar.
pub(super) const DAY: Custom<jiff::civil::Date> = Custom {
    allowed: "a date, years 1900 to 2100, like \"2026-10-01\"",
    example: "\"2026-10-01\"",
    read: read_day,
    json: || json!({ "type": "string", "format": "date" }),
};

fn read_day(item: &Item) -> Result<jiff::civil::Date, Fault> {
    let wrong = || Fault::new("cannot be read as a date");
    let date: jiff::civil::Date = match item.value {
        DeValue::Datetime(time) if time.time.is_none() => time.to_string().parse().map_err(|_| wrong())?,
        DeValue::String(text) => text.trim().parse().map_err(|_| wrong())?,
        _ => return Err(wrong()),
    };
    if (1900..=2100).contains(&date.year()) { Ok(date) } else { Err(Fault::new("is out of range")) }
}

/// Sun on a level plane.
pub(super) const SUN: Number = Number {
    least: 0.0,
    greatest: 4000.0,
    above: true,
    allowed: "a number above 0, up to 4000: the sum over the days in kWh/m²",
    example: "98.0",
    help: "write the sum over all days, like 98.0",
};

/// Reads one section.
pub(super) fn read(fields: &Fields) -> Option<Seen> {
    let measured = (fields.get("sun_kwh_m2"), fields.get("panel"), fields.get("energy"));
    let (sun, by) = match measured {
        (Some(kwh_m2), None, None) => (SeenSun::Level { kwh_m2 }, "level"),
        (None, Some(panel), Some(energy)) => (SeenSun::Panel { panel, energy }, "panel"),
        _ => {
            let clash = Problem::error(fields.key("from"), "needs one thing that was measured")
                .allowed("sun_kwh_m2, or panel and energy")
                .help("write sun_kwh_m2 = 98.0 for a meter on a level plane, or panel = \"roof\" and energy = \"12.4 kWh\"");
            fields.findings().push(clash);
            return None;
        }
    };
    let (from, to): (jiff::civil::Date, jiff::civil::Date) = (fields.get("from")?, fields.get("to")?);
    let days = i64::from((to - from).get_days()) + 1;
    if !(1..=LONGEST).contains(&days) {
        let wrong = Problem::error(fields.key("to"), "does not end a stretch that begins at `from`")
            .found(format!("{days} days"))
            .allowed(format!("1 to {LONGEST} days, both ends counted"));
        fields.findings().push(wrong);
        return None;
    }
    // 29 February counts as the day before: the program's years have 365 days.
    let leap = i16::from(from.in_leap_year() && (from.month(), from.day()) > (2, 28));
    let first_day = (from.day_of_year() - 1 - leap) as u32;
    Some(Seen { first_day, days: days as u32, sun, plus_minus: fields.get_of("plus_minus", &[by])? })
}
