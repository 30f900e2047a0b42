//! The log as a table.

use std::cell::Cell as Counter;
use std::io::{self, Read, Write};
use std::rc::Rc;

use csv::{ByteRecord, ReaderBuilder, WriterBuilder};

use super::{Bounded, ImportError, Incoming, Refusals};
use crate::bath::log::{Added, BathLog, Cell, Column, NewRow, Row, Table, all_columns, short};

/// Piece in which the file is read.
const PIECE_BYTES: usize = 8 << 10;

/// Said of a file in another encoding.
const NOT_UTF8: &str = "this is not UTF-8 text; save the table as CSV in UTF-8";

/// Writes rows as CSV: one line each, with one column for everything a row of any kind may hold.
///
/// # Errors
/// When `to` cannot be written.
pub fn to_csv(rows: &[Row], to: impl Write) -> io::Result<()> {
    let columns = all_columns();
    let mut writer = WriterBuilder::new().from_writer(to);
    let names = columns.iter().map(|column| column.name);
    writer.write_record(["row", "key"].into_iter().chain(names))?;
    for row in rows {
        let cells = columns.iter().map(|column| match row.cell(column.name) {
            None => String::new(),
            Some(Cell::Text(text)) => text.clone(),
            Some(Cell::Number(number)) => number.to_string(),
        });
        let head = [row.table().word().to_owned(), row.key().to_owned()];
        writer.write_record(head.into_iter().chain(cells))?;
    }
    writer.flush()
}

/// Reads rows from CSV into a log, all of them or none. `recorded` is the time of writing for rows that state none.
///
/// # Errors
/// Lines that are no rows, each with its reason; a log that cannot be written.
pub fn from_csv(log: &mut BathLog, from: impl Read, recorded: &str) -> Result<Added, ImportError> {
    let mut refusals = Refusals::of("line");
    log.writing(|log| {
        if let Some(mut lines) = Lines::open(from, &mut refusals) {
            while let Some((line, found)) = lines.next(recorded, &mut refusals) {
                match found {
                    // After the first refusal the rest is only looked at.
                    Ok(row) if refusals.count == 0 => row.write(log)?,
                    Ok(_) => {}
                    Err(why) => refusals.add(line, why),
                }
            }
        }
        match refusals.count {
            0 => Ok(()),
            _ => Err(refusals.into_error()),
        }
    })
}

/// The rows of a CSV, one after the other.
struct Lines<R: Read> {
    reader: csv::Reader<Bounded<R>>,
    /// Bytes handed out since the last row was complete.
    since_row: Rc<Counter<u64>>,
    /// What each place of a row holds.
    heads: Vec<Head>,
    record: ByteRecord,
}

/// What a place of a row holds.
enum Head {
    Row,
    Key,
    Of(&'static Column),
}

impl<R: Read> Lines<R> {
    /// Reads the first line; `None` when it is not the head of such a table.
    fn open(from: R, refusals: &mut Refusals) -> Option<Lines<R>> {
        let since_row = Rc::new(Counter::new(0));
        let bounded = Bounded {
            from,
            since_row: Rc::clone(&since_row),
        };
        let reader = ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .buffer_capacity(PIECE_BYTES)
            .from_reader(bounded);
        let mut lines = Lines {
            reader,
            since_row,
            heads: Vec::new(),
            record: ByteRecord::new(),
        };
        if !lines.read(refusals) {
            if refusals.count == 0 {
                refusals.stop(1, "the file is empty");
            }
            return None;
        }
        match heads(&lines.record) {
            Ok(heads) => {
                lines.heads = heads;
                Some(lines)
            }
            Err(why) => {
                refusals.stop(1, why);
                None
            }
        }
    }

    /// The next row, or why it is none, with its line. `None` at the end.
    fn next(
        &mut self,
        recorded: &str,
        refusals: &mut Refusals,
    ) -> Option<(u64, Result<Incoming, String>)> {
        if !self.read(refusals) {
            return None;
        }
        let line = self.record.position().map_or(0, csv::Position::line);
        Some((line, self.row(recorded)))
    }

    /// Reads one record; false at the end, or where nothing more can be read.
    fn read(&mut self, refusals: &mut Refusals) -> bool {
        self.since_row.set(0);
        match self.reader.read_byte_record(&mut self.record) {
            Ok(more) => more,
            Err(error) => {
                let line = self.reader.position().line();
                let why = match error.into_kind() {
                    csv::ErrorKind::Io(error) => error.to_string(),
                    other => format!("{other:?}"),
                };
                refusals.stop(line, why);
                false
            }
        }
    }

