//! The power is out: how long from here?

use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone as Zone;
use jiff::{Span, SpanRelativeTo, Timestamp, Unit};

use super::{Answer, Trouble, share, without_mains};
use crate::engine::Plan;
use crate::open::{Opened, assumed};
use crate::report::notes::{self, Note};
use crate::report::{json, now as words};
use crate::scenario::model::Site;
use crate::scenario::record::model::display_doubt;
use crate::scenario::{self, Moment, Scenario};
use crate::study::device::DeviceHours;
use crate::study::fit::{self, overloads};
use crate::study::now::{AssumedSky, LASTS, Outlook, Situation, Until, now as look_ahead};
use crate::study::verdict::EVEN;
use crate::trials::{Progress, Settings};
use crate::units::Fraction;
use crate::weather::{Bands, MOST_TOLD_DAYS};

/// The longest that is looked ahead \[h\].
const LONGEST_H: f64 = crate::engine::plan::LONGEST_OUTAGE_H;

/// The longest steps \[min\].
pub const STEP_MINUTES: u32 = 60;

/// Steps of whole hours where the clock shows one, shorter ones where it does not: what lies before the moment asked is not
/// counted, but for less than a quarter of an hour.
fn step_minutes(at: DateTime) -> u32 {
    match at.minute() {
        0 => STEP_MINUTES,
        30 => 30,
        _ => 15,
    }
}

/// Where things stand, as a person tells it.
#[derive(Debug, Clone, Copy, Default)]
pub struct NowOptions<'a> {
    /// The charge that the station shows, like "43%".
    pub charge: &'a str,
    /// Clock time of the place, or of today there; else what its clock shows at the instant.
    pub at: Option<&'a str>,
    /// The instant, where there is a clock.
    pub instant: Option<Timestamp>,
    /// The next days' sky in words or percent, like "dark,mixed,60-90%".
    pub sky: Option<&'a str>,
    /// By when it is judged.
    pub until: Option<&'a str>,
    /// Drawn down to this charge where the battery should keep more.
    pub below_floor: Option<&'a str>,
    /// Fuel left for the generator, like "4.5 L"; else as much as the scenario has.
    pub fuel: Option<&'a str>,
}

impl NowOptions<'_> {
    /// What of them can be looked at before the scenario is read.
    ///
    /// # Errors
    /// What is wrong with one.
    pub fn check(&self) -> Result<(), Trouble> {
        self.charge()?;
        self.at.map(moment).transpose()?;
        Ok(())
    }

    /// The charge, 0 to 1, and what it may be off by where that is told.
    fn charge(&self) -> Result<(f64, Option<f64>), Trouble> {
        let part = |text: &str, greatest: f64| {
            told_in_percent("charge", text)?;
            share("charge", &percent(text), 0.0, greatest)
        };
        let sign = ["±", "+/-", "+-"].into_iter().find(|sign| self.charge.contains(sign));
        if let Some((value, half)) = sign.and_then(|sign| self.charge.split_once(sign)) {
            let named = |trouble: Trouble| match trouble {
                Trouble::Option { option, what } => Trouble::Option { option, what: format!(": its ±{what}") },
                other => other,
            };
            return Ok((part(value, 1.0)?, Some(part(half, 0.5).map_err(named)?)));
        }
        // "40-45%": the display's own doubt is not less for it.
        let range = self.charge.replace(['–', '—'], "-").replace(" to ", "-");
        match range.split_once('-').filter(|(low, _)| !low.trim().is_empty()) {
            Some((low, high)) => {
                let (low, high) = (part(low, 1.0)?, part(high, 1.0)?);
                if high <= low {
                    let what = format!(" is `{}`; allowed: the lower end first, like 40-45%", self.charge);
                    return Err(Trouble::Option { option: "charge", what });
                }
                let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
                Ok((middle, Some(half).filter(|half| display_doubt(middle) < *half)))
            }
            None => Ok((part(self.charge, 1.0)?, None)),
        }
    }

    fn moment(&self, site: &Site) -> Result<DateTime, Trouble> {
        let clock = || {
            let instant = self
                .instant
                .ok_or_else(|| wrong_at(" is wanted, or the instant in `unix_s`: there is no clock to ask".into()))?;
            Ok::<DateTime, Trouble>(site.clock().unwrap_or(Zone::UTC).to_datetime(instant))
        };
        match self.at.map(moment).transpose()? {
            Some(Moment { date: Some((year, month, day)), minute_of_day }) => {
                on(Date::new(year, month as i8, day as i8).ok(), minute_of_day)
            }
            // Today by the clock of the place.
            Some(Moment { date: None, minute_of_day }) => on(Some(clock()?.date()), minute_of_day),
            None => clock(),
        }
    }
}

