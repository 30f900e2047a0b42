//! JPEG: markers and pixels. A JPEG is decoded as a whole.

use std::io::Read;
use std::path::Path;

use zune_core::bytestream::ZCursor;
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;

use super::colour::Coding;
use super::exif::Exif;
use super::picture::{
    Expand, HeldRows, OpenFile, Picture, Samples, Stretch, Turn, check_held, check_size,
};
use super::{DpiTag, DpiUnit, ScanError, ScanSettings};

// A JPEG cannot be larger (its sizes have 16 bits).
const MAX_SIDE_PX: usize = 65_535;

/// Reads and decodes a JPEG file.
pub(super) fn open(open: &OpenFile, settings: &ScanSettings) -> Result<Picture, ScanError> {
    let path = &open.path;
    check_held(path, settings, "a JPEG", open.length)?;
    let mut bytes = Vec::with_capacity(open.length as usize);
    Stretch::new(open, 0, open.length)
        .read_to_end(&mut bytes)
        .map_err(|error| ScanError::from_io(path, error))?;

    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes.as_slice()), options(true));
    if let Err(error) = decoder.decode_headers() {
        decoder = JpegDecoder::new_with_options(ZCursor::new(bytes.as_slice()), options(false));
        decoder
            .decode_headers()
            .map_err(|_| jpeg_error(path, error))?;
    }
    let unclear = || ScanError::Damaged {
        file: path.clone(),
        what: "its headers make no sense".into(),
    };
    let info = decoder.info().ok_or_else(unclear)?;
    let (width, height) = (usize::from(info.width), usize::from(info.height));
    let (colour, out_space) = match decoder.input_colorspace() {
        Some(ColorSpace::Luma) => (1, ColorSpace::Luma),
        Some(ColorSpace::YCbCr | ColorSpace::RGB) => (3, ColorSpace::RGB),
        Some(ColorSpace::CMYK | ColorSpace::YCCK) => {
            return Err(unsupported(path, "a CMYK picture (made for printing)"));
        }
        _ => {
            let what = format!("a JPEG with {} channels", info.components);
            return Err(unsupported(path, &what));
        }
    };
    check_size(
        open,
        settings,
        width as u64,
        height as u64,
        8 * colour as u64,
    )?;
    let size = (width * height * colour) as u64;
    // A progressive JPEG keeps two bytes for each coefficient until its last scan.
    let working = if info.sof.is_sequential_dct() {
        0
    } else {
        size * 2
    };
    check_held(path, settings, "a JPEG", open.length + size + working)?;

    let mut warnings = Vec::new();
    let exif = info.exif_data.clone().map(Exif::read).unwrap_or_default();
    let profile = decoder.icc_profile();
    let coding = match profile {
        Some(profile) => Coding::Profile(profile),
        None if exif.is_srgb => Coding::Srgb("EXIF (sRGB)"),
        None => Coding::Unstated,
    };
    let dpi_tag = dpi_tag(&bytes, &exif);
    drop(decoder);
    let bytes = pixels(
        path,
        &bytes,
        out_space,
        (width, height, colour),
        &mut warnings,
    )?;
    let row_bytes = width * colour;
    Ok(Picture {
        width,
        height,
        bits: 8,
        channels: colour as u8,
        samples: Samples {
            per_pixel: colour,
            colour,
            alpha: None,
            bytes: 1,
            big_endian: false,
            white_is_zero: false,
        },
        turn: Turn::from_tag(exif.orientation.unwrap_or(1)),
        dpi_tag,
        coding,
        warnings,
        rows: Box::new(HeldRows {
            bytes,
            row_bytes,
            expand: Expand::Whole,
            out_row_bytes: row_bytes,
            next_row: 0,
            path: path.clone(),
        }),
    })
}

fn options(strict: bool) -> DecoderOptions {
    DecoderOptions::default()
        .set_strict_mode(strict)
        .set_max_width(MAX_SIDE_PX)
        .set_max_height(MAX_SIDE_PX)
}

