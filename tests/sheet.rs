//! The session sheet from outside: the empty one, joining, units, hostile files, answers and verdicts, and
//! what the plates of a session show together.

use std::fs;

use serde_json::Value;

use crate::common::{Bench, Plate};

/// The finding of that fault in a report.
fn finding<'a>(report: &'a Value, fault: &str) -> &'a Value {
    let findings = report["findings"].as_array().expect("findings");
    let mut own = findings.iter().filter(|f| f["fault"] == fault);
    own.next()
        .unwrap_or_else(|| panic!("no {fault}: {findings:?}"))
}

fn probability(finding: &Value, cause: &str) -> f64 {
    let causes = finding["causes"].as_array().expect("causes");
    let own = causes.iter().find(|own| own["cause"] == cause);
    own.map_or(0.0, |own| own["probability"].as_f64().unwrap())
}

/// Fogged blank plates on metal and a sheet.
fn bench(plates: &[&str], sheet: &str) -> Bench {
    let bench = Bench::new();
    for plate in plates {
        bench.scan(plate, &[Plate::fogged()]);
    }
    bench.write("day.csv", sheet);
    bench
}

#[test]
fn the_empty_sheet_is_written_once_and_never_over_another() {
    let bench = Bench::new();
    // The folder comes with its first file.
    bench.write("scans/remarks.txt", "");
    bench.clean("scans/a.png");
    let ran = bench.run(&["sheet"]).ends_with(0).complains(0);
    assert!(ran.out.contains("Fill in sheet.csv"), "{}", ran.out);
    bench.write("sheet.csv", "mine");
    let ran = bench.run(&["sheet"]).ends_with(2).complains(1);
    assert!(
        ran.err.contains("already there and was not touched"),
        "{}",
        ran.err
    );
    assert_eq!(bench.read("sheet.csv"), "mine");
    bench
        .run(&[
            "sheet",
            "new/day.csv",
            "--for",
            "scans",
            "--separator",
            "semicolon",
        ])
        .ends_with(0);
    let text = bench.read("new/day.csv");
    assert!(text.starts_with("\u{feff}scan;plate;process;"), "{text}");
    assert!(text.contains("\r\na.png;;"), "{text}");
    assert_eq!(bench.names("new"), ["day.csv"]);
    let ran = bench
        .run(&["read", "scans/a.png", "--sheet", "new/day.csv"])
        .ends_with(0)
        .complains(0);
    assert!(ran.out.contains("nothing found"), "{}", ran.out);
}

#[test]
fn a_row_says_what_the_command_line_does_not() {
    let sheet = "scan;process;kind;drained at;dipped first;room temperature (F);phone\n\
                 DAY/Plate_17.TIF;tintype;blank;bottom left;left;86;12345\n";
    let bench = bench(&["plate-17.png"], sheet);
    bench.write(
        "h.toml",
        "drained_at = \"top left\"\npoured_from = \"middle\"\n",
    );
    let args = [
        "read",
        "plate-17.png",
        "--sheet",
        "day.csv",
        "--handling",
        "h.toml",
    ];
    let ran = bench
        .run(&[&args[..], &["--dip-axis", "0"]].concat())
        .ends_with(0)
        .complains(1);
    assert!(
        ran.err
            .contains("day.csv: line 1: the column `phone` is not known and is left in the sheet"),
        "{}",
        ran.err
    );
    let text = bench.read("reports/plate-17.json");
    assert!(
        !text.contains("12345"),
        "what is not known stays in the sheet"
    );
    let report = bench.json("reports/plate-17.json");
    assert_eq!(report["plate"]["process"], "positive_on_metal");
    assert_eq!(report["plate"]["kind"], "blank");
    let handling = &report["handling"];
    assert_eq!(handling["dip_axis_deg"], 0.0);
    assert_eq!(handling["drain_corner"], "bottom_left");
    assert_eq!(handling["poured_from"], "middle");
    let sources = &handling["sources"];
    assert_eq!(sources["dip_axis_deg"], "command_line");
    assert_eq!(sources["drain_corner"], "sheet");
    assert_eq!(sources["poured_from"], "file");
    let maker = &report["maker"];
    assert_eq!(
        (&maker["sheet"], &maker["line"]),
        (&"day.csv".into(), &2.into())
    );
    assert_eq!(maker["figures"]["room_temperature_c"], 30.0);
    let page = bench.read("reports/plate-17.html");
    assert!(page.contains("Room temperature (F)") && page.contains(">86<"));
    assert_eq!(bench.read("day.csv"), sheet, "the sheet is never written");
    // What is typed goes before it.
    bench
        .run(&[
            "read",
            "plate-17.png",
            "--sheet",
            "day.csv",
            "--process",
            "positive_on_glass",
        ])
        .ends_with(0);
    let report = bench.json("reports/plate-17.json");
    assert_eq!(report["plate"]["process"], "positive_on_glass");
}

