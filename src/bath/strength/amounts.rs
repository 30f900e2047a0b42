//! Concentrations as they are typed and shown.

use std::fmt;
use std::str::FromStr;

use super::curve;

/// A grain in grams, exact (international yard and pound agreement, 1959; NIST Handbook 44, appendix C, from memory).
pub const GRAIN_G: f64 = 0.064_798_91;

/// A US fluid ounce in litres, exact.
pub const US_OUNCE_L: f64 = 0.029_573_529_562_5;

/// An imperial fluid ounce in litres, exact.
pub const UK_OUNCE_L: f64 = 0.028_413_062_5;

/// How a concentration is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Grams of silver nitrate in a litre of the bath.
    GramsPerLitre,
    /// Grams in 100 ml of the bath, per cent weight by volume.
    PercentByVolume,
    /// Grams in 100 g of the bath, per cent by mass.
    PercentByMass,
    /// Grains in a US fluid ounce.
    GrainsPerUsOunce,
    /// Grains in an imperial fluid ounce.
    GrainsPerUkOunce,
}

/// The units in the spelling that is shown, and further spellings that are understood.
const SPELLINGS: [(Unit, &str, &[&str]); 5] = [
    (Unit::GramsPerLitre, "g/l", &["g/litre", "g/liter"]),
    (Unit::PercentByVolume, "%w/v", &["w/v%", "w/v"]),
    (Unit::PercentByMass, "%w/w", &["w/w%", "w/w"]),
    (
        Unit::GrainsPerUsOunce,
        "gr/us-oz",
        &["gr/usoz", "gr/oz-us", "gr/ozus"],
    ),
    (
        Unit::GrainsPerUkOunce,
        "gr/uk-oz",
        &["gr/ukoz", "gr/oz-uk", "gr/ozuk"],
    ),
];

/// A concentration with its unit: `100 g/l`, `9 %w/v`, `45 gr/us-oz`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Concentration {
    /// The number.
    pub value: f64,
    /// What it counts.
    pub unit: Unit,
}

impl Concentration {
    /// Grams a litre at that temperature; `None` for a share by mass outside the table.
    pub fn g_per_l(self, temp_c: f64) -> Option<f64> {
        Some(match self.unit {
            Unit::GramsPerLitre => self.value,
            Unit::PercentByVolume => self.value * 10.0,
            Unit::PercentByMass => {
                if !(0.0..=curve::MOST_PERCENT).contains(&self.value) {
                    return None;
                }
                10.0 * self.value * curve::density(self.value, temp_c)
            }
            Unit::GrainsPerUsOunce => self.value * GRAIN_G / US_OUNCE_L,
            Unit::GrainsPerUkOunce => self.value * GRAIN_G / UK_OUNCE_L,
        })
    }
}

impl FromStr for Concentration {
    type Err = String;

    fn from_str(typed: &str) -> Result<Self, String> {
        let plain: String = typed.to_lowercase().split_whitespace().collect();
        let end = plain
            .find(|c: char| !(c.is_ascii_digit() || ".,-+".contains(c)))
            .unwrap_or(plain.len());
        let (number, unit) = plain.split_at(end);
        let value: f64 = number
            .parse()
            .map_err(|_| format!("`{typed}` does not begin with a number, as in 100g/l"))?;
        let ways = "g/l, %w/v (grams in 100 ml), %w/w (grams in 100 g), gr/us-oz or gr/uk-oz";
        let unit = SPELLINGS
            .iter()
            .find(|(_, name, others)| unit == *name || others.contains(&unit))
            .map(|(unit, ..)| *unit)
            .ok_or_else(|| match unit {
                "%" => format!("`{typed}` may mean by volume or by mass: say %w/v or %w/w"),
                "gr/oz" => format!("`{typed}`: which ounce? say gr/us-oz or gr/uk-oz"),
                _ => format!("`{typed}` has no known unit: {ways}"),
            })?;
        if !(value > 0.0 && value.is_finite()) {
            return Err(format!("`{typed}` is not above zero"));
        }
        Ok(Concentration { value, unit })
    }
}

impl fmt::Display for Concentration {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let name = SPELLINGS
            .iter()
            .find(|(unit, ..)| *unit == self.unit)
            .map_or("", |(_, name, _)| name);
        write!(f, "{} {name}", self.value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_told_apart_and_never_guessed() {
        let typed = |text: &str| text.parse::<Concentration>();
        assert_eq!(typed("100 g/L").unwrap().unit, Unit::GramsPerLitre);
        assert_eq!(typed("9%w/v").unwrap().g_per_l(20.0), Some(90.0));
        assert!(typed("9%").unwrap_err().contains("%w/w"));
        assert!(typed("45 gr/oz").unwrap_err().contains("which ounce"));
        assert!(typed("45").unwrap_err().contains("no known unit"));
        assert!(typed("-4 g/l").unwrap_err().contains("above zero"));
        assert!(typed("g/l").unwrap_err().contains("number"));
        assert_eq!(typed("45 GR/US-OZ").unwrap().to_string(), "45 gr/us-oz");
    }
}
