//! What the lie of bands shows that speaks for one cause or another.

use super::bands::place_across;
use crate::findings::{Fault, Sign, SignName};
use crate::measures::{Family, Line};
use crate::plate::{Edge, Plate, ScaleSource};
use crate::raster::geometry::between_axes_deg;
use crate::raster::stats::median;

/// An end this near to the edge of what was looked at reaches it: one stretch, millimetres.
const REACHES_MM: f64 = 9.0;
/// Shares of the bands that make, and rule out, a common lie.
const MOST: f64 = 0.8;
/// See [`MOST`].
const FEW: f64 = 0.2;
/// Spread of gaps over their mean of bands evenly spaced, and of bands that are not.
const EVEN_GAPS: [f64; 2] = [0.25, 0.6];
/// Waves from which there is more than one step.
const WAVES: usize = 4;
/// How near to the scan's own axes a scanner's bands lie, and how far off the plate's do, degrees.
const SCAN_AXIS_DEG: [f64; 2] = [0.3, 0.6];

/// The signs of a group of bands.
pub(super) fn of_group(plate: &Plate, family: &Family, lines: &[&Line], fault: Fault) -> Vec<Sign> {
    let mut signs: Vec<Sign> = of_scan_axis(plate, family.axis_deg, "they lie")
        .into_iter()
        .collect();
    match fault {
        Fault::Ridges if lines.len() >= WAVES => signs.push(Sign::absent(
            SignName::OneStep,
            format!("there are {} waves, not one step", lines.len()),
        )),
        Fault::Streaks => {
            signs.extend(width(plate, lines));
            if !family.slanted {
                signs.extend(run(plate, family, lines));
            }
        }
        _ => {}
    }
    signs.extend(gaps(family, lines));
    signs
}

fn width(plate: &Plate, lines: &[&Line]) -> Option<Sign> {
    if plate.scale_source == ScaleSource::Unknown {
        return None;
    }
    let mut widths: Vec<f64> = lines.iter().map(|line| line.width_mm).collect();
    let width_mm = median(&mut widths)?;
    let words = format!("they are {width_mm:.1} mm wide");
    // Three tenths of a width is its uncertainty.
    match width_mm {
        mm if 1.3 * mm < 1.0 => Some(Sign::seen(SignName::FineLines, words)),
        mm if 0.7 * mm > 1.0 => Some(Sign::absent(SignName::FineLines, words)),
        _ => None,
    }
}

/// Which ends of a band reach the edges that the bands run between.
fn reached(plate: &Plate, family: &Family, line: &Line) -> [bool; 2] {
    let along = if family.upright { 1 } else { 0 };
    let side = if family.upright {
        plate.height_mm
    } else {
        plate.width_mm
    };
    let [from, to] = line.ends_mm.map(|end| end[along]);
    [from <= REACHES_MM, to >= side - REACHES_MM]
}

/// The edge that most bands start at, while few reach the one opposite.
pub(super) fn start_edge(plate: &Plate, family: &Family, lines: &[&Line]) -> Option<Edge> {
    if family.slanted {
        return None;
    }
    let share = |end: usize| {
        let reach = lines
            .iter()
            .filter(|line| reached(plate, family, line)[end]);
        reach.count() as f64 / lines.len().max(1) as f64
    };
    let edges = match family.upright {
        true => [Edge::Top, Edge::Bottom],
        false => [Edge::Left, Edge::Right],
    };
    (0..2)
        .find(|end| share(*end) >= MOST && share(1 - end) <= FEW)
        .map(|end| edges[end])
}

fn run(plate: &Plate, family: &Family, lines: &[&Line]) -> Vec<Sign> {
    let both = lines
        .iter()
        .filter(|line| reached(plate, family, line) == [true, true]);
    let share = both.count() as f64 / lines.len().max(1) as f64;
    let mut signs = Vec::new();
    if share >= MOST {
        signs.push(Sign::seen(
            SignName::RightAcross,
            "they run right across the plate",
        ));
    } else if share < FEW {
        signs.push(Sign::absent(
            SignName::RightAcross,
            "they do not run right across the plate",
        ));
    }
    match start_edge(plate, family, lines) {
        Some(edge) => signs.push(Sign::seen(
            SignName::FromOneEdge,
            format!("they start at the {} edge", edge.word()),
        )),
        None if share >= 0.5 => signs.push(Sign::absent(
            SignName::FromOneEdge,
            "half of them or more reach both edges",
        )),
        None => {}
    }
    signs
}

