//! Where two scans of one plate differ.

use rayon::prelude::*;

use super::Piece;
use crate::density::density;
use crate::measures::specks::{DARKEST_LIGHT, Field};
use crate::plate::{LaidBy, Plate, Turned};
use crate::raster::regions::label;
use crate::raster::stats::{median, median_and_sigma};
use crate::raster::{Grid, Mask, swapped};

/// How far a place may lie from itself in the other scan, millimetres: laid on by the plate's picture,
/// and by its outline alone.
const REACH_MM: f64 = 0.1;
/// See [`REACH_MM`].
const REACH_BY_OUTLINE_MM: f64 = 0.3;

/// Side of the tiles that level and noise are told by, millimetres.
const TILE_MM: f64 = 3.0;

/// How far a cell must stand out of all that the other scan shows within reach, standard deviations of
/// the tile: together with the reach itself some five. Our own choice; the table of turned pairs in
/// `reports/accuracy-turned.md` would notice a change.
const STANDS_OUT: f64 = 2.5;

/// Least difference of a cell, and least contrast of a piece, density: below lies what a coarse code and
/// the packing of a JPEG file leave between two scans. Our own choice, watched by the same table.
const LEAST_D: f64 = 0.05;
/// See [`LEAST_D`].
const LEAST_CONTRAST_D: f64 = 0.07;

/// Fewest cells of a piece: one alone is noise as often as not.
const FEWEST_CELLS: usize = 3;

/// How far around a piece its ground is read, millimetres.
const GROUND_MM: [f64; 2] = [0.1, 0.4];

/// Expected pieces a plate by chance: on 48 turned pairs (seeds 610000 to 610047) hardly any.
const EXPECTED: f64 = 0.01;

/// What differs and belongs to the first scan.
pub(super) struct Differs {
    /// One for each region.
    pub(super) pieces: Vec<Piece>,
    near: Mask,
    pitch_mm: f64,
}

impl Differs {
    /// Whether a place lies on one of the pieces.
    pub(super) fn covers(&self, [x, y]: [f64; 2]) -> bool {
        let (i, j) = ((y / self.pitch_mm) as usize, (x / self.pitch_mm) as usize);
        self.near.get((i, j)).copied().unwrap_or(false)
    }
}

/// Finds what stands out in the first scan and is not in the second.
pub(super) fn regions(
    plate: &Plate,
    silver: &Grid<f32>,
    field: &Field,
    turned: &Turned,
) -> Differs {
    let pitch_mm = plate.pitch_mm;
    let other = other_silver(plate, silver, turned);
    let reach_mm = match turned.laid_by {
        LaidBy::Picture { .. } => REACH_MM,
        LaidBy::Outline => REACH_BY_OUTLINE_MM,
    };
    let reach = (reach_mm / pitch_mm).round().max(1.0) as usize;
    let tiles = Tiles::of(silver, &other, field, (TILE_MM / pitch_mm).round() as usize);
    let dark = DarkNoise::of(plate, &tiles);
    let mut out = Differs {
        pieces: Vec::new(),
        near: Mask::from_elem(silver.dim(), false),
        pitch_mm,
    };
    for sign in [1.0f32, -1.0] {
        let most = farthest(&other.mapv(|v| sign * v), reach);
        let mask = Mask::from_shape_fn(silver.dim(), |at| {
            let (level, sigma) = tiles.at(at);
            let sigma = sigma.max(dark.sigma_d(plate.light[at]));
            let least = (STANDS_OUT as f32 * sigma).max(LEAST_D as f32);
            field.holds(at.0, at.1) && sign * (silver[at] - level) - most[at] > least
        });
        for cells in regions_of(&mask) {
            if cells.len() < FEWEST_CELLS {
                continue;
            }
            let own = contrast(silver, &cells, pitch_mm);
            let there = contrast(&other, &cells, pitch_mm);
            // What the second scan shows too is the plate's; what shows there the other way round is dust
            // of that scan, over a detail of the plate.
            let (Some(own), Some(there)) = (own, there) else {
                continue;
            };
            let (own, there) = (f64::from(sign) * own, f64::from(sign) * there);
            if own < LEAST_CONTRAST_D || there.abs() > super::NOT_THERE * own {
                continue;
            }
            for (i, j) in &cells {
                out.mark_near(*i, *j, reach);
            }
            out.pieces
                .push(piece(&cells, f64::from(sign) * own, pitch_mm));
        }
    }
    out
}

impl Differs {
    fn mark_near(&mut self, i: usize, j: usize, by: usize) {
        let (rows, columns) = self.near.dim();
        for i in i.saturating_sub(by)..(i + by + 1).min(rows) {
            for j in j.saturating_sub(by)..(j + by + 1).min(columns) {
                self.near[[i, j]] = true;
            }
        }
    }
}

