//! Words and figures for people: severity, certainty, places, numbers with unit.

use crate::doubts::Doubt;
use crate::findings::{Fault, Severity, Standing};

/// Labels of measured numbers, in the order in which they are shown. Keys without a label get one
/// made from the key itself.
const LABELS: [(&str, &str); 30] = [
    ("veil_d", "Veil above bare support"),
    ("fog_d", "Extra silver at the edge"),
    ("excess_d", "Extra silver"),
    ("peak_d", "Extra silver at its strongest"),
    ("count", "Marks"),
    ("hairs", "Hairs and fibres among them"),
    ("count_second_pass", "Weaker ones among them"),
    ("contrast_d", "Contrast"),
    ("range_d", "Range of the plate"),
    ("blacks_d", "Silver of the blacks above the border"),
    ("lights_d", "Silver of the lights above the border"),
    ("cast_b", "Yellower than the plate (bluer below 0), in b*"),
    ("depth_mm", "Depth, to about a third"),
    ("length_mm", "Length"),
    ("width_mm", "Width"),
    ("at_mm", "Where it enters, along the edge"),
    ("size_mm", "Size"),
    ("size_p10_mm", "A tenth are smaller than"),
    ("size_p90_mm", "A tenth are larger than"),
    ("spacing_mm", "Spacing"),
    ("area_mm2", "Area"),
    ("area_fraction", "Share of the plate"),
    ("per_cm2", "Marks a square centimetre"),
    ("axis_deg", "Axis, from the vertical"),
    ("direction_deg", "Direction, from twelve o'clock"),
    ("direction_spread_deg", "Spread of directions"),
    ("resultant_length", "Agreement of directions"),
    ("even_directions_p", "Chance of such agreement"),
    ("overdispersion", "Clustering, 1 by chance"),
    ("neighbour_ratio", "Spacing, 1 by chance"),
];

/// Whether a number is a share of the marks of which there is none.
pub(super) fn says_nothing(key: &str, value: f64) -> bool {
    value == 0.0 && ["hairs", "count_second_pass"].contains(&key)
}

/// What a severity means to the eye.
pub(super) fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Trace => "a trace, needs looking for",
        Severity::Visible => "visible, seen at reading distance",
        Severity::Spoils => "spoils the plate, seen first",
    }
}

/// One word for a severity.
pub(super) fn severity_short(severity: Severity) -> &'static str {
    match severity {
        Severity::Trace => "trace",
        Severity::Visible => "visible",
        Severity::Spoils => "spoils",
    }
}

/// One, two or three of three.
pub(super) fn severity_rank(severity: Severity) -> usize {
    match severity {
        Severity::Trace => 1,
        Severity::Visible => 2,
        Severity::Spoils => 3,
    }
}

/// Whether the plate itself proves it.
pub(super) fn standing(standing: Standing) -> &'static str {
    match standing {
        Standing::Measured => "measured on the plate itself",
        Standing::Suggested => "suggested: the scene might look like this",
    }
}

/// A probability in a word. The limits are our own choice.
pub(super) fn certainty(probability: f64) -> &'static str {
    match probability {
        p if p >= 0.97 => "all but certain",
        p if p >= 0.85 => "very likely",
        p if p >= 0.65 => "likely",
        p if p >= 0.45 => "about even",
        p if p >= 0.2 => "doubtful",
        _ => "unlikely",
    }
}

/// A probability as a share of a hundred; never claims 0 or 100.
pub(super) fn in_hundred(probability: f64) -> String {
    match probability * 100.0 {
        p if p < 1.0 => "under 1 in 100".to_owned(),
        p if p > 99.0 => "over 99 in 100".to_owned(),
        p => format!("{p:.0} in 100"),
    }
}

/// A probability in per cent; never claims 0 or 100.
pub(super) fn per_cent(probability: f64) -> String {
    match probability * 100.0 {
        p if p < 1.0 => "< 1 %".to_owned(),
        p if p > 99.0 => "> 99 %".to_owned(),
        p => format!("{p:.0} %"),
    }
}

/// How often a clean plate would show the like by chance.
pub(super) fn by_chance(expected_false_alarms: f64) -> Option<String> {
    if !expected_false_alarms.is_finite() || expected_false_alarms <= 0.0 {
        return None;
    }
    let plates = 1.0 / expected_false_alarms;
    Some(match plates {
        p if p < 2.0 => "a clean plate may well show this by chance".to_owned(),
        p if p >= 1e6 => "by chance on fewer than one in a million clean plates".to_owned(),
        p => format!("by chance on about one in {} clean plates", thousands(p)),
    })
}