/// The scenario's generator with the fuel that is left.
fn with_fuel(scenario: &mut Scenario, told: &str) -> Result<(), Trouble> {
    let refused = |what: String| Trouble::Option { option: "fuel", what };
    let left = scenario::litres(told).map_err(|why| {
        refused(format!(" is `{told}`, which is no volume ({why}); allowed: litres left now, like 4.5 or \"4.5 L\""))
    })?;
    let Some(generator) = &mut scenario.generator else {
        return Err(refused(format!(
            " is `{told}`, but the scenario has no generator; allowed: beside a [generator] section (limit, hours, fuel_per_kwh)"
        )));
    };
    if generator.fuel_per_kwh.is_none() && generator.fuel_per_hour.is_none() {
        return Err(refused(format!(
            " is `{told}`, but nobody knows how long that lasts; allowed: beside generator.fuel_per_kwh or generator.fuel_per_hour, \
             what the generator burns"
        )));
    }
    generator.fuel = Some(left);
    Ok(())
}

/// A bare number of percent gets its sign, a comma before decimals becomes a point. A station shows its charge in percent: nobody
/// means 43 times full, 0 and numbers beyond 100 are percents alone, and 0.43 is left to be asked.
fn percent(text: &str) -> String {
    let told = text.trim();
    let bare = told.trim_end_matches('%').trim_end();
    let commas = bare.split_once(',').is_some_and(|(whole, part)| {
        [whole, part].iter().all(|digits| !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit()))
    });
    let told = if commas { told.replacen(',', ".", 1) } else { told.to_string() };
    let share = told.parse::<f64>().ok().filter(|n| n.is_finite());
    format!("{told}{}", if share.is_some_and(|n| n == 0.0 || 1.0 <= n) { " %" } else { "" })
}

/// Refuses a bare number below 1, with what to write for either reading.
fn told_in_percent(option: &'static str, text: &str) -> Result<(), Trouble> {
    let told = percent(text);
    match told.parse::<f64>() {
        Ok(n) if 0.0 < n && n < 1.0 => {
            let tidy = (n * 100.0 * 1e6).round() / 1e6;
            let what =
                format!(" is `{}`, which can be read in two ways: write \"{tidy} %\" or \"{told} %\"", text.trim());
            Err(Trouble::Option { option, what })
        }
        _ => Ok(()),
    }
}

fn wrong_at(what: String) -> Trouble {
    Trouble::Option { option: "at", what }
}

fn moment(text: &str) -> Result<Moment, Trouble> {
    scenario::moment(text).map_err(|why| {
        wrong_at(format!(
            " is `{text}`, which {why}; allowed: a date and clock time like \"2027-01-14 20:30\", years 1900 to 2100, or a clock \
             time of today like 20:30"
        ))
    })
}

fn on(date: Option<Date>, minute_of_day: u16) -> Result<DateTime, Trouble> {
    let midnight = date.map(|date| date.at(0, 0, 0, 0));
    let at = midnight.and_then(|midnight| midnight.checked_add(Span::new().minutes(i64::from(minute_of_day))).ok());
    at.ok_or_else(|| wrong_at(" is no moment of the calendar".into()))
}

