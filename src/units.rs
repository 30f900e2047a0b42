//! Units and measured numbers.
//!
//! Comes in: plain numbers. Goes out: [`Reading`], a number with its uncertainty and doubts.
//! Lengths are millimetres, densities are ISO 5 style (decimal logarithms), angles are degrees;
//! the unit is the suffix of the name (`_mm`, `_d`, `_deg`).
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
