//! How much less silver each cell has than the cells on both sides of it.

use ndarray::parallel::prelude::*;

use crate::raster::stats::{MAD_TO_SIGMA, median};
use crate::raster::{Grid, Mask};

/// How far off the sides are looked at, millimetres: past the widest scratch and its blur.
const SIDE_MM: f64 = 0.25;
/// Side of the tiles over which scatter is taken, millimetres.
const TILE_MM: f64 = 4.0;
/// Least contrast that counts fully, density and standard deviations of the scatter around.
const FULL_D: f32 = 0.03;
/// See [`FULL_D`].
const FULL_SIGMAS: f32 = 2.0;
/// What a cell counts that is no darker than its sides.
pub(super) const LEAST: f32 = -0.5;

pub(super) struct Response {
    /// Contrast over what counts fully, between [`LEAST`] and 1.
    pub(super) strength: Grid<f32>,
    /// Lesser side less core, density; -1 where unknown.
    pub(super) contrast_d: Grid<f32>,
}

impl Response {
    pub(super) fn of(silver: &Grid<f32>, known: &Mask, pitch_mm: f64) -> Response {
        let (rows, columns) = silver.dim();
        let side = ((SIDE_MM / pitch_mm).round() as usize).max(2);
        let tile = ((TILE_MM / pitch_mm).round() as usize).max(1);
        let mut strength = Grid::from_elem((rows, columns), LEAST);
        let mut contrast_d = Grid::from_elem((rows, columns), -1.0f32);
        let (silver, known) = (silver.as_standard_layout(), known.as_standard_layout());
        let cells = silver.as_slice().zip(known.as_slice());
        let inner = columns.saturating_sub(2 * side);
        let Some((silver, known)) = cells.filter(|_| inner > 0) else {
            return Response {
                strength,
                contrast_d,
            };
        };
        strength
            .axis_chunks_iter_mut(ndarray::Axis(0), tile)
            .into_par_iter()
            .zip(contrast_d.axis_chunks_iter_mut(ndarray::Axis(0), tile))
            .enumerate()
            .for_each(|(band, (mut strength, mut contrast_d))| {
                let mut scatter: Vec<Vec<f32>> = vec![Vec::new(); columns.div_ceil(tile)];
                for (i, mut contrast_d) in contrast_d.rows_mut().into_iter().enumerate() {
                    let row = (band * tile + i) * columns;
                    let [(left, left_known), (core, core_known), (right, right_known)] =
                        [0, side, 2 * side].map(|by| {
                            let cells = row + by..row + by + inner;
                            (&silver[cells.clone()], &known[cells])
                        });
                    let Some(out) = contrast_d.as_slice_mut() else {
                        continue;
                    };
                    // Slices of one length and no way out, so that several cells are worked at a time.
                    let out = &mut out[side..side + inner];
                    for (j, out) in out.iter_mut().enumerate() {
                        let lesser = if left[j] < right[j] {
                            left[j]
                        } else {
                            right[j]
                        };
                        let known = left_known[j] & core_known[j] & right_known[j];
                        *out = if known { lesser - core[j] } else { -1.0 };
                    }
                    // Every ninth cell is enough for a scatter.
                    if i % 3 == 0 {
                        for j in (side.next_multiple_of(3)..columns - side).step_by(3) {
                            let at = j - side;
                            if left_known[at] && core_known[at] && right_known[at] {
                                let off = 0.5 * (left[at] + right[at]) - core[at];
                                scatter[j / tile].push(off.abs());
                            }
                        }
                    }
                }
                let full: Vec<f32> = scatter
                    .iter_mut()
                    .map(|off| match off.len() > 20 {
                        true => (median(off).unwrap_or(1.0) * MAD_TO_SIGMA) as f32,
                        false => 1.0,
                    })
                    .map(|sigma| FULL_D.max(FULL_SIGMAS * sigma))
                    .collect();
                for (mut strength, contrast_d) in
                    strength.rows_mut().into_iter().zip(contrast_d.rows())
                {
                    let (Some(strength), Some(contrast_d)) =
                        (strength.as_slice_mut(), contrast_d.as_slice())
                    else {
                        continue;
                    };
                    let tiles = strength.chunks_mut(tile).zip(contrast_d.chunks(tile));
                    for ((strength, contrast_d), full) in tiles.zip(&full) {
                        for (strength, contrast_d) in strength.iter_mut().zip(contrast_d) {
                            *strength = (contrast_d / full).clamp(LEAST, 1.0);
                        }
                    }
                }
            });
        Response {
            strength,
            contrast_d,
        }
    }
}
