//! The tests of a unit one by one: tables, the chart of shares, panels.

use super::hazard::may_be_damaged;
use super::{efficiency, share, wh, with};
use crate::math;
use crate::report::document::{Column, Table};
use crate::report::figure::{Axis, Data, Figure, Picture, Ranges};
use crate::report::phrases::outlet;
use crate::report::prove::why_less;
use crate::report::told::Words;
use crate::report::words::{duration, percent};
use crate::scenario::model::OutletKind;
use crate::scenario::record::Record;
use crate::scenario::record::model::OutletTest;
use crate::study::prove::panel::{LEAST_HEIGHT_DEG, NEARLY_FULL};
use crate::study::prove::{Charged, Delivered, Estimate, Fit, NoVerdict, PanelAnswer, PanelVerdict, Proof, healthy};
use crate::visible::begun;

/// Each discharge and all tests together as shares of the label, with the healthy band.
pub(super) fn shares(record: &Record, proof: &Proof, all: &Estimate) -> Figure {
    let (rated_wh, chemistry) = (record.unit.rated_capacity.0, record.unit.chemistry);
    let tested = proof.delivered.iter().filter(|test| !test.idle);
    let mut entries: Vec<(String, Estimate)> =
        tested.map(|test| (test.name.clone(), test.full.scaled(1.0 / rated_wh))).collect();
    entries.push(("all tests together".into(), *all));
    let low = entries.iter().map(|(_, e)| e.low()).fold(0.6, f64::min).max(0.0);
    let high = entries.iter().map(|(_, e)| e.high()).fold(1.0, f64::max).min(1.5);
    let range = ((low * 10.0).floor() * 10.0, (high * 10.0).ceil() * 10.0);
    let (from, to) = healthy(rated_wh, chemistry);
    // All tests together are told of the bench load, whatever each ran at.
    let unlike = |(k, test): (usize, &Delivered)| (!proof.like_the_bench_load(test)).then_some(k);
    let tested = proof.delivered.iter().filter(|test| !test.idle);
    let unbanded: Vec<usize> = tested.enumerate().filter_map(unlike).collect();
    let no_band = match unbanded.len() {
        0 => "",
        1 => " One test has no such band: it ran under another load, or at another outlet.",
        _ => " Some tests have no such band: they ran under another load, or at another outlet.",
    };
    let mut axis = Axis::new("", range, 6);
    axis.marks.iter_mut().for_each(|(_, label)| label.push_str(" %"));
    let column = |name: &str, of: fn(&Estimate) -> f64| {
        Data::numbers(name, "percent", entries.iter().map(|(_, e)| 100.0 * of(e)))
    };
    Figure {
        name: "shares",
        title: "Share of the label with its 95 % interval".into(),
        data: vec![
            Data::names("test", entries.iter().map(|(name, _)| name.clone())),
            column("low", Estimate::low),
            column("share", |estimate| estimate.value),
            column("high", Estimate::high),
        ],
        picture: Picture::Ranges(Ranges { axis, zero: None, band: Some((100.0 * from, 100.0 * to)), unbanded }),
        legend: format!(
            "Share of the label; lines hold 95 %. Shaded: {:.0} to {:.0} %, healthy units at the AC outlet under a load of a \
             fifth of the label in watts (common practice, no source{}).{no_band}",
            from * 100.0,
            to * 100.0,
            why_less(rated_wh, chemistry)
        ),
        quiet: true,
    }
}

pub(super) fn discharges(proof: &Proof, rated_wh: f64) -> Table {
    let row = |test: &Delivered| {
        let unless_idle = |text: String| if test.idle { "idle".to_string() } else { text };
        [
            test.name.clone(),
            outlet(test.outlet).into(),
            format!("{:.0} W", test.load_w),
            duration(test.hours),
            wh(&test.measured),
            unless_idle(wh(&test.full)),
            unless_idle(share(&test.full.scaled(1.0 / rated_wh))),
        ]
    };
    let words = ["test", "outlet"].map(Column::left);
    let numbers = ["load", "for", "came out", "from full to empty", "of label"].map(Column::right);
    Table::new(words.into_iter().chain(numbers)).rows(proof.delivered.iter().map(row))
}

/// Why tests of the AC outlet under a small load are not to be held against what healthy units give; nothing where there is none.
pub(super) fn other_loads(proof: &Proof) -> String {
    let bench_w = proof.fit.as_ref().map_or(0.0, Fit::bench_load_w);
    let small = |test: &&Delivered| {
        test.outlet == OutletKind::Ac && !test.idle && test.load_w < bench_w && !proof.like_the_bench_load(test)
    };
    let told: Vec<String> =
        proof.delivered.iter().filter(small).map(|test| format!("{} ({:.0} W)", test.name, test.load_w)).collect();
    if told.is_empty() {
        return String::new();
    }
    format!(
        "{} ran under a load so small that the inverter's own draw, hour after hour, takes more of the charge: of its label a healthy unit \
         gives less there, and what healthy units give at {bench_w:.0} W says nothing of it.",
        begun(&told.join(" and "))
    )
}

