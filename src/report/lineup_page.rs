//! The answer of `lineup` as one self-contained page.

use super::lineup::{RANK_HEADS, best_words, cell, footing, lead, least_words, legend, letter, place_head, rank_rows};
use super::lineup_kit::{facts_words, profile_words};
use super::page::{Cell as PageCell, Page, list, paragraph, table};
use crate::study::lineup::{Lineup, profile, ranking};

/// The page.
#[must_use]
pub fn html(lineup: &Lineup) -> String {
    let mut sections = Vec::new();
    for place in 0..lineup.places.len() {
        sections.push((place_head(&lineup.places[place]), matrix(lineup, place)));
    }
    let signs: Vec<Vec<PageCell>> = legend(lineup.rule.target)
        .into_iter()
        .map(|(sign, meaning)| vec![PageCell::Text(sign.into()), PageCell::Text(meaning)])
        .collect();
    sections.push((
        "The signs".into(),
        table(&["sign", "meaning"], &signs) + &paragraph("Numbers are the range in 100 outages."),
    ));
    for (case, facts) in lineup.cases.iter().enumerate() {
        let mut body = String::new();
        for place in 0..lineup.places.len() {
            let verdicts = lineup.verdicts(place, case);
            let standings = ranking(&verdicts);
            body.push_str(&paragraph(&format!(
                "{}: {} {}",
                place_head(&lineup.places[place]),
                least_words(lineup, &verdicts),
                best_words(lineup, &verdicts, &standings)
            )));
            let rows: Vec<Vec<PageCell>> = rank_rows(lineup, place, case)
                .into_iter()
                .map(|row| row.into_iter().map(PageCell::Text).collect())
                .collect();
            body.push_str(&table(&RANK_HEADS, &rows));
        }
        sections.push((format!("{} {}", letter(case), facts.title), body));
    }
    for (kit, facts) in lineup.kits.iter().enumerate() {
        let words = profile_words(lineup, kit, &profile(lineup, kit));
        sections.push((format!("{} ({})", facts.name, facts_words(lineup, kit)), list(&words)));
    }
    let rests: Vec<String> = std::iter::once(footing(lineup)).chain(lineup.notes.iter().cloned()).collect();
    sections.push(("What this rests on".into(), list(&rests)));
    Page { title: "Line-up".into(), lead: lead(lineup), under: String::new(), sections }.html()
}

fn matrix(lineup: &Lineup, place: usize) -> String {
    let heads: Vec<String> = (0..lineup.cases.len()).map(letter).collect();
    let heads: Vec<&str> = std::iter::once("kit").chain(heads.iter().map(String::as_str)).collect();
    let rows: Vec<Vec<PageCell>> = lineup
        .kits
        .iter()
        .enumerate()
        .map(|(kit, facts)| {
            let cells = (0..lineup.cases.len())
                .map(|case| PageCell::Text(cell(lineup.cell(place, case, kit), lineup.rule.target)));
            std::iter::once(PageCell::Text(facts.name.clone())).chain(cells).collect()
        })
        .collect();
    table(&heads, &rows)
}
