//! Everything measured on one plate: numbers without a verdict.
//!
//! Comes in: a plate and its density map. Goes out: [`Measures`].
//! Units: density, millimetres in the plate frame. Not here: whether a number is a fault
//! (`findings`).

use crate::density::DensityMap;
use crate::plate::Plate;
use crate::scan::Scan;

pub mod fog;
pub mod tone;

pub use fog::{EdgeFog, EdgeProfile, FogMeasures, Ground, LightLeak};
pub use tone::{Histogram, Tone};

/// Everything measured on one plate.
#[derive(Debug, Clone, PartialEq)]
pub struct Measures {
    /// Density, range, histogram.
    pub tone: Tone,
    /// What fog there may be; `None` when it was not asked for.
    pub fog: Option<FogMeasures>,
}

/// Measures one plate; `fog` says whether to look at the edges.
pub fn measure(scan: &Scan, plate: &Plate, map: &DensityMap, fog: bool) -> Measures {
    let (tone, fog) = rayon::join(
        || tone::measure(scan, plate, map),
        || fog.then(|| fog::measure(plate, map)),
    );
    Measures { tone, fog }
}
