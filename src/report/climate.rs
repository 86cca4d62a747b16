//! A climate's twelve months as a document.

use super::document::{Cell, Column, Document, Table};
use super::figure::{Axis, Data, Figure, Picture, Ranges};
use super::notes::MeanSun;
use super::told::Words;
use crate::calendar::MONTHS;
use crate::math;
use crate::sky::extraterrestrial;
use crate::sky::year::SunOfDay;
use crate::units::NORMAL_95;
use crate::weather::climate::{Climate, MonthClimate, quantile_at, quantile_mean};
use crate::weather::fit::Fit;

/// Adds how good a fit is, and each month's days of sun from the darkest to the brightest.
pub fn add_quality(out: &mut Document, fit: &Fit) {
    let q = &fit.quality;
    let months = &fit.climate.months;
    let level = |(name, p): (&str, f64)| {
        Data::numbers(name, "", months.iter().map(|month| (quantile_at(&month.clearness, p) * 1000.0).round() / 1000.0))
    };
    let levels = [("p05", 0.05), ("p50", 0.5), ("p95", 0.95), ("p25", 0.25), ("p75", 0.75)];
    out.head("Days from dark to bright: clearness at 5, 25, 50, 75 and 95 of 100 days").figure(Figure {
        name: "clearness",
        title: "Clearness of each month's days, from the darkest to the brightest".into(),
        data: std::iter::once(Data::names("month", MONTHS)).chain(levels.map(level)).collect(),
        picture: Picture::Ranges(Ranges {
            axis: Axis::new("", (0.0, 1.0), 2),
            zero: None,
            band: None,
            unbanded: Vec::new(),
        }),
        legend: String::new(),
        quiet: false,
    });
    out.say(format!(
        "{:.1} years: {} whole days used, {} left out, {} hours bridged. Greatest distance of a month's days from its \
         table: {:.3}.",
        q.years, q.days, q.dropped, q.bridged, q.worst_distance
    ));
    if q.few_years {
        out.caution(
            "Fewer than five years: the spread between years is hardly seen. Lean to the lower end of every range.",
        );
    }
}

/// What further evidence would tell of the month that is known least.
fn would_tell(climate: &Climate) -> String {
    let now = climate.doubt.level_sd();
    let month = (0..12).max_by(|&a, &b| now[a].total_cmp(&now[b])).unwrap_or_default();
    if now[month] < 0.01 {
        return "Nothing of its sun is left to be told.".into();
    }
    let prospects = climate.prospects();
    let percent = |sd: f64| format!("{:.0} %", 100.0 * math::exp_m1(NORMAL_95 * sd));
    let mut kinds = [
        ("twelve figures of a local almanac (monthly_sun_kwh_m2_day)", prospects.figures[month]),
        ("what your own panel gives in one such month (in the file: seen)", prospects.own_month[month]),
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
pub fn document(climate: &Climate) -> Document {
    let sd = climate.doubt.level_sd();
    let row = |(index, month): (usize, &MonthClimate)| {
        let day = usize::from(extraterrestrial::AVERAGE_DAY_OF_YEAR[index]) - 1;
        let sun = SunOfDay::at(day, climate.longitude_deg);
        let outside = sun.horizontal_wh_m2(climate.latitude_deg) / 1000.0;
        let mean = quantile_mean(&month.clearness);
        let mut row = vec![Cell::from(MONTHS[index])];
        row.extend(
            [
                format!("{:.2}", mean * outside),
                format!("{:.0}", 100.0 * math::exp_m1(NORMAL_95 * sd[index])),
                format!("{:.2}", quantile_at(&month.clearness, 0.1) * outside),
                format!("{mean:.2}"),
                format!("{:.2}", month.persistence),
                format!("{:.1}", month.air.mean_c),
                format!("{:.1}", month.air.swing_k),
                format!("{:.0}", month.air.record_low_c),
            ]
            .map(Cell::from),
        );
        row.push(Cell::Bar(mean * outside / 8.0));
        row
    };
    let columns = [
        Column::left("month"),
        Column::right("mean sun").unit("kWh/m² d"),
        Column::right("±").unit("%"),
        Column::right("dark day").unit("1 in 10"),
        Column::right("clearness").unit("mean"),
        Column::right("persistence").unit("lag 1"),
        Column::right("mean").unit("air °C").short("mean air"),
        Column::right("daily").unit("swing K").short("daily swing"),
        Column::right("design").unit("cold °C").short("design cold"),
        Column::left("sun"),
    ];
    let mut out = Document::new(climate.name.clone());
    out.under(climate.source.clone());
    out.head("Month by month").table(Table::new(columns).rows(climate.months.iter().enumerate().map(row)));
    out.head("How well the sun is known").say(would_tell(climate));
    out.say(format!("± is a 95 % interval of the place's own mean. {}", MeanSun::of(climate).words()));
    out
}
