//! The command line of tideover.

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::main()
}
