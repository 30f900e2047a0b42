//! The edge of a second flow on an even plate: of itself, or as a part of an uneven pour.

use crate::doubts::Doubt;
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, bands_severity, confidence, flow_edge_false_alarms,
};
use crate::findings::{Fault, Finding, Mark, Polarity, Sign, SignName, Standing};
use crate::handling::{Corner, Spot};
use crate::measures::FlowEdge;
use crate::plate::Plate;
use crate::raster::geometry::{direction_deg, distance};
use crate::units::Reading;

/// How many times its scatter along the line a step is at least, and from which on a stain along it is the step's: the
/// outlines of stains wind. Our own choice: of 15 even plates with stains whose lines show a step nearly all along
/// (development seeds 801000, 805000 and 806000) the steadiest shows 7.2, of 17 with a step eleven show 10 or more and
/// one is below 3.
const STEADY: [f64; 2] = [3.0, 10.0];

/// The step of a second flow, where bands do not explain it: said of the uneven pour that was found, or by itself.
pub(in crate::findings) fn second_flow(
    plate: &Plate,
    edge: &FlowEdge,
    findings: &mut Vec<Finding>,
) {
    let size_mm = [plate.width_mm, plate.height_mm];
    if let Some(mut alone) = explaining(edge, size_mm, findings) {
        // Beyond what the scan shows it may stop.
        let cropped = (!plate.shows_its_edges()).then_some(Doubt::CroppedInside);
        alone.doubts.extend(cropped);
        findings.push(alone);
    }
}

/// The step by itself, if it is none of a pour's; what it explains is taken out.
fn explaining(edge: &FlowEdge, size_mm: [f64; 2], findings: &mut Vec<Finding>) -> Option<Finding> {
    let expected = flow_edge_false_alarms(edge.nearly_all_d);
    let is_band =
        |found: &Finding| matches!(found.fault, Fault::Streaks | Fault::Ridges | Fault::DipLine);
    if expected > FALSE_ALARMS_A_PLATE
        || edge.nearly_all_d < STEADY[0] * edge.scatter_d
        || findings.iter().any(is_band)
    {
        return None;
    }
    let along_line =
        |fault: Fault, found: &Finding| found.fault == fault && runs_through(edge, found.box_mm);
    if findings
        .iter()
        .any(|found| along_line(Fault::BareArea, found))
    {
        return None;
    }
    let stain = |found: &Finding| along_line(Fault::Stain, found);
    if edge.nearly_all_d >= STEADY[1] * edge.scatter_d {
        findings.retain(|found| !stain(found));
    } else if findings.iter().any(stain) {
        return None;
    }
    let outline_mm = thicker_part(edge, size_mm);
    let sign = Sign::seen(
        SignName::OneStep,
        format!("silver steps by {:.2} D along one line", edge.step_d.value),
    );
    let pour = findings
        .iter_mut()
        .find(|found| found.fault == Fault::UnevenPour);
    if let Some(pour) = pour {
        pour.title += &format!(", with one step of {:.2} D", edge.step_d.value);
        pour.signs.push(sign);
        pour.outline_mm = Some(outline_mm);
        return None;
    }
    Some(Finding {
        signs: vec![sign],
        ..finding(edge, outline_mm, size_mm, expected)
    })
}

fn finding(
    edge: &FlowEdge,
    outline_mm: Vec<[f64; 2]>,
    size_mm: [f64; 2],
    expected: f64,
) -> Finding {
    let step_d = &edge.step_d;
    let [from, to] = ends(edge);
    let middle_mm = edge.points_mm[edge.points_mm.len() / 2];
    let spot = thicker_spot(edge, &outline_mm, size_mm);
    let chord_deg = direction_deg(to[0] - from[0], to[1] - from[1]).rem_euclid(180.0);
    let box_mm = bounds(&edge.points_mm);
    let mark = Mark {
        box_mm,
        centre_mm: middle_mm,
        size_mm: SOFT_MM,
        length_mm: Some(distance(from, to)),
        direction_deg: None,
        axis_deg: Some(chord_deg),
        sagitta_mm: 0.0,
        contrast_d: step_d.value,
        expected_false_alarms: expected,
    };
    Finding {
        id: String::new(),
        fault: Fault::Ridges,
        place: Some(spot.word().to_owned()),
        title: format!(
            "One step of {:.2} D across the coating, more silver toward {}",
            step_d.value,
            spot.words()
        ),
        measured: vec![
            ("contrast_d", step_d.clone()),
            ("axis_deg", Reading::new(chord_deg, AXIS_U_DEG)),
        ],
        polarity: Polarity::MoreSilver,
        box_mm,
        outline_mm: Some(outline_mm),
        axis_deg: Some(chord_deg),
        direction_deg: None,
        direction_spread_deg: None,
        members: Some(vec![mark]),
        confidence: confidence(expected),
        expected_false_alarms: expected,
        standing: Standing::Measured,
        severity: bands_severity(step_d.value),
        signs: Vec::new(),
        doubts: Vec::new(),
        figure: None,
    }
}

