//! The sentences that go with a cause: why, why not, and what cannot be told apart.

use super::catalogue::{Basis, Catalogue, Cause, Often, SignWeight};
use super::evidence::Evidence;
use super::movement::Movement;
use super::verdicts::Verdict;
use crate::findings::{Fault, Sign, SignName};
use crate::handling::Handling;
use crate::raster::geometry::{between_axes_deg, between_directions_deg};

/// Two handlings closer than this lie along one axis, degrees. Our own choice: half of what hands can
/// tell; the tests of this file would notice a change.
const ONE_AXIS_DEG: f64 = 20.0;

/// Ways closer than this are hard to tell apart by what follows them, degrees: three times what hands
/// stray. Our own choice.
const NEARLY_ONE_AXIS_DEG: f64 = 30.0;

/// A factor on the odds nearer to 1 than this is not worth a sentence. Our own choice; the tests of
/// `tests/causes.rs` that read the reasons would notice a change.
const WORTH_A_SENTENCE: f64 = 1.05;

/// What speaks for and against a cause, strongest first, each with the plate's own numbers.
pub(super) fn reasons(
    cause: &Cause,
    fault: Fault,
    evidence: &Evidence,
    catalogue: &Catalogue,
) -> (Vec<String>, Vec<String>) {
    let signs = evidence.signs.iter().filter_map(|sign| {
        let weight = cause.signs.get(&sign.name)?;
        Some((weight.factor(sign), sentence(sign, weight)))
    });
    let answers = evidence.answers.iter().filter_map(|answer| {
        let check = catalogue.checks.get(&answer.check)?;
        let words = if answer.yes {
            format!("checked: {}", check.answer)
        } else {
            format!("checked, and it is not so that {}", check.answer)
        };
        Some((check.factor(&cause.id, answer.yes), words))
    });
    let mut weighed: Vec<(f64, String)> = answers.chain(signs).collect();
    weighed.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut because: Vec<String> = weighed
        .iter()
        .filter(|(factor, _)| *factor >= WORTH_A_SENTENCE)
        .map(|(_, words)| words.clone())
        .collect();
    let against = weighed
        .iter()
        .rev()
        .filter(|(factor, _)| *factor <= 1.0 / WORTH_A_SENTENCE)
        .map(|(_, words)| words.clone())
        .collect();
    because.push(how_often(cause, fault));
    (because, against)
}

/// Why a cause is settled.
pub(super) fn verdict(verdict: &Verdict) -> String {
    format!("you wrote \u{201c}{}\u{201d}", verdict.written)
}

fn sentence(sign: &Sign, weight: &SignWeight) -> String {
    match weight.why(sign.holds) {
        "" => sign.words.clone(),
        why => format!("{}: {why}", sign.words),
    }
}

fn how_often(cause: &Cause, fault: Fault) -> String {
    let fault = fault.short().to_lowercase();
    often_words(cause.prior, cause.prior_basis, &fault)
}

/// Who says how often a cause is behind something.
pub(super) fn often_words(often: Often, basis: Basis, of: &str) -> String {
    let who = match basis {
        Basis::Source => "the trade's books",
        Basis::CommonPractice => "common practice",
        Basis::Memory => "the trade, from memory,",
        Basis::Judgement => "our own judgement",
    };
    let often = match often {
        Often::Usual => "a usual cause",
        Often::Sometimes => "an occasional cause",
        Often::Rare => "a rare cause",
    };
    let verb = if who == "the trade's books" {
        "call"
    } else {
        "calls"
    };
    format!("{who} {verb} it {often} of {of}")
}

/// What is said under a cause that the plate cannot tell from others: `count` causes in all, `other` the
/// next likely one beside it; `told_apart` by the checks that stand under them, where these are not one and the same.
pub(super) fn tie(count: usize, other: &Cause, told_apart: bool) -> String {
    let (them, checks) = match (count, told_apart) {
        (2, true) => ("the two", "a check can"),
        (2, false) => ("the two", "and one check speaks for both"),
        (_, true) => ("them", "checks can"),
        (_, false) => ("them", "and one check speaks for all"),
    };
    let who = match count {
        2 => format!("\u{201c}{}\u{201d} is about as likely", other.title),
        _ => format!("{count} causes are about equally likely"),
    };
    format!("{who}: this plate alone cannot tell {them} apart, {checks}")
}

/// What to do on the next plate so that two movements no longer run along one axis.
fn apart(one: Movement, two: Movement) -> &'static str {
    match (one, two) {
        (Movement::Dip, Movement::Sweep) | (Movement::Sweep, Movement::Dip) => {
            "sweep the developer across the dip on the next plate"
        }
        (Movement::Sweep, _) | (_, Movement::Sweep) => {
            "sweep the developer another way than the collodion drains on the next plate"
        }
        _ => "drain the next plate at another corner",
    }
}

