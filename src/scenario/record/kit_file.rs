//! A station's figures as bench tests leave them, with what ties them together, and the file that holds them.

use serde_json::{Value as Json, json};

use crate::scenario::fields::{Fields, Findings};
use crate::scenario::forms::{Fault, Form, Item};
use crate::scenario::model::OutletKind;
use crate::scenario::problem::Problem;
use crate::scenario::schema::KIT_FILE;
use crate::scenario::source::{Places, Source};
use crate::scenario::syntax;
use crate::units::{Fraction, Quantity, Uncertain, WattHours, Watts, one_reading};

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
    /// What a fan or another step of the inverter takes beside that from a load on \[W\].
    Step,
    /// Share of the usable energy lost for each C of rate beyond a fifth \[1/C\].
    RateLoss,
}

use FigureKind::{ChargeEfficiency, Conversion, DischargeEfficiency, Draw, RateLoss, Step, UsableEnergy};

impl FigureKind {
    /// All figures in the order in which they stand in a file.
    pub const ALL: [FigureKind; 11] = [
        UsableEnergy,
        DischargeEfficiency,
        ChargeEfficiency,
        Draw(OutletKind::Ac),
        Conversion(OutletKind::Ac),
        Draw(OutletKind::Dc),
        Conversion(OutletKind::Dc),
        Draw(OutletKind::Usb),
        Conversion(OutletKind::Usb),
        Step,
        RateLoss,
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
            Step => "ac_step",
            RateLoss => "rate_loss",
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
            Step => "a fan or another step of the inverter",
            RateLoss => "loss of capacity by the rate of discharge",
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
    /// The AC load from which the step is taken whole, below it in proportion; where there is such a figure.
    pub step_from: Option<Watts>,
    /// What is wrong with the unit beside its figures, one phrase each.
    pub defects: Vec<String>,
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
        if let Some(from) = self.step_from {
            out.push_str(&format!(
                "# A fan or another step takes `ac_step` from this load on, below it in proportion.\nac_step_from = \"{} W\"\n",
                one_reading(from.0)
            ));
        }
        if !self.defects.is_empty() {
            out.push_str(&format!("defects = {}\n", toml::Value::from(self.defects.clone())));
        }
        out.push_str("\n[figures]\n");
        let n = self.figures.len();
        for (place, figure) in self.figures.iter().enumerate() {
            let (scale, unit) = match figure.kind {
                UsableEnergy => (1.0, "Wh"),
                Draw(_) | Step => (1.0, "W"),
                _ => (100.0, "%"),
            };
            let half = HALF_WIDTH * self.standard(place) * scale;
            let value = figure.value * scale;
            let each = if figure.kind == RateLoss { "   # for each C beyond 0.2 C (empty in five hours)" } else { "" };
            out.push_str(&format!("{} = \"{value:.4} {unit} ± {half:.4} {unit}\"{each}\n", figure.kind.key()));
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
    syntax::has_key(text, "figures")
}

/// Reads a kit file.
///
/// # Errors
/// As [`crate::scenario::read()`].
pub fn read(source: &Source) -> Result<ProvedKit, Vec<Problem>> {
    let document = syntax::document(source, "kit file")?;
    let findings = Findings::new(Places::of(document.get_ref()), Some(&KIT_FILE));
    let kit = lower(&Fields::root(document.get_ref(), &KIT_FILE, &findings), &findings);
    findings.verdict(kit).map(|(kit, ..)| kit)
}

fn lower(root: &Fields, findings: &Findings) -> Option<ProvedKit> {
    let (figures, covariance) = root.one("figures").and_then(figures)?;
    let head = root.one("kit")?;
    let inverter = head.get("inverter");
    if figures.iter().any(|figure| figure.kind == Draw(OutletKind::Ac)) && inverter.is_none() {
        findings.push(
            Problem::error("kit.inverter", "is missing, and the AC outlet has figures")
                .help("copy the inverter's power from the label: inverter = \"600 W\""),
        );
    }
    let step_from: Option<Watts> = head.get("ac_step_from");
    let has = |kind: FigureKind| figures.iter().any(|figure| figure.kind == kind);
    if has(Step) != step_from.is_some() {
        let (there, missing) =
            if has(Step) { ("figures.ac_step", "kit.ac_step_from") } else { ("kit.ac_step_from", "figures.ac_step") };
        findings.push(Problem::error(missing, "is missing").against(there, "its partner"));
    }
    if has(Step) && !has(Conversion(OutletKind::Ac)) {
        let missing = Problem::error("figures.ac_conversion", "is missing");
        findings.push(missing.against("figures.ac_step", "its partner"));
    }
    Some(ProvedKit {
        title: head.get("title")?,
        rated_capacity: head.get("rated_capacity")?,
        inverter,
        step_from,
        defects: head.get("defects").unwrap_or_default(),
        figures,
        covariance,
    })
}

fn figures(fields: &Fields) -> Option<(Vec<Figure>, Vec<f64>)> {
    fn read<Q: Quantity>(fields: &Fields, kind: FigureKind) -> Option<(Figure, f64)> {
        let figure: Uncertain<Q> = fields.get(kind.key())?;
        Some((Figure { kind, value: figure.value.base() }, figure.standard()))
    }
    let read = |kind: FigureKind| match kind {
        UsableEnergy => read::<WattHours>(fields, kind),
        Draw(_) | Step => read::<Watts>(fields, kind),
        _ => read::<Fraction>(fields, kind),
    };
    let (figures, standards): (Vec<Figure>, Vec<f64>) = FigureKind::ALL.into_iter().filter_map(read).unzip();
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
fn correlation(fields: &Fields, standards: &[f64]) -> Option<Vec<f64>> {
    let n = standards.len();
    let mut r: Vec<f64> = (0..n * n).map(|k| f64::from(u8::from(k / n == k % n))).collect();
    if fields.has("correlation") {
        let rows: Vec<Vec<f64>> = fields.get("correlation")?;
        if rows.len() != n || rows.iter().any(|row| row.len() != n) {
            let square = Fault { allowed: Some(format!("{n} rows of {n} numbers")), ..Correlation::no_square() };
            fields.refuse("correlation", square);
            return None;
        }
        r = rows.concat();
        let sound = (0..n).all(|i| {
            (0..n).all(|j| (r[i * n + j] - r[j * n + i]).abs() < 1e-3 && r[i * n + j].abs() <= 1.0)
                && (r[i * n + i] - 1.0).abs() < 1e-6
        });
        if !sound || !semidefinite(&r, n) {
            let allowed = "symmetric, 1 on the diagonal, from -1 to 1, not contradicting each other";
            let fault = Fault::new("holds correlations that cannot be");
            fields.refuse("correlation", Fault { allowed: Some(allowed.into()), ..fault });
            return None;
        }
    }
    Some((0..n * n).map(|k| r[k] * standards[k / n] * standards[k % n]).collect())
}

/// Rows of numbers.
pub(in crate::scenario) struct Correlation;

impl Correlation {
    fn no_square() -> Fault {
        Fault::new("is not a square of numbers").help("one row and one column for each figure, in order")
    }
}

impl Form for Correlation {
    type Output = Vec<Vec<f64>>;
    fn allowed(&self) -> String {
        "rows of numbers, one row and one column for each figure".into()
    }
    fn example(&self) -> String {
        "[[1.0, -0.2], [-0.2, 1.0]]".into()
    }
    fn read(&self, item: &Item) -> Result<Self::Output, Fault> {
        let row = |row: &Item| row.entries()?.iter().map(Item::number).collect::<Option<Vec<f64>>>();
        item.entries().and_then(|rows| rows.iter().map(row).collect()).ok_or_else(Correlation::no_square)
    }
    fn json(&self) -> Json {
        json!({ "type": "array", "items": { "type": "array", "items": { "type": "number" } } })
    }
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
