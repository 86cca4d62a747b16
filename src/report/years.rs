//! The answer of `years` as plain text.

pub mod html;
pub mod table;

use super::outage::{WIDTH, table as lined_up, wrap};
use super::words::{base, percent, range, stopped, thousands, whole};
use crate::ageing::lfp;
use crate::engine::clock::MONTHS;
use crate::engine::plan::{LONGEST_OUTAGE_H, Sky, lengthened_to_h};
use crate::scenario::model::{Chemistry, Scenario};
use crate::scenario::years::{Arrivals, WearModel};
use crate::study::years::arrivals::Length;
use crate::study::years::plan::TYPICAL_CHARGE_RATE_PER_H;
use crate::study::years::tally::Share;
use crate::study::years::{StrategyAnswer, YearsAnswer, YearsPlan};

/// The whole report.
///
/// * `notes` — what is assumed, one sentence each.
#[must_use]
pub fn text(title: &str, answer: &YearsAnswer, notes: &[String]) -> String {
    let mut out = format!("{title}\n\n");
    out.push_str(&wrap(&headline(answer), "", WIDTH));
    if answer.stopped_early() {
        let line = stopped(answer.histories, answer.settings.histories, "histories");
        out.push_str(&wrap(&line, "  ", WIDTH));
    }
    if let Some((first, others)) = answer.strategies.split_first().filter(|(_, others)| !others.is_empty()) {
        out.push_str(&format!("\nAgainst \"{}\", on the same outages\n", first.name));
        for other in others {
            out.push_str(&bullet(&against_first(other)));
        }
    }
    out.push_str(&format!("\nReadiness and wear in {} years\n", answer.settings.years));
    out.push_str(&lined_up(&main_rows(answer), 1));
    out.push_str(&wrap(
        "Ranges are 95 % intervals of chance and of what is not known of kit and climate. * no other one both lasts as \
         long and rides through as many.",
        "  ",
        WIDTH,
    ));
    out.push_str("\nYears until a fifth of the capacity is gone, by law of wear\n");
    out.push_str(&lined_up(&law_rows(answer), 1));
    out.push_str(&wrap(&disagreement(answer), "  ", WIDTH));
    out.push_str("\nEnergy and money in a year\n");
    out.push_str(&lined_up(&money_rows(answer), 1));
    out.push_str("\nReadiness over the year: of 100 outages that begin in a month, ridden through\n");
    out.push_str(&lined_up(&month_rows(answer), 1));
    out.push_str(&wrap(&month_certainty(answer), "  ", WIDTH));
    out.push_str("\nWhat this rests on\n");
    for note in notes {
        out.push_str(&bullet(note));
    }
    out
}

fn bullet(text: &str) -> String {
    let mut wrapped = wrap(text, "    ", WIDTH);
    wrapped.replace_range(2..3, "-");
    wrapped
}

/// "93 of 100 (91-95)".
#[must_use]
pub fn of_hundred(share: &Share) -> String {
    if share.outages == 0 {
        return "no outage".into();
    }
    let of = base(share.interval.low, share.interval.high);
    format!("{} of {} ({})", thousands(whole(share.probability, of)), thousands(of), range(share.interval, of))
}

/// "15.2", or "over 40" where nothing is foretold any more.
#[must_use]
pub fn years_words(years: f64) -> String {
    if YearsAnswer::beyond_telling(years) { format!("over {years:.0}") } else { format!("{years:.1}") }
}

/// The decision, in a sentence that a person can act on.
#[must_use]
pub fn headline(answer: &YearsAnswer) -> String {
    let chosen = &answer.strategies[answer.choice];
    let money = match (chosen.money_a_year, &answer.currency) {
        (Some(money), Some(currency)) if money < 0.0 => {
            format!(" It costs {:.0} {currency} a year at the wall.", -money)
        }
        (Some(money), Some(currency)) => format!(" It saves {money:.0} {currency} a year."),
        _ => String::new(),
    };
    if answer.strategies.len() == 1 {
        return format!(
            "In {} histories of {} years, \"{}\" rides through {} outages and keeps 80 % of its capacity for {} years.{money}",
            thousands(answer.histories),
            answer.settings.years,
            chosen.name,
            of_hundred(&chosen.rode),
            years_words(chosen.years.mean)
        );
    }
    format!(
        "Choose \"{}\": of the {} ways tried in {} histories of {} years it lasts longest (80 % of its capacity for {} \
         years) among those that ride through as many outages as the best, to half an outage in a hundred ({}).{money}",
        chosen.name,
        answer.strategies.len(),
        thousands(answer.histories),
        answer.settings.years,
        years_words(chosen.years.mean),
        of_hundred(&chosen.rode)
    )
}

