//! The holder's supports: what stands in the corners of the opening, alike in each of them.
//!
//! What it means: the plate rests on four supports that keep light from it as the ledge does. Nothing but their
//! likeness to each other tells them from corners that the collodion did not cover.
//! Input: silver of the plate and the cells inside the opening. Output: the cells that supports take.
//! Doubtful when: three corners of a scene are dark alike.

use super::{BarePlace, Window, bounds_of};
use crate::handling::Corner;
use crate::raster::regions::{dilate, reached_from};
use crate::raster::stats::median;
use crate::raster::{Grid, Mask};

/// How far from the corners the holder's supports may reach, millimetres (from memory of the trade).
pub(super) const SUPPORT_MM: f64 = 9.0;
/// A place is no support where it is this many times as large as what stands in any other corner.
pub(super) const UNLIKE_OTHERS: f64 = 1.8;
/// In how many of the other corners a support is seen at least: fog lies over some, a bare corner over one.
pub(super) const OTHER_CORNERS: usize = 2;
/// The corner itself, millimetres along both edges: a support covers it wholly.
const TIP_MM: f64 = 1.2;
/// Least rise of silver from the corner itself to the open plate for a support, density. Our own choice.
const LEAST_RISE_D: f64 = 0.03;
/// Supports count so much larger than the others show them, millimetres: ledges are seldom equally wide.
const ROOM_MM: f64 = 0.5;

/// How far from the corners a bare place may reach, millimetres.
const BARE_MM: f64 = 15.0;
/// What lies so near to the ledge's line is as dark as what lies beside it farther in, cells: half shadow.
const OFF_CELLS: usize = 2;

/// Supports are as much larger than the others show them: ledges are found to about a cell.
const ROOM_CELLS: usize = 1;

/// Corners whose tips differ by more than this are not compared, density: fog lies over one of them, so that less of
/// its support is dark.
const ALIKE_D: f64 = 0.05;

/// A corner that is dark farther in than the support there is.
pub(super) struct Beyond {
    /// All of it that hangs together, cells of the plate.
    pub(super) dark: Mask,
    /// How much of it lies beyond what the other corners show, less the most that any of those does: a ledge that
    /// was found a little off makes two corners so. Square millimetres.
    pub(super) mm2: f64,
}

/// Corners of an even plate that are dark beyond the support there is, as the others show it; `within` reaches to the
/// ledge's own line. None where a support stands in one of the others and not in enough of them.
pub(super) fn beyond_supports(silver: &Grid<f32>, within: &Mask, pitch_mm: f64) -> Vec<Beyond> {
    let Some(corners) = Corners::of(silver, within, BARE_MM, pitch_mm) else {
        return Vec::new();
    };
    let all = corners.whole();
    let past = |own: usize| {
        let tips_d = |other: usize| corners.tips_d[own].zip(corners.tips_d[other]);
        let is_alike = |other| tips_d(other).is_some_and(|(a, b)| (a - b).abs() <= ALIKE_D);
        let alike: [Mask; 4] = std::array::from_fn(|other| match is_alike(other) {
            true => all[other].clone(),
            false => Mask::from_elem(corners.shape, false),
        });
        let support = Mask::from_shape_fn(corners.shape, |at| in_others(&alike, own, at));
        let room = dilate(&support, ROOM_CELLS);
        let past = all[own]
            .indexed_iter()
            .filter(|(at, set)| **set && !room[*at]);
        // Either enough of the others show the support, or none of them shows any: where one or two do, fog may
        // lie over the rest, and this may be one more.
        let is_dark = |of: &Mask| of.first().is_some_and(|tip| *tip);
        let none_stands = (0..CORNERS.len()).all(|other| other == own || !is_dark(&all[other]));
        let cells = match is_dark(&support) || none_stands {
            true => past.count(),
            false => 0,
        };
        cells as f64 * pitch_mm * pitch_mm
    };
    let past_mm2 = [0, 1, 2, 3].map(past);
    let beyond = |own: usize| {
        let others = (0..CORNERS.len()).filter(|other| *other != own);
        let mm2 = past_mm2[own] - others.map(|other| past_mm2[other]).fold(0.0, f64::max);
        let mut dark = Mask::from_elem(within.dim(), false);
        for (at, _) in all[own].indexed_iter().filter(|(_, set)| **set) {
            dark[cell(corners.bounds, CORNERS[own], at)] = true;
        }
        (mm2 > 0.0).then_some(Beyond { dark, mm2 })
    };
    (0..CORNERS.len()).filter_map(beyond).collect()
}

/// Below and beyond the middle or not.
const CORNERS: [[bool; 2]; 4] = [[false, false], [false, true], [true, false], [true, true]];

