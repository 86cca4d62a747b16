//! `[[load]]`: what is plugged in.

use super::appliances;
use super::fields::Fields;
use super::forms::{Fault, Form, Item, OneOf};
use super::kinds;
use super::model::{Load, OutletKind, Priority, Weekdays};
use super::problem::Problem;
use super::schema::load::{CHARGE, COOLER, PROFILE, PUMP, STEADY};
use crate::units::{Fraction, Uncertain, Watts};
use serde_json::{Value as Json, json};

pub(super) const PRIORITY: OneOf<Priority> =
    OneOf { names: &[("vital", Priority::Vital), ("useful", Priority::Useful), ("spare", Priority::Spare)], also: &[] };

/// The charge below which a pump rests, where nothing is said (common practice, no source).
const PUMPS_ABOVE: Fraction = Fraction(0.9);

pub(super) fn read(fields: &Fields) -> Option<Load> {
    let kind = fields.kind();
    let (outlet, priority) = (fields.get("outlet"), fields.get::<Priority>("priority"));
    let watts = watts(fields, kind);
    let starting: Option<Watts> = fields.get("starting_watts");
    if let (Some(starting), Some(watts)) = (starting, watts)
        && starting < watts.value
    {
        let clash = Problem::error(fields.key("starting_watts"), "is less than it draws while it runs")
            .found(starting.to_string())
            .allowed(format!("{} or more", watts.value))
            .help("a motor takes several times its running watts for a moment: leave it out where you do not know")
            .against(fields.key("watts"), "while it runs");
        fields.findings().push(clash);
    }
    let whole: u32 = fields.get("count")?;
    let count = f64::from(whole);
    let pattern = kind.and_then(|kind| kinds::read(fields, kind, whole, watts.map(|watts| watts.value)));
    let elsewhere = elsewhere(fields, outlet);
    of_the_library(fields, kind);
    let medical = fields.get("medical")?;
    if medical {
        // A thing of the library may say it for the file.
        let said = fields.key(if fields.says("medical") { "medical" } else { "like" });
        let note = Problem::note(said.clone(), "marks something that a person's health hangs on")
            .help("an estimate is no safety plan: keep a second source of power, and ask the device's supplier and your electricity company what they offer");
        fields.findings().push(note);
        if priority.is_some_and(|priority| priority != Priority::Vital) {
            let clash = Problem::warning(fields.key("priority"), "lets a medical load be switched off")
                .help("write priority = \"vital\", or leave medical out")
                .against(said, "a person's health hangs on it");
            fields.findings().push(clash);
        }
    }
    if !medical
        && !fields.has("medical")
        && fields.get::<String>("name").is_some_and(|name| super::appliances::sounds_medical(&name))
    {
        let note = Problem::warning(fields.key("name"), "sounds like something that a person's health hangs on")
            .help("write medical = true, so that it is judged with care, or medical = false where nothing hangs on it");
        fields.findings().push(note);
    }
    if kind == Some(COOLER) && 1 < whole {
        let several =
            Problem::error(fields.key("count"), "cannot be given for a cooler").help("write a [[load]] for each");
        fields.findings().push(several);
    }
    let watts = watts?;
    Some(Load {
        name: fields.get("name")?,
        outlet: outlet?,
        priority: priority?,
        watts: Uncertain::new(watts.value * count, watts.plus_minus * count),
        count: whole,
        tolerates: fields.get("tolerates"),
        starting,
        pattern: pattern?,
        days: fields.get("days")?,
        varies: fields.get("varies")?,
        // A pump that nothing vital hangs on runs on what is left over.
        off_below: fields.get("off_below").or_else(|| {
            (kind == Some(PUMP) && priority.is_some_and(|priority| priority != Priority::Vital)).then_some(PUMPS_ABOVE)
        }),
        could_use: elsewhere.map(|(outlet, there)| (outlet, there.unwrap_or(watts.value) * count)),
        medical,
    })
}

/// Points to the library where a load is called like a thing in it, and its watts are missing or it would run all the time where
/// its like does not.
fn of_the_library(fields: &Fields, kind: Option<&str>) {
    if fields.has("like") {
        return;
    }
    let Some(name) = fields.get::<String>("name") else { return };
    let found = appliances::by_word(&name);
    let Some(first) = found.first() else { return };
    let cooler = first.says("label").is_some();
    let runs_at_times = cooler || !first.hours().is_empty() || first.says("energy_a_day").is_some();
    let steady =
        !fields.has("hours") && kind == Some(STEADY) && fields.has("watts") && !fields.has("kind") && runs_at_times;
    let what = match (fields.has("watts") || kind == Some(PROFILE), steady) {
        (false, _) => "is a thing of the library",
        (true, true) if cooler => "is taken to draw its watts all day, which a compressor does not",
        (true, true) => "is taken to draw its watts all day, which its like in the library does not",
        (true, false) => return,
    };
    let more = if steady && !cooler {
        "; or write hours = \"18:00-23:00\""
    } else if steady {
        "; or write duty = \"30 %\", the share of the time that it runs"
    } else {
        ""
    };
    fields.findings().push(
        Problem::note(fields.key("name"), what)
            .help(format!("write like = {}: it gives what you leave out{more}", appliances::offered(&found))),
    );
}

