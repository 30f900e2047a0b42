//! What was falsely found on clean plates.

use super::{Group, number, share, table};
use crate::findings::Fault;
use crate::practice::accuracy::shares::false_per_clean_plate;
use crate::practice::score::{Scored, ScoredFinding, Verdict};

pub(super) fn plates(plates: &[Scored]) -> String {
    let groups: [Group; 6] = [
        ("all clean plates", |_| true),
        ("scenes that look like fog", |p| p.bait),
        ("scenes with straight lines", |p| p.lines),
        ("scenes of little contrast", |p| p.pale),
        ("other pictures", |p| {
            p.kind == "picture" && !p.bait && !p.lines && !p.pale
        }),
        ("blank, flat and stepped plates", |p| p.kind != "picture"),
    ];
    let rows = groups
        .iter()
        .map(|(name, belongs)| {
            let clean: Vec<&Scored> = plates.iter().filter(|p| p.clean && belongs(p)).collect();
            let wrong = wrong(clean.iter().copied());
            let measured = wrong.iter().filter(|f| is_measured(f)).count();
            let without = clean
                .iter()
                .filter(|plate| plate.findings.iter().all(|f| f.verdict != Verdict::False))
                .count();
            let each = (!clean.is_empty()).then(|| wrong.len() as f64 / clean.len() as f64);
            vec![
                (*name).to_owned(),
                clean.len().to_string(),
                wrong.len().to_string(),
                measured.to_string(),
                number(each, 3),
                share(without, clean.len()),
            ]
        })
        .collect();
    table(
        "Clean plates",
        "",
        &[
            "plates",
            "count",
            "false findings",
            "of them `measured`",
            "a plate",
            "plates without any",
        ],
        rows,
    )
}

/// What clean plates were falsely said to have, whether the design planted such faults or not.
pub(super) fn by_fault(plates: &[Scored]) -> String {
    let wrong = wrong(plates.iter().filter(|plate| plate.clean));
    let rows: Vec<Vec<String>> = Fault::ALL
        .iter()
        .map(|fault| fault.name())
        .filter_map(|fault| {
            let of: Vec<_> = wrong.iter().filter(|f| f.fault == fault).collect();
            let measured = of.iter().filter(|f| is_measured(f)).count();
            (!of.is_empty()).then(|| {
                vec![
                    format!("`{fault}`"),
                    of.len().to_string(),
                    measured.to_string(),
                    number(false_per_clean_plate(plates, Some(fault)), 3),
                ]
            })
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    table(
        "False findings on clean plates, by fault",
        "",
        &["fault", "false findings", "of them `measured`", "a plate"],
        rows,
    )
}

fn wrong<'a>(clean: impl Iterator<Item = &'a Scored>) -> Vec<&'a ScoredFinding> {
    clean
        .flat_map(|plate| &plate.findings)
        .filter(|f| f.verdict == Verdict::False)
        .collect()
}

fn is_measured(finding: &ScoredFinding) -> bool {
    finding.standing.as_deref() == Some("measured")
}
