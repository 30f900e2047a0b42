//! The units a header may state, and their figures in the units that are kept.

/// Grams in a grain: by definition of the international pound (1959).
const GRAMS_PER_GRAIN: f64 = 0.064_798_91;

/// Litres in a United States fluid ounce: by definition, 1/128 of 231 cubic inches.
const LITRES_PER_US_OUNCE: f64 = 0.029_573_529_562_5;

/// Litres in an imperial fluid ounce: by definition, 1/160 of 4.54609 litres.
const LITRES_PER_UK_OUNCE: f64 = 0.028_413_062_5;

/// Days in a month, on average.
const DAYS_PER_MONTH: f64 = 365.2425 / 12.0;

/// What a figure measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Quantity {
    /// Kept in degrees Celsius.
    Temperature,
    /// Kept in grams a litre.
    Strength,
    /// Kept in seconds.
    Time,
    /// Kept in days.
    Age,
    /// Kept in per cent.
    Share,
    /// Kept in degrees of an angle.
    Angle,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unit {
    Celsius,
    Fahrenheit,
    GramsPerLitre,
    /// Grams in 100 millilitres, as the trade counts per cent.
    PerCentWeight,
    GrainsPerUsOunce,
    GrainsPerUkOunce,
    Seconds,
    Minutes,
    Hours,
    Days,
    Weeks,
    Months,
    PerCent,
    Degrees,
}

/// Why words are no unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoUnit {
    /// Grains an ounce, but the ounce of which country?
    WhichOunce,
    /// Not a unit of this quantity.
    Unknown,
}

impl Quantity {
    /// What a header may say, for people.
    pub(super) fn units(self) -> &'static str {
        match self {
            Quantity::Temperature => "C or F",
            Quantity::Strength => "g/L, %, gr per US oz or gr per UK oz",
            Quantity::Time => "s, min or h",
            Quantity::Age => "days, weeks or months",
            Quantity::Share => "%",
            Quantity::Angle => "deg",
        }
    }
}

impl Unit {
    /// Reads a unit of that quantity: `F`, `°C`, `g/L`, `gr per UK oz`, `minutes`.
    pub(super) fn read(text: &str, quantity: Quantity) -> Result<Unit, NoUnit> {
        let plain = text.to_lowercase().replace('°', "");
        let words: Vec<&str> = plain
            .split(|c: char| !(c.is_alphanumeric() || c == '%'))
            .filter(|word| {
                !matches!(
                    *word,
                    "" | "in" | "per" | "a" | "an" | "the" | "fluid" | "fl"
                )
            })
            .collect();
        match quantity {
            Quantity::Temperature => match words[..] {
                ["c" | "celsius" | "centigrade" | "degc"]
                | ["deg" | "degrees", "c" | "celsius"] => Ok(Unit::Celsius),
                ["f" | "fahrenheit" | "degf"] | ["deg" | "degrees", "f" | "fahrenheit"] => {
                    Ok(Unit::Fahrenheit)
                }
                _ => Err(NoUnit::Unknown),
            },
            Quantity::Strength => strength(&words),
            Quantity::Time => match words[..] {
                ["s" | "sec" | "secs" | "second" | "seconds"] => Ok(Unit::Seconds),
                ["min" | "mins" | "minute" | "minutes"] => Ok(Unit::Minutes),
                ["h" | "hour" | "hours"] => Ok(Unit::Hours),
                _ => Err(NoUnit::Unknown),
            },
            Quantity::Age => match words[..] {
                ["d" | "day" | "days"] => Ok(Unit::Days),
                ["week" | "weeks" | "wk" | "wks"] => Ok(Unit::Weeks),
                ["month" | "months"] => Ok(Unit::Months),
                _ => Err(NoUnit::Unknown),
            },
            Quantity::Share => match words[..] {
                ["%" | "percent" | "pct" | "rh"] | ["%", "rh"] | ["cent"] => Ok(Unit::PerCent),
                _ => Err(NoUnit::Unknown),
            },
            Quantity::Angle => match words[..] {
                ["deg" | "degrees"] => Ok(Unit::Degrees),
                // A lone degree sign was taken away above.
                [] if text.contains('°') => Ok(Unit::Degrees),
                _ => Err(NoUnit::Unknown),
            },
        }
    }

