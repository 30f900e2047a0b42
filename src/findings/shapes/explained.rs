//! What one fault of a plate makes other measures see.
//!
//! A band that runs out over the border looks like a tongue of light there, and several like a stain; where one side of a
//! plate stood longer in the bath, its border holds more silver too, as under fog; a coating that is thicker toward an edge
//! rises toward it as fog does; the edge of a second flow runs out as a tongue does; and a broad stain lifts one side of the
//! surface that is laid through an even plate.

use std::cmp::Ordering;

use super::EVEN_PLATE;
use super::bands::strongest_line;
use crate::findings::fog::UNEXPOSED_PLATE;
use crate::findings::{CannotTell, Fault, Finding, Sign, SignName};
use crate::handling::Spot;
use crate::measures::{FlowEdge, ShapeMeasures};
use crate::plate::{Edge, Plate, PlateKind};
use crate::raster::geometry::{between_axes_deg, between_directions_deg};

/// How far beside the end of a band a tongue enters that is the band's, millimetres, beside half the width of both:
/// bands bend. Our own choice, as all here.
const BESIDE_MM: f64 = 2.0;
/// A tongue so many times as strong as the bands is none of them.
const FAR_STRONGER: f64 = 3.0;
/// How far a band may lie from square to the edge that it runs out over, degrees.
const SQUARE_DEG: f64 = 40.0;

/// Streaks side by side in the border look like a stain whose line is no more than so many times as strong. Our own
/// choice: of six such (development seeds 795000 and 796000) the strongest was 1.4 times.
const STREAKS: f64 = 2.0;

/// Silver that the step beside a line of the dip explains: so many times the step and a little, density. The step is
/// read close to the line, and on six made plates was half to nine tenths of what the sides differ by.
const STEPS: f64 = 2.0;
/// See [`STEPS`].
const STEP_MORE_D: f64 = 0.01;
/// Least step that explains anything, density.
const LEAST_STEP_D: f64 = 0.015;

/// How far from the ends of a line that was followed to the edges of the picture a tongue may lie that is its end,
/// millimetres: a border is as wide.
const END_MM: f64 = 6.0;

/// How near to a line of the dip fog stops that is the step beside it, millimetres.
const AT_LINE_MM: f64 = 3.0;

/// How far from the way an uneven pour rises an edge faces that it lifts, degrees.
const RISES_TOWARD_DEG: f64 = 100.0;

/// Why fog cannot be told beside a line of the dip.
const MORE_ON_ONE_SIDE: &str =
    "the plate holds more silver on one side of the line across it, which looks the same";

/// Lets go of what other faults explain, and says of fog and pour that they cannot be told beside them.
pub(in crate::findings) fn explained(
    plate: &Plate,
    shapes: &ShapeMeasures,
    findings: &mut Vec<Finding>,
    cannot_tell: &mut Vec<CannotTell>,
) {
    let size_mm = [plate.width_mm, plate.height_mm];
    by_bands(size_mm, findings);
    if let Some(edge) = &shapes.flow_edge {
        by_second_flow(size_mm, edge, findings);
    }
    letting_go(findings, cannot_tell, MORE_ON_ONE_SIDE, |findings| {
        beside_line(findings);
    });
    if !matches!(plate.kind, PlateKind::Blank | PlateKind::Flat) {
        return;
    }
    let has_line = has(findings, Fault::DipLine);
    if let Some(step) = Step::of(plate, shapes).filter(|_| has_line) {
        letting_go(findings, cannot_tell, MORE_ON_ONE_SIDE, |findings| {
            findings.retain(|found| !step.explains(found));
        });
    }
    let because = "the stain lifts the silver of its side as much";
    letting_go(findings, cannot_tell, because, |findings| {
        by_stain(size_mm, findings);
    });
    let because = "the coating thickens toward the edge, which looks the same";
    letting_go(findings, cannot_tell, because, by_pour);
}

