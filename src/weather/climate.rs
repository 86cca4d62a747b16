//! A place's climate as twelve months of statistics: what the stochastic weather is drawn from.

use super::WeatherError;
use super::doubt::Doubt;

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

/// Parts of [`Habits::course`].
pub const COURSE: usize = 16;

/// How the sky behaves beyond the distribution of its days. The default stands for a place without hourly records.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habits {
    /// The place's own course of the day: what the sun of each sixteenth of the time from sunrise to sunset is over what
    /// Collares-Pereira & Rabl's (1979) course gives, 0..=4; default 1. Fog in the morning and storms in the afternoon.
    pub course: [f64; COURSE],
    /// Spread of hourly clearness within the day, over 0.16 sin(π K / K_max) (after Graham & Hollands 1990; K_max is
    /// 1.04 times the clearness that a hundredth of the month's days exceed), 0..=3; default 1.4, the middle
    /// of the records that the model is judged by (weather/EVIDENCE.md).
    pub hourly_spread: f64,
    /// Lag-1 autocorrelation of the hourly disturbance, 0..=0.99; default 0.54 (the same authors: 0.54 ± 0.14).
    pub hourly_persistence: f64,
    /// Lag-2 over lag-1 autocorrelation of the normal scores of days, 0.05..=0.9; default 0.45.
    pub memory: f64,
    /// How much longer bright spells last than dark ones: κ of the day model, 0 (alike) to 0.75; default 0, the
    /// cautious end.
    pub settled: f64,
    /// Share of the variance of normal scores that stays for weeks (dull and bright months), 0..=0.2; default 0.01.
    pub slow_share: f64,
}

impl Default for Habits {
    fn default() -> Habits {
        Habits {
            course: [1.0; COURSE],
            hourly_spread: 1.4,
            hourly_persistence: 0.54,
            memory: 0.45,
            settled: 0.0,
            slow_share: 0.01,
        }
    }
}

/// One month of a climate.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthClimate {
    /// Daily clearness (the day's global horizontal over its extraterrestrial irradiation, 1361 W/m²) at [`LEVELS`].
    pub clearness: [f64; 25],
    /// Lag-1 autocorrelation of the normal scores of daily clearness, -1..=1.
    pub persistence: f64,
    /// How the sky behaves beyond that.
    pub habits: Habits,
    /// Air temperature.
    pub air: MonthAir,
}

/// What a climate rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Basis {
    /// The built-in table.
    Table,
    /// The built-in table and twelve monthly figures of the sun.
    Figures,
    /// A record, and the built-in table where it reaches the place.
    Record {
        /// Years of the record.
        years: f64,
        /// Standard deviation of the logarithm of the error that all readings share \[–].
        instrument: f64,
        /// Whether the table has a part in it.
        table: bool,
    },
    /// Figures from elsewhere.
    Told {
        /// Standard deviation of the logarithm of the sun's level \[–].
        level: f64,
    },
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
    /// What it rests on.
    pub basis: Basis,
    /// How many readings of the owner's are in it.
    pub seen: u32,
    /// What is not known of it.
    pub doubt: Doubt,
    /// January to December.
    pub months: [MonthClimate; 12],
}

impl Climate {
    /// Years of the record that it was fitted to, if it was.
    #[must_use]
    pub fn years_of_record(&self) -> Option<f64> {
        match self.basis {
            Basis::Record { years, .. } => Some(years),
            _ => None,
        }
    }

