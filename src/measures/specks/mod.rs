//! Small marks: round ones with too much or too little silver, and those with tails.
//!
//! Comes in: a squared-up plate and its density map. Goes out: [`SpeckMeasures`], every mark that
//! stands out of its own surround more than the plate's texture explains. Units: density,
//! millimetres in the plate frame. Not here: whether the marks are a fault (`findings`).

use rayon::prelude::*;

use crate::density::{DensityMap, wholly_in};
use crate::plate::{Part, Plate};
use crate::raster::regions::erode;
use crate::raster::{Grid, Mask};
use crate::scan::Scan;

mod chance;
mod groups;
mod heads;
mod lid;
mod nature;
mod shape;
mod tails;
mod turned;

pub use groups::{
    Agreement, Neighbours, agreement, axis_agreement, neighbours, overdispersion, squares,
};
pub use lid::LidDust;
pub use nature::Nature;
pub use tails::{Ray, STEP_DEG, Tail};
pub use turned::Piece;

/// How far marks keep from the plate's edge, millimetres: rims, lips and nicks are no specks.
const EDGE_MARGIN_MM: f64 = 1.0;

/// Expected heads a plate at most this many by chance in each octave and of each sign, for a mark that stands
/// by itself.
pub const ALARMS_ALONE: f64 = 0.1;

/// The same for a head that a tail has to bear out.
const ALARMS_WITH_TAIL: f64 = 3.0;

/// The same for a mark that counts as the plate's own.
const ALARMS_STRONG: f64 = 1e-3;

/// Size up to which round grains of dust read, millimetres, with the scanner's blur: on 186 clean
/// practice plates (seeds from 51408) one in twenty was larger. Our own choice; what is larger on glass is a
/// flake or a fibre and seldom round.
const LARGEST_DUST_MM: f64 = 0.27;

/// How sharp four of five grains of dust are, by their size in cells: steepest step from cell to cell over the
/// height (12,000 grains on practice plates, development seeds 700000 to 700425). Smaller marks than
/// [`SOFT_FROM_CELLS`] are as sharp as the scanner's blur makes them, whatever they are.
const SHARP_DUST: [[f64; 2]; 5] = [
    [2.0, 0.62],
    [3.5, 0.50],
    [5.0, 0.45],
    [8.0, 0.40],
    [12.0, 0.37],
];
/// See [`SHARP_DUST`].
const SOFT_FROM_CELLS: f64 = 3.2;

/// Least contrast that the eye catches in a small mark, density (from memory: several times the
/// threshold of a large sharp edge).
pub const VISIBLE_D: f64 = 0.03;

/// Light below which a scan holds steps and noise rather than marks: D 2.8. Our own choice; black steps
/// of a clipped wedge would notice a change.
const DARKEST_LIGHT: f32 = 0.0015;

/// Longest shape that counts as round. Four of five marks of the open plates are rounder, half of what
/// scenes and dust show is longer.
const ROUND: f64 = 1.35;
/// The same for marks of a few cells, whose outline the grid bends.
const ROUND_WHEN_SMALL: f64 = 1.6;
/// Size below which a mark is of a few cells, cells.
const SMALL_CELLS: f64 = 4.0;

/// One small mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Speck {
    /// Centre, millimetres.
    pub centre_mm: [f64; 2],
    /// Diameter of the circle with the area inside half height, millimetres.
    pub size_mm: f64,
    /// The same, cells of the plate's grid.
    pub size_cells: f64,
    /// Mean difference of silver between the core and the ring around it; positive is more silver.
    pub contrast_d: f64,
    /// Long over short extent of the area inside half height.
    pub elongation: f64,
    /// Steepest step of density a millimetre at its outline, over its height: how sharp it is.
    pub steepness: f64,
    /// Linear light of its core.
    pub light: f64,
    /// Expected heads so strong by chance on this plate.
    pub expected_false_alarms: f64,
    /// Its tail, if it has one.
    pub tail: Option<Tail>,
    /// What stands out from it along every direction, [`STEP_DEG`] apart from upward on, clockwise; empty for
    /// a head that does not stand by itself.
    pub rays: Vec<Ray>,
    /// What it belongs to, as far as this one scan shows.
    pub nature: Nature,
}

