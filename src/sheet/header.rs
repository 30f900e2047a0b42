//! The header: which column is which, and in which unit.

use super::cells::is_open;
use super::columns::{Column, Holds};
use super::mistakes::{Note, SheetError, shown};
use super::text::{Record, Table};
use super::units::{NoUnit, Unit};
use crate::handling::slips;

/// The columns of a sheet, in their order.
#[derive(Debug)]
pub(super) struct Header {
    /// `None` for a column that is not known or not used.
    pub(super) columns: Vec<Option<Named>>,
    /// Whether figures may have a decimal comma: not where commas part the cells.
    pub(super) decimal_comma: bool,
}

/// A known column.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Named {
    pub(super) column: Column,
    /// The header as written.
    pub(super) written: String,
    /// Its unit, where the header states one or the figure has only one.
    pub(super) unit: Option<Unit>,
}

/// How many cells of a row name a column.
pub(super) fn known_columns(cells: &[String]) -> usize {
    let known = cells.iter().filter(|cell| column_of(cell).is_some());
    known.count()
}

/// Reads the header and notes each column that is not used, once.
pub(super) fn read(table: &Table, notes: &mut Vec<Note>) -> Result<Header, SheetError> {
    let Record { line, cells } = &table.header;
    if known_columns(cells) == 0 {
        let first = cells.iter().find(|cell| !cell.is_empty());
        return Err(SheetError::NoHeader {
            line: *line,
            found: shown(first.map_or("", String::as_str)),
        });
    }
    let mut columns: Vec<Option<Named>> = Vec::new();
    let mut unknown: Vec<String> = Vec::new();
    for cell in cells {
        let Some((column, unit)) = column_of(cell) else {
            if !cell.is_empty() {
                unknown.push(format!("`{}`", shown(cell)));
            }
            columns.push(None);
            continue;
        };
        let twice = columns.iter().flatten().find(|own| own.column == column);
        if let (Some(first), Column::Remarks) = (twice, column) {
            // Remarks are only kept, so two columns of them contradict nothing.
            let first = shown(&first.written);
            notes.push(Note::at(
                *line,
                format!(
                    "the columns `{first}` and `{}` both hold remarks, and the second is left in the sheet",
                    shown(cell)
                ),
                "join the two columns if the reports are to keep both",
            ));
            columns.push(None);
            continue;
        }
        if let Some(first) = twice {
            return Err(SheetError::Twice {
                line: *line,
                first: shown(&first.written),
                second: shown(cell),
            });
        }
        let named = |unit| {
            Some(Named {
                column,
                written: cell.clone(),
                unit,
            })
        };
        let at = columns.len();
        columns.push(match unit_of(column, unit.as_deref()) {
            Ok(None) if needs_unit(column) && says_bare_figure(table, at) => {
                notes.push(no_unit(*line, column, cell));
                named(None)
            }
            Ok(unit) => named(unit),
            Err(why) => {
                notes.push(not_used(*line, column, cell, why));
                None
            }
        });
    }
    if !unknown.is_empty() {
        let (column, is) = match unknown.len() {
            1 => ("the column", "is"),
            _ => ("the columns", "are"),
        };
        notes.push(Note::at(
            *line,
            format!(
                "{column} {} {is} not known and {is} left in the sheet",
                unknown.join(", ")
            ),
            "oystermark sheet writes all columns that are known",
        ));
    }
    Ok(Header {
        columns,
        decimal_comma: table.separator != b',',
    })
}

fn needs_unit(column: Column) -> bool {
    matches!(column.holds(), Holds::Figure(_))
}

/// Whether a row has a figure in that column that states no unit of its own.
fn says_bare_figure(table: &Table, at: usize) -> bool {
    let cells = table.rows.iter().filter_map(|row| row.cells.get(at));
    let mut said = cells.filter(|cell| !is_open(cell));
    said.any(|cell| {
        cell.chars()
            .all(|c| !c.is_alphabetic() && !"%°".contains(c))
    })
}

fn no_unit(line: usize, column: Column, written: &str) -> Note {
    let (name, units) = match column.holds() {
        Holds::Figure(figure) => (column.header(), figure.quantity.units()),
        _ => (column.header(), ""),
    };
    Note::at(
        line,
        format!(
            "the column `{}` does not say its unit, so its figures are not used",
            shown(written)
        ),
        format!("write the unit in brackets, as in `{name}`: {units}"),
    )
}

fn not_used(line: usize, column: Column, written: &str, why: NoUnit) -> Note {
    let name = column.name();
    let units = match column.holds() {
        Holds::Figure(figure) => figure.quantity.units(),
        _ => "none",
    };
    let what = match why {
        NoUnit::WhichOunce => format!(
            "the column `{}` does not say the ounce of which country, so it is not used",
            shown(written)
        ),
        NoUnit::Unknown => format!(
            "the unit of the column `{}` is not known, so it is not used",
            shown(written)
        ),
    };
    let example = match column.holds() {
        Holds::Figure(figure) if why == NoUnit::Unknown => figure.header_unit,
        _ => "gr per UK oz",
    };
    let instead = match column.holds() {
        Holds::Figure(_) => {
            format!("write the unit in brackets, as in `{name} ({example})`: {units}")
        }
        _ => format!("write `{name}`"),
    };
    Note::at(line, what, instead)
}

/// The unit that a header states. A figure without one is left to its cells, which may state theirs.
fn unit_of(column: Column, unit: Option<&str>) -> Result<Option<Unit>, NoUnit> {
    match (column.holds(), unit) {
        (Holds::Figure(figure), Some(unit)) => Unit::read(unit, figure.quantity).map(Some),
        (Holds::Figure(figure), None) => Ok(figure.unit),
        // What stands in brackets after a name without unit is a remark: `kind (picture, blank)`.
        (_, _) => Ok(None),
    }
}

