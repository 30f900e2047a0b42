//! Blurs and downsampling.

use ndarray::{Axis, parallel::prelude::*};
use rayon::slice::{ParallelSlice, ParallelSliceMut};

use super::{Grid, several_at_a_time};

/// Mean over blocks of `factor` x `factor` cells; blocks at the far edges hold fewer cells.
///
/// Takes any grid; returns one of `ceil(rows / factor)` x `ceil(columns / factor)` cells. A factor
/// of 0 counts as 1.
///
/// ```
/// use oystermark::raster::{Grid, filter::average_down};
/// let fine = Grid::from_shape_fn((2, 3), |(_, j)| j as f32);
/// assert_eq!(average_down(&fine, 2), ndarray::array![[0.5, 2.0]]);
/// ```
pub fn average_down(grid: &Grid<f32>, factor: usize) -> Grid<f32> {
    let factor = factor.max(1);
    if factor == 1 {
        return grid.clone();
    }
    let (rows, columns) = grid.dim();
    let mut out = Grid::zeros((rows.div_ceil(factor), columns.div_ceil(factor)));
    let flat = grid.as_standard_layout();
    let values = flat.as_slice().unwrap_or_default();
    if values.is_empty() {
        return out;
    }
    out.axis_iter_mut(Axis(0))
        .into_par_iter()
        .zip(values.par_chunks(factor.saturating_mul(columns)))
        .for_each_init(
            || vec![0.0f32; columns],
            |sums, (mut out_row, lines)| {
                // Down first: whole rows add up several cells at a time.
                sums.fill(0.0);
                for line in lines.chunks_exact(columns) {
                    for (sum, value) in sums.iter_mut().zip(line) {
                        *sum += value;
                    }
                }
                let height = lines.len() / columns;
                let whole = height as f32 * factor as f32;
                match (out_row.as_slice_mut(), factor) {
                    // Octaves, which most grids are.
                    (Some(means), 2) => {
                        for (mean, [a, b]) in means.iter_mut().zip(sums.as_chunks().0) {
                            *mean = (a + b) / whole;
                        }
                    }
                    _ => {
                        let blocks = sums.chunks_exact(factor);
                        for (mean, block) in out_row.iter_mut().zip(blocks) {
                            *mean = block.iter().sum::<f32>() / whole;
                        }
                    }
                }
                let rest = &sums[columns - columns % factor..];
                if let (Some(mean), false) = (out_row.last_mut(), rest.is_empty()) {
                    *mean = rest.iter().sum::<f32>() / (height * rest.len()) as f32;
                }
            },
        );
    out
}

/// Weights of a Gaussian of the given standard deviation in cells, from the middle outward, cut at 3 sigma;
/// both sides together sum to 1.
fn gaussian_weights(sigma: f64) -> Vec<f32> {
    let radius = (3.0 * sigma).ceil().max(1.0) as i64;
    let weight = |k: i64| (-0.5 * (k as f64 / sigma).powi(2)).exp();
    let sum: f64 = (-radius..=radius).map(weight).sum();
    (0..=radius).map(|k| (weight(k) / sum) as f32).collect()
}

/// Gaussian blur with the standard deviation in cells; the border repeats the outermost cell.
///
/// A sigma of 0.05 or less returns the grid as it is.
pub fn gaussian(grid: &Grid<f32>, sigma: f64) -> Grid<f32> {
    if sigma <= 0.05 || grid.is_empty() {
        return grid.clone();
    }
    let weights = gaussian_weights(sigma);
    let radius = weights.len() - 1;
    let (rows, columns) = grid.dim();
    let flat = grid.as_standard_layout();
    let values = flat.as_slice().unwrap_or_default();
    let mut out = vec![0.0f32; rows * columns];
    out.par_chunks_mut(columns).enumerate().for_each_init(
        || vec![0.0f32; columns + 2 * radius],
        |padded, (i, out_row)| {
            several_at_a_time(|| {
                // Down first, then along, both over whole rows.
                let (from, to) = (radius, radius + columns);
                let line = |row: usize| &values[row * columns..][..columns];
                blur(&mut padded[from..to], &weights, |k| {
                    [line(i.saturating_sub(k)), line((i + k).min(rows - 1))]
                });
                let (first, last) = (padded[from], padded[to - 1]);
                padded[..from].fill(first);
                padded[to..].fill(last);
                let shifted = |at: usize| &padded[at..][..columns];
                blur(out_row, &weights, |k| {
                    [shifted(from - k), shifted(from + k)]
                });
            });
        },
    );
    Grid::from_shape_vec((rows, columns), out).unwrap_or_default()
}

