//! Words and numbers of the command line, checked and turned into the library's types.

use std::str::FromStr;

use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};

use oystermark::findings::Severity;
use oystermark::handling::Corner;
use oystermark::plate::sizes::PlateSize;
use oystermark::plate::{PlateKind, Process, ScannedFrom};
use oystermark::scan::Encoding;
use oystermark::settings::MeasureName;

/// A word that can be typed, what it says to people, and what it means.
type Word<T> = (&'static str, &'static str, T);

const PROCESSES: &[Word<Process>] = &[
    (
        "positive_on_metal",
        "tintype, ferrotype, aluminium",
        Process::PositiveOnMetal,
    ),
    ("positive_on_glass", "ambrotype", Process::PositiveOnGlass),
    (
        "negative_on_glass",
        "scanned with the light through it",
        Process::NegativeOnGlass,
    ),
];

const KINDS: &[Word<PlateKind>] = &[
    ("picture", "a picture of a scene", PlateKind::Picture),
    (
        "blank",
        "test plate: sensitized, never exposed, developed",
        PlateKind::Blank,
    ),
    ("flat", "test plate: evenly exposed", PlateKind::Flat),
    ("wedge", "test plate: exposed in steps", PlateKind::Wedge),
];

const ENCODINGS: &[Word<Encoding>] = &[
    ("srgb", "most scanner programs", Encoding::Srgb),
    ("adobe-rgb-1998", "Adobe RGB (1998)", Encoding::AdobeRgb1998),
    ("gamma-2.2", "a plain power of 2.2", Encoding::Gamma22),
    ("linear", "values proportional to light", Encoding::Linear),
];

const SIDES: &[Word<ScannedFrom>] = &[
    (
        "coated_side",
        "the collodion lay toward the scanner",
        ScannedFrom::CoatedSide,
    ),
    (
        "through_glass",
        "the bare glass lay toward the scanner",
        ScannedFrom::ThroughGlass,
    ),
];

const CORNERS: &[Word<Corner>] = &[
    ("top_left", "", Corner::TopLeft),
    ("top_right", "", Corner::TopRight),
    ("bottom_right", "", Corner::BottomRight),
    ("bottom_left", "", Corner::BottomLeft),
];

const GRADES: &[Word<Severity>] = &[
    ("trace", "needs looking for", Severity::Trace),
    ("visible", "seen at reading distance", Severity::Visible),
    ("spoils", "seen first", Severity::Spoils),
];

/// A parser that takes one of a few words.
fn one_of<T: Copy + Send + Sync + 'static>(
    words: &'static [Word<T>],
) -> impl TypedValueParser<Value = T> {
    let values = words.iter().map(|(word, help, _)| {
        let value = PossibleValue::new(*word);
        if help.is_empty() {
            value
        } else {
            value.help(*help)
        }
    });
    PossibleValuesParser::new(values).try_map(move |typed| {
        words
            .iter()
            .find(|(word, _, _)| *word == typed)
            .map(|(_, _, meaning)| *meaning)
            .ok_or("not one of the words that are known here")
    })
}

/// `--process`
pub fn process() -> impl TypedValueParser<Value = Process> {
    one_of(PROCESSES)
}

/// `--kind`
pub fn kind() -> impl TypedValueParser<Value = PlateKind> {
    one_of(KINDS)
}

/// `--encoding`
pub fn encoding() -> impl TypedValueParser<Value = Encoding> {
    one_of(ENCODINGS)
}

/// `--scanned-from`
pub fn scanned_from() -> impl TypedValueParser<Value = ScannedFrom> {
    one_of(SIDES)
}

/// `--drain-corner`
pub fn corner() -> impl TypedValueParser<Value = Corner> {
    one_of(CORNERS)
}

/// `--fail-on`
pub fn grade() -> impl TypedValueParser<Value = Severity> {
    one_of(GRADES)
}

/// `--measures`, one name of the list.
pub fn measure() -> impl TypedValueParser<Value = MeasureName> {
    let values = MeasureName::ALL
        .iter()
        .map(|measure| PossibleValue::new(measure.name()).help(measure.words()));
    PossibleValuesParser::new(values).try_map(|typed| {
        MeasureName::ALL
            .iter()
            .copied()
            .find(|measure| measure.name() == typed)
            .ok_or("no such measure")
    })
}

