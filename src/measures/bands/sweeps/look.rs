//! The stretches of a picture as bands of one width are seen in them.

use crate::measures::bands::profile::{Scatter, Sums};
use crate::raster::Grid;

// Our own choice; the table of shapes would notice a change.

/// The core and each side, as shares of the width.
const CORE: f64 = 0.7;
/// See [`CORE`].
const SIDE: f64 = 0.8;
/// How far off a band its sides lie, as a share of its width.
pub(super) const SIDE_OFF: f64 = 1.25;
/// So much of the difference of its sides is taken off a band's contrast: an edge is no band.
const EDGE_SHARE: f32 = 0.35;
/// Most that one stretch counts, standard deviations.
const MOST: f32 = 3.0;
/// Least scatter, density: fainter bands no eye catches.
const LEAST_SCATTER_D: f64 = 1e-3;
/// What tells a stretch's scatter: so far to both sides together, millimetres.
const BESIDE_MM: f64 = 24.0;

/// The stretches as one width sees them, `[[stretch, column]]`; NaN where unknown.
pub(super) struct Look {
    pub(super) width_mm: f64,
    /// Core less the mean of both sides, density.
    pub(super) contrast_d: Grid<f32>,
    /// Silver after it less silver before it, density.
    pub(super) step_d: Grid<f32>,
    /// Contrast less its share of the step, over the scatter of contrasts thereabouts, cut off; 0 where unknown.
    pub(super) clear: Grid<f32>,
    /// 1 where known, else 0.
    pub(super) known: Grid<f32>,
}

impl Look {
    pub(super) fn of(means: &Grid<f32>, pitch_mm: f64, width_mm: f64) -> Look {
        let (count, columns) = means.dim();
        let mut contrast_d = Grid::from_elem((count, columns), f32::NAN);
        let mut step_d = contrast_d.clone();
        let mut clear = Grid::zeros((count, columns));
        let mut known = Grid::zeros((count, columns));
        let width = width_mm / pitch_mm;
        let wide = |share: f64| ((share * width).round() as usize).max(1);
        let boxes = [(-SIDE_OFF, SIDE), (0.0, CORE), (SIDE_OFF, SIDE)];
        // Where each box begins, from the column on, and how many cells it holds.
        let boxes = boxes.map(|(off, share)| {
            let from = 0.5 + (off - 0.5 * share) * width;
            (from.round() as i64, wide(share))
        });
        let window = ((BESIDE_MM / pitch_mm) as usize).max(8);
        for (s, profile) in means.rows().into_iter().enumerate() {
            let sums = Sums::of(profile.iter().copied());
            for column in 0..columns {
                let [before, core, after] = boxes.map(|(from, wide)| {
                    let from = usize::try_from(column as i64 + from);
                    from.map_or(f32::NAN, |from| sums.mean(from, wide))
                });
                contrast_d[[s, column]] = core - 0.5 * (before + after);
                step_d[[s, column]] = after - before;
            }
            let own: Vec<f32> = contrast_d.row(s).to_vec();
            let scatter = Scatter::of(&own, window, LEAST_SCATTER_D);
            for (column, contrast) in own.into_iter().enumerate() {
                let left = contrast.abs() - EDGE_SHARE * step_d[[s, column]].abs();
                let own = left.max(0.0).copysign(contrast) / scatter.at(column);
                if own.is_finite() {
                    clear[[s, column]] = own.clamp(-MOST, MOST);
                    known[[s, column]] = 1.0;
                }
            }
        }
        Look {
            width_mm,
            contrast_d,
            step_d,
            clear,
            known,
        }
    }
}
