//! Survival where no local record is at hand, judged by replaying one.

use crate::judging::mean;
use crate::ranges::{Cell, Standing, replay_with_errors, stated, telling};
use crate::records::{LONG, SITES, Site, Truth};
use std::path::Path;
use tideover::weather::fit::fit;
use tideover::weather::{Climate, world};

/// The climates that are judged, and what they are.
pub const KINDS: [&str; 4] = [
    "The table, its correction fitted without the place:",
    "The same with the record's own twelve monthly figures of sun:",
    "The table as it is built in:",
    "Fitted to the record (for comparison):",
];

/// What a run would state in the first few of [`KINDS`].
pub fn world_alone(site: &Site, folder: &Path, kinds: usize, trials: u64) -> Vec<Vec<Cell>> {
    let truth = Truth::read(site, folder);
    let replayed = replay_with_errors(&truth);
    let table = without(site);
    let with_figures = with_own_figures(&table, &truth);
    let fitted = || fit(&truth.days, Some(&truth.air)).unwrap_or_else(|e| panic!("{e}")).climate;
    let climate = |kind: usize| match kind {
        0 => table.clone(),
        1 => with_figures.clone(),
        2 => truth.air.clone(),
        _ => fitted(),
    };
    (0..kinds).map(|kind| stated(&truth, &climate(kind), trials, &replayed)).collect()
}

/// The table's climate, its correction fitted without the place.
fn without(site: &Site) -> Climate {
    let (latitude, longitude) = (site.latitude_deg, site.longitude_deg);
    world::lookup_corrected(latitude, longitude, None, &site.correction_without()).expect("land")
}

fn with_own_figures(table: &Climate, truth: &Truth) -> Climate {
    table.with_monthly_sun(truth.mean_wh_m2.map(|wh| wh / 1000.0)).unwrap_or_else(|e| panic!("{}: {e}", truth.air.name))
}

/// Cells of several sites together, where the record is telling.
pub fn pooled(sites: &[Vec<Vec<Cell>>], kind: usize) -> Vec<Cell> {
    sites.iter().flat_map(|kinds| kinds[kind].iter().copied()).filter(|cell| telling(cell.replay)).collect()
}

/// Prints the table of one kind.
pub fn print(sites: &[Vec<Vec<Cell>>], kind: usize) {
    println!("\n{}", KINDS[kind]);
    for (site, kinds) in SITES.iter().zip(sites) {
        Standing::of(&pooled(std::slice::from_ref(kinds), kind)).print(site.name);
    }
    Standing::of(&pooled(&sites[..LONG], kind)).print("long records");
    Standing::of(&pooled(&sites[LONG..], kind)).print("short records");
    let all = pooled(sites, kind);
    for (low, high) in [(0.0, 0.4), (0.4, 0.5), (0.5, 0.6), (0.6, 1.0)] {
        let band: Vec<Cell> = all.iter().copied().filter(|c| low <= c.clearness && c.clearness < high).collect();
        Standing::of(&band).print(&format!("months of {low:.1} to {high:.1}"));
    }
    Standing::of(&all).print("all records");
    let by_answer: Vec<Cell> =
        sites.iter().flat_map(|kinds| kinds[kind].iter().copied()).filter(|cell| telling(cell.stated)).collect();
    Standing::of(&by_answer).print("chosen by what is stated");
}

/// Factors on the stated doubt that [`widths`] tries.
const WIDTHS: [f64; 6] = [0.6, 0.7, 0.8, 0.9, 1.0, 1.2];

/// What would be stated with the sun's doubt multiplied by each of [`WIDTHS`].
pub fn widened(site: &Site, folder: &Path, own_figures: bool, trials: u64) -> Vec<Vec<Cell>> {
    let truth = Truth::read(site, folder);
    let replayed = replay_with_errors(&truth);
    let table = without(site);
    let climate = if own_figures { with_own_figures(&table, &truth) } else { table };
    let with = |factor: f64| Climate { sun_uncertainty: factor * climate.sun_uncertainty, ..climate.clone() };
    WIDTHS.iter().map(|&factor| stated(&truth, &with(factor), trials, &replayed)).collect()
}

/// Prints how wide the sun's doubt has to be, and how a width that is chosen without a site does there.
pub fn print_widths(sites: &[Vec<Vec<Cell>>]) {
    for (k, factor) in WIDTHS.iter().enumerate() {
        Standing::of(&pooled(sites, k)).print(&format!("doubt times {factor:.1}"));
    }
    let mut chosen_without = Vec::new();
    let mut factors = Vec::new();
    for left_out in 0..sites.len() {
        let others: Vec<Vec<Vec<Cell>>> =
            sites.iter().enumerate().filter(|(k, _)| *k != left_out).map(|(_, cells)| cells.clone()).collect();
        let enough = |k: &usize| 95.0 <= Standing::of(&pooled(&others, *k)).honest();
        let k = (0..WIDTHS.len()).find(enough).unwrap_or(WIDTHS.len() - 1);
        factors.push(WIDTHS[k]);
        chosen_without.extend(pooled(&sites[left_out..=left_out], k));
    }
    Standing::of(&chosen_without).print("chosen without the site");
    println!("    the least that holds 95 % elsewhere: {:.2} times the stated doubt on the mean", mean(&factors));
}
