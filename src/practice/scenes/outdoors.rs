//! The hill town and its country.

use super::{Chance, Scene, View, bar, cover, rectangle};
use crate::practice::maths::{cell_unit, fractal, lerp, smoothstep, value_noise};

/// Sky, brighter toward the horizon: collodion sees blue as white.
struct Sky {
    seed: u64,
    level: f32,
    clouds: f32,
    rise: f32,
}

impl Sky {
    fn draw(seed: u64, chance: &mut Chance) -> Self {
        Sky {
            seed,
            level: chance.between(0.6, 1.1),
            clouds: if chance.yes(0.5) {
                chance.between(0.0, 0.12)
            } else {
                chance.between(0.12, 0.45)
            },
            rise: chance.between(-0.3, 0.35),
        }
    }

    fn light(&self, x: f32, y: f32) -> f32 {
        let clouds = fractal(self.seed, x * 2.2, y * 4.5, 4);
        self.level * (1.0 + self.clouds * clouds + self.rise * y).max(0.1)
    }
}

/// Leaves: clumps with dark gaps, three sizes.
fn foliage(seed: u64, x: f32, y: f32, size: f32) -> f32 {
    let clump = fractal(seed, x / size, y / size, 3);
    let leaf = value_noise(seed ^ 11, x / size * 9.0, y / size * 9.0);
    let tip = value_noise(seed ^ 12, x / size * 23.0, y / size * 23.0);
    (0.35 + 0.5 * clump + 0.45 * leaf + 0.3 * tip).clamp(0.04, 1.3)
}

struct Landscape {
    sky: Sky,
    seed: u64,
    ridges: Vec<[f32; 4]>,
    near: f32,
    leaves: f32,
    leaf_size: f32,
    river: Option<[f32; 3]>,
    soft: f32,
}

impl Scene for Landscape {
    fn light(&self, x: f32, y: f32) -> f32 {
        let mut light = self.sky.light(x, y);
        for (i, [base, height, scale, tone]) in self.ridges.iter().enumerate() {
            let seed = self.seed.wrapping_add(31 * (i as u64 + 1));
            let line = base - height * fractal(seed, x / scale, 0.5, 5);
            let inside = cover(line - y, self.soft);
            if inside > 0.0 {
                let trees = fractal(seed ^ 3, x * 14.0, y * 22.0, 3);
                light = lerp(light, tone * (1.0 + 0.5 * trees).max(0.2), inside);
            }
        }
        let bank = self.near - 0.05 * fractal(self.seed ^ 77, x * 5.0, 0.0, 4);
        let ground = cover(bank - y, 2.0 * self.soft);
        if ground > 0.0 {
            let mut leaves = self.leaves * foliage(self.seed ^ 5, x, y, self.leaf_size);
            if let Some([middle, half, tone]) = self.river {
                let bend = middle + 0.2 * fractal(self.seed ^ 6, 0.0, y * 3.0, 2);
                let water = cover(
                    (x - bend).abs() - half * (0.3 + y - self.near),
                    3.0 * self.soft,
                );
                let wave = value_noise(self.seed ^ 7, x * 12.0, y * 70.0);
                leaves = lerp(leaves, tone * (1.0 + 0.2 * wave), water);
            }
            light = lerp(light, leaves, ground);
        }
        light
    }
}

/// Hills under a bright sky.
pub(super) fn landscape(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let horizon = chance.between(-0.35, 0.15) * view.half_y;
    let count = chance.whole(1, 4);
    let ridges = (0..count)
        .map(|i| {
            let step = i as f32 / count as f32;
            [
                horizon + 0.25 * view.half_y * step,
                chance.between(0.04, 0.14),
                chance.between(0.25, 0.8),
                lerp(chance.between(0.35, 0.6), chance.between(0.05, 0.2), step),
            ]
        })
        .collect();
    Box::new(Landscape {
        sky: Sky::draw(seed, chance),
        seed,
        ridges,
        near: horizon + chance.between(0.15, 0.45) * view.half_y,
        leaves: chance.between(0.08, 0.45),
        leaf_size: chance.between(0.06, 0.2),
        river: chance.yes(0.35).then(|| {
            [
                chance.between(-0.2, 0.2),
                chance.between(0.15, 0.5),
                chance.between(0.4, 0.8),
            ]
        }),
        soft: view.soft,
    })
}

