//! Veil, edge fog and light leaks: from numbers to named faults.

use super::lengths::{self, Side};
use super::limits::{
    CLEAREST_BORDER_D, CLOUDS_SD_D, DARKEST_BORDER_D, FALSE_ALARMS_A_PLATE, STATED_SUPPORT_SD_D,
    USUAL_RANGE_SD_D, bare_offset_d, confidence, edge_fog_false_alarms, fog_severity,
    light_leak_false_alarms, veil_false_alarms,
};
use super::{CannotTell, Fault, Finding, Polarity, Severity, Sign, SignName, Standing};
use crate::density::{DensityMap, ZeroSource};
use crate::doubts::Doubt;
use crate::measures::{EdgeFog, FogMeasures, Ground, LightLeak, Measures};
use crate::plate::{Edge, Part, Plate, PlateKind};
use crate::raster::stats::median;
use crate::units::Reading;

/// A suggestion is right less often than a measurement of the same strength. Our own judgement, borne
/// out or not by the confidence table of `reports/accuracy.md`.
const SUGGESTED_SHARE: f64 = 0.7;

/// A tongue runs through at least this share of the border's rows, this far past the ledge (mm), and
/// has at most so many like it along the edge: hairs and specks fill some rows, stains end with the
/// border, streaks come in numbers.
const TONGUE_THROUGH: f64 = 0.75;
/// See [`TONGUE_THROUGH`].
const TONGUE_PAST_LEDGE_MM: f64 = 1.5;
/// See [`TONGUE_THROUGH`].
const TONGUES_ALIKE: usize = 1;
/// Width from which a bump through the whole border need not be followed further, millimetres.
const BROAD_MM: f64 = 2.4;
/// A tongue that stands out on the opposite edge as well by this share of its height is a streak.
const STREAK_SHARE: f64 = 0.5;

/// Silver at the rim of a cropped test plate that is not yet called fog, density. Our own choice.
const UNSEEN_EDGE_D: f64 = 0.03;
/// Fog lies smoothly along its stretch; what scatters by more than this share of its strength, and this
/// density, is a stain or the scene. Our own choice, twice what fog on made plates does.
const PATCHY_SHARE: f64 = 0.15;
/// See [`PATCHY_SHARE`].
const PATCHY_D: f64 = 0.015;
/// A bump on a fogged edge below this share of the fog is the fog's own.
const WAVE_SHARE: f64 = 0.5;
/// How near to a corner a bump is one of the corner, millimetres.
const CORNER_BUMP_MM: f64 = 4.5;

fn round2(value: f64) -> String {
    format!("{value:.2}")
}

// ---------------------------------------------------------------- veil

/// Veil: border (or unexposed plate) against bare support, a stated support, or the usual range.
pub(super) fn veil(
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
        ZeroSource::Stated => Some((
            map.zero_d,
            [0.0, STATED_SUPPORT_SD_D],
            "the support density that was given",
        )),
        _ => map.rim_d.map(|rim_d| {
            (
                rim_d,
                bare_offset_d(map.rim_edges),
                "the bare rim of this plate",
            )
        }),
    };
    if let Some((support_d, offset, words)) = against_support {
        let expected = veil_false_alarms(excess(support_d), offset);
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
    // Without bare support only a border far outside the usual range speaks.
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
                "the unexposed border reads {} D, which may be the bare support or support under a veil; nothing bare lies beside it",
                round2(covered_d)
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
    let mut doubts = veil.doubts.clone();
    if standing == Standing::Suggested {
        doubts.push(Doubt::Uncalibrated);
    }
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
    }
}

fn share_of(standing: Standing) -> f64 {
    match standing {
        Standing::Measured => 1.0,
        Standing::Suggested => SUGGESTED_SHARE,
    }
}

// ---------------------------------------------------------------- edges

