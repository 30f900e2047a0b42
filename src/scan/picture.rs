//! What a format's reader hands over: the facts about a picture, and its rows one after another.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::colour::Coding;
use super::{DpiTag, ScanError, ScanSettings};

/// A file that is open for reading, with what errors about it need.
#[derive(Clone)]
pub(super) struct OpenFile {
    pub path: PathBuf,
    pub file: Arc<File>,
    pub length: u64,
}

/// How the samples of a row lie in memory, after packed bits and palettes have been expanded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Samples {
    /// Samples a pixel, those that are left out included.
    pub per_pixel: usize,
    /// Samples that make the colour, first in the pixel: 1 (grey) or 3 (red, green, blue).
    pub colour: usize,
    /// Position of the opacity in the pixel.
    pub alpha: Option<usize>,
    /// Bytes a sample: 1 or 2.
    pub bytes: usize,
    pub big_endian: bool,
    /// The highest value is the darkest.
    pub white_is_zero: bool,
}

impl Samples {
    pub fn pixel_bytes(&self) -> usize {
        self.per_pixel * self.bytes
    }
}

/// The eight ways a picture can lie in its file (EXIF 2.3, tag 274; TIFF 6.0, Orientation).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Turn {
    /// The file's rows run from right to left as seen.
    pub flip_x: bool,
    /// The file's rows run from the bottom up.
    pub flip_y: bool,
    /// After the flips, rows and columns change places.
    pub transpose: bool,
}

impl Turn {
    /// The turn for a tag value; values that the standard does not know mean no turn.
    pub fn from_tag(value: u32) -> Turn {
        let (flip_x, flip_y, transpose) = match value {
            2 => (true, false, false),
            3 => (true, true, false),
            4 => (false, true, false),
            5 => (false, false, true),
            6 => (false, true, true),
            7 => (true, true, true),
            8 => (true, false, true),
            _ => (false, false, false),
        };
        Turn {
            flip_x,
            flip_y,
            transpose,
        }
    }
}

/// The facts about a picture, before a single pixel is read. Width and height are those of the
/// file, before any turn.
pub(super) struct Picture {
    pub width: usize,
    pub height: usize,
    /// Bits a channel in the file.
    pub bits: u8,
    /// Channels in the file.
    pub channels: u8,
    pub samples: Samples,
    pub turn: Turn,
    pub dpi_tag: Option<DpiTag>,
    pub coding: Coding,
    pub warnings: Vec<String>,
    pub rows: Box<dyn Rows>,
}

/// Gives the rows of a picture from the top of the file down.
pub(super) trait Rows: Send {
    /// Fills `out` with the next rows; its length is a whole number of rows. `Samples` says how
    /// they lie.
    fn fill(&mut self, out: &mut [u8]) -> Result<(), ScanError>;
}

// A compressed picture cannot hold more than this many bytes for each byte of the file: deflate
// reaches 1032 to 1 by its format, LZW and JPEG stay below 1400 to 1 (RFC 1951; computed). A file
// that claims more is cut short or made to exhaust memory (test `a_bomb_is_refused`).
const MOST_BYTES_PER_BYTE: u64 = 2000;

/// Refuses sizes that the settings or plain sense forbid, before anything is set aside for them.
pub(super) fn check_size(
    open: &OpenFile,
    settings: &ScanSettings,
    width: u64,
    height: u64,
    bits_per_pixel: u64,
) -> Result<(), ScanError> {
    let file = || open.path.clone();
    if width == 0 || height == 0 {
        return Err(ScanError::Damaged {
            file: file(),
            what: format!("it states a size of {width} x {height} pixels"),
        });
    }
    let pixels = width.saturating_mul(height);
    if pixels > settings.max_pixels {
        return Err(ScanError::TooLarge {
            file: file(),
            width,
            height,
            max_pixels: settings.max_pixels,
        });
    }
    let bytes = pixels.saturating_mul(bits_per_pixel) / 8;
    if bytes > open.length.saturating_mul(MOST_BYTES_PER_BYTE) {
        return Err(ScanError::CutShort {
            file: file(),
            readable: format!(
                "its {} bytes cannot hold the {width} x {height} pixels it states",
                open.length
            ),
        });
    }
    Ok(())
}

/// Refuses to hold more than the cap.
pub(super) fn check_held(
    path: &Path,
    settings: &ScanSettings,
    what: &'static str,
    bytes: u64,
) -> Result<(), ScanError> {
    if bytes <= settings.max_held_bytes {
        return Ok(());
    }
    Err(ScanError::NeedsHolding {
        file: path.to_path_buf(),
        what,
        needed_mib: bytes.div_ceil(1 << 20),
        cap_mib: settings.max_held_bytes >> 20,
    })
}

/// The sentence of a file that ends in row `row` of `height`.
pub(super) fn cut_short(path: &Path, row: usize, height: usize) -> ScanError {
    ScanError::CutShort {
        file: path.to_path_buf(),
        readable: format!("{row} of {height} rows could be read"),
    }
}

/// A stretch of a file, read by position, so that several threads can share one open file.
pub(super) struct Stretch {
    file: Arc<File>,
    at: u64,
    end: u64,
}

