//! What one kit of a line-up is good for, in words.

use super::lineup::money;
use super::misfit;
use super::words::points;
use crate::study::Verdict;
use crate::study::lineup::{Addition, Cell, Lineup, Profile};

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

/// Cases with the number of places where there are several: "A, B (2 of 4 places)".
fn cases_words(lineup: &Lineup, cells: &[(usize, usize)]) -> String {
    let places = lineup.places.len();
    let named: Vec<String> = (0..lineup.cases.len())
        .filter_map(|case| {
            let here = cells.iter().filter(|(_, c)| *c == case).count();
            match here {
                0 => None,
                n if n == places => Some(lineup.cases[case].name.clone()),
                n => Some(format!("{} ({n} of {places} places)", lineup.cases[case].name)),
            }
        })
        .collect();
    named.join(", ")
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
    if let Some(&(place, case)) = profile.misfits.first() {
        let (word, reason) = match lineup.cell(place, case, kit) {
            Some(Cell::Misfit { why, reason }) => (misfit::word(*why), reason.as_str()),
            _ => Default::default(),
        };
        out.push(format!(
            "Does not fit: {}. In {}, {word}: {}.",
            cases_words(lineup, &profile.misfits),
            lineup.cases[case].name,
            reason.trim_end_matches('.')
        ));
    }
    if !profile.fails_on.is_empty() {
        let each: Vec<String> = profile
            .fails_on
            .iter()
            .map(|(load, cases)| {
                let names: Vec<&str> = cases.iter().map(|&case| lineup.cases[case].name.as_str()).collect();
                format!("{load} ({})", names.join(", "))
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
                "One addition: {words} changes most, {} of 100 in the mean of {} cells ({} to {} by chance), most in {}{at} ({}).",
                points(best.mean),
                best.cells,
                points(best.interval.low),
                points(best.interval.high),
                lineup.cases[case].name,
                points(most)
            )
        } else if most > 0.0 {
            format!("One addition: {words} helps most, {} of 100 at best, in {}{at}.", points(most), lineup.cases[case].name)
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
