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
        strength
            .axis_chunks_iter_mut(ndarray::Axis(0), tile)
            .into_par_iter()
            .zip(contrast_d.axis_chunks_iter_mut(ndarray::Axis(0), tile))
            .enumerate()
            .for_each(|(band, (mut strength, mut contrast_d))| {
                let mut scatter: Vec<Vec<f64>> = vec![Vec::new(); columns.div_ceil(tile)];
                for (i, mut contrast_d) in contrast_d.rows_mut().into_iter().enumerate() {
                    let (silver, known) = (silver.row(band * tile + i), known.row(band * tile + i));
                    for j in side..columns.saturating_sub(side) {
                        if known[j] && known[j - side] && known[j + side] {
                            let (left, core, right) =
                                (silver[j - side], silver[j], silver[j + side]);
                            contrast_d[j] = left.min(right) - core;
                            // Every ninth cell is enough for a scatter.
                            if i % 3 == 0 && j % 3 == 0 {
                                let off = 0.5 * (left + right) - core;
                                scatter[j / tile].push(f64::from(off.abs()));
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
                    for (j, (strength, contrast_d)) in
                        strength.iter_mut().zip(contrast_d).enumerate()
                    {
                        *strength = (contrast_d / full[j / tile]).clamp(LEAST, 1.0);
                    }
                }
            });
        Response {
            strength,
            contrast_d,
        }
    }
}
