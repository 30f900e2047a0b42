//! Moves sides out from where the picture begins to where the plate ends, on a dark lid.

use rayon::prelude::*;

use super::FITS;
use super::faint::{FaintLine, FaintSide};
use super::sides::{STEP, Side, meet_all, outward, profiles};
use crate::raster::Grid;
use crate::raster::geometry::{Point, distance};

/// Share of the short side that a holder's ledge can take: 4.5 mm of a 50 mm plate.
pub(super) const LEDGE_SHARE: f64 = 0.09;

/// Lines outside side `k` along which the plate may end, strongest first, at most [`MOST_LINES`].
///
/// On a dark lid the holder's dark border looks like the lid, and the strongest line is where the
/// picture begins. A fainter straight line further out, along the whole side, is the plate's edge.
fn lines_outside(light: &Grid<f32>, corners: &[Point; 4], k: usize) -> Vec<FaintLine> {
    let (from, to) = (corners[k], corners[(k + 1) % 4]);
    let short = distance(corners[0], corners[1]).min(distance(corners[1], corners[2]));
    let out = outward(corners, k);
    let (rows, columns) = light.dim();
    let room = [from, to]
        .iter()
        .map(|p| {
            let x = if out[0] > 0.5 {
                columns as f64 - p[0]
            } else if out[0] < -0.5 {
                p[0]
            } else {
                f64::INFINITY
            };
            let y = if out[1] > 0.5 {
                rows as f64 - p[1]
            } else if out[1] < -0.5 {
                p[1]
            } else {
                f64::INFINITY
            };
            x.min(y)
        })
        .fold(f64::INFINITY, f64::min);
    let first = 0.012 * short;
    let last = (LEDGE_SHARE * short).min(room - 3.0);
    if last - first < 12.0 {
        return Vec::new();
    }
    let across = profiles(light, [from, to], out, [INSIDE_CELLS, last], HALF_WIDTH);
    let mut lines = FaintSide::of(&across).lines(0.02 * short);
    lines.retain(|line| line.offset >= first);
    // A border that is darker than the lid at one end and lighter at the other has no step on the
    // whole; the sizes of its steps may show it all the same.
    let side = Side::of(&across, ((first - INSIDE_CELLS) / STEP).round() as usize);
    let (ends, score) = side.place(0.012 * short);
    if score > FAINT_LINE {
        let middle = [0, 1].map(|k| (ends[0][k] + ends[1][k] - from[k] - to[k]) / 2.0);
        lines.insert(
            0,
            FaintLine {
                ends,
                strength: CERTAIN_LINE * score / FAINT_LINE,
                offset: middle[0] * out[0] + middle[1] * out[1],
            },
        );
    }
    lines.truncate(MOST_LINES);
    lines
}

/// Cells along the side that one profile averages, on either side of its middle.
const HALF_WIDTH: i32 = 9;

/// Where the search for fainter lines starts, cells: inside, so that the flank of the side itself is
/// seen for what it is.
const INSIDE_CELLS: f64 = -8.0;

/// Fainter lines looked at along one side. Our own choice.
const MOST_LINES: usize = 4;

/// Strength from which a line outside is believed. Along a side of pure noise the best of all lines
/// has about 3, once in 100 sides 4 (practice plates on dark lids, 300 to 600 cells an inch).
const CERTAIN_LINE: f64 = 4.5;

/// Share of the strongest line that the plate's edge has at least; a rim without coating inside it
/// may be the stronger one, the end of a shadow outside it is fainter. Our own choice.
pub(super) const EDGE_SHARE: f64 = 0.6;

/// Strength that chance does not give, even against a size that fits by its aspect alone.
const LINE_BEYOND_CHANCE: f64 = 6.0;

/// Strength from which a line may be believed because the plate then has an expected size.
const LIKELY_LINE: f64 = 2.0;

/// How far the size of a plate is off by chance, as a share of a side: they are cut by hand to about
/// 1 mm of 70.
const MISFIT_SIGMA: f64 = 0.01;

