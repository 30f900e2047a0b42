//! A cumulative sum of sequential ranks: drift told without knowing the level, the scatter or its shape.
//!
//! The rank of a new value among all values so far says whether it is high or low for this series. While
//! nothing but chance orders the values, each such rank is as likely as any other and does not depend on those
//! before, whatever the values' distribution; so the chance that the sum ever passes a height is the same for
//! every series of that length, with nothing to estimate. Idea: Reynolds, Technometrics 17, 1975; as a
//! cumulative sum: McDonald, Naval Research Logistics 37, 1990 (both from memory).

use super::distributions::normal_quantile;

/// For each value, the standard normal number at the middle of its rank among the values up to it; equal values
/// share their ranks. The first is always zero.
pub fn sequential_scores(values: &[f64]) -> Vec<f64> {
    let mut scores = Vec::with_capacity(values.len());
    for (at, value) in values.iter().enumerate() {
        let below = values[..at].iter().filter(|v| *v < value).count() as f64;
        let alike = values[..at].iter().filter(|v| *v == value).count() as f64;
        let share = (below + 0.5 * alike + 0.5) / (at as f64 + 1.0);
        scores.push(normal_quantile(share).unwrap_or(0.0));
    }
    scores
}

/// Upper cumulative sum of the sequential scores, each less `slack`; never below zero. One value after each
/// value of the series.
///
/// ```
/// let sum = oystermark::trend::rank_cusum(&[1.0, 2.0, 3.0, 4.0, 5.0], 0.5);
/// assert!(sum.windows(2).all(|pair| pair[1] >= pair[0]) && sum[4] > 1.0);
/// ```
pub fn rank_cusum(values: &[f64], slack: f64) -> Vec<f64> {
    let mut sum = 0.0f64;
    sequential_scores(values)
        .into_iter()
        .map(|score| {
            sum = (sum + score - slack).max(0.0);
            sum
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scores_do_not_depend_on_the_scale() {
        let values: [f64; 6] = [0.3, 0.1, 0.9, 0.4, 0.2, 0.8];
        let bent = values.map(|v| v.exp() * 100.0);
        assert_eq!(sequential_scores(&values), sequential_scores(&bent));
        assert_eq!(sequential_scores(&[5.0; 4]), [0.0; 4]);
        assert!(sequential_scores(&[]).is_empty());
    }
}
