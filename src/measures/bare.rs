//! Corners of the plate that the collodion did not cover.
//!
//! What it means: where the pour stopped short, the support itself shows: less silver than anything
//! else on the plate, even all over, behind one smooth sharp line that reaches two edges.
//! Input: a squared-up plate with its density map.
//! Output: for each corner where such a place lies its area and reach (millimetres), its silver and
//! how much more lies beyond the line (density), and its outline.
//! Method: the cells around a corner that are as dark as it and hang together with it, without what is
//! thinner than 1.6 mm (rims).
//! Doubtful when: a dark scene fills the corner and nothing shows the bare support beside it.

use crate::density::{Cells, DensityMap};
use crate::handling::Corner;
use crate::plate::Plate;
use crate::raster::regions::{dilate, erode, reached_from};
use crate::raster::stats::{median, median_and_sigma, quantile};
use crate::raster::{Grid, Mask};

/// An even place in a corner with less silver than what lies beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct BareCorner {
    /// Which corner.
    pub corner: Corner,
    /// Area, square millimetres.
    pub area_mm2: f64,
    /// Reach along the level and the upright edge, millimetres.
    pub reach_mm: [f64; 2],
    /// Median silver, density.
    pub level_d: f64,
    /// Silver just beyond the line less that of the place: median along the line, density.
    pub contrast_d: f64,
    /// Share of the line beyond which silver exceeds half of that.
    pub sharp_share: f64,
    /// Silver that 99 % of the rest of the plate exceeds less that of the place, density.
    pub below_rest_d: f64,
    /// Outline, millimetres, from the corner along the level edge, the line and back.
    pub outline_mm: Vec<[f64; 2]>,
}

/// Nearest and farthest from the corner, along either edge, that the place is first looked for.
const SEED_MM: [f64; 2] = [1.0, 2.5];
/// Silver within this and four times the seed's scatter belongs to the place, density. Our own choice:
/// bare support hardly varies.
const ALIKE_D: f64 = 0.03;
/// Cells along the plate's edge that show its cut.
const CUT_CELLS: usize = 2;
/// Strips narrower than twice this are rims, cells.
const RIM_CELLS: usize = 4;
/// Smallest and largest area, square millimetres and share of the plate. Our own choice.
const LEAST_MM2: f64 = 8.0;
/// See [`LEAST_MM2`].
const MOST_SHARE: f64 = 0.25;

/// Looks into every corner.
pub(super) fn measure(plate: &Plate, cells: &Cells, map: &DensityMap) -> Vec<BareCorner> {
    let (silver, pitch_mm) = (cells.silver_on_plate(map), cells.pitch_mm);
    Corner::ALL
        .into_iter()
        .filter_map(|corner| {
            let turned = Turned {
                silver: &silver,
                corner,
            };
            turned.bare(pitch_mm, [plate.width_mm, plate.height_mm])
        })
        .collect()
}

/// The plate seen from one corner: rows and columns count from there.
struct Turned<'a> {
    silver: &'a Grid<Option<f64>>,
    corner: Corner,
}

