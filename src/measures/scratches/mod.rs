//! Thin lines with less silver: torn film, and what looks like it.
//!
//! What it means: a scratch takes the film away along a thin line, so what is left there is bare support or
//! nearly, whatever the picture shows beside it; and it is as sharp as the scan can draw.
//! Input: a squared-up plate with its density map.
//! Output: every thin line that is darker (in silver) than both of its sides and holds together for some
//! millimetres, with its place and ends (millimetres), width and sharpness, contrast (density), and how well
//! it fits a film of which the same share is gone all along. Lines of the scene are among them.
//! Method: the lesser of both sides less the core, over the scatter around it, cut off; sums along all straight
//! pieces of 32 cells by the fast approximate Radon transform (Götz and Druckmüller, Pattern Recognition 29,
//! 1996; Brandt and Dym, SIAM Journal on Applied Mathematics 59, 1999: both from memory); each strong piece is
//! followed at both ends as long as cells agree (after Newson, Almansa, Gousseau and Perez, IEEE Transactions
//! on Image Processing 23, 2014: a local test, then agreement along the line).
//! Doubtful when: the scene itself has fine sharp lines; the scan is coarser than the scratch.

use rayon::prelude::*;

use crate::density::{DensityMap, FineSilver, wholly_in};
use crate::plate::{Part, Plate};
use crate::raster::geometry::{between_axes_deg, distance};
use crate::raster::{Grid, Mask, swapped};

mod edges;
mod follow;
mod pieces;
mod response;
mod shape;

use follow::Trace;
use response::Response;

/// One thin line with less silver than both of its sides.
#[derive(Debug, Clone, PartialEq)]
pub struct ThinLine {
    /// Places along it about a millimetre apart, from end to end, millimetres.
    pub points_mm: Vec<[f64; 2]>,
    /// From end to end, millimetres.
    pub length_mm: f64,
    /// Axis of the chord, degrees (0 upright, 90 level, clockwise).
    pub axis_deg: f64,
    /// Greatest distance from the chord over its length.
    pub bow: f64,
    /// Width at half height, millimetres.
    pub width_mm: f64,
    /// Height over the steepest slope of its softer side, millimetres: how sharp it is.
    pub edge_mm: f64,
    /// The same in cells of the plate's grid.
    pub edge_cells: f64,
    /// Difference of the core from the side nearer to it, density, positive: median along the line.
    pub contrast_d: f64,
    /// Share of the line along which it keeps more than four tenths of that.
    pub kept: f64,
    /// Difference between both sides over the contrast, median along the line.
    pub unlike_sides: f64,
    /// Rise of silver from the core to half a millimetre off, over the contrast: 1 where both sides are flat.
    pub rise: f64,
    /// Share of the cells along it that show it.
    pub hits: f64,
    /// How far its places lie off a smooth curve, cells.
    pub wander_cells: f64,
    /// Silver of its sides, density, median along the line.
    pub sides_d: f64,
    /// Share of its sides' silver that is gone, median along the line.
    pub gone: f64,
    /// How ill a constant share gone fits, over the better of two other ways a line may be made: one of constant
    /// difference, or a thing of constant silver.
    pub misfit: f64,
    /// Other lines on the plate that lie within 4 degrees of its axis.
    pub alike: usize,
}

/// All thin lines of a plate, longest first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ScratchMeasures {
    /// See [`ThinLine`].
    pub lines: Vec<ThinLine>,
}

/// Shortest line that is kept, millimetres.
const SHORTEST_MM: f64 = 6.0;
/// Shortest line that counts as one of several alike, millimetres, and how near to parallel they are, degrees.
const ALIKE_MM: f64 = 5.0;
/// See [`ALIKE_MM`].
const ALIKE_DEG: f64 = 4.0;
/// Lines nearer to each other than this are one, millimetres.
const APART_MM: f64 = 1.0;

/// Looks for thin lines all over the plate.
pub(super) fn measure(plate: &Plate, map: &DensityMap, fine: &FineSilver) -> ScratchMeasures {
    let (factor, pitch_mm) = (fine.factor, fine.pitch_mm);
    let known = wholly_in(&plate.parts, factor, |part| {
        part == Part::Picture || part == Part::Border
    });
    let sharp = |(trace, mut line): (Trace, ThinLine), upright: bool| {
        if line.is_line() && line.length_mm > SHORTEST_MM {
            let edges = edges::measure(plate, map, &trace, factor, upright)?;
            line.width_mm = edges.width_mm;
            line.edge_mm = edges.edge_mm;
            line.edge_cells = edges.edge_mm / plate.pitch_mm;
        }
        Some(line)
    };
    let along = |silver: &Grid<f32>, known: &Mask, upright: bool| -> Vec<ThinLine> {
        let found = lines(silver, known, pitch_mm, upright);
        found
            .into_par_iter()
            .filter_map(|line| sharp(line, upright))
            .collect()
    };
    let (mut lines, level) = rayon::join(
        || along(&fine.silver, &known, true),
        || {
            // Level lines are upright ones of the plate laid on its side.
            along(&swapped(&fine.silver), &swapped(&known), false)
        },
    );
    lines.extend(level);
    lines.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm));
    count_alike(&mut lines);
    lines.retain(|line| line.is_line() && line.length_mm > SHORTEST_MM);
    ScratchMeasures { lines }
}