struct Woods {
    sky: Sky,
    seed: u64,
    trunks: Vec<[f32; 5]>,
    gaps: f32,
    crown: f32,
    leaves: f32,
    floor: f32,
    soft: f32,
}

impl Scene for Woods {
    fn light(&self, x: f32, y: f32) -> f32 {
        let leaves = foliage(self.seed, x, y, self.crown);
        let hole = fractal(
            self.seed ^ 21,
            x / self.crown * 1.7,
            y / self.crown * 1.7,
            4,
        );
        let open = smoothstep(self.gaps - 0.03, self.gaps + 0.03, hole - 0.7 * (y + 0.2));
        let mut light = lerp(self.leaves * leaves, self.sky.light(x, y), open);
        let ground = smoothstep(self.floor - 0.02, self.floor + 0.02, y);
        let litter = value_noise(self.seed ^ 22, x * 40.0, y * 60.0);
        light = lerp(light, self.leaves * (0.6 + 0.4 * litter), ground);
        for [foot, top, half, tone, seed] in &self.trunks {
            let at = lerp(*top, *foot, y + 0.5) + 0.01 * value_noise(self.seed, *seed, y * 4.0);
            let u = (x - at) / half;
            let bark = fractal(self.seed ^ 23, u * 2.5 + seed, y * 9.0, 3);
            let round = 0.55 + 0.45 * (1.0 - u * u).max(0.0) + 0.25 * u;
            light = lerp(
                light,
                tone * round * (1.0 + 0.5 * bark).max(0.2),
                cover((u.abs() - 1.0) * half, self.soft),
            );
        }
        light
    }
}

/// Trunks that run from edge to edge.
pub(super) fn woods(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let count = chance.whole(3, 9);
    Box::new(Woods {
        sky: Sky::draw(seed, chance),
        seed,
        trunks: (0..count)
            .map(|i| {
                let x = chance.between(-1.0, 1.0) * view.half_x;
                [
                    x,
                    x + chance.between(-0.08, 0.08),
                    chance.between(0.008, 0.05),
                    chance.between(0.04, 0.35),
                    i as f32 * 7.7,
                ]
            })
            .collect(),
        gaps: chance.between(-0.1, 0.5),
        crown: chance.between(0.08, 0.2),
        leaves: chance.between(0.06, 0.3),
        floor: chance.between(0.3, 0.8) * view.half_y,
        soft: view.soft,
    })
}

struct Water {
    sky: Sky,
    seed: u64,
    shore: f32,
    shore_height: f32,
    shore_tone: f32,
    calm: f32,
    wave: f32,
    hull: [f32; 3],
    hull_tone: f32,
    mast_lean: f32,
    mast_half: f32,
    mast_tone: f32,
    sail: Option<f32>,
    soft: f32,
}

impl Scene for Water {
    fn light(&self, x: f32, y: f32) -> f32 {
        let mut light = self.sky.light(x, y);
        let line =
            self.shore - self.shore_height * (0.5 + fractal(self.seed, x * 3.0, 0.0, 5)).max(0.02);
        if y > line - 0.02 {
            let houses = value_noise(self.seed ^ 1, x * 30.0, y * 30.0);
            light = lerp(
                light,
                self.shore_tone * (1.0 + 0.5 * houses),
                cover(line - y, self.soft),
            );
        }
        if y > self.shore {
            let depth = y - self.shore;
            let wave = fractal(
                self.seed ^ 2,
                x * 8.0 / (0.2 + depth),
                3.0 / (0.04 + depth),
                3,
            );
            let mirror = self.sky.light(x, self.shore - depth) * self.calm;
            light = mirror * (1.0 + self.wave * wave).max(0.1);
        }
        let [cx, cy, half] = self.hull;
        let (u, v) = ((x - cx) / half, (y - cy) / half);
        let hull = (u.abs() - 1.0 + 0.35 * v.max(0.0))
            .max(v - 0.28)
            .max(-v - 0.08 * u * u)
            * half;
        let top = [cx + self.mast_lean, -1.5];
        let mast = bar(x, y, [cx, cy], top, self.mast_half);
        if let Some(tone) = self.sail {
            let edge = cx + self.mast_lean * (cy - y) / (cy + 1.5);
            let share = ((cy - 0.1 * half - y) / (1.6 * half)).clamp(0.0, 1.0);
            let sail = (edge - x)
                .max(x - edge - half * (1.0 - share))
                .max(y - cy + 0.2 * half)
                .max(cy - 1.8 * half - y);
            let cloth = tone * (1.0 + 0.12 * fractal(self.seed ^ 4, x * 9.0, y * 3.0, 2));
            light = lerp(light, cloth, cover(sail, self.soft));
        }
        light = lerp(light, self.mast_tone, cover(mast, self.soft));
        lerp(
            light,
            self.hull_tone * (1.0 + 0.2 * v),
            cover(hull, self.soft),
        )
    }
}

