//! `oystermark sheet`: an empty session sheet.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use oystermark::sheet::{Separator, empty};

use super::exit::{Exit, Trouble};
use super::inputs::gather;
use super::screen::{Output, complain};
use super::write::OutFolder;

/// Write an empty session sheet with explanations
///
/// A CSV file that any spreadsheet opens: one row for each scan, a column for each thing worth writing
/// down at the bench. Fill in what you know, save it as CSV (UTF-8) and give it to `oystermark read` with
/// --sheet. Units stand in the header: write (F) for (C), (gr per UK oz) for (g/L) where you measure so.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  oystermark sheet market-day.csv --for market-day/\n  oystermark read market-day/ --sheet market-day.csv"
)]
pub struct SheetArgs {
    /// File to write; one that is already there is never touched
    #[arg(default_value = "sheet.csv", value_name = "FILE")]
    file: PathBuf,

    /// Scans, or folders of scans, that get a row each
    #[arg(long = "for", value_name = "SCAN", num_args = 1..)]
    scans: Vec<PathBuf>,

    /// What stands between the cells: where a comma is the decimal mark, spreadsheets want a semicolon
    #[arg(long, value_enum, default_value_t = Between::Comma)]
    separator: Between,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Between {
    Comma,
    Semicolon,
    Tab,
}

/// Writes the sheet.
pub fn run(args: &SheetArgs) -> Exit {
    match write(args) {
        Ok(exit) => exit,
        Err(trouble) => {
            complain(&trouble);
            Exit::Failed
        }
    }
}

fn write(args: &SheetArgs) -> Result<Exit, Trouble> {
    let mut exit = Exit::Analysed;
    let (inputs, troubles) = gather(&args.scans, None);
    for trouble in &troubles {
        complain(trouble);
        exit = Exit::Failed;
    }
    let scans: Vec<String> = inputs
        .iter()
        .filter_map(|input| input.scan.file_name())
        .map(|name| name.to_string_lossy().into_owned())
        .collect();
    let separator = match args.separator {
        Between::Comma => Separator::Comma,
        Between::Semicolon => Separator::Semicolon,
        Between::Tab => Separator::Tab,
    };
    let Some(name) = args.file.file_name() else {
        return Err(Trouble::new(
            &args.file,
            "this names no file",
            "name the sheet to write, as in sheet.csv",
        ));
    };
    let folder = args.file.parent().unwrap_or(Path::new(""));
    let folder = OutFolder::open(match folder.as_os_str().is_empty() {
        true => Path::new("."),
        false => folder,
    })?;
    folder
        .write_new(name, &empty(separator, &scans))
        .inspect_err(|_| folder.remove_if_empty())?;
    Output::default().line(&format!("Fill in {}", args.file.display()))?;
    Ok(exit)
}
