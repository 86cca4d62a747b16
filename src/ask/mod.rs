//! The questions from end to end: an opened scenario and a few options in, a document and the same facts as JSON out. What every
//! front end does alike stands here; where options come from and where answers go is theirs.

mod kits;
pub mod library;
mod now;
mod options;
mod prove;
mod reach;

pub use kits::{kits, named_by_kits, offers_kits};
pub use now::{NowOptions, STEP_MINUTES, now};
pub use options::share;
pub use prove::{kit_file, photograph, photographs, prove, to_fill_in};
pub use reach::{trials, within_reach};

use crate::engine::Plan;
use crate::engine::plan::Sky;
use crate::kit::Weight;
use crate::open::{OpenError, Opened, assumed};
use crate::report::advise::Advised;
use crate::report::check_json::Check;
use crate::report::device::Device;
use crate::report::document::Document;
use crate::report::notes::{self, Note};
use crate::report::{card as card_words, check as check_words, compare as compare_words, size as size_words};
use crate::report::{cautions, headline, json, outage as outage_words, outage_json, runtimes};
use crate::scenario::model::{DailyCuts, Lasts, Priority, Variant};
use crate::scenario::variant::from_words;
use crate::scenario::{Problem, Scenario};
use crate::study::device::{DeviceAlone, DeviceHours};
use crate::study::endurance::{Endurance, endurance};
use crate::study::fit::overloads;
use crate::study::fuel::FuelTaken;
use crate::study::{self, outage::OutageAnswer};
use crate::trials::{Progress, Settings, Tally};
use crate::units::Hours;

/// Why a question cannot be answered.
#[derive(Debug)]
pub enum Trouble {
    /// The scenario, or a file that it names, is wrong.
    Open(OpenError),
    /// An option cannot be used.
    Option {
        /// Its name: "charge".
        option: &'static str,
        /// What is wrong, as the end of a sentence that begins with the name.
        what: String,
    },
    /// Something else about the question, in a sentence.
    Question(String),
}

impl From<OpenError> for Trouble {
    fn from(error: OpenError) -> Trouble {
        Trouble::Open(error)
    }
}

/// An answer to show.
#[derive(Debug)]
pub struct Answer {
    /// What is shown.
    pub document: Document,
    /// The same facts as JSON; none where the question has no figures of its own.
    pub json: Option<String>,
    /// Whether it was stopped before it was whole.
    pub partial: bool,
}

/// What may be asked beside an outage.
#[derive(Debug, Clone, Copy, Default)]
pub struct Beside {
    /// A closer look at how rare a failure is, even where trials enough failed.
    pub rare: bool,
    /// The charges at which to switch useful and spare loads off.
    pub advise: bool,
    /// Nothing but the answer: no changes are tried, and what is taken for granted is not weighed. For a first answer that a
    /// whole one follows.
    pub alone: bool,
}

/// The answer to an outage with what it rests on.
pub struct OutageFound {
    /// What the trials say.
    pub answer: OutageAnswer,
    /// Whether a closer look was asked for and not taken, the run being stopped before.
    pub rare_missing: bool,
    notes: Vec<Note>,
    advised: Option<Advised>,
    device: Device,
}

/// Simulates an opened scenario's outage; `None` where it was stopped before the first trials were done.
pub fn outage(opened: &Opened, beside: Beside, settings: &Settings, progress: &dyn Progress) -> Option<OutageFound> {
    let of = (&opened.scenario, &opened.plan);
    let mut answer = if beside.alone {
        study::outage::outage_alone(of.0, of.1, settings, progress)?
    } else {
        study::outage(of.0, of.1, settings, progress)?
    };
    let advice = if beside.advise { study::advise::advise(&opened.plan, settings, progress) } else { None };
    let whole = !answer.stopped_early && !beside.alone;
    if whole && (beside.rare || study::rare::worth_a_look(&answer.tally)) {
        answer.rarity = study::rare::rarity(&opened.plan, &answer.tally, settings.seed, progress);
    }
    // Stopped while it looked closer: the answer itself is whole, what was asked for beside it is missing.
    let rare_missing = beside.rare && answer.rarity.is_none();
    let notes = rests_on(opened, !whole, settings, Some(&answer.tally));
    let advised = beside.advise.then(|| advice.map_or(Advised::Nothing, Advised::Rule));
    let device = if beside.alone || !opened.scenario.medical() {
        Device::default()
    } else {
        device_alone(opened, dark_of(opened).as_ref(), &answer, settings, progress)
    };
    Some(OutageFound { answer, rare_missing, notes, advised, device })
}

