//! An array's view of the sun on one day as plain numbers, for other programs that are compared with this one.

use serde::Serialize;

use super::ArrayGeometry;

/// One day of the year, step by step where it says so.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GeometryTables {
    /// Beam on the plane (glass counted) over beam on the horizontal, by step.
    pub beam_ratio: Vec<f64>,
    /// 1 / extraterrestrial horizontal irradiance \[m²/W\], by step; 0 at night.
    pub per_extraterrestrial: Vec<f64>,
    /// Diffuse light of the dome that reaches the cells over that on the horizontal, by step.
    pub dome: Vec<f64>,
    /// Light that reaches the cells by way of the ground over global on the horizontal, by step.
    pub ground: Vec<f64>,
    /// Share of the power left by dirt, shade and hours indoors, by step.
    pub kept: Vec<f64>,
    /// Cells above air for the light that reaches them \[K m²/W\].
    pub rise_k_per_w_m2: f64,
    /// Temperature coefficient of power \[1/K\].
    pub power_per_k: f64,
}

impl ArrayGeometry {
    /// How the array sees the sun on a day of the year, 0 for 1 January, taken modulo 365.
    #[must_use]
    pub fn day_tables(&self, day: u32) -> GeometryTables {
        let n = self.steps_a_day;
        let steps = day as usize % 365 * n..(day as usize % 365 + 1) * n;
        let wide = |values: &[f32]| values.iter().map(|&x| f64::from(x)).collect();
        GeometryTables {
            beam_ratio: wide(&self.beam_ratio[steps.clone()]),
            per_extraterrestrial: wide(&self.per_extraterrestrial[steps.clone()]),
            dome: steps.clone().map(|at| f64::from(self.views_at(at).dome)).collect(),
            ground: steps.clone().map(|at| f64::from(self.views_at(at).ground)).collect(),
            kept: steps.map(|at| self.kept * self.left_at(at)).collect(),
            rise_k_per_w_m2: self.rise_k_per_w_m2,
            power_per_k: self.power_per_k,
        }
    }
}
