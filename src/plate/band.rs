//! The strip of a plate along one edge, cut into blocks.

use super::{Edge, Part, Plate};
use crate::raster::Grid;
use crate::raster::stats::sum;

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
        let step = ((step_mm / plate.pitch_mm).round() as usize).clamp(1, across);
        let block = ((block_mm / plate.pitch_mm).round() as usize).clamp(1, length);
        let depth = (depth_mm / plate.pitch_mm) as usize;
        let steps = (depth.min(across / 2) / step).max(1);
        let blocks = (length / block).max(1);
        let mut light = Grid::zeros((steps, blocks));
        let mut parts = Grid::from_elem((steps, blocks), Part::Picture);
        let (deep, long) = (steps * step, blocks * block);
        // Lines of the plate that the strip takes, and the cells that it takes of each.
        let (lines, cells, chunk) = match edge {
            Edge::Top => (0..deep, 0..long, block),
            Edge::Bottom => (rows - deep..rows, 0..long, block),
            Edge::Left => (0..long, 0..deep, step),
            Edge::Right => (0..long, columns - deep..columns, step),
        };
        let (all_light, all_parts) = (
            plate.light.as_standard_layout(),
            plate.parts.as_standard_layout(),
        );
        let (all_light, all_parts) = (
            all_light.as_slice().unwrap_or_default(),
            all_parts.as_slice().unwrap_or_default(),
        );
        // Line by line, as the cells lie in memory, whichever way the edge runs.
        for line in lines {
            let cells = line * columns + cells.start..line * columns + cells.end;
            let values = all_light[cells.clone()].chunks_exact(chunk);
            let kinds = all_parts[cells].chunks_exact(chunk);
            for (k, (values, kinds)) in values.zip(kinds).enumerate() {
                let bin = match edge {
                    Edge::Top => [line / step, k],
                    Edge::Bottom => [(rows - 1 - line) / step, k],
                    Edge::Left => [k, line / block],
                    Edge::Right => [steps - 1 - k, line / block],
                };
                light[bin] += sum(values);
                parts[bin] = kinds.iter().copied().fold(parts[bin], Part::min);
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
