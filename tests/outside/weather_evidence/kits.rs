//! Real kits, with inverters and loads, through the program's own engine: the same outages in a replayed record and in a climate.

use super::ranges::{Cell, Standing, telling};
use super::records::Site;
use std::path::Path;
use std::sync::Arc;
use tideover::calendar::MONTHS;
use tideover::engine::Plan;
use tideover::engine::plan::{Season, Sky};
use tideover::scenario::{Scenario, Source, read};
use tideover::trials::unknowns::survivals;
use tideover::trials::{Settings, run, run::Quiet};
use tideover::weather::Climate;
use tideover::weather::bend::Drawing;
use tideover::weather::fit::fit_beside;

/// Kits without any doubt of their own: cells and inverter \[Wh, W], and the loads.
const KITS: [(&str, f64, &str); 4] = [
    (
        "fridge and router",
        1500.0,
        "[[load]]\nname = \"fridge\"\noutlet = \"ac\"\npriority = \"vital\"\nwatts = \"60 W\"\nduty = \"35 %\"\n\
         [[load]]\nname = \"router\"\noutlet = \"ac\"\npriority = \"vital\"\nwatts = \"10 W\"\n",
    ),
    (
        "lamps and phones",
        300.0,
        "[[load]]\nname = \"lamps\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"12 W\"\nhours = \"17:00-23:00\"\n\
         [[load]]\nname = \"phones\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"15 W\"\nhours = \"18:00-21:00\"\n",
    ),
    (
        "device by night",
        700.0,
        "[[load]]\nname = \"device\"\noutlet = \"ac\"\npriority = \"vital\"\nwatts = \"35 W\"\nhours = \"22:00-07:00\"\n",
    ),
    (
        "home office",
        1000.0,
        "[[load]]\nname = \"desk\"\noutlet = \"ac\"\npriority = \"vital\"\nwatts = \"65 W\"\nhours = \"08:00-18:00\"\n",
    ),
];
/// Panels \[W], tilt of the plane.
const PANELS: [(f64, &str); 3] = [(60.0, "15°"), (120.0, "45°"), (240.0, "45°")];
const DAYS: usize = 4;
const SETTINGS: Settings = Settings { seed: 17, trials: 1000, precision: None };
/// Variance between years of a year's survival through four days over p (1 - p), pooled over long records.
const YEARS_DIFFER: f64 = 0.169;

fn scenario(site: &Site, month: usize, kit: usize, panel: usize, storm: bool) -> Scenario {
    let (_, wh, loads) = KITS[kit];
    let (watts, tilt) = PANELS[panel];
    let facing = if site.latitude_deg < 0.0 { "north" } else { "south" };
    let text = format!(
        "[site]\nlatitude = {}\nlongitude = {}\n[outage]\nmonth = \"{}\"\nlasts = \"{DAYS} days\"\nstarts_charged = \"90 %\"\n\
         begins_in_a_storm = {storm}\n[station]\nrated_capacity = \"{wh} Wh\"\nmeasured_capacity = \"{wh} Wh\"\n\
         measured_at = \"dc\"\nchemistry = \"LFP\"\nstands = \"indoors\"\n[station.inverter]\nrated = \"600 W\"\nidle = \"7 W ± 0 W\"\n\
         efficiency = [{{ load = \"60 W\", efficiency = \"85 %\" }}, {{ load = \"300 W\", efficiency = \"90 %\" }}]\nsleeps = true\n[station.dc_outlet]\nlimit = \"120 W\"\n\
         [station.solar_input]\nlimit = \"500 W\"\n[[panel]]\nname = \"panel\"\nrated = \"{watts} W\"\ntilt = \"{tilt}\"\n\
         facing = \"{facing}\"\n{loads}",
        site.latitude_deg, site.longitude_deg, MONTHS[month],
    );
    read(&Source::new("kit.toml", &text)).unwrap_or_else(|problems| panic!("{problems:?}")).0
}

/// What climates are held against the record.
pub const SKIES: [&str; 2] = ["the table alone, made without the place", "fitted to the record, in sample"];

/// One kit in a month, with or without a storm at the beginning.
#[derive(Clone, Copy)]
pub struct KitCell {
    pub cell: Cell,
    pub sky: usize,
    pub storm: bool,
    pub kit: usize,
}

