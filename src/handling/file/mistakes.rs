//! What is wrong with a handling file, where, and what to write instead.

use std::ops::Range;

use super::names::ENTRIES;

/// Why a handling file cannot be used. Lines count from 1.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum HandlingError {
    /// Not of the form `entry = value`.
    #[error("line {line}: {what}")]
    Form {
        line: usize,
        what: &'static str,
        instead: String,
    },
    /// An entry that the file does not have.
    #[error("line {line}: there is no entry `{entry}`")]
    Entry {
        line: usize,
        entry: String,
        nearest: Option<&'static str>,
    },
    /// A value that the entry cannot have.
    #[error("line {line}: `{entry}` cannot be {found}")]
    Value {
        line: usize,
        entry: &'static str,
        found: String,
        instead: String,
    },
    /// Two lines that cannot both be right.
    #[error("line {line}: `{entry}` does not fit `{other}` in line {other_line}")]
    Contradiction {
        line: usize,
        entry: &'static str,
        other: &'static str,
        other_line: usize,
    },
}

impl HandlingError {
    /// What to write instead.
    pub fn hint(&self) -> String {
        match self {
            HandlingError::Form { instead, .. } | HandlingError::Value { instead, .. } => {
                instead.clone()
            }
            HandlingError::Entry {
                nearest: Some(nearest),
                ..
            } => format!("write `{nearest}`"),
            HandlingError::Entry { nearest: None, .. } => {
                format!("the entries are {}", ENTRIES.join(", "))
            }
            HandlingError::Contradiction { .. } => {
                "keep the right one; words are as seen on the coated side, figures and drain_corner \
                 as the plate lies in the scan"
                    .to_owned()
            }
        }
    }
}

/// What a line that is no entry looks like, and what to write instead.
pub(super) fn form(text: &str, error: &toml::de::Error) -> HandlingError {
    let at = error.span().unwrap_or(0..0);
    let line = line_of(text, &at);
    let written = text.lines().nth(line - 1).unwrap_or_default();
    let (what, instead) = match written.split_once('=') {
        _ if error.message().contains("duplicate") => (
            "this entry stands in the file twice",
            "keep one of the two lines".to_owned(),
        ),
        Some((key, value)) if is_bare(value) => (
            "the words after the equals sign stand without quotes",
            format!("write {} = \"{}\"", shown(key.trim()), shown(value.trim())),
        ),
        _ => (
            "this is no entry of the form name = \"words\"",
            "write one entry a line, as in drained_at = \"bottom left\"; a line that begins with # is a remark"
                .to_owned(),
        ),
    };
    HandlingError::Form {
        line,
        what,
        instead,
    }
}

fn is_bare(value: &str) -> bool {
    let value = value.trim();
    value.starts_with(char::is_alphabetic)
        && value
            .chars()
            .all(|c| c.is_alphanumeric() || " _-".contains(c))
}

pub(super) fn line_of(text: &str, at: &Range<usize>) -> usize {
    let before = text.get(..at.start).unwrap_or(text);
    // Past the end, the mistake is in the last line.
    (before.matches('\n').count() + 1).min(text.lines().count().max(1))
}

/// Text of a file in a message: short, without control characters.
pub(super) fn shown(text: &str) -> String {
    const LONGEST: usize = 40;
    let cleaned: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(LONGEST)
        .collect();
    if text.chars().count() > LONGEST {
        cleaned + "\u{2026}"
    } else {
        cleaned
    }
}
