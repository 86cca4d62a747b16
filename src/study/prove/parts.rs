//! What of a unit is weak: the cells, the inverter, or the meter that says so.

use super::fit::Fit;
use super::uncertainty::Estimate;
use super::unknowns::{Unknown, typical};
use super::{LEAD_IN_FIVE_HOURS, Verdict, more_than_the_label};
use crate::engine::kit_plan::UNPROVED_SHARE;
use crate::scenario::model::{Chemistry, OutletKind};
use crate::scenario::record::Record;
use crate::units::Uncertain;

/// How a part of a unit does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PartVerdict {
    /// All of the interval lies where that of sound units does.
    Sound,
    /// All of it lies beyond.
    Weak,
    /// It holds both.
    Open,
    /// The tests do not tell it: a typical figure stands in.
    NotTold,
    /// It cannot be: a meter, a clock or the label is wrong.
    Doubtful,
}

/// A verdict on cells, inverter and meter each.
#[derive(Debug, Clone, PartialEq)]
pub struct Parts {
    /// What the cells hold of the label, and the least that sound ones hold.
    pub cells: (Estimate, f64, PartVerdict),
    /// What the inverter draws with nothing plugged in \[W\], the most that a sound one does; `None` where AC was not tested.
    pub draw: Option<(Estimate, f64, PartVerdict)>,
    /// What goes in for each watt-hour out beyond that, a fan under the bench load counted, and the most that a sound one takes.
    pub factor: Option<(Estimate, f64, PartVerdict)>,
    /// Whether the meter is believed.
    pub meter: MeterVerdict,
}

impl Parts {
    /// Whether cells and inverter are as sound ones are.
    pub(super) fn all_sound(&self) -> bool {
        let draw = self.draw.as_ref().is_some_and(|(_, _, draw)| *draw == PartVerdict::Sound);
        let factor =
            self.factor.as_ref().is_some_and(|part| matches!(part.2, PartVerdict::Sound | PartVerdict::NotTold));
        self.cells.2 == PartVerdict::Sound && draw && factor
    }
}

/// What is to be said of the meter.
#[derive(Debug, Clone, PartialEq)]
pub enum MeterVerdict {
    /// Nothing speaks against it; it was not checked.
    Limits,
    /// It was held against a known load: its error as a share of its reading, for each meter checked.
    Checked(Vec<(String, Estimate)>),
    /// The tests contradict each other by this factor.
    Contradicted(f64),
    /// More came out than can be.
    Doubtful,
}

/// The least that sound cells hold of the label: the lower end of what is assumed of a station nobody has tested.
const LEAST_OF_LABEL: f64 = UNPROVED_SHARE.0 - UNPROVED_SHARE.1;

fn at_least(value: &Estimate, least: f64) -> PartVerdict {
    match () {
        () if least <= value.low() => PartVerdict::Sound,
        () if value.high() < least => PartVerdict::Weak,
        () => PartVerdict::Open,
    }
}

/// Judges a figure of the inverter by the upper end of what is typical; less than the lower end is doubted.
fn at_most(fit: &Fit, unknown: &Unknown, value: &Estimate, (least, most): (f64, f64)) -> PartVerdict {
    match () {
        () if fit.told(unknown) == super::Told::NotAtAll => PartVerdict::NotTold,
        () if matches!(unknown, Unknown::Draw(_)) && value.value < least => PartVerdict::Doubtful,
        () if value.high() <= most => PartVerdict::Sound,
        () if most < value.low() => PartVerdict::Weak,
        () => PartVerdict::Open,
    }
}

/// Judges the parts.
#[must_use]
pub(super) fn parts(record: &Record, fit: &Fit, verdict: Verdict) -> Parts {
    let rated_wh = record.unit.rated_capacity.0;
    let cells = fit.cells();
    let of_label = cells.scaled(1.0 / rated_wh);
    let hurried = if record.unit.chemistry == Chemistry::LeadAcid { LEAD_IN_FIVE_HOURS.0 } else { 1.0 };
    let least = LEAST_OF_LABEL * hurried;
    let judged = match more_than_the_label(&cells, &Uncertain::exact(record.unit.rated_capacity)) {
        Some(_) => PartVerdict::Doubtful,
        None => at_least(&of_label, least),
    };
    let ac = OutletKind::Ac;
    let figure = |unknown: Unknown, value: Option<Estimate>| {
        let (mean, half) = typical(&unknown, record)?;
        let value = value?;
        Some((value, mean + half, at_most(fit, &unknown, &value, (mean - half, mean + half))))
    };
    let gains = || {
        let checked = |name: &String| record.checks.iter().any(|check| check.meter.name == *name);
        fit.unknowns
            .iter()
            .filter_map(|unknown| if let Unknown::Gain(name) = unknown { Some(name) } else { None })
            .filter(|name| checked(name))
            .filter_map(|name| Some((name.clone(), fit.get(&Unknown::Gain(name.clone()))?)))
            .collect::<Vec<_>>()
    };
    let meter = match (verdict, fit.widened) {
        (Verdict::TooGood | Verdict::High, _) => MeterVerdict::Doubtful,
        (_, Some(factor)) => MeterVerdict::Contradicted(factor),
        _ if super::no_draw(fit).is_some() => MeterVerdict::Doubtful,
        _ => match gains() {
            none if none.is_empty() => MeterVerdict::Limits,
            checked => MeterVerdict::Checked(checked),
        },
    };
    Parts {
        cells: (of_label, least, judged),
        draw: figure(Unknown::Draw(ac), fit.get(&Unknown::Draw(ac))),
        factor: figure(Unknown::Factor(ac), fit.factor_with_step()),
        meter,
    }
}
