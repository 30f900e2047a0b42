//! How strong a mark the plate's own texture makes by chance, place by place.

use rayon::prelude::*;

use crate::raster::stats::quantile;

/// Side of a tile, cells of the octave; a tile's neighbours are pooled with it. Our own choice: it
/// holds some hundred extrema at every octave.
const TILE: usize = 64;

/// Quantiles between which the tail's scale is read within a tile, whose few extrema a knot of marks
/// can fill to a tenth.
const OF_TILE: Span = Span {
    inner: 0.5,
    outer: 0.9,
};

/// Two quantiles.
#[derive(Clone, Copy)]
struct Span {
    inner: f64,
    outer: f64,
}

/// The same for a tile with its neighbours, by octave: as far out as marks do not reach. The coarser the
/// cells, the fewer extrema there are for the same marks.
const OF_NEIGHBOURHOOD: [Span; 4] = [
    Span {
        inner: 0.95,
        outer: 0.99,
    },
    Span {
        inner: 0.9,
        outer: 0.98,
    },
    Span {
        inner: 0.75,
        outer: 0.95,
    },
    OF_TILE,
];

/// Least scale of the tail, density: one step of an 8-bit file in the middle tones.
const LEAST_SCALE_D: f64 = 0.004;

/// Fewest extrema from which a tile's own tail is read.
const FEWEST: usize = 60;

/// Exponential tails of the prominence of extrema, one a tile.
///
/// The outer quantile and the scale are those of the tile and its neighbours together: grain falls off
/// faster the farther out, foliage does not. Where a tile's own extrema are stronger than its
/// neighbourhood's, as where lace begins, both grow by as much.
pub(super) struct Chance {
    columns: usize,
    /// Outer quantile and scale, density.
    tiles: Vec<[f64; 2]>,
    /// Extrema looked at, and the share of them beyond the outer quantile.
    tests: f64,
    beyond: f64,
}

impl Chance {
    /// Reads the tails off all extrema of an octave: `(row, column, prominence)`.
    pub(super) fn read(
        extrema: &[(usize, usize, f32)],
        rows: usize,
        columns: usize,
        octave: usize,
    ) -> Chance {
        let span = OF_NEIGHBOURHOOD[octave.min(OF_NEIGHBOURHOOD.len() - 1)];
        let (high, wide) = (rows.div_ceil(TILE), columns.div_ceil(TILE));
        let mut own: Vec<Vec<f64>> = vec![Vec::new(); high * wide];
        let mut all: Vec<f64> = Vec::with_capacity(extrema.len());
        for &(i, j, p) in extrema {
            own[(i / TILE) * wide + j / TILE].push(f64::from(p));
            all.push(f64::from(p));
        }
        let whole = tail(&mut all, span).unwrap_or([f64::INFINITY, LEAST_SCALE_D]);
        let tiles = (0..high * wide)
            .into_par_iter()
            .map(|k| {
                let (i, j) = (k / wide, k % wide);
                let mut pooled = Vec::new();
                for ni in i.saturating_sub(1)..(i + 2).min(high) {
                    for nj in j.saturating_sub(1)..(j + 2).min(wide) {
                        pooled.extend_from_slice(&own[ni * wide + nj]);
                    }
                }
                let Some([outer, scale]) = tail(&mut pooled, span) else {
                    return whole;
                };
                let around = tail(&mut pooled, OF_TILE);
                let busier = match (tail(&mut own[k].clone(), OF_TILE), around) {
                    (Some(own), Some(around)) => (own[1] / around[1]).max(1.0),
                    _ => 1.0,
                };
                [busier * outer, busier * scale]
            })
            .collect();
        Chance {
            columns: wide,
            tiles,
            tests: extrema.len() as f64,
            beyond: 1.0 - span.outer,
        }
    }

    /// Expected extrema of the whole plate at least so prominent by chance, were it all like this place.
    pub(super) fn expected(&self, row: usize, column: usize, prominence: f64) -> f64 {
        let [outer, scale] = self.tiles[(row / TILE) * self.columns + column / TILE];
        self.tests * self.beyond * (-(prominence - outer) / scale).exp().min(1.0)
    }
}

fn tail(values: &mut [f64], span: Span) -> Option<[f64; 2]> {
    if values.len() < FEWEST {
        return None;
    }
    let inner = quantile(values, span.inner)?;
    let outer = quantile(values, span.outer)?;
    let scale = (outer - inner) / ((1.0 - span.inner) / (1.0 - span.outer)).ln();
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
        let chance = Chance::read(&extrema, 200, 300, 0);
        let expected = chance.expected(100, 150, scale * 1000f64.ln());
        assert!((expected / 20.0).ln().abs() < 0.5, "{expected}");
    }
}
