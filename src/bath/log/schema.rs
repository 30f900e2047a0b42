//! The database's tables, version by version.

use rusqlite::{Connection, Transaction, TransactionBehavior};

use super::BathError;

/// Marks a database as a bath log ("oybl"), so that another program's file is never written into.
const APPLICATION_ID: i32 = 0x6f79_626c;

/// Steps from each version to the next; the version of a file is how many of them it has seen. A step, once
/// published, is never changed: a new one is added.
const STEPS: &[&str] = &[
    "CREATE TABLE events (
        n INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE,
        bath TEXT NOT NULL, day TEXT NOT NULL, recorded TEXT NOT NULL, corrects TEXT, remark TEXT,
        what TEXT NOT NULL, grams REAL, ml REAL);
    CREATE TABLE readings (
        n INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE,
        bath TEXT NOT NULL, day TEXT NOT NULL, recorded TEXT NOT NULL, corrects TEXT, remark TEXT,
        density_g_cm3 REAL, temp_c REAL, g_per_l REAL, g_per_l_u REAL, ph REAL, litmus TEXT, litres REAL);
    CREATE TABLE plates (
        n INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE,
        bath TEXT NOT NULL, day TEXT NOT NULL, recorded TEXT NOT NULL, corrects TEXT, remark TEXT,
        plate TEXT NOT NULL, process TEXT, kind TEXT, width_mm REAL, height_mm REAL,
        veil_d REAL, veil_d_u REAL, border_d REAL, range_d REAL, range_d_u REAL,
        pinholes_per_cm2 REAL, comets_per_cm2 REAL, dip_comets_per_cm2 REAL, dip_streaks_d REAL,
        program TEXT);",
    // Looking up one bath's rows in order.
    "CREATE INDEX events_by_day ON events (bath, day, recorded);
    CREATE INDEX readings_by_day ON readings (bath, day, recorded);
    CREATE INDEX plates_by_day ON plates (bath, day, recorded);",
    // From here on a plate is known again by its name and day, no longer by a key that left the day out. Rows keep the
    // keys they have; these look up a plate, in the order asked for, or the index by day would be taken and every plate
    // of the bath looked at; and whether a row was corrected.
    "CREATE INDEX plates_by_name ON plates (bath, plate, day, recorded);
    CREATE INDEX events_by_corrects ON events (corrects) WHERE corrects IS NOT NULL;
    CREATE INDEX readings_by_corrects ON readings (corrects) WHERE corrects IS NOT NULL;
    CREATE INDEX plates_by_corrects ON plates (corrects) WHERE corrects IS NOT NULL;",
];

/// The version this program writes.
pub(super) const VERSION: usize = STEPS.len();

/// Brings a database to this program's version, all of it or nothing.
pub(super) fn bring_up(connection: &mut Connection, path: &str) -> Result<(), BathError> {
    let sql = |why: rusqlite::Error| BathError::sql(path, &why);
    let version =
        |c: &Connection| c.pragma_query_value(None, "user_version", |r| r.get::<_, i64>(0));
    let id = |c: &Connection| c.pragma_query_value(None, "application_id", |r| r.get::<_, i32>(0));
    let tables = |c: &Connection| {
        c.query_row("SELECT count(*) FROM sqlite_master", [], |r| {
            r.get::<_, i64>(0)
        })
    };
    // Most often there is nothing to do, and then nothing is locked.
    if id(connection).map_err(sql)? == APPLICATION_ID
        && version(connection).map_err(sql)? == VERSION as i64
    {
        return Ok(());
    }
    let transaction: Transaction = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(sql)?;
    let found = version(&transaction).map_err(sql)?;
    let ours = id(&transaction).map_err(sql)? == APPLICATION_ID;
    if !ours && (found != 0 || tables(&transaction).map_err(sql)? > 0) {
        return Err(BathError::Foreign(path.to_owned()));
    }
    let done = usize::try_from(found).unwrap_or(usize::MAX);
    if done > VERSION {
        return Err(BathError::Newer {
            path: path.to_owned(),
            found,
            known: VERSION,
        });
    }
    for step in &STEPS[done..] {
        transaction.execute_batch(step).map_err(sql)?;
    }
    transaction
        .pragma_update(None, "application_id", APPLICATION_ID)
        .and_then(|()| transaction.pragma_update(None, "user_version", VERSION as i64))
        .and_then(|()| transaction.commit())
        .map_err(sql)
}

/// A new file as that version made it.
#[cfg(test)]
pub(super) fn of_version(version: usize, path: &std::path::Path) -> Connection {
    let old = Connection::open(path).unwrap();
    for step in &STEPS[..version] {
        old.execute_batch(step).unwrap();
    }
    old.pragma_update(None, "application_id", APPLICATION_ID)
        .unwrap();
    old.pragma_update(None, "user_version", version as i64)
        .unwrap();
    old
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A file as the first version wrote it.
    fn of_version_1(path: &std::path::Path) {
        let old = of_version(1, path);
        old.execute(
            "INSERT INTO events (key, bath, day, recorded, what) VALUES (?1, 'A', '2026-05-12', '2026-05-12T10:00:00Z', 'made')",
            ["0123456789abcdef0123456789abcdef"],
        )
        .unwrap();
    }

    #[test]
    fn an_older_file_is_brought_up_and_keeps_its_rows() {
        let here = tempfile::tempdir().unwrap();
        let path = here.path().join("old.bath");
        of_version_1(&path);
        let mut connection = Connection::open(&path).unwrap();
        bring_up(&mut connection, "old.bath").unwrap();
        bring_up(&mut connection, "old.bath").unwrap();
        let count = |of: &str| -> i64 { connection.query_row(of, [], |row| row.get(0)).unwrap() };
        assert_eq!(count("SELECT count(*) FROM events"), 1);
        assert_eq!(
            count("SELECT user_version FROM pragma_user_version"),
            VERSION as i64
        );
        for index in ["plates_by_day", "plates_by_name", "events_by_corrects"] {
            let of = format!("SELECT count(*) FROM sqlite_master WHERE name = '{index}'");
            assert_eq!(count(&of), 1, "{index}");
        }
    }

    #[test]
    fn files_of_others_and_of_later_versions_are_left_alone() {
        let here = tempfile::tempdir().unwrap();
        let path = here.path().join("other.db");
        let mut other = Connection::open(&path).unwrap();
        other.execute_batch("CREATE TABLE mine (x)").unwrap();
        assert!(matches!(
            bring_up(&mut other, "x"),
            Err(BathError::Foreign(_))
        ));

        let path = here.path().join("new.bath");
        of_version_1(&path);
        let mut newer = Connection::open(&path).unwrap();
        newer.pragma_update(None, "user_version", 99).unwrap();
        let error = bring_up(&mut newer, "new.bath").unwrap_err();
        assert!(error.to_string().contains("version 99"), "{error}");
    }
}