/// Decodes the pixels: strictly, and if that fails once more as far as it goes, with a warning.
fn pixels(
    path: &Path,
    bytes: &[u8],
    out_space: ColorSpace,
    (width, height, colour): (usize, usize, usize),
    warnings: &mut Vec<String>,
) -> Result<Vec<u8>, ScanError> {
    let mut out = vec![0; width * height * colour];
    let decode = |strict, out: &mut [u8]| -> Result<(), DecodeErrors> {
        let options = options(strict).jpeg_set_out_colorspace(out_space);
        let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
        decoder.decode_headers()?;
        if decoder.output_buffer_size() != Some(out.len()) {
            return Err(DecodeErrors::FormatStatic(
                "its headers contradict each other",
            ));
        }
        decoder.decode_into(out)
    };
    let ended = has_end(bytes);
    let strict = decode(true, &mut out);
    if strict.is_ok() && ended {
        return Ok(out);
    }
    if strict.is_err() {
        decode(false, &mut out).map_err(|error| jpeg_error(path, error))?;
    }
    if !ended {
        // What is missing comes out even grey.
        let row_bytes = width * colour;
        let even = |row: &&[u8]| {
            row.chunks_exact(colour)
                .all(|pixel| pixel == &row[..colour])
        };
        let missing = out.chunks_exact(row_bytes).rev().take_while(even).count();
        return Err(ScanError::CutShort {
            file: path.to_path_buf(),
            readable: format!("about {} of {height} rows could be read", height - missing),
        });
    }
    warnings.push(
        "The JPEG data hold an error; part of the picture may be wrong. Save or scan it again."
            .into(),
    );
    Ok(out)
}

/// Whether the pixel data are followed by an end marker. Within pixel data the marker cannot occur
/// (ITU-T T.81, B.1.1.5), but a thumbnail before them has one of its own.
fn has_end(bytes: &[u8]) -> bool {
    let data = segments(bytes).last().map_or(0, |segment| segment.end);
    bytes
        .get(data..)
        .unwrap_or_default()
        .windows(2)
        .any(|pair| pair == [0xff, 0xd9])
}

struct Segment<'a> {
    marker: u8,
    body: &'a [u8],
    end: usize,
}

/// The marker segments up to and with the start of the first scan.
fn segments(bytes: &[u8]) -> impl Iterator<Item = Segment<'_>> {
    let mut at = 2;
    let mut in_pixels = false;
    std::iter::from_fn(move || {
        if in_pixels {
            return None;
        }
        // Fill bytes may stand before a marker (ITU-T T.81, B.1.1.2).
        while bytes.get(at) == Some(&0xff) && bytes.get(at + 1) == Some(&0xff) {
            at += 1;
        }
        let head = bytes.get(at..at + 4)?;
        if head[0] != 0xff {
            return None;
        }
        let length = usize::from(u16::from_be_bytes([head[2], head[3]]));
        let end = at + 2 + length.max(2);
        let segment = Segment {
            marker: head[1],
            body: bytes.get(at + 4..end)?,
            end,
        };
        at = end;
        in_pixels = segment.marker == 0xda;
        Some(segment)
    })
}

/// The resolution: the JFIF header's when it has a unit, else EXIF's. Software that does not know
/// writes 72 (common practice), so a JFIF resolution of 72 gives way to EXIF's.
fn dpi_tag(bytes: &[u8], exif: &Exif) -> Option<DpiTag> {
    let jfif = segments(bytes).find_map(|segment| {
        let body = segment.body;
        if segment.marker != 0xe0 || body.len() < 12 || !body.starts_with(b"JFIF\0") {
            return None;
        }
        let unit = match body[7] {
            1 => DpiUnit::Inch,
            2 => DpiUnit::Centimetre,
            _ => DpiUnit::None,
        };
        let value = |i: usize| f64::from(u16::from_be_bytes([body[i], body[i + 1]]));
        let (x, y) = (value(8), value(10));
        (x > 0.0 && y > 0.0).then_some(DpiTag { x, y, unit })
    });
    let sure = |tag: &DpiTag| tag.unit != DpiUnit::None && tag.x != 72.0;
    jfif.filter(sure).or(exif.dpi_tag).or(jfif)
}

fn unsupported(path: &Path, what: &str) -> ScanError {
    ScanError::Unsupported {
        file: path.to_path_buf(),
        what: what.into(),
    }
}

fn jpeg_error(path: &Path, error: DecodeErrors) -> ScanError {
    let file = path.to_path_buf();
    match error {
        DecodeErrors::ExhaustedData => ScanError::CutShort {
            file,
            readable: "no row could be read".into(),
        },
        DecodeErrors::Unsupported(what) => ScanError::Unsupported {
            file,
            what: format!("this kind of JPEG ({what:?})"),
        },
        DecodeErrors::SofError(what) if what.contains("bits of precision") => {
            ScanError::Unsupported {
                file,
                what: "a JPEG with more than 8 bits a channel".into(),
            }
        }
        error => ScanError::Damaged {
            file,
            what: one_line(&error.to_string()),
        },
    }
}

/// A library's message on one line of moderate length.
fn one_line(text: &str) -> String {
    let words: Vec<_> = text.split_whitespace().collect();
    words.join(" ").chars().take(160).collect()
}
