//! What its owner does next with a unit that was proved.

use serde::Serialize;

use super::arrival::days_left;
use super::hazard::may_be_damaged;
use super::parts::claim;
use super::{Facts, narrows};
use crate::report::told::{Told, Words};
use crate::study::prove::Verdict;

/// Something to do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Next {
    /// Leave a unit alone that may be damaged.
    StopUsing,
    /// Send the claim to the seller.
    Claim {
        /// The last day on which it can be sent back, YYYY-MM-DD; null where nobody told it.
        return_by: Option<String>,
        /// Days left until then, negative once it is past; null where nobody told it.
        days_left: Option<i64>,
    },
    /// Ask the seller how a damaged unit travels.
    AskHowItTravels,
    /// Check meter, clock and label.
    CheckTheMeter,
    /// Test again, or more: the verdict says what.
    Test,
    /// Plan with what it gives.
    PlanWithIt,
    /// Take the proof into a scenario.
    TakeItIntoAScenario,
}

impl Words for Next {
    fn words(&self) -> String {
        match self {
            Next::StopUsing => "Stop using it and test it no more: the caution above says how to keep it.".into(),
            Next::Claim { return_by: Some(date), days_left: Some(left) } if *left < 0 => format!(
                "It could be sent back until {date}. Send the seller the words of the claim all the same, with photographs: the warranty and \
                 local law may give you longer."
            ),
            Next::Claim { return_by: Some(date), .. } => {
                format!("Send the seller the words of the claim, with photographs, by {date}.")
            }
            Next::Claim { .. } => "Send the seller the words of the claim, with photographs.".into(),
            Next::AskHowItTravels => "Ask the seller how it travels before you send it: not every carrier takes a damaged battery.".into(),
            Next::CheckTheMeter => "Check meter, clock and label before you trust or show this.".into(),
            Next::Test => "Test it further before you decide.".into(),
            Next::PlanWithIt => {
                "Plan with what it gives, not with its label; what can run on the 12 V or USB outlet spares the inverter's draw.".into()
            }
            Next::TakeItIntoAScenario => {
                "Keep this page, and name the record in your scenario (proved, under [station]): answers then rest on these tests. Test it \
                 again the same way in a year to see it fade."
                    .into()
            }
        }
    }
}

/// What to do, the most urgent first.
#[must_use]
pub fn next(facts: &Facts) -> Vec<Told<Next>> {
    let &Facts { record, proof, remarks, today, .. } = facts;
    let (damaged, claimed) = (may_be_damaged(record, proof), claim(record, proof, remarks).is_some());
    let mut all = Vec::new();
    if damaged {
        all.push(Next::StopUsing);
    }
    let doubted = matches!(proof.verdict, Some(Verdict::High | Verdict::TooGood));
    if doubted {
        all.push(Next::CheckTheMeter);
    }
    if claimed {
        let return_by = record.arrival.as_ref().and_then(|arrival| arrival.return_by);
        let left = return_by.map(|date| days_left(date, today));
        all.push(Next::Claim { return_by: return_by.map(|date| date.to_string()), days_left: left });
        if damaged {
            all.push(Next::AskHowItTravels);
        }
    }
    if !damaged {
        match proof.verdict {
            Some(Verdict::Open) | None => all.push(Next::Test),
            Some(Verdict::Weak) if !claimed => all.push(Next::Test),
            Some(Verdict::Low) => all.push(Next::PlanWithIt),
            _ => {}
        }
        if !doubted && !claimed && proof.kit.is_some() {
            all.push(Next::TakeItIntoAScenario);
        }
    }
    // What to test is said with it.
    let told = |fact: Next| {
        let more = match &fact {
            Next::Test if proof.verdict == Some(Verdict::Open) => format!(" {}", narrows(record, proof)),
            Next::Test => " A full discharge at the AC outlet tells most (tideover prove plan).".into(),
            _ => String::new(),
        };
        Told { text: fact.words() + &more, fact }
    };
    all.into_iter().map(told).collect()
}
