//! Reports put together by hand: a full plate, a clean one, one with every fault.

use std::path::PathBuf;

use ndarray::Array2;
use oystermark::causes::{LikelyCause, NextCheck, Ranked, Rest, Side};
use oystermark::doubts::Doubt;
use oystermark::findings::{
    CannotTell, Fault, Finding, Mark, Polarity, Severity, Sign, SignName, Standing,
};
use oystermark::handling::{Corner, Handling, HandlingSource};
use oystermark::measures::{EdgeProfile, Histogram, Tone};
use oystermark::plate::{Edge, Ledge, Part, Plate, PlateKind, Process, ScaleSource};
use oystermark::raster::Grid;
use oystermark::report::{Parts, Report};
use oystermark::scan::Scan;
use oystermark::units::Reading;

/// A name that would be harmful if one character of it were trusted.
pub(super) const NASTY: &str = "<script>alert(1)<script> \"ü'.tif";

pub(super) const WIDTH_MM: f64 = 60.0;
pub(super) const HEIGHT_MM: f64 = 70.0;
/// Picture pixels a millimetre: long side 1680, above the page's 1400, so that it is averaged down.
pub(super) const PX_PER_MM: usize = 24;

pub(super) fn picture() -> Grid<[u16; 3]> {
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

pub(super) fn scan(file: &str) -> Scan {
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

pub(super) fn plate(scale_source: ScaleSource) -> Plate {
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
        rims: [None; 4],
        warnings: vec!["The plate lies a little out of square; it was squared up.".into()],
        picture: picture(),
        picture_pitch_mm: 1.0 / PX_PER_MM as f64,
        doubts: vec![Doubt::ProcessJudged],
        turned: None,
    }
}

pub(super) fn tone() -> Tone {
    let shared = [Doubt::Uncalibrated, Doubt::FlareUnknown];
    let counts: Vec<u64> = (0..100u32)
        .map(|i| {
            let d = f64::from(i) * 0.02;
            let hump = |at: f64, wide: f64, high: f64| high * (-((d - at) / wide).powi(2)).exp();
            (hump(1.36, 0.11, 9000.0) + hump(0.85, 0.2, 2600.0) + hump(0.55, 0.06, 900.0)) as u64
        })
        .collect();
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
            counts: counts.clone(),
            picture_counts: counts,
        },
        lab: Some([31.4, 2.3, 7.9]),
        zero_d: 1.52,
        zero_source: "the least silver found on this plate".into(),
    }
}

pub(super) fn profile(edge: Edge, fog_d: f64) -> EdgeProfile {
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

pub(super) fn cause(title: &str, side: Side, probability: f64) -> LikelyCause {
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
        check: "blank_in_the_dark".into(),
        cautions: vec!["Silver nitrate burns eyes and skin and stains for days: gloves and goggles when you wipe the holder. Follow your local codes and the supplier's safety sheet.".into()],
        sources: vec!["A handbook of the wet plate, 1864, p. 158".into(), "common practice".into()],
    }
}

pub(super) fn finding(id: &str, fault: Fault, title: &str, box_mm: [f64; 4]) -> Finding {
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
        figure: None,
    }
}

pub(super) fn findings() -> Vec<Finding> {
    let sign = |name, holds, words: &str| Sign::new(name, holds, words);
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
                sagitta_mm: 0.0,
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

pub(super) fn parts<'a>(
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
        ranked: Ranked {
            per_finding: vec![
            vec![
                cause("A wet holder frame wicks developer back onto the plate along its upper edge while the slide is drawn", Side::Handling, 0.58),
                cause("Light enters under the dark slide", Side::Equipment, 0.21),
                cause("The bath is low in acid", Side::Chemistry, 0.09),
            ],
            vec![cause("The bath is low in acid", Side::Chemistry, 0.44)],
            vec![cause("A hole in the holder", Side::Equipment, 0.8)],
            vec![cause("Dust in the bath, not filtered for many plates", Side::Chemistry, 0.7)],
        ],
            rest: vec![Rest { other_causes: 0.1, none_of_these: 0.02 }; 4],
            plate: vec![
            cause("A wet holder frame", Side::Handling, 0.61),
            cause("The bath is low in acid", Side::Chemistry, 0.3),
        ],
            check_next: Some(NextCheck {
                check: "blank_in_the_dark".into(),
                words: "Make a blank: pour, dip, leave the plate in the closed holder for three minutes, develop and fix it without exposing it".into(),
                yes: "the same edge is fogged".into(),
                gain_bits: 0.83,
                minutes: 10.0,
                silver_g: 0.21,
                for_causes: vec!["a_wet_holder_frame".into()],
                cautions: vec!["Silver nitrate burns eyes and skin: gloves and goggles at every dip. Follow your local codes and the supplier's safety sheet.".into()],
            }),
        },
        looked_for: &[Fault::Veil, Fault::EdgeFog, Fault::LightLeak, Fault::Comets],
        cannot_tell,
        settings: serde_json::json!({"scan": {"working_dpi": 600.0, "encoding": "srgb"}}),
    }
}

