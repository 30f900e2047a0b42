//! Dust on the bare lid beside the plate: how dirty the scanner's glass is.

use std::ops::Range;

use ndarray::{Axis, Slice};
use rayon::prelude::*;

use crate::density::{LEAST_LIGHT, density, log10};
use crate::plate::Plate;
use crate::raster::regions::label;
use crate::raster::stats::{MAD_TO_SIGMA, median, rising_quantiles};
use crate::raster::{Grid, Mask};
use crate::scan::Scan;
use crate::units::{MM_PER_INCH, light_of};

/// Side of the tiles that the lid is read in, millimetres.
const TILE_MM: f64 = 3.0;

/// How far tiles keep from the plate, millimetres: its shadow on the lid has faded there.
const CLEAR_OF_PLATE_MM: f64 = 1.5;

/// How far a tile may lie from the lid's mean, density: shadows and lamp. Farther is another plate.
const LIKE_LID_D: f64 = 0.15;

/// Unevenness from which a tile is no lid, density, robust standard deviation; and noise of the scanner, light, that
/// makes a dark lid look more uneven. Our own choice: a cheap scanner's.
const UNEVEN_D: f64 = 0.03;
/// See [`UNEVEN_D`].
const NOISE: f64 = 0.004;

/// Dust stands out by so many standard deviations of a tile, and by so much density.
const STANDS_OUT: f64 = 6.0;
/// See [`STANDS_OUT`].
const LEAST_D: f64 = 0.02;

/// Light of a lid below which what is darker is the scanner's noise: dust is seldom darker than a black
/// lid, and clean black lids of practice plates showed 0.4 dark places a square centimetre.
const BLACK_LID: f64 = 0.035;

/// Half the width of a normal distribution's middle 95 %, standard deviations.
const NORMAL_95: f64 = 1.96;

/// Fewest cells of a piece of dust: one alone is a faulty element of the sensor as often as not.
const FEWEST_CELLS: usize = 2;

/// Extent from which dust is a fibre or a hair rather than a speck, millimetres, and the most of its
/// box that it fills then.
const LONG_MM: f64 = 0.6;
/// See [`LONG_MM`].
const THIN: f64 = 0.4;

/// Dust seen on the bare lid beside a plate.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LidDust {
    /// Lid that was looked at, square centimetres.
    pub area_cm2: f64,
    /// Specks lighter than the lid.
    pub light: usize,
    /// Specks darker than the lid.
    pub dark: usize,
    /// Pieces of fibres and hairs.
    pub long: usize,
}

impl LidDust {
    /// Specks of dust a square centimetre; `None` without any lid.
    pub fn per_cm2(&self) -> Option<f64> {
        (self.area_cm2 > 0.0).then(|| (self.light + self.dark) as f64 / self.area_cm2)
    }

    /// A black lid shows no dust that is darker.
    fn on_lid_of(self, light: f64) -> LidDust {
        match light < BLACK_LID {
            true => LidDust { dark: 0, ..self },
            false => self,
        }
    }

    fn plus(self, other: LidDust) -> LidDust {
        LidDust {
            area_cm2: self.area_cm2 + other.area_cm2,
            light: self.light + other.light,
            dark: self.dark + other.dark,
            long: self.long + other.long,
        }
    }
}

/// Counts dust on the lid; no area where the scan shows none.
pub(super) fn dust(scan: &Scan, plate: &Plate) -> LidDust {
    let Some(lid_light) = plate.surround_light.filter(|_| plate.found) else {
        return LidDust::default();
    };
    let lid_d = density(lid_light as f32);
    let cell_mm = cell_mm(scan, plate);
    let side = ((TILE_MM / cell_mm).round() as usize).max(8);
    let (rows, columns) = scan.light.dim();
    let corners = plate.corners_px.map(|c| c.map(|v| v / scan.reduce as f64));
    let tiles: Vec<(Range<usize>, Range<usize>)> = (0..rows / side)
        .flat_map(|i| (0..columns / side).map(move |j| (i, j)))
        .map(|(i, j)| (i * side..(i + 1) * side, j * side..(j + 1) * side))
        .filter(|(i, j)| is_beside(&corners, i, j, CLEAR_OF_PLATE_MM / cell_mm))
        .collect();
    tiles
        .into_par_iter()
        .filter_map(|(i, j)| {
            let of_rows = scan.light.slice_axis(Axis(0), Slice::from(i));
            let light = of_rows.slice_axis(Axis(1), Slice::from(j));
            in_tile(
                light.mapv(|light| -log10(light.max(LEAST_LIGHT))),
                lid_d,
                cell_mm,
            )
        })
        .reduce(LidDust::default, LidDust::plus)
        .on_lid_of(lid_light)
}

/// Side of a cell of the scan's grid, millimetres, by the plate's own width.
fn cell_mm(scan: &Scan, plate: &Plate) -> f64 {
    match plate.dpi {
        Some((x, _)) => MM_PER_INCH / x * scan.reduce as f64,
        None => {
            let [a, b, ..] = plate.corners_px;
            let wide = (a[0] - b[0]).hypot(a[1] - b[1]).max(1.0);
            plate.width_mm / wide * scan.reduce as f64
        }
    }
}

/// Whether all of a tile lies beyond one and the same side of the plate.
fn is_beside(
    corners: &[[f64; 2]; 4],
    rows: &Range<usize>,
    columns: &Range<usize>,
    by: f64,
) -> bool {
    (0..4).any(|k| {
        let [ax, ay] = corners[k];
        let [bx, by_] = corners[(k + 1) % 4];
        let (ux, uy) = (bx - ax, by_ - ay);
        let length = ux.hypot(uy).max(1e-9);
        [rows.start, rows.end].iter().all(|i| {
            [columns.start, columns.end].iter().all(|j| {
                // Corners run clockwise as seen, so the plate lies on the right of each side.
                let (dx, dy) = (*j as f64 - ax, *i as f64 - ay);
                (dx * uy - dy * ux) / length >= by
            })
        })
    })
}

