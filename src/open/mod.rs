//! Scenario and weather files from the disk.

use std::fs;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

use super::weather_files::{self, Record};
use super::{Failure, records};
use crate::engine::plan::{PlanError, Sky};
use crate::engine::{KitPlan, Plan, clock};
use crate::kit::Verdict;
use crate::loads::hourly;
use crate::scenario::model::{ClimateSource, Pattern, SeenSun, Variant};
use crate::scenario::variant::vary;
use crate::scenario::{Level, Paint, Places, Problem, Scenario, Source, read, render};
use crate::sky::globe::distance_km;
use crate::study::fit::{self, Air};
use crate::study::seen::{self, SeenError};
use crate::units::Watts;
use crate::weather::climate_file;
use crate::weather::{Climate, world};

/// A scenario that was read, checked and given its weather.
pub struct Loaded {
    pub source: Source,
    places: Places,
    folder: PathBuf,
    /// The air that the kit has to reckon with.
    pub air: Air,
    step_minutes: u32,
    pub scenario: Scenario,
    pub sky: Sky,
    pub plan: Plan,
    /// Warnings and notes of the reader, sorted by place.
    pub remarks: Vec<Problem>,
    /// Whether the parts fit, the gravest first.
    pub verdicts: Vec<Verdict>,
}

impl Loaded {
    /// The verdicts as problems with their places.
    pub fn problems(&self) -> Vec<Problem> {
        self.verdicts.iter().filter_map(Verdict::problem).map(|problem| self.places.locate(problem)).collect()
    }

    /// A refusal of something that only one command asks.
    pub fn refuse(&self, problem: Problem) -> Failure {
        refuse(&self.source, &[self.places.locate(problem)])
    }

    /// The remarks drawn beside their lines.
    pub fn drawn(&self, remarks: &[Problem]) -> String {
        render(&self.source, remarks, paint())
    }
}

pub fn paint() -> Paint {
    if std::io::stderr().is_terminal() { Paint::Coloured } else { Paint::Plain }
}

/// Reads a file as text or says plainly why not.
pub fn text_of(path: &Path) -> Result<String, Failure> {
    let bytes = bytes_of(path)?;
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        Failure::Input(format!("error: {} is not a text file: byte {at} is not UTF-8", path.display()))
    })
}

/// Reads a file or says plainly why not.
pub fn bytes_of(path: &Path) -> Result<Vec<u8>, Failure> {
    if path.is_dir() {
        return Err(Failure::Input(format!("error: {} is a folder; a file is wanted", path.display())));
    }
    super::output::note_read(path);
    fs::read(path).map_err(|error| {
        let reason = match error.kind() {
            std::io::ErrorKind::NotFound => "there is no such file".to_string(),
            std::io::ErrorKind::PermissionDenied => "it may not be read (permission denied)".to_string(),
            _ => error.to_string(),
        };
        let mut text = format!("error: cannot read {}: {reason}", path.display());
        if let Some(near) = near(path) {
            text.push_str(&format!("\n  = help: did you mean {}?", near.display()));
        }
        Failure::Input(text)
    })
}

/// A file beside the missing one with nearly the same name.
fn near(path: &Path) -> Option<PathBuf> {
    let wanted = path.file_name()?.to_string_lossy().to_lowercase();
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut best: Option<(usize, PathBuf)> = None;
    for entry in fs::read_dir(folder).ok()?.flatten() {
        let name = entry.file_name().to_string_lossy().to_lowercase();
        let distance = strsim::damerau_levenshtein(&wanted, &name);
        let candidate = folder.join(entry.file_name());
        if distance <= 3 && best.as_ref().is_none_or(|(d, p)| (distance, &candidate) < (*d, p)) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, path)| path)
}

