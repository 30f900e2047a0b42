//! How near the searches for heads and for streaks come to the best possible ones, on an even ground.
//!
//! The best detector of a known shape in white noise is the matched filter: its signal to noise is
//! `contrast x ||shape|| / sd` (Kay, Fundamentals of Statistical Signal Processing II: Detection Theory,
//! 1998, section 4.3). It finds half of the shapes where that equals the normal quantile of its
//! false-alarm rate. It knows one size and one sign, so what it is held against is the search's one octave and
//! sign that finds the shape, which is given as many false alarms a plate; over all octaves and both signs the
//! search may have eight times as many.

use rayon::prelude::*;

use crate::measures::Line;
use crate::measures::bands::lines_alone;
use crate::measures::specks::{ALARMS_ALONE, heads_alone};
use crate::practice::maths;
use crate::raster::Grid;

/// Diameters of heads, millimetres.
const SIZES_MM: [f64; 3] = [0.1, 0.3, 1.0];

/// Cells of 600 to the inch, and cells a side: a plate of some 60 millimetres.
const PITCH_MM: f64 = 25.4 / 600.0;
const SIDE: usize = 1440;

/// Contrast at which the matched filter finds half, density: well above the eye's threshold, below
/// which nothing is looked for. The noise is made as strong as that takes.
const HALF_D: f64 = 0.1;

/// Contrasts tried, as ratios to it.
const RATIOS: [f64; 9] = [0.8, 1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.5, 3.0];

/// Discs of one size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EvenLimit {
    /// Diameter, millimetres.
    pub size_mm: f64,
    /// White noise of a cell, standard deviation, density.
    pub noise_d: f64,
    /// Share of discs found at each ratio of contrast to the matched filter's for half.
    pub found: [(f64, f64); RATIOS.len()],
    /// Ratio at which half are found; `None` beyond the last one tried.
    pub half: Option<f64>,
    /// Heads found on the same plates without discs.
    pub false_heads: usize,
}

/// Measures the search for each size, on plates of noise with discs a few millimetres apart.
pub fn even_limits() -> Vec<EvenLimit> {
    SIZES_MM.into_par_iter().map(limit).collect()
}

fn limit(size_mm: f64) -> EvenLimit {
    let diameter = size_mm / PITCH_MM;
    // So far apart that the discs are a few in a hundred of all extrema: what is common is texture.
    let step = (10.0 * diameter).max(120.0) as usize;
    let shape = disc(diameter);
    let norm = shape.iter().map(|v| v * v).sum::<f64>().sqrt();
    let cells = (SIDE * SIDE) as f64;
    let noise_d = HALF_D * norm / maths::normal_quantile(1.0 - ALARMS_ALONE / cells);
    let share = |ratio: f64| {
        let (grid, centres) = plate(&shape, step, ratio * HALF_D, noise_d);
        let heads = heads_alone(&grid, PITCH_MM);
        let near = |[y, x]: [f64; 2]| {
            heads
                .iter()
                .any(|at| (at[0] - y).hypot(at[1] - x) <= 0.5 * diameter + 1.5)
        };
        let found = centres.iter().filter(|centre| near(**centre)).count();
        found as f64 / centres.len() as f64
    };
    let found = RATIOS.map(|ratio| (ratio, share(ratio)));
    let (without, _) = plate(&shape, step, 0.0, noise_d);
    EvenLimit {
        size_mm,
        noise_d,
        found,
        half: half(&found),
        false_heads: heads_alone(&without, PITCH_MM).len(),
    }
}

/// Where a rising curve first reaches a half, between the points linearly.
fn half(curve: &[(f64, f64)]) -> Option<f64> {
    let at = curve.iter().position(|(_, share)| *share >= 0.5)?;
    let (x1, y1) = curve[at];
    let Some((x0, y0)) = at.checked_sub(1).map(|before| curve[before]) else {
        return Some(x1);
    };
    Some(x0 + (x1 - x0) * (0.5 - y0) / (y1 - y0))
}

/// A disc's share of each cell about its centre, which is the middle of a cell.
fn disc(diameter: f64) -> Grid<f64> {
    let reach = (0.5 * diameter).ceil() as i32;
    let side = (2 * reach + 1) as usize;
    let sub = 8;
    Grid::from_shape_fn((side, side), |(i, j)| {
        let inside = (0..sub * sub).filter(|k| {
            let part = |k: i32| (f64::from(k) + 0.5) / f64::from(sub) - 0.5;
            let (y, x) = (part(k / sub), part(k % sub));
            let (dy, dx) = (
                i as f64 + y - f64::from(reach),
                j as f64 + x - f64::from(reach),
            );
            dy.hypot(dx) <= 0.5 * diameter
        });
        inside.count() as f64 / f64::from(sub * sub)
    })
}

