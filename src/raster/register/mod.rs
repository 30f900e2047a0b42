//! Lays one picture on another of the same thing: small shifts, turns and stretches.

use rayon::prelude::*;

use super::Grid;
use super::filter::{average_down, gaussian};
use super::geometry::Point;
use super::stats::{median, median_and_sigma};

mod blocks;
mod map;

pub use map::Bilinear;

use blocks::{Window, correlation, places};
use map::shared;

/// How many times coarser the first search is.
const COARSE: usize = 4;

/// Standard deviation of the blur that is taken off before grids are compared, cells: shading and lamp
/// falloff are no detail. In the coarse search as many coarse cells.
const DETAIL_SIGMA: f64 = 10.0;

/// Blur before the fine search, cells: noise of single cells is no detail either.
const SMOOTH_SIGMA: f64 = 0.8;

/// Detail beyond this many robust standard deviations counts as this many: a hair in one picture must
/// not weigh more than all the rest.
const MOST_SIGMAS: f64 = 4.0;

/// Correlation of a coarse shift that is nearly as good as the best, as a share of it. Our own choice; the test
/// that lays boards would notice a change.
const NEARLY_AS_GOOD: f64 = 0.95;

/// How two grids lie on each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Registered {
    /// From cells of the first to cells of the second, centres at whole numbers.
    pub map: Bilinear,
    /// Blocks that bear the map out, of those that were compared.
    pub blocks: usize,
    /// See `blocks`.
    pub compared: usize,
    /// Median distance of those blocks from the map, cells.
    pub scatter_cells: f64,
}

impl Registered {
    /// Where a point of the first grid lies in the second, cells.
    pub fn carry(&self, [x, y]: Point) -> Point {
        self.map.carry([x, y])
    }
}

/// Lays `second` on `first`. Both have cells of one size; details lie within `reach` cells of the same
/// place. `None` when too few blocks agree on a place: the two have nothing in common, or no detail.
///
/// Normalised correlation of blocks, the peak by a parabola, then a map through the blocks' places
/// that leaves strays out (common practice of picture registration; block matching is from memory).
pub fn register(first: &Grid<f32>, second: &Grid<f32>, reach: usize) -> Option<Registered> {
    let shifts = coarse_shifts(first, second, reach)?;
    let (one, two) = (detail(first, SMOOTH_SIGMA)?, detail(second, SMOOTH_SIGMA)?);
    shifts.into_iter().find_map(|shift| {
        let (matches, compared) = places(&one, &two, shift);
        let mut found = shared(&matches)?;
        Some(Registered {
            map: found.map,
            blocks: found.away.len(),
            compared,
            scatter_cells: median(&mut found.away)?,
        })
    })
}

/// What is left of a grid without its shading, in robust standard deviations; `None` when it is even.
fn detail(grid: &Grid<f32>, smooth: f64) -> Option<Grid<f32>> {
    let ground = gaussian(grid, DETAIL_SIGMA);
    let mut left = gaussian(grid, smooth);
    left -= &ground;
    let some: Vec<f64> = left
        .iter()
        .step_by((left.len() / 50_000).max(1))
        .map(|v| f64::from(*v))
        .collect();
    let (middle, sigma) = median_and_sigma(&some)?;
    if sigma <= 0.0 || !sigma.is_finite() {
        return None;
    }
    let (middle, sigma, most) = (middle as f32, sigma as f32, MOST_SIGMAS as f32);
    left.par_mapv_inplace(|v| ((v - middle) / sigma).clamp(-most, most));
    Some(left)
}

