//! A case: an ordinary scenario without a kit.

use toml::de::DeValue;
use toml::{Table, Value};

use super::compose::{Spot, compose};
use super::{CatalogueKit, place};
use crate::scenario::model::Begins;
use crate::scenario::source::{Places, Source};
use crate::scenario::variant::plain;
use crate::scenario::{Level, Problem, read, syntax};

/// A use case that kits are held against.
#[derive(Debug, Clone)]
pub struct Case {
    /// Short name: that of its file.
    pub name: String,
    /// Its title.
    pub title: String,
    /// Its own place, where it has one.
    pub own: Option<Spot>,
    /// The month of its outages, where it names one (1 to 12).
    pub month: Option<u8>,
    /// What it says of the station: where it stands.
    pub life: Table,
    /// Everything else that it says.
    pub table: Table,
    pub(super) places: Places,
}

/// Sections that a line-up does not take from a case: the kit, and what only other commands ask for.
const LEFT_OUT: [&str; 8] = ["station", "panel", "variant", "size", "strategy", "outages", "tariff", "wear"];

/// Keys of `[station]` that belong to a use case and not to a kit: where it stands.
const OF_THE_LIFE: &str = "stands";

impl Case {
    pub(super) fn bare(table: Table) -> Case {
        let (name, title, life, places) = (String::new(), String::new(), Table::new(), Places::default());
        Case { name, title, own: None, month: None, life, table, places }
    }

    /// Reads a case; comes with warnings and notes, if any.
    ///
    /// * `name` — what to call it; `at` — the place to look at it for, where it has none of its own.
    ///
    /// # Errors
    /// As [`read`](super::super::read()): every problem of a file that is TOML, or the first syntax error.
    pub fn read(source: &Source, name: &str, at: Option<Spot>) -> Result<(Case, Vec<Problem>), Vec<Problem>> {
        let document = syntax::document(source, "case")?;
        let places = Places::of(document.get_ref());
        let Value::Table(mut table) = plain(&DeValue::Table(document.get_ref().clone())) else {
            return Err(Vec::new());
        };
        let mut problems = Vec::new();
        let mut life = Table::new();
        for part in LEFT_OUT {
            let Some(value) = table.remove(part) else { continue };
            let stands = value.get(OF_THE_LIFE).filter(|_| part == "station");
            if let Some(stands) = stands {
                life.insert(OF_THE_LIFE.into(), stands.clone());
            }
            let nothing_else = stands.is_some() && value.as_table().is_some_and(|table| table.len() == 1);
            if (part == "station" && !nothing_else) || part == "panel" {
                problems.push(Problem::note(part, "is left out: the catalogue brings the kits"));
            }
        }
        let title = table.get("title").and_then(Value::as_str).map_or(name, str::trim).to_string();
        let mut case = Case { name: name.to_string(), title, life, ..Case::bare(table) };
        let has_site = case.table.contains_key("site");
        let text = compose(&CatalogueKit::neutral(), &case, if has_site { None } else { at });
        let verdict = read(&Source::new(source.name.clone(), text));
        let (scenario, found) = match verdict {
            Ok((scenario, _, found)) => (Some(scenario), found),
            Err(found) => (None, found),
        };
        // What is said of the neutral kit is nobody's business.
        let of_the_kit =
            |key: &str| ["station", "panel"].iter().any(|part| key.starts_with(part)) && !key.ends_with(OF_THE_LIFE);
        problems.extend(found.into_iter().filter(|problem| !of_the_kit(&problem.key)).map(|mut problem| {
            (problem.span, problem.whose) = (None, None);
            if let Some(mark) = &mut problem.second {
                mark.span = None;
            }
            problem
        }));
        let mut problems: Vec<Problem> = problems.into_iter().map(|problem| place(&places, source, problem)).collect();
        crate::scenario::problem::sort(&mut problems);
        let Some(scenario) = scenario else {
            if problems.iter().all(|problem| problem.level != Level::Error) {
                problems.push(Problem::error("", "asks for more than any kit gives"));
            }
            return Err(problems);
        };
        if has_site {
            let site = &scenario.site;
            case.own = Some(Spot { latitude_deg: site.latitude_deg, longitude_deg: site.longitude_deg });
        }
        if let Begins::Month(month) = scenario.outage.begins {
            case.month = Some(month);
        }
        case.places = places;
        Ok((case, problems))
    }

    /// Finds the place in the case's file of a problem with the scenario that it became part of.
    #[must_use]
    pub fn locate(&self, mut problem: Problem) -> Problem {
        (problem.span, problem.whose) = (None, None);
        if let Some(mark) = &mut problem.second {
            mark.span = None;
        }
        self.places.locate(problem)
    }
}
