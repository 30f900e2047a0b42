//! Specks, fibres, hairs and flecks on the scanner's glass.
//!
//! Dust belongs to the glass: the second scan of a pair, with its plates turned, has the same dust in
//! the same places.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use crate::practice::maths;
use crate::practice::recipe::{Lid, Recipe};
use crate::units::MM_PER_INCH;

/// Kind of dust.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::practice) enum DustKind {
    Speck,
    Fibre,
    /// Of centimetres.
    Hair,
    /// A ragged flake.
    Fleck,
}

/// One piece of dust, in pixels of the scan.
#[derive(Debug, Clone)]
pub(in crate::practice) struct Dust {
    pub(in crate::practice) kind: DustKind,
    /// Lighter than most plates, or darker; over a lamp darker than any.
    pub(in crate::practice) bright: bool,
    /// Diameter of a speck, width of a fibre, a hair or a fleck's stroke, millimetres.
    pub(in crate::practice) size_mm: f64,
    /// Length of a fibre or a hair, millimetres.
    pub(in crate::practice) length_mm: Option<f64>,
    /// Points along it, pixels; one for a speck.
    pub(in crate::practice) path_px: Vec<[f32; 2]>,
}

/// Draws dust and lays it over the light.
pub(super) fn scatter(
    recipe: &Recipe,
    width_px: usize,
    height_px: usize,
    light: &mut [f32],
) -> Vec<Dust> {
    let mut chance = maths::stream(recipe.seed, "dust");
    let scan = &recipe.scan;
    let px_per_mm = scan.dpi / MM_PER_INCH;
    let mut all = Vec::new();
    let kinds = [
        (DustKind::Speck, scan.dust_specks),
        (DustKind::Fibre, scan.dust_fibres),
        (DustKind::Hair, scan.dust_hairs),
        (DustKind::Fleck, scan.dust_flecks),
    ];
    let pieces = kinds
        .into_iter()
        .flat_map(|(kind, count)| (0..count).map(move |_| kind));
    for kind in pieces {
        let at = [
            (chance.random_range(0.0..1.0) * width_px as f64) as f32,
            (chance.random_range(0.0..1.0) * height_px as f64) as f32,
        ];
        // Over a lamp all dust is dark; under a lid most of it is grey or white.
        let bright = scan.lid != Lid::Lit && chance.random_bool(0.75);
        let tone = if bright {
            chance.random_range(0.3_f64..0.8)
        } else {
            chance.random_range(0.005_f64..0.05)
        } as f32;
        let opacity = chance.random_range(0.4_f64..0.95) as f32;
        let (size_mm, length_mm, path_px) = match kind {
            DustKind::Speck => (chance.random_range(0.04..0.22), None, vec![at]),
            DustKind::Fibre => {
                let length = chance.random_range(0.8..6.0);
                let path = curl(&mut chance, at, (length * px_per_mm) as f32);
                (chance.random_range(0.025..0.06), Some(length), path)
            }
            DustKind::Hair => {
                let length = chance.random_range(6.0..40.0);
                let path = curl(&mut chance, at, (length * px_per_mm) as f32);
                (chance.random_range(0.04..0.1), Some(length), path)
            }
            DustKind::Fleck => {
                let width = chance.random_range(0.08..0.3);
                let path = jagged(&mut chance, at, (width * px_per_mm) as f32);
                (width, None, path)
            }
        };
        let dust = Dust {
            kind,
            bright,
            size_mm,
            length_mm,
            path_px,
        };
        let radius = (0.5 * size_mm * px_per_mm) as f32;
        stamp(&dust, radius, opacity, width_px, light, |behind| {
            // Over a lamp it takes a share of the light that comes through the plate, and adds none.
            match scan.lid {
                Lid::Lit => tone * behind,
                _ => tone,
            }
        });
        all.push(dust);
    }
    all
}

