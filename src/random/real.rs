//! Single and double precision by one text.
//!
//! What is drawn and what the panels make of it is worked out in single precision, which vectors hold twice as much of;
//! energies are kept in double precision. The same text in double precision is what single precision is judged by.

use std::fmt::Debug;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

use super::polynomials;

/// A number of either precision. Nothing here rounds differently on another processor.
pub trait Real:
    Copy
    + Default
    + Debug
    + PartialOrd
    + Send
    + Sync
    + 'static
    + Add<Output = Self>
    + AddAssign
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
{
    /// One.
    const ONE: Self;

    /// The nearest to `x`.
    fn of(x: f64) -> Self;

    /// `x` itself.
    fn of_single(x: f32) -> Self;

    /// Itself in double precision.
    fn wide(self) -> f64;

    /// e to the power of it, to 2 units in the last place, for -80 to 80.
    fn exp(self) -> Self;

    /// Its square root, rounded correctly (IEEE 754).
    fn root(self) -> Self;

    /// sin π x for x in 0..=1, to a few units in the last place of 1.
    fn sin_pi(self) -> Self;

    /// The nearest whole number to `self − ½`, which must lie within -½..=4,000,000, as an index and as it is.
    fn node(self) -> (usize, Self);
}

impl Real for f64 {
    const ONE: f64 = 1.0;

    #[inline(always)]
    fn of(x: f64) -> f64 {
        x
    }

    #[inline(always)]
    fn of_single(x: f32) -> f64 {
        f64::from(x)
    }

    #[inline(always)]
    fn wide(self) -> f64 {
        self
    }

    #[inline(always)]
    fn exp(self) -> f64 {
        polynomials::exp(self)
    }

    #[inline(always)]
    fn root(self) -> f64 {
        self.sqrt()
    }

    #[inline(always)]
    fn sin_pi(self) -> f64 {
        polynomials::sin_pi(self)
    }

    #[inline(always)]
    fn node(self) -> (usize, f64) {
        /// Adding this rounds to whole numbers and leaves them in the low bits.
        const ROUND: f64 = 6_755_399_441_055_744.0;
        let shifted = self - 0.5 + ROUND;
        ((shifted.to_bits() & 0x003f_ffff) as usize, shifted - ROUND)
    }
}

impl Real for f32 {
    const ONE: f32 = 1.0;

    #[inline(always)]
    fn of(x: f64) -> f32 {
        x as f32
    }

    #[inline(always)]
    fn of_single(x: f32) -> f32 {
        x
    }

    #[inline(always)]
    fn wide(self) -> f64 {
        f64::from(self)
    }

    #[inline(always)]
    fn exp(self) -> f32 {
        polynomials::exp_single(self)
    }

    #[inline(always)]
    fn root(self) -> f32 {
        self.sqrt()
    }

    #[inline(always)]
    fn sin_pi(self) -> f32 {
        polynomials::sin_pi_single(self)
    }

    #[inline(always)]
    fn node(self) -> (usize, f32) {
        /// As above.
        const ROUND: f32 = 12_582_912.0;
        let shifted = self - 0.5 + ROUND;
        ((shifted.to_bits() & 0x003f_ffff) as usize, shifted - ROUND)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nodes_lie_below_and_never_far() {
        for k in 0..=9600 {
            let x = f64::from(k) / 100.0;
            let (index, whole) = x.node();
            assert_eq!(index as f64, whole);
            assert!((0.0..=1.0).contains(&(x - whole)), "{x}: {whole}");
            let (index, whole) = (x as f32).node();
            assert_eq!(index as f32, whole);
            assert!((0.0..=1.0).contains(&(x as f32 - whole)), "{x}: {whole}");
        }
    }
}
