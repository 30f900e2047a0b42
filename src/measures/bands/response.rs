//! Silver less its surroundings over its local scatter.

use std::borrow::Cow;

use super::Over;
use crate::raster::filter::gaussian_over;
use crate::raster::regions::erode;
use crate::raster::stats::{MAD_TO_SIGMA, median};
use crate::raster::{Grid, swapped};

/// Surroundings reach this many times as far as the core.
pub(super) const SURROUND: f64 = 2.2;
/// Strongest response that counts, in local standard deviations: one bright thing must not outweigh
/// the rest of a line.
const MOST: f32 = 2.5;
/// Side of the tiles over which scatter is taken, millimetres.
const TILE_MM: f64 = 6.0;
/// What lies so near to border or rim is left out, millimetres: half shadow and blur.
pub(super) const KEEP_OFF_MM: f64 = 0.6;
/// Fewest cells that say anything.
const FEWEST: usize = 2000;

/// What the bands are looked for in.
pub(super) struct Response {
    /// Silver less surroundings over local scatter, cut off; 0 where unknown.
    pub(super) cells: Grid<f32>,
    /// Silver, 0 where unknown.
    pub(super) silver: Grid<f32>,
    /// 1 where known.
    pub(super) known: Grid<f32>,
    /// Side of a cell, millimetres.
    pub(super) pitch_mm: f64,
    /// Core looked for, cells.
    pub(super) core: f64,
    /// Silver blurred until bands are gone and steps are left; over a scene only.
    smooth: Option<Grid<f32>>,
}

/// Blur that leaves steps, cores.
const STEP_CORES: f64 = 3.4;

impl Response {
    pub(super) fn of(
        silver: &Grid<Option<f64>>,
        pitch_mm: f64,
        core_mm: f64,
        over: Over,
    ) -> Option<Self> {
        let keep_off = ((KEEP_OFF_MM / pitch_mm).round() as usize).max(1);
        let sure = erode(&silver.mapv(|cell| cell.is_some()), keep_off);
        if sure.iter().filter(|sure| **sure).count() < FEWEST {
            return None;
        }
        let known = sure.mapv(|sure| if sure { 1.0f32 } else { 0.0 });
        let silver = Grid::from_shape_fn(silver.dim(), |at| match silver[at] {
            Some(silver) if sure[at] => silver as f32,
            _ => 0.0,
        });
        let core = (core_mm / pitch_mm).max(0.8);
        let blurred = |sigma: f64| gaussian_over(&silver, &known, sigma);
        let smooth = (over == Over::Scene).then(|| blurred(STEP_CORES * core));
        let mut cells = blurred(core) - blurred(SURROUND * core);
        cells.zip_mut_with(&known, |cell, known| *cell *= known);
        let scatter = local_scatter(&cells, &known, (TILE_MM / pitch_mm).round() as usize)?;
        cells.zip_mut_with(&scatter, |cell, scatter| {
            *cell = (*cell / scatter.max(1e-5)).clamp(-MOST, MOST);
        });
        Some(Response {
            cells,
            silver,
            known,
            pitch_mm,
            core,
            smooth,
        })
    }

    /// Steps of silver across upright or level lines over their local scatter, laid so that the lines
    /// are upright; `known` is laid so already.
    pub(super) fn steps(&self, known: &Grid<f32>, upright: bool) -> Option<Grid<f32>> {
        let smooth = laid(self.smooth.as_ref()?, upright);
        let columns = smooth.ncols();
        let mut steps = Grid::from_shape_fn(smooth.dim(), |(i, j)| {
            let (before, after) = (j.saturating_sub(1), (j + 1).min(columns - 1));
            match known[[i, j]] > 0.0 {
                true => smooth[[i, after]] - smooth[[i, before]],
                false => 0.0,
            }
        });
        let side = (TILE_MM / self.pitch_mm).round() as usize;
        let scatter = local_scatter(&steps, known, side)?;
        steps.zip_mut_with(&scatter, |step, scatter| {
            *step = (*step / scatter.max(1e-6)).clamp(-MOST, MOST);
        });
        Some(steps)
    }
}

/// A grid laid so that upright or level lines are upright ones.
pub(super) fn laid(grid: &Grid<f32>, upright: bool) -> Cow<'_, Grid<f32>> {
    match (upright, grid.is_standard_layout()) {
        (true, true) => Cow::Borrowed(grid),
        (true, false) => Cow::Owned(grid.as_standard_layout().into_owned()),
        (false, _) => Cow::Owned(swapped(grid)),
    }
}

/// Robust scatter by tiles, joined smoothly.
fn local_scatter(cells: &Grid<f32>, known: &Grid<f32>, side: usize) -> Option<Grid<f32>> {
    let (rows, columns) = cells.dim();
    let tiles = [rows, columns].map(|cells| (cells / side.max(1)).max(1));
    let bounds = |k: usize, of: usize, cells: usize| k * cells / of..(k + 1) * cells / of;
    let mut scatter: Grid<Option<f64>> = Grid::from_elem((tiles[0], tiles[1]), None);
    for ((p, q), scatter) in scatter.indexed_iter_mut() {
        let mut sizes: Vec<f32> = Vec::with_capacity(side * side);
        for i in bounds(p, tiles[0], rows) {
            for j in bounds(q, tiles[1], columns) {
                if known[[i, j]] > 0.0 {
                    sizes.push(cells[[i, j]].abs());
                }
            }
        }
        if sizes.len() >= 20 {
            *scatter = median(&mut sizes).map(|size| size * MAD_TO_SIGMA);
        }
    }
    let mut all: Vec<f64> = scatter.iter().flatten().copied().collect();
    let usual = median(&mut all)?;
    // Between the middles of tiles, straight.
    let place = |k: usize, of: usize, cells: usize| {
        let at = ((k as f64 + 0.5) * of as f64 / cells as f64 - 0.5).clamp(0.0, (of - 1) as f64);
        let low = at.floor() as usize;
        (low, (low + 1).min(of - 1), at - low as f64)
    };
    let across: Vec<_> = (0..columns).map(|j| place(j, tiles[1], columns)).collect();
    let mut smooth = Grid::zeros((rows, columns));
    for (i, mut row) in smooth.rows_mut().into_iter().enumerate() {
        let (above, below, down) = place(i, tiles[0], rows);
        let of = |p: usize, q: usize| scatter[[p, q]].unwrap_or(usual);
        let at_tiles: Vec<f64> = (0..tiles[1])
            .map(|q| of(above, q) * (1.0 - down) + of(below, q) * down)
            .collect();
        for (cell, (left, right, along)) in row.iter_mut().zip(&across) {
            *cell = (at_tiles[*left] * (1.0 - along) + at_tiles[*right] * along) as f32;
        }
    }
    Some(smooth)
}
