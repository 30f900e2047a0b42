//! Tongues of fog that enter from an edge.

use super::{deeper_than_ledge, edge_length_mm, round2, share_of, sign};
use crate::doubts::Doubt;
use crate::findings::lengths::{self, Side};
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, confidence, fog_severity, light_leak_false_alarms,
};
use crate::findings::{Fault, Finding, Polarity, Severity, SignName, Standing};
use crate::measures::{FogMeasures, Ground, LightLeak};
use crate::plate::{Edge, Plate, PlateKind};
use crate::units::Reading;

/// A tongue runs through at least this share of the border's rows, this far past the ledge (mm), and
/// has at most so many like it along the edge: hairs and specks fill some rows, stains end with the
/// border, streaks come in numbers.
const TONGUE_THROUGH: f64 = 0.5;
/// Least share of a tongue's height that is left without what is thin. Of 207 tongues of made plates two had
/// less, and no hair that curls through the border more than 0.27.
const TONGUE_BODY: f64 = 0.4;
/// See [`TONGUE_THROUGH`].
const TONGUE_PAST_LEDGE_MM: f64 = 1.5;
/// See [`TONGUE_THROUGH`].
const TONGUES_ALIKE: usize = 1;
/// Share of the border's rows from which a bump need not be followed further, for those at least this wide
/// (mm) and for narrower ones. Our own choice: of 860 made plates without a tongue none has a bump like that
/// above 0.05 D in its border that no opposite edge shows too, but for one narrow one.
const BROAD_THROUGH: f64 = 0.6;
/// See [`BROAD_THROUGH`].
const NARROW_THROUGH: f64 = 0.85;
/// See [`BROAD_THROUGH`].
const BROAD_MM: f64 = 2.4;
/// A tongue that stands out on the opposite edge as well by this share of its height is a streak.
const STREAK_SHARE: f64 = 0.5;
/// A bump on a fogged edge below this share of the fog is the fog's own.
const WAVE_SHARE: f64 = 0.5;
/// How near to a corner a bump is one of the corner, millimetres.
const CORNER_BUMP_MM: f64 = 4.5;

/// Tongues that are no hair, stain or streak and stand above what clean plates show.
pub(in crate::findings) fn leaks(plate: &Plate, fog: &FogMeasures, findings: &mut Vec<Finding>) {
    for leak in &fog.leaks {
        let expected = light_leak_false_alarms(leak.peak_d.value, leak.scatter_d, leak.ground);
        if expected <= FALSE_ALARMS_A_PLATE
            && is_tongue(plate, leak)
            && !is_end_of_fogged_edge(plate, leak, findings)
            && !is_wave_of_fog(leak, findings)
            && !may_be_fog_of_next_edge(plate, leak)
        {
            findings.push(leak_finding(plate, leak, expected));
        }
    }
}

fn is_tongue(plate: &Plate, leak: &LightLeak) -> bool {
    let ledge_mm = plate.ledge.width_mm[leak.edge as usize].unwrap_or(0.0);
    // A bright scene hides how far it runs on; a bump through the whole border is no stain, and a broad one may
    // fade sooner.
    let through = match leak.width_mm.value >= BROAD_MM {
        true => BROAD_THROUGH,
        false => NARROW_THROUGH,
    };
    let runs_on =
        leak.length_mm.value >= ledge_mm + TONGUE_PAST_LEDGE_MM || leak.through >= through;
    let crosses = leak
        .opposite_d
        .is_some_and(|opposite| opposite > STREAK_SHARE * leak.peak_d.value);
    leak.through >= TONGUE_THROUGH
        && leak.body >= TONGUE_BODY
        && runs_on
        && leak.alike <= TONGUES_ALIKE
        && !crosses
}

/// Fog along an edge waves, and where it ends it steps: only what stands far above it is a tongue.
fn is_wave_of_fog(leak: &LightLeak, findings: &[Finding]) -> bool {
    findings
        .iter()
        .filter(|f| f.fault == Fault::EdgeFog && f.place.as_deref() == Some(leak.edge.word()))
        .filter_map(|f| f.reading("fog_d"))
        .any(|fog| leak.peak_d.value < WAVE_SHARE * fog.value)
}

/// The edges that an edge meets at its top or left end, and at its other end.
fn neighbours(edge: Edge) -> [Edge; 2] {
    match edge {
        Edge::Top | Edge::Bottom => [Edge::Left, Edge::Right],
        Edge::Left | Edge::Right => [Edge::Top, Edge::Bottom],
    }
}

/// Whether a tongue enters within `reach_mm` of an end of its edge at which `holds` of the edge met.
fn near_an_end(
    plate: &Plate,
    leak: &LightLeak,
    reach_mm: f64,
    holds: impl Fn(Edge) -> bool,
) -> bool {
    let edge_mm = edge_length_mm(plate, leak.edge);
    let [first, last] = neighbours(leak.edge);
    (leak.at_mm < reach_mm && holds(first)) || (leak.at_mm > edge_mm - reach_mm && holds(last))
}

