//! Figures that are most likely slips.

use super::First;
use super::site::mirrored;
use crate::scenario::model::Lasts;
use crate::scenario::read;
use crate::scenario::source::Source;

/// What is unusual about the figures, each with the question that it comes from (common practice, no source).
#[must_use]
pub fn unusual(first: &First) -> Vec<(usize, String)> {
    let Ok((scenario, ..)) = read(&Source::new("first", first.text.clone())) else { return Vec::new() };
    let panel = scenario.panels.first().map(|panel| panel.rated.value.0);
    let lasts_h = if let Lasts::Fixed(hours) = scenario.outage.lasts { Some(hours.0) } else { None };
    let figures = [
        (
            1,
            Some(scenario.station.rated_capacity.value.0),
            (100.0, 20_000.0),
            "Wh",
            "stations of this kind hold 100 Wh to 20 kWh",
        ),
        (
            2,
            scenario.station.inverter.as_ref().map(|inverter| inverter.rated.0),
            (50.0, 10_000.0),
            "W",
            "AC outlets give 50 W to 10 kW",
        ),
        (3, panel, (10.0, 700.0), "W", "one panel gives 10 W to 700 W; several are written \"4 x 200 W\""),
        (6, lasts_h, (1.0, 720.0), "h", "most outages last an hour to a month"),
    ];
    let odd = figures.into_iter().filter_map(|(question, figure, (least, most), unit, usual)| {
        let figure = figure.filter(|figure| !(least..=most).contains(figure))?;
        Some((question, format!("{figure} {unit} is unusual: {usual}")))
    });
    odd.chain(mirrored(first).map(|told| (0, told))).collect()
}
