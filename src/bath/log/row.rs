//! One row of the log, checked.

use std::collections::BTreeMap;

use super::columns::{Column, Kind, Table};
use crate::bath::Day;

/// What stands in a column.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Text, a date, a word.
    Text(String),
    /// A number.
    Number(f64),
}

/// A row of the log. It can only be made through checks, whoever asks: what is typed, a CSV, a JSON.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    table: Table,
    key: String,
    cells: BTreeMap<&'static str, Cell>,
}

/// A row that is being put together.
#[derive(Debug, Clone)]
pub struct NewRow {
    table: Table,
    cells: BTreeMap<&'static str, Cell>,
}

impl NewRow {
    /// An empty row of that table.
    pub fn of(table: Table) -> NewRow {
        NewRow {
            table,
            cells: BTreeMap::new(),
        }
    }

    fn column(&self, name: &str) -> Result<&'static Column, String> {
        let mut columns = self.table.columns();
        columns
            .find(|column| column.name == name)
            .ok_or_else(|| format!("a row of kind {} has no {name}", self.table.word()))
    }

    /// Fills a column from text; empty text leaves it empty.
    ///
    /// # Errors
    /// In words, when the column cannot hold it.
    pub fn set(&mut self, name: &str, text: &str) -> Result<(), String> {
        if text.is_empty() {
            return Ok(());
        }
        let column = self.column(name)?;
        let cell = match column.kind {
            Kind::Number(..) => {
                let number = text.trim().parse::<f64>();
                let number =
                    number.map_err(|_| format!("{name}: `{}` is not a number", short(text)))?;
                return self.set_number(name, number);
            }
            Kind::Text(most) => plain_text(text, most),
            Kind::Day => text.parse::<Day>().map(|_| text.to_owned()),
            Kind::Stamp => stamp(text),
            Kind::Key => match is_key(text) {
                true => Ok(text.to_owned()),
                false => Err(format!("`{}` is not the key of a row", short(text))),
            },
            Kind::Word(words) => match words.contains(&text) {
                true => Ok(text.to_owned()),
                false => Err(format!(
                    "`{}` is none of: {}",
                    short(text),
                    words.join(", ")
                )),
            },
        };
        let cell = cell.map_err(|why| format!("{name}: {why}"))?;
        self.cells.insert(column.name, Cell::Text(cell));
        Ok(())
    }

    /// Fills a column with a number.
    ///
    /// # Errors
    /// In words, when it is out of the column's range or the column holds no numbers.
    pub fn set_number(&mut self, name: &str, number: f64) -> Result<(), String> {
        let column = self.column(name)?;
        let Kind::Number(low, high) = column.kind else {
            return Err(format!("{name} is no number"));
        };
        if !(low..=high).contains(&number) {
            return Err(format!("{name}: {number} is not between {low} and {high}"));
        }
        // Zero has no sign here, or one row would have two keys.
        self.cells.insert(column.name, Cell::Number(number + 0.0));
        Ok(())
    }

    /// The row, with its key.
    ///
    /// # Errors
    /// When something needed is missing, or the row says nothing.
    pub fn finish(self) -> Result<Row, String> {
        for column in self.table.columns() {
            if column.needed && !self.cells.contains_key(column.name) {
                return Err(format!("{} is missing", column.name));
            }
        }
        let measured = self
            .cells
            .values()
            .any(|cell| matches!(cell, Cell::Number(_)));
        if self.table == Table::Reading && !measured && !self.cells.contains_key("litmus") {
            return Err("a reading without anything read".to_owned());
        }
        let withdrawn = self.cells.get("what") == Some(&Cell::Text("withdrawn".to_owned()));
        if withdrawn && !self.cells.contains_key("corrects") {
            return Err("what is withdrawn must be named in corrects".to_owned());
        }
        let key = key(self.table, &self.cells, &["recorded", "program"]);
        Ok(Row {
            table: self.table,
            key,
            cells: self.cells,
        })
    }
}

impl Row {
    /// Its table.
    pub fn table(&self) -> Table {
        self.table
    }

    /// Its key: a name given once, from the content, so that the same row has the same key everywhere.
    pub fn key(&self) -> &str {
        &self.key
    }

    /// Whether that could be its key: the one it gets now, or the one that logs before version 3 gave to a plate, in
    /// which the day did not count and the program did.
    pub(in crate::bath) fn may_be_called(&self, key: &str) -> bool {
        key == self.key || key == older_key(self.table, &self.cells)
    }

