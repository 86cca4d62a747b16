//! The proof as JSON: our own stable schema. Keys are snake_case with the unit at the end; `plus_minus` is the half-width
//! of the 95 % interval.

use serde::Serialize;

use super::phrases::outlet;
use super::prove::hazard::caution;
use super::prove::next::{Next, next};
use super::prove::parts::{claim, three};
use super::prove::{Facts, Fitted, Remark, figure_words, told, verdict as words};
use super::told::{self, Words};
use crate::scenario::record::ProvedKit;
use crate::scenario::record::model::{Arrival, Meter};
use crate::study::prove::{Estimate, NoVerdict, PanelVerdict, Told, Verdict};

/// A value with its interval.
#[derive(Debug, Serialize)]
pub struct Value {
    /// The best estimate.
    pub value: f64,
    /// Half-width of the 95 % interval.
    pub plus_minus: f64,
}

impl From<&Estimate> for Value {
    fn from(estimate: &Estimate) -> Value {
        Value { value: estimate.value, plus_minus: estimate.plus_minus() }
    }
}

/// The answer of `prove`.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct ProofJson {
    pub title: String,
    /// The verdict in words.
    pub text: String,
    pub model: Option<String>,
    pub serial_number: Option<String>,
    pub tester: Option<String>,
    pub place: Option<String>,
    /// Day of the last test, YYYY-MM-DD.
    pub tested_on: Option<String>,
    /// Names of the files.
    pub photographs: Vec<String>,
    pub rated_capacity_wh: f64,
    pub arrival: Option<ArrivalJson>,
    /// The meters that tests were read off.
    pub meters: Vec<MeterJson>,
    /// `healthy`, `weak`, `low` (and no part is weak), `open`, `high`, `too_good`; null where no discharge but idle ones tells it.
    pub verdict: Option<&'static str>,
    /// Cells, inverter (where AC was tested) and meter each.
    pub parts: Vec<PartJson>,
    /// The wording of a claim, for a weak unit or one with a defect.
    pub claim: Option<String>,
    /// What is wrong with the unit beside what it gives.
    pub defects: Vec<String>,
    /// What to do with a unit that may be damaged; null where nothing points to it.
    pub caution: Option<String>,
    /// What its owner does next, the most urgent first.
    pub next: Vec<told::Told<Next>>,
    pub delivered_wh: Option<Value>,
    pub share_of_label: Option<Value>,
    pub discharges: Vec<Discharge>,
    pub figures: Vec<FigureJson>,
    /// In the order of `figures`.
    pub correlation: Vec<Vec<f64>>,
    pub told: Vec<ToldJson>,
    pub wall: Vec<Wall>,
    pub panels: Vec<Panel>,
    pub outlets: Vec<OutletJson>,
    pub fade: Option<FadeJson>,
    pub remarks: Vec<Remark>,
}

/// A part of the unit, or the meter.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct PartJson {
    /// `cells`, `inverter` or `meter`.
    pub part: &'static str,
    /// Cells and inverter: `sound`, `weak`, `open`, `not_told`, `doubtful`; the meter: `not_checked`, `checked`, `contradicted`,
    /// `doubtful`.
    pub verdict: &'static str,
    pub text: String,
}

/// How the unit arrived; dates as YYYY-MM-DD.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct ArrivalJson {
    pub date: Option<String>,
    /// What was seen; null for none.
    pub damage: Option<String>,
    pub packing_list: Vec<String>,
    pub found: Vec<String>,
    /// What the packing list promises and nobody found.
    pub missing: Vec<String>,
    pub packaging_kept: Option<bool>,
    pub return_by: Option<String>,
    pub warranty_until: Option<String>,
    /// State of charge on the display as delivered, 0 to 1.
    pub charge: Option<f64>,
}

/// One meter.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct MeterJson {
    pub name: String,
    /// Limits of its error as a share of the reading, 0 to 1.
    pub accuracy: f64,
    pub last_digit_w: f64,
    /// Names of the tests read off it.
    pub tests: Vec<String>,
}

/// One outlet tried.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct OutletJson {
    pub name: String,
    pub load_w: Option<f64>,
    pub passed: bool,
    pub remark: Option<String>,
}

