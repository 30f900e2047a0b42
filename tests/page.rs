//! The report of one plate: JSON, page, session page and table, from a plate made by hand.

mod charts;
mod made;

use made::*;

use std::path::PathBuf;

use ndarray::Array2;
use oystermark::findings::{CannotTell, Fault};
use oystermark::handling::{Handling, HandlingSource};
use oystermark::plate::{PlateKind, ScaleSource};
use oystermark::report::{self, PlatePicture, Report, SessionEntry, SessionWords};
use oystermark::units::Reading;
use serde_json::Value;

/// Walks the tags of a page: every one that is opened is closed in order, and no `<` is stray.
fn assert_well_formed(html: &str) {
    const VOID: [&str; 4] = ["meta", "input", "br", "img"];
    let (before, rest) = html.split_once("<style>").expect("the page has a style");
    let (_, after) = rest.split_once("</style>").expect("the style ends");
    let text = format!("{before}{after}");
    let mut open: Vec<String> = Vec::new();
    for piece in text.split('<').skip(1) {
        let (tag, _) = piece
            .split_once('>')
            .unwrap_or_else(|| panic!("a tag does not end: {}", &piece[..piece.len().min(80)]));
        if tag.starts_with('!') {
            continue;
        }
        assert_eq!(tag.matches('"').count() % 2, 0, "uneven quotes in <{tag}>");
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop().as_deref(), Some(name), "closed out of order");
            continue;
        }
        let name: String = tag
            .chars()
            .take_while(char::is_ascii_alphanumeric)
            .collect();
        assert!(!name.is_empty(), "stray < before {tag}");
        if !tag.ends_with('/') && !VOID.contains(&name.as_str()) {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "never closed: {open:?}");
}

/// No address but the name of the SVG standard, which is never fetched.
fn assert_no_network(html: &str) {
    let html = html.replace("http://www.w3.org/2000/svg", "");
    for forbidden in [
        "http:",
        "https:",
        "//",
        "<script",
        "javascript:",
        "@import",
        "onload=",
    ] {
        let found = html
            .split("base64,")
            .map(|part| part.split_once('"').map_or(part, |(_, rest)| rest))
            .chain([html.split("base64,").next().unwrap_or_default()])
            .any(|part| part.contains(forbidden));
        assert!(!found, "{forbidden} stands in the page");
    }
}

#[test]
fn a_full_page_is_whole_and_small() {
    let report = full_report("portrait 12.tif", ScaleSource::FileTag);
    let html = report.html(&picture()).unwrap();
    assert_well_formed(&html);
    assert_no_network(&html);
    assert!(html.len() < 1_500_000, "{} bytes", html.len());
    assert_eq!(
        html.matches("base64,").count(),
        1,
        "the picture is there once"
    );
    for needed in [
        "Edge fog along the top (spoils the plate); a light leak at the right edge and comets with tails to the lower right \
         (visible); perhaps a veil over the whole plate (a trace); nothing else was found.</p>",
        "<a href=\"#h-untold\">Fixing cannot be told.</a>",
        "0.24 ± 0.02 D",
        "4.2 ± 0.4 mm",
        "98 in 100",
        "at least 1.48",
        "Take care",
        "Check next",
        "scanner not calibrated",
        "Other causes 10 %, none of these 2 %",
        "0.2 g of silver nitrate",
        "If the same edge is fogged, that points to “a wet holder frame”.",
    ] {
        let found = html.contains(needed);
        assert!(found, "{needed} is missing");
    }
}

