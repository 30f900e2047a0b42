//! The log of the baths: one SQLite file to which rows are added and from which nothing is taken away.
//!
//! The file keeps a rollback journal, not a write-ahead log: between two runs it is then one whole file that can be
//! copied to a stick or lie on a shared folder. A row counts as written once the disk has confirmed it
//! (`synchronous = EXTRA`); a program that is killed leaves a journal from which the next one restores the file. Two
//! programs take turns, each waiting for the other for up to `PATIENCE`.

use std::collections::{BTreeMap, HashSet};
use std::path::Path;
use std::time::Duration;

use rusqlite::types::{ToSqlOutput, Value, ValueRef};
use rusqlite::{Connection, ErrorCode, OpenFlags, ToSql, TransactionBehavior, params_from_iter};

mod columns;
mod row;
mod same;
mod schema;

pub use columns::{Column, EVENTS_OF_A_BATH, Kind, Table, all_columns};
pub use row::short;
pub use row::{Cell, NewRow, Row};
pub use same::{DayFrom, Unplaced, in_force};

/// How long one program waits for another to finish writing. Our own choice: an import of 10,000 rows is done
/// in a small part of it.
const PATIENCE: Duration = Duration::from_secs(20);

/// What went wrong with a log.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BathError {
    /// There is no such file.
    #[error("{0}: there is no bath log of that name")]
    Missing(String),
    /// A database of another program, or no database.
    #[error("{0}: this is not a bath log of oystermark, so it was left as it is")]
    Foreign(String),
    /// Written by a later version.
    #[error("{path}: the log has version {found}, this program knows versions up to {known}")]
    Newer {
        path: String,
        found: i64,
        known: usize,
    },
    /// Another program holds the file.
    #[error("{0}: another program is writing into the log and did not finish")]
    Busy(String),
    /// The file cannot be opened, read or written.
    #[error("{path}: {why}")]
    File { path: String, why: String },
    /// A row cannot be written.
    #[error("{0}")]
    Row(String),
}

impl BathError {
    fn sql(path: &str, error: &rusqlite::Error) -> BathError {
        let path = path.to_owned();
        match error.sqlite_error_code() {
            Some(ErrorCode::NotADatabase) => BathError::Foreign(path),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => BathError::Busy(path),
            Some(ErrorCode::CannotOpen) => BathError::File {
                path,
                why: "the file cannot be opened here".to_owned(),
            },
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => BathError::File {
                path,
                why: "the file cannot be written to".to_owned(),
            },
            Some(ErrorCode::DiskFull) => BathError::File {
                path,
                why: "the disk is full".to_owned(),
            },
            Some(ErrorCode::DatabaseCorrupt) => BathError::File {
                path,
                why: "the log is damaged".to_owned(),
            },
            _ => BathError::File {
                path,
                why: error.to_string(),
            },
        }
    }

    /// What to do next.
    pub fn hint(&self) -> &'static str {
        match self {
            BathError::Missing(_) => {
                "a log comes into being with bath record, bath event, bath add or read --log"
            }
            BathError::Foreign(_) => "give another name after --log",
            BathError::Newer { .. } => "use the newer program that wrote it",
            BathError::Busy(_) => "wait for it and try again; nothing was written",
            BathError::File { .. } => {
                "look at the file, its folder and the room on the disk; nothing was written"
            }
            BathError::Row(_) => "nothing was written; mend it and try again",
        }
    }
}

/// What became of rows that were to be added.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Added {
    /// New rows of what the log did not hold.
    pub new: usize,
    /// Rows that the log held before, with the same figures; nothing was written.
    pub known: usize,
    /// Plates of the log with other figures than before: each is a new row that corrects the one that counted.
    pub anew: usize,
    /// Plates that had been taken back, and stay so; nothing was written.
    pub taken_back: usize,
    /// Of the new rows, plates with the very figures of a plate of that name of another day.
    pub twins: usize,
}

impl std::ops::AddAssign for Added {
    fn add_assign(&mut self, more: Added) {
        self.new += more.new;
        self.known += more.known;
        self.anew += more.anew;
        self.taken_back += more.taken_back;
        self.twins += more.twins;
    }
}

/// An open log.
#[derive(Debug)]
pub struct BathLog {
    path: String,
    connection: Connection,
}

/// Rows on their way into the log.
pub struct Writing<'a> {
    path: &'a str,
    connection: &'a Connection,
    added: Added,
    /// Keys that are corrected, and the bath each must be of.
    corrected: BTreeMap<String, String>,
}

impl Writing<'_> {
    /// Adds a row as it stands, with the key it has, unless the log holds that key: a row that was written before, here
    /// or in another log.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn add(&mut self, row: &Row) -> Result<(), BathError> {
        let new = self.insert(row)?;
        self.added.new += new;
        self.added.known += 1 - new;
        Ok(())
    }

    /// 1 when the row was new, 0 when its key was there.
    fn insert(&mut self, row: &Row) -> Result<usize, BathError> {
        if let Some(key) = row.text("corrects") {
            self.corrected.insert(key.to_owned(), row.bath().to_owned());
        }
        insert(self.connection, row).map_err(|why| BathError::sql(self.path, &why))
    }
}

