//! Files written whole or not at all, and never over anything that is not ours.

use std::ffi::OsStr;
use std::fs::{self, File};
use std::io::{self, BufReader, Read, Write};
use std::path::{Path, PathBuf};

use serde::Deserialize;
use tempfile::{Builder, NamedTempFile};

use super::exit::Trouble;

/// Start of the `schema` of every plate report, whatever its version.
const REPORT_SCHEMA: &str = "oystermark/plate-report/";

/// Start of the tag by which our pages are known.
const GENERATOR_TAG: &str = "<meta name=\"generator\" content=\"oystermark";

/// How far into a page the tag is looked for, bytes. Our own choice; the tag stands in the first
/// lines of `report/page.html`, and `tests/cli.rs` notices when a page is not known again.
const GENERATOR_WITHIN_BYTES: u64 = 64 << 10;

/// A folder for reports, made if need be, in which a file can be written.
#[derive(Debug)]
pub struct OutFolder {
    path: PathBuf,
    /// Folders that this run made, the innermost first.
    made: Vec<PathBuf>,
}

impl OutFolder {
    /// Makes the folder and tries whether a file can be written there, before any work is done.
    pub fn open(path: &Path) -> Result<OutFolder, Trouble> {
        if path.is_file() {
            return Err(Trouble::new(
                path,
                "no report can be written here: this is a file, not a folder",
                "name another folder with --out",
            ));
        }
        let made = path
            .ancestors()
            .take_while(|folder| !folder.as_os_str().is_empty() && !folder.exists())
            .map(Path::to_path_buf)
            .collect();
        let folder = OutFolder {
            path: path.to_path_buf(),
            made,
        };
        fs::create_dir_all(path)
            .and_then(|()| folder.staging_file())
            .map_err(|error| {
                folder.remove_if_empty();
                Trouble::new(
                    path,
                    format!("no report can be written in this folder: {}", words(&error)),
                    "name another folder with --out",
                )
            })?;
        Ok(folder)
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Takes away the folders this run made, if nothing came to lie in them.
    pub fn remove_if_empty(&self) {
        for folder in &self.made {
            // Fails where something lies in it, and that is what is wanted.
            let _ = fs::remove_dir(folder);
        }
    }

    fn staging_file(&self) -> io::Result<NamedTempFile> {
        let mut builder = Builder::new();
        builder.prefix(".oystermark-").suffix(".part");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // As any new file; the user's mask takes away what they do not want.
            builder.permissions(fs::Permissions::from_mode(0o666));
        }
        builder.tempfile_in(&self.path)
    }

    /// Writes several files so that either all of them are there or none. `files` are names in this
    /// folder with their content.
    pub fn write(&self, files: &[(String, &str)]) -> Result<(), Trouble> {
        let mut staged = Vec::new();
        for (name, content) in files {
            let target = self.path.join(name);
            refuse_foreign(&target)?;
            let file = self
                .stage(content)
                .map_err(|error| self.failed(&target, &error))?;
            staged.push((file, target));
        }
        let mut new = Vec::new();
        for (file, target) in staged {
            let replaces = target.exists();
            let persisted = if replaces {
                file.persist(&target)
            } else {
                file.persist_noclobber(&target)
            };
            if let Err(error) = persisted {
                // Take back what did not replace an older report, so that no half pair stays.
                for path in &new {
                    let _ = fs::remove_file(path);
                }
                return Err(self.failed(&target, &error.error));
            }
            if !replaces {
                new.push(target);
            }
        }
        self.sync();
        Ok(())
    }

    /// Writes one file that is not there yet, whole or not at all.
    pub fn write_new(&self, name: &OsStr, content: &str) -> Result<(), Trouble> {
        // A file here is told by its bare name.
        let target = match self.path == Path::new(".") {
            true => PathBuf::from(name),
            false => self.path.join(name),
        };
        let file = self
            .stage(content)
            .map_err(|error| self.failed(&target, &error))?;
        file.persist_noclobber(&target)
            .map_err(|error| match error.error.kind() {
                io::ErrorKind::AlreadyExists => Trouble::new(
                    &target,
                    "is already there and was not touched",
                    "name another file, or move this one away",
                ),
                _ => self.failed(&target, &error.error),
            })?;
        self.sync();
        Ok(())
    }

    fn stage(&self, content: &str) -> io::Result<NamedTempFile> {
        let mut file = self.staging_file()?;
        file.write_all(content.as_bytes())?;
        file.as_file().sync_all()?;
        Ok(file)
    }

    /// Asks the disk to keep the new names too; some systems cannot open a folder for that.
    fn sync(&self) {
        if let Ok(folder) = File::open(&self.path) {
            let _ = folder.sync_all();
        }
    }

