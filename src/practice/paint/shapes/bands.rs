//! Streaks and the dip line: soft bands along a straight or bent way.

use super::{Chance, Change, Line, dot, unit};
use crate::plate::Edge;
use crate::practice::maths::{smoothstep, sub_seed, value_noise};
use crate::practice::recipe::{DipLineRecipe, LineRun, StreakForm, StreakSign, StreaksRecipe};

/// Widths that bands stay within, millimetres: the trade's streaks of the dip are fine, those of the
/// developer broad.
const DIP_MM: (f32, f32) = (0.3, 1.5);
const DEVELOPER_MM: (f32, f32) = (1.0, 5.0);
/// A band strays this share of its width from its way, over this length in millimetres.
const STRAY: f32 = 0.2;
const STRAY_MM: f32 = 14.0;
/// Strength along a band wavers by this share.
const WAVER: f32 = 0.18;
/// Half as strong half a width off.
const BELL: f32 = 2.7726;
/// A line's middle strays less than a band's, millimetres.
const LINE_STRAY_MM: f32 = 0.06;
/// Further than any plate reaches, millimetres.
const FAR_MM: f32 = 1e4;

/// One band; `u` runs along the way from the plate's middle, `v` across it.
#[derive(Debug, Clone)]
struct Band {
    at: f32,
    width: f32,
    /// Density, positive for more silver.
    peak_d: f32,
    from: f32,
    to: f32,
    /// Length over which it ends.
    soft: f32,
    /// Where it starts to fade, and how much is lost over a millimetre of the way from there, in the
    /// logarithm; negative for a band that runs the other way.
    start: f32,
    fade: f32,
    stray: f32,
    seed: u64,
}

impl Band {
    /// Where its middle lies across the way.
    fn middle(&self, u: f32) -> f32 {
        self.at + self.stray * value_noise(self.seed, u / STRAY_MM, 0.5)
    }

    /// Strength in its middle, density.
    fn along_d(&self, u: f32) -> f32 {
        if u < self.from || u > self.to {
            return 0.0;
        }
        let ends = smoothstep(self.from, self.from + self.soft, u)
            * smoothstep(self.to, self.to - self.soft, u);
        let gone = (self.fade * (u - self.start)).max(0.0);
        let waver = 1.0 + WAVER * value_noise(self.seed ^ 1, u / 9.0, 0.5);
        self.peak_d * waver * ends * libm::expf(-gone)
    }
}

/// A step from one side of the way to the other.
#[derive(Debug, Clone)]
struct Step {
    at: f32,
    soft: f32,
    rise_d: f32,
}

pub(in crate::practice) struct Bands {
    middle: [f32; 2],
    along: [f32; 2],
    across: [f32; 2],
    /// One over twice the radius of the bend.
    bend: f32,
    /// Half the length of the way over the plate.
    half: f32,
    fog_share: f32,
    bands: Vec<Band>,
    step: Option<Step>,
    size: [f32; 2],
}

impl Bands {
    fn on(size: [f32; 2], direction_deg: f64, fog_share: f64) -> Self {
        let along = unit(direction_deg);
        Bands {
            middle: size.map(|side| 0.5 * side),
            along,
            across: [-along[1], along[0]],
            bend: 0.0,
            half: 0.5 * (size[0] * along[0].abs() + size[1] * along[1].abs()),
            fog_share: fog_share as f32,
            bands: Vec::new(),
            step: None,
            size,
        }
    }

    pub(super) fn streaks(recipe: &StreaksRecipe, size: [f32; 2], chance: &mut Chance) -> Self {
        let inward = match recipe.from {
            Edge::Top => 180.0,
            Edge::Right => 270.0,
            Edge::Bottom => 0.0,
            Edge::Left => 90.0,
        };
        let mut this = Bands::on(size, inward + recipe.tilt_deg, recipe.fog_share);
        this.bend = recipe.radius_mm.map_or(0.0, |r| 0.5 / r as f32);
        let half_across = 0.5 * (size[0] * this.across[0].abs() + size[1] * this.across[1].abs());
        let way = 2.0 * this.half;
        let share = 1.0 / recipe.count.max(1) as f32;
        for i in 0..recipe.count {
            // One to each strip, so that a few broad bands do not all lie on each other.
            let place = 2.0 * share * (i as f32 + chance.between(0.05, 0.95)) - 1.0;
            let more = match recipe.sign {
                StreakSign::MoreSilver => true,
                StreakSign::LessSilver => false,
                StreakSign::Mixed => chance.yes(0.5),
            };
            let strength = chance.around(recipe.contrast_d, recipe.strength_spread);
            let width = chance.around(recipe.width_mm, recipe.width_spread);
            let (low, high) = match recipe.form {
                StreakForm::Dip => DIP_MM,
                StreakForm::Developer => DEVELOPER_MM,
            };
            let width = width.clamp(low, high);
            let (mut from, mut to, soft, lost) = match recipe.form {
                StreakForm::Dip => {
                    let to = if chance.yes(0.5) {
                        FAR_MM
                    } else {
                        way * chance.between(0.35, 0.95) - this.half
                    };
                    (-FAR_MM, to, chance.between(4.0, 12.0), (0.1, 0.8))
                }
                StreakForm::Developer => {
                    let from = if chance.yes(0.75) {
                        -FAR_MM
                    } else {
                        way * chance.between(0.03, 0.2) - this.half
                    };
                    let to = way * chance.between(0.55, 1.1) - this.half;
                    (from, to, chance.between(6.0, 14.0), (0.7, 1.6))
                }
            };
            let mut start = from.max(-this.half);
            let mut fade = chance.between(lost.0, lost.1) / way;
            // Some bands of a dip start at its other end.
            if recipe.form == StreakForm::Dip && chance.yes(0.25) {
                (from, to) = (-to, -from);
                (start, fade) = (-start, -fade);
            }
            this.bands.push(Band {
                at: 0.97 * half_across * place,
                width,
                peak_d: if more { strength } else { -strength },
                from,
                to,
                soft,
                start,
                fade,
                stray: STRAY * width,
                seed: chance.seed(),
            });
        }
        this
    }

