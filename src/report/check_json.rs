//! The answer of `check` as JSON.

use serde::Serialize;

use super::judged::Judged;
use super::place::Whereabouts;
use super::runtimes;
use super::told::Told;
use crate::engine::Plan;
use crate::kit::{Judgement, Weight};
use crate::scenario::{Problem, Scenario};
use crate::study::endurance::{Endurance, Runtime};

/// The answer.
#[derive(Debug, Serialize)]
pub struct Check {
    title: String,
    place: Told<Whereabouts>,
    /// Whether the kit must not be put together like this.
    stops: bool,
    judgements: Vec<Judged>,
    sums: Sums,
    remarks: Vec<Remark>,
}

/// Plain sums by best estimates, without any sun.
#[derive(Debug, Serialize)]
struct Sums {
    cells_wh: f64,
    cells_c: f64,
    usable_wh: f64,
    asked_a_day_wh: f64,
    drawn_a_day_wh: f64,
    everything: Lasts,
    vital: Lasts,
    loads: Vec<Alone>,
}

/// How long a full battery runs something, by the hour at which it begins.
#[derive(Debug, Serialize)]
struct Lasts {
    shortest_h: f64,
    shortest_from: String,
    longest_h: f64,
    longest_from: String,
    /// How long at least where an AC outlet of which nobody has told goes off under so small a load; null where it will not.
    may_end_h: Option<f64>,
}

impl Lasts {
    fn of(plan: &Plan, runtime: &Runtime, may_end_h: Option<f64>) -> Lasts {
        let Runtime { shortest_h, shortest_from, longest_h, longest_from } = *runtime;
        let [shortest_from, longest_from] = [shortest_from, longest_from].map(|step| runtimes::clock(plan, step));
        Lasts { shortest_h, shortest_from, longest_h, longest_from, may_end_h }
    }
}

#[derive(Debug, Serialize)]
struct Alone {
    name: String,
    #[serde(flatten)]
    lasts: Lasts,
}

/// What the reader of the file remarks.
#[derive(Debug, Serialize)]
struct Remark {
    level: &'static str,
    key: String,
    text: String,
    found: String,
    allowed: String,
    remedy: String,
}

impl Check {
    /// Of an opened scenario.
    ///
    /// * `cells_c` — the temperature behind the sums \[°C\]; `remarks` — of the reader.
    #[must_use]
    pub fn of(
        scenario: &Scenario,
        plan: &Plan,
        (sums, cells_c): (&Endurance, f64),
        judgements: &[Judgement],
        remarks: &[Problem],
    ) -> Check {
        let loads = plan.loads.iter().zip(sums.each.iter().zip(&sums.may_end_h.each));
        let loads =
            loads.map(|(load, (lasts, ends))| Alone { name: load.name.clone(), lasts: Lasts::of(plan, lasts, *ends) });
        let remark = |problem: &Problem| Remark {
            level: problem.level.word(),
            key: problem.key.clone(),
            text: problem.title(),
            found: problem.found.clone(),
            allowed: problem.allowed.clone(),
            remedy: problem.help.clone().unwrap_or_default(),
        };
        Check {
            title: scenario.title.clone(),
            place: Whereabouts::of(&scenario.site).into(),
            stops: judgements.iter().any(|judged| judged.weight == Weight::Stops),
            judgements: judgements.iter().map(|judged| Judged::of(judged, scenario)).collect(),
            sums: Sums {
                cells_wh: sums.cells_wh,
                cells_c,
                usable_wh: sums.usable_wh,
                asked_a_day_wh: sums.asked_a_day_wh,
                drawn_a_day_wh: sums.drawn_a_day_wh,
                everything: Lasts::of(plan, &sums.all, sums.may_end_h.all),
                vital: Lasts::of(plan, &sums.vital, sums.may_end_h.vital),
                loads: loads.collect(),
            },
            remarks: remarks.iter().map(remark).collect(),
        }
    }
}
