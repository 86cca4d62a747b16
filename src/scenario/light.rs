//! What an array sees of the sun: `aim`, `shade` and `out` of a `[[panel]]`.

use super::amount::Amount;
use super::clock;
use super::fields::Fields;
use super::forms::{Fault, Form, Item, OneOf, Whole};
use super::model::{Aim, ClockWindow, PutOut, Shade, ShadeWhen};
use super::panel::Facing;
use super::problem::Problem;
use super::source::join;
use super::station::Unreadable;
use crate::units::{Degrees, Fraction, Quantity};
use toml::de::DeValue;

/// Aims by name.
#[derive(Clone, Copy, PartialEq)]
enum Named {
    Fixed,
    AtTheSun,
}

const AIM: OneOf<Named> = OneOf {
    names: &[("fixed", Named::Fixed), ("at the sun", Named::AtTheSun)],
    also: &[("straight at the sun", Named::AtTheSun)],
};

const AIM_ALLOWED: &str = "\"fixed\", { times_a_day = 3 } or \"at the sun\"";

/// Most often that a person turns a panel in a day.
const MOST_TURNS: u32 = 48;

/// `aim`, and `tilt` and `facing` where it is fixed.
pub(super) fn aim(fields: &mut Fields) -> Option<Aim> {
    let item = fields.item("aim");
    let moving = match &item {
        None => None,
        Some(item) => match Fields::of(item, fields.findings()) {
            Some(mut inner) => {
                let times_a_day = inner.required("times_a_day", &Whole { least: 1, greatest: MOST_TURNS });
                inner.finish();
                Some(Aim::ByHand { times_a_day: times_a_day? })
            }
            None => match AIM.read(item) {
                Ok(Named::Fixed) => None,
                Ok(Named::AtTheSun) => Some(Aim::AtTheSun),
                Err(fault) => {
                    fields.refuse(item, fault, AIM_ALLOWED.into());
                    fields.item("tilt");
                    fields.item("facing");
                    return None;
                }
            },
        },
    };
    if let Some(aim) = moving {
        for name in ["tilt", "facing"] {
            if fields.item(name).is_some() {
                let clash = Problem::error(fields.key(name), "has no meaning for a panel that is turned to the sun")
                    .help("leave it out, or leave aim out")
                    .against(fields.key("aim"), "turned");
                fields.findings().push(clash);
            }
        }
        return Some(aim);
    }
    let tilt = fields.required("tilt", &Amount::between(Degrees(0.0), Degrees(90.0)));
    // A panel that lies flat looks nowhere.
    let flat = tilt.is_some_and(|tilt| tilt.base() == 0.0);
    let facing = if flat && !fields.has("facing") {
        fields.item("facing");
        Some(Degrees(180.0))
    } else {
        fields.required("facing", &Facing)
    };
    Some(Aim::Fixed { tilt: tilt?, facing: facing? })
}

const SHADE_ALLOWED: &str = "{ hours = \"14:30-24:00\", loses = \"90 %\" } or { sun_from = \"220°\", sun_to = \"300°\", below = \"25°\", loses = \"90 %\" }";

/// The list under `shade`; nothing where an entry is wrong.
pub(super) fn shade(fields: &mut Fields) -> Option<Vec<Shade>> {
    let Some(item) = fields.item("shade") else { return Some(Vec::new()) };
    let DeValue::Array(list) = item.value else {
        fields.refuse(
            &item,
            Fault::new("must be a list").help("put it in square brackets"),
            format!("[{SHADE_ALLOWED}]"),
        );
        return None;
    };
    let read = |(index, entry): (usize, &toml::Spanned<DeValue>)| {
        let entry = Item { key: join(&item.key, &index.to_string()), span: entry.span(), value: entry.get_ref() };
        one_shade(fields, &entry)
    };
    let shades: Vec<Option<Shade>> = list.iter().enumerate().map(read).collect();
    shades.into_iter().collect()
}

fn one_shade(fields: &Fields, entry: &Item) -> Option<Shade> {
    let Some(mut inner) = Fields::of(entry, fields.findings()) else {
        fields.refuse(entry, Fault::new("must say when and how much"), SHADE_ALLOWED.into());
        return None;
    };
    let loses = inner.required("loses", &Amount::positive_to(Fraction::ONE));
    let clock = inner.has("hours");
    let when = if clock {
        let hours = clock::window(&mut inner, "hours").map(ShadeWhen::Clock);
        for name in ["sun_from", "sun_to", "below"] {
            if inner.item(name).is_some() {
                let clash = Problem::error(inner.key(name), "cannot stand beside `hours`")
                    .help("a shade goes by the clock or by the sun: write two entries for both")
                    .against(inner.key("hours"), "by the clock");
                inner.findings().push(clash);
            }
        }
        hours
    } else {
        inner.item("hours");
        let from = inner.required("sun_from", &Facing);
        let to = inner.required("sun_to", &Facing);
        let below = inner.or("below", &Amount::positive_to(Degrees(90.0)), Degrees(90.0));
        match (from, to) {
            (Some(from), Some(to)) if from == to => {
                let clash = Problem::error(inner.key("sun_to"), "is where the shade begins")
                    .help("the shade goes clockwise from sun_from to sun_to")
                    .against(inner.key("sun_from"), "the same");
                inner.findings().push(clash);
                None
            }
            (Some(from), Some(to)) => Some(ShadeWhen::Sun { from, to, below }),
            _ => None,
        }
    };
    inner.finish();
    Some(Shade { when: when?, loses: loses? })
}

/// The table under `out`; `None` for a panel that is always out, `Err` for a wrong one.
pub(super) fn out(fields: &mut Fields) -> Result<Option<PutOut>, Unreadable> {
    if !fields.has("out") {
        fields.item("out");
        return Ok(None);
    }
    let Some(mut inner) = fields.table("out") else { return Err(Unreadable) };
    let has_hours = inner.has("hours");
    let hours: Option<Vec<ClockWindow>> = clock::windows(&mut inner, "hours");
    let if_clearer_than = inner.or("if_clearer_than", &Amount::between(Fraction::ZERO, Fraction::ONE), Fraction::ZERO);
    inner.finish();
    if has_hours && hours.is_none() {
        return Err(Unreadable);
    }
    Ok(Some(PutOut { hours: hours.unwrap_or_default(), if_clearer_than }))
}