/// Noise with discs on a square lattice, and their centres as row and column.
fn plate(
    shape: &Grid<f64>,
    step: usize,
    contrast_d: f64,
    noise_d: f64,
) -> (Grid<f32>, Vec<[f64; 2]>) {
    let noise = maths::CellNormal::new(maths::sub_seed(1, "even limit"));
    let mut grid = Grid::from_shape_fn((SIDE, SIDE), |(i, j)| {
        noise_d as f32 * noise.at(j as i32, i as i32)
    });
    let reach = shape.nrows() / 2;
    let lattice = || (step / 2..SIDE - step / 2).step_by(step);
    let mut centres = Vec::new();
    for (y, x) in lattice().flat_map(|y| lattice().map(move |x| (y, x))) {
        for ((i, j), share) in shape.indexed_iter() {
            grid[[y + i - reach, x + j - reach]] += (contrast_d * share) as f32;
        }
        centres.push([y as f64 + 0.5, x as f64 + 0.5]);
    }
    (grid, centres)
}

/// Width of the streak, millimetres.
const STREAK_MM: f64 = 1.0;
/// Cells of the search for bands, millimetres, and cells a side: a plate of some 60 millimetres.
const BAND_PITCH_MM: f64 = 0.2;
const BAND_SIDE: usize = 300;
/// Plates of noise for each contrast, each with a streak of its own place, and without any.
const BAND_PLATES: u64 = 60;

/// One upright streak on an even plate, held against the matched filter for its width, axis and sign.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StreakLimit {
    /// Width, millimetres.
    pub width_mm: f64,
    /// Lines of its sign on a plate without any, which the matched filter is granted too.
    pub false_lines: f64,
    /// Share of streaks found at each ratio of contrast to the matched filter's for half.
    pub found: [(f64, f64); RATIOS.len()],
    /// Ratio at which half are found; `None` beyond the last one tried.
    pub half: Option<f64>,
}

/// Measures the search for bands with one streak on each of many plates of noise.
pub fn streak_limit() -> StreakLimit {
    let with = |contrast_d: f64, noise_d: f64| -> Vec<Option<usize>> {
        let plates = (0..BAND_PLATES).into_par_iter();
        plates
            .map(|plate| lines_on(plate, contrast_d, noise_d))
            .collect()
    };
    // Of its sign, and no search is credited with less than this many plates show.
    let without = with(0.0, HALF_D).into_iter().flatten().sum::<usize>() as f64;
    let false_lines = without.max(1.0) / BAND_PLATES as f64;
    let norm = (STREAK_MM / BAND_PITCH_MM * BAND_SIDE as f64).sqrt();
    let noise_d = HALF_D * norm / maths::normal_quantile(1.0 - false_lines / BAND_SIDE as f64);
    let share = |ratio: f64| {
        let found = with(ratio * HALF_D, noise_d)
            .into_iter()
            .filter(Option::is_none);
        found.count() as f64 / BAND_PLATES as f64
    };
    let found = RATIOS.map(|ratio| (ratio, share(ratio)));
    StreakLimit {
        width_mm: STREAK_MM,
        false_lines,
        found,
        half: half(&found),
    }
}

/// `None` where a plate's streak is found, otherwise how many lines of its sign hold elsewhere.
fn lines_on(plate: u64, contrast_d: f64, noise_d: f64) -> Option<usize> {
    let noise = maths::CellNormal::new(maths::sub_seed(plate, "streak limit"));
    // Away from the sides, another cell on each plate.
    let middle = 60 + (37 * plate as usize) % (BAND_SIDE - 120);
    let half_width = (0.5 * STREAK_MM / BAND_PITCH_MM) as usize;
    let silver = Grid::from_shape_fn((BAND_SIDE, BAND_SIDE), |(i, j)| {
        let streak = if j.abs_diff(middle) <= half_width {
            contrast_d
        } else {
            0.0
        };
        Some(streak + noise_d * f64::from(noise.at(j as i32, i as i32)))
    });
    let more = |line: &Line| line.sign > 0.0;
    let lines: Vec<Line> = lines_alone(&silver, BAND_PITCH_MM)
        .into_iter()
        .filter(more)
        .collect();
    let at_mm = (middle as f64 + 0.5) * BAND_PITCH_MM;
    let found = lines
        .iter()
        .any(|line| (line.middle_mm[0] - at_mm).abs() <= STREAK_MM);
    (contrast_d == 0.0 || !found).then_some(lines.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_lies_between_the_points() {
        assert_eq!(half(&[(1.0, 0.2), (2.0, 0.6)]), Some(1.75));
        assert_eq!(half(&[(1.0, 0.2)]), None);
    }

    #[test]
    fn half_of_the_streaks_are_found_within_twice_the_matched_filters_contrast() {
        let limit = streak_limit();
        assert!(limit.half.is_some_and(|half| half <= 2.0), "{limit:?}");
    }

    #[test]
    fn half_of_the_discs_are_found_within_twice_the_matched_filters_contrast() {
        for limit in even_limits() {
            assert!(limit.half.is_some_and(|half| half <= 2.0), "{limit:?}");
            assert!(limit.false_heads <= 2, "{limit:?}");
        }
    }
}
