//! Grids of numbers: blurs, regions, statistics.
//!
//! Comes in: a [`Grid`] or a slice of numbers. Goes out: the same kind.
//! Grids are indexed `[[row, column]]`, row 0 at the top; lengths are cells.
//! Not here: millimetres, density, anything of the trade.

pub mod contours;
pub mod counts;
pub mod filter;
pub mod geometry;
pub mod least_squares;
pub mod regions;
pub mod register;
pub mod stats;

/// A grid of values, `[[row, column]]`, row 0 at the top.
pub type Grid<T> = ndarray::Array2<T>;

/// A grid that marks cells.
pub type Mask = ndarray::Array2<bool>;
