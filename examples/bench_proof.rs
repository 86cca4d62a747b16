//! From bench tests to an outage: what two discharges say of a second-hand unit, and what an outage makes of that, against what
//! its label promises.
//!
//! `cargo run --release --example bench_proof`

use std::error::Error;

use tideover::engine::Plan;
use tideover::engine::plan::Sky;
use tideover::scenario::model::Proved;
use tideover::scenario::record::FigureKind;
use tideover::scenario::{Paint, Source, read, record, render};
use tideover::study::prove::prove;
use tideover::trials::run::{Quiet, Settings, run};
use tideover::trials::unknowns::survivals;
use tideover::weather::world;

const RECORD: &str = r#"
title = "Second-hand unit"

[unit]
rated_capacity = "1000 Wh"
chemistry = "LFP"
inverter = "1000 W"

[[meter]]
name = "plug meter"
accuracy = "2 %"

[[capacity]]
name = "heater"
outlet = "ac"
from = "100 %"
to = "0 %"
start = "2027-05-11T14:00"
stop = "2027-05-11T17:40"
energy = "742 Wh"
meter = "plug meter"
ambient = "20 °C"

[[capacity]]
name = "lamp"
outlet = "ac"
from = "100 %"
to = "0 %"
start = "2027-05-13T07:00"
stop = "2027-05-13T22:20"
energy = "640 Wh"
meter = "plug meter"
ambient = "20 °C"
"#;

const SCENARIO: &str = r#"
title = "A furnace fan through a February night and morning"

[site]
latitude = 41.9
longitude = -87.7

[outage]
month = "February"
lasts = "13 h"
starts_charged = "90 % ± 5 %"

[station]
rated_capacity = "1000 Wh"

[station.inverter]
rated = "1000 W"

[[load]]
name = "furnace fan"
outlet = "ac"
priority = "vital"
watts = "95 W ± 10 %"
duty = "45 %"
"#;

fn main() -> Result<(), Box<dyn Error>> {
    let source = Source::new("record.toml", RECORD);
    let no_logs = |name: &str| Err(format!("there is no log {name}"));
    let (record, ..) = record::read(&source, &no_logs).map_err(|problems| render(&source, &problems, Paint::Plain))?;
    let kit = prove(&record)?.kit.ok_or("the record holds no discharge")?;
    println!("What the tests say (one standard uncertainty)");
    for (place, figure) in kit.figures.iter().enumerate() {
        let unit = match figure.kind {
            FigureKind::UsableEnergy => "Wh",
            FigureKind::Draw(_) => "W",
            _ => "Wh out of each Wh in",
        };
        println!("  {}: {:.2} ± {:.2} {unit}", figure.kind.name(), figure.value, kit.standard(place));
    }

    let source = Source::new("scenario.toml", SCENARIO);
    let (label, ..) = read(&source).map_err(|problems| render(&source, &problems, Paint::Plain))?;
    let mut tested = label.clone();
    tested.station.proved = Some(Proved { file: "record.toml".to_owned(), kit: Some(kit) });
    let climate = world::lookup(label.site.latitude_deg, label.site.longitude_deg, None)?;
    let settings = Settings { seed: 1, trials: 4_000, precision: None };
    for (name, scenario) in [("by its label", &label), ("by its tests", &tested)] {
        let plans = [Plan::compile(scenario, &Sky::Climate(climate.clone()), 60)?];
        let tallies = run(&plans, &settings, &Quiet);
        let survival = &survivals(&plans, &tallies, &settings, &Quiet)[0];
        let [share, low, high] =
            [survival.probability, survival.interval.low, survival.interval.high].map(|share| 100.0 * share);
        println!("{name}: the fan runs through {share:.0} of 100 ({low:.0}-{high:.0}), {} trials", survival.trials);
    }
    Ok(())
}
