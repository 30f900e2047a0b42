//! The whole way for one scan; read this first.
//!
//! Comes in: a scan file, what the maker said of it, the settings. Goes out: an [`Outcome`] for each
//! plate in it. Units: as in the report. Not here: writing files (`cli`).

use std::path::Path;

use crate::causes::{Catalogue, CatalogueError, PlateFacts, rank};
use crate::density::DensityMap;
use crate::findings::{Fault, judge};
use crate::measures::{Asked, measure};
use crate::plate::{Given, Plate, PlateError, plates};
use crate::raster::Grid;
use crate::report::{Parts, Report, ReportError};
use crate::scan::{Scan, ScanError, Want, read};
use crate::settings::{MeasureName, Settings};

/// Why a scan could not be read.
#[derive(Debug, thiserror::Error)]
pub enum AnalysisError {
    /// The file is no scan that can be read.
    #[error(transparent)]
    Scan(#[from] ScanError),
    /// There is no plate in it that can be read.
    #[error(transparent)]
    Plate(#[from] PlateError),
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
    /// The plate in linear sRGB, for the page that lists all plates.
    pub thumbnail: Grid<[u16; 3]>,
}

/// Reads a scan: one outcome for each plate in it, in reading order.
pub fn read_scan(
    path: &Path,
    given: &Given,
    settings: &Settings,
) -> Result<Vec<Outcome>, AnalysisError> {
    let catalogue = Catalogue::built_in()?;
    let (mut scan, plates) = scan_and_plates(path, given, settings)?;
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
                .map(|plate| outcome(&scan, plate, given, settings, &catalogue))
                .collect()
        },
        || drop(spent),
    );
    outcomes
}

/// The report of one plate and the forms in which it is written.
fn outcome(
    scan: &Scan,
    plate: Plate,
    given: &Given,
    settings: &Settings,
    catalogue: &Catalogue,
) -> Result<Outcome, AnalysisError> {
    let report = report_of(scan, &plate, given, settings, catalogue);
    let Plate {
        picture,
        light,
        clipped,
        parts,
        ..
    } = plate;
    let (html, ()) = rayon::join(|| report.html(&picture), || drop((light, clipped, parts)));
    Ok(Outcome {
        json: report.json()?,
        html: html?,
        thumbnail: picture,
        report,
    })
}

/// Coarsest cell that a plate may be measured on while its file holds finer ones, millimetres: a half
/// more than the working grid's.
const TOO_COARSE_MM: f64 = 0.065;

/// Decodes a scan and squares up its plates; once more, finer, when the file's tag turns out to have
/// claimed a resolution that it has not.
fn scan_and_plates(
    path: &Path,
    given: &Given,
    settings: &Settings,
) -> Result<(Scan, Vec<Plate>), AnalysisError> {
    let scan = read(path, &settings.scan, Want::FromTag)?;
    let found = plates(&scan, given, &settings.plate)?;
    let coarsest = found.iter().map(|plate| plate.pitch_mm).fold(0.0, f64::max);
    let known = found.iter().all(|plate| plate.dpi.is_some());
    if known && scan.reduce > 1 && coarsest > TOO_COARSE_MM {
        let per_cell = coarsest / settings.plate.finest_pitch_mm;
        let reduce = (scan.reduce as f64 / per_cell).round().max(1.0) as usize;
        if reduce < scan.reduce {
            let scan = read(path, &settings.scan, Want::Reduce(reduce))?;
            let found = plates(&scan, given, &settings.plate)?;
            return Ok((scan, found));
        }
    }
    Ok((scan, found))
}

/// Measures, judges and explains one plate.
fn report_of(
    scan: &Scan,
    plate: &Plate,
    given: &Given,
    settings: &Settings,
    catalogue: &Catalogue,
) -> Report {
    let asked = Asked {
        fog: settings.wants(MeasureName::Fog),
        specks: settings.wants(MeasureName::Specks),
    };
    let map = DensityMap::of(plate, given.support_d);
    let measures = measure(scan, plate, &map, asked);
    let (findings, cannot_tell) = judge(plate, &map, &measures);
    let facts = PlateFacts::of(plate);
    let ranked = rank(&findings, &facts, given.handling.as_ref(), catalogue);
    let mut looked_for = Vec::new();
    if asked.fog {
        looked_for.extend([Fault::Veil, Fault::EdgeFog, Fault::LightLeak]);
    }
    if asked.specks {
        looked_for.extend([Fault::Comets, Fault::Pinholes, Fault::Specks]);
    }
    Report::assemble(Parts {
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
    })
}
