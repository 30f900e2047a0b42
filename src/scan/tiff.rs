//! TIFF: what the directory says. The rows are read by `tiff_rows`.

use std::fs::File;
use std::io::BufReader;

use tiff::TiffError;
use tiff::decoder::Decoder;
use tiff::decoder::ifd::Value;
use tiff::tags::{Tag, Type, ValueBuffer};

use super::colour::Coding;
use super::picture::{Expand, OpenFile, Picture, Samples, Turn, check_size};
use super::tiff_rows::{Layout, open_rows};
use super::unpack::Packing;
use super::{DpiTag, DpiUnit, ScanError, ScanSettings};

// Largest value of a tag that is read, bytes. Our own choice: the largest colour profiles have a
// few MB (the mutation tests notice a change by the memory they take).
const MAX_TAG_BYTES: usize = 16 << 20;
// Pictures of one file that are looked at to find the full one. Our own choice.
const MAX_PICTURES: usize = 16;
// Most channels of a pixel that are read past. Our own choice: red, green, blue, infrared,
// opacity and room for three more.
const MAX_CHANNELS: u16 = 8;

type Directory = Decoder<BufReader<File>>;

/// Reads the directory of a TIFF file.
pub(super) fn open(open: &OpenFile, settings: &ScanSettings) -> Result<Picture, ScanError> {
    let mut warnings = Vec::new();
    let mut tags = Tags {
        directory: full_picture(open, &mut warnings)?,
        open,
    };
    let (width, height) = tags
        .directory
        .dimensions()
        .map_err(|error| tags.error(error))?;

    let bits = tags.list(Tag::BitsPerSample)?.first().copied().unwrap_or(1);
    let channels = tags.number(Tag::SamplesPerPixel)?.unwrap_or(1);
    let kind = tags.kind(bits, channels)?;
    let channels = u16::try_from(channels).unwrap_or(u16::MAX);
    if channels > MAX_CHANNELS {
        return Err(tags.unsupported(&format!("a TIFF with {channels} channels")));
    }
    let bits_per_pixel = bits.saturating_mul(u64::from(channels));
    check_size(open, settings, width.into(), height.into(), bits_per_pixel)?;
    let bits = bits as u8;
    let expand = tags.expand(bits, &kind)?;
    let samples = tags.samples(bits, channels, &kind, &expand, &mut warnings)?;

    let big_endian = matches!(
        tags.directory.byte_order(),
        tiff::tags::ByteOrder::BigEndian
    );
    let layout = tags.layout(bits, channels, big_endian)?;
    let turn = Turn::from_tag(tags.number(Tag::Orientation)?.unwrap_or(1) as u32);
    let dpi_tag = tags.dpi_tag();
    let coding = match tags.profile() {
        Some(profile) => Coding::Profile(profile),
        None => Coding::Unstated,
    };
    let palette = matches!(expand, Expand::Palette(..));
    let samples = Samples {
        big_endian: big_endian && !palette,
        ..samples
    };
    let rows = open_rows(open, settings, layout, expand, samples)?;
    Ok(Picture {
        width: width as usize,
        height: height as usize,
        bits,
        channels: channels as u8,
        samples,
        turn,
        dpi_tag,
        coding,
        warnings,
        rows,
    })
}

/// The directory of the first picture that is not a reduced copy of another.
fn full_picture(open: &OpenFile, warnings: &mut Vec<String>) -> Result<Directory, ScanError> {
    let directory = || -> Result<Directory, ScanError> {
        let file = File::open(&open.path).map_err(|error| ScanError::from_io(&open.path, error))?;
        let mut limits = tiff::decoder::Limits::default();
        limits.decoding_buffer_size = MAX_TAG_BYTES;
        limits.intermediate_buffer_size = MAX_TAG_BYTES;
        limits.ifd_value_size = MAX_TAG_BYTES;
        let decoder =
            Decoder::new(BufReader::new(file)).map_err(|error| tiff_error(open, error))?;
        Ok(decoder.with_limits(limits))
    };
    let mut first = directory()?;
    if !first.more_images() && !is_reduced(&mut first) {
        return Ok(first);
    }
    let mut seen = first;
    let mut index = 0;
    while is_reduced(&mut seen) && seen.more_images() && index < MAX_PICTURES {
        if seen.next_image().is_err() {
            return directory();
        }
        index += 1;
    }
    if is_reduced(&mut seen) {
        return directory();
    }
    let full = index;
    let mut others = false;
    while seen.more_images() && index < MAX_PICTURES && seen.next_image().is_ok() {
        index += 1;
        others |= !is_reduced(&mut seen);
    }
    if others {
        warnings.push(
            "The file holds more than one picture; the first was read. Save the others as files of their own."
                .into(),
        );
    }
    let mut chosen = directory()?;
    for _ in 0..full {
        chosen
            .next_image()
            .map_err(|error| tiff_error(open, error))?;
    }
    Ok(chosen)
}

