//! From bytes to a table of cells: encoding, separator, quotes, limits.

use csv::{ReaderBuilder, StringRecord};

use super::header::known_columns;
use super::limits::{LONGEST_BYTES, LONGEST_CELL, MOST_COLUMNS, MOST_ROWS};
use super::mistakes::SheetError;

/// What may stand between cells.
const SEPARATORS: [u8; 3] = [b',', b';', b'\t'];

/// The cells of a sheet.
#[derive(Debug)]
pub(super) struct Table {
    /// What stands between cells.
    pub(super) separator: u8,
    pub(super) header: Record,
    pub(super) rows: Vec<Record>,
}

/// One row of cells.
#[derive(Debug)]
pub(super) struct Record {
    /// Where it begins, from 1.
    pub(super) line: usize,
    pub(super) cells: Vec<String>,
}

/// The text of a sheet.
pub(super) fn decode(bytes: &[u8]) -> Result<String, SheetError> {
    if bytes.len() > LONGEST_BYTES {
        return Err(SheetError::TooLong);
    }
    // The beginnings of today's workbooks (a ZIP archive) and of those of before 2007.
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"\xD0\xCF\x11\xE0") {
        return Err(SheetError::Workbook);
    }
    if bytes.starts_with(b"\xFF\xFE") || bytes.starts_with(b"\xFE\xFF") {
        return Err(SheetError::Utf16);
    }
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    if bytes.contains(&0) {
        return Err(SheetError::NoText);
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let good = &bytes[..error.valid_up_to()];
        let line = 1 + good.iter().filter(|byte| **byte == b'\n').count();
        SheetError::NotUtf8 { line }
    })?;
    if text.trim().is_empty() {
        return Err(SheetError::Empty);
    }
    // Line ends of old machines; a lone return within quotes becomes a line break too.
    Ok(match text.contains('\n') {
        true => text.to_owned(),
        false => text.replace('\r', "\n"),
    })
}

/// The table of a text, by the separator under which its header names most columns.
pub(super) fn table(text: &str) -> Result<Table, SheetError> {
    let (stated, body, skipped) = stated_separator(text);
    let separators = match &stated {
        Some(separator) => std::slice::from_ref(separator),
        None => &SEPARATORS[..],
    };
    let mut best: Option<(usize, usize, u8)> = None;
    for separator in separators {
        // The first row of a text with a quotation mark left open is all of it; `check` tells so below, and cells as
        // long as that name no column.
        if let Some(header) = first_row(body, *separator) {
            let (known, all) = (known_columns(&header.cells), header.cells.len());
            if best.is_none_or(|(k, a, _)| (known, all) > (k, a)) {
                best = Some((known, all, *separator));
            }
        }
    }
    let separator = best.map_or(b',', |(_, _, separator)| separator);
    check(body, separator, skipped)?;
    let mut rows = records(body, separator, skipped)?.into_iter();
    let header = rows.next().ok_or(SheetError::Empty)?;
    Ok(Table {
        separator,
        header,
        rows: rows.collect(),
    })
}

/// Some spreadsheets write `sep=;` into the first line.
fn stated_separator(text: &str) -> (Option<u8>, &str, usize) {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let first = first.trim_end_matches('\r').trim_matches('"');
    match first.strip_prefix("sep=").map(str::as_bytes) {
        Some([separator]) if SEPARATORS.contains(separator) => (Some(*separator), rest, 1),
        _ => (None, text, 0),
    }
}

/// Refuses cells that are too long and quotation marks that are never closed, which would swallow the rest
/// of the file as one cell.
fn check(text: &str, separator: u8, skipped: usize) -> Result<(), SheetError> {
    let mut line = 1 + skipped;
    let (mut begun, mut length, mut quoted, mut fresh) = (line, 0usize, false, true);
    let mut bytes = text.bytes().peekable();
    while let Some(byte) = bytes.next() {
        if byte == b'\n' {
            line += 1;
        }
        length += 1;
        if length > LONGEST_CELL {
            return Err(SheetError::LongCell { line: begun });
        }
        if quoted {
            if byte == b'"' {
                // Two in a row stand for one.
                match bytes.peek() {
                    Some(b'"') => {
                        bytes.next();
                    }
                    _ => quoted = false,
                }
            }
        } else if byte == separator || byte == b'\n' {
            (length, fresh, begun) = (0, true, line);
        } else {
            quoted = byte == b'"' && fresh;
            fresh = false;
        }
    }
    match quoted {
        true => Err(SheetError::OpenQuote { line: begun }),
        false => Ok(()),
    }
}

fn reader(text: &str, separator: u8) -> csv::Reader<&[u8]> {
    ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .from_reader(text.as_bytes())
}

/// The first row that holds something, without looking at the rest.
fn first_row(text: &str, separator: u8) -> Option<Record> {
    // The longest header that may be: what lies beyond belongs to no cell of ours.
    let mut end = text.len().min(MOST_COLUMNS * LONGEST_CELL);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    let mut reader = reader(&text[..end], separator);
    let mut record = StringRecord::new();
    while reader.read_record(&mut record).ok()? {
        if holds_something(&record) {
            return Some(own(&record, text, 0));
        }
    }
    None
}