/// What is dark in each of the corners, in the corner's own frame.
struct Corners {
    bounds: Window,
    shape: (usize, usize),
    /// In the order of [`CORNERS`].
    dark: [Mask; 4],
    /// Silver of the tips in that order, density.
    tips_d: [Option<f64>; 4],
    /// The same of the plate around.
    open_d: [Option<f64>; 4],
}

impl Corners {
    fn of(silver: &Grid<f32>, within: &Mask, reach_mm: f64, pitch_mm: f64) -> Option<Corners> {
        let bounds = bounds_of(within)?;
        let [top, left, bottom, right] = bounds;
        let reach = (reach_mm / pitch_mm) as usize;
        let shape = (reach.min((bottom - top) / 2), reach.min((right - left) / 2));
        let told = CORNERS.map(|corner| {
            let cell = |at| cell(bounds, corner, at);
            dark(silver, within, cell, shape, pitch_mm)
        });
        let tips_d = told.each_ref().map(|told| told.tip_d);
        let open_d = told.each_ref().map(|told| told.open_d);
        Some(Corners {
            bounds,
            shape,
            dark: told.map(|told| told.dark),
            tips_d,
            open_d,
        })
    }

    /// All that hangs together with each tip; what lies along the ledge's line is as what lies beside it farther in.
    fn whole(&self) -> [Mask; 4] {
        let off_line = |of: &Mask| {
            let far = |at: usize, size: usize| at.max(OFF_CELLS.min(size - 1));
            Mask::from_shape_fn(of.dim(), |(i, j)| {
                of[(far(i, of.nrows()), far(j, of.ncols()))]
            })
        };
        let whole = |dark: &Mask| reached_from(&off_line(dark), std::iter::once((0, 0)));
        self.dark.each_ref().map(whole)
    }
}

/// The most that a support takes of each corner, as the others show it, square millimetres, in the order of
/// [`Corner::ALL`]; `None` where they do not tell. `comparable` are corners, in that order, at which both edges show the
/// ledge: supports are alike there. Where it is cut away they are cut unlike, but along one edge alike: only what is dark
/// beyond both its neighbours is told.
pub(super) fn support_mm2(
    silver: &Grid<f32>,
    within: &Mask,
    pitch_mm: f64,
    comparable: [bool; 4],
) -> [Option<f64>; 4] {
    let Some(corners) = Corners::of(silver, within, BARE_MM, pitch_mm) else {
        return [None; 4];
    };
    let all = corners.whole();
    let mm2 = |cells: usize| cells as f64 * pitch_mm * pitch_mm;
    let sizes = all
        .each_ref()
        .map(|dark| mm2(dark.iter().filter(|set| **set).count()));
    let reach = |dark: &Mask| bounds_of(dark).map_or([0, 0], |[_, _, down, across]| [down, across]);
    let room = (CROPPED_ROOM_MM / pitch_mm).round() as usize;
    let [top_left, top_right, bottom_right, bottom_left] = comparable;
    let comparable = [top_left, top_right, bottom_left, bottom_right];
    let most = |own: usize| {
        // Beside a dark thing of the scene a support shows as little as none at all.
        let bright_d = 0.5 * (corners.tips_d[own]? + corners.open_d[own]?);
        let shows = |other: &usize| {
            sizes[*other] > 0.0 || corners.open_d[*other].is_some_and(|d| d >= bright_d)
        };
        let others: Vec<usize> = (0..CORNERS.len())
            .filter(|other| *other != own)
            .filter(shows)
            .collect();
        if others.len() < OTHER_CORNERS {
            return None;
        }
        let alike: Vec<usize> = others
            .iter()
            .copied()
            .filter(|other| comparable[own] && comparable[*other])
            .collect();
        if alike.is_empty() {
            // Next along the same upright edge, and along the same level one.
            let ([_, across], [down, _]) = (reach(&all[own ^ 2]), reach(&all[own ^ 1]));
            let cells = all[own].indexed_iter().filter(|(_, set)| **set);
            let beyond = cells.filter(|((i, j), _)| *i >= down + room || *j >= across + room);
            if mm2(beyond.count()) < CROPPED_BEYOND_MM2 {
                return None;
            }
        }
        let compared = if alike.is_empty() { others } else { alike };
        let sizes = compared.into_iter().map(|other| sizes[other]);
        Some(sizes.fold(LEAST_SUPPORT_MM2, f64::max))
    };
    // As corners go round.
    [0, 1, 3, 2].map(most)
}

