//! Size, contrast and outline of a mark on the plate's own grid.

use super::heads::Head;
use super::{Nature, Speck, VISIBLE_D};
use crate::plate::Plate;
use crate::raster::Grid;
use crate::raster::stats::median;

/// Elongation that a mark has at least whose outline runs on past its ring.
const CUT_OFF: f64 = 1.7;

/// Measures the mark round a head; `None` at the rim of the grid or where it is too faint to see.
pub(super) fn measure(plate: &Plate, silver: &Grid<f32>, head: &Head) -> Option<Speck> {
    let sign = if head.more { 1.0 } else { -1.0 };
    let reach = (1.6 * head.ring).ceil() as usize + 2;
    let (rows, columns) = silver.dim();
    let (ci, cj) = (head.at[0] as usize, head.at[1] as usize);
    if ci < reach || cj < reach || ci + reach >= rows || cj + reach >= columns {
        return None;
    }
    let (top, left) = (ci - reach, cj - reach);
    let side = 2 * reach + 1;
    let at = |i: usize, j: usize| sign * f64::from(silver[[top + i, left + j]]);
    let away = |i: usize, j: usize| {
        ((top + i) as f64 + 0.5 - head.at[0]).hypot((left + j) as f64 + 0.5 - head.at[1])
    };
    let cells = || (0..side).flat_map(|i| (0..side).map(move |j| (i, j)));
    let mut ring: Vec<f64> = cells()
        .filter(|&(i, j)| (head.ring..1.5 * head.ring).contains(&away(i, j)))
        .map(|(i, j)| at(i, j))
        .collect();
    let ground = median(&mut ring)?;
    // The peak: strongest cell near the middle, averaged with its neighbours against grain.
    let (pi, pj) = cells()
        .filter(|&(i, j)| away(i, j) <= 0.6 * head.ring)
        .max_by(|&(a, b), &(c, d)| at(a, b).total_cmp(&at(c, d)))?;
    let block = |i: usize, j: usize| {
        let near = |k: usize| k.saturating_sub(1)..(k + 2).min(side);
        let values = near(i).flat_map(|a| near(j).map(move |b| (a, b)));
        let (sum, n) = values.fold((0.0, 0.0), |(s, n), (a, b)| (s + at(a, b), n + 1.0));
        sum / n
    };
    let peak = 0.5 * (block(pi, pj) + at(pi, pj));
    let half = ground + 0.5 * (peak - ground);
    let inside = flood((pi, pj), side, |i, j| {
        at(i, j) >= half && away(i, j) <= head.ring
    });
    let count = inside.len() as f64;
    let mean = |f: &dyn Fn(&(usize, usize)) -> f64| inside.iter().map(f).sum::<f64>() / count;
    let contrast = mean(&|&(i, j)| at(i, j)) - ground;
    if contrast < VISIBLE_D {
        return None;
    }
    // Strong tails reach the ring before they fall to half: the head is cut off there.
    let cut_off = inside.iter().any(|&(i, j)| away(i, j) > 0.9 * head.ring);
    let (mi, mj) = (mean(&|p| p.0 as f64), mean(&|p| p.1 as f64));
    let sii = mean(&|p| (p.0 as f64 - mi).powi(2)) + 1.0 / 12.0;
    let sjj = mean(&|p| (p.1 as f64 - mj).powi(2)) + 1.0 / 12.0;
    let sij = mean(&|p| (p.0 as f64 - mi) * (p.1 as f64 - mj));
    let spread = (0.25 * (sii - sjj).powi(2) + sij * sij).sqrt();
    let middle = 0.5 * (sii + sjj);
    let elongation = ((middle + spread) / (middle - spread).max(1e-6)).sqrt();
    let elongation = if cut_off {
        elongation.max(CUT_OFF)
    } else {
        elongation
    };
    let steepest = inside
        .iter()
        .flat_map(|&(i, j)| {
            [
                (i, j, 1, 0),
                (i, j, 0, 1),
                (i.wrapping_sub(1), j, 1, 0),
                (i, j.wrapping_sub(1), 0, 1),
            ]
        })
        .filter(|&(i, j, a, b)| i + a < side && j + b < side && i < side && j < side)
        .map(|(i, j, a, b)| (at(i + a, j + b) - at(i, j)).abs())
        .fold(0.0, f64::max);
    let p = plate.pitch_mm;
    let size_cells = 2.0 * (count / std::f64::consts::PI).sqrt();
    Some(Speck {
        centre_mm: [(left as f64 + mj + 0.5) * p, (top as f64 + mi + 0.5) * p],
        size_mm: size_cells * p,
        size_cells,
        contrast_d: sign * contrast,
        elongation,
        steepness: steepest / (p * (peak - ground).max(1e-6)),
        light: f64::from(plate.light[[top + pi, left + pj]]),
        expected_false_alarms: head.expected,
        tail: None,
        rays: Vec::new(),
        nature: Nature::Unsure,
    })
}

/// Cells that hang together with the first (side by side).
fn flood(
    from: (usize, usize),
    side: usize,
    belongs: impl Fn(usize, usize) -> bool,
) -> Vec<(usize, usize)> {
    let mut seen = vec![false; side * side];
    let mut open = vec![from];
    let mut inside = Vec::new();
    seen[from.0 * side + from.1] = true;
    while let Some((i, j)) = open.pop() {
        inside.push((i, j));
        let next = [
            (i.wrapping_sub(1), j),
            (i + 1, j),
            (i, j.wrapping_sub(1)),
            (i, j + 1),
        ];
        for (a, b) in next {
            if a < side && b < side && !seen[a * side + b] && belongs(a, b) {
                seen[a * side + b] = true;
                open.push((a, b));
            }
        }
    }
    inside
}
