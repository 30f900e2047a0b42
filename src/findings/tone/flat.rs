//! A flat image: too little between the blacks and the lights.

use crate::doubts::Doubt;
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, LITTLE_CONTRAST_D, VEILED_RANGE_D, confidence, flat_severity,
    steps_false_alarms,
};
use crate::findings::{CannotTell, Fault, Finding, Polarity, Sign, SignName, Standing};
use crate::measures::Contrast;
use crate::plate::{Plate, PlateKind};

/// What a picture has less of beside a veil is suggested only. Our own judgement.
const SUGGESTED_SHARE: f64 = 0.7;

/// A flat image: on a stepped plate by its steps; on a picture only where a veil was found too, since a scene
/// of little contrast looks the same.
pub(in crate::findings) fn flat(
    plate: &Plate,
    contrast: &Contrast,
    findings: &mut Vec<Finding>,
    cannot_tell: &mut Vec<CannotTell>,
) {
    let range_d = contrast.range_d.value;
    let blacks_d = contrast.blacks_d.as_ref().map(|blacks| blacks.value);
    match plate.kind {
        PlateKind::Blank | PlateKind::Flat => {}
        PlateKind::Wedge => {
            let expected = steps_false_alarms(range_d, blacks_d, plate.process.is_positive());
            if expected <= FALSE_ALARMS_A_PLATE {
                findings.push(finding(plate, contrast, expected, Standing::Measured));
            }
        }
        PlateKind::Picture => {
            let veil = findings.iter().find(|found| found.fault == Fault::Veil);
            match veil.map(|veil| veil.expected_false_alarms) {
                Some(expected) if range_d < VEILED_RANGE_D => {
                    findings.push(finding(plate, contrast, expected, Standing::Suggested));
                }
                _ if range_d < LITTLE_CONTRAST_D => cannot_tell.push(little_contrast(contrast)),
                _ => {}
            }
        }
    }
}

fn little_contrast(contrast: &Contrast) -> CannotTell {
    let veiled = match &contrast.blacks_d {
        Some(blacks) if blacks.low() > BLACKS_D[1] => format!(
            ", and the blacks hold {:.2} D more silver than the border",
            blacks.value
        ),
        _ => String::new(),
    };
    CannotTell {
        fault: Fault::FlatImage,
        because: format!(
            "only {:.2} D lie between the blacks and the lights of the picture{veiled}; a flat plate looks like this, and a scene of little contrast (mist, snow, dusk) too",
            contrast.range_d.value
        ),
        make_this_plate: "a plate of a grey scale from black to white, or one exposed in steps with the dark slide, with the same bath, developer and light; read it with --kind wedge".to_owned(),
    }
}

fn finding(plate: &Plate, contrast: &Contrast, expected: f64, standing: Standing) -> Finding {
    let range_d = contrast.range_d.value;
    let (between, share) = match standing {
        Standing::Measured => ("from the darkest to the lightest step", 1.0),
        Standing::Suggested => (
            "between the blacks and the lights, under a veil",
            SUGGESTED_SHARE,
        ),
    };
    let mut measured = vec![("range_d", contrast.range_d.clone())];
    for (name, end) in [
        ("blacks_d", &contrast.blacks_d),
        ("lights_d", &contrast.lights_d),
    ] {
        measured.extend(end.clone().map(|end| (name, end)));
    }
    Finding {
        id: String::new(),
        fault: Fault::FlatImage,
        place: None,
        title: format!("Flat image, {range_d:.2} D {between}"),
        measured,
        polarity: Polarity::Mixed,
        box_mm: [0.0, 0.0, plate.width_mm, plate.height_mm],
        outline_mm: None,
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: None,
        confidence: share * confidence(expected),
        expected_false_alarms: expected,
        standing,
        severity: flat_severity(range_d),
        signs: signs(plate, contrast),
        doubts: vec![Doubt::Uncalibrated],
        figure: None,
    }
}

/// Silver of the blacks above the border from which they are veiled, and up to which they are clear, density.
const BLACKS_D: [f64; 2] = [0.15, 0.10];
/// Silver of the lights above the border up to which they are weak, and from which they are strong, density:
/// positives, then negatives. Of the 20 000 sound stepped plates that [`steps_false_alarms`] rests on about one
/// in a hundred has less than the first, about half have more than the second.
const LIGHTS_D: [[f64; 2]; 2] = [[0.70, 1.05], [1.05, 1.65]];

fn signs(plate: &Plate, contrast: &Contrast) -> Vec<Sign> {
    let mut signs = Vec::new();
    if let Some(blacks) = &contrast.blacks_d {
        let words = format!(
            "the blacks hold {:.2} D more silver than the unexposed border",
            blacks.value
        );
        let [veiled, clear] = BLACKS_D;
        if blacks.low() > veiled {
            signs.push(Sign::seen(SignName::BlacksVeiled, words));
        } else if blacks.high() < clear {
            signs.push(Sign::absent(SignName::BlacksVeiled, words));
        }
    }
    if let Some(lights) = &contrast.lights_d {
        let words = format!(
            "the lights hold {:.2} D more silver than the unexposed border",
            lights.value
        );
        let [weak, strong] = LIGHTS_D[usize::from(!plate.process.is_positive())];
        if lights.high() < weak {
            signs.push(Sign::seen(SignName::LightsWeak, words));
        } else if lights.low() > strong {
            signs.push(Sign::absent(SignName::LightsWeak, words));
        }
    }
    signs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Reading;

    #[test]
    fn a_range_alone_cannot_be_told_from_a_misty_scene() {
        let contrast = Contrast {
            range_d: Reading::new(0.31, 0.02),
            blacks_d: Some(Reading::new(0.4, 0.03)),
            lights_d: None,
        };
        let words = little_contrast(&contrast).because;
        assert!(
            words.contains("0.31 D") && words.contains("0.40 D"),
            "{words}"
        );
    }
}
