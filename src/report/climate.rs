//! A climate's twelve months as text.

use super::chart::bar;
use crate::engine::clock::MONTHS;
use crate::sky::extraterrestrial;
use crate::weather::climate::{Climate, LEVELS};

/// Mean of a month's distribution of daily clearness, straight lines between the levels.
fn mean_clearness(quantiles: &[f64]) -> f64 {
    LEVELS.windows(2).zip(quantiles.windows(2)).map(|(p, q)| 0.5 * (q[0] + q[1]) * (p[1] - p[0])).sum()
}

fn at_level(quantiles: &[f64], p: f64) -> f64 {
    LEVELS
        .windows(2)
        .zip(quantiles.windows(2))
        .find(|(l, _)| p <= l[1])
        .map_or(quantiles[quantiles.len() - 1], |(l, q)| q[0] + (q[1] - q[0]) * (p - l[0]) / (l[1] - l[0]))
}

/// The twelve months: sun on a level plane and air temperature.
#[must_use]
pub fn text(climate: &Climate) -> String {
    let mut out = format!(
        "{}\n{}\n\n",
        climate.name,
        super::outage::wrap(&climate.source, "  ", super::outage::WIDTH).trim_end()
    );
    out.push_str(&format!(
        "{:<10} {:>9} {:>9} {:>9} {:>11} {:>8} {:>8} {:>8}  sun\n{:<10} {:>9} {:>9} {:>9} {:>11} {:>8} {:>8} {:>8}\n",
        "month",
        "mean sun",
        "dark day",
        "clearness",
        "persistence",
        "mean",
        "daily",
        "record",
        "",
        "kWh/m² d",
        "1 in 10",
        "mean",
        "lag 1",
        "air °C",
        "swing K",
        "low °C"
    ));
    for (index, month) in climate.months.iter().enumerate() {
        let day = f64::from(extraterrestrial::AVERAGE_DAY_OF_YEAR[index]);
        let outside = extraterrestrial::daily_horizontal_wh_m2(
            climate.latitude_deg,
            extraterrestrial::declination_deg(day),
            extraterrestrial::normal_w_m2(day),
        ) / 1000.0;
        let mean = mean_clearness(&month.clearness);
        out.push_str(
            format!(
                "{:<10} {:>9.2} {:>9.2} {:>9.2} {:>11.2} {:>8.1} {:>8.1} {:>8.0}  {}",
                MONTHS[index],
                mean * outside,
                at_level(&month.clearness, 0.1) * outside,
                mean,
                month.persistence,
                month.air.mean_c,
                month.air.swing_k,
                month.air.record_low_c,
                bar(mean * outside, 8.0, 24)
            )
            .trim_end(),
        );
        out.push('\n');
    }
    out.push_str(&format!(
        "\nSystematic uncertainty of the sun: ± {:.0} % (95 %), drawn once per trial.\n",
        100.0 * ((1.96 * climate.sun_uncertainty).exp() - 1.0)
    ));
    out
}
