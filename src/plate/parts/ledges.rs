//! Where the holder's ledge ends along each edge.

use super::mean_over;
use super::rims::NARROW_LEDGE_MM;
use crate::plate::band::Band;
use crate::plate::{Edge, Plate};
use crate::raster::Grid;
use crate::raster::filter::average_down;
use crate::raster::stats::{median, median_and_sigma, quantile};

/// How far from an edge the holder's ledge can end, millimetres: common practice 1.3 to 4.5, with room.
const LEDGE_MM: [f64; 2] = [1.2, 6.5];

/// Least step of silver at the ledge, averaged along the edge, density. A scene that is dark along
/// the whole edge hides the ledge; nothing is lost by not finding it there.
const LEDGE_STEP_D: f64 = 0.04;

/// Sets the ledge of every edge, as far as it shows or may be assumed.
pub(super) fn find(plate: &mut Plate, bands: &[Band; 4], silver: &[Grid<f64>; 4]) {
    let least = least_silver(plate);
    for k in 0..4 {
        plate.ledge.width_mm[k] =
            ledge_width(&bands[k], &silver[k], &Looked::anywhere(plate, least));
    }
    if plate.ledge.width_mm.iter().flatten().count() < 2 {
        plate.ledge.width_mm = in_fog_all_round(plate, bands, silver, least);
    }
    settle_outliers(plate, bands, silver, least);
    // A holder covers at least two edges; a single step is the scene's, or the end of a rim.
    if plate.ledge.width_mm.iter().flatten().count() < 2 {
        plate.ledge.width_mm = [None; 4];
    }
    if plate.shows_its_edges() && scene_runs_out(plate, bands, silver) {
        plate.ledge.width_mm = [None; 4];
    }
    assume_hidden_ledges(plate, bands, silver, least);
}

/// Silver near the least on the plate (2nd percentile of coarse cells away from the skin).
fn least_silver(plate: &Plate) -> f64 {
    let factor = plate.cells_along(0.5);
    let coarse = average_down(&plate.light, factor);
    let (rows, columns) = coarse.dim();
    let mut silver: Vec<f64> = coarse
        .indexed_iter()
        .filter(|((i, j), _)| *i > 1 && *j > 1 && *i + 2 < rows && *j + 2 < columns)
        .filter_map(|(_, v)| crate::units::density_of(f64::from(*v)))
        .map(|d| plate.silver_sign() * d)
        .collect();
    quantile(&mut silver, 0.02).unwrap_or(0.0)
}

/// What is known when a ledge is looked for.
struct Looked {
    /// Where the ledge may end, millimetres from the edge.
    mm: [f64; 2],
    /// What else says that there is one.
    hint: Hint,
    /// Least silver on the plate, on the scale of [`relative_silver`](super::relative_silver).
    least: f64,
    /// Silver above which nothing can be unexposed border, same scale.
    most_silver: f64,
}

/// What beside an edge itself says that it has a ledge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Hint {
    /// Nothing.
    None,
    /// The other edges have one.
    Others,
    /// The others have one too if this one does: fog may lie over part of each.
    InFog,
}

impl Looked {
    fn anywhere(plate: &Plate, least: f64) -> Looked {
        // A card mount or a lit surround is no border: unexposed support is dark on a positive and
        // clear on a negative, even under heavy fog.
        let most_silver = match plate.process.is_positive() {
            true => -LIGHTEST_BORDER_D,
            false => DENSEST_BORDER_D,
        };
        Looked {
            mm: LEDGE_MM,
            hint: Hint::None,
            least,
            most_silver,
        }
    }
}

/// Ledges of a border that fog lies over on every side: clear steps at one distance along three edges at least,
/// where part of each border is as dark as unexposed. No scene has all of that.
fn in_fog_all_round(
    plate: &Plate,
    bands: &[Band; 4],
    silver: &[Grid<f64>; 4],
    least: f64,
) -> [Option<f64>; 4] {
    let looked = Looked {
        hint: Hint::InFog,
        ..Looked::anywhere(plate, least)
    };
    let widths_mm = [0, 1, 2, 3].map(|k| ledge_width(&bands[k], &silver[k], &looked));
    let mut known: Vec<f64> = widths_mm.iter().flatten().copied().collect();
    let Some(usual) = median(&mut known) else {
        return [None; 4];
    };
    let agreeing =
        widths_mm.map(|width_mm| width_mm.filter(|mm| (mm - usual).abs() < LEDGES_DIFFER_MM));
    match agreeing.iter().flatten().count() {
        0..3 => [None; 4],
        _ => agreeing,
    }
}

