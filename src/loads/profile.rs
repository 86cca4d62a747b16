//! Loads that are known beforehand, as watts for every step of the day.

use crate::scenario::model::{ClockWindow, HourlyProfile, Load, Pattern, Weekdays};

/// Mean power of one load in each step of a day, and how much it swings about that mean within a step.
#[derive(Debug, Clone, PartialEq)]
pub struct DayProfile {
    /// Mean power by step of the day \[W\].
    pub watts: Vec<f64>,
    /// Variance of power within the step \[W²\]: a motor of `P` watts that runs a share `d` of the time has `P² d (1 - d)`.
    pub variance_w2: Vec<f64>,
    /// Share of each step in which it wants power, on and off by its own cycle or not.
    pub wants: Vec<f64>,
}

impl DayProfile {
    /// Always the same.
    #[must_use]
    pub fn flat(watts: f64, variance_w2: f64, steps_a_day: usize) -> DayProfile {
        let wants = if watts > 0.0 { 1.0 } else { 0.0 };
        DayProfile {
            watts: vec![watts; steps_a_day],
            variance_w2: vec![variance_w2; steps_a_day],
            wants: vec![wants; steps_a_day],
        }
    }

    /// * `duty` — share of the time that it draws `watts`; `covered` — share of each step in which it wants to; `fed` — share
    ///   of each step in which the station is what feeds it, about which alone the variance is.
    fn add(&mut self, watts: f64, duty: f64, covered: &[f64], fed: &[f64]) {
        for (step, (&covered, &fed)) in covered.iter().zip(fed).enumerate().filter(|(_, (_, fed))| **fed > 0.0) {
            // Whether the step is cut by a window or by the motor's own cycle, the load is either on or off in it.
            let on = duty * covered / fed;
            self.watts[step] += watts * (duty * covered);
            self.variance_w2[step] += watts * watts * on * (1.0 - on);
            self.wants[step] += covered;
        }
    }
}

/// A load's days.
#[derive(Debug, Clone, PartialEq)]
pub struct Week {
    /// The only day there is, or the mean of the seven.
    pub mean: DayProfile,
    /// Monday to Sunday, where they differ.
    pub days: Option<Box<[DayProfile; 7]>>,
}

/// Share of each step of a day that lies within the windows; all of it where there are none.
///
/// * `steps_a_day` — a divisor of 1440.
#[must_use]
pub fn coverage(hours: &[ClockWindow], steps_a_day: usize) -> Vec<f64> {
    let (today, tomorrow) = covered_today_and_tomorrow(hours, &[], steps_a_day);
    // What one window begun yesterday and one of today both cover counts once.
    today.iter().zip(&tomorrow).map(|(a, b)| (a + b).min(1.0)).collect()
}

/// The same of what lies within other windows too, where there are such, told apart by whether a window that runs over midnight
/// began on this day or on the one before.
fn covered_today_and_tomorrow(
    hours: &[ClockWindow],
    within: &[ClockWindow],
    steps_a_day: usize,
) -> (Vec<f64>, Vec<f64>) {
    if hours.is_empty() {
        let all = if within.is_empty() { vec![1.0; steps_a_day] } else { coverage(within, steps_a_day) };
        return (all, vec![0.0; steps_a_day]);
    }
    let step_minutes = 1440 / steps_a_day;
    let mut on = vec![false; 2 * 1440];
    for window in hours {
        let from = usize::from(window.from_minute);
        let length = (window.hours().0 * 60.0).round() as usize;
        on[from..from + length].fill(true);
    }
    // A minute that belongs to a window of this day and to one of the day before counts once.
    for minute in 0..1440 {
        on[1440 + minute] &= !on[minute];
    }
    if !within.is_empty() {
        let within = coverage(within, 1440);
        for (minute, on) in on.iter_mut().enumerate() {
            *on &= within[minute % 1440] > 0.0;
        }
    }
    let share = |step: &[bool]| step.iter().filter(|&&on| on).count() as f64 / step_minutes as f64;
    let mut shares: Vec<f64> = on.chunks(step_minutes).map(share).collect();
    let tomorrow = shares.split_off(steps_a_day);
    (shares, tomorrow)
}

