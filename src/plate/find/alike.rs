//! A plate as dark as the lid it lies on: no region stands out, but its four edges are faint
//! straight lines.

use rayon::prelude::*;

use super::cropped::has_narrow_margins;
use super::faint::{FaintLine, FaintSide};
use super::outside::EDGE_SHARE;
use super::rectangles::MOST_TURN_DEG;
use super::sides::{meet_all, outward, profiles};
use super::{FITS, Outline};
use crate::doubts::Doubt;
use crate::raster::Grid;
use crate::raster::filter::average_down;
use crate::raster::geometry::{Point, distance};

/// Cells along the long side of the picture that the lines are looked for in: finer than for
/// regions, since a faint edge is one step wide.
const LINE_CELLS: usize = 900;

/// Cells on either side of a profile's middle that it averages along the line.
const HALF_WIDTH: i32 = 6;

/// Lines looked at from each side of the picture.
const MOST_LINES: usize = 8;

/// Share of the picture's side within which the plate's edge on that side is looked for.
const SEARCHED_SHARE: f64 = 0.42;

/// Strength of the weakest of four lines from which a rectangle of an expected size is believed, and
/// from which one is where no size is expected. Our own choice: on practice plates the four edges
/// have 11 and more, the best four chance lines with a size up to 4.
const SIZED_LINE: f64 = 5.5;
const ANY_LINE: f64 = 8.0;

/// How far the corners of a plate are from square, degrees.
const SQUARE_DEG: f64 = 1.5;

/// The plate whose four edges are the clearest rectangle of faint lines, if there is one.
pub(super) fn alike_its_lid(
    light: &Grid<f32>,
    surround_light: f64,
    misfit: &dyn Fn(f64, f64) -> Option<f64>,
) -> Option<Outline> {
    let (rows, columns) = light.dim();
    let factor = rows.max(columns).div_ceil(LINE_CELLS).max(1);
    let small = average_down(light, factor);
    let (h, w) = (small.nrows() as f64, small.ncols() as f64);
    let frame = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
    let found: Vec<Vec<FaintLine>> = (0..4)
        .into_par_iter()
        .map(|k| {
            let across = if k % 2 == 0 { h } else { w };
            let along = if k % 2 == 0 { w } else { h };
            let out = outward(&frame, k);
            let side = [frame[k], frame[(k + 1) % 4]];
            let range = [-SEARCHED_SHARE * across, -2.0];
            let most = MOST_TURN_DEG.to_radians().tan() * along;
            let mut lines =
                FaintSide::of(&profiles(&small, side, out, range, HALF_WIDTH)).lines(most);
            lines.truncate(MOST_LINES);
            lines
        })
        .collect();
    let scale = factor as f64;
    let size = |c: &[Point; 4]| misfit(distance(c[0], c[1]) * scale, distance(c[1], c[2]) * scale);
    let corners = clearest_rectangle(&found, frame, &size)?;
    let corners = corners.map(|[x, y]| [x * scale, y * scale]);
    let lines: Vec<FaintLine> = (0..4)
        .map(|k| {
            let ends = [corners[k], corners[(k + 1) % 4]];
            let range = [-REFINED_CELLS * scale - 4.0, REFINED_CELLS * scale + 4.0];
            let across = profiles(light, ends, outward(&corners, k), range, HALF_WIDTH);
            let near = FaintSide::of(&across).lines(REFINED_CELLS * scale);
            let least = EDGE_SHARE * near.first()?.strength;
            near.into_iter()
                .filter(|line| line.strength >= least)
                .max_by(|a, b| a.offset.total_cmp(&b.offset))
        })
        .collect::<Option<_>>()?;
    let ends: [[Point; 2]; 4] = std::array::from_fn(|k| lines[k].ends);
    let outline = Outline {
        corners: meet_all(&ends, corners),
        found: true,
        surround_light: Some(surround_light),
        weakest: 0.0,
        doubts: vec![Doubt::OutlineUncertain],
    };
    // Lines that near to the rim of the scan are the ledge or the rim of a plate it is cropped to.
    (!has_narrow_margins(light, &outline)).then_some(outline)
}

