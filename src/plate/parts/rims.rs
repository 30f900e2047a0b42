//! The rim that the collodion did not reach.

use super::{SKIN_MM, cell, mean_over};
use crate::plate::band::Band;
use crate::plate::{Edge, Part, Plate, Rim};
use crate::raster::Grid;
use crate::raster::stats::{median, quantile};

/// Widest rim without coating, millimetres. Wider ones are bare places.
const RIM_MM: f64 = 1.15;

/// Ledge before which a rim and the border can no longer be told apart, millimetres.
pub(super) const NARROW_LEDGE_MM: f64 = 1.5;

/// The bare rim along one edge: less silver than what follows it, over most of the edge.
pub(super) fn rim(plate: &Plate, band: &Band, silver: &Grid<f64>) -> Option<Rim> {
    // Before a narrow ledge there is no room to tell rim from border.
    if plate.ledge.width_mm[band.edge as usize].is_some_and(|ledge| ledge < NARROW_LEDGE_MM) {
        return None;
    }
    let widths: Vec<Option<f64>> = rim_widths(plate, band, silver);
    let mut known: Vec<f64> = widths.iter().map(|w| w.unwrap_or(0.0)).collect();
    let width_mm = median(&mut known)?;
    let mut seen: Vec<f64> = widths.iter().copied().flatten().collect();
    let waves_mm = 0.5 * (quantile(&mut seen, 0.9)? - quantile(&mut seen, 0.1)?);
    if width_mm < 0.25 {
        return None;
    }
    // Sharpening digs a dark line beside a white lid, and a dark lid is blurred onto the plate: a rim is
    // read past both.
    let past_halo = HALO_MM.max(HALO_CELLS * plate.pitch_mm);
    let levels = |from_mm: f64, least_steps: usize| -> Vec<f64> {
        let read = |(block, width): (usize, &Option<f64>)| {
            let width = (*width)?;
            let from = band.step_at(from_mm);
            let to = band.step_at(width - 0.1).max(from + least_steps);
            mean_over(silver, block, from, to)
        };
        widths.iter().enumerate().filter_map(read).collect()
    };
    let mut clear = levels(past_halo, 0);
    let blocks = clear.len();
    let level = median(&mut clear).or_else(|| median(&mut levels(0.17, 1)))?;
    Some(Rim {
        width_mm,
        density_d: plate.silver_sign() * level,
        blocks,
        waves_mm,
    })
}

/// How far from the edge the blur and the sharpening of a scan reach: millimetres, or cells of the
/// working grid, whichever is more. Our own choice: a sharpening of one pixel ends within four.
const HALO_MM: f64 = 0.17;

/// See [`HALO_MM`].
const HALO_CELLS: f64 = 3.5;

/// Bare support holds no silver: where a "rim" reads more of it than the quietest border, it is fogged
/// border before a bright scene, or a light lip.
pub(super) fn drop_fogged_rims(plate: &mut Plate, bands: &[Band; 4], silver: &[Grid<f64>; 4]) {
    let quietest = (0..4)
        .filter_map(|k| {
            let ledge_mm = plate.ledge.width_mm[k].filter(|ledge| *ledge >= NARROW_LEDGE_MM)?;
            let from = bands[k].step_at(ledge_mm - 0.95);
            let to = bands[k].step_at(ledge_mm - 0.5) + 1;
            let blocks = 0..silver[k].ncols();
            let mut levels: Vec<f64> = blocks
                .filter_map(|block| mean_over(&silver[k], block, from, to))
                .collect();
            median(&mut levels)
        })
        .reduce(f64::min);
    let Some(quietest) = quietest else {
        return;
    };
    let sign = plate.silver_sign();
    for rim in &mut plate.rims {
        if rim.is_some_and(|rim| sign * rim.density_d > quietest + FOGGED_RIM_D) {
            *rim = None;
        }
    }
}

/// Silver above the quietest border that no rim has, density. Our own choice.
const FOGGED_RIM_D: f64 = 0.03;

/// Per block, how far from the edge the rim reaches; `None` where there is no rim.
fn rim_widths(plate: &Plate, band: &Band, silver: &Grid<f64>) -> Vec<Option<f64>> {
    let ledge = plate.ledge.width_mm[band.edge as usize].unwrap_or(f64::INFINITY);
    // What the rim is compared with: film just inside the widest rim, still before the ledge's shadow.
    let inner_mm = (ledge - 0.95).min(1.25);
    let from = band.step_at(inner_mm);
    let to = band.step_at((inner_mm + 0.45).min(ledge - 0.5)) + 1;
    let widest = band.step_at(RIM_MM.min(inner_mm + 0.05));
    (0..silver.ncols())
        .map(|block| {
            let inner = mean_over(silver, block, from, to)?;
            let start = band.step_at(0.17);
            let end = (start..widest)
                .take_while(|step| silver[[*step, block]] < inner - 0.04)
                .last()?;
            Some(band.distance_mm(end) + band.step_mm / 2.0)
        })
        .collect()
}

pub(super) fn mark_rims(plate: &mut Plate, bands: &[Band; 4], silver: &[Grid<f64>; 4]) {
    let (rows, columns) = plate.parts.dim();
    let skin = cell(plate, SKIN_MM).max(1);
    for edge in Edge::ALL {
        let k = edge as usize;
        let length = match edge {
            Edge::Top | Edge::Bottom => columns,
            Edge::Left | Edge::Right => rows,
        };
        let widths = match plate.rims[k] {
            Some(_) => rim_widths(plate, &bands[k], &silver[k]),
            None => Vec::new(),
        };
        let block = cell(plate, bands[k].block_mm).max(1);
        for along in 0..length {
            let width = widths
                .get(along / block)
                .copied()
                .flatten()
                .map_or(0, |mm| cell(plate, mm + 0.12));
            for deep in 0..width.max(skin).min(rows.min(columns)) {
                let at = match edge {
                    Edge::Top => [deep, along],
                    Edge::Bottom => [rows - 1 - deep, along],
                    Edge::Left => [along, deep],
                    Edge::Right => [along, columns - 1 - deep],
                };
                plate.parts[at] = Part::Rim;
            }
        }
    }
}
