//! Thin lines that are scratches.

use super::scratch_signs;
use crate::doubts::Doubt;
use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, confidence, full_of_fine_lines, like_a_scratch, more_for_bow_mm,
    scratch_false_alarms, scratch_severity,
};
use crate::findings::{CannotTell, Fault, Finding, Mark, Polarity, Standing};
use crate::measures::{Piece, ScratchMeasures, ThinLine};
use crate::plate::{Plate, PlateKind, ScaleSource};
use crate::raster::geometry::{between_axes_deg, distance};
use crate::raster::stats::median;
use crate::units::Reading;

/// How far lines may lie off each other's chord, millimetres and share of its length, and turned against it,
/// degrees, to be parts of one: a bent scratch is followed piece by piece. Our own choice, as all here.
const ONE_MM: f64 = 1.0;
/// See [`ONE_MM`].
const ONE_SHARE: f64 = 0.06;
/// See [`ONE_MM`].
const ONE_DEG: f64 = 12.0;
/// A part goes on where the other ends: along it they share at most so much, millimetres, and the gap between
/// them is no longer than the longer one.
const SHARED_MM: f64 = 2.0;
/// A hair is turned no more than this against a line that it is taken for, degrees.
const HAIR_DEG: f64 = 20.0;
/// Unless its box is narrower than this, millimetres.
const HAIR_BOX_MM: f64 = 3.0;
/// The same for what lies beside a scratch and is its own: its rims and the other parts of it.
const OWN_MM: f64 = 1.5;
/// See [`OWN_MM`].
const OWN_DEG: f64 = 15.0;
/// A line so near to an edge, millimetres, and so nearly along it, degrees, is the rim's. Our own choice.
const RIM_MM: f64 = 1.2;
/// See [`RIM_MM`].
const RIM_DEG: f64 = 5.0;
/// Shortest scratch, millimetres.
const SHORTEST_MM: f64 = 8.0;

/// One line, of the parts that it was followed in.
pub(super) struct Whole<'a> {
    parts: Vec<&'a ThinLine>,
    /// Ends, and the place nearest to the middle between them, millimetres.
    pub(super) ends_mm: [[f64; 2]; 2],
    centre_mm: [f64; 2],
}

impl<'a> Whole<'a> {
    fn of(parts: Vec<&'a ThinLine>) -> Whole<'a> {
        let longest = parts[0];
        let [from, to] = longest.ends_mm();
        let along = |[x, y]: [f64; 2]| {
            ((x - from[0]) * (to[0] - from[0]) + (y - from[1]) * (to[1] - from[1]))
                / distance(from, to).max(1e-9)
        };
        let mut points: Vec<[f64; 2]> = parts
            .iter()
            .flat_map(|part| part.points_mm.clone())
            .collect();
        points.sort_by(|a, b| along(*a).total_cmp(&along(*b)));
        let ends_mm = [points[0], points[points.len() - 1]];
        let middle = 0.5 * (along(ends_mm[0]) + along(ends_mm[1]));
        let centre_mm = points
            .iter()
            .copied()
            .min_by(|a, b| {
                (along(*a) - middle)
                    .abs()
                    .total_cmp(&(along(*b) - middle).abs())
            })
            .unwrap_or(longest.middle_mm());
        Whole {
            parts,
            ends_mm,
            centre_mm,
        }
    }

    /// The longest of its parts.
    pub(super) fn longest(&self) -> &'a ThinLine {
        self.parts[0]
    }

    pub(super) fn length_mm(&self) -> f64 {
        distance(self.ends_mm[0], self.ends_mm[1]).max(self.longest().length_mm)
    }

    pub(super) fn axis_deg(&self) -> f64 {
        let [[x0, y0], [x1, y1]] = self.ends_mm;
        (x1 - x0).atan2(y0 - y1).to_degrees().rem_euclid(180.0)
    }

    pub(super) fn middle_mm(&self) -> [f64; 2] {
        self.centre_mm
    }