/// Looks again, nearer to the others, where one edge's ledge is missing or far from the rest: fog or
/// a dark scene hides the step that is expected there.
fn settle_outliers(plate: &mut Plate, bands: &[Band; 4], silver: &[Grid<f64>; 4], least: f64) {
    let known: Vec<f64> = plate.ledge.width_mm.iter().flatten().copied().collect();
    if known.len() < 2 {
        return;
    }
    for edge in Edge::ALL {
        let k = edge as usize;
        let mut others: Vec<f64> = (0..4)
            .filter(|other| *other != k)
            .filter_map(|other| plate.ledge.width_mm[other])
            .collect();
        if others.len() < 2 {
            continue;
        }
        let Some(usual) = median(&mut others) else {
            continue;
        };
        if plate.ledge.width_mm[k].is_some_and(|mm| (mm - usual).abs() < LEDGES_DIFFER_MM) {
            continue;
        }
        let looked = Looked {
            mm: [
                (usual - LEDGES_DIFFER_MM).max(LEDGE_MM[0]),
                usual + LEDGES_DIFFER_MM,
            ],
            hint: Hint::Others,
            ..Looked::anywhere(plate, least)
        };
        let again = ledge_width(&bands[k], &silver[k], &looked);
        let width_mm = &mut plate.ledge.width_mm[k];
        *width_mm = again
            .or(*width_mm)
            .or_else(|| faint_ledge(&bands[k], &silver[k], &looked));
    }
}

/// A rebate runs all round (common practice): where three edges show the ledge, the fourth has one too,
/// though fog or a dark scene hides its step. Its border is at least as wide as the narrowest
/// that is known, less what ledges differ by.
fn assume_hidden_ledges(plate: &mut Plate, bands: &[Band; 4], silver: &[Grid<f64>; 4], least: f64) {
    let known: Vec<f64> = plate.ledge.width_mm.iter().flatten().copied().collect();
    let Some(narrowest) = known.iter().copied().reduce(f64::min) else {
        return;
    };
    let careful_mm = narrowest - HIDDEN_LEDGE_MM;
    if known.len() < 3 || careful_mm < LEDGE_MM[0] {
        return;
    }
    for k in 0..4 {
        if plate.ledge.width_mm[k].is_some() {
            continue;
        }
        let rows = bands[k].step_at(0.5 * careful_mm)..bands[k].step_at(careful_mm) + 1;
        let mut levels: Vec<f64> = (0..silver[k].ncols())
            .filter_map(|block| mean_over(&silver[k], block, rows.start, rows.end))
            .collect();
        // Lighter than any fog leaves a plate worth reading: something else lies there.
        if median(&mut levels).is_some_and(|level| level < least + MOST_BORDER_FOG_D) {
            plate.ledge.width_mm[k] = Some(careful_mm);
            plate.ledge.assumed[k] = true;
        }
    }
}

/// How much narrower than the narrowest known ledge a hidden one is taken, millimetres. Our own choice.
const HIDDEN_LEDGE_MM: f64 = 0.7;

/// Silver above the least on the plate that fogged border may have, density.
const MOST_BORDER_FOG_D: f64 = 0.6;

/// Whether a scene runs out to an edge at which no ledge was found. A rebate runs all round (common
/// practice), so what looked like a ledge at other edges is the scene's own: boards and blinds.
fn scene_runs_out(plate: &Plate, bands: &[Band; 4], silver: &[Grid<f64>; 4]) -> bool {
    (0..4)
        .filter(|k| plate.ledge.width_mm[*k].is_none())
        .any(|k| {
            let rows = bands[k].step_at(BORDER_ANYWAY_MM[0])..bands[k].step_at(BORDER_ANYWAY_MM[1]);
            let levels: Vec<f64> = (0..silver[k].ncols())
                .filter_map(|block| mean_over(&silver[k], block, rows.start, rows.end))
                .collect();
            swings(&levels).is_some_and(|swings| swings >= SCENE_SWINGS)
        })
}

