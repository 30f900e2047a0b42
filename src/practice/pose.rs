//! Where a plate lies in the scan: millimetres of the plate to pixels of the file and back.

use super::recipe::PlateRecipe;
use crate::units::MM_PER_INCH;

/// A plane projective map, row by row.
pub(super) type Map = [[f64; 3]; 3];

/// A plate's place in the scan.
#[derive(Debug, Clone)]
pub(super) struct Pose {
    /// Corners in file pixels, centres at .5, clockwise from the top left.
    pub(super) corners_px: [[f64; 2]; 4],
    /// Plate millimetres to file pixels.
    pub(super) to_px: Map,
    /// File pixels to plate millimetres.
    pub(super) to_mm: Map,
}

impl Pose {
    /// Turns the plate about its centre and puts it on the glass; `half_round` turns it 180 degrees
    /// more, so that its own top left corner lies at the bottom right.
    pub(super) fn new(plate: &PlateRecipe, dpi: f64, half_round: bool) -> Self {
        let sense = if half_round { -1.0 } else { 1.0 };
        let (sin, cos) = (
            sense * libm::sin(plate.turn_deg.to_radians()),
            sense * libm::cos(plate.turn_deg.to_radians()),
        );
        let (w, h) = (plate.width_mm, plate.height_mm);
        let rectangle = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
        let corners_px: [[f64; 2]; 4] = std::array::from_fn(|i| {
            let x = rectangle[i][0] - 0.5 * w + plate.corner_shift_mm[i][0];
            let y = rectangle[i][1] - 0.5 * h + plate.corner_shift_mm[i][1];
            // y points down, so this turns clockwise as seen.
            let turned = [x * cos - y * sin, x * sin + y * cos];
            [
                (plate.centre_mm[0] + turned[0]) * dpi / MM_PER_INCH,
                (plate.centre_mm[1] + turned[1]) * dpi / MM_PER_INCH,
            ]
        });
        let to_px = rectangle_to(corners_px, w, h);
        Pose {
            corners_px,
            to_px,
            to_mm: inverse(&to_px),
        }
    }

    /// The same plate where the scan ends inside it: the scan's own frame, `width_px` by
    /// `height_px`, is the visible plate; `to_px` then counts from its top left corner.
    pub(super) fn visible(width_px: usize, height_px: usize, dpi: f64) -> Self {
        let (w, h) = (width_px as f64, height_px as f64);
        let scale = dpi / MM_PER_INCH;
        let to_px = [[scale, 0.0, 0.0], [0.0, scale, 0.0], [0.0, 0.0, 1.0]];
        Pose {
            corners_px: [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]],
            to_px,
            to_mm: inverse(&to_px),
        }
    }
}

/// Carries a point through a map.
#[inline]
pub(super) fn apply(map: &Map, x: f64, y: f64) -> [f64; 2] {
    let w = map[2][0] * x + map[2][1] * y + map[2][2];
    [
        (map[0][0] * x + map[0][1] * y + map[0][2]) / w,
        (map[1][0] * x + map[1][1] * y + map[1][2]) / w,
    ]
}

/// The map that takes the corners of a `w` by `h` rectangle to four points (Heckbert, Fundamentals
/// of Texture Mapping and Image Warping, 1989, section 2.2.3).
pub(super) fn rectangle_to(p: [[f64; 2]; 4], w: f64, h: f64) -> Map {
    let sx = p[0][0] - p[1][0] + p[2][0] - p[3][0];
    let sy = p[0][1] - p[1][1] + p[2][1] - p[3][1];
    let (d1x, d1y) = (p[1][0] - p[2][0], p[1][1] - p[2][1]);
    let (d2x, d2y) = (p[3][0] - p[2][0], p[3][1] - p[2][1]);
    let det = d1x * d2y - d2x * d1y;
    let g = (sx * d2y - d2x * sy) / det;
    let k = (d1x * sy - sx * d1y) / det;
    let unit = [
        [
            p[1][0] - p[0][0] + g * p[1][0],
            p[3][0] - p[0][0] + k * p[3][0],
            p[0][0],
        ],
        [
            p[1][1] - p[0][1] + g * p[1][1],
            p[3][1] - p[0][1] + k * p[3][1],
            p[0][1],
        ],
        [g, k, 1.0],
    ];
    unit.map(|row| [row[0] / w, row[1] / h, row[2]])
}

/// Inverse of a map by cofactors, scaled so that its last entry is 1.
pub(super) fn inverse(m: &Map) -> Map {
    let c =
        |r0: usize, c0: usize, r1: usize, c1: usize| m[r0][c0] * m[r1][c1] - m[r0][c1] * m[r1][c0];
    let adjugate = [
        [c(1, 1, 2, 2), -c(0, 1, 2, 2), c(0, 1, 1, 2)],
        [-c(1, 0, 2, 2), c(0, 0, 2, 2), -c(0, 0, 1, 2)],
        [c(1, 0, 2, 1), -c(0, 0, 2, 1), c(0, 0, 1, 1)],
    ];
    let last = adjugate[2][2];
    adjugate.map(|row| row.map(|value| value / last))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn maps_reach_the_corners_and_come_back() {
        let corners = [[10.0, 12.0], [210.0, 9.0], [213.0, 260.0], [8.0, 258.0]];
        let map = rectangle_to(corners, 70.0, 83.0);
        let back = inverse(&map);
        let rectangle = [[0.0, 0.0], [70.0, 0.0], [70.0, 83.0], [0.0, 83.0]];
        for (from, to) in rectangle.iter().zip(corners) {
            let there = apply(&map, from[0], from[1]);
            assert!((there[0] - to[0]).abs() < 1e-9 && (there[1] - to[1]).abs() < 1e-9);
            let home = apply(&back, to[0], to[1]);
            assert!((home[0] - from[0]).abs() < 1e-9 && (home[1] - from[1]).abs() < 1e-9);
        }
    }
}
