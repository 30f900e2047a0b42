//! Percentiles, robust scale, fits and intervals.
//!
//! Slices may be unsorted unless a name says otherwise. Empty input gives `None`.

/// The q-quantile (0 to 1) by linear interpolation between order statistics (Hyndman and Fan, 1996,
/// type 7). Reorders the slice. `None` when it is empty.
///
/// ```
/// let mut v = [4.0, 1.0, 3.0, 2.0];
/// assert_eq!(oystermark::raster::stats::quantile(&mut v, 0.5), Some(2.5));
/// ```
pub fn quantile<T: Sample>(values: &mut [T], q: f64) -> Option<f64> {
    rising_quantiles(values, [q]).map(|[value]| value)
}

/// A number of either size: half as many bytes are put in order faster.
///
/// Numbers are put in order by whole numbers, their ranks, which compare in one step. A rank fits into the bits
/// of its number, so that a slice can hold ranks for a while.
pub trait Sample: Copy + Into<f64> {
    /// A place in the order that IEEE 754 gives all numbers.
    type Rank: Ord;

    /// The bits of a number's rank in place of the number's own; done again, the number's.
    fn exchanged(self) -> Self;

    /// The rank whose bits are held: only of what [`Sample::exchanged`] gave, since bits of plain numbers below 0 are
    /// in the wrong order.
    fn rank(&self) -> Self::Rank;

    /// How far it lies from a number, in its own size.
    fn away_from(&self, centre: f64) -> Self;
}

impl Sample for f32 {
    type Rank = i32;

    fn exchanged(self) -> f32 {
        // Negative numbers count down as their bits count up.
        let bits = self.to_bits();
        f32::from_bits(bits ^ ((bits.cast_signed() >> 31).cast_unsigned() >> 1))
    }

    fn rank(&self) -> i32 {
        self.to_bits().cast_signed()
    }

    fn away_from(&self, centre: f64) -> f32 {
        (f64::from(*self) - centre).abs() as f32
    }
}

impl Sample for f64 {
    type Rank = i64;

    fn exchanged(self) -> f64 {
        let bits = self.to_bits();
        f64::from_bits(bits ^ ((bits.cast_signed() >> 63).cast_unsigned() >> 1))
    }

    fn rank(&self) -> i64 {
        self.to_bits().cast_signed()
    }

    fn away_from(&self, centre: f64) -> f64 {
        (self - centre).abs()
    }
}

/// Several q-quantiles at once, from the lowest to the highest, each as [`quantile`] has it: every one is looked
/// for only above the one before. Reorders the slice. `None` when it is empty.
///
/// ```
/// let mut v = [4.0, 1.0, 3.0, 2.0];
/// assert_eq!(oystermark::raster::stats::rising_quantiles(&mut v, [0.5, 1.0]), Some([2.5, 4.0]));
/// ```
pub fn rising_quantiles<const N: usize, T: Sample>(
    values: &mut [T],
    shares: [f64; N],
) -> Option<[f64; N]> {
    let last = values.len().checked_sub(1)?;
    let exchange = |values: &mut [T]| values.iter_mut().for_each(|v| *v = v.exchanged());
    exchange(values);
    let mut found = [0.0; N];
    let mut from = 0;
    for (k, share) in shares.into_iter().enumerate() {
        if k > 0 && share == shares[k - 1] {
            found[k] = found[k - 1];
            continue;
        }
        let position = (share.clamp(0.0, 1.0) * last as f64).max(from as f64);
        let below = position.floor() as usize;
        let (_, low, rest) = values[from..].select_nth_unstable_by_key(below - from, T::rank);
        let low: f64 = low.exchanged().into();
        let share = position - below as f64;
        let next = rest.iter().filter(|_| share > 0.0).min_by_key(|v| v.rank());
        let next: Option<f64> = next.map(|v| v.exchanged().into());
        found[k] = match next.filter(|high| high.is_finite()) {
            Some(high) => low + share * (high - low),
            None => low,
        };
        from = below;
    }
    exchange(values);
    Some(found)
}

