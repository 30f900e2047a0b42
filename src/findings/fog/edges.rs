//! Fog that lies along an edge.

use super::{deeper_than_ledge, edge_length_mm, round2, share_of, sign};
use crate::doubts::Doubt;
use crate::findings::lengths;
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, confidence, edge_fog_false_alarms, fog_severity, scene_rise_false_alarms,
};
use crate::findings::{Fault, Finding, Polarity, Sign, SignName, Standing};
use crate::measures::{EdgeFog, FogMeasures, Ground};
use crate::plate::{Edge, Plate, PlateKind};
use crate::units::Reading;

/// Silver at the rim of a cropped test plate that is not yet called fog, density. Our own choice.
const UNSEEN_EDGE_D: f64 = 0.01;
/// Fog lies smoothly along its stretch; what scatters by more than this share of its strength, and this
/// density, is a stain or the scene. Our own choice: of 371 planted fogs 19 of 20 scatter by less than
/// 0.6 of this, and three by more than it.
const PATCHY_SHARE: f64 = 0.06;
/// See [`PATCHY_SHARE`].
const PATCHY_D: f64 = 0.012;

/// A fall to 1/e over less than this, millimetres, is a rim, a lip or a wrongly placed ledge. Light that
/// strays under a slide reaches further: our own choice. Two of 371 planted fogs were lost by it, and
/// most false edge fog of made plates falls off like that.
const SHALLOWEST_MM: f64 = 1.0;
/// Over a scene the fall is measured against 5 to 7 mm from the edge; deeper fog cannot be told from the
/// scene's own slope, millimetres.
const DEEPEST_OVER_SCENE_MM: f64 = 9.0;
/// A depth beyond the ladder's last but one, millimetres, and the least share of an edge that fog of such
/// depth covers: our own choice. Of about 205 fogs of made plates found in borders none was lost by it, and
/// 6 of 18 false ones were like that.
const HARDLY_FADING_MM: f64 = 14.0;
/// See [`HARDLY_FADING_MM`].
const HARDLY_FADING_SHARE: f64 = 0.4;
/// Most silver that is taken for fog where nothing but its fall speaks for it, density. Our own choice: the
/// heaviest of 16 planted fogs found over scenes had 0.59, three of five scenes taken for fog more than this; a
/// blank plate not told to be one, fogged by 0.8 at one edge, is still named.
const MOST_UNPROVEN_D: f64 = 0.85;
/// How far heavy fog may stray from the fall of fog, as a share of its strength. Our own choice.
const MISFIT_SHARE: f64 = 0.05;
/// What a bare rim may read below coating without fog, density (see
/// [`bare_offset_d`](crate::findings::limits::bare_offset_d)): a level beyond it is taken for veil.
const UNVEILED_D: f64 = 0.10;

/// Edge fog that stands above what clean plates show.
pub(in crate::findings) fn edges(plate: &Plate, fog: &FogMeasures, findings: &mut Vec<Finding>) {
    let veil_d = findings
        .iter()
        .find(|f| f.fault == Fault::Veil)
        .and_then(|finding| finding.reading("veil_d"))
        .map_or(0.0, |veil| veil.value.max(0.0));
    let believed: Vec<&EdgeFog> = fog.edges.iter().filter(|fog| is_fog(plate, fog)).collect();
    let expected = expected_false_alarms(plate, &believed, veil_d);
    for (edge_fog, expected) in believed.into_iter().zip(expected) {
        if expected <= FALSE_ALARMS_A_PLATE {
            findings.push(edge_finding(plate, edge_fog, expected));
        }
    }
}

/// Whether what was measured falls off as fog does.
fn is_fog(plate: &Plate, fog: &EdgeFog) -> bool {
    let smooth = fog.scatter_d <= PATCHY_SHARE * fog.seen_d + PATCHY_D;
    // A fall that leaves less at the edge than was seen beside it is none.
    let falls = fog.fog_d.value >= 0.5 * fog.seen_d;
    let deep_enough = fog.depth_mm.value >= SHALLOWEST_MM;
    let may_be_lid = plate.doubts.contains(&Doubt::OutlineUncertain) && !clearly_fades(fog);
    smooth
        && falls
        && deep_enough
        && !may_be_lid
        && !hardly_fades(plate, fog)
        && !is_light_of_scene(fog)
}

/// Whether silver falls inward as fog does and as a strip of lid does not: within an outline that lies outside the
/// plate, a lid a little lighter than the border looks like fog of one level.
fn clearly_fades(fog: &EdgeFog) -> bool {
    fog.depth_mm.value <= DEEPEST_OVER_SCENE_MM && fog.misfit_d < MISFIT_SHARE * fog.fog_d.value
}

/// Silver as heavy as a scene's own, where nothing shows that it is fog: over a scene, and in a border that it
/// fills without fading or unevenly.
fn is_light_of_scene(fog: &EdgeFog) -> bool {
    let fades =
        fog.depth_mm.value < HARDLY_FADING_MM && fog.misfit_d < MISFIT_SHARE * fog.fog_d.value;
    fog.fog_d.value > MOST_UNPROVEN_D && (fog.ground == Ground::Scene || !fades)
}

/// Silver that hardly fades inward: over a scene its own slope, on part of an edge a tongue or a shape.
fn hardly_fades(plate: &Plate, fog: &EdgeFog) -> bool {
    let share = (fog.to_mm - fog.from_mm) / edge_length_mm(plate, fog.edge);
    match fog.ground {
        Ground::Scene => fog.depth_mm.value > DEEPEST_OVER_SCENE_MM,
        _ => fog.depth_mm.value > HARDLY_FADING_MM && share < HARDLY_FADING_SHARE,
    }
}

/// False alarms expected at the strength of each edge. Over a scene an edge stands alone; where only
/// fog varies, weaker edges that show it too count for the stronger ones.
fn expected_false_alarms(plate: &Plate, fogs: &[&EdgeFog], veil_d: f64) -> Vec<f64> {
    let mut expected: Vec<f64> = fogs
        .iter()
        .map(|fog| scene_rise_false_alarms(fog.seen_d, fog.texture_d))
        .collect();
    let mut without_scene: Vec<(f64, usize)> = fogs
        .iter()
        .enumerate()
        .filter(|(_, fog)| fog.ground != Ground::Scene)
        .map(|(at, fog)| (proven_d(plate, fog), at))
        .collect();
    without_scene.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut with_weaker = f64::INFINITY;
    for (rank, (seen_d, at)) in without_scene.into_iter().enumerate().rev() {
        // The level of an even exposure is no veil.
        let veil_d = match plate.kind {
            PlateKind::Flat if fogs[at].ground == Ground::EvenPlate => 0.0,
            _ => veil_d.max(fogs[at].level_d - UNVEILED_D),
        };
        with_weaker = edge_fog_false_alarms(seen_d, veil_d, rank, fogs[at].ground).min(with_weaker);
        expected[at] = with_weaker;
    }
    expected
}

/// Extra silver that is surely the plate's: where the scan does not show the plate's edges, what lies
/// at its rim may be lid or stain.
fn proven_d(plate: &Plate, fog: &EdgeFog) -> f64 {
    match fog.ground {
        Ground::EvenPlate if !plate.shows_its_edges() => fog.seen_d - UNSEEN_EDGE_D,
        _ => fog.seen_d,
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
        figure: None,
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
                    "the border under the ledge shows {} D more silver here than without fog",
                    round2(edge_fog.seen_d)
                ),
            ));
        }
        signs.extend(deeper_than_ledge(
            plate,
            edge,
            &edge_fog.depth_mm,
            ledge_mm,
            "fades to a third after",
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
