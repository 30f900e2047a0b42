//! Places with more silver than a level, and how sharply they end.

use ndarray::Zip;

use super::ground::Ground;
use crate::plate::Edge;
use crate::raster::filter::gaussian;
use crate::raster::regions::{dilate, erode, label, reached_from_rim};
use crate::raster::stats::median;
use crate::raster::{Grid, Mask};

/// A place with more silver than a level, near an edge of the plate.
#[derive(Debug, Clone)]
pub(super) struct Region {
    /// Level above which it was taken, density.
    pub level_d: f64,
    /// Known area, square millimetres.
    pub area_mm2: f64,
    /// `[left, top, right, bottom]`, millimetres.
    pub box_mm: [f64; 4],
    /// Edges of the plate that it reaches, in the order of [`Edge::ALL`].
    pub reaches: [bool; 4],
    /// The same past the border, where the border beside cannot be known.
    pub near: [bool; 4],
    /// Its outline as far as both sides of it are known.
    pub front: Front,
    /// Share of that which lies in the border.
    pub in_border: f64,
    /// Outline that faces along the border, per edge: against the clock and with it.
    pub ends: [[Front; 2]; 4],
    /// Share of the outline in the border that faces along it.
    pub crossing: f64,
    /// Outline off the border that faces each edge.
    pub sides: [Front; 4],
    /// Longest over shortest extent.
    pub slender: f64,
    /// First row and column of `mask`.
    pub corner: [usize; 2],
    /// Its cells, holes filled.
    pub mask: Mask,
}

/// A piece of outline.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Front {
    pub length_mm: f64,
    /// Share that ends sharply.
    pub sharp: f64,
    /// Share that also has its most silver along the line, less deeper in.
    pub lined: f64,
    /// Median fall of silver across the line, density.
    pub step_d: f64,
    /// Median excess just within and just beyond.
    pub within_d: f64,
    pub beyond_d: f64,
}

/// Distances across the outline at which silver is read, inward negative, millimetres.
const ACROSS_MM: [f64; 15] = [
    -3.0, -2.0, -1.5, -1.0, -0.7, -0.4, -0.2, 0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.5, 2.0,
];
/// Gaps up to twice this are bridged: the ledge's half shadow, grain, millimetres.
const BRIDGE_MM: f64 = 0.7;
/// Blur of a region that shows which way its outline faces, millimetres.
const FACING_MM: f64 = 0.6;
/// How near its edge a region comes at least, millimetres, and past the border beside it.
const REACH_MM: [f64; 2] = [1.6, 1.4];
/// Least area, square millimetres, and most, share of the plate. Our own choice.
const LEAST_MM2: f64 = 4.0;
const MOST_SHARE: f64 = 0.35;
/// Least outline, millimetres.
const LEAST_FRONT_MM: f64 = 1.0;
/// A sharp end holds this share of all that silver falls from 2 mm within to 2 mm beyond; fog and leaks have
/// a third or less.
const SHARP_SHARE: f64 = 0.5;
/// A line holds this share of its fall more silver than what lies 1.5 to 3 mm within.
const LINED_SHARE: f64 = 0.3;
/// Faces a direction from this cosine on.
const FACES: f64 = 0.6;

/// One place on an outline.
struct Point {
    at: [usize; 2],
    facing: [f64; 2],
    within: f32,
    beyond: f32,
    sharp: bool,
    lined: bool,
}

/// The regions of a ground above a level that come near an edge.
pub(super) fn regions(ground: &Ground, level_d: f64) -> Vec<Region> {
    let level = level_d as f32;
    let over = Zip::from(&ground.known)
        .and(&ground.excess)
        .map_collect(|known, excess| known & (*excess > level));
    let over = dilate(&erode(&over, 1), 1);
    if !over.iter().any(|over| *over) {
        return Vec::new();
    }
    let bridge = ground.cells(BRIDGE_MM);
    let closed = erode(&dilate(&over, bridge), bridge);
    let labels = label(&closed);
    let mut found: Vec<Rough> = Vec::new();
    for (i, labels) in labels.rows().into_iter().enumerate() {
        for (j, number) in labels.iter().enumerate().filter(|(_, number)| **number > 0) {
            let number = *number as usize;
            if found.len() < number {
                found.resize(number, Rough::default());
            }
            found[number - 1].take(ground, [i, j], over[[i, j]]);
        }
    }
    let (height, width) = labels.dim();
    let cell_mm2 = ground.pitch_mm.powi(2);
    let most = MOST_SHARE * (height * width) as f64;
    (1u32..)
        .zip(&found)
        .filter(|(_, rough)| {
            let cells = rough.cells as f64;
            cells * cell_mm2 >= LEAST_MM2 && cells <= most && rough.near.contains(&true)
        })
        .filter_map(|(number, rough)| region(ground, level_d, &labels, number, rough))
        .collect()
}

