//! Made-up plates whose faults are known.
//!
//! Comes in: a seed and a recipe. Goes out: [`PracticePlate`], a scan with its truth.
//! Units: millimetres in the plate frame, density. Not here: reading scans.
