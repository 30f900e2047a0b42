//! Made-up plates: are they what their truth says, and the same every time?

use std::collections::BTreeSet;
use std::path::Path;

use oystermark::plate::{Edge, PlateKind, Process};
use oystermark::practice::accuracy::{Accuracy, Design};
use oystermark::practice::score::{Verdict, score};
use oystermark::practice::{
    Coding, Crop, FaultWish, FileFormat, Lid, Planted, PracticeError, PracticePlate, Recipe,
    SceneName, TagState, Wish, write_samples,
};
use serde_json::{Value, json};

mod marks;
mod whole;

/// A small plate of plain making: positive on glass, white lid, 16-bit grey linear TIFF.
fn plain(seed: u64, faults: Vec<FaultWish>, scene: SceneName) -> Recipe {
    let wish = Wish {
        faults,
        process: Some(Process::PositiveOnGlass),
        scene: Some(scene),
        crop: Some(Crop::Margin),
        dpi: Some(150.0),
        size_name: Some("ninth"),
        format: Some(FileFormat::Tiff),
        ..Wish::default()
    };
    let mut recipe = Recipe::random(seed, "plain", &wish);
    let scan = &mut recipe.scan;
    (scan.bits, scan.channels, scan.encoding, scan.icc) = (16, 1, Coding::Linear, true);
    (scan.lid, scan.lid_light) = (Lid::White, 0.85);
    (scan.dust_specks, scan.dust_fibres) = (0, 0);
    recipe
}

/// A decoded grey or colour file as linear luminance, row by row.
struct Decoded {
    width: usize,
    light: Vec<f64>,
}

impl Decoded {
    /// Decodes with the `image` or `tiff` crate and undoes the coding by its standard's formula.
    fn of(plate: &PracticePlate) -> Decoded {
        let scan = &plate.recipe.scan;
        let channels = usize::from(scan.channels);
        let (width, codes): (usize, Vec<f64>) = if scan.format == FileFormat::Tiff {
            let mut decoder =
                tiff::decoder::Decoder::new(std::io::Cursor::new(&plate.file)).unwrap();
            let width = decoder.dimensions().unwrap().0 as usize;
            let codes = match decoder.read_image().unwrap() {
                tiff::decoder::DecodingResult::U8(v) => {
                    v.into_iter().map(|c| f64::from(c) / 255.0).collect()
                }
                tiff::decoder::DecodingResult::U16(v) => {
                    v.into_iter().map(|c| f64::from(c) / 65_535.0).collect()
                }
                _ => panic!("only 8 and 16 bits are painted"),
            };
            (width, codes)
        } else {
            let picture = image::load_from_memory(&plate.file).unwrap();
            let width = picture.width() as usize;
            let codes = if channels == 1 {
                picture.to_luma16().into_raw()
            } else {
                picture.to_rgb16().into_raw()
            };
            (
                width,
                codes.into_iter().map(|c| f64::from(c) / 65_535.0).collect(),
            )
        };
        let linear = |code: f64| match scan.encoding {
            Coding::Srgb if code <= 0.040_45 => code / 12.92,
            Coding::Srgb => ((code + 0.055) / 1.055).powf(2.4),
            Coding::Adobe | Coding::Gamma22 => code.powf(563.0 / 256.0),
            Coding::Linear => code,
        };
        // Luminance weights of sRGB (IEC 61966-2-1) and of Adobe RGB (1998), 4.3.6.
        let luma = match (channels, scan.encoding) {
            (1, _) => vec![1.0],
            (_, Coding::Adobe) => vec![0.297_34, 0.627_36, 0.075_29],
            _ => vec![0.212_6, 0.715_2, 0.072_2],
        };
        let light = codes
            .chunks(channels)
            .map(|pixel| pixel.iter().zip(&luma).map(|(c, w)| linear(*c) * w).sum())
            .collect();
        Decoded { width, light }
    }

    fn at(&self, x: f64, y: f64) -> f64 {
        self.light[y as usize * self.width + x as usize]
    }
}

fn truth_of(plate: &PracticePlate) -> &Value {
    &plate.truths[0].1
}

