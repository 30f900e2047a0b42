//! The plate laid at half a right angle, so that bands between two corners become upright or level ones.

use std::f64::consts::FRAC_1_SQRT_2;

use super::Family;
use crate::raster::Grid;

/// Degrees clockwise that the plate's own upright lies from that of the laid grid.
const TURN_DEG: f64 = 45.0;

/// A grid laid at half a right angle, and the way back.
pub(super) struct Slant {
    /// The grid's cells, where they lie on the plate.
    pub(super) silver: Grid<Option<f64>>,
    /// Middles of the laid grid and of the plate's, columns and rows.
    middles: [[f64; 2]; 2],
    pitch_mm: f64,
}

impl Slant {
    pub(super) fn of(silver: &Grid<Option<f64>>, pitch_mm: f64) -> Slant {
        let (rows, columns) = silver.dim();
        let side = ((rows + columns) as f64 * FRAC_1_SQRT_2).ceil() as usize;
        let half = 0.5 * side as f64;
        let middles = [[half, half], [0.5 * columns as f64, 0.5 * rows as f64]];
        let laid = Grid::from_shape_fn((side, side), |(i, j)| {
            let [x, y] = back([j as f64 + 0.5, i as f64 + 0.5], middles);
            if x < 0.0 || y < 0.0 {
                return None;
            }
            silver.get([y as usize, x as usize]).copied().flatten()
        });
        Slant {
            silver: laid,
            middles,
            pitch_mm,
        }
    }

    /// The family as it lies on the plate.
    pub(super) fn placed(&self, mut family: Family) -> Family {
        let place = |[x, y]: [f64; 2]| {
            back([x / self.pitch_mm, y / self.pitch_mm], self.middles).map(|at| at * self.pitch_mm)
        };
        family.slanted = true;
        family.axis_deg = (family.axis_deg + TURN_DEG).rem_euclid(180.0);
        // Where the profile begins, on the way of `Family::across_mm`.
        let (sin, cos) = match family.upright {
            true => (FRAC_1_SQRT_2, FRAC_1_SQRT_2),
            false => (FRAC_1_SQRT_2, -FRAC_1_SQRT_2),
        };
        let [laid, plate] = self.middles;
        family.across.first_mm += (cos * plate[0] + sin * plate[1] - laid[0]) * self.pitch_mm;
        for line in &mut family.lines {
            line.ends_mm = line.ends_mm.map(place);
            line.middle_mm = place(line.middle_mm);
        }
        family
    }
}

/// Where a place of the laid grid lies on the plate, columns and rows.
fn back([u, v]: [f64; 2], [laid, plate]: [[f64; 2]; 2]) -> [f64; 2] {
    let (u, v) = (u - laid[0], v - laid[1]);
    [
        plate[0] + FRAC_1_SQRT_2 * (u - v),
        plate[1] + FRAC_1_SQRT_2 * (u + v),
    ]
}
