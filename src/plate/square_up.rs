//! Lays a plate straight: one projective map, sampled in linear light.

use std::ops::Range;

use rayon::prelude::*;

use super::find::Outline;
use super::scale::Scale;
use super::{Given, Ledge, Part, Plate, PlateKind, PlateSettings, Process, ScaleSource, sizes};
use crate::doubts::Doubt;
use crate::raster::filter::average_down;
use crate::raster::geometry::{Homography, Point, distance};
use crate::raster::{Grid, several_at_a_time};
use crate::scan::Scan;
use crate::units::MM_PER_INCH;

/// Long side of a plate whose scale is unknown, millimetres: a nominal figure that keeps the measures
/// working; no length reaches the report.
const NOMINAL_LONG_SIDE_MM: f64 = 100.0;

/// Finest cell of the page's picture, millimetres: 200 cells an inch are more than a page shows.
const PICTURE_PITCH_MM: f64 = MM_PER_INCH / 200.0;

/// The plate inside an outline, squared up, its parts not yet told apart.
pub(super) fn plate(
    scan: &Scan,
    given: &Given,
    outline: &Outline,
    scale: Scale,
    settings: &PlateSettings,
) -> Plate {
    let reduce = scan.reduce as f64;
    let corners_px = outline.corners.map(|[x, y]| [x * reduce, y * reduce]);
    let (mm_x, mm_y) = mm_per_px(&corners_px, &scale);
    let length_mm = |a: Point, b: Point| ((a[0] - b[0]) * mm_x).hypot((a[1] - b[1]) * mm_y);
    let c = corners_px;
    let width_mm = (length_mm(c[0], c[1]) + length_mm(c[3], c[2])) / 2.0;
    let height_mm = (length_mm(c[0], c[3]) + length_mm(c[1], c[2])) / 2.0;

    // A scan finer than the finest pitch is averaged down first, in linear light.
    let cell_mm = reduce * (mm_x * mm_y).sqrt();
    let finer = ((settings.finest_pitch_mm / cell_mm) + 0.1)
        .floor()
        .max(1.0) as usize;
    let averaged;
    let light = if finer > 1 {
        averaged = average_down(&scan.light, finer);
        &averaged
    } else {
        &scan.light
    };
    let pitch_mm = settings.finest_pitch_mm.max(cell_mm * finer as f64);
    let map = plate_to_px(width_mm, height_mm, corners_px);
    let shape = (cells(height_mm, pitch_mm), cells(width_mm, pitch_mm));
    let squared = warp(light, shape, pitch_mm, &map, reduce * finer as f64);
    let clipped = nearest(&scan.clipped, shape, pitch_mm, &map, reduce);

    let colour_px = scan.colour_reduce as f64;
    let picture_pitch_mm = PICTURE_PITCH_MM.max(colour_px * (mm_x * mm_y).sqrt());
    let picture_shape = (
        cells(height_mm, picture_pitch_mm),
        cells(width_mm, picture_pitch_mm),
    );
    let picture = nearest(
        &scan.colour,
        picture_shape,
        picture_pitch_mm,
        &map,
        colour_px,
    );

    let mut doubts = outline.doubts.clone();
    doubts.extend(scale.doubts.iter().copied());
    if !outline.found {
        doubts.push(Doubt::CroppedInside);
    }
    let size_name = scale
        .dpi
        .and_then(|_| sizes::nearest(width_mm, height_mm))
        .map(|size| size.name.to_owned());
    let parts = Grid::from_elem(shape, Part::Picture);
    Plate {
        found: outline.found,
        corners_px,
        turn_deg: turn_deg(&corners_px),
        width_mm,
        height_mm,
        dpi: scale.dpi,
        scale_source: scale.source,
        size_name,
        process: given.process.unwrap_or(Process::PositiveOnMetal),
        kind: given.kind.unwrap_or(PlateKind::Picture),
        scanned_from: given.scanned_from,
        light: squared,
        pitch_mm,
        clipped,
        parts,
        ledge: Ledge::default(),
        rims: [None; 4],
        surround_light: outline.surround_light,
        picture,
        picture_pitch_mm,
        warnings: scale.words.into_iter().collect(),
        doubts,
        turned: None,
    }
}

