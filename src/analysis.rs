//! The whole way for one scan; read this first.
//!
//! Comes in: a scan file, what the maker said of it, the settings. Goes out: an [`Outcome`] for each
//! plate in it; with the plates of a session, outcomes weighed anew. Units: as in the report. Not here: writing files (`cli`).

use std::path::{Path, PathBuf};

use crate::causes::{Catalogue, CatalogueError, PlateFacts, rank};
use crate::density::DensityMap;
use crate::findings::{Finding, Sign, judge, looked_for};
use crate::handling::Handling;
use crate::measures::{Asked, measure};
use crate::plate::turned::{TurnedError, lay_on};
use crate::plate::{Given, Plate, PlateError, SecondScan, plates};
use crate::report::{Parts, PlatePicture, Report, ReportError};
use crate::scan::{Scan, ScanError, Want, read};
use crate::settings::{MeasureName, Settings};
use crate::sheet::Told;

/// Why a scan could not be read.
#[derive(Debug, thiserror::Error)]
pub enum AnalysisError {
    /// The file is no scan that can be read.
    #[error(transparent)]
    Scan(#[from] ScanError),
    /// There is no plate in it that can be read.
    #[error(transparent)]
    Plate(#[from] PlateError),
    /// The second scan is none of the same plate turned half round.
    #[error("{}: {why}", file.display())]
    Turned {
        /// The second scan.
        file: PathBuf,
        /// Why not.
        why: TurnedError,
    },
    /// The built-in catalogue of causes is damaged.
    #[error(transparent)]
    Catalogue(#[from] CatalogueError),
    /// The report could not be put into words.
    #[error(transparent)]
    Report(#[from] ReportError),
}

impl AnalysisError {
    /// What to do next.
    pub fn hint(&self) -> String {
        match self {
            AnalysisError::Scan(error) => error.hint().to_string(),
            AnalysisError::Plate(error) => error.hint(),
            AnalysisError::Turned { why, .. } => why.hint().to_owned(),
            AnalysisError::Catalogue(_) | AnalysisError::Report(_) => {
                "this is a fault of the program; install it anew".to_owned()
            }
        }
    }
}

/// The report of one plate, in the forms in which it is written.
#[derive(Debug)]
pub struct Outcome {
    /// The report.
    pub report: Report,
    /// Its JSON text.
    pub json: String,
    /// Its page.
    pub html: String,
    /// The plate's pictures, for the page that lists all plates.
    pub picture: PlatePicture,
    /// What its causes were weighed from.
    pub grounds: Grounds,
}

/// What the causes of one plate are weighed from: kept until all plates of a session were read.
#[derive(Debug)]
pub struct Grounds {
    /// The findings, in the order of the report.
    pub findings: Vec<Finding>,
    /// What else bears on their causes.
    pub facts: PlateFacts,
    /// How the plate was handled.
    pub handling: Option<Handling>,
}

/// Reads a scan: one outcome for each plate in it, in reading order.
pub fn read_scan(
    path: &Path,
    given: &Given,
    settings: &Settings,
) -> Result<Vec<Outcome>, AnalysisError> {
    read_told(path, None, given, &Told::default(), settings)
}

/// Reads a scan together with a second one of the same plates turned half round on the glass: what stays
/// with the glass is dust. What the maker gave is about the first; corners are found in the second.
pub fn read_turned(
    path: &Path,
    turned: &Path,
    given: &Given,
    settings: &Settings,
) -> Result<Vec<Outcome>, AnalysisError> {
    read_told(path, Some(turned), given, &Told::default(), settings)
}

/// Reads a scan, and a second one turned half round if there is one, with what the maker told in a session
/// sheet: signs and answers weigh for all plates of the scan, verdicts for the findings that they name.
pub fn read_told(
    path: &Path,
    turned: Option<&Path>,
    given: &Given,
    told: &Told,
    settings: &Settings,
) -> Result<Vec<Outcome>, AnalysisError> {
    // The second scan first, of which little is kept.
    let second = match turned {
        Some(turned) => second_scans(turned, given, settings)?,
        None => Vec::new(),
    };
    let ((mut scan, mut plates), catalogue) =
        scan_and_plates(path, given, settings, Catalogue::built_in)?;
    let catalogue = catalogue?;
    if let Some(turned) = turned {
        lay_all_on(turned, second, &mut plates)?;
    }
    // The plates hold their own light, and only the lid beside them is still read from the scan's.
    // Giving large grids back takes time, for which a second core is free.
    let spent = (
        std::mem::take(&mut scan.clipped),
        std::mem::take(&mut scan.colour),
    );
    let (outcomes, ()) = rayon::join(
        || {
            plates
                .into_iter()
                .map(|plate| outcome(&scan, plate, (given, told), settings, &catalogue))
                .collect()
        },
        || drop(spent),
    );
    outcomes
}

/// What is kept of the plates of a turned scan.
fn second_scans(
    turned: &Path,
    given: &Given,
    settings: &Settings,
) -> Result<Vec<SecondScan>, AnalysisError> {
    let given = Given {
        corners_px: None,
        ..given.clone()
    };
    let ((_, plates), ()) = scan_and_plates(turned, &given, settings, || ())?;
    Ok(plates
        .into_iter()
        .map(|plate| SecondScan::of(turned, plate))
        .collect())
}

/// Lays each plate of the turned scan on its own. A plate that is not in the turned scan is read alone, and
/// its report says so, unless none is.
fn lay_all_on(
    turned: &Path,
    mut seconds: Vec<SecondScan>,
    plates: &mut [Plate],
) -> Result<(), AnalysisError> {
    let mut first_why = None;
    for plate in plates.iter_mut() {
        // Half a turn of the whole glass brings the plates in reverse order: the last fits the first.
        let mut left = Vec::new();
        while plate.turned.is_none()
            && let Some(second) = seconds.pop()
        {
            match lay_on(plate, second) {
                Ok(laid) => plate.turned = Some(laid),
                Err(refused) => {
                    let (why, second) = *refused;
                    first_why.get_or_insert(why);
                    left.push(second);
                }
            }
        }
        left.reverse();
        seconds.extend(left);
    }
    let why = first_why.unwrap_or(TurnedError::Picture);
    if plates.iter().all(|plate| plate.turned.is_none()) {
        let file = turned.to_path_buf();
        return Err(AnalysisError::Turned { file, why });
    }
    for plate in plates.iter_mut().filter(|plate| plate.turned.is_none()) {
        plate.warnings.push(
            "The second scan does not show this plate turned half round, so dust was not told by it."
                .to_owned(),
        );
    }
    Ok(())
}

/// The report of one plate and the forms in which it is written.
fn outcome(
    scan: &Scan,
    plate: Plate,
    (given, told): (&Given, &Told),
    settings: &Settings,
    catalogue: &Catalogue,
) -> Result<Outcome, AnalysisError> {
    // The picture is packed on one core, so beside the measures.
    let ((report, grounds), picture) = rayon::join(
        || report_of(scan, &plate, (given, told), settings, catalogue),
        || PlatePicture::of(&plate.picture, &scan.file_name()),
    );
    let picture = picture?;
    let (html, ()) = rayon::join(|| report.page(&picture), || drop(plate));
    Ok(Outcome {
        json: report.json()?,
        html: html?,
        picture,
        report,
        grounds,
    })
}

/// Weighs the causes of a plate anew with signs that came to light after it was read, a list for each of its
/// findings. Gives the report's new JSON text and page, or `None` where there is no such sign.
///
/// `picture` is the plate as in [`Outcome`].
pub fn reweigh(
    report: &mut Report,
    grounds: &mut Grounds,
    picture: &PlatePicture,
    signs: Vec<Vec<Sign>>,
    catalogue: &Catalogue,
) -> Result<Option<(String, String)>, AnalysisError> {
    if signs.iter().all(Vec::is_empty) {
        return Ok(None);
    }
    for (finding, signs) in grounds.findings.iter_mut().zip(signs) {
        finding.signs.extend(signs);
    }
    let ranked = rank(
        &grounds.findings,
        &grounds.facts,
        grounds.handling.as_ref(),
        catalogue,
    );
    report.reweigh(&grounds.findings, ranked);
    Ok(Some((report.json()?, report.page(picture)?)))
}

/// Coarsest cell that a plate may be measured on while its file holds finer ones, millimetres: a half
/// more than the working grid's.
const TOO_COARSE_MM: f64 = 0.065;

/// Decodes a scan and squares up its plates; once more, finer, when the file's tag turns out to have
/// claimed a resolution that it has not.
///
/// A file is decoded on all cores, but outlines are mostly found on one: `beside` is done meanwhile.
fn scan_and_plates<T: Send>(
    path: &Path,
    given: &Given,
    settings: &Settings,
    beside: impl FnOnce() -> T + Send,
) -> Result<((Scan, Vec<Plate>), T), AnalysisError> {
    let scan = read(path, &settings.scan, Want::FromTag)?;
    let (found, beside) = rayon::join(|| plates(&scan, given, &settings.plate), beside);
    let found = found?;
    let coarsest = found.iter().map(|plate| plate.pitch_mm).fold(0.0, f64::max);
    let known = found.iter().all(|plate| plate.dpi.is_some());
    if known && scan.reduce > 1 && coarsest > TOO_COARSE_MM {
        let per_cell = coarsest / settings.plate.finest_pitch_mm;
        let reduce = (scan.reduce as f64 / per_cell).round().max(1.0) as usize;
        if reduce < scan.reduce {
            let scan = read(path, &settings.scan, Want::Reduce(reduce))?;
            let found = plates(&scan, given, &settings.plate)?;
            return Ok(((scan, found), beside));
        }
    }
    Ok(((scan, found), beside))
}

/// Measures, judges and explains one plate.
fn report_of(
    scan: &Scan,
    plate: &Plate,
    (given, told): (&Given, &Told),
    settings: &Settings,
    catalogue: &Catalogue,
) -> (Report, Grounds) {
    let asked = Asked {
        tone: settings.wants(MeasureName::Tone),
        fog: settings.wants(MeasureName::Fog),
        specks: settings.wants(MeasureName::Specks),
        shapes: settings.wants(MeasureName::Shapes),
    };
    let map = DensityMap::of(plate, given.support_d);
    let measures = measure(scan, plate, &map, asked);
    let (mut findings, cannot_tell) = judge(plate, &map, &measures);
    let facts = PlateFacts {
        signs: told.signs.clone(),
        answers: told.answers.clone(),
        verdicts: told.verdicts.clone(),
        ..PlateFacts::of(plate)
    };
    let ranked = rank(&findings, &facts, given.handling.as_ref(), catalogue);
    let looked_for = looked_for(plate, &measures);
    let report = Report::assemble(Parts {
        scan,
        plate,
        handling: given.handling.as_ref(),
        calibration: None,
        tone: &measures.tone,
        profiles: measures
            .fog
            .as_ref()
            .map_or(&[], |fog| fog.profiles.as_slice()),
        findings: &findings,
        ranked,
        looked_for: &looked_for,
        cannot_tell: &cannot_tell,
        settings: serde_json::to_value(settings).unwrap_or_default(),
    });
    // Charts are drawn from the report by now.
    for finding in &mut findings {
        finding.figure = None;
    }
    let handling = given.handling.clone();
    let grounds = Grounds {
        findings,
        facts,
        handling,
    };
    (report.told(told), grounds)
}
