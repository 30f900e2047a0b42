//! Everything measured on one plate: numbers without a verdict.
//!
//! Comes in: a plate and its density map. Goes out: [`Measures`].
//! Units: density, millimetres in the plate frame. Not here: whether a number is a fault
//! (`findings`).

use crate::density::DensityMap;
use crate::plate::{Edge, Plate};
use crate::scan::Scan;

pub mod edge_fog;
pub mod light_leak;
pub mod tone;

pub use edge_fog::{EdgeFog, EdgeProfile, Ground};
pub use light_leak::LightLeak;
pub use tone::{Histogram, Tone};

/// Everything measured on one plate.
#[derive(Debug, Clone, PartialEq)]
pub struct Measures {
    /// Density, range, histogram.
    pub tone: Tone,
    /// What fog there may be; `None` when it was not asked for.
    pub fog: Option<FogMeasures>,
}

/// Silver from the edges.
#[derive(Debug, Clone, PartialEq)]
pub struct FogMeasures {
    /// Silver against distance, per edge.
    pub profiles: Vec<EdgeProfile>,
    /// Excess along edges, faint ones included.
    pub edges: Vec<EdgeFog>,
    /// Tongues, faint ones included.
    pub leaks: Vec<LightLeak>,
}

/// Measures one plate; `fog` says whether to look at the edges.
pub fn measure(scan: &Scan, plate: &Plate, map: &DensityMap, fog: bool) -> Measures {
    let tone = tone::measure(scan, plate, map);
    let fog = fog.then(|| {
        let strips = Edge::ALL.map(|edge| edge_fog::Strip::along(plate, map, edge));
        let (profiles, edges) = edge_fog::measure(plate, &strips);
        FogMeasures {
            profiles,
            edges,
            leaks: light_leak::measure(plate, map, &strips),
        }
    });
    Measures { tone, fog }
}
