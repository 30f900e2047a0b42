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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::bands::{BandGrid, Over, measure};

    #[test]
    fn waves_from_corner_to_corner_lie_where_they_are() {
        // Waves 4 mm apart along 48 degrees, on cells of 0.2 mm, in a plate of 70 by 60 mm.
        let (sin, cos) = 48f64.to_radians().sin_cos();
        let silver = |pitch_mm: f64| {
            let shape = ((60.0 / pitch_mm) as usize, (70.0 / pitch_mm) as usize);
            Grid::from_shape_fn(shape, |(i, j)| {
                let (x, y) = (pitch_mm * (j as f64 + 0.5), pitch_mm * (i as f64 + 0.5));
                let across = x * cos + y * sin;
                Some(0.5 + 0.05 * (across * std::f64::consts::TAU / 4.0).cos())
            })
        };
        let (fine, coarse) = (silver(0.2), silver(0.4));
        let families = measure(
            [(&fine, 0.2), (&coarse, 0.4)].map(|(silver, mm)| BandGrid::without_border(silver, mm)),
            Over::Even,
        );
        let strongest = families
            .iter()
            .max_by(|a, b| a.energy.total_cmp(&b.energy))
            .unwrap();
        assert!(strongest.slanted);
        assert!(
            (strongest.axis_deg - 48.0).abs() < 0.5,
            "{}",
            strongest.axis_deg
        );
        let mut crests: Vec<f64> = strongest
            .lines
            .iter()
            .filter(|line| line.sign > 0.0)
            .map(|line| strongest.across_mm(line.middle_mm))
            .collect();
        crests.sort_by(f64::total_cmp);
        assert!(crests.len() >= 4, "{crests:?}");
        for crest in crests {
            let off = (crest / 4.0 - (crest / 4.0).round()).abs() * 4.0;
            assert!(off < 0.5, "{crest} mm");
        }
    }
}
