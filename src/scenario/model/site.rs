//! Where the kit stands.

use crate::units::{Celsius, Fraction, Hours, Metres};

/// Where the kit stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// Latitude \[°\], north positive, -90 to 90.
    pub latitude_deg: f64,
    /// Longitude \[°\], east positive, -180 to 180.
    pub longitude_deg: f64,
    /// Height above sea level, where given.
    pub height: Option<Metres>,
    /// Clock of the place.
    pub timezone: TimeZone,
    /// Where the weather comes from.
    pub climate: ClimateSource,
    /// Twelve monthly means of sun on a level plane \[kWh/m² a day\] that replace the climate's own.
    pub monthly_sun: Option<[f64; 12]>,
    /// Share of light that the ground sends back (0.2 for grass and soil, 0.6 for fresh snow).
    pub ground_reflection: Fraction,
    /// How the rooms indoors cool once the outage takes the heating; not given: they stay warm.
    pub room: Option<CoolingRoom>,
}

/// A room without heating.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoolingRoom {
    /// What it comes to; not given: the air outdoors.
    pub falls_to: Option<Celsius>,
    /// When it has come to within a twentieth of the way.
    pub within: Hours,
}

/// The clock of the place.
#[derive(Debug, Clone, PartialEq)]
pub enum TimeZone {
    /// Not given: the whole hour nearest to the sun, from the longitude.
    FromLongitude,
    /// A fixed offset from UTC \[minutes\], east positive.
    Fixed(i32),
    /// An IANA name, summer time included.
    Named(String),
}

/// Where the weather comes from. Paths are as written, relative to the scenario file.
#[derive(Debug, Clone, PartialEq)]
pub enum ClimateSource {
    /// The built-in world table.
    World,
    /// A climate file.
    File(String),
    /// An hourly record, replayed as it was, or fitted first.
    Hourly {
        /// The file.
        file: String,
        /// Fit a climate to it and draw from that, rather than replay its days.
        fitted: bool,
    },
}
