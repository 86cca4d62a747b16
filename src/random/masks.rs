//! Choices by bits, for loops that become vectors: as wide as a number, so that vectors need not change width.

/// All bits where something holds, none where it does not.
#[inline(always)]
#[must_use]
pub fn flag(holds: bool) -> u64 {
    if holds { u64::MAX } else { 0 }
}

/// A number where the mask is set, 0 where it is not.
#[inline(always)]
#[must_use]
pub fn masked(value: f64, mask: u64) -> f64 {
    f64::from_bits(value.to_bits() & mask)
}

/// One number where the mask is set, the other where it is not.
#[inline(always)]
#[must_use]
pub fn either(mask: u64, yes: f64, no: f64) -> f64 {
    f64::from_bits((yes.to_bits() & mask) | (no.to_bits() & !mask))
}