/// A header longer than this, in bytes, names no column: the longest known one has some forty. Our own choice, so that
/// a whole text in one cell is not compared with every name.
const LONGEST_HEADER: usize = 120;

/// Which column a header names, and the unit in it. Names without a slip go first, so that the unit in
/// `room temperature F` is not taken for one.
fn column_of(cell: &str) -> Option<(Column, Option<String>)> {
    if cell.len() > LONGEST_HEADER {
        return None;
    }
    [false, true]
        .into_iter()
        .find_map(|forgiving| column_in(cell, forgiving))
}

fn column_in(cell: &str, forgiving: bool) -> Option<(Column, Option<String>)> {
    let (name, bracket) = split_bracket(cell);
    if let Some(column) = named(&plain(name), forgiving) {
        return Some((column, bracket));
    }
    // Without brackets: `room temperature F`, `minutes in the bath`.
    let words: Vec<&str> = cell.split_whitespace().collect();
    let figure = |name: &[&str], unit: &[&str]| {
        let column = named(&plain(&name.join(" ")), forgiving)?;
        let Holds::Figure(figure) = column.holds() else {
            return None;
        };
        let unit = unit.join(" ");
        match Unit::read(&unit, figure.quantity) {
            Err(NoUnit::Unknown) => None,
            _ => Some((column, Some(unit))),
        }
    };
    let at_end = (1..words.len()).find_map(|at| figure(&words[..at], &words[at..]));
    let in_front = || figure(words.get(1..)?, words.get(..1)?);
    at_end.or_else(in_front)
}

/// `room temperature (F)` as name and unit; square brackets serve too.
fn split_bracket(cell: &str) -> (&str, Option<String>) {
    let Some(at) = cell.find(['(', '[']) else {
        return (cell, None);
    };
    let unit = cell[at + 1..].trim_end_matches([')', ']', ' ', ':']);
    (&cell[..at], Some(unit.trim().to_owned()))
}

/// A name in lower case, its words parted by one space.
fn plain(name: &str) -> String {
    name.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// The column of that name; a slip of the finger in six letters is forgiven where it can mean one
/// column only.
fn named(said: &str, forgiving: bool) -> Option<Column> {
    if said.is_empty() {
        return None;
    }
    let names = || {
        let columns = Column::ALL.iter().copied();
        columns.flat_map(|column| {
            let also = column.also().iter().copied();
            also.chain([column.name()]).map(move |name| (column, name))
        })
    };
    if let Some((column, _)) = names().find(|(_, name)| *name == said) {
        return Some(column);
    }
    if !forgiving {
        return None;
    }
    let mut close: Vec<Column> = names()
        .filter(|(_, name)| {
            let allowed = said.len().min(name.len()) / 6;
            allowed > 0 && slips(said, name) <= allowed
        })
        .map(|(column, _)| column)
        .collect();
    close.dedup();
    match close[..] {
        [one] => Some(one),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(cell: &str) -> Option<(Column, Option<Unit>)> {
        let (column, unit) = column_of(cell)?;
        Some((column, unit_of(column, unit.as_deref()).ok()?))
    }

    #[test]
    fn headers_are_forgiving() {
        for (cell, column, unit) in [
            ("Scan", Column::Scan, None),
            ("Plate size", Column::Size, None),
            (
                "room temperature (F)",
                Column::RoomTemperature,
                Some(Unit::Fahrenheit),
            ),
            (
                "Room-Temperature [°C]",
                Column::RoomTemperature,
                Some(Unit::Celsius),
            ),
            (
                "room temperature F",
                Column::RoomTemperature,
                Some(Unit::Fahrenheit),
            ),
            (
                "room temprature (C)",
                Column::RoomTemperature,
                Some(Unit::Celsius),
            ),
            (
                "developer strength (gr per UK oz)",
                Column::DeveloperStrength,
                Some(Unit::GrainsPerUkOunce),
            ),
            (
                "developer strength gr per US oz",
                Column::DeveloperStrength,
                Some(Unit::GrainsPerUsOunce),
            ),
            ("minutes in the bath", Column::InBath, Some(Unit::Minutes)),
            (
                "Minutes from bath to developer",
                Column::BathToDeveloper,
                Some(Unit::Minutes),
            ),
            (
                "developer time (s)",
                Column::DeveloperTime,
                Some(Unit::Seconds),
            ),
            ("Colodion", Column::Collodion, None),
            ("humidity", Column::RoomHumidity, Some(Unit::PerCent)),
            ("dip axis", Column::DipAxis, Some(Unit::Degrees)),
            ("kind (picture, blank)", Column::Kind, None),
            ("room temperature", Column::RoomTemperature, None),
        ] {
            assert_eq!(found(cell), Some((column, unit)), "{cell}");
        }
        for column in Column::ALL {
            let (own, _) = column_of(&column.header()).unwrap();
            assert_eq!(own, *column, "{}", column.header());
        }
        for cell in ["", "weather", "path", "(F)", "temperature", "plates"] {
            assert_eq!(found(cell), None, "{cell}");
        }
    }

    #[test]
    fn a_unit_that_does_not_tell_is_none() {
        let unit = |cell: &str| {
            let (column, unit) = column_of(cell).unwrap();
            unit_of(column, unit.as_deref())
        };
        assert_eq!(unit("developer strength (gr/oz)"), Err(NoUnit::WhichOunce));
        assert_eq!(unit("room temperature (K)"), Err(NoUnit::Unknown));
        assert_eq!(unit("exposure"), Ok(None));
    }
}
