//! When too little contrast and a coloured patch become faults.

use super::LEAST_FALSE_ALARMS;
use crate::findings::Severity;
use crate::measures::{ClearParts, MilkyPatch};

/// Range of sound stepped plates that one in twenty falls short of, density, and the fall by e of that share
/// below it: positives, then negatives. The range is that of 20 000 tone curves and flights of steps drawn as
/// the practice plates' are, of which one in a hundred has less than 0.68 and 1.00 D; the fall is made slower
/// than theirs, since real plates vary more. Of 17 painted ones (14 of seed 783000, three of another hand) the
/// least was 0.72 and 1.12 D.
const STEPS_RANGE_D: [[f64; 2]; 2] = [[0.75, 0.07], [1.10, 0.10]];
/// Silver of the darkest step of sound stepped plates above the border that one in twenty exceeds, density,
/// and the fall of that share beyond it: positives, then negatives. Of the same draws; one in a hundred has
/// more than 0.13 and 0.23 D.
const STEPS_BLACKS_D: [[f64; 2]; 2] = [[0.10, 0.035], [0.18, 0.06]];
/// One in twenty.
const STEPS_SHARE: f64 = 0.05;

/// Expected sound stepped plates with so small a range, or with so much silver in their darkest step, by
/// chance: two looks, of which the stronger counts.
pub fn steps_false_alarms(range_d: f64, blacks_d: Option<f64>, positive: bool) -> f64 {
    let which = usize::from(!positive);
    let share = |beyond_d: f64, fall_d: f64| STEPS_SHARE * (-beyond_d / fall_d).exp();
    let [range, blacks] = [STEPS_RANGE_D[which], STEPS_BLACKS_D[which]];
    let small = share(range[0] - range_d, range[1]);
    let veiled = blacks_d.map_or(1.0, |d| share(d - blacks[0], blacks[1]));
    (2.0 * small.min(veiled)).clamp(LEAST_FALSE_ALARMS, 1.0)
}

/// Range below which a picture under a veil is flat, density. Our own choice: four veiled pictures of another
/// hand kept 0.50 D and more.
pub const VEILED_RANGE_D: f64 = 0.35;

/// Range below which a picture is so flat that the report says that it cannot be told from a scene of little
/// contrast, density. Our own choice.
pub const LITTLE_CONTRAST_D: f64 = 0.5;

/// How much too small a range matters to the eye, density. Our own judgement.
pub fn flat_severity(range_d: f64) -> Severity {
    match range_d {
        d if d < 0.4 => Severity::Spoils,
        d if d < 0.8 => Severity::Visible,
        _ => Severity::Trace,
    }
}

/// How strongly a patch's cast stands out: |b*| over how colourful the rest of the plate is, with a floor for
/// what rounding to 8 bits leaves of colour in the dark.
pub fn cast_strength(patch: &MilkyPatch, parts: &ClearParts) -> f64 {
    patch.cast_b.abs() / (parts.colourful + CAST_FLOOR)
}

/// How colourful a plate is from which no milk can be told on it: its cast would have to be four times as
/// strong, more than milk has.
pub const TOO_COLOURFUL: f64 = 3.0;

/// See [`cast_strength`].
const CAST_FLOOR: f64 = 0.3;
/// Least cast that the eye can find, b*: near the limit at a soft edge (from memory).
const LEAST_CAST: f64 = 1.5;
/// Milk is yellow or blue, not red or green: most |a*| as a share of |b*|, and beside it.
const MOST_RED_SHARE: [f64; 2] = [0.5, 0.3];
/// Milk looks like a little silver: least and most silver beyond the film around, density. Strips of border
/// that a bright surround shines into have less, single steps of a stepped plate more.
const LOOKS_LIKE_SILVER_D: [f64; 2] = [-0.05, 1.2];
/// Share of sound plates that show a patch of such a strength as milk has, and the fall of that share by e
/// over the strength beyond. None of 90 practice plates in colour without milk (seed 783000) and of 45 of
/// another hand reached the strength of 3; of 31 real pictures in colour one did, by 3.5. The fall is our own
/// choice, on the careful side.
const CAST_SHARE: f64 = 0.05;
/// See [`CAST_SHARE`].
const CAST_STRENGTH: [f64; 2] = [3.0, 0.75];

/// Expected patches of a sound plate that look so like milk by chance.
pub fn milk_false_alarms(patch: &MilkyPatch, parts: &ClearParts) -> f64 {
    let [share, beside] = MOST_RED_SHARE;
    let [least_d, most_d] = LOOKS_LIKE_SILVER_D;
    let is_like_milk = patch.cast_b.abs() >= LEAST_CAST
        && patch.cast_a.abs() <= share * patch.cast_b.abs() + beside
        && (least_d..=most_d).contains(&patch.excess_d);
    let [from, fall] = CAST_STRENGTH;
    let beyond = cast_strength(patch, parts) - from;
    match is_like_milk {
        true => (CAST_SHARE * (-beyond / fall).exp()).clamp(LEAST_FALSE_ALARMS, 1.0),
        false => 1.0,
    }
}

/// How much milk matters to the eye, by its cast (b*) and its share of the plate. Our own judgement.
pub fn milk_severity(cast_b: f64, area_share: f64) -> Severity {
    match (cast_b.abs(), area_share) {
        (cast, share) if cast >= 6.0 && share >= 0.03 => Severity::Spoils,
        (cast, _) if cast >= 2.0 => Severity::Visible,
        _ => Severity::Trace,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::limits::FALSE_ALARMS_A_PLATE;

    #[test]
    fn a_smaller_range_and_more_silver_in_the_blacks_are_less_often_chance() {
        let at = |range_d, blacks_d| steps_false_alarms(range_d, blacks_d, true);
        assert!(at(1.0, Some(0.05)) > FALSE_ALARMS_A_PLATE);
        assert!(at(0.5, None) < at(0.7, None));
        assert!(at(1.0, Some(0.4)) <= FALSE_ALARMS_A_PLATE);
        // A negative's range is the larger one.
        assert!(steps_false_alarms(0.7, None, false) < at(0.7, None));
    }

    #[test]
    fn a_red_patch_and_a_colourful_plate_are_not_milk() {
        let patch = |cast_a| MilkyPatch {
            box_mm: [0.0, 0.0, 5.0, 5.0],
            area_mm2: 20.0,
            cast_b: 5.0,
            cast_a,
            excess_d: 0.2,
            in_border: 0.0,
        };
        let plate = |colourful| ClearParts {
            patches: Vec::new(),
            scatter_b: 0.1,
            colourful,
        };
        assert!(milk_false_alarms(&patch(0.5), &plate(0.3)) <= FALSE_ALARMS_A_PLATE);
        assert!(milk_false_alarms(&patch(4.0), &plate(0.3)) > FALSE_ALARMS_A_PLATE);
        assert!(milk_false_alarms(&patch(0.5), &plate(3.0)) > FALSE_ALARMS_A_PLATE);
    }
}
