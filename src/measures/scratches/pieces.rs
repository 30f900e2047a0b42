//! Straight pieces along which most cells are darker than their sides.

use rayon::prelude::*;

use super::response::Response;

/// Rows that a piece runs through; a power of two.
pub(super) const ROWS: usize = 32;
/// Least mean strength of a piece.
const LEAST_MEAN: f32 = 0.5;
/// Pieces whose ends lie nearer to each other than this, together, are one.
const APART: i64 = 6;
/// Most pieces that are followed: a scene with more is of lines all over.
const MOST: usize = 600;

/// A piece: the columns at its first and last row.
pub(super) struct Piece {
    pub(super) row: usize,
    pub(super) ends: [f64; 2],
    mean: f32,
}

/// All pieces, strongest first.
pub(super) fn pieces(response: &Response) -> Vec<Piece> {
    let (rows, columns) = response.strength.dim();
    let values = response.strength.as_slice().unwrap_or_default();
    let mut pieces: Vec<Piece> = (0..rows / ROWS)
        .into_par_iter()
        .flat_map_iter(|strip| {
            let row = strip * ROWS;
            in_strip(&values[row * columns..(row + ROWS) * columns], columns, row)
        })
        .collect();
    pieces.sort_by(|a, b| {
        b.mean
            .total_cmp(&a.mean)
            .then(a.row.cmp(&b.row))
            .then(a.ends[0].total_cmp(&b.ends[0]))
    });
    pieces.truncate(MOST);
    pieces
}

/// The strongest pieces of one strip.
fn in_strip(values: &[f32], columns: usize, row: usize) -> Vec<Piece> {
    let mut found: Vec<(f32, i64, i64)> = Vec::new();
    for way in [1i64, -1] {
        let sums = sums(values, columns, way);
        for (lean, sums) in sums.chunks_exact(columns).enumerate() {
            if lean == 0 && way < 0 {
                continue;
            }
            for (at, sum) in sums.iter().enumerate() {
                if *sum >= LEAST_MEAN * ROWS as f32 {
                    found.push((*sum, at as i64, at as i64 + way * lean as i64));
                }
            }
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    let mut kept: Vec<(f32, i64, i64)> = Vec::new();
    for (sum, top, bottom) in found {
        let near = |(_, a, b): &(f32, i64, i64)| (a - top).abs() + (b - bottom).abs() <= APART;
        if !kept.iter().any(near) {
            kept.push((sum, top, bottom));
        }
    }
    kept.into_iter()
        .map(|(sum, top, bottom)| Piece {
            row,
            ends: [top as f64, bottom as f64],
            mean: sum / ROWS as f32,
        })
        .collect()
}

/// Sums along all lines that lean 0 to `ROWS - 1` columns to one side over the strip:
/// `sums[lean * columns + column at the first row]`. Halves are joined to wholes, twice as many rows and leans
/// each time.
fn sums(values: &[f32], columns: usize, way: i64) -> Vec<f32> {
    let mut sums = values.to_vec();
    let (mut strips, mut leans) = (ROWS, 1);
    while strips > 1 {
        let mut joined = vec![0.0f32; sums.len()];
        for strip in 0..strips / 2 {
            for lean in 0..2 * leans {
                let line = |strip: usize| &sums[(strip * leans + lean / 2) * columns..][..columns];
                let (upper, lower) = (line(2 * strip), line(2 * strip + 1));
                let out = &mut joined[(strip * 2 * leans + lean) * columns..][..columns];
                let shift = lean.div_ceil(2).min(columns);
                let (from, to) = match way > 0 {
                    true => (0, columns - shift),
                    false => (shift, columns),
                };
                let lower = match way > 0 {
                    true => &lower[shift..],
                    false => &lower[..columns - shift],
                };
                for ((out, upper), lower) in
                    out[from..to].iter_mut().zip(&upper[from..to]).zip(lower)
                {
                    *out = upper + lower;
                }
            }
        }
        sums = joined;
        strips /= 2;
        leans *= 2;
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_run_along_leaning_lines() {
        let columns = 80;
        for (way, lean) in [(1i64, 0usize), (1, 11), (-1, 31)] {
            let mut values = vec![0.0f32; ROWS * columns];
            for row in 0..ROWS {
                let off = (lean * row) as f64 / (ROWS - 1) as f64;
                let column = 40 + way * off.round() as i64;
                values[row * columns + column as usize] = 1.0;
            }
            let sums = sums(&values, columns, way);
            let own = sums[lean * columns + 40];
            assert!(own > 0.75 * ROWS as f32, "{way} {lean}: {own}");
            let pieces = in_strip(&values, columns, 64);
            assert_eq!(pieces[0].row, 64);
            let ends = [40.0, 40.0 + (way * lean as i64) as f64];
            assert!((pieces[0].ends[0] - ends[0]).abs() <= 2.0);
            assert!((pieces[0].ends[1] - ends[1]).abs() <= 2.0);
        }
    }
}
