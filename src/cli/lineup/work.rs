//! From a cell's scenario to its plan, and from the plans of a case and place to their cells.

use rayon::prelude::*;

use super::field::{Field, Job};
use crate::cli::Failure;
use crate::cli::input::load_text;
use crate::cli::output::Bar;
use tideover::engine::Plan;
use tideover::kit::electrical::cold_string_v;
use tideover::kit::{Judgement, Weight};
use tideover::open::Opened;
use tideover::report::misfit::{TooManyVolts, words};
use tideover::report::told::Words;
use tideover::scenario::catalogue::CatalogueKit;
use tideover::scenario::model::{OutletKind, Scenario};
use tideover::scenario::{Level, Problem, Source};
use tideover::study::changes::Change;
use tideover::study::fit::overloads;
use tideover::study::lineup::{Addition, Cell, Contestant, Misfit, Rule, Wiring, judge};
use tideover::trials::Progress;

/// Length of a step \[min\], as `run` has it.
const STEP_MINUTES: u32 = 60;

/// Passes a wish to stop on, and keeps the count of trials to itself.
struct Stopper<'a>(&'a Bar);

impl Progress for Stopper<'_> {
    fn done(&self, _: u64) {}
    fn stop(&self) -> bool {
        self.0.stop()
    }
}

/// Loads a case in a place with a kit that cannot be to blame.
fn base(field: &Field, place: usize, case: usize) -> Result<Opened, Failure> {
    let from = &field.cases[case];
    let text = field.text(place, case, &CatalogueKit::neutral());
    load_text(Source::new(from.source.name.clone(), text), &from.folder, STEP_MINUTES, None).map_err(|failure| {
        let Failure::Refused(refused) = failure else { return failure };
        let at_a_place = refused.1.iter().find(|problem| problem.key.starts_with("site"));
        match (field.places[place], at_a_place) {
            (Some(_), Some(problem)) => {
                let label = problem.label();
                let rest = if label.is_empty() { label } else { format!("; {label}") };
                Failure::Input(format!("error: --at {}: {}{rest}", field.place_name(place), problem.what))
            }
            _ => {
                let problems = refused.1.into_iter().map(|problem| from.case.written.locate(problem)).collect();
                Failure::Refused(Box::new((from.source.clone(), problems)))
            }
        }
    })
}

/// Looks at every place before the long work, so that one that has no climate is told at once.
pub fn check_places(field: &Field, todo: &[&Job]) -> Result<(), Failure> {
    let mut asked: Vec<(usize, usize)> = Vec::new();
    for job in todo {
        // Given places are the same for all cases; own places are not.
        let seen =
            |&(place, case): &(usize, usize)| place == job.place && (field.places[place].is_some() || case == job.case);
        if !asked.iter().any(seen) {
            asked.push((job.place, job.case));
        }
    }
    asked.into_par_iter().map(|(place, case)| base(field, place, case).map(drop)).collect()
}

/// The cells of some jobs of one case and place; `None` where the work was stopped.
pub fn group(field: &Field, rule: &Rule, jobs: &[&Job], bar: &Bar) -> Result<Option<Vec<Cell>>, Failure> {
    let Some(first) = jobs.first() else { return Ok(Some(Vec::new())) };
    let base = base(field, first.place, first.case)?;
    let entries: Vec<Result<Contestant, (Misfit, String)>> =
        jobs.par_iter().map(|job| entry(field, job, &base)).collect::<Result<_, Failure>>()?;
    let fitting: Vec<Contestant> = entries.iter().flatten().cloned().collect();
    let Some(verdicts) = judge(&fitting, rule, &Stopper(bar)) else { return Ok(None) };
    let mut verdicts = verdicts.into_iter();
    Ok(entries
        .into_iter()
        .map(|entry| match entry {
            Ok(_) => verdicts.next().map(|verdict| Cell::Fits(Box::new(verdict))),
            Err((why, reason)) => Some(Cell::Misfit { why, reason }),
        })
        .collect())
}

/// A kit ready for the trials, or the reason why it does not fit.
fn entry(field: &Field, job: &Job, base: &Opened) -> Result<Result<Contestant, (Misfit, String)>, Failure> {
    let kit = &field.kits[job.kit].anchored;
    let loaded = match load(field, job, kit, base)? {
        Ok(loaded) => loaded,
        Err(problem) => return Ok(Err(misfit(field, job, base, &problem)?)),
    };
    // The trials know nothing of an outlet that switches off, and leave out what it cannot run.
    let overloads = overloads(&loaded.scenario, &loaded.plan);
    if let Some(overload) = overloads.iter().find(|overload| overload.stops() || overload.never) {
        return Ok(Err((Misfit::Overload, overload.words())));
    }
    let mut additions = [None, None, None];
    for (plan, addition) in additions.iter_mut().zip(Addition::ALL) {
        *plan = match addition {
            Addition::Panel => match (loaded.plan.arrays.first(), kit.with_a_first_panel()) {
                (Some(array), _) => {
                    let series = loaded.scenario.panels.first().map_or(1, |panel| panel.series);
                    Some(
                        Change::OneMoreString { array: 0, series, watts: array.panel_w, beside: None, has: 1 }
                            .apply(&loaded.plan),
                    )
                }
                (None, Some(kit)) => load(field, job, &kit, base)?.ok().map(|loaded| loaded.plan),
                (None, None) => None,
            },
            Addition::DcOutlet => off_ac(&loaded.scenario, &loaded.plan),
            Addition::Battery => {
                let mut plan = loaded.plan.clone();
                plan.kit.scale *= 2.0;
                Some(plan)
            }
        };
    }
    let may_stop = overloads.iter().any(|overload| overload.vital);
    Ok(Ok(Contestant { plan: loaded.plan, may_stop, additions }))
}

