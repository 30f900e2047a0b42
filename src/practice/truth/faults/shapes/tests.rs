//! Each shape on a small plate: is the truth what the recipe meant and the painting shows?

use serde_json::{Value, json};

use crate::handling::Corner;
use crate::plate::{Edge, PlateKind, Process};
use crate::practice::{
    BareAreaRecipe, BarePlace, Brink, Crop, DipLineRecipe, FileFormat, LineRun, Planted, PourForm,
    PracticePlate, Recipe, RidgeForm, RidgesRecipe, ScratchRecipe, StainForm, StainRecipe,
    StreakForm, StreakSign, StreaksRecipe, UnevenPourRecipe, Wish,
};

/// A small plate without border, rim and lip.
fn recipe(process: Process, kind: PlateKind, faults: Vec<Planted>) -> Recipe {
    let wish = Wish {
        process: Some(process),
        kind: Some(kind),
        crop: Some(Crop::Margin),
        dpi: Some(200.0),
        size_name: Some("ninth"),
        format: Some(FileFormat::Png),
        ..Wish::default()
    };
    let mut recipe = Recipe::random(31, "small", &wish);
    let plate = &mut recipe.plates[0];
    (plate.ledge, plate.lip, plate.rim_mm) = (None, None, [0.0; 4]);
    plate.faults = faults;
    recipe
}

fn planted(process: Process, kind: PlateKind, fault: Planted) -> Value {
    let plate = PracticePlate::paint(&recipe(process, kind, vec![fault])).unwrap();
    plate.truths[0].1["faults"][0].clone()
}

fn number(of: &Value, path: &str) -> f64 {
    of.pointer(path).and_then(Value::as_f64).unwrap()
}

const METAL: Process = Process::PositiveOnMetal;
const NEGATIVE: Process = Process::NegativeOnGlass;

fn streaks(form: StreakForm, sign: StreakSign) -> StreaksRecipe {
    StreaksRecipe {
        level: 3,
        form,
        from: Edge::Top,
        count: if form == StreakForm::Dip { 16 } else { 4 },
        sign,
        contrast_d: 0.15,
        width_mm: if form == StreakForm::Dip { 0.6 } else { 2.5 },
        width_spread: 0.2,
        strength_spread: 0.2,
        tilt_deg: 2.0,
        radius_mm: (form == StreakForm::Developer).then_some(300.0),
        fog_share: 0.6,
    }
}

fn line(contrast_d: f64) -> DipLineRecipe {
    DipLineRecipe {
        level: 3,
        run: LineRun::Across,
        at_mm: 20.0,
        tilt_deg: 1.0,
        width_mm: 0.6,
        contrast_d,
        step_d: 0.0,
        fog_share: 0.9,
    }
}

fn ridges(form: RidgeForm) -> RidgesRecipe {
    RidgesRecipe {
        level: 3,
        form,
        corner: Corner::TopLeft,
        edge: Edge::Left,
        spacing_mm: 3.0,
        reach_mm: 25.0,
        contrast_d: 0.15,
        tilt_deg: 2.0,
    }
}

fn bare() -> BareAreaRecipe {
    BareAreaRecipe {
        level: 3,
        place: BarePlace::Corner(Corner::BottomRight),
        a_mm: 12.0,
        b_mm: 9.0,
        round: 1.4,
        lip_d: 0.15,
    }
}

fn stain(form: StainForm) -> StainRecipe {
    StainRecipe {
        level: 3,
        form,
        from: Brink::Edge(Edge::Left),
        at_mm: 25.0,
        size_mm: 15.0,
        peak_d: 0.5,
    }
}

fn scratch(count: u32) -> ScratchRecipe {
    ScratchRecipe {
        level: 3,
        count,
        width_mm: 0.2,
        length_mm: 25.0,
        open: 0.8,
        bend: 0.03,
    }
}

