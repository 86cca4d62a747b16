//! Is the unit what its label says? What bench tests tell, and how well.

pub mod energy;
pub mod expected;
pub mod fade;
pub mod fit;
mod kit;
pub mod panel;
pub mod parts;
pub mod plan;
mod rows;
mod scene;
pub mod uncertainty;
pub mod unknowns;
mod warnings;

use crate::math;
use crate::scenario::model::{Chemistry, OutletKind};
use crate::scenario::record::{ProvedKit, Record};
use crate::units::Uncertain;
use uncertainty::propagate;

pub use fade::{Fade, Point, fade};
pub use fit::{Fit, ProveError, Told, fit};
use kit::more_than_the_label;
pub use kit::unbelievable;
pub use panel::{NoVerdict, PanelAnswer, PanelVerdict};
pub use uncertainty::Estimate;
pub use unknowns::Unknown;
pub use warnings::{Warning, Weakness};
use warnings::{round_trips, warnings};

/// What a healthy unit gives of its label through the AC outlet under a load of a fifth of the label (common practice, no
/// source).
pub const HEALTHY: (f64, f64) = (0.80, 0.90);
/// What a healthy unit with so much on its label gives of it, under the same load: [`HEALTHY`], and from less on where the
/// inverter's own draw (5 W at least, typical, no source) weighs more on a small unit. A band so wide tells a healthy small unit from
/// a weak one only by two loads.
///
/// Lead-acid cells hold their label over twenty hours, and this load empties them in five: two thirds of it at least.
///
/// * `rated_wh` — above 0.
#[must_use]
pub fn healthy(rated_wh: f64, chemistry: Chemistry) -> (f64, f64) {
    let hurried = if chemistry == Chemistry::LeadAcid { LEAD_IN_FIVE_HOURS.0 } else { 1.0 };
    (HEALTHY.0 * plan::smaller(rated_wh) * hurried, HEALTHY.1)
}

/// What lead-acid cells give in five hours of what they give in twenty, at least and usually: Peukert's law, 4^(1 − k), with k of 1.3 and
/// 1.2 (common practice, no source).
const LEAD_IN_FIVE_HOURS: (f64, f64) = (0.66, 0.76);

/// Above this share a meter or a label is not believed. No source.
const TOO_GOOD: f64 = 0.97;
/// What the solar input passes on of the power it shows. Typical, no source.
const SOLAR_INPUT: f64 = 0.97;

/// What the capacity tests say of the label.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// All of the interval lies at or above the least that a healthy unit gives, and not all of it above the most.
    Healthy,
    /// All of it lies above the most that healthy units give: the meter is to be checked.
    High,
    /// All of it lies below.
    Weak,
    /// All of it lies below, and cells and inverter are as sound ones are: an inverter's typical draw takes the rest.
    Low,
    /// The interval holds both.
    Open,
    /// All of it lies above what can be believed, or there is more in the cells than the label can hold.
    TooGood,
}

impl Verdict {
    fn of(share: &Estimate, rated_wh: f64, chemistry: Chemistry) -> Verdict {
        let sure = if chemistry == Chemistry::LeadAcid { HEALTHY.0 * LEAD_IN_FIVE_HOURS.1 } else { HEALTHY.0 };
        // On a small unit what lies between is open: a healthy one may give so little, and so may a weak one.
        match (share.low(), share.high()) {
            (low, _) if TOO_GOOD < low => Verdict::TooGood,
            (low, _) if HEALTHY.1 < low => Verdict::High,
            (low, _) if sure <= low => Verdict::Healthy,
            (_, high) if high < healthy(rated_wh, chemistry).0 => Verdict::Weak,
            _ => Verdict::Open,
        }
    }
}

/// One discharge on its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Delivered {
    /// Its name.
    pub name: String,
    /// Its place among the discharges of the record.
    pub place: usize,
    /// Where the load hung.
    pub outlet: OutletKind,
    /// Mean load \[W\].
    pub load_w: f64,
    /// How long it ran \[h\].
    pub hours: f64,
    /// Share of the charge that it used, 0 to 1.
    pub share: f64,
    /// What came out \[Wh\].
    pub measured: Estimate,
    /// What would come out from full to empty \[Wh\].
    pub full: Estimate,
    /// The parts of the doubt in `full`, as names and standard uncertainties \[Wh\].
    pub causes: Vec<(&'static str, f64)>,
    /// Whether next to nothing hung on the outlet: such a run tells the draw, and nothing of the label by itself.
    pub idle: bool,
}

