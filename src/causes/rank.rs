//! Weighs the causes of each finding, and those of the plate.
//!
//! One finding: prior odds x (product of the sign ratios)^temper x the ratios of checks that were made;
//! one of the listed causes or none of them (Bayes; the temper because signs lean on each other). The plate: a cause may be behind several
//! faults at once, so their chances are joined by noisy-OR (Pearl, Probabilistic Reasoning in
//! Intelligent Systems, 1988, chapter 4, chapter from memory).

use std::collections::BTreeMap;

use super::catalogue::{Catalogue, Cause};
use super::evidence::{Evidence, PlateFacts};
use super::verdicts::{self, Says, Verdict};
use super::{LikelyCause, Ranked, Rest, next_check, notes};
use crate::findings::{Fault, Finding, Sign, SignName};
use crate::handling::Handling;

/// The probabilities of all causes of one finding; with `none_of_these` they sum to one.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Weighed {
    /// `(index in the catalogue, probability)`, most likely first.
    pub(super) causes: Vec<(usize, f64)>,
    /// Probability that none of them is behind it.
    pub(super) none_of_these: f64,
}

/// Weighs the causes of every finding of one plate and of the plate as a whole.
///
/// `findings` of faults that the catalogue does not know get an empty list and a [`Rest`] that is all
/// `none_of_these`. The probabilities hold if the finding is real; its own confidence is not in them,
/// but it is in those of the plate. A finding that the maker's verdict calls no fault counts for nothing
/// there; one whose cause it names is certain, and so is the cause.
pub fn rank(
    findings: &[Finding],
    facts: &PlateFacts,
    handling: Option<&Handling>,
    catalogue: &Catalogue,
) -> Ranked {
    let plate = WeighedPlate::of(findings, facts, handling, catalogue);
    let WeighedPlate {
        evidence,
        verdicts,
        weighed,
    } = &plate;
    let per_finding: Vec<Vec<LikelyCause>> = findings
        .iter()
        .zip(evidence)
        .zip(verdicts)
        .zip(weighed)
        .map(|(((finding, evidence), verdict), (_, weighed))| {
            let mut named = likely(finding.fault, evidence, weighed, facts, handling, catalogue);
            if let Some(verdict) = verdict.filter(|verdict| verdict.says != Says::NoFault) {
                for cause in &mut named {
                    cause.because.insert(0, notes::verdict(verdict));
                }
            }
            named
        })
        .collect();
    let rest = per_finding
        .iter()
        .zip(weighed)
        .map(|(named, (_, weighed))| rest(named.len(), weighed))
        .collect();
    let at_work = at_work(&[(findings, weighed)], catalogue);
    let leading: Vec<usize> = at_work
        .iter()
        .take(catalogue.weights.listed_causes)
        .map(|(index, _)| *index)
        .collect();
    let settled = settled(findings, facts, catalogue);
    let check_next = next_check::choose(weighed, &leading, facts.size_mm, &settled, catalogue);
    let mut per_finding = per_finding;
    let mut plate: Vec<LikelyCause> = at_work
        .iter()
        .take(catalogue.weights.listed_causes)
        .filter_map(|(index, probability)| {
            let cause = catalogue.causes.get(*index)?;
            Some(on_the_plate(
                cause,
                *probability,
                findings,
                evidence,
                catalogue,
            ))
        })
        .collect();
    for cause in per_finding.iter_mut().flatten().chain(&mut plate) {
        ask_what_is_open(cause, &settled, catalogue);
    }
    Ranked {
        per_finding,
        rest,
        plate,
        check_next,
    }
}

/// The findings of one plate, each with what bears on its causes and their probabilities.
pub(super) struct WeighedPlate<'a> {
    pub(super) evidence: Vec<Evidence<'a>>,
    /// The maker's verdict on each finding.
    verdicts: Vec<Option<&'a Verdict>>,
    /// Probability of the fault itself, and of its causes.
    pub(super) weighed: Vec<(f64, Weighed)>,
}

