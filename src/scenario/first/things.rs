//! Things that must stay on, as lines of their sections.

use super::super::appliances::{self, Appliance};
use super::Answered;
use super::figures::{amps, in_watts, is_watts};
use super::share::{on_for_all, share, throughout};
use super::thing::{Thing, parts};
use super::when::{self, ALWAYS, NIGHT};
use crate::scenario::as_written;

/// A thing that must stay on, as it goes into a file.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Wanted {
    /// As written.
    whole: String,
    /// The lines of its section.
    pub lines: String,
    /// The thing of the library that it is taken for.
    like: Option<&'static str>,
    /// When it runs; empty for always and for what minds itself.
    pub hours: Vec<String>,
    /// The same where the library alone says so.
    pub library_hours: Option<Vec<String>>,
}

impl Wanted {
    /// What it is called on the screen.
    pub fn title(&self) -> &str {
        &self.whole
    }

    /// What it was read as, for a refusal.
    pub fn read_as(&self) -> String {
        let like = self.like.map_or(String::new(), |like| format!(", taken for \"{like}\" of the library"));
        let whole = &self.whole;
        let hint = if self.like.is_some() && !self.lines.contains("\nwatts = ") {
            format!(" (or write its watts, like \"{whole} 500 W\" with your own figure)")
        } else {
            String::new()
        };
        format!("`{whole}`{like}{hint}:")
    }
}

/// The sections of a list like "fridge, wifi, 2 phones, 3 W lamp, fan 40 W 19:00-23:00".
///
/// * `has_ac` — whether there are AC outlets, on which things are where nobody told.
pub(super) fn loads(text: &str, has_ac: bool, said: &mut Answered) -> Result<Vec<Wanted>, String> {
    let text = with_points(&when::without_between(&at_all_hours(text)))?;
    let sections: Vec<Wanted> =
        things(&text).iter().map(|whole| section(&parts(whole)?, has_ac, said)).collect::<Result<_, String>>()?;
    if sections.is_empty() { Err("write at least one thing, like \"fridge, wifi\"".into()) } else { Ok(sections) }
}

/// Words for all hours, in one word behind their thing: "wifi all day and night", "fridge, always on".
fn at_all_hours(text: &str) -> String {
    let mut text = text.to_string();
    for words in ALL_HOURS {
        while let Some(at) = text.to_ascii_lowercase().find(words) {
            let before = text[..at].trim_end().trim_end_matches([',', ';', '+']).trim_end().to_string();
            let behind = text[at + words.len()..].to_string();
            text = format!("{before} {}{behind}", ALWAYS[0]);
        }
    }
    text
}

/// The longer before those that they begin with.
const ALL_HOURS: [&str; 9] = [
    "all day and all night",
    "all day and night",
    "all day long",
    "day and night",
    "around the clock",
    "all the time",
    "always on",
    "24 hours a day",
    "all day",
];

/// Words for more than one that do not say how many.
const HOW_MANY: [&str; 6] = ["a few ", "few ", "some ", "several ", "many ", "a couple of "];

/// "lamp 12,5 W, 2 phones": a comma before decimals made a point, where watts stand behind it.
fn with_points(text: &str) -> Result<String, String> {
    let mut plain = String::new();
    let words: Vec<&str> = text.split_inclusive(' ').collect();
    for (at, word) in words.iter().enumerate() {
        let (bare, next) = (word.trim().to_lowercase(), words.get(at + 1).map_or("", |next| next.trim()));
        let digits = bare.trim_end_matches(|c: char| !c.is_ascii_digit());
        let unit = if bare.len() > digits.len() { &bare[digits.len()..] } else { next };
        let is_watts = is_watts(unit.trim_end_matches([',', ';', '+']));
        if !is_watts || !digits.chars().all(|c| c.is_ascii_digit() || matches!(c, ',' | '.')) {
            plain.push_str(word);
            continue;
        }
        match as_written::decimal_points(word) {
            Ok(points) => plain.push_str(&points),
            Err((number, [thousands, decimals])) => {
                return Err(format!(
                    "`{number} W` can be read in two ways: write \"{thousands} W\" or \"{decimals} W\""
                ));
            }
        }
    }
    Ok(plain)
}

