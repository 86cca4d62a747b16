//! Runs of energy through a meter: `[[capacity]]` and `[[wall]]`.

use super::agree::{self, On, Stamps};
use super::log;
use super::model::{CapacityTest, Meter, MeterCheck, Metered, Reading, Run, WallTest, display_doubt};
use crate::scenario::amount::shown;
use crate::scenario::fields::Fields;
use crate::scenario::forms::{Braces, Fault, Form, Item, quoted, tidy};
use crate::scenario::nearest::nearest;
use crate::scenario::problem::Problem;
use crate::scenario::schema;
use crate::scenario::source::join;
use crate::units::{Amps, Fraction, Hours, Uncertain, Volts, Watts};
use serde_json::{Value as Json, json};

/// Limits of a reading where no meter is described: the displays of units are rough. No source.
const UNNAMED_ACCURACY: Fraction = Fraction(0.05);
/// Rise of the charge within a discharge that a display may show by itself.
const RISE: f64 = 0.02;
/// Longest run: a fortnight.
pub(in crate::scenario) const LONGEST: Hours = Hours(14.0 * 24.0);

/// What reading a run needs to know.
pub(super) struct Context<'a> {
    /// The meters described.
    pub meters: &'a [Meter],
    /// The clock of the place, where it is known.
    pub zone: Option<&'a jiff::tz::TimeZone>,
    /// Gives the text of a log beside the record.
    pub logs: &'a dyn Fn(&str) -> Result<String, String>,
}

/// `[[meter]]`.
pub(super) fn meter(fields: &Fields) -> Option<Meter> {
    Some(Meter { name: fields.get("name")?, accuracy: fields.get("accuracy")?, last_digit: fields.get("last_digit")? })
}

/// The meter that a test names, or the only one, or the unit's own display.
pub(super) fn the_meter(fields: &Fields, context: &Context) -> Option<Meter> {
    if !fields.has("meter") {
        let unnamed =
            || Meter { name: "the unit's own display".into(), accuracy: UNNAMED_ACCURACY, last_digit: Watts(1.0) };
        return Some(match context.meters {
            [only] => only.clone(),
            _ => unnamed(),
        });
    }
    let name: String = fields.get("meter")?;
    let found = context.meters.iter().find(|meter| meter.name.to_lowercase() == name.to_lowercase());
    if found.is_none() {
        let near = nearest(&name, context.meters.iter().map(|meter| meter.name.as_str()));
        let unknown = Problem::error(fields.key("meter"), "is not one of the meters described")
            .found(quoted(&name))
            .allowed("the name of a [[meter]]")
            .help(match near {
                Some(near) => format!("did you mean {}?", quoted(near)),
                None => "add a section [[meter]] with its name and accuracy".into(),
            });
        fields.findings().push(unknown);
    }
    found.cloned()
}

/// `[[meter_check]]`.
pub(super) fn meter_check(fields: &Fields, number: usize, context: &Context) -> Option<MeterCheck> {
    let meter = the_meter(fields, context);
    let (read, known) = (fields.get("read"), fields.get::<(Uncertain<Watts>, bool)>("known"));
    let name = fields.get("name").unwrap_or_else(|| format!("meter check {number}"));
    let (known, told) = known?;
    if !told || known.plus_minus == 0.0 {
        let vague = Problem::error(fields.key("known"), "does not say how well the load is known")
            .found(known.value.to_string())
            .allowed("a power with its ±, like \"100 W ± 1 %\"")
            .help("a meter checked against another one is as good as that one's limits");
        fields.findings().push(vague);
        return None;
    }
    let check = MeterCheck { name, meter: meter?, read: read?, known };
    let limits_w = check.meter.accuracy.0 * known.value.0;
    if limits_w <= known.plus_minus {
        let poor = Problem::error(fields.key("known"), "is known no better than the meter, so it checks nothing")
            .found(format!("{} ± {}", known.value, shown::<Watts>((10.0 * known.plus_minus).round() / 10.0)))
            .allowed(format!(
                "a load known better than the meter's own limits, ± {}",
                shown::<Watts>((10.0 * limits_w).round() / 10.0)
            ))
            .help("take a better meter beside it, or leave the check out");
        fields.findings().push(poor);
        return None;
    }
    agree::check_and_limits(fields, &check).then_some(check)
}

/// Which way the energy flows.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Way {
    Out,
    In,
}

