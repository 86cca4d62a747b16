//! The answer of `run` as plain text.

use super::headline::{doubt, headline, stopped};
use super::words::{
    common_base, day_of_outage, duration, energy, percent, points, range, survival_of, the_list, thousands, whole,
};
use super::{chart, food, rare};
use crate::engine::ledger::Flow;
use crate::engine::{Ledger, LoadPlan, Plan};
use crate::scenario::model::{Generator, Scenario};
use crate::study::Change;
use crate::study::outage::OutageAnswer;
use crate::trials::interval::{Z_95, wilson};
use crate::trials::tally::{LoadTally, count_quantile};

/// Width that sentences are broken at.
pub const WIDTH: usize = 84;

/// Breaks text into lines of at most `width` characters, each begun with `indent`.
#[must_use]
pub fn wrap(text: &str, indent: &str, width: usize) -> String {
    let mut out = String::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = line.chars().count() + usize::from(!line.is_empty()) + word.chars().count();
        if !line.is_empty() && indent.chars().count() + longer > width {
            out.push_str(&format!("{indent}{line}\n"));
            line.clear();
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    if !line.is_empty() {
        out.push_str(&format!("{indent}{line}\n"));
    }
    out
}

/// The whole report.
///
/// * `columns` — width of the chart; `notes` — what is assumed, one sentence each.
#[must_use]
pub fn text(scenario: &Scenario, plan: &Plan, answer: &OutageAnswer, notes: &[String], columns: usize) -> String {
    let mut out = format!("{}\n\n", scenario.title);
    out.push_str(&wrap(&headline(scenario, answer), "", WIDTH));
    out.push_str(&wrap(&doubt(answer), "  ", WIDTH));
    out.push_str(&wrap(&stopped(answer), "  ", WIDTH));
    out.push_str("\nWhat fails first\n");
    out.push_str(&wrap(&failures(plan, answer), "  ", WIDTH));
    out.push_str("\nWhat runs, and what goes without\n");
    out.push_str(&loads(plan, answer));
    let food = food::text(plan, &answer.tally);
    if !food.is_empty() {
        out.push_str("\nThe food in the coolers\n");
        out.push_str(&food);
    }
    out.push_str("\nCharge of the battery through the outage\n");
    let step_h = plan.season.step_h;
    let floor = plan.kit.best_estimate().floor_wh / plan.kit.best_estimate().capacity_wh;
    out.push_str(&chart::charge(&answer.tally.fan, step_h, columns, floor));
    out.push_str("  # the middle outage   : eight of ten outages lie here\n");
    out.push_str("\nWhere the energy comes from and goes, in a mean outage\n");
    let mean = answer.tally.ledger.scaled(1.0 / answer.tally.trials as f64);
    out.push_str(&account(&mean));
    if let Some(generator) = &scenario.generator {
        out.push_str(&wrap(&fuel(generator, mean[Flow::Wall]), "  ", WIDTH));
    }
    if !answer.effects.is_empty() {
        out.push_str("\nWhat one change would do, on the same weather\n");
        out.push_str(&effects(answer));
        out.push_str(&beyond_the_input(plan, answer));
    }
    if let Some(rarity) = &answer.rarity {
        out.push_str(&rare::text(rarity));
    }
    out.push_str("\nWhat this rests on\n");
    for note in notes {
        let mut wrapped = wrap(note, "    ", WIDTH);
        wrapped.replace_range(2..3, "-");
        out.push_str(&wrapped);
    }
    out
}

/// What fails first and when.
#[must_use]
pub fn failures(plan: &Plan, answer: &OutageAnswer) -> String {
    let tally = &answer.tally;
    let failed = tally.trials - tally.survived;
    if failed == 0 {
        return format!(
            "Nothing vital failed in {} trials; the lowest charge of the middle outage was {} %.",
            thousands(tally.trials),
            count_quantile(&tally.lowest_charge, 0.5).unwrap_or(0)
        );
    }
    let step_h = plan.season.step_h;
    let step = |p: f64| count_quantile(&tally.failure_step, p).unwrap_or(0);
    let clock = (0..24).max_by_key(|&h| (tally.failure_hour[h], 24 - h)).unwrap_or(0);
    let judged = |load: &LoadPlan| load.class == 0 && load.asks.as_deref().is_some_and(|asks| !asks.counts_energy());
    let what = match (plan.loads.iter().any(judged), plan.loads.iter().any(|load| load.class == 0 && !judged(load))) {
        (false, _) => "Something vital goes without",
        (true, false) => "Food is lost",
        (true, true) => "Something vital goes without, or food is lost,",
    };
    let when = begun((step(0.25), step(0.75)), step_h);
    // Four standard errors above what chance alone would give each hour, and half as much again.
    let even = failed as f64 / 24.0;
    let most = f64::from(tally.failure_hour[clock]);
    let often = if most > (even + 4.0 * even.sqrt()).max(1.5 * even) {
        format!(", most often around {clock:02}:00")
    } else {
        String::new()
    };
    format!(
        "{} {what} in {} of {} outages: {when} after the lights went out (the middle one on {}){often}.",
        order_of_going(plan, answer),
        thousands(failed),
        thousands(tally.trials),
        day_of_outage(step(0.5) as f64 * step_h),
    )
}

/// When the failures begin, from the steps of the first and the third quarter of them. What begins in a step begins at some
/// time of it, so one in the first step is never said to begin at once.
fn begun((from, to): (usize, usize), step_h: f64) -> String {
    if from == 0 {
        return format!("three quarters of these failures begin within the first {}", first_steps(to + 1, step_h));
    }
    let (from, to) = (duration(from as f64 * step_h), duration((to + 1) as f64 * step_h));
    let when = if from == to { format!("about {from}") } else { format!("between {from} and {to}") };
    format!("half of these failures begin {when}")
}

/// So many first steps, after "the first": "hour", "15 min", "3 h".
fn first_steps(steps: usize, step_h: f64) -> String {
    let hours = steps as f64 * step_h;
    if (hours - 1.0).abs() < 1e-9 { "hour".into() } else { duration(hours) }
}

/// Which loads go first, second and third where energy runs short, by the hour at which half of their first gaps have
/// come. Loads that go in the same hour go together.
fn order_of_going(plan: &Plan, answer: &OutageAnswer) -> String {
    let step_h = plan.season.step_h;
    let mut going: Vec<(usize, &str)> = plan
        .loads
        .iter()
        .zip(&answer.tally.loads)
        .filter(|(_, tally)| 100 * tally.trials_off >= answer.tally.trials)
        .filter_map(|(load, tally)| Some((count_quantile(&tally.first_off, 0.5)?, load.name.as_str())))
        .collect();
    going.sort_by_key(|(step, _)| *step);
    let mut groups: Vec<(usize, Vec<&str>)> = Vec::new();
    for (step, name) in going {
        match groups.last_mut() {
            Some((last, names)) if *last == step => names.push(name),
            _ => groups.push((step, vec![name])),
        }
    }
    let parts: Vec<String> = groups
        .iter()
        .map(|(step, names)| {
            let when = if *step == 0 {
                format!("within the first {}", first_steps(1, step_h))
            } else {
                format!("around hour {:.0}", *step as f64 * step_h)
            };
            format!("{} ({when})", the_list(names))
        })
        .collect();
    match parts.split_first() {
        None => String::new(),
        Some((first, [])) => format!("First to go when energy runs short: {first}."),
        Some((first, rest)) => format!("First to go when energy runs short: {first}, then {}.", rest.join(", then ")),
    }
}

/// Rows as a table, the first `left` columns set left and the others right.
#[must_use]
pub fn table(rows: &[Vec<String>], left: usize) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |c: usize| rows.iter().filter_map(|r| r.get(c)).map(|cell| cell.chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut out = String::new();
    for row in rows {
        let mut line = String::from(" ");
        for (c, cell) in row.iter().enumerate() {
            let pad = " ".repeat(widths[c] - cell.chars().count());
            line.push(' ');
            if c < left {
                line.push_str(&format!("{cell}{pad} "));
            } else {
                line.push_str(&format!("{pad}{cell} "));
            }
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// Heads of the table of loads.
pub const LOAD_HEADS: [&str; 8] =
    ["load", "priority", "outlet", "asks a day", "gets", "goes without in", "for", "first at"];

fn loads(plan: &Plan, answer: &OutageAnswer) -> String {
    let mut rows = vec![LOAD_HEADS.iter().map(|h| (*h).to_string()).collect::<Vec<_>>()];
    rows.extend(load_rows(plan, answer));
    table(&rows, 3)
}

/// The table of loads, without its head.
#[must_use]
pub fn load_rows(plan: &Plan, answer: &OutageAnswer) -> Vec<Vec<String>> {
    let n = answer.tally.trials as f64;
    let step_h = plan.season.step_h;
    let mut rows = Vec::new();
    let off = |tally: &LoadTally| wilson(tally.trials_off, answer.tally.trials, Z_95);
    let of = common_base(answer.tally.loads.iter().map(off));
    for (load, tally) in plan.loads.iter().zip(&answer.tally.loads) {
        let off = off(tally);
        let share = tally.trials_off as f64 / n;
        let got = if tally.asked_wh > 0.0 { 1.0 - tally.missed_wh / tally.asked_wh } else { 1.0 };
        let first = count_quantile(&tally.first_off, 0.5);
        let hours = if tally.trials_off > 0 { tally.off_h / tally.trials_off as f64 } else { 0.0 };
        let outlet = ["AC", "DC", "USB"][load.outlet];
        rows.push(vec![
            load.name.clone(),
            super::json::PRIORITIES[load.class].to_string(),
            outlet.to_string(),
            // A cooler's day depends on the weather; of it, what was asked for is known.
            energy(if load.asks.is_some() { tally.asked_wh / answer.tally.hours * 24.0 } else { load.day_wh() }),
            // Never told as all of it when something was missed.
            if got < 1.0 { percent(got.min(0.999)) } else { "all".into() },
            format!("{} of {} ({})", thousands(whole(share, of)), thousands(of), range(off, of)),
            if tally.trials_off > 0 { duration(hours) } else { "-".into() },
            match first {
                None => "-".into(),
                Some(0) => format!("within {}", duration(step_h)),
                Some(step) => format!("hour {:.0}", step as f64 * step_h),
            },
        ]);
    }
    rows
}

/// A line of the account: `+` or `-`, what, and how much \[Wh\].
pub type AccountRow = (&'static str, &'static str, f64);

/// The account of a mean outage, what is next to nothing left out, and its turnover \[Wh\].
#[must_use]
pub fn account_rows(mean: &Ledger) -> (Vec<AccountRow>, f64) {
    let into = [
        ("in the battery at the start", mean[Flow::Start]),
        ("sun on the panels could give", mean[Flow::Solar]),
        ("from the generator", mean[Flow::Wall]),
    ];
    let full_wh = mean[Flow::Curtailed] - mean[Flow::Clipped] - mean[Flow::Barred];
    let out = [
        ("to the AC outlet", mean[Flow::ServedAc]),
        ("to the DC outlet", mean[Flow::ServedDc]),
        ("to USB", mean[Flow::ServedUsb]),
        ("lost in the inverter", mean[Flow::AcLoss]),
        ("lost in the DC converter", mean[Flow::DcLoss]),
        ("lost in the USB converter", mean[Flow::UsbLoss]),
        ("lost charging and discharging", mean[Flow::ChargingLoss] + mean[Flow::DischargingLoss]),
        ("lost in the solar input", mean[Flow::SolarInputLoss]),
        ("lost in the wall charger", mean[Flow::WallLoss]),
        ("warming the cells", mean[Flow::Heater]),
        ("drawn by the station itself", mean[Flow::OwnDraw]),
        ("lost by the cells standing", mean[Flow::SelfDischarge]),
        ("sun outside the input's volts, amps or watts", mean[Flow::Clipped]),
        ("sun refused by cells too cold or too hot", mean[Flow::Barred]),
        ("sun left over (battery full or charging slowly)", full_wh),
        ("left in the battery at the end", mean[Flow::End]),
    ];
    let total: f64 = into.iter().map(|(_, wh)| wh).sum();
    let rows = [("+", &into[..]), ("-", &out[..])]
        .into_iter()
        .flat_map(|(sign, parts)| parts.iter().map(move |&(what, wh)| (sign, what, wh)))
        .filter(|(_, _, wh)| *wh >= 0.05)
        .collect();
    (rows, total)
}

fn account(mean: &Ledger) -> String {
    let (rows, total) = account_rows(mean);
    let mut rows: Vec<Vec<String>> = rows
        .into_iter()
        .map(|(sign, what, wh)| {
            vec![
                sign.to_string(),
                what.to_string(),
                energy(wh),
                percent(wh / total.max(1e-9)),
                chart::bar(wh, total, 24),
            ]
        })
        .collect();
    let bar_column = rows.iter().map(|r| r[4].len()).max().unwrap_or(0);
    for row in &mut rows {
        let pad = bar_column - row[4].len();
        row[4].push_str(&" ".repeat(pad));
    }
    table(&rows, 2)
}

/// What the generator burned in a mean outage.
fn fuel(generator: &Generator, wall_wh: f64) -> String {
    let given = format!("In a mean outage the generator gives {}", energy(wall_wh));
    match generator.fuel_per_kwh {
        Some(per_kwh) => format!(
            "{given} and burns {:.1} L for it; at part load it burns more for each kWh than at full load.",
            per_kwh.0 * wall_wh / 1000.0
        ),
        None => format!("{given}."),
    }
}

/// Strings among the changes that make more than the solar input takes.
fn beyond_the_input(plan: &Plan, answer: &OutageAnswer) -> String {
    let limit_w = plan.kit.best_estimate().solar_limit_w;
    let panels_w: f64 = plan.arrays.iter().map(|array| array.rated_w).sum();
    let most = answer
        .effects
        .iter()
        .filter_map(|effect| match effect.change {
            Change::OneMoreString { series, watts, .. } => Some(panels_w + f64::from(series) * watts),
            _ => None,
        })
        .fold(0.0, f64::max);
    if most <= limit_w {
        return String::new();
    }
    let line = format!(
        "With a string more the panels make {most:.0} W in full sun, and the solar input takes {limit_w:.0} W: the rest is lost \
         on bright days, and the figures count that."
    );
    wrap(&line, "  ", WIDTH)
}

fn effects(answer: &OutageAnswer) -> String {
    let mut rows = Vec::new();
    let of = common_base(answer.effects.iter().map(|effect| effect.survival.interval));
    for effect in &answer.effects {
        let verdict = if effect.pair.resolved() {
            format!(
                "{} points ({} to {})",
                points(effect.pair.difference),
                points(effect.pair.interval.low),
                points(effect.pair.interval.high)
            )
        } else {
            "no difference that these trials can tell".to_string()
        };
        rows.push(vec![effect.change.words(), survival_of(&effect.survival, of), verdict]);
    }
    table(&rows, 3)
}