/// A lake with a boat whose mast reaches the top edge.
pub(super) fn water(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let shore = chance.between(-0.3, 0.2) * view.half_y;
    let mut sky = Sky::draw(seed, chance);
    // A bright mast before a dark sky looks like a leak; a dark one before a bright sky does not.
    let dusk = chance.yes(0.5);
    if dusk {
        sky.level *= chance.between(0.08, 0.3);
    }
    Box::new(Water {
        sky,
        seed,
        shore,
        shore_height: chance.between(0.02, 0.14),
        shore_tone: chance.between(0.04, 0.3),
        calm: chance.between(0.4, 0.9),
        wave: chance.between(0.1, 0.6),
        hull: [
            chance.between(-0.5, 0.5) * view.half_x,
            shore + chance.between(0.1, 0.5) * view.half_y,
            chance.between(0.08, 0.2),
        ],
        hull_tone: chance.between(0.03, 0.5),
        mast_lean: chance.between(-0.15, 0.15),
        mast_half: chance.between(0.004, 0.012),
        mast_tone: if dusk {
            chance.between(0.4, 0.9)
        } else {
            chance.between(0.02, 0.2)
        },
        sail: chance.yes(0.4).then(|| chance.between(0.3, 0.95)),
        soft: view.soft,
    })
}

struct Street {
    sky: Sky,
    seed: u64,
    eaves: f32,
    pitch: [f32; 2],
    window: [f32; 2],
    wall: f32,
    course: f32,
    glass: f32,
    blinds: f32,
    road: f32,
    lean: f32,
    soft: f32,
}

impl Scene for Street {
    fn light(&self, x: f32, y: f32) -> f32 {
        let x = x + self.lean * y * x;
        let mut light = self.sky.light(x, y);
        let front = cover(self.eaves - y, self.soft);
        if front > 0.0 {
            let down = y - self.eaves;
            let rough = fractal(self.seed, x * 18.0, y * 18.0, 3);
            let mut wall = self.wall * (1.0 + 0.18 * rough);
            if self.course > 0.0 {
                let row = (down / self.course).floor();
                let shift = 0.5 * (row as i32).rem_euclid(2) as f32;
                let brick = x / (2.2 * self.course) + shift;
                let joint_x = (brick - brick.floor() - 0.5).abs();
                let joint_y = (down / self.course - row - 0.5).abs();
                let tone =
                    1.0 + 0.25 * (cell_unit(self.seed ^ 1, brick.floor() as i32, row as i32) - 0.5);
                wall *= tone
                    * (1.0
                        - 0.35
                            * smoothstep(0.42, 0.48, joint_y).max(smoothstep(0.45, 0.49, joint_x)));
            }
            // A cornice throws a shadow.
            wall *= 1.0 - 0.5 * smoothstep(0.05, 0.03, down) * smoothstep(0.012, 0.02, down);
            let (column, row) = ((x / self.pitch[0]).floor(), (down / self.pitch[1]).floor());
            let wx = x - (column + 0.5) * self.pitch[0];
            let wy = down - (row + 0.55) * self.pitch[1];
            let frame = rectangle(wx, wy, self.window[0] + 0.008, self.window[1] + 0.008);
            wall = lerp(wall, 0.75, cover(frame, self.soft));
            let opening = cover(rectangle(wx, wy, self.window[0], self.window[1]), self.soft);
            let kind = cell_unit(self.seed ^ 2, column as i32, row as i32);
            let inside = if kind < self.blinds {
                let slat = (wy / 0.011).rem_euclid(1.0);
                if slat < 0.6 { 0.55 } else { 0.08 }
            } else {
                self.glass * (0.6 + 0.8 * cell_unit(self.seed ^ 3, column as i32, row as i32))
            };
            let bars = cover(
                wx.abs().min((wy + 0.3 * self.window[1]).abs()) - 0.004,
                self.soft,
            );
            wall = lerp(wall, lerp(inside, 0.7, bars), opening);
            light = lerp(light, wall, front);
        }
        if y > self.road {
            let stone = fractal(
                self.seed ^ 4,
                x * 9.0 / (0.2 + y - self.road),
                (y - self.road) * 40.0,
                3,
            );
            light = self.wall * 0.7 * (1.0 + 0.4 * stone);
        }
        light
    }
}

