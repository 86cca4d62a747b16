//! Tables packed into the program: unpacked by zlib and read from front to back. `places/README.md` and `weather/README.md`
//! describe what lies in them.

use std::io::Read;

use flate2::read::ZlibDecoder;

/// The bytes of a packed table, `"weather/"`, `"world.bin"`. With the feature `stored-tables` they come from the folder that
/// TIDEOVER_TABLES names, where `page/tables.mjs` has stored them with nothing packed: a page is packed as a whole.
macro_rules! table {
    ($folder:literal, $name:literal) => {{
        #[cfg(feature = "stored-tables")]
        const BYTES: &[u8] = include_bytes!(concat!(env!("TIDEOVER_TABLES"), "/", $name));
        #[cfg(not(feature = "stored-tables"))]
        const BYTES: &[u8] = include_bytes!(concat!(env!("CARGO_MANIFEST_DIR"), "/", $folder, $name));
        BYTES
    }};
}
pub(crate) use table;

/// What was packed; `None` where it is broken.
pub(crate) fn unpacked(packed: &[u8]) -> Option<Vec<u8>> {
    let mut payload = Vec::with_capacity(4 * packed.len());
    ZlibDecoder::new(packed).read_to_end(&mut payload).ok()?;
    Some(payload)
}

/// Reads a payload from front to back; `None` from each where too little is left.
pub(crate) struct Reader<'a>(pub &'a [u8]);

impl<'a> Reader<'a> {
    pub fn take(&mut self, bytes: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.0.split_at_checked(bytes)?;
        self.0 = rest;
        Some(taken)
    }

    pub fn u16(&mut self) -> Option<u16> {
        self.take(2)?.try_into().ok().map(u16::from_le_bytes)
    }

    pub fn u32(&mut self) -> Option<u32> {
        self.take(4)?.try_into().ok().map(u32::from_le_bytes)
    }
}