/// Moves sides out to the fainter lines that are the plate's edge: to the outermost certain one, or,
/// where the plate then has no expected size, to those that together give it one.
pub(super) fn move_out(
    light: &Grid<f32>,
    corners: [Point; 4],
    lines: &[[Point; 2]; 4],
    misfit: &dyn Fn(f64, f64) -> Option<f64>,
) -> [Point; 4] {
    let found: Vec<Vec<FaintLine>> = (0..4)
        .into_par_iter()
        .map(|k| lines_outside(light, &corners, k))
        .collect();
    choose(&found, corners, lines, misfit)
}

/// One of the lines outside each side, or none.
fn choose(
    found: &[Vec<FaintLine>],
    corners: [Point; 4],
    lines: &[[Point; 2]; 4],
    misfit: &dyn Fn(f64, f64) -> Option<f64>,
) -> [Point; 4] {
    let with = |pick: [Option<&FaintLine>; 4]| {
        let moved = std::array::from_fn(|k| pick[k].map_or(lines[k], |line| line.ends));
        meet_all(&moved, corners)
    };
    let off = |c: &[Point; 4]| misfit(distance(c[0], c[1]), distance(c[1], c[2]));
    let certain = with(std::array::from_fn(|k| {
        let strongest = found[k].iter().map(|l| l.strength).fold(0.0, f64::max);
        let least = CERTAIN_LINE.max(EDGE_SHARE * strongest);
        found[k]
            .iter()
            .filter(|line| line.strength >= least)
            .max_by(|a, b| a.offset.total_cmp(&b.offset))
    }));
    if off(&certain).is_none_or(|miss| miss <= FITS) {
        return certain;
    }
    // Chance gives a certain line now and then; a plate that already has its size needs none.
    let beyond_chance = found
        .iter()
        .flatten()
        .any(|line| line.strength >= LINE_BEYOND_CHANCE);
    if !beyond_chance && off(&corners).is_some_and(|miss| miss <= FITS) {
        return corners;
    }
    let choices: [Vec<Option<&FaintLine>>; 4] = std::array::from_fn(|k| {
        let likely = found[k].iter().filter(|line| line.strength >= LIKELY_LINE);
        std::iter::once(None).chain(likely.map(Some)).collect()
    });
    let mut best = (0.0, certain);
    for a in &choices[0] {
        for b in &choices[1] {
            for c in &choices[2] {
                for d in &choices[3] {
                    let pick = [*a, *b, *c, *d];
                    let moved = with(pick);
                    let Some(miss) = off(&moved).filter(|miss| *miss <= FITS) else {
                        continue;
                    };
                    let strength: f64 = pick.iter().flatten().map(|line| line.strength).sum();
                    let score = strength - 0.5 * (miss / MISFIT_SIGMA).powi(2);
                    if score > best.0 {
                        best = (score, moved);
                    }
                }
            }
        }
    }
    best.1
}

/// Mean strength, in multiples of the noise, from which a faint line outside is believed. Along a
/// side of pure noise the best of all lines scores about 1.7 (see the tests of this file).
const FAINT_LINE: f64 = 2.6;

#[cfg(test)]
mod tests {
    use super::*;

    const PICTURE: [Point; 4] = [[90.0, 90.0], [310.0, 90.0], [310.0, 370.0], [90.0, 370.0]];