/// How often a row of levels goes over to the other half of its range; `None` where the range is that
/// of film and fog. A quarter of the range either way counts for neither half.
fn swings(levels: &[f64]) -> Option<usize> {
    let mut sorted = levels.to_vec();
    let (low, high) = (quantile(&mut sorted, 0.1)?, quantile(&mut sorted, 0.9)?);
    if high - low < SCENE_RANGE_D {
        return None;
    }
    let (lower, upper) = (0.75 * low + 0.25 * high, 0.25 * low + 0.75 * high);
    let mut halves: Vec<bool> = levels
        .iter()
        .filter(|level| **level < lower || **level > upper)
        .map(|level| *level > upper)
        .collect();
    halves.dedup();
    Some(halves.len().saturating_sub(1))
}

/// What is border wherever there is a ledge at all, past the lip and before the narrowest ledge's half
/// shadow, millimetres.
const BORDER_ANYWAY_MM: [f64; 2] = [0.5, 0.9];

/// Least range of silver along an edge that shows a scene, density, and how often it swings at least:
/// fog and tongues rise and fall once or twice. Our own choice.
const SCENE_RANGE_D: f64 = 0.2;

/// See [`SCENE_RANGE_D`].
const SCENE_SWINGS: usize = 5;

/// How far the ledges of one holder differ from edge to edge, millimetres. Our own choice; holders
/// are joinery, good to about a millimetre.
const LEDGES_DIFFER_MM: f64 = 1.3;

/// Lightest border of a positive and densest of a negative that can be unexposed, density: support
/// of 1.5 and base of 0.2 (from memory) under fog that leaves nothing of a picture.
const LIGHTEST_BORDER_D: f64 = 0.8;

/// See [`LIGHTEST_BORDER_D`].
const DENSEST_BORDER_D: f64 = 0.9;

/// Silver of each block along an edge a little way beyond a step, less what it is a little way before.
struct Steps<'a> {
    band: &'a Band,
    silver: &'a Grid<f64>,
    /// Rows left out beside the step, and rows looked at.
    gap: usize,
    window: usize,
}

impl Steps<'_> {
    fn along<'a>(band: &'a Band, silver: &'a Grid<f64>) -> Steps<'a> {
        let reach = |mm: f64| ((mm / band.step_mm).round() as usize).max(1);
        Steps {
            band,
            silver,
            gap: reach(0.25),
            window: reach(0.7),
        }
    }

    /// Rows at which a step may be looked for between two distances, millimetres.
    fn rows(&self, mm: [f64; 2]) -> std::ops::Range<usize> {
        let first = self.band.step_at(mm[0]).max(self.window);
        let last = self.silver.nrows().saturating_sub(self.window);
        first..self.band.step_at(mm[1]).min(last)
    }

    fn at(&self, row: usize, block: usize) -> Option<f64> {
        let before = (row + 1).checked_sub(self.window)?..row + 1 - self.gap;
        let before = mean_over(self.silver, block, before.start, before.end)?;
        let beyond = mean_over(self.silver, block, row + self.gap, row + self.window)?;
        Some(beyond - before)
    }

    /// Mean over the blocks: one corner support or dark figure must not hide the ledge, one bright shape not
    /// fake it.
    fn mean(&self, row: usize) -> f64 {
        let blocks = self.silver.ncols();
        (0..blocks)
            .filter_map(|block| self.at(row, block))
            .map(|step| step.clamp(-0.1, 0.3))
            .sum::<f64>()
            / blocks as f64
    }

    /// Share of the blocks in which a step, told block by block, is more than `least_d`.
    fn share_above(&self, least_d: f64, step: impl Fn(usize) -> Option<f64>) -> f64 {
        let blocks = self.silver.ncols();
        let above = (0..blocks).filter_map(step).filter(|step| *step > least_d);
        above.count() as f64 / blocks as f64
    }
}

