//! Dust of the scanner's glass, told by a second scan of the plate turned half round.

use super::limits::{LEAST_FALSE_ALARMS, confidence};
use super::{Fault, Finding, Mark, Polarity, Severity, Sign, SignName, Standing};
use crate::measures::{Piece, SpeckMeasures};
use crate::plate::Plate;
use crate::raster::stats::median;
use crate::units::Reading;

/// One finding for all dust on the glass over the plate.
pub(super) fn on_the_glass(plate: &Plate, marks: &SpeckMeasures, findings: &mut Vec<Finding>) {
    let Some(pieces) = marks.glass.as_ref().filter(|pieces| !pieces.is_empty()) else {
        return;
    };
    let of = |what: fn(&Piece) -> f64| median(&mut pieces.iter().map(what).collect::<Vec<f64>>());
    let hairs = pieces.iter().filter(|piece| piece.long.is_some()).count();
    let mut measured = vec![
        ("count", Reading::new(pieces.len() as f64, 0.0)),
        ("hairs", Reading::new(hairs as f64, 0.0)),
    ];
    if let Some(size_mm) = of(|piece| piece.size_mm) {
        measured.push(("size_mm", Reading::new(size_mm, 0.5 * plate.pitch_mm)));
    }
    if let Some(contrast_d) = of(|piece| piece.contrast_d.abs()) {
        measured.push(("contrast_d", Reading::new(contrast_d, 0.1 * contrast_d)));
    }
    let more = pieces.iter().filter(|piece| piece.contrast_d > 0.0).count();
    let empty = [f64::INFINITY, f64::INFINITY, 0.0, 0.0];
    findings.push(Finding {
        id: String::new(),
        fault: Fault::ScanDust,
        place: None,
        title: title(pieces.len() - hairs, hairs),
        measured,
        polarity: match (more, pieces.len() - more) {
            (_, 0) => Polarity::MoreSilver,
            (0, _) => Polarity::LessSilver,
            _ => Polarity::Mixed,
        },
        box_mm: pieces.iter().fold(empty, |[x0, y0, x1, y1], piece| {
            let [a, b, c, d] = piece.box_mm;
            [x0.min(a), y0.min(b), x1.max(c), y1.max(d)]
        }),
        outline_mm: None,
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: Some(pieces.iter().map(mark).collect()),
        confidence: confidence(LEAST_FALSE_ALARMS),
        expected_false_alarms: LEAST_FALSE_ALARMS,
        standing: Standing::Measured,
        // The plate itself is sound there.
        severity: Severity::Trace,
        signs: vec![Sign::seen(
            SignName::ScanChanges,
            "they stayed with the glass when the plate was turned half round",
        )],
        doubts: Vec::new(),
        figure: None,
    });
}

/// Says of marks that turned with the plate that they are no dust.
pub(super) fn set_turned_with_plate(plate: &Plate, finding: &mut Finding) {
    if plate.turned.is_some() {
        finding.signs.push(Sign::absent(
            SignName::ScanChanges,
            "the marks turned with the plate in the second scan, so they are no dust of the glass",
        ));
    }
}

fn title(specks: usize, hairs: usize) -> String {
    let count = |n: usize, one: &str, many: &str| match n {
        0 => None,
        1 => Some(format!("1 {one}")),
        n => Some(format!("{n} {many}")),
    };
    let parts = [
        count(specks, "speck", "specks"),
        count(hairs, "hair", "hairs"),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    format!("{} of dust on the scanner's glass", parts.join(" and "))
}

fn mark(piece: &Piece) -> Mark {
    Mark {
        box_mm: piece.box_mm,
        centre_mm: piece.centre_mm,
        size_mm: piece.size_mm,
        length_mm: piece.long.map(|(length_mm, _)| length_mm),
        direction_deg: None,
        axis_deg: piece.long.map(|(_, axis_deg)| axis_deg),
        sagitta_mm: 0.0,
        contrast_d: piece.contrast_d.abs(),
        expected_false_alarms: piece.expected_false_alarms,
    }
}

#[cfg(test)]
mod tests {
    use super::title;

    #[test]
    fn titles_count_specks_and_hairs() {
        assert_eq!(title(1, 0), "1 speck of dust on the scanner's glass");
        assert_eq!(
            title(12, 1),
            "12 specks and 1 hair of dust on the scanner's glass"
        );
    }
}