/// One charge from the wall on its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Charged {
    /// Its name.
    pub name: String,
    /// Mean power from the wall \[W\].
    pub watts: f64,
    /// What a full charge takes from the wall \[Wh\].
    pub full: Estimate,
    /// How long a full charge takes at that mean power \[h\].
    pub hours_to_full: f64,
    /// What comes out of the AC outlet of what went in, 0 to 1.
    pub round_trip: Option<Estimate>,
}

/// What a record proves.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// All tests of energy together; `None` where there is no discharge.
    pub fit: Option<Fit>,
    /// The discharges one by one.
    pub delivered: Vec<Delivered>,
    /// What a full unit gives at the AC outlet under the bench load \[Wh\], and whether the AC outlet was tested.
    pub bench: Option<(Estimate, bool)>,
    /// That as a share of the label.
    pub share: Option<Estimate>,
    /// What it means.
    pub verdict: Option<Verdict>,
    /// What that says of cells, inverter and meter each.
    pub parts: Option<parts::Parts>,
    /// The charges.
    pub charged: Vec<Charged>,
    /// The panels, or why one cannot even be compared.
    pub panels: Vec<(String, Result<PanelAnswer, NoVerdict>)>,
    /// Hours of such sun that fill the unit, for each panel test with an answer.
    pub hours_of_sun: Vec<f64>,
    /// The figures for a scenario.
    pub kit: Option<ProvedKit>,
    /// What widens or weakens the answer.
    pub warnings: Vec<Warning>,
}

/// Proves a record.
///
/// # Errors
/// [`ProveError`] names the test that cannot be used.
pub fn prove(record: &Record) -> Result<Proof, ProveError> {
    let fit = fit(record)?;
    let panels: Vec<_> = record.solars.iter().map(|test| (test.name.clone(), panel::judge(record, test))).collect();
    let mut proof = Proof {
        delivered: Vec::new(),
        bench: None,
        share: None,
        verdict: None,
        parts: None,
        charged: Vec::new(),
        hours_of_sun: Vec::new(),
        kit: None,
        warnings: warnings(record, fit.as_ref()),
        panels,
        fit: None,
    };
    let Some(fit) = fit else { return Ok(proof) };
    proof.delivered = fit.used.iter().filter_map(|used| delivered(record, &fit, used)).collect();
    proof.charged = fit.used.iter().filter_map(|used| charged(record, &fit, used)).collect();
    if proof.delivered.iter().all(|test| test.idle) {
        // They tell the draw, and nothing of the label.
        proof.fit = Some(fit);
        return Ok(proof);
    }
    let bench = bench(record, &fit);
    let share = bench.0.scaled(1.0 / record.unit.rated_capacity.0);
    let verdict = match more_than_the_label(&fit.cells(), &Uncertain::exact(record.unit.rated_capacity)) {
        Some(_) => Verdict::TooGood,
        None if no_draw(&fit).is_some() => Verdict::TooGood,
        None => Verdict::of(&share, record.unit.rated_capacity.0, record.unit.chemistry),
    };
    let parts = parts::parts(record, &fit, verdict);
    proof.verdict = Some(if verdict == Verdict::Weak && parts.all_sound() { Verdict::Low } else { verdict });
    proof.parts = Some(parts);
    proof.share = Some(share);
    proof.bench = Some(bench);
    proof.warnings.extend(round_trips(record, &fit, &proof.delivered, &proof.charged));
    let charging = fit.get(&Unknown::Charge).map_or(1.0, |charge| charge.value);
    proof.hours_of_sun = proof
        .panels
        .iter()
        .filter_map(|(_, answer)| answer.as_ref().ok())
        .map(|answer| fit.cells().value / (charging * SOLAR_INPUT * answer.measured.value.max(1e-9)))
        .collect();
    proof.kit = Some(fit.kit(record));
    proof.fit = Some(fit);
    Ok(proof)
}

/// The energy of a run as far as its meter is known \[Wh\], and the meter's standard uncertainty as a share: a checked meter is corrected.
fn corrected(record: &Record, fit: &Fit, used: &fit::Used) -> (f64, f64) {
    let checked = record.checks.iter().any(|check| check.meter.name == used.meter);
    match fit.get(&Unknown::Gain(used.meter.clone())).filter(|_| checked) {
        Some(gain) => (used.energy.wh * (1.0 - gain.value), gain.standard),
        None => (used.energy.wh, used.energy.gain_standard),
    }
}

