//! The page that lists all plates of a run.

use std::path::{Component, Path, PathBuf};

use oystermark::raster::Grid;
use oystermark::report::{Report, SessionEntry, session_html};

use super::exit::Trouble;
use super::inputs::SESSION_STEM;
use super::write::OutFolder;

/// A plate that was read and the page of its report.
pub struct Entry {
    /// The page.
    pub page: PathBuf,
    /// The report.
    pub report: Report,
    /// The plate, small, as in [`Outcome`](oystermark::analysis::Outcome).
    pub thumbnail: Grid<[u16; 3]>,
}

impl Entry {
    /// The name the plate goes by: that of its page without the ending.
    pub fn name(&self) -> String {
        let stem = self.page.file_stem().unwrap_or_default();
        stem.to_string_lossy().into_owned()
    }
}

/// Writes the page into `folder`, with links to the plates' own pages, and gives its path.
pub fn write_session(folder: &OutFolder, entries: &[Entry]) -> Result<PathBuf, Trouble> {
    let listed: Vec<SessionEntry> = entries
        .iter()
        .map(|entry| SessionEntry {
            report: &entry.report,
            picture: &entry.thumbnail,
            page: way(folder.path(), &entry.page),
        })
        .collect();
    let name = format!("{SESSION_STEM}.html");
    let page = session_html(&listed).map_err(|error| {
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
