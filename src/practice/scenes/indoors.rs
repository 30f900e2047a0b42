//! Rooms and lights; among them the scenes that look like fog from an edge.

use super::{Chance, Scene, View, bar, cover, ellipse, rectangle, shade};
use crate::practice::maths::{fractal, lerp, smoothstep, value_noise};

/// Light that falls off from one side of the picture.
struct SideLight {
    side: usize,
    level: f32,
    reach: f32,
    from: f32,
    to: f32,
}

impl SideLight {
    fn draw(chance: &mut Chance, view: View) -> Self {
        let side = chance.whole(0, 3) as usize;
        let half = view.half_side(side);
        let whole = chance.yes(0.6);
        let from = if whole {
            -2.0
        } else {
            chance.between(-0.9, 0.1) * half
        };
        SideLight {
            side,
            level: chance.between(0.25, 0.95),
            reach: chance.between(0.03, 0.3),
            from,
            to: if whole {
                2.0
            } else {
                from + chance.between(0.5, 1.3) * half
            },
        }
    }

    fn light(&self, view: View, x: f32, y: f32) -> f32 {
        let distance = view.inward_of(self.side, x, y).max(0.0);
        let along = view.along_side(self.side, x, y);
        let ends = smoothstep(self.from - 0.08, self.from + 0.08, along)
            * smoothstep(self.to + 0.08, self.to - 0.08, along);
        self.level * libm::expf(-distance / self.reach) * ends
    }
}

struct WindowLight {
    seed: u64,
    view: View,
    lights: Vec<SideLight>,
    wall: f32,
    corner: f32,
    panel: Option<[f32; 4]>,
    table: f32,
    head: Option<[f32; 3]>,
}

impl Scene for WindowLight {
    fn light(&self, x: f32, y: f32) -> f32 {
        let falling: f32 = self
            .lights
            .iter()
            .map(|lamp| lamp.light(self.view, x, y))
            .sum();
        let plaster = fractal(self.seed, x * 6.0, y * 6.0, 4);
        let mut own = self.wall * (1.0 + 0.15 * plaster);
        own *= lerp(1.0, 0.6, smoothstep(-0.004, 0.004, x - self.corner));
        if let Some([px, py, hx, hy]) = self.panel {
            let frame = rectangle(x - px, y - py, hx, hy).abs() - 0.012;
            own = lerp(own, 0.3, cover(frame, self.view.soft));
            let inside = cover(
                rectangle(x - px, y - py, hx - 0.012, hy - 0.012),
                self.view.soft,
            );
            let picture = 0.1 + 0.1 * fractal(self.seed ^ 2, x * 15.0, y * 15.0, 3);
            own = lerp(own, picture.max(0.01), inside);
        }
        if y > self.table {
            own = 0.08 + 0.05 * value_noise(self.seed ^ 3, x * 3.0, y * 40.0);
        }
        let mut light = own * (0.35 + falling) + 0.55 * falling * (1.0 + 0.06 * plaster);
        if let Some([hx, hy, r]) = self.head {
            let side = self.lights.first().map_or(3, |lamp| lamp.side);
            let lit = [[0.0, -0.9], [0.9, 0.0], [0.0, 0.9], [-0.9, 0.0]][side % 4];
            let body = ellipse(x - hx, y - hy - 2.6 * r, 2.2 * r, 1.6 * r);
            let cloth = 0.05 * (1.0 + 0.5 * fractal(self.seed ^ 4, x * 9.0, y * 4.0, 3));
            light = lerp(light, cloth, cover(body, self.view.soft));
            let (u, v) = ((x - hx) / r, (y - hy) / r);
            let face = 0.5 * shade(u * 0.95, v * 0.7, lit, 0.08);
            light = lerp(
                light,
                face,
                cover(ellipse(u, v, 0.85, 1.15) * r, self.view.soft),
            );
        }
        light
    }
}

