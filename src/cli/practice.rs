//! `oystermark practice`: plates whose faults are known.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand, ValueEnum};
use oystermark::analysis::{Grounds, read_scan, read_turned};
use oystermark::causes::{Catalogue, rank};
use oystermark::handling::Handling;
use oystermark::plate::Given;
use oystermark::plate::sizes::PlateSize;
use oystermark::practice::accuracy::{Accuracy, Design, Explained, HandsAccuracy, TurnedAccuracy};
use oystermark::practice::{PracticeError, Recipe, TagState, Wish, paint_to, write_samples};
use oystermark::settings::Settings;

use super::exit::Exit;
use super::season;

/// Make practice plates whose faults are known, and count how often the program is right on them
#[derive(Debug, Args)]
pub struct PracticeArgs {
    #[command(subcommand)]
    task: Task,
}

#[derive(Debug, Subcommand)]
enum Task {
    /// Paint scans of made-up plates, each with its truth and its recipe beside it
    Paint(PaintArgs),
    /// Make the sample plates anew
    Samples(SamplesArgs),
    Season(season::SeasonArgs),
    /// Paint many plates, read them and write a table of what was found, missed and falsely reported
    Accuracy(AccuracyArgs),
}

#[derive(Debug, Args)]
#[command(
    after_help = "Example: ten plates for a class\n  oystermark practice paint --out class --seed 1 --count 10"
)]
struct PaintArgs {
    /// Folder for the scans; made when it is not there.
    #[arg(long, value_name = "DIR", default_value = "practice")]
    out: PathBuf,
    /// Seed of the first plate; each further plate has the next one.
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    seed: u64,
    /// How many plates.
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    count: u64,
    /// A recipe written by an earlier run, to paint just that plate.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["seed", "count"])]
    recipe: Option<PathBuf>,
}

#[derive(Debug, Args)]
struct SamplesArgs {
    /// Folder for the samples.
    #[arg(long, value_name = "DIR", default_value = "samples")]
    out: PathBuf,
}

#[derive(Debug, Args)]
struct AccuracyArgs {
    /// A small part only, about two dozen plates; the table goes to the screen.
    #[arg(long)]
    short: bool,
    /// Which faults the plates are made for.
    #[arg(long, value_enum, value_name = "WHAT", default_value_t = About::All, conflicts_with = "short")]
    about: About,
    /// Seed of the first plate.
    #[arg(long, value_name = "NUMBER", default_value_t = 1000)]
    seed: u64,
    /// File for the table; without it the table goes to the screen.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Largest number of false findings a clean plate that counts as passed; more gives exit code 1.
    #[arg(long, value_name = "NUMBER")]
    most_false: Option<f64>,
}

/// What accuracy is measured about.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum About {
    /// Veil, edge fog, light leaks, comets, pinholes and specks.
    All,
    /// Veil, edge fog and light leaks.
    Fog,
    /// Comets, pinholes and specks, on clean and on dirty glass.
    Marks,
    /// The same marks, each plate scanned a second time, turned half round.
    MarksTurned,
    /// Streaks, dip lines, ridges, uneven pours, bare areas, stains and scratches, and what looks like
    /// them: scenes with straight lines.
    Shapes,
    /// Flat images and plates not fixed out, and what looks like them: scenes of little contrast.
    Tone,
    /// Dust, told by a second scan with the plate turned half round: four dozen pairs.
    Turned,
    /// The movement of the hand that drew comets and streaks, told by the causes: 960 plates, ten minutes.
    Causes,
}

/// Runs one of the tasks.
pub fn run(args: PracticeArgs) -> Exit {
    let done = match args.task {
        Task::Paint(args) => paint(&args),
        Task::Samples(args) => samples(&args),
        Task::Season(args) => season::run(&args).map_err(|trouble| trouble.words()),
        Task::Accuracy(args) => accuracy(&args),
    };
    done.unwrap_or_else(|why| {
        eprintln!("oystermark: {why}");
        Exit::Failed
    })
}

fn report_files(files: &[PathBuf]) -> Exit {
    for file in files {
        println!("{}", file.display());
    }
    Exit::Analysed
}

fn make_folder(folder: &Path) -> Result<(), String> {
    std::fs::create_dir_all(folder).map_err(|error| {
        format!(
            "{}: {error}; name another folder with --out",
            folder.display()
        )
    })
}

fn samples(args: &SamplesArgs) -> Result<Exit, String> {
    make_folder(&args.out)?;
    let files = write_samples(&args.out).map_err(|error| error.to_string())?;
    Ok(report_files(&files))
}

fn paint(args: &PaintArgs) -> Result<Exit, String> {
    make_folder(&args.out)?;
    let words = |error: PracticeError| error.to_string();
    let mut files = Vec::new();
    if let Some(file) = &args.recipe {
        let text = std::fs::read_to_string(file)
            .map_err(|error| format!("{}: {error}; give a .recipe.json file", file.display()))?;
        let recipe =
            Recipe::from_json(&text).map_err(|error| format!("{}: {error}", file.display()))?;
        files = paint_to(&args.out, &recipe).map_err(words)?;
    } else {
        for seed in args.seed..args.seed.saturating_add(args.count) {
            let recipe = Recipe::random(seed, &format!("practice-{seed}"), &Wish::default());
            files.extend(paint_to(&args.out, &recipe).map_err(words)?);
        }
    }
    Ok(report_files(&files))
}

