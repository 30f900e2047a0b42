//! Opens a file, tells its format by its first bytes and drives its rows into the grids.

use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use super::average::{Averager, Division, Stripe, Sums, average, is_opaque, upright};
use super::colour::{Tone, tone};
use super::error::ScanError;
use super::picture::{OpenFile, Picture, Stretch, check_held};
use super::scale::{Reduction, reduction};
use super::{DpiTag, Scan, ScanSettings, Want, jpeg, png, tiff};
use crate::raster::Grid;

// Bytes of file rows that are converted at a time. Our own choice: a few of these stay in the
// cache while they are still enough work for all cores (the bench `base` notices).
const BAND_BYTES: usize = 4 << 20;

/// Opens an ordinary file that is not empty.
pub(super) fn open(path: &Path) -> Result<OpenFile, ScanError> {
    let file = || path.to_path_buf();
    // Looked at first: opening a pipe would wait for its other end.
    let facts = std::fs::metadata(path).map_err(|error| ScanError::from_io(path, error))?;
    if facts.is_dir() {
        return Err(ScanError::Folder { file: file() });
    }
    if !facts.is_file() {
        return Err(ScanError::NotAFile { file: file() });
    }
    if facts.len() == 0 {
        return Err(ScanError::Empty { file: file() });
    }
    let opened = File::open(path).map_err(|error| ScanError::from_io(path, error))?;
    Ok(OpenFile {
        path: file(),
        file: Arc::new(opened),
        length: facts.len(),
    })
}

/// Reads the facts of a picture, by the format that its first bytes show.
pub(super) fn picture(open: &OpenFile, settings: &ScanSettings) -> Result<Picture, ScanError> {
    let mut head = Vec::with_capacity(16);
    Stretch::new(open, 0, 16)
        .read_to_end(&mut head)
        .map_err(|error| ScanError::from_io(&open.path, error))?;
    match head.as_slice() {
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => tiff::open(open, settings),
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => png::open(open, settings),
        [0xff, 0xd8, 0xff, ..] => jpeg::open(open, settings),
        head => Err(match foreign(head) {
            Some(what) => ScanError::ForeignFormat {
                file: open.path.clone(),
                what,
            },
            None => ScanError::NotAPicture {
                file: open.path.clone(),
            },
        }),
    }
}

/// Formats that people may well try, by their first bytes (each format's own specification).
fn foreign(head: &[u8]) -> Option<&'static str> {
    let kind = head.get(4..12).unwrap_or_default();
    Some(match head {
        [b'%', b'P', b'D', b'F', ..] => "a PDF",
        [b'G', b'I', b'F', b'8', ..] => "a GIF",
        [b'B', b'M', ..] => "a BMP",
        [b'8', b'B', b'P', b'S', ..] => "a layered picture (PSD)",
        [
            b'R',
            b'I',
            b'F',
            b'F',
            _,
            _,
            _,
            _,
            b'W',
            b'E',
            b'B',
            b'P',
            ..,
        ] => "a WebP",
        [0xff, 0x4f, 0xff, 0x51, ..] => "a JPEG 2000",
        [0, 0, 0, 12, b'j', b'P', b' ', b' ', ..] => "a JPEG 2000",
        [0xff, 0x0a, ..] | [0, 0, 0, 12, b'J', b'X', b'L', b' ', ..] => "a JPEG XL",
        [b'I', b'I', 0xbc, ..] => "a JPEG XR",
        [b'P', b'K', 3, 4, ..] => "a ZIP archive",
        _ if kind.starts_with(b"ftyphei") || kind.starts_with(b"ftypmif1") => "a HEIC",
        _ if kind.starts_with(b"ftypavif") => "an AVIF",
        _ => return None,
    })
}

/// Reads the pixels of a picture into a scan.
pub(super) fn scan(
    open: &OpenFile,
    picture: Picture,
    settings: &ScanSettings,
    want: Want,
) -> Result<Scan, ScanError> {
    let Picture {
        width,
        height,
        turn,
        ..
    } = picture;
    let (upright_width, upright_height) = if turn.transpose {
        (height, width)
    } else {
        (width, height)
    };
    let dpi_tag = picture.dpi_tag.map(|tag| match turn.transpose {
        true => DpiTag {
            x: tag.y,
            y: tag.x,
            ..tag
        },
        false => tag,
    });
    let reduction = reduction(
        want,
        settings,
        dpi_tag.as_ref(),
        upright_width,
        upright_height,
    );
    let mut warnings = picture.warnings.clone();
    let mut doubts = Vec::new();
    let tone = tone(
        &picture.coding,
        settings.encoding,
        &picture.samples,
        &mut warnings,
        &mut doubts,
    );
    let (bits, channels) = (picture.bits, picture.channels);
    let grids = grids(open, picture, settings, reduction, &tone, &mut warnings)?;
    Ok(Scan {
        file: open.path.clone(),
        width_px: upright_width,
        height_px: upright_height,
        bits,
        channels,
        light: upright(grids.light, turn),
        reduce: reduction.working,
        clipped: upright(grids.clipped, turn),
        colour: upright(grids.colour, turn),
        colour_reduce: reduction.working * reduction.colour_in_working,
        dpi_tag,
        code_light: (bits == 8).then(|| tone.code_light()),
        colour_source: tone.source,
        warnings,
        doubts,
    })
}

