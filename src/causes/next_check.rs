//! Which check tells most for its cost.
//!
//! The gain of a yes-or-no check is the mutual information of its answer and the cause, in bits:
//! `H(answer) - sum over causes of P(cause) H(answer | cause)` (Shannon 1948; Cover and Thomas,
//! Elements of Information Theory, section 2.4, section from memory).

use super::NextCheck;
use super::catalogue::{Catalogue, Check};
use super::rank::Weighed;

/// Gain below which a check is not worth naming, bits: less than a hundredth of a coin's toss. Our own
/// choice; `tests/causes.rs` (`nothing_to_check_*`) would notice a change.
const LEAST_GAIN_BITS: f64 = 0.01;

/// Entropy of a yes-or-no answer with that chance of yes, bits.
pub(super) fn entropy_bits(chance: f64) -> f64 {
    let part = |p: f64| if p > 0.0 { -p * p.log2() } else { 0.0 };
    part(chance) + part(1.0 - chance)
}

/// Expected gain of a check, bits, given the probabilities of the causes and the chance of a yes under
/// each: `(probability, chance)`; the probabilities sum to one.
pub(super) fn gain_bits(causes: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (mut yes, mut left) = (0.0, 0.0);
    for (probability, chance) in causes {
        yes += probability * chance;
        left += probability * entropy_bits(chance);
    }
    (entropy_bits(yes) - left).max(0.0)
}

/// The gain of a check for one finding, bits.
fn gain_for_finding(check: &Check, weighed: &Weighed, catalogue: &Catalogue) -> f64 {
    let named = weighed.causes.iter().filter_map(|(index, probability)| {
        let cause = catalogue.causes.get(*index)?;
        Some((*probability, check.chance_of_yes(Some(&cause.id))))
    });
    let none = (weighed.none_of_these, check.chance_of_yes(None));
    gain_bits(named.chain([none]))
}

/// The check with the greatest gain for its cost among those of the leading causes, the gain averaged
/// over the findings by their confidence; what is `settled` is not asked for again. `leading` are indices of causes, most likely first;
/// `size_mm` is the plate's size, where it is known.
pub(super) fn choose(
    weighed: &[(f64, Weighed)],
    leading: &[usize],
    size_mm: Option<[f64; 2]>,
    settled: &[&str],
    catalogue: &Catalogue,
) -> Option<NextCheck> {
    let confidence: f64 = weighed.iter().map(|(confidence, _)| confidence).sum();
    if confidence <= 0.0 {
        return None;
    }
    let mut names: Vec<&String> = Vec::new();
    for cause in leading
        .iter()
        .filter_map(|index| catalogue.causes.get(*index))
    {
        for name in &cause.checks {
            if !settled.contains(&name.as_str()) && !names.contains(&name) {
                names.push(name);
            }
        }
    }
    let weights = &catalogue.weights;
    let plate_cm2 = size_mm.map_or(weights.usual_plate_cm2, |[w, h]| w * h / 100.0);
    let silver_g_per_plate = plate_cm2 * weights.silver_mg_per_cm2 / 1000.0;
    let best = names
        .into_iter()
        .filter_map(|name| Some((name, catalogue.checks.get(name)?)))
        .map(|(name, check)| {
            let gain: f64 = weighed
                .iter()
                .map(|(confidence, weighed)| {
                    confidence * gain_for_finding(check, weighed, catalogue)
                })
                .sum::<f64>()
                / confidence;
            let silver_g = f64::from(check.plates) * silver_g_per_plate;
            let cost =
                weights.start_minutes + check.minutes + silver_g * weights.minutes_per_silver_g;
            ((name, check), gain, silver_g, gain / cost)
        })
        .filter(|(_, gain, _, _)| *gain >= LEAST_GAIN_BITS)
        .reduce(|best, next| if next.3 > best.3 { next } else { best })?;
    let ((name, check), gain_bits, silver_g, _) = best;
    let for_causes = leading
        .iter()
        .filter_map(|index| catalogue.causes.get(*index))
        .filter(|cause| check.chance_of_yes(Some(&cause.id)) > check.otherwise)
        .map(|cause| cause.id.clone())
        .collect();
    Some(NextCheck {
        check: name.clone(),
        words: check.words.clone(),
        yes: check.answer.clone(),
        gain_bits,
        minutes: check.minutes,
        silver_g,
        for_causes,
        cautions: catalogue.caution_lines(&catalogue.cautions_for(&[&check.words])),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: H(1/2) = 1 bit; H(1/4) = 1/4 x 2 + 3/4 x log2(4/3) = 0.5 + 0.75 x 0.415037 = 0.811278.
    #[test]
    fn entropy_of_a_coin_and_of_a_quarter() {
        assert_eq!(entropy_bits(0.5), 1.0);
        assert!((entropy_bits(0.25) - 0.811_278).abs() < 1e-6);
        assert_eq!(entropy_bits(0.0), 0.0);
        assert_eq!(entropy_bits(1.0), 0.0);
    }

    /// By hand: two causes at 1/2 each, chance of yes 3/4 and 1/4. The answer is an even coin, 1 bit;
    /// under each cause 0.811278 bits are left; gain 1 - 0.811278 = 0.188722 bits.
    /// A check that answers alike under both tells nothing; one that always tells them apart 1 bit.
    #[test]
    fn gain_by_hand() {
        let gain = gain_bits([(0.5, 0.75), (0.5, 0.25)].into_iter());
        assert!((gain - 0.188_722).abs() < 1e-6, "{gain}");
        assert_eq!(gain_bits([(0.5, 0.3), (0.5, 0.3)].into_iter()), 0.0);
        assert_eq!(gain_bits([(0.5, 1.0), (0.5, 0.0)].into_iter()), 1.0);
    }
}
