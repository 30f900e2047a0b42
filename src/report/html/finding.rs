//! One finding: its numbers, its marks, what the plate shows for it, its causes.

use serde::Serialize;

use super::causes::{self, CauseView};
use super::number::NumberView;
use crate::findings::{Fault, Standing};
use crate::report::plate_map::{DrawnFinding, MOST_DRAWN};
use crate::report::{ReportedFinding, VerdictWord, shape_figures, words};

/// A finding as the page shows it.
#[derive(Serialize)]
pub(super) struct FindingView {
    number: usize,
    pub(super) fault: &'static str,
    pub(super) fault_name: &'static str,
    title: String,
    /// What the maker calls it by, and what they found it to be.
    name: String,
    verdict: Option<String>,
    refuted: bool,
    long: &'static str,
    severity: &'static str,
    severity_short: &'static str,
    rank: usize,
    certainty: String,
    certainty_word: &'static str,
    standing: &'static str,
    suggested: bool,
    by_chance: Option<String>,
    svg: String,
    tag: [f64; 2],
    crop: Option<String>,
    numbers: Vec<NumberView>,
    marks: Option<MarksView>,
    /// Which way tails point; how large marks are; how many of them are drawn.
    pub(super) rose: Option<String>,
    pub(super) sizes: Option<String>,
    /// What stands over it.
    pub(super) sizes_title: &'static str,
    /// Silver across bands, and what stands over it.
    pub(super) across: Option<String>,
    across_title: String,
    across_of: &'static str,
    across_each: &'static str,
    /// Lines of like silver.
    pub(super) pour_map: Option<String>,
    drawn: Option<String>,
    /// What was seen that bears on its causes, then what was not.
    signs: Vec<String>,
    causes: Vec<CauseView>,
    rest: Option<String>,
    doubts: Vec<&'static str>,
}

#[derive(Serialize)]
struct MarksView {
    count: usize,
    head: Vec<&'static str>,
    rows: Vec<Vec<String>>,
    more: usize,
}

/// Puts a finding into words.
pub(super) fn view(number: usize, finding: &ReportedFinding, drawn: &DrawnFinding) -> FindingView {
    let signs = |holds: bool| {
        let signs = finding.signs.iter().filter(move |sign| sign.holds == holds);
        signs.map(|sign| sign.words.clone())
    };
    FindingView {
        number,
        fault: finding.fault.name(),
        fault_name: finding.fault.short(),
        title: finding.title.clone(),
        name: finding.name.clone(),
        verdict: verdict(finding),
        refuted: finding.refuted(),
        long: finding.fault.long(),
        severity: words::severity(finding.severity),
        severity_short: words::severity_short(finding.severity),
        rank: words::severity_rank(finding.severity),
        certainty: words::in_hundred(finding.confidence),
        certainty_word: words::certainty(finding.confidence),
        standing: words::standing(finding.standing),
        suggested: finding.standing == Standing::Suggested,
        by_chance: words::by_chance(finding.expected_false_alarms),
        svg: drawn.svg.clone(),
        tag: drawn.tag.map(f64::round),
        crop: drawn
            .crop
            .map(|[x, y, w, h]| format!("{x:.1} {y:.1} {w:.1} {h:.1}")),
        numbers: numbers(finding),
        marks: marks(finding),
        rose: None,
        sizes: None,
        sizes_title: match finding.fault {
            Fault::Streaks | Fault::Ridges => "How wide the bands are",
            Fault::Scratch => "How wide the scratches are",
            _ => "How large the marks are",
        },
        across: None,
        across_title: format!(
            "Silver across {}",
            shape_figures::bands_words(finding.fault)[0]
        ),
        across_of: shape_figures::bands_words(finding.fault)[0],
        across_each: shape_figures::bands_words(finding.fault)[1],
        pour_map: None,
        drawn: drawn_words(finding),
        signs: [true, false].into_iter().flat_map(signs).collect(),
        rest: finding
            .rest
            .filter(|_| !finding.causes.is_empty())
            .map(causes::rest),
        causes: causes::views(&finding.causes),
        doubts: finding.doubts.iter().map(|doubt| doubt.short()).collect(),
    }
}

/// What the maker found it to be, and what became of it.
fn verdict(finding: &ReportedFinding) -> Option<String> {
    let verdict = finding.verdict.as_ref()?;
    let before = words::in_hundred(verdict.confidence_before);
    let became = match verdict.says {
        VerdictWord::NoFault => format!(
            "so it counts for nothing in the causes and in the headline; without your word it would stand at {before}"
        ),
        VerdictWord::Cause => format!("so it is certain, where the scan alone gave it {before}"),
    };
    Some(format!(
        "You wrote \u{201c}{}\u{201d}, {became}.",
        verdict.written
    ))
}

