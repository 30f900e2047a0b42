//! Scenes with strong straight lines, some from edge to edge: what looks like streaks, lines, ridges
//! and scratches and is none.

use super::{Chance, Scene, View, bar, cover, rectangle};
use crate::practice::maths::{cell_unit, fractal, lerp, smoothstep};

/// Even ground behind: a sky, a yard or a wall with soft clouds or shadows.
struct Ground {
    seed: u64,
    level: f32,
    clouds: f32,
    rise: f32,
}

impl Ground {
    fn draw(seed: u64, chance: &mut Chance, low: f32, high: f32) -> Self {
        Ground {
            seed,
            level: chance.between(low, high),
            clouds: chance.between(0.02, 0.35),
            rise: chance.between(-0.3, 0.3),
        }
    }

    fn light(&self, x: f32, y: f32) -> f32 {
        let clouds = fractal(self.seed, x * 2.0, y * 3.0, 4);
        self.level * (1.0 + self.clouds * clouds + self.rise * y).max(0.1)
    }
}

struct Fence {
    seed: u64,
    behind: Ground,
    pitch: f32,
    half: f32,
    top: f32,
    rails: [f32; 2],
    rail_half: f32,
    tone: f32,
    lean: f32,
    soft: f32,
}

impl Scene for Fence {
    fn light(&self, x: f32, y: f32) -> f32 {
        let grass = fractal(self.seed ^ 7, x * 30.0, y * 14.0, 3);
        let field = 0.25 * (1.0 + 0.5 * grass).max(0.1);
        let mut light = lerp(
            self.behind.light(x, y),
            field,
            smoothstep(self.top + 0.15, self.top + 0.2, y),
        );
        let across = x + self.lean * y;
        for rail in self.rails {
            let wood = self.tone * (0.75 + 0.15 * fractal(self.seed ^ 1, x * 5.0, y * 60.0, 3));
            light = lerp(
                light,
                wood,
                cover((y - rail).abs() - self.rail_half, self.soft),
            );
        }
        let pale = (across / self.pitch).floor();
        let off = (across / self.pitch - pale - 0.5) * self.pitch;
        let bent = off + 0.1 * self.half * (cell_unit(self.seed, pale as i32, 1) - 0.5);
        // Pointed heads.
        let head = self.top + bent.abs() + 0.02 * cell_unit(self.seed, pale as i32, 2);
        let shape = (bent.abs() - self.half).max(head - y);
        let vein = fractal(self.seed ^ 2, across * 70.0, y * 4.0, 3);
        let tone = self.tone * (0.8 + 0.4 * cell_unit(self.seed, pale as i32, 0));
        lerp(light, tone * (1.0 + 0.2 * vein), cover(shape, self.soft))
    }
}

/// Pales and rails before a field.
pub(super) fn fence(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let pitch = chance.between(0.05, 0.16);
    let top = chance.between(-0.8, 0.1) * view.half_y;
    Box::new(Fence {
        seed,
        behind: Ground::draw(seed ^ 5, chance, 0.4, 1.0),
        pitch,
        half: pitch * chance.between(0.18, 0.42),
        top,
        rails: [
            top + chance.between(0.08, 0.2),
            top + chance.between(0.35, 0.6),
        ],
        rail_half: chance.between(0.01, 0.025),
        tone: if chance.yes(0.5) {
            chance.between(0.5, 0.9)
        } else {
            chance.between(0.03, 0.2)
        },
        lean: chance.between(-0.03, 0.03),
        soft: view.soft,
    })
}

struct Doorway {
    seed: u64,
    wall: Ground,
    at: f32,
    half: f32,
    top: f32,
    frame: f32,
    frame_tone: f32,
    door: f32,
    panels: u32,
    lamp: f32,
    skirting: f32,
    soft: f32,
}

