//! A quantity with its uncertainty.

use super::parse::{self, ParseError, parse_with_units, split_plus_minus};
use super::{Fraction, Quantity, digits};
use std::fmt;

/// A value and how far from it the truth may be: `"505 Wh ± 3 %"`, `"85 % +/- 2 %"`, or an exact value.
///
/// The figure after `±` is an expanded uncertainty with a coverage of 95 % (JCGM 100:2008, 6.2, coverage factor 1.96 of
/// the normal distribution): nineteen times out of twenty the truth lies within it. A `%` after a quantity that is not
/// itself a share is relative to the value; after a share (`"85 % ± 2 %"`) it means percentage points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uncertain<Q> {
    /// The best estimate.
    pub value: Q,
    /// Half-width of the 95 % interval in the quantity's base unit, 0 when exact.
    pub plus_minus: f64,
}

/// Half-width of a central 95 % interval of the normal distribution in standard deviations.
pub const NORMAL_95: f64 = 1.959_963_984_540_054;

impl<Q: Quantity> Uncertain<Q> {
    /// A value without uncertainty.
    pub fn exact(value: Q) -> Self {
        Uncertain { value, plus_minus: 0.0 }
    }

    /// A value with the half-width of its 95 % interval, both in the base unit.
    pub fn new(value: Q, plus_minus: f64) -> Self {
        Uncertain { value, plus_minus }
    }

    /// Standard uncertainty (one standard deviation) in the base unit.
    pub fn standard(&self) -> f64 {
        self.plus_minus / NORMAL_95
    }

    /// Reads a quantity with an optional uncertainty.
    ///
    /// # Errors
    /// As [`Quantity::parse`], for either part.
    pub fn parse(text: &str) -> Result<Self, ParseError> {
        let (value, spread) = split_plus_minus(text);
        let value = Q::parse(value)?;
        let Some(spread) = spread else { return Ok(Uncertain::exact(value)) };
        let share = Q::NAME != Fraction::NAME && spread.trim_end().ends_with('%');
        let plus_minus = if share {
            Fraction::parse(spread)?.0 * value.base().abs()
        } else {
            // A width has no offset: ± 2 °F is 1.11 K.
            let width = parse_with_units(spread, Q::NAME, Q::UNITS)?;
            let zero = parse_with_units(&spread.replace(|c: char| c.is_ascii_digit(), "0"), Q::NAME, Q::UNITS)?;
            width - zero
        };
        parse::within(plus_minus, "uncertainty", 0.0, Q::GREATEST, Q::UNITS[0].symbol)?;
        Ok(Uncertain { value, plus_minus })
    }
}

impl<Q: Quantity> fmt::Display for Uncertain<Q> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.plus_minus == 0.0 {
            return self.value.fmt(f);
        }
        let unit = Q::UNITS[0];
        match f.precision() {
            Some(digits) => write!(
                f,
                "{:.*} ± {:.*} {}",
                digits,
                self.value.base() / unit.factor,
                digits,
                self.plus_minus / unit.factor,
                unit.symbol
            ),
            None => write!(
                f,
                "{} {} ± {} {}",
                digits(self.value.base() / unit.factor, unit.symbol),
                unit.symbol,
                digits(self.plus_minus / unit.factor, unit.symbol),
                unit.symbol
            ),
        }
    }
}
