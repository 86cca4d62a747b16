//! What the label of a station says, as people copy it.

use super::figures::{Kind, amps, figure};
use super::panels::is_none;
use super::{Answered, bare};
use crate::scenario::age;
use crate::scenario::as_written::{Condition, condition, decimal_points, number_word, powers};
use crate::scenario::model::Chemistry;
use crate::scenario::station::{kind_of_cells, may_be_lead, names_cells, volts_of};
use crate::units::two_readings;

/// Capacity and kind of cells, as a file has them.
pub(super) struct Cells {
    pub capacity: String,
    pub chemistry: String,
    /// A battery by itself, see [`is_block`].
    pub block: bool,
    /// What is left of it, where that or its age is told.
    pub health: Option<String>,
    /// That it is said to be new.
    pub new: bool,
    /// How full it is as the lights go out, where that is told.
    pub charged: Option<String>,
}

/// Whether a label is that of a battery by itself, which has poles and no outlets: lead-acid, or volts of 12 and more with
/// amp-hours; a station is one that is called so.
pub(super) fn is_block(text: &str) -> bool {
    let lower = text.to_lowercase();
    let lead = lower.split_whitespace().any(|word| {
        let word = word.trim_matches([',', '(', ')', ';']);
        sold_by(word) || kind_of_cells(word).is_some_and(|kind| kind == Chemistry::LeadAcid)
    });
    let named = ["battery", "batteries", "lead acid"].iter().any(|word| lower.contains(word));
    let volts = volts_of(&decimal_points(text).unwrap_or_else(|_| text.into())).is_some_and(|volts| 10.0 < volts);
    let amp_hours = lower.contains("ah") && volts && !lower.contains("mah");
    !lower.contains("station") && !lower.contains("power bank") && (lead || named || amp_hours)
}

/// Words that lead-acid batteries alone are sold by: how they are built, and in how many hours they were emptied for the label
/// (common practice, no source).
fn sold_by(word: &str) -> bool {
    ["tubular", "flooded", "c5", "c10", "c20", "c100", "c/5", "c/10", "c/20", "c/100"]
        .contains(&word.to_lowercase().trim_start_matches('@'))
}

/// Words beside a capacity that say nothing more.
const AROUND: [&str; 25] = [
    "in",
    "parallel",
    "it's",
    "its",
    "it",
    "holds",
    "has",
    "my",
    "the",
    "label",
    "says",
    "acid",
    "battery",
    "batteries",
    "station",
    "power",
    "deep",
    "cycle",
    "cell",
    "cells",
    "a",
    "an",
    "of",
    "capacity",
    "usable",
];

/// Cells that are named in several words, in one.
fn cells_in_one_word(text: &str) -> String {
    let mut text = text.to_string();
    for (words, one) in [("lithium iron phosphate", "LiFePO4"), ("lithium ion", "Li-ion"), ("lithium polymer", "LiPo")]
    {
        while let Some(at) = text.to_ascii_lowercase().find(words) {
            text.replace_range(at..at + words.len(), one);
        }
    }
    text
}

