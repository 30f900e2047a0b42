//! `oystermark bath add`, `export` and `import`: reports into the log, the log out and in.

use std::fs::File;
use std::io::{BufReader, Read, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use oystermark::bath::exchange::{ImportError, from_csv, from_json, to_csv, to_json};
use oystermark::bath::log::{Added, BathLog, DayFrom, Row};
use oystermark::bath::{Day, PlateOf, plate_row};

use super::added::{in_words_added, may_be_of_another_day};
use super::{LogArgs, in_words, now};
use crate::cli::exit::{Exit, Trouble};
use crate::cli::screen::{Output, complain};

/// Largest report that is read, bytes; reports are about a tenth of a megabyte. Our own choice.
const MOST_REPORT_BYTES: u64 = 32 << 20;

/// Add plates to a log from their JSON reports; a plate added twice counts once
///
/// The same plate is the same name, bath and day. Added again with the same figures it changes nothing; with other
/// figures it is a new row that corrects the older one.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  oystermark bath add --bath A --on 2026-05-12 market-day/reports/*.json
  oystermark bath add --bath A --corrects 3fa2c81b market-day/reports/A-011.json")]
pub struct AddArgs {
    #[command(flatten)]
    log: LogArgs,

    /// Bath in which the plates were sensitized, as in A
    #[arg(long, value_name = "NAME")]
    bath: String,

    /// Day on which they were made, as in 2026-05-12 [default: today, or with --corrects the day of that row]
    ///
    /// The same name on another day is another plate. Without a day, a plate with the same figures as one of its name
    /// is that plate; with other figures it is not added until a day is said.
    #[arg(long, value_name = "DATE")]
    on: Option<Day>,

    /// Key of the row that this one plate corrects, or the start of it; bath export shows the keys
    ///
    /// Nothing in a log is overwritten: the older row stays in the file and no longer counts.
    #[arg(long, value_name = "KEY")]
    corrects: Option<String>,

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
    let rows = if added.new == 1 { "row" } else { "rows" };
    Output::default().line(&in_words_added(added, rows, &log.display().to_string()))
}

/// Adds reports.
pub fn add(args: &AddArgs) -> Result<Exit, Trouble> {
    if let Some(key) = &args.corrects {
        return correct(args, key);
    }
    let day = args.on.unwrap_or_else(now::today);
    let stamp = now::stamp();
    let mut rows = Vec::new();
    let mut exit = Exit::Analysed;
    for file in &args.reports {
        match row_of(file, &args.bath, &day.to_string(), &stamp) {
            Ok(row) => rows.push(row),
            Err(trouble) => {
                complain(&trouble);
                exit = Exit::Failed;
            }
        }
    }
    if !rows.is_empty() {
        let mut log = BathLog::open(&args.log.log).map_err(|error| in_words(&error))?;
        let (added, unplaced) = log
            .add_plates(&rows, DayFrom::of(args.on))
            .map_err(|error| in_words(&error))?;
        say(&args.log.log, added)?;
        if let Some(trouble) = may_be_of_another_day(&unplaced, &args.bath, day) {
            complain(&trouble);
            exit = Exit::Failed;
        }
    }
    Ok(exit)
}

/// Adds the one report that corrects a row.
fn correct(args: &AddArgs, start: &str) -> Result<Exit, Trouble> {
    let [file] = args.reports.as_slice() else {
        return Err(Trouble::of_command(
            "one report corrects one row, and several were given",
            "give the report that stands for the row of that key",
        ));
    };
    let path = &args.log.log;
    let mut log = BathLog::open_existing(path).map_err(|error| in_words(&error))?;
    let key = log.key_of(start).map_err(|error| in_words(&error))?;
    let rows = log
        .rows(Some(&args.bath))
        .map_err(|error| in_words(&error))?;
    let corrected = rows.iter().find(|row| row.key() == key).map(Row::day);
    let day = args.on.or(corrected).unwrap_or_else(now::today);
    let row = row_of(file, &args.bath, &day.to_string(), &now::stamp())?.correcting(&key);
    log.add(std::slice::from_ref(&row))
        .map_err(|error| in_words(&error))?;
    Output::default().line(&format!(
        "Written into {}: plate {} of bath {} on {day}, key {}, corrects {key}",
        path.display(),
        row.text("plate").unwrap_or_default(),
        row.bath(),
        row.key()
    ))?;
    Ok(Exit::Analysed)
}

/// The row of a report, which has the plate's name.
fn row_of(file: &Path, bath: &str, day: &str, recorded: &str) -> Result<Row, Trouble> {
    let plate = file.file_stem().unwrap_or_default().to_string_lossy();
    let of = PlateOf {
        plate: &plate,
        bath,
        day,
        recorded,
    };
    read_report(file).and_then(|json| {
        plate_row(&json, &of)
            .map_err(|why| Trouble::new(file, why, "give the STEM.json of a plate"))
    })
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
