//! The fall of fog from an edge, `a + f exp(-x / L)`, with intervals.

use super::edges::{EdgeFog, Ground};
use super::strip::Strip;
use crate::raster::stats::quantile;
use crate::units::Reading;

/// Ladder of depths tried, millimetres.
const DEPTHS_MM: [f64; 14] = [
    0.9, 1.2, 1.5, 1.9, 2.4, 3.0, 3.8, 4.7, 5.8, 7.2, 9.0, 11.0, 13.5, 16.0,
];

/// Resamples of the bootstrap. Enough for a 95 % half width good to a fifth.
const RESAMPLES: usize = 60;
/// Blocks drawn together in the bootstrap: 4 mm, longer than the film's own clouds at the edge.
const BOOTSTRAP_RUN: usize = 8;

/// A stretch of an edge that seems fogged.
pub(super) struct Stretch {
    pub(super) blocks: Vec<usize>,
    /// Rows that the fit may use.
    pub(super) rows: std::ops::Range<usize>,
    /// Silver without fog, where it is known.
    pub(super) level: Option<f64>,
    /// Which quantile over the blocks makes the profile: the median where nothing but fog lies, lower
    /// where a scene does.
    pub(super) quantile: f64,
    pub(super) ground: Ground,
    pub(super) seen_d: f64,
    pub(super) scatter_d: f64,
    pub(super) texture_d: f64,
}

impl Stretch {
    /// Fits `a + f exp(-x/L)` to the profile of the stretch, with intervals.
    pub(super) fn fit(self, strip: &Strip) -> Option<EdgeFog> {
        let x: Vec<f64> = self
            .rows
            .clone()
            .map(|row| strip.band.distance_mm(row))
            .collect();
        let solve_for = |blocks: &[usize]| {
            let profile = strip.profile(blocks, self.quantile);
            exponential(&x, profile.get(self.rows.clone())?, self.level)
        };
        let (level_d, fog_d, depth_mm) = solve_for(&self.blocks)?;
        let profile = strip.profile(&self.blocks, self.quantile);
        let misfit_d = misfit(
            &x,
            profile.get(self.rows.clone())?,
            (level_d, fog_d, depth_mm),
        )?;
        let mut fogs = Vec::with_capacity(RESAMPLES);
        let mut depths = Vec::with_capacity(RESAMPLES);
        let mut draw = Draw(0x9E37_79B9_7F4A_7C15);
        let runs = self.blocks.len().div_ceil(BOOTSTRAP_RUN);
        for _ in 0..RESAMPLES {
            let blocks: Vec<usize> = (0..runs)
                .flat_map(|_| {
                    let start = draw.below(self.blocks.len());
                    (start..start + BOOTSTRAP_RUN).map(|k| self.blocks[k % self.blocks.len()])
                })
                .collect();
            if let Some((_, f, l)) = solve_for(&blocks) {
                fogs.push(f);
                depths.push(l);
            }
        }
        let half_width = |values: &mut Vec<f64>| -> Option<f64> {
            Some((quantile(values, 0.975)? - quantile(values, 0.025)?) / 2.0)
        };
        Some(EdgeFog {
            edge: strip.band.edge,
            // What the outermost strip hides is read off the fit; its model error is part of the doubt.
            fog_d: Reading::new(fog_d, half_width(&mut fogs)?.hypot(0.1 * fog_d)),
            depth_mm: Reading::new(depth_mm, half_width(&mut depths)?.hypot(0.2 * depth_mm)),
            from_mm: self
                .blocks
                .first()
                .map(|b| *b as f64 * strip.band.block_mm)?,
            to_mm: self
                .blocks
                .last()
                .map(|b| (*b + 1) as f64 * strip.band.block_mm)?,
            level_d,
            seen_d: self.seen_d,
            scatter_d: self.scatter_d,
            ground: self.ground,
            texture_d: self.texture_d,
            misfit_d,
        })
    }
}

