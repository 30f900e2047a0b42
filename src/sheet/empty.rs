//! An empty sheet with explanations, to be filled in with a spreadsheet or a text editor.

use super::columns::Column;

/// What stands between the cells of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Separator {
    #[default]
    Comma,
    Semicolon,
    Tab,
}

impl Separator {
    fn byte(self) -> u8 {
        match self {
            Separator::Comma => b',',
            Separator::Semicolon => b';',
            Separator::Tab => b'\t',
        }
    }
}

/// An empty sheet: the header, then rows of remarks (they begin with `#` and are not read) with what
/// belongs into each column and an example, then a row for each of `scans`. A scan whose name a spreadsheet
/// would take for a formula gets no row.
///
/// It begins with the mark by which spreadsheets know UTF-8, and its lines end as theirs do.
pub fn empty(separator: Separator, scans: &[String]) -> String {
    let mut table: Vec<Vec<String>> = Vec::new();
    table.push(Column::ALL.iter().map(|column| column.header()).collect());
    table.push(remarks("what belongs here", |column| {
        column.explain().to_owned()
    }));
    table.push(remarks("example", |column| column.example().to_owned()));
    table.push(vec![
        "# Rows that begin with # are not read: leave them or delete them. Every column may be left out or left empty, in any order; more columns of your own do no harm.".to_owned(),
    ]);
    let harmless = |scan: &&String| !scan.starts_with(['=', '+', '-', '@']);
    for scan in scans.iter().filter(harmless) {
        let mut row = vec![String::new(); Column::ALL.len()];
        if let Some(first) = row.first_mut() {
            first.clone_from(scan);
        }
        table.push(row);
    }
    let mut text = String::from("\u{feff}");
    for row in table {
        let cells: Vec<String> = row.iter().map(|cell| quoted(cell, separator)).collect();
        text.push_str(&cells.join(&char::from(separator.byte()).to_string()));
        text.push_str("\r\n");
    }
    text
}

/// A row of remarks: the first column's own words follow the mark.
fn remarks(what: &str, words: impl Fn(Column) -> String) -> Vec<String> {
    let columns = Column::ALL.iter().copied();
    columns
        .map(|column| match column {
            Column::Scan => format!("# {what}: {}", words(column)),
            other => words(other),
        })
        .collect()
}

/// A cell in quotation marks where it needs them (RFC 4180, 2.6 and 2.7).
fn quoted(cell: &str, separator: Separator) -> String {
    let needs = |c: char| c == char::from(separator.byte()) || matches!(c, '"' | '\n' | '\r');
    match cell.contains(needs) {
        true => format!("\"{}\"", cell.replace('"', "\"\"")),
        false => cell.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::{Sheet, made};

    #[test]
    fn the_empty_sheet_is_read_without_a_word() {
        for separator in [Separator::Comma, Separator::Semicolon, Separator::Tab] {
            let text = empty(separator, &[]);
            assert_eq!(made::sheet(&text), Sheet::default(), "{text}");
            let scans = ["a, b; c.tif".to_owned(), "d \"e\".tif".to_owned()];
            let sheet = made::sheet(&empty(separator, &scans));
            let named: Vec<_> = sheet
                .rows
                .iter()
                .filter_map(|row| row.scan.clone())
                .collect();
            assert_eq!(named, scans);
            assert!(sheet.notes.is_empty());
        }
    }

    #[test]
    fn its_example_is_a_row_that_can_be_read() {
        let text = empty(Separator::Comma, &[]).replace("# example: ", "");
        let sheet = made::sheet(&text);
        assert!(sheet.notes.is_empty(), "{:?}", sheet.notes);
        let [row] = &sheet.rows[..] else {
            panic!("one row")
        };
        assert_eq!(row.scan.as_deref(), Some("plate-17.tif"));
        assert!(row.process.is_some() && row.plate_size.is_some() && row.kind.is_some());
        assert!(row.handling.is_some() && row.scanned_from.is_some());
        assert_eq!((row.told.answers.len(), row.told.verdicts.len()), (2, 1));
        assert!(row.shares.bath.is_some() && row.shares.holder.is_some());
    }
}
