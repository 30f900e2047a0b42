//! The session sheet: what the maker wrote down about each plate, as a spreadsheet keeps it.
//!
//! Comes in: the bytes of a CSV file. Goes out: [`Sheet`], a [`Row`] for each plate with what it states
//! (process, handling, signs, answers to checks, verdicts on findings), and [`Note`]s on what could not be
//! used. Units: those that the header states, kept as degrees Celsius, seconds or minutes, grams a litre,
//! per cent, days. Not here: files (`cli`); weighing (`causes`).
//!
//! Nothing is guessed: a row with a cell that cannot be understood is named by its line and left out, and a
//! column that does not say its unit is named and left out. The file itself is never written.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::causes::{Answer, Catalogue, Shares, Verdict};
use crate::findings::Sign;
use crate::handling::{Handling, ScannedFrom};
use crate::plate::sizes::PlateSize;
use crate::plate::{PlateKind, Process};

mod cells;
mod columns;
mod empty;
mod header;
mod join;
mod limits;
#[cfg(test)]
mod made;
mod mistakes;
mod places;
mod row;
mod signs;
mod text;
mod units;
mod words;

pub use empty::{Separator, empty};
pub use join::{Joined, join};
pub use limits::LONGEST_BYTES;
pub use mistakes::{Note, SheetError};

/// A session sheet, read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sheet {
    /// Its usable rows, in their order.
    pub rows: Vec<Row>,
    /// What could not be used, and what to write instead.
    pub notes: Vec<Note>,
}

/// What a sheet says of one scan.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Row {
    /// Where it begins in the file, from 1.
    pub line: usize,
    /// Name of the scan; `None` in a sheet of one plate that names none.
    pub scan: Option<String>,
    /// That name is the plate's, since the sheet has no column for scans.
    pub named_by_plate: bool,
    pub process: Option<Process>,
    pub kind: Option<PlateKind>,
    pub plate_size: Option<PlateSize>,
    pub scanned_from: Option<ScannedFrom>,
    /// How the plate was poured, dipped, developed and stood; said by the sheet.
    pub handling: Option<Handling>,
    /// What the plate shares with others.
    pub shares: Shares,
    /// The rest.
    pub told: Told,
}

/// What the maker told of one plate beside its make and handling.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Told {
    /// Signs that follow from the row, each with its own number.
    pub signs: Vec<Sign>,
    /// Checks that were made.
    pub answers: Vec<Answer>,
    /// What the maker found the findings to be.
    pub verdicts: Vec<Verdict>,
    /// The row as the report keeps it.
    pub record: Option<Record>,
}

/// A row of the sheet as the report keeps it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Record {
    /// Name of the sheet, without its folder.
    pub sheet: String,
    /// Line of the row, from 1.
    pub line: usize,
    /// What was written, cell by cell. Columns that the program does not know stay in the sheet alone.
    pub cells: Vec<Cell>,
    /// Figures in the units of their names.
    pub figures: BTreeMap<String, f64>,
    /// Checks that were made.
    pub answers: Vec<ReportedAnswer>,
    /// Verdicts on findings, and the findings that they were taken for.
    pub verdicts: Vec<WrittenVerdict>,
}

/// One cell as written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Cell {
    /// Name of the column, without unit.
    pub name: String,
    /// The header over it, as written.
    pub column: String,
    /// What stands in it.
    pub text: String,
}

/// What a check said that was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedAnswer {
    /// Its name in the catalogue.
    pub check: String,
    /// Whether it answered yes.
    pub yes: bool,
    /// What yes looks like.
    pub means: String,
}

/// A verdict as written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WrittenVerdict {
    /// The maker's words.
    pub written: String,
    /// Id of the finding that it was taken for; null when it fits none of the plate.
    pub finding: Option<String>,
}

/// How a sheet is to be understood.
#[derive(Debug, Clone, Copy)]
pub struct Context<'a> {
    /// Name of the file, for the reports.
    pub file: &'a str,
    /// The side toward the scanner as typed, which goes before that of a row.
    pub side_typed: Option<ScannedFrom>,
    /// The side where neither the command line nor the row says it.
    pub side_else: Option<ScannedFrom>,
    /// For the names of checks and causes.
    pub catalogue: &'a Catalogue,
}

/// Reads a session sheet.
///
/// # Errors
/// [`SheetError`] where the file as a whole cannot be used: no text, another encoding, no header, beyond
/// the limits. Single rows never fail it; they are named in [`Sheet::notes`].
pub fn read(bytes: &[u8], context: &Context) -> Result<Sheet, SheetError> {
    let text = text::decode(bytes)?;
    let table = text::table(&text)?;
    let mut notes = Vec::new();
    let header = header::read(&table, &mut notes)?;
    let mut rows = Vec::new();
    for record in &table.rows {
        match row::read(record, &header, context) {
            Ok(Some(row)) => rows.push(row),
            Ok(None) => {}
            Err(note) => notes.push(note),
        }
    }
    Ok(Sheet { rows, notes })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever stands in a file, reading it ends without a panic, and every note has a cure.
    #[test]
    fn rubbish_does_no_harm() {
        let catalogue = Catalogue::built_in().unwrap();
        let context = Context {
            file: "day.csv",
            side_typed: None,
            side_else: None,
            catalogue: &catalogue,
        };
        let good = "scan;room temperature (F);drained at;answers;verdicts;size\r\n\
                    a.tif;77,5;bottom left;litmus: no;edge fog left: it was the holder;4x5\r\n";
        let pieces: [&[u8]; 12] = [
            b"\"",
            b";",
            b",",
            b"\t",
            b"\r",
            b"\n",
            b":",
            b"#",
            b"\xff",
            b"\xe2\x80\xae",
            b"9e99",
            b"(",
        ];
        // A fixed sequence in place of chance.
        let mut state = 7_u32;
        let mut next = |below: usize| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as usize % below
        };
        let (mut read_well, mut refused) = (0, 0);
        for _ in 0..3000 {
            let mut bytes = good.as_bytes().to_vec();
            for _ in 0..=next(4) {
                let at = next(bytes.len());
                let until = (at + next(3)).min(bytes.len());
                bytes.splice(at..until, pieces[next(pieces.len())].iter().copied());
            }
            match read(&bytes, &context) {
                Ok(sheet) => {
                    read_well += 1;
                    let mut notes = sheet.notes.iter();
                    assert!(notes.all(|note| !note.instead.is_empty() && note.words().len() < 600));
                }
                Err(error) => {
                    refused += 1;
                    assert!(!error.hint().is_empty() && error.to_string().len() < 300);
                }
            }
        }
        assert!(read_well > 100 && refused > 100, "{read_well} {refused}");
    }
}
