//! The built program from outside: exit codes, what it prints, what it writes.

use std::fs;
use std::io::Read;
use std::process::Stdio;

use crate::common::{Bench, Plate, Ran};

#[test]
fn a_scan_becomes_a_page_and_json_beside_it() {
    let bench = Bench::new();
    bench.clean("plate.png");
    let ran = bench.run(&["read", "plate.png"]).ends_with(0).complains(0);
    assert!(ran.out.contains("plate"), "{}", ran.out);
    assert!(
        ran.out.contains("Look at reports/plate.html"),
        "{}",
        ran.out
    );
    assert_eq!(bench.names("reports"), ["plate.html", "plate.json"]);
    let report = bench.json("reports/plate.json");
    assert_eq!(report["schema"], "oystermark/plate-report/1");
    let page = bench.read("reports/plate.html");
    assert!(page.contains("<meta name=\"generator\" content=\"oystermark"));
    // A second run replaces its own reports.
    bench.run(&["read", "plate.png"]).ends_with(0);
    assert_eq!(bench.names("reports"), ["plate.html", "plate.json"]);
}

#[cfg(unix)]
#[test]
fn reports_may_be_read_by_whom_the_mask_allows() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::new();
    bench.clean("plate.png");
    bench.run(&["read", "plate.png"]).ends_with(0);
    let mode = |name| {
        let meta = fs::metadata(bench.path(name)).expect("a file");
        meta.permissions().mode() & 0o777
    };
    assert_eq!(mode("reports/plate.json"), mode("plate.png"));
    assert_eq!(mode("reports/plate.html"), mode("plate.png"));
}

#[test]
fn what_the_maker_says_is_in_the_report() {
    let bench = Bench::new();
    bench.clean("plate.png");
    let args = ["read", "plate.png", "--process", "positive_on_glass"];
    bench.run(&args).ends_with(0);
    let report = bench.json("reports/plate.json");
    assert_eq!(report["plate"]["process"], "positive_on_glass");
}

/// A sample whose resolution tag is taken out.
fn without_resolution(name: &str) -> Vec<u8> {
    let samples = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let mut bytes = fs::read(samples.join(name)).expect("a sample");
    let at = |bytes: &[u8], what: &[u8]| {
        bytes
            .windows(what.len())
            .position(|window| window == what)
            .expect("a resolution tag")
    };
    if name.ends_with("png") {
        // Length before the name, nine bytes and a check sum behind it.
        let from = at(&bytes, b"pHYs") - 4;
        bytes.drain(from..from + 21);
    } else {
        // Behind the marker's name and version: 0 says that the numbers are a mere ratio.
        let unit = at(&bytes, b"JFIF\0") + 7;
        bytes[unit] = 0;
    }
    bytes
}

#[test]
fn without_a_scale_titles_and_signs_state_shares_of_the_plate() {
    for (name, fault) in [("A-014.png", "edge_fog"), ("A-023.jpg", "light_leak")] {
        let bench = Bench::new();
        fs::write(bench.path(name), without_resolution(name)).unwrap();
        bench.run(&["read", name]).ends_with(0);
        let stem = name.split_once('.').expect("an ending").0;
        let report = bench.json(&format!("reports/{stem}.json"));
        assert!(report["plate"]["width_mm"].is_null(), "{name} has a scale");
        let finding = &report["findings"][0];
        assert_eq!(finding["fault"], fault);
        let said = format!("{} {}", finding["title"], finding["signs"]);
        assert!(!said.contains(" mm"), "{said}");
        assert!(said.contains(" % of the "), "{said}");
    }
}

#[test]
fn a_folder_means_its_scans_in_the_order_of_their_names() {
    let bench = Bench::new();
    fs::create_dir_all(bench.path("day/inside")).unwrap();
    bench.clean("day/b.PNG");
    bench.clean("day/a.png");
    bench.clean("day/inside/c.png");
    bench.write("day/notes.txt", "market day");
    bench.write("day/._a.png", "left by another program");
    let ran = bench.run(&["read", "day", "--out", "o", "--json"]);
    let ran = ran.ends_with(0).complains(0);
    let files: Vec<_> = ran
        .out
        .lines()
        .map(|line| {
            let report: serde_json::Value = serde_json::from_str(line).expect("JSON");
            report["scan"]["file"].as_str().expect("a name").to_owned()
        })
        .collect();
    assert_eq!(files, ["a.png", "b.PNG"]);
    assert_eq!(
        bench.names("o"),
        ["a.html", "a.json", "b.html", "b.json", "session.html"]
    );
    let session = bench.read("o/session.html");
    assert!(session.contains("a.html") && session.contains("b.html"));
}

