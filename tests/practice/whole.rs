//! Flat images, what the fixer left, and waves by an edge: planted, stated in the truth, told by the program.

use oystermark::analysis::read_scan;
use oystermark::doubts::Doubt;
use oystermark::findings::{Fault, Standing};
use oystermark::handling::Corner;
use oystermark::plate::{Edge, Given, PlateKind, Process};
use oystermark::practice::accuracy::Design;
use oystermark::practice::{
    Cast, Crop, DipLineRecipe, FaultWish, FlatForm, FlatImageRecipe, LedgeForm, LedgeRecipe,
    LineRun, Planted, PlateRecipe, PracticePlate, Recipe, RidgeForm, RidgesRecipe, SceneName,
    UnderfixedRecipe, Wish,
};
use oystermark::report::Report;
use oystermark::settings::Settings;
use serde_json::Value;

use super::truth_of;

/// A plate of a kind with one fault, in a scan of so many channels with lid around it.
fn planted(seed: u64, process: Process, kind: PlateKind, channels: u8, fault: Planted) -> Recipe {
    let wish = Wish {
        process: Some(process),
        kind: Some(kind),
        scene: (kind == PlateKind::Picture).then_some(SceneName::Portrait),
        crop: Some(Crop::Margin),
        dpi: Some(300.0),
        size_name: Some("sixth"),
        channels: Some(channels),
        bare_rim: true,
        ..Wish::default()
    };
    let mut recipe = Recipe::random(seed, "whole", &wish);
    recipe.plates[0].faults = vec![fault];
    recipe
}

fn flat(form: FlatForm, keeps: f64, pivot: f64) -> Planted {
    Planted::FlatImage(FlatImageRecipe {
        level: 3,
        form,
        keeps,
        pivot,
    })
}

fn milk(cast: Cast, milk: f64) -> Planted {
    Planted::Underfixed(UnderfixedRecipe {
        level: 3,
        cast,
        corner: None,
        patches: 3,
        size_mm: 6.0,
        milk,
    })
}

fn read(recipe: &Recipe) -> (Value, Report) {
    let plate = PracticePlate::paint(recipe).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let files = plate.write(folder.path()).unwrap();
    let given = Given {
        process: Some(recipe.plates[0].process),
        kind: Some(recipe.plates[0].kind),
        plate_size: match recipe.scan.crop {
            Crop::Inside => None,
            Crop::Margin | Crop::Exact => "sixth".parse().ok(),
        },
        ..Given::default()
    };
    let mut outcomes = read_scan(&files[0], &given, &Settings::default()).unwrap();
    (truth_of(&plate).clone(), outcomes.remove(0).report)
}

#[test]
fn a_flat_stepped_plate_is_told_with_what_fits() {
    let steps = |form, keeps, pivot| {
        let fault = flat(form, keeps, pivot);
        read(&planted(
            780_401,
            Process::PositiveOnMetal,
            PlateKind::Wedge,
            1,
            fault,
        ))
    };
    let (truth, report) = steps(FlatForm::OverExposed, 0.35, 0.8);
    assert_eq!(truth["faults"][0]["findable"], true);
    let range = |name: &str| truth["faults"][0]["measured"][name].as_f64().unwrap();
    assert!((range("range_d") - 0.35 * range("range_d_without")).abs() < 0.05);
    let found = |report: &Report| {
        let mut of = report.findings.iter();
        of.find(|f| f.fault == Fault::FlatImage).cloned()
    };
    let finding = found(&report).expect("a flat image");
    assert_eq!(finding.standing, Standing::Measured);
    assert_eq!(finding.causes[0].cause, "exposed_too_long");
    // Weak lights under clear blacks are none of the exposure's making.
    let (_, report) = steps(FlatForm::WeakLights, 0.35, 0.03);
    let finding = found(&report).expect("a flat image");
    let named: Vec<&str> = finding.causes.iter().map(|c| c.cause.as_str()).collect();
    assert!(
        ["developer_overflowed", "bath_weak"].contains(&named[0]),
        "{named:?}"
    );
    // A sound one is not flat.
    let (_, report) = steps(FlatForm::WeakLights, 1.0, 0.0);
    assert!(found(&report).is_none());
}

