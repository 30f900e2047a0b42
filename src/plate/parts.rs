//! Tells the parts of a plate apart: surround showing at nicks and clipped corners, the bare rim, the
//! border that the holder kept from the light, and the picture.

use std::collections::BTreeMap;
use std::ops::Range;

use super::band::Band;
use super::{Edge, Part, Plate, Rim};
use crate::raster::filter::average_down;
use crate::raster::regions::{label, reached_from_rim};
use crate::raster::stats::{median, median_and_sigma, quantile};
use crate::raster::{Grid, Mask};

/// Outermost strip that belongs to no measure, millimetres: the lip, the cut and the scanner's blur.
/// Our own choice; profiles of scanned plates settle after it.
const SKIN_MM: f64 = 0.25;

/// How far from an edge the holder's ledge can end, millimetres: common practice 1.3 to 4.5, with room.
const LEDGE_MM: [f64; 2] = [1.2, 6.5];

/// Widest rim without coating, millimetres. Wider ones are bare places.
const RIM_MM: f64 = 1.15;

/// Ledge before which a rim and the border can no longer be told apart, millimetres.
const NARROW_LEDGE_MM: f64 = 1.5;

/// Least step of silver at the ledge, averaged along the edge, density. A scene that is dark along
/// the whole edge hides the ledge; nothing is lost by not finding it there.
const LEDGE_STEP_D: f64 = 0.04;

/// Coarse cells for regions, millimetres.
const REGION_MM: f64 = 0.17;

/// Density below which a surround is a white lid or lit glass: lighter than any silver on a positive
/// and clearer than any coated negative (from memory).
const LIGHT_LID_D: f64 = 0.3;

/// Deepest nick in an edge and largest clipped corner, millimetres. Our own choice.
const NICK_MM: f64 = 3.0;
/// See [`NICK_MM`].
const CORNER_MM: f64 = 9.5;

/// Widest region that can be a nick or a clipped corner, millimetres.
const WIDEST_NICK_MM: f64 = 13.0;

/// Sets `parts`, `ledge` and `rims` of a squared-up plate.
pub(super) fn tell_apart(plate: &mut Plate) {
    let bands = bands(plate);
    let silver = Edge::ALL.map(|edge| relative_silver(plate, &bands[edge as usize]));
    let least = least_silver(plate);
    for edge in Edge::ALL {
        let k = edge as usize;
        plate.ledge.width_mm[k] =
            ledge_width(&bands[k], &silver[k], &Looked::anywhere(plate, least));
    }
    settle_outliers(plate, &bands, &silver, least);
    // A holder covers at least two edges; a single step is the scene's, or the end of a rim.
    if plate.ledge.width_mm.iter().flatten().count() < 2 {
        plate.ledge.width_mm = [None; 4];
    }
    if plate.shows_its_edges() && scene_runs_out(plate, &bands, &silver) {
        plate.ledge.width_mm = [None; 4];
    }
    assume_hidden_ledges(plate, &bands, &silver, least);
    for edge in Edge::ALL {
        let k = edge as usize;
        plate.rims[k] = rim(plate, &bands[k], &silver[k]);
    }
    drop_fogged_rims(plate, &bands, &silver);
    mark_border(plate);
    mark_corner_supports(plate);
    mark_rims(plate, &bands, &silver);
    mark_outside(plate);
}

/// The strips along the four edges, in the order of [`Edge::ALL`].
fn bands(plate: &Plate) -> [Band; 4] {
    let band = |edge| Band::along(plate, edge, 9.0, 0.085, 1.0);
    let ((top, right), (bottom, left)) = rayon::join(
        || (band(Edge::Top), band(Edge::Right)),
        || (band(Edge::Bottom), band(Edge::Left)),
    );
    [top, right, bottom, left]
}

/// Density counted toward more silver: its zero is arbitrary, its differences are silver.
fn relative_silver(plate: &Plate, band: &Band) -> Grid<f64> {
    let sign = plate.silver_sign();
    band.density().mapv(|d| sign * d)
}

