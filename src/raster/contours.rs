//! Lines of one height through a grid.

use std::collections::BTreeMap;

use super::Grid;

/// A place in a grid, `[x, y]` in cells: `[j, i]` is the cell `[[i, j]]` itself.
pub type Place = [f64; 2];

/// Closed outlines of what lies at `level` or higher, holes included; outside the grid all is lower, so
/// that outlines close along its border. Between cells heights go straight (marching squares; the
/// cells of a saddle are joined where their mean lies high).
///
/// Cells without a number count as low.
///
/// ```
/// use oystermark::raster::{Grid, contours::outlines};
/// let peak = Grid::from_shape_fn((3, 3), |at| if at == (1, 1) { 2.0 } else { 0.0 });
/// let found = outlines(&peak, 1.0);
/// assert_eq!(found.len(), 1);
/// assert!(found[0].contains(&[1.5, 1.0]));
/// ```
pub fn outlines(grid: &Grid<f64>, level: f64) -> Vec<Vec<Place>> {
    let (rows, columns) = grid.dim();
    let height = |[i, j]: [usize; 2]| -> f64 {
        // Counted from one row and column outside.
        let inside = (i.checked_sub(1), j.checked_sub(1));
        match inside {
            (Some(i), Some(j)) => grid.get([i, j]).copied().filter(|h| h.is_finite()),
            _ => None,
        }
        .unwrap_or(f64::NEG_INFINITY)
    };
    let place = |[i, j]: [usize; 2]| [j as f64 - 1.0, i as f64 - 1.0];
    let crossing = |high: [usize; 2], low: [usize; 2]| {
        let (from, to) = (place(high), place(low));
        let fall = height(high) - height(low);
        let share = match fall.is_finite() && fall > 0.0 {
            true => (height(high) - level) / fall,
            false => 0.0,
        };
        [0, 1].map(|k| from[k] + share * (to[k] - from[k]))
    };
    // From each crossing to the next, by the side of a cell on which it lies.
    let mut next: BTreeMap<[[usize; 2]; 2], [[usize; 2]; 2]> = BTreeMap::new();
    let mut places: BTreeMap<[[usize; 2]; 2], Place> = BTreeMap::new();
    for i in 0..=rows {
        for j in 0..=columns {
            let corners = [[i, j], [i, j + 1], [i + 1, j + 1], [i + 1, j]];
            let heights = corners.map(height);
            let high = heights.map(|height| height >= level);
            let mut leaves = Vec::new();
            let mut enters = Vec::new();
            for k in 0..4 {
                let (here, there) = (corners[k], corners[(k + 1) % 4]);
                if high[k] == high[(k + 1) % 4] {
                    continue;
                }
                let side = [here.min(there), here.max(there)];
                if high[k] {
                    leaves.push(side);
                    places.insert(side, crossing(here, there));
                } else {
                    enters.push(side);
                }
            }
            // Around a high corner one enters before one leaves; of a saddle, sides either cut off its
            // high corners or its low ones.
            if high[0] && !high[3] {
                enters.rotate_right(1);
            }
            if leaves.len() == 2 && heights.iter().sum::<f64>() >= 4.0 * level {
                enters.rotate_left(1);
            }
            next.extend(leaves.into_iter().zip(enters));
        }
    }
    let mut outlines = Vec::new();
    while let Some((start, _)) = next.first_key_value() {
        let mut side = *start;
        let mut outline = Vec::new();
        while let Some(to) = next.remove(&side) {
            outline.extend(places.get(&side));
            side = to;
        }
        outlines.push(outline);
    }
    outlines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(outline: &[Place]) -> f64 {
        let next = outline.iter().cycle().skip(1);
        let twice: f64 = outline
            .iter()
            .zip(next)
            .map(|(a, b)| a[0] * b[1] - a[1] * b[0])
            .sum();
        twice.abs() / 2.0
    }

    #[test]
    fn a_cone_has_round_lines() {
        let cone = Grid::from_shape_fn((41, 41), |(i, j)| {
            10.0 - (i as f64 - 20.0).hypot(j as f64 - 20.0)
        });
        let found = outlines(&cone, 2.0);
        assert_eq!(found.len(), 1);
        for [x, y] in &found[0] {
            let r = (x - 20.0).hypot(y - 20.0);
            assert!((r - 8.0).abs() < 0.02, "{r}");
        }
        let exact = std::f64::consts::PI * 64.0;
        assert!((area(&found[0]) - exact).abs() < 0.01 * exact);
    }

    #[test]
    fn a_bowl_is_the_border_with_a_hole_and_a_slope_closes_along_the_border() {
        let bowl = Grid::from_shape_fn((21, 31), |(i, j)| (i as f64 - 10.0).hypot(j as f64 - 15.0));
        let mut areas: Vec<f64> = outlines(&bowl, 5.0).iter().map(|o| area(o)).collect();
        areas.sort_by(f64::total_cmp);
        assert_eq!(areas.len(), 2);
        assert!((areas[0] - std::f64::consts::PI * 25.0).abs() < 1.0);
        assert!((areas[1] - 20.0 * 30.0).abs() < 1e-9);
        let slope = Grid::from_shape_fn((11, 11), |(_, j)| j as f64);
        let right = outlines(&slope, 7.5);
        assert!((area(&right[0]) - 2.5 * 10.0).abs() < 1e-9, "{right:?}");
    }

    #[test]
    fn every_line_closes_on_rough_ground() {
        let rough = Grid::from_shape_fn((17, 23), |(i, j)| ((i * 7919 + j * 104_729) % 11) as f64);
        for level in [0.5, 3.0, 5.5, 8.2, 9.5] {
            let found = outlines(&rough, level);
            assert!(!found.is_empty());
            for outline in &found {
                assert!(outline.len() >= 4, "{outline:?}");
                let back = outline[outline.len() - 1];
                let gap = (back[0] - outline[0][0]).hypot(back[1] - outline[0][1]);
                assert!(gap <= 1.5, "{outline:?}");
            }
        }
    }

    #[test]
    fn nothing_high_has_no_line() {
        assert!(outlines(&Grid::from_elem((3, 3), 1.0), 2.0).is_empty());
        assert!(outlines(&Grid::from_elem((2, 2), f64::NAN), 2.0).is_empty());
        assert!(outlines(&Grid::from_elem((0, 0), 0.0), 2.0).is_empty());
    }
}