fn in_tile(densities: Grid<f32>, lid_d: f64, cell_mm: f64) -> Option<LidDust> {
    let level_d = median(&mut densities.iter().copied().collect::<Vec<f32>>())?;
    if (level_d - lid_d).abs() > LIKE_LID_D {
        return None;
    }
    let flat = flattened(densities, level_d)?;
    let mut sizes: Vec<f32> = flat.iter().map(|v| v.abs()).collect();
    // On a dark lid of 8 bits most cells share one step, and only the outer ones tell the noise.
    let [middle, outer] = rising_quantiles(&mut sizes, [0.5, 0.95])?;
    let sigma = (outer / NORMAL_95).max(MAD_TO_SIGMA * middle);
    let by_noise = std::f64::consts::LOG10_E * NOISE / light_of(level_d);
    if sigma > UNEVEN_D.max(by_noise) {
        return None;
    }
    let least = (STANDS_OUT * sigma).max(LEAST_D) as f32;
    let mut seen = LidDust {
        area_cm2: flat.len() as f64 * (cell_mm / 10.0).powi(2),
        ..LidDust::default()
    };
    for sign in [1.0, -1.0] {
        // Most tiles are clean.
        if !flat.iter().any(|v| sign * v >= least) {
            continue;
        }
        let mask: Mask = flat.mapv(|v| sign * v >= least);
        for piece in pieces(&mask) {
            match piece {
                p if p.cells < FEWEST_CELLS => {}
                p if p.is_long(cell_mm) => seen.long += 1,
                _ if sign > 0.0 => seen.dark += 1,
                _ => seen.light += 1,
            }
        }
    }
    Some(seen)
}

/// What is left of a tile without its level and slope, both robust.
fn flattened(mut tile: Grid<f32>, level_d: f64) -> Option<Grid<f32>> {
    let (rows, columns) = tile.dim();
    let part = |axis: usize, cells: Range<usize>| {
        let cells = tile.slice_axis(Axis(axis), Slice::from(cells));
        median(&mut cells.iter().copied().collect::<Vec<f32>>())
    };
    let (third, wide) = (rows / 3, columns / 3);
    let down = part(0, rows - third..rows)? - part(0, 0..third)?;
    let along = part(1, columns - wide..columns)? - part(1, 0..wide)?;
    let (down, along) = (
        down / (rows - third) as f64,
        along / (columns - wide) as f64,
    );
    let (mi, mj) = (0.5 * (rows - 1) as f64, 0.5 * (columns - 1) as f64);
    for ((i, j), d) in tile.indexed_iter_mut() {
        *d -= (level_d + down * (i as f64 - mi) + along * (j as f64 - mj)) as f32;
    }
    Some(tile)
}

/// One piece of dust: its cells and its box.
struct Piece {
    cells: usize,
    box_cells: [usize; 4],
}

impl Piece {
    fn is_long(&self, cell_mm: f64) -> bool {
        let [top, left, bottom, right] = self.box_cells.map(|v| v as f64);
        let (high, wide) = (bottom - top + 1.0, right - left + 1.0);
        let long = high.hypot(wide);
        long * cell_mm >= LONG_MM
            && (self.cells as f64) < THIN * high.max(0.3 * long) * wide.max(0.3 * long)
    }
}

fn pieces(mask: &Mask) -> Vec<Piece> {
    let mut all: Vec<Piece> = Vec::new();
    for ((i, j), of) in label(mask).indexed_iter().filter(|(_, of)| **of > 0) {
        let of = *of as usize;
        while all.len() < of {
            all.push(Piece {
                cells: 0,
                box_cells: [usize::MAX, usize::MAX, 0, 0],
            });
        }
        let piece = &mut all[of - 1];
        piece.cells += 1;
        let [top, left, bottom, right] = piece.box_cells;
        piece.box_cells = [top.min(i), left.min(j), bottom.max(i), right.max(j)];
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tile of lid with three grains of dust and noise between so much less and more light, from a fixed seed.
    fn seen(lid: f32, noise: f32, grains: f32) -> Option<LidDust> {
        let mut state = 11u32;
        let tile = Grid::from_shape_fn((70, 70), |(i, j)| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let chance = (state >> 8) as f32 / (1u32 << 24) as f32 - 0.5;
            let on_grain = [(20, 20), (40, 50), (60, 10)]
                .iter()
                .any(|(y, x)| i.abs_diff(*y) <= 1 && j.abs_diff(*x) <= 1);
            let own = if on_grain { grains } else { 0.0 };
            lid + own + 2.0 * noise * chance
        });
        let densities = tile.mapv(|light| density(light) as f32);
        in_tile(densities, density(lid), 0.042)
    }

    #[test]
    fn a_dark_lid_shows_its_dust_through_the_scanners_noise() {
        let dark = seen(0.012, 0.002, 0.15).unwrap();
        assert_eq!((dark.light, dark.dark), (3, 0));
        assert!((dark.area_cm2 - 0.0864).abs() < 1e-3);
        // As uneven in density, on a light lid: cloth, or print.
        assert!(seen(0.6, 0.1, 0.0).is_none());
        assert_eq!(seen(0.6, 0.005, -0.2).unwrap().dark, 3);
    }
}
