//! Cuts that come back: windows of some days of the week, or the user's own table.

use super::clock::{ClockWindow, WINDOW};
use super::forms::{Fault, Form, Item, Map, Text, text_like};
use super::load::DAYS;
use super::model::Weekdays;
use super::problem::Problem;
use crate::calendar::days_from_date;
use crate::units::{Fraction, Hours};
use serde_json::{Value as Json, json};
use thiserror::Error;
use toml::de::DeValue;

/// The hours of some days of the week in which the mains is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CutWindow {
    /// The days on which it begins.
    pub days: Weekdays,
    /// From and to.
    pub window: ClockWindow,
}

/// Cuts that come back, between which the mains is there.
#[derive(Debug, Clone, PartialEq)]
pub struct DailyCuts {
    /// Their hours.
    pub windows: Vec<CutWindow>,
    /// Share of the days on which those come, all of a day or none.
    pub happens: Fraction,
    /// So much earlier or later each of them may begin.
    pub wanders: Hours,
    /// A table of cuts that were or will be, of which the trials follow stretches.
    pub table: Option<CutTable>,
}

impl Default for DailyCuts {
    /// None: one outage from end to end.
    fn default() -> DailyCuts {
        DailyCuts { windows: Vec::new(), happens: Fraction::ONE, wanders: Hours(0.0), table: None }
    }
}

impl DailyCuts {
    /// Whether there are any.
    #[must_use]
    pub fn any(&self) -> bool {
        !self.windows.is_empty() || self.table.is_some()
    }

    /// Whether one day's may differ from another's.
    #[must_use]
    pub fn vary(&self) -> bool {
        let alike = self.table.is_none()
            && self.happens == Fraction::ONE
            && self.wanders.0 <= 0.0
            && self.windows.iter().all(|cut| cut.days == Weekdays::ALL);
        self.any() && !alike
    }

    /// Their windows, where all days are alike; `None` where one day's may differ from another's, or there are none.
    #[must_use]
    pub fn alike(&self) -> Option<Vec<ClockWindow>> {
        (self.any() && !self.vary()).then(|| self.windows.iter().map(|cut| cut.window).collect())
    }
}

/// Cuts by date, as they were written down.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CutTable {
    /// The file, as written.
    pub file: String,
    /// From and to in minutes since the midnight at which the first day begins, in order, none touching the next.
    pub cuts: Vec<(u32, u32)>,
    /// Days from the first cut's to the last one's, both counted.
    pub days: u32,
    /// Day of the week of the first, 0 for Monday.
    pub weekday: u32,
}

/// Why a table of cuts cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CutTableError {
    /// Not a table.
    #[error("cannot be read as a table: {0}")]
    Csv(String),
    /// A moment cannot be read.
    #[error("line {line}: `{found}` {why}")]
    Moment {
        /// Line of the file, from 1.
        line: u64,
        /// What stands there.
        found: String,
        /// What is wrong.
        why: String,
    },
    /// A cut ends before it begins, or is too long.
    #[error("line {line}: the cut ends before it begins, or after more than {LONGEST_CUT_DAYS} days")]
    Length {
        /// Line of the file, from 1.
        line: u64,
    },
    /// Too short to draw stretches from.
    #[error("covers {0} days; {LEAST_DAYS} to {MOST_DAYS} are allowed")]
    Days(u32),
}

/// Days that a table covers at least: two weeks, so that every day of the week is there twice. No source.
const LEAST_DAYS: u32 = 14;
/// And at most.
const MOST_DAYS: u32 = 3660;
/// A cut of a table is no longer than this \[d\].
const LONGEST_CUT_DAYS: u32 = 60;

