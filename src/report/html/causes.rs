//! Likely causes, what is left beside them, and the check to make next.

use serde::Serialize;
use serde_json::{Value, json};

use crate::causes::{LikelyCause, NextCheck, Rest, Side};
use crate::report::{Report, words};

/// Probability from which a cause stands out: less, and what to try for it would be tried in vain four times in five.
/// Our own choice.
const STANDS_OUT: f64 = 0.2;

/// A cause as the page shows it.
#[derive(Serialize)]
pub(in crate::report) struct CauseView {
    title: String,
    side: &'static str,
    per_cent: String,
    bar: f64,
    /// Whether it is likely enough to be shown unfolded.
    stands_out: bool,
    because: Vec<String>,
    against: Vec<String>,
    remedy: String,
    check_next: String,
    check: String,
    cautions: Vec<String>,
    sources: Vec<String>,
}

/// Puts causes into words, in their order.
pub(in crate::report) fn views(causes: &[LikelyCause]) -> Vec<CauseView> {
    causes
        .iter()
        .map(|cause| CauseView {
            title: cause.title.clone(),
            side: match cause.side {
                Side::Chemistry => "chemistry",
                Side::Handling => "handling",
                Side::Equipment => "equipment",
                Side::Scan => "the scan",
            },
            per_cent: words::per_cent(cause.probability),
            bar: (cause.probability.clamp(0.0, 1.0) * 1000.0).round() / 10.0,
            stands_out: cause.probability >= STANDS_OUT,
            because: cause.because.clone(),
            against: cause.against.clone(),
            remedy: words::sentence(&cause.remedy),
            check_next: words::sentence(&cause.check_next),
            check: cause.check.clone(),
            cautions: cause.cautions.clone(),
            sources: cause.sources.clone(),
        })
        .collect()
}

/// What is left beside the named causes, in words.
pub(super) fn rest(rest: Rest) -> String {
    let none = format!("none of these {}", words::per_cent(rest.none_of_these));
    if rest.other_causes < 0.005 {
        return words::capitalised(&none);
    }
    format!(
        "Other causes {}, {none}",
        words::per_cent(rest.other_causes)
    )
}

/// The check that tells most for its time, and which of the causes it speaks to.
pub(in crate::report) fn check_next(
    next: Option<&NextCheck>,
    causes: &[LikelyCause],
) -> Option<Value> {
    let next = next?;
    let causes: Vec<String> = causes
        .iter()
        .filter(|cause| next.for_causes.contains(&cause.cause))
        .map(|cause| words::lowered(&cause.title))
        .collect();
    Some(json!({
        "check": words::sentence(&next.words),
        "name": next.check,
        "yes": words::lowered(&next.yes),
        "minutes": words::minutes(next.minutes),
        "silver": (next.silver_g >= 0.05).then(|| words::decimal(next.silver_g, 1)),
        "causes": causes,
        "cautions": next.cautions,
    }))
}

/// The cautions of all causes on the page, each once: on paper they stand together.
pub(super) fn all_cautions(report: &Report) -> Vec<&str> {
    let of_findings = report.findings.iter().flat_map(|finding| &finding.causes);
    let mut cautions: Vec<&str> = Vec::new();
    for caution in of_findings.flat_map(|cause| &cause.cautions) {
        if !cautions.contains(&caution.as_str()) {
            cautions.push(caution);
        }
    }
    cautions
}