/// What is known of devices that a person's health hangs on by themselves.
///
/// * `dark` — see [`without_mains`].
fn device_alone(
    opened: &Opened,
    dark: Option<&Plan>,
    answer: &OutageAnswer,
    settings: &Settings,
    progress: &dyn Progress,
) -> Device {
    let (scenario, plan) = (&opened.scenario, &opened.plan);
    let (dark, full) = (dark.unwrap_or(plan), plan.kit.best_estimate().full());
    Device {
        hours: DeviceHours::of(scenario, dark, opened.air.cells_c(plan), (full, full), None, settings.seed),
        alone: (!answer.stopped_early).then(|| DeviceAlone::of(scenario, plan, answer, settings, progress)).flatten(),
    }
}

/// What an answer rests on, what it takes for granted weighed on the kit as the scenario has it; not weighed where the run was
/// stopped.
///
/// * `as_it_is` — the first trials of the settings for that kit, where they are there.
fn rests_on(opened: &Opened, stopped: bool, settings: &Settings, as_it_is: Option<&Tally>) -> Vec<Note> {
    let assumed = if stopped { Vec::new() } else { assumed::assumed(opened, settings, as_it_is) };
    let mut notes = notes::notes(&opened.scenario, (&opened.sky, &opened.air), &opened.verdicts, &opened.plan);
    notes::add_assumed(&mut notes, &assumed);
    notes
}

impl OutageFound {
    /// For showing.
    #[must_use]
    pub fn told(&self, opened: &Opened) -> Answer {
        let facts = outage_words::Facts {
            scenario: &opened.scenario,
            plan: &opened.plan,
            answer: &self.answer,
            notes: &self.notes,
            advised: self.advised.as_ref(),
            device: &self.device,
            rare_missing: self.rare_missing,
        };
        Answer {
            document: outage_words::document(&facts),
            json: Some(json::text("outage", &outage_json::of(&facts))),
            partial: self.answer.stopped_early || self.rare_missing,
        }
    }
}

/// Vital loads that a person's health hangs on.
fn devices(scenario: &Scenario) -> Vec<String> {
    let vital = scenario.loads.iter().filter(|load| load.medical && load.priority == Priority::Vital);
    vital.map(|load| load.name.clone()).collect()
}

/// Holds the scenario's variants, and those told in words (`KEY=VALUE; ...`), against it on the same weather; `None` where it
/// was stopped before the first trials were done.
///
/// # Errors
/// What a variant cannot set, or that there is none.
pub fn compare(
    opened: &Opened,
    sets: &[String],
    settings: &Settings,
    progress: &dyn Progress,
) -> Result<Option<Answer>, Trouble> {
    let mut variants: Vec<(Variant, String)> =
        opened.scenario.variants.iter().enumerate().map(|(k, v)| (v.clone(), format!("variant.{k}"))).collect();
    for words in sets {
        let what = |why: String| Trouble::Option { option: "set", what: format!(" {words:?}: {why}") };
        variants.push((from_words(words).map_err(what)?, String::new()));
    }
    if variants.is_empty() {
        return Err(Trouble::Question(format!("{} has no [[variant]] to compare with", opened.source.name)));
    }
    within_reach(opened, 1 + variants.len(), settings)?;
    let mut plans: Vec<(String, Plan)> = vec![("as it is".to_string(), opened.plan.clone())];
    let kit = |scenario: &Scenario, plan: &Plan| compare_words::Kit {
        overloads: overloads(scenario, plan),
        medical: scenario.medical(),
        devices: devices(scenario),
        cautions: cautions::beside_notes(scenario),
        fuel: FuelTaken::of(scenario, plan),
        more_to_pay: study::price::more_to_pay(&opened.scenario, scenario),
        costs: study::price::costs(&opened.scenario, scenario),
    };
    let mut kits = vec![kit(&opened.scenario, &opened.plan)];
    for (variant, key) in &variants {
        let (scenario, plan) = opened.vary(variant, key)?;
        kits.push(kit(&scenario, &plan));
        plans.push((variant.name.clone(), plan));
    }
    Ok(study::compare::compare(&plans, settings, progress).map(|answer| {
        let facts = compare_words::Facts {
            title: &opened.scenario.title,
            site: &opened.scenario.site,
            currency: opened.scenario.size.as_ref().map_or("", |size| &size.currency),
            plans: &plans,
            answer: &answer,
            kits: &kits,
            notes: &rests_on(
                opened,
                answer.stopped_early,
                settings,
                answer.contenders.first().map(|first| &first.tally),
            ),
        };
        Answer {
            document: compare_words::document(&facts),
            json: Some(json::text("comparison", &compare_words::json(&facts))),
            partial: answer.stopped_early,
        }
    }))
}

