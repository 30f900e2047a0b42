//! Stains that creep in from the rim.

use crate::findings::limits::{
    FALSE_ALARMS_A_PLATE, confidence, stain_false_alarms, stain_severity,
};
use crate::findings::{Fault, Finding, Polarity, Sign, SignName, Standing};
use crate::handling::Spot;
use crate::measures::{Stain, StainGround};
use crate::plate::{Plate, PlateKind, ScaleSource};
use crate::units::Reading;

/// Lines one behind the other from which curves are nested, and up to which there is one only.
const NESTED: [f64; 2] = [3.0, 1.0];
/// Extra silver in the border that shows a stain to go on there, density.
const IN_BORDER_D: f64 = 0.01;
/// Share of the shorter side from a corner within which a stain starts there.
const CORNER_SHARE: f64 = 1.0 / 6.0;

/// A stain that comes so near to the plate's edge reaches it, millimetres.
const AT_EDGE_MM: f64 = 1.0;

/// Whether a stain can be told on a plate: on its dark border, or all over an even plate.
pub(in crate::findings) fn shows_stains(plate: &Plate) -> bool {
    match plate.kind {
        PlateKind::Blank | PlateKind::Flat => true,
        PlateKind::Picture => {
            plate.shows_its_edges() && plate.ledge.width_mm.iter().any(Option::is_some)
        }
        PlateKind::Wedge => false,
    }
}

/// Stains with an outline sharper and stronger than clean plates show.
pub(in crate::findings) fn stains(plate: &Plate, stains: &[Stain], findings: &mut Vec<Finding>) {
    let first = findings.len();
    for stain in stains {
        let expected = stain_false_alarms(stain);
        if expected <= FALSE_ALARMS_A_PLATE {
            findings.push(finding(plate, stain, expected));
        }
    }
    // A picture shows a stain only where its line crosses the border, so that other corners were not judged.
    let judged = stains
        .iter()
        .all(|stain| stain.ground == StainGround::EvenPlate);
    let at_corners = findings[first..]
        .iter()
        .filter(|found| corner(found.place.as_deref()))
        .count();
    let elsewhere_near_corner = findings[first..].iter().any(|found| {
        let near = |sign: &Sign| sign.name == SignName::FromCorner && sign.holds;
        !corner(found.place.as_deref()) && found.signs.iter().any(near)
    });
    let sign = match at_corners {
        3.. => Sign::seen(
            SignName::SeveralCorners,
            format!("{at_corners} corners are stained"),
        ),
        1 if judged && !elsewhere_near_corner => {
            Sign::absent(SignName::SeveralCorners, "one corner is stained")
        }
        _ => return,
    };
    for found in &mut findings[first..] {
        if corner(found.place.as_deref()) {
            found.signs.push(sign.clone());
        }
    }
}

/// Lets a stain take what other measures made of its lines: leaks, streaks and small marks wholly within it.
/// In the border alone its reach is not seen; a leak that enters over no more of the edge than it is its, and so is
/// fog. Fog along most of an edge takes a stain in turn, since its ends are lines across the border, and so does a
/// leak that is far stronger than the stain's line, since a narrow one has steep flanks.
pub(in crate::findings) fn take_their_own(plate: &Plate, findings: &mut Vec<Finding>) {
    let fogs: Vec<(Option<String>, [f64; 4])> = findings
        .iter()
        .filter(|found| found.fault == Fault::EdgeFog)
        .map(|found| (found.place.clone(), found.box_mm))
        .collect();
    findings.retain(|found| {
        let in_border_alone = found.fault == Fault::Stain && found.reading("reach_mm").is_none();
        let ends_of_fog = |(edge, fog): &(Option<String>, [f64; 4])| {
            *edge == found.place && along_most(plate, found, *fog)
        };
        !(in_border_alone && fogs.iter().any(ends_of_fog))
    });
    let within = |found: &Finding, [x0, y0, x1, y1]: [f64; 4]| {
        let [a0, b0, a1, b1] = found.box_mm;
        let spare = WITHIN_MM;
        a0 >= x0 - spare && b0 >= y0 - spare && a1 <= x1 + spare && b1 <= y1 + spare
    };
    let value = |found: &Finding, name| found.reading(name).map_or(0.0, |reading| reading.value);
    let leaks: Vec<([f64; 4], f64)> = findings
        .iter()
        .filter(|found| found.fault == Fault::LightLeak)
        .map(|found| (found.box_mm, value(found, "peak_d")))
        .collect();
    let touches = |found: &Finding, [x0, y0, x1, y1]: [f64; 4]| {
        let [a0, b0, a1, b1] = found.box_mm;
        let spare = WITHIN_MM;
        x0 < a1 + spare && a0 < x1 + spare && y0 < b1 + spare && b0 < y1 + spare
    };
    findings.retain(|found| {
        let line_d = value(found, "line_d");
        let flank_of = |(leak, peak_d): &([f64; 4], f64)| {
            touches(found, *leak) && *peak_d > FAR_STRONGER * line_d
        };
        found.fault != Fault::Stain || !leaks.iter().any(flank_of)
    });
    let stains: Vec<([f64; 4], [f64; 4], f64)> = findings
        .iter()
        .filter(|found| found.fault == Fault::Stain)
        .map(|found| (found.box_mm, inward(plate, found), value(found, "line_d")))
        .collect();
    findings.retain(|found| {
        !stains
            .iter()
            .any(|(seen, beyond, line_d)| match found.fault {
                Fault::LightLeak => {
                    let part_of = value(found, "peak_d") <= PART_OF_LINE * line_d;
                    within(found, *beyond) || part_of && touches(found, *seen)
                }
                Fault::EdgeFog => within(found, *beyond),
                Fault::Streaks | Fault::Comets | Fault::Specks | Fault::Pinholes => {
                    within(found, *seen)
                }
                _ => false,
            })
    });
}

