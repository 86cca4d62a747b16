//! Watts of what may run at once, against cells and outlets.

use serde::Serialize;

use crate::engine::{Asks, LoadPlan, Plan};
use crate::kit::{Judgement, Weight};
use crate::scenario::model::{OutletKind, Scenario};

/// AC loads that wait for a hand as the lights go out, where it is told when somebody is there: the trials count the wait.
pub(super) fn switched_over(scenario: &Scenario) -> Option<Judgement> {
    let stays = &scenario.station.inverter.as_ref()?.stays;
    let waiting = scenario.loads.iter().filter(|load| load.outlet == OutletKind::Ac).map(|load| load.name.as_str());
    let waiting: Vec<&str> = waiting.collect();
    if stays.ups || scenario.outage.somebody_home.is_empty() || waiting.is_empty() {
        return None;
    }
    let what = "does not take over by itself as the mains fails: until somebody is home, what hangs on AC is dark";
    Some(
        Judgement::new(Weight::Warns, "inverter: as the mains fails", "station.inverter.ups", what)
            .found(format!("waiting: {}", waiting.join(", ")))
            .because("the answer counts the wait: failures of the first hours are mostly that")
            .remedy("write `ups = true` if the station takes over by itself; else feed what must not wait from the 12 V outlet")
            .in_the_answer(),
    )
}

/// AC loads so small that the outlet is asleep, or switches itself off, under them: as the trials take it.
pub(super) fn small_ac(scenario: &Scenario, plan: &Plan) -> Option<Judgement> {
    let inverter = scenario.station.inverter.as_ref()?;
    let stays = &inverter.stays;
    let (surely_off_w, least_w) = (stays.least.0.0, stays.least.1.0);
    let (watts, step, loads) = plan.least_on_ac(true)?;
    if watts >= least_w {
        return None;
    }
    let (key, what, does) = if inverter.sleeps {
        (
            if stays.assumed { "station.inverter.sleeps" } else { "station.inverter.wakes_above" },
            "leaves so small a load in the dark: it wakes for more",
            "the answer counts those loads as going without while nothing else on AC runs".to_string(),
        )
    } else {
        (
            if stays.assumed { "station.inverter.rated" } else { "station.inverter.switches_off_below" },
            "belongs to an AC outlet that switches itself off under so small a load",
            format!(
                "after {} it goes off until somebody switches it on again{}, and the answer counts what goes without",
                if stays.off_after.0 < stays.off_after.1 {
                    format!("{:.0} to {} (assumed)", stays.off_after.0.0, stays.off_after.1)
                } else {
                    stays.off_after.0.to_string()
                },
                if scenario.outage.somebody_home.is_empty() {
                    " (within the hour, day and night, as no outage.somebody_home says when somebody is there)"
                } else {
                    ""
                }
            ),
        )
    };
    let told = if inverter.sleeps { "wakes_above" } else { "switches_off_below" };
    let judged = Judgement::new(Weight::Warns, "inverter: small loads", key, what).found(format!(
        "{watts:.1} W at the AC outlet from {}: {}",
        clock(plan, step),
        names(plan, &loads)
    ));
    let (allowed, because, remedy) = if stays.assumed {
        (
            format!("{least_w:.0} W or more (assumed)"),
            format!(
                "{does}; nobody has told what this unit does: each trial draws a limit from {surely_off_w:.0} to {least_w:.0} W \
                 (most have one, common practice, no source), and the answer's range shows what hangs on it"
            ),
            format!(
                "try it for a night with this load alone and write what it does (`{told}`; \"0 W\" if it stays on), look \
                 for a setting that keeps AC on, or feed it from the 12 V or USB outlet"
            ),
        )
    } else {
        let remedy = "look for a setting that keeps AC on, or feed it from the 12 V or USB outlet";
        (format!("{least_w:.0} W or more"), does, remedy.to_string())
    };
    Some(judged.allowed(allowed).because(because).remedy(remedy).in_the_answer())
}

