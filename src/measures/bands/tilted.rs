//! Means along tilted or bent lines, stretch by stretch.

use crate::raster::{Grid, several_at_a_time};

/// How lines run down a grid: straight at a tilt, or bent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Run {
    /// Columns to the right for each row down, in the middle.
    pub(super) tan: f64,
    /// Columns to the right that both ends lie beyond the straight line through the middle.
    pub(super) sagitta: f64,
}

impl Run {
    /// Columns to the right of where the line crosses the grid's middle, so many rows below it.
    pub(super) fn shift(self, below_middle: f64, half_rows: f64) -> f64 {
        let way = below_middle / half_rows;
        self.tan * below_middle + self.sagitta * way * way
    }
}

/// Means of a grid over stretches of lines that run alike. Line `u` crosses the middle row at column
/// `u - pad` of the grid as it was given.
pub(super) struct Tilted {
    /// `[[stretch, line]]`; NaN where too little of the stretch is known.
    pub(super) means: Grid<f32>,
    /// Lines left of the grid's first column.
    pub(super) pad: usize,
}

/// Share of a stretch that must be known.
const KNOWN_SHARE: f32 = 0.9;

/// Sums a grid along lines over `stretches` equal ranges of rows.
pub(super) fn tilted(cells: &Grid<f32>, known: &Grid<f32>, run: Run, stretches: usize) -> Tilted {
    let (rows, columns) = cells.dim();
    let middle = rows as f64 / 2.0;
    let pad = (run.tan.abs() * middle + run.sagitta.abs()) as usize + 1;
    let mut sums = Grid::<f32>::zeros((stretches, columns + 2 * pad));
    let mut counts = Grid::<f32>::zeros(sums.dim());
    for (i, (row, known)) in cells.rows().into_iter().zip(known.rows()).enumerate() {
        let stretch = (i * stretches / rows).min(stretches - 1);
        let shift = run.shift(i as f64 - middle, middle).round() as i64;
        let first = (pad as i64 - shift).clamp(0, 2 * pad as i64) as usize;
        let lines = first..first + columns;
        several_at_a_time(|| {
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
        });
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

#[inline(always)]
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

    fn line(run: Run) -> Grid<f32> {
        Grid::from_shape_fn((100, 60), |(i, j)| {
            let at = 30.0 + run.shift(i as f64 - 50.0, 50.0);
            match (j as f64 - at).abs() <= 0.5 {
                true => 1.0,
                false => 0.0,
            }
        })
    }

    #[test]
    fn a_line_adds_up_along_its_own_run() {
        let known = Grid::from_elem((100, 60), 1.0);
        let straight = Run {
            tan: 0.1,
            sagitta: 0.0,
        };
        let bent = Run {
            tan: -0.05,
            sagitta: 6.0,
        };
        for (run, wrong) in [(straight, bent), (bent, straight)] {
            let cells = line(run);
            let along = tilted(&cells, &known, run, 4);
            let own = along.means.column(along.pad + 30);
            assert!(own.iter().all(|mean| *mean > 0.8), "{own:?}");
            let other = tilted(&cells, &known, wrong, 4);
            let whole = |line: ndarray::ArrayView1<f32>| line.iter().all(|mean| *mean > 0.5);
            assert!(!other.means.columns().into_iter().any(whole));
        }
    }
}
