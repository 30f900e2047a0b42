//! Planted marks, turned pairs and dust: is the file what the truth says?

use oystermark::plate::{Edge, PlateKind, Process};
use oystermark::practice::score::{Verdict, score};
use oystermark::practice::{
    CometsRecipe, ContraryHeads, FaultWish, Glass, Lid, MarkSign, PinholesRecipe, Planted,
    PracticeError, PracticePlate, Recipe, Scatter, SceneName, SpeckBody, SpecksRecipe, Wish,
};
use serde_json::{Value, json};

use super::{Decoded, number, plain, to_px, truth_of};

/// A smooth plate without grain, noise, blur and flare, where a mark stands alone.
fn smooth(process: Process, kind: PlateKind, fault: Planted) -> Recipe {
    let scene = match kind {
        PlateKind::Blank => SceneName::Blank,
        _ => SceneName::Even,
    };
    let mut recipe = plain(71, vec![], scene);
    let wish = Wish {
        process: Some(process),
        kind: Some(kind),
        ..Wish::default()
    };
    let donor = Recipe::random(71, "donor", &wish).plates[0].clone();
    let plate = &mut recipe.plates[0];
    (plate.process, plate.kind, plate.tone) = (process, kind, donor.tone);
    (plate.rim_mm, plate.lip, plate.ledge) = ([0.0; 4], None, None);
    let texture = &mut plate.texture;
    (texture.pour_d, texture.cloud_d, texture.grain_d) = (0.0, 0.0, 0.0);
    (texture.mottle_d, texture.support_d, texture.specks) = (0.0, 0.0, 0);
    plate.faults = vec![fault];
    let scan = &mut recipe.scan;
    (scan.dpi, scan.blur_px, scan.flare, scan.gain) = (800.0, 0.0, 0.0, 1.0);
    (scan.shot, scan.read, scan.columns) = (0.0, 0.0, 0.0);
    (scan.falloff, scan.sharpen) = (0.0, 0.0);
    if process == Process::NegativeOnGlass {
        (scan.lid, scan.lid_light) = (Lid::Lit, 1.0);
    }
    recipe
}

fn pinholes(level: u8, count: u32) -> Planted {
    Planted::Pinholes(PinholesRecipe {
        level,
        count,
        scatter: Scatter::Spread,
        size_mm: 0.4,
        open: 0.8,
        size_spread: 0.25,
        strength_spread: 0.1,
    })
}

fn specks(body: SpeckBody) -> Planted {
    Planted::Specks(SpecksRecipe {
        level: 3,
        count: 12,
        scatter: Scatter::Spread,
        body,
        cover: 0.8,
        size_mm: 0.4,
        size_spread: 0.25,
        strength_spread: 0.1,
    })
}

fn comets(both_ways: bool) -> CometsRecipe {
    CometsRecipe {
        level: 3,
        count: 14,
        scatter: Scatter::Spread,
        sign: MarkSign::MoreSilver,
        strength: 0.4,
        head_mm: 0.35,
        tail_mm: 6.0,
        tail_share: 0.5,
        direction_deg: 70.0,
        spread_deg: 6.0,
        both_ways,
        size_spread: 0.2,
        strength_spread: 0.1,
        contrary: None,
    }
}

fn members(truth: &Value) -> &Vec<Value> {
    truth["faults"][0]["members"].as_array().unwrap()
}

/// Change of density between two files at plate millimetres, read at the nearest pixel.
fn change(with: &Decoded, without: &Decoded, truth: &Value, x: f64, y: f64) -> f64 {
    let [px, py] = to_px(truth, x, y);
    let d = |file: &Decoded| -file.at(px, py).max(1e-6).log10();
    d(with) - d(without)
}