/// "Kept at 80 %" costs 4 of 100 outages and buys 3.1 years.
#[must_use]
pub fn against_first(strategy: &StrategyAnswer) -> String {
    let (difference, interval) = strategy.more_than_first;
    let count = |d: f64| {
        let of = if d.abs() >= 0.0095 { 100.0 } else { 1000.0 };
        format!("{:.0} of {}", d.abs() * of, thousands(of as u64))
    };
    let ends = |a: f64, b: f64| {
        let (a, b) = (a.abs().min(b.abs()) * 100.0, a.abs().max(b.abs()) * 100.0);
        format!(" ({a:.1} to {b:.1} of 100)")
    };
    let outages = match (interval.low, interval.high) {
        (_, high) if high < 0.0 => format!("costs {} outages{}", count(difference), ends(interval.low, high)),
        (low, _) if low > 0.0 => format!("saves {} outages{}", count(difference), ends(low, interval.high)),
        _ => "changes no outages that these histories can tell".to_string(),
    };
    let years = strategy.years_more_than_first;
    let more = if YearsAnswer::beyond_telling(strategy.years.mean) { "more than " } else { "" };
    let years = match years {
        y if y >= 0.05 => format!("and buys {more}{y:.1} years"),
        y if y <= -0.05 => format!("and costs {:.1} years", -y),
        _ => "and lasts as long".to_string(),
    };
    format!("\"{}\" {outages} {years}.", strategy.name)
}

fn row<const N: usize>(cells: [&str; N]) -> Vec<String> {
    cells.iter().map(|cell| (*cell).to_string()).collect()
}

fn main_rows(answer: &YearsAnswer) -> Vec<Vec<String>> {
    let (first, last) = (format!("first {} years", answer.stretch), format!("last {} years", answer.stretch));
    let mut rows = vec![row(["", "rides through", &first, &last, "years to 80 %", ""])];
    for strategy in &answer.strategies {
        rows.push(vec![
            strategy.name.clone(),
            of_hundred(&strategy.rode),
            of_hundred(&strategy.rode_first),
            of_hundred(&strategy.rode_last),
            years_words(strategy.years.mean),
            if strategy.on_the_frontier { "*".into() } else { " ".into() },
        ]);
    }
    rows
}

fn law_rows(answer: &YearsAnswer) -> Vec<Vec<String>> {
    let mut rows = vec![std::iter::once(String::new()).chain(answer.models.iter().map(|m| (*m).to_string())).collect()];
    for strategy in &answer.strategies {
        let years = strategy.years_by_model.iter().map(|years| years_words(years.mean));
        rows.push(std::iter::once(strategy.name.clone()).chain(years).collect());
    }
    rows
}

/// Where the laws disagree.
#[must_use]
pub fn disagreement(answer: &YearsAnswer) -> String {
    let spread = |strategy: &StrategyAnswer| {
        let years = || strategy.years_by_model.iter().map(|years| years.mean);
        (years().fold(f64::INFINITY, f64::min), years().fold(0.0, f64::max))
    };
    let widest = answer.strategies.iter().max_by(|a, b| {
        let ratio = |s| spread(s).1 / spread(s).0;
        ratio(a).total_cmp(&ratio(b))
    });
    let Some(widest) = widest else { return String::new() };
    let (low, high) = spread(widest);
    if high < 1.3 * low {
        return "The laws agree within a third everywhere.".into();
    }
    format!(
        "The laws disagree most on \"{}\": {} or {} years. Published laws count standing still and come from cells in a \
         laboratory; the trade rule counts cycles alone and speaks of whole stations. Years beyond those simulated go on \
         at the same pace, further than any test of a cell went.",
        widest.name,
        years_words(low),
        years_words(high)
    )
}

fn money_rows(answer: &YearsAnswer) -> Vec<Vec<String>> {
    let currency = answer.currency.clone().unwrap_or_default();
    let saved = format!("{currency} saved");
    let cost = format!("{currency} a kWh, all in");
    let mut rows =
        vec![row(["", "kWh in outages", "kWh on other days", "kWh from the wall", "full cycles", &saved, &cost])];
    for s in &answer.strategies {
        let mut cells = vec![
            s.name.clone(),
            format!("{:.1}", s.outage_wh_a_year / 1000.0),
            format!("{:.1}", s.daily_wh_a_year / 1000.0),
            format!("{:.1}", s.wall_wh_a_year / 1000.0),
            format!("{:.1}", s.full_cycles_a_year),
        ];
        cells.push(s.money_a_year.map_or("-".into(), |money| format!("{money:+.0}")));
        cells.push(s.cost_a_kwh.map_or("-".into(), |cost| format!("{cost:.2}")));
        rows.push(cells);
    }
    if answer.currency.is_none() {
        for cells in &mut rows {
            cells.truncate(5);
        }
    }
    rows
}