/// Hours to the end that was asked for, from the beginning of the step that the moment lies in.
fn until(text: &str, at: DateTime, step_minutes: u32) -> Result<f64, Trouble> {
    let wrong = |found: &str| Trouble::Option {
        option: "until",
        what: format!(
            " is `{text}`{found}; allowed: a clock time like 22:00 or 10pm, \"tomorrow 8:00\", a date and clock time like \"2027-01-15 22:00\", \
             or a length like \"2 days\", up to {:.0} days from now",
            LONGEST_H / 24.0
        ),
    };
    let told = text.trim();
    let begins = i64::from(at.minute()) / i64::from(step_minutes) * i64::from(step_minutes);
    let gone_h = (i64::from(at.minute()) - begins) as f64 / 60.0;
    let minutes = i64::from(at.hour()) * 60 + i64::from(at.minute());
    let (tomorrow, clock) = match told.to_lowercase().strip_prefix("tomorrow") {
        Some(clock) => (true, clock.trim_start_matches([' ', ',']).to_string()),
        None => (false, told.to_string()),
    };
    let from_now_h = match (scenario::length(told), scenario::moment(&clock)) {
        (Ok(length), _) => length.0,
        (_, Ok(Moment { date: None, minute_of_day })) if tomorrow => {
            (i64::from(minute_of_day) + 1440 - minutes) as f64 / 60.0
        }
        (_, Ok(Moment { date: None, minute_of_day })) => {
            let ahead = (i64::from(minute_of_day) - minutes).rem_euclid(1440);
            (if ahead == 0 { 1440 } else { ahead }) as f64 / 60.0
        }
        (_, Ok(Moment { date: Some((year, month, day)), minute_of_day })) => {
            let end = on(Date::new(year, month as i8, day as i8).ok(), minute_of_day).map_err(|_| wrong(""))?;
            (end - at).total((Unit::Hour, SpanRelativeTo::days_are_24_hours())).map_err(|_| wrong(""))?
        }
        (Err(_), Err(why)) => {
            let unsure = why.starts_with("does not say") || why.starts_with("can be read in two ways");
            return Err(wrong(&if unsure { format!(", which {why}") } else { String::new() }));
        }
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
    progress: &dyn Progress,
) -> Result<Option<Answer>, Trouble> {
    let (charge, doubt) = options.charge()?;
    let at = options.moment(&opened.scenario.site)?;
    // In the afternoon "the next day" is tomorrow: what is left of today stays open.
    let late = at.hour() >= LATE_HOUR;
    let standing = Situation {
        charge,
        charge_plus_minus: doubt.unwrap_or_else(|| display_doubt(charge)),
        year: at.year(),
        month: at.month().unsigned_abs(),
        day: at.day().unsigned_abs(),
        minute_of_day: u16::from(at.hour().unsigned_abs()) * 60 + u16::from(at.minute().unsigned_abs()),
    };
    let minutes = step_minutes(at);
    let until = match options.until {
        Some(told) => Until::Asked { hours_h: until(told, at, minutes)? },
        None => Until::this_cut(&opened.scenario.outage, &standing, minutes)
            .unwrap_or_else(|| Until::of(&opened.scenario.outage, &standing)),
    };
    let (mut scenario, kept) = (opened.scenario.clone(), opened.scenario.station.keep_above.0);
    let instead = options.below_floor.map(|told| share("below-floor", &percent(told), 0.0, 1.0)).transpose()?;
    if let Some(instead) = instead {
        if instead >= kept {
            return Err(Trouble::Option {
                option: "below-floor",
                what: format!(
                    " is {:.0} %; allowed: below the {:.0} % that the scenario's battery keeps (station.keep_above)",
                    instead * 100.0,
                    kept * 100.0
                ),
            });
        }
        scenario.station.keep_above = Fraction(instead);
    }
    if let Some(told) = options.fuel {
        with_fuel(&mut scenario, told)?;
    }
    let mut floor = words::Floor::of(&opened.scenario, instead);
    let sky = match options.sky {
        Some(told) => AssumedSky::Told(outlook(told, late)?),
        None => AssumedSky::of(&opened.scenario.outage, &standing),
    };
    let told = options.sky.unwrap_or_default().trim();
    let told = format!("from {}: {told}", if late { "tomorrow" } else { "today" });
    let from_here = standing.from_here(&scenario, &until);
    let plan = Plan::compile(&from_here, &opened.sky, minutes)
        .map_err(|error| Trouble::Question(format!("{}: {error}", opened.source.name)))?;
    let Some(ahead) = look_ahead((&from_here, &plan), (&sky, &until), settings, progress) else { return Ok(None) };
    // What stays in the battery by choice is worth a look where it decides.
    let reached = |outlook: &Outlook| outlook.courses[outlook.best].lasts[outlook.judged];
    if let Some(floor) = floor.as_mut().filter(|_| instead.is_none() && reached(&ahead).0 < LASTS) {
        let mut lower = from_here.clone();
        lower.station.keep_above = Fraction(floor.half());
        let deeper = Plan::compile(&lower, &opened.sky, minutes)
            .map_err(|error| Trouble::Question(format!("{}: {error}", opened.source.name)))?;
        let told = look_ahead((&lower, &deeper), (&sky, &until), settings, progress).filter(|told| !told.stopped_early);
        // At once clearly more, and better than a toss-up.
        floor.lower =
            told.map(|told| reached(&told)).filter(|(p, range)| *p >= EVEN && range.low > reached(&ahead).1.high);
    }
    let dark = if scenario.medical() { without_mains(&from_here, &plan, &opened.sky) } else { None };
    let least = (charge - standing.charge_plus_minus).max(0.0);
    let device_hours = DeviceHours::of(
        &from_here,
        dark.as_ref().unwrap_or(&plan),
        opened.air.cells_c(&plan),
        (charge, least),
        Some(standing.step_of_week(dark.as_ref().unwrap_or(&plan).season.steps_a_day)),
        settings.seed,
    );
    let overloaded = overloads(&opened.scenario, &opened.plan);
    // Snow, frost and heat are those of this month, not of the scenario's.
    let verdicts = fit::verdicts(&from_here, &plan, &opened.air);
    let mut rests_on = notes::notes(&from_here, (&opened.sky, &opened.air), &verdicts, &plan);
    // These cautions have a section of their own.
    rests_on.retain(|note| !matches!(note, Note::LeadAcid | Note::DeviceOnDc));
    notes::add_assumed(&mut rests_on, &assumed::unweighed(opened, &plan));
    let charged = from_here.generator.as_ref().zip(from_here.station.wall_charger);
    let facts = words::Facts {
        scenario: &opened.scenario,
        standing: &standing,
        doubt_assumed: doubt.is_none(),
        outlook: &ahead,
        sky: &sky,
        until: &until,
        floor,
        told: &told,
        generator: from_here.generator.as_ref(),
        generator_most_w: charged.map_or(0.0, |(generator, charger)| plan.generator_most_w(generator, &charger)),
        fuel_told: options.fuel.is_some(),
        device_hours: device_hours.as_ref(),
        overloads: &overloaded,
        notes: &rests_on,
        seed: settings.seed,
    };
    Ok(Some(Answer {
        document: words::document(&facts),
        json: Some(json::text("now", &words::json(&facts))),
        partial: ahead.stopped_early,
    }))
}
