//! Lines that run on over the dark border at both their ends.
//!
//! What it means: the scene's light never reached what the holder's ledge covered, so that nothing of the scene
//! lies there. A line that crosses the border at two opposite edges, in line with itself, lies on the plate.
//! Input: silver of the whole plate, which cells are border, and how wide the ledge was.
//! Output: the strongest such line, upright or level: where, how it leans, and how far it stands out.
//! Method: means over three stretches of each border's depth; a line crosses all three, a speck or a tail one.
//! Doubtful when: it has less silver than what lies beside it; a border has none to lack, so that none is looked
//! for.

use super::border::Border;
use super::profile::Sums;
use crate::plate::{Edge, Ledge};
use crate::raster::Grid;
use crate::raster::stats::median_and_sigma;

/// The strongest line over both borders.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct OverBorder {
    /// Which width of core it stands out most with.
    pub(super) core: usize,
    /// Where it crosses the plate's middle, cells across.
    pub(super) middle: f64,
    /// Cells across for each cell along it.
    pub(super) tan: f64,
    /// Its weakest stretch at the weaker of its ends, standard deviations of what the border shows beside it.
    pub(super) stands_out: f64,
    /// The same of the strongest other line over either border, whether it runs on over the other or not.
    pub(super) others: f64,
}

// What follows is our own choice; the table of shapes (`practice accuracy --about shapes`) would notice a change.

/// Stretches of a border's depth.
const STRETCHES: usize = 3;
/// Least depth of a stretch, cells.
const LEAST_CELLS: usize = 2;
/// A line that leans lies so many cells off in the stretches before and behind.
const LEANS_CELLS: usize = 2;
/// Least scatter that is believed, density: an 8-bit file has steps of that size in the dark.
const LEAST_SCATTER_D: f64 = 0.002;
/// Lines nearer than this to a stronger one, at either end, are part of it, millimetres.
const APART_MM: f64 = 1.5;
/// Fewest known places along a border that tell its scatter.
const FEWEST: usize = 50;

/// The strongest line over the borders at the two edges that upright (or level) lines run between; cells of
/// `silver` and `border` are the same. `None` without a border at both. `cores` are widths, cells.
pub(super) fn over_border(
    ledge: &Ledge,
    silver: &Grid<f32>,
    border: impl Fn([usize; 2]) -> bool + Copy,
    pitch_mm: f64,
    upright: bool,
    (cores, most_tan): (&[usize], f64),
) -> Option<OverBorder> {
    let edges = match upright {
        true => [Edge::Top, Edge::Bottom],
        false => [Edge::Left, Edge::Right],
    };
    let strip = |edge| Strip::of(ledge, silver, border, pitch_mm, edge);
    let [first, last] = [strip(edges[0])?, strip(edges[1])?];
    let along = if upright {
        silver.nrows()
    } else {
        silver.ncols()
    } as f64;
    let way = along - first.middle - last.middle;
    if way <= 0.0 {
        return None;
    }
    let reach = (most_tan * way) as usize;
    let apart = (APART_MM / pitch_mm) as usize;
    let of_core = |(core, wide): (usize, &usize)| {
        let ends = [first.stands_out(*wide)?, last.stands_out(*wide)?];
        let pairs = pairs(&ends, reach);
        let (stands_out, from, to) = pairs.iter().copied().max_by(|a, b| a.0.total_cmp(&b.0))?;
        let other = |(end, own): (&Vec<f64>, usize)| {
            let places = end.iter().enumerate();
            let away = places.filter(|(place, _)| place.abs_diff(own) > apart);
            away.map(|(_, other)| *other).fold(0.0, f64::max)
        };
        let [before, behind] = [(&ends[0], from), (&ends[1], to)].map(other);
        let tan = (to as f64 - from as f64) / way;
        Some(OverBorder {
            core,
            middle: from as f64 + tan * (0.5 * along - first.middle),
            tan,
            stands_out,
            others: before.max(behind),
        })
    };
    let of_cores = cores.iter().enumerate().filter_map(of_core);
    of_cores.max_by(|a, b| a.stands_out.total_cmp(&b.stands_out))
}

