//! Signs that need all findings of fog.

use super::{round2, sign};
use crate::density::{DensityMap, ZeroSource};
use crate::findings::limits::{STATED_SUPPORT_SD_D, bare_offset_d};
use crate::findings::{Fault, Finding, Sign, SignName};
use crate::measures::FogMeasures;
use crate::plate::{Edge, Part, Plate, PlateKind};
use crate::units::Reading;

/// Signs that need all findings: on how many edges the fog lies, whether the border is veiled.
pub(in crate::findings) fn set_shared_signs(
    plate: &Plate,
    map: &DensityMap,
    fog: &FogMeasures,
    findings: &mut [Finding],
) {
    let fogged: Vec<Edge> = Edge::ALL
        .into_iter()
        .filter(|edge| {
            findings
                .iter()
                .any(|f| f.fault == Fault::EdgeFog && f.place.as_deref() == Some(edge.word()))
        })
        .collect();
    let judged = fog
        .profiles
        .iter()
        .filter(|profile| profile.ledge_mm.is_some() || plate.kind != PlateKind::Picture)
        .count();
    let names: Vec<&str> = fogged.iter().map(|edge| edge.word()).collect();
    let by_number = match fogged.len() {
        1 if judged == 4 => Some((
            SignName::OneEdge,
            format!("only the {} edge is fogged", names[0]),
        )),
        2 => {
            let opposite = (fogged[0] as usize + 2) % 4 == fogged[1] as usize;
            let name = match opposite {
                true => SignName::OppositeEdges,
                false => SignName::MeetingEdges,
            };
            Some((
                name,
                format!("the {} and {} edges are fogged", names[0], names[1]),
            ))
        }
        3 | 4 => Some((
            SignName::SeveralEdges,
            format!("{} edges are fogged", fogged.len()),
        )),
        _ => None,
    };
    let border = border_sign(plate, map);
    for finding in findings {
        if finding.fault == Fault::EdgeFog {
            finding.signs.extend(
                by_number
                    .iter()
                    .map(|(name, words)| sign(*name, true, words.clone())),
            );
        }
        finding.signs.extend(border.clone());
        if finding.fault == Fault::Veil && plate.kind != PlateKind::Picture {
            finding.signs.extend(evenness(plate, map, finding));
        }
    }
}

/// Whether the border that the ledge kept dark is veiled; needs a zero that is not the border itself.
fn border_sign(plate: &Plate, map: &DensityMap) -> Option<Sign> {
    let border_d = map.border_d?;
    if !plate.ledge.width_mm.iter().any(Option::is_some) {
        return None;
    }
    let (support_d, [offset, sd]) = match (map.zero_source, map.rim_d) {
        (ZeroSource::Stated, _) => (map.zero_d, [0.0, STATED_SUPPORT_SD_D]),
        (_, Some(rim_d)) => (rim_d, bare_offset_d(map.rim_edges)),
        _ => return None,
    };
    let veil = Reading::new(
        plate.silver_sign() * (border_d - support_d) - offset,
        2.0 * sd,
    );
    let words = format!(
        "the border kept from the light reads {} D of silver above bare support, give or take {}",
        round2(veil.value),
        round2(veil.u)
    );
    if veil.low() > 0.03 {
        Some(sign(SignName::BorderFogged, true, words))
    } else if veil.high() < 0.03 {
        Some(sign(SignName::BorderFogged, false, words))
    } else {
        None
    }
}

/// On even plates: whether the veil is alike everywhere, or stronger toward the middle.
fn evenness(plate: &Plate, map: &DensityMap, finding: &Finding) -> Vec<Sign> {
    let Some(veil) = finding.reading("veil_d") else {
        return Vec::new();
    };
    let (silver, _) = map.silver_grid(plate, 10.0, |part| part == Part::Picture);
    let known: Vec<f64> = silver.iter().copied().flatten().collect();
    let (Some(low), Some(high)) = (
        known.iter().copied().reduce(f64::min),
        known.iter().copied().reduce(f64::max),
    ) else {
        return Vec::new();
    };
    let spread = high - low;
    let words = format!("over the plate it varies by {} D", round2(spread));
    let mut signs = Vec::new();
    if spread < (0.25 * veil.value).max(0.03) {
        signs.push(sign(SignName::EvenOverPlate, true, words));
    } else if spread > 0.5 * veil.value {
        signs.push(sign(SignName::EvenOverPlate, false, words));
    }
    signs
}
