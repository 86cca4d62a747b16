//! `tideover schema`.

use clap::Args;
use clap::builder::PossibleValuesParser;

use super::output::print;
use super::{Done, Failure};
use tideover::report::answers;
use tideover::scenario::schema::json_schema;

/// Arguments of `schema`.
#[derive(Debug, Args)]
pub struct SchemaArgs {
    /// The answer whose schema is wanted, by what stands under `kind` in its JSON, instead of the scenario's
    #[arg(long, value_name = "KIND", value_parser = PossibleValuesParser::new(answers::kinds()))]
    answer: Option<String>,
}

/// Runs the command.
pub fn main(args: &SchemaArgs) -> Result<Done, Failure> {
    let schema = args.answer.as_deref().and_then(answers::json_schema).unwrap_or_else(json_schema);
    print(&format!("{schema:#}\n"))?;
    Ok(Done::Answered)
}
