//! Where a stain starts, its outline from there, and the lines within it.

use super::ground::Ground;
use super::region::Region;
use crate::handling::Spot;
use crate::plate::Edge;
use crate::raster::stats::median;

/// Where a stain starts: its corner, or the middle of its stretch of the edge.
pub(super) fn foot(ground: &Ground, region: &Region, from: Spot) -> [f64; 2] {
    let [width, height] = ground.size_mm;
    let [x0, y0, x1, y1] = region.box_mm;
    let [right, down] = from.steps();
    let place = |step: f64, low: f64, high: f64, size: f64| match step {
        s if s < 0.0 => 0.0,
        s if s > 0.0 => size,
        _ => 0.5 * (low + high),
    };
    [place(right, x0, x1, width), place(down, y0, y1, height)]
}

/// Directions in which a stain is looked at from its foot.
const DIRECTIONS: usize = 24;

/// The directions into the plate, as steps of one cell along x and y.
fn directions(from: Spot) -> impl Iterator<Item = [f64; 2]> {
    let [right, down] = from.steps();
    let inward = (-down).atan2(-right);
    let half = match from.corner() {
        Some(_) => std::f64::consts::FRAC_PI_4,
        None => std::f64::consts::FRAC_PI_2,
    };
    (0..=DIRECTIONS).map(move |k| {
        let angle = inward + half * (2.0 * k as f64 / DIRECTIONS as f64 - 1.0);
        [angle.cos(), angle.sin()]
    })
}

/// Cells of a region along a ray from its foot, one cell apart; `None` off it.
fn ray<'a>(
    ground: &'a Ground,
    region: &'a Region,
    foot: [f64; 2],
    [x, y]: [f64; 2],
) -> impl Iterator<Item = (f64, Option<[usize; 2]>)> + 'a {
    let (rows, columns) = region.mask.dim();
    let far = (rows as f64).hypot(columns as f64) + ground.cells(6.0) as f64;
    (0..far as usize).map(move |k| {
        let out = k as f64 + 0.5;
        let cell = |mm: f64, step: f64, first: usize| {
            (mm / ground.pitch_mm + step * out).floor() - first as f64
        };
        let (i, j) = (
            cell(foot[1], y, region.corner[0]),
            cell(foot[0], x, region.corner[1]),
        );
        let inside =
            i >= 0.0 && j >= 0.0 && region.mask.get([i as usize, j as usize]) == Some(&true);
        let at = inside.then(|| [i as usize + region.corner[0], j as usize + region.corner[1]]);
        (out * ground.pitch_mm, at)
    })
}

/// The foot and the farthest cell of the region in each direction from it.
pub(super) fn fan(ground: &Ground, region: &Region, from: Spot, foot: [f64; 2]) -> Vec<[f64; 2]> {
    let rim = directions(from).map(|[x, y]| {
        let inside = ray(ground, region, foot, [x, y]).filter(|(_, at)| at.is_some());
        let far = inside.map(|(mm, _)| mm).fold(0.0, f64::max);
        let within = |v: f64, size: f64| v.clamp(0.0, size);
        [
            within(foot[0] + far * x, ground.size_mm[0]),
            within(foot[1] + far * y, ground.size_mm[1]),
        ]
    });
    std::iter::once(foot).chain(rim).collect()
}

/// A line stands out by this share of the strongest, and lies so far behind the one before, millimetres.
const LINE_SHARE: f64 = 0.25;
const LINES_APART_MM: f64 = 1.0;

/// Lines met along most rays from the foot: places with more silver than before and behind.
pub(super) fn lines(ground: &Ground, region: &Region, from: Spot, foot: [f64; 2]) -> Option<f64> {
    let least = LINE_SHARE * region.front.step_d;
    let mut counts: Vec<f64> = directions(from)
        .filter_map(|toward| {
            let along: Vec<(f64, f64)> = ray(ground, region, foot, toward)
                .filter_map(|(mm, at)| {
                    let at = at.filter(|at| ground.known[*at])?;
                    Some((mm, f64::from(ground.excess[at])))
                })
                .collect();
            (along.len() > ground.cells(2.0)).then(|| peaks(&along, least) as f64)
        })
        .collect();
    (counts.len() >= 5).then(|| median(&mut counts))?
}

/// Maxima that rise by `least` above what lies before and behind them.
fn peaks(along: &[(f64, f64)], least: f64) -> usize {
    let mut count = 0;
    let (mut low, mut high, mut rising) = (f64::INFINITY, f64::NEG_INFINITY, true);
    let mut last_mm = f64::NEG_INFINITY;
    // Beyond the outline silver falls to nothing.
    for (mm, value) in along.iter().copied().chain([(f64::INFINITY, 0.0)]) {
        if rising {
            high = high.max(value);
            if value < high - least {
                if mm - last_mm >= LINES_APART_MM {
                    count += 1;
                    last_mm = mm;
                }
                (low, rising) = (value, false);
            }
        } else {
            low = low.min(value);
            if value > low + least {
                (high, rising) = (value, true);
            }
        }
    }
    count
}

/// The stretch of border that a box takes on one or two edges, as one outline.
pub(super) fn strip(ground: &Ground, [x0, y0, x1, y1]: [f64; 4], edges: &[Edge]) -> Vec<[f64; 2]> {
    let [width, height] = ground.size_mm;
    let [top, right, bottom, left] = ground.ledge_mm;
    let square = |x0: f64, y0: f64, x1: f64, y1: f64| vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
    match *edges {
        [Edge::Top] => square(x0, 0.0, x1, top),
        [Edge::Right] => square(width - right, y0, width, y1),
        [Edge::Bottom] => square(x0, height - bottom, x1, height),
        [Edge::Left] => square(0.0, y0, left, y1),
        [Edge::Left, Edge::Top] => {
            vec![
                [0.0, y1],
                [0.0, 0.0],
                [x1, 0.0],
                [x1, top],
                [left, top],
                [left, y1],
            ]
        }
        [Edge::Top, Edge::Right] => {
            let inner = width - right;
            vec![
                [x0, 0.0],
                [width, 0.0],
                [width, y1],
                [inner, y1],
                [inner, top],
                [x0, top],
            ]
        }
        [Edge::Right, Edge::Bottom] => {
            let (side, foot) = (width - right, height - bottom);
            vec![
                [width, y0],
                [width, height],
                [x0, height],
                [x0, foot],
                [side, foot],
                [side, y0],
            ]
        }
        [Edge::Bottom, Edge::Left] => {
            let foot = height - bottom;
            vec![
                [x1, height],
                [0.0, height],
                [0.0, y0],
                [left, y0],
                [left, foot],
                [x1, foot],
            ]
        }
        _ => square(x0, y0, x1, y1),
    }
}
