//! How strong a mark the plate's own texture makes by chance, place by place.

use rayon::prelude::*;

use crate::raster::stats::rising_quantiles;

/// Side of a tile, cells of the octave; a tile's neighbours are pooled with it. Our own choice: it
/// holds some hundred extrema at every octave.
const TILE: usize = 64;

/// Quantiles between which the tail's scale is read within a tile, whose few extrema a knot of marks
/// can fill to a tenth.
const OF_TILE: Span = Span {
    bulk: None,
    inner: 0.5,
    outer: 0.9,
};

/// The quantiles that a tail is read from.
#[derive(Clone, Copy)]
struct Span {
    /// A third one farther in, from which on the tail's bend is read; none where there are too few
    /// extrema for it.
    bulk: Option<f64>,
    inner: f64,
    outer: f64,
}

/// The same for a tile with its neighbours, by octave: as far out as marks do not reach. The coarser the
/// cells, the fewer extrema there are for the same marks.
const OF_NEIGHBOURHOOD: [Span; 4] = [
    Span {
        bulk: Some(0.8),
        inner: 0.95,
        outer: 0.99,
    },
    Span {
        bulk: Some(0.6),
        inner: 0.9,
        outer: 0.98,
    },
    Span {
        bulk: None,
        inner: 0.75,
        outer: 0.95,
    },
    OF_TILE,
];

/// Least scale of the tail, density: one step of an 8-bit file in the middle tones.
const LEAST_SCALE_D: f64 = 0.004;

/// Most that a tail may bend: what the quantiles of a normal distribution show.
const MOST_BEND: f64 = 0.06;

/// Fewest extrema from which a tile's own tail is read.
const FEWEST: usize = 60;

/// How much heavier than the other sign's a tail may be and count as texture, which has both signs
/// about alike. What is heavier yet is a knot of marks (which are of one sign), and the tail is read
/// farther in. Our own choice; recall of clustered marks and false marks on busy scenes would notice.
const BOTH_ALIKE: f64 = 2.0;

/// How much heavier than the other sign's the bulk may be where a knot of marks makes the tail: texture of
/// one sign has a heavier bulk too. Our own choice, as above.
const BULK_ALIKE: f64 = 1.5;

/// A cell that stands out from the eight about it. Small, since a large plate has millions.
#[derive(Debug, Clone, Copy)]
pub(super) struct Extremum {
    pub row: u32,
    pub column: u32,
    /// How far it stands out from its ring, density; negative where it does not.
    pub prominence: f32,
}

/// Tails of the prominence of extrema, one a tile: exponential where texture is heavy-tailed, and as much
/// lighter as grain is, whose tail bends down like a normal distribution's.
///
/// The outer quantile and the scale are those of the tile and its neighbours together: grain falls off
/// faster the farther out, foliage does not. Where a tile's own extrema are stronger than its
/// neighbourhood's, as where lace begins, both grow by as much.
pub(super) struct Chance {
    columns: usize,
    tiles: Vec<Tail>,
    /// Extrema looked at.
    tests: f64,
}

/// A tail: the share of extrema beyond a prominence, its scale there, density, and its bend: beyond it the
/// share falls as `exp(-(x + bend x^2))`, x in scales.
#[derive(Clone, Copy)]
struct Tail {
    outer: f64,
    beyond: f64,
    scale: f64,
    bend: f64,
}

impl Tail {
    fn times(self, factor: f64) -> Tail {
        Tail {
            outer: factor * self.outer,
            scale: factor * self.scale,
            ..self
        }
    }
}

/// Prominences of the extrema of one sign by tile.
struct Tiles {
    high: usize,
    wide: usize,
    own: Vec<Vec<f32>>,
}

impl Tiles {
    fn sort(extrema: &[Extremum], rows: usize, columns: usize) -> Tiles {
        let (high, wide) = (rows.div_ceil(TILE), columns.div_ceil(TILE));
        let mut own: Vec<Vec<f32>> = vec![Vec::new(); high * wide];
        for extremum in extrema {
            let (i, j) = (extremum.row as usize, extremum.column as usize);
            own[(i / TILE) * wide + j / TILE].push(extremum.prominence);
        }
        Tiles { high, wide, own }
    }

