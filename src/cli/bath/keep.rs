//! `oystermark read --log`: figures of plates into the log as they are read.

use std::path::PathBuf;

use clap::Args;

use oystermark::bath::log::{Added, BathLog, DayFrom};
use oystermark::bath::{Day, PlateOf, of_report};
use oystermark::report::Report;

use super::added::{in_words_added, may_be_of_another_day};
use super::{in_words, now};
use crate::cli::exit::Trouble;

/// Where the figures of the plates are kept.
#[derive(Debug, Args)]
pub struct KeepArgs {
    /// Log of the baths into which the figures of each plate are written
    ///
    /// A plate read twice counts once; with other figures than before, the new ones count. See bath verdict for what
    /// the log says.
    #[arg(
        long,
        value_name = "FILE",
        requires = "bath",
        help_heading = "Bath log"
    )]
    log: Option<PathBuf>,

    /// Bath in which the plates were sensitized, as in A
    #[arg(long, value_name = "NAME", requires = "log", help_heading = "Bath log")]
    bath: Option<String>,

    /// Day on which the plates were made, as in 2026-05-12 [default: today]
    ///
    /// The same name on another day is another plate. Without a day, a plate with the same figures as one of its name
    /// is that plate; with other figures it is not kept until a day is said.
    #[arg(long, value_name = "DATE", requires = "log", help_heading = "Bath log")]
    on: Option<Day>,
}

impl KeepArgs {
    /// The log, opened before any plate is read, if one was asked for.
    pub fn open(&self) -> Result<Option<Keeper>, Trouble> {
        let (Some(path), Some(bath)) = (&self.log, &self.bath) else {
            return Ok(None);
        };
        Ok(Some(Keeper {
            log: BathLog::open(path).map_err(|error| in_words(&error))?,
            name: path.display().to_string(),
            bath: bath.clone(),
            day: self.on.unwrap_or_else(now::today),
            day_from: DayFrom::of(self.on),
            added: Added::default(),
        }))
    }
}

/// An open log and what was written into it.
pub struct Keeper {
    log: BathLog,
    name: String,
    bath: String,
    day: Day,
    day_from: DayFrom,
    added: Added,
}

impl Keeper {
    /// Writes the plates of one scan into the log, each with the name of its report.
    pub fn keep<'a>(
        &mut self,
        plates: impl Iterator<Item = (&'a str, &'a Report)>,
    ) -> Result<(), Trouble> {
        let (stamp, day) = (now::stamp(), self.day.to_string());
        let mut rows = Vec::new();
        for (plate, report) in plates {
            let of = PlateOf {
                plate,
                bath: &self.bath,
                day: &day,
                recorded: &stamp,
            };
            rows.push(of_report(report, &of).map_err(|why| {
                Trouble::of_command(
                    format!("{plate}: {why}, so it is not in the log"),
                    "the report itself is written; add it with bath add once that is mended",
                )
            })?);
        }
        let (added, unplaced) = self
            .log
            .add_plates(&rows, self.day_from)
            .map_err(|error| in_words(&error))?;
        self.added += added;
        match may_be_of_another_day(&unplaced, &self.bath, self.day) {
            None => Ok(()),
            Some(trouble) => Err(trouble),
        }
    }

    /// One line on what was written.
    pub fn summary(&self) -> String {
        let plates = if self.added.new == 1 {
            "plate"
        } else {
            "plates"
        };
        let plates = format!("{plates} of bath {}", self.bath);
        in_words_added(self.added, &plates, &self.name)
    }
}