#[test]
fn an_empty_folder_is_said() {
    let bench = Bench::new();
    bench.write("day/notes.txt", "nothing scanned yet");
    let ran = bench.run(&["read", "day"]).ends_with(2).complains(1);
    assert!(ran.err.contains("no scans in this folder"), "{}", ran.err);
}

#[test]
fn several_plates_of_a_scan_are_numbered_in_reading_order() {
    let bench = Bench::new();
    bench.scan("two.png", &[Plate::clean(), Plate::fogged()]);
    let ran = bench.run(&["read", "two.png"]).ends_with(0).complains(0);
    let lines: Vec<&str> = ran.out.lines().collect();
    assert!(lines[0].starts_with("two-1 ") && lines[1].starts_with("two-2 "));
    assert_eq!(
        bench.names("reports"),
        [
            "session.html",
            "two-1.html",
            "two-1.json",
            "two-2.html",
            "two-2.json"
        ]
    );
}

#[test]
fn numbers_of_plates_do_not_overwrite_another_scan_of_the_run() {
    let bench = Bench::new();
    bench.clean("two-1.png");
    bench.scan("two.png", &[Plate::clean(), Plate::clean()]);
    let ran = bench.run(&["read", "two-1.png", "two.png"]);
    let ran = ran.ends_with(2).complains(1);
    assert!(ran.err.contains("already written"), "{}", ran.err);
    assert_eq!(bench.names("reports"), ["two-1.html", "two-1.json"]);
}

#[test]
fn one_bad_scan_does_not_stop_the_rest() {
    let bench = Bench::new();
    bench.clean("a.png");
    bench.write("bad.tif", "not a picture");
    bench.write("empty.png", "");
    bench.clean("z.png");
    let ran = bench.run(&[
        "read",
        "a.png",
        "bad.tif",
        "empty.png",
        "absent.png",
        "z.png",
    ]);
    let ran = ran.ends_with(2).complains(3);
    for (line, file) in ran.err.lines().zip(["bad.tif", "empty.png", "absent.png"]) {
        assert!(line.starts_with(&format!("oystermark: {file}: ")), "{line}");
    }
    assert_eq!(
        bench.names("reports"),
        ["a.html", "a.json", "session.html", "z.html", "z.json"]
    );
}

#[test]
fn nothing_is_left_where_nothing_could_be_read() {
    let bench = Bench::new();
    bench.write("bad.tif", "not a picture");
    let args = ["read", "bad.tif", "--out", "some/where"];
    bench.run(&args).ends_with(2).complains(1);
    assert_eq!(bench.names("."), ["bad.tif"]);
}

#[test]
fn scans_of_one_stem_are_refused_and_the_others_read() {
    let bench = Bench::new();
    fs::create_dir(bench.path("x")).unwrap();
    bench.clean("a.png");
    bench.clean("x/a.png");
    bench.clean("b.png");
    let ran = bench.run(&["read", "a.png", "x/a.png", "b.png", "--out", "o"]);
    let ran = ran.ends_with(2).complains(2);
    assert!(ran.err.contains("same name"), "{}", ran.err);
    assert_eq!(bench.names("o"), ["b.html", "b.json"]);
}

#[test]
fn names_with_anything_in_them_are_kept_and_made_safe() {
    let bench = Bench::new();
    let stems = [
        "with space",
        "it's \"quoted\"",
        "Gäßchen №4",
        "<script>alert(1)<script>",
        "50% #1?&",
        "-leading",
    ];
    for stem in stems {
        bench.clean(&format!("{stem}.png"));
    }
    let ran = bench.run(&["read", ".", "--out", "o"]);
    ran.ends_with(0).complains(0);
    for stem in stems {
        let report = bench.json(&format!("o/{stem}.json"));
        assert_eq!(report["scan"]["file"], format!("{stem}.png"));
        let page = bench.read(&format!("o/{stem}.html"));
        assert!(!page.contains("<script>alert"), "{stem}");
    }
    let session = bench.read("o/session.html");
    assert!(!session.contains("<script>alert"));
    for address in [
        "with%20space.html",
        "it%27s%20%22quoted%22.html",
        "50%25%20%231%3F%26.html",
        "%3Cscript%3Ealert%281%29%3Cscript%3E.html",
    ] {
        assert!(session.contains(address), "{address}");
    }
}

