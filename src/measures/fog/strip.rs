//! The strip along an edge, and which of its rows only fog can have lit.

use crate::density::{DensityMap, density};
use crate::plate::band::Band;
use crate::plate::{Edge, Part, Plate, Rim};
use crate::raster::Grid;
use crate::raster::stats::{median, quantile};

/// Depth of the strip looked at, millimetres; fog deeper than this is hardly told from the scene.
const STRIP_MM: f64 = 16.0;
/// Steps of the strip inward and blocks along it, millimetres.
const STEP_MM: f64 = 0.25;
/// See [`STEP_MM`].
pub(super) const BLOCK_MM: f64 = 0.5;

/// Where measuring starts, millimetres from the edge: past the lip and the scanner's blur.
pub(super) const START_MM: f64 = 0.5;
/// The same before a narrow ledge, millimetres.
const LIP_MM: f64 = 0.4;
/// Kept clear of the ledge's half shadow, millimetres.
const SHADOW_MM: f64 = 0.45;
/// Silver above the border's least that shows the scene to have begun, density. Our own choice, about
/// twice the film's own clouds.
const RISE_D: f64 = 0.015;

/// The strip along an edge with what is usable of it.
#[derive(Debug, Clone)]
pub(super) struct Strip {
    pub band: Band,
    /// Silver, `None` at rim, nicks and beyond.
    pub silver: Grid<Option<f64>>,
    /// Rows of the border: from past the rim to before the ledge's shadow; empty without a ledge.
    pub border: std::ops::Range<usize>,
    /// Where the ledge ends, millimetres from the edge; 0 without one.
    pub(super) ledge_mm: f64,
}

impl Strip {
    pub(super) fn along(plate: &Plate, map: &DensityMap, edge: Edge) -> Strip {
        let band = Band::along(plate, edge, STRIP_MM, STEP_MM, BLOCK_MM);
        let silver = Grid::from_shape_fn(band.light.dim(), |at| {
            (band.parts[at] >= Part::Border).then(|| map.silver(density(band.light[at])))
        });
        let ledge_mm =
            plate.ledge.width_mm[edge as usize].filter(|_| !only_seems_border(plate, edge));
        let border = match ledge_mm {
            Some(ledge) => border_rows(&band, &silver, plate.rims[edge as usize], ledge),
            None => 0..0,
        };
        Strip {
            band,
            silver,
            border,
            ledge_mm: ledge_mm.unwrap_or(0.0),
        }
    }

    /// The strip without the bare support outside a wavy edge of the film, which holds less silver than any border:
    /// taken for border it would make fog of all others.
    pub(super) fn of_film(&self, plate: &Plate) -> Strip {
        let mut strip = self.clone();
        if self.ledge_mm > 0.0 {
            leave_out_bare_rim(&strip.band, &mut strip.silver, self.ledge_mm);
            let rim = plate.rims[self.band.edge as usize];
            strip.border = border_rows(&strip.band, &strip.silver, rim, self.ledge_mm);
        }
        strip
    }

    /// Median silver of one block over a range of rows; `None` where less than half is usable.
    pub(super) fn block(&self, block: usize, rows: std::ops::Range<usize>) -> Option<f64> {
        let wanted = rows.len();
        let mut values: Vec<f64> = rows
            .filter_map(|row| *self.silver.get([row, block])?)
            .collect();
        (wanted > 0 && values.len() * 2 >= wanted)
            .then(|| median(&mut values))
            .flatten()
    }

    /// [`Strip::block`] for every block along the edge.
    pub(super) fn blocks(&self, rows: std::ops::Range<usize>) -> Vec<Option<f64>> {
        (0..self.silver.ncols())
            .map(|block| self.block(block, rows.clone()))
            .collect()
    }

    /// The blocks of [`Strip::blocks`] that are usable.
    pub(super) fn known_blocks(&self, rows: std::ops::Range<usize>) -> Vec<f64> {
        self.blocks(rows).into_iter().flatten().collect()
    }

    pub(super) fn row(&self, distance_mm: f64) -> usize {
        self.band.step_at(distance_mm)
    }

    pub(super) fn profile(&self, blocks: &[usize], q: f64) -> Vec<Option<f64>> {
        (0..self.silver.nrows())
            .map(|row| {
                let mut values: Vec<f64> = blocks
                    .iter()
                    .filter_map(|block| self.silver[[row, *block]])
                    .collect();
                (values.len() >= 6)
                    .then(|| quantile(&mut values, q))
                    .flatten()
            })
            .collect()
    }
}

/// Width from which a bare rim is doubted on a scan that ends at the plate's edge or inside it, millimetres. Our
/// own choice.
const DOUBTED_RIM_MM: f64 = 0.6;

/// Whether what lies past the rim of a cropped scan only seems border: the crop has taken the true rim, so that
/// what is bare is what it left of the border, and the scene begins there. Of seven fogs of made plates in the
/// border of cropped scans none had such a rim, and three of five false ones had.
fn only_seems_border(plate: &Plate, edge: Edge) -> bool {
    let rim = plate.rims[edge as usize];
    !plate.shows_its_edges() && rim.is_some_and(|rim| rim.width_mm >= DOUBTED_RIM_MM)
}

