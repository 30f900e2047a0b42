//! Silver against distance from each edge.

use crate::plate::Edge;

/// Silver against distance from one edge, at the lower envelope along the edge.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeProfile {
    /// Which edge.
    pub edge: Edge,
    /// Distance from the edge, millimetres, rising.
    pub distance_mm: Vec<f64>,
    /// Silver at the lower envelope, density; `None` where nothing can be said.
    pub silver_d: Vec<Option<f64>>,
    /// Where the holder's ledge ends, millimetres from the edge, if there is one.
    pub ledge_mm: Option<f64>,
    /// Fitted `a + f exp(-x/L)` when fog was found: `(a, f, L in mm)`.
    pub fit: Option<(f64, f64, f64)>,
}