/// What it draws while it runs. A profile says that itself.
fn watts(fields: &Fields, kind: Option<&str>) -> Option<Uncertain<Watts>> {
    if kind == Some(PROFILE) {
        return Some(Uncertain::exact(Watts(0.0)));
    }
    let (watts, spread): (Uncertain<Watts>, bool) = fields.get("watts")?;
    if spread && matches!(kind, Some(COOLER | CHARGE | PUMP)) {
        fields.refuse("watts", Fault::new("takes no uncertainty").help("write the value alone, without ±"));
        return None;
    }
    Some(watts)
}

fn elsewhere(fields: &Fields, outlet: Option<OutletKind>) -> Option<(OutletKind, Option<Watts>)> {
    let could_use = fields.get("could_use");
    if !fields.has("could_use") && fields.has("watts_there") {
        let lonely = Problem::error(fields.key("watts_there"), "is of no use without `could_use`")
            .help("add could_use = \"dc\", the outlet that these watts belong to, or leave this out");
        fields.findings().push(lonely);
    }
    if could_use.is_some() && could_use == outlet {
        let clash = Problem::error(fields.key("could_use"), "is the outlet that it uses already")
            .help("name another outlet, or leave this out")
            .against(fields.key("outlet"), "used already");
        fields.findings().push(clash);
    }
    Some((could_use?, fields.get("watts_there")))
}

const fn on(days: [u8; 7]) -> Weekdays {
    let mut week = [false; 7];
    let mut day = 0;
    while day < 7 {
        week[day] = days[day] == 1;
        day += 1;
    }
    Weekdays(week)
}

pub(super) const DAYS: OneOf<Weekdays> = OneOf {
    names: &[
        ("weekdays", on([1, 1, 1, 1, 1, 0, 0])),
        ("weekends", on([0, 0, 0, 0, 0, 1, 1])),
        ("every day", Weekdays::ALL),
        ("Monday", on([1, 0, 0, 0, 0, 0, 0])),
        ("Tuesday", on([0, 1, 0, 0, 0, 0, 0])),
        ("Wednesday", on([0, 0, 1, 0, 0, 0, 0])),
        ("Thursday", on([0, 0, 0, 1, 0, 0, 0])),
        ("Friday", on([0, 0, 0, 0, 1, 0, 0])),
        ("Saturday", on([0, 0, 0, 0, 0, 1, 0])),
        ("Sunday", on([0, 0, 0, 0, 0, 0, 1])),
    ],
    also: &[
        ("Mon", on([1, 0, 0, 0, 0, 0, 0])),
        ("Tue", on([0, 1, 0, 0, 0, 0, 0])),
        ("Wed", on([0, 0, 1, 0, 0, 0, 0])),
        ("Thu", on([0, 0, 0, 1, 0, 0, 0])),
        ("Fri", on([0, 0, 0, 0, 1, 0, 0])),
        ("Sat", on([0, 0, 0, 0, 0, 1, 0])),
        ("Sun", on([0, 0, 0, 0, 0, 0, 1])),
        ("weekend", on([0, 0, 0, 0, 0, 1, 1])),
    ],
};

/// Days of the week: one name or a list of them.
pub(super) struct Days;

impl Form for Days {
    type Output = Weekdays;
    fn allowed(&self) -> String {
        DAYS.allowed()
    }
    fn example(&self) -> String {
        DAYS.example()
    }
    fn read(&self, item: &Item) -> Result<Weekdays, Fault> {
        let Some(entries) = item.entries() else { return DAYS.read(item) };
        if entries.is_empty() {
            return Err(Fault::new("is empty").help("leave it out for every day"));
        }
        entries.iter().try_fold(Weekdays::NONE, |week, entry| Ok(week.or(entry.read(&DAYS).ok_or_else(Fault::told)?)))
    }
    fn json(&self) -> Json {
        json!({ "anyOf": [DAYS.json(), { "type": "array", "items": DAYS.json(), "minItems": 1 }] })
    }
}
