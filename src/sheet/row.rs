//! One row: its cells become what the maker told of a plate.

use std::str::FromStr;

use super::cells::{self, Wrong, is_open, yes_no};
use super::columns::{Column, Holds};
use super::header::{Header, Named};
use super::mistakes::{Note, shown};
use super::signs::Statements;
use super::text::Record as Cells;
use super::{Cell, Context, Record, ReportedAnswer, Row, Told, WrittenVerdict, places, words};
use crate::plate::sizes::PlateSize;

/// Reads a row; `None` when all its cells are open.
///
/// # Errors
/// The first cell that cannot be understood: the row is left out as a whole, so that half of it is not
/// taken for all of it.
pub(super) fn read(cells: &Cells, header: &Header, context: &Context) -> Result<Option<Row>, Note> {
    let line = cells.line;
    let beyond = cells.cells.iter().skip(header.columns.len());
    if let Some(more) = beyond.into_iter().find(|cell| !cell.is_empty()) {
        return Err(Note::at(
            line,
            format!(
                "`{}` stands beyond the last column; the row is left out",
                shown(more)
            ),
            "put quotation marks around a cell that holds what parts the cells",
        ));
    }
    let said: Vec<(&Named, &str)> = header
        .columns
        .iter()
        .zip(&cells.cells)
        .filter_map(|(named, cell)| Some((named.as_ref()?, cell.as_str())))
        .filter(|(_, cell)| !is_open(cell))
        .collect();
    if said.is_empty() {
        return Ok(None);
    }
    let left_out = |column: &str, (what, instead): Wrong, cell: &str| {
        let in_cell = match cell.is_empty() {
            true => String::new(),
            false => format!(" `{}`", shown(cell)),
        };
        Note::at(
            line,
            format!("`{}`{in_cell} {what}; the row is left out", shown(column)),
            instead,
        )
    };
    let mut making = Making {
        row: Row {
            line,
            ..Row::default()
        },
        record: Record {
            sheet: context.file.to_owned(),
            line,
            ..Record::default()
        },
        statements: Statements::default(),
        entries: Vec::new(),
        plate: None,
    };
    for (named, cell) in &said {
        making
            .take(named, cell, header.decimal_comma, context)
            .map_err(|wrong| left_out(&named.written, wrong, cell))?;
        making.record.cells.push(Cell {
            name: named.column.key(),
            column: named.written.clone(),
            text: (*cell).to_owned(),
        });
    }
    let handled = places::read(&making.entries, context.side_typed, context.side_else)
        .map_err(|(column, wrong)| left_out(&column, wrong, ""))?;
    let Making {
        mut row,
        record,
        statements,
        plate,
        ..
    } = making;
    let names_scans = header
        .columns
        .iter()
        .flatten()
        .any(|named| named.column == Column::Scan);
    row.named_by_plate = row.scan.is_none() && plate.is_some() && !names_scans;
    row.scan = row.scan.or(plate);
    if row.scan.is_none() && names_scans {
        return Err(Note::at(
            line,
            "the row names no scan and is left out",
            "write the name of the scan file, as in plate-17.tif",
        ));
    }
    row.handling = handled.handling;
    row.scanned_from = handled.scanned_from;
    row.told.signs = statements.signs();
    row.told.record = Some(record);
    Ok(Some(row))
}

/// A row under way.
struct Making {
    row: Row,
    record: Record,
    statements: Statements,
    /// Entries of the handling: name, header, words.
    entries: Vec<(&'static str, String, String)>,
    plate: Option<String>,
}

impl Making {
    fn take(
        &mut self,
        named: &Named,
        cell: &str,
        decimal_comma: bool,
        context: &Context,
    ) -> Result<(), Wrong> {
        match named.column.holds() {
            Holds::Text => self.text(named.column, cell),
            Holds::YesNo => {
                let yes = yes_no(cell).ok_or_else(|| {
                    (
                        "is neither yes nor no".to_owned(),
                        "write yes or no".to_owned(),
                    )
                })?;
                match named.column {
                    Column::FreshBath => self.statements.fresh_bath = Some(yes),
                    _ => self.statements.rubs_off = Some(yes),
                }
            }
            Holds::Entry(entry) => {
                self.entries
                    .push((entry, named.written.clone(), cell.to_owned()));
            }
            Holds::Figure(figure) => {
                let value = cells::figure(cell, &figure, named.unit, decimal_comma)?;
                if let Some(value) = value {
                    self.figure(named, figure.key, value);
                }
            }
            Holds::Words => self.words(named, cell, context)?,
        }
        Ok(())
    }

