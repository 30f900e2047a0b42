//! PNG: header, colour chunks and rows.

use std::fs::File;
use std::io::BufReader;
use std::path::PathBuf;

use png::{ColorType, Decoder, DecodingError, Info, Limits, Reader, Transformations};

use super::colour::{Chromaticities, Coding};
use super::exif::Exif;
use super::picture::{
    Expand, HeldRows, OpenFile, Picture, Rows, Samples, Turn, check_held, check_size, cut_short,
};
use super::{DpiTag, DpiUnit, ScanError, ScanSettings};

// Memory the decoder may take for chunks beside the pixels and for one row, bytes. Our own choice:
// profiles have a few MB, a row of 16-bit RGBA of 300 000 pixels has 2.4 MB.
const DECODER_BYTES: usize = 32 << 20;

type Source = BufReader<File>;

/// Reads a PNG file up to its first pixel.
pub(super) fn open(open: &OpenFile, settings: &ScanSettings) -> Result<Picture, ScanError> {
    let path = &open.path;
    let file = File::open(path).map_err(|error| ScanError::from_io(path, error))?;
    let mut decoder = Decoder::new_with_limits(
        BufReader::with_capacity(256 << 10, file),
        Limits {
            bytes: DECODER_BYTES,
        },
    );
    decoder.set_transformations(Transformations::IDENTITY);
    decoder.set_ignore_text_chunk(true);
    let header = decoder
        .read_header_info()
        .map_err(|error| png_error(path, error, None))?;
    let (width, height) = header.size();
    let bits_per_pixel = header.bits_per_pixel() as u64;
    check_size(open, settings, width.into(), height.into(), bits_per_pixel)?;
    let mut reader = decoder
        .read_info()
        .map_err(|error| png_error(path, error, None))?;

    let info = reader.info();
    let bits = info.bit_depth as u8;
    let (expand, samples) = meaning(path, info)?;
    let mut warnings = Vec::new();
    if info.trns.is_some() {
        warnings
            .push("The PNG marks some colours as transparent; they were read as they are.".into());
    }
    if info.animation_control.is_some() {
        warnings.push("The PNG is animated; only its first picture was read.".into());
    }
    let exif = info
        .exif_metadata
        .as_deref()
        .map(|bytes| Exif::read(bytes.to_vec()));
    let exif = exif.unwrap_or_default();
    let dpi_tag = info.pixel_dims.map(|dims| DpiTag {
        x: f64::from(dims.xppu),
        y: f64::from(dims.yppu),
        unit: if dims.unit == png::Unit::Meter {
            DpiUnit::Metre
        } else {
            DpiUnit::None
        },
    });
    let coding = coding(info, &mut warnings);
    let channels = info.color_type.samples() as u8;
    let interlaced = info.interlaced;

    let (width, height) = (width as usize, height as usize);
    let row_bytes = reader.output_line_size(reader.info().width).unwrap_or(0);
    let out_row_bytes = width * samples.pixel_bytes();
    let rows: Box<dyn Rows> = if interlaced {
        let size = row_bytes as u64 * height as u64;
        check_held(path, settings, "an interlaced PNG", size.saturating_mul(2))?;
        let mut bytes = vec![0; size as usize];
        reader
            .next_frame(&mut bytes)
            .map_err(|error| png_error(path, error, None))?;
        Box::new(HeldRows {
            bytes,
            row_bytes,
            expand,
            out_row_bytes,
            next_row: 0,
            path: path.clone(),
        })
    } else {
        Box::new(PngRows {
            path: path.clone(),
            reader,
            row: vec![0; row_bytes],
            expand,
            out_row_bytes,
            next_row: 0,
            height,
        })
    };
    Ok(Picture {
        width,
        height,
        bits,
        channels,
        samples,
        turn: Turn::from_tag(exif.orientation.unwrap_or(1)),
        dpi_tag: dpi_tag.or(exif.dpi_tag),
        coding,
        warnings,
        rows,
    })
}

