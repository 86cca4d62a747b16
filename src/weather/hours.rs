//! Hourly habits of a place's sky, from a record: the course of the day, and how much single hours differ from it.

use super::climate::{COURSE, Habits};
use super::daily::DailyRecord;
use super::lanes::{Disturbance, Single, hourly_clearness};
use super::sun::{SkyDay, SkyTable, cloudless};
use crate::calendar::month_of_day;
use crate::random::{Purpose, Stream};

/// Hours count towards the spread with at least this much light outside the atmosphere \[W/m²\].
const LIT_HOUR_W_M2: f64 = 100.0;
/// Hours and days in a month below which the published habits are taken.
const FEWEST_DAYS: f64 = 25.0;
/// Rounds of drawing days to see how much of a spread is left between the ceiling and the day's sum.
const ROUNDS: usize = 3;

/// Course, spread and persistence of a month.
#[derive(Debug, Clone, Copy)]
pub(super) struct HourlyHabits {
    pub course: [f64; COURSE],
    pub spread: f64,
    pub persistence: f64,
}

impl Default for HourlyHabits {
    fn default() -> HourlyHabits {
        let plain = Habits::default();
        HourlyHabits { course: plain.course, spread: plain.hourly_spread, persistence: plain.hourly_persistence }
    }
}

/// Factor of a course at a place in the day, 0 at sunrise and 1 at sunset: straight between the middles of its parts.
pub(super) fn course_at(course: &[f64; COURSE], place: f64) -> f64 {
    let at = (place * COURSE as f64 - 0.5).clamp(0.0, (COURSE - 1) as f64);
    let k = (at as usize).min(COURSE - 2);
    course[k] + (at - k as f64) * (course[k + 1] - course[k])
}

/// Mean clearness of each hour over the day's, with a course: its mean weighted by light is 1.
pub(super) fn profile_with(sky: &SkyDay<'_>, course: &[f64; COURSE]) -> [f64; 24] {
    let mut profile: [f64; 24] = std::array::from_fn(|hour| sky.profile[hour] * course_at(course, sky.place[hour]));
    let sum: f64 = profile.iter().zip(sky.hours).map(|(p, light)| p * light).sum();
    if sum > 0.0 {
        profile.iter_mut().for_each(|p| *p *= sky.total_wh_m2 / sum);
    }
    profile
}

/// Brightest clearness of an hour over the course of the day \[–\].
const BRIGHTEST_COURSE: f64 = 1.05;

/// Highest clearness of each hour: the sky's own, and next to the horizon no more than the course of a clear day; lifted
/// by one factor where the place's brightest day of clearness `brightest` would not fit below.
pub(super) fn ceiling_with(sky: &SkyDay<'_>, profile: &[f64; 24], brightest: f64) -> [f64; 24] {
    let mut ceiling: [f64; 24] = std::array::from_fn(|hour| sky.ceiling[hour].min(BRIGHTEST_COURSE * profile[hour]));
    let room: f64 = ceiling.iter().zip(sky.hours).map(|(c, light)| c * light).sum();
    let lift = 1.03 * brightest * sky.total_wh_m2 / room.max(1e-9);
    if 1.0 < lift && 0.0 < room {
        ceiling.iter_mut().for_each(|c| *c *= lift);
    }
    ceiling
}

/// Sums of squares and of products of neighbours of hourly disturbances.
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    squares: f64,
    hours: f64,
    products: f64,
    pairs: f64,
}

impl Moments {
    fn add(
        &mut self,
        hours: impl Fn(usize) -> f64,
        course: (&[f64; 24], &[f64; 24]),
        clearness: f64,
        sky: &SkyDay<'_>,
    ) {
        let (profile, ceiling) = course;
        let mut before = None;
        for (hour, light) in sky.hours.iter().enumerate() {
            let off = hours(hour) - (clearness * profile[hour]).min(ceiling[hour]);
            let lit = LIT_HOUR_W_M2 <= *light && off.is_finite();
            if lit {
                self.squares += off * off;
                self.hours += 1.0;
            }
            if let (true, Some(before)) = (lit, before) {
                self.products += off * before;
                self.pairs += 1.0;
            }
            before = lit.then_some(off);
        }
    }

