//! Opening a scenario: from its text and the files that it names to a plan that can be run.
//!
//! ```
//! use std::{collections::BTreeMap, sync::Arc};
//! use tideover::{open::open, scenario::Source};
//! let text = include_str!("../../scenarios/night-light.toml");
//! let opened = open(Source::new("night-light.toml", text), Arc::new(BTreeMap::new()), 60, None).unwrap();
//! assert!(!opened.plan.loads.is_empty());
//! ```

pub mod assumed;
mod error;
mod files;
pub mod proof;
pub mod weather;

pub use error::{OpenError, Unfit, Varied};
pub use files::{Files, as_text};

use std::sync::Arc;

use self::weather::Record;
use crate::engine::plan::{PlanError, Sky};
use crate::engine::{KitPlan, Plan, clock};
use crate::kit::{Judgement, Weight};
use crate::loads::hourly;
use crate::scenario::model::{ClimateSource, CutTable, Pattern, SeenSun, Variant};
use crate::scenario::variant::vary;
use crate::scenario::{Level, Places, Problem, Scenario, Source, read};
use crate::sky::globe::distance_km;
use crate::study::fit::{self, Air};
use crate::study::seen::{self, SeenError};
use crate::units::Watts;
use crate::weather::{Climate, climate_file, world};

/// A scenario that was read, checked and given its weather.
pub struct Opened {
    /// Its text.
    pub source: Source,
    places: Places,
    files: Arc<dyn Files>,
    /// The air that the kit has to reckon with.
    pub air: Air,
    step_minutes: u32,
    /// What it says.
    pub scenario: Scenario,
    /// Its weather.
    pub sky: Sky,
    /// What is run.
    pub plan: Plan,
    /// Warnings and notes of the reader, sorted by place.
    pub remarks: Vec<Problem>,
    /// Whether the parts fit, the gravest first.
    pub verdicts: Vec<Judgement>,
}

/// Opens a scenario and judges whether its parts fit.
///
/// * `files` — gives the files that it names; `step_minutes` — a divisor of 1440;
/// * `beside` — a scenario opened before, whose weather is shared where place and outage are the same.
///
/// # Errors
/// What is wrong with the scenario, or with a file that it names.
pub fn open(
    source: Source,
    files: Arc<dyn Files>,
    step_minutes: u32,
    beside: Option<&Opened>,
) -> Result<Opened, OpenError> {
    let (mut scenario, places, mut remarks) =
        read(&source).map_err(|problems| OpenError::refused(&source, problems))?;
    let located = |trouble: Trouble| trouble.located(&source, &places);
    let proof = take_proof(&mut scenario, &*files, &places).map_err(located)?;
    let proof: Vec<Problem> = proof.into_iter().map(|problem| places.locate(problem)).collect();
    let (errors, proof): (Vec<_>, Vec<_>) = proof.into_iter().partition(|problem| problem.level == Level::Error);
    if !errors.is_empty() {
        return Err(OpenError::refused(&source, errors));
    }
    remarks.extend(proof);
    named_files(&mut scenario, &*files).map_err(located)?;
    let same = |other: &&Opened| {
        // What a panel gave hangs on the panel.
        let panels = scenario.seen.is_empty() || other.scenario.panels == scenario.panels;
        other.scenario.site == scenario.site && other.scenario.seen == scenario.seen && panels
    };
    let beside = beside.filter(same);
    let (sky, air) = match beside {
        Some(other) => (other.sky.clone(), other.air),
        None => sky(&scenario, &*files).map_err(located)?,
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
        let problem = Problem::error(key, format!("cannot be used: {error}"));
        OpenError::refused(&source, vec![places.locate(problem)])
    })?;
    remarks.extend(doubts(&scenario, &sky).into_iter().map(|problem| places.locate(problem)));
    let verdicts = fit::verdicts(&scenario, &plan, &air);
    Ok(Opened { source, places, files, air, step_minutes, scenario, sky, plan, remarks, verdicts })
}

impl Opened {
    /// A problem with its place in the text.
    #[must_use]
    pub fn locate(&self, problem: Problem) -> Problem {
        self.places.locate(problem)
    }

    fn unfit(&self, judged: Vec<Judgement>, variant: Option<Varied>) -> OpenError {
        let (source, places) = (self.source.clone(), self.places.clone());
        OpenError::Unfit(Box::new(Unfit { source, places, judged, variant }))
    }

    /// A refusal of something that only one question asks.
    #[must_use]
    pub fn refuse(&self, problem: Problem) -> OpenError {
        OpenError::refused(&self.source, vec![self.places.locate(problem)])
    }

