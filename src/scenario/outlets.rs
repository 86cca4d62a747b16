//! The outlets of a station: the inverter, the 12 V outlet, USB.

use super::amount::{Amount, Unsure, shown};
use super::fields::Fields;
use super::forms::{Fault, Form, Item, YesNo};
use super::model::{EfficiencyPoint, Inverter, Outlet};
use super::problem::Problem;
use super::source::join;
use crate::units::{Fraction, Uncertain, Watts};
use toml::de::DeValue;

/// Efficiency at half load where nothing is said. Typical, no source.
const HALF_LOAD: f64 = 0.90;
/// Idle draw where nothing is said, as a share of the rated power. On the high side, typical, no source.
const IDLE_SHARE: f64 = 0.015;
/// Half-width of the 95 % interval of that, over it: inverters of one size differ by a factor of three. Typical, no source.
const IDLE_PLUS_MINUS: f64 = 0.5;
/// Least idle draw where nothing is said \[W\]. Typical, no source.
const IDLE_LEAST_W: f64 = 5.0;
/// Least share of the load that a converter loses besides its idle draw, for the default efficiency. Typical, no source.
const LOAD_LOSS: f64 = 0.04;

/// An inverter under a fifth of its power or more that does less is hardly meant so. No source.
const LEAST_LIKELY: Fraction = Fraction(0.6);

/// A DC or USB outlet with its typical efficiency and idle draw.
pub(super) fn plain(fields: &mut Fields, efficiency: Fraction, idle: Watts) -> Option<Outlet> {
    let limit = fields.required("limit", &Amount::positive());
    let efficiency = fields.or("efficiency", &Amount::positive_to(Fraction::ONE), efficiency);
    let idle = fields.or("idle", &Amount::from_zero(), idle);
    Some(Outlet { limit: limit?, efficiency, idle, cable: None })
}

pub(super) fn inverter(fields: &mut Fields) -> Option<Inverter> {
    let rated = fields.required("rated", &Amount::<Watts>::positive());
    let surge = fields.optional("surge", &Amount::<Watts>::positive());
    let idle_given = fields.has("idle");
    let idle = fields.optional("idle", &Unsure(Amount::<Watts>::from_zero()));
    let sleeps = fields.or("sleeps", &YesNo, false);
    let points = points(fields, rated);
    let rated = rated?;
    for (key, point) in points.iter().filter(|(_, p)| p.efficiency < LEAST_LIKELY && 0.2 * rated.0 <= p.load.0) {
        let poor = Problem::warning(key, "is less than any inverter does")
            .found(format!("{} at {}", shown::<Fraction>(point.efficiency.0), shown::<Watts>(point.load.0)))
            .allowed("85 to 95 % for most (typical, no source)")
            .help("efficiency is energy out of the outlet over energy into the inverter: is a digit missing?");
        fields.findings().push(poor);
    }
    if let Some(surge) = surge
        && surge < rated
    {
        let clash = Problem::error(fields.key("surge"), "must not be below `rated`")
            .found(surge.to_string())
            .allowed(format!("{rated} or more"))
            .help("surge is what the inverter can give for a moment, rated what it can give for hours")
            .against(fields.key("rated"), "for hours");
        fields.findings().push(clash);
    }
    if let (true, Some(idle)) = (idle_given, idle) {
        check_idle(fields, idle, &points);
    }
    let efficiency_assumed = points.is_empty();
    let (idle, points) = fill_in(rated, idle, points);
    let efficiency = points.into_iter().map(|(_, point)| point).collect();
    Some(Inverter { rated, surge, idle, efficiency, sleeps, idle_assumed: !idle_given, efficiency_assumed })
}

/// Fills in what is not given so that it agrees with what is.
fn fill_in(
    rated: Watts,
    idle: Option<Uncertain<Watts>>,
    mut points: Vec<(String, EfficiencyPoint)>,
) -> (Uncertain<Watts>, Vec<(String, EfficiencyPoint)>) {
    let half = rated * 0.5;
    if points.is_empty() {
        // Never better than the idle draw leaves room for.
        let room = idle.map_or(1.0, |idle| half.0 / (half.0 * (1.0 + LOAD_LOSS) + idle.value.0 + idle.plus_minus));
        points.push((String::new(), EfficiencyPoint { load: half, efficiency: Fraction(HALF_LOAD.min(room)) }));
    }
    let idle = idle.unwrap_or_else(|| {
        let least_loss = points.iter().map(|(_, point)| loss_w(point)).fold(f64::INFINITY, f64::min);
        let idle_w = (IDLE_SHARE * rated.0).max(IDLE_LEAST_W).min(least_loss);
        Uncertain::new(Watts(idle_w), IDLE_PLUS_MINUS * idle_w)
    });
    (idle, points)
}

