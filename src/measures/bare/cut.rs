//! One place: cut out of the plate, measured, outlined.

use image::{GrayImage, Luma};
use imageproc::contours::{BorderType, find_contours};
use imageproc::geometry::approximate_polygon_dp;
use imageproc::point::Point;

use super::supports::SUPPORT_MM;
use super::{BarePlace, Ground, Look, Window, bounds_of};
use crate::handling::Corner;
use crate::plate::Edge;
use crate::raster::regions::{dilate, erode, label};
use crate::raster::stats::{median, quantile};
use crate::raster::{Grid, Mask};

/// Strips narrower than twice this are rims and lines, cells.
pub(super) const RIM_CELLS: usize = 2;
/// Cells around a place that its line and what lies past it take.
const AROUND_CELLS: usize = 8;
/// A place is a support where it stands out, mirrored, in enough of the other corners, by at least such a share of
/// its own contrast: fog lies over some of the supports, so that these are not the least silver of the plate.
const MIRRORED_SHARE: f64 = 0.3;
/// A place that comes so near to an edge of what is looked at reaches it, millimetres.
const REACHES_MM: f64 = 0.8;
/// What is no wider than twice this hangs on to a place, millimetres. Our own choice.
const STRIP_MM: f64 = 0.9;
/// The outline leaves out what is finer than this, cells.
const OUTLINE_CELLS: f64 = 0.8;

/// How many cells of what is looked at have how much silver in their square of a millimetre; where supports
/// may stand in the corners, without those.
pub(super) struct Lows {
    /// Silver at the middle of the first bin, density.
    from_d: f64,
    counts: Vec<u32>,
    counted: Mask,
}

/// Width of a bin, density, and their number: the last one holds all above.
const BIN_D: f64 = 0.001;
/// See [`BIN_D`].
const BINS: usize = 1000;

impl Lows {
    pub(super) fn of(ground: &Ground, look: &Look, sure: &Mask, low_d: f64) -> Lows {
        let (rows, columns) = sure.dim();
        let cells = match look.supports {
            true => (SUPPORT_MM / ground.pitch_mm).round() as usize,
            false => 0,
        };
        let near = |at: usize, size: usize| at < cells || at + cells >= size;
        let counted = Mask::from_shape_fn((rows, columns), |(i, j)| {
            sure[[i, j]] && !(look.supports && near(i, rows) && near(j, columns))
        });
        let mut lows = Lows {
            // The least cell lies hardly lower than what so many lie below.
            from_d: low_d - 0.2,
            counts: vec![0; BINS],
            counted,
        };
        for value in ground.values(&ground.broad, &lows.counted) {
            lows.counts[bin(value - lows.from_d)] += 1;
        }
        lows
    }
}

fn bin(above_d: f64) -> usize {
    ((above_d / BIN_D).round().max(0.0) as usize).min(BINS - 1)
}

/// What may belong to places.
pub(super) struct Seen {
    /// Cells hardly above the least silver.
    pub(super) alike: Mask,
    /// Which place each of them surely belongs to, from 1; 0 for none.
    pub(super) labels: Grid<u32>,
    /// What the holder's supports take, where they may stand in the corners.
    pub(super) supports: Option<Mask>,
}

/// A place in the window that holds it and what lies around it.
pub(super) struct Cut<'a> {
    ground: &'a Ground,
    look: &'a Look,
    lows: &'a Lows,
    /// Where the window begins, row and column.
    from: [usize; 2],
    /// What surely belongs to the place.
    core: Mask,
    /// All of it.
    place: Mask,
    /// Where its line is looked at.
    lines: Mask,
}

