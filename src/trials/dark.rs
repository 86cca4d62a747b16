//! When loads are dark, by the clock: step by step from the midnight before the lights went out, so that all outages' nights
//! lie upon each other wherever these begin.

use super::tally::{bump, merge_counts};

/// How often each load was dark in each step of the days that outages touch. Whole numbers: the order of adding is no matter.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Dark {
    /// Outages by the step in which they begin, and by the first after their end.
    begun: Vec<u32>,
    ended: Vec<u32>,
    /// By load and step, the outages in which it went without.
    loads: Vec<Vec<u32>>,
}

/// A stretch of the clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Outages running then, the mean over its steps.
    pub running: f64,
    /// Share of them in which the load went without, 0 to 1, the mean over its steps; `None` where none was running.
    pub share: Option<f64>,
}

impl Dark {
    /// Counts an outage.
    ///
    /// * `first` — its first step, counted from the midnight before; `steps` — its length.
    pub fn outage(&mut self, first: usize, steps: usize) {
        bump(&mut self.begun, first);
        bump(&mut self.ended, first + steps);
    }

    /// Counts the outages in which load `k` went without, by the step from that midnight on.
    pub fn add(&mut self, k: usize, counts: &[u32]) {
        if self.loads.len() <= k {
            self.loads.resize(k + 1, Vec::new());
        }
        merge_counts(&mut self.loads[k], counts);
    }

    /// Adds other outages.
    pub fn merge(&mut self, other: &Dark) {
        merge_counts(&mut self.begun, &other.begun);
        merge_counts(&mut self.ended, &other.ended);
        for (k, counts) in other.loads.iter().enumerate() {
            self.add(k, counts);
        }
    }

    /// Outages running in each step.
    #[must_use]
    pub fn running(&self) -> Vec<u64> {
        let mut now = 0_u64;
        let at = |counts: &[u32], step: usize| u64::from(counts.get(step).copied().unwrap_or(0));
        (0..self.ended.len().saturating_sub(1))
            .map(|step| {
                now += at(&self.begun, step);
                now -= at(&self.ended, step);
                now
            })
            .collect()
    }

    /// Load `k` in stretches of so many steps, from midnight to midnight's multiples, as far as any outage runs.
    ///
    /// * `steps` — of a stretch, at least 1.
    #[must_use]
    pub fn stretches(&self, k: usize, steps: usize) -> Vec<Stretch> {
        let dark = self.loads.get(k).map_or(&[][..], Vec::as_slice);
        let stretch = |(at, running): (usize, &[u64])| {
            let all: u64 = running.iter().sum();
            let without: u64 = dark.iter().skip(at * steps).take(running.len()).map(|&n| u64::from(n)).sum();
            Stretch { running: all as f64 / steps as f64, share: (all > 0).then(|| without as f64 / all as f64) }
        };
        self.running().chunks(steps.max(1)).enumerate().map(stretch).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outages_that_begin_at_other_hours_are_held_against_the_same_clock() {
        // By hand: two outages of three hours, from 1:00 and from 2:00. A load is dark at 3:00 in both, at 2:00 in the first.
        let mut dark = Dark::default();
        dark.outage(1, 3);
        dark.add(1, &[0, 0, 1, 1]);
        let mut other = Dark::default();
        other.outage(2, 3);
        other.add(1, &[0, 0, 0, 1]);
        dark.merge(&other);
        assert_eq!(dark.running(), [0, 1, 2, 2, 1]);
        let shares = |k, steps| dark.stretches(k, steps).iter().map(|hour| hour.share).collect::<Vec<_>>();
        assert_eq!(shares(1, 1), [None, Some(0.0), Some(0.5), Some(1.0), Some(0.0)]);
        assert_eq!(shares(0, 1), [None, Some(0.0), Some(0.0), Some(0.0), Some(0.0)]);
        // In pairs: one step of running in the first, three dark of four in the second.
        assert_eq!(shares(1, 2), [Some(0.0), Some(0.75), Some(0.0)]);
        assert_eq!(dark.stretches(1, 2)[0].running, 0.5);
    }
}
