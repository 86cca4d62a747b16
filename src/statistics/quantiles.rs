//! Quantiles of the normal, gamma and beta distributions, to about the last three digits of double precision.

use crate::math::{exp, ln, ln_1p, ln_gamma};

/// ½ ln 2π.
const HALF_LN_TAU: f64 = 0.918_938_533_204_672_7;

/// The standard normal quantile Φ⁻¹ of `p`, 0 to 1; infinite at the ends, `NaN` outside.
///
/// Wichura (1988), Applied Statistics 37:477, algorithm AS 241, routine PPND16: about 16 digits.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    const A: [f64; 8] = [
        3.387_132_872_796_366_5,
        133.141_667_891_784_38,
        1_971.590_950_306_551_3,
        13_731.693_765_509_46,
        45_921.953_931_549_87,
        67_265.770_927_008_7,
        33_430.575_583_588_13,
        2_509.080_928_730_122_7,
    ];
    const B: [f64; 8] = [
        1.0,
        42.313_330_701_600_91,
        687.187_007_492_057_9,
        5_394.196_021_424_751,
        21_213.794_301_586_597,
        39_307.895_800_092_71,
        28_729.085_735_721_943,
        5_226.495_278_852_545,
    ];
    const C: [f64; 8] = [
        1.423_437_110_749_683_5,
        4.630_337_846_156_546,
        5.769_497_221_460_691,
        3.647_848_324_763_204_5,
        1.270_458_252_452_368_4,
        0.241_780_725_177_450_6,
        0.022_723_844_989_269_184,
        7.745_450_142_783_414e-4,
    ];
    const D: [f64; 8] = [
        1.0,
        2.053_191_626_637_759,
        1.676_384_830_183_803_8,
        0.689_767_334_985_1,
        0.148_103_976_427_480_08,
        0.015_198_666_563_616_457,
        5.475_938_084_995_345e-4,
        1.050_750_071_644_416_9e-9,
    ];
    const E: [f64; 8] = [
        6.657_904_643_501_103,
        5.463_784_911_164_114,
        1.784_826_539_917_291_3,
        0.296_560_571_828_504_87,
        0.026_532_189_526_576_124,
        1.242_660_947_388_078_4e-3,
        2.711_555_568_743_487_6e-5,
        2.010_334_399_292_288_1e-7,
    ];
    const F: [f64; 8] = [
        1.0,
        0.599_832_206_555_888,
        0.136_929_880_922_735_8,
        0.014_875_361_290_850_615,
        7.868_691_311_456_133e-4,
        1.846_318_317_510_054_7e-5,
        1.421_511_758_316_446e-7,
        2.044_263_103_389_939_8e-15,
    ];
    let polynomial = |c: &[f64; 8], x: f64| c.iter().rev().fold(0.0, |sum, c| sum * x + c);
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * polynomial(&A, r) / polynomial(&B, r);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    if tail == 0.0 {
        return f64::INFINITY.copysign(q);
    }
    let r = (-ln(tail)).sqrt();
    let z = if r <= 5.0 {
        polynomial(&C, r - 1.6) / polynomial(&D, r - 1.6)
    } else {
        polynomial(&E, r - 5.0) / polynomial(&F, r - 5.0)
    };
    z.copysign(q)
}

/// What Stirling's formula lacks: ln Γ(a) − ((a − ½) ln a − a + ½ ln 2π); Abramowitz & Stegun (1964), 6.1.41.
fn stirling_rest(a: f64) -> f64 {
    if a < 16.0 {
        return ln_gamma(a) - ((a - 0.5) * ln(a) - a + HALF_LN_TAU);
    }
    // The first term left out is below 1e-16.
    let z = 1.0 / (a * a);
    ((((z / 1188.0 - 1.0 / 1680.0) * z + 1.0 / 1260.0) * z - 1.0 / 360.0) * z + 1.0 / 12.0) / a
}

/// ln(x / middle), both above 0, exact where they lie side by side too; `apart` is how far, in terms of the middle.
fn log_ratio(x: f64, middle: f64, apart: f64) -> f64 {
    if apart > -0.5 { ln_1p(apart) } else { ln(x / middle) }
}

/// x^a e^(−x) / Γ(a): `x` times the density of a gamma variate. Large terms are taken from each other before they are formed
/// (Loader 2000, "Fast and accurate computation of binomial probabilities").
fn gamma_power(a: f64, x: f64) -> f64 {
    let apart = (x - a) / a;
    exp(a * (log_ratio(x, a, apart) - apart) - stirling_rest(a) - HALF_LN_TAU) * a.sqrt()
}

