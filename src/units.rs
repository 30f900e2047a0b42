//! Units and measured numbers.
//!
//! Comes in: plain numbers. Goes out: [`Reading`], a number with its uncertainty and doubts.
//! Lengths are millimetres, densities are ISO 5 style (decimal logarithms), angles are degrees;
//! the unit is the suffix of the name (`_mm`, `_d`, `_deg`). Colours are CIELAB under D50.
//! Not here: anything that knows what a plate is.

use crate::doubts::Doubt;

/// Millimetres in an inch, exact by definition (international inch, 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// A measured number with the half width of its 95 % interval and the doubts that go with it.
///
/// ```
/// use oystermark::units::Reading;
/// let depth_mm = Reading::new(0.21, 0.02);
/// assert!(depth_mm.low() < 0.2 && depth_mm.high() > 0.22);
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reading {
    /// Best estimate, in the unit that the reading's name ends in.
    pub value: f64,
    /// Half width of the interval that holds the true value in 95 % of cases, same unit.
    pub u: f64,
    /// Reasons not to trust the interval.
    pub doubts: Vec<Doubt>,
}

impl Reading {
    /// A reading without doubts.
    pub fn new(value: f64, u: f64) -> Self {
        Reading {
            value,
            u,
            doubts: Vec::new(),
        }
    }

    /// The same reading with further doubts.
    pub fn doubted(mut self, doubts: &[Doubt]) -> Self {
        for doubt in doubts {
            if !self.doubts.contains(doubt) {
                self.doubts.push(*doubt);
            }
        }
        self
    }

    /// Lower end of the interval.
    pub fn low(&self) -> f64 {
        self.value - self.u
    }

    /// Upper end of the interval.
    pub fn high(&self) -> f64 {
        self.value + self.u
    }
}

/// Optical density of a relative light value (reflectance or transmittance).
///
/// `D = -log10(R)` (ISO 5-4) or `-log10(T)` (ISO 5-2). `None` where the light is zero or below: no
/// infinite number ever enters a report.
///
/// ```
/// assert_eq!(oystermark::units::density_of(0.1), Some(1.0));
/// assert_eq!(oystermark::units::density_of(0.0), None);
/// ```
pub fn density_of(light: f64) -> Option<f64> {
    (light > 0.0).then(|| -light.log10())
}

/// Relative light of an optical density, the inverse of [`density_of`].
pub fn light_of(density_d: f64) -> f64 {
    10f64.powf(-density_d)
}

/// CIE L*, a*, b* (D50) of linear sRGB.
///
/// Matrix of IEC 61966-2-1 primaries adapted to D50 by the Bradford transform (ICC.1:2022, annex E);
/// white X 0.9642, Y 1, Z 0.8249 (ICC.1). L* a* b* as in ISO/CIE 11664-4.
///
/// ```
/// let lab = oystermark::units::lab_of_linear_srgb([1.0, 1.0, 1.0]);
/// assert!((lab[0] - 100.0).abs() < 0.01 && lab[1].abs() < 0.02 && lab[2].abs() < 0.02);
/// ```
pub fn lab_of_linear_srgb([r, g, b]: [f64; 3]) -> [f64; 3] {
    let x = 0.436_066 * r + 0.385_151 * g + 0.143_078 * b;
    let y = 0.222_493 * r + 0.716_887 * g + 0.060_619 * b;
    let z = 0.013_924 * r + 0.097_081 * g + 0.714_099 * b;
    let f = |t: f64| {
        let delta: f64 = 6.0 / 29.0;
        if t > delta.powi(3) {
            t.cbrt()
        } else {
            t / (3.0 * delta * delta) + 4.0 / 29.0
        }
    };
    let (fx, fy, fz) = (f(x / 0.964_295), f(y), f(z / 0.825_104));
    [116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)]
}
