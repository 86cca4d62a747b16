//! What is not known of a place beforehand: random fields over the months, as fitted.

use super::SIZE;
use crate::math;
use crate::weather::bend::FIGURES;

/// A random field over the months: its figures at one month, and how it fades with the months between.
pub(super) struct Field {
    /// Lower triangle A: the figures are A v, the parts of v unrelated and of unit variance.
    pub(super) lower: [[f64; FIGURES]; FIGURES],
    /// Correlation of each part of v with itself `lag` months on, round the year: g + (1 − g) h^lag.
    pub(super) seasons: [(f64, f64); FIGURES],
}

impl Field {
    pub(super) fn covariance(&self, scale: impl Fn(usize) -> [f64; FIGURES]) -> Vec<f64> {
        let mut out = vec![0.0; SIZE * SIZE];
        for m in 0..12_usize {
            for n in 0..12 {
                let lag = m.abs_diff(n).min(12 - m.abs_diff(n)) as i32;
                let (of_m, of_n) = (scale(m), scale(n));
                for a in 0..FIGURES {
                    for b in 0..FIGURES {
                        let parts = (0..FIGURES).map(|k| {
                            let (g, h) = self.seasons[k];
                            self.lower[a][k] * self.lower[b][k] * (g + (1.0 - g) * math::powi(h, lag))
                        });
                        out[(m * FIGURES + a) * SIZE + n * FIGURES + b] = of_m[a] * of_n[b] * parts.sum::<f64>();
                    }
                }
            }
        }
        out
    }
}

/// Errors of the table at places left out of it, outside the tropics and inside (`weather/fit_doubt.py`).
pub(super) const OUTSIDE_TROPICS: Field = Field {
    lower: [
        [0.039, 0.0, 0.0, 0.0],
        [-0.035, 0.104, 0.0, 0.0],
        [-0.059, 0.025, 0.065, 0.0],
        [0.025, -0.037, -0.004, 0.105],
    ],
    seasons: [(0.5, 0.8), (0.2, 0.75), (0.5, 0.75), (0.5, 0.75)],
};
pub(super) const TROPICS: Field = Field {
    lower: [
        [0.079, 0.0, 0.0, 0.0],
        [-0.075, 0.170, 0.0, 0.0],
        [-0.034, -0.057, 0.103, 0.0],
        [-0.016, -0.084, -0.004, 0.211],
    ],
    seasons: [(0.5, 0.8), (0.2, 0.75), (0.5, 0.75), (0.5, 0.75)],
};
/// What those covariances are widened by, as standard deviations: they rest on some twenty independent places.
pub(super) const FEW_PLACES: f64 = 1.15;
/// Latitudes between which one passes into the other \[°].
pub(super) const TROPICS_END: (f64, f64) = (20.0, 27.0);
/// How much less sure the mean is in midwinter than over the year outside the tropics, and surer in midsummer.
pub(super) const WINTER: f64 = 0.2;

/// Chance in one year's month about the climate's (`weather/fit_doubt.py`, jackknife over the years of long records): the
/// mean's is in units of the days' relative standard deviation.
pub(super) const ONE_YEAR: Field = Field {
    lower: [
        [0.308, 0.0, 0.0, 0.0],
        [-0.194, 0.162, 0.0, 0.0],
        [-0.114, -0.010, 0.124, 0.0],
        [-0.001, 0.070, 0.039, 0.224],
    ],
    seasons: [(0.08, 0.13), (0.0, 0.0), (0.0, 0.0), (0.0, 0.0)],
};

/// How much wider than chance and the table allow, as standard deviations, one year of record has to leave a place for 95 % of
/// the other years to be held; over the years (weather/EVIDENCE.md).
pub(super) const WIDER_THAN_CHANCE: f64 = 0.3;

/// Standard deviation of the logarithm of the unrest of the hours, about the table's and about a record's.
pub(super) const UNREST: (f64, f64) = (0.2, 0.05);
/// Standard deviation of the air's mean about the table's \[K], and from one record year to the long run.
pub(super) const AIR_K: (f64, f64) = (1.2, 0.8);

/// Unrelated stretches of days of one place and month that a year of record stands for: over seventeen long records a year's
/// survival of four days varies with 0.17 p (1 - p) (weather/README.md), as the share of six draws does; four are taken, for
/// survival hangs on more than a stretch's brightness.
pub(super) const STRETCHES_A_YEAR: f64 = 4.0;
