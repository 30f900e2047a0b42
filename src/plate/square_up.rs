//! Lays a plate straight: one projective map, sampled in linear light.

use ndarray::{Axis, parallel::prelude::*};

use super::find::Outline;
use super::scale::Scale;
use super::{Given, Ledge, Part, Plate, PlateKind, PlateSettings, Process, ScaleSource, sizes};
use crate::doubts::Doubt;
use crate::raster::Grid;
use crate::raster::filter::average_down;
use crate::raster::geometry::{Homography, Point, distance};
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
    let grid_of = |per_px: f64| move |p: Point| [p[0] / per_px, p[1] / per_px];
    let shape = (cells(height_mm, pitch_mm), cells(width_mm, pitch_mm));
    let squared = warp(light, shape, pitch_mm, &map, grid_of(reduce * finer as f64));
    let clipped = nearest(&scan.clipped, shape, pitch_mm, &map, grid_of(reduce));

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
        grid_of(colour_px),
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

/// Resamples a grid by bilinear interpolation; `to_grid` carries file pixels to cells of the source.
fn warp(
    source: &Grid<f32>,
    shape: (usize, usize),
    pitch_mm: f64,
    map: &Homography,
    to_grid: impl Fn(Point) -> Point + Sync,
) -> Grid<f32> {
    let (rows, columns) = source.dim();
    let flat = source.as_standard_layout();
    let values = flat.as_slice().unwrap_or(&[]);
    let mut out = Grid::zeros(shape);
    if values.is_empty() {
        return out;
    }
    let (last_x, last_y) = ((columns - 1) as f64, (rows - 1) as f64);
    out.axis_iter_mut(Axis(0))
        .into_par_iter()
        .enumerate()
        .for_each(|(i, mut row)| {
            let y_mm = (i as f64 + 0.5) * pitch_mm;
            let walk = map.walk([0.5 * pitch_mm, y_mm], [pitch_mm, 0.0]);
            for (cell, p) in row.iter_mut().zip(walk) {
                let [x, y] = to_grid(p);
                let fx = (x - 0.5).clamp(0.0, last_x);
                let fy = (y - 0.5).clamp(0.0, last_y);
                let (j, k) = (fx as usize, fy as usize);
                let (tx, ty) = ((fx - j as f64) as f32, (fy - k as f64) as f32);
                let right = usize::from(j + 1 < columns);
                let below = if k + 1 < rows { columns } else { 0 };
                let at = k * columns + j;
                let top = values[at] + tx * (values[at + right] - values[at]);
                let low =
                    values[at + below] + tx * (values[at + below + right] - values[at + below]);
                *cell = top + ty * (low - top);
            }
        });
    out
}

/// Resamples a grid by its nearest cell.
fn nearest<T: Copy + Default + Send + Sync>(
    source: &Grid<T>,
    shape: (usize, usize),
    pitch_mm: f64,
    map: &Homography,
    to_grid: impl Fn(Point) -> Point + Sync,
) -> Grid<T> {
    let (rows, columns) = source.dim();
    let mut out = Grid::from_elem(shape, T::default());
    if rows == 0 || columns == 0 {
        return out;
    }
    out.axis_iter_mut(Axis(0))
        .into_par_iter()
        .enumerate()
        .for_each(|(i, mut row)| {
            let y_mm = (i as f64 + 0.5) * pitch_mm;
            let walk = map.walk([0.5 * pitch_mm, y_mm], [pitch_mm, 0.0]);
            for (cell, p) in row.iter_mut().zip(walk) {
                let [x, y] = to_grid(p);
                let j = (x.max(0.0) as usize).min(columns - 1);
                let k = (y.max(0.0) as usize).min(rows - 1);
                *cell = source[[k, j]];
            }
        });
    out
}
