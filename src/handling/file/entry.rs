//! The value of one entry: a place, a side or degrees.

use toml::Spanned;
use toml::de::DeValue;

use super::mistakes::{HandlingError, shown};
use super::names::{nearest_spot, plain_words, spaced, spot_of};
use crate::handling::{ScannedFrom, Spot};

/// One entry of the file.
pub(super) struct Entry<'a> {
    pub(super) entry: &'static str,
    pub(super) line: usize,
    pub(super) value: &'a Spanned<DeValue<'a>>,
}

impl Entry<'_> {
    fn wrong(&self, instead: String) -> HandlingError {
        let found = match self.value.get_ref() {
            DeValue::String(text) => format!("\"{}\"", shown(text)),
            DeValue::Integer(number) => shown(number.as_str()),
            DeValue::Float(number) => shown(number.as_str()),
            DeValue::Boolean(yes) => yes.to_string(),
            DeValue::Datetime(_) => "a date".to_owned(),
            DeValue::Array(_) => "a list".to_owned(),
            DeValue::Table(_) => "a section".to_owned(),
        };
        HandlingError::Value {
            line: self.line,
            entry: self.entry,
            found,
            instead,
        }
    }

    /// An edge, a corner or the middle.
    pub(super) fn spot(&self, fits: fn(Spot) -> bool) -> Result<Spot, HandlingError> {
        let text = self.value.get_ref().as_str();
        if let Some(spot) = text.and_then(spot_of).filter(|spot| fits(*spot)) {
            return Ok(spot);
        }
        let like = text.and_then(|text| nearest_spot(text, fits));
        let entry = self.entry;
        Err(self.wrong(match like {
            Some(spot) => format!("write {entry} = \"{}\"", spaced(spot)),
            None if fits(Spot::Top) => {
                let middle = if fits(Spot::Middle) {
                    ", or \"middle\""
                } else {
                    ""
                };
                format!(
                    "name an edge or a corner, as in {entry} = \"bottom\" or \"bottom left\"{middle}"
                )
            }
            None => format!("name a corner, as in {entry} = \"bottom left\""),
        }))
    }

    /// The side toward the scanner.
    pub(super) fn side(&self) -> Result<ScannedFrom, HandlingError> {
        let said = self.value.get_ref().as_str().map(plain_words);
        let said: Vec<&str> = said.iter().flatten().map(String::as_str).collect();
        match said[..] {
            ["coated"] | ["coated", "side"] | ["film"] | ["film", "side"] => {
                Ok(ScannedFrom::CoatedSide)
            }
            ["through", "glass"] | ["glass"] | ["glass", "side"] => Ok(ScannedFrom::ThroughGlass),
            _ => Err(self.wrong(
                "write scanned_from = \"coated side\" or scanned_from = \"through the glass\""
                    .to_owned(),
            )),
        }
    }

    /// A figure from 0 to `most`, which counts as 0 again.
    pub(super) fn degrees(&self, most: f64) -> Result<f64, HandlingError> {
        let value = match self.value.get_ref() {
            DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix())
                .ok()
                .map(|whole| whole as f64),
            DeValue::Float(number) => number.as_str().parse().ok(),
            _ => None,
        };
        value
            .filter(|deg: &f64| (0.0..=most).contains(deg))
            .map(|deg| deg % most)
            .ok_or_else(|| {
                self.wrong(format!(
                    "write a figure from 0 to {most} without quotes, as in {} = 90",
                    self.entry
                ))
            })
    }
}