    /// It, if its parts may be put together.
    ///
    /// # Errors
    /// A kit whose parts must not be put together is refused.
    pub fn usable(self) -> Result<Opened, OpenError> {
        let stops: Vec<Judgement> = self.verdicts.iter().filter(|judged| stops(judged)).cloned().collect();
        if stops.is_empty() { Ok(self) } else { Err(self.unfit(stops, None)) }
    }

    /// The scenario with a variant's differences, and its plan, which shares with this one's what it can.
    ///
    /// * `key` — where the variant stands in the file, empty for one from the command line.
    ///
    /// # Errors
    /// What cannot be set, and what makes the changed scenario or its kit unusable.
    pub fn vary(&self, variant: &Variant, key: &str) -> Result<(Scenario, Plan), OpenError> {
        let refused = |problems: Vec<Problem>| {
            OpenError::refused(&self.source, problems.into_iter().map(|problem| self.places.locate(problem)).collect())
        };
        let varied = Varied { name: variant.name.clone(), key: key.to_string() };
        let told = |what: String| refused(vec![varied.refused(what)]);
        let mut scenario = vary(&self.source, variant, key).map_err(refused)?;
        let unusable = |problem: &Problem| told(format!("makes a scenario that cannot be used: {}", problem.title()));
        let trouble = |trouble: Trouble| match trouble {
            Trouble::At(problem) => unusable(&problem),
            Trouble::File(error) => error,
        };
        let proof = take_proof(&mut scenario, &*self.files, &self.places).map_err(trouble)?;
        if let Some(problem) = proof.iter().find(|problem| problem.level == Level::Error) {
            return Err(unusable(problem));
        }
        named_files(&mut scenario, &*self.files).map_err(trouble)?;
        let (sky, air) = if scenario.site == self.scenario.site {
            (self.sky.clone(), self.air)
        } else {
            sky(&scenario, &*self.files).map_err(trouble)?
        };
        let plan = Plan::compile_beside(&scenario, &sky, self.step_minutes, (&self.scenario, &self.plan))
            .map_err(|error| told(format!("makes a scenario that cannot be used: {error}")))?;
        match fit::verdicts(&scenario, &plan, &air).into_iter().find(stops) {
            Some(judged) => Err(self.unfit(vec![judged], Some(varied))),
            None => Ok((scenario, plan)),
        }
    }
}

