//! `oystermark read`: scans become reports.

use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

use clap::Args;

use oystermark::analysis::{Outcome, read_told};
use oystermark::findings::Severity;
use oystermark::handling::{Corner, Handling, HandlingSource};
use oystermark::plate::sizes::PlateSize;
use oystermark::plate::{Given, PlateKind, Process, ScannedFrom};
use oystermark::report::{Report, table};
use oystermark::scan::Encoding;
use oystermark::settings::{MeasureName, Settings};

use super::args;
use super::bath::keep::{KeepArgs, Keeper};
use super::exit::{Exit, Trouble};
use super::guard::guarded;
use super::inputs::{Input, gather};
use super::screen::{Output, Progress, complain};
use super::session::{Entry, Session};
use super::told::{Maker, OfScan, Typed};
use super::write::{OutFolder, compact, refuse_foreign, stems};

/// Read scans and write a report for each plate
///
/// Each plate gets a page to look at (STEM.html) and the same report for programs (STEM.json), named
/// after the scan. Several plates in one scan are told apart as STEM-1, STEM-2 in reading order.
/// When several plates are read, session.html lists them all. What you do not say about a plate is
/// judged from the scan, and the report says so.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  oystermark read plate-17.tif --process positive_on_metal --plate-size sixth",
    after_long_help = "Examples:
  One plate, with what you know of it:
    oystermark read plate-17.tif --process positive_on_metal --plate-size sixth

  A whole market day, the reports in a folder of their own:
    oystermark read market-day/ --out market-day-reports

  A blank test plate, with the way it was dipped and developed:
    oystermark read blank.tif --kind blank --dip-axis 0 --developer-toward 90

  The same in the maker's words, from a file:
    oystermark read blank.tif --kind blank --handling blank.toml

  What you wrote down at the bench, one row a scan (oystermark sheet writes an empty one):
    oystermark read market-day/ --sheet market-day.csv

  Dust or plate? Told by a second scan with the plate turned half round on the glass:
    oystermark read plate-17.tif --turned plate-17-turned.tif

  In a script, stopping when a plate is spoilt:
    oystermark read plate-17.tif --json --fail-on spoils

Exit codes:
  0  all plates were analysed, whatever was found on them
  1  something found reached the grade of --fail-on
  2  a plate could not be analysed, or the command was wrong"
)]
pub struct ReadArgs {
    /// Scans (TIFF, PNG, JPEG), or folders of scans
    ///
    /// Of a folder, all files that end in tif, tiff, png, jpg or jpeg are read, in the order of
    /// their names. Folders inside it are not searched.
    #[arg(required = true, value_name = "SCAN")]
    scans: Vec<PathBuf>,

    /// Folder for the reports [default: a folder `reports` beside each scan]
    ///
    /// Made if it is not there. Only reports of this program are replaced in it, nothing else.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,

    /// How the plate was made
    #[arg(long, value_parser = args::process(), help_heading = "About the plate")]
    process: Option<Process>,

    /// What the plate was made for
    #[arg(long, value_parser = args::kind(), help_heading = "About the plate")]
    kind: Option<PlateKind>,

    /// Size by name or in mm, cm or in: sixth, half-uk, 8x10, 82.5x108mm
    ///
    /// Names of the trade: whole, half-us, half-uk, quarter, sixth, eighth, ninth, sixteenth, gem,
    /// lantern, stereo, 4x5, 5x7, 8x10, 11x14, 13x18cm and so on; 1/4 and 1/6 are understood too.
    /// A plain half may be the American or the English plate; the outline then decides. Or both
    /// sides with their unit, in either order: 82.5x108mm, 8.3x10.8cm, "3 1/4 x 4 1/4 in".
    #[arg(long, value_name = "SIZE", value_parser = args::plate_size, help_heading = "About the plate")]
    plate_size: Option<PlateSize>,

