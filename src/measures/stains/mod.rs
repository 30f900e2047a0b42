//! Stains that creep in from an edge or a corner: swirls, scallops, tongues with a sharp outline.
//!
//! What it means: liquid that ran back over the plate from its rim, or from holder and slide, leaves a line
//! of extra silver where it stopped, sharp toward the clean plate and soft behind, over a weaker fill.
//! Input: a squared-up plate with its density map; cells of about 0.2 mm.
//! Output: per stain the edge or corner that it starts from, what it is seen on, box and outline
//! (millimetres), its area, the fall of silver across its line and the mean of its silver (density), how
//! sharp the line is and how many lines lie one within the other.
//! Method: silver above the level of the border that the ledge kept dark, and on even plates above a smooth
//! surface; regions above each of eight levels that reach an edge; the profile across their outline. In the
//! border alone a stain shows only where its line crosses, so regions are followed along the rim from one
//! sharp end to the other.
//! Doubtful when: the border is narrower than 1.5 mm, or fogged beside the stain. A picture without a border
//! shows nothing here: scenes have such lines too.

use crate::density::{Cells, DensityMap};
use crate::handling::Spot;
use crate::plate::{Edge, Plate, PlateKind};
use crate::raster::geometry::distance;

mod chains;
mod ground;
mod region;
#[cfg(test)]
mod tests;

use chains::{Chain, chains};
use ground::Ground;
use region::{Region, regions};

/// What a stain is seen on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StainGround {
    /// The border that the holder's ledge kept dark.
    Border,
    /// The picture area of an even plate, with or without a border.
    EvenPlate,
}

/// A stain from the plate's rim.
#[derive(Debug, Clone, PartialEq)]
pub struct Stain {
    /// The edge or corner that it starts from.
    pub from: Spot,
    /// What it is seen on.
    pub ground: StainGround,
    /// `[left, top, right, bottom]` of what is seen of it, millimetres.
    pub box_mm: [f64; 4],
    /// Outline of what is seen of it, millimetres.
    pub outline_mm: Vec<[f64; 2]>,
    /// Area of what is seen of it, square millimetres.
    pub area_mm2: f64,
    /// How far it reaches in from its edge, millimetres; `None` in the border alone.
    pub reach_mm: Option<f64>,
    /// Fall of silver across its line, density: the median along it, in the border at its weaker end.
    pub step_d: f64,
    /// Mean extra silver, density.
    pub contrast_d: f64,
    /// Share of the line that is sharp.
    pub sharp: f64,
    /// Share of the line that holds the most silver, less behind it.
    pub lined: f64,
    /// Lines met one behind the other, from its foot outward: the median over directions; `None` in the
    /// border alone.
    pub lines: Option<f64>,
    /// Extra silver in the border, density, and its uncertainty, where it is seen there.
    pub in_border_d: Option<(f64, f64)>,
    /// How much neighbouring cells differ by chance, density.
    pub noise_d: f64,
}

/// Levels of extra silver above which regions are looked for, density.
const LEVELS_D: [f64; 8] = [0.02, 0.03, 0.045, 0.065, 0.095, 0.14, 0.2, 0.3];
/// A level is looked at from so many times the noise on.
const ABOVE_NOISE: f64 = 2.5;

/// On an even plate: least area (square millimetres) and outline (millimetres).
const EVEN_MM2: f64 = 8.0;
const EVEN_FRONT_MM: f64 = 8.0;
/// Least share of the outline that is sharp, and that has the most silver along it. Waves of the coating
/// have less than half of the second, planted stains two thirds and more.
const EVEN_SHARP: f64 = 0.6;
const EVEN_LINED: f64 = 0.6;
/// Least share of each side of the outline that is sharp, and the length from which a side counts, and the
/// length it must have where the stain has to end.
const SIDE_SHARP: f64 = 0.5;
const SIDE_MM: [f64; 2] = [5.0, 1.0];
/// Most slender: a streak is longer.
const SLENDER: f64 = 5.0;
/// Least area over length of outline: thinner things are streaks, scratches and hairs, millimetres.
const THICK_MM: f64 = 0.6;
/// Share of the outline in the border from which that alone decides.
const MOSTLY_BORDER: f64 = 0.7;
/// Most excess beyond the outline, and least, as a share of that within; or density.
const BEYOND: [f64; 2] = [0.4, -0.15];
const BEYOND_D: [f64; 2] = [0.03, -0.01];

/// Looks for stains; the verdict is not here.
pub(super) fn measure(plate: &Plate, cells: &Cells, map: &DensityMap) -> Vec<Stain> {
    // A picture cut within its edges has no border to go by; on an even plate the line itself shows.
    let looked_at = match plate.kind {
        PlateKind::Wedge => false,
        PlateKind::Picture => plate.shows_its_edges(),
        PlateKind::Blank | PlateKind::Flat => true,
    };
    if !looked_at {
        return Vec::new();
    }
    match Ground::of(plate, cells, map) {
        Some(ground) => stains(&ground),
        None => Vec::new(),
    }
}