/// Two significant figures with spaces between thousands.
fn thousands(value: f64) -> String {
    let power = 10f64.powf((value.log10().floor() - 1.0).max(0.0));
    grouped(((value / power).round() * power) as u64)
}

/// A whole number with thin gaps between thousands.
pub(super) fn grouped(value: u64) -> String {
    let digits = value.to_string();
    let mut text = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push('\u{202f}');
        }
        text.push(digit);
    }
    text
}

/// `top`, `top_left` ... in words.
pub(super) fn place(place: &str) -> String {
    place.replace('_', " ")
}

/// True for a corner (`top_left`), false for an edge (`top`).
pub(super) fn is_corner(place: &str) -> bool {
    place.contains('_') || place.contains(' ')
}

/// The nearest of eight directions, degrees clockwise from twelve o'clock.
pub(super) fn toward(direction_deg: f64) -> &'static str {
    const NAMES: [&str; 8] = [
        "the top",
        "the upper right",
        "the right",
        "the lower right",
        "the bottom",
        "the lower left",
        "the left",
        "the upper left",
    ];
    let sector = (direction_deg / 45.0).round().rem_euclid(8.0) as usize;
    NAMES[sector % NAMES.len()]
}

/// Position of a key among the labels; unknown keys come last.
pub(super) fn order(key: &str) -> usize {
    LABELS
        .iter()
        .position(|(name, _)| *name == key)
        .unwrap_or(LABELS.len())
}

/// The label of a measured number of a finding at `place`.
pub(super) fn label(fault: Fault, place: Option<&str>, key: &str) -> String {
    match (key, place) {
        ("at_mm", Some("top" | "bottom")) => return "Where it enters, from the left".to_owned(),
        ("at_mm", Some("left" | "right")) => return "Where it enters, from the top".to_owned(),
        _ => {}
    }
    match (fault, key) {
        (Fault::FlatImage, "range_d") => return "From the blacks to the lights".to_owned(),
        (Fault::Underfixed, "contrast_d") => {
            return "Like silver, beyond the film around".to_owned();
        }
        (Fault::UnevenPour, "range_d") => return "From thinnest to thickest".to_owned(),
        (Fault::Streaks | Fault::Ridges, "count") => return "Bands".to_owned(),
        (Fault::Scratch, "count") => return "Scratches".to_owned(),
        (Fault::Comets, "length_mm") => return "Tail, as far as it shows".to_owned(),
        // A tongue is lost in the scene long before it ends.
        (Fault::LightLeak, "length_mm") => return "Length, as far as it shows".to_owned(),
        _ => {}
    }
    if let Some((_, label)) = LABELS.iter().find(|(name, _)| *name == key) {
        return (*label).to_owned();
    }
    let bare = ["_mm2", "_mm", "_deg", "_fraction", "_d"]
        .iter()
        .find_map(|suffix| key.strip_suffix(suffix))
        .unwrap_or(key);
    capitalised(&bare.replace('_', " "))
}

/// First letter large.
pub(super) fn capitalised(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().collect::<String>() + chars.as_str(),
        None => String::new(),
    }
}

/// A measured number with its unit and uncertainty, for its key.
pub(super) fn figure(key: &str, value: f64, u: Option<f64>) -> String {
    // A chance so small that it would read as none.
    if key.ends_with("_p") && (0.0..0.005).contains(&value) {
        return "below 0.01".to_owned();
    }
    let (unit, factor) = unit_of(key);
    let (value, u) = (value * factor, u.map(|u| u * factor));
    let decimals = match unit {
        " D" => 2,
        "°" => 0,
        "" if value.fract() == 0.0 => 0,
        "" => 2,
        _ if value.abs() < 1.0 => 2,
        _ if u.is_some_and(|u| u < 1.0) || value.abs() < 10.0 => 1,
        _ => 0,
    };
    format!("{}{unit}", with_u(value, u, decimals))
}

/// A density with its uncertainty, with no more decimals than one step of the file justifies.
pub(super) fn density(value_d: f64, u: Option<f64>, step_d: Option<f64>) -> String {
    let decimals = super::rounding::step_decimals(step_d).min(2) as usize;
    format!("{} D", with_u(value_d, u, decimals))
}

fn unit_of(key: &str) -> (&'static str, f64) {
    match key {
        k if k.ends_with("_mm2") => (" mm²", 1.0),
        k if k.ends_with("_mm") => (" mm", 1.0),
        k if k.ends_with("_deg") => ("°", 1.0),
        k if k.ends_with("_fraction") => (" %", 100.0),
        k if k.ends_with("_d") => (" D", 1.0),
        _ => ("", 1.0),
    }
}

