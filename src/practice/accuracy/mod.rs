//! How well reports tell what was planted: many plates painted, read, scored and put in a table.
//!
//! Comes in: a [`Design`] and a reader. Goes out: [`Accuracy`]. Deterministic: the same design and
//! the same reader give the same table, on any number of processors.

use std::path::Path;

use rayon::prelude::*;
use serde_json::Value;

use super::score::{Scored, score};
use super::{PracticeError, PracticePlate, Recipe, write_whole};

mod design;
mod even;
mod hands;
mod shares;
mod table;
mod turned;

pub use design::{Design, Entry};
pub use even::{EvenLimit, StreakLimit, even_limits, streak_limit};
pub use hands::{Explained, HandReader, HandsAccuracy};
pub use turned::TurnedAccuracy;

/// Reads a scan, with a second one turned half round where one is given, and gives the reports of its plates
/// in reading order, as the program writes them. The recipe tells what a maker would know: process, kind,
/// plate size.
pub type Reader<'a> = &'a (dyn Fn(&Path, Option<&Path>, &Recipe) -> Vec<Value> + Sync);

/// The scores of all plates of a design.
#[derive(Debug, Clone)]
pub struct Accuracy {
    /// Name of the design.
    pub design: &'static str,
    /// Whether each plate was scanned a second time, turned half round.
    pub turned: bool,
    /// First and last seed.
    pub seeds: (u64, u64),
    /// One for each plate, in the design's order.
    pub plates: Vec<Scored>,
}

impl Accuracy {
    /// Paints, reads and scores every plate of a design. Scans lie in `dir` only while they are
    /// read.
    pub fn measure(design: &Design, dir: &Path, reader: Reader) -> Result<Self, PracticeError> {
        let plates: Result<Vec<Vec<Scored>>, PracticeError> = design
            .entries
            .par_iter()
            .map(|entry| {
                let recipe = Recipe::random(entry.seed, &entry.name, &entry.wish);
                let (plate, second) = match design.turned {
                    true => {
                        let [first, second] = PracticePlate::paint_pair(&recipe)?;
                        (first, Some(second))
                    }
                    false => (PracticePlate::paint(&recipe)?, None),
                };
                let write =
                    |plate: &PracticePlate| write_whole(&dir.join(&plate.file_name), &plate.file);
                let path = write(&plate)?;
                let second = second.as_ref().map(write).transpose()?;
                let reports = reader(&path, second.as_deref(), &recipe);
                for path in [Some(path), second].into_iter().flatten() {
                    // A scan that cannot be removed is only in the way.
                    let _ = std::fs::remove_file(path);
                }
                Ok(plate
                    .truths
                    .iter()
                    .enumerate()
                    .map(|(i, (_, truth))| score(reports.get(i), truth))
                    .collect())
            })
            .collect();
        Ok(Accuracy {
            design: design.name,
            turned: design.turned,
            seeds: design.seeds(),
            plates: plates?.into_iter().flatten().collect(),
        })
    }

    /// The table in Markdown.
    pub fn table(&self) -> String {
        table::markdown(self)
    }

    /// F1 of one kind of fault at levels 2 to 4: the estimate and the lower end of its 95 %
    /// bootstrap interval over plates; `None` when none could be found.
    pub fn f1(&self, fault: &str) -> Option<(f64, f64)> {
        shares::f1_with_lower_bound(&self.plates, fault)
    }

    /// False findings a clean plate, all kinds together; `None` without clean plates.
    pub fn false_per_clean_plate(&self) -> Option<f64> {
        shares::false_per_clean_plate(&self.plates, None)
    }
}
