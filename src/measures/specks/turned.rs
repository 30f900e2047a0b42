//! Plate or glass: is a mark there in a second scan with the plate turned half round?

use rayon::prelude::*;

use super::{Field, Speck};
use crate::density::density;
use crate::plate::{LaidBy, Plate, Turned};
use crate::raster::Grid;
use crate::raster::geometry::distance;
use crate::raster::stats::{MAD_TO_SIGMA, median};

/// How far a mark may lie from its place in the other scan, millimetres: laid on by the plate's picture
/// (error below 0.1), and by its outline alone.
const REACH_MM: f64 = 0.12;
/// See [`REACH_MM`].
const REACH_BY_OUTLINE_MM: f64 = 0.4;

/// Step of the search, millimetres: half the blur of a sharp scan.
const STEP_MM: f64 = 0.04;

/// Share of its contrast below which a mark is not there in the second scan. Two scans of one mark
/// differ by noise and sampling, a tenth or two; a mark of the glass leaves nothing at all.
const NOT_THERE: f64 = 0.4;

/// By how many of the second scan's standard deviations a mark must be missed to count as missing.
const MISSED_SIGMAS: f64 = 4.0;

/// Ring of ground round a mark, from its core's reach outward, millimetres.
const RING_MM: [f64; 2] = [0.08, 0.35];

/// How far around a mark noise is looked at, millimetres from its core's reach.
const NOISE_AWAY_MM: f64 = 0.9;

/// Places around a mark where noise is looked at.
const NOISE_PLACES: u32 = 16;

/// What a second scan makes of a plate's marks.
pub(super) struct Told {
    /// Marks that turn with the plate, or may.
    pub(super) own: Vec<Speck>,
    /// Dust of the glass over the plate, strongest first.
    pub(super) glass: Vec<Piece>,
}

/// Tells dust of the glass from the plate's own marks: all that differs between the two scans at one
/// place of the plate, and stands out in the first.
pub(super) fn tell(
    plate: &Plate,
    silver: &Grid<f32>,
    field: &Field,
    turned: &Turned,
    specks: Vec<Speck>,
) -> Told {
    let differs = difference::regions(plate, silver, field, turned);
    let on_glass: Vec<bool> = specks
        .par_iter()
        .map(|speck| differs.covers(speck.centre_mm) || is_on_glass(plate, silver, turned, speck))
        .collect();
    let (glass, own): (Vec<_>, Vec<_>) = specks
        .into_iter()
        .zip(on_glass)
        .partition(|(_, on_glass)| *on_glass);
    let mut parts: Vec<Piece> = glass
        .iter()
        .filter(|(speck, _)| !differs.covers(speck.centre_mm))
        .map(|(speck, _)| of_speck(speck))
        .collect();
    parts.extend(differs.pieces);
    Told {
        own: own.into_iter().map(|(speck, _)| speck).collect(),
        glass: pieces(parts),
    }
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
    best < NOT_THERE * core.contrast_d && core.contrast_d - best > MISSED_SIGMAS * sigma
}

mod difference;

/// One piece of dust on the scanner's glass over the plate: a speck, a flake or a hair.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Middle of its box, millimetres.
    pub centre_mm: [f64; 2],
    /// `[left, top, right, bottom]`, millimetres.
    pub box_mm: [f64; 4],
    /// Diameter of the circle with the area inside half height, of a hair its width, millimetres.
    pub size_mm: f64,
    /// Length and axis (degrees clockwise from the vertical), where it is much longer than wide.
    pub long: Option<(f64, f64)>,
    /// Difference from its surround, silver; the largest of its parts.
    pub contrast_d: f64,
    /// Expected marks so strong by chance.
    pub expected_false_alarms: f64,
}

/// Parts nearer to each other than this, box to box, are one piece, millimetres: a hair that crosses
/// shadows comes in parts. Our own choice; the length of hairs would notice a change.
const ONE_PIECE_MM: f64 = 0.2;

/// Extent over width from which a piece is called long.
const LONG: f64 = 4.0;
/// Shortest hair or fibre, millimetres.
const LEAST_HAIR_MM: f64 = 0.6;

fn of_speck(speck: &Speck) -> Piece {
    let ([x, y], r) = (speck.centre_mm, 0.5 * speck.size_mm);
    Piece {
        centre_mm: speck.centre_mm,
        box_mm: [x - r, y - r, x + r, y + r],
        size_mm: speck.size_mm,
        long: None,
        contrast_d: speck.contrast_d,
        expected_false_alarms: speck.expected_false_alarms,
    }
}

/// Puts the parts of hairs together again; strongest first.
fn pieces(mut parts: Vec<Piece>) -> Vec<Piece> {
    // By their left sides, so that only neighbours need be compared.
    parts.sort_by(|a, b| a.box_mm[0].total_cmp(&b.box_mm[0]));
    let mut whole: Vec<Piece> = Vec::new();
    for part in parts {
        let mut part = part;
        // A part may join several that were apart until now.
        while let Some(k) = whole.iter().rposition(|other| near(other, &part)) {
            part = joined(&whole.swap_remove(k), &part);
        }
        whole.push(part);
    }
    whole.sort_by(|a, b| b.contrast_d.abs().total_cmp(&a.contrast_d.abs()));
    whole
}

fn near(a: &Piece, b: &Piece) -> bool {
    let gap = |k: usize| (a.box_mm[k] - b.box_mm[k + 2]).max(b.box_mm[k] - a.box_mm[k + 2]);
    gap(0).max(0.0).hypot(gap(1).max(0.0)) < ONE_PIECE_MM
        && (a.contrast_d > 0.0) == (b.contrast_d > 0.0)
}

fn joined(a: &Piece, b: &Piece) -> Piece {
    let box_mm = [
        a.box_mm[0].min(b.box_mm[0]),
        a.box_mm[1].min(b.box_mm[1]),
        a.box_mm[2].max(b.box_mm[2]),
        a.box_mm[3].max(b.box_mm[3]),
    ];
    let [left, top, right, bottom] = box_mm;
    let larger = if a.size_mm >= b.size_mm { a } else { b };
    let stronger = if a.contrast_d.abs() >= b.contrast_d.abs() {
        a
    } else {
        b
    };
    Piece {
        centre_mm: [0.5 * (left + right), 0.5 * (top + bottom)],
        box_mm,
        size_mm: larger.size_mm,
        long: long(
            larger.size_mm,
            box_mm,
            distance(a.centre_mm, b.centre_mm),
            [
                b.centre_mm[0] - a.centre_mm[0],
                b.centre_mm[1] - a.centre_mm[1],
            ],
        ),
        contrast_d: stronger.contrast_d,
        expected_false_alarms: stronger.expected_false_alarms,
    }
}

/// Length and axis of a piece much longer than wide; `along` is a vector the way it runs.
fn long(width_mm: f64, [l, t, r, b]: [f64; 4], apart: f64, along: [f64; 2]) -> Option<(f64, f64)> {
    let length_mm = (r - l).hypot(b - t);
    let axis_deg = along[0].atan2(-along[1]).to_degrees().rem_euclid(180.0);
    (length_mm > (LONG * width_mm).max(LEAST_HAIR_MM) && apart > 0.0)
        .then_some((length_mm, axis_deg))
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
        if ci < reach || cj < reach || ci + reach >= rows as isize || cj + reach >= columns as isize
        {
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
        let peak = near
            .iter()
            .map(|(_, v)| *v)
            .fold(f64::NEG_INFINITY, f64::max);
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