    /// The same row under the key that it got when it was first written.
    pub(in crate::bath) fn called(mut self, key: &str) -> Row {
        key.clone_into(&mut self.key);
        self
    }

    /// The same row as one that corrects the row of that key.
    pub fn correcting(&self, key: &str) -> Row {
        let mut row = self.clone();
        row.cells.insert("corrects", Cell::Text(key.to_owned()));
        row.key = self::key(row.table, &row.cells, &[]);
        row
    }

    /// What stands in that column, if anything.
    pub fn cell(&self, name: &str) -> Option<&Cell> {
        self.cells.get(name)
    }

    /// The text in that column.
    pub fn text(&self, name: &str) -> Option<&str> {
        match self.cells.get(name)? {
            Cell::Text(text) => Some(text),
            Cell::Number(_) => None,
        }
    }

    /// The number in that column.
    pub fn number(&self, name: &str) -> Option<f64> {
        match self.cells.get(name)? {
            Cell::Number(number) => Some(*number),
            Cell::Text(_) => None,
        }
    }

    /// The bath it is about.
    pub fn bath(&self) -> &str {
        self.text("bath").unwrap_or_default()
    }

    /// The day it is about.
    pub fn day(&self) -> Day {
        let day = self.text("day").and_then(|day| day.parse().ok());
        // Every row was checked when it was made.
        day.unwrap_or(Day::from_number(0))
    }
}

/// Whether that has the form of a key.
pub(super) fn is_key(text: &str) -> bool {
    let digit = |byte: u8| byte.is_ascii_digit() || (b'a'..=b'f').contains(&byte);
    text.len() == 32 && text.bytes().all(digit)
}

/// The key that logs before version 3 gave.
fn older_key(table: Table, cells: &BTreeMap<&'static str, Cell>) -> String {
    key(table, cells, &["day", "recorded"])
}

/// A key from the content: FNV-1a with 128 bits (Fowler, Noll and Vo; constants from memory, and any would do).
///
/// A plate's report read into two logs is the same row in both, whenever and by whatever version it was read, so the
/// columns `but` do not count for plates, unless the row is a correction.
fn key(table: Table, cells: &BTreeMap<&'static str, Cell>, but: &[&str]) -> String {
    let plain_plate = table == Table::Plate && !cells.contains_key("corrects");
    let mut hash: u128 = 0x6c62_272e_07bb_0142_62b8_2175_6295_c58d;
    let mut take = |bytes: &[u8]| {
        for byte in bytes {
            hash ^= u128::from(*byte);
            hash = hash.wrapping_mul(0x0000_0000_0100_0000_0000_0000_0000_013b);
        }
    };
    take(table.word().as_bytes());
    for (name, cell) in cells {
        if plain_plate && but.contains(name) {
            continue;
        }
        let text = match cell {
            Cell::Text(text) => text.clone(),
            Cell::Number(number) => number.to_string(),
        };
        take(b"\n");
        take(name.as_bytes());
        take(b"=");
        take(text.as_bytes());
    }
    format!("{hash:032x}")
}

/// Text on one line that no spreadsheet takes for a formula.
fn plain_text(text: &str, most: usize) -> Result<String, String> {
    if text.chars().count() > most {
        return Err(format!("`{}` has more than {most} characters", short(text)));
    }
    if text.chars().any(char::is_control) {
        return Err(format!(
            "`{}` holds a line break, a tab or another sign that is no letter",
            short(text)
        ));
    }
    if text.trim() != text {
        return Err(format!("`{}` begins or ends with a space", short(text)));
    }
    match text.chars().next() {
        Some(first) if "=+-@".contains(first) => Err(format!(
            "`{}` begins with {first}, and a spreadsheet would take it for a formula",
            short(text)
        )),
        _ => Ok(text.to_owned()),
    }
}

