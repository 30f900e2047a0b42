//! The report of one plate: JSON, page, session page and table, from a plate made by hand.

use std::path::PathBuf;

use ndarray::Array2;
use oystermark::causes::{LikelyCause, Side};
use oystermark::doubts::Doubt;
use oystermark::findings::{
    CannotTell, Fault, Finding, Mark, Polarity, Severity, Sign, SignName, Standing,
};
use oystermark::handling::{Corner, Handling, HandlingSource};
use oystermark::measures::{EdgeProfile, Histogram, Tone};
use oystermark::plate::{Edge, Ledge, Part, Plate, PlateKind, Process, ScaleSource};
use oystermark::raster::Grid;
use oystermark::report::{self, CheckNext, Parts, Report, SessionEntry};
use oystermark::scan::Scan;
use oystermark::units::Reading;
use serde_json::Value;

/// A name that would be harmful if one character of it were trusted.
const NASTY: &str = "<script>alert(1)<script> \"ü'.tif";

const WIDTH_MM: f64 = 60.0;
const HEIGHT_MM: f64 = 70.0;
/// Picture pixels a millimetre: long side 1680, above the page's 1400, so that it is averaged down.
const PX_PER_MM: usize = 24;

fn picture() -> Grid<[u16; 3]> {
    let (height, width) = (
        HEIGHT_MM as usize * PX_PER_MM,
        WIDTH_MM as usize * PX_PER_MM,
    );
    let mut grain = 12345u32;
    Array2::from_shape_fn((height, width), |(i, j)| {
        let (x, y) = (j as f64 / PX_PER_MM as f64, i as f64 / PX_PER_MM as f64);
        grain = grain.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let noise = 1.0 + 0.06 * (f64::from(grain >> 16) / 65536.0 - 0.5);
        let scene = 0.03 + 0.28 * (-((x - 30.0).powi(2) + (y - 32.0).powi(2)) / 260.0).exp();
        let fog = 0.10 * (-y / 4.0).exp();
        let light = (scene + fog) * noise;
        [1.0, 0.93, 0.82].map(|tint: f64| (light * tint * 65535.0).clamp(0.0, 65535.0) as u16)
    })
}

fn scan(file: &str) -> Scan {
    Scan {
        file: PathBuf::from(file),
        width_px: 1700,
        height_px: 1960,
        bits: 8,
        channels: 3,
        light: Array2::from_elem((1, 1), 0.1),
        reduce: 1,
        clipped: Array2::from_elem((1, 1), 0),
        colour: Array2::from_elem((1, 1), [0; 3]),
        colour_reduce: 1,
        dpi_tag: None,
        code_light: Some(
            (0..=255u16)
                .map(|c| (f32::from(c) / 255.0).powf(2.2))
                .collect(),
        ),
        colour_source: "embedded profile \"sRGB IEC61966-2.1\"".into(),
        warnings: vec![
            "The file states 600 dots per inch along x only; the same was taken along y.".into(),
        ],
        doubts: vec![Doubt::EightBitSteps, Doubt::OneScan],
    }
}

fn plate(scale_source: ScaleSource) -> Plate {
    Plate {
        found: true,
        corners_px: [
            [120.25, 133.5],
            [1537.0, 140.0],
            [1530.5, 1793.0],
            [113.0, 1786.0],
        ],
        turn_deg: 0.27,
        width_mm: WIDTH_MM,
        height_mm: HEIGHT_MM,
        dpi: (scale_source != ScaleSource::Unknown).then_some((600.0, 600.0)),
        scale_source,
        size_name: None,
        process: Process::PositiveOnGlass,
        kind: PlateKind::Picture,
        scanned_from: None,
        light: Array2::from_elem((1, 1), 0.1),
        pitch_mm: 0.1,
        clipped: Array2::from_elem((1, 1), 0),
        parts: Array2::from_elem((1, 1), Part::Picture),
        ledge: Ledge::default(),
        surround_light: None,
        picture: picture(),
        picture_pitch_mm: 1.0 / PX_PER_MM as f64,
        doubts: vec![Doubt::ProcessJudged],
    }
}

