//! Many proved units side by side.

use serde::Serialize;

use super::cells::cell;
use super::document::{Column, Document, Table};
use super::proof_json::{Value, verdict as code};
use super::prove::{efficiency, share, wh, with};
use super::words::label;
use crate::math;
use crate::scenario::model::OutletKind;
use crate::scenario::record::Record;
use crate::statistics::mean;
use crate::study::prove::{Estimate, Proof, Unknown, Verdict};

/// One unit.
#[derive(Debug, Clone)]
pub struct Row {
    /// File of its record.
    pub file: String,
    /// What its record calls it.
    pub title: String,
    /// What its maker calls it.
    pub model: Option<String>,
    /// Energy on its label \[Wh\].
    pub rated_wh: f64,
    /// What a full unit gives at the AC outlet under the bench load \[Wh\]; `None` without a discharge.
    pub delivered: Option<Estimate>,
    /// That as a share of the label.
    pub share: Option<Estimate>,
    /// Draw with AC on \[W\]; `None` where AC was not tested.
    pub idle_w: Option<Estimate>,
    /// What the inverter passes on beyond that under the bench load.
    pub conversion: Option<Estimate>,
    /// What comes out of the AC outlet of what goes in at the wall.
    pub round_trip: Option<Estimate>,
    /// What it means.
    pub verdict: Option<Verdict>,
    /// What is wrong with it beside what it gives.
    pub defects: Vec<String>,
}

impl Row {
    /// A unit by its record.
    #[must_use]
    pub fn of(file: String, record: &Record, proof: &Proof) -> Row {
        let fit = proof.fit.as_ref();
        let inverse = |e: Estimate| Estimate { value: 1.0 / e.value, standard: e.standard / (e.value * e.value) };
        Row {
            file,
            title: record.title.clone(),
            model: record.unit.model.clone(),
            rated_wh: record.unit.rated_capacity.0,
            delivered: proof.bench.map(|(bench, _)| bench),
            share: proof.share,
            idle_w: fit.and_then(|fit| fit.get(&Unknown::Draw(OutletKind::Ac))),
            conversion: fit.and_then(|fit| fit.factor_with_step()).map(inverse),
            round_trip: proof.charged.iter().find_map(|charge| charge.round_trip),
            verdict: proof.verdict,
            defects: record.defects(),
        }
    }

    /// Its share of the label, where meter, clock and label are believed.
    fn believed(&self) -> Option<f64> {
        let doubtful = matches!(self.verdict, Some(Verdict::High | Verdict::TooGood));
        self.share.as_ref().filter(|_| !doubtful).map(|share| share.value)
    }

    /// Units of one model stand together; one without is of a kind of its own.
    fn kind(&self) -> (&str, f64) {
        (self.model.as_deref().unwrap_or(&self.title), self.rated_wh)
    }
}

/// Units of one model.
struct Group<'a> {
    rows: Vec<&'a Row>,
}

impl Group<'_> {
    fn shares(&self) -> Vec<f64> {
        self.rows.iter().filter_map(|row| row.believed()).collect()
    }

    /// Mean share of the label, and its standard deviation from unit to unit, where there are two or more.
    fn scatter(&self) -> Option<(f64, f64)> {
        let shares = self.shares();
        let middle = mean(&shares);
        let squares: f64 = shares.iter().map(|share| math::powi(share - middle, 2)).sum();
        (shares.len() > 1).then(|| (middle, (squares / (shares.len() - 1) as f64).sqrt()))
    }
}

/// Units grouped by model, the best first, in a group too; units that are not believed, or without a discharge, last.
fn grouped(rows: &[Row]) -> Vec<Group<'_>> {
    let mut groups: Vec<Group> = Vec::new();
    for row in rows {
        match groups.iter_mut().find(|group| group.rows.iter().any(|other| other.kind() == row.kind())) {
            Some(group) => group.rows.push(row),
            None => groups.push(Group { rows: vec![row] }),
        }
    }
    let value = |row: &Row| row.believed().unwrap_or(f64::NEG_INFINITY);
    for group in &mut groups {
        group.rows.sort_by(|a, b| value(b).total_cmp(&value(a)).then_with(|| a.file.cmp(&b.file)));
    }
    let best = |group: &Group| {
        let shares = group.shares();
        if shares.is_empty() { f64::NEG_INFINITY } else { mean(&shares) }
    };
    groups.sort_by(|a, b| best(b).total_cmp(&best(a)).then_with(|| a.rows[0].file.cmp(&b.rows[0].file)));
    groups
}

/// A verdict in a word or two.
#[must_use]
pub fn word(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(Verdict::Healthy) => "healthy",
        Some(Verdict::Weak) => "weak",
        Some(Verdict::Low) => "low, parts sound",
        Some(Verdict::Open) => "open",
        Some(Verdict::High) => "check the meter",
        Some(Verdict::TooGood) => "to be doubted",
        None => "not tested",
    }
}

/// Its verdict, and whether it has a defect.
fn judged(row: &Row) -> String {
    let with = if row.defects.is_empty() { "" } else { ", with a defect" };
    format!("{}{with}", word(row.verdict))
}

