//! Facts of a run that say the same twice are held against each other: what contradicts is named, and nothing is chosen.

use jiff::civil::DateTime;
use jiff::tz::TimeZone;

use super::model::{DISPLAY, Meter, MeterCheck, ONE_READING, Reading, Run};
use super::times::{NoMoment, hours_between, offset_h};
use crate::scenario::amount::shown;
use crate::scenario::fields::{Fields, Findings};
use crate::scenario::problem::Problem;
use crate::statistics::median;
use crate::units::{Fraction, Hours, Uncertain, WattHours, Watts};

/// Below this share of a log's greatest power the load counts as off.
const OFF: f64 = 0.05;
/// A log of the same length as its run may be this far from it by the clock: clocks of meters are set by hand \[h\].
const CLOCKS_APART_H: f64 = 0.25;
/// Up to so many times off within a run it is not the load that switches: a thermostat does so more often.
const FEW: usize = 3;
/// A shorter time without power is no trip: a plug that was moved \[h\].
const SHORT_H: f64 = 1.0 / 60.0;

/// What a record says of a run's time beside its log.
pub(super) struct Stamps {
    /// When it began.
    pub start: Option<DateTime>,
    /// When it stopped.
    pub stop: Option<DateTime>,
    /// How long it lasted, by these two or by itself.
    pub lasted: Option<Hours>,
    /// How far start and stop may each be off.
    pub clock: Hours,
}

/// The part of a log in which the load was on.
pub(super) struct On {
    /// Its readings, the first at 0 h.
    pub readings: Vec<Reading>,
    /// How long that was \[h\].
    pub hours: f64,
    /// The log's usual step \[h\].
    pub step_h: f64,
    /// Clock time of its first reading.
    begins: Option<DateTime>,
    /// Whether the load was on in the log's first reading and in its last.
    on_at_ends: (bool, bool),
}

impl On {
    /// Cuts a log to the time in which the load was on.
    pub fn of(start: Option<DateTime>, readings: &[Reading]) -> On {
        let most = readings.iter().map(|reading| reading.watts.0).fold(0.0, f64::max);
        let on = |reading: &Reading| most * OFF < reading.watts.0;
        let first = readings.iter().position(on).unwrap_or(0);
        let last = readings.iter().rposition(on).unwrap_or(readings.len() - 1).max(first);
        let begin = readings[first].after.0;
        let step_h = median(readings.windows(2).map(|pair| pair[1].after.0 - pair[0].after.0).collect());
        // It went off somewhere between the last reading with power and the next one.
        let next = readings.get(last + 1).map_or(0.0, |off| (off.after.0 - readings[last].after.0).min(step_h));
        let later = jiff::SignedDuration::from_millis((begin * 3.6e6).round() as i64);
        On {
            readings: readings[first..=last]
                .iter()
                .map(|r| Reading { after: Hours(r.after.0 - begin), ..*r })
                .collect(),
            hours: readings[last].after.0 - begin + 0.5 * next,
            step_h,
            begins: start.and_then(|start| start.checked_add(later).ok()),
            on_at_ends: (on(&readings[0]), on(&readings[readings.len() - 1])),
        }
    }
}

/// Hours between two clock times of the place. Reports a time that its clock skips or shows twice.
fn elapsed(fields: &Fields, zone: Option<&TimeZone>, start: DateTime, stop: DateTime) -> Option<f64> {
    let mut offsets = [0.0; 2];
    for (offset, (name, at)) in offsets.iter_mut().zip([("start", start), ("stop", stop)]) {
        match offset_h(zone, at) {
            Ok(hours) => *offset = hours,
            Err(why) => {
                let what = match why {
                    NoMoment::Skipped => "is skipped by the clock of the place: summer time begins",
                    NoMoment::Twice => "is shown twice by the clock of the place: summer time ends",
                };
                let unclear = Problem::error(fields.key(name), what)
                    .found(at.to_string())
                    .help("leave `stop` out and say how long the run took, like: lasted = \"4.5 h\"")
                    .against("site.timezone", "this clock");
                fields.findings().push(unclear);
                return None;
            }
        }
    }
    Some(hours_between(start, stop) - (offsets[1] - offsets[0]))
}

