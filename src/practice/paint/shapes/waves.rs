//! Thickness: the waves and the step by a drain corner, and a pour that rises over the whole plate.

use super::{Chance, Line, dot, unit};
use crate::handling::Corner;
use crate::plate::Edge;
use crate::practice::maths::{fractal, smoothstep, value_noise};
use crate::practice::recipe::{PourForm, RidgeForm, RidgesRecipe, UnevenPourRecipe};

/// Waves stray by this share of their spacing, over this length in millimetres.
const STRAY: f32 = 0.12;
const STRAY_MM: f32 = 15.0;
/// Half the width of a second flow's edge, millimetres, and how much more lies in its very edge.
const STEP_SOFT_MM: f32 = 0.9;
const STEP_LIP: f32 = 0.4;
/// A wave counts as part of the ridges above this share of the strongest.
const PART: f32 = 0.35;

/// Place of a corner, and the unit step from it into the plate.
fn corner_of(corner: Corner, size: [f32; 2]) -> ([f32; 2], [f32; 2]) {
    let [right, down] = corner.spot().steps().map(|step| step as f32);
    let place = [
        if right > 0.0 { size[0] } else { 0.0 },
        if down > 0.0 { size[1] } else { 0.0 },
    ];
    (place, [-right, -down])
}

pub(in crate::practice) struct Waves {
    size: [f32; 2],
    form: RidgeForm,
    corner: [f32; 2],
    /// Away from the edge or the corner, and along the waves.
    away: [f32; 2],
    along: [f32; 2],
    spacing: f32,
    reach: f32,
    peak_d: f32,
    /// Start of the waves, as a share of one.
    phase: f32,
    /// One over twice the radius of their bend.
    bend: f32,
    /// Middle of the curve of a step, and its radius.
    round: ([f32; 2], f32),
    seed: u64,
}

impl Waves {
    pub(super) fn new(recipe: &RidgesRecipe, size: [f32; 2], chance: &mut Chance) -> Self {
        let (corner, into) = corner_of(recipe.corner, size);
        let inward = match (recipe.form, recipe.edge) {
            (RidgeForm::Edge, Edge::Top) => 180.0,
            (RidgeForm::Edge, Edge::Right) => 270.0,
            (RidgeForm::Edge, Edge::Bottom) => 0.0,
            (RidgeForm::Edge, Edge::Left) => 90.0,
            (RidgeForm::Diagonal | RidgeForm::Step, _) => {
                f64::from(libm::atan2f(into[0], -into[1])).to_degrees()
            }
        };
        let away = unit(inward + recipe.tilt_deg);
        let reach = recipe.reach_mm as f32;
        // The curve of a step is an arc around a place beyond the corner.
        let beyond = reach * chance.between(0.4, 1.4);
        Waves {
            size,
            form: recipe.form,
            corner,
            away,
            along: [-away[1], away[0]],
            spacing: recipe.spacing_mm as f32,
            reach,
            peak_d: recipe.contrast_d as f32,
            phase: chance.between(0.0, 1.0),
            bend: 0.5 / chance.between(250.0, 900.0) * if chance.yes(0.5) { 1.0 } else { -1.0 },
            round: (
                [corner[0] - beyond * away[0], corner[1] - beyond * away[1]],
                beyond + reach,
            ),
            seed: chance.seed(),
        }
    }

    /// How much further a wave lies at a place along it.
    fn stray(&self, t: f32) -> f32 {
        self.bend * t * t + STRAY * self.spacing * value_noise(self.seed, t / STRAY_MM, 0.5)
    }

    /// Strongest near the corner; fades inward and along the edge.
    fn envelope(&self, q: f32, t: f32) -> f32 {
        let inward = smoothstep(1.2 * self.reach, 0.25 * self.reach, q);
        match self.form {
            RidgeForm::Edge => {
                let long = self.size[0].max(self.size[1]);
                inward * libm::expf(-0.9 * t.abs() / long)
            }
            RidgeForm::Diagonal | RidgeForm::Step => inward,
        }
    }

    /// Distance inside the curve of a step.
    fn inside(&self, x: f32, y: f32) -> f32 {
        let (middle, radius) = self.round;
        let (dx, dy) = (x - middle[0], y - middle[1]);
        let r = (dx * dx + dy * dy).sqrt();
        radius - r + 1.6 * fractal(self.seed, x / 16.0, y / 16.0, 2)
    }

    pub(super) fn thick_d(&self, x: f32, y: f32) -> f32 {
        if self.form == RidgeForm::Step {
            let inside = self.inside(x, y);
            let lip = inside / STEP_SOFT_MM - 0.6;
            let step = smoothstep(-STEP_SOFT_MM, STEP_SOFT_MM, inside);
            return self.peak_d * (step + STEP_LIP * libm::expf(-lip * lip));
        }
        let from = [x - self.corner[0], y - self.corner[1]];
        let (q, t) = (dot(from, self.away), dot(from, self.along));
        let envelope = self.envelope(q, t);
        if envelope <= 0.0 {
            return 0.0;
        }
        let turns = (q + self.stray(t)) / self.spacing + self.phase;
        self.peak_d * envelope * libm::cosf(turns * std::f32::consts::TAU)
    }