impl Loaded {
    /// The scenario with a variant's differences, and its plan, which shares with this one's what it can.
    ///
    /// * `key` — where the variant stands in the file, empty for one from the command line.
    pub fn vary(&self, variant: &Variant, key: &str) -> Result<(Scenario, Plan), Failure> {
        let refused = |problems: Vec<Problem>| {
            let located: Vec<Problem> = problems.into_iter().map(|problem| self.places.locate(problem)).collect();
            refuse(&self.source, &located)
        };
        let place = if key.is_empty() { String::new() } else { format!("{key}.set") };
        let told = |what: String| {
            let what = if key.is_empty() { format!("with {}: {what}", variant.name) } else { what };
            refused(vec![Problem::error(place.clone(), what)])
        };
        let mut scenario = vary(&self.source, variant, key).map_err(refused)?;
        let unusable = |problem: &Problem| told(format!("makes a scenario that cannot be used: {}", problem.title()));
        let proof = take_proof(&mut scenario, &self.folder, &self.places).map_err(|failure| match failure {
            Trouble::At(problem) => unusable(&problem),
            Trouble::File(failure) => failure,
        })?;
        if let Some(problem) = proof.iter().find(|problem| problem.level == Level::Error) {
            return Err(unusable(problem));
        }
        profiles(&mut scenario, &self.folder).map_err(|failure| match failure {
            Trouble::At(problem) => unusable(&problem),
            Trouble::File(failure) => failure,
        })?;
        let (sky, air) = if scenario.site == self.scenario.site {
            (self.sky.clone(), self.air)
        } else {
            sky(&scenario, &self.folder).map_err(|failure| match failure {
                Trouble::At(problem) => unusable(&problem),
                Trouble::File(failure) => failure,
            })?
        };
        let plan = Plan::compile_beside(&scenario, &sky, self.step_minutes, (&self.scenario, &self.plan))
            .map_err(|error| told(format!("makes a scenario that cannot be used: {error}")))?;
        let stops = fit::verdicts(&scenario, &plan, &air).iter().find_map(Verdict::problem);
        if let Some(problem) = stops.filter(|problem| problem.level == Level::Error) {
            return Err(told(format!("makes a kit that cannot be used: {}; {}", problem.title(), problem.label())));
        }
        Ok((scenario, plan))
    }
}

/// Reads a scenario and everything it names; a kit whose parts must not be put together is refused.
pub fn load(path: &Path, step_minutes: u32) -> Result<Loaded, Failure> {
    usable(judge(path, step_minutes)?)
}

/// As [`load`], for a scenario given as text, with the folder of the files that it names.
///
/// * `beside` — a scenario loaded before, whose weather is shared where place and outage are the same.
pub fn load_text(source: Source, folder: &Path, step_minutes: u32, beside: Option<&Loaded>) -> Result<Loaded, Failure> {
    usable(judge_text(source, folder, step_minutes, beside)?)
}

fn usable(mut loaded: Loaded) -> Result<Loaded, Failure> {
    let problems = loaded.problems();
    let errors: Vec<Problem> = problems.iter().filter(|problem| problem.level == Level::Error).cloned().collect();
    if !errors.is_empty() {
        return Err(refuse(&loaded.source, &errors));
    }
    loaded.remarks.extend(problems);
    Ok(loaded)
}

/// Reads a scenario and everything it names, and judges whether its parts fit.
pub fn judge(path: &Path, step_minutes: u32) -> Result<Loaded, Failure> {
    let source = Source::new(path.display().to_string(), text_of(path)?);
    judge_text(source, path.parent().unwrap_or(Path::new(".")), step_minutes, None)
}

fn judge_text(source: Source, folder: &Path, step_minutes: u32, beside: Option<&Loaded>) -> Result<Loaded, Failure> {
    let (mut scenario, places, mut remarks) = match read(&source) {
        Ok(read) => read,
        Err(problems) => return Err(refuse(&source, &problems)),
    };
    let proof = take_proof(&mut scenario, folder, &places).map_err(|failure| located(&source, &places, failure))?;
    let proof: Vec<Problem> = proof.into_iter().map(|problem| places.locate(problem)).collect();
    if proof.iter().any(|problem| problem.level == Level::Error) {
        let errors: Vec<Problem> = proof.into_iter().filter(|problem| problem.level == Level::Error).collect();
        return Err(refuse(&source, &errors));
    }
    remarks.extend(proof);
    profiles(&mut scenario, folder).map_err(|failure| located(&source, &places, failure))?;
    let same = |other: &&Loaded| {
        // What a panel gave hangs on the panel.
        let panels = scenario.seen.is_empty() || other.scenario.panels == scenario.panels;
        other.scenario.site == scenario.site && other.scenario.seen == scenario.seen && panels
    };
    let (sky, air) = match beside.filter(same) {
        Some(other) => (other.sky.clone(), other.air),
        None => sky(&scenario, folder).map_err(|failure| located(&source, &places, failure))?,
    };
    let compiled = match beside {
        Some(other) => Plan::compile_beside(&scenario, &sky, step_minutes, (&other.scenario, &other.plan)),
        None => Plan::compile(&scenario, &sky, step_minutes),
    };
    let plan = compiled.map_err(|error| {
        let key = match &error {
            PlanError::Inverter(_) => "station.inverter",
            PlanError::Clock(_) => "site.timezone",
            PlanError::Weather(_) => "site.climate",
            PlanError::NoOutlet { .. } | PlanError::NoProfile { .. } => "load",
            PlanError::Unread { .. } => "station.proved",
        };
        refuse(&source, &[places.locate(Problem::error(key, format!("cannot be used: {error}")))])
    })?;
    remarks.extend(doubts(&scenario, &sky).into_iter().map(|problem| places.locate(problem)));
    let verdicts = fit::verdicts(&scenario, &plan, &air);
    let folder = folder.to_path_buf();
    Ok(Loaded { source, places, folder, air, step_minutes, scenario, sky, plan, remarks, verdicts })
}

