//! Speed of the main jobs, as processor time a trial-hour.
//!
//! `cargo bench --bench engine`. The second line of each figure is the time for one hour of one trial (of one cell, for
//! the grid), summed over threads, so that two threads that lose nothing to each other show the figure of one.

#[allow(dead_code, reason = "not every bench uses all of it")]
mod common;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::Duration;

use common::cpu::CpuTime;
use common::{FOUR_LOADS, compile};
use tideover::engine::{Plan, Silent, TrialSeed, Workspace};
use tideover::scenario::{Source, read};
use tideover::study::size::size;
use tideover::trials::run::{Quiet, Settings, run};

const STORM: &str = include_str!("../scenarios/winter-storm.toml");
const HOURS: u64 = 14 * 24;

fn settings(trials: u64) -> Settings {
    Settings { seed: 1, trials, precision: None }
}

/// In thousands, because processor time is told in steps of a few milliseconds.
fn one_by_one(c: &mut Criterion<CpuTime>, plan: &Plan) {
    let mut group = c.benchmark_group("one after another");
    group.sample_size(10).throughput(Throughput::Elements(1000 * HOURS));
    let mut workspace = Workspace::new();
    let rng = |trial| TrialSeed { seed: 1, trial };
    group.bench_function("weather alone", |b| {
        b.iter(|| {
            for trial in 0..1000 {
                black_box(workspace.begin(&plan.season, rng(trial)));
            }
        });
    });
    let history = workspace.begin(&plan.season, rng(0));
    group.bench_function("balance alone", |b| {
        b.iter(|| {
            for trial in 0..1000 {
                black_box(workspace.run(plan, rng(trial), &history, &mut Silent));
            }
        });
    });
    group.bench_function("one trial", |b| {
        b.iter(|| {
            for trial in 0..1000 {
                let history = workspace.begin(&plan.season, rng(trial));
                black_box(workspace.run(plan, rng(trial), &history, &mut Silent));
            }
        });
    });
    group.finish();
}

fn thousands(c: &mut Criterion<CpuTime>, name: &str, plan: &Plan) {
    let mut group = c.benchmark_group(name);
    group.sample_size(10).throughput(Throughput::Elements(10_000 * HOURS));
    for threads in [1, 2] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        group.bench_function(format!("10,000 trials of 14 days, threads: {threads}"), |b| {
            b.iter(|| pool.install(|| run(std::slice::from_ref(plan), &settings(10_000), &Quiet)));
        });
    }
    group.finish();
}

fn benches(c: &mut Criterion<CpuTime>) {
    let (_, four_loads) = compile(FOUR_LOADS);
    let (_, with_a_cooler) = compile(include_str!("with-a-cooler.toml"));
    let (_, storm) = compile(&STORM.replace("\"4 days\"", "\"14 days\""));
    one_by_one(c, &four_loads);
    thousands(c, "four loads", &four_loads);
    thousands(c, "a fridge-freezer and three loads", &with_a_cooler);
    thousands(c, "a storm, varying loads, a rule", &storm);

    let (scenario, plan) = compile(STORM);
    let mut group = c.benchmark_group("grid");
    group.sample_size(10).throughput(Throughput::Elements(1_000 * 96 * 400));
    group.bench_function("20 batteries by 20 panels, 1,000 trials of 4 days", |b| {
        b.iter(|| size(&scenario, &plan, None, &settings(1_000), &Quiet).expect("an answer"));
    });
    group.finish();

    let mut group = c.benchmark_group("file");
    group.sample_size(10).bench_function("reading a scenario, 200 times", |b| {
        let source = Source::new("bench.toml", STORM);
        b.iter(|| (0..200).for_each(|_| drop(black_box(read(black_box(&source)).expect("a sound scenario")))));
    });
    group.finish();
}

criterion_group! {
    name = all;
    config = Criterion::default()
        .with_measurement(CpuTime)
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(2));
    targets = benches
}
criterion_main!(all);