fn records(text: &str, separator: u8, skipped: usize) -> Result<Vec<Record>, SheetError> {
    let mut reader = reader(text, separator);
    let mut record = StringRecord::new();
    let mut rows = Vec::new();
    let wrong = |error: csv::Error| SheetError::Csv {
        why: error.to_string(),
    };
    while reader.read_record(&mut record).map_err(wrong)? {
        if !holds_something(&record) {
            continue;
        }
        let row = own(&record, text, skipped);
        if row.cells.len() > MOST_COLUMNS {
            return Err(SheetError::ManyColumns { line: row.line });
        }
        // The header is one of them.
        if rows.len() > MOST_ROWS {
            return Err(SheetError::ManyRows { line: row.line });
        }
        rows.push(row);
    }
    Ok(rows)
}

/// A row of remarks begins with `#`.
fn holds_something(record: &StringRecord) -> bool {
    let remark = record
        .get(0)
        .is_some_and(|cell| cell.trim_start().starts_with('#'));
    !remark && record.iter().any(|cell| !cell.trim().is_empty())
}

fn own(record: &StringRecord, text: &str, skipped: usize) -> Record {
    let (line, at) = record
        .position()
        .map_or((1, 0), |at| (at.line() as usize, at.byte() as usize));
    // A row's position is that of the empty lines before it, which are no rows.
    let rest = text.as_bytes().get(at..).unwrap_or_default();
    let empty = rest.iter().take_while(|byte| matches!(byte, b'\r' | b'\n'));
    let line = line + empty.filter(|byte| **byte == b'\n').count();
    Record {
        line: line + skipped,
        cells: record.iter().map(|cell| cell.trim().to_owned()).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(text: &str) -> (u8, Vec<Vec<String>>) {
        let text = decode(text.as_bytes()).unwrap();
        let table = table(&text).unwrap();
        let rows = table.rows.into_iter().map(|row| row.cells).collect();
        (table.separator, rows)
    }

    #[test]
    fn what_spreadsheets_write_is_read() {
        let want = vec![vec!["a.tif".to_owned(), "A, the old one".to_owned()]];
        for (separator, text) in [
            (b',', "scan,bath\r\na.tif,\"A, the old one\"\r\n"),
            (b';', "scan;bath\na.tif;A, the old one\n"),
            (b'\t', "scan\tbath\na.tif\tA, the old one"),
            (b';', "sep=;\r\nscan;bath\r\na.tif;A, the old one\r\n"),
            (
                b',',
                "\u{feff}scan,bath\r\r\n,\n# a remark,x\na.tif,\"A, the old one\"",
            ),
            (b';', "\"scan\";\"bath\"\r\"a.tif\";\"A, the old one\"\r"),
        ] {
            assert_eq!(cells(text), (separator, want.clone()), "{text}");
        }
        let (_, rows) = cells("scan,remarks\na,\"two \"\"lines\"\"\nof it\"\nb,5\" plate");
        assert_eq!(rows[0][1], "two \"lines\"\nof it");
        assert_eq!(rows[1][1], "5\" plate");
    }

    #[test]
    fn lines_are_those_of_the_file() {
        let text = "sep=,\n# remark\nscan,remarks\na,\"x\ny\"\n\nb,z\n";
        let table = table(text).unwrap();
        let lines: Vec<usize> = table.rows.iter().map(|row| row.line).collect();
        assert_eq!((table.header.line, lines), (3, vec![4, 7]));
    }

    #[test]
    fn what_is_no_sheet_is_told_apart() {
        for (bytes, error) in [
            (&b"PK\x03\x04rest"[..], SheetError::Workbook),
            (b"\xD0\xCF\x11\xE0rest", SheetError::Workbook),
            (b"\xFF\xFEs\0c\0", SheetError::Utf16),
            (b"scan\nM\xFCller", SheetError::NotUtf8 { line: 2 }),
            (b"II*\0\x08\0\0\0", SheetError::NoText),
            (b"\xEF\xBB\xBF \n", SheetError::Empty),
        ] {
            assert_eq!(decode(bytes), Err(error));
        }
        assert_eq!(
            decode(&vec![b'a'; LONGEST_BYTES + 1]),
            Err(SheetError::TooLong)
        );
    }

    #[test]
    fn limits_are_kept() {
        let refused = |text: &str| table(text).map(|_| ()).unwrap_err();
        let long = format!("scan,bath\na,b\nc,\"{}\"\n", "x".repeat(LONGEST_CELL));
        assert_eq!(refused(&long), SheetError::LongCell { line: 3 });
        let open = "scan,bath\na,\"b\nc,d\n";
        assert_eq!(refused(open), SheetError::OpenQuote { line: 2 });
        let wide = format!("scan\na{}", ",".repeat(MOST_COLUMNS));
        assert_eq!(refused(&wide), SheetError::ManyColumns { line: 2 });
        let many = format!("scan\n{}", "a\n".repeat(MOST_ROWS));
        assert!(table(&many).is_ok());
        assert_eq!(
            refused(&format!("{many}b\n")),
            SheetError::ManyRows {
                line: MOST_ROWS + 2
            }
        );
    }
}
