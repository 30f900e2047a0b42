//! Chances and intervals of counts: upper tails in the logarithm, exact limits of a Poisson mean.
//!
//! Probabilities far below what a number can hold stay exact, since sums run over logarithms.

use libm::lgamma;

/// Terms after which a tail is cut when the terms no longer fall off: never met below a mean of 1e5.
const MOST_TERMS: usize = 1_000_000;

/// Natural logarithm of the probability of at least `k` of `n` at `p` each (binomial upper tail).
///
/// ```
/// use oystermark::raster::counts::ln_binomial_tail;
/// assert!((ln_binomial_tail(3, 3, 0.5).exp() - 0.125).abs() < 1e-14);
/// ```
pub fn ln_binomial_tail(k: usize, n: usize, p: f64) -> f64 {
    if k == 0 {
        return 0.0;
    }
    if k > n || p <= 0.0 {
        return f64::NEG_INFINITY;
    }
    if p >= 1.0 {
        return 0.0;
    }
    let (nf, kf) = (n as f64, k as f64);
    let first = lgamma(nf + 1.0) - lgamma(kf + 1.0) - lgamma(nf - kf + 1.0)
        + kf * p.ln()
        + (nf - kf) * (-p).ln_1p();
    let odds = p / (1.0 - p);
    ln_sum(first, k, |j| (nf - j) / (j + 1.0) * odds)
}

/// Natural logarithm of the probability of at least `k` events where `mean` are expected (Poisson).
pub fn ln_poisson_tail(k: usize, mean: f64) -> f64 {
    if k == 0 {
        return 0.0;
    }
    if mean <= 0.0 {
        return f64::NEG_INFINITY;
    }
    let kf = k as f64;
    ln_sum(kf * mean.ln() - mean - lgamma(kf + 1.0), k, |j| {
        mean / (j + 1.0)
    })
}

/// Probability of at least `k` events where `mean` are expected, give or take a share `spread` of it
/// (standard deviation): a Poisson count whose mean is itself drawn from a gamma distribution.
pub fn uncertain_tail(k: usize, mean: f64, spread: f64) -> f64 {
    if spread <= 0.0 || mean <= 0.0 {
        return ln_poisson_tail(k, mean).exp();
    }
    if k == 0 {
        return 1.0;
    }
    let (shape, kf) = (1.0 / (spread * spread), k as f64);
    let share = mean / (shape + mean);
    let first = lgamma(shape + kf) - lgamma(shape) - lgamma(kf + 1.0)
        + kf * share.ln()
        + shape * (-share).ln_1p();
    ln_sum(first, k, |j| share * (shape + j) / (j + 1.0)).exp()
}

/// Logarithm of the sum of terms from index `k` on, given the first one's logarithm and the ratio of
/// each next term to the one before.
fn ln_sum(first: f64, k: usize, ratio: impl Fn(f64) -> f64) -> f64 {
    // Terms are kept relative to the first one, rescaled while they still grow.
    let (mut scale, mut term, mut sum) = (first, 1.0f64, 1.0f64);
    for j in k..k.saturating_add(MOST_TERMS) {
        let next = ratio(j as f64);
        term *= next;
        sum += term;
        if term > 1e200 {
            scale += 1e200f64.ln();
            term /= 1e200;
            sum /= 1e200;
        }
        if next < 1.0 && term < 1e-17 * sum * (1.0 - next) {
            break;
        }
    }
    (scale + sum.ln()).min(0.0)
}

/// The exact 95 % interval of a Poisson mean of which `n` were counted (Garwood 1936).
pub fn poisson_interval(n: usize) -> [f64; 2] {
    let most = n as f64 + 10.0 * (n as f64 + 2.0).sqrt();
    let low = match n {
        0 => 0.0,
        _ => crossing(0.0, most, |mean| ln_poisson_tail(n, mean).exp() - 0.025),
    };
    let high = crossing(0.0, most, |mean| ln_poisson_tail(n + 1, mean).exp() - 0.975);
    [low, high]
}

/// Where a rising function crosses zero, by halving.
fn crossing(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_uncertain_mean_has_longer_tails_and_without_doubt_is_poissons() {
        let sure = ln_poisson_tail(12, 5.0).exp();
        assert!((uncertain_tail(12, 5.0, 1e-4) / sure - 1.0).abs() < 1e-4);
        assert!(uncertain_tail(12, 5.0, 0.3) > 1.5 * sure);
        assert_eq!(uncertain_tail(0, 5.0, 0.3), 1.0);
        // One event or more of a gamma-Poisson of shape 1 (geometric): mean / (1 + mean).
        assert!((uncertain_tail(1, 3.0, 1.0) - 0.75).abs() < 1e-12);
    }

    #[test]
    fn nothing_counted_leaves_room_for_three() {
        let [low, high] = poisson_interval(0);
        assert!(low == 0.0 && (high - 3.688_879_454).abs() < 1e-8);
    }
}