/// Carries plate millimetres to file pixels by the truth's own map.
fn to_px(truth: &Value, x: f64, y: f64) -> [f64; 2] {
    let m = |r: usize, c: usize| {
        truth["plate"]["homography_mm_to_px"][r][c]
            .as_f64()
            .unwrap()
    };
    let w = m(2, 0) * x + m(2, 1) * y + m(2, 2);
    [
        (m(0, 0) * x + m(0, 1) * y + m(0, 2)) / w,
        (m(1, 0) * x + m(1, 1) * y + m(1, 2)) / w,
    ]
}

/// Densities at places `step` millimetres apart over a box in plate millimetres.
fn densities(file: &Decoded, truth: &Value, over: [f64; 4], step: f64) -> Vec<f64> {
    let mut all = Vec::new();
    let mut y = over[1];
    while y < over[3] {
        let mut x = over[0];
        while x < over[2] {
            let [px, py] = to_px(truth, x, y);
            all.push(-file.at(px, py).max(1e-6).log10());
            x += step;
        }
        y += step;
    }
    all
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

fn number(truth: &Value, path: &str) -> f64 {
    truth
        .pointer(path)
        .and_then(Value::as_f64)
        .unwrap_or_else(|| panic!("{path}"))
}

#[test]
fn the_same_recipe_gives_the_same_bytes_on_any_number_of_threads() {
    let recipe = plain(3, vec![FaultWish::LightLeak(3)], SceneName::Portrait);
    let paint = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| PracticePlate::paint(&recipe).unwrap())
    };
    let (one, three) = (paint(1), paint(3));
    assert!(one.file == three.file && one.truths == three.truths);
    let other = PracticePlate::paint(&Recipe {
        seed: 4,
        ..recipe.clone()
    })
    .unwrap();
    assert!(one.file != other.file);
}

#[test]
fn a_recipe_survives_its_json() {
    let recipe = plain(
        5,
        vec![FaultWish::EdgeFog(2), FaultWish::Veil(2)],
        SceneName::Woods,
    );
    let text = serde_json::to_string(&recipe).unwrap();
    assert_eq!(Recipe::from_json(&text).unwrap(), recipe);
}

/// Makes a good recipe bad.
type Spoil = fn(&mut Recipe);

#[test]
fn recipes_that_cannot_be_painted_are_refused_in_words() {
    let good = plain(1, vec![FaultWish::EdgeFog(2)], SceneName::Street);
    let spoil: [(&str, Spoil); 8] = [
        ("schema", |r| r.schema = "something/2".into()),
        ("name", |r| r.name = "../away".into()),
        ("scan.dpi", |r| r.scan.dpi = f64::NAN),
        ("megapixels", |r| r.scan.dpi = 4800.0),
        ("JPEG", |r| r.scan.format = FileFormat::Jpeg),
        ("plates", |r| r.plates.clear()),
        ("unexposed_d", |r| r.plates[0].tone.unexposed_d = 0.1),
        ("depth_mm", |r| {
            if let Some(Planted::EdgeFog { depth_mm, .. }) = r.plates[0].faults.first_mut() {
                *depth_mm = -1.0;
            }
        }),
    ];
    for (word, spoil) in spoil {
        let mut recipe = good.clone();
        spoil(&mut recipe);
        match PracticePlate::paint(&recipe) {
            Err(error @ PracticeError::Recipe(_)) => {
                assert!(error.to_string().contains(word), "{word}: {error}");
            }
            other => panic!("{word}: {other:?}"),
        }
    }
}

