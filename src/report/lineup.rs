//! The answer of `lineup` as a document: the matrix, case by case, kit by kit.

use super::document::{Column, Document, Table};
use super::figure::{Data, Figure, HATCHED, Matrix, Picture};
use super::lineup_case::{case_words, cheapest, fails_words, kit_with_price, ranks};
use super::misfit;
use super::outage::by_chance_alone;
use super::place::near;
use super::told::Words;
use super::verdict::{self, rule, sign};
use super::words::{percent, range, survival, thousands};
use crate::places::{LONELY_KM, nearest};
use crate::study::Verdict;
use crate::study::lineup::{Band, Cell, CellAnswer, KitFacts, Lineup, Note, PROBE, all_round, least, profile};

/// A band in a word or two.
#[must_use]
pub fn word(band: Band) -> &'static str {
    match band {
        Band::Carries => "carries it",
        Band::Probably => "probably",
        Band::Mostly => "mostly",
        Band::Seldom => "seldom",
        Band::Hardly => "hardly ever",
    }
}

/// What the signs mean, one line each.
#[must_use]
pub fn legend() -> Vec<(&'static str, String)> {
    let verdicts =
        Verdict::ALL.map(|verdict| (sign(verdict), format!("{}: {}", verdict::word(verdict), rule(verdict))));
    verdicts.into_iter().chain(misfit::LEGEND.map(|(sign, meaning)| (sign, meaning.to_string()))).collect()
}

/// A case's letter: A, B ... Z, AA ...
#[must_use]
pub fn letter(case: usize) -> String {
    let last = char::from(b'A' + (case % 26) as u8);
    if case < 26 { last.to_string() } else { format!("{}{last}", letter(case / 26 - 1)) }
}

/// A cell of the matrix: its sign and its range in 100 outages.
#[must_use]
pub fn cell(lineup: &Lineup, case: usize, cell: Option<&Cell>) -> String {
    match cell {
        None => "?".into(),
        Some(Cell::Misfit { why, .. }) => misfit::mark(*why).into(),
        Some(Cell::Fits(verdict)) => {
            let sign = cell.and_then(|cell| lineup.verdict(case, cell)).map_or("", sign);
            format!("{sign:<2} {}", range(verdict.survival.interval, 0))
        }
    }
}

/// Whether each case stands at its own place.
fn at_own_places(lineup: &Lineup) -> bool {
    lineup.places.len() == 1 && !lineup.places[0].contains(',')
}

/// The sentences that open the answer: how many cases some kit suffices for, and which kit does for the most.
#[must_use]
pub fn lead(lineup: &Lineup) -> String {
    let (kits, cases, places) = (lineup.kits.len(), lineup.cases.len(), lineup.places.len());
    let of = |n: usize, one: &str| if n == 1 { format!("one {one}") } else { format!("{n} {one}s") };
    let own = at_own_places(lineup);
    let at = if own { "each at its own place".to_string() } else { format!("in {}", of(places, "place")) };
    let mut out = format!("{} against {}, {at}.", of(kits, "kit"), of(cases, "case"));
    let (mut suffices, mut asked) = (0, 0);
    for place in 0..places {
        for case in 0..cases {
            asked += 1;
            let verdicts = lineup.verdicts(place, case);
            suffices += usize::from(least(&lineup.kits, &verdicts, lineup.rule.target).is_some());
        }
    }
    out.push_str(&format!(
        " In {suffices} of {asked} {} some kit is sure enough of {}",
        if own { "cases" } else { "cases and places" },
        percent(lineup.rule.target)
    ));
    out.push_str(&match all_round(lineup) {
        None => ".".into(),
        Some((kit, most)) => {
            let many = if most == suffices { "all".to_string() } else { most.to_string() };
            format!("; {} is in {many} of them.", kit_with_price(lineup, kit))
        }
    });
    let missing = lineup.cells.iter().filter(|cell| cell.is_none()).count();
    if missing > 0 {
        out.push_str(&format!(" Stopped before its time: {missing} of {} cells are not done.", lineup.cells.len()));
    }
    out
}

