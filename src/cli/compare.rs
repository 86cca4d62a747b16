//! `tideover compare`.

use std::path::PathBuf;

use clap::Args;

use super::output::{Bar, OutputArgs};
use super::run::{precision, with_threads};
use super::{Done, Failure, TrialArgs, input};
use tideover::engine::Plan;
use tideover::report::{compare as report, notes};
use tideover::scenario::model::Scenario;
use tideover::scenario::model::Variant;
use tideover::scenario::variant;
use tideover::study::compare::compare;
use tideover::study::fit::overloads;
use tideover::trials::Settings;

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
    #[command(flatten)]
    output: OutputArgs,
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
    let health = |scenario: &Scenario| scenario.loads.iter().any(|load| load.medical);
    let mut medical = vec![health(&loaded.scenario)];
    let mut overloaded = vec![overloads(&loaded.scenario, &loaded.plan)];
    for (variant, key) in &variants {
        let (scenario, plan) = loaded.vary(variant, key)?;
        medical.push(health(&scenario));
        overloaded.push(overloads(&scenario, &plan));
        plans.push((variant.name.clone(), plan));
    }
    let output = args.output.open()?;
    let settings = Settings { seed: args.trials.seed, trials: args.trials.trials, precision };
    let bar = Bar::new(settings.trials, args.trials.quiet);
    let answer = with_threads(args.trials.threads, || compare(&plans, &settings, &bar))?;
    bar.finish();
    let Some(answer) = answer else { return Err(Failure::Interrupted) };
    let facts = report::Facts {
        title: &loaded.scenario.title,
        answer: &answer,
        overloads: &overloaded,
        medical: &medical,
        weather: &notes::weather(&loaded.sky),
    };
    output.give(&report::document(&facts), None, ("comparison", &report::json(&facts)))?;
    Ok(if answer.stopped_early { Done::Partial } else { Done::Answered })
}
