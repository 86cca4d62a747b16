//! A second station that refills the first through its wall charger, and is carried away to be charged.

use super::cells::Lane;
use super::rig::Rig;
use crate::scenario::model::{SecondStation, Station};

/// What a second station does.
#[derive(Debug, Clone, PartialEq)]
pub struct SecondPlan {
    /// Most power at the plug of the first one's charger \[W\].
    pub(super) gives_w: f64,
    /// Its charge as the outage begins.
    starts: f64,
    /// Trips, where there are any.
    trips: Option<TripsPlan>,
}

/// Trips in steps.
#[derive(Debug, Clone, Copy, PartialEq)]
struct TripsPlan {
    /// Step of the day at which it leaves, and for how many it is away: those that it is away for any part of.
    from: usize,
    steps: usize,
    every_days: usize,
    /// Its charge as it is back.
    returns: f64,
}

impl SecondPlan {
    /// Of a second station beside the first.
    pub(super) fn new(second: &SecondStation, station: &Station, steps_a_day: usize) -> SecondPlan {
        let minutes = 1440 / steps_a_day;
        let trips = second.trips.map(|trips| {
            let from = usize::from(trips.away.from_minute);
            let until = from + (trips.away.hours().0 * 60.0).round() as usize;
            let first = from / minutes;
            let steps = until.div_ceil(minutes) - first;
            TripsPlan { from: first, steps, every_days: trips.every_days as usize, returns: trips.returns_at.0 }
        });
        SecondPlan {
            gives_w: station.wall_charger.map_or(0.0, |charger| charger.limit.0.min(second.limit.0)),
            starts: second.starts_charged.0,
            trips,
        }
    }
}

impl TripsPlan {
    /// Whether the station is away in a step.
    ///
    /// * `now`, `first` — the step and that at which the outage begins, counted from one midnight; `a_day` — steps in a day.
    fn away(&self, now: usize, first: usize, a_day: usize) -> bool {
        let Some(since) = now.checked_sub(self.from) else { return false };
        let (left_on, for_steps) = (since / a_day, since % a_day);
        let days = left_on.saturating_sub(first / a_day);
        for_steps < self.steps && days > 0 && days % self.every_days == 0
    }
}

/// The second stations of each lane.
#[derive(Debug)]
pub(super) struct Second<const L: usize> {
    /// Energy that their outlets can still give \[Wh\].
    left_wh: [f64; L],
    /// Share of the present step's power that they can give.
    pub share: [f64; L],
    /// Given so far \[Wh\].
    pub given_wh: [f64; L],
    away: [bool; L],
    /// Bus power from the wall so far \[W × steps\].
    before: [f64; L],
}

impl<const L: usize> Default for Second<L> {
    fn default() -> Second<L> {
        let zero = [0.0; L];
        Second { left_wh: zero, share: [1.0; L], given_wh: zero, away: [false; L], before: zero }
    }
}

impl<const L: usize> Second<L> {
    /// As the outage begins.
    pub(super) fn begin(&mut self, plan: &SecondPlan, rigs: &[Rig]) {
        *self = Second::default();
        for (l, rig) in rigs.iter().enumerate().take(L) {
            self.left_wh[l] = plan.starts * rig.second_wh;
        }
    }

    /// Works out what share of its power each can give in a step.
    ///
    /// * `now`, `first` — the step and those at which the outages begin, counted from one midnight.
    pub(super) fn before(
        &mut self,
        plan: &SecondPlan,
        (now, first, a_day, step_h): (usize, &[usize; L], usize, f64),
        (lane, rigs): (&Lane<L>, &[Rig]),
    ) {
        let most_wh = plan.gives_w * step_h;
        for l in 0..L {
            let away = plan.trips.is_some_and(|trips| trips.away(now, first[l], a_day));
            if let Some(trips) = plan.trips.filter(|_| self.away[l] && !away) {
                self.left_wh[l] = self.left_wh[l].max(trips.returns * rigs[l].second_wh);
            }
            self.away[l] = away;
            self.share[l] = if away { 0.0 } else { (self.left_wh[l] / most_wh).min(1.0) };
        }
        self.before = *lane.wall_sum();
    }

    /// Takes out what the step took, in the lanes whose outage it is in.
    ///
    /// * `others_w` — bus power of the step that came from other sources \[W\].
    pub(super) fn after(
        &mut self,
        step_h: f64,
        active: &[bool; L],
        (lane, rigs, others_w): (&Lane<L>, &[Rig], &[f64; L]),
    ) {
        for l in (0..L).filter(|&l| active[l]) {
            let given_wh = (lane.wall_sum()[l] - self.before[l] - others_w[l]) / rigs[l].wall_efficiency * step_h;
            self.left_wh[l] = (self.left_wh[l] - given_wh).max(0.0);
            self.given_wh[l] += given_wh;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trips_leave_and_come_back_on_their_days() {
        let trips = |from, steps, every_days| TripsPlan { from, steps, every_days, returns: 1.0 };
        let away = |trips: TripsPlan, first: usize| {
            (first..first + 120)
                .filter(|now| trips.away(*now, first, 24))
                .map(|now| (now / 24, now % 24))
                .collect::<Vec<_>>()
        };
        // The first trip is a day after the one on which the outage begins, at whichever hour.
        let daily: Vec<(usize, usize)> = (1..5).flat_map(|day| (9..15).map(move |hour| (day, hour))).collect();
        assert_eq!(away(trips(9, 6, 1), 0), daily);
        assert_eq!(away(trips(9, 6, 1), 10)[..24], daily);
        let every_other: Vec<(usize, usize)> =
            [2, 4].into_iter().flat_map(|day| (9..15).map(move |hour| (day, hour))).collect();
        assert_eq!(away(trips(9, 6, 2), 3), every_other);
        // Over night.
        assert_eq!(away(trips(22, 4, 3), 0), [(3, 22), (3, 23), (4, 0), (4, 1)]);
    }
}