#[test]
fn the_side_in_a_row_turns_the_words_of_the_handling_file() {
    let sheet = "scan,scanned from,drained at\na,through the glass,bottom left\n";
    let bench = bench(&["a.png"], sheet);
    bench.write("h.toml", "lowest_in_holder = \"left\"\n");
    bench
        .run(&[
            "read",
            "a.png",
            "--sheet",
            "day.csv",
            "--handling",
            "h.toml",
        ])
        .ends_with(0);
    let report = bench.json("reports/a.json");
    assert_eq!(report["plate"]["scanned_from"], "through_glass");
    assert_eq!(report["handling"]["drain_corner"], "bottom_right");
    assert_eq!(report["handling"]["lowest_in_holder"], "right");
}

#[test]
fn rows_that_cannot_be_used_are_named_and_the_rest_is_read() {
    let sheet = "scan,process,room temperature (C)\n\
                 a,tintype,2l\n\
                 b,ambrotype,\n\
                 b.png,ambrotype,\n\
                 c,tintype,20\n\
                 d,tintype,20\n";
    let bench = bench(&["a.png", "b.png", "d.png"], sheet);
    let ran = bench
        .run(&["read", "a.png", "b.png", "d.png", "--sheet", "day.csv"])
        .ends_with(0)
        .complains(3);
    let lines: Vec<&str> = ran.err.lines().collect();
    for (line, says) in lines.iter().zip([
        "day.csv: line 2: `room temperature (C)` `2l` is no figure; the row is left out",
        "day.csv: line 4: b has another row in line 3, so neither is used",
        "day.csv: line 5: no scan of this run is called `c`",
    ]) {
        assert!(line.contains(says), "{line}");
    }
    assert!(bench.json("reports/a.json")["maker"].is_null());
    assert!(bench.json("reports/b.json")["maker"].is_null());
    assert_eq!(bench.json("reports/d.json")["maker"]["line"], 6);
    let session = bench.read("reports/session.html");
    assert!(
        session.contains("no scan of this run is called"),
        "the page says it too"
    );
}