    fn spread(&self) -> f64 {
        (self.squares / self.hours).sqrt()
    }

    fn lag(&self) -> f64 {
        self.products / self.pairs / (self.squares / self.hours)
    }
}

/// Habits of the twelve months; the published ones where the record has no hours.
pub(super) fn hourly_habits(record: &DailyRecord) -> [HourlyHabits; 12] {
    let mut habits = [HourlyHabits::default(); 12];
    let Some((calendar, hours)) = record.hours() else { return habits };
    let sky = SkyTable::new(calendar);
    let days: Vec<(usize, f64, &[f64; 24])> = record
        .days()
        .iter()
        .zip(hours)
        .filter(|(day, _)| day.clearness.is_finite() && 0.01 < day.clearness && 0.0 < sky.day(day.day).total_wh_m2)
        .map(|(day, hours)| (day.day, day.clearness, hours))
        .collect();
    for (month, habit) in habits.iter_mut().enumerate() {
        let of_month = || days.iter().filter(move |(day, ..)| month_of_day(*day) == month);
        if (of_month().count() as f64) < FEWEST_DAYS {
            continue;
        }
        let (mut seen, mut expected) = ([0.0; COURSE], [0.0; COURSE]);
        for &(day, clearness, ghi) in of_month() {
            let sky = sky.day(day);
            for hour in sky.light.0..sky.light.1 {
                let at = (sky.place[hour] * COURSE as f64 - 0.5).clamp(0.0, (COURSE - 1) as f64);
                let k = (at as usize).min(COURSE - 2);
                let part = at - k as f64;
                for (k, weight) in [(k, 1.0 - part), (k + 1, part)] {
                    seen[k] += weight * ghi[hour];
                    expected[k] += weight * clearness * sky.profile[hour] * sky.hours[hour];
                }
            }
        }
        habit.course =
            std::array::from_fn(|k| if expected[k] > 0.0 { (seen[k] / expected[k]).clamp(0.0, 4.0) } else { 1.0 });
        let mut sorted: Vec<f64> = of_month().map(|(_, clearness, _)| *clearness).collect();
        sorted.sort_by(f64::total_cmp);
        let brightest = sorted[sorted.len() - 1];
        let cloudless = cloudless(sorted[(sorted.len() - 1) * 99 / 100]);
        let mut wanted = Moments::default();
        for &(day, clearness, ghi) in of_month() {
            let sky = sky.day(day);
            let profile = profile_with(&sky, &habit.course);
            let ceiling = ceiling_with(&sky, &profile, brightest);
            wanted.add(|hour| ghi[hour] / sky.hours[hour], (&profile, &ceiling), clearness, &sky);
        }
        if wanted.pairs < 50.0 {
            continue;
        }
        // The day's sum and the ceiling take part of a disturbance away again: draw the same days and see how much.
        for _ in 0..ROUNDS {
            let mut drawn = Moments::default();
            let mut rng = Single(Stream::new(0, month as u64, Purpose::Weather), [0.0]);
            for &(day, clearness, _) in of_month() {
                let sky = sky.day(day);
                let profile = profile_with(&sky, &habit.course);
                let ceiling = ceiling_with(&sky, &profile, brightest);
                let mut hours = [[0.0]; 24];
                let how = Disturbance { spread: habit.spread, persistence: habit.persistence, cloudless };
                let course = (&profile, &ceiling);
                let [reached] = hourly_clearness(course, &sky, &[clearness], (&how, &[1.0]), &mut rng, &mut hours);
                // A number more than a day needs: so were the climates fitted that are kept in files.
                rng.0.normal();
                drawn.add(|hour| hours[hour][0], (&profile, &ceiling), reached, &sky);
            }
            habit.spread = (habit.spread * wanted.spread() / drawn.spread()).clamp(0.1, 3.0);
            habit.persistence = (habit.persistence + wanted.lag() - drawn.lag()).clamp(0.0, 0.95);
        }
    }
    habits
}
