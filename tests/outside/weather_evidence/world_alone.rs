//! Survival where little or no local record is at hand, judged by replaying one.

use super::judging::{Survival, differences, mean_absolute, replay};
use super::ranges::{Cell, Standing, replay_with_errors, stated, telling};
use super::records::{LONG, SITES, Site, Truth};
use std::path::Path;
use tideover::random::{Purpose, Stream};
use tideover::weather::Climate;
use tideover::weather::fit::fit_beside;

/// The climates that are judged, and what they are.
pub const KINDS: [&str; 4] = [
    "The table alone, made without the place:",
    "The same with twelve monthly figures that are off by 3.5 % in common and 3.5 % each:",
    "The table as it is built in:",
    "Fitted to the record, the table made without the place beside it (in sample):",
];

/// What a run would state in the first few of [`KINDS`].
pub fn world_alone(site: &Site, folder: &Path, kinds: usize, trials: u64) -> Vec<Vec<Cell>> {
    let truth = Truth::read(site, folder);
    let replayed = replay_with_errors(&truth, |_| true);
    let table = site.left_out();
    let climate = |kind: usize| match kind {
        0 => table.clone(),
        1 => with_figures(&table, &truth),
        2 => truth.air.clone(),
        _ => fit_beside(&truth.days, Some(&truth.air), Some(&table)).unwrap_or_else(|e| panic!("{e}")).climate,
    };
    (0..kinds).map(|kind| stated(&truth, &climate(kind), trials, &replayed)).collect()
}

/// The record's own monthly means, disturbed.
fn with_figures(table: &Climate, truth: &Truth) -> Climate {
    let mut rng = Stream::new(21, (truth.calendar.latitude_deg * 1000.0).abs() as u64, Purpose::Climate);
    let common = rng.normal();
    let figures = truth.mean_wh_m2.map(|wh| wh / 1000.0 * (0.035 * common + 0.035 * rng.normal()).exp());
    table.with_monthly_sun(figures).unwrap_or_else(|e| panic!("{}: {e}", truth.air.name))
}

/// Cells of several sites together, where the record is telling.
pub fn pooled(sites: &[Vec<Vec<Cell>>], kind: usize) -> Vec<Cell> {
    sites.iter().flat_map(|kinds| kinds[kind].iter().copied()).filter(|cell| telling(cell.replay)).collect()
}

fn in_tropics(site: &Site) -> bool {
    site.latitude_deg.abs() < 23.5
}

/// Prints the table of one kind.
pub fn print(sites: &[Vec<Vec<Cell>>], kind: usize) {
    println!("\n{}", KINDS[kind]);
    for (site, kinds) in SITES.iter().zip(sites) {
        Standing::of(&pooled(std::slice::from_ref(kinds), kind)).print(site.name);
    }
    Standing::of(&pooled(&sites[..LONG], kind)).print("long records");
    Standing::of(&pooled(&sites[LONG..], kind)).print("short records");
    for (name, tropics) in [("outside the tropics", false), ("in the tropics", true)] {
        let of: Vec<Vec<Vec<Cell>>> =
            SITES.iter().zip(sites).filter(|(site, _)| in_tropics(site) == tropics).map(|(_, c)| c.clone()).collect();
        Standing::of(&pooled(&of, kind)).print(name);
        if !tropics {
            for month in 0..12 {
                // Seasons of the southern half are put beside the northern.
                let of_month: Vec<Cell> = SITES
                    .iter()
                    .zip(sites)
                    .filter(|(site, _)| !in_tropics(site))
                    .flat_map(|(site, kinds)| {
                        let shift = if site.latitude_deg < 0.0 { 6 } else { 0 };
                        kinds[kind].iter().copied().filter(move |cell| (cell.month + shift) % 12 == month)
                    })
                    .filter(|cell| telling(cell.replay))
                    .collect();
                Standing::of(&of_month).print(&format!("month {} (northern season)", month + 1));
            }
        }
    }
    let all = pooled(sites, kind);
    for days in [2, 4, 7] {
        let of: Vec<Cell> = all.iter().copied().filter(|c| c.days == days).collect();
        Standing::of(&of).print(&format!("outages of {days} days"));
    }
    for (low, high) in [(0.0, 0.4), (0.4, 0.5), (0.5, 0.6), (0.6, 1.0)] {
        let band: Vec<Cell> = all.iter().copied().filter(|c| low <= c.clearness && c.clearness < high).collect();
        Standing::of(&band).print(&format!("months of {low:.1} to {high:.1}"));
    }
    Standing::of(&all).print("all records");
    let everything = || sites.iter().flat_map(|kinds| kinds[kind].iter().copied());
    let by_answer: Vec<Cell> = everything().filter(|cell| telling(cell.stated)).collect();
    Standing::of(&by_answer).print("chosen by what is stated");
    let sure: Vec<Cell> = everything().filter(|cell| cell.range.low >= 0.8).collect();
    let standing = Standing::of(&sure);
    println!(
        "where the lower end is 80 or more: {} cells, the record below it in {:.1} %, beyond its chance in {:.1} %",
        standing.cells, standing.below, standing.rosy
    );
}

/// Years of record that a climate is fitted to and judged on the others; 0 for every other year.
pub const YEARS: [usize; 4] = [1, 3, 8, 0];

/// What few years of record tell of the others.
#[derive(Default, Clone)]
pub struct Few {
    pub cells: Vec<Cell>,
    pub model: Vec<f64>,
    pub replayed: Vec<f64>,
}

/// Fits climates to some years of a record, the table made without the place beside them, and judges them on the others.
pub fn few_years(site: &Site, folder: &Path, years: usize, trials: u64) -> Few {
    let truth = Truth::read(site, folder);
    let table = site.left_out();
    let mut all: Vec<i64> = truth.days.days().iter().map(|day| day.year).collect();
    all.dedup();
    let mut out = Few::default();
    let starts: Vec<usize> = match years {
        0 => vec![0, 1],
        n => (0..3).map(|k| k * (all.len() - n) / 2).collect(),
    };
    for start in starts {
        let of = |year: i64| match years {
            0 => year.rem_euclid(2) == start as i64,
            n => all[start..start + n].contains(&year),
        };
        let Ok(fit) = fit_beside(&truth.days.of_years(of), Some(&truth.air), Some(&table)) else { continue };
        let others = replay_with_errors(&truth, |year| !of(year));
        let cells = stated(&truth, &fit.climate, trials, &others);
        let (same, other): (Survival, Survival) = (replay(&truth, of), replay(&truth, |year| !of(year)));
        out.replayed.extend(differences(&same, &other, &other));
        let telling_cells = cells.iter().filter(|cell| telling(cell.replay));
        out.model.extend(telling_cells.clone().map(|cell| 100.0 * (cell.stated - cell.replay)));
        out.cells.extend(telling_cells.copied());
    }
    out
}

/// Prints what few years tell, all sites together.
pub fn print_few(years: usize, of: &[Few]) {
    let all = of.iter().fold(Few::default(), |mut sum, few| {
        sum.cells.extend(&few.cells);
        sum.model.extend(&few.model);
        sum.replayed.extend(&few.replayed);
        sum
    });
    let name = if years == 0 { "half the years".into() } else { format!("{years} years") };
    println!(
        "{name}: size of the error {:.2}, of replaying the same years {:.2}, ratio {:.3}",
        mean_absolute(&all.model),
        mean_absolute(&all.replayed),
        mean_absolute(&all.model) / mean_absolute(&all.replayed)
    );
    Standing::of(&all.cells).print(&name);
}
