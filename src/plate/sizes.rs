//! Plate sizes of the trade: their names, and what a maker may type for one.
//!
//! A size given by name brings one or more candidates in millimetres (`half` means another plate in
//! America than in England); a measured plate gets the name of the nearest size. Plates were and are
//! cut by hand, so a name is only a guess within [`GUESS_TOLERANCE_MM`].

use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::units::MM_PER_INCH;

/// Farthest that a side may be from a trade size and still get its name, millimetres.
// Period plates were cut by hand and their sizes are approximate (museum and dealers' pages say
// so); the allowance itself is our own choice, checked in `tests/published.rs`.
pub const GUESS_TOLERANCE_MM: f64 = 3.0;

/// Shortest and longest side that can be given, millimetres: half the smallest gem, and well above
/// the largest mammoth plate. Our own choice, to catch a wrong unit; `refuses_wrong_units` notices.
const GIVEN_SIDE_MM: [f64; 2] = [6.0, 1300.0];

/// A size that the trade has a name for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TradeSize {
    /// Short name, as it stands in reports: `quarter`, `half (UK)`.
    pub name: &'static str,
    /// Short side, millimetres.
    pub short_mm: f64,
    /// Long side, millimetres.
    pub long_mm: f64,
    /// Where the size is or was usual.
    pub usual_in: &'static str,
}

const fn inches(
    name: &'static str,
    short_in: f64,
    long_in: f64,
    usual_in: &'static str,
) -> TradeSize {
    TradeSize {
        name,
        short_mm: short_in * MM_PER_INCH,
        long_mm: long_in * MM_PER_INCH,
        usual_in,
    }
}

const fn millimetres(name: &'static str, short_mm: f64, long_mm: f64) -> TradeSize {
    TradeSize {
        name,
        short_mm,
        long_mm,
        usual_in: "continent",
    }
}

/// The sizes by name. A word in brackets tells sizes of one name apart; `(variant)` marks the rarer
/// cut, which has to be asked for in full.
// Whole to gem and double whole: a web page on 19th century plate sizes, the Living Image museum
// pages, the Century Dictionary (both half plates), L. McGinnis Schulze on tintype sizes (2014).
// Sheet sizes in inches, lantern, stereo and the metric sizes: from memory.
pub const TRADE_SIZES: &[TradeSize] = &[
    inches("whole", 6.5, 8.5, "US, UK"),
    inches("half (US)", 4.25, 5.5, "US"),
    inches("half (UK)", 4.75, 6.5, "UK"),
    inches("quarter", 3.25, 4.25, "US, UK"),
    inches("quarter (variant)", 3.125, 4.125, "US"),
    inches("sixth", 2.75, 3.25, "US"),
    inches("sixth (variant)", 2.5, 3.5, "US"),
    inches("eighth", 2.125, 3.25, "US"),
    inches("ninth", 2.0, 2.5, "US"),
    inches("sixteenth", 1.375, 1.625, "US"),
    inches("sixteenth (variant)", 1.625, 2.125, "US"),
    inches("gem (large)", 0.75, 1.0, "US"),
    inches("gem (small)", 0.5, 1.0, "US"),
    inches("double whole", 8.0, 13.0, "US"),
    inches("carte de visite", 2.5, 4.0, "US"),
    inches("4x5", 4.0, 5.0, "sheets"),
    inches("5x7", 5.0, 7.0, "sheets"),
    inches("8x10", 8.0, 10.0, "sheets"),
    inches("11x14", 11.0, 14.0, "sheets"),
    inches("14x17", 14.0, 17.0, "sheets"),
    inches("18x22", 18.0, 22.0, "US, mammoth"),
    inches("20x24", 20.0, 24.0, "US, mammoth"),
    inches("lantern (UK)", 3.25, 3.25, "UK"),
    inches("lantern (US)", 3.25, 4.0, "US"),
    inches("stereo", 3.25, 6.75, "UK"),
    millimetres("9x12 cm", 90.0, 120.0),
    millimetres("13x18 cm", 130.0, 180.0),
    millimetres("18x24 cm", 180.0, 240.0),
];

