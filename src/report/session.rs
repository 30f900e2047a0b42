//! Several plates of a run on one page.

use std::fmt::Write;

use serde::Serialize;
use serde_json::json;

use super::picture::PlatePicture;
use super::{Report, ReportError, ReportedFinding, html, sentence, words};
use crate::causes::SessionRanked;
use crate::findings::Fault;

/// One plate of a session.
#[derive(Debug)]
pub struct SessionEntry<'a> {
    /// Its report.
    pub report: &'a Report,
    /// Its pictures.
    pub picture: &'a PlatePicture,
    /// Name of its page, beside the session's page (`STEM.html`); not yet escaped.
    pub page: String,
}

/// What the page says over all plates together.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SessionWords {
    /// Causes at work over the session, and the check to make next.
    pub ranked: SessionRanked,
    /// What in the session sheet could not be used, a sentence each.
    pub notes: Vec<String>,
}

/// A page that lists the plates of a run, with what they have in common.
///
/// # Errors
/// When the page cannot be filled in.
pub fn session_html(
    entries: &[SessionEntry],
    together: &SessionWords,
) -> Result<String, ReportError> {
    let everywhere = untold_everywhere(entries);
    let plates = entries
        .iter()
        .map(|entry| plate(entry, &everywhere))
        .collect::<Vec<_>>();
    let title = match entries.len() {
        1 => "1 plate".to_owned(),
        n => format!("{n} plates"),
    };
    let view = json!({
        "title": title,
        "common": common(entries),
        "untold": untold(entries),
        "plates": plates,
        "causes": html::cause_views(&together.ranked.causes),
        "check_next": html::check_view(together.ranked.check_next.as_ref(), &together.ranked.causes),
        "notes": together.notes,
        "program": {"name": env!("CARGO_PKG_NAME"), "version": env!("CARGO_PKG_VERSION")},
    });
    html::render("session.html", &view).map_err(|why| ReportError::Page {
        file: "the session".to_owned(),
        why: why.to_string(),
    })
}

#[derive(Serialize)]
struct PlateView {
    href: String,
    name: String,
    facts: Vec<String>,
    sentence: String,
    untold: Option<String>,
    thumbnail: Option<String>,
    chips: Vec<ChipView>,
}

#[derive(Serialize)]
struct ChipView {
    name: &'static str,
    severity: &'static str,
    rank: usize,
}

/// One plate; what cannot be told on any plate stands at the head of the page.
fn plate(entry: &SessionEntry, everywhere: &[String]) -> PlateView {
    let report = entry.report;
    let mut untold = sentence::untold_names(report);
    untold.retain(|name| !everywhere.contains(name));
    let mut chips: Vec<(Fault, ChipView)> = Vec::new();
    for finding in report.worst_first().into_iter().filter(|f| !f.refuted()) {
        if !chips.iter().any(|(fault, _)| *fault == finding.fault) {
            let chip = ChipView {
                name: finding.fault.short(),
                severity: words::severity_short(finding.severity),
                rank: words::severity_rank(finding.severity),
            };
            chips.push((finding.fault, chip));
        }
    }
    PlateView {
        href: relative_url(&entry.page),
        name: page_name(&entry.page).to_owned(),
        facts: html::plate_line(report),
        sentence: format!("{}.", sentence::found(report)),
        untold: sentence::cannot_be_told(&untold).map(|untold| words::sentence(&untold)),
        thumbnail: entry
            .picture
            .thumbnail
            .as_ref()
            .map(|shown| shown.address.clone()),
        chips: chips.into_iter().map(|(_, chip)| chip).collect(),
    }
}

/// The name of a page without folder and ending: plates of one scan differ in it.
fn page_name(page: &str) -> &str {
    let file = page.rsplit_once('/').map_or(page, |(_, file)| file);
    file.strip_suffix(".html").unwrap_or(file)
}

/// A relative path as a relative address: everything but `/` and unreserved characters (RFC 3986, 2.3)
/// coded.
fn relative_url(name: &str) -> String {
    let mut url = String::from("./");
    for byte in name.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            url.push(char::from(byte));
        } else {
            // Writing to a string cannot fail.
            let _ = write!(url, "%{byte:02X}");
        }
    }
    url
}

