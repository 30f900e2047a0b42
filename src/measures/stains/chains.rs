//! Regions of the border that hang together, from one sharp end to the other.

use super::ground::Ground;
use super::region::{Front, Region};
use crate::plate::Edge;
use crate::raster::stats::median;

/// Regions side by side along the border, clockwise.
#[derive(Debug)]
pub(super) struct Chain<'a> {
    pub regions: Vec<&'a Region>,
    /// The edges on which it begins and ends.
    pub edges: [Edge; 2],
    pub ends: [Front; 2],
}

/// A region's stretch of the plate's rim, clockwise from the top left corner, millimetres.
struct Stretch<'a> {
    from_mm: f64,
    to_mm: f64,
    edges: [Edge; 2],
    region: &'a Region,
}

impl Stretch<'_> {
    /// Where it ends against the clock (0) or with it (1), millimetres.
    fn end_mm(&self, way: usize) -> f64 {
        [self.from_mm, self.to_mm][way]
    }
}

/// Longest gap between scallops of one curtain, millimetres. Our own choice.
const GAP_MM: f64 = 4.5;
/// Silver in a gap is at least this share of the level: between two streaks there is none.
const GAP_SHARE: f64 = 0.35;
/// Shortest chain, millimetres: a streak is narrower.
const LEAST_MM: f64 = 4.5;
/// Least share of a region's outline that lies in the border, and of that what faces along it.
const IN_BORDER: f64 = 0.3;
const CROSSING: f64 = 0.25;
/// Least length of an end, and of both together, millimetres.
const END_MM: [f64; 2] = [0.35, 1.0];
/// Least share of an end that is sharp.
const SHARP: f64 = 0.5;
/// Most excess beyond an end: share of that within, or density. Fog outside lifts it.
const BEYOND: (f64, f64) = (0.25, 0.03);

/// An end is that of a lower level where it lies within so much of it, millimetres. Our own choice.
const SAME_END_MM: f64 = 3.0;
/// Least length of a chain whose ends are sharp at higher levels only, millimetres: of a narrow tongue of light the
/// crest is steep as well.
const LONGER_THAN_LEAK_MM: f64 = 15.0;

/// The chains among the regions of one level. `higher` are those of the levels above it, which show the end of a long
/// one as well: where a stain's line crosses the border aslant, its foot is soft and its crest is sharp.
pub(super) fn chains<'a>(
    ground: &Ground,
    regions: &'a [Region],
    higher: &[Vec<Region>],
) -> Vec<Chain<'a>> {
    let [width, height] = ground.size_mm;
    let round_mm = 2.0 * (width + height);
    let in_border = |region: &&Region| region.in_border >= IN_BORDER;
    let mut stretches: Vec<Stretch> = regions
        .iter()
        .filter(in_border)
        .filter_map(|region| stretch(ground, region))
        .collect();
    stretches.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm));
    let crests: Vec<Stretch> = higher
        .iter()
        .flatten()
        .filter(in_border)
        .filter_map(|region| stretch(ground, region))
        .collect();
    let own_end = |at: &Stretch, way: usize| sharp_end(at.region, at.edges[way], way);
    let crest_end = |at: &Stretch, way: usize| -> Option<Front> {
        let near = crests.iter().filter(|crest| {
            let off_mm = (crest.end_mm(way) - at.end_mm(way)).rem_euclid(round_mm);
            crest.edges[way] == at.edges[way] && off_mm.min(round_mm - off_mm) <= SAME_END_MM
        });
        let sharp = near.filter_map(|crest| own_end(crest, way));
        sharp.max_by(|a, b| a.step_d.total_cmp(&b.step_d))
    };
    let end = |at: &Stretch, way: usize, long_mm: f64| -> Option<Front> {
        let long = long_mm >= LONGER_THAN_LEAK_MM;
        own_end(at, way).or_else(|| if long { crest_end(at, way) } else { None })
    };
    let count = stretches.len();
    let mut chains = Vec::new();
    let mut first = 0;
    while first < count {
        let start = &stretches[first];
        let mut end_mm = start.to_mm;
        let mut best = None;
        let begins = end(start, 0, f64::INFINITY).is_some();
        for step in (0..count).take_while(|_| begins) {
            let k = (first + step) % count;
            let turn = if first + step >= count { round_mm } else { 0.0 };
            let here = &stretches[k];
            if step > 0 {
                let from_mm = here.from_mm + turn;
                if from_mm - end_mm > GAP_MM
                    || !filled(ground, start.region.level_d, end_mm, from_mm)
                {
                    break;
                }
                end_mm = end_mm.max(here.to_mm + turn);
            }
            let edges = [start.edges[0], here.edges[1]];
            let long_mm = end_mm - start.from_mm;
            let ends = (end(start, 0, long_mm), end(here, 1, long_mm));
            if let (Some(a), Some(b)) = ends
                && long_mm >= LEAST_MM
                && a.length_mm + b.length_mm >= END_MM[1]
                && (edges[0] == edges[1] || next(edges[0]) == edges[1])
            {
                best = Some((step, edges, [a, b]));
            }
        }
        match best {
            Some((step, edges, ends)) => {
                let members = (first..=first + step).map(|k| stretches[k % count].region);
                chains.push(Chain {
                    regions: members.collect(),
                    edges,
                    ends,
                });
                first += step + 1;
            }
            None => first += 1,
        }
    }
    chains
}