impl Stretch {
    pub fn new(open: &OpenFile, at: u64, length: u64) -> Stretch {
        Stretch {
            file: Arc::clone(&open.file),
            at,
            end: at.saturating_add(length).min(open.length),
        }
    }

    /// Bytes not yet read.
    pub fn left(&self) -> u64 {
        self.end.saturating_sub(self.at)
    }
}

impl io::Read for Stretch {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let wanted = buf
            .len()
            .min(usize::try_from(self.left()).unwrap_or(usize::MAX));
        if wanted == 0 {
            return Ok(0);
        }
        let count = read_at(&self.file, &mut buf[..wanted], self.at)?;
        self.at += count as u64;
        Ok(count)
    }
}

#[cfg(unix)]
fn read_at(file: &File, buf: &mut [u8], at: u64) -> io::Result<usize> {
    std::os::unix::fs::FileExt::read_at(file, buf, at)
}

#[cfg(windows)]
fn read_at(file: &File, buf: &mut [u8], at: u64) -> io::Result<usize> {
    std::os::windows::fs::FileExt::seek_read(file, buf, at)
}

/// How rows of a file become rows of whole samples.
#[derive(Debug, Clone)]
pub(super) enum Expand {
    /// They are whole samples already.
    Whole,
    /// Grey packed in 1, 2 or 4 bits, spread over 0 to 255.
    Bits(u8),
    /// Numbers of 1, 2, 4 or 8 bits into a palette of 16-bit red, green and blue; the samples come
    /// out in little-endian order.
    Palette(u8, Vec<[u16; 3]>),
}

impl Expand {
    /// Expands one packed row.
    pub fn row(&self, packed: &[u8], out: &mut [u8]) {
        match self {
            Expand::Whole => out.copy_from_slice(packed),
            Expand::Bits(bits) => {
                let scale = 255 / ((1u16 << bits) - 1).max(1);
                for (i, value) in out.iter_mut().enumerate() {
                    *value = (code(packed, i, *bits) * scale) as u8;
                }
            }
            Expand::Palette(bits, palette) => {
                for (i, pixel) in out.chunks_exact_mut(6).enumerate() {
                    // Numbers beyond the palette are black, as PNG asks decoders to show them.
                    let colour = palette
                        .get(usize::from(code(packed, i, *bits)))
                        .copied()
                        .unwrap_or_default();
                    for (bytes, value) in pixel.chunks_exact_mut(2).zip(colour) {
                        bytes.copy_from_slice(&value.to_le_bytes());
                    }
                }
            }
        }
    }
}

/// The `i`-th number of `bits` bits (1, 2, 4 or 8), the first in the high bits; 0 beyond the end.
fn code(packed: &[u8], i: usize, bits: u8) -> u16 {
    let per_byte = usize::from(8 / bits.clamp(1, 8));
    let byte = packed.get(i / per_byte).copied().unwrap_or(0);
    let shift = 8 - usize::from(bits) * (i % per_byte + 1);
    u16::from(byte >> shift) & ((1u16 << bits) - 1)
}

/// Rows of a picture that had to be decoded as a whole.
pub(super) struct HeldRows {
    pub bytes: Vec<u8>,
    /// Bytes of one packed row.
    pub row_bytes: usize,
    pub expand: Expand,
    /// Bytes of one expanded row.
    pub out_row_bytes: usize,
    pub next_row: usize,
    pub path: PathBuf,
}

impl Rows for HeldRows {
    fn fill(&mut self, out: &mut [u8]) -> Result<(), ScanError> {
        let start = self.next_row * self.row_bytes;
        let rows = out.len() / self.out_row_bytes;
        let packed = self
            .bytes
            .get(start..start + rows * self.row_bytes)
            .ok_or_else(|| cut_short(&self.path, self.next_row, self.next_row + rows))?;
        if matches!(self.expand, Expand::Whole) {
            out.copy_from_slice(packed);
        } else {
            for (row, out) in packed
                .chunks_exact(self.row_bytes)
                .zip(out.chunks_exact_mut(self.out_row_bytes))
            {
                self.expand.row(row, out);
            }
        }
        self.next_row += rows;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packed_bits_spread_over_the_whole_range() {
        let mut out = [0u8; 5];
        Expand::Bits(2).row(&[0b00_01_10_11, 0b11_00_00_00], &mut out);
        assert_eq!(out, [0, 85, 170, 255, 255]);
        Expand::Bits(1).row(&[0b1011_0000], &mut out);
        assert_eq!(out, [255, 0, 255, 255, 0]);
        Expand::Bits(4).row(&[0x0f, 0x3c, 0xf0], &mut out);
        assert_eq!(out, [0, 255, 51, 204, 255]);
    }

    #[test]
    fn palette_numbers_beyond_its_end_are_black() {
        let mut out = [9u8; 12];
        Expand::Palette(8, vec![[1, 2, 0x0304]]).row(&[0, 7], &mut out);
        assert_eq!(out, [1, 0, 2, 0, 4, 3, 0, 0, 0, 0, 0, 0]);
    }
}
