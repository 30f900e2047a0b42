//! What the maker said about a plate before it was read.

use serde::{Deserialize, Serialize};

use crate::handling::Handling;
use crate::plate::sizes::PlateSize;
use crate::plate::{PlateKind, Process, ScannedFrom};

/// What is known of a plate beside its scan. Every field may be missing; what is missing is judged
/// from the scan, and the report says so with a doubt.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Given {
    /// The process it was made by.
    pub process: Option<Process>,
    /// What it was made for.
    pub kind: Option<PlateKind>,
    /// Its size.
    pub plate_size: Option<PlateSize>,
    /// Its corners in file pixels (pixel centres at .5), clockwise from the top left as it lies in
    /// the scan; the scan then holds this one plate.
    pub corners_px: Option<[[f64; 2]; 4]>,
    /// The side that lay toward the scanner.
    pub scanned_from: Option<ScannedFrom>,
    /// Density of the bare support (japanned metal, black glass, clear glass).
    pub support_d: Option<f64>,
    /// How it was poured, dipped and developed.
    pub handling: Option<Handling>,
}
