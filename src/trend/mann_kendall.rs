//! The test of Mann and Kendall for a rise or fall, whatever its shape.

use super::distributions::normal_upper_tail;

/// Longest series without ties whose chance is counted exactly (Gilbert's table A18 ends there too).
const EXACT_UP_TO: usize = 10;

/// The result of the test of Mann and Kendall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannKendall {
    /// Pairs that rise less pairs that fall.
    pub s: i64,
    /// Variance of `s` where nothing but chance orders the values, ties allowed for.
    pub variance: f64,
    /// `s`, one step nearer to zero, in standard deviations.
    pub z: f64,
    /// Two-sided chance of an `s` that far from zero: counted exactly for up to ten values without ties,
    /// by the normal distribution above that.
    pub p: f64,
    /// The same by the normal distribution whatever the number of values, as most tables have it.
    pub p_normal: f64,
}

/// Tests values in their order for a rise or fall (Gilbert, Statistical Methods for Environmental Pollution
/// Monitoring, 1987, chapter 16). `None` with fewer than three values, or when all are alike.
///
/// ```
/// let rising = oystermark::trend::mann_kendall(&[1.0, 2.0, 3.0, 4.0]).unwrap();
/// // One order of twenty-four, and as many that fall.
/// assert!(rising.s == 6 && (rising.p - 2.0 / 24.0).abs() < 1e-12);
/// ```
pub fn mann_kendall(values: &[f64]) -> Option<MannKendall> {
    let n = values.len();
    if n < 3 {
        return None;
    }
    let mut s = 0i64;
    for (at, earlier) in values.iter().enumerate() {
        for later in &values[at + 1..] {
            s += i64::from(later > earlier) - i64::from(later < earlier);
        }
    }
    let ties = ties(values);
    let variance = (spread(n) - ties.iter().map(|&t| spread(t)).sum::<f64>()) / 18.0;
    if variance <= 0.0 {
        return None;
    }
    let z = (s - s.signum()) as f64 / variance.sqrt();
    let p_normal = (2.0 * normal_upper_tail(z.abs())).min(1.0);
    let p = match n <= EXACT_UP_TO && ties.is_empty() {
        true => exact(n, s.unsigned_abs() as usize),
        false => p_normal,
    };
    Some(MannKendall {
        s,
        variance,
        z,
        p,
        p_normal,
    })
}

/// `t (t - 1) (2 t + 5)`.
pub(super) fn spread(t: usize) -> f64 {
    let t = t as f64;
    t * (t - 1.0) * (2.0 * t + 5.0)
}

/// Sizes of the groups of equal values, single ones left out.
pub(super) fn ties(values: &[f64]) -> Vec<usize> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted
        .chunk_by(|a, b| a == b)
        .map(<[f64]>::len)
        .filter(|&size| size > 1)
        .collect()
}

/// Share of all orders of `n` different values whose `s` is at least that far from zero.
fn exact(n: usize, s: usize) -> f64 {
    if s == 0 {
        return 1.0;
    }
    // Orders by their number of falling pairs, one more value at a time.
    let mut orders = vec![1.0f64];
    for k in 2..=n {
        let mut next = vec![0.0; orders.len() + k - 1];
        for (falling, count) in orders.iter().enumerate() {
            for more in 0..k {
                next[falling + more] += count;
            }
        }
        orders = next;
    }
    let pairs = n * (n - 1) / 2;
    let all: f64 = orders.iter().sum();
    let as_far: f64 = orders
        .iter()
        .enumerate()
        .filter(|(falling, _)| pairs >= 2 * falling + s)
        .map(|(_, count)| count)
        .sum();
    (2.0 * as_far / all).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_or_flat_series_say_nothing() {
        assert_eq!(mann_kendall(&[1.0, 2.0]), None);
        assert_eq!(mann_kendall(&[3.0; 9]), None);
    }

    /// Gilbert 1987, table A18 (from memory): one-sided chances 0.0083 for five rising values, 0.117 for
    /// s = 6 of five.
    #[test]
    fn few_values_are_counted_exactly() {
        let five = mann_kendall(&[1.0, 2.0, 3.0, 4.0, 5.0]).unwrap();
        assert!((five.p / 2.0 - 0.0083).abs() < 5e-5);
        let six = mann_kendall(&[2.0, 1.0, 3.0, 5.0, 4.0]).unwrap();
        assert_eq!(six.s, 6);
        assert!((six.p / 2.0 - 0.117).abs() < 5e-4);
    }
}