/// Where the ledge's shadow ends: the distance at which silver steps up along the edge, with little
/// and even silver before it.
fn ledge_width(band: &Band, silver: &Grid<f64>, looked: &Looked) -> Option<f64> {
    let steps = Steps::along(band, silver);
    let means: Vec<(usize, f64)> = steps
        .rows(looked.mm)
        .map(|row| (row, steps.mean(row)))
        .collect();
    let strongest = means.iter().map(|s| s.1).fold(0.0, f64::max);
    // The ledge is the first step from the edge inward; fog in the border can make it weaker than a
    // step of the scene behind it.
    peaks(&means)
        .filter(|(_, strength)| *strength >= LEDGE_STEP_D.max(0.3 * strongest))
        .find(|(row, strength)| {
            let share = steps.share_above(0.04, |block| steps.at(*row, block));
            share >= 0.25 && is_border(band, silver, *row, looked, share > 0.6 && *strength > 0.1)
        })
        .map(|(row, _)| band.distance_mm(row))
}

/// The same where the other edges say that there is a ledge, and its step is faint: fog lies before it, or a dark
/// scene beyond. It must run along most of the edge, and stand out from the slope of fog and scene about it.
fn faint_ledge(band: &Band, silver: &Grid<f64>, looked: &Looked) -> Option<f64> {
    let steps = Steps::along(band, silver);
    // A narrower one would hide a bare rim, which tells more than so little border.
    let looked_mm = [looked.mm[0].max(NARROW_LEDGE_MM), looked.mm[1]];
    let above_slope = |row: usize, block: usize| {
        let about = [row.checked_sub(steps.window)?, row + steps.window];
        let slope = 0.5 * (steps.at(about[0], block)? + steps.at(about[1], block)?);
        Some(steps.at(row, block)? - slope)
    };
    let blocks = silver.ncols();
    let means: Vec<(usize, f64)> = steps
        .rows(looked_mm)
        .map(|row| {
            let mut known: Vec<f64> = (0..blocks).filter_map(|b| above_slope(row, b)).collect();
            (row, median(&mut known).unwrap_or(0.0))
        })
        .collect();
    peaks(&means)
        .filter(|(_, strength)| *strength >= FAINT_STEP_D)
        .find(|(row, strength)| {
            let share = steps.share_above(0.5 * strength, |block| above_slope(*row, block));
            share >= FAINT_STEP_SHARE && is_border(band, silver, *row, looked, true)
        })
        .map(|(row, _)| band.distance_mm(row))
}

/// Least step that shows a ledge where one is expected, density, and the share of the edge along which at least
/// half of it must be seen. Our own choice.
const FAINT_STEP_D: f64 = 0.015;
/// See [`FAINT_STEP_D`].
const FAINT_STEP_SHARE: f64 = 0.7;

/// Rows that are higher than their neighbours.
fn peaks(means: &[(usize, f64)]) -> impl Iterator<Item = (usize, f64)> + '_ {
    means
        .windows(3)
        .filter(|w| w[1].1 >= w[0].1 && w[1].1 >= w[2].1)
        .map(|w| w[1])
}

/// Whether what lies before a step is border: even along the edge (fog may lift part of it) and with about the
/// least silver on the plate. Otherwise the step is the scene's. `clear`: the step is strong and long, or what
/// makes it sure was tested otherwise.
fn is_border(band: &Band, silver: &Grid<f64>, row: usize, looked: &Looked, clear: bool) -> bool {
    let inner = band.step_at((band.distance_mm(row) - 0.4).max(0.5));
    let short = ((0.5 / band.step_mm).round() as usize).max(1);
    let outer = band.step_at(0.9).min(inner.saturating_sub(short));
    let levels: Vec<f64> = (0..silver.ncols())
        .filter_map(|block| mean_over(silver, block, outer, inner))
        .collect();
    let Some((level, scatter)) = median_and_sigma(&levels) else {
        return false;
    };
    let above = level - looked.least;
    let even = scatter < 0.08 && above < 0.12;
    let fogged = scatter < 0.15 && above < 0.45 && clear;
    let hinted = match looked.hint {
        Hint::None => false,
        // Next to two known ledges a third needs less to be believed. Fog over part of an edge scatters; a strong
        // step shows the ledge all the same.
        Hint::Others => (scatter < 0.15 || clear && scatter < 0.3) && above < 0.6,
        Hint::InFog => clear && above < MOST_BORDER_FOG_D && starts_dark(levels, looked.least),
    };
    level < looked.most_silver && (even || fogged || hinted)
}

