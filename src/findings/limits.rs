//! When a number becomes a fault, how sure it is, and how much it matters to the eye.
//!
//! Every limit follows from a stated number of false findings a clean plate. The background models
//! are exponential or normal tails read off practice plates without fog (`reports/accuracy.md` counts
//! how often they are wrong), and the short accuracy run of `.ci/run` fails when they are far off.

use crate::findings::Severity;
use crate::measures::Ground;

/// False findings a clean plate that each fault may have. All faults together may have 0.1, so a
/// share of 0.01 is each one's.
pub const FALSE_ALARMS_A_PLATE: f64 = 0.01;

/// Share of plates that have a given fault of fog before anything is looked at. Our own judgement;
/// with the expected false alarms it sets the confidence.
pub const PRIOR_SHARE: f64 = 0.08;

/// Fewest false findings a clean plate that any strength is credited with. The tails below are models;
/// three times 200 clean practice plates (seeds from 1000, 30000 and 40000) had 10 false findings over
/// three faults, each with a cause that no tail foresees, so about 0.006 a fault is what has been shown.
pub const LEAST_FALSE_ALARMS: f64 = 0.006;

/// Probability that a finding is right, from the false alarms expected at its strength: of
/// `PRIOR_SHARE` true faults and `expected` false ones, the true share.
///
/// ```
/// use oystermark::findings::limits::confidence;
/// assert!(confidence(0.01) > 0.85 && confidence(1e-6) > 0.99);
/// ```
pub fn confidence(expected: f64) -> f64 {
    (PRIOR_SHARE / (PRIOR_SHARE + expected.max(0.0))).clamp(0.0, 0.999)
}

/// Expected edges a clean plate whose border shows at least this much extra silver by chance.
///
/// Exponential tail above 0.012 D with a scale of 0.005 D for each of four edges: clouds of the
/// film, glow of the lid, wavy rims. Under a veil of `veil_d` its own clouds come on top, a tenth of it
/// from edge to edge. An even plate has no rim to mistake, and a scale of 0.004 D; over a scene it is
/// 0.02 D.
pub fn edge_fog_false_alarms(seen_d: f64, ground: Ground, veil_d: f64) -> f64 {
    let (start_d, scale_d) = match ground {
        Ground::Border => (0.012 + 0.1 * veil_d, 0.005 + 0.02 * veil_d),
        Ground::EvenPlate => (0.012, 0.004),
        Ground::Scene => (0.0, 0.02),
    };
    (4.0 * (-((seen_d - start_d) / scale_d).max(0.0)).exp()).max(LEAST_FALSE_ALARMS)
}

/// Expected tongues a clean plate at least this high by chance, among bumps of the right width that
/// run through the whole border and on: hairs and stains that lie so are rare, and their height falls
/// off with a scale of 0.015 D.
pub fn light_leak_false_alarms(peak_d: f64, scatter_d: f64) -> f64 {
    let clear_of_noise = (peak_d / (6.0 * scatter_d.max(0.001))).min(1.0);
    (0.2 * (-(peak_d * clear_of_noise) / 0.015).exp()).max(LEAST_FALSE_ALARMS)
}

/// By how much bare support reads less silver than the same support under unfogged film, density: mean
/// and standard deviation (the lip, the missing film), by whether one edge shows it or several. Read
/// off made plates without veil (24 of another hand, 34 of our own); a lip can pass for a rim.
pub fn bare_offset_d(edges: usize) -> [f64; 2] {
    match edges {
        0 | 1 => [0.085, 0.058],
        2 => [0.085, 0.050],
        _ => [0.100, 0.040],
    }
}

/// Uncertainty of a stated support density against a scan of another moment, standard deviation.
pub const STATED_SUPPORT_SD_D: f64 = 0.03;

/// How far the middle of a blank plate reads from its own border by chance, density, standard
/// deviation: clouds of the film and the lid's glow on the border.
pub const CLOUDS_SD_D: f64 = 0.015;

/// Expected veils a clean plate when the border exceeds the support by so much; `offset` and `sd` are
/// what it exceeds it by anyway.
pub fn veil_false_alarms(excess_d: f64, [offset, sd]: [f64; 2]) -> f64 {
    normal_tail((excess_d - offset) / sd).max(LEAST_FALSE_ALARMS)
}

/// Densities of an unfogged border: positives on support of 1.5 to 2.1 (from memory), lowered by a
/// scanner's stray light, hardly read below 1.47; the clear film of a negative on 0.05 to 0.20 (from
/// memory) hardly above 0.20.
pub const DARKEST_BORDER_D: f64 = 1.47;
/// See [`DARKEST_BORDER_D`].
pub const CLEAREST_BORDER_D: f64 = 0.20;
/// How far outside that range a border can lie by chance: standard deviation.
pub const USUAL_RANGE_SD_D: f64 = 0.035;

/// Upper tail of the standard normal distribution, to 1e-7 (Abramowitz and Stegun 26.2.17).
fn normal_tail(z: f64) -> f64 {
    if z < 0.0 {
        return 1.0 - normal_tail(-z);
    }
    let t = 1.0 / (1.0 + 0.231_641_9 * z);
    let poly = t
        * (0.319_381_530
            + t * (-0.356_563_782
                + t * (1.781_477_937 + t * (-1.821_255_978 + t * 1.330_274_429))));
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt() * poly
}

