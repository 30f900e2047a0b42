//! `oystermark practice season`: six weeks of two baths, from painted plates to their pages.

use std::path::{Path, PathBuf};

use clap::Args;
use rayon::prelude::*;

use oystermark::analysis::read_scan;
use oystermark::bath::log::{BathLog, Row, in_force};
use oystermark::bath::sentence::verdict_line;
use oystermark::bath::verdict::judge;
use oystermark::bath::{PlateOf, of_report, page};
use oystermark::plate::Given;
use oystermark::practice::{PracticePlate, Recipe, SeasonStep, season};
use oystermark::settings::Settings;

use super::exit::{Exit, Trouble};
use super::screen::{Output, Progress};
use super::write::OutFolder;

/// Make a season of two baths: paint some sixty plates, read them into a log, and write a page for each bath
///
/// Bath A stays sound. The veil of bath B grows from the third week on, and the bath is sunned in the fifth. The scans
/// are painted into a folder that goes away again; the log stays.
#[derive(Debug, Args)]
pub struct SeasonArgs {
    /// Folder for the pages
    #[arg(long, value_name = "DIR", default_value = "season")]
    out: PathBuf,

    /// Log to write; it must not be there yet [default: baths.log in that folder]
    #[arg(long, value_name = "FILE")]
    log: Option<PathBuf>,
}

/// Makes the season.
pub fn run(args: &SeasonArgs) -> Result<Exit, Trouble> {
    let wrong = |why: String| Trouble::of_command(why, "tell the maintainers");
    let folder = OutFolder::open(&args.out)?;
    let log = args
        .log
        .clone()
        .unwrap_or_else(|| args.out.join("baths.log"));
    if log.exists() {
        return Err(Trouble::new(
            &log,
            "there is a file of that name already",
            "name another log with --log",
        ));
    }
    let scans = tempfile::tempdir()
        .map_err(|error| Trouble::of_command(format!("no room for scans: {error}"), "make room"))?;
    let steps = season().map_err(wrong)?;
    let progress = Progress::new(steps.len(), false);
    let row_of = |step: SeasonStep| {
        let row = match step {
            SeasonStep::Entry(row) => Ok(row),
            SeasonStep::Plate {
                bath,
                day,
                recorded,
                recipe,
            } => {
                progress.reading(&recipe.name);
                let of = PlateOf {
                    plate: &recipe.name,
                    bath,
                    day: &day.to_string(),
                    recorded: &recorded,
                };
                read(&recipe, &of, scans.path())
            }
        };
        progress.done();
        row
    };
    let rows: Result<Vec<Row>, String> = steps.into_par_iter().map(row_of).collect();
    progress.finish();
    let rows = rows.map_err(wrong)?;
    let in_words = |error: oystermark::bath::log::BathError| {
        Trouble::of_command(error.to_string(), error.hint())
    };
    let mut log = BathLog::open(&log).map_err(in_words)?;
    log.add(&rows).map_err(in_words)?;
    let mut output = Output::default();
    for bath in log.baths().map_err(in_words)? {
        let rows = in_force(log.rows(Some(&bath)).map_err(in_words)?);
        let html = page(&bath, &rows, &[], None).map_err(|error| wrong(error.to_string()))?;
        folder.write(&[(format!("bath-{bath}.html"), html.as_str())])?;
        output.line(&verdict_line(&bath, &judge(&rows, &[]), &[]))?;
    }
    Ok(Exit::Analysed)
}

/// Paints a plate and reads it as its maker would.
fn read(recipe: &Recipe, of: &PlateOf, scans: &Path) -> Result<Row, String> {
    let painted = PracticePlate::paint(recipe).map_err(|error| error.to_string())?;
    let scan = scans.join(&painted.file_name);
    std::fs::write(&scan, &painted.file).map_err(|error| error.to_string())?;
    let given = Given {
        process: recipe.plates.first().map(|plate| plate.process),
        kind: recipe.plates.first().map(|plate| plate.kind),
        ..Given::default()
    };
    let outcomes =
        read_scan(&scan, &given, &Settings::default()).map_err(|error| error.to_string())?;
    let _ = std::fs::remove_file(&scan);
    let outcome = outcomes
        .first()
        .ok_or_else(|| format!("no plate was found in {}", recipe.name))?;
    of_report(&outcome.report, of)
}
