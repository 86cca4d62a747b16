//! The proof of a unit as plain text.

use jiff::civil::Date;

use super::outage::{WIDTH, table, wrap};
use super::words::{duration, energy, percent};
use crate::scenario::model::OutletKind;
use crate::scenario::record::Record;
use crate::scenario::record::model::Meter;
use crate::study::prove::{
    Estimate, Fade, Fit, HEALTHY, PanelAnswer, PanelVerdict, Proof, Told, Unknown, Verdict, healthy,
};

/// An energy with its 95 % half-width: "453 ± 12 Wh".
#[must_use]
pub fn wh(estimate: &Estimate) -> String {
    with(estimate, "Wh")
}

/// A value with its 95 % half-width and a unit, the half-width with two digits at most and rounded upwards.
#[must_use]
pub fn with(estimate: &Estimate, unit: &str) -> String {
    let half = estimate.plus_minus();
    let digits = if half > 0.0 { (1.0 - half.log10().floor()).clamp(0.0, 2.0) as usize } else { 1 };
    let digits = if half >= 9.5 { 0 } else { digits.min(1) };
    let scale = 10_f64.powi(digits as i32);
    format!("{:.digits$} ± {:.digits$} {unit}", estimate.value, (half * scale - 1e-9).ceil() / scale)
}

/// A share with its 95 % half-width in points: "84 ± 3 %".
#[must_use]
pub fn share(estimate: &Estimate) -> String {
    with(&estimate.scaled(100.0), "%")
}

/// A meter with its limits: "plug meter (± 1 % of the reading, last digit 0.1 W)".
#[must_use]
pub fn meter(meter: &Meter) -> String {
    format!("{} (± {} of the reading, last digit {})", meter.name, meter.accuracy, meter.last_digit)
}

/// Name of an outlet for people.
#[must_use]
pub fn outlet(kind: OutletKind) -> &'static str {
    match kind {
        OutletKind::Ac => "AC",
        OutletKind::Dc => "12 V",
        OutletKind::Usb => "USB",
    }
}

/// The verdict in a sentence or two.
#[must_use]
pub fn verdict(record: &Record, proof: &Proof) -> String {
    let (Some((bench, tested)), Some(of_label), Some(verdict), Some(fit)) =
        (&proof.bench, &proof.share, proof.verdict, &proof.fit)
    else {
        return "No discharge was tested, so nothing is proved about the capacity.".into();
    };
    let judged = match verdict {
        Verdict::Healthy => "This unit is healthy: the whole interval lies where healthy units lie or above.",
        Verdict::Weak => "This unit is weak: the whole interval lies below what healthy units give.",
        Verdict::Open => {
            "The tests leave it open: the interval holds both a healthy and a weak unit. A second full discharge, at another \
             load and with a better meter, narrows it."
        }
        Verdict::High => {
            "Check the meter: the whole interval lies above what healthy units give. Try the meter on a load that you know, and \
             look at the clock and the label."
        }
        Verdict::TooGood => {
            "This is more than can be believed: check the meter, the clock and the label before trusting anything here."
        }
    };
    let held = if verdict == Verdict::TooGood {
        format!(" There would be {} in the cells.", wh(&fit.cells()))
    } else {
        String::new()
    };
    let how = if *tested { "" } else { " (AC itself was not tested; typical losses are assumed)" };
    format!(
        "Through the AC outlet a full charge gives {} under a load of {:.0} W{how}: {} of the label's {}. Healthy units give \
         about {:.0} to {:.0} % (common practice, no source{}). {judged}{held}",
        wh(bench),
        fit.bench_load_w(),
        share(of_label),
        energy(record.unit.rated_capacity.0),
        healthy(record.unit.rated_capacity.0).0 * 100.0,
        HEALTHY.1 * 100.0,
        on_a_small_unit(record.unit.rated_capacity.0)
    )
}

/// Why the band of healthy units is wider on a small label; nothing where it is not.
#[must_use]
pub fn on_a_small_unit(rated_wh: f64) -> &'static str {
    if healthy(rated_wh).0 < HEALTHY.0 - 0.005 {
        "; larger units from 80 %, but an inverter's own draw weighs more on a unit this small"
    } else {
        ""
    }
}

/// What a fitted unknown is called, its value, and how well it is told.
#[must_use]
pub fn told(fit: &Fit) -> Vec<(String, String, &'static str)> {
    let mut rows = Vec::new();
    let word = |unknown: &Unknown| match fit.told(unknown) {
        Told::Well => "told by the tests",
        Told::Partly => "partly told",
        Told::NotAtAll => "not told: typical figure",
    };
    let cells = fit.cells();
    rows.push(("in the cells when full".to_string(), wh(&cells), word(&Unknown::Usable)));
    for unknown in &fit.unknowns {
        let Some(estimate) = fit.get(unknown) else { continue };
        let inverse = |e: &Estimate| Estimate { value: 1.0 / e.value, standard: e.standard / (e.value * e.value) };
        let row = match unknown {
            Unknown::Usable => ("at the converters when full".to_string(), wh(&estimate)),
            Unknown::Discharge => ("efficiency out of the cells".into(), share(&estimate)),
            Unknown::Charge => ("efficiency into the cells".into(), share(&estimate)),
            Unknown::Wall => ("efficiency of the wall charger".into(), share(&estimate)),
            Unknown::Draw(kind) => {
                (format!("draw with {} on, nothing plugged in", outlet(*kind)), with(&estimate, "W"))
            }
            Unknown::Factor(kind) => {
                (format!("conversion to {} beyond that", outlet(*kind)), share(&inverse(&estimate)))
            }
            Unknown::Gain(_) => continue,
        };
        rows.push((row.0, row.1, word(unknown)));
    }
    rows
}

