//! What is wrong with a sheet, where, and what to do.

use super::limits::{LONGEST_BYTES, LONGEST_CELL, MOST_COLUMNS, MOST_ROWS, SHOWN_CHARS};

/// Why a sheet as a whole cannot be used. Lines count from 1.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SheetError {
    #[error("the sheet is empty")]
    Empty,
    #[error("the sheet is longer than {} MB", LONGEST_BYTES >> 20)]
    TooLong,
    #[error("this is a spreadsheet's own file, not CSV")]
    Workbook,
    #[error("this is no text, so no sheet")]
    NoText,
    #[error("the sheet is written in UTF-16, not in UTF-8")]
    Utf16,
    #[error(
        "line {line}: the sheet is not written in UTF-8: a letter there is in another encoding"
    )]
    NotUtf8 { line: usize },
    #[error("line {line}: a cell is longer than {LONGEST_CELL} bytes")]
    LongCell { line: usize },
    #[error("line {line}: a quotation mark is opened and never closed")]
    OpenQuote { line: usize },
    #[error("line {line}: there are more than {MOST_COLUMNS} columns")]
    ManyColumns { line: usize },
    #[error("line {line}: there are more than {MOST_ROWS} rows")]
    ManyRows { line: usize },
    #[error("line {line}: this is no header: `{found}` names no column")]
    NoHeader { line: usize, found: String },
    #[error("line {line}: the columns `{first}` and `{second}` are the same")]
    Twice {
        line: usize,
        first: String,
        second: String,
    },
    #[error("the sheet cannot be read as CSV: {why}")]
    Csv { why: String },
}

impl SheetError {
    /// What to do next.
    pub fn hint(&self) -> &'static str {
        match self {
            SheetError::Empty => "oystermark sheet writes one to begin with",
            SheetError::TooLong | SheetError::ManyRows { .. } => {
                "keep a sheet for each session, as CSV"
            }
            SheetError::Workbook => {
                "open it and save it as CSV (text, parted by commas or semicolons), in UTF-8"
            }
            SheetError::NoText | SheetError::Csv { .. } => {
                "name a CSV file; oystermark sheet writes one to begin with"
            }
            SheetError::Utf16 | SheetError::NotUtf8 { .. } => {
                "save it anew as CSV with the encoding UTF-8"
            }
            SheetError::LongCell { .. } => {
                "shorten the cell, or look whether a quotation mark before it is not closed"
            }
            SheetError::OpenQuote { .. } => "close it, or save the sheet anew from a spreadsheet",
            SheetError::ManyColumns { .. } => "keep the columns that oystermark sheet writes",
            SheetError::NoHeader { .. } => {
                "the first row names the columns, as in scan, process, bath; oystermark sheet writes them all"
            }
            SheetError::Twice { .. } => "keep one of the two",
        }
    }
}

/// Something in a sheet that could not be used, while the rest was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Line in the file, from 1; `None` where it is about the whole sheet.
    pub line: Option<usize>,
    /// What it is.
    pub what: String,
    /// What to write or do.
    pub instead: String,
}

impl Note {
    pub(super) fn at(line: usize, what: impl Into<String>, instead: impl Into<String>) -> Note {
        Note {
            line: Some(line),
            what: what.into(),
            instead: instead.into(),
        }
    }

    /// What it is, with its line.
    pub fn words(&self) -> String {
        match self.line {
            Some(line) => format!("line {line}: {}", self.what),
            None => self.what.clone(),
        }
    }
}

/// What was written, short enough to show, without what could move a cursor.
pub(super) fn shown(text: &str) -> String {
    let plain: String = text
        .trim()
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(SHOWN_CHARS + 1)
        .collect();
    match plain.chars().count() > SHOWN_CHARS {
        true => format!("{}...", plain.chars().take(SHOWN_CHARS).collect::<String>()),
        false => plain,
    }
}