    /// Crests and troughs where they are at least a third as strong as they get, or the step's curve.
    pub(super) fn lines(&self) -> Vec<Line> {
        let [w, h] = self.size;
        let on = |[x, y]: &[f32; 2]| (0.0..=w).contains(x) && (0.0..=h).contains(y);
        if self.form == RidgeForm::Step {
            let (middle, radius) = self.round;
            let steps = (radius * std::f32::consts::PI / 0.5) as i32;
            let arc = (-steps..=steps).filter_map(|i| {
                let angle = 0.5 * i as f32 / radius;
                let way = [
                    libm::cosf(angle) * self.away[0] + libm::sinf(angle) * self.along[0],
                    libm::cosf(angle) * self.away[1] + libm::sinf(angle) * self.along[1],
                ];
                // Out along the ray to where the curve really is.
                let mut r = radius;
                for _ in 0..4 {
                    r += self.inside(middle[0] + r * way[0], middle[1] + r * way[1]);
                }
                let at = [middle[0] + r * way[0], middle[1] + r * way[1]];
                on(&at).then_some(at)
            });
            return vec![Line {
                points: arc.collect(),
                width: 2.0 * STEP_SOFT_MM,
                more_silver: true,
            }];
        }
        let halves = (2.4 * self.reach / self.spacing) as i32 + 4;
        let long = 2.0 * (w + h);
        (0..halves)
            .map(|half| {
                let q = self.spacing * (0.5 * half as f32 - self.phase);
                let points = (0..(2.0 * long) as i32).filter_map(|i| {
                    let t = 0.5 * i as f32 - 0.5 * long;
                    let away = q - self.stray(t);
                    let at = [
                        self.corner[0] + away * self.away[0] + t * self.along[0],
                        self.corner[1] + away * self.away[1] + t * self.along[1],
                    ];
                    (on(&at) && self.envelope(away, t) >= PART).then_some(at)
                });
                Line {
                    points: points.collect(),
                    // Half of a wave is above its mean.
                    width: 0.5 * self.spacing,
                    more_silver: half % 2 == 0,
                }
            })
            .filter(|line| line.points.len() > 8)
            .collect()
    }
}

/// Samples along each side that a pour's range is set on.
const SIDE: usize = 32;

pub(in crate::practice) struct Pour {
    middle: [f32; 2],
    toward: [f32; 2],
    /// From the middle to the furthest corner, along `toward`.
    half: f32,
    bend: f32,
    /// Where a second flow ends, as a share of the way, and half the width of its edge.
    flow: Option<(f32, f32)>,
    /// From shares to density, so that the range is as stated, about a mean of nothing.
    scale: f32,
    mean: f32,
    seed: u64,
}

impl Pour {
    pub(super) fn new(recipe: &UnevenPourRecipe, size: [f32; 2], chance: &mut Chance) -> Self {
        let (_, into) = corner_of(recipe.corner, size);
        let straight = libm::atan2f(-into[0] * size[0], into[1] * size[1]).to_degrees();
        let toward = unit(f64::from(straight + chance.between(-10.0, 10.0)));
        let mut this = Pour {
            middle: size.map(|side| 0.5 * side),
            toward,
            half: 0.5 * (size[0] * toward[0].abs() + size[1] * toward[1].abs()),
            bend: recipe.bend as f32,
            flow: None,
            scale: 1.0,
            mean: 0.0,
            seed: chance.seed(),
        };
        if recipe.form == PourForm::DoubleFlow {
            this.flow = Some((chance.between(0.5, 0.72), chance.between(0.02, 0.06)));
        }
        let mut shares: Vec<f32> = (0..SIDE * SIDE)
            .map(|i| {
                let at = [i % SIDE, i / SIDE].map(|k| (k as f32 + 0.5) / SIDE as f32);
                this.share(at[0] * size[0], at[1] * size[1])
            })
            .collect();
        this.mean = shares.iter().sum::<f32>() / shares.len() as f32;
        shares.sort_by(f32::total_cmp);
        let end = shares.len() / 50;
        let range = shares[shares.len() - 1 - end] - shares[end];
        this.scale = recipe.range_d as f32 / range.max(0.05);
        this
    }

    fn share(&self, x: f32, y: f32) -> f32 {
        let from = [x - self.middle[0], y - self.middle[1]];
        let way = 0.5 + 0.5 * dot(from, self.toward) / self.half;
        let soft = 0.07 * fractal(self.seed, x / 34.0, y / 34.0, 2);
        let rise = libm::powf(way.clamp(0.0, 1.0), self.bend) + soft;
        match self.flow {
            None => rise,
            Some((at, width)) => {
                let wave = 0.05 * fractal(self.seed ^ 1, x / 18.0, y / 18.0, 2);
                0.6 * rise + 0.4 * smoothstep(at - width, at + width, way + wave)
            }
        }
    }

    pub(super) fn thick_d(&self, x: f32, y: f32) -> f32 {
        self.scale * (self.share(x, y) - self.mean)
    }
}
