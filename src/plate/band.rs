//! The strip of a plate along one edge, cut into blocks.

use super::{Edge, Part, Plate};
use crate::raster::Grid;

/// Mean light along one edge of a plate: rows run inward from the edge, columns along it.
#[derive(Debug, Clone)]
pub struct Band {
    /// Which edge.
    pub edge: Edge,
    /// Linear light, `[[step inward, block along]]`. Along the top and bottom blocks run left to
    /// right, along the left and right top to bottom.
    pub light: Grid<f32>,
    /// The part that a cell belongs to wholly; of several, the one furthest from the picture
    /// (outside before rim before border).
    pub parts: Grid<Part>,
    /// Millimetres between two rows.
    pub step_mm: f64,
    /// Millimetres a block spans along the edge.
    pub block_mm: f64,
}

impl Band {
    /// The strip along `edge`, `depth_mm` deep, in steps and blocks of about the sizes given.
    pub fn along(plate: &Plate, edge: Edge, depth_mm: f64, step_mm: f64, block_mm: f64) -> Band {
        let (rows, columns) = plate.light.dim();
        let (across, length) = match edge {
            Edge::Top | Edge::Bottom => (rows, columns),
            Edge::Left | Edge::Right => (columns, rows),
        };
        let step = ((step_mm / plate.pitch_mm).round() as usize).max(1);
        let block = ((block_mm / plate.pitch_mm).round() as usize).clamp(1, length);
        let depth = (depth_mm / plate.pitch_mm) as usize;
        let steps = (depth.min(across / 2) / step).max(1);
        let blocks = (length / block).max(1);
        let mut light = Grid::zeros((steps, blocks));
        let mut parts = Grid::from_elem((steps, blocks), Part::Picture);
        for d in 0..steps * step {
            for a in 0..blocks * block {
                let at = match edge {
                    Edge::Top => [d, a],
                    Edge::Bottom => [rows - 1 - d, a],
                    Edge::Left => [a, d],
                    Edge::Right => [a, columns - 1 - d],
                };
                let bin = [d / step, a / block];
                light[bin] += plate.light[at];
                parts[bin] = parts[bin].min(plate.parts[at]);
            }
        }
        light /= (step * block) as f32;
        Band {
            edge,
            light,
            parts,
            step_mm: step as f64 * plate.pitch_mm,
            block_mm: block as f64 * plate.pitch_mm,
        }
    }

    /// Distance of the middle of row `step` from the edge, millimetres.
    pub fn distance_mm(&self, step: usize) -> f64 {
        (step as f64 + 0.5) * self.step_mm
    }

    /// Position of the middle of a block along the edge, millimetres from its top or left end.
    pub fn along_mm(&self, block: usize) -> f64 {
        (block as f64 + 0.5) * self.block_mm
    }

    /// Row whose middle is nearest to a distance from the edge.
    pub fn step_at(&self, distance_mm: f64) -> usize {
        ((distance_mm / self.step_mm).max(0.0) as usize).min(self.light.nrows().saturating_sub(1))
    }

    /// Density, `D = -log10(light)`; light below 1e-5 (darker than any plate) counts as that.
    pub fn density(&self) -> Grid<f64> {
        self.light.mapv(|v| -f64::from(v.max(1e-5)).log10())
    }
}
