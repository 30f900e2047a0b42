//! Averages rows of code values down to the grids, in linear light.
//!
//! Cells are counted from the edge that is left and top after the file's turn, so a row that runs
//! from right to left begins with the cell that may be short.

use std::ops::Range;

use super::colour::Tone;
use super::icc_tables::Cube;
use super::picture::{Samples, Turn};
use super::scale::Reduction;
use super::{CLIPPED_DARK, CLIPPED_LIGHT};
use crate::raster::Grid;

/// One axis of the picture, divided into cells.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    /// Units along the axis.
    length: usize,
    /// Units in a cell.
    cell: usize,
    /// Units by which the first cell is short.
    short: usize,
}

impl Axis {
    fn new(length: usize, cell: usize, flipped: bool) -> Axis {
        let short = if flipped {
            length.next_multiple_of(cell) - length
        } else {
            0
        };
        Axis {
            length,
            cell,
            short,
        }
    }

    /// Number of cells.
    pub fn cells(&self) -> usize {
        self.length.div_ceil(self.cell)
    }

    /// Units of a cell.
    pub fn range(&self, cell: usize) -> Range<usize> {
        let start = (cell * self.cell).saturating_sub(self.short);
        let end = ((cell + 1) * self.cell - self.short).min(self.length);
        start..end
    }

    /// The cell of a unit.
    fn cell_of(&self, unit: usize) -> usize {
        (unit + self.short) / self.cell
    }
}

/// How the picture is divided, in the frame of the file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Division {
    /// File pixels into working cells.
    pub columns: Axis,
    pub rows: Axis,
    /// Working cells into colour cells.
    pub colour_columns: Axis,
    pub colour_rows: Axis,
}

impl Division {
    pub fn new(width: usize, height: usize, reduction: Reduction, turn: Turn) -> Division {
        let columns = Axis::new(width, reduction.working, turn.flip_x);
        let rows = Axis::new(height, reduction.working, turn.flip_y);
        let k = reduction.colour_in_working;
        Division {
            columns,
            rows,
            colour_columns: Axis::new(columns.cells(), k, turn.flip_x),
            colour_rows: Axis::new(rows.cells(), k, turn.flip_y),
        }
    }

    /// File rows of one row of colour cells.
    pub fn file_rows(&self, colour_row: usize) -> Range<usize> {
        let cells = self.colour_rows.range(colour_row);
        self.rows.range(cells.start).start..self.rows.range(cells.end - 1).end
    }
}

/// The parts of the grids that one row of colour cells covers.
pub(super) struct Stripe<'a> {
    pub light: &'a mut [f32],
    pub clipped: &'a mut [u8],
    pub colour: &'a mut [[u16; 3]],
}

/// Space for the sums of one row of cells; one for each thread.
pub(super) struct Sums {
    cells: Vec<Sum>,
    colour: Vec<[f32; 4]>,
}

#[derive(Clone, Copy, Default)]
struct Sum {
    light: [f32; 3],
    clipped: u8,
}

impl Sums {
    pub fn new(division: &Division) -> Sums {
        Sums {
            cells: vec![Sum::default(); division.columns.cells()],
            colour: vec![[0.0; 4]; division.colour_columns.cells()],
        }
    }
}

/// What all stripes of a picture have in common.
pub(super) struct Averager<'a> {
    pub division: &'a Division,
    pub samples: &'a Samples,
    pub tone: &'a Tone,
    /// Bytes of one file row.
    pub row_bytes: usize,
}

/// Averages the file rows of one row of colour cells.
pub(super) fn average(
    bytes: &[u8],
    colour_row: usize,
    averager: &Averager,
    sums: &mut Sums,
    stripe: Stripe,
) {
    let Averager {
        division,
        samples,
        tone,
        row_bytes,
    } = *averager;
    let columns = division.columns.cells();
    let mut rows = bytes.chunks_exact(row_bytes);
    sums.colour.fill([0.0; 4]);
    let lines = stripe
        .light
        .chunks_exact_mut(columns)
        .zip(stripe.clipped.chunks_exact_mut(columns));
    for (cell_row, (light, clipped)) in division.colour_rows.range(colour_row).zip(lines) {
        sums.cells.fill(Sum::default());
        let file_rows = division.rows.range(cell_row).len();
        for row in rows.by_ref().take(file_rows) {
            add_row(row, division, samples, tone, sums);
        }
        for (column, sum) in sums.cells.iter().enumerate() {
            let pixels = (file_rows * division.columns.range(column).len()) as f32;
            let mean = sum.light.map(|sum| sum / pixels);
            light[column] = dot(mean, tone.y).clamp(0.0, 1.0);
            clipped[column] = sum.clipped;
            let colour = &mut sums.colour[division.colour_columns.cell_of(column)];
            for (colour, sum) in colour.iter_mut().zip(sum.light) {
                *colour += sum;
            }
            colour[3] += pixels;
        }
    }
    for (colour, sum) in stripe.colour.iter_mut().zip(&sums.colour) {
        let mean = [sum[0] / sum[3], sum[1] / sum[3], sum[2] / sum[3]];
        *colour = tone
            .to_srgb
            .map(|row| (dot(row, mean).clamp(0.0, 1.0) * 65_535.0).round() as u16);
    }
}

fn dot(a: [f32; 3], b: [f32; 3]) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Adds one file row to the sums of its cells.
fn add_row(row: &[u8], division: &Division, samples: &Samples, tone: &Tone, sums: &mut Sums) {
    match (samples.bytes, samples.big_endian) {
        (1, _) => add_row_of::<Byte>(row, division, samples, tone, &mut sums.cells),
        (_, false) => add_row_of::<Little>(row, division, samples, tone, &mut sums.cells),
        (_, true) => add_row_of::<Big>(row, division, samples, tone, &mut sums.cells),
    }
}

