//! The corner supports of the holder, which keep light from the plate as its ledge does.

use super::{CORNER_MM, REGION_MM, cell};
use crate::plate::{Edge, Part, Plate};
use crate::raster::filter::average_down;
use crate::raster::regions::reached_from;
use crate::raster::stats::median;
use crate::raster::{Grid, Mask};

/// The corner supports of the holder: cells like the border that hang together with it in a corner.
pub(super) fn mark_corner_supports(plate: &mut Plate) {
    let factor = plate.cells_along(REGION_MM);
    let size = cell(plate, CORNER_MM).max(factor * 4);
    let (rows, columns) = plate.light.dim();
    if size * 2 > rows.min(columns) {
        return;
    }
    for (vertical, horizontal) in [
        (Edge::Top, Edge::Left),
        (Edge::Top, Edge::Right),
        (Edge::Bottom, Edge::Right),
        (Edge::Bottom, Edge::Left),
    ] {
        let widths = &plate.ledge.width_mm;
        let (Some(down), Some(across)) = (widths[vertical as usize], widths[horizontal as usize])
        else {
            continue;
        };
        // The corner's own frame: row and column count from the plate's corner inward.
        let at = |i: usize, j: usize| {
            let row = if vertical == Edge::Top {
                i
            } else {
                rows - 1 - i
            };
            let column = if horizontal == Edge::Left {
                j
            } else {
                columns - 1 - j
            };
            [row, column]
        };
        let corner = Grid::from_shape_fn((size, size), |(i, j)| plate.light[at(i, j)]);
        let silver = average_down(&corner, factor)
            .mapv(|v| plate.silver_sign() * -f64::from(v.max(1e-5)).log10());
        let q = |mm: f64| (mm / (factor as f64 * plate.pitch_mm)) as usize;
        let in_border = |i: usize, j: usize| i < q(down) || j < q(across);
        let skin = q(1.0);
        let mut border: Vec<f64> = silver
            .indexed_iter()
            .filter(|((i, j), _)| in_border(*i, *j) && *i > skin && *j > skin)
            .map(|(_, s)| *s)
            .collect();
        let Some(level) = median(&mut border) else {
            continue;
        };
        let like = Mask::from_shape_fn(silver.dim(), |(i, j)| {
            in_border(i, j) || silver[[i, j]] < level + 0.06
        });
        let start = (q(down.max(across)) + 1).min(like.nrows() - 1);
        let support = reached_from(&like, std::iter::once((start, start)));
        for ((i, j), set) in support.indexed_iter() {
            if !set {
                continue;
            }
            for di in 0..factor {
                for dj in 0..factor {
                    let (ci, cj) = (i * factor + di, j * factor + dj);
                    if ci < size && cj < size {
                        plate.parts[at(ci, cj)] = Part::Border;
                    }
                }
            }
        }
    }
}
