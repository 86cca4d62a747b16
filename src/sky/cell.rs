//! How warm a panel's cells get, and what that costs.
//!
//! Reference: Faiman (2008), Progress in Photovoltaics 16(4), 307.

/// Heat loss of a free-standing panel in still air \[W/m²K] (Faiman 2008, mean over seven panel types).
pub const FAIMAN_U0: f64 = 25.0;
/// What each m/s of wind adds to it \[W s/m³K] (Faiman 2008).
pub const FAIMAN_U1: f64 = 6.84;

/// How cells warm above the air around them: rise = G / (u0 + u1 v).
///
/// Reference: Faiman (2008).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellModel {
    /// Loss in still air \[W/m²K], above 0; [`FAIMAN_U0`].
    pub u0_w_m2_k: f64,
    /// Loss per wind speed \[W s/m³K], 0 or more; [`FAIMAN_U1`].
    pub u1_w_s_m3_k: f64,
}

impl CellModel {
    /// Faiman's mean constants: a panel on an open rack.
    pub const OPEN_RACK: CellModel = CellModel { u0_w_m2_k: FAIMAN_U0, u1_w_s_m3_k: FAIMAN_U1 };

    /// How much the cells are warmer than the air, per irradiance \[K m²/W].
    ///
    /// The factor is constant for a wind speed, so that a table can hold it.
    ///
    /// * `wind_m_s` — at the panel, 0 or more; below zero counts as calm.
    pub fn rise_k_per_w_m2(&self, wind_m_s: f64) -> f64 {
        // `max` alone would turn a missing wind into a calm.
        let wind = if wind_m_s < 0.0 { 0.0 } else { wind_m_s };
        1.0 / (self.u0_w_m2_k + self.u1_w_s_m3_k * wind)
    }

    /// Temperature of the cells \[°C].
    ///
    /// * `poa_w_m2` — irradiance on the panel's plane.
    /// * `air_c` — air temperature.
    /// * `wind_m_s` — at the panel.
    ///
    /// Steady state: a panel follows the light with a lag of some minutes, which an hourly step does not see.
    ///
    /// ```
    /// use tideover::sky::cell::CellModel;
    /// let cell_c = CellModel::OPEN_RACK.cell_c(900.0, 20.0, 5.0);
    /// assert!((cell_c - 35.203).abs() < 1e-3);
    /// ```
    pub fn cell_c(&self, poa_w_m2: f64, air_c: f64, wind_m_s: f64) -> f64 {
        air_c + poa_w_m2 * self.rise_k_per_w_m2(wind_m_s)
    }
}

/// A panel's power over its rated power \[–]: linear in light and in temperature, never below 0.
///
/// * `poa_w_m2` — irradiance on the panel's plane, after glass and dirt.
/// * `cell_c` — temperature of the cells.
/// * `gamma_per_k` — temperature coefficient of power \[1/K], below zero; -0.004 is common for crystalline silicon.
///
/// P/P_rated = G/1000 (1 + γ (T − 25)). Efficiency is taken as the same at low light, where real panels lose a few percent.
///
/// Reference: common practice, no source; the reference point is that of standard test conditions, IEC 60904-3.
///
/// ```
/// let factor = tideover::sky::cell::power_factor(800.0, 45.0, -0.004);
/// assert!((factor - 0.736).abs() < 1e-12);
/// ```
pub fn power_factor(poa_w_m2: f64, cell_c: f64, gamma_per_k: f64) -> f64 {
    let factor = poa_w_m2 / 1000.0 * (1.0 + gamma_per_k * (cell_c - 25.0));
    if factor < 0.0 { 0.0 } else { factor }
}
