//! Sums of what stands out along the bands of one lie.

use super::look::Look;
use crate::raster::Grid;

/// Running sums along the bands of one lie, by the number of stretches summed, column by column.
pub(super) struct Along {
    sums: Vec<Vec<f32>>,
    /// How many of the stretches are known.
    known: Vec<Vec<f32>>,
}

impl Along {
    #[inline(always)]
    pub(super) fn of(look: &Look, shifts: &[i64]) -> Along {
        let add = |grid: &Grid<f32>| {
            let columns = grid.ncols();
            let mut sums = vec![vec![0.0; columns]];
            for (stretch, shift) in grid.rows().into_iter().zip(shifts) {
                let skipped = usize::try_from(*shift).unwrap_or(0).min(columns);
                let later = usize::try_from(-*shift).unwrap_or(0).min(columns);
                let mut sum = sums[sums.len() - 1].clone();
                // Grids are made row by row, so that a row is a slice.
                let own = stretch.to_slice().unwrap_or_default();
                for (sum, own) in sum[later..].iter_mut().zip(&own[skipped.min(own.len())..]) {
                    *sum += own;
                }
                sums.push(sum);
            }
            sums
        };
        Along {
            sums: add(&look.clear),
            known: add(&look.known),
        }
    }

    /// Sums over the known stretches of a range over the root of their number, column by column; 0 where fewer than
    /// `least` are known.
    #[inline(always)]
    pub(super) fn agreements(&self, (from, to): (usize, usize), least: usize) -> Vec<f32> {
        let sums = self.sums[to].iter().zip(&self.sums[from]);
        let known = self.known[to].iter().zip(&self.known[from]);
        let least = (least as f32).max(1.0);
        sums.zip(known)
            .map(|((sum, less), (known, fewer))| {
                let known = known - fewer;
                let root = 1.0 / known.max(1.0).sqrt();
                (sum - less) * if known >= least { root } else { 0.0 }
            })
            .collect()
    }
}