#[test]
fn the_file_holds_the_size_contrast_and_sign_that_the_truth_states() {
    let cases = [
        (
            Process::PositiveOnGlass,
            PlateKind::Flat,
            pinholes(3, 12),
            "less_silver",
        ),
        (
            Process::NegativeOnGlass,
            PlateKind::Flat,
            pinholes(3, 12),
            "less_silver",
        ),
        (
            Process::PositiveOnMetal,
            PlateKind::Blank,
            specks(SpeckBody::Silver(0.4)),
            "more_silver",
        ),
        (
            Process::NegativeOnGlass,
            PlateKind::Blank,
            specks(SpeckBody::Silver(0.4)),
            "more_silver",
        ),
        (
            Process::PositiveOnMetal,
            PlateKind::Flat,
            specks(SpeckBody::Matter(2.0)),
            "less_silver",
        ),
        (
            Process::NegativeOnGlass,
            PlateKind::Flat,
            specks(SpeckBody::Matter(2.5)),
            "more_silver",
        ),
        (
            Process::PositiveOnGlass,
            PlateKind::Blank,
            Planted::Comets(comets(false)),
            "more_silver",
        ),
    ];
    for (process, kind, fault, polarity) in cases {
        let marked = smooth(process, kind, fault);
        let mut bare = marked.clone();
        bare.plates[0].faults.clear();
        let marked = PracticePlate::paint(&marked).unwrap();
        let bare = PracticePlate::paint(&bare).unwrap();
        let truth = truth_of(&marked);
        let (with, without) = (Decoded::of(&marked), Decoded::of(&bare));
        let name = format!("{process:?} {:?}", truth["faults"][0]["fault"]);
        assert_eq!(truth["faults"][0]["polarity"], json!(polarity), "{name}");
        let marks = members(truth);
        assert!(marks.len() >= 12, "{name}");
        let mut checked = 0;
        for mark in marks {
            let (x, y) = (number(mark, "/centre_mm/0"), number(mark, "/centre_mm/1"));
            let (size, contrast) = (number(mark, "/size_mm"), number(mark, "/contrast_d"));
            let alone = marks.iter().all(|other| {
                let [ox, oy] = [number(other, "/centre_mm/0"), number(other, "/centre_mm/1")];
                std::ptr::eq(mark, other) || (ox - x).hypot(oy - y) > 1.2
            });
            // Another comet's tail may cross; a tail of its own adds to the head's area.
            if !alone || mark["length_mm"].is_number() {
                let middle = change(&with, &without, truth, x, y).abs();
                assert!(middle > 0.6 * contrast, "{name}: {middle} for {contrast}");
                checked += usize::from(mark["length_mm"].is_number());
                continue;
            }
            let step = 0.02;
            let mut changes = Vec::new();
            for row in -25..=25 {
                for column in -25..=25 {
                    let at = (x + step * f64::from(column), y + step * f64::from(row));
                    changes.push(change(&with, &without, truth, at.0, at.1));
                }
            }
            let peak = changes
                .iter()
                .copied()
                .fold(0.0, |a: f64, b| if b.abs() > a.abs() { b } else { a });
            let core: Vec<f64> = changes
                .iter()
                .copied()
                .filter(|c| c / peak >= 0.5)
                .collect();
            let area = core.len() as f64 * step * step;
            let measured = (4.0 * area / std::f64::consts::PI).sqrt();
            let mean = core.iter().sum::<f64>() / core.len() as f64;
            // Silver in density is not quite even in the share of the mark, so half height differs.
            assert!(
                (measured / size - 1.0).abs() < 0.12,
                "{name}: {measured} mm for {size}"
            );
            assert!(
                (mean.abs() / contrast - 1.0).abs() < 0.12,
                "{name}: {mean} D for {contrast}"
            );
            let lighter = mean < 0.0;
            assert_eq!(
                lighter == process.is_positive(),
                polarity == "more_silver",
                "{name}"
            );
            checked += 1;
        }
        assert!(checked >= 6, "{name}: {checked}");
    }
}

