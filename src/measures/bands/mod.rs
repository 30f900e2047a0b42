//! Bands that run straight over the plate: streaks, lines, waves.
//!
//! What it means: what the hand or the bath does to a whole plate at once leaves bands that run on
//! under everything the scene shows; a scene's own lines stop where the thing stops.
//! Input: a squared-up plate with its density map.
//! Output: for each way of looking (fine or broad bands, upright or level, on even plates also from corner to
//! corner) the tilt, and for broad bands the bend, at which silver hangs together best along lines, how
//! far that run stands out from the others, and the lines that hold from end to end: place, width
//! (millimetres), contrast (density), sign; over a scene also what tells them from the scene's own lines.
//! Method: silver less its surroundings over its local scatter, cut off so that no bright thing
//! outweighs the rest; means over stretches of 8 mm along each line; a line holds when nearly all its
//! stretches agree in sign (after Newson, Almansa, Gousseau and Perez, IEEE Transactions on Image
//! Processing 23, 2014: a local test, then agreement along the line). Other tilts of the same plate
//! are the background: a scene's parts add up to nothing along a wrong tilt.
//! Doubtful when: the scene itself is of boards, blinds or masts.

use rayon::prelude::*;

use crate::raster::Grid;

mod across;
mod border;
mod drain_waves;
mod family;
mod form;
mod in_border;
mod look;
mod over_border;
mod profile;
mod response;
mod right_across;
mod scene;
mod slant;
mod sweeps;
mod tilted;

pub use across::Across;
pub(super) use drain_waves::drain_waves;
pub use drain_waves::{DrainWaves, EdgeWaves};
pub use form::AcrossForm;
pub(super) use in_border::Ends;
pub use in_border::InBorder;
pub(super) use right_across::right_across;
pub use right_across::{RightAcross, RunsOn};
pub use scene::OverScene;
pub(super) use sweeps::sweeps;
pub use sweeps::{BandForm, Sweep};

use response::Response;
use slant::Slant;

/// What bands are looked for on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Over {
    /// An evenly exposed plate, or one that light never reached.
    Even,
    /// A picture.
    Scene,
}

/// Bands along one axis, as far as the plate shows any.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// Along the bands, degrees (0 upright, 90 level, clockwise).
    pub axis_deg: f64,
    /// Whether the bands are more upright than level.
    pub upright: bool,
    /// Whether they were looked for between two corners: their axis lies near half a right angle.
    pub slanted: bool,
    /// Standard deviation of the Gaussian core that was looked for, millimetres.
    pub scale_mm: f64,
    /// How far both ends lie off the straight line through the middle, millimetres, to the right of upright
    /// bands and below level ones: 0 for straight bands.
    pub sagitta_mm: f64,
    /// Mean square of agreement over all lines at the best tilt.
    pub energy: f64,
    /// The same at the middle one of all tilts: what the scene does by chance.
    pub usual_energy: f64,
    /// Highest self-likeness of the pattern across the axis past its first dip, -1 to 1: near 1 for
    /// boards and waves, low for streaks.
    pub regularity: f64,
    /// What tells them from a scene's lines; nothing on even plates.
    pub scene: OverScene,
    /// Lines that could lie beside each other without touching.
    pub room: f64,
    /// The lines that hold, strongest first.
    pub lines: Vec<Line>,
    /// Silver across the bands.
    pub across: Across,
}

/// One line that holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its ends, millimetres.
    pub ends_mm: [[f64; 2]; 2],
    /// Where it crosses the plate's middle, millimetres.
    pub middle_mm: [f64; 2],
    /// Agreement of its stretches in standard deviations of chance.
    pub agreement: f64,
    /// Share of its stretches that have its sign clearly.
    pub coverage: f64,
    /// +1 for more silver, -1 for less.
    pub sign: f64,
    /// Width at half height, millimetres.
    pub width_mm: f64,
    /// Difference of its core from what lies on both sides, density, positive.
    pub contrast_d: f64,
    /// Silver beyond it less silver before it (to the right of an upright line, below a level one),
    /// density: a line where one side stood longer in the bath than the other shows it.
    pub step_d: f64,
}

