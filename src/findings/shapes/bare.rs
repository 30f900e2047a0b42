//! Places that the collodion did not cover.

use crate::doubts::Doubt;
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, bare_false_alarms, confidence, is_unlike_others,
};
use crate::findings::{Fault, Finding, Polarity, Severity, Sign, SignName, Standing};
use crate::measures::BarePlace;
use crate::plate::{Plate, PlateKind, ScaleSource};
use crate::raster::geometry::ellipse_likeness;
use crate::units::Reading;

/// Share of the plate from which a bare place spoils it, and below which it is a trace. Our own choice.
const SEVERE_SHARE: [f64; 2] = [0.003, 0.03];

/// Share of a picture beyond which a dark place is a dark coat or a doorway rather than one that the pour
/// missed, unless it is proven: our own choice. The largest that was planted takes a twentieth.
const MOST_SHARE: f64 = 0.08;

/// Least likeness of an island in a picture to an ellipse: liquid draws itself round, hats, bowls and
/// waistcoats do not. Our own choice: planted islands, ellipses all, had 0.995 and more, dark things of scenes up
/// to 0.955.
const ISLAND_ROUND: f64 = 0.97;

/// Bare places that stand out from all that a coated plate shows.
pub(in crate::findings) fn bare(plate: &Plate, bare: &[BarePlace], findings: &mut Vec<Finding>) {
    // The steps of a stepped plate are even places with sharp lines, and the first may have no silver.
    if plate.kind == PlateKind::Wedge {
        return;
    }
    // Where the scan ends within the plate, the holder's ledge and its corners are cut too, and a piece of them
    // is as dark as a place without coating, unless it reaches far beyond both its neighbours.
    let cut = plate.kind == PlateKind::Picture && !plate.shows_its_edges();
    for place in bare {
        let at_rim = place.corner.is_some() || place.edge.is_some();
        let expected = bare_false_alarms(place);
        let vast = place.area_mm2 > MOST_SHARE * plate.width_mm * plate.height_mm;
        let dark_thing = plate.kind == PlateKind::Picture
            && !at_rim
            && ellipse_likeness(&place.outline_mm) < ISLAND_ROUND;
        let doubtful = (cut && at_rim && !is_unlike_others(place))
            || (vast && !is_proven(plate, place))
            || dark_thing;
        if expected <= FALSE_ALARMS_A_PLATE && !doubtful {
            findings.push(finding(plate, place, expected));
        }
    }
}

/// Silver of the border above a place from which no shadow of a scene is so low, density: light and veil only
/// add silver. Our own choice.
const BELOW_BORDER_D: f64 = 0.01;

/// Whether no shadow of a scene can be so low.
fn is_proven(plate: &Plate, bare: &BarePlace) -> bool {
    plate.kind != PlateKind::Picture || bare.below_border_d.is_some_and(|d| d >= BELOW_BORDER_D)
}

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
    let (standing, doubts) = match is_proven(plate, bare) {
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
