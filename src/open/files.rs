//! Where the files come from that a scenario names.

use std::collections::BTreeMap;
use std::io::{Cursor, Read};

/// Files by the names that a scenario gives them: a folder on a disk, files dropped on a page, a map in a test.
pub trait Files: Send + Sync {
    /// The bytes of a file.
    ///
    /// # Errors
    /// Why it cannot be read, in a sentence.
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String>;

    /// A file that may be large, to be read from front to back.
    ///
    /// # Errors
    /// As [`Files::bytes`].
    fn reader(&self, name: &str) -> Result<Box<dyn Read + '_>, String> {
        Ok(Box::new(Cursor::new(self.bytes(name)?)))
    }

    /// Whether there is a file of this name.
    fn has(&self, name: &str) -> bool;

    /// What to call a file in messages.
    fn shown(&self, name: &str) -> String {
        name.to_string()
    }

    /// What to call the file with nearly this name, if there is one.
    fn near(&self, _name: &str) -> Option<String> {
        None
    }

    /// A file as text.
    ///
    /// # Errors
    /// As [`Files::bytes`], or that it is no UTF-8.
    fn text(&self, name: &str) -> Result<String, String> {
        as_text(self.bytes(name)?, &self.shown(name))
    }
}

/// Bytes as text, or why they are none.
///
/// # Errors
/// Where the first byte lies that is not UTF-8.
pub fn as_text(bytes: Vec<u8>, name: &str) -> Result<String, String> {
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        format!("{name} is not a text file: byte {at} is not UTF-8")
    })
}

impl Files for BTreeMap<String, Vec<u8>> {
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String> {
        self.get(name).cloned().ok_or_else(|| format!("cannot read {name}: there is no such file"))
    }

    fn has(&self, name: &str) -> bool {
        self.contains_key(name)
    }
}