/// Lets go of findings; where none of the kind is left, the plate cannot tell it.
fn letting_go(
    findings: &mut Vec<Finding>,
    cannot_tell: &mut Vec<CannotTell>,
    because: &str,
    let_go: impl FnOnce(&mut Vec<Finding>),
) {
    let plates = [
        (Fault::EdgeFog, UNEXPOSED_PLATE),
        (Fault::UnevenPour, EVEN_PLATE),
    ];
    let named = plates.map(|(fault, _)| has(findings, fault));
    let_go(findings);
    for ((fault, make_this_plate), named) in plates.into_iter().zip(named) {
        if named && !has(findings, fault) && cannot_tell.iter().all(|one| one.fault != fault) {
            cannot_tell.push(CannotTell {
                fault,
                because: because.to_owned(),
                make_this_plate: make_this_plate.to_owned(),
            });
        }
    }
}

fn has(findings: &[Finding], fault: Fault) -> bool {
    findings.iter().any(|found| found.fault == fault)
}

/// A figure of a finding; 0 without it.
fn value(found: &Finding, name: &str) -> f64 {
    found.reading(name).map_or(0.0, |read| read.value)
}

fn first(findings: &[Finding], fault: Fault) -> Option<Finding> {
    findings.iter().find(|found| found.fault == fault).cloned()
}

/// Lets go of tongues that are the ends of bands, of stains in the border alone that are streaks, and of bare places that
/// are troughs of waves.
fn by_bands(size_mm: [f64; 2], findings: &mut Vec<Finding>) {
    let bands: Vec<Band> = findings.iter().flat_map(Band::all).collect();
    let streaks_d = first(findings, Fault::Streaks).map_or(0.0, |of| value(&of, "contrast_d"));
    let ridges = first(findings, Fault::Ridges);
    findings.retain(|found| match found.fault {
        Fault::BareArea => !ridges.as_ref().is_some_and(|waves| is_trough(found, waves)),
        Fault::LightLeak => !bands.iter().any(|band| band.ends_as(size_mm, found)),
        Fault::Stain if found.reading("reach_mm").is_none() => {
            value(found, "line_d") > STREAKS * streaks_d
        }
        _ => true,
    });
}

/// Lets go of fog in the border on one side of a line of the dip: along the edges that the line crosses it ends at the
/// line, and it lies along the edge beyond. What stood longer in the bath holds more silver, border and all.
fn beside_line(findings: &mut Vec<Finding>) {
    let Some(line) = first(findings, Fault::DipLine) else {
        return;
    };
    let upright = line
        .axis_deg
        .is_some_and(|deg| between_axes_deg(deg, 0.0) < SQUARE_DEG);
    let (across, edges) = match upright {
        true => (0, [Edge::Left, Edge::Right]),
        false => (1, [Edge::Top, Edge::Bottom]),
    };
    let ends = |found: &Finding| [found.box_mm[across], found.box_mm[across + 2]];
    let [from, to] = ends(&line);
    let at_line = |end: f64| (from - AT_LINE_MM..=to + AT_LINE_MM).contains(&end);
    // Before the line it ends there, behind it it starts there.
    let sides = [1, 0].map(|end| {
        let crossed = |edge: Edge| !edges.contains(&edge);
        let stops = |found: &&Finding| {
            found.fault == Fault::EdgeFog
                && edge_of(found).is_some_and(crossed)
                && at_line(ends(found)[end])
        };
        findings.iter().filter(stops).count()
    });
    let [before, behind] = sides;
    let (beyond, end) = match before.cmp(&behind) {
        Ordering::Greater => (edges[0], 1),
        Ordering::Less => (edges[1], 0),
        // None stops there, or on either side one.
        Ordering::Equal => return,
    };
    findings.retain(|found| {
        found.fault != Fault::EdgeFog
            || !edge_of(found).is_some_and(|edge| {
                edge == beyond || !edges.contains(&edge) && at_line(ends(found)[end])
            })
    });
}

