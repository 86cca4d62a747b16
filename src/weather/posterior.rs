//! A record and what is known of the place without it, put together.

use super::bend::{Bend, FIGURES, drawn, settled};
use super::climate::{Climate, Habits, MonthClimate, quantile_mean};
use super::doubt::{Doubt, Moves, one_month_sd};
use super::fit::{INSTRUMENT_UNCERTAINTY, relative_sd};
use super::world::almanac::after_figures;
use crate::calendar::days_of_month;
use crate::math;

/// Years of record that count as much as the prior does in what two figures leave over of a distribution's shape, and in the
/// habits of the sky.
const SHAPE_YEARS: f64 = 4.0;

/// Habits of the sky between those of a place without a record and a record's own.
fn between(prior: &Habits, own: &Habits, share: f64) -> Habits {
    let mix = |a: f64, b: f64| a + share * (b - a);
    Habits {
        course: std::array::from_fn(|k| mix(prior.course[k], own.course[k])),
        hourly_spread: mix(prior.hourly_spread, own.hourly_spread),
        hourly_persistence: mix(prior.hourly_persistence, own.hourly_persistence),
        memory: mix(prior.memory, own.memory),
        settled: mix(prior.settled, own.settled),
        slow_share: mix(prior.slow_share, own.slow_share),
    }
}

/// Moves the months of a climate by figures that evidence moved.
pub(super) fn move_by(climate: &mut Climate, moves: &Moves) {
    for (month, figures) in climate.months.iter_mut().zip(moves) {
        month.clearness = Bend::new(&month.clearness).table(&drawn(*figures, 0.0, 0.0), &month.clearness);
        month.persistence = math::tanh(math::atanh(month.persistence) + figures[FIGURES - 1]).clamp(0.0, 0.85);
    }
}

impl Climate {
    /// This climate with sun that was seen over some days as evidence.
    ///
    /// * `first_day` — of the year, 0 for 1 January; `days` — how many.
    /// * `apart` — logarithm of the sun found over the best estimate's; `sd` — standard deviation of its error, chance of those
    ///   days counted, above 0.
    #[must_use]
    pub fn with_seen(&self, first_day: u32, days: u32, apart: f64, sd: f64) -> Climate {
        let mut climate = self.clone();
        let stretch = (0..days as usize).map(|k| (first_day as usize + k) % 365);
        let moves = climate.doubt.learn_stretch(stretch, apart, sd);
        move_by(&mut climate, &moves);
        climate.seen += 1;
        climate
    }
}

/// Standard deviation of the logarithm of each month's mean sun \[–], as it would be after further evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prospects {
    /// Twelve monthly figures of an almanac.
    pub figures: [f64; 12],
    /// What a panel gave in that month of one year, read to 8 %.
    pub own_month: [f64; 12],
    /// A year's record of the sun day by day.
    pub year_of_days: [f64; 12],
}

/// Standard deviation of the logarithm of what a panel's own counter tells of the sun: 8 % at 95 %, and its power to 5 %.
const OWN_READING: f64 = 0.048;

impl Climate {
    /// What further evidence would leave unknown of the sun, worked out from the posterior.
    #[must_use]
    pub fn prospects(&self) -> Prospects {
        let relative = self.months.each_ref().map(|month| relative_sd(&month.clearness));
        let own_month = std::array::from_fn(|month| {
            let mut doubt = self.doubt.clone();
            let days = days_of_month(month);
            doubt.learn_stretch(days, 0.0, math::hypot(OWN_READING, one_month_sd(relative[month])));
            doubt.level_sd()[month]
        });
        let mut year = self.doubt.clone();
        year.learn_record(&Default::default(), &[1.0; 12], &relative, INSTRUMENT_UNCERTAINTY);
        Prospects { figures: after_figures(self.doubt.clone()).level_sd(), own_month, year_of_days: year.level_sd() }
    }
}

/// What is left unknown of months that were found in a record, and the months as they are then believed.
///
/// * `prior` — the place without the record; `found` — the record's own months, which become the believed ones; `years` — of
///   the record, by month; `instrument` — standard deviation of the logarithm of the error that all its readings share.
pub(super) fn with_record(
    prior: &Climate,
    found: &mut [MonthClimate; 12],
    years: &[f64; 12],
    instrument: f64,
) -> Doubt {
    let bends = prior.months.each_ref().map(|month| Bend::new(&month.clearness));
    let told: Moves = std::array::from_fn(|m| {
        let [log, spread, tail] = bends[m].told_by(&prior.months[m].clearness, &found[m].clearness);
        [log, spread, tail, math::atanh(found[m].persistence) - math::atanh(prior.months[m].persistence)]
    });
    let relative = std::array::from_fn(|m| relative_sd(&found[m].clearness));
    let mut doubt = prior.doubt.clone();
    let moved = doubt.learn_record(&told, years, &relative, instrument);
    for (m, month) in found.iter_mut().enumerate() {
        let own = &prior.months[m].clearness;
        let believed = bends[m].table(&drawn(moved[m], 0.0, 0.0), own);
        let by_figures = bends[m].table(&drawn(told[m], 0.0, 0.0), own);
        let share = years[m] / (years[m] + SHAPE_YEARS);
        let mean = quantile_mean(&believed);
        let scale = mean / quantile_mean(&by_figures).max(1e-6);
        let levels = std::array::from_fn(|k| believed[k] + share * scale * (month.clearness[k] - by_figures[k]));
        month.clearness = settled(levels, mean);
        month.persistence =
            math::tanh(math::atanh(prior.months[m].persistence) + moved[m][FIGURES - 1]).clamp(0.0, 0.85);
        month.habits = between(&prior.months[m].habits, &month.habits, share);
    }
    doubt
}

#[cfg(test)]
mod tests;