#[derive(Clone)]
struct Rough {
    cells: usize,
    /// First and last row and column.
    rows: [usize; 2],
    columns: [usize; 2],
    reaches: [bool; 4],
    near: [bool; 4],
}

impl Default for Rough {
    fn default() -> Self {
        Rough {
            cells: 0,
            rows: [usize::MAX, 0],
            columns: [usize::MAX, 0],
            reaches: [false; 4],
            near: [false; 4],
        }
    }
}

impl Rough {
    fn take(&mut self, ground: &Ground, [i, j]: [usize; 2], known: bool) {
        self.rows = [self.rows[0].min(i), self.rows[1].max(i)];
        self.columns = [self.columns[0].min(j), self.columns[1].max(j)];
        if !known {
            return;
        }
        self.cells += 1;
        for edge in Edge::ALL {
            let k = edge as usize;
            let depth = ground.depth_mm(edge, [i, j]);
            let past = if ground.even {
                ground.ledge_mm[k] + REACH_MM[1]
            } else {
                0.0
            };
            self.reaches[k] |= depth < REACH_MM[0];
            self.near[k] |= depth < REACH_MM[0].max(past);
        }
    }
}

fn region(
    ground: &Ground,
    level_d: f64,
    labels: &Grid<u32>,
    number: u32,
    rough: &Rough,
) -> Option<Region> {
    let (height, width) = labels.dim();
    // Room for what lies beyond the outline.
    let pad = ground.cells(3.0);
    let rows = rough.rows[0].saturating_sub(pad)..(rough.rows[1] + pad + 1).min(height);
    let columns = rough.columns[0].saturating_sub(pad)..(rough.columns[1] + pad + 1).min(width);
    let corner = [rows.start, columns.start];
    let open = Mask::from_shape_fn((rows.len(), columns.len()), |(i, j)| {
        labels[[corner[0] + i, corner[1] + j]] != number
    });
    let mask = reached_from_rim(&open).mapv(|outside| !outside);
    let points = outline(ground, level_d, &mask, corner);
    let front = front(points.iter(), ground.pitch_mm);
    if front.length_mm < LEAST_FRONT_MM {
        return None;
    }
    let in_border: Vec<(&Point, Edge)> = points
        .iter()
        .filter(|point| ground.border[point.at])
        .filter_map(|point| Some((point, ground.border_edge(point.at)?)))
        .collect();
    let along = |point: &Point, edge: Edge| dot(point.facing, clockwise(edge));
    let ends = Edge::ALL.map(|edge| {
        [-1.0, 1.0].map(|way| {
            let here = in_border.iter().filter(|(_, own)| *own == edge);
            let facing = here.filter(|(point, _)| way * along(point, edge) > FACES);
            self::front(facing.map(|(point, _)| *point), ground.pitch_mm)
        })
    });
    let crossing = in_border
        .iter()
        .filter(|(point, edge)| along(point, *edge).abs() > FACES)
        .count();
    let sides = Edge::ALL.map(|edge| {
        let off = points.iter().filter(|point| !ground.border[point.at]);
        let facing = off.filter(|point| dot(point.facing, outward(edge)) > FACES);
        self::front(facing, ground.pitch_mm)
    });
    let [x, y] = [rough.columns, rough.rows]
        .map(|[from, to]| [from, to + 1].map(|k| k as f64 * ground.pitch_mm));
    Some(Region {
        level_d,
        area_mm2: rough.cells as f64 * ground.pitch_mm.powi(2),
        box_mm: [x[0], y[0], x[1], y[1]],
        reaches: rough.reaches,
        near: rough.near,
        front,
        in_border: in_border.len() as f64 / points.len() as f64,
        ends,
        crossing: crossing as f64 / in_border.len().max(1) as f64,
        sides,
        slender: slender(&mask),
        corner,
        mask,
    })
}

