//! When thin dark lines become scratches.

use super::{FALSE_ALARMS_A_PLATE, LEAST_FALSE_ALARMS};
use crate::findings::Severity;
use crate::measures::ThinLine;

/// What a thin line must have to be a scratch: on a test plate, which has no fine lines of its own, and over a
/// scene. Read off 68 made plates with scratches (development seed 780000): of the 67 on which one can be found,
/// one is named on 61.
struct Bounds {
    /// Most height over slope of its edges, millimetres and cells of the plate's grid: a lens draws softer.
    edge_mm: f64,
    edge_cells: f64,
    width_mm: f64,
    unlike_sides: f64,
    rise: [f64; 2],
    hits: f64,
    wander_cells: f64,
}

const EVEN: Bounds = Bounds {
    edge_mm: 0.19,
    edge_cells: 3.3,
    width_mm: 0.40,
    unlike_sides: 0.5,
    rise: [0.8, 1.5],
    hits: 0.75,
    wander_cells: 0.7,
};

/// See [`EVEN`]. Eave, mast, whisker and plank are as dark; most are softer, wider or lie against unlike sides.
const SCENE: Bounds = Bounds {
    edge_mm: 0.165,
    edge_cells: 3.0,
    width_mm: 0.30,
    unlike_sides: 0.4,
    rise: [0.88, 1.35],
    hits: 0.8,
    wander_cells: 0.65,
};

/// Lines so near to upright or level with so many others beside them are of the scene or of steps, degrees.
const SQUARE_DEG: [f64; 2] = [1.5, 2.0];
/// See [`SQUARE_DEG`].
const SQUARE_ALIKE: usize = 3;
/// Least silver beside a scratch over a scene, density: what has none can lose none.
const LEAST_SIDES_D: f64 = 0.05;
/// Least share of the silver that a scratch over a scene takes, and the share from which it takes all. Ropes
/// before a sky take less (0.16 and less on four made plates of rigging).
const LEAST_GONE: f64 = 0.15;
/// See [`LEAST_GONE`].
const ALL_GONE: f64 = 0.85;
/// Most misfit of a line of which the same share is gone all along. Planks of a floor in perspective have 1.25
/// to 3.7.
const MOST_MISFIT: f64 = 1.3;

/// Whether a thin line looks like a scratch by itself; `even` on test plates.
pub fn like_a_scratch(line: &ThinLine, even: bool) -> bool {
    let bounds = if even { EVEN } else { SCENE };
    let off_square = line.axis_deg.rem_euclid(90.0);
    let off_square = off_square.min(90.0 - off_square);
    let shape = line.edge_mm < bounds.edge_mm
        && line.edge_cells < bounds.edge_cells
        && line.width_mm < bounds.width_mm
        && line.unlike_sides < bounds.unlike_sides
        && (bounds.rise[0]..bounds.rise[1]).contains(&line.rise)
        && line.hits > bounds.hits
        && line.wander_cells < bounds.wander_cells;
    let square = off_square < SQUARE_DEG[usize::from(!even)] && line.alike >= SQUARE_ALIKE;
    let torn = even
        || line.sides_d >= LEAST_SIDES_D
            && line.gone >= LEAST_GONE
            && (line.gone > ALL_GONE || line.misfit <= MOST_MISFIT);
    shape && !square && torn
}

/// Length of the longest line that clean plates have once a hundred plates, millimetres, and how much longer it
/// must be for each other line that a scene shows. Read off 73 clean practice plates (development seed 780000),
/// 71 of another hand and 45 real ones: lines that pass [`like_a_scratch`] on plates with few others were 8 mm
/// (a cat's whisker, four other lines), 9 mm (nine others) and 10 mm (seven others) long; one real picture had one of
/// 22 mm (the shaft of a cart) and keeps it.
const LEAST_MM: f64 = 8.0;
/// See [`LEAST_MM`].
const MORE_MM: f64 = 0.5;
/// How much longer a line must be for each part of its length that its middle lies off its chord, millimetres,
/// beyond what a straight one may: hairs on the scanner's glass curl. Of 118 made plates with scratches one is
/// lost by it, and of 17 plates without on which a dark hair was taken for one (of 408, on all kinds of glass)
/// twelve are spared (development seeds 700000 and 710000).
const MORE_FOR_BOW_MM: f64 = 200.0;
/// See [`MORE_FOR_BOW_MM`].
const STRAIGHT_BOW: f64 = 0.02;
/// The tail falls by e over this, millimetres. Our own choice, on the slow side.
const FALL_MM: f64 = 3.0;
/// Other lines, and lines like scratches, from which a scene is full of fine lines.
const FULL_OTHERS: usize = 9;
/// See [`FULL_OTHERS`].
const FULL_COUNT: usize = 4;