/// What is said when place or tails of a finding support two causes through two movements of the hand
/// that lie along one axis or nearly so, so that they cannot decide between them. `size_mm` is width and
/// height of the plate, for the direction of its corners.
pub(super) fn one_axis(
    first: &Cause,
    second: &Cause,
    signs: &[Sign],
    size_mm: Option<[f64; 2]>,
    handling: Option<&Handling>,
) -> Option<String> {
    let handling = handling?;
    let speaks = |cause: &Cause, sign: &Sign| {
        let weight = cause.signs.get(&sign.name);
        weight.is_some_and(|weight| weight.factor(sign) >= WORTH_A_SENTENCE)
    };
    let would_speak = |cause: &Cause, sign: &Sign| {
        let weight = cause.signs.get(&sign.name);
        weight.is_some_and(|weight| weight.seen >= WORTH_A_SENTENCE)
    };
    let pairs = signs
        .iter()
        .flat_map(|own| signs.iter().map(move |other| (own, other)));
    let (one, two, what, apart_deg) = pairs
        .filter(|(own, other)| speaks(first, own) && would_speak(second, other))
        .find_map(|(own, other)| {
            let (one, two) = (Movement::behind(own.name)?, Movement::behind(other.name)?);
            if one == two {
                return None;
            }
            let apart_deg = between_ways_deg(one, two, follower(own.name), size_mm, handling)?;
            let (Some(what), Some(_)) = (follower(own.name), follower(other.name)) else {
                // A place follows no way: only dip and sweep end at it together.
                let both = one != Movement::Drain && two != Movement::Drain;
                let near = both && speaks(second, other) && apart_deg <= ONE_AXIS_DEG;
                return near.then_some((one, two, "place", apart_deg));
            };
            // What follows two ways says by itself that the two are one.
            let both = own.holds && speaks(second, other) && other.holds;
            let near = own.holds && apart_deg < NEARLY_ONE_AXIS_DEG;
            (both || near).then_some((one, two, what, apart_deg))
        })?;
    let (one_way, two_way, asked) = (one.words(), two.words(), apart(one, two));
    Some(if apart_deg <= ONE_AXIS_DEG {
        format!(
            "{one_way} and {two_way} {ONE_AXIS} on this plate, so the {what} cannot tell them apart: {asked}"
        )
    } else {
        format!(
            "{one_way} and {two_way} {NEARLY_ONE_AXIS} {apart_deg:.0} degrees of one another on this plate, so \
             the {what} can hardly tell them apart: {asked}"
        )
    })
}

/// How the sentences of [`one_axis`] call it.
const ONE_AXIS: &str = "ran along one axis";
const NEARLY_ONE_AXIS: &str = "ran within";

/// Whether a reason says that two movements of the hand ran along one axis or nearly so.
pub fn says_one_axis(because: &str) -> bool {
    [ONE_AXIS, NEARLY_ONE_AXIS]
        .iter()
        .any(|words| because.contains(words))
}

/// The angle between the ways of two movements, degrees; `None` where one is not told. Tails follow a
/// direction unless the dip is one of the two; lines and places know only axes.
fn between_ways_deg(
    one: Movement,
    two: Movement,
    what: Option<&str>,
    size_mm: Option<[f64; 2]>,
    handling: &Handling,
) -> Option<f64> {
    let (one_deg, two_deg) = (
        one.way_deg(handling, size_mm)?,
        two.way_deg(handling, size_mm)?,
    );
    let one_way = what == Some(TAILS) && one != Movement::Dip && two != Movement::Dip;
    Some(match one_way {
        true => between_directions_deg(one_deg, two_deg),
        false => between_axes_deg(one_deg, two_deg),
    })
}

const TAILS: &str = "tails";

/// What follows the way of a liquid, where the sign is about that.
fn follower(name: SignName) -> Option<&'static str> {
    match name {
        SignName::TailsAlongDip | SignName::TailsWithSweep | SignName::TailsToDrain => Some(TAILS),
        SignName::AlongDip | SignName::AlongSweep | SignName::AlongDrain => Some("lines"),
        SignName::AcrossDip | SignName::AcrossSweep => Some("lie of the line"),
        _ => None,
    }
}

/// What limits the causes of fog on a plate without a dark border.
pub(super) fn no_border(fault: Fault) -> Option<String> {
    matches!(fault, Fault::Veil | Fault::EdgeFog | Fault::LightLeak).then(|| {
        "this plate has no border that the holder kept dark, so light and chemistry are hard to tell apart on it"
            .to_string()
    })
}

/// An axis in words, degrees clockwise from the vertical.
pub(super) fn axis(axis_deg: f64) -> String {
    let axis_deg = axis_deg.rem_euclid(180.0);
    if between_axes_deg(axis_deg, 0.0) <= 10.0 {
        "up and down".into()
    } else if between_axes_deg(axis_deg, 90.0) <= 10.0 {
        "across".into()
    } else {
        format!("along {axis_deg:.0}\u{b0}")
    }
}

/// A direction in words, degrees clockwise from twelve o'clock.
pub(super) fn direction(direction_deg: f64) -> String {
    let direction_deg = direction_deg.rem_euclid(360.0);
    for (at, words) in [
        (0.0, "the top"),
        (90.0, "the right"),
        (180.0, "the bottom"),
        (270.0, "the left"),
        (360.0, "the top"),
    ] {
        if (direction_deg - at).abs() <= 10.0 {
            return words.into();
        }
    }
    format!("{direction_deg:.0}\u{b0}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_and_axes_read_well() {
        assert_eq!(direction(355.0), "the top");
        assert_eq!(direction(-90.0), "the left");
        assert_eq!(direction(135.0), "135\u{b0}");
        assert_eq!(axis(178.0), "up and down");
        assert_eq!(axis(90.0), "across");
        assert_eq!(axis(45.0), "along 45\u{b0}");
    }
}
