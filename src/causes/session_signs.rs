//! What the plates of a session show together: alike from one bath, in one holder only, growing from plate
//! to plate.
//!
//! Worked out after all plates were read, from their findings alone. A plate speaks about a fault only when
//! it was looked for on it and could be told.

use super::evidence::PlateFacts;
use super::verdicts::{self, Says};
use crate::findings::{Fault, Finding, Sign, SignName};
use crate::handling::Handling;
use crate::units::Reading;

/// Other plates that must be able to show a fault before anything is said about its being shared. Our own
/// choice: with one other plate, chance alone would say it half of the time.
const FEWEST_OTHERS: usize = 2;

/// Plates in a row from which a growth is told: four in rising order come by chance once in 24. Our own
/// choice; the tests of this file would notice a change.
const FEWEST_IN_A_ROW: usize = 4;

/// Readings by which a finding is stronger than another of its fault, the first that it has, with their units.
/// Marks are counted by the area that was searched, since plates differ in size.
const STRENGTHS: [(&str, &str); 6] = [
    ("per_cm2", "a cm2"),
    ("fog_d", "D"),
    ("veil_d", "D"),
    ("contrast_d", "D"),
    ("range_d", "D"),
    ("area_fraction", "of the plate"),
];

/// What a plate shares with others of its session, as the maker told.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Shares {
    /// The silver bath.
    pub bath: Option<String>,
    /// The batch of collodion.
    pub collodion: Option<String>,
    /// The plate holder.
    pub holder: Option<String>,
}

/// One plate of a session.
#[derive(Debug, Clone, Copy)]
pub struct SessionPlate<'a> {
    /// The name it goes by.
    pub name: &'a str,
    /// Its findings.
    pub findings: &'a [Finding],
    /// What else is known of it.
    pub facts: &'a PlateFacts,
    /// How it was handled.
    pub handling: Option<&'a Handling>,
    /// What it shares with others.
    pub shares: &'a Shares,
    /// Faults that were looked for on it and could be told.
    pub could_show: &'a [Fault],
}

impl SessionPlate<'_> {
    /// The liquid by which plates belong together: the bath, else the collodion.
    pub(super) fn liquid(&self) -> Option<String> {
        let named = |what: &str, name: &Option<String>| {
            let name = name.as_ref()?;
            Some(format!("{what} {}", name.trim().to_lowercase()))
        };
        named("bath", &self.shares.bath).or_else(|| named("collodion", &self.shares.collodion))
    }

    fn liquid_words(&self) -> String {
        match (&self.shares.bath, &self.shares.collodion) {
            (Some(bath), _) => format!("from bath {bath}"),
            (None, Some(collodion)) => format!("of collodion {collodion}"),
            (None, None) => String::new(),
        }
    }

    /// The holder it was exposed in.
    pub(super) fn holder(&self) -> Option<String> {
        let holder = self.shares.holder.as_ref()?;
        Some(holder.trim().to_lowercase())
    }

    /// Findings that the maker has not refuted.
    pub(super) fn real(&self) -> impl Iterator<Item = &Finding> {
        let refuted = verdicts::on_each(self.findings, &self.facts.verdicts)
            .into_iter()
            .map(|verdict| verdict.is_some_and(|verdict| verdict.says == Says::NoFault));
        let findings = self.findings.iter().zip(refuted);
        findings
            .filter(|(_, refuted)| !refuted)
            .map(|(finding, _)| finding)
    }

    /// Its finding of the same fault at the same place.
    fn like(&self, other: &Finding) -> Option<&Finding> {
        self.real()
            .find(|own| own.fault == other.fault && own.place == other.place)
    }

    fn can_tell(&self, fault: Fault) -> bool {
        self.could_show.contains(&fault) || self.findings.iter().any(|own| own.fault == fault)
    }
}

/// Signs of each finding of each plate, in their orders, that follow from the other plates. The plates stand
/// in the order in which they were made.
pub fn session_signs(plates: &[SessionPlate]) -> Vec<Vec<Vec<Sign>>> {
    plates
        .iter()
        .enumerate()
        .map(|(index, plate)| {
            let findings = plate.findings.iter();
            findings
                .map(|finding| signs_of(index, finding, plates))
                .collect()
        })
        .collect()
}

