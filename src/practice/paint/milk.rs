//! What the fixer left: milky patches in the film, coloured.
//!
//! Over black, silver salt sends light back, cream or (finely divided) blue-white; by light from behind it
//! holds blue back most and looks yellow. Where silver covers it, it shows less. All figures of colour are
//! our own choice.

use crate::practice::chance::Chance;
use crate::practice::maths::{density, fractal, pow10, smoothstep};
use crate::practice::recipe::{Cast, Planted, PlateRecipe};

/// Red and blue of the light that cream and blue-white milk send back, green 1.
const CREAM: [f32; 2] = [1.08, 0.72];
const BLUE_WHITE: [f32; 2] = [0.88, 1.18];
/// What it adds in red and blue by light from behind, as a share of what it adds in green.
const BEHIND: [f32; 2] = [0.75, 1.7];

/// One patch: middle and radii, millimetres.
struct Patch {
    middle: [f32; 2],
    radii: [f32; 2],
}

/// All patches of a plate.
pub(super) struct Milk {
    positive: bool,
    milk: f32,
    cast: Cast,
    warmth: [f32; 2],
    patches: Vec<Patch>,
    size: f32,
    seed: u64,
}

/// A point under milk: its density, and the natural logarithms of red and blue over green beyond what they
/// are without it.
pub(super) struct Milky {
    pub(super) d: f32,
    pub(super) cast: [f32; 2],
}

impl Milk {
    /// Of the first one planted.
    pub(super) fn new(plate: &PlateRecipe, seed: u64) -> Option<Milk> {
        let recipe = plate.faults.iter().find_map(|fault| match fault {
            Planted::Underfixed(recipe) => Some(recipe),
            _ => None,
        })?;
        let mut chance = Chance::of(seed, "milk");
        let [w, h] = [plate.width_mm as f32, plate.height_mm as f32];
        let size = recipe.size_mm as f32;
        let mut patches: Vec<Patch> = (0..recipe.patches)
            .map(|_| Patch {
                middle: [
                    chance.between(0.05, 0.95) * w,
                    chance.between(0.05, 0.95) * h,
                ],
                radii: [
                    size * chance.between(0.7, 1.6),
                    size * chance.between(0.7, 1.6),
                ],
            })
            .collect();
        if let Some(corner) = recipe.corner {
            let [right, down] = corner.spot().steps();
            patches.push(Patch {
                middle: [
                    if right > 0.0 { w } else { 0.0 },
                    if down > 0.0 { h } else { 0.0 },
                ],
                radii: [
                    size * chance.between(1.2, 2.6),
                    size * chance.between(1.2, 2.6),
                ],
            });
        }
        Some(Milk {
            positive: plate.process.is_positive(),
            milk: recipe.milk as f32,
            cast: recipe.cast,
            warmth: plate.tone.warmth.map(|factor| factor as f32),
            patches,
            size,
            seed: chance.seed(),
        })
    }

    /// How much of it lies at a point, 0 to 1.
    pub(super) fn share(&self, x: f32, y: f32) -> f32 {
        let thickest = self.patches.iter().map(|patch| {
            let (u, v) = (x - patch.middle[0], y - patch.middle[1]);
            let k = libm::hypotf(u / patch.radii[0], v / patch.radii[1]);
            // Patches run out in bays and tongues.
            k + 0.35 * fractal(self.seed, x / (0.7 * self.size), y / (0.7 * self.size), 3)
        });
        let inward = thickest.fold(f32::MAX, f32::min);
        let uneven = 0.8 + 0.2 * fractal(self.seed ^ 1, x / 2.0, y / 2.0, 2);
        smoothstep(1.15, 0.75, inward) * uneven
    }

    /// A point of density `d`, where `coat` of the support is coated.
    pub(super) fn over(&self, x: f32, y: f32, d: f32, coat: f32) -> Milky {
        let share = self.share(x, y) * coat;
        if share <= 0.0 {
            return Milky { d, cast: [0.0; 2] };
        }
        if !self.positive {
            let adds = self.milk * share;
            return Milky {
                d: d + adds,
                cast: BEHIND.map(|k| -std::f32::consts::LN_10 * adds * (k - 1.0)),
            };
        }
        let light = pow10(-d);
        let milk = self.milk * share * (1.0 - light);
        let tint = match self.cast {
            Cast::Cream => CREAM,
            Cast::BlueWhite => BLUE_WHITE,
        };
        let mixed = |own: f32, milky: f32| {
            libm::logf((own * light + milky * milk) / (own * (light + milk)))
        };
        Milky {
            d: density(light + milk),
            cast: [
                mixed(self.warmth[0], tint[0]),
                mixed(self.warmth[1], tint[1]),
            ],
        }
    }
}
