//! Builds small scan files of every kind that the tests of the scan room need.

use std::io::Write;
use std::path::{Path, PathBuf};

/// A picture in memory: codes of all samples, pixel by pixel.
#[derive(Debug, Clone)]
pub struct Codes {
    pub width: usize,
    pub height: usize,
    pub samples: usize,
    pub values: Vec<u16>,
}

impl Codes {
    /// A picture whose code at (row, column, sample) is given by a function.
    pub fn new(
        width: usize,
        height: usize,
        samples: usize,
        code: impl Fn(usize, usize, usize) -> u16,
    ) -> Codes {
        let mut values = Vec::with_capacity(width * height * samples);
        for row in 0..height {
            for column in 0..width {
                values.extend((0..samples).map(|sample| code(row, column, sample)));
            }
        }
        Codes {
            width,
            height,
            samples,
            values,
        }
    }

    /// Codes that differ everywhere, of `bits` bits, none at either end of the range.
    pub fn varied(width: usize, height: usize, samples: usize, bits: u32) -> Codes {
        let last = (1u64 << bits) - 1;
        Codes::new(width, height, samples, |row, column, sample| {
            let mixed = (row as u64 * 7919 + column as u64 * 104_729 + sample as u64 * 1_299_709)
                .wrapping_mul(0x9E37_79B9_7F4A_7C15)
                >> 33;
            (1 + mixed % (last - 1)) as u16
        })
    }

    pub fn at(&self, row: usize, column: usize, sample: usize) -> u16 {
        self.values[(row * self.width + column) * self.samples + sample]
    }

    /// The picture seen after `turn` (1 to 8) has been applied to this one as it lies in the file.
    pub fn turned(&self, turn: u16) -> Codes {
        let (w, h) = (self.width, self.height);
        let (width, height) = if turn >= 5 { (h, w) } else { (w, h) };
        Codes::new(width, height, self.samples, |row, column, sample| {
            let (r, c) = match turn {
                2 => (row, w - 1 - column),
                3 => (h - 1 - row, w - 1 - column),
                4 => (h - 1 - row, column),
                5 => (column, row),
                6 => (h - 1 - column, row),
                7 => (h - 1 - column, w - 1 - row),
                8 => (column, w - 1 - row),
                _ => (row, column),
            };
            self.at(r, c, sample)
        })
    }
}

/// How a TIFF file is laid out.
#[derive(Debug, Clone)]
pub struct Tiff {
    pub bits: u16,
    pub photometric: u16,
    pub big_endian: bool,
    pub big_tiff: bool,
    pub planar: bool,
    pub compression: u16,
    pub predictor: u16,
    pub rows_per_strip: usize,
    pub tile: Option<(usize, usize)>,
    pub dpi: Option<(u32, u16)>,
    pub orientation: u16,
    pub profile: Option<Vec<u8>>,
    /// Further tags with 16-bit values.
    pub shorts: Vec<(u16, Vec<u16>)>,
}

impl Default for Tiff {
    fn default() -> Self {
        Tiff {
            bits: 8,
            photometric: 1,
            big_endian: false,
            big_tiff: false,
            planar: false,
            compression: 1,
            predictor: 1,
            rows_per_strip: usize::MAX,
            tile: None,
            dpi: Some((600, 2)),
            orientation: 1,
            profile: None,
            shorts: Vec::new(),
        }
    }
}

struct Out {
    bytes: Vec<u8>,
    big_endian: bool,
    big_tiff: bool,
}

impl Out {
    fn number(&mut self, value: u64, size: usize) {
        if self.big_endian {
            self.bytes.extend(&value.to_be_bytes()[8 - size..]);
        } else {
            self.bytes.extend(&value.to_le_bytes()[..size]);
        }
    }

    fn offset_size(&self) -> usize {
        if self.big_tiff { 8 } else { 4 }
    }
}

impl Tiff {
    pub fn rgb16() -> Tiff {
        Tiff {
            bits: 16,
            photometric: 2,
            ..Tiff::default()
        }
    }

    pub fn rgb8() -> Tiff {
        Tiff {
            photometric: 2,
            ..Tiff::default()
        }
    }