#[test]
fn streaks_lean_clockwise_and_have_the_sign_meant() {
    for (sign, word) in [
        (StreakSign::MoreSilver, "more_silver"),
        (StreakSign::LessSilver, "less_silver"),
    ] {
        for process in [METAL, NEGATIVE] {
            let dip = Planted::Streaks(streaks(StreakForm::Dip, sign));
            let truth = planted(process, PlateKind::Flat, dip);
            assert_eq!(truth["variant"], json!("dip"));
            assert_eq!(truth["polarity"], json!(word));
            assert_eq!(truth["findable"], json!(true), "{truth}");
            assert!((number(&truth, "/axis_deg") - 2.0).abs() < 0.7, "{truth}");
            assert!(number(&truth, "/measured/count") >= 15.0);
            let contrast = number(&truth, "/measured/contrast_d");
            assert!((0.05..0.2).contains(&contrast), "{contrast}");
        }
    }
    // On a plate without silver only what is fog shows.
    let none = Planted::Streaks(streaks(StreakForm::Dip, StreakSign::LessSilver));
    let truth = planted(METAL, PlateKind::Blank, none);
    assert_eq!(truth["findable"], json!(false));
    let broad = Planted::Streaks(streaks(StreakForm::Developer, StreakSign::MoreSilver));
    let truth = planted(NEGATIVE, PlateKind::Blank, broad);
    assert_eq!(truth["findable"], json!(true), "{truth}");
    let members = truth["members"].as_array().unwrap();
    assert!(members.len() >= 3);
    for member in members {
        let axis = number(member, "/axis_deg");
        assert!(!(12.0..168.0).contains(&axis), "{axis}");
    }
}

#[test]
fn a_dip_line_crosses_the_plate_where_it_was_meant() {
    let truth = planted(METAL, PlateKind::Blank, Planted::DipLine(line(0.3)));
    assert_eq!(truth["polarity"], json!("more_silver"));
    assert_eq!(truth["findable"], json!(true), "{truth}");
    assert!((number(&truth, "/axis_deg") - 91.0).abs() < 0.3);
    let [left, right] = ["/box_mm/0", "/box_mm/2"].map(|side| number(&truth, side));
    assert!(right - left > 45.0);
    let [top, bottom] = ["/box_mm/1", "/box_mm/3"].map(|side| number(&truth, side));
    assert!(top < 20.0 && bottom > 20.0 && bottom - top < 3.0);
    let thin = planted(NEGATIVE, PlateKind::Flat, Planted::DipLine(line(-0.3)));
    assert_eq!(thin["polarity"], json!("less_silver"));
    let mut step = line(0.01);
    (step.run, step.step_d) = (LineRun::Down, 0.3);
    let plate = recipe(METAL, PlateKind::Flat, vec![Planted::DipLine(step)]);
    let painter = painter(&plate);
    let change = |x: f32| painter.shape(0).unwrap().change(x, 30.0).thick_d;
    assert!(change(10.0) < 0.02 && change(32.0) > 0.15);
}

fn painter(recipe: &Recipe) -> crate::practice::paint::Painter {
    crate::practice::paint::Painter::new(&recipe.plates[0], 5, 0.127)
}

#[test]
fn ridges_lie_along_their_edge_and_a_step_around_its_corner() {
    let truth = planted(
        METAL,
        PlateKind::Flat,
        Planted::Ridges(ridges(RidgeForm::Edge)),
    );
    assert_eq!(truth["findable"], json!(true), "{truth}");
    let axis = number(&truth, "/axis_deg");
    assert!(axis.min(180.0 - axis) < 6.0, "{axis}");
    assert_eq!(truth["place"], json!("top_left"));
    assert!(number(&truth, "/box_mm/0") < 2.0 && number(&truth, "/box_mm/2") < 30.0);
    assert!((5.0..=9.0).contains(&number(&truth, "/measured/count")));
    let diagonal = Planted::Ridges(ridges(RidgeForm::Diagonal));
    let truth = planted(NEGATIVE, PlateKind::Flat, diagonal);
    assert!((number(&truth, "/axis_deg") - 47.0).abs() < 6.0, "{truth}");
    let step = Planted::Ridges(ridges(RidgeForm::Step));
    let truth = planted(METAL, PlateKind::Flat, step);
    assert_eq!(truth["variant"], json!("step"));
    assert_eq!(truth["findable"], json!(true), "{truth}");
    // Without silver there is nothing that thickness could change.
    let blank = Planted::Ridges(ridges(RidgeForm::Edge));
    assert_eq!(
        planted(METAL, PlateKind::Blank, blank)["findable"],
        json!(false)
    );
}

#[test]
fn a_pour_rises_toward_its_corner_and_shows_on_flat_plates_only() {
    for form in [PourForm::Wedge, PourForm::DoubleFlow] {
        let pour = UnevenPourRecipe {
            level: 3,
            form,
            corner: Corner::TopRight,
            range_d: 0.25,
            bend: 1.2,
        };
        let truth = planted(METAL, PlateKind::Flat, Planted::UnevenPour(pour.clone()));
        assert_eq!(truth["findable"], json!(true), "{truth}");
        assert!(
            (number(&truth, "/measured/range_d") - 0.25).abs() < 0.03,
            "{truth}"
        );
        assert!(
            (number(&truth, "/direction_deg") - 40.0).abs() < 30.0,
            "{truth}"
        );
        assert_eq!(truth["measured"]["thick_corner"], json!("top_right"));
        let picture = planted(METAL, PlateKind::Picture, Planted::UnevenPour(pour));
        assert_eq!(picture["findable"], json!(false));
        // The thick corner of a positive is the lighter one.
        let shown = number(&truth, "/measured/range_d_on_picture");
        assert!((0.1..0.5).contains(&shown), "{shown}");
    }
}

