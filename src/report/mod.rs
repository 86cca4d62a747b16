//! Answers as text, tables, charts, JSON and CSV. Everything here is a function of its arguments.

pub mod advise;
pub mod card;
pub mod chart;
pub mod check;
pub mod climate;
pub mod compare;
pub mod json;
pub mod lineup;
pub mod lineup_data;
pub mod lineup_kit;
pub mod lineup_page;
pub mod notes;
pub mod now;
pub mod outage;
pub mod outage_page;
pub mod page;
pub mod size;
pub mod svg;
pub mod trace;
pub mod words;
pub mod years;
pub mod years_json;
