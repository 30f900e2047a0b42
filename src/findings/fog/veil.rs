//! Veil: fog over the whole plate.

use super::{round2, share_of};
use crate::density::{DensityMap, ZeroSource};
use crate::doubts::Doubt;
use crate::findings::limits::{
    CLEAREST_BORDER_D, CLOUDS_SD_D, DARKEST_BORDER_D, FALSE_ALARMS_A_PLATE, STATED_SUPPORT_SD_D,
    USUAL_RANGE_SD_D, bare_offset_d, confidence, fog_severity, veil_false_alarms,
    veil_over_rim_false_alarms,
};
use crate::findings::{CannotTell, Fault, Finding, Polarity, Standing};
use crate::measures::Measures;
use crate::plate::{Part, Plate, PlateKind};
use crate::raster::stats::median;
use crate::units::Reading;

/// Veil: border (or unexposed plate) against bare support, a stated support, or the usual range.
pub(in crate::findings) fn veil(
    plate: &Plate,
    map: &DensityMap,
    measures: &Measures,
    findings: &mut Vec<Finding>,
    cannot_tell: &mut Vec<CannotTell>,
) {
    let positive = plate.process.is_positive();
    let Some(covered_d) = map.border_d else {
        cannot_tell.push(CannotTell {
            fault: Fault::Veil,
            because: "this plate has no border that was kept from the light, so silver of a veil and silver of the scene cannot be told apart".to_owned(),
            make_this_plate: blank_plate_words(plate),
        });
        return;
    };
    if let Some(finding) = veil_inside_border(plate, map, measures) {
        findings.push(finding);
        return;
    }
    let excess = |support_d: f64| plate.silver_sign() * (covered_d - support_d);
    // The clearest statement first: what the maker measured, then the plate's own rim.
    let against_support = match map.zero_source {
        ZeroSource::Stated => {
            let (support_d, offset) = (map.zero_d, [0.0, STATED_SUPPORT_SD_D]);
            let expected = veil_false_alarms(excess(support_d), offset);
            let words = "the support density that was given";
            Some((support_d, offset, expected, words))
        }
        _ => map.rim_d.map(|rim_d| {
            let expected = veil_over_rim_false_alarms(excess(rim_d), map.rim_edges);
            let words = "the bare rim of this plate";
            (rim_d, bare_offset_d(map.rim_edges), expected, words)
        }),
    };
    if let Some((support_d, offset, expected, words)) = against_support {
        if expected <= FALSE_ALARMS_A_PLATE {
            // A veil shows rims that would else be missed, so what they read by chance is no bias here.
            let veil = Reading::new(excess(support_d), 2.0 * offset[1])
                .doubted(&[map.zero_source.doubt(), Doubt::Uncalibrated]);
            findings.push(veil_finding(
                plate,
                measures,
                veil,
                expected,
                Standing::Measured,
                words,
            ));
            return;
        }
        if map.zero_source != ZeroSource::Stated && excess(support_d) > offset[0] {
            cannot_tell.push(CannotTell {
                fault: Fault::Veil,
                because: format!(
                    "the border shows {} D more silver than the bare rim, of which about {} is usual without a veil; a slight veil cannot be told from none",
                    round2(excess(support_d)),
                    round2(offset[0])
                ),
                make_this_plate: blank_plate_words(plate),
            });
        }
        if positive || map.zero_source == ZeroSource::Stated {
            return;
        }
    }
    // Without bare support only a border far outside the usual range speaks, and only in a scan that
    // shows the plate in its surround: a picture cut out or of a print has had its light changed.
    if !plate.found {
        cannot_tell.push(CannotTell {
            fault: Fault::Veil,
            because: format!(
                "the unexposed border reads {} D, but neither bare support nor the lid beside the plate is in the scan to judge that by",
                round2(covered_d)
            ),
            make_this_plate: blank_plate_words(plate),
        });
        return;
    }
    let beyond_d = match positive {
        true => DARKEST_BORDER_D - covered_d,
        false => match plate.surround_light.and_then(crate::units::density_of) {
            Some(surround_d) => covered_d - surround_d - CLEAREST_BORDER_D,
            None => covered_d - CLEAREST_BORDER_D,
        },
    };
    let expected = veil_false_alarms(beyond_d, [0.0, USUAL_RANGE_SD_D]);
    if expected <= FALSE_ALARMS_A_PLATE {
        // At least what lies outside the range; the support itself may be anywhere inside it.
        let veil = Reading::new(beyond_d + 0.1, 0.15).doubted(&[
            Doubt::ZeroFromBorder,
            Doubt::Uncalibrated,
            Doubt::FlareUnknown,
        ]);
        let words = "the usual range of bare supports";
        findings.push(veil_finding(
            plate,
            measures,
            veil,
            expected,
            Standing::Suggested,
            words,
        ));
    } else if map.rim_d.is_none() {
        cannot_tell.push(CannotTell {
            fault: Fault::Veil,
            because: format!(
                "the unexposed border reads {} D, which may be the bare support or support under a veil; {}",
                round2(covered_d),
                match plate.rims.iter().any(Option::is_some) {
                    true => "the strip along the cut is too narrow or too straight to tell bare support from a lip of the coating",
                    false => "nothing bare lies beside it",
                }
            ),
            make_this_plate: blank_plate_words(plate),
        });
    }
}