#[test]
fn waves_by_an_edge_of_a_picture_are_told_where_they_bend() {
    let waves = Planted::Ridges(RidgesRecipe {
        level: 3,
        form: RidgeForm::Edge,
        corner: Corner::BottomRight,
        edge: Edge::Bottom,
        spacing_mm: 3.2,
        reach_mm: 30.0,
        contrast_d: 0.14,
        tilt_deg: 2.0,
    });
    let process = Process::PositiveOnMetal;
    let recipe = planted(780_403, process, PlateKind::Picture, 1, waves);
    let (truth, report) = read(&recipe);
    let finding = report.findings.iter().find(|f| f.fault == Fault::Ridges);
    let finding = finding.expect("ridges");
    assert_eq!(finding.place.as_deref(), Some("bottom"));
    assert_eq!(finding.standing, Standing::Suggested);
    let axis_deg = truth["faults"][0]["axis_deg"].as_f64().unwrap();
    assert!((finding.axis_deg.unwrap() - axis_deg).abs() < 3.0);
    // Each is drawn as it bends, all to one side.
    let bends: Vec<f64> = finding
        .members
        .iter()
        .flatten()
        .filter_map(|mark| mark.sagitta_share)
        .collect();
    assert!(bends.len() >= 4, "{bends:?}");
    assert!(bends.iter().all(|bend| bend * bends[0] > 0.0), "{bends:?}");

    let (_, clean) = read(&Recipe {
        plates: vec![PlateRecipe {
            faults: Vec::new(),
            ..recipe.plates[0].clone()
        }],
        ..recipe.clone()
    });
    assert!(clean.findings.iter().all(|f| f.fault != Fault::Ridges));
}

#[test]
fn waves_are_told_where_the_scan_cuts_the_edges_off() {
    let recipe = Design::shapes(805_000)
        .entries
        .into_iter()
        .find(|entry| entry.seed == 805_196)
        .map(|entry| Recipe::random(entry.seed, &entry.name, &entry.wish))
        .unwrap();
    assert_eq!(recipe.scan.crop, Crop::Inside);
    let (truth, report) = read(&recipe);
    assert_eq!(truth["faults"][0]["fault"], "ridges");
    let finding = report.findings.iter().find(|f| f.fault == Fault::Ridges);
    let finding = finding.expect("ridges");
    assert_eq!(finding.standing, Standing::Suggested);
    assert!(finding.doubts.contains(&Doubt::CroppedInside));
}

#[test]
fn a_line_that_runs_on_over_the_border_is_no_scenes() {
    let line = Planted::DipLine(DipLineRecipe {
        level: 3,
        run: LineRun::Across,
        at_mm: 33.0,
        tilt_deg: 1.0,
        width_mm: 0.6,
        contrast_d: 0.2,
        step_d: 0.0,
        fog_share: 0.6,
    });
    let mut recipe = planted(
        780_404,
        Process::NegativeOnGlass,
        PlateKind::Picture,
        1,
        line,
    );
    // Boards have lines enough of their own.
    recipe.plates[0].scene = SceneName::Boards;
    recipe.plates[0].ledge = Some(LedgeRecipe {
        width_mm: [3.0; 4],
        penumbra_mm: 0.3,
        form: LedgeForm::Square,
        support_mm: 0.0,
    });
    let (truth, report) = read(&recipe);
    let line = |report: &Report| {
        let mut findings = report.findings.iter();
        findings.find(|f| f.fault == Fault::DipLine).cloned()
    };
    let finding = line(&report).expect("a line");
    assert_eq!(finding.standing, Standing::Measured);
    let axis_deg = truth["faults"][0]["axis_deg"].as_f64().unwrap();
    assert!((finding.axis_deg.unwrap() - axis_deg).abs() < 0.5);

    recipe.plates[0].faults = Vec::new();
    assert!(line(&read(&recipe).1).is_none());
}