#[test]
fn a_nasty_name_is_inert() {
    let mut report = full_report(NASTY, ScaleSource::FileTag);
    report.scan.colour_source = format!("embedded profile {NASTY}");
    report.scan.warnings.push(NASTY.into());
    report.density.zero_source = NASTY.into();
    report.plate.size_name = Some(NASTY.into());
    report.settings = serde_json::json!({NASTY: NASTY});
    report.findings[0].title = NASTY.into();
    report.findings[2].place = Some(NASTY.into());
    report.findings[0].causes[0].because.push(NASTY.into());
    let html = report.html(&picture()).unwrap();
    assert_well_formed(&html);
    assert!(!html.contains("<script"), "a name became a tag");
    assert!(
        html.contains("&lt;script&gt;alert(1)&lt;"),
        "the name is still shown"
    );
    assert!(
        html.contains("default-src 'none'"),
        "the policy forbids scripts"
    );
    let picture = PlatePicture::of(&picture(), "a").unwrap();
    let entry = SessionEntry {
        report: &report,
        picture: &picture,
        page: format!("{NASTY}.html"),
    };
    let words = SessionWords {
        notes: vec![NASTY.into()],
        ..SessionWords::default()
    };
    let session = report::session_html(&[entry], &words).unwrap();
    assert_well_formed(&session);
    assert!(!session.contains("<script"));
    assert!(session.contains("%3Cscript%3E"), "the link is coded");
    assert!(report::line(&report).is_ascii());
}

#[test]
fn json_reads_back_the_same() {
    for scale_source in [ScaleSource::FileTag, ScaleSource::Unknown] {
        let report = full_report(NASTY, scale_source);
        let text = report.json().unwrap();
        let back: Report = serde_json::from_str(&text).unwrap();
        assert_eq!(back, report);
        assert_eq!(back.json().unwrap(), text);
    }
}

#[test]
fn json_has_the_fields_that_must_hold() {
    let report = full_report("a.tif", ScaleSource::FileTag);
    let json: Value = serde_json::from_str(&report.json().unwrap()).unwrap();
    assert_eq!(json["schema"], "oystermark/plate-report/1");
    for (room, fields) in [
        (
            "scan",
            "file width_px height_px bits channels dpi_x dpi_y scale_source colour_source calibration warnings",
        ),
        (
            "plate",
            "found corners_px turn_deg width_mm height_mm size_name process scanned_from kind",
        ),
        (
            "handling",
            "dip_axis_deg developer_direction_deg drain_corner source",
        ),
        (
            "density",
            "d_light d_dark range_d mean_d d_light_u d_dark_u range_d_u veil_d veil_d_u histogram clipped_light_fraction clipped_dark_fraction tone",
        ),
    ] {
        for field in fields.split(' ') {
            assert!(json[room].get(field).is_some(), "{room}.{field}");
        }
    }
    let tone = &json["density"]["tone"];
    assert!(
        ["L", "a", "b"].iter().all(|key| tone[key].is_number()),
        "{tone}"
    );
    let finding = &json["findings"][0];
    for field in "id fault place title measured polarity box_mm outline_mm axis_deg direction_deg direction_spread_deg members confidence expected_false_alarms standing severity causes".split(' ') {
        assert!(finding.get(field).is_some(), "findings.{field}");
    }
    assert_eq!(finding["measured"]["fog_d"], 0.2413);
    assert_eq!(finding["measured"]["fog_d_u"], 0.021);
    assert_eq!(json["findings"][3]["measured"]["count"], 17.0);
    assert!(json["findings"][3]["measured"].get("count_u").is_none());
    let member = &json["findings"][3]["members"][0];
    for field in
        "box_mm centre_mm size_mm length_mm direction_deg axis_deg contrast_d expected_false_alarms"
            .split(' ')
    {
        assert!(member.get(field).is_some(), "members.{field}");
    }
    let cause = &finding["causes"][0];
    for field in
        "cause title side probability because against remedy check_next cautions sources".split(' ')
    {
        assert!(cause.get(field).is_some(), "causes.{field}");
    }
    for doubt in [
        "clipped_dark",
        "uncalibrated",
        "process_judged",
        "border_too_narrow",
        "scene_may_do_it",
    ] {
        assert!(json["doubts_explained"][doubt].is_string(), "{doubt}");
    }
}

