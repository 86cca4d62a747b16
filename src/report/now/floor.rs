//! The charge below which a station gives nothing, and what going below it costs.

use serde::Serialize;

use crate::ageing::trade;
use crate::report::words::{hundredths, percent, range};
use crate::scenario::model::{Chemistry, Scenario};
use crate::trials::interval::Interval;

/// The charge below which a station gives nothing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Floor {
    /// What the scenario keeps, 0 to 1.
    pub kept: f64,
    /// What is kept instead, where somebody asked for less.
    pub instead: Option<f64>,
    /// Whether the cells are lead-acid.
    pub lead: bool,
    /// Share of the trials that last as long as is judged by, with its 95 % range, were it drawn down to half of what it keeps;
    /// `None` where that makes no better verdict.
    #[serde(skip)]
    pub lower: Option<(f64, Interval)>,
}

impl Floor {
    /// Of a scenario's battery; `None` where it may be drawn empty.
    #[must_use]
    pub fn of(scenario: &Scenario, instead: Option<f64>) -> Option<Floor> {
        let (kept, lead) = (scenario.station.keep_above.0, scenario.station.chemistry == Chemistry::LeadAcid);
        (kept > 0.0).then_some(Floor { kept, instead, lead, lower: None })
    }

    /// That what is kept can be drawn in need, and how: "In need ...".
    #[must_use]
    pub fn in_need(&self) -> String {
        let wears = if self.lead {
            "It wears the cells, and lead-acid ones left so low for days are harmed for good: charge them fully as soon as you can"
        } else {
            "It wears the cells"
        };
        format!(
            "All this ends at the {:.0} % that the battery should keep. In need more can be drawn: ask what is left (now) with a lower floor, {:.0} %, \
             and it says what that costs. {wears}.",
            100.0 * self.kept,
            100.0 * self.half()
        )
    }

    /// What is said of it, where anything is: a display that shows less than what is kept, or a lower floor that was asked for.
    pub(super) fn words(&self, charge: f64) -> Option<String> {
        if let Some(to) = self.instead {
            return Some(format!(
                "Goes on below the {} that this battery should keep: {}.",
                percent(self.kept),
                self.price(to)
            ));
        }
        let to = self.half();
        (charge < self.kept).then(|| {
            format!(
                "{} is below the {} that this battery should keep: nothing is drawn from it until it is \
                 charged. To go on all the same, ask again with a lower floor, {:.0} %. The price: {}.",
                percent(charge),
                percent(self.kept),
                to * 100.0,
                self.price(to)
            )
        })
    }

    /// Half of what the scenario keeps, 0 to 1: the floor that is offered instead.
    #[must_use]
    pub fn half(&self) -> f64 {
        0.5 * self.kept
    }

    /// What a lower floor would come to, where it makes a better verdict.
    ///
    /// * `lasts` — how long that is judged by.
    pub(super) fn would_last(&self, lasts: &str) -> Option<String> {
        let (share, interval) = self.lower?;
        let to = self.half();
        Some(format!(
            "{} of the battery stays in by the plan. Drawn down to {} instead (ask again with that floor), {lasts} in {} of 100 ({}). The \
             price: {}.",
            percent(self.kept),
            percent(to),
            hundredths(share, 0),
            range(interval, 0),
            self.price(to)
        ))
    }

    /// A cycle that goes so deep, over one that ends at the floor, by the rule of thumb for cycles: alike for all kinds of cells.
    fn price(&self, to: f64) -> String {
        let times = trade::LFP.cycles_to_worn_out(1.0 - self.kept) / trade::LFP.cycles_to_worn_out(1.0 - to);
        let lead = if self.lead {
            "; lead-acid cells left empty for days are harmed for good: charge them fully as soon as you can"
        } else {
            ""
        };
        format!(
            "a discharge down to {} wears the battery about as much as {times:.1} down to {} (rule of the trade, no source){lead}",
            percent(to),
            percent(self.kept)
        )
    }
}