/// Whether a scene where `count` lines are like scratches and `others` thin lines are not is too full of them
/// for any to be told.
pub fn full_of_fine_lines(count: usize, others: usize) -> bool {
    others > FULL_OTHERS || count > FULL_COUNT
}

/// How much longer than a straight line one that bows so (share of its length) must be, millimetres.
pub fn more_for_bow_mm(bow: f64) -> f64 {
    MORE_FOR_BOW_MM * (bow - STRAIGHT_BOW).max(0.0)
}

/// Expected clean plates with a line like a scratch of this length and bow, where a scene has `others` thin
/// lines that are not; 0 on an even plate.
pub fn scratch_false_alarms(length_mm: f64, bow: f64, others: usize) -> f64 {
    let least_mm = LEAST_MM + MORE_MM * others as f64 + more_for_bow_mm(bow);
    (FALSE_ALARMS_A_PLATE * ((least_mm - length_mm) / FALL_MM).exp()).max(LEAST_FALSE_ALARMS)
}

/// How much scratches matter to the eye, by contrast and the length of all together: a hair line of a tenth of
/// a millimetre is seen at reading distance when it is dark enough. Our own judgement.
pub fn scratch_severity(contrast_d: f64, length_mm: f64) -> Severity {
    match contrast_d {
        d if d >= 0.25 && length_mm >= 20.0 => Severity::Spoils,
        d if d >= 0.08 => Severity::Visible,
        _ => Severity::Trace,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scratch() -> ThinLine {
        ThinLine {
            points_mm: vec![[10.0, 10.0], [15.0, 20.0], [20.0, 30.0]],
            length_mm: 22.4,
            axis_deg: 153.4,
            bow: 0.0,
            width_mm: 0.15,
            edge_mm: 0.1,
            edge_cells: 2.3,
            contrast_d: 0.3,
            kept: 1.0,
            unlike_sides: 0.05,
            rise: 1.03,
            hits: 0.98,
            wander_cells: 0.15,
            sides_d: 0.7,
            gone: 0.45,
            misfit: 0.8,
            alike: 0,
        }
    }

    #[test]
    fn what_a_scene_draws_is_no_scratch() {
        assert!(like_a_scratch(&scratch(), true) && like_a_scratch(&scratch(), false));
        let unlike: [fn(&mut ThinLine); 5] = [
            |rope| rope.edge_mm = 0.2,
            |edge| edge.unlike_sides = 0.6,
            |eave| (eave.axis_deg, eave.alike) = (90.5, 6),
            |mast| mast.gone = 0.1,
            |plank| plank.misfit = 2.0,
        ];
        for change in unlike {
            let mut line = scratch();
            change(&mut line);
            assert!(!like_a_scratch(&line, false), "{line:?}");
        }
        // Nothing on a test plate hangs before a sky.
        let mut weak = scratch();
        weak.gone = 0.1;
        assert!(like_a_scratch(&weak, true));
    }

    #[test]
    fn a_scene_of_lines_asks_for_longer_scratches() {
        let at = |length_mm, others| scratch_false_alarms(length_mm, 0.0, others);
        assert!(at(8.5, 0) <= FALSE_ALARMS_A_PLATE && at(8.5, 4) > FALSE_ALARMS_A_PLATE);
        assert!(at(12.0, 4) <= FALSE_ALARMS_A_PLATE);
        assert!(scratch_false_alarms(8.5, 0.02, 0) <= FALSE_ALARMS_A_PLATE);
        assert!(scratch_false_alarms(8.5, 0.05, 0) > FALSE_ALARMS_A_PLATE);
        assert!(full_of_fine_lines(1, 12) && full_of_fine_lines(6, 0) && !full_of_fine_lines(2, 5));
    }
}