/// Silver of the second scan at the first one's cells; where it does not reach, the first one's own.
fn other_silver(plate: &Plate, silver: &Grid<f32>, turned: &Turned) -> Grid<f32> {
    let mut other = silver.clone();
    let (_, columns) = silver.dim();
    let sign = plate.silver_sign() as f32;
    let pitch = plate.pitch_mm;
    other
        .as_slice_mut()
        .unwrap_or_default()
        .par_chunks_mut(columns.max(1))
        .enumerate()
        .for_each(|(i, row)| {
            for (j, cell) in row.iter_mut().enumerate() {
                let place = [(j as f64 + 0.5) * pitch, (i as f64 + 0.5) * pitch];
                if let Some(light) = turned.light_at(place, [0.0, 0.0]) {
                    *cell = sign * density(light.max(DARKEST_LIGHT)) as f32;
                }
            }
        });
    other
}

/// Level and noise of the difference, tile by tile.
struct Tiles {
    side: usize,
    tiles: Grid<[f32; 2]>,
}

impl Tiles {
    fn of(silver: &Grid<f32>, other: &Grid<f32>, field: &Field, side: usize) -> Tiles {
        let side = side.max(8);
        let (rows, columns) = silver.dim();
        let shape = (rows.div_ceil(side), columns.div_ceil(side));
        let places: Vec<(usize, usize)> = (0..shape.0)
            .flat_map(|i| (0..shape.1).map(move |j| (i, j)))
            .collect();
        let of: Vec<[f32; 2]> = places
            .into_par_iter()
            .map(|(i, j)| {
                let (top, left) = (i * side, j * side);
                let mut values = Vec::with_capacity(side * side);
                for i in top..(top + side).min(rows) {
                    for j in left..(left + side).min(columns) {
                        if field.holds(i, j) {
                            values.push(f64::from(silver[[i, j]] - other[[i, j]]));
                        }
                    }
                }
                match median_and_sigma(&values) {
                    Some((level, sigma)) => [level as f32, sigma as f32],
                    None => [0.0, f32::INFINITY],
                }
            })
            .collect();
        let tiles = Grid::from_shape_vec(shape, of)
            .unwrap_or_else(|_| Grid::from_elem(shape, [0.0, f32::INFINITY]));
        Tiles { side, tiles }
    }

    fn at(&self, (i, j): (usize, usize)) -> (f32, f32) {
        let [level, sigma] = self.tiles[[i / self.side, j / self.side]];
        (level, sigma)
    }
}

/// Noise of light where it is dark: as density it grows as light falls (d D = 0.434 d R / R), within a
/// tile too.
struct DarkNoise {
    sigma_light: f32,
}

/// Share of the tiles that count as dark.
const DARK_SHARE: f64 = 0.25;

impl DarkNoise {
    /// From the darkest tiles of the plate.
    fn of(plate: &Plate, tiles: &Tiles) -> DarkNoise {
        let (rows, columns) = plate.light.dim();
        let middle = |k: usize, cells: usize| (k * tiles.side + tiles.side / 2).min(cells - 1);
        let mut all: Vec<(f64, f64)> = tiles
            .tiles
            .indexed_iter()
            .filter(|(_, [_, sigma])| sigma.is_finite())
            .map(|((i, j), [_, sigma])| {
                let light = plate.light[[middle(i, rows), middle(j, columns)]].max(DARKEST_LIGHT);
                (f64::from(light), f64::from(*sigma))
            })
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        all.truncate((all.len() as f64 * DARK_SHARE).ceil() as usize);
        let mut noise: Vec<f64> = all
            .iter()
            .map(|(light, sigma)| light * sigma * std::f64::consts::LN_10)
            .collect();
        DarkNoise {
            sigma_light: median(&mut noise).unwrap_or(0.0) as f32,
        }
    }

    fn sigma_d(&self, light: f32) -> f32 {
        self.sigma_light / (light.max(DARKEST_LIGHT) * std::f32::consts::LN_10)
    }
}

/// Largest value within `reach` cells across and down.
fn farthest(grid: &Grid<f32>, reach: usize) -> Grid<f32> {
    let along_rows = |grid: &Grid<f32>| {
        let (_, columns) = grid.dim();
        let mut out = grid.clone();
        out.as_slice_mut()
            .unwrap_or_default()
            .par_chunks_mut(columns.max(1))
            .enumerate()
            .for_each(|(i, row)| {
                let from = grid.row(i);
                for (j, cell) in row.iter_mut().enumerate() {
                    let window = j.saturating_sub(reach)..(j + reach + 1).min(columns);
                    *cell = window.fold(f32::NEG_INFINITY, |most, k| most.max(from[k]));
                }
            });
        out
    };
    let across = along_rows(grid);
    let down = along_rows(&swapped(&across));
    swapped(&down)
}