#[test]
fn comets_of_both_signs_say_so() {
    let contrary = Some(ContraryHeads {
        share: 0.4,
        strength: 0.7,
    });
    let mixed = smooth(
        Process::PositiveOnGlass,
        PlateKind::Flat,
        Planted::Comets(CometsRecipe {
            contrary,
            ..comets(false)
        }),
    );
    let plate = PracticePlate::paint(&mixed).unwrap();
    let truth = truth_of(&plate);
    assert_eq!(truth["faults"][0]["polarity"], json!("mixed"));
    let of = |sign: &str| {
        let marks = members(truth).iter();
        marks.filter(|mark| mark["polarity"] == json!(sign)).count()
    };
    assert!(of("more_silver") > of("less_silver") && of("less_silver") >= 2);
}

#[test]
fn tails_lie_where_the_truth_says_and_fade() {
    let marked = smooth(
        Process::NegativeOnGlass,
        PlateKind::Blank,
        Planted::Comets(CometsRecipe {
            count: 5,
            ..comets(false)
        }),
    );
    let mut bare = marked.clone();
    bare.plates[0].faults.clear();
    let marked = PracticePlate::paint(&marked).unwrap();
    let bare = PracticePlate::paint(&bare).unwrap();
    let truth = truth_of(&marked);
    let (with, without) = (Decoded::of(&marked), Decoded::of(&bare));
    for mark in members(truth) {
        let (x, y) = (number(mark, "/centre_mm/0"), number(mark, "/centre_mm/1"));
        let (ex, ey) = (
            number(mark, "/tail_end_mm/0"),
            number(mark, "/tail_end_mm/1"),
        );
        let length = number(mark, "/length_mm");
        assert!(((ex - x).hypot(ey - y) - length).abs() < 1e-3);
        let turn = (ex - x).atan2(-(ey - y)).to_degrees().rem_euclid(360.0);
        assert!((turn - number(mark, "/direction_deg")).abs() < 1e-2);
        assert!((turn - 70.0).abs() < 40.0);
        // Strongest change across the tail at a share of its length; it may bend a little.
        let across = |share: f64| {
            (-30..=30)
                .map(|k| {
                    let off = 0.01 * f64::from(k) * length / 5.0;
                    let at = [x + share * (ex - x), y + share * (ey - y)];
                    let (nx, ny) = ((ey - y) / length, -(ex - x) / length);
                    change(&with, &without, truth, at[0] + off * nx, at[1] + off * ny)
                })
                .fold(0.0, f64::max)
        };
        let contrast = number(mark, "/contrast_d");
        assert!(across(0.25) > 0.15 * contrast, "{}", across(0.25));
        assert!(across(0.25) > across(0.8));
        assert!(across(1.1) < 0.05 * contrast);
    }
    let common = &truth["faults"][0];
    assert!((number(common, "/direction_deg") - 70.0).abs() < 10.0);
    assert!(number(common, "/direction_spread_deg") < 15.0 && common["axis_deg"].is_null());
}

#[test]
fn comets_both_ways_share_an_axis() {
    let recipe = smooth(
        Process::PositiveOnGlass,
        PlateKind::Blank,
        Planted::Comets(comets(true)),
    );
    let plate = PracticePlate::paint(&recipe).unwrap();
    let fault = &truth_of(&plate)["faults"][0];
    assert!(fault["direction_deg"].is_null());
    assert!((number(fault, "/axis_deg") - 70.0).abs() < 10.0, "{fault}");
    let back = members(truth_of(&plate))
        .iter()
        .filter(|mark| number(mark, "/direction_deg") > 180.0)
        .count();
    assert!((2..=12).contains(&back), "{back}");
}

#[test]
fn what_no_eye_could_find_is_not_asked_for() {
    // Film that holds no silver shows no hole.
    let blank = smooth(Process::PositiveOnGlass, PlateKind::Blank, pinholes(4, 60));
    let truth = PracticePlate::paint(&blank).unwrap().truths.remove(0).1;
    assert_eq!(truth["faults"][0]["findable"], json!(false));
    // The same holes in silver are found, but not by a scan whose pixels are wider than they.
    let mut flat = smooth(Process::PositiveOnGlass, PlateKind::Flat, pinholes(4, 60));
    flat.scan.dpi = 600.0;
    let truth = PracticePlate::paint(&flat).unwrap().truths.remove(0).1;
    assert_eq!(truth["faults"][0]["findable"], json!(true));
    if let Planted::Pinholes(holes) = &mut flat.plates[0].faults[0] {
        holes.size_mm = 0.05;
    }
    (flat.scan.dpi, flat.scan.blur_px) = (150.0, 0.8);
    let truth = PracticePlate::paint(&flat).unwrap().truths.remove(0).1;
    assert_eq!(truth["faults"][0]["findable"], json!(false));
    let weak = members(&truth)
        .iter()
        .find(|mark| mark["findable"] == json!(true) && number(mark, "/snr") < 6.0);
    assert!(weak.is_none(), "{weak:?}");
}

