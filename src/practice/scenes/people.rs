//! Portraits: market-day sitters of no likeness to anyone.

use super::{Chance, Scene, View, bar, cover, ellipse, rectangle, shade};
use crate::practice::maths::{fractal, lerp, smoothstep, value_noise};

/// A painted or plain backdrop.
struct Backdrop {
    seed: u64,
    level: f32,
    clouds: f32,
    cloud_size: f32,
    tilt: [f32; 2],
    vignette: f32,
}

impl Backdrop {
    fn draw(seed: u64, chance: &mut Chance, bright: bool) -> Self {
        Backdrop {
            seed,
            level: if bright {
                chance.between(0.45, 0.85)
            } else {
                chance.between(0.06, 0.3)
            },
            clouds: chance.between(0.1, 0.9) * if bright { 0.35 } else { 1.0 },
            cloud_size: chance.between(0.15, 0.5),
            tilt: [chance.between(-0.7, 0.7), chance.between(-0.5, 0.5)],
            vignette: chance.between(0.0, 0.5),
        }
    }

    fn light(&self, x: f32, y: f32) -> f32 {
        let clouds = fractal(self.seed, x / self.cloud_size, y / self.cloud_size, 4);
        let tilt = 1.0 + self.tilt[0] * x + self.tilt[1] * y;
        let corner = 1.0 - self.vignette * smoothstep(0.35, 0.85, (x * x + y * y).sqrt());
        self.level * (1.0 + self.clouds * clouds).max(0.15) * tilt.max(0.2) * corner
    }
}

/// Head, neck, shoulders.
struct Sitter {
    seed: u64,
    centre: [f32; 2],
    head: f32,
    turn: f32,
    light: [f32; 2],
    skin: f32,
    hair: f32,
    hair_line: f32,
    hair_side: f32,
    beard: f32,
    hat: f32,
    hat_light: f32,
    coat: f32,
    folds: f32,
    shirt: f32,
    shirt_half: f32,
    shoulder: f32,
    slope: f32,
    /// Where the coat ends, below a picture's edge unless the sitter stands.
    foot: f32,
    soft: f32,
}

impl Sitter {
    fn draw(chance: &mut Chance, view: View, centre: [f32; 2], head: f32) -> Self {
        Sitter {
            seed: chance.seed(),
            centre,
            head,
            turn: chance.between(-0.35, 0.35),
            light: [
                chance.sign() * chance.between(0.3, 0.9),
                chance.between(-0.7, -0.2),
            ],
            skin: chance.between(0.3, 0.62),
            hair: chance.between(0.01, 0.25),
            hair_line: chance.between(-0.65, -0.35),
            hair_side: chance.between(1.02, 1.22),
            beard: if chance.yes(0.3) {
                chance.between(0.4, 0.9)
            } else {
                0.0
            },
            hat: if chance.yes(0.25) {
                chance.between(1.3, 2.0)
            } else {
                0.0
            },
            hat_light: chance.between(0.01, 0.5),
            coat: if chance.yes(0.7) {
                chance.between(0.01, 0.1)
            } else {
                chance.between(0.2, 0.6)
            },
            folds: chance.between(0.15, 0.5),
            shirt: chance.between(0.35, 0.9),
            shirt_half: chance.between(0.15, 0.5),
            shoulder: chance.between(1.9, 2.7),
            slope: chance.between(0.25, 0.6),
            foot: f32::MAX,
            soft: view.soft,
        }
    }