/// `2026-05-12T19:30:15.123Z`, seconds' fractions optional.
fn stamp(text: &str) -> Result<String, String> {
    let wrong = || {
        format!(
            "`{}` is not a time written as 2026-05-12T19:30:15Z",
            short(text)
        )
    };
    let (day, time) = text.split_once('T').ok_or_else(wrong)?;
    day.parse::<Day>()?;
    let time = time.strip_suffix('Z').ok_or_else(wrong)?;
    let (whole, parts) = time.split_once('.').unwrap_or((time, "0"));
    let fields: Vec<&str> = whole.split(':').collect();
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    let within = fields.len() == 3
        && fields.iter().zip([24, 60, 61]).all(|(field, end)| {
            field.len() == 2 && digits(field) && field.parse().is_ok_and(|n: u32| n < end)
        });
    if within && digits(parts) && parts.len() <= 9 {
        Ok(text.to_owned())
    } else {
        Err(wrong())
    }
}

/// The start of a text that may be of any length and hold anything.
pub fn short(text: &str) -> String {
    let mut start: String = text
        .chars()
        .take(40)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if text.chars().nth(40).is_some() {
        start.push_str("...");
    }
    start
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plate(day: &str, veil_d: f64) -> NewRow {
        let mut row = NewRow::of(Table::Plate);
        for (name, text) in [
            ("bath", "A"),
            ("day", day),
            ("recorded", "2026-05-12T19:30:15Z"),
            ("plate", "A-001"),
        ] {
            row.set(name, text).unwrap();
        }
        row.set_number("veil_d", veil_d).unwrap();
        row
    }

    #[test]
    fn a_plate_has_the_same_key_in_every_log_and_another_on_another_day() {
        let first = plate("2026-05-12", 0.1).finish().unwrap();
        let mut later = plate("2026-05-12", 0.1);
        later.set("recorded", "2026-06-01T10:00:00Z").unwrap();
        later.set("program", "oystermark 9.9.9").unwrap();
        assert_eq!(first.key(), later.finish().unwrap().key());
        for (day, veil_d) in [("2026-05-13", 0.1), ("2026-05-12", 0.2)] {
            let other = plate(day, veil_d).finish().unwrap();
            assert_ne!(first.key(), other.key(), "{day} {veil_d}");
        }
        let mut correction = plate("2026-05-12", 0.1);
        correction.set("corrects", first.key()).unwrap();
        let correction = correction.finish().unwrap();
        assert_ne!(first.key(), correction.key());
        assert_eq!(first.correcting(first.key()), correction);
    }

    /// The key was read off a log that version 2 wrote.
    #[test]
    fn the_key_of_an_older_log_is_known_again() {
        let row = plate("2026-05-12", 0.1).finish().unwrap();
        let older = "cf6e91f51c65a31cb2b3a606736fb8f7";
        assert!(row.key() != older && row.may_be_called(older) && row.may_be_called(row.key()));
        assert!(!row.may_be_called("0123456789abcdef0123456789abcdef"));
        assert_eq!(row.called(older).key(), older);
    }

    #[test]
    fn what_a_row_cannot_hold_is_said() {
        let mut row = NewRow::of(Table::Event);
        let long = "x".repeat(501);
        for (name, text, says) in [
            ("remark", "=1+1", "formula"),
            ("remark", "@SUM(A1)", "formula"),
            ("remark", "two\nlines", "line break"),
            ("remark", long.as_str(), "more than 500"),
            ("bath", " A", "space"),
            ("what", "boiled", "none of: made"),
            ("grams", "1,5", "not a number"),
            ("grams", "NaN", "not between"),
            ("grams", "-1", "not between"),
            ("corrects", "xyz", "not the key"),
            ("recorded", "yesterday", "not a time"),
            ("recorded", "2026-05-12T25:00:00Z", "not a time"),
            ("veil_d", "0.1", "has no veil_d"),
        ] {
            let error = row.set(name, text).unwrap_err();
            assert!(error.contains(says), "{name} {text}: {error}");
        }
        assert!(row.finish().unwrap_err().contains("bath is missing"));
    }

    #[test]
    fn readings_and_withdrawals_must_say_something() {
        let mut row = NewRow::of(Table::Reading);
        let mut event = NewRow::of(Table::Event);
        for (name, text) in [
            ("bath", "A"),
            ("day", "2026-05-12"),
            ("recorded", "2026-05-12T19:30:15Z"),
        ] {
            row.set(name, text).unwrap();
            event.set(name, text).unwrap();
        }
        assert!(row.clone().finish().unwrap_err().contains("anything read"));
        row.set("litmus", "red").unwrap();
        assert!(row.finish().is_ok());
        event.set("what", "withdrawn").unwrap();
        assert!(event.finish().unwrap_err().contains("corrects"));
    }
}
