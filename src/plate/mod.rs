//! The plates in a scan: found, squared up, scaled, their parts told apart.
//!
//! Comes in: a [`Scan`](crate::scan::Scan). Goes out: one [`Plate`] for each plate in it, lying as
//! in the scan (no quarter turns), on a square grid.
//! Units: millimetres in the plate frame (origin top left, x right, y down); `None` for a length
//! when nothing states the scale. Not here: density, silver, faults.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::doubts::Doubt;
use crate::raster::{Grid, Mask};

pub mod sizes;

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

/// The side of the plate that lay toward the scanner.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ScannedFrom {
    CoatedSide,
    ThroughGlass,
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
    /// Linear light of the surround beside the plate, if any is in the scan.
    pub surround_light: Option<f64>,
    /// Linear sRGB picture of the squared-up plate for the page, channels 0 to 65535.
    pub picture: Grid<[u16; 3]>,
    /// Side of one cell of `picture`, millimetres.
    pub picture_pitch_mm: f64,
    /// Doubts about outline, scale, process and kind.
    pub doubts: Vec<Doubt>,
}

impl Plate {
    /// Cells of the picture area.
    pub fn picture_mask(&self) -> Mask {
        self.parts.mapv(|part| part == Part::Picture)
    }
}