/// Shares of a gamma variate of shape `a` and scale 1 below and above `x`, both above 0: the series where `x` is small
/// (Abramowitz & Stegun 1964, 6.5.29), else Legendre's continued fraction (6.5.31).
fn gamma_shares(a: f64, x: f64) -> (f64, f64) {
    let power = gamma_power(a, x);
    if x < a + 1.0 {
        let (mut term, mut sum, mut n) = (1.0 / a, 1.0 / a, a);
        while term > sum * 1e-17 {
            n += 1.0;
            term *= x / n;
            sum += term;
        }
        return (power * sum, 1.0 - power * sum);
    }
    let fraction = fraction(x + 1.0 - a, |k| (-k * (k - a), x + 2.0 * k + 1.0 - a));
    (1.0 - power / fraction, power / fraction)
}

/// Shares of a beta variate below and above `x`, 0 < x < 1: DLMF 8.17.22, at whichever end its continued fraction is short.
fn beta_shares(a: f64, b: f64, x: f64) -> (f64, f64) {
    if x > (a + 1.0) / (a + b + 2.0) {
        let (above, below) = beta_shares(b, a, 1.0 - x);
        return (below, above);
    }
    let fraction = fraction(1.0, |k| {
        let m = (k / 2.0).floor();
        let two = a + 2.0 * m;
        let part = if k % 2.0 == 0.0 {
            m * (b - m) / ((two - 1.0) * two)
        } else {
            -(a + m) * (a + b + m) / (two * (two + 1.0))
        };
        (part * x, 1.0)
    });
    let below = beta_power(a, b, x) * (1.0 - x) / (a * fraction);
    (below, 1.0 - below)
}

/// x^a (1 − x)^(b − 1) / B(a, b): `x` times the density of a beta variate; see [`gamma_power`].
fn beta_power(a: f64, b: f64, x: f64) -> f64 {
    let (middle, other) = (a / (a + b), b / (a + b));
    let (apart, other_apart) = ((x - middle) / middle, (middle - x) / other);
    let rest = stirling_rest(a + b) - stirling_rest(a) - stirling_rest(b) - HALF_LN_TAU;
    let logs = a * log_ratio(x, middle, apart) + b * log_ratio(1.0 - x, other, other_apart);
    exp(logs + rest) * (a * b / (a + b)).sqrt() / (1.0 - x)
}

/// b₀ + a₁/(b₁ + a₂/(b₂ + ...)), where `parts(k)` gives a and b: Lentz's method as of Thompson & Barnett (1986), Journal of
/// Computational Physics 64:490.
fn fraction(first: f64, parts: impl Fn(f64) -> (f64, f64)) -> f64 {
    const TINY: f64 = 1e-300;
    let filled = |x: f64| if x.abs() < TINY { TINY } else { x };
    let (mut value, mut k) = (filled(first), 0.0);
    let (mut c, mut d) = (value, 0.0);
    loop {
        k += 1.0;
        let (a, b) = parts(k);
        d = 1.0 / filled(b + a * d);
        c = filled(b + a / c);
        value *= c * d;
        if (c * d - 1.0).abs() < 1e-16 || k > 1e6 {
            return value;
        }
    }
}

/// Where a rising function crosses 0: Newton's steps from `x`, halving where one leaves what is known to hold the place.
fn crossing(mut x: f64, mut low: f64, mut high: f64, value_and_slope: impl Fn(f64) -> (f64, f64)) -> f64 {
    for _ in 0..200 {
        let (value, slope) = value_and_slope(x);
        if value < 0.0 {
            low = x;
        } else {
            high = x;
        }
        let next = x - value / slope;
        let next = if next > low && next < high { next } else { 0.5 * (low + high) };
        if (next - x).abs() <= 2e-16 * x {
            return next;
        }
        x = next;
    }
    x
}

/// The value at or below which a gamma variate of this shape, above 0, and scale 1 lies with probability `p`, 0 to 1.
#[must_use]
pub fn gamma_quantile(shape: f64, p: f64) -> f64 {
    if p <= 0.0 || p >= 1.0 || !(shape > 0.0 && shape.is_finite()) {
        return if p == 0.0 {
            0.0
        } else if p == 1.0 {
            f64::INFINITY
        } else {
            f64::NAN
        };
    }
    // Wilson & Hilferty (1931) begin well but for small shapes, where x^a / Γ(a + 1) does.
    let third = 1.0 / (9.0 * shape);
    let cube = 1.0 - third + normal_quantile(p) * third.sqrt();
    let small = exp((ln(p) + ln_gamma(shape + 1.0)) / shape);
    let first = if cube > 0.3 { shape * cube * cube * cube } else { small.max(f64::MIN_POSITIVE) };
    let mut high = first.max(shape).max(1.0);
    while gamma_shares(shape, high).0 < p {
        high *= 2.0;
    }
    crossing(first, 0.0, high, |x| {
        let (below, above) = gamma_shares(shape, x);
        // From the side on which little is left.
        (if p < 0.5 { below - p } else { (1.0 - p) - above }, gamma_power(shape, x) / x)
    })
}

