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
mod shape;
#[cfg(test)]
mod tests;

use chains::{Chain, chains};
use ground::Ground;
use region::{Region, regions};
use shape::{fan, foot, lines, strip};

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
    let levels: Vec<Vec<Region>> = LEVELS_D
        .par_iter()
        .filter(|level_d| **level_d >= ABOVE_NOISE * noise_d)
        .map(|level_d| regions(ground, *level_d))
        .collect();
    let found: Vec<Stain> = levels
        .par_iter()
        .enumerate()
        .flat_map_iter(|(at, regions)| {
            let in_border = chains(ground, regions, &levels[at + 1..]);
            let crossing = in_border.iter().filter_map(|chain| of_chain(ground, chain));
            let whole = regions
                .iter()
                .filter(|region| ground.even && is_stain(region))
                .filter_map(|region| of_region(ground, region));
            crossing.chain(whole).collect::<Vec<_>>()
        })
        .collect();
    merged(found)
}

/// A line this strong may be broad at the tips of long scallops: least fall (density), least shares that are
/// sharp and have the most silver along them, least sharp share of the side it ends on, and the excess beyond
/// it. Nothing but stains was so on 121 even plates, 21 of them clean.
const STRONG_D: f64 = 0.2;
const STRONG_SHARP: f64 = 0.6;
const STRONG_LINED: f64 = 0.25;
const STRONG_SIDE: f64 = 0.3;
const STRONG_BEYOND: [f64; 2] = [0.15, -0.05];

/// Whether a region of an even plate ends as a stain does.
fn is_stain(region: &Region) -> bool {
    let front = &region.front;
    let near = |edge: Edge| region.near[edge as usize];
    let side = |edge: Edge| region.sides[edge as usize];
    let touched: Vec<Edge> = Edge::ALL.into_iter().filter(|edge| near(*edge)).collect();
    let ends = |least: f64| {
        touched
            .iter()
            .map(|edge| side(opposite(*edge)))
            .all(|end| end.length_mm >= SIDE_MM[1] && end.sharp >= least)
    };
    let alone = |[most, least]: [f64; 2], [most_d, least_d]: [f64; 2]| {
        front.beyond_d <= most_d.max(most * front.within_d)
            && front.beyond_d >= least_d.min(least * front.within_d)
    };
    let at_one_end = touched.len() <= 2 && touched.iter().all(|edge| !near(opposite(*edge)));
    let broad = region.in_border <= MOSTLY_BORDER
        && region.area_mm2 >= EVEN_MM2.max(THICK_MM * front.length_mm)
        && front.length_mm >= EVEN_FRONT_MM
        && region.slender <= SLENDER;
    let sharp = front.sharp >= EVEN_SHARP
        && front.lined >= EVEN_LINED
        && ends(SIDE_SHARP)
        && alone(BEYOND, BEYOND_D)
        && region
            .sides
            .iter()
            .all(|side| side.length_mm < SIDE_MM[0] || side.sharp >= SIDE_SHARP);
    let strong = front.step_d >= STRONG_D
        && front.sharp >= STRONG_SHARP
        && front.lined >= STRONG_LINED
        && ends(STRONG_SIDE)
        && alone(STRONG_BEYOND, [0.0, -0.005]);
    at_one_end && broad && (sharp || strong)
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

/// A stain at a corner that runs this many times farther along one edge starts from that edge. Our own
/// choice: of 68 planted ones no swirl at a corner was more than 1.2 times as long one way as the other, no
/// tongue more than 1.76 times.
const ALONG_ONE_EDGE: f64 = 1.8;

/// The edge or corner that a stain of this box starts from, of the edges that it reaches.
fn start(edges: &[Edge], [x0, y0, x1, y1]: [f64; 4]) -> Option<Spot> {
    let along = |edge: Edge| match edge {
        Edge::Top | Edge::Bottom => x1 - x0,
        Edge::Left | Edge::Right => y1 - y0,
    };
    match *edges {
        [a, b] if along(a) >= ALONG_ONE_EDGE * along(b) => spot(&[a]),
        [a, b] if along(b) >= ALONG_ONE_EDGE * along(a) => spot(&[b]),
        _ => spot(edges),
    }
}

fn of_region(ground: &Ground, region: &Region) -> Option<Stain> {
    let edges: Vec<Edge> = Edge::ALL
        .into_iter()
        .filter(|edge| region.near[*edge as usize])
        .collect();
    let from = start(&edges, region.box_mm)?;
    let foot = foot(ground, region, from);
    let outline_mm = fan(ground, region, from, foot);
    let reach_mm = outline_mm
        .iter()
        .map(|at| distance(*at, foot))
        .fold(0.0, f64::max);
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

fn of_chain(ground: &Ground, chain: &Chain) -> Option<Stain> {
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
    Some(Stain {
        from: start(&edges, box_mm)?,
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
    })
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

/// Boxes nearer than this belong to one stain, millimetres.
const ONE_STAIN_MM: f64 = 3.0;

fn joined(a: [f64; 4], b: [f64; 4]) -> [f64; 4] {
    [
        a[0].min(b[0]),
        a[1].min(b[1]),
        a[2].max(b[2]),
        a[3].max(b[3]),
    ]
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
