//! A corner that the collodion did not reach, or an island in it.

use super::Change;
use crate::practice::maths::{smoothstep, value_noise};
use crate::practice::recipe::{BareAreaRecipe, BarePlace};

/// Half the width over which the coat ends, millimetres: our own choice, as for the coating's rim.
const EDGE_SOFT_MM: f32 = 0.05;
/// The lip's middle from the edge, and its width, millimetres.
const LIP_MM: f32 = 0.35;
const LIP_WIDE_MM: f32 = 0.3;
/// The outline strays by these shares, in long waves and in short ones.
const STRAY: f32 = 0.07;
const RAGGED: f32 = 0.02;

pub(in crate::practice) struct Bare {
    middle: [f32; 2],
    /// Half sides of the outline around `middle`.
    half: [f32; 2],
    round: f32,
    lip_d: f32,
    seed: u64,
}

impl Bare {
    pub(super) fn new(recipe: &BareAreaRecipe, size: [f32; 2], seed: u64) -> Self {
        let sides = [recipe.a_mm as f32, recipe.b_mm as f32];
        let (middle, half) = match recipe.place {
            BarePlace::Island(at) => (at.map(|at| at as f32), sides.map(|side| 0.5 * side)),
            BarePlace::Corner(corner) => {
                let steps = corner.spot().steps();
                let at = |i: usize| if steps[i] > 0.0 { size[i] } else { 0.0 };
                ([at(0), at(1)], sides)
            }
        };
        Bare {
            middle,
            half,
            round: recipe.round as f32,
            lip_d: recipe.lip_d as f32,
            seed,
        }
    }

    /// Share of the way from the middle to the outline, less one.
    fn share(&self, x: f32, y: f32) -> f32 {
        let p = ((x - self.middle[0]) / self.half[0]).abs();
        let q = ((y - self.middle[1]) / self.half[1]).abs();
        let n = self.round;
        libm::powf(libm::powf(p, n) + libm::powf(q, n), 1.0 / n) - 1.0
            + STRAY * value_noise(self.seed, x / 4.5, y / 4.5)
            + RAGGED * value_noise(self.seed ^ 1, x / 1.1, y / 1.1)
    }

    pub(super) fn change(&self, x: f32, y: f32) -> Change {
        // Well off the outline nothing changes, and the roots need not be drawn.
        let far = 1.3 + 1.5 / self.half[0].min(self.half[1]);
        let (dx, dy) = (x - self.middle[0], y - self.middle[1]);
        if dx.abs() > far * self.half[0] || dy.abs() > far * self.half[1] {
            return Change::default();
        }
        const STEP: f32 = 0.02;
        let here = self.share(x, y);
        let (right, down) = (self.share(x + STEP, y), self.share(x, y + STEP));
        let slope = libm::hypotf(right - here, down - here) / STEP;
        let outside = here / slope.max(0.02);
        let lip = (outside - LIP_MM) / LIP_WIDE_MM;
        Change {
            bare: smoothstep(EDGE_SOFT_MM, -EDGE_SOFT_MM, outside),
            thick_d: self.lip_d * libm::expf(-lip * lip),
            ..Change::default()
        }
    }
}
