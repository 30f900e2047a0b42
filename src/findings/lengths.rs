//! Lengths in titles and signs: millimetres, or shares of the plate's sides where no scale is known.

use crate::plate::{Edge, Plate, ScaleSource};

/// A side of the plate that lengths are told by when there is no scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Width,
    Height,
}

impl Side {
    /// The side that runs inward from an edge.
    pub(super) fn inward(edge: Edge) -> Side {
        match edge {
            Edge::Top | Edge::Bottom => Side::Height,
            Edge::Left | Edge::Right => Side::Width,
        }
    }

    /// The side that an edge lies along.
    pub(super) fn along(edge: Edge) -> Side {
        match Side::inward(edge) {
            Side::Width => Side::Height,
            Side::Height => Side::Width,
        }
    }

    fn word(self) -> &'static str {
        match self {
            Side::Width => "width",
            Side::Height => "height",
        }
    }
}

fn scaled(plate: &Plate) -> bool {
    plate.scale_source != ScaleSource::Unknown
}

fn per_cent(length_mm: f64, whole_mm: f64) -> f64 {
    match whole_mm > 0.0 {
        true => 100.0 * length_mm / whole_mm,
        false => 0.0,
    }
}

/// `7 mm`, or `10 % of the plate's width`; millimetres with so many decimals.
pub(super) fn length(plate: &Plate, length_mm: f64, decimals: usize, side: Side) -> String {
    if scaled(plate) {
        return format!("{length_mm:.decimals$} mm");
    }
    let whole_mm = match side {
        Side::Width => plate.width_mm,
        Side::Height => plate.height_mm,
    };
    let share = per_cent(length_mm, whole_mm);
    format!("{share:.decimals$} % of the plate's {}", side.word())
}

/// `82 of 83 mm`, or `99 % of the edge`.
pub(super) fn of_edge(plate: &Plate, length_mm: f64, edge_mm: f64) -> String {
    match scaled(plate) {
        true => format!("{length_mm:.0} of {edge_mm:.0} mm"),
        false => format!("{:.0} % of the edge", per_cent(length_mm, edge_mm)),
    }
}

/// `30 mm of the edge`, or `36 % of the edge`.
pub(super) fn stretch(plate: &Plate, length_mm: f64, edge_mm: f64) -> String {
    match scaled(plate) {
        true => format!("{length_mm:.0} mm of the edge"),
        false => of_edge(plate, length_mm, edge_mm),
    }
}
