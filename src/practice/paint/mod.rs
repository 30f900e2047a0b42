//! The plate itself: density at every point, with its planted faults and without them.
//!
//! Comes in: one plate of a recipe. Goes out: plain samples at places in millimetres from the
//! plate's top left corner. Not here: the scanner, the lid, pixels of the file.

use super::maths;
use super::recipe::PlateRecipe;
use super::scenes::{self, Scene};
use crate::plate::PlateKind;

mod coat;
mod fog;
mod holder;
mod lip;
mod outline;
mod texture;
mod tone;

use coat::Coat;
use fog::Fog;
use holder::Holder;
use lip::Lip;
use outline::Outline;
use texture::Texture;
use tone::Tone;

pub(super) use texture::Speck;

/// The part of the plate a sample belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Zone {
    /// Beyond the outline.
    #[default]
    Outside,
    /// Support without coating, the coating's own edge, or the lip along the cut.
    Rim,
    /// Coated, fully kept from the light by the holder.
    Border,
    /// In the half shadow of the holder.
    HalfShadow,
    /// Coated and fully open to the scene.
    Picture,
}

/// One point of the plate.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sample {
    /// Density without the planted faults.
    pub(super) clean_d: f32,
    /// Density with them.
    pub(super) d: f32,
    /// Part of the plate.
    pub(super) zone: Zone,
}

/// Paints one plate, point by point.
pub(super) struct Painter {
    outline: Outline,
    holder: Option<Holder>,
    coat: Coat,
    lip: Option<Lip>,
    tone: Tone,
    texture: Texture,
    scene: Box<dyn Scene>,
    scene_origin: [f32; 2],
    scene_scale: f32,
    exposure: f32,
    fogs: Vec<Fog>,
}

impl Painter {
    /// Sets up the plate; `pixel_mm` is the side of a scan pixel, which sets how much of the grain
    /// is averaged away.
    pub(super) fn new(plate: &PlateRecipe, seed: u64, pixel_mm: f64) -> Self {
        let holder = plate.ledge.as_ref().map(|ledge| Holder::new(plate, ledge));
        // A scene fills the opening of the holder, or the whole plate.
        let [top, right, bottom, left] = plate.ledge.as_ref().map_or([0.0; 4], |l| l.width_mm);
        let width_mm = plate.width_mm - left - right;
        let height_mm = plate.height_mm - top - bottom;
        Painter {
            outline: Outline::new(plate, maths::sub_seed(seed, "outline")),
            holder,
            coat: Coat::new(plate, maths::sub_seed(seed, "coat")),
            lip: Lip::new(plate),
            tone: Tone::new(plate),
            texture: Texture::new(plate, maths::sub_seed(seed, "texture"), pixel_mm),
            scene: scenes::build(plate.scene, seed, width_mm, height_mm),
            scene_origin: [
                (left + 0.5 * width_mm) as f32,
                (top + 0.5 * height_mm) as f32,
            ],
            scene_scale: (1.0 / width_mm.min(height_mm).max(1.0)) as f32,
            exposure: if plate.kind == PlateKind::Blank {
                0.0
            } else {
                plate.exposure as f32
            },
            fogs: plate
                .faults
                .iter()
                .enumerate()
                .map(|(i, fault)| {
                    Fog::new(fault, plate, maths::sub_seed(seed, &format!("fog {i}")))
                })
                .collect(),
        }
    }

    /// Distance outside the plate's outline (negative inside), millimetres.
    pub(super) fn outside_mm(&self, x: f32, y: f32) -> f32 {
        self.outline.outside_mm(x, y)
    }

    /// The few specks any plate has.
    pub(super) fn specks(&self) -> &[Speck] {
        self.texture.specks()
    }

    /// Fog of one planted fault on unexposed coating, density.
    pub(super) fn nominal_fog_d(&self, fault: usize, x: f32, y: f32) -> f32 {
        let open = self.holder.as_ref().map_or(1.0, |h| h.open(x, y));
        self.fogs
            .get(fault)
            .map_or(0.0, |fog| fog.nominal_d(x, y, open))
    }

    /// The plate at one point; `cell` numbers the pixel for grain.
    pub(super) fn sample(&self, x: f32, y: f32, cell: [i32; 2]) -> Sample {
        let open = self.holder.as_ref().map_or(1.0, |h| h.open(x, y));
        let coat = self.coat.cover(x, y);
        let lip = self.lip.as_ref().and_then(|lip| lip.adds_d(x, y));
        let zone = if coat < 0.99 || lip.is_some() {
            Zone::Rim
        } else if open <= 0.005 {
            Zone::Border
        } else if open < 0.995 {
            Zone::HalfShadow
        } else {
            Zone::Picture
        };
        let (mut clean, mut fogged) = (0.0, 0.0);
        if coat > 0.0 {
            if open > 0.0 && self.exposure > 0.0 {
                let light = self.scene.light(
                    (x - self.scene_origin[0]) * self.scene_scale,
                    (y - self.scene_origin[1]) * self.scene_scale,
                );
                clean = self.tone.silver(light * self.exposure * open);
            }
            let fog_d: f32 = self.fogs.iter().map(|fog| fog.nominal_d(x, y, open)).sum();
            fogged = self.tone.with_fog(clean, fog_d);
        }
        let clean_d = self.tone.density(clean, coat);
        let d = if fogged > clean {
            self.tone.density(fogged, coat)
        } else {
            clean_d
        };
        let uneven = self.texture.uneven_d(x, y, cell);
        let lip_d = lip.unwrap_or(0.0);
        Sample {
            clean_d: clean_d + uneven.of(clean, coat) + lip_d,
            d: d + uneven.of(fogged, coat) + lip_d,
            zone,
        }
    }
}
