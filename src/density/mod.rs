//! Density and image silver at every point of a plate.
//!
//! Comes in: a [`Plate`]. Goes out: [`DensityMap`].
//! Units: optical density, `D = -log10(light)` (ISO 5-1); silver is density counted from the zero in
//! the direction of more image silver. Not here: summaries (`measures::tone`).

use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::doubts::Doubt;
use crate::plate::band::Band;
use crate::plate::{Edge, Part, Plate, PlateKind, Rim};
use crate::raster::filter::average_down;
use crate::raster::stats::{median, quantile};
use crate::raster::{Grid, several_at_a_time};

mod cells;
mod logs;

pub use cells::{Cells, FineSilver};
pub use logs::log10;

/// Darkest light that counts, relative to white: density 5, beyond any plate and any scanner.
pub const LEAST_LIGHT: f32 = 1e-5;

/// Cells that one core turns into silver at a go.
const RUN: usize = 1 << 15;

/// Where the zero of silver comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ZeroSource {
    /// The maker stated the support's density.
    Stated,
    /// A rim without coating on this plate.
    BareRim,
    /// The border that the holder kept from the light.
    Border,
    /// The least silver on the plate.
    Envelope,
}

impl ZeroSource {
    /// The doubt that goes with it.
    pub fn doubt(self) -> Doubt {
        match self {
            ZeroSource::Stated => Doubt::ZeroStated,
            ZeroSource::BareRim => Doubt::ZeroFromRim,
            ZeroSource::Border => Doubt::ZeroFromBorder,
            ZeroSource::Envelope => Doubt::ZeroFromEnvelope,
        }
    }

    /// Words for people, to stand after "zero of silver:".
    pub fn words(self) -> &'static str {
        match self {
            ZeroSource::Stated => "the support density that was given",
            ZeroSource::BareRim => "a bare rim of this plate",
            ZeroSource::Border => "the border that the holder kept dark",
            ZeroSource::Envelope => "the place with the least silver",
        }
    }
}

/// Density of a plate and the zero from which its silver counts.
#[derive(Debug, Clone)]
pub struct DensityMap {
    /// Density that counts as no silver.
    pub zero_d: f64,
    /// Where the zero comes from.
    pub zero_source: ZeroSource,
    /// Density of the border that the holder kept dark, where fog is least, if there is a border.
    pub border_d: Option<f64>,
    /// Median density of bare support on the plate, where there is any.
    pub rim_d: Option<f64>,
    /// Edges that show bare support.
    pub rim_edges: usize,
    /// +1 where more silver is denser, -1 where it is lighter.
    sign: f64,
}

impl DensityMap {
    /// Settles the zero of a plate; `support_d` is what the maker stated, if anything.
    pub fn of(plate: &Plate, support_d: Option<f64>) -> DensityMap {
        let rim_d = rim_density(plate);
        // A plate that was never exposed is border all over.
        let border_d = border_density(plate).or_else(|| {
            (plate.kind == PlateKind::Blank).then(|| middle_density(plate, Part::Picture))?
        });
        let (zero_d, zero_source) = support_d
            .map(|d| (d, ZeroSource::Stated))
            .or(rim_d.map(|d| (d, ZeroSource::BareRim)))
            .or(border_d.map(|d| (d, ZeroSource::Border)))
            .unwrap_or_else(|| (envelope_density(plate), ZeroSource::Envelope));
        DensityMap {
            zero_d,
            zero_source,
            border_d,
            rim_d,
            rim_edges: broad_rims(plate).len(),
            sign: plate.silver_sign(),
        }
    }

    /// Silver of a density.
    pub fn silver(&self, density_d: f64) -> f64 {
        self.sign * (density_d - self.zero_d)
    }

    /// Silver of each cell of a grid of linear light, 0 to 1; what is darker than `darkest`, at least [`LEAST_LIGHT`],
    /// counts as that.
    pub fn silver_of(&self, light: &Grid<f32>, darkest: f32) -> Grid<f32> {
        let none = self.silver(0.0) as f32;
        let one = (self.silver(1.0) - self.silver(0.0)) as f32;
        let flat = light.as_standard_layout();
        let mut silver = vec![0.0; light.len()];
        // Long runs of cells, several of which are worked at a time.
        let runs = silver.par_chunks_mut(RUN);
        runs.zip(flat.as_slice().unwrap_or_default().par_chunks(RUN))
            .for_each(|(silver, light)| {
                several_at_a_time(|| {
                    for (silver, light) in silver.iter_mut().zip(light) {
                        // What is no number counts as dark.
                        let light = if *light > darkest { *light } else { darkest };
                        *silver = none - one * log10(light);
                    }
                });
            });
        // The cells are as many as the shape holds.
        Grid::from_shape_vec(light.dim(), silver).unwrap_or_default()
    }

