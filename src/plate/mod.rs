//! The plates in a scan: found, squared up, scaled, their parts told apart.
//!
//! Comes in: a [`Scan`]. Goes out: one [`Plate`] for each plate in it, lying as
//! in the scan (no quarter turns), on a square grid.
//! Units: millimetres in the plate frame (origin top left, x right, y down); `None` for a length
//! when nothing states the scale. Not here: density, silver, faults.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::doubts::Doubt;
use crate::raster::{Grid, Mask};
use crate::scan::Scan;

pub mod band;
mod find;
pub mod given;
mod judge;
mod parts;
mod scale;
pub mod sizes;
mod square_up;
pub mod turned;

use crate::handling::Corner;
pub use crate::handling::ScannedFrom;
pub use given::Given;
pub use turned::{LaidBy, SecondScan, Turned};

/// Which of the three wet-plate processes the plate was made by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Process {
    PositiveOnMetal,
    PositiveOnGlass,
    NegativeOnGlass,
}

impl Process {
    /// More silver is lighter on a positive, denser on a negative.
    pub fn is_positive(self) -> bool {
        self != Process::NegativeOnGlass
    }

    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            Process::PositiveOnMetal => "positive on metal",
            Process::PositiveOnGlass => "positive on glass",
            Process::NegativeOnGlass => "negative on glass",
        }
    }
}

/// What the plate was made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PlateKind {
    /// A picture of a scene.
    Picture,
    /// Sensitized, never exposed, developed: shows support and fog.
    Blank,
    /// Evenly exposed.
    Flat,
    /// Exposed in steps.
    Wedge,
}

impl PlateKind {
    /// Words for people.
    pub fn words(self) -> &'static str {
        match self {
            PlateKind::Picture => "picture",
            PlateKind::Blank => "blank (unexposed) test plate",
            PlateKind::Flat => "flat (evenly exposed) test plate",
            PlateKind::Wedge => "stepped test plate",
        }
    }
}

/// One edge of the plate as it lies in the scan.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Edge {
    Top,
    Right,
    Bottom,
    Left,
}

impl Edge {
    /// Clockwise from the top.
    pub const ALL: [Edge; 4] = [Edge::Top, Edge::Right, Edge::Bottom, Edge::Left];

    /// The word used in reports.
    pub fn word(self) -> &'static str {
        match self {
            Edge::Top => "top",
            Edge::Right => "right",
            Edge::Bottom => "bottom",
            Edge::Left => "left",
        }
    }

    /// The two edges that end in a corner.
    pub fn of_corner(corner: Corner) -> [Edge; 2] {
        match corner {
            Corner::TopLeft => [Edge::Top, Edge::Left],
            Corner::TopRight => [Edge::Top, Edge::Right],
            Corner::BottomRight => [Edge::Bottom, Edge::Right],
            Corner::BottomLeft => [Edge::Bottom, Edge::Left],
        }
    }
}

/// A place on the plate, millimetres from its top left corner.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Place {
    /// `[left, top, right, bottom]`.
    pub box_mm: [f64; 4],
    /// Outline, when it is more than the box.
    pub outline_mm: Option<Vec<[f64; 2]>>,
}

/// The part of the plate a cell belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[repr(u8)]
pub enum Part {
    /// Beyond the plate: surround, nicked or clipped corners.
    Outside = 0,
    /// Support without coating.
    Rim = 1,
    /// Kept from the light by the holder's ledge or corner supports.
    Border = 2,
    /// The picture area.
    Picture = 3,
}

/// How wide the border is that the holder's ledge kept dark, per edge, millimetres from the plate's
/// edge to the middle of the half shadow. `None` where the edge has none.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ledge {
    /// In the order of [`Edge::ALL`].
    pub width_mm: [Option<f64>; 4],
    /// True where no step shows it and the width is a careful guess from the other edges.
    pub assumed: [bool; 4],
}

/// A rim without coating along one edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rim {
    /// Median width, millimetres.
    pub width_mm: f64,
    /// Density of the bare support there.
    pub density_d: f64,
    /// Millimetres of the edge (about) on which it shows broad enough to be read; 0 when its density is
    /// only that of its outer part.
    pub blocks: usize,
    /// How far its inner line strays to either side along the edge, half of the span between the tenth and the ninetieth
    /// percentile of its widths, millimetres: the film's own edge is wavy, a lip ends where the cut does.
    pub waves_mm: f64,
}

/// Where the scale comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ScaleSource {
    /// The resolution stated in the file.
    FileTag,
    /// The resolution stated in the file, its unit corrected.
    FileTagUnitCorrected,
    /// The plate size given by the maker.
    PlateSize,
    /// Nothing states it: lengths are absent.
    Unknown,
}

