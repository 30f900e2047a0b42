//! The scanner: plates on the glass become light at every pixel.
//!
//! In the order of the light's way: lid with the plates' shadows, plates with sharp outlines, dust,
//! blur, flare, lamp falloff, columns, noise, sharpening. Files are written in `files`.

use rand::RngExt;
use rayon::prelude::*;

use super::maths::{self, CellNormal, lerp, pow10, value_noise};
use super::paint::{Painter, Sample, Zone};
use super::pose::{self, Pose};
use super::recipe::{Lid, Recipe, ScanRecipe};
use crate::units::MM_PER_INCH;

mod dust;
pub(super) mod files;
pub(super) mod optics;

pub(super) use dust::{Dust, DustKind};

/// The plate at the pixels of its part of the scan.
pub(super) struct PlateSamples {
    /// First column and row.
    pub(super) origin: [usize; 2],
    /// Columns and rows.
    pub(super) size: [usize; 2],
    /// Row by row; outside the outline the zone says so.
    pub(super) samples: Vec<Sample>,
    /// Where it lies.
    pub(super) pose: Pose,
}

/// A finished scan before it is coded.
pub(super) struct Scanned {
    pub(super) width_px: usize,
    pub(super) height_px: usize,
    /// Linear light, row by row, before noise is split over channels.
    pub(super) light: Vec<f32>,
    /// 0 = lid, n = plate n - 1.
    pub(super) owner: Vec<u8>,
    pub(super) plates: Vec<PlateSamples>,
    pub(super) dust: Vec<Dust>,
}

impl Scanned {
    /// What the fixer left of colour at a pixel that belongs to a plate (owner 1 and up), see
    /// [`Sample::cast`]; `None` where it left none.
    fn cast(&self, owner: u8, column: usize, row: usize) -> Option<[f32; 2]> {
        let plate = self.plates.get(usize::from(owner).checked_sub(1)?)?;
        let [left, top] = plate.origin;
        let (j, i) = (column.checked_sub(left)?, row.checked_sub(top)?);
        let sample = plate.samples.get(i * plate.size[0] + j)?;
        (sample.cast != [0.0; 2]).then_some(sample.cast)
    }
}

/// How far a plate's shadow reaches over the lid, millimetres.
const SHADOW_REACH_MM: f32 = 5.0;

/// Lays the plates on the glass and scans them.
pub(super) fn scan(recipe: &Recipe, painters: &[Painter]) -> Scanned {
    let scan = &recipe.scan;
    let scale = scan.dpi / MM_PER_INCH;
    let width_px = (scan.area_mm[0] * scale).round().max(8.0) as usize;
    let height_px = (scan.area_mm[1] * scale).round().max(8.0) as usize;
    let mut light = lid(recipe, width_px, height_px);
    let mut owner = vec![0_u8; width_px * height_px];
    let mut plates = Vec::with_capacity(painters.len());
    for (i, painter) in painters.iter().enumerate() {
        let samples = lay(
            recipe, i, painter, width_px, height_px, &mut light, &mut owner,
        );
        plates.push(samples);
    }
    let dust = dust::scatter(recipe, width_px, height_px, &mut light);
    optics::blur(&mut light, width_px, scan.blur_px as f32);
    optics::flare(&mut light, width_px, scale as f32, scan.flare as f32);
    lamp_and_noise(recipe, width_px, &mut light);
    if scan.sharpen > 0.0 {
        optics::sharpen(&mut light, width_px, scan.sharpen as f32);
    }
    Scanned {
        width_px,
        height_px,
        light,
        owner,
        plates,
        dust,
    }
}

/// The lid: nearly even, with a little tooth.
fn lid(recipe: &Recipe, width_px: usize, height_px: usize) -> Vec<f32> {
    let seed = maths::sub_seed(recipe.seed, "lid");
    let level = recipe.scan.lid_light as f32;
    let per_mm = (MM_PER_INCH / recipe.scan.dpi) as f32;
    let tooth = match recipe.scan.lid {
        Lid::White | Lid::Lit => 0.003,
        Lid::Black | Lid::DarkGrey => 0.04,
    };
    let mut light = vec![0.0; width_px * height_px];
    light
        .par_chunks_mut(width_px)
        .enumerate()
        .for_each(|(row, line)| {
            for (column, cell) in line.iter_mut().enumerate() {
                let (x, y) = (column as f32 * per_mm, row as f32 * per_mm);
                let fine = value_noise(seed, x * 2.5, y * 2.5);
                let wide = value_noise(seed ^ 1, x / 40.0, y / 40.0);
                *cell = level * (1.0 + tooth * fine + 0.006 * wide);
            }
        });
    light
}

/// How dark a plate's shadow on the lid is at its edge, and how fast it fades.
struct Shadow {
    toward: [f32; 2],
    depth: f32,
    all_round: f32,
    fade_mm: f32,
}

impl Shadow {
    fn draw(recipe: &Recipe, plate: usize) -> Self {
        let mut chance = maths::stream(recipe.seed, &format!("shadow {plate}"));
        let mut angle = chance.random_range(0.0..std::f64::consts::TAU) as f32;
        if recipe.scan.turned {
            // The lamp stays where it is while the plate's frame turns.
            angle += std::f32::consts::PI;
        }
        let strength = match recipe.scan.lid {
            Lid::White => 1.0,
            Lid::DarkGrey => 0.7,
            Lid::Black => 0.5,
            Lid::Lit => 0.03,
        };
        Shadow {
            toward: [libm::cosf(angle), libm::sinf(angle)],
            depth: strength * chance.random_range(0.15_f64..0.5) as f32,
            all_round: strength * chance.random_range(0.03_f64..0.12) as f32,
            fade_mm: chance.random_range(0.35_f64..1.3) as f32,
        }
    }