    fn box_mm(&self, plate: &Plate) -> [f64; 4] {
        let half = 0.5 * self.longest().width_mm;
        let points = self.parts.iter().flat_map(|part| &part.points_mm);
        let start = [plate.width_mm, plate.height_mm, 0.0, 0.0];
        points.fold(start, |[x0, y0, x1, y1], [x, y]| {
            [
                x0.min(x - half).max(0.0),
                y0.min(y - half).max(0.0),
                x1.max(x + half).min(plate.width_mm),
                y1.max(y + half).min(plate.height_mm),
            ]
        })
    }
}

/// How a line lies to the chord of another.
struct Beside {
    /// Its middle off the chord, carried on past its ends, millimetres.
    off_mm: f64,
    turned_deg: f64,
    /// What both take along the chord, millimetres; less than nothing is the gap between them.
    shared_mm: f64,
}

impl Beside {
    fn of(chord: &ThinLine, line: &ThinLine) -> Beside {
        let [[x0, y0], [x1, y1]] = chord.ends_mm();
        let long_mm = (x1 - x0).hypot(y1 - y0).max(1e-9);
        let along = |[x, y]: [f64; 2]| ((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / long_mm;
        let [x, y] = line.middle_mm();
        let [from, to] = line.ends_mm().map(along);
        Beside {
            off_mm: ((x - x0) * (y1 - y0) - (y - y0) * (x1 - x0)).abs() / long_mm,
            turned_deg: between_axes_deg(chord.axis_deg, line.axis_deg),
            shared_mm: from.max(to).min(long_mm) - from.min(to).max(0.0),
        }
    }
}

/// Whether two lines are one that was seen twice, or one that goes on in the other.
fn are_one(longer: &ThinLine, line: &ThinLine) -> bool {
    let beside = Beside::of(longer, line);
    let seen_twice = beside.shared_mm > 0.0 && beside.off_mm < ONE_MM;
    let goes_on = (-longer.length_mm..=SHARED_MM).contains(&beside.shared_mm)
        && beside.off_mm < ONE_MM.max(ONE_SHARE * longer.length_mm);
    beside.turned_deg < ONE_DEG && (seen_twice || goes_on)
}

/// Lines, longest first, put together where one goes on in another.
fn wholes<'a>(lines: &[&'a ThinLine]) -> Vec<Vec<&'a ThinLine>> {
    let mut wholes: Vec<Vec<&ThinLine>> = Vec::new();
    for line in lines {
        let whole = wholes
            .iter_mut()
            .find(|whole| whole.iter().any(|part| are_one(part, line)));
        match whole {
            Some(whole) => whole.push(line),
            None => wholes.push(vec![line]),
        }
    }
    wholes
}

/// Whether a hair on the scanner's glass lies along a line.
fn is_hair(line: &ThinLine, glass: &[Piece]) -> bool {
    let near = |piece: &Piece| {
        let [x0, y0, x1, y1] = piece.box_mm;
        let inside = line.points_mm.iter().filter(|[x, y]| {
            (x0 - 0.3..=x1 + 0.3).contains(x) && (y0 - 0.3..=y1 + 0.3).contains(y)
        });
        // The box of a hair that lies aslant is wide: what crosses it is no hair.
        let narrow = (x1 - x0).min(y1 - y0) < HAIR_BOX_MM;
        let alike = piece.long.is_some_and(|(_, axis_deg)| {
            narrow || between_axes_deg(axis_deg, line.axis_deg) < HAIR_DEG
        });
        alike && 2 * inside.count() > line.points_mm.len()
    };
    glass.iter().any(near)
}

/// Whether a line runs along an edge of the plate so near to it that it is the lip's or the ledge's.
fn is_rim(plate: &Plate, line: &ThinLine) -> bool {
    let [x, y] = line.middle_mm();
    let sides = [
        (x.min(plate.width_mm - x), 0.0),
        (y.min(plate.height_mm - y), 90.0),
    ];
    sides.into_iter().any(|(off_mm, axis_deg)| {
        off_mm < RIM_MM && between_axes_deg(line.axis_deg, axis_deg) < RIM_DEG
    })
}

