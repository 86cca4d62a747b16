//! The keys of a cooler.

use super::amount::{Amount, shown};
use super::fields::Fields;
use super::forms::{Custom, Fault, Form, Item, any_case, text_like};
use super::model::{Compartment, Cooler, FoodRule, Room};
use super::problem::Problem;
use crate::units::{Celsius, Hours, Kilograms, Litres, ParseError, Quantity, Uncertain, WattHours, Watts};
use serde_json::json;

/// Endings that say "in a year" and "in a day", with how many of them a year has.
const PERIODS: [(&str, f64); 10] = [
    ("a year", 1.0),
    ("per year", 1.0),
    ("per annum", 1.0),
    ("/year", 1.0),
    ("/yr", 1.0),
    ("/a", 1.0),
    ("a day", 365.0),
    ("per day", 365.0),
    ("/day", 365.0),
    ("/d", 365.0),
];

/// Energy in a year: `"290 kWh a year"`, or `"0.8 kWh a day"`.
pub(super) const YEARLY: Custom<Uncertain<WattHours>> = Custom {
    allowed: "energy above 0, up to 20000 kWh, in a year or a day, like \"290 kWh a year\"",
    example: "\"290 kWh a year\"",
    read: read_yearly,
    json: || {
        let periods: Vec<String> = PERIODS.iter().map(|(period, _)| any_case(period, "")).collect();
        text_like(&format!(r"\+?[0-9.]+ *[kK]?[wW][hH] *({}) *((±|\+/-|\+-).*)?", periods.join("|")))
    },
};

fn read_yearly(item: &Item) -> Result<Uncertain<WattHours>, Fault> {
    let wrong = || Fault::new("cannot be read as energy in a year").help("copy it from the label: \"290 kWh a year\"");
    let text = item.value.as_str().ok_or_else(wrong)?;
    let (amount, spread) = match text.find(['±', '+']) {
        Some(at) => text.split_at(at),
        None => (text, ""),
    };
    let amount = amount.trim();
    let period = PERIODS.iter().find_map(|(ending, times)| {
        let cut = amount.len().checked_sub(ending.len())?;
        let tail = amount.get(cut..)?;
        tail.eq_ignore_ascii_case(ending).then(|| (amount[..cut].trim(), *times))
    });
    let Some((amount, times)) = period else {
        let help = if amount.trim_end().to_lowercase().ends_with("wh") {
            format!("write \"{} a year\"", amount.trim())
        } else {
            "copy it from the label: \"290 kWh a year\"".into()
        };
        return Err(Fault::new("does not say whether it is a year's or a day's").help(help));
    };
    let energy = Uncertain::<WattHours>::parse(format!("{amount} {spread}").trim()).map_err(|error| {
        let fault = wrong();
        match error {
            ParseError::UnknownUnit { .. } => fault.help("the unit is kWh or Wh: \"290 kWh a year\""),
            _ => fault,
        }
    })?;
    let year = Uncertain::new(energy.value * times, energy.plus_minus * times);
    if !(0.0 < year.value.0 && year.value.0 <= 20.0e6) {
        return Err(Fault::new("is out of range"));
    }
    if year.value.0 < year.plus_minus {
        return Err(Fault::new("is less than its own uncertainty"));
    }
    Ok(year)
}

/// How warm it is around a cooler.
pub(super) const ROOM: Custom<Room> = Custom {
    allowed: "a temperature from -40 °C to 60 °C (°C or °F), \"indoors\" or \"outdoors\"",
    example: "\"18 °C\"",
    read: read_room,
    json: || json!({ "anyOf": [{ "enum": ["indoors", "outdoors"] }, { "type": "string" }] }),
};

fn read_room(item: &Item) -> Result<Room, Fault> {
    match item.value.as_str().map(|text| text.trim().to_lowercase()).as_deref() {
        Some("indoors" | "inside") => Ok(Room::Indoors),
        Some("outdoors" | "outside") => Ok(Room::Outdoors),
        _ => Amount::between(Celsius(-40.0), Celsius(60.0)).read(item).map(Room::At),
    }
}

/// When food is lost.
pub(super) const FOOD_RULE: Custom<FoodRule> = Custom {
    allowed: "\"lost above 4 °C for 2 h\" (0 °C to 15 °C, up to 48 h), \"lost after 4 h without power\", \"lost by the sooner \
         clock\" or \"not judged\"",
    example: "\"lost above 4 °C for 2 h\"",
    read: read_food_rule,
    json: || {
        let any = |words: &[&str]| words.iter().map(|word| any_case(word, "")).collect::<Vec<_>>().join(" +");
        let without = any(&["without", "power"]);
        let rules = [
            any(&["not", "judged"]),
            any(&["lost", "by", "the", "sooner", "clock"]),
            format!("{} .+ {} .+", any(&["lost", "above"]), any(&["for"])),
            format!("{} .+ {without}", any(&["lost", "after"])),
        ];
        text_like(&rules.join("|"))
    },
};

