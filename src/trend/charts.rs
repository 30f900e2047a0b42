//! Individuals and moving range, exponentially weighted moving average, tabular cumulative sum.
//!
//! Source of all three: NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.3.2.2 to 6.3.2.4.

/// Mean range of two normal values over their standard deviation (d2 for n = 2), as printed in the tables
/// of the handbook; the exact value is 2 / sqrt(pi) = 1.12838.
const RANGE_TO_SIGMA: f64 = 1.128;

/// Upper limit of a moving range over its mean (D4 for n = 2), as printed in the tables.
const RANGE_LIMIT: f64 = 3.267;

/// Limits of an individuals chart, in the unit of the values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Individuals {
    /// Mean of the values.
    pub centre: f64,
    /// Mean of the absolute differences of neighbours.
    pub mean_range: f64,
    /// Standard deviation estimated from that mean range; a slow drift hardly widens it.
    pub sigma: f64,
    /// Three standard deviations below the centre.
    pub low: f64,
    /// Three standard deviations above the centre.
    pub high: f64,
    /// Upper limit of a single moving range.
    pub range_high: f64,
}

/// Limits of an individuals and moving range chart. `None` with fewer than two values.
///
/// ```
/// let chart = oystermark::trend::individuals(&[49.6, 47.6, 49.9]).unwrap();
/// assert!((chart.mean_range - 2.15).abs() < 1e-12);
/// ```
pub fn individuals(values: &[f64]) -> Option<Individuals> {
    if values.len() < 2 {
        return None;
    }
    let centre = values.iter().sum::<f64>() / values.len() as f64;
    let ranges = values.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    let mean_range = ranges.sum::<f64>() / (values.len() - 1) as f64;
    let sigma = mean_range / RANGE_TO_SIGMA;
    Some(Individuals {
        centre,
        mean_range,
        sigma,
        low: centre - 3.0 * sigma,
        high: centre + 3.0 * sigma,
        range_high: RANGE_LIMIT * mean_range,
    })
}

/// Exponentially weighted moving average: each step takes the share `weight` (0 to 1) of the new value and
/// keeps the rest of the average, which starts at `start`.
pub fn ewma(values: &[f64], weight: f64, start: f64) -> Vec<f64> {
    values
        .iter()
        .scan(start, |average, value| {
            *average += weight * (value - *average);
            Some(*average)
        })
        .collect()
}

/// Limits of that average around `target`, `width` of its own standard deviations away: after `steps` values,
/// or after very many when `None`.
pub fn ewma_limits(
    target: f64,
    sigma: f64,
    weight: f64,
    width: f64,
    steps: Option<usize>,
) -> [f64; 2] {
    let settled = weight / (2.0 - weight);
    let share = match steps {
        // Powers beyond that are zero to working precision.
        Some(steps) => 1.0 - (1.0 - weight).powi(2 * steps.min(100_000) as i32),
        None => 1.0,
    };
    let half = width * sigma * (settled * share).sqrt();
    [target - half, target + half]
}

/// Tabular cumulative sums, one value after each value charted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cusum {
    /// What has piled up above the target; never below zero.
    pub high: Vec<f64>,
    /// What has piled up below the target, counted positive.
    pub low: Vec<f64>,
}

/// Tabular cumulative sums of what lies more than `slack` away from `target`, in the unit of the values.
pub fn cusum(values: &[f64], target: f64, slack: f64) -> Cusum {
    let mut sums = Cusum::default();
    let (mut high, mut low) = (0.0f64, 0.0f64);
    for value in values {
        high = (high + value - target - slack).max(0.0);
        low = (low + target - slack - value).max(0.0);
        sums.high.push(high);
        sums.low.push(low);
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn too_few_values_have_no_limits() {
        assert_eq!(individuals(&[]), None);
        assert_eq!(individuals(&[1.0]), None);
        let flat = individuals(&[2.0, 2.0]).unwrap();
        assert_eq!((flat.low, flat.high), (2.0, 2.0));
    }

    #[test]
    fn limits_widen_toward_the_settled_ones() {
        let [_, first] = ewma_limits(10.0, 1.0, 0.1, 2.7, Some(1));
        let [_, late] = ewma_limits(10.0, 1.0, 0.1, 2.7, Some(1_000));
        let [_, settled] = ewma_limits(10.0, 1.0, 0.1, 2.7, None);
        assert!((first - 10.27).abs() < 1e-12, "{first}");
        assert!((late - settled).abs() < 1e-12);
    }
}
