//! A digest of everything that a cell depends on.

use std::fmt;

/// FNV-1a in 128 bits (Fowler, Noll, Vo & Eastlake): not proof against malice, but no two cells of a million catalogues
/// will ever share it by chance (about 2^-88 for a million cells).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Digest(u128);

impl Digest {
    /// The digest of nothing.
    pub const EMPTY: Digest = Digest(0x6c62_272e_07bb_0142_62b8_2175_6295_c58d);

    /// FNV's 128-bit prime, 2^88 + 2^8 + 0x3b.
    const PRIME: u128 = (1 << 88) + 0x13b;

    fn bytes(self, bytes: &[u8]) -> Digest {
        Digest(bytes.iter().fold(self.0, |hash, byte| (hash ^ u128::from(*byte)).wrapping_mul(Digest::PRIME)))
    }

    /// With one more part. Its length goes in first, so that no two lists of parts run together.
    #[must_use]
    pub fn with(self, part: &[u8]) -> Digest {
        self.bytes(&(part.len() as u64).to_le_bytes()).bytes(part)
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:032x}", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_values_come_out() {
        // FNV-1a, 128 bits: values of the FNV test vectors, from memory, and recomputed from the definition by a script.
        let of = |text: &str| Digest::EMPTY.bytes(text.as_bytes()).to_string();
        assert_eq!(of(""), "6c62272e07bb014262b821756295c58d");
        assert_eq!(of("a"), "d228cb696f1a8caf78912b704e4a8964");
        assert_eq!(of("abc"), "a68d622cec8b5822836dbc7977af7f3b");
        assert_eq!(of("foobar"), "343e1662793c64bf6f0d3597ba446f18");
    }

    #[test]
    fn parts_do_not_run_together() {
        assert_ne!(Digest::EMPTY.with(b"ab").with(b"c"), Digest::EMPTY.with(b"a").with(b"bc"));
        assert_ne!(Digest::EMPTY.with(b""), Digest::EMPTY);
    }
}