/// On a blank plate: fog that the holder's ledge kept off, so it came through the camera.
fn veil_inside_border(plate: &Plate, map: &DensityMap, measures: &Measures) -> Option<Finding> {
    let bordered = plate.ledge.width_mm.iter().any(Option::is_some);
    if plate.kind != PlateKind::Blank || !bordered {
        return None;
    }
    let (silver, _) = map.silver_grid(plate, 1.0, |part| part == Part::Picture);
    let mut inside: Vec<f64> = silver.iter().copied().flatten().collect();
    let excess = median(&mut inside)? - map.silver(map.border_d?);
    let spread = [0.0, CLOUDS_SD_D];
    let expected = veil_false_alarms(excess, spread);
    (expected <= FALSE_ALARMS_A_PLATE).then(|| {
        let veil = Reading::new(excess, 2.0 * CLOUDS_SD_D)
            .doubted(&[Doubt::ZeroFromBorder, Doubt::Uncalibrated]);
        let words = "the border that the holder kept dark";
        veil_finding(plate, measures, veil, expected, Standing::Measured, words)
    })
}

fn blank_plate_words(plate: &Plate) -> String {
    let support = match plate.process.is_positive() {
        true => "uncoated piece of the same plate stock",
        false => "piece of the same clean glass",
    };
    format!(
        "an unexposed plate: coat, sensitize and develop it as always without drawing the slide, and scan it together with an {support}; or give that support's density with --support-density"
    )
    .replace("an piece", "a piece")
}

fn veil_finding(
    plate: &Plate,
    measures: &Measures,
    veil: Reading,
    expected: f64,
    standing: Standing,
    against: &str,
) -> Finding {
    let value = veil.value;
    let doubts = veil.doubts.clone();
    let border_share = Reading::new(measures.tone.range_d.value, measures.tone.range_d.u);
    Finding {
        id: String::new(),
        fault: Fault::Veil,
        place: None,
        title: format!(
            "Veil over the whole plate, about {} D above {against}",
            round2(value)
        ),
        measured: vec![("veil_d", veil), ("range_d", border_share)],
        polarity: Polarity::MoreSilver,
        box_mm: [0.0, 0.0, plate.width_mm, plate.height_mm],
        outline_mm: None,
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: None,
        confidence: confidence(expected) * share_of(standing),
        expected_false_alarms: expected,
        standing,
        severity: fog_severity(value),
        signs: Vec::new(),
        doubts,
        figure: None,
    }
}
