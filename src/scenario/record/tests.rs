//! Checks of the record reader.
