//! Everything measured on one plate: numbers without a verdict.
//!
//! Comes in: a plate and its density map. Goes out: [`Measures`].
//! Units: density, millimetres in the plate frame. Not here: whether a number is a fault
//! (`findings`).

use crate::density::{Cells, DensityMap};
use crate::plate::{Plate, PlateKind};
use crate::scan::Scan;

pub mod bands;
pub mod bare;
pub mod fog;
pub mod pour;
pub mod scratches;
pub mod specks;
pub mod stains;
pub mod tone;

pub use bands::{Across, Family, Line, Over, OverScene};
pub use bare::BarePlace;
pub use fog::{EdgeFog, EdgeProfile, FogMeasures, Ground, LightLeak};
pub use pour::Pour;
pub use scratches::{ScratchMeasures, ThinLine};
pub use specks::{Piece, Speck, SpeckMeasures};
pub use stains::{Stain, StainGround};
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
    /// Shapes of the hand and the bath; `None` when they were not asked for.
    pub shapes: Option<ShapeMeasures>,
}

/// What pour, dip and developer leave all over a plate.
#[derive(Debug, Clone, PartialEq)]
pub struct ShapeMeasures {
    /// Straight bands, by way of looking.
    pub bands: Vec<Family>,
    /// How evenly an even plate is coated.
    pub pour: Option<Pour>,
    /// Places without coating.
    pub bare: Vec<BarePlace>,
    /// Stains that creep in from the rim.
    pub stains: Vec<Stain>,
    /// Thin lines with less silver.
    pub scratches: ScratchMeasures,
}

/// Which measures to take beside the tone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asked {
    /// Look at the edges.
    pub fog: bool,
    /// Look for small marks.
    pub specks: bool,
    /// Look for bands, the pour, bare places, stains and scratches.
    pub shapes: bool,
}

/// Measures one plate.
pub fn measure(scan: &Scan, plate: &Plate, map: &DensityMap, asked: Asked) -> Measures {
    let (tone, (fog, (specks, shapes))) = rayon::join(
        || tone::measure(scan, plate, map),
        || {
            rayon::join(
                || asked.fog.then(|| fog::measure(plate, map)),
                || {
                    rayon::join(
                        || asked.specks.then(|| specks::measure(scan, plate, map)),
                        || asked.shapes.then(|| shapes(plate, map)),
                    )
                },
            )
        },
    );
    Measures {
        tone,
        fog,
        specks,
        shapes,
    }
}

/// Cells in which large shapes are looked for, millimetres.
const SHAPE_CELL_MM: f64 = 0.2;

/// Looks for bands, scratches, bare places and stains, and measures the pour of an even plate.
pub fn shapes(plate: &Plate, map: &DensityMap) -> ShapeMeasures {
    let fine = Cells::of(plate, SHAPE_CELL_MM);
    let coarse = fine.coarser(2);
    let over = match plate.kind {
        PlateKind::Picture => Over::Scene,
        PlateKind::Blank | PlateKind::Flat | PlateKind::Wedge => Over::Even,
    };
    let ((bands, stains), (scratches, (pour, bare))) = rayon::join(
        || {
            let bands = || bands::measure([&fine, &coarse], map, over);
            rayon::join(bands, || stains::measure(plate, &fine, map))
        },
        || {
            let areas = || {
                let pour = || pour::measure(plate, &coarse, map);
                rayon::join(pour, || bare::measure(plate, &fine, map))
            };
            rayon::join(|| scratches::measure(plate, map), areas)
        },
    );
    ShapeMeasures {
        bands,
        pour,
        bare,
        stains,
        scratches,
    }
}
