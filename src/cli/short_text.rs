//! Short files that a maker writes by hand, from disk to text.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use super::exit::Trouble;

/// A kind of short file, for the words of its troubles.
pub struct ShortText {
    /// What it is: "handling file".
    pub name: &'static str,
    /// The option that it is named after: "--handling".
    pub option: &'static str,
    /// What to write in it: "write lines such as ...".
    pub write: &'static str,
    /// Longest file that is read, bytes; a scan given by mistake is not read into memory.
    pub longest_bytes: u64,
}

impl ShortText {
    /// Reads the whole file, or one byte more than the longest that is taken.
    pub fn bytes(&self, path: &Path) -> Result<Vec<u8>, Trouble> {
        let name = self.name;
        let unreadable = |error: std::io::Error| {
            let why = match error.kind() {
                std::io::ErrorKind::NotFound => format!("the {name} is not there"),
                std::io::ErrorKind::PermissionDenied => format!("the {name} may not be read"),
                _ => format!("the {name} cannot be read: {error}"),
            };
            Trouble::new(path, why, format!("check the name after {}", self.option))
        };
        if path.is_dir() {
            return Err(Trouble::new(
                path,
                format!("this is a folder, not a {name}"),
                format!("name the file itself after {}", self.option),
            ));
        }
        let mut bytes = Vec::new();
        File::open(path)
            .map_err(unreadable)?
            .take(self.longest_bytes + 1)
            .read_to_end(&mut bytes)
            .map_err(unreadable)?;
        Ok(bytes)
    }

    /// Reads the whole file as text; an empty one is a trouble too.
    pub fn read(&self, path: &Path) -> Result<String, Trouble> {
        let name = self.name;
        let bytes = self.bytes(path)?;
        let no_text = || {
            let why = format!("this is no {name}: not plain text of a few lines");
            Trouble::new(path, why, format!("{} in a plain text editor", self.write))
        };
        if bytes.len() as u64 > self.longest_bytes {
            return Err(no_text());
        }
        let text = String::from_utf8(bytes).map_err(|_| no_text())?;
        if text.trim().is_empty() {
            return Err(Trouble::new(
                path,
                format!("the {name} is empty"),
                format!("{} in it, or leave {} away", self.write, self.option),
            ));
        }
        Ok(text)
    }
}
