//! What the fixer left: milky patches that are yellower or bluer than the plate.

use crate::doubts::Doubt;
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, TOO_COLOURFUL, confidence, milk_false_alarms, milk_severity,
};
use crate::findings::{CannotTell, Fault, Finding, Polarity, Sign, SignName, Standing};
use crate::handling::Spot;
use crate::measures::{ClearParts, MilkyPatch};
use crate::plate::{Plate, ScaleSource};
use crate::units::Reading;

/// A patch this near to an edge reaches it, millimetres: patches are told in squares of a millimetre, and a
/// bare rim and its blur lie outside them.
const AT_EDGE_MM: f64 = 3.0;

/// Milky patches, all in one finding; what no patch can be told from is said.
pub(in crate::findings) fn fixing(
    plate: &Plate,
    parts: Option<&ClearParts>,
    findings: &mut Vec<Finding>,
    cannot_tell: &mut Vec<CannotTell>,
) {
    let Some(parts) = parts else {
        cannot_tell.push(CannotTell {
            fault: Fault::Underfixed,
            because: "what the fixer leaves shows by its colour, and this scan is grey".to_owned(),
            make_this_plate:
                "no new plate: scan this one again in colour, with all automatic corrections off"
                    .to_owned(),
        });
        return;
    };
    let told: Vec<(&MilkyPatch, f64)> = parts
        .patches
        .iter()
        .map(|patch| (patch, milk_false_alarms(patch, parts)))
        .filter(|(_, expected)| *expected <= FALSE_ALARMS_A_PLATE)
        .collect();
    if !shows_fixing(parts) {
        cannot_tell.push(CannotTell {
            fault: Fault::Underfixed,
            because: format!(
                "the colours of this plate differ from place to place by {:.0} and more in a* and b* (age, hand colouring, uneven varnish or a coloured subject), which hides what a fixer leaves",
                parts.colourful
            ),
            make_this_plate:
                "an unexposed plate, developed and fixed as always and not varnished, scanned in colour"
                    .to_owned(),
        });
        return;
    }
    // Milk is of one colour on one plate: that of most of it.
    let yellow: f64 = told
        .iter()
        .map(|(patch, _)| patch.cast_b.signum() * patch.area_mm2)
        .sum();
    let (milk, expected): (Vec<&MilkyPatch>, Vec<f64>) = told
        .into_iter()
        .filter(|(patch, _)| (patch.cast_b > 0.0) == (yellow > 0.0))
        .unzip();
    if let Some(expected) = expected.into_iter().min_by(f64::total_cmp) {
        findings.push(finding(plate, parts, &milk, expected));
    }
}

/// Whether a plate is of one tint, so that milk would show on it.
pub(in crate::findings) fn shows_fixing(parts: &ClearParts) -> bool {
    parts.colourful <= TOO_COLOURFUL
}

fn finding(plate: &Plate, parts: &ClearParts, milk: &[&MilkyPatch], expected: f64) -> Finding {
    let area_mm2: f64 = milk.iter().map(|patch| patch.area_mm2).sum();
    let over_all = |of: fn(&MilkyPatch) -> f64| {
        milk.iter()
            .map(|patch| of(patch) * patch.area_mm2)
            .sum::<f64>()
            / area_mm2
    };
    let cast_b = over_all(|patch| patch.cast_b);
    let contrast_d = over_all(|patch| patch.excess_d);
    let area_share = area_mm2 / (plate.width_mm * plate.height_mm);
    let size = match plate.scale_source == ScaleSource::Unknown {
        true => format!("{:.1} % of the plate", 100.0 * area_share),
        false => format!("{area_mm2:.0} mm² in all"),
    };
    let cast = if cast_b > 0.0 { "yellow" } else { "blue-white" };
    let patches = match milk.len() {
        1 => format!("a {cast} patch"),
        count => format!("{count} {cast} patches"),
    };
    let box_mm = milk.iter().fold(
        [f64::MAX, f64::MAX, f64::MIN, f64::MIN],
        |[x0, y0, x1, y1], patch| {
            let b = patch.box_mm;
            [x0.min(b[0]), y0.min(b[1]), x1.max(b[2]), y1.max(b[3])]
        },
    );
    let place = milk.first().and_then(|patch| place(plate, patch.box_mm));
    Finding {
        id: String::new(),
        fault: Fault::Underfixed,
        place: place.map(|spot| spot.word().to_owned()),
        title: format!("Not fixed out: {patches}, {size}"),
        measured: vec![
            ("cast_b", Reading::new(cast_b, 2.0 * parts.colourful)),
            ("area_mm2", Reading::new(area_mm2, 0.2 * area_mm2)),
            // Scene and grain inside and around differ too.
            ("contrast_d", Reading::new(contrast_d, 0.1)),
        ],
        polarity: Polarity::MoreSilver,
        box_mm,
        outline_mm: None,
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: None,
        confidence: confidence(expected),
        expected_false_alarms: expected,
        standing: Standing::Measured,
        severity: milk_severity(cast_b, area_share),
        signs: signs(plate, milk, cast_b, place),
        doubts: vec![Doubt::Uncalibrated],
        figure: None,
    }
}

/// The corner, else the edge, that a box reaches; none in the middle of the plate or from side to side.
fn place(plate: &Plate, [x0, y0, x1, y1]: [f64; 4]) -> Option<Spot> {
    let near = [
        y0 <= AT_EDGE_MM,
        plate.width_mm - x1 <= AT_EDGE_MM,
        plate.height_mm - y1 <= AT_EDGE_MM,
        x0 <= AT_EDGE_MM,
    ];
    match near {
        [true, false, false, true] => Some(Spot::TopLeft),
        [true, true, false, false] => Some(Spot::TopRight),
        [false, true, true, false] => Some(Spot::BottomRight),
        [false, false, true, true] => Some(Spot::BottomLeft),
        [true, false, false, false] => Some(Spot::Top),
        [false, true, false, false] => Some(Spot::Right),
        [false, false, true, false] => Some(Spot::Bottom),
        [false, false, false, true] => Some(Spot::Left),
        _ => None,
    }
}

/// Share of a patch in the border from which the border is milky too.
const IN_BORDER: f64 = 0.1;

fn signs(plate: &Plate, milk: &[&MilkyPatch], cast_b: f64, place: Option<Spot>) -> Vec<Sign> {
    let mut signs = Vec::new();
    let words = format!(
        "it is {} than the plate by {:.0} in b*",
        if cast_b > 0.0 { "yellower" } else { "bluer" },
        cast_b.abs()
    );
    // By light from behind every milk is yellow, so there its colour tells nothing.
    if plate.process.is_positive() {
        signs.push(Sign::new(SignName::CastYellow, cast_b > 0.0, words));
    }
    if let Some(spot) = place {
        let words = format!("the largest patch reaches {}", spot.words());
        signs.push(Sign::seen(SignName::ReachesEdge, words));
    }
    if milk.iter().any(|patch| patch.in_border > IN_BORDER) {
        signs.push(Sign::seen(
            SignName::InBorder,
            "it goes on in the border under the ledge",
        ));
    }
    signs
}
