//! When bands, a pour, a bare place and a stain become faults.

use super::LEAST_FALSE_ALARMS;
use crate::findings::Severity;
use crate::measures::{BarePlace, Family, InBorder, RunsOn, Stain, StainGround};

/// What bands are seen on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BandGround {
    /// An even test plate.
    Even {
        /// Lines that are strong enough to be seen.
        visible: usize,
        /// Contrast of the second strongest of the lines that are surely bands, density; 0 without two.
        second_d: f64,
    },
    /// A picture, with the logarithm of the odds that the bands are none of the scene's.
    Scene {
        /// Log odds.
        likeness: f64,
    },
}

/// Share of clean even plates that show two visible lines or more: none of 85 made ones did. Their bands
/// stand out by chance as often as this from 1 on, falling by e over that.
const EVEN_SHARE: f64 = 0.5;
/// See [`EVEN_SHARE`].
const EVEN_FALL: f64 = 0.25;
/// Share of even plates without bands on which a second line has any contrast, and the fall by e over that, density: of
/// 227 made ones (development seed 795000) eleven have one, all but one of 0.01 and less and the last of 0.017. Four
/// times as many are reckoned with, and a slower fall.
const SECOND_LINE_SHARE: f64 = 0.2;
/// See [`SECOND_LINE_SHARE`].
const SECOND_LINE_FALL_D: f64 = 0.006;
/// Clean pictures whose lines are as like streaks as this log odds or more, and the fall by e beyond: of
/// 485 pictures without streaks, 200 of them scenes of straight lines, six were above -0.2 and three above
/// 0.4, but of the 71 real ones among them one was above 0.3, a wall of boards.
const SCENE_SHARE: [f64; 2] = [0.4, 0.01];
/// See [`SCENE_SHARE`].
const SCENE_FALL: f64 = 0.85;

/// Expected families of bands a clean plate that stand out so much by chance.
pub fn bands_false_alarms(family: &Family, ground: BandGround) -> f64 {
    let expected = match ground {
        BandGround::Even { visible, second_d } => {
            // The more lines, the rarer by chance. A few that do not run on over the whole plate hardly lift the whole.
            let stands_out = (family.stands_out() - 1.0).max(0.0);
            let more = 1.0 + 0.1 * visible.saturating_sub(2) as f64;
            let by_all = EVEN_SHARE * (-stands_out * more / EVEN_FALL).exp();
            by_all.min(SECOND_LINE_SHARE * (-second_d / SECOND_LINE_FALL_D).exp())
        }
        BandGround::Scene { likeness } => {
            let [from, share] = SCENE_SHARE;
            share * (-(likeness - from) / SCENE_FALL).exp()
        }
    };
    expected.clamp(LEAST_FALSE_ALARMS, 4.0)
}

/// Pictures without streaks of whose five or more visible lines one way the border shows a likeness that stands out by
/// so much, as a share, and the fall by e beyond: of 304 (development seeds 801000 to 804000; dust and other faults among
/// them) six are above 2, two above 2.5 and none above 2.9. Five times as many are reckoned with, and a slower fall.
const IN_BORDER_SHARE: [f64; 2] = [2.0, 0.1];
/// See [`IN_BORDER_SHARE`].
const IN_BORDER_FALL: f64 = 0.5;
/// Silver that the border shows at least for each density across the lines, and at most. A scanner's stray light from
/// strong ones lies over it too, and made up to 0.015 of them; where the dark side of a scene was taken for a border it
/// shows all of them (0.96 and 1.00 on two plates, seeds 801000 and 805000). Our own choice.
const SHARE_IN_BORDER: std::ops::RangeInclusive<f64> = 0.04..=0.85;

/// Without the band that speaks most at least so much of it is left: of several like bands one is a fifth or less, of a
/// line of the dip all. Our own choice.
const WITHOUT_STRONGEST: f64 = 0.5;

/// Expected families of lines of a clean picture that seem to run on so far into its border; 1 without one.
pub fn bands_in_border_false_alarms(in_border: Option<InBorder>) -> f64 {
    let [from, share] = IN_BORDER_SHARE;
    match in_border {
        Some(seen)
            if SHARE_IN_BORDER.contains(&seen.share)
                && seen.without_strongest >= WITHOUT_STRONGEST * seen.stands_out =>
        {
            (share * (-(seen.stands_out - from) / IN_BORDER_FALL).exp())
                .clamp(LEAST_FALSE_ALARMS, 1.0)
        }
        _ => 1.0,
    }
}