impl Words for Note {
    fn words(&self) -> String {
        match self {
            Note::ScenarioTellsMore => {
                "What each cell assumes in detail is told by `tideover run` on its scenario (--write-scenario KIT CASE).".into()
            }
            Note::HalfAYearAcross { cases } => format!(
                "Across the equator from a case's own place its month is moved by half a year, so that a winter stays one: {}.",
                cases.join(", ")
            ),
            Note::FuelNeverEnds { cases } => format!(
                "Fuel is taken never to end, since it is not said how much there is: {}. How many litres a kit then burns is told by \
                 `tideover run` on its scenario.",
                cases.join(", ")
            ),
            Note::FewTrials { trials, enough } => format!(
                "{} trials are few: chance alone keeps every range wide, and kits that are marked \"{}\" may turn out to be as sure \
                 as those marked \"{}\". Take {} or more.",
                thousands(*trials),
                sign(Verdict::Likely),
                sign(Verdict::CountOnIt),
                thousands(*enough)
            ),
            Note::Medical => {
                "A medical device is among the loads: judge by the lower end of the range, keep a second way to power it, and \
                 settle the plan with its maker and whoever prescribed it."
                    .into()
            }
        }
    }
}

/// How the cells came about.
#[must_use]
pub fn footing(lineup: &Lineup) -> String {
    let rule = &lineup.rule;
    let pair = if at_own_places(lineup) { "for each kit and case" } else { "for each kit, case and place" };
    let (first, all) = (rule.trials.min(PROBE), rule.trials);
    let count = if rule.all_trials || first == all {
        format!("{} {pair}", thousands(all))
    } else {
        format!("at least {} {pair}, and {} where those left a verdict in doubt", thousands(first), thousands(all))
    };
    format!(
        "Every kit met the same outages, weather and load luck: {count}, seed {}. Ranges are 95 % and count what is not \
         known; differences between kits are paired, so they are much surer than the ranges suggest.",
        rule.seed
    )
}

/// The whole answer.
///
/// * `details` — whether every ranking is shown in full.
#[must_use]
pub fn document(lineup: &Lineup, details: bool) -> Document {
    let (cases, places) = (|| 0..lineup.cases.len(), || 0..lineup.places.len());
    let mut out = Document::new("Line-up");
    out.lead(lead(lineup));
    let few = |note: &&Note| matches!(note, Note::FewTrials { .. });
    if let Some(note) = lineup.notes.iter().find(few) {
        out.caution(note.words());
    }
    out.say(cheapest(lineup));
    for place in places() {
        out.head(place_head(&lineup.places[place])).figure(matrix(lineup, place));
    }
    let signs = legend().into_iter().map(|(sign, meaning)| (sign.to_string(), vec![meaning]));
    out.head("The signs").entries(signs.collect()).say(format!("Numbers are the range in 100 outages. Where a person's health hangs on a load, its lower end stands for the best estimate. A kit suffices where the lower end reaches {}.", percent(lineup.rule.target)));
    let named = cases().map(|k| (letter(k), vec![format!("{} ({})", lineup.cases[k].title, lineup.cases[k].name)]));
    out.head("Cases").entries(named.collect());
    if !details {
        out.head("Case by case");
    }
    for case in cases() {
        if details {
            out.head(format!("{}: {}", letter(case), lineup.cases[case].title));
        }
        for place in places() {
            let verdicts = lineup.verdicts(place, case);
            let words = case_words(lineup, &verdicts);
            if details {
                let at = if lineup.places.len() > 1 { format!("At {}: ", lineup.places[place]) } else { String::new() };
                out.say(format!("{at}{words}")).table(ranks(lineup, place, case));
                let told = verdicts.iter().map(|(_, answer)| &answer.survival);
                out.say(by_chance_alone(told));
            } else {
                let at = if lineup.places.len() > 1 { format!(" at {}", lineup.places[place]) } else { String::new() };
                out.entries(vec![(format!("{}{at}", letter(case)), vec![words])]);
            }
        }
    }
    let kit = |kit: usize| {
        let words = super::lineup_kit::profile_words(lineup, kit, &profile(lineup, kit));
        (format!("{} ({})", lineup.kits[kit].name, super::lineup_kit::facts_words(lineup, kit)), words)
    };
    out.head("Kit by kit").entries((0..lineup.kits.len()).map(kit).collect());
    let others = lineup.notes.iter().filter(|note| !few(note)).map(Words::words);
    out.head("What this rests on").list(std::iter::once(footing(lineup)).chain(others));
    out
}