/// Sum of some numbers, eight of which are worked at a time: another order than from first to last, which differs by
/// rounding.
///
/// ```
/// assert_eq!(oystermark::raster::stats::sum(&[0.5; 21]), 10.5);
/// ```
pub fn sum(values: &[f32]) -> f32 {
    let (eights, rest) = values.as_chunks::<8>();
    let mut sums = [0.0; 8];
    for eight in eights {
        for (sum, value) in sums.iter_mut().zip(eight) {
            *sum += value;
        }
    }
    sums.iter().sum::<f32>() + rest.iter().sum::<f32>()
}

/// Median; reorders the slice.
pub fn median<T: Sample>(values: &mut [T]) -> Option<f64> {
    quantile(values, 0.5)
}

/// Factor that makes the median absolute deviation estimate a normal distribution's sigma,
/// 1 / (quantile of the standard normal at 3/4).
pub const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;

/// Median and robust standard deviation (median absolute deviation times [`MAD_TO_SIGMA`]).
pub fn median_and_sigma<T: Sample>(values: &[T]) -> Option<(f64, f64)> {
    let mut sorted = values.to_vec();
    let centre = median(&mut sorted)?;
    let mut away: Vec<T> = values.iter().map(|v| v.away_from(centre)).collect();
    let mad = median(&mut away)?;
    Some((centre, mad * MAD_TO_SIGMA))
}

/// Straight line `y = a + b x` by Tukey's bisquare with the usual tuning constant 4.685 (95 %
/// efficiency at the normal distribution), iterated from a least absolute residual start.
///
/// Returns `(a, b, sigma)` with the robust residual sigma; `None` with fewer than two distinct x.
pub fn robust_line(points: &[(f64, f64)]) -> Option<(f64, f64, f64)> {
    let mut weights = vec![1.0; points.len()];
    let mut fit = weighted_line(points, &weights)?;
    for round in 0..30 {
        let away: Vec<f64> = points
            .iter()
            .map(|(x, y)| (y - fit.0 - fit.1 * x).abs())
            .collect();
        let mut sorted = away.clone();
        let sigma = (median(&mut sorted)? * MAD_TO_SIGMA).max(1e-9);
        for (weight, r) in weights.iter_mut().zip(&away) {
            let t = r / sigma;
            *weight = if round < 8 {
                // Least absolute residuals first: a bisquare started from least squares can lock on
                // to the wrong points.
                1.0 / t.max(0.1)
            } else {
                let u = t / 4.685;
                if u < 1.0 { (1.0 - u * u).powi(2) } else { 0.0 }
            };
        }
        fit = weighted_line(points, &weights)?;
    }
    let mut away: Vec<f64> = points
        .iter()
        .map(|(x, y)| (y - fit.0 - fit.1 * x).abs())
        .collect();
    Some((fit.0, fit.1, median(&mut away)? * MAD_TO_SIGMA))
}

fn weighted_line(points: &[(f64, f64)], weights: &[f64]) -> Option<(f64, f64)> {
    let total: f64 = weights.iter().sum();
    if total <= 0.0 {
        return None;
    }
    let mean = |f: &dyn Fn(&(f64, f64)) -> f64| {
        points
            .iter()
            .zip(weights)
            .map(|(p, w)| w * f(p))
            .sum::<f64>()
            / total
    };
    let (mx, my) = (mean(&|p| p.0), mean(&|p| p.1));
    let sxx = mean(&|p| (p.0 - mx).powi(2));
    if sxx <= 1e-18 {
        return None;
    }
    let slope = mean(&|p| (p.0 - mx) * (p.1 - my)) / sxx;
    Some((my - slope * mx, slope))
}