/// Silver near the least on the plate (2nd percentile of coarse cells away from the skin).
fn least_silver(plate: &Plate) -> f64 {
    let factor = ((0.5 / plate.pitch_mm).round() as usize).max(1);
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

/// Mean over rows `from` to `to` (exclusive) of one block.
fn mean_over(silver: &Grid<f64>, block: usize, from: usize, to: usize) -> Option<f64> {
    let to = to.min(silver.nrows());
    (from < to)
        .then(|| (from..to).map(|step| silver[[step, block]]).sum::<f64>() / (to - from) as f64)
}

/// What is known when a ledge is looked for.
struct Looked {
    /// Where the ledge may end, millimetres from the edge.
    mm: [f64; 2],
    /// Whether the other edges say that there is one.
    expected: bool,
    /// Least silver on the plate, on the scale of [`relative_silver`].
    least: f64,
    /// Silver above which nothing can be unexposed border, same scale.
    most_silver: f64,
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
            expected: false,
            least,
            most_silver,
        }
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
            expected: true,
            ..Looked::anywhere(plate, least)
        };
        let again = ledge_width(&bands[k], &silver[k], &looked);
        plate.ledge.width_mm[k] = again.or(plate.ledge.width_mm[k]);
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

/// How much narrower than the narrowest known ledge a hidden one is taken, millimetres. Our own choice.
const HIDDEN_LEDGE_MM: f64 = 0.7;

/// Silver above the least on the plate that fogged border may have, density.
const MOST_BORDER_FOG_D: f64 = 0.6;

/// How far the ledges of one holder differ from edge to edge, millimetres. Our own choice; holders
/// are joinery, good to about a millimetre.
const LEDGES_DIFFER_MM: f64 = 1.3;

/// Lightest border of a positive and densest of a negative that can be unexposed, density: support
/// of 1.5 and base of 0.2 (from memory) under fog that leaves nothing of a picture.
const LIGHTEST_BORDER_D: f64 = 0.8;
/// See [`LIGHTEST_BORDER_D`].
const DENSEST_BORDER_D: f64 = 0.9;

/// Where the ledge's shadow ends: the distance at which silver steps up along the edge, with little
/// and even silver before it.
fn ledge_width(band: &Band, silver: &Grid<f64>, looked: &Looked) -> Option<f64> {
    let blocks = silver.ncols();
    let reach = |mm: f64| ((mm / band.step_mm).round() as usize).max(1);
    let (gap, window) = (reach(0.25), reach(0.7));
    let first = band.step_at(looked.mm[0]).max(window);
    let last = band
        .step_at(looked.mm[1])
        .min(silver.nrows().saturating_sub(window));
    let step_at = |step: usize, block: usize| {
        let before = mean_over(silver, block, step + 1 - window, step + 1 - gap)?;
        let beyond = mean_over(silver, block, step + gap, step + window)?;
        Some(beyond - before)
    };
    // One corner support or dark figure must not hide the ledge, one bright shape not fake it.
    let mean_step = |step: usize| {
        (0..blocks)
            .filter_map(|block| step_at(step, block))
            .map(|s| s.clamp(-0.1, 0.3))
            .sum::<f64>()
            / blocks as f64
    };
    let steps: Vec<(usize, f64)> = (first..last).map(|step| (step, mean_step(step))).collect();
    let strongest = steps.iter().map(|s| s.1).fold(0.0, f64::max);
    // The ledge is the first step from the edge inward; fog in the border can make it weaker than a
    // step of the scene behind it.
    steps
        .windows(3)
        .filter(|w| w[1].1 >= w[0].1 && w[1].1 >= w[2].1)
        .map(|w| w[1])
        .filter(|(_, strength)| *strength >= LEDGE_STEP_D.max(0.3 * strongest))
        .find(|(step, strength)| {
            let share = (0..blocks)
                .filter_map(|block| step_at(*step, block))
                .filter(|s| *s > 0.04)
                .count() as f64
                / blocks as f64;
            let inner = band.step_at((band.distance_mm(*step) - 0.4).max(0.5));
            let outer = band.step_at(0.9).min(inner.saturating_sub(reach(0.5)));
            let levels: Vec<f64> = (0..blocks)
                .filter_map(|block| mean_over(silver, block, outer, inner))
                .collect();
            let Some((level, scatter)) = median_and_sigma(&levels) else {
                return false;
            };
            // The border is even along the edge (fog may lift part of it) and holds about the least
            // silver on the plate; otherwise the step is the scene's.
            let above = level - looked.least;
            let even = scatter < 0.08 && above < 0.12;
            let fogged = scatter < 0.15 && above < 0.45 && share > 0.6 && *strength > 0.1;
            // Next to two known ledges a third needs less to be believed.
            // Fog over part of an edge scatters; a strong step shows the ledge all the same.
            let clear = share > 0.6 && *strength > 0.1 && scatter < 0.3;
            let expected = looked.expected && (scatter < 0.15 || clear) && above < 0.6;
            level < looked.most_silver && share >= 0.25 && (even || fogged || expected)
        })
        .map(|(step, _)| band.distance_mm(step))
}

