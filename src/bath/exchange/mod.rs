//! The whole log as CSV or JSON, out and in.
//!
//! What goes out comes in again unchanged, into another log or the same one. Every row that comes in goes through the
//! checks of a typed one; where one is refused, nothing of the file is taken.

use std::cell::Cell;
use std::fmt;
use std::io::{self, Read};
use std::rc::Rc;

use super::log::{BathError, DayFrom, Row, Writing, short};

mod csv_rows;
mod json_rows;

pub use csv_rows::{from_csv, to_csv};
pub use json_rows::{JSON_SCHEMA, from_json, to_json};

/// Refusals that are told; the rest are counted.
const MOST_TOLD: usize = 20;

/// Longest row that is read, bytes: several times what the columns can hold. A longer one ends the import, or a single
/// field without an end would fill the memory.
const MOST_ROW_BYTES: u64 = 64 << 10;

/// Said of a row that is too long.
const TOO_LONG: &str =
    "the row is longer than any row of a log (a quotation mark that is not closed?)";

/// A reader that gives up on a row that does not end.
struct Bounded<R> {
    from: R,
    /// Bytes handed out since the last row was complete.
    since_row: Rc<Cell<u64>>,
}

impl<R: Read> Read for Bounded<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let since = self.since_row.get();
        if since > MOST_ROW_BYTES {
            return Err(io::Error::other(TOO_LONG));
        }
        let got = self.from.read(into)?;
        self.since_row.set(since + got as u64);
        Ok(got)
    }
}

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
