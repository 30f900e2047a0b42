//! How many decimals a number of the report carries.

use crate::units::Reading;

/// Decimals of densities in JSON: our own choice, ten times finer than any plate repeats.
pub(super) const DENSITY_DECIMALS: u32 = 4;
/// Decimals of millimetres in JSON: a hundredth of a working cell.
pub(super) const LENGTH_DECIMALS: u32 = 3;
/// Decimals of shares of the plate: finer than a pixel of the page's picture.
pub(super) const SHARE_DECIMALS: u32 = 5;
/// Decimals of angles.
pub(super) const ANGLE_DECIMALS: u32 = 2;
/// Decimals of probabilities and fractions.
pub(super) const PROBABILITY_DECIMALS: u32 = 4;

/// Decimals that a code step justifies: the last one is the step's own first figure.
pub(super) fn step_decimals(step_d: Option<f64>) -> u32 {
    let Some(step_d) = step_d else {
        return DENSITY_DECIMALS;
    };
    (1..DENSITY_DECIMALS)
        .find(|decimals| step_d >= 10f64.powi(-(*decimals as i32)))
        .unwrap_or(DENSITY_DECIMALS)
}

pub(super) fn half_width(reading: &Reading) -> Option<f64> {
    number(reading.u, DENSITY_DECIMALS)
}

/// Decimals of a measured number, by the unit its key ends in.
pub(super) fn decimals_of(key: &str) -> u32 {
    if key.contains("_mm") {
        LENGTH_DECIMALS
    } else if key.ends_with("_deg") {
        ANGLE_DECIMALS
    } else {
        DENSITY_DECIMALS
    }
}

pub(super) fn share(value: f64, whole: f64) -> f64 {
    if whole > 0.0 {
        round(value / whole, SHARE_DECIMALS)
    } else {
        0.0
    }
}

pub(super) fn number(value: f64, decimals: u32) -> Option<f64> {
    value.is_finite().then(|| round(value, decimals))
}

/// Rounds half away from zero; never gives `-0`.
pub(super) fn round(value: f64, decimals: u32) -> f64 {
    let scale = 10f64.powi(decimals as i32);
    (value * scale).round() / scale + 0.0
}

/// Three significant figures, for numbers that span many powers of ten.
pub(super) fn significant(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_follow_the_code_step() {
        assert_eq!(step_decimals(None), 4);
        assert_eq!(step_decimals(Some(0.3)), 1);
        assert_eq!(step_decimals(Some(0.03)), 2);
        assert_eq!(step_decimals(Some(0.004)), 3);
        assert_eq!(step_decimals(Some(0.0004)), 4);
    }

    #[test]
    fn rounding_gives_no_minus_zero_and_keeps_significant_figures() {
        assert!(round(-0.000001, 4).is_sign_positive());
        assert_eq!(significant(0.000123456), 0.000123);
        assert_eq!(number(f64::NAN, 2), None);
    }
}
