//! What was falsely found on clean plates.

use super::{Group, number, share, table};
use crate::findings::Fault;
use crate::practice::accuracy::shares::false_per_clean_plate;
use crate::practice::score::{Scored, Verdict};

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
            let wrong = |standing: Option<&str>| {
                clean
                    .iter()
                    .flat_map(|plate| &plate.findings)
                    .filter(|f| f.verdict == Verdict::False)
                    .filter(|f| standing.is_none() || f.standing.as_deref() == standing)
                    .count()
            };
            let without = clean
                .iter()
                .filter(|plate| plate.findings.iter().all(|f| f.verdict != Verdict::False))
                .count();
            let each = (!clean.is_empty()).then(|| wrong(None) as f64 / clean.len() as f64);
            vec![
                (*name).to_owned(),
                clean.len().to_string(),
                wrong(None).to_string(),
                wrong(Some("measured")).to_string(),
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
    let clean: Vec<&Scored> = plates.iter().filter(|plate| plate.clean).collect();
    let of = |fault: &str, standing: Option<&str>| {
        let findings = clean.iter().flat_map(|plate| &plate.findings);
        findings
            .filter(|f| f.verdict == Verdict::False && f.fault == fault)
            .filter(|f| standing.is_none() || f.standing.as_deref() == standing)
            .count()
    };
    let rows: Vec<Vec<String>> = Fault::ALL
        .iter()
        .map(|fault| fault.name())
        .filter(|fault| of(fault, None) > 0)
        .map(|fault| {
            vec![
                format!("`{fault}`"),
                of(fault, None).to_string(),
                of(fault, Some("measured")).to_string(),
                number(false_per_clean_plate(plates, Some(fault)), 3),
            ]
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
