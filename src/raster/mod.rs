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

/// Does some work, its loops compiled for as many cells at a time as this machine can; what comes out is the same to
/// the bit on any. What the work calls has part in this only where it is inlined.
#[inline(always)]
pub fn several_at_a_time<R>(work: impl FnOnce() -> R) -> R {
    pulp::Arch::new().dispatch(work)
}

/// Side of the blocks in which a grid is laid on its side, cells: both the rows read and the rows written stay
/// in the nearest cache.
const BLOCK: usize = 32;

/// A grid with rows and columns swapped, its rows one after the other in memory.
///
/// ```
/// let grid = ndarray::array![[1, 2, 3], [4, 5, 6]];
/// assert_eq!(oystermark::raster::swapped(&grid), ndarray::array![[1, 4], [2, 5], [3, 6]]);
/// ```
pub fn swapped<T: Copy + Default>(grid: &Grid<T>) -> Grid<T> {
    let (rows, columns) = grid.dim();
    let flat = grid.as_standard_layout();
    let values = flat.as_slice().unwrap_or_default();
    let mut out = vec![T::default(); values.len()];
    for top in (0..rows).step_by(BLOCK) {
        let bottom = (top + BLOCK).min(rows);
        for left in (0..columns).step_by(BLOCK) {
            for column in left..(left + BLOCK).min(columns) {
                let to = &mut out[column * rows..][top..bottom];
                for (cell, row) in to.iter_mut().zip(top..) {
                    *cell = values[row * columns + column];
                }
            }
        }
    }
    // The cells are as many as the shape holds.
    Grid::from_shape_vec((columns, rows), out).unwrap_or_default()
}
