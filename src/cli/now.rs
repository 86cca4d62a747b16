//! `tideover now`.

use std::path::PathBuf;

use clap::Args;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::TimeZone as Zone;
use jiff::{Span, SpanRelativeTo, Timestamp, Unit};

use super::output::{Bar, OutputArgs};
use super::run::{no_precision, parse_share, with_threads};
use super::{Done, Failure, TrialArgs, input};
use tideover::engine::Plan;
use tideover::report::{notes, now as report};
use tideover::scenario::model::{Chemistry, Site};
use tideover::scenario::{self, Moment};
use tideover::study::fit::overloads;
use tideover::study::now::{AssumedSky, Situation, Until, now};
use tideover::trials::Settings;
use tideover::units::{Fraction, Hours, Quantity};
use tideover::weather::{Bands, MOST_TOLD_DAYS};

/// Arguments of `now`.
#[derive(Debug, Args)]
pub struct NowArgs {
    /// The scenario file
    scenario: PathBuf,
    /// The charge that the station shows, like 43%
    #[arg(long, value_name = "PERCENT")]
    charge: String,
    /// Clock time of the place, like "2027-01-14 20:30", or of today, like 20:30 (default: now, by this machine's clock)
    #[arg(long, value_name = "DATE TIME")]
    at: Option<String>,
    /// The next days' sky in words, "dark,mixed,clear", or in percent from the darkest (0) to the brightest day of the
    /// season: "dark,30%,60-90%"; at most five days (default: as the scenario begins)
    #[arg(long, value_name = "DAY,DAY,…")]
    sky: Option<String>,
    /// By when it is judged: a clock time like 22:00 (the next), a date and clock time, or a length like "2 days" (default:
    /// as long as the scenario's outage lasts)
    #[arg(long, value_name = "WHEN")]
    until: Option<String>,
    /// Go on drawing down to this charge, like 20%, where the battery should keep more; the answer says what it costs
    #[arg(long, value_name = "PERCENT")]
    below_floor: Option<String>,
    #[command(flatten)]
    trials: TrialArgs,
    #[command(flatten)]
    output: OutputArgs,
}

fn moment(text: &str) -> Result<Moment, Failure> {
    scenario::moment(text).map_err(|why| {
        Failure::Input(format!(
            "error: --at is `{text}`, which {why}; allowed: a date and clock time like \"2027-01-14 20:30\", years 1900 to \
             2100, or a clock time of today like 20:30"
        ))
    })
}

/// The longest that is looked ahead \[h\].
const LONGEST_H: f64 = tideover::engine::plan::LONGEST_OUTAGE_H;

/// The longest steps \[min\].
const STEP_MINUTES: u32 = 60;

/// Steps of whole hours where the clock shows one, shorter ones where it does not: what lies before the moment asked is not
/// counted, but for less than a quarter of an hour.
fn step_minutes(at: DateTime) -> u32 {
    match at.minute() {
        0 => STEP_MINUTES,
        30 => 30,
        _ => 15,
    }
}

/// Hours to the end that was asked for, from the beginning of the step that the moment lies in.
fn until(text: &str, at: DateTime, step_minutes: u32) -> Result<f64, Failure> {
    let wrong = |found: &str| {
        Failure::Input(format!(
            "error: --until is `{text}`{found}; allowed: a clock time like 22:00, a date and clock time like \"2027-01-15 22:00\", \
             or a length like \"2 days\", up to {:.0} days from now",
            LONGEST_H / 24.0
        ))
    };
    let told = text.trim();
    let begins = i64::from(at.minute()) / i64::from(step_minutes) * i64::from(step_minutes);
    let gone_h = (i64::from(at.minute()) - begins) as f64 / 60.0;
    let from_now_h = if let Ok(length) = Hours::parse(told) {
        length.0
    } else if let Ok(clock) = told.parse::<Time>() {
        let minutes = |hour: i8, minute: i8| i64::from(hour) * 60 + i64::from(minute);
        let ahead = (minutes(clock.hour(), clock.minute()) - minutes(at.hour(), at.minute())).rem_euclid(1440);
        (if ahead == 0 { 1440 } else { ahead }) as f64 / 60.0
    } else {
        let end = told.replace('T', " ").replacen(' ', "T", 1).parse::<DateTime>().map_err(|_| wrong(""))?;
        (end - at).total((Unit::Hour, SpanRelativeTo::days_are_24_hours())).map_err(|_| wrong(""))?
    };
    if from_now_h <= 0.0 {
        return Err(wrong(", which is not ahead"));
    }
    if from_now_h > LONGEST_H {
        return Err(wrong(", which is too far ahead"));
    }
    Ok(from_now_h + gone_h)
}

/// From this hour on the day's sun is mostly past.
const LATE_HOUR: i8 = 15;

