//! Power that is cut for some hours of every day: between the cuts the mains feeds the loads and charges the station.

use super::load::LoadPlan;
use crate::loads::{DayProfile, coverage};
use crate::scenario::model::{Outage, Station};

/// In which steps of a day the mains is there; empty where it never is. A step of which a cut has any part counts as cut
/// (cautious).
pub(super) fn mains(outage: &Outage, steps_a_day: usize) -> Vec<bool> {
    if outage.every_day.is_empty() {
        return Vec::new();
    }
    coverage(&outage.every_day, steps_a_day).iter().map(|cut| *cut <= 0.0).collect()
}

/// Lets a generator stand still, and the wall charger draw from the mains in the steps in which it is there \[W\].
pub(super) fn charge_from_mains(outage: &Outage, station: &Station, mains: &[bool], wall_w: &mut [f64]) {
    let Some(charger) = station.wall_charger else { return };
    let watts = outage.mains_limit.map_or(charger.limit.0, |limit| limit.0.min(charger.limit.0));
    for (wall_w, _) in wall_w.iter_mut().zip(mains).filter(|(_, mains)| **mains) {
        *wall_w = watts;
    }
}

impl LoadPlan {
    /// Asks the station for nothing in the steps in which the mains is there.
    pub(super) fn spare_the_station(&mut self, mains: &[bool]) {
        let clear = |day: &mut DayProfile| {
            for (at, _) in mains.iter().enumerate().filter(|(_, mains)| **mains) {
                (day.watts[at], day.variance_w2[at]) = (0.0, 0.0);
            }
        };
        self.week.iter_mut().flat_map(|days| days.iter_mut()).chain([&mut self.profile]).for_each(clear);
    }
}

/// What vital loads missed day by day and week by week, in lanes.
#[derive(Debug, Clone)]
pub(super) struct CutDays<const L: usize> {
    steps_a_day: u64,
    /// The last day with anything missed, and how many there were.
    last: [u64; L],
    days: [u32; L],
    /// The last week with anything missed, what was missed in it, and the most of the weeks before \[Wh\].
    week: [u64; L],
    week_wh: [f64; L],
    worst_wh: [f64; L],
}

impl<const L: usize> CutDays<L> {
    pub(super) fn new(steps_a_day: usize) -> CutDays<L> {
        CutDays {
            steps_a_day: steps_a_day as u64,
            last: [u64::MAX; L],
            days: [0; L],
            week: [0; L],
            week_wh: [0.0; L],
            worst_wh: [0.0; L],
        }
    }

    /// Takes in what a vital load missed in lane `l` \[Wh\].
    ///
    /// * `index` — step of the spell; days and weeks count from its beginning.
    pub(super) fn book(&mut self, l: usize, index: u64, missed_wh: f64) {
        let day = index / self.steps_a_day;
        if self.last[l] != day {
            (self.last[l], self.days[l]) = (day, self.days[l] + 1);
        }
        if self.week[l] != day / 7 {
            self.worst_wh[l] = self.worst_wh[l].max(self.week_wh[l]);
            (self.week[l], self.week_wh[l]) = (day / 7, 0.0);
        }
        self.week_wh[l] += missed_wh;
    }

    /// Days with anything missed, and what was missed in the worst week \[Wh\].
    pub(super) fn of(&self, l: usize) -> (u32, f64) {
        (self.days[l], self.worst_wh[l].max(self.week_wh[l]))
    }
}
