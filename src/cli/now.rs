//! `tideover now`.

use std::path::PathBuf;

use clap::Args;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{Offset, TimeZone as Zone};

use super::output::{Bar, print};
use super::run::{parse_share, with_threads};
use super::{Done, Failure, TrialArgs, input};
use crate::report::{json, now as report};
use crate::scenario::model::{Site, TimeZone};
use crate::study::now::{Standing, now};
use crate::trials::Settings;
use crate::weather::Opening;

/// Arguments of `now`.
#[derive(Debug, Args)]
pub struct NowArgs {
    /// The scenario file
    scenario: PathBuf,
    /// The charge that the station shows, like 43%
    #[arg(long, value_name = "PERCENT")]
    charge: String,
    /// Clock time of the place, like "2027-01-14 20:30" (default: now, by this machine's clock)
    #[arg(long, value_name = "DATE TIME")]
    at: Option<String>,
    #[command(flatten)]
    trials: TrialArgs,
    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
}

fn moment(text: &str) -> Result<DateTime, Failure> {
    text.trim().replace('T', " ").replacen(' ', "T", 1).parse::<DateTime>().map_err(|_| {
        Failure::Input(format!("error: --at is `{text}`; allowed: a date and clock time like \"2027-01-14 20:30\""))
    })
}

/// What the clock of a place shows now.
fn clock_of(site: &Site) -> DateTime {
    let by_minutes = |minutes: i32| Zone::fixed(Offset::from_seconds(minutes * 60).unwrap_or(Offset::UTC));
    let zone = match &site.timezone {
        TimeZone::Named(name) => Zone::get(name).unwrap_or(Zone::UTC),
        TimeZone::Fixed(minutes) => by_minutes(*minutes),
        TimeZone::FromLongitude => by_minutes((site.longitude_deg / 15.0).round() as i32 * 60),
    };
    zone.to_datetime(Timestamp::now())
}

/// Runs the command.
pub fn main(args: &NowArgs) -> Result<Done, Failure> {
    let charge = parse_share("--charge", &args.charge, 0.0, 1.0)?;
    let given = args.at.as_deref().map(moment).transpose()?;
    let loaded = input::load(&args.scenario, 60)?;
    let at = given.unwrap_or_else(|| clock_of(&loaded.scenario.site));
    let standing = Standing {
        charge,
        month: at.month().unsigned_abs(),
        day: at.day().unsigned_abs(),
        minute_of_day: u16::from(at.hour().unsigned_abs()) * 60 + u16::from(at.minute().unsigned_abs()),
        opening: Opening::Any,
    };
    let settings = Settings { seed: args.trials.seed, trials: args.trials.trials, precision: None };
    let bar = Bar::new(settings.trials, args.trials.quiet);
    let outlook = with_threads(args.trials.threads, || now(&loaded.plan, &standing, &settings, &bar))?;
    bar.finish();
    let Some(outlook) = outlook else { return Err(Failure::Interrupted) };
    if args.json {
        print(&json::to_text(&report::json(&standing, &outlook, settings.seed)))?;
    } else {
        print(&report::text(&standing, &outlook, ""))?;
    }
    Ok(Done::Answered)
}