/// One discharge.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct Discharge {
    pub name: String,
    pub outlet: &'static str,
    pub load_w: f64,
    pub lasted_h: f64,
    pub came_out_wh: Value,
    /// Null for an idle run, which says nothing of it.
    pub full_to_empty_wh: Option<Value>,
}

/// One figure of the kit.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct FigureJson {
    pub figure: &'static str,
    pub value: f64,
    pub plus_minus: f64,
}

/// How well something is told.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct ToldJson {
    /// What it is, with its value.
    pub text: String,
    #[serde(flatten)]
    pub value: Value,
    pub unit: &'static str,
    /// `well`, `partly` or `not_at_all`, where a typical figure stands in.
    pub told: &'static str,
}

/// One charge from the wall.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct Wall {
    pub name: String,
    pub full_charge_wh: Value,
    pub to_full_h: f64,
    pub round_trip: Option<Value>,
}

/// One panel in the sun.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct Panel {
    pub name: String,
    pub measured_w: Option<Value>,
    pub expected_w: Option<Value>,
    pub ratio: Option<Value>,
    /// `good`, `weak`, `open`; null where none could be given.
    pub verdict: Option<&'static str>,
    /// Why there is no verdict; null where there is one.
    pub no_verdict: Option<Reason>,
}

/// Why there is no verdict on a panel.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct Reason {
    pub kind: &'static str,
    pub text: String,
}

impl From<&NoVerdict> for Reason {
    fn from(why: &NoVerdict) -> Reason {
        let kind = match why {
            NoVerdict::Cloudy => "cloudy",
            NoVerdict::LowSun(_) => "low_sun",
            NoVerdict::NearlyFull(_) => "nearly_full",
            NoVerdict::Limited(_) => "input_at_its_limit",
            NoVerdict::TooBright(..) => "light_meter_too_high",
            NoVerdict::TooDim(..) => "light_meter_too_low",
            NoVerdict::TooStrong(_) => "more_than_a_panel_gives",
            NoVerdict::NoSite => "no_site",
            NoVerdict::Sun(_) => "sun_unknown",
            NoVerdict::Clock => "clock_unknown",
        };
        Reason { kind, text: why.words() }
    }
}

/// Several records.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct FadeJson {
    pub dates: Vec<String>,
    pub delivered_wh: Vec<Value>,
    pub change_a_year: Value,
    pub change_a_hundred_cycles: Option<Value>,
    pub years_to_four_fifths: Option<Value>,
}

/// Names of the verdicts.
#[must_use]
pub fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Healthy => "healthy",
        Verdict::Weak => "weak",
        Verdict::Low => "low",
        Verdict::Open => "open",
        Verdict::High => "high",
        Verdict::TooGood => "too_good",
    }
}

fn figures(kit: &ProvedKit) -> (Vec<FigureJson>, Vec<Vec<f64>>) {
    let n = kit.figures.len();
    let half = |k: usize| Estimate { value: 0.0, standard: kit.standard(k) }.plus_minus();
    let figures = (0..n)
        .map(|k| FigureJson { figure: kit.figures[k].kind.key(), value: kit.figures[k].value, plus_minus: half(k) })
        .collect();
    let correlation = (0..n)
        .map(|i| {
            (0..n)
                .map(|j| {
                    let scale = kit.standard(i) * kit.standard(j);
                    if scale > 0.0 { kit.covariance[i * n + j] / scale } else { 0.0 }
                })
                .collect()
        })
        .collect();
    (figures, correlation)
}

fn arrival(arrival: &Arrival) -> ArrivalJson {
    let day = |date: Option<jiff::civil::Date>| date.map(|date| date.to_string());
    ArrivalJson {
        date: day(arrival.date),
        damage: arrival.damage.clone(),
        packing_list: arrival.packing_list.clone(),
        found: arrival.found.clone(),
        missing: arrival.missing().into_iter().map(String::from).collect(),
        packaging_kept: arrival.packaging_kept,
        return_by: day(arrival.return_by),
        warranty_until: day(arrival.warranty_until),
        charge: arrival.charge.map(|charge| charge.0),
    }
}