    /// The file's bytes.
    pub fn encode(&self, codes: &Codes) -> Vec<u8> {
        let mut out = Out {
            bytes: Vec::new(),
            big_endian: self.big_endian,
            big_tiff: self.big_tiff,
        };
        out.bytes
            .extend(if self.big_endian { b"MM" } else { b"II" });
        if self.big_tiff {
            out.number(43, 2);
            out.number(8, 2);
            out.number(0, 2);
        } else {
            out.number(42, 2);
        }
        let pointer = out.bytes.len();
        let size = out.offset_size();
        out.number(0, size);

        let (mut offsets, mut counts) = (Vec::new(), Vec::new());
        for chunk in self.chunks(codes) {
            offsets.push(out.bytes.len() as u64);
            counts.push(chunk.len() as u64);
            out.bytes.extend(&chunk);
            if out.bytes.len() % 2 == 1 {
                out.bytes.push(0);
            }
        }

        let mut tags: Vec<(u16, u16, Vec<u64>)> = vec![
            (256, 4, vec![codes.width as u64]),
            (257, 4, vec![codes.height as u64]),
            (258, 3, vec![self.bits.into(); codes.samples]),
            (259, 3, vec![self.compression.into()]),
            (262, 3, vec![self.photometric.into()]),
            (274, 3, vec![self.orientation.into()]),
            (277, 3, vec![codes.samples as u64]),
            (284, 3, vec![if self.planar { 2 } else { 1 }]),
        ];
        if self.predictor != 1 {
            tags.push((317, 3, vec![self.predictor.into()]));
        }
        if let Some((dpi, unit)) = self.dpi {
            tags.extend([(282, 5, vec![dpi.into(), 1]), (283, 5, vec![dpi.into(), 1])]);
            tags.push((296, 3, vec![unit.into()]));
        }
        let long = if self.big_tiff { 16 } else { 4 };
        if let Some((width, height)) = self.tile {
            tags.extend([(322, 4, vec![width as u64]), (323, 4, vec![height as u64])]);
            tags.extend([(324, long, offsets), (325, long, counts)]);
        } else {
            tags.push((278, 4, vec![self.rows_per_strip.min(codes.height) as u64]));
            tags.extend([(273, long, offsets), (279, long, counts)]);
        }
        for (tag, values) in &self.shorts {
            tags.retain(|(other, ..)| other != tag);
            tags.push((*tag, 3, values.iter().map(|&value| value.into()).collect()));
        }
        if let Some(profile) = &self.profile {
            tags.push((34675, 7, profile.iter().map(|&byte| byte.into()).collect()));
        }
        tags.sort_by_key(|tag| tag.0);

        let mut entries = Vec::new();
        for (tag, kind, values) in &tags {
            let (unit, per_count) = match kind {
                3 => (2, 1),
                4 => (4, 1),
                5 => (4, 2),
                16 => (8, 1),
                _ => (1, 1),
            };
            let mut value = Out {
                bytes: Vec::new(),
                ..out_like(&out)
            };
            values.iter().for_each(|&v| value.number(v, unit));
            if value.bytes.len() > size {
                if out.bytes.len() % 2 == 1 {
                    out.bytes.push(0);
                }
                let at = out.bytes.len() as u64;
                out.bytes.extend(&value.bytes);
                value.bytes.clear();
                value.number(at, size);
            }
            value.bytes.resize(size, 0);
            entries.push((*tag, *kind, values.len() as u64 / per_count, value.bytes));
        }
        if out.bytes.len() % 2 == 1 {
            out.bytes.push(0);
        }
        let directory = out.bytes.len() as u64;
        out.number(entries.len() as u64, if self.big_tiff { 8 } else { 2 });
        for (tag, kind, count, value) in entries {
            out.number(tag.into(), 2);
            out.number(kind.into(), 2);
            out.number(count, size);
            out.bytes.extend(value);
        }
        out.number(0, size);
        let mut patch = Out {
            bytes: Vec::new(),
            ..out_like(&out)
        };
        patch.number(directory, size);
        out.bytes[pointer..pointer + size].copy_from_slice(&patch.bytes);
        out.bytes
    }

