//! The places that one look shows: what hangs together at the least silver.

use rayon::prelude::*;

use super::cut::{Cut, Lows, RIM_CELLS, Seen};
use super::supports::{
    OTHER_CORNERS, Places, Stands, UNLIKE_OTHERS, beyond_supports, in_corner, supports,
    told_from_supports,
};
use super::{BarePlace, Ground, LEAST_OF_MM2, Look, Window};
use crate::handling::Corner;
use crate::plate::Edge;
use crate::raster::regions::{erode, label};
use crate::raster::{Grid, Mask};

/// Smallest core of a place, square millimetres, and its largest share of the plate. Our own choice.
const LEAST_MM2: f64 = 1.0;
/// See [`LEAST_MM2`].
const MOST_SHARE: f64 = 0.25;
/// Most places that are looked at.
const MOST_PLACES: usize = 16;
/// A place that fills a smaller share of its box has strips hanging on to it. Our own choice: a slanting line from edge
/// to edge leaves half.
const STRAGGLES: f64 = 0.45;

impl Ground {
    pub(super) fn places(&self, look: &Look) -> Places {
        let sure = erode(&look.within, RIM_CELLS);
        let mut least: Vec<f64> = self.values(&self.broad, &sure).collect();
        if least.is_empty() {
            return Places::default();
        }
        let at = self.least_of(least.len());
        let (_, low, _) = least.select_nth_unstable_by(at, f64::total_cmp);
        let low = *low;
        let limit = (low + look.alike_d) as f32;
        let (rows, columns) = look.within.dim();
        let alike = Mask::from_shape_fn((rows, columns), |at| {
            look.within[at] && self.fine[at] < limit
        });
        let labels = label(&erode(&alike, RIM_CELLS));
        let supports = look
            .supports
            .then(|| supports(&self.fine, &look.within, self.pitch_mm));
        let seen = Seen {
            alike,
            labels,
            supports,
        };
        let mut windows: Vec<(u32, usize, Window)> = Vec::new();
        for ((i, j), name) in seen.labels.indexed_iter().filter(|(_, name)| **name > 0) {
            let at = *name as usize;
            if windows.len() < at {
                windows.resize(at, (0, 0, [usize::MAX, usize::MAX, 0, 0]));
            }
            let (own, count, window) = &mut windows[at - 1];
            *own = *name;
            *count += 1;
            *window = [
                window[0].min(i),
                window[1].min(j),
                window[2].max(i + 1),
                window[3].max(j + 1),
            ];
        }
        let cell_mm2 = self.pitch_mm * self.pitch_mm;
        let most = MOST_SHARE * self.size_mm[0] * self.size_mm[1] / cell_mm2;
        windows.retain(|(_, count, _)| {
            *count as f64 * cell_mm2 >= LEAST_MM2 && (*count as f64) < most
        });
        windows.sort_by_key(|(_, count, _)| std::cmp::Reverse(*count));
        windows.truncate(MOST_PLACES);
        let lows = Lows::of(self, look, &sure, low);
        let places: Vec<(BarePlace, Stands)> = windows
            .par_iter()
            .filter_map(|(name, _, window)| {
                let cut = Cut::of(self, look, &lows, &seen, *name, *window);
                let place = cut.measured()?;
                let support_mm2 = place.corner.and_then(|at| look.support_mm2[at as usize]);
                // Along a dark thing strips may hang on to it.
                let compact = (support_mm2.is_some() && place.fills() < STRAGGLES)
                    .then(|| cut.compact())
                    .flatten();
                let of_compact = compact.and_then(|cut| Some((cut.measured()?, cut)));
                let (mut place, cut) = of_compact
                    .filter(|(compact, _)| compact.corner == place.corner)
                    .unwrap_or((place, cut));
                place.over_others = support_mm2.map_or(0.0, |mm2| place.area_mm2 / mm2);
                let Some(supports) = &seen.supports else {
                    return Some((place, Stands::Alone));
                };
                if !in_corner(&place, self.size_mm) {
                    return Some((place, Stands::Alone));
                }
                // Where the other corners show a support, what reaches beyond it tells; else the place alone.
                let stands = match cut.beyond_mm2(supports) {
                    Some(mm2) if mm2 >= look.beyond_mm2 && look.shows_ledges(place.corner) => {
                        Stands::BeyondSupport
                    }
                    None if cut.mirrored(place.contrast_d) < OTHER_CORNERS => Stands::Alone,
                    _ if place.over_others >= UNLIKE_OTHERS => {
                        place.may_be_support = true;
                        Stands::BeyondSupport
                    }
                    _ => Stands::AsSupport,
                };
                Some((place, stands))
            })
            .collect();
        told_from_supports(places, look.supports, self.size_mm)
    }

