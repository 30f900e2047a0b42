//! The plate's outline: cut by hand, corners clipped or worn, bites along the sides.

use rand::RngExt;

use crate::practice::maths;
use crate::practice::recipe::{Corners, PlateRecipe};

/// Roughness of a cut side, millimetres: our own choice, well under a pixel at 600 dpi.
const ROUGHNESS_MM: f32 = 0.015;

pub(super) struct Outline {
    seed: u64,
    half: [f32; 2],
    form: Corners,
    corner_mm: [f32; 4],
    bites: Vec<[f32; 3]>,
}

impl Outline {
    pub(super) fn new(plate: &PlateRecipe, seed: u64) -> Self {
        let mut chance = maths::stream(seed, "bites");
        let (w, h) = (plate.width_mm as f32, plate.height_mm as f32);
        let corner_mm: [f32; 4] = std::array::from_fn(|_| {
            plate.corner_mm as f32 * chance.random_range(0.75_f64..1.0) as f32
        });
        let mut bites = Vec::new();
        if plate.corners == Corners::Nicked {
            let corner = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]][chance.random_range(0..4)];
            for _ in 0..3 {
                let at = |c: f32, chance: &mut rand_chacha::ChaCha8Rng| {
                    c + plate.corner_mm as f32 * chance.random_range(-0.6_f64..0.6) as f32
                };
                let (x, y) = (at(corner[0], &mut chance), at(corner[1], &mut chance));
                let r = plate.corner_mm as f32 * chance.random_range(0.3_f64..0.8) as f32;
                bites.push([x, y, r]);
            }
        }
        if plate.corners != Corners::Square {
            for _ in 0..chance.random_range(0..4) {
                let share = chance.random_range(0.05_f64..0.95) as f32;
                let (x, y) = match chance.random_range(0..4) {
                    0 => (share * w, 0.0),
                    1 => (w, share * h),
                    2 => (share * w, h),
                    _ => (0.0, share * h),
                };
                bites.push([x, y, chance.random_range(0.1_f64..0.5) as f32]);
            }
        }
        Outline {
            seed,
            half: [0.5 * w, 0.5 * h],
            form: plate.corners,
            corner_mm,
            bites,
        }
    }

    /// Signed distance, negative inside, millimetres.
    pub(super) fn outside_mm(&self, x: f32, y: f32) -> f32 {
        let (u, v) = (x - self.half[0], y - self.half[1]);
        let (dx, dy) = (u.abs() - self.half[0], v.abs() - self.half[1]);
        let corner = self.corner_mm[match (u > 0.0, v > 0.0) {
            (false, false) => 0,
            (true, false) => 1,
            (true, true) => 2,
            (false, true) => 3,
        }];
        let mut outside = match self.form {
            Corners::Round => box_distance(dx + corner, dy + corner) - corner,
            Corners::Clipped => {
                box_distance(dx, dy).max((dx + dy + corner) * std::f32::consts::FRAC_1_SQRT_2)
            }
            Corners::Square | Corners::Nicked => box_distance(dx, dy),
        };
        if outside > -3.0 {
            for [bx, by, r] in &self.bites {
                let (px, py) = (x - bx, y - by);
                outside = outside.max(r - (px * px + py * py).sqrt());
            }
            outside += ROUGHNESS_MM * maths::value_noise(self.seed, x * 1.5, y * 1.5);
        }
        outside
    }
}

fn box_distance(dx: f32, dy: f32) -> f32 {
    let (a, b) = (dx.max(0.0), dy.max(0.0));
    (a * a + b * b).sqrt() + dx.max(dy).min(0.0)
}