/// The sky of the next days from words: each word is a third of the season's days, each percentage a place among them.
fn outlook(told: &str, late: bool) -> Result<Bands, Failure> {
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
            Failure::Input(format!(
                "error: --sky has `{word}`; allowed for each day: dark, mixed, clear, any, a percentage like 30% or a range \
                 like 60-90% (0 % is the season's darkest day, 100 % its brightest)"
            ))
        })?);
    }
    if bands.len() > MOST_TOLD_DAYS {
        let most = MOST_TOLD_DAYS - usize::from(late);
        return Err(Failure::Input(format!("error: --sky tells too many days; allowed: at most {most} at this hour")));
    }
    Ok(Bands::new(&bands))
}

/// What the clock of a place shows now.
fn clock_of(site: &Site) -> DateTime {
    site.clock().unwrap_or(Zone::UTC).to_datetime(Timestamp::now())
}

fn on(date: Option<Date>, minute_of_day: u16) -> Result<DateTime, Failure> {
    let midnight = date.map(|date| date.at(0, 0, 0, 0));
    let at = midnight.and_then(|midnight| midnight.checked_add(Span::new().minutes(i64::from(minute_of_day))).ok());
    at.ok_or_else(|| Failure::Input("error: --at is no moment of the calendar".into()))
}

/// Runs the command.
pub fn main(args: &NowArgs) -> Result<Done, Failure> {
    // A station shows its charge in percent: nobody means 43 times full, and 0.43 is left to be asked.
    let bare = args.charge.trim().parse::<f64>().is_ok_and(|n| (1.0..=100.0).contains(&n));
    let charge = parse_share("--charge", &format!("{}{}", args.charge, if bare { " %" } else { "" }), 0.0, 1.0)?;
    let given = args.at.as_deref().map(moment).transpose()?;
    no_precision(args.trials.precision.as_deref(), "now")?;
    let loaded = input::load(&args.scenario, STEP_MINUTES)?;
    let at = match given {
        Some(Moment { date: Some((year, month, day)), minute_of_day }) => {
            on(Date::new(year, month as i8, day as i8).ok(), minute_of_day)?
        }
        // Today by the clock of the place.
        Some(Moment { date: None, minute_of_day }) => on(Some(clock_of(&loaded.scenario.site).date()), minute_of_day)?,
        None => clock_of(&loaded.scenario.site),
    };
    // In the afternoon "the next day" is tomorrow: what is left of today stays open.
    let late = at.hour() >= LATE_HOUR;
    let standing = Situation {
        charge,
        year: at.year(),
        month: at.month().unsigned_abs(),
        day: at.day().unsigned_abs(),
        minute_of_day: u16::from(at.hour().unsigned_abs()) * 60 + u16::from(at.minute().unsigned_abs()),
    };
    let minutes = step_minutes(at);
    let until = match args.until.as_deref() {
        Some(told) => Until::Asked { hours_h: until(told, at, minutes)? },
        None => Until::of(&loaded.scenario.outage, &standing),
    };
    let (mut scenario, kept) = (loaded.scenario.clone(), loaded.scenario.station.keep_above.0);
    let instead = args.below_floor.as_deref().map(|told| parse_share("--below-floor", told, 0.0, 1.0)).transpose()?;
    if let Some(instead) = instead {
        if instead >= kept {
            return Err(Failure::Input(format!(
                "error: --below-floor is {:.0} %; allowed: below the {:.0} % that the scenario's battery keeps (station.keep_above)",
                instead * 100.0,
                kept * 100.0
            )));
        }
        scenario.station.keep_above = Fraction(instead);
    }
    let lead = scenario.station.chemistry == Chemistry::LeadAcid;
    let floor = (kept > 0.0).then_some(report::Floor { kept, instead, lead });
    let sky = match args.sky.as_deref() {
        Some(told) => AssumedSky::Told(outlook(told, late)?),
        None => AssumedSky::of(&loaded.scenario.outage, &standing),
    };
    let told = args.sky.as_deref().unwrap_or_default().trim();
    let told = format!("from {}: {told}", if late { "tomorrow" } else { "today" });
    let output = args.output.open()?;
    let plan = Plan::compile(&standing.from_here(&scenario, &until), &loaded.sky, minutes)
        .map_err(|error| Failure::Input(format!("error: {}: {error}", args.scenario.display())))?;
    let settings = Settings { seed: args.trials.seed, trials: args.trials.trials, precision: None };
    let bar = Bar::new(settings.trials, args.trials.quiet);
    let ahead = with_threads(args.trials.threads, || now(&plan, (&sky, &until), &settings, &bar))?;
    bar.finish();
    let Some(ahead) = ahead else { return Err(Failure::Interrupted) };
    let medical: Vec<&str> =
        loaded.scenario.loads.iter().filter(|load| load.medical).map(|load| load.name.as_str()).collect();
    let overloaded = overloads(&loaded.scenario, &loaded.plan);
    let facts = report::Facts {
        site: &loaded.scenario.site,
        standing: &standing,
        outlook: &ahead,
        sky: &sky,
        until: &until,
        floor,
        told: &told,
        medical: &medical,
        overloads: &overloaded,
        weather: &notes::weather(&loaded.sky),
        seed: settings.seed,
    };
    output.give(&report::document(&facts), Some(report::NARROW), ("now", &report::json(&facts)))?;
    Ok(if ahead.stopped_early { Done::Partial } else { Done::Answered })
}
