//! Follows a piece of a line at both ends.

use std::collections::VecDeque;

use super::pieces::{Piece, ROWS};
use super::response::Response;
use super::{middle, straight};
use crate::raster::Mask;

/// Places that say where the line goes next.
const MEMORY: usize = 40;
/// Rows over which half must show the line, or it has ended.
const LOOK: usize = 24;
/// Steepest lean that is followed, columns a row: what is flatter is followed the other way.
const STEEPEST: f64 = 1.6;
/// Least strength that shows the line.
const SHOWS: f32 = 0.5;
/// Least share of the piece's own contrast that shows the line farther on: it may run over less silver.
const SHOWS_SHARE: f32 = 0.2;
/// Cells to either side that a followed line takes.
const TAKEN: usize = 3;
/// Shortest trace, cells.
const SHORTEST: f64 = 47.0;

/// A line followed from end to end.
pub(super) struct Trace {
    /// `[row, column]` in cells, row after row, where the line shows.
    pub(super) points: Vec<[f64; 2]>,
    /// Share of the rows from end to end that show it.
    pub(super) hits: f64,
}

/// Follows every piece that no stronger one has followed already.
pub(super) fn traces(response: &Response, pieces: Vec<Piece>) -> Vec<Trace> {
    let mut taken = Mask::from_elem(response.strength.dim(), false);
    pieces
        .into_iter()
        .filter_map(|piece| {
            let trace = follow(response, &piece, &taken)?;
            let columns = taken.ncols();
            for [y, x] in &trace.points {
                let x = x.round() as usize;
                for j in x.saturating_sub(TAKEN)..=(x + TAKEN).min(columns - 1) {
                    taken[[*y as usize, j]] = true;
                }
            }
            let ([y0, x0], [y1, x1]) = (trace.points[0], trace.points[trace.points.len() - 1]);
            ((y1 - y0).hypot(x1 - x0) >= SHORTEST).then_some(trace)
        })
        .collect()
}

fn follow(response: &Response, piece: &Piece, taken: &Mask) -> Option<Trace> {
    let mut points: Vec<[f64; 2]> = Vec::new();
    let mut contrasts: Vec<f64> = Vec::new();
    let [top, bottom] = piece.ends;
    let mut old = 0;
    for i in 0..ROWS {
        let x = top + (bottom - top) * i as f64 / (ROWS - 1) as f64;
        let row = piece.row + i;
        if let Some(x) = shows(response, row, x, 0.0) {
            let at = [row, x.round() as usize];
            old += usize::from(taken[at]);
            contrasts.push(f64::from(response.contrast_d[at]));
            points.push([row as f64, x]);
        }
    }
    if points.len() < ROWS / 2 || 3 * old > points.len() {
        return None;
    }
    let least_d = SHOWS_SHARE * middle(contrasts) as f32;
    let last = response.strength.nrows();
    run_on(response, &mut points, least_d, piece.row + ROWS..last);
    points.reverse();
    run_on(response, &mut points, least_d, (0..piece.row).rev());
    points.reverse();
    let span = points[points.len() - 1][0] - points[0][0] + 1.0;
    Some(Trace {
        hits: points.len() as f64 / span,
        points,
    })
}

/// Goes on from the last of the points over further rows, until the line no longer shows.
fn run_on(
    response: &Response,
    points: &mut Vec<[f64; 2]>,
    least_d: f32,
    rows: impl Iterator<Item = usize>,
) {
    let mut recent = VecDeque::from(vec![true; LOOK]);
    for row in rows {
        let near = &points[points.len().saturating_sub(MEMORY)..];
        let Some((at_zero, slope)) = straight(near).filter(|(_, slope)| slope.abs() <= STEEPEST)
        else {
            return;
        };
        let x = at_zero + slope * row as f64;
        if x < 2.0 || x > response.strength.ncols() as f64 - 3.0 {
            return;
        }
        let shown = shows(response, row, x, least_d);
        points.extend(shown.map(|x| [row as f64, x]));
        recent.pop_front();
        recent.push_back(shown.is_some());
        if 2 * recent.iter().filter(|shown| **shown).count() < LOOK {
            return;
        }
    }
}

/// Where the line shows in a row, within a cell of where it should, finer than cells.
fn shows(response: &Response, row: usize, x: f64, least_d: f32) -> Option<f64> {
    let columns = response.strength.ncols();
    let column = x.round() as i64;
    let contrast = |j: usize| response.contrast_d[[row, j]];
    let best = (column - 1..=column + 1)
        .filter_map(|j| usize::try_from(j).ok())
        .filter(|j| *j >= 1 && j + 1 < columns)
        .filter(|j| response.strength[[row, *j]] > SHOWS && contrast(*j) > least_d)
        .max_by(|a, b| contrast(*a).total_cmp(&contrast(*b)))?;
    let (before, own, after) = (contrast(best - 1), contrast(best), contrast(best + 1));
    let bend = before - 2.0 * own + after;
    let off = match bend < -1e-6 {
        true => (0.5 * (before - after) / bend).clamp(-0.5, 0.5),
        false => 0.0,
    };
    Some(best as f64 + f64::from(off))
}
