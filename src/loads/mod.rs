//! What is plugged in, as watts for every step of the day.

use crate::scenario::model::{ClockWindow, Load, Pattern};

/// Mean power of one load in each step of a day, and how much it swings about that mean within a step.
#[derive(Debug, Clone, PartialEq)]
pub struct DayProfile {
    /// Mean power by step of the day \[W\].
    pub watts: Vec<f64>,
    /// Variance of power within the step \[W²\]: a motor of `P` watts that runs a share `d` of the time has `P² d (1 - d)`.
    pub variance_w2: Vec<f64>,
}

/// Share of each step of a day that lies within the windows; all of it where there are none.
///
/// * `steps_a_day` — a divisor of 1440.
#[must_use]
pub fn coverage(hours: &[ClockWindow], steps_a_day: usize) -> Vec<f64> {
    if hours.is_empty() {
        return vec![1.0; steps_a_day];
    }
    let step_minutes = 1440 / steps_a_day;
    let mut on = vec![false; 1440];
    for window in hours {
        let from = usize::from(window.from_minute);
        let length = (window.hours().0 * 60.0).round() as usize;
        for minute in from..from + length {
            on[minute % 1440] = true;
        }
    }
    on.chunks(step_minutes).map(|step| step.iter().filter(|&&on| on).count() as f64 / step_minutes as f64).collect()
}

/// The day's profile of a load drawing `watts` while it runs.
///
/// * `steps_a_day` — a divisor of 1440.
#[must_use]
pub fn day_profile(load: &Load, watts: f64, steps_a_day: usize) -> DayProfile {
    let (share, hours): (f64, &[ClockWindow]) = match &load.pattern {
        Pattern::Steady => (1.0, &[]),
        Pattern::Schedule(hours) => (1.0, hours),
        Pattern::Duty { share, hours } => (share.0, hours),
    };
    let covered = coverage(hours, steps_a_day);
    DayProfile {
        watts: covered.iter().map(|c| watts * share * c).collect(),
        // Whether the step is cut by a window or by the motor's own cycle, the load is either on or off in it.
        variance_w2: covered.iter().map(|c| watts * watts * (share * c) * (1.0 - share * c)).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_cover_steps_in_part_and_run_over_midnight() {
        let evening = ClockWindow { from_minute: 22 * 60 + 30, to_minute: 90 };
        let covered = coverage(&[evening], 24);
        assert_eq!((covered[22], covered[23], covered[0], covered[1], covered[2]), (0.5, 1.0, 1.0, 0.5, 0.0));
        assert_eq!(covered.iter().sum::<f64>(), evening.hours().0);
    }

    #[test]
    fn overlapping_windows_count_once() {
        let windows = [ClockWindow { from_minute: 0, to_minute: 120 }, ClockWindow { from_minute: 60, to_minute: 180 }];
        assert_eq!(coverage(&windows, 24).iter().sum::<f64>(), 3.0);
    }
}
