//! Tongues of fog that enter from an edge or a corner.
//!
//! What it means: a gap in the holder or the camera lets in a beam; along the edge it is a bump of
//! extra silver a few millimetres wide, and inward it narrows or fades.
//! Input: the strips along the four edges, silver with rim and nicks left out.
//! Output: per tongue its peak (density), width and place along the edge, length and direction inward
//! (millimetres; degrees clockwise from twelve o'clock, from the edge into the plate).
//! Method: excess of each block over the running median of 20 mm of the same border, so that fog along
//! the whole edge does not count; the tongue's axis by the slope with the greatest excess over its flanks.
//! Doubtful when: the plate has no dark border and holds a scene; then nothing is measured.

use super::edges::{Ground, running_median};
use super::strip::{BLOCK_MM, Strip};
use crate::density::{DensityMap, density};
use crate::plate::band::Band;
use crate::plate::{Edge, Part, Plate, PlateKind};
use crate::raster::geometry::direction_deg;
use crate::raster::stats::{median, median_and_sigma};
use crate::units::Reading;

/// A tongue of fog.
#[derive(Debug, Clone, PartialEq)]
pub struct LightLeak {
    /// The edge it enters from.
    pub edge: Edge,
    /// Where it enters, millimetres from the edge's top or left end.
    pub at_mm: f64,
    /// Extra silver where it enters, density.
    pub peak_d: Reading,
    /// Width along the edge at half height, millimetres.
    pub width_mm: Reading,
    /// How far it can be followed inward, millimetres.
    pub length_mm: Reading,
    /// Direction from the edge inward, degrees clockwise from twelve o'clock.
    pub direction_deg: f64,
    /// Scatter of the border's blocks without it, density.
    pub scatter_d: f64,
    /// Share of the border's rows in which the tongue stands out: a hair or a speck fills only some.
    pub through: f64,
    /// Share of its height that is left without what is thin: a hair that curls through the border leaves
    /// nothing.
    pub body: f64,
    /// Bumps at least half as high on the same edge, this one included.
    pub alike: usize,
    /// Excess at the same place on the opposite edge, density: a streak runs on, a tongue does not.
    pub opposite_d: Option<f64>,
    /// What it rests on.
    pub ground: Ground,
    /// Outline on the plate, millimetres.
    pub outline_mm: Vec<[f64; 2]>,
}

/// Window of the running median that a tongue must stand out from, blocks (20.5 mm): more than twice the
/// widest tongue.
const WINDOW: usize = 41;
/// Narrowest and widest tongue at half height, millimetres. A narrower bump is a hair, a comet's tail
/// or a streak; a wider one is edge fog.
const WIDTH_MM: [f64; 2] = [2.0, 9.0];
/// What is narrower than this along the edge, or so many rows inward, is thin: millimetres, and rows.
const THIN_MM: f64 = 1.0;
/// See [`THIN_MM`].
const THIN_ROWS: usize = 3;
/// Deepest that a tongue is followed, millimetres.
const FOLLOW_MM: f64 = 45.0;

/// Excess of each block over its surroundings along one edge.
struct Excess {
    over: Vec<Option<f64>>,
    scatter_d: f64,
    ground: Ground,
    /// Rows of the strip that it was taken over.
    rows: std::ops::Range<usize>,
}

fn excess(plate: &Plate, strip: &Strip) -> Option<Excess> {
    let (rows, ground) = if !strip.border.is_empty() {
        (strip.border.clone(), Ground::Border)
    } else if matches!(plate.kind, PlateKind::Blank | PlateKind::Flat) {
        (
            strip.band.step_at(1.0)..strip.band.step_at(3.5),
            Ground::EvenPlate,
        )
    } else {
        return None;
    };
    let levels = strip.blocks(rows.clone());
    let base = running_median(&levels, WINDOW);
    let over: Vec<Option<f64>> = levels
        .iter()
        .zip(&base)
        .map(|(level, base)| Some((*level)? - (*base)?))
        .collect();
    let known: Vec<f64> = over.iter().copied().flatten().collect();
    let (_, scatter_d) = median_and_sigma(&known)?;
    Some(Excess {
        over,
        scatter_d,
        ground,
        rows,
    })
}