/// Lets go of tongues where the edge of a second flow that was named meets the edge of the plate.
fn by_second_flow(size_mm: [f64; 2], edge: &FlowEdge, findings: &mut Vec<Finding>) {
    let is_named = |found: &Finding| {
        let step = |sign: &Sign| sign.name == SignName::OneStep && sign.holds;
        found.signs.iter().any(step)
    };
    if !findings.iter().any(is_named) {
        return;
    }
    let ends = [edge.points_mm.first(), edge.points_mm.last()];
    findings.retain(|leak| {
        let is_its_end = |[x, y]: &[f64; 2]| {
            let (in_mm, at_mm) = match edge_of(leak) {
                Some(Edge::Top) => (*y, *x),
                Some(Edge::Bottom) => (size_mm[1] - y, *x),
                Some(Edge::Left) => (*x, *y),
                Some(Edge::Right) => (size_mm[0] - x, *y),
                None => return false,
            };
            in_mm < END_MM
                && (at_mm - value(leak, "at_mm")).abs() < END_MM + 0.5 * value(leak, "width_mm")
        };
        leak.fault != Fault::LightLeak
            || value(leak, "peak_d") >= STEPS * edge.step_d.value
            || !ends.iter().flatten().any(|end| is_its_end(end))
    });
}

/// Whether a bare place is no more than the thin of one of the waves that it lies among: no broader than one, in no
/// corner.
fn is_trough(bare: &Finding, waves: &Finding) -> bool {
    let ([a0, b0, a1, b1], [x0, y0, x1, y1]) = (bare.box_mm, waves.box_mm);
    let spacing_mm = value(waves, "spacing_mm");
    let broad_mm = value(bare, "area_mm2") / (a1 - a0).hypot(b1 - b0).max(spacing_mm);
    let among = a0 < x1 && x0 < a1 && b0 < y1 && y0 < b1;
    let spot = bare.place.as_deref().and_then(Spot::of_word);
    let in_corner = spot.is_some_and(|spot| spot.corner().is_some());
    among && !in_corner && broad_mm <= spacing_mm
}

/// Lets go of a pour that rises toward a stain and no more than its line does.
fn by_stain(size_mm: [f64; 2], findings: &mut Vec<Finding>) {
    let Some(stain) = first(findings, Fault::Stain).filter(|of| of.reading("reach_mm").is_some())
    else {
        return;
    };
    findings.retain(|found| {
        let toward = found
            .direction_deg
            .is_some_and(|deg| lies_toward(size_mm, stain.box_mm, deg));
        found.fault != Fault::UnevenPour
            || !toward
            || value(found, "range_d") >= value(&stain, "line_d")
    });
}

/// Lets go of edge fog where an uneven pour rises toward the edge by as much.
fn by_pour(findings: &mut Vec<Finding>) {
    let Some(pour) = first(findings, Fault::UnevenPour) else {
        return;
    };
    let lifts = |edge: Edge| {
        pour.direction_deg.is_some_and(|deg| {
            between_directions_deg(deg, 90.0 * edge as usize as f64) < RISES_TOWARD_DEG
        })
    };
    findings.retain(|found| {
        found.fault != Fault::EdgeFog
            || !edge_of(found).is_some_and(lifts)
            || value(found, "fog_d") > value(&pour, "range_d")
    });
}

/// The edge that a finding belongs to.
fn edge_of(found: &Finding) -> Option<Edge> {
    let word = found.place.as_deref()?;
    Edge::ALL.into_iter().find(|edge| edge.word() == word)
}

/// Whether a box lies from the plate's middle toward a direction, degrees.
fn lies_toward([width, height]: [f64; 2], [x0, y0, x1, y1]: [f64; 4], deg: f64) -> bool {
    let (sin, cos) = deg.to_radians().sin_cos();
    (x0 + x1 - width) * sin - (y0 + y1 - height) * cos > 0.0
}

/// One band as it may run out over an edge.
struct Band {
    /// A place on it, millimetres.
    on_mm: [f64; 2],
    axis_deg: f64,
    width_mm: f64,
    contrast_d: f64,
}

impl Band {
    fn all(found: &Finding) -> Vec<Band> {
        let Some(axis_deg) = found.axis_deg else {
            return Vec::new();
        };
        let contrast_d = value(found, "contrast_d");
        let band = |on_mm, contrast_d| Band {
            on_mm,
            axis_deg,
            width_mm: value(found, "width_mm"),
            contrast_d,
        };
        let [x0, y0, x1, y1] = found.box_mm;
        match (found.fault, &found.members) {
            (Fault::Streaks | Fault::Ridges, Some(members)) => members
                .iter()
                .map(|one| band(one.centre_mm, one.contrast_d.max(contrast_d)))
                .collect(),
            (Fault::DipLine, _) => vec![band([0.5 * (x0 + x1), 0.5 * (y0 + y1)], contrast_d)],
            _ => Vec::new(),
        }
    }