/// Where a region lies along the rim: on one edge, or round one corner.
fn stretch<'a>(ground: &Ground, region: &'a Region) -> Option<Stretch<'a>> {
    let [width, height] = ground.size_mm;
    let on: Vec<Edge> = Edge::ALL
        .into_iter()
        .filter(|edge| region.reaches[*edge as usize])
        .collect();
    let edges = match on[..] {
        [only] => [only, only],
        [a, b] if next(a) == b => [a, b],
        [a, b] if next(b) == a => [b, a],
        _ => return None,
    };
    let [x0, y0, x1, y1] = region.box_mm;
    let along = |edge: Edge| match edge {
        Edge::Top => [x0, x1],
        Edge::Right => [width + y0, width + y1],
        Edge::Bottom => [2.0 * width + height - x1, 2.0 * width + height - x0],
        Edge::Left => [2.0 * (width + height) - y1, 2.0 * (width + height) - y0],
    };
    let from_mm = along(edges[0])[0];
    let long_mm = (along(edges[1])[1] - from_mm).rem_euclid(2.0 * (width + height));
    Some(Stretch {
        from_mm,
        to_mm: from_mm + long_mm,
        edges,
        region,
    })
}

fn next(edge: Edge) -> Edge {
    Edge::ALL[(edge as usize + 1) % 4]
}

/// The end of a region on an edge, against the clock (0) or with it (1), if it is sharp.
fn sharp_end(region: &Region, edge: Edge, way: usize) -> Option<Front> {
    let end = region.ends[edge as usize][way];
    let (share, least_d) = BEYOND;
    (end.length_mm >= END_MM[0]
        && end.sharp >= SHARP
        && region.crossing >= CROSSING
        && end.beyond_d <= least_d.max(share * end.within_d))
    .then_some(end)
}

/// Whether the border between two places of the rim holds silver too.
fn filled(ground: &Ground, level_d: f64, from_mm: f64, to_mm: f64) -> bool {
    let [width, height] = ground.size_mm;
    let mut values = Vec::new();
    let mut at_mm = from_mm + ground.pitch_mm;
    while at_mm < to_mm {
        let along = at_mm.rem_euclid(2.0 * (width + height));
        let (edge, from) = match along {
            s if s < width => (Edge::Top, s),
            s if s < width + height => (Edge::Right, s - width),
            s if s < 2.0 * width + height => (Edge::Bottom, 2.0 * width + height - s),
            s => (Edge::Left, 2.0 * (width + height) - s),
        };
        let deepest = (ground.ledge_mm[edge as usize] / ground.pitch_mm) as usize;
        for row in 0..deepest {
            let depth = (row as f64 + 0.5) * ground.pitch_mm;
            let [x, y] = match edge {
                Edge::Top => [from, depth],
                Edge::Right => [width - depth, from],
                Edge::Bottom => [from, height - depth],
                Edge::Left => [depth, from],
            };
            let at = [y, x].map(|mm| (mm / ground.pitch_mm).max(0.0) as usize);
            if ground.border.get(at) == Some(&true) {
                values.push(f64::from(ground.excess[at]));
            }
        }
        at_mm += ground.pitch_mm;
    }
    median(&mut values).is_none_or(|middle| middle >= GAP_SHARE * level_d)
}
