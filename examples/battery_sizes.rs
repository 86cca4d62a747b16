//! A sweep of battery sizes: the same outages, the same weather and the same random numbers for each, so that differences are the
//! batteries' own.
//!
//! `cargo run --release --example battery_sizes`

use std::error::Error;

use tideover::engine::Plan;
use tideover::engine::plan::Sky;
use tideover::scenario::model::Scenario;
use tideover::scenario::{Paint, Source, read, render};
use tideover::trials::run::{Quiet, Settings, run};
use tideover::trials::unknowns::survivals;
use tideover::weather::world;

const SCENARIO: &str = r#"
title = "A fridge through two July days"

[site]
latitude = 41.9
longitude = -87.7

[outage]
month = "July"
lasts = "2 days"

[station]
rated_capacity = "1000 Wh"

[station.inverter]
rated = "800 W"

[station.solar_input]
limit = "300 W"

[[panel]]
name = "balcony"
rated = "200 W"
tilt = "40°"
facing = "south-west"

[[load]]
name = "fridge"
outlet = "ac"
priority = "vital"
watts = "80 W ± 10 %"
duty = "40 %"
"#;

fn scenario(capacity_wh: u32) -> Result<Scenario, String> {
    let text = SCENARIO.replace("\"1000 Wh\"", &format!("\"{capacity_wh} Wh\""));
    let source = Source::new("sweep.toml", &text);
    read(&source).map(|(scenario, ..)| scenario).map_err(|problems| render(&source, &problems, Paint::Plain))
}

fn main() -> Result<(), Box<dyn Error>> {
    let sizes: Vec<u32> = (1..=8).map(|step| 500 * step).collect();
    let first = scenario(sizes[0])?;
    let climate = world::lookup(first.site.latitude_deg, first.site.longitude_deg, None)?;
    let sky = Sky::Climate(climate);
    let base = Plan::compile(&first, &sky, 60)?;
    // Compiled beside the first, the others share its weather: all are taken through the trials at once.
    let mut plans = vec![base.clone()];
    for &size in &sizes[1..] {
        plans.push(Plan::compile_beside(&scenario(size)?, &sky, 60, (&first, &base))?);
    }

    let settings = Settings { seed: 1, trials: 4_000, precision: None };
    let tallies = run(&plans, &settings, &Quiet);
    println!("battery   stays on in 100 outages (95 % interval), {} trials", settings.trials);
    for (size, survival) in sizes.iter().zip(survivals(&plans, &tallies, &settings, &Quiet)) {
        let [share, low, high] =
            [survival.probability, survival.interval.low, survival.interval.high].map(|share| 100.0 * share);
        println!("{size:>4} Wh   {share:>3.0} ({low:.0}-{high:.0})");
    }
    Ok(())
}