    fn failed(&self, target: &Path, error: &io::Error) -> Trouble {
        Trouble::new(
            target,
            format!("could not be written: {}", words(error)),
            "nothing half-written was left behind; make room on the disk or name another folder with --out",
        )
    }
}

/// An error of the system without its number.
fn words(error: &io::Error) -> String {
    let text = error.to_string();
    let plain = text.split(" (os error").next().unwrap_or(&text);
    let plain = plain.split(" at path ").next().unwrap_or(plain);
    plain.to_lowercase()
}

/// Refuses a name that is taken by anything but a report of this program.
pub fn refuse_foreign(target: &Path) -> Result<(), Trouble> {
    match fs::symlink_metadata(target) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
        Ok(meta) if meta.is_file() && is_ours(target) => Ok(()),
        _ => Err(Trouble::new(
            target,
            "is not a report of oystermark, so it was not overwritten",
            "move it away, or name another folder with --out",
        )),
    }
}

fn is_ours(path: &Path) -> bool {
    let Ok(file) = File::open(path) else {
        return false;
    };
    if path.extension().is_some_and(|ending| ending == "json") {
        #[derive(Deserialize)]
        struct Marked {
            schema: String,
        }
        let marked: Result<Marked, _> = serde_json::from_reader(BufReader::new(file));
        return marked.is_ok_and(|report| report.schema.starts_with(REPORT_SCHEMA));
    }
    let mut start = Vec::new();
    if file
        .take(GENERATOR_WITHIN_BYTES)
        .read_to_end(&mut start)
        .is_err()
    {
        return false;
    }
    let start = String::from_utf8_lossy(&start);
    let head = start.split("<body").next().unwrap_or(&start);
    head.contains(GENERATOR_TAG)
}

/// Names of the reports of one scan: its stem, or the stem with numbers.
pub fn stems(stem: &str, plates: usize) -> Vec<String> {
    if plates == 1 {
        return vec![stem.to_owned()];
    }
    (1..=plates).map(|n| format!("{stem}-{n}")).collect()
}

/// One JSON object without line breaks.
pub fn compact(json: &str) -> String {
    let value: Result<serde_json::Value, _> = serde_json::from_str(json);
    value.map_or_else(|_| json.replace('\n', " "), |value| value.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    const OURS: &str = "{\"schema\": \"oystermark/plate-report/1\", \"x\": [1, 2]}";

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<_> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn replaces_its_own_reports_and_nothing_else() {
        let here = tempfile::tempdir().unwrap();
        let path = here.path().join("new/reports");
        let folder = OutFolder::open(&path).unwrap();
        let page = format!("<!doctype html><head>{GENERATOR_TAG} 1\"></head><body>");
        let pair = [
            ("a.json".to_owned(), OURS),
            ("a.html".to_owned(), page.as_str()),
        ];
        folder.write(&pair).unwrap();
        folder.write(&pair).unwrap();
        assert_eq!(names(&path), ["a.html", "a.json"]);

        for (name, foreign) in [
            ("a.json", "{\"schema\": \"other\"}"),
            ("a.json", "{\"note\": \"oystermark/plate-report/1\"}"),
            (
                "a.html",
                "<html><body><meta name=\"generator\" content=\"oystermark\">",
            ),
            ("a.html", ""),
        ] {
            fs::write(path.join("a.json"), OURS).unwrap();
            fs::write(path.join("a.html"), &page).unwrap();
            fs::write(path.join(name), foreign).unwrap();
            let trouble = folder.write(&pair).unwrap_err();
            assert!(trouble.reason.contains(name), "{}", trouble.reason);
            assert_eq!(fs::read_to_string(path.join(name)).unwrap(), foreign);
            assert_eq!(names(&path), ["a.html", "a.json"]);
        }
    }

    #[test]
    fn a_folder_in_place_of_a_report_leaves_nothing_of_the_pair() {
        let here = tempfile::tempdir().unwrap();
        fs::create_dir(here.path().join("a.html")).unwrap();
        let folder = OutFolder::open(here.path()).unwrap();
        let pair = [("a.json".to_owned(), OURS), ("a.html".to_owned(), "x")];
        assert!(folder.write(&pair).is_err());
        assert_eq!(names(here.path()), ["a.html"]);
    }

    #[test]
    fn a_folder_made_for_nothing_goes_away_again() {
        let here = tempfile::tempdir().unwrap();
        let folder = OutFolder::open(&here.path().join("x/y/z")).unwrap();
        folder.remove_if_empty();
        assert_eq!(names(here.path()), Vec::<String>::new());
    }

    #[test]
    fn a_file_in_place_of_the_folder_is_said_at_once() {
        let here = tempfile::tempdir().unwrap();
        fs::write(here.path().join("f"), "").unwrap();
        for path in ["f", "f/reports"] {
            let trouble = OutFolder::open(&here.path().join(path)).unwrap_err();
            assert!(trouble.reason.contains("no report can be written"));
        }
    }
}