/// The draw of the inverter where the tests leave it none \[W\], which cannot be.
#[must_use]
pub fn no_draw(fit: &Fit) -> Option<f64> {
    fit.get(&Unknown::Draw(OutletKind::Ac)).map(|draw| draw.value).filter(|draw| *draw <= 0.0)
}

fn delivered(record: &Record, fit: &Fit, used: &fit::Used) -> Option<Delivered> {
    let outlet = used.outlet?;
    let energy = &used.energy;
    let share = used.share.value;
    let (wh, gain_standard) = corrected(record, fit, used);
    let gain = gain_standard * wh;
    let measured = Estimate { value: wh, standard: math::hypot(energy.own_standard_wh(), gain) };
    let full = wh / share;
    let mut causes: Vec<(&'static str, f64)> =
        energy.causes.iter().map(|cause| (cause.name, cause.standard_wh / share)).collect();
    causes.push(("meter's accuracy", gain / share));
    causes.push(("charge on the display", full * used.share.standard / share));
    causes.push(("one full discharge to the next", full * fit::REPEAT));
    causes.retain(|(_, standard)| *standard > 0.0);
    causes.sort_by(|a, b| b.1.total_cmp(&a.1));
    let standard = causes.iter().map(|(_, u)| u * u).sum::<f64>().sqrt();
    Some(Delivered {
        name: used.name.clone(),
        place: used.place,
        outlet,
        load_w: wh / energy.hours,
        hours: energy.hours,
        share,
        measured,
        full: Estimate { value: full, standard },
        causes,
        idle: used.idle(fit.bench_load_w()),
    })
}

fn charged(record: &Record, fit: &Fit, used: &fit::Used) -> Option<Charged> {
    if used.outlet.is_some() {
        return None;
    }
    let energy = &used.energy;
    let share = used.share.value;
    let (wh, gain_standard) = corrected(record, fit, used);
    let own = math::hypot(energy.own_standard_wh() / energy.wh, used.share.standard / share);
    let full = Estimate { value: wh / share, standard: wh / share * math::hypot(own, gain_standard) };
    // One meter for both: its error, in the fit an unknown like others, goes out of the ratio.
    let gain = fit.unknowns.iter().position(|unknown| *unknown == Unknown::Gain(used.meter.clone()));
    let round_trip = fit.get(&Unknown::Factor(OutletKind::Ac)).map(|_| {
        let ratio = |x: &[f64]| {
            let into = energy.wh * (1.0 - gain.map_or(0.0, |place| x[place])) / share;
            fit.delivered_by(x, OutletKind::Ac, fit.bench_load_w()) / into
        };
        let by_the_fit = propagate(ratio, &fit.values, &fit.covariance);
        Estimate { standard: math::hypot(by_the_fit.standard, by_the_fit.value * own), ..by_the_fit }
    });
    Some(Charged {
        name: used.name.clone(),
        watts: wh / energy.hours,
        full,
        hours_to_full: energy.hours / share,
        round_trip,
    })
}

/// What a full unit gives at the AC outlet under the bench load, with typical AC figures where AC was not tested.
fn bench(record: &Record, fit: &Fit) -> (Estimate, bool) {
    let load_w = fit.bench_load_w();
    if let Some(tested) = fit.delivered(OutletKind::Ac, load_w) {
        return (tested, true);
    }
    let at = |unknown: Unknown| fit.get(&unknown).unwrap_or(Estimate { value: 0.0, standard: 0.0 });
    let typical = |unknown| {
        let (value, half) = unknowns::typical(&unknown, record).unwrap_or((1.0, 0.0));
        Estimate { value, standard: half / crate::trials::interval::Z_95 }
    };
    let (step, variance) = unknowns::steps(record.unit.inverter.map_or(load_w, |rated| rated.0), &[load_w]);
    let ac = OutletKind::Ac;
    let parts = [
        at(Unknown::Usable),
        at(Unknown::Fall),
        typical(Unknown::Factor(ac)),
        typical(Unknown::Draw(ac)),
        Estimate { value: step[0], standard: variance[0].sqrt() },
    ];
    let n = parts.len();
    let covariance: Vec<f64> =
        (0..n * n).map(|k| if k / n == k % n { math::powi(parts[k / n].standard, 2) } else { 0.0 }).collect();
    let given =
        |x: &[f64]| load_w * fit::lasts_h(x[0], x[1], load_w * (x[2] + fit.quadratic_per_w * load_w) + x[3] + x[4]);
    (propagate(given, &parts.map(|part| part.value), &covariance), false)
}

#[cfg(test)]
mod tests;
