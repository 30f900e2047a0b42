//! Lines torn into the film.

use super::{Chance, Line, dot, unit};
use crate::practice::maths::value_noise;
use crate::practice::recipe::ScratchRecipe;

/// Lengths that a scratch stays within, millimetres.
const LENGTH_MM: (f32, f32) = (10.0, 60.0);
const WIDTH_MM: (f32, f32) = (0.05, 0.5);

struct Scratch {
    middle: [f32; 2],
    along: [f32; 2],
    across: [f32; 2],
    half: f32,
    width: f32,
    open: f32,
    /// How far its middle lies off the chord.
    sag: f32,
    seed: u64,
}

impl Scratch {
    /// Off the chord at a share of the half length.
    fn off(&self, share: f32) -> f32 {
        self.sag * (1.0 - share * share)
    }
}

pub(in crate::practice) struct Scratches {
    lines: Vec<Scratch>,
    size: [f32; 2],
    pixel: f32,
}

impl Scratches {
    pub(super) fn new(
        recipe: &ScratchRecipe,
        size: [f32; 2],
        pixel: f32,
        chance: &mut Chance,
    ) -> Self {
        let lines = (0..recipe.count).map(|_| {
            let along = unit(f64::from(chance.between(0.0, 180.0)));
            let length = chance.around(recipe.length_mm, 0.35);
            let length = length.clamp(LENGTH_MM.0, LENGTH_MM.1);
            Scratch {
                middle: size.map(|side| side * chance.between(0.18, 0.82)),
                along,
                across: [-along[1], along[0]],
                half: 0.5 * length,
                width: chance
                    .around(recipe.width_mm, 0.15)
                    .clamp(WIDTH_MM.0, WIDTH_MM.1),
                open: (recipe.open as f32 * chance.between(0.85, 1.12)).min(1.0),
                sag: length * recipe.bend as f32 * if chance.yes(0.5) { 1.0 } else { -1.0 },
                seed: chance.seed(),
            }
        });
        Scratches {
            lines: lines.collect(),
            size,
            pixel,
        }
    }

    /// Share of the film that is gone, over a pixel of the scan.
    pub(super) fn torn(&self, x: f32, y: f32) -> f32 {
        let mut left = 1.0;
        for line in &self.lines {
            let from = [x - line.middle[0], y - line.middle[1]];
            let u = dot(from, line.along);
            let share = u / line.half;
            if share.abs() >= 1.0 {
                continue;
            }
            let v = (dot(from, line.across) - line.off(share)).abs();
            if v > line.width + self.pixel {
                continue;
            }
            let rough = value_noise(line.seed, u / 1.5, 0.5);
            let third = share * share * share;
            let ends = 1.0 - third * third;
            let half = 0.5 * line.width * (1.0 + 0.2 * rough) * ends;
            // How much of a pixel's width the line covers.
            let pixel = self.pixel.max(0.01);
            let covered = ((v + 0.5 * pixel).min(half) - (v - 0.5 * pixel).max(-half)) / pixel;
            let depth = line.open * (1.0 + 0.15 * value_noise(line.seed ^ 1, u / 4.0, 0.5));
            left *= 1.0 - covered.clamp(0.0, 1.0) * depth.clamp(0.0, 1.0);
        }
        1.0 - left
    }

    pub(super) fn lines(&self) -> Vec<Line> {
        let [w, h] = self.size;
        let lines = self.lines.iter();
        lines
            .map(|line| {
                let steps = (2.0 * line.half) as i32;
                let points = (-steps..=steps).filter_map(|i| {
                    let u = 0.5 * i as f32;
                    let v = line.off(u / line.half);
                    let at = [
                        line.middle[0] + u * line.along[0] + v * line.across[0],
                        line.middle[1] + u * line.along[1] + v * line.across[1],
                    ];
                    let on = (0.0..=w).contains(&at[0]) && (0.0..=h).contains(&at[1]);
                    on.then_some(at)
                });
                Line {
                    points: points.collect(),
                    width: line.width,
                    more_silver: false,
                }
            })
            .collect()
    }
}