fn month_rows(answer: &YearsAnswer) -> Vec<Vec<String>> {
    let heads = MONTHS.iter().map(|month| month.chars().take(3).collect());
    let mut rows = vec![std::iter::once(String::new()).chain(heads).collect::<Vec<String>>()];
    for strategy in &answer.strategies {
        let cell = |share: &Share| {
            if share.outages == 0 { "-".to_string() } else { whole(share.probability, 100).to_string() }
        };
        rows.push(std::iter::once(strategy.name.clone()).chain(strategy.by_month.iter().map(cell)).collect());
    }
    rows
}

/// How sure the shares of the months are: the least sure cell, and how few outages a month had.
fn month_certainty(answer: &YearsAnswer) -> String {
    let cells = || answer.strategies.iter().flat_map(|s| &s.by_month).filter(|share| share.outages > 0);
    let Some(fewest) = cells().map(|share| share.outages).min() else { return String::new() };
    let widest = cells().map(|share| share.interval.width()).fold(0.0, f64::max);
    format!(
        "Of the outages of each month, {} or more; the widest 95 % interval of a cell spans {:.0} of 100.",
        thousands(fewest),
        (100.0 * widest).ceil()
    )
}

/// What the answer rests on.
#[must_use]
pub fn notes(scenario: &Scenario, plan: &YearsPlan, sky: &Sky) -> Vec<String> {
    let mut notes = vec![format!(
        "Outages: {:.1} a year by chance, {} of them with the darkest days of their month; one that begins while another \
         lasts prolongs it; none is longer than {:.0} days.",
        plan.arrivals.mean_a_year(),
        percent(plan.arrivals.in_bad_weather),
        LONGEST_OUTAGE_H / 24.0
    )];
    if let Length::Fixed(hours) = plan.arrivals.length
        && let Some(hours) = lengthened_to_h(hours, plan.clock.step_h)
    {
        notes.push(format!("Each outage is simulated as {} h, in whole steps.", (hours * 100.0).round() / 100.0));
    }
    if let Some(Arrivals::History { .. }) = scenario.years.as_ref().map(|years| &years.outages.arrivals) {
        notes.push(
            "How often and how long is learnt from your own record; how little a short record tells is counted.".into(),
        );
    }
    match sky {
        Sky::Climate(climate) => notes.push(format!("Weather: {}.", climate.name.trim_end_matches('.'))),
        Sky::Record(record, _) => notes.push(format!("Weather: real days from the record {}.", record.name())),
    }
    notes.push(
        match plan.felt {
            WearModel::Worst => {
                "Later outages meet a battery as worn as the harshest law says at that moment: the laws are of single \
                 cells or sayings of the trade, and a rosy one would help nobody."
            }
            WearModel::Published => "Later outages meet a battery as worn as the harshest published law says.",
            WearModel::TradeRule => {
                "Later outages meet a battery as worn as the trade rule says, which is blind to standing still."
            }
        }
        .into(),
    );
    if scenario.station.chemistry == Chemistry::Lfp {
        let kinder =
            |charge: f64| 1.0 - lfp::calendar::loss_per_root_second(charge) / lfp::calendar::loss_per_root_second(1.0);
        notes.push(format!(
            "The trade stores at 80 to 85 % (common practice, no source). The published law agrees that this beats full, \
             by {} to {} of the loss, and disagrees that it is best: half full loses {} less than full.",
            percent(kinder(0.85)),
            percent(kinder(0.80)),
            percent(kinder(0.5))
        ));
    } else {
        notes.push(
            "The published law of wear for NMC cells is from memory of its paper (Schmalstieg et al. 2014): take its years \
             as an order of magnitude."
                .into(),
        );
    }
    if scenario.years.as_ref().is_some_and(|years| years.strategies.iter().any(|s| s.charge_with.is_none())) {
        notes.push(format!(
            "Where nothing else is said, the wall charges {} of the label in an hour (typical; no source).",
            percent(TYPICAL_CHARGE_RATE_PER_H)
        ));
    }
    notes.push(
        "Storm warnings that come to nothing are not simulated; each would keep the battery full for some weeks more. A \
         battery above its resting charge is not drawn down, it loses a little by itself."
            .into(),
    );
    notes.push(
        "Everyday loads run at their mean; a load that asks for more than the battery gives is back on the wall at once."
            .into(),
    );
    notes
}
