//! `tideover compare`.

use std::path::PathBuf;

use clap::Args;

use super::output::{Bar, PendingFile, print};
use super::run::{precision, with_threads};
use super::{Done, Failure, TrialArgs, input};
use crate::engine::Plan;
use crate::report::headline::overload_lines;
use crate::report::outage::WIDTH;
use crate::report::{compare as report, json};
use crate::scenario::model::{Scenario, Variant};
use crate::scenario::variant;
use crate::study::compare::compare;
use crate::study::fit::overloads;
use crate::trials::Settings;

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub struct CompareArgs {
    /// The scenario file
    scenario: PathBuf,
    /// A variant beside those of the file: KEY=VALUE, several joined by ";", like "panel.0.count=2; panel.0.wiring=parallel"
    #[arg(long = "set", value_name = "KEY=VALUE")]
    sets: Vec<String>,
    #[command(flatten)]
    trials: TrialArgs,
    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
    /// Also write the answer as one self-contained page
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Write the answer to a file instead of printing it
    #[arg(long, short, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Runs the command.
pub fn main(args: &CompareArgs) -> Result<Done, Failure> {
    let precision = precision(args.trials.precision.as_deref())?;
    let loaded = input::load(&args.scenario, 60)?;
    let mut variants: Vec<(Variant, String)> =
        loaded.scenario.variants.iter().enumerate().map(|(k, v)| (v.clone(), format!("variant.{k}"))).collect();
    for words in &args.sets {
        let variant =
            variant::from_words(words).map_err(|why| Failure::Input(format!("error: --set {words:?}: {why}")))?;
        variants.push((variant, String::new()));
    }
    if variants.is_empty() {
        return Err(Failure::Input(format!(
            "error: {} has no [[variant]] to compare with\n  = help: add one with its name and what differs, or use --set \
             KEY=VALUE, like --set \"station.charge_to=90 %\"",
            args.scenario.display()
        )));
    }
    let mut plans: Vec<(String, Plan)> = vec![("as it is".to_string(), loaded.plan.clone())];
    let mut overloaded = overloads_of("as it is", &loaded.scenario, &loaded.plan);
    for (variant, key) in &variants {
        let (scenario, plan) = loaded.vary(variant, key)?;
        overloaded.push_str(&overloads_of(&variant.name, &scenario, &plan));
        plans.push((variant.name.clone(), plan));
    }
    let out = args.out.as_deref().map(PendingFile::open).transpose()?;
    let html = args.html.as_deref().map(PendingFile::open).transpose()?;
    let settings = Settings { seed: args.trials.seed, trials: args.trials.trials, precision };
    let bar = Bar::new(settings.trials, args.trials.quiet);
    let answer = with_threads(args.trials.threads, || compare(&plans, &settings, &bar))?;
    bar.finish();
    let Some(answer) = answer else { return Err(Failure::Interrupted) };
    let title = &loaded.scenario.title;
    let text = if args.json {
        json::to_text(&report::json(title, &answer))
    } else {
        format!("{overloaded}{}", report::text(title, &answer))
    };
    match out {
        Some(file) => file.commit(&text)?,
        None => print(&text)?,
    }
    if let Some(file) = html {
        file.commit(&report::html(title, &answer))?;
    }
    Ok(if answer.stopped_early { Done::Partial } else { Done::Answered })
}

/// What a variant's answer does not count: outlets that switch off.
fn overloads_of(name: &str, scenario: &Scenario, plan: &Plan) -> String {
    let lines = overload_lines(&overloads(scenario, plan), WIDTH);
    if lines.is_empty() { lines } else { format!("\"{name}\"\n{lines}") }
}
