//! Unevenness that no one calls a fault: pour, clouds, grain, blotches, a few specks.

use rand::RngExt;

use crate::practice::maths::{self, CellNormal, fractal, lerp, value_noise};
use crate::practice::recipe::{PlateRecipe, TextureRecipe};

/// A tiny speck such as any plate has.
#[derive(Debug, Clone, Copy)]
pub(in crate::practice) struct Speck {
    /// Centre, millimetres.
    pub(in crate::practice) x: f32,
    pub(in crate::practice) y: f32,
    /// Full width at half height, millimetres.
    pub(in crate::practice) size: f32,
    /// Change of density in its middle, signed.
    pub(in crate::practice) peak_d: f32,
}

/// What a place adds to density, split by what it hangs on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Uneven {
    film: f32,
    silver: f32,
    support: f32,
}

impl Uneven {
    /// Change of density at a place with that much silver.
    pub(super) fn of(self, silver: f32, coat: f32) -> f32 {
        let free = (silver * (1.0 - silver)).max(0.0);
        let film = self.film * (0.4 + 0.6 * silver.clamp(0.0, 1.0).sqrt());
        self.support + coat * (film + self.silver * (2.0 * free.sqrt()).max(0.12))
    }
}

pub(super) struct Texture {
    recipe: TextureRecipe,
    seed: u64,
    grain: CellNormal,
    grain_sd: f32,
    support_sd: f32,
    smooth: Smooth,
    specks: Vec<Speck>,
}

/// Pour and clouds, density, on a grid fine enough for their finest waves (2.75 mm).
struct Smooth {
    columns: usize,
    rows: usize,
    values: Vec<f32>,
}

/// Side of a cell of [`Smooth`], millimetres.
const SMOOTH_CELL_MM: f32 = 0.5;

impl Smooth {
    fn new(size: [f32; 2], at: impl Fn(f32, f32) -> f32) -> Self {
        let count = |side: f32| (side / SMOOTH_CELL_MM).ceil() as usize + 2;
        let (columns, rows) = (count(size[0]), count(size[1]));
        let values = (0..rows * columns)
            .map(|i| {
                let (column, row) = ((i % columns) as f32, (i / columns) as f32);
                at(column * SMOOTH_CELL_MM, row * SMOOTH_CELL_MM)
            })
            .collect();
        Smooth {
            columns,
            rows,
            values,
        }
    }

    #[inline]
    fn at(&self, x: f32, y: f32) -> f32 {
        let u = (x / SMOOTH_CELL_MM).clamp(0.0, (self.columns - 2) as f32);
        let v = (y / SMOOTH_CELL_MM).clamp(0.0, (self.rows - 2) as f32);
        let (column, row) = (u as usize, v as usize);
        let (u, v) = (u - column as f32, v - row as f32);
        let upper = row * self.columns + column;
        let lower = upper + self.columns;
        let values = &self.values;
        lerp(
            lerp(values[upper], values[upper + 1], u),
            lerp(values[lower], values[lower + 1], u),
            v,
        )
    }
}

/// Pixel at which grain is stated, millimetres.
const GRAIN_CELL_MM: f64 = 0.05;

impl Texture {
    pub(super) fn new(plate: &PlateRecipe, seed: u64, pixel_mm: f64) -> Self {
        let mut chance = maths::stream(seed, "pour and specks");
        // Independent grain averages down with the side of the pixel.
        let scale = (GRAIN_CELL_MM / pixel_mm).min(1.5);
        let size = [plate.width_mm as f32, plate.height_mm as f32];
        let recipe = plate.texture.clone();
        let mut draw = |low: f64, high: f64| chance.random_range(low..high) as f32;
        let [a, b, c, d, e]: [f32; 5] = std::array::from_fn(|_| draw(-1.7, 1.7));
        let smooth = Smooth::new(size, |x, y| {
            let (u, v) = (2.0 * x / size[0] - 1.0, 2.0 * y / size[1] - 1.0);
            // The five terms have sd near 0.5 each over the plate.
            let pour = 0.6 * (a * u + b * v + c * u * v + d * (u * u - 0.33) + e * (v * v - 0.33));
            let cloud = 2.2 * fractal(seed, x / 11.0, y / 11.0, 3);
            recipe.pour_d as f32 * pour + recipe.cloud_d as f32 * cloud
        });
        let specks = (0..recipe.specks)
            .map(|_| {
                let sign = if draw(0.0, 1.0) < 0.5 { -1.0 } else { 1.0 };
                Speck {
                    x: draw(0.0, 1.0) * size[0],
                    y: draw(0.0, 1.0) * size[1],
                    size: draw(0.06, 0.16),
                    peak_d: sign * draw(0.15, 0.5),
                }
            })
            .collect();
        Texture {
            grain: CellNormal::new(maths::sub_seed(seed, "grain")),
            grain_sd: (recipe.grain_d * scale) as f32,
            support_sd: (0.7 * recipe.support_d * scale) as f32,
            recipe,
            seed,
            smooth,
            specks,
        }
    }

    pub(super) fn specks(&self) -> &[Speck] {
        &self.specks
    }

    /// Unevenness at a place; `cell` numbers the pixel.
    pub(super) fn uneven_d(&self, x: f32, y: f32, cell: [i32; 2]) -> Uneven {
        let blotch = 2.5 * value_noise(self.seed ^ 1, x / 0.45, y / 0.45);
        let rough = 1.6 * value_noise(self.seed ^ 2, x / 0.3, y / 0.3);
        let grain = self.grain.at(cell[0], cell[1]);
        let fine = self.grain.at(cell[1], !cell[0]);
        let mut film = self.smooth.at(x, y);
        for speck in &self.specks {
            let (dx, dy) = (x - speck.x, y - speck.y);
            let r2 = (dx * dx + dy * dy) / (speck.size * speck.size);
            if r2 < 4.0 {
                film += speck.peak_d * libm::expf(-2.7726 * r2);
            }
        }
        Uneven {
            film,
            silver: self.grain_sd * grain + self.recipe.mottle_d as f32 * blotch,
            support: self.support_sd * fine + 0.5 * self.recipe.support_d as f32 * rough,
        }
    }
}
