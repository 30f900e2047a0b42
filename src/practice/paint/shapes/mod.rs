//! Faults with a shape, and what they do to a point: they make the coat thicker or thinner, leave
//! silver, or leave the support bare.
//!
//! Each shape draws its chances from its own recipe, so that it is the same whatever else is planted
//! and in whatever order.

use crate::practice::chance::Chance;
use crate::practice::maths;
use crate::practice::recipe::{Planted, PlateRecipe};

mod bands;
mod bare;
mod scratches;
mod stains;
mod waves;

use bands::Bands;
use bare::Bare;
use scratches::Scratches;
use stains::Stain;
use waves::{Pour, Waves};

/// What shapes do to one point.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(in crate::practice) struct Change {
    /// What thickness changes where there is a grey card's silver, density, positive for more silver.
    pub(in crate::practice) thick_d: f32,
    /// Silver left, density on unexposed coating.
    pub(in crate::practice) fog_d: f32,
    /// Share of the film torn away.
    pub(in crate::practice) torn: f32,
    /// Share of the place that was never coated.
    pub(in crate::practice) bare: f32,
}

impl Change {
    fn and(self, other: Change) -> Change {
        let both = |a: f32, b: f32| 1.0 - (1.0 - a) * (1.0 - b);
        Change {
            thick_d: self.thick_d + other.thick_d,
            fog_d: self.fog_d + other.fog_d,
            torn: both(self.torn, other.torn),
            bare: both(self.bare, other.bare),
        }
    }

    /// Share of the film that is left.
    pub(super) fn film(self) -> f32 {
        (1.0 - self.torn) * (1.0 - self.bare)
    }
}

/// One line of a shape: its middle, millimetres of the whole plate.
#[derive(Debug, Clone)]
pub(in crate::practice) struct Line {
    /// Half a millimetre apart, from one end to the other.
    pub(in crate::practice) points: Vec<[f32; 2]>,
    /// Width at half its strength.
    pub(in crate::practice) width: f32,
    /// True when it leaves more silver than is beside it.
    pub(in crate::practice) more_silver: bool,
}

/// One planted shape.
pub(in crate::practice) enum Shape {
    Bands(Bands),
    Waves(Waves),
    Pour(Pour),
    Bare(Bare),
    Stain(Stain),
    Scratches(Scratches),
}

impl Shape {
    /// `None` for a fault without a shape.
    fn new(fault: &Planted, plate: &PlateRecipe, seed: u64, pixel_mm: f64) -> Option<Shape> {
        let size = [plate.width_mm as f32, plate.height_mm as f32];
        // The recipe as it is written is the purpose that chance is drawn for.
        let own = serde_json::to_string(fault).unwrap_or_default();
        let seed = maths::sub_seed(seed, &format!("shape {own}"));
        let mut chance = Chance::of(seed, "shape");
        Some(match fault {
            Planted::Streaks(recipe) => Shape::Bands(Bands::streaks(recipe, size, &mut chance)),
            Planted::DipLine(recipe) => Shape::Bands(Bands::line(recipe, size, seed)),
            Planted::Ridges(recipe) => Shape::Waves(Waves::new(recipe, size, &mut chance)),
            Planted::UnevenPour(recipe) => Shape::Pour(Pour::new(recipe, size, &mut chance)),
            Planted::BareArea(recipe) => Shape::Bare(Bare::new(recipe, size, seed)),
            Planted::Stain(recipe) => Shape::Stain(Stain::new(recipe, size, &mut chance)),
            Planted::Scratch(recipe) => {
                let pixel = pixel_mm as f32;
                Shape::Scratches(Scratches::new(recipe, size, pixel, &mut chance))
            }
            _ => return None,
        })
    }

    /// What this shape alone does to a point.
    pub(in crate::practice) fn change(&self, x: f32, y: f32) -> Change {
        match self {
            Shape::Bands(bands) => bands.change(x, y),
            Shape::Waves(waves) => Change {
                thick_d: waves.thick_d(x, y),
                ..Change::default()
            },
            Shape::Pour(pour) => Change {
                thick_d: pour.thick_d(x, y),
                ..Change::default()
            },
            Shape::Bare(bare) => bare.change(x, y),
            Shape::Stain(stain) => Change {
                fog_d: stain.fog_d(x, y),
                ..Change::default()
            },
            Shape::Scratches(scratches) => Change {
                torn: scratches.torn(x, y),
                ..Change::default()
            },
        }
    }

    /// Its lines, where it is made of them.
    pub(in crate::practice) fn lines(&self) -> Vec<Line> {
        match self {
            Shape::Bands(bands) => bands.lines(),
            Shape::Waves(waves) => waves.lines(),
            Shape::Scratches(scratches) => scratches.lines(),
            Shape::Pour(_) | Shape::Bare(_) | Shape::Stain(_) => Vec::new(),
        }
    }
}

/// All shapes of a plate, by fault.
pub(super) struct Shapes(Vec<(usize, Shape)>);

impl Shapes {
    pub(super) fn new(plate: &PlateRecipe, seed: u64, pixel_mm: f64) -> Self {
        let faults = plate.faults.iter().enumerate();
        Shapes(
            faults
                .filter_map(|(i, fault)| Some((i, Shape::new(fault, plate, seed, pixel_mm)?)))
                .collect(),
        )
    }

    pub(super) fn of(&self, fault: usize) -> Option<&Shape> {
        let found = self.0.iter().find(|(i, _)| *i == fault);
        found.map(|(_, shape)| shape)
    }

    /// What they all do to a point.
    pub(super) fn change(&self, x: f32, y: f32) -> Change {
        let shapes = self.0.iter();
        shapes.fold(Change::default(), |all, (_, shape)| {
            all.and(shape.change(x, y))
        })
    }
}

/// A unit vector of a direction in degrees clockwise from twelve o'clock, y down.
fn unit(direction_deg: f64) -> [f32; 2] {
    let angle = direction_deg.to_radians();
    [libm::sin(angle) as f32, -libm::cos(angle) as f32]
}

fn dot(a: [f32; 2], b: [f32; 2]) -> f32 {
    a[0] * b[0] + a[1] * b[1]
}