/// All kits in every other month, from January in even places and from February in odd ones.
pub fn kits(site: &Site, folder: &Path, index: usize) -> Vec<KitCell> {
    let record = site.hourly_record(folder);
    let truth = super::records::Truth::read(site, folder);
    let table = site.left_out();
    let fitted = fit_beside(&truth.days, Some(&truth.air), Some(&table)).unwrap_or_else(|e| panic!("{e}")).climate;
    let air: Option<Climate> = if record.has_temperature() { None } else { Some(table.clone()) };
    let replayed = Sky::Record(Box::new(record), air);
    let mut out = Vec::new();
    for month in (index % 2..12).step_by(2) {
        for kit in 0..KITS.len() {
            for panel in 0..PANELS.len() {
                for storm in [false, true] {
                    let scenario = scenario(site, month, kit, panel, storm);
                    let compile =
                        |sky: &Sky| Plan::compile(&scenario, sky, 60).unwrap_or_else(|e| panic!("{}: {e}", site.name));
                    let mut real = compile(&replayed);
                    let years = real.season.years_of_record.unwrap_or(1.0);
                    // The record as it is: what so few years leave open counts in its error.
                    let season =
                        Season { climate: Drawing::default(), weather: real.season.weather.clone(), ..*real.season };
                    real.season = Arc::new(season);
                    let share = run(std::slice::from_ref(&real), &SETTINGS, &Quiet)[0].survival_share();
                    for (sky, climate) in [&table, &fitted].into_iter().enumerate() {
                        let plan = compile(&Sky::Climate(climate.clone()));
                        let tallies = run(std::slice::from_ref(&plan), &SETTINGS, &Quiet);
                        let answer = &survivals(std::slice::from_ref(&plan), &tallies, &SETTINGS, &Quiet)[0];
                        if telling(share) || telling(answer.probability) {
                            // A storm at the beginning leaves fewer independent stretches in the same years.
                            let fewer = if storm { 2.0 } else { 1.0 };
                            let of_years = YEARS_DIFFER * fewer * share * (1.0 - share) / years;
                            let error = (of_years + share * (1.0 - share) / SETTINGS.trials as f64).sqrt();
                            let cell = Cell {
                                month,
                                days: DAYS,
                                clearness: 0.5,
                                replay: share,
                                error,
                                stated: answer.probability,
                                range: answer.interval,
                            };
                            out.push(KitCell { cell, sky, storm, kit });
                        }
                    }
                }
            }
        }
    }
    out
}

/// Prints how the kits stand.
pub fn print(sites: &[&Site], cells: &[Vec<KitCell>]) {
    let all: Vec<(&Site, KitCell)> =
        sites.iter().zip(cells).flat_map(|(site, cells)| cells.iter().map(move |cell| (*site, *cell))).collect();
    let standing = |keep: &dyn Fn(&Site, &KitCell) -> bool, name: &str| {
        let of: Vec<Cell> =
            all.iter().filter(|(site, c)| telling(c.cell.replay) && keep(site, c)).map(|(_, c)| c.cell).collect();
        Standing::of(&of).print(name);
    };
    for (sky, what) in SKIES.iter().enumerate() {
        println!("\n{what}:");
        for storm in [false, true] {
            let begin = if storm { "storm" } else { "any day" };
            standing(&|_, c| c.sky == sky && c.storm == storm, begin);
            for (name, from) in [("winter", 11), ("spring", 2), ("summer", 5), ("autumn", 8)] {
                let within = move |site: &Site, c: &KitCell| {
                    let month = (c.cell.month + if site.latitude_deg < 0.0 { 6 } else { 0 }) % 12;
                    site.latitude_deg.abs() > 23.5 && (month + 12 - from) % 12 < 3
                };
                standing(&|site, c| c.sky == sky && c.storm == storm && within(site, c), &format!("{begin}, {name}"));
            }
            standing(
                &|site, c| c.sky == sky && c.storm == storm && site.latitude_deg.abs() < 23.5,
                &format!("{begin}, tropics"),
            );
        }
        for (kit, (name, ..)) in KITS.iter().enumerate() {
            standing(&|_, c| c.sky == sky && c.kit == kit, name);
        }
    }
}