    /// Paints the sitter over `behind`.
    fn over(&self, x: f32, y: f32, behind: f32) -> f32 {
        // Lengths in half head widths, origin in the middle of the face.
        let (u, v) = (
            (x - self.centre[0]) / self.head,
            (y - self.centre[1]) / self.head,
        );
        let soft = self.soft / self.head;
        if !(-8.0..8.0).contains(&u) || v < -4.0 {
            return behind;
        }
        let mut light = behind;
        // Shoulders: a falling line from the neck, rounded at the arms.
        let top = 1.75 + self.slope * u.abs() * (0.4 + 0.5 * u.abs() / self.shoulder);
        let arm = u.abs() - self.shoulder - 0.18 * smoothstep(1.8, 6.0, v);
        let coat = cover((top - v).max(arm).max(v - self.foot), soft);
        if coat > 0.0 {
            let folds = fractal(self.seed, u * 1.6 + 0.4 * v, v * 0.5, 4);
            let weave = value_noise(self.seed ^ 1, u * 14.0, v * 14.0);
            let round = shade(u / (self.shoulder + 0.6), -0.2, self.light, 0.45);
            let cloth = self.coat * (1.0 + self.folds * folds + 0.08 * weave).max(0.2) * round;
            light = lerp(light, cloth, coat);
            // Shirt front between the lapels.
            let reach = self.shirt_half * (1.0 - (v - 1.6) / 2.6);
            let front = cover((u - 0.3 * self.turn).abs() - reach, soft) * coat;
            light = lerp(
                light,
                self.shirt * (1.0 + 0.1 * folds) * round,
                front * smoothstep(4.3, 4.1, v),
            );
            let button = ellipse(
                u - 0.3 * self.turn,
                (v - 2.2).rem_euclid(0.7) - 0.35,
                0.05,
                0.05,
            );
            light = lerp(
                light,
                0.05 + 0.5 * self.coat,
                cover(button, soft) * front * smoothstep(1.9, 2.1, v),
            );
        }
        let neck = cover(bar(u, v, [0.1 * self.turn, 0.8], [0.0, 1.8], 0.5), soft);
        light = lerp(
            light,
            0.65 * self.skin * shade(u, 0.0, self.light, 0.3),
            neck,
        );
        let hair_back = cover(ellipse(u, v + 0.15, self.hair_side, 1.32), soft);
        let strands = value_noise(self.seed ^ 2, u * 9.0 + 2.0 * v, v * 2.5);
        let hair = self.hair * (1.0 + 0.5 * strands) * shade(u * 0.8, v * 0.7, self.light, 0.35);
        light = lerp(light, hair, hair_back);
        // The face over the hair, below the hair line.
        let line = v - self.hair_line - 0.25 * (1.0 - (u * u).min(1.0)) + 0.06 * strands;
        let face = cover(ellipse(u, v, 0.88, 1.22), soft) * smoothstep(-0.08, 0.08, line);
        if face > 0.0 {
            light = lerp(light, self.face(u - 0.5 * self.turn, v, strands), face);
        }
        if self.hat > 0.0 {
            let brim = rectangle(u, v + 0.85, self.hat, 0.07) - 0.04;
            let crown = rectangle(u, v + 1.35, 0.85, 0.5) - 0.08;
            let straw =
                self.hat_light * (1.0 + 0.3 * value_noise(self.seed ^ 3, u * 20.0, v * 20.0));
            light = lerp(
                light,
                straw * shade(u * 0.7, 0.2, self.light, 0.4),
                cover(brim.min(crown), soft),
            );
        }
        light
    }

    fn face(&self, u: f32, v: f32, strands: f32) -> f32 {
        let mut skin = self.skin * shade(u * 0.95, v * 0.6, self.light, 0.28);
        skin *= 1.0 + 0.06 * fractal(self.seed ^ 4, u * 5.0, v * 5.0, 2);
        let blot = |cx: f32, cy: f32, rx: f32, ry: f32| {
            let (a, b) = ((u - cx) / rx, (v - cy) / ry);
            (1.0 - a * a - b * b).max(0.0)
        };
        for side in [-1.0, 1.0] {
            skin *= 1.0 - 0.5 * blot(0.36 * side, -0.1, 0.24, 0.16);
            skin *= 1.0 - 0.7 * blot(0.36 * side, -0.08, 0.08, 0.07);
            skin *= 1.0 - 0.5 * blot(0.37 * side, -0.3, 0.27, 0.07);
        }
        skin *= 1.0 + 0.25 * blot(0.03, 0.15, 0.1, 0.35);
        skin *= 1.0 - 0.35 * blot(-0.12 * self.light[0].signum(), 0.3, 0.14, 0.14);
        skin *= 1.0 - 0.55 * blot(0.0, 0.62, 0.3, 0.07);
        if self.beard > 0.0 {
            let chin = smoothstep(0.35, 0.6, v + 0.35 * u * u);
            skin = lerp(skin, self.hair * (1.0 + 0.6 * strands), self.beard * chin);
        }
        skin
    }
}

struct Portrait {
    backdrop: Backdrop,
    sitters: Vec<Sitter>,
}

impl Scene for Portrait {
    fn light(&self, x: f32, y: f32) -> f32 {
        let behind = self.backdrop.light(x, y);
        self.sitters
            .iter()
            .fold(behind, |light, sitter| sitter.over(x, y, light))
    }
}

/// Head and shoulders.
pub(super) fn portrait(seed: u64, view: View, chance: &mut Chance, bright: bool) -> Box<dyn Scene> {
    let backdrop = Backdrop::draw(seed, chance, bright);
    let head = chance.between(0.09, 0.16);
    let centre = [
        chance.between(-0.06, 0.06),
        chance.between(-0.22, -0.08) * 2.0 * view.half_y,
    ];
    let sitters = vec![Sitter::draw(chance, view, centre, head)];
    Box::new(Portrait { backdrop, sitters })
}