fn stains(ground: &Ground) -> Vec<Stain> {
    use rayon::prelude::*;
    let noise_d = f64::from(ground.noise_d);
    let found: Vec<Stain> = LEVELS_D
        .par_iter()
        .filter(|level_d| **level_d >= ABOVE_NOISE * noise_d)
        .flat_map_iter(|level_d| {
            let regions = regions(ground, *level_d);
            let in_border = chains(ground, &regions);
            let crossing = in_border.iter().map(|chain| of_chain(ground, chain));
            let whole = regions
                .iter()
                .filter(|region| ground.even && is_stain(region))
                .filter_map(|region| of_region(ground, region));
            crossing.chain(whole).collect::<Vec<_>>()
        })
        .collect();
    merged(found)
}

/// Whether a region of an even plate ends as a stain does.
fn is_stain(region: &Region) -> bool {
    let front = &region.front;
    let beyond = front.beyond_d;
    let near = |edge: Edge| region.near[edge as usize];
    let side = |edge: Edge| region.sides[edge as usize];
    let ends = |edge: Edge| side(edge).length_mm >= SIDE_MM[1] && side(edge).sharp >= SIDE_SHARP;
    let touched = Edge::ALL.into_iter().filter(|edge| near(*edge));
    touched.clone().count() <= 2
        && touched.clone().all(|edge| !near(opposite(edge)) && ends(opposite(edge)))
        && Edge::ALL
            .into_iter()
            .all(|edge| side(edge).length_mm < SIDE_MM[0] || side(edge).sharp >= SIDE_SHARP)
        && region.in_border <= MOSTLY_BORDER
        && region.area_mm2 >= EVEN_MM2.max(THICK_MM * front.length_mm)
        && front.length_mm >= EVEN_FRONT_MM
        && front.sharp >= EVEN_SHARP
        && front.lined >= EVEN_LINED
        && region.slender <= SLENDER
        && beyond <= BEYOND_D[0].max(BEYOND[0] * front.within_d)
        && beyond >= BEYOND_D[1].min(BEYOND[1] * front.within_d)
}

fn opposite(edge: Edge) -> Edge {
    Edge::ALL[(edge as usize + 2) % 4]
}

/// One edge, or the corner where two meet.
fn spot(edges: &[Edge]) -> Option<Spot> {
    use Edge::{Bottom, Left, Right, Top};
    match *edges {
        [Top] => Some(Spot::Top),
        [Right] => Some(Spot::Right),
        [Bottom] => Some(Spot::Bottom),
        [Left] => Some(Spot::Left),
        [Top, Right] | [Right, Top] => Some(Spot::TopRight),
        [Right, Bottom] | [Bottom, Right] => Some(Spot::BottomRight),
        [Bottom, Left] | [Left, Bottom] => Some(Spot::BottomLeft),
        [Left, Top] | [Top, Left] => Some(Spot::TopLeft),
        _ => None,
    }
}

fn of_region(ground: &Ground, region: &Region) -> Option<Stain> {
    let edges: Vec<Edge> = Edge::ALL
        .into_iter()
        .filter(|edge| region.near[*edge as usize])
        .collect();
    let from = spot(&edges)?;
    let foot = foot(ground, region, from);
    let outline_mm = fan(ground, region, from, foot);
    let reach_mm = outline_mm.iter().map(|at| distance(*at, foot)).fold(0.0, f64::max);
    Some(Stain {
        from,
        ground: StainGround::EvenPlate,
        box_mm: region.box_mm,
        area_mm2: region.area_mm2,
        reach_mm: Some(reach_mm),
        step_d: region.front.step_d,
        contrast_d: mean_excess(ground, &[region], false)?.0,
        sharp: region.front.sharp,
        lined: region.front.lined,
        lines: lines(ground, region, from, foot),
        in_border_d: mean_excess(ground, &[region], true),
        noise_d: f64::from(ground.noise_d),
        outline_mm,
    })
}

fn of_chain(ground: &Ground, chain: &Chain) -> Stain {
    let [a, b] = chain.ends;
    let whole = a.length_mm + b.length_mm;
    let both = |share: fn(&region::Front) -> f64| {
        (share(&a) * a.length_mm + share(&b) * b.length_mm) / whole
    };
    let edges = match chain.edges {
        [a, b] if a == b => vec![a],
        [a, b] => vec![a, b],
    };
    let boxes = chain.regions.iter().map(|region| region.box_mm);
    let box_mm = boxes.reduce(joined).unwrap_or_default();
    let excess = mean_excess(ground, &chain.regions, true);
    Stain {
        from: spot(&edges).unwrap_or(Spot::Middle),
        ground: StainGround::Border,
        outline_mm: strip(ground, box_mm, &edges),
        box_mm,
        area_mm2: chain.regions.iter().map(|region| region.area_mm2).sum(),
        reach_mm: None,
        step_d: a.step_d.min(b.step_d),
        contrast_d: excess.map_or(0.0, |(mean, _)| mean),
        sharp: both(|front| front.sharp),
        lined: both(|front| front.lined),
        lines: None,
        in_border_d: excess,
        noise_d: f64::from(ground.noise_d),
    }
}

