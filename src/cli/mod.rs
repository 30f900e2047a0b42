//! What is typed, printed and written; belongs to the program, not to the library.
//!
//! Comes in: the command line. Goes out: files, a table, an [`Exit`] code.
//! Units: as typed, checked in `args`. Not here: anything that measures or judges.
//!
//! One command, one file: a new command is a variant of [`Command`] and a file beside `read.rs`.

use clap::{Parser, Subcommand};

mod args;
mod bath;
mod causes;
mod exit;
mod guard;
mod handling;
mod inputs;
mod practice;
mod read;
mod screen;
mod season;
mod session;
mod short_text;
mod sheet;
mod told;
mod typed;
mod write;

pub use exit::Exit;

/// Reads scans of wet-plate collodion pictures and says what went wrong, where, how sure it is,
/// what most likely caused it and what to try next.
#[derive(Debug, Parser)]
#[command(
    name = "oystermark",
    version,
    arg_required_else_help = true,
    after_help = "Start with:\n  oystermark read plate.tif\n\nEach command has its own help: oystermark read --help"
)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Read(Box<read::ReadArgs>),
    Causes(causes::CausesArgs),
    Sheet(sheet::SheetArgs),
    Bath(bath::BathArgs),
    Practice(practice::PracticeArgs),
}

/// Runs the command that was typed and returns the exit code.
pub fn run() -> Exit {
    let command = match Cli::try_parse() {
        Ok(cli) => cli.command,
        Err(error) => return typed::answer(&error),
    };
    match command {
        Command::Read(args) => read::run(*args),
        Command::Causes(args) => causes::run(args),
        Command::Sheet(args) => sheet::run(&args),
        Command::Bath(args) => bath::run(args),
        Command::Practice(args) => practice::run(args),
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        super::Cli::command().debug_assert();
    }
}