/// Edge fog that stands above what clean plates show.
pub(super) fn edges(plate: &Plate, fog: &FogMeasures, findings: &mut Vec<Finding>) {
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

fn edge_length_mm(plate: &Plate, edge: Edge) -> f64 {
    match edge {
        Edge::Top | Edge::Bottom => plate.width_mm,
        Edge::Left | Edge::Right => plate.height_mm,
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

fn deeper_than_ledge(
    plate: &Plate,
    edge: Edge,
    reach: &Reading,
    ledge_mm: f64,
    words: &str,
) -> Option<Sign> {
    let inward = |length_mm: f64| lengths::length(plate, length_mm, 1, Side::inward(edge));
    let text = format!(
        "it {words} after {}, and the ledge ends at {}",
        inward(reach.value),
        inward(ledge_mm)
    );
    if reach.low() > ledge_mm {
        Some(sign(SignName::DeeperThanLedge, true, text))
    } else if reach.high() < ledge_mm {
        Some(sign(SignName::DeeperThanLedge, false, text))
    } else {
        None
    }
}

fn sign(name: SignName, holds: bool, words: String) -> Sign {
    Sign { name, holds, words }
}

// ---------------------------------------------------------------- leaks

/// Tongues that are no hair, stain or streak and stand above what clean plates show.
pub(super) fn leaks(plate: &Plate, fog: &FogMeasures, findings: &mut Vec<Finding>) {
    for leak in &fog.leaks {
        let expected = light_leak_false_alarms(leak.peak_d.value, leak.scatter_d);
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
    // A bright scene hides how far it runs on; a broad bump through the whole border is no stain.
    let runs_on = leak.length_mm.value >= ledge_mm + TONGUE_PAST_LEDGE_MM
        || (leak.width_mm.value >= BROAD_MM && leak.through >= 0.9);
    let crosses = leak
        .opposite_d
        .is_some_and(|opposite| opposite > STREAK_SHARE * leak.peak_d.value);
    leak.through >= TONGUE_THROUGH && runs_on && leak.alike <= TONGUES_ALIKE && !crosses
}

/// Fog along an edge waves, and where it ends it steps: only what stands far above it is a tongue.
fn is_wave_of_fog(leak: &LightLeak, findings: &[Finding]) -> bool {
    findings
        .iter()
        .filter(|f| f.fault == Fault::EdgeFog && f.place.as_deref() == Some(leak.edge.word()))
        .filter_map(|f| f.reading("fog_d"))
        .any(|fog| leak.peak_d.value < WAVE_SHARE * fog.value)
}

/// A bump in the very corner, next to an edge whose border is not to be seen, may be the end of that
/// edge's fog; nothing tells them apart.
fn may_be_fog_of_next_edge(plate: &Plate, leak: &LightLeak) -> bool {
    let edge_mm = edge_length_mm(plate, leak.edge);
    let (start, end) = match leak.edge {
        Edge::Top | Edge::Bottom => (Edge::Left, Edge::Right),
        Edge::Left | Edge::Right => (Edge::Top, Edge::Bottom),
    };
    let ledge = &plate.ledge;
    let hidden =
        |edge: Edge| ledge.width_mm[edge as usize].is_none() || ledge.assumed[edge as usize];
    leak.ground == Ground::Border
        && leak.opposite_d.is_none()
        && ((leak.at_mm < CORNER_BUMP_MM && hidden(start))
            || (leak.at_mm > edge_mm - CORNER_BUMP_MM && hidden(end)))
}

/// Where a fogged edge ends at a corner, the edge beside it sees its fog as a bump.
fn is_end_of_fogged_edge(plate: &Plate, leak: &LightLeak, findings: &[Finding]) -> bool {
    let edge_mm = edge_length_mm(plate, leak.edge);
    findings
        .iter()
        .filter(|finding| finding.fault == Fault::EdgeFog)
        .any(|finding| {
            let depth_mm = finding.reading("depth_mm").map_or(3.0, |depth| depth.value);
            let reach = 2.0 * depth_mm + leak.width_mm.value;
            let place = finding.place.as_deref().unwrap_or("");
            let at_start = leak.at_mm < reach;
            let at_end = leak.at_mm > edge_mm - reach;
            match leak.edge {
                Edge::Top | Edge::Bottom => {
                    (at_start && place == "left") || (at_end && place == "right")
                }
                Edge::Left | Edge::Right => {
                    (at_start && place == "top") || (at_end && place == "bottom")
                }
            }
        })
}

fn leak_finding(plate: &Plate, leak: &LightLeak, expected: f64) -> Finding {
    let edge = leak.edge;
    let edge_mm = edge_length_mm(plate, edge);
    let near_mm = plate.width_mm.min(plate.height_mm) / 6.0;
    let from_corner = leak.at_mm < near_mm || leak.at_mm > edge_mm - near_mm;
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
        signs.extend(deeper_than_ledge(
            plate,
            edge,
            &leak.length_mm,
            ledge_mm,
            "can be followed inward and ends",
        ));
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
    if width <= length / 3.0 || width >= length {
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
            "Light leak from the {}, {} D where it enters, {} long",
            edge.word(),
            round2(leak.peak_d.value),
            lengths::length(plate, length, 0, Side::inward(edge))
        ),
        measured: vec![
            ("peak_d", leak.peak_d.clone()),
            ("width_mm", leak.width_mm.clone()),
            ("length_mm", leak.length_mm.clone()),
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
    }
}

// ---------------------------------------------------------------- shared signs, cannot tell

/// Signs that need all findings: on how many edges the fog lies, whether the border is veiled.
pub(super) fn set_shared_signs(
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

/// What this plate cannot show about its edges.
pub(super) fn cannot_tell(plate: &Plate, cannot_tell: &mut Vec<CannotTell>) {
    let bordered = plate.ledge.width_mm.iter().flatten().count();
    if bordered == 4 || plate.kind != PlateKind::Picture {
        return;
    }
    let because = if !plate.found && bordered == 0 {
        "the scan ends at or inside the plate's edge, where fog from the holder would be strongest"
            .to_owned()
    } else if bordered == 0 {
        "no dark border from the holder was found, and a bright scene at an edge looks like fog"
            .to_owned()
    } else {
        let open: Vec<&str> = Edge::ALL
            .into_iter()
            .filter(|edge| plate.ledge.width_mm[*edge as usize].is_none())
            .map(Edge::word)
            .collect();
        format!(
            "no dark border was found along the {}, and what the scene shows there looks like fog or hides it",
            open.join(" and ")
        )
    };
    for fault in [Fault::EdgeFog, Fault::LightLeak] {
        cannot_tell.push(CannotTell {
            fault,
            because: because.clone(),
            make_this_plate: "an unexposed plate carried through the holder and the camera: draw the slide with the lens capped, wait a minute in the light you work in, and develop as always".to_owned(),
        });
    }
}
