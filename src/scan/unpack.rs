//! Undoes the packing of TIFF strips and tiles, as a stream, so that one long strip needs no more
//! memory than a short one.

use std::io::{self, BufRead, BufReader, Read};

use flate2::bufread::ZlibDecoder;
use weezl::{BitOrder, LzwStatus};

use super::picture::Stretch;

// Bytes read from the file at a time. Our own choice; the tests pass with any value.
const READ_BYTES: usize = 64 << 10;

/// How strips and tiles are packed (TIFF 6.0, Compression).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Packing {
    None,
    Lzw,
    Deflate,
    PackBits,
}

/// Reads the plain bytes of a strip or tile.
pub(super) enum Unpacker {
    None(Stretch),
    Lzw(Box<Lzw>),
    Deflate(Box<ZlibDecoder<BufReader<Stretch>>>),
    PackBits(PackBits),
}

impl Unpacker {
    pub fn new(packing: Packing, stretch: Stretch) -> Unpacker {
        let buffered = |stretch| BufReader::with_capacity(READ_BYTES, stretch);
        match packing {
            Packing::None => Unpacker::None(stretch),
            Packing::Lzw => Unpacker::Lzw(Box::new(Lzw {
                packed: buffered(stretch),
                // TIFF 6.0 section 13: high bits first, and code lengths that grow one code early.
                decoder: weezl::decode::Decoder::with_tiff_size_switch(BitOrder::Msb, 8),
            })),
            Packing::Deflate => Unpacker::Deflate(Box::new(ZlibDecoder::new(buffered(stretch)))),
            Packing::PackBits => Unpacker::PackBits(PackBits {
                packed: buffered(stretch),
                run: Run::Literal(0),
            }),
        }
    }
}

impl Read for Unpacker {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        match self {
            Unpacker::None(stretch) => stretch.read(buf),
            Unpacker::Lzw(lzw) => lzw.read(buf),
            Unpacker::Deflate(deflate) => deflate.read(buf),
            Unpacker::PackBits(bits) => bits.read(buf),
        }
    }
}

/// A stream of LZW codes.
pub(super) struct Lzw {
    packed: BufReader<Stretch>,
    decoder: weezl::decode::Decoder,
}

impl Read for Lzw {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        loop {
            let input = self.packed.fill_buf()?;
            let at_end = input.is_empty();
            let result = self.decoder.decode_bytes(input, buf);
            self.packed.consume(result.consumed_in);
            if result.consumed_out > 0 || buf.is_empty() {
                return Ok(result.consumed_out);
            }
            match result.status {
                Ok(LzwStatus::Done) => return Ok(0),
                Ok(LzwStatus::NoProgress) if at_end || result.consumed_in == 0 => return Ok(0),
                Ok(_) if at_end => return Ok(0),
                Ok(_) => {}
                Err(error) => return Err(io::Error::new(io::ErrorKind::InvalidData, error)),
            }
        }
    }
}

/// A stream of byte runs (TIFF 6.0 section 9).
pub(super) struct PackBits {
    packed: BufReader<Stretch>,
    run: Run,
}

enum Run {
    /// Bytes still to be copied.
    Literal(usize),
    /// Times a byte is still to be repeated.
    Repeat(usize, u8),
}

impl Read for PackBits {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let mut written = 0;
        while written < buf.len() {
            let room = buf.len() - written;
            match &mut self.run {
                Run::Literal(0) | Run::Repeat(0, _) => {
                    let Some(head) = next_byte(&mut self.packed)? else {
                        break;
                    };
                    self.run = match head {
                        0..=127 => Run::Literal(usize::from(head) + 1),
                        128 => Run::Literal(0),
                        129..=255 => match next_byte(&mut self.packed)? {
                            Some(value) => Run::Repeat(257 - usize::from(head), value),
                            None => break,
                        },
                    };
                }
                Run::Literal(left) => {
                    let count = room.min(*left);
                    let got = self.packed.read(&mut buf[written..written + count])?;
                    if got == 0 {
                        break;
                    }
                    *left -= got;
                    written += got;
                }
                Run::Repeat(left, value) => {
                    let count = room.min(*left);
                    buf[written..written + count].fill(*value);
                    *left -= count;
                    written += count;
                }
            }
        }
        Ok(written)
    }
}

fn next_byte(packed: &mut BufReader<Stretch>) -> io::Result<Option<u8>> {
    let byte = packed.fill_buf()?.first().copied();
    if byte.is_some() {
        packed.consume(1);
    }
    Ok(byte)
}

/// Undoes the horizontal predictor (TIFF 6.0 section 14) in one row: each sample is stored as its
/// difference from the same sample of the pixel before.
pub(super) fn undo_predictor(row: &mut [u8], per_pixel: usize, bytes: usize, big_endian: bool) {
    match (bytes, big_endian) {
        (1, _) => {
            for i in per_pixel..row.len() {
                row[i] = row[i].wrapping_add(row[i - per_pixel]);
            }
        }
        (_, false) => add_up(row, per_pixel, u16::from_le_bytes, u16::to_le_bytes),
        (_, true) => add_up(row, per_pixel, u16::from_be_bytes, u16::to_be_bytes),
    }
}

fn add_up(
    row: &mut [u8],
    per_pixel: usize,
    from: impl Fn([u8; 2]) -> u16,
    to: impl Fn(u16) -> [u8; 2],
) {
    // The usual pixels keep their last values in registers.
    match per_pixel {
        1 => add_up_pixels::<1>(row, from, to),
        3 => add_up_pixels::<3>(row, from, to),
        4 => add_up_pixels::<4>(row, from, to),
        _ => {
            let step = per_pixel * 2;
            for i in (step..row.len().saturating_sub(1)).step_by(2) {
                let before = from([row[i - step], row[i - step + 1]]);
                let sum = to(from([row[i], row[i + 1]]).wrapping_add(before));
                row[i..i + 2].copy_from_slice(&sum);
            }
        }
    }
}

fn add_up_pixels<const N: usize>(
    row: &mut [u8],
    from: impl Fn([u8; 2]) -> u16,
    to: impl Fn(u16) -> [u8; 2],
) {
    let mut last = [0u16; N];
    for pixel in row.chunks_exact_mut(2 * N) {
        for (last, sample) in last.iter_mut().zip(pixel.chunks_exact_mut(2)) {
            *last = last.wrapping_add(from([sample[0], sample[1]]));
            sample.copy_from_slice(&to(*last));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn predictor_adds_up_in_either_byte_order() {
        let mut row = [1u8, 2, 3, 1, 1, 255];
        undo_predictor(&mut row, 3, 1, false);
        assert_eq!(row, [1, 2, 3, 2, 3, 2]);
        let mut row = [0x01u8, 0xff, 0x00, 0x02];
        undo_predictor(&mut row, 1, 2, true);
        assert_eq!(row, [0x01, 0xff, 0x02, 0x01]);
        let mut row = [0xffu8, 0x01, 0x02, 0x00];
        undo_predictor(&mut row, 1, 2, false);
        assert_eq!(row, [0xff, 0x01, 0x01, 0x02]);
        let mut row = [1u8, 0, 2, 0, 3, 0, 4, 0];
        undo_predictor(&mut row, 2, 2, false);
        assert_eq!(row, [1, 0, 2, 0, 4, 0, 6, 0]);
    }
}