/// Writes the table whole or not at all; nothing but an earlier table is replaced.
fn write_table(file: &Path, table: &str) -> Result<(), String> {
    let title = table.lines().next().unwrap_or_default();
    if std::fs::read_to_string(file).is_ok_and(|old| !old.starts_with(title)) {
        return Err(format!(
            "{}: there is another file of that name; choose another --out",
            file.display()
        ));
    }
    let folder = match file.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let write = || -> std::io::Result<()> {
        let mut staged = tempfile::NamedTempFile::new_in(folder)?;
        staged.write_all(table.as_bytes())?;
        staged.as_file().sync_all()?;
        staged.persist(file).map_err(|error| error.error)?;
        Ok(())
    };
    write().map_err(|error| format!("{}: {error}; choose another --out", file.display()))
}

/// Reads a painted scan as its maker would: process, kind and, where the tag is no good, the size; together with
/// the one turned half round where there is one.
fn read_as_maker(path: &Path, second: Option<&Path>, recipe: &Recipe) -> Vec<serde_json::Value> {
    let (given, settings) = (given_by_maker(recipe), Settings::default());
    let read = match second {
        Some(second) => read_turned(path, second, &given, &settings),
        None => read_scan(path, &given, &settings),
    };
    let Ok(outcomes) = read else {
        return Vec::new();
    };
    outcomes
        .iter()
        .filter_map(|outcome| serde_json::to_value(&outcome.report).ok())
        .collect()
}

fn given_by_maker(recipe: &Recipe) -> Given {
    Given {
        process: recipe.plates.first().map(|plate| plate.process),
        kind: recipe.plates.first().map(|plate| plate.kind),
        plate_size: stated_size(recipe),
        ..Given::default()
    }
}

/// A maker states the size where the file's resolution is no help.
fn stated_size(recipe: &Recipe) -> Option<PlateSize> {
    let first = recipe.plates.first()?;
    (recipe.scan.dpi_tag != TagState::Ok).then(|| first.size_name.parse().ok())?
}

/// Pairs of scans that the accuracy with a turned scan is measured on.
const TURNED_PAIRS: usize = 48;

fn accuracy(args: &AccuracyArgs) -> Result<Exit, String> {
    let design = match (args.short, args.about) {
        (true, _) => Design::short(args.seed),
        (_, About::All) => Design::full(args.seed),
        (_, About::Fog) => Design::fog(args.seed),
        (_, About::Marks) => Design::marks(args.seed),
        (_, About::MarksTurned) => Design::marks_turned(args.seed),
        (_, About::Shapes) => Design::shapes(args.seed),
        (_, About::Tone) => Design::tone(args.seed),
        (_, About::Turned) => return turned_accuracy(args),
        (_, About::Causes) => return hands_accuracy(args),
    };
    let folder = room()?;
    let measured = Accuracy::measure(&design, folder.path(), &read_as_maker)
        .map_err(|error| error.to_string())?;
    show(args, &measured.table())?;
    let too_many = args
        .most_false
        .zip(measured.false_per_clean_plate())
        .is_some_and(|(most, found)| found > most);
    Ok(if too_many {
        Exit::Reached
    } else {
        Exit::Analysed
    })
}

/// Plates that the accuracy of causes is measured on.
const HAND_PLATES: usize = 960;

/// How often the movement of the hand behind marks is told.
fn hands_accuracy(args: &AccuracyArgs) -> Result<Exit, String> {
    let folder = room()?;
    let catalogue = Catalogue::built_in().map_err(|error| error.to_string())?;
    let mut naming_all = catalogue.clone();
    naming_all.weights.listed_causes = naming_all.causes.len();
    let read = |path: &Path, recipe: &Recipe, handling: Handling| {
        let given = Given {
            handling: Some(handling),
            ..given_by_maker(recipe)
        };
        let outcomes = read_scan(path, &given, &Settings::default()).ok()?;
        let Grounds {
            findings,
            facts,
            handling,
        } = &outcomes.first()?.grounds;
        let ranked = |catalogue| rank(findings, facts, handling.as_ref(), catalogue).per_finding;
        let (named, all) = (ranked(&catalogue), ranked(&naming_all));
        let explained = findings.iter().zip(named).zip(all);
        let explained = explained.map(|((finding, named), all)| Explained {
            fault: finding.fault,
            confidence: finding.confidence,
            named,
            all,
        });
        Some(explained.collect())
    };
    let measured = HandsAccuracy::measure(args.seed, HAND_PLATES, folder.path(), &read, &catalogue)
        .map_err(|error| error.to_string())?;
    show(args, &measured.table())?;
    Ok(Exit::Analysed)
}

/// How often dust is told by a turned scan.
fn turned_accuracy(args: &AccuracyArgs) -> Result<Exit, String> {
    let folder = room()?;
    let measured = TurnedAccuracy::measure(args.seed, TURNED_PAIRS, folder.path(), &read_as_maker)
        .map_err(|error| error.to_string())?;
    show(args, &measured.table())?;
    Ok(Exit::Analysed)
}

fn room() -> Result<tempfile::TempDir, String> {
    tempfile::tempdir()
        .map_err(|error| format!("no room for practice plates: {error}; free some space"))
}

fn show(args: &AccuracyArgs, table: &str) -> Result<(), String> {
    match &args.out {
        Some(file) => write_table(file, table),
        None => {
            print!("{table}");
            Ok(())
        }
    }
}
