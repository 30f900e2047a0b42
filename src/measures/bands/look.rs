//! What single lines look like in stretches of a picture, for one width of core.

use super::profile::{Scatter, Sums};
use crate::raster::Grid;

// What follows is our own choice; the table of shapes (`practice accuracy --about shapes`) would notice a change.

/// Least scatter, density: a step of an 8-bit file in the middle tones, averaged over a stretch.
const LEAST_SCATTER_D: f64 = 1e-4;
/// What lies beside a stretch and tells its scatter: so far to both sides together, millimetres.
const BESIDE_MM: f64 = 12.0;

/// Width of a core in cells.
pub(super) fn core_cells(core_mm: f64, pitch_mm: f64) -> usize {
    ((core_mm / pitch_mm).round() as usize).max(2)
}

/// The stretches as one width of core sees them, `[[stretch, column]]`; NaN where unknown.
pub(super) struct Look {
    /// Width of the core, millimetres.
    pub(super) core_mm: f64,
    /// Core less the mean of both sides, density.
    pub(super) contrast_d: Grid<f32>,
    /// Silver after it less silver before it, density.
    pub(super) step_d: Grid<f32>,
    /// Contrast over its scatter thereabouts.
    pub(super) stands_out: Grid<f32>,
}

impl Look {
    pub(super) fn of(means: &Grid<f32>, pitch_mm: f64, core_mm: f64) -> Look {
        let wide = core_cells(core_mm, pitch_mm);
        let (count, columns) = means.dim();
        let mut contrast_d = Grid::from_elem((count, columns), f32::NAN);
        let mut step_d = contrast_d.clone();
        let reach = 2 * wide;
        for (s, profile) in means.rows().into_iter().enumerate() {
            let sums = Sums::of(profile.iter().copied());
            let half = wide / 2;
            for column in reach..columns.saturating_sub(reach) {
                let from = column - half;
                let boxes = [from - 3 * wide / 2, from, from + 3 * wide / 2];
                let [before, core, after] = boxes.map(|from| sums.mean(from, wide));
                contrast_d[[s, column]] = core - 0.5 * (before + after);
                step_d[[s, column]] = after - before;
            }
        }
        let mut stands_out = contrast_d.clone();
        for mut stretch in stands_out.rows_mut() {
            let window = ((BESIDE_MM / pitch_mm) as usize).max(8);
            let values: Vec<f32> = stretch.iter().copied().collect();
            let scatter = Scatter::of(&values, window, LEAST_SCATTER_D);
            for (column, value) in stretch.iter_mut().enumerate() {
                *value /= scatter.at(column);
            }
        }
        Look {
            core_mm,
            contrast_d,
            step_d,
            stands_out,
        }
    }
}
