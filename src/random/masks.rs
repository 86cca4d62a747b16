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

/// Some neighbouring lanes: the `k`th block of `B` of them. Loops over an array of known length become vectors, those over a part
/// of a longer one do not.
#[inline(always)]
#[must_use]
pub fn block<T, const L: usize, const B: usize>(of: &[T; L], k: usize) -> &[T; B] {
    &of.as_chunks::<B>().0[k]
}

/// As [`block`], to be changed.
#[inline(always)]
pub fn block_mut<T, const L: usize, const B: usize>(of: &mut [T; L], k: usize) -> &mut [T; B] {
    &mut of.as_chunks_mut::<B>().0[k]
}
