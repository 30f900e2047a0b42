//! The causes at work over a session, and the one check to make next for all its plates.

use super::catalogue::Catalogue;
use super::rank::{WeighedPlate, Witnesses, ask_what_is_open, at_work, entry, noisy_or, settled};
use super::session_signs::SessionPlate;
use super::{LikelyCause, NextCheck, Side, next_check, notes};

/// Plates that are named in a sentence; of more, their number.
const MOST_NAMED: usize = 4;

/// Reasons given for and against a cause, one a plate.
const MOST_REASONS: usize = 3;

/// The causes of a session's findings, weighed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SessionRanked {
    /// Causes at work over the session, most likely first. Several may be at work at once, so these do
    /// not sum to one.
    pub causes: Vec<LikelyCause>,
    /// The check that tells most for its cost over all plates.
    pub check_next: Option<NextCheck>,
}

/// Weighs the causes at work over the plates of a session.
///
/// Noisy-OR over faults and witnesses: `1 - product of (1 - p)`. Plates that show the same fault are one
/// witness for a cause, the strongest of them, where one and the same thing would be behind them all: one
/// bath for a cause in the chemistry, one holder for one in the equipment, and always for the hand and the
/// scan; counting each plate would turn one guess made ten times into certainty. That many plates share a
/// fault speaks through the sign `session_alike` instead. Plates of which no bath or holder is told count as
/// from one.
pub fn rank_session(plates: &[SessionPlate], catalogue: &Catalogue) -> SessionRanked {
    let weighed: Vec<WeighedPlate> = plates
        .iter()
        .map(|plate| WeighedPlate::of(plate.findings, plate.facts, plate.handling, catalogue))
        .collect();
    let at_work = over_witnesses(plates, &weighed, catalogue);
    let leading: Vec<usize> = at_work
        .iter()
        .take(catalogue.weights.listed_causes)
        .map(|(index, _)| *index)
        .collect();
    let settled = settled_for_all(plates, catalogue);
    let all: Vec<_> = weighed
        .iter()
        .flat_map(|plate| plate.weighed.iter().cloned())
        .collect();
    let check_next = plates.first().and_then(|first| {
        next_check::choose(&all, &leading, first.facts.size_mm, &settled, catalogue)
    });
    let causes = at_work
        .iter()
        .take(catalogue.weights.listed_causes)
        .filter_map(|(index, probability)| {
            let mut cause = over_plates(*index, *probability, plates, &weighed, catalogue)?;
            ask_what_is_open(&mut cause, &settled, catalogue);
            Some(cause)
        })
        .collect();
    SessionRanked { causes, check_next }
}

/// Chances of the causes in each witness by itself, joined.
fn over_witnesses(
    plates: &[SessionPlate],
    weighed: &[WeighedPlate],
    catalogue: &Catalogue,
) -> Vec<(usize, f64)> {
    let by_side = Side::ALL.map(|side| (side, in_each_witness(side, plates, weighed, catalogue)));
    let mut causes: Vec<(usize, f64)> = catalogue
        .causes
        .iter()
        .enumerate()
        .map(|(index, cause)| {
            let of_side = by_side.iter().filter(|(side, _)| *side == cause.side);
            let chances = of_side.flat_map(|(_, witnesses)| witnesses.iter().flatten());
            let own = chances.filter(|(other, _)| *other == index);
            (index, noisy_or(own.map(|(_, probability)| *probability)))
        })
        .filter(|(_, probability)| *probability > 0.0)
        .collect();
    causes.sort_by(|a, b| b.1.total_cmp(&a.1));
    causes
}

/// The chances in each group of plates that are one witness for the causes of one side: those from one liquid
/// for the chemistry, those of one holder for the equipment; one and the same hand and scanner had them all.
fn in_each_witness(
    side: Side,
    plates: &[SessionPlate],
    weighed: &[WeighedPlate],
    catalogue: &Catalogue,
) -> Vec<Vec<(usize, f64)>> {
    let mut groups: Vec<(Option<String>, Vec<Witnesses>)> = Vec::new();
    for (plate, weighed) in plates.iter().zip(weighed) {
        let witnesses = (plate.findings, weighed.weighed.as_slice());
        let key = match side {
            Side::Chemistry => plate.liquid(),
            Side::Equipment => plate.holder(),
            Side::Handling | Side::Scan => None,
        };
        match groups.iter_mut().find(|(known, _)| *known == key) {
            Some((_, group)) => group.push(witnesses),
            None => groups.push((key, vec![witnesses])),
        }
    }
    let groups = groups.iter();
    groups.map(|(_, group)| at_work(group, catalogue)).collect()
}

