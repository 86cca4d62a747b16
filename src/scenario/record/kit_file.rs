//! A station's figures as bench tests leave them, with what ties them together, and the file that holds them.

use toml::de::{DeTable, DeValue};

use crate::scenario::amount::{Amount, Estimated};
use crate::scenario::fields::{Fields, Findings};
use crate::scenario::forms::{Fault, Item, Text};
use crate::scenario::model::OutletKind;
use crate::scenario::problem::{self, Problem};
use crate::scenario::source::{Places, Source, join};
use crate::scenario::syntax;
use crate::units::{Fraction, Uncertain, WattHours, Watts, one_reading};

/// What a figure says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FigureKind {
    /// Energy at the bus from full to switched off \[Wh\].
    UsableEnergy,
    /// Bus energy over cell energy \[–\].
    DischargeEfficiency,
    /// Cell energy over bus energy \[–\].
    ChargeEfficiency,
    /// What the unit draws with the outlet switched on and nothing plugged in, its own electronics counted \[W\].
    Draw(OutletKind),
    /// Power out over power in of the outlet's converter beyond that draw \[–\].
    Conversion(OutletKind),
}

use FigureKind::{ChargeEfficiency, Conversion, DischargeEfficiency, Draw, UsableEnergy};

impl FigureKind {
    /// All figures in the order in which they stand in a file.
    pub const ALL: [FigureKind; 9] = [
        UsableEnergy,
        DischargeEfficiency,
        ChargeEfficiency,
        Draw(OutletKind::Ac),
        Conversion(OutletKind::Ac),
        Draw(OutletKind::Dc),
        Conversion(OutletKind::Dc),
        Draw(OutletKind::Usb),
        Conversion(OutletKind::Usb),
    ];

    /// Its key in a file.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            UsableEnergy => "usable_energy",
            DischargeEfficiency => "discharge_efficiency",
            ChargeEfficiency => "charge_efficiency",
            Draw(OutletKind::Ac) => "ac_draw",
            Draw(OutletKind::Dc) => "dc_draw",
            Draw(OutletKind::Usb) => "usb_draw",
            Conversion(OutletKind::Ac) => "ac_conversion",
            Conversion(OutletKind::Dc) => "dc_conversion",
            Conversion(OutletKind::Usb) => "usb_conversion",
        }
    }

    /// Its name for people.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            UsableEnergy => "battery capacity",
            DischargeEfficiency => "discharging efficiency",
            ChargeEfficiency => "charging efficiency",
            Draw(OutletKind::Ac) => "draw with AC on",
            Draw(OutletKind::Dc) => "draw with 12 V on",
            Draw(OutletKind::Usb) => "draw with USB on",
            Conversion(OutletKind::Ac) => "conversion to AC",
            Conversion(OutletKind::Dc) => "conversion to 12 V",
            Conversion(OutletKind::Usb) => "conversion to USB",
        }
    }
}

/// One figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// What it says, and its unit.
    pub kind: FigureKind,
    /// The best estimate.
    pub value: f64,
}

/// A station's figures with their covariance.
#[derive(Debug, Clone, PartialEq)]
pub struct ProvedKit {
    /// What to call it.
    pub title: String,
    /// Energy on the label.
    pub rated_capacity: WattHours,
    /// The inverter's power for long, where the AC outlet was tested.
    pub inverter: Option<Watts>,
    /// The figures, in the order of [`FigureKind::ALL`]; the first is always there.
    pub figures: Vec<Figure>,
    /// Their covariance, row by row.
    pub covariance: Vec<f64>,
}

impl ProvedKit {
    /// The same figures without any doubt.
    #[must_use]
    pub fn exactly(&self) -> ProvedKit {
        ProvedKit { covariance: vec![0.0; self.covariance.len()], ..self.clone() }
    }

    /// Standard uncertainty of a figure by its place.
    #[must_use]
    pub fn standard(&self, place: usize) -> f64 {
        self.covariance[place * self.figures.len() + place].max(0.0).sqrt()
    }

    /// Best estimate and standard uncertainty of a figure, where it is there.
    #[must_use]
    pub fn get(&self, kind: FigureKind) -> Option<(f64, f64)> {
        let place = self.figures.iter().position(|figure| figure.kind == kind)?;
        Some((self.figures[place].value, self.standard(place)))
    }