/// Contrast of lines across clean even plates: falls by e over this, density.
const LINE_FALL_D: f64 = 0.005;

/// Expected lines across a clean even plate of so much contrast by chance.
pub fn line_false_alarms(contrast_d: f64) -> f64 {
    (2.0 * (-contrast_d.max(0.0) / LINE_FALL_D).exp()).max(LEAST_FALSE_ALARMS)
}

/// Pictures without a line of the dip that show one of at least these log odds, as a share, and the fall by e
/// beyond: of 332 (development seeds 795000 and 796000, 200 of them scenes of straight lines), each told by plates that
/// were not fitted, five are above 0.2, three above 0.6 and two above 1.4; of 640 that nothing was fitted to (seeds
/// 800000, 801000, 805000 and 806000) ten are above -0.21, four above 0.25 and two above 0.42; real ones show none above
/// -1. A quarter more than of all these are reckoned with.
const SCENE_LINE_SHARE: [f64; 2] = [0.2, 0.013];
/// See [`SCENE_LINE_SHARE`].
const SCENE_LINE_FALL: f64 = 0.5;

/// Expected lines across a clean picture that are so unlike a scene's (log odds).
pub fn line_over_scene_false_alarms(likeness: f64) -> f64 {
    let [from, share] = SCENE_LINE_SHARE;
    (share * (-(likeness - from) / SCENE_LINE_FALL).exp()).clamp(LEAST_FALSE_ALARMS, 1.0)
}

/// Pictures without a line of the dip whose borders show one that stands out by at least so much, as a share, and the
/// fall by e beyond: of 311 with borders (development seeds 770000 and 780000), those with others like it apart, 19 are
/// above 2 and one is above 2.5. Four times as many are reckoned with, and more than twice as slow a fall.
const OVER_BORDER_SHARE: [f64; 2] = [2.0, 0.25];
/// See [`OVER_BORDER_SHARE`].
const OVER_BORDER_FALL: f64 = 0.5;
/// Another line over one of the borders stands out by at most so large a share of the first, or no more than the
/// strongest of nearly all clean borders: of several, none is a line of the dip. Our own choice.
const OVER_BORDER_ALONE: f64 = 0.5;
/// See [`OVER_BORDER_ALONE`].
const OVER_BORDER_OTHERS: f64 = 4.0;

/// Expected lines that run on over the border of a clean picture at both ends and stand out so much.
pub fn line_over_border_false_alarms(line: &RunsOn) -> f64 {
    let [from, share] = OVER_BORDER_SHARE;
    if line.others > (OVER_BORDER_ALONE * line.stands_out).max(OVER_BORDER_OTHERS) {
        return 1.0;
    }
    (share * (-(line.stands_out - from) / OVER_BORDER_FALL).exp()).clamp(LEAST_FALSE_ALARMS, 1.0)
}

/// Pictures without waves by a corner that show some of at least this likeness, as shares, and the fall by e beyond:
/// of 1,226 (development seeds 700000 to 740000, pictures of another hand and real ones among them) 15 are above 1.6;
/// of 284 whose corners the scan has cut off (seeds 800000, 801000, 805000 and 806000) 14. The tail falls by e in 0.4
/// to 0.7. Twenty times as many are reckoned with, since cloths and floors may be striped otherwise than ours; so much
/// keeps out the strongest of these pictures, a fence at 3.18 and a cropped cloth at 3.21, and a real one, a cropped
/// bridge at 3.6. Clean even plates show fewer.
const DRAIN_WAVES_FROM: f64 = 1.6;
/// See [`DRAIN_WAVES_FROM`]: where the corners are the plate's, and where the scan has cut them off.
const DRAIN_WAVES_SHARE: [f64; 2] = [0.25, 1.0];
/// See [`DRAIN_WAVES_FROM`].
const DRAIN_WAVES_FALL: f64 = 0.5;

/// Expected waves by a corner or an edge of a clean plate that are so unlike a scene's.
pub fn drain_waves_false_alarms(likeness: f64, cut_off: bool) -> f64 {
    let share = DRAIN_WAVES_SHARE[usize::from(cut_off)];
    (share * (-(likeness - DRAIN_WAVES_FROM) / DRAIN_WAVES_FALL).exp())
        .clamp(LEAST_FALSE_ALARMS, 1.0)
}