/// A room lit by a window just outside the picture.
pub(super) fn window_light(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    Box::new(WindowLight {
        seed,
        view,
        lights: vec![SideLight::draw(chance, view)],
        wall: chance.between(0.05, 0.3),
        corner: chance.between(-0.8, 0.8) * view.half_x,
        panel: chance.yes(0.5).then(|| {
            [
                chance.between(-0.3, 0.3),
                chance.between(-0.3, 0.0),
                chance.between(0.08, 0.2),
                chance.between(0.08, 0.2),
            ]
        }),
        table: chance.between(0.5, 1.1) * view.half_y,
        head: chance.yes(0.6).then(|| {
            [
                chance.between(-0.25, 0.25),
                chance.between(-0.2, 0.15),
                chance.between(0.08, 0.14),
            ]
        }),
    })
}

struct Glow {
    seed: u64,
    view: View,
    lights: Vec<SideLight>,
    dark: f32,
    grain: f32,
    shapes: Vec<[f32; 4]>,
}

impl Scene for Glow {
    fn light(&self, x: f32, y: f32) -> f32 {
        let falling: f32 = self
            .lights
            .iter()
            .map(|lamp| lamp.light(self.view, x, y))
            .sum();
        let rough = fractal(self.seed, x * self.grain, y * self.grain, 4);
        let mut light = self.dark * (1.0 + 0.6 * rough).max(0.1);
        for [cx, cy, r, tone] in &self.shapes {
            let bump = 0.4 * fractal(self.seed ^ 8, x * 7.0, y * 7.0, 2);
            let shape = ellipse(x - cx, y - cy, *r, *r * 1.3) + r * bump;
            light = lerp(
                light,
                tone * (1.0 + 0.4 * rough),
                cover(shape, 2.0 * self.view.soft),
            );
        }
        light + falling * (1.0 + 0.05 * rough)
    }
}

/// Mist or a reflection that rises toward one or two edges of a darker picture.
pub(super) fn glow(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let lamps = chance.whole(1, 2);
    let shapes = chance.whole(2, 7);
    Box::new(Glow {
        seed,
        view,
        lights: (0..lamps).map(|_| SideLight::draw(chance, view)).collect(),
        dark: chance.between(0.015, 0.2),
        grain: chance.between(3.0, 14.0),
        shapes: (0..shapes)
            .map(|_| {
                [
                    chance.between(-0.9, 0.9) * view.half_x,
                    chance.between(-0.9, 0.9) * view.half_y,
                    chance.between(0.05, 0.2),
                    chance.between(0.02, 0.4),
                ]
            })
            .collect(),
    })
}

/// One bright shape that reaches an edge.
struct Shape {
    side: usize,
    at: f32,
    half: f32,
    length: f32,
    lean: f32,
    taper: f32,
    soft: f32,
    tone: f32,
    folds: f32,
}

struct BrightShape {
    seed: u64,
    view: View,
    wall: f32,
    wall_tilt: [f32; 2],
    rough: f32,
    shapes: Vec<Shape>,
    things: Vec<[f32; 4]>,
}

impl Scene for BrightShape {
    fn light(&self, x: f32, y: f32) -> f32 {
        let plaster = fractal(self.seed, x * 5.0, y * 5.0, 4);
        let tilt = 1.0 + self.wall_tilt[0] * x + self.wall_tilt[1] * y;
        let mut light = self.wall * (1.0 + self.rough * plaster).max(0.1) * tilt.max(0.1);
        for [cx, cy, r, tone] in &self.things {
            let thing = rectangle(x - cx, y - cy, *r, 0.7 * r) - 0.2 * r;
            light = lerp(
                light,
                tone * (1.0 + 0.3 * plaster),
                cover(thing, self.view.soft),
            );
        }
        for shape in &self.shapes {
            let d = self.view.inward_of(shape.side, x, y);
            let a = self.view.along_side(shape.side, x, y) - shape.at - shape.lean * d;
            let half = shape.half * (1.0 - shape.taper * (d / shape.length).clamp(0.0, 1.0));
            let inside =
                cover(a.abs() - half, shape.soft) * cover(d - shape.length, 2.0 * shape.soft);
            let fold = value_noise(self.seed ^ 5, a / shape.half * 3.0, 0.5);
            light = lerp(light, shape.tone * (1.0 + shape.folds * fold), inside);
        }
        light
    }
}