fn with_u(value: f64, u: Option<f64>, decimals: usize) -> String {
    let text = decimal(value, decimals);
    match u.filter(|u| *u > 0.0) {
        Some(u) => {
            let smallest = 10f64.powi(-(decimals as i32));
            format!("{text} ± {}", decimal(u.max(smallest), decimals))
        }
        None => text,
    }
}

/// A number with so many decimals and a true minus sign.
pub(super) fn decimal(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().any(|c| c.is_ascii_digit() && c != '0') => format!("−{rest}"),
        Some(rest) => rest.to_owned(),
        None => text,
    }
}

/// "at least" or "at most" where clipping makes a density one-sided.
pub(super) fn bound(doubts: &[Doubt], dark: bool) -> &'static str {
    if dark && doubts.contains(&Doubt::ClippedDark) {
        "at least "
    } else if !dark && doubts.contains(&Doubt::ClippedLight) {
        "at most "
    } else {
        ""
    }
}

/// Parts joined with commas and a last `and`.
pub(super) fn listed(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}

/// First letter large and a full stop at the end, unless the text is empty.
pub(super) fn sentence(text: &str) -> String {
    let text = capitalised(text.trim());
    if text.is_empty() || text.ends_with(['.', '!', '?']) {
        text
    } else {
        text + "."
    }
}

/// First letter small, unless the word is all capitals.
pub(super) fn lowered(text: &str) -> String {
    let mut chars = text.chars();
    match (chars.next(), chars.clone().next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => {
            first.to_lowercase().collect::<String>() + chars.as_str()
        }
        _ => text.to_owned(),
    }
}

/// Minutes in words.
pub(super) fn minutes(minutes: f64) -> String {
    match minutes.round() {
        m if m <= 1.0 => "about a minute".to_owned(),
        m if m < 90.0 => format!("about {m:.0} minutes"),
        m => format!("about {:.0} hours", m / 60.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_carry_their_unit_and_no_more_decimals_than_they_deserve() {
        assert_eq!(figure("fog_d", 0.2149, Some(0.018)), "0.21 ± 0.02 D");
        assert_eq!(figure("fog_d", -0.21, None), "−0.21 D");
        assert_eq!(figure("fog_d", -0.001, None), "0.00 D");
        assert_eq!(figure("depth_mm", 4.26, Some(0.3)), "4.3 ± 0.3 mm");
        assert_eq!(figure("size_mm", 0.231, Some(0.03)), "0.23 ± 0.03 mm");
        assert_eq!(figure("length_mm", 61.7, Some(2.2)), "62 ± 2 mm");
        assert_eq!(figure("area_fraction", 0.031, None), "3.1 %");
        assert_eq!(figure("count", 17.0, None), "17");
        assert_eq!(density(2.13, Some(0.3), Some(0.3)), "2.1 ± 0.3 D");
    }

    #[test]
    fn probabilities_never_claim_all_or_nothing() {
        assert_eq!(in_hundred(1.0), "over 99 in 100");
        assert_eq!(per_cent(0.0), "< 1 %");
        assert_eq!(certainty(0.9), "very likely");
    }

    #[test]
    fn chance_is_said_in_clean_plates() {
        assert_eq!(
            by_chance(0.0021).unwrap(),
            "by chance on about one in 480 clean plates"
        );
        assert!(by_chance(1e-9).unwrap().contains("million"));
        assert_eq!(by_chance(0.0), None);
        assert_eq!(thousands(12_345.0), "12\u{202f}000");
    }

    #[test]
    fn directions_wrap_round() {
        assert_eq!(toward(359.0), "the top");
        assert_eq!(toward(-45.0), "the upper left");
        assert_eq!(toward(135.0), "the lower right");
    }

    #[test]
    fn sentences_are_whole() {
        assert_eq!(sentence("make a plate"), "Make a plate.");
        assert_eq!(sentence("Make a plate. "), "Make a plate.");
        assert_eq!(sentence(""), "");
        assert_eq!(lowered("ISO scale"), "ISO scale");
    }

    #[test]
    fn labels_fall_back_on_the_key() {
        assert_eq!(label(Fault::Comets, None, "tail_length_mm"), "Tail length");
        assert_eq!(
            label(Fault::EdgeFog, Some("left"), "fog_d"),
            "Extra silver at the edge"
        );
        let enters = label(Fault::LightLeak, Some("right"), "at_mm");
        assert_eq!(enters, "Where it enters, from the top");
        assert!(order("fog_d") < order("tail_length_mm"));
    }
}
