//! Scenes of little contrast: what a plate shows flat though nothing went wrong.

use super::{Chance, Scene, View, bar, cover, ellipse};
use crate::practice::maths::{fractal, lerp, smoothstep};

/// Hills one behind the other in mist, each paler than the one before it.
struct Mist {
    seed: u64,
    soft: f32,
    sky: f32,
    /// Height on the picture, height of the ups and downs, light.
    hills: Vec<[f32; 3]>,
    tree: Option<[f32; 2]>,
    tree_light: f32,
}

impl Scene for Mist {
    fn light(&self, x: f32, y: f32) -> f32 {
        let mut light = self.sky * (1.0 + 0.04 * fractal(self.seed, x * 1.5, y * 3.0, 3));
        for (i, [base, height, tone]) in self.hills.iter().enumerate() {
            let seed = self.seed.wrapping_add(17 * (i as u64 + 1));
            let line = base - height * fractal(seed, x / 0.4, 0.5, 4);
            let woods = 1.0 + 0.06 * fractal(seed ^ 5, x * 14.0, y * 14.0, 3);
            // Mist lies thickest in the valley below each ridge.
            let risen = lerp(*tone, self.sky, 0.5 * smoothstep(0.0, 0.45, y - line));
            light = lerp(light, risen * woods, cover(line - y, 4.0 * self.soft));
        }
        if let Some([tx, ty]) = self.tree {
            let trunk = bar(x, y, [tx, ty], [tx, ty - 0.22], 0.006);
            let crown = ellipse(x - tx, y - ty + 0.26, 0.1, 0.13)
                + 0.05 * fractal(self.seed ^ 3, x * 12.0, y * 12.0, 3);
            light = lerp(light, self.tree_light, cover(trunk.min(crown), self.soft));
        }
        light
    }
}

/// Hills in mist.
pub(super) fn mist(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let sky = chance.between(0.3, 0.9);
    let depth = chance.between(0.25, 0.75);
    let count = chance.whole(2, 4);
    let hills = (0..count).map(|i| {
        let share = (i + 1) as f32 / count as f32;
        [
            lerp(-0.3, 0.3, share) * 2.0 * view.half_y,
            chance.between(0.05, 0.16),
            sky * (1.0 - depth * share),
        ]
    });
    let hills = hills.collect();
    Box::new(Mist {
        seed,
        soft: view.soft,
        sky,
        hills,
        tree: chance
            .yes(0.4)
            .then(|| [chance.between(-0.35, 0.35), 0.8 * view.half_y]),
        tree_light: sky * (1.0 - depth) * chance.between(0.6, 0.9),
    })
}

/// A field of snow with soft shadows and, now and then, a fence.
struct Snow {
    seed: u64,
    soft: f32,
    horizon: f32,
    snow: f32,
    sky: f32,
    shadow: f32,
    posts: Vec<f32>,
    post_light: f32,
}

impl Scene for Snow {
    fn light(&self, x: f32, y: f32) -> f32 {
        let line = self.horizon - 0.05 * fractal(self.seed, x / 0.6, 0.5, 3);
        let drift = fractal(self.seed ^ 1, x * 1.8, y * 3.5, 4);
        let field = self.snow * (1.0 + self.shadow * drift.min(0.3));
        let mut light = lerp(self.sky, field, cover(line - y, 2.0 * self.soft));
        for (i, post) in self.posts.iter().enumerate() {
            let low = line + 0.12 + 0.01 * (i % 3) as f32;
            let post = bar(x, y, [*post, low - 0.1], [*post, low], 0.004);
            light = lerp(light, self.post_light, cover(post, self.soft));
        }
        light
    }
}

/// Snow under an overcast sky.
pub(super) fn snow(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let posts = if chance.yes(0.5) {
        chance.whole(2, 7)
    } else {
        0
    };
    Box::new(Snow {
        seed,
        soft: view.soft,
        horizon: chance.between(-0.5, 0.1) * view.half_y,
        snow: chance.between(0.5, 1.0),
        sky: chance.between(0.35, 0.9),
        shadow: chance.between(0.15, 0.6),
        posts: (0..posts).map(|_| chance.between(-0.45, 0.45)).collect(),
        post_light: chance.between(0.03, 0.3),
    })
}

/// A room without light of its own: furniture that is hardly to be made out.
struct DarkRoom {
    seed: u64,
    soft: f32,
    wall: f32,
    /// Middle, half sides, light.
    shapes: Vec<[f32; 5]>,
}

impl Scene for DarkRoom {
    fn light(&self, x: f32, y: f32) -> f32 {
        let mut light = self.wall * (1.0 + 0.3 * fractal(self.seed, x * 2.0, y * 2.0, 4));
        for (i, [sx, sy, hx, hy, tone]) in self.shapes.iter().enumerate() {
            let seed = self.seed.wrapping_add(7 * (i as u64 + 1));
            let cloth = 1.0 + 0.25 * fractal(seed, x * 6.0, y * 6.0, 3);
            let shape = ellipse(x - sx, y - sy, *hx, *hy);
            light = lerp(light, tone * cloth, cover(shape, 3.0 * self.soft));
        }
        light
    }
}

/// A room at dusk.
pub(super) fn dark_room(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let wall = chance.between(0.008, 0.05);
    let brightest = chance.between(1.8, 6.0);
    let count = chance.whole(3, 8);
    let shapes = (0..count).map(|_| {
        [
            chance.between(-0.9, 0.9) * view.half_x,
            chance.between(-0.9, 0.9) * view.half_y,
            chance.between(0.05, 0.25),
            chance.between(0.05, 0.25),
            wall * chance.between(0.3, brightest),
        ]
    });
    let shapes = shapes.collect();
    Box::new(DarkRoom {
        seed,
        soft: view.soft,
        wall,
        shapes,
    })
}
