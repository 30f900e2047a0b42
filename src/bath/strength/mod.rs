//! How much silver nitrate a bath holds, from its density and temperature.

use crate::doubts::Doubt;
use crate::units::Reading;

mod amounts;
mod curve;
mod top_up;

pub use amounts::{Concentration, GRAIN_G, UK_OUNCE_L, US_OUNCE_L, Unit};
pub use top_up::{TopUp, top_up};

/// Half width of a hydrometer reading, g/cm3, where none is given: half a division of 0.002, our own choice.
pub const USUAL_DENSITY_U: f64 = 0.001;

/// Half width of a thermometer reading, degrees, where none is given: our own choice.
pub const USUAL_TEMP_U_C: f64 = 0.5;

/// How well the density table is known, g/cm3: from 4 per cent up, and below, where its printed rows disagree
/// with each other by that much.
const TABLE_U: [f64; 2] = [0.0003, 0.0006];

/// How far the model of temperature may be out 10 degrees away from 20 C, g/cm3: measured nitrate solutions fall
/// faster than the model by about so much.
const MODEL_U_AT_10_C: f64 = 0.0007;

/// A bath as the hydrometer and the thermometer found it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measurement {
    /// Density, g/cm3.
    pub density_g_cm3: f64,
    /// Half width of its 95 % interval; [`USUAL_DENSITY_U`] when nobody said.
    pub density_u: Option<f64>,
    /// Temperature, degrees Celsius.
    pub temp_c: f64,
    /// Half width of its 95 % interval; [`USUAL_TEMP_U_C`] when nobody said.
    pub temp_u_c: Option<f64>,
}

/// Why no strength can be told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StrengthError {
    /// Too warm or too cold.
    #[error("{0} C is outside the 10 to 30 C in which the strength can be told")]
    Temperature(f64),
    /// Lighter than water.
    #[error(
        "a density of {density} g/cm3 is below that of water at {temp_c} C ({water:.4}), so no silver nitrate can be told from it"
    )]
    Light {
        density: f64,
        temp_c: f64,
        water: f64,
    },
    /// Beyond the table.
    #[error(
        "a density of {density} g/cm3 is above that of a 40 % solution at {temp_c} C ({most:.4}), where the table ends"
    )]
    Heavy {
        density: f64,
        temp_c: f64,
        most: f64,
    },
    /// The target is beyond the table.
    #[error("{0} is outside the table, which ends at 40 % by mass")]
    Target(String),
    /// No such volume.
    #[error("{0} litres is not a volume above zero")]
    Litres(f64),
    /// An uncertainty below zero or not a number.
    #[error("an uncertainty of {0} is not zero or more")]
    Uncertainty(f64),
}

/// How strong a bath is. The half widths are those of reading and table; what else is dissolved in the bath is a
/// doubt and not in them.
///
/// ```
/// use oystermark::bath::strength::{Measurement, Strength};
/// let bath = Measurement { density_g_cm3: 1.0882, density_u: None, temp_c: 20.0, temp_u_c: None };
/// let strength = Strength::of(bath)?;
/// assert!((strength.mass_percent.value - 10.0).abs() < 0.01);
/// # Ok::<(), oystermark::bath::strength::StrengthError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Strength {
    /// What it was found from.
    pub from: Measurement,
    /// Half width of the density, table and temperature included, g/cm3.
    pub density_u: f64,
    /// Silver nitrate, per cent by mass.
    pub mass_percent: Reading,
    /// Silver nitrate, grams in a litre at the bath's temperature.
    pub g_per_l: Reading,
    /// Grains in a US fluid ounce.
    pub grains_per_us_oz: Reading,
    /// Grains in an imperial fluid ounce.
    pub grains_per_uk_oz: Reading,
}

