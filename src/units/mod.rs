//! Physical quantities as types: parsing, printing and the arithmetic that means something.
//!
//! Every quantity is written as a number and a unit (`"600 Wh"`, `"40 °F"`, `"85 %"`), never as a bare number, and is
//! held in one base unit. `Display` prints the base unit with the shortest digits that parse back to the same value.
//!
//! ```
//! use tideover::units::{Celsius, Hours, Quantity, WattHours, Watts};
//! assert_eq!(WattHours::parse("1.2 kWh").unwrap(), WattHours(1200.0));
//! assert_eq!(Celsius::parse("50 °F").unwrap(), Celsius(10.0));
//! assert_eq!(Watts(100.0) * Hours(4.5), WattHours(450.0));
//! assert!(WattHours::parse("600").is_err());
//! ```

mod parse;
mod uncertain;

pub use parse::{ParseError, one_reading, parse_with_units, two_readings};
pub use uncertain::{NORMAL_95, Uncertain};

use std::fmt;
use std::ops::{Add, Div, Mul, Sub};

/// A spelling of a unit and how it turns into the base unit: `base = (number + offset) * factor`.
#[derive(Debug, Clone, Copy)]
pub struct Unit {
    /// As written after the number; matched exactly first, then without regard to case.
    pub symbol: &'static str,
    /// Base units in one of this unit.
    pub factor: f64,
    /// Added to the number before the factor applies (temperatures only).
    pub offset: f64,
}

/// What every quantity can do.
pub trait Quantity: Copy + PartialOrd + fmt::Display + Send + Sync + 'static {
    /// What it is, for messages: "energy", "power".
    const NAME: &'static str;
    /// Accepted spellings, the base unit first.
    const UNITS: &'static [Unit];
    /// Least value allowed anywhere, in the base unit.
    const LEAST: f64;
    /// Greatest value allowed anywhere, in the base unit.
    const GREATEST: f64;
    /// From a number in the base unit.
    fn from_base(value: f64) -> Self;
    /// The number in the base unit.
    fn base(self) -> f64;

    /// Reads a number with its unit.
    ///
    /// # Errors
    /// [`ParseError`] says what is missing or wrong: no number, no unit, an unknown unit, or a value outside
    /// `LEAST..=GREATEST`.
    fn parse(text: &str) -> Result<Self, ParseError> {
        parse_with_units(text, Self::NAME, Self::UNITS)
            .and_then(|value| parse::within(value, Self::NAME, Self::LEAST, Self::GREATEST, Self::UNITS[0].symbol))
            .map(Self::from_base)
    }
}

/// The shortest digits that parse back before a unit.
pub(crate) fn digits(number: f64, symbol: &str) -> String {
    if matches!(symbol, "W" | "Wh") { one_reading(number) } else { number.to_string() }
}