/// Root of the mean square by which a profile strays from `a + f exp(-x/L)`, density.
fn misfit(x: &[f64], y: &[Option<f64>], (a, f, depth): (f64, f64, f64)) -> Option<f64> {
    let squares = x
        .iter()
        .zip(y)
        .filter_map(|(x, y)| Some(((*y)? - a - f * (-x / depth).exp()).powi(2)));
    let (sum, count) = squares.fold((0.0, 0), |(sum, count), square| (sum + square, count + 1));
    (count > 0).then(|| (sum / f64::from(count)).sqrt())
}

/// The level toward which a profile over the border of an edge falls, density: the fit's `a`. `profile` has a
/// value for each of the border's rows.
pub(super) fn level_below(strip: &Strip, profile: &[Option<f64>]) -> Option<f64> {
    let rows = strip.border.clone();
    let x: Vec<f64> = rows.map(|row| strip.band.distance_mm(row)).collect();
    Some(exponential(&x, profile, None)?.0)
}

/// Least squares of `a + f exp(-x/L)` over the ladder of depths: `(a, f, L)`.
///
/// With a known `level`, `a` is held near it (0.01 D, the film's own clouds); a mild prior on `L`
/// (3 mm, a factor of 2) settles it where the border is too narrow to tell.
fn exponential(x: &[f64], y: &[Option<f64>], level: Option<f64>) -> Option<(f64, f64, f64)> {
    let points: Vec<(f64, f64)> = x
        .iter()
        .zip(y)
        .filter_map(|(x, y)| Some((*x, (*y)?)))
        .collect();
    // Beside a known level one point is enough: the prior stands for the depth.
    if points.is_empty() || (level.is_none() && points.len() < 3) {
        return None;
    }
    // Scatter of a profile point about a smooth fall (0.004 D) sets the weight of the priors.
    let noise_d: f64 = 0.004;
    let mut best: Option<(f64, (f64, f64, f64))> = None;
    for depth in DEPTHS_MM {
        let weight = level.map_or(0.0, |_| (noise_d / 0.01).powi(2));
        let (mut s11, mut s12, mut s22, mut t1, mut t2) = (weight, 0.0, 0.0, 0.0, 0.0);
        t1 += weight * level.unwrap_or(0.0);
        for (x, y) in &points {
            let e = (-x / depth).exp();
            s11 += 1.0;
            s12 += e;
            s22 += e * e;
            t1 += y;
            t2 += e * y;
        }
        let det = s11 * s22 - s12 * s12;
        if det <= 1e-12 {
            continue;
        }
        let a = (t1 * s22 - t2 * s12) / det;
        let f = (t2 * s11 - t1 * s12) / det;
        let mut cost = weight * level.map_or(0.0, |l| (a - l).powi(2));
        for (x, y) in &points {
            cost += (y - a - f * (-x / depth).exp()).powi(2);
        }
        cost /= noise_d * noise_d;
        cost += ((depth / 3.0).ln() / std::f64::consts::LN_2).powi(2);
        if f > 0.0 && best.is_none_or(|(least, _)| cost < least) {
            best = Some((cost, (a, f, depth)));
        }
    }
    best.map(|(_, fit)| fit)
}

/// A small fixed-seed generator for the bootstrap (xorshift64*, Marsaglia 2003 and Vigna 2016).
struct Draw(u64);

impl Draw {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33) as usize % n.max(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clean_exponential_is_read_back() {
        let x: Vec<f64> = (2..40).map(|k| k as f64 * 0.25).collect();
        let y: Vec<Option<f64>> = x
            .iter()
            .map(|x| Some(0.03 + 0.3 * (-x / 3.8).exp()))
            .collect();
        let (a, f, depth) = exponential(&x, &y, None).unwrap();
        assert!((a - 0.03).abs() < 0.01 && (f - 0.3).abs() < 0.01 && (depth - 3.8).abs() < 0.1);
    }
}