    fn chunks(&self, codes: &Codes) -> Vec<Vec<u8>> {
        let planes: Vec<Vec<usize>> = if self.planar {
            (0..codes.samples).map(|sample| vec![sample]).collect()
        } else {
            vec![(0..codes.samples).collect()]
        };
        let (width, height) = self
            .tile
            .unwrap_or((codes.width, self.rows_per_strip.min(codes.height)));
        let mut chunks = Vec::new();
        for samples in &planes {
            for top in (0..codes.height).step_by(height) {
                let rows = if self.tile.is_some() {
                    height
                } else {
                    height.min(codes.height - top)
                };
                for left in (0..codes.width).step_by(width) {
                    let mut bytes = Vec::new();
                    for row in top..top + rows {
                        let line = (left..left + width).flat_map(|column| {
                            samples.iter().map(move |&sample| {
                                let inside = row < codes.height && column < codes.width;
                                if inside {
                                    codes.at(row, column, sample)
                                } else {
                                    0
                                }
                            })
                        });
                        bytes.extend(self.row(line.collect(), samples.len()));
                    }
                    chunks.push(self.pack(&bytes));
                }
            }
        }
        chunks
    }

    fn row(&self, mut line: Vec<u16>, samples: usize) -> Vec<u8> {
        if self.predictor == 2 {
            for i in (samples..line.len()).rev() {
                line[i] = line[i].wrapping_sub(line[i - samples]);
            }
        }
        match self.bits {
            16 if self.big_endian => line.iter().flat_map(|v| v.to_be_bytes()).collect(),
            16 => line.iter().flat_map(|v| v.to_le_bytes()).collect(),
            8 => line.iter().map(|&v| v as u8).collect(),
            bits => pack_bits(&line, bits),
        }
    }

    fn pack(&self, bytes: &[u8]) -> Vec<u8> {
        match self.compression {
            5 => weezl::encode::Encoder::with_tiff_size_switch(weezl::BitOrder::Msb, 8)
                .encode(bytes)
                .unwrap(),
            8 | 32946 => {
                let mut encoder =
                    flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::fast());
                encoder.write_all(bytes).unwrap();
                encoder.finish().unwrap()
            }
            32773 => run_lengths(bytes),
            _ => bytes.to_vec(),
        }
    }
}

fn out_like(out: &Out) -> Out {
    Out {
        bytes: Vec::new(),
        big_endian: out.big_endian,
        big_tiff: out.big_tiff,
    }
}

/// Packs values of 1, 2 or 4 bits, the first in the high bits.
pub fn pack_bits(values: &[u16], bits: u16) -> Vec<u8> {
    let per_byte = usize::from(8 / bits);
    let byte = |part: &[u16]| {
        let shifted = part
            .iter()
            .enumerate()
            .map(|(i, &v)| v << (8 - bits * (i as u16 + 1)));
        shifted.fold(0u16, |all, v| all | v) as u8
    };
    values.chunks(per_byte).map(byte).collect()
}

/// PackBits with both kinds of run.
fn run_lengths(bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut rest = bytes;
    while let Some(&first) = rest.first() {
        let run = rest
            .iter()
            .take(128)
            .take_while(|&&byte| byte == first)
            .count();
        if run >= 3 {
            out.extend([(257 - run) as u8, first]);
            rest = &rest[run..];
        } else {
            let count = rest.len().min(5);
            out.push(count as u8 - 1);
            out.extend(&rest[..count]);
            rest = &rest[count..];
        }
    }
    out
}

