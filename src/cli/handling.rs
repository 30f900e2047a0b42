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

/// Reads a handling file; `side` is the side toward the scanner as typed.
pub fn read_file(path: &Path, side: Option<ScannedFrom>) -> Result<HandlingFile, Trouble> {
    let text = HANDLING_FILE.read(path)?;
    read(&text, side).map_err(|error| Trouble::new(path, error.to_string(), error.hint()))
}