    /// A tile with its neighbours.
    fn pooled(&self, k: usize) -> Vec<f32> {
        let (i, j) = (k / self.wide, k % self.wide);
        let mut pooled = Vec::new();
        for ni in i.saturating_sub(1)..(i + 2).min(self.high) {
            for nj in j.saturating_sub(1)..(j + 2).min(self.wide) {
                pooled.extend_from_slice(&self.own[ni * self.wide + nj]);
            }
        }
        pooled
    }

    /// What a tile and its neighbours show.
    fn seen(&self, k: usize, span: Span) -> Seen {
        let [near, far] = two_tails(&mut self.pooled(k), [OF_TILE, span]);
        let busier = match (tail(&mut self.own[k].clone(), OF_TILE), near) {
            (Some(own), Some(near)) => (own.scale / near.scale).max(1.0),
            _ => 1.0,
        };
        Seen { far, near, busier }
    }
}

/// The tails of one sign about a tile.
struct Seen {
    /// As far out as marks do not reach, and farther in.
    far: Option<Tail>,
    near: Option<Tail>,
    /// How much stronger the tile's own extrema are than its neighbourhood's, at least 1.
    busier: f64,
}

impl Seen {
    /// The tail to judge by, beside what the other sign shows; `None` with too few extrema.
    fn tail(&self, other: &Seen) -> Option<Tail> {
        let far = self.far?;
        if let (Some(near), Some(other_near), Some(other_far)) = (self.near, other.near, other.far)
            && far.scale > BOTH_ALIKE * other_far.scale
            && near.scale < BULK_ALIKE * other_near.scale
        {
            let scale = near.scale.max(BOTH_ALIKE * other_far.scale);
            return Some(Tail { scale, ..near }.times(other.busier));
        }
        Some(far.times(self.busier))
    }
}

impl Chance {
    /// Reads the tails off all extrema of an octave: those of either sign.
    pub(super) fn read(
        extrema: &[Vec<Extremum>; 2],
        rows: usize,
        columns: usize,
        octave: usize,
    ) -> [Chance; 2] {
        let span = OF_NEIGHBOURHOOD[octave.min(OF_NEIGHBOURHOOD.len() - 1)];
        let signs = extrema.each_ref().map(|of| Tiles::sort(of, rows, columns));
        let seen: Vec<[Seen; 2]> = (0..signs[0].own.len())
            .into_par_iter()
            .map(|k| signs.each_ref().map(|sign| sign.seen(k, span)))
            .collect();
        std::array::from_fn(|sign| {
            let of = |both: &[Seen; 2]| both[sign].tail(&both[1 - sign]);
            let tiles: Vec<Option<Tail>> = seen.iter().map(of).collect();
            // Where a tile has too few extrema, those of the whole plate.
            let whole = match tiles.iter().all(Option::is_some) {
                true => None,
                false => tail(&mut signs[sign].own.concat(), span),
            };
            let whole = whole.unwrap_or(Tail {
                outer: f64::INFINITY,
                beyond: 1.0 - span.outer,
                scale: LEAST_SCALE_D,
                bend: 0.0,
            });
            Chance {
                columns: signs[sign].wide,
                tiles: tiles.into_iter().map(|of| of.unwrap_or(whole)).collect(),
                tests: extrema[sign].len() as f64,
            }
        })
    }

    /// Expected extrema of the whole plate at least so prominent by chance, were it all like this place.
    pub(super) fn expected(&self, row: usize, column: usize, prominence: f64) -> f64 {
        let of = self.tiles[(row / TILE) * self.columns + column / TILE];
        let x = ((prominence - of.outer) / of.scale).max(0.0);
        self.tests * of.beyond * (-(x + of.bend * x * x)).exp()
    }
}

