//! What the maker found a fault to be: none at all, or the work of a cause they name.

use super::catalogue::{Catalogue, Cause};
use super::rank::Weighed;
use crate::findings::{Fault, Finding, FindingName};

/// The maker's own word on a finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verdict {
    /// Which finding.
    pub finding: FindingName,
    /// What it is.
    pub says: Says,
    /// As the maker wrote it.
    pub written: String,
}

/// What a verdict says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Says {
    /// There is no fault: the scene, a repair, a mark that is meant.
    NoFault,
    /// It was one of these causes, by their names in the catalogue; mostly one.
    Causes(Vec<String>),
}

/// Ways of saying that there is no fault.
const NO_FAULT: [&str; 6] = [
    "no fault",
    "not a fault",
    "no fault here",
    "nothing",
    "not there",
    "none",
];

/// Words that carry nothing in `it was the holder`.
const EMPTY_WORDS: [&str; 13] = [
    "it", "was", "were", "is", "the", "a", "an", "my", "our", "by", "of", "cause", "due",
];

/// Words that turn what follows into its opposite: of a cause by its parts nobody can tell what they leave.
const DENIALS: [&str; 9] = [
    "not", "no", "never", "neither", "nor", "without", "isn", "wasn", "weren",
];

/// Causes listed when a word fits none or too many.
const MOST_NAMED: usize = 8;

impl Says {
    /// Reads what a verdict on a finding of that fault says: `no fault`, the name or title of a cause, or
    /// words that its causes share (`it was the holder`). Words are looked for in names and titles of the
    /// causes that can make this fault.
    ///
    /// # Errors
    /// The names to choose from, when the words fit no cause.
    pub fn read(text: &str, fault: Fault, catalogue: &Catalogue) -> Result<Says, Vec<String>> {
        let said = words(text);
        if NO_FAULT.contains(&said.join(" ").as_str()) {
            return Ok(Says::NoFault);
        }
        let named = |cause: &&Cause| words(&cause.id) == said || words(&cause.title) == said;
        if let Some(cause) = catalogue.causes.iter().find(named) {
            return Ok(Says::Causes(vec![cause.id.clone()]));
        }
        let telling: Vec<&String> = said
            .iter()
            .filter(|word| !EMPTY_WORDS.contains(&word.as_str()))
            .collect();
        let of_fault = || {
            let causes = catalogue.causes.iter();
            causes.filter(|cause| cause.faults.contains_key(&fault))
        };
        let fits = |cause: &&Cause, all: bool| {
            let own = [words(&cause.id), words(&cause.title)].concat();
            let has = |word: &&String| own.iter().any(|own| alike(own, word));
            match all {
                true => telling.iter().all(&has),
                false => telling.iter().any(has),
            }
        };
        let ids = |all| {
            let fitting = of_fault().filter(|cause| fits(cause, all));
            fitting
                .map(|cause| cause.id.clone())
                .collect::<Vec<String>>()
        };
        // "Not the collodion" must not settle on a title that happens to hold both words.
        let denies = said.iter().any(|word| DENIALS.contains(&word.as_str()));
        let fitting = if denies { Vec::new() } else { ids(true) };
        if !telling.is_empty() && !fitting.is_empty() {
            return Ok(Says::Causes(fitting));
        }
        let mut close = ids(false);
        if close.is_empty() || telling.is_empty() {
            let odds = |cause: &Cause| {
                let readily = cause.faults.get(&fault).copied().unwrap_or(0.0);
                readily * catalogue.weights.odds(cause.prior)
            };
            let mut usual: Vec<&Cause> = of_fault().collect();
            usual.sort_by(|a, b| odds(b).total_cmp(&odds(a)));
            close = usual.into_iter().map(|cause| cause.id.clone()).collect();
        }
        close.truncate(MOST_NAMED);
        Err(close)
    }
}

/// Words of a text, in lower case.
fn words(text: &str) -> Vec<String> {
    text.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty() && *word != "s")
        .map(str::to_owned)
        .collect()
}

/// Whether two words are the same, but for the ending of a plural.
fn alike(one: &str, other: &str) -> bool {
    let bare = |word: &str| word.strip_suffix('s').unwrap_or(word).to_owned();
    one == other || bare(one) == bare(other)
}