impl Speck {
    /// Whether it stands without the help of a tail.
    pub fn alone(&self) -> bool {
        self.expected_false_alarms <= ALARMS_ALONE
    }

    /// Whether hardly any of its kind is expected by chance: what scenes make falls off slowly, what
    /// marks make does not.
    pub fn is_strong(&self) -> bool {
        self.expected_false_alarms <= ALARMS_STRONG
    }

    /// Whether it is larger than round dust is.
    pub fn is_big(&self) -> bool {
        self.size_mm > LARGEST_DUST_MM
    }

    /// Whether its outline is softer than that of four in five grains of dust of its size, which lie in the
    /// scanner's focus.
    pub fn is_soft(&self) -> bool {
        let [smallest, .., largest] = SHARP_DUST;
        if self.size_cells < SOFT_FROM_CELLS {
            return false;
        }
        let per_cell = self.steepness * self.size_mm / self.size_cells;
        let size = self.size_cells.clamp(smallest[0], largest[0]);
        let line = SHARP_DUST.windows(2).find(|line| size <= line[1][0]);
        line.is_some_and(|line| {
            let ([x0, y0], [x1, y1]) = (line[0], line[1]);
            per_cell < y0 + (y1 - y0) * (size - x0) / (x1 - x0)
        })
    }

    /// Whether its outline is about as long as wide: the smaller the mark, the less its cells tell.
    pub fn is_round(&self) -> bool {
        let most = match self.size_cells {
            s if s < SMALL_CELLS => ROUND_WHEN_SMALL,
            _ => ROUND,
        };
        self.elongation <= most
    }

    /// Whether it has more silver than its surround.
    pub fn more_silver(&self) -> bool {
        self.contrast_d > 0.0
    }

    /// `[left, top, right, bottom]` of head and tail, millimetres.
    pub fn box_mm(&self) -> [f64; 4] {
        let [x, y] = self.centre_mm;
        let r = 0.5 * self.size_mm;
        let [ex, ey] = self.tail.as_ref().map_or([x, y], |tail| {
            let (sin, cos) = tail.direction_deg.to_radians().sin_cos();
            [x + tail.length_mm * sin, y - tail.length_mm * cos]
        });
        [x.min(ex) - r, y.min(ey) - r, x.max(ex) + r, y.max(ey) + r]
    }
}

/// All small marks of a plate.
#[derive(Debug, Clone, PartialEq)]
pub struct SpeckMeasures {
    /// Marks that stand out, strongest first.
    pub specks: Vec<Speck>,
    /// Area that could be searched, square centimetres.
    pub searched_cm2: f64,
    /// Dust on the bare lid beside the plate.
    pub lid: LidDust,
    /// Dust of the scanner's glass over the plate, strongest first; `None` without a second scan of the
    /// plate turned. None of it is among the specks.
    pub glass: Option<Vec<Piece>>,
}

/// Looks for small marks all over the plate.
pub fn measure(scan: &Scan, plate: &Plate, map: &DensityMap) -> SpeckMeasures {
    let field = Field::of(plate);
    let (lid, (specks, glass)) =
        rayon::join(|| lid::dust(scan, plate), || on_plate(plate, map, &field));
    SpeckMeasures {
        specks,
        searched_cm2: field.area_cm2(plate.pitch_mm),
        lid,
        glass,
    }
}

