//! What is plugged in.

use super::{OutletKind, Pattern};
use crate::units::{Fraction, Milliseconds, Uncertain, Watts};

/// One thing that is plugged in.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// What to call it; no two loads share a name.
    pub name: String,
    /// Where it is plugged in.
    pub outlet: OutletKind,
    /// How much it matters.
    pub priority: Priority,
    /// Power while it runs; for duty loads while the motor runs.
    pub watts: Uncertain<Watts>,
    /// How many of the same that is.
    pub count: u32,
    /// The longest gap at an AC outlet that it rides through, where known.
    pub tolerates: Option<Milliseconds>,
    /// Power of one of them for the moment in which its motor starts, where known.
    pub starting: Option<Watts>,
    /// When it draws power.
    pub pattern: Pattern,
    /// The days of the week on which it is used.
    pub days: Weekdays,
    /// Day-to-day standard deviation of its use, as a share of its mean.
    pub varies: Fraction,
    /// Switched off while the state of charge is below this.
    pub off_below: Option<Fraction>,
    /// Where else the same thing could be plugged in, and the watts it would draw there.
    pub could_use: Option<(OutletKind, Watts)>,
    /// Whether a person's health hangs on it.
    pub medical: bool,
}

impl Load {
    /// Whether it follows a file that has not been read yet.
    #[must_use]
    pub fn lacks_profile(&self) -> bool {
        matches!(&self.pattern, Pattern::Profile(profile) if profile.watts.is_empty())
    }
}

/// Days of the week, Monday first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Weekdays(pub [bool; 7]);

impl Weekdays {
    /// Every day.
    pub const ALL: Weekdays = Weekdays([true; 7]);
    /// No day.
    pub const NONE: Weekdays = Weekdays([false; 7]);

    /// The days of either.
    #[must_use]
    pub fn or(self, other: Weekdays) -> Weekdays {
        Weekdays(std::array::from_fn(|day| self.0[day] || other.0[day]))
    }
}

/// How much a load matters. Less important ones are given up first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Priority {
    /// Must stay on: the outage counts as failed when it does not.
    Vital,
    /// Given up only for the vital ones.
    Useful,
    /// The first to go.
    Spare,
}
