//! What age leaves of a battery that nobody has tested.

use super::model::Chemistry;

/// What is taken to be left of the label, and how far off that may be, both as shares of 1, in whole per cent.
///
/// A straight line, cautious of what makers promise (lithium iron phosphate 70 % after ten years) and of how long lead-acid batteries
/// last (four to six years to 60 or 70 %). Common practice, no source; half of the loss is the doubt about it.
pub(super) fn left(chemistry: Chemistry, years: f64) -> (f64, f64) {
    let a_year = match chemistry {
        Chemistry::Lfp => 0.03,
        Chemistry::Nmc => 0.05,
        Chemistry::LeadAcid => 0.08,
    };
    let loss = (a_year * years.max(0.0)).min(MOST);
    let per_cent = |share: f64| (100.0 * share).round() / 100.0;
    (per_cent(1.0 - loss), per_cent(loss / 2.0))
}

/// No battery that is still in use has lost more.
const MOST: f64 = 0.7;

/// "85 % ± 8 %", as a file has it.
pub(super) fn left_written(chemistry: Chemistry, years: f64) -> String {
    let (left, doubt) = left(chemistry, years);
    format!("{:.0} % ± {:.0} %", 100.0 * left, 100.0 * doubt)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_older_battery_holds_less_and_nothing_is_left_out_of_the_range() {
        for chemistry in [Chemistry::Lfp, Chemistry::Nmc, Chemistry::LeadAcid] {
            let mut before = (1.0 + 1e-9, -1e-9);
            for years in 0..40 {
                let (left, doubt) = left(chemistry, f64::from(years));
                assert!(left <= before.0 && doubt >= before.1 && left - doubt > -0.06 && left + doubt <= 1.0, "{years}");
                before = (left, doubt);
            }
        }
        // A promise of makers (common practice, no source): 70 % after ten years.
        assert_eq!(left(Chemistry::Lfp, 10.0).0, 0.7);
        assert_eq!(left_written(Chemistry::Lfp, 5.0), "85 % ± 8 %");
    }
}
