//! The answer of `run` as plain text.

use super::words::{
    base, day_of_outage, duration, duration_adjective, energy, percent, points, range, survival, the_list, thousands,
    whole,
};
use super::{chart, food};
use crate::engine::clock::MONTHS;
use crate::engine::{Ledger, LoadPlan, Plan};
use crate::scenario::model::{Begins, FoodRule, Generator, Lasts, Load, Pattern, Priority, Scenario};
use crate::study::outage::OutageAnswer;
use crate::trials::interval::{Z_95, wilson};
use crate::trials::tally::count_quantile;

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
    if answer.stopped_early {
        let line = format!(
            "Stopped before its time: this is the answer of {} of {} trials.",
            thousands(answer.tally.trials),
            thousands(answer.settings.trials)
        );
        out.push_str(&wrap(&line, "  ", WIDTH));
    }
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
        out.push_str(&wrap(&fuel(generator, mean.wall_wh), "  ", WIDTH));
    }
    if !answer.effects.is_empty() {
        out.push_str("\nWhat one change would do, on the same weather\n");
        out.push_str(&effects(answer));
    }
    out.push_str("\nWhat this rests on\n");
    for note in notes {
        let mut wrapped = wrap(note, "    ", WIDTH);
        wrapped.replace_range(2..3, "-");
        out.push_str(&wrapped);
    }
    out
}

/// The sentence that a neighbour understands.
#[must_use]
pub fn headline(scenario: &Scenario, answer: &OutageAnswer) -> String {
    let storm = if scenario.outage.begins_in_a_storm { " that begin in a storm" } else { "" };
    let when = match scenario.outage.begins {
        Begins::Month(month) => MONTHS[usize::from(month.clamp(1, 12)) - 1].to_string(),
        Begins::At { year, month, day, .. } => format!("{day} {} {year}", MONTHS[usize::from(month.clamp(1, 12)) - 1]),
    };
    let outages = match (scenario.outage.lasts, scenario.outage.begins) {
        (Lasts::Fixed(hours), Begins::Month(_)) => format!("{} {when} outages", duration_adjective(hours.0)),
        (Lasts::Fixed(hours), Begins::At { .. }) => format!("{} outages from {when}", duration_adjective(hours.0)),
        (Lasts::LogNormal { median, p95 }, _) => format!(
            "{when} outages of varying length (half over by {}, 19 of 20 by {})",
            duration(median.0),
            duration(p95.0)
        ),
    };
    let outages = match answer.lengthened_to_h {
        Some(hours) => format!("{outages} (simulated as {} h, in whole steps)", (hours * 100.0).round() / 100.0),
        None => outages,
    };
    let allowance = if scenario.outage.allow_unmet.0 > 0.0 {
        format!(" but for at most {} missed", energy(scenario.outage.allow_unmet.0))
    } else {
        String::new()
    };
    let medical = if answer.medical {
        let of = base(answer.survival.interval.low, answer.survival.interval.high);
        let low = (answer.survival.interval.low * of as f64 + 1e-9).floor() as u64;
        format!(" A person's health hangs on it, so count on no more than {} of {}.", thousands(low), thousands(of))
    } else {
        String::new()
    };
    format!(
        "In {} simulated {outages}{storm} here, {}.{medical}",
        thousands(answer.tally.trials),
        what_held(scenario, &survival(&answer.survival), &allowance)
    )
}

/// What had to hold, loads that stay on and food that keeps, and in how many outages it did.
fn what_held(scenario: &Scenario, share: &str, allowance: &str) -> String {
    let judged = |load: &Load| matches!(&load.pattern, Pattern::Cooler(c) if c.food != FoodRule::NotJudged);
    let names = |cooler: bool| -> Vec<&str> {
        let vital = scenario.loads.iter().filter(|load| load.priority == Priority::Vital);
        vital.filter(|load| judged(load) == cooler).map(|load| load.name.as_str()).collect()
    };
    let (on, cold) = (names(false), names(true));
    match (on.is_empty(), cold.is_empty()) {
        (_, true) => format!("{} stayed on through {share}{allowance}", the_list(&on)),
        (true, false) => format!("the food in {} kept through {share}", the_list(&cold)),
        (false, false) => {
            let (on, cold) = (the_list(&on), the_list(&cold));
            let allowance = if allowance.is_empty() { String::new() } else { format!(" ({})", allowance.trim()) };
            format!("{on} stayed on{allowance} and the food in {cold} kept through {share}")
        }
    }
}

