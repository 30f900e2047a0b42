//! Exit codes, and errors as one sentence.

use std::path::Path;
use std::process::ExitCode;

use oystermark::analysis::AnalysisError;

/// How a run ended. Where several apply, the highest counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Exit {
    /// All plates were analysed, whatever was found on them.
    Analysed = 0,
    /// Something found reached the grade of `--fail-on`.
    Reached = 1,
    /// A plate could not be analysed, or the command was wrong.
    Failed = 2,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(exit as u8)
    }
}

/// Something that kept a scan, or the whole run, from being done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble {
    /// What happened, with the file or folder first: `plate.tif: the file is empty`.
    pub reason: String,
    /// What to do next.
    pub hint: String,
}

impl Trouble {
    /// A trouble with a file or folder.
    pub fn new(file: &Path, reason: impl AsRef<str>, hint: impl Into<String>) -> Trouble {
        Trouble {
            reason: format!("{}: {}", file.display(), reason.as_ref()),
            hint: hint.into(),
        }
    }

    /// A trouble with the command as a whole.
    pub fn of_command(reason: impl Into<String>, hint: impl Into<String>) -> Trouble {
        Trouble {
            reason: reason.into(),
            hint: hint.into(),
        }
    }

    /// What the analysis of a scan ran into.
    pub fn of_analysis(file: &Path, error: &AnalysisError) -> Trouble {
        let reason = error.to_string();
        let hint = error.hint();
        if reason.starts_with(&file.display().to_string()) {
            Trouble { reason, hint }
        } else {
            Trouble::new(file, reason, hint)
        }
    }

    /// What happened and what to do, as a sentence for a page.
    pub fn words(&self) -> String {
        let (reason, hint) = (one_line(&self.reason), one_line(&self.hint));
        format!("{reason}; {}.", lower_first(&hint))
    }

    /// The one sentence that goes to the error output.
    pub fn sentence(&self) -> String {
        let reason = one_line(&self.reason);
        let hint = one_line(&self.hint);
        if hint.is_empty() {
            return format!("oystermark: {reason}");
        }
        format!("oystermark: {reason}; {}", lower_first(&hint))
    }
}

/// Control characters, line breaks among them, as spaces: a file's name may hold any of them.
fn one_line(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect::<String>()
        .trim()
        .trim_end_matches('.')
        .to_owned()
}

/// Lower case for the first letter, unless the word is all capitals (TIFF).
fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    match (letters.next(), letters.next()) {
        (Some(first), Some(second)) if first.is_uppercase() && second.is_lowercase() => first
            .to_lowercase()
            .chain(std::iter::once(second))
            .chain(letters)
            .collect(),
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worse_exit_wins() {
        assert_eq!(Exit::Analysed.max(Exit::Reached), Exit::Reached);
        assert_eq!(Exit::Failed.max(Exit::Reached), Exit::Failed);
    }

    #[test]
    fn a_trouble_is_one_sentence() {
        let trouble = Trouble::new(Path::new("a\nb.tif"), "is empty.", "Scan again.");
        assert_eq!(
            trouble.sentence(),
            "oystermark: a b.tif: is empty; scan again"
        );
        let trouble = Trouble::new(Path::new("a.pdf"), "is no picture", "TIFF files are read");
        assert!(trouble.sentence().ends_with("; TIFF files are read"));
    }
}