fn tone() -> Tone {
    let shared = [Doubt::Uncalibrated, Doubt::FlareUnknown];
    Tone {
        d_light: Reading::new(0.514_27, 0.021).doubted(&shared),
        d_dark: Reading::new(1.483_61, 0.064)
            .doubted(&shared)
            .doubted(&[Doubt::ClippedDark]),
        range_d: Reading::new(0.969_34, 0.067).doubted(&shared),
        mean_d: Reading::new(1.102_9, 0.03).doubted(&shared),
        patch_d_light: Some(Reading::new(0.531, 0.02)),
        patch_d_dark: Some(Reading::new(1.46, 0.06)),
        veil_d: None,
        clipped_light_fraction: 0.0,
        clipped_dark_fraction: 0.004_12,
        histogram: Histogram {
            edges_d: (0..=100).map(|i| f64::from(i) * 0.02).collect(),
            counts: (0..100u32)
                .map(|i| {
                    let d = f64::from(i) * 0.02;
                    let hump =
                        |at: f64, wide: f64, high: f64| high * (-((d - at) / wide).powi(2)).exp();
                    (hump(1.36, 0.11, 9000.0) + hump(0.85, 0.2, 2600.0) + hump(0.55, 0.06, 900.0))
                        as u64
                })
                .collect(),
        },
        lab: Some([31.4, 2.3, 7.9]),
        zero_d: 1.52,
        zero_source: "the least silver found on this plate".into(),
    }
}

fn profile(edge: Edge, fog_d: f64) -> EdgeProfile {
    let distance_mm: Vec<f64> = (0..80).map(|i| f64::from(i) * 0.25 + 0.125).collect();
    EdgeProfile {
        edge,
        silver_d: distance_mm
            .iter()
            .enumerate()
            .map(|(i, x)| {
                let wobble = 0.008 * ((i * 7 % 13) as f64 / 6.5 - 1.0);
                let scene = 0.1 / (1.0 + (-(x - 11.0) / 2.0).exp());
                (i > 1).then(|| 0.02 + fog_d * (-x / 4.2).exp() + scene + wobble)
            })
            .collect(),
        distance_mm,
        ledge_mm: Some(2.6),
        fit: (fog_d > 0.0).then_some((0.02, fog_d, 4.2)),
    }
}

fn cause(title: &str, side: Side, probability: f64) -> LikelyCause {
    LikelyCause {
        cause: title.to_lowercase().replace(' ', "_"),
        title: title.into(),
        side,
        probability,
        because: vec![
            "the fog starts at the very edge, also under the ledge that no light of the scene reaches (0.24 ± 0.02 D there)".into(),
            "only the top edge is fogged; the other three stay within 0.01 D of the plate's own ground".into(),
        ],
        against: vec!["a second plate of the same session, from the same holder, shows none".into()],
        remedy: "Rub the frame of the holder dry between plates, lay a strip of clean blotting paper along the lower edge, and let the plate drain for half a minute longer before it goes in.".into(),
        check_next: "Sensitize a plate, leave it in the closed holder for three minutes in the dark room, and develop it: fog along the same edge clears the camera.".into(),
        cautions: vec!["Silver nitrate burns eyes and skin and stains for days: gloves and goggles when you wipe the holder. Follow your local codes and the supplier's safety sheet.".into()],
        sources: vec!["A handbook of the wet plate, 1864, p. 158".into(), "common practice".into()],
    }
}

fn finding(id: &str, fault: Fault, title: &str, box_mm: [f64; 4]) -> Finding {
    Finding {
        id: id.into(),
        fault,
        place: None,
        title: title.into(),
        measured: Vec::new(),
        polarity: Polarity::MoreSilver,
        box_mm,
        outline_mm: None,
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: None,
        confidence: 0.93,
        expected_false_alarms: 0.002_134,
        standing: Standing::Measured,
        severity: Severity::Visible,
        signs: Vec::new(),
        doubts: Vec::new(),
    }
}

