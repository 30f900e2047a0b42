//! Finds the outlines of the plates in a scan.
//!
//! Four steps: what of the picture is surround (a smooth surface fitted to the picture's rim and
//! flooded inward), which regions remain and the smallest rectangle around each, each side placed
//! again on the working grid by a robust line through its edge points, and whether that is a plate
//! in its surround at all.

use super::PlateError;
use crate::doubts::Doubt;
use crate::raster::Grid;
use crate::raster::filter::average_down;
use crate::raster::geometry::{Point, distance};
use crate::scan::Scan;

mod alike;
mod cropped;
mod faint;
mod outside;
mod rectangles;
mod sides;
mod surround;

use alike::alike_its_lid;
use cropped::lies_in_its_surround;
use rectangles::{clockwise_from_top_left, rectangle_round_all, rectangles};
use sides::place_sides;
use surround::{DARK_SURROUND, Surround};

/// Cells along the long side of the coarse picture that outlines are first looked for in. Our own
/// choice: a quarter plate on an A4 scan still spans more than 150 cells.
const COARSE_CELLS: usize = 480;

/// Darkest light that takes part in finding an outline; below it, noise rules. Our own choice.
const LIGHT_FLOOR: f32 = 0.003;

/// An outline in cells of the working grid (centres at .5).
#[derive(Debug, Clone)]
pub(super) struct Outline {
    /// Clockwise from the top left.
    pub corners: [Point; 4],
    /// False when the whole picture was taken.
    pub found: bool,
    /// Mean light of the surround, when there is one.
    pub surround_light: Option<f64>,
    /// Mean strength of its weakest side, multiples of the noise; 0 where nothing was looked for.
    pub weakest: f64,
    /// What is doubtful about it.
    pub doubts: Vec<Doubt>,
}

impl Outline {
    fn whole(light: &Grid<f32>, doubt: Doubt) -> Self {
        let (rows, columns) = light.dim();
        let (w, h) = (columns as f64, rows as f64);
        Outline {
            corners: [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]],
            found: false,
            surround_light: None,
            weakest: 0.0,
            doubts: vec![doubt],
        }
    }

    fn centre(&self) -> Point {
        let sum = |k: usize| self.corners.iter().map(|c| c[k]).sum::<f64>() / 4.0;
        [sum(0), sum(1)]
    }

    /// Width and height.
    fn sides(&self) -> [f64; 2] {
        [0, 1].map(|k| distance(self.corners[k], self.corners[k + 1]))
    }

    fn short_side(&self) -> f64 {
        let [width, height] = self.sides();
        width.min(height)
    }

    fn area(&self) -> f64 {
        let [width, height] = self.sides();
        width * height
    }
}

/// The outlines of all plates in the picture, in reading order; the whole picture when none can be
/// told from its surround.
///
/// `misfit` says how far a rectangle of so many cells (width, height) is from any plate size that may
/// be expected, as a share of a side; `None` when nothing is expected.
pub(super) fn outlines(
    light: &Grid<f32>,
    misfit: &dyn Fn(f64, f64) -> Option<f64>,
) -> Vec<Outline> {
    let (rows, columns) = light.dim();
    let factor = rows.max(columns).div_ceil(COARSE_CELLS).max(1);
    let coarse = average_down(light, factor);
    let Some(surround) = Surround::of(&coarse) else {
        return vec![Outline::whole(light, Doubt::PlateNotFound)];
    };
    let mut found = outlines_in(light, &surround, factor, misfit);
    if found.is_empty() && surround.is_all_round() {
        found = outlines_in(light, &surround.across_fibres(), factor, misfit);
    }
    let misses = |outline: &Outline| {
        let [width, height] = outline.sides();
        misfit(width, height).is_some_and(|miss| miss > FITS)
    };
    if surround.is_all_round() && found.iter().all(misses) {
        // Nothing stands out from a dark lid, or only parts of a plate do, and the rest of it is like its lid.
        let nothing = found.is_empty() && surround.is_dark_all_over();
        let whole = alike_its_lid(light, surround.mean_light, misfit);
        let whole = whole.filter(|whole| {
            let corners = whole
                .corners
                .map(|corner| corner.map(|at| at / factor as f64));
            let of_parts = found
                .iter()
                .all(|part| part.area() <= PART_SHARE * whole.area());
            // Where no size is expected, four strong lines are better than the whole scan.
            let [width, height] = whole.sides();
            let is_plate = misfit(width, height).is_none_or(|miss| miss <= FITS);
            nothing || of_parts && is_plate && surround.stands_out_within(corners)
        });
        found = whole.map_or(found, |whole| vec![whole]);
    }
    if found.is_empty() {
        return vec![Outline::whole(light, Doubt::PlateNotFound)];
    }
    in_reading_order(&mut found);
    found
}