fn read_food_rule(item: &Item) -> Result<FoodRule, Fault> {
    let wrong = || Fault::new("is not a rule that is understood");
    let text = item.value.as_str().ok_or_else(wrong)?;
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    if words == "not judged" {
        return Ok(FoodRule::NotJudged);
    }
    if words == "lost by the sooner clock" {
        return Ok(FoodRule::Sooner);
    }
    let hours = |text: &str| {
        let hours = Hours::parse(text).map_err(|_| wrong())?;
        if hours.0 <= 48.0 { Ok(hours) } else { Err(Fault::new("is out of range")) }
    };
    if let Some((limit, time)) = words.strip_prefix("lost above ").and_then(|rest| rest.split_once(" for ")) {
        let limit = Celsius::parse(limit).map_err(|_| wrong())?;
        if !(0.0..=15.0).contains(&limit.0) {
            return Err(Fault::new("is out of range"));
        }
        return Ok(FoodRule::Above { limit, hours: hours(time)? });
    }
    match words.strip_prefix("lost after ").and_then(|rest| rest.strip_suffix(" without power")) {
        Some(time) => Ok(FoodRule::WithoutPower { hours: hours(time)? }),
        None => Err(wrong()),
    }
}

/// Food in a litre of fridge, and of freezer \[kg/L\], when nothing is said.
const USUAL_KG_PER_LITRE: [f64; 2] = [0.15, 0.25];

/// A part, from its volume, contents and set point.
fn part(fields: &Fields, [volume_key, contents_key, set_key]: [&str; 3], kg_per_litre: f64) -> Option<Compartment> {
    if !fields.has(volume_key) {
        for key in [contents_key, set_key].into_iter().filter(|key| fields.says(key)) {
            let lonely = Problem::error(fields.key(key), format!("is of no use without `{volume_key}`"))
                .help(format!("add {volume_key} = \"150 L\", or leave this out"));
            fields.findings().push(lonely);
        }
    }
    let volume: Litres = fields.get(volume_key)?;
    let contents = fields.get(contents_key).unwrap_or(Kilograms(volume.0 * kg_per_litre));
    if volume.0 < contents.0 {
        let full = Problem::error(fields.key(contents_key), "is more than goes in")
            .found(contents.to_string())
            .allowed(format!("up to {} kg, a kilogram a litre", volume.0))
            .against(fields.key(volume_key), "the volume");
        fields.findings().push(full);
    }
    Some(Compartment { volume, contents, set: fields.get(set_key)? })
}

pub(super) fn read(fields: &Fields, watts: Option<Watts>) -> Option<Cooler> {
    let fridge = part(fields, ["fridge_volume", "fridge_contents", "fridge_set"], USUAL_KG_PER_LITRE[0]);
    let freezer = part(fields, ["freezer_volume", "freezer_contents", "freezer_set"], USUAL_KG_PER_LITRE[1]);
    if !fields.has("fridge_volume") && !fields.has("freezer_volume") {
        let none = Problem::error(fields.key("label"), "belongs to a cooler without a volume")
            .help("add fridge_volume = \"200 L\", freezer_volume = \"80 L\", or both");
        fields.findings().push(none);
        return None;
    }
    let label: Uncertain<WattHours> = fields.get("label")?;
    if let Some(watts) = watts {
        let most = watts.0 * 8760.0;
        if most < label.value.0 {
            let over = Problem::error(fields.key("label"), "is more than its compressor draws if it never stops")
                .found(format!("{} a year", shown::<WattHours>(label.value.0)))
                .allowed(format!("up to {} a year at {watts}", shown::<WattHours>(most)))
                .against(fields.key("watts"), "what it draws while it runs");
            fields.findings().push(over);
        }
    }
    let cooler = Cooler {
        label,
        label_room: fields.get("label_room")?,
        fridge,
        freezer,
        band: fields.get("thermostat_band")?,
        room: fields.get("room")?,
        door_openings: fields.get("door_openings")?,
        food: fields.get("food")?,
    };
    remarks(fields, &cooler);
    Some(cooler)
}

/// What can be used but is most likely not meant.
fn remarks(fields: &Fields, cooler: &Cooler) {
    if let (Some(fridge), FoodRule::Above { .. } | FoodRule::Sooner) = (cooler.fridge, cooler.food) {
        let limit = cooler.food.limit().0;
        let warmest = fridge.set.0 + 0.5 * cooler.band.0;
        if limit.0 < warmest {
            let warm =
                Problem::warning(fields.key("fridge_set"), "lets the food get warmer than its limit in everyday use")
                    .found(format!("up to {}", shown::<Celsius>(warmest)))
                    .allowed(format!("up to {}", shown::<Celsius>(limit.0)))
                    .help("set the thermostat lower")
                    .against(fields.key("food"), "the limit");
            fields.findings().push(warm);
        }
    }
    if let (Some(_), Some(_), Room::At(room)) = (cooler.fridge, cooler.freezer, cooler.room)
        && room.0 < 10.0
    {
        let cold = Problem::warning(fields.key("room"), "is colder than most fridge-freezers are built for")
            .found(shown::<Celsius>(room.0))
            .help("in the cold the one thermostat of many machines lets the freezer thaw; that is not simulated");
        fields.findings().push(cold);
    }
}