/// All traces on a grid whose lines run more down than across, with what they look like; not how sharp they are.
fn lines(silver: &Grid<f32>, known: &Mask, pitch_mm: f64, upright: bool) -> Vec<(Trace, ThinLine)> {
    let response = Response::of(silver, known, pitch_mm);
    let traces = follow::traces(&response, pieces::pieces(&response));
    traces
        .into_par_iter()
        .filter_map(|trace| {
            let line = shape::describe(silver, &trace, pitch_mm, upright)?;
            Some((trace, line))
        })
        .collect()
}

fn count_alike(lines: &mut [ThinLine]) {
    let lies: Vec<([f64; 2], f64)> = lines
        .iter()
        .filter(|line| line.length_mm > ALIKE_MM)
        .map(|line| (line.middle_mm(), line.axis_deg))
        .collect();
    for line in lines {
        let alike = lies.iter().filter(|(middle, axis_deg)| {
            between_axes_deg(*axis_deg, line.axis_deg) < ALIKE_DEG
                && distance(*middle, line.middle_mm()) > APART_MM
        });
        line.alike = alike.count();
    }
}

impl ThinLine {
    /// The place half way along it, millimetres.
    pub fn middle_mm(&self) -> [f64; 2] {
        self.points_mm[self.points_mm.len() / 2]
    }

    /// Both ends, millimetres.
    pub fn ends_mm(&self) -> [[f64; 2]; 2] {
        [self.points_mm[0], self.points_mm[self.points_mm.len() - 1]]
    }

    /// Whether it is a line at all rather than a row of unlike things: it shows nearly all along, is dark
    /// against both sides alike and does not wander.
    fn is_line(&self) -> bool {
        self.unlike_sides < 0.5
            && self.hits > 0.75
            && self.wander_cells < 0.8
            && (0.8..1.5).contains(&self.rise)
            && self.contrast_d > 0.03
            && self.kept > 0.7
    }
}

/// Median; 0 of nothing.
fn middle(mut values: Vec<f64>) -> f64 {
    crate::raster::stats::median(&mut values).unwrap_or(0.0)
}

/// `x` over `y` of points `[y, x]`: value at 0 and slope; `None` of fewer than two.
fn straight(points: &[[f64; 2]]) -> Option<(f64, f64)> {
    if points.len() < 2 {
        return None;
    }
    let count = points.len() as f64;
    let mean = |k: usize| points.iter().map(|point| point[k]).sum::<f64>() / count;
    let (my, mx) = (mean(0), mean(1));
    let both: f64 = points.iter().map(|[y, x]| (y - my) * (x - mx)).sum();
    let square: f64 = points.iter().map(|[y, _]| (y - my).powi(2)).sum();
    let slope = if square > 0.0 { both / square } else { 0.0 };
    Some((mx - slope * my, slope))
}

/// Straight fit to the part of a trace between two rows and a little beyond.
fn local(trace: &Trace, from: f64, to: f64) -> Option<(f64, f64)> {
    const BEYOND: f64 = 8.0;
    const FEWEST: usize = 4;
    let first = trace.points.partition_point(|[y, _]| *y < from - BEYOND);
    let last = trace.points.partition_point(|[y, _]| *y <= to + BEYOND);
    let near = &trace.points[first..last];
    (near.len() >= FEWEST).then(|| straight(near))?
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scratch_over_light_and_shade_is_one_line() {
        let pitch_mm = 0.085;
        // From (5, 4) to (25, 34) mm, of which half the silver is gone; the scene changes under it.
        let silver = Grid::from_shape_fn((450, 380), |(i, j)| {
            let (x, y) = ((j as f64 + 0.5) * pitch_mm, (i as f64 + 0.5) * pitch_mm);
            let scene = if y < 18.0 { 0.9 } else { 0.4 };
            let long = 20f64.hypot(30.0);
            let along = ((x - 5.0) * 20.0 + (y - 4.0) * 30.0) / long;
            let off = ((x - 5.0) * 30.0 - (y - 4.0) * 20.0).abs() / long;
            let on = off < 0.09 && (0.0..=long).contains(&along);
            let noise = 0.01 * (((i * 7919 + j * 104_729) % 1009) as f64 / 504.5 - 1.0);
            (if on { 0.5 * scene } else { scene } + noise) as f32
        });
        let known = Mask::from_elem(silver.dim(), true);
        let found = lines(&silver, &known, pitch_mm, true);
        assert_eq!(found.len(), 1);
        let line = &found[0].1;
        assert!(line.is_line());
        assert!((line.length_mm - 36.0).abs() < 2.0, "{}", line.length_mm);
        assert!((line.axis_deg - 146.3).abs() < 0.5, "{}", line.axis_deg);
        assert!((line.gone - 0.5).abs() < 0.05, "{}", line.gone);
        assert!(line.misfit < 0.5 && line.bow < 0.005, "{line:?}");
        // The same thing hung before the scene has one silver all along.
        let thing = Grid::from_shape_fn(silver.dim(), |at| match silver[at] {
            s if (0.15..0.3).contains(&s) || (0.42..0.48).contains(&s) => 0.2,
            s => s,
        });
        let found = lines(&thing, &known, pitch_mm, true);
        assert!(found[0].1.misfit > 1.3, "{}", found[0].1.misfit);
    }
}
