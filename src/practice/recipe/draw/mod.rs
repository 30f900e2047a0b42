//! Drawing a recipe from stated distributions.
//!
//! The ranges are our own choice unless a line says otherwise; densities are from memory of the
//! trade, plate sizes and holders are common practice.

use rand::RngExt;
use rand::seq::IndexedRandom;
use rand_chacha::ChaCha8Rng;

use super::{
    Corners, Crop, FileFormat, LedgeForm, LedgeRecipe, LipRecipe, Planted, PlateRecipe,
    RECIPE_SCHEMA, Recipe, StreakForm, TextureRecipe, ToneRecipe,
};
use crate::plate::{Edge, PlateKind, Process};
use crate::practice::maths;
use crate::practice::scenes::SceneName;
use crate::units::MM_PER_INCH;

mod fog;
mod marks;
mod scan;
mod shapes;
mod whole;

/// A fault wished for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultWish {
    /// Fog over the whole plate, at a level from 1 to 4.
    Veil(u8),
    /// Fog from one edge or more.
    EdgeFog(u8),
    /// A tongue of fog.
    LightLeak(u8),
    /// Heads with tails.
    Comets(u8),
    /// Round holes in the film.
    Pinholes(u8),
    /// Round spots of silver or matter.
    Specks(u8),
    /// Parallel bands of the dip or of the developer.
    Streaks(u8),
    /// One line from edge to edge.
    DipLine(u8),
    /// Waves or a step of thickness by the drain corner.
    Ridges(u8),
    /// Thickness that rises over the whole plate.
    UnevenPour(u8),
    /// A place without coating.
    BareArea(u8),
    /// Silver from the border of the plate.
    Stain(u8),
    /// Lines torn into the film.
    Scratch(u8),
    /// Too little between the blacks and the lights.
    FlatImage(u8),
    /// Silver salt that the fixer left; in a colour scan.
    Underfixed(u8),
}

/// How dirty the scanner's glass is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Glass {
    /// Just wiped.
    Clean,
    /// Not wiped for a week.
    Dusty,
    /// Never wiped.
    Filthy,
}

/// What must hold of a drawn recipe; the rest is left to chance.
#[derive(Debug, Clone, Default)]
pub struct Wish {
    /// Faults to plant; none for a clean plate.
    pub faults: Vec<FaultWish>,
    /// Process.
    pub process: Option<Process>,
    /// Kind of plate.
    pub kind: Option<PlateKind>,
    /// Scene of a picture.
    pub scene: Option<SceneName>,
    /// Crop.
    pub crop: Option<Crop>,
    /// Resolution, dots per inch.
    pub dpi: Option<f64>,
    /// Trade size by name.
    pub size_name: Option<&'static str>,
    /// File format.
    pub format: Option<FileFormat>,
    /// How dirty the glass is; without a wish, as most scanners are.
    pub glass: Option<Glass>,
    /// Channels of the file, 1 or 3.
    pub channels: Option<u8>,
    /// True to make room for what a veil is measured against: a bare rim that is in the scan, beside a
    /// border that the holder kept dark.
    pub bare_rim: bool,
}

/// Trade sizes painted, with their share: name, short and long side in inches (common practice).
const SIZES: [(&str, f64, f64, f64); 5] = [
    ("sixth", 2.75, 3.25, 0.7),
    ("ninth", 2.0, 2.5, 0.06),
    ("quarter", 3.25, 4.25, 0.18),
    ("half", 4.25, 5.5, 0.03),
    ("4x5", 4.0, 5.0, 0.03),
];

impl Recipe {
    /// Draws a recipe of one plate from its seed.
    pub fn random(seed: u64, name: &str, wish: &Wish) -> Recipe {
        let mut draw = Draw(maths::stream(seed, "recipe"));
        let mut plate = draw.plate(wish);
        plate.lip = Draw(maths::stream(seed, "lip")).lip(plate.process);
        let mut scan = draw.scan(wish, &mut plate);
        if let Some(glass) = wish.glass {
            Draw(maths::stream(seed, "glass")).glass(glass, &mut scan);
        }
        plate.faults = wish
            .faults
            .iter()
            .flat_map(|fault| draw.faults(*fault, &plate))
            .collect();
        Recipe {
            schema: RECIPE_SCHEMA.into(),
            name: name.into(),
            seed,
            scan,
            plates: vec![plate],
        }
    }
}

