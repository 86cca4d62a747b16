//! One answer from the text of a scenario: how likely the vital loads stay on, what fails first, and how sure that is.
//!
//! `cargo run --release --example one_answer [SCENARIO]`

use std::error::Error;

use tideover::engine::Plan;
use tideover::engine::plan::Sky;
use tideover::scenario::{Paint, Source, read, render};
use tideover::trials::run::{Quiet, Settings, run};
use tideover::trials::unknowns::survivals;
use tideover::weather::world;

fn main() -> Result<(), Box<dyn Error>> {
    let name = std::env::args().nth(1).unwrap_or_else(|| "scenarios/winter-storm.toml".to_owned());
    let source = Source::new(&name, &std::fs::read_to_string(&name)?);
    // Every problem of the file comes at once, each with its place.
    let (scenario, ..) = read(&source).map_err(|problems| render(&source, &problems, Paint::Plain))?;
    // The built-in table's climate of the place; files of weather that a scenario names are the caller's to read.
    let site = &scenario.site;
    let climate = world::lookup(site.latitude_deg, site.longitude_deg, site.height.map(|height| height.0))?;
    let plans = [Plan::compile(&scenario, &Sky::Climate(climate), 60)?];

    let settings = Settings { seed: 1, trials: 10_000, precision: None };
    let tallies = run(&plans, &settings, &Quiet);
    let survival = &survivals(&plans, &tallies, &settings, &Quiet)[0];
    let percent = |share: f64| 100.0 * share;
    println!("{}", scenario.title);
    println!(
        "  the vital loads stayed on through {:.0} of 100 ({:.0}-{:.0}, 95 % interval; by chance alone {:.0}-{:.0}), {} trials",
        percent(survival.probability),
        percent(survival.interval.low),
        percent(survival.interval.high),
        percent(survival.chance.low),
        percent(survival.chance.high),
        survival.trials
    );
    for (load, counts) in scenario.loads.iter().zip(&tallies[0].loads) {
        let got = 1.0 - counts.unserved_wh / counts.asked_wh.max(f64::MIN_POSITIVE);
        println!("  {}: gets {:.0} % of the energy it asks for, over all trials", load.name, percent(got));
    }
    Ok(())
}
