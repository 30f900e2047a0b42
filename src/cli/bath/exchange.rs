//! `oystermark bath add`, `export` and `import`: reports into the log, the log out and in.

use std::fs::File;
use std::io::{BufReader, Read, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use oystermark::bath::exchange::{ImportError, from_csv, from_json, to_csv, to_json};
use oystermark::bath::log::{Added, BathLog};
use oystermark::bath::{Day, PlateOf, plate_row};

use super::{LogArgs, in_words, now};
use crate::cli::exit::{Exit, Trouble};
use crate::cli::screen::{Output, complain};

/// Largest report that is read, bytes; reports are about a tenth of a megabyte. Our own choice.
const MOST_REPORT_BYTES: u64 = 32 << 20;

/// Add plates to a log from their JSON reports; a report added twice counts once
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  oystermark bath add --bath A --on 2026-05-12 market-day/reports/*.json"
)]
pub struct AddArgs {
    #[command(flatten)]
    log: LogArgs,

    /// Bath in which the plates were sensitized, as in A
    #[arg(long, value_name = "NAME")]
    bath: String,

    /// Day on which they were made, as in 2026-05-12 [default: today]
    #[arg(long, value_name = "DATE")]
    on: Option<Day>,

    /// Reports (STEM.json)
    #[arg(required = true, value_name = "REPORT")]
    reports: Vec<PathBuf>,
}

/// Kinds of file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    Csv,
    Json,
}

impl Format {
    fn of(given: Option<Format>, file: &Path) -> Result<Format, Trouble> {
        let ending = file.extension().map(|e| e.to_string_lossy().to_lowercase());
        match (given, ending.as_deref()) {
            (Some(format), _) => Ok(format),
            (None, Some("csv")) => Ok(Format::Csv),
            (None, Some("json")) => Ok(Format::Json),
            _ => Err(Trouble::new(
                file,
                "the name ends neither in .csv nor in .json",
                "say --format csv or --format json",
            )),
        }
    }
}

/// Write out a whole log as CSV or JSON
///
/// Corrected rows are written out too, so that what is imported elsewhere is the same log.
#[derive(Debug, Args)]
pub struct ExportArgs {
    #[command(flatten)]
    log: LogArgs,

    /// File to write; it must not be there yet
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// Kind of file [default: by the ending of its name]
    #[arg(long, value_enum)]
    format: Option<Format>,
}

/// Take in the rows of a CSV or JSON file, all of them or none
///
/// Rows that are in the log already are left alone. Of a CSV the first line names the columns, as bath export writes
/// them; only `row` (plate, reading or event), bath and day are always needed.
#[derive(Debug, Args)]
pub struct ImportArgs {
    #[command(flatten)]
    log: LogArgs,

    /// File to read
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// Kind of file [default: by the ending of its name]
    #[arg(long, value_enum)]
    format: Option<Format>,
}

fn cannot_read(file: &Path, error: &std::io::Error) -> Trouble {
    let text = error.to_string();
    let plain = text
        .split(" (os error")
        .next()
        .unwrap_or(&text)
        .to_lowercase();
    Trouble::new(
        file,
        format!("cannot be read: {plain}"),
        "give the name of a file that can",
    )
}

fn say(log: &Path, added: Added) -> Result<(), Trouble> {
    let Added { new, known } = added;
    let were = match known {
        0 => String::new(),
        _ => format!(", {known} were there already"),
    };
    let rows = if new == 1 { "row" } else { "rows" };
    Output::default().line(&format!("{new} new {rows} in {}{were}", log.display()))
}

/// Adds reports.
pub fn add(args: &AddArgs) -> Result<Exit, Trouble> {
    let day = args.on.unwrap_or_else(now::today).to_string();
    let stamp = now::stamp();
    let mut rows = Vec::new();
    let mut exit = Exit::Analysed;
    for file in &args.reports {
        let stem = file.file_stem().unwrap_or_default().to_string_lossy();
        let of = PlateOf {
            plate: &stem,
            bath: &args.bath,
            day: &day,
            recorded: &stamp,
        };
        let row = read_report(file).and_then(|json| {
            plate_row(&json, &of)
                .map_err(|why| Trouble::new(file, why, "give the STEM.json of a plate"))
        });
        match row {
            Ok(row) => rows.push(row),
            Err(trouble) => {
                complain(&trouble);
                exit = Exit::Failed;
            }
        }
    }
    if !rows.is_empty() {
        let mut log = BathLog::open(&args.log.log).map_err(|error| in_words(&error))?;
        let added = log.add(&rows).map_err(|error| in_words(&error))?;
        say(&args.log.log, added)?;
    }
    Ok(exit)
}

fn read_report(file: &Path) -> Result<String, Trouble> {
    let opened = File::open(file).map_err(|error| cannot_read(file, &error))?;
    let mut text = String::new();
    let read = opened.take(MOST_REPORT_BYTES).read_to_string(&mut text);
    match read {
        Ok(_) => Ok(text),
        Err(error) if error.kind() == std::io::ErrorKind::InvalidData => Err(Trouble::new(
            file,
            "this is not the JSON of a plate report",
            "give the STEM.json of a plate",
        )),
        Err(error) => Err(cannot_read(file, &error)),
    }
}

/// Writes the log out.
pub fn export(args: &ExportArgs) -> Result<Exit, Trouble> {
    let format = Format::of(args.format, &args.file)?;
    let log = BathLog::open_existing(&args.log.log).map_err(|error| in_words(&error))?;
    let rows = log.rows(None).map_err(|error| in_words(&error))?;
    let folder = match args.file.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let write = || -> std::io::Result<()> {
        let mut staged = tempfile::NamedTempFile::new_in(folder)?;
        {
            let mut to = std::io::BufWriter::new(staged.as_file_mut());
            match format {
                Format::Csv => to_csv(&rows, &mut to)?,
                Format::Json => to_json(&rows, &mut to)?,
            }
            to.flush()?;
        }
        staged.as_file().sync_all()?;
        staged
            .persist_noclobber(&args.file)
            .map_err(|error| error.error)?;
        Ok(())
    };
    write().map_err(|error| {
        let why = match error.kind() {
            std::io::ErrorKind::AlreadyExists => "there is a file of that name already".to_owned(),
            _ => format!("could not be written: {error}"),
        };
        Trouble::new(&args.file, why, "give another name")
    })?;
    let (count, file) = (rows.len(), args.file.display());
    Output::default().line(&format!("{count} rows written to {file}"))?;
    Ok(Exit::Analysed)
}

/// Takes rows in.
pub fn import(args: &ImportArgs) -> Result<Exit, Trouble> {
    let format = Format::of(args.format, &args.file)?;
    let file = File::open(&args.file).map_err(|error| cannot_read(&args.file, &error))?;
    let mut log = BathLog::open(&args.log.log).map_err(|error| in_words(&error))?;
    let stamp = now::stamp();
    let taken = match format {
        Format::Csv => from_csv(&mut log, file, &stamp),
        Format::Json => from_json(&mut log, BufReader::new(file), &stamp),
    };
    let error = match taken {
        Ok(added) => {
            say(&args.log.log, added)?;
            return Ok(Exit::Analysed);
        }
        Err(error) => error,
    };
    match &error {
        ImportError::Log(error) => Err(in_words(error)),
        ImportError::Refused {
            unit,
            first,
            count,
            stopped,
        } => {
            for refusal in first {
                complain(&Trouble::new(
                    &args.file,
                    format!("{unit} {}: {}", refusal.line, refusal.why),
                    "nothing of the file was taken",
                ));
            }
            let more = count - first.len();
            if more > 0 || *stopped {
                let rest = if *stopped {
                    "the rest of the file was not looked at".to_owned()
                } else {
                    format!("{more} more {unit}s cannot be taken")
                };
                complain(&Trouble::new(&args.file, rest, "mend these first"));
            }
            Ok(Exit::Failed)
        }
    }
}