#[test]
fn the_dust_stays_and_the_plate_turns() {
    let mut recipe = plain(23, vec![FaultWish::Comets(3)], SceneName::Portrait);
    recipe.scan.dpi = 300.0;
    (recipe.scan.dust_specks, recipe.scan.dust_fibres) = (60, 6);
    (recipe.scan.dust_hairs, recipe.scan.dust_flecks) = (2, 4);
    let [first, second] = PracticePlate::paint_pair(&recipe).unwrap();
    assert!(first.file != second.file && second.file_name.contains("-turned"));
    let (one, two) = (truth_of(&first), truth_of(&second));
    let (w, h) = (
        number(one, "/plate/width_mm"),
        number(one, "/plate/height_mm"),
    );
    // Corners are named as they lie, both times.
    for truth in [one, two] {
        let corner =
            |i: usize, axis: usize| number(truth, &format!("/plate/corners_px/{i}/{axis}"));
        assert!(corner(0, 0) < corner(1, 0) && corner(0, 1) < corner(3, 1));
        let [x, y] = to_px(truth, 0.0, 0.0);
        assert!((x - corner(0, 0)).hypot(y - corner(0, 1)) < 0.01);
    }
    // Marks lie on the far side and point the other way; the picture's light agrees.
    for (a, b) in members(one).iter().zip(members(two)) {
        assert!((number(a, "/centre_mm/0") + number(b, "/centre_mm/0") - w).abs() < 1e-3);
        assert!((number(a, "/centre_mm/1") + number(b, "/centre_mm/1") - h).abs() < 1e-3);
        let turn = number(b, "/direction_deg") - number(a, "/direction_deg");
        assert!((turn.rem_euclid(360.0) - 180.0).abs() < 1e-3);
    }
    let (here, there) = (Decoded::of(&first), Decoded::of(&second));
    let mut differ = Vec::new();
    let mut straight = Vec::new();
    for i in 1..40 {
        for j in 1..40 {
            let (x, y) = (w * f64::from(i) / 40.0, h * f64::from(j) / 40.0);
            let d = |file: &Decoded, truth: &Value, x: f64, y: f64| {
                let [px, py] = to_px(truth, x, y);
                -file.at(px, py).max(1e-6).log10()
            };
            let start = d(&here, one, x, y);
            differ.push((start - d(&there, two, w - x, h - y)).abs());
            straight.push((start - d(&there, two, x, y)).abs());
        }
    }
    assert!(
        super::median(differ.clone()) < 0.06,
        "{}",
        super::median(differ.clone())
    );
    assert!(super::median(straight) > 2.0 * super::median(differ));
    // Each piece of dust lies where it lay on the glass.
    let on_glass = |truth: &Value| -> Vec<[f64; 2]> {
        let pieces = truth["dust"].as_array().unwrap();
        let mut places: Vec<[f64; 2]> = pieces
            .iter()
            .filter(|piece| piece["kind"] == "speck")
            .map(|p| to_px(truth, number(p, "/centre_mm/0"), number(p, "/centre_mm/1")))
            .collect();
        places.sort_by(|a, b| a[0].total_cmp(&b[0]));
        places
    };
    let (before, after) = (on_glass(one), on_glass(two));
    assert!(before.len() >= 40 && before.len() == after.len());
    for (a, b) in before.iter().zip(&after) {
        assert!((a[0] - b[0]).hypot(a[1] - b[1]) < 0.6, "{a:?} {b:?}");
    }
    // Without the glass around it a plate cannot be told from its turned self by its place.
    let mut cropped = recipe.turned();
    cropped.scan.crop = oystermark::practice::Crop::Exact;
    assert!(matches!(
        PracticePlate::paint(&cropped),
        Err(PracticeError::Recipe(_))
    ));
}

