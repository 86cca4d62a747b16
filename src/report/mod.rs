//! Answers as text, tables, charts, JSON and CSV. Everything here is a function of its arguments.

pub mod appliances;
pub mod chart;
pub mod check;
pub mod climate;
pub mod food;
pub mod json;
pub mod notes;
pub mod outage;
pub mod trace;
pub mod words;
