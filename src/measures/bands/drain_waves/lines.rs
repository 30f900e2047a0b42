//! Lines along which waves lie: straight, or all bent alike.

use crate::raster::geometry::between_axes_deg;

/// How the lines run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Course {
    /// Along them, in the plate's middle, degrees.
    pub(super) axis_deg: f64,
    /// How far upright or level lines lie further across off the plate's middle, cells for each square cell
    /// along them: 0 for straight lines.
    pub(super) bend: f64,
}

/// Which way lines run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    Upright,
    Level,
    /// From corner to corner.
    Slanted,
}

impl Course {
    pub(super) fn straight(axis_deg: f64) -> Course {
        Course {
            axis_deg,
            bend: 0.0,
        }
    }

    pub(super) fn way(&self) -> Way {
        match between_axes_deg(self.axis_deg, 0.0) {
            off if off < 22.5 => Way::Upright,
            off if off > 67.5 => Way::Level,
            _ => Way::Slanted,
        }
    }
}

/// Lines of one course, by their place across it.
pub(super) struct Lines {
    pub(super) way: Way,
    pub(super) cos: f64,
    pub(super) sin: f64,
    /// Place of the first line, cells.
    pub(super) first: f64,
    pub(super) count: usize,
    bend: f64,
    /// The plate's middle along the lines, cells.
    pub(super) middle: f64,
    /// Mean square of what lies off the middle along a line, square cells: bent lines lie about where straight ones
    /// would.
    mean_square: f64,
}

impl Lines {
    pub(super) fn of((rows, columns): (usize, usize), course: Course) -> Lines {
        let (sin, cos) = course.axis_deg.to_radians().sin_cos();
        let (wide, high) = (columns as f64 * cos, rows as f64 * sin);
        let way = course.way();
        let long = match way {
            Way::Upright => rows as f64,
            Way::Level | Way::Slanted => columns as f64,
        };
        let mean_square = long * long / 12.0;
        // The ends lie twice as far one way as the middle lies the other.
        let bent = [-course.bend * mean_square, 2.0 * course.bend * mean_square];
        let first = wide.min(0.0) + high.min(0.0) + bent[0].min(bent[1]);
        let last = wide.max(0.0) + high.max(0.0) + bent[0].max(bent[1]);
        Lines {
            way,
            cos,
            sin,
            first,
            count: (last - first).ceil() as usize + 1,
            bend: course.bend,
            middle: 0.5 * long,
            mean_square,
        }
    }

    /// The line that a cell lies on.
    pub(super) fn at(&self, row: usize, column: usize) -> usize {
        let [x, y] = [column, row].map(|cell| cell as f64 + 0.5);
        let across = x * self.cos + y * self.sin + self.bent(self.along(row, column));
        (across - self.first) as usize
    }

    /// Where a cell lies along its line, cells: from the plate's top or left, of slanted lines along the axis.
    pub(super) fn along(&self, row: usize, column: usize) -> f64 {
        let [x, y] = [column, row].map(|cell| cell as f64 + 0.5);
        match self.way {
            Way::Upright => y,
            Way::Level => x,
            Way::Slanted => y * self.cos - x * self.sin,
        }
    }

    /// The place of a line at so much along it, cells.
    pub(super) fn place(&self, line: usize, along: f64) -> [f64; 2] {
        let across = self.first + line as f64 + 0.5 - self.bent(along);
        let (sin, cos) = (self.sin, self.cos);
        match self.way {
            Way::Upright => [(across - along * sin) / cos, along],
            Way::Level => [along, (across - along * cos) / sin],
            Way::Slanted => [across * cos - along * sin, across * sin + along * cos],
        }
    }

    /// How far the ends of a line right across the plate lie off the straight one through its middle, cells.
    pub(super) fn sagitta(&self) -> f64 {
        -self.bend * self.middle.powi(2)
    }

    fn bent(&self, along: f64) -> f64 {
        self.bend * ((along - self.middle).powi(2) - self.mean_square)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_lies_on_the_line_through_it() {
        for axis_deg in [-4.0, 8.0, 42.0, 87.0, 95.0, 139.0] {
            for bend in [0.0, 0.0006, -0.0006] {
                let course = Course { axis_deg, bend };
                let bent = course.way() != Way::Slanted;
                let lines = match bent {
                    true => Lines::of((210, 170), course),
                    false => Lines::of((210, 170), Course::straight(axis_deg)),
                };
                for (row, column) in [(0, 0), (209, 169), (209, 0), (0, 169), (50, 140)] {
                    let line = lines.at(row, column);
                    assert!(line < lines.count);
                    let [x, y] = lines.place(line, lines.along(row, column));
                    let off = (x - column as f64 - 0.5).hypot(y - row as f64 - 0.5);
                    assert!(off < 0.8, "{axis_deg} {bend}: {off}");
                }
            }
        }
    }
}
