//! The cells of one border that are surely its own.

use std::ops::Range;

use crate::plate::{Edge, Ledge};

// What follows is our own choice; the table of shapes (`practice accuracy --about shapes`) would notice a change.

/// Left out at the border's outer rim and at the half shadow of the ledge, millimetres.
const OUTER_MM: f64 = 0.3;
/// See [`OUTER_MM`].
const HALF_SHADOW_MM: f64 = 0.6;
/// Past the ledge by so much lies the picture, millimetres; where a support stands, its end draws a line of its own.
const PAST_MM: f64 = 1.0;

/// Where one border lies in a grid of the whole plate, by depth from the edge and place along it.
pub(super) struct Border {
    edge: Edge,
    /// Cells from the edge to the one opposite.
    deep: usize,
    /// Cells along the edge.
    pub(super) along: usize,
    /// From the edge inward, cells.
    pub(super) depths: Range<usize>,
    past: usize,
}

impl Border {
    /// `is_border` tells it of a cell of the grid; `None` where the edge shows no ledge.
    pub(super) fn of(
        ledge: &Ledge,
        (rows, columns): (usize, usize),
        is_border: impl Fn([usize; 2]) -> bool,
        pitch_mm: f64,
        edge: Edge,
    ) -> Option<Border> {
        if ledge.assumed[edge as usize] {
            return None;
        }
        let ledge_mm = ledge.width_mm[edge as usize]?;
        let (deep, along) = match edge {
            Edge::Top | Edge::Bottom => (rows, columns),
            Edge::Left | Edge::Right => (columns, rows),
        };
        let mut border = Border {
            edge,
            deep,
            along,
            depths: 0..(((ledge_mm - HALF_SHADOW_MM) / pitch_mm) as usize).min(deep),
            past: ((ledge_mm + PAST_MM) / pitch_mm) as usize,
        };
        let mostly = |depth: &usize| {
            let known = (0..along).filter(|k| is_border(border.cell(*depth, *k)));
            2 * known.count() > along
        };
        let first = border.depths.clone().find(mostly)?;
        border.depths.start = first + (OUTER_MM / pitch_mm).round() as usize;
        (border.past < deep).then_some(border)
    }

    /// The cell of the grid, row and column.
    pub(super) fn cell(&self, depth: usize, along: usize) -> [usize; 2] {
        match self.edge {
            Edge::Top => [depth, along],
            Edge::Bottom => [self.deep - 1 - depth, along],
            Edge::Left => [along, depth],
            Edge::Right => [along, self.deep - 1 - depth],
        }
    }

    /// The cell where the picture lies; where it is border, a support stands.
    pub(super) fn past(&self, along: usize) -> [usize; 2] {
        self.cell(self.past, along)
    }

    /// From the grid's first row or column to the border's own first.
    pub(super) fn first(&self) -> usize {
        match self.edge {
            Edge::Top | Edge::Left => self.depths.start,
            Edge::Bottom | Edge::Right => self.deep - self.depths.end,
        }
    }

    /// Depths as they follow each other from the grid's first row or column on.
    pub(super) fn in_order(&self) -> Vec<usize> {
        match self.edge {
            Edge::Top | Edge::Left => self.depths.clone().collect(),
            Edge::Bottom | Edge::Right => self.depths.clone().rev().collect(),
        }
    }
}