#[test]
fn a_bare_corner_shows_support_and_is_no_picture() {
    let truth = planted(NEGATIVE, PlateKind::Flat, Planted::BareArea(bare()));
    assert_eq!(truth["findable"], json!(true), "{truth}");
    assert_eq!(truth["place"], json!("bottom_right"));
    assert_eq!(truth["polarity"], json!("less_silver"));
    let area = number(&truth, "/measured/area_mm2");
    assert!((0.4 * 108.0..0.85 * 108.0).contains(&area), "{area}");
    let blank = planted(METAL, PlateKind::Blank, Planted::BareArea(bare()));
    assert_eq!(blank["findable"], json!(false));
    let plate = recipe(METAL, PlateKind::Flat, vec![Planted::BareArea(bare())]);
    let (w, h) = (
        plate.plates[0].width_mm as f32,
        plate.plates[0].height_mm as f32,
    );
    let sample = painter(&plate).sample(w - 4.0, h - 3.0, [3, 3]);
    assert_eq!(sample.zone, crate::practice::paint::Zone::Rim);
    assert!((sample.d - plate.plates[0].tone.support_d as f32).abs() < 0.1);
}

#[test]
fn a_stain_comes_from_its_edge_and_leaves_silver() {
    for form in [StainForm::Oyster, StainForm::Curtain, StainForm::Drain] {
        let truth = planted(METAL, PlateKind::Blank, Planted::Stain(stain(form)));
        assert_eq!(truth["findable"], json!(true), "{truth}");
        assert_eq!(truth["polarity"], json!("more_silver"));
        assert!(number(&truth, "/box_mm/0") < 1.0 && number(&truth, "/box_mm/2") < 30.0);
        assert!(number(&truth, "/measured/peak_d") <= 0.5);
    }
}

#[test]
fn scratches_show_support_along_their_lines() {
    let truth = planted(NEGATIVE, PlateKind::Flat, Planted::Scratch(scratch(2)));
    assert_eq!(truth["findable"], json!(true), "{truth}");
    assert_eq!(truth["polarity"], json!("less_silver"));
    let members = truth["members"].as_array().unwrap();
    assert_eq!(members.len(), 2);
    for member in members {
        assert!(number(member, "/contrast_d") > 0.1);
        assert!((8.0..62.0).contains(&number(member, "/length_mm")));
    }
}

#[test]
fn the_order_of_plantings_changes_nothing() {
    let faults = vec![
        Planted::Streaks(streaks(StreakForm::Dip, StreakSign::Mixed)),
        Planted::BareArea(bare()),
    ];
    let one = recipe(METAL, PlateKind::Flat, faults.clone());
    let mut other = one.clone();
    other.plates[0].faults.reverse();
    let (one, other) = (
        PracticePlate::paint(&one).unwrap(),
        PracticePlate::paint(&other).unwrap(),
    );
    assert_eq!(one.file, other.file);
    let boxes = |plate: &PracticePlate, i: usize| plate.truths[0].1["faults"][i]["box_mm"].clone();
    assert_eq!(boxes(&one, 0), boxes(&other, 1));
}

#[test]
fn recipes_with_shapes_are_written_read_and_checked() {
    let mut small = recipe(
        METAL,
        PlateKind::Flat,
        vec![
            Planted::Ridges(ridges(RidgeForm::Edge)),
            Planted::Stain(stain(StainForm::Drain)),
            Planted::Scratch(scratch(1)),
        ],
    );
    let text = serde_json::to_string(&small).unwrap();
    assert_eq!(Recipe::from_json(&text).unwrap(), small);
    let mut wrong = ridges(RidgeForm::Edge);
    wrong.edge = Edge::Right;
    let mut hung = stain(StainForm::Curtain);
    hung.from = Brink::Corner(Corner::TopLeft);
    let mut wide = scratch(1);
    wide.open = 1.2;
    for fault in [
        Planted::Ridges(wrong),
        Planted::Stain(hung),
        Planted::Scratch(wide),
    ] {
        small.plates[0].faults = vec![fault];
        assert!(PracticePlate::paint(&small).is_err());
    }
}