fn outlines_in(
    light: &Grid<f32>,
    surround: &Surround,
    factor: usize,
    misfit: &dyn Fn(f64, f64) -> Option<f64>,
) -> Vec<Outline> {
    let at = |corners: [Point; 4]| {
        let corners = corners.map(|[x, y]| [x * factor as f64, y * factor as f64]);
        let outline = place_sides(light, corners, surround.mean_light, misfit);
        lies_in_its_surround(light, &outline, surround, misfit).then_some(outline)
    };
    let found: Vec<Outline> = rectangles(&surround.foreground)
        .into_iter()
        .filter_map(at)
        .collect();
    let fits = |outline: &Outline| fits(outline, misfit);
    // The light parts of one picture whose dark parts look like the lid: none is of a plate's size,
    // but all together are.
    if !found.iter().any(fits)
        && surround.is_all_round()
        && surround.mean_light < DARK_SURROUND
        && let Some(one) = rectangle_round_all(&surround.foreground)
            .and_then(at)
            .filter(fits)
    {
        return vec![one];
    }
    found
}

/// Most of a plate that a part of it takes, whose outline was taken for a plate's. Our own choice.
const PART_SHARE: f64 = 0.75;

/// Strength below which a side may be chance (see [`FAINT_LINE`](outside)).
const FAINT_SIDE: f64 = 2.6;

/// Misfit up to which a rectangle has an expected size: plates are cut by hand to about 1 mm of 50.
const FITS: f64 = 0.02;

/// Whether an outline has an expected size.
fn fits(outline: &Outline, misfit: &dyn Fn(f64, f64) -> Option<f64>) -> bool {
    let [width, height] = outline.sides();
    misfit(width, height).is_some_and(|miss| miss <= FITS)
}

fn density(light: f32) -> f64 {
    -f64::from(light.max(LIGHT_FLOOR)).log10()
}

/// The outline that the maker stated, in file pixels; refused when it is no quadrilateral within the
/// picture.
pub(super) fn stated(scan: &Scan, corners_px: [Point; 4]) -> Result<Outline, PlateError> {
    let (w, h) = (scan.width_px as f64, scan.height_px as f64);
    let inside = corners_px
        .iter()
        .all(|[x, y]| (-1.0..=w + 1.0).contains(x) && (-1.0..=h + 1.0).contains(y));
    let turns: Vec<f64> = (0..4)
        .map(|k| {
            let [a, b, c] = [
                corners_px[k],
                corners_px[(k + 1) % 4],
                corners_px[(k + 2) % 4],
            ];
            (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
        })
        .collect();
    // A convex quadrilateral turns the same way at each corner; 1 % of the picture is the least area.
    let convex = turns.iter().all(|t| *t > 0.0) || turns.iter().all(|t| *t < 0.0);
    let large = turns.iter().all(|t| t.abs() > 0.01 * w * h);
    if !(inside && convex && large) {
        return Err(PlateError::Corners {
            file: scan.file.clone(),
            width_px: scan.width_px,
            height_px: scan.height_px,
        });
    }
    let reduce = scan.reduce as f64;
    Ok(Outline {
        corners: clockwise_from_top_left(corners_px).map(|[x, y]| [x / reduce, y / reduce]),
        found: true,
        surround_light: None,
        weakest: 0.0,
        doubts: Vec::new(),
    })
}

fn in_reading_order(outlines: &mut [Outline]) {
    // Plates belong to one row when their centres differ by less than half a plate in height.
    let row_height = outlines
        .iter()
        .map(Outline::short_side)
        .fold(f64::INFINITY, f64::min)
        .max(1.0)
        * 0.5;
    outlines.sort_by(|a, b| a.centre()[1].total_cmp(&b.centre()[1]));
    let mut start = 0;
    while start < outlines.len() {
        let top = outlines[start].centre()[1];
        let end = outlines[start..]
            .iter()
            .position(|o| o.centre()[1] - top > row_height)
            .map_or(outlines.len(), |k| start + k);
        outlines[start..end].sort_by(|a, b| a.centre()[0].total_cmp(&b.centre()[0]));
        start = end;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A plate as dark as its lid but for a light thing on it, its edges thin dark lines; noise of 4 % from a fixed
    /// seed.
    fn scan() -> Grid<f32> {
        let mut state = 5u32;
        Grid::from_shape_fn((400, 480), |(i, j)| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(state >> 8) / f64::from(1u32 << 24) - 0.5;
            let [u, v] = [(j as f64 - 240.0).abs(), (i as f64 - 200.0).abs()];
            let on_edge = (0.0..5.0).contains(&(160.0 - u).min(130.0 - v));
            let light = match (i, j) {
                _ if on_edge => 0.026,
                (100..200, 120..300) => 0.1,
                _ => 0.03,
            };
            (light * (1.0 + 0.14 * noise)) as f32
        })
    }

    #[test]
    fn a_plate_of_which_only_a_part_stands_out_from_its_lid_is_found_whole() {
        let size = |w: f64, h: f64| Some((w / 320.0 - 1.0).abs().max((h / 260.0 - 1.0).abs()));
        let found = outlines(&scan(), &size);
        let [outline] = &found[..] else {
            panic!("{found:?}");
        };
        let [x, y] = outline.corners[0];
        assert!((x - 80.0).abs() < 5.0 && (y - 70.0).abs() < 5.0, "{x} {y}");
        assert!(outline.doubts.contains(&Doubt::OutlineUncertain));
        // Where no size is expected the part is all that can be told.
        let part = outlines(&scan(), &|_, _| None);
        assert!(
            part.iter()
                .all(|outline| outline.area() < 0.5 * 320.0 * 260.0)
        );
    }
}