fn cells(length_mm: f64, pitch_mm: f64) -> usize {
    // Whole cells only: a part of a cell at the far edge would mix the surround in.
    ((length_mm / pitch_mm).floor() as usize).max(1)
}

fn mm_per_px(corners_px: &[Point; 4], scale: &Scale) -> (f64, f64) {
    match (scale.source, scale.dpi) {
        (ScaleSource::Unknown, _) | (_, None) => {
            let longest = (0..4)
                .map(|k| distance(corners_px[k], corners_px[(k + 1) % 4]))
                .fold(1.0, f64::max);
            (
                NOMINAL_LONG_SIDE_MM / longest,
                NOMINAL_LONG_SIDE_MM / longest,
            )
        }
        (_, Some((x, y))) => (MM_PER_INCH / x, MM_PER_INCH / y),
    }
}

fn plate_to_px(width_mm: f64, height_mm: f64, corners_px: [Point; 4]) -> Homography {
    let frame = [
        [0.0, 0.0],
        [width_mm, 0.0],
        [width_mm, height_mm],
        [0.0, height_mm],
    ];
    Homography::from_points(frame, corners_px).unwrap_or_else(|| {
        // Four corners in a line enclose nothing; the door refuses them, so this is the picture's own
        // frame at worst.
        Homography::scaling(corners_px[2][0] / width_mm.max(1e-9))
    })
}

/// Mean direction of the top and bottom side, degrees, clockwise positive as seen.
fn turn_deg(c: &[Point; 4]) -> f64 {
    let dx = (c[1][0] - c[0][0]) + (c[2][0] - c[3][0]);
    let dy = (c[1][1] - c[0][1]) + (c[2][1] - c[3][1]);
    dy.atan2(dx).to_degrees()
}

/// Cells of a row whose places are counted on from one that is worked out. Our own choice: on a plate
/// of 300 cells across that lies a tenth out of square none goes astray by a thirtieth of a cell, and
/// on finer grids less (test `the_nearest_cell_holds_the_place`).
const SPAN: usize = 32;

/// One, in the whole numbers in which places are counted on.
const ONE: f64 = (1u64 << 32) as f64;

/// How cells of the squared-up plate come to lie in a grid of the scan.
struct Lie<'a> {
    /// From the plate frame to file pixels.
    map: &'a Homography,
    /// Side of a cell of the squared-up plate, millimetres.
    pitch_mm: f64,
    /// Cells of the source along one file pixel.
    cells_per_px: f64,
    /// Rows and columns of the source.
    source: (usize, usize),
    /// Where the middle of the source's first cell counts as 0: 0.5 there, 0 at its corner.
    origin: f64,
}

/// Some cells of a row.
struct Span {
    cells: Range<usize>,
    /// Place of the first in the source and the way from each to the next, x and y, in parts of
    /// [`ONE`]; `None` when one may lie outside.
    counted: Option<([i64; 2], [i64; 2])>,
}

impl Lie<'_> {
    /// Where the middle of a cell lies in the source.
    fn place(&self, row: usize, column: usize) -> Point {
        let at = |i: usize| (i as f64 + 0.5) * self.pitch_mm;
        let place = self.map.map([at(column), at(row)]);
        place.map(|px| px * self.cells_per_px - self.origin)
    }

    /// A row in spans of [`SPAN`] cells.
    fn spans(&self, row: usize, columns: usize) -> impl Iterator<Item = Span> {
        let (source_rows, source_columns) = self.source;
        let end = [source_columns, source_rows].map(|n| n as f64 - 2.0 * self.origin);
        let inside = move |p: Point| (0..2).all(|k| p[k] >= 0.0 && p[k] < end[k]);
        let mut from = self.place(row, 0);
        (0..columns).step_by(SPAN).map(move |start| {
            let cells = start..(start + SPAN).min(columns);
            let to = self.place(row, cells.end);
            let counted = (inside(from) && inside(to)).then(|| {
                let part = ONE / cells.len() as f64;
                let step = [0, 1].map(|k| ((to[k] - from[k]) * part) as i64);
                (from.map(|v| (v * ONE) as i64), step)
            });
            from = to;
            Span { cells, counted }
        })
    }
}

