//! Everything measured on one plate: numbers without a verdict.
//!
//! Comes in: a plate and its density map. Goes out: [`Measures`].
//! Units: density, millimetres in the plate frame. Not here: whether a number is a fault
//! (`findings`).

pub mod edge_fog;
pub mod tone;

pub use edge_fog::EdgeProfile;
pub use tone::{Histogram, Tone};