#[test]
fn glass_goes_from_clean_to_filthy() {
    let dust = |glass: Option<Glass>| {
        let wish = Wish {
            glass,
            ..Wish::default()
        };
        let scan = Recipe::random(5, "glass", &wish).scan;
        scan.dust_specks + scan.dust_fibres + scan.dust_hairs + scan.dust_flecks
    };
    assert!(dust(Some(Glass::Clean)) <= 3);
    assert!(dust(Some(Glass::Clean)) < dust(Some(Glass::Dusty)));
    assert!(dust(Some(Glass::Dusty)) < dust(Some(Glass::Filthy)));
    // A wish for glass leaves the plate as it was.
    let plate = |glass: Option<Glass>| {
        let wish = Wish {
            glass,
            ..Wish::default()
        };
        Recipe::random(5, "glass", &wish).plates
    };
    assert_eq!(plate(None), plate(Some(Glass::Filthy)));
}

#[test]
fn recipes_of_marks_survive_their_json_and_are_checked() {
    let faults = vec![
        FaultWish::Comets(1),
        FaultWish::Pinholes(2),
        FaultWish::Specks(4),
    ];
    let recipe = plain(5, faults, SceneName::Woods);
    let text = serde_json::to_string(&recipe).unwrap();
    assert_eq!(Recipe::from_json(&text).unwrap(), recipe);
    assert!(!text.contains("turned") && !text.contains("dust_hairs"));
    let unknown = text.replacen("head_mm", "heads_mm", 1);
    assert!(Recipe::from_json(&unknown).is_err());
    let mut spoiled = recipe;
    if let Planted::Comets(comets) = &mut spoiled.plates[0].faults[0] {
        comets.tail_mm = -1.0;
    }
    let error = PracticePlate::paint(&spoiled).unwrap_err().to_string();
    assert!(error.contains("tail_mm"), "{error}");
}

#[test]
fn marks_thin_out_from_the_edge_they_crowd_at() {
    let Planted::Pinholes(holes) = pinholes(4, 200) else {
        panic!("pinholes");
    };
    let recipe = smooth(
        Process::PositiveOnGlass,
        PlateKind::Flat,
        Planted::Pinholes(PinholesRecipe {
            scatter: Scatter::Toward(Edge::Left),
            ..holes
        }),
    );
    let mut recipe = recipe;
    recipe.scan.dpi = 200.0;
    let plate = PracticePlate::paint(&recipe).unwrap();
    let truth = truth_of(&plate);
    let half = 0.5 * number(truth, "/plate/width_mm");
    let near = members(truth)
        .iter()
        .filter(|mark| number(mark, "/centre_mm/0") < half)
        .count();
    assert!(near > 140, "{near}");
    assert_eq!(truth["faults"][0]["variant"], json!("toward_left"));
}

#[test]
fn a_report_that_repeats_the_truth_names_every_mark() {
    for fault in [
        FaultWish::Comets(3),
        FaultWish::Pinholes(3),
        FaultWish::Specks(3),
    ] {
        let mut recipe = plain(12, vec![fault], SceneName::Portrait);
        recipe.scan.dpi = 400.0;
        let plate = PracticePlate::paint(&recipe).unwrap();
        let truth = truth_of(&plate);
        let report = json!({"plate": truth["plate"], "findings": truth["faults"]});
        let scored = score(Some(&report), truth);
        assert!(scored.faults[0].found);
        assert_eq!(scored.findings[0].verdict, Verdict::Right);
        let marks = scored.faults[0].marks.as_ref().unwrap();
        assert_eq!(
            (marks.found, marks.reported),
            (marks.planted, marks.planted)
        );
        assert!(marks.direction_off_deg.iter().all(|deg| *deg < 1e-6));
    }
}