/// One finding for all scratches of a plate; `glass` is what a second scan showed to lie on the scanner.
pub(in crate::findings) fn scratches(
    plate: &Plate,
    measured: &ScratchMeasures,
    glass: Option<&[Piece]>,
    findings: &mut Vec<Finding>,
    cannot_tell: &mut Vec<CannotTell>,
) {
    let even = plate.kind != PlateKind::Picture;
    let (like, unlike): (Vec<&ThinLine>, Vec<&ThinLine>) = measured
        .lines
        .iter()
        .filter(|line| !is_hair(line, glass.unwrap_or_default()) && !is_rim(plate, line))
        .partition(|line| like_a_scratch(line, even));
    let scratches: Vec<Vec<&ThinLine>> = wholes(&like)
        .into_iter()
        .filter(|parts| parts[0].length_mm >= SHORTEST_MM + more_for_bow_mm(parts[0].bow))
        .collect();
    if scratches.is_empty() {
        return;
    }
    let others: Vec<&ThinLine> = unlike
        .into_iter()
        .filter(|line| {
            !scratches.iter().any(|parts| {
                parts.iter().any(|part| {
                    let beside = Beside::of(part, line);
                    beside.off_mm < OWN_MM
                        && beside.turned_deg < OWN_DEG
                        && beside.shared_mm > -part.length_mm
                })
            })
        })
        .collect();
    let others = wholes(&others).len();
    if !even && full_of_fine_lines(scratches.len(), others) {
        cannot_tell.push(CannotTell {
            fault: Fault::Scratch,
            because: "the scene is full of fine sharp lines, and some look like scratches".to_owned(),
            make_this_plate: "no other plate shows it: tilt this one under a lamp; a scratch breaks the film's shine, a line of the scene does not".to_owned(),
        });
        return;
    }
    let others = if even { 0 } else { others };
    let by_chance =
        |parts: &Vec<&ThinLine>| scratch_false_alarms(parts[0].length_mm, parts[0].bow, others);
    let expected = scratches.iter().map(by_chance).fold(1.0, f64::min);
    if expected <= FALSE_ALARMS_A_PLATE {
        let scratches: Vec<Whole> = scratches.into_iter().map(Whole::of).collect();
        findings.push(finding(plate, &scratches, expected, even, glass.is_some()));
    }
}

fn finding(plate: &Plate, scratches: &[Whole], expected: f64, even: bool, turned: bool) -> Finding {
    let of = |what: &dyn Fn(&Whole) -> f64| {
        median(&mut scratches.iter().map(what).collect::<Vec<f64>>()).unwrap_or(0.0)
    };
    let width_mm = of(&|whole| whole.longest().width_mm);
    let contrast_d = of(&|whole| whole.longest().contrast_d);
    let longest_mm = scratches.iter().map(Whole::length_mm).fold(0.0, f64::max);
    let length_mm: f64 = scratches.iter().map(Whole::length_mm).sum();
    let mut doubts = Vec::new();
    if !even {
        doubts.push(Doubt::SceneMayDoIt);
    }
    // Over a lamp what lies on the glass is dark, so it cannot pass for a clear line.
    if !turned && plate.process.is_positive() {
        doubts.push(Doubt::OneScan);
    }
    let boxes = scratches.iter().map(|whole| whole.box_mm(plate));
    Finding {
        id: String::new(),
        fault: Fault::Scratch,
        place: None,
        title: title(plate, scratches.len(), longest_mm),
        measured: vec![
            ("count", Reading::new(scratches.len() as f64, 0.0)),
            // The blur of its ends.
            ("length_mm", Reading::new(longest_mm, 1.0)),
            ("width_mm", Reading::new(width_mm, plate.pitch_mm)),
            ("contrast_d", Reading::new(contrast_d, 0.2 * contrast_d)),
        ],
        polarity: Polarity::LessSilver,
        box_mm: boxes
            .reduce(|a, b| {
                [
                    a[0].min(b[0]),
                    a[1].min(b[1]),
                    a[2].max(b[2]),
                    a[3].max(b[3]),
                ]
            })
            .unwrap_or_default(),
        outline_mm: None,
        axis_deg: scratches.first().map(Whole::axis_deg),
        direction_deg: None,
        direction_spread_deg: None,
        members: Some(
            scratches
                .iter()
                .map(|whole| Mark {
                    box_mm: whole.box_mm(plate),
                    centre_mm: whole.middle_mm(),
                    size_mm: whole.longest().width_mm,
                    length_mm: Some(whole.length_mm()),
                    direction_deg: None,
                    axis_deg: Some(whole.axis_deg()),
                    sagitta_mm: 0.0,
                    contrast_d: whole.longest().contrast_d,
                    expected_false_alarms: expected,
                })
                .collect(),
        ),
        confidence: confidence(expected),
        expected_false_alarms: expected,
        standing: match even {
            true => Standing::Measured,
            false => Standing::Suggested,
        },
        severity: scratch_severity(contrast_d, length_mm),
        signs: scratch_signs::of(plate, scratches),
        doubts,
        figure: None,
    }
}