fn gaps(family: &Family, lines: &[&Line]) -> Option<Sign> {
    let mut places: Vec<f64> = lines
        .iter()
        .filter(|line| line.sign > 0.0)
        .map(|line| place_across(family, line))
        .collect();
    if places.len() < WAVES {
        return None;
    }
    places.sort_by(f64::total_cmp);
    let gaps: Vec<f64> = places.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let count = gaps.len() as f64;
    let mean = gaps.iter().sum::<f64>() / count;
    let square = gaps.iter().map(|gap| (gap - mean).powi(2)).sum::<f64>() / (count - 1.0).max(1.0);
    match square.sqrt() / mean.max(1e-9) {
        spread if spread < EVEN_GAPS[0] => Some(Sign::seen(
            SignName::SpacedEvenly,
            "they lie at even distances",
        )),
        spread if spread > EVEN_GAPS[1] => Some(Sign::absent(
            SignName::SpacedEvenly,
            "their distances differ",
        )),
        _ => None,
    }
}

/// Whether bands lie exactly along the scan's own rows or columns, where a turned plate lets that be told;
/// `lie` is how they are spoken of (`they lie`).
pub(super) fn of_scan_axis(plate: &Plate, axis_deg: f64, lie: &str) -> Option<Sign> {
    let off = |axis_deg: f64| {
        let upright = between_axes_deg(axis_deg, -plate.turn_deg);
        upright.min(between_axes_deg(axis_deg, 90.0 - plate.turn_deg))
    };
    // The plate's own upright side, seen from the scan.
    let plate_off = off(0.0);
    match off(axis_deg) {
        off_deg if off_deg < SCAN_AXIS_DEG[0] && plate_off >= SCAN_AXIS_DEG[1] => Some(Sign::seen(
            SignName::AlongScanAxis,
            format!(
                "{lie} along the scan's own axis, and the plate is turned {plate_off:.1} degrees off it"
            ),
        )),
        off_deg if off_deg > SCAN_AXIS_DEG[1] => Some(Sign::absent(
            SignName::AlongScanAxis,
            format!("{lie} {off_deg:.1} degrees off the scan's own axes"),
        )),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::{Across, OverScene};

    fn line(x_mm: f64, from_mm: f64, to_mm: f64) -> Line {
        Line {
            ends_mm: [[x_mm, from_mm], [x_mm, to_mm]],
            middle_mm: [x_mm, 0.5 * (from_mm + to_mm)],
            agreement: 8.0,
            coverage: 1.0,
            sign: 1.0,
            width_mm: 0.6,
            contrast_d: 0.05,
            step_d: 0.0,
        }
    }

    fn family(lines: Vec<Line>) -> Family {
        Family {
            axis_deg: 0.0,
            upright: true,
            slanted: false,
            scale_mm: 0.35,
            sagitta_mm: 0.0,
            energy: 6.0,
            usual_energy: 1.0,
            regularity: 0.2,
            scene: OverScene::default(),
            room: 100.0,
            lines,
            across: Across {
                first_mm: 0.0,
                step_mm: 0.2,
                silver_d: Vec::new(),
            },
        }
    }

    #[test]
    fn even_gaps_and_uneven_ones_are_told_apart() {
        let told = |places: &[f64]| {
            let family = family(places.iter().map(|x| line(*x, 0.0, 80.0)).collect());
            let lines: Vec<&Line> = family.lines.iter().collect();
            gaps(&family, &lines).map(|sign| sign.holds)
        };
        assert_eq!(told(&[10.0, 14.0, 18.1, 22.0, 26.1]), Some(true));
        assert_eq!(told(&[10.0, 11.0, 30.0, 31.5, 60.0]), Some(false));
        assert_eq!(told(&[10.0, 20.0]), None);
    }
}
