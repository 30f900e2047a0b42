//! What the maker gave for each scan of a run: typed, in a session sheet, in a handling file; the first goes
//! before the second, the second before the third.

use std::path::{Path, PathBuf};

use oystermark::causes::Shares;
use oystermark::handling::{Handling, HandlingFile, ScannedFrom};
use oystermark::plate::Given;
use oystermark::sheet::{self, Joined, LONGEST_BYTES, Note, Row, Sheet, Told};

use super::exit::Trouble;
use super::handling;
use super::short_text::ShortText;

/// What is typed of all plates of a run, and the files that say more.
pub struct Typed<'a> {
    /// All that is typed, without the handling.
    pub given: Given,
    /// The handling as typed.
    pub handling: Option<Handling>,
    /// The file of `--handling`.
    pub handling_file: Option<&'a Path>,
    /// The file of `--sheet`.
    pub sheet: Option<&'a Path>,
}

/// What the maker gave, read and joined to the scans.
pub struct Maker<'a> {
    typed: Typed<'a>,
    /// Text of the handling file.
    handling: Option<String>,
    sheet: Sheet,
    /// Names of the scans without folder and ending.
    stems: Vec<String>,
    joined: Joined,
}

/// What is known of one scan before it is read.
pub struct OfScan {
    pub given: Given,
    pub told: Told,
    pub shares: Shares,
    /// Line of its row in the sheet.
    pub line: Option<usize>,
}

impl<'a> Maker<'a> {
    /// Reads the files and joins the sheet to the scans, given by their stems.
    pub fn read(typed: Typed<'a>, stems: Vec<String>) -> Result<Maker<'a>, Trouble> {
        let handling = typed.handling_file.map(handling::load).transpose()?;
        let mut maker = Maker {
            typed,
            handling,
            sheet: Sheet::default(),
            stems,
            joined: Joined::default(),
        };
        // Mistakes of the handling file are told before any work is done.
        let written = maker.written(maker.typed.given.scanned_from)?;
        if let Some(path) = maker.typed.sheet {
            let side_else = written.scanned_from;
            maker.sheet = read_sheet(path, maker.typed.given.scanned_from, side_else)?;
            let stems: Vec<&str> = maker.stems.iter().map(String::as_str).collect();
            maker.joined = sheet::join(&maker.sheet, &stems);
        }
        Ok(maker)
    }

    /// What of the sheet could not be used.
    pub fn notes(&self) -> Vec<Trouble> {
        let Some(path) = self.typed.sheet else {
            return Vec::new();
        };
        let notes = self.sheet.notes.iter().chain(&self.joined.notes);
        let mut notes: Vec<&Note> = notes.collect();
        notes.sort_by_key(|note| note.line);
        notes
            .into_iter()
            .map(|note| Trouble::new(path, note.words(), note.instead.clone()))
            .collect()
    }

    /// What is known of the scan of that stem.
    pub fn of(&self, stem: &str) -> Result<OfScan, Trouble> {
        let scan = self.stems.iter().position(|own| own == stem);
        let row = scan.and_then(|scan| self.joined.rows.get(scan).copied().flatten());
        let row = row.and_then(|row| self.sheet.rows.get(row)).cloned();
        let line = row.as_ref().map(|row| row.line);
        let row = row.unwrap_or_default();
        let typed = &self.typed.given;
        let side = typed.scanned_from.or(row.scanned_from);
        let written = self.written(side)?;
        let Row {
            process,
            kind,
            plate_size,
            handling,
            shares,
            told,
            ..
        } = row;
        let stated = [self.typed.handling.clone(), handling, written.handling];
        let handling = stated
            .into_iter()
            .flatten()
            .reduce(|stronger, weaker| stronger.before(weaker));
        Ok(OfScan {
            given: Given {
                process: typed.process.or(process),
                kind: typed.kind.or(kind),
                plate_size: typed.plate_size.clone().or(plate_size),
                scanned_from: side.or(written.scanned_from),
                handling,
                ..typed.clone()
            },
            told,
            shares,
            line,
        })
    }

    /// What the handling file says, seen from that side.
    fn written(&self, side: Option<ScannedFrom>) -> Result<HandlingFile, Trouble> {
        match (self.typed.handling_file, &self.handling) {
            (Some(path), Some(text)) => handling::parse(path, text, side),
            _ => Ok(HandlingFile::default()),
        }
    }
}

/// What a sheet is called; its own reader tells what an empty or too long one is.
const SHEET: ShortText = ShortText {
    name: "sheet",
    option: "--sheet",
    write: "fill in the one that `oystermark sheet` writes",
    longest_bytes: LONGEST_BYTES as u64,
};

/// Reads the file of `--sheet`. No more of it is taken into memory than a sheet may have.
fn read_sheet(
    path: &Path,
    side_typed: Option<ScannedFrom>,
    side_else: Option<ScannedFrom>,
) -> Result<Sheet, Trouble> {
    let bytes = SHEET.bytes(path)?;
    let catalogue = super::session::built_in()?;
    let file = PathBuf::from(path.file_name().unwrap_or_default());
    let context = sheet::Context {
        file: &file.to_string_lossy(),
        side_typed,
        side_else,
        catalogue: &catalogue,
    };
    sheet::read(&bytes, &context)
        .map_err(|error| Trouble::new(path, error.to_string(), error.hint()))
}
