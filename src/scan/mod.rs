//! A scan file becomes linear light.
//!
//! Comes in: the path of a TIFF, PNG or JPEG file. Goes out: [`Scan`], light relative to the
//! encoding's white (0 to 1, linear), averaged down in linear light to a working grid.
//! Units: pixels of the file after its EXIF turn, centres at .5; resolution in dots per inch.
//! Not here: where the plate is (`plate`), density (`density`).

mod average;
mod colour;
mod decode;
mod error;
mod exif;
mod icc;
mod icc_tables;
mod jpeg;
mod picture;
mod png;
mod scale;
mod tiff;
mod tiff_rows;
mod unpack;

use std::path::{Path, PathBuf};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::doubts::Doubt;
use crate::raster::Grid;

pub use error::ScanError;

/// How file values code light when the file has no usable profile.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema, Default)]
#[serde(rename_all = "snake_case")]
pub enum Encoding {
    /// IEC 61966-2-1.
    #[default]
    Srgb,
    /// Adobe RGB (1998), exponent 563/256.
    AdobeRgb1998,
    /// A pure power of 2.2.
    Gamma22,
    /// Values proportional to light.
    Linear,
}

/// Knobs of this room.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct ScanSettings {
    /// Encoding taken for files without a usable profile.
    pub encoding: Encoding,
    /// Finest working grid, cells per inch; finer scans are averaged down to about this.
    pub working_dpi: f64,
    /// Largest picture read, in pixels.
    pub max_pixels: u64,
    /// Largest amount held at once for files that cannot be read piecewise, bytes.
    pub max_held_bytes: u64,
}

impl Default for ScanSettings {
    fn default() -> Self {
        ScanSettings {
            encoding: Encoding::Srgb,
            working_dpi: 600.0,
            max_pixels: 1_500_000_000,
            max_held_bytes: 512 << 20,
        }
    }
}

/// What the file says of its resolution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DpiTag {
    /// Value along x in the tag's own unit.
    pub x: f64,
    /// Value along y in the tag's own unit.
    pub y: f64,
    /// Unit of the two values.
    pub unit: DpiUnit,
}

/// Unit of a resolution tag.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DpiUnit {
    /// Dots per inch.
    Inch,
    /// Dots per centimetre.
    Centimetre,
    /// Dots per metre (PNG).
    Metre,
    /// Only the aspect is stated.
    None,
}

impl DpiTag {
    /// Resolution along x and y in dots per inch, `None` when the tag states no unit.
    pub fn dpi(&self) -> Option<(f64, f64)> {
        let per_inch = match self.unit {
            DpiUnit::Inch => 1.0,
            DpiUnit::Centimetre => 2.54,
            DpiUnit::Metre => 0.0254,
            DpiUnit::None => return None,
        };
        Some((self.x * per_inch, self.y * per_inch))
    }
}

/// A cell of [`Scan::clipped`] holds a pixel at the lowest value of the file.
pub const CLIPPED_DARK: u8 = 1;
/// A cell of [`Scan::clipped`] holds a pixel at the highest value of the file.
pub const CLIPPED_LIGHT: u8 = 2;

/// A scan after decoding.
#[derive(Debug, Clone)]
pub struct Scan {
    /// The file it was read from.
    pub file: PathBuf,
    /// Width of the picture after its EXIF turn, file pixels.
    pub width_px: usize,
    /// Height of the picture after its EXIF turn, file pixels.
    pub height_px: usize,
    /// Bits a channel.
    pub bits: u8,
    /// Channels in the file, alpha included.
    pub channels: u8,
    /// Linear light (CIE Y relative to the encoding's white), `f32`, 0 to 1. Cell `[[i, j]]` is the
    /// mean over the file pixels `i*reduce..`, `j*reduce..` (fewer at the far edges).
    pub light: Grid<f32>,
    /// File pixels along one side of a cell of `light`.
    pub reduce: usize,
    /// Per cell of `light`: [`CLIPPED_DARK`] and [`CLIPPED_LIGHT`] bits.
    pub clipped: Grid<u8>,
    /// Linear sRGB (D65 primaries of IEC 61966-2-1), each channel 0 to 1 as 0 to 65535, on a
    /// coarser grid, for the page's picture and the tone.
    pub colour: Grid<[u16; 3]>,
    /// File pixels along one side of a cell of `colour`.
    pub colour_reduce: usize,
    /// What the file says of its resolution.
    pub dpi_tag: Option<DpiTag>,
    /// Linear light of each code value when the file has 8 bits a channel (256 values).
    pub code_light: Option<Vec<f32>>,
    /// Where the tone curve comes from, for people: `embedded profile "..."`, `PNG gAMA` ...
    pub colour_source: String,
    /// Things worth saying about the file, one sentence each.
    pub warnings: Vec<String>,
    /// Doubts that hang on all light values of this scan.
    pub doubts: Vec<Doubt>,
}

impl Scan {
    /// Name of the file without its folder.
    pub fn file_name(&self) -> String {
        let name = self.file.file_name().unwrap_or(self.file.as_os_str());
        name.to_string_lossy().into_owned()
    }
}

/// How many file pixels are averaged into one cell of [`Scan::light`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Want {
    /// As many along a side as bring the file's resolution to about
    /// [`ScanSettings::working_dpi`]; 1 when the file states no believable resolution.
    FromTag,
    /// This many along a side; 0 is read as 1, more than the longer side as the longer side.
    Reduce(usize),
}

/// Reads a scan. In either case of [`Want`] more is averaged where the working grid would have
/// more than 64 Mi cells; [`Scan::reduce`] says what was done.
///
/// TIFF and PNG are read piece by piece, so memory grows with the working grid and not with the
/// file; what has to be held as a whole is capped by [`ScanSettings::max_held_bytes`].
///
/// # Errors
/// Every way in which a file can fail to be a scan, as [`ScanError`]; never a panic.
pub fn read(path: &Path, settings: &ScanSettings, want: Want) -> Result<Scan, ScanError> {
    let open = decode::open(path)?;
    let picture = decode::picture(&open, settings)?;
    decode::scan(&open, picture, settings, want)
}