/// The bare rim along one edge: less silver than what follows it, over most of the edge.
fn rim(plate: &Plate, band: &Band, silver: &Grid<f64>) -> Option<Rim> {
    // Before a narrow ledge there is no room to tell rim from border.
    if plate.ledge.width_mm[band.edge as usize].is_some_and(|ledge| ledge < NARROW_LEDGE_MM) {
        return None;
    }
    let widths: Vec<Option<f64>> = rim_widths(plate, band, silver);
    let mut known: Vec<f64> = widths.iter().map(|w| w.unwrap_or(0.0)).collect();
    let width_mm = median(&mut known)?;
    if width_mm < 0.25 {
        return None;
    }
    // Sharpening digs a dark line beside a white lid, and a dark lid is blurred onto the plate: neither
    // reaches the inner half of a rim.
    let past_halo = HALO_MM.max(HALO_CELLS * plate.pitch_mm);
    let levels = |from_mm: f64, least_steps: usize| -> Vec<f64> {
        let read = |(block, width): (usize, &Option<f64>)| {
            let width = (*width)?;
            let from = band.step_at(from_mm.max(0.5 * width));
            let to = band.step_at(width - 0.1).max(from + least_steps);
            mean_over(silver, block, from, to)
        };
        widths.iter().enumerate().filter_map(read).collect()
    };
    let mut clear = levels(past_halo, 0);
    let blocks = clear.len();
    let level = median(&mut clear).or_else(|| median(&mut levels(0.17, 1)))?;
    Some(Rim {
        width_mm,
        density_d: plate.silver_sign() * level,
        blocks,
    })
}

/// How far from the edge the blur and the sharpening of a scan reach: millimetres, or cells of the
/// working grid, whichever is more. Our own choice: a sharpening of one pixel ends within four.
const HALO_MM: f64 = 0.17;
/// See [`HALO_MM`].
const HALO_CELLS: f64 = 3.5;

/// Bare support holds no silver: where a "rim" reads more of it than the quietest border, it is fogged
/// border before a bright scene, or a light lip.
fn drop_fogged_rims(plate: &mut Plate, bands: &[Band; 4], silver: &[Grid<f64>; 4]) {
    let quietest = (0..4)
        .filter_map(|k| {
            let ledge_mm = plate.ledge.width_mm[k].filter(|ledge| *ledge >= NARROW_LEDGE_MM)?;
            let from = bands[k].step_at(ledge_mm - 0.95);
            let to = bands[k].step_at(ledge_mm - 0.5) + 1;
            let blocks = 0..silver[k].ncols();
            let mut levels: Vec<f64> = blocks
                .filter_map(|block| mean_over(&silver[k], block, from, to))
                .collect();
            median(&mut levels)
        })
        .reduce(f64::min);
    let Some(quietest) = quietest else {
        return;
    };
    let sign = plate.silver_sign();
    for rim in &mut plate.rims {
        if rim.is_some_and(|rim| sign * rim.density_d > quietest + FOGGED_RIM_D) {
            *rim = None;
        }
    }
}

/// Silver above the quietest border that no rim has, density. Our own choice.
const FOGGED_RIM_D: f64 = 0.03;

/// Per block, how far from the edge the rim reaches; `None` where there is no rim.
fn rim_widths(plate: &Plate, band: &Band, silver: &Grid<f64>) -> Vec<Option<f64>> {
    let ledge = plate.ledge.width_mm[band.edge as usize].unwrap_or(f64::INFINITY);
    // What the rim is compared with: film just inside the widest rim, still before the ledge's shadow.
    let inner_mm = (ledge - 0.95).min(1.25);
    let from = band.step_at(inner_mm);
    let to = band.step_at((inner_mm + 0.45).min(ledge - 0.5)) + 1;
    let widest = band.step_at(RIM_MM.min(inner_mm + 0.05));
    (0..silver.ncols())
        .map(|block| {
            let inner = mean_over(silver, block, from, to)?;
            let start = band.step_at(0.17);
            let end = (start..widest)
                .take_while(|step| silver[[*step, block]] < inner - 0.04)
                .last()?;
            Some(band.distance_mm(end) + band.step_mm / 2.0)
        })
        .collect()
}

fn cell(plate: &Plate, length_mm: f64) -> usize {
    (length_mm / plate.pitch_mm).round().max(0.0) as usize
}