    fn row(&self, recorded: &str) -> Result<Incoming, String> {
        if self.record.len() != self.heads.len() {
            return Err(format!(
                "the line has {} fields, the head has {}",
                self.record.len(),
                self.heads.len()
            ));
        }
        let mut fields = Vec::with_capacity(self.heads.len());
        for field in &self.record {
            fields.push(std::str::from_utf8(field).map_err(|_| NOT_UTF8)?);
        }
        let filled = || self.heads.iter().zip(&fields);
        let word = filled().find_map(|(head, field)| matches!(head, Head::Row).then_some(*field));
        let word = word.unwrap_or_default();
        let table = Table::ALL.into_iter().find(|table| table.word() == word);
        let table = table
            .ok_or_else(|| format!("row: `{}` is none of: event, reading, plate", short(word)))?;
        let mut row = NewRow::of(table);
        row.set("recorded", recorded)?;
        let mut stated = "";
        for (head, field) in filled() {
            match head {
                Head::Row => {}
                Head::Key => stated = field,
                Head::Of(column) => row.set(column.name, field)?,
            }
        }
        Incoming::of(row.finish()?, stated)
    }
}

/// What the places of the rows hold, from the first line.
fn heads(record: &ByteRecord) -> Result<Vec<Head>, String> {
    let columns = all_columns();
    let mut names = Vec::new();
    for (at, field) in record.iter().enumerate() {
        // A byte order mark before the first name, as spreadsheets write it.
        let field = match at {
            0 => field.strip_prefix(b"\xef\xbb\xbf").unwrap_or(field),
            _ => field,
        };
        let name = std::str::from_utf8(field).map_err(|_| NOT_UTF8)?;
        if names.contains(&name) {
            return Err(format!("there are two columns `{}`", short(name)));
        }
        names.push(name);
    }
    if !names.contains(&"row") {
        let first = names.first().copied().unwrap_or_default();
        return Err(format!(
            "the first line must name the columns, `row` among them, separated by commas; it begins with `{}`",
            short(first)
        ));
    }
    let head = |name: &&str| match *name {
        "row" => Ok(Head::Row),
        "key" => Ok(Head::Key),
        name => columns
            .iter()
            .find(|column| column.name == name)
            .map(|column| Head::Of(column))
            .ok_or_else(|| format!("a log has no column `{}`", short(name))),
    };
    names.iter().map(head).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bath::exchange::MOST_ROW_BYTES;

    const HEAD: &str = "row,bath,day,what,remark\n";
    const NOW: &str = "2026-05-12T19:30:15.000Z";

    fn log(here: &tempfile::TempDir) -> BathLog {
        BathLog::open(&here.path().join("baths.log")).unwrap()
    }

    /// The refusals as `line: why`, and nothing in the log.
    fn refused(from: impl Read) -> Vec<String> {
        let here = tempfile::tempdir().unwrap();
        let mut log = log(&here);
        let error = from_csv(&mut log, from, NOW).unwrap_err();
        assert_eq!(log.rows(None).unwrap(), []);
        let ImportError::Refused { first, .. } = error else {
            panic!("{error}");
        };
        first
            .iter()
            .map(|r| format!("{}: {}", r.line, r.why))
            .collect()
    }

    #[test]
    fn what_goes_out_comes_in_again() {
        let here = tempfile::tempdir().unwrap();
        let mut log = log(&here);
        let text = format!(
            "\u{feff}{HEAD}event,A,2026-05-11,made,\"new, of \"\"pure\"\" salt\"\nevent,B,2026-05-12,rested,\n"
        );
        assert_eq!(
            from_csv(&mut log, text.as_bytes(), NOW),
            Ok(Added {
                new: 2,
                ..Added::default()
            })
        );
        let rows = log.rows(None).unwrap();
        assert_eq!(rows[0].text("remark"), Some("new, of \"pure\" salt"));
        let mut out = Vec::new();
        to_csv(&rows, &mut out).unwrap();
        let again = from_csv(&mut log, out.as_slice(), "2027-01-01T00:00:00Z");
        assert_eq!(
            again,
            Ok(Added {
                known: 2,
                ..Added::default()
            })
        );
        let edited = String::from_utf8(out).unwrap().replace("rested", "sunned");
        let why = refused(edited.as_bytes());
        assert!(
            why[0].starts_with("3: this row is not what it was"),
            "{why:?}"
        );
    }

    #[test]
    fn every_bad_line_is_told_with_its_reason() {
        let text = format!(
            "{HEAD}event,A,2026-05-11,made,fine\nevent,A,12.5.2026,made,\nevent,A,2026-05-12,boiled,\nevent,A,2026-05-12,made\n\"event\",A,2026-05-12,made,\"=HYPERLINK(\"\"x\"\")\"\npurchase,A,2026-05-12,,\n"
        );
        let why = refused(text.as_bytes());
        assert_eq!(why.len(), 5, "{why:?}");
        for (why, says) in why.iter().zip([
            "3: day",
            "4: what",
            "5: the line has 4 fields",
            "6: remark",
            "7: row",
        ]) {
            assert!(why.starts_with(says), "{why}");
        }
    }

    #[test]
    fn other_encodings_and_other_tables_are_told() {
        let latin: Vec<u8> = [HEAD.as_bytes(), b"event,A,2026-05-11,made,fix\xe9\n"].concat();
        assert!(refused(latin.as_slice())[0].contains("2: this is not UTF-8"));
        let wide: Vec<u8> = HEAD.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let marked = [&[0xff, 0xfe], wide.as_slice()].concat();
        assert!(refused(marked.as_slice())[0].contains("not UTF-8"));
        assert!(refused(&b"row;bath;day\n"[..])[0].contains("separated by commas"));
        assert!(refused(&b"row,bath,price\n"[..])[0].contains("no column `price`"));
        assert!(refused(&b"row,bath,bath\n"[..])[0].contains("two columns"));
        assert!(refused(&b""[..])[0].contains("empty"));
    }

    /// A field of a thousand million letters: it is given up long before.
    #[test]
    fn a_field_without_end_does_not_fill_the_memory() {
        struct Endless {
            given: u64,
        }
        impl Read for Endless {
            fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
                into.fill(b'x');
                self.given += into.len() as u64;
                assert!(self.given < 4 * MOST_ROW_BYTES, "the reader went on");
                Ok(into.len())
            }
        }
        let start = format!("{HEAD}event,A,2026-05-11,made,\"");
        let why = refused(start.as_bytes().chain(Endless { given: 0 }));
        assert!(why[0].starts_with("2: the row is longer"), "{why:?}");
    }
}