/// Looks for tongues along every edge; faint ones are handed on too, the verdict is not here.
pub(super) fn measure(plate: &Plate, map: &DensityMap, strips: &[Strip; 4]) -> Vec<LightLeak> {
    let excesses = [0, 1, 2, 3].map(|k| excess(plate, &strips[k]));
    let mut leaks = Vec::new();
    for (k, strip) in strips.iter().enumerate() {
        let Some(here) = &excesses[k] else {
            continue;
        };
        let bumps = highest_of_near(bumps(here), WIDTH_MM[1] / strip.band.block_mm);
        for bump in &bumps {
            let alike = bumps
                .iter()
                .filter(|b| b.peak_d >= 0.5 * bump.peak_d)
                .count();
            let opposite_d = excesses[(k + 2) % 4]
                .as_ref()
                .and_then(|other| highest_near(&other.over, bump.centre, 3));
            leaks.push(follow(plate, map, strip, here, bump, alike, opposite_d));
        }
    }
    leaks
}

struct Bump {
    centre: f64,
    peak_d: f64,
    width_blocks: f64,
}

fn bumps(excess: &Excess) -> Vec<Bump> {
    let smooth: Vec<Option<f64>> = (0..excess.over.len())
        .map(|k| {
            let from = k.saturating_sub(1);
            let to = (k + 2).min(excess.over.len());
            let known: Vec<f64> = excess.over[from..to].iter().copied().flatten().collect();
            (known.len() >= 2).then(|| known.iter().sum::<f64>() / known.len() as f64)
        })
        .collect();
    let floor = (4.0 * excess.scatter_d).max(0.02);
    let mut found = Vec::new();
    let mut k = 0;
    while k < smooth.len() {
        if smooth[k].is_none_or(|v| v < floor) {
            k += 1;
            continue;
        }
        let end = (k..smooth.len())
            .find(|b| smooth[*b].is_none_or(|v| v < floor))
            .unwrap_or(smooth.len());
        let peak_d = smooth[k..end].iter().copied().flatten().fold(0.0, f64::max);
        let half: Vec<usize> = (k..end)
            .filter(|b| smooth[*b].is_some_and(|v| v >= 0.5 * peak_d))
            .collect();
        let width_blocks = half.len() as f64;
        let width_mm = width_blocks * BLOCK_MM;
        if (WIDTH_MM[0]..=WIDTH_MM[1]).contains(&width_mm) {
            let weight: f64 = half.iter().filter_map(|b| smooth[*b]).sum();
            let moment: f64 = half
                .iter()
                .filter_map(|b| smooth[*b].map(|v| v * (*b as f64 + 0.5)))
                .sum();
            found.push(Bump {
                centre: moment / weight,
                peak_d,
                width_blocks,
            });
        }
        k = end;
    }
    found
}

/// Bumps nearer to one another than the widest tongue are of one: the highest stands for them.
fn highest_of_near(mut bumps: Vec<Bump>, near_blocks: f64) -> Vec<Bump> {
    bumps.sort_by(|a, b| b.peak_d.total_cmp(&a.peak_d));
    let mut kept: Vec<Bump> = Vec::new();
    for bump in bumps {
        if kept
            .iter()
            .all(|k| (k.centre - bump.centre).abs() > near_blocks)
        {
            kept.push(bump);
        }
    }
    kept.sort_by(|a, b| a.centre.total_cmp(&b.centre));
    kept
}

fn highest_near(over: &[Option<f64>], centre: f64, reach: usize) -> Option<f64> {
    let middle = centre as usize;
    let from = middle.saturating_sub(reach).min(over.len());
    let to = (middle + reach + 1).min(over.len());
    over[from..to].iter().copied().flatten().reduce(f64::max)
}