    /// A figure in this unit as one in the unit that is kept.
    pub(super) fn kept(self, value: f64) -> f64 {
        match self {
            Unit::Fahrenheit => (value - 32.0) / 1.8,
            Unit::PerCentWeight => 10.0 * value,
            Unit::GrainsPerUsOunce => value * GRAMS_PER_GRAIN / LITRES_PER_US_OUNCE,
            Unit::GrainsPerUkOunce => value * GRAMS_PER_GRAIN / LITRES_PER_UK_OUNCE,
            Unit::Minutes => 60.0 * value,
            Unit::Hours => 3600.0 * value,
            Unit::Weeks => 7.0 * value,
            Unit::Months => DAYS_PER_MONTH * value,
            Unit::Celsius
            | Unit::GramsPerLitre
            | Unit::Seconds
            | Unit::Days
            | Unit::PerCent
            | Unit::Degrees => value,
        }
    }
}

/// Grams a litre, per cent, or grains in the ounce of a country that is named.
fn strength(words: &[&str]) -> Result<Unit, NoUnit> {
    let has = |any: &[&str]| words.iter().any(|word| any.contains(word));
    match words {
        ["g" | "grams" | "gram", "l" | "litre" | "liter"] | ["gl"] => {
            return Ok(Unit::GramsPerLitre);
        }
        ["%" | "percent"] | ["%", "w", "v"] => return Ok(Unit::PerCentWeight),
        _ => {}
    }
    let grains = has(&["gr", "grain", "grains"]);
    let ounce = has(&["oz", "ounce", "ounces", "floz"]);
    let us = has(&["us", "usa", "american"]);
    let uk = has(&["uk", "imperial", "imp", "british", "english"]);
    match (grains && ounce, us, uk) {
        (true, true, false) => Ok(Unit::GrainsPerUsOunce),
        (true, false, true) => Ok(Unit::GrainsPerUkOunce),
        (true, _, _) => Err(NoUnit::WhichOunce),
        _ => Err(NoUnit::Unknown),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kept(value: f64, unit: &str, quantity: Quantity) -> f64 {
        Unit::read(unit, quantity).unwrap().kept(value)
    }

    /// 1 gr/oz = 2.19 g/L (US) and 2.28 g/L (UK): common figures of the trade, here by the definitions of
    /// grain and ounces. 45 gr/oz is 9.9 % (US) and 10.3 % (UK).
    #[test]
    fn strengths_in_every_unit() {
        let q = Quantity::Strength;
        assert!((kept(1.0, "gr per US oz", q) - 2.191).abs() < 5e-4);
        assert!((kept(1.0, "grains per UK fl. ounce", q) - 2.2806).abs() < 5e-4);
        assert!((kept(45.0, "gr/oz US", q) - 98.6).abs() < 0.05);
        assert!((kept(45.0, "gr/imperial oz", q) - 102.6).abs() < 0.05);
        assert_eq!(kept(6.0, "%", q), 60.0);
        assert_eq!(kept(60.0, "g/L", q), 60.0);
        assert_eq!(kept(60.0, "grams per litre", q), 60.0);
        assert_eq!(Unit::read("gr/oz", q), Err(NoUnit::WhichOunce));
        assert_eq!(Unit::read("g/oz", q), Err(NoUnit::Unknown));
    }

    #[test]
    fn temperatures_times_and_ages() {
        assert!((kept(77.0, "F", Quantity::Temperature) - 25.0).abs() < 1e-9);
        assert!((kept(77.0, "°F", Quantity::Temperature) - 25.0).abs() < 1e-9);
        assert_eq!(kept(-5.0, "deg C", Quantity::Temperature), -5.0);
        assert_eq!(kept(2.5, "min", Quantity::Time), 150.0);
        assert_eq!(kept(2.0, "weeks", Quantity::Age), 14.0);
        assert_eq!(kept(45.0, "%", Quantity::Share), 45.0);
        assert_eq!(kept(90.0, "°", Quantity::Angle), 90.0);
        for (text, quantity) in [
            ("", Quantity::Temperature),
            ("K", Quantity::Temperature),
            ("m", Quantity::Time),
            ("", Quantity::Angle),
        ] {
            assert_eq!(Unit::read(text, quantity), Err(NoUnit::Unknown), "{text}");
        }
    }
}