/// The days of a load that draws `watts` while it runs. Loads that ask by their own state have empty ones.
///
/// * `steps_a_day` — a divisor of 1440; `fed` — the hours in which the station feeds it; empty: all.
#[must_use]
pub fn week(load: &Load, watts: f64, steps_a_day: usize, fed: &[ClockWindow]) -> Week {
    let (share, hours): (f64, &[ClockWindow]) = match &load.pattern {
        Pattern::Steady => (1.0, &[]),
        Pattern::Schedule(hours) => (1.0, hours),
        Pattern::Duty { share, hours } => (share.0, hours),
        Pattern::Profile(profile) => return hourly(profile, steps_a_day, &coverage(fed, steps_a_day)),
        Pattern::Charge(_) | Pattern::Cooler(_) => (0.0, &[]),
    };
    let (today, tomorrow) = covered_today_and_tomorrow(hours, fed, steps_a_day);
    let fed = coverage(fed, steps_a_day);
    let empty = DayProfile::flat(0.0, 0.0, steps_a_day);
    if load.days == Weekdays::ALL {
        let mut mean = empty;
        let covered: Vec<f64> = today.iter().zip(&tomorrow).map(|(a, b)| a + b).collect();
        mean.add(watts, share, &covered, &fed);
        return Week { mean, days: None };
    }
    // A window over midnight belongs to the day on which it begins.
    let days: [DayProfile; 7] = std::array::from_fn(|day| {
        let covered: Vec<f64> = (0..steps_a_day)
            .map(|step| {
                let begun = if load.days.0[day] { today[step] } else { 0.0 };
                begun + if load.days.0[(day + 6) % 7] { tomorrow[step] } else { 0.0 }
            })
            .collect();
        let mut profile = empty.clone();
        profile.add(watts, share, &covered, &fed);
        profile
    });
    Week { mean: mean_of(&days), days: Some(Box::new(days)) }
}

fn mean_of(days: &[DayProfile; 7]) -> DayProfile {
    let steps = days[0].watts.len();
    let mean = |pick: fn(&DayProfile) -> &Vec<f64>| {
        (0..steps).map(|step| days.iter().map(|day| pick(day)[step]).sum::<f64>() / 7.0).collect()
    };
    DayProfile {
        watts: mean(|day| &day.watts),
        variance_w2: mean(|day| &day.variance_w2),
        wants: mean(|day| &day.wants),
    }
}