impl CutTable {
    /// Reads comma-separated values: from and to in the clock time of the place, one cut a line, with or without a header;
    /// lines that begin with `#` are comments. Cuts that overlap count once.
    ///
    /// # Errors
    /// [`CutTableError`] says what is wrong and where.
    pub fn parse(file: &str, text: &str) -> Result<CutTable, CutTableError> {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
        let mut cuts: Vec<(i64, i64)> = Vec::new();
        for (place, row) in reader.records().enumerate() {
            let row = row.map_err(|error| CutTableError::Csv(error.to_string()))?;
            let line = row.position().map_or(0, csv::Position::line);
            if place == 0 && !row.iter().any(|cell| cell.starts_with(|c: char| c.is_ascii_digit())) {
                continue;
            }
            let minute = |index: usize| {
                let found = row.get(index).unwrap_or("");
                minute_of(found).map_err(|why| CutTableError::Moment {
                    line,
                    found: crate::visible::clipped(found, 40),
                    why,
                })
            };
            let (from, to) = (minute(0)?, minute(1)?);
            if to <= from || to - from > i64::from(LONGEST_CUT_DAYS) * DAY {
                return Err(CutTableError::Length { line });
            }
            cuts.push((from, to));
        }
        cuts.sort_unstable();
        let mut apart: Vec<(i64, i64)> = Vec::new();
        for (from, to) in cuts {
            match apart.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => apart.push((from, to)),
            }
        }
        let (Some(first), Some(last)) = (apart.first(), apart.last()) else { return Err(CutTableError::Days(0)) };
        let first_day = first.0.div_euclid(DAY);
        let days = u32::try_from((last.1 - 1).div_euclid(DAY) - first_day + 1).unwrap_or(u32::MAX);
        if !(LEAST_DAYS..=MOST_DAYS).contains(&days) {
            return Err(CutTableError::Days(days));
        }
        let since = |minute: i64| (minute - first_day * DAY) as u32;
        Ok(CutTable {
            file: file.to_string(),
            cuts: apart.into_iter().map(|(from, to)| (since(from), since(to))).collect(),
            days,
            // 1 January 1970 was a Thursday.
            weekday: (first_day + 3).rem_euclid(7) as u32,
        })
    }
}

/// A file of cuts by name; it is read later.
pub(super) fn cut_table() -> Map<Text, CutTable> {
    Map(Text, |file| CutTable { file, cuts: Vec::new(), days: 0, weekday: 0 })
}

/// Minutes of a day.
const DAY: i64 = 1440;

/// Minutes since 1 January 1970 of a clock time on a date.
fn minute_of(text: &str) -> Result<i64, String> {
    let moment = super::moment(text)?;
    let (year, month, day) = moment.date.ok_or("has no date: write it like 2027-01-14 18:00")?;
    let number = days_from_date(i64::from(year), u32::from(month), u32::from(day)).ok_or("is no date")?;
    Ok(number * DAY + i64::from(moment.minute_of_day))
}

/// Windows, each of every day or of some days of the week.
pub(super) struct CutWindows;

/// Days of the week before the hours: a name, or from one to another.
fn days_named(text: &str) -> Option<Weekdays> {
    let text = text.trim().trim_end_matches(',');
    if let Some(days) = DAYS.find(text) {
        return Some(days);
    }
    if let Some((from, to)) = text.split_once(['-', '–', '—']) {
        let place = |name: &str| {
            let days = DAYS.find(name.trim())?.0;
            (days.iter().filter(|on| **on).count() == 1).then(|| days.iter().position(|on| *on))?
        };
        let (from, to) = (place(from)?, place(to)?);
        let mut week = [false; 7];
        (0..=(to + 7 - from) % 7).for_each(|k| week[(from + k) % 7] = true);
        return Some(Weekdays(week));
    }
    let names: Vec<&str> = text.split(',').collect();
    if names.len() < 2 {
        return None;
    }
    names.into_iter().try_fold(Weekdays::NONE, |week, name| Some(week.or(DAYS.find(name.trim())?)))
}

fn read_one(item: &Item) -> Result<CutWindow, Fault> {
    let every_day = |window| CutWindow { days: Weekdays::ALL, window };
    let Some(text) = item.value.as_str() else { return WINDOW.read(item).map(every_day) };
    let at = text.find(|c: char| c.is_ascii_digit()).unwrap_or(text.len());
    let named = text[..at].trim();
    if let (false, Some(days)) = (named.is_empty(), days_named(named)) {
        let hours = DeValue::String(text[at..].to_string().into());
        let window = WINDOW.read(&Item { value: &hours, ..item.clone() })?;
        return Ok(CutWindow { days, window });
    }
    let unknown = || Fault::new("begins with days that are not known");
    WINDOW.read(item).map(every_day).map_err(|fault| match DAYS.near(named) {
        Some(near) if !named.is_empty() => unknown().help(format!("did you mean \"{near}\"?")),
        _ if named.split(['-', '–', '—', ',']).any(|name| DAYS.find(name.trim()).is_some()) => {
            unknown().help("write them like \"Mon-Fri\", \"Tue, Thu\" or \"weekends\"")
        }
        _ => fault,
    })
}