/// A bump in the very corner, next to an edge whose border is not to be seen, may be the end of that
/// edge's fog; nothing tells them apart.
fn may_be_fog_of_next_edge(plate: &Plate, leak: &LightLeak) -> bool {
    let ledge = &plate.ledge;
    let hidden =
        |edge: Edge| ledge.width_mm[edge as usize].is_none() || ledge.assumed[edge as usize];
    leak.ground == Ground::Border
        && leak.opposite_d.is_none()
        && near_an_end(plate, leak, CORNER_BUMP_MM, hidden)
}

/// Where a fogged edge ends at a corner, the edge beside it sees its fog as a bump.
fn is_end_of_fogged_edge(plate: &Plate, leak: &LightLeak, findings: &[Finding]) -> bool {
    findings
        .iter()
        .filter(|finding| finding.fault == Fault::EdgeFog)
        .any(|finding| {
            let depth_mm = finding.reading("depth_mm").map_or(3.0, |depth| depth.value);
            let reach_mm = 2.0 * depth_mm + leak.width_mm.value;
            near_an_end(plate, leak, reach_mm, |edge| {
                finding.place.as_deref() == Some(edge.word())
            })
        })
}

fn leak_finding(plate: &Plate, leak: &LightLeak, expected: f64) -> Finding {
    let edge = leak.edge;
    let edge_mm = edge_length_mm(plate, edge);
    let near_mm = plate.width_mm.min(plate.height_mm) / 6.0;
    let from_corner = leak.at_mm < near_mm || leak.at_mm > edge_mm - near_mm;
    // Over a scene a tongue is lost before it ends: its length is the least it can be.
    let lost = plate.kind == PlateKind::Picture;
    let mut signs = Vec::new();
    if leak.ground == Ground::Border {
        signs.push(sign(
            SignName::UnderLedge,
            true,
            format!(
                "the border under the ledge shows {} D more silver here than beside it",
                round2(leak.peak_d.value)
            ),
        ));
    }
    if let Some(ledge_mm) = plate.ledge.width_mm[edge as usize] {
        let words = "can be followed inward for";
        let deeper = deeper_than_ledge(plate, edge, &leak.length_mm, ledge_mm, words);
        signs.extend(deeper.filter(|sign| sign.holds || !lost));
    }
    if from_corner {
        let corner_mm = leak.at_mm.min(edge_mm - leak.at_mm);
        let words = format!(
            "it enters {} from a corner",
            lengths::length(plate, corner_mm, 0, Side::along(edge))
        );
        signs.push(sign(SignName::FromCorner, true, words));
    } else if leak.at_mm > edge_mm / 3.0 && leak.at_mm < edge_mm * 2.0 / 3.0 {
        let words = "it enters in the middle third of the edge".to_owned();
        signs.push(sign(SignName::FromCorner, false, words));
    }
    let (width, length) = (leak.width_mm.value, leak.length_mm.value);
    if width <= length / 3.0 || (width >= length && !lost) {
        let words = format!(
            "it is {} wide and {} long",
            lengths::length(plate, width, 1, Side::Width),
            lengths::length(plate, length, 0, Side::Width)
        );
        signs.push(sign(SignName::NarrowTongue, width <= length / 3.0, words));
    }
    let (standing, doubts) = match plate.ledge.assumed[edge as usize] {
        true => (Standing::Suggested, vec![Doubt::LedgeHidden]),
        false => (Standing::Measured, Vec::new()),
    };
    let reach = lengths::length(plate, length, 0, Side::inward(edge));
    let (reach, length_mm) = match lost {
        true => (
            format!("followed for {reach}"),
            leak.length_mm.clone().doubted(&[Doubt::LostInScene]),
        ),
        false => (format!("{reach} long"), leak.length_mm.clone()),
    };
    let mut box_mm = [f64::INFINITY, f64::INFINITY, 0.0, 0.0];
    for [x, y] in &leak.outline_mm {
        box_mm = [
            box_mm[0].min(*x),
            box_mm[1].min(*y),
            box_mm[2].max(*x),
            box_mm[3].max(*y),
        ];
    }
    Finding {
        id: String::new(),
        fault: Fault::LightLeak,
        place: Some(edge.word().to_owned()),
        title: format!(
            "Light leak from the {}, {} D where it enters, {reach}",
            edge.word(),
            round2(leak.peak_d.value),
        ),
        measured: vec![
            ("peak_d", leak.peak_d.clone()),
            ("width_mm", leak.width_mm.clone()),
            ("length_mm", length_mm),
            ("at_mm", Reading::new(leak.at_mm, 0.5)),
        ],
        polarity: Polarity::MoreSilver,
        box_mm,
        outline_mm: Some(leak.outline_mm.clone()),
        axis_deg: None,
        direction_deg: Some(leak.direction_deg),
        direction_spread_deg: None,
        members: None,
        confidence: confidence(expected) * share_of(standing),
        expected_false_alarms: expected,
        standing,
        severity: fog_severity(leak.peak_d.value).max(Severity::Trace),
        signs,
        doubts,
        figure: None,
    }
}