/// How many times as strong as the line of a stain a leak is that has steep flanks. Our own choice: what stains look
/// like to the measure of leaks is 1.5 times as strong at most (24 on made plates), and the one leak that looked like
/// a stain 8 times.
const FAR_STRONGER: f64 = 3.0;
/// What enters beside a stain and is no more than so many times as strong as its line is part of it.
const PART_OF_LINE: f64 = 1.6;

/// Share of an edge that fog covers where a stain beside it is its, and share of the fog that the stain lies along.
/// Our own choice: of 68 planted stains 8 are as long, and they stray too far from a smooth fall to be named fog.
const ALONG_MOST: f64 = 0.75;

/// Whether fog covers most of an edge, and a stain lies along most of the fog.
fn along_most(plate: &Plate, stain: &Finding, [x0, y0, x1, y1]: [f64; 4]) -> bool {
    let [a0, b0, a1, b1] = stain.box_mm;
    let (edge_mm, fog, of_stain) = match stain.place.as_deref().and_then(Spot::of_word) {
        Some(Spot::Top | Spot::Bottom) => (plate.width_mm, [x0, x1], [a0, a1]),
        Some(Spot::Left | Spot::Right) => (plate.height_mm, [y0, y1], [b0, b1]),
        _ => return false,
    };
    let shared_mm = fog[1].min(of_stain[1]) - fog[0].max(of_stain[0]);
    let fog_mm = fog[1] - fog[0];
    fog_mm >= ALONG_MOST * edge_mm && shared_mm >= ALONG_MOST * fog_mm
}

/// What lies within a stain reaches no farther beyond its box, millimetres.
const WITHIN_MM: f64 = 1.5;

/// The box of a stain; one that shows in the border alone goes on to the plate's middle.
fn inward(plate: &Plate, stain: &Finding) -> [f64; 4] {
    let [x0, y0, x1, y1] = stain.box_mm;
    let [x, y] = [0.5 * plate.width_mm, 0.5 * plate.height_mm];
    let spot = stain.place.as_deref().and_then(Spot::of_word);
    match spot.filter(|_| stain.reading("reach_mm").is_none()) {
        Some(Spot::Top) => [x0, y0, x1, y1.max(y)],
        Some(Spot::Right) => [x0.min(x), y0, x1, y1],
        Some(Spot::Bottom) => [x0, y0.min(y), x1, y1],
        Some(Spot::Left) => [x0, y0, x1.max(x), y1],
        _ => [x0, y0, x1, y1],
    }
}

fn corner(place: Option<&str>) -> bool {
    place
        .and_then(Spot::of_word)
        .is_some_and(|spot| spot.corner().is_some())
}

