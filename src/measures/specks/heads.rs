//! Heads: extrema of the silver at several scales, each against its own ring.

use rayon::prelude::*;

use super::Field;
use super::chance::{Chance, Extremum};
use crate::raster::filter::{average_down, gaussian};
use crate::raster::{Grid, several_at_a_time};

/// Octaves, each of cells twice as wide: at 600 cells an inch heads from 0.08 to 1.4 mm.
const OCTAVES: usize = 4;

/// Blur of an octave, cells: about a disc of 1 to 2 cells in radius (Lindeberg 1998: a disc of radius r
/// answers strongest at r / sqrt 2).
const BLUR_CELLS: f64 = 0.8;

/// Radius of the ring that a head is judged against, cells: outside a disc of 2 cells and its blur.
const RING_CELLS: f64 = 3.6;

/// A quarter of the ring, cells across and down from its middle: whole cells, about [`RING_CELLS`] away and
/// about as far from each other, so that nothing has to be read between cells.
const QUARTER: [(isize, isize); 5] = [(4, 0), (3, 1), (3, 2), (2, 3), (1, 3)];

/// Points of the ring.
const RING_POINTS: usize = 4 * QUARTER.len();

/// Neighbouring points of the ring that may be as strong as the head: a tail leaves there. A line
/// leaves on both sides and is no head.
const RING_LEFT_OUT: usize = 5;

/// A candidate for the head of a mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Head {
    /// Row and column on the plate's grid, cells, centres at .5.
    pub at: [f64; 2],
    /// More silver than its ring.
    pub more: bool,
    /// Radius of its ring, cells of the plate's grid.
    pub ring: f64,
    /// Expected heads so prominent by chance.
    pub expected: f64,
}

/// Heads with at most `alarms` expected by chance, strongest first, each place once.
pub(super) fn find(silver: &Grid<f32>, field: &Field, pitch_mm: f64, alarms: f64) -> Vec<Head> {
    let mut heads = Vec::new();
    // On a coarse grid the first octave is one of wide cells already.
    let octaves = if pitch_mm > 0.05 {
        OCTAVES - 1
    } else {
        OCTAVES
    };
    // Each octave is averaged from the one before.
    let mut coarser: Option<Grid<f32>> = None;
    for octave in 0..octaves {
        if octave > 0 {
            coarser = Some(average_down(coarser.as_ref().unwrap_or(silver), 2));
        }
        let level = gaussian(coarser.as_ref().unwrap_or(silver), BLUR_CELLS);
        heads.extend(in_octave(&level, field, octave, alarms));
    }
    heads.sort_by(|a, b| a.expected.total_cmp(&b.expected));
    let mut kept: Vec<Head> = Vec::new();
    for head in heads {
        let apart = |other: &Head| {
            let away = (head.at[0] - other.at[0]).hypot(head.at[1] - other.at[1]);
            away > 0.8 * head.ring.max(other.ring)
        };
        if kept.iter().all(apart) {
            kept.push(head);
        }
    }
    kept
}

fn in_octave(level: &Grid<f32>, field: &Field, octave: usize, alarms: f64) -> Vec<Head> {
    let factor = 1 << octave;
    let (rows, columns) = level.dim();
    let reach = RING_CELLS.ceil() as usize;
    if rows <= 2 * reach || columns <= 2 * reach {
        return Vec::new();
    }
    let Some(values) = level.as_slice() else {
        return Vec::new();
    };
    let ring = ring(columns);
    let middle = |k: usize| (k << octave) + factor / 2;
    let searched = |i: usize, j: usize| field.holds(middle(i), middle(j));
    let found: Vec<[Vec<Extremum>; 2]> = (reach..rows - reach)
        .into_par_iter()
        .map(|i| {
            several_at_a_time(|| {
                let row = |k: usize| &values[k * columns..(k + 1) * columns];
                let stands_out = standing_out([row(i - 1), row(i), row(i + 1)]);
                // Of white noise a ninth of all cells are maxima.
                let mut found = [(); 2].map(|()| Vec::with_capacity(columns / 9));
                for (j, out) in stands_out
                    .iter()
                    .enumerate()
                    .take(columns - reach)
                    .skip(reach)
                {
                    if *out != 0 && searched(i, j) {
                        let more = *out > 0;
                        let sign = if more { 1.0 } else { -1.0 };
                        let at = i * columns + j;
                        // Loops, since arrays mapped by closures are not laid flat.
                        let mut around = [0.0; RING_POINTS];
                        for (value, by) in around.iter_mut().zip(&ring) {
                            *value = sign * values[at.wrapping_add_signed(*by)];
                        }
                        found[usize::from(!more)].push(Extremum {
                            row: i as u32,
                            column: j as u32,
                            prominence: sign * values[at] - strongest(&around),
                        });
                    }
                }
                found
            })
        })
        .collect();
    let mut heads = Vec::new();
    // Those with more silver, then those with less.
    let both = [0, 1].map(|side| {
        let mut all = Vec::with_capacity(found.iter().map(|row| row[side].len()).sum());
        for row in &found {
            all.extend_from_slice(&row[side]);
        }
        all
    });
    drop(found);
    let chances = Chance::read(&both, rows, columns, octave);
    for ((side, chance), extrema) in [true, false].into_iter().zip(&chances).zip(&both) {
        for extremum in extrema {
            let (i, j) = (extremum.row as usize, extremum.column as usize);
            let prominence = f64::from(extremum.prominence);
            if prominence < 0.4 * super::VISIBLE_D {
                continue;
            }
            let expected = chance.expected(i, j, prominence);
            if expected <= alarms {
                let centre = |k: usize| (k as f64 + 0.5) * factor as f64;
                heads.push(Head {
                    at: [centre(i), centre(j)],
                    more: side,
                    ring: RING_CELLS * factor as f64,
                    expected,
                });
            }
        }
    }
    heads
}

