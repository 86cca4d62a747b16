//! How a unit arrived.

use jiff::civil::Date;

use crate::report::words::percent;
use crate::scenario::record::Record;

/// Days from one to another, negative where it lies behind.
pub(super) fn days_left(date: Date, today: Date) -> i64 {
    (date.duration_since(today).as_secs_f64() / 86_400.0).round() as i64
}

/// What is to be said of the arrival, one sentence each.
pub(super) fn arrival(record: &Record, today: Date) -> Vec<String> {
    let Some(arrival) = &record.arrival else { return Vec::new() };
    let mut lines = Vec::new();
    if let Some(date) = arrival.date {
        lines.push(format!("Arrived on {date}."));
    }
    lines.push(match &arrival.damage {
        Some(damage) => format!(
            "Damage: {damage}. Photograph it and write to the seller before anything else, and ask how it travels."
        ),
        None => "No damage noted.".into(),
    });
    let missing = arrival.missing();
    if !arrival.packing_list.is_empty() {
        lines.push(if missing.is_empty() {
            "Everything on the packing list was in the box.".into()
        } else {
            format!("Missing from the box: {}.", missing.join(", "))
        });
    }
    if let Some(charge) = arrival.charge {
        let usual = if (0.3..=0.7).contains(&charge.0) { "as usual" } else { "unusual: units ship about half full" };
        lines.push(format!("Charge as delivered: {} ({usual}).", percent(charge.0)));
    }
    let left = |date: Date| days_left(date, today);
    let days = |date: Date| match left(date) {
        -1 => "yesterday".into(),
        n if n < 0 => format!("{} days ago", -n),
        0 => "today".into(),
        1 => "1 day left".into(),
        n => format!("{n} days left"),
    };
    if let Some(date) = arrival.return_by {
        let can = if left(date) < 0 { "could" } else { "can" };
        lines.push(format!("It {can} be sent back until {date} ({}).", days(date)));
    }
    if arrival.packaging_kept == Some(false) {
        lines.push("The packaging was not kept; most returns ask for it.".into());
    }
    if let Some(date) = arrival.warranty_until {
        let ends = if left(date) < 0 { "ended" } else { "ends" };
        lines.push(format!("The warranty {ends} on {date} ({}).", days(date)));
    }
    lines
}
