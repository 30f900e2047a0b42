//! When bands, a pour, a bare corner and a stain become faults.

use super::LEAST_FALSE_ALARMS;
use crate::findings::Severity;
use crate::measures::{BareCorner, Family, Stain, StainGround};

/// What bands are seen on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BandGround {
    /// An even test plate.
    Even,
    /// A picture, with the share of the room that lines across these bands take: a scene of straight
    /// things has lines both ways.
    Scene {
        /// See [`Family::taken`](crate::measures::Family::taken).
        taken_across: f64,
    },
}

/// How far bands of an even plate stand out by chance: falls by e over this, from 1 on.
const EVEN_FALL: f64 = 0.25;
/// The same over a scene.
const SCENE_FALL: f64 = 1.0;
/// Most self-likeness of bands over a scene that is not boards, blinds or bricks. Our own choice.
const SCENE_REGULAR: f64 = 0.34;
/// Least share of the room that bands over a scene take: lines of a scene are fewer. Our own choice, set where
/// façades and hallways end (0.11); two plates with streaks had 0.18 and 0.20, and most streaks take less.
const SCENE_TAKEN: f64 = 0.13;
/// Most share of that which lines across take.
const SCENE_ACROSS: f64 = 0.34;

/// Expected families of bands a clean plate that stand out so much by chance, where `visible` of their
/// lines are strong enough to be seen.
pub fn bands_false_alarms(family: &Family, visible: usize, ground: BandGround) -> f64 {
    // Four ways of looking; the more lines, the rarer by chance.
    let stands_out = (family.stands_out() - 1.0).max(0.0);
    let more = 1.0 + 0.1 * visible.saturating_sub(2) as f64;
    let expected = match ground {
        BandGround::Even => 4.0 * (-stands_out * more / EVEN_FALL).exp(),
        BandGround::Scene { taken_across } => {
            let like_a_scene = family.regularity > SCENE_REGULAR
                || family.taken() < SCENE_TAKEN
                || taken_across > SCENE_ACROSS * family.taken();
            match like_a_scene {
                true => 4.0,
                false => 4.0 * (-stands_out / SCENE_FALL).exp(),
            }
        }
    };
    expected.max(LEAST_FALSE_ALARMS)
}

/// Contrast of lines across clean even plates: falls by e over this, density.
const LINE_FALL_D: f64 = 0.005;

/// Expected lines across a clean plate of so much contrast by chance. Over a scene only lines that no scene
/// is known to have are asked about; one of some 560 clean pictures had one.
pub fn line_false_alarms(contrast_d: f64, picture: bool) -> f64 {
    match picture {
        true => LEAST_FALSE_ALARMS,
        false => (2.0 * (-contrast_d.max(0.0) / LINE_FALL_D).exp()).max(LEAST_FALSE_ALARMS),
    }
}

/// Range of the surface of clean even plates that a quarter of them exceed, density, and the fall of the
/// tail beyond by e. Read off 48 made flat plates and ten of another hand, of which the most was 0.043.
const CLEAN_POUR_D: [f64; 2] = [0.028, 0.007];

/// Expected clean even plates whose surface ranges so much.
pub fn pour_false_alarms(range_d: f64) -> f64 {
    let [level_d, fall_d] = CLEAN_POUR_D;
    (0.25 * (-(range_d - level_d).max(0.0) / fall_d).exp()).max(LEAST_FALSE_ALARMS)
}

/// Silver of a bare corner below the rest of the plate that coated plates reach by chance: falls by e over
/// this, density.
const BARE_FALL_D: f64 = 0.005;
/// Least contrast and sharpness of its line. Our own choice.
const BARE_CONTRAST_D: f64 = 0.08;
/// See [`BARE_CONTRAST_D`].
const BARE_SHARP: f64 = 0.5;

/// Expected corners of a clean plate that look so bare by chance.
pub fn bare_false_alarms(bare: &BareCorner) -> f64 {
    match bare.contrast_d >= BARE_CONTRAST_D && bare.sharp_share >= BARE_SHARP {
        true => (4.0 * (-bare.below_rest_d.max(0.0) / BARE_FALL_D).exp()).max(LEAST_FALSE_ALARMS),
        false => 4.0,
    }
}

/// Fall of silver across the line of a stain that plates without one reach by chance: falls by e over this,
/// density. Our own choice, on the careful side: of 209 clean practice plates (seeds 780000 and 782000), 71
/// plates of another hand and 45 real pictures, all without a stain, three had a place that ends so at all, by
/// 0.008, 0.012 and 0.03 D, leaks of light apart.
const STAIN_FALL_D: f64 = 0.01;
/// Least share of the line in the border that holds the most silver: two leaks of light with sharp flanks had
/// none of it.
const STAIN_LINED: f64 = 0.15;

/// Expected stains on a clean plate that end so sharply by chance.
pub fn stain_false_alarms(stain: &Stain) -> f64 {
    match stain.ground {
        StainGround::Border if stain.lined < STAIN_LINED => 1.0,
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
