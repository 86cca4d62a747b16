//! The library of everyday appliances behind `like = "…"`.
//!
//! Every entry is a part of a `[[load]]` with a remark on where its figures come from; a scenario's own keys come first.

use super::forms::{Custom, Fault, Form, Item, Text, any_text};
use super::nearest::nearest;
use serde_json::json;
use std::sync::LazyLock;
use toml::de::DeTable;

/// One appliance.
#[derive(Debug)]
pub struct Appliance {
    /// The name to write after `like`.
    pub name: String,
    /// Where its figures come from.
    pub source: String,
    /// What it gives a load.
    pub(super) table: DeTable<'static>,
}

static LIBRARY: LazyLock<Vec<Appliance>> = LazyLock::new(|| {
    let (document, _) = DeTable::parse_recoverable(include_str!("appliances.toml"));
    let document = document.into_inner();
    let Some(list) = document.get("appliance").and_then(|list| list.get_ref().as_array()) else { return Vec::new() };
    let appliances = list.iter().filter_map(|entry| {
        let table = entry.get_ref().as_table()?;
        let text = |key: &str| Some(table.get(key)?.get_ref().as_str()?.to_string());
        Some(Appliance { name: text("name")?, source: text("source")?, table: table.clone() })
    });
    appliances.collect()
});

/// All of them, in the order of the library.
#[must_use]
pub fn all() -> &'static [Appliance] {
    &LIBRARY
}

fn folded(text: &str) -> String {
    let words = text.split(|c: char| c.is_whitespace() || matches!(c, ',' | '-')).filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join(" ").to_lowercase()
}

/// Devices that help a sleeper breathe.
const SLEEP: &[&str] =
    &["sleep breathing device", "sleep breathing device, humidifier on", "sleep breathing device, 12 V adapter"];