    /// Refuses figures out of range.
    ///
    /// # Errors
    /// The first figure out of range, with its month, what was found and what is allowed.
    pub fn check(&self) -> Result<(), WeatherError> {
        let refuse = |month: usize, what: String| Err(WeatherError::Climate { name: self.name.clone(), month, what });
        let (level, years) = match self.basis {
            Basis::Table | Basis::Figures => (0.0, 1.0),
            Basis::Record { years, instrument, .. } => (instrument, years),
            Basis::Told { level } => (level, 1.0),
        };
        let place = [
            ("latitude_deg", self.latitude_deg, -90.0, 90.0),
            ("longitude_deg", self.longitude_deg, -180.0, 180.0),
            ("sun_uncertainty", level, 0.0, 1.0),
            ("years_of_record", years, 0.1, 1000.0),
        ];
        for (key, found, least, most) in place {
            if !(least..=most).contains(&found) {
                return refuse(0, format!("`{key}` is {found}; allowed: {least} to {most}"));
            }
        }
        for (index, month) in self.months.iter().enumerate() {
            let figures = [
                ("persistence", month.persistence, -0.5, 0.95),
                ("habits.hourly_spread", month.habits.hourly_spread, 0.0, 3.0),
                ("habits.hourly_persistence", month.habits.hourly_persistence, 0.0, 0.99),
                ("habits.memory", month.habits.memory, 0.05, 0.9),
                ("habits.settled", month.habits.settled, 0.0, 0.75),
                ("habits.slow_share", month.habits.slow_share, 0.0, 0.2),
                ("air.mean_c", month.air.mean_c, -80.0, 60.0),
                ("air.swing_k", month.air.swing_k, 0.0, 40.0),
                ("air.day_sd_k", month.air.day_sd_k, 0.0, 30.0),
                ("air.day_persistence", month.air.day_persistence, -0.5, 0.98),
                ("air.clearness_link", month.air.clearness_link, -0.95, 0.95),
                ("air.record_low_c", month.air.record_low_c, -95.0, 60.0),
            ];
            for (key, found, least, most) in figures {
                if !(least..=most).contains(&found) {
                    return refuse(index + 1, format!("`{key}` is {found}; allowed: {least} to {most}"));
                }
            }
            if let Some(found) = month.habits.course.iter().find(|part| !(0.0..=4.0).contains(*part)) {
                return refuse(index + 1, format!("`habits.course` has {found}; allowed: 0 to 4"));
            }
            if let Some(k) = (0..LEVELS.len()).find(|&k| {
                let low = if k == 0 { 0.0 } else { month.clearness[k - 1] };
                !(low..=1.0).contains(&month.clearness[k])
            }) {
                let found = month.clearness[k];
                return refuse(
                    index + 1,
                    format!(
                        "`clearness` at level {} is {found}; allowed: 0 to 1, none below the one before",
                        LEVELS[k]
                    ),
                );
            }
        }
        Ok(())
    }
}

/// A quantile table (clearness at [`LEVELS`]) at probability `p`, 0 to 1, straight between the levels.
#[must_use]
pub fn quantile_at(quantiles: &[f64; LEVELS.len()], p: f64) -> f64 {
    let upper = LEVELS.partition_point(|&level| level < p).clamp(1, LEVELS.len() - 1);
    let (p0, p1) = (LEVELS[upper - 1], LEVELS[upper]);
    quantiles[upper - 1] + (p - p0) / (p1 - p0) * (quantiles[upper] - quantiles[upper - 1])
}

/// Mean of a distribution given by its quantile table, as of daily clearness \[–\].
#[must_use]
pub fn quantile_mean(quantiles: &[f64; LEVELS.len()]) -> f64 {
    (1..LEVELS.len()).map(|k| (LEVELS[k] - LEVELS[k - 1]) * 0.5 * (quantiles[k] + quantiles[k - 1])).sum()
}

/// Probability of a value under a quantile table: the middle of the levels that hold it.
#[must_use]
pub fn level_of(table: &[f64; LEVELS.len()], value: f64) -> f64 {
    let last = LEVELS.len() - 1;
    let above = table.partition_point(|&q| q < value);
    if above == 0 {
        return LEVELS[1] / 4.0;
    }
    if above > last {
        return 1.0 - LEVELS[1] / 4.0;
    }
    let (low, high) = (table[above - 1], table[above]);
    let part = if high > low { (value - low) / (high - low) } else { 0.5 };
    LEVELS[above - 1] + part * (LEVELS[above] - LEVELS[above - 1])
}