/// A place at the head of its matrix.
#[must_use]
pub fn place_head(place: &str) -> String {
    let number = |text: &str| text.trim().parse::<f64>().ok();
    let position = place.split_once(',').and_then(|(latitude, longitude)| number(latitude).zip(number(longitude)));
    let town = position.and_then(|(latitude, longitude)| nearest(latitude, longitude));
    match (position, town.filter(|(_, km)| *km <= LONELY_KM)) {
        (None, _) => "Each case at its own place".into(),
        (_, None) => format!("At {place}"),
        (_, Some((town, km))) => format!("At {place} ({})", near(&town, km)),
    }
}

/// Where the reason of a cell stands on a page.
pub(super) fn anchor(place: usize, case: usize, kit: usize) -> String {
    format!("why-{place}-{case}-{kit}")
}

/// A cell in a sentence: what it is and why.
fn reason(lineup: &Lineup, (place, case, kit): (usize, usize, usize)) -> String {
    match lineup.cell(place, case, kit) {
        None => "not done: stopped before its time.".into(),
        Some(Cell::Misfit { why, reason }) => format!("{}: {}.", misfit::word(*why), reason.trim_end_matches('.')),
        Some(cell @ Cell::Fits(answer)) => {
            let first = match &answer.first_failure {
                Some(_) => format!("fails first on the {}", fails_words(answer)),
                None => fails_words(answer),
            };
            let judged = lineup.verdict(case, cell).map_or("", verdict::word);
            format!("{judged}: rides through {}; {first}.", survival(&answer.survival))
        }
    }
}

/// Every kit against every case at a place.
fn matrix(lineup: &Lineup, place: usize) -> Figure {
    let (cases, kits) = (|| 0..lineup.cases.len(), || 0..lineup.kits.len());
    let row = |(kit, facts): (usize, &KitFacts)| {
        let cells = cases().map(|case| cell(lineup, case, lineup.cell(place, case, kit)));
        std::iter::once(facts.name.clone()).chain(cells).collect::<Vec<_>>()
    };
    let columns = std::iter::once(Column::left("kit")).chain(cases().map(|case| Column::left(letter(case))));
    let shade = |case: usize, kit: usize| match lineup.cell(place, case, kit) {
        Some(Cell::Misfit { .. }) => HATCHED,
        cell => match cell.and_then(|cell| lineup.verdict(case, cell)) {
            Some(Verdict::CountOnIt) => 4,
            Some(Verdict::Likely) => 3,
            Some(Verdict::TossUp) => 2,
            Some(Verdict::DoNotCount) | None => 0,
        },
    };
    let cells = || kits().flat_map(|kit| cases().map(move |case| (case, kit)));
    let share = |of: fn(&CellAnswer) -> f64| {
        cells().map(move |(case, kit)| match lineup.cell(place, case, kit) {
            Some(Cell::Fits(verdict)) => 100.0 * of(verdict),
            _ => f64::NAN,
        })
    };
    Figure {
        name: "matrix",
        title: format!("Every kit against every case. {}", place_head(&lineup.places[place])),
        data: vec![
            Data::names("kit", cells().map(|(_, kit)| lineup.kits[kit].name.clone())),
            Data::names("case", cells().map(|(case, _)| lineup.cases[case].name.clone())),
            Data::names("place", cells().map(|_| lineup.places[place].clone())),
            Data::numbers("survival_low", "percent", share(|verdict| verdict.survival.interval.low)),
            Data::numbers("survival", "percent", share(|verdict| verdict.survival.probability)),
            Data::numbers("survival_high", "percent", share(|verdict| verdict.survival.interval.high)),
            Data::names("why", cells().map(|(case, kit)| reason(lineup, (place, case, kit)))),
        ],
        picture: Picture::Matrix(Matrix {
            table: Table::new(columns).scrolls().rows(lineup.kits.iter().enumerate().map(row)),
            heads: cases().map(|case| lineup.cases[case].title.clone()).collect(),
            cells: kits()
                .map(|kit| cases().map(|case| (shade(case, kit), anchor(place, case, kit))).collect())
                .collect(),
        }),
        legend:
            "Each mark leads to its reason. The fuller a cell, the surer; hatched: does not work so, the sign says why."
                .into(),
        quiet: false,
    }
}
