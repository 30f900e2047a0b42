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

fn added([new, known, anew, taken_back, twins]: [usize; 5]) -> Added {
    Added {
        new,
        known,
        anew,
        taken_back,
        twins,
    }
}

/// The veil of every plate that counts, by day and name.
fn counted(log: &BathLog) -> Vec<(String, String, f64)> {
    let rows = in_force(log.rows(None).unwrap());
    let plates = rows.iter().filter(|row| row.table() == Table::Plate);
    plates
        .map(|row| {
            let text = |name| row.text(name).unwrap().to_owned();
            (text("day"), text("plate"), row.number("veil_d").unwrap())
        })
        .collect()
}

fn withdrawal(of: &Row) -> Row {
    let cells = [
        ("bath", "A"),
        ("day", "2026-05-20"),
        ("what", "withdrawn"),
        ("corrects", of.key()),
    ];
    row(Table::Event, &cells)
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
    assert_eq!(add(&mut log, &rows), Ok(added([3, 0, 0, 0, 0])));
    assert_eq!(add(&mut log, &rows[1..]), Ok(added([0, 2, 0, 0, 0])));
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
    let correction = read_anew.correcting(again.key());
    add(
        &mut log,
        &[wrong, other, right.clone(), withdrawn, again, read_anew],
    )
    .unwrap();
    let rows = log.rows(None).unwrap();
    assert_eq!(rows.len(), 6);
    assert_eq!(in_force(rows), [right, correction]);
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

#[test]
fn a_plate_is_its_name_its_bath_and_its_day() {
    let here = tempfile::tempdir().unwrap();
    let mut log = BathLog::open(&here.path().join("baths.log")).unwrap();
    let (first, other) = (
        plate("scan", "2026-05-12", "0.1"),
        plate("scan", "2026-05-13", "0.2"),
    );
    let newer = plate("scan", "2026-05-12", "0.11");
    assert_eq!(log.add(&[first.clone(), other]), Ok(added([2, 0, 0, 0, 0])));
    // Read again by a later version, at another time, with the same figures.
    let cells = [
        ("bath", "A"),
        ("day", "2026-05-12"),
        ("recorded", "2026-06-01T10:00:00Z"),
        ("plate", "scan"),
        ("veil_d", "0.1"),
        ("program", "oystermark 9.9.9"),
    ];
    let later = row(Table::Plate, &cells);
    assert_eq!(log.add(&[later]), Ok(added([0, 1, 0, 0, 0])));
    assert_eq!(
        log.add(std::slice::from_ref(&newer)),
        Ok(added([0, 0, 1, 0, 0]))
    );
    assert_eq!(
        log.add(std::slice::from_ref(&newer)),
        Ok(added([0, 1, 0, 0, 0]))
    );
    // A table with the old figures does not undo what corrected them.
    assert_eq!(
        log.add(std::slice::from_ref(&first)),
        Ok(added([0, 1, 0, 0, 0]))
    );
    // The figures of one day on another are another plate, and said.
    let twin = plate("scan", "2026-05-14", "0.2");
    assert_eq!(log.add(&[twin]), Ok(added([1, 0, 0, 0, 1])));
    let all = |veil_d| {
        [
            ("2026-05-12", veil_d),
            ("2026-05-13", 0.2),
            ("2026-05-14", 0.2),
        ]
        .map(|(day, veil_d)| (day.to_owned(), "scan".to_owned(), veil_d))
    };
    assert_eq!(counted(&log), all(0.11));
    assert_eq!(log.rows(None).unwrap().len(), 4, "every reading stays");

    // Taken back, it stays so whatever is read, and the older reading does not come back.
    let correction = newer.correcting(first.key());
    log.add(&[withdrawal(&correction)]).unwrap();
    let third = plate("scan", "2026-05-12", "0.12");
    let again = [first.clone(), newer, third.clone()];
    assert_eq!(log.add(&again), Ok(added([0, 0, 0, 3, 0])));
    assert_eq!(counted(&log), all(0.11)[1..]);
    // Until it is said that it stands for the row that was taken back.
    log.add(&[third.correcting(correction.key())]).unwrap();
    assert_eq!(counted(&log), all(0.12));
}

#[test]
fn without_a_day_a_plate_is_never_guessed() {
    let here = tempfile::tempdir().unwrap();
    let mut log = BathLog::open(&here.path().join("baths.log")).unwrap();
    let today = |name, veil_d| plate(name, "2026-05-20", veil_d);
    let mut put = |row: Row, from| log.add_plates(&[row], from).unwrap();
    let none = Vec::new();
    for (name, day, veil_d) in [("A-1", "2026-05-12", "0.1"), ("A-1", "2026-05-13", "0.2")] {
        put(plate(name, day, veil_d), DayFrom::Maker);
    }
    let known = (added([0, 1, 0, 0, 0]), none.clone());
    assert_eq!(put(today("A-1", "0.1"), DayFrom::Today), known);
    assert_eq!(put(today("A-1", "0.2"), DayFrom::Today), known);
    let (done, unplaced) = put(today("A-1", "0.3"), DayFrom::Today);
    assert_eq!(done, Added::default());
    let days: Vec<String> = unplaced[0].days.iter().map(ToString::to_string).collect();
    assert_eq!(days, ["2026-05-12", "2026-05-13"]);
    // A new name is new; today it is read anew without a question.
    let new = (added([1, 0, 0, 0, 0]), none.clone());
    assert_eq!(put(today("A-2", "0.3"), DayFrom::Today), new);
    let anew = (added([0, 0, 1, 0, 0]), none.clone());
    assert_eq!(put(today("A-2", "0.4"), DayFrom::Today), anew);
    // With a day there is no question either.
    assert_eq!(put(today("A-1", "0.3"), DayFrom::Maker), new);
    assert_eq!(put(plate("A-1", "2026-05-13", "0.3"), DayFrom::Maker), anew);
    // What was taken back is not today's plate.
    let gone = plate("A-3", "2026-05-12", "0.1");
    put(gone.clone(), DayFrom::Maker);
    put(withdrawal(&gone), DayFrom::Maker);
    let stays = (added([0, 0, 0, 1, 0]), none);
    assert_eq!(put(today("A-3", "0.1"), DayFrom::Today), stays);
    assert_eq!(put(today("A-3", "0.2"), DayFrom::Today).1.len(), 1);
}

/// A log as version 2 left it: keys of plates leave the day out, and a plate that two versions of the program read
/// stands in it twice.
#[test]
fn an_older_log_goes_on_and_its_keys_hold() {
    let here = tempfile::tempdir().unwrap();
    let path = here.path().join("old.log");
    let older = "cf6e91f51c65a31cb2b3a606736fb8f7";
    let again = "00000000000000000000000000000001";
    let old = schema::of_version(2, &path);
    for (key, recorded, veil_d) in [
        (older, "2026-05-12T19:30:15Z", 0.1),
        (again, "2026-05-30T10:00:00Z", 0.11),
    ] {
        old.execute(
            "INSERT INTO plates (key, bath, day, recorded, plate, veil_d) VALUES (?1, 'A', '2026-05-12', ?2, 'A-001', ?3)",
            (key, recorded, veil_d),
        )
        .unwrap();
    }
    drop(old);
    let mut log = BathLog::open_existing(&path).unwrap();
    assert_eq!(log.key_of("cf6e").unwrap(), older);
    assert_eq!(log.rows(None).unwrap()[0].key(), older);
    assert_eq!(counted(&log).len(), 1);
    for (veil_d, done) in [
        ("0.1", [0, 1, 0, 0, 0]),
        ("0.11", [0, 1, 0, 0, 0]),
        ("0.12", [0, 0, 1, 0, 0]),
    ] {
        let cells = [
            ("bath", "A"),
            ("day", "2026-05-12"),
            ("recorded", "2026-06-01T10:00:00Z"),
            ("plate", "A-001"),
            ("veil_d", veil_d),
        ];
        let row = row(Table::Plate, &cells);
        assert_eq!(log.add(&[row]), Ok(added(done)), "{veil_d}");
    }
    let rows = log.rows(None).unwrap();
    let newest = rows.iter().find(|row| row.text("corrects") == Some(again));
    let newest = newest.expect("it corrects what counted").clone();
    assert_eq!(counted(&log)[0].2, 0.12);
    log.add(&[withdrawal(&newest)]).unwrap();
    assert_eq!(counted(&log), [], "the oldest reading does not come back");
}

/// Else a long import would take time by the square of its plates.
#[test]
fn a_plate_is_looked_up_without_looking_at_the_others() {
    let here = tempfile::tempdir().unwrap();
    let log = BathLog::open(&here.path().join("baths.log")).unwrap();
    let query = format!("EXPLAIN QUERY PLAN {}", same::namesakes_query());
    let mut statement = log.connection.prepare(&query).unwrap();
    let steps = statement.query_map(["A", "A-1"], |row| row.get::<_, String>(3));
    let steps: Vec<String> = steps.unwrap().map(Result::unwrap).collect();
    assert!(
        steps[0].contains("plates_by_name (bath=? AND plate=?)"),
        "{steps:?}"
    );
    let all = |step: &String| step.contains("SCAN") && !step.contains("CONSTANT ROW");
    assert!(!steps.iter().any(all), "{steps:?}");
}