impl<'a> WeighedPlate<'a> {
    pub(super) fn of(
        findings: &[Finding],
        facts: &'a PlateFacts,
        handling: Option<&Handling>,
        catalogue: &Catalogue,
    ) -> WeighedPlate<'a> {
        let evidence: Vec<Evidence> = findings
            .iter()
            .map(|finding| Evidence::gather(finding, facts, handling))
            .collect();
        let verdicts = verdicts::on_each(findings, &facts.verdicts);
        let weighed = findings
            .iter()
            .zip(&evidence)
            .zip(&verdicts)
            .map(|((finding, evidence), verdict)| {
                let weighed = weigh(finding.fault, evidence, catalogue);
                (
                    verdicts::confidence(finding.confidence, *verdict),
                    verdicts::settle(weighed, *verdict, catalogue),
                )
            })
            .collect();
        WeighedPlate {
            evidence,
            verdicts,
            weighed,
        }
    }
}

/// Names of the checks that need no asking: signs of this plate have answered them, or the maker has.
pub(super) fn settled<'a>(
    findings: &[Finding],
    facts: &PlateFacts,
    catalogue: &'a Catalogue,
) -> Vec<&'a str> {
    let shown = |sign: SignName| {
        let mut signs = findings.iter().flat_map(|finding| &finding.signs);
        signs.any(|known| known.name == sign)
    };
    let told = |name: &str| facts.answers.iter().any(|answer| answer.check == name);
    let checks = catalogue.checks.iter();
    checks
        .filter(|(name, check)| told(name) || check.settled_by.is_some_and(shown))
        .map(|(name, _)| name.as_str())
        .collect()
}

/// Puts the first check of a cause that is still open in place of one that is settled.
pub(super) fn ask_what_is_open(cause: &mut LikelyCause, settled: &[&str], catalogue: &Catalogue) {
    if let Some(listed) = catalogue.causes.iter().find(|c| c.id == cause.cause) {
        let mut open = listed
            .checks
            .iter()
            .filter(|name| !settled.contains(&name.as_str()));
        let open = open.find_map(|name| Some((name, catalogue.checks.get(name)?)));
        (cause.check, cause.check_next) = open
            .map(|(name, check)| (name.clone(), check.words.clone()))
            .unwrap_or_default();
    }
}

/// The probabilities of all causes of one fault, given the evidence.
fn weigh(fault: Fault, evidence: &Evidence, catalogue: &Catalogue) -> Weighed {
    let weights = &catalogue.weights;
    let prior: Vec<(usize, f64)> = catalogue
        .causes
        .iter()
        .enumerate()
        .filter_map(|(index, cause)| {
            let readily = cause.faults.get(&fault)?;
            Some((index, readily * weights.odds(cause.prior)))
        })
        .collect();
    let prior_sum: f64 = prior.iter().map(|(_, odds)| odds).sum();
    if prior_sum <= 0.0 {
        return Weighed {
            causes: Vec::new(),
            none_of_these: 1.0,
        };
    }
    // The listed causes share what "none of these" leaves; that hypothesis is the one the sign ratios
    // are measured against, so its own ratio is 1.
    let share = (1.0 - weights.none_of_these) / prior_sum;
    let odds: Vec<(usize, f64)> = prior
        .into_iter()
        .filter_map(|(index, odds)| {
            let cause = catalogue.causes.get(index)?;
            let signs: f64 = evidence
                .signs
                .iter()
                .map(|sign| match sign.closeness {
                    // The way of the marks is repeated by no other sign.
                    Some(_) => log_ratio(cause, sign),
                    None => weights.temper * log_ratio(cause, sign),
                })
                .sum();
            // A check stands on its own, so its answer counts in full.
            let answers: f64 = evidence
                .answers
                .iter()
                .filter_map(|answer| {
                    let check = catalogue.checks.get(&answer.check)?;
                    Some(check.factor(&cause.id, answer.yes).ln())
                })
                .sum();
            Some((index, share * odds * (signs + answers).exp()))
        })
        .collect();
    let sum = weights.none_of_these + odds.iter().map(|(_, odds)| odds).sum::<f64>();
    let mut causes: Vec<(usize, f64)> = odds
        .into_iter()
        .map(|(index, odds)| (index, odds / sum))
        .collect();
    causes.sort_by(|a, b| b.1.total_cmp(&a.1));
    Weighed {
        causes,
        none_of_these: weights.none_of_these / sum,
    }
}