/// Rise of silver inward before the ledge's half shadow that shows where film begins, density: our own choice,
/// about three times the film's own clouds.
const FILM_BEGINS_D: f64 = 0.03;
/// Where film has begun on any edge that has a border, millimetres: farther in, silver rises where the ledge ends
/// and was looked for too deep. Our own choice.
const FILM_WITHIN_MM: f64 = 1.5;
/// Blocks along the edge on either side over which that rise is smoothed: 1 mm.
const FILM_BLOCKS: usize = 2;

/// Leaves out the bare support outside a wavy edge of the film, block by block.
fn leave_out_bare_rim(band: &Band, silver: &mut Grid<Option<f64>>, ledge_mm: f64) {
    let until_mm = FILM_WITHIN_MM.min(ledge_mm - SHADOW_MM);
    let (rows, blocks) = silver.dim();
    let before_shadow = ((until_mm / band.step_mm).floor().max(0.0) as usize).min(rows);
    let smooth = Grid::from_shape_fn((before_shadow, blocks), |(row, block)| {
        let about = block.saturating_sub(FILM_BLOCKS)..(block + FILM_BLOCKS + 1).min(blocks);
        let mut known: Vec<f64> = about.filter_map(|b| silver[[row, b]]).collect();
        median(&mut known)
    });
    for block in 0..blocks {
        let rises = |row: &usize| {
            let inner = [row + 1, row + 2].map(|r| smooth[[r.min(before_shadow - 1), block]]);
            let begins =
                |inner: f64| smooth[[*row, block]].is_some_and(|s| inner > s + FILM_BEGINS_D);
            inner.into_iter().flatten().any(begins)
        };
        let last_bare = (0..before_shadow.saturating_sub(1)).rev().find(rises);
        for row in 0..last_bare.map_or(0, |row| row + 1) {
            silver[[row, block]] = None;
        }
    }
}

/// Rows of the border that only fog can have lit: past the rim and the lip, before the half shadow. A
/// narrow border is searched closer to both; where silver rises toward the ledge, the scene has begun.
fn border_rows(
    band: &Band,
    silver: &Grid<Option<f64>>,
    rim: Option<Rim>,
    ledge_mm: f64,
) -> std::ops::Range<usize> {
    let rim_mm = rim.map_or(0.0, |rim| rim.width_mm);
    let last = |mm: f64| ((ledge_mm - mm) / band.step_mm).floor().max(0.0) as usize;
    let first = |mm: f64| (mm / band.step_mm).ceil() as usize;
    let mut from = first(START_MM.max(rim_mm + 0.3));
    let mut to = last(SHADOW_MM);
    let narrow = to < from + 2;
    if narrow {
        from = first(LIP_MM.max(rim_mm + 0.15));
        to = last(0.5 * SHADOW_MM).max(from);
    }
    let to = to.min(silver.nrows());
    let from = from.min(to);
    let level = |row: usize| {
        let mut known: Vec<f64> = silver.row(row).iter().copied().flatten().collect();
        quantile(&mut known, 0.35)
    };
    // Only a rise toward the ledge counts: a rim or a lip at the outer end is no sign of it. A narrow
    // border is compared with the row past it too, so that a single row can be told from a rise; one
    // that rises all the way has no row of its own.
    let past = (to + usize::from(narrow)).min(silver.nrows());
    let levels: Vec<Option<f64>> = (from..past).map(level).collect();
    let flat = |k: usize| matches!((levels[k], levels[k - 1]), (Some(inner), Some(outer)) if inner < outer + RISE_D);
    let kept = (1..levels.len()).rev().find(|k| flat(*k)).map(|k| k + 1);
    let kept = kept.unwrap_or(if narrow { 0 } else { levels.len().min(2) });
    from..from + kept.min(to - from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wavy_bare_rim_is_left_out_and_the_shadow_of_the_ledge_is_not_taken_for_it() {
        let (rows, blocks) = (24, 60);
        let band = Band {
            edge: Edge::Left,
            light: Grid::zeros((rows, blocks)),
            parts: Grid::from_elem((rows, blocks), Part::Border),
            step_mm: 0.25,
            block_mm: 0.5,
        };
        // Film begins 0.5 mm from the edge over one half of it, at the edge over the other.
        let bare = |row: usize, block: usize| block < 30 && row < 2;
        let shadow = |row: usize| row >= 9;
        let before = Grid::from_shape_fn((rows, blocks), |(row, block)| match (row, block) {
            (row, block) if bare(row, block) => Some(-0.05),
            (row, _) if shadow(row) => Some(0.4),
            _ => Some(0.01),
        });
        let mut silver = before.clone();
        leave_out_bare_rim(&band, &mut silver, 3.0);
        for ((row, block), left) in silver.indexed_iter() {
            // The smoothing along the edge leaves the ends of the bare part as they were.
            if !(28..32).contains(&block) {
                let expected = before[[row, block]].filter(|_| !bare(row, block));
                assert_eq!(*left, expected, "row {row}, block {block}");
            }
        }
    }
}