struct Grids {
    light: Grid<f32>,
    clipped: Grid<u8>,
    colour: Grid<[u16; 3]>,
}

/// Reads all rows, band by band: while one band is converted on all cores, the next is read.
fn grids(
    open: &OpenFile,
    mut picture: Picture,
    settings: &ScanSettings,
    reduction: Reduction,
    tone: &Tone,
    warnings: &mut Vec<String>,
) -> Result<Grids, ScanError> {
    let division = Division::new(picture.width, picture.height, reduction, picture.turn);
    let samples = picture.samples;
    let row_bytes = picture.width * samples.pixel_bytes();
    let (columns, rows) = (division.columns.cells(), division.rows.cells());
    let (colour_columns, colour_rows) = (
        division.colour_columns.cells(),
        division.colour_rows.cells(),
    );
    let stripe_rows = (reduction.working * reduction.colour_in_working).min(picture.height);
    let stripe_bytes = (row_bytes as u64).saturating_mul(stripe_rows as u64);
    check_held(
        &open.path,
        settings,
        "a strip of its rows",
        stripe_bytes.saturating_mul(2),
    )?;
    let stripes_in_band = (BAND_BYTES as u64 / stripe_bytes.max(1)).max(1) as usize;

    let mut light = Grid::<f32>::zeros((rows, columns));
    let mut clipped = Grid::<u8>::zeros((rows, columns));
    let mut colour = Grid::from_elem((colour_rows, colour_columns), [0u16; 3]);
    let mut stripes = stripes(&mut light, &mut clipped, &mut colour, &division).enumerate();

    let averager = Averager {
        division: &division,
        samples: &samples,
        tone,
        row_bytes,
    };
    let opaque = AtomicBool::new(true);
    let convert = |band: &[u8], first_row: usize, stripes: Vec<(usize, Stripe)>| {
        stripes.into_par_iter().with_max_len(1).for_each_init(
            || Sums::new(&division),
            |sums, (colour_row, stripe)| {
                let file_rows = division.file_rows(colour_row);
                let start = (file_rows.start - first_row) * row_bytes;
                let bytes = &band[start..start + file_rows.len() * row_bytes];
                if let Some(alpha) = samples.alpha
                    && opaque.load(Ordering::Relaxed)
                    && !is_opaque(bytes, &samples, alpha)
                {
                    opaque.store(false, Ordering::Relaxed);
                }
                average(bytes, colour_row, &averager, sums, stripe);
            },
        );
    };

    let band_end = |colour_row: usize| {
        let last = (colour_row + stripes_in_band).min(colour_rows) - 1;
        division.file_rows(last).end
    };
    let mut reading = vec![0u8; band_end(0) * row_bytes];
    let mut converting = Vec::new();
    picture.rows.fill(&mut reading)?;
    let (mut first_row, mut end_row) = (0, band_end(0));
    while first_row < picture.height {
        std::mem::swap(&mut reading, &mut converting);
        let now: Vec<_> = stripes.by_ref().take(stripes_in_band).collect();
        let next = now.last().map_or(colour_rows, |(row, _)| row + 1);
        let next_end = if next < colour_rows {
            band_end(next)
        } else {
            end_row
        };
        reading.resize((next_end - end_row) * row_bytes, 0);
        let band = &converting;
        let source = &mut picture.rows;
        let (filled, ()) = rayon::join(
            || {
                if reading.is_empty() {
                    Ok(())
                } else {
                    source.fill(&mut reading)
                }
            },
            || convert(band, first_row, now),
        );
        filled?;
        (first_row, end_row) = (end_row, next_end);
    }
    drop(stripes);
    if !opaque.into_inner() {
        warnings.push(
            "The scan has see-through parts; its opacity channel was left out. Save it without one."
                .into(),
        );
    }
    Ok(Grids {
        light,
        clipped,
        colour,
    })
}

/// Cuts the grids into the parts that one row of colour cells covers.
fn stripes<'a>(
    light: &'a mut Grid<f32>,
    clipped: &'a mut Grid<u8>,
    colour: &'a mut Grid<[u16; 3]>,
    division: &'a Division,
) -> impl Iterator<Item = Stripe<'a>> {
    let columns = division.columns.cells();
    let mut light = light.as_slice_mut().unwrap_or_default();
    let mut clipped = clipped.as_slice_mut().unwrap_or_default();
    let colour = colour.as_slice_mut().unwrap_or_default();
    let rows = colour
        .chunks_exact_mut(division.colour_columns.cells())
        .enumerate();
    rows.map(move |(row, colour)| {
        let cells = division.colour_rows.range(row).len() * columns;
        let (now, later) = std::mem::take(&mut light).split_at_mut(cells);
        light = later;
        let (clipped_now, clipped_later) = std::mem::take(&mut clipped).split_at_mut(cells);
        clipped = clipped_later;
        Stripe {
            light: now,
            clipped: clipped_now,
            colour,
        }
    })
}
