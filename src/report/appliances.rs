//! The library of appliances as a list.

use super::document::{Block, Column, Document, Table};
use crate::scenario::appliances::Appliance;

/// Every appliance with its figures and where they come from.
#[must_use]
pub fn document(appliances: &[&Appliance]) -> Document {
    let mut sources: Vec<&str> = Vec::new();
    let mut rows = Vec::new();
    for appliance in appliances {
        let source = sources.iter().position(|known| *known == appliance.source).unwrap_or_else(|| {
            sources.push(&appliance.source);
            sources.len() - 1
        });
        rows.push([
            format!("\"{}\"", appliance.name),
            appliance.says("outlet").unwrap_or("").to_uppercase(),
            appliance.says("watts").unwrap_or("").to_string(),
            runs(appliance),
            (source + 1).to_string(),
        ]);
    }
    let mut out = Document::new("Appliances that a load may be like");
    out.lead("Your own keys come first; a label or a meter is better.");
    let columns = ["like", "outlet", "watts", "runs"].map(Column::left);
    out.head("Appliances").table(Table::new(columns.into_iter().chain([Column::right("from")])).rows(rows));
    out.head("Where the figures come from").steps(sources);
    out.head("In a scenario, for example").add(Block::Verbatim(format!(
        "[[load]]\nlike = \"{}\"\npriority = \"vital\"",
        appliances.first().map_or("", |first| &first.name)
    )));
    out
}

/// When it runs, in a few words.
fn runs(appliance: &Appliance) -> String {
    let hours = appliance.hours();
    if let Some(label) = appliance.says("label") {
        label.to_string()
    } else if let Some(energy) = appliance.says("energy_a_day") {
        format!("{energy} a day")
    } else {
        match (appliance.says("duty"), hours.is_empty()) {
            (Some(duty), true) => format!("{duty} of the time"),
            (Some(duty), false) => format!("{duty} of {hours}"),
            (None, true) => "all day".into(),
            (None, false) => hours,
        }
    }
}