    /// Corners in pixels, clockwise from the top left: x1,y1,x2,y2,x3,y3,x4,y4
    ///
    /// For a plate whose outline cannot be told from the lid. Only with a single scan.
    #[arg(
        long,
        value_name = "X1,Y1,...",
        value_parser = args::corners_px,
        allow_hyphen_values = true,
        help_heading = "About the plate"
    )]
    corners: Option<[[f64; 2]; 4]>,

    /// Density of the bare support, if you have measured it
    ///
    /// Japanned metal or black glass of a positive, clear glass of a negative. It sets the zero
    /// from which veil is counted on a plate without a bare rim.
    #[arg(long, value_name = "D", value_parser = args::support_d, help_heading = "About the plate")]
    support_density: Option<f64>,

    /// File that says how the plate was poured, dipped, developed and scanned
    ///
    /// A few lines such as `drained_at = "bottom left"`; the README has an example. What is typed here
    /// goes before what stands in the file.
    #[arg(long, value_name = "FILE", help_heading = "How it was handled")]
    handling: Option<PathBuf>,

    /// Session sheet: what you wrote down of each plate, one row a scan (CSV)
    ///
    /// Process, size, handling, bath, times, temperatures, answers to checks and verdicts on findings;
    /// `oystermark sheet` writes an empty one with explanations. A row goes with the scan of its name. It
    /// goes before the file of --handling, and what is typed here goes before it. Rows that cannot be used
    /// are named and left out.
    #[arg(long, value_name = "FILE", help_heading = "How it was handled")]
    sheet: Option<PathBuf>,

    /// Axis along which the plate went into the silver bath, degrees
    ///
    /// As the plate lies in the scan: 0 is upright, 90 across, clockwise from the upright.
    #[arg(long, value_name = "DEG", value_parser = args::axis_deg, help_heading = "How it was handled")]
    dip_axis: Option<f64>,

    /// Direction toward which the developer was swept, degrees
    ///
    /// As the plate lies in the scan: 0 toward the top, 90 right, 180 down, 270 left.
    #[arg(long, value_name = "DEG", value_parser = args::direction_deg, help_heading = "How it was handled")]
    developer_toward: Option<f64>,

    /// Corner at which the collodion was drained, as the plate lies in the scan
    #[arg(long, value_name = "CORNER", value_parser = args::corner(), help_heading = "How it was handled")]
    drain_corner: Option<Corner>,

    /// Side of the plate that lay toward the scanner
    #[arg(long, value_name = "SIDE", value_parser = args::scanned_from(), help_heading = "About the scan")]
    scanned_from: Option<ScannedFrom>,

    /// A second scan of the same plate, turned half round on the glass
    ///
    /// What turns with the plate is the plate's, what stays with the glass is dust. Scan, lift the
    /// plate, turn it by 180 degrees, lay it down again and scan once more without wiping the glass.
    /// Only with a single scan.
    #[arg(long, value_name = "SCAN2", help_heading = "About the scan")]
    turned: Option<PathBuf>,

    /// How values stand for light in a file without a colour profile
    #[arg(
        long,
        value_name = "CODING",
        value_parser = args::encoding(),
        default_value = "srgb",
        help_heading = "About the scan"
    )]
    encoding: Encoding,

    /// Measure only these, as in tone,specks [default: all]
    #[arg(long, value_name = "NAME,...", value_parser = args::measure(), value_delimiter = ',')]
    measures: Vec<MeasureName>,

    /// Exit with 1 when something found is at least this grave
    #[arg(long, value_name = "GRADE", value_parser = args::grade())]
    fail_on: Option<Severity>,

    #[command(flatten)]
    keep: KeepArgs,

    /// Print each report as one line of JSON and nothing else
    #[arg(long)]
    json: bool,

    /// Print nothing but errors
    #[arg(long, short, conflicts_with = "json")]
    quiet: bool,
}

