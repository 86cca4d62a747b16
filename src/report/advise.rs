//! When to switch off what.

use serde::Serialize;

use super::document::{Block, Column, Document, Table};
use super::json::Difference;
use super::words::{self, about, difference, percent, survival, thousands};
use crate::engine::{LoadPlan, Plan};
use crate::study::advise::Advice;

/// What came of looking for a rule.
#[derive(Debug, Clone)]
pub enum Advised {
    /// There is nothing that could be switched off, or the run was stopped.
    Nothing,
    /// The best rule that was found.
    Rule(Advice),
}

/// Never told as all of it when something was missed.
fn part(share: f64) -> String {
    if share < 1.0 { words::part(share) } else { percent(share) }
}

fn helps(advice: &Advice) -> bool {
    advice.pair.interval.low > 0.0
}

fn sentences(advised: &Advised) -> String {
    let Advised::Rule(advice) = advised else {
        return "No rule to look for: no useful or spare load could be switched off.".into();
    };
    let pair = &advice.pair;
    let told = difference(pair.difference, pair.interval.low, pair.interval.high);
    if helps(advice) {
        return format!(
            "On {} fresh outages the vital loads ride through {} with the rule below: {told} against the rules as they are. \
             The other loads get {} of what they ask for; before it was {}.",
            thousands(pair.trials),
            survival(&advice.survival),
            part(advice.comfort.1),
            part(advice.comfort.0),
        );
    }
    let needed = pair.trials_needed().filter(|_| pair.difference > 0.0);
    format!(
        "No rule that helps was found: the best of those tried makes no difference for the better that {} fresh outages can \
         tell ({told}).{} Keep the rules as they are.",
        thousands(pair.trials),
        needed.map_or(String::new(), |n| format!(" About {} trials might.", about(n as f64)))
    )
}

/// Adds the rule with what to write into the scenario.
pub fn add(out: &mut Document, plan: &Plan, advised: &Advised) {
    out.head("When to switch off what").say(sentences(advised));
    let Advised::Rule(advice) = advised else { return };
    if !helps(advice) {
        return;
    }
    let rows = plan.loads.iter().zip(&advice.off_below).filter(|(load, _)| load.class > 0).map(|(load, off_below)| {
        let line = match off_below {
            Some(charge) if *charge > 1.0 => "leave it off for as long as the outage lasts".to_string(),
            Some(charge) => format!("off below {:.0} %", charge * 100.0),
            None => "no mark: switching it off earlier saves nothing vital".to_string(),
        };
        [load.name.clone(), line]
    });
    out.add(Block::Table(Table::new([Column::left("load"), Column::left("rule")]).bare().rows(rows)));
    let lines = pasted(plan, advice);
    out.say("To paste at the end of the scenario, as a variant that `tideover compare` holds against what stands there now:");
    out.add(Block::Verbatim(lines));
}

/// The rule as a variant: a load that is always off is left out, one without a mark has a mark of nothing.
fn pasted(plan: &Plan, advice: &Advice) -> String {
    let ruled = || plan.loads.iter().zip(&advice.off_below).filter(|(load, _)| load.class > 0);
    // A name with a dot in it would be taken apart: its place stands for it.
    let key = |load: &LoadPlan| match plan.loads.iter().position(|other| other.name == load.name) {
        Some(place) if load.name.contains('.') => format!("load.{place}"),
        _ => format!("load.{}", load.name),
    };
    let sets: Vec<String> = ruled()
        .filter_map(|(load, off_below)| {
            let mark = match off_below {
                Some(charge) if *charge > 1.0 => return None,
                Some(charge) => 100.0 * charge,
                None if load.off_below > 0.0 => 0.0,
                None => return None,
            };
            Some(format!("{:?} = \"{mark:.0} %\"", key(load) + ".off_below"))
        })
        .collect();
    let without: Vec<String> = ruled()
        .filter(|(_, off_below)| off_below.is_some_and(|charge| charge > 1.0))
        .map(|(load, _)| format!("{:?}", key(load)))
        .collect();
    let mut out = "[[variant]]\nname = \"marks as advised\"\n".to_string();
    if !sets.is_empty() {
        out.push_str(&format!("set = {{ {} }}\n", sets.join(", ")));
    }
    if !without.is_empty() {
        out.push_str(&format!("without = [{}]\n", without.join(", ")));
    }
    out
}

/// The rule for the schema.
#[derive(Debug, Serialize)]
pub struct Json {
    /// `rule`; `none_helps`, where the best that was tried is told from none by no more than chance; `nothing_to_switch_off`.
    pub kind: &'static str,
    /// What to switch off and when; what was tried, where it does not help.
    pub loads: Vec<Load>,
    /// Survival with the rule, on fresh trials.
    pub survival: Option<super::json::Share>,
    /// Against the rules as they are.
    pub difference: Option<Difference>,
    /// Share of what they ask for that useful and spare loads get as the rules are.
    pub others_get_before: Option<f64>,
    /// The same with the rule.
    pub others_get_after: Option<f64>,
    /// The same in words.
    pub text: String,
}

/// When one load is switched off.
#[derive(Debug, Serialize)]
pub struct Load {
    /// Its name.
    pub load: String,
    /// Below this charge, 0 to 1; above 1 for always; null for never.
    pub off_below: Option<f64>,
}

impl Json {
    /// For the schema.
    #[must_use]
    pub fn of(plan: &Plan, advised: &Advised) -> Json {
        let advice = match advised {
            Advised::Rule(advice) => Some(advice),
            Advised::Nothing => None,
        };
        let loads = |advice: &Advice| {
            let shed = plan.loads.iter().zip(&advice.off_below).filter(|(load, _)| load.class > 0);
            shed.map(|(load, off_below)| Load { load: load.name.clone(), off_below: *off_below }).collect()
        };
        Json {
            kind: advice.map_or("nothing_to_switch_off", |a| if helps(a) { "rule" } else { "none_helps" }),
            loads: advice.map(loads).unwrap_or_default(),
            survival: advice.map(|advice| super::json::Share::of(&advice.survival)),
            difference: advice.map(|advice| Difference::of(&advice.pair)),
            others_get_before: advice.map(|advice| advice.comfort.0),
            others_get_after: advice.map(|advice| advice.comfort.1),
            text: sentences(advised),
        }
    }
}