/// The length of a run by its start and stop, or as said; `None` inside where nothing says it, outside where the facts
/// contradict each other.
pub(super) fn length(fields: &Fields, zone: Option<&TimeZone>, stamps: &Stamps) -> Option<Option<Hours>> {
    let said = stamps.lasted;
    let (Some(start), Some(stop)) = (stamps.start, stamps.stop) else { return Some(said) };
    let clear = offset_h(zone, start).is_ok() && offset_h(zone, stop).is_ok();
    if !clear && said.is_some() {
        return Some(said);
    }
    let hours = elapsed(fields, zone, start, stop)?;
    if hours <= 0.0 {
        let clash = Problem::error(fields.key("stop"), "is not after the start")
            .found(stop.to_string())
            .allowed(format!("later than {start}"))
            .help("a run over midnight ends on the next date")
            .against(fields.key("start"), "began here");
        fields.findings().push(clash);
        return None;
    }
    if let Some(said) = said
        && 2.0 * stamps.clock.0 + 1e-9 < (said.0 - hours).abs()
    {
        let clash = Problem::error(fields.key("lasted"), "is not the time between start and stop")
            .found(long(said.0))
            .allowed(format!("{}, give or take {}", long(hours), long(2.0 * stamps.clock.0)))
            .help("look which of them is wrong, and keep `start` and `stop`, or `start` and `lasted`")
            .against(fields.key("stop"), "stopped here");
        fields.findings().push(clash);
        return None;
    }
    Some(Some(Hours(hours)))
}