    /// Whether a tongue is this band where it crosses the border.
    fn ends_as(&self, [width, height]: [f64; 2], leak: &Finding) -> bool {
        let [x, y] = self.on_mm;
        let (sin, cos) = self.axis_deg.to_radians().sin_cos();
        let (square_deg, out_mm) = match edge_of(leak) {
            Some(Edge::Top) => (0.0, x + y * sin / cos),
            Some(Edge::Bottom) => (0.0, x + (y - height) * sin / cos),
            Some(Edge::Left) => (90.0, y + x * cos / sin),
            Some(Edge::Right) => (90.0, y + (x - width) * cos / sin),
            None => return false,
        };
        between_axes_deg(self.axis_deg, square_deg) < SQUARE_DEG
            && value(leak, "peak_d") < FAR_STRONGER * self.contrast_d
            && (out_mm - value(leak, "at_mm")).abs()
                < BESIDE_MM + 0.5 * (self.width_mm + value(leak, "width_mm"))
    }
}

/// The two sides of a line of the dip, where one holds more silver.
struct Step {
    upright: bool,
    /// Where the line lies, millimetres from the left edge or from the top.
    at_mm: f64,
    /// Silver beyond it less silver before it, density.
    step_d: f64,
}

impl Step {
    fn of(plate: &Plate, shapes: &ShapeMeasures) -> Option<Step> {
        let (family, line) = strongest_line(plate, shapes)?;
        (line.step_d.abs() >= LEAST_STEP_D).then_some(Step {
            upright: family.upright,
            at_mm: line.middle_mm[usize::from(!family.upright)],
            step_d: line.step_d,
        })
    }

    fn explains(&self, found: &Finding) -> bool {
        let most_d = STEPS * self.step_d.abs() + STEP_MORE_D;
        match found.fault {
            Fault::EdgeFog => value(found, "fog_d") <= most_d && self.holds(found.box_mm),
            Fault::UnevenPour => value(found, "range_d") <= most_d,
            _ => false,
        }
    }

