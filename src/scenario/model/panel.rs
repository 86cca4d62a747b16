//! Arrays of panels, their light and their cables, and the inputs that they feed.

use super::{ClockWindow, Station};
use crate::units::{Amps, Degrees, Fraction, Metres, PerKelvin, SquareMillimetres, Uncertain, Volts, Watts};

/// An array of equal panels that look the same way.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// What to call it.
    pub name: String,
    /// Name of the solar input that it feeds; empty where that goes without saying.
    pub input: String,
    /// Power of one panel under standard test conditions.
    pub rated: Uncertain<Watts>,
    /// Panels one after another in a string (their volts add up), 1 or more.
    pub series: u32,
    /// Strings side by side (their amps add up), 1 or more.
    pub parallel: u32,
    /// Which way it looks.
    pub aim: Aim,
    /// What stands in its light.
    pub shade: Vec<Shade>,
    /// When it is put out, for panels that are not always outside.
    pub out: Option<PutOut>,
    /// Open-circuit voltage of one panel under standard test conditions, where known.
    pub open_circuit_voltage: Option<Volts>,
    /// Voltage of one panel at its best power, where known.
    pub max_power_voltage: Option<Volts>,
    /// Change of open-circuit voltage with temperature, where known.
    pub voltage_coefficient: Option<PerKelvin>,
    /// Change of power with temperature.
    pub power_coefficient: PerKelvin,
    /// Light lost to dust and dirt.
    pub soiling: Fraction,
    /// The cable to the station.
    pub cable: PanelCable,
}

/// Voltage at best power over open-circuit voltage where the label gives only one of them. Typical, no source.
const BEST_OVER_OPEN: f64 = 0.82;

/// Voltage of an array's strings at best power and 25 °C \[V\]: from `max_power_voltage`, else 82 % of the open-circuit
/// voltage; none where neither is known.
#[must_use]
pub fn best_string_v(panel: &Panel) -> Option<f64> {
    let one = panel.max_power_voltage.map(|v| v.0).or(panel.open_circuit_voltage.map(|v| BEST_OVER_OPEN * v.0))?;
    Some(f64::from(panel.series) * one)
}

/// Open-circuit voltage of an array's strings at 25 °C \[V\]: as the label has it, else from `max_power_voltage` by the same share;
/// none where neither is known.
#[must_use]
pub fn open_string_v(panel: &Panel) -> Option<f64> {
    let one = panel.open_circuit_voltage.map(|v| v.0).or(panel.max_power_voltage.map(|v| v.0 / BEST_OVER_OPEN))?;
    Some(f64::from(panel.series) * one)
}

/// Which way an array looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    /// Always the same.
    Fixed {
        /// Slope against the horizontal \[°\], 0 to 90.
        tilt: Degrees,
        /// Compass direction the panel looks to \[°\]: 0 north, 90 east, 180 south.
        facing: Degrees,
    },
    /// Turned towards the sun by hand so many times a day.
    ByHand {
        /// How many times, 1 or more.
        times_a_day: u32,
    },
    /// Always straight at the sun: the best case.
    AtTheSun,
}

/// Something that takes light from an array for some hours or where the sun stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shade {
    /// When.
    pub when: ShadeWhen,
    /// Share of the array's power that is lost meanwhile.
    pub loses: Fraction,
}

/// When a shade falls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ShadeWhen {
    /// By the clock.
    Clock(ClockWindow),
    /// While the sun stands between two compass directions (clockwise), below some height.
    Sun {
        /// Compass direction at which it begins \[°\].
        from: Degrees,
        /// Compass direction at which it ends, going clockwise \[°\].
        to: Degrees,
        /// Only while the sun is lower than this \[°\].
        below: Degrees,
    },
}

/// When a folding panel is put out.
#[derive(Debug, Clone, PartialEq)]
pub struct PutOut {
    /// The hours; all day when empty.
    pub hours: Vec<ClockWindow>,
    /// Only on days on which at least this share of the light outside the air reaches the ground.
    pub if_clearer_than: Fraction,
}

/// The cable between an array and the station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PanelCable {
    /// Loses a share of the power, whatever flows.
    Loses(Fraction),
    /// Loses by its resistance.
    Wire(Cable),
}

/// A two-core copper cable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cable {
    /// Its length; the current goes there and back.
    pub length: Metres,
    /// How thick its wires are.
    pub gauge: Gauge,
}

/// The thickness of a wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gauge {
    /// American wire gauge, even numbers from 18 to 4.
    Awg(u8),
    /// Cross-section.
    Metric(SquareMillimetres),
}

impl Panel {
    /// Number of panels in the array.
    #[must_use]
    pub fn count(&self) -> u32 {
        self.series * self.parallel
    }

    /// Power of the array by the label \[W\].
    #[must_use]
    pub fn array_w(&self) -> f64 {
        self.rated.value.0 * f64::from(self.count())
    }
}

/// Where panels are plugged in.
#[derive(Debug, Clone, PartialEq)]
pub struct SolarInput {
    /// What to call it; may be empty where it is the only one.
    pub name: String,
    /// Where it stands in the file: a key path.
    pub key: String,
    /// Most power taken.
    pub limit: Watts,
    /// Least voltage that it starts at.
    pub volts_min: Option<Volts>,
    /// Voltage that must never be exceeded.
    pub volts_max: Option<Volts>,
    /// Most current taken.
    pub amps_max: Option<Amps>,
    /// The battery's voltage, at which a controller that does not search for the best power holds the panels.
    pub held_at: Option<Volts>,
    /// Share of the panels' best power that it finds and passes on.
    pub efficiency: Fraction,
}

impl Station {
    /// The solar input that an array feeds: a place among [`super::Station::solar_inputs`].
    #[must_use]
    pub fn input_of(&self, panel: &Panel) -> Option<usize> {
        self.solar_inputs.iter().position(|input| panel.input.is_empty() || input.name == panel.input)
    }

    /// Share of the panels' best power that is passed on: the lowest of all inputs (cautious); 1 without any.
    #[must_use]
    pub fn solar_efficiency(&self) -> Fraction {
        self.solar_inputs
            .iter()
            .fold(Fraction::ONE, |least, input| if input.efficiency < least { input.efficiency } else { least })
    }
}