/// Natural logarithm of what a sign is worth for a cause.
fn log_ratio(cause: &Cause, sign: &Sign) -> f64 {
    cause
        .signs
        .get(&sign.name)
        .map_or(0.0, |weight| weight.factor(sign).ln())
}

/// The named causes of one finding, with their sentences.
fn likely(
    fault: Fault,
    evidence: &Evidence,
    weighed: &Weighed,
    facts: &PlateFacts,
    handling: Option<&Handling>,
    catalogue: &Catalogue,
) -> Vec<LikelyCause> {
    let mut named: Vec<(&Cause, LikelyCause)> = weighed
        .causes
        .iter()
        .take(catalogue.weights.listed_causes)
        .filter_map(|(index, probability)| {
            let cause = catalogue.causes.get(*index)?;
            let (because, mut against) = notes::reasons(cause, fault, evidence, catalogue);
            if !facts.has_border {
                against.extend(notes::no_border(fault));
            }
            Some((
                cause,
                entry(cause, *probability, because, against, catalogue),
            ))
        })
        .collect();
    let tied = tied(weighed, catalogue.weights.tie_ratio);
    say_ties(&mut named, tied, &evidence.signs, facts.size_mm, handling);
    named.into_iter().map(|(_, likely)| likely).collect()
}

/// How many causes are about as likely as the first, itself among them. Weights in the catalogue are round
/// numbers, so a cause may lie right at the limit: rounding must not say one thing today and another tomorrow.
fn tied(weighed: &Weighed, tie_ratio: f64) -> usize {
    let best = weighed.causes.first().map_or(0.0, |(_, p)| *p);
    weighed
        .causes
        .iter()
        .take_while(|(_, p)| *p >= (tie_ratio - 1e-6) * best)
        .count()
}

/// Says under each of the `tied` leading causes that others are about as likely; and under each that
/// rests on one movement of the hand which others rest on another along the same axis.
fn say_ties(
    named: &mut [(&Cause, LikelyCause)],
    tied: usize,
    signs: &[Sign],
    size_mm: Option<[f64; 2]>,
    handling: Option<&Handling>,
) {
    let all: Vec<&Cause> = named.iter().map(|(cause, _)| *cause).collect();
    let told_apart = {
        let mut checks = named.iter().take(tied).map(|(_, likely)| &likely.check);
        let first = checks.next();
        checks.any(|check| Some(check) != first)
    };
    for (rank, (cause, likely)) in named.iter_mut().enumerate() {
        let others = || all.iter().filter(|other| other.id != cause.id);
        if rank < tied {
            let leading = all.iter().take(tied).find(|other| other.id != cause.id);
            likely
                .against
                .extend(leading.map(|other| notes::tie(tied, other, told_apart)));
        }
        likely.against.extend(
            others().find_map(|other| notes::one_axis(cause, other, signs, size_mm, handling)),
        );
    }
}

fn rest(named: usize, weighed: &Weighed) -> Rest {
    Rest {
        other_causes: weighed
            .causes
            .iter()
            .skip(named)
            .map(|(_, probability)| probability)
            .sum(),
        none_of_these: weighed.none_of_these,
    }
}

/// `1 - product of (1 - chance)`: the chance that at least one of independent chances comes true.
pub(super) fn noisy_or(chances: impl Iterator<Item = f64>) -> f64 {
    1.0 - chances.map(|chance| 1.0 - chance).product::<f64>()
}

