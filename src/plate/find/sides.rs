//! Places each side of a rectangle on the working grid by a robust line through its edge points.

use rayon::prelude::*;

use super::FAINT_SIDE;
use super::outside::move_out;
use super::surround::DARK_SURROUND;
use super::{Outline, density};
use crate::doubts::Doubt;
use crate::raster::Grid;
use crate::raster::geometry::{BetweenCells, Point, distance, meet};
use crate::raster::stats::{median, robust_line};

/// How one side of the rectangle looks across.
pub(super) struct Side {
    from: Point,
    to: Point,
    /// Unit vector out of the plate.
    out: Point,
    /// Strength of the step at each profile and offset, in multiples of its noise, capped.
    strength: Vec<Vec<f64>>,
    /// The greatest strength within two samples.
    near: Vec<Vec<f64>>,
    /// Offset of the first entry of a strength row, cells (negative is inside).
    first_offset: f64,
}

/// Profiles across a side.
pub(super) const PROFILES: usize = 96;
/// Cells between two samples of a profile.
pub(super) const STEP: f64 = 0.5;
/// Strength at which a step counts as certain; more does not count more, so that one scratch or the
/// edge of a bright shape cannot outvote the rest of the side.
const STRENGTH_CAP: f64 = 8.0;

impl Side {
    /// The steps in profiles across the side (see [`profiles`]), leaving out the first `skip` samples.
    pub(super) fn of(profiles: &Profiles, skip: usize) -> Self {
        let steps: Vec<Vec<f64>> = profiles
            .densities
            .iter()
            .map(|profile| step_across(profile.get(skip..).unwrap_or(&[])))
            .collect();
        let mut all: Vec<f64> = steps.iter().flatten().map(|g| g.abs()).collect();
        let noise = (median(&mut all).unwrap_or(0.0) * 1.4826).max(0.004);
        let strength = steps
            .into_iter()
            .map(|row| {
                row.into_iter()
                    .map(|g| (g.abs() / noise).min(STRENGTH_CAP))
                    .collect()
            })
            .collect::<Vec<Vec<f64>>>();
        let near = strength.iter().map(|row| strongest_near(row)).collect();
        Side {
            from: profiles.from,
            to: profiles.to,
            out: profiles.out,
            strength,
            near,
            first_offset: profiles.first + skip as f64 * STEP,
        }
    }

    /// Mean strength along the line that leaves the side by `u0` at its start and `u1` at its end.
    fn score(&self, u0: f64, u1: f64) -> f64 {
        let mut sum = 0.0;
        for (k, row) in self.near.iter().enumerate() {
            let u = u0 + share_along(k) * (u1 - u0);
            // Rounded by hand: this is looked up millions of times.
            let at = (u - self.first_offset) / STEP + 0.5;
            let near = if at > 0.0 { row.get(at as usize) } else { None };
            sum += near.unwrap_or(&0.0);
        }
        sum / PROFILES as f64
    }

    /// The outermost line that is nearly as well marked as the best one: two points on it and how
    /// well it is marked (0 to [`STRENGTH_CAP`]).
    pub(super) fn place(&self, slant: f64) -> ([Point; 2], f64) {
        let samples = self.strength.first().map_or(0, Vec::len);
        // A step is seen from two samples on either side, so every fourth sample misses none.
        let offsets: Vec<f64> = (0..samples)
            .step_by(4)
            .map(|s| s as f64 * STEP + self.first_offset)
            .collect();
        let mut lines: Vec<(f64, f64, f64)> = Vec::new();
        for &u0 in &offsets {
            for &u1 in &offsets {
                if (u1 - u0).abs() <= slant {
                    lines.push((self.score(u0, u1), u0, u1));
                }
            }
        }
        let best = lines.iter().map(|l| l.0).fold(0.0, f64::max);
        let (score, u0, u1) = lines
            .iter()
            .filter(|l| l.0 >= 0.7 * best)
            .max_by(|a, b| (a.1 + a.2).total_cmp(&(b.1 + b.2)))
            .copied()
            .unwrap_or((0.0, 0.0, 0.0));
        // From the outermost good line, climb to the nearest peak.
        let (mut score, mut u0, mut u1) = (score, u0, u1);
        loop {
            let better = [
                (-0.5, 0.0),
                (0.5, 0.0),
                (0.0, -0.5),
                (0.0, 0.5),
                (-0.5, -0.5),
                (0.5, 0.5),
            ]
            .into_iter()
            .map(|(a, b)| (self.score(u0 + a, u1 + b), u0 + a, u1 + b))
            .max_by(|a, b| a.0.total_cmp(&b.0));
            match better {
                Some(next) if next.0 > score + 1e-9 => (score, u0, u1) = next,
                _ => break,
            }
        }
        let points: Vec<(f64, f64)> = self
            .strength
            .iter()
            .enumerate()
            .filter_map(|(k, row)| {
                let t = share_along(k);
                let u = u0 + t * (u1 - u0);
                centroid(row, (u - self.first_offset) / STEP, 5)
                    .map(|s| (t, s * STEP + self.first_offset))
            })
            .collect();
        let (a, b) = match robust_line(&points) {
            Some((a, b, _)) if points.len() >= PROFILES / 4 => (a, b),
            _ => (u0, u1 - u0),
        };
        let point = |t: f64| {
            let u = a + b * t;
            [0, 1].map(|k| self.from[k] + t * (self.to[k] - self.from[k]) + u * self.out[k])
        };
        ([point(0.0), point(1.0)], score)
    }
}

