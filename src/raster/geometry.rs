//! Lines, plane projective maps, sampling between cells.

use std::borrow::Cow;

use super::Grid;
use super::stats::solve;

/// A point of the plane, `[x, y]`.
pub type Point = [f64; 2];

/// A projective map of the plane (homography).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Homography([f64; 9]);

impl Homography {
    /// The map that carries four points onto four others; `None` when three of them are on a line.
    pub fn from_points(from: [Point; 4], to: [Point; 4]) -> Option<Self> {
        let mut a = Vec::with_capacity(64);
        let mut b = Vec::with_capacity(8);
        for ([x, y], [u, v]) in from.into_iter().zip(to) {
            a.extend([x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y]);
            a.extend([0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y]);
            b.extend([u, v]);
        }
        let h = solve(a, b)?;
        let mut map = [1.0; 9];
        map[..8].copy_from_slice(&h);
        Some(Homography(map))
    }

    /// The map that multiplies both coordinates.
    pub fn scaling(factor: f64) -> Self {
        Homography([factor, 0.0, 0.0, 0.0, factor, 0.0, 0.0, 0.0, 1.0])
    }

    /// Where the map carries the points `start`, `start + step`, `start + 2 step` ... without end:
    /// three additions and a division a point.
    pub fn walk(&self, start: Point, step: Point) -> impl Iterator<Item = Point> {
        let h = self.0;
        let along = |r: usize, [x, y]: Point| h[r] * x + h[r + 1] * y;
        let first = [0, 3, 6].map(|r| along(r, start) + h[r + 2]);
        let more = [0, 3, 6].map(|r| along(r, step));
        (0u32..).map(move |n| {
            let n = f64::from(n);
            let w = 1.0 / (first[2] + n * more[2]);
            [(first[0] + n * more[0]) * w, (first[1] + n * more[1]) * w]
        })
    }

    /// Where the map carries a point.
    pub fn map(&self, [x, y]: Point) -> Point {
        let h = &self.0;
        let w = h[6] * x + h[7] * y + h[8];
        [
            (h[0] * x + h[1] * y + h[2]) / w,
            (h[3] * x + h[4] * y + h[5]) / w,
        ]
    }
}

/// Direction of a step to the right and down, degrees clockwise from the top, 0 to 360.
pub fn direction_deg(right: f64, down: f64) -> f64 {
    right.atan2(-down).to_degrees().rem_euclid(360.0)
}

/// Smallest angle between two directions, 0 to 180 degrees.
pub fn between_directions_deg(a_deg: f64, b_deg: f64) -> f64 {
    let turn = (a_deg - b_deg).rem_euclid(360.0);
    turn.min(360.0 - turn)
}

/// Smallest angle between two axes, 0 to 90 degrees.
pub fn between_axes_deg(a_deg: f64, b_deg: f64) -> f64 {
    let turn = between_directions_deg(a_deg, b_deg);
    turn.min(180.0 - turn)
}

/// Distance between two points.
pub fn distance(a: Point, b: Point) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Where the lines through `a`, `b` and through `c`, `d` meet; `None` when nearly parallel.
pub fn meet(a: Point, b: Point, c: Point, d: Point) -> Option<Point> {
    let (rx, ry) = (b[0] - a[0], b[1] - a[1]);
    let (sx, sy) = (d[0] - c[0], d[1] - c[1]);
    let cross = rx * sy - ry * sx;
    if cross.abs() <= 1e-9 * (rx.hypot(ry) * sx.hypot(sy)) {
        return None;
    }
    let t = ((c[0] - a[0]) * sy - (c[1] - a[1]) * sx) / cross;
    Some([a[0] + t * rx, a[1] + t * ry])
}

/// A grid that is read between its cells.
pub struct BetweenCells<'a> {
    values: Cow<'a, [f32]>,
    columns: usize,
    /// Farthest that the middle of a cell lies from that of the first, x and y.
    last: [f64; 2],
}