/// Words that people call things by, each with the names that they may mean, the usual one first (common practice, no source).
const WORDS: [(&str, &[&str]); 102] = [
    ("tv", &["television, 40 inch"]),
    ("telly", &["television, 40 inch"]),
    ("light", &["LED lamp", "LED lamp, 12 V"]),
    ("lights", &["LED lamp", "LED lamp, 12 V"]),
    ("bulb", &["LED lamp", "LED lamp, 12 V"]),
    ("lamp", &["LED lamp", "LED lamp, 12 V"]),
    ("lamps", &["LED lamp", "LED lamp, 12 V"]),
    ("lamp led", &["LED lamp", "LED lamp, 12 V"]),
    ("lamps led", &["LED lamp", "LED lamp, 12 V"]),
    ("light led", &["LED lamp", "LED lamp, 12 V"]),
    ("lights led", &["LED lamp", "LED lamp, 12 V"]),
    ("bulb led", &["LED lamp", "LED lamp, 12 V"]),
    ("bulbs led", &["LED lamp", "LED lamp, 12 V"]),
    ("table lamp", &["LED lamp", "LED lamp, 12 V"]),
    ("desk lamp", &["LED lamp", "LED lamp, 12 V"]),
    ("light bulb", &["LED lamp", "LED lamp, 12 V"]),
    ("router wifi", &["router", "fibre modem"]),
    ("modem router", &["router", "fibre modem"]),
    ("smart phone", &["phone"]),
    ("wifi", &["router", "fibre modem"]),
    ("wi fi", &["router", "fibre modem"]),
    ("wlan", &["router", "fibre modem"]),
    ("internet", &["router", "fibre modem", "satellite internet"]),
    ("modem", &["fibre modem", "router"]),
    ("boiler", &["heating circulation pump"]),
    ("heating", &["heating circulation pump", "furnace blower", "pellet stove"]),
    ("furnace", &["furnace blower"]),
    (
        "pump",
        &[
            "well pump, half horsepower",
            "sump pump, third of a horsepower",
            "pressure pump, 12 V",
            "heating circulation pump",
        ],
    ),
    ("well", &["well pump, half horsepower"]),
    ("sump", &["sump pump, third of a horsepower"]),
    ("cpap", SLEEP),
    ("apap", SLEEP),
    ("bpap", &["sleep breathing device, humidifier on", "sleep breathing device"]),
    ("sleep apnea", SLEEP),
    ("sleep apnoea", SLEEP),
    ("breathing device", SLEEP),
    ("oxygen", &["oxygen concentrator", "portable oxygen concentrator"]),
    ("nebulizer", &["nebuliser"]),
    ("fridge", &["fridge-freezer, 300 litres", "fridge, 200 litres", "fridge-freezer, 400 litres"]),
    ("refrigerator", &["fridge-freezer, 300 litres", "fridge, 200 litres", "fridge-freezer, 400 litres"]),
    ("fridge freezer", &["fridge-freezer, 300 litres", "fridge-freezer, 200 litres", "fridge-freezer, 400 litres"]),
    ("mini fridge", &["fridge, 100 litres"]),
    ("small fridge", &["fridge, 100 litres"]),
    ("bar fridge", &["fridge, 100 litres"]),
    ("compact fridge", &["fridge, 100 litres"]),
    ("small refrigerator", &["fridge, 100 litres"]),
    ("big fridge", &["fridge-freezer, 400 litres", "fridge-freezer, 600 litres"]),
    ("large fridge", &["fridge-freezer, 400 litres", "fridge-freezer, 600 litres"]),
    ("small freezer", &["chest freezer, 100 litres"]),
    ("large freezer", &["chest freezer, 300 litres"]),
    ("freezer", &["chest freezer, 200 litres", "upright freezer, 200 litres"]),
    ("deep freezer", &["chest freezer, 200 litres", "upright freezer, 200 litres"]),
    ("cooler", &["12 V cooler, 30 litres", "12 V cooler, 50 litres", "12 V cool box, thermoelectric"]),
    ("cool box", &["12 V cooler, 30 litres", "12 V cool box, thermoelectric"]),
    ("mobile", &["phone"]),
    ("smartphone", &["phone"]),
    ("cell phone", &["phone"]),
    ("notebook", &["laptop", "laptop, 12 V adapter"]),
    ("computer", &["laptop", "desktop computer"]),
    ("pc", &["desktop computer"]),
    ("fan", &["box fan", "ceiling fan", "fan, 12 V"]),
    ("standing fan", &["box fan", "ceiling fan"]),
    ("pedestal fan", &["box fan", "ceiling fan"]),
    ("table fan", &["box fan", "fan, 12 V"]),
    ("desk fan", &["fan, 12 V", "box fan"]),
    ("flashlight", &["rechargeable torch"]),
    ("torch", &["rechargeable torch"]),
    ("led", &["LED lamp", "LED lamp, 12 V"]),
    ("led light", &["LED lamp", "LED lamp, 12 V"]),
    ("led bulb", &["LED lamp", "LED lamp, 12 V"]),
    ("lighting", &["LED lamp", "LED lamp, 12 V"]),
    ("wifi router", &["router", "fibre modem"]),
    ("gas boiler", &["heating circulation pump"]),
    ("central heating", &["heating circulation pump", "furnace blower"]),
    ("circulation pump", &["heating circulation pump"]),
    ("heater", &["fan heater", "heater pad"]),
    ("stove", &["pellet stove", "induction plate"]),
    ("hob", &["induction plate"]),
    ("oven", &["microwave oven"]),
    ("coffee", &["coffee machine"]),
    ("coffee maker", &["coffee machine"]),
    ("cctv", &["security camera"]),
    ("alarm", &["alarm panel"]),
    ("landline", &["cordless telephone"]),
    ("cellphone", &["phone"]),
    ("phone charger", &["phone"]),
    ("water pump", &["well pump, half horsepower", "pressure pump, 12 V"]),
    ("borehole", &["well pump, half horsepower"]),
    ("borehole pump", &["well pump, half horsepower"]),
    ("breathing machine", SLEEP),
    ("sleep machine", SLEEP),
    ("cpap machine", SLEEP),
    ("vacuum", &["vacuum cleaner"]),
    ("washer", &["washing machine"]),
    ("laundry", &["washing machine"]),
    ("clothes iron", &["iron"]),
    ("steam iron", &["iron"]),
    ("aircon", &["air conditioner"]),
    ("air con", &["air conditioner"]),
    ("ac unit", &["air conditioner"]),
    ("air conditioning", &["air conditioner"]),
    ("oxygen machine", &["oxygen concentrator", "portable oxygen concentrator"]),
];