/// What makes the range as wide as it is.
#[must_use]
pub fn doubt(answer: &OutageAnswer) -> String {
    let s = &answer.survival;
    let of = base(s.interval.low, s.interval.high);
    let few = answer.record_years.map(|years| format!("the {} of the record, which are few", years_told(years)));
    if s.shares.is_empty() {
        return match few {
            None => format!(
                "The range is the 95 % interval of chance in {} trials, its lower end lowered for what the weather model may be off by.",
                thousands(s.trials)
            ),
            Some(few) => format!(
                "The range is a 95 % interval. Chance in {} trials alone would leave {}; the rest is {few}.",
                thousands(s.trials),
                range(s.chance, of)
            ),
        };
    }
    let mut order: Vec<usize> = (0..s.shares.len()).filter(|&k| s.shares[k] >= 0.05).collect();
    order.sort_by(|&a, &b| s.shares[b].total_cmp(&s.shares[a]));
    let parts: Vec<String> =
        order.iter().take(3).map(|&k| format!("{} ({})", answer.unknowns[k], percent(s.shares[k]))).collect();
    format!(
        "The range is a 95 % interval. Chance in {} trials alone would leave {}; the rest is what nobody has \
         measured yet: {}{}.",
        thousands(s.trials),
        range(s.chance, of),
        parts.join(", "),
        few.map_or(String::new(), |few| format!("; and {few}"))
    )
}

/// "1 year", "14.6 years".
fn years_told(years: f64) -> String {
    let told = (years * 10.0).round() / 10.0;
    if told == 1.0 { "1 year".into() } else { format!("{told} years") }
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
    let hour = |p: f64| count_quantile(&tally.failure_step, p).unwrap_or(0) as f64 * step_h;
    let clock = (0..24).max_by_key(|&h| (tally.failure_hour[h], 24 - h)).unwrap_or(0);
    let judged = |load: &LoadPlan| load.class == 0 && load.asks.as_deref().is_some_and(|asks| !asks.counts_energy());
    let what = match (plan.loads.iter().any(judged), plan.loads.iter().any(|load| load.class == 0 && !judged(load))) {
        (false, _) => "Something vital goes without",
        (true, false) => "Food is lost",
        (true, true) => "Something vital goes without, or food is lost,",
    };
    format!(
        "{} {what} in {} of {} outages: half of these failures begin between {} and {} after the \
         lights went out (the middle one on {}), most often around {clock:02}:00.",
        order_of_going(plan, answer),
        thousands(failed),
        thousands(tally.trials),
        duration(hour(0.25)),
        duration(hour(0.75)),
        day_of_outage(hour(0.5)),
    )
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
        .map(|(step, names)| format!("{} (around hour {:.0})", the_list(names), *step as f64 * step_h))
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
    for (load, tally) in plan.loads.iter().zip(&answer.tally.loads) {
        let off = wilson(tally.trials_off, answer.tally.trials, Z_95);
        let share = tally.trials_off as f64 / n;
        let of = base(off.low, off.high);
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
            first.map_or("-".into(), |s| format!("hour {:.0}", s as f64 * step_h)),
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
        ("in the battery at the start", mean.start_wh),
        ("sun on the panels could give", mean.solar_wh),
        ("from the generator", mean.wall_wh),
    ];
    let full_wh = mean.curtailed_wh - mean.clipped_wh - mean.barred_wh;
    let out = [
        ("to the AC outlet", mean.served_wh[0]),
        ("to the DC outlet", mean.served_wh[1]),
        ("to USB", mean.served_wh[2]),
        ("lost in the inverter", mean.outlet_loss_wh[0]),
        ("lost in the DC converter", mean.outlet_loss_wh[1]),
        ("lost in the USB converter", mean.outlet_loss_wh[2]),
        ("lost charging and discharging", mean.charging_loss_wh + mean.discharging_loss_wh),
        ("lost in the solar input", mean.solar_input_loss_wh),
        ("lost in the wall charger", mean.wall_loss_wh),
        ("warming the cells", mean.heater_wh),
        ("drawn by the station itself", mean.own_draw_wh),
        ("lost by the cells standing", mean.self_discharge_wh),
        ("sun outside the input's volts, amps or watts", mean.clipped_wh),
        ("sun refused by cells too cold or too hot", mean.barred_wh),
        ("sun left over (battery full or charging slowly)", full_wh),
        ("left in the battery at the end", mean.end_wh),
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

fn effects(answer: &OutageAnswer) -> String {
    let mut rows = Vec::new();
    for effect in &answer.effects {
        let chance =
            wilson((effect.probability * answer.tally.trials as f64).round() as u64, answer.tally.trials, Z_95);
        let of = base(chance.low, chance.high);
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
        rows.push(vec![
            effect.change.words(),
            format!("{} of {}", thousands(whole(effect.probability, of)), thousands(of)),
            verdict,
        ]);
    }
    table(&rows, 3)
}
