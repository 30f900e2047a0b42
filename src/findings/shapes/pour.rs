//! A coating that is thicker on one side than on the other.

use crate::doubts::Doubt;
use crate::findings::limits::{FALSE_ALARMS_A_PLATE, confidence, pour_false_alarms, pour_severity};
use crate::findings::{Fault, Figure, Finding, Polarity, Sign, SignName, Standing};
use crate::handling::Spot;
use crate::measures::Pour;
use crate::plate::Plate;

/// One-sidedness (see [`Pour::one_sided`]) from which a rise has a direction. Our own choice.
const ONE_SIDED: f64 = 1.5;

/// An uneven pour, where the surface ranges more than clean even plates do.
pub(in crate::findings) fn pour(plate: &Plate, pour: &Pour, findings: &mut Vec<Finding>) {
    let expected = pour_false_alarms(pour.range_d.value);
    if expected > FALSE_ALARMS_A_PLATE {
        return;
    }
    let spot = thick_side(pour);
    let one_sided = pour.one_sided >= ONE_SIDED;
    let mut measured = vec![("range_d", pour.range_d.clone())];
    if one_sided {
        measured.push(("direction_deg", pour.direction_deg.clone()));
    }
    findings.push(Finding {
        id: String::new(),
        fault: Fault::UnevenPour,
        place: one_sided.then(|| spot.word().to_owned()),
        title: match one_sided {
            true => format!(
                "Uneven pour, {:.2} D over the plate, most silver at {}",
                pour.range_d.value,
                spot.words()
            ),
            false => format!("Uneven pour, {:.2} D over the plate", pour.range_d.value),
        },
        measured,
        polarity: Polarity::MoreSilver,
        box_mm: [0.0, 0.0, plate.width_mm, plate.height_mm],
        outline_mm: None,
        axis_deg: None,
        direction_deg: one_sided.then_some(pour.direction_deg.value),
        direction_spread_deg: None,
        members: None,
        confidence: confidence(expected),
        expected_false_alarms: expected,
        standing: Standing::Measured,
        severity: pour_severity(pour.range_d.value),
        signs: signs(pour),
        doubts: vec![Doubt::OneScan],
        figure: Some(Figure::Lie(pour.lie_d.clone())),
    });
}

/// A corner that holds more silver than all else by so much is thick, density.
const THICK_D: f64 = 0.02;
/// One-sidedness from which silver rises one way, and below which it does not.
const RISES_ONE_WAY: [f64; 2] = [3.0, 1.5];

/// Where most silver lies: the thick corner, or the edge or corner that silver rises toward where no corner
/// holds the most.
fn thick_side(pour: &Pour) -> Spot {
    match pour.highest_in_corner {
        true => pour.thick_corner.spot(),
        false => Spot::by_direction(pour.direction_deg.value),
    }
}

fn signs(pour: &Pour) -> Vec<Sign> {
    let corner = pour.thick_corner.spot().words();
    let mut signs = Vec::new();
    let excess_d = pour.corner_excess_d;
    if excess_d - excess_d.abs() * (pour.range_d.u / pour.range_d.value) > THICK_D {
        signs.push(Sign::seen(
            SignName::ThickCorner,
            format!("{corner} holds {excess_d:.2} D more than any other and the middle"),
        ));
    } else if !pour.highest_in_corner {
        signs.push(Sign::absent(
            SignName::ThickCorner,
            "no corner holds the most silver",
        ));
    }
    if pour.one_sided >= RISES_ONE_WAY[0] {
        signs.push(Sign::seen(
            SignName::OneSided,
            format!(
                "silver rises all the way toward {}",
                thick_side(pour).words()
            ),
        ));
    } else if pour.one_sided < RISES_ONE_WAY[1] {
        signs.push(Sign::absent(
            SignName::OneSided,
            "silver does not rise to one side only",
        ));
    }
    signs
}
