//! Fog that enters from the edges: bands along them and tongues from them.
//!
//! Comes in: a squared-up plate with its parts told apart and its density map. Goes out:
//! [`FogMeasures`], faint ones included. Units: density, millimetres in the plate frame.
//! Not here: whether it is a fault (`findings`).

use crate::density::DensityMap;
use crate::plate::{Edge, Plate};

mod edges;
mod fit;
mod leaks;
mod strip;

pub use edges::{EdgeFog, EdgeProfile, Ground};
pub use leaks::LightLeak;

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

/// Measures fog along all four edges.
pub fn measure(plate: &Plate, map: &DensityMap) -> FogMeasures {
    let strips = Edge::ALL.map(|edge| strip::Strip::along(plate, map, edge));
    // A tongue may begin with the film, so that leaks are looked for on all of the strip.
    let of_film = strips.each_ref().map(|strip| strip.of_film(plate));
    let (profiles, edges) = edges::measure(plate, &of_film);
    FogMeasures {
        profiles,
        edges,
        leaks: leaks::measure(plate, map, &strips),
    }
}