/// Share of a border that fog leaves alone where it does not lie along the whole edge. Our own choice.
const FREE_OF_FOG: f64 = 0.25;

/// Whether part of a border is as dark as unexposed, and even.
fn starts_dark(mut levels: Vec<f64>, least: f64) -> bool {
    let dark = [0.05, FREE_OF_FOG].map(|share| quantile(&mut levels, share));
    let [Some(darkest), Some(dark)] = dark else {
        return false;
    };
    dark - darkest < 0.08 && dark - least < 0.12
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plate::Part;

    /// A strip 6 mm deep along an edge, 0.1 mm a row, with silver by distance, millimetres.
    fn strip(silver_d: impl Fn(f64) -> f64) -> (Band, Grid<f64>) {
        let (rows, blocks) = (60, 80);
        let band = Band {
            edge: Edge::Top,
            light: Grid::zeros((rows, blocks)),
            parts: Grid::from_elem((rows, blocks), Part::Picture),
            step_mm: 0.1,
            block_mm: 1.0,
        };
        // Clouds of the film, alike in every run of the test.
        let cloud = |row: usize, block: usize| 0.003 * ((row * 7 + block * 13) % 5) as f64 - 0.006;
        let silver = Grid::from_shape_fn((rows, blocks), |(row, block)| {
            silver_d(band.distance_mm(row)) + cloud(row, block)
        });
        (band, silver)
    }

    #[test]
    fn a_faint_step_in_fog_shows_the_ledge_where_one_is_expected() {
        let looked = Looked {
            mm: [1.2, 3.8],
            hint: Hint::Others,
            least: 0.0,
            most_silver: 1.0,
        };
        let fog = |x: f64| 0.3 * (-x / 4.0).exp();
        let (band, silver) = strip(|x| fog(x) + if x > 2.5 { 0.035 } else { 0.0 });
        assert_eq!(ledge_width(&band, &silver, &looked), None);
        let width_mm = faint_ledge(&band, &silver, &looked).unwrap();
        assert!((width_mm - 2.5).abs() < 0.15);
        // Fog alone has no step.
        let (band, silver) = strip(fog);
        assert_eq!(faint_ledge(&band, &silver, &looked), None);
    }

    #[test]
    fn a_clear_step_behind_a_border_that_is_half_in_fog_shows_the_ledge() {
        let looked = |hint| Looked {
            mm: LEDGE_MM,
            hint,
            least: 0.0,
            most_silver: 1.0,
        };
        // Fog that rises along the edge from a block on.
        let in_fog_from = |first: f64| {
            let (band, mut silver) = strip(|x| if x > 2.5 { 0.3 } else { 0.0 });
            for ((_, block), d) in silver.indexed_iter_mut() {
                *d += (0.011 * (block as f64 - first)).max(0.0);
            }
            (band, silver)
        };
        let (band, silver) = in_fog_from(25.0);
        assert_eq!(ledge_width(&band, &silver, &looked(Hint::None)), None);
        let width_mm = ledge_width(&band, &silver, &looked(Hint::InFog)).unwrap();
        // The window leaves a quarter of a millimetre open on either side of the step.
        assert!((width_mm - 2.5).abs() <= 0.3);
        // Where hardly anything of the border is dark, it may be the scene.
        let (band, silver) = in_fog_from(3.0);
        assert_eq!(ledge_width(&band, &silver, &looked(Hint::InFog)), None);
    }

    #[test]
    fn boards_swing_and_fog_does_not() {
        let boards: Vec<f64> = (0..80).map(|k| [0.1, 0.6][k / 5 % 2]).collect();
        assert_eq!(swings(&boards), Some(15));
        let fog: Vec<f64> = (0..80)
            .map(|k| 0.5 * (-((k as f64 - 30.0) / 15.0).powi(2)).exp())
            .collect();
        assert_eq!(swings(&fog), Some(2));
        let film: Vec<f64> = (0..80).map(|k| [0.10, 0.14][k % 2]).collect();
        assert_eq!(swings(&film), None);
    }
}
