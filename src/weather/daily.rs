//! Records as a series of days: what statistics are taken from.

use super::plain::{broken, plain};
use super::record::{HourlyRecord, ONCE, RecordErrors, RecordProblem, SHOWN, doubled, whole};
use super::replay::Days;
use super::soundness::{self, BRIGHTEST_DAY, ENOUGH_LIGHT_WH_M2};
use super::sun::SkyTable;
use super::{Calendar, WeatherError};
use crate::calendar::{day_number, year_and_day};
use crate::sky::year::SunOfDay;
use crate::visible::clipped;

/// Most days that are read.
const MOST_DAYS: usize = 100_000;

/// One day of a record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DailyReading {
    /// Days since 1 January 1970.
    pub number: i64,
    /// Calendar year.
    pub year: i64,
    /// Day of the year, 0 to 364; 29 February counts as 28 February.
    pub day: usize,
    /// Global horizontal over extraterrestrial irradiation \[–\]; NaN where unknown.
    pub clearness: f64,
    /// Mean air temperature \[°C\]; NaN where unknown. Of highest and lowest where hours are not known.
    pub air_mean_c: f64,
    /// Highest and lowest air temperature \[°C\].
    pub air_high_c: f64,
    /// Lowest air temperature \[°C\].
    pub air_low_c: f64,
}

/// A record of days at one place, in the order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct DailyRecord {
    name: String,
    latitude_deg: f64,
    longitude_deg: f64,
    days: Vec<DailyReading>,
    /// The sun of each day's hours \[W/m²\] on a calendar, where the record has hours.
    hours: Option<(Box<Calendar>, Vec<[f64; 24]>)>,
    dropped: usize,
    bridged: usize,
}

impl DailyRecord {
    /// Cuts an hourly record into civil days of `calendar`, which also says where it was taken.
    ///
    /// # Errors
    /// A calendar out of range.
    pub fn from_hourly(record: &HourlyRecord, calendar: &Calendar) -> Result<DailyRecord, WeatherError> {
        calendar.check()?;
        let hourly = Calendar { step_minutes: 60, ..calendar.clone() };
        let sky = SkyTable::new(&hourly);
        let cut = Days::cut(record, &hourly, &sky, false);
        let mut days = Vec::with_capacity(cut.days.len());
        let mut hours = Vec::with_capacity(cut.days.len());
        let mut dropped = 0;
        for (day, readings) in cut.days.iter().zip(cut.readings.chunks_exact(24)) {
            dropped += usize::from(!day.usable);
            hours.push(std::array::from_fn(|hour| readings[hour].ghi_w_m2));
            let air = || readings.iter().map(|r| r.air_c);
            let (year, _) = year_and_day(day.number);
            let whole = air().all(|c| !c.is_nan());
            let known = |c: f64| if whole { c } else { f64::NAN };
            days.push(DailyReading {
                number: day.number,
                year,
                day: day.day,
                clearness: if day.usable { day.clearness } else { f64::NAN },
                air_mean_c: air().sum::<f64>() / 24.0,
                air_high_c: known(air().fold(f64::MIN, f64::max)),
                air_low_c: known(air().fold(f64::MAX, f64::min)),
            });
        }
        Ok(DailyRecord {
            name: record.name().to_owned(),
            latitude_deg: calendar.latitude_deg,
            longitude_deg: calendar.longitude_deg,
            days,
            hours: Some((Box::new(hourly), hours)),
            dropped,
            bridged: cut.bridged,
        })
    }

