use std::fs;
use std::io::Write;

use super::Bench;

/// The sample report of that name, in the test's folder under another name.
fn report(bench: &Bench, sample: &str, name: &str) {
    let path = format!("{}/reports/{sample}.json", env!("CARGO_MANIFEST_DIR"));
    bench.write(name, &fs::read_to_string(path).expect("a sample report"));
}

fn words(line: &str) -> Vec<&str> {
    line.split(' ').collect()
}

#[test]
fn reports_readings_and_events_go_in_and_the_log_comes_out() {
    let bench = Bench::new();
    report(&bench, "A-011", "A-011.json");
    report(&bench, "B-evening-1", "B-evening-1.json");
    let add = words("bath add --bath A --on 2026-05-12 A-011.json B-evening-1.json");
    let ran = bench.run(&add).ends_with(0).complains(0);
    assert!(
        ran.out.starts_with("2 new rows in baths.log"),
        "{}",
        ran.out
    );
    // Twice is once, with its day or on a later day without one.
    for again in [
        "bath add --bath A --on 2026-05-12 A-011.json",
        "bath add --bath A A-011.json",
    ] {
        let ran = bench.run(&words(again)).ends_with(0).complains(0);
        assert!(
            ran.out.contains("0 new rows") && ran.out.contains("1 was there already"),
            "{}",
            ran.out
        );
    }
    for line in [
        "bath event --bath A made --on 2026-05-10 --grams 180",
        "bath record --bath A --on 2026-05-11 --density 1.0712 --temp-c 19 --litres 2.4",
        "bath record --bath B --on 2026-05-11 --litmus red",
    ] {
        bench.run(&words(line)).ends_with(0).complains(0);
    }
    bench.run(&words("bath export out.csv")).ends_with(0);
    bench.run(&words("bath export out.json")).ends_with(0);
    let csv = bench.read("out.csv");
    assert_eq!(csv.lines().count(), 6, "{csv}");
    assert!(
        csv.starts_with("row,key,bath,day,recorded,corrects,remark,"),
        "{csv}"
    );
    let json = bench.json("out.json");
    assert_eq!(json["schema"], "oystermark/bath-log/1");
    let strength = json["rows"].as_array().expect("rows").iter();
    let strength: Vec<f64> = strength.filter_map(|row| row["g_per_l"].as_f64()).collect();
    assert!(
        strength.len() == 1 && (strength[0] - 87.6).abs() < 0.5,
        "{strength:?}"
    );
    // Into a new log and out again: the same log.
    for file in ["out.csv", "out.json"] {
        let log = format!("{file}.log");
        bench
            .run(&["bath", "import", "--log", &log, file])
            .ends_with(0)
            .complains(0);
        let out = format!("again-{file}");
        bench
            .run(&["bath", "export", "--log", &log, &out])
            .ends_with(0);
        assert_eq!(bench.read(file), bench.read(&out));
    }
    // Nothing is overwritten.
    let ran = bench
        .run(&words("bath export out.csv"))
        .ends_with(2)
        .complains(1);
    assert!(ran.err.contains("already"), "{}", ran.err);
}

/// On a plate whose zero is a bare rim the border lies off it by the veil. No sample shows such a rim, so one is given it.
#[test]
fn the_border_is_known_beside_a_bare_rim_too() {
    let bench = Bench::new();
    report(&bench, "A-037", "A-037.json");
    let mut rimmed = bench.json("A-037.json");
    let density = &mut rimmed["density"];
    density["zero_source"] = "a bare rim of this plate".into();
    density["zero_d"] = 1.9592.into();
    density["veil_d"] = 0.1.into();
    density["veil_d_u"] = 0.15.into();
    bench.write("A-037.json", &rimmed.to_string());
    bench
        .run(&words("bath add --bath A --on 2026-05-12 A-037.json"))
        .ends_with(0);
    bench.run(&words("bath export out.json")).ends_with(0);
    let row = &bench.json("out.json")["rows"][0];
    let number = |name: &str| row[name].as_f64().expect("a number");
    assert!((number("veil_d") - 0.1).abs() < 1e-9);
    assert!((number("border_d") - 1.8592).abs() < 1e-9);
}