fn findings() -> Vec<Finding> {
    let sign = |name, holds, words: &str| Sign {
        name,
        holds,
        words: words.into(),
    };
    let comets: Vec<Mark> = (0..17)
        .map(|i| {
            let (x, y) = (
                8.0 + f64::from(i * 11 % 17) * 2.7,
                38.0 + f64::from(i * 5 % 17) * 1.6,
            );
            Mark {
                box_mm: [x - 0.3, y - 0.3, x + 1.2, y + 1.6],
                centre_mm: [x, y],
                size_mm: 0.21 + 0.01 * f64::from(i % 5),
                length_mm: Some(1.4 + 0.1 * f64::from(i % 7)),
                direction_deg: Some(146.0 + f64::from(i % 9)),
                axis_deg: None,
                contrast_d: 0.11 + 0.012 * f64::from(i % 8),
                expected_false_alarms: 1e-4,
            }
        })
        .collect();
    vec![
        Finding {
            place: Some("top".into()),
            severity: Severity::Spoils,
            confidence: 0.985,
            measured: vec![
                (
                    "fog_d",
                    Reading::new(0.241_32, 0.021).doubted(&[Doubt::BorderTooNarrow]),
                ),
                ("depth_mm", Reading::new(4.2, 0.4)),
                ("length_mm", Reading::new(58.0, 2.0)),
            ],
            signs: vec![
                sign(SignName::OneEdge, true, "only the top edge is fogged"),
                sign(
                    SignName::BorderFogged,
                    true,
                    "the border under the ledge is fogged like the rest",
                ),
                sign(
                    SignName::FromCorner,
                    false,
                    "the fog does not start at a corner",
                ),
            ],
            ..finding(
                "f1",
                Fault::EdgeFog,
                "Edge fog along the top",
                [0.5, 0.0, 59.0, 6.3],
            )
        },
        Finding {
            standing: Standing::Suggested,
            severity: Severity::Trace,
            confidence: 0.62,
            measured: vec![("veil_d", Reading::new(0.06, 0.05))],
            doubts: vec![Doubt::ZeroFromEnvelope, Doubt::SceneMayDoIt],
            ..finding(
                "f2",
                Fault::Veil,
                "A veil over the whole plate",
                [0.0, 0.0, WIDTH_MM, HEIGHT_MM],
            )
        },
        Finding {
            place: Some("right".into()),
            measured: vec![
                ("excess_d", Reading::new(0.17, 0.03)),
                ("width_mm", Reading::new(7.1, 0.6)),
            ],
            outline_mm: Some(vec![
                [60.0, 40.0],
                [55.0, 42.0],
                [49.0, 45.5],
                [48.0, 47.0],
                [50.0, 48.2],
                [55.5, 49.0],
                [60.0, 51.0],
            ]),
            ..finding(
                "f3",
                Fault::LightLeak,
                "A tongue of light from the right edge",
                [48.0, 40.0, 60.0, 51.0],
            )
        },
        Finding {
            members: Some(comets),
            direction_deg: Some(149.6),
            direction_spread_deg: Some(4.1),
            measured: vec![
                ("count", Reading::new(17.0, 0.0)),
                ("size_mm", Reading::new(0.23, 0.03)),
                ("contrast_d", Reading::new(0.152, 0.012)),
            ],
            expected_false_alarms: 3e-9,
            ..finding(
                "f4",
                Fault::Comets,
                "Comets, tails to the lower right",
                [7.0, 37.0, 54.0, 66.0],
            )
        },
    ]
}

fn parts<'a>(
    scan: &'a Scan,
    plate: &'a Plate,
    handling: &'a Handling,
    tone: &'a Tone,
    profiles: &'a [EdgeProfile],
    findings: &'a [Finding],
    cannot_tell: &'a [CannotTell],
) -> Parts<'a> {
    Parts {
        scan,
        plate,
        handling: Some(handling),
        calibration: None,
        tone,
        profiles,
        findings,
        causes: vec![
            vec![
                cause("A wet holder frame wicks developer back onto the plate along its upper edge while the slide is drawn", Side::Handling, 0.58),
                cause("Light enters under the dark slide", Side::Equipment, 0.21),
                cause("The bath is low in acid", Side::Chemistry, 0.09),
            ],
            vec![cause("The bath is low in acid", Side::Chemistry, 0.44)],
            vec![cause("A hole in the holder", Side::Equipment, 0.8)],
            vec![cause("Dust in the bath, not filtered for many plates", Side::Chemistry, 0.7)],
        ],
        plate_causes: vec![
            cause("A wet holder frame", Side::Handling, 0.61),
            cause("The bath is low in acid", Side::Chemistry, 0.3),
        ],
        check_next: Some(CheckNext {
            check: "Make a blank: pour, dip, leave the plate in the closed holder for three minutes, develop and fix it without exposing it.".into(),
            gain_bits: 0.83,
            minutes: 10.0,
        }),
        looked_for: &[Fault::Veil, Fault::EdgeFog, Fault::LightLeak, Fault::Comets],
        cannot_tell,
        settings: serde_json::json!({"scan": {"working_dpi": 600.0, "encoding": "srgb"}}),
    }
}