/// The findings of some plates with the probabilities of faults and causes.
pub(super) type Witnesses<'a> = (&'a [Finding], &'a [(f64, Weighed)]);

/// The probability of each cause to be at work, most likely first.
///
/// Findings of one fault (fog on two edges, fog on two plates from one bath) are the same fault seen twice
/// and not two witnesses, so of those the strongest counts; different faults are joined by noisy-OR. Dust is of the
/// scanner's glass, so it is only weighed where nothing else was found.
pub(super) fn at_work(plates: &[Witnesses], catalogue: &Catalogue) -> Vec<(usize, f64)> {
    let mut strongest: BTreeMap<Fault, Vec<f64>> = BTreeMap::new();
    let of_plate = |finding: &Finding| finding.fault != Fault::ScanDust;
    let any_of_plate = plates
        .iter()
        .any(|(findings, _)| findings.iter().any(of_plate));
    for (findings, weighed) in plates {
        for (finding, (confidence, weighed)) in findings.iter().zip(weighed.iter()) {
            if any_of_plate && !of_plate(finding) {
                continue;
            }
            let chances = strongest
                .entry(finding.fault)
                .or_insert_with(|| vec![0.0; catalogue.causes.len()]);
            for (index, probability) in &weighed.causes {
                if let Some(chance) = chances.get_mut(*index) {
                    *chance = chance.max(confidence * probability);
                }
            }
        }
    }
    let mut causes: Vec<(usize, f64)> = (0..catalogue.causes.len())
        .map(|index| {
            let chances = strongest
                .values()
                .filter_map(|of_fault| of_fault.get(index));
            (index, noisy_or(chances.copied()))
        })
        .filter(|(_, probability)| *probability > 0.0)
        .collect();
    causes.sort_by(|a, b| b.1.total_cmp(&a.1));
    causes
}

/// One cause in the plate's table: its reasons are those of the findings it may be behind.
fn on_the_plate(
    cause: &Cause,
    probability: f64,
    findings: &[Finding],
    evidence: &[Evidence],
    catalogue: &Catalogue,
) -> LikelyCause {
    let (mut because, mut against) = (Vec::new(), Vec::new());
    for (finding, evidence) in findings.iter().zip(evidence) {
        if cause.faults.contains_key(&finding.fault) {
            let (own_because, own_against) =
                notes::reasons(cause, finding.fault, evidence, catalogue);
            let titled = |words: &String| format!("{}: {words}", finding.title);
            because.extend(own_because.first().map(titled));
            against.extend(own_against.first().map(titled));
        }
    }
    entry(cause, probability, because, against, catalogue)
}

/// One cause for the report, with what the catalogue says of it.
pub(super) fn entry(
    cause: &Cause,
    probability: f64,
    because: Vec<String>,
    against: Vec<String>,
    catalogue: &Catalogue,
) -> LikelyCause {
    LikelyCause {
        cause: cause.id.clone(),
        title: cause.title.clone(),
        side: cause.side,
        probability,
        because,
        against,
        remedy: cause.remedy.clone(),
        check: cause.checks.first().cloned().unwrap_or_default(),
        check_next: cause
            .checks
            .first()
            .and_then(|name| catalogue.checks.get(name))
            .map(|check| check.words.clone())
            .unwrap_or_default(),
        cautions: catalogue.caution_lines(&cause.cautions),
        sources: catalogue.source_lines(cause),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 1 - (1 - 0.5)(1 - 0.2)(1 - 0.1) = 1 - 0.5 x 0.8 x 0.9 = 1 - 0.36 = 0.64.
    #[test]
    fn noisy_or_by_hand() {
        let joined = noisy_or([0.5, 0.2, 0.1].into_iter());
        assert!((joined - 0.64).abs() < 1e-12);
        assert_eq!(noisy_or(std::iter::empty()), 0.0);
    }
}