#[test]
fn every_coding_and_format_decodes_to_the_light_that_was_painted() {
    let mut decoded = 0;
    for (format, bits, channels) in [
        (FileFormat::Tiff, 16, 1),
        (FileFormat::Tiff, 8, 3),
        (FileFormat::Png, 8, 1),
        (FileFormat::Png, 16, 3),
        (FileFormat::Jpeg, 8, 3),
        (FileFormat::Jpeg, 8, 1),
    ] {
        for encoding in [Coding::Srgb, Coding::Adobe, Coding::Gamma22, Coding::Linear] {
            if encoding == Coding::Linear && bits == 8 {
                continue;
            }
            let mut recipe = plain(8, vec![], SceneName::Portrait);
            let scan = &mut recipe.scan;
            (scan.format, scan.bits, scan.channels, scan.encoding) =
                (format, bits, channels, encoding);
            let plate = PracticePlate::paint(&recipe).unwrap();
            let truth = truth_of(&plate);
            let (w, h) = (
                number(truth, "/plate/width_mm"),
                number(truth, "/plate/height_mm"),
            );
            let file = Decoded::of(&plate);
            // A millimetre inside the outline, all over.
            let inside = densities(&file, truth, [1.0, 1.0, w - 1.0, h - 1.0], 0.2);
            let error = median(inside) - number(truth, "/density/scanned/p50");
            assert!(
                error.abs() < 0.02,
                "{format:?} {bits} {channels} {encoding:?}: {error}"
            );
            decoded += 1;
        }
    }
    assert_eq!(decoded, 20);
}

#[test]
fn profiles_say_how_the_file_is_coded() {
    for (channels, encoding) in [
        (1, Coding::Srgb),
        (1, Coding::Gamma22),
        (1, Coding::Linear),
        (3, Coding::Srgb),
        (3, Coding::Adobe),
        (3, Coding::Linear),
    ] {
        let mut recipe = plain(2, vec![], SceneName::Even);
        (recipe.scan.channels, recipe.scan.encoding) = (channels, encoding);
        let plate = PracticePlate::paint(&recipe).unwrap();
        let mut decoder = tiff::decoder::Decoder::new(std::io::Cursor::new(&plate.file)).unwrap();
        let bytes = decoder.get_tag_u8_vec(tiff::tags::Tag::IccProfile).unwrap();
        let profile = moxcms::ColorProfile::new_from_slice(&bytes).unwrap();
        let curve = if channels == 1 {
            profile.gray_trc
        } else {
            profile.green_trc
        };
        let curve = curve.unwrap();
        let middle = match &curve {
            moxcms::ToneReprCurve::Lut(lut) if lut.is_empty() => 0.5,
            moxcms::ToneReprCurve::Lut(lut) if lut.len() == 1 => {
                0.5_f64.powf(f64::from(lut[0]) / 256.0)
            }
            moxcms::ToneReprCurve::Lut(lut) => f64::from(lut[lut.len() / 2]) / 65_535.0,
            moxcms::ToneReprCurve::Parametric(p) => {
                let p: Vec<f64> = p.iter().map(|v| f64::from(*v)).collect();
                (p[1] * 0.5 + p[2]).powf(p[0])
            }
        };
        let wanted = match encoding {
            Coding::Srgb => ((0.5_f64 + 0.055) / 1.055).powf(2.4),
            Coding::Adobe | Coding::Gamma22 => 0.5_f64.powf(563.0 / 256.0),
            Coding::Linear => 0.5,
        };
        assert!(
            (middle - wanted).abs() < 2e-3,
            "{channels} {encoding:?}: {middle} {wanted}"
        );
    }
}

#[test]
fn resolution_tags_are_what_the_recipe_says() {
    for (state, wanted) in [
        (TagState::Ok, Some(150.0)),
        (TagState::Default72, Some(72.0)),
        (TagState::Absent, None),
    ] {
        let mut recipe = plain(2, vec![], SceneName::Even);
        recipe.scan.dpi_tag = state;
        let plate = PracticePlate::paint(&recipe).unwrap();
        let mut decoder = tiff::decoder::Decoder::new(std::io::Cursor::new(&plate.file)).unwrap();
        let unit = decoder
            .get_tag_u32(tiff::tags::Tag::ResolutionUnit)
            .unwrap();
        assert_eq!(unit == 2, wanted.is_some());
        if let Some(wanted) = wanted {
            let stated = decoder.get_tag(tiff::tags::Tag::XResolution).unwrap();
            let tiff::decoder::ifd::Value::Rational(n, d) = stated else {
                panic!("{stated:?}");
            };
            assert_eq!(f64::from(n) / f64::from(d), wanted);
        }
        recipe.scan.format = FileFormat::Png;
        let plate = PracticePlate::paint(&recipe).unwrap();
        let png = png::Decoder::new(std::io::Cursor::new(&plate.file))
            .read_info()
            .unwrap();
        let stated = png
            .info()
            .pixel_dims
            .map(|d| (f64::from(d.xppu) * 0.0254).round());
        assert_eq!(stated, wanted);
    }
}

