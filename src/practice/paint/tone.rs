//! Exposure and fog to silver, silver to density.
//!
//! Silver is a share of what the plate can hold. On a positive, pale silver covers a share of the
//! dark support, and light adds by area (Murray and Davies 1936, from memory); on a negative,
//! density adds. Fog takes its share of the places that the picture left free, so it saturates in
//! the lights of a positive, as it does on plates.

use crate::practice::maths::{density, lerp, pow10};
use crate::practice::recipe::{FlatForm, Planted, PlateRecipe};

/// Scene light that leaves half of the full density range: a grey card, common practice.
const HALF_LIGHT: f32 = 0.18;

/// Cells of the table that holds the curve, over the square root of light from 0 to 2.
const TABLE: usize = 2048;
const TABLE_ROOT: f32 = 2.0;

pub(super) struct Tone {
    positive: bool,
    support_d: f32,
    unexposed_d: f32,
    full_d: f32,
    unexposed_light: f32,
    full_light: f32,
    curve: Vec<f32>,
}

impl Tone {
    pub(super) fn new(plate: &PlateRecipe) -> Self {
        let tone = &plate.tone;
        let mut this = Tone {
            positive: plate.process.is_positive(),
            support_d: tone.support_d as f32,
            unexposed_d: tone.unexposed_d as f32,
            full_d: tone.full_silver_d as f32,
            unexposed_light: pow10(-tone.unexposed_d as f32),
            full_light: pow10(-tone.full_silver_d as f32),
            curve: Vec::new(),
        };
        this.curve = (0..=TABLE)
            .map(|i| {
                let root = i as f32 * TABLE_ROOT / TABLE as f32;
                this.silver_of(root * root, tone.gamma as f32)
            })
            .collect();
        this
    }

    /// The characteristic curve: an S in density against log exposure.
    fn silver_of(&self, light: f32, gamma: f32) -> f32 {
        if light <= 0.0 {
            return 0.0;
        }
        let k = libm::powf(light / HALF_LIGHT, gamma);
        let share = k / (1.0 + k);
        if self.positive {
            let d = lerp(self.unexposed_d, self.full_d, share);
            (pow10(-d) - self.unexposed_light) / (self.full_light - self.unexposed_light)
        } else {
            share
        }
    }

    /// Silver left by the scene's light, 0 to 1.
    pub(super) fn silver(&self, light: f32) -> f32 {
        let at = light.max(0.0).sqrt() * (TABLE as f32 / TABLE_ROOT);
        let cell = (at as usize).min(TABLE - 1);
        lerp(
            self.curve[cell],
            self.curve[cell + 1],
            (at - cell as f32).min(1.0),
        )
    }

    /// Silver after fog that would change unexposed coating by `fog_d`.
    pub(super) fn with_fog(&self, silver: f32, fog_d: f32) -> f32 {
        if fog_d < 1e-5 {
            return silver;
        }
        let share = if self.positive {
            self.unexposed_light * (pow10(fog_d) - 1.0) / (self.full_light - self.unexposed_light)
        } else {
            fog_d / (self.full_d - self.unexposed_d)
        };
        1.0 - (1.0 - silver) * (1.0 - share.min(0.99))
    }

    /// Silver of a flat image; `open` is the share of the lens's light that the holder lets through.
    pub(super) fn flatter(&self, silver: f32, flat: &Flat, open: f32) -> f32 {
        let range_d = self.full_d - self.unexposed_d;
        let share = (self.density(silver, 1.0) - self.unexposed_d) / range_d;
        let under_ledge = if flat.veils_border { 1.0 } else { open };
        let share = flat.keeps * share + (1.0 - flat.keeps) * flat.pivot * under_ledge;
        if self.positive {
            let light = pow10(-(self.unexposed_d + share * range_d));
            (light - self.unexposed_light) / (self.full_light - self.unexposed_light)
        } else {
            share
        }
    }