impl ToSql for Cell {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(match self {
            Cell::Text(text) => ToSqlOutput::Borrowed(ValueRef::Text(text.as_bytes())),
            Cell::Number(number) => ToSqlOutput::Owned(Value::Real(*number)),
        })
    }
}

impl BathLog {
    /// Opens a log; makes it when there is none.
    ///
    /// # Errors
    /// A file that is no log, a log of a later version, a file that cannot be opened.
    pub fn open(path: &Path) -> Result<BathLog, BathError> {
        BathLog::with(path, OpenFlags::SQLITE_OPEN_CREATE)
    }

    /// Opens a log that is there.
    ///
    /// # Errors
    /// As [`BathLog::open`], and when there is no such file.
    pub fn open_existing(path: &Path) -> Result<BathLog, BathError> {
        if !path.exists() {
            return Err(BathError::Missing(path.display().to_string()));
        }
        BathLog::with(path, OpenFlags::empty())
    }

    fn with(path: &Path, create: OpenFlags) -> Result<BathLog, BathError> {
        let name = path.display().to_string();
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX | create;
        let sql = |why: rusqlite::Error| BathError::sql(&name, &why);
        let mut connection = Connection::open_with_flags(path, flags).map_err(sql)?;
        connection.busy_timeout(PATIENCE).map_err(sql)?;
        connection
            .execute_batch("PRAGMA synchronous = EXTRA; PRAGMA trusted_schema = OFF;")
            .map_err(sql)?;
        schema::bring_up(&mut connection, &name)?;
        Ok(BathLog {
            path: name,
            connection,
        })
    }

    fn failed(&self, error: &rusqlite::Error) -> BathError {
        BathError::sql(&self.path, error)
    }

    /// Adds rows, all of them or none. A plate that is there already is left as it is, or corrected ([`Writing::enter`]);
    /// its day is taken to be the true one.
    ///
    /// # Errors
    /// A row that corrects one that is not there, or a file that cannot be written; nothing is written then.
    pub fn add(&mut self, rows: &[Row]) -> Result<Added, BathError> {
        let (added, _) = self.add_plates(rows, DayFrom::Maker)?;
        Ok(added)
    }

    /// Adds plates whose day was said by the maker, or is only today's. Those that could be a plate of another day are
    /// not written, and told.
    ///
    /// # Errors
    /// As [`BathLog::add`].
    pub fn add_plates(
        &mut self,
        rows: &[Row],
        day: DayFrom,
    ) -> Result<(Added, Vec<Unplaced>), BathError> {
        let mut unplaced = Vec::new();
        let added = self.writing(|log| {
            for row in rows {
                unplaced.extend(log.enter(row, day)?);
            }
            Ok::<(), BathError>(())
        })?;
        Ok((added, unplaced))
    }

    /// Lets `write` add rows one by one; they are kept when all of it went well, and none of them otherwise.
    ///
    /// # Errors
    /// Those of `write` and of [`BathLog::add`].
    pub fn writing<E: From<BathError>>(
        &mut self,
        write: impl FnOnce(&mut Writing) -> Result<(), E>,
    ) -> Result<Added, E> {
        let path = self.path.clone();
        let sql = |why: rusqlite::Error| BathError::sql(&path, &why);
        let transaction = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(sql)?;
        let mut writing = Writing {
            path: &path,
            connection: &transaction,
            added: Added::default(),
            corrected: BTreeMap::new(),
        };
        write(&mut writing)?;
        let added = writing.added;
        for (key, bath) in writing.corrected {
            if !holds(&transaction, &key, &bath).map_err(sql)? {
                return Err(E::from(BathError::Row(format!(
                    "there is no row {key} of bath {bath} to correct"
                ))));
            }
        }
        transaction.commit().map_err(sql)?;
        Ok(added)
    }

    /// The whole key of a row from the start of it.
    ///
    /// # Errors
    /// When no row, or more than one, has a key that begins so.
    pub fn key_of(&self, start: &str) -> Result<String, BathError> {
        let mut found = HashSet::new();
        for table in Table::ALL {
            let query = format!(
                "SELECT key FROM {} WHERE substr(key, 1, length(?1)) = ?1 LIMIT 2",
                table.name()
            );
            let mut statement = self
                .connection
                .prepare(&query)
                .map_err(|e| self.failed(&e))?;
            let keys = statement
                .query_map([start], |row| row.get::<_, String>(0))
                .and_then(Iterator::collect::<Result<Vec<_>, _>>)
                .map_err(|e| self.failed(&e))?;
            found.extend(keys);
        }
        let mut found = found.into_iter();
        match (found.next(), found.next()) {
            (Some(key), None) if !start.is_empty() => Ok(key),
            (None, _) => Err(BathError::Row(format!(
                "no row has a key that begins with {start}"
            ))),
            _ => Err(BathError::Row(format!(
                "several rows have keys that begin with {start}; give more of it"
            ))),
        }
    }

