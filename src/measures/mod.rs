//! Everything measured on one plate: numbers without a verdict.
//!
//! Comes in: a plate and its density map. Goes out: [`Measures`].
//! Units: density, millimetres in the plate frame. Not here: whether a number is a fault
//! (`findings`).

use crate::density::DensityMap;
use crate::plate::Plate;
use crate::scan::Scan;

pub mod fog;
pub mod specks;
pub mod tone;

pub use fog::{EdgeFog, EdgeProfile, FogMeasures, Ground, LightLeak};
pub use specks::{Piece, Speck, SpeckMeasures};
pub use tone::{Histogram, Tone};

/// Everything measured on one plate.
#[derive(Debug, Clone, PartialEq)]
pub struct Measures {
    /// Density, range, histogram.
    pub tone: Tone,
    /// What fog there may be; `None` when it was not asked for.
    pub fog: Option<FogMeasures>,
    /// Small marks; `None` when they were not asked for.
    pub specks: Option<SpeckMeasures>,
}

/// Which measures to take beside the tone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asked {
    /// Look at the edges.
    pub fog: bool,
    /// Look for small marks.
    pub specks: bool,
}

/// Measures one plate.
pub fn measure(scan: &Scan, plate: &Plate, map: &DensityMap, asked: Asked) -> Measures {
    let (tone, (fog, specks)) = rayon::join(
        || tone::measure(scan, plate, map),
        || {
            rayon::join(
                || asked.fog.then(|| fog::measure(plate, map)),
                || asked.specks.then(|| specks::measure(scan, plate, map)),
            )
        },
    );
    Measures { tone, fog, specks }
}
