//! What the answer of `years` rests on.

use serde::Serialize;

use super::felt;
use crate::ageing::lfp;
use crate::engine::plan::{LONGEST_OUTAGE_H, Sky, lengthened_to_h};
use crate::report::notes;
use crate::report::told::Words;
use crate::report::words::percent;
use crate::scenario::model::{Chemistry, Scenario};
use crate::scenario::years::{Arrivals, StoredAt};
use crate::study::years::YearsPlan;
use crate::study::years::arrivals::Length;
use crate::study::years::plan::{TYPICAL_CHARGE_RATE_PER_H, TYPICAL_WALL_EFFICIENCY};

/// Something that the answer rests on. Shares go from 0 to 1.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "the words below say it; units at the ends of the names")]
pub enum Note {
    /// How often the power goes.
    Outages { a_year: f64, in_the_darkest_days: f64, longest_days: f64 },
    /// Cuts that come back stand for the outages.
    Cuts,
    /// An outage's length in whole steps.
    LengthenedTo { hours_h: f64 },
    /// How often and how long comes from a record.
    OwnRecord,
    /// Where the weather comes from.
    Weather { place: String, source: String },
    /// Weather of a record's days.
    Record { record: String },
    /// How worn a battery later outages meet.
    Felt { law: &'static str },
    /// Panels are out and unshaded all the time.
    PanelsUnshaded,
    /// Where the station is kept between outages, and what that does to its cells \[°C\].
    KeptAt { stands_c: Option<f64> },
    /// At which charge a battery keeps best.
    Storing { kinder_at_85: f64, kinder_at_80: f64, kinder_at_50: f64 },
    /// A law that is known from memory.
    LawFromMemory,
    /// How fast the wall charges.
    WallRate { share_an_hour: f64 },
    /// What a charger loses of which nothing is told.
    WallLoss { passes_on: f64 },
    /// Storm warnings that come to nothing.
    NoFalseWarnings,
    /// How everyday loads run.
    EverydayLoads,
    /// What the notes of every answer about a kit end with.
    #[serde(untagged)]
    OfEveryAnswer(notes::Note),
}

impl Words for Note {
    fn words(&self) -> String {
        match self {
            Note::Outages { a_year, in_the_darkest_days, longest_days } => format!(
                "Outages: {a_year:.1} a year by chance, {} of them with the darkest days of their month; one that begins while \
                 another lasts prolongs it; none is longer than {longest_days:.0} days.",
                percent(*in_the_darkest_days)
            ),
            Note::Cuts => {
                "The cuts come back week after week, all year and for all years; outages by chance are not followed beside \
                 them. Each week counts as ridden through where nothing vital was missed in it. Every cut's discharge and the charge after it \
                 are counted as cycles like any other; the mains charges with what the wall charger and the mains' limit give, and is paid \
                 at the price outside cheap hours."
                    .into()
            }
            Note::LengthenedTo { hours_h } => {
                format!("Each outage is simulated as {} h, in whole steps.", (hours_h * 100.0).round() / 100.0)
            }
            Note::OwnRecord => {
                "How often and how long is learnt from your own record; how little a short record tells is counted.".into()
            }
            Note::Weather { place, source } => {
                format!("Weather at {}: {}.", place.trim_end_matches('.'), source.trim_end_matches('.')).replace(": .", ".")
            }
            Note::Record { record } => format!("Weather: real days from the record {record}."),
            Note::Felt { law } => match *law {
                "worst" => {
                    "Later outages meet a battery as worn as the harshest law says at that moment: the laws are of single \
                     cells or sayings of the trade, and a rosy one would help nobody."
                }
                "published" => "Later outages meet a battery as worn as the harshest published law says.",
                _ => "Later outages meet a battery as worn as the trade rule says, which is blind to standing still.",
            }
            .into(),
            Note::PanelsUnshaded => "Panels are taken to stand out unshaded and swept of snow on every day of all years; if that does not \
                hold, less is ridden through than this says."
                .into(),
            Note::KeptAt { stands_c: Some(c) } => format!(
                "Between outages the station is taken to be kept at {c:.0} °C. Warmer cells wear faster: in a hot store it lasts \
                 less long than this says."
            ),
            Note::KeptAt { stands_c: None } => "Between outages the station is taken to stand outdoors, its cells as warm as the air of \
                the day; under a hot roof or in the sun it lasts less long than this says."
                .into(),
            Note::Storing { kinder_at_85, kinder_at_80, kinder_at_50 } => format!(
                "The trade stores at 80 to 85 % (common practice, no source). The published law agrees that this beats full, \
                 by {} to {} of the loss, and disagrees that it is best: half full loses {} less than full.",
                percent(*kinder_at_85),
                percent(*kinder_at_80),
                percent(*kinder_at_50)
            ),
            Note::LawFromMemory => {
                "The published law of wear for NMC cells is from memory of its paper (Schmalstieg et al. 2014): take its years \
                 as an order of magnitude."
                    .into()
            }
            Note::WallRate { share_an_hour } => format!(
                "Where nothing else is said, the wall charges {} of the label in an hour (typical; no source).",
                percent(*share_an_hour)
            ),
            Note::WallLoss { passes_on } => format!(
                "Nothing is said of the wall charger: it passes on {} of what it takes from the plug (typical; no source).",
                percent(*passes_on)
            ),
            Note::NoFalseWarnings => {
                "Storm warnings that come to nothing are not simulated; each would keep the battery full for some weeks more. A \
                 battery above its resting charge is not drawn down, it loses a little by itself."
                    .into()
            }
            Note::EverydayLoads => {
                "Everyday loads run at their mean; a load that asks for more than the battery gives is back on the wall at once."
                    .into()
            }
            Note::OfEveryAnswer(note) => note.words(),
        }
    }
}

/// What the answer rests on.
#[must_use]
pub fn notes(scenario: &Scenario, plan: &YearsPlan, sky: &Sky) -> Vec<Note> {
    let mut notes = vec![if plan.cuts {
        Note::Cuts
    } else {
        Note::Outages {
            a_year: plan.arrivals.mean_a_year(),
            in_the_darkest_days: plan.arrivals.in_bad_weather,
            longest_days: LONGEST_OUTAGE_H / 24.0,
        }
    }];
    if let (false, Length::Fixed(hours)) = (plan.cuts, plan.arrivals.length)
        && let Some(hours_h) = lengthened_to_h(hours, plan.clock.step_h)
    {
        notes.push(Note::LengthenedTo { hours_h });
    }
    let years = scenario.years.as_ref();
    if let Some(Arrivals::History { .. }) = years.map(|years| &years.outages.arrivals) {
        notes.push(Note::OwnRecord);
    }
    notes.push(match sky {
        Sky::Climate(climate) => Note::Weather { place: climate.name.clone(), source: climate.source.clone() },
        Sky::Record(record, _) => Note::Record { record: record.name().to_string() },
    });
    if scenario.panels.iter().any(|panel| panel.shade.is_empty()) {
        notes.push(Note::PanelsUnshaded);
    }
    let kept = plan.strategies.iter().map(|strategy| match strategy.rules.stored_at {
        StoredAt::Steady(cells) => Some(cells.0),
        StoredAt::Outside => None,
    });
    for stands_c in kept {
        let note = Note::KeptAt { stands_c };
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
    notes.push(Note::Felt { law: felt(plan.felt) });
    notes.push(if scenario.station.chemistry == Chemistry::Lfp {
        let loss = lfp::calendar::loss_per_root_second;
        let [kinder_at_85, kinder_at_80, kinder_at_50] = [0.85, 0.80, 0.5].map(|charge| 1.0 - loss(charge) / loss(1.0));
        Note::Storing { kinder_at_85, kinder_at_80, kinder_at_50 }
    } else {
        Note::LawFromMemory
    });
    if years.is_some_and(|years| years.strategies.iter().any(|s| s.charge_with.is_none())) {
        notes.push(Note::WallRate { share_an_hour: TYPICAL_CHARGE_RATE_PER_H });
    }
    if scenario.station.wall_charger.is_none() {
        notes.push(Note::WallLoss { passes_on: TYPICAL_WALL_EFFICIENCY.0 });
    }
    notes.extend([Note::NoFalseWarnings, Note::EverydayLoads]);
    notes.extend(notes::closing(scenario).map(Note::OfEveryAnswer));
    notes
}