/// Opens a kit in a case, or says what is wrong between the two.
fn load(field: &Field, job: &Job, kit: &CatalogueKit, base: &Opened) -> Result<Result<Opened, Problem>, Failure> {
    let source = Source::new(kit.name.clone(), field.text(job.place, job.case, kit));
    match load_text(source, &field.cases[job.case].folder, STEP_MINUTES, Some(base)) {
        Ok(loaded) => Ok(Ok(loaded)),
        // CatalogueKit and case were read before, each for itself: what is wrong now is wrong between them.
        Err(Failure::Refused(refused)) => {
            let mut errors: Vec<Problem> =
                refused.1.into_iter().filter(|problem| problem.level == Level::Error).collect();
            // What destroys the input comes before what merely does not work.
            let worst = errors.iter().position(|problem| wiring_of(&problem.key).is_some()).unwrap_or(0);
            let error = (worst < errors.len()).then(|| errors.swap_remove(worst));
            Ok(Err(error.unwrap_or_else(|| Problem::error("", "does not go together with the case"))))
        }
        Err(other) => Err(other),
    }
}

/// Why a kit does not fit, and the reason in words.
fn misfit(field: &Field, job: &Job, base: &Opened, problem: &Problem) -> Result<(Misfit, String), Failure> {
    if let Some(array) = wiring_of(&problem.key)
        && let Some(found) = too_many_volts(field, job, base, array)?
    {
        return Ok((Misfit::Wiring(found.fits), found.words()));
    }
    // A load that is more than its outlet gives, for long or for a moment, overloads it alone.
    let too_big = problem.key.starts_with("load.") && problem.key.ends_with("watts");
    Ok((if too_big { Misfit::Overload } else { Misfit::Parts }, words(problem)))
}

/// The array whose wiring a key is.
fn wiring_of(key: &str) -> Option<usize> {
    let array = key.strip_prefix("panel.")?;
    array.strip_suffix(".wiring").or_else(|| array.strip_suffix(".open_circuit_voltage"))?.parse().ok()
}

/// Panels that would destroy the solar input on a cold morning, and how they would fit: each other wiring is opened and judged as
/// the kit's own is, and only one without a warning about its volts will do.
fn too_many_volts(field: &Field, job: &Job, base: &Opened, array: usize) -> Result<Option<TooManyVolts>, Failure> {
    let kit = &field.kits[job.kit].anchored;
    // Beyond the input's volts in any weather the reader refuses them; without its limit they can be looked at.
    let Some((unlimited, most)) = kit.without_volts_max() else { return Ok(None) };
    let Some(scenario) = unlimited.alone().0 else { return Ok(None) };
    let Some(panel) = scenario.panels.get(array) else { return Ok(None) };
    let cold_v = cold_string_v(panel, base.air.record_low);
    let Some(cold_v) = cold_v else { return Ok(None) };
    let wired = Wiring { series: panel.series, parallel: panel.parallel };
    let doubtful = |judged: &Judgement| {
        let volts = [format!("panel.{array}.wiring"), format!("panel.{array}.max_power_voltage")];
        judged.weight != Weight::Fits && volts.contains(&judged.key)
    };
    let amps = |judged: &Judgement| judged.weight != Weight::Fits && judged.key.ends_with(".amps_max");
    let (mut fits, mut spills) = (None, false);
    for other in wired.with_less_volts() {
        let Some(kit) = kit.rewired(array, (other.series, other.parallel)) else { continue };
        let good = match load(field, job, &kit, base)? {
            Ok(opened) => {
                spills = opened.verdicts.iter().any(amps);
                !opened.verdicts.iter().any(doubtful)
            }
            // Another array's turn comes once this one fits.
            Err(problem) => match wiring_of(&problem.key) {
                Some(another) => another != array,
                // Something else keeps it from opening: the volts are all that is asked of it here.
                None => cold_v * f64::from(other.series) < most.0 * f64::from(wired.series),
            },
        };
        if good {
            fits = Some(other);
            break;
        }
    }
    Ok(Some(TooManyVolts {
        wired,
        cold_v,
        cold_c: base.air.record_low.0,
        most_v: most.0,
        fits,
        spills: spills && fits.is_some(),
    }))
}

/// The plan with every load that could use another outlet than AC plugged in there; `None` where there is none.
fn off_ac(scenario: &Scenario, plan: &Plan) -> Option<Plan> {
    let limits = plan.kit.best_estimate().outlet_limit_w;
    let mut moved: Option<Plan> = None;
    for (k, load) in scenario.loads.iter().enumerate() {
        let Some((to, watts)) = load.could_use else { continue };
        if load.outlet == OutletKind::Ac && to != OutletKind::Ac && watts.0 <= limits[to as usize] {
            let change =
                Change::MoveLoad { load: k, name: load.name.clone(), to, watts: watts.0, medical: load.medical };
            moved = Some(change.apply(moved.as_ref().unwrap_or(plan)));
        }
    }
    moved
}