/// Loads that the station cannot run at all.
pub(super) fn never_run(plan: &Plan) -> Vec<Judgement> {
    let rig = plan.kit.best_estimate();
    let held = (0..plan.loads.len()).filter(|k| plan.loads[*k].never_runs());
    held.map(|k| {
        let load = &plan.loads[k];
        let about = format!("{}: watts while it runs", load.name);
        Judgement::new(
            Weight::Warns,
            about,
            format!("load.{k}.watts"),
            "is more than the station gives for long: it never runs",
        )
        .found(format!("{:.0} W, {:.0} W with all losses", load.running_w, plan.running_bus_w(&rig, &[k])))
        .allowed(format!(
            "up to {:.0} W out of the cells, {:.0} W at the outlet",
            plan.gives_w(),
            rig.outlet_limit_w[load.outlet]
        ))
        .because("the answer counts it as going without all the time; what the sun could add is not counted on")
        .remedy("use a station that gives more, or leave it out")
        .in_the_answer()
    })
    .collect()
}

/// Power that the cells give at the bus, where the scenario limits it \[W\].
fn cells_give_w(scenario: &Scenario, plan: &Plan) -> Option<f64> {
    scenario.station.discharge_limit.map(|limit| plan.gives_w().min(limit.0))
}

/// The most watts at the bus of loads that may run at once in any step of the day, losses counted, and the step.
fn busiest_of_all(plan: &Plan, of: Of) -> (f64, usize, Vec<usize>) {
    let rig = plan.kit.best_estimate();
    (0..plan.season.steps_a_day)
        .map(|step| {
            let loads: Vec<usize> = (0..3).flat_map(|outlet| at_once(plan, outlet, of, step)).collect();
            (plan.running_bus_w(&rig, &loads), step, loads)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
        .unwrap_or_default()
}

/// What loads that run together can be too much for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// The AC outlet.
    Inverter,
    /// The 12 V outlet.
    DcOutlet,
    /// The USB outlet.
    UsbOutlet,
    /// The station's cells, with all losses.
    Station,
}

/// An outlet, or the whole station, that switches off when loads on it run together.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename = "overload")]
pub struct Overload {
    /// What switches off.
    pub outlet: Source,
    /// What they draw together \[W\]; of the station's cells, with all losses.
    #[serde(rename = "watts_w")]
    pub watts: f64,
    /// What it gives \[W\].
    pub limit_w: f64,
    /// The loads.
    pub loads: Vec<String>,
    /// Whether vital loads alone are too much for it.
    pub vital: bool,
    /// The first step of the day in which they may run together.
    #[serde(skip)]
    step: usize,
}

/// All that may run at once at each outlet in use, and out of the cells where the scenario limits them: the overload, or else
/// what is drawn at most, which is within the limit.
fn at_most(scenario: &Scenario, plan: &Plan, held_off: bool) -> Vec<Result<Overload, Overload>> {
    let rig = plan.kit.best_estimate();
    let kinds =
        [(OutletKind::Ac, Source::Inverter), (OutletKind::Dc, Source::DcOutlet), (OutletKind::Usb, Source::UsbOutlet)];
    let used = |kind| scenario.loads.iter().any(|load| load.outlet == kind);
    let outlets = kinds.into_iter().filter(|(kind, _)| used(*kind));
    let outlets = outlets.map(|(kind, source)| (source, Some(kind as usize), rig.outlet_limit_w[kind as usize]));
    let cells = cells_give_w(scenario, plan).map(|limit_w| (Source::Station, None, limit_w));
    let judged = outlets.chain(cells).map(|(outlet, at, limit_w)| {
        let most = |classes: usize| {
            let of = Of { classes, held_off };
            let (watts, step, loads) = at.map_or_else(|| busiest_of_all(plan, of), |at| busiest(plan, at, of));
            let loads = loads.iter().map(|k| plan.loads[*k].name.clone()).collect();
            Overload { outlet, watts, limit_w, loads, vital: classes == 1, step }
        };
        let (vital, all) = (most(1), most(3));
        [vital, all.clone()].into_iter().find(|most| most.watts > limit_w).map_or(Ok(all), Err)
    });
    judged.collect()
}

/// Outlets, and cells, that loads overload when all that may run at once does, the vital ones first. The trials know nothing
/// of it: they spread what runs in turns over the hour, and hold an outlet to its limit instead of switching it off.
#[must_use]
pub fn overloads(scenario: &Scenario, plan: &Plan) -> Vec<Overload> {
    let mut all: Vec<Overload> = at_most(scenario, plan, true).into_iter().filter_map(Result::err).collect();
    all.sort_by_key(|overload| !overload.vital);
    all
}

/// A judgement on each outlet in use, and on the cells.
pub(super) fn outlets(scenario: &Scenario, plan: &Plan) -> Vec<Judgement> {
    let verdict = |judged: Result<Overload, Overload>| {
        let over = judged.is_err();
        let (Ok(most) | Err(most)) = judged;
        let (name, key) = match most.outlet {
            Source::Inverter => ("inverter", "station.inverter.rated"),
            Source::DcOutlet => ("12 V outlet", "station.dc_outlet.limit"),
            Source::UsbOutlet => ("USB", "station.usb.limit"),
            Source::Station => ("cells", "station.discharge_limit"),
        };
        let cells = most.outlet == Source::Station;
        let about = format!("{name}: watts of all that may run at once");
        let losses = if cells { " with all losses" } else { "" };
        let found = format!("{:.0} W{losses} from {}: {}", most.watts, clock(plan, most.step), most.loads.join(" + "));
        let off = match (cells, most.vital) {
            (true, _) => "the station switches off when they run together",
            (false, true) => "an overloaded outlet switches off, and everything on it goes dark",
            (false, false) => "an overloaded outlet switches off, and everything on it goes dark, vital or not",
        };
        let verdict = match (over, most.vital) {
            (false, _) => Judgement::new(Weight::Fits, about, key, "carries all that may run at once"),
            (true, true) => {
                Judgement::new(Weight::Warns, about, key, "is less than the vital loads draw when all of them run")
                    .remedy(if cells {
                        "run them one after another, or use a station that gives more"
                    } else {
                        "run them one after another, or move one to another outlet"
                    })
            }
            (true, false) => {
                Judgement::new(Weight::Warns, about, key, "is less than all loads draw when all of them run").remedy(
                    if cells {
                        "never run them together: use other hours"
                    } else {
                        "never run them together: use other hours or another outlet"
                    },
                )
            }
        };
        let verdict = verdict.found(found).allowed(format!("gives {:.0} W", most.limit_w));
        let because = format!("{off}; the answer counts means of an hour, in which they take turns");
        if over { verdict.because(because) } else { verdict }
    };
    // The cells are told first.
    let mut judged = at_most(scenario, plan, false);
    judged.sort_by_key(|(Ok(most) | Err(most))| most.outlet != Source::Station);
    judged.into_iter().map(verdict).collect()
}

/// Whether a load may draw its running watts in a step of the day. A compressor may at any hour, however cool the month's
/// mean: it runs at full watts or not at all.
pub(super) fn may_run(load: &LoadPlan, step: usize) -> bool {
    matches!(load.asks.as_deref(), Some(Asks::Cooler(_))) || load.profile.watts.get(step).is_some_and(|w| *w > 0.0)
}

/// Which loads to add up.
#[derive(Debug, Clone, Copy)]
pub(super) struct Of {
    /// Classes of priority: 1 for the vital loads alone, 3 for all.
    pub classes: usize,
    /// Whether loads count too that the station cannot run by themselves: somebody may try.
    pub held_off: bool,
}

impl Of {
    /// All loads that run.
    pub const ALL: Of = Of { classes: 3, held_off: false };
}

/// The loads of an outlet that may run in a step of the day.
fn at_once(plan: &Plan, outlet: usize, of: Of, step: usize) -> Vec<usize> {
    let here = |k: &usize| {
        let load = &plan.loads[*k];
        let counts = of.held_off || !load.never_runs();
        load.outlet == outlet && load.class < of.classes && may_run(load, step) && counts
    };
    (0..plan.loads.len()).filter(here).collect()
}

/// The most watts of running loads at one outlet in any step of the day, and the step.
pub(super) fn busiest(plan: &Plan, outlet: usize, of: Of) -> (f64, usize, Vec<usize>) {
    let sum = |loads: &[usize]| loads.iter().map(|k| plan.loads[*k].running_w).sum::<f64>();
    let mut best = (0.0, 0, Vec::new());
    for step in 0..plan.season.steps_a_day {
        let loads = at_once(plan, outlet, of, step);
        let watts = sum(&loads);
        if watts > best.0 {
            best = (watts, step, loads);
        }
    }
    best
}

pub(super) fn clock(plan: &Plan, step: usize) -> String {
    let minutes = step * 1440 / plan.season.steps_a_day;
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}

fn names(plan: &Plan, loads: &[usize]) -> String {
    loads.iter().map(|k| plan.loads[*k].name.as_str()).collect::<Vec<_>>().join(" + ")
}