/// Cells of the smaller picture within which a line is placed again on the working grid.
const REFINED_CELLS: f64 = 4.0;

fn clearest_rectangle(
    found: &[Vec<FaintLine>],
    frame: [Point; 4],
    size: &dyn Fn(&[Point; 4]) -> Option<f64>,
) -> Option<[Point; 4]> {
    let mut best: Option<(f64, [Point; 4])> = None;
    for top in &found[0] {
        for right in &found[1] {
            for bottom in &found[2] {
                for left in &found[3] {
                    let four = [top, right, bottom, left];
                    if !is_square(&four.map(|line| line.ends)) {
                        continue;
                    }
                    let corners = meet_all(&four.map(|line| line.ends), frame);
                    // One strong line must not carry three that are chance.
                    let weakest = four
                        .iter()
                        .map(|l| l.strength)
                        .fold(f64::INFINITY, f64::min);
                    let enough = match size(&corners) {
                        Some(miss) => miss <= FITS && weakest >= SIZED_LINE,
                        None => weakest >= ANY_LINE,
                    };
                    if enough && best.is_none_or(|(most, _)| weakest > most) {
                        best = Some((weakest, corners));
                    }
                }
            }
        }
    }
    best.map(|(_, corners)| corners)
}

/// Whether four lines, clockwise from the top, stand square on each other.
fn is_square(lines: &[[Point; 2]; 4]) -> bool {
    let turns = lines.map(|[a, b]| (b[1] - a[1]).atan2(b[0] - a[0]).to_degrees());
    (1..4).all(|k| {
        let off = (turns[k] - turns[0] - 90.0 * k as f64).rem_euclid(360.0);
        off.min(360.0 - off) <= SQUARE_DEG
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A plate turned a little on a lid lighter by `contrast`, noise of 4 % from a fixed seed.
    fn scan(contrast: f64) -> Grid<f32> {
        let mut state = 5u32;
        Grid::from_shape_fn((400, 480), |(i, j)| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(state >> 8) / f64::from(1u32 << 24) - 0.5;
            let [x, y] = [j as f64 - 240.0, i as f64 - 200.0];
            let [u, v] = [x + 0.03 * y, y - 0.03 * x];
            let on_plate = u.abs() < 160.0 && v.abs() < 130.0;
            let light = if on_plate {
                0.02
            } else {
                0.02 * (1.0 + contrast)
            };
            (light * (1.0 + 0.14 * noise)) as f32
        })
    }

    fn size(w: f64, h: f64) -> Option<f64> {
        Some((w / 320.0 - 1.0).abs().max((h / 260.0 - 1.0).abs()))
    }

    #[test]
    fn four_faint_edges_make_a_plate_of_an_expected_size() {
        let outline = alike_its_lid(&scan(0.05), 0.02, &size).unwrap();
        // u = -160, v = -130 is x = -156, y = -135 from the middle.
        let [x, y] = outline.corners[0];
        assert!((x - 84.1).abs() < 3.0 && (y - 65.3).abs() < 3.0, "{x} {y}");
        assert!(outline.found && outline.doubts == [Doubt::OutlineUncertain]);
    }

    #[test]
    fn noise_alone_makes_none() {
        assert!(alike_its_lid(&scan(0.0), 0.02, &size).is_none());
        assert!(alike_its_lid(&scan(0.0), 0.02, &|_, _| None).is_none());
    }

    #[test]
    fn a_rectangle_of_another_size_is_none() {
        let other = |w: f64, h: f64| size(w * 1.2, h);
        assert!(alike_its_lid(&scan(0.05), 0.02, &other).is_none());
    }
}