/// The cells of each region.
fn regions_of(mask: &Mask) -> Vec<Vec<(usize, usize)>> {
    let mut all: Vec<Vec<(usize, usize)>> = Vec::new();
    for (at, of) in label(mask).indexed_iter().filter(|(_, of)| **of > 0) {
        let of = *of as usize;
        while all.len() < of {
            all.push(Vec::new());
        }
        all[of - 1].push(at);
    }
    all
}

/// Mean of some cells over the median of a ring of ground around their box.
fn contrast(grid: &Grid<f32>, cells: &[(usize, usize)], pitch_mm: f64) -> Option<f64> {
    let (rows, columns) = grid.dim();
    let [near, far] = GROUND_MM.map(|mm| (mm / pitch_mm).ceil() as usize);
    let step = (cells.len() / 60).max(1);
    let (mut ground, mut core) = (Vec::new(), 0.0);
    for (i, j) in cells {
        core += f64::from(grid[[*i, *j]]);
    }
    // Around every so many cells, so that the ground follows a hair.
    for (i, j) in cells.iter().step_by(step) {
        let [i, j] = [*i as isize, *j as isize];
        for (di, dj) in [
            (1, 0),
            (-1, 0),
            (0, 1),
            (0, -1),
            (1, 1),
            (1, -1),
            (-1, 1),
            (-1, -1),
        ] {
            for away in near..=far {
                let (y, x) = (i + di * away as isize, j + dj * away as isize);
                if y >= 0 && x >= 0 && (y as usize) < rows && (x as usize) < columns {
                    ground.push(f64::from(grid[[y as usize, x as usize]]));
                }
            }
        }
    }
    let (middle, _) = median_and_sigma(&ground)?;
    Some(core / cells.len() as f64 - middle)
}

/// Place, size and lie of a region.
fn piece(cells: &[(usize, usize)], contrast_d: f64, pitch_mm: f64) -> Piece {
    let n = cells.len() as f64;
    let place =
        |(i, j): &(usize, usize)| [(*j as f64 + 0.5) * pitch_mm, (*i as f64 + 0.5) * pitch_mm];
    let mut box_mm = [f64::INFINITY, f64::INFINITY, 0.0, 0.0];
    let mut sum = [0.0; 2];
    for [x, y] in cells.iter().map(place) {
        let half = 0.5 * pitch_mm;
        box_mm = [
            box_mm[0].min(x - half),
            box_mm[1].min(y - half),
            box_mm[2].max(x + half),
            box_mm[3].max(y + half),
        ];
        sum = [sum[0] + x, sum[1] + y];
    }
    let middle = sum.map(|v| v / n);
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for [x, y] in cells.iter().map(place) {
        let (dx, dy) = (x - middle[0], y - middle[1]);
        (xx, yy, xy) = (xx + dx * dx, yy + dy * dy, xy + dx * dy);
    }
    let area_mm2 = n * pitch_mm * pitch_mm;
    let [l, t, r, b] = box_mm;
    let extent_mm = (r - l).hypot(b - t);
    // A bent hair is no longer than its box is wide and no wider than its area over that.
    let width_mm = area_mm2 / extent_mm;
    let is_long = extent_mm > super::LONG * width_mm && extent_mm > super::LEAST_HAIR_MM;
    // Axis of the largest moment; y points down, so the angle runs clockwise from the vertical.
    let turn = 0.5 * (2.0 * xy).atan2(xx - yy);
    let axis_deg = (90.0 + turn.to_degrees()).rem_euclid(180.0);
    Piece {
        centre_mm: [0.5 * (l + r), 0.5 * (t + b)],
        box_mm,
        size_mm: match is_long {
            true => width_mm,
            false => (4.0 * area_mm2 / std::f64::consts::PI).sqrt(),
        },
        long: is_long.then_some((extent_mm, axis_deg)),
        contrast_d,
        expected_false_alarms: EXPECTED,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hair_has_a_length_and_an_axis_and_a_speck_has_none() {
        let hair: Vec<(usize, usize)> = (0..40).map(|k| (10 + k, 10 + k)).collect();
        let hair = piece(&hair, 0.3, 0.05);
        let (length_mm, axis_deg) = hair.long.unwrap();
        assert!((length_mm - 2.83).abs() < 0.1 && (axis_deg - 135.0).abs() < 1.0);
        let across: Vec<(usize, usize)> = (0..40).map(|k| (10, 10 + k)).collect();
        assert!((piece(&across, 0.3, 0.05).long.unwrap().1 - 90.0).abs() < 1.0);
        let speck: Vec<(usize, usize)> = (0..16).map(|k| (k / 4, k % 4)).collect();
        assert!(piece(&speck, 0.3, 0.05).long.is_none());
    }

    #[test]
    fn the_farthest_value_reaches_as_far_as_told() {
        let mut grid = Grid::zeros((9, 9));
        grid[[4, 4]] = 1.0f32;
        let far = farthest(&grid, 2);
        assert_eq!(far.iter().filter(|v| **v == 1.0).count(), 25);
    }
}
