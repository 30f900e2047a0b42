//! Corners that the collodion did not cover.

use crate::findings::limits::{FALSE_ALARMS_A_PLATE, bare_false_alarms, confidence};
use crate::findings::{Fault, Finding, Polarity, Severity, Sign, SignName, Standing};
use crate::measures::BareCorner;
use crate::plate::{Plate, ScaleSource};
use crate::units::Reading;

/// Share of the plate from which a bare corner spoils it, and below which it is a trace. Our own choice.
const SEVERE_SHARE: [f64; 2] = [0.003, 0.03];

/// Silver below the rest of the plate from which a corner is one of several dark ones, density.
const ALIKE_DARK_D: f64 = 0.01;

/// Bare corners that stand out from all that a coated plate shows.
pub(in crate::findings) fn bare(plate: &Plate, bare: &[BareCorner], findings: &mut Vec<Finding>) {
    // Several dark corners are where the plate lay on the holder's supports.
    let dark = bare
        .iter()
        .filter(|corner| corner.below_rest_d > ALIKE_DARK_D);
    if dark.count() > 1 {
        return;
    }
    for corner in bare {
        let expected = bare_false_alarms(corner);
        if expected <= FALSE_ALARMS_A_PLATE {
            findings.push(finding(plate, corner, expected));
        }
    }
}

fn finding(plate: &Plate, bare: &BareCorner, expected: f64) -> Finding {
    let spot = bare.corner.spot();
    let [across, down] = bare.reach_mm;
    let [right, low] = spot.steps().map(|step| step > 0.0);
    let (w, h) = (plate.width_mm, plate.height_mm);
    let share = bare.area_mm2 / (w * h);
    let size = match plate.scale_source {
        ScaleSource::Unknown => format!("{:.1} % of the plate", 100.0 * share),
        _ => format!("{across:.0} by {down:.0} mm"),
    };
    Finding {
        id: String::new(),
        fault: Fault::BareArea,
        place: Some(spot.word().to_owned()),
        title: format!("Bare place in {}, {size}", spot.words()),
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
        box_mm: [
            if right { w - across } else { 0.0 },
            if low { h - down } else { 0.0 },
            if right { w } else { across },
            if low { h } else { down },
        ],
        outline_mm: Some(bare.outline_mm.clone()),
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: None,
        confidence: confidence(expected),
        expected_false_alarms: expected,
        standing: Standing::Measured,
        severity: match share {
            share if share >= SEVERE_SHARE[1] => Severity::Spoils,
            share if share >= SEVERE_SHARE[0] => Severity::Visible,
            _ => Severity::Trace,
        },
        signs: vec![Sign::seen(
            SignName::ReachesEdge,
            "it reaches the plate's edge",
        )],
        doubts: Vec::new(),
        figure: None,
    }
}