fn title(plate: &Plate, count: usize, longest_mm: f64) -> String {
    let long = match plate.scale_source {
        ScaleSource::Unknown => String::new(),
        _ if count > 1 => format!(", the longest {longest_mm:.0} mm"),
        _ => format!(", {longest_mm:.0} mm long"),
    };
    match count {
        1 => format!("A scratch in the film{long}"),
        _ => format!("{count} scratches in the film{long}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A straight line between two places, millimetres.
    fn line(from: [f64; 2], to: [f64; 2]) -> ThinLine {
        let length_mm = distance(from, to);
        let steps = length_mm.ceil();
        let at = |k: usize| [0, 1].map(|i| from[i] + k as f64 / steps * (to[i] - from[i]));
        ThinLine {
            points_mm: (0..=steps as usize).map(at).collect(),
            length_mm,
            axis_deg: (to[0] - from[0])
                .atan2(from[1] - to[1])
                .to_degrees()
                .rem_euclid(180.0),
            bow: 0.0,
            width_mm: 0.2,
            edge_mm: 0.1,
            edge_cells: 1.0,
            contrast_d: 0.3,
            kept: 1.0,
            unlike_sides: 0.0,
            rise: 1.0,
            hits: 1.0,
            wander_cells: 0.2,
            sides_d: 0.6,
            gone: 0.7,
            misfit: 0.8,
            alike: 0,
        }
    }

    fn count(lines: &[ThinLine]) -> usize {
        wholes(&lines.iter().collect::<Vec<_>>()).len()
    }

    #[test]
    fn lines_side_by_side_are_several_and_parts_that_go_on_are_one() {
        let beside = |x: f64| line([x, 5.0], [x, 65.0]);
        assert_eq!(count(&[beside(20.0), beside(23.0), beside(26.0)]), 3);
        assert_eq!(count(&[beside(20.0), beside(20.4)]), 1);
        let bent = [
            line([20.0, 5.0], [20.0, 30.0]),
            line([20.2, 31.0], [21.5, 50.0]),
            line([21.7, 51.0], [23.6, 65.0]),
        ];
        assert_eq!(count(&bent), 1);
        let far = [
            line([20.0, 2.0], [20.0, 12.0]),
            line([20.0, 50.0], [20.0, 60.0]),
        ];
        assert_eq!(count(&far), 2);
    }

    #[test]
    fn a_hair_is_what_lies_along_it() {
        let hair = |box_mm: [f64; 4], axis_deg: f64| Piece {
            box_mm,
            centre_mm: [0, 1].map(|k| 0.5 * (box_mm[k] + box_mm[k + 2])),
            long: Some((20.0, axis_deg)),
            size_mm: 0.1,
            contrast_d: 0.3,
            expected_false_alarms: 1e-3,
        };
        let aslant = hair([10.0, 10.0, 24.0, 24.0], 135.0);
        let along = line([11.0, 11.0], [23.0, 23.0]);
        let across = line([17.0, 8.0], [17.0, 22.0]);
        assert!(is_hair(&along, std::slice::from_ref(&aslant)));
        assert!(!is_hair(&across, &[aslant]));
        assert!(is_hair(&across, &[hair([16.5, 6.0, 17.5, 26.0], 8.0)]));
    }
}