#[test]
fn fog_over_all_broad_borders_is_no_veil_when_a_narrow_one_is_free_of_it() {
    let fog = |edge: Edge| Planted::EdgeFog {
        level: 4,
        edge,
        fog_d: 0.45,
        depth_mm: 4.0,
        from_mm: 0.0,
        to_mm: 70.0,
    };
    let fogged = [Edge::Right, Edge::Bottom, Edge::Left];
    let mut recipe = planted(
        791_130,
        Process::PositiveOnMetal,
        PlateKind::Picture,
        1,
        fog(Edge::Left),
    );
    recipe.plates[0].faults = fogged.map(fog).to_vec();
    // The narrow border lies at the top.
    recipe.plates[0].ledge = Some(LedgeRecipe {
        width_mm: [1.5, 2.3, 2.3, 2.5],
        penumbra_mm: 0.3,
        form: LedgeForm::Square,
        support_mm: 0.0,
    });
    let (truth, report) = read(&recipe);
    let of = |fault: Fault| report.findings.iter().filter(move |f| f.fault == fault);
    assert_eq!(of(Fault::Veil).count(), 0);
    for (edge, planted) in fogged.iter().zip(truth["faults"].as_array().unwrap()) {
        let found = of(Fault::EdgeFog).find(|f| f.place.as_deref() == Some(edge.word()));
        let found = found.unwrap_or_else(|| panic!("{edge:?}"));
        let (told, meant) = (
            found.measured.number("fog_d").unwrap(),
            planted["measured"]["fog_d"].as_f64().unwrap(),
        );
        assert!(
            (told / meant - 1.0).abs() < 0.3,
            "{edge:?}: {told} for {meant}"
        );
    }
}

#[test]
fn a_flat_picture_is_not_told_from_a_pale_scene() {
    let fault = flat(FlatForm::OverExposed, 0.3, 0.8);
    let recipe = planted(
        780_402,
        Process::PositiveOnGlass,
        PlateKind::Picture,
        1,
        fault,
    );
    let (truth, report) = read(&recipe);
    assert_eq!(truth["faults"][0]["findable"], false);
    assert!(report.findings.iter().all(|f| f.fault != Fault::FlatImage));
    let untold = |fault| report.cannot_tell.iter().any(|entry| entry.fault == fault);
    // And a grey scan shows no colour.
    assert!(untold(Fault::FlatImage) && untold(Fault::Underfixed));
}

#[test]
fn milk_is_told_by_its_colour_and_only_in_colour() {
    for (process, cast, strength) in [
        (Process::PositiveOnMetal, Cast::Cream, 0.08),
        (Process::PositiveOnGlass, Cast::BlueWhite, 0.08),
        (Process::NegativeOnGlass, Cast::Cream, 0.25),
    ] {
        let recipe = |channels| {
            let fault = milk(cast, strength);
            planted(780_403, process, PlateKind::Blank, channels, fault)
        };
        let (truth, report) = read(&recipe(3));
        let fault = &truth["faults"][0];
        assert_eq!(fault["findable"], true, "{fault}");
        let finding = report
            .findings
            .iter()
            .find(|f| f.fault == Fault::Underfixed);
        let finding = finding.expect("what the fixer left");
        let cast_b = finding.measured.numbers["cast_b"].unwrap();
        let true_b = fault["measured"]["cast_b"].as_f64().unwrap();
        assert!(cast_b * true_b > 0.0, "{cast_b} {true_b}");
        assert_eq!(finding.causes[0].cause, "not_fixed_out");
        let (truth, report) = read(&recipe(1));
        assert_eq!(truth["faults"][0]["findable"], false);
        assert!(report.findings.iter().all(|f| f.fault != Fault::Underfixed));
    }
}

#[test]
fn the_tone_design_plants_what_it_says() {
    let wish = Wish {
        faults: vec![FaultWish::FlatImage(2), FaultWish::Underfixed(4)],
        ..Wish::default()
    };
    let recipe = Recipe::random(5, "both", &wish);
    let names: Vec<&str> = recipe.plates[0].faults.iter().map(Planted::fault).collect();
    assert_eq!(names, ["flat_image", "underfixed"]);
}
