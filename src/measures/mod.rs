//! Everything measured on one plate: numbers without a verdict.
//!
//! Comes in: a plate and its density map. Goes out: [`Measures`].
//! Units: density, millimetres in the plate frame. Not here: whether a number is a fault
//! (`findings`).

use crate::density::{Cells, DensityMap, FineSilver};
use crate::plate::{Plate, PlateKind};
use crate::scan::Scan;

pub mod bands;
pub mod bare;
pub mod clear_parts;
pub mod contrast;
pub mod flow_edge;
pub mod fog;
pub mod pour;
pub mod scratches;
pub mod specks;
pub mod stains;
pub mod tone;

pub use bands::{
    Across, AcrossForm, BandForm, DrainWaves, EdgeWaves, Family, InBorder, Line, Over, OverScene,
    RightAcross, RunsOn, Sweep,
};
use bands::{BandGrid, Ends};
pub use bare::BarePlace;
pub use clear_parts::{ClearParts, MilkyPatch};
pub use contrast::Contrast;
pub use flow_edge::FlowEdge;
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
    /// How far blacks and lights lie apart; `None` when it was not asked for.
    pub contrast: Option<Contrast>,
    /// Colour of the film from place to place; `None` when it was not asked for or the scan is grey.
    pub clear_parts: Option<ClearParts>,
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
    /// Single lines right across a picture; none are looked for on even plates, where bands tell more.
    pub right_across: Vec<RightAcross>,
    /// Soft bands that run in from an edge of a picture, the strongest runs; none are looked for on even plates.
    pub sweeps: Vec<Sweep>,
    /// Even waves by a corner, on even plates by a corner or an edge, the strongest.
    pub drain_waves: Option<DrainWaves>,
    /// Even waves by an edge of a picture, the strongest; none are looked for on even plates.
    pub edge_waves: Option<EdgeWaves>,
    /// How evenly an even plate is coated.
    pub pour: Option<Pour>,
    /// The strongest step across the coating of an even plate.
    pub flow_edge: Option<FlowEdge>,
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
    /// Look at the contrast and at the colour of the clear parts.
    pub tone: bool,
    /// Look at the edges.
    pub fog: bool,
    /// Look for small marks.
    pub specks: bool,
    /// Look for bands, the pour, bare places, stains and scratches.
    pub shapes: bool,
}

/// Measures one plate.
pub fn measure(scan: &Scan, plate: &Plate, map: &DensityMap, asked: Asked) -> Measures {
    let tones = || {
        let tone = tone::measure(scan, plate, map);
        let contrast = asked.tone.then(|| contrast(plate, map, &tone));
        let clear_parts = asked.tone.then(|| clear_parts::measure(scan, plate));
        (tone, contrast, clear_parts.flatten())
    };
    let ((tone, contrast, clear_parts), (fog, (specks, shapes))) = rayon::join(tones, || {
        rayon::join(
            || asked.fog.then(|| fog::measure(plate, map)),
            || {
                rayon::join(
                    || asked.specks.then(|| specks::measure(scan, plate, map)),
                    || asked.shapes.then(|| shapes(plate, map)),
                )
            },
        )
    });
    Measures {
        tone,
        contrast,
        clear_parts,
        fog,
        specks,
        shapes,
    }
}

/// Compares blacks, lights and border; where no square of 1 mm is all picture, by single cells.
pub fn contrast(plate: &Plate, map: &DensityMap, tone: &Tone) -> Contrast {
    let squares = tone.patch_d_light.as_ref().zip(tone.patch_d_dark.as_ref());
    let (lightest, darkest) = squares.unwrap_or((&tone.d_light, &tone.d_dark));
    contrast::measure(plate, map, [lightest, darkest], tone.range_d.u)
}

/// Cells in which large shapes are looked for, millimetres.
const SHAPE_CELL_MM: f64 = 0.2;

/// Cells in which scratches are looked for, millimetres.
const SCRATCH_CELL_MM: f64 = 0.08;

/// Cells in which lines right across a picture are looked for, millimetres: half the width of the finest.
const LINE_CELL_MM: f64 = 0.1;

/// Looks for bands, scratches, bare places and stains, and measures the pour of an even plate.
pub fn shapes(plate: &Plate, map: &DensityMap) -> ShapeMeasures {
    let fine = Cells::of(plate, SHAPE_CELL_MM);
    let coarse = fine.coarser(2);
    let for_scratches = FineSilver::of(plate, map, SCRATCH_CELL_MM);
    // Most scans have one grid that is right for both.
    let own_cells = plate.cells_along(LINE_CELL_MM) != for_scratches.factor;
    let for_lines = own_cells.then(|| FineSilver::of(plate, map, LINE_CELL_MM));
    let for_lines = for_lines.as_ref().unwrap_or(&for_scratches);
    let over = match plate.kind {
        PlateKind::Picture => Over::Scene,
        PlateKind::Blank | PlateKind::Flat | PlateKind::Wedge => Over::Even,
    };
    let right_across = || match over {
        Over::Scene => bands::right_across(plate, &fine, for_lines),
        Over::Even => Vec::new(),
    };
    let [fine_silver, coarse_silver] = [&fine, &coarse].map(|cells| cells.picture_silver(map));
    let ends = |cells: &Cells| {
        let silver = |at| cells.border_silver(map, at);
        let way = |upright| Ends::of(&plate.ledge, cells.shape(), silver, cells.pitch_mm, upright);
        (over == Over::Scene).then(|| [true, false].map(way))
    };
    let drain_waves = || bands::drain_waves(&coarse_silver, coarse.pitch_mm, over);
    let sweeps = || match over {
        Over::Scene => bands::sweeps(&coarse_silver, coarse.pitch_mm),
        Over::Even => Vec::new(),
    };
    let (
        (stains, (bands, ((right_across, sweeps), (drain_waves, edge_waves)))),
        (scratches, ((pour, flow_edge), bare)),
    ) = rayon::join(
        || {
            let grids = [(&fine_silver, &fine), (&coarse_silver, &coarse)];
            let grids = grids.map(|(silver, cells)| BandGrid {
                silver,
                pitch_mm: cells.pitch_mm,
                ends: ends(cells),
            });
            let bands = || bands::measure(grids, over);
            let of_scene = || rayon::join(|| rayon::join(right_across, sweeps), drain_waves);
            // Stains first: theirs are the longest pieces of work, and what comes last should be
            // short enough for two cores to end together.
            rayon::join(
                || stains::measure(plate, &fine, map),
                || rayon::join(bands, of_scene),
            )
        },
        || {
            let areas = || {
                let pour = || {
                    (
                        pour::measure(plate, &coarse, map),
                        flow_edge::measure(plate, &coarse, map),
                    )
                };
                rayon::join(pour, || bare::measure(plate, &fine, map))
            };
            rayon::join(|| scratches::measure(plate, map, &for_scratches), areas)
        },
    );
    ShapeMeasures {
        bands,
        right_across,
        sweeps,
        drain_waves,
        edge_waves,
        pour,
        flow_edge,
        bare,
        stains,
        scratches,
    }
}