/// The trade size nearest to a measured plate.
///
/// Sides in millimetres, in either order. `None` when no size lies within [`GUESS_TOLERANCE_MM`] on
/// both sides.
///
/// ```
/// use oystermark::plate::sizes::nearest;
/// assert_eq!(nearest(83.1, 69.2).map(|size| size.name), Some("sixth"));
/// assert_eq!(nearest(100.0, 100.0), None);
/// ```
pub fn nearest(one_side_mm: f64, other_side_mm: f64) -> Option<&'static TradeSize> {
    let (short_mm, long_mm) = in_order(one_side_mm, other_side_mm);
    let misses_mm = |size: &TradeSize| {
        let short = (size.short_mm - short_mm).abs();
        let long = (size.long_mm - long_mm).abs();
        [short.max(long), short + long]
    };
    // A whisker more, so that a side exactly at the allowance is not lost to rounding.
    let near = |a_mm: f64, b_mm: f64| (a_mm - b_mm).abs() <= GUESS_TOLERANCE_MM + 1e-9;
    TRADE_SIZES
        .iter()
        .filter(|size| near(size.short_mm, short_mm) && near(size.long_mm, long_mm))
        .min_by(|a, b| {
            let ([worst_a, sum_a], [worst_b, sum_b]) = (misses_mm(a), misses_mm(b));
            worst_a.total_cmp(&worst_b).then(sum_a.total_cmp(&sum_b))
        })
}

/// One reading of a plate size, without an orientation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Sides {
    /// Short side, millimetres.
    pub short_mm: f64,
    /// Long side, millimetres.
    pub long_mm: f64,
}

impl Sides {
    /// Long side over short side, at least 1.
    pub fn aspect(&self) -> f64 {
        self.long_mm / self.short_mm
    }
}

/// The size of a plate as its maker gave it.
///
/// ```
/// use oystermark::plate::sizes::PlateSize;
/// let sixth: PlateSize = "sixth".parse().unwrap();
/// assert_eq!((sixth.candidates[0].short_mm * 100.0).round(), 6985.0);
/// let half: PlateSize = "half".parse().unwrap();
/// assert_eq!(half.candidates.len(), 2);
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlateSize {
    /// What was typed.
    pub given: String,
    /// What it can mean, the more usual first; never empty. Where there are several, the one whose
    /// aspect fits the plate's outline is meant.
    pub candidates: Vec<Sides>,
}

/// Why a plate size could not be understood.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SizeError {
    /// Neither a name nor two sides.
    #[error(
        "`{0}` is no plate size; give a name (sixth, quarter, half-us, half-uk, whole, 4x5, 13x18cm) or both sides with their unit (82.5x108mm, 3.25x4.25in)"
    )]
    Unknown(String),
    /// Two sides, but no unit, and no size of the trade is called so.
    #[error(
        "the plate size `{0}` has no unit; write it as in 82.5x108mm, 8.3x10.8cm or 3.25x4.25in"
    )]
    NoUnit(String),
    /// A side that no plate has.
    #[error(
        "the plate size `{given}` has a side of {side_mm:.1} mm, which no plate has; check the unit"
    )]
    NoSuchSide {
        /// What was typed.
        given: String,
        /// The side, millimetres.
        side_mm: f64,
    },
}

impl FromStr for PlateSize {
    type Err = SizeError;

    /// Reads a name (`sixth`, `1/6`, `half-uk`, `8x10`) or two sides with their unit
    /// (`82.5x108mm`, `3 1/4 x 4 1/4 in`), in either order.
    fn from_str(given: &str) -> Result<Self, SizeError> {
        let candidates = match sides_typed(given) {
            Some((a, b, Some(unit_mm))) => vec![checked(given, a * unit_mm, b * unit_mm)?],
            Some((a, b, None)) => {
                let (short, long) = in_order(a, b);
                let found = named(&format!("{short}x{long}"));
                if found.is_empty() {
                    return Err(SizeError::NoUnit(given.to_owned()));
                }
                found
            }
            None => named(&plain_name(given)),
        };
        if candidates.is_empty() {
            return Err(SizeError::Unknown(given.to_owned()));
        }
        Ok(PlateSize {
            given: given.to_owned(),
            candidates,
        })
    }
}

fn in_order(a: f64, b: f64) -> (f64, f64) {
    if a <= b { (a, b) } else { (b, a) }
}

fn checked(given: &str, a_mm: f64, b_mm: f64) -> Result<Sides, SizeError> {
    let (short_mm, long_mm) = in_order(a_mm, b_mm);
    for side_mm in [short_mm, long_mm] {
        if !(GIVEN_SIDE_MM[0]..=GIVEN_SIDE_MM[1]).contains(&side_mm) {
            return Err(SizeError::NoSuchSide {
                given: given.to_owned(),
                side_mm,
            });
        }
    }
    Ok(Sides { short_mm, long_mm })
}

