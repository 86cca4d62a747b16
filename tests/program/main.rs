//! The built program as a person meets it, and what it promises of its words and files.

#[path = "../common/mod.rs"]
mod common;
mod program;

mod answers;
mod cli;
mod lineup;
mod now;
mod outputs;
mod pages;
mod place;
mod plain_meaning;
mod prove;
mod readme;
mod schema;
mod wrong;
mod years;