macro_rules! quantity {
    ($(#[$doc:meta])* $type:ident, $name:literal, $least:expr, $greatest:expr, [$(($symbol:literal, $factor:expr, $offset:expr)),+ $(,)?]) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $type(pub f64);

        impl Quantity for $type {
            const NAME: &'static str = $name;
            const UNITS: &'static [Unit] = &[$(Unit { symbol: $symbol, factor: $factor, offset: $offset }),+];
            const LEAST: f64 = $least;
            const GREATEST: f64 = $greatest;
            fn from_base(value: f64) -> Self {
                $type(value)
            }
            fn base(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $type {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let unit = Self::UNITS[0];
                match f.precision() {
                    Some(digits) => write!(f, "{:.*} {}", digits, self.0 / unit.factor - unit.offset, unit.symbol),
                    None => write!(f, "{} {}", digits(self.0 / unit.factor - unit.offset, unit.symbol), unit.symbol),
                }
            }
        }
    };
}

quantity!(
    /// Power \[W\]. 0 to 1 MW; `W`, `kW`.
    Watts, "power", 0.0, 1.0e6, [("W", 1.0, 0.0), ("kW", 1000.0, 0.0), ("watts", 1.0, 0.0), ("watt", 1.0, 0.0), ("kilowatts", 1000.0, 0.0)]
);
quantity!(
    /// Energy \[Wh\]. 0 to 10 MWh; `Wh`, `kWh`.
    WattHours, "energy", 0.0, 1.0e7, [("Wh", 1.0, 0.0), ("kWh", 1000.0, 0.0)]
);
quantity!(
    /// Irradiance \[W/m²\]. 0 to 2000 W/m²; `W/m²`, `kW/m²`.
    WattsPerSquareMetre, "irradiance", 0.0, 2000.0,
    [("W/m²", 1.0, 0.0), ("kW/m²", 1000.0, 0.0), ("W/m2", 1.0, 0.0), ("kW/m2", 1000.0, 0.0)]
);
quantity!(
    /// Temperature \[°C\]. -90 to 150 °C; `°C`, `°F`.
    Celsius, "temperature", -90.0, 150.0,
    [("°C", 1.0, 0.0), ("°F", 5.0 / 9.0, -32.0), ("C", 1.0, 0.0), ("F", 5.0 / 9.0, -32.0), ("degC", 1.0, 0.0), ("degF", 5.0 / 9.0, -32.0), ("celsius", 1.0, 0.0), ("fahrenheit", 5.0 / 9.0, -32.0)]
);
quantity!(
    /// A temperature difference \[K\]. -200 to 200 K; `K`.
    Kelvins, "temperature difference", -200.0, 200.0, [("K", 1.0, 0.0)]
);
quantity!(
    /// Voltage \[V\]. 0 to 1500 V; `V`.
    Volts, "voltage", 0.0, 1500.0, [("V", 1.0, 0.0), ("volts", 1.0, 0.0), ("volt", 1.0, 0.0), ("VDC", 1.0, 0.0), ("V DC", 1.0, 0.0)]
);
quantity!(
    /// Current \[A\]. 0 to 1000 A; `A`.
    Amps, "current", 0.0, 1000.0, [("A", 1.0, 0.0), ("amps", 1.0, 0.0), ("amp", 1.0, 0.0), ("mA", 0.001, 0.0)]
);
quantity!(
    /// A length of time \[h\]. 0 to 10 years; `h`, `min`, `days`.
    Hours, "duration", 0.0, 87_660.0,
    [("h", 1.0, 0.0), ("min", 1.0 / 60.0, 0.0), ("days", 24.0, 0.0), ("day", 24.0, 0.0), ("hours", 1.0, 0.0), ("hour", 1.0, 0.0), ("minutes", 1.0 / 60.0, 0.0), ("weeks", 168.0, 0.0), ("week", 168.0, 0.0), ("d", 24.0, 0.0), ("hr", 1.0, 0.0), ("hrs", 1.0, 0.0), ("mins", 1.0 / 60.0, 0.0)]
);
quantity!(
    /// A share of a whole, written in percent, held as 0 to 1 (up to 10, that is 1000 %, where a context allows it).
    Fraction, "share", -10.0, 10.0, [("%", 0.01, 0.0), ("percent", 0.01, 0.0)]
);
quantity!(
    /// An angle \[°\]. -360° to 360°; `°`, `degrees`.
    Degrees, "angle", -360.0, 360.0, [("°", 1.0, 0.0), ("degrees", 1.0, 0.0), ("deg", 1.0, 0.0)]
);
quantity!(
    /// A relative change per kelvin \[1/K\]; `%/K` or `%/°C`.
    PerKelvin, "temperature coefficient", -0.05, 0.05, [("%/K", 0.01, 0.0), ("%/°C", 0.01, 0.0), ("%/C", 0.01, 0.0)]
);
quantity!(
    /// Heat that warms a thing by a kelvin \[Wh/K\]. 0 to 1 MWh/K; `Wh/K`, `kJ/K`.
    WattHoursPerKelvin, "heat capacity", 0.0, 1.0e6, [("Wh/K", 1.0, 0.0), ("kJ/K", 1.0 / 3.6, 0.0), ("Wh/°C", 1.0, 0.0)]
);
quantity!(
    /// Heat that a thing loses for each kelvin above what is around it \[W/K\]. 0 to 100 kW/K; `W/K`.
    WattsPerKelvin, "heat loss", 0.0, 1.0e5, [("W/K", 1.0, 0.0), ("W/°C", 1.0, 0.0)]
);
quantity!(
    /// A length \[m\]. 0 to 10 km (heights may be negative down to -500 m); `m`, `ft`.
    Metres, "length", -500.0, 10_000.0, [("m", 1.0, 0.0), ("ft", 0.3048, 0.0), ("cm", 0.01, 0.0), ("km", 1000.0, 0.0), ("feet", 0.3048, 0.0), ("metres", 1.0, 0.0), ("meters", 1.0, 0.0)]
);

quantity!(
    /// A moment \[ms\]. 0 to 60 s; `ms`, `s`.
    Milliseconds, "moment", 0.0, 60_000.0, [("ms", 1.0, 0.0), ("s", 1000.0, 0.0), ("seconds", 1000.0, 0.0), ("second", 1000.0, 0.0), ("milliseconds", 1.0, 0.0)]
);
quantity!(
    /// A speed \[m/s\]. 0 to 100 m/s; `m/s`, `km/h`, `mph`.
    MetresPerSecond, "speed", 0.0, 100.0, [("m/s", 1.0, 0.0), ("km/h", 1.0 / 3.6, 0.0), ("mph", 0.447_04, 0.0), ("kn", 1.852 / 3.6, 0.0), ("knots", 1.852 / 3.6, 0.0), ("kmh", 1.0 / 3.6, 0.0)]
);
quantity!(
    /// A volume \[L\]. 0 to 10,000 L; `L`, `ft³`, `gal` (the US gallon of 231 cubic inches), `m³`.
    Litres, "volume", 0.0, 10_000.0,
    [("L", 1.0, 0.0), ("ft³", 28.316_846_592, 0.0), ("gal", 3.785_411_784, 0.0), ("litres", 1.0, 0.0), ("liters", 1.0, 0.0), ("litre", 1.0, 0.0), ("liter", 1.0, 0.0), ("mL", 0.001, 0.0), ("gallons", 3.785_411_784, 0.0), ("ft3", 28.316_846_592, 0.0), ("cu ft", 28.316_846_592, 0.0), ("cubic feet", 28.316_846_592, 0.0), ("m³", 1000.0, 0.0), ("m3", 1000.0, 0.0), ("cubic metres", 1000.0, 0.0), ("cubic meters", 1000.0, 0.0)]
);
quantity!(
    /// A cross-section of wire \[mm²\]. 0 to 1000 mm²; `mm²`, `mm2`.
    SquareMillimetres, "cross-section", 0.0, 1_000.0, [("mm²", 1.0, 0.0), ("mm2", 1.0, 0.0), ("sq mm", 1.0, 0.0)]
);
quantity!(
    /// A mass \[kg\]. 0 to 100 t; `kg`, `g`, `lb`.
    Kilograms, "weight", 0.0, 1.0e5,
    [("kg", 1.0, 0.0), ("g", 0.001, 0.0), ("lb", 0.453_592_37, 0.0), ("lbs", 0.453_592_37, 0.0), ("pounds", 0.453_592_37, 0.0)]
);

impl Fraction {
    /// Nothing.
    pub const ZERO: Fraction = Fraction(0.0);
    /// The whole.
    pub const ONE: Fraction = Fraction(1.0);
}

macro_rules! additive {
    ($($type:ident),+) => {$(
        impl Add for $type {
            type Output = $type;
            fn add(self, other: $type) -> $type {
                $type(self.0 + other.0)
            }
        }
        impl Sub for $type {
            type Output = $type;
            fn sub(self, other: $type) -> $type {
                $type(self.0 - other.0)
            }
        }
        impl Mul<f64> for $type {
            type Output = $type;
            fn mul(self, factor: f64) -> $type {
                $type(self.0 * factor)
            }
        }
        impl Mul<Fraction> for $type {
            type Output = $type;
            fn mul(self, share: Fraction) -> $type {
                $type(self.0 * share.0)
            }
        }
        impl Div for $type {
            type Output = f64;
            fn div(self, other: $type) -> f64 {
                self.0 / other.0
            }
        }
        impl std::iter::Sum for $type {
            fn sum<I: Iterator<Item = $type>>(items: I) -> $type {
                $type(items.map(|item| item.0).sum())
            }
        }
    )+};
}
additive!(Watts, WattHours, Volts, Amps, Hours, Kelvins, Metres);

impl Mul<Hours> for Watts {
    type Output = WattHours;
    fn mul(self, time: Hours) -> WattHours {
        WattHours(self.0 * time.0)
    }
}

impl Mul<Amps> for Volts {
    type Output = Watts;
    fn mul(self, current: Amps) -> Watts {
        Watts(self.0 * current.0)
    }
}

impl Div<Watts> for WattHours {
    type Output = Hours;
    fn div(self, power: Watts) -> Hours {
        Hours(self.0 / power.0)
    }
}

impl Sub for Celsius {
    type Output = Kelvins;
    fn sub(self, other: Celsius) -> Kelvins {
        Kelvins(self.0 - other.0)
    }
}

impl Add<Kelvins> for Celsius {
    type Output = Celsius;
    fn add(self, difference: Kelvins) -> Celsius {
        Celsius(self.0 + difference.0)
    }
}

#[cfg(test)]
mod tests;
