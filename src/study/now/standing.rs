//! Where things stand, by when it is judged, and which sky is assumed.

use jiff::civil::Date;
use serde::Serialize;

use super::HORIZONS_H;
use crate::engine::plan::LONGEST_OUTAGE_H;
use crate::scenario::model::{Begins, Lasts, Outage, Scenario};
use crate::units::{Fraction, Hours, Uncertain, WattHours};
use crate::weather::{Bands, Opening, STORM_DARKEST, STORM_DAYS};

/// The moment by which is judged whether things last.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Until {
    /// So many hours from now, as asked.
    Asked {
        /// Hours from now.
        hours_h: f64,
    },
    /// As long as the scenario's outage lasts.
    OwnLength {
        /// Hours from now.
        hours_h: f64,
    },
    /// What is left of the scenario's outage, which is under way.
    WhatIsLeft {
        /// Hours from now.
        hours_h: f64,
    },
    /// The end of the cut that is on, by the scenario's hours.
    ThisCut {
        /// Hours from now.
        hours_h: f64,
    },
    /// The mains is there by the scenario's hours: the end of the next cut.
    NextCut {
        /// Hours from now.
        hours_h: f64,
    },
    /// As long as nineteen of twenty of the scenario's outages last.
    OneInTwenty {
        /// Hours from now.
        hours_h: f64,
    },
}

impl Until {
    /// What a scenario's own outage makes of it.
    #[must_use]
    pub fn of(outage: &Outage, standing: &Situation) -> Until {
        match outage.lasts {
            Lasts::Fixed(Hours(length_h)) => match begun_h(outage, standing) {
                Some(gone_h) if gone_h < length_h => Until::WhatIsLeft { hours_h: length_h - gone_h },
                _ => Until::OwnLength { hours_h: length_h },
            },
            Lasts::LogNormal { p95, .. } => Until::OneInTwenty { hours_h: p95.0.min(LONGEST_OUTAGE_H) },
        }
    }

    /// The end of the cut that is on, or else of the next one, where cuts come at the same hours every day.
    ///
    /// * `step_minutes` — length of a step: hours count from the beginning of the one that the moment lies in.
    #[must_use]
    pub fn this_cut(outage: &Outage, standing: &Situation, step_minutes: u32) -> Option<Until> {
        let cuts = outage.cuts.alike()?;
        let (now, gone) = (standing.minute_of_day, u32::from(standing.minute_of_day) % step_minutes.max(1));
        let ahead = |minute: u16| u32::from((minute % 1440 + 1440 - now) % 1440);
        let hours = |minutes: u32| f64::from(minutes + gone) / 60.0;
        let on = cuts.iter().find(|cut| cut.contains(f64::from(now)));
        match on.filter(|cut| ahead(cut.to_minute) > 0) {
            Some(cut) => Some(Until::ThisCut { hours_h: hours(ahead(cut.to_minute)) }),
            None => {
                let next = cuts.iter().min_by_key(|cut| ahead(cut.from_minute))?;
                let begins = ahead(next.from_minute);
                let lasts = u32::from((next.to_minute + 1440 - next.from_minute) % 1440);
                Some(Until::NextCut { hours_h: hours(begins + lasts) })
            }
        }
    }

    /// Hours from now.
    #[must_use]
    pub fn hours(&self) -> f64 {
        match *self {
            Until::Asked { hours_h }
            | Until::OwnLength { hours_h }
            | Until::WhatIsLeft { hours_h }
            | Until::ThisCut { hours_h }
            | Until::NextCut { hours_h }
            | Until::OneInTwenty { hours_h } => hours_h,
        }
    }

    /// The horizons that are told \[h\], in order: this one, and those of [`HORIZONS_H`] that are nearest before it, or behind.
    #[must_use]
    pub fn horizons_h(&self) -> [f64; 4] {
        let until_h = self.hours();
        let mut told = HORIZONS_H;
        let place = told.iter().position(|hours| (hours - until_h).abs() < 1e-9);
        if place.is_none() {
            told[if until_h > HORIZONS_H[3] { 0 } else { 3 }] = until_h;
            told.sort_by(f64::total_cmp);
        }
        told
    }
}