pub(super) fn capacity(fields: &Fields, number: usize, context: &Context) -> Option<CapacityTest> {
    let name = fields.get("name").unwrap_or_else(|| format!("capacity test {number}"));
    Some(CapacityTest { name, outlet: fields.get("outlet")?, run: run(fields, Way::Out, context)? })
}

pub(super) fn wall(fields: &Fields, number: usize, context: &Context) -> Option<WallTest> {
    let name = fields.get("name").unwrap_or_else(|| format!("wall charge {number}"));
    Some(WallTest { name, run: run(fields, Way::In, context)? })
}

fn run(fields: &Fields, way: Way, context: &Context) -> Option<Run> {
    let meter = the_meter(fields, context);
    let (start, stop, said) = (fields.get("start"), fields.get("stop"), fields.get("lasted"));
    let mut clock: Hours = fields.get("clock")?;
    let charge = charges(fields, way);
    let load: Option<Watts> = fields.get("load");
    let logged = logged(fields, start, context);
    let ways = ["energy", "load", "readings", "log"];
    let given: Vec<&str> = ways.into_iter().filter(|name| fields.has(name)).collect();
    match given.as_slice() {
        [] => {
            let none = Problem::error(fields.key("load"), "is missing, and nothing else says what flowed")
                .allowed("one of load = \"100 W\", energy = \"450 Wh\", readings = […], log = \"run.csv\"");
            fields.findings().push(none);
            return None;
        }
        [_] | ["energy", "load"] => {}
        [first, second, ..] => {
            let both = Problem::error(fields.key(second), format!("and `{first}` cannot both be given"))
                .help("keep the better one: a log before readings, readings before one load")
                .against(fields.key(first), "the other one");
            fields.findings().push(both);
            return None;
        }
    }
    let stamps = Stamps { start, stop, lasted: said, clock };
    let mut lasted = agree::length(fields, context.zone, &stamps)?;
    let mut start = start;
    let metered = if fields.has("energy") {
        Metered::Counted(fields.get("energy")?)
    } else if fields.has("load") {
        Metered::Steady(load?)
    } else if fields.has("readings") {
        let readings: Vec<Reading> = fields.get("readings")?;
        lasted = lasted.or_else(|| readings.last().map(|last| last.after));
        Metered::Readings(readings)
    } else {
        let log = logged?;
        let on = On::of(log.start, &log.readings);
        if !agree::log_and_times(fields, context.zone, &Stamps { lasted, ..stamps }, &on) {
            return None;
        }
        start = start.or(log.start);
        lasted = Some(Hours(on.hours));
        clock = Hours(0.5 * on.step_h);
        Metered::Readings(on.readings)
    };
    let Some(lasted) = lasted.filter(|hours| hours.0 > 0.0) else {
        if !["start", "stop", "lasted"].iter().all(|name| fields.findings().clean(&fields.key(name))) {
            return None;
        }
        let missing = Problem::error(fields.key("lasted"), "is missing, and start and stop do not say it")
            .help("add start and stop, or a line like: lasted = \"4.5 h\"");
        fields.findings().push(missing);
        return None;
    };
    if LONGEST < lasted {
        let long = Problem::error(fields.key(if stop.is_some() { "stop" } else { "lasted" }), "makes the run too long")
            .found(shown::<Hours>(lasted.0))
            .allowed(format!("up to {}", shown::<Hours>(LONGEST.0)));
        fields.findings().push(long);
        return None;
    }
    let meter = meter?;
    if let (Metered::Counted(counted), Some(load)) = (&metered, load)
        && !agree::load_and_counter(fields, (load, counted), (lasted, clock), &meter)
    {
        return None;
    }
    let ambient = fields.get("ambient");
    let run = Run { start, lasted, clock, metered, meter, charge: charge?, ambient };
    check(fields, &run, way).then_some(run)
}

fn charges(fields: &Fields, way: Way) -> Option<(Uncertain<Fraction>, Uncertain<Fraction>)> {
    let displayed = |mut charge: Uncertain<Fraction>| {
        if charge.plus_minus == 0.0 {
            charge.plus_minus = display_doubt(charge.value.0);
        }
        charge
    };
    let (from, to) = (displayed(fields.get("from")?), displayed(fields.get("to")?));
    let wrong = match way {
        Way::Out => (from.value <= to.value).then_some("does not fall: a discharge ends lower than it began"),
        Way::In => (to.value <= from.value).then_some("does not rise: charging ends higher than it began"),
    };
    if let Some(what) = wrong {
        let clash = Problem::error(fields.key("to"), what)
            .found(shown::<Fraction>(to.value.0))
            .against(fields.key("from"), shown::<Fraction>(from.value.0));
        fields.findings().push(clash);
        return None;
    }
    Some((from, to))
}