/// A PNG of 8 or 16 bits; `edit` may add chunks to its header.
pub fn png(codes: &Codes, bits: u8, edit: impl FnOnce(&mut png::Info<'static>)) -> Vec<u8> {
    let mut info = png::Info::with_size(codes.width as u32, codes.height as u32);
    info.bit_depth = png::BitDepth::from_u8(bits).unwrap();
    info.color_type = match codes.samples {
        1 => png::ColorType::Grayscale,
        2 => png::ColorType::GrayscaleAlpha,
        3 => png::ColorType::Rgb,
        _ => png::ColorType::Rgba,
    };
    edit(&mut info);
    let mut bytes = Vec::new();
    let encoder = png::Encoder::with_info(&mut bytes, info).unwrap();
    let mut writer = encoder.write_header().unwrap();
    let line = codes.width * codes.samples;
    let data: Vec<u8> = match bits {
        16 => codes.values.iter().flat_map(|v| v.to_be_bytes()).collect(),
        8 => codes.values.iter().map(|&v| v as u8).collect(),
        _ => codes
            .values
            .chunks(line)
            .flat_map(|row| pack_bits(row, bits.into()))
            .collect(),
    };
    writer.write_image_data(&data).unwrap();
    drop(writer);
    bytes
}

/// An interlaced PNG of 16-bit RGB, written pass by pass (PNG specification, Adam7).
pub fn interlaced_png(codes: &Codes) -> Vec<u8> {
    let passes = [
        (0, 0, 8, 8),
        (4, 0, 8, 8),
        (0, 4, 4, 8),
        (2, 0, 4, 4),
        (0, 2, 2, 4),
        (1, 0, 2, 2),
        (0, 1, 1, 2),
    ];
    let mut data = Vec::new();
    for (x0, y0, dx, dy) in passes {
        if x0 >= codes.width {
            continue;
        }
        for row in (y0..codes.height).step_by(dy) {
            data.push(0);
            for column in (x0..codes.width).step_by(dx) {
                for sample in 0..codes.samples {
                    data.extend(codes.at(row, column, sample).to_be_bytes());
                }
            }
        }
    }
    let mut packed = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::fast());
    packed.write_all(&data).unwrap();
    let mut header = Vec::new();
    header.extend((codes.width as u32).to_be_bytes());
    header.extend((codes.height as u32).to_be_bytes());
    header.extend([16, 2, 0, 0, 1]);
    let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
    for (name, body) in [
        (b"IHDR", header),
        (b"IDAT", packed.finish().unwrap()),
        (b"IEND", vec![]),
    ] {
        bytes.extend((body.len() as u32).to_be_bytes());
        let mut sum = flate2::Crc::new();
        sum.update(name);
        sum.update(&body);
        bytes.extend(name);
        bytes.extend(&body);
        bytes.extend(sum.sum().to_be_bytes());
    }
    bytes
}

/// A JPEG of 8-bit grey or RGB with segments of our own after its JFIF header.
pub fn jpeg(codes: &Codes, segments: &[(u8, Vec<u8>)]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let data: Vec<u8> = codes.values.iter().map(|&v| v as u8).collect();
    let kind = if codes.samples == 1 {
        image::ExtendedColorType::L8
    } else {
        image::ExtendedColorType::Rgb8
    };
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 100)
        .encode(&data, codes.width as u32, codes.height as u32, kind)
        .unwrap();
    let after_jfif = 4 + usize::from(u16::from_be_bytes([bytes[4], bytes[5]]));
    for (marker, body) in segments.iter().rev() {
        let mut segment = vec![0xff, *marker];
        segment.extend((body.len() as u16 + 2).to_be_bytes());
        segment.extend(body);
        bytes.splice(after_jfif..after_jfif, segment);
    }
    bytes
}

/// An EXIF segment with an orientation and perhaps a resolution in dots per inch.
pub fn exif_block(orientation: u16, dpi: Option<u32>) -> Vec<u8> {
    let mut block = b"II*\0\x08\0\0\0".to_vec();
    let entries: u16 = if dpi.is_some() { 4 } else { 1 };
    block.extend(entries.to_le_bytes());
    let mut entry = |tag: u16, kind: u16, value: u32| {
        block.extend(tag.to_le_bytes());
        block.extend(kind.to_le_bytes());
        block.extend(1u32.to_le_bytes());
        block.extend(value.to_le_bytes());
    };
    entry(274, 3, orientation.into());
    if dpi.is_some() {
        let after = 8 + 2 + 4 * 12 + 4;
        entry(282, 5, after);
        entry(283, 5, after);
        entry(296, 3, 2);
    }
    block.extend(0u32.to_le_bytes());
    if let Some(dpi) = dpi {
        block.extend(dpi.to_le_bytes());
        block.extend(1u32.to_le_bytes());
    }
    block
}

/// The same as the body of a JPEG's APP1 segment.
pub fn exif_segment(orientation: u16, dpi: Option<u32>) -> (u8, Vec<u8>) {
    let mut body = b"Exif\0\0".to_vec();
    body.extend(exif_block(orientation, dpi));
    (0xe1, body)
}

/// Writes a file into a folder.
pub fn write(folder: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}
