//! What can be wrong with a scan file, in words.

use std::io;
use std::path::{Path, PathBuf};

/// Formats this room reads, for messages.
pub(super) const FORMATS: &str = "TIFF, PNG and JPEG";

/// Why a file could not be read as a scan. The text says what, which file and why; [`hint`]
/// says what to do next.
///
/// [`hint`]: ScanError::hint
#[derive(Debug, thiserror::Error)]
pub enum ScanError {
    /// Nothing is there under that name.
    #[error("{}: there is no such file", file.display())]
    Missing { file: PathBuf },
    /// A folder was given where a file was meant.
    #[error("{}: is a folder, not a scan", file.display())]
    Folder { file: PathBuf },
    /// A device, a pipe or the like.
    #[error("{}: is not an ordinary file", file.display())]
    NotAFile { file: PathBuf },
    /// The file may not be opened by this user.
    #[error("{}: may not be opened (no permission)", file.display())]
    NoPermission { file: PathBuf },
    /// Nothing in it.
    #[error("{}: the file is empty", file.display())]
    Empty { file: PathBuf },
    /// Content of no known picture format.
    #[error("{}: is not a picture this program knows", file.display())]
    NotAPicture { file: PathBuf },
    /// A picture or document of a format that is known by its first bytes, but not read.
    #[error("{}: is {what}, which is not read", file.display())]
    ForeignFormat { file: PathBuf, what: &'static str },
    /// The file ends too early.
    #[error("{}: the file is cut short: {readable}", file.display())]
    CutShort {
        file: PathBuf,
        /// How much could be read, for people.
        readable: String,
    },
    /// The content contradicts itself.
    #[error("{}: the file is damaged: {what}", file.display())]
    Damaged { file: PathBuf, what: String },
    /// More pixels than the limit of the settings.
    #[error(
        "{}: the picture of {width} x {height} pixels is larger than the limit of {max_pixels} pixels",
        file.display()
    )]
    TooLarge {
        file: PathBuf,
        width: u64,
        height: u64,
        max_pixels: u64,
    },
    /// Would have to be held in memory as a whole, and is over the cap.
    #[error(
        "{}: {what} has to be held in memory as a whole, which takes {needed_mib} MiB; the cap is {cap_mib} MiB",
        file.display()
    )]
    NeedsHolding {
        file: PathBuf,
        /// What kind of file it is.
        what: &'static str,
        /// Memory it would take, MiB.
        needed_mib: u64,
        /// Memory allowed by the settings, MiB.
        cap_mib: u64,
    },
    /// A picture whose values are not read.
    #[error("{}: {what} cannot be read", file.display())]
    Unsupported { file: PathBuf, what: String },
    /// The system could not read it.
    #[error("{}: could not be read: {source}", file.display())]
    Io { file: PathBuf, source: io::Error },
}

impl ScanError {
    /// What to do next, one or two sentences.
    pub fn hint(&self) -> String {
        match self {
            ScanError::Missing { .. } => {
                "Check the name and the folder; put names with spaces in quotes.".into()
            }
            ScanError::Folder { .. } => {
                "Give the scan itself, or all scans of the folder with a pattern such as folder/*.tif."
                    .into()
            }
            ScanError::NotAFile { .. } => {
                "Save the scan as a file on disk first and give its name.".into()
            }
            ScanError::NoPermission { .. } => {
                "Check who owns the file, or copy it to a folder of your own.".into()
            }
            ScanError::Empty { .. } => {
                "The scanner or the copy did not finish; scan or copy the file again.".into()
            }
            ScanError::NotAPicture { .. } | ScanError::ForeignFormat { .. } => format!(
                "{FORMATS} files are read. Save the scan as a 16-bit TIFF with its colour profile."
            ),
            ScanError::CutShort { .. } => {
                "The scan or the copy did not finish; scan or copy the file again.".into()
            }
            ScanError::Damaged { .. } => {
                "Open the file in another program and save it again as an uncompressed TIFF; if that fails, scan again."
                    .into()
            }
            ScanError::TooLarge { .. } => {
                "Scan at a lower resolution (600 to 1200 dpi is enough), or cut the scan to the plate."
                    .into()
            }
            ScanError::NeedsHolding { .. } => {
                "Save the scan as an uncompressed or tiled TIFF, which is read piece by piece, or scan at a lower resolution."
                    .into()
            }
            ScanError::Unsupported { .. } => {
                "Save the scan as a grey or RGB TIFF with 8 or 16 bits a channel and its colour profile."
                    .into()
            }
            ScanError::Io { .. } => {
                "Check the disk or the network drive, or copy the file to a local folder.".into()
            }
        }
    }

    /// The error that fits a failed system call on `file`.
    pub(super) fn from_io(file: &Path, source: io::Error) -> ScanError {
        let file = file.to_path_buf();
        match source.kind() {
            io::ErrorKind::NotFound => ScanError::Missing { file },
            io::ErrorKind::PermissionDenied => ScanError::NoPermission { file },
            io::ErrorKind::IsADirectory => ScanError::Folder { file },
            _ => ScanError::Io { file, source },
        }
    }
}
