//! The library of appliances as a list.

use super::outage::{WIDTH, table, wrap};
use crate::scenario::appliances::Appliance;

/// Every appliance with its figures and where they come from.
#[must_use]
pub fn text(appliances: &[&Appliance]) -> String {
    let mut rows = vec![["like", "outlet", "watts", "runs", "from"].map(str::to_string).to_vec()];
    let mut sources: Vec<&str> = Vec::new();
    for appliance in appliances {
        let source = sources.iter().position(|known| *known == appliance.source).unwrap_or_else(|| {
            sources.push(&appliance.source);
            sources.len() - 1
        });
        rows.push(vec![
            format!("\"{}\"", appliance.name),
            appliance.says("outlet").unwrap_or("").to_uppercase(),
            appliance.says("watts").unwrap_or("").to_string(),
            runs(appliance),
            (source + 1).to_string(),
        ]);
    }
    let mut out =
        String::from("Appliances that a load may be like. Your own keys come first; a label or a meter is better.\n\n");
    out.push_str(&table(&rows, 4));
    out.push('\n');
    for (k, source) in sources.iter().enumerate() {
        let mut wrapped = wrap(source, "      ", WIDTH);
        let number = format!("{:>4}", k + 1);
        wrapped.replace_range(..number.len(), &number);
        out.push_str(&wrapped);
    }
    out.push_str("\nIn a scenario, for example:\n\n  [[load]]\n  like = \"");
    out.push_str(appliances.first().map_or("", |first| &first.name));
    out.push_str("\"\n  priority = \"vital\"\n");
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
