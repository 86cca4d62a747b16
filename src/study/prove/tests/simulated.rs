//! Units known to the last digit, and what an owner with noisy meters would write down of them.

use super::super::*;
use crate::kit::inverter::TYPICAL_QUADRATIC;
use crate::random::Stream;
use crate::scenario::model::Chemistry;
use crate::scenario::record::model::{CapacityTest, Meter, MeterCheck, Metered, Run, Unit, WallTest};
use crate::units::{Fraction, Hours, Uncertain, WattHours, Watts};

const RATED_WH: f64 = 600.0;
const INVERTER_W: f64 = 600.0;
pub const Z: f64 = 1.959963984540054;

/// What inverters and cells are like.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum World {
    /// Losses of idle draw, load and its square alone, and the same energy at any rate.
    Linear,
    /// A fan of 2 to 6 W comes on somewhere between 5 and 35 % of the rating, and cells lose 2 to 9 % of their energy for each C.
    Fan,
    /// As the typical figures say, fans and rates among them.
    Stated,
}

/// How a meter's error lies within its limits.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum MeterError {
    /// Anywhere between them, and never outside.
    Even,
    /// Normal, with the standard deviation that the even one has.
    Normal,
}

/// What an owner does.
#[derive(Clone, Copy, Debug)]
pub enum Do {
    /// A discharge from full to empty \[W\].
    Empty(f64),
    /// A night with nothing plugged in \[h\].
    Idle(f64),
    /// A full charge through a meter at the wall.
    Wall,
    /// A discharge to this share by the display \[W\].
    Partly(f64, f64),
    /// The meter held against a load known so well, as a share, 95 %.
    Check(f64),
}

/// The whole plan and fewer runs.
pub const PLANS: [(&str, &[Do]); 7] = [
    ("one discharge", &[Do::Empty(120.0)]),
    ("two loads", &[Do::Empty(120.0), Do::Empty(50.0)]),
    ("two loads and the wall", &[Do::Empty(120.0), Do::Empty(50.0), Do::Wall]),
    ("two loads, the wall and a night idle", &[Do::Empty(120.0), Do::Empty(50.0), Do::Wall, Do::Idle(12.0)]),
    ("the whole plan", &[Do::Empty(120.0), Do::Empty(50.0), Do::Wall, Do::Idle(12.0), Do::Check(0.005)]),
    ("three loads", &[Do::Empty(300.0), Do::Empty(120.0), Do::Empty(50.0)]),
    ("one discharge and a night idle", &[Do::Empty(120.0), Do::Idle(12.0)]),
];

/// A unit known to the last digit.
#[derive(Clone, Copy)]
pub struct Truth {
    pub usable: f64,
    pub discharge: f64,
    pub charge: f64,
    pub wall: f64,
    pub draw: f64,
    pub factor: f64,
    pub step: f64,
    pub step_from: f64,
    pub fall: f64,
}

impl Truth {
    pub fn drawn(world: World, rng: &mut Stream) -> Truth {
        let mut normal = |mean: f64, half: f64| mean + half / Z * rng.normal();
        let mut draw = -1.0;
        while draw <= 0.5 {
            draw = normal(15.0, 12.0);
        }
        let (discharge, charge) = (normal(0.97, 0.02), normal(0.97, 0.02));
        let (wall, factor) = (normal(0.91, 0.05), normal(1.07, 0.06));
        let (step, fall) = (normal(4.0, 2.0 * Z), normal(0.04, 0.08));
        let mut even = |low: f64, high: f64| low + (high - low) * rng.uniform();
        let (usable, step_from) = (even(480.0, 620.0), INVERTER_W * even(0.05, 0.35));
        let (step, fall) = match world {
            World::Linear => (0.0, 0.0),
            World::Fan => (even(2.0, 6.0), even(0.02, 0.09)),
            World::Stated => (if even(0.0, 1.0) < 0.8 { step } else { 0.0 }, fall),
        };
        Truth { usable, discharge, charge, wall, draw, factor, step, step_from, fall }
    }

    /// Power at the bus for a load at the AC outlet \[W\].
    pub fn bus(&self, load: f64) -> f64 {
        let step = if load > self.step_from { self.step } else { 0.0 };
        load * (self.factor + TYPICAL_QUADRATIC / INVERTER_W * load) + self.draw + step
    }