/// The minutes of a week that a window holds.
fn minutes(cut: &CutWindow) -> Vec<bool> {
    const WEEK: usize = 7 * 1440;
    let mut on = vec![false; WEEK];
    let length = (cut.window.hours().0 * 60.0).round() as usize;
    for day in (0..7).filter(|day| cut.days.0[*day]) {
        let from = day * 1440 + usize::from(cut.window.from_minute);
        (from..from + length).for_each(|minute| on[minute % WEEK] = true);
    }
    on
}

impl Form for CutWindows {
    type Output = Vec<CutWindow>;
    fn allowed(&self) -> String {
        "from and to on the 24-hour clock, like \"18:00-23:00\", of every day or of days named before: \"Mon-Fri 10:00-14:00\", \
         \"weekends 08:00-10:00\"; a list has several"
            .into()
    }
    fn example(&self) -> String {
        "\"18:00-23:00\"".into()
    }
    fn read(&self, item: &Item) -> Result<Vec<CutWindow>, Fault> {
        let Some(entries) = item.entries() else { return read_one(item).map(|cut| vec![cut]) };
        if entries.is_empty() {
            return Err(Fault::new("is empty").help("leave it out for one outage from end to end"));
        }
        let mut cuts: Vec<(CutWindow, Vec<bool>)> = Vec::new();
        for (index, entry) in entries.iter().enumerate() {
            let cut = match read_one(entry) {
                Ok(cut) => cut,
                Err(fault) => {
                    entry.refuse(fault, self.allowed());
                    return Err(Fault::told());
                }
            };
            let held = minutes(&cut);
            let clash = cuts.iter().position(|(_, other)| other.iter().zip(&held).any(|(a, b)| *a && *b));
            if let Some(other) = clash {
                let clash = Problem::error(&entries[index].key, "overlaps another window")
                    .found(entry.found())
                    .help("join the two into one window")
                    .against(&entries[other].key, "the other one");
                item.findings.push(clash);
                return Err(Fault::told());
            }
            cuts.push((cut, held));
        }
        Ok(cuts.into_iter().map(|(cut, _)| cut).collect())
    }
    fn json(&self) -> Json {
        let one =
            text_like("([A-Za-z][A-Za-z ,–—-]*)?([01]?[0-9]|2[0-4]):[0-5][0-9] *[-–—] *([01]?[0-9]|2[0-4]):[0-5][0-9]");
        json!({ "anyOf": [one, { "type": "array", "items": one, "minItems": 1 }] })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_of_cuts_is_read_and_its_slips_are_told() {
        let text = "start,end\n2026-01-05 18:00,2026-01-05 20:00\n2026-01-05T19:00,2026-01-05T21:30\n2026-01-20 23:00,2026-01-21 01:00\n";
        let table = CutTable::parse("cuts.csv", text).expect("a table");
        // 5 January 2026 was a Monday.
        assert_eq!((table.weekday, table.days), (0, 17));
        assert_eq!(table.cuts, [(1080, 1290), (15 * 1440 + 1380, 16 * 1440 + 60)]);
        let wrong = |text: &str| CutTable::parse("cuts.csv", text).expect_err("refused").to_string();
        assert_eq!(wrong("start,end\n"), "covers 0 days; 14 to 3660 are allowed");
        assert_eq!(wrong("2026-01-05 18:00,2026-01-05 20:00\n"), "covers 1 days; 14 to 3660 are allowed");
        assert!(wrong("2026-01-05 18:00,2026-01-05 17:00\n").starts_with("line 1: the cut ends before"));
        assert!(wrong("2026-01-05 18:00,20:00\n").contains("`20:00` has no date"));
        assert!(wrong("start,end\nsoon,2026-01-05 17:00\n").starts_with("line 2: `soon`"));
    }

    #[test]
    fn days_of_the_week_are_named_alone_as_a_range_or_as_a_list() {
        let of = |text: &str| days_named(text).map(|days| days.0.map(u8::from));
        assert_eq!(of("Mon-Fri"), Some([1, 1, 1, 1, 1, 0, 0]));
        assert_eq!(of("Sat-Mon"), Some([1, 0, 0, 0, 0, 1, 1]));
        assert_eq!(of("weekends"), Some([0, 0, 0, 0, 0, 1, 1]));
        assert_eq!(of("Tue, Thu"), Some([0, 1, 0, 1, 0, 0, 0]));
        assert_eq!(of("Mon-Fry"), None);
    }
}