/// "4 h 12 min": a length of time to the minute.
fn long(hours: f64) -> String {
    let minutes = (hours * 60.0).round() as i64;
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// Holds a log against the times of its record; true where they agree as far as both are known.
pub(super) fn log_and_times(fields: &Fields, zone: Option<&TimeZone>, stamps: &Stamps, on: &On) -> bool {
    // A time that its clock skips or shows twice is taken as if clocks were not changed.
    let since = |from: DateTime, to: DateTime| match (offset_h(zone, from), offset_h(zone, to)) {
        (Ok(before), Ok(after)) => hours_between(from, to) - (after - before),
        _ => hours_between(from, to),
    };
    // How much later the log begins and how much earlier it ends than the record says.
    let late = stamps.start.zip(on.begins).map(|(start, begins)| since(start, begins));
    let early = stamps.stop.zip(on.begins).map(|(stop, begins)| since(begins, stop) - on.hours);
    let at_one_end = stamps.clock.0 + on.step_h + 1e-9;
    let clash = match stamps.lasted {
        Some(lasted) => {
            let at_both = at_one_end + stamps.clock.0 + 0.5 * on.step_h;
            if (lasted.0 - on.hours).abs() <= at_both {
                if let Some(apart) = late.filter(|late| CLOCKS_APART_H + at_one_end < late.abs()) {
                    let warning =
                        Problem::warning(fields.key("log"), "is as long as its run and does not begin with it")
                            .found(format!(
                                "{} {} `start`",
                                long(apart.abs()),
                                if apart < 0.0 { "before" } else { "after" }
                            ))
                            .help(
                                "look whether it is the log of this run, and which clock is wrong; its length is used",
                            )
                            .against(fields.key("start"), "began here");
                    fields.findings().push(warning);
                }
                return true;
            }
            let key = if stamps.stop.is_some() && stamps.start.is_some() { "stop" } else { "lasted" };
            Some((key, format!("{} by the record", long(lasted.0)), lasted.0 - on.hours))
        }
        None => match (late, early) {
            (Some(late), _) if at_one_end < late.abs() => {
                Some(("start", "a log that begins with `start`".to_string(), late))
            }
            (_, Some(early)) if at_one_end < early.abs() => Some(("stop", "a log that ends with `stop`".into(), early)),
            _ => None,
        },
    };
    let Some((key, allowed, missing)) = clash else { return true };
    let mut look = Vec::new();
    if missing < 0.0 {
        look.push("start, stop or lasted is wrong, or the log holds more than this run".to_string());
    } else {
        let (woke, died) = on.on_at_ends;
        match late.filter(|late| at_one_end < *late) {
            Some(late) => look.push(format!("the logger woke {} late", long(late))),
            None if late.is_none() && key != "stop" && woke => look.push("the logger woke late".into()),
            None => {}
        }
        match early.filter(|early| at_one_end < *early) {
            Some(early) => look.push(format!("the logger died {} early", long(early))),
            None if early.is_none() && key != "start" && died => look.push("the logger died early".into()),
            None => {}
        }
        if look.is_empty() {
            look.push("the logger woke late or died early".into());
        }
    }
    let against = Problem::error(fields.key("log"), "and the times of the record contradict each other")
        .found(match on.begins {
            Some(begins) => format!("the load on for {} from {begins} on", long(on.hours)),
            None => format!("the load on for {}", long(on.hours)),
        })
        .allowed(allowed)
        .help(format!(
            "look whether {}; run the test again, or keep the one that holds the whole run (clocks read roughly: clock = \"5 min\")",
            look.join(", or ")
        ))
        .against(fields.key(key), "this time");
    fields.findings().push(against);
    false
}

/// Holds a load and the time it ran against the counter; true where they agree.
///
/// The load is one reading for the whole run, and both readings may be off by the meter's limits.
pub(super) fn load_and_counter(
    fields: &Fields,
    (load, counted): (Watts, &Uncertain<WattHours>),
    (lasted, clock): (Hours, Hours),
    meter: &Meter,
) -> bool {
    let by_load = load.0 * lasted.0;
    let apart = (ONE_READING + 2.0 * meter.accuracy.0) * by_load
        + counted.plus_minus
        + 0.5 * meter.last_digit.0 * lasted.0
        + 2.0 * clock.0 * load.0;
    if (by_load - counted.value.0).abs() <= apart {
        return true;
    }
    let whole = |wh: f64| shown::<WattHours>(if wh < 10.0 { (wh * 10.0).round() / 10.0 } else { wh.round() });
    let clash = Problem::error(fields.key("load"), "and the counter's energy contradict each other")
        .found(format!("{load} for {} make {}", long(lasted.0), whole(by_load)))
        .allowed(format!("{} by `energy`, give or take {}", counted.value, whole(apart)))
        .help(
            "look at the counter (was it set to 0 at the start?), at the load and at start and stop; for a load that \
             switches itself on and off leave `load` out",
        )
        .against(fields.key("energy"), "the counter");
    fields.findings().push(clash);
    false
}

/// Holds the charges noted beside the readings against `from` and `to`; true where they agree.
///
/// A charge is taken to fall evenly. Displays are not straight: twice what one may be off is allowed.
pub(super) fn charges(fields: &Fields, key: &str, run: &Run, readings: &[Reading]) -> bool {
    let (from, to) = &run.charge;
    let noted = || readings.iter().filter_map(|reading| Some((reading.after.0 / run.lasted.0, reading.charge?.0)));
    let ends = [("from", from, noted().next()), ("to", to, noted().next_back())];
    for (name, end, noted) in ends {
        let Some((at, charge)) = noted else { continue };
        let expected = from.value.0 + at * (to.value.0 - from.value.0);
        let apart = 2.0 * DISPLAY + end.plus_minus;
        if (charge - expected).abs() <= apart {
            continue;
        }
        let percent = |share: f64| shown::<Fraction>((share * 100.0).round() / 100.0);
        let clash = Problem::error(key, format!("and `{name}` contradict each other"))
            .found(format!("{} on the display after {}", percent(charge), long(at * run.lasted.0)))
            .allowed(format!("{} by `from` and `to`, give or take {}", percent(expected), percent(apart)))
            .help("look whether the log is of this run, whether the unit was full, and where it stopped")
            .against(fields.key(name), "this charge");
        fields.findings().push(clash);
        return false;
    }
    true
}

/// Holds a meter's check against the limits that its maker states; true where both can be.
pub(super) fn check_and_limits(fields: &Fields, check: &MeterCheck) -> bool {
    let (read, known) = (check.read.0, &check.known);
    let apart = check.meter.accuracy.0 * read + known.plus_minus + 0.5 * check.meter.last_digit.0;
    if (read - known.value.0).abs() <= apart {
        return true;
    }
    let off = shown::<Fraction>((1000.0 * (read / known.value.0 - 1.0)).round() / 1000.0);
    let clash = Problem::error(fields.key("read"), "and what is known of the load lie beyond the meter's limits")
        .found(format!("{} where {} flowed: {off} off", check.read, known.value))
        .allowed(format!("{} apart at most, by `accuracy` {} and the ± of `known`", shown::<Watts>((apart * 10.0).round() / 10.0), check.meter.accuracy))
        .help("look at the known load, and check again; if the meter is off, state limits that hold its error as its `accuracy`: the check then tells how far it is off")
        .against(fields.key("known"), "the known load");
    fields.findings().push(clash);
    false
}

/// Holds the checks of one meter against each other: an error of it that one of them finds, the others find too.
pub(super) fn checks(findings: &Findings, all: &[Option<MeterCheck>]) {
    let all: Vec<(usize, &MeterCheck)> =
        all.iter().enumerate().filter_map(|(k, check)| Some((k, check.as_ref()?))).collect();
    // What is known of the flow for each watt that was read, and how well, 95 %.
    let factor = |check: &MeterCheck| {
        let apart = check.known.plus_minus + 0.5 * check.meter.last_digit.0;
        (check.known.value.0 / check.read.0, apart / check.read.0)
    };
    let words = |check: &MeterCheck| {
        let off = shown::<Fraction>((1000.0 * (check.read.0 / check.known.value.0 - 1.0)).round() / 1000.0);
        format!("\"{}\": {} read where {} flowed, {off} off", check.name, check.read, check.known.value)
    };
    for (place, (k, check)) in all.iter().enumerate() {
        let (here, here_half) = factor(check);
        let clash = all[..place].iter().filter(|(_, other)| other.meter.name == check.meter.name).find(|(_, other)| {
            let (there, there_half) = factor(other);
            here_half + there_half < (here - there).abs()
        });
        if let Some((first, other)) = clash {
            findings.push(
                Problem::error(
                    format!("meter_check.{k}.read"),
                    "and another check of the same meter contradict each other",
                )
                .found(words(check))
                .allowed(format!("as {}, within the ± of both", words(other)))
                .help("look at both loads and check again; a meter that is off otherwise each time cannot be corrected")
                .against(format!("meter_check.{first}.read"), "the other check"),
            );
        }
    }
}

/// Times without power in the midst of a discharge, as hours from and to; none where there are so many that the load cycles.
pub(super) fn spells_off(readings: &[Reading]) -> Vec<(f64, f64)> {
    let most = readings.iter().map(|reading| reading.watts.0).fold(0.0, f64::max);
    let on: Vec<f64> = readings.iter().filter(|r| most * OFF < r.watts.0).map(|r| r.after.0).collect();
    let off_between = |from: f64, to: f64| readings.iter().filter(|r| from < r.after.0 && r.after.0 < to).count();
    let off: Vec<(f64, f64)> = on
        .windows(2)
        .map(|pair| (pair[0], pair[1]))
        .filter(|(from, to)| SHORT_H < to - from && off_between(*from, *to) > 0)
        .collect();
    if FEW < off.len() { Vec::new() } else { off }
}

/// Mentions a time without power in the midst of a discharge: the unit may have switched itself off.
pub(super) fn trips(fields: &Fields, key: &str, readings: &[Reading]) {
    let off = spells_off(readings);
    if off.is_empty() {
        return;
    }
    let spells: Vec<String> =
        off.iter().map(|(from, to)| format!("{} after {}", long(to - from), long(*from))).collect();
    fields.findings().push(
        Problem::warning(key, "drops to nothing in the midst of the run; the unit may have tripped")
            .found(format!("no power for {}", spells.join(", ")))
            .help(
                "if the load was switched off by hand, note so (noise = \"switched off by hand\"); if not, the unit tripped: repeat the run and \
                 watch its display. What came out is counted as it is, and the outlet's draw for all of the time",
            ),
    );
}
