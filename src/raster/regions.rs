//! Connected regions and shapes of masks.

use image::{GrayImage, Luma};
use imageproc::region_labelling::{Connectivity, connected_components};

use super::{Grid, Mask};

fn as_picture(mask: &Mask) -> GrayImage {
    let (rows, columns) = mask.dim();
    // A slice, where there is one, goes many cells at a time.
    let cells = match mask.as_slice() {
        Some(cells) => cells.iter().map(|set| u8::from(*set)).collect(),
        None => mask.iter().map(|set| u8::from(*set)).collect(),
    };
    GrayImage::from_raw(columns as u32, rows as u32, cells).unwrap_or_default()
}

/// Labels the connected regions of the marked cells: 0 where unmarked, else 1, 2, 3 ...
/// Cells that touch at a side or a corner belong together.
pub fn label(mask: &Mask) -> Grid<u32> {
    // Many masks are empty, which is soon seen.
    if !mask.iter().any(|set| *set) {
        return Grid::zeros(mask.dim());
    }
    let labels = connected_components(&as_picture(mask), Connectivity::Eight, Luma([0]));
    Grid::from_shape_vec(mask.dim(), labels.into_raw()).unwrap_or_default()
}

/// The marked cells that hang together (side by side) with a marked cell of the grid's outermost ring.
pub fn reached_from_rim(mask: &Mask) -> Mask {
    let (rows, columns) = mask.dim();
    let at_rim = |(i, j): (usize, usize)| i == 0 || j == 0 || i + 1 == rows || j + 1 == columns;
    reached_from(
        mask,
        mask.indexed_iter()
            .map(|(at, _)| at)
            .filter(|at| at_rim(*at)),
    )
}

/// The marked cells that hang together (side by side) with a marked one of `starts`; places beyond the
/// grid are no starts.
pub fn reached_from(mask: &Mask, starts: impl Iterator<Item = (usize, usize)>) -> Mask {
    let marked = |at: &(usize, usize)| mask.get(*at).copied().unwrap_or(false);
    let mut reached = Mask::from_elem(mask.dim(), false);
    let mut open: Vec<(usize, usize)> = starts.filter(marked).collect();
    for &at in &open {
        reached[at] = true;
    }
    while let Some((i, j)) = open.pop() {
        let sides = [
            (i.wrapping_sub(1), j),
            (i, j.wrapping_sub(1)),
            (i + 1, j),
            (i, j + 1),
        ];
        for at in sides {
            if marked(&at) && !reached[at] {
                reached[at] = true;
                open.push(at);
            }
        }
    }
    reached
}

/// Marked cells whose whole square neighbourhood of the given radius is marked (erosion); cells
/// beyond the grid count as marked.
pub fn erode(mask: &Mask, radius: usize) -> Mask {
    spread(mask, radius, false)
}

/// Cells with a marked cell in their square neighbourhood of the given radius (dilation).
pub fn dilate(mask: &Mask, radius: usize) -> Mask {
    spread(mask, radius, true)
}

/// First along the rows, then down the columns; in either way windows are built by doubling, whole rows of
/// cells at a time, so that the time does not hang on what the mask holds.
fn spread(mask: &Mask, radius: usize, value: bool) -> Mask {
    let (rows, columns) = mask.dim();
    let window = 2 * radius + 1;
    // Cells of the row that hold the value, with room for the window on both sides.
    let mut row = vec![false; columns + 2 * radius];
    let mut spare = row.clone();
    let mut across = vec![false; (rows + 2 * radius) * columns];
    for (from, to) in mask
        .rows()
        .into_iter()
        .zip(across[radius * columns..].chunks_exact_mut(columns.max(1)))
    {
        row.fill(false);
        for (cell, set) in row[radius..].iter_mut().zip(from) {
            *cell = *set == value;
        }
        any_in_windows(&mut row, &mut spare, window, 1);
        to.copy_from_slice(&row[..columns]);
    }
    let mut spare = across.clone();
    any_in_windows(&mut across, &mut spare, window, columns);
    across.truncate(rows * columns);
    for cell in &mut across {
        *cell = *cell == value;
    }
    // The cells are as many as the shape holds.
    Mask::from_shape_vec((rows, columns), across).unwrap_or_default()
}

/// Sets each cell where any of the `window` cells from it on, `step` apart, is set, as far as all of them
/// lie in the row; the others hold nothing of use.
fn any_in_windows(cells: &mut Vec<bool>, spare: &mut Vec<bool>, window: usize, step: usize) {
    // Windows of `length` cells, that twice as long, and at last one laid over the other.
    let mut length = 1;
    while length < window {
        let by = length.min(window - length);
        let whole = cells.len().saturating_sub(by * step);
        for ((out, near), far) in spare
            .iter_mut()
            .zip(&cells[..whole])
            .zip(&cells[by * step..])
        {
            *out = *near | *far;
        }
        std::mem::swap(cells, spare);
        length += by;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mask(rows: &[&str]) -> Mask {
        Mask::from_shape_fn((rows.len(), rows[0].len()), |(i, j)| {
            rows[i].as_bytes()[j] == b'#'
        })
    }

    #[test]
    fn regions_by_touch() {
        let labels = label(&mask(&["#..", ".#.", "...", "..#"]));
        assert_eq!(labels[[0, 0]], labels[[1, 1]]);
        assert_ne!(labels[[0, 0]], labels[[3, 2]]);
        assert_eq!(labels[[0, 2]], 0);
    }

    #[test]
    fn only_what_hangs_on_the_rim() {
        let reached = reached_from_rim(&mask(&["#....", "##...", "...#.", "....."]));
        assert!(reached[[1, 1]] && !reached[[2, 3]]);
    }

    #[test]
    fn growing_and_shrinking() {
        let m = mask(&[".....", ".....", "..#..", ".....", "....."]);
        let grown = dilate(&m, 1);
        assert_eq!(grown.iter().filter(|v| **v).count(), 9);
        assert_eq!(erode(&grown, 1), m);
    }

    #[test]
    fn spreading_is_any_or_all_of_the_neighbourhood() {
        let mut state = 7u32;
        let m = Mask::from_shape_fn((23, 31), |_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            state >> 28 == 0
        });
        for radius in [0, 1, 2, 3, 6, 40] {
            let (grown, shrunk) = (dilate(&m, radius), erode(&!&m, radius));
            for ((i, j), set) in grown.indexed_iter() {
                let near = |at: usize, by: usize| at.abs_diff(by) <= radius;
                let mut cells = m
                    .indexed_iter()
                    .filter(|((k, l), _)| near(i, *k) && near(j, *l));
                assert_eq!(*set, cells.any(|(_, set)| *set), "{radius}: {i} {j}");
                assert_eq!(shrunk[[i, j]], !set);
            }
        }
        assert!(dilate(&Mask::from_elem((0, 5), true), 2).is_empty());
        assert!(erode(&Mask::from_elem((5, 0), true), 2).is_empty());
    }
}
