//! Lines too faint to be seen in one profile: the step across them, with its sign, averaged along
//! their whole length.

use super::sides::{PROFILES, Profiles, STEP, share_along};
use crate::raster::geometry::Point;
use crate::raster::stats::{MAD_TO_SIGMA, median};

/// Samples on either side of a step that it is averaged over: three cells.
const REACH: usize = 6;

/// Steps count up to so many times the scatter of single profiles, so that a fibre or the edge of
/// a bright shape cannot make a line by itself.
const CAP_SIGMA: f64 = 2.5;

/// Height of the valley between two lines, as a share of the lower one. Our own choice.
const VALLEY_SHARE: f64 = 0.6;

/// Steps across a line at many places along it.
pub(super) struct FaintSide {
    from: Point,
    to: Point,
    out: Point,
    first: f64,
    /// Capped step, outer minus inner density, at each profile and offset.
    steps: Vec<Vec<f64>>,
}

/// A line and how far it stands out.
pub(super) struct FaintLine {
    /// Where it passes the ends of the side.
    pub(super) ends: [Point; 2],
    /// Mean step along it, in multiples of what lines of no meaning give.
    pub(super) strength: f64,
    /// Offset from the side in its middle, cells outward.
    pub(super) offset: f64,
}

impl FaintSide {
    /// The steps in profiles across a side.
    pub(super) fn of(profiles: &Profiles) -> Self {
        let mut steps: Vec<Vec<f64>> = profiles
            .densities
            .iter()
            .map(|profile| steps_across(profile))
            .collect();
        let mut sizes: Vec<f64> = steps.iter().flatten().map(|step| step.abs()).collect();
        let cap = CAP_SIGMA * MAD_TO_SIGMA * median(&mut sizes).unwrap_or(0.0);
        for step in steps.iter_mut().flatten() {
            *step = step.clamp(-cap, cap);
        }
        FaintSide {
            from: profiles.from,
            to: profiles.to,
            out: profiles.out,
            first: profiles.first,
            steps,
        }
    }

    /// Size of the mean step along a line.
    fn mean_step(&self, s0: f64, s1: f64) -> f64 {
        let step = |(k, row): (usize, &Vec<f64>)| {
            let at = s0 + share_along(k) * (s1 - s0);
            row.get(at.round().max(0.0) as usize)
                .copied()
                .unwrap_or(0.0)
        };
        let sum: f64 = self.steps.iter().enumerate().map(step).sum();
        sum.abs() / PROFILES as f64
    }

    /// Lines that stand out from their neighbours, at most `slant` cells farther out at one end than
    /// at the other; strongest first.
    pub(super) fn lines(&self, slant: f64) -> Vec<FaintLine> {
        let samples = self.steps.first().map_or(0, Vec::len);
        // What lies within reach of an end has no step.
        if samples <= 2 * REACH + 4 {
            return Vec::new();
        }
        let last = samples - 1;
        let most = ((slant / STEP) as i64).min(last as i64);
        // For each offset of the middle and each tilt; both in samples.
        let mut best: Vec<(f64, i64)> = vec![(0.0, 0); samples];
        let mut all = Vec::new();
        for (middle, best) in best
            .iter_mut()
            .enumerate()
            .take(last - REACH + 1)
            .skip(REACH)
        {
            for tilt in (-most..=most).step_by(4) {
                let [s0, s1] = [-0.5, 0.5].map(|t| middle as f64 + t * tilt as f64);
                if s0.min(s1) < REACH as f64 || s0.max(s1) > (last - REACH) as f64 {
                    continue;
                }
                let step = self.mean_step(s0, s1);
                all.push(step);
                if step > best.0 {
                    *best = (step, tilt);
                }
            }
        }
        let usual = MAD_TO_SIGMA * median(&mut all).unwrap_or(0.0);
        if usual <= 0.0 {
            return Vec::new();
        }
        let mut lines: Vec<FaintLine> = (REACH..=last - REACH)
            .filter(|&s| {
                // A peak over the width of the step itself.
                let near = s.saturating_sub(REACH)..=(s + REACH).min(last);
                let peak = near
                    .into_iter()
                    .all(|n| best[n].0 < best[s].0 || (n <= s && best[n].0 == best[s].0));
                // The flank of a stronger step, such as a shadow that fades on the lid, is no line
                // of its own: between two lines there is a valley.
                let stronger = (REACH..s).rev().find(|&n| best[n].0 > best[s].0);
                let apart = stronger.is_none_or(|n| {
                    let valley = best[n..s].iter().map(|b| b.0).fold(f64::INFINITY, f64::min);
                    valley < VALLEY_SHARE * best[s].0
                });
                peak && apart
            })
            .map(|s| {
                // Capped steps make a broad top, whose middle is the line.
                let top = (REACH..=s)
                    .rev()
                    .take_while(|&n| best[n].0 >= 0.97 * best[s].0);
                let low = top.last().unwrap_or(s);
                let middle = (low + s) / 2;
                self.line(middle as f64, best[middle].1 as f64, best[s].0 / usual)
            })
            .collect();
        lines.sort_by(|a, b| b.strength.total_cmp(&a.strength));
        lines
    }