/// Words for things of which some need hardly any power and others very much, with what to write.
const SEVERAL_THINGS: [(&str, &str); 2] = [
    (
        "boiler",
        "\"heating circulation pump\" for a gas or oil boiler's pump and controls, or \"water heater 2000 W\" with your own figure \
         for one that heats by electricity",
    ),
    (
        "stove",
        "\"pellet stove\", \"induction plate\", or \"electric stove 2000 W\" with your own figure; one that burns wood or gas needs none",
    ),
];

fn section(thing: &Thing, has_ac: bool, said: &mut Answered) -> Result<Wanted, String> {
    let Thing { whole, name, count, watts, start, hours, night, runs, outlet, told } = thing;
    said.told.extend(told.as_ref().map(|told| format!("{whole}: {told}")));
    let found = appliances::by_word(name);
    let on_ac = |like: &Appliance| like.says("outlet") == Some("ac");
    // Where there is no AC, the one that does without is meant.
    let without = || found.iter().copied().find(|like| !on_ac(like));
    // "12 V lamp".
    let on_dc = found.iter().copied().find(|like| *outlet == Some("dc") && like.says("outlet") == Some("dc"));
    let first = if has_ac { found.first().copied() } else { without().or(found.first().copied()) };
    let first = on_dc.or(first);
    // "lamps": more than one, so at least two.
    let several = *count == 1 && first.is_some() && is_several(name);
    let count = if several { &2 } else { count };
    if watts.is_none()
        && let Some((_, means)) = SEVERAL_THINGS.iter().find(|(word, _)| name.eq_ignore_ascii_case(word))
    {
        return Err(format!("`{whole}` may be several things: write {means}"));
    }
    if *night {
        said.told.push(format!("{whole}: on from {NIGHT} (load.hours); \"19:00-23:00\" behind it says otherwise."));
    }
    if several {
        said.told
            .push(format!("{whole}: taken as two of them; write how many there are, like \"4 {name}\" (load.count)"));
    }
    let medical = appliances::sounds_medical(name) || first.is_some_and(Appliance::medical);
    let quoted = |text: &str| text.replace(['"', '\\'], "");
    let mut lines = String::new();
    let cooler = first.is_some_and(|like| like.says("kind") == Some("cooler"));
    if cooler && *count > 1 {
        return Err(format!("write each of several coolers by itself: `{whole}`"));
    }
    if cooler && let Some(hours) = hours {
        return Err(format!(
            "`{whole}` runs by its thermostat at all hours, which are not yours to tell: leave `{}` out",
            if *night { "the night" } else { hours.as_str() }
        ));
    }
    // Watts of one's own beside what the library knows of when it runs.
    // A word for several things, some of which run all day ("pump"), tells nothing of when.
    let has_hours = |like: &Appliance| {
        !like.hours().is_empty() || ["energy_a_day", "duty"].iter().any(|key| like.says(key).is_some())
    };
    let knows_when = first.filter(|_| cooler || found.iter().all(|like| has_hours(like)));
    let (mut like_name, mut library_hours) = (None, None);
    match (watts, first, knows_when) {
        (None, Some(like), _) | (Some(_), _, Some(like)) => {
            if !has_ac && outlet.is_none() && on_ac(like) && (watts.is_none() || cooler) {
                return Err(format!(
                    "`{whole}`{} needs an AC outlet, and there is none: write what it draws on 12 V, like \"{name} 10 W on 12 V\" \
                     with its own watts, or leave it out",
                    if like.name.eq_ignore_ascii_case(name) {
                        String::new()
                    } else {
                        format!(", taken for \"{}\",", like.name)
                    }
                ));
            }
            if !like.name.eq_ignore_ascii_case(name) {
                said.told.push(taken_for(name, &found, like));
            }
            like_name = Some(like.name.as_str());
            if hours.is_none() && !like.hours().is_empty() {
                library_hours = Some(like.hours().split(", ").map(String::from).collect());
            }
            lines += &format!("like = \"{}\"\npriority = \"vital\"\n", like.name);
            let elsewhere = outlet.or((!has_ac && on_ac(like)).then_some("dc"));
            lines += &elsewhere.map_or(String::new(), |outlet| format!("outlet = \"{outlet}\"\n"));
            lines += &watts.as_ref().map_or(String::new(), |watts| format!("watts = \"{}\"\n", quoted(watts)));
            let library = |key: &str| like.says(key).filter(|_| watts.is_some());
            if let Some(share) = share(thing, Some(like), said)? {
                lines += &share;
            } else if throughout(thing, like) {
                lines += "kind = \"schedule\"\n";
                said.told.push(on_for_all(thing));
            } else if let Some(duty) = like.says("duty").filter(|_| watts.is_some() || hours.is_some()) {
                said.told
                    .push(format!("{whole}: draws its watts {duty} of the time, as the library has it (load.duty)"));
            }
            match (start, library("starting_watts")) {
                // What USB feeds has no motor of the library's.
                (None, Some(_)) if *outlet == Some("usb") => lines += &starting(watts.as_deref()),
                (None, Some(usual)) => {
                    let scaled = scaled(watts.as_deref(), like);
                    lines += &scaled.as_ref().map_or(String::new(), |start| format!("starting_watts = \"{start}\"\n"));
                    let start = scaled.as_deref().unwrap_or(usual);
                    said.told.push(usual_start(whole, start));
                }
                (start, _) => lines += &starting(start.as_deref()),
            }
        }
        (Some(watts), other, None) if !name.is_empty() => {
            let outlet = outlet.unwrap_or(if has_ac { "ac" } else { "dc" });
            let when = if hours.is_some() || runs.is_some() { "" } else { " It is taken to run all day and night." };
            let other = other.map_or(String::new(), |like| {
                format!(" The library has \"{}\": without watts behind the name its figures are taken.", like.name)
            });
            if !when.is_empty() || !other.is_empty() {
                said.told.push(format!("{name} {watts}: on the {} outlet.{when}{other}", outlet.to_uppercase()));
            }
            lines += &format!(
                "name = \"{}\"\n{:<38}# or \"ac\", \"dc\", \"usb\"\npriority = \"vital\"\nwatts = \"{}\"\n",
                quoted(name),
                format!("outlet = \"{outlet}\""),
                quoted(watts)
            );
            match share(thing, None, said)? {
                Some(share) => lines += &share,
                None if hours.is_some() && !night => said.told.push(on_for_all(thing)),
                None => {}
            }
            // One thing of the library keeps its start, whatever its watts.
            let usual = first.filter(|_| found.len() == 1 && start.is_none());
            match usual
                .and_then(|like| scaled(Some(watts.as_str()), like).or(like.says("starting_watts").map(String::from)))
            {
                Some(start) => {
                    said.told.push(usual_start(whole, &start));
                    lines += &starting(Some(&start));
                }
                None => lines += &starting(start.as_deref()),
            }
            if medical {
                said.told.push(format!(
                    "{whole}: taken for something that a person's health hangs on, and judged with care (load.medical). Ask the \
                     device's supplier and whoever prescribed it for a plan."
                ));
                lines += "medical = true\n";
            }
        }
        _ => return Err(unknown(whole, name)),
    }
    if *count > 1 {
        lines += &format!("count = {count}\n");
    }
    lines += &hours.as_ref().map_or(String::new(), |hours| format!("hours = \"{hours}\"\n"));
    let own = hours.iter().cloned().collect();
    let runs = library_hours.clone().unwrap_or(own);
    Ok(Wanted { whole: whole.to_string(), lines, like: like_name, hours: runs, library_hours })
}