    /// Names of the baths, in order.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn baths(&self) -> Result<Vec<String>, BathError> {
        let query = "SELECT bath FROM events UNION SELECT bath FROM readings UNION SELECT bath FROM plates ORDER BY 1";
        let mut statement = self
            .connection
            .prepare(query)
            .map_err(|e| self.failed(&e))?;
        let names = statement.query_map([], |row| row.get(0));
        names
            .and_then(Iterator::collect)
            .map_err(|e| self.failed(&e))
    }

    /// Every row that was ever written, or those of one bath: by day, then by the time of writing.
    ///
    /// # Errors
    /// When the file cannot be read or holds what no version of the program writes.
    pub fn rows(&self, bath: Option<&str>) -> Result<Vec<Row>, BathError> {
        let mut rows = Vec::new();
        for table in Table::ALL {
            let query = format!(
                "SELECT {} FROM {} WHERE ?1 IS NULL OR bath = ?1 ORDER BY day, recorded, n",
                cells_of(table),
                table.name()
            );
            let mut statement = self
                .connection
                .prepare(&query)
                .map_err(|e| self.failed(&e))?;
            let mut found = statement.query([bath]).map_err(|e| self.failed(&e))?;
            while let Some(values) = found.next().map_err(|e| self.failed(&e))? {
                rows.push(read_row(&self.path, table, values)?);
            }
        }
        // Sorting keeps what is already in order: events go before readings and plates of one moment.
        rows.sort_by(|a, b| order(a).cmp(&order(b)));
        Ok(rows)
    }
}

/// The columns that [`read_row`] needs, as SQL.
fn cells_of(table: Table) -> String {
    let names: Vec<&str> = table.columns().map(|column| column.name).collect();
    format!("key, {}", names.join(", "))
}

/// A row from a query that begins with [`cells_of`] its table.
fn read_row(path: &str, table: Table, values: &rusqlite::Row) -> Result<Row, BathError> {
    let damaged = |why: String| BathError::File {
        path: path.to_owned(),
        why: format!("a row of the log was changed by another program: {why}"),
    };
    let sql = |why: rusqlite::Error| BathError::sql(path, &why);
    let mut row = NewRow::of(table);
    for (at, column) in (1..).zip(table.columns()) {
        match values.get_ref(at).map_err(sql)? {
            ValueRef::Null => {}
            ValueRef::Real(number) => row.set_number(column.name, number).map_err(damaged)?,
            ValueRef::Text(text) => {
                let text = std::str::from_utf8(text).map_err(|e| damaged(e.to_string()))?;
                row.set(column.name, text).map_err(damaged)?;
            }
            _ => return Err(damaged(column.name.to_owned())),
        }
    }
    // Corrections name the key that the row was written with.
    let key: String = values.get(0).map_err(sql)?;
    if !row::is_key(&key) {
        return Err(damaged(format!(
            "`{}` is not the key of a row",
            short(&key)
        )));
    }
    Ok(row.finish().map_err(damaged)?.called(&key))
}

fn order(row: &Row) -> (&str, &str) {
    let text = |name| row.text(name).unwrap_or_default();
    (text("day"), text("recorded"))
}

/// 1 when the row was new, 0 when it was there.
fn insert(connection: &Connection, row: &Row) -> rusqlite::Result<usize> {
    let filled: Vec<(&str, &Cell)> = row
        .table()
        .columns()
        .filter_map(|column| Some((column.name, row.cell(column.name)?)))
        .collect();
    let names: Vec<&str> = filled.iter().map(|(name, _)| *name).collect();
    let query = format!(
        "INSERT INTO {} (key, {}) VALUES (?{}) ON CONFLICT (key) DO NOTHING",
        row.table().name(),
        names.join(", "),
        ", ?".repeat(names.len())
    );
    let key = Cell::Text(row.key().to_owned());
    let values = std::iter::once(&key).chain(filled.iter().map(|(_, cell)| *cell));
    connection
        .prepare(&query)?
        .execute(params_from_iter(values))
}

fn holds(connection: &Connection, key: &str, bath: &str) -> rusqlite::Result<bool> {
    connection.query_row(
        "SELECT EXISTS (SELECT 1 FROM events WHERE key = ?1 AND bath = ?2)
             OR EXISTS (SELECT 1 FROM readings WHERE key = ?1 AND bath = ?2)
             OR EXISTS (SELECT 1 FROM plates WHERE key = ?1 AND bath = ?2)",
        [key, bath],
        |row| row.get(0),
    )
}

#[cfg(test)]
mod tests;
