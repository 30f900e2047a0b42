//! From what was typed to the scans to read, with names that cannot collide.

use std::collections::{BTreeMap, HashSet};
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

use super::exit::Trouble;

/// Endings of the files that a folder is searched for, in lower case.
const SCAN_ENDINGS: &[&str] = &["tif", "tiff", "png", "jpg", "jpeg"];

/// Name of the page that lists all plates of a run, without its ending.
pub const SESSION_STEM: &str = "session";

/// A scan to read and where its reports go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Input {
    /// The scan file.
    pub scan: PathBuf,
    /// Its name without folder and ending: reports are called after it.
    pub stem: String,
    /// The folder for its reports.
    pub out: PathBuf,
}

/// The scans to read, in the order typed, and what is wrong with the rest.
pub fn gather(typed: &[PathBuf], out: Option<&Path>) -> (Vec<Input>, Vec<Trouble>) {
    let mut troubles = Vec::new();
    let mut scans = Vec::new();
    for path in typed {
        match scans_at(path) {
            Ok(found) => scans.extend(found),
            Err(trouble) => troubles.push(trouble),
        }
    }
    let mut seen = HashSet::new();
    scans.retain(|scan| seen.insert(fs::canonicalize(scan).unwrap_or_else(|_| scan.clone())));
    let inputs = scans.into_iter().map(|scan| place(scan, out)).collect();
    (refuse_clashes(inputs, &mut troubles), troubles)
}

/// The scan itself, or the scans of a folder in the order of their names.
fn scans_at(path: &Path) -> Result<Vec<PathBuf>, Trouble> {
    let cannot_list = |error: std::io::Error| {
        Trouble::new(
            path,
            format!("the folder cannot be listed: {error}"),
            "check who owns it, or give the scans one by one",
        )
    };
    if !path.is_dir() {
        return Ok(vec![path.to_path_buf()]);
    }
    let mut found = Vec::new();
    for entry in fs::read_dir(path).map_err(cannot_list)? {
        let scan = entry.map_err(cannot_list)?.path();
        if is_scan(&scan) {
            found.push(scan);
        }
    }
    if found.is_empty() {
        return Err(Trouble::new(
            path,
            "there are no scans in this folder",
            format!(
                "scans end in {}; folders inside it are not searched",
                SCAN_ENDINGS.join(", ")
            ),
        ));
    }
    found.sort();
    Ok(found)
}

fn is_scan(path: &Path) -> bool {
    // A leading dot marks what other programs leave beside a scan, such as `._plate.tif`.
    let hidden = path
        .file_name()
        .is_some_and(|name| name.to_string_lossy().starts_with('.'));
    let ending = path
        .extension()
        .map(|ending| ending.to_string_lossy().to_lowercase());
    !hidden && ending.is_some_and(|e| SCAN_ENDINGS.contains(&e.as_str())) && path.is_file()
}

fn place(scan: PathBuf, out: Option<&Path>) -> Input {
    let stem = scan
        .file_stem()
        .unwrap_or(OsStr::new("plate"))
        .to_string_lossy()
        .into_owned();
    let beside = || scan.parent().unwrap_or(Path::new("")).join("reports");
    let out = out.map_or_else(beside, Path::to_path_buf);
    Input { scan, stem, out }
}

/// Takes out scans whose reports would be called alike, also where a disk does not tell capitals
/// from small letters.
fn refuse_clashes(inputs: Vec<Input>, troubles: &mut Vec<Trouble>) -> Vec<Input> {
    let mut by_stem: BTreeMap<String, Vec<PathBuf>> = BTreeMap::new();
    for input in &inputs {
        let alike = by_stem.entry(input.stem.to_lowercase()).or_default();
        alike.push(input.scan.clone());
    }
    inputs
        .into_iter()
        .filter(|input| {
            if input.stem.to_lowercase() == SESSION_STEM {
                troubles.push(Trouble::new(
                    &input.scan,
                    "the name session is kept for the page that lists all plates",
                    "rename the scan",
                ));
                return false;
            }
            let alike = by_stem.get(&input.stem.to_lowercase());
            let other = alike.and_then(|a| a.iter().find(|scan| **scan != input.scan));
            let Some(other) = other else { return true };
            troubles.push(Trouble::new(
                &input.scan,
                format!(
                    "the reports of this scan and of {} would have the same name",
                    other.display()
                ),
                "rename one of them, or read them in two runs with different --out folders",
            ));
            false
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stems(typed: &[&str]) -> (Vec<String>, usize) {
        let typed: Vec<PathBuf> = typed.iter().map(PathBuf::from).collect();
        let (inputs, troubles) = gather(&typed, None);
        (
            inputs.into_iter().map(|input| input.stem).collect(),
            troubles.len(),
        )
    }

    #[test]
    fn reports_go_beside_the_scan_or_where_told() {
        let (inputs, _) = gather(&[PathBuf::from("day/a.tif")], None);
        assert_eq!(inputs[0].out, Path::new("day/reports"));
        let (inputs, _) = gather(&[PathBuf::from("day/a.tif")], Some(Path::new("o")));
        assert_eq!(inputs[0].out, Path::new("o"));
    }

    #[test]
    fn scans_of_one_stem_are_all_refused_and_the_rest_stay() {
        assert_eq!(
            stems(&["a.tif", "b.tif", "A.png"]),
            (vec!["b".to_owned()], 2)
        );
        assert_eq!(stems(&["session.tif", "b.tif"]), (vec!["b".to_owned()], 1));
    }

    #[test]
    fn one_scan_given_twice_is_read_once() {
        assert_eq!(stems(&["a.tif", "a.tif"]), (vec!["a".to_owned()], 0));
    }
}