/// The verdict on each finding, in their order.
pub(super) fn on_each<'a>(
    findings: &[Finding],
    verdicts: &'a [Verdict],
) -> Vec<Option<&'a Verdict>> {
    let mut on = vec![None; findings.len()];
    for verdict in verdicts {
        if let Some(index) = verdict.finding.find(faults_and_places(findings))
            && let Some(place) = on.get_mut(index)
        {
            *place = Some(verdict);
        }
    }
    on
}

fn faults_and_places(findings: &[Finding]) -> impl Iterator<Item = (Fault, Option<&str>)> {
    findings
        .iter()
        .map(|finding| (finding.fault, finding.place.as_deref()))
}

/// The probability that the fault is there, after the verdict.
pub(super) fn confidence(measured: f64, verdict: Option<&Verdict>) -> f64 {
    match verdict.map(|verdict| &verdict.says) {
        Some(Says::NoFault) => 0.0,
        Some(Says::Causes(_)) => 1.0,
        None => measured,
    }
}

/// The causes after the verdict: one that is named is the one; several share all in their own ratio.
pub(super) fn settle(
    weighed: Weighed,
    verdict: Option<&Verdict>,
    catalogue: &Catalogue,
) -> Weighed {
    let Some(Says::Causes(named)) = verdict.map(|verdict| &verdict.says) else {
        return weighed;
    };
    let is_named = |index: usize| {
        let cause = catalogue.causes.get(index);
        cause.is_some_and(|cause| named.contains(&cause.id))
    };
    let mut causes: Vec<(usize, f64)> = weighed
        .causes
        .iter()
        .copied()
        .filter(|(index, _)| is_named(*index))
        .collect();
    if causes.is_empty() {
        // The maker names what the catalogue does not know as a cause of this fault: their word goes.
        let known = (0..catalogue.causes.len()).filter(|index| is_named(*index));
        causes = known.map(|index| (index, 1.0)).collect();
    }
    let sum: f64 = causes.iter().map(|(_, probability)| probability).sum();
    if sum <= 0.0 {
        return weighed;
    }
    for (_, probability) in &mut causes {
        *probability /= sum;
    }
    Weighed {
        causes,
        none_of_these: 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn says(text: &str, fault: Fault) -> Result<Says, Vec<String>> {
        Says::read(text, fault, &Catalogue::built_in().unwrap())
    }

    fn ids(says: Result<Says, Vec<String>>) -> Vec<String> {
        match says.unwrap() {
            Says::Causes(ids) => ids,
            Says::NoFault => panic!("no cause"),
        }
    }

    #[test]
    fn a_denial_settles_no_cause() {
        let close = says("not the collodion", Fault::Lifting).unwrap_err();
        assert!(!close.is_empty());
        let title = "The collodion had not set when the plate went into the bath";
        assert_eq!(ids(says(title, Fault::Lifting)), ["film_not_set"]);
    }

    #[test]
    fn a_verdict_names_a_cause_several_or_none() {
        assert_eq!(says("No fault", Fault::Stain), Ok(Says::NoFault));
        assert_eq!(says("not a fault", Fault::Stain), Ok(Says::NoFault));
        assert_eq!(
            ids(says("holder_cracked", Fault::EdgeFog)),
            ["holder_cracked"]
        );
        assert_eq!(
            ids(says("The silver bath has too little acid", Fault::Veil)),
            ["bath_short_of_acid"]
        );
        let holder = ids(says("it was the holder", Fault::EdgeFog));
        assert!(holder.len() > 1, "{holder:?}");
        assert!(holder.contains(&"holder_cracked".to_owned()));
        assert!(!holder.contains(&"drained_badly".to_owned()));
    }

    #[test]
    fn words_that_fit_nothing_bring_names_to_choose_from() {
        let close = says("it was the weather", Fault::EdgeFog).unwrap_err();
        assert_eq!(close.len(), MOST_NAMED);
        let catalogue = Catalogue::built_in().unwrap();
        for id in &close {
            let cause = catalogue.cause(id).unwrap();
            assert!(cause.faults.contains_key(&Fault::EdgeFog), "{id}");
        }
        let close = says("it was", Fault::Comets).unwrap_err();
        assert!(!close.is_empty() && close.len() <= MOST_NAMED);
    }
}