/// Checks that need no asking: the maker made them on some plate, or every plate's own signs answer them.
fn settled_for_all<'a>(plates: &[SessionPlate], catalogue: &'a Catalogue) -> Vec<&'a str> {
    let shown: Vec<Vec<&str>> = plates
        .iter()
        .filter(|plate| !plate.findings.is_empty())
        .map(|plate| settled(plate.findings, plate.facts, catalogue))
        .collect();
    let told = |name: &str| {
        let mut answers = plates.iter().flat_map(|plate| &plate.facts.answers);
        answers.any(|answer| answer.check == name)
    };
    let by_all = |name: &str| !shown.is_empty() && shown.iter().all(|own| own.contains(&name));
    let names = catalogue.checks.keys().map(String::as_str);
    names.filter(|name| told(name) || by_all(name)).collect()
}

/// One cause in the session's table: on which plates it may be, and the reasons of those where it is
/// likeliest.
fn over_plates(
    index: usize,
    probability: f64,
    plates: &[SessionPlate],
    weighed: &[WeighedPlate],
    catalogue: &Catalogue,
) -> Option<LikelyCause> {
    let cause = catalogue.causes.get(index)?;
    let mut on: Vec<&str> = Vec::new();
    // Chance, and the sentences for and against, one a plate.
    let mut reasons: Vec<(f64, Option<String>, Option<String>)> = Vec::new();
    for (plate, weighed) in plates.iter().zip(weighed) {
        let own = |at: usize| {
            let (confidence, weighed) = weighed.weighed.get(at)?;
            let causes = weighed.causes.iter();
            let (_, probability) = causes.into_iter().find(|(own, _)| *own == index)?;
            Some(confidence * probability).filter(|chance| *chance > 0.0)
        };
        let strongest = (0..plate.findings.len())
            .filter_map(|at| Some((at, own(at)?)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let Some((at, chance)) = strongest else {
            continue;
        };
        on.push(plate.name);
        let (Some(finding), Some(evidence)) = (plate.findings.get(at), weighed.evidence.get(at))
        else {
            continue;
        };
        let (because, against) = notes::reasons(cause, finding.fault, evidence, catalogue);
        let titled = |words: &String| format!("{}: {words}", plate.name);
        // The last reason for a cause is how often the trade names it, which says nothing of a plate.
        let own = because.split_last().and_then(|(_, own)| own.first());
        reasons.push((chance, own.map(titled), against.first().map(titled)));
    }
    reasons.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut because = vec![where_it_may_be(&on, plates.len())];
    because.extend(
        reasons
            .iter()
            .filter_map(|(_, because, _)| because.clone())
            .take(MOST_REASONS),
    );
    let against = reasons
        .iter()
        .filter_map(|(_, _, against)| against.clone())
        .take(MOST_REASONS)
        .collect();
    Some(entry(cause, probability, because, against, catalogue))
}

fn where_it_may_be(on: &[&str], plates: usize) -> String {
    match on.len() {
        all if all == plates => format!("all {plates} plates show a fault that it can make"),
        1 => format!(
            "one of {plates} plates shows a fault that it can make: {}",
            on[0]
        ),
        few if few <= MOST_NAMED => format!(
            "{few} of {plates} plates show a fault that it can make: {}",
            on.join(", ")
        ),
        many => format!("{many} of {plates} plates show a fault that it can make"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::{PlateFacts, Shares};
    use crate::causes::{made, rank};
    use crate::findings::{Fault, Finding};

    fn shares(bath: &str) -> Shares {
        Shares {
            bath: Some(bath.to_owned()),
            ..Shares::default()
        }
    }

    fn ranked(plates: &[(&[Finding], &str)]) -> SessionRanked {
        let catalogue = Catalogue::built_in().unwrap();
        let facts = made::facts();
        let shares: Vec<Shares> = plates.iter().map(|(_, bath)| shares(bath)).collect();
        let plates: Vec<SessionPlate> = plates
            .iter()
            .zip(&shares)
            .map(|((findings, _), shares)| SessionPlate {
                name: "p",
                findings,
                facts: &facts,
                handling: None,
                shares,
                could_show: &[],
            })
            .collect();
        rank_session(&plates, &catalogue)
    }

    fn of(causes: &[LikelyCause], id: &str) -> f64 {
        let cause = causes.iter().find(|cause| cause.cause == id);
        cause.map_or(0.0, |cause| cause.probability)
    }

    #[test]
    fn one_plate_is_its_own_session() {
        let findings = [
            made::finding(Fault::Veil, None),
            made::finding(Fault::EdgeFog, Some("left")),
        ];
        let alone = rank(
            &findings,
            &made::facts(),
            None,
            &Catalogue::built_in().unwrap(),
        );
        let session = ranked(&[(&findings, "A")]);
        assert_eq!(session.check_next, alone.check_next);
        for (one, other) in session.causes.iter().zip(&alone.plate) {
            assert_eq!(one.cause, other.cause);
            assert!((one.probability - other.probability).abs() < 1e-12);
        }
        assert!(ranked(&[]).causes.is_empty());
        assert_eq!(ranked(&[(&[], "A")]), SessionRanked::default());
    }

    /// By hand: the same fault on two plates from one bath is one witness, p; from two baths it is two for
    /// what is in the bath, 1 - (1 - p)^2, and one for the hand; other faults from the same bath are joined:
    /// 1 - (1 - p)(1 - q).
    #[test]
    fn witnesses_are_joined_over_baths_and_faults() {
        let veil = [made::finding(Fault::Veil, None)];
        let fog = [made::finding(Fault::EdgeFog, Some("left"))];
        let alone = ranked(&[(&veil, "A")]);
        let of_side = |causes: &[LikelyCause], sides: &[Side]| {
            let mut causes = causes.iter();
            causes
                .find(|cause| sides.contains(&cause.side))
                .unwrap()
                .clone()
        };
        let first = of_side(&alone.causes, &[Side::Chemistry]).cause;
        let p = of(&alone.causes, &first);
        let one_bath = ranked(&[(&veil, "A"), (&veil, "a")]);
        assert!((of(&one_bath.causes, &first) - p).abs() < 1e-12);
        let two_baths = ranked(&[(&veil, "A"), (&veil, "B")]);
        let joined = 1.0 - (1.0 - p) * (1.0 - p);
        assert!((of(&two_baths.causes, &first) - joined).abs() < 1e-12);
        let fogged = ranked(&[(&fog, "A")]).causes;
        let one = of_side(&fogged, &[Side::Handling, Side::Scan]);
        let two_baths = ranked(&[(&fog, "A"), (&fog, "B")]).causes;
        assert!((of(&two_baths, &one.cause) - one.probability).abs() < 1e-12);
        let shared = "bath_foul";
        let catalogue = Catalogue::built_in().unwrap();
        let full = |findings: &[Finding]| {
            let plate = WeighedPlate::of(findings, &FACTS, None, &catalogue);
            let (_, weighed) = &plate.weighed[0];
            let causes = weighed.causes.iter();
            let index = catalogue
                .causes
                .iter()
                .position(|c| c.id == shared)
                .unwrap();
            causes.into_iter().find(|(own, _)| *own == index).unwrap().1
        };
        let (p, q) = (full(&veil), full(&fog));
        let both = chance_of(&[&veil, &fog], shared);
        assert!((both - (1.0 - (1.0 - p) * (1.0 - q))).abs() < 1e-12);
    }

    static FACTS: std::sync::LazyLock<PlateFacts> = std::sync::LazyLock::new(made::facts);

    fn chance_of(plates: &[&[Finding]], id: &str) -> f64 {
        let catalogue = Catalogue::built_in().unwrap();
        let shares = shares("A");
        let plates: Vec<SessionPlate> = plates
            .iter()
            .map(|findings| SessionPlate {
                name: "p",
                findings,
                facts: &FACTS,
                handling: None,
                shares: &shares,
                could_show: &[],
            })
            .collect();
        let weighed: Vec<WeighedPlate> = plates
            .iter()
            .map(|plate| WeighedPlate::of(plate.findings, plate.facts, None, &catalogue))
            .collect();
        let index = catalogue.causes.iter().position(|c| c.id == id).unwrap();
        over_witnesses(&plates, &weighed, &catalogue)
            .into_iter()
            .find(|(own, _)| *own == index)
            .unwrap()
            .1
    }

    #[test]
    fn the_reasons_name_the_plates() {
        let veil = [made::finding(Fault::Veil, None)];
        let session = ranked(&[(&veil, "A"), (&[], "A"), (&veil, "A")]);
        assert!(
            session.causes[0].because[0]
                .starts_with("2 of 3 plates show a fault that it can make: p, p")
        );
        assert!(session.check_next.is_some());
    }
}
