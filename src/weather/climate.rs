//! A place's climate as twelve months of statistics: what the stochastic weather is drawn from.

/// Probability levels at which a month's distribution of daily clearness is kept; denser in the dark tail.
pub const LEVELS: [f64; 25] = [
    0.0, 0.01, 0.025, 0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70, 0.75, 0.80,
    0.85, 0.90, 0.95, 0.975, 0.99, 1.0,
];

/// Air temperature of one month.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthAir {
    /// Mean over all hours \[°C].
    pub mean_c: f64,
    /// Mean difference between the day's warmest and coldest hour \[K], 0 or more.
    pub swing_k: f64,
    /// Standard deviation of daily means about the month's mean \[K].
    pub day_sd_k: f64,
    /// Lag-1 autocorrelation of daily means, -1..=1.
    pub day_persistence: f64,
    /// Correlation of the day's mean temperature with the day's clearness (normal scores), -1..=1.
    pub clearness_link: f64,
    /// Coldest temperature on record or the best estimate of it \[°C].
    pub record_low_c: f64,
}

/// One month of a climate.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthClimate {
    /// Daily clearness (the day's global horizontal over its extraterrestrial irradiation, 1361 W/m²) at [`LEVELS`].
    pub clearness: [f64; 25],
    /// Lag-1 autocorrelation of the normal scores of daily clearness, -1..=1.
    pub persistence: f64,
    /// Air temperature.
    pub air: MonthAir,
}

/// The climate of one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Climate {
    /// What to call it.
    pub name: String,
    /// Where the figures come from, in a sentence.
    pub source: String,
    /// Latitude \[°], north positive.
    pub latitude_deg: f64,
    /// Longitude \[°], east positive.
    pub longitude_deg: f64,
    /// Height above sea level \[m] that the temperatures hold for, where known.
    pub height_m: Option<f64>,
    /// Standard deviation of the logarithm of the sun's systematic error: one factor a trial \[–].
    pub sun_uncertainty: f64,
    /// January to December.
    pub months: [MonthClimate; 12],
}
