//! What tests are to tell, and what is known of it before any test.

use crate::kit::battery::LITHIUM_LOSS_PER_C;
use crate::math;
use crate::scenario::model::{Chemistry, OutletKind};
use crate::scenario::record::Record;
use crate::units::Watts;

/// What the electronics draw while charging \[W\]. Typical, no source.
pub(super) const OWN_DRAW_W: f64 = 3.0;

/// Something that the tests are to tell.
#[derive(Debug, Clone, PartialEq)]
pub enum Unknown {
    /// Energy at the bus from full to switched off \[Wh\].
    Usable,
    /// Bus energy over cell energy.
    Discharge,
    /// Cell energy over bus energy.
    Charge,
    /// Bus energy over wall energy: the charger.
    Wall,
    /// Draw with an outlet on and nothing plugged in \[W\].
    Draw(OutletKind),
    /// Bus energy for each watt-hour at the outlet, beyond that draw.
    Factor(OutletKind),
    /// What a fan or another step of the inverter takes at such an AC load \[W\] beside the draw.
    Step(f64),
    /// Share of the usable energy that is lost for each C of rate beyond `USABLE_RATE` (1 C empties the unit in an hour).
    Fall,
    /// Share of what the model's cells keep back in the cold that those of the unit kept back: a run warms them.
    Cold,
    /// Error of a meter as a share of its reading.
    Gain(String),
}

/// The rate that [`Unknown::Usable`] is meant for \[C\].
pub(super) use crate::kit::battery::PROVED_RATE as USABLE_RATE;
/// Share of inverters with a fan or another step below a third of the rating. No source.
const STEPS: f64 = 0.8;
/// What it takes: mean as a share of the rating, its most \[W\], and its standard deviation as a share of that. Small fans take 1
/// to 5 W each (common practice, no source).
const STEP: (f64, f64, f64) = (1.0 / 150.0, 10.0, 0.5);
/// Shares of the rating between which it comes on. No source.
const STEPS_FROM: (f64, f64) = (0.05, 0.35);
/// What its power changes by from one run to the next, as a share, standard deviation: it cools a warmer or a cooler room. No
/// source.
const STEP_VARIES: f64 = 0.05;

/// Mean and covariance of what fans and other steps take at each of these AC loads \[W\], before any test: one of unknown power,
/// anywhere within its range of loads, is on in all loads above or in none below.
pub(super) fn steps(inverter_w: f64, loads_w: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let mean_w = (STEP.0 * inverter_w).min(STEP.1);
    let square = mean_w * mean_w * (1.0 + STEP.2 * STEP.2);
    let on =
        |load_w: f64| STEPS * ((load_w / inverter_w - STEPS_FROM.0) / (STEPS_FROM.1 - STEPS_FROM.0)).clamp(0.0, 1.0);
    let means: Vec<f64> = loads_w.iter().map(|load_w| on(*load_w) * mean_w).collect();
    let n = loads_w.len();
    let covariance = (0..n * n)
        .map(|k| {
            let (i, j) = (k / n, k % n);
            let own = if i == j { math::powi(STEP_VARIES * mean_w, 2) } else { 0.0 };
            square * on(loads_w[i].min(loads_w[j])) - means[i] * means[j] + own
        })
        .collect();
    (means, covariance)
}

/// The cells of a cold test may be as cold as the air or warm by the run: anywhere between, so that a unit is not called weak for the cold.
/// Mean, and 95 % half-width of the normal law with the spread of a constant density (JCGM 100:2008, 4.3.7).
const COLD: (f64, f64) = (0.5, 0.5 * 0.577_350_269_189_625_8 * crate::trials::interval::Z_95);

/// What a unit draws with AC on and nothing plugged in \[W\], give or take 80 %. Typical, no source.
fn typical_ac_draw_w(inverter: Option<Watts>) -> f64 {
    OWN_DRAW_W + inverter.map_or(5.0, |rated| (0.02 * rated.0).max(5.0))
}

/// Whether a proved draw with AC on is the typical figure still, which no test told.
#[must_use]
pub fn draw_is_typical(inverter: Option<Watts>, standard_w: f64) -> bool {
    NOT_TOLD * AC_DRAW_SPREAD * typical_ac_draw_w(inverter) / crate::trials::interval::Z_95 <= standard_w
}

/// Share of its spread before the tests from which on a figure counts as not told.
pub(super) const NOT_TOLD: f64 = 0.9;
/// Half-width of the typical draw with AC on as a share of it, 95 %. Typical, no source.
const AC_DRAW_SPREAD: f64 = 0.8;

/// What is known of an unknown before any test: typical figures without a source, as mean and 95 % half-width.
#[must_use]
pub fn typical(unknown: &Unknown, record: &Record) -> Option<(f64, f64)> {
    let lead = record.unit.chemistry == Chemistry::LeadAcid;
    let one_way = if lead { (0.90, 0.05) } else { (0.97, 0.02) };
    let ac_draw = typical_ac_draw_w(record.unit.inverter);
    match unknown {
        Unknown::Usable | Unknown::Gain(_) | Unknown::Step(_) => None,
        Unknown::Cold => Some(COLD),
        Unknown::Fall => Some(if lead { (0.6, 0.4) } else { LITHIUM_LOSS_PER_C }),
        Unknown::Discharge | Unknown::Charge => Some(one_way),
        Unknown::Wall => Some((0.91, 0.05)),
        Unknown::Draw(OutletKind::Ac) => Some((ac_draw, AC_DRAW_SPREAD * ac_draw)),
        Unknown::Factor(OutletKind::Ac) => Some((1.07, 0.06)),
        Unknown::Draw(_) => Some((OWN_DRAW_W + 1.0, 3.0)),
        Unknown::Factor(OutletKind::Dc) => Some((1.075, 0.07)),
        Unknown::Factor(OutletKind::Usb) => Some((1.11, 0.10)),
    }
}
