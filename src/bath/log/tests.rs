use super::*;

fn row(table: Table, cells: &[(&str, &str)]) -> Row {
    let mut row = NewRow::of(table);
    row.set("recorded", "2026-05-12T19:30:15.000Z").unwrap();
    for (name, text) in cells {
        row.set(name, text).unwrap();
    }
    row.finish().unwrap()
}

fn plate(name: &str, day: &str, veil_d: &str) -> Row {
    let cells = [
        ("bath", "A"),
        ("day", day),
        ("plate", name),
        ("veil_d", veil_d),
    ];
    row(Table::Plate, &cells)
}

fn add(log: &mut BathLog, rows: &[Row]) -> Result<Added, BathError> {
    log.add(rows)
}

#[test]
fn rows_come_back_as_they_went_in_and_twice_is_once() {
    let here = tempfile::tempdir().unwrap();
    let path = here.path().join("baths.log");
    let rows = [
        row(
            Table::Event,
            &[("bath", "A"), ("day", "2026-05-11"), ("what", "made")],
        ),
        row(
            Table::Reading,
            &[
                ("bath", "A"),
                ("day", "2026-05-12"),
                ("density_g_cm3", "1.0712345"),
                ("litmus", "red"),
            ],
        ),
        plate("A-1", "2026-05-12", "0.1"),
    ];
    let mut log = BathLog::open(&path).unwrap();
    assert_eq!(add(&mut log, &rows), Ok(Added { new: 3, known: 0 }));
    assert_eq!(add(&mut log, &rows[1..]), Ok(Added { new: 0, known: 2 }));
    drop(log);
    let log = BathLog::open_existing(&path).unwrap();
    assert_eq!(log.rows(None).unwrap(), rows);
    assert_eq!(log.rows(Some("B")).unwrap(), []);
    assert_eq!(log.baths().unwrap(), ["A"]);
    assert_eq!(log.key_of(&rows[2].key()[..6]).unwrap(), rows[2].key());
    assert!(log.key_of("").is_err() && log.key_of("zz").is_err());
}

#[test]
fn an_error_in_the_middle_leaves_nothing_behind() {
    let here = tempfile::tempdir().unwrap();
    let mut log = BathLog::open(&here.path().join("baths.log")).unwrap();
    let failed: Result<Added, BathError> = log.writing(|log| {
        log.add(&plate("A-1", "2026-05-12", "0.1"))?;
        Err(BathError::Row("no".to_owned()))
    });
    assert!(failed.is_err());
    let lost = "0".repeat(32);
    let cells = [
        ("bath", "A"),
        ("day", "2026-05-12"),
        ("what", "withdrawn"),
        ("corrects", lost.as_str()),
    ];
    let error = add(&mut log, &[row(Table::Event, &cells)]).unwrap_err();
    assert!(error.to_string().contains("to correct"), "{error}");
    assert_eq!(log.rows(None).unwrap(), []);
}

#[test]
fn corrections_count_and_what_they_correct_stays_in_the_file() {
    let here = tempfile::tempdir().unwrap();
    let mut log = BathLog::open(&here.path().join("baths.log")).unwrap();
    let (wrong, other) = (
        plate("A-1", "2026-05-12", "0.9"),
        plate("A-2", "2026-05-12", "0.2"),
    );
    let cells = [
        ("bath", "A"),
        ("day", "2026-05-12"),
        ("plate", "A-1"),
        ("veil_d", "0.1"),
        ("corrects", wrong.key()),
    ];
    let right = row(Table::Plate, &cells);
    let cells = [
        ("bath", "A"),
        ("day", "2026-05-12"),
        ("what", "withdrawn"),
        ("corrects", other.key()),
    ];
    let withdrawn = row(Table::Event, &cells);
    let again = plate("A-1", "2026-05-13", "0.3");
    let read_anew = plate("A-1", "2026-05-13", "0.4");
    add(
        &mut log,
        &[
            wrong,
            other,
            right.clone(),
            withdrawn,
            again,
            read_anew.clone(),
        ],
    )
    .unwrap();
    let rows = log.rows(None).unwrap();
    assert_eq!(rows.len(), 6);
    assert_eq!(in_force(rows), [right, read_anew]);
}

#[test]
fn what_is_no_log_is_left_alone() {
    let here = tempfile::tempdir().unwrap();
    let path = here.path().join("notes.txt");
    let notes = "not a database, but long enough to be taken for one. ".repeat(40);
    std::fs::write(&path, &notes).unwrap();
    let error = BathLog::open(&path).unwrap_err();
    assert!(matches!(error, BathError::Foreign(_)), "{error}");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), notes);
    let error = BathLog::open_existing(&here.path().join("none")).unwrap_err();
    assert!(matches!(error, BathError::Missing(_)));
    assert!(!here.path().join("none").exists());
    assert!(BathLog::open(here.path()).is_err());
}

#[test]
fn two_programs_take_turns() {
    let here = tempfile::tempdir().unwrap();
    let path = here.path().join("baths.log");
    let writers: Vec<_> = ["A", "B", "C", "D"]
        .map(|name| {
            let path = path.clone();
            std::thread::spawn(move || {
                for n in 0..15 {
                    let mut log = BathLog::open(&path).unwrap();
                    let plate = plate(&format!("{name}-{n}"), "2026-05-12", "0.1");
                    assert_eq!(add(&mut log, &[plate]).unwrap().new, 1);
                }
            })
        })
        .into();
    for writer in writers {
        writer.join().unwrap();
    }
    let log = BathLog::open_existing(&path).unwrap();
    assert_eq!(log.rows(None).unwrap().len(), 60);
}