/// A climate made for a place further away than this is doubted \[km\]. No source: about the grid of the built-in table.
const FAR_KM: f64 = 100.0;

/// What can be used but is hardly meant: a climate of another place, a clock time that does not exist.
fn doubts(scenario: &Scenario, sky: &Sky) -> Vec<Problem> {
    let mut doubts = Vec::new();
    let site = &scenario.site;
    if let (Sky::Climate(climate), ClimateSource::File(_)) = (sky, &site.climate) {
        let km = distance_km((climate.latitude_deg, climate.longitude_deg), (site.latitude_deg, site.longitude_deg));
        if km > FAR_KM {
            doubts.push(
                Problem::warning("site.climate", "is the climate of another place")
                    .found(format!(
                        "made for {:.2}, {:.2}, {km:.0} km from here",
                        climate.latitude_deg, climate.longitude_deg
                    ))
                    .allowed(format!("within about {FAR_KM:.0} km, in country of the same kind"))
                    .help("its sun and air are taken as they are: fit a record of this place, or correct the place")
                    .against("site.latitude", "the outage's place"),
            );
        }
    }
    if clock::skips_the_beginning(scenario) {
        doubts.push(
            Problem::warning("outage.start", "is a clock time that summer time skips on this day")
                .help("it is taken as if the clock had changed at midnight: write the hour before or after")
                .against("site.timezone", "its rules"),
        );
    }
    doubts
}

/// Reads a climate file.
pub fn climate_file(path: &Path) -> Result<Climate, Failure> {
    climate_file::read(&text_of(path)?, &path.display().to_string())
        .map_err(|error| Failure::Input(format!("error: {error}")))
}

pub fn refuse(source: &Source, problems: &[Problem]) -> Failure {
    Failure::Refused(Box::new((source.clone(), problems.to_vec())))
}

/// Problems drawn beside the lines of their file, for the terminal.
pub fn drawn(source: &Source, problems: &[Problem]) -> String {
    render(source, problems, paint())
}

/// What is wrong with a file that a scenario names: told at the scenario's line, or in the file's own words.
enum Trouble {
    At(Box<Problem>),
    File(Failure),
}

fn located(source: &Source, places: &Places, trouble: Trouble) -> Failure {
    match trouble {
        Trouble::At(problem) => refuse(source, &[places.locate(*problem)]),
        Trouble::File(failure) => failure,
    }
}

/// Reads the record of bench tests that a scenario names, if it names one, and says where the two disagree.
fn take_proof(scenario: &mut Scenario, folder: &Path, places: &Places) -> Result<Vec<Problem>, Trouble> {
    let Some(proved) = &mut scenario.station.proved else { return Ok(Vec::new()) };
    let path = folder.join(&proved.file);
    found(&path, "station.proved", "a record of bench tests or a kit file beside the scenario")?;
    proved.kit = Some(records::kit(&path).map_err(Trouble::File)?);
    Ok(records::against_the_scenario(scenario, places))
}

/// What is wrong with a kit by itself that its file alone does not show: a proof or a bench test that cannot be believed.
pub fn doubts_of_a_kit(scenario: &mut Scenario, folder: &Path) -> Result<Vec<Problem>, Failure> {
    let mut problems = match take_proof(scenario, folder, &Places::default()) {
        Ok(problems) => problems,
        Err(Trouble::At(problem)) => vec![*problem],
        Err(Trouble::File(failure)) => return Err(failure),
    };
    // Figures that contradict each other otherwise are told with each case.
    if let Ok(kit) = KitPlan::new(&scenario.station, &scenario.outage.starts_charged) {
        problems.extend(fit::bench_test(&kit).as_ref().and_then(Verdict::problem));
    }
    Ok(problems)
}

/// Reads the files of the loads that follow one.
fn profiles(scenario: &mut Scenario, folder: &Path) -> Result<(), Trouble> {
    let station = &scenario.station;
    let limits = [
        station.inverter.as_ref().map(|inverter| inverter.rated),
        station.dc_outlet.map(|outlet| outlet.limit),
        station.usb.map(|outlet| outlet.limit),
    ];
    for (k, load) in scenario.loads.iter_mut().enumerate() {
        let Pattern::Profile(profile) = &mut load.pattern else { continue };
        let key = format!("load.{k}.profile");
        let path = folder.join(&profile.file);
        let wrong = |what: String| Trouble::At(Box::new(Problem::error(key.clone(), what)));
        profile.watts = hourly::parse(&text_of(&path).map_err(Trouble::File)?, profile.column.as_deref())
            .map_err(|error| wrong(format!("cannot be used: {} {error}", path.display())))?;
        let most =
            Watts(profile.watts.iter().fold(0.0, |most: f64, &watts| most.max(watts)) * f64::from(profile.count));
        if let Some(limit) = limits[load.outlet as usize]
            && limit < most
        {
            return Err(wrong(format!("asks for {most} in an hour, more than its outlet gives: up to {limit}")));
        }
        load.watts.value = most;
    }
    Ok(())
}