/// Gaussian blur over the cells whose weight is 1, standard deviation in cells; both grids have one shape.
///
/// Values must be 0 where the weight is 0. Far from all known cells the result fades to 0.
pub fn gaussian_over(values: &Grid<f32>, weights: &Grid<f32>, sigma: f64) -> Grid<f32> {
    let (mut sum, weight) = rayon::join(|| gaussian(values, sigma), || gaussian(weights, sigma));
    sum.zip_mut_with(&weight, |sum, weight| *sum /= weight.max(LEAST_WEIGHT));
    sum
}

/// Least share of known cells under a blur that is divided by.
const LEAST_WEIGHT: f32 = 1e-3;

/// Sums rows by their weights; `pair` gives the two rows so many cells away from the middle.
///
/// Always inlined, so that it is compiled for as many cells at a time as the machine can.
#[inline(always)]
fn blur<'a>(sums: &mut [f32], weights: &[f32], pair: impl Fn(usize) -> [&'a [f32]; 2]) {
    let [middle, _] = pair(0);
    for (sum, value) in sums.iter_mut().zip(middle) {
        *sum = weights[0] * value;
    }
    // Two pairs at a time: each sum is loaded and stored half as often.
    let mut k = 1;
    while k + 1 < weights.len() {
        let ([a, b], [c, d]) = (pair(k), pair(k + 1));
        let (near, far) = (weights[k], weights[k + 1]);
        let rows = a.iter().zip(b).zip(c.iter().zip(d));
        for (sum, ((a, b), (c, d))) in sums.iter_mut().zip(rows) {
            *sum += near * (a + b) + far * (c + d);
        }
        k += 2;
    }
    if k < weights.len() {
        let [a, b] = pair(k);
        for (sum, (a, b)) in sums.iter_mut().zip(a.iter().zip(b)) {
            *sum += weights[k] * (a + b);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn averaging_keeps_the_mean_of_whole_blocks() {
        let grid = Grid::from_shape_fn((6, 8), |(i, j)| (i * 8 + j) as f32);
        let down = average_down(&grid, 2);
        assert_eq!(down.dim(), (3, 4));
        assert!((down.mean().unwrap_or(0.0) - grid.mean().unwrap_or(1.0)).abs() < 1e-4);
    }

    #[test]
    fn a_block_may_be_larger_than_the_grid() {
        let grid = Grid::from_shape_fn((2, 3), |(i, j)| (i * 3 + j) as f32);
        assert_eq!(average_down(&grid, usize::MAX), ndarray::array![[2.5]]);
    }

    #[test]
    fn ragged_blocks_average_only_what_is_there() {
        let grid = Grid::from_elem((5, 5), 2.0f32);
        assert!(
            average_down(&grid, 3)
                .iter()
                .all(|v| (v - 2.0).abs() < 1e-6)
        );
    }

    #[test]
    fn a_blur_over_known_cells_passes_by_unknown_ones() {
        let weights = Grid::from_shape_fn((30, 30), |(_, j)| if j < 12 { 1.0 } else { 0.0 });
        let values = weights.mapv(|weight: f32| 0.7 * weight);
        let over = gaussian_over(&values, &weights, 2.0);
        let known = over.indexed_iter().filter(|((_, j), _)| *j < 12);
        assert!(known.into_iter().all(|(_, v)| (v - 0.7).abs() < 1e-4));
    }

    #[test]
    fn blur_spreads_a_point_by_its_sigma() {
        let mut grid = Grid::zeros((41, 41));
        grid[[20, 20]] = 1.0f32;
        let blurred = gaussian(&grid, 2.0);
        let variance: f32 = blurred
            .indexed_iter()
            .map(|((_, j), v)| v * (j as f32 - 20.0).powi(2))
            .sum();
        assert!((blurred.sum() - 1.0).abs() < 1e-4);
        assert!((variance - 4.0).abs() < 0.15, "{variance}");
    }
}
