//! The power is out: how long from here?

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone as Zone;

use super::{Answer, Trouble};
use crate::engine::Plan;
use crate::open::Opened;
use crate::report::{json, notes, now as words};
use crate::scenario::model::Site;
use crate::study::fit::overloads;
use crate::study::now::{AssumedSky, Situation, now as look_ahead};
use crate::trials::{Progress, Settings};
use crate::weather::{Bands, MOST_TOLD_DAYS};

/// Length of a step \[min\].
pub const STEP_MINUTES: u32 = 60;

/// From this hour on the day's sun is mostly past.
const LATE_HOUR: i8 = 15;

/// Where things stand, as a person tells it.
#[derive(Debug, Clone)]
pub struct NowOptions<'a> {
    /// The charge that the station shows, 0 to 1.
    pub charge: f64,
    /// Clock time of the place.
    pub at: DateTime,
    /// The next days' sky in words or percent, like "dark,mixed,60-90%".
    pub sky: Option<&'a str>,
}

/// A date and clock time.
///
/// # Errors
/// What is allowed.
pub fn moment(text: &str) -> Result<DateTime, Trouble> {
    let at = text.trim().replace('T', " ").replacen(' ', "T", 1).parse::<DateTime>().ok();
    at.filter(|at| (1900..=2100).contains(&at.year())).ok_or_else(|| Trouble::Option {
        option: "at",
        what: format!(" is `{text}`; allowed: a date and clock time like \"2027-01-14 20:30\", years 1900 to 2100"),
    })
}

/// What the clock of a place shows at an instant.
#[must_use]
pub fn clock_of(site: &Site, instant: Timestamp) -> DateTime {
    site.clock().unwrap_or(Zone::UTC).to_datetime(instant)
}

/// The sky of the next days from words: each word is a third of the season's days, each percentage a place among them.
fn outlook(told: &str, late: bool) -> Result<Bands, Trouble> {
    let refused = |what: String| Trouble::Option { option: "sky", what };
    let mut bands: Vec<(f64, f64)> = if late { vec![(0.0, 1.0)] } else { Vec::new() };
    for word in told.split(',').map(str::trim) {
        let number = |text: &str| {
            let value = text.trim().trim_end_matches('%').trim().parse::<f64>().ok()? / 100.0;
            (0.0..=1.0).contains(&value).then_some(value)
        };
        let band = match word.to_lowercase().as_str() {
            "dark" => Some((0.0, 1.0 / 3.0)),
            "mixed" => Some((1.0 / 3.0, 2.0 / 3.0)),
            "clear" => Some((2.0 / 3.0, 1.0)),
            "any" | "?" => Some((0.0, 1.0)),
            other => match other.split_once('-') {
                Some((low, high)) => number(low).zip(number(high)).filter(|(low, high)| low < high),
                None => number(other).map(|middle| ((middle - 0.1).max(0.0), (middle + 0.1).min(1.0))),
            },
        };
        bands.push(band.ok_or_else(|| {
            refused(format!(
                " has `{word}`; allowed for each day: dark, mixed, clear, any, a percentage like 30% or a range like 60-90% \
                 (0 % is the season's darkest day, 100 % its brightest)"
            ))
        })?);
    }
    if bands.len() > MOST_TOLD_DAYS {
        let most = MOST_TOLD_DAYS - usize::from(late);
        return Err(refused(format!(" tells too many days; allowed: at most {most} at this hour")));
    }
    Ok(Bands::new(&bands))
}

/// Looks ahead from where things stand; `None` where it was stopped before the first trials were done.
///
/// # Errors
/// What is wrong with an option.
pub fn now(
    opened: &Opened,
    options: &NowOptions,
    settings: &Settings,
    progress: &impl Progress,
) -> Result<Option<Answer>, Trouble> {
    let at = options.at;
    // In the afternoon "the next day" is tomorrow: what is left of today stays open.
    let late = at.hour() >= LATE_HOUR;
    let standing = Situation {
        charge: options.charge,
        year: at.year(),
        month: at.month().unsigned_abs(),
        day: at.day().unsigned_abs(),
        minute_of_day: u16::from(at.hour().unsigned_abs()) * 60 + u16::from(at.minute().unsigned_abs()),
    };
    let sky = match options.sky {
        Some(told) => AssumedSky::Told(outlook(told, late)?),
        None => AssumedSky::of(&opened.scenario.outage, &standing),
    };
    let told = options.sky.unwrap_or_default().trim();
    let told = format!("from {}: {told}", if late { "tomorrow" } else { "today" });
    let plan = Plan::compile(&standing.from_here(&opened.scenario), &opened.sky, STEP_MINUTES)
        .map_err(|error| Trouble::Question(format!("{}: {error}", opened.source.name)))?;
    let Some(ahead) = look_ahead(&plan, &sky, settings, progress) else { return Ok(None) };
    let medical: Vec<&str> =
        opened.scenario.loads.iter().filter(|load| load.medical).map(|load| load.name.as_str()).collect();
    let overloaded = overloads(&opened.scenario, &opened.plan);
    let facts = words::Facts {
        standing: &standing,
        outlook: &ahead,
        sky: &sky,
        told: &told,
        medical: &medical,
        overloads: &overloaded,
        weather: &notes::weather(&opened.sky),
        seed: settings.seed,
    };
    Ok(Some(Answer {
        document: words::document(&facts),
        json: Some(json::text("now", &words::json(&facts))),
        partial: ahead.stopped_early,
    }))
}
