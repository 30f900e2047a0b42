//! Linear least squares, plain and robust, and the quadratic surface built on them.

use super::stats::{MAD_TO_SIGMA, median};

/// Solves `min |A x - y|` for `n` unknowns by Householder reflections on columns scaled to length 1
/// (Golub and Van Loan, Matrix Computations, chapter 5, from memory).
///
/// `a` is row-major with `n` columns. `None` when there are fewer rows than unknowns or the columns
/// depend on each other to working precision.
pub fn least_squares(a: &[f64], y: &[f64], n: usize) -> Option<Vec<f64>> {
    let m = y.len();
    if n == 0 || m < n || a.len() != m * n {
        return None;
    }
    let (mut a, mut y) = (a.to_vec(), y.to_vec());
    let scales: Vec<f64> = (0..n)
        .map(|k| (0..m).map(|i| a[i * n + k].powi(2)).sum::<f64>().sqrt())
        .collect();
    if scales
        .iter()
        .any(|scale| !scale.is_finite() || *scale == 0.0)
    {
        return None;
    }
    for row in a.chunks_mut(n) {
        for (value, scale) in row.iter_mut().zip(&scales) {
            *value /= scale;
        }
    }
    for k in 0..n {
        let length = (k..m).map(|i| a[i * n + k].powi(2)).sum::<f64>().sqrt();
        // Columns are of length 1, so what is left of one is the sine of its angle to the ones before.
        if length < 1e-12 {
            return None;
        }
        let head = if a[k * n + k] > 0.0 { -length } else { length };
        let mut v: Vec<f64> = (k..m).map(|i| a[i * n + k]).collect();
        v[0] -= head;
        let square: f64 = v.iter().map(|x| x * x).sum();
        for column in k..n {
            let dot: f64 = v
                .iter()
                .enumerate()
                .map(|(i, x)| x * a[(k + i) * n + column])
                .sum();
            let factor = 2.0 * dot / square;
            for (i, x) in v.iter().enumerate() {
                a[(k + i) * n + column] -= factor * x;
            }
        }
        let dot: f64 = v.iter().enumerate().map(|(i, x)| x * y[k + i]).sum();
        let factor = 2.0 * dot / square;
        for (i, x) in v.iter().enumerate() {
            y[k + i] -= factor * x;
        }
    }
    let mut x = vec![0.0; n];
    for k in (0..n).rev() {
        let known: f64 = (k + 1..n).map(|j| a[k * n + j] * x[j]).sum();
        x[k] = (y[k] - known) / a[k * n + k];
    }
    for (x, scale) in x.iter_mut().zip(&scales) {
        *x /= scale;
    }
    Some(x)
}

/// A quadratic surface `z = a + b x + c y + d x^2 + e x y + f y^2`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surface {
    /// `a` to `f`.
    pub coefficients: [f64; 6],
}

/// The surface's terms at a place.
fn terms(x: f64, y: f64) -> [f64; 6] {
    [1.0, x, y, x * x, x * y, y * y]
}

/// Tuning constant of Huber's weights: 95 % efficiency at the normal distribution.
const HUBER: f64 = 1.345;

impl Surface {
    /// The surface through points `[x, y, z]` by Huber's weights (P. J. Huber, Robust Statistics, 1981),
    /// and the robust standard deviation of the points about it. `None` with fewer than six points, or
    /// when they lie so that no such surface is determined.
    pub fn through(points: &[[f64; 3]]) -> Option<(Surface, f64)> {
        let mut weights = vec![1.0_f64; points.len()];
        let mut surface = Surface::weighted(points, &weights)?;
        let mut sigma = 0.0;
        for _ in 0..12 {
            let away: Vec<f64> = points
                .iter()
                .map(|[x, y, z]| (z - surface.at(*x, *y)).abs())
                .collect();
            sigma = median(&mut away.clone())? * MAD_TO_SIGMA;
            if sigma <= f64::EPSILON {
                break;
            }
            for (weight, away) in weights.iter_mut().zip(&away) {
                *weight = (HUBER * sigma / away.max(f64::MIN_POSITIVE)).min(1.0);
            }
            surface = Surface::weighted(points, &weights)?;
        }
        Some((surface, sigma))
    }

    fn weighted(points: &[[f64; 3]], weights: &[f64]) -> Option<Surface> {
        let mut a = Vec::with_capacity(6 * points.len());
        let mut b = Vec::with_capacity(points.len());
        for ([x, y, z], weight) in points.iter().zip(weights) {
            let root = weight.sqrt();
            a.extend(terms(*x, *y).map(|term| root * term));
            b.push(root * z);
        }
        let solved = least_squares(&a, &b, 6)?;
        Some(Surface {
            coefficients: solved.try_into().ok()?,
        })
    }

    /// Height at a place.
    pub fn at(&self, x: f64, y: f64) -> f64 {
        terms(x, y)
            .iter()
            .zip(&self.coefficients)
            .map(|(term, coefficient)| term * coefficient)
            .sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_that_depend_on_each_other_give_nothing() {
        let a = [1.0, 2.0, 2.0, 4.0, 3.0, 6.0];
        assert_eq!(least_squares(&a, &[1.0, 2.0, 3.0], 2), None);
        assert_eq!(least_squares(&a[..2], &[1.0], 2), None);
    }

    #[test]
    fn a_surface_passes_by_what_sticks_out() {
        let mut points: Vec<[f64; 3]> = (0..100)
            .map(|k| {
                let (x, y) = (f64::from(k % 10) / 4.5 - 1.0, f64::from(k / 10) / 4.5 - 1.0);
                let wave = 0.001 * f64::from((k * 7) % 5 - 2);
                [x, y, 0.5 + 0.1 * x - 0.05 * y + 0.02 * x * y + wave]
            })
            .collect();
        for point in points.iter_mut().take(8) {
            point[2] += 3.0;
        }
        let (surface, sigma) = Surface::through(&points).unwrap();
        assert!((surface.at(0.5, 0.5) - (0.5 + 0.05 - 0.025 + 0.005)).abs() < 0.01);
        assert!(sigma < 0.01, "{sigma}");
    }
}
