//! `[[load]]`: what is plugged in.

use super::amount::{Amount, Unsure, shown};
use super::fields::Fields;
use super::forms::{Fault, Form, Item, OneOf, Text, Whole, YesNo};
use super::model::{Charge, ClockWindow, HourlyProfile, Load, OutletKind, Pattern, Priority, Weekdays};
use super::problem::Problem;
use super::source::join;
use super::station::OUTLET;
use super::{appliances, clock, cooler};
use crate::units::{Fraction, Uncertain, WattHours, Watts};
use toml::de::DeValue;

const PRIORITY: OneOf<Priority> =
    OneOf { names: &[("vital", Priority::Vital), ("useful", Priority::Useful), ("spare", Priority::Spare)], also: &[] };

/// The kinds of load by name.
#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Steady,
    Schedule,
    Duty,
    Profile,
    Charge,
    Cooler,
}

const KIND: OneOf<Kind> = OneOf {
    names: &[
        ("steady", Kind::Steady),
        ("schedule", Kind::Schedule),
        ("duty", Kind::Duty),
        ("profile", Kind::Profile),
        ("charge", Kind::Charge),
        ("cooler", Kind::Cooler),
    ],
    also: &[],
};

/// Keys that only some kinds have, with what to do where they stand at another.
const ONLY: [(&str, &[Kind], &str); 19] = [
    ("hours", &[Kind::Schedule, Kind::Duty, Kind::Charge], "write kind = \"schedule\", or leave hours out"),
    ("days", &[Kind::Schedule, Kind::Duty], "write kind = \"schedule\" with hours, or leave days out"),
    ("duty", &[Kind::Duty], "write kind = \"duty\", or leave duty out"),
    ("profile", &[Kind::Profile], "write kind = \"profile\", or leave profile out"),
    ("energy_a_day", &[Kind::Charge], "write kind = \"charge\", or leave energy_a_day out"),
    ("holds", &[Kind::Charge], "leave it out"),
    ("charging_efficiency", &[Kind::Charge], "leave it out"),
    ("label", &[Kind::Cooler], "write kind = \"cooler\", or leave label out"),
    ("label_room", &[Kind::Cooler], "leave it out"),
    ("fridge_volume", &[Kind::Cooler], "leave it out"),
    ("fridge_contents", &[Kind::Cooler], "leave it out"),
    ("fridge_set", &[Kind::Cooler], "leave it out"),
    ("freezer_volume", &[Kind::Cooler], "leave it out"),
    ("freezer_contents", &[Kind::Cooler], "leave it out"),
    ("freezer_set", &[Kind::Cooler], "leave it out"),
    ("thermostat_band", &[Kind::Cooler], "leave it out"),
    ("room", &[Kind::Cooler], "leave it out"),
    ("door_openings", &[Kind::Cooler], "leave it out"),
    ("food", &[Kind::Cooler], "leave it out"),
];

/// What a load that is like an appliance, but of another kind, does not take from it.
const OF_A_KIND: &[&str] = &[
    "kind",
    "hours",
    "days",
    "duty",
    "energy_a_day",
    "holds",
    "charging_efficiency",
    "label",
    "label_room",
    "fridge_volume",
    "fridge_contents",
    "fridge_set",
    "freezer_volume",
    "freezer_contents",
    "freezer_set",
    "thermostat_band",
];

/// Most power of one load.
const MOST: Watts = Watts(100_000.0);

pub(super) fn read(fields: &mut Fields) -> Option<Load> {
    let share = || Amount::between(Fraction::ZERO, Fraction::ONE);
    like(fields);
    let name = fields.required("name", &Text);
    let outlet = fields.required("outlet", &OUTLET);
    let priority = fields.required("priority", &PRIORITY);
    let kind = kind(fields);
    let watts = watts(fields, kind);
    let starting = fields.optional("starting_watts", &Amount::<Watts>::positive_to(MOST));
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
    let whole = fields.or("count", &Whole { least: 1, greatest: 1000 }, 1);
    let count = f64::from(whole);
    let pattern = pattern(fields, kind, whole, watts.map(|watts| watts.value));
    let days = days(fields).unwrap_or(Weekdays::ALL);
    let varies = fields.or("varies", &share(), Fraction::ZERO);
    let off_below = fields.optional("off_below", &share());
    let elsewhere = elsewhere(fields, outlet);
    let medical = fields.or("medical", &YesNo, false);
    if medical {
        let note = Problem::note(fields.key("medical"), "marks something that a person's health hangs on")
            .help("an estimate is no safety plan: keep a second source of power, and ask the device's supplier and your electricity company what they offer");
        fields.findings().push(note);
        if priority.is_some_and(|priority| priority != Priority::Vital) {
            let clash = Problem::warning(fields.key("priority"), "lets a medical load be switched off")
                .help("write priority = \"vital\", or leave medical out")
                .against(fields.key("medical"), "a person's health hangs on it");
            fields.findings().push(clash);
        }
    }
    if kind == Some(Kind::Cooler) {
        let clash = |key: &str, what: &str, help: &str| Problem::error(fields.key(key), what).help(help);
        if fields.says("varies") {
            fields.findings().push(clash(
                "varies",
                "has no meaning for a cooler: room and door decide",
                "leave it out; an unsure label is written label = \"290 kWh a year ± 10 %\"",
            ));
        }
        if 1 < whole {
            fields.findings().push(clash("count", "cannot be given for a cooler", "write a [[load]] for each"));
        }
    }
    let watts = watts?;
    let could_use = elsewhere.map(|(outlet, there)| (outlet, there.unwrap_or(watts.value) * count));
    Some(Load {
        name: name?,
        outlet: outlet?,
        priority: priority?,
        watts: Uncertain::new(watts.value * count, watts.plus_minus * count),
        starting,
        pattern: pattern?,
        days,
        varies,
        off_below,
        could_use,
        medical,
    })
}

