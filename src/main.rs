//! The command line of tideover.

use std::process::ExitCode;

fn main() -> ExitCode {
    tideover::cli::main()
}
