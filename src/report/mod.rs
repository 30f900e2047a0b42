//! The report of one plate: the only thing that is written or shown.
//!
//! Comes in: a plate, its measures, findings and causes. Goes out: [`Report`] as JSON, HTML and a
//! line of text. Units: as in the names of the fields. Not here: judging anything.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::causes::{LikelyCause, NextCheck, Ranked, Rest};
use crate::doubts::Doubt;
use crate::findings::{CannotTell, Fault, Finding, Polarity, Severity, Sign, Standing};
use crate::handling::{Corner, Handling};
use crate::measures::{EdgeProfile, Tone};
use crate::plate::{Edge, Plate, PlateKind, Process, ScaleSource, ScannedFrom};
use crate::raster::Grid;
use crate::scan::Scan;
use crate::sheet::Record;

mod assemble;
mod figures;
mod html;
mod json;
mod mark_figures;
mod picture;
mod plate_map;
mod rounding;
mod sentence;
mod session;
mod shape_figures;
mod shapes;
mod text;
mod told;
mod words;

pub use json::schema_json;
pub use picture::PlatePicture;
pub use session::{SessionEntry, SessionWords, session_html};
pub use shapes::ReportedAcross;
pub use text::{line, table};
pub use told::{ReportedVerdict, VerdictWord};

/// Name and version of the JSON object; a change of meaning raises the number.
pub const SCHEMA: &str = "oystermark/plate-report/1";

/// What went wrong while a finished report was written down.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// The report has no JSON form.
    #[error("report of {file} could not be put into JSON: {why}")]
    Json { file: String, why: String },
    /// The plate's picture could not be coded as JPEG.
    #[error("picture of {file} could not be coded for the page: {why}")]
    Picture { file: String, why: String },
    /// The page could not be filled in.
    #[error("page of {file} could not be filled in: {why}")]
    Page { file: String, why: String },
}

/// Fills in the template of a page in the manner of a report's, for rooms above this one. Values are escaped, and
/// `page.css` can be included.
///
/// # Errors
/// In words, when the template does not fit.
pub(crate) fn fill_page(
    name: &str,
    template: &str,
    view: &serde_json::Value,
) -> Result<String, String> {
    html::fill(name, template, view).map_err(|why| why.to_string())
}

/// Everything a report is put together from.
#[derive(Debug)]
pub struct Parts<'a> {
    /// The scan the plate lies in.
    pub scan: &'a Scan,
    /// The plate.
    pub plate: &'a Plate,
    /// What the maker said.
    pub handling: Option<&'a Handling>,
    /// Where the step from light to density comes from, in words; `None` when not calibrated.
    pub calibration: Option<&'a str>,
    /// Its tone.
    pub tone: &'a Tone,
    /// Silver against distance from the edges.
    pub profiles: &'a [EdgeProfile],
    /// Faults found.
    pub findings: &'a [Finding],
    /// Likely causes of each finding (in the order of `findings`) and of the plate.
    pub ranked: Ranked,
    /// Faults that were looked for.
    pub looked_for: &'a [Fault],
    /// Faults this plate cannot show.
    pub cannot_tell: &'a [CannotTell],
    /// Settings of the run.
    pub settings: serde_json::Value,
}

/// The report of one plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Report {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// The program that wrote it.
    pub program: Program,
    /// The scan file.
    pub scan: ScanFacts,
    /// The plate.
    pub plate: PlateFacts,
    /// What the maker said of pouring, dipping and developing.
    pub handling: Option<Handling>,
    /// What else the maker wrote in the session sheet; null when the plate has no row in one.
    #[serde(default)]
    pub maker: Option<Record>,
    /// Densities of the plate.
    pub density: DensityFacts,
    /// Faults found.
    pub findings: Vec<ReportedFinding>,
    /// Likely causes over all findings together, best first.
    pub plate_causes: Vec<LikelyCause>,
    /// The one check that tells most for its time.
    pub check_next: Option<NextCheck>,
    /// Faults that were looked for.
    pub looked_for: Vec<Fault>,
    /// Faults this plate cannot show, and the plate that would.
    pub cannot_tell: Vec<CannotTell>,
    /// Silver against distance from each edge.
    pub profiles: Vec<ReportedProfile>,
    /// Every doubt named in this report, explained once.
    pub doubts_explained: BTreeMap<Doubt, String>,
    /// Settings of the run, so that it can be repeated.
    pub settings: serde_json::Value,
}

