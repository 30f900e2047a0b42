//! One cell: figures with their unit, yes and no, nothing.

use super::columns::Figure;
use super::units::{NoUnit, Unit};

/// What a cell that cannot be used is told, and what to write.
pub(super) type Wrong = (String, String);

/// Ways in which a spreadsheet's user leaves a cell open.
const OPEN: [&str; 9] = [
    "", "-", "\u{2013}", "\u{2014}", "?", "n/a", "na", "unknown", "none",
];

/// Whether a cell says nothing.
pub(super) fn is_open(text: &str) -> bool {
    OPEN.contains(&text.trim().to_lowercase().as_str())
}

/// Yes or no.
pub(super) fn yes_no(text: &str) -> Option<bool> {
    match text.trim().to_lowercase().as_str() {
        "yes" | "y" | "true" | "1" => Some(true),
        "no" | "n" | "false" | "0" => Some(false),
        _ => None,
    }
}

/// A figure as it is kept under its key. The header's unit goes; a cell may repeat it, or state one where
/// the header has none. `None` for a figure whose unit nothing states.
pub(super) fn figure(
    text: &str,
    figure: &Figure,
    unit: Option<Unit>,
    decimal_comma: bool,
) -> Result<Option<f64>, Wrong> {
    let text = text.trim();
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || "+-., ".contains(c)))
        .unwrap_or(text.len());
    let (number, behind) = text.split_at(end);
    let behind = behind.trim();
    let own = match behind {
        "" => None,
        _ => match Unit::read(behind, figure.quantity) {
            Ok(own) => Some(own),
            Err(NoUnit::WhichOunce) => {
                return Err((
                    "does not say the ounce of which country".to_owned(),
                    "write gr per US oz or gr per UK oz".to_owned(),
                ));
            }
            Err(NoUnit::Unknown) => {
                return Err((
                    "is no figure".to_owned(),
                    "write the figure alone, its unit in the header".to_owned(),
                ));
            }
        },
    };
    let value = self::number(number.trim(), decimal_comma)?;
    let unit = match (unit, own) {
        (Some(unit), Some(own)) if unit != own => {
            return Err((
                "has another unit than the header".to_owned(),
                "keep one unit in a column".to_owned(),
            ));
        }
        (unit, own) => own.or(unit),
    };
    let Some(unit) = unit else { return Ok(None) };
    let kept = unit.kept(value) / figure.per;
    let [least, most] = figure.range;
    if !(least..=most).contains(&kept) {
        return Err((
            "cannot be meant".to_owned(),
            "look at the figure and at the unit in the header".to_owned(),
        ));
    }
    Ok(Some(kept))
}

/// A number with a point, or with a comma where commas do not part the cells. A comma and a point in one
/// number may mean two things, and so may a comma where commas part the cells.
fn number(text: &str, decimal_comma: bool) -> Result<f64, Wrong> {
    let no_figure = |instead: &str| Err(("is no figure".to_owned(), instead.to_owned()));
    if text.contains(',') && (!decimal_comma || text.contains('.') || text.matches(',').count() > 1)
    {
        return no_figure("write it with a decimal point and without marks between thousands");
    }
    match text.replace(',', ".").parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => no_figure("write the figure alone, as in 12 or 12.5"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::columns::{Column, Holds};

    fn room(text: &str, unit: Option<Unit>, decimal_comma: bool) -> Result<Option<f64>, Wrong> {
        let Holds::Figure(room) = Column::RoomTemperature.holds() else {
            panic!("no figure")
        };
        figure(text, &room, unit, decimal_comma)
    }

    #[test]
    fn figures_are_kept_in_one_unit() {
        let (c, f) = (Some(Unit::Celsius), Some(Unit::Fahrenheit));
        assert_eq!(room("21.5", c, false), Ok(Some(21.5)));
        assert_eq!(room("21,5", c, true), Ok(Some(21.5)));
        assert_eq!(room("77", f, false), Ok(Some(25.0)));
        assert_eq!(room("77 F", f, false), Ok(Some(25.0)));
        assert_eq!(room("25 °C", None, false), Ok(Some(25.0)));
        assert_eq!(room("25", None, false), Ok(None), "C or F?");
    }

    #[test]
    fn nothing_is_guessed() {
        let c = Some(Unit::Celsius);
        for (text, comma) in [
            ("21,5", false),
            ("1.021,5", true),
            ("2,1,5", true),
            ("warm", false),
            ("=20+1", false),
            ("1e999", false),
            ("nan", false),
            ("21-22", false),
            ("77 F", false),
            ("200", false),
            ("1 2", false),
            ("", false),
        ] {
            assert!(room(text, c, comma).is_err(), "{text}");
        }
    }

    #[test]
    fn open_cells_say_nothing() {
        for text in ["", " ", "-", "?", "N/A"] {
            assert!(is_open(text));
        }
        assert!(!is_open("0"));
        assert_eq!(
            (yes_no("Yes"), yes_no(" n "), yes_no("x")),
            (Some(true), Some(false), None)
        );
    }
}