fn hourly(profile: &HourlyProfile, steps_a_day: usize, fed: &[f64]) -> Week {
    let count = f64::from(profile.count);
    let day = |hours: &[f64]| {
        let of_step = |step: usize| hours.get(step * 24 / steps_a_day).map_or(0.0, |w| w * count);
        DayProfile {
            watts: (0..steps_a_day).map(|step| of_step(step) * fed[step]).collect(),
            variance_w2: vec![0.0; steps_a_day],
            wants: (0..steps_a_day).map(|step| if of_step(step) > 0.0 { fed[step] } else { 0.0 }).collect(),
        }
    };
    if profile.watts.len() < 168 {
        return Week { mean: day(&profile.watts), days: None };
    }
    let days: [DayProfile; 7] = std::array::from_fn(|weekday| day(&profile.watts[24 * weekday..24 * (weekday + 1)]));
    Week { mean: mean_of(&days), days: Some(Box::new(days)) }
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
        // One that began yesterday and one of today.
        let night =
            [ClockWindow { from_minute: 22 * 60, to_minute: 120 }, ClockWindow { from_minute: 60, to_minute: 180 }];
        assert_eq!(coverage(&night, 24).iter().sum::<f64>(), 5.0);
        let windows =
            [ClockWindow { from_minute: 1380, to_minute: 120 }, ClockWindow { from_minute: 60, to_minute: 180 }];
        assert_eq!(coverage(&windows, 24).iter().sum::<f64>(), 4.0);
    }

    fn load(pattern: Pattern, days: Weekdays) -> Load {
        use crate::scenario::model::{OutletKind, Priority};
        use crate::units::{Fraction, Uncertain, Watts};
        Load {
            name: "heater".into(),
            outlet: OutletKind::Ac,
            priority: Priority::Vital,
            watts: Uncertain::exact(Watts(100.0)),
            count: 1,
            tolerates: None,
            starting: None,
            pattern,
            days,
            varies: Fraction(0.0),
            off_below: None,
            could_use: None,
            medical: false,
        }
    }

    #[test]
    fn a_window_over_midnight_belongs_to_the_day_on_which_it_begins() {
        let night = ClockWindow { from_minute: 22 * 60, to_minute: 6 * 60 };
        let fridays = Weekdays([false, false, false, false, true, false, false]);
        let week = week(&load(Pattern::Schedule(vec![night]), fridays), 100.0, 24, &[]);
        let days = week.days.expect("days that differ");
        let hours = |day: usize| (0..24).filter(|&h| days[day].watts[h] == 100.0).collect::<Vec<_>>();
        assert_eq!((hours(4), hours(5)), (vec![22, 23], vec![0, 1, 2, 3, 4, 5]));
        assert!([0, 1, 2, 3, 6].iter().all(|&day| hours(day).is_empty()));
        let mean_wh: f64 = week.mean.watts.iter().sum();
        assert!((mean_wh - 800.0 / 7.0).abs() < 1e-9);
    }

    #[test]
    fn a_profile_of_a_week_begins_on_monday() {
        let profile = HourlyProfile {
            file: "heater.csv".into(),
            column: None,
            watts: (0..168).map(f64::from).collect(),
            count: 2,
        };
        let week = week(&load(Pattern::Profile(profile), Weekdays::ALL), 0.0, 48, &[]);
        let days = week.days.expect("days that differ");
        assert_eq!((days[0].watts[0], days[0].watts[3], days[6].watts[47]), (0.0, 2.0, 334.0));
    }

    #[test]
    fn a_step_that_is_fed_in_part_counts_by_the_minutes_that_both_windows_share() {
        let window = |from: (u16, u16), to: (u16, u16)| ClockWindow {
            from_minute: 60 * from.0 + from.1,
            to_minute: 60 * to.0 + to.1,
        };
        let cut = [window((10, 20), (13, 45))];
        let steady = week(&load(Pattern::Steady, Weekdays::ALL), 60.0, 24, &cut).mean;
        assert_eq!(steady.watts[9..15], [0.0, 40.0, 60.0, 60.0, 45.0, 0.0]);
        assert_eq!(steady.wants[9..15], [0.0, 40.0 / 60.0, 1.0, 1.0, 0.75, 0.0]);
        // While it is fed it does not swing.
        assert!(steady.variance_w2.iter().all(|variance_w2| *variance_w2 == 0.0));
        // From half past ten: 30 of the 40 minutes, and of 13:00 to 13:45 all that is left.
        let lamp = Pattern::Schedule(vec![window((10, 30), (13, 30))]);
        let lamp = week(&load(lamp, Weekdays::ALL), 60.0, 24, &cut).mean;
        assert_eq!(lamp.watts[9..15], [0.0, 30.0, 60.0, 60.0, 30.0, 0.0]);
        assert!((lamp.variance_w2[10] - 60.0 * 60.0 * 0.75 * 0.25).abs() < 1e-9);
        // Nothing is lost or counted twice: half of the day's minutes, whatever the step.
        for steps in [24, 48, 288] {
            let motor = Pattern::Duty { share: crate::units::Fraction(0.4), hours: vec![window((22, 10), (11, 5))] };
            let day = week(&load(motor, Weekdays::ALL), 100.0, steps, &cut).mean;
            let wh = day.watts.iter().sum::<f64>() * 24.0 / steps as f64;
            assert!((wh - 0.4 * 100.0 * 0.75).abs() < 1e-9, "{wh}");
        }
    }

    /// A motor of 100 W that runs 40 % of the time draws 40 W with a variance of 100² · 0.4 · 0.6 (Bernoulli) and always wants to; in half
    /// of a step 20 W, 100² · 0.2 · 0.8, and half of the time. On Mondays alone a seventh of it on the mean.
    #[test]
    fn a_motor_swings_about_its_mean_as_a_toss_does() {
        let motor = || Pattern::Duty {
            share: crate::units::Fraction(0.4),
            hours: vec![ClockWindow { from_minute: 600, to_minute: 690 }],
        };
        let mondays = Weekdays([true, false, false, false, false, false, false]);
        let of = |days: Weekdays| week(&load(motor(), days), 100.0, 24, &[]);
        let near = |found: f64, expected: f64| assert!((found - expected).abs() < 1e-9, "{found} for {expected}");
        let (every, monday) = (of(Weekdays::ALL), of(mondays));
        assert!(every.days.is_none());
        for (step, watts, variance_w2, wants) in [(9, 0.0, 0.0, 0.0), (10, 40.0, 2400.0, 1.0), (11, 20.0, 1600.0, 0.5)]
        {
            for (profile, part) in [(&every.mean, 1.0), (&monday.mean, 1.0 / 7.0)] {
                near(profile.watts[step], part * watts);
                near(profile.variance_w2[step], part * variance_w2);
                near(profile.wants[step], part * wants);
            }
            let days = monday.days.as_ref().expect("days that differ");
            assert_eq!(
                (days[0].watts[step], days[1].watts[step], days[6].watts[step]),
                (every.mean.watts[step], 0.0, 0.0)
            );
        }
        let flat = DayProfile::flat(30.0, 7.0, 4);
        assert_eq!((flat.watts, flat.variance_w2, flat.wants), (vec![30.0; 4], vec![7.0; 4], vec![1.0; 4]));
        assert_eq!(DayProfile::flat(0.0, 0.0, 2).wants, [0.0, 0.0]);
    }

    /// A file of 24 hours is every day's, in steps of half an hour and of a whole one; what it asks for counts where the station feeds it, and it
    /// wants nothing where it is at 0 W.
    #[test]
    fn a_profile_of_a_day_counts_where_it_is_fed() {
        let profile = |count: u32| HourlyProfile {
            file: "heater.csv".into(),
            column: None,
            watts: (0..24).map(|hour| if hour < 20 { 10.0 * f64::from(hour) } else { 0.0 }).collect(),
            count,
        };
        let fed = [ClockWindow { from_minute: 6 * 60 + 45, to_minute: 22 * 60 }];
        let of = |steps: usize| week(&load(Pattern::Profile(profile(3)), Weekdays::ALL), 0.0, steps, &fed);
        let half_hours = of(48);
        assert!(half_hours.days.is_none());
        assert_eq!(half_hours.mean.watts[12..16], [0.0, 90.0, 210.0, 210.0]);
        assert_eq!((half_hours.mean.wants[13], half_hours.mean.wants[39], half_hours.mean.wants[40]), (0.5, 1.0, 0.0));
        assert!(half_hours.mean.variance_w2.iter().all(|variance_w2| *variance_w2 == 0.0));
        let hours = of(24);
        assert_eq!(hours.mean.watts[6..9], [45.0, 210.0, 240.0]);
        // A window that begins yesterday, on every day but Sunday.
        let days = Weekdays([true, true, true, true, true, true, false]);
        let night = Pattern::Schedule(vec![ClockWindow { from_minute: 23 * 60, to_minute: 60 }]);
        let night = week(&load(night, days), 50.0, 24, &[]).days.expect("days that differ");
        assert_eq!(
            [0, 5, 6].map(|day: usize| (night[day].watts[0], night[day].watts[23])),
            [(0.0, 50.0), (50.0, 50.0), (50.0, 0.0)]
        );
    }
}