/// Pictures without waves by an edge that show some of a likeness above 0, where the edges are the plate's and where
/// the scan has cut them off, as shares: of 634 (development seeds 780000 and 790000, two designs) and 45 real ones
/// two, the stronger a cloth at 0.47; of the 284 cropped ones of [`DRAIN_WAVES_FROM`] four, three below 0.52 and one
/// with planted streaks at 1.55, of too few crests to be named. Thirteen times as many are reckoned with, since cloths
/// may be folded otherwise than ours.
const EDGE_WAVES_SHARE: [f64; 2] = [0.04, 0.18];
/// The fall by e of the tail of the former.
const EDGE_WAVES_FALL: f64 = 0.45;

/// Expected waves by an edge of a clean picture that are so unlike a scene's.
pub fn edge_waves_false_alarms(likeness: f64, cut_off: bool) -> f64 {
    let share = EDGE_WAVES_SHARE[usize::from(cut_off)];
    (share * (-likeness / EDGE_WAVES_FALL).exp()).clamp(LEAST_FALSE_ALARMS, 1.0)
}

/// Pictures without soft bands that show some of at least this likeness, as a share, and the fall by e beyond: of
/// 1,141 (development seeds 700000 to 720000, pictures of another hand and real ones among them) 11 are above 2, 6
/// above 2.5 and 2 above 3.05. Five times as many are reckoned with, since folds and columns may be softer than ours.
const SWEEP_SHARE: [f64; 2] = [2.0, 0.05];
/// See [`SWEEP_SHARE`].
const SWEEP_FALL: f64 = 0.65;

/// Expected soft bands of a clean picture that are so unlike a scene's.
pub fn sweep_false_alarms(likeness: f64) -> f64 {
    let [from, share] = SWEEP_SHARE;
    (share * (-(likeness - from) / SWEEP_FALL).exp()).clamp(LEAST_FALSE_ALARMS, 1.0)
}

/// Range of the surface of clean even plates that a quarter of them exceed, density, and the fall of the
/// tail beyond by e. Read off 48 made flat plates and ten of another hand, of which the most was 0.043.
const CLEAN_POUR_D: [f64; 2] = [0.028, 0.007];

/// Expected clean even plates whose surface ranges so much.
pub fn pour_false_alarms(range_d: f64) -> f64 {
    let [level_d, fall_d] = CLEAN_POUR_D;
    (0.25 * (-(range_d - level_d).max(0.0) / fall_d).exp()).max(LEAST_FALSE_ALARMS)
}

/// Share of even plates without a second flow that show a step of so much silver all along some line, and the fall of
/// the tail by e beyond, density: of 467 (development seeds 801000, 805000 and 806000, and of another design 430000; fog,
/// pours, bare places and scratches among them) 99 are above 0.006, 22 above 0.010 and one above 0.014, the outlines of
/// bare corners apart. The fall is taken half as fast again.
const FLOW_EDGE_SHARE: [f64; 2] = [0.006, 0.22];
/// See [`FLOW_EDGE_SHARE`].
const FLOW_EDGE_FALL_D: f64 = 0.004;

/// Expected lines across a clean even plate along which nearly all places show such a step.
pub fn flow_edge_false_alarms(nearly_all_d: f64) -> f64 {
    let [from_d, share] = FLOW_EDGE_SHARE;
    (share * (-(nearly_all_d - from_d) / FLOW_EDGE_FALL_D).exp()).clamp(LEAST_FALSE_ALARMS, 1.0)
}

/// Share of clean plates on which the best candidate for a bare place lies below all the rest, and the fall
/// by e of that over the silver by which it does, density. Read off 220 made clean plates, 71 of another
/// hand and 45 real ones.
const BELOW_REST: [f64; 2] = [0.03, 0.005];
/// Least contrast, least rise and sharpness of the line of a bare place, and most unevenness inside. Our own
/// choice: a scene's shadows fade at some side or hold detail.
const BARE_CONTRAST_D: f64 = 0.08;
/// See [`BARE_CONTRAST_D`].
const BARE_LEAST_RISE_D: f64 = 0.04;
/// See [`BARE_CONTRAST_D`].
const BARE_SHARP: f64 = 0.65;
/// See [`BARE_CONTRAST_D`].
const BARE_UNEVEN_D: f64 = 0.028;
/// Least share of its box that it fills: collodion runs into round shapes.
const BARE_FILLS: f64 = 0.4;
/// How many times as long as wide it is at most.
const BARE_LONGER: f64 = 4.0;
/// A bare place lies no more above the border than this, density: the border has all the veil there is.
const ABOVE_BORDER_D: f64 = 0.008;