/// Resamples a grid by bilinear interpolation.
fn warp(
    source: &Grid<f32>,
    shape: (usize, usize),
    pitch_mm: f64,
    map: &Homography,
    px_per_cell: f64,
) -> Grid<f32> {
    let (rows, columns) = source.dim();
    let flat = source.as_standard_layout();
    let values = flat.as_slice().unwrap_or_default();
    let mut out = Grid::zeros(shape);
    if values.is_empty() {
        return out;
    }
    let lie = Lie {
        map,
        pitch_mm,
        cells_per_px: 1.0 / px_per_cell,
        source: (rows, columns),
        origin: 0.5,
    };
    // Between four cells, of which `at` is the top left one.
    let between = |at: usize, right: usize, below: usize, tx: f32, ty: f32| {
        let top = values[at] + tx * (values[at + right] - values[at]);
        let low = values[at + below] + tx * (values[at + below + right] - values[at + below]);
        top + ty * (low - top)
    };
    let (last_x, last_y) = ((columns - 1) as f64, (rows - 1) as f64);
    rows_of(&mut out).for_each(|(i, row)| {
        for span in lie.spans(i, row.len()) {
            let Some(([mut x, mut y], [step_x, step_y])) = span.counted else {
                // Beyond the source its outermost cells go on.
                for j in span.cells {
                    let [x, y] = lie.place(i, j);
                    let (x, y) = (x.clamp(0.0, last_x), y.clamp(0.0, last_y));
                    let (column, line) = (x as usize, y as usize);
                    let right = usize::from(column + 1 < columns);
                    let below = if line + 1 < rows { columns } else { 0 };
                    let (tx, ty) = ((x - column as f64) as f32, (y - line as f64) as f32);
                    row[j] = between(line * columns + column, right, below, tx, ty);
                }
                continue;
            };
            let mut left = &mut row[span.cells];
            while !left.is_empty() {
                let count = in_line([x, y], [step_x, step_y]).min(left.len());
                let cells;
                (cells, left) = left.split_at_mut(count);
                if count >= FEWEST_IN_LINE {
                    let at = (y >> 32) as usize * columns + (x >> 32) as usize;
                    let lines = [at, at + columns].map(|at| &values[at..=at + count]);
                    between_lines(lines, [x, y], [step_x, step_y], cells);
                    x += step_x * count as i64;
                    y += step_y * count as i64;
                    continue;
                }
                for cell in cells {
                    let at = (y >> 32) as usize * columns + (x >> 32) as usize;
                    *cell = between(at, 1, columns, share(x), share(y));
                    x += step_x;
                    y += step_y;
                }
            }
        }
    });
    out
}

/// How far a place in parts of [`ONE`] lies beyond the middle of a cell, 0 to just under 1: its next 24 bits, as many
/// as the number holds. Numbers with a sign are turned into it faster.
#[inline(always)]
fn share(place: i64) -> f32 {
    ((place as u32) >> 8) as i32 as f32 * (1.0 / (1 << 24) as f32)
}

/// Fewest cells in line that are worth going many at a time.
const FEWEST_IN_LINE: usize = 8;