fn signs_of(index: usize, finding: &Finding, plates: &[SessionPlate]) -> Vec<Sign> {
    let Some(plate) = plates.get(index) else {
        return Vec::new();
    };
    let is_real = plate.real().any(|real| real.id == finding.id);
    if !is_real {
        return Vec::new();
    }
    [
        alike(index, plate, finding, plates),
        one_holder(index, plate, finding, plates),
        grows(plate, finding, plates),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Other plates that could show the fault of a finding.
fn others<'a>(
    index: usize,
    finding: &Finding,
    plates: &'a [SessionPlate<'a>],
) -> impl Iterator<Item = &'a SessionPlate<'a>> {
    let fault = finding.fault;
    plates
        .iter()
        .enumerate()
        .filter(move |(other, plate)| *other != index && plate.can_tell(fault))
        .map(|(_, plate)| plate)
}

fn there(finding: &Finding) -> &'static str {
    match finding.place {
        Some(_) => "at the same place",
        None => "too",
    }
}

/// Most plates from the same liquid show it, or none of the others does.
fn alike(
    index: usize,
    plate: &SessionPlate,
    finding: &Finding,
    plates: &[SessionPlate],
) -> Option<Sign> {
    let liquid = plate.liquid()?;
    let mates: Vec<_> = others(index, finding, plates)
        .filter(|other| other.liquid().as_ref() == Some(&liquid))
        .collect();
    if mates.len() < FEWEST_OTHERS {
        return None;
    }
    let (all, from) = (mates.len() + 1, plate.liquid_words());
    let showing = 1 + mates.iter().filter(|m| m.like(finding).is_some()).count();
    let there = there(finding);
    if showing == 1 {
        let words = format!("none of the {} other plates {from} shows it", mates.len());
        return Some(Sign::absent(SignName::SessionAlike, words));
    }
    (2 * showing > all).then(|| {
        let words = format!("{showing} of {all} plates {from} show it {there}");
        Sign::seen(SignName::SessionAlike, words)
    })
}

/// It shows on plates of one holder and not on those of others, or on those of others as well.
fn one_holder(
    index: usize,
    plate: &SessionPlate,
    finding: &Finding,
    plates: &[SessionPlate],
) -> Option<Sign> {
    let holder = plate.holder()?;
    let name = plate.shares.holder.as_deref().unwrap_or_default().trim();
    let (same, other): (Vec<_>, Vec<_>) = others(index, finding, plates)
        .filter(|other| other.shares.holder.is_some())
        .partition(|other| other.holder().as_ref() == Some(&holder));
    let showing = |plates: &[&SessionPlate]| {
        let like = plates.iter().filter(|other| other.like(finding).is_some());
        like.count()
    };
    let there = there(finding);
    if other.len() < FEWEST_OTHERS {
        return None;
    }
    match (showing(&other), showing(&same)) {
        (0, 0) => None,
        (0, again) => {
            let words = format!(
                "{} of {} plates from holder {name} show it, none of {} from other holders",
                again + 1,
                same.len() + 1,
                other.len()
            );
            Some(Sign::seen(SignName::SameHolderOnly, words))
        }
        (elsewhere, _) => {
            let words = format!(
                "{elsewhere} of {} plates from other holders than {name} show it {there}",
                other.len()
            );
            Some(Sign::absent(SignName::SameHolderOnly, words))
        }
    }
}