/// Appliances that a word of everyday speech may mean, the usual one first; several of a thing count as one ("phones").
#[must_use]
pub fn by_word(text: &str) -> Vec<&'static Appliance> {
    let wanted = folded(text);
    let of = |name: &str| all().iter().find(|appliance| appliance.name == name);
    if let Ok(exact) = find(&wanted) {
        return vec![exact];
    }
    let one = wanted.strip_suffix('s').unwrap_or(&wanted);
    if let Some((_, names)) = WORDS.iter().find(|(word, _)| *word == wanted || *word == one) {
        return names.iter().filter_map(|name| of(name)).collect();
    }
    if let Ok(exact) = find(one) {
        return vec![exact];
    }
    // Words of the name itself: "well pump", "television".
    let holds = |name: &str| {
        [wanted.as_str(), one].iter().any(|word| format!(" {} ", folded(name)).contains(&format!(" {word} ")))
    };
    let held: Vec<_> = all().iter().filter(|appliance| one.len() > 2 && holds(&appliance.name)).collect();
    if held.is_empty() { of_litres(&wanted).into_iter().collect() } else { held }
}

/// "fridge 250 l": of the coolers so called the smallest that holds so much, else the largest.
fn of_litres(wanted: &str) -> Option<&'static Appliance> {
    const LITRES: [&str; 6] = ["litres", "liters", "litre", "liter", "ltr", "l"];
    let bare = LITRES.iter().find_map(|unit| wanted.strip_suffix(unit))?.trim_end();
    let name = bare.trim_end_matches(|c: char| c.is_ascii_digit());
    let litres: u32 = bare[name.len()..].parse().ok()?;
    let size = |appliance: &Appliance| -> Option<u32> {
        appliance.name.rsplit_once(", ")?.1.strip_suffix(" litres")?.parse().ok()
    };
    // Of the kinds that the word stands for, the usual one first where two are as large.
    let kind = |one: &Appliance| one.name.split(", ").next().map(String::from);
    let kinds: Vec<String> = by_word(name.trim()).iter().filter_map(|one| kind(one)).collect();
    let mut sizes: Vec<_> =
        kinds.iter().flat_map(|of| all().iter().filter(|one| kind(one).as_ref() == Some(of))).collect();
    sizes.sort_by_key(|one| size(one));
    sizes.iter().find(|one| size(one).is_some_and(|size| litres <= size)).or(sizes.last()).copied()
}

/// Words in the names of things that a person's health hangs on (common practice, no source).
const OF_HEALTH: [&str; 13] = [
    "breathing",
    "ventilator",
    "oxygen",
    "insulin",
    "dialysis",
    "nebuliser",
    "nebulizer",
    "apnea",
    "apnoea",
    "respirator",
    "medical",
    "medicine",
    "suction",
];

/// Whether a name tells of something that a person's health hangs on.
#[must_use]
pub fn sounds_medical(name: &str) -> bool {
    // Kinds of positive airway pressure: "cpap", "bpap".
    let airway = |word: &str| word.len() > 3 && word.ends_with("pap");
    folded(name).split(' ').any(|word| OF_HEALTH.contains(&word) || airway(word))
}

/// The nearest word of everyday speech or name of the library to a misspelt one.
#[must_use]
pub fn near_word(text: &str) -> Option<&'static str> {
    let words = WORDS.iter().map(|(word, _)| *word);
    let wanted = folded(text);
    let near = nearest(&wanted, words.chain(all().iter().map(|appliance| appliance.name.as_str())))?;
    // Another thing of the same kind ("heat pump", "water pump") is no slip of the finger.
    let most = (wanted.chars().count() / 5).max(1);
    (strsim::damerau_levenshtein(&wanted, &folded(near)) <= most).then_some(near)
}

