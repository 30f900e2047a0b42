//! What a stain is seen against: silver beyond what lies there without one.

use crate::density::{Cells, DensityMap};
use crate::plate::{Edge, Plate, PlateKind};
use crate::raster::filter::gaussian_over;
use crate::raster::least_squares::Surface;
use crate::raster::regions::{dilate, erode};
use crate::raster::stats::{median, median_and_sigma, quantile};
use crate::raster::{Grid, Mask};

/// Extra silver over the border and, on even plates, over the picture area.
pub(super) struct Ground {
    /// Silver above the level beside, blurred a little, density; 0 where unknown.
    pub excess: Grid<f32>,
    /// Cells whose excess is known.
    pub known: Mask,
    /// Those of the dark border.
    pub border: Mask,
    /// How much neighbouring cells differ by chance, density (standard deviation).
    pub noise_d: f32,
    /// Width of the dark border along each edge, millimetres, 0 without one.
    pub ledge_mm: [f64; 4],
    /// Whether the whole plate is looked at, not its border alone.
    pub even: bool,
    /// The plate, millimetres.
    pub size_mm: [f64; 2],
    /// Side of a cell, millimetres.
    pub pitch_mm: f64,
}

/// Kept clear of the ledge's half shadow: in the border and in the picture area, millimetres.
const SHADOW_MM: [f64; 2] = [0.4, 0.6];
/// Blur against grain, millimetres, and the coarser one that shows what the grain is.
const BLUR_MM: [f64; 2] = [0.2, 0.8];
/// Share of a row along the border below which its level lies: a stain may cover most of an edge.
const LEVEL_SHARE: f64 = 0.35;
/// An edge whose border lies higher than most by more than this is stained or fogged over most of its
/// length, density. Our own choice.
const RAISED_D: f64 = 0.03;
/// Share of an edge on which a row of its border must be seen.
const SEEN_SHARE: f64 = 0.6;
/// Least area of border worth looking at, square millimetres.
const LEAST_BORDER_MM2: f64 = 25.0;
/// Silver by which a thin line stands above the border beside it to be taken for a hair, density, and in
/// standard deviations of the cells. Our own choice.
const HAIR_D: f64 = 0.03;
/// See [`HAIR_D`].
const HAIR_SIGMAS: f64 = 6.0;
/// Share of its silver that a hair loses where the square does not fit; a stain's sharp line loses a third.
const HAIR_SHARE: f64 = 0.75;
/// Silver from which what lies beside a thin line is more than bare border, density and as a share of the
/// line's, and how many cells off that is looked for.
const BESIDE_D: f64 = 0.02;
/// See [`BESIDE_D`].
const BESIDE_SHARE: f64 = 0.15;
/// See [`BESIDE_D`].
const BESIDE_CELLS: usize = 3;
/// Spacing of the points an even plate's surface is laid through, millimetres.
const SURFACE_MM: f64 = 2.0;

impl Ground {
    /// `None` where the plate has neither a border nor an even picture area.
    pub(super) fn of(plate: &Plate, cells: &Cells, map: &DensityMap) -> Option<Ground> {
        let silver = cells.silver_everywhere(map);
        let mut ground = Ground {
            excess: Grid::zeros(silver.dim()),
            known: Mask::from_elem(silver.dim(), false),
            border: Mask::from_elem(silver.dim(), false),
            noise_d: 0.0,
            ledge_mm: plate.ledge.width_mm.map(|width| width.unwrap_or(0.0)),
            even: matches!(plate.kind, PlateKind::Blank | PlateKind::Flat),
            size_mm: [plate.width_mm, plate.height_mm],
            pitch_mm: cells.pitch_mm,
        };
        // Its own outermost cells are cut and skin.
        let coated = erode(cells.on_coating(), 1);
        ground.take_border(&silver, &coated);
        ground.drop_hairs();
        if ground.even {
            let inner = erode(cells.in_picture(), ground.cells(SHADOW_MM[1]));
            ground.take_even(&silver, &inner);
        }
        ground.known.iter().any(|known| *known).then(|| {
            ground.blur();
            ground
        })
    }

    pub(super) fn cells(&self, mm: f64) -> usize {
        ((mm / self.pitch_mm).round() as usize).max(1)
    }