    /// Corners of an even plate that are bare beyond the support there is; `to_ledge` is the opening up to the ledge's
    /// own line.
    pub(super) fn beyond_supports(&self, look: &Look, to_ledge: &Mask) -> Vec<BarePlace> {
        let sure = erode(&look.within, RIM_CELLS);
        let lows = Lows::of(self, look, &sure, 0.0);
        let corners = beyond_supports(&self.fine, to_ledge, self.pitch_mm);
        let places = corners.iter().filter_map(|corner| {
            let cut = Cut::of_mask(self, look, &lows, &corner.dark)?;
            Some(BarePlace {
                beyond_support_mm2: Some(corner.mm2),
                ..cut.measured()?
            })
        });
        places.collect()
    }

    pub(super) fn least_of(&self, count: usize) -> usize {
        let cells = LEAST_OF_MM2 / (self.pitch_mm * self.pitch_mm);
        (cells.round() as usize).min(count.saturating_sub(1))
    }

    pub(super) fn values<'a>(
        &self,
        of: &'a Grid<f32>,
        mask: &'a Mask,
    ) -> impl Iterator<Item = f64> + 'a {
        of.iter()
            .zip(mask)
            .filter(|(_, set)| **set)
            .map(|(value, _)| f64::from(*value))
    }
}

impl Look {
    /// Whether both edges that end in a corner show the ledge: where a scan cuts one away, the support in its corners
    /// reaches farther in than in the others.
    fn shows_ledges(&self, corner: Option<Corner>) -> bool {
        corner.is_some_and(|corner| {
            Edge::of_corner(corner)
                .iter()
                .all(|edge| self.ledges[*edge as usize])
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measures::bare::supports::support_mm2;

    /// Cells of a quarter millimetre: 60 by 50 mm.
    const SHAPE: (usize, usize) = (200, 240);

    fn places(silver: impl Fn(f64, f64) -> f64, margin: usize, supports: bool) -> Vec<BarePlace> {
        places_by_ledges(silver, margin, [supports; 4]).bare
    }

    fn places_by_ledges(
        silver: impl Fn(f64, f64) -> f64,
        margin: usize,
        ledges: [bool; 4],
    ) -> Places {
        let grid = Grid::from_shape_fn(SHAPE, |(i, j)| {
            silver(0.25 * j as f64, 0.25 * i as f64) as f32
        });
        let within = Mask::from_shape_fn(SHAPE, |(i, j)| {
            let inside = |at: usize, size: usize| at >= margin && at + margin < size;
            inside(i, SHAPE.0) && inside(j, SHAPE.1)
        });
        let with_ledges = Corner::ALL
            .map(|corner| Edge::of_corner(corner).map(|edge| ledges[edge as usize]) == [true; 2]);
        let support_mm2 = support_mm2(&grid, &within, 0.25, with_ledges);
        let ground = Ground {
            fine: grid.clone(),
            broad: grid,
            pitch_mm: 0.25,
            border_d: None,
            size_mm: [60.0, 50.0],
        };
        ground.places(&Look {
            lines: within.clone(),
            within,
            alike_d: 0.05,
            supports: ledges.contains(&true),
            ledges,
            beyond_mm2: 1.0,
            islands_only: false,
            support_mm2,
        })
    }

    fn in_ellipse(x: f64, y: f64, middle: [f64; 2], half: [f64; 2]) -> bool {
        ((x - middle[0]) / half[0]).powi(2) + ((y - middle[1]) / half[1]).powi(2) < 1.0
    }

    #[test]
    fn a_rounded_corner_without_silver_is_measured() {
        let corner = |x, y| match in_ellipse(x, y, [60.0, 50.0], [8.0, 10.0]) {
            true => -0.05,
            false => 0.4,
        };
        let found = places(corner, 2, false);
        let [bare] = &found[..] else {
            panic!("{found:?}");
        };
        assert_eq!(bare.corner, Some(Corner::BottomRight));
        // A quarter of an ellipse, less half a millimetre along both edges.
        let seen_mm2 = 62.8 - 0.5 * (8.0 + 10.0 - 0.5);
        assert!((bare.area_mm2 - seen_mm2).abs() < 3.0, "{}", bare.area_mm2);
        assert!((bare.contrast_d - 0.45).abs() < 0.01 && bare.sharp_share > 0.95);
        assert!((bare.below_rest_d - 0.45).abs() < 0.01);
        let [x0, y0, x1, y1] = bare.box_mm;
        assert!((x0 - 52.0).abs() < 0.6 && (y0 - 40.0).abs() < 0.6);
        assert_eq!([x1, y1], [60.0, 50.0]);
    }

    #[test]
    fn an_island_has_no_corner_and_a_shadow_beside_a_deeper_one_is_not_below_it() {
        let island = |x, y| match in_ellipse(x, y, [20.0, 25.0], [4.0, 3.0]) {
            true => 0.0,
            false => 0.5,
        };
        let found = places(island, 2, false);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].corner, found[0].edge), (None, None));
        let shadow = |x: f64, y: f64| match x > 40.0 && x < 50.0 {
            true => -0.02,
            false => island(x, y),
        };
        let shadowed = places(shadow, 2, false);
        assert!(
            shadowed.iter().all(|place| place.below_rest_d < 0.03),
            "{shadowed:?}"
        );
    }

