//! The whole log as CSV or JSON, out and in.
//!
//! What goes out comes in again unchanged, into another log or the same one. Every row that comes in goes through the
//! checks of a typed one; where one is refused, nothing of the file is taken.

use std::fmt;

use super::log::{BathError, DayFrom, Row, Writing, short};

mod csv_rows;
mod json_rows;

pub use csv_rows::{from_csv, to_csv};
pub use json_rows::{JSON_SCHEMA, from_json, to_json};

/// Refusals that are told; the rest are counted.
const MOST_TOLD: usize = 20;

/// Why a line was refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// The line of a CSV, the place of the row in a JSON; counted from 1.
    pub line: u64,
    /// Why, in words.
    pub why: String,
}

/// Why a file was not taken.
#[derive(Debug, Clone, PartialEq)]
pub enum ImportError {
    /// Lines that cannot be rows of the log: the first of them, and how many there are in all.
    Refused {
        /// What a line is called in this kind of file: `line` or `row`.
        unit: &'static str,
        /// The first refusals, in order.
        first: Vec<Refusal>,
        /// All of them.
        count: usize,
        /// The rest of the file was not looked at.
        stopped: bool,
    },
    /// The log itself.
    Log(BathError),
}

impl From<BathError> for ImportError {
    fn from(error: BathError) -> ImportError {
        ImportError::Log(error)
    }
}

impl fmt::Display for ImportError {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        match self {
            ImportError::Log(error) => error.fmt(f),
            ImportError::Refused { count, .. } => {
                write!(f, "{count} of its rows cannot be taken, so none was")
            }
        }
    }
}

/// Collects refusals.
#[derive(Debug)]
struct Refusals {
    unit: &'static str,
    first: Vec<Refusal>,
    count: usize,
    stopped: bool,
}

impl Refusals {
    fn of(unit: &'static str) -> Refusals {
        Refusals {
            unit,
            first: Vec::new(),
            count: 0,
            stopped: false,
        }
    }

    fn add(&mut self, line: u64, why: impl Into<String>) {
        self.count += 1;
        if self.first.len() < MOST_TOLD {
            let why = why.into();
            self.first.push(Refusal { line, why });
        }
    }

    fn stop(&mut self, line: u64, why: impl Into<String>) {
        self.add(line, why);
        self.stopped = true;
    }

    fn into_error(self) -> ImportError {
        ImportError::Refused {
            unit: self.unit,
            first: self.first,
            count: self.count,
            stopped: self.stopped,
        }
    }
}

/// A row of a file, checked.
struct Incoming {
    row: Row,
    /// It stated its key: it was written into a log before.
    keyed: bool,
}

impl Incoming {
    /// A row and the key that the file states for it. A row that states its key must have it: a row that was edited
    /// after it had been written out would else slip in beside the one it was.
    fn of(row: Row, stated: &str) -> Result<Incoming, String> {
        if stated.is_empty() {
            return Ok(Incoming { row, keyed: false });
        }
        if row.may_be_called(stated) {
            let row = row.called(stated);
            return Ok(Incoming { row, keyed: true });
        }
        Err(format!(
            "this row is not what it was when it got the key {}: to correct a row, leave `key` empty and put the old key under `corrects`",
            short(stated)
        ))
    }

    fn write(&self, log: &mut Writing) -> Result<(), BathError> {
        match self.keyed {
            true => log.add(&self.row),
            // A file states the day of each row.
            false => log.enter(&self.row, DayFrom::Maker).map(|_| ()),
        }
    }
}