fn mark_border(plate: &mut Plate) {
    let (rows, columns) = plate.parts.dim();
    let [top, right, bottom, left] = plate
        .ledge
        .width_mm
        .map(|w| w.map_or(0, |mm| cell(plate, mm + 0.25)));
    // Only the four strips are touched: the plate is large and the border is not.
    let (bottom, right) = (rows - bottom.min(rows), columns - right.min(columns));
    fill(&mut plate.parts, 0..top, 0..columns, Part::Border);
    fill(&mut plate.parts, bottom..rows, 0..columns, Part::Border);
    fill(&mut plate.parts, 0..rows, 0..left, Part::Border);
    fill(&mut plate.parts, 0..rows, right..columns, Part::Border);
}

/// Sets a box of cells, cut to the grid.
fn fill(parts: &mut Grid<Part>, rows: Range<usize>, columns: Range<usize>, part: Part) {
    let (height, width) = parts.dim();
    for row in rows.start..rows.end.min(height) {
        for column in columns.start..columns.end.min(width) {
            parts[[row, column]] = part;
        }
    }
}

/// The corner supports of the holder: cells like the border that hang together with it in a corner.
fn mark_corner_supports(plate: &mut Plate) {
    let factor = ((REGION_MM / plate.pitch_mm).round() as usize).max(1);
    let size = cell(plate, CORNER_MM).max(factor * 4);
    let (rows, columns) = plate.light.dim();
    if size * 2 > rows.min(columns) {
        return;
    }
    for (vertical, horizontal) in [
        (Edge::Top, Edge::Left),
        (Edge::Top, Edge::Right),
        (Edge::Bottom, Edge::Right),
        (Edge::Bottom, Edge::Left),
    ] {
        let widths = &plate.ledge.width_mm;
        let (Some(down), Some(across)) = (widths[vertical as usize], widths[horizontal as usize])
        else {
            continue;
        };
        // The corner's own frame: row and column count from the plate's corner inward.
        let at = |i: usize, j: usize| {
            let row = if vertical == Edge::Top {
                i
            } else {
                rows - 1 - i
            };
            let column = if horizontal == Edge::Left {
                j
            } else {
                columns - 1 - j
            };
            [row, column]
        };
        let corner = Grid::from_shape_fn((size, size), |(i, j)| plate.light[at(i, j)]);
        let silver = average_down(&corner, factor)
            .mapv(|v| plate.silver_sign() * -f64::from(v.max(1e-5)).log10());
        let q = |mm: f64| (mm / (factor as f64 * plate.pitch_mm)) as usize;
        let in_border = |i: usize, j: usize| i < q(down) || j < q(across);
        let skin = q(1.0);
        let mut border: Vec<f64> = silver
            .indexed_iter()
            .filter(|((i, j), _)| in_border(*i, *j) && *i > skin && *j > skin)
            .map(|(_, s)| *s)
            .collect();
        let Some(level) = median(&mut border) else {
            continue;
        };
        let like = Mask::from_shape_fn(silver.dim(), |(i, j)| {
            in_border(i, j) || silver[[i, j]] < level + 0.06
        });
        let support = reached_from(&like, q(down.max(across)) + 1);
        for ((i, j), set) in support.indexed_iter() {
            if !set {
                continue;
            }
            for di in 0..factor {
                for dj in 0..factor {
                    let (ci, cj) = (i * factor + di, j * factor + dj);
                    if ci < size && cj < size {
                        plate.parts[at(ci, cj)] = Part::Border;
                    }
                }
            }
        }
    }
}

/// Marked cells that hang together (side by side) with the cell `start` rows and columns in.
fn reached_from(mask: &Mask, start: usize) -> Mask {
    let (rows, columns) = mask.dim();
    let mut reached = Mask::from_elem((rows, columns), false);
    let mut open = vec![(start.min(rows - 1), start.min(columns - 1))];
    open.retain(|at| mask[*at]);
    for at in &open {
        reached[*at] = true;
    }
    while let Some((i, j)) = open.pop() {
        for (di, dj) in [(0i64, 1i64), (1, 0), (0, -1), (-1, 0)] {
            let (ni, nj) = (i as i64 + di, j as i64 + dj);
            if ni < 0 || nj < 0 || ni >= rows as i64 || nj >= columns as i64 {
                continue;
            }
            let at = (ni as usize, nj as usize);
            if mask[at] && !reached[at] {
                reached[at] = true;
                open.push(at);
            }
        }
    }
    reached
}