#[test]
fn files_that_are_no_sheet_are_refused_in_a_sentence() {
    let bench = Bench::new();
    bench.clean("a.png");
    let utf16: Vec<u8> = "\u{feff}scan,bath\na,A\n"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    let huge = format!("scan,bath\na,\"{}", "x".repeat(6 << 20));
    for (name, bytes, says) in [
        (
            "old.csv",
            b"scan,bath\na,M\xFCller\n".to_vec(),
            "line 2: the sheet is not written in UTF-8",
        ),
        ("wide.csv", utf16, "UTF-16"),
        (
            "book.xlsx",
            b"PK\x03\x04\x14\0".to_vec(),
            "a spreadsheet's own file",
        ),
        ("nul.csv", b"scan\0".to_vec(), "no text"),
        ("empty.csv", Vec::new(), "is empty"),
        (
            "head.csv",
            b"a.png,A\nb.png,B\n".to_vec(),
            "line 1: this is no header",
        ),
        (
            "twice.csv",
            b"scan,file\na,a\n".to_vec(),
            "`scan` and `file` are the same",
        ),
        (
            "open.csv",
            b"scan,bath\na,\"A\nb,B\n".to_vec(),
            "line 2: a quotation mark is opened",
        ),
        (
            "long.csv",
            format!("scan\n{}", "x".repeat(9000)).into_bytes(),
            "line 2: a cell is longer",
        ),
        ("huge.csv", huge.into_bytes(), "longer than 4 MB"),
    ] {
        fs::write(bench.path(name), bytes).expect("a file of the test");
        let ran = bench
            .run(&["read", "a.png", "--sheet", name])
            .ends_with(2)
            .complains(1);
        assert!(
            ran.err.contains(says) && ran.err.contains(name),
            "{}",
            ran.err
        );
    }
    for (name, says) in [
        ("absent.csv", "is not there"),
        (".", "a folder, not a sheet"),
    ] {
        let ran = bench
            .run(&["read", "a.png", "--sheet", name])
            .ends_with(2)
            .complains(1);
        assert!(ran.err.contains(says), "{}", ran.err);
    }
    assert!(!bench.path("reports").exists(), "nothing is left behind");
}

/// A file without end takes no more memory than the longest sheet: it is refused at once.
#[cfg(unix)]
#[test]
fn a_sheet_without_end_is_refused() {
    let bench = Bench::new();
    bench.clean("a.png");
    let ran = bench
        .run(&["read", "a.png", "--sheet", "/dev/zero"])
        .ends_with(2)
        .complains(1);
    assert!(ran.err.contains("longer than 4 MB"), "{}", ran.err);
}

#[test]
fn no_fault_refutes_a_finding_and_keeps_it() {
    let sheet = "scan,process,kind,verdicts\n\
                 a,tintype,blank,edge fog left: no fault; comets: no fault\n";
    let bench = bench(&["a.png"], sheet);
    let args = [
        "read",
        "a.png",
        "--sheet",
        "day.csv",
        "--fail-on",
        "visible",
    ];
    let ran = bench.run(&args).ends_with(0).complains(1);
    assert!(
        ran.err
            .contains("the verdict `comets: no fault` fits none of the findings"),
        "{}",
        ran.err
    );
    let report = bench.json("reports/a.json");
    let fog = finding(&report, "edge_fog");
    assert_eq!(fog["name"], "edge fog left");
    assert_eq!(
        (&fog["confidence"], &fog["standing"]),
        (&0.0.into(), &"suggested".into())
    );
    let verdict = &fog["verdict"];
    assert_eq!(verdict["says"], "no_fault");
    assert_eq!(verdict["written"], "edge fog left: no fault");
    assert!(verdict["confidence_before"].as_f64().unwrap() > 0.5);
    assert_eq!(report["maker"]["verdicts"][0]["finding"], fog["id"]);
    assert!(report["maker"]["verdicts"][1]["finding"].is_null());
    assert!(!ran.out.contains("edge fog"), "{}", ran.out);
    let page = bench.read("reports/a.html");
    assert!(
        page.contains("You wrote “edge fog left: no fault”"),
        "the page keeps it"
    );
    // Without the verdict the plate fails.
    bench
        .run(&["read", "a.png", "--fail-on", "visible"])
        .ends_with(1);
}

