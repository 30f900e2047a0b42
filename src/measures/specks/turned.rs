//! Plate or glass: is a mark there in a second scan with the plate turned half round?

use rayon::prelude::*;

use super::Speck;
use crate::density::density;
use crate::plate::{LaidBy, Plate, Turned};
use crate::raster::Grid;
use crate::raster::geometry::sample;
use crate::raster::stats::{MAD_TO_SIGMA, median};

/// How far a mark may lie from its place in the other scan, millimetres: laid on by the plate's picture
/// (error below 0.1), and by its outline alone.
const REACH_MM: f64 = 0.12;
/// See [`REACH_MM`].
const REACH_BY_OUTLINE_MM: f64 = 0.4;

/// Step of the search, millimetres: half the blur of a sharp scan.
const STEP_MM: f64 = 0.04;

/// Share of its contrast with which a mark is there in the second scan, and without which it is not:
/// between them nothing is said. Two scans of one mark differ by noise and sampling, a tenth or two; a
/// mark of the glass leaves nothing at all.
const THERE: f64 = 0.5;
/// See [`THERE`].
const NOT_THERE: f64 = 0.35;

/// By how many of the second scan's standard deviations a mark must be missed to count as missing.
const MISSED_SIGMAS: f64 = 4.0;

/// Ring of ground round a mark, from its core's reach outward, millimetres.
const RING_MM: [f64; 2] = [0.08, 0.35];

/// How far around a mark noise is looked at, millimetres from its core's reach.
const NOISE_AWAY_MM: f64 = 0.9;

/// Places around a mark where noise is looked at.
const NOISE_PLACES: u32 = 16;

/// Splits marks into those that turn with the plate (or may) and those that stay with the glass.
pub(super) fn split(
    plate: &Plate,
    silver: &Grid<f32>,
    turned: &Turned,
    specks: Vec<Speck>,
) -> (Vec<Speck>, Vec<Speck>) {
    let on_glass: Vec<bool> = specks
        .par_iter()
        .map(|speck| is_on_glass(plate, silver, turned, speck))
        .collect();
    let (glass, own): (Vec<_>, Vec<_>) = specks
        .into_iter()
        .zip(on_glass)
        .partition(|(_, on_glass)| *on_glass);
    let only = |all: Vec<(Speck, bool)>| all.into_iter().map(|(speck, _)| speck).collect();
    (only(own), only(glass))
}

fn is_on_glass(plate: &Plate, silver: &Grid<f32>, turned: &Turned, speck: &Speck) -> bool {
    let Some(core) = Core::of(plate, silver, speck) else {
        return false;
    };
    let sign = plate.silver_sign() * if speck.more_silver() { 1.0 } else { -1.0 };
    let reach = match turned.laid_by {
        LaidBy::Picture { .. } => REACH_MM,
        LaidBy::Outline => REACH_BY_OUTLINE_MM,
    };
    let at = |off: [f64; 2]| core.contrast(sign, turned, off);
    let steps = (reach / STEP_MM).round() as i32;
    let mut best = f64::NEG_INFINITY;
    for dy in -steps..=steps {
        for dx in -steps..=steps {
            let off = [f64::from(dx) * STEP_MM, f64::from(dy) * STEP_MM];
            let Some(contrast) = at(off) else {
                return false;
            };
            best = best.max(contrast);
        }
    }
    let away_mm = core.reach_mm + NOISE_AWAY_MM;
    let mut around: Vec<f64> = (0..NOISE_PLACES)
        .filter_map(|k| {
            let turn = std::f64::consts::TAU * f64::from(k) / f64::from(NOISE_PLACES);
            at([away_mm * turn.cos(), away_mm * turn.sin()])
        })
        .map(f64::abs)
        .collect();
    let sigma = median(&mut around).map_or(f64::INFINITY, |m| m * MAD_TO_SIGMA);
    best < NOT_THERE * core.contrast_d && core.contrast_d * THERE - best.max(0.0) > 0.0 && {
        core.contrast_d - best > MISSED_SIGMAS * sigma
    }
}

/// A mark's core and the ring around it, as places of the first plate.
struct Core {
    cells_mm: Vec<[f64; 2]>,
    ring_mm: Vec<[f64; 2]>,
    /// Farthest cell of the core from its middle.
    reach_mm: f64,
    /// Mean of the core over the ring's median, density.
    contrast_d: f64,
}

impl Core {
    /// The cells of a mark above half its height; `None` at the rim of the grid.
    fn of(plate: &Plate, silver: &Grid<f32>, speck: &Speck) -> Option<Core> {
        let pitch = plate.pitch_mm;
        let sign = if speck.more_silver() { 1.0 } else { -1.0 };
        let within_mm = (0.75 * speck.size_mm).max(0.15);
        let reach = ((within_mm + RING_MM[1]) / pitch).ceil() as isize + 1;
        let [x, y] = speck.centre_mm;
        let (rows, columns) = silver.dim();
        let (ci, cj) = ((y / pitch) as isize, (x / pitch) as isize);
        if ci < reach || cj < reach || ci + reach >= rows as isize || cj + reach >= columns as isize {
            return None;
        }
        let mut near = Vec::new();
        let mut ring = Vec::new();
        for i in ci - reach..=ci + reach {
            for j in cj - reach..=cj + reach {
                let place = [(j as f64 + 0.5) * pitch, (i as f64 + 0.5) * pitch];
                let away = (place[0] - x).hypot(place[1] - y);
                let value = sign * f64::from(silver[[i as usize, j as usize]]);
                if away <= within_mm {
                    near.push((place, value));
                } else if away >= within_mm + RING_MM[0] && away <= within_mm + RING_MM[1] {
                    ring.push((place, value));
                }
            }
        }
        let mut values: Vec<f64> = ring.iter().map(|(_, v)| *v).collect();
        let ground = median(&mut values)?;
        let peak = near.iter().map(|(_, v)| *v).fold(f64::NEG_INFINITY, f64::max);
        let half = ground + 0.5 * (peak - ground);
        let core: Vec<([f64; 2], f64)> = near.into_iter().filter(|(_, v)| *v >= half).collect();
        let mean = core.iter().map(|(_, v)| *v).sum::<f64>() / core.len() as f64;
        (mean > ground).then(|| Core {
            cells_mm: core.iter().map(|(place, _)| *place).collect(),
            ring_mm: ring.iter().map(|(place, _)| *place).collect(),
            reach_mm: within_mm,
            contrast_d: mean - ground,
        })
    }

    /// The same in the second scan, moved by `off_mm`; `None` where it does not reach.
    fn contrast(&self, sign: f64, turned: &Turned, off_mm: [f64; 2]) -> Option<f64> {
        let d = |place: &[f64; 2]| {
            let light = turned.light_at(*place, off_mm)?;
            Some(sign * density(light.max(super::DARKEST_LIGHT)))
        };
        let mut ring: Vec<f64> = self.ring_mm.iter().map(d).collect::<Option<_>>()?;
        let core: Vec<f64> = self.cells_mm.iter().map(d).collect::<Option<_>>()?;
        let mean = core.iter().sum::<f64>() / core.len().max(1) as f64;
        Some(mean - median(&mut ring)?)
    }
}
