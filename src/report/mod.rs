//! Answers as text, tables, charts, JSON and CSV. Everything here is a function of its arguments.

pub mod chart;
pub mod check;
pub mod climate;
pub mod json;
pub mod notes;
pub mod outage;
pub mod proof_html;
pub mod proof_json;
pub mod prove;
pub mod trace;
pub mod words;