    /// Silver where the coat is thicker or thinner by what changes a grey card by `thick_d`, positive
    /// for more silver. Silver goes with thickness; on a positive it covers no more than all of the
    /// support.
    pub(super) fn thicker(&self, silver: f32, thick_d: f32) -> f32 {
        if thick_d == 0.0 {
            return silver;
        }
        if self.positive {
            // At half the density range, where the curve puts a grey card.
            let light = pow10(-0.5 * (self.unexposed_d + self.full_d));
            let grey = (light - self.unexposed_light) / (self.full_light - self.unexposed_light);
            let gain = (pow10(thick_d) - 1.0) * light / (light - self.unexposed_light);
            let free = (1.0 - silver).max(0.0) / (1.0 - grey);
            (silver * (1.0 + gain.max(-1.0) * if gain > 0.0 { free } else { 1.0 })).min(1.0)
        } else {
            silver * (1.0 + 2.0 * thick_d / (self.full_d - self.unexposed_d)).max(0.0)
        }
    }

    /// Density of a share of silver, where `coat` of the support is coated.
    pub(super) fn density(&self, silver: f32, coat: f32) -> f32 {
        let coated = if self.positive {
            density(lerp(self.unexposed_light, self.full_light, silver))
        } else {
            lerp(self.unexposed_d, self.full_d, silver)
        };
        if coat >= 1.0 {
            coated
        } else {
            lerp(self.support_d, coated, coat)
        }
    }
}

/// How a flat image squeezes the tones, as its recipe says.
pub(super) struct Flat {
    keeps: f32,
    pivot: f32,
    veils_border: bool,
}

impl Flat {
    /// The first one planted.
    pub(super) fn of(plate: &PlateRecipe) -> Option<Flat> {
        plate.faults.iter().find_map(|fault| match fault {
            Planted::FlatImage(recipe) => Some(Flat {
                keeps: recipe.keeps as f32,
                pivot: recipe.pivot as f32,
                veils_border: recipe.form == FlatForm::Stale,
            }),
            _ => None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plate::Process;
    use crate::practice::recipe::{Recipe, Wish};

    #[test]
    fn a_flat_image_keeps_its_share_of_every_difference() {
        for process in [Process::PositiveOnMetal, Process::NegativeOnGlass] {
            let wish = Wish {
                process: Some(process),
                ..Wish::default()
            };
            let tone = Tone::new(&Recipe::random(9, "flat", &wish).plates[0]);
            let flat = Flat {
                keeps: 0.4,
                pivot: 0.7,
                veils_border: false,
            };
            let [dark, light] = [0.02, 0.5].map(|light| tone.silver(light));
            let [low, high] = [dark, light].map(|s| tone.density(tone.flatter(s, &flat, 1.0), 1.0));
            let whole = tone.density(light, 1.0) - tone.density(dark, 1.0);
            assert!(
                (high - low - 0.4 * whole).abs() < 0.01,
                "{low} {high} {whole}"
            );
            // The border stays clear, and what is at the pivot stays as it is.
            assert!(tone.flatter(0.0, &flat, 0.0).abs() < 1e-4);
            assert!(tone.flatter(1.0, &flat, 1.0) < 1.0 && tone.flatter(0.0, &flat, 1.0) > 0.0);
        }
    }

    #[test]
    fn thickness_changes_a_grey_card_by_what_it_states() {
        for process in [Process::PositiveOnGlass, Process::NegativeOnGlass] {
            let wish = Wish {
                process: Some(process),
                ..Wish::default()
            };
            let tone = Tone::new(&Recipe::random(8, "grey", &wish).plates[0]);
            let grey = tone.silver(HALF_LIGHT);
            for thick_d in [0.12, -0.12] {
                let change =
                    tone.density(tone.thicker(grey, thick_d), 1.0) - tone.density(grey, 1.0);
                let sign = if process.is_positive() { -1.0 } else { 1.0 };
                assert!((sign * change - thick_d).abs() < 0.01, "{change} {thick_d}");
            }
            // No silver, nothing to be thicker; and no more than all of it.
            assert_eq!(tone.thicker(0.0, 0.3), 0.0);
            assert!(!process.is_positive() || tone.thicker(0.99, 1.0) <= 1.0);
        }
    }
}