/// Whether the directory describes a thumbnail (TIFF 6.0, NewSubfileType, bit 0).
fn is_reduced(directory: &mut Directory) -> bool {
    let kind = value(directory, Tag::NewSubfileType).ok().flatten();
    kind.is_some_and(|kind| kind.into_u64().is_ok_and(|kind| kind & 1 == 1))
}

/// The value of a tag that is meant to be a number. Text is left alone: the library prints a
/// complaint of its own about one that is too long.
fn value(directory: &mut Directory, tag: Tag) -> Result<Option<Value>, TiffError> {
    let mut tags = directory.image_ifd();
    match tags.find_entry(tag) {
        Some(entry) if entry.field_type() == Type::ASCII => Err(TiffError::FormatError(
            tiff::TiffFormatError::InvalidTagValueType(tag),
        )),
        Some(_) => tags.find_tag(tag),
        None => Ok(None),
    }
}

/// What the values of a pixel mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Grey { white_is_zero: bool },
    Rgb,
    Palette,
}

struct Tags<'a> {
    directory: Directory,
    open: &'a OpenFile,
}

impl Tags<'_> {
    fn error(&self, error: TiffError) -> ScanError {
        tiff_error(self.open, error)
    }

    fn unsupported(&self, what: &str) -> ScanError {
        ScanError::Unsupported {
            file: self.open.path.clone(),
            what: what.into(),
        }
    }

    fn damaged(&self, what: impl Into<String>) -> ScanError {
        ScanError::Damaged {
            file: self.open.path.clone(),
            what: what.into(),
        }
    }

    fn number(&mut self, tag: Tag) -> Result<Option<u64>, ScanError> {
        let value = value(&mut self.directory, tag);
        let number = value.and_then(|value| value.map(Value::into_u64).transpose());
        number.map_err(|error| self.error(error))
    }

    fn list(&mut self, tag: Tag) -> Result<Vec<u64>, ScanError> {
        let value = value(&mut self.directory, tag);
        let list = value.and_then(|value| value.map(Value::into_u64_vec).transpose());
        Ok(list.map_err(|error| self.error(error))?.unwrap_or_default())
    }

    /// What the values mean; refuses all that is not plain grey, RGB or palette.
    fn kind(&mut self, bits: u64, channels: u64) -> Result<Kind, ScanError> {
        let formats = self.list(Tag::SampleFormat)?;
        // TIFF 6.0, SampleFormat: 1 unsigned, 2 signed, 3 floating point, 4 undefined.
        if formats.contains(&3) {
            return Err(self.unsupported("a TIFF with floating point values"));
        }
        if formats.iter().any(|&format| format != 1 && format != 4) {
            return Err(self.unsupported("a TIFF with signed values"));
        }
        if self.number(Tag::FillOrder)? == Some(2) {
            return Err(self.unsupported("a TIFF with reversed bits (FillOrder 2)"));
        }
        let photometric = self.number(Tag::PhotometricInterpretation)?;
        let kind = match photometric {
            Some(0) => Kind::Grey {
                white_is_zero: true,
            },
            Some(1) => Kind::Grey {
                white_is_zero: false,
            },
            Some(2) if channels < 3 => {
                return Err(self.damaged(format!("an RGB picture cannot have {channels} channels")));
            }
            Some(2) => Kind::Rgb,
            Some(3) => Kind::Palette,
            Some(4) => return Err(self.unsupported("a TIFF with a mask instead of a picture")),
            Some(5) => return Err(self.unsupported("a CMYK picture (made for printing)")),
            Some(6) => return Err(self.unsupported("a TIFF in YCbCr colour")),
            Some(8..=10) => return Err(self.unsupported("a picture in Lab colour")),
            _ => return Err(self.unsupported(OTHER_KIND)),
        };
        let fits = match kind {
            Kind::Grey { .. } => {
                matches!(bits, 8 | 16) || (channels == 1 && matches!(bits, 1 | 2 | 4))
            }
            Kind::Rgb => matches!(bits, 8 | 16),
            Kind::Palette => channels == 1 && matches!(bits, 1 | 2 | 4 | 8),
        };
        if fits {
            return Ok(kind);
        }
        Err(self.unsupported(&format!(
            "a TIFF with {bits} bits a channel and {channels} channels"
        )))
    }

    fn expand(&mut self, bits: u8, kind: &Kind) -> Result<Expand, ScanError> {
        if *kind != Kind::Palette {
            return Ok(if bits < 8 {
                Expand::Bits(bits)
            } else {
                Expand::Whole
            });
        }
        let map = self.list(Tag::ColorMap)?;
        let entries = 1usize << bits;
        if map.len() != 3 * entries {
            return Err(self.damaged("its palette has the wrong length"));
        }
        // Some writers store 8-bit values where TIFF 6.0 asks for 16-bit ones: common practice
        // among readers is to tell by the largest.
        let scale = if map.iter().all(|&value| value < 256) {
            257
        } else {
            1
        };
        let value = |i: usize| (map[i].min(65_535 / scale) * scale) as u16;
        let palette = (0..entries)
            .map(|i| [value(i), value(entries + i), value(2 * entries + i)])
            .collect();
        Ok(Expand::Palette(bits, palette))
    }

    fn samples(
        &mut self,
        bits: u8,
        channels: u16,
        kind: &Kind,
        expand: &Expand,
        warnings: &mut Vec<String>,
    ) -> Result<Samples, ScanError> {
        let big_endian = false;
        if matches!(expand, Expand::Palette(..)) {
            return Ok(Samples {
                per_pixel: 3,
                colour: 3,
                alpha: None,
                bytes: 2,
                big_endian,
                white_is_zero: false,
            });
        }
        let colour = if *kind == Kind::Rgb { 3 } else { 1 };
        let extra = self.list(Tag::ExtraSamples)?;
        // TIFF 6.0, ExtraSamples: 1 and 2 are opacity.
        let alpha = extra
            .iter()
            .position(|&kind| kind == 1 || kind == 2)
            .map(|i| colour + i);
        let alpha = alpha.filter(|&i| i < usize::from(channels));
        let others = usize::from(channels) - colour - usize::from(alpha.is_some());
        if others > 0 {
            warnings.push(format!(
                "{others} channel(s) beside the colour, such as an infrared channel, were left out."
            ));
        }
        Ok(Samples {
            per_pixel: usize::from(channels),
            colour,
            alpha,
            bytes: if bits == 16 { 2 } else { 1 },
            big_endian,
            white_is_zero: *kind
                == Kind::Grey {
                    white_is_zero: true,
                },
        })
    }

    fn layout(&mut self, bits: u8, channels: u16, big_endian: bool) -> Result<Layout, ScanError> {
        let (width, height) = self
            .directory
            .dimensions()
            .map_err(|error| self.error(error))?;
        let packing = match self.number(Tag::Compression)?.unwrap_or(1) {
            1 => Packing::None,
            5 => Packing::Lzw,
            8 | 32_946 => Packing::Deflate,
            32_773 => Packing::PackBits,
            6 | 7 => return Err(self.unsupported("a TIFF with JPEG inside")),
            2..=4 => return Err(self.unsupported("a TIFF packed for fax")),
            other => {
                return Err(self.unsupported(&format!("a TIFF with compression number {other}")));
            }
        };
        let packed = matches!(packing, Packing::Lzw | Packing::Deflate);
        let predictor = match self.number(Tag::Predictor)?.unwrap_or(1) {
            2 if packed && bits < 8 => {
                return Err(self.unsupported("a TIFF with predicted values of less than 8 bits"));
            }
            2 => packed,
            3 if packed => return Err(self.unsupported("a TIFF with a floating point predictor")),
            _ => false,
        };
        let planar = self.number(Tag::PlanarConfiguration)? == Some(2) && channels > 1;
        let tiled = self.directory.get_chunk_type() == tiff::decoder::ChunkType::Tile;
        let (chunk_width, chunk_height) = self.directory.chunk_dimensions();
        let (offsets, counts) = if tiled {
            (
                self.list(Tag::TileOffsets)?,
                self.list(Tag::TileByteCounts)?,
            )
        } else {
            (
                self.list(Tag::StripOffsets)?,
                self.list(Tag::StripByteCounts)?,
            )
        };
        // Strips are as wide as the picture and not taller.
        let chunk_height = if tiled {
            chunk_height
        } else {
            chunk_height.min(height)
        };
        let layout = Layout {
            width: width as usize,
            height: height as usize,
            planes: if planar { usize::from(channels) } else { 1 },
            samples: if planar { 1 } else { usize::from(channels) },
            bits: usize::from(bits),
            big_endian,
            tiled,
            chunk_width: chunk_width as usize,
            chunk_height: chunk_height as usize,
            offsets,
            counts,
            packing,
            predictor,
        };
        let chunks = layout.across() * layout.down() * layout.planes;
        if layout.offsets.len() < chunks || layout.counts.len() < chunks {
            return Err(self.damaged("its list of strips or tiles is too short"));
        }
        Ok(layout)
    }

    fn dpi_tag(&mut self) -> Option<DpiTag> {
        let mut value = |tag| match value(&mut self.directory, tag) {
            Ok(Some(value)) => value.into_f64_lossy(),
            _ => None,
        };
        let (x, y) = (value(Tag::XResolution)?, value(Tag::YResolution)?);
        let unit = match self.number(Tag::ResolutionUnit).ok()? {
            Some(1) => DpiUnit::None,
            Some(3) => DpiUnit::Centimetre,
            // TIFF 6.0: inch when not stated.
            _ => DpiUnit::Inch,
        };
        Some(DpiTag { x, y, unit })
    }

    fn profile(&mut self) -> Option<Vec<u8>> {
        let mut buffer = ValueBuffer::empty(Type::BYTE);
        let found = self
            .directory
            .image_ifd()
            .find_tag_buf(Tag::IccProfile, &mut buffer);
        match found {
            Ok(Some(_)) => Some(buffer.as_bytes().to_vec()),
            Ok(None) => None,
            // A profile that cannot be read is one that cannot be used.
            Err(_) => Some(Vec::new()),
        }
    }
}

