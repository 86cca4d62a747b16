//! Values as people write them on labels and in letters: taken where they can be read in one way only, asked back with the text
//! to write where not.

mod beside;
mod condition;
mod electric;
mod globe;
mod lengths;
mod numbers;
mod quantities;
mod shades;
mod times;

pub(super) use condition::{Condition, condition};
pub(super) use electric::powers;
pub use globe::position;
pub(super) use globe::{Axis, degrees};
pub(crate) use numbers::{COUNT_WORDS, ORDINAL_WORDS};
pub(super) use numbers::{decimal_points, number_word, pairs};
pub(super) use quantities::quantity;
pub(super) use shades::{LOSES, Shaded, shaded};
pub use times::{Moment, moment};
pub(super) use times::{hours_of_day, window};

use super::forms::{Fault, Item};
use super::problem::Problem;
use crate::units::{Hours, Litres, Quantity};

/// What a text is that is not written as a file has it.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Reading<T> {
    /// One thing alone; with the sentence that says so, from "is read as" on.
    As(T, String),
    /// Not to be taken: what is wrong with it, and what to write.
    Ask(String, String),
}

impl<T> Reading<T> {
    /// Asks back.
    fn ask(what: &str, help: impl Into<String>) -> Reading<T> {
        Reading::Ask(what.into(), help.into())
    }

    /// What is taken, which is told beside the item, or the fault that asks back.
    pub fn told(self, item: &Item) -> Result<T, Fault> {
        match self {
            Reading::As(value, says) => {
                item.findings.push(Problem::note(item.key.clone(), says).found(item.found()));
                Ok(value)
            }
            Reading::Ask(what, help) => Err(Fault::new(what).help(help)),
        }
    }
}

/// A length of time as people write it, "two days", "1h30", "90 min", in hours.
///
/// # Errors
/// What is wrong with it, and what to write.
pub fn length(text: &str) -> Result<Hours, String> {
    of_a_kind(text)
}

/// A volume of fuel as people write it, "4.5 L", in litres; a bare number is litres.
///
/// # Errors
/// What is wrong with it, and what to write.
pub fn litres(text: &str) -> Result<Litres, String> {
    let bare = text.trim().parse::<f64>().is_ok();
    of_a_kind(&format!("{text}{}", if bare { " L" } else { "" }))
}

fn of_a_kind<Q: Quantity>(text: &str) -> Result<Q, String> {
    match (Q::parse(text), quantity(Q::NAME, "", text)) {
        (Ok(told), _) => Ok(told),
        (Err(_), Some(Reading::As(plain, _))) => Q::parse(&plain).map_err(|error| error.to_string()),
        (Err(_), Some(Reading::Ask(what, help))) => Err(format!("{what}: {help}")),
        (Err(error), None) => Err(error.to_string()),
    }
}

#[cfg(test)]
mod tests;