impl Scene for Doorway {
    fn light(&self, x: f32, y: f32) -> f32 {
        let mut light = self.wall.light(x, y);
        light = lerp(
            light,
            0.6 * light,
            cover((y - self.skirting).abs() - 0.004, self.soft),
        );
        let (u, v) = (x - self.at, y - self.top);
        let outer = (u.abs() - self.half - self.frame).max(-self.frame - v);
        let inner = (u.abs() - self.half).max(-v);
        light = lerp(light, self.frame_tone, cover(outer, self.soft));
        // The frame's moulding throws a fine shadow along both posts.
        let groove = (outer.abs() - 0.003).min((inner - 0.4 * self.frame).abs() - 0.002);
        light = lerp(light, 0.5 * self.frame_tone, cover(groove, self.soft));
        let vein = fractal(self.seed ^ 1, x * 50.0, y * 3.0, 3);
        let mut door = self.door * (1.0 + 0.15 * vein);
        let rows = self.panels as f32;
        let height = 1.6 / rows;
        let row = (v / height).floor();
        let (px, py) = (u.abs() - 0.5 * self.half, v - (row + 0.5) * height);
        let panel = rectangle(px, py, 0.36 * self.half, 0.38 * height);
        door = lerp(
            door,
            1.35 * self.door,
            cover(panel.abs() - 0.006, self.soft),
        );
        door = lerp(door, 0.55 * self.door, cover(panel + 0.012, self.soft));
        light = lerp(light, door, cover(inner, self.soft));
        light * (1.0 - self.lamp * smoothstep(-0.6, 0.6, x))
    }
}

/// A door in its frame: posts that run from the lintel to the lower edge.
pub(super) fn doorway(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    Box::new(Doorway {
        seed,
        wall: Ground::draw(seed ^ 5, chance, 0.15, 0.7),
        at: chance.between(-0.4, 0.4) * view.half_x,
        half: chance.between(0.14, 0.26),
        top: chance.between(-1.1, -0.4) * view.half_y,
        frame: chance.between(0.03, 0.07),
        frame_tone: chance.between(0.1, 0.9),
        door: chance.between(0.03, 0.45),
        panels: chance.whole(2, 4),
        lamp: chance.between(0.0, 0.6),
        skirting: chance.between(0.6, 0.9) * view.half_y,
        soft: view.soft,
    })
}

struct Blinds {
    seed: u64,
    upright: bool,
    pitch: f32,
    open: f32,
    slat: f32,
    day: Ground,
    tapes: [f32; 2],
    tilt: f32,
    soft: f32,
}

impl Scene for Blinds {
    fn light(&self, x: f32, y: f32) -> f32 {
        let (along, across) = if self.upright { (y, x) } else { (x, y) };
        let across = across + self.tilt * along;
        let slat = (across / self.pitch).floor();
        let place = across / self.pitch - slat;
        let sag = 0.06 * (cell_unit(self.seed, slat as i32, 0) - 0.5);
        let tone = self.slat * (0.85 + 0.3 * cell_unit(self.seed, slat as i32, 1));
        // A slat is round: lighter where it faces up.
        let wood = tone * (0.7 + 0.6 * (1.0 - place));
        let gap = ((place - 0.5 - sag).abs() - 0.5 * (1.0 - self.open)) * self.pitch;
        let mut light = lerp(self.day.light(x, y), wood, cover(gap, self.soft));
        for tape in self.tapes {
            light = lerp(
                light,
                0.7 * self.slat,
                cover((along - tape).abs() - 0.012, self.soft),
            );
        }
        light
    }
}

/// A blind all over, with daylight between its slats.
pub(super) fn blinds(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    Box::new(Blinds {
        seed,
        upright: chance.yes(0.3),
        pitch: chance.between(0.02, 0.07),
        open: chance.between(0.08, 0.45),
        slat: chance.between(0.05, 0.45),
        day: Ground::draw(seed ^ 5, chance, 0.3, 1.0),
        tapes: [
            chance.between(-0.8, -0.2) * view.half_x,
            chance.between(0.2, 0.8) * view.half_x,
        ],
        tilt: chance.between(-0.02, 0.02),
        soft: view.soft,
    })
}

struct Rigging {
    sky: Ground,
    seed: u64,
    deck: f32,
    masts: Vec<[f32; 3]>,
    yards: Vec<[f32; 4]>,
    ropes: Vec<[f32; 4]>,
    rope: f32,
    tone: f32,
    soft: f32,
}

