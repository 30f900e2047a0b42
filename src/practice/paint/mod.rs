//! The plate itself: density at every point, with its planted faults and without them.
//!
//! Comes in: one plate of a recipe. Goes out: plain samples at places in millimetres from the
//! plate's top left corner. Not here: the scanner, the lid, pixels of the file.

use super::maths::{self, density, lerp, pow10};
use super::recipe::PlateRecipe;
use super::scenes::{self, Scene};
use crate::plate::PlateKind;

mod coat;
mod comets;
mod fog;
mod holder;
mod lip;
mod marks;
mod milk;
mod outline;
mod pinholes;
mod shapes;
mod specks;
mod texture;
mod tone;

use coat::Coat;
use fog::Fog;
use holder::Holder;
use lip::Lip;
use marks::{Effect, Marks};
use milk::Milk;
use outline::Outline;
use shapes::Shapes;
use texture::{Texture, Uneven};
use tone::{Flat, Tone};

pub(super) use marks::{Action, Mark};
pub(super) use shapes::{Line, Shape};
pub(super) use texture::Speck;

/// The part of the plate a sample belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Zone {
    /// Beyond the outline.
    #[default]
    Outside,
    /// Support without coating, whether planted or not, the coating's own edge, or the lip along the cut.
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
    /// How much more red and blue than green the light is for what the fixer left: natural logarithms.
    pub(super) cast: [f32; 2],
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
    fogs: Vec<(usize, Fog)>,
    marks: Marks,
    shapes: Shapes,
    milk: Option<Milk>,
    flat: Option<Flat>,
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
                .filter_map(|(i, fault)| {
                    let seed = maths::sub_seed(seed, &format!("fog {i}"));
                    Some((i, Fog::new(fault, plate, seed)?))
                })
                .collect(),
            marks: Marks::new(plate, seed, pixel_mm),
            shapes: Shapes::new(plate, seed, pixel_mm),
            milk: Milk::new(plate, seed),
            flat: Flat::of(plate),
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
        let open = self.open(x, y);
        self.fogs
            .iter()
            .find(|(of, _)| *of == fault)
            .map_or(0.0, |(_, fog)| fog.nominal_d(x, y, open))
    }

    /// The marks of one planted fault.
    pub(super) fn marks(&self, fault: usize) -> &[Mark] {
        self.marks.group(fault)
    }

    /// One planted fault with a shape.
    pub(super) fn shape(&self, fault: usize) -> Option<&Shape> {
        self.shapes.of(fault)
    }

    /// How much of what the fixer left lies at a point, 0 to 1.
    pub(super) fn milk(&self, x: f32, y: f32) -> f32 {
        self.milk.as_ref().map_or(0.0, |milk| milk.share(x, y))
    }

    /// Share of the lens's light that the holder lets through at a point.
    pub(super) fn open(&self, x: f32, y: f32) -> f32 {
        self.holder.as_ref().map_or(1.0, |h| h.open(x, y))
    }

    /// Density at one point without marks and with them, apart from grain and unevenness.
    pub(super) fn at_point(&self, x: f32, y: f32) -> [f32; 2] {
        let film = self.film(x, y);
        let without = self.tone.density(film.spoilt, film.left);
        let with = self
            .marks
            .at(x, y)
            .map_or(without, |effect| self.marked_d(&film, effect, None));
        [without, with]
    }

    /// The plate at one point; `cell` numbers the pixel for grain.
    pub(super) fn sample(&self, x: f32, y: f32, cell: [i32; 2]) -> Sample {
        let film = self.film(x, y);
        let Film {
            clean,
            spoilt,
            coat,
            left,
            bare,
            open,
        } = film;
        let lip = self.lip.as_ref().and_then(|lip| lip.adds_d(x, y));
        let zone = if coat < 0.99 || bare > 0.01 || lip.is_some() {
            Zone::Rim
        } else if open <= 0.005 {
            Zone::Border
        } else if open < 0.995 {
            Zone::HalfShadow
        } else {
            Zone::Picture
        };
        let clean_d = self.tone.density(clean, coat);
        let d = if spoilt != clean || left != coat {
            self.tone.density(spoilt, left)
        } else {
            clean_d
        };
        let uneven = self.texture.uneven_d(x, y, cell);
        let lip_d = lip.unwrap_or(0.0);
        let d = match self.marks.over_pixel(x, y) {
            None => d + uneven.of(spoilt, left),
            // Light, not density, is what adds up over a pixel.
            Some(points) => {
                let plain = pow10(-(d + uneven.of(spoilt, left)));
                let light: f32 = points
                    .iter()
                    .map(|effect| match effect {
                        None => plain,
                        Some(effect) => pow10(-self.marked_d(&film, *effect, Some(uneven))),
                    })
                    .sum();
                density(light / points.len() as f32)
            }
        };
        let milky = match &self.milk {
            Some(milk) => milk.over(x, y, d, left),
            None => milk::Milky { d, cast: [0.0; 2] },
        };
        Sample {
            clean_d: clean_d + uneven.of(clean, coat) + lip_d,
            d: milky.d + lip_d,
            cast: milky.cast,
            zone,
        }
    }

    /// Silver and coating at one point, before marks.
    fn film(&self, x: f32, y: f32) -> Film {
        let open = self.open(x, y);
        let coat = self.coat.cover(x, y);
        let change = self.shapes.change(x, y);
        let (mut clean, mut spoilt) = (0.0, 0.0);
        if coat > 0.0 {
            if open > 0.0 && self.exposure > 0.0 {
                let light = self.scene.light(
                    (x - self.scene_origin[0]) * self.scene_scale,
                    (y - self.scene_origin[1]) * self.scene_scale,
                );
                clean = self.tone.silver(light * self.exposure * open);
            }
            let fogs = self.fogs.iter();
            let fog_d: f32 = fogs.map(|(_, fog)| fog.nominal_d(x, y, open)).sum();
            spoilt = match &self.flat {
                Some(flat) => self.tone.flatter(clean, flat, open),
                None => clean,
            };
            spoilt = self.tone.with_fog(spoilt, fog_d + change.fog_d);
            spoilt = self.tone.thicker(spoilt, change.thick_d);
        }
        Film {
            clean,
            spoilt,
            coat,
            left: coat * change.film(),
            bare: change.bare,
            open,
        }
    }

    /// Density under the marks.
    fn marked_d(&self, film: &Film, effect: Effect, uneven: Option<Uneven>) -> f32 {
        let coat = film.left * (1.0 - effect.open);
        let silver = self.tone.with_fog(film.spoilt, effect.silver_d) * (1.0 - effect.bleached);
        let d =
            self.tone.density(silver, coat) + uneven.map_or(0.0, |uneven| uneven.of(silver, coat));
        if effect.hidden > 0.0 {
            density(lerp(pow10(-d), pow10(-effect.matter_d), effect.hidden))
        } else {
            d
        }
    }
}

/// Silver and coating at one point.
#[derive(Clone, Copy)]
struct Film {
    /// Silver of the picture, and with fog and thickness.
    clean: f32,
    spoilt: f32,
    /// Share of the support that is coated: as poured, and as the planted faults leave it.
    coat: f32,
    left: f32,
    /// Share that a planted bare place leaves without coat.
    bare: f32,
    /// Share of the lens's light that the holder lets through.
    open: f32,
}
