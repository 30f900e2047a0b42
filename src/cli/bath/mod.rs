//! `oystermark bath`: the silver bath over weeks. One task, one file.

use std::path::PathBuf;

use clap::{Args, Subcommand};

use oystermark::bath::log::{BathError, BathLog};

use super::exit::{Exit, Trouble};
use super::screen::complain;

mod added;
mod entry;
mod exchange;
pub mod keep;
mod now;
mod page;
mod strength;
mod verdict;

/// Look after a silver bath: its strength, what to add, and a log of plates, readings and cures
#[derive(Debug, Args)]
pub struct BathArgs {
    #[command(subcommand)]
    task: Task,
}

#[derive(Debug, Subcommand)]
enum Task {
    Strength(strength::StrengthArgs),
    Record(entry::RecordArgs),
    Event(entry::EventArgs),
    Add(exchange::AddArgs),
    Page(page::PageArgs),
    Verdict(verdict::VerdictArgs),
    Export(exchange::ExportArgs),
    Import(exchange::ImportArgs),
}

/// Where the log lies.
#[derive(Debug, Args)]
struct LogArgs {
    /// The log of the baths, one file for all of them
    #[arg(long, value_name = "FILE", default_value = "baths.log")]
    log: PathBuf,
}

/// Runs one of the tasks.
pub fn run(args: BathArgs) -> Exit {
    let done = match args.task {
        Task::Strength(args) => strength::run(&args),
        Task::Record(args) => entry::record(&args),
        Task::Event(args) => entry::event(&args),
        Task::Add(args) => exchange::add(&args),
        Task::Page(args) => page::run(&args),
        Task::Verdict(args) => verdict::run(&args),
        Task::Export(args) => exchange::export(&args),
        Task::Import(args) => exchange::import(&args),
    };
    done.unwrap_or_else(|trouble| {
        complain(&trouble);
        Exit::Failed
    })
}

/// A trouble with a log.
fn in_words(error: &BathError) -> Trouble {
    Trouble::of_command(error.to_string(), error.hint())
}

/// An existing log and the baths of it that are asked about.
fn wanted(log: &LogArgs, bath: Option<&str>) -> Result<(BathLog, Vec<String>), Trouble> {
    let path = &log.log;
    let log = BathLog::open_existing(path).map_err(|error| in_words(&error))?;
    let mut baths = log.baths().map_err(|error| in_words(&error))?;
    if baths.is_empty() {
        return Err(Trouble::new(
            path,
            "the log is empty",
            "add plates with bath add or read --log",
        ));
    }
    if let Some(bath) = bath {
        if !baths.iter().any(|name| name == bath) {
            return Err(Trouble::new(
                path,
                format!("no bath {bath} in the log"),
                format!("it knows: {}", baths.join(", ")),
            ));
        }
        baths = vec![bath.to_owned()];
    }
    Ok((log, baths))
}

/// A number as it is typed.
fn number(typed: &str) -> Result<f64, String> {
    match typed.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ if typed.contains(',') => Err("write the decimals after a point, as in 1.07".to_owned()),
        _ => Err("not a number".to_owned()),
    }
}
