//! The text of a record, unpacked piece by piece where it is packed, within stated limits.

use std::io::{self, Cursor, Read};

use super::RecordErrors;
use super::record::whole;

/// Most rows of a record: eleven years of minutes, or seven centuries of hours.
pub(super) const MOST_ROWS: usize = 6_000_000;
/// Most unpacked bytes: a packed file of a megabyte may hold a gigabyte of nothing.
const LARGEST: u64 = 1_000_000_000;
/// Longest line \[bytes\].
const LONGEST_LINE: usize = 20_000;

/// The bytes themselves, or what they unpack to where they begin like a gzip file.
pub(super) fn plain<'a>(mut bytes: impl Read + 'a) -> impl Read + 'a {
    let mut head = Vec::new();
    // What cannot be read now cannot be read again either.
    let failed = (&mut bytes).take(2).read_to_end(&mut head).err();
    let packed = head == [0x1f, 0x8b];
    let whole = Cursor::new(head).chain(Failing(failed)).chain(bytes);
    let inner: Box<dyn Read> =
        if packed { Box::new(Named(flate2::read::MultiGzDecoder::new(whole))) } else { Box::new(whole) };
    Bounded { inner, left: LARGEST, line: 0 }
}

/// An error that reading ended with, if it did.
struct Failing(Option<io::Error>);

impl Read for Failing {
    fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
        self.0.take().map_or(Ok(0), Err)
    }
}

/// Unpacking whose errors say what they are about.
struct Named<R>(R);

impl<R: Read> Read for Named<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.0.read(into).map_err(|error| io::Error::other(format!("a damaged gzip file ({error})")))
    }
}

/// Why reading ended early, for a person.
pub(super) fn broken(name: &str, error: &csv::Error) -> RecordErrors {
    match error.kind() {
        csv::ErrorKind::Io(error) => whole(
            name,
            error.to_string(),
            &format!(
                "a CSV file, plain or packed with gzip, of up to {} MB unpacked, in lines of up to {LONGEST_LINE} characters",
                LARGEST / 1_000_000
            ),
        ),
        _ => whole(name, error.to_string(), "UTF-8 text with a first line of column names"),
    }
}

/// That a record has more rows than are read.
pub(super) fn too_long(name: &str) -> RecordErrors {
    let what = "at most 6,000,000 rows, eleven years of minutes: give means over longer steps, or fewer years";
    whole(name, "more rows than that".to_owned(), what)
}

struct Bounded<R> {
    inner: R,
    /// Bytes that may still come.
    left: u64,
    /// Bytes since the last line break.
    line: usize,
}

impl<R: Read> Read for Bounded<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let read = self.inner.read(into)?;
        self.left = self
            .left
            .checked_sub(read as u64)
            .ok_or_else(|| io::Error::other(format!("more than {} MB", LARGEST / 1_000_000)))?;
        self.line = match into[..read].iter().rposition(|byte| *byte == b'\n') {
            Some(at) => read - 1 - at,
            None => self.line + read,
        };
        if self.line > LONGEST_LINE {
            return Err(io::Error::other(format!("a line of more than {LONGEST_LINE} characters")));
        }
        Ok(read)
    }
}