#[test]
fn without_a_scale_no_length_is_stated() {
    fn lengths(value: &Value, path: &str) {
        match value {
            Value::Object(fields) => {
                for (key, value) in fields {
                    if key.contains("_mm") {
                        assert!(value.is_null(), "{path}.{key} is {value}");
                    }
                    lengths(value, &format!("{path}.{key}"));
                }
            }
            Value::Array(items) => items.iter().for_each(|item| lengths(item, path)),
            _ => {}
        }
    }
    let report = full_report("a.tif", ScaleSource::Unknown);
    lengths(&serde_json::to_value(&report).unwrap(), "report");
    let html = report.html(&picture()).unwrap();
    assert_well_formed(&html);
    assert!(!html.contains("60.0 × 70.0 mm") && !html.contains("4.2 ± 0.4 mm"));
    assert!(html.contains("% of the plate from the edge"));
}

#[test]
fn a_dark_8_bit_scan_claims_no_more_than_its_steps() {
    let mut tone = tone();
    tone.d_dark = Reading::new(3.217_4, 0.3);
    let (scan, plate) = (scan("a.tif"), plate(ScaleSource::FileTag));
    let handling = Handling {
        source: HandlingSource::CommandLine,
        ..Handling::default()
    };
    let report = Report::assemble(parts(&scan, &plate, &handling, &tone, &[], &[], &[]));
    assert_eq!(report.density.d_dark, 3.2);
    assert_eq!(report.density.d_light, 0.514);
}

/// Names, types, nulls and closed lists of the schema against a JSON value.
fn accepts(root: &Value, schema: &Value, value: &Value) -> Result<(), String> {
    if let Some(name) = schema["$ref"].as_str() {
        let name = name.strip_prefix("#/$defs/").ok_or("a foreign reference")?;
        return accepts(root, &root["$defs"][name], value);
    }
    let fail = |why: String| Err(why);
    for list in ["anyOf", "oneOf"] {
        let choices = schema[list].as_array();
        if choices.is_some_and(|c| c.iter().all(|c| accepts(root, c, value).is_err())) {
            return fail(format!("{value} fits no choice of {schema}"));
        }
    }
    if schema
        .get("const")
        .is_some_and(|expected| expected != value)
    {
        return fail(format!("{value} is not {}", schema["const"]));
    }
    if schema["enum"]
        .as_array()
        .is_some_and(|names| !names.contains(value))
    {
        return fail(format!("{value} is not in {}", schema["enum"]));
    }
    let fits = |kind: &str| match kind {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.is_u64() || value.is_i64(),
        "boolean" => value.is_boolean(),
        "null" => value.is_null(),
        _ => false,
    };
    let fits = match &schema["type"] {
        Value::String(kind) => fits(kind),
        Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).any(fits),
        _ => true,
    };
    if !fits {
        return fail(format!("{value} is no {}", schema["type"]));
    }
    if let (Some(fields), Some(object)) = (schema["properties"].as_object(), value.as_object()) {
        for key in schema["required"].as_array().into_iter().flatten() {
            if !object.contains_key(key.as_str().unwrap_or_default()) {
                return fail(format!("{key} is missing"));
            }
        }
        for (key, item) in object {
            match fields.get(key) {
                Some(field) => {
                    accepts(root, field, item).map_err(|why| format!("{key}: {why}"))?;
                }
                // Looked at below.
                None if schema["additionalProperties"].is_object() => {}
                None => return fail(format!("{key} is not in the schema")),
            }
        }
    }
    let more = &schema["additionalProperties"];
    let items = value.as_object().filter(|_| more.is_object());
    // It is about the fields that `properties` does not name (JSON Schema, core, 10.3.2.3).
    let unnamed = items
        .into_iter()
        .flatten()
        .filter(|(key, _)| schema["properties"].get(key).is_none());
    for (_, item) in unnamed {
        accepts(root, more, item)?;
    }
    let items = value.as_array().filter(|_| schema["items"].is_object());
    for item in items.into_iter().flatten() {
        accepts(root, &schema["items"], item)?;
    }
    Ok(())
}

