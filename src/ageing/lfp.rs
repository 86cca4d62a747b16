//! Published wear of graphite / lithium iron phosphate cells.

use super::GAS_CONSTANT;

/// Calendar wear (Naumann et al. 2018, J. Energy Storage 17:153; 885 days of storage of one kind of 3 Ah cell).
///
/// The constants were taken from copies of the paper; they reproduce its own projections to the printed digit.
pub mod calendar {
    /// Activation energy of capacity loss \[J/mol\].
    pub const ACTIVATION_J_MOL: f64 = 17_126.0;
    /// Activation energy of the rise of resistance \[J/mol\].
    pub const RESISTANCE_ACTIVATION_J_MOL: f64 = 71_827.0;

    /// Loss at 25 °C over the square root of time \[1/√s\]: k (c (s − 0.5)³ + d).
    ///
    /// * `charge` — state of charge s, 0 to 1.
    #[must_use]
    pub fn loss_per_root_second(charge: f64) -> f64 {
        let x = charge - 0.5;
        1.2571e-5 * (2.8575 * x * x * x + 0.60225)
    }

    /// Rise of the resistance at 25 °C by time \[1/s\]: k (c (s − 0.5)² + d).
    #[must_use]
    pub fn resistance_per_second(charge: f64) -> f64 {
        let x = charge - 0.5;
        (3.4194e-10 * (-3.3903 * x * x + 1.5604)).max(0.0)
    }
}

/// Cycle wear (Naumann et al. 2020, J. Power Sources 451:227666, the same cell), on top of calendar wear. The constants
/// are from memory of the paper.
pub mod cycle {
    /// Loss over the square root of full equivalent cycles \[–\]: (a C + b)(c (d − 0.6)³ + e).
    ///
    /// * `rate_per_h` — mean of charge and discharge rate C \[1/h\], 0 to 2; `depth` — depth of the cycles d, 0 to 1.
    #[must_use]
    pub fn loss_per_root_cycle(rate_per_h: f64, depth: f64) -> f64 {
        let x = depth - 0.6;
        0.01 * (0.0630 * rate_per_h + 0.0971) * (4.0253 * x * x * x + 1.0923)
    }

    /// Relative rise of the resistance by full equivalent cycles \[–\]: (a C + b)(c (d − 0.5)³ + e); never negative,
    /// though the fit is above a rate of 1.05.
    #[must_use]
    pub fn resistance_per_cycle(rate_per_h: f64, depth: f64) -> f64 {
        let x = depth - 0.5;
        (0.01 * (-0.0020 * rate_per_h + 0.0021) * (6.8477 * x * x * x + 0.9182)).max(0.0)
    }
}

/// Cycle wear by charge moved (Wang et al. 2011, J. Power Sources 196:3942; 2.2 Ah cells, C/2 to 10 C, 15 to 60 °C).
///
/// Loss = B(C) exp((−31700 + 370.3 C)/(R T)) Ah^0.55 in percent.
pub mod throughput {
    use super::GAS_CONSTANT;
    use crate::math;

    /// Exponent of the charge moved.
    pub const EXPONENT: f64 = 0.55;

    /// Charge that a full cycle moves in the cell of the tests \[Ah\].
    pub const CELL_AH: f64 = 2.2;

    /// B at the four rates of the tests.
    const B: [(f64, f64); 4] = [(0.5, 31_630.0), (2.0, 21_681.0), (6.0, 12_934.0), (10.0, 15_512.0)];

    /// Loss over Ah^0.55 of the 2.2 Ah cell \[–\].
    ///
    /// * `rate_per_h` — C; held within 0.5 to 10, the rates of the tests (a gentler rate counts as 0.5), B straight
    ///   between them; `kelvin` — cell temperature.
    #[must_use]
    pub fn loss_per_ah(rate_per_h: f64, kelvin: f64) -> f64 {
        let c = rate_per_h.clamp(B[0].0, B[3].0);
        let upper = B.iter().position(|(rate, _)| c <= *rate).unwrap_or(3).max(1);
        let ((c0, b0), (c1, b1)) = (B[upper - 1], B[upper]);
        let b = b0 + (c - c0) / (c1 - c0) * (b1 - b0);
        0.01 * b * math::exp((-31_700.0 + 370.3 * c) / (GAS_CONSTANT * kelvin))
    }
}