/// "1024 Wh", "12 V 100 Ah AGM", "two 12 V 100 Ah gel batteries".
///
/// * `chemistry` — told beside the capacity, where it was.
pub(super) fn cells(text: &str, chemistry: Option<&str>, said: &mut Answered) -> Result<Cells, String> {
    let whole = text;
    let (text, told) = condition(text);
    let text = &*text;
    condition_is_clear(whole, text, &told)?;
    let plain = |word: &str| word.trim_matches([',', '(', ')', ';']).to_string();
    // A number alone that can be read in two ways is asked for with the unit below.
    let text = &cells_in_one_word(&decimal_points(text).unwrap_or_else(|_| text.to_string()));
    let (cells, rest): (Vec<&str>, Vec<&str>) = text.split_whitespace().partition(|word| names_cells(&plain(word)));
    let mut words: Vec<String> = rest
        .into_iter()
        .map(|word| plain(&word.to_lowercase()).is_empty().then(String::new).unwrap_or_else(|| word.to_string()))
        .filter(|word| !word.is_empty() && !AROUND.contains(&plain(&word.to_lowercase()).as_str()))
        .collect();
    let lead = words.iter().position(|word| sold_by(&plain(word))).map(|at| plain(&words[at]));
    words.retain(|word| !sold_by(&plain(word)));
    let chemistry = match &lead {
        Some(word) if cells.is_empty() && chemistry.is_none() => {
            said.told
                .push(format!("{word}: read as lead-acid, which batteries are that are sold so (station.chemistry)"));
            Some("lead-acid")
        }
        _ => chemistry,
    };
    let lithium = |word: &String| ["lithium", "li"].contains(&plain(&word.to_lowercase()).as_str());
    if words.iter().any(lithium) {
        words.retain(|word| !lithium(word));
        if cells.is_empty() && chemistry.is_none() {
            let told = words.join(" ");
            return Err(format!(
                "`{text}` may be either kind of lithium cells: write \"{told} LFP\" where the label says LiFePO4 or iron \
                 phosphate, or \"{told} NMC\" where it says Li-ion"
            ));
        }
    }
    if !words.iter().any(|word| word.contains(|c: char| c.is_ascii_digit()) || number_word(&word.to_lowercase()).is_some()) {
        let kind = cells.first().map_or(String::new(), |kind| format!(" {}", plain(kind)));
        return Err(format!(
            "`{whole}` does not say what it holds: write \"1000 Wh{kind}\" or \"12 V 100 Ah{kind}\" with the figures of its label"
        ));
    }
    if let Some(at) = words.iter().position(|word| plain(&word.to_lowercase()) == "series") {
        words.remove(at);
        let count = words.first().and_then(|word| {
            let word = word.to_lowercase();
            number_word(&word).or_else(|| word.trim_end_matches(['x', '×']).parse().ok())
        });
        let volts = volts_of(&words.join(" "));
        if let (Some(count), Some(volts)) = (count, volts) {
            let sum = crate::units::one_reading(f64::from(count) * volts);
            return Err(format!(
                "`{whole}` adds up the volts of the batteries: write the whole, like \"{sum} V 100 Ah\" with the amp-hours of one"
            ));
        }
    }
    // "two 12 V 100 Ah".
    if let Some(count) = words.first().and_then(|word| number_word(&word.to_lowercase())) {
        words[0] = format!("{count} x");
    }
    let joined = words.join(" ");
    let number = joined.to_lowercase();
    let number = number.strip_suffix("wh").unwrap_or(&number).trim_end();
    if let Some([thousands, decimals]) = two_readings(number)
        && decimals.parse().is_ok_and(|wh: f64| wh < super::LEAST_WH)
    {
        return Err(format!(
            "`{text}` can be read in two ways, as {thousands} Wh or as {decimals} Wh, and no station holds so little: write \
             \"{thousands} Wh\""
        ));
    }
    if let Some(why) = amps(text) {
        let like =
            "what it holds is told by watt-hours, like \"1000 Wh\", or volts and amp-hours, like \"12.8 V x 100 Ah\"";
        return Err(format!("{}: {like}", why.split(": ").next().unwrap_or_default()));
    }
    // Below this a bare number may be amp-hours.
    let capacity = bare(&words.join(" "), "Wh", (400.0, 100_000.0), said).map_err(|why| {
        format!("{why}; watt-hours like \"1000 Wh\", or volts and amp-hours like \"12.8 V x 100 Ah\"")
    })?;
    let kinds: Vec<Chemistry> = cells.iter().filter_map(|word| kind_of_cells(&plain(word))).collect();
    if let [one, others @ ..] = &kinds[..]
        && others.iter().any(|other| other != one)
    {
        return Err(format!("`{text}` names two kinds of cells: write the one that stands on the label"));
    }
    let chemistry = match cells.first().map(|word| plain(word)).as_deref().or(chemistry) {
        Some(told) => told.to_string(),
        None if may_be_lead(&capacity) => {
            return Err(format!(
                "`{capacity}` may be lead-acid or lithium, which give very different hours: add what it is, like \"{capacity} \
                 AGM\" or \"{capacity} LFP\""
            ));
        }
        None if volts_of(&capacity).is_some_and(|volts| (3.55..=3.75).contains(&volts)) => {
            said.assumed.push("Cells of 3.6 or 3.7 V are Li-ion, NMC: LiFePO4 has 3.2 V (station.chemistry).".into());
            "NMC".into()
        }
        None => {
            said.assumed.push(
                "The cells are LFP: AGM, gel or Li-ion beside the capacity says otherwise (station.chemistry).".into(),
            );
            "LFP".into()
        }
    };
    let block = is_block(whole)
        || !whole.to_lowercase().contains("station") && kind_of_cells(&chemistry) == Some(Chemistry::LeadAcid);
    let health = told.years.map(|years| {
        let kind = kind_of_cells(&chemistry).unwrap_or(Chemistry::Lfp);
        let health = age::left_written(kind, years);
        said.told.push(format!(
            "{whole}: {health} of the label is taken to be left at its age (common practice, no source); a discharge test tells more \
             (station.state_of_health)"
        ));
        health
    });
    let per_cent = |share: f64| format!("{:.0} %", 100.0 * share);
    let health = told.health.map(per_cent).or(health);
    let charged = told.charged.map(per_cent);
    said.told.extend(charged.as_ref().map(|charged| {
        format!("{whole}: {charged} full as the lights go out (outage.starts_charged)")
    }));
    Ok(Cells { capacity, chemistry, block, health, new: told.new, charged })
}