/// Says so where not all marks are drawn.
fn drawn_words(finding: &ReportedFinding) -> Option<String> {
    let count = finding.members.as_ref().map_or(0, Vec::len);
    (count > MOST_DRAWN).then(|| {
        format!("Of {count} marks the {MOST_DRAWN} strongest are drawn; all of them are in the JSON report.")
    })
}

fn numbers(finding: &ReportedFinding) -> Vec<NumberView> {
    let mut keys: Vec<&String> = finding
        .measured
        .numbers
        .keys()
        .filter(|key| !is_half_width(key, finding))
        .collect();
    keys.sort_by_key(|key| words::order(key));
    let mut numbers: Vec<NumberView> = keys
        .into_iter()
        .filter_map(|key| {
            let value = finding.measured.number(key)?;
            if words::says_nothing(key, value) {
                return None;
            }
            let u = finding.measured.number(&format!("{key}_u"));
            let notes = finding.doubts_of.get(key).map(Vec::as_slice);
            Some(NumberView {
                label: words::label(finding.fault, finding.place.as_deref(), key),
                value: words::figure(key, value, u),
                notes: notes
                    .unwrap_or_default()
                    .iter()
                    .map(|d| d.short())
                    .collect(),
            })
        })
        .collect();
    let has = |key: &str| finding.measured.numbers.contains_key(key);
    if let Some(direction_deg) = finding.direction_deg.filter(|_| !has("direction_deg")) {
        let spread = finding
            .direction_spread_deg
            .map_or(String::new(), |spread_deg| {
                format!(", spread {spread_deg:.0}°")
            });
        let toward = words::toward(direction_deg);
        let value = format!("toward {toward} ({direction_deg:.0}°{spread})");
        numbers.push(NumberView::plain("Direction", value));
    }
    if let Some(axis_deg) = finding.axis_deg.filter(|_| !has("axis_deg")) {
        numbers.push(NumberView::plain(
            words::label(finding.fault, None, "axis_deg"),
            words::figure("axis_deg", axis_deg, None),
        ));
    }
    numbers
}

fn is_half_width(key: &str, finding: &ReportedFinding) -> bool {
    key.strip_suffix("_u")
        .is_some_and(|base| finding.measured.numbers.contains_key(base))
}

/// Rows shown of the marks of a group, strongest first: more belong into the JSON.
const MARK_ROWS: usize = 12;

fn marks(finding: &ReportedFinding) -> Option<MarksView> {
    let members = finding.members.as_ref().filter(|m| !m.is_empty())?;
    let mut strongest: Vec<_> = members.iter().collect();
    strongest.sort_by(|a, b| b.contrast_d.total_cmp(&a.contrast_d));
    let shown = &strongest[..strongest.len().min(MARK_ROWS)];
    let scaled = shown.iter().any(|m| m.size_mm.is_some());
    let long = scaled && shown.iter().any(|m| m.length_mm.is_some());
    let turned = shown
        .iter()
        .any(|m| m.direction_deg.or(m.axis_deg).is_some());
    let dash = || "–".to_owned();
    let mm = |value: Option<f64>| value.map_or_else(dash, |v| words::decimal(v, 2));
    let mut head = Vec::new();
    if scaled {
        head.extend(["x mm", "y mm", "size mm"]);
    }
    if long {
        head.push("length mm");
    }
    if turned {
        head.push("degrees");
    }
    head.push("contrast D");
    let rows = shown
        .iter()
        .map(|mark| {
            let mut row = Vec::new();
            if scaled {
                let at = |i: usize| {
                    mark.centre_mm
                        .map_or_else(dash, |centre| words::decimal(centre[i], 1))
                };
                row.extend([at(0), at(1), mm(mark.size_mm)]);
            }
            if long {
                row.push(mm(mark.length_mm));
            }
            if turned {
                let degrees = mark.direction_deg.or(mark.axis_deg);
                row.push(degrees.map_or_else(dash, |v| words::decimal(v, 0)));
            }
            row.push(words::decimal(mark.contrast_d, 2));
            row
        })
        .collect();
    Some(MarksView {
        count: members.len(),
        head,
        rows,
        more: members.len() - shown.len(),
    })
}