impl Turned<'_> {
    fn at(&self, i: usize, j: usize) -> Option<f64> {
        let (rows, columns) = self.silver.dim();
        let [x, y] = self.corner.spot().steps();
        let i = if y < 0.0 { i } else { rows - 1 - i };
        let j = if x < 0.0 { j } else { columns - 1 - j };
        self.silver[[i, j]]
    }

    fn bare(&self, pitch_mm: f64, size_mm: [f64; 2]) -> Option<BareCorner> {
        let (rows, columns) = self.silver.dim();
        // A place that takes half a side is no corner.
        let reach = rows.min(columns) / 2;
        let cells = |mm: f64| (mm / pitch_mm).round() as usize;
        let [from, to] = SEED_MM.map(cells);
        if to >= reach {
            return None;
        }
        let seed: Vec<f64> = (from..to)
            .flat_map(|i| (from..to).filter_map(move |j| self.at(i, j)))
            .collect();
        // A clipped corner leaves less, and no corner to speak of.
        if 2 * seed.len() < (to - from) * (to - from) {
            return None;
        }
        let (seed_d, sigma_d) = median_and_sigma(&seed)?;
        // The cut and the scanner's blur of it are taken for what lies beside them.
        let alike = Mask::from_shape_fn((reach, reach), |(i, j)| {
            self.at(i.max(CUT_CELLS), j.max(CUT_CELLS))
                .is_some_and(|silver| (silver - seed_d).abs() <= ALIKE_D + 4.0 * sigma_d)
        });
        let starts = (from..to).flat_map(|i| (from..to).map(move |j| (i, j)));
        let broad = reached_from(&erode(&alike, RIM_CELLS), starts);
        let place = dilate(&broad, RIM_CELLS);
        let count = place.iter().filter(|set| **set).count();
        let area_mm2 = count as f64 * pitch_mm * pitch_mm;
        let last = |along: &dyn Fn(usize) -> bool| (0..reach).rev().find(|k| along(*k));
        let level = last(&|j| (0..reach).any(|i| place[[i, j]]))? + 1;
        let upright = last(&|i| (0..reach).any(|j| place[[i, j]]))? + 1;
        let within = area_mm2 >= LEAST_MM2
            && area_mm2 <= MOST_SHARE * size_mm[0] * size_mm[1]
            && level < reach
            && upright < reach;
        if !within {
            return None;
        }
        let inside: Vec<f64> = cells_of(&broad)
            .filter_map(|(i, j)| self.at(i, j))
            .collect();
        let (level_d, _) = median_and_sigma(&inside)?;
        // Past the line, the blur across it and the lip that often runs along it.
        let (near, far) = (dilate(&place, 3), dilate(&place, 6));
        let skin = cells(0.75);
        let mut beyond: Vec<f64> = cells_of(&far)
            .filter(|(i, j)| !near[[*i, *j]] && *i >= skin && *j >= skin)
            .filter_map(|(i, j)| Some(self.at(i, j)? - level_d))
            .collect();
        let contrast_d = median(&mut beyond)?;
        let sharp = beyond.iter().filter(|d| **d > 0.5 * contrast_d).count();
        let mut rest: Vec<f64> = (skin..rows - skin)
            .step_by(2)
            .flat_map(|i| (skin..columns - skin).step_by(2).map(move |j| (i, j)))
            .filter(|(i, j)| *i >= reach || *j >= reach || !near[[*i, *j]])
            .filter_map(|(i, j)| self.at(i, j))
            .collect();
        Some(BareCorner {
            corner: self.corner,
            area_mm2,
            reach_mm: [level, upright].map(|cells| cells as f64 * pitch_mm),
            level_d,
            contrast_d,
            sharp_share: sharp as f64 / beyond.len().max(1) as f64,
            below_rest_d: quantile(&mut rest, 0.01)? - level_d,
            outline_mm: self.outline(&place, pitch_mm, size_mm),
        })
    }

    /// The corner, the farthest cell of the place in each of some directions between the edges, in
    /// the plate's frame.
    fn outline(&self, place: &Mask, pitch_mm: f64, size_mm: [f64; 2]) -> Vec<[f64; 2]> {
        const DIRECTIONS: usize = 12;
        let reach = place.nrows();
        let [x, y] = self.corner.spot().steps();
        let seen = |across: f64, down: f64| {
            [
                if x < 0.0 { across } else { size_mm[0] - across },
                if y < 0.0 { down } else { size_mm[1] - down },
            ]
        };
        let line = (0..=DIRECTIONS).map(|k| {
            let angle = std::f64::consts::FRAC_PI_2 * k as f64 / DIRECTIONS as f64;
            let (sin, cos) = angle.sin_cos();
            let farthest = (0..2 * reach)
                .map(|step| 0.5 * step as f64)
                .take_while(|r| r * cos < reach as f64 && r * sin < reach as f64)
                .filter(|r| place[[(r * sin) as usize, (r * cos) as usize]])
                .fold(0.0, f64::max);
            seen(farthest * cos * pitch_mm, farthest * sin * pitch_mm)
        });
        std::iter::once(seen(0.0, 0.0)).chain(line).collect()
    }
}

fn cells_of(mask: &Mask) -> impl Iterator<Item = (usize, usize)> {
    mask.indexed_iter()
        .filter(|(_, set)| **set)
        .map(|(at, _)| at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rounded_corner_without_silver_is_measured() {
        let silver = Grid::from_shape_fn((200, 240), |(i, j)| {
            let (y, x) = ((200 - i) as f64 / 40.0, (240 - j) as f64 / 32.0);
            Some(if x * x + y * y < 1.0 { -0.05 } else { 0.4 })
        });
        let corner = |corner| {
            Turned {
                silver: &silver,
                corner,
            }
            .bare(0.25, [60.0, 50.0])
        };
        let bare = corner(Corner::BottomRight).unwrap();
        assert!((bare.area_mm2 - 62.8).abs() < 5.0, "{}", bare.area_mm2);
        assert!((bare.contrast_d - 0.45).abs() < 0.01 && bare.sharp_share > 0.95);
        assert!((bare.reach_mm[0] - 8.0).abs() < 0.6 && (bare.reach_mm[1] - 10.0).abs() < 0.6);
        assert!(corner(Corner::TopLeft).is_none());
    }
}
