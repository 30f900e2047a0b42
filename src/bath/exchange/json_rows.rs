//! The log as one JSON object.

use std::cell::Cell as Counter;
use std::fmt;
use std::io::{self, BufReader, Read, Write};
use std::rc::Rc;

use serde::de::{DeserializeSeed, Error as _, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde::{Deserializer, Serialize, Serializer};
use serde_json::{Map, Value, json};

use super::{Bounded, ImportError, Incoming, Refusals};
use crate::bath::log::{
    Added, BathError, BathLog, Cell, NewRow, Row, Table, Writing, all_columns, short,
};

/// Name and version of the object; a change of meaning raises the number.
pub const JSON_SCHEMA: &str = "oystermark/bath-log/1";

#[derive(Serialize)]
struct Out<'a> {
    schema: &'a str,
    rows: OutRows<'a>,
}

/// Rows that become objects one by one as they are written.
struct OutRows<'a>(&'a [Row]);

impl Serialize for OutRows<'_> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let columns = all_columns();
        to.collect_seq(self.0.iter().map(|row| {
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
        }))
    }
}

/// Writes rows as JSON; empty columns are left out.
///
/// # Errors
/// When `to` cannot be written.
pub fn to_json(rows: &[Row], mut to: impl Write) -> io::Result<()> {
    let out = Out {
        schema: JSON_SCHEMA,
        rows: OutRows(rows),
    };
    serde_json::to_writer_pretty(&mut to, &out)?;
    writeln!(to)
}

/// Reads rows from JSON into a log, all of them or none, one after the other, so that memory does not grow with the
/// file. `recorded` is the time of writing for rows that state none.
///
/// # Errors
/// Rows that are none, each with its reason; a log that cannot be written.
pub fn from_json(log: &mut BathLog, from: impl Read, recorded: &str) -> Result<Added, ImportError> {
    let mut refusals = Refusals::of("row");
    log.writing(|log| {
        let since_row = Rc::new(Counter::new(0));
        let bounded = Bounded {
            from: BufReader::new(from),
            since_row: Rc::clone(&since_row),
        };
        let mut json = serde_json::Deserializer::from_reader(bounded);
        let mut taking = Taking {
            log,
            recorded,
            refusals: &mut refusals,
            since_row,
            row: 0,
            failed: None,
        };
        let read = json
            .deserialize_map(Whole(&mut taking))
            .and_then(|()| json.end());
        let (row, failed) = (taking.row, taking.failed);
        if let Some(error) = failed {
            return Err(error.into());
        }
        match read {
            Err(_) if refusals.stopped => {}
            Err(error) if error.is_io() => refusals.stop(row.max(1), error.to_string()),
            Err(error) => {
                let why = format!("this is not the JSON of a bath log: {error}");
                refusals.stop(row.max(1), why);
            }
            Ok(()) => {}
        }
        match refusals.count {
            0 => Ok(()),
            _ => Err(refusals.into_error()),
        }
    })
}

/// What is being taken in.
struct Taking<'a, 'b> {
    log: &'a mut Writing<'b>,
    recorded: &'a str,
    refusals: &'a mut Refusals,
    /// Bytes read since the last row was complete.
    since_row: Rc<Counter<u64>>,
    /// The row that was last begun, counted from 1.
    row: u64,
    /// Why the log could not be written; nothing more is read then.
    failed: Option<BathError>,
}

impl Taking<'_, '_> {
    fn take(&mut self, object: &Map<String, Value>) -> Result<(), BathError> {
        match row(object, self.recorded) {
            // After the first refusal the rest is only looked at.
            Ok(row) if self.refusals.count == 0 => row.write(self.log)?,
            Ok(_) => {}
            Err(why) => self.refusals.add(self.row, why),
        }
        Ok(())
    }
}

/// The object that the file is.
struct Whole<'t, 'a, 'b>(&'t mut Taking<'a, 'b>);

impl<'de> Visitor<'de> for Whole<'_, '_, '_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("an object with `schema` and `rows`")
    }

    fn visit_map<M: MapAccess<'de>>(self, mut map: M) -> Result<(), M::Error> {
        let (mut schema, mut rows) = (false, false);
        while let Some(name) = map.next_key::<String>()? {
            match name.as_str() {
                "schema" if !schema => {
                    let stated: String = map.next_value()?;
                    if stated != JSON_SCHEMA {
                        let why = format!("its schema is `{}`, not {JSON_SCHEMA}", short(&stated));
                        // What was said of rows before it means nothing.
                        *self.0.refusals = Refusals::of("row");
                        self.0.refusals.stop(1, why.as_str());
                        return Err(M::Error::custom(why));
                    }
                    schema = true;
                }
                "rows" if !rows => {
                    map.next_value_seed(Rows(self.0))?;
                    rows = true;
                }
                "schema" => return Err(M::Error::duplicate_field("schema")),
                "rows" => return Err(M::Error::duplicate_field("rows")),
                _ => _ = map.next_value::<IgnoredAny>()?,
            }
            self.0.since_row.set(0);
        }
        match (schema, rows) {
            (false, _) => Err(M::Error::missing_field("schema")),
            (_, false) => Err(M::Error::missing_field("rows")),
            _ => Ok(()),
        }
    }
}

