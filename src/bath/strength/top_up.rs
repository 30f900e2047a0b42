//! What to add to a bath to bring it to another strength.

use super::curve;
use super::{Concentration, Strength, StrengthError};
use crate::units::Reading;

/// What to add.
#[derive(Debug, Clone, PartialEq)]
pub enum TopUp {
    /// The strength cannot be told from the target by this reading.
    AsItIs,
    /// Dry silver nitrate.
    SilverNitrate {
        /// Grams to add.
        grams: Reading,
        /// Litres of bath there will be.
        litres_after: f64,
    },
    /// Distilled water.
    Water {
        /// Millilitres to add.
        ml: Reading,
        /// Litres of bath there will be.
        litres_after: f64,
    },
}

/// What brings `litres` of a bath to `target`. Masses add up, volumes do not: the salt takes room of its own, so
/// the bath is reckoned by mass (density times volume) before and after.
///
/// # Errors
/// A volume that is none, a target beyond 40 per cent by mass.
pub fn top_up(bath: &Strength, litres: f64, target: Concentration) -> Result<TopUp, StrengthError> {
    if !(litres > 0.0 && litres.is_finite()) {
        return Err(StrengthError::Litres(litres));
    }
    let temp_c = bath.from.temp_c;
    let outside = || StrengthError::Target(target.to_string());
    let wanted_g_per_l = target.g_per_l(temp_c).ok_or_else(outside)?;
    let wanted_percent = curve::percent_of(wanted_g_per_l, temp_c).ok_or_else(outside)?;
    if (wanted_g_per_l - bath.g_per_l.value).abs() <= bath.g_per_l.u {
        return Ok(TopUp::AsItIs);
    }
    let bath_g = 1000.0 * litres * bath.from.density_g_cm3;
    let (now, u) = (bath.mass_percent.value, bath.mass_percent.u);
    let litres_with =
        |added_g: f64| (bath_g + added_g) / curve::density(wanted_percent, temp_c) / 1000.0;
    let doubts = &bath.mass_percent.doubts;
    Ok(if wanted_percent > now {
        let per_percent = bath_g / (100.0 - wanted_percent);
        let grams = per_percent * (wanted_percent - now);
        TopUp::SilverNitrate {
            grams: Reading::new(grams, per_percent * u).doubted(doubts),
            litres_after: litres_with(grams),
        }
    } else {
        let per_percent = bath_g / wanted_percent;
        let water_g = per_percent * (now - wanted_percent);
        let of_water = curve::water(temp_c);
        TopUp::Water {
            ml: Reading::new(water_g / of_water, per_percent * u / of_water).doubted(doubts),
            litres_after: litres_with(water_g),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bath::strength::Measurement;

    fn bath(density_g_cm3: f64) -> Strength {
        Strength::of(Measurement {
            density_g_cm3,
            density_u: None,
            temp_c: 20.0,
            temp_u_c: None,
        })
        .unwrap()
    }

    /// The salt that goes in and the salt of the strengthened bath are the same.
    #[test]
    fn silver_is_neither_made_nor_lost() {
        let weak = bath(1.0600);
        let target: Concentration = "100 g/l".parse().unwrap();
        let Ok(TopUp::SilverNitrate {
            grams,
            litres_after,
        }) = top_up(&weak, 2.0, target)
        else {
            panic!("silver nitrate is wanted");
        };
        let before = 2.0 * weak.g_per_l.value;
        assert!((before + grams.value - 100.0 * litres_after).abs() < 1e-6);
        assert!(litres_after > 2.0 && grams.u > 0.0);

        let target: Concentration = "70 g/l".parse().unwrap();
        let strong = bath(1.0882);
        let Ok(TopUp::Water { ml, litres_after }) = top_up(&strong, 1.0, target) else {
            panic!("water is wanted");
        };
        assert!((strong.g_per_l.value - 70.0 * litres_after).abs() < 1e-6);
        assert!((1.0 + ml.value / 1000.0 - litres_after).abs() < 0.01);
    }

    #[test]
    fn a_difference_within_the_reading_is_none() {
        let target: Concentration = "10 %w/w".parse().unwrap();
        assert_eq!(top_up(&bath(1.0882), 1.0, target), Ok(TopUp::AsItIs));
        let target: Concentration = "700 g/l".parse().unwrap();
        let error = top_up(&bath(1.0882), 1.0, target).unwrap_err();
        assert!(error.to_string().contains("40 %"), "{error}");
        let target: Concentration = "90 g/l".parse().unwrap();
        assert!(top_up(&bath(1.0882), 0.0, target).is_err());
    }
}
