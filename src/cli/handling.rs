//! The file of `--handling`, from disk to words.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use oystermark::handling::{HandlingFile, ScannedFrom, read};

use super::exit::Trouble;

/// Longest handling file, bytes: our own choice, hundreds of times what a plate needs; a scan given by
/// mistake is not read into memory.
const LONGEST_BYTES: u64 = 64 << 10;

/// Reads what a handling file says; `side` is the side toward the scanner as stated elsewhere.
pub fn parse(path: &Path, text: &str, side: Option<ScannedFrom>) -> Result<HandlingFile, Trouble> {
    read(text, side).map_err(|error| Trouble::new(path, error.to_string(), error.hint()))
}

/// The text of a handling file.
pub fn load(path: &Path) -> Result<String, Trouble> {
    let unreadable = |error: std::io::Error| {
        Trouble::new(path, words(&error), "check the name after --handling")
    };
    if path.is_dir() {
        return Err(Trouble::new(
            path,
            "this is a folder, not a handling file",
            "name the file itself after --handling",
        ));
    }
    let mut bytes = Vec::new();
    File::open(path)
        .map_err(unreadable)?
        .take(LONGEST_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(unreadable)?;
    let no_text = || {
        Trouble::new(
            path,
            "this is no handling file: not plain text of a few lines",
            "write lines such as drained_at = \"bottom left\" in a plain text editor",
        )
    };
    if bytes.len() as u64 > LONGEST_BYTES {
        return Err(no_text());
    }
    let text = String::from_utf8(bytes).map_err(|_| no_text())?;
    if text.trim().is_empty() {
        return Err(Trouble::new(
            path,
            "the handling file is empty",
            "write lines such as drained_at = \"bottom left\" in it, or leave --handling away",
        ));
    }
    Ok(text)
}

fn words(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "the handling file is not there".to_owned(),
        std::io::ErrorKind::PermissionDenied => "the handling file may not be read".to_owned(),
        _ => format!("the handling file cannot be read: {error}"),
    }
}
