//! The page that lists all plates of a run.

use std::path::{Component, Path, PathBuf};

use oystermark::analysis::{Grounds, reweigh};
use oystermark::causes::{Catalogue, SessionPlate, Shares, rank_session, session_signs};
use oystermark::findings::Fault;
use oystermark::report::{PlatePicture, Report, SessionEntry, SessionWords, session_html};

use super::exit::Trouble;
use super::inputs::SESSION_STEM;
use super::write::OutFolder;

/// A plate that was read and the page of its report.
pub struct Entry {
    /// The page.
    pub page: PathBuf,
    /// The report.
    pub report: Report,
    /// The plate's pictures for pages.
    pub picture: PlatePicture,
    /// What its causes were weighed from.
    pub grounds: Grounds,
    /// What it shares with other plates.
    pub shares: Shares,
    /// Line of its row in the sheet.
    pub line: Option<usize>,
}

impl Entry {
    /// The name the plate goes by: that of its page without the ending.
    pub fn name(&self) -> String {
        let stem = self.page.file_stem().unwrap_or_default();
        stem.to_string_lossy().into_owned()
    }
}

/// The plates of a run.
#[derive(Default)]
pub struct Session {
    /// In the order in which they were read.
    pub entries: Vec<Entry>,
    /// What of the sheet was not used, a sentence each.
    pub notes: Vec<String>,
}

/// Names and faults that could be told, which plates of a session are made from.
type Owned = Vec<(String, Vec<Fault>)>;

impl Session {
    fn owned(&self) -> Owned {
        let entries = self.entries.iter();
        entries
            .map(|entry| (entry.name(), entry.report.could_show()))
            .collect()
    }

    fn plates<'a>(&'a self, owned: &'a Owned) -> Vec<SessionPlate<'a>> {
        let plates = self.entries.iter().zip(owned);
        plates
            .map(|(entry, (name, could_show))| SessionPlate {
                name,
                findings: &entry.grounds.findings,
                facts: &entry.grounds.facts,
                handling: entry.grounds.handling.as_ref(),
                shares: &entry.shares,
                could_show,
            })
            .collect()
    }

    /// Weighs the causes anew where the plates together show more than each alone, in the order of the
    /// sheet's rows, and hands what changed to `write`: the page's path, and names and texts of the files.
    pub fn weigh_together(
        &mut self,
        write: impl Fn(&Path, &[(String, &str)]) -> Result<(), Trouble>,
    ) -> Vec<Trouble> {
        let catalogue = match built_in() {
            Ok(catalogue) => catalogue,
            Err(trouble) => return vec![trouble],
        };
        let mut order: Vec<usize> = (0..self.entries.len()).collect();
        order.sort_by_key(|index| self.entries[*index].line.unwrap_or(usize::MAX));
        let owned = self.owned();
        let plates = self.plates(&owned);
        let in_order: Vec<SessionPlate> = order.iter().map(|index| plates[*index]).collect();
        let signs = session_signs(&in_order);
        drop(plates);
        let mut troubles = Vec::new();
        for (index, signs) in order.into_iter().zip(signs) {
            let entry = &mut self.entries[index];
            let name = entry.name();
            let changed = reweigh(
                &mut entry.report,
                &mut entry.grounds,
                &entry.picture,
                signs,
                &catalogue,
            );
            let written = match changed {
                Ok(None) => continue,
                Ok(Some((json, html))) => write(
                    &entry.page,
                    &[
                        (format!("{name}.html"), html.as_str()),
                        (format!("{name}.json"), json.as_str()),
                    ],
                ),
                Err(error) => Err(Trouble::of_analysis(&entry.page, &error)),
            };
            troubles.extend(written.err());
        }
        troubles
    }

    /// Writes the page that lists the plates into `folder`, with links to their own pages, and gives its
    /// path.
    pub fn write(&self, folder: &OutFolder) -> Result<PathBuf, Trouble> {
        let listed: Vec<SessionEntry> = self
            .entries
            .iter()
            .map(|entry| SessionEntry {
                report: &entry.report,
                picture: &entry.picture,
                page: way(folder.path(), &entry.page),
            })
            .collect();
        let owned = self.owned();
        let words = SessionWords {
            ranked: rank_session(&self.plates(&owned), &built_in()?),
            notes: self.notes.clone(),
        };
        let name = format!("{SESSION_STEM}.html");
        let page = session_html(&listed, &words).map_err(|error| {
            Trouble::new(
                &folder.path().join(&name),
                error.to_string(),
                "the reports of the plates themselves are written",
            )
        })?;
        let path = folder.path().join(&name);
        folder.write(&[(name, &page)])?;
        Ok(path)
    }
}

/// The catalogue of causes.
pub fn built_in() -> Result<Catalogue, Trouble> {
    Catalogue::built_in().map_err(|error| {
        Trouble::of_command(
            error.to_string(),
            "this is a fault of the program; install it anew",
        )
    })
}

/// The way from the folder `from` to the file `to`, parts parted by `/`, as in `../day/a.html`.
fn way(from: &Path, to: &Path) -> String {
    let (from, to) = (absolute(from), absolute(to));
    let shared = from
        .iter()
        .zip(&to)
        .take_while(|(one, other)| one == other)
        .count();
    let up = std::iter::repeat_n("..", from.len() - shared);
    let down = to.iter().skip(shared).map(String::as_str);
    up.chain(down).collect::<Vec<_>>().join("/")
}

/// The parts of a path from the root on, without `.` and `..`.
fn absolute(path: &Path) -> Vec<String> {
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
    let mut parts = Vec::new();
    for component in path.components() {
        match component {
            Component::ParentDir => {
                parts.pop();
            }
            Component::CurDir => {}
            other => parts.push(other.as_os_str().to_string_lossy().into_owned()),
        }
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_points_at_the_reports() {
        let found = |from, to| way(Path::new(from), Path::new(to));
        assert_eq!(found("o", "o/a b.html"), "a b.html");
        assert_eq!(
            found("x/reports", "y/reports/a.html"),
            "../../y/reports/a.html"
        );
        assert_eq!(found("x/../o", "./o/a.html"), "a.html");
    }
}
