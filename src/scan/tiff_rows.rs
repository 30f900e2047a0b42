//! Rows of a TIFF file, piece by piece.
//!
//! Strips that are not packed, and packed strips too long to hold, are streamed. Short packed
//! strips and tiles are unpacked on all cores, a block of rows at a time.

use std::io::Read;

use rayon::prelude::*;

use super::picture::{Expand, OpenFile, Rows, Samples, Stretch, check_held, cut_short};
use super::unpack::{Packing, Unpacker, undo_predictor};
use super::{ScanError, ScanSettings};

// Unpacked bytes above which a packed strip is streamed by one thread instead of being held. Our
// own choice (test `long_packed_strips_are_streamed`).
const STREAM_ABOVE_BYTES: u64 = 16 << 20;
// Unpacked bytes of one block of short strips. Our own choice: enough strips for all cores, few
// enough to stay small (the bench notices).
const BLOCK_BYTES: u64 = 4 << 20;

/// Where the pixels lie in the file.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    pub width: usize,
    pub height: usize,
    /// 1, or one plane for each channel.
    pub planes: usize,
    /// Samples a pixel within one chunk.
    pub samples: usize,
    pub bits: usize,
    pub big_endian: bool,
    pub tiled: bool,
    /// A chunk is a strip or a tile.
    pub chunk_width: usize,
    pub chunk_height: usize,
    pub offsets: Vec<u64>,
    pub counts: Vec<u64>,
    pub packing: Packing,
    pub predictor: bool,
}

impl Layout {
    pub fn across(&self) -> usize {
        if self.tiled {
            self.width.div_ceil(self.chunk_width.max(1))
        } else {
            1
        }
    }

    pub fn down(&self) -> usize {
        self.height.div_ceil(self.chunk_height.max(1))
    }

    /// Bytes of one row of a chunk.
    fn chunk_row_bytes(&self) -> u64 {
        let bits = (self.chunk_width as u64).saturating_mul((self.samples * self.bits) as u64);
        bits.div_ceil(8)
    }

    /// Rows that a chunk in chunk row `down` holds; tiles are always whole, strips end with the
    /// picture.
    fn rows_in(&self, down: usize) -> usize {
        if self.tiled {
            self.chunk_height
        } else {
            self.chunk_height
                .min(self.height - down * self.chunk_height)
        }
    }

    fn index(&self, plane: usize, down: usize, across: usize) -> usize {
        (plane * self.down() + down) * self.across() + across
    }

    /// Bytes of the file that a chunk takes.
    fn length_in_file(&self, index: usize, down: usize) -> u64 {
        let plain = self
            .chunk_row_bytes()
            .saturating_mul(self.rows_in(down) as u64);
        match (self.packing, self.counts[index]) {
            (Packing::None, _) => plain,
            // Some writers leave the length out; the packed data end by themselves.
            (_, 0) => u64::MAX,
            (_, count) => count,
        }
    }

    fn unpacker(&self, open: &OpenFile, index: usize, down: usize) -> Unpacker {
        let stretch = Stretch::new(open, self.offsets[index], self.length_in_file(index, down));
        Unpacker::new(self.packing, stretch)
    }

    fn undo_predictor(&self, rows: &mut [u8], row_bytes: usize) {
        if self.predictor {
            for row in rows.chunks_exact_mut(row_bytes) {
                undo_predictor(row, self.samples, self.bits / 8, self.big_endian);
            }
        }
    }

    /// Refuses a file that ends before its last chunk does, and says how many rows are there.
    fn check_length(&self, open: &OpenFile) -> Result<(), ScanError> {
        let mut rows = self.height;
        for plane in 0..self.planes {
            for down in 0..self.down() {
                for across in 0..self.across() {
                    let index = self.index(plane, down, across);
                    let offset = self.offsets[index];
                    let length = self.length_in_file(index, down);
                    let missing = if length == u64::MAX {
                        offset >= open.length
                    } else {
                        offset.saturating_add(length) > open.length
                    };
                    if missing {
                        let mut whole = down * self.chunk_height;
                        if self.packing == Packing::None && !self.tiled {
                            let there = open.length.saturating_sub(offset);
                            whole += (there / self.chunk_row_bytes().max(1)) as usize;
                        }
                        rows = rows.min(whole);
                    }
                }
            }
        }
        if rows < self.height {
            return Err(cut_short(&open.path, rows, self.height));
        }
        Ok(())
    }
}