fn finding(plate: &Plate, stain: &Stain, expected: f64) -> Finding {
    let unscaled = plate.scale_source == ScaleSource::Unknown;
    let area_share = stain.area_mm2 / (plate.width_mm * plate.height_mm);
    let [x0, y0, x1, y1] = stain.box_mm;
    let size = match unscaled {
        true => format!("{:.1} % of the plate", 100.0 * area_share),
        // Of a stain that crosses the border of one edge only that much of the edge is seen.
        false if stain.reach_mm.is_none() && stain.from.is_edge() => {
            format!("{:.0} mm along it", (x1 - x0).max(y1 - y0))
        }
        false => format!("{:.0} by {:.0} mm", x1 - x0, y1 - y0),
    };
    let seen = match stain.ground {
        StainGround::Border => format!("seen in the dark border, {size}"),
        StainGround::EvenPlate => size,
    };
    let around = 2.0 * (x1 - x0 + y1 - y0);
    let mut measured = vec![
        // A quarter of a millimetre of blur all round.
        ("area_mm2", Reading::new(stain.area_mm2, 0.25 * around)),
        (
            "contrast_d",
            Reading::new(stain.contrast_d, 0.1 * stain.contrast_d + stain.noise_d),
        ),
        (
            "line_d",
            Reading::new(stain.step_d, 0.1 * stain.step_d + stain.noise_d),
        ),
    ];
    if let Some(reach_mm) = stain.reach_mm {
        measured.push(("reach_mm", Reading::new(reach_mm, 0.5)));
    }
    Finding {
        id: String::new(),
        fault: Fault::Stain,
        place: Some(stain.from.word().to_owned()),
        title: format!("Stain from {}, {seen}", stain.from.words()),
        measured,
        polarity: Polarity::MoreSilver,
        box_mm: stain.box_mm,
        outline_mm: Some(stain.outline_mm.clone()),
        axis_deg: None,
        direction_deg: None,
        direction_spread_deg: None,
        members: None,
        confidence: confidence(expected),
        expected_false_alarms: expected,
        standing: Standing::Measured,
        severity: stain_severity(area_share, stain.step_d),
        signs: signs(plate, stain),
        doubts: Vec::new(),
        figure: None,
    }
}

fn signs(plate: &Plate, stain: &Stain) -> Vec<Sign> {
    let mut signs = vec![Sign::seen(
        SignName::MarksHoldSilver,
        "it holds extra silver",
    )];
    let [x0, y0, x1, y1] = stain.box_mm;
    let sides = [x0, y0, plate.width_mm - x1, plate.height_mm - y1];
    if sides.into_iter().any(|mm| mm <= AT_EDGE_MM) {
        signs.push(Sign::seen(
            SignName::ReachesEdge,
            "it reaches the plate's edge",
        ));
    }
    signs.extend(from_corner(plate, stain));
    if let Some((excess_d, doubt_d)) = stain.in_border_d
        && excess_d - doubt_d > IN_BORDER_D
    {
        let words = format!("the border under the ledge holds {excess_d:.2} D more there");
        signs.push(Sign::seen(SignName::InBorder, words));
    }
    let [nested, single] = NESTED;
    match stain.lines {
        Some(lines) if lines >= nested => signs.push(Sign::seen(
            SignName::NestedCurves,
            format!("{lines:.0} curved lines lie one within another"),
        )),
        Some(lines) if lines <= single => {
            signs.push(Sign::absent(
                SignName::NestedCurves,
                "it has one outline only",
            ));
        }
        _ => {}
    }
    signs
}

fn from_corner(plate: &Plate, stain: &Stain) -> Option<Sign> {
    let corner = stain.from.corner().is_some();
    let (low, high, length) = match stain.from {
        Spot::Top | Spot::Bottom => (stain.box_mm[0], stain.box_mm[2], plate.width_mm),
        _ => (stain.box_mm[1], stain.box_mm[3], plate.height_mm),
    };
    let near_mm = CORNER_SHARE * plate.width_mm.min(plate.height_mm);
    let middle = 0.5 * (low + high);
    if corner {
        Some(Sign::seen(SignName::FromCorner, "it starts at a corner"))
    } else if low < near_mm || high > length - near_mm {
        Some(Sign::seen(SignName::FromCorner, "it starts near a corner"))
    } else if (length / 3.0..2.0 * length / 3.0).contains(&middle) {
        let words = "it starts in the middle of an edge";
        Some(Sign::absent(SignName::FromCorner, words))
    } else {
        None
    }
}