impl ReadArgs {
    fn typed(&self) -> Typed<'_> {
        let typed = Handling {
            dip_axis_deg: self.dip_axis,
            developer_direction_deg: self.developer_toward,
            drain_corner: self.drain_corner,
            ..Handling::default()
        };
        Typed {
            given: Given {
                process: self.process,
                kind: self.kind,
                plate_size: self.plate_size.clone(),
                corners_px: self.corners,
                scanned_from: self.scanned_from,
                support_d: self.support_density,
                handling: None,
            },
            handling: typed.said_by(HandlingSource::CommandLine),
            handling_file: self.handling.as_deref(),
            sheet: self.sheet.as_deref(),
        }
    }

    fn settings(&self) -> Settings {
        let mut settings = Settings::default();
        settings.scan.encoding = self.encoding;
        if !self.measures.is_empty() {
            settings.measures = self.measures.iter().copied().collect();
        }
        settings
    }
}

/// Reads the scans and writes their reports.
pub fn run(args: ReadArgs) -> Exit {
    let (inputs, troubles) = gather(&args.scans, args.out.as_deref());
    let mut run = Run::new(&args, inputs.len());
    for trouble in &troubles {
        run.trouble(trouble);
    }
    if args.corners.is_some() && inputs.len() + troubles.len() > 1 {
        run.trouble(&Trouble::of_command(
            "--corners belongs to a single scan, but several were given",
            "read that scan in a run of its own",
        ));
        return run.end();
    }
    if let Some(trouble) = args
        .turned
        .as_ref()
        .and_then(|turned| misfit(turned, &inputs, troubles.len()))
    {
        run.trouble(&trouble);
        return run.end();
    }
    let settings = args.settings();
    let stems = inputs.iter().map(|input| input.stem.clone()).collect();
    let maker = match Maker::read(args.typed(), stems) {
        Ok(maker) => maker,
        Err(trouble) => {
            run.trouble(&trouble);
            return run.end();
        }
    };
    for note in maker.notes() {
        run.note(&note);
    }
    match args.keep.open() {
        Ok(keeper) => run.keeper = keeper,
        Err(trouble) => {
            run.trouble(&trouble);
            return run.end();
        }
    }
    for input in run.ready(inputs) {
        run.progress.reading(&input.stem);
        let known = maker.of(&input.stem);
        let read = known.and_then(|known| run.read(&input, known, &settings));
        if let Err(trouble) = read {
            run.trouble(&trouble);
        }
        run.progress.done();
    }
    run.end()
}

/// Why a turned scan cannot go with these scans.
fn misfit(turned: &Path, inputs: &[Input], unreadable: usize) -> Option<Trouble> {
    if inputs.len() + unreadable > 1 {
        return Some(Trouble::of_command(
            "--turned belongs to a single scan, but several were given",
            "read that scan in a run of its own",
        ));
    }
    let same = |a: &Path, b: &Path| match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    };
    inputs
        .iter()
        .any(|input| same(&input.scan, turned))
        .then(|| {
            Trouble::new(
                turned,
                "this is the first scan itself, given again after --turned",
                "turn the plate half round on the glass, scan it again and give that scan",
            )
        })
}

/// One run over several scans: what was written, and how it will end.
struct Run<'a> {
    args: &'a ReadArgs,
    exit: Exit,
    output: Output,
    progress: Progress,
    folders: HashMap<PathBuf, OutFolder>,
    /// Files written by this run.
    written: HashSet<PathBuf>,
    session: Session,
    keeper: Option<Keeper>,
}