/// Chooses the way to read the rows and checks that it needs no more than the cap.
pub(super) fn open_rows(
    open: &OpenFile,
    settings: &ScanSettings,
    layout: Layout,
    expand: Expand,
    samples: Samples,
) -> Result<Box<dyn Rows>, ScanError> {
    let row_bytes = layout.chunk_row_bytes();
    let chunk_bytes = row_bytes.saturating_mul(layout.chunk_height as u64);
    let packed_row = row_bytes.saturating_mul((layout.across() * layout.planes) as u64);
    let streamed =
        !layout.tiled && (layout.packing == Packing::None || chunk_bytes > STREAM_ABOVE_BYTES);
    let block_rows = if streamed {
        1
    } else {
        let chunk_row_bytes = packed_row.saturating_mul(layout.chunk_height as u64).max(1);
        let chunk_rows = (BLOCK_BYTES / chunk_row_bytes).max(1) as usize;
        chunk_rows.saturating_mul(layout.chunk_height)
    };
    // The unpacked chunks and the rows put together from them.
    let held = packed_row
        .saturating_mul(block_rows as u64)
        .saturating_mul(2);
    let what = if layout.tiled {
        "a row of its tiles"
    } else {
        "a row of its pixels"
    };
    check_held(&open.path, settings, what, held)?;
    layout.check_length(open)?;

    let frame = Frame {
        open: open.clone(),
        packed_row_bytes: (layout.width * layout.samples * layout.bits).div_ceil(8) * layout.planes,
        out_row_bytes: layout.width * samples.pixel_bytes(),
        expand,
        next_row: 0,
    };
    if streamed {
        let planes = (0..layout.planes)
            .map(|plane| Plane {
                plane,
                next_strip: 0,
                rows_left: 0,
                unpacker: None,
            })
            .collect();
        return Ok(Box::new(StripRows {
            frame,
            layout,
            planes,
            scratch: Vec::new(),
        }));
    }
    let chunk_rows = block_rows / layout.chunk_height.max(1);
    Ok(Box::new(BlockRows {
        frame,
        layout,
        chunk_rows,
        next_chunk_row: 0,
        block: Vec::new(),
        used: 0,
    }))
}

/// What both ways share.
struct Frame {
    open: OpenFile,
    /// Bytes of one row of the picture before it is expanded.
    packed_row_bytes: usize,
    /// Bytes of one row as handed over.
    out_row_bytes: usize,
    expand: Expand,
    next_row: usize,
}

impl Frame {
    fn damaged(&self, layout: &Layout, row: usize, error: &std::io::Error) -> ScanError {
        let file = self.open.path.clone();
        match error.kind() {
            std::io::ErrorKind::UnexpectedEof
            | std::io::ErrorKind::InvalidData
            | std::io::ErrorKind::InvalidInput => ScanError::Damaged {
                file,
                what: format!(
                    "the pixels from row {row} of {} on cannot be unpacked",
                    layout.height
                ),
            },
            _ => ScanError::Io {
                file,
                source: std::io::Error::new(error.kind(), error.to_string()),
            },
        }
    }
}

/// Streams strips, with one unpacker for each plane.
struct StripRows {
    frame: Frame,
    layout: Layout,
    planes: Vec<Plane>,
    scratch: Vec<u8>,
}

struct Plane {
    plane: usize,
    next_strip: usize,
    rows_left: usize,
    unpacker: Option<Unpacker>,
}

impl Plane {
    /// Fills `out` with the next rows of this plane.
    fn fill(&mut self, open: &OpenFile, layout: &Layout, out: &mut [u8]) -> std::io::Result<()> {
        let row_bytes = layout.chunk_row_bytes() as usize;
        let mut filled = 0;
        while filled < out.len() {
            if self.rows_left == 0 {
                if self.next_strip >= layout.down() {
                    return Err(std::io::ErrorKind::UnexpectedEof.into());
                }
                let index = layout.index(self.plane, self.next_strip, 0);
                self.unpacker = Some(layout.unpacker(open, index, self.next_strip));
                self.rows_left = layout.rows_in(self.next_strip);
                self.next_strip += 1;
            }
            let rows = self.rows_left.min((out.len() - filled) / row_bytes);
            let part = &mut out[filled..filled + rows * row_bytes];
            if let Some(unpacker) = &mut self.unpacker {
                unpacker.read_exact(part)?;
            }
            layout.undo_predictor(part, row_bytes);
            self.rows_left -= rows;
            filled += part.len();
        }
        Ok(())
    }
}

impl Rows for StripRows {
    fn fill(&mut self, out: &mut [u8]) -> Result<(), ScanError> {
        let StripRows {
            frame,
            layout,
            planes,
            scratch,
        } = self;
        let row = frame.next_row;
        let rows = out.len() / frame.out_row_bytes.max(1);
        frame.next_row += rows;
        let damaged = |error| frame.damaged(layout, row, &error);
        if layout.planes == 1 && matches!(frame.expand, Expand::Whole) {
            for plane in planes {
                plane.fill(&frame.open, layout, out).map_err(damaged)?;
            }
            return Ok(());
        }
        scratch.resize(rows * frame.packed_row_bytes / layout.planes, 0);
        for plane in planes {
            plane.fill(&frame.open, layout, scratch).map_err(damaged)?;
            if layout.planes == 1 {
                let packed = scratch.chunks_exact(frame.packed_row_bytes);
                for (packed, out) in packed.zip(out.chunks_exact_mut(frame.out_row_bytes)) {
                    frame.expand.row(packed, out);
                }
            } else {
                weave(scratch, out, plane.plane, layout.planes, layout.bits / 8);
            }
        }
        Ok(())
    }
}