/// Refuses a file that is not there, at the line that names it.
fn found(path: &Path, key: &str, allowed: &str) -> Result<(), Trouble> {
    if path.is_file() {
        return Ok(());
    }
    let mut problem =
        Problem::error(key, "names a file that is not there").found(path.display().to_string()).allowed(allowed);
    if let Some(near) = near(path) {
        problem = problem.help(format!("did you mean {}?", near.display()));
    }
    Err(Trouble::At(Box::new(problem)))
}

/// The built-in climate of a scenario's place.
fn built_in(scenario: &Scenario) -> Result<Climate, Trouble> {
    let site = &scenario.site;
    world::lookup(site.latitude_deg, site.longitude_deg, site.height.map(|h| h.0)).map_err(|error| {
        Trouble::At(Box::new(
            Problem::error("site.latitude", format!("has no climate: {error}"))
                .against("site.longitude", "the other half of the place"),
        ))
    })
}

/// The climate with the monthly sun and the readings that the scenario gives, if it gives any.
fn with_own_sun(scenario: &Scenario, climate: Climate) -> Result<Climate, Trouble> {
    let at = |key: String, what: String| Trouble::At(Box::new(Problem::error(key, what)));
    let climate = match scenario.site.monthly_sun {
        None => climate,
        Some(sun) => climate.with_monthly_sun(sun).map_err(|error| {
            at("site.monthly_sun_kwh_m2_day".into(), format!("cannot be the sun of this place: {error}"))
        })?,
    };
    seen::learn(scenario, climate).map_err(|(k, error)| {
        let key = match (&error, &scenario.seen[k].sun) {
            (SeenError::NoPanel(_), _) => "panel",
            (_, SeenSun::Panel { .. }) => "energy",
            (_, SeenSun::Level { .. }) => "sun_kwh_m2",
        };
        at(format!("seen.{k}.{key}"), error.to_string())
    })
}

/// The weather that a scenario asks for, and the air to reckon with.
fn sky(scenario: &Scenario, folder: &Path) -> Result<(Sky, Air), Trouble> {
    match &scenario.site.climate {
        ClimateSource::World => {
            let climate = with_own_sun(scenario, built_in(scenario)?)?;
            let air = Air::of(&climate);
            Ok((Sky::Climate(climate), air))
        }
        ClimateSource::File(name) => {
            let path = folder.join(name);
            found(&path, "site.climate", "a file beside the scenario, or \"world\"")?;
            let climate = with_own_sun(scenario, climate_file(&path).map_err(Trouble::File)?)?;
            let air = Air::of(&climate);
            Ok((Sky::Climate(climate), air))
        }
        ClimateSource::Hourly { file, fitted } => {
            let path = folder.join(file);
            found(&path, "site.climate", "a file beside the scenario, or \"world\"")?;
            if *fitted {
                let place = (scenario.site.latitude_deg, scenario.site.longitude_deg);
                let climate = weather_files::fitted(&path, Some(place)).map_err(Trouble::File)?.climate;
                let climate = with_own_sun(scenario, climate)?;
                let air = Air::of(&climate);
                return Ok((Sky::Climate(climate), air));
            }
            if !scenario.seen.is_empty() {
                let problem = Problem::error("seen.0.from", "cannot be weighed against a record that is replayed");
                return Err(Trouble::At(Box::new(
                    problem
                        .against("site.climate", "the record")
                        .help("write weather_from = \"model\" in [site], or leave [[seen]] out"),
                )));
            }
            let record = match weather_files::read(&path).map_err(Trouble::File)? {
                Record::Hourly(record) => record,
                Record::Typical(year) => Box::new(year.record),
                Record::Daily(_) => {
                    return Err(Trouble::At(Box::new(
                        Problem::error("site.climate", "is a record of days, which cannot be replayed hour by hour")
                            .help("make a climate of it: tideover climate fit FILE --at LAT,LON --out mine.toml"),
                    )));
                }
            };
            let site = &scenario.site;
            weather_files::of_place(&record, (site.latitude_deg, site.longitude_deg)).map_err(Trouble::File)?;
            let climate = built_in(scenario)?;
            let lows = Air::of(&climate);
            let air = (!record.has_temperature()).then_some(climate);
            Ok((Sky::Record(record, air), lows))
        }
    }
}
