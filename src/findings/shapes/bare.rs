//! Places that the collodion did not cover.

use crate::doubts::Doubt;
use crate::findings::limits::{FALSE_ALARMS_A_PLATE, bare_false_alarms, confidence};
use crate::findings::{Fault, Finding, Polarity, Severity, Sign, SignName, Standing};
use crate::measures::BarePlace;
use crate::plate::{Plate, PlateKind, ScaleSource};
use crate::units::Reading;

/// Share of the plate from which a bare place spoils it, and below which it is a trace. Our own choice.
const SEVERE_SHARE: [f64; 2] = [0.003, 0.03];

/// Bare places that stand out from all that a coated plate shows.
pub(in crate::findings) fn bare(plate: &Plate, bare: &[BarePlace], findings: &mut Vec<Finding>) {
    // The steps of a stepped plate are even places with sharp lines, and the first may have no silver.
    if plate.kind == PlateKind::Wedge {
        return;
    }
    for place in bare {
        let expected = bare_false_alarms(place);
        if expected <= FALSE_ALARMS_A_PLATE {
            findings.push(finding(plate, place, expected));
        }
    }
}

/// Silver of the border above a place from which no shadow of a scene is so low, density: light and veil only
/// add silver. Our own choice.
const BELOW_BORDER_D: f64 = 0.01;

fn finding(plate: &Plate, bare: &BarePlace, expected: f64) -> Finding {
    let [x0, y0, x1, y1] = bare.box_mm;
    let (across, down) = (x1 - x0, y1 - y0);
    let share = bare.area_mm2 / (plate.width_mm * plate.height_mm);
    let size = match plate.scale_source {
        ScaleSource::Unknown => format!("{:.1} % of the plate", 100.0 * share),
        _ => format!("{across:.0} by {down:.0} mm"),
    };
    let (place, words) = match (bare.corner, bare.edge) {
        (Some(corner), _) => {
            let spot = corner.spot();
            (Some(spot.word()), format!("Bare place in {}", spot.words()))
        }
        (None, Some(edge)) => {
            let word = edge.word();
            (Some(word), format!("Bare place at the {word} edge"))
        }
        (None, None) => (None, "Bare island".to_owned()),
    };
    let signs = match place {
        Some(_) => vec![Sign::seen(
            SignName::ReachesEdge,
            "it reaches the plate's edge",
        )],
        None => vec![Sign::absent(
            SignName::ReachesEdge,
            "it lies within the coating",
        )],
    };
    let proven = plate.kind != PlateKind::Picture
        || bare.below_border_d.is_some_and(|d| d >= BELOW_BORDER_D);
    let (standing, doubts) = match proven {
        true => (Standing::Measured, Vec::new()),
        false => (Standing::Suggested, vec![Doubt::SceneMayDoIt]),
    };
    Finding {
        id: String::new(),
        fault: Fault::BareArea,
        place: place.map(str::to_owned),
        title: format!("{words}, {size}"),
        measured: vec![
            // The blur of the line, half a cell of a quarter millimetre along its length.
            (
                "area_mm2",
                Reading::new(bare.area_mm2, 0.25 * (across + down)),
            ),
            (
                "contrast_d",
                Reading::new(bare.contrast_d, 0.1 * bare.contrast_d),
            ),
        ],
        polarity: Polarity::LessSilver,
        box_mm: bare.box_mm,
        outline_mm: Some(bare.outline_mm.clone()),
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: None,
        confidence: confidence(expected),
        expected_false_alarms: expected,
        standing,
        severity: match share {
            share if share >= SEVERE_SHARE[1] => Severity::Spoils,
            share if share >= SEVERE_SHARE[0] => Severity::Visible,
            _ => Severity::Trace,
        },
        signs,
        doubts,
        figure: None,
    }
}
