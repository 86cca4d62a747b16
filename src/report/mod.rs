//! Answers as text, tables, charts, JSON and CSV. Everything here is a function of its arguments.

pub mod advise;
pub mod card;
pub mod chart;
pub mod check;
pub mod climate;
pub mod compare;
pub mod json;
pub mod notes;
pub mod now;
pub mod outage;
pub mod outage_page;
pub mod page;
pub mod proof_html;
pub mod proof_json;
pub mod prove;
pub mod rare;
pub mod size;
pub mod svg;
pub mod trace;
pub mod words;
pub mod years;
pub mod years_json;
