//! What a page asks.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Deserialize;

use crate::ask::{Trouble, share};

/// A question with its options: those of the command line, by the same names and in the same words.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Question {
    /// "run", "compare", "now", "size", "check", "card", "prove", "record", "kits", "place", "appliances" or "cautions".
    pub ask: String,
    /// Name of the scenario's file, of the record's (for "record" one that tells the label alone), or for "kits" of a catalogue's or a
    /// proof's.
    #[serde(default)]
    pub file: Option<String>,
    /// For "prove": further records of the same unit.
    #[serde(default)]
    pub more: Vec<String>,
    /// For "place": its name, as far as it is typed.
    #[serde(default)]
    pub name: Option<String>,
    /// For "place": latitude \[°], north positive; for "kits": where their panels stand.
    #[serde(default)]
    pub latitude: Option<f64>,
    /// For "place": longitude \[°], east positive.
    #[serde(default)]
    pub longitude: Option<f64>,
    /// Trials, 1 to 5,000,000.
    #[serde(default = "usual_trials")]
    pub trials: u64,
    /// Seed.
    #[serde(default = "usual_seed")]
    pub seed: u64,
    /// Length of a step \[min\], a divisor of 60.
    #[serde(default = "usual_step")]
    pub step: u32,
    /// For "run" and "compare": stop at this half-width, like "1 %".
    #[serde(default)]
    pub precision: Option<String>,
    /// For "run": look closer at how rare a failure is.
    #[serde(default)]
    pub rare: bool,
    /// For "run": look for charges at which to switch loads off.
    #[serde(default)]
    pub advise: bool,
    /// For "run": nothing but the answer, without what changes would do: a first answer that a whole one follows.
    #[serde(default)]
    pub alone: bool,
    /// For "compare": variants beside those of the file, as `KEY=VALUE; ...`.
    #[serde(default)]
    pub sets: Vec<String>,
    /// For "size": what the lower end of the range must reach, like "95 %".
    #[serde(default)]
    pub target: Option<String>,
    /// For "now": the charge that the station shows, like "43%".
    #[serde(default)]
    pub charge: Option<String>,
    /// For "now": date and clock time of the place, or of today.
    #[serde(default)]
    pub at: Option<String>,
    /// For "now": the next days' sky.
    #[serde(default)]
    pub sky: Option<String>,
    /// For "now": by when it is judged.
    #[serde(default)]
    pub until: Option<String>,
    /// For "now": drawn down to this charge where the battery should keep more.
    #[serde(default)]
    pub below_floor: Option<String>,
    /// For "now": fuel left for the generator.
    #[serde(default)]
    pub fuel: Option<String>,
    /// For "prove": the day that days left are counted from, like "2027-03-14".
    #[serde(default)]
    pub today: Option<String>,
    /// The instant, where `at` or `today` is not given: seconds since 1970-01-01 00:00 UTC.
    #[serde(default)]
    pub unix_s: Option<i64>,
}

fn usual_trials() -> u64 {
    10_000
}

fn usual_seed() -> u64 {
    1
}

fn usual_step() -> u32 {
    60
}

impl Question {
    pub(super) fn trials(&self) -> Result<u64, Trouble> {
        let what = |why| format!(" is {}: {why}", self.trials);
        crate::ask::trials(self.trials).map_err(|why| Trouble::Option { option: "trials", what: what(why) })
    }

    pub(super) fn step(&self) -> Result<u32, Trouble> {
        let allowed = (1..=60).contains(&self.step) && 60 % self.step == 0;
        let what = || format!(" is {}; allowed: 1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30 or 60", self.step);
        allowed.then_some(self.step).ok_or_else(|| Trouble::Option { option: "step", what: what() })
    }

    pub(super) fn precision(&self) -> Result<Option<f64>, Trouble> {
        self.precision.as_deref().map(|text| share("precision", text, 0.0001, 0.5)).transpose()
    }

    pub(super) fn file(&self) -> Result<&str, Trouble> {
        self.file.as_deref().ok_or_else(|| Trouble::Question("the question names no file".into()))
    }

    pub(super) fn instant(&self) -> Option<Timestamp> {
        self.unix_s.and_then(|second| Timestamp::from_second(second).ok())
    }

    /// The day that is counted from.
    pub(super) fn today(&self) -> Result<Date, Trouble> {
        let day = match &self.today {
            Some(text) => text.trim().parse().ok(),
            None => self.instant().map(|instant| TimeZone::UTC.to_datetime(instant).date()),
        };
        let what = || " is wanted: a date like 2027-03-14, or the instant in `unix_s`".into();
        day.ok_or_else(|| Trouble::Option { option: "today", what: what() })
    }
}
