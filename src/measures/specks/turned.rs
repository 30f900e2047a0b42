//! Plate or glass: is a mark there in a second scan with the plate turned half round?

use rayon::prelude::*;

use super::Speck;
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
    best < NOT_THERE * core.contrast_d && core.contrast_d - best > MISSED_SIGMAS * sigma
}

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

/// Parts nearer to each other than this, outline to outline, are one piece, millimetres: a hair comes
/// as a row of marks. Our own choice; the length of hairs would notice a change.
const ONE_PIECE_MM: f64 = 0.35;

/// Extent over width from which a piece is called long.
const LONG: f64 = 3.0;

/// Puts the marks of hairs together again.
pub(super) fn pieces(marks: &[Speck]) -> Vec<Piece> {
    let mut of: Vec<usize> = (0..marks.len()).collect();
    let near = |a: &Speck, b: &Speck| {
        let radii = 0.5 * (a.size_mm + b.size_mm);
        distance(a.centre_mm, b.centre_mm) - radii < ONE_PIECE_MM
    };
    for i in 0..marks.len() {
        for j in 0..i {
            let (a, b) = (of[i], of[j]);
            if a != b && near(&marks[i], &marks[j]) {
                of.iter_mut()
                    .filter(|k| **k == a.max(b))
                    .for_each(|k| *k = a.min(b));
            }
        }
    }
    let firsts = (0..marks.len()).filter(|i| of[*i] == *i);
    let mut pieces: Vec<Piece> = firsts
        .filter_map(|first| {
            let parts: Vec<&Speck> = (0..marks.len())
                .filter(|i| of[*i] == first)
                .map(|i| &marks[i])
                .collect();
            piece(&parts)
        })
        .collect();
    pieces.sort_by(|a, b| b.contrast_d.abs().total_cmp(&a.contrast_d.abs()));
    pieces
}

fn piece(parts: &[&Speck]) -> Option<Piece> {
    let strongest = parts
        .iter()
        .max_by(|a, b| a.contrast_d.abs().total_cmp(&b.contrast_d.abs()))?;
    let size_mm = median(&mut parts.iter().map(|s| s.size_mm).collect::<Vec<f64>>())?;
    let empty = [
        f64::INFINITY,
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::NEG_INFINITY,
    ];
    let box_mm = parts.iter().fold(empty, |all, part| {
        let ([x, y], r) = (part.centre_mm, 0.5 * part.size_mm);
        [
            all[0].min(x - r),
            all[1].min(y - r),
            all[2].max(x + r),
            all[3].max(y + r),
        ]
    });
    let [left, top, right, bottom] = box_mm;
    Some(Piece {
        centre_mm: [0.5 * (left + right), 0.5 * (top + bottom)],
        box_mm,
        size_mm,
        long: longest(parts).filter(|(length_mm, _)| *length_mm > LONG * size_mm),
        contrast_d: strongest.contrast_d,
        expected_false_alarms: strongest.expected_false_alarms,
    })
}

/// Extent along the line through the two parts farthest apart, and its axis.
fn longest(parts: &[&Speck]) -> Option<(f64, f64)> {
    let pairs = parts
        .iter()
        .enumerate()
        .flat_map(|(i, a)| parts[i + 1..].iter().map(move |b| (a, b)));
    let (a, b) = pairs.max_by(|p, q| {
        let apart = |(a, b): &(&&Speck, &&Speck)| distance(a.centre_mm, b.centre_mm);
        apart(p).total_cmp(&apart(q))
    })?;
    let length_mm = distance(a.centre_mm, b.centre_mm) + 0.5 * (a.size_mm + b.size_mm);
    let (dx, dy) = (
        b.centre_mm[0] - a.centre_mm[0],
        b.centre_mm[1] - a.centre_mm[1],
    );
    Some((length_mm, dx.atan2(-dy).to_degrees().rem_euclid(180.0)))
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