    /// A bright picture on a dark plate, `border` cells larger all round, on a lid lighter by
    /// `contrast`; noise of 4 % from a fixed seed.
    fn scan(border: f64, contrast: f64) -> Grid<f32> {
        let mut state = 11u32;
        Grid::from_shape_fn((460, 400), |(i, j)| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(state >> 8) / f64::from(1u32 << 24) - 0.5;
            let (x, y) = (j as f64 + 0.5, i as f64 + 0.5);
            let out = (90.0 - x).max(x - 310.0).max(90.0 - y).max(y - 370.0);
            let light = if out < 0.0 {
                0.2
            } else if out < border {
                0.02
            } else {
                0.02 * (1.0 + contrast)
            };
            (light * (1.0 + 0.14 * noise)) as f32
        })
    }

    fn moved(light: &Grid<f32>, misfit: &dyn Fn(f64, f64) -> Option<f64>) -> [Point; 4] {
        let lines = std::array::from_fn(|k| [PICTURE[k], PICTURE[(k + 1) % 4]]);
        move_out(light, PICTURE, &lines, misfit)
    }

    fn farthest(corners: &[Point; 4], border: f64) -> f64 {
        let outer = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]];
        (0..4)
            .map(|k| {
                let goal = [0, 1].map(|n| PICTURE[k][n] + border * outer[k][n]);
                distance(corners[k], goal)
            })
            .fold(0.0, f64::max)
    }

    #[test]
    fn the_edge_of_a_dark_border_is_found_on_a_dark_lid() {
        let corners = moved(&scan(10.0, 0.05), &|_, _| None);
        assert!(farthest(&corners, 10.0) < 3.0, "{corners:?}");
    }

    /// A line so many cells outside a side, with a strength.
    fn line(k: usize, offset: f64, strength: f64) -> FaintLine {
        let out = outward(&PICTURE, k);
        let end = |p: Point| [0, 1].map(|n| p[n] + offset * out[n]);
        FaintLine {
            ends: [end(PICTURE[k]), end(PICTURE[(k + 1) % 4])],
            strength,
            offset,
        }
    }

    #[test]
    fn a_size_speaks_for_lines_that_are_not_certain() {
        let found: Vec<Vec<FaintLine>> = (0..4)
            .map(|k| vec![line(k, 16.0, 2.4), line(k, 10.0, 2.2)])
            .collect();
        let lines = std::array::from_fn(|k| [PICTURE[k], PICTURE[(k + 1) % 4]]);
        let chosen = |misfit: &dyn Fn(f64, f64) -> Option<f64>| {
            farthest(&choose(&found, PICTURE, &lines, misfit), 10.0)
        };
        let size = |w: f64, h: f64| Some((w / 240.0 - 1.0).abs().max((h / 300.0 - 1.0).abs()));
        assert!(chosen(&size) < 1e-6);
        // Without a size none of them is believed.
        assert!(chosen(&|_, _| None) > 10.0);
    }

    #[test]
    fn a_stray_line_does_not_take_a_plate_away_from_its_size() {
        let mut found: Vec<Vec<FaintLine>> = (0..4).map(|_| Vec::new()).collect();
        found[2].push(line(2, 30.0, 5.0));
        let lines = std::array::from_fn(|k| [PICTURE[k], PICTURE[(k + 1) % 4]]);
        let size = |w: f64, h: f64| Some((w / 220.0 - 1.0).abs().max((h / 280.0 - 1.0).abs()));
        let corners = choose(&found, PICTURE, &lines, &size);
        assert!(farthest(&corners, 0.0) < 1e-6);
    }

    #[test]
    fn the_outermost_certain_line_is_taken() {
        let found: Vec<Vec<FaintLine>> = (0..4)
            .map(|k| vec![line(k, 4.0, 7.0), line(k, 10.0, 4.8), line(k, 18.0, 3.0)])
            .collect();
        let lines = std::array::from_fn(|k| [PICTURE[k], PICTURE[(k + 1) % 4]]);
        let corners = choose(&found, PICTURE, &lines, &|_, _| None);
        assert!(farthest(&corners, 10.0) < 1e-6);
    }

    #[test]
    fn sides_stay_where_nothing_lies_outside() {
        let corners = moved(&scan(0.0, 0.0), &|_, _| None);
        assert!(farthest(&corners, 0.0) < 1e-6, "{corners:?}");
    }

    #[test]
    fn a_size_that_already_fits_moves_nothing() {
        let light = scan(0.0, 0.0);
        let size = |w: f64, h: f64| Some((w / 220.0 - 1.0).abs().max((h / 280.0 - 1.0).abs()));
        let corners = moved(&light, &size);
        assert!(farthest(&corners, 0.0) < 1e-6, "{corners:?}");
    }

    #[test]
    fn a_size_that_a_line_outside_gives_is_kept() {
        let light = scan(10.0, 0.05);
        let size = |w: f64, h: f64| Some((w / 240.0 - 1.0).abs().max((h / 300.0 - 1.0).abs()));
        let corners = moved(&light, &size);
        assert!(farthest(&corners, 10.0) < 3.0, "{corners:?}");
    }

    #[test]
    fn noise_scores_far_below_a_faint_line() {
        let light = scan(0.0, 0.0);
        let top = [PICTURE[0], PICTURE[1]];
        let across = profiles(&light, top, [0.0, -1.0], [4.0, 24.0], HALF_WIDTH);
        let (_, score) = Side::of(&across, 0).place(3.0);
        assert!(score < 0.8 * FAINT_LINE, "{score}");
    }
}