/// Expected groups of round marks of one sign on a clean plate that reach so many square centimetres.
///
/// Exponential tails read off 200 clean practice plates and 42 open plates without marks: one in seven
/// shows marks in four squares (natural specks, dust on the glass), and beyond that the share falls off
/// by the scale. Busy scenes (craters of a moon, highlights of wet stone) reach farther than even
/// plates; dust looks like silver more often than like a hole.
pub fn round_marks_false_alarms(squares: usize, even_plate: bool, more_silver: bool) -> f64 {
    let scale = match (even_plate, more_silver) {
        (true, false) => 2.0,
        (true, true) => 3.0,
        (false, _) => 4.5,
    };
    (0.15 * (-(squares as f64 - 4.0).max(0.0) / scale).exp()).max(LEAST_MARK_FALSE_ALARMS)
}

/// Fewest false groups of marks a clean plate that any number of marks is credited with: none was seen
/// on those 242 plates, so at most about 3 in 242 for three faults (the rule of three).
const LEAST_MARK_FALSE_ALARMS: f64 = 0.002;

/// Fewest tails that make a group of comets.
pub const FEWEST_COMETS: usize = 5;

/// Expected groups of comets on a clean plate when `alike` of `tails` tails lie within 15 degrees of one
/// direction and `opposed` within 15 degrees of the opposite one.
///
/// The binomial tail of a twelfth each, for 24 directions that could have been the one. Roofs, boards and
/// hair make tails along one axis, so a group needs half of all tails and hardly any the other way. Over
/// scenes ten times as many pass as the binomial says: the best of 240 clean pictures reached 0.001.
pub fn comets_false_alarms(alike: usize, opposed: usize, tails: usize, even_plate: bool) -> f64 {
    let few = alike < FEWEST_COMETS || 2 * alike < tails;
    if few || opposed as f64 > 0.15 * alike as f64 + 0.5 {
        return 1.0;
    }
    let of_scene = if even_plate { 1.0 } else { 10.0 };
    let expected = of_scene * 24.0 * binomial_tail(alike, tails, 1.0 / 12.0);
    expected.clamp(LEAST_MARK_FALSE_ALARMS, 1.0)
}

/// Probability of at least `k` of `n` at `p` each.
fn binomial_tail(k: usize, n: usize, p: f64) -> f64 {
    let mut term = (1.0 - p).powi(n.min(10_000) as i32);
    let mut below = 0.0;
    for j in 0..k.min(n + 1) {
        below += term;
        term *= (n - j) as f64 / (j + 1) as f64 * p / (1.0 - p);
    }
    (1.0 - below).max(0.0)
}

/// How much marks matter to the eye, by their number a square centimetre and their median contrast:
/// one a square centimetre of a contrast of 0.3 D is seen at reading distance. Our own judgement.
pub fn marks_severity(per_cm2: f64, contrast_d: f64) -> Severity {
    match per_cm2 * contrast_d {
        v if v >= 0.5 => Severity::Spoils,
        v if v >= 0.1 => Severity::Visible,
        _ => Severity::Trace,
    }
}

/// How much fog matters to the eye, by extra silver in density: below 0.08 it needs looking for, from
/// 0.25 on it is what one sees first. Our own judgement; a soft step of 0.02 D is about the least the
/// eye catches (from memory).
pub fn fog_severity(fog_d: f64) -> Severity {
    match fog_d {
        d if d >= 0.25 => Severity::Spoils,
        d if d >= 0.08 => Severity::Visible,
        _ => Severity::Trace,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_normal_tail_has_its_known_values() {
        // Abramowitz and Stegun, table 26.1.
        assert!((normal_tail(0.0) - 0.5).abs() < 1e-6);
        assert!((normal_tail(1.644_853_6) - 0.05).abs() < 1e-6);
        assert!((normal_tail(3.0) - 0.001_349_898).abs() < 1e-6);
        assert!((normal_tail(-1.0) - 0.841_344_7).abs() < 1e-6);
    }

    #[test]
    fn the_binomial_tail_has_its_known_values() {
        assert!((binomial_tail(3, 3, 0.5) - 0.125).abs() < 1e-12);
        assert!((binomial_tail(1, 10, 0.1) - (1.0 - 0.9f64.powi(10))).abs() < 1e-12);
        assert_eq!(binomial_tail(0, 5, 0.3), 1.0);
    }

    #[test]
    fn a_handful_of_marks_is_no_fault() {
        assert!(round_marks_false_alarms(5, true, false) > FALSE_ALARMS_A_PLATE);
        assert!(round_marks_false_alarms(12, true, false) <= FALSE_ALARMS_A_PLATE);
        assert!(round_marks_false_alarms(12, false, false) > FALSE_ALARMS_A_PLATE);
        assert!(comets_false_alarms(4, 0, 4, true) > FALSE_ALARMS_A_PLATE);
        assert!(comets_false_alarms(9, 0, 10, false) <= FALSE_ALARMS_A_PLATE);
        assert!(comets_false_alarms(9, 6, 16, false) > FALSE_ALARMS_A_PLATE);
        assert!(comets_false_alarms(9, 0, 30, false) > FALSE_ALARMS_A_PLATE);
    }

    #[test]
    fn more_fog_is_less_often_chance() {
        let at = |d| edge_fog_false_alarms(d, Ground::Border, 0.0);
        assert!(at(0.02) > at(0.04) && at(0.04) > at(0.2));
        assert!(edge_fog_false_alarms(0.06, Ground::Border, 0.4) > at(0.06));
        // No strength is credited with more than clean plates have shown.
        assert_eq!(at(2.0), LEAST_FALSE_ALARMS);
        assert!(light_leak_false_alarms(0.03, 0.002) > light_leak_false_alarms(0.2, 0.002));
    }
}
