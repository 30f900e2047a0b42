//! The map that most blocks share.

use super::blocks::{LEAST_WEIGHT, Match, PLACE_SIGMA};
use crate::raster::geometry::{Point, distance};
use crate::raster::stats::{median, solve};

/// How far a block may lie from the common map to bear it out, cells.
const ALIKE_CELLS: f64 = 0.7;

/// Least that the blocks which agree must tell of their place both ways where most tell it one way only, in
/// blocks of which each tells all: along boards with seams or nails it is half a block and more, along others
/// nothing. Our own choice; the test that lays boards would notice a change.
const LEAST_TOLD: f64 = 0.4;

/// Fewest blocks that must bear a map out.
const FEWEST_BLOCKS: usize = 3;

/// Blocks from which the map may turn and stretch; with fewer it only shifts.
const ENOUGH_TO_TURN: usize = 8;

/// How far turn and stretch stray from none between grids that were squared up, cells a cell: a side is
/// found to some tenths of a millimetre on a hundred.
const TURN_SIGMA: f64 = 0.006;

/// The same for one corner against the others, cells a square cell: half a millimetre at a corner.
const BEND_SIGMA: f64 = 3e-5;

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

/// A map, and how far the blocks that bear it out lie from it, cells.
pub(super) struct Shared {
    pub(super) map: Bilinear,
    pub(super) away: Vec<f64>,
}

/// The map that most blocks share. By plain distance; where that finds none, as along boards, along which most blocks
/// tell nothing of their place, by what each tells.
pub(super) fn shared(matches: &[Match]) -> Option<Shared> {
    by_distance(matches).or_else(|| by_what_is_told(matches))
}

/// A handful of blocks agree by chance only if they are few among many.
fn by_distance(matches: &[Match]) -> Option<Shared> {
    let shared = borne_out(
        common_map(matches, shift(matches, |_, _| true)?, apart)?,
        matches,
    );
    (2 * shared.away.len() >= matches.len())
        .then_some(shared)
        .filter(Shared::is_enough)
}

/// Along boards most blocks tell their place one way only, and across them any two pictures of boards as wide
/// agree; a seam or a nail tells the rest, but not one alone.
fn by_what_is_told(matches: &[Match]) -> Option<Shared> {
    let matches: Vec<Match> = matches.iter().map(|m| m.without_guesses()).collect();
    let along = |m: &Match, axis: usize| m.weight[axis][axis] >= LEAST_WEIGHT;
    let map = common_map(&matches, shift(&matches, along)?, apart_as_told)?;
    let agree = matches
        .iter()
        .filter(|m| apart_as_told(&map, m) <= ALIKE_CELLS);
    let mostly = 2 * agree.count() >= matches.len();
    let (mut agreed, mut strayed, mut largest) = (0.0, 0.0, 0.0f64);
    for m in &matches {
        let [both_ways, _] = m.tells();
        match apart(&map, m) <= ALIKE_CELLS {
            true => agreed += both_ways,
            false => strayed += both_ways,
        }
        largest = largest.max(both_ways);
    }
    let told = agreed - largest >= LEAST_TOLD && agreed >= strayed;
    (mostly && told)
        .then(|| borne_out(map, &matches))
        .filter(Shared::is_enough)
}

impl Shared {
    fn is_enough(&self) -> bool {
        self.away.len() >= FEWEST_BLOCKS
    }
}

fn borne_out(map: Bilinear, matches: &[Match]) -> Shared {
    let away = matches.iter().map(|m| apart(&map, m));
    let away = away.filter(|away| *away <= ALIKE_CELLS).collect();
    Shared { map, away }
}

/// How far a block lies from a map, cells.
fn apart(map: &Bilinear, m: &Match) -> f64 {
    distance(map.carry(m.at), m.there)
}

/// The same, counted less along a direction in which the block tells less of its place.
fn apart_as_told(map: &Bilinear, m: &Match) -> f64 {
    let there = map.carry(m.at);
    let [x, y] = [0, 1].map(|k| there[k] - m.there[k]);
    let [[xx, xy], [_, yy]] = m.weight;
    let weighed = xx * x * x + 2.0 * xy * x * y + yy * y * y;
    match m.tells() {
        [_, most] if most >= LEAST_WEIGHT => (weighed / most).max(0.0).sqrt(),
        _ => x.hypot(y),
    }
}

/// The middle shift of the blocks that count along an axis.
fn shift(matches: &[Match], counts: impl Fn(&Match, usize) -> bool) -> Option<Point> {
    let along = |axis: usize| {
        let count = matches.iter().filter(|m| counts(m, axis));
        let mut moved: Vec<f64> = count.map(|m| m.there[axis] - m.at[axis]).collect();
        median(&mut moved)
    };
    Some([along(0)?, along(1)?])
}

/// From a shift on, with strays left out more strictly each time.
fn common_map(
    matches: &[Match],
    [x, y]: Point,
    apart: impl Fn(&Bilinear, &Match) -> f64,
) -> Option<Bilinear> {
    let mut map = Bilinear([[1.0, 0.0, 0.0, x], [0.0, 1.0, 0.0, y]]);
    for within in [4.0, 2.0, 1.0, ALIKE_CELLS] {
        let near: Vec<&Match> = matches
            .iter()
            .filter(|m| apart(&map, m) <= within)
            .collect();
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