/// Profiles keep away from the corners, which are often nicked or rounded.
pub(super) fn share_along(k: usize) -> f64 {
    0.05 + 0.9 * (k as f64 + 0.5) / PROFILES as f64
}

/// Densities along profiles across a line.
pub(super) struct Profiles {
    pub(super) from: Point,
    pub(super) to: Point,
    /// Unit vector across the line.
    pub(super) out: Point,
    /// Offset of the first sample, cells along `out`.
    pub(super) first: f64,
    /// [`PROFILES`] rows of samples [`STEP`] cells apart.
    pub(super) densities: Vec<Vec<f64>>,
}

/// Profiles from `first` to `last` cells out of the line, each a mean over `2 * half_width + 1` cells
/// along it.
pub(super) fn profiles(
    light: &Grid<f32>,
    [from, to]: [Point; 2],
    out: Point,
    [first, last]: [f64; 2],
    half_width: i32,
) -> Profiles {
    let along = [to[0] - from[0], to[1] - from[1]];
    let length = along[0].hypot(along[1]).max(1.0);
    let unit = [along[0] / length, along[1] / length];
    let samples = ((last - first) / STEP).max(0.0) as usize + 1;
    let light = BetweenCells::of(light);
    let densities = (0..PROFILES)
        .into_par_iter()
        .map(|k| {
            let t = share_along(k);
            let base = [from[0] + t * along[0], from[1] + t * along[1]];
            (0..samples)
                .map(|s| {
                    let u = s as f64 * STEP + first;
                    let mean = (-half_width..=half_width)
                        .map(|v| {
                            let x = base[0] + u * out[0] + f64::from(v) * unit[0];
                            let y = base[1] + u * out[1] + f64::from(v) * unit[1];
                            light.at(x, y)
                        })
                        .sum::<f32>()
                        / (2 * half_width + 1) as f32;
                    density(mean)
                })
                .collect()
        })
        .collect();
    Profiles {
        from,
        to,
        out,
        first,
        densities,
    }
}

/// The greatest value within two samples of each.
fn strongest_near(row: &[f64]) -> Vec<f64> {
    (0..row.len())
        .map(|s| {
            row[s.saturating_sub(2)..(s + 3).min(row.len())]
                .iter()
                .fold(0.0f64, |m, v| m.max(*v))
        })
        .collect()
}

/// Step at each sample: mean over two cells beyond minus mean over two cells before.
fn step_across(profile: &[f64]) -> Vec<f64> {
    let reach = (2.0 / STEP) as usize;
    (0..profile.len())
        .map(|s| {
            if s < reach || s + reach >= profile.len() {
                return 0.0;
            }
            let before: f64 = profile[s - reach..s].iter().sum();
            let beyond: f64 = profile[s + 1..=s + reach].iter().sum();
            (beyond - before) / reach as f64
        })
        .collect()
}

/// Strength-weighted centre near a sample; `None` where nothing stands out.
fn centroid(row: &[f64], at: f64, reach: i64) -> Option<f64> {
    let middle = at.round() as i64;
    let (mut weight, mut sum) = (0.0, 0.0);
    for s in middle - reach..=middle + reach {
        let Some(v) = usize::try_from(s).ok().and_then(|s| row.get(s)) else {
            continue;
        };
        // What is within the noise carries no weight.
        let w = (v - 3.0).max(0.0);
        weight += w;
        sum += w * s as f64;
    }
    (weight > 0.0).then(|| sum / weight)
}

