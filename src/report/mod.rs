//! The report of one plate: the only thing that is written or shown.
//!
//! Comes in: a plate, its measures, findings and causes. Goes out: [`Report`] as JSON, HTML and a
//! line of text. Units: as in the names of the fields. Not here: judging anything.

use crate::findings::Severity;
use crate::plate::Process;
use crate::raster::Grid;

/// What went wrong while a finished report was written down.
#[derive(Debug, thiserror::Error)]
#[error("report could not be put into JSON: {0}")]
pub struct ReportError(String);

/// The report of one plate.
#[derive(Debug, serde::Serialize)]
pub struct Report {
    pub file: String,
    pub process: Option<Process>,
    pub findings: Vec<ReportedFinding>,
}

/// A fault on this plate.
#[derive(Debug, serde::Serialize)]
pub struct ReportedFinding {
    pub severity: Severity,
}

impl Report {
    /// The report as JSON text.
    pub fn json(&self) -> Result<String, ReportError> {
        let value = serde_json::json!({
            "schema": "oystermark/plate-report/1",
            "scan": {"file": self.file},
            "plate": {"process": self.process},
            "findings": self.findings,
        });
        serde_json::to_string_pretty(&value).map_err(|error| ReportError(error.to_string()))
    }

    /// The report as a page.
    pub fn html(&self) -> Result<String, ReportError> {
        Ok(page(
            &self.file,
            &format!("<p>{} findings</p>", self.findings.len()),
        ))
    }
}

fn page(title: &str, body: &str) -> String {
    let title = minijinja::HtmlEscape(title);
    format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"generator\" content=\"oystermark {}\"><title>{title}</title></head>\n<body><h1>{title}</h1>{body}</body></html>\n",
        env!("CARGO_PKG_VERSION"),
    )
}

/// One plate of a session.
pub struct SessionEntry<'a> {
    pub report: &'a Report,
    /// The plate, small.
    pub picture: &'a Grid<[u16; 3]>,
    /// Where its page lies, seen from the session page; not yet escaped.
    pub page: String,
}

/// The page that lists several plates.
pub fn session_html(entries: &[SessionEntry]) -> Result<String, ReportError> {
    let items: String = entries
        .iter()
        .map(|e| {
            format!(
                "<li><a href=\"{}\">{}</a></li>",
                address(&e.page),
                minijinja::HtmlEscape(&e.report.file)
            )
        })
        .collect();
    Ok(page("Session", &format!("<ul>{items}</ul>")))
}

fn address(way: &str) -> String {
    way.bytes()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => {
                char::from(byte).to_string()
            }
            _ => format!("%{byte:02X}"),
        })
        .collect()
}

/// A table of plates for the terminal.
pub fn table(reports: &[&Report]) -> String {
    reports
        .iter()
        .map(|r| format!("{}  {} findings", r.file, r.findings.len()))
        .collect::<Vec<_>>()
        .join("\n")
}
