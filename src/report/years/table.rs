//! The answer of `years` as CSV: one line for each strategy.

use crate::report::cells::cell;
use crate::study::years::YearsAnswer;

/// The columns, in order; the years under each law of wear follow, each
/// with whether nothing is foretold beyond them: `true` means at least so many.
pub const COLUMNS: &str = "strategy,rode_probability,rode_low,rode_high,outages,rode_first_years,rode_last_years,\
more_than_first,more_than_first_low,more_than_first_high,years_to_80_percent,years_p10,years_p90,outage_kwh_a_year,\
daily_kwh_a_year,wall_kwh_a_year,full_cycles_a_year,money_a_year,cost_a_kwh,on_the_frontier,years_or_more";

/// The CSV text.
#[must_use]
pub fn csv(answer: &YearsAnswer) -> String {
    let mut out = String::from(COLUMNS);
    for model in &answer.models {
        let name = model.to_lowercase().replace(' ', "_");
        out.push_str(&format!(",years_{name},years_{name}_or_more"));
    }
    out.push('\n');
    let optional = |value: Option<f64>| value.map_or(String::new(), |v| format!("{v:.4}"));
    for s in &answer.strategies {
        let numbers = [
            s.rode.probability,
            s.rode.interval.low,
            s.rode.interval.high,
            s.rode.outages as f64,
            s.rode_first.probability,
            s.rode_last.probability,
            s.more_than_first.0,
            s.more_than_first.1.low,
            s.more_than_first.1.high,
            s.years.mean,
            s.years.p10,
            s.years.p90,
            s.outage_wh_a_year / 1000.0,
            s.daily_wh_a_year / 1000.0,
            s.wall_wh_a_year / 1000.0,
            s.full_cycles_a_year,
        ];
        out.push_str(&cell(&s.name));
        for number in numbers {
            // An empty cell says that there was nothing to count.
            let cell = if number.is_finite() { format!("{number:.5}") } else { String::new() };
            out.push_str(&format!(",{cell}"));
        }
        let (money, cost) = (optional(s.money_a_year), optional(s.cost_a_kwh));
        let more = YearsAnswer::beyond_telling(s.years.mean);
        out.push_str(&format!(",{money},{cost},{},{more}", s.on_the_frontier));
        for years in &s.years_by_model {
            out.push_str(&format!(",{:.3},{}", years.mean, YearsAnswer::beyond_telling(years.mean)));
        }
        out.push('\n');
    }
    out
}
