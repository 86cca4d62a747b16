//! Do 95 % intervals hold the truth 95 % of the time? Records generated from known kits through noisy meters.

use super::*;
use crate::kit::inverter::TYPICAL_QUADRATIC;
use crate::random::{Purpose, Stream};
use crate::scenario::model::Chemistry;
use crate::scenario::record::model::{CapacityTest, Meter, Metered, Run, Unit, WallTest};
use crate::units::{Fraction, Hours, Uncertain, WattHours, Watts};

const Z: f64 = 1.959963984540054;
const RECORDS: u64 = 2000;

/// How a meter's error lies within its limits.
#[derive(Clone, Copy)]
enum MeterError {
    /// Anywhere between them, and never outside.
    Even,
    /// Normal, with the standard deviation that the even one has.
    Normal,
}

/// A kit known to the last digit.
#[derive(Clone, Copy)]
struct Truth {
    usable: f64,
    discharge: f64,
    charge: f64,
    wall: f64,
    draw: f64,
    factor: f64,
}

const QUADRATIC: f64 = TYPICAL_QUADRATIC / 600.0;

/// A kit of the kind that the typical figures describe.
fn drawn(rng: &mut Stream) -> Truth {
    let mut normal = |mean: f64, half: f64| mean + half / Z * rng.normal();
    let mut draw = -1.0;
    while draw <= 0.5 {
        draw = normal(15.0, 12.0);
    }
    Truth {
        usable: 480.0 + 140.0 * (normal(0.5, 0.4)).clamp(0.0, 1.0),
        discharge: normal(0.97, 0.02),
        charge: normal(0.97, 0.02),
        wall: normal(0.91, 0.05),
        draw,
        factor: normal(1.07, 0.06),
    }
}

/// What an owner would write down of it.
fn record(truth: &Truth, error: MeterError, rng: &mut Stream) -> Record {
    let even = |rng: &mut Stream, half: f64| half * (2.0 * rng.uniform() - 1.0);
    let accuracy = 0.02;
    let gain = match error {
        MeterError::Even => even(rng, accuracy),
        MeterError::Normal => accuracy / 3.0_f64.sqrt() * rng.normal(),
    };
    let minute = 1.0 / 60.0;
    let display = 0.05;
    let counter = 4.0; // half-width of the counter's own steps [Wh], 95 %
    let run = |energy: f64, hours: f64, from: f64, to: f64, partial: bool, rng: &mut Stream| {
        // The meter reads E (1 + g) in first order of what the model calls E (1 - g) of the reading.
        let read = energy / (1.0 - gain) + counter / Z * rng.normal();
        let shown = |value: f64, off: bool| Uncertain::new(Fraction(value), if off { display } else { 0.0 });
        Run {
            start: None,
            lasted: Hours(hours + even(rng, minute) - even(rng, minute)),
            clock: Hours(minute),
            metered: Metered::Counted(Uncertain::new(WattHours(read), counter)),
            meter: Meter { name: "m".into(), accuracy: Fraction(accuracy), last_digit: Watts(0.1) },
            charge: (shown(from, false), shown(to, partial)),
            ambient: None,
        }
    };
    let mut capacities = Vec::new();
    for (load, left, partial) in [(120.0, 0.0, false), (40.0, 0.0, false), (90.0, 0.4, true)] {
        let shown_left = left;
        let left = if partial { left + display / Z * rng.normal() } else { left };
        let full = truth.usable * (1.0 - left) + truth.usable * (1.0 - shown_left) * fit::REPEAT * rng.normal();
        let hours = full / (load * (truth.factor + QUADRATIC * load) + truth.draw);
        let run = run(load * hours, hours, 1.0, shown_left, partial, rng);
        capacities.push(CapacityTest { name: format!("{load} W"), outlet: OutletKind::Ac, run });
    }
    let into = truth.usable * (1.0 + fit::REPEAT * rng.normal()) / (truth.discharge * truth.charge);
    let hours = 4.0;
    let wall = run((into + 3.0 * hours) / truth.wall, hours, 0.0, 1.0, false, rng);
    Record {
        title: "synthetic".into(),
        unit: Unit {
            rated_capacity: WattHours(600.0),
            chemistry: Chemistry::Lfp,
            inverter: Some(Watts(600.0)),
            solar_limit: None,
            serial_number: None,
            cycles: None,
        },
        site: None,
        arrival: None,
        walls: vec![WallTest { name: "wall".into(), run: wall }],
        capacities,
        solars: Vec::new(),
        outlets: Vec::new(),
        noise: None,
        heat: None,
    }
}