    /// Silver over the plate on a coarser grid of about `pitch_mm`, averaged in linear light; `None`
    /// where a cell holds anything but the wanted parts. Also the pitch reached, millimetres.
    pub fn silver_grid(
        &self,
        plate: &Plate,
        pitch_mm: f64,
        wanted: impl Fn(Part) -> bool,
    ) -> (Grid<Option<f64>>, f64) {
        let factor = plate.cells_along(pitch_mm);
        let light = average_down(&plate.light, factor);
        let wholly = wholly_in(&plate.parts, factor, wanted);
        let silver = Grid::from_shape_fn(light.dim(), |at| {
            wholly[at].then(|| self.silver(density(light[at])))
        });
        (silver, factor as f64 * plate.pitch_mm)
    }
}

/// Density of a relative light, `f32` grids' own form of [`crate::units::density_of`].
pub fn density(light: f32) -> f64 {
    -f64::from(light.max(LEAST_LIGHT)).log10()
}

/// Blocks of `factor` x `factor` cells that lie wholly in the wanted parts.
pub fn wholly_in(parts: &Grid<Part>, factor: usize, wanted: impl Fn(Part) -> bool) -> Grid<bool> {
    let all = |all: bool, part: Part| all & wanted(part);
    over_blocks(parts, factor, true, all, |one, other| one & other)
}

/// Of each block of `factor` x `factor` cells the part that is farthest out: a block with any cell beyond the
/// plate is [`Part::Outside`], one with nothing else is [`Part::Picture`].
pub fn outermost_in(parts: &Grid<Part>, factor: usize) -> Grid<Part> {
    let outer = |one: Part, other: Part| if other < one { other } else { one };
    over_blocks(parts, factor, Part::Picture, outer, outer)
}

/// Sums up blocks of `factor` x `factor` cells from `start` on: `take` adds a cell, `join` another sum.
fn over_blocks<T: Copy>(
    parts: &Grid<Part>,
    factor: usize,
    start: T,
    take: impl Fn(T, Part) -> T,
    join: impl Fn(T, T) -> T,
) -> Grid<T> {
    let (rows, columns) = parts.dim();
    let factor = factor.max(1);
    let mut blocks = Grid::from_elem((rows.div_ceil(factor), columns.div_ceil(factor)), start);
    let flat = parts.as_standard_layout();
    let cells = flat.as_slice().unwrap_or_default();
    let mut down = vec![start; columns];
    for (i, mut out_row) in blocks.rows_mut().into_iter().enumerate() {
        // Down first: whole rows are looked at many cells at a time.
        down.fill(start);
        for row in (i * factor..rows).take(factor) {
            for (sum, part) in down.iter_mut().zip(&cells[row * columns..]) {
                *sum = take(*sum, *part);
            }
        }
        for (out, block) in out_row.iter_mut().zip(down.chunks(factor)) {
            *out = block.iter().fold(start, |sum, other| join(sum, *other));
        }
    }
    blocks
}

/// How far the inner line of a rim strays along its edge at least, millimetres: the film ends in a wavy line, a lip as
/// straight as the cut, and lips read up to 0.3 D darker or lighter than the plate. Our own choice: of some 110 made
/// plates with a rim that shows a veil five stray by less, of 48 clean ones with a lip or a rim six by more
/// (development seeds 793000, 798000 and 799000).
const LEAST_WAVES_MM: f64 = 0.09;

/// Narrowest rim that is read, and the width from which it may be no rim but the fall of something that reaches
/// farther in, millimetres. Our own choice, by the same plates.
const READ_MM: [f64; 2] = [0.34, 1.05];

/// Rims of a plate that run along enough of their edge to be read, and are no lips.
fn broad_rims(plate: &Plate) -> Vec<Rim> {
    read_rims(&plate.rims)
}

fn read_rims(rims: &[Option<Rim>]) -> Vec<Rim> {
    let [narrowest, widest] = READ_MM;
    let mut read: Vec<Rim> = rims
        .iter()
        .flatten()
        .filter(|rim| rim.blocks >= 10 && rim.waves_mm >= LEAST_WAVES_MM)
        .filter(|rim| rim.width_mm >= narrowest)
        .copied()
        .collect();
    if read.iter().any(|rim| rim.width_mm < widest) {
        read.retain(|rim| rim.width_mm < widest);
    }
    read
}

/// The bare support: mean over the edges that show a rim, those on which it shows longest first.
fn rim_density(plate: &Plate) -> Option<f64> {
    let rims = broad_rims(plate);
    let weight: f64 = rims
        .iter()
        .map(|rim| rim.blocks as f64 * rim.width_mm)
        .sum();
    (weight > 0.0).then(|| {
        rims.iter()
            .map(|rim| rim.density_d * rim.blocks as f64 * rim.width_mm)
            .sum::<f64>()
            / weight
    })
}

/// Border that has room for a rim and for coating beside it, millimetres. Our own choice.
pub const NARROW_BORDER_MM: f64 = 1.6;