/// The program that wrote a report.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Program {
    pub name: String,
    pub version: String,
}

/// The scan file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ScanFacts {
    /// Name of the file, without its folder.
    pub file: String,
    /// Width after the EXIF turn.
    pub width_px: usize,
    /// Height after the EXIF turn.
    pub height_px: usize,
    /// Bits a channel.
    pub bits: u8,
    /// Channels, alpha included.
    pub channels: u8,
    /// Resolution along x taken for this plate, dots per inch.
    pub dpi_x: Option<f64>,
    /// Resolution along y taken for this plate, dots per inch.
    pub dpi_y: Option<f64>,
    /// Where the scale comes from.
    pub scale_source: ScaleSource,
    /// Where the tone curve comes from, in words.
    pub colour_source: String,
    /// Where the step from light to density comes from, in words; null when not calibrated.
    pub calibration: Option<String>,
    /// The second scan of the plate, turned half round on the glass; null when there was none.
    #[serde(default)]
    pub turned: Option<TurnedFacts>,
    /// Things worth saying about the file, the plate's outline and its scale.
    pub warnings: Vec<String>,
    /// Doubts that hang on every number of this scan.
    pub doubts: Vec<Doubt>,
}

/// A second scan of the same plate, turned half round on the glass.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TurnedFacts {
    /// Name of the file, without its folder.
    pub file: String,
    /// What it was laid on the first scan by: the plate's picture, or its outline alone.
    pub laid_by: LaidByName,
    /// How closely places of the picture agree, millimetres; null when laid on by the outline or when
    /// nothing states the scale.
    pub within_mm: Option<f64>,
    /// Where the plate's corners, in the order of `plate.corners_px`, lie in the second scan, file pixels.
    pub corners_px: Option<[[f64; 2]; 4]>,
}

/// What a second scan is laid on the first by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LaidByName {
    Picture,
    Outline,
}

/// The plate in the scan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlateFacts {
    /// False when the whole picture was taken as the plate.
    pub found: bool,
    /// Corners in file pixels, clockwise from the top left.
    pub corners_px: [[f64; 2]; 4],
    /// Turn in the scan, degrees, clockwise positive.
    pub turn_deg: f64,
    /// Width; null when nothing states the scale.
    pub width_mm: Option<f64>,
    /// Height; null when nothing states the scale.
    pub height_mm: Option<f64>,
    /// Height over width, known without a scale.
    pub aspect: f64,
    /// Trade size it matches.
    pub size_name: Option<String>,
    pub process: Process,
    /// Side toward the scanner, when stated.
    pub scanned_from: Option<ScannedFrom>,
    pub kind: PlateKind,
    /// Doubts about outline, scale, process and kind.
    pub doubts: Vec<Doubt>,
}

