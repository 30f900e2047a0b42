//! Sen's slope, with the interval that goes with the test of Mann and Kendall.

use crate::raster::stats::median;

use super::Z_95;
use super::mann_kendall::{spread, ties};

/// Sen's slope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sen {
    /// Median of the slopes of all pairs, unit of the values a unit of time.
    pub slope: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end of its 95 % interval.
    pub high: f64,
    /// Value at time zero of the line through both medians.
    pub intercept: f64,
}

/// Sen's slope of values over times, pairs at one time left out (Gilbert 1987, sections 16.4.1 and 16.4.2;
/// ties in both allowed for as Kendall does). `None` where fewer than two times differ.
///
/// With few values the interval is as wide as the data: it ends at the flattest and the steepest pair.
pub fn sen(times: &[f64], values: &[f64]) -> Option<Sen> {
    let n = times.len().min(values.len());
    let (times, values) = (&times[..n], &values[..n]);
    let mut slopes = Vec::with_capacity(n * n.saturating_sub(1) / 2);
    for later in 0..n {
        for earlier in 0..later {
            let passed = times[later] - times[earlier];
            if passed != 0.0 {
                slopes.push((values[later] - values[earlier]) / passed);
            }
        }
    }
    slopes.sort_by(f64::total_cmp);
    let last = slopes.len().checked_sub(1)?;
    let slope = median(&mut slopes.clone())?;
    let tied = |of: &[f64]| ties(of).iter().map(|&t| spread(t)).sum::<f64>();
    let variance = ((spread(n) - tied(times) - tied(values)) / 18.0).max(0.0);
    let half = Z_95 * variance.sqrt();
    let count = slopes.len() as f64;
    let lower = ((count - half) / 2.0).round_ties_even() - 1.0;
    let upper = ((count + half) / 2.0).round_ties_even();
    let at = |place: f64| slopes[(place.max(0.0) as usize).min(last)];
    Some(Sen {
        slope,
        low: at(lower),
        high: at(upper),
        intercept: median(&mut values.to_vec())? - slope * median(&mut times.to_vec())?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_is_found_over_uneven_times() {
        let times = [0.0, 1.0, 1.0, 4.0, 9.0];
        let values = times.map(|t| 3.0 - 0.5 * t);
        let line = sen(&times, &values).unwrap();
        assert!((line.slope + 0.5).abs() < 1e-12 && (line.intercept - 3.0).abs() < 1e-12);
        assert_eq!(sen(&[2.0, 2.0], &[1.0, 5.0]), None);
        assert_eq!(sen(&[], &[]), None);
    }
}