    /// The file that holds the kit.
    ///
    /// * `from` — what it was worked out from, for the first line.
    #[must_use]
    pub fn to_toml(&self, from: &str) -> String {
        let mut out = format!(
            "# What the bench tests in {from} leave of this unit. A scenario takes it in with: proved = \"this file\"\n\
             # After each ± stands the half-width of the 95 % interval. The figures hang together (see `correlation`):\n\
             # the trials draw them together.\n\n[kit]\ntitle = {}\nrated_capacity = \"{} Wh\"\n",
            toml::Value::from(self.title.as_str()),
            one_reading(self.rated_capacity.0)
        );
        if let Some(inverter) = self.inverter {
            out.push_str(&format!("inverter = \"{} W\"\n", one_reading(inverter.0)));
        }
        out.push_str("\n[figures]\n");
        let n = self.figures.len();
        for (place, figure) in self.figures.iter().enumerate() {
            let (scale, unit) = match figure.kind {
                UsableEnergy => (1.0, "Wh"),
                Draw(_) => (1.0, "W"),
                _ => (100.0, "%"),
            };
            let half = HALF_WIDTH * self.standard(place) * scale;
            let value = figure.value * scale;
            out.push_str(&format!("{} = \"{value:.4} {unit} ± {half:.4} {unit}\"\n", figure.kind.key()));
        }
        out.push_str("correlation = [\n");
        for i in 0..n {
            let row: Vec<String> = (0..n)
                .map(|j| {
                    let scale = self.standard(i) * self.standard(j);
                    let r = if i == j {
                        1.0
                    } else if scale > 0.0 {
                        self.covariance[i * n + j] / scale
                    } else {
                        0.0
                    };
                    format!("{:7.4}", r + 0.0)
                })
                .collect();
            out.push_str(&format!("    [{}],\n", row.join(", ")));
        }
        out.push_str("]\n");
        out
    }
}

/// Half-width of a central 95 % interval of the normal distribution in standard deviations.
const HALF_WIDTH: f64 = crate::units::NORMAL_95;

/// Whether a text is a kit file and not a record: it has a section `[figures]`.
#[must_use]
pub fn is_kit_file(text: &str) -> bool {
    DeTable::parse_recoverable(text).0.get_ref().contains_key("figures")
}

const KEYS: &[(&str, &[&str])] = &[
    ("", &["kit", "figures"]),
    ("[kit]", &["title", "rated_capacity", "inverter"]),
    (
        "[figures]",
        &[
            "usable_energy",
            "discharge_efficiency",
            "charge_efficiency",
            "ac_draw",
            "ac_conversion",
            "dc_draw",
            "dc_conversion",
            "usb_draw",
            "usb_conversion",
            "correlation",
        ],
    ),
];

/// Reads a kit file.
///
/// # Errors
/// As [`crate::scenario::read()`].
pub fn read(source: &Source) -> Result<ProvedKit, Vec<Problem>> {
    let (document, errors) = DeTable::parse_recoverable(&source.text);
    if let Some(error) = errors.first() {
        return Err(vec![syntax::explain(&source.text, error.message(), error.span()).in_a("kit file")]);
    }
    let findings = Findings::new(Places::of(document.get_ref())).with_keys(KEYS);
    let kit = lower(document.get_ref(), &findings);
    let failed = findings.any_error();
    let (mut problems, _) = findings.into_parts();
    problem::sort(&mut problems);
    kit.filter(|_| !failed).ok_or(problems)
}

fn lower(document: &DeTable, findings: &Findings) -> Option<ProvedKit> {
    let mut root = Fields::root(document, findings);
    let head = root.required_table("kit").and_then(|mut fields| {
        let title = fields.or("title", &Text, "A unit".into());
        let rated_capacity = fields.required("rated_capacity", &Amount::<WattHours>::positive());
        let inverter = fields.optional("inverter", &Amount::<Watts>::positive());
        fields.finish();
        Some((title, rated_capacity?, inverter))
    });
    let figures = root.required_table("figures").and_then(|mut fields| {
        let figures = figures(&mut fields);
        fields.finish();
        figures
    });
    root.finish();
    let (title, rated_capacity, inverter) = head?;
    let (figures, covariance) = figures?;
    if figures.iter().any(|figure| figure.kind == Draw(OutletKind::Ac)) && inverter.is_none() {
        findings.push(
            Problem::error("kit.inverter", "is missing, and the AC outlet has figures")
                .help("copy the inverter's power from the label: inverter = \"600 W\""),
        );
    }
    Some(ProvedKit { title, rated_capacity, inverter, figures, covariance })
}