/// Names to write, for a message: `"router" or "fibre modem"`.
pub(super) fn offered(found: &[&Appliance]) -> String {
    let names: Vec<String> = found.iter().take(4).map(|appliance| format!("\"{}\"", appliance.name)).collect();
    super::forms::either(&names.iter().map(String::as_str).collect::<Vec<_>>())
}

/// The appliance of a name, in capitals or small letters; or the one of the nearest name, if any is near.
fn find(name: &str) -> Result<&'static Appliance, Option<&'static Appliance>> {
    let wanted = folded(name);
    if let Some(found) = all().iter().find(|appliance| folded(&appliance.name) == wanted) {
        return Ok(found);
    }
    let names = || all().iter().map(|appliance| appliance.name.as_str());
    // A name that begins alike is nearer than one of similar letters: "fridge, 310 litres" is a fridge.
    let first = wanted.split(' ').next().unwrap_or_default();
    let alike: Vec<&str> = names().filter(|name| folded(name).split(' ').next() == Some(first)).collect();
    let near = nearest(name, alike).or_else(|| nearest(name, names()));
    Err(near.and_then(|near| all().iter().find(|appliance| appliance.name == near)))
}

/// The name of an appliance; the section takes it in.
pub(super) const LIKE: Custom<String> = Custom {
    allowed: "the name of an appliance, or a line of your own without `like`",
    example: "\"fridge, 300 litres\"",
    read: |item| named(item).1.map_or_else(|| Text.read(item), |_| Err(Fault::told())),
    json: || {
        let names: Vec<&str> = all().iter().map(|appliance| appliance.name.as_str()).collect();
        json!({ "anyOf": [{ "enum": names }, any_text()] })
    },
};

/// The appliance that an item names, or what is wrong with the name. Then the nearest stands in, or any, so that one cause is
/// one problem: what it would give is not missed beside it.
pub(super) fn named(item: &Item) -> (Option<&'static Appliance>, Option<Fault>) {
    let near = match item.value.as_str().map_or(Err(None), find) {
        Ok(appliance) => return (Some(appliance), None),
        Err(near) => near,
    };
    let mut by_word = item.value.as_str().map(self::by_word).unwrap_or_default();
    // "frigde" is a misspelt word, and no name of the library begins like it.
    let slip = item.value.as_str().filter(|_| by_word.is_empty() && near.is_none()).and_then(near_word);
    by_word.extend(slip.map(self::by_word).unwrap_or_default());
    let help = match (by_word.is_empty(), near) {
        (false, _) => format!("did you mean {}?", offered(&by_word)),
        (true, Some(near)) => format!("did you mean \"{}\"?", near.name),
        (true, None) => "tideover appliances lists them all".into(),
    };
    let near = by_word.first().copied().or(near);
    (near.or(all().first()), Some(Fault::new("is not an appliance of the library").help(help)))
}

impl Appliance {
    /// The windows of the clock in which it runs, one after the other; empty where it runs all day.
    #[must_use]
    pub fn hours(&self) -> String {
        let Some(hours) = self.table.get("hours") else { return String::new() };
        match hours.get_ref().as_array() {
            Some(list) => list.iter().filter_map(|w| w.get_ref().as_str()).collect::<Vec<_>>().join(", "),
            None => self.says("hours").unwrap_or_default().to_string(),
        }
    }

    /// Whether a person's health hangs on it.
    #[must_use]
    pub fn medical(&self) -> bool {
        self.table.get("medical").and_then(|value| value.get_ref().as_bool()) == Some(true)
    }