/// Puts the samples of one plane at their place in the pixels.
fn weave(plane: &[u8], out: &mut [u8], index: usize, planes: usize, bytes: usize) {
    let pixels = out.chunks_exact_mut(planes * bytes);
    for (sample, pixel) in plane.chunks_exact(bytes).zip(pixels) {
        pixel[index * bytes..(index + 1) * bytes].copy_from_slice(sample);
    }
}

/// Unpacks whole chunks on all cores.
struct BlockRows {
    frame: Frame,
    layout: Layout,
    /// Rows of chunks in one block.
    chunk_rows: usize,
    next_chunk_row: usize,
    /// Rows ready to be handed over, in the form of the picture but not expanded.
    block: Vec<u8>,
    used: usize,
}

impl BlockRows {
    fn next_block(&mut self) -> Result<(), ScanError> {
        let BlockRows { frame, layout, .. } = self;
        let first = self.next_chunk_row;
        let last = (first + self.chunk_rows).min(layout.down());
        let mut chunks = Vec::with_capacity((last - first) * layout.across() * layout.planes);
        for plane in 0..layout.planes {
            for down in first..last {
                chunks.extend((0..layout.across()).map(|across| (plane, down, across)));
            }
        }
        let row_bytes = layout.chunk_row_bytes() as usize;
        let height = layout.height;
        let unpacked = chunks
            .par_iter()
            .map(|&(plane, down, across)| {
                // Rows of a tile below the picture's last row are not needed.
                let rows = layout
                    .rows_in(down)
                    .min(height - down * layout.chunk_height);
                let mut bytes = vec![0; row_bytes * rows];
                let index = layout.index(plane, down, across);
                layout
                    .unpacker(&frame.open, index, down)
                    .read_exact(&mut bytes)
                    .map_err(|error| frame.damaged(layout, down * layout.chunk_height, &error))?;
                layout.undo_predictor(&mut bytes, row_bytes);
                Ok(bytes)
            })
            .collect::<Result<Vec<_>, ScanError>>()?;

        let rows = (last * layout.chunk_height).min(height) - first * layout.chunk_height;
        self.block.resize(rows * frame.packed_row_bytes, 0);
        for (&(plane, down, across), bytes) in chunks.iter().zip(&unpacked) {
            let top = (down - first) * layout.chunk_height;
            let pixel_bits = layout.samples * layout.planes * layout.bits;
            let left = across * layout.chunk_width * pixel_bits / 8;
            for (i, row) in bytes.chunks_exact(row_bytes).enumerate() {
                let start = (top + i) * frame.packed_row_bytes;
                let line = &mut self.block[start..start + frame.packed_row_bytes][left..];
                if layout.planes == 1 {
                    let count = line.len().min(row_bytes);
                    line[..count].copy_from_slice(&row[..count]);
                } else {
                    weave(row, line, plane, layout.planes, layout.bits / 8);
                }
            }
        }
        self.used = 0;
        self.next_chunk_row = last;
        Ok(())
    }
}

impl Rows for BlockRows {
    fn fill(&mut self, out: &mut [u8]) -> Result<(), ScanError> {
        let out_row_bytes = self.frame.out_row_bytes;
        let packed_row_bytes = self.frame.packed_row_bytes;
        let mut out = out;
        while out.len() >= out_row_bytes && !out.is_empty() {
            if self.used >= self.block.len() {
                if self.next_chunk_row >= self.layout.down() {
                    return Err(cut_short(
                        &self.frame.open.path,
                        self.frame.next_row,
                        self.layout.height,
                    ));
                }
                self.next_block()?;
            }
            let ready = (self.block.len() - self.used) / packed_row_bytes;
            let rows = ready.min(out.len() / out_row_bytes);
            let (now, later) = out.split_at_mut(rows * out_row_bytes);
            let packed = &self.block[self.used..self.used + rows * packed_row_bytes];
            for (packed, out) in packed
                .chunks_exact(packed_row_bytes)
                .zip(now.chunks_exact_mut(out_row_bytes))
            {
                self.frame.expand.row(packed, out);
            }
            self.used += rows * packed_row_bytes;
            self.frame.next_row += rows;
            out = later;
        }
        Ok(())
    }
}