/// For each place at the first edge the likest at the other that is not too far aslant: how far the weaker stands
/// out, and both places.
fn pairs(ends: &[Vec<f64>; 2], reach: usize) -> Vec<(f64, usize, usize)> {
    let [first, last] = ends;
    let of_place = |(from, own): (usize, &f64)| {
        let near = from.saturating_sub(reach)..(from + reach + 1).min(last.len());
        let strongest = near.max_by(|a, b| last[*a].total_cmp(&last[*b]))?;
        Some((own.min(last[strongest]), from, strongest))
    };
    let known = first.iter().enumerate().filter(|(_, own)| **own > 0.0);
    known.filter_map(of_place).collect()
}

/// Silver along one border, in stretches from its outer rim inward.
struct Strip {
    stretches: Vec<Vec<f32>>,
    /// From the plate's edge to the middle of the stretches, cells.
    middle: f64,
}

impl Strip {
    fn of(
        ledge: &Ledge,
        silver: &Grid<f32>,
        border: impl Fn([usize; 2]) -> bool,
        pitch_mm: f64,
        edge: Edge,
    ) -> Option<Strip> {
        let rows = Border::of(ledge, silver.dim(), &border, pitch_mm, edge)?;
        let (from, to) = (rows.depths.start, rows.depths.end);
        if to < from + LEAST_CELLS * STRETCHES {
            return None;
        }
        let bound = |stretch: usize| from + stretch * (to - from) / STRETCHES;
        let stretches = (0..STRETCHES).map(|stretch| {
            let of_place = |k: usize| {
                let cells =
                    || (bound(stretch)..bound(stretch + 1)).map(|depth| rows.cell(depth, k));
                if !cells().all(&border) || border(rows.past(k)) {
                    return f32::NAN;
                }
                let sum: f32 = cells().map(|at| silver[at]).sum();
                sum / cells().count() as f32
            };
            (0..rows.along).map(of_place).collect()
        });
        Some(Strip {
            stretches: stretches.collect(),
            middle: 0.5 * (from + to) as f64,
        })
    }

    /// Rise of silver over both sides place by place, the least of all stretches, over the scatter of that along
    /// the border; 0 where unknown.
    fn stands_out(&self, wide: usize) -> Option<Vec<f64>> {
        let along = self.stretches[0].len();
        let of_stretches: Vec<Vec<Option<f64>>> =
            self.stretches.iter().map(|s| rises(s, wide)).collect();
        let mean: Vec<f32> = (0..along)
            .map(|k| self.stretches.iter().map(|s| s[k]).sum::<f32>() / STRETCHES as f32)
            .collect();
        let known: Vec<f64> = rises(&mean, wide).into_iter().flatten().collect();
        if known.len() < FEWEST {
            return None;
        }
        let scatter_d = median_and_sigma(&known)?.1.max(LEAST_SCATTER_D);
        let in_stretch = |stretch: usize, k: usize| match stretch == STRETCHES / 2 {
            true => of_stretches[stretch][k],
            false => {
                let near = k.saturating_sub(LEANS_CELLS)..(k + LEANS_CELLS + 1).min(along);
                let known = of_stretches[stretch][near].iter().flatten();
                known.copied().reduce(f64::max)
            }
        };
        let weakest = |k: usize| {
            let mut all = (0..STRETCHES).map(|stretch| in_stretch(stretch, k));
            all.try_fold(f64::INFINITY, |least, rise| Some(least.min(rise?)))
        };
        let places = (0..along).map(|k| (weakest(k).unwrap_or(0.0) / scatter_d).max(0.0));
        Some(places.collect())
    }
}

