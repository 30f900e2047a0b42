//! Bands that run straight over the plate: streaks, lines, waves.
//!
//! What it means: what the hand or the bath does to a whole plate at once leaves bands that run on
//! under everything the scene shows; a scene's own lines stop where the thing stops.
//! Input: a squared-up plate with its density map.
//! Output: for each of four ways of looking (fine or broad bands, upright or level) the tilt at which
//! silver hangs together best along straight lines, how far that tilt stands out from the others, and
//! the lines that hold from end to end: place, width (millimetres), contrast (density), sign.
//! Method: silver less its surroundings over its local scatter, cut off so that no bright thing
//! outweighs the rest; means over stretches of 8 mm along each line; a line holds when nearly all its
//! stretches agree in sign (after Newson, Almansa, Gousseau and Perez, IEEE Transactions on Image
//! Processing 23, 2014: a local test, then agreement along the line). Other tilts of the same plate
//! are the background: a scene's parts add up to nothing along a wrong tilt.
//! Doubtful when: the scene itself is of boards, blinds or masts.

use rayon::prelude::*;

use crate::density::{Cells, DensityMap};

mod across;
mod family;
mod response;
mod tilted;

pub use across::Across;
use response::Response;

/// Bands along one axis, as far as the plate shows any.
#[derive(Debug, Clone, PartialEq)]
pub struct Family {
    /// Along the bands, degrees (0 upright, 90 level, clockwise).
    pub axis_deg: f64,
    /// Whether the bands are more upright than level.
    pub upright: bool,
    /// Standard deviation of the Gaussian core that was looked for, millimetres.
    pub scale_mm: f64,
    /// Mean square of agreement over all lines at the best tilt.
    pub energy: f64,
    /// The same at the middle one of all tilts: what the scene does by chance.
    pub usual_energy: f64,
    /// Highest self-likeness of the pattern across the axis past its first dip, -1 to 1: near 1 for
    /// boards and waves, low for streaks.
    pub regularity: f64,
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
    /// Share of the room across the axis that lines take.
    pub fn taken(&self) -> f64 {
        self.lines.len() as f64 / self.room.max(1.0)
    }

    /// How far the best tilt stands out from the usual one.
    pub fn stands_out(&self) -> f64 {
        self.energy / self.usual_energy.max(0.3)
    }
}

/// Core of fine and of broad bands, millimetres.
const CORES_MM: [f64; 2] = [0.35, 1.2];

/// Looks for bands in all four ways: fine upright, fine level, broad upright, broad level; `cells` are
/// of about 0.2 and 0.4 mm.
///
/// Empty on a plate too small to have stretches.
pub(super) fn measure(cells: [&Cells; 2], map: &DensityMap) -> Vec<Family> {
    let looks: Vec<Vec<Family>> = cells
        .par_iter()
        .zip(CORES_MM)
        .map(|(cells, core_mm)| {
            let silver = cells.picture_silver(map);
            let Some(response) = Response::of(&silver, cells.pitch_mm, core_mm) else {
                return Vec::new();
            };
            [true, false]
                .into_par_iter()
                .filter_map(|upright| family::best(&response, upright))
                .collect()
        })
        .collect();
    looks.into_iter().flatten().collect()
}