    pub(super) fn line(recipe: &DipLineRecipe, size: [f32; 2], seed: u64) -> Self {
        let (direction, at) = match recipe.run {
            LineRun::Across => (90.0, recipe.at_mm as f32 - 0.5 * size[1]),
            LineRun::Down => (180.0, 0.5 * size[0] - recipe.at_mm as f32),
        };
        let mut this = Bands::on(size, direction + recipe.tilt_deg, recipe.fog_share);
        let width = recipe.width_mm as f32;
        this.bands.push(Band {
            at,
            width,
            peak_d: recipe.contrast_d as f32,
            from: -FAR_MM,
            to: FAR_MM,
            soft: 1.0,
            start: 0.0,
            fade: 0.0,
            stray: LINE_STRAY_MM,
            seed: sub_seed(seed, "line"),
        });
        // The way down runs with the right side on its left hand.
        let side = match recipe.run {
            LineRun::Across => 1.0,
            LineRun::Down => -1.0,
        };
        this.step = (recipe.step_d != 0.0).then(|| Step {
            at,
            soft: side * width.max(0.3),
            rise_d: recipe.step_d as f32,
        });
        this
    }

    pub(super) fn change(&self, x: f32, y: f32) -> Change {
        let from = [x - self.middle[0], y - self.middle[1]];
        let u = dot(from, self.along);
        let v = dot(from, self.across) - self.bend * u * u;
        let mut sum = 0.0;
        for band in &self.bands {
            if (v - band.at).abs() > 1.6 * band.width + band.stray {
                continue;
            }
            let off = (v - band.middle(u)) / band.width;
            sum += band.along_d(u) * libm::expf(-BELL * off * off);
        }
        if let Some(step) = &self.step {
            sum += step.rise_d * smoothstep(step.at - step.soft, step.at + step.soft, v);
        }
        if sum >= 0.0 {
            // What is fog is not thickness; half of it is both, as bands of a bath are.
            Change {
                thick_d: sum * (1.0 - 0.5 * self.fog_share),
                fog_d: sum * self.fog_share,
                ..Change::default()
            }
        } else {
            Change {
                thick_d: sum,
                ..Change::default()
            }
        }
    }

    /// The middle of each band where it is at least a third as strong as it gets, on the plate.
    pub(super) fn lines(&self) -> Vec<Line> {
        let steps = (4.0 * self.half) as i32 + 8;
        let bands = self.bands.iter();
        bands
            .map(|band| {
                let way = (-steps..=steps).map(|i| 0.25 * i as f32);
                let on = way.step_by(2).filter_map(|u| {
                    let v = band.middle(u) + self.bend * u * u;
                    let x = self.middle[0] + u * self.along[0] + v * self.across[0];
                    let y = self.middle[1] + u * self.along[1] + v * self.across[1];
                    let inside =
                        (0.0..=self.size[0]).contains(&x) && (0.0..=self.size[1]).contains(&y);
                    inside.then(|| (band.along_d(u).abs(), [x, y]))
                });
                let on: Vec<(f32, [f32; 2])> = on.collect();
                let most = on.iter().map(|(d, _)| *d).fold(0.0, f32::max);
                Line {
                    points: on
                        .into_iter()
                        .filter(|(d, _)| *d >= most / 3.0)
                        .map(|(_, at)| at)
                        .collect(),
                    width: band.width,
                    more_silver: band.peak_d > 0.0,
                }
            })
            .collect()
    }
}
