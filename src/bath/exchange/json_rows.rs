//! The log as one JSON object.

use std::io::{self, Read, Write};

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};

use super::{ImportError, Incoming, Refusals};
use crate::bath::log::{Added, BathLog, Cell, NewRow, Row, Table, all_columns, short};

/// Name and version of the object; a change of meaning raises the number.
pub const JSON_SCHEMA: &str = "oystermark/bath-log/1";

/// Largest file that is read, bytes: some 100,000 plates. Our own choice, so that no file fills the memory.
const MOST_BYTES: u64 = 64 << 20;

#[derive(Serialize)]
struct Out<'a> {
    schema: &'a str,
    rows: Vec<Map<String, Value>>,
}

#[derive(Deserialize)]
struct In {
    schema: String,
    rows: Vec<Map<String, Value>>,
}

/// Writes rows as JSON; empty columns are left out.
///
/// # Errors
/// When `to` cannot be written.
pub fn to_json(rows: &[Row], mut to: impl Write) -> io::Result<()> {
    let columns = all_columns();
    let object = |row: &Row| {
        let mut object = Map::new();
        object.insert("row".to_owned(), json!(row.table().word()));
        object.insert("key".to_owned(), json!(row.key()));
        for column in &columns {
            let value = match row.cell(column.name) {
                None => continue,
                Some(Cell::Text(text)) => json!(text),
                Some(Cell::Number(number)) => json!(number),
            };
            object.insert(column.name.to_owned(), value);
        }
        object
    };
    let out = Out {
        schema: JSON_SCHEMA,
        rows: rows.iter().map(object).collect(),
    };
    serde_json::to_writer_pretty(&mut to, &out)?;
    writeln!(to)
}

/// Reads rows from JSON into a log, all of them or none. `recorded` is the time of writing for rows that state none.
///
/// # Errors
/// Rows that are none, each with its reason; a log that cannot be written.
pub fn from_json(log: &mut BathLog, from: impl Read, recorded: &str) -> Result<Added, ImportError> {
    let mut refusals = Refusals::of("row");
    log.writing(|log| {
        for (at, object) in objects(from, &mut refusals).iter().enumerate() {
            match row(object, recorded) {
                Ok(row) if refusals.count == 0 => row.write(log)?,
                Ok(_) => {}
                Err(why) => refusals.add(at as u64 + 1, why),
            }
        }
        match refusals.count {
            0 => Ok(()),
            _ => Err(refusals.into_error()),
        }
    })
}

/// The rows of the file; none where it is no bath log, which is a refusal.
fn objects(from: impl Read, refusals: &mut Refusals) -> Vec<Map<String, Value>> {
    let mut bytes = Vec::new();
    let read = from.take(MOST_BYTES + 1).read_to_end(&mut bytes);
    let found = match read {
        Err(error) => Err(error.to_string()),
        Ok(_) if bytes.len() as u64 > MOST_BYTES => Err(format!(
            "the file is larger than {} MB; import it as CSV",
            MOST_BYTES >> 20
        )),
        Ok(_) => serde_json::from_slice::<In>(&bytes)
            .map_err(|error| format!("this is not the JSON of a bath log: {error}")),
    };
    match found {
        Ok(found) if found.schema == JSON_SCHEMA => found.rows,
        Ok(found) => {
            let why = format!(
                "its schema is `{}`, not {JSON_SCHEMA}",
                short(&found.schema)
            );
            refusals.stop(1, why);
            Vec::new()
        }
        Err(why) => {
            refusals.stop(1, why);
            Vec::new()
        }
    }
}

fn row(object: &Map<String, Value>, recorded: &str) -> Result<Incoming, String> {
    let text = |name: &str| object.get(name).and_then(Value::as_str).unwrap_or_default();
    let table = Table::ALL
        .into_iter()
        .find(|table| table.word() == text("row"));
    let table = table.ok_or_else(|| {
        format!(
            "row: `{}` is none of: event, reading, plate",
            short(text("row"))
        )
    })?;
    let mut row = NewRow::of(table);
    row.set("recorded", recorded)?;
    for (name, value) in object {
        match (name.as_str(), value) {
            ("row" | "key", _) | (_, Value::Null) => {}
            (name, Value::String(text)) => row.set(name, text)?,
            (name, Value::Number(number)) => {
                let number = number
                    .as_f64()
                    .ok_or_else(|| format!("{name}: not a number"))?;
                row.set_number(name, number)?;
            }
            (name, _) => return Err(format!("{}: neither text nor a number", short(name))),
        }
    }
    Incoming::of(row.finish()?, text("key"))
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: &str = "2026-05-12T19:30:15.000Z";

    #[test]
    fn what_goes_out_comes_in_again_and_the_rest_is_refused() {
        let here = tempfile::tempdir().unwrap();
        let mut log = BathLog::open(&here.path().join("baths.log")).unwrap();
        let mut put = |text: &str| from_json(&mut log, text.as_bytes(), NOW);
        let good = r#"{"schema": "oystermark/bath-log/1", "rows": [
            {"row": "plate", "bath": "A", "day": "2026-05-11", "plate": "A-1", "veil_d": 0.123456789},
            {"row": "reading", "bath": "A", "day": "2026-05-11", "ph": 4}]}"#;
        assert_eq!(
            put(good),
            Ok(Added {
                new: 2,
                ..Added::default()
            })
        );
        for (text, says) in [
            ("", "not the JSON"),
            ("{\"schema\": \"x\", \"rows\": []}", "its schema is"),
            (&good.replace("2026-05-11", "2026-02-31"), "no day"),
            (&good.replace("0.123456789", "[1]"), "neither text"),
            (&good.replace("\"ph\"", "\"Ph\""), "has no Ph"),
        ] {
            let Err(ImportError::Refused { first, .. }) = put(text) else {
                panic!("{text} was taken");
            };
            assert!(first[0].why.contains(says), "{first:?}");
        }
        let rows = log.rows(None).unwrap();
        assert_eq!(rows.len(), 2);
        let mut out = Vec::new();
        to_json(&rows, &mut out).unwrap();
        let again = from_json(&mut log, out.as_slice(), "2027-01-01T00:00:00Z");
        assert_eq!(
            again,
            Ok(Added {
                known: 2,
                ..Added::default()
            })
        );
    }
}
