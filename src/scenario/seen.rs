//! `[[seen]]`: sun that the owner measured.

use super::amount::Amount;
use super::fields::Fields;
use super::forms::{Fault, Form, Item, Text};
use super::model::{Seen, SeenSun};
use super::problem::Problem;
use crate::units::{Fraction, WattHours};
use toml::de::DeValue;

/// Longest stretch of days.
const LONGEST: i64 = 366;
/// 95 % of a reading where nothing is said: of a meter on a level plane, and of a panel's own counter, whose dirt and losses are
/// guessed as well. Typical, no source.
const LEVEL_PLUS_MINUS: Fraction = Fraction(0.05);
const PANEL_PLUS_MINUS: Fraction = Fraction(0.08);

/// A day of the calendar.
struct Day;

impl Form for Day {
    type Output = jiff::civil::Date;
    fn allowed(&self) -> String {
        "a date, years 1900 to 2100, like \"2026-10-01\"".into()
    }
    fn example(&self) -> String {
        "\"2026-10-01\"".into()
    }
    fn read(&self, item: &Item) -> Result<jiff::civil::Date, Fault> {
        let wrong = || Fault::new("cannot be read as a date");
        let date: jiff::civil::Date = match item.value {
            DeValue::Datetime(time) if time.time.is_none() => time.to_string().parse().map_err(|_| wrong())?,
            DeValue::String(text) => text.trim().parse().map_err(|_| wrong())?,
            _ => return Err(wrong()),
        };
        if (1900..=2100).contains(&date.year()) { Ok(date) } else { Err(Fault::new("is out of range")) }
    }
}

/// Sun on a level plane.
struct Sun;

impl Form for Sun {
    type Output = f64;
    fn allowed(&self) -> String {
        "a number above 0, up to 4000: the sum over the days in kWh/m²".into()
    }
    fn example(&self) -> String {
        "98.0".into()
    }
    fn read(&self, item: &Item) -> Result<f64, Fault> {
        match item.number() {
            Some(sum) if sum > 0.0 && sum <= 4000.0 => Ok(sum),
            Some(_) => Err(Fault::new("is out of range")),
            None => Err(Fault::new("must be a plain number").help("write the sum over all days, like 98.0")),
        }
    }
}

/// Reads one section.
pub(super) fn read(fields: &mut Fields) -> Option<Seen> {
    let (from, to) = (fields.required("from", &Day), fields.required("to", &Day));
    let level = fields.optional("sun_kwh_m2", &Sun);
    let panel = fields.optional("panel", &Text);
    let energy = fields.optional("energy", &Amount::<WattHours>::positive());
    let plus_minus = fields.optional("plus_minus", &Amount::between(Fraction(0.0), Fraction(0.5)));
    let sun = match (level, panel, energy) {
        (Some(kwh_m2), None, None) => SeenSun::Level { kwh_m2 },
        (None, Some(panel), Some(energy)) => SeenSun::Panel { panel, energy },
        _ => {
            let key = fields.key("from");
            let clash = Problem::error(key, "needs one thing that was measured")
                .allowed("sun_kwh_m2, or panel and energy")
                .help("write sun_kwh_m2 = 98.0 for a meter on a level plane, or panel = \"roof\" and energy = \"12.4 kWh\"");
            fields.findings().push(clash);
            return None;
        }
    };
    let (from, to) = (from?, to?);
    let days = i64::from((to - from).get_days()) + 1;
    if !(1..=LONGEST).contains(&days) {
        let wrong = Problem::error(fields.key("to"), "does not end a stretch that begins at `from`")
            .found(format!("{days} days"))
            .allowed(format!("1 to {LONGEST} days, both ends counted"));
        fields.findings().push(wrong);
        return None;
    }
    let otherwise = if matches!(sun, SeenSun::Level { .. }) { LEVEL_PLUS_MINUS } else { PANEL_PLUS_MINUS };
    // 29 February counts as the day before: the program's years have 365 days.
    let leap = i16::from(from.in_leap_year() && (from.month(), from.day()) > (2, 28));
    Some(Seen {
        first_day: (from.day_of_year() - 1 - leap) as u32,
        days: days as u32,
        sun,
        plus_minus: plus_minus.unwrap_or(otherwise),
    })
}