/// `--plate-size`
pub fn plate_size(typed: &str) -> Result<PlateSize, String> {
    PlateSize::from_str(typed).map_err(|error| error.to_string())
}

/// `--corners`: eight numbers, clockwise from the top left.
pub fn corners_px(typed: &str) -> Result<[[f64; 2]; 4], String> {
    let numbers: Vec<f64> = typed
        .split(',')
        .map(|part| number(part.trim()))
        .collect::<Result<_, _>>()?;
    let [x1, y1, x2, y2, x3, y3, x4, y4] = numbers[..] else {
        return Err(format!(
            "eight numbers are needed, x and y of each corner, but there are {}",
            numbers.len()
        ));
    };
    let corners = [[x1, y1], [x2, y2], [x3, y3], [x4, y4]];
    // Seen with y downward, turning right at every corner means going clockwise round a shape
    // without a dent.
    let turns_right = (0..4).all(|i| {
        let [a, b, c] = [0, 1, 2].map(|step| corners[(i + step) % 4]);
        (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) > 0.0
    });
    if !turns_right {
        return Err("the corners do not go clockwise round a plate; \
             the order is top left, top right, bottom right, bottom left"
            .to_owned());
    }
    Ok(corners)
}

/// `--support-density`, in density.
pub fn support_d(typed: &str) -> Result<f64, String> {
    // Clear glass to deep black japan; above 4 no scanner and no densitometer follows.
    within(typed, 0.0, 4.0, "a density lies")
}

/// `--dip-axis`, degrees clockwise from the vertical, brought into 0 to 180 (180 left out).
pub fn axis_deg(typed: &str) -> Result<f64, String> {
    Ok(within(typed, 0.0, 180.0, "an axis lies")? % 180.0)
}

/// `--developer-toward`, degrees clockwise from the top, brought into 0 to 360 (360 left out).
pub fn direction_deg(typed: &str) -> Result<f64, String> {
    Ok(within(typed, 0.0, 360.0, "a direction lies")? % 360.0)
}

fn within(typed: &str, low: f64, high: f64, what: &str) -> Result<f64, String> {
    let value = number(typed)?;
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(format!("{what} between {low} and {high}"))
    }
}

fn number(typed: &str) -> Result<f64, String> {
    typed
        .parse()
        .ok()
        .filter(|value: &f64| value.is_finite())
        .ok_or_else(|| format!("`{typed}` is not a number"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_have_to_go_clockwise_round_a_plate() {
        let corners = corners_px("10,10, 90,12, 92,110, 8,108").unwrap();
        assert_eq!(corners[2], [92.0, 110.0]);
        for (typed, says) in [
            ("10,10,8,108,92,110,90,12", "clockwise"),
            ("10,10,90,12,20,20,8,108", "clockwise"),
            ("0,0,0,0,0,0,0,0", "clockwise"),
            ("10,10,90,12,92,110", "eight numbers"),
            ("10,10,90,12,92,110,8,x", "`x` is not a number"),
            ("10,10,90,12,92,110,8,inf", "not a number"),
            ("", "not a number"),
        ] {
            let error = corners_px(typed).unwrap_err();
            assert!(error.contains(says), "{typed}: {error}");
        }
    }

    #[test]
    fn angles_are_brought_into_their_range() {
        assert_eq!(axis_deg("180"), Ok(0.0));
        assert_eq!(direction_deg("360"), Ok(0.0));
        assert_eq!(direction_deg("270"), Ok(270.0));
        assert!(axis_deg("181").is_err());
        assert!(direction_deg("-1").is_err());
        assert!(support_d("NaN").is_err());
        assert!(support_d("5").is_err());
    }

    #[test]
    fn words_are_those_of_the_reports() {
        for (word, _, meaning) in PROCESSES {
            assert_eq!(serde_json::to_value(meaning).unwrap(), *word);
        }
        for (word, _, meaning) in KINDS {
            assert_eq!(serde_json::to_value(meaning).unwrap(), *word);
        }
        for (word, _, meaning) in SIDES {
            assert_eq!(serde_json::to_value(meaning).unwrap(), *word);
        }
        for (word, _, meaning) in CORNERS {
            assert_eq!(serde_json::to_value(meaning).unwrap(), *word);
        }
        for (word, _, meaning) in GRADES {
            assert_eq!(serde_json::to_value(meaning).unwrap(), *word);
        }
    }
}