/// Whether a judgement forbids the kit, and the reader has not.
fn stops(judged: &Judgement) -> bool {
    judged.weight == Weight::Stops && judged.is_a_problem()
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

/// What is wrong with a file that a scenario names: told at the scenario's line, or in the file's own words.
enum Trouble {
    At(Box<Problem>),
    File(OpenError),
}

impl Trouble {
    fn located(self, source: &Source, places: &Places) -> OpenError {
        match self {
            Trouble::At(problem) => OpenError::refused(source, vec![places.locate(*problem)]),
            Trouble::File(error) => error,
        }
    }
}

impl From<OpenError> for Trouble {
    fn from(error: OpenError) -> Trouble {
        Trouble::File(error)
    }
}

impl From<Problem> for Trouble {
    fn from(problem: Problem) -> Trouble {
        Trouble::At(Box::new(problem))
    }
}

/// Reads the record of bench tests that a scenario names, if it names one, and says where the two disagree.
fn take_proof(scenario: &mut Scenario, files: &dyn Files, places: &Places) -> Result<Vec<Problem>, Trouble> {
    let Some(proved) = &mut scenario.station.proved else { return Ok(Vec::new()) };
    found(files, &proved.file, "station.proved", "a record of bench tests or a kit file beside the scenario")?;
    proved.kit = Some(proof::kit(files, &proved.file)?);
    Ok(proof::against_the_scenario(scenario, places))
}

/// What is wrong with a kit by itself that its file alone does not show: a proof that cannot be believed, and the judgement on a
/// bench test that cannot.
///
/// # Errors
/// A file that it names cannot be read or used.
pub fn doubts_of_a_kit(
    scenario: &mut Scenario,
    files: &dyn Files,
) -> Result<(Vec<Problem>, Option<Judgement>), OpenError> {
    let problems = match take_proof(scenario, files, &Places::default()) {
        Ok(problems) => problems,
        Err(Trouble::At(problem)) => vec![*problem],
        Err(Trouble::File(error)) => return Err(error),
    };
    // Figures that contradict each other otherwise are told with each case.
    let kit = KitPlan::new(&scenario.station, &scenario.outage.starts_charged).ok();
    Ok((problems, kit.as_ref().and_then(fit::bench_test)))
}

/// Reads the files of the loads that follow one, and that of the cuts.
fn named_files(scenario: &mut Scenario, files: &dyn Files) -> Result<(), Trouble> {
    profiles(scenario, files)?;
    if let Some(table) = &mut scenario.outage.cuts.table {
        found(files, &table.file, "outage.cuts_from", "a table of cuts beside the scenario")?;
        let text = files.text(&table.file).map_err(OpenError::file)?;
        *table = CutTable::parse(&table.file, &text).map_err(|error| {
            let what = format!("cannot be used: {} {error}", files.shown(&table.file));
            Trouble::from(Problem::error("outage.cuts_from", what))
        })?;
    }
    Ok(())
}

/// Reads the files of the loads that follow one.
fn profiles(scenario: &mut Scenario, files: &dyn Files) -> Result<(), Trouble> {
    let station = &scenario.station;
    let limits = [
        station.inverter.as_ref().map(|inverter| inverter.rated),
        station.dc_outlet.map(|outlet| outlet.limit),
        station.usb.map(|outlet| outlet.limit),
    ];
    for (k, load) in scenario.loads.iter_mut().enumerate() {
        let Pattern::Profile(profile) = &mut load.pattern else { continue };
        let key = format!("load.{k}.profile");
        let wrong = |what: String| Trouble::from(Problem::error(key.clone(), what));
        let text = files.text(&profile.file).map_err(OpenError::file)?;
        profile.watts = hourly::parse(&text, profile.column.as_deref())
            .map_err(|error| wrong(format!("cannot be used: {} {error}", files.shown(&profile.file))))?;
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
fn found(files: &dyn Files, name: &str, key: &str, allowed: &str) -> Result<(), Trouble> {
    if files.has(name) {
        return Ok(());
    }
    let problem = Problem::error(key, "names a file that is not there").found(files.shown(name)).allowed(allowed);
    Err(match files.near(name) {
        Some(near) => problem.help(format!("did you mean {near}?")),
        None => problem,
    }
    .into())
}

/// The built-in climate of a scenario's place.
fn built_in(scenario: &Scenario) -> Result<Climate, Trouble> {
    let site = &scenario.site;
    world::lookup(site.latitude_deg, site.longitude_deg, site.height.map(|h| h.0)).map_err(|error| {
        Problem::error("site.latitude", format!("has no climate: {error}"))
            .against("site.longitude", "the other half of the place")
            .into()
    })
}

/// The climate with the monthly sun and the readings that the scenario gives, if it gives any.
fn with_own_sun(scenario: &Scenario, climate: Climate) -> Result<Climate, Trouble> {
    let at = |key: String, what: String| Trouble::from(Problem::error(key, what));
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
fn sky(scenario: &Scenario, files: &dyn Files) -> Result<(Sky, Air), Trouble> {
    let drawn = |climate: Climate| -> Result<(Sky, Air), Trouble> {
        let climate = with_own_sun(scenario, climate)?;
        let air = Air::of(&climate);
        Ok((Sky::Climate(climate), air))
    };
    let there = |name: &str| found(files, name, "site.climate", "a file beside the scenario, or \"world\"");
    let place = (scenario.site.latitude_deg, scenario.site.longitude_deg);
    match &scenario.site.climate {
        ClimateSource::World => drawn(built_in(scenario)?),
        ClimateSource::File(name) => {
            there(name)?;
            let text = files.text(name).map_err(OpenError::file)?;
            drawn(climate_file::read(&text, &files.shown(name)).map_err(OpenError::file)?)
        }
        ClimateSource::Hourly { file, fitted } => {
            there(file)?;
            let bytes = || files.reader(file).map_err(OpenError::file);
            if *fitted {
                return drawn(weather::fitted(bytes()?, &files.shown(file), Some(place))?.climate);
            }
            if !scenario.seen.is_empty() {
                return Err(Problem::error("seen.0.from", "cannot be weighed against a record that is replayed")
                    .against("site.climate", "the record")
                    .help("write weather_from = \"model\" in [site], or leave [[seen]] out")
                    .into());
            }
            let record = match weather::read(bytes()?, &files.shown(file))? {
                Record::Hourly(record) => record,
                Record::Typical(year) => Box::new(year.record),
                Record::Daily(_) => {
                    let days = "is a record of days, which cannot be replayed hour by hour";
                    return Err(Problem::error("site.climate", days)
                        .help("make a climate of it: tideover climate fit FILE --at LAT,LON --out mine.toml")
                        .into());
                }
            };
            weather::of_place(&record, place)?;
            let climate = built_in(scenario)?;
            let lows = Air::of(&climate);
            let air = (!record.has_temperature()).then_some(climate);
            Ok((Sky::Record(record, air), lows))
        }
    }
}