#[test]
fn a_foreign_file_is_never_overwritten() {
    for (name, content) in [
        ("reports/a.json", "{\"schema\": \"something else\"}"),
        ("reports/a.json", "not JSON"),
        (
            "reports/a.html",
            "<html><body>my notes on oystermark</body></html>",
        ),
    ] {
        let bench = Bench::new();
        bench.clean("a.png");
        bench.clean("b.png");
        bench.write(name, content);
        let ran = bench.run(&["read", "a.png", "b.png"]);
        let ran = ran.ends_with(2).complains(1);
        assert!(ran.err.contains("not overwritten"), "{}", ran.err);
        assert_eq!(bench.read(name), content);
        let file = name.trim_start_matches("reports/");
        assert_eq!(bench.names("reports"), [file, "b.html", "b.json"]);
    }
}

#[test]
fn a_foreign_session_page_is_kept_and_the_reports_are_there() {
    let bench = Bench::new();
    bench.clean("a.png");
    bench.clean("b.png");
    bench.write("reports/session.html", "my own list");
    bench
        .run(&["read", "a.png", "b.png"])
        .ends_with(2)
        .complains(1);
    assert_eq!(bench.read("reports/session.html"), "my own list");
    assert_eq!(bench.names("reports").len(), 5);
}

#[test]
fn a_bad_folder_is_said_at_once_and_once() {
    let bench = Bench::new();
    bench.clean("a.png");
    bench.clean("b.png");
    bench.write("taken", "a file where the folder should be");
    for out in ["taken", "taken/inside", "/dev/null/x"] {
        let ran = bench.run(&["read", "a.png", "b.png", "--out", out]);
        let ran = ran.ends_with(2).complains(1);
        assert!(ran.err.contains("no report can be written"), "{}", ran.err);
        assert!(ran.err.contains("--out"), "{}", ran.err);
    }
    assert_eq!(bench.names("."), ["a.png", "b.png", "taken"]);
}

/// The shell's limit on the size of a file stands in for a full disk: writing fails midway.
#[cfg(unix)]
#[test]
fn a_full_disk_leaves_nothing_half_written() {
    let bench = Bench::new();
    bench.clean("a.png");
    bench.write("reports/old.txt", "kept");
    let mut shell = std::process::Command::new("sh");
    shell
        .args(["-c", "trap '' XFSZ; ulimit -f 0; exec \"$0\" read a.png"])
        .arg(env!("CARGO_BIN_EXE_oystermark"))
        .current_dir(bench.path("."));
    let ran = Ran::of(&mut shell).ends_with(2).complains(1);
    assert!(ran.err.contains("could not be written"), "{}", ran.err);
    assert_eq!(bench.names("reports"), ["old.txt"]);
}

#[cfg(target_os = "linux")]
#[test]
fn output_that_cannot_be_printed_is_said() {
    let bench = Bench::new();
    bench.clean("a.png");
    let full = fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let mut command = bench.command(&["read", "a.png"]);
    let ran = Ran::of(command.stdout(full).stderr(Stdio::piped()));
    ran.ends_with(2).complains(1);
    assert_eq!(bench.names("reports"), ["a.html", "a.json"]);
}

#[test]
fn a_closed_pipe_is_success() {
    let bench = Bench::new();
    bench.clean("a.png");
    bench.clean("b.png");
    let inputs: &[&[&str]] = &[
        &["read", "a.png", "b.png", "--json"],
        &["read", "a.png"],
        &["read", "--help"],
    ];
    for args in inputs {
        let mut command = bench.command(args);
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        drop(child.stdout.take());
        let mut err = String::new();
        let mut stderr = child.stderr.take().expect("errors");
        stderr.read_to_string(&mut err).expect("errors in UTF-8");
        assert_eq!(
            child.wait().expect("an end").code(),
            Some(0),
            "{args:?} {err}"
        );
        assert_eq!(err, "");
    }
    assert!(bench.names("reports").contains(&"b.json".to_owned()));
}

#[test]
fn json_prints_objects_and_nothing_else() {
    let bench = Bench::new();
    bench.clean("a.png");
    bench.write("bad.tif", "not a picture");
    let ran = bench.run(&["read", "bad.tif", "a.png", "--json"]);
    let ran = ran.ends_with(2).complains(1);
    assert_eq!(ran.out.lines().count(), 1);
    let printed: serde_json::Value = serde_json::from_str(&ran.out).expect("JSON");
    assert_eq!(printed, bench.json("reports/a.json"));
}