/// The table as a document.
///
/// * `unread` — files of records that could not be read.
#[must_use]
pub fn document(rows: &[Row], unread: &[String]) -> Document {
    let mut out = Document::new(format!("{} units on the bench", rows.len()));
    let heads = [
        Column::left("unit"),
        Column::left("verdict"),
        Column::right("label"),
        Column::right("at the AC outlet"),
        Column::right("of the label"),
        Column::right("idle"),
        Column::right("conversion"),
        Column::right("round trip"),
    ];
    let or_none = |estimate: &Option<Estimate>, words: &dyn Fn(&Estimate) -> String| {
        estimate.as_ref().map_or("-".to_string(), words)
    };
    let groups = grouped(rows);
    let cells = groups.iter().flat_map(|group| &group.rows).map(|row| {
        let name = match &row.model {
            Some(model) if *model != row.title => format!("{model}: {}", row.title),
            _ => row.title.clone(),
        };
        [
            name,
            judged(row),
            label(row.rated_wh),
            or_none(&row.delivered, &wh),
            or_none(&row.share, &share),
            or_none(&row.idle_w, &|idle| with(idle, "W")),
            or_none(&row.conversion, &efficiency),
            or_none(&row.round_trip, &efficiency),
        ]
    });
    out.table(Table::new(heads).rows(cells).scrolls());
    let scatters = groups.iter().filter_map(|group| {
        let (mean, spread) = group.scatter()?;
        Some(format!(
            "{}, {}: {} units give {:.1} % of the label on the mean, with a standard deviation of {:.1} points from unit to unit.",
            group.rows[0].kind().0,
            label(group.rows[0].rated_wh),
            group.shares().len(),
            100.0 * mean,
            100.0 * spread
        ))
    });
    let defects = groups.iter().flat_map(|group| &group.rows).filter(|row| !row.defects.is_empty());
    let defects: Vec<String> = defects.map(|row| format!("{}: {}.", row.title, row.defects.join("; "))).collect();
    if !unread.is_empty() {
        let records = if unread.len() == 1 { "1 record".to_string() } else { format!("{} records", unread.len()) };
        out.say(format!("{records} could not be read, so the table goes without: {}.", unread.join(", ")));
    }
    out.list(scatters.collect::<Vec<_>>());
    if !defects.is_empty() {
        out.say("With a defect, whatever they give:").list(defects);
    }
    if rows.iter().any(|row| row.share.is_some() && row.believed().is_none()) {
        out.say("Units whose meter, clock or label is to be checked stand last and are in no mean.");
    }
    out.say(
        "At the AC outlet: a full charge under a fifth of the label in watts. After ± stands the half-width of the 95 % interval; a \
         meter's error is in all units that it measured alike. Idle draw and conversion lean on typical figures where one load was \
         tested.",
    );
    out
}

/// The table as comma-separated values; empty cells where nothing was tested.
#[must_use]
pub fn csv(rows: &[Row]) -> String {
    let mut out = String::from(
        "file,unit,model,label_wh,delivered_wh,delivered_plus_minus_wh,share_percent,share_plus_minus_percent,idle_w,\
         idle_plus_minus_w,conversion_percent,conversion_plus_minus_percent,round_trip_percent,round_trip_plus_minus_percent,\
         verdict,defects\n",
    );
    let pair = |estimate: &Option<Estimate>, scale: f64| match estimate {
        Some(e) => format!("{:.3},{:.3}", scale * e.value, scale * e.plus_minus()),
        None => ",".into(),
    };
    for row in grouped(rows).iter().flat_map(|group| &group.rows) {
        let cells = [
            cell(&row.file),
            cell(&row.title),
            cell(row.model.as_deref().unwrap_or_default()),
            row.rated_wh.to_string(),
            pair(&row.delivered, 1.0),
            pair(&row.share, 100.0),
            pair(&row.idle_w, 1.0),
            pair(&row.conversion, 100.0),
            pair(&row.round_trip, 100.0),
            row.verdict.map_or("", code).to_string(),
            cell(&row.defects.join("; ")),
        ];
        out.push_str(&cells.join(","));
        out.push('\n');
    }
    out
}

/// The table for programs.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct TableJson {
    pub units: Vec<UnitJson>,
    pub models: Vec<ModelJson>,
    /// Files of records that could not be read.
    pub unread: Vec<String>,
}

/// One unit.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct UnitJson {
    pub file: String,
    pub title: String,
    pub model: Option<String>,
    pub rated_capacity_wh: f64,
    pub delivered_wh: Option<Value>,
    pub share_of_label: Option<Value>,
    pub idle_w: Option<Value>,
    pub conversion: Option<Value>,
    pub round_trip: Option<Value>,
    pub verdict: Option<&'static str>,
    /// What is wrong with it beside what it gives.
    pub defects: Vec<String>,
}

/// Units of one model, where there are two or more.
#[derive(Debug, Serialize)]
#[allow(missing_docs, reason = "the keys say it; units at their ends")]
pub struct ModelJson {
    pub model: String,
    pub rated_capacity_wh: f64,
    pub units: usize,
    pub mean_share_of_label: f64,
    /// Standard deviation from unit to unit.
    pub standard_deviation: f64,
}

/// The table for the schema.
#[must_use]
pub fn json(rows: &[Row], unread: &[String]) -> TableJson {
    let value = |estimate: &Option<Estimate>| estimate.as_ref().map(Value::from);
    let groups = grouped(rows);
    let models = groups.iter().filter_map(|group| {
        let (mean, spread) = group.scatter()?;
        Some(ModelJson {
            model: group.rows[0].kind().0.to_string(),
            rated_capacity_wh: group.rows[0].rated_wh,
            units: group.shares().len(),
            mean_share_of_label: mean,
            standard_deviation: spread,
        })
    });
    let units = groups.iter().flat_map(|group| &group.rows).map(|row| UnitJson {
        file: row.file.clone(),
        title: row.title.clone(),
        model: row.model.clone(),
        rated_capacity_wh: row.rated_wh,
        delivered_wh: value(&row.delivered),
        share_of_label: value(&row.share),
        idle_w: value(&row.idle_w),
        conversion: value(&row.conversion),
        round_trip: value(&row.round_trip),
        verdict: row.verdict.map(code),
        defects: row.defects.clone(),
    });
    TableJson { units: units.collect(), models: models.collect(), unread: unread.to_vec() }
}