/// What it draws while it runs. A profile says that itself.
fn watts(fields: &mut Fields, kind: Option<Kind>) -> Option<Uncertain<Watts>> {
    let amount = Amount::<Watts>::positive_to(MOST);
    match kind {
        Some(Kind::Profile) => {
            fields.item("watts");
            if fields.says("watts") {
                let twice = Problem::error(fields.key("watts"), "has no meaning for a profile")
                    .help("the file says the watts; leave this out");
                fields.findings().push(twice);
            }
            Some(Uncertain::exact(Watts(0.0)))
        }
        Some(Kind::Cooler | Kind::Charge) => fields.required("watts", &amount).map(Uncertain::exact),
        _ => fields.required("watts", &Unsure(amount)),
    }
}

/// Looks up an appliance and lets it stand in for what the file leaves out.
fn like(fields: &mut Fields) {
    let Some(item) = fields.item("like") else { return };
    let found = match item.value.as_str() {
        Some(text) => appliances::find(text),
        None => Err(None),
    };
    let appliance = match found {
        Ok(appliance) => Some(appliance),
        Err(near) => {
            let help = match near {
                Some(near) => format!("did you mean \"{}\"?", near.name),
                None => "tideover appliances lists them all".into(),
            };
            let fault = Fault::new("is not an appliance of the library").help(help);
            fields.refuse(&item, fault, "the name of an appliance, or a line of your own without `like`".into());
            // One cause is one problem: what any appliance would give is not missed beside it.
            near.or(appliances::all().first())
        }
    };
    let Some(appliance) = appliance else { return };
    let kind = |value: Option<&DeValue>| value.and_then(|v| v.as_str().and_then(|text| KIND.find(text)));
    let said = fields.item("kind").and_then(|item| kind(Some(item.value)));
    let other = said.is_some() && said != kind(appliance.table.get("kind").map(|value| value.get_ref()));
    fields.stand_in(&appliance.table, &item, if other { OF_A_KIND } else { &[] });
}

fn elsewhere(fields: &mut Fields, outlet: Option<OutletKind>) -> Option<(OutletKind, Option<Watts>)> {
    let could_use = fields.optional("could_use", &OUTLET);
    let watts = fields.optional("watts_there", &Amount::<Watts>::positive_to(MOST));
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
    Some((could_use?, watts))
}

/// The kind, said or guessed from what else is given; `None` when it is said wrongly.
fn kind(fields: &mut Fields) -> Option<Kind> {
    let guessed = match () {
        () if fields.has("profile") => Kind::Profile,
        () if fields.has("label") => Kind::Cooler,
        () if fields.has("energy_a_day") => Kind::Charge,
        () if fields.has("duty") => Kind::Duty,
        () if fields.has("hours") => Kind::Schedule,
        () => Kind::Steady,
    };
    let kind = fields.or("kind", &KIND, guessed);
    fields.findings().clean(&fields.key("kind")).then_some(kind)
}

/// Refuses keys that the kind does not have. Says whether there was none.
fn only_its_own(fields: &Fields, kind: Kind) -> bool {
    let mut clean = true;
    for (key, kinds, help) in ONLY {
        if fields.says(key) && !kinds.contains(&kind) {
            let what = match (key, kind) {
                ("hours", Kind::Steady) => "has no meaning for a steady load",
                _ => "has no meaning for this kind of load",
            };
            let problem = Problem::error(fields.key(key), what).help(help).against(fields.key("kind"), "this kind");
            fields.findings().push(problem);
            clean = false;
        }
    }
    clean
}