/// Sizes that a plain name means: those of exactly that name, or else all of that name that differ
/// only in the word in brackets, the rarer variants left out.
fn named(plain: &str) -> Vec<Sides> {
    let sides = |size: &TradeSize| Sides {
        short_mm: size.short_mm,
        long_mm: size.long_mm,
    };
    let exact: Vec<_> = TRADE_SIZES
        .iter()
        .filter(|size| plain_name(size.name) == plain)
        .map(sides)
        .collect();
    if !exact.is_empty() {
        return exact;
    }
    TRADE_SIZES
        .iter()
        .filter(|size| {
            let stem = size.name.split(" (").next().unwrap_or(size.name);
            let stem = stem.trim_end_matches(" cm");
            !size.name.ends_with("(variant)") && stem == plain
        })
        .map(sides)
        .collect()
}

/// A name in the form in which names are compared: lower case, single spaces, the country last, no
/// word `plate`, fractions as words.
fn plain_name(typed: &str) -> String {
    let spaced = typed
        .to_lowercase()
        .replace(['-', '_', '(', ')', ',', '.'], " ");
    let mut country = None;
    let mut words = Vec::new();
    for word in spaced.split_whitespace() {
        match word {
            "plate" | "size" | "mammoth" => {}
            "us" | "american" => country = Some("us"),
            "uk" | "english" | "british" => country = Some("uk"),
            "full" | "1/1" => words.push("whole"),
            "1/2" => words.push("half"),
            "1/4" => words.push("quarter"),
            "1/6" => words.push("sixth"),
            "1/8" => words.push("eighth"),
            "1/9" => words.push("ninth"),
            "1/16" => words.push("sixteenth"),
            "cdv" => words.push("carte de visite"),
            other => words.push(other),
        }
    }
    words.extend(country);
    words.join(" ")
}

/// Two sides as typed, with the millimetres in their unit if one stands behind them.
fn sides_typed(typed: &str) -> Option<(f64, f64, Option<f64>)> {
    let text = typed
        .to_lowercase()
        .replace('×', "x")
        .replace(" by ", "x")
        .replace("mammoth", "");
    let text = text.trim();
    let (text, unit_mm) = strip_unit(text);
    let (one, other) = text.split_once('x')?;
    // A unit may stand behind the first side too, if it is the same.
    let (one, unit_of_one) = strip_unit(one.trim());
    if unit_of_one.is_some() && unit_of_one != unit_mm {
        return None;
    }
    Some((number(one)?, number(other)?, unit_mm))
}

fn strip_unit(text: &str) -> (&str, Option<f64>) {
    const UNITS: &[(&str, f64)] = &[
        ("mm", 1.0),
        ("cm", 10.0),
        ("inches", MM_PER_INCH),
        ("inch", MM_PER_INCH),
        ("in", MM_PER_INCH),
        ("\"", MM_PER_INCH),
        ("″", MM_PER_INCH),
    ];
    for (unit, unit_mm) in UNITS {
        if let Some(rest) = text.strip_suffix(unit) {
            return (rest.trim_end(), Some(*unit_mm));
        }
    }
    (text, None)
}

/// `3.25`, `3,25`, `3 1/4`, `3-1/4`, `3¼` or `1/2`.
fn number(text: &str) -> Option<f64> {
    if text.starts_with('-') {
        return None;
    }
    let text = text
        .replace('¼', " 1/4")
        .replace('½', " 1/2")
        .replace('¾', " 3/4")
        .replace('-', " ")
        .replace(',', ".");
    let mut sum = 0.0;
    let mut parts = 0;
    for part in text.split_whitespace() {
        parts += 1;
        sum += match part.split_once('/') {
            Some((above, below)) => digits(above)? / digits(below).filter(|below| *below > 0.0)?,
            None if parts == 1 => digits(part)?,
            None => return None,
        };
    }
    (1..=2).contains(&parts).then_some(sum)
}

