//! One cell of a line-up: one kit, one case, one place.

use serde::Serialize;

use super::outcomes::Outcomes;
use crate::study::compare::Pair;
use crate::trials::unknowns::Survival;

/// What a cell says.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// The kit can be used in this case.
    Fits(Box<CellAnswer>),
    /// It cannot.
    Misfit {
        /// Why not.
        why: Misfit,
        /// The same as a sentence of the reader's.
        reason: String,
    },
}

/// Why a kit does not fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Misfit {
    /// Its panels, wired as they are, destroy the solar input on a cold morning; with what wiring they fit it.
    Wiring(Option<Wiring>),
    /// Its parts, or it and the case, do not go together otherwise.
    Parts,
    /// Vital loads that may run together are more than an outlet or the cells give.
    Overload,
}

/// How panels are wired.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Wiring {
    /// Panels one after another.
    pub series: u32,
    /// Such strings side by side.
    pub parallel: u32,
}

impl Wiring {
    /// Other wirings of the same array with less volts, those to be tried first before: all of its panels, then fewer of them.
    #[must_use]
    pub fn with_less_volts(self) -> Vec<Wiring> {
        let panels = self.series * self.parallel;
        let shorter = || (1..self.series).rev();
        let all = shorter().filter(|series| panels.is_multiple_of(*series)).map(|series| (series, panels / series));
        let fewer = shorter().map(|series| (series, self.parallel));
        all.chain(fewer).map(|(series, parallel)| Wiring { series, parallel }).collect()
    }
}

/// What the trials say of a kit that fits.
#[derive(Debug, Clone, PartialEq)]
pub struct CellAnswer {
    /// Survival of the vital loads.
    pub survival: Survival,
    /// Whether the start of a vital load may switch its outlet off.
    pub may_stop: bool,
    /// Energy missed in an outage, mean \[Wh\].
    pub unmet_wh_mean: f64,
    /// What fails first, where anything failed.
    pub first_failure: Option<FirstFailure>,
    /// Survival of each trial.
    pub outcomes: Outcomes,
    /// What each addition does, in the order of [`Addition::ALL`]; `None` where it cannot be made.
    pub additions: [Option<Pair>; 3],
}

/// The vital load that fails first most often.
#[derive(Debug, Clone, PartialEq)]
pub struct FirstFailure {
    /// Its name.
    pub load: String,
    /// Its share of the failures, above 0 to 1.
    pub share: f64,
    /// Hours into the outage by which half of all failures have begun \[h\].
    pub after_h_p50: f64,
}

/// Something that could be bought or done beside a kit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Addition {
    /// One more of the first array's panels, or a first one.
    Panel,
    /// Every load that could use the DC or USB outlet plugged in there.
    DcOutlet,
    /// A second battery of the same size.
    Battery,
}

impl Addition {
    /// All of them, in a fixed order.
    pub const ALL: [Addition; 3] = [Addition::Panel, Addition::DcOutlet, Addition::Battery];

    /// A short name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Addition::Panel => "panel",
            Addition::DcOutlet => "dc_outlet",
            Addition::Battery => "battery",
        }
    }
}

/// How well a kit carries a use case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Band {
    /// The lower end of the range reaches the target.
    Carries,
    /// The best estimate reaches it, the lower end does not.
    Probably,
    /// At least half of the outages.
    Mostly,
    /// Between a twentieth and a half.
    Seldom,
    /// Less than a twentieth.
    Hardly,
}

/// Bounds of [`Band::Mostly`] and [`Band::Seldom`].
pub(super) const HALF: f64 = 0.5;
pub(super) const TWENTIETH: f64 = 0.05;

impl Band {
    /// The band of a survival under a target, 0 to 1.
    #[must_use]
    pub fn of(survival: &Survival, target: f64) -> Band {
        match survival.probability {
            _ if target <= survival.interval.low => Band::Carries,
            p if target <= p => Band::Probably,
            p if HALF <= p => Band::Mostly,
            p if TWENTIETH <= p => Band::Seldom,
            _ => Band::Hardly,
        }
    }
}