impl<'a> Cut<'a> {
    pub(super) fn of(
        ground: &'a Ground,
        look: &'a Look,
        lows: &'a Lows,
        seen: &Seen,
        name: u32,
        [top, left, bottom, right]: Window,
    ) -> Self {
        let (rows, columns) = seen.alike.dim();
        let from = [top, left].map(|at| at.saturating_sub(AROUND_CELLS));
        let to = [
            (bottom + AROUND_CELLS).min(rows),
            (right + AROUND_CELLS).min(columns),
        ];
        let shape = (to[0] - from[0], to[1] - from[1]);
        let at = |(i, j): (usize, usize)| [i + from[0], j + from[1]];
        let core = Mask::from_shape_fn(shape, |cell| seen.labels[at(cell)] == name);
        let mut place = dilate(&core, RIM_CELLS);
        place.zip_mut_with(
            &Mask::from_shape_fn(shape, |cell| seen.alike[at(cell)]),
            |place, alike| *place &= *alike,
        );
        Cut {
            ground,
            look,
            lows,
            from,
            core,
            place,
            lines: Mask::from_shape_fn(shape, |cell| look.lines[at(cell)]),
        }
    }

    /// A place that is given by all its cells on the plate; `None` for an empty one.
    pub(super) fn of_mask(
        ground: &'a Ground,
        look: &'a Look,
        lows: &'a Lows,
        place: &Mask,
    ) -> Option<Self> {
        let [top, left, bottom, right] = bounds_of(place)?;
        let (rows, columns) = place.dim();
        let from = [top, left].map(|at| at.saturating_sub(AROUND_CELLS));
        let shape = (
            (bottom + AROUND_CELLS).min(rows) - from[0],
            (right + AROUND_CELLS).min(columns) - from[1],
        );
        let window =
            |of: &Mask| Mask::from_shape_fn(shape, |(i, j)| of[[i + from[0], j + from[1]]]);
        let place = window(place);
        Some(Cut {
            ground,
            look,
            lows,
            from,
            core: erode(&place, RIM_CELLS),
            place,
            lines: window(&look.lines),
        })
    }

    /// The place without the strips that hang on to it; `None` where nothing is left.
    pub(super) fn compact(&self) -> Option<Self> {
        let cells = (STRIP_MM / self.ground.pitch_mm).round() as usize;
        let thick = label(&erode(&self.place, cells));
        let count = |name: u32| thick.iter().filter(|own| **own == name).count();
        let largest = (1..=thick.iter().copied().max()?).max_by_key(|name| count(*name))?;
        // Grown back into its tips, but not along the strips.
        let mut place = dilate(&thick.mapv(|name| name == largest), cells + RIM_CELLS);
        place.zip_mut_with(&self.place, |own, whole| *own &= whole);
        Some(Cut {
            core: erode(&place, RIM_CELLS),
            place,
            lines: self.lines.clone(),
            ..*self
        })
    }

