//! The kits, the cases and the places, as read from the disk.

use std::fs;
use std::path::{Path, PathBuf};

use toml::Table;

use crate::cli::climate::{parse_place, position};
use crate::cli::{Failure, input};
use tideover::open::doubts_of_a_kit;
use tideover::report::judged;
use tideover::scenario::appliances;
use tideover::scenario::catalogue::{self, Case, Catalogue, CatalogueKit, FIRST_PANEL_W, Spot, compose, file_names};
use tideover::scenario::{Level, Problem, Source};
use tideover::study::lineup::{CaseFacts, Digest, KitFacts, Note, Rule};
use tideover::trials::unknowns::ENOUGH;

/// Everything that is held against everything.
pub struct Field {
    pub catalogue: Catalogue,
    pub kits: Vec<Anchored<CatalogueKit>>,
    pub cases: Vec<FromFile>,
    /// `None`: each case at its own place.
    pub places: Vec<Option<Spot>>,
}

/// Something as written, and the same with the files that it names made findable from anywhere.
pub struct Anchored<T> {
    pub written: T,
    pub anchored: T,
    /// Digest of the files that it names.
    files: Digest,
}

/// A case and where it came from.
pub struct FromFile {
    pub case: Anchored<Case>,
    pub source: Source,
    pub folder: PathBuf,
}

/// One cell to be computed.
#[derive(Debug, Clone)]
pub struct Job {
    pub place: usize,
    pub case: usize,
    pub kit: usize,
    /// Digest of everything that the cell depends on.
    pub key: String,
}

impl Field {
    /// Reads the catalogue and the cases; comes with warnings, drawn.
    pub fn read(
        catalogue: &Path,
        cases: &[PathBuf],
        (at, towns): (&[String], &[String]),
    ) -> Result<(Field, String), Failure> {
        let spot = |(latitude_deg, longitude_deg)| Some(Spot { latitude_deg, longitude_deg });
        let mut places = at.iter().map(|text| parse_place(text).map(spot)).collect::<Result<Vec<_>, _>>()?;
        for town in towns {
            places.extend(position(None, Some(town))?.map(|(place, _)| spot(place)));
        }
        if places.is_empty() {
            places.push(None);
        }
        let refused = |source: &Source, problems: Vec<Problem>| Failure::Refused(Box::new((source.clone(), problems)));
        let mut remarks = String::new();
        let source = Source::new(catalogue.display().to_string(), input::text_of(catalogue)?);
        let (read, found) = catalogue::read(&source).map_err(|problems| refused(&source, problems))?;
        remarks.push_str(&input::drawn(&source, &found));
        let folder = folder_of(catalogue);
        let kits: Vec<Anchored<CatalogueKit>> =
            read.kits.iter().map(|kit| anchor(kit, &folder, |kit| vec![&mut kit.parts])).collect();
        let mut found = Vec::new();
        for (number, kit) in kits.iter().enumerate() {
            let Some(mut scenario) = kit.anchored.alone().0 else { continue };
            let (mut doubts, test) = doubts_of_a_kit(&mut scenario, &input::Folder::at(&folder))?;
            doubts.extend(test.as_ref().and_then(judged::problem));
            found.extend(doubts.into_iter().map(|problem| read.locate(number, problem)));
        }
        if found.iter().any(|problem| problem.level == Level::Error) {
            return Err(refused(&source, found));
        }
        remarks.push_str(&input::drawn(&source, &found));
        let mut read_cases: Vec<FromFile> = Vec::new();
        for path in case_files(cases)? {
            let source = Source::new(path.display().to_string(), input::text_of(&path)?);
            let name = path.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
            if let Some(twin) = read_cases.iter().find(|other| other.case.written.name == name) {
                return Err(Failure::Input(format!(
                    "error: two cases are called `{name}`: {} and {}\n  = help: give one of the files another name",
                    twin.source.name, source.name
                )));
            }
            let (case, found) = Case::read(&source, &name, places[0]).map_err(|problems| refused(&source, problems))?;
            remarks.push_str(&input::drawn(&source, &found));
            let folder = folder_of(&path);
            let case = anchor(&case, &folder, |case| vec![&mut case.table, &mut case.life]);
            read_cases.push(FromFile { case, source, folder });
        }
        Ok((Field { catalogue: read, kits, cases: read_cases, places }, remarks))
    }