/// Supports of a cropped scan may be so much larger than those along the same edges, millimetres: crops are a little
/// aslant. Our own choice, as the two below.
const CROPPED_ROOM_MM: f64 = 1.5;
/// A corner of a cropped scan is no support where so much lies beyond.
const CROPPED_BEYOND_MM2: f64 = 4.0;
/// Smallest support that is reckoned with, square millimetres.
const LEAST_SUPPORT_MM2: f64 = 2.0;

/// Whether enough of the other corners are dark there.
fn in_others(dark: &[Mask; 4], own: usize, at: (usize, usize)) -> bool {
    let others = dark.iter().enumerate();
    let seen = others.filter(|(other, dark)| *other != own && dark[at]);
    seen.count() >= OTHER_CORNERS
}

/// Cells of the opening that a support takes, by what the other corners show.
pub(super) fn supports(silver: &Grid<f32>, within: &Mask, pitch_mm: f64) -> Mask {
    let mut found = Mask::from_elem(within.dim(), false);
    let Some(Corners {
        bounds,
        shape,
        dark,
        ..
    }) = Corners::of(silver, within, SUPPORT_MM, pitch_mm)
    else {
        return found;
    };
    for (own, corner) in CORNERS.iter().enumerate() {
        for at in ndarray::indices(shape) {
            if in_others(&dark, own, at) {
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

/// What one corner shows.
struct Told {
    /// What is nearer to the silver of its tip than to that of the plate around, where the tip is darker.
    dark: Mask,
    /// Silver of the tip and of the plate around, density.
    tip_d: Option<f64>,
    /// See `tip_d`.
    open_d: Option<f64>,
}

/// What the corner shows whose cells `cell` tells, so many rows and columns in from it.
fn dark(
    silver: &Grid<f32>,
    within: &Mask,
    cell: impl Fn((usize, usize)) -> [usize; 2],
    shape: (usize, usize),
    pitch_mm: f64,
) -> Told {
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
    let dark = match at_tip.zip(open) {
        Some((at_tip, open)) if open - at_tip >= LEAST_RISE_D => {
            let limit = 0.5 * (at_tip + open);
            Mask::from_shape_fn(shape, |at| {
                let at = cell(at);
                !within[at] || f64::from(silver[at]) < limit
            })
        }
        _ => Mask::from_elem(shape, false),
    };
    Told {
        dark,
        tip_d: at_tip,
        open_d: open,
    }
}

/// Whether a place stands where a support may.
pub(super) fn in_corner(place: &BarePlace, size_mm: [f64; 2]) -> bool {
    let [x0, y0, x1, y1] = place.box_mm;
    let near = |from: f64, to: f64, size: f64| from < SUPPORT_MM || to > size - SUPPORT_MM;
    place.corner.is_some() && near(x0, x1, size_mm[0]) && near(y0, y1, size_mm[1])
}

/// What one look shows.
#[derive(Default)]
pub(super) struct Places {
    /// Places that may be bare.
    pub(super) bare: Vec<BarePlace>,
    /// Corners in which a support of the holder stands and nothing lies beyond it.
    pub(super) supports: Vec<Corner>,
}

/// How a place stands to the holder's supports.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Stands {
    Alone,
    BeyondSupport,
    AsSupport,
}

/// Takes the supports out of the places, and the places in the corners that others are like, but those that reach
/// beyond their support.
pub(super) fn told_from_supports(
    places: Vec<(BarePlace, Stands)>,
    may_stand: bool,
    size_mm: [f64; 2],
) -> Places {
    let (supports, mut places): (Vec<_>, Vec<_>) = places
        .into_iter()
        .partition(|(_, stands)| *stands == Stands::AsSupport);
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
    places.retain(|(place, stands)| {
        !may_stand || *stands == Stands::BeyondSupport || !is_support(place)
    });
    Places {
        bare: places.into_iter().map(|(place, _)| place).collect(),
        supports: supports
            .into_iter()
            .filter_map(|(place, _)| place.corner)
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Square supports of 5 mm in the corners of an opening of 60 by 50 mm in cells of 0.2 mm, and what else is dark.
    fn beyond(dark: impl Fn(f64, f64) -> bool) -> Vec<f64> {
        let (rows, columns) = (250, 300);
        let silver = Grid::from_shape_fn((rows, columns), |(i, j)| {
            let (x, y) = (0.2 * (j as f64 + 0.5), 0.2 * (i as f64 + 0.5));
            let support = x.min(60.0 - x) < 5.0 && y.min(50.0 - y) < 5.0;
            if support || dark(x, y) { 0.0 } else { 0.7 }
        });
        let within = Mask::from_elem((rows, columns), true);
        let found = beyond_supports(&silver, &within, 0.2);
        found.iter().map(|corner| corner.mm2).collect()
    }

    #[test]
    fn what_is_bare_beside_a_square_support_is_told_by_its_shape() {
        assert!(beyond(|_, _| false).is_empty());
        // A slanting line past the support's own corner leaves a piece on either side of it.
        let [mm2] = beyond(|x, y| x + y < 10.5)[..] else {
            panic!("one corner");
        };
        // Two triangles of 5.5 mm, less what lies within a cell of the support.
        assert!(
            mm2 > 2.0 * 15.1 - 2.0 * 5.5 * 0.3 - 1.0 && mm2 < 2.0 * 15.2,
            "{mm2}"
        );
    }

    /// The most that a support takes of each corner where dark rectangles stand in them, clockwise from the top left,
    /// and perhaps a dark thing at the bottom.
    fn most(sides_mm: [[f64; 2]; 4], thing: bool, ledges: bool) -> [Option<f64>; 4] {
        let [top_left, top_right, bottom_right, bottom_left] = sides_mm;
        let silver = Grid::from_shape_fn((250, 300), |(i, j)| {
            let (x, y) = (0.2 * (j as f64 + 0.5), 0.2 * (i as f64 + 0.5));
            let [across, down] = match (x < 30.0, y < 25.0) {
                (true, true) => top_left,
                (false, true) => top_right,
                (false, false) => bottom_right,
                (true, false) => bottom_left,
            };
            let dark = x.min(60.0 - x) < across && y.min(50.0 - y) < down;
            if dark || (thing && y > 30.0) {
                0.0
            } else {
                0.7
            }
        });
        let within = Mask::from_elem((250, 300), true);
        support_mm2(&silver, &within, 0.2, [ledges; 4])
    }

    #[test]
    fn what_the_other_corners_show_bounds_a_support() {
        let bare = most(
            [[9.0, 9.0], [4.0, 4.0], [4.0, 4.0], [4.0, 4.0]],
            false,
            true,
        );
        assert!(
            bare[0].is_some_and(|mm2| (mm2 - 16.0).abs() < 1.0),
            "{bare:?}"
        );
        // Dark things lie in two of them.
        let dark = most([[4.0, 4.0]; 4], true, true);
        assert_eq!(dark[0], None);
    }

    #[test]
    fn supports_that_a_crop_cut_unlike_are_no_bare_corners() {
        let cropped = most(
            [[6.0, 6.0], [2.0, 6.0], [2.0, 2.0], [6.0, 2.0]],
            false,
            false,
        );
        assert_eq!(cropped, [None; 4]);
        let bare = most(
            [[11.0, 12.0], [2.0, 6.0], [2.0, 2.0], [6.0, 2.0]],
            false,
            false,
        );
        assert!(
            bare[0].is_some_and(|mm2| (mm2 - 12.0).abs() < 1.0),
            "{bare:?}"
        );
    }

    #[test]
    fn a_small_bare_corner_is_told_where_nothing_stands_in_the_others() {
        let silver = Grid::from_shape_fn((250, 300), |(i, j)| {
            let (x, y) = (0.2 * (j as f64 + 0.5), 0.2 * (i as f64 + 0.5));
            if x + y < 4.0 { 0.0 } else { 0.4 }
        });
        let found = beyond_supports(&silver, &Mask::from_elem((250, 300), true), 0.2);
        let [corner] = &found[..] else {
            panic!("{} corners", found.len());
        };
        assert!((corner.mm2 - 8.0).abs() < 1.0, "{}", corner.mm2);
    }

    #[test]
    fn where_fog_lies_over_three_supports_the_fourth_is_no_bare_place() {
        let (rows, columns) = (250, 300);
        let silver = Grid::from_shape_fn((rows, columns), |(i, j)| {
            let (x, y) = (0.2 * (j as f64 + 0.5), 0.2 * (i as f64 + 0.5));
            let fog = 0.5 * (-x / 8.0).exp() + 0.5 * (-y / 8.0).exp();
            let support = x.min(60.0 - x) < 5.0 && y.min(50.0 - y) < 5.0;
            (if support { fog } else { 0.7 + 0.3 * fog }) as f32
        });
        let within = Mask::from_elem((rows, columns), true);
        assert!(beyond_supports(&silver, &within, 0.2).is_empty());
    }

    #[test]
    fn a_ledge_a_little_off_makes_no_corner_bare() {
        // Both corners on the left reach half a millimetre farther.
        let off = beyond(|x, y| x < 5.5 && y.min(50.0 - y) < 5.0);
        assert!(off.is_empty(), "{off:?}");
    }
}