/// When it runs. Every key of every kind is asked for, so that the reader knows them all.
fn pattern(fields: &mut Fields, kind: Option<Kind>, count: u32, watts: Option<Watts>) -> Option<Pattern> {
    let is = |wanted: Kind| kind == Some(wanted);
    let hours: Option<Vec<ClockWindow>> = clock::windows(fields, "hours");
    let hours_wrong = fields.has("hours") && hours.is_none();
    let share = fields.optional("duty", &Amount::positive_to(Fraction::ONE));
    let profile = profile(fields, count);
    let charge = charge(fields, is(Kind::Charge), hours.as_deref(), watts, f64::from(count));
    let cooler = cooler::read(fields, is(Kind::Cooler), watts);
    let kind = kind?;
    if !only_its_own(fields, kind) {
        return None;
    }
    let lacks = |key: &str, found: &str, line: &str| {
        let problem = Problem::error(fields.key("kind"), format!("needs `{key}`")).found(found).help(line);
        fields.findings().push(problem);
    };
    match kind {
        Kind::Schedule if !fields.has("hours") => {
            lacks("hours", "\"schedule\" without hours", "add a line like: hours = \"18:00-23:00\"");
        }
        Kind::Duty if !fields.has("duty") => lacks(
            "duty",
            "\"duty\" without a share",
            "add a line like: duty = \"35 %\", the share of the time that it runs",
        ),
        Kind::Profile if !fields.has("profile") => {
            lacks("profile", "\"profile\" without a file", "add a line like: profile = \"heater.csv\"");
        }
        _ => {}
    }
    match kind {
        Kind::Steady => Some(Pattern::Steady),
        Kind::Schedule => hours.map(Pattern::Schedule),
        Kind::Duty if hours_wrong => None,
        Kind::Duty => share.map(|share| Pattern::Duty { share, hours: hours.unwrap_or_default() }),
        Kind::Profile => profile.map(Pattern::Profile),
        Kind::Charge if hours_wrong => None,
        Kind::Charge => charge.map(Pattern::Charge),
        Kind::Cooler => cooler.map(Pattern::Cooler),
    }
}

/// A file, or a file with a column.
fn profile(fields: &mut Fields, count: u32) -> Option<HourlyProfile> {
    let item = fields.item("profile")?;
    let empty = |file| HourlyProfile { file, column: None, watts: Vec::new(), count };
    if item.value.is_table() {
        let mut inner = Fields::of(&item, fields.findings())?;
        let (file, column) = (inner.required("file", &Text), inner.required("column", &Text));
        inner.finish();
        return Some(HourlyProfile { column, ..empty(file?) });
    }
    let allowed = "a file, like \"heater.csv\", or { file = \"heater.csv\", column = \"watts\" }";
    match Text.read(&item) {
        Ok(file) => Some(empty(file)),
        Err(fault) => {
            fields.refuse(&item, fault, allowed.into());
            None
        }
    }
}

/// A device with a battery of its own.
fn charge(
    fields: &mut Fields,
    is: bool,
    hours: Option<&[ClockWindow]>,
    watts: Option<Watts>,
    count: f64,
) -> Option<Charge> {
    let form = Unsure(Amount::<WattHours>::positive_to(WattHours(100_000.0)));
    let energy = if is { fields.required("energy_a_day", &form) } else { fields.optional("energy_a_day", &form) };
    let holds = fields.optional("holds", &Amount::<WattHours>::positive_to(WattHours(100_000.0)));
    let efficiency = fields.or("charging_efficiency", &Amount::positive_to(Fraction::ONE), Fraction(0.8));
    let energy_a_day = energy.filter(|_| is)?;
    let hours = hours.unwrap_or_default();
    let plugged: f64 = if hours.is_empty() { 24.0 } else { hours.iter().map(|window| window.hours().0).sum() };
    if let Some(watts) = watts {
        let most = watts.0 * plugged * efficiency.0;
        if most < energy_a_day.value.0 {
            let slow = Problem::error(fields.key("energy_a_day"), "is more than its charger gives in a day")
                .found(shown::<WattHours>(energy_a_day.value.0))
                .allowed(format!("up to {most:.0} Wh: {watts} for {plugged} h, of which {efficiency} arrive"))
                .help("plug it in for longer, or correct watts")
                .against(fields.key("watts"), "what its charger draws");
            fields.findings().push(slow);
        }
    }
    Some(Charge {
        holds: holds.unwrap_or(energy_a_day.value) * count,
        energy_a_day: Uncertain::new(energy_a_day.value * count, energy_a_day.plus_minus * count),
        efficiency,
        hours: hours.to_vec(),
    })
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

const DAYS: OneOf<Weekdays> = OneOf {
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
fn days(fields: &mut Fields) -> Option<Weekdays> {
    let item = fields.item("days")?;
    let DeValue::Array(list) = item.value else { return fields.read(&item, &DAYS) };
    if list.is_empty() {
        fields.refuse(&item, Fault::new("is empty").help("leave it out for every day"), DAYS.allowed());
        return None;
    }
    let mut week = [false; 7];
    for (index, entry) in list.iter().enumerate() {
        let entry = Item { key: join(&item.key, &index.to_string()), span: entry.span(), value: entry.get_ref() };
        let days = fields.read(&entry, &DAYS)?;
        for (day, on) in week.iter_mut().zip(days.0) {
            *day |= on;
        }
    }
    Some(Weekdays(week))
}
