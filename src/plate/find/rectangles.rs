//! The regions that the surround leaves, and the smallest rectangle around each.

use imageproc::geometry::min_area_rect;
use imageproc::point::Point as PixelPoint;

use super::surround::FIBRE_CELLS;
use crate::raster::Mask;
use crate::raster::geometry::{Point, distance};
use crate::raster::regions::{dilate, erode, label};

/// Regions smaller than this share of the picture are dust, labels or rulers. Our own choice.
const SMALLEST_SHARE: f64 = 0.02;

/// A light part of a picture whose dark parts look like the lid, share of the scan. Our own choice.
const SMALLEST_PART_SHARE: f64 = 0.002;

/// Share of its rectangle that the light parts of such a picture fill at least. Our own choice.
const SCATTERED_SHARE: f64 = 0.25;

/// Smallest rectangles around the large regions, corners clockwise from the top left, coarse cells.
pub(super) fn rectangles(foreground: &Mask) -> Vec<[Point; 4]> {
    large_regions(foreground, SMALLEST_SHARE)
        .iter()
        .filter_map(|region| rectangle_round(region, FILLED_SHARE))
        .collect()
}

/// Smallest rectangle around all regions together but those too small for a part of a picture.
pub(super) fn rectangle_round_all(foreground: &Mask) -> Option<[Point; 4]> {
    let mut all = Mask::from_elem(foreground.dim(), false);
    for region in large_regions(foreground, SMALLEST_PART_SHARE) {
        all.zip_mut_with(&region, |set, here| *set |= *here);
    }
    rectangle_round(&all, SCATTERED_SHARE)
}

/// The connected regions of at least this share of the picture.
fn large_regions(foreground: &Mask, smallest_share: f64) -> Vec<Mask> {
    let smallest = (smallest_share * foreground.len() as f64) as usize;
    // Shrinking cuts fibres that bridge two plates or a plate and the rim.
    let labels = label(&erode(foreground, FIBRE_CELLS));
    let highest = labels.iter().copied().max().unwrap_or(0);
    let mut sizes = vec![0usize; highest as usize + 1];
    for region in &labels {
        sizes[*region as usize] += 1;
    }
    (1..=highest)
        .filter(|region| sizes[*region as usize] >= smallest.max(1))
        .map(|region| dilate(&labels.mapv(|l| l == region), FIBRE_CELLS))
        .collect()
}

/// Smallest rectangle around the marked cells, when it lies as a plate does and they fill this share
/// of it.
fn rectangle_round(cells: &Mask, filled_share: f64) -> Option<[Point; 4]> {
    let (rows, columns) = cells.dim();
    let hull: Vec<PixelPoint<i32>> = cells
        .indexed_iter()
        .filter(|((i, j), set)| **set && is_outline(cells, *i, *j))
        .map(|((i, j), _)| PixelPoint::new(j as i32, i as i32))
        .collect();
    if hull.len() < 8 {
        return None;
    }
    let corners = clockwise_from_top_left(
        min_area_rect(&hull).map(|p| [f64::from(p.x) + 0.5, f64::from(p.y) + 0.5]),
    );
    let area = distance(corners[0], corners[1]) * distance(corners[1], corners[2]);
    let filled = cells.iter().filter(|set| **set).count() as f64;
    let lies = lies_as_a_plate_does(&corners, [columns as f64, rows as f64]);
    (lies && filled >= filled_share * area).then_some(corners)
}

/// Least share of its smallest rectangle that a plate fills: clipped corners and nicks take a few per
/// cent, a dark part of the picture that looks like the lid somewhat more.
const FILLED_SHARE: f64 = 0.72;

/// Farthest that a plate lies turned, degrees: ten by hand, and some for the coarse rectangle.
pub(super) const MOST_TURN_DEG: f64 = 13.0;

/// Whether a rectangle lies within the picture and is turned no more than a plate is.
fn lies_as_a_plate_does(corners: &[Point; 4], [columns, rows]: [f64; 2]) -> bool {
    let along = [corners[1][0] - corners[0][0], corners[1][1] - corners[0][1]];
    let turn_deg = along[1].atan2(along[0]).to_degrees();
    let slack = 0.02 * columns.max(rows);
    let inside = corners.iter().all(|[x, y]| {
        (-slack..=columns + slack).contains(x) && (-slack..=rows + slack).contains(y)
    });
    inside && turn_deg.abs() <= MOST_TURN_DEG
}

fn is_outline(mask: &Mask, i: usize, j: usize) -> bool {
    let (rows, columns) = mask.dim();
    i == 0
        || j == 0
        || i + 1 == rows
        || j + 1 == columns
        || !mask[[i - 1, j]]
        || !mask[[i + 1, j]]
        || !mask[[i, j - 1]]
        || !mask[[i, j + 1]]
}

/// Orders the corners of a quadrilateral clockwise as seen, the first nearest to the top left.
pub(super) fn clockwise_from_top_left(mut corners: [Point; 4]) -> [Point; 4] {
    let centre = [0, 1].map(|k| corners.iter().map(|c| c[k]).sum::<f64>() / 4.0);
    let angle = |p: &Point| (p[1] - centre[1]).atan2(p[0] - centre[0]);
    corners.sort_by(|a, b| angle(a).total_cmp(&angle(b)));
    let first = (0..4)
        .min_by(|&a, &b| {
            let sum = |k: usize| corners[k][0] + corners[k][1];
            sum(a).total_cmp(&sum(b))
        })
        .unwrap_or(0);
    corners.rotate_left(first);
    corners
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture of boards: bars of 12 cells with gaps of 8, on 100 by 100 cells.
    fn boards() -> Mask {
        Mask::from_shape_fn((100, 100), |(i, j)| {
            (20..80).contains(&i) && (20..72).contains(&j) && (j - 20) % 20 < 12
        })
    }

    #[test]
    fn parts_of_a_picture_are_rectangles_of_their_own_and_one_together() {
        assert_eq!(rectangles(&boards()).len(), 3);
        let all = rectangle_round_all(&boards()).unwrap();
        assert!(distance(all[0], [20.5, 20.5]) < 1.0, "{all:?}");
        assert!(distance(all[2], [71.5, 79.5]) < 1.0, "{all:?}");
    }

    #[test]
    fn a_region_that_fills_half_its_rectangle_is_no_plate() {
        let corner = Mask::from_shape_fn((100, 100), |(i, j)| {
            (20..80).contains(&i) && (20..80).contains(&j) && i + j < 100
        });
        assert!(rectangles(&corner).is_empty());
    }
}