/// Share of clean even plates of which a corner is dark beyond the holder's support by so many square millimetres, and
/// the fall by e beyond: of 110 (development seeds 760000 to 781000) three are beyond 1.2 and one is beyond 2, by 2.1.
/// Four times as many are reckoned with.
const BEYOND_SUPPORT: [f64; 2] = [1.3, 0.12];
/// See [`BEYOND_SUPPORT`].
const BEYOND_SUPPORT_FALL_MM2: f64 = 0.5;

/// How many times as large as what stands in the others a corner is, and what its line and its silver are like, from
/// which on it is bare whatever the rest of the plate shows: on 628 plates without bare places that it was not set by
/// (seed 806000) one is so, a support of a cropped scan; of 68 with such places 16 are.
const UNLIKE_OTHERS: f64 = 1.8;
/// See [`UNLIKE_OTHERS`].
const CORNER_CONTRAST_D: f64 = 0.25;
/// See [`UNLIKE_OTHERS`].
const CORNER_SHARP: f64 = 0.93;
/// See [`UNLIKE_OTHERS`].
const CORNER_RISE_D: f64 = 0.1;
/// See [`UNLIKE_OTHERS`].
const CORNER_UNEVEN_D: f64 = 0.02;
/// See [`UNLIKE_OTHERS`].
const CORNER_ABOVE_REST_D: f64 = 0.03;

/// Expected places of a clean plate that look so bare by chance.
pub fn bare_false_alarms(bare: &BarePlace) -> f64 {
    let [across, down] = bare.sides_mm();
    let is_round = across.max(down) <= BARE_LONGER * across.min(down) && bare.fills() >= BARE_FILLS;
    let is_like_support = is_round
        && bare.contrast_d >= BARE_CONTRAST_D
        && bare.least_rise_d >= BARE_LEAST_RISE_D
        && bare.sharp_share >= BARE_SHARP
        && bare.unevenness_d <= BARE_UNEVEN_D
        && bare.below_border_d.is_none_or(|d| d >= -ABOVE_BORDER_D);
    // Where supports stand in the other corners, they are as low as bare support, so that only its shape tells.
    let (beyond, share, fall) = match bare.beyond_support_mm2 {
        Some(mm2) => {
            let [from, share] = BEYOND_SUPPORT;
            (mm2 - from, share, BEYOND_SUPPORT_FALL_MM2)
        }
        None => (bare.below_rest_d, BELOW_REST[0], BELOW_REST[1]),
    };
    if is_like_support && is_unlike_others(bare) {
        return LEAST_FALSE_ALARMS;
    }
    match is_like_support && beyond > 0.0 && !bare.may_be_support {
        true => (share * (-beyond / fall).exp()).max(LEAST_FALSE_ALARMS),
        false => 1.0,
    }
}

/// Whether a corner is bare though shadows of the scene are as low: sharply, evenly, and far beyond what stands in the
/// other corners.
pub fn is_unlike_others(bare: &BarePlace) -> bool {
    bare.over_others >= UNLIKE_OTHERS
        && bare.contrast_d >= CORNER_CONTRAST_D
        && bare.sharp_share >= CORNER_SHARP
        && bare.least_rise_d >= CORNER_RISE_D
        && bare.unevenness_d <= CORNER_UNEVEN_D
        && bare.below_rest_d >= -CORNER_ABOVE_REST_D
}

/// Fall of silver across the line of a stain that plates without one reach by chance: falls by e over this,
/// density. Our own choice, on the careful side: of 209 clean practice plates (seeds 780000 and 782000), 71
/// plates of another hand and 45 real pictures, all without a stain, three had a place that ends so at all, by
/// 0.008, 0.012 and 0.03 D, leaks of light apart.
const STAIN_FALL_D: f64 = 0.01;
/// Least share of the line in the border that holds the most silver: two leaks of light with sharp flanks had
/// none of it.
const STAIN_LINED: f64 = 0.15;

