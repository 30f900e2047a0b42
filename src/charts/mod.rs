//! Axes, lines and bars as SVG text.
//!
//! Comes in: series of numbers with labels. Goes out: an SVG fragment that scales with its frame.
//! Units: those of the labels it is given. Not here: what a plate is.