/// Cells of a row that are larger than all eight about them, 1, or smaller, -1; without branches, so
/// that several cells are compared at a time.
#[inline(always)]
fn standing_out(lines: [&[f32]; 3]) -> Vec<i8> {
    let columns = lines[1].len();
    let mut out = vec![0; columns];
    let Some(inner) = columns.checked_sub(2) else {
        return out;
    };
    let [above, own, below] = lines.map(|line| [0, 1, 2].map(|by| &line[by..by + inner]));
    for (j, out) in out[1..=inner].iter_mut().enumerate() {
        let around = [
            above[0][j],
            above[1][j],
            above[2][j],
            own[0][j],
            own[2][j],
            below[0][j],
            below[1][j],
            below[2][j],
        ];
        let [mut most, mut least] = [around[0]; 2];
        for value in around {
            most = if value > most { value } else { most };
            least = if value < least { value } else { least };
        }
        *out = i8::from(own[1][j] > most) - i8::from(own[1][j] < least);
    }
    out
}

/// How far the ring's points lie from its middle in a row-major grid, in turn round it.
fn ring(columns: usize) -> [isize; RING_POINTS] {
    std::array::from_fn(|k| {
        let (mut across, mut down) = QUARTER[k % QUARTER.len()];
        for _ in 0..k / QUARTER.len() {
            (across, down) = (-down, across);
        }
        down * columns as isize + across
    })
}

/// The strongest point of the ring, with the best run of neighbours left out: the least of the maxima
/// of all runs of the others.
#[inline(always)]
fn strongest(values: &[f32; RING_POINTS]) -> f32 {
    // Maxima of runs of 2, 4 and 8 neighbours from each point on; two runs of 8 make up one of 15.
    let of_2 = longer(values, 1);
    let of_4 = longer(&of_2, 2);
    let of_8 = longer(&of_4, 4);
    let mut least = f32::INFINITY;
    for k in 0..RING_POINTS {
        let most = larger(of_8[k], of_8[(k + 7) % RING_POINTS]);
        least = if most < least { most } else { least };
    }
    least
}

/// Maxima of runs twice as long, from runs of `by` neighbours.
#[inline(always)]
fn longer(runs: &[f32; RING_POINTS], by: usize) -> [f32; RING_POINTS] {
    let mut maxima = [0.0; RING_POINTS];
    for k in 0..RING_POINTS {
        maxima[k] = larger(runs[k], runs[(k + by) % RING_POINTS]);
    }
    maxima
}

/// The larger of two numbers: one instruction, as `max`, which heeds what is no number, is not.
#[inline(always)]
fn larger(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

const _: () = assert!(RING_POINTS - RING_LEFT_OUT == 15);

#[cfg(test)]
mod tests {
    use super::*;

    /// Even noise of about 0.02 D with one disc on it.
    fn noisy(disc_d: f32, line: bool) -> Grid<f32> {
        let mut state = 1u32;
        Grid::from_shape_fn((300, 300), |(i, j)| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = 0.07 * ((state >> 8) as f32 / 16_777_216.0 - 0.5);
            let away = (i as f32 - 150.0).hypot(j as f32 - 140.0);
            let marked = if line {
                j.abs_diff(140) < 2
            } else {
                away < 2.5
            };
            noise + if marked { disc_d } else { 0.0 }
        })
    }

    #[test]
    fn a_disc_is_a_head_and_a_line_and_noise_are_not() {
        let field = Field::all((300, 300));
        let heads = find(&noisy(-0.3, false), &field, 0.0423, 0.1);
        assert_eq!(heads.len(), 1);
        assert!(!heads[0].more && (heads[0].at[0] - 150.5).abs() < 2.0);
        assert!(find(&noisy(0.3, true), &field, 0.0423, 0.1).is_empty());
        assert!(find(&noisy(0.0, false), &field, 0.0423, 0.1).is_empty());
    }
}