/// Follows a tongue inward from its bump.
fn follow(
    plate: &Plate,
    map: &DensityMap,
    strip: &Strip,
    excess: &Excess,
    bump: &Bump,
    alike: usize,
    opposite_d: Option<f64>,
) -> LightLeak {
    let edge = strip.band.edge;
    let at_mm = bump.centre * strip.band.block_mm;
    let width_mm = bump.width_blocks * strip.band.block_mm;
    let deep = Band::along(plate, edge, FOLLOW_MM, 1.0, BLOCK_MM);
    let silver = |row: usize, along_mm: f64| -> Option<f64> {
        let block = (along_mm / deep.block_mm).floor();
        if block < 0.0 || block as usize >= deep.light.ncols() {
            return None;
        }
        let at = [row, block as usize];
        (deep.parts[at] >= Part::Border).then(|| map.silver(density(deep.light[at])))
    };
    let over_flanks = |row: usize, slope: f64| -> Option<f64> {
        let centre = at_mm + slope * deep.distance_mm(row);
        let mean = |from: f64, to: f64| -> Option<f64> {
            let mut values: Vec<f64> = (0..)
                .map(|k| from + k as f64 * deep.block_mm)
                .take_while(|a| *a <= to)
                .filter_map(|a| silver(row, centre + a))
                .collect();
            median(&mut values)
        };
        let half = (0.5 * width_mm).max(0.75);
        let core = mean(-0.6 * half, 0.6 * half)?;
        let flanks = [mean(-3.5 * half, -2.0 * half), mean(2.0 * half, 3.5 * half)];
        let known: Vec<f64> = flanks.into_iter().flatten().collect();
        // The higher flank: an edge of the scene lifts one side only.
        let flank = known.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (!known.is_empty()).then_some(core - flank)
    };
    let rows = deep.light.nrows();
    let total = |slope: f64| -> f64 {
        (0..rows.min(18))
            .filter_map(|row| over_flanks(row, slope))
            .map(|e| e.clamp(-0.5 * bump.peak_d, bump.peak_d))
            .sum()
    };
    let slope = (-20..=20)
        .map(|s| f64::from(s) * 0.05)
        .map(|s| (total(s) - 0.02 * bump.peak_d * s.abs(), s))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(0.0, |(_, s)| s);
    let ledge_mm = plate.ledge.width_mm[edge as usize].unwrap_or(3.0);
    let length_mm = (0..rows)
        .skip_while(|row| deep.distance_mm(*row) < ledge_mm)
        .take_while(|row| over_flanks(*row, slope).is_some_and(|e| e > 0.12 * bump.peak_d))
        .last()
        .map_or(ledge_mm, |row| deep.distance_mm(row) + 0.5);
    let direction_deg = inward_deg(edge, slope);
    let border_rows = excess.rows.clone();
    let through = {
        let from = (bump.centre - 0.3 * bump.width_blocks).max(0.0) as usize;
        let to = (bump.centre + 0.3 * bump.width_blocks).ceil() as usize;
        let level = |row: usize, blocks: std::ops::Range<usize>| -> Option<f64> {
            let mut v: Vec<f64> = blocks
                .filter_map(|b| *strip.silver.get([row, b])?)
                .collect();
            median(&mut v)
        };
        let reach = (2.0 * bump.width_blocks) as usize + 3;
        let standing = border_rows
            .clone()
            .filter(|row| {
                let core = level(*row, from..to);
                let left = level(
                    *row,
                    from.saturating_sub(reach)..from.saturating_sub(reach / 2),
                );
                let right = level(*row, to + reach / 2..to + reach);
                let beside = left
                    .into_iter()
                    .chain(right)
                    .fold(f64::NEG_INFINITY, f64::max);
                core.is_some_and(|c| c - beside > 0.35 * bump.peak_d)
            })
            .count();
        standing as f64 / border_rows.len().max(1) as f64
    };
    LightLeak {
        edge,
        at_mm,
        peak_d: Reading::new(
            bump.peak_d,
            (2.0 * excess.scatter_d).hypot(0.1 * bump.peak_d),
        ),
        width_mm: Reading::new(width_mm, strip.band.block_mm),
        length_mm: Reading::new(length_mm, 0.3 * length_mm),
        direction_deg,
        scatter_d: excess.scatter_d,
        through,
        body: body(strip, &excess.rows, bump),
        alike,
        opposite_d,
        ground: excess.ground,
        outline_mm: outline(plate, edge, at_mm, width_mm, slope, length_mm),
    }
}

