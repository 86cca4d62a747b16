//! What an array sees of the sun: `aim`, `shade` and `out` of a `[[panel]]`.

use super::as_written;
use super::fields::Fields;
use super::forms::{Braces, Fault, Form, Item, OneOf, OrBraces};
use super::model::{Aim, ClockWindow, PutOut, Shade, ShadeWhen};
use super::problem::Problem;
use super::schema::panel;
use crate::units::{Degrees, Quantity};
use serde_json::{Value as Json, json};

/// How a panel is turned; nothing for one that is fixed.
const AIM: OneOf<Option<Aim>> = OneOf {
    names: &[("fixed", None), ("at the sun", Some(Aim::AtTheSun))],
    also: &[("straight at the sun", Some(Aim::AtTheSun))],
};

/// Most often that a person turns a panel in a day.
pub(super) const MOST_TURNS: u32 = 48;

/// The form of `aim`.
pub(super) fn aim() -> OrBraces<OneOf<Option<Aim>>, Option<Aim>> {
    OrBraces {
        one: AIM,
        allowed: Some("\"fixed\", { times_a_day = 3 } or \"at the sun\""),
        braces: Braces {
            keys: panel::turns(),
            wrong: "must say how often",
            example: "{ times_a_day = 3 }",
            build: |inner| Some(Some(Aim::ByHand { times_a_day: inner.get("times_a_day")? })),
        },
    }
}

/// Which way it looks: by `aim`, and by `tilt` and `facing` where it is fixed.
pub(super) fn direction(fields: &Fields) -> Option<Aim> {
    if !fields.findings().clean(&fields.key("aim")) {
        return None;
    }
    if let Some(aim) = fields.get::<Option<Aim>>("aim")? {
        for name in ["tilt", "facing"].into_iter().filter(|name| fields.has(name)) {
            let clash = Problem::error(fields.key(name), "has no meaning for a panel that is turned to the sun")
                .help("leave it out, or leave aim out")
                .against(fields.key("aim"), "turned");
            fields.findings().push(clash);
        }
        return Some(aim);
    }
    let (tilt, facing) = tilt_and_facing(fields)?;
    Some(Aim::Fixed { tilt, facing })
}

/// `tilt` and `facing`; a panel that lies flat looks nowhere.
pub(super) fn tilt_and_facing(fields: &Fields) -> Option<(Degrees, Degrees)> {
    let tilt = fields.needed::<Degrees>("tilt");
    let flat = tilt.is_some_and(|tilt| tilt.base() == 0.0) && !fields.has("facing");
    let facing = if flat { Some(Degrees(180.0)) } else { fields.needed("facing") };
    Some((tilt?, facing?))
}

const SHADE: &str = "{ hours = \"14:30-24:00\", loses = \"90 %\" } or { sun_from = \"220°\", sun_to = \"300°\", below = \"25°\", loses = \"90 %\" }";

/// The list under `shade`.
pub(super) struct Shades;

impl Shades {
    fn one() -> Braces<Shade> {
        Braces { keys: panel::shade(), wrong: "must say when and how much", example: SHADE, build: shade }
    }
}

impl Form for Shades {
    type Output = Vec<Shade>;
    fn allowed(&self) -> String {
        format!("[{SHADE}]")
    }
    fn example(&self) -> String {
        "[{ hours = \"14:30-24:00\", loses = \"90 %\" }]".into()
    }
    fn read(&self, item: &Item) -> Result<Vec<Shade>, Fault> {
        if let Some(told) = item.value.as_str().and_then(as_written::shaded) {
            let list = |hours: Vec<String>| match &hours[..] {
                [] => "leave shade out where nothing shades it".into(),
                hours => format!("write shade = {}", shade_written(hours)),
            };
            return Err(match told {
                Ok(shaded) => Fault::new("must be a list").help(list(shaded.hours)),
                Err((_, _)) => Fault::new("does not say by the clock when it is in shade")
                    .help(format!("write when: shade = {}", shade_written(&["14:00-24:00".into()]))),
            });
        }
        let not_a_list = || Fault::new("must be a list").help("put it in square brackets");
        let entries = item.entries().ok_or_else(not_a_list)?;
        let one = Shades::one();
        let shades: Vec<_> = entries.iter().map(|entry| entry.read(&one)).collect();
        shades.into_iter().collect::<Option<_>>().ok_or_else(Fault::told)
    }
    fn json(&self) -> Json {
        json!({ "type": "array", "items": Shades::one().json() })
    }
}

/// A list of shade by the clock, as a file has it.
pub(super) fn shade_written(hours: &[String]) -> String {
    let entry = |hours: &String| format!("{{ hours = \"{hours}\", loses = \"{}\" }}", as_written::LOSES);
    format!("[{}]", hours.iter().map(entry).collect::<Vec<_>>().join(", "))
}

fn shade(inner: &Fields) -> Option<Shade> {
    let when = if inner.has("hours") {
        for name in ["sun_from", "sun_to", "below"].into_iter().filter(|name| inner.has(name)) {
            let clash = Problem::error(inner.key(name), "cannot stand beside `hours`")
                .help("a shade goes by the clock or by the sun: write two entries for both")
                .against(inner.key("hours"), "by the clock");
            inner.findings().push(clash);
        }
        ShadeWhen::Clock(inner.get::<ClockWindow>("hours")?)
    } else {
        let (from, to) = (inner.needed("sun_from"), inner.needed("sun_to"));
        let (from, to): (Degrees, Degrees) = (from?, to?);
        if from == to {
            let clash = Problem::error(inner.key("sun_to"), "is where the shade begins")
                .help("the shade goes clockwise from sun_from to sun_to")
                .against(inner.key("sun_from"), "the same");
            inner.findings().push(clash);
            return None;
        }
        ShadeWhen::Sun { from, to, below: inner.get("below")? }
    };
    Some(Shade { when, loses: inner.get("loses")? })
}

/// The form of `out`.
pub(super) fn out() -> Braces<PutOut> {
    Braces {
        keys: panel::put_out(),
        wrong: "must say when",
        example: "{ hours = \"08:00-17:00\", if_clearer_than = \"25 %\" }",
        build: |inner| {
            let hours = inner.get("hours").unwrap_or_default();
            Some(PutOut { hours, if_clearer_than: inner.get("if_clearer_than")? })
        },
    }
}