fn mark_rims(plate: &mut Plate, bands: &[Band; 4], silver: &[Grid<f64>; 4]) {
    let (rows, columns) = plate.parts.dim();
    let skin = cell(plate, SKIN_MM).max(1);
    for edge in Edge::ALL {
        let k = edge as usize;
        let length = match edge {
            Edge::Top | Edge::Bottom => columns,
            Edge::Left | Edge::Right => rows,
        };
        let widths = match plate.rims[k] {
            Some(_) => rim_widths(plate, &bands[k], &silver[k]),
            None => Vec::new(),
        };
        let block = cell(plate, bands[k].block_mm).max(1);
        for along in 0..length {
            let width = widths
                .get(along / block)
                .copied()
                .flatten()
                .map_or(0, |mm| cell(plate, mm + 0.12));
            for deep in 0..width.max(skin).min(rows.min(columns)) {
                let at = match edge {
                    Edge::Top => [deep, along],
                    Edge::Bottom => [rows - 1 - deep, along],
                    Edge::Left => [along, deep],
                    Edge::Right => [along, columns - 1 - deep],
                };
                plate.parts[at] = Part::Rim;
            }
        }
    }
}

/// Connected regions that are wider or taller than `widest` cells, as lists of their cells.
fn wide_regions(mask: &Mask, widest: usize) -> Vec<Vec<[usize; 2]>> {
    let mut regions: BTreeMap<u32, Vec<[usize; 2]>> = BTreeMap::new();
    for ((i, j), region) in label(mask)
        .indexed_iter()
        .filter(|(_, region)| **region > 0)
    {
        regions.entry(*region).or_default().push([i, j]);
    }
    let extent = |cells: &[[usize; 2]], axis: usize| {
        let along = cells.iter().map(|cell| cell[axis]);
        along.clone().max().unwrap_or(0) - along.min().unwrap_or(0)
    };
    regions
        .into_values()
        .filter(|cells| extent(cells, 0).max(extent(cells, 1)) > widest)
        .collect()
}

/// Surround that shows at nicks and clipped corners.
fn mark_outside(plate: &mut Plate) {
    let Some(surround) = plate.surround_light.and_then(crate::units::density_of) else {
        return;
    };
    let factor = ((REGION_MM / plate.pitch_mm).round() as usize).max(1);
    let coarse = average_down(&plate.light, factor);
    let (rows, columns) = coarse.dim();
    let q = |mm: f64| (mm / (factor as f64 * plate.pitch_mm)) as usize;
    // Only near the edges, which is a small part of the plate.
    let density = |at: (usize, usize)| -f64::from(coarse[at].max(1e-5)).log10();
    let depth = |i: usize, j: usize| i.min(j).min(rows - 1 - i).min(columns - 1 - j);
    let mut ring: Vec<f64> = (0..rows)
        .flat_map(|i| (0..columns).map(move |j| (i, j)))
        .filter(|(i, j)| (q(0.6)..q(1.4)).contains(&depth(*i, *j)))
        .map(density)
        .collect();
    let Some(edge_d) = median(&mut ring) else {
        return;
    };
    let contrast = (edge_d - surround).abs();
    // Too alike: a dark plate on a dark lid. What shows at a nick then looks like the border.
    if contrast < 0.08 {
        return;
    }
    // A tongue of fog can pass through the density of a dark lid; only what matches it closely, as a
    // nick does, counts as lid.
    let widest = if surround < LIGHT_LID_D { 0.22 } else { 0.06 };
    let tolerance = (0.4 * contrast).min(widest);
    let near_edge = |i: usize, j: usize| {
        let from_side = i.min(rows - 1 - i);
        let from_end = j.min(columns - 1 - j);
        depth(i, j) < q(NICK_MM) || (from_side < q(CORNER_MM) && from_end < q(CORNER_MM))
    };
    let like_surround = Mask::from_shape_fn((rows, columns), |(i, j)| {
        near_edge(i, j) && (density((i, j)) - surround).abs() < tolerance
    });
    let mut outside = reached_from_rim(&like_surround);
    // A whole stretch of border as dark as the lid is fogged border, not a nick.
    let inner = Mask::from_shape_fn(outside.dim(), |(i, j)| {
        outside[[i, j]] && depth(i, j) >= q(SKIN_MM + 0.1)
    });
    for cells in wide_regions(&inner, q(WIDEST_NICK_MM)) {
        for at in cells {
            outside[at] = false;
        }
    }
    for ((i, j), _) in outside.indexed_iter().filter(|(_, set)| **set) {
        let (top, left) = (i * factor, j * factor);
        let (rows, columns) = (top..top + factor, left..left + factor);
        fill(&mut plate.parts, rows, columns, Part::Outside);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