/// Pairs of unknowns that the tests can hardly tell apart, in words.
#[must_use]
pub fn entangled(fit: &Fit) -> Vec<String> {
    let name = |unknown: &Unknown| match unknown {
        Unknown::Usable => Some("capacity".to_string()),
        Unknown::Draw(kind) => Some(format!("draw with {} on", outlet(*kind))),
        Unknown::Factor(kind) => Some(format!("conversion to {}", outlet(*kind))),
        Unknown::Charge => Some("charging efficiency".into()),
        Unknown::Discharge | Unknown::Wall | Unknown::Gain(_) => None,
    };
    let mut pairs = Vec::new();
    for a in 0..fit.unknowns.len() {
        for b in a + 1..fit.unknowns.len() {
            // A converter's factor is the inverse of what people call its conversion.
            let turned = |unknown: &Unknown| if matches!(unknown, Unknown::Factor(_)) { -1.0 } else { 1.0 };
            let r = fit.correlation(a, b) * turned(&fit.unknowns[a]) * turned(&fit.unknowns[b]);
            if let (true, Some(first), Some(second)) = (r.abs() > 0.7, name(&fit.unknowns[a]), name(&fit.unknowns[b])) {
                pairs.push(format!("{first} and {second} (correlation {r:+.2})"));
            }
        }
    }
    pairs
}

/// One panel's verdict in words.
#[must_use]
pub fn panel(answer: &PanelAnswer) -> String {
    let judged = match &answer.verdict {
        Ok(PanelVerdict::Good) => "as a good panel does".to_string(),
        Ok(PanelVerdict::Weak) => {
            "less than a good panel gives: look for shade, dirt, a bad plug or a wrong label".into()
        }
        Ok(PanelVerdict::Open) => "too close to tell".into(),
        Err(why) => format!("no verdict: {why}"),
    };
    format!(
        "{} read where {} could be expected (sun {:.0}° high, {:.0} W/m² on the panel, cells at {:.0} °C): {}, {judged}.",
        with(&answer.measured, "W"),
        with(&answer.expected, "W"),
        answer.sun_height_deg,
        answer.plane_w_m2,
        answer.cell_c,
        share(&answer.ratio),
    )
}