#[test]
fn the_schema_accepts_what_is_written_and_nothing_else() {
    let schema: Value = serde_json::from_str(&report::schema_json()).unwrap();
    for report in [
        full_report(NASTY, ScaleSource::FileTag),
        full_report("b.tif", ScaleSource::Unknown),
        clean_report("c.tif"),
    ] {
        let json: Value = serde_json::from_str(&report.json().unwrap()).unwrap();
        assert_eq!(accepts(&schema, &schema, &json), Ok(()));
        let mut wrong = json.clone();
        wrong["plate"]["process"] = "positive_on_paper".into();
        assert!(accepts(&schema, &schema, &wrong).is_err());
        let mut short = json.clone();
        short["density"].as_object_mut().unwrap().remove("d_dark");
        assert!(accepts(&schema, &schema, &short).is_err());
    }
}

#[test]
fn a_clean_plate_says_so() {
    let report = clean_report("clean.tif");
    let html = report.html(&picture()).unwrap();
    assert_well_formed(&html);
    assert_no_network(&html);
    assert!(html.contains("Nothing wrong was found on this plate."));
    assert!(!html.contains("What was found") && !html.contains("Taken together"));
    assert!(report::line(&report).ends_with("nothing found"));
}

#[test]
fn what_no_picture_tells_stands_below_and_not_in_the_headline() {
    let mut report = clean_report("clean.tif");
    report.cannot_tell = [
        Fault::UnevenPour,
        Fault::Comets,
        Fault::Pinholes,
        Fault::Specks,
    ]
    .map(|fault| CannotTell {
        fault,
        because: "the scene looks like it".into(),
        make_this_plate: "an evenly exposed plate".into(),
    })
    .to_vec();
    let html = report.html(&picture()).unwrap();
    assert!(html.contains("Nothing wrong was found on this plate."));
    assert!(!html.contains("cannot be told."), "the headline is calm");
    assert!(html.contains("What this plate cannot tell") && html.contains("Uneven pour, comets"));
    assert!(report::line(&report).ends_with("nothing found"));
    let json: Value = serde_json::from_str(&report.json().unwrap()).unwrap();
    assert_eq!(json["cannot_tell"].as_array().map(Vec::len), Some(4));
    // A test plate that leaves the same open says so.
    report.plate.kind = PlateKind::Wedge;
    let line = report::line(&report);
    assert!(
        line.contains("; uneven pour and a few small marks cannot be told"),
        "{line}"
    );
}

#[test]
fn a_plate_without_an_outline_says_so_on_top() {
    let mut report = full_report("whole.png", ScaleSource::Unknown);
    let said = "No outline of the plate was found";
    assert!(!report.html(&picture()).unwrap().contains(said));
    report.plate.found = false;
    let html = report.html(&picture()).unwrap();
    let at = |words: &str| html.find(words).unwrap_or(usize::MAX);
    assert!(at("class=\"sentence\"") < at(said) && at(said) < at("id=\"h-findings\""));
    assert!(report::line(&report).contains("; outline not found; "));
    // Cropped to a plate of a known size.
    report.scan.scale_source = ScaleSource::FileTag;
    report.plate.size_name = Some("sixth plate".into());
    assert!(!report.html(&picture()).unwrap().contains(said));
}

#[test]
fn what_to_try_for_an_unlikely_cause_stays_folded() {
    let mut report = full_report("a.tif", ScaleSource::FileTag);
    let page = |report: &Report| report.html(&picture()).unwrap();
    let unfolded = |html: &str| html.contains("id=\"cause-1-1\" checked");
    let said = "No cause stands out";
    for (probability, stands_out) in [(0.25, true), (0.15, false)] {
        for finding in &mut report.findings {
            for cause in &mut finding.causes {
                cause.probability = probability;
            }
        }
        let html = page(&report);
        assert_eq!(unfolded(&html), stands_out, "{probability}");
        assert_eq!(html.contains(said), !stands_out, "{probability}");
    }
}