    /// How long a share of the charge lasts \[h\]: t B = f U (1 - k (f/t - 0.2)), solved for t.
    pub fn hours(&self, load: f64, share: f64) -> f64 {
        let (bus, a) = (self.bus(load), share * self.usable * (1.0 + 0.2 * self.fall));
        (a + (a * a - 4.0 * bus * share * share * self.usable * self.fall).sqrt()) / (2.0 * bus)
    }
}

/// What an owner would write down of it.
pub fn record(truth: &Truth, plan: &[Do], error: MeterError, rng: &mut Stream) -> Record {
    let even = |rng: &mut Stream, half: f64| half * (2.0 * rng.uniform() - 1.0);
    let (accuracy, minute, display, counter) = (0.01, 1.0 / 60.0, 0.05, 2.0);
    let gain = match error {
        MeterError::Even => even(rng, accuracy),
        MeterError::Normal => accuracy / 3.0_f64.sqrt() * rng.normal(),
    };
    let meter = Meter { name: "m".into(), accuracy: Fraction(accuracy), last_digit: Watts(0.1) };
    let run = |energy: f64, hours: f64, charge: (f64, f64), rng: &mut Stream| {
        let shown =
            |value: f64| Uncertain::new(Fraction(value), if 0.0 < value && value < 1.0 { display } else { 0.0 });
        let metered = if energy > 0.0 {
            let read = energy / (1.0 - gain) + counter / Z * rng.normal();
            Metered::Counted(Uncertain::new(WattHours(read), counter))
        } else {
            Metered::Steady(Watts(0.0))
        };
        Run {
            start: None,
            lasted: Hours(hours + even(rng, minute) - even(rng, minute)),
            clock: Hours(minute),
            metered,
            meter: meter.clone(),
            charge: (shown(charge.0), shown(charge.1)),
            ambient: None,
        }
    };
    let (mut capacities, mut walls, mut checks) = (Vec::new(), Vec::new(), Vec::new());
    for (number, test) in plan.iter().enumerate() {
        let repeat = 1.0 + fit::REPEAT * rng.normal();
        let name = format!("{number}");
        match *test {
            Do::Empty(load) => {
                let hours = truth.hours(load, 1.0) * repeat;
                let run = run(load * hours, hours, (1.0, 0.0), rng);
                capacities.push(CapacityTest { name, outlet: OutletKind::Ac, run });
            }
            Do::Partly(load, shown) => {
                let left = shown + display / Z * rng.normal();
                // The display is off at the stop; what went out is by what is really left.
                let hours = truth.hours(load, 1.0 - left) * repeat;
                let run = run(load * hours, hours, (1.0, shown), rng);
                capacities.push(CapacityTest { name, outlet: OutletKind::Ac, run });
            }
            Do::Check(half) => {
                let known = 100.0 * (1.0 + half / Z * rng.normal());
                let known = Uncertain::new(Watts(known), 100.0 * half);
                let read = Watts((1000.0 / (1.0 - gain)).round() / 10.0);
                checks.push(MeterCheck { name, meter: meter.clone(), read, known });
            }
            Do::Idle(hours) => {
                let used = truth.bus(0.0) * hours / (truth.usable * (1.0 + 0.2 * truth.fall));
                let left = (1.0 - used + display / Z * rng.normal()).clamp(0.01, 0.99);
                let run = run(0.0, hours, (1.0, left), rng);
                capacities.push(CapacityTest { name, outlet: OutletKind::Ac, run });
            }
            Do::Wall => {
                let (into, hours) = (truth.usable * repeat / (truth.discharge * truth.charge), 4.0);
                let run = run((into + 3.0 * hours) / truth.wall, hours, (0.0, 1.0), rng);
                walls.push(WallTest { name, run });
            }
        }
    }
    Record {
        title: "synthetic".into(),
        unit: Unit {
            rated_capacity: WattHours(RATED_WH),
            chemistry: Chemistry::Lfp,
            inverter: Some(Watts(INVERTER_W)),
            solar_limit: None,
            model: None,
            serial_number: None,
            cycles: None,
        },
        site: None,
        arrival: None,
        checks,
        walls,
        capacities,
        solars: Vec::new(),
        outlets: Vec::new(),
        noise: None,
        heat: None,
        tester: None,
        place: None,
        photographs: Vec::new(),
    }
}