/// Mean excess over the cells of regions, and its uncertainty: of the border's cells alone, or of all.
fn mean_excess(ground: &Ground, regions: &[&Region], border: bool) -> Option<(f64, f64)> {
    let values: Vec<f64> = regions
        .iter()
        .flat_map(|region| {
            let cells = region.mask.indexed_iter().filter(|(_, inside)| **inside);
            cells.map(|((i, j), _)| [i + region.corner[0], j + region.corner[1]])
        })
        .filter(|at| ground.known[*at] && (!border || ground.border[*at]))
        .map(|at| f64::from(ground.excess[at]))
        .collect();
    // The level it is counted from is itself known to about half the noise.
    (!values.is_empty()).then(|| {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        (mean, 0.5 * f64::from(ground.noise_d))
    })
}

/// Where a stain starts: its corner, or the middle of its stretch of the edge.
fn foot(ground: &Ground, region: &Region, from: Spot) -> [f64; 2] {
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
        let inside = i >= 0.0
            && j >= 0.0
            && region.mask.get([i as usize, j as usize]) == Some(&true);
        let at = inside.then(|| [i as usize + region.corner[0], j as usize + region.corner[1]]);
        (out * ground.pitch_mm, at)
    })
}

/// The foot and the farthest cell of the region in each direction from it.
fn fan(ground: &Ground, region: &Region, from: Spot, foot: [f64; 2]) -> Vec<[f64; 2]> {
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
fn lines(ground: &Ground, region: &Region, from: Spot, foot: [f64; 2]) -> Option<f64> {
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
    (counts.len() >= 5).then(|| crate::raster::stats::median(&mut counts))?
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
fn strip(ground: &Ground, [x0, y0, x1, y1]: [f64; 4], edges: &[Edge]) -> Vec<[f64; 2]> {
    let [width, height] = ground.size_mm;
    let [top, right, bottom, left] = ground.ledge_mm;
    let square = |x0: f64, y0: f64, x1: f64, y1: f64| vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
    match *edges {
        [Edge::Top] => square(x0, 0.0, x1, top),
        [Edge::Right] => square(width - right, y0, width, y1),
        [Edge::Bottom] => square(x0, height - bottom, x1, height),
        [Edge::Left] => square(0.0, y0, left, y1),
        [Edge::Left, Edge::Top] => {
            vec![[0.0, y1], [0.0, 0.0], [x1, 0.0], [x1, top], [left, top], [left, y1]]
        }
        [Edge::Top, Edge::Right] => {
            let inner = width - right;
            vec![[x0, 0.0], [width, 0.0], [width, y1], [inner, y1], [inner, top], [x0, top]]
        }
        [Edge::Right, Edge::Bottom] => {
            let (side, foot) = (width - right, height - bottom);
            vec![[width, y0], [width, height], [x0, height], [x0, foot], [side, foot], [side, y0]]
        }
        [Edge::Bottom, Edge::Left] => {
            let foot = height - bottom;
            vec![[x1, height], [0.0, height], [0.0, y0], [left, y0], [left, foot], [x1, foot]]
        }
        _ => square(x0, y0, x1, y1),
    }
}

/// Boxes nearer than this belong to one stain, millimetres.
const ONE_STAIN_MM: f64 = 3.0;

fn joined(a: [f64; 4], b: [f64; 4]) -> [f64; 4] {
    [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])]
}

/// One stain of each place: of what was found at several levels and in pieces the largest, with the
/// strongest line of all and the box around all.
fn merged(mut found: Vec<Stain>) -> Vec<Stain> {
    found.sort_by(|a, b| b.area_mm2.total_cmp(&a.area_mm2));
    let mut stains: Vec<Stain> = Vec::new();
    for stain in found {
        let near = |other: &Stain| {
            let (a, b) = (other.box_mm, stain.box_mm);
            (0..2).all(|k| a[k] - ONE_STAIN_MM < b[k + 2] && b[k] - ONE_STAIN_MM < a[k + 2])
        };
        match stains.iter_mut().find(|other| near(other)) {
            Some(other) => {
                other.box_mm = joined(other.box_mm, stain.box_mm);
                other.step_d = other.step_d.max(stain.step_d);
                other.sharp = other.sharp.max(stain.sharp);
                other.lined = other.lined.max(stain.lined);
                other.in_border_d = other.in_border_d.or(stain.in_border_d);
            }
            None => stains.push(stain),
        }
    }
    stains
}
