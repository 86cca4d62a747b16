//! One case of a line-up: which kit suffices, which are best, and why each is what it is.

use super::document::{Column, Table};
use super::lineup::{anchor, letter};
use super::misfit;
use super::verdict;
use super::words::{and, common_decimals, lower_end, percent, survival, survival_with, thousands};
use crate::study::Verdict;
use crate::study::lineup::{Cell, CellAnswer, Least, Lineup, RankedKit, least, least_of, may_suffice, ranking};
use crate::trials::unknowns::ENOUGH;

/// Most kits that a sentence names; the others are counted.
const NAMED: usize = 4;

/// What the least kit is by its measure.
fn least_word(by: Least) -> &'static str {
    match by {
        Least::Price => "cheapest",
        Least::Weight => "lightest",
        Least::Capacity => "smallest",
    }
}

/// A kit with what it is the least of: "Corrie box (610 crowns)".
fn kit_with(lineup: &Lineup, kit: usize, by: Least) -> String {
    let facts = &lineup.kits[kit];
    let what = match by {
        Least::Price => money(facts.price.unwrap_or(0.0), &lineup.currency),
        Least::Weight => format!("{} kg", facts.weight_kg.unwrap_or(0.0)),
        Least::Capacity => format!("{:.0} Wh", facts.capacity_wh),
    };
    format!("{} ({what})", facts.name)
}

/// A kit with its price, where it has one.
#[must_use]
pub fn kit_with_price(lineup: &Lineup, kit: usize) -> String {
    match lineup.kits[kit].price {
        Some(_) => kit_with(lineup, kit, Least::Price),
        None => lineup.kits[kit].name.clone(),
    }
}

/// A price with its money.
#[must_use]
pub fn money(price: f64, currency: &str) -> String {
    let number = if price < 100.0 { format!("{price:.2}") } else { thousands(price.round() as u64) };
    if currency.is_empty() { number } else { format!("{number} {currency}") }
}

/// Case by case the least kit that suffices, and where none does the least that is likely; empty where there are several places,
/// of which the cases' own sentences tell.
#[must_use]
pub fn cheapest(lineup: &Lineup) -> String {
    if lineup.places.len() != 1 {
        return String::new();
    }
    let likely = |case: usize, verdicts: &[(usize, &CellAnswer)]| {
        let is = |kit: usize| {
            let verdict = lineup.cell(0, case, kit).and_then(|cell| lineup.verdict(case, cell));
            matches!(verdict, Some(Verdict::CountOnIt | Verdict::Likely))
        };
        least_of(&lineup.kits, &verdicts.iter().map(|(kit, _)| *kit).filter(|kit| is(*kit)).collect::<Vec<_>>())
    };
    let (mut sure, mut probable, mut none) = (Vec::new(), Vec::new(), Vec::new());
    for case in 0..lineup.cases.len() {
        let verdicts = lineup.verdicts(0, case);
        match (least(&lineup.kits, &verdicts, lineup.rule.target), likely(case, &verdicts)) {
            (Some(kit), _) => sure.push((kit, case)),
            (None, Some(kit)) => probable.push((kit, case)),
            (None, None) => none.push(letter(case)),
        }
    }
    let mut out = Vec::new();
    if !sure.is_empty() {
        out.push(format!("The {} that suffices: {}.", by_all(&sure), by_kit(lineup, &sure)));
    }
    if !probable.is_empty() {
        let (word, told) = (by_all(&probable), by_kit(lineup, &probable));
        out.push(format!("Where none does, the {word} that is likely: {told}."));
    }
    if !none.is_empty() {
        out.push(format!("Not even likely with any kit here: {}.", and(&none)));
    }
    out.join(" ")
}

/// What the kits of some cases are the least of, in a word.
fn by_all(some: &[((usize, Least), usize)]) -> &'static str {
    match some.first() {
        Some(((_, by), _)) if some.iter().all(|((_, other), _)| other == by) => least_word(*by),
        _ => "least",
    }
}

/// Kits with the letters of their cases, the kit of the most cases first.
fn by_kit(lineup: &Lineup, some: &[((usize, Least), usize)]) -> String {
    let mut groups: Vec<((usize, Least), Vec<String>)> = Vec::new();
    for (kit, case) in some {
        match groups.iter_mut().find(|(there, _)| there == kit) {
            Some((_, cases)) => cases.push(letter(*case)),
            None => groups.push((*kit, vec![letter(*case)])),
        }
    }
    groups.sort_by_key(|(_, cases)| std::cmp::Reverse(cases.len()));
    let told = groups.iter().map(|((kit, by), cases)| format!("{} for {}", kit_with(lineup, *kit, *by), and(cases)));
    told.collect::<Vec<_>>().join("; ")
}

