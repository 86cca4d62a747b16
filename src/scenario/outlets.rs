//! The outlets of a station: the inverter, the 12 V outlet, USB.

use super::amount::{Amount, shown};
use super::fields::Fields;
use super::forms::{Braces, Fault, Form, Item};
use super::model::{Cable, EfficiencyPoint, Inverter, Outlet, StaysOn};
use super::problem::Problem;
use super::schema::{passed_on, station};
use super::source::join;
use crate::units::{Fraction, Hours, Uncertain, Watts};
use serde_json::{Value as Json, json};

/// Efficiency at half load where nothing is said. Typical, no source.
const HALF_LOAD: f64 = 0.90;
/// Idle draw where nothing is said, as a share of the rated power. On the high side, typical, no source.
pub(crate) const IDLE_SHARE: f64 = 0.015;
/// Half-width of the 95 % interval of that, over it: inverters of one size differ by a factor of three. Typical, no source.
const IDLE_PLUS_MINUS: f64 = 0.5;
/// Least idle draw where nothing is said \[W\]. Typical, no source.
const IDLE_LEAST_W: f64 = 5.0;
/// Least share of the load that a converter loses besides its idle draw, for the default efficiency. Typical, no source.
const LOAD_LOSS: f64 = 0.04;

/// Least load that an AC outlet stays on for, or a sleeping inverter wakes for, between these. Common practice, no source.
const LEAST_LOAD: (Watts, Watts) = (Watts(4.0), Watts(16.0));
/// How long it stays on under less, between these. Common practice, no source; one that goes off sooner would go off in the
/// pauses of a compressor too.
const OFF_AFTER: (Hours, Hours) = (Hours(1.0), Hours(8.0));

/// An inverter under a fifth of its power or more that does less is hardly meant so. No source.
const LEAST_LIKELY: Fraction = Fraction(0.6);

/// A DC or USB outlet.
pub(super) fn plain(fields: &Fields, cable: Option<Cable>) -> Option<Outlet> {
    Some(Outlet {
        limit: fields.get("limit")?,
        efficiency: fields.get("efficiency")?,
        idle: fields.get("idle")?,
        cable,
    })
}

pub(super) fn inverter(fields: &Fields) -> Option<Inverter> {
    let rated: Watts = fields.get("rated")?;
    let surge: Option<Watts> = fields.get("surge");
    let idle_given = fields.has("idle");
    let idle = fields.get("idle");
    let points = points(fields, rated);
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
    if let Some(idle) = idle {
        check_idle(fields, idle, &points);
    }
    let efficiency_assumed = points.is_empty();
    let (idle, points) = fill_in(rated, idle, points);
    let efficiency = points.into_iter().map(|(_, point)| point).collect();
    let sleeps = fields.get("sleeps")?;
    let stays = stays_on(fields, sleeps)?;
    let switchover = fields.get("switchover");
    if switchover.is_some() && !stays.ups {
        let alone = Problem::error(fields.key("switchover"), "goes with `ups = true` only")
            .help("an outlet that somebody switches over has no switch-over time: write ups = true, or leave this out");
        fields.findings().push(alone);
    }
    let idle_assumed = !idle_given;
    Some(Inverter { rated, surge, idle, efficiency, sleeps, switchover, stays, idle_assumed, efficiency_assumed })
}

/// When the outlet is on. What wakes an inverter that sleeps and what keeps another one on are different keys.
fn stays_on(fields: &Fields, sleeps: bool) -> Option<StaysOn> {
    let (own, others) = if sleeps {
        ("wakes_above", &["switches_off_below", "switches_off_after"][..])
    } else {
        ("switches_off_below", &["wakes_above"][..])
    };
    for other in others.iter().filter(|key| fields.has(key)) {
        let help = if sleeps {
            "an inverter that sleeps wakes by itself: say above what with wakes_above"
        } else {
            "wakes_above goes with sleeps = true; an outlet that somebody must switch on again has switches_off_below"
        };
        let clash = Problem::error(fields.key(other), format!("does not go with sleeps = {sleeps}")).help(help);
        fields.findings().push(clash);
    }
    let told: Option<Watts> = fields.get(own);
    Some(StaysOn {
        least: told.map_or(LEAST_LOAD, |watts| (watts, watts)),
        assumed: told.is_none(),
        off_after: fields.get("switches_off_after").map_or(OFF_AFTER, |hours| (hours, hours)),
        ups: fields.get("ups")?,
        comes_back: fields.get("comes_back")?,
    })
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

/// One efficiency, or several with their loads: each with its key.
pub(super) struct Points;

const POINTS: &str = "one share, or a list like [{ load = \"100 W\", efficiency = \"87 %\" }]";

impl Points {
    fn share() -> Amount<Fraction> {
        passed_on()
    }

    fn one() -> Braces<EfficiencyPoint> {
        Braces {
            keys: station::point(),
            wrong: "must give a load and the efficiency there",
            example: "{ load = \"100 W\", efficiency = \"87 %\" }",
            build: |inner| Some(EfficiencyPoint { load: inner.get("load")?, efficiency: inner.get("efficiency")? }),
        }
    }
}

impl Form for Points {
    /// A point without a load lies at half load.
    type Output = Vec<(String, Option<Watts>, Fraction)>;
    fn allowed(&self) -> String {
        POINTS.into()
    }
    fn example(&self) -> String {
        Points::share().example()
    }
    fn read(&self, item: &Item) -> Result<Self::Output, Fault> {
        let wrong = || {
            Fault::new("cannot be read as an efficiency")
                .help(format!("write {}, or a list", Points::share().example()))
        };
        match item.entries() {
            Some(entries) if !entries.is_empty() => {
                let one = Points::one();
                let point = |entry: Item| {
                    let point = entry.read(&one)?;
                    Some((entry.key, Some(point.load), point.efficiency))
                };
                Ok(entries.into_iter().filter_map(point).collect())
            }
            None if item.number().is_some() || item.value.is_str() => {
                let share = item.read(&Points::share()).ok_or_else(Fault::told)?;
                Ok(vec![(item.key.clone(), None, share)])
            }
            _ => Err(wrong()),
        }
    }
    fn json(&self) -> Json {
        json!({ "anyOf": [Points::share().json(), { "type": "array", "items": Points::one().json(), "minItems": 1 }] })
    }
}

/// The efficiency points with the key of each; empty when none are given or none can be used.
fn points(fields: &Fields, rated: Watts) -> Vec<(String, EfficiencyPoint)> {
    let mut points: Vec<(String, EfficiencyPoint)> = Vec::new();
    for (key, load, efficiency) in fields.get::<<Points as Form>::Output>("efficiency").unwrap_or_default() {
        let at = load.unwrap_or(rated * 0.5);
        if rated < at {
            let clash = Problem::error(join(&key, "load"), "is above the inverter's rated power")
                .found(at.to_string())
                .allowed(format!("up to {rated}"))
                .against(fields.key("rated"), "rated power");
            fields.findings().push(clash);
        } else if let Some((other, _)) = points.iter().find(|(_, point)| point.load == at) {
            let clash = Problem::error(join(&key, "load"), "is given twice")
                .found(at.to_string())
                .against(join(other, "load"), "first here");
            fields.findings().push(clash);
        } else {
            points.push((key, EfficiencyPoint { load: at, efficiency }));
        }
    }
    points.sort_by(|(_, a), (_, b)| a.load.0.total_cmp(&b.load.0));
    points
}
