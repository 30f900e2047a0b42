//! Tells the parts of a plate apart: surround showing at nicks and clipped corners, the bare rim, the
//! border that the holder kept from the light, and the picture.

use std::ops::Range;

use super::band::Band;
use super::{Edge, Part, Plate};
use crate::raster::Grid;

mod corners;
mod ledges;
mod outside;
mod rims;

/// Outermost strip that belongs to no measure, millimetres: the lip, the cut and the scanner's blur.
/// Our own choice; profiles of scanned plates settle after it.
const SKIN_MM: f64 = 0.25;

/// Coarse cells for regions, millimetres.
const REGION_MM: f64 = 0.17;

/// Largest corner support and largest clipped corner, millimetres. Our own choice.
const CORNER_MM: f64 = 9.5;

/// Sets `parts`, `ledge` and `rims` of a squared-up plate.
pub(super) fn tell_apart(plate: &mut Plate) {
    let bands = bands(plate);
    let silver = Edge::ALL.map(|edge| relative_silver(plate, &bands[edge as usize]));
    ledges::find(plate, &bands, &silver);
    for edge in Edge::ALL {
        let k = edge as usize;
        plate.rims[k] = rims::rim(plate, &bands[k], &silver[k]);
    }
    rims::drop_fogged_rims(plate, &bands, &silver);
    mark_border(plate);
    corners::mark_corner_supports(plate);
    rims::mark_rims(plate, &bands, &silver);
    outside::mark_outside(plate);
}

/// The strips along the four edges, in the order of [`Edge::ALL`].
fn bands(plate: &Plate) -> [Band; 4] {
    let band = |edge| Band::along(plate, edge, 9.0, 0.085, 1.0);
    let ((top, right), (bottom, left)) = rayon::join(
        || (band(Edge::Top), band(Edge::Right)),
        || (band(Edge::Bottom), band(Edge::Left)),
    );
    [top, right, bottom, left]
}

/// Density counted toward more silver: its zero is arbitrary, its differences are silver.
fn relative_silver(plate: &Plate, band: &Band) -> Grid<f64> {
    let sign = plate.silver_sign();
    band.density().mapv(|d| sign * d)
}

/// Mean over rows `from` to `to` (exclusive) of one block.
fn mean_over(silver: &Grid<f64>, block: usize, from: usize, to: usize) -> Option<f64> {
    let to = to.min(silver.nrows());
    (from < to)
        .then(|| (from..to).map(|step| silver[[step, block]]).sum::<f64>() / (to - from) as f64)
}

fn cell(plate: &Plate, length_mm: f64) -> usize {
    (length_mm / plate.pitch_mm).round().max(0.0) as usize
}

fn mark_border(plate: &mut Plate) {
    let (rows, columns) = plate.parts.dim();
    let [top, right, bottom, left] = plate
        .ledge
        .width_mm
        .map(|w| w.map_or(0, |mm| cell(plate, mm + 0.25)));
    // Only the four strips are touched: the plate is large and the border is not.
    let (bottom, right) = (rows - bottom.min(rows), columns - right.min(columns));
    fill(&mut plate.parts, 0..top, 0..columns, Part::Border);
    fill(&mut plate.parts, bottom..rows, 0..columns, Part::Border);
    fill(&mut plate.parts, 0..rows, 0..left, Part::Border);
    fill(&mut plate.parts, 0..rows, right..columns, Part::Border);
}

/// Sets a box of cells, cut to the grid.
fn fill(parts: &mut Grid<Part>, rows: Range<usize>, columns: Range<usize>, part: Part) {
    let (height, width) = parts.dim();
    for row in rows.start..rows.end.min(height) {
        for column in columns.start..columns.end.min(width) {
            parts[[row, column]] = part;
        }
    }
}