/// A case in sentences: the least kit that suffices, those that may as well, and who is at the top.
#[must_use]
pub fn case_words(lineup: &Lineup, verdicts: &[(usize, &CellAnswer)]) -> String {
    let told = [
        least_words(lineup, verdicts),
        may_suffice_words(lineup, verdicts),
        best_words(lineup, verdicts, &ranking(verdicts)),
    ];
    told.into_iter().filter(|words| !words.is_empty()).collect::<Vec<_>>().join(" ")
}

/// The least kit that suffices, as a sentence.
fn least_words(lineup: &Lineup, verdicts: &[(usize, &CellAnswer)]) -> String {
    match least(&lineup.kits, verdicts, lineup.rule.target) {
        None => format!("No kit here is sure enough of {}.", percent(lineup.rule.target)),
        Some((kit, by)) => format!("The {} kit that suffices is {}.", least_word(by), kit_with(lineup, kit, by)),
    }
}

/// Names, of many the first few and how many more.
fn some_names(lineup: &Lineup, kits: &[usize]) -> String {
    let mut names: Vec<String> = kits.iter().take(NAMED).map(|&kit| lineup.kits[kit].name.clone()).collect();
    match kits.len() - names.len() {
        0 => {}
        // One that is counted takes as much room as its name.
        1 => names.extend(kits.last().map(|&kit| lineup.kits[kit].name.clone())),
        more => names.push(format!("{more} others")),
    }
    and(&names)
}

/// Kits that more trials may find to suffice, as a sentence; empty where there are none.
fn may_suffice_words(lineup: &Lineup, verdicts: &[(usize, &CellAnswer)]) -> String {
    let kits = may_suffice(&lineup.kits, verdicts, lineup.rule.target);
    if kits.is_empty() {
        return String::new();
    }
    let sure = least(&lineup.kits, verdicts, lineup.rule.target);
    let less = match sure.map(|(_, by)| by) {
        None => "",
        Some(Least::Price) => "cheaper, ",
        Some(Least::Weight) => "lighter, ",
        Some(Least::Capacity) => "smaller, ",
    };
    let too = if sure.is_some() { " too" } else { "" };
    format!(
        "{} ({less}{}) may suffice{too}: more trials tell.",
        some_names(lineup, &kits),
        best_estimates(verdicts, &kits)
    )
}

/// The best estimates of some kits: "100 of 100", "96 to 99 of 100".
fn best_estimates(verdicts: &[(usize, &CellAnswer)], kits: &[usize]) -> String {
    let of = verdicts.iter().filter(|(kit, _)| kits.contains(kit)).map(|(_, v)| 100.0 * v.survival.probability);
    let (low, high) = of.fold((f64::INFINITY, 0.0_f64), |(low, high), share| (low.min(share), high.max(share)));
    match (low.floor(), high.floor()) {
        (low, high) if low < high => format!("{low:.0} to {high:.0} of 100 so far"),
        (_, high) => format!("{high:.0} of 100 so far"),
    }
}

/// Who is at the top, as a sentence.
fn best_words(lineup: &Lineup, verdicts: &[(usize, &CellAnswer)], standings: &[RankedKit]) -> String {
    let Some(best) = standings.first() else { return "No kit fits.".into() };
    let top: Vec<usize> =
        standings.iter().take_while(|standing| standing.rank == best.rank).map(|standing| standing.kit).collect();
    let answers: Vec<&CellAnswer> = top
        .iter()
        .filter_map(|kit| verdicts.iter().find(|(other, _)| other == kit))
        .map(|(_, answer)| *answer)
        .collect();
    let (Some(first), Some(last)) = (answers.first(), answers.last()) else { return String::new() };
    if top.len() == 1 {
        return format!("The best is {}: {}.", lineup.kits[top[0]].name, survival(&first.survival));
    }
    // One kit's figures are not another's.
    let decimals = common_decimals(answers.iter().map(|answer| answer.survival.interval));
    let told: Vec<String> = answers.iter().map(|answer| survival_with(&answer.survival, decimals)).collect();
    let share = |text: &str| text.split(" (").next().unwrap_or_default().to_string();
    let figures = if told.iter().all(|one| *one == told[0]) {
        format!("{} each", told[0])
    } else if told.iter().all(|one| share(one) == share(&told[0])) {
        // Lower ends are rounded down, the highest of them too.
        let ends = [f64::min, f64::max].map(|end: fn(f64, f64) -> f64| {
            let low = answers.iter().map(|answer| answer.survival.interval.low).reduce(end).unwrap_or(0.0);
            lower_end(low, decimals)
        });
        let lows = if ends[0] == ends[1] { ends[0].clone() } else { ends.join("-") };
        format!("{} each, their lower ends {lows}", share(&told[0]))
    } else {
        format!("from {} to {}", survival_with(&first.survival, decimals), survival_with(&last.survival, decimals))
    };
    format!("{} cannot be told apart with these trials: {figures}.", some_names(lineup, &top))
}

