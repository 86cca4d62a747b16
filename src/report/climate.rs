//! A climate's twelve months as text.

use super::chart::bar;
use crate::engine::clock::MONTHS;
use crate::sky::extraterrestrial;
use crate::sky::year::SunOfDay;
use crate::units::NORMAL_95;
use crate::weather::climate::{Climate, quantile_at, quantile_mean};
use crate::weather::fit::Fit;

/// How good a fit is, and each month's days of sun from the darkest to the brightest.
#[must_use]
pub fn quality(fit: &Fit) -> String {
    let q = &fit.quality;
    let mut out = String::from("\nDays from dark to bright: clearness at 5, 25, 50, 75 and 95 of 100 days\n");
    for (index, month) in fit.climate.months.iter().enumerate() {
        let mut line = vec![b' '; 51];
        let at = |p: f64| (quantile_at(&month.clearness, p) * 50.0).round().clamp(0.0, 50.0) as usize;
        for cell in &mut line[at(0.05)..=at(0.95)] {
            *cell = b'-';
        }
        for cell in &mut line[at(0.25)..=at(0.75)] {
            *cell = b'=';
        }
        line[at(0.5)] = b'o';
        out.push_str(&format!("{:<10} |{}|\n", MONTHS[index], String::from_utf8_lossy(&line)));
    }
    out.push_str(&format!("{:<10}  0{:>25}{:>25}\n\n", "", "0.5", "1"));
    out.push_str(&format!(
        "{:.1} years: {} whole days used, {} left out, {} hours bridged. Greatest distance of a month's days from its \
         table: {:.3}.\n",
        q.years, q.days, q.dropped, q.bridged, q.worst_distance
    ));
    if q.few_years {
        out.push_str(
            "Fewer than five years: the spread between years is hardly seen. Lean to the lower end of every range.\n",
        );
    }
    out
}

/// What further evidence would tell of the month that is known least.
fn would_tell(climate: &Climate) -> String {
    let now = climate.doubt.level_sd();
    let month = (0..12).max_by(|&a, &b| now[a].total_cmp(&now[b])).unwrap_or_default();
    if now[month] < 0.01 {
        return "Nothing of its sun is left to be told.".into();
    }
    let prospects = climate.prospects();
    let percent = |sd: f64| format!("{:.0} %", 100.0 * (NORMAL_95 * sd).exp_m1());
    let mut kinds = [
        ("twelve figures of a local almanac (monthly_sun_kwh_m2_day)", prospects.figures[month]),
        ("what your own panel gives in one such month ([[seen]])", prospects.own_month[month]),
        ("a year's record of the sun, day by day (tideover climate fit)", prospects.year_of_days[month]),
    ];
    kinds.sort_by(|a, b| a.1.total_cmp(&b.1));
    let told: Vec<String> = kinds.iter().map(|(what, sd)| format!("{what} to ± {}", percent(*sd))).collect();
    format!(
        "{}'s sun is known least, to ± {}. Expected to narrow it, the most first: {}. Days tell how they lie about their mean \
         as well, which sums do not.",
        MONTHS[month],
        percent(now[month]),
        told.join("; ")
    )
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
        "{:<10} {:>9} {:>5} {:>9} {:>9} {:>11} {:>8} {:>8} {:>8}  sun\n{:<10} {:>9} {:>5} {:>9} {:>9} {:>11} {:>8} {:>8} {:>8}\n",
        "month",
        "mean sun",
        "±",
        "dark day",
        "clearness",
        "persistence",
        "mean",
        "daily",
        "record",
        "",
        "kWh/m² d",
        "%",
        "1 in 10",
        "mean",
        "lag 1",
        "air °C",
        "swing K",
        "low °C"
    ));
    let sd = climate.doubt.level_sd();
    for (index, month) in climate.months.iter().enumerate() {
        let day = usize::from(extraterrestrial::AVERAGE_DAY_OF_YEAR[index]) - 1;
        let sun = SunOfDay::at(day, climate.longitude_deg);
        let outside = sun.horizontal_wh_m2(climate.latitude_deg) / 1000.0;
        let mean = quantile_mean(&month.clearness);
        out.push_str(
            format!(
                "{:<10} {:>9.2} {:>5.0} {:>9.2} {:>9.2} {:>11.2} {:>8.1} {:>8.1} {:>8.0}  {}",
                MONTHS[index],
                mean * outside,
                100.0 * (NORMAL_95 * sd[index]).exp_m1(),
                quantile_at(&month.clearness, 0.1) * outside,
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
        "\n{}\n{}\n",
        super::outage::wrap(&would_tell(climate), "", super::outage::WIDTH).trim_end(),
        super::outage::wrap(
            &format!("± is a 95 % interval of the place's own mean. {}", super::notes::rests_on(climate)),
            "",
            super::outage::WIDTH
        )
        .trim_end()
    ));
    out
}