/// The plate's own marks, and with a second scan the dust of the glass.
fn on_plate(plate: &Plate, map: &DensityMap, field: &Field) -> (Vec<Speck>, Option<Vec<Piece>>) {
    let silver = map.silver_of(&plate.light, DARKEST_LIGHT);
    let heads = heads::find(&silver, field, plate.pitch_mm, ALARMS_WITH_TAIL);
    let smooth = tails::smooth(&silver);
    let mut specks: Vec<Speck> = heads
        .par_iter()
        .filter_map(|head| {
            let mut speck = shape::measure(plate, &silver, head)?;
            (speck.tail, speck.rays) = tails::follow(&smooth, field, plate.pitch_mm, &speck);
            if !speck.alone() {
                speck.rays = Vec::new();
            }
            (speck.alone() || speck.tail.is_some()).then_some(speck)
        })
        .collect();
    let glass = plate.turned.as_ref().map(|turned| {
        let told = turned::tell(plate, &silver, field, turned, std::mem::take(&mut specks));
        specks = told.own;
        told.glass
    });
    nature::settle(plate.process, plate.kind, &mut specks);
    (specks, glass)
}

/// Heads that stand by themselves on a grid of silver, as `[row, column]` in cells, centres at .5: for
/// measuring the search itself.
pub fn heads_alone(silver: &Grid<f32>, pitch_mm: f64) -> Vec<[f64; 2]> {
    let field = Field::all(silver.dim());
    let heads = heads::find(silver, &field, pitch_mm, ALARMS_ALONE);
    heads.into_iter().map(|head| head.at).collect()
}

/// Where marks are looked for: coated, and far enough from the plate's edge. Kept by blocks of cells.
struct Field {
    blocks: Mask,
    /// Logarithm to base 2 of a block's side in cells: places are asked for millions of times, and a shift is faster
    /// than a division.
    side_log2: u32,
}

impl Field {
    /// Logarithm to base 2 of a block's side in cells: four cells are a sixth of the margin on the working grid.
    const SIDE_LOG2: u32 = 2;

    fn of(plate: &Plate) -> Field {
        let factor = 1 << Self::SIDE_LOG2;
        let coated = wholly_in(&plate.parts, factor, |part| {
            part == Part::Picture || part == Part::Border
        });
        let (rows, columns) = coated.dim();
        let margin = (EDGE_MARGIN_MM / plate.pitch_mm / factor as f64).ceil() as usize;
        let mut blocks = erode(&coated, margin);
        for ((i, j), set) in blocks.indexed_iter_mut() {
            *set &= i >= margin && j >= margin && i + margin < rows && j + margin < columns;
        }
        Field {
            blocks,
            side_log2: Self::SIDE_LOG2,
        }
    }

    /// All of a grid.
    fn all((rows, columns): (usize, usize)) -> Field {
        let blocks = Mask::from_elem((rows, columns), true);
        let side_log2 = 0;
        Field { blocks, side_log2 }
    }

    fn holds(&self, row: usize, column: usize) -> bool {
        let block = (row >> self.side_log2, column >> self.side_log2);
        self.blocks.get(block).copied().unwrap_or(false)
    }

    fn area_cm2(&self, pitch_mm: f64) -> f64 {
        let blocks = self.blocks.iter().filter(|set| **set).count();
        blocks as f64 * (f64::from(1u32 << self.side_log2) * pitch_mm / 10.0).powi(2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_softer_than_dust_of_its_size_is_soft() {
        let mark = |size_cells: f64, per_cell: f64| Speck {
            centre_mm: [10.0, 10.0],
            size_mm: 0.04 * size_cells,
            size_cells,
            contrast_d: 0.3,
            elongation: 1.0,
            steepness: per_cell / 0.04,
            light: 0.2,
            expected_false_alarms: 1e-6,
            tail: None,
            rays: Vec::new(),
            nature: Nature::OfPlate,
        };
        assert!(mark(5.0, 0.44).is_soft() && !mark(5.0, 0.46).is_soft());
        // Between the sizes of the table, and beyond them.
        assert!(mark(6.5, 0.42).is_soft() && !mark(6.5, 0.43).is_soft());
        assert!(mark(30.0, 0.36).is_soft() && !mark(30.0, 0.38).is_soft());
        // The smallest are all as sharp as the scanner lets them be.
        assert!(!mark(3.0, 0.1).is_soft());
    }
}