/// Hours since the scenario's outage began at a time that it names; `None` where the moment is no part of it, or it names none.
fn begun_h(outage: &Outage, standing: &Situation) -> Option<f64> {
    let Begins::At { year, month, day, minute_of_day } = outage.begins else { return None };
    let date = |year: i16, month: u8, day: u8| Date::new(year, month as i8, day as i8).ok();
    let (began, now) = date(year, month, day).zip(date(standing.year, standing.month, standing.day))?;
    let days = now.since(began).ok()?.get_days();
    let hours = f64::from(days) * 24.0 + (f64::from(standing.minute_of_day) - f64::from(minute_of_day)) / 60.0;
    let longest_h = match outage.lasts {
        Lasts::Fixed(hours) => hours.0,
        Lasts::LogNormal { .. } => LONGEST_OUTAGE_H,
    };
    (0.0..=longest_h).contains(&hours).then_some(hours)
}

/// What the sky is assumed to be from here on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AssumedSky {
    /// Any weather of the season.
    Any,
    /// So many dark days, today the first: what is left of those that the scenario's outage begins with.
    Storm {
        /// Dark days left, 1 or more.
        days: u32,
    },
    /// Any weather of the season: the dark days that the scenario's outage begins with are past.
    StormPast,
    /// As told, today first.
    Told(Bands),
}

impl AssumedSky {
    /// What a scenario's own outage makes of the sky at a time: as the scenario says; where its outage began some days ago at
    /// a time that it names, what is left of its dark days. A time that is no part of that outage begins one like it.
    #[must_use]
    pub fn of(outage: &Outage, standing: &Situation) -> AssumedSky {
        if !outage.begins_in_a_storm {
            return AssumedSky::Any;
        }
        let whole = AssumedSky::Storm { days: STORM_DAYS };
        let Begins::At { minute_of_day, .. } = outage.begins else { return whole };
        let Some(hours) = begun_h(outage, standing) else { return whole };
        // Midnights since the day on which it began.
        let days = ((hours + f64::from(minute_of_day) / 60.0) / 24.0 + 1e-9) as u32;
        match STORM_DAYS.saturating_sub(days) {
            0 => AssumedSky::StormPast,
            days => AssumedSky::Storm { days },
        }
    }

    /// How the weather begins.
    #[must_use]
    pub fn opening(&self) -> Opening {
        match *self {
            AssumedSky::Any | AssumedSky::StormPast => Opening::Any,
            AssumedSky::Storm { days } => Opening::Storm { days, darkest: STORM_DARKEST },
            AssumedSky::Told(bands) => Opening::Outlook(bands),
        }
    }
}

/// Where things stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Situation {
    /// State of charge that the station shows, 0 to 1.
    pub charge: f64,
    /// What that may be off by, 95 % half-width.
    pub charge_plus_minus: f64,
    /// Calendar year, 1900 to 2100.
    pub year: i16,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the month, 1 to 31.
    pub day: u8,
    /// Minutes after midnight.
    pub minute_of_day: u16,
}

impl Situation {
    /// Month, 1 to 12, and day of the month so many days later.
    #[must_use]
    pub fn date_in(&self, days: u32) -> (u8, u8) {
        let date = Date::new(self.year, self.month as i8, self.day as i8).ok();
        let later = date.and_then(|date| date.checked_add(jiff::Span::new().days(i64::from(days))).ok());
        later.map_or((self.month, self.day), |date| (date.month().unsigned_abs(), date.day().unsigned_abs()))
    }

    /// The step of the week, from Monday midnight, that it lies in.
    #[must_use]
    pub fn step_of_week(&self, steps_a_day: usize) -> usize {
        let date = Date::new(self.year, self.month as i8, self.day as i8).ok();
        let day = date.map_or(0, |date| usize::from(date.weekday().to_monday_zero_offset().unsigned_abs()));
        day * steps_a_day + usize::from(self.minute_of_day) * steps_a_day / 1440
    }

    /// A scenario's outage from here on: begun now, with what the station shows, as long as the last horizon. What the vital
    /// loads may miss is used up: nobody knows how much of it is left.
    #[must_use]
    pub fn from_here(&self, scenario: &Scenario, until: &Until) -> Scenario {
        let &Situation { charge, charge_plus_minus, year, month, day, minute_of_day } = self;
        let outage = Outage {
            begins: Begins::At { year, month, day, minute_of_day },
            lasts: Lasts::Fixed(Hours(until.horizons_h()[3])),
            starts_charged: Uncertain::new(Fraction(charge), charge_plus_minus),
            allow_unmet: WattHours(0.0),
            ..scenario.outage.clone()
        };
        Scenario { outage, ..scenario.clone() }
    }
}