    /// Whether the middle of a box lies on the side that holds more.
    fn holds(&self, [x0, y0, x1, y1]: [f64; 4]) -> bool {
        let middle = match self.upright {
            true => 0.5 * (x0 + x1),
            false => 0.5 * (y0 + y1),
        };
        (middle > self.at_mm) == (self.step_d > 0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::made;
    use crate::units::Reading;

    const SIZE_MM: [f64; 2] = [70.0, 83.0];

    fn with(fault: Fault, place: &str, figures: &[(&'static str, f64)]) -> Finding {
        let reading = |(name, value): &(&'static str, f64)| (*name, Reading::new(*value, 0.0));
        Finding {
            measured: figures.iter().map(reading).collect(),
            ..made::finding(fault, Some(place))
        }
    }

    fn kinds(findings: &[Finding]) -> Vec<Fault> {
        findings.iter().map(|found| found.fault).collect()
    }

    #[test]
    fn the_thin_of_a_wave_is_no_bare_place_and_an_island_or_a_corner_is() {
        let waves = Finding {
            box_mm: [30.0, 40.0, 70.0, 83.0],
            ..with(Fault::Ridges, "bottom_right", &[("spacing_mm", 3.0)])
        };
        let stays = |place, box_mm, area_mm2| {
            let bare = Finding {
                box_mm,
                ..with(Fault::BareArea, place, &[("area_mm2", area_mm2)])
            };
            let mut findings = vec![waves.clone(), bare];
            by_bands(SIZE_MM, &mut findings);
            findings.len() == 2
        };
        assert!(!stays("right", [66.0, 60.0, 70.0, 68.0], 10.0));
        assert!(stays("", [40.0, 50.0, 52.0, 62.0], 110.0));
        assert!(stays("bottom_right", [66.0, 79.0, 70.0, 83.0], 8.0));
        assert!(stays("left", [0.0, 10.0, 4.0, 18.0], 10.0));
    }

    #[test]
    fn fog_that_stops_at_a_line_is_what_its_sides_differ_by() {
        let line = Finding {
            axis_deg: Some(179.0),
            box_mm: [41.0, 4.0, 43.0, 79.0],
            ..with(Fault::DipLine, "", &[])
        };
        let fog = |place, box_mm| Finding {
            box_mm,
            ..with(Fault::EdgeFog, place, &[("fog_d", 0.05)])
        };
        let left = |fogs: &[Finding]| {
            let mut findings = [std::slice::from_ref(&line), fogs].concat();
            beside_line(&mut findings);
            findings.len() - 1
        };
        let right = fog("right", [50.0, 0.0, 70.0, 83.0]);
        let behind = [
            fog("top", [42.0, 0.0, 70.0, 20.0]),
            right.clone(),
            fog("bottom", [44.0, 70.0, 70.0, 83.0]),
        ];
        assert_eq!(left(&behind), 0);
        // By itself, or along the whole of an edge, it is fog; and so it is on the other side.
        assert_eq!(left(std::slice::from_ref(&right)), 1);
        assert_eq!(left(&[fog("top", [0.0, 0.0, 70.0, 20.0]), right]), 2);
        let other = fog("left", [0.0, 0.0, 15.0, 83.0]);
        assert_eq!(left(&[behind[0].clone(), other]), 1);
        let before = fog("bottom", [0.0, 70.0, 42.0, 83.0]);
        assert_eq!(left(&[behind[0].clone(), before]), 2);
    }

    #[test]
    fn a_tongue_where_a_named_step_runs_out_is_its_end() {
        let edge = FlowEdge {
            points_mm: vec![[3.0, 50.0], [12.0, 62.0], [25.0, 80.0]],
            step_d: Reading::new(0.1, 0.01),
            nearly_all_d: 0.09,
            scatter_d: 0.01,
            thicker_mm: [8.0, 70.0],
        };
        let leak = |place, at_mm, peak_d| {
            let figures = [("at_mm", at_mm), ("peak_d", peak_d), ("width_mm", 4.0)];
            with(Fault::LightLeak, place, &figures)
        };
        let left = |named: bool, leaks: &[Finding]| {
            let step = Finding {
                signs: vec![Sign::seen(SignName::OneStep, "")],
                ..with(Fault::Ridges, "bottom_left", &[])
            };
            let steps: &[Finding] = if named { &[step] } else { &[] };
            let mut findings = [steps, leaks].concat();
            by_second_flow(SIZE_MM, &edge, &mut findings);
            findings.len() - steps.len()
        };
        let ends = [leak("left", 52.0, 0.1), leak("bottom", 27.0, 0.1)];
        assert_eq!(left(true, &ends), 0);
        assert_eq!(left(false, &ends), 2);
        assert_eq!(
            left(true, &[leak("left", 20.0, 0.1), leak("top", 25.0, 0.1)]),
            2
        );
        assert_eq!(left(true, &[leak("left", 52.0, 0.5)]), 1);
    }

    #[test]
    fn a_tongue_at_the_end_of_a_line_is_the_line_and_one_elsewhere_or_far_stronger_is_not() {
        // A line along 80 degrees through the middle comes out 6.2 mm lower at the left and higher at the right.
        let line = Finding {
            axis_deg: Some(80.0),
            box_mm: [7.0, 35.0, 63.0, 48.0],
            ..with(
                Fault::DipLine,
                "",
                &[("contrast_d", 0.1), ("width_mm", 0.6)],
            )
        };
        let leak = |place, at_mm, peak_d| {
            let figures = [("at_mm", at_mm), ("peak_d", peak_d), ("width_mm", 2.0)];
            with(Fault::LightLeak, place, &figures)
        };
        let left = |leaks: &[Finding]| {
            let mut findings = [std::slice::from_ref(&line), leaks].concat();
            by_bands(SIZE_MM, &mut findings);
            findings.len() - 1
        };
        assert_eq!(
            left(&[leak("left", 47.7, 0.1), leak("right", 35.3, 0.1)]),
            0
        );
        let others = [
            leak("left", 35.3, 0.1),
            leak("top", 35.0, 0.1),
            leak("left", 47.7, 0.4),
        ];
        assert_eq!(left(&others), 3);
    }

    #[test]
    fn streaks_in_the_border_are_no_stain() {
        let streaks = with(Fault::Streaks, "left", &[("contrast_d", 0.08)]);
        let left = |line_d, reach: &[(&'static str, f64)]| {
            let figures = [&[("line_d", line_d)], reach].concat();
            let mut findings = vec![streaks.clone(), with(Fault::Stain, "top", &figures)];
            by_bands(SIZE_MM, &mut findings);
            findings.len() - 1
        };
        assert_eq!(left(0.1, &[]), 0);
        assert_eq!(left(0.3, &[]), 1);
        assert_eq!(left(0.1, &[("reach_mm", 12.0)]), 1);
    }

    #[test]
    fn what_stood_longer_in_the_bath_is_neither_fogged_nor_poured_thick() {
        let step = Step {
            upright: false,
            at_mm: 50.0,
            step_d: 0.05,
        };
        let fog = |place, box_mm, fog_d| Finding {
            box_mm,
            ..with(Fault::EdgeFog, place, &[("fog_d", fog_d)])
        };
        let below = [0.0, 70.0, 70.0, 83.0];
        assert!(step.explains(&fog("bottom", below, 0.1)));
        assert!(!step.explains(&fog("bottom", below, 0.2)));
        assert!(!step.explains(&fog("top", [0.0, 0.0, 70.0, 12.0], 0.1)));
        assert!(step.explains(&with(Fault::UnevenPour, "bottom", &[("range_d", 0.1)])));
    }

    #[test]
    fn what_is_let_go_is_said_to_be_beyond_telling_unless_more_of_it_is_left() {
        let fog = |place, fog_d| with(Fault::EdgeFog, place, &[("fog_d", fog_d)]);
        let pour = Finding {
            direction_deg: Some(0.0),
            ..with(Fault::UnevenPour, "top", &[("range_d", 0.2)])
        };
        let said = |fogs: &[Finding]| {
            let mut findings = [std::slice::from_ref(&pour), fogs].concat();
            let mut cannot_tell = Vec::new();
            letting_go(&mut findings, &mut cannot_tell, "it rises", by_pour);
            let said: Vec<Fault> = cannot_tell.iter().map(|one| one.fault).collect();
            (findings.len() - 1, said)
        };
        assert_eq!(said(&[fog("top", 0.1)]), (0, vec![Fault::EdgeFog]));
        assert_eq!(said(&[fog("top", 0.1), fog("left", 0.3)]), (1, vec![]));
        assert_eq!(said(&[]), (0, vec![]));
    }

    #[test]
    fn a_pour_explains_fog_where_it_rises_and_a_stain_explains_a_pour() {
        let pour = |deg, range_d| Finding {
            direction_deg: Some(deg),
            ..with(Fault::UnevenPour, "top_right", &[("range_d", range_d)])
        };
        let fog = |place, fog_d| with(Fault::EdgeFog, place, &[("fog_d", fog_d)]);
        let mut findings = vec![
            pour(45.0, 0.15),
            fog("top", 0.1),
            fog("right", 0.3),
            fog("left", 0.1),
        ];
        by_pour(&mut findings);
        let places: Vec<Option<&str>> = findings.iter().map(|f| f.place.as_deref()).collect();
        assert_eq!(places, [Some("top_right"), Some("right"), Some("left")]);
        let stain = Finding {
            box_mm: [40.0, 0.0, 70.0, 30.0],
            ..with(
                Fault::Stain,
                "top_right",
                &[("line_d", 0.4), ("reach_mm", 30.0)],
            )
        };
        let left = |pour: Finding| {
            let mut findings = vec![stain.clone(), pour];
            by_stain(SIZE_MM, &mut findings);
            kinds(&findings).contains(&Fault::UnevenPour)
        };
        assert!(!left(pour(45.0, 0.15)));
        assert!(left(pour(225.0, 0.15)) && left(pour(45.0, 0.5)));
    }
}
