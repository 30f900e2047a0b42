//! Planted fog, as density on unexposed coating.

use crate::plate::Edge;
use crate::practice::maths::{fractal, smoothstep, value_noise};
use crate::practice::recipe::{Planted, PlateRecipe};

/// Fog along an edge waves by this share: our own choice, so that a profile is not a perfect curve.
const WAVE: f32 = 0.2;
/// A part of an edge fades in over this length, millimetres.
const END_SOFT_MM: f32 = 3.0;

pub(super) struct Fog {
    shape: Shape,
    seed: u64,
    size: [f32; 2],
}

enum Shape {
    Veil {
        fog: f32,
        spares_border: bool,
    },
    Edge {
        edge: Edge,
        fog: f32,
        depth: f32,
        from: f32,
        to: f32,
    },
    Leak {
        x: f32,
        y: f32,
        along: [f32; 2],
        length: f32,
        width: f32,
        spread: f32,
        peak: f32,
    },
}

impl Fog {
    /// `None` for a fault that is no fog.
    pub(super) fn new(fault: &Planted, plate: &PlateRecipe, seed: u64) -> Option<Self> {
        let size = [plate.width_mm as f32, plate.height_mm as f32];
        let shape = match fault {
            Planted::Veil {
                fog_d,
                spares_border,
                ..
            } => Shape::Veil {
                fog: *fog_d as f32,
                spares_border: *spares_border,
            },
            Planted::EdgeFog {
                edge,
                fog_d,
                depth_mm,
                from_mm,
                to_mm,
                ..
            } => Shape::Edge {
                edge: *edge,
                fog: *fog_d as f32,
                depth: *depth_mm as f32,
                from: *from_mm as f32,
                to: *to_mm as f32,
            },
            Planted::LightLeak {
                edge,
                at_mm,
                direction_deg,
                length_mm,
                width_mm,
                spread,
                peak_d,
                ..
            } => {
                let [x, y] = entry(*edge, *at_mm as f32, size);
                let angle = direction_deg.to_radians() as f32;
                Shape::Leak {
                    x,
                    y,
                    along: [libm::sinf(angle), -libm::cosf(angle)],
                    length: *length_mm as f32,
                    width: *width_mm as f32,
                    spread: *spread as f32,
                    peak: *peak_d as f32,
                }
            }
            _ => return None,
        };
        Some(Fog { shape, seed, size })
    }

    /// Density the fog would add at this place of an unexposed plate; `open` is the share of the
    /// lens's light that the holder lets through.
    pub(super) fn nominal_d(&self, x: f32, y: f32, open: f32) -> f32 {
        match self.shape {
            Shape::Veil { fog, spares_border } => {
                let drift = 1.0 + 0.06 * fractal(self.seed, x / 30.0, y / 30.0, 2);
                fog * drift * if spares_border { open } else { 1.0 }
            }
            Shape::Edge {
                edge,
                fog,
                depth,
                from,
                to,
            } => {
                let (distance, along, length) = match edge {
                    Edge::Top => (y, x, self.size[0]),
                    Edge::Right => (self.size[0] - x, y, self.size[1]),
                    Edge::Bottom => (self.size[1] - y, x, self.size[0]),
                    Edge::Left => (x, y, self.size[1]),
                };
                if distance > 12.0 * depth {
                    return 0.0;
                }
                // A whole edge does not fade toward its corners.
                let mut ends = 1.0;
                if from > 0.5 {
                    ends *= smoothstep(from - END_SOFT_MM, from + END_SOFT_MM, along);
                }
                if to < length - 0.5 {
                    ends *= smoothstep(to + END_SOFT_MM, to - END_SOFT_MM, along);
                }
                let wave = 1.0 + WAVE * value_noise(self.seed, along / 9.0, 0.5);
                fog * wave * ends * libm::expf(-distance.max(0.0) / depth)
            }
            Shape::Leak {
                x: x0,
                y: y0,
                along,
                length,
                width,
                spread,
                peak,
            } => {
                let (dx, dy) = (x - x0, y - y0);
                let u = dx * along[0] + dy * along[1];
                let v = dx * along[1] - dy * along[0];
                if !(-0.5 * width..=1.15 * length).contains(&u) {
                    return 0.0;
                }
                let share = (u / length).max(0.0);
                let full = width * (1.0 + spread * share).max(0.1);
                // Full width at half height to sd: 2.3548.
                let across = 2.3548 * v / full;
                if across.abs() > 4.5 {
                    return 0.0;
                }
                let fade = libm::expf(-1.6 * share) * smoothstep(1.15, 0.8, share);
                let wave = 1.0 + 0.12 * value_noise(self.seed, u / 6.0, v / 6.0);
                peak * wave * fade * libm::expf(-0.5 * across * across)
            }
        }
    }
}

/// Where along an edge a leak enters.
fn entry(edge: Edge, at: f32, size: [f32; 2]) -> [f32; 2] {
    match edge {
        Edge::Top => [at.min(size[0]), 0.0],
        Edge::Right => [size[0], at.min(size[1])],
        Edge::Bottom => [at.min(size[0]), size[1]],
        Edge::Left => [0.0, at.min(size[1])],
    }
}