impl Recipe {
    /// The second scan of a pair: the same plates taken up, turned half round and put down again, a
    /// millimetre and a degree or so off, on the same glass with the same dust. The glass around the
    /// plates must be in the scan, or it is refused when painted.
    pub fn turned(&self) -> Recipe {
        let mut second = self.clone();
        second.name = format!("{}-turned", self.name);
        second.scan.turned = true;
        let mut draw = Draw(maths::stream(self.seed, "put down again"));
        for plate in &mut second.plates {
            plate.turn_deg = five(plate.turn_deg + draw.between(-1.2, 1.2)).clamp(-30.0, 30.0);
            plate.centre_mm = plate.centre_mm.map(|at| five(at + draw.between(-1.2, 1.2)));
        }
        second
    }

    /// Draws a recipe of several plates side by side on one glass, from left to right. All are
    /// scanned the way the first one's process asks for.
    pub fn on_one_glass(seed: u64, name: &str, wishes: &[Wish]) -> Recipe {
        let mut whole = Recipe::random(seed, name, wishes.first().unwrap_or(&Wish::default()));
        let mut draw = Draw(maths::stream(seed, "on one glass"));
        let process = whole.plates.first().map(|plate| plate.process);
        let mut plates = Vec::new();
        let (mut across, mut down) = (draw.between(5.0, 9.0), 0.0_f64);
        for (i, wish) in wishes.iter().enumerate() {
            let wish = Wish {
                process,
                crop: Some(Crop::Margin),
                ..wish.clone()
            };
            let seed = maths::sub_seed(seed, &format!("recipe of plate {i}"));
            for mut plate in Recipe::random(seed, name, &wish).plates {
                plate.turn_deg = draw.between(-2.5, 2.5);
                let turn = plate.turn_deg.abs().to_radians();
                let (sin, cos) = (libm::sin(turn), libm::cos(turn));
                let bound_x = plate.width_mm * cos + plate.height_mm * sin;
                let bound_y = plate.width_mm * sin + plate.height_mm * cos;
                let top = draw.between(5.0, 11.0);
                plate.centre_mm = [across + 0.5 * bound_x, top + 0.5 * bound_y].map(five);
                across += bound_x + draw.between(5.0, 9.0);
                down = down.max(top + bound_y);
                plates.push(plate);
            }
        }
        whole.plates = plates;
        whole.scan.crop = Crop::Margin;
        whole.scan.area_mm = [across, down + draw.between(5.0, 9.0)].map(five);
        whole
    }
}

/// Five decimals are plenty, and keep recipes readable.
fn five(value: f64) -> f64 {
    (value * 1e5).round() / 1e5
}

struct Draw(ChaCha8Rng);