    /// Distance of a cell's middle from an edge, millimetres.
    pub(super) fn depth_mm(&self, edge: Edge, [i, j]: [usize; 2]) -> f64 {
        let [x, y] = [j, i].map(|k| (k as f64 + 0.5) * self.pitch_mm);
        match edge {
            Edge::Top => y,
            Edge::Right => self.size_mm[0] - x,
            Edge::Bottom => self.size_mm[1] - y,
            Edge::Left => x,
        }
    }

    /// The edge in whose border a cell lies nearest to the plate's cut.
    pub(super) fn border_edge(&self, at: [usize; 2]) -> Option<Edge> {
        let depth = |edge: Edge| self.depth_mm(edge, at);
        Edge::ALL
            .into_iter()
            .filter(|edge| depth(*edge) < self.ledge_mm[*edge as usize] - SHADOW_MM[0])
            .min_by(|a, b| depth(*a).total_cmp(&depth(*b)))
    }

    fn take_border(&mut self, silver: &Grid<f32>, coated: &Mask) {
        let mut rows: [Vec<Vec<f32>>; 4] = Default::default();
        let mut cells = Vec::new();
        let (height, width) = silver.dim();
        let deepest = self.ledge_mm.iter().copied().fold(0.0, f64::max);
        let skip = self.cells(deepest.max(self.pitch_mm)) + 1;
        for i in 0..height {
            // Between the borders of the two sides there is nothing to look at.
            let inside = i >= skip && i + skip < height && 2 * skip < width;
            let columns = match inside {
                true => (0..skip).chain(width - skip..width),
                false => (0..width).chain(width..width),
            };
            for j in columns.filter(|j| coated[[i, *j]]) {
                let Some(edge) = self.border_edge([i, j]) else {
                    continue;
                };
                let row = (self.depth_mm(edge, [i, j]) / self.pitch_mm).max(0.0) as usize;
                let rows = &mut rows[edge as usize];
                rows.resize(rows.len().max(row + 1), Vec::new());
                rows[row].push(silver[[i, j]]);
                cells.push(([i, j], edge as usize, row));
            }
        }
        if (cells.len() as f64) * self.pitch_mm.powi(2) < LEAST_BORDER_MM2 {
            return;
        }
        let lengths = [width, height, width, height];
        let mut levels: Vec<Vec<Option<f64>>> = rows
            .iter()
            .zip(lengths)
            .map(|(rows, length)| levels_inward(rows, length))
            .collect();
        settle_raised(&mut levels);
        for (at, edge, row) in cells {
            if let Some(level) = levels[edge][row] {
                self.excess[at] = silver[at] - level as f32;
                self.known[at] = true;
                self.border[at] = true;
            }
        }
    }

    /// Leaves out thin lines with nothing on either side: hairs on the scanner's glass, which cross the dark
    /// border in sharp lines too. A stain's line is thick enough for a square of three cells, or has the stain on
    /// one side.
    fn drop_hairs(&mut self) {
        let least = self.extreme_near(&self.excess, f32::INFINITY, f32::min);
        let opened = self.extreme_near(&least, f32::NEG_INFINITY, f32::max);
        let most = |values: &Grid<f32>| self.extreme_near(values, f32::NEG_INFINITY, f32::max);
        let beside = (0..BESIDE_CELLS).fold(opened.clone(), |near, _| most(&near));
        let away: Vec<((usize, usize), f64)> = self
            .border
            .indexed_iter()
            .filter(|(_, border)| **border)
            .map(|(at, _)| (at, f64::from(self.excess[at] - opened[at])))
            .collect();
        let values: Vec<f64> = away.iter().map(|(_, away)| *away).collect();
        let Some((usual, sigma)) = median_and_sigma(&values) else {
            return;
        };
        let limit = HAIR_D.max(usual + HAIR_SIGMAS * sigma);
        let mut hairs = Mask::from_elem(self.known.dim(), false);
        for (at, away) in away {
            let excess = f64::from(self.excess[at]);
            hairs[at] = away > limit
                && away > HAIR_SHARE * excess
                && f64::from(beside[at]) < BESIDE_D.max(BESIDE_SHARE * excess);
        }
        for (at, _) in dilate(&hairs, 1).indexed_iter().filter(|(_, hair)| **hair) {
            if self.border[at] {
                (self.known[at], self.border[at], self.excess[at]) = (false, false, 0.0);
            }
        }
    }