const OTHER_KIND: &str = "a TIFF that is not grey, RGB or palette (raw camera data, for example)";

/// Plain number of a resolution tag, which should be a rational but sometimes is not.
trait IntoF64 {
    fn into_f64_lossy(self) -> Option<f64>;
}

impl IntoF64 for Value {
    fn into_f64_lossy(self) -> Option<f64> {
        let value = match self {
            Value::Rational(n, d) => f64::from(n) / f64::from(d),
            Value::SRational(n, d) => f64::from(n) / f64::from(d),
            Value::Float(value) => f64::from(value),
            Value::Double(value) => value,
            Value::Short(value) => f64::from(value),
            Value::Unsigned(value) => f64::from(value),
            _ => return None,
        };
        (value.is_finite() && value > 0.0).then_some(value)
    }
}

fn tiff_error(open: &OpenFile, error: TiffError) -> ScanError {
    let file = open.path.clone();
    match error {
        TiffError::IoError(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
            ScanError::CutShort {
                file,
                readable: "its directory could not be read".into(),
            }
        }
        TiffError::IoError(error) => ScanError::from_io(&open.path, error),
        TiffError::UnsupportedError(tiff::TiffUnsupportedError::UnknownInterpretation) => {
            ScanError::Unsupported {
                file,
                what: OTHER_KIND.into(),
            }
        }
        TiffError::UnsupportedError(error) => ScanError::Unsupported {
            file,
            what: format!("this kind of TIFF ({error})"),
        },
        error => ScanError::Damaged {
            file,
            what: format!("its directory makes no sense ({error})"),
        },
    }
}