#[test]
fn a_missing_picture_leaves_the_words() {
    let report = full_report("a.tif", ScaleSource::FileTag);
    let html = report.html(&Array2::from_elem((0, 0), [0; 3])).unwrap();
    assert_well_formed(&html);
    assert!(html.contains("no picture of this plate") && html.contains("Edge fog"));
}

#[test]
fn a_session_lists_its_plates_and_what_they_share() {
    let picture = PlatePicture::of(&picture(), "a").unwrap();
    let reports = [
        full_report("plate 12.tif", ScaleSource::FileTag),
        full_report("plate 13.tif", ScaleSource::FileTag),
        clean_report("plate 14.tif"),
    ];
    let entries: Vec<SessionEntry> = reports
        .iter()
        .map(|report| SessionEntry {
            report,
            picture: &picture,
            page: format!("{}.html", report.plate_name()),
        })
        .collect();
    let html = report::session_html(&entries, &SessionWords::default()).unwrap();
    assert_well_formed(&html);
    assert_no_network(&html);
    assert!(
        html.contains("edge fog is on 2 of 3 plates, always at the top"),
        "common sentence"
    );
    assert!(
        html.contains("Cannot be told: fixing on 2 of 3 plates."),
        "what the session leaves open"
    );
    assert!(html.contains("nothing else was found.") && html.contains("Fixing cannot be told."));
    assert!(html.contains("href=\"./plate%2012.html\"") || html.contains("plate%2012.html"));
    assert_eq!(html.matches("base64,").count(), 3);
    assert!(html.len() < 400_000, "{} bytes", html.len());
}

#[test]
fn the_table_is_plain_and_aligned() {
    let reports = [
        full_report(NASTY, ScaleSource::Unknown),
        clean_report("a.tif"),
    ];
    let table = report::table(&[
        (NASTY.to_owned(), &reports[0]),
        ("a".to_owned(), &reports[1]),
    ]);
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), 2);
    assert!(table.is_ascii(), "{table}");
    assert!(
        lines[0].contains("size unknown") && lines[0].contains("edge fog top (spoils)"),
        "{table}"
    );
    assert!(lines[0].ends_with("; fixing cannot be told"), "{table}");
    assert_eq!(
        lines[0].find("positive"),
        lines[1].find("positive"),
        "{table}"
    );
}

#[test]
fn every_fault_can_be_drawn() {
    let report = every_fault();
    let html = report.html(&lying()).unwrap();
    assert_well_formed(&html);
    assert_eq!(html.matches("class=\"tag mark-").count(), Fault::ALL.len());
    for fault in Fault::ALL {
        assert!(html.contains(&format!("id=\"show-{}\"", fault.name())));
    }
    let line = report::line(&report);
    assert!(line.is_ascii() && line.starts_with("a_very_long"), "{line}");
}

/// Leaves the pages above in `target/tmp/pages`, for a look at them.
#[test]
fn pages_can_be_written_and_found_again() {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("pages");
    std::fs::create_dir_all(&folder).unwrap();
    let shown = picture();
    let picture = PlatePicture::of(&shown, "a").unwrap();
    let full = full_report("market day 12.tif", ScaleSource::FileTag);
    let clean = clean_report("market day 13.tif");
    let entries: Vec<SessionEntry> = [("full", &full), ("clean", &clean)]
        .into_iter()
        .map(|(name, report)| SessionEntry {
            report,
            picture: &picture,
            page: format!("{name}.html"),
        })
        .collect();
    for (name, html) in [
        ("full.html", full.html(&shown).unwrap()),
        ("clean.html", clean.html(&shown).unwrap()),
        ("every.html", every_fault().html(&lying()).unwrap()),
        (
            "session.html",
            report::session_html(&entries, &SessionWords::default()).unwrap(),
        ),
        ("full.json", full.json().unwrap()),
        ("schema.json", report::schema_json()),
    ] {
        std::fs::write(folder.join(name), &html).unwrap();
        assert_eq!(std::fs::read_to_string(folder.join(name)).unwrap(), html);
    }
}
