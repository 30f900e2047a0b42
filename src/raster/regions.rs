//! Connected regions and shapes of masks.

use image::{GrayImage, Luma};
use imageproc::region_labelling::{Connectivity, connected_components};

use super::{Grid, Mask};

fn as_picture(mask: &Mask) -> GrayImage {
    let (rows, columns) = mask.dim();
    GrayImage::from_fn(columns as u32, rows as u32, |x, y| {
        Luma([u8::from(mask[[y as usize, x as usize]])])
    })
}

/// Labels the connected regions of the marked cells: 0 where unmarked, else 1, 2, 3 ...
/// Cells that touch at a side or a corner belong together.
pub fn label(mask: &Mask) -> Grid<u32> {
    let (rows, columns) = mask.dim();
    let labels = connected_components(&as_picture(mask), Connectivity::Eight, Luma([0]));
    Grid::from_shape_fn((rows, columns), |(i, j)| {
        labels.get_pixel(j as u32, i as u32).0[0]
    })
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

/// Each cell is written at most once a pass, however far values spread.
fn spread(mask: &Mask, radius: usize, value: bool) -> Mask {
    let (rows, columns) = mask.dim();
    let mut across = mask.as_standard_layout().into_owned();
    for (from, mut to) in mask.rows().into_iter().zip(across.rows_mut()) {
        let mut written = 0;
        for (j, _) in from.iter().enumerate().filter(|(_, set)| **set == value) {
            for k in j.saturating_sub(radius).max(written)..(j + radius + 1).min(columns) {
                to[k] = value;
            }
            written = j + radius + 1;
        }
    }
    let mut both = across.clone();
    let mut written = vec![0; columns];
    for (i, row) in across.rows().into_iter().enumerate() {
        for (j, _) in row.iter().enumerate().filter(|(_, set)| **set == value) {
            for k in i.saturating_sub(radius).max(written[j])..(i + radius + 1).min(rows) {
                both[[k, j]] = value;
            }
            written[j] = i + radius + 1;
        }
    }
    both
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
}
