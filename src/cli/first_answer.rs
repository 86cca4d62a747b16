//! The first answer, as `tideover new` writes its file.

use std::path::Path;

use super::output::{Bar, PendingFile, print, terminal_columns};
use super::{Done, Failure, input};
use tideover::open::Opened;
use tideover::report::cautions;
use tideover::report::document::Document;
use tideover::report::headline::{doubt, headline, verdict_words};
use tideover::report::judged;
use tideover::report::outage::failures;
use tideover::scenario::first::{First, HalfCharger};
use tideover::scenario::{Level, Source};
use tideover::study::outage::{OutageAnswer, outage_alone};
use tideover::trials::Settings;

/// Writes the file and prints its first answer.
pub fn written(path: &Path, made: &First) -> Result<Done, Failure> {
    let file = PendingFile::open(path)?;
    // What cannot be answered is not written: the next try finds its name free.
    let folder = path.parent().unwrap_or(Path::new("."));
    let loaded = input::load_text(Source::new(path.display().to_string(), made.text.clone()), folder, 60, None)?;
    file.commit(&made.text)?;
    let settings = Settings { seed: 1, trials: 10_000, precision: None };
    let answer = answered(&loaded, &settings)?;
    let mut out = Document::new(format!("Wrote {}, and its first answer", path.display()));
    let scenario = &loaded.scenario;
    out.placed(&scenario.site).lead(verdict_words(scenario, &answer));
    out.lead(headline(scenario, &answer)).under(doubt(scenario, &answer));
    if let Some(half) = made.half.as_ref().filter(|_| answer.never_asked(scenario).is_empty()) {
        out.lead(with_half(half, path, &loaded, &settings)?);
    }
    out.caution(cautions::elsewhere(scenario, answer.verdict(scenario)));
    if answer.never_asked(scenario).is_empty() {
        out.head("What fails, and when").say(failures(&loaded.plan, &answer));
    }
    if !made.told.is_empty() {
        out.head("How the answers were understood").list(made.told.iter().cloned());
    }
    if !made.assumed.is_empty() {
        out.head("What nobody said, and was assumed (keys that change it)").list(made.assumed.iter().cloned());
    }
    let warned = judged::remarks(&loaded).into_iter().filter(|remark| remark.level != Level::Note);
    let warned: Vec<String> = warned.map(|remark| remark.title()).collect();
    if !warned.is_empty() {
        out.head("Mind").list(warned);
    }
    out.head("What to do next").list([
        format!("Look through {}: it says what was assumed.", path.display()),
        format!("tideover check {} says whether the parts fit.", path.display()),
        format!("tideover run {} tells everything.", path.display()),
        format!("tideover size {} says which kit would carry it.", path.display()),
    ]);
    print(&out.text(terminal_columns()))?;
    Ok(Done::Answered)
}

/// The answer alone: what changes would do is for a run.
fn answered(loaded: &Opened, settings: &Settings) -> Result<OutageAnswer, Failure> {
    let bar = Bar::new(settings.trials, true);
    let answer = outage_alone(&loaded.scenario, &loaded.plan, settings, &bar);
    bar.finish();
    answer.ok_or(Failure::Interrupted)
}

/// What half of a charger that is guessed would give, on the same settings.
fn with_half(half: &HalfCharger, path: &Path, whole: &Opened, settings: &Settings) -> Result<String, Failure> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let source = Source::new(path.display().to_string(), half.text.clone());
    let loaded = input::load_text(source, folder, 60, Some(whole))?;
    let answer = answered(&loaded, settings)?;
    Ok(format!(
        "The charger is a guess, which this range does not count. With a charger of {} W, half of what is guessed: {} {}",
        half.charger_w,
        verdict_words(&loaded.scenario, &answer),
        headline(&loaded.scenario, &answer)
    ))
}
