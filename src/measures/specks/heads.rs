//! Heads: extrema of the silver at several scales, each against its own ring.

use ndarray::{Axis, parallel::prelude::*};

use super::chance::Chance;
use crate::raster::filter::{average_down, gaussian};
use crate::raster::{Grid, Mask};

/// Octaves, each of cells twice as wide: at 600 cells an inch heads from 0.08 to 1.4 mm.
const OCTAVES: usize = 4;

/// Blur of an octave, cells: about a disc of 1 to 2 cells in radius (Lindeberg 1998: a disc of radius r
/// answers strongest at r / sqrt 2).
const BLUR_CELLS: f64 = 0.8;

/// Radius of the ring that a head is judged against, cells: outside a disc of 2 cells and its blur.
const RING_CELLS: f32 = 3.6;

/// Points of the ring.
const RING_POINTS: usize = 16;

/// Neighbouring points of the ring that may be as strong as the head: a tail leaves there. A line
/// leaves on both sides and is no head.
const RING_LEFT_OUT: usize = 4;

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
pub(super) fn find(silver: &Grid<f32>, field: &Mask, pitch_mm: f64, alarms: f64) -> Vec<Head> {
    let mut heads = Vec::new();
    // On a coarse grid the first octave is one of wide cells already.
    let octaves = if pitch_mm > 0.05 {
        OCTAVES - 1
    } else {
        OCTAVES
    };
    for octave in 0..octaves {
        let factor = 1 << octave;
        let level = gaussian(&average_down(silver, factor), BLUR_CELLS);
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

fn in_octave(level: &Grid<f32>, field: &Mask, octave: usize, alarms: f64) -> Vec<Head> {
    let factor = 1 << octave;
    let (rows, columns) = level.dim();
    let reach = RING_CELLS.ceil() as usize + 1;
    if rows <= 2 * reach || columns <= 2 * reach {
        return Vec::new();
    }
    let ring = ring_offsets();
    let (field_rows, field_columns) = field.dim();
    let searched = |i: usize, j: usize| {
        let at = (
            (i * factor + factor / 2).min(field_rows - 1),
            (j * factor + factor / 2).min(field_columns - 1),
        );
        field[at]
    };
    let found: Vec<Vec<(usize, usize, f32, bool)>> = level
        .axis_iter(Axis(0))
        .into_par_iter()
        .enumerate()
        .map(|(i, row)| {
            let mut found = Vec::new();
            if i < reach || i + reach >= rows {
                return found;
            }
            for j in reach..columns - reach {
                let centre = row[j];
                let (above, below) = (level.row(i - 1), level.row(i + 1));
                let around = [
                    row[j - 1],
                    row[j + 1],
                    above[j - 1],
                    above[j],
                    above[j + 1],
                    below[j - 1],
                    below[j],
                    below[j + 1],
                ];
                let more = around.iter().all(|v| centre > *v);
                let less = around.iter().all(|v| centre < *v);
                if (more || less) && searched(i, j) {
                    let sign = if more { 1.0 } else { -1.0 };
                    let values = ring.map(|[di, dj]| sign * between(level, i, j, di, dj));
                    found.push((i, j, sign * centre - strongest(&values), more));
                }
            }
            found
        })
        .collect();
    let mut heads = Vec::new();
    let of = |side: bool| -> Vec<(usize, usize, f32)> {
        let of_side = found.iter().flatten().filter(|e| e.3 == side);
        of_side.map(|e| (e.0, e.1, e.2)).collect()
    };
    let both = [of(true), of(false)];
    for (k, side) in [true, false].into_iter().enumerate() {
        let chance = Chance::read(&both[k], &both[1 - k], rows, columns, octave);
        for &(i, j, prominence) in &both[k] {
            let expected = chance.expected(i, j, f64::from(prominence));
            if expected <= alarms && f64::from(prominence) >= 0.4 * super::VISIBLE_D {
                let centre = |k: usize| (k as f64 + 0.5) * factor as f64;
                heads.push(Head {
                    at: [centre(i), centre(j)],
                    more: side,
                    ring: f64::from(RING_CELLS) * factor as f64,
                    expected,
                });
            }
        }
    }
    heads
}

fn ring_offsets() -> [[f32; 2]; RING_POINTS] {
    std::array::from_fn(|k| {
        let angle = k as f32 * std::f32::consts::TAU / RING_POINTS as f32;
        [RING_CELLS * angle.sin(), RING_CELLS * angle.cos()]
    })
}

fn between(level: &Grid<f32>, i: usize, j: usize, di: f32, dj: f32) -> f32 {
    let (y, x) = (i as f32 + di, j as f32 + dj);
    let (i, j) = (y.floor() as usize, x.floor() as usize);
    let (ty, tx) = (y - i as f32, x - j as f32);
    let top = level[[i, j]] * (1.0 - tx) + level[[i, j + 1]] * tx;
    let bottom = level[[i + 1, j]] * (1.0 - tx) + level[[i + 1, j + 1]] * tx;
    top * (1.0 - ty) + bottom * ty
}

/// The strongest point of the ring, with the best run of neighbours left out.
fn strongest(values: &[f32; RING_POINTS]) -> f32 {
    (0..RING_POINTS)
        .map(|start| {
            (RING_LEFT_OUT..RING_POINTS)
                .map(|k| values[(start + k) % RING_POINTS])
                .fold(f32::NEG_INFINITY, f32::max)
        })
        .fold(f32::INFINITY, f32::min)
}

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
        let field = Mask::from_elem((300, 300), true);
        let heads = find(&noisy(-0.3, false), &field, 0.0423, 0.1);
        assert_eq!(heads.len(), 1);
        assert!(!heads[0].more && (heads[0].at[0] - 150.5).abs() < 2.0);
        assert!(find(&noisy(0.3, true), &field, 0.0423, 0.1).is_empty());
        assert!(find(&noisy(0.0, false), &field, 0.0423, 0.1).is_empty());
    }
}