impl Scene for Rigging {
    fn light(&self, x: f32, y: f32) -> f32 {
        let mut light = self.sky.light(x, y);
        for [x0, y0, x1, y1] in &self.ropes {
            let line = bar(x, y, [*x0, *y0], [*x1, *y1], self.rope);
            light = lerp(light, self.tone, 0.8 * cover(line, self.soft));
        }
        for [at, level, half, thick] in &self.yards {
            let line = bar(x, y, [at - half, *level], [at + half, *level], *thick);
            light = lerp(light, self.tone, cover(line, self.soft));
        }
        for [at, lean, half] in &self.masts {
            let line = bar(x, y, [at + lean, -1.6], [*at, self.deck + 0.1], *half);
            light = lerp(light, self.tone, cover(line, self.soft));
        }
        let water = 0.3 * (1.0 + 0.6 * fractal(self.seed, x * 5.0, y * 40.0, 3)).max(0.1);
        lerp(light, water, smoothstep(self.deck, self.deck + 0.02, y))
    }
}

/// Masts that leave the plate at the top, yards and many taut ropes.
pub(super) fn rigging(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let deck = chance.between(0.4, 0.8) * view.half_y;
    let mut masts = Vec::new();
    let (mut yards, mut ropes) = (Vec::new(), Vec::new());
    for _ in 0..chance.whole(1, 3) {
        let at = chance.between(-0.8, 0.8) * view.half_x;
        let lean = chance.between(-0.05, 0.05);
        masts.push([at, lean, chance.between(0.005, 0.016)]);
        for _ in 0..chance.whole(1, 3) {
            yards.push([
                at,
                chance.between(-0.9, 0.3) * view.half_y,
                chance.between(0.1, 0.4),
                chance.between(0.004, 0.008),
            ]);
        }
        for _ in 0..chance.whole(4, 12) {
            let foot = at + chance.between(-0.9, 0.9);
            ropes.push([at, chance.between(-1.5, -0.2) * view.half_y, foot, deck]);
        }
    }
    Box::new(Rigging {
        sky: Ground::draw(seed ^ 5, chance, 0.4, 1.0),
        seed,
        deck,
        masts,
        yards,
        ropes,
        rope: chance.between(0.0008, 0.0022),
        tone: chance.between(0.01, 0.12),
        soft: view.soft,
    })
}

struct Columns {
    seed: u64,
    pitch: f32,
    half: f32,
    shift: f32,
    top: f32,
    base: f32,
    flutes: f32,
    stone: f32,
    dark: f32,
    steps: f32,
    soft: f32,
}

impl Scene for Columns {
    fn light(&self, x: f32, y: f32) -> f32 {
        let rough = fractal(self.seed, x * 14.0, y * 14.0, 3);
        let number = ((x - self.shift) / self.pitch).floor();
        let off = x - self.shift - (number + 0.5) * self.pitch;
        let side = (off / self.half).clamp(-1.0, 1.0);
        // Lit from the left; flutes are narrower toward the sides.
        let round = 0.55 - 0.45 * side;
        let around = libm::acosf(side) * self.flutes;
        let flute = if self.flutes > 0.0 {
            1.0 - 0.3 * (0.5 + 0.5 * libm::cosf(2.0 * around))
        } else {
            1.0
        };
        let shaft = self.stone * round * flute * (1.0 + 0.08 * rough);
        let mut light = lerp(
            self.dark * (1.0 + 0.3 * rough),
            shaft,
            cover(off.abs() - self.half, self.soft),
        );
        if y < self.top {
            // Courses of the beam lie level.
            let course = ((self.top - y) / 0.09).fract();
            light = self.stone * (0.8 + 0.1 * rough) * if course < 0.08 { 0.6 } else { 1.0 };
        }
        if y > self.base {
            let step = ((y - self.base) / self.steps).fract();
            light = self.stone * (0.9 + 0.1 * rough) * if step > 0.55 { 0.45 } else { 1.0 };
        }
        light.max(0.0)
    }
}

/// A row of columns on steps, below a beam.
pub(super) fn columns(seed: u64, view: View, chance: &mut Chance) -> Box<dyn Scene> {
    let pitch = chance.between(0.16, 0.4);
    Box::new(Columns {
        seed,
        pitch,
        half: pitch * chance.between(0.2, 0.36),
        shift: chance.between(0.0, 1.0) * pitch,
        top: chance.between(-1.2, -0.6) * view.half_y,
        base: chance.between(0.5, 0.95) * view.half_y,
        flutes: if chance.yes(0.6) {
            chance.between(4.0, 9.0).floor()
        } else {
            0.0
        },
        stone: chance.between(0.35, 0.95),
        dark: chance.between(0.01, 0.15),
        steps: chance.between(0.03, 0.07),
        soft: view.soft,
    })
}
