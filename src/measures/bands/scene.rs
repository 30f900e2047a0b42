//! How bands hold over a scene, and what tells them from a scene's own lines.
//!
//! A streak runs on under everything, so stretches far apart agree line by line; a scene's parts add up to
//! nothing between the top and the bottom of a plate, unless they are posts, blinds or boards: those are
//! few, or evenly spaced, or step from one side to the other.

use ndarray::ArrayView2;

use super::InBorder;
use super::tilted::Tilted;
use crate::raster::stats::{MAD_TO_SIGMA, median};

/// What tells a family of bands from the lines of a scene.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OverScene {
    /// Agreement of stretches that lie far apart, -1 to 1, at the best run.
    pub far: f64,
    /// The same at the middle one of the runs well beside it.
    pub far_usual: f64,
    /// Scatter of the same between those runs (standard deviation, from the median distance).
    pub far_scatter: f64,
    /// The same for steps of silver from one side to the other, at the best run.
    pub steps_far: f64,
    /// Peakedness of the lines' means (fourth moment over the square of the second): low for many bands
    /// alike, high for a few strong ones.
    pub peakedness: f64,
    /// Variance between lines over that within them.
    pub explained: f64,
    /// Lines with a contrast that can be seen whose sides are level with each other.
    pub level_sided: usize,
    /// Lines whose sides differ more than the line stands out.
    pub stepped: usize,
    /// Lines with a contrast that can be seen, sides nearly level, that hold nearly all along.
    pub holding: usize,
    /// What the border says of them; `None` without one.
    pub in_border: Option<InBorder>,
}

/// Share of the stretches that lie between two that are far apart.
const FAR_SHARE: f64 = 0.45;
/// Most that a stretch counts, its own standard deviations.
const MOST: f32 = 2.5;
/// Lines that two stretches must share.
const FEWEST_LINES: usize = 30;

/// Agreement of stretches far apart: mean over pairs of their correlation without means.
pub(super) fn far_agreement(stretches: ArrayView2<f32>) -> Option<f64> {
    let count = stretches.nrows();
    let least = ((FAR_SHARE * count as f64).ceil() as usize).max(2);
    let (mut sum, mut pairs) = (0.0, 0);
    for upper in 0..count {
        for lower in upper + least..count {
            let (mut both, mut own, mut other, mut lines) = (0.0f64, 0.0f64, 0.0f64, 0);
            let (a, b) = (stretches.row(upper), stretches.row(lower));
            for (a, b) in a
                .iter()
                .zip(b)
                .filter(|(a, b)| a.is_finite() && b.is_finite())
            {
                let (a, b) = (
                    f64::from(a.clamp(-MOST, MOST)),
                    f64::from(b.clamp(-MOST, MOST)),
                );
                both += a * b;
                own += a * a;
                other += b * b;
                lines += 1;
            }
            if lines > FEWEST_LINES && own * other > 0.0 {
                sum += both / (own * other).sqrt();
                pairs += 1;
            }
        }
    }
    (pairs > 0).then(|| sum / f64::from(pairs))
}

/// The stretches' means over the scatter of their neighbours, in place.
pub(super) fn over_scatter(tilted: &mut Tilted) {
    for mut stretch in tilted.means.rows_mut() {
        let mut sorted: Vec<f64> = stretch
            .iter()
            .filter(|mean| mean.is_finite())
            .map(|mean| f64::from(*mean))
            .collect();
        let centre = median(&mut sorted).unwrap_or(0.0);
        let mut away: Vec<f64> = sorted.iter().map(|mean| (mean - centre).abs()).collect();
        let sigma = (median(&mut away).unwrap_or(0.0) * MAD_TO_SIGMA).max(1e-3) as f32;
        stretch.mapv_inplace(|mean| mean / sigma);
    }
}

impl OverScene {
    /// What the stretches of the best run say by themselves; `known` are the lines that are long enough.
    pub(super) fn of(stretches: ArrayView2<f32>, known: &[usize]) -> OverScene {
        let mut scene = OverScene {
            far: far_agreement(stretches).unwrap_or(0.0),
            ..OverScene::default()
        };
        if known.is_empty() {
            return scene;
        }
        let (mut means, mut within) = (Vec::new(), 0.0);
        for line in known {
            let values = stretches.column(*line);
            let values = values.iter().filter(|mean| mean.is_finite());
            let values: Vec<f64> = values
                .map(|mean| f64::from(mean.clamp(-MOST, MOST)))
                .collect();
            let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
            within += values
                .iter()
                .map(|value| (value - mean) * (value - mean))
                .sum::<f64>()
                / values.len().max(1) as f64;
            means.push(mean);
        }
        let count = means.len() as f64;
        let centre = means.iter().sum::<f64>() / count;
        let moment = |power: i32| {
            means
                .iter()
                .map(|mean| (mean - centre).powi(power))
                .sum::<f64>()
                / count
        };
        let variance = moment(2);
        scene.peakedness = moment(4) / (variance * variance).max(1e-12);
        scene.explained = variance / (within / count).max(1e-9);
        scene
    }

    /// Sets what other runs say: agreement far apart of those well beside the best one.
    pub(super) fn set_usual(&mut self, mut others: Vec<f64>) {
        if let Some(usual) = median(&mut others) {
            let mut away: Vec<f64> = others.iter().map(|far| (far - usual).abs()).collect();
            self.far_usual = usual;
            self.far_scatter = median(&mut away).unwrap_or(0.0) * MAD_TO_SIGMA;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Grid;

    /// Twelve stretches of two hundred lines of noise (the place, well mixed: splitmix64's steps), with
    /// what each line has in each stretch.
    fn stretches(own: impl Fn(usize, usize) -> f32) -> Grid<f32> {
        Grid::from_shape_fn((12, 200), |(s, line)| {
            let mut hash = (s * 200 + line) as u64;
            hash = hash.wrapping_add(0x9e37_79b9_7f4a_7c15);
            hash = (hash ^ (hash >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            hash = (hash ^ (hash >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            hash ^= hash >> 31;
            own(s, line) + (hash % 1000) as f32 / 250.0 - 2.0
        })
    }

    #[test]
    fn what_runs_on_agrees_far_apart_and_what_stops_does_not() {
        let streak = |line: usize| if line % 7 == 3 { 2.0 } else { 0.0 };
        let streaks = stretches(|_, line| streak(line));
        let posts = stretches(|s, line| if s < 5 { streak(line) } else { 0.0 });
        let nothing = stretches(|_, _| 0.0);
        let far = |grid: &Grid<f32>| far_agreement(grid.view()).unwrap();
        assert!(far(&streaks) > 0.2, "{}", far(&streaks));
        assert!(far(&posts).abs() < 0.08 && far(&nothing).abs() < 0.05);
    }

    #[test]
    fn one_strong_line_is_more_peaked_than_many() {
        let known: Vec<usize> = (0..200).collect();
        let many = stretches(|_, line| if line % 5 == 0 { 2.0 } else { 0.0 });
        let one = stretches(|_, line| if line == 90 { 20.0 } else { 0.0 });
        let of = |grid: &Grid<f32>| OverScene::of(grid.view(), &known);
        assert!(of(&one).peakedness > 1.5 * of(&many).peakedness);
        assert!(of(&many).explained > of(&stretches(|_, _| 0.0)).explained);
    }
}