    fn line(&self, middle: f64, tilt: f64, strength: f64) -> FaintLine {
        let end = |t: f64| {
            let u = (middle + (t - 0.5) * tilt) * STEP + self.first;
            [0, 1].map(|k| self.from[k] + t * (self.to[k] - self.from[k]) + u * self.out[k])
        };
        FaintLine {
            ends: [end(0.0), end(1.0)],
            strength,
            offset: middle * STEP + self.first,
        }
    }
}

/// Mean of the samples beyond minus mean of those before, at each sample.
fn steps_across(profile: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0];
    for value in profile {
        sums.push(sums[sums.len() - 1] + value);
    }
    (0..profile.len())
        .map(|s| {
            if s < REACH || s + REACH >= profile.len() {
                return 0.0;
            }
            let before = sums[s] - sums[s - REACH];
            let beyond = sums[s + 1 + REACH] - sums[s + 1];
            (beyond - before) / REACH as f64
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plate::find::sides::profiles;
    use crate::raster::Grid;

    /// Noise of 4 % of the light from a fixed seed, times what `tone` says of the row.
    fn rows(tone: impl Fn(f64) -> f64) -> Grid<f32> {
        let mut state = 7u32;
        Grid::from_shape_fn((80, 260), |(i, j)| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = f64::from(state >> 8) / f64::from(1u32 << 24) - 0.5;
            // One cell lower at the right end.
            let y = i as f64 - j as f64 / 260.0;
            (0.02 * tone(y) * (1.0 + 0.14 * noise)) as f32
        })
    }

    fn lines(light: &Grid<f32>) -> Vec<FaintLine> {
        let side = [[0.0, 70.0], [260.0, 70.0]];
        FaintSide::of(&profiles(light, side, [0.0, -1.0], [-6.0, 60.0], 9)).lines(4.0)
    }

    #[test]
    fn a_step_that_no_profile_shows_is_found_along_its_length() {
        // 2 % are 0.009 in density; one profile of 19 cells scatters by some 0.004.
        let light = rows(|y| if y < 40.0 { 1.0 } else { 1.02 });
        let found = lines(&light);
        assert!(found[0].strength > 4.5, "{}", found[0].strength);
        assert!((found[0].offset - 29.5).abs() < 2.0, "{}", found[0].offset);
        assert!(found[1..].iter().all(|line| line.strength < 4.2));
    }

    #[test]
    fn noise_alone_has_no_strong_line() {
        let found = lines(&rows(|_| 1.0));
        assert!(found.iter().all(|line| line.strength < 4.2));
    }

    #[test]
    fn a_fading_shadow_is_no_line_beside_the_edge_that_casts_it() {
        let light = rows(|y| match 60.0 - y {
            outside if outside < 0.0 => 1.5,
            outside => 1.0 - 0.3 * (-outside / 6.0).exp(),
        });
        let beside = lines(&light)
            .into_iter()
            .filter(|line| line.offset > 14.0)
            .map(|line| line.strength)
            .fold(0.0, f64::max);
        assert!(beside < 4.2, "{beside}");
    }
}