/// The places on a region's outline with known silver on both sides.
fn outline(ground: &Ground, level_d: f64, mask: &Mask, corner: [usize; 2]) -> Vec<Point> {
    let inside = mask.mapv(|inside| f32::from(u8::from(inside)));
    let soft = gaussian(&inside, FACING_MM / ground.pitch_mm);
    let inner = erode(mask, 1);
    let (rows, columns) = mask.dim();
    let least = (3.0 * ground.noise_d).max(0.4 * level_d as f32);
    let on_line = mask
        .indexed_iter()
        .filter(|(at, inside)| **inside && !inner[*at]);
    on_line
        .filter_map(|((i, j), _)| {
            let up = soft[[i.saturating_sub(1), j]] - soft[[(i + 1).min(rows - 1), j]];
            let left = soft[[i, j.saturating_sub(1)]] - soft[[i, (j + 1).min(columns - 1)]];
            let length = f64::from(up.hypot(left));
            if length < 1e-6 {
                return None;
            }
            // Toward less of the region: x, y.
            let facing = [f64::from(left) / length, f64::from(up) / length];
            let read = ACROSS_MM.map(|mm| {
                let step = mm / ground.pitch_mm;
                let a = (i as f64 + facing[1] * step).round();
                let b = (j as f64 + facing[0] * step).round();
                if a < 0.0 || b < 0.0 {
                    return None;
                }
                let at = [a as usize, b as usize];
                let still_inside = *mask.get(at)?;
                let there = [at[0] + corner[0], at[1] + corner[1]];
                (ground.known[there] && !(mm > 0.5 && still_inside)).then(|| ground.excess[there])
            });
            point(read, least).map(|(within, beyond, sharp, lined)| Point {
                at: [i + corner[0], j + corner[1]],
                facing,
                within,
                beyond,
                sharp,
                lined,
            })
        })
        .collect()
}

/// Silver within and beyond, and whether the line is sharp and holds the most.
fn point(read: [Option<f32>; 15], least: f32) -> Option<(f32, f32, bool, bool)> {
    let most = |values: &[Option<f32>]| values.iter().flatten().copied().reduce(f32::max);
    let fewest = |values: &[Option<f32>]| values.iter().flatten().copied().reduce(f32::min);
    if read[7..12].iter().any(Option::is_none) {
        return None;
    }
    read[4..7].iter().flatten().next()?;
    let within = most(&read[4..8])?;
    let beyond = 0.5 * (read[10]? + read[11]?);
    let all = (most(&read[1..9])? - fewest(&read[9..])?).max(1e-3);
    let step = within - beyond;
    let sharp = f64::from(step / all) > SHARP_SHARE && step > least;
    let deeper = fewest(&read[..3]);
    let lined = sharp && deeper.is_some_and(|deep| within - deep > LINED_SHARE as f32 * step);
    Some((within, beyond, sharp, lined))
}

fn front<'a>(points: impl Iterator<Item = &'a Point>, pitch_mm: f64) -> Front {
    let points: Vec<&Point> = points.collect();
    let share = |holds: &dyn Fn(&Point) -> bool| {
        points.iter().filter(|point| holds(point)).count() as f64 / points.len().max(1) as f64
    };
    let middle = |value: &dyn Fn(&Point) -> f32| {
        let mut values: Vec<f64> = points.iter().map(|p| f64::from(value(p))).collect();
        median(&mut values).unwrap_or(0.0)
    };
    Front {
        length_mm: points.len() as f64 * pitch_mm,
        sharp: share(&|point| point.sharp),
        lined: share(&|point| point.lined),
        step_d: middle(&|point| point.within - point.beyond),
        within_d: middle(&|point| point.within),
        beyond_d: middle(&|point| point.beyond),
    }
}

/// Longest over shortest standard deviation of a region's cells.
fn slender(mask: &Mask) -> f64 {
    let cells = || mask.indexed_iter().filter(|(_, inside)| **inside);
    let count = cells().count().max(1) as f64;
    let mean = |value: &dyn Fn(f64, f64) -> f64| {
        cells()
            .map(|((i, j), _)| value(i as f64, j as f64))
            .sum::<f64>()
            / count
    };
    let (y, x) = (mean(&|i, _| i), mean(&|_, j| j));
    let yy = mean(&|i, _| (i - y).powi(2));
    let xx = mean(&|_, j| (j - x).powi(2));
    let xy = mean(&|i, j| (i - y) * (j - x));
    let (half, off) = (0.5 * (yy + xx), (0.25 * (yy - xx).powi(2) + xy * xy).sqrt());
    ((half + off) / (half - off).max(1e-3)).sqrt()
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

/// Direction out of the plate across an edge, x right, y down.
fn outward(edge: Edge) -> [f64; 2] {
    match edge {
        Edge::Top => [0.0, -1.0],
        Edge::Right => [1.0, 0.0],
        Edge::Bottom => [0.0, 1.0],
        Edge::Left => [-1.0, 0.0],
    }
}

/// Direction along an edge, clockwise round the plate.
fn clockwise(edge: Edge) -> [f64; 2] {
    let [x, y] = outward(edge);
    [-y, x]
}