/// The list of rows in it.
struct Rows<'t, 'a, 'b>(&'t mut Taking<'a, 'b>);

impl<'de> DeserializeSeed<'de> for Rows<'_, '_, '_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, from: D) -> Result<(), D::Error> {
        from.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Rows<'_, '_, '_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("a list of rows")
    }

    fn visit_seq<S: SeqAccess<'de>>(self, mut rows: S) -> Result<(), S::Error> {
        let taking = self.0;
        loop {
            taking.since_row.set(0);
            taking.row += 1;
            let Some(object) = rows.next_element::<Map<String, Value>>()? else {
                // The end of the list is no row.
                taking.row -= 1;
                return Ok(());
            };
            if let Err(error) = taking.take(&object) {
                taking.failed = Some(error);
                return Err(S::Error::custom("the log cannot be written"));
            }
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
    use crate::bath::exchange::MOST_ROW_BYTES;

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

    /// What was refused, as `row: why`, with `...` where the rest was not looked at.
    fn refused(from: impl Read) -> Vec<String> {
        let here = tempfile::tempdir().unwrap();
        let mut log = BathLog::open(&here.path().join("baths.log")).unwrap();
        let error = from_json(&mut log, from, NOW).unwrap_err();
        assert_eq!(log.rows(None).unwrap(), []);
        let ImportError::Refused { first, stopped, .. } = error else {
            panic!("{error}");
        };
        let told = first.iter().map(|r| format!("{}: {}", r.line, r.why));
        told.chain(stopped.then(|| "...".to_owned())).collect()
    }

    #[test]
    fn refusals_name_the_row_wherever_the_schema_stands() {
        let event = |what: &str| {
            format!(r#"{{"row": "event", "bath": "A", "day": "2026-05-11", "what": "{what}"}}"#)
        };
        let (good, bad) = (event("made"), event("boiled"));
        let schema = r#""schema": "oystermark/bath-log/1""#;
        for text in [
            format!(r#"{{{schema}, "by": [1, {{}}], "rows": [{good}, {bad}, {good}, {bad}]}}"#),
            format!(r#"{{"rows": [{good}, {bad}, {good}, {bad}], {schema}}}"#),
        ] {
            let why = refused(text.as_bytes());
            assert!(why.len() == 2, "{why:?}");
            assert!(why[0].starts_with("2: what") && why[1].starts_with("4: what"));
        }
        for (text, says) in [
            (
                format!(r#"{{{schema}, "rows": [{good}, {good}, 7]}}"#),
                "3: this is not the JSON",
            ),
            (
                format!(r#"{{{schema}, "rows": [{good}, {good}"#),
                "3: this is not the JSON",
            ),
            (
                format!(r#"{{{schema}, "rows": [{good}]}} and more"#),
                "1: this is not the JSON",
            ),
            (
                format!(r#"{{{schema}, "rows": [{good}], "rows": []}}"#),
                "1: this is not the JSON",
            ),
            (format!(r#"{{"rows": [{good}]}}"#), "missing field `schema`"),
            (format!("{{{schema}}}"), "missing field `rows`"),
            (
                format!(r#"{{"rows": [{bad}], "schema": "x"}}"#),
                "1: its schema is `x`",
            ),
        ] {
            let why = refused(text.as_bytes());
            assert!(why.len() == 2 && why[1] == "...", "{text}: {why:?}");
            assert!(why[0].contains(says), "{text}: {why:?}");
        }
    }

    /// A file that goes on for ever within one row: it is given up long before. One that goes on in rows is read.
    #[test]
    fn a_row_without_end_does_not_fill_the_memory() {
        struct Endless(u64);
        impl Read for Endless {
            fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
                into.fill(b'x');
                self.0 += into.len() as u64;
                assert!(self.0 < 4 * MOST_ROW_BYTES, "the reader went on");
                Ok(into.len())
            }
        }
        let start = br#"{"schema": "oystermark/bath-log/1", "rows": [{"row": ""#;
        let why = refused(start.as_slice().chain(Endless(0)));
        assert!(why[0].starts_with("1: the row is longer"), "{why:?}");

        let row = r#"{"row": "event", "bath": "A", "day": "2026-05-11", "what": "boiled"},"#;
        let many = usize::try_from(3 * MOST_ROW_BYTES).unwrap() / row.len();
        let text = format!(r#"{{"rows": [{} 7]}}"#, row.repeat(many));
        let why = refused(text.as_bytes());
        assert!(why[0].starts_with("1: what"), "{why:?}");
    }
}
