//! A record and what is known of the place without it, put together.

use super::bend::{Bend, FIGURES, drawn, settled};
use super::climate::{Climate, MonthClimate};
use super::doubt::{Doubt, Moves};
use super::fit::relative_sd;
use super::seasons::quantile_mean;

/// Years of record that count as much in what two figures leave over of a distribution's shape as the prior does.
const SHAPE_YEARS: f64 = 4.0;

/// What is left unknown of months that were found in a record, and the months as they are then believed.
///
/// * `prior` — the place without the record; `found` — the record's own months, which become the believed ones; `years` — of
///   the record, by month; `instrument` — standard deviation of the logarithm of the error that all its readings share.
pub(super) fn with_record(prior: &Climate, found: &mut [MonthClimate; 12], years: &[f64; 12], instrument: f64) -> Doubt {
    let bends = prior.months.each_ref().map(|month| Bend::new(&month.clearness));
    let told: Moves = std::array::from_fn(|m| {
        let [log, spread, tail] = bends[m].told_by(&prior.months[m].clearness, &found[m].clearness);
        [log, spread, tail, found[m].persistence.atanh() - prior.months[m].persistence.atanh()]
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
        month.persistence = (prior.months[m].persistence.atanh() + moved[m][FIGURES - 1]).tanh().clamp(0.0, 0.85);
    }
    doubt
}