#[test]
fn a_named_cause_is_settled() {
    let sheet = "scan,process,kind,verdicts\na,tintype,blank,edge fog left: holder_cracked\n";
    let bench = bench(&["a.png"], sheet);
    bench
        .run(&["read", "a.png", "--sheet", "day.csv"])
        .ends_with(0)
        .complains(0);
    let report = bench.json("reports/a.json");
    let fog = finding(&report, "edge_fog");
    assert_eq!(probability(fog, "holder_cracked"), 1.0);
    assert_eq!(fog["causes"].as_array().unwrap().len(), 1);
    assert_eq!(fog["rest"]["none_of_these"], 0.0);
    assert_eq!(fog["confidence"], 1.0);
    let because = fog["causes"][0]["because"][0].as_str().unwrap();
    assert!(because.contains("you wrote"), "{because}");
    assert_eq!(report["plate_causes"][0]["cause"], "holder_cracked");
    // A word that several causes share narrows them down to those.
    bench.write(
        "day.csv",
        "scan,process,kind,verdicts\na,tintype,blank,edge fog left: it was the holder\n",
    );
    bench
        .run(&["read", "a.png", "--sheet", "day.csv"])
        .ends_with(0);
    let report = bench.json("reports/a.json");
    let causes = finding(&report, "edge_fog")["causes"]
        .as_array()
        .unwrap()
        .clone();
    assert!(causes.len() > 1);
    for cause in &causes {
        let words = format!("{} {}", cause["cause"], cause["title"]).to_lowercase();
        assert!(words.contains("holder"), "{words}");
    }
}

#[test]
fn an_answer_moves_the_odds_and_is_kept() {
    let with = |answer: &str| {
        let sheet = format!("scan,process,kind,answers\na,tintype,blank,{answer}\n");
        let bench = bench(&["a.png"], &sheet);
        bench
            .run(&["read", "a.png", "--sheet", "day.csv"])
            .ends_with(0)
            .complains(0);
        bench.json("reports/a.json")
    };
    let holder = |report: &Value| probability(finding(report, "edge_fog"), "holder_dirt");
    let (yes, open, no) = (
        with("other_holder: yes"),
        with(""),
        with("Other holder: no"),
    );
    assert!(
        holder(&yes) > holder(&open) && holder(&open) > holder(&no),
        "{} {} {}",
        holder(&yes),
        holder(&open),
        holder(&no)
    );
    let answer = &yes["maker"]["answers"][0];
    assert_eq!(
        (&answer["check"], &answer["yes"]),
        (&"other_holder".into(), &true.into())
    );
    assert_ne!(
        yes["check_next"]["check"], "other_holder",
        "it is not asked for again"
    );
}

#[test]
fn an_unknown_check_brings_close_names() {
    let bench = bench(&["a.png"], "scan,answers\na,litmuss test: yes\n");
    let ran = bench
        .run(&["read", "a.png", "--sheet", "day.csv"])
        .ends_with(0)
        .complains(1);
    assert!(
        ran.err.contains("names the check `litmuss test`") && ran.err.contains("litmus"),
        "{}",
        ran.err
    );
}

#[test]
fn plates_of_one_bath_are_weighed_together() {
    let sheet = "scan,process,kind,bath,holder\n\
                 a,tintype,blank,A,1\nb,tintype,blank,A,1\nc,tintype,blank,A,2\n";
    let bench = bench(&["a.png", "b.png", "c.png"], sheet);
    let scans = ["read", "a.png", "b.png", "c.png"];
    bench.run(&scans).ends_with(0);
    let alone = bench.json("reports/a.json");
    let with: Vec<&str> = [&scans[..], &["--sheet", "day.csv", "--json"]].concat();
    let ran = bench.run(&with).ends_with(0).complains(0);
    let report = bench.json("reports/a.json");
    let signs = |report: &Value| finding(report, "edge_fog")["signs"].to_string();
    assert!(!signs(&alone).contains("session_alike"));
    assert!(
        signs(&report).contains("3 of 3 plates from bath A show it at the same place"),
        "{}",
        signs(&report)
    );
    let printed: Vec<Value> = ran
        .out
        .lines()
        .map(|line| serde_json::from_str(line).expect("a report a line"))
        .collect();
    assert_eq!(printed.len(), 3);
    assert_eq!(printed[0], report, "what is printed is what was written");
    let page = bench.read("reports/a.html");
    assert!(page.contains("3 of 3 plates from bath A"));
    let session = bench.read("reports/session.html");
    assert!(session.contains("At work over the session"));
    assert!(session.contains("all 3 plates show a fault that it can make"));
    assert!(session.contains("Check next"));
}