/// A curved fibre: its bend drifts as it goes.
fn curl(chance: &mut ChaCha8Rng, from: [f32; 2], length: f32) -> Vec<[f32; 2]> {
    let steps = 24;
    let step = length / steps as f32;
    let mut angle = chance.random_range(0.0..std::f64::consts::TAU) as f32;
    let mut bend = chance.random_range(-0.15_f64..0.15) as f32;
    let mut path = vec![from];
    let [mut x, mut y] = from;
    for _ in 0..steps {
        bend += chance.random_range(-0.05_f64..0.05) as f32;
        angle += bend;
        x += step * libm::cosf(angle);
        y += step * libm::sinf(angle);
        path.push([x, y]);
    }
    path
}

/// A few steps to and fro, each about as long as the fleck is wide.
fn jagged(chance: &mut ChaCha8Rng, from: [f32; 2], width: f32) -> Vec<[f32; 2]> {
    let mut path = vec![from];
    let [mut x, mut y] = from;
    for _ in 0..chance.random_range(2..=4) {
        let angle = chance.random_range(0.0..std::f64::consts::TAU) as f32;
        let step = width * chance.random_range(0.4_f64..1.3) as f32;
        x += step * libm::cosf(angle);
        y += step * libm::sinf(angle);
        path.push([x, y]);
    }
    path
}

/// Lays one piece over the light with a soft rim of a pixel; `tone` is its own light over what lies behind it.
fn stamp(
    dust: &Dust,
    radius: f32,
    opacity: f32,
    width: usize,
    light: &mut [f32],
    tone: impl Fn(f32) -> f32,
) {
    let height = light.len() / width;
    let [left, top, right, bottom] = dust.bounds_px(radius + 1.0);
    let columns = left.max(0.0) as usize..(right.ceil().max(0.0) as usize).min(width);
    let rows = top.max(0.0) as usize..(bottom.ceil().max(0.0) as usize).min(height);
    // A fibre thinner than a pixel covers only part of it.
    let thin = (2.0 * radius).min(1.0);
    for row in rows {
        for column in columns.clone() {
            let (x, y) = (column as f32 + 0.5, row as f32 + 0.5);
            let away = distance(&dust.path_px, x, y) - radius.max(0.5);
            let cover = (0.5 - away).clamp(0.0, 1.0) * opacity * thin;
            let cell = &mut light[row * width + column];
            *cell += cover * (tone(*cell) - *cell);
        }
    }
}

/// Distance from a path of straight pieces.
fn distance(path: &[[f32; 2]], x: f32, y: f32) -> f32 {
    let to = |p: &[f32; 2]| ((x - p[0]) * (x - p[0]) + (y - p[1]) * (y - p[1])).sqrt();
    let mut least = path.first().map_or(f32::MAX, to);
    for pair in path.windows(2) {
        let (ux, uy) = (pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]);
        let along = ((x - pair[0][0]) * ux + (y - pair[0][1]) * uy) / (ux * ux + uy * uy).max(1e-6);
        let along = along.clamp(0.0, 1.0);
        least = least.min(to(&[pair[0][0] + along * ux, pair[0][1] + along * uy]));
    }
    least
}

impl Dust {
    /// `[left, top, right, bottom]` in pixels, grown by `margin`.
    pub(in crate::practice) fn bounds_px(&self, margin: f32) -> [f32; 4] {
        let mut bounds = [f32::MAX, f32::MAX, f32::MIN, f32::MIN];
        for [x, y] in &self.path_px {
            bounds[0] = bounds[0].min(x - margin);
            bounds[1] = bounds[1].min(y - margin);
            bounds[2] = bounds[2].max(x + margin);
            bounds[3] = bounds[3].max(y + margin);
        }
        bounds
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dust_under_a_lid_may_lighten_and_over_a_lamp_only_darkens() {
        let grain = Dust {
            kind: DustKind::Speck,
            bright: false,
            size_mm: 0.2,
            length_mm: None,
            path_px: vec![[5.0, 5.0]],
        };
        // A dense place of a negative.
        let mut lamp = vec![0.004; 100];
        let mut lid = lamp.clone();
        stamp(&grain, 2.0, 0.8, 10, &mut lamp, |behind| 0.05 * behind);
        stamp(&grain, 2.0, 0.8, 10, &mut lid, |_| 0.05);
        assert!(lamp[55] < 0.002 && lid[55] > 0.03);
        assert_eq!([lamp[0], lid[0]], [0.004; 2]);
    }
}