#[test]
fn quiet_prints_nothing_but_errors() {
    let bench = Bench::new();
    bench.clean("a.png");
    let ran = bench.run(&["read", "a.png", "--quiet"]).ends_with(0);
    assert_eq!((ran.out.as_str(), ran.err.as_str()), ("", ""));
    bench
        .run(&["read", "b.png", "-q"])
        .ends_with(2)
        .complains(1);
}

#[test]
fn fail_on_tells_a_spoilt_plate_from_a_clean_one() {
    let bench = Bench::new();
    bench.clean("clean.png");
    bench.scan("fogged.png", &[Plate::fogged()]);
    let told = ["--kind", "blank", "--process", "positive_on_metal"];
    let read = |rest: &[&str]| bench.run(&[&["read"], rest, &told].concat());
    read(&["clean.png", "--fail-on", "visible"]).ends_with(0);
    read(&["fogged.png"]).ends_with(0);
    read(&["clean.png", "fogged.png", "--fail-on", "visible"]).ends_with(1);
    read(&["fogged.png", "absent.png", "--fail-on", "trace"]).ends_with(2);
}

#[test]
fn a_wrong_command_is_one_sentence_that_names_the_option() {
    let bench = Bench::new();
    bench.clean("a.png");
    bench.clean("b.png");
    let wrong: &[(&[&str], &str)] = &[
        (&["read"], "SCAN"),
        (
            &["reed", "a.png"],
            "there is no command reed; did you mean read?",
        ),
        (
            &["read", "a.png", "--proces", "x"],
            "there is no option --proces; did you mean --process?",
        ),
        (
            &["read", "a.png", "--sharpen"],
            "there is no option --sharpen; see oystermark read --help",
        ),
        (
            &["read", "a.png", "--kind"],
            "--kind needs a word: picture, blank",
        ),
        (
            &["practice", "paint", "twice"],
            "twice is one word too many",
        ),
        (
            &["read", "a.png", "--process", "daguerreotype"],
            "--process does not know daguerreotype, only: positive_on_metal, ",
        ),
        (
            &["read", "a.png", "--plate-size", "postcard"],
            "--plate-size",
        ),
        (&["read", "a.png", "--plate-size", "82.5x108"], "unit"),
        (&["read", "a.png", "--corners", "1,2,3"], "eight numbers"),
        (
            &["read", "a.png", "--corners", "0,0,0,9,9,9,9,0"],
            "clockwise",
        ),
        (
            &["read", "a.png", "b.png", "--corners", "0,0,9,0,9,9,0,9"],
            "--corners",
        ),
        (&["read", "a.png", "--dip-axis", "200"], "--dip-axis"),
        (
            &["read", "a.png", "--support-density", "black"],
            "--support-density",
        ),
        (&["read", "a.png", "--measures", "tone,luck"], "luck"),
        (
            &["read", "a.png", "--json", "--quiet"],
            "--json and --quiet do not go together",
        ),
        (
            &["read", "a.png", "--kind", "flat", "--kind", "blank"],
            "--kind was given twice",
        ),
    ];
    for (args, says) in wrong {
        let ran = bench.run(args).ends_with(2).complains(1);
        assert!(ran.err.contains(says), "{args:?}: {}", ran.err);
        assert_eq!(ran.out, "");
    }
    assert_eq!(bench.names("."), ["a.png", "b.png"], "nothing was written");
}

#[test]
fn painting_makes_its_folder() {
    let bench = Bench::new();
    let args = ["practice", "paint", "--out", "class/today"];
    bench.run(&args).ends_with(0).complains(0);
    assert!(!bench.names("class/today").is_empty());
}

#[test]
fn help_has_an_example_and_the_exit_codes() {
    let bench = Bench::new();
    let help = bench.run(&["read", "--help"]).ends_with(0).complains(0).out;
    assert!(help.contains("oystermark read plate-17.tif"));
    assert!(help.contains("Exit codes:"));
    bench.run(&["--version"]).ends_with(0);
    bench.run(&[]).ends_with(2);
}

/// Options in the help of a command, such as `--out`.
fn options(text: &str) -> Vec<String> {
    let mut found: Vec<String> = text
        .split(|c: char| c.is_whitespace() || "`,()[]|=".contains(c))
        .filter(|word| word.starts_with("--") && word.len() > 2)
        .map(|word| word.trim_end_matches(['.', ':', ';']).to_owned())
        .collect();
    found.sort();
    found.dedup();
    found
}