/// What the doubt in each discharge comes from.
pub(super) fn doubts(proof: &Proof) -> Vec<String> {
    let one = |test: &Delivered| {
        let all = math::powi(test.full.standard, 2);
        let causes = test.causes.iter().filter(|(_, u)| u * u > 0.02 * all);
        let causes: Vec<String> = causes.map(|(name, u)| format!("{name} {}", percent(u * u / all))).collect();
        format!("doubt in {}: {}", test.name, causes.join(", "))
    };
    proof.delivered.iter().filter(|test| !test.idle).map(one).collect()
}

pub(super) fn charged(test: &Charged) -> String {
    let round = test.round_trip.as_ref().map_or(String::new(), |round| {
        format!(" Of what goes in at the wall {} comes out at the AC outlet.", efficiency(round))
    });
    format!(
        "{}: a full charge takes {} and {} at {:.0} W.{round}",
        test.name,
        wh(&test.full),
        duration(test.hours_to_full),
        test.watts
    )
}

pub(super) fn panels(record: &Record, proof: &Proof) -> Vec<String> {
    let damaged = may_be_damaged(record, proof);
    let mut hours = proof.hours_of_sun.iter();
    let one = |(name, answer): &(String, Result<PanelAnswer, NoVerdict>)| match answer {
        Ok(answer) => match hours.next() {
            Some(hours) if hours.is_finite() && *hours < 1e4 => {
                format!("{name}: {} From empty to full takes {} of such sun.", panel(answer), duration(*hours))
            }
            _ => format!("{name}: {}", panel(answer)),
        },
        Err(why) => {
            // Nobody is told to test a damaged unit again.
            let told = if damaged { untold(why).0 } else { why.words() };
            format!("{name}: no verdict: {told}.")
        }
    };
    proof.panels.iter().map(one).collect()
}

pub(super) fn outlets(record: &Record) -> Table {
    let row = |test: &OutletTest| {
        [
            test.name.clone(),
            test.load.map_or(String::new(), |load| format!("{load}")),
            if test.passed { "works".into() } else { "FAILED".to_string() },
            test.remark.clone().unwrap_or_default(),
        ]
    };
    // A column that nobody wrote into is left out.
    let holds = [
        true,
        record.outlets.iter().any(|test| test.load.is_some()),
        true,
        record.outlets.iter().any(|test| test.remark.is_some()),
    ];
    let kept = |row: [String; 4]| {
        row.into_iter().zip(holds).filter_map(|(cell, holds)| holds.then_some(cell)).collect::<Vec<_>>()
    };
    let columns = kept(["outlet", "load", "tried", "remark"].map(String::from)).into_iter().map(Column::left);
    Table::new(columns).bare().rows(record.outlets.iter().map(row).map(kept))
}

impl Words for NoVerdict {
    fn words(&self) -> String {
        match untold(self) {
            (why, None) => why,
            (why, Some(when)) => format!("{why}; test again {when}"),
        }
    }
}

/// Why a panel has no verdict, and when another test would have one, where that is all that it takes.
fn untold(why: &NoVerdict) -> (String, Option<String>) {
    let told = match why {
        NoVerdict::Cloudy => {
            return ("under clouds nobody knows what the sun gave".into(), Some("under a blue sky".into()));
        }
        NoVerdict::LowSun(height_deg) => {
            let when = format!("when it is higher than {LEAST_HEIGHT_DEG}°");
            return (format!("the sun stood only {height_deg:.0}° high"), Some(when));
        }
        NoVerdict::NearlyFull(charge) => {
            let full = format!("the station was {:.0} % full and takes less than the panel gives", 100.0 * charge);
            return (full, Some(format!("below {} %", 100.0 * NEARLY_FULL)));
        }
        NoVerdict::Limited(watts) => {
            format!("the solar input stops at {watts:.0} W, so the panel may have more to give")
        }
        NoVerdict::NoSite => "the record has no [site]".into(),
        NoVerdict::Sun(error) => error.to_string(),
        NoVerdict::TooBright(read, most) => format!(
            "the light meter read {read:.0} W/m² where the sun gives {most:.0} W/m² at most; look at the meter, the time \
             and how it was held"
        ),
        NoVerdict::TooDim(read, least) => format!(
            "the light meter read {read:.0} W/m² where a blue sky gives {least:.0} W/m² or more; look at the meter, at shade, at the \
             time and how it was held, or say how the sky looked"
        ),
        NoVerdict::TooStrong(ratio) => format!(
            "that is {:.0} % of what a panel of this label can give, more than any does: check the light meter, the watt meter and \
             the label",
            100.0 * ratio
        ),
        NoVerdict::Clock => "the time zone of the place is not known".into(),
    };
    (told, None)
}

/// One panel's verdict in words.
fn panel(answer: &PanelAnswer) -> String {
    let judged = match &answer.verdict {
        Ok(PanelVerdict::Good) => "as a good panel does".to_string(),
        Ok(PanelVerdict::Weak) => {
            "less than a good panel gives: look for shade, dirt, a bad plug or a wrong label".into()
        }
        Ok(PanelVerdict::Open) => "too close to tell".into(),
        Err(why) => format!("no verdict: {}", why.words()),
    };
    let sun = answer.sun_height_deg.map_or(String::new(), |height| format!("sun {height:.0}° high, "));
    format!(
        "{} read where {} could be expected ({sun}{:.0} W/m² on the panel, cells at {:.0} °C): {}, {judged}.",
        with(&answer.measured, "W"),
        with(&answer.expected, "W"),
        answer.plane_w_m2,
        answer.cell_c,
        share(&answer.ratio),
    )
}