/// What a thing of more watts than the library's draws as it starts: as many times its watts as that one.
fn scaled(watts: Option<&str>, like: &Appliance) -> Option<String> {
    let [told, usual, start] =
        [watts, like.says("watts"), like.says("starting_watts")].map(|text| text.and_then(in_watts));
    let (told, usual, start) = (told?, usual?, start?);
    (told > usual).then(|| format!("{} W", (start * told / usual).round()))
}

/// That a thing of one's own watts starts as the library's does.
fn usual_start(whole: &str, start: &str) -> String {
    format!(
        "{whole}: starts with {start}, by the library's: \"600 W start\" behind its watts says otherwise (load.starting_watts)"
    )
}

fn starting(start: Option<&str>) -> String {
    start.map_or(String::new(), |start| format!("starting_watts = \"{start}\"\n"))
}

/// Whether a name says that there are several without saying how many: "lamps".
fn is_several(name: &str) -> bool {
    let lower = name.to_lowercase();
    let said = |one: &str| !one.ends_with('s') && !one.contains(|c: char| c.is_ascii_digit());
    lower.strip_suffix('s').is_some_and(|one| said(one) && !appliances::by_word(one).is_empty())
        && !appliances::all().iter().any(|like| like.name.to_lowercase() == lower)
}

fn unknown(whole: &str, name: &str) -> String {
    if let Some(why) = amps(whole) {
        return why;
    }
    let plain = whole.to_lowercase();
    if let Some(name) = HOW_MANY.iter().find_map(|word| plain.strip_prefix(word)) {
        return format!("`{whole}` does not say how many: write \"3 {name}\" with your own number");
    }
    let bare_number = name.rsplit_once(' ').filter(|(_, last)| last.parse::<f64>().is_ok());
    if let Some((name, watts)) = bare_number {
        if is_several(name) && watts.parse::<u32>().is_ok_and(|count| count > 0) {
            return format!(
                "`{whole}`: write \"{watts} {name}\" for so many of them, or \"{name} {watts} W\" for their watts"
            );
        }
        return format!("`{whole}` needs a unit: write \"{name} {watts} W\"");
    }
    let near = appliances::near_word(name).map_or(String::new(), |near| format!("; did you mean \"{near}\"?"));
    format!(
        "`{whole}` is not a thing of the library: write the watts of its label behind it, like \"{} 50 W\" with your own figure{near}; \
         tideover appliances lists what is known",
        if name.is_empty() { "aquarium" } else { name }
    )
}