/// Readings with their times, one after the other.
pub(in crate::scenario) struct Readings;

impl Readings {
    fn one() -> Braces<Reading> {
        Braces {
            keys: schema::record::reading(),
            wrong: "must be one reading",
            example: "{ after = \"0 h\", watts = \"101 W\" }",
            build: reading,
        }
    }
}

impl Form for Readings {
    type Output = Vec<Reading>;
    fn allowed(&self) -> String {
        format!("a list like {}", self.example())
    }
    fn example(&self) -> String {
        "[{ after = \"0 h\", watts = \"101 W\" }, { after = \"1 h\", watts = \"99 W\" }]".into()
    }
    fn read(&self, item: &Item) -> Result<Vec<Reading>, Fault> {
        let entries = item.entries().ok_or_else(|| Fault::new("must be a list of readings"))?;
        if entries.is_empty() {
            return Err(Fault::new("is empty"));
        }
        let (one, mut readings, mut sound) = (Readings::one(), Vec::<Reading>::new(), true);
        for entry in &entries {
            match (entry.read(&one), readings.last()) {
                (Some(reading), Some(before)) if reading.after <= before.after => {
                    let back = Problem::error(join(&entry.key, "after"), "goes back from the reading before it")
                        .found(shown::<Hours>(reading.after.0))
                        .allowed(format!("later than {}", shown::<Hours>(before.after.0)));
                    item.findings.push(back);
                    sound = false;
                }
                (Some(reading), _) => readings.push(reading),
                (None, _) => sound = false,
            }
        }
        if sound { Ok(readings) } else { Err(Fault::told()) }
    }
    fn json(&self) -> Json {
        json!({ "type": "array", "items": Readings::one().json(), "minItems": 1 })
    }
}

fn reading(fields: &Fields) -> Option<Reading> {
    let watts = match (fields.get::<Volts>("volts"), fields.get::<Amps>("amps")) {
        (Some(volts), Some(amps)) if !fields.has("watts") => Some(volts * amps),
        _ => fields.needed("watts"),
    };
    Some(Reading { after: fields.get("after")?, watts: watts?, charge: fields.get("charge") })
}

fn logged(fields: &Fields, start: Option<jiff::civil::DateTime>, context: &Context) -> Option<log::Log> {
    let clock = log::Clock { zone: context.zone.cloned(), start };
    let name: String = fields.get("log")?;
    let read = (context.logs)(&name).and_then(|text| log::parse(&text, &clock).map_err(|error| error.to_string()));
    let wrong = |why| {
        let problem = Problem::error(fields.key("log"), "cannot be used");
        fields.findings().push(problem.found(format!("{}: {why}", tidy(&name))));
    };
    read.map_err(wrong).ok()
}

/// Refuses what cannot be; true where nothing was.
fn check(fields: &Fields, run: &Run, way: Way) -> bool {
    let Metered::Readings(readings) = &run.metered else { return true };
    let key = fields.key(if fields.has("log") { "log" } else { "readings" });
    if let Some(late) = readings.iter().find(|reading| run.lasted.0 * (1.0 + 1e-9) + 1e-6 < reading.after.0) {
        let beyond = Problem::error(&key, "holds a reading after the stop")
            .found(format!("one after {}", shown::<Hours>(late.after.0)))
            .allowed(format!("up to {}, when the run stopped", shown::<Hours>(run.lasted.0)));
        fields.findings().push(beyond);
        return false;
    }
    if way == Way::Out {
        agree::trips(fields, &key, readings);
        let noted = readings.iter().filter_map(|reading| Some((reading.after, reading.charge?)));
        let mut lowest = Fraction::ONE;
        for (after, charge) in noted {
            if lowest.0 + RISE + 1e-9 < charge.0 {
                let rising = Problem::error(&key, "shows the charge rising within a discharge")
                    .found(format!(
                        "{} after {}, when it had been {}",
                        shown::<Fraction>(charge.0),
                        shown::<Hours>(after.0),
                        shown::<Fraction>(lowest.0)
                    ))
                    .help("something charged the unit: unplug wall and panels and run the test again");
                fields.findings().push(rising);
                return false;
            }
            lowest = if charge < lowest { charge } else { lowest };
        }
        return agree::charges(fields, &key, run, readings);
    }
    true
}