/// Longer along an edge than any tongue of light, millimetres, and a fall of silver that the end of fog never has, density.
/// Our own choice: the ends of two planted fogs fell by 0.04 (development seed 793000).
const BEYOND_LEAKS_MM: f64 = 15.0;
/// See [`BEYOND_LEAKS_MM`].
const BEYOND_FOG_D: f64 = 0.1;

/// Whether a stain in the border is too long for a leak and ends too sharply for fog.
fn is_no_light(stain: &Stain) -> bool {
    let [x0, y0, x1, y1] = stain.box_mm;
    (x1 - x0).max(y1 - y0) >= BEYOND_LEAKS_MM && stain.step_d >= BEYOND_FOG_D
}

/// Expected stains on a clean plate that end so sharply by chance.
pub fn stain_false_alarms(stain: &Stain) -> f64 {
    match stain.ground {
        StainGround::Border if stain.lined < STAIN_LINED && !is_no_light(stain) => 1.0,
        _ => (0.2 * (-stain.step_d.max(0.0) / STAIN_FALL_D).exp()).max(LEAST_FALSE_ALARMS),
    }
}

/// How much a stain matters to the eye, by its share of the plate and the fall of silver across its line,
/// density. Our own judgement.
pub fn stain_severity(area_share: f64, line_d: f64) -> Severity {
    match (area_share, line_d) {
        (share, d) if d >= 0.12 && share >= 0.03 => Severity::Spoils,
        (_, d) if d >= 0.3 => Severity::Spoils,
        (_, d) if d >= 0.06 => Severity::Visible,
        _ => Severity::Trace,
    }
}

/// How much bands matter to the eye, by their contrast in density: regular patterns are seen sooner than
/// single soft steps. Our own judgement.
pub fn bands_severity(contrast_d: f64) -> Severity {
    match contrast_d {
        d if d >= 0.12 => Severity::Spoils,
        d if d >= 0.04 => Severity::Visible,
        _ => Severity::Trace,
    }
}

/// How much an uneven pour matters to the eye, by its range in density: slow slopes hide. Our own
/// judgement.
pub fn pour_severity(range_d: f64) -> Severity {
    match range_d {
        d if d >= 0.3 => Severity::Spoils,
        d if d >= 0.12 => Severity::Visible,
        _ => Severity::Trace,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::limits::FALSE_ALARMS_A_PLATE;

    #[test]
    fn waves_where_the_scan_has_cut_off_corners_and_edges_must_be_more_unlike_a_scene() {
        let alarms = |likeness| [false, true].map(|cut| drain_waves_false_alarms(likeness, cut));
        // A cropped cloth and a cropped bridge, then planted waves of the weaker kind.
        assert!(alarms(3.21)[1] > FALSE_ALARMS_A_PLATE && alarms(3.6)[1] > FALSE_ALARMS_A_PLATE);
        assert!(alarms(3.6)[0] <= FALSE_ALARMS_A_PLATE);
        assert!(alarms(6.0)[1] <= FALSE_ALARMS_A_PLATE);
        let alarms = |likeness| [false, true].map(|cut| edge_waves_false_alarms(likeness, cut));
        assert!(alarms(0.8)[0] <= FALSE_ALARMS_A_PLATE && alarms(0.8)[1] > FALSE_ALARMS_A_PLATE);
        assert!(alarms(1.6)[1] <= FALSE_ALARMS_A_PLATE);
    }

    #[test]
    fn bands_in_the_border_are_told_from_stray_light_and_from_a_scene_taken_for_a_border() {
        let alarms = |stands_out, share| {
            bands_in_border_false_alarms(Some(InBorder {
                stands_out,
                without_strongest: 0.8 * stands_out,
                share,
            }))
        };
        assert!(alarms(5.0, 0.3) <= FALSE_ALARMS_A_PLATE);
        assert!(alarms(2.5, 0.3) > FALSE_ALARMS_A_PLATE);
        assert_eq!((alarms(10.0, 0.01), alarms(10.0, 1.0)), (1.0, 1.0));
        assert_eq!(bands_in_border_false_alarms(None), 1.0);
        let one_line = InBorder {
            stands_out: 6.0,
            without_strongest: 1.5,
            share: 0.3,
        };
        assert_eq!(bands_in_border_false_alarms(Some(one_line)), 1.0);
    }
}