#[test]
fn the_outline_lies_where_the_truth_says() {
    let mut recipe = plain(21, vec![], SceneName::Portrait);
    (recipe.scan.flare, recipe.scan.dpi) = (0.0, 400.0);
    recipe.plates[0].corners = oystermark::practice::Corners::Square;
    let plate = PracticePlate::paint(&recipe).unwrap();
    let (truth, file) = (truth_of(&plate), Decoded::of(&plate));
    let (w, h) = (
        number(truth, "/plate/width_mm"),
        number(truth, "/plate/height_mm"),
    );
    for edge in Edge::ALL {
        // Light across the edge, at many places along it; half way between lid and plate.
        let mut crossings = Vec::new();
        for i in 20..80 {
            let along = f64::from(i) / 100.0;
            let point = |out: f64| match edge {
                Edge::Top => to_px(truth, along * w, -out),
                Edge::Right => to_px(truth, w + out, along * h),
                Edge::Bottom => to_px(truth, along * w, h + out),
                Edge::Left => to_px(truth, -out, along * h),
            };
            let light = |out: f64| {
                let [x, y] = point(out);
                file.at(x, y)
            };
            let half = 0.5 * (light(0.6) + light(-0.6));
            let crossing = (-60..60)
                .map(|k| f64::from(k) * 0.01)
                .find(|out| light(*out) > half);
            crossings.push(crossing.unwrap_or(0.6));
        }
        let mean = crossings.iter().sum::<f64>() / crossings.len() as f64;
        // The plate's shadow on the lid draws the half-way point outward a little.
        assert!(mean.abs() < 0.04, "{edge:?}: {mean}");
    }
}

#[test]
fn the_file_holds_the_fog_that_the_truth_states() {
    for (seed, process) in [
        (31, Process::PositiveOnMetal),
        (32, Process::NegativeOnGlass),
    ] {
        let mut fogged = plain(seed, vec![], SceneName::Blank);
        let wish = Wish {
            process: Some(process),
            kind: Some(PlateKind::Blank),
            crop: Some(Crop::Margin),
            ..Wish::default()
        };
        let donor = Recipe::random(seed, "donor", &wish);
        fogged.plates[0].process = process;
        fogged.plates[0].kind = PlateKind::Blank;
        fogged.plates[0].tone = donor.plates[0].tone.clone();
        fogged.plates[0].rim_mm = [0.0; 4];
        fogged.scan.flare = 0.0;
        if process == Process::NegativeOnGlass {
            (fogged.scan.lid, fogged.scan.lid_light) = (Lid::Lit, 1.0);
        }
        let height = fogged.plates[0].height_mm;
        fogged.plates[0].faults = vec![Planted::EdgeFog {
            level: 3,
            edge: Edge::Left,
            fog_d: 0.3,
            depth_mm: 6.0,
            from_mm: 0.0,
            to_mm: height,
        }];
        let mut clean = fogged.clone();
        clean.plates[0].faults.clear();
        let fogged = PracticePlate::paint(&fogged).unwrap();
        let clean = PracticePlate::paint(&clean).unwrap();
        let truth = truth_of(&fogged);
        let (with, without) = (Decoded::of(&fogged), Decoded::of(&clean));
        for distance in [1.0, 6.0, 12.0] {
            let strip = [distance - 0.3, 4.0, distance + 0.3, height - 4.0];
            let change = median(densities(&with, truth, strip, 0.15))
                - median(densities(&without, truth, strip, 0.15));
            let wanted = number(truth, "/faults/0/measured/fog_d") * (-distance / 6.0_f64).exp();
            let sign = if process.is_positive() { -1.0 } else { 1.0 };
            assert!(
                (sign * change - wanted).abs() < 0.1 * wanted + 0.006,
                "{process:?} at {distance} mm: {change} for {wanted}"
            );
        }
    }
}