#[test]
fn the_readme_names_every_option_of_read() {
    let bench = Bench::new();
    let help = bench.run(&["read", "--help"]).out;
    let readme = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    let named = options(&readme);
    let there = options(&help);
    assert!(there.len() > 10, "{there:?}");
    for option in there.iter().filter(|option| *option != "--help") {
        assert!(named.contains(option), "README.md does not name {option}");
    }
}

#[test]
fn the_handling_file_is_read_and_what_is_typed_goes_before_it() {
    let bench = Bench::new();
    bench.clean("plate.png");
    let text = "drained_at = \"bottom left\"\ndipped_first = \"bottom\"\n\
                developer_from = \"left\"\nscanned_from = \"through the glass\"\n";
    fs::write(bench.path("plate.toml"), text).unwrap();
    let args = [
        "read",
        "plate.png",
        "--handling",
        "plate.toml",
        "--dip-axis",
    ];
    bench
        .run(&[&args[..], &["45"]].concat())
        .ends_with(0)
        .complains(0);
    let report = bench.json("reports/plate.json");
    let handling = &report["handling"];
    assert_eq!(handling["drain_corner"], "bottom_right");
    assert_eq!(handling["developer_direction_deg"], 270.0);
    assert_eq!(handling["dip_axis_deg"], 45.0);
    assert_eq!(handling["dipped_first"], serde_json::Value::Null);
    assert_eq!(handling["source"], "command_line");
    assert_eq!(handling["sources"]["drain_corner"], "file");
    assert_eq!(handling["left_right"], "exchanged");
    assert_eq!(report["plate"]["scanned_from"], "through_glass");
    let page = bench.read("reports/plate.html");
    for words in [
        "drained at the bottom right corner",
        "in the handling file",
        "exchanged",
    ] {
        assert!(page.contains(words), "{words}");
    }
}

#[test]
fn a_handling_file_that_cannot_be_used_is_told_in_one_sentence() {
    let bench = Bench::new();
    bench.clean("plate.png");
    fs::write(bench.path("slip.toml"), "# a slip\ndraned_at = \"top\"\n").unwrap();
    fs::write(bench.path("binary.toml"), [0xff, 0xfe, 0x00]).unwrap();
    fs::write(bench.path("large.toml"), "#".repeat(70_000)).unwrap();
    fs::write(bench.path("empty.toml"), " \n").unwrap();
    fs::create_dir(bench.path("folder")).unwrap();
    for (file, says) in [
        (
            "slip.toml",
            "slip.toml: line 2: there is no entry `draned_at`; write `drained_at`",
        ),
        ("binary.toml", "this is no handling file"),
        ("large.toml", "this is no handling file"),
        ("empty.toml", "the handling file is empty"),
        ("folder", "this is a folder"),
        ("nowhere.toml", "the handling file is not there"),
    ] {
        let args = ["read", "plate.png", "--handling", file];
        let ran = bench.run(&args).ends_with(2).complains(1);
        assert!(ran.err.contains(says), "{}", ran.err);
        assert!(!bench.path("reports").exists());
    }
}

#[test]
fn the_handling_file_of_the_readme_is_read() {
    let readme = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    let files: Vec<&str> = readme
        .split("```toml\n")
        .skip(1)
        .filter_map(|rest| rest.split("```").next())
        .collect();
    assert!(!files.is_empty());
    for text in files {
        let said = oystermark::handling::read(text, None);
        assert!(said.is_ok_and(|said| said.handling.is_some()), "{text}");
    }
}

#[test]
fn a_turned_scan_that_cannot_serve_is_told_in_one_sentence() {
    let bench = Bench::new();
    bench.clean("plate.png");
    bench.clean("other.png");
    let say = |args: &[&str], words: &[&str]| {
        let ran = bench.run(args).ends_with(2).complains(1);
        for word in words {
            assert!(ran.err.contains(word), "{word}: {}", ran.err);
        }
        assert!(!bench.path("reports").exists());
    };
    let with = |second| ["read", "plate.png", "--turned", second];
    say(
        &with("plate.png"),
        &["plate.png", "the first scan itself", "half round"],
    );
    say(&with("nowhere.png"), &["nowhere.png"]);
    fs::write(bench.path("words.png"), "no picture").expect("a file");
    say(&with("words.png"), &["oystermark: words.png"]);
    let two = ["read", "plate.png", "other.png", "--turned", "x.png"];
    say(&two, &["--turned", "a run of its own"]);
}