    fn text(&mut self, column: Column, cell: &str) {
        let own = Some(cell.to_owned());
        match column {
            Column::Scan => self.row.scan = own,
            Column::Plate => self.plate = own,
            Column::Bath => self.row.shares.bath = own,
            Column::Collodion => self.row.shares.collodion = own,
            Column::Holder => self.row.shares.holder = own,
            _ => {}
        }
    }

    fn figure(&mut self, named: &Named, key: &'static str, value: f64) {
        match named.column {
            Column::BathToDeveloper => self.statements.bath_to_developer_min = Some(value),
            Column::RoomTemperature => self.statements.room_temperature_c = Some(value),
            Column::DeveloperTemperature => self.statements.developer_temperature_c = Some(value),
            Column::DipAxis => {
                let entry = ("dip_axis_deg", named.written.clone(), value.to_string());
                self.entries.push(entry);
            }
            Column::DeveloperDirection => self.entries.push((
                "developer_direction_deg",
                named.written.clone(),
                value.to_string(),
            )),
            _ => {}
        }
        // A thousandth of any unit here is below what is measured at the bench.
        let rounded = (value * 1000.0).round() / 1000.0;
        self.record.figures.insert(key.to_owned(), rounded);
    }

    fn words(&mut self, named: &Named, cell: &str, context: &Context) -> Result<(), Wrong> {
        match named.column {
            Column::Process => self.row.process = Some(words::process(cell)?),
            Column::Kind => self.row.kind = Some(words::kind(cell)?),
            Column::Size => {
                let size = PlateSize::from_str(cell).map_err(|error| {
                    (
                        format!("is no size: {error}"),
                        "write a name or both sides with their unit, as in quarter or 82.5x108mm"
                            .to_owned(),
                    )
                })?;
                self.row.plate_size = Some(size);
            }
            Column::Finish => {
                self.statements.finish = Some(words::finish(cell, &named.written)?);
            }
            Column::Answers => {
                self.row.told.answers = words::answers(cell, context.catalogue)?;
                let answers = self.row.told.answers.iter();
                self.record.answers = answers
                    .filter_map(|answer| {
                        let check = context.catalogue.checks.get(&answer.check)?;
                        Some(ReportedAnswer {
                            check: answer.check.clone(),
                            yes: answer.yes,
                            means: check.answer.clone(),
                        })
                    })
                    .collect();
            }
            Column::Verdicts => {
                self.row.told.verdicts = words::verdicts(cell, context.catalogue)?;
                let verdicts = self.row.told.verdicts.iter();
                self.record.verdicts = verdicts
                    .map(|verdict| WrittenVerdict {
                        written: verdict.written.clone(),
                        finding: None,
                    })
                    .collect();
            }
            _ => {}
        }
        Ok(())
    }
}

impl Told {
    /// Whether nothing was told.
    pub fn is_empty(&self) -> bool {
        *self == Told::default()
    }
}

#[cfg(test)]
mod tests {
    use crate::plate::{PlateKind, Process};
    use crate::sheet::made;

    #[test]
    fn two_columns_of_remarks_are_no_reason_to_refuse_a_sheet() {
        let sheet = made::sheet("scan,notes,comments\na.tif,rain at noon,fixed twice\n");
        let [row] = &sheet.rows[..] else {
            panic!("{sheet:?}");
        };
        let record = row.told.record.as_ref().unwrap();
        let texts: Vec<_> = record.cells.iter().map(|cell| cell.text.as_str()).collect();
        assert_eq!(texts, ["a.tif", "rain at noon"]);
        assert_eq!(sheet.notes.len(), 1);
        assert!(sheet.notes[0].words().contains("`notes` and `comments`"));
    }

