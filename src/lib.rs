//! `oystermark` reads scans of wet-plate collodion pictures and says what went wrong, where, how
//! sure it is, what most likely caused it and what to try next.
//!
//! The list below is the way of the data from the foundation up, and it is also the import order:
//! a room stands only on rooms listed before it. Start reading at [`analysis`].
#![forbid(unsafe_code)]

// The floor: would serve any measured picture.
pub mod doubts;
pub mod units;
pub mod raster;
pub mod trend;
pub mod charts;

// The way: scan file to report.
pub mod scan;
pub mod handling;
pub mod plate;
pub mod density;
pub mod measures;
pub mod findings;
pub mod causes;
pub mod sheet;
pub mod settings;
pub mod report;
pub mod analysis;

// Built on the way.
pub mod bath;
pub mod practice;
