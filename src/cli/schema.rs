//! `tideover schema`.

use super::output::print;
use super::{Done, Failure};
use tideover::scenario::schema::json_schema;

/// Runs the command.
pub fn main() -> Result<Done, Failure> {
    print(&format!("{:#}\n", json_schema()))?;
    Ok(Done::Answered)
}