/// Of the plates from one liquid that could show it, from the first that does and in the order in which they
/// were made, each is worse than the one before, and the last by more than the readings are unsure of; or the
/// last is no worse than the first. A plate between them without the fault is no worse than any.
fn grows(plate: &SessionPlate, finding: &Finding, plates: &[SessionPlate]) -> Option<Sign> {
    let liquid = plate.liquid()?;
    let of_liquid = plates
        .iter()
        .filter(|other| other.liquid().as_ref() == Some(&liquid) && other.can_tell(finding.fault));
    let found: Vec<Option<&Finding>> = of_liquid.map(|other| other.like(finding)).collect();
    let first_seen = found.iter().position(Option::is_some)?;
    let (name, unit) = *STRENGTHS
        .iter()
        .find(|(name, _)| finding.reading(name).is_some())?;
    let clean = Reading::new(0.0, 0.0);
    // Plates can be ranked only by one and the same reading.
    let strengths: Vec<&Reading> = found[first_seen..]
        .iter()
        .map(|found| match found {
            None => Some(&clean),
            Some(like) => like.reading(name).filter(|r| r.value.is_finite()),
        })
        .collect::<Option<_>>()?;
    if found.iter().flatten().count() < FEWEST_IN_A_ROW {
        return None;
    }
    let (first, last) = (strengths.first()?, strengths.last()?);
    let count = strengths.len();
    let from = plate.liquid_words();
    let in_numbers = format!(
        "{:.2} {unit} on the first, {:.2} {unit} on the last",
        first.value, last.value
    );
    let rises = strengths
        .windows(2)
        .all(|pair| pair[1].value > pair[0].value);
    if rises && last.value - first.value > first.u.hypot(last.u) {
        let words = format!(
            "it is worse on each of {count} plates {from} than on the one before ({in_numbers})"
        );
        Some(Sign::seen(SignName::GrowsEachPlate, words))
    } else if last.value <= first.value {
        let words = format!("it does not grow over {count} plates {from} ({in_numbers})");
        Some(Sign::absent(SignName::GrowsEachPlate, words))
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::causes::made;
    use crate::causes::verdicts::Verdict;
    use crate::findings::FindingName;

    struct Made {
        findings: Vec<Finding>,
        facts: PlateFacts,
        shares: Shares,
    }

    fn plate(bath: &str, holder: &str, fog_d: Option<f64>) -> Made {
        let findings = fog_d.map(|fog_d| {
            let mut finding = made::finding(Fault::EdgeFog, Some("left"));
            finding.measured = vec![("fog_d", Reading::new(fog_d, 0.01))];
            finding
        });
        let named = |name: &str| (!name.is_empty()).then(|| name.to_owned());
        Made {
            findings: findings.into_iter().collect(),
            facts: made::facts(),
            shares: Shares {
                bath: named(bath),
                holder: named(holder),
                ..Shares::default()
            },
        }
    }

    /// The signs of the first finding of the first plate that has one.
    fn signs(made: &[Made]) -> Vec<(SignName, bool, String)> {
        let plates: Vec<SessionPlate> = made
            .iter()
            .map(|made| SessionPlate {
                name: "p",
                findings: &made.findings,
                facts: &made.facts,
                handling: None,
                shares: &made.shares,
                could_show: &[Fault::EdgeFog],
            })
            .collect();
        session_signs(&plates)
            .into_iter()
            .flatten()
            .next()
            .unwrap_or_default()
            .into_iter()
            .map(|sign| (sign.name, sign.holds, sign.words))
            .collect()
    }

    #[test]
    fn most_plates_from_one_bath_make_it_shared() {
        let fog = Some(0.2);
        let said = signs(&[
            plate("A", "", fog),
            plate("a ", "", fog),
            plate("A", "", None),
        ]);
        assert_eq!(
            said,
            [(
                SignName::SessionAlike,
                true,
                "2 of 3 plates from bath A show it at the same place".to_owned()
            )]
        );
        // Half is not most; two plates are no session; other baths do not count.
        let half = [
            plate("A", "", fog),
            plate("A", "", fog),
            plate("A", "", None),
            plate("A", "", None),
        ];
        assert!(signs(&half).is_empty());
        assert!(signs(&[plate("A", "", fog), plate("A", "", fog)]).is_empty());
        let baths = [
            plate("A", "", fog),
            plate("B", "", fog),
            plate("B", "", fog),
        ];
        assert!(signs(&baths).is_empty());
        assert!(signs(&[plate("", "", fog), plate("", "", fog), plate("", "", fog)]).is_empty());
        let alone = [
            plate("A", "", fog),
            plate("A", "", None),
            plate("A", "", None),
        ];
        let (name, holds, _) = &signs(&alone)[0];
        assert_eq!((*name, *holds), (SignName::SessionAlike, false));
    }

    #[test]
    fn what_the_maker_refuted_does_not_count() {
        let fog = Some(0.2);
        let mut plates = [
            plate("A", "", fog),
            plate("A", "", fog),
            plate("A", "", None),
        ];
        plates[1].facts.verdicts = vec![Verdict {
            finding: FindingName::read("edge fog left").unwrap(),
            says: Says::NoFault,
            written: "edge fog left: no fault".into(),
        }];
        let (name, holds, _) = &signs(&plates)[0];
        assert_eq!((*name, *holds), (SignName::SessionAlike, false));
    }

    #[test]
    fn one_holder_is_told_from_the_others() {
        let fog = Some(0.2);
        let only = [
            plate("", "2", fog),
            plate("", "2", fog),
            plate("", "1", None),
            plate("", "1", None),
        ];
        let (name, holds, words) = &signs(&only)[0];
        assert_eq!((*name, *holds), (SignName::SameHolderOnly, true));
        assert_eq!(
            words,
            "2 of 2 plates from holder 2 show it, none of 2 from other holders"
        );
        let also = [
            plate("", "2", fog),
            plate("", "1", fog),
            plate("", "1", None),
        ];
        let (name, holds, _) = &signs(&also)[0];
        assert_eq!((*name, *holds), (SignName::SameHolderOnly, false));
        // Seen once in this holder and never elsewhere: that may be an accident.
        let once = [
            plate("", "2", fog),
            plate("", "1", None),
            plate("", "1", None),
        ];
        assert!(signs(&once).is_empty());
    }

    #[test]
    fn growth_takes_four_plates_in_order() {
        let growing = |strengths: &[f64]| {
            let plates: Vec<Made> = strengths
                .iter()
                .map(|fog_d| plate("A", "", Some(*fog_d)))
                .collect();
            let signs = signs(&plates).into_iter();
            signs
                .filter(|(name, _, _)| *name == SignName::GrowsEachPlate)
                .map(|(_, holds, words)| (holds, words))
                .next()
        };
        let (holds, words) = growing(&[0.1, 0.15, 0.2, 0.3]).unwrap();
        assert!(holds);
        assert!(
            words.contains("(0.10 D on the first, 0.30 D on the last)"),
            "{words}"
        );
        assert_eq!(growing(&[0.1, 0.15, 0.2]), None);
        assert_eq!(growing(&[0.1, 0.2, 0.15, 0.3]), None);
        assert!(!growing(&[0.3, 0.2, 0.4, 0.3]).unwrap().0);
        // Each reading is unsure by 0.01 D, so a rise of 0.012 D may be none.
        assert_eq!(growing(&[0.1, 0.104, 0.108, 0.112]), None);
    }

    #[test]
    fn a_clean_plate_between_breaks_the_growth() {
        let with_clean = |strengths: &[Option<f64>]| {
            let plates: Vec<Made> = strengths
                .iter()
                .map(|fog_d| plate("A", "", *fog_d))
                .collect();
            let said = signs(&plates);
            said.iter()
                .find(|(name, _, _)| *name == SignName::GrowsEachPlate)
                .map(|(_, holds, _)| *holds)
        };
        let fog = [0.1, 0.15, 0.2, 0.3].map(Some);
        let [a, b, c, d] = fog;
        // Clean before the first is where a growth begins.
        assert_eq!(with_clean(&[None, a, b, c, d]), Some(true));
        assert_eq!(with_clean(&[a, b, None, c, d]), None);
        assert_eq!(with_clean(&[a, b, c, d, None]), Some(false));
    }

    #[test]
    fn marks_are_counted_by_their_area() {
        // A large plate with more marks, but no more to the square centimetre.
        let pinholes = |per_cm2: f64, count: usize| {
            let mut made = plate("A", "", None);
            let mut finding = made::finding(Fault::Pinholes, None);
            finding.measured = vec![
                ("count", Reading::new(count as f64, 2.0)),
                ("per_cm2", Reading::new(per_cm2, 0.05)),
            ];
            made.findings = vec![finding];
            made
        };
        let said = signs(&[
            pinholes(0.5, 20),
            pinholes(0.5, 40),
            pinholes(0.4, 60),
            pinholes(0.5, 80),
        ]);
        let grows = said
            .iter()
            .find(|(name, _, _)| *name == SignName::GrowsEachPlate);
        assert!(!grows.unwrap().1, "{said:?}");
    }
}