#[test]
fn fog_fades_in_the_lights_of_a_positive() {
    let mut recipe = plain(44, vec![FaultWish::Veil(3)], SceneName::BrightPortrait);
    recipe.plates[0].rim_mm = [0.6; 4];
    let plate = PracticePlate::paint(&recipe).unwrap();
    let veil = &truth_of(&plate)["faults"][0]["measured"];
    let (nominal, seen) = (&veil["veil_d"], &veil["veil_d_on_picture"]);
    assert!(
        seen.as_f64().unwrap() < 0.5 * nominal.as_f64().unwrap(),
        "{veil}"
    );
}

#[test]
fn a_scan_cropped_inside_the_plate_calls_the_visible_piece_the_plate() {
    let wish = Wish {
        crop: Some(Crop::Inside),
        faults: vec![FaultWish::Veil(3)],
        bare_rim: true,
        dpi: Some(150.0),
        size_name: Some("sixth"),
        process: Some(Process::PositiveOnMetal),
        ..Wish::default()
    };
    let plate = PracticePlate::paint(&Recipe::random(6, "inside", &wish)).unwrap();
    let truth = truth_of(&plate);
    assert!(number(truth, "/plate/width_mm") < number(truth, "/plate/true_width_mm"));
    assert_eq!(
        truth["plate"]["corners_px"][2][0].as_f64(),
        truth["scan"]["width_px"].as_f64()
    );
    // The rim is cut away, and with it what the veil could be told by.
    assert_eq!(truth["faults"][0]["findable"], json!(false));
}

#[test]
fn samples_are_painted_again_byte_for_byte() {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let dir = tempfile::tempdir().unwrap();
    let paths = write_samples(dir.path()).unwrap();
    assert_eq!(paths.len(), 29);
    let about = std::fs::read_to_string(samples.join("README.md")).unwrap();
    let mut bytes = 0;
    for path in &paths {
        let name = path.file_name().unwrap().to_str().unwrap();
        let fresh = std::fs::read(path).unwrap();
        bytes += fresh.len();
        assert!(
            fresh == std::fs::read(samples.join(name)).unwrap(),
            "{name} differs"
        );
        let scan = !name.ends_with(".json");
        assert!(
            !scan || about.contains(name),
            "samples/README.md does not mention {name}"
        );
    }
    assert!(bytes < 6_000_000);
}

#[test]
fn accuracy_is_whole_with_a_perfect_reader_and_nothing_with_a_mute_one() {
    let mut design = Design::short(1);
    for entry in &mut design.entries {
        // Marks are too fine for the coarsest scans.
        let fine = entry.name.as_str() > "short-024";
        let dpi = if fine { 400.0 } else { 120.0 };
        (entry.wish.dpi, entry.wish.size_name) = (Some(dpi), Some("ninth"));
    }
    let dir = tempfile::tempdir().unwrap();
    // Says what the truth says, and no more than can be found.
    let perfect = |path: &Path, second: Option<&Path>, recipe: &Recipe| {
        assert!(path.exists() && second.is_none());
        let plate = PracticePlate::paint(recipe).unwrap();
        let truth = truth_of(&plate);
        let findings: Vec<Value> = truth["faults"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|fault| fault["findable"] == json!(true))
            .map(|fault| {
                let mut finding = fault.clone();
                finding["confidence"] = json!(1.0);
                finding
            })
            .collect();
        vec![json!({"plate": truth["plate"], "findings": findings,
                    "scan": {"dpi_x": recipe.scan.dpi}})]
    };
    let whole = Accuracy::measure(&design, dir.path(), &perfect).unwrap();
    let mute = Accuracy::measure(&design, dir.path(), &|_, _, _| Vec::new()).unwrap();
    for fault in [
        "veil",
        "edge_fog",
        "light_leak",
        "comets",
        "pinholes",
        "specks",
    ] {
        assert_eq!(whole.f1(fault), Some((1.0, 1.0)), "{fault}");
        assert_eq!(mute.f1(fault), Some((0.0, 0.0)), "{fault}");
    }
    assert_eq!(whole.false_per_clean_plate(), Some(0.0));
    assert!(
        whole
            .plates
            .iter()
            .all(|plate| plate.corners_mm == Some([0.0; 4]))
    );
    let table = whole.table();
    for words in [
        "Faults found",
        "Recall by strength",
        "Clean plates",
        "Corners",
        "Confidence",
    ] {
        assert!(table.contains(words), "{words}");
    }
    assert_eq!(
        table,
        Accuracy::measure(&design, dir.path(), &perfect)
            .unwrap()
            .table()
    );
    assert_eq!(
        std::fs::read_dir(dir.path()).unwrap().count(),
        0,
        "scans are left behind"
    );
}

