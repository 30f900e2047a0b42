//! How wide and how sharp a line is, on the plate's own grid.

use super::follow::Trace;
use super::{local, middle};
use crate::density::{DensityMap, density};
use crate::plate::Plate;
use crate::raster::geometry::sample;

/// Length of a block, millimetres.
const BLOCK_MM: f64 = 1.5;
/// Fewest blocks, and fewest that could be read.
const FEWEST: usize = 3;
/// Half the stretch across the line that is looked at, millimetres.
const REACH_MM: f64 = 0.6;
/// Places a cell.
const STEPS: f64 = 2.0;
/// How far off the trace the line's middle is looked for, millimetres.
const NEAR_MM: f64 = 0.13;
/// Where its sides are read, millimetres from its middle.
const SIDES_MM: [f64; 2] = [0.28, 0.42];
/// How far from its middle its slopes reach, millimetres.
const SLOPE_MM: f64 = 0.3;

pub(super) struct Edges {
    pub(super) width_mm: f64,
    pub(super) edge_mm: f64,
}

/// `None` when too little of the line could be read.
pub(super) fn measure(
    plate: &Plate,
    map: &DensityMap,
    trace: &Trace,
    factor: usize,
    upright: bool,
) -> Option<Edges> {
    let step_mm = plate.pitch_mm / STEPS;
    let reach = (REACH_MM / step_mm).round() as i64;
    let factor = factor as f64;
    let ([y0, x0], [y1, x1]) = (trace.points[0], trace.points[trace.points.len() - 1]);
    let length_mm = (y1 - y0).hypot(x1 - x0) * factor * plate.pitch_mm;
    let count = ((length_mm / BLOCK_MM).round() as usize).max(FEWEST);
    let row = |k: usize| y0 + (y1 - y0) * k as f64 / count as f64;
    let (rows, columns) = plate.light.dim();
    let (mut widths, mut edges) = (Vec::new(), Vec::new());
    for k in 0..count {
        let (from, to) = (row(k), row(k + 1));
        let Some((at_zero, slope)) = local(trace, from, to) else {
            continue;
        };
        let long = (1.0 + slope * slope).sqrt();
        let silver = |place: i64| -> Option<f64> {
            let off = place as f64 / STEPS;
            let values: Vec<f64> = (0..)
                .map(|n| from + f64::from(n))
                .take_while(|y| *y < to)
                .map(|y| {
                    // Cells of the plate's own grid, from their corners.
                    let at = [(at_zero + slope * y + 0.5) * factor, (y + 0.5) * factor];
                    let [x, y] = [at[0] + off / long, at[1] - off * slope / long];
                    if upright { [x, y] } else { [y, x] }
                })
                .filter(|[x, y]| {
                    (0.5..columns as f64 - 0.5).contains(x) && (0.5..rows as f64 - 0.5).contains(y)
                })
                .map(|[x, y]| map.silver(density(sample(&plate.light, x, y))))
                .collect();
            (!values.is_empty()).then(|| middle(values))
        };
        let profile: Option<Vec<f64>> = (-reach..=reach).map(silver).collect();
        if let Some((width, edge)) = profile.and_then(|profile| read(&profile, step_mm)) {
            widths.push(width);
            edges.push(edge);
        }
    }
    (edges.len() >= FEWEST).then(|| Edges {
        width_mm: middle(widths),
        edge_mm: middle(edges),
    })
}

/// Width at half height, and height over the steepest slope of the softer side, millimetres.
fn read(profile: &[f64], step_mm: f64) -> Option<(f64, f64)> {
    let zero = profile.len() / 2;
    let places = |mm: f64| (mm / step_mm).round() as usize;
    let near = places(NEAR_MM);
    let lowest = (zero - near..=zero + near).min_by(|a, b| profile[*a].total_cmp(&profile[*b]))?;
    let core = profile[lowest];
    let along = |way: i64, place: usize| -> Option<f64> {
        let at = usize::try_from(lowest as i64 + way * place as i64).ok()?;
        profile.get(at).copied()
    };
    let side = |way: i64| {
        let [from, to] = SIDES_MM.map(|mm| (mm / step_mm) as usize);
        middle((from..=to).filter_map(|place| along(way, place)).collect())
    };
    let heights = [side(-1) - core, side(1) - core];
    let height = heights[0].min(heights[1]);
    if height <= 0.0 {
        return None;
    }
    // Over one cell of the plate's grid.
    let cell = STEPS as usize;
    let slope = |way: i64| {
        (0..(SLOPE_MM / step_mm) as usize)
            .filter_map(|place| Some(along(way, place + cell)? - along(way, place)?))
            .fold(0.0, f64::max)
            / (cell as f64 * step_mm)
    };
    let steepness = (slope(-1) / heights[0]).min(slope(1) / heights[1]);
    let half = core + 0.5 * height;
    let reach = |way: i64| {
        (1..profile.len())
            .take_while(|place| along(way, *place).is_some_and(|silver| silver < half))
            .count()
    };
    let width = (reach(-1) + reach(1) + 1) as f64 * step_mm;
    (steepness > 0.0).then(|| (width, 1.0 / steepness))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sharp_line_has_short_edges() {
        let step_mm = 0.02;
        let profile = |soft_mm: f64| -> Vec<f64> {
            (-30i32..=30)
                .map(|place| {
                    let off = (f64::from(place) * step_mm).abs() - 0.09;
                    0.5 - 0.3 * (0.5 - off / soft_mm).clamp(0.0, 1.0)
                })
                .collect()
        };
        let (width, edge) = read(&profile(0.06), step_mm).unwrap();
        assert!((width - 0.18).abs() < 0.03, "{width}");
        assert!((edge - 0.06).abs() < 0.02, "{edge}");
        let (_, soft) = read(&profile(0.16), step_mm).unwrap();
        assert!((soft - 0.16).abs() < 0.03, "{soft}");
    }
}
