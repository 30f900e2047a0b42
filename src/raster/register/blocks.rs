//! Blocks of one grid and where they lie in another.

use rayon::prelude::*;

use crate::raster::Grid;
use crate::raster::geometry::Point;

/// Side of the blocks that are laid on each other, cells, and how far from the coarse shift each is
/// looked for, cells.
const BLOCK: usize = 96;
/// See [`BLOCK`].
const FINE_REACH: i64 = 7;

/// Correlation from which a block's place counts. Blocks without common detail reach 0.15 (some 200
/// independent cells, best of 225 shifts).
const LEAST_CORRELATION: f64 = 0.3;

/// Independent cells of a block (see above), and the least share that two blocks are taken not to have in common.
const INDEPENDENT: f64 = 200.0;
/// See [`INDEPENDENT`].
const LEAST_UNSHARED: f64 = 0.05;

/// How far a block's place is off its best cell before the correlation is looked at, cells: standard deviation.
const WITHIN_CELL: f64 = 1.0;

/// How far a block's place is off, cells: standard deviation of a good one.
pub(super) const PLACE_SIGMA: f64 = 0.1;

/// Weight of a block along a direction below which it tells nothing of its place: its correlation falls off
/// so slowly there that shading moves its top. Our own choice; the test that lays boards would notice a change.
pub(super) const LEAST_WEIGHT: f64 = 0.02;

/// How much a block tells of its place, a symmetric matrix over both coordinates: 1 along a direction along
/// which it tells all.
pub(super) type Weight = [[f64; 2]; 2];

/// A block's place in both grids and how sure it is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Match {
    pub(super) at: Point,
    pub(super) there: Point,
    /// See [`Fall::weight`].
    pub(super) weight: Weight,
}

impl Match {
    /// The same without what the block tells along its weaker direction, if that is next to nothing beside the
    /// other.
    pub(super) fn without_guesses(self) -> Match {
        Match {
            weight: without_guesses(self.weight),
            ..self
        }
    }

    /// How much the block tells of its place along the direction of which it tells less, and more.
    pub(super) fn tells(&self) -> [f64; 2] {
        eigenvalues(self.weight)
    }
}

/// The blocks of `one` that have a place in `two` about a shift, and how many were looked for.
pub(super) fn places(one: &Grid<f32>, two: &Grid<f32>, shift: [i64; 2]) -> (Vec<Match>, usize) {
    let (rows, columns) = one.dim();
    let starts: Vec<(usize, usize)> = (0..rows / BLOCK)
        .flat_map(|i| (0..columns / BLOCK).map(move |j| (i, j)))
        .map(|(i, j)| (start(i, rows), start(j, columns)))
        .collect();
    let compared = starts.len();
    let places = starts
        .into_par_iter()
        .filter_map(|(top, left)| place(one, two, top, left, shift))
        .collect();
    (places, compared)
}

/// First cell of a block, so that the blocks lie in the middle of the grid.
fn start(number: usize, cells: usize) -> usize {
    (cells % BLOCK) / 2 + number * BLOCK
}

/// Where a block lies in the second grid.
fn place(
    one: &Grid<f32>,
    two: &Grid<f32>,
    top: usize,
    left: usize,
    [cx, cy]: [i64; 2],
) -> Option<Match> {
    let window = Window {
        top,
        left,
        rows: BLOCK,
        columns: BLOCK,
    };
    let side = 2 * FINE_REACH + 1;
    let score: Vec<f64> = (-FINE_REACH..=FINE_REACH)
        .flat_map(|dy| (-FINE_REACH..=FINE_REACH).map(move |dx| [cx + dx, cy + dy]))
        .map(|shift| correlation(one, two, &window, shift))
        .collect();
    let (best, peak) = score.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
    let (row, column) = (best as i64 / side, best as i64 % side);
    let at_rim = [row, column].iter().any(|v| *v == 0 || *v == side - 1);
    if *peak < LEAST_CORRELATION || at_rim {
        return None;
    }
    let near = |r: i64, c: i64| score[((row + r) * side + column + c) as usize];
    let fall = Fall::of(near);
    let [dx, dy] = fall.top();
    let middle = 0.5 * (BLOCK as f64 - 1.0);
    let here = [left as f64 + middle, top as f64 + middle];
    let from_first = |cells: i64| (cells - FINE_REACH) as f64;
    Some(Match {
        at: here,
        there: [
            here[0] + cx as f64 + from_first(column) + dx,
            here[1] + cy as f64 + from_first(row) + dy,
        ],
        weight: fall.weight(),
    })
}

/// A rectangle of cells.
pub(super) struct Window {
    pub(super) top: usize,
    pub(super) left: usize,
    pub(super) rows: usize,
    pub(super) columns: usize,
}

