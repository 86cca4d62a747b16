//! Functions by polynomials: the same bits on every processor and in any number of lanes, and ready for vectors.

/// The smaller; `b` where either is not a number.
#[inline(always)]
pub fn less<R: PartialOrd>(a: R, b: R) -> R {
    if a < b { a } else { b }
}

/// The larger; `b` where either is not a number.
#[inline(always)]
pub fn more<R: PartialOrd>(a: R, b: R) -> R {
    if b < a { a } else { b }
}

/// e to the power of `x`, to 2 units in the last place, for -700 to 700.
#[inline(always)]
pub fn exp(x: f64) -> f64 {
    /// Adding this rounds to whole numbers and leaves them in the low bits.
    const ROUND: f64 = 6_755_399_441_055_744.0;
    const LN_2_HIGH: f64 = 0.693_147_180_369_123_8;
    const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    let shifted = x * std::f64::consts::LOG2_E + ROUND;
    let whole = shifted - ROUND;
    let r = (x - whole * LN_2_HIGH) - whole * LN_2_LOW;
    // Taylor's series: the first term left out is below 5e-18 within ±ln 2 / 2.
    let mut y = 1.0 / 6_227_020_800.0;
    for factorial in
        [479_001_600.0, 39_916_800.0, 3_628_800.0, 362_880.0, 40_320.0, 5_040.0, 720.0, 120.0, 24.0, 6.0, 2.0]
    {
        y = y * r + 1.0 / factorial;
    }
    let y = (y * r + 1.0) * r + 1.0;
    y * f64::from_bits((shifted.to_bits() << 52).wrapping_add(1023 << 52))
}

/// [`exp`] in single precision, for -80 to 80.
#[inline(always)]
pub fn exp_single(x: f32) -> f32 {
    const ROUND: f32 = 12_582_912.0;
    const LN_2_HIGH: f32 = 0.693_359_4;
    const LN_2_LOW: f32 = -2.121_944_4e-4;
    let shifted = x * std::f32::consts::LOG2_E + ROUND;
    let whole = shifted - ROUND;
    let r = (x - whole * LN_2_HIGH) - whole * LN_2_LOW;
    // Taylor's series: the first term left out is below 6e-9.
    let mut y = 1.0 / 5040.0;
    for factorial in [720.0, 120.0, 24.0, 6.0, 2.0] {
        y = y * r + 1.0 / factorial;
    }
    let y = (y * r + 1.0) * r + 1.0;
    y * f32::from_bits((shifted.to_bits() << 23).wrapping_add(127 << 23))
}

/// sin π x for x in 0..=1, to 1e-14.
#[inline(always)]
pub fn sin_pi(x: f64) -> f64 {
    // sin π x = cos π (x - 1/2), by Taylor's series: the first term left out is below 4e-15.
    let angle = (x - 0.5) * std::f64::consts::PI;
    let z = angle * angle;
    let mut y = -1.0 / 6_402_373_705_728_000.0;
    for factorial in
        [20_922_789_888_000.0, -87_178_291_200.0, 479_001_600.0, -3_628_800.0, 40_320.0, -720.0, 24.0, -2.0, 1.0]
    {
        y = y * z + 1.0 / factorial;
    }
    y
}

/// [`sin_pi`] in single precision, to 3e-7.
#[inline(always)]
pub fn sin_pi_single(x: f32) -> f32 {
    let angle = (x - 0.5) * std::f32::consts::PI;
    let z = angle * angle;
    // The first term left out is below 7e-9.
    let mut y = 1.0 / 479_001_600.0;
    for factorial in [-3_628_800.0, 40_320.0, -720.0, 24.0, -2.0, 1.0] {
        y = y * z + 1.0 / factorial;
    }
    y
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math;

    #[test]
    fn polynomials_follow_the_functions() {
        for k in -7000..=7000 {
            let x = f64::from(k) * 0.0999;
            assert!((exp(x) / math::exp(x) - 1.0).abs() < 1e-15, "exp {x}: {} for {}", exp(x), math::exp(x));
        }
        for k in -8000..=8000 {
            let x = k as f32 * 0.00999;
            let exact = math::exp(f64::from(x));
            assert!((f64::from(exp_single(x)) / exact - 1.0).abs() < 2.4e-7, "exp {x}: {} for {exact}", exp_single(x));
        }
        assert_eq!((exp(0.0), exp_single(0.0)), (1.0, 1.0));
        for k in 0..=10_000 {
            let x = f64::from(k) / 10_000.0;
            assert!((sin_pi(x) - math::sin(std::f64::consts::PI * x)).abs() < 1e-14, "sin π {x}");
            let single = f64::from(sin_pi_single(x as f32));
            assert!((single - math::sin(std::f64::consts::PI * x)).abs() < 3e-7, "sin π {x}: {single}");
        }
    }
}