/// What is to be said of the arrival, one sentence each.
#[must_use]
pub fn arrival(record: &Record, today: Date) -> Vec<String> {
    let Some(arrival) = &record.arrival else { return Vec::new() };
    let mut lines = Vec::new();
    if let Some(date) = arrival.date {
        lines.push(format!("Arrived on {date}."));
    }
    lines.push(match &arrival.damage {
        Some(damage) => format!("Damage: {damage}. Photograph it and write to the seller before anything else."),
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
    let left = |date: Date| (date.duration_since(today).as_secs_f64() / 86_400.0).round() as i64;
    let days = |date: Date| match left(date) {
        n if n < 0 => format!("{} days ago", -n),
        0 => "today".into(),
        1 => "1 day left".into(),
        n => format!("{n} days left"),
    };
    if let Some(date) = arrival.return_by {
        lines.push(format!("It can be sent back until {date} ({}).", days(date)));
    }
    if arrival.packaging_kept == Some(false) {
        lines.push("The packaging was not kept; most returns ask for it.".into());
    }
    if let Some(date) = arrival.warranty_until {
        lines.push(format!("The warranty ends on {date} ({}).", days(date)));
    }
    lines
}

fn heading(out: &mut String, text: &str) {
    out.push_str(&format!("\n{text}\n"));
}

/// The whole proof.
#[must_use]
pub fn text(record: &Record, proof: &Proof, today: Date) -> String {
    let mut out = format!("{}\n\n", record.title);
    out.push_str(&wrap(&verdict(record, proof), "", WIDTH));
    let arrived = arrival(record, today);
    if !arrived.is_empty() {
        heading(&mut out, "Arrival");
        arrived.iter().for_each(|line| out.push_str(&wrap(line, "  ", WIDTH)));
    }
    if !proof.delivered.is_empty() {
        heading(&mut out, "Discharges (± holds 95 %)");
        let heads = ["test", "outlet", "load", "for", "came out", "from full to empty", "of label"];
        let mut rows = vec![heads.iter().map(|h| (*h).to_string()).collect::<Vec<_>>()];
        for test in &proof.delivered {
            let of_label = test.full.scaled(1.0 / record.unit.rated_capacity.0);
            let unless_idle = |text: String| if test.idle { "idle".to_string() } else { text };
            rows.push(vec![
                test.name.clone(),
                outlet(test.outlet).into(),
                format!("{:.0} W", test.load_w),
                duration(test.hours),
                wh(&test.measured),
                unless_idle(wh(&test.full)),
                unless_idle(share(&of_label)),
            ]);
        }
        out.push_str(&table(&rows, 2));
        for test in proof.delivered.iter().filter(|test| !test.idle) {
            let all = test.full.standard.powi(2);
            let causes: Vec<String> = test
                .causes
                .iter()
                .filter(|(_, u)| u * u > 0.02 * all)
                .map(|(name, u)| format!("{name} {}", percent(u * u / all)))
                .collect();
            out.push_str(&wrap(&format!("doubt in {}: {}", test.name, causes.join(", ")), "  ", WIDTH));
        }
    }
    if let Some(fit) = &proof.fit {
        heading(&mut out, "What all tests together say of the unit");
        let rows: Vec<Vec<String>> =
            told(fit).into_iter().map(|(name, value, word)| vec![name, value, word.to_string()]).collect();
        out.push_str(&table(&rows, 3));
        let pairs = entangled(fit);
        if !pairs.is_empty() {
            let line = format!("Hard to tell apart, so a simulation draws them together: {}.", pairs.join("; "));
            out.push_str(&wrap(&line, "  ", WIDTH));
        }
    }
    if !proof.charged.is_empty() {
        heading(&mut out, "Charging from the wall");
        for test in &proof.charged {
            let round = test.round_trip.as_ref().map_or(String::new(), |round| {
                format!(" Of what goes in at the wall {} comes out at the AC outlet.", share(round))
            });
            let line = format!(
                "{}: a full charge takes {} and {} at {:.0} W.{round}",
                test.name,
                wh(&test.full),
                duration(test.hours_to_full),
                test.watts
            );
            out.push_str(&wrap(&line, "  ", WIDTH));
        }
    }
    if !proof.panels.is_empty() {
        heading(&mut out, "Panels in the sun");
        let mut hours = proof.hours_of_sun.iter();
        for (name, answer) in &proof.panels {
            let line = match answer {
                Ok(answer) => match hours.next() {
                    Some(hours) if hours.is_finite() && *hours < 1e4 => {
                        format!("{name}: {} From empty to full takes {} of such sun.", panel(answer), duration(*hours))
                    }
                    _ => format!("{name}: {}", panel(answer)),
                },
                Err(why) => format!("{name}: no verdict: {why}."),
            };
            out.push_str(&wrap(&line, "  ", WIDTH));
        }
    }
    if !record.outlets.is_empty() {
        heading(&mut out, "Outlets");
        let rows: Vec<Vec<String>> = record
            .outlets
            .iter()
            .map(|test| {
                vec![
                    test.name.clone(),
                    test.load.map_or(String::new(), |load| format!("{load}")),
                    if test.passed { "works".into() } else { "FAILED".to_string() },
                    test.remark.clone().unwrap_or_default(),
                ]
            })
            .collect();
        out.push_str(&table(&rows, 4));
    }
    for (name, remark) in [("Noise", &record.noise), ("Heat", &record.heat)] {
        if let Some(remark) = remark {
            out.push_str(&wrap(&format!("{name}: {remark}"), "  ", WIDTH));
        }
    }
    out
}

/// Several records of one unit.
#[must_use]
pub fn fade(fade: &Fade, rated_wh: f64) -> String {
    let mut out = String::from("\nCapacity over the years, at the AC outlet under the bench load\n");
    let most = fade.points.iter().map(|point| point.bench.high()).fold(rated_wh, f64::max);
    for point in &fade.points {
        let bar = super::chart::bar(point.bench.value, most, 40);
        let cycles = point.cycles.map_or(String::new(), |cycles| format!("{cycles:.0} cycles"));
        out.push_str(format!("  {}  {:>15}  {bar:<40}  {cycles}", point.date, wh(&point.bench)).trim_end());
        out.push('\n');
    }
    out.push_str(&wrap(&fade_words(fade), "  ", WIDTH));
    out
}

/// What a fade means, in words.
#[must_use]
pub fn fade_words(fade: &Fade) -> String {
    let yearly = share(&fade.by_years.relative);
    let mut line = if fade.by_years.slope.high() < 0.0 {
        format!("It changes by {yearly} a year.")
    } else {
        format!("A fade cannot be told from none yet: {yearly} a year.")
    };
    if let Some(by_cycles) = &fade.by_cycles {
        line.push_str(&format!(" Against cycles: {} for every hundred.", share(&by_cycles.relative.scaled(100.0))));
    }
    if let Some(years) = &fade.years_to_four_fifths {
        line.push_str(&format!(
            " If it goes on so, four fifths of the first capacity are left {} after the first record; that is a straight \
             line, not a promise.",
            with(years, "years")
        ));
    }
    line
}