/// A building front seen square on.
pub(super) fn street(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let pitch = [chance.between(0.16, 0.3), chance.between(0.22, 0.38)];
    Box::new(Street {
        sky: Sky::draw(seed, chance),
        seed,
        eaves: chance.between(-1.3, -0.5) * view.half_y,
        pitch,
        window: [
            pitch[0] * chance.between(0.2, 0.32),
            pitch[1] * chance.between(0.24, 0.34),
        ],
        wall: chance.between(0.15, 0.7),
        course: if chance.yes(0.6) {
            chance.between(0.018, 0.045)
        } else {
            0.0
        },
        glass: chance.between(0.01, 0.1),
        blinds: chance.between(0.0, 0.7),
        road: chance.between(0.65, 1.2) * view.half_y,
        lean: chance.between(-0.06, 0.06),
        soft: view.soft,
    })
}

struct Boards {
    seed: u64,
    upright: bool,
    width: f32,
    gap: f32,
    tone: f32,
    spread: f32,
    tilt: f32,
    behind: f32,
    rail: Option<f32>,
    sun: f32,
    soft: f32,
}

impl Scene for Boards {
    fn light(&self, x: f32, y: f32) -> f32 {
        let (across, along) = if self.upright { (x, y) } else { (y, x) };
        let across = across + self.tilt * along;
        let board = (across / self.width).floor();
        let off = (across / self.width - board - 0.5).abs() * self.width;
        let tone =
            self.tone * (1.0 + self.spread * (2.0 * cell_unit(self.seed, board as i32, 0) - 1.0));
        let vein = fractal(self.seed ^ 1, across * 60.0 + board * 9.0, along * 4.0, 3);
        let mut wood = tone * (1.0 + 0.3 * vein).max(0.1);
        if let Some(at) = self.rail {
            let rail = cover((along - at).abs() - 0.025, self.soft);
            wood = lerp(wood, 0.8 * self.tone, rail);
            let nail = cell_unit(self.seed ^ 2, board as i32, 1) * 0.02 - 0.01;
            let (nx, ny) = (off, along - at - nail);
            wood = lerp(
                wood,
                0.03,
                cover((nx * nx + ny * ny).sqrt() - 0.005, self.soft),
            );
        }
        let shadow =
            1.0 - self.sun * smoothstep(-0.05, 0.05, fractal(self.seed ^ 3, x * 2.5, y * 2.5, 3));
        lerp(
            self.behind,
            wood * shadow,
            cover(off - 0.5 * self.width + self.gap, self.soft),
        )
    }
}

/// A fence, a shutter or clapboards: straight lines that run off the plate.
pub(super) fn boards(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let width = chance.between(0.03, 0.14);
    Box::new(Boards {
        seed,
        upright: chance.yes(0.5),
        width,
        gap: width * chance.between(0.01, 0.15),
        tone: chance.between(0.1, 0.6),
        spread: chance.between(0.05, 0.45),
        tilt: chance.between(-0.04, 0.04),
        behind: if chance.yes(0.3) {
            chance.between(0.5, 0.95)
        } else {
            chance.between(0.005, 0.04)
        },
        rail: chance.yes(0.6).then(|| chance.between(-0.4, 0.4)),
        sun: chance.between(0.0, 0.7),
        soft: view.soft,
    })
}