/// Unit vector out of the quadrilateral across its side `k`.
pub(super) fn outward(corners: &[Point; 4], k: usize) -> Point {
    let (from, to) = (corners[k], corners[(k + 1) % 4]);
    let along = [to[0] - from[0], to[1] - from[1]];
    let length = along[0].hypot(along[1]).max(1.0);
    let out = [along[1] / length, -along[0] / length];
    let inside = [0, 1].map(|k| corners.iter().map(|c| c[k]).sum::<f64>() / 4.0);
    let away = [
        (from[0] + to[0]) / 2.0 - inside[0],
        (from[1] + to[1]) / 2.0 - inside[1],
    ];
    if out[0] * away[0] + out[1] * away[1] < 0.0 {
        [-out[0], -out[1]]
    } else {
        out
    }
}

/// Corners where neighbouring sides meet; a corner stays where it was when they do not.
pub(super) fn meet_all(lines: &[[Point; 2]; 4], corners: [Point; 4]) -> [Point; 4] {
    std::array::from_fn(|k| {
        let before = lines[(k + 3) % 4];
        meet(before[0], before[1], lines[k][0], lines[k][1]).unwrap_or(corners[k])
    })
}

/// How far a side is looked for from where the coarse picture has it, share of the short side.
const COARSE_REACH_SHARE: f64 = 0.045;
/// The same where a shadow lies beside the plate: as broad as the plate stands off the glass and the
/// lid lets light in, some 6 mm beside a plate of 70.
const SHADOW_REACH_SHARE: f64 = 0.09;

/// Corners, lines through the sides and the strength of the weakest side, each side looked for within
/// a share of the short side: first wide, since shadows and lips blur the coarse outline, then close.
fn placed_within(
    light: &Grid<f32>,
    coarse: [Point; 4],
    reach_share: f64,
) -> ([Point; 4], [[Point; 2]; 4], f64) {
    let mut corners = coarse;
    let mut weakest = STRENGTH_CAP;
    let mut lines = [[[0.0; 2]; 2]; 4];
    let short = distance(coarse[0], coarse[1]).min(distance(coarse[1], coarse[2]));
    let widest = (reach_share * short).clamp(8.0, 120.0 * reach_share / COARSE_REACH_SHARE);
    for reach in [widest, (0.006 * short).clamp(4.0, 12.0)] {
        weakest = STRENGTH_CAP;
        let placed: Vec<([Point; 2], f64)> = (0..4)
            .into_par_iter()
            .map(|k| {
                let ends = [corners[k], corners[(k + 1) % 4]];
                let across = profiles(light, ends, outward(&corners, k), [-reach, reach], 2);
                Side::of(&across, 0).place((0.5 * reach).max(6.0))
            })
            .collect();
        for (line, (ends, score)) in lines.iter_mut().zip(placed) {
            *line = ends;
            weakest = weakest.min(score);
        }
        corners = meet_all(&lines, corners);
    }
    (corners, lines, weakest)
}

/// Places the four sides of a coarse rectangle on the working grid.
pub(super) fn place_sides(
    light: &Grid<f32>,
    coarse: [Point; 4],
    surround_light: f64,
    misfit: &dyn Fn(f64, f64) -> Option<f64>,
) -> Outline {
    let (mut corners, mut lines, mut weakest) = placed_within(light, coarse, COARSE_REACH_SHARE);
    // A broad soft shadow on a light lid passes for a part of the plate in the coarse picture.
    if weakest < FAINT_SIDE && surround_light >= DARK_SURROUND {
        let further = placed_within(light, coarse, SHADOW_REACH_SHARE);
        if further.2 > weakest {
            (corners, lines, weakest) = further;
        }
    }
    // On a light surround every part of a plate's edge stands out, and a shadow beside it could be
    // taken for an edge.
    if surround_light < DARK_SURROUND {
        corners = move_out(light, corners, &lines, misfit);
    }
    let mut doubts = Vec::new();
    // A side marked less than three times its noise on average: our own choice.
    if weakest < 3.0 {
        doubts.push(Doubt::OutlineUncertain);
    }
    Outline {
        corners,
        found: true,
        surround_light: Some(surround_light),
        weakest,
        doubts,
    }
}