    /// Reads a daily record from CSV, plain or packed with gzip: columns `date` (2020-06-01, local), `ghi_kwh_m2_day`
    /// and, if known, `temp_max_c` and `temp_min_c`. Days brighter than 0.9 of the light outside the atmosphere are
    /// dropped and counted: a few published sums exceed it.
    ///
    /// # Errors
    /// Everything wrong with the file, by line and column (up to 20 problems); a sun too bright or too dim for any place.
    pub fn parse(text: &[u8], name: &str, latitude_deg: f64, longitude_deg: f64) -> Result<DailyRecord, RecordErrors> {
        let mut csv = csv::ReaderBuilder::new().comment(Some(b'#')).flexible(true).from_reader(plain(text));
        let header = csv.headers().map_err(|error| broken(name, &error))?.clone();
        let find = |wanted: &str| header.iter().position(|n| n.trim().eq_ignore_ascii_case(wanted));
        let (Some(date_at), Some(sun_at)) = (find("date"), find("ghi_kwh_m2_day")) else {
            let found = format!("the columns {}", clipped(&header.iter().collect::<Vec<_>>().join(", "), 2 * SHOWN));
            return Err(whole(name, found, "a first line with `date` and `ghi_kwh_m2_day`"));
        };
        let (high_at, low_at) = (find("temp_max_c"), find("temp_min_c"));
        if let Some((at, times)) = doubled(&header, [Some(date_at), Some(sun_at), high_at, low_at]).next() {
            let found = format!("{times} columns `{}`", clipped(header[at].trim(), SHOWN));
            return Err(whole(name, found, ONCE));
        }
        let mut problems: Vec<RecordProblem> = Vec::new();
        let mut days: Vec<DailyReading> = Vec::new();
        let mut judged = Vec::new();
        let mut dropped = 0;
        for row in csv.records() {
            if 20 <= problems.len() {
                break;
            }
            let row = row.map_err(|error| broken(name, &error))?;
            let line = row.position().map_or(0, |p| p.line() as usize);
            let mut note = |column: &str, found: &str, allowed: &str| {
                let (column, found, allowed) =
                    (Some(column.to_owned()), format!("`{}`", clipped(found, SHOWN)), allowed.to_owned());
                problems.push(RecordProblem { line, column, found, allowed });
            };
            let mut value = |at: Option<usize>, column: &str, least: f64, most: f64| {
                let text = at.and_then(|at| row.get(at)).map_or("", str::trim);
                if text.is_empty() || text.eq_ignore_ascii_case("nan") {
                    return f64::NAN;
                }
                match text.parse::<f64>() {
                    Ok(found) if (least..=most).contains(&found) => found,
                    _ => {
                        note(column, text, &format!("a number from {least} to {most}, or nothing"));
                        f64::NAN
                    }
                }
            };
            let sun_kwh_m2 = value(Some(sun_at), "ghi_kwh_m2_day", 0.0, 20.0);
            let air_high_c = value(high_at, "temp_max_c", -90.0, 60.0);
            let air_low_c = value(low_at, "temp_min_c", -90.0, 60.0);
            let label = row.get(date_at).unwrap_or("").trim();
            let Some(number) = parse_date(label) else {
                note("date", label, "a date such as 2020-06-01");
                continue;
            };
            let (year, day) = year_and_day(number);
            let light_wh_m2 = SunOfDay::at(day, longitude_deg).horizontal_wh_m2(latitude_deg);
            let mut clearness = sun_kwh_m2 * 1000.0 / light_wh_m2;
            if light_wh_m2 >= ENOUGH_LIGHT_WH_M2 && !clearness.is_nan() {
                judged.push(clearness);
            }
            if clearness > BRIGHTEST_DAY || light_wh_m2 <= 0.0 {
                dropped += 1;
                clearness = f64::NAN;
            }
            let air_mean_c = 0.5 * (air_high_c + air_low_c);
            if days.len() == MOST_DAYS {
                return Err(whole(name, "more days than that".to_owned(), "at most 100,000 days, 270 years"));
            }
            days.push(DailyReading { number, year, day, clearness, air_mean_c, air_high_c, air_low_c });
        }
        if !problems.is_empty() {
            return Err(RecordErrors { name: name.to_owned(), problems });
        }
        soundness::check_days(name, judged)?;
        days.sort_by_key(|day| day.number);
        if let Some(pair) = days.windows(2).find(|pair| pair[0].number == pair[1].number) {
            return Err(whole(name, format!("day {} of {} twice", pair[0].day + 1, pair[0].year), "every date once"));
        }
        Ok(DailyRecord { name: name.to_owned(), latitude_deg, longitude_deg, days, hours: None, dropped, bridged: 0 })
    }

    /// What the record is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Latitude \[°\].
    pub fn latitude_deg(&self) -> f64 {
        self.latitude_deg
    }

    /// Longitude \[°\].
    pub fn longitude_deg(&self) -> f64 {
        self.longitude_deg
    }

    /// The days, in the order of time.
    pub fn days(&self) -> &[DailyReading] {
        &self.days
    }

    /// Days that were not usable, whatever the reason.
    pub fn dropped(&self) -> usize {
        self.dropped
    }

    /// Hours whose sun was bridged.
    pub fn bridged(&self) -> usize {
        self.bridged
    }

    /// The sun of the hours of each of [`Self::days`] \[W/m²\], with the calendar they are counted on.
    pub(super) fn hours(&self) -> Option<(&Calendar, &[[f64; 24]])> {
        self.hours.as_ref().map(|(calendar, hours)| (&**calendar, &hours[..]))
    }

    /// The days of some years alone.
    pub fn of_years(&self, keep: impl Fn(i64) -> bool) -> DailyRecord {
        let kept = |k: &usize| keep(self.days[*k].year);
        let days = (0..self.days.len()).filter(kept).map(|k| self.days[k]).collect();
        let hours = self
            .hours
            .as_ref()
            .map(|(calendar, hours)| (calendar.clone(), (0..self.days.len()).filter(kept).map(|k| hours[k]).collect()));
        DailyRecord {
            name: self.name.clone(),
            latitude_deg: self.latitude_deg,
            longitude_deg: self.longitude_deg,
            days,
            hours,
            dropped: self.dropped,
            bridged: self.bridged,
        }
    }
}

/// Days since 1970 of a date such as 2020-06-01.
fn parse_date(text: &str) -> Option<i64> {
    (text.len() == 10).then(|| text.parse().ok().map(day_number)).flatten()
}