/// Densities over the picture area. A key that ends in `_u` is the half width of the 95 % interval
/// of the number it follows, null where it is not known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DensityFacts {
    /// 2nd percentile.
    pub d_light: f64,
    pub d_light_u: Option<f64>,
    /// 98th percentile.
    pub d_dark: f64,
    pub d_dark_u: Option<f64>,
    /// `d_dark - d_light`.
    pub range_d: f64,
    pub range_d_u: Option<f64>,
    pub mean_d: f64,
    pub mean_d_u: Option<f64>,
    /// 2nd percentile over means of 1 mm squares.
    pub patch_d_light: Option<f64>,
    /// 98th percentile over means of 1 mm squares.
    pub patch_d_dark: Option<f64>,
    /// Veil above bare support; null where there is nothing to compare with.
    pub veil_d: Option<f64>,
    pub veil_d_u: Option<f64>,
    /// The density that counts as no silver.
    pub zero_d: f64,
    /// Where that zero comes from, in words.
    pub zero_source: String,
    /// One step of an 8-bit file at `d_light`, density; null for finer files.
    pub code_step_light_d: Option<f64>,
    /// One step of an 8-bit file at `d_dark`, density; null for finer files.
    pub code_step_dark_d: Option<f64>,
    pub histogram: ReportedHistogram,
    /// Share of the picture area that holds pixels at the highest file value, 0 to 1.
    pub clipped_light_fraction: f64,
    /// Share of the picture area that holds pixels at the lowest file value, 0 to 1.
    pub clipped_dark_fraction: f64,
    /// CIE L*a*b* (D50) of the mean light; null for a grey scan.
    pub tone: Option<ReportedTone>,
    /// Every doubt about these numbers.
    pub doubts: Vec<Doubt>,
    /// The same, by number.
    pub doubts_of: BTreeMap<String, Vec<Doubt>>,
}

/// Counts by density.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedHistogram {
    /// Bin edges, one more than counts.
    pub edges_d: Vec<f64>,
    /// Cells a bin over the whole plate as scanned, its border and rim included.
    pub counts: Vec<u64>,
    /// Cells a bin over the picture area alone.
    pub picture_counts: Vec<u64>,
}

/// CIE L*a*b*, D50.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "PascalCase")]
pub struct ReportedTone {
    pub l: f64,
    #[serde(rename = "a")]
    pub a: f64,
    #[serde(rename = "b")]
    pub b: f64,
}

/// The figures of a finding.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Measured {
    /// Numbers by name with unit suffix; `NAME_u` is the half width of the 95 % interval. Lengths
    /// are null when nothing states the scale.
    #[serde(flatten)]
    pub numbers: BTreeMap<String, Option<f64>>,
    /// Of an uneven pour: the corner with the most silver, if it rises to one side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thick_corner: Option<Corner>,
}

impl Measured {
    /// The number of that name, if it is known.
    pub fn number(&self, name: &str) -> Option<f64> {
        self.numbers.get(name).copied().flatten()
    }
}

/// A fault on this plate. Keys in `_share` repeat lengths as shares of the plate's width (x and
/// lengths) or height (y); they are there even when no scale is known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedFinding {
    pub id: String,
    /// The name by which the maker's verdict calls it: its fault and place.
    #[serde(default)]
    pub name: String,
    /// What the maker found it to be; null while they have not said.
    #[serde(default)]
    pub verdict: Option<ReportedVerdict>,
    pub fault: Fault,
    /// Edge or corner it belongs to.
    pub place: Option<String>,
    /// One line for people.
    pub title: String,
    pub measured: Measured,
    pub polarity: Polarity,
    pub box_mm: Option<[f64; 4]>,
    pub outline_mm: Option<Vec<[f64; 2]>>,
    pub box_share: [f64; 4],
    pub outline_share: Option<Vec<[f64; 2]>>,
    /// Edge fog only: its depth as a share of the plate's size across that edge.
    pub depth_share: Option<f64>,
    pub axis_deg: Option<f64>,
    pub direction_deg: Option<f64>,
    pub direction_spread_deg: Option<f64>,
    /// The marks of a group fault.
    pub members: Option<Vec<ReportedMark>>,
    /// Bands only: silver across them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub across: Option<ReportedAcross>,
    /// Uneven pour only: smoothed silver at equal distances from edge to edge, rows from the top, each
    /// from the left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lie_d: Option<Vec<Vec<f64>>>,
    /// Probability that a fault of this kind is really there.
    pub confidence: f64,
    /// Expected number of such findings by chance on a clean plate.
    pub expected_false_alarms: f64,
    pub standing: Standing,
    pub severity: Severity,
    /// What the plate shows for or against its causes.
    pub signs: Vec<Sign>,
    /// Likely causes, best first.
    pub causes: Vec<LikelyCause>,
    /// What is left beside the named causes; null where causes were not weighed.
    pub rest: Option<Rest>,
    /// Every doubt about this finding and its numbers.
    pub doubts: Vec<Doubt>,
    /// Doubts by number.
    pub doubts_of: BTreeMap<String, Vec<Doubt>>,
}