fn figures(fields: &mut Fields) -> Option<(Vec<Figure>, Vec<f64>)> {
    let mut figures = Vec::new();
    let mut standards = Vec::new();
    let mut put = |kind, value: f64, standard| {
        figures.push(Figure { kind, value });
        standards.push(standard);
    };
    let capacity: Option<Uncertain<WattHours>> = fields.required("usable_energy", &Estimated(Amount::positive()));
    put(UsableEnergy, capacity?.value.0, capacity?.standard());
    for kind in &FigureKind::ALL[1..] {
        let key = kind.key();
        if let Draw(_) = kind {
            if let Some(watts) = fields.optional(key, &Estimated(Amount::<Watts>::from_zero())) {
                put(*kind, watts.value.0, watts.standard());
            }
        } else if let Some(share) = fields.optional(key, &Estimated(Amount::positive_to(Fraction::ONE))) {
            put(*kind, share.value.0, share.standard());
        }
    }
    for outlet in [OutletKind::Ac, OutletKind::Dc, OutletKind::Usb] {
        let has = |kind: FigureKind| figures.iter().any(|figure| figure.kind == kind);
        let (draw, conversion) = (Draw(outlet), Conversion(outlet));
        if has(draw) != has(conversion) {
            let (there, missing) = if has(draw) { (draw, conversion) } else { (conversion, draw) };
            let lonely =
                Problem::error(fields.key(missing.key()), "is missing").against(fields.key(there.key()), "its partner");
            fields.findings().push(lonely);
            return None;
        }
    }
    let covariance = correlation(fields, &standards)?;
    Some((figures, covariance))
}

/// The covariance by `correlation`; figures without one are independent.
fn correlation(fields: &mut Fields, standards: &[f64]) -> Option<Vec<f64>> {
    let n = standards.len();
    let mut r: Vec<f64> = (0..n * n).map(|k| f64::from(u8::from(k / n == k % n))).collect();
    if let Some(item) = fields.item("correlation") {
        let rows = numbers(&item).filter(|rows| rows.len() == n && rows.iter().all(|row| row.len() == n));
        let Some(rows) = rows else {
            let fault =
                Fault::new("is not a square of numbers").help("one row and one column for each figure, in order");
            fields.refuse(&item, fault, format!("{n} rows of {n} numbers"));
            return None;
        };
        r = rows.concat();
        let sound = (0..n).all(|i| {
            (0..n).all(|j| (r[i * n + j] - r[j * n + i]).abs() < 1e-3 && r[i * n + j].abs() <= 1.0)
                && (r[i * n + i] - 1.0).abs() < 1e-6
        });
        if !sound || !semidefinite(&r, n) {
            let fault = Fault::new("holds correlations that cannot be");
            fields.refuse(
                &item,
                fault,
                "symmetric, 1 on the diagonal, from -1 to 1, not contradicting each other".into(),
            );
            return None;
        }
    }
    Some((0..n * n).map(|k| r[k] * standards[k / n] * standards[k % n]).collect())
}

fn numbers(item: &Item) -> Option<Vec<Vec<f64>>> {
    let DeValue::Array(rows) = item.value else { return None };
    let number = |(index, cell): (usize, &toml::Spanned<DeValue>)| {
        Item { key: join(&item.key, &index.to_string()), span: cell.span(), value: cell.get_ref() }.number()
    };
    rows.iter()
        .map(|row| match row.get_ref() {
            DeValue::Array(cells) => cells.iter().enumerate().map(number).collect(),
            _ => None,
        })
        .collect()
}

/// Whether a correlation matrix can be, up to the rounding of its digits.
fn semidefinite(r: &[f64], n: usize) -> bool {
    let mut a = r.to_vec();
    for k in 0..n {
        let pivot = a[k * n + k];
        if pivot < -1e-2 {
            return false;
        }
        if pivot < 1e-6 {
            continue;
        }
        for i in k + 1..n {
            let factor = a[i * n + k] / pivot;
            for j in k + 1..n {
                a[i * n + j] -= factor * a[k * n + j];
            }
        }
    }
    true
}