/// Solves `a x = b` for a small square system by Gaussian elimination with partial pivoting.
///
/// `a` is row-major, `n` x `n`. `None` when it is singular to working precision.
pub fn solve(mut a: Vec<f64>, mut b: Vec<f64>) -> Option<Vec<f64>> {
    let n = b.len();
    if a.len() != n * n {
        return None;
    }
    let scale = a.iter().fold(0.0f64, |m, v| m.max(v.abs()));
    for column in 0..n {
        let pivot = (column..n)
            .max_by(|&i, &j| a[i * n + column].abs().total_cmp(&a[j * n + column].abs()))?;
        if a[pivot * n + column].abs() <= 1e-13 * scale {
            return None;
        }
        if pivot != column {
            for k in 0..n {
                a.swap(pivot * n + k, column * n + k);
            }
            b.swap(pivot, column);
        }
        for row in column + 1..n {
            let factor = a[row * n + column] / a[column * n + column];
            for k in column..n {
                a[row * n + k] -= factor * a[column * n + k];
            }
            b[row] -= factor * b[column];
        }
    }
    for row in (0..n).rev() {
        let known: f64 = (row + 1..n).map(|k| a[row * n + k] * b[k]).sum();
        b[row] = (b[row] - known) / a[row * n + row];
    }
    Some(b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_put_in_order_by_their_ranks_and_stay_what_they_are() {
        let rising = [
            f32::NEG_INFINITY,
            -2.5,
            -1.0,
            -0.0,
            0.0,
            1e-40,
            3.0,
            f32::INFINITY,
            f32::NAN,
        ];
        let ranks = rising.map(|v| v.exchanged().rank());
        assert!(ranks.is_sorted_by(|a, b| a < b));
        let wide = rising.map(|v| f64::from(v).exchanged().rank());
        assert!(wide.is_sorted_by(|a, b| a < b));
        let mut mixed = [4, 1, 7, 0, 6, 2, 8, 3, 5].map(|k: usize| rising[k]);
        assert_eq!(quantile(&mut mixed, 0.25), Some(-1.0));
        mixed.sort_by(f32::total_cmp);
        assert_eq!(mixed.map(f32::to_bits), rising.map(f32::to_bits));
    }

    #[test]
    fn several_quantiles_are_each_as_by_itself() {
        let values: Vec<f64> = (0..997).map(|k| f64::from(k * 7919 % 997)).collect();
        let shares = [0.0, 0.5, 0.5, 0.87, 0.99, 1.0];
        let together = rising_quantiles(&mut values.clone(), shares).unwrap();
        let alone = shares.map(|share| quantile(&mut values.clone(), share).unwrap());
        assert_eq!(together, alone);
        assert_eq!(rising_quantiles(&mut [0.0_f64; 0], [0.5]), None);
    }

    #[test]
    fn quantiles_of_small_samples() {
        assert_eq!(quantile(&mut [0.0_f64; 0], 0.5), None);
        assert_eq!(quantile(&mut [7.0], 0.9), Some(7.0));
        let mut v = [1.0, 2.0, 3.0, 4.0, 5.0];
        assert_eq!(quantile(&mut v, 0.25), Some(2.0));
        assert_eq!(quantile(&mut v, 1.0), Some(5.0));
    }

    #[test]
    fn a_robust_line_ignores_a_third_of_wild_points() {
        let points: Vec<(f64, f64)> = (0..90)
            .map(|i| {
                let x = i as f64;
                (x, if i % 3 == 0 { 80.0 + x } else { 2.0 + 0.5 * x })
            })
            .collect();
        let (a, b, _) = robust_line(&points).unwrap();
        assert!((a - 2.0).abs() < 1e-6 && (b - 0.5).abs() < 1e-6, "{a} {b}");
    }

    #[test]
    fn solving_a_known_system() {
        let x = solve(vec![2.0, 1.0, 1.0, 3.0], vec![5.0, 10.0]).unwrap();
        assert!((x[0] - 1.0).abs() < 1e-12 && (x[1] - 3.0).abs() < 1e-12);
        assert_eq!(solve(vec![1.0, 1.0, 1.0, 1.0], vec![1.0, 1.0]), None);
    }
}