/// How many cells from a place on, its own among them, lie side by side in one line of the source too; places and
/// steps in parts of [`ONE`].
fn in_line([x, y]: [i64; 2], [step_x, step_y]: [i64; 2]) -> usize {
    let stays = |place: i64, drift: i64| {
        let past = i64::from(place as u32);
        match drift {
            0 => i64::MAX,
            back if back < 0 => past / -back + 1,
            on => ((1 << 32) - past + on - 1) / on,
        }
    };
    let cells = stays(x, step_x - (1 << 32)).min(stays(y, step_y));
    usize::try_from(cells).unwrap_or(usize::MAX)
}

/// Bilinear interpolation between two lines of the source for cells that lie side by side in it, several at a time.
fn between_lines(
    [top, low]: [&[f32]; 2],
    [x, y]: [i64; 2],
    [step_x, step_y]: [i64; 2],
    cells: &mut [f32],
) {
    let count = cells.len();
    let [top, low] = [top, low].map(|line| (&line[..count], &line[1..=count]));
    several_at_a_time(|| {
        for (k, cell) in cells.iter_mut().enumerate() {
            // The lower half of a place is all that its share hangs on.
            let at = |from: i64, step: i64| {
                i64::from((from as u32).wrapping_add((k as u32).wrapping_mul(step as u32)))
            };
            let (tx, ty) = (share(at(x, step_x)), share(at(y, step_y)));
            let above = top.0[k] + tx * (top.1[k] - top.0[k]);
            let below = low.0[k] + tx * (low.1[k] - low.0[k]);
            *cell = above + ty * (below - above);
        }
    });
}

/// Resamples a grid by its nearest cell. Rows of the source that hold nothing but the default, as most do
/// of what is clipped, are not gone through cell by cell.
fn nearest<T: Copy + Default + PartialEq + Send + Sync>(
    source: &Grid<T>,
    shape: (usize, usize),
    pitch_mm: f64,
    map: &Homography,
    px_per_cell: f64,
) -> Grid<T> {
    let (rows, columns) = source.dim();
    let flat = source.as_standard_layout();
    let values = flat.as_slice().unwrap_or_default();
    let mut out = Grid::from_elem(shape, T::default());
    if values.is_empty() {
        return out;
    }
    let lie = Lie {
        map,
        pitch_mm,
        cells_per_px: 1.0 / px_per_cell,
        source: (rows, columns),
        origin: 0.0,
    };
    // Without a way out within a chunk, so that several cells are compared at a time.
    let all = |cells: &[T]| cells.iter().fold(true, |all, v| all & (*v == T::default()));
    let blank = |line: &[T]| line.chunks(256).all(all);
    let blank: Vec<bool> = values.par_chunks(columns).map(blank).collect();
    rows_of(&mut out).for_each(|(i, row)| {
        for span in lie.spans(i, row.len()) {
            let Some(([mut x, mut y], [step_x, step_y])) = span.counted else {
                for j in span.cells {
                    let [x, y] = lie.place(i, j);
                    let column = (x.max(0.0) as usize).min(columns - 1);
                    let line = (y.max(0.0) as usize).min(rows - 1);
                    row[j] = values[line * columns + column];
                }
                continue;
            };
            let last = y + step_y * span.cells.len() as i64;
            let lines = (y.min(last) >> 32) as usize..=(y.max(last) >> 32) as usize;
            if blank[lines].iter().all(|blank| *blank) {
                continue;
            }
            for cell in &mut row[span.cells] {
                *cell = values[(y >> 32) as usize * columns + (x >> 32) as usize];
                x += step_x;
                y += step_y;
            }
        }
    });
    out
}

