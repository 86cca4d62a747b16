//! The time without mains power.

use super::{ClockWindow, DailyCuts};
use crate::units::{Fraction, Hours, Uncertain, WattHours, Watts};

/// The time without mains power.
#[derive(Debug, Clone, PartialEq)]
pub struct Outage {
    /// When it begins.
    pub begins: Begins,
    /// How long it lasts.
    pub lasts: Lasts,
    /// State of charge as the lights go out.
    pub starts_charged: Uncertain<Fraction>,
    /// Whether the first days are drawn from the darkest part of the season's weather.
    pub begins_in_a_storm: bool,
    /// Energy that the vital loads may miss before the outage counts as failed.
    pub allow_unmet: WattHours,
    /// The cuts, where the mains comes back between them; none: one outage from end to end.
    pub cuts: DailyCuts,
    /// The most that a weak mains gives the wall charger between cuts.
    pub mains_limit: Option<Watts>,
    /// When somebody is there and awake to switch an outlet on; empty: at all hours.
    pub somebody_home: Vec<ClockWindow>,
}

/// When an outage begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Begins {
    /// Any day and hour of a month (1 to 12), all equally likely.
    Month(u8),
    /// At this clock time.
    At {
        /// Calendar year.
        year: i16,
        /// 1 to 12.
        month: u8,
        /// 1 to 31.
        day: u8,
        /// Minutes after midnight, 0 to 1439.
        minute_of_day: u16,
    },
}

/// How long an outage lasts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lasts {
    /// Always the same.
    Fixed(Hours),
    /// Log-normal: half are shorter than the median, 95 % shorter than the 95 % point.
    LogNormal {
        /// Half of all outages are shorter.
        median: Hours,
        /// 95 % of all outages are shorter.
        p95: Hours,
    },
}

impl Lasts {
    /// The length that 19 of 20 outages stay within; that of all of them where it is always the same.
    #[must_use]
    pub fn nineteen_of_twenty(self) -> Hours {
        match self {
            Lasts::Fixed(hours) => hours,
            Lasts::LogNormal { p95, .. } => p95,
        }
    }
}