/// Whether what is told of a battery's age and charge can be taken.
///
/// * `bare` — the answer without it.
fn condition_is_clear(whole: &str, bare: &str, told: &Condition) -> Result<(), String> {
    if let Some(share) = told.unclear {
        return Err(format!(
            "`{whole}` does not say what {share} % is: write \"{bare}, {share} % full\" for its charge as the lights go out, or \"{bare}, \
             {share} % health\" for what is left of its label"
        ));
    }
    if let Some(year) = told.of_year.filter(|_| told.years.is_none()) {
        return Err(format!("`{whole}`: write how old one of {year} is, like \"{bare}, 4 years old\""));
    }
    if told.used && told.years.is_none() && told.health.is_none() {
        return Err(format!(
            "`{whole}`: a used battery holds less than its label: write how old it is, \"{bare}, 5 years old\", or what a test has \
             left of it, \"{bare}, 80 % health\""
        ));
    }
    Ok(())
}

/// The volts that a battery is charged at for each 12 V of it (common practice, no source), and panels that are made for that.
pub(super) struct Held {
    pub pwm_at: &'static str,
    pub vmp: &'static str,
}

/// What a simple controller does to panels on a battery told as `capacity`.
pub(super) fn held(capacity: &str, panel_w: f64) -> Held {
    match volts_of(capacity) {
        Some(volts) if volts > 20.0 => Held { pwm_at: "26 V", vmp: "36 V" },
        // Large panels have more cells in a row, and give the battery less current for their watts.
        _ if panel_w > 200.0 => Held { pwm_at: "13 V", vmp: "36 V" },
        _ => Held { pwm_at: "13 V", vmp: "18 V" },
    }
}

/// The AC outlets.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ac {
    pub rated: String,
    pub surge: Option<String>,
    /// An inverter by itself, which stays on whatever is asked of it.
    pub stays_on: bool,
}

/// Whether an answer says that there are no AC outlets.
pub(super) fn no_ac(text: &str) -> bool {
    let lower = text.trim().to_lowercase();
    is_none(&lower) || lower.starts_with("no inverter") || lower.starts_with("no ac")
}

/// Words beside the watts that say nothing more.
const BESIDE: [&str; 29] = [
    "mains", "socket", "sockets", "plug", "plugs", "output", "power", "hz", "50hz", "60hz", "each", "built-in", "my", "the",
    "separate", "own", "pure", "modified", "sine", "wave", "ac", "outlet", "outlets", "of", "its", "an", "a", "with",
    "for",
];

/// "1000 W", "1000W (2000W surge)", "600 W separate inverter"; nothing for none.
///
/// * `block` — whether the battery stands by itself: then an inverter does, too.
pub(super) fn ac(text: &str, block: bool, said: &mut Answered) -> Result<Option<Ac>, String> {
    let lower = text.to_lowercase();
    if no_ac(text) {
        return Ok(None);
    }
    if let Some(why) = amps(text) {
        return Err(why);
    }
    if lower.contains("usb") {
        return Err(format!(
            "`{text}`: USB is no AC outlet, and is taken to be there: write none where there is no AC, or the watts of the AC outlets"
        ));
    }
    let stays_on = block || lower.contains("inverter");
    // "1000 W at 230 V": its volts say nothing more.
    let all: Vec<&str> = text.split_whitespace().collect();
    let (mut words, mut at) = (Vec::new(), 0);
    while at < all.len() {
        match figure(&all[at..]).filter(|figure| matches!(figure.kind, Kind::Volts | Kind::Hours)) {
            Some(figure) => at += figure.words,
            None if all.get(at + 1).is_some_and(|next| next.eq_ignore_ascii_case("hz")) => at += 2,
            None => {
                words.push(all[at]);
                at += 1;
            }
        }
    }
    let words = words.into_iter().filter(|word| {
        let word = word.to_lowercase();
        let word = word.trim_matches([',', '(', ')', ';', '.']);
        !["inverter", "at"].contains(&word) && !BESIDE.contains(&word)
    });
    let figures = words.collect::<Vec<_>>().join(" ");
    let figures = figures.trim_matches([',', ' ']);
    if stays_on {
        said.assumed.push(
            "An inverter by itself stays on whatever little is asked of it (station.inverter.switches_off_below); a station's \
             outlet would not."
                .into(),
        );
    }
    if !figures.contains(|c: char| c.is_ascii_digit()) {
        return Err(format!("`{text}` does not say its watts: write them too, like \"600 W {}\"", text.trim()));
    }
    if let Some((lasting, moment)) = powers(&figures.to_lowercase()) {
        said.told.push(format!("{text}: {lasting} for hours, {moment} for a moment (rated, surge)"));
        return Ok(Some(Ac { rated: lasting, surge: Some(moment), stays_on }));
    }
    Ok(Some(Ac { rated: bare(figures, "W", (50.0, 20_000.0), said)?, surge: None, stays_on }))
}
