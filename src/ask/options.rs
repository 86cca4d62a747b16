//! Options as people write them.

use super::Trouble;
use crate::units::{Fraction, Quantity};

/// A number without what rounding adds to it: 0.0001, where 0.0000010 times 100 gives 0.00010000000000000002.
fn tidy(number: f64) -> f64 {
    format!("{number:.9e}").parse().unwrap_or(number)
}

/// A share between bounds, like "95 %".
///
/// # Errors
/// What is wrong with it, under the option's name.
pub fn share(option: &'static str, text: &str, least: f64, greatest: f64) -> Result<f64, Trouble> {
    let refused = |what: String| Err(Trouble::Option { option, what });
    match Fraction::parse(text) {
        Ok(share) if (least..=greatest).contains(&share.0) => Ok(share.0),
        Ok(share) => refused(format!(
            " is {} %; allowed: {} to {} %",
            tidy(share.0 * 100.0),
            tidy(least * 100.0),
            tidy(greatest * 100.0)
        )),
        Err(error) => {
            // A bare number means a share or percents; which, the bounds often tell.
            let percents = text.trim().parse::<f64>().ok().filter(|n| (least..=greatest).contains(&(n / 100.0)));
            refused(match percents.filter(|n| *n >= 1.0 && !(least..=greatest).contains(n)) {
                Some(n) => format!(": `{}` needs a unit: write it as \"{n} %\"", text.trim()),
                None => format!(": {error}"),
            })
        }
    }
}