/// One mark of a group fault.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedMark {
    pub box_mm: Option<[f64; 4]>,
    pub centre_mm: Option<[f64; 2]>,
    pub size_mm: Option<f64>,
    pub length_mm: Option<f64>,
    pub centre_share: [f64; 2],
    /// Diameter as a share of the plate's width.
    pub size_share: f64,
    /// Length as a share of the plate's width.
    pub length_share: Option<f64>,
    pub direction_deg: Option<f64>,
    pub axis_deg: Option<f64>,
    /// How far both ends of a bent mark lie off the straight line through its centre, as a share of the plate's
    /// width: to the right of an upright one, below a level one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sagitta_share: Option<f64>,
    pub contrast_d: f64,
    pub expected_false_alarms: f64,
}

/// Silver against distance from one edge: lower quartile along the edge.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedProfile {
    pub edge: Edge,
    /// Distances; null when nothing states the scale.
    pub distance_mm: Option<Vec<f64>>,
    /// The same as shares of the plate's size across that edge.
    pub distance_share: Vec<f64>,
    pub silver_d: Vec<Option<f64>>,
    /// End of the border that the holder kept dark.
    pub ledge_mm: Option<f64>,
    pub ledge_share: Option<f64>,
    /// `a + f exp(-x/L)`, when fog was found.
    pub fit: Option<ReportedFit>,
}

/// The fit to an edge's profile, `base_d + fog_d exp(-x / depth)`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedFit {
    pub base_d: f64,
    pub fog_d: f64,
    pub depth_mm: Option<f64>,
    pub depth_share: f64,
}

impl Report {
    /// Puts a report together. Numbers are rounded for writing; lengths become null when nothing
    /// states the scale.
    pub fn assemble(parts: Parts) -> Report {
        assemble::assemble(parts)
    }

    /// The report as JSON text with a stable order of keys.
    ///
    /// # Errors
    /// When a number or name has no JSON form.
    pub fn json(&self) -> Result<String, ReportError> {
        json::write(self)
    }

    /// The report as one page that needs nothing else: no network, no other file.
    ///
    /// `picture` is the squared-up plate in linear sRGB, channels 0 to 65535, of any size.
    ///
    /// # Errors
    /// When the picture cannot be coded or the page cannot be filled in.
    pub fn html(&self, picture: &Grid<[u16; 3]>) -> Result<String, ReportError> {
        self.page(&PlatePicture::of(picture, &self.scan.file)?)
    }

    /// The same from pictures that are coded already.
    ///
    /// # Errors
    /// When the page cannot be filled in.
    pub fn page(&self, picture: &PlatePicture) -> Result<String, ReportError> {
        html::page(self, picture)
    }

    /// Findings as shown: worst first, then proven before suggested, then surest first; those that the maker
    /// calls no fault last.
    fn worst_first(&self) -> Vec<&ReportedFinding> {
        let mut findings: Vec<&ReportedFinding> = self.findings.iter().collect();
        findings.sort_by(|a, b| {
            let proven = |f: &ReportedFinding| f.standing == Standing::Measured;
            a.refuted()
                .cmp(&b.refuted())
                .then(b.severity.cmp(&a.severity))
                .then(proven(b).cmp(&proven(a)))
                .then(b.confidence.total_cmp(&a.confidence))
        });
        findings
    }

    /// The plate's name for people: the file's name without its ending.
    pub fn plate_name(&self) -> &str {
        match self.scan.file.rsplit_once('.') {
            Some((stem, _)) if !stem.is_empty() => stem,
            _ => &self.scan.file,
        }
    }
}