/// The value at or below which a beta variate of shapes `a` and `b`, above 0, lies with probability `p`, 0 to 1.
#[must_use]
pub fn beta_quantile(a: f64, b: f64, p: f64) -> f64 {
    if !(p > 0.0 && p < 1.0 && a > 0.0 && b > 0.0) {
        return if p == 0.0 || p == 1.0 { p } else { f64::NAN };
    }
    crossing(a / (a + b), 0.0, 1.0, |x| {
        let (below, above) = beta_shares(a, b, x);
        (if p < 0.5 { below - p } else { (1.0 - p) - above }, beta_power(a, b, x) / x)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::normal_cdf;

    #[test]
    fn normal_quantiles_are_the_published_ones() {
        // Wichura (1988): the check values given with the routine, and the quantile turned back.
        for (p, z) in
            [(0.25, -0.674_489_750_196_081_7), (0.001, -3.090_232_306_167_814), (1e-20, -9.262_340_089_798_408)]
        {
            assert!((normal_quantile(p) / z - 1.0).abs() < 1e-15, "{p}: {}", normal_quantile(p));
        }
        for k in 1..1000 {
            let p = f64::from(k) / 1000.0;
            assert!((normal_cdf(normal_quantile(p)) - p).abs() < 1e-15, "{p}");
        }
        assert_eq!([normal_quantile(0.0), normal_quantile(1.0)], [f64::NEG_INFINITY, f64::INFINITY]);
    }

    #[test]
    fn closed_forms_of_gamma_and_beta() {
        // Shape 1 is exponential: -ln(1 - p). Shape 1/2 is half a squared normal number.
        for p in [1e-9, 0.025, 0.3, 0.5, 0.95, 0.975, 1.0 - 1e-9] {
            let exponential = -ln_1p(-p);
            assert!((gamma_quantile(1.0, p) / exponential - 1.0).abs() < 1e-13, "{p}");
            // Towards the ends one half and half of p lose what p says.
            let z = normal_quantile(0.5 + 0.5 * p);
            let inside = p > 0.01 && p < 0.99;
            assert!(
                !inside || (gamma_quantile(0.5, p) / (0.5 * z * z) - 1.0).abs() < 1e-12,
                "{p}: {}",
                gamma_quantile(0.5, p)
            );
            // Beta(a, 1): p^(1/a). Beta(1, b): 1 - (1 - p)^(1/b).
            for shape in [0.5, 3.0, 4000.0] {
                let of_a = exp(ln(p) / shape);
                assert!((beta_quantile(shape, 1.0, p) / of_a - 1.0).abs() < 1e-12, "{shape} {p}");
                let of_b = -crate::math::exp_m1(ln_1p(-p) / shape);
                assert!((beta_quantile(1.0, shape, p) / of_b - 1.0).abs() < 1e-11, "{shape} {p}");
            }
        }
    }

    #[test]
    fn quantiles_are_those_of_another_implementation() {
        // `statrs` has other approximations of its own.
        use statrs::distribution::{Beta, ContinuousCDF, Gamma};
        for a in [0.5, 1.5, 8.0, 300.0, 9_000.0] {
            for p in [0.025, 0.2, 0.5, 0.95, 0.975] {
                let gamma = Gamma::new(a, 1.0).expect("above 0").inverse_cdf(p);
                assert!((gamma_quantile(a, p) / gamma - 1.0).abs() < 1e-8, "{a} {p}: {gamma}");
                for b in [0.5, 3.0, 70.0, 1_000.0] {
                    let beta = Beta::new(a, b).expect("above 0").inverse_cdf(p);
                    assert!((beta_quantile(a, b, p) / beta - 1.0).abs() < 1e-8, "{a} {b} {p}: {beta}");
                }
            }
        }
    }

    #[test]
    fn quantiles_turn_back_for_every_size() {
        for a in [0.05, 0.2, 2.0, 30.0, 5e3, 1e7] {
            for p in [0.001, 0.025, 0.5, 0.975, 0.999] {
                let x = gamma_quantile(a, p);
                let (below, above) = gamma_shares(a, x);
                assert!((below - p).abs() < 1e-12 && (below + above - 1.0).abs() < 1e-14, "gamma {a} {p}: {below}");
                for b in [0.5, 7.0, 1e4] {
                    let x = beta_quantile(a, b, p);
                    // What the rounding of x leaves open, and some.
                    let open = 4.0 * f64::EPSILON * beta_power(a, b, x) / x;
                    assert!((beta_shares(a, b, x).0 - p).abs() < 1e-12 + open, "beta {a} {b} {p}: {x}");
                }
            }
        }
    }
}