/// One plate of the scan, squared up.
#[derive(Debug, Clone)]
pub struct Plate {
    /// False when the whole picture was taken because no outline could be told.
    pub found: bool,
    /// Corners in file pixels (centres at .5), clockwise from the top left.
    pub corners_px: [[f64; 2]; 4],
    /// How far the plate lies turned in the scan, degrees, clockwise positive as seen.
    pub turn_deg: f64,
    /// Width and height, millimetres; nominal (long side 100) when `scale_source` is `Unknown`.
    pub width_mm: f64,
    /// See `width_mm`.
    pub height_mm: f64,
    /// Resolution of the file along x and y, dots per inch; `None` when unknown.
    pub dpi: Option<(f64, f64)>,
    /// Where the scale comes from.
    pub scale_source: ScaleSource,
    /// Name of the trade size it matches, if any.
    pub size_name: Option<String>,
    /// Process, given or judged (then with a doubt).
    pub process: Process,
    /// Kind, given or judged (then with a doubt).
    pub kind: PlateKind,
    /// Side toward the scanner, when stated.
    pub scanned_from: Option<ScannedFrom>,
    /// Linear light, squared up: cell `[[i, j]]` is centred on `((j + 0.5), (i + 0.5)) * pitch_mm`.
    pub light: Grid<f32>,
    /// Side of one cell, millimetres.
    pub pitch_mm: f64,
    /// Clip bits per cell, as in [`Scan::clipped`](crate::scan::Scan::clipped).
    pub clipped: Grid<u8>,
    /// The part each cell belongs to.
    pub parts: Grid<Part>,
    /// The border that the holder's ledge kept dark, where it was found.
    pub ledge: Ledge,
    /// The rim without coating, per edge in the order of [`Edge::ALL`].
    pub rims: [Option<Rim>; 4],
    /// Linear light of the surround beside the plate, if any is in the scan.
    pub surround_light: Option<f64>,
    /// Linear sRGB picture of the squared-up plate for the page, channels 0 to 65535.
    pub picture: Grid<[u16; 3]>,
    /// Side of one cell of `picture`, millimetres.
    pub picture_pitch_mm: f64,
    /// Things worth saying about outline and scale, one sentence each.
    pub warnings: Vec<String>,
    /// Doubts about outline, scale, process and kind.
    pub doubts: Vec<Doubt>,
    /// A second scan of the plate, turned half round on the glass and laid on this one.
    pub turned: Option<Turned>,
}

/// Finds, squares up and scales every plate of a scan, in reading order.
///
/// What the maker did not say is judged from the scan and marked with a doubt. The picture is taken
/// as one plate when no outline can be told.
pub fn plates(
    scan: &Scan,
    given: &Given,
    settings: &PlateSettings,
) -> Result<Vec<Plate>, PlateError> {
    if scan.width_px < SMALLEST_SIDE_PX || scan.height_px < SMALLEST_SIDE_PX {
        return Err(PlateError::TooSmall {
            file: scan.file.clone(),
            width_px: scan.width_px,
            height_px: scan.height_px,
        });
    }
    let outlines = match given.corners_px {
        Some(corners) => vec![find::stated(scan, corners)?],
        None => find::outlines(&scan.light, &|w, h| {
            scale::misfit(scan, given, w * scan.reduce as f64, h * scan.reduce as f64)
        }),
    };
    Ok(outlines
        .into_iter()
        .map(|outline| {
            let scale = scale::settle(scan, given, &outline);
            let mut plate = square_up::plate(scan, given, &outline, scale, settings);
            judge::process(&mut plate, given);
            parts::tell_apart(&mut plate);
            judge::kind(&mut plate, given);
            plate
        })
        .collect())
}

/// Shortest side of a picture that can hold a plate worth reading, pixels. Our own choice; a smaller
/// one is a thumbnail.
const SMALLEST_SIDE_PX: usize = 100;

/// Knobs of this room.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlateSettings {
    /// Finest cell of the squared-up plate, millimetres.
    pub finest_pitch_mm: f64,
}

impl Default for PlateSettings {
    fn default() -> Self {
        PlateSettings {
            // 600 cells an inch.
            finest_pitch_mm: crate::units::MM_PER_INCH / 600.0,
        }
    }
}

/// Why no plate could be read from a scan.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlateError {
    /// A thumbnail.
    #[error("{}: the picture is only {width_px} x {height_px} pixels", file.display())]
    TooSmall {
        /// The scan.
        file: std::path::PathBuf,
        /// Its width, file pixels.
        width_px: usize,
        /// Its height, file pixels.
        height_px: usize,
    },
    /// Stated corners that are no quadrilateral inside the picture.
    #[error("{}: the stated corners do not enclose a plate inside the picture of {width_px} x {height_px} pixels", file.display())]
    Corners {
        /// The scan.
        file: std::path::PathBuf,
        /// Its width, file pixels.
        width_px: usize,
        /// Its height, file pixels.
        height_px: usize,
    },
}

impl PlateError {
    /// What to do about it.
    pub fn hint(&self) -> String {
        match self {
            PlateError::TooSmall { .. } => {
                "scan the plate itself at 300 dots per inch or more".to_owned()
            }
            PlateError::Corners { .. } => {
                "give --corners as x1,y1,x2,y2,x3,y3,x4,y4 in pixels of the picture, clockwise from the top left".to_owned()
            }
        }
    }
}

impl Plate {
    /// +1 where more silver is denser (negatives), -1 where it is lighter (positives).
    pub fn silver_sign(&self) -> f64 {
        if self.process.is_positive() {
            -1.0
        } else {
            1.0
        }
    }

    /// Whether the squared-up plate reaches to its own edges: an outline was found, or the whole picture
    /// has the size of a plate.
    pub fn shows_its_edges(&self) -> bool {
        self.found || (self.size_name.is_some() && self.scale_source != ScaleSource::PlateSize)
    }

    /// Cells of this plate's grid along one side of a coarser cell of about `cell_mm`, at least 1.
    pub fn cells_along(&self, cell_mm: f64) -> usize {
        ((cell_mm / self.pitch_mm).round() as usize).max(1)
    }

    /// Cells of the picture area.
    pub fn picture_mask(&self) -> Mask {
        self.parts.mapv(|part| part == Part::Picture)
    }
}