/// A plate with everything on it.
pub(super) fn full_report(file: &str, scale_source: ScaleSource) -> Report {
    let handling = Handling {
        dip_axis_deg: Some(0.0),
        developer_direction_deg: Some(90.0),
        drain_corner: Some(Corner::BottomRight),
        source: HandlingSource::CommandLine,
        ..Handling::default()
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
pub(super) fn clean_report(file: &str) -> Report {
    let (scan, plate, tone) = (scan(file), plate(ScaleSource::FileTag), tone());
    let handling = Handling {
        source: HandlingSource::CommandLine,
        ..Handling::default()
    };
    Report::assemble(Parts {
        ranked: Ranked {
            per_finding: Vec::new(),
            rest: Vec::new(),
            plate: Vec::new(),
            check_next: None,
        },
        ..parts(&scan, &plate, &handling, &tone, &[], &[], &[])
    })
}

/// One finding of every fault, spread over a plate lying on its side.
pub(super) fn every_fault() -> Report {
    let mut plate = plate(ScaleSource::FileTag);
    (plate.width_mm, plate.height_mm) = (HEIGHT_MM, WIDTH_MM);
    let (scan, tone) = (
        scan(&format!("{}.tif", "a_very_long_name_".repeat(8))),
        tone(),
    );
    let mark = |x: f64, y: f64| Mark {
        box_mm: [x - 0.5, y - 0.5, x + 0.5, y + 0.5],
        centre_mm: [x, y],
        size_mm: 0.8,
        length_mm: Some(18.0),
        direction_deg: None,
        axis_deg: Some(12.0),
        sagitta_mm: 0.0,
        contrast_d: 0.1,
        expected_false_alarms: 0.01,
    };
    let findings: Vec<Finding> = Fault::ALL
        .iter()
        .enumerate()
        .map(|(i, fault)| {
            let (x, y) = (4.0 + (i % 6) as f64 * 11.0, 6.0 + (i / 6) as f64 * 18.0);
            let members = match fault {
                Fault::Pinholes | Fault::Specks | Fault::ScanDust | Fault::Streaks => {
                    Some(vec![mark(x + 3.0, y + 3.0), mark(x + 7.0, y + 6.0)])
                }
                _ => None,
            };
            Finding {
                place: (*fault == Fault::EdgeFog).then(|| "left".to_owned()),
                measured: vec![("depth_mm", Reading::new(5.0, 1.0))],
                members,
                axis_deg: matches!(fault, Fault::Ridges | Fault::DipLine).then_some(70.0),
                direction_deg: (*fault == Fault::UnevenPour).then_some(220.0),
                ..finding(
                    &format!("f{}", i + 1),
                    *fault,
                    fault.short(),
                    [x, y, x + 10.0, y + 8.0],
                )
            }
        })
        .collect();
    let handling = Handling {
        source: HandlingSource::Sheet,
        ..Handling::default()
    };
    Report::assemble(parts(&scan, &plate, &handling, &tone, &[], &findings, &[]))
}

/// The picture turned a quarter.
pub(super) fn lying() -> Grid<[u16; 3]> {
    picture().reversed_axes().as_standard_layout().into_owned()
}
