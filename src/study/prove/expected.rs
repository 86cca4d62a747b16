//! What tests would tell, before anybody makes them: those of a plan put through the fit, on a typical unit.

use super::fit::{bench_load_w, lasts_h, quadratic_per_w};
use super::panel::{PanelAnswer, judge};
use super::plan::{TestPlan, draw_w};
use super::uncertainty::{Estimate, propagate};
use super::unknowns::{OWN_DRAW_W, USABLE_RATE, Unknown, steps, typical};
use super::{Proof, prove};
use crate::engine::kit_plan::UNPROVED_SHARE;
use crate::math;
use crate::scenario::model::{ClimateSource, OutletKind, Site, TimeZone};
use crate::scenario::record::Record;
use crate::scenario::record::model::{
    Aim, CapacityTest, LIGHT_METER, Meter, MeterCheck, Metered, Run, SkyLook, SolarTest, Unit, WallTest, display_doubt,
};
use crate::trials::interval::Z_95;
use crate::units::{Celsius, Fraction, Hours, PerKelvin, Uncertain, WattHours, Watts, WattsPerSquareMetre};

/// Limits of the meter that is reckoned with: a plug meter. Typical, no source.
pub const METER: f64 = 0.01;
/// How well the load of a meter check is known, 95 %. Typical of a better meter, no source.
pub const KNOWN: f64 = 0.005;

/// What is known after a test and all before it.
#[derive(Debug, Clone, PartialEq)]
pub struct Expected {
    /// The test.
    pub after: Step,
    /// What comes out at the AC outlet under the bench load, as a share of the label.
    pub outlet: Estimate,
    /// What the cells hold, as a share of the label.
    pub cells: Estimate,
    /// The draw with AC on \[W\].
    pub draw: Estimate,
    /// What comes out of the AC outlet of what goes in at the wall, where both are told.
    pub round_trip: Option<Estimate>,
}

/// A step of the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// None yet.
    Nothing,
    /// The first full discharge.
    First,
    /// Another at a smaller load.
    Second,
    /// A night with nothing plugged in.
    Idle,
    /// A full charge through a meter at the wall.
    Wall,
    /// The meter held against a known load.
    Check,
}

impl Step {
    /// In the order of the plan.
    pub const ALL: [Step; 6] = [Step::Nothing, Step::First, Step::Second, Step::Idle, Step::Wall, Step::Check];
}

/// A unit as the typical figures have it.
struct Typical<'a> {
    plan: &'a TestPlan,
    inverter_w: f64,
    usable_wh: f64,
    draw_w: f64,
    meter: Meter,
}

impl Typical<'_> {
    fn run(&self, metered: Metered, hours: f64, charge: (f64, f64)) -> Run {
        let shown = |charge: f64| Uncertain::new(Fraction(charge), display_doubt(charge));
        Run {
            start: None,
            lasted: Hours(hours),
            clock: Hours(1.0 / 60.0),
            metered,
            meter: self.meter.clone(),
            charge: (shown(charge.0), shown(charge.1)),
            ambient: None,
        }
    }

    /// A discharge from full to empty, counted.
    fn discharge(&self, load_w: f64, factor: f64, fall: f64) -> CapacityTest {
        let (step, _) = steps(self.inverter_w, &[load_w]);
        let bus_w = load_w * (factor + quadratic_per_w(Some(self.inverter_w)) * load_w) + self.draw_w + step[0];
        let hours = lasts_h(self.usable_wh, fall, bus_w);
        let energy = Uncertain::exact(WattHours(load_w * hours));
        let run = self.run(Metered::Counted(energy), hours, (1.0, 0.0));
        CapacityTest { name: format!("{load_w} W"), outlet: OutletKind::Ac, run }
    }
}

/// A record without tests.
fn bare(unit: Unit) -> Record {
    Record {
        title: String::new(),
        unit,
        site: None,
        arrival: None,
        checks: Vec::new(),
        walls: Vec::new(),
        capacities: Vec::new(),
        solars: Vec::new(),
        outlets: Vec::new(),
        noise: None,
        heat: None,
        tester: None,
        place: None,
        photographs: Vec::new(),
    }
}

/// What a panel test tells of a panel, as a share of what can be expected: by the sun alone, and with a light meter beside it. At noon of
/// an equinox under a blue sky at 45° north.
#[must_use]
pub fn panel(unit: &Unit) -> Option<(Estimate, Estimate)> {
    let rated = unit.solar_limit?;
    let site = Site {
        latitude_deg: 45.0,
        longitude_deg: 0.0,
        height: None,
        timezone: TimeZone::Fixed(0),
        climate: ClimateSource::World,
        monthly_sun: None,
        ground_reflection: Fraction(0.2),
        room: None,
    };
    let record = Record { site: Some(site), ..bare(unit.clone()) };
    let test = |irradiance: Option<Uncertain<WattsPerSquareMetre>>| {
        let test = SolarTest {
            name: String::new(),
            at: jiff::civil::date(2027, 3, 20).at(12, 0, 0, 0),
            watts: Watts(0.8 * rated.0),
            meter: Meter { name: "plug meter".into(), accuracy: Fraction(METER), last_digit: Watts(0.1) },
            rated,
            irradiance,
            aim: Some(Aim::AtTheSun),
            sky: Some(SkyLook::Clear),
            air: Some(Celsius(15.0)),
            charge: Some(Fraction(0.4)),
            power_coefficient: PerKelvin(-0.004),
        };
        judge(&Record { solars: Vec::new(), ..record.clone() }, &test).ok()
    };
    let alone = test(None)?;
    let light = Uncertain::new(WattsPerSquareMetre(alone.plane_w_m2), LIGHT_METER * alone.plane_w_m2);
    let of = |answer: PanelAnswer| answer.expected.scaled(1.0 / answer.expected.value);
    Some((of(test(None)?), of(test(Some(light))?)))
}