    /// Every cell, by place, then case, then kit.
    pub fn jobs(&self, rule: &Rule) -> Vec<Job> {
        let settings = format!(
            "tideover {} step 60 min seed {} trials {} all {} thresholds {:?}",
            env!("CARGO_PKG_VERSION"),
            rule.seed,
            rule.trials,
            rule.all_trials,
            rule.thresholds()
        );
        let settings = Digest::EMPTY.with(settings.as_bytes());
        let mut jobs = Vec::with_capacity(self.places.len() * self.cases.len() * self.kits.len());
        for (place, at) in self.places.iter().enumerate() {
            for (case, from) in self.cases.iter().enumerate() {
                for (kit, anchored) in self.kits.iter().enumerate() {
                    let text = compose(&anchored.written, &from.case.written, *at);
                    let key = settings
                        .with(text.as_bytes())
                        .with(anchored.files.to_string().as_bytes())
                        .with(from.case.files.to_string().as_bytes());
                    jobs.push(Job { place, case, kit, key: key.to_string() });
                }
            }
        }
        jobs
    }

    /// The scenario of a cell as it is computed.
    pub fn text(&self, place: usize, case: usize, kit: &CatalogueKit) -> String {
        compose(kit, &self.cases[case].case.anchored, self.places[place])
    }

    /// The scenario of a cell by the names of kit and case, at the first place.
    pub fn scenario(&self, kit: &str, case: &str) -> Result<String, Failure> {
        let find = |names: Vec<&str>, wanted: &str, what: &str| {
            let found = names.iter().position(|name| name.to_lowercase() == wanted.to_lowercase());
            found.ok_or_else(|| {
                Failure::Input(format!("error: there is no {what} `{wanted}`; allowed: {}", names.join(", ")))
            })
        };
        let kit = find(self.kits.iter().map(|kit| kit.written.name.as_str()).collect(), kit, "kit")?;
        let case = find(self.cases.iter().map(|from| from.case.written.name.as_str()).collect(), case, "case")?;
        Ok(self.text(0, case, &self.kits[kit].anchored))
    }

    /// A place as shown.
    pub fn place_name(&self, place: usize) -> String {
        match self.places[place] {
            None => "own place".into(),
            Some(spot) => format!("{},{}", spot.latitude_deg, spot.longitude_deg),
        }
    }

    /// All places as shown.
    pub fn place_names(&self) -> Vec<String> {
        (0..self.places.len()).map(|place| self.place_name(place)).collect()
    }

    /// Names of a job's case, place and kit.
    pub fn names(&self, job: &Job) -> (String, String, String) {
        let case = self.cases[job.case].case.written.name.clone();
        (case, self.place_name(job.place), self.kits[job.kit].written.name.clone())
    }

    /// A job in words.
    pub fn words(&self, job: &Job) -> String {
        let (case, place, kit) = self.names(job);
        format!("{kit} in {case} at {place}")
    }

    pub fn kit_facts(&self) -> Vec<KitFacts> {
        let facts = |kit: &CatalogueKit| KitFacts {
            name: kit.name.clone(),
            price: kit.price,
            weight_kg: kit.weight_kg,
            capacity_wh: kit.capacity_wh,
            panels_w: kit.panels_w,
            more_string_w: kit.string_w.or(kit.takes_sun.then_some(FIRST_PANEL_W)),
        };
        self.kits.iter().map(|kit| facts(&kit.written)).collect()
    }

    pub fn case_facts(&self) -> Vec<CaseFacts> {
        let facts = |from: &FromFile| {
            let case = &from.case.written;
            let (endless, unmeasured) = endless_fuel(from);
            CaseFacts {
                name: case.name.clone(),
                title: case.title.clone(),
                medical: medical(from),
                unmeasured_fuel: endless && unmeasured,
            }
        };
        self.cases.iter().map(facts).collect()
    }