    /// Values of a grid of the whole plate at the marked cells of the window.
    fn at<'b>(&'b self, grid: &'b Grid<f32>, mask: &'b Mask) -> impl Iterator<Item = f64> + 'b {
        mask.indexed_iter()
            .filter(|(_, set)| **set)
            .map(|((i, j), _)| f64::from(grid[[i + self.from[0], j + self.from[1]]]))
    }

    /// Cells inside the opening that lie past the place, from so many cells off to so many.
    fn ring(&self, from: usize, to: usize) -> Mask {
        let (near, mut far) = (dilate(&self.place, from), dilate(&self.place, to));
        far.zip_mut_with(&near, |far, near| *far &= !near);
        far.zip_mut_with(&self.lines, |far, lines| *far &= lines);
        far
    }

    pub(super) fn measured(&self) -> Option<BarePlace> {
        let ground = self.ground;
        let mut inside: Vec<f64> = self.at(&ground.fine, &self.core).collect();
        let level_d = median(&mut inside)?;
        let mut broad: Vec<f64> = self.at(&ground.broad, &erode(&self.core, 1)).collect();
        if broad.len() < 10 {
            broad = self.at(&ground.broad, &self.core).collect();
        }
        let unevenness_d = quantile(&mut broad, 0.95)? - quantile(&mut broad, 0.05)?;
        let over = |mask: &Mask| -> Vec<f64> {
            self.at(&ground.fine, mask).map(|d| d - level_d).collect()
        };
        let (mut beside, mut past) = (over(&self.ring(2, 3)), over(&self.ring(5, 7)));
        if beside.len() < 8 || past.len() < 8 {
            return None;
        }
        let contrast_d = median(&mut past)?;
        let sharp = beside.iter().filter(|d| **d > 0.5 * contrast_d).count();
        let (corner, edge) = self.reaches()?;
        let pitch_mm = ground.pitch_mm;
        Some(BarePlace {
            corner,
            edge,
            area_mm2: self.place.iter().filter(|set| **set).count() as f64 * pitch_mm * pitch_mm,
            box_mm: self.box_mm(corner, edge)?,
            level_d,
            unevenness_d,
            contrast_d,
            least_rise_d: quantile(&mut beside, 0.1)?,
            sharp_share: sharp as f64 / beside.len() as f64,
            below_rest_d: self.least_of_rest()? - level_d,
            below_border_d: ground.border_d.map(|border_d| border_d - level_d),
            beyond_support_mm2: None,
            over_others: 0.0,
            may_be_support: false,
            outline_mm: self.outline(),
        })
    }

    /// How much of the place lies beyond what a support takes of its corner, square millimetres; `None` where
    /// no support does.
    pub(super) fn beyond_mm2(&self, supports: &Mask) -> Option<f64> {
        let at = |(i, j): (usize, usize)| [i + self.from[0], j + self.from[1]];
        let mut beyond = self.place.clone();
        let mut met = false;
        for (cell, set) in beyond.indexed_iter_mut() {
            let support = supports[at(cell)];
            met |= *set && support;
            *set &= !support;
        }
        let pitch_mm = self.ground.pitch_mm;
        let cells = erode(&beyond, 1).iter().filter(|set| **set).count();
        met.then_some(cells as f64 * pitch_mm * pitch_mm)
    }

    /// In how many of the other corners something stands out where the place lies mirrored, as it does.
    pub(super) fn mirrored(&self, contrast_d: f64) -> usize {
        let Some([first_row, first_column, last_row, last_column]) = bounds_of(&self.look.within)
        else {
            return 0;
        };
        let past = self.ring(5, 7);
        let stands_out = |[over_rows, over_columns]: [bool; 2]| {
            let flip = |over: bool, at: usize, first: usize, last: usize| match over {
                true => (first + last).checked_sub(at + 1),
                false => Some(at),
            };
            let level = |mask: &Mask| {
                let cells = mask.indexed_iter().filter(|(_, set)| **set);
                let mut values: Vec<f64> = cells
                    .filter_map(|((i, j), _)| {
                        let row = flip(over_rows, i + self.from[0], first_row, last_row)?;
                        let column =
                            flip(over_columns, j + self.from[1], first_column, last_column)?;
                        self.ground.fine.get([row, column]).map(|d| f64::from(*d))
                    })
                    .collect();
                median(&mut values)
            };
            let rise = level(&past).zip(level(&self.core));
            rise.is_some_and(|(past, core)| past - core >= MIRRORED_SHARE * contrast_d)
        };
        let others = [[false, true], [true, false], [true, true]];
        others.into_iter().filter(|over| stands_out(*over)).count()
    }

    /// Least silver of what is counted without the place and what lies around it.
    fn least_of_rest(&self) -> Option<f64> {
        let mut counts = self.lows.counts.clone();
        let mut total: u32 = counts.iter().sum();
        let around = dilate(&self.place, 6);
        for ((i, j), _) in around.indexed_iter().filter(|(_, set)| **set) {
            let at = [i + self.from[0], j + self.from[1]];
            if self.lows.counted[at] {
                let own = &mut counts[bin(f64::from(self.ground.broad[at]) - self.lows.from_d)];
                *own = own.saturating_sub(1);
                total -= 1;
            }
        }
        let mut left = (total > 0).then(|| self.ground.least_of(total as usize) / 2)? as u32;
        let least = counts.iter().position(|count| {
            let here = left < *count;
            left = left.saturating_sub(*count);
            here
        })?;
        Some(self.lows.from_d + BIN_D * least as f64)
    }

    /// Rows and columns of the whole plate that the place takes.
    fn bounds(&self) -> Option<Window> {
        let [top, left] = self.from;
        let own = bounds_of(&self.place)?;
        Some([own[0] + top, own[1] + left, own[2] + top, own[3] + left])
    }

    /// The corner or the one edge that the place reaches, or neither; `None` for what runs along a whole
    /// edge or across the plate: a border, a rim, a dark scene.
    fn reaches(&self) -> Option<(Option<Corner>, Option<Edge>)> {
        let [top, left, bottom, right] = self.bounds()?;
        let cells = (REACHES_MM / self.ground.pitch_mm).ceil() as usize;
        let within = &self.look.within;
        let [first_row, first_column, last_row, last_column] = bounds_of(within)?;
        let (up, down) = (top <= first_row + cells, bottom + cells >= last_row);
        let (west, east) = (left <= first_column + cells, right + cells >= last_column);
        match [up, east, down, west] {
            [true, false, false, true] => Some((Some(Corner::TopLeft), None)),
            [true, true, false, false] => Some((Some(Corner::TopRight), None)),
            [false, true, true, false] => Some((Some(Corner::BottomRight), None)),
            [false, false, true, true] => Some((Some(Corner::BottomLeft), None)),
            [true, false, false, false] => Some((None, Some(Edge::Top))),
            [false, true, false, false] => Some((None, Some(Edge::Right))),
            [false, false, true, false] => Some((None, Some(Edge::Bottom))),
            [false, false, false, true] => Some((None, Some(Edge::Left))),
            [false, false, false, false] => Some((None, None)),
            _ => None,
        }
    }

    /// Bounds in millimetres; a place in a corner or on an edge runs on to the plate's edge.
    fn box_mm(&self, corner: Option<Corner>, edge: Option<Edge>) -> Option<[f64; 4]> {
        let [top, left, bottom, right] = self.bounds()?;
        let [width, height] = self.ground.size_mm;
        let mm = |cells: usize, most: f64| (cells as f64 * self.ground.pitch_mm).min(most);
        let [mut x0, mut y0, mut x1, mut y1] = [
            mm(left, width),
            mm(top, height),
            mm(right, width),
            mm(bottom, height),
        ];
        let steps = corner.map_or([0.0, 0.0], |corner| corner.spot().steps());
        if steps[0] < 0.0 || edge == Some(Edge::Left) {
            x0 = 0.0;
        }
        if steps[0] > 0.0 || edge == Some(Edge::Right) {
            x1 = width;
        }
        if steps[1] < 0.0 || edge == Some(Edge::Top) {
            y0 = 0.0;
        }
        if steps[1] > 0.0 || edge == Some(Edge::Bottom) {
            y1 = height;
        }
        Some([x0, y0, x1, y1])
    }

    fn outline(&self) -> Vec<[f64; 2]> {
        let (rows, columns) = self.place.dim();
        let picture = GrayImage::from_fn(columns as u32, rows as u32, |x, y| {
            Luma([255 * u8::from(self.place[[y as usize, x as usize]])])
        });
        let outer = find_contours::<i32>(&picture)
            .into_iter()
            .filter(|contour| contour.border_type == BorderType::Outer)
            .max_by_key(|contour| contour.points.len());
        let points: Vec<Point<i32>> = outer.map_or(Vec::new(), |contour| contour.points);
        let fewer = match points.len() {
            0..=3 => points,
            _ => approximate_polygon_dp(&points, OUTLINE_CELLS, true),
        };
        let pitch_mm = self.ground.pitch_mm;
        fewer
            .iter()
            .map(|point| {
                [
                    (point.x as f64 + self.from[1] as f64 + 0.5) * pitch_mm,
                    (point.y as f64 + self.from[0] as f64 + 0.5) * pitch_mm,
                ]
            })
            .collect()
    }
}
