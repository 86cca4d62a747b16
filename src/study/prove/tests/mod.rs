//! Checks of the proof.