/// Finds the smallest kits; `None` where it was stopped before the first trials were done.
///
/// * `target` — what the lower end of the range must reach, 0 to 1; else as the scenario says.
pub fn size(opened: &Opened, target: Option<f64>, settings: &Settings, progress: &dyn Progress) -> Option<Answer> {
    let answer = study::size::size(&opened.scenario, &opened.plan, target, settings, progress)?;
    let looked = answer.judged && !answer.stopped_early;
    let own = if looked { study::outage(&opened.scenario, &opened.plan, settings, progress) } else { None };
    let devices = devices(&opened.scenario);
    let facts = size_words::Facts {
        title: &opened.scenario.title,
        site: &opened.scenario.site,
        answer: &answer,
        overloads: &overloads(&opened.scenario, &opened.plan),
        fuel: FuelTaken::of(&opened.scenario, &opened.plan),
        medical: opened.scenario.medical(),
        devices: &devices,
        own: own.as_ref().filter(|own| !own.stopped_early),
        cautions: &cautions::beside_notes(&opened.scenario),
        notes: &rests_on(opened, answer.stopped_early, settings, None),
        seed: settings.seed,
    };
    Some(Answer {
        document: size_words::document(&facts),
        json: Some(json::text("sizing", &size_words::json(&facts))),
        partial: answer.stopped_early,
    })
}

/// The card to hang beside the station; `None` where it was stopped before the first trials were done.
pub fn card(opened: &Opened, settings: &Settings, progress: &dyn Progress) -> Option<Answer> {
    let answer = study::outage(&opened.scenario, &opened.plan, settings, progress)?;
    let dark = dark_of(opened);
    let device = device_alone(opened, dark.as_ref(), &answer, settings, progress);
    let mut rests_on = notes::notes(&opened.scenario, (&opened.sky, &opened.air), &opened.verdicts, &opened.plan);
    notes::add_assumed(&mut rests_on, &assumed::unweighed(opened, &opened.plan));
    let document = card_words::document(&card_words::Facts {
        device: &device,
        scenario: &opened.scenario,
        plan: &opened.plan,
        answer: &answer,
        cells_c: opened.air.cells_c(&opened.plan),
        notes: &rests_on,
        dark: dark.as_ref().unwrap_or(&opened.plan),
    });
    Some(Answer { document, json: None, partial: answer.stopped_early })
}

/// See [`without_mains`]: of the kit as it is opened.
fn dark_of(opened: &Opened) -> Option<Plan> {
    without_mains(&opened.scenario, &opened.plan, &opened.sky)
}

/// The plan of a kit without mains between cuts, for how long it runs; `None` where there are no cuts.
///
/// * `plan` — the kit's with them.
fn without_mains(scenario: &Scenario, plan: &Plan, sky: &Sky) -> Option<Plan> {
    if !scenario.outage.cuts.any() {
        return None;
    }
    let mut dark = scenario.clone();
    dark.outage.cuts = DailyCuts::default();
    // The length is of no matter here, and cuts may come back for longer than one outage lasts.
    dark.outage.lasts = Lasts::Fixed(Hours(24.0));
    dark.site.room = None;
    let step_minutes = (plan.season.step_h * 60.0).round() as u32;
    Plan::compile(&dark, sky, step_minutes).ok()
}

/// Whether the parts of a kit fit together, judged by [`open`](crate::open::open).
pub struct Checked {
    /// For showing.
    pub document: Document,
    /// The same facts as JSON.
    pub json: String,
    /// What the reader says and no verdict does.
    pub remarks: Vec<Problem>,
    /// Whether the kit must not be put together like this.
    pub stops: bool,
}

/// Says whether the parts fit and how long things run without sun.
#[must_use]
pub fn check(opened: &Opened) -> Checked {
    // What a verdict says is not said twice.
    let said = |remark: &&Problem| opened.verdicts.iter().any(|v| v.known_to_reader && v.key == remark.key);
    let remarks: Vec<Problem> = opened.remarks.iter().filter(|remark| !said(remark)).cloned().collect();
    let cells_c = opened.air.cells_c(&opened.plan);
    let dark = dark_of(opened);
    let sums = endurance(&opened.plan, cells_c);
    // How long things run is told without the mains, what is asked of the station in the cuts alone.
    let sums = match dark.as_ref().map(|dark| endurance(dark, cells_c)) {
        Some(Endurance { all, vital, each, may_end_h, .. }) => Endurance { all, vital, each, may_end_h, ..sums },
        None => sums,
    };
    let cold = runtimes::cold(&opened.plan, cells_c, headline::month_name(&opened.scenario));
    let (scenario, plan) = (&opened.scenario, &opened.plan);
    let facts = Check::of(scenario, plan, (&sums, cells_c), &opened.verdicts, &remarks);
    Checked {
        json: json::text("check", &facts),
        document: check_words::document(scenario, plan, &sums, cold.as_ref(), &opened.verdicts, remarks.len()),
        stops: opened.verdicts.iter().any(|verdict| verdict.weight == Weight::Stops),
        remarks,
    }
}