/// What each step of a plan adds, for a typical unit of this label. Steps that the numbers of a unit do not allow are left out.
///
/// * `unit` — its label; without an inverter one of as many watts as the label has watt-hours is taken.
#[must_use]
pub fn expected(plan: &TestPlan, unit: &Unit) -> Vec<Expected> {
    let rated_wh = unit.rated_capacity.0;
    let inverter_w = unit.inverter.map_or(rated_wh, |rated| rated.0);
    let unit = Unit { inverter: Some(Watts(inverter_w)), ..unit.clone() };
    let mut record = bare(unit);
    let ac = OutletKind::Ac;
    let known = |unknown: Unknown| {
        let (value, half) = typical(&unknown, &record).unwrap_or((1.0, 0.0));
        Estimate { value, standard: half / Z_95 }
    };
    let (factor, draw, fall) = (known(Unknown::Factor(ac)), known(Unknown::Draw(ac)), known(Unknown::Fall));
    let (one_way, wall) = (known(Unknown::Discharge), known(Unknown::Wall));
    let cells = Estimate { value: UNPROVED_SHARE.0, standard: UNPROVED_SHARE.1 / Z_95 };
    let load_w = bench_load_w(rated_wh, Some(inverter_w));
    let (step, variance) = steps(inverter_w, &[load_w]);
    let before = {
        let parts = [cells, one_way, factor, draw, fall, Estimate { value: step[0], standard: variance[0].sqrt() }];
        let n = parts.len();
        let covariance: Vec<f64> =
            (0..n * n).map(|k| if k / n == k % n { math::powi(parts[k / n].standard, 2) } else { 0.0 }).collect();
        let quadratic = quadratic_per_w(Some(inverter_w));
        let share = |x: &[f64]| {
            let bus_w = load_w * (x[2] + quadratic * load_w) + x[3] + x[5];
            load_w * lasts_h(rated_wh * x[0] * x[1], x[4], bus_w) / rated_wh
        };
        let outlet = propagate(share, &parts.map(|part| part.value), &covariance);
        Expected { after: Step::Nothing, outlet, cells, draw, round_trip: None }
    };
    let meter = Meter { name: "plug meter".into(), accuracy: Fraction(METER), last_digit: Watts(0.1) };
    let usable_wh = rated_wh * cells.value * one_way.value;
    let one = Typical { plan, inverter_w, usable_wh, draw_w: draw_w(rated_wh), meter: meter.clone() };
    let mut all = vec![before];
    for after in &Step::ALL[1..] {
        match after {
            Step::Nothing => {}
            Step::First => {
                record.capacities.push(one.discharge(one.plan.load_w, factor.value, fall.value));
            }
            Step::Second => {
                record.capacities.push(one.discharge(one.plan.second_load_w, factor.value, fall.value));
            }
            Step::Idle => {
                let full_wh = one.usable_wh * (1.0 + USABLE_RATE * fall.value);
                let hours = one.plan.night_h.min(0.9 * full_wh / one.draw_w);
                let left = 1.0 - one.draw_w * hours / full_wh;
                let run = one.run(Metered::Steady(Watts(0.0)), hours, (1.0, left));
                record.capacities.push(CapacityTest { name: "a night".into(), outlet: ac, run });
            }
            Step::Wall => {
                let hours = 4.0;
                let into = one.usable_wh / (one_way.value * one_way.value);
                let energy = Uncertain::exact(WattHours((into + OWN_DRAW_W * hours) / wall.value));
                let run = one.run(Metered::Counted(energy), hours, (0.0, 1.0));
                record.walls.push(WallTest { name: "wall".into(), run });
            }
            Step::Check => {
                let known = Uncertain::new(Watts(load_w), KNOWN * load_w);
                let meter = meter.clone();
                record.checks.push(MeterCheck { name: "check".into(), meter, read: Watts(load_w), known });
            }
        }
        if let Some(known) = prove(&record).ok().and_then(|proof| after_tests(*after, &proof, rated_wh)) {
            all.push(known);
        }
    }
    all
}

fn after_tests(after: Step, proof: &Proof, rated_wh: f64) -> Option<Expected> {
    let fit = proof.fit.as_ref()?;
    Some(Expected {
        after,
        outlet: proof.share?,
        cells: fit.cells().scaled(1.0 / rated_wh),
        draw: fit.get(&Unknown::Draw(OutletKind::Ac))?,
        round_trip: proof.charged.first().and_then(|charge| charge.round_trip),
    })
}