    /// Factor on the lid's light at a distance outside the plate, in direction `(nx, ny)` from it.
    fn at(&self, outside_mm: f32, nx: f32, ny: f32) -> f32 {
        let facing = (nx * self.toward[0] + ny * self.toward[1]).max(0.0);
        1.0 - self.depth * facing * libm::expf(-outside_mm / self.fade_mm)
            - self.all_round * libm::expf(-outside_mm / 0.15)
    }
}

/// Lays one plate over the lid and keeps what it is like at every pixel.
fn lay(
    recipe: &Recipe,
    index: usize,
    painter: &Painter,
    width_px: usize,
    height_px: usize,
    light: &mut [f32],
    owner: &mut [u8],
) -> PlateSamples {
    let plate = &recipe.plates[index];
    let pose = Pose::new(plate, recipe.scan.dpi, recipe.scan.turned);
    let pixel_mm = (MM_PER_INCH / recipe.scan.dpi) as f32;
    let reach = f64::from(SHADOW_REACH_MM / pixel_mm);
    let bound = |axis: usize, limit: usize| {
        let values = pose.corners_px.map(|corner| corner[axis]);
        let low = values.iter().copied().fold(f64::INFINITY, f64::min) - reach;
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max) + reach;
        let low = (low.max(0.0) as usize).min(limit);
        (low, (high.max(0.0).ceil() as usize).clamp(low, limit))
    };
    let (left, right) = bound(0, width_px);
    let (top, bottom) = bound(1, height_px);
    let shadow = Shadow::draw(recipe, index);
    let glass_edge = if recipe.scan.lid == Lid::Lit {
        0.72
    } else {
        1.0
    };
    let size_mm = [plate.width_mm as f32, plate.height_mm as f32];
    let columns = right - left;
    let mut samples = vec![Sample::default(); columns * (bottom - top)];
    let rows = light[top * width_px..bottom * width_px]
        .par_chunks_mut(width_px)
        .zip(owner[top * width_px..bottom * width_px].par_chunks_mut(width_px));
    rows.zip(samples.par_chunks_mut(columns.max(1)))
        .enumerate()
        .for_each(|(i, ((line, own), kept))| {
            let y_px = (top + i) as f64 + 0.5;
            for (j, kept) in kept.iter_mut().enumerate() {
                let column = left + j;
                let [x, y] = pose::apply(&pose.to_mm, column as f64 + 0.5, y_px);
                let (x, y) = (x as f32, y as f32);
                let outside = painter.outside_mm(x, y);
                let cover = (0.5 - outside / pixel_mm).clamp(0.0, 1.0);
                if cover < 1.0 && outside < SHADOW_REACH_MM {
                    let (mut nx, mut ny) = (
                        (x - size_mm[0]).max(0.0) - (-x).max(0.0),
                        (y - size_mm[1]).max(0.0) - (-y).max(0.0),
                    );
                    let length = (nx * nx + ny * ny).sqrt();
                    if length > 1e-6 {
                        nx /= length;
                        ny /= length;
                    }
                    line[column] *= shadow.at(outside.max(0.0), nx, ny);
                }
                if cover <= 0.0 {
                    continue;
                }
                let sample = painter.sample(x, y, [column as i32, (top + i) as i32]);
                // The cut edge of a lit glass plate bends light away: a thin grey line.
                let bent = lerp(1.0, glass_edge, maths::smoothstep(-0.16, -0.04, outside));
                line[column] = lerp(line[column], pow10(-sample.d) * bent, cover);
                own[column] = index as u8 + 1;
                *kept = Sample {
                    zone: if cover < 1.0 {
                        Zone::Outside
                    } else {
                        sample.zone
                    },
                    ..sample
                };
            }
        });
    PlateSamples {
        origin: [left, top],
        size: [columns, bottom - top],
        samples,
        pose,
    }
}

/// Lamp falloff, columns of the sensor, gain, noise.
fn lamp_and_noise(recipe: &Recipe, width_px: usize, light: &mut [f32]) {
    let scan: &ScanRecipe = &recipe.scan;
    let mut chance = maths::stream(recipe.seed, "lamp");
    let along_x = chance.random_bool(0.5);
    let middle = chance.random_range(0.35_f64..0.65) as f32;
    let height_px = light.len() / width_px.max(1);
    let column_noise = CellNormal::new(maths::sub_seed(recipe.seed, "columns"));
    let columns: Vec<f32> = (0..width_px)
        .map(|column| 1.0 + scan.columns as f32 * column_noise.at(column as i32, 0))
        .collect();
    let noise = CellNormal::new(maths::sub_seed(scan.noise_seed(recipe.seed), "noise"));
    let (shot2, read2) = (
        (scan.shot * scan.shot) as f32,
        (scan.read * scan.read) as f32,
    );
    let (gain, falloff) = (scan.gain as f32, scan.falloff as f32);
    light
        .par_chunks_mut(width_px)
        .enumerate()
        .for_each(|(row, line)| {
            let down = row as f32 / height_px as f32 - middle;
            for (column, cell) in line.iter_mut().enumerate() {
                let across = column as f32 / width_px as f32 - middle;
                let off = if along_x { across } else { down };
                let lamp = gain * (1.0 - 4.0 * falloff * off * off) * columns[column];
                let clean = *cell * lamp;
                let sd = (shot2 * clean.max(0.0) + read2).sqrt();
                *cell = clean + sd * noise.at(column as i32, row as i32);
            }
        });
}