impl<'a> BetweenCells<'a> {
    /// Of a grid of at least one cell.
    pub fn of(grid: &'a Grid<f32>) -> BetweenCells<'a> {
        let (rows, columns) = grid.dim();
        let values = match grid.as_slice() {
            Some(values) => Cow::Borrowed(values),
            None => Cow::Owned(grid.iter().copied().collect()),
        };
        BetweenCells {
            values,
            columns,
            last: [columns, rows].map(|n| n.saturating_sub(1) as f64),
        }
    }

    /// Value between cells by bilinear interpolation; `x`, `y` count cell centres at .5, so `(0.5, 0.5)`
    /// is the middle of cell `[[0, 0]]`. Beyond the grid the outermost cells go on.
    #[inline]
    pub fn at(&self, x: f64, y: f64) -> f32 {
        let fx = (x - 0.5).clamp(0.0, self.last[0]);
        let fy = (y - 0.5).clamp(0.0, self.last[1]);
        // Whole numbers of 32 bits are cut from others faster, and no grid has more rows or columns.
        let (j, i) = (fx as i32, fy as i32);
        let (tx, ty) = ((fx - f64::from(j)) as f32, (fy - f64::from(i)) as f32);
        let right = usize::from(f64::from(j) < self.last[0]);
        let below = match f64::from(i) < self.last[1] {
            true => self.columns,
            false => 0,
        };
        let at = i as usize * self.columns + j as usize;
        let values = &*self.values;
        let top = values[at] * (1.0 - tx) + values[at + right] * tx;
        let bottom = values[at + below] * (1.0 - tx) + values[at + below + right] * tx;
        top * (1.0 - ty) + bottom * ty
    }
}

/// One value between the cells of a grid of at least one, as [`BetweenCells::at`] has it. Many are read faster from
/// one [`BetweenCells`].
pub fn sample(grid: &Grid<f32>, x: f64, y: f64) -> f32 {
    BetweenCells::of(grid).at(x, y)
}

/// Area of a closed outline over that of the ellipse with the same second moments: 1 for an ellipse, 3 / pi for
/// any parallelogram, less for what has bays; 0 where there is no area.
pub fn ellipse_likeness(outline: &[[f64; 2]]) -> f64 {
    let next = outline.iter().cycle().skip(1);
    let sides: Vec<([f64; 2], [f64; 2], f64)> = outline
        .iter()
        .zip(next)
        .map(|(a, b)| (*a, *b, a[0] * b[1] - b[0] * a[1]))
        .collect();
    // Moments of a polygon by Green's theorem (common knowledge).
    let sum = |of: &dyn Fn([f64; 2], [f64; 2]) -> f64| -> f64 {
        sides.iter().map(|(a, b, cross)| of(*a, *b) * cross).sum()
    };
    let area = 0.5 * sum(&|_, _| 1.0);
    if area == 0.0 {
        return 0.0;
    }
    let [x, y] = [0, 1].map(|k| sum(&|a, b| a[k] + b[k]) / (6.0 * area));
    let [xx, yy] = [(0, x), (1, y)].map(|(k, middle)| {
        sum(&|a, b| a[k] * a[k] + a[k] * b[k] + b[k] * b[k]) / (12.0 * area) - middle * middle
    });
    let mixed = |a: [f64; 2], b: [f64; 2]| {
        a[0] * b[1] + 2.0 * a[0] * a[1] + 2.0 * b[0] * b[1] + b[0] * a[1]
    };
    let xy = sum(&mixed) / (24.0 * area) - x * y;
    let spread = (xx * yy - xy * xy).max(0.0).sqrt();
    match spread > 0.0 {
        true => area.abs() / (4.0 * std::f64::consts::PI * spread),
        false => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ellipses_are_like_ellipses_and_boxes_and_bays_are_not() {
        let ellipse: Vec<[f64; 2]> = (0..90)
            .map(|k| (k as f64 * 4.0).to_radians())
            .map(|turn| [7.0 + 5.0 * turn.cos(), 3.0 + 2.0 * turn.sin() + turn.cos()])
            .collect();
        assert!((ellipse_likeness(&ellipse) - 1.0).abs() < 1e-3);
        let square = [[10.0, 10.0], [14.0, 10.0], [14.0, 14.0], [10.0, 14.0]];
        assert!((ellipse_likeness(&square) - 3.0 / std::f64::consts::PI).abs() < 1e-9);
        let bay = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [2.0, 1.0], [0.0, 4.0]];
        assert!(ellipse_likeness(&bay) < 0.9);
        assert_eq!(ellipse_likeness(&[[1.0, 1.0], [2.0, 2.0]]), 0.0);
        assert_eq!(ellipse_likeness(&[]), 0.0);
    }

    #[test]
    fn steps_have_directions() {
        let steps = [[0.0, -1.0], [2.0, 0.0], [0.0, 3.0], [-1.0, 0.0]];
        assert_eq!(
            steps.map(|[right, down]| direction_deg(right, down)),
            [0.0, 90.0, 180.0, 270.0]
        );
    }

    #[test]
    fn angles_wrap() {
        assert_eq!(between_directions_deg(350.0, 10.0), 20.0);
        assert_eq!(between_directions_deg(0.0, 180.0), 180.0);
        assert_eq!(between_axes_deg(175.0, 5.0), 10.0);
        assert_eq!(between_axes_deg(0.0, 270.0), 90.0);
    }

    #[test]
    fn a_homography_carries_its_own_points() {
        let from = [[0.0, 0.0], [82.0, 0.0], [82.0, 70.0], [0.0, 70.0]];
        let to = [[10.0, 12.0], [900.0, 30.0], [880.0, 800.0], [4.0, 780.0]];
        let map = Homography::from_points(from, to).unwrap();
        for (p, q) in from.into_iter().zip(to) {
            assert!(distance(map.map(p), q) < 1e-8);
        }
        let walked = map.walk([0.0, 70.0], [41.0, 0.0]).nth(2).unwrap();
        assert!(distance(walked, to[2]) < 1e-8);
        assert!(Homography::from_points([[0.0, 0.0]; 4], to).is_none());
    }

    #[test]
    fn sampling_between_cells() {
        let grid = ndarray::array![[0.0f32, 1.0], [2.0, 3.0]];
        assert_eq!(sample(&grid, 0.5, 0.5), 0.0);
        assert_eq!(sample(&grid, 1.0, 1.0), 1.5);
        assert_eq!(sample(&grid, 9.0, 9.0), 3.0);
    }

    #[test]
    fn lines_meet_or_do_not() {
        let p = meet([0.0, 0.0], [1.0, 1.0], [0.0, 2.0], [1.0, 1.0]).unwrap();
        assert!(distance(p, [1.0, 1.0]) < 1e-12);
        assert!(meet([0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]).is_none());
    }
}