impl Family {
    /// Where a place lies across the bands, millimetres: from the left edge for upright ones, from the top
    /// for level ones, from the line through the top left corner for slanted ones.
    pub fn across_mm(&self, [x, y]: [f64; 2]) -> f64 {
        match (self.slanted, self.upright) {
            (false, true) => x,
            (false, false) => y,
            (true, _) => {
                let (sin, cos) = self.axis_deg.to_radians().sin_cos();
                x * cos + y * sin
            }
        }
    }

    /// How far the best tilt stands out from the usual one.
    pub fn stands_out(&self) -> f64 {
        self.energy / self.usual_energy.max(0.3)
    }
}

/// Core of fine and of broad bands, millimetres.
const CORES_MM: [f64; 2] = [0.35, 1.2];

/// The lines that hold on an even grid of silver, upright and straight or nearly so, with cells of about
/// 0.2 mm: for measuring the search itself.
pub fn lines_alone(silver: &Grid<Option<f64>>, pitch_mm: f64) -> Vec<Line> {
    let (rows, columns) = silver.dim();
    let coarse = Grid::from_shape_fn((rows / 2, columns / 2), |(i, j)| {
        let four = [(0, 0), (0, 1), (1, 0), (1, 1)].map(|(a, b)| silver[[2 * i + a, 2 * j + b]]);
        let sum: Option<f64> = four.into_iter().sum();
        sum.map(|sum| sum / 4.0)
    });
    let grids = [(silver, pitch_mm), (&coarse, 2.0 * pitch_mm)];
    let families = measure(
        grids.map(|(silver, pitch_mm)| BandGrid::without_border(silver, pitch_mm)),
        Over::Even,
    );
    let upright = families.into_iter().filter(|f| f.upright && !f.slanted);
    upright.flat_map(|family| family.lines).collect()
}

/// Silver that bands are looked for in.
pub(super) struct BandGrid<'a> {
    /// Density; `None` where the picture area ends.
    pub(super) silver: &'a Grid<Option<f64>>,
    /// Side of a cell, millimetres.
    pub(super) pitch_mm: f64,
    /// Over a scene the borders that upright and level bands run into.
    pub(super) ends: Option<[Ends; 2]>,
}

impl<'a> BandGrid<'a> {
    pub(super) fn without_border(silver: &'a Grid<Option<f64>>, pitch_mm: f64) -> Self {
        BandGrid {
            silver,
            pitch_mm,
            ends: None,
        }
    }
}

/// Looks for fine and broad bands, upright and level, on even plates also from corner to corner, in cells of about 0.2
/// and 0.4 mm.
///
/// Empty on a plate too small to have stretches.
pub(super) fn measure(grids: [BandGrid; 2], over: Over) -> Vec<Family> {
    let looks: Vec<Vec<Family>> = grids
        .into_par_iter()
        .zip(CORES_MM)
        .map(|(grid, core_mm)| {
            let BandGrid {
                silver,
                pitch_mm,
                ends,
            } = grid;
            let look = |silver: &Grid<Option<f64>>| -> Vec<Family> {
                let Some(response) = Response::of(silver, pitch_mm, core_mm, over) else {
                    return Vec::new();
                };
                [true, false]
                    .into_par_iter()
                    .filter_map(|upright| {
                        let ends = ends.as_ref().map(|ends| &ends[usize::from(!upright)]);
                        family::best(&response, upright, over, ends)
                    })
                    .collect()
            };
            let mut families = look(silver);
            // No scene hides what runs from corner to corner; over a scene shadows and roofs do so too.
            if over == Over::Even {
                let slant = Slant::of(silver, pitch_mm);
                let slanted = look(&slant.silver);
                families.extend(slanted.into_iter().map(|family| slant.placed(family)));
            }
            families
        })
        .collect();
    looks.into_iter().flatten().collect()
}
