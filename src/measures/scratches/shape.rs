//! What lies across a line, block by block along it.

use super::follow::Trace;
use super::{ThinLine, local, middle, straight};
use crate::raster::Grid;
use crate::raster::geometry::sample;

/// Length of a block, millimetres.
const BLOCK_MM: f64 = 1.0;
/// Fewest blocks.
const FEWEST: usize = 4;
/// Distance of the places across the line, millimetres, and how many there are to each side: the core, its
/// sides and what lies beyond them are read off at the places below.
const STEP_MM: f64 = 0.085;
const REACH: usize = 8;
const CORE: std::ops::RangeInclusive<usize> = 0..=1;
const SIDES: std::ops::RangeInclusive<usize> = 3..=5;
const BEYOND: std::ops::RangeInclusive<usize> = 6..=8;
/// Share of the whole line's contrast below which a block at an end no longer belongs to it.
const ENDS: f64 = 0.3;
/// Share of the whole line's contrast that a block keeps.
const KEEPS: f64 = 0.4;
/// Least silver of the sides that a share is taken of, density.
const LEAST_D: f64 = 0.03;
/// Least scatter that a misfit is compared with, density.
const LEAST_SCATTER_D: f64 = 0.01;

/// One block: silver of the core, of both sides and of what lies beyond.
struct Block {
    core_d: f64,
    sides_d: [f64; 2],
    beyond_d: f64,
    at: [f64; 2],
}

impl Block {
    fn contrast_d(&self) -> f64 {
        self.sides_d[0].min(self.sides_d[1]) - self.core_d
    }

    fn mean_d(&self) -> f64 {
        0.5 * (self.sides_d[0] + self.sides_d[1])
    }
}

/// The line as it lies on the plate; `None` when too little of it is left.
pub(super) fn describe(
    silver: &Grid<f32>,
    trace: &Trace,
    pitch_mm: f64,
    upright: bool,
) -> Option<ThinLine> {
    let blocks = blocks(silver, trace, pitch_mm);
    if blocks.len() < 3 {
        return None;
    }
    let of = |blocks: &[Block], what: &dyn Fn(&Block) -> f64| {
        middle(blocks.iter().map(what).collect::<Vec<f64>>())
    };
    let whole_d = of(&blocks, &Block::contrast_d);
    let stays = |block: &Block| block.contrast_d() > ENDS * whole_d;
    let first = blocks.iter().position(stays)?;
    let last = blocks.iter().rposition(stays)?;
    let blocks = &blocks[first..=last];
    if blocks.len() < 3 || whole_d <= 0.0 {
        return None;
    }
    let contrast_d = whole_d;
    let mean = |what: &dyn Fn(&Block) -> bool| {
        blocks.iter().filter(|block| what(block)).count() as f64 / blocks.len() as f64
    };
    let points_mm: Vec<[f64; 2]> = blocks
        .iter()
        .map(|block| {
            let [y, x] = block.at.map(|cells| (cells + 0.5) * pitch_mm);
            if upright { [x, y] } else { [y, x] }
        })
        .collect();
    let ([x0, y0], [x1, y1]) = (points_mm[0], points_mm[points_mm.len() - 1]);
    // The blocks' middles leave half a block at each end.
    let chord_mm = (x1 - x0).hypot(y1 - y0).max(1e-6);
    let length_mm = chord_mm * blocks.len() as f64 / (blocks.len() - 1) as f64;
    let bow_mm = points_mm
        .iter()
        .map(|[x, y]| ((x - x0) * (y1 - y0) - (y - y0) * (x1 - x0)).abs() / chord_mm)
        .fold(0.0, f64::max);
    let shares = Shares::of(blocks);
    Some(ThinLine {
        length_mm,
        axis_deg: (x1 - x0).atan2(y0 - y1).to_degrees().rem_euclid(180.0),
        bow: bow_mm / chord_mm,
        width_mm: 0.0,
        edge_mm: 0.0,
        edge_cells: 0.0,
        contrast_d,
        kept: mean(&|block| block.contrast_d() > KEEPS * contrast_d),
        unlike_sides: of(blocks, &|block| (block.sides_d[0] - block.sides_d[1]).abs()) / contrast_d,
        rise: of(blocks, &|block| block.beyond_d - block.core_d) / contrast_d,
        hits: trace.hits,
        wander_cells: wander(trace),
        sides_d: of(blocks, &Block::mean_d),
        gone: shares.gone,
        misfit: shares.misfit,
        alike: 0,
        points_mm,
    })
}