fn bench_wh(truth: &Truth) -> f64 {
    truth.usable / (truth.factor + QUADRATIC * 120.0 + truth.draw / 120.0)
}

/// Share of the records whose interval holds the truth, for each quantity.
fn coverage(kit: impl Fn(&mut Stream) -> Truth, error: MeterError, seed: u64) -> Vec<(&'static str, f64)> {
    let names = [
        "usable energy",
        "cells",
        "draw",
        "factor",
        "wall charger",
        "round trip in cells",
        "bench",
        "first test alone",
    ];
    let mut held = [0_u32; 8];
    let ac = OutletKind::Ac;
    for number in 0..RECORDS {
        let mut rng = Stream::new(seed, number, Purpose::Station);
        let truth = kit(&mut rng);
        let proof = prove(&record(&truth, error, &mut rng)).unwrap();
        let fit = proof.fit.as_ref().unwrap();
        let charged = fit.propagated(|x| x(&Unknown::Charge) * x(&Unknown::Discharge) * x(&Unknown::Wall));
        let pairs = [
            (fit.get(&Unknown::Usable).unwrap(), truth.usable),
            (fit.cells(), truth.usable / truth.discharge),
            (fit.get(&Unknown::Draw(ac)).unwrap(), truth.draw),
            (fit.get(&Unknown::Factor(ac)).unwrap(), truth.factor),
            (fit.get(&Unknown::Wall).unwrap(), truth.wall),
            (charged, truth.charge * truth.discharge * truth.wall),
            (proof.bench.unwrap().0, bench_wh(&truth)),
            (proof.delivered[0].full, bench_wh(&truth)),
        ];
        for (count, (estimate, truth)) in held.iter_mut().zip(pairs) {
            *count += u32::from((estimate.value - truth).abs() <= estimate.plus_minus());
        }
    }
    names.into_iter().zip(held.map(|count| f64::from(count) / RECORDS as f64)).collect()
}

/// 95 ± 2 %, which is 4.1 standard errors of 2,000 records: a false alarm once in 25,000 for each quantity.
#[test]
fn intervals_hold_the_truth_nineteen_times_in_twenty() {
    for error in [MeterError::Even, MeterError::Normal] {
        for (name, share) in coverage(drawn, error, 20270314) {
            println!("{name}: {:.1} %", share * 100.0);
            assert!((0.93..=0.97).contains(&share), "{name}: {share}");
        }
    }
}

/// One odd unit, whose draw and conversion are far from typical: what the tests tell must not lean on what is typical.
/// (The capacity of the cells does lean on it, because AC tests alone cannot tell conversion from capacity.)
///
/// Where a meter's limits are most of the doubt and its error lies evenly between them, 1.96 standard deviations reach
/// beyond the limits (1.96/√3 = 1.13) and the interval holds more than 95 %: on the cautious side.
#[test]
fn what_the_tests_tell_holds_for_an_odd_unit_too() {
    let odd =
        |_: &mut Stream| Truth { usable: 560.0, discharge: 0.96, charge: 0.98, wall: 0.93, draw: 5.5, factor: 1.10 };
    for (error, most) in [(MeterError::Normal, 0.97), (MeterError::Even, 1.0)] {
        for (name, share) in coverage(odd, error, 7) {
            if ["draw", "bench", "first test alone"].contains(&name) {
                println!("{name}: {:.1} %", share * 100.0);
                assert!((0.93..=most).contains(&share), "{name}: {share}");
            }
        }
    }
}
