//! The file of `--handling`, from disk to words.

use std::path::Path;

use oystermark::handling::{HandlingFile, ScannedFrom, read};

use super::exit::Trouble;
use super::short_text::ShortText;

/// The longest is our own choice, hundreds of times what a plate needs.
const HANDLING_FILE: ShortText = ShortText {
    name: "handling file",
    option: "--handling",
    write: "write lines such as drained_at = \"bottom left\"",
    longest_bytes: 64 << 10,
};

/// Reads what a handling file says; `side` is the side toward the scanner as stated elsewhere.
pub fn parse(path: &Path, text: &str, side: Option<ScannedFrom>) -> Result<HandlingFile, Trouble> {
    read(text, side).map_err(|error| Trouble::new(path, error.to_string(), error.hint()))
}

/// The text of a handling file.
pub fn load(path: &Path) -> Result<String, Trouble> {
    HANDLING_FILE.read(path)
}