#[test]
fn accuracy_with_a_turned_scan_hands_on_both_scans_and_leaves_none() {
    let mut design = Design::marks_turned(1);
    design.entries.truncate(2);
    for entry in &mut design.entries {
        (entry.wish.dpi, entry.wish.size_name) = (Some(120.0), Some("ninth"));
    }
    let dir = tempfile::tempdir().unwrap();
    let both = |path: &Path, second: Option<&Path>, _: &Recipe| {
        let second = second.unwrap();
        assert!(path.exists() && second.exists());
        assert_ne!(std::fs::read(path).unwrap(), std::fs::read(second).unwrap());
        Vec::new()
    };
    let measured = Accuracy::measure(&design, dir.path(), &both).unwrap();
    assert_eq!(measured.plates.len(), 2);
    assert!(measured.table().contains("scanned twice"));
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
}

#[test]
fn several_plates_on_one_glass_have_a_truth_each() {
    let wish = |fault: Option<FaultWish>| Wish {
        faults: fault.into_iter().collect(),
        dpi: Some(120.0),
        size_name: Some("ninth"),
        ..Wish::default()
    };
    let wishes = [wish(None), wish(Some(FaultWish::LightLeak(4))), wish(None)];
    let plate = PracticePlate::paint(&Recipe::on_one_glass(9, "evening", &wishes)).unwrap();
    let stems: Vec<&str> = plate.truths.iter().map(|(stem, _)| stem.as_str()).collect();
    assert_eq!(stems, ["evening-1", "evening-2", "evening-3"]);
    let clean: Vec<bool> = plate
        .truths
        .iter()
        .map(|(_, t)| t["clean"] == json!(true))
        .collect();
    assert_eq!(clean, [true, false, true]);
    let left = |i: usize| number(&plate.truths[i].1, "/plate/corners_px/0/0");
    let right = |i: usize| number(&plate.truths[i].1, "/plate/corners_px/1/0");
    assert!(right(0) < left(1) && right(1) < left(2));
}

/// Names of all fields below a value, as paths.
fn fields(value: &Value, path: &str, into: &mut BTreeSet<String>) {
    if let Value::Object(map) = value {
        for (name, value) in map {
            let path = format!("{path}/{name}");
            fields(value, &path, into);
            into.insert(path);
        }
    }
}

#[test]
fn truths_have_the_fields_of_the_open_plates_and_score_like_them() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/open-plates");
    let Ok(entries) = std::fs::read_dir(&folder) else {
        eprintln!("skipped: no open plates beside the checkout");
        return;
    };
    let ours =
        PracticePlate::paint(&plain(2, vec![FaultWish::Veil(2)], SceneName::Street)).unwrap();
    let mut have = BTreeSet::new();
    fields(truth_of(&ours), "", &mut have);
    let mut read = 0;
    for entry in entries.flatten() {
        let path = entry.path();
        if !path.to_string_lossy().ends_with(".truth.json") {
            continue;
        }
        let truth: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
        let mut wanted = BTreeSet::new();
        for part in ["scan", "plate", "density", "natural"] {
            fields(&truth[part], &format!("/{part}"), &mut wanted);
        }
        // What a ledge holds depends on whether there is one.
        let missing: Vec<&String> = wanted
            .difference(&have)
            .filter(|name| !name.starts_with("/plate/ledge/"))
            .collect();
        assert!(missing.is_empty(), "{}: {missing:?}", path.display());
        // A report that repeats the truth finds everything, all of it right.
        let scored = score(Some(&json!({"findings": truth["faults"]})), &truth);
        assert!(
            scored.faults.iter().all(|fault| fault.found),
            "{}",
            path.display()
        );
        assert!(scored.findings.iter().all(|f| f.verdict == Verdict::Right));
        read += 1;
    }
    assert!(read > 0, "the folder of open plates holds no truth");
}
