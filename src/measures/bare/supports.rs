//! The holder's supports: what stands in the corners of the opening, alike in each of them.
//!
//! What it means: the plate rests on four supports that keep light from it as the ledge does. Nothing but their
//! likeness to each other tells them from corners that the collodion did not cover.
//! Input: silver of the plate and the cells inside the opening. Output: the cells that supports take.
//! Doubtful when: three corners of a scene are dark alike.

use super::{BarePlace, Window, bounds_of};
use crate::handling::Corner;
use crate::raster::regions::dilate;
use crate::raster::stats::median;
use crate::raster::{Grid, Mask};

/// How far from the corners the holder's supports may reach, millimetres (from memory of the trade).
pub(super) const SUPPORT_MM: f64 = 9.0;
/// A place is no support where it is this many times as large as what stands in any other corner.
const UNLIKE_OTHERS: f64 = 1.8;
/// In how many of the other corners a support is seen at least: fog lies over some, a bare corner over one.
pub(super) const OTHER_CORNERS: usize = 2;
/// The corner itself, millimetres along both edges: a support covers it wholly.
const TIP_MM: f64 = 1.2;
/// Least rise of silver from the corner itself to the open plate for a support, density. Our own choice.
const LEAST_RISE_D: f64 = 0.03;
/// Supports count so much larger than the others show them, millimetres: ledges are seldom equally wide.
const ROOM_MM: f64 = 0.5;

/// Cells of the opening that a support takes, by what the other corners show.
pub(super) fn supports(silver: &Grid<f32>, within: &Mask, pitch_mm: f64) -> Mask {
    let mut found = Mask::from_elem(within.dim(), false);
    let Some(bounds) = bounds_of(within) else {
        return found;
    };
    let [top, left, bottom, right] = bounds;
    let reach = (SUPPORT_MM / pitch_mm) as usize;
    let shape = (reach.min((bottom - top) / 2), reach.min((right - left) / 2));
    let corners = [[false, false], [false, true], [true, false], [true, true]];
    let dark: Vec<Mask> = corners
        .iter()
        .map(|corner| {
            dark(
                silver,
                within,
                |at| cell(bounds, *corner, at),
                shape,
                pitch_mm,
            )
        })
        .collect();
    for (own, corner) in corners.iter().enumerate() {
        for at in ndarray::indices(shape) {
            let others = dark.iter().enumerate();
            let seen = others.filter(|(other, dark)| *other != own && dark[at]);
            if seen.count() >= OTHER_CORNERS {
                found[cell(bounds, *corner, at)] = true;
            }
        }
    }
    dilate(&found, (ROOM_MM / pitch_mm).round() as usize)
}

/// The cell so many rows and columns in from a corner, which lies below and to the right as told.
fn cell(
    [top, left, bottom, right]: Window,
    [below, beyond]: [bool; 2],
    (down, across): (usize, usize),
) -> [usize; 2] {
    [
        if below { bottom - 1 - down } else { top + down },
        if beyond {
            right - 1 - across
        } else {
            left + across
        },
    ]
}

/// What is nearer to the silver of a corner's tip than to that of the plate around, where the tip is darker.
fn dark(
    silver: &Grid<f32>,
    within: &Mask,
    cell: impl Fn((usize, usize)) -> [usize; 2],
    shape: (usize, usize),
    pitch_mm: f64,
) -> Mask {
    let tip = (TIP_MM / pitch_mm).ceil() as usize;
    let (rows, columns) = shape;
    let level = |counts: &dyn Fn((usize, usize)) -> bool| {
        let cells = ndarray::indices(shape).into_iter();
        let counted = cells.filter(|at| counts(*at)).map(&cell);
        let mut values: Vec<f64> = counted
            .filter(|at| within[*at])
            .map(|at| f64::from(silver[at]))
            .collect();
        median(&mut values)
    };
    let at_tip = level(&|(down, across)| down < tip && across < tip);
    let open = level(&|(down, across)| down * columns + across * rows > rows * columns);
    match at_tip.zip(open) {
        Some((at_tip, open)) if open - at_tip >= LEAST_RISE_D => {
            let limit = 0.5 * (at_tip + open);
            Mask::from_shape_fn(shape, |at| {
                let at = cell(at);
                !within[at] || f64::from(silver[at]) < limit
            })
        }
        _ => Mask::from_elem(shape, false),
    }
}

/// Whether a place stands where a support may.
pub(super) fn in_corner(place: &BarePlace, size_mm: [f64; 2]) -> bool {
    let [x0, y0, x1, y1] = place.box_mm;
    let near = |from: f64, to: f64, size: f64| from < SUPPORT_MM || to > size - SUPPORT_MM;
    place.corner.is_some() && near(x0, x1, size_mm[0]) && near(y0, y1, size_mm[1])
}

/// Leaves out the places in the corners that others are like, but those that reach beyond their support.
pub(super) fn without_supports(
    places: Vec<(BarePlace, bool)>,
    may_stand: bool,
    size_mm: [f64; 2],
) -> Vec<BarePlace> {
    let corners: Vec<(Corner, f64)> = places
        .iter()
        .filter(|(place, _)| in_corner(place, size_mm))
        .filter_map(|(place, _)| Some((place.corner?, place.area_mm2)))
        .collect();
    let is_support = |place: &BarePlace| {
        let others = corners.iter();
        let mut others = others.filter(|(corner, _)| Some(*corner) != place.corner);
        in_corner(place, size_mm) && others.any(|(_, area)| place.area_mm2 <= UNLIKE_OTHERS * area)
    };
    let kept = places.into_iter();
    let kept = kept.filter(|(place, beyond)| !may_stand || *beyond || !is_support(place));
    kept.map(|(place, _)| place).collect()
}
