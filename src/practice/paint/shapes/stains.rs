//! Stains from the border: lines of an oyster's shell, curtains, drain marks.

use super::{Chance, dot, unit};
use crate::plate::Edge;
use crate::practice::maths::{fractal, smoothstep};
use crate::practice::recipe::{Brink, StainForm, StainRecipe};

/// A stain's line is this soft toward the clean plate, millimetres.
const OUTER_MM: f32 = 0.35;
/// A stain's own fill, as a share of its lines.
const FILL: f32 = 0.3;

/// One curve: its middle, radii across and along, its strength.
struct Curve {
    middle: [f32; 2],
    radii: [f32; 2],
    share: f32,
}

enum Form {
    /// Curves one within the other, and how soft each is inward.
    Oyster { curves: Vec<Curve>, inner: f32 },
    /// Scallops: middle along the edge, half width, depth.
    Curtain { scallops: Vec<[f32; 3]>, inner: f32 },
    /// Half the tongue's width where it enters, and its length.
    Drain { half: f32, length: f32, inner: f32 },
}

pub(in crate::practice) struct Stain {
    origin: [f32; 2],
    /// Into the plate, and to the right of it.
    inward: [f32; 2],
    aside: [f32; 2],
    peak_d: f32,
    reach: f32,
    form: Form,
    seed: u64,
}

impl Stain {
    pub(super) fn new(recipe: &StainRecipe, size: [f32; 2], chance: &mut Chance) -> Self {
        let [w, h] = size;
        let at = recipe.at_mm as f32;
        let (origin, direction) = match recipe.from {
            Brink::Edge(Edge::Top) => ([at.min(w), 0.0], 180.0),
            Brink::Edge(Edge::Right) => ([w, at.min(h)], 270.0),
            Brink::Edge(Edge::Bottom) => ([at.min(w), h], 0.0),
            Brink::Edge(Edge::Left) => ([0.0, at.min(h)], 90.0),
            Brink::Corner(corner) => {
                let [right, down] = corner.spot().steps();
                let place = [
                    if right > 0.0 { w } else { 0.0 },
                    if down > 0.0 { h } else { 0.0 },
                ];
                (place, libm::atan2(-right, down).to_degrees())
            }
        };
        let lean = match recipe.form {
            StainForm::Curtain => 0.0,
            StainForm::Oyster | StainForm::Drain => chance.between(-15.0, 15.0),
        };
        let inward = unit(direction + f64::from(lean));
        let reach = recipe.size_mm as f32;
        let form = match recipe.form {
            StainForm::Oyster => Self::oyster(reach, chance),
            StainForm::Curtain => Self::curtain(reach, chance),
            StainForm::Drain => Form::Drain {
                half: reach * chance.between(0.14, 0.26),
                length: reach,
                inner: reach * chance.between(0.03, 0.06),
            },
        };
        Stain {
            origin,
            inward,
            aside: [-inward[1], inward[0]],
            peak_d: recipe.peak_d as f32,
            reach,
            form,
            seed: chance.seed(),
        }
    }

    /// Each curve a little smaller than the one around it, and off to a side.
    fn oyster(reach: f32, chance: &mut Chance) -> Form {
        let count = chance.whole(4, 7);
        let drift = reach * chance.between(-0.06, 0.06);
        let wide = chance.between(0.75, 1.5);
        let curves = (0..count).map(|i| {
            let share = 1.0 - i as f32 / count as f32;
            let size = reach * libm::powf(share, 1.15) * chance.between(0.93, 1.05);
            let wide = wide * chance.between(0.85, 1.15);
            Curve {
                middle: [
                    drift * i as f32 + reach * chance.between(-0.03, 0.03),
                    reach * chance.between(-0.06, 0.04),
                ],
                radii: [size * wide, size],
                share: chance.between(0.6, 1.0),
            }
        });
        Form::Oyster {
            curves: curves.collect(),
            inner: reach * chance.between(0.035, 0.07),
        }
    }

    fn curtain(reach: f32, chance: &mut Chance) -> Form {
        let whole = reach * chance.between(1.6, 2.6);
        let mut scallops = Vec::new();
        let mut from = -0.5 * whole;
        while from < 0.5 * whole {
            let half = chance.between(2.5, 5.5);
            let depth = 0.8 * reach * chance.between(0.45, 1.0);
            scallops.push([from + half, 1.04 * half, depth]);
            from += 2.0 * half;
        }
        Form::Curtain {
            scallops,
            inner: reach * chance.between(0.04, 0.08),
        }
    }

    pub(super) fn fog_d(&self, x: f32, y: f32) -> f32 {
        let from = [x - self.origin[0], y - self.origin[1]];
        let far = 2.6 * self.reach;
        if from[0].abs() > far || from[1].abs() > far {
            return 0.0;
        }
        let warp = self.reach * 0.075;
        let scale = 0.4 * self.reach;
        // Liquids run in smooth curves: no circle is perfect.
        let s =
            dot(from, self.aside) + warp * fractal(self.seed, from[0] / scale, from[1] / scale, 2);
        let q = dot(from, self.inward)
            + warp * fractal(self.seed ^ 1, from[0] / scale, from[1] / scale, 2);
        let uneven = 1.0 + 0.3 * fractal(self.seed ^ 2, from[0] / 5.0, from[1] / 5.0, 2);
        let share = match &self.form {
            Form::Oyster { curves, inner } => curves
                .iter()
                .map(|curve| {
                    let (u, v) = (s - curve.middle[0], q - curve.middle[1]);
                    let k = libm::hypotf(u / curve.radii[0], v / curve.radii[1]);
                    let inside = (1.0 - k) * curve.radii[0].min(curve.radii[1]);
                    curve.share * profile(inside, *inner, FILL * (0.4 + 0.6 * k.min(1.0)))
                })
                .fold(0.0, f32::max),
            Form::Curtain { scallops, inner } => scallops
                .iter()
                .map(|[middle, half, depth]| {
                    let off = (s - middle) / half;
                    let k = libm::hypotf(off, q.max(0.0) / depth);
                    let inside = (1.0 - k) * half.min(*depth);
                    profile(inside, *inner, FILL * (q / depth).clamp(0.3, 1.0))
                })
                .fold(0.0, f32::max),
            Form::Drain {
                half,
                length,
                inner,
            } => {
                let way = (q / length).clamp(0.0, 1.0);
                // Narrows to a round end.
                let here = half * (1.0 - way * way).sqrt() * (1.0 - 0.35 * way);
                let inside = (here - s.abs()).min(length - q);
                let streaked = 1.0 + 0.5 * fractal(self.seed ^ 3, s / 1.2, q / 12.0, 2);
                profile(
                    inside,
                    *inner,
                    1.6 * FILL * (1.0 - 0.4 * way) * streaked.max(0.3),
                )
            }
        };
        self.peak_d * (share * uneven).clamp(0.0, 1.0)
    }
}

/// A line that is sharp outward and soft inward, over a fill; `inside` is the distance inward.
fn profile(inside: f32, inner: f32, fill: f32) -> f32 {
    if inside < 0.0 {
        let out = inside / OUTER_MM;
        libm::expf(-out * out)
    } else {
        let line = libm::expf(-inside / inner);
        line.max(fill * smoothstep(0.0, inner, inside))
    }
}