/// Two or three sitters side by side.
pub(super) fn group(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let bright = chance.yes(0.3);
    let backdrop = Backdrop::draw(seed, chance, bright);
    let count = chance.whole(2, 3);
    let pitch = 1.7 * view.half_x / count as f32;
    let mut sitters: Vec<Sitter> = (0..count)
        .map(|i| {
            let x = (i as f32 - 0.5 * (count as f32 - 1.0)) * pitch + chance.between(-0.03, 0.03);
            let y = chance.between(-0.16, 0.08) * 2.0 * view.half_y;
            let head = chance.between(0.055, 0.08);
            Sitter::draw(chance, view, [x, y], head)
        })
        .collect();
    sitters.sort_by(|a, b| a.centre[1].total_cmp(&b.centre[1]));
    Box::new(Portrait { backdrop, sitters })
}

struct Standing {
    backdrop: Backdrop,
    sitter: Sitter,
    floor: f32,
    floor_light: f32,
    board: f32,
    waist: f32,
    hem: f32,
    flare: f32,
    dress: f32,
    chair: [f32; 2],
    chair_light: f32,
    soft: f32,
    seed: u64,
}

impl Scene for Standing {
    fn light(&self, x: f32, y: f32) -> f32 {
        let mut light = self.backdrop.light(x, y);
        if y > self.floor {
            // Boards run toward the eye: lines meet above the floor.
            let depth = (y - self.floor) / 0.5 + 0.12;
            let board = x / depth / self.board;
            let gap = (board - board.floor() - 0.5).abs();
            let tone = 1.0 + 0.25 * value_noise(self.seed, board.floor(), 3.0);
            let line = 1.0 - 0.5 * smoothstep(0.46, 0.49, gap);
            light = self.floor_light * tone * line * (0.6 + 0.5 * depth);
        }
        let (cx, cy) = (x - self.chair[0], y - self.chair[1]);
        let seat = rectangle(cx, cy, 0.09, 0.012);
        let back = rectangle(cx - 0.08, cy + 0.12, 0.01, 0.13);
        let rail = rectangle(cx, cy + 0.2, 0.085, 0.008);
        let legs = rectangle(cx.abs() - 0.08, cy - 0.1, 0.009, 0.11);
        let chair = seat.min(back).min(rail).min(legs);
        light = lerp(light, self.chair_light, cover(chair, self.soft));
        // The sitter's bust, then the skirt or trousers below it.
        light = self.sitter.over(x, y, light);
        let v = (y - self.waist) / (self.hem - self.waist);
        if (-0.1..1.1).contains(&v) {
            let half = self.sitter.head * (1.5 + self.flare * v.max(0.0));
            let u = x - self.sitter.centre[0];
            let skirt = cover(
                (u.abs() - half).max(y - self.hem).max(self.waist - y),
                self.soft,
            );
            let pleat = fractal(self.seed ^ 9, u / half * 5.0, v * 0.7, 3);
            let round = shade(u / (half * 1.05), 0.0, self.sitter.light, 0.3);
            light = lerp(
                light,
                self.dress * (1.0 + 0.7 * pleat).max(0.15) * round,
                skirt,
            );
        }
        light
    }
}

/// A standing figure.
pub(super) fn standing(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let bright = chance.yes(0.4);
    let backdrop = Backdrop::draw(seed, chance, bright);
    let head = chance.between(0.04, 0.055);
    let floor = chance.between(0.5, 0.75) * view.half_y;
    let y = floor - chance.between(13.0, 15.0) * head;
    let x = chance.between(-0.12, 0.12);
    let mut sitter = Sitter::draw(chance, view, [x, y.max(-0.9 * view.half_y)], head);
    sitter.shoulder = chance.between(1.5, 1.8);
    let hem = floor + chance.between(0.05, 0.2);
    sitter.foot = (hem - sitter.centre[1]) / head - 0.3;
    let waist = sitter.centre[1] + chance.between(4.6, 5.4) * head;
    Box::new(Standing {
        floor,
        floor_light: chance.between(0.1, 0.4),
        board: chance.between(0.06, 0.18),
        waist,
        hem,
        flare: chance.between(0.2, 2.8),
        dress: chance.between(0.03, 0.4),
        chair: [x + chance.sign() * chance.between(0.2, 0.28), floor - 0.05],
        chair_light: chance.between(0.01, 0.12),
        soft: view.soft,
        seed,
        backdrop,
        sitter,
    })
}