/// The border where it is quietest: of each edge's border, past rim and lip and before the ledge's half
/// shadow, the lower third along the edge; of the edges the one with the least silver. Fog enters from
/// some edges, and it must not pass for a veil.
///
/// A narrow border, where an unseen rim may pass for it, counts only where there is no broad one, or where silver
/// falls inward over even the quietest of the broad ones, as it does under fog and not under a veil.
fn border_density(plate: &Plate) -> Option<f64> {
    let borders: Vec<Border> = Edge::ALL
        .into_iter()
        .filter_map(|edge| Border::of(plate, edge))
        .collect();
    let broadest = plate.ledge.width_mm.iter().flatten().copied();
    let least_mm = NARROW_BORDER_MM.min(broadest.reduce(f64::max)?);
    let quietest = |least_mm: f64| {
        let borders = borders.iter().filter(|border| border.ledge_mm >= least_mm);
        borders.min_by(|a, b| a.silver_d.total_cmp(&b.silver_d))
    };
    let of_broad = quietest(least_mm)?;
    let quiet = match of_broad.fall_d >= FOGGED_FALL_D {
        true => quietest(0.0)?,
        false => of_broad,
    };
    Some(plate.silver_sign() * quiet.silver_d)
}

/// Least fall of silver inward over a border that is surely fogged, density. Our own choice, more than twice what
/// clean borders fall by from row to row (see `measures/fog/edges.rs`); of 416 plates made for fog (development seeds
/// 770000 on) none is read otherwise for it.
const FOGGED_FALL_D: f64 = 0.03;

/// The border of an edge where it is quietest along it.
struct Border {
    ledge_mm: f64,
    /// Density, with the sign of silver: lower third.
    silver_d: f64,
    /// By how much silver falls from its outer half to its inner half, density; 0 in too narrow a one.
    fall_d: f64,
}

impl Border {
    fn of(plate: &Plate, edge: Edge) -> Option<Border> {
        let sign = plate.silver_sign();
        let ledge_mm = plate.ledge.width_mm[edge as usize]?;
        let lip_mm = (0.5 * ledge_mm).min(1.0);
        let from_mm = plate.rims[edge as usize].map_or(lip_mm, |rim| rim.width_mm + 0.3);
        let to_mm = ledge_mm - 0.45;
        let band = Band::along(plate, edge, ledge_mm, 0.15, 1.0);
        let density = band.density();
        let within = |from_mm: f64, to_mm: f64| -> Vec<f64> {
            density
                .indexed_iter()
                .filter(|(at, _)| band.parts[*at] == Part::Border)
                .filter(|((row, _), _)| (from_mm..=to_mm).contains(&band.distance_mm(*row)))
                .map(|(_, d)| sign * d)
                .collect()
        };
        let third = |mut silver: Vec<f64>| {
            (silver.len() >= 20)
                .then(|| quantile(&mut silver, 0.33))
                .flatten()
        };
        let middle_mm = 0.5 * (from_mm + to_mm);
        let halves = [within(from_mm, middle_mm), within(middle_mm, to_mm)].map(third);
        Some(Border {
            ledge_mm,
            silver_d: third(within(from_mm, to_mm))?,
            fall_d: match halves {
                [Some(outer), Some(inner)] => outer - inner,
                _ => 0.0,
            },
        })
    }
}

/// Median density of 0.5 mm cells of one part.
fn middle_density(plate: &Plate, wanted: Part) -> Option<f64> {
    let mut densities: Vec<f64> = part_densities(plate, |part| part == wanted);
    median(&mut densities)
}

/// Densities of the 0.5 mm cells that lie wholly in the wanted parts.
fn part_densities(plate: &Plate, wanted: impl Fn(Part) -> bool) -> Vec<f64> {
    let factor = plate.cells_along(0.5);
    let light = average_down(&plate.light, factor);
    let wholly = wholly_in(&plate.parts, factor, wanted);
    light
        .indexed_iter()
        .filter(|(at, _)| wholly[*at])
        .map(|(_, v)| density(*v))
        .collect()
}

/// Density of the place with the least silver: 2nd percentile of 0.5 mm cells.
fn envelope_density(plate: &Plate) -> f64 {
    let mut silver: Vec<f64> =
        part_densities(plate, |part| part == Part::Picture || part == Part::Border)
            .into_iter()
            .map(|d| plate.silver_sign() * d)
            .collect();
    quantile(&mut silver, 0.02).map_or(0.0, |s| plate.silver_sign() * s)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lip_is_no_bare_support_and_a_wavy_rim_is() {
        let rim = |width_mm, waves_mm| Rim {
            width_mm,
            density_d: 1.8,
            blocks: 60,
            waves_mm,
        };
        let (lip, wavy, deep) = (rim(0.5, 0.03), rim(0.6, 0.13), rim(1.1, 0.2));
        assert!(read_rims(&[Some(lip), None, None, None]).is_empty());
        assert_eq!(
            read_rims(&[Some(lip), Some(wavy), Some(deep), None]),
            [wavy]
        );
        // One that reaches as far in as is looked is read where there is no other.
        assert_eq!(read_rims(&[None, None, Some(deep), None]), [deep]);
        let short = Rim { blocks: 5, ..wavy };
        assert!(read_rims(&[Some(short), Some(rim(0.3, 0.13)), None, None]).is_empty());
    }
}