/// How the rows of this PNG become whole samples.
fn meaning(path: &std::path::Path, info: &Info) -> Result<(Expand, Samples), ScanError> {
    let bits = info.bit_depth as u8;
    let (colour, alpha) = match info.color_type {
        ColorType::Grayscale => (1, None),
        ColorType::GrayscaleAlpha => (1, Some(1)),
        ColorType::Rgb => (3, None),
        ColorType::Rgba => (3, Some(3)),
        ColorType::Indexed => {
            let palette = info.palette.as_deref().ok_or_else(|| ScanError::Damaged {
                file: path.to_path_buf(),
                what: "its palette is missing".into(),
            })?;
            let palette = palette
                .chunks_exact(3)
                .map(|c| [c[0], c[1], c[2]].map(|v| u16::from(v) * 257));
            let samples = Samples {
                per_pixel: 3,
                colour: 3,
                alpha: None,
                bytes: 2,
                big_endian: false,
                white_is_zero: false,
            };
            return Ok((Expand::Palette(bits, palette.collect()), samples));
        }
    };
    let expand = if bits < 8 {
        Expand::Bits(bits)
    } else {
        Expand::Whole
    };
    let samples = Samples {
        per_pixel: colour + usize::from(alpha.is_some()),
        colour,
        alpha,
        bytes: if bits == 16 { 2 } else { 1 },
        big_endian: true,
        white_is_zero: false,
    };
    Ok((expand, samples))
}

/// The tone curve the file states, in the order of precedence of the PNG specification.
fn coding(info: &Info, warnings: &mut Vec<String>) -> Coding {
    if let Some(points) = info.coding_independent_code_points {
        // ITU-T H.273: primaries 1 are those of sRGB, transfer 13 its curve, 8 is linear.
        match (points.color_primaries, points.transfer_function, points.matrix_coefficients) {
            (1, 13, 0) => return Coding::Srgb("PNG cICP (sRGB)"),
            (1, 8, 0) => return Coding::Linear("PNG cICP (linear)"),
            _ => warnings.push(
                "The PNG states its colours in a cICP chunk of a kind that is not read; its other colour chunks were used."
                    .into(),
            ),
        }
    }
    if let Some(profile) = &info.icc_profile {
        return Coding::Profile(profile.to_vec());
    }
    if info.srgb.is_some() {
        return Coding::Srgb("PNG sRGB chunk");
    }
    let Some(gamma) = info.gama_chunk.map(|gamma| gamma.into_value()) else {
        return Coding::Unstated;
    };
    let chromaticities = info.chrm_chunk.map(|c| {
        let point = |(x, y): (png::ScaledFloat, png::ScaledFloat)| {
            [f64::from(x.into_value()), f64::from(y.into_value())]
        };
        Chromaticities {
            white: point(c.white),
            red: point(c.red),
            green: point(c.green),
            blue: point(c.blue),
        }
    });
    Coding::PngGamma {
        gamma: f64::from(gamma),
        chromaticities,
    }
}

/// Rows of a PNG that is not interlaced.
struct PngRows {
    path: PathBuf,
    reader: Reader<Source>,
    row: Vec<u8>,
    expand: Expand,
    out_row_bytes: usize,
    next_row: usize,
    height: usize,
}

impl Rows for PngRows {
    fn fill(&mut self, out: &mut [u8]) -> Result<(), ScanError> {
        for out in out.chunks_exact_mut(self.out_row_bytes.max(1)) {
            let whole = matches!(self.expand, Expand::Whole);
            let row = if whole { &mut *out } else { &mut self.row };
            let read = self.reader.read_row(row);
            let reached = Some((self.next_row, self.height));
            match read {
                Ok(Some(_)) => {}
                Ok(None) => return Err(cut_short(&self.path, self.next_row, self.height)),
                Err(error) => return Err(png_error(&self.path, error, reached)),
            }
            if !whole {
                self.expand.row(&self.row, out);
            }
            self.next_row += 1;
        }
        Ok(())
    }
}

fn png_error(
    path: &std::path::Path,
    error: DecodingError,
    reached: Option<(usize, usize)>,
) -> ScanError {
    let file = path.to_path_buf();
    match error {
        DecodingError::IoError(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
            match reached {
                Some((row, height)) => cut_short(path, row, height),
                None => ScanError::CutShort {
                    file,
                    readable: "no row could be read".into(),
                },
            }
        }
        DecodingError::IoError(error) => ScanError::from_io(path, error),
        DecodingError::LimitsExceeded => ScanError::Damaged {
            file,
            what: format!(
                "a part of it beside the pixels is larger than {} MiB",
                DECODER_BYTES >> 20
            ),
        },
        error => ScanError::Damaged {
            file,
            what: match reached {
                Some((row, height)) => {
                    format!("the pixels from row {row} of {height} on cannot be unpacked ({error})")
                }
                None => error.to_string(),
            },
        },
    }
}