/// Normalised correlation of a window of the first grid with the shifted one of the second; only cells
/// that both have.
pub(super) fn correlation(
    one: &Grid<f32>,
    two: &Grid<f32>,
    of: &Window,
    [dx, dy]: [i64; 2],
) -> f64 {
    let (rows, columns) = two.dim();
    let from = (of.left as i64 + dx).max(0);
    let to = (of.left as i64 + of.columns as i64 + dx).min(columns as i64);
    if from >= to {
        return 0.0;
    }
    let (from, to) = (from as usize, to as usize);
    let start = (from as i64 - dx) as usize;
    let mut sums = [0.0f64; 5];
    let mut count = 0;
    for i in of.top..of.top + of.rows {
        let there = i as i64 + dy;
        if there < 0 || there >= rows as i64 {
            continue;
        }
        let a = one.row(i);
        let b = two.row(there as usize);
        let (Some(a), Some(b)) = (a.as_slice(), b.as_slice()) else {
            continue;
        };
        let (a, b) = (&a[start..start + (to - from)], &b[from..to]);
        let mut row = [0.0f32; 5];
        for (x, y) in a.iter().zip(b) {
            row[0] += x;
            row[1] += y;
            row[2] += x * x;
            row[3] += y * y;
            row[4] += x * y;
        }
        for (sum, part) in sums.iter_mut().zip(row) {
            *sum += f64::from(part);
        }
        count += to - from;
    }
    let n = count as f64;
    // A shift that leaves little to compare proves nothing.
    if 2 * count < of.rows * of.columns {
        return 0.0;
    }
    let [x, y, xx, yy, xy] = sums.map(|sum| sum / n);
    let spread = (xx - x * x) * (yy - y * y);
    if spread <= 1e-12 {
        return 0.0;
    }
    (xy - x * y) / spread.sqrt()
}

/// How the correlation of a block falls off around its best cell: a paraboloid. Along an edge it hardly falls, and its
/// ridge may lie aslant, so that the two coordinates are one question.
struct Fall {
    /// Slope at the best cell, a cell.
    slope: [f64; 2],
    /// Bend, a square cell: `xx`, `xy`, `yy`, positive where it falls.
    bend: [f64; 3],
    /// How many times the bend tells more of the place than one unit of noise.
    telling: f64,
}

impl Fall {
    /// From the correlation so many rows and columns off the best cell.
    fn of(near: impl Fn(i64, i64) -> f64) -> Fall {
        let peak = near(0, 0);
        let xx = (2.0 * peak - near(0, -1) - near(0, 1)).max(1e-9);
        let yy = (2.0 * peak - near(-1, 0) - near(1, 0)).max(1e-9);
        let xy = 0.25 * (near(-1, 1) + near(1, -1) - near(1, 1) - near(-1, -1));
        // A ridge at most: noise must not make a saddle of it.
        let most = 0.99 * (xx * yy).sqrt();
        Fall {
            slope: [
                0.5 * (near(0, 1) - near(0, -1)),
                0.5 * (near(1, 0) - near(-1, 0)),
            ],
            bend: [xx, xy.clamp(-most, most), yy],
            telling: INDEPENDENT / (1.0 - peak * peak).max(LEAST_UNSHARED),
        }
    }

    /// The top, cells from the best cell: on a ridge the place nearest to it.
    fn top(&self) -> Point {
        let [xx, xy, yy] = self.bend;
        let hold = 1.0 / (self.telling * WITHIN_CELL * WITHIN_CELL);
        let (xx, yy) = (xx + hold, yy + hold);
        let [x, y] = self.slope;
        let all = xx * yy - xy * xy;
        [(yy * x - xy * y) / all, (xx * y - xy * x) / all].map(|off: f64| off.clamp(-1.0, 1.0))
    }

    /// What a place weighs, a matrix over both coordinates: how far noise moves the top follows from what the two
    /// blocks do not share and from the bend (Cramer and Rao's bound for a shift, from memory); to that comes
    /// [`PLACE_SIGMA`], of which it is counted in units.
    fn weight(&self) -> Weight {
        let [xx, xy, yy] = self
            .bend
            .map(|bend| bend * self.telling * PLACE_SIGMA * PLACE_SIGMA);
        let (more_x, more_y) = (1.0 + xx, 1.0 + yy);
        let all = more_x * more_y - xy * xy;
        let aslant = xy / all;
        [
            [(xx * more_y - xy * xy) / all, aslant],
            [aslant, (yy * more_x - xy * xy) / all],
        ]
    }
}

/// The two eigenvalues of a symmetric matrix, the smaller first.
fn eigenvalues([[xx, xy], [_, yy]]: Weight) -> [f64; 2] {
    let (middle, apart) = (0.5 * (xx + yy), (0.5 * (xx - yy)).hypot(xy));
    [middle - apart, middle + apart]
}

/// A weight without what it tells along its weaker direction, if that is next to nothing beside the other.
fn without_guesses(weight: Weight) -> Weight {
    let [least, most] = eigenvalues(weight);
    if least >= LEAST_WEIGHT || most < LEAST_WEIGHT {
        return weight;
    }
    let [[xx, xy], [yx, yy]] = weight;
    [[xx - least, xy], [yx, yy - least]].map(|row| row.map(|v| v * most / (most - least)))
}
