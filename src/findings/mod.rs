//! Named, graded faults.
//!
//! Comes in: [`Measures`] of one plate. Goes out: [`Finding`]s and what
//! could not be told.
//! Units: millimetres in the plate frame, density, degrees (names end in the unit).
//! Not here: how a number is measured (`measures`), why a fault arose (`causes`).

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::density::DensityMap;
use crate::doubts::Doubt;
use crate::measures::{Across, Measures};
use crate::plate::{Plate, PlateKind};
use crate::raster::Grid;
use crate::units::Reading;

mod dust;
pub mod faults;
mod fog;
mod lengths;
pub mod limits;
#[cfg(test)]
pub(crate) mod made;
mod names;
mod shapes;
pub mod signs;
mod specks;
mod tone;

pub use faults::Fault;
pub use names::{FindingName, names};
pub use signs::{Sign, SignName};

/// Names the faults that the measures of a plate bear out, gravest first, and what it cannot show.
pub fn judge(
    plate: &Plate,
    map: &DensityMap,
    measures: &Measures,
) -> (Vec<Finding>, Vec<CannotTell>) {
    let mut findings = Vec::new();
    let mut cannot_tell = Vec::new();
    if measures.fog.is_some() {
        fog::veil(plate, map, measures, &mut findings, &mut cannot_tell);
    }
    if let Some(contrast) = &measures.contrast {
        tone::flat(plate, contrast, &mut findings, &mut cannot_tell);
        let parts = measures.clear_parts.as_ref();
        tone::fixing(plate, parts, &mut findings, &mut cannot_tell);
    }
    if let Some(fog) = &measures.fog {
        if !fog::ends_in_the_lid(plate) {
            fog::edges(plate, fog, &mut findings);
            fog::leaks(plate, fog, &mut findings);
        }
        fog::cannot_tell(plate, &mut cannot_tell);
    }
    if let Some(marks) = &measures.specks {
        specks::comets(plate, marks, &mut findings);
        specks::round_marks(plate, marks, &mut findings);
        dust::on_the_glass(plate, marks, &mut findings);
        specks::cannot_tell(plate, &findings, &mut cannot_tell);
    }
    if let Some(measured) = &measures.shapes {
        shapes::bands(plate, measured, &mut findings);
        shapes::bare(plate, &measured.bare, &mut findings);
        shapes::stains(plate, &measured.stains, &mut findings);
        if let Some(pour) = &measured.pour {
            shapes::pour(plate, pour, &mut findings);
        }
        if let Some(edge) = &measured.flow_edge {
            shapes::second_flow(plate, edge, &mut findings);
        }
        let glass = measures
            .specks
            .as_ref()
            .and_then(|marks| marks.glass.as_deref());
        shapes::scratches(
            plate,
            &measured.scratches,
            glass,
            &mut findings,
            &mut cannot_tell,
        );
        shapes::take_their_own(plate, &mut findings);
        shapes::explained(plate, measured, &mut findings, &mut cannot_tell);
        shapes::cannot_tell(plate, measured, &findings, &mut cannot_tell);
    }
    // Only now is it known which edges are fogged.
    if let Some(fog) = &measures.fog {
        fog::set_shared_signs(plate, map, fog, &mut findings);
    }
    findings.sort_by(|a, b| {
        b.severity
            .cmp(&a.severity)
            .then(b.confidence.total_cmp(&a.confidence))
    });
    for (k, finding) in findings.iter_mut().enumerate() {
        finding.id = format!("f{}", k + 1);
    }
    (findings, cannot_tell)
}

/// The faults that the measures of a plate could have borne out.
pub fn looked_for(plate: &Plate, measures: &Measures) -> Vec<Fault> {
    let mut faults = Vec::new();
    if measures.fog.is_some() {
        faults.extend([Fault::Veil, Fault::EdgeFog, Fault::LightLeak]);
    }
    if measures.contrast.is_some() && plate.kind == PlateKind::Wedge {
        faults.push(Fault::FlatImage);
    }
    let parts = measures.clear_parts.as_ref();
    faults.extend(
        parts
            .filter(|parts| tone::shows_fixing(parts))
            .map(|_| Fault::Underfixed),
    );
    if measures.specks.is_some() {
        faults.extend([Fault::Comets, Fault::Pinholes, Fault::Specks]);
        if plate.turned.is_some() {
            faults.push(Fault::ScanDust);
        }
    }
    if let Some(measured) = &measures.shapes {
        if shapes::shows_bands(plate) {
            faults.extend([Fault::Streaks, Fault::DipLine, Fault::Ridges]);
        }
        faults.extend([Fault::BareArea, Fault::Scratch]);
        faults.extend(shapes::shows_stains(plate).then_some(Fault::Stain));
        faults.extend(measured.pour.is_some().then_some(Fault::UnevenPour));
    }
    faults
}

