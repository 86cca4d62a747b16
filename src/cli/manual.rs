//! `tideover completions` and `tideover man`.

use std::io;
use std::path::PathBuf;

use clap::{Args, Command, CommandFactory};
use clap_complete::Shell;
use clap_mangen::Man;

use super::output::{PendingFile, folder, print};
use super::{Cli, Done, Failure};

/// Arguments of `completions`.
#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// The shell
    shell: Shell,
}

/// Arguments of `man`.
#[derive(Debug, Args)]
pub struct ManArgs {
    /// Write a page for the program and one for each command into this folder, made where it is not there
    #[arg(long, value_name = "FOLDER")]
    into: Option<PathBuf>,
}

fn text(write: impl FnOnce(&mut Vec<u8>) -> io::Result<()>) -> Result<String, Failure> {
    let mut out = Vec::new();
    write(&mut out).map_err(|error| Failure::Other(error.to_string()))?;
    String::from_utf8(out).map_err(|error| Failure::Other(error.to_string()))
}

/// Runs `completions`.
pub fn completions(args: &CompletionsArgs) -> Result<Done, Failure> {
    let written = text(|out| {
        clap_complete::generate(args.shell, &mut Cli::command(), "tideover", out);
        Ok(())
    })?;
    print(&written)?;
    Ok(Done::Answered)
}

/// Runs `man`.
pub fn man(args: &ManArgs) -> Result<Done, Failure> {
    let mut program = Cli::command();
    program.build();
    let Some(into) = &args.into else {
        print(&text(|out| Man::new(program.clone()).render(out))?)?;
        return Ok(Done::Answered);
    };
    let into = folder(into)?;
    let mut pages = Vec::new();
    gather(&program, "tideover", &mut pages)?;
    // All of them are opened before any is written.
    let open = |(name, page): (String, String)| Ok((PendingFile::open(&into.join(name))?, page));
    let files: Vec<(PendingFile, String)> = pages.into_iter().map(open).collect::<Result<_, Failure>>()?;
    for (file, page) in files {
        file.commit(&page)?;
    }
    Ok(Done::Answered)
}

/// The page of a command and those of the commands below it, each named like `tideover-climate-show.1`.
fn gather(command: &Command, name: &str, pages: &mut Vec<(String, String)>) -> Result<(), Failure> {
    let page = text(|out| Man::new(command.clone()).title(name.to_string()).render(out))?;
    pages.push((format!("{name}.1"), page));
    for below in command.get_subcommands().filter(|below| below.get_name() != "help") {
        gather(below, &format!("{name}-{}", below.get_name()), pages)?;
    }
    Ok(())
}