/// Shifts of the whole, cells, to within the coarse cell, the likeliest first: the best, and where others
/// are nearly as good, as along boards, of those the one nearest to none.
fn coarse_shifts(first: &Grid<f32>, second: &Grid<f32>, reach: usize) -> Option<Vec<[i64; 2]>> {
    let one = detail(&average_down(first, COARSE), 0.0)?;
    let two = detail(&average_down(second, COARSE), 0.0)?;
    let (rows, columns) = one.dim();
    let reach = reach.div_ceil(COARSE) as i64;
    let margin = reach as usize;
    if rows <= 2 * margin + 2 || columns <= 2 * margin + 2 {
        return None;
    }
    let inside = Window {
        top: margin,
        left: margin,
        rows: rows - 2 * margin,
        columns: columns - 2 * margin,
    };
    let shifts: Vec<[i64; 2]> = (-reach..=reach)
        .flat_map(|dy| (-reach..=reach).map(move |dx| [dx, dy]))
        .collect();
    let scored: Vec<(f64, [i64; 2])> = shifts
        .into_par_iter()
        .map(|shift| (correlation(&one, &two, &inside, shift), shift))
        .collect();
    let (most, best) = *scored.iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    let nearest = scored
        .iter()
        .filter(|(of, _)| *of >= NEARLY_AS_GOOD * most)
        .map(|(_, shift)| *shift)
        .min_by_key(|[dx, dy]| dx * dx + dy * dy);
    let mut likeliest = vec![best];
    likeliest.extend(nearest);
    likeliest.dedup();
    Some(
        likeliest
            .iter()
            .map(|of| of.map(|v| v * COARSE as i64))
            .collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture without end: waves of many lengths, told by place.
    fn wave(x: f64, y: f64, kind: f64) -> f32 {
        let mut sum = 0.0;
        for k in 1..14 {
            let k = f64::from(k);
            let (a, b) = ((k * 2.4 + kind).sin() * 0.22, (k * 1.7 + kind).cos() * 0.22);
            sum += (a * x + b * y + k * kind).sin() / (1.0 + 0.1 * k);
        }
        sum as f32
    }

    fn noise(i: usize, j: usize) -> f32 {
        let mut h = (i as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15)
            ^ (j as u64).wrapping_mul(0xc2b2_ae3d_27d4_eb4f);
        h ^= h >> 29;
        h = h.wrapping_mul(0xbf58_476d_1ce4_e5b9);
        ((h >> 40) as f32 / (1u64 << 24) as f32) - 0.5
    }

    #[test]
    fn a_shifted_and_turned_picture_is_found_to_a_small_share_of_a_cell() {
        let (sin, cos) = 0.2f64.to_radians().sin_cos();
        let there = |x: f64, y: f64| [1.0005 * (cos * x - sin * y) + 6.3, sin * x + cos * y - 4.6];
        let second = Grid::from_shape_fn((500, 420), |(i, j)| {
            wave(j as f64, i as f64, 1.0) + 0.8 * noise(i, j)
        });
        let first = Grid::from_shape_fn((500, 420), |(i, j)| {
            let [x, y] = there(j as f64, i as f64);
            wave(x, y, 1.0) + 0.8 * noise(i + 999, j)
        });
        let found = register(&first, &second, 20).unwrap();
        assert!(found.blocks >= 15, "{found:?}");
        // Within the blocks' middles a tenth; in the grid's corners the map is carried on past them.
        for (x, y, within) in [
            (66.0, 58.0, 0.1),
            (354.0, 442.0, 0.1),
            (200.0, 250.0, 0.1),
            (40.0, 40.0, 0.15),
            (380.0, 460.0, 0.15),
        ] {
            let ([a, b], [c, d]) = (found.carry([x, y]), there(x, y));
            assert!(
                (a - c).hypot(b - d) < within,
                "{x} {y}: {a} {b} for {c} {d}"
            );
        }
    }

    #[test]
    fn boards_that_lie_aslant_draw_the_map_along_them_no_more_than_their_grain_allows() {
        let boards = |x: f64, y: f64| {
            let across = (2.0 * std::f64::consts::PI * (y + 0.05 * x) / 23.0).sin();
            (5.0 * across.powi(3)) as f32 + wave(x, y, 2.0)
        };
        let second = Grid::from_shape_fn((500, 420), |(i, j)| {
            boards(j as f64, i as f64) + 0.8 * noise(i, j)
        });
        let first = Grid::from_shape_fn((500, 420), |(i, j)| {
            boards(j as f64 + 0.4, i as f64 - 0.3) + 0.8 * noise(i + 999, j)
        });
        let found = register(&first, &second, 20).unwrap();
        for [x, y] in [[10.0, 10.0], [410.0, 10.0], [410.0, 490.0], [10.0, 490.0]] {
            let [a, b] = found.carry([x, y]);
            assert!((a - x - 0.4).hypot(b - y + 0.3) < 0.15, "{x} {y}: {a} {b}");
        }
    }

    /// Boards across the grid, alike all along, with seams at two places and noise.
    fn boards(seams: [f64; 2], off: Point, noisy: usize) -> Grid<f32> {
        Grid::from_shape_fn((500, 420), |(i, j)| {
            let (x, y) = (j as f64 + off[0], i as f64 + off[1]);
            let across = (2.0 * std::f64::consts::PI * y / 23.0).sin();
            let seam = seams.iter().any(|at| (x - at).abs() < 2.0);
            let seam = if seam { -4.0 } else { 0.0 };
            (5.0 * across.powi(3)) as f32 + seam + 0.8 * noise(i + noisy, j)
        })
    }

    #[test]
    fn boards_are_laid_on_each_other_by_what_few_blocks_tell_along_them() {
        let first = boards([130.0, 310.0], [0.0, 0.0], 0);
        let second = boards([130.0, 310.0], [2.4, -1.3], 999);
        let found = register(&second, &first, 20).unwrap();
        for [x, y] in [[10.0, 10.0], [410.0, 490.0]] {
            let [a, b] = found.carry([x, y]);
            assert!((a - x - 2.4).hypot(b - y + 1.3) < 0.3, "{x} {y}: {a} {b}");
        }
        // Seams at other places, or none: alike across, with nothing common that tells along.
        let elsewhere = boards([40.0, 230.0], [0.0, 1.0], 999);
        assert_eq!(register(&elsewhere, &first, 20), None);
        let plain = [-100.0, -100.0];
        let (one, other) = (boards(plain, [0.0, 0.0], 0), boards(plain, [0.0, 1.0], 999));
        assert_eq!(register(&one, &other, 20), None);
    }

    #[test]
    fn one_level_and_one_upright_line_do_not_make_two_pictures_one() {
        let picture = |kind: f64| {
            Grid::from_shape_fn((500, 420), |(i, j)| {
                let on_line = i.abs_diff(180) < 3 || j.abs_diff(150) < 3;
                let line = if on_line { 8.0 } else { 0.0 };
                line + wave(j as f64, i as f64, kind) + noise(i + kind as usize, j)
            })
        };
        assert_eq!(register(&picture(1.0), &picture(5.0), 20), None);
    }

    #[test]
    fn two_pictures_of_different_things_have_no_common_place() {
        let grid = |kind: f64| {
            Grid::from_shape_fn((400, 400), |(i, j)| {
                wave(j as f64, i as f64, kind) + noise(i + kind as usize, j)
            })
        };
        assert_eq!(register(&grid(1.0), &grid(5.0), 20), None);
        let even = Grid::from_elem((400, 400), 0.5f32);
        assert_eq!(register(&even, &grid(1.0), 20), None);
        let small = Grid::from_elem((5, 5), 0.5f32);
        assert_eq!(register(&small, &small, 20), None);
    }
}