    #[test]
    fn a_row_that_names_only_the_plate_says_so() {
        let named = |text: &str| {
            let sheet = made::sheet(text);
            let row = &sheet.rows[0];
            (row.scan.clone(), row.named_by_plate)
        };
        let plate = Some("B-017".to_owned());
        assert_eq!(
            named("plate,process\nB-017,tintype\n"),
            (plate.clone(), true)
        );
        assert_eq!(named("scan,plate\n,B-017\n"), (plate, false));
    }

    #[test]
    fn a_row_states_what_its_cells_say() {
        let sheet = made::sheet(
            "scan;process;size;kind;bath;room temperature (F);bath to developer (min);developer strength (gr per UK oz);when scanned;drained at;weather;answers\n\
             plate-17.tif;tintype;sixth;picture;A;86;12,5;20;varnished;bottom left;rain;litmus: no\n",
        );
        let row = &sheet.rows[0];
        assert_eq!(row.line, 2);
        assert_eq!(row.process, Some(Process::PositiveOnMetal));
        assert_eq!(row.kind, Some(PlateKind::Picture));
        assert_eq!(row.shares.bath.as_deref(), Some("A"));
        let signs: Vec<_> = row.told.signs.iter().map(|s| s.words.as_str()).collect();
        assert_eq!(
            signs,
            [
                "you wrote that 12.5 minutes passed between bath and developer",
                "you wrote that the room was at 30 C",
                "you wrote that the plate was varnished when scanned",
            ]
        );
        let record = row.told.record.as_ref().unwrap();
        assert_eq!(record.figures["room_temperature_c"], 30.0);
        assert_eq!(record.figures["developer_strength_g_per_l"], 45.612);
        assert_eq!(record.answers[0].check, "litmus");
        assert!(record.cells.iter().any(|cell| cell.text == "86"));
        assert!(!record.cells.iter().any(|cell| cell.text == "rain"));
        assert_eq!(sheet.notes.len(), 1);
        assert!(
            sheet.notes[0]
                .words()
                .contains("line 1: the column `weather`")
        );
    }

    #[test]
    fn bad_rows_are_named_and_left_out() {
        let sheet = made::sheet(
            "scan,process,room temperature (C),exposure,drained at,fresh bath\n\
             a,tintype,21,8,bottom left,no\n\
             b,tintpye,21,8,bottom left,no\n\
             c,tintype,210,8,bottom left,no\n\
             d,tintype,21,8,botom left,no\n\
             ,tintype,21,8,bottom left,no\n\
             f,tintype,21,8,bottom left,perhaps\n\
             g,tintype,\"21,5\",8,bottom left,no\n\
             h,tintype,21,8,bottom left,no,more\n\
             i,-,?,,,\n\
             ,,,,,\n",
        );
        let lines: Vec<usize> = sheet.rows.iter().map(|row| row.line).collect();
        assert_eq!(lines, [2, 10]);
        let notes: Vec<String> = sheet.notes.iter().map(|note| note.words()).collect();
        for (note, says) in notes.iter().zip([
            "line 1: the column `exposure` does not say its unit",
            "line 3: `process` `tintpye` is no process; the row is left out",
            "line 4: `room temperature (C)` `210` cannot be meant; the row is left out",
            "line 5: `drained at` cannot be `botom left`; the row is left out",
            "line 6: the row names no scan and is left out",
            "line 7: `fresh bath` `perhaps` is neither yes nor no; the row is left out",
            "line 8: `room temperature (C)` `21,5` is no figure; the row is left out",
            "line 9: `more` stands beyond the last column; the row is left out",
        ]) {
            assert!(note.starts_with(says), "{note}\n{says}");
        }
        assert_eq!(notes.len(), 8);
        assert!(sheet.notes.iter().all(|note| !note.instead.is_empty()));
        let record = sheet.rows[0].told.record.as_ref().unwrap();
        assert!(
            !record.figures.contains_key("exposure_s"),
            "seconds or minutes?"
        );
    }
}
