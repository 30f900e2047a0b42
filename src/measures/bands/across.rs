//! Silver across the bands of a family, for the eye.

use super::tilted::Tilted;
use crate::raster::stats::median;

/// Silver across a family's bands less what lies around it: what a chart of them shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Across {
    /// Where the line of the first value crosses the plate's middle, from the left edge for upright
    /// bands and from the top for level ones, millimetres.
    pub first_mm: f64,
    /// From value to value, millimetres.
    pub step_mm: f64,
    /// Median along each line of silver less its surroundings, density; `None` where too little of the
    /// line is known.
    pub silver_d: Vec<Option<f64>>,
}

/// Surroundings reach so far to either side, millimetres: wide beside a band and the gap between waves,
/// narrow beside a slope of the coating or of the scene's light. Our own choice; it changes the chart alone.
const SURROUNDINGS_MM: f64 = 6.0;
/// Most values that are kept: a chart is no wider.
const MOST_VALUES: usize = 400;
/// Least share of a line's stretches that must be known.
const KNOWN_SHARE: f64 = 0.5;

impl Across {
    /// From means over stretches of lines along the bands; cells are `pitch_mm` wide.
    pub(super) fn of(silver: &Tilted, pitch_mm: f64) -> Across {
        let (stretches, lines) = silver.means.dim();
        let reach = (SURROUNDINGS_MM / pitch_mm).round() as usize;
        // Each stretch from its own surroundings: a scene is lighter here and darker there.
        let away: Vec<Vec<f64>> = silver
            .means
            .rows()
            .into_iter()
            .map(|stretch| {
                let own: Vec<f64> = stretch.iter().map(|mean| f64::from(*mean)).collect();
                let around = running_mean(&running_mean(&own, reach), reach);
                own.iter().zip(around).map(|(own, a)| own - a).collect()
            })
            .collect();
        let along: Vec<Option<f64>> = (0..lines)
            .map(|line| {
                let stretches_of = away.iter().map(|stretch| stretch[line]);
                let mut known: Vec<f64> = stretches_of.filter(|mean| mean.is_finite()).collect();
                match known.len() as f64 >= KNOWN_SHARE * stretches as f64 {
                    true => median(&mut known),
                    false => None,
                }
            })
            .collect();
        let known = |line: &Option<f64>| line.is_some();
        let first = along.iter().position(known).unwrap_or(0);
        let last = along.iter().rposition(known).map_or(first, |last| last + 1);
        let each = (last - first).div_ceil(MOST_VALUES).max(1);
        Across {
            first_mm: (first as f64 - silver.pad as f64 + 0.5 * each as f64) * pitch_mm,
            step_mm: each as f64 * pitch_mm,
            silver_d: along[first..last].chunks(each).map(mean_known).collect(),
        }
    }
}

fn mean_known(values: &[Option<f64>]) -> Option<f64> {
    let known = values.iter().flatten();
    let count = known.clone().count();
    (count > 0).then(|| known.sum::<f64>() / count as f64)
}

/// Mean of the known values within `reach` on either side; unknown ones stay unknown.
fn running_mean(values: &[f64], reach: usize) -> Vec<f64> {
    let mut sums = vec![(0.0, 0.0)];
    for value in values {
        let (sum, count) = sums[sums.len() - 1];
        sums.push(match value.is_finite() {
            true => (sum + value, count + 1.0),
            false => (sum, count),
        });
    }
    (0..values.len())
        .map(|k| {
            let (from, to) = (k.saturating_sub(reach), (k + reach + 1).min(values.len()));
            let (sum, count) = (sums[to].0 - sums[from].0, sums[to].1 - sums[from].1);
            match values[k].is_finite() {
                true => sum / count,
                false => f64::NAN,
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::raster::Grid;

    fn tilted(lines: usize, silver: impl Fn(usize, usize) -> f32) -> Tilted {
        Tilted {
            means: Grid::from_shape_fn((10, lines), |(stretch, line)| silver(stretch, line)),
            pad: 5,
        }
    }

    #[test]
    fn a_band_stands_on_a_level_ground_whatever_the_scene_does() {
        let means = tilted(300, |stretch, line| {
            let band = if (148..152).contains(&line) { 0.1 } else { 0.0 };
            let slope = 0.002 * line as f32;
            let thing = if stretch < 4 && (80..90).contains(&line) {
                0.5
            } else {
                0.0
            };
            match line {
                0..5 => f32::NAN,
                _ => 0.4 + slope + band + thing,
            }
        });
        let across = Across::of(&means, 0.2);
        assert_eq!(across.silver_d.len(), 295);
        // The first known line is the plate's first column.
        assert!((across.first_mm - 0.1).abs() < 1e-9, "{}", across.first_mm);
        let at = |line: usize| across.silver_d[line - 5].unwrap();
        assert!((at(150) - 0.1).abs() < 0.02, "{}", at(150));
        assert!(at(120).abs() < 0.02 && at(85).abs() < 0.05);
    }

    #[test]
    fn many_lines_are_thinned() {
        let across = Across::of(&tilted(1801, |_, line| (line % 2) as f32), 0.2);
        assert!(across.silver_d.len() <= MOST_VALUES);
        assert!((across.step_mm - 1.0).abs() < 1e-9);
        assert!((across.first_mm - (-1.0 + 0.5)).abs() < 1e-9);
    }
}