/// A mast, lamp, curtain or gap in a door before something darker.
pub(super) fn bright_shape(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let count = chance.whole(1, 3);
    let things = chance.whole(0, 4);
    Box::new(BrightShape {
        seed,
        view,
        wall: chance.between(0.02, 0.3),
        wall_tilt: [chance.between(-0.8, 0.8), chance.between(-0.8, 0.8)],
        rough: chance.between(0.05, 0.6),
        shapes: (0..count)
            .map(|_| {
                let side = chance.whole(0, 3) as usize;
                Shape {
                    side,
                    at: chance.between(-0.85, 0.85) * view.half_side(side),
                    half: chance.between(0.008, 0.09),
                    length: chance.between(0.1, 1.2),
                    lean: chance.between(-0.3, 0.3),
                    taper: chance.between(-0.5, 0.7),
                    soft: view.soft
                        * if chance.yes(0.5) {
                            1.0
                        } else {
                            chance.between(2.0, 14.0)
                        },
                    tone: chance.between(0.3, 1.0),
                    folds: chance.between(0.0, 0.3),
                }
            })
            .collect(),
        things: (0..things)
            .map(|_| {
                [
                    chance.between(-0.7, 0.7) * view.half_x,
                    chance.between(-0.2, 0.9) * view.half_y,
                    chance.between(0.04, 0.15),
                    chance.between(0.03, 0.6),
                ]
            })
            .collect(),
    })
}

struct Interior {
    seed: u64,
    view: View,
    dark: f32,
    lamps: Vec<[f32; 4]>,
    beams: Vec<[f32; 5]>,
    floor: f32,
}

impl Scene for Interior {
    fn light(&self, x: f32, y: f32) -> f32 {
        let falling: f32 = self
            .lamps
            .iter()
            .map(|[lx, ly, level, reach]| {
                let (dx, dy) = (x - lx, y - ly);
                level / (1.0 + (dx * dx + dy * dy) / (reach * reach))
            })
            .sum();
        let plaster = fractal(self.seed, x * 5.0, y * 5.0, 4);
        let mut own = 0.4 * (1.0 + 0.3 * plaster);
        for [x0, y0, x1, y1, half] in &self.beams {
            let beam = bar(x, y, [*x0, *y0], [*x1, *y1], *half);
            own = lerp(
                own,
                0.12 * (1.0 + 0.4 * plaster),
                cover(beam, self.view.soft),
            );
        }
        if y > self.floor {
            own = 0.25 * (1.0 + 0.5 * value_noise(self.seed ^ 1, x * 4.0, y * 25.0));
        }
        let mut light = self.dark + own * falling;
        for [lx, ly, level, _] in &self.lamps {
            let flame = ellipse(x - lx, y - ly, 0.008, 0.018);
            light += level.min(1.0) * cover(flame, 2.0 * self.view.soft);
        }
        light
    }
}

/// A dark room with a few lamps.
pub(super) fn interior(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let lamps = chance.whole(1, 3);
    let beams = chance.whole(2, 6);
    Box::new(Interior {
        seed,
        view,
        dark: chance.between(0.002, 0.015),
        lamps: (0..lamps)
            .map(|_| {
                [
                    chance.between(-0.8, 0.8) * view.half_x,
                    chance.between(-0.6, 0.5) * view.half_y,
                    chance.between(0.5, 1.4),
                    chance.between(0.06, 0.2),
                ]
            })
            .collect(),
        beams: (0..beams)
            .map(|_| {
                let across = chance.yes(0.5);
                let at = chance.between(-1.0, 1.0);
                let lean = chance.between(-0.2, 0.2);
                let half = chance.between(0.01, 0.04);
                if across {
                    [-1.5, at * view.half_y, 1.5, at * view.half_y + lean, half]
                } else {
                    [at * view.half_x, -1.5, at * view.half_x + lean, 1.5, half]
                }
            })
            .collect(),
        floor: chance.between(0.4, 0.9) * view.half_y,
    })
}
