//! Means along tilted lines, stretch by stretch.

use crate::raster::Grid;

/// Means of a grid over stretches of tilted lines. Line `u` runs through row `i` at column
/// `u - pad + tan(tilt) * (i - middle)` of the grid as it was given.
pub(super) struct Tilted {
    /// `[[stretch, line]]`; NaN where too little of the stretch is known.
    pub(super) means: Grid<f32>,
    /// Lines left of the grid's first column.
    pub(super) pad: usize,
}

/// Share of a stretch that must be known.
const KNOWN_SHARE: f32 = 0.9;

/// Sums a grid along lines tilted by `tan` columns a row, over `stretches` equal ranges of rows.
pub(super) fn tilted(cells: &Grid<f32>, known: &Grid<f32>, tan: f64, stretches: usize) -> Tilted {
    let (rows, columns) = cells.dim();
    let middle = rows as f64 / 2.0;
    let pad = (tan.abs() * middle) as usize + 1;
    let mut sums = Grid::<f32>::zeros((stretches, columns + 2 * pad));
    let mut counts = Grid::<f32>::zeros(sums.dim());
    for (i, (row, known)) in cells.rows().into_iter().zip(known.rows()).enumerate() {
        let stretch = (i * stretches / rows).min(stretches - 1);
        let shift = (tan * (i as f64 - middle)).round() as i64;
        let first = (pad as i64 - shift).clamp(0, 2 * pad as i64) as usize;
        let lines = first..first + columns;
        add(
            sums.row_mut(stretch).as_slice_mut(),
            lines.clone(),
            row.as_slice(),
        );
        add(
            counts.row_mut(stretch).as_slice_mut(),
            lines,
            known.as_slice(),
        );
    }
    let whole = KNOWN_SHARE * rows as f32 / stretches as f32;
    sums.zip_mut_with(&counts, |sum, count| {
        *sum = if *count >= whole {
            *sum / count
        } else {
            f32::NAN
        };
    });
    Tilted { means: sums, pad }
}

fn add(sums: Option<&mut [f32]>, lines: std::ops::Range<usize>, values: Option<&[f32]>) {
    if let (Some(sums), Some(values)) = (sums, values) {
        for (sum, value) in sums[lines].iter_mut().zip(values) {
            *sum += value;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tilted_line_adds_up_at_its_own_tilt() {
        let tan = 0.1;
        let cells = Grid::from_shape_fn((100, 60), |(i, j)| {
            let at = 30.0 + tan * (i as f64 - 50.0);
            if (j as f64 - at).abs() <= 0.5 {
                1.0
            } else {
                0.0
            }
        });
        let known = Grid::from_elem((100, 60), 1.0);
        let along = tilted(&cells, &known, tan, 4);
        let line = along.pad + 30;
        assert!(along.means.column(line).iter().all(|mean| *mean > 0.8));
        let wrong = tilted(&cells, &known, -tan, 4);
        assert!(wrong.means.iter().all(|mean| mean.is_nan() || *mean < 0.5));
    }
}