/// How wide a soft step is taken to be, millimetres: that far apart lie the strips it was read between.
const SOFT_MM: f64 = 3.0;

/// Uncertainty of the axis, degrees: the step from way to way that was looked at.
const AXIS_U_DEG: f64 = 10.0;

fn ends(edge: &FlowEdge) -> [[f64; 2]; 2] {
    let points = &edge.points_mm;
    [points[0], points[points.len() - 1]]
}

fn bounds(points: &[[f64; 2]]) -> [f64; 4] {
    let empty = [f64::INFINITY, f64::INFINITY, 0.0, 0.0];
    points.iter().fold(empty, |[x0, y0, x1, y1], [x, y]| {
        [x0.min(*x), y0.min(*y), x1.max(*x), y1.max(*y)]
    })
}

/// Whether the line enters a box.
fn runs_through(edge: &FlowEdge, [x0, y0, x1, y1]: [f64; 4]) -> bool {
    let enters = |[x, y]: &[f64; 2]| (x0..=x1).contains(x) && (y0..=y1).contains(y);
    edge.points_mm.iter().any(enters)
}

/// The corner that alone lies in the thicker part, or where that lies from the middle of the line.
fn thicker_spot(edge: &FlowEdge, outline_mm: &[[f64; 2]], size_mm: [f64; 2]) -> Spot {
    let mut corners = Corner::ALL.into_iter().filter(|corner| {
        let steps = corner.spot().steps();
        let at = [0, 1].map(|k| 0.5 * size_mm[k] * (1.0 + INSIDE * steps[k]));
        holds(outline_mm, at)
    });
    if let (Some(corner), None) = (corners.next(), corners.next()) {
        return corner.spot();
    }
    let [x, y] = edge.points_mm[edge.points_mm.len() / 2];
    let [to_x, to_y] = edge.thicker_mm;
    Spot::by_direction(direction_deg(to_x - x, to_y - y))
}

/// A place just inside a corner, as a share of the way from the middle.
const INSIDE: f64 = 0.99;

/// The part of the plate on the thicker side of the line: along it, and back around by the plate's edges.
fn thicker_part(edge: &FlowEdge, size_mm: [f64; 2]) -> Vec<[f64; 2]> {
    let [from, to] = ends(edge);
    let [w, h] = size_mm;
    let round = 2.0 * (w + h);
    let corners = [
        (0.0, [0.0, 0.0]),
        (w, [w, 0.0]),
        (w + h, [w, h]),
        (2.0 * w + h, [0.0, h]),
    ];
    let [start, end] = [from, to].map(|point| onto_edges(point, size_mm));
    // The way from the line's end to its start, clockwise and the other way.
    let ways = [1.0, -1.0].map(|way| {
        let ahead = |at: f64| (way * (at - end.0)).rem_euclid(round);
        let mut passed: Vec<_> = corners
            .into_iter()
            .filter(|corner| ahead(corner.0) < ahead(start.0))
            .collect();
        passed.sort_by(|a, b| ahead(a.0).total_cmp(&ahead(b.0)));
        let back = passed.into_iter().map(|(_, corner)| corner);
        let line = edge.points_mm.iter().copied();
        let ends = (std::iter::once(start.1), std::iter::once(end.1));
        ends.0
            .chain(line)
            .chain(ends.1)
            .chain(back)
            .collect::<Vec<_>>()
    });
    let [clockwise, other] = ways;
    match holds(&clockwise, edge.thicker_mm) {
        true => clockwise,
        false => other,
    }
}

