//! Lays one picture on another of the same thing: small shifts, turns and stretches.

use rayon::prelude::*;

use super::Grid;
use super::filter::{average_down, gaussian};
use super::geometry::{Point, distance};
use super::stats::{median, median_and_sigma, solve};

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

/// How far a block may lie from the common map to bear it out, cells.
const ALIKE_CELLS: f64 = 0.7;

/// Correlation of a coarse shift that is nearly as good as the best, as a share of it. Our own choice; the test of
/// this file that lays boards would notice a change.
const NEARLY_AS_GOOD: f64 = 0.95;

/// Least that the blocks which agree must tell of their place both ways where most tell it one way only, in
/// blocks of which each tells all: along boards with seams or nails it is half a block and more, along others
/// nothing. Our own choice; the test of this file that lays boards would notice a change.
const LEAST_TOLD: f64 = 0.4;

/// Weight of a block along a direction below which it tells nothing of its place: its correlation falls off
/// so slowly there that shading moves its top. Our own choice, as above.
const LEAST_WEIGHT: f64 = 0.02;

/// Blocks from which the map may turn and stretch; with fewer it only shifts.
const ENOUGH_TO_TURN: usize = 8;

/// A map of the plane: shift, turn, stretch, and one corner moved against the others. For each coordinate
/// the factors of `x`, `y`, `x y` and 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bilinear(pub [[f64; 4]; 2]);

impl Bilinear {
    /// Leaves every point where it is.
    pub const STILL: Bilinear = Bilinear([[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]]);

    /// Where the map carries a point.
    pub fn carry(&self, [x, y]: Point) -> Point {
        self.0.map(|[a, b, c, d]| a * x + b * y + c * x * y + d)
    }

    /// The map that carries as `of` does; exact where that is bilinear too.
    pub fn like(of: impl Fn(Point) -> Point) -> Bilinear {
        let [o, x, y, xy] = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]].map(of);
        Bilinear([0, 1].map(|k| {
            let (a, b) = (x[k] - o[k], y[k] - o[k]);
            [a, b, xy[k] - o[k] - a - b, o[k]]
        }))
    }
}

/// How far a block's place is off, cells: standard deviation of a good one.
const PLACE_SIGMA: f64 = 0.1;

/// How far turn and stretch stray from none between grids that were squared up, cells a cell: a side is
/// found to some tenths of a millimetre on a hundred.
const TURN_SIGMA: f64 = 0.006;

/// The same for one corner against the others, cells a square cell: half a millimetre at a corner.
const BEND_SIGMA: f64 = 3e-5;

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

/// How much a block tells of its place, a symmetric matrix over both coordinates: 1 along a direction along
/// which it tells all.
type Weight = [[f64; 2]; 2];

/// A block's place in both grids and how sure it is.
#[derive(Debug, Clone, Copy)]
struct Match {
    at: Point,
    there: Point,
    /// See [`Fall::weight`].
    weight: Weight,
}

/// Lays `second` on `first`. Both have cells of one size; details lie within `reach` cells of the same
/// place. `None` when too few blocks agree on a place: the two have nothing in common, or no detail.
///
/// Normalised correlation of blocks, the peak by a parabola, then a map through the blocks' places
/// that leaves strays out (common practice of picture registration; block matching is from memory).
pub fn register(first: &Grid<f32>, second: &Grid<f32>, reach: usize) -> Option<Registered> {
    let shifts = coarse_shifts(first, second, reach)?;
    let (one, two) = (detail(first, SMOOTH_SIGMA)?, detail(second, SMOOTH_SIGMA)?);
    shifts
        .into_iter()
        .find_map(|coarse| from_shift(&one, &two, coarse))
}

/// How the detail of two grids lies on each other, about a shift that is known to within [`FINE_REACH`].
fn from_shift(one: &Grid<f32>, two: &Grid<f32>, coarse: [i64; 2]) -> Option<Registered> {
    let (rows, columns) = one.dim();
    let starts: Vec<(usize, usize)> = (0..rows / BLOCK)
        .flat_map(|i| (0..columns / BLOCK).map(move |j| (i, j)))
        .map(|(i, j)| (start(i, rows), start(j, columns)))
        .collect();
    let compared = starts.len();
    let matches: Vec<Match> = starts
        .into_par_iter()
        .filter_map(|(top, left)| place(one, two, top, left, coarse))
        .collect();
    let map = common_map(&matches)?;
    let mut away: Vec<f64> = matches
        .iter()
        .map(|m| distance(map.carry(m.at), m.there))
        .filter(|away| *away <= ALIKE_CELLS)
        .collect();
    let blocks = away.len();
    let mostly = |count: usize| 2 * count >= matches.len();
    let across = matches.iter().filter(|m| off(&map, m) <= ALIKE_CELLS);
    // A handful of blocks agree by chance only if they are few among many.
    let agree = mostly(blocks) || mostly(across.count()) && tell_along(&map, &matches);
    if blocks < 3 || !agree {
        return None;
    }
    Some(Registered {
        map,
        blocks,
        compared,
        scatter_cells: median(&mut away)?,
    })
}

/// Whether the blocks that tell their place both ways bear the map out. Along boards most tell it one way only, and
/// across them any two pictures of boards as wide agree; a seam or a nail tells the rest, but not one alone.
fn tell_along(map: &Bilinear, matches: &[Match]) -> bool {
    let (mut agreed, mut strayed, mut largest) = (0.0, 0.0, 0.0f64);
    for m in matches {
        let [told, _] = eigenvalues(m.weight);
        match distance(map.carry(m.at), m.there) <= ALIKE_CELLS {
            true => agreed += told,
            false => strayed += told,
        }
        largest = largest.max(told);
    }
    agreed - largest >= LEAST_TOLD && agreed >= strayed
}

