//! The sentences that go with a cause: why, why not, and what cannot be told apart.

use super::catalogue::{Basis, Catalogue, Cause, Often, SignWeight};
use super::evidence::Evidence;
use super::movement::Movement;
use super::verdicts::Verdict;
use crate::findings::{Fault, Sign, SignName};
use crate::handling::Handling;
use crate::raster::geometry::between_axes_deg;

/// Two handlings closer than this lie along one axis, degrees. Our own choice: half of what hands can
/// tell; the tests of this file would notice a change.
const ONE_AXIS_DEG: f64 = 20.0;

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
        Some((weight.factor(sign.holds), sentence(sign, weight)))
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
/// next likely one beside it.
pub(super) fn tie(count: usize, other: &Cause) -> String {
    if count == 2 {
        format!(
            "\u{201c}{}\u{201d} is about as likely: this plate alone cannot tell the two apart, a check can",
            other.title
        )
    } else {
        format!(
            "{count} causes are about equally likely: this plate alone cannot tell them apart, checks can"
        )
    }
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
/// that lie along one axis, so that they cannot decide between them.
pub(super) fn one_axis(
    first: &Cause,
    second: &Cause,
    signs: &[Sign],
    handling: Option<&Handling>,
) -> Option<String> {
    let handling = handling?;
    let rests_on = |cause: &Cause, statement| {
        signs.iter().find(|sign| {
            let weight = cause.signs.get(&sign.name);
            let factor = weight.map_or(1.0, |weight| weight.factor(sign.holds));
            Movement::behind(sign.name) == Some(statement) && factor >= WORTH_A_SENTENCE
        })
    };
    let pairs = Movement::ALL
        .into_iter()
        .flat_map(|one| Movement::ALL.map(|two| (one, two)))
        .filter(|(one, two)| one != two);
    let (one, two, what) = pairs.into_iter().find_map(|(one, two)| {
        let (own, other) = (rests_on(first, one)?, rests_on(second, two)?);
        // What follows two ways says by itself that the two are one.
        if let (Some(what), Some(_)) = (follower(own), follower(other)) {
            return Some((one, two, what));
        }
        let both = one != Movement::Drain && two != Movement::Drain;
        let apart_deg = between_axes_deg(handling.dip_axis_deg?, handling.developer_direction_deg?);
        (both && apart_deg <= ONE_AXIS_DEG).then_some((one, two, "place"))
    })?;
    Some(format!(
        "{} and {} ran along one axis on this plate, so the {what} cannot tell them apart: {}",
        one.words(),
        two.words(),
        apart(one, two)
    ))
}

/// What follows the way of a liquid, where the sign says that something does.
fn follower(sign: &Sign) -> Option<&'static str> {
    match sign.name {
        _ if !sign.holds => None,
        SignName::TailsAlongDip | SignName::TailsWithSweep | SignName::TailsToDrain => {
            Some("tails")
        }
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