    /// What a reader should know.
    pub fn notes(&self, rule: &Rule) -> Vec<Note> {
        let moved = self.cases.iter().map(|from| &from.case.written).filter(|case| {
            let south = |spot: &Spot| spot.latitude_deg < 0.0;
            let other = |own: &Spot| self.places.iter().flatten().any(|place| south(place) != south(own));
            case.month.is_some() && case.own.as_ref().is_some_and(other)
        });
        let moved: Vec<String> = moved.map(|case| case.name.clone()).collect();
        let moved = (!moved.is_empty()).then_some(Note::HalfAYearAcross { cases: moved });
        let endless = self.cases.iter().filter(|from| endless_fuel(from).0);
        let endless: Vec<String> = endless.map(|from| from.case.written.name.clone()).collect();
        let endless = (!endless.is_empty()).then_some(Note::FuelNeverEnds { cases: endless });
        let medical = self.cases.iter().any(medical).then_some(Note::Medical);
        let few = (rule.trials < ENOUGH).then_some(Note::FewTrials { trials: rule.trials, enough: ENOUGH });
        [Note::ScenarioTellsMore].into_iter().chain(moved).chain(endless).chain(medical).chain(few).collect()
    }
}

/// Whether a person's health hangs on a load of a case.
fn medical(from: &FromFile) -> bool {
    let loads = from.case.written.table.get("load").and_then(|loads| loads.as_array());
    loads.into_iter().flatten().any(|load| match load.get("medical").and_then(toml::Value::as_bool) {
        Some(told) => told,
        // One of the library may be: better a case too many that minds it.
        None => {
            let like = load.get("like").and_then(toml::Value::as_str);
            like.is_some_and(|like| appliances::by_word(like).iter().any(|appliance| appliance.medical()))
        }
    })
}

/// Whether a case has a generator whose fuel never ends, and whether nobody told what it burns.
fn endless_fuel(from: &FromFile) -> (bool, bool) {
    let generator = from.case.written.table.get("generator").and_then(toml::Value::as_table);
    let says = |key: &str| generator.is_some_and(|generator| generator.contains_key(key));
    (generator.is_some() && !says("fuel"), !says("fuel_per_kwh") && !says("fuel_per_hour"))
}

fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

/// The files that a table names: digested, and made findable from anywhere.
fn anchor<T: Clone>(written: &T, folder: &Path, tables: impl Fn(&mut T) -> Vec<&mut Table>) -> Anchored<T> {
    let mut anchored = written.clone();
    let mut files = Digest::EMPTY;
    for table in tables(&mut anchored) {
        file_names(table, &mut |name| {
            let path = folder.join(name);
            if !path.is_file() {
                return None;
            }
            files = digest(&path, name, files, 2);
            std::path::absolute(&path).ok().map(|path| path.display().to_string())
        });
    }
    Anchored { written: written.clone(), anchored, files }
}

/// With a file's name and content, and those of the files that it names itself where it is TOML.
fn digest(path: &Path, name: &str, so_far: Digest, depth: u32) -> Digest {
    // A file that cannot be read is told when the cell is computed.
    crate::cli::output::note_read(path);
    let bytes = fs::read(path).unwrap_or_default();
    let mut all = so_far.with(name.as_bytes()).with(&bytes);
    if depth > 0
        && name.to_lowercase().ends_with(".toml")
        && let Some(mut table) = String::from_utf8(bytes).ok().and_then(|text| text.parse::<Table>().ok())
    {
        let folder = folder_of(path);
        file_names(&mut table, &mut |inner| {
            let path = folder.join(inner);
            if path.is_file() {
                all = digest(&path, inner, all, depth - 1);
            }
            None
        });
    }
    all
}

/// The case files, those of a folder by name.
fn case_files(paths: &[PathBuf]) -> Result<Vec<PathBuf>, Failure> {
    let mut files = Vec::new();
    for path in paths {
        if !path.is_dir() {
            files.push(path.clone());
            continue;
        }
        let read = |error: std::io::Error| Failure::Input(format!("error: cannot read {}: {error}", path.display()));
        let mut here: Vec<PathBuf> = Vec::new();
        for entry in fs::read_dir(path).map_err(read)? {
            let file = entry.map_err(read)?.path();
            if file.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("toml")) {
                here.push(file);
            }
        }
        if here.is_empty() {
            return Err(Failure::Input(format!("error: {} holds no case: no file ends in .toml", path.display())));
        }
        here.sort();
        files.extend(here);
    }
    Ok(files)
}
