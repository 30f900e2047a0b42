//! Density and image silver at every point of a plate.
//!
//! Comes in: a [`Plate`](crate::plate::Plate). Goes out: [`DensityMap`].
//! Units: optical density, `D = -log10(light)` (ISO 5-1); silver is density counted from the zero in
//! the direction of more image silver. Not here: summaries (`measures::tone`).