/// Share of a bump's height that stays where the least of each small window stands for all of it.
fn body(strip: &Strip, rows: &std::ops::Range<usize>, bump: &Bump) -> f64 {
    let thin_blocks = ((THIN_MM / strip.band.block_mm).round() as usize).max(1);
    let thin_rows = THIN_ROWS.min(rows.len()).max(1);
    let least = |row: usize, block: usize| -> Option<f64> {
        let window = (row..row + thin_rows)
            .flat_map(|row| (block..block + thin_blocks).map(move |block| [row, block]));
        window
            .map(|at| strip.silver.get(at).copied().flatten())
            .collect::<Option<Vec<f64>>>()?
            .into_iter()
            .reduce(f64::min)
    };
    let most_over = |blocks: std::ops::Range<usize>| -> Option<f64> {
        let mut of_rows: Vec<f64> = (rows.start..=rows.end.saturating_sub(thin_rows))
            .filter_map(|row| {
                let windows = blocks.clone().filter_map(|block| least(row, block));
                windows.reduce(f64::max)
            })
            .collect();
        median(&mut of_rows)
    };
    let half = (0.5 * bump.width_blocks).ceil() as usize;
    let centre = bump.centre as usize;
    let reach = 2 * half + thin_blocks;
    let core = most_over(centre.saturating_sub(half)..centre + half);
    let sides = [
        most_over(centre.saturating_sub(reach + half)..centre.saturating_sub(reach)),
        most_over(centre + reach..centre + reach + half),
    ];
    let beside = sides
        .into_iter()
        .flatten()
        .fold(f64::NEG_INFINITY, f64::max);
    match core {
        Some(core) if beside.is_finite() => (core - beside) / bump.peak_d,
        _ => 0.0,
    }
}

/// Direction from an edge inward for a drift of `slope` millimetres along the edge (right or down)
/// for each millimetre inward.
fn inward_deg(edge: Edge, slope: f64) -> f64 {
    let [x, y] = inward(edge, slope);
    direction_deg(x, y)
}

fn inward(edge: Edge, slope: f64) -> [f64; 2] {
    match edge {
        Edge::Top => [slope, 1.0],
        Edge::Bottom => [slope, -1.0],
        Edge::Left => [1.0, slope],
        Edge::Right => [-1.0, slope],
    }
}

/// The tongue as a quadrilateral in the plate frame.
fn outline(
    plate: &Plate,
    edge: Edge,
    at_mm: f64,
    width_mm: f64,
    slope: f64,
    length_mm: f64,
) -> Vec<[f64; 2]> {
    let foot = |along: f64| match edge {
        Edge::Top => [along, 0.0],
        Edge::Bottom => [along, plate.height_mm],
        Edge::Left => [0.0, along],
        Edge::Right => [plate.width_mm, along],
    };
    let [dx, dy] = inward(edge, slope);
    let clamp = |[x, y]: [f64; 2]| [x.clamp(0.0, plate.width_mm), y.clamp(0.0, plate.height_mm)];
    let (near, far) = (0.75 * width_mm, 1.25 * width_mm);
    let tip = |along: f64| {
        let [x, y] = foot(along);
        [x + dx * length_mm, y + dy * length_mm]
    };
    vec![
        clamp(foot(at_mm - near)),
        clamp(foot(at_mm + near)),
        clamp(tip(at_mm + far)),
        clamp(tip(at_mm - far)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_point_into_the_plate() {
        assert_eq!(inward_deg(Edge::Top, 0.0), 180.0);
        assert_eq!(inward_deg(Edge::Bottom, 0.0), 0.0);
        assert_eq!(inward_deg(Edge::Left, 0.0), 90.0);
        assert_eq!(inward_deg(Edge::Right, 0.0), 270.0);
        assert!((inward_deg(Edge::Bottom, 1.0) - 45.0).abs() < 1e-9);
    }

    #[test]
    fn of_bumps_close_together_the_highest_stays() {
        let bump = |centre: f64, peak_d: f64| Bump {
            centre,
            peak_d,
            width_blocks: 5.0,
        };
        let bumps = vec![bump(20.0, 0.1), bump(28.0, 0.3), bump(80.0, 0.2)];
        let kept: Vec<f64> = highest_of_near(bumps, 18.0)
            .iter()
            .map(|b| b.centre)
            .collect();
        assert_eq!(kept, [28.0, 80.0]);
    }

    #[test]
    fn one_bump_of_the_right_width() {
        let mut over = vec![Some(0.0); 120];
        for (k, v) in over.iter_mut().enumerate() {
            let x = (k as f64 - 60.0) / 3.0;
            *v = Some(0.3 * (-0.5 * x * x).exp());
        }
        let found = bumps(&Excess {
            over,
            scatter_d: 0.002,
            ground: Ground::Border,
            rows: 0..4,
        });
        assert_eq!(found.len(), 1);
        assert!((found[0].centre - 60.5).abs() < 0.5 && found[0].width_blocks >= 6.0);
    }
}
