//! Things on a table, and cloth all over.

use super::{Chance, Scene, View, cover, ellipse, rectangle, shade};
use crate::practice::maths::{fractal, lerp, smoothstep, value_noise};

enum Shape {
    Ball,
    Bottle,
    Bowl,
    Jar,
}

struct Thing {
    shape: Shape,
    x: f32,
    foot: f32,
    size: f32,
    tone: f32,
    gloss: f32,
    seed: u64,
}

impl Thing {
    /// Signed distance and the outward slope across it.
    fn outline(&self, x: f32, y: f32) -> (f32, f32) {
        let (u, v) = ((x - self.x) / self.size, (y - self.foot) / self.size);
        let distance = match self.shape {
            Shape::Ball => ellipse(u, v + 0.95, 1.0, 0.95),
            Shape::Bottle => {
                let neck = rectangle(u, v + 3.3, 0.22, 0.7);
                let body = rectangle(u, v + 1.25, 0.55, 1.05) - 0.2;
                body.min(neck - 0.05)
            }
            Shape::Bowl => ellipse(u, v + 0.7, 1.5, 1.0).max(-(v + 0.9)),
            Shape::Jar => rectangle(u, v + 0.9, 0.6, 0.75) - 0.15,
        };
        (distance * self.size, u)
    }
}

struct StillLife {
    seed: u64,
    table: f32,
    wall: f32,
    wall_tilt: f32,
    cloth: f32,
    check: f32,
    things: Vec<Thing>,
    lit_from: [f32; 2],
    soft: f32,
}

impl Scene for StillLife {
    fn light(&self, x: f32, y: f32) -> f32 {
        let wall = self.wall
            * (1.0 + self.wall_tilt * x + 0.25 * fractal(self.seed, x * 3.0, y * 3.0, 4)).max(0.1);
        let fold = fractal(self.seed ^ 5, x * 4.0 + y, (y - self.table) * 9.0, 3);
        let squares = if self.check > 0.0 {
            let a = (x / self.check).floor() as i32
                + ((y - self.table) / self.check * 1.8).floor() as i32;
            if a.rem_euclid(2) == 0 { 1.0 } else { 0.55 }
        } else {
            1.0
        };
        let cloth = self.cloth * (1.0 + 0.35 * fold) * squares;
        let mut light = lerp(wall, cloth, cover(self.table - y, self.soft));
        for thing in &self.things {
            // Shadow on the cloth, away from the light.
            let (sx, sy) = (
                x - thing.x + 0.9 * self.lit_from[0] * thing.size,
                y - thing.foot,
            );
            let shadow = ellipse(sx, sy, 1.5 * thing.size, 0.35 * thing.size);
            light *= 1.0
                - 0.55
                    * cover(shadow, 0.35 * thing.size)
                    * smoothstep(self.table - 0.01, self.table + 0.01, y);
            let (distance, u) = thing.outline(x, y);
            let inside = cover(distance, self.soft);
            if inside > 0.0 {
                let v = (y - thing.foot) / thing.size;
                let round = shade(
                    u.clamp(-1.0, 1.0),
                    0.5 * (v + 1.0).clamp(-1.0, 1.0),
                    self.lit_from,
                    0.18,
                );
                let skin = 1.0 + 0.2 * fractal(thing.seed, u * 3.0, v * 3.0, 3);
                let spot = ellipse(u - 0.4 * self.lit_from[0], v + 1.3, 0.13, 0.22);
                let body = thing.tone * skin * round + thing.gloss * cover(spot, 0.1);
                light = lerp(light, body, inside);
            }
        }
        light
    }
}

/// Bottles, bowls and fruit.
pub(super) fn still_life(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let table = chance.between(0.1, 0.45) * view.half_y;
    let count = chance.whole(4, 9);
    let mut things: Vec<Thing> = (0..count)
        .map(|_| Thing {
            shape: match chance.whole(0, 5) {
                0 => Shape::Bottle,
                1 => Shape::Bowl,
                2 => Shape::Jar,
                _ => Shape::Ball,
            },
            x: chance.between(-0.85, 0.85) * view.half_x,
            foot: table + chance.between(0.04, 0.5 * view.half_y),
            size: chance.between(0.05, 0.12),
            tone: chance.between(0.03, 0.75),
            gloss: chance.between(0.0, 0.5),
            seed: chance.seed(),
        })
        .collect();
    things.sort_by(|a, b| a.foot.total_cmp(&b.foot));
    Box::new(StillLife {
        seed,
        table,
        wall: chance.between(0.02, 0.5),
        wall_tilt: chance.between(-1.2, 1.2),
        cloth: chance.between(0.1, 0.9),
        check: if chance.yes(0.4) {
            chance.between(0.05, 0.12)
        } else {
            0.0
        },
        things,
        lit_from: [
            chance.sign() * chance.between(0.4, 0.9),
            chance.between(-0.6, -0.2),
        ],
        soft: view.soft,
    })
}

struct Cloth {
    seed: u64,
    tone: f32,
    fold_size: f32,
    lean: f32,
    pattern: u32,
    pitch: f32,
    contrast: f32,
}

impl Scene for Cloth {
    fn light(&self, x: f32, y: f32) -> f32 {
        let bend = 0.12 * fractal(self.seed, x * 2.0, y * 2.0, 2);
        let fold = fractal(
            self.seed ^ 1,
            (x + self.lean * y + bend) / self.fold_size,
            y * 0.6,
            3,
        );
        let (u, v) = ((x + bend) / self.pitch, (y + 0.5 * bend) / self.pitch);
        let thread = match self.pattern {
            0 => value_noise(self.seed ^ 2, u * 2.0, v * 2.0),
            1 => {
                let (a, b) = (u - u.floor() - 0.5, v - v.floor() - 0.5);
                if a * a + b * b < 0.1 { 1.0 } else { -0.4 }
            }
            2 => {
                if (u.floor() as i32).rem_euclid(3) == 0 {
                    1.0
                } else {
                    -0.3
                }
            }
            _ => {
                let (a, b) = ((u.fract() - 0.5).abs(), (v.fract() - 0.5).abs());
                if a.min(b) < 0.09 { 1.0 } else { -0.7 }
            }
        };
        (self.tone * (1.0 + 0.8 * fold) * (1.0 + self.contrast * thread)).max(0.004)
    }
}

/// Folded cloth, stripes, dots or lace, edge to edge.
pub(super) fn cloth(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    Box::new(Cloth {
        seed,
        tone: chance.between(0.12, 0.5),
        fold_size: chance.between(0.1, 0.35),
        lean: chance.between(-0.8, 0.8),
        pattern: chance.whole(0, 3),
        pitch: chance.between(0.02, 0.06).max(6.0 * view.soft),
        contrast: chance.between(0.3, 0.8),
    })
}