/// Whether the plate itself proves the fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Seen where no scene is, or in a shape that no scene makes.
    Measured,
    /// The scene could look like this.
    Suggested,
}

/// How much a fault matters to the eye.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Needs looking for.
    Trace,
    /// Seen at reading distance.
    Visible,
    /// Seen first.
    Spoils,
}

/// Sign of a fault in image silver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Polarity {
    MoreSilver,
    LessSilver,
    Mixed,
}

/// One mark of a group fault.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Mark {
    /// `[left, top, right, bottom]`, millimetres.
    pub box_mm: [f64; 4],
    /// Centre, millimetres.
    pub centre_mm: [f64; 2],
    /// Diameter of the circle with the area inside half height, millimetres.
    pub size_mm: f64,
    /// Length, millimetres.
    pub length_mm: Option<f64>,
    /// Direction from head to tail, degrees.
    pub direction_deg: Option<f64>,
    /// Axis, degrees.
    pub axis_deg: Option<f64>,
    /// How far both ends lie off the straight line through its centre, millimetres, to the right of an upright mark
    /// and below a level one: 0 for a straight one.
    pub sagitta_mm: f64,
    /// Mean difference of the core from the ring around it, density, always positive.
    pub contrast_d: f64,
    /// Expected number of such marks by chance on a clean plate.
    pub expected_false_alarms: f64,
}

/// What a chart of a finding is drawn from.
#[derive(Debug, Clone, PartialEq)]
pub enum Figure {
    /// Silver across bands.
    Bands {
        /// The values.
        across: Across,
        /// Whether they are counted from the left edge, else from the top.
        upright: bool,
        /// Whether they are counted from the top left corner instead.
        slanted: bool,
        /// Where each of the finding's bands begins and ends on the plate's middle, millimetres.
        bands_mm: Vec<[f64; 2]>,
    },
    /// Silver of an even plate at equal distances from edge to edge, density.
    Lie(Grid<f64>),
}

/// A fault on this plate.
#[derive(Debug, Clone)]
pub struct Finding {
    /// Unique within the report: `f1`, `f2` ...
    pub id: String,
    /// Which fault.
    pub fault: Fault,
    /// Edge or corner it belongs to (`top` ...), if any.
    pub place: Option<String>,
    /// One line for people.
    pub title: String,
    /// The readings that prove it, by name with unit suffix (`fog_d`, `depth_mm`).
    pub measured: Vec<(&'static str, Reading)>,
    /// Sign in image silver.
    pub polarity: Polarity,
    /// `[left, top, right, bottom]`, millimetres.
    pub box_mm: [f64; 4],
    /// Outline, millimetres.
    pub outline_mm: Option<Vec<[f64; 2]>>,
    /// Axis, degrees.
    pub axis_deg: Option<f64>,
    /// Direction, degrees.
    pub direction_deg: Option<f64>,
    /// Spread of the directions, degrees.
    pub direction_spread_deg: Option<f64>,
    /// The marks of a group fault.
    pub members: Option<Vec<Mark>>,
    /// Probability that a fault of this kind is really there, 0 to 1.
    pub confidence: f64,
    /// Expected number of such findings by chance on a clean plate.
    pub expected_false_alarms: f64,
    /// Whether the plate itself proves it.
    pub standing: Standing,
    /// How much it matters to the eye.
    pub severity: Severity,
    /// What the plate shows that speaks for one cause or another.
    pub signs: Vec<Sign>,
    /// Doubts about this finding.
    pub doubts: Vec<Doubt>,
    /// What a chart of it is drawn from.
    pub figure: Option<Figure>,
}

impl Finding {
    /// The reading of that name, if it was measured.
    pub fn reading(&self, name: &str) -> Option<&Reading> {
        self.measured
            .iter()
            .find(|(key, _)| *key == name)
            .map(|(_, reading)| reading)
    }
}

/// A fault that this plate cannot show, and the plate that would.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CannotTell {
    /// Which fault.
    pub fault: Fault,
    /// Why this plate cannot show it.
    pub because: String,
    /// The test plate to make.
    pub make_this_plate: String,
}