/// First cell of a block, so that the blocks lie in the middle of the grid.
fn start(number: usize, cells: usize) -> usize {
    (cells % BLOCK) / 2 + number * BLOCK
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

/// A rectangle of cells.
struct Window {
    top: usize,
    left: usize,
    rows: usize,
    columns: usize,
}

/// Normalised correlation of a window of the first grid with the shifted one of the second; only cells
/// that both have.
fn correlation(one: &Grid<f32>, two: &Grid<f32>, of: &Window, [dx, dy]: [i64; 2]) -> f64 {
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
    /// [`PLACE_SIGMA`], of which it is counted in units. Nothing along a direction that weighs less than
    /// [`LEAST_WEIGHT`].
    fn weight(&self) -> Weight {
        let [xx, xy, yy] = self
            .bend
            .map(|bend| bend * self.telling * PLACE_SIGMA * PLACE_SIGMA);
        let (more_x, more_y) = (1.0 + xx, 1.0 + yy);
        let all = more_x * more_y - xy * xy;
        let aslant = xy / all;
        without_guesses([
            [(xx * more_y - xy * xy) / all, aslant],
            [aslant, (yy * more_x - xy * xy) / all],
        ])
    }
}

/// How far a block lies from the map, cells; along a direction in which it tells less of its place it counts
/// as less.
fn off(map: &Bilinear, m: &Match) -> f64 {
    let there = map.carry(m.at);
    let [x, y] = [0, 1].map(|k| there[k] - m.there[k]);
    let [[xx, xy], [_, yy]] = m.weight;
    let weighed = xx * x * x + 2.0 * xy * x * y + yy * y * y;
    match eigenvalues(m.weight) {
        [_, most] if most >= LEAST_WEIGHT => (weighed / most).max(0.0).sqrt(),
        _ => x.hypot(y),
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

/// The map that most blocks share: from the middle shift on, with strays left out more strictly each
/// time.
fn common_map(matches: &[Match]) -> Option<Bilinear> {
    // By the blocks that tell along an axis, if any does.
    let shift = |axis: usize| {
        let moved = |m: &Match| m.there[axis] - m.at[axis];
        let tells = |m: &&Match| m.weight[axis][axis] >= LEAST_WEIGHT;
        let mut told: Vec<f64> = matches.iter().filter(tells).map(moved).collect();
        if told.is_empty() {
            told = matches.iter().map(moved).collect();
        }
        median(&mut told)
    };
    let mut map = Bilinear([[1.0, 0.0, 0.0, shift(0)?], [0.0, 1.0, 0.0, shift(1)?]]);
    for within in [4.0, 2.0, 1.0, ALIKE_CELLS] {
        let near: Vec<&Match> = matches.iter().filter(|m| off(&map, m) <= within).collect();
        map = if near.len() >= ENOUGH_TO_TURN {
            bent(&near)?
        } else {
            shifted(&near)?
        };
    }
    Some(map)
}

/// Weighted mean shift.
fn shifted(matches: &[&Match]) -> Option<Bilinear> {
    let (mut a, mut b) = (vec![0.0; 4], vec![0.0; 2]);
    for m in matches {
        for (k, weight) in m.weight.iter().enumerate() {
            for (l, weight) in weight.iter().enumerate() {
                a[2 * k + l] += weight;
                b[k] += weight * (m.there[l] - m.at[l]);
            }
        }
    }
    let solved = solve(a, b)?;
    let [x, y] = solved[..] else {
        return None;
    };
    Some(Bilinear([[1.0, 0.0, 0.0, x], [0.0, 1.0, 0.0, y]]))
}

/// Weighted least squares for both coordinates, with turn, stretch and bend held near none: where the
/// blocks tell little, the map must not run away beyond them (ridge regression, Hoerl and Kennard,
/// Technometrics 12, 1970).
fn bent(matches: &[&Match]) -> Option<Bilinear> {
    // Counted from the middle of the blocks, so that the sums stay well conditioned.
    let n = matches.len() as f64;
    let middle = [0, 1].map(|axis| matches.iter().map(|m| m.at[axis]).sum::<f64>() / n);
    let hold = [
        (PLACE_SIGMA / TURN_SIGMA).powi(2),
        (PLACE_SIGMA / TURN_SIGMA).powi(2),
        (PLACE_SIGMA / BEND_SIGMA).powi(2),
        0.0,
    ];
    // Unknowns: turn, stretch, bend and shift of `x`, then of `y`.
    let (mut a, mut b) = (vec![0.0; 64], vec![0.0; 8]);
    for (unknown, hold) in hold.iter().chain(&hold).enumerate() {
        a[9 * unknown] = *hold;
    }
    for m in matches {
        let (x, y) = (m.at[0] - middle[0], m.at[1] - middle[1]);
        let row = [x, y, x * y, 1.0];
        for (k, weight) in m.weight.iter().enumerate() {
            for (l, weight) in weight.iter().enumerate() {
                // What is left beside staying in place.
                let moved = m.there[l] - m.at[l];
                for i in 0..4 {
                    b[4 * k + i] += weight * row[i] * moved;
                    for j in 0..4 {
                        a[8 * (4 * k + i) + 4 * l + j] += weight * row[i] * row[j];
                    }
                }
            }
        }
    }
    let solved = solve(a, b)?;
    Some(Bilinear::like(|point| {
        let (x, y) = (point[0] - middle[0], point[1] - middle[1]);
        [0, 1].map(|axis| {
            let [p, q, s, r] = [0, 1, 2, 3].map(|i| solved[4 * axis + i]);
            point[axis] + p * x + q * y + s * x * y + r
        })
    }))
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