/// Rise of a run of so many cells over the higher of its two sides, place by place.
fn rises(profile: &[f32], wide: usize) -> Vec<Option<f64>> {
    let sums = Sums::of(profile.iter().copied());
    let off = 3 * wide / 2;
    let rise = |k: usize| {
        let before = k.checked_sub(wide / 2 + off)?;
        let runs = [0, 1, 2].map(|run| sums.mean(before + run * off, wide));
        let [before, core, after] = runs;
        let known = runs.iter().all(|mean| mean.is_finite());
        known.then(|| f64::from(core - before.max(after)))
    };
    (0..profile.len()).map(rise).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A plate of 60 by 70 mm in cells of 0.1 mm: a border of 3 mm all round, a scene of squares inside, and its own.
    fn found(own: impl Fn(f64, f64) -> f32, upright: bool) -> Option<OverBorder> {
        beside_supports(own, upright, 0)
    }

    /// The same with square supports of so many cells in the corners of the opening.
    fn beside_supports(
        own: impl Fn(f64, f64) -> f32,
        upright: bool,
        support: usize,
    ) -> Option<OverBorder> {
        let (rows, columns) = (700, 600);
        let border = |[i, j]: [usize; 2]| {
            if i >= rows || j >= columns {
                return false;
            }
            let (down, across) = (i.min(rows - 1 - i), j.min(columns - 1 - j));
            down.min(across) < 30 || down.max(across) < 30 + support
        };
        let silver = Grid::from_shape_fn((rows, columns), |(i, j)| {
            let scene = match (border([i, j]), (i / 40 + j / 40) % 2) {
                (true, _) => 0.0,
                (false, dark) => 0.4 + 0.5 * dark as f32,
            };
            // Well mixed places (splitmix64's last steps), half a step of an 8-bit file to either side.
            let mut hash = (i * columns + j) as u64;
            hash = (hash ^ (hash >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            hash = (hash ^ (hash >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            let noise = 0.01 * ((hash >> 40) % 1000) as f32 / 1000.0;
            scene + noise + own(j as f64 / 10.0, i as f64 / 10.0)
        });
        let ledge = Ledge {
            width_mm: [Some(3.0); 4],
            assumed: [false; 4],
        };
        let tried = ([3, 6, 12].as_slice(), 4.0_f64.to_radians().tan());
        over_border(&ledge, &silver, border, 0.1, upright, tried)
    }

    fn bell(off: f64, width: f64) -> f32 {
        (-2.7726 * (off / width).powi(2)).exp() as f32
    }

    #[test]
    fn a_line_from_edge_to_edge_is_found_in_the_borders_alone() {
        let tan = 1.5_f64.to_radians().tan();
        let line = |x: f64, y: f64| 0.05 * bell(y - 40.0 - tan * (x - 30.0), 0.5);
        let level = found(line, false).unwrap();
        assert!(level.stands_out > 8.0, "{level:?}");
        assert!((level.middle - 400.0).abs() < 3.0, "{level:?}");
        assert!((level.tan - tan).abs() < 0.005, "{level:?}");
        assert!(level.others < 3.5, "{level:?}");
        assert!(found(line, true).unwrap().stands_out < 3.5);
    }

    #[test]
    fn what_lies_at_one_edge_alone_is_no_line() {
        let leak = |x: f64, y: f64| match x < 30.0 {
            true => 0.2 * bell(y - 40.0, 1.0),
            false => 0.0,
        };
        let alone = found(leak, false).unwrap();
        assert!(alone.stands_out < 3.5, "{alone:?}");
        // Beside a line it says that there are more of the kind.
        let line = |x: f64, y: f64| leak(x, y) + 0.05 * bell(y - 20.0, 0.5);
        let beside = found(line, false).unwrap();
        assert!(beside.stands_out > 8.0 && beside.others > 8.0, "{beside:?}");
    }

    #[test]
    fn what_runs_along_the_ends_of_supports_is_not_told_from_them() {
        // Light that creeps in beside the supports, at both ends alike.
        let light = |x: f64, y: f64| match y.min(70.0 - y) < 3.0 {
            true => 0.1 * bell(x - 7.5, 0.6),
            false => 0.0,
        };
        assert!(found(light, true).unwrap().stands_out > 8.0);
        assert!(beside_supports(light, true, 50).unwrap().stands_out < 3.5);
    }

    #[test]
    fn specks_at_both_edges_are_no_line() {
        let speck = |x: f64, y: f64, at: [f64; 2]| 0.5 * bell((x - at[0]).hypot(y - at[1]), 0.5);
        let specks = |x: f64, y: f64| speck(x, y, [1.5, 40.0]) + speck(x, y, [58.5, 40.0]);
        assert!(found(specks, false).unwrap().stands_out < 3.5);
    }
}
