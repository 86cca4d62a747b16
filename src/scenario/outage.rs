//! `[outage]`: when the mains fail and for how long.

use super::amount::{Amount, Unsure, shown};
use super::fields::Fields;
use super::forms::{Fault, Form, Item, OneOf, YesNo};
use super::model::{Begins, Lasts, Outage};
use super::problem::Problem;
use crate::calendar::MONTHS;
use crate::units::{Fraction, Hours, Uncertain, WattHours};
use toml::de::DeValue;

/// The longest outage \[h\]: 60 days.
const LONGEST: Hours = Hours(60.0 * 24.0);

/// Months by name or by their first three letters.
pub(super) const MONTH: OneOf<u8> = OneOf {
    names: &{
        let (mut names, mut month) = ([("", 0); 12], 0);
        while month < 12 {
            names[month] = (MONTHS[month], month as u8 + 1);
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

struct Month;

impl Form for Month {
    type Output = u8;
    fn allowed(&self) -> String {
        "the name of a month, like \"January\" or \"Jan\"".into()
    }
    fn example(&self) -> String {
        "\"January\"".into()
    }
    fn read(&self, item: &Item) -> Result<u8, Fault> {
        let number = item.number().or_else(|| item.value.as_str().and_then(|text| text.trim().parse().ok()));
        match MONTH.names.iter().find(|(_, month)| number == Some(f64::from(*month))) {
            Some((name, _)) => {
                Err(Fault::new("must be a name, so that nobody has to count").help(format!("write \"{name}\"")))
            }
            None => MONTH.read(item),
        }
    }
}

/// A clock time of the place on a date.
struct Start;

impl Form for Start {
    type Output = Begins;
    fn allowed(&self) -> String {
        "date and clock time of the place, whole minutes, years 1900 to 2100, like \"2027-01-14T18:00\"".into()
    }
    fn example(&self) -> String {
        "\"2027-01-14T18:00\"".into()
    }
    fn read(&self, item: &Item) -> Result<Begins, Fault> {
        let time: toml::value::Datetime = match item.value {
            DeValue::Datetime(time) => *time,
            DeValue::String(text) => {
                text.trim().parse().map_err(|_| Fault::new("cannot be read as a date with a time"))?
            }
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
}

fn begins(fields: &mut Fields) -> Option<Begins> {
    match (fields.has("month"), fields.has("start")) {
        (true, true) => {
            // Both are read, so that a slip in either is reported too.
            fields.optional("month", &Month);
            fields.optional("start", &Start);
            let clash = Problem::error(fields.key("month"), "and `outage.start` cannot both be given")
                .help("keep month for any day of it, or start for one moment")
                .against(fields.key("start"), "the other one");
            fields.findings().push(clash);
            None
        }
        (_, true) => {
            fields.item("month");
            fields.optional("start", &Start)
        }
        _ => {
            fields.item("start");
            fields.required("month", &Month).map(Begins::Month)
        }
    }
}

pub(super) fn lasts(fields: &mut Fields) -> Option<Lasts> {
    let form = Amount::positive_to(LONGEST);
    let allowed = format!("{}, or {{ median = \"18 h\", p95 = \"4 days\" }}", form.allowed());
    let item = fields.required_item("lasts", &allowed, "\"4 days\"")?;
    let Some(mut inner) = Fields::of(&item, fields.findings()) else {
        return fields.read(&item, &form).map(Lasts::Fixed);
    };
    let median = inner.required("median", &form);
    let p95 = inner.required("p95", &form);
    if let (Some(median), Some(p95)) = (median, p95)
        && p95 <= median
    {
        let clash = Problem::error(inner.key("p95"), "must be longer than the median")
            .found(shown::<Hours>(p95.0))
            .allowed(format!("above {}", shown::<Hours>(median.0)))
            .help("p95 is the duration that only one outage in twenty exceeds")
            .against(inner.key("median"), "the median");
        inner.findings().push(clash);
    }
    inner.finish();
    Some(Lasts::LogNormal { median: median?, p95: p95? })
}

/// What `starts_charged` is when nothing is said: a station in everyday use or in storage is seldom full.
pub(super) const STARTS_CHARGED: Fraction = Fraction(0.8);

pub(super) fn read(fields: &mut Fields) -> Option<Outage> {
    let share = Unsure(Amount::between(Fraction::ZERO, Fraction::ONE));
    let begins = begins(fields);
    let lasts = lasts(fields);
    let starts_charged = fields.or("starts_charged", &share, Uncertain::exact(STARTS_CHARGED));
    let begins_in_a_storm = fields.or("begins_in_a_storm", &YesNo, false);
    let allow_unmet = fields.or("allow_unmet", &Amount::from_zero(), WattHours(0.0));
    Some(Outage { begins: begins?, lasts: lasts?, starts_charged, begins_in_a_storm, allow_unmet })
}