impl Draw {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        five(low + (high - low) * self.0.random_range(0.0..1.0))
    }

    fn yes(&mut self, share: f64) -> bool {
        self.0.random_bool(share)
    }

    fn weighted<T: Copy>(&mut self, choices: &[(T, f64)], otherwise: T) -> T {
        let total: f64 = choices.iter().map(|(_, weight)| weight).sum();
        let mut at = self.0.random_range(0.0..1.0) * total;
        for (choice, weight) in choices {
            at -= weight;
            if at < 0.0 {
                return *choice;
            }
        }
        otherwise
    }

    fn plate(&mut self, wish: &Wish) -> PlateRecipe {
        let process = self.weighted(
            &[
                (Process::PositiveOnMetal, 0.4),
                (Process::PositiveOnGlass, 0.3),
                (Process::NegativeOnGlass, 0.3),
            ],
            Process::PositiveOnMetal,
        );
        let process = wish.process.unwrap_or(process);
        let kind = self.weighted(
            &[
                (PlateKind::Picture, 0.78),
                (PlateKind::Blank, 0.08),
                (PlateKind::Flat, 0.08),
                (PlateKind::Wedge, 0.06),
            ],
            PlateKind::Picture,
        );
        let kind = match wish.scene {
            Some(_) => PlateKind::Picture,
            None => wish.kind.unwrap_or(kind),
        };
        let scene = match kind {
            PlateKind::Blank => SceneName::Blank,
            PlateKind::Flat => SceneName::Even,
            PlateKind::Wedge => SceneName::Wedge,
            PlateKind::Picture => {
                let any = SceneName::PICTURES.choose(&mut self.0).copied();
                wish.scene.or(any).unwrap_or(SceneName::Portrait)
            }
        };
        let (size_name, width_mm, height_mm) = self.size(wish);
        let corners = self.weighted(
            &[
                (Corners::Square, 0.45),
                (Corners::Clipped, 0.2),
                (Corners::Round, 0.2),
                (Corners::Nicked, 0.15),
            ],
            Corners::Square,
        );
        let corner_mm = match corners {
            Corners::Square => 0.0,
            Corners::Clipped => self.between(0.8, 4.0),
            Corners::Round => self.between(0.6, 2.5),
            Corners::Nicked => self.between(0.8, 2.5),
        };
        let shift = |draw: &mut Self| [draw.between(-0.25, 0.25), draw.between(-0.25, 0.25)];
        PlateRecipe {
            process,
            kind,
            size_name,
            width_mm,
            height_mm,
            corner_shift_mm: [shift(self), shift(self), shift(self), shift(self)],
            corners,
            corner_mm,
            centre_mm: [0.0, 0.0],
            turn_deg: 0.0,
            ledge: self.ledge(wish),
            rim_mm: self.rims(wish),
            lip: None,
            scene,
            exposure: if kind == PlateKind::Picture {
                self.between(0.6, 1.5)
            } else {
                1.0
            },
            tone: self.tone(process),
            texture: self.texture(process),
            faults: Vec::new(),
        }
    }

    fn size(&mut self, wish: &Wish) -> (String, f64, f64) {
        let shares = SIZES.map(|size| (size, size.3));
        let drawn = self.weighted(&shares, SIZES[0]);
        let named = wish
            .size_name
            .and_then(|name| SIZES.into_iter().find(|size| size.0 == name));
        let (name, short, long, _) = named.unwrap_or(drawn);
        // Hand-cut: a few tenths of a millimetre off.
        let short = five(short * MM_PER_INCH + self.between(-0.3, 0.3));
        let long = five(long * MM_PER_INCH + self.between(-0.3, 0.3));
        if self.yes(0.3) {
            (name.into(), long, short)
        } else {
            (name.into(), short, long)
        }
    }

    fn ledge(&mut self, wish: &Wish) -> Option<LedgeRecipe> {
        if !self.yes(0.7) && !wish.bare_rim {
            return None;
        }
        let middle = self.between(1.5, 4.2);
        let width_mm =
            std::array::from_fn(|_| five((middle + self.between(-0.6, 0.6)).clamp(1.3, 4.5)));
        let form = self.weighted(
            &[
                (LedgeForm::Round, 0.34),
                (LedgeForm::Diagonal, 0.33),
                (LedgeForm::Square, 0.33),
            ],
            LedgeForm::Square,
        );
        Some(LedgeRecipe {
            width_mm,
            penumbra_mm: self.between(0.12, 0.5),
            form,
            support_mm: if self.yes(0.5) {
                self.between(4.5, 9.0)
            } else {
                0.0
            },
        })
    }

    fn rims(&mut self, wish: &Wish) -> [f64; 4] {
        let share = if self.yes(0.25) { 0.0 } else { 0.5 };
        let mut rims = std::array::from_fn(|_| {
            if self.yes(share) {
                self.between(0.15, 0.9)
            } else {
                0.0
            }
        });
        if wish.bare_rim {
            let side = self.0.random_range(0..4);
            rims[side] = self.between(0.45, 0.9);
        }
        rims
    }

    /// Three plates in four show a lip, most of their edges with it. Its density is as wide as that of
    /// plates seen: often denser than the support, now and then lighter; ground glass mostly denser.
    fn lip(&mut self, process: Process) -> Option<LipRecipe> {
        if !self.yes(0.75) {
            return None;
        }
        let (mean_d, sd_d) = match process.is_positive() {
            true => (0.03, 0.09),
            false => (0.10, 0.12),
        };
        let width_mm = std::array::from_fn(|_| {
            if self.yes(0.75) {
                self.between(0.1, 0.65)
            } else {
                0.0
            }
        });
        Some(LipRecipe {
            width_mm,
            adds_d: std::array::from_fn(|_| five(mean_d + sd_d * self.normal())),
        })
    }

    /// Standard normal, near enough: twelve even draws (central limit).
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.between(0.0, 1.0)).sum::<f64>() - 6.0
    }

    fn tone(&mut self, process: Process) -> ToneRecipe {
        if process.is_positive() {
            let support_d = self.between(1.5, 2.1);
            ToneRecipe {
                support_d,
                unexposed_d: five(support_d - self.between(0.003, 0.02)),
                full_silver_d: self.between(0.45, 0.75),
                gamma: self.between(1.1, 1.7),
                warmth: [self.between(1.02, 1.1), self.between(0.84, 0.96)],
            }
        } else {
            let support_d = self.between(0.05, 0.2);
            ToneRecipe {
                support_d,
                unexposed_d: five(support_d + self.between(0.003, 0.02)),
                full_silver_d: self.between(1.4, 2.5),
                gamma: self.between(1.0, 1.6),
                warmth: [self.between(1.0, 1.06), self.between(0.9, 1.0)],
            }
        }
    }

    fn texture(&mut self, process: Process) -> TextureRecipe {
        let grain = if process.is_positive() {
            self.between(0.02, 0.045)
        } else {
            self.between(0.008, 0.02)
        };
        TextureRecipe {
            pour_d: self.between(0.006, 0.016),
            cloud_d: self.between(0.004, 0.012),
            grain_d: grain,
            mottle_d: self.between(0.004, 0.016),
            support_d: self.between(0.006, 0.016),
            specks: self.0.random_range(0..=5),
        }
    }

    fn faults(&mut self, wish: FaultWish, plate: &PlateRecipe) -> Vec<Planted> {
        match wish {
            FaultWish::Veil(level) => vec![Planted::Veil {
                level,
                fog_d: self.fog_d(level),
                spares_border: plate.ledge.is_some() && self.yes(0.1),
            }],
            FaultWish::EdgeFog(level) => {
                let count = self.weighted(&[(1, 0.6), (2, 0.25), (3, 0.05), (4, 0.1)], 1);
                let first = self.0.random_range(0..4);
                (0..count)
                    .map(|i| self.edge_fog(level, Edge::ALL[(first + i) % 4], plate))
                    .collect()
            }
            FaultWish::LightLeak(level) => vec![self.light_leak(level, plate)],
            FaultWish::Comets(level) => vec![self.comets(level, plate)],
            FaultWish::Pinholes(level) => vec![self.pinholes(level)],
            FaultWish::Specks(level) => vec![self.specks(level, plate)],
            FaultWish::Streaks(level) => {
                let form = if self.yes(0.65) {
                    StreakForm::Dip
                } else {
                    StreakForm::Developer
                };
                vec![self.streaks(level, form, plate)]
            }
            FaultWish::DipLine(level) => vec![self.dip_line(level, plate)],
            FaultWish::Ridges(level) => vec![self.ridges(level, plate)],
            FaultWish::UnevenPour(level) => vec![self.uneven_pour(level)],
            FaultWish::BareArea(level) => vec![self.bare_area(level, plate)],
            FaultWish::Stain(level) => vec![self.stain(level, plate)],
            FaultWish::Scratch(level) => vec![self.scratch(level)],
            FaultWish::FlatImage(level) => vec![self.flat_image(level)],
            FaultWish::Underfixed(level) => vec![self.underfixed(level, plate)],
        }
    }
}
