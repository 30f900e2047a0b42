//! The regions that the surround leaves, and the smallest rectangle around each.

use imageproc::geometry::min_area_rect;
use imageproc::point::Point as PixelPoint;

use crate::raster::Mask;
use crate::raster::geometry::{Point, distance};
use crate::raster::regions::{dilate, erode, label};

/// Regions smaller than this share of the picture are dust, labels or rulers. Our own choice.
const SMALLEST_SHARE: f64 = 0.02;

/// Smallest rectangles around the large regions, corners clockwise from the top left, coarse cells.
pub(super) fn rectangles(foreground: &Mask) -> Vec<[Point; 4]> {
    let (rows, columns) = foreground.dim();
    let smallest = (SMALLEST_SHARE * (rows * columns) as f64) as usize;
    // Shrinking cuts fibres that bridge two plates or a plate and the rim.
    let labels = label(&erode(foreground, 2));
    let highest = labels.iter().copied().max().unwrap_or(0);
    (1..=highest)
        .filter_map(|region| {
            let core = labels.mapv(|l| l == region);
            let size = core.iter().filter(|set| **set).count();
            if size < smallest {
                return None;
            }
            let whole = dilate(&core, 2);
            let hull: Vec<PixelPoint<i32>> = whole
                .indexed_iter()
                .filter(|((i, j), set)| **set && is_outline(&whole, *i, *j))
                .map(|((i, j), _)| PixelPoint::new(j as i32, i as i32))
                .collect();
            if hull.len() < 8 {
                return None;
            }
            let corners = clockwise_from_top_left(
                min_area_rect(&hull).map(|p| [f64::from(p.x) + 0.5, f64::from(p.y) + 0.5]),
            );
            let cells = whole.iter().filter(|set| **set).count() as f64;
            is_a_plate(&corners, cells, [columns as f64, rows as f64]).then_some(corners)
        })
        .collect()
}

/// Least share of its smallest rectangle that a plate fills: clipped corners and nicks take a few per
/// cent, a dark part of the picture that looks like the lid somewhat more.
const FILLED_SHARE: f64 = 0.72;

/// Farthest that a plate lies turned, degrees: ten by hand, and some for the coarse rectangle.
const MOST_TURN_DEG: f64 = 13.0;

/// Whether a region of so many cells in a rectangle looks like a plate that lies in the scan.
fn is_a_plate(corners: &[Point; 4], cells: f64, [columns, rows]: [f64; 2]) -> bool {
    let (width, height) = (
        distance(corners[0], corners[1]),
        distance(corners[1], corners[2]),
    );
    let along = [corners[1][0] - corners[0][0], corners[1][1] - corners[0][1]];
    let turn_deg = along[1].atan2(along[0]).to_degrees();
    let slack = 0.02 * columns.max(rows);
    let inside = corners.iter().all(|[x, y]| {
        (-slack..=columns + slack).contains(x) && (-slack..=rows + slack).contains(y)
    });
    inside && turn_deg.abs() <= MOST_TURN_DEG && cells >= FILLED_SHARE * width * height
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