/// The things of a list. Names of appliances hold commas themselves: "fridge, 300 litres".
fn things(text: &str) -> Vec<String> {
    let parts: Vec<&str> = text.split([',', ';', '+']).map(str::trim).filter(|part| !part.is_empty()).collect();
    let mut things: Vec<String> = Vec::new();
    let mut at = 0;
    while at < parts.len() {
        let both = parts.get(at + 1).map(|next| format!("{}, {next}", parts[at]));
        match both.filter(|both| is_one(both)) {
            Some(both) => {
                things.extend(both.split(" and ").map(|thing| thing.trim().to_string()));
                at += 2;
            }
            None => {
                things.extend(parts[at].split(" and ").map(|thing| thing.trim().to_string()));
                at += 1;
            }
        }
    }
    things
}

/// Whether two parts of a list begin with one name of the library, behind how many there are: "2 LED lamp, 12 V 5 W"; the
/// "LED lamp, 12 V cooler" are two.
fn is_one(both: &str) -> bool {
    let (first, rest) = both.split_once(' ').unwrap_or((both, ""));
    let counts = first.trim_end_matches(['x', '×']).parse::<u32>().is_ok() || ["a", "my", "the", "an"].contains(&first);
    let beside = |behind: &str| {
        let next = behind.split_whitespace().next().unwrap_or_default().to_lowercase();
        behind.is_empty()
            || behind.starts_with(' ')
                && (next.starts_with(|c: char| c.is_ascii_digit())
                    || ALWAYS.contains(&next.as_str())
                    || ["on", "at", "from", "all", "every", "overnight", "each", "dc", "usb", "and", "in", "for"]
                        .contains(&next.as_str()))
    };
    [both, if counts { rest } else { both }].iter().any(|text| {
        appliances::all().iter().filter(|one| one.name.contains(", ")).any(|one| {
            text.get(..one.name.len())
                .is_some_and(|begins| begins.eq_ignore_ascii_case(&one.name) && beside(&text[one.name.len()..]))
        })
    })
}

fn taken_for(name: &str, found: &[&Appliance], like: &Appliance) -> String {
    let others = found.iter().filter(|other| other.name != like.name).take(3);
    let others: Vec<String> = others.map(|other| format!("\"{}\"", other.name)).collect();
    let others = if others.is_empty() { String::new() } else { format!(" (or {})", others.join(", ")) };
    format!("{name}: taken for \"{}\"{others}", like.name)
}