    /// Least or most of the border's cells in the square of three about each.
    fn extreme_near(&self, values: &Grid<f32>, start: f32, pick: fn(f32, f32) -> f32) -> Grid<f32> {
        let (height, width) = values.dim();
        let mut out = values.clone();
        for ((i, j), _) in self.border.indexed_iter().filter(|(_, border)| **border) {
            let near = (i.saturating_sub(1)..(i + 2).min(height))
                .flat_map(|a| (j.saturating_sub(1)..(j + 2).min(width)).map(move |b| (a, b)));
            out[[i, j]] = near
                .filter(|at| self.border[*at])
                .map(|at| values[at])
                .fold(start, pick);
        }
        out
    }

    fn take_even(&mut self, silver: &Grid<f32>, inner: &Mask) {
        let (height, width) = silver.dim();
        let place = |i: usize, j: usize| {
            let share = |k: usize, n: usize| 2.0 * (k as f64 + 0.5) / n as f64 - 1.0;
            [share(j, width), share(i, height)]
        };
        let step = self.cells(SURFACE_MM);
        let points: Vec<[f64; 3]> = (step / 2..height)
            .step_by(step)
            .flat_map(|i| (step / 2..width).step_by(step).map(move |j| (i, j)))
            .filter(|at| inner[*at])
            .map(|(i, j)| {
                let [x, y] = place(i, j);
                [x, y, f64::from(silver[[i, j]])]
            })
            .collect();
        let Some((surface, _)) = Surface::through(&points) else {
            return;
        };
        for ((i, j), _) in inner.indexed_iter().filter(|(_, inside)| **inside) {
            let [x, y] = place(i, j);
            self.excess[[i, j]] = silver[[i, j]] - surface.at(x, y) as f32;
            self.known[[i, j]] = true;
            self.border[[i, j]] = false;
        }
    }

    /// Blurs over what is known, and reads the noise off what a coarser blur takes away.
    fn blur(&mut self) {
        let weights = self.known.mapv(|known| f32::from(u8::from(known)));
        let values = &self.excess * &weights;
        let over_known = |blur_mm: f64| gaussian_over(&values, &weights, blur_mm / self.pitch_mm);
        let (fine, coarse) = rayon::join(|| over_known(BLUR_MM[0]), || over_known(BLUR_MM[1]));
        let known = self.known.indexed_iter().filter(|(_, known)| **known);
        let mut away: Vec<f64> = known
            .step_by(3)
            .map(|(at, _)| f64::from((fine[at] - coarse[at]).abs()))
            .collect();
        let sigma = median(&mut away).unwrap_or(0.0) * crate::raster::stats::MAD_TO_SIGMA;
        self.noise_d = sigma as f32;
        self.excess = fine * weights;
    }
}

/// Level of the border at each depth, density: of the row itself and its neighbours, from the quieter
/// third of the edge; rows hardly seen take that of the row before, or the first known.
fn levels_inward(rows: &[Vec<f32>], length: usize) -> Vec<Option<f64>> {
    let mut levels: Vec<Option<f64>> = (0..rows.len())
        .map(|k| {
            let mut values: Vec<f64> = rows[k.saturating_sub(1)..(k + 2).min(rows.len())]
                .iter()
                .flatten()
                .map(|silver| f64::from(*silver))
                .collect();
            (values.len() as f64 > SEEN_SHARE * length as f64)
                .then(|| quantile(&mut values, LEVEL_SHARE))
                .flatten()
        })
        .collect();
    let mut last = levels.iter().flatten().next().copied();
    for level in &mut levels {
        last = level.or(last);
        *level = last;
    }
    levels
}

/// Lowers the level of edges that lie higher than most: what covers an edge is no level.
fn settle_raised(levels: &mut [Vec<Option<f64>>]) {
    let of_edge = |levels: &Vec<Option<f64>>| {
        let mut known: Vec<f64> = levels.iter().flatten().copied().collect();
        median(&mut known)
    };
    let each: Vec<Option<f64>> = levels.iter().map(of_edge).collect();
    let Some(usual) = median(&mut each.iter().flatten().copied().collect::<Vec<_>>()) else {
        return;
    };
    for (levels, own) in levels.iter_mut().zip(each) {
        let raised = own.map_or(0.0, |own| own - usual);
        if raised > RAISED_D {
            levels
                .iter_mut()
                .flatten()
                .for_each(|level| *level -= raised);
        }
    }
}
