//! Fog that lies along an edge.

use super::{deeper_than_ledge, edge_length_mm, round2, share_of, sign};
use crate::doubts::Doubt;
use crate::findings::lengths;
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, confidence, edge_fog_false_alarms, fog_severity,
};
use crate::findings::{Fault, Finding, Polarity, Sign, SignName, Standing};
use crate::measures::{EdgeFog, FogMeasures, Ground};
use crate::plate::{Edge, Plate};
use crate::units::Reading;

/// Silver at the rim of a cropped test plate that is not yet called fog, density. Our own choice.
const UNSEEN_EDGE_D: f64 = 0.03;
/// Fog lies smoothly along its stretch; what scatters by more than this share of its strength, and this
/// density, is a stain or the scene. Our own choice, twice what fog on made plates does.
const PATCHY_SHARE: f64 = 0.15;
/// See [`PATCHY_SHARE`].
const PATCHY_D: f64 = 0.015;

/// Edge fog that stands above what clean plates show.
pub(in crate::findings) fn edges(plate: &Plate, fog: &FogMeasures, findings: &mut Vec<Finding>) {
    let veil_d = findings
        .iter()
        .find(|f| f.fault == Fault::Veil && f.standing == Standing::Measured)
        .and_then(|finding| finding.reading("veil_d"))
        .map_or(0.0, |veil| veil.value.max(0.0));
    for edge_fog in &fog.edges {
        // Where the scan does not show the plate's edges, what lies at its rim may be lid or stain.
        let seen_d = match edge_fog.ground {
            Ground::EvenPlate if !plate.shows_its_edges() => edge_fog.seen_d - UNSEEN_EDGE_D,
            _ => edge_fog.seen_d,
        };
        let expected = edge_fog_false_alarms(seen_d, edge_fog.ground, veil_d);
        let smooth = edge_fog.scatter_d <= PATCHY_SHARE * edge_fog.seen_d + PATCHY_D;
        if expected <= FALSE_ALARMS_A_PLATE && smooth {
            findings.push(edge_finding(plate, edge_fog, expected));
        }
    }
}

/// The strip along an edge as a box, millimetres.
fn strip_box(plate: &Plate, edge: Edge, from_mm: f64, to_mm: f64, depth_mm: f64) -> [f64; 4] {
    let (w, h) = (plate.width_mm, plate.height_mm);
    match edge {
        Edge::Top => [from_mm, 0.0, to_mm, depth_mm.min(h)],
        Edge::Bottom => [from_mm, (h - depth_mm).max(0.0), to_mm, h],
        Edge::Left => [0.0, from_mm, depth_mm.min(w), to_mm],
        Edge::Right => [(w - depth_mm).max(0.0), from_mm, w, to_mm],
    }
}

fn edge_finding(plate: &Plate, edge_fog: &EdgeFog, expected: f64) -> Finding {
    let edge = edge_fog.edge;
    let edge_mm = edge_length_mm(plate, edge);
    let (from_mm, to_mm) = (edge_fog.from_mm, edge_fog.to_mm.min(edge_mm));
    let length_mm = to_mm - from_mm;
    let whole = length_mm >= 0.8 * edge_mm;
    let (standing, mut doubts) = match edge_fog.ground {
        Ground::Border if plate.ledge.assumed[edge as usize] => {
            (Standing::Suggested, vec![Doubt::LedgeHidden])
        }
        Ground::Border => (Standing::Measured, Vec::new()),
        Ground::EvenPlate => (Standing::Measured, vec![Doubt::OneScan]),
        Ground::Scene => (Standing::Suggested, vec![Doubt::SceneMayDoIt]),
    };
    let ledge_mm = plate.ledge.width_mm[edge as usize];
    if ledge_mm.is_some_and(|ledge| ledge < 1.8) {
        doubts.push(Doubt::BorderTooNarrow);
    }
    let stretch = match whole {
        true => "along the whole edge".to_owned(),
        false => format!("over {}", lengths::stretch(plate, length_mm, edge_mm)),
    };
    Finding {
        id: String::new(),
        fault: Fault::EdgeFog,
        place: Some(edge.word().to_owned()),
        title: format!(
            "Edge fog at the {}, {} D at the edge, {stretch}",
            edge.word(),
            round2(edge_fog.fog_d.value)
        ),
        measured: vec![
            ("fog_d", edge_fog.fog_d.clone()),
            ("depth_mm", edge_fog.depth_mm.clone()),
            ("length_mm", Reading::new(length_mm, 2.0)),
        ],
        polarity: Polarity::MoreSilver,
        box_mm: strip_box(plate, edge, from_mm, to_mm, 2.2 * edge_fog.depth_mm.value),
        outline_mm: None,
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: None,
        confidence: confidence(expected) * share_of(standing),
        expected_false_alarms: expected,
        standing,
        severity: fog_severity(edge_fog.fog_d.value),
        signs: edge_signs(plate, edge_fog, whole, length_mm),
        doubts,
    }
}

fn edge_signs(plate: &Plate, edge_fog: &EdgeFog, whole: bool, length_mm: f64) -> Vec<Sign> {
    let edge = edge_fog.edge;
    let edge_mm = edge_length_mm(plate, edge);
    let mut signs = Vec::new();
    if let Some(ledge_mm) = plate.ledge.width_mm[edge as usize] {
        if edge_fog.ground == Ground::Border {
            signs.push(sign(
                SignName::UnderLedge,
                true,
                format!(
                    "the border under the ledge shows {} D more silver here than elsewhere",
                    round2(edge_fog.seen_d)
                ),
            ));
        }
        signs.extend(deeper_than_ledge(
            plate,
            edge,
            &edge_fog.depth_mm,
            ledge_mm,
            "fades to a third",
        ));
    }
    if whole {
        let words = format!(
            "it runs over {}",
            lengths::of_edge(plate, length_mm, edge_mm)
        );
        signs.push(sign(SignName::WholeEdge, true, words));
    } else if length_mm < 0.5 * edge_mm {
        let words = format!(
            "it covers only {}",
            lengths::of_edge(plate, length_mm, edge_mm)
        );
        signs.push(sign(SignName::WholeEdge, false, words));
    }
    let near_mm = plate.width_mm.min(plate.height_mm) / 6.0;
    if !whole {
        let at_end = edge_fog.from_mm < near_mm || edge_fog.to_mm > edge_mm - near_mm;
        // Part of an edge that ends in a corner: does the fog deepen toward it?
        if at_end && length_mm < 0.5 * edge_mm {
            signs.push(sign(
                SignName::FromCorner,
                true,
                "it begins at a corner of the plate".to_owned(),
            ));
        } else if !at_end {
            signs.push(sign(
                SignName::FromCorner,
                false,
                "it lies away from the corners".to_owned(),
            ));
        }
    }
    signs
}
