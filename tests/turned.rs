//! A second scan of a plate turned half round on the glass: pairs made by the program itself.

use std::path::{Path, PathBuf};
use std::sync::Mutex;

use oystermark::analysis::{AnalysisError, Outcome, read_scan, read_turned};
use oystermark::findings::{Fault, SignName};
use oystermark::plate::turned::TurnedError;
use oystermark::plate::{Given, PlateKind, Process};
use oystermark::practice::accuracy::TurnedAccuracy;
use oystermark::practice::{
    Crop, FaultWish, Glass, PracticePlate, Recipe, SceneName, TagState, Wish,
};
use oystermark::report::LaidByName;
use oystermark::settings::Settings;

/// Pairs painted here: two dozen; `practice accuracy --about turned` takes four.
const PAIRS: usize = 24;

fn given(recipe: &Recipe) -> Given {
    Given {
        process: Some(recipe.plates[0].process),
        kind: Some(recipe.plates[0].kind),
        // Stated where the file's resolution is no help.
        plate_size: (recipe.scan.dpi_tag != TagState::Ok)
            .then(|| recipe.plates[0].size_name.parse().unwrap()),
        ..Given::default()
    }
}

#[test]
fn nine_of_ten_pieces_of_dust_are_called_dust_and_places_agree_to_a_tenth_of_a_millimetre() {
    let folder = tempfile::tempdir().unwrap();
    let refused = Mutex::new(Vec::new());
    let read = |path: &Path, second: Option<&Path>, recipe: &Recipe| {
        let (given, settings) = (given(recipe), Settings::default());
        let outcomes = match second {
            Some(second) => read_turned(path, second, &given, &settings),
            None => read_scan(path, &given, &settings),
        };
        match outcomes {
            Ok(outcomes) => outcomes
                .iter()
                .map(|outcome| serde_json::to_value(&outcome.report).unwrap())
                .collect(),
            Err(error) => {
                refused.lock().unwrap().push(error.to_string());
                Vec::new()
            }
        }
    };
    let measured = TurnedAccuracy::measure(610_000, PAIRS, folder.path(), &read).unwrap();
    let (pairs, read) = measured.read();
    assert_eq!(read, pairs, "{:?}", refused.lock().unwrap());
    let called = measured.called_dust().unwrap();
    assert!(called >= 0.9, "{called}\n{}", measured.table());
    let wrong = measured.wrongly_called().unwrap();
    assert!(wrong <= 0.03, "{wrong}\n{}", measured.table());
    let off = measured.registration_off_mm();
    assert!(off.len() >= PAIRS / 2);
    // The worst place of each plate: on nine plates of ten within a tenth of a millimetre.
    let near = off.iter().filter(|mm| **mm <= 0.1).count();
    assert!(10 * near >= 9 * off.len(), "{off:?}");
    assert!(off.iter().all(|mm| *mm <= 0.15), "{off:?}");
}

/// A small dirty pair with specks of its own.
fn pair(seed: u64, process: Process) -> Recipe {
    let wish = Wish {
        faults: vec![FaultWish::Specks(4)],
        process: Some(process),
        kind: Some(PlateKind::Picture),
        scene: Some(SceneName::Portrait),
        crop: Some(Crop::Margin),
        dpi: Some(400.0),
        size_name: Some("ninth"),
        glass: Some(Glass::Filthy),
        ..Wish::default()
    };
    Recipe::random(seed, &format!("pair-{seed}"), &wish)
}

fn painted(folder: &Path, recipe: &Recipe) -> PathBuf {
    PracticePlate::paint(recipe)
        .unwrap()
        .write(folder)
        .unwrap()
        .remove(0)
}

fn why(error: Result<Vec<Outcome>, AnalysisError>) -> (TurnedError, String) {
    match error {
        Err(AnalysisError::Turned { why, file }) => {
            let text = AnalysisError::Turned {
                why: why.clone(),
                file,
            }
            .to_string();
            (why, text)
        }
        other => panic!("{:?}", other.map(|outcomes| outcomes.len())),
    }
}

#[test]
fn what_turns_is_the_plates_and_a_wrong_second_scan_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let recipe = pair(620_001, Process::PositiveOnGlass);
    let first = painted(folder.path(), &recipe);
    let second = painted(folder.path(), &recipe.turned());
    let (given, settings) = (given(&recipe), Settings::default());
    let report = read_turned(&first, &second, &given, &settings)
        .unwrap()
        .remove(0)
        .report;
    let turned = report.scan.turned.as_ref().unwrap();
    assert_eq!(turned.laid_by, LaidByName::Picture);
    assert!(turned.within_mm.unwrap() < 0.05 && turned.file.contains("-turned"));
    assert!(report.looked_for.contains(&Fault::ScanDust));
    let dust = report
        .findings
        .iter()
        .find(|f| f.fault == Fault::ScanDust)
        .unwrap();
    assert!(dust.members.as_ref().unwrap().len() >= 10);
    let stays = |holds: bool| {
        report
            .findings
            .iter()
            .filter(move |f| {
                f.signs
                    .iter()
                    .any(|s| s.name == SignName::ScanChanges && s.holds == holds)
            })
            .map(|f| f.fault)
            .collect::<Vec<_>>()
    };
    assert_eq!(stays(true), [Fault::ScanDust]);
    assert_eq!(stays(false), [Fault::Specks]);
    // Put down again as it lay before.
    let mut again = recipe.clone();
    again.name = "again".to_owned();
    again.plates[0].turn_deg += 0.4;
    let again = painted(folder.path(), &again);
    let (error, text) = why(read_turned(&first, &again, &given, &settings));
    assert_eq!(error, TurnedError::SameWay);
    assert!(
        text.contains("again") && text.contains("same way round"),
        "{text}"
    );
    // Another plate of the same size, and one of another size.
    let mut other = recipe.turned();
    (other.name, other.seed) = ("other".to_owned(), 620_002);
    other.plates[0].scene = SceneName::Woods;
    let other = painted(folder.path(), &other);
    let (error, _) = why(read_turned(&first, &other, &given, &settings));
    assert_eq!(error, TurnedError::Picture);
    let mut larger = pair(620_003, Process::PositiveOnGlass);
    larger.plates[0].width_mm += 6.0;
    larger.scan.area_mm[0] += 12.0;
    larger.plates[0].centre_mm[0] += 6.0;
    let larger = painted(folder.path(), &larger);
    let (error, text) = why(read_turned(&first, &larger, &given, &settings));
    assert!(matches!(error, TurnedError::Size { .. }), "{text}");
    assert!(
        text.contains("another plate") && text.contains("mm"),
        "{text}"
    );
}