impl Strength {
    /// The strength of a bath by its density.
    ///
    /// # Errors
    /// Outside 10 to 30 C, lighter than water, heavier than a 40 % solution.
    pub fn of(from: Measurement) -> Result<Strength, StrengthError> {
        let Measurement {
            density_g_cm3,
            temp_c,
            ..
        } = from;
        let [coldest, warmest] = curve::TEMPERATURES_C;
        if !(coldest..=warmest).contains(&temp_c) {
            return Err(StrengthError::Temperature(temp_c));
        }
        let read_u = from.density_u.unwrap_or(USUAL_DENSITY_U);
        let temp_u = from.temp_u_c.unwrap_or(USUAL_TEMP_U_C);
        for u in [read_u, temp_u] {
            if !(u >= 0.0 && u.is_finite()) {
                return Err(StrengthError::Uncertainty(u));
            }
        }
        let percent = curve::percent(density_g_cm3, temp_c).ok_or_else(|| {
            let (density, most) = (density_g_cm3, curve::density(curve::MOST_PERCENT, temp_c));
            match density > most {
                true => StrengthError::Heavy {
                    density,
                    temp_c,
                    most,
                },
                false => StrengthError::Light {
                    density,
                    temp_c,
                    water: curve::water(temp_c),
                },
            }
        })?;
        let per_degree = (curve::density(percent, (temp_c + 0.5).min(warmest))
            - curve::density(percent, (temp_c - 0.5).max(coldest)))
        .abs();
        let table_u = TABLE_U[usize::from(percent < 4.0)];
        let model_u = MODEL_U_AT_10_C * (temp_c - 20.0).abs() / 10.0;
        let density_u = [read_u, temp_u * per_degree, table_u, model_u]
            .iter()
            .map(|u| u * u)
            .sum::<f64>()
            .sqrt();
        // The slopes of strength over density, from a step that stays within the table.
        let step = 0.01;
        let low = (percent - step).max(0.0);
        let high = (percent + step).min(curve::MOST_PERCENT);
        let rise = curve::density(high, temp_c) - curve::density(low, temp_c);
        let percent_u = density_u * (high - low) / rise;
        let grams = 10.0 * percent * density_g_cm3;
        let grams_u = density_u * 10.0 * (percent + density_g_cm3 * (high - low) / rise);
        let mut doubts = vec![Doubt::AlcoholReadsLow, Doubt::OtherSaltsReadHigh];
        if from.density_u.is_none() {
            doubts.push(Doubt::ReadingErrorAssumed);
        }
        if temp_c != 20.0 {
            doubts.push(Doubt::TemperatureByModel);
        }
        let reading = |factor: f64| Reading::new(grams * factor, grams_u * factor).doubted(&doubts);
        Ok(Strength {
            from,
            density_u,
            mass_percent: Reading::new(percent, percent_u).doubted(&doubts),
            g_per_l: reading(1.0),
            grains_per_us_oz: reading(US_OUNCE_L / GRAIN_G),
            grains_per_uk_oz: reading(UK_OUNCE_L / GRAIN_G),
        })
    }
}

/// Density from a specific gravity 20/20: how many times as heavy as water, both at 20 C.
pub fn density_of_gravity(gravity: f64) -> f64 {
    gravity * curve::water(20.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(density_g_cm3: f64, temp_c: f64) -> Result<Strength, StrengthError> {
        Strength::of(Measurement {
            density_g_cm3,
            density_u: None,
            temp_c,
            temp_u_c: None,
        })
    }

    #[test]
    fn the_range_is_said_in_words() {
        let words = |density, temp_c| at(density, temp_c).unwrap_err().to_string();
        assert!(words(1.08, 35.0).contains("10 to 30 C"));
        assert!(words(0.95, 20.0).contains("below that of water"));
        assert!(words(1.6, 20.0).contains("where the table ends"));
        assert!(words(f64::NAN, 20.0).contains("below"));
    }

    #[test]
    fn doubts_are_set_and_not_set() {
        let plain = at(1.08, 20.0).unwrap();
        assert!(plain.g_per_l.doubts.contains(&Doubt::AlcoholReadsLow));
        assert!(plain.g_per_l.doubts.contains(&Doubt::ReadingErrorAssumed));
        assert!(!plain.g_per_l.doubts.contains(&Doubt::TemperatureByModel));
        let warm = at(1.08, 25.0).unwrap();
        assert!(warm.g_per_l.doubts.contains(&Doubt::TemperatureByModel));
        assert!(warm.g_per_l.u > plain.g_per_l.u);
        let stated = Strength::of(Measurement {
            density_u: Some(0.0002),
            ..plain.from
        });
        let stated = stated.unwrap().mass_percent;
        assert!(!stated.doubts.contains(&Doubt::ReadingErrorAssumed));
        assert!(stated.u < plain.mass_percent.u);
    }

    #[test]
    fn a_reading_error_moves_the_strength_by_its_half_width() {
        let exact = |density| {
            Strength::of(Measurement {
                density_g_cm3: density,
                density_u: Some(0.001),
                temp_c: 20.0,
                temp_u_c: Some(0.0),
            })
            .unwrap()
        };
        let (middle, off) = (exact(1.08), exact(1.081));
        let moved = off.mass_percent.value - middle.mass_percent.value;
        assert!(moved < middle.mass_percent.u && moved > 0.9 * middle.mass_percent.u);
    }
}
