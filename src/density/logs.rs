//! Fast logarithms of light.

use std::f32::consts::{LOG10_2, LOG10_E, SQRT_2};

/// Bits of a number's fraction.
const FRACTION: u32 = f32::MANTISSA_DIGITS - 1;

/// Decimal logarithm of a light of at least the least normal number; from 1e-5 to 10 within 1e-6. What is smaller,
/// infinite or no number gives a number without meaning. Without a table or a way out, so that where it is inlined
/// several are worked at a time.
///
/// A number is a power of two times `m`, from the root of a half to that of two, and
/// `ln m = 2 artanh((m - 1) / (m + 1))`; the series of artanh (Abramowitz and Stegun, 4.1.27; the number from
/// memory) is off by less than 2e-8 after four terms.
#[inline(always)]
pub fn log10(light: f32) -> f32 {
    let bits = light.to_bits();
    // Whole powers of two from the root of a half on, counted from there.
    let from = (SQRT_2 / 2.0).to_bits();
    let power = bits.wrapping_sub(from).cast_signed() >> FRACTION;
    let m = f32::from_bits(bits.wrapping_sub((power << FRACTION).cast_unsigned()));
    let s = (m - 1.0) / (m + 1.0);
    let square = s * s;
    let series = 1.0 + square * (1.0 / 3.0 + square * (1.0 / 5.0 + square * (1.0 / 7.0)));
    power as f32 * LOG10_2 + 2.0 * LOG10_E * s * series
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn logarithms_are_near_those_of_the_standard_library() {
        for k in 0..6000 {
            let light = 1e-5 * 1.0023f32.powi(k);
            let exact = f64::from(light).log10();
            assert!((f64::from(log10(light)) - exact).abs() < 1e-6, "{light}");
        }
        assert_eq!(log10(1.0), 0.0);
        assert_eq!(log10(0.5), -LOG10_2);
    }
}
