//! What the maker told comes into a finished report: their row of the sheet, their verdicts, and causes
//! weighed anew with what the session shows.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::assemble::{rounded_causes, rounded_check, rounded_rest};
use super::{Report, ReportedFinding};
use crate::causes::{Ranked, Says};
use crate::findings::{Fault, Finding, Standing};
use crate::sheet::Told;

/// What the maker found a finding to be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReportedVerdict {
    /// No fault, or the work of a cause.
    pub says: VerdictWord,
    /// Causes that the verdict names, by their names in the catalogue; mostly one.
    pub causes: Vec<String>,
    /// The maker's words.
    pub written: String,
    /// The finding's confidence before the verdict.
    pub confidence_before: f64,
    /// The finding's standing before the verdict.
    pub standing_before: Standing,
}

/// The two kinds of verdicts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum VerdictWord {
    NoFault,
    Cause,
}

impl ReportedFinding {
    /// Whether the maker calls it no fault. It stays in the report and counts for nothing.
    pub fn refuted(&self) -> bool {
        let verdict = self.verdict.as_ref();
        verdict.is_some_and(|verdict| verdict.says == VerdictWord::NoFault)
    }
}

impl Report {
    /// The report with what the maker told beside the handling. A verdict of no fault sets a finding's
    /// confidence to 0 and its standing to suggested; one that names a cause sets its confidence to 1. Both
    /// are kept as they were within the verdict. A verdict that fits no finding becomes a warning.
    pub fn told(mut self, told: &Told) -> Report {
        self.maker.clone_from(&told.record);
        for (at, verdict) in told.verdicts.iter().enumerate() {
            let found = verdict.finding.find(faults_and_places(&self.findings));
            let finding = found.and_then(|index| self.findings.get_mut(index));
            let Some(finding) = finding else {
                self.scan
                    .warnings
                    .push(unfitting(&verdict.written, &self.findings));
                continue;
            };
            let written = self
                .maker
                .as_mut()
                .and_then(|maker| maker.verdicts.get_mut(at));
            if let Some(written) = written {
                written.finding = Some(finding.id.clone());
            }
            let (says, causes) = match &verdict.says {
                Says::NoFault => (VerdictWord::NoFault, Vec::new()),
                Says::Causes(causes) => (VerdictWord::Cause, causes.clone()),
            };
            finding.verdict = Some(ReportedVerdict {
                says,
                causes,
                written: verdict.written.clone(),
                confidence_before: finding.confidence,
                standing_before: finding.standing,
            });
            match says {
                VerdictWord::NoFault => {
                    finding.confidence = 0.0;
                    finding.standing = Standing::Suggested;
                }
                VerdictWord::Cause => finding.confidence = 1.0,
            }
        }
        self
    }

    /// Puts causes that were weighed anew in place of the former ones, and the signs that moved them.
    /// `findings` are those that the report was put together from, in their order.
    pub fn reweigh(&mut self, findings: &[Finding], ranked: Ranked) {
        let causes = ranked.per_finding.into_iter().zip(ranked.rest);
        for ((own, finding), (causes, rest)) in self.findings.iter_mut().zip(findings).zip(causes) {
            own.signs.clone_from(&finding.signs);
            own.causes = rounded_causes(causes);
            own.rest = Some(rounded_rest(rest));
        }
        self.plate_causes = rounded_causes(ranked.plate);
        self.check_next = ranked.check_next.map(rounded_check);
    }

    /// Faults that were looked for on this plate and could be told.
    pub fn could_show(&self) -> Vec<Fault> {
        let untold = |fault: &Fault| self.cannot_tell.iter().any(|entry| entry.fault == *fault);
        let looked_for = self.looked_for.iter().copied();
        looked_for.filter(|fault| !untold(fault)).collect()
    }
}

fn faults_and_places(findings: &[ReportedFinding]) -> impl Iterator<Item = (Fault, Option<&str>)> {
    findings
        .iter()
        .map(|finding| (finding.fault, finding.place.as_deref()))
}

fn unfitting(written: &str, findings: &[ReportedFinding]) -> String {
    let names: Vec<&str> = findings
        .iter()
        .map(|finding| finding.name.as_str())
        .collect();
    let has = match names.is_empty() {
        true => "it has none".to_owned(),
        false => format!("they are called {}", names.join(", ")),
    };
    format!(
        "The verdict \u{201c}{written}\u{201d} in the sheet fits none of the findings of this plate, so it was not used; {has}."
    )
}