    #[test]
    fn four_corners_alike_are_the_holder_s() {
        let supports = |x: f64, y: f64| {
            let (across, down) = (x.min(60.0 - x), y.min(50.0 - y));
            if across + down < 6.0 { 0.0 } else { 0.6 }
        };
        assert_eq!(places(supports, 2, false).len(), 4);
        assert!(places(supports, 2, true).is_empty());
        // Fog from the top lies over two of them.
        let fogged =
            |x: f64, y: f64| supports(x, y) + 0.4 * (-y / 8.0).exp() + 0.1 * (-x / 9.0).exp();
        assert!(places(fogged, 2, true).is_empty());
        let one_more = |x: f64, y: f64| match in_ellipse(x, y, [0.0, 0.0], [9.0, 8.0]) {
            true => 0.0,
            false => supports(x, y),
        };
        let found = places(one_more, 2, true);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].corner, Some(Corner::TopLeft));
    }

    #[test]
    fn a_corner_far_larger_than_slanting_supports_is_told_though_nothing_of_it_sticks_out() {
        let corner = |x: f64, y: f64, legs: f64| x + y < legs;
        let silver = |own: f64| {
            move |x: f64, y: f64| {
                let (to_right, to_bottom) = (59.75 - x, 49.75 - y);
                let dark = corner(x, y, own)
                    || corner(to_right, y, 6.0)
                    || corner(x, to_bottom, 6.0)
                    || corner(to_right, to_bottom, 6.0);
                if dark { 0.0 } else { 0.4 }
            }
        };
        let found = places(silver(8.5), 2, true);
        let [bare] = &found[..] else {
            panic!("{found:?}");
        };
        assert_eq!(bare.corner, Some(Corner::TopLeft));
        assert!((bare.over_others - 2.0).abs() < 0.3, "{bare:?}");
        assert!(places(silver(6.5), 2, true).is_empty());
    }

    #[test]
    fn a_strip_that_hangs_on_to_a_corner_is_cut_off() {
        let found = places(
            |x, y| match x + y < 10.0 || (y < 1.5 && x < 40.0) {
                true => 0.0,
                false => 0.4,
            },
            2,
            true,
        );
        let [bare] = &found[..] else {
            panic!("{found:?}");
        };
        assert!(bare.box_mm[2] < 14.0, "{bare:?}");
        // A triangle, less half a millimetre along both edges.
        assert!((bare.area_mm2 - 40.5).abs() < 3.0, "{bare:?}");
    }

    #[test]
    fn a_corner_hardly_larger_than_the_supports_is_told_by_what_lies_beyond() {
        let supports = |x: f64, y: f64| {
            let (across, down) = (x.min(60.0 - x), y.min(50.0 - y));
            if across + down < 6.0 { 0.0 } else { 0.6 }
        };
        let bare = |x: f64, y: f64| match in_ellipse(x, y, [0.0, 0.0], [6.4, 6.2]) {
            true => 0.0,
            false => supports(x, y),
        };
        let found = places(bare, 2, true);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].corner, Some(Corner::TopLeft));
        assert!(found[0].area_mm2 < 1.8 * 0.5 * 36.0);
        // A ledge that is a little wider at one corner is no fault.
        let wider = |x: f64, y: f64| if x + y < 6.5 { 0.0 } else { supports(x, y) };
        assert!(places(wider, 2, true).is_empty());
        // Nor is one on an edge whose border the scan cut away.
        let top_cut = [false, true, true, true];
        let cut = places_by_ledges(bare, 2, top_cut);
        assert!(cut.bare.is_empty() && cut.supports.contains(&Corner::TopLeft));
    }
}
