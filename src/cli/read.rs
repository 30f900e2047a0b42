//! `oystermark read`: scans become reports.

use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

use oystermark::analysis::{Outcome, read_told};
use oystermark::report::{Report, table};
use oystermark::settings::Settings;
use oystermark::sheet::Record;

use super::bath::keep::Keeper;
use super::exit::{Exit, Trouble};
use super::guard::guarded;
use super::inputs::{Input, gather};
use super::screen::{Output, Progress, complain};
use super::session::{Entry, Session};
use super::told::{Maker, OfScan};
use super::write::{OutFolder, compact, refuse_foreign, stems};

mod options;

pub use options::ReadArgs;

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
        self.note_idle_verdicts(input, &outcomes);
        for (stem, outcome) in stems.into_iter().zip(outcomes) {
            self.keep(input, stem, outcome, &known);
        }
        kept
    }

    /// Names the verdicts of a row that fit no finding on any plate of its scan.
    fn note_idle_verdicts(&mut self, input: &Input, outcomes: &[Outcome]) {
        let told = outcomes.iter().map(|outcome| outcome.report.maker.as_ref());
        let Some(told) = told.collect::<Option<Vec<_>>>() else {
            return;
        };
        let Some(first) = told.first() else {
            return;
        };
        let of = match outcomes.len() {
            1 => "this plate".to_owned(),
            plates => format!("the {plates} plates of this scan"),
        };
        for (at, verdict) in first.verdicts.iter().enumerate() {
            let fits = |maker: &&Record| {
                let own = maker.verdicts.get(at);
                own.is_some_and(|own| own.finding.is_some())
            };
            if !told.iter().any(fits) {
                self.note(&Trouble::new(
                    &input.scan,
                    format!(
                        "the verdict `{}` fits none of the findings of {of}",
                        verdict.written
                    ),
                    "the names of its findings stand under their titles in the report",
                ));
            }
        }
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