fn blocks(silver: &Grid<f32>, trace: &Trace, pitch_mm: f64) -> Vec<Block> {
    let ([y0, x0], [y1, x1]) = (trace.points[0], trace.points[trace.points.len() - 1]);
    let length_mm = (y1 - y0).hypot(x1 - x0) * pitch_mm;
    let count = ((length_mm / BLOCK_MM).round() as usize).max(FEWEST);
    let step = (STEP_MM / pitch_mm).max(0.8);
    (0..count)
        .filter_map(|k| {
            let row = |k: usize| y0 + (y1 - y0) * k as f64 / count as f64;
            let (from, to) = (row(k), row(k + 1));
            let (at_zero, slope) = local(trace, from, to)?;
            let long = (1.0 + slope * slope).sqrt();
            let across = |place: i64| -> Option<f64> {
                let off = place as f64 * step;
                let rows = (0..).map(|n| from + f64::from(n)).take_while(|y| *y < to);
                let values: Vec<f64> = rows
                    .map(|y| (y - off * slope / long, at_zero + slope * y + off / long))
                    .filter(|(y, x)| inside(silver, *y, *x))
                    // `sample` counts from the cells' corners, places count from their middles.
                    .map(|(y, x)| f64::from(sample(silver, x + 0.5, y + 0.5)))
                    .collect();
                (!values.is_empty()).then(|| middle(values))
            };
            let reach = REACH as i64;
            let profile: Vec<Option<f64>> = (-reach..=reach).map(across).collect();
            let side = |places: std::ops::RangeInclusive<usize>, way: i64| -> Option<f64> {
                let values: Vec<f64> = places
                    .filter_map(|place| profile[(reach + way * place as i64) as usize])
                    .collect();
                (!values.is_empty()).then(|| middle(values))
            };
            let core = CORE
                .flat_map(|place| [profile[REACH + place], profile[REACH - place]])
                .flatten()
                .fold(f64::INFINITY, f64::min);
            let [beyond, before] = [1, -1].map(|way| side(BEYOND, way));
            let sides_d = [side(SIDES, -1)?, side(SIDES, 1)?];
            let y = 0.5 * (from + to);
            core.is_finite().then_some(Block {
                core_d: core,
                sides_d,
                beyond_d: match (beyond, before) {
                    (Some(a), Some(b)) => 0.5 * (a + b),
                    _ => 0.5 * (sides_d[0] + sides_d[1]),
                },
                at: [y, at_zero + slope * y],
            })
        })
        .collect()
}

fn inside(silver: &Grid<f32>, y: f64, x: f64) -> bool {
    let (rows, columns) = silver.dim();
    y >= 0.0 && x >= 0.0 && y < rows as f64 - 1.0 && x < columns as f64 - 1.0
}

/// Root mean square of the distance of a trace from the parabola through it, cells.
fn wander(trace: &Trace) -> f64 {
    let ([y0, _], [y1, _]) = (trace.points[0], trace.points[trace.points.len() - 1]);
    let (at, half) = (0.5 * (y0 + y1), (0.5 * (y1 - y0)).max(1.0));
    let mut rows = Vec::with_capacity(3 * trace.points.len());
    let mut columns = Vec::with_capacity(trace.points.len());
    for [y, x] in &trace.points {
        let u = (y - at) / half;
        rows.extend([1.0, u, u * u]);
        columns.push(*x);
    }
    let Some(fit) = crate::raster::least_squares::least_squares(&rows, &columns, 3) else {
        return f64::INFINITY;
    };
    let squares: f64 = rows
        .chunks(3)
        .zip(&columns)
        .map(|(u, x)| (x - fit[0] * u[0] - fit[1] * u[1] - fit[2] * u[2]).powi(2))
        .sum();
    let slope = straight(&trace.points).map_or(0.0, |(_, slope)| slope);
    (squares / columns.len() as f64 / (1.0 + slope * slope)).sqrt()
}

/// What share of the sides' silver is gone.
struct Shares {
    gone: f64,
    misfit: f64,
}

impl Shares {
    fn of(blocks: &[Block]) -> Shares {
        // Bare support may lie below the plate's zero: silver counts from the least that the line shows.
        let floor = blocks.iter().map(|block| block.core_d).fold(0.0, f64::min);
        let of: Vec<[f64; 2]> = blocks
            .iter()
            .map(|block| [block.core_d - floor, block.mean_d() - floor])
            .collect();
        let gone = middle(
            of.iter()
                .map(|[core, sides]| (sides - core) / sides.max(LEAST_D))
                .collect(),
        );
        let scatter = |of: &dyn Fn(&[f64; 2]) -> f64, blocks: &[[f64; 2]]| -> f64 {
            let values: Vec<f64> = blocks.iter().map(of).collect();
            let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
            let square = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
            (square / values.len().max(1) as f64).sqrt()
        };
        let share = scatter(&|[core, sides]| core - (1.0 - gone) * sides, &of);
        let difference = scatter(&|[core, sides]| sides - core, &of);
        let thing = scatter(&|[core, _]| *core, &of);
        Shares {
            gone,
            misfit: share / difference.min(thing).max(LEAST_SCATTER_D),
        }
    }
}
