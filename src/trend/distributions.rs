//! The normal and Student's distribution: upper tails and quantiles.

use libm::{erfc, lgamma};

/// Probability that a standard normal number lies above `z`.
pub fn normal_upper_tail(z: f64) -> f64 {
    0.5 * erfc(z / std::f64::consts::SQRT_2)
}

/// The standard normal number that a share `p` lies below. `None` outside 0 to 1, ends excluded.
///
/// ```
/// use oystermark::trend::{Z_95, normal_quantile};
/// assert!((normal_quantile(0.975).unwrap() - Z_95).abs() < 1e-12);
/// ```
pub fn normal_quantile(p: f64) -> Option<f64> {
    quantile_of(p, normal_upper_tail)
}

/// Probability that a number of Student's distribution with `freedom` degrees (above zero) lies above `t`.
///
/// By the incomplete beta function: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.1 with
/// 26.5.27.
pub fn student_upper_tail(t: f64, freedom: f64) -> f64 {
    let half = 0.5 * incomplete_beta(0.5 * freedom, 0.5, freedom / (freedom + t * t));
    if t >= 0.0 { half } else { 1.0 - half }
}

/// The number of Student's distribution with `freedom` degrees that a share `p` lies below. `None` outside
/// 0 to 1, ends excluded, and where `freedom` is not above zero.
pub fn student_quantile(p: f64, freedom: f64) -> Option<f64> {
    if freedom <= 0.0 || freedom.is_nan() {
        return None;
    }
    quantile_of(p, |t| student_upper_tail(t, freedom))
}

/// Where a symmetric distribution's upper tail is `1 - p`, by halving on the upper half.
fn quantile_of(p: f64, upper_tail: impl Fn(f64) -> f64) -> Option<f64> {
    if !(p > 0.0 && p < 1.0) {
        return None;
    }
    if p == 0.5 {
        return Some(0.0);
    }
    let tail = p.min(1.0 - p);
    let (mut low, mut high) = (0.0f64, 1.0f64);
    while upper_tail(high) > tail && high < 1e300 {
        high *= 2.0;
    }
    // The span is at most twice the answer: each round gives one more bit of it.
    for _ in 0..64 {
        let middle = 0.5 * (low + high);
        if upper_tail(middle) > tail {
            low = middle;
        } else {
            high = middle;
        }
    }
    let away = 0.5 * (low + high);
    Some(if p < 0.5 { -away } else { away })
}

/// The regularized incomplete beta function I_x(a, b), by its continued fraction (the same handbook,
/// 26.5.8), evaluated in Lentz's way.
fn incomplete_beta(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    if x > (a + 1.0) / (a + b + 2.0) {
        // The fraction converges fast only on this side.
        return 1.0 - incomplete_beta(b, a, 1.0 - x);
    }
    let front = lgamma(a + b) - lgamma(a) - lgamma(b) + a * x.ln() + b * (-x).ln_1p();
    let tiny = 1e-300;
    let kept = |value: f64| if value.abs() < tiny { tiny } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / kept(1.0 - (a + b) * x / (a + 1.0));
    let mut fraction = d;
    for m in 1..2_000 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut last = 1.0;
        for term in [even, odd] {
            d = 1.0 / kept(1.0 + term * d);
            c = kept(1.0 + term / c);
            last = c * d;
            fraction *= last;
        }
        if (last - 1.0).abs() < 1e-16 {
            break;
        }
    }
    front.exp() * fraction / a
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two-sided 95 % points as printed in the usual tables (Fisher and Yates, Statistical Tables, table III;
    /// from memory), three decimals.
    #[test]
    fn students_table() {
        for (freedom, printed) in [
            (1.0, 12.706),
            (2.0, 4.303),
            (4.0, 2.776),
            (10.0, 2.228),
            (30.0, 2.042),
            (120.0, 1.980),
        ] {
            let t = student_quantile(0.975, freedom).unwrap();
            assert!((t - printed).abs() < 5.1e-4, "{freedom}: {t}");
        }
        // One degree is Cauchy's distribution, whose quantile is a tangent.
        let t = student_quantile(0.9, 1.0).unwrap();
        assert!((t - (0.4 * std::f64::consts::PI).tan()).abs() < 1e-9);
        assert_eq!(student_quantile(0.9, 0.0), None);
    }

    #[test]
    fn tails_are_symmetric() {
        for t in [0.3, 2.0, 7.0] {
            let both = student_upper_tail(t, 7.0) + student_upper_tail(-t, 7.0);
            assert!((both - 1.0).abs() < 1e-12);
        }
        assert_eq!(normal_quantile(1.0), None);
        assert!(normal_quantile(0.5).unwrap().abs() < 1e-12);
    }
}