/// A number without sign or exponent.
fn digits(text: &str) -> Option<f64> {
    if !text.chars().all(|c| c.is_ascii_digit() || c == '.') {
        return None;
    }
    text.parse().ok().filter(|value: &f64| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sides(typed: &str) -> Vec<(f64, f64)> {
        let size: PlateSize = typed.parse().unwrap_or_else(|error| panic!("{error}"));
        size.candidates
            .iter()
            .map(|s| {
                let tenths = |mm: f64| (mm * 100.0).round() / 100.0;
                (tenths(s.short_mm), tenths(s.long_mm))
            })
            .collect()
    }

    #[test]
    fn names_are_understood_as_people_type_them() {
        for typed in ["sixth", "Sixth plate", "1/6", "1/6 plate", "SIXTH-PLATE"] {
            assert_eq!(sides(typed), [(69.85, 82.55)], "{typed}");
        }
        assert_eq!(sides("quarter"), [(82.55, 107.95)]);
        assert_eq!(sides("quarter-variant"), [(79.38, 104.78)]);
        assert_eq!(sides("half-us"), [(107.95, 139.7)]);
        for typed in [
            "half-uk",
            "half (UK)",
            "English half plate",
            "UK half",
            "1/2 uk",
        ] {
            assert_eq!(sides(typed), [(120.65, 165.1)], "{typed}");
        }
        assert_eq!(sides("whole"), [(165.1, 215.9)]);
        assert_eq!(sides("full plate"), [(165.1, 215.9)]);
        assert_eq!(sides("carte-de-visite"), [(63.5, 101.6)]);
        assert_eq!(sides("double whole"), [(203.2, 330.2)]);
    }

    #[test]
    fn a_name_with_two_readings_keeps_both() {
        assert_eq!(sides("half"), [(107.95, 139.7), (120.65, 165.1)]);
        assert_eq!(sides("half plate"), sides("half"));
        assert_eq!(sides("gem").len(), 2);
        assert_eq!(sides("lantern").len(), 2);
    }

    #[test]
    fn sides_are_understood_in_either_order_and_any_unit() {
        for typed in [
            "82.5x108mm",
            "108 x 82.5 mm",
            "8.25x10.8cm",
            "82,5 × 108 mm",
            "82.5mm x 108mm",
        ] {
            assert_eq!(sides(typed), [(82.5, 108.0)], "{typed}");
        }
        for typed in [
            "3.25x4.25in",
            "3 1/4 x 4 1/4 in",
            "3-1/4x4-1/4 inches",
            "3¼ x 4¼\"",
            "4.25 by 3.25 inch",
        ] {
            assert_eq!(sides(typed), [(82.55, 107.95)], "{typed}");
        }
        assert_eq!(sides("4x5"), [(101.6, 127.0)]);
        assert_eq!(sides("5x4"), [(101.6, 127.0)]);
        assert_eq!(sides("8x10"), [(203.2, 254.0)]);
        assert_eq!(sides("5x7"), [(127.0, 177.8)]);
        assert_eq!(sides("13x18cm"), [(130.0, 180.0)]);
        assert_eq!(sides("13x18"), [(130.0, 180.0)]);
        assert_eq!(sides("mammoth 18x22"), [(457.2, 558.8)]);
    }

    #[test]
    fn refuses_what_it_cannot_know() {
        for typed in [
            "",
            "x",
            "postage stamp",
            "1/0",
            "0/0 x 1/0 mm",
            "-4x5in",
            "3 1/4 1/8x4in",
            "nanx4mm",
            "1e3x4mm",
            "82mmx4in",
            "½",
        ] {
            let error = typed.parse::<PlateSize>().unwrap_err();
            assert!(matches!(error, SizeError::Unknown(_)), "{typed}: {error}");
        }
        let error = "82.5x108".parse::<PlateSize>().unwrap_err();
        assert!(matches!(error, SizeError::NoUnit(_)));
    }

    #[test]
    fn refuses_wrong_units() {
        for typed in [
            "82.5x108in",
            "3.25x4.25mm",
            "0x4in",
            "4x99999999999999999999in",
        ] {
            let error = typed.parse::<PlateSize>().unwrap_err();
            assert!(matches!(error, SizeError::NoSuchSide { .. }), "{typed}");
            assert!(error.to_string().contains("check the unit"));
        }
    }

    #[test]
    fn every_trade_size_gets_its_own_name_back() {
        for size in TRADE_SIZES {
            assert_eq!(nearest(size.long_mm, size.short_mm), Some(size));
            assert!(sides(size.name).len() == 1, "{}", size.name);
        }
    }

    #[test]
    fn a_guess_stays_within_its_allowance() {
        assert_eq!(
            nearest(69.85 + 3.0, 82.55 - 3.0).map(|s| s.name),
            Some("sixth")
        );
        assert_eq!(nearest(69.85 + 3.1, 82.55), None);
        assert_eq!(nearest(81.3, 106.7).map(|s| s.name), Some("quarter"));
        assert_eq!(
            nearest(80.0, 105.5).map(|s| s.name),
            Some("quarter (variant)")
        );
        assert_eq!(nearest(f64::NAN, 82.55), None);
    }
}