fn told_json((what, value, unit, told): Fitted) -> ToldJson {
    let told = match told {
        Told::Well => "well",
        Told::Partly => "partly",
        Told::NotAtAll => "not_at_all",
    };
    ToldJson { text: format!("{what}: {}", figure_words(&value, unit)), value: (&value).into(), unit, told }
}

fn meter((meter, tests): (&Meter, Vec<&str>)) -> MeterJson {
    MeterJson {
        name: meter.name.clone(),
        accuracy: meter.accuracy.0,
        last_digit_w: meter.last_digit.0,
        tests: tests.into_iter().map(String::from).collect(),
    }
}

/// The proof for the schema.
#[must_use]
pub fn of(facts: &Facts) -> ProofJson {
    let &Facts { record, proof, fade, remarks, .. } = facts;
    let (figures, correlation) = proof.kit.as_ref().map(figures).unwrap_or_default();
    ProofJson {
        text: words(record, proof),
        title: record.title.clone(),
        model: record.unit.model.clone(),
        serial_number: record.unit.serial_number.clone(),
        tester: record.tester.clone(),
        place: record.place.clone(),
        tested_on: record.date().map(|date| date.to_string()),
        photographs: record.photographs.clone(),
        rated_capacity_wh: record.unit.rated_capacity.0,
        arrival: record.arrival.as_ref().map(arrival),
        meters: record.meters_used().into_iter().map(meter).collect(),
        verdict: proof.verdict.map(verdict),
        parts: three(record, proof)
            .into_iter()
            .map(|part| PartJson { part: part.name, verdict: part.word, text: part.text })
            .collect(),
        claim: claim(record, proof, remarks),
        defects: record.defects(),
        caution: caution(record, proof),
        next: next(facts),
        delivered_wh: proof.bench.as_ref().map(|(bench, _)| bench.into()),
        share_of_label: proof.share.as_ref().map(Value::from),
        discharges: proof
            .delivered
            .iter()
            .map(|test| Discharge {
                name: test.name.clone(),
                outlet: outlet(test.outlet),
                load_w: test.load_w,
                lasted_h: test.hours,
                came_out_wh: (&test.measured).into(),
                full_to_empty_wh: (!test.idle).then(|| (&test.full).into()),
            })
            .collect(),
        figures,
        correlation,
        told: proof.fit.iter().flat_map(told).map(told_json).collect(),
        wall: proof
            .charged
            .iter()
            .map(|test| Wall {
                name: test.name.clone(),
                full_charge_wh: (&test.full).into(),
                to_full_h: test.hours_to_full,
                round_trip: test.round_trip.as_ref().map(Value::from),
            })
            .collect(),
        panels: proof
            .panels
            .iter()
            .map(|(name, answer)| {
                let known = answer.as_ref().ok();
                let judged = answer.as_ref().and_then(|answer| answer.verdict.as_ref());
                let verdict = judged.ok().map(|verdict| match verdict {
                    PanelVerdict::Good => "good",
                    PanelVerdict::Weak => "weak",
                    PanelVerdict::Open => "open",
                });
                Panel {
                    name: name.clone(),
                    measured_w: known.map(|answer| (&answer.measured).into()),
                    expected_w: known.map(|answer| (&answer.expected).into()),
                    ratio: known.map(|answer| (&answer.ratio).into()),
                    verdict,
                    no_verdict: judged.err().map(Reason::from),
                }
            })
            .collect(),
        outlets: record
            .outlets
            .iter()
            .map(|test| OutletJson {
                name: test.name.clone(),
                load_w: test.load.map(|load| load.0),
                passed: test.passed,
                remark: test.remark.clone(),
            })
            .collect(),
        fade: fade.map(|fade| FadeJson {
            dates: fade.points.iter().map(|point| point.date.to_string()).collect(),
            delivered_wh: fade.points.iter().map(|point| (&point.bench).into()).collect(),
            change_a_year: (&fade.by_years.relative).into(),
            change_a_hundred_cycles: fade.by_cycles.as_ref().map(|line| (&line.relative.scaled(100.0)).into()),
            years_to_four_fifths: fade.years_to_four_fifths.as_ref().map(Value::from),
        }),
        remarks: remarks.to_vec(),
    }
}