/// The fault that most plates share, and where, in one sentence.
fn common(entries: &[SessionEntry]) -> String {
    let plates = entries.len();
    let on = |fault: Fault| {
        entries
            .iter()
            .filter(|e| real(e).any(|f| f.fault == fault))
            .count()
    };
    let mut shared: Vec<(Fault, usize)> = Fault::ALL
        .iter()
        .map(|fault| (*fault, on(*fault)))
        .filter(|(_, count)| *count > 1)
        .collect();
    shared.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    if plates < 2 {
        return String::new();
    }
    let clean = entries.iter().filter(|e| real(e).next().is_none());
    match (shared.as_slice(), clean.count()) {
        ([], clean) if clean == plates => {
            "Nothing wrong was found on any of these plates.".to_owned()
        }
        ([], _) => {
            "No fault is on more than one of these plates: look at each by itself.".to_owned()
        }
        (shared, _) => {
            let clauses: Vec<String> = shared
                .iter()
                .map(|(fault, count)| {
                    let name = words::lowered(fault.short());
                    let place = common_place(entries, *fault);
                    if *count == plates {
                        format!("{name} is on all {plates} plates{place}")
                    } else {
                        format!("{name} is on {count} of {plates} plates{place}")
                    }
                })
                .collect();
            let clauses = words::capitalised(&clauses.join("; "));
            format!(
                "{clauses}. What plates share, look for in what they have in common: bath, collodion, holder, scanner."
            )
        }
    }
}

/// Findings of a plate that the maker has not refuted.
fn real<'a>(entry: &SessionEntry<'a>) -> impl Iterator<Item = &'a ReportedFinding> {
    let findings = entry.report.findings.iter();
    findings.filter(|finding| !finding.refuted())
}

/// What cannot be told on any of several plates.
fn untold_everywhere(entries: &[SessionEntry]) -> Vec<String> {
    let of = |entry: &SessionEntry| sentence::untold_names(entry.report);
    let [first, others @ ..] = entries else {
        return Vec::new();
    };
    let mut names = of(first);
    names.retain(|name| others.iter().all(|entry| of(entry).contains(name)));
    names
}

/// What could not be told, and on how many plates, in one sentence.
fn untold(entries: &[SessionEntry]) -> Option<String> {
    let mut counts: Vec<(String, usize)> = Vec::new();
    for name in entries
        .iter()
        .flat_map(|entry| sentence::untold_names(entry.report))
    {
        match counts.iter_mut().find(|(counted, _)| *counted == name) {
            Some((_, count)) => *count += 1,
            None => counts.push((name, 1)),
        }
    }
    counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let plates = entries.len();
    let clauses: Vec<String> = counts
        .chunk_by(|(_, one), (_, next)| one == next)
        .map(|alike| {
            let names: Vec<String> = alike.iter().map(|(name, _)| name.clone()).collect();
            let each = if names.len() > 1 { " each" } else { "" };
            let names = words::listed(&names);
            match alike.first().map_or(0, |(_, count)| *count) {
                count if count == plates => format!("{names} on any plate"),
                count => format!("{names}{each} on {count} of {plates} plates"),
            }
        })
        .collect();
    (!clauses.is_empty()).then(|| format!("Cannot be told: {}.", clauses.join("; ")))
}

/// Where a fault always sits, if it does.
fn common_place(entries: &[SessionEntry], fault: Fault) -> String {
    let findings = entries.iter().flat_map(real);
    let mut places = findings
        .filter(|f| f.fault == fault)
        .map(|f| f.place.as_deref());
    match places.next().flatten() {
        Some(first) if places.all(|place| place == Some(first)) => {
            format!(", always at the {}", words::place(first))
        }
        _ => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plates_of_one_scan_have_names_of_their_own() {
        assert_eq!(page_name("../day/evening-2.html"), "evening-2");
        assert_eq!(page_name("a.b.html"), "a.b");
    }

    #[test]
    fn names_become_harmless_addresses() {
        assert_eq!(relative_url("plate-1.html"), "./plate-1.html");
        assert_eq!(
            relative_url("a b/ü\"<:.html"),
            "./a%20b/%C3%BC%22%3C%3A.html"
        );
    }
}