impl<'a> Run<'a> {
    fn new(args: &'a ReadArgs, scans: usize) -> Run<'a> {
        Run {
            args,
            exit: Exit::Analysed,
            output: Output::default(),
            progress: Progress::new(scans, args.quiet),
            folders: HashMap::new(),
            written: HashSet::new(),
            session: Session::default(),
            keeper: None,
        }
    }

    /// Says what went wrong and remembers it for the exit code.
    fn trouble(&mut self, trouble: &Trouble) {
        self.exit = self.exit.max(Exit::Failed);
        self.progress.aside(|| complain(trouble));
    }

    /// Says what of a sheet was not used. Every plate is read all the same, so it is no failure.
    fn note(&mut self, note: &Trouble) {
        self.progress.aside(|| complain(note));
        self.session.notes.push(note.words());
    }

    fn print(&mut self, line: &str) {
        let printed = self.progress.aside(|| self.output.line(line));
        if let Err(trouble) = printed {
            self.trouble(&trouble);
        }
    }

    /// The scans whose reports can be written, found out before any work is done.
    fn ready(&mut self, inputs: Vec<Input>) -> Vec<Input> {
        let mut unwritable = HashSet::new();
        inputs
            .into_iter()
            .filter(|input| {
                if unwritable.contains(&input.out) {
                    return false;
                }
                let checked = self.check(input);
                if let Err((trouble, folder_is_bad)) = checked {
                    self.trouble(&trouble);
                    if folder_is_bad {
                        unwritable.insert(input.out.clone());
                    }
                    return false;
                }
                true
            })
            .collect()
    }

    /// Err with true when nothing at all can be written in the folder.
    fn check(&mut self, input: &Input) -> Result<(), (Trouble, bool)> {
        if !input.scan.is_file() {
            // The decoder's own words are better than ours; nothing is made for such a scan.
            return Ok(());
        }
        if !self.folders.contains_key(&input.out) {
            let folder = OutFolder::open(&input.out).map_err(|trouble| (trouble, true))?;
            self.folders.insert(input.out.clone(), folder);
        }
        for ending in ["json", "html"] {
            let target = input.out.join(format!("{}.{ending}", input.stem));
            refuse_foreign(&target).map_err(|trouble| (trouble, false))?;
        }
        Ok(())
    }

    /// Reads one scan and writes the reports of its plates.
    fn read(&mut self, input: &Input, known: OfScan, settings: &Settings) -> Result<(), Trouble> {
        let turned = self.args.turned.as_deref();
        let read = || read_told(&input.scan, turned, &known.given, &known.told, settings);
        let outcomes = guarded(read)
            .map_err(|place| {
                Trouble::new(
                    &input.scan,
                    format!("the program failed at {place} while reading this scan"),
                    "this is a fault of the program; keep the scan and tell its maintainers",
                )
            })?
            .map_err(|error| {
                let begins = |file: &Path| error.to_string().starts_with(&*file.to_string_lossy());
                match &self.args.turned {
                    Some(turned) if begins(turned) => Trouble::of_analysis(turned, &error),
                    _ => Trouble::of_analysis(&input.scan, &error),
                }
            })?;
        let stems = stems(&input.stem, outcomes.len());
        self.write(input, &stems, &outcomes)?;
        let kept = self.keeper.as_mut().map_or(Ok(()), |keeper| {
            let reports = outcomes.iter().map(|outcome| &outcome.report);
            keeper.keep(stems.iter().map(String::as_str).zip(reports))
        });
        for (stem, outcome) in stems.into_iter().zip(outcomes) {
            self.keep(input, stem, outcome, &known);
        }
        kept
    }

    /// Writes page and JSON of every plate of a scan, all of them or none.
    fn write(
        &mut self,
        input: &Input,
        stems: &[String],
        outcomes: &[Outcome],
    ) -> Result<(), Trouble> {
        let mut files = Vec::new();
        for (stem, outcome) in stems.iter().zip(outcomes) {
            files.push((format!("{stem}.html"), outcome.html.as_str()));
            files.push((format!("{stem}.json"), outcome.json.as_str()));
        }
        let targets: Vec<_> = files.iter().map(|(name, _)| input.out.join(name)).collect();
        if let Some(twice) = targets.iter().find(|target| self.written.contains(*target)) {
            return Err(Trouble::new(
                &input.scan,
                format!(
                    "{} was already written for another scan of this run",
                    twice.display()
                ),
                "rename one of the two scans",
            ));
        }
        let Some(folder) = self.folders.get(&input.out) else {
            return Err(Trouble::new(
                &input.scan,
                "the file came into being while the run was under way",
                "read it again",
            ));
        };
        folder.write(&files)?;
        self.written.extend(targets);
        if self.args.json && self.args.sheet.is_none() {
            for outcome in outcomes {
                self.print(&compact(&outcome.json));
            }
        }
        Ok(())
    }

    fn keep(&mut self, input: &Input, stem: String, outcome: Outcome, known: &OfScan) {
        let worst = outcome
            .report
            .findings
            .iter()
            .filter(|finding| !finding.refuted())
            .map(|finding| finding.severity)
            .max();
        if let (Some(worst), Some(limit)) = (worst, self.args.fail_on)
            && worst >= limit
        {
            self.exit = self.exit.max(Exit::Reached);
        }
        if let Some(maker) = &outcome.report.maker {
            let idle = maker.verdicts.iter().filter(|v| v.finding.is_none());
            let idle: Vec<String> = idle.map(|v| v.written.clone()).collect();
            for written in idle {
                self.note(&Trouble::new(
                    &input.scan,
                    format!("the verdict `{written}` fits none of the findings of this plate"),
                    "the names of its findings stand under their titles in the report",
                ));
            }
        }
        self.session.entries.push(Entry {
            page: input.out.join(format!("{stem}.html")),
            report: outcome.report,
            picture: outcome.picture,
            grounds: outcome.grounds,
            shares: known.shares.clone(),
            line: known.line,
        });
    }

    /// Writes the page that lists all plates, when there are several, and gives its path.
    fn list_session(&mut self) -> Option<PathBuf> {
        let [first, _, ..] = &self.session.entries[..] else {
            return None;
        };
        let folder = self.folders.get(first.page.parent()?)?;
        match self.session.write(folder) {
            Ok(page) => Some(page),
            Err(trouble) => {
                self.trouble(&trouble);
                None
            }
        }
    }

    /// Weighs the causes of the plates anew with what they show together, and writes the reports that
    /// changed. Each was written when its plate was read, so that a run that is cut short leaves reports.
    fn weigh_together(&mut self) {
        let folders = &self.folders;
        let troubles = self.session.weigh_together(|page, files| {
            let folder = page.parent().and_then(|folder| folders.get(folder));
            folder.map_or(Ok(()), |folder| folder.write(files))
        });
        for trouble in troubles {
            self.trouble(&trouble);
        }
        if self.args.json {
            let reports = self.session.entries.iter();
            let lines: Vec<String> = reports
                .filter_map(|entry| entry.report.json().ok())
                .map(|json| compact(&json))
                .collect();
            for line in lines {
                self.print(&line);
            }
        }
    }

    /// Lists what was read, prints the table and gives the exit code.
    fn end(mut self) -> Exit {
        if self.args.sheet.is_some() {
            self.weigh_together();
        }
        let session = self.list_session();
        for folder in self.folders.values() {
            folder.remove_if_empty();
        }
        self.progress.finish();
        if !self.args.json && !self.args.quiet && !self.session.entries.is_empty() {
            let plates: Vec<(String, &Report)> = self
                .session
                .entries
                .iter()
                .map(|entry| (entry.name(), &entry.report))
                .collect();
            let mut text = table(&plates);
            if let Some(page) = session
                .as_ref()
                .or(self.session.entries.first().map(|e| &e.page))
            {
                text.push_str(&format!("\n\nLook at {}", page.display()));
            }
            if let Some(keeper) = &self.keeper {
                text.push_str(&format!("\n{}", keeper.summary()));
            }
            self.print(&text);
        }
        self.exit
    }
}