/// What a price or a weight comes to for each survived outage in 100, by the best estimate.
#[must_use]
pub fn per_point(amount: Option<f64>, verdict: &CellAnswer) -> Option<f64> {
    let (amount, survived) = (amount?, verdict.survival.probability);
    (survived > 0.0).then(|| amount / (100.0 * survived))
}

/// A ranking; kits that do not fit come last with their reason. Each row is where the mark of its cell leads to.
#[must_use]
pub fn ranks(lineup: &Lineup, place: usize, case: usize) -> Table {
    let verdicts = lineup.verdicts(place, case);
    let standings = ranking(&verdicts);
    let decimals = common_decimals(verdicts.iter().map(|(_, verdict)| verdict.survival.interval));
    let [priced, weighed] =
        [lineup.kits.iter().any(|kit| kit.price.is_some()), lineup.kits.iter().any(|kit| kit.weight_kg.is_some())];
    let row = |kit: usize, verdict: &str, [rank, survival]: [String; 2], why: String| {
        let facts = &lineup.kits[kit];
        let mut cells = vec![facts.name.clone(), verdict.to_string(), rank, survival];
        cells.extend(priced.then(|| facts.price.map_or("-".into(), |price| money(price, ""))));
        cells.extend(weighed.then(|| facts.weight_kg.map_or("-".into(), |kg| kg.to_string())));
        cells.push(why);
        cells
    };
    let none = || ["-", "-"].map(String::from);
    let (mut kits, mut rows) = (Vec::new(), Vec::new());
    for standing in &standings {
        let kit = standing.kit;
        let Some((_, answer)) = verdicts.iter().find(|(other, _)| *other == kit) else { continue };
        let tied = standings.iter().filter(|other| other.rank == standing.rank).count() > 1;
        let judged =
            lineup.cell(place, case, kit).and_then(|cell| lineup.verdict(case, cell)).map_or("", verdict::word);
        let rank = format!("{}{}", standing.rank, if tied { " =" } else { "" });
        kits.push(kit);
        rows.push(row(kit, judged, [rank, survival_with(&answer.survival, decimals)], fails_words(answer)));
    }
    for kit in 0..lineup.kits.len() {
        let told = match lineup.cell(place, case, kit) {
            Some(Cell::Fits(_)) => continue,
            Some(Cell::Misfit { why, reason }) => row(kit, misfit::word(*why), none(), reason.clone()),
            None => row(kit, "not done", none(), "stopped before its time".into()),
        };
        kits.push(kit);
        rows.push(told);
    }
    let price = if lineup.currency.is_empty() { "price" } else { lineup.currency.as_str() };
    let columns = ["kit", "verdict", "rank"].map(Column::left).into_iter().chain([Column::right("rides through")]);
    let columns = columns.chain(priced.then(|| Column::right(price))).chain(weighed.then(|| Column::right("kg")));
    let columns = columns.chain([Column::left("fails first, or why not").short("why")]);
    Table::new(columns).rows(rows).anchors(kits.into_iter().map(|kit| anchor(place, case, kit)))
}

/// What fails first, or that nothing did, and in how many trials where these are few.
#[must_use]
pub fn fails_words(verdict: &CellAnswer) -> String {
    let trials = verdict.survival.trials;
    match &verdict.first_failure {
        Some(first) => {
            format!("{} ({} of failures, half within {:.0} h)", first.load, percent(first.share), first.after_h_p50)
        }
        None if trials < ENOUGH => format!("nothing failed in only {} trials", thousands(trials)),
        None => format!("nothing failed in {} trials", thousands(trials)),
    }
}
