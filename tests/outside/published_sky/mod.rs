//! The sky module against published figures and general reference libraries.
//!
//! `tests/data/README.md` names the source of each table, its standing and its rounding. A tolerance is the rounding of the
//! table unless a sentence beside it gives another reason.

mod irradiance;
mod outside;
mod panel;
mod sun;
mod table;
