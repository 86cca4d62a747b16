//! `tideover now`.

use std::path::PathBuf;

use clap::Args;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone as Zone;

use super::output::{Bar, OutputArgs};
use super::run::{no_precision, parse_share, with_threads};
use super::{Done, Failure, TrialArgs, input};
use tideover::engine::Plan;
use tideover::report::{notes, now as report};
use tideover::scenario::model::Site;
use tideover::scenario::record::model::display_doubt;
use tideover::study::fit::overloads;
use tideover::study::now::{AssumedSky, Situation, now};
use tideover::trials::Settings;
use tideover::weather::{Bands, MOST_TOLD_DAYS};

/// Arguments of `now`.
#[derive(Debug, Args)]
pub struct NowArgs {
    /// The scenario file
    scenario: PathBuf,
    /// The charge that the station shows, like 43% or "43 % ± 2 %" (without ± a display is taken to be off by up to 5 %)
    #[arg(long, value_name = "PERCENT")]
    charge: String,
    /// Clock time of the place, like "2027-01-14 20:30" (default: now, by this machine's clock)
    #[arg(long, value_name = "DATE TIME")]
    at: Option<String>,
    /// The next days' sky in words, "dark,mixed,clear", or in percent from the darkest (0) to the brightest day of the
    /// season: "dark,30%,60-90%"; at most five days (default: as the scenario begins)
    #[arg(long, value_name = "DAY,DAY,…")]
    sky: Option<String>,
    #[command(flatten)]
    trials: TrialArgs,
    #[command(flatten)]
    output: OutputArgs,
}

fn moment(text: &str) -> Result<DateTime, Failure> {
    let at = text.trim().replace('T', " ").replacen(' ', "T", 1).parse::<DateTime>().ok();
    at.filter(|at| (1900..=2100).contains(&at.year())).ok_or_else(|| {
        Failure::Input(format!(
            "error: --at is `{text}`; allowed: a date and clock time like \"2027-01-14 20:30\", years 1900 to 2100"
        ))
    })
}

/// Length of a step \[min\].
const STEP_MINUTES: u32 = 60;

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

/// A charge, 0 to 1, and its ± where there is one.
fn charge(text: &str) -> Result<(f64, Option<f64>), Failure> {
    let Some(sign) = ["±", "+/-", "+-"].into_iter().find(|sign| text.contains(sign)) else {
        return Ok((parse_share("--charge", text, 0.0, 1.0)?, None));
    };
    let (value, half) = text.split_once(sign).unwrap_or((text, ""));
    Ok((parse_share("--charge", value, 0.0, 1.0)?, Some(parse_share("--charge: ±", half, 0.0, 0.5)?)))
}

/// What the clock of a place shows now.
fn clock_of(site: &Site) -> DateTime {
    site.clock().unwrap_or(Zone::UTC).to_datetime(Timestamp::now())
}

/// Runs the command.
pub fn main(args: &NowArgs) -> Result<Done, Failure> {
    let (charge, told) = charge(&args.charge)?;
    let given = args.at.as_deref().map(moment).transpose()?;
    no_precision(args.trials.precision.as_deref(), "now")?;
    let loaded = input::load(&args.scenario, STEP_MINUTES)?;
    let at = given.unwrap_or_else(|| clock_of(&loaded.scenario.site));
    // In the afternoon "the next day" is tomorrow: what is left of today stays open.
    let late = at.hour() >= LATE_HOUR;
    let standing = Situation {
        charge,
        charge_plus_minus: told.unwrap_or_else(|| display_doubt(charge)),
        year: at.year(),
        month: at.month().unsigned_abs(),
        day: at.day().unsigned_abs(),
        minute_of_day: u16::from(at.hour().unsigned_abs()) * 60 + u16::from(at.minute().unsigned_abs()),
    };
    let sky = match args.sky.as_deref() {
        Some(told) => AssumedSky::Told(outlook(told, late)?),
        None => AssumedSky::of(&loaded.scenario.outage, &standing),
    };
    let sky_told = args.sky.as_deref().unwrap_or_default().trim();
    let sky_told = format!("from {}: {sky_told}", if late { "tomorrow" } else { "today" });
    let output = args.output.open()?;
    let plan = Plan::compile(&standing.from_here(&loaded.scenario), &loaded.sky, STEP_MINUTES)
        .map_err(|error| Failure::Input(format!("error: {}: {error}", args.scenario.display())))?;
    let settings = Settings { seed: args.trials.seed, trials: args.trials.trials, precision: None };
    let bar = Bar::new(settings.trials, args.trials.quiet);
    let ahead = with_threads(args.trials.threads, || now(&plan, &sky, &settings, &bar))?;
    bar.finish();
    let Some(ahead) = ahead else { return Err(Failure::Interrupted) };
    let medical: Vec<&str> =
        loaded.scenario.loads.iter().filter(|load| load.medical).map(|load| load.name.as_str()).collect();
    let overloaded = overloads(&loaded.scenario, &loaded.plan);
    let facts = report::Facts {
        standing: &standing,
        doubt_assumed: told.is_none(),
        outlook: &ahead,
        sky: &sky,
        told: &sky_told,
        medical: &medical,
        overloads: &overloaded,
        weather: &notes::weather(&loaded.sky),
        seed: settings.seed,
    };
    output.give(&report::document(&facts), Some(report::NARROW), ("now", &report::json(&facts)))?;
    Ok(if ahead.stopped_early { Done::Partial } else { Done::Answered })
}