/// What is lost at a point \[W\]: the load over the efficiency, less the load.
fn loss_w(point: &EfficiencyPoint) -> f64 {
    point.load.0 / point.efficiency.0 - point.load.0
}

/// An inverter cannot lose less under load than it draws idle.
fn check_idle(fields: &Fields, idle: Uncertain<Watts>, points: &[(String, EfficiencyPoint)]) {
    for (key, point) in points {
        let loss = loss_w(point);
        if idle.value.0 <= loss {
            continue;
        }
        let most = point.load.0 / (point.load.0 + idle.value.0);
        let clash = Problem::error(key, "cannot be: it would lose less than the idle draw")
            .found(format!(
                "{} at {}, which loses {loss:.1} W; idle {}",
                shown::<Fraction>(point.efficiency.0),
                shown::<Watts>(point.load.0),
                idle.value
            ))
            .allowed(format!("at most {:.1} % with this idle draw", (most * 1000.0).floor() / 10.0))
            .help("efficiency counts the idle draw too: energy out of the outlet over energy into the inverter")
            .against(fields.key("idle"), "drawn with nothing connected");
        fields.findings().push(clash);
    }
}

/// The efficiency points with the key of each; empty when none are given or none can be read.
fn points(fields: &mut Fields, rated: Option<Watts>) -> Vec<(String, EfficiencyPoint)> {
    let form = Amount::positive_to(Fraction::ONE);
    let Some(item) = fields.item("efficiency") else { return Vec::new() };
    match item.value {
        DeValue::String(_) | DeValue::Float(_) | DeValue::Integer(_) => {
            let Some(efficiency) = fields.read(&item, &form) else { return Vec::new() };
            rated
                .map(|rated| (item.key.clone(), EfficiencyPoint { load: rated * 0.5, efficiency }))
                .into_iter()
                .collect()
        }
        DeValue::Array(list) if !list.is_empty() => {
            let mut points = Vec::new();
            for (index, entry) in list.iter().enumerate() {
                let key = join(&item.key, &index.to_string());
                let entry = Item { key, span: entry.span(), value: entry.get_ref() };
                point(fields, &entry, rated, &mut points);
            }
            points.sort_by(|(_, a), (_, b)| a.load.0.total_cmp(&b.load.0));
            points
        }
        _ => {
            let fault =
                Fault::new("cannot be read as an efficiency").help(format!("write {}, or a list", form.example()));
            fields.refuse(&item, fault, POINTS.into());
            Vec::new()
        }
    }
}

const POINTS: &str = "one share, or a list like [{ load = \"100 W\", efficiency = \"87 %\" }]";

fn point(fields: &Fields, entry: &Item, rated: Option<Watts>, points: &mut Vec<(String, EfficiencyPoint)>) {
    let Some(mut inner) = Fields::of(entry, fields.findings()) else {
        let fault = Fault::new("must give a load and the efficiency there");
        fields.refuse(entry, fault, "{ load = \"100 W\", efficiency = \"87 %\" }".into());
        return;
    };
    let load = inner.required("load", &Amount::<Watts>::positive());
    let efficiency = inner.required("efficiency", &Amount::positive_to(Fraction::ONE));
    let key = inner.key("load");
    inner.finish();
    let (Some(load), Some(efficiency)) = (load, efficiency) else { return };
    if let Some(rated) = rated
        && rated < load
    {
        let clash = Problem::error(&key, "is above the inverter's rated power")
            .found(load.to_string())
            .allowed(format!("up to {rated}"))
            .against(fields.key("rated"), "rated power");
        fields.findings().push(clash);
    } else if let Some((other, _)) = points.iter().find(|(_, point)| point.load == load) {
        let clash =
            Problem::error(&key, "is given twice").found(load.to_string()).against(join(other, "load"), "first here");
        fields.findings().push(clash);
    } else {
        points.push((entry.key.clone(), EfficiencyPoint { load, efficiency }));
    }
}
