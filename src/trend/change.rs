//! Before and after: a difference of two means with its interval.

use super::distributions::student_quantile;

/// Count, mean and standard deviation of some values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// How many.
    pub n: usize,
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation, over n - 1; zero for a single value.
    pub sd: f64,
}

impl Summary {
    /// Of some values; `None` when there are none.
    pub fn of(values: &[f64]) -> Option<Summary> {
        let n = values.len();
        if n == 0 {
            return None;
        }
        let mean = values.iter().sum::<f64>() / n as f64;
        let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
        let sd = (squares / (n.max(2) - 1) as f64).sqrt();
        Some(Summary { n, mean, sd })
    }
}

/// A difference of two means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// Mean after less mean before.
    pub difference: f64,
    /// Standard error of it.
    pub error: f64,
    /// Degrees of freedom of Student's distribution.
    pub freedom: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
}

/// The difference after less before with its 95 % interval, for spreads that need not be alike (Welch,
/// Biometrika 34, 1947; degrees of freedom after Satterthwaite, Biometrics Bulletin 2, 1946).
///
/// `least_sd` is the scatter below which no standard deviation is believed, such as that of the measuring
/// itself: three values that agree by luck would else prove anything. `None` where either side has fewer than
/// two values, or where neither shows any scatter and `least_sd` is zero.
pub fn change(before: Summary, after: Summary, least_sd: f64) -> Option<Change> {
    if before.n < 2 || after.n < 2 {
        return None;
    }
    let part = |side: Summary| side.sd.max(least_sd).powi(2) / side.n as f64;
    let (a, b) = (part(before), part(after));
    if a + b <= 0.0 {
        return None;
    }
    let freedom = (a + b).powi(2) / (a * a / (before.n - 1) as f64 + b * b / (after.n - 1) as f64);
    let error = (a + b).sqrt();
    let half = student_quantile(0.975, freedom)? * error;
    let difference = after.mean - before.mean;
    Some(Change {
        difference,
        error,
        freedom,
        low: difference - half,
        high: difference + half,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn too_little_to_tell() {
        let one = Summary::of(&[1.0]).unwrap();
        let two = Summary::of(&[1.0, 3.0]).unwrap();
        let flat = Summary::of(&[2.0, 2.0]).unwrap();
        assert_eq!(change(one, two, 0.1), None);
        assert_eq!(change(flat, flat, 0.0), None);
        // With two values a side the interval is honest about how little that is.
        let change = change(two, two, 0.0).unwrap();
        assert!((change.freedom - 2.0).abs() < 1e-12);
        assert!((change.high - 4.303 * change.error).abs() < 1e-3);
    }
}