/// The nearest place on the plate's edges, and how far along them it lies, clockwise from the top left corner.
fn onto_edges([x, y]: [f64; 2], [w, h]: [f64; 2]) -> (f64, [f64; 2]) {
    let (x, y) = (x.clamp(0.0, w), y.clamp(0.0, h));
    let sides = [
        (y, x, [x, 0.0]),
        (w - x, w + y, [w, y]),
        (h - y, 2.0 * w + h - x, [x, h]),
        (x, 2.0 * (w + h) - y, [0.0, y]),
    ];
    let nearest = sides.into_iter().min_by(|a, b| a.0.total_cmp(&b.0));
    nearest.map_or((0.0, [0.0, 0.0]), |(_, along, point)| (along, point))
}

/// Whether a closed outline holds a place: by how often a ray to the right crosses it.
fn holds(outline: &[[f64; 2]], [x, y]: [f64; 2]) -> bool {
    let next = outline.iter().cycle().skip(1);
    let crossed = outline.iter().zip(next).filter(|([ax, ay], [bx, by])| {
        (*ay > y) != (*by > y) && x < ax + (y - ay) / (by - ay) * (bx - ax)
    });
    crossed.count() % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::made;

    const SIZE_MM: [f64; 2] = [70.0, 83.0];

    /// A step around the top right corner, 30 mm from it, with more silver on one side.
    fn edge(thicker_mm: [f64; 2]) -> FlowEdge {
        let points = (0..=12).map(|k| {
            let (sin, cos) = (7.5 * f64::from(k)).to_radians().sin_cos();
            [70.0 - 30.0 * cos, 30.0 * sin]
        });
        FlowEdge {
            points_mm: points.collect(),
            step_d: Reading::new(0.1, 0.01),
            nearly_all_d: 0.09,
            scatter_d: 0.006,
            thicker_mm,
        }
    }

    #[test]
    fn the_thicker_part_goes_back_around_the_corners_on_its_side() {
        let inner = thicker_part(&edge([55.0, 15.0]), SIZE_MM);
        assert!(inner.contains(&[70.0, 0.0]) && !inner.contains(&[0.0, 0.0]));
        assert!(holds(&inner, [60.0, 10.0]) && !holds(&inner, [20.0, 60.0]));
        let outer = thicker_part(&edge([45.0, 25.0]), SIZE_MM);
        assert!(!outer.contains(&[70.0, 0.0]));
        for corner in [[0.0, 0.0], [0.0, 83.0], [70.0, 83.0]] {
            assert!(outer.contains(&corner), "{outer:?}");
        }
        assert!(holds(&outer, [20.0, 60.0]) && !holds(&outer, [60.0, 10.0]));
    }

    #[test]
    fn a_step_is_said_of_the_pour_it_is_part_of() {
        let step = edge([55.0, 15.0]);
        let alone = explaining(&step, SIZE_MM, &mut Vec::new()).unwrap();
        assert_eq!(alone.fault, Fault::Ridges);
        assert_eq!(alone.place.as_deref(), Some("top_right"));
        let mut with_pour = vec![made::finding(Fault::UnevenPour, None)];
        assert!(explaining(&step, SIZE_MM, &mut with_pour).is_none());
        assert!(
            with_pour[0]
                .signs
                .iter()
                .any(|sign| sign.name == SignName::OneStep && sign.holds)
        );
    }

    #[test]
    fn a_step_is_not_named_beside_bands_or_bare_places_and_an_unsteady_one_not_beside_a_stain() {
        let named = |found: Fault, edge: &FlowEdge| {
            let beside = Finding {
                box_mm: [40.0, 0.0, 70.0, 30.0],
                ..made::finding(found, None)
            };
            let mut findings = vec![beside];
            let alone = explaining(edge, SIZE_MM, &mut findings);
            findings.extend(alone);
            findings.iter().map(|found| found.fault).collect::<Vec<_>>()
        };
        let steady = edge([55.0, 15.0]);
        let unsteady = FlowEdge {
            scatter_d: 0.02,
            ..steady.clone()
        };
        assert_eq!(named(Fault::DipLine, &steady), [Fault::DipLine]);
        assert_eq!(named(Fault::BareArea, &steady), [Fault::BareArea]);
        assert_eq!(named(Fault::Stain, &steady), [Fault::Ridges]);
        assert_eq!(named(Fault::Stain, &unsteady), [Fault::Stain]);
    }
}
