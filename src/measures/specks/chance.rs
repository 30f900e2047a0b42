//! How strong a mark the plate's own texture makes by chance, place by place.

use crate::raster::stats::quantile;

/// Side of a tile, cells of the octave; a tile's neighbours are pooled with it. Our own choice: it
/// holds some hundred extrema at every octave.
const TILE: usize = 64;

/// Quantiles between which the tail's scale is read. Marks are a few in a hundred extrema at most, so
/// they do not reach them.
const INNER: f64 = 0.5;
/// See [`INNER`].
const OUTER: f64 = 0.9;

/// Least scale of the tail, density: one step of an 8-bit file in the middle tones.
const LEAST_SCALE_D: f64 = 0.004;

/// Fewest extrema from which a tile's own tail is read.
const FEWEST: usize = 30;

/// Exponential tails of the prominence of extrema, one a tile.
///
/// The outer quantile and the scale come from the tile itself or from its neighbourhood, whichever is
/// the larger: where lace or foliage begins, its tail counts.
pub(super) struct Chance {
    columns: usize,
    /// Outer quantile and scale, density.
    tiles: Vec<[f64; 2]>,
    /// Extrema looked at.
    tests: f64,
}

impl Chance {
    /// Reads the tails off all extrema: `(row, column, prominence)`.
    pub(super) fn read(extrema: &[(usize, usize, f32)], rows: usize, columns: usize) -> Chance {
        let (high, wide) = (rows.div_ceil(TILE), columns.div_ceil(TILE));
        let mut own: Vec<Vec<f64>> = vec![Vec::new(); high * wide];
        let mut all: Vec<f64> = Vec::with_capacity(extrema.len());
        for &(i, j, p) in extrema {
            own[(i / TILE) * wide + j / TILE].push(f64::from(p));
            all.push(f64::from(p));
        }
        let whole = tail(&mut all).unwrap_or([f64::INFINITY, LEAST_SCALE_D]);
        let tiles = (0..high * wide)
            .map(|k| {
                let (i, j) = (k / wide, k % wide);
                let mut pooled = Vec::new();
                for ni in i.saturating_sub(1)..(i + 2).min(high) {
                    for nj in j.saturating_sub(1)..(j + 2).min(wide) {
                        pooled.extend_from_slice(&own[ni * wide + nj]);
                    }
                }
                let pooled = tail(&mut pooled);
                let own = tail(&mut own[k].clone());
                match (own, pooled) {
                    (Some(a), Some(b)) => [a[0].max(b[0]), a[1].max(b[1])],
                    (Some(a), None) | (None, Some(a)) => a,
                    (None, None) => whole,
                }
            })
            .collect();
        Chance {
            columns: wide,
            tiles,
            tests: extrema.len() as f64,
        }
    }

    /// Expected extrema of the whole plate at least so prominent by chance, were it all like this place.
    pub(super) fn expected(&self, row: usize, column: usize, prominence: f64) -> f64 {
        let [outer, scale] = self.tiles[(row / TILE) * self.columns + column / TILE];
        self.tests * (1.0 - OUTER) * (-(prominence - outer) / scale).exp().min(1.0)
    }
}

fn tail(values: &mut [f64]) -> Option<[f64; 2]> {
    if values.len() < FEWEST {
        return None;
    }
    let inner = quantile(values, INNER)?;
    let outer = quantile(values, OUTER)?;
    let scale = (outer - inner) / ((1.0 - INNER) / (1.0 - OUTER)).ln();
    Some([outer, scale.max(LEAST_SCALE_D)])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exponential_tail_is_read_as_it_is() {
        let scale = 0.02;
        let extrema: Vec<_> = (0..20_000)
            .map(|k| {
                let u = (k as f64 + 0.5) / 20_000.0;
                let p = (-scale * (1.0 - u).ln()) as f32;
                ((k * 7919) % 200, (k * 104_729) % 300, p)
            })
            .collect();
        let chance = Chance::read(&extrema, 200, 300);
        let expected = chance.expected(100, 150, scale * 1000f64.ln());
        assert!((expected / 20.0).ln().abs() < 0.5, "{expected}");
    }
}
