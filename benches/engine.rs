//! Speed of the main job, in trials an element: weather and energy balance of a kit with four loads.
//! Reported as time a trial-hour by the line after each figure.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use std::hint::black_box;

use tideover::engine::plan::Sky;
use tideover::engine::{Luck, Plan, Silent, Workspace};
use tideover::scenario::{Source, read};
use tideover::trials::run::{Quiet, Settings, run};
use tideover::weather::world;

const SCENARIO: &str = include_str!("../scenarios/winter-storm.toml");
const DAYS: u64 = 14;

fn plan() -> Plan {
    let text = SCENARIO.replace("\"4 days\"", "\"14 days\"");
    let (scenario, _, _) = read(&Source::new("bench.toml", text)).expect("a sound scenario");
    let climate = world::lookup(scenario.site.latitude_deg, scenario.site.longitude_deg, None).expect("land");
    Plan::compile(&scenario, &Sky::Climate(climate), 60).expect("a plan")
}

fn benches(c: &mut Criterion) {
    let plan = plan();
    let hours = DAYS * 24;
    let mut group = c.benchmark_group("trial-hours");
    group.throughput(Throughput::Elements(hours));
    let mut workspace = Workspace::new();
    let mut trial = 0;
    group.bench_function("weather alone", |b| {
        b.iter(|| {
            trial += 1;
            black_box(workspace.begin(&plan.season, Luck { seed: 1, trial }))
        });
    });
    let luck = Luck { seed: 1, trial: 0 };
    let history = workspace.begin(&plan.season, luck);
    group.bench_function("balance alone", |b| {
        b.iter(|| black_box(workspace.run(&plan, luck, &history, &mut Silent)));
    });
    group.bench_function("one trial", |b| {
        b.iter(|| {
            trial += 1;
            let luck = Luck { seed: 1, trial };
            let history = workspace.begin(&plan.season, luck);
            black_box(workspace.run(&plan, luck, &history, &mut Silent))
        });
    });
    group.sample_size(10);
    group.throughput(Throughput::Elements(10_000 * hours));
    group.bench_function("10,000 trials of 14 days", |b| {
        let settings = Settings { seed: 1, trials: 10_000, precision: None };
        b.iter(|| {
            let tallies = run(std::slice::from_ref(&plan), &settings, &Quiet);
            assert_eq!(tallies[0].trials, 10_000);
            tallies
        });
    });
    group.finish();
    c.bench_function("reading a scenario", |b| {
        let source = Source::new("bench.toml", SCENARIO);
        b.iter(|| read(black_box(&source)).expect("a sound scenario"));
    });
}

criterion_group!(all, benches);
criterion_main!(all);
