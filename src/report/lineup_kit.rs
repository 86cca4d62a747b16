//! What one kit of a line-up is good for, in words.

use super::lineup::letter;
use super::lineup_case::money;
use super::words::points;
use crate::study::Verdict;
use crate::study::lineup::{Addition, Cell, Lineup, Misfit, Profile};
use crate::visible::begun;

/// What a kit is: capacity, panels, weight, price.
#[must_use]
pub fn facts_words(lineup: &Lineup, kit: usize) -> String {
    let kit = &lineup.kits[kit];
    let mut facts = vec![format!("{:.0} Wh", kit.capacity_wh)];
    facts.push(if kit.panels_w > 0.0 { format!("{:.0} W of panels", kit.panels_w) } else { "no panel".into() });
    facts.extend(kit.weight_kg.map(|kg| format!("{kg} kg")));
    facts.extend(kit.price.map(|price| money(price, &lineup.currency)));
    facts.join(", ")
}

/// Letters of cases with the number of places where there are several: "A, B (2 of 4 places)".
fn cases_words(lineup: &Lineup, cells: &[(usize, usize)]) -> String {
    let places = lineup.places.len();
    let named: Vec<String> = (0..lineup.cases.len())
        .filter_map(|case| {
            let here = cells.iter().filter(|(_, c)| *c == case).count();
            match here {
                0 => None,
                n if n == places => Some(letter(case)),
                n => Some(format!("{} ({n} of {places} places)", letter(case))),
            }
        })
        .collect();
    named.join(", ")
}

/// So many cases, or cases at places.
fn many(cells: usize, placed: bool) -> String {
    match (cells, placed) {
        (1, false) => "one case".into(),
        (n, false) => format!("{n} cases"),
        (1, true) => "one case at one place".into(),
        (n, true) => format!("{n} cases and places"),
    }
}

/// Where a kit cannot be used, one sentence a sign, each with its reason.
fn misfits(lineup: &Lineup, kit: usize, cells: &[(usize, usize)]) -> Vec<String> {
    let of = |&(place, case): &(usize, usize)| match lineup.cell(place, case, kit) {
        Some(Cell::Misfit { why, reason }) => Some((*why, reason.trim_end_matches('.'))),
        _ => None,
    };
    let head_of = |why: Misfit| match why {
        Misfit::Wiring(_) => "Wrong wiring (w)",
        Misfit::Overload => "A load too big (#)",
        Misfit::Parts => "Does not fit (x)",
    };
    let told = |any: Misfit| {
        let head = head_of(any);
        let here: Vec<(usize, usize)> =
            cells.iter().copied().filter(|cell| of(cell).is_some_and(|(why, _)| head_of(why) == head)).collect();
        let (first, (_, reason)) = (here.first()?, of(here.first()?)?);
        // Where other cells have other reasons, it is said whose this is.
        let whose = if here.iter().all(|cell| of(cell).is_some_and(|(_, other)| other == reason)) {
            String::new()
        } else {
            format!("In {}: ", letter(first.1))
        };
        let reason = if whose.is_empty() { begun(reason) } else { reason.to_string() };
        Some(format!("{head}: {}. {whose}{reason}.", cases_words(lineup, &here)))
    };
    [Misfit::Wiring(None), Misfit::Overload, Misfit::Parts].into_iter().filter_map(told).collect()
}

/// What a kit is good for, what not, what fails first, and which addition would change most.
#[must_use]
pub fn profile_words(lineup: &Lineup, kit: usize, profile: &Profile) -> Vec<String> {
    let mut out = Vec::new();
    let mut say = |head: &str, cells: &[(usize, usize)]| {
        if !cells.is_empty() {
            out.push(format!("{head}: {}.", cases_words(lineup, cells)));
        }
    };
    for (verdict, head) in
        Verdict::ALL.into_iter().zip(["Count on it for", "Likely for", "A toss-up for", "Do not count on it for"])
    {
        let cells: Vec<(usize, usize)> = (profile.fits.iter().copied())
            .filter(|&(place, case)| {
                lineup.cell(place, case, kit).and_then(|cell| lineup.verdict(case, cell)) == Some(verdict)
            })
            .collect();
        say(head, &cells);
    }
    out.extend(misfits(lineup, kit, &profile.misfits));
    if !profile.fails_on.is_empty() {
        let each: Vec<String> = profile
            .fails_on
            .iter()
            .map(|(load, cases)| {
                let letters: Vec<String> = cases.iter().map(|&case| letter(case)).collect();
                format!("{load} ({})", letters.join(", "))
            })
            .collect();
        out.push(format!("Fails first on: {}.", each.join(", ")));
    }
    if let Some(best) = profile.helps.first() {
        let words = addition_words(lineup, kit, best.addition);
        let ((place, case), most) = best.most;
        let at = if lineup.places.len() > 1 { format!(" at {}", lineup.places[place]) } else { String::new() };
        out.push(if best.interval.low > 0.0 {
            format!(
                "One addition: {words} changes most, {} of 100 in the mean of {} ({} to {} by chance), most in {}{at} ({}).",
                points(best.mean),
                many(best.cells, lineup.places.len() > 1),
                points(best.interval.low),
                points(best.interval.high),
                letter(case),
                points(most)
            )
        } else if most > 0.0 {
            format!("One addition: {words} helps most, {} of 100 at best, in {}{at}.", points(most), letter(case))
        } else {
            "One addition: none changes anything that these trials can tell.".into()
        });
    }
    out
}

/// An addition in words.
#[must_use]
pub fn addition_words(lineup: &Lineup, kit: usize, addition: Addition) -> String {
    let kit = &lineup.kits[kit];
    match addition {
        Addition::Panel => {
            let watts = kit.more_string_w.unwrap_or(0.0);
            if kit.panels_w > 0.0 {
                format!("one more string of its panels ({watts:.0} W)")
            } else {
                format!("a first {watts:.0} W panel")
            }
        }
        Addition::DcOutlet => "everything that can on the DC or USB outlet".into(),
        Addition::Battery => "a second battery of the same size".into(),
    }
}