impl Span {
    /// The three shares, rising.
    fn shares(self) -> [f64; 3] {
        [self.bulk.unwrap_or(self.inner), self.inner, self.outer]
    }

    /// The tail through the quantiles at [`Span::shares`].
    fn tail(self, [bulk, inner, outer]: [f64; 3]) -> Tail {
        let [bulk_at, inner_at, outer_at] = self.shares();
        let surprise = |of: f64| -(1.0 - of).ln();
        let steepness = |from: f64, to: f64, low: f64, high: f64| {
            (surprise(to) - surprise(from)) / (high - low).max(1e-9)
        };
        let far = steepness(inner_at, outer_at, inner, outer);
        let mut tail = Tail {
            outer,
            beyond: 1.0 - outer_at,
            scale: (1.0 / far).max(LEAST_SCALE_D),
            bend: 0.0,
        };
        if self.bulk.is_some() {
            let near = steepness(bulk_at, inner_at, bulk, inner);
            // How fast the steepness grows, and so how steep the tail is at the outer quantile itself.
            let growth = 2.0 * (far - near) / (outer - bulk).max(1e-9);
            if growth > 0.0 {
                let steepest = far + 0.5 * growth * (outer - inner);
                tail.scale = (1.0 / steepest).max(LEAST_SCALE_D);
                tail.bend = (0.5 * growth * tail.scale * tail.scale).min(MOST_BEND);
            }
        }
        tail
    }
}

/// The tail over one span of quantiles; `None` with too few values.
fn tail(values: &mut [f32], span: Span) -> Option<Tail> {
    if values.len() < FEWEST {
        return None;
    }
    rising_quantiles(values, span.shares()).map(|at| span.tail(at))
}

/// The same over two spans, whose quantiles are read in one go.
fn two_tails(values: &mut [f32], spans: [Span; 2]) -> [Option<Tail>; 2] {
    if values.len() < FEWEST {
        return [None; 2];
    }
    let [[a, b, c], [d, e, f]] = spans.map(Span::shares);
    let mut rising = [a, b, c, d, e, f];
    rising.sort_by(f64::total_cmp);
    let Some(read) = rising_quantiles(values, rising) else {
        return [None; 2];
    };
    let value = |share: f64| read[rising.partition_point(|other| *other < share)];
    spans.map(|span| Some(span.tail(span.shares().map(value))))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The k-th of many extrema strewn over 200 x 300 cells.
    fn at(k: u32, prominence: f32) -> Extremum {
        Extremum {
            row: (k % 200 * 7919) % 200,
            column: (k % 300 * 104_729) % 300,
            prominence,
        }
    }

    #[test]
    fn an_exponential_tail_is_read_as_it_is() {
        let scale = 0.02;
        let extrema: Vec<Extremum> = (0..20_000)
            .map(|k| {
                let u = (f64::from(k) + 0.5) / 20_000.0;
                let p = (-scale * (1.0 - u).ln()) as f32;
                at(k, p)
            })
            .collect();
        let [chance, _] = Chance::read(&[extrema.clone(), extrema], 200, 300, 0);
        let expected = chance.expected(100, 150, scale * 1000f64.ln());
        assert!((expected / 20.0).ln().abs() < 0.5, "{expected}");
    }

    #[test]
    fn a_normal_tail_is_read_as_it_is() {
        // Normal values by the method of Box and Muller (1958); of 20,000 about 0.6 lie beyond 4 sigma
        // (Abramowitz and Stegun, table 26.1: 3.167e-5).
        let extrema: Vec<Extremum> = (0..20_000)
            .map(|k| {
                let u = (f64::from(k) + 0.5) / 20_000.0;
                let v = (f64::from(k) * 0.618_034).fract();
                let p = 0.02 * (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos();
                at(k, p as f32)
            })
            .collect();
        let [chance, _] = Chance::read(&[extrema.clone(), extrema], 200, 300, 0);
        let expected = chance.expected(100, 150, 0.08);
        assert!((expected / 0.633).ln().abs() < 1.0, "{expected}");
    }
}
