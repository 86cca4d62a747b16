//! `[[load]]`: what is plugged in.

use super::amount::{Amount, Unsure};
use super::clock;
use super::fields::Fields;
use super::forms::{OneOf, Text, Whole, YesNo};
use super::model::{ClockWindow, Load, OutletKind, Pattern, Priority};
use super::problem::Problem;
use super::station::OUTLET;
use crate::units::{Fraction, Uncertain, Watts};

const PRIORITY: OneOf<Priority> =
    OneOf { names: &[("vital", Priority::Vital), ("useful", Priority::Useful), ("spare", Priority::Spare)], also: &[] };

/// The kinds of load by name.
#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Steady,
    Schedule,
    Duty,
}

const KIND: OneOf<Kind> =
    OneOf { names: &[("steady", Kind::Steady), ("schedule", Kind::Schedule), ("duty", Kind::Duty)], also: &[] };

pub(super) fn read(fields: &mut Fields) -> Option<Load> {
    let share = || Amount::between(Fraction::ZERO, Fraction::ONE);
    let name = fields.required("name", &Text);
    let outlet = fields.required("outlet", &OUTLET);
    let priority = fields.required("priority", &PRIORITY);
    let watts = fields.required("watts", &Unsure(Amount::<Watts>::positive_to(Watts(100_000.0))));
    let starting = fields.optional("starting_watts", &Amount::<Watts>::positive_to(Watts(100_000.0)));
    if let (Some(starting), Some(watts)) = (starting, watts)
        && starting < watts.value
    {
        let clash = Problem::error(fields.key("starting_watts"), "is less than it draws while it runs")
            .found(starting.to_string())
            .allowed(format!("{} or more", watts.value))
            .help("a motor takes several times its running watts for a moment: leave it out where you do not know")
            .against(fields.key("watts"), "while it runs");
        fields.findings().push(clash);
    }
    let count = f64::from(fields.or("count", &Whole { least: 1, greatest: 1000 }, 1));
    let pattern = pattern(fields);
    let varies = fields.or("varies", &share(), Fraction::ZERO);
    let off_below = fields.optional("off_below", &share());
    let elsewhere = elsewhere(fields, outlet);
    let medical = fields.or("medical", &YesNo, false);
    if medical {
        let note = Problem::note(fields.key("medical"), "marks something that a person's health hangs on")
            .help("an estimate is no safety plan: keep a second source of power, and ask the device's supplier and your electricity company what they offer");
        fields.findings().push(note);
        if priority.is_some_and(|priority| priority != Priority::Vital) {
            let clash = Problem::warning(fields.key("priority"), "lets a medical load be switched off")
                .help("write priority = \"vital\", or leave medical out")
                .against(fields.key("medical"), "a person's health hangs on it");
            fields.findings().push(clash);
        }
    }
    let watts = watts?;
    let could_use = elsewhere.map(|(outlet, there)| (outlet, there.unwrap_or(watts.value) * count));
    Some(Load {
        name: name?,
        outlet: outlet?,
        priority: priority?,
        watts: Uncertain::new(watts.value * count, watts.plus_minus * count),
        starting,
        pattern: pattern?,
        varies,
        off_below,
        could_use,
        medical,
    })
}

fn elsewhere(fields: &mut Fields, outlet: Option<OutletKind>) -> Option<(OutletKind, Option<Watts>)> {
    let could_use = fields.optional("could_use", &OUTLET);
    let watts = fields.optional("watts_there", &Amount::<Watts>::positive_to(Watts(100_000.0)));
    if !fields.has("could_use") && fields.has("watts_there") {
        let lonely = Problem::error(fields.key("watts_there"), "is of no use without `could_use`")
            .help("add could_use = \"dc\", the outlet that these watts belong to, or leave this out");
        fields.findings().push(lonely);
    }
    if could_use.is_some() && could_use == outlet {
        let clash = Problem::error(fields.key("could_use"), "is the outlet that it uses already")
            .help("name another outlet, or leave this out")
            .against(fields.key("outlet"), "used already");
        fields.findings().push(clash);
    }
    Some((could_use?, watts))
}

/// When it runs, from `kind`, `hours` and `duty`, which must agree.
fn pattern(fields: &mut Fields) -> Option<Pattern> {
    let (has_hours, has_duty, has_kind) = (fields.has("hours"), fields.has("duty"), fields.has("kind"));
    let hours: Option<Vec<ClockWindow>> = clock::windows(fields, "hours");
    let share = fields.optional("duty", &Amount::positive_to(Fraction::ONE));
    let guessed = match (has_duty, has_hours) {
        (true, _) => Kind::Duty,
        (false, true) => Kind::Schedule,
        (false, false) => Kind::Steady,
    };
    let kind = fields.or("kind", &KIND, guessed);
    if has_kind && !fields.findings().clean(&fields.key("kind")) {
        return None;
    }
    let clash = |key: &str, what: &str, help: &str| {
        Problem::error(fields.key(key), what).help(help).against(fields.key("kind"), "this kind")
    };
    let problem = match kind {
        Kind::Steady if has_hours => {
            Some(clash("hours", "has no meaning for a steady load", "write kind = \"schedule\", or leave hours out"))
        }
        Kind::Steady | Kind::Schedule if has_duty => {
            Some(clash("duty", "has no meaning for this kind of load", "write kind = \"duty\", or leave duty out"))
        }
        Kind::Schedule if !has_hours => Some(
            Problem::error(fields.key("kind"), "needs `hours`")
                .found("\"schedule\" without hours")
                .help("add a line like: hours = \"18:00-23:00\""),
        ),
        Kind::Duty if !has_duty => Some(
            Problem::error(fields.key("kind"), "needs `duty`")
                .found("\"duty\" without a share")
                .help("add a line like: duty = \"35 %\", the share of the time that it runs"),
        ),
        _ => None,
    };
    if let Some(problem) = problem {
        fields.findings().push(problem);
        return None;
    }
    match kind {
        Kind::Steady => Some(Pattern::Steady),
        Kind::Schedule => hours.map(Pattern::Schedule),
        Kind::Duty if has_hours && hours.is_none() => None,
        Kind::Duty => share.map(|share| Pattern::Duty { share, hours: hours.unwrap_or_default() }),
    }
}