/// The rows of a fresh grid with their numbers, for all cores.
fn rows_of<T: Send>(grid: &mut Grid<T>) -> impl IndexedParallelIterator<Item = (usize, &mut [T])> {
    let columns = grid.ncols().max(1);
    grid.as_slice_mut()
        .unwrap_or_default()
        .par_chunks_mut(columns)
        .enumerate()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A source of 400 x 300 cells on which a plate lies turned and out of square by a tenth.
    fn crooked() -> Homography {
        let frame = [[0.0, 0.0], [30.0, 0.0], [30.0, 40.0], [0.0, 40.0]];
        let px = [[12.0, 9.0], [280.0, 21.0], [262.0, 390.0], [-6.0, 372.0]];
        Homography::from_points(frame, px).unwrap()
    }

    /// Squares up a sloping source and says how many cells lie beyond it.
    fn slope_squared_up(map: &Homography) -> usize {
        let source = Grid::from_shape_fn((400, 300), |(i, j)| (3 * i + 7 * j) as f32);
        let squared = warp(&source, (400, 300), 0.1, map, 1.0);
        let mut outside = 0;
        for ((i, j), v) in squared.indexed_iter() {
            let [x, y] = map.map([(j as f64 + 0.5) * 0.1, (i as f64 + 0.5) * 0.1]);
            outside += usize::from(x < 0.5);
            let exact = 7.0 * (x - 0.5).clamp(0.0, 299.0) + 3.0 * (y - 0.5).clamp(0.0, 399.0);
            assert!((f64::from(*v) - exact).abs() < 0.1, "{i} {j}: {v} {exact}");
        }
        outside
    }

    #[test]
    fn places_counted_on_stay_near_those_worked_out() {
        let outside = slope_squared_up(&crooked());
        assert!(outside > 0, "the source's outermost cells are put to use");
    }

    #[test]
    fn cells_in_line_with_the_source_are_as_near() {
        // A little smaller, as large and a little larger than the source's own, turned a little either way.
        for (scale, turn) in [(9.97, 0.003), (10.0, 0.0), (10.02, -0.004), (8.0, 0.002)] {
            let corners = [[0.0, 0.0], [30.0, 0.0], [30.0, 40.0], [0.0, 40.0]];
            let px = corners.map(|[x, y]: Point| {
                [
                    scale * (x - turn * y) + 1.3,
                    scale * (y + turn * x) + 2.1 - 8.0 * turn,
                ]
            });
            slope_squared_up(&Homography::from_points(corners, px).unwrap());
        }
    }

    #[test]
    fn how_many_cells_stay_in_line() {
        let one = 1i64 << 32;
        // A quarter of a cell from the end, an eighth more a step: two with the first.
        assert_eq!(in_line([one * 3 / 4, 0], [one + one / 8, 0]), 2);
        assert_eq!(in_line([one / 4, 0], [one - one / 8, 0]), 3);
        assert_eq!(in_line([0, 5 * one + one / 2], [one, -one / 8]), 5);
        assert!(in_line([7, 7], [one, 0]) > 1 << 40);
        assert_eq!(in_line([0, 0], [2 * one, 0]), 1);
    }

    #[test]
    fn the_nearest_cell_holds_the_place() {
        let map = crooked();
        let source = Grid::from_shape_fn((400, 300), |(i, j)| [i as u16, j as u16, 0]);
        let squared = nearest(&source, (400, 300), 0.1, &map, 1.0);
        for ((i, j), v) in squared.indexed_iter() {
            let [x, y] = map.map([(j as f64 + 0.5) * 0.1, (i as f64 + 0.5) * 0.1]);
            let (x, y) = (x.clamp(0.0, 299.9), y.clamp(0.0, 399.9));
            let (dx, dy) = (x - f64::from(v[1]), y - f64::from(v[0]));
            let near = |d: f64| (-0.03..1.03).contains(&d);
            assert!(near(dx) && near(dy), "{i} {j}: {v:?} {x} {y}");
        }
    }

    #[test]
    fn an_empty_source_gives_zeros() {
        let none = Grid::from_elem((0, 7), 1.0f32);
        assert_eq!(warp(&none, (2, 2), 0.1, &crooked(), 1.0).sum(), 0.0);
        assert_eq!(nearest(&none, (2, 2), 0.1, &crooked(), 1.0).sum(), 0.0);
    }
}