/// A plate with everything on it.
fn full_report(file: &str, scale_source: ScaleSource) -> Report {
    let handling = Handling {
        dip_axis_deg: Some(0.0),
        developer_direction_deg: Some(90.0),
        drain_corner: Some(Corner::BottomRight),
        source: HandlingSource::CommandLine,
    };
    let profiles = [
        profile(Edge::Top, 0.24),
        profile(Edge::Right, 0.0),
        profile(Edge::Bottom, 0.0),
        profile(Edge::Left, 0.0),
    ];
    let cannot_tell = [
        CannotTell {
            fault: Fault::UnevenPour,
            because: "The light of a scene is never even, so a thick corner cannot be told from a bright one.".into(),
            make_this_plate: "Photograph a white card, evenly lit and out of focus, so that the whole plate is one middle grey.".into(),
        },
        CannotTell {
            fault: Fault::Underfixed,
            because: "The scan has no bare glass to compare the clear parts with.".into(),
            make_this_plate: "Hold a fixed plate over a dark cloth in daylight; or scan a blank beside it.".into(),
        },
    ];
    let (scan, plate, tone, findings) = (scan(file), plate(scale_source), tone(), findings());
    Report::assemble(parts(
        &scan,
        &plate,
        &handling,
        &tone,
        &profiles,
        &findings,
        &cannot_tell,
    ))
}

/// A plate with nothing on it.
fn clean_report(file: &str) -> Report {
    let (scan, plate, tone) = (scan(file), plate(ScaleSource::FileTag), tone());
    let handling = Handling {
        dip_axis_deg: None,
        developer_direction_deg: None,
        drain_corner: None,
        source: HandlingSource::CommandLine,
    };
    Report::assemble(Parts {
        causes: Vec::new(),
        plate_causes: Vec::new(),
        check_next: None,
        ..parts(&scan, &plate, &handling, &tone, &[], &[], &[])
    })
}

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
        "Edge fog along the top, strong",
        "Not to be judged on this plate: uneven pour and fixing.",
        "0.24 ± 0.02 D",
        "4.2 ± 0.4 mm",
        "98 in 100",
        "at least 1.48",
        "Take care",
        "Check next",
        "scanner not calibrated",
        "None of these",
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
    let picture = picture();
    let session = report::session_html(&[SessionEntry {
        report: &report,
        picture: &picture,
        page: format!("{NASTY}.html"),
    }])
    .unwrap();
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
        dip_axis_deg: None,
        developer_direction_deg: None,
        drain_corner: None,
        source: HandlingSource::CommandLine,
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
            let field = fields
                .get(key)
                .ok_or(format!("{key} is not in the schema"))?;
            accepts(root, field, item).map_err(|why| format!("{key}: {why}"))?;
        }
    }
    let more = &schema["additionalProperties"];
    let items = value.as_object().filter(|_| more.is_object());
    for item in items.into_iter().flat_map(|object| object.values()) {
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
fn a_missing_picture_leaves_the_words() {
    let report = full_report("a.tif", ScaleSource::FileTag);
    let html = report.html(&Array2::from_elem((0, 0), [0; 3])).unwrap();
    assert_well_formed(&html);
    assert!(html.contains("no picture of this plate") && html.contains("Edge fog"));
}

#[test]
fn a_session_lists_its_plates_and_what_they_share() {
    let picture = picture();
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
    let html = report::session_html(&entries).unwrap();
    assert_well_formed(&html);
    assert_no_network(&html);
    assert!(
        html.contains("edge fog is on 2 of 3 plates, always at the top"),
        "common sentence"
    );
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
    let table = report::table(&[&reports[0], &reports[1]]);
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), 2);
    assert!(table.is_ascii(), "{table}");
    assert!(
        lines[0].contains("size unknown") && lines[0].contains("edge fog top (spoils)"),
        "{table}"
    );
    assert_eq!(
        lines[0].find("positive"),
        lines[1].find("positive"),
        "{table}"
    );
}

/// Leaves the pages above in `target/tmp/pages`, for a look at them.
#[test]
fn pages_can_be_written_and_found_again() {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("pages");
    std::fs::create_dir_all(&folder).unwrap();
    let picture = picture();
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
        ("full.html", full.html(&picture).unwrap()),
        ("clean.html", clean.html(&picture).unwrap()),
        ("session.html", report::session_html(&entries).unwrap()),
        ("full.json", full.json().unwrap()),
        ("schema.json", report::schema_json()),
    ] {
        std::fs::write(folder.join(name), &html).unwrap();
        assert_eq!(std::fs::read_to_string(folder.join(name)).unwrap(), html);
    }
}