/// A way to store a code value.
trait Store {
    const BYTES: usize;
    const LAST: usize;
    fn code(bytes: &[u8]) -> usize;
}

struct Byte;
struct Little;
struct Big;

impl Store for Byte {
    const BYTES: usize = 1;
    const LAST: usize = 255;
    #[inline(always)]
    fn code(bytes: &[u8]) -> usize {
        usize::from(bytes[0])
    }
}

impl Store for Little {
    const BYTES: usize = 2;
    const LAST: usize = 65_535;
    #[inline(always)]
    fn code(bytes: &[u8]) -> usize {
        usize::from(u16::from_le_bytes([bytes[0], bytes[1]]))
    }
}

impl Store for Big {
    const BYTES: usize = 2;
    const LAST: usize = 65_535;
    #[inline(always)]
    fn code(bytes: &[u8]) -> usize {
        usize::from(u16::from_be_bytes([bytes[0], bytes[1]]))
    }
}

fn add_row_of<S: Store>(
    row: &[u8],
    division: &Division,
    samples: &Samples,
    tone: &Tone,
    cells: &mut [Sum],
) {
    if let Some(cube) = &tone.cube {
        return add_row_by_cube::<S>(row, division, samples, tone, cube, cells);
    }
    // The usual pixels get code of their own; 0 stands for any number of samples.
    match (samples.colour, samples.per_pixel) {
        (1, 1) => add_cells::<S, 1, 1>(row, division, samples, tone, cells),
        (1, _) => add_cells::<S, 1, 0>(row, division, samples, tone, cells),
        (_, 3) => add_cells::<S, 3, 3>(row, division, samples, tone, cells),
        (_, 4) => add_cells::<S, 3, 4>(row, division, samples, tone, cells),
        _ => add_cells::<S, 3, 0>(row, division, samples, tone, cells),
    }
}

fn add_cells<S: Store, const COLOUR: usize, const STORED: usize>(
    row: &[u8],
    division: &Division,
    samples: &Samples,
    tone: &Tone,
    cells: &mut [Sum],
) {
    let stored = if STORED == 0 {
        samples.per_pixel
    } else {
        STORED
    };
    let pixel_bytes = stored * S::BYTES;
    // Slices of a length the compiler knows need no checks in the loop.
    let tables: [&[f32]; 3] = std::array::from_fn(|i| &tone.tables[i][..=S::LAST]);
    let (dark, light) = if samples.white_is_zero {
        (CLIPPED_LIGHT, CLIPPED_DARK)
    } else {
        (CLIPPED_DARK, CLIPPED_LIGHT)
    };
    let add = |sum: &mut Sum, pixels: &[u8]| {
        for pixel in pixels.chunks_exact(pixel_bytes) {
            let (mut any, mut all) = (0, S::LAST);
            for channel in 0..COLOUR {
                let code = S::code(&pixel[channel * S::BYTES..(channel + 1) * S::BYTES]);
                sum.light[channel] += tables[channel][code];
                any |= code;
                all &= code;
            }
            if any == 0 {
                sum.clipped |= dark;
            }
            if all == S::LAST {
                sum.clipped |= light;
            }
        }
    };
    let first = division.columns.range(0).len() * pixel_bytes;
    let (first, rest) = row.split_at(first.min(row.len()));
    let Some((first_cell, cells)) = cells.split_first_mut() else {
        return;
    };
    add(first_cell, first);
    for (sum, pixels) in cells
        .iter_mut()
        .zip(rest.chunks(division.columns.cell * pixel_bytes))
    {
        add(sum, pixels);
    }
}

/// The same for a profile with a table of colours.
fn add_row_by_cube<S: Store>(
    row: &[u8],
    division: &Division,
    samples: &Samples,
    tone: &Tone,
    cube: &Cube,
    cells: &mut [Sum],
) {
    for (i, pixel) in row.chunks_exact(samples.pixel_bytes()).enumerate() {
        let codes: [usize; 3] = std::array::from_fn(|c| S::code(&pixel[c * S::BYTES..]));
        let light = cube.light(std::array::from_fn(|c| tone.tables[c][codes[c]]));
        let sum = &mut cells[division.columns.cell_of(i)];
        for (sum, light) in sum.light.iter_mut().zip(light) {
            *sum += light;
        }
        if codes == [0; 3] {
            sum.clipped |= CLIPPED_DARK;
        }
        if codes == [S::LAST; 3] {
            sum.clipped |= CLIPPED_LIGHT;
        }
    }
}

/// Whether every pixel of some rows is fully opaque.
pub(super) fn is_opaque(bytes: &[u8], samples: &Samples, alpha: usize) -> bool {
    let range = alpha * samples.bytes..(alpha + 1) * samples.bytes;
    bytes
        .chunks_exact(samples.pixel_bytes())
        .all(|pixel| pixel[range.clone()].iter().all(|&byte| byte == 255))
}

/// Lays a grid of the file upright.
pub(super) fn upright<T: Clone>(mut grid: Grid<T>, turn: Turn) -> Grid<T> {
    if turn == Turn::default() {
        return grid;
    }
    if turn.flip_y {
        grid.invert_axis(ndarray::Axis(0));
    }
    if turn.flip_x {
        grid.invert_axis(ndarray::Axis(1));
    }
    if turn.transpose {
        grid = grid.reversed_axes();
    }
    grid.as_standard_layout().into_owned()
}