#[test]
fn a_correction_is_a_new_row() {
    let bench = Bench::new();
    bench
        .run(&words("bath record --bath A --on 2026-05-11 --ph 9"))
        .ends_with(0);
    bench.run(&words("bath export one.csv")).ends_with(0);
    let key = bench.read("one.csv").lines().nth(1).expect("a row")[8..16].to_owned();
    let line = format!("bath record --bath A --on 2026-05-11 --ph 4 --corrects {key}");
    bench.run(&words(&line)).ends_with(0).complains(0);
    bench.run(&words("bath export two.csv")).ends_with(0);
    let two = bench.read("two.csv");
    assert!(
        two.lines().count() == 3 && two.contains(",9,") && two.contains(",4,"),
        "{two}"
    );
    let ran = bench.run(&words("bath record --bath A --ph 4 --corrects ffffffffff"));
    ran.ends_with(2).complains(1);
}

/// A plate read anew counts once, with the newer figures; nothing is guessed where the day is not said.
#[test]
fn a_plate_read_again_with_other_figures_replaces_what_stood_there() {
    let bench = Bench::new();
    report(&bench, "A-011", "A-011.json");
    let add = "bath add --bath A --on 2026-05-12 A-011.json";
    bench.run(&words(add)).ends_with(0);
    // Another reading of the plate, of a later version or with another option.
    let other = bench.read("A-011.json").replace("1.8073", "1.8071");
    bench.write("A-011.json", &other);
    let undated = "bath add --bath A A-011.json";
    let ran = bench.run(&words(undated)).ends_with(2).complains(1);
    assert!(
        ran.err.contains("--on 2026-05-12 to replace") && ran.out.contains("0 new rows"),
        "{}{}",
        ran.err,
        ran.out
    );
    let ran = bench.run(&words(add)).ends_with(0).complains(0);
    assert!(
        ran.out
            .contains("0 new rows in baths.log, 1 read anew, replaces what stood there"),
        "{}",
        ran.out
    );
    bench.run(&words("bath export out.json")).ends_with(0);
    let rows = &bench.json("out.json")["rows"];
    assert_eq!(rows.as_array().map(Vec::len), Some(2));
    assert_eq!(rows[1]["corrects"], rows[0]["key"]);
    let ran = bench.run(&words("bath verdict --json"));
    let used = super::json(&ran.out)["area_since_top_up_cm2"].as_f64();
    let side = |name: &str| rows[0][name].as_f64().expect("a size");
    let once = side("width_mm") * side("height_mm") / 100.0;
    assert!(
        used.is_some_and(|used| (used - once).abs() < 0.1),
        "{used:?} of {once}"
    );
    // The name on another day is another plate; that it has the same figures is said.
    let ran = bench
        .run(&words("bath add --bath A --on 2026-06-12 A-011.json"))
        .ends_with(0)
        .complains(0);
    assert!(
        ran.out
            .contains("1 new row in baths.log, 1 has the very figures of a plate of its name"),
        "{}",
        ran.out
    );
}

#[test]
fn a_report_corrects_the_row_that_is_named() {
    let bench = Bench::new();
    report(&bench, "A-011", "A-011.json");
    report(&bench, "A-037", "A-037.json");
    let add = "bath add --bath A --on 2026-05-12 A-011.json";
    bench.run(&words(add)).ends_with(0);
    bench.run(&words("bath export one.json")).ends_with(0);
    let key = bench.json("one.json")["rows"][0]["key"].clone();
    let key = key.as_str().expect("a key");
    // It was another plate, of the same day.
    let line = format!("bath add --bath A --corrects {} A-037.json", &key[..8]);
    let ran = bench.run(&words(&line)).ends_with(0).complains(0);
    assert!(
        ran.out
            .contains("plate A-037 of bath A on 2026-05-12, key "),
        "{}",
        ran.out
    );
    bench.run(&words("bath export two.json")).ends_with(0);
    let rows = &bench.json("two.json")["rows"];
    assert_eq!(rows.as_array().map(Vec::len), Some(2));
    assert_eq!(rows[1]["corrects"], key);
    // The row that was corrected does not come back by being read again.
    let ran = bench.run(&words(add)).ends_with(0);
    assert!(
        ran.out
            .contains("1 was withdrawn or corrected before, and stays so"),
        "{}",
        ran.out
    );
    let two = format!("{line} A-011.json");
    let other_bath = line.replace("--bath A", "--bath B");
    for (line, says) in [
        (two.as_str(), "one report corrects one row"),
        (other_bath.as_str(), "of bath B to correct"),
        (
            "bath add --bath A --corrects ffff A-037.json",
            "begins with ffff",
        ),
        (
            "bath add --log none --bath A --corrects ffff A-037.json",
            "no bath log",
        ),
    ] {
        let ran = bench.run(&words(line)).ends_with(2).complains(1);
        assert!(ran.err.contains(says), "{line}: {}", ran.err);
    }
    assert!(!bench.path("none").exists());
}

