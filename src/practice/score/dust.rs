//! Dust of the scanner's glass, piece by piece.

use serde_json::Value;

use super::marks::{self, Reported};

/// What a report calls a piece of dust.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DustNamed {
    /// Dust.
    Dust,
    /// A mark of the plate.
    Mark,
    /// Nothing.
    Not,
}

/// How far reported and true dust may lie apart, millimetres: a blurred pixel or two of a coarse scan.
const APART_MM: f64 = 0.15;

/// What each piece of the truth's dust is called, and how many marks are called dust, with those of them
/// where no dust lies.
pub fn dust_named(report: &Value, truth: &Value) -> (Vec<DustNamed>, [usize; 2]) {
    let nothing = Vec::new();
    let carry = marks::carry(report, truth);
    let (mut dust, mut own) = (Vec::new(), Vec::new());
    for finding in report["findings"].as_array().unwrap_or(&nothing) {
        let kind = finding["fault"].as_str().unwrap_or_default();
        if kind == super::DUST {
            dust.extend(marks::reported(finding, carry.as_ref()));
        } else if super::MARKS.contains(&kind) {
            own.extend(marks::reported(finding, carry.as_ref()));
        }
    }
    let pieces: Vec<[f64; 4]> = truth["dust"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(marks::rectangle)
        .collect();
    let lies = |mark: &Reported, piece: &[f64; 4]| touch(mark, piece);
    let named = pieces
        .iter()
        .map(|piece| match piece {
            piece if dust.iter().any(|mark| lies(mark, piece)) => DustNamed::Dust,
            piece if own.iter().any(|mark| lies(mark, piece)) => DustNamed::Mark,
            _ => DustNamed::Not,
        })
        .collect();
    let wrong = dust
        .iter()
        .filter(|mark| !pieces.iter().any(|piece| lies(mark, piece)))
        .count();
    (named, [dust.len(), wrong])
}

/// Whether a mark's box and a piece's meet, give or take the blur.
fn touch(mark: &Reported, [l, t, r, b]: &[f64; 4]) -> bool {
    let [x, y] = mark.centre;
    let [ml, mt, mr, mb] = mark.box_mm.unwrap_or([x, y, x, y]);
    ml <= r + APART_MM && mr >= l - APART_MM && mt <= b + APART_MM && mb >= t - APART_MM
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn each_piece_is_called_dust_or_a_mark_or_nothing() {
        let truth = json!({"dust": [{"box_mm": [5.0, 5.0, 5.2, 5.2]},
            {"box_mm": [9.0, 9.0, 9.2, 9.2]}, {"box_mm": [1.0, 1.0, 1.2, 1.2]}]});
        let at =
            |x: f64| json!({"centre_mm": [x, x], "box_mm": [x - 0.1, x - 0.1, x + 0.1, x + 0.1]});
        let report = json!({"findings": [
            {"fault": "scan_dust", "members": [at(5.1), at(30.0)]},
            {"fault": "specks", "members": [at(9.2)]}]});
        let (named, counts) = dust_named(&report, &truth);
        assert_eq!(named, [DustNamed::Dust, DustNamed::Mark, DustNamed::Not]);
        assert_eq!(counts, [2, 1]);
    }
}