    /// A key's text, for lists.
    #[must_use]
    pub fn says(&self, key: &str) -> Option<&str> {
        self.table.get(key)?.get_ref().as_str()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::model::{FoodRule, Pattern};
    use crate::scenario::{Source, read};

    const AROUND: &str = include_str!("../../tests/data/smallest.toml");

    fn scenario(load: &str) -> Result<crate::scenario::Scenario, String> {
        let start = AROUND.find("[[load]]").expect("a load");
        let source = Source::new("test.toml", format!("{}{load}", &AROUND[..start].replace("\"500 W\"", "\"5 kW\"")));
        match read(&source) {
            Ok((scenario, _, problems)) => {
                let odd: Vec<_> = problems.iter().filter(|p| p.level == crate::scenario::Level::Warning).collect();
                if odd.is_empty() { Ok(scenario) } else { Err(format!("{odd:?}")) }
            }
            Err(problems) => Err(format!("{problems:?}")),
        }
    }

    #[test]
    fn every_appliance_makes_a_whole_load_and_says_where_it_comes_from() {
        assert!(all().len() >= 30, "{} appliances", all().len());
        for appliance in all() {
            let load = format!("[[load]]\nlike = \"{}\"\npriority = \"vital\"\n", appliance.name);
            let scenario = scenario(&load).unwrap_or_else(|why| panic!("{}: {why}", appliance.name));
            assert_eq!(scenario.loads[0].name, appliance.name);
            assert!(!appliance.source.is_empty());
            assert_eq!(find(&appliance.name.to_uppercase()).expect("itself").name, appliance.name);
        }
        let mut names: Vec<_> = all().iter().map(|appliance| folded(&appliance.name)).collect();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), all().len(), "names that differ");
    }

    #[test]
    fn keys_of_ones_own_come_first() {
        let own = "[[load]]\nlike = \"fridge-freezer, 300 litres\"\nname = \"mine\"\npriority = \"vital\"\n\
                   watts = \"75 W\"\nlabel = \"180 kWh a year\"\nfood = \"not judged\"\n";
        let load = scenario(own).expect("a sound load").loads.remove(0);
        let Pattern::Cooler(cooler) = &load.pattern else { panic!("a cooler") };
        assert_eq!((load.name.as_str(), load.watts.value.0, cooler.label.value.0), ("mine", 75.0, 180_000.0));
        assert_eq!((cooler.food, cooler.freezer.map(|f| f.volume.0)), (FoodRule::NotJudged, Some(80.0)));
        // Another kind takes only what has nothing to do with the kind.
        let own = "[[load]]\nlike = \"fridge, 300 litres\"\npriority = \"vital\"\nkind = \"duty\"\nduty = \"30 %\"\n";
        let load = scenario(own).expect("a sound load").loads.remove(0);
        assert!(matches!(load.pattern, Pattern::Duty { .. }));
        assert_eq!((load.watts.value.0, load.starting.map(|w| w.0)), (90.0, Some(500.0)));
    }

    #[test]
    fn no_fridge_of_the_library_is_above_the_legal_limit() {
        // tests/data/cooler_energy.toml, limits of 10 CFR 430.32(a): class 3A and 3 by adjusted volume.
        let file: toml::Table = include_str!("../../tests/data/cooler_energy.toml").parse().expect("the file is TOML");
        let limits = file["limits"]["limits"].as_array().expect("limits");
        let mut checked = 0;
        for appliance in all() {
            let class = match appliance.source.split("class ").nth(1).and_then(|rest| rest.split(',').next()) {
                Some(class @ ("3" | "3A" | "4")) => class,
                _ => continue,
            };
            let limit = limits.iter().find(|l| l["class"].as_str() == Some(class)).expect("a class of the table");
            let number = |key: &str| limit[key].as_float().expect("a number");
            let litres = |key: &str| {
                appliance.says(key).map_or(0.0, |text| text.trim_end_matches(" L").parse::<f64>().expect("litres"))
            };
            let adjusted = (litres("fridge_volume") + 1.76 * litres("freezer_volume")) / 28.316_846_592;
            let most = number("per_cubic_foot") * adjusted + number("constant");
            let label = appliance.says("label").expect("a label");
            let label: f64 = label.trim_end_matches(" kWh a year").parse().expect("kWh");
            assert_eq!(label, most.round(), "{}", appliance.name);
            checked += 1;
        }
        assert_eq!(checked, 6);
    }
}