#[test]
fn hostile_tables_are_refused_by_line() {
    let bench = Bench::new();
    bench.write(
        "bad.csv",
        "row,bath,day,what,remark\nevent,A,2026-05-11,made,\nevent,A,31.5.2026,made,\nevent,A,2026-05-12,made,=1+1\n",
    );
    let ran = bench
        .run(&words("bath import bad.csv"))
        .ends_with(2)
        .complains(2);
    assert!(
        ran.err.contains("line 3: day") && ran.err.contains("line 4: remark"),
        "{}",
        ran.err
    );
    let ran = bench.run(&words("bath export out.csv")).ends_with(0);
    assert!(
        ran.out.starts_with("0 rows"),
        "nothing was taken: {}",
        ran.out
    );
    let mut file = fs::File::create(bench.path("long.csv")).expect("a file");
    file.write_all(b"row,bath,day,what,remark\nevent,A,2026-05-11,made,\"")
        .expect("room");
    for _ in 0..64 {
        file.write_all(&[b'x'; 1 << 20]).expect("room");
    }
    let ran = bench
        .run(&words("bath import long.csv"))
        .ends_with(2)
        .complains(2);
    assert!(ran.err.contains("line 2: the row is longer"), "{}", ran.err);
}

#[test]
fn what_cannot_be_written_is_one_sentence() {
    let bench = Bench::new();
    bench.write("notes.txt", &"no log at all. ".repeat(100));
    bench.write("empty.json", "{}");
    for (line, says) in [
        ("bath event --log notes.txt --bath A made", "not a bath log"),
        ("bath export out.csv", "no bath log of that name"),
        ("bath event --bath A boiled", "only: made"),
        ("bath event --bath =A made", "formula"),
        ("bath event --bath A made --on 2026-02-30", "no day"),
        ("bath record --bath A", "anything read"),
        ("bath record --bath A --ph 15", "not between 0 and 14"),
        (
            "bath record --bath A --density 1.07 --temp-c 50",
            "10 to 30 C",
        ),
        (
            "bath add --bath A empty.json",
            "not the JSON of a plate report",
        ),
        ("bath add --bath A none.json", "cannot be read"),
        ("bath import table.ods", "neither in .csv nor in .json"),
        ("read x.png --log baths.log", "--bath"),
    ] {
        let ran = bench.run(&words(line)).ends_with(2).complains(1);
        assert!(ran.err.contains(says), "{line}: {}", ran.err);
        assert!(!bench.path("baths.log").exists(), "{line} made a log");
    }
}

#[test]
fn reading_keeps_the_figures_once() {
    let bench = Bench::new();
    bench.clean("plate.png");
    let line = "read plate.png --log baths.log --bath A --on 2026-05-12";
    let ran = bench.run(&words(line)).ends_with(0).complains(0);
    assert!(ran.out.contains("1 new plate of bath A"), "{}", ran.out);
    let ran = bench.run(&words(line)).ends_with(0).complains(0);
    assert!(ran.out.contains("0 new plates"), "{}", ran.out);
    // The report read from its file is the same row.
    let ran = bench
        .run(&words("bath add --bath A reports/plate.json"))
        .ends_with(0);
    assert!(ran.out.contains("0 new rows"), "{}", ran.out);
    let ran = bench.run(&words("read plate.png --log plate.png --bath A"));
    assert!(ran.ends_with(2).complains(1).err.contains("not a bath log"));
}
