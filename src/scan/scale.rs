//! What the file says of its resolution, and how far to average down for it.
//!
//! The tag is only good enough to choose the working grid; the scale in millimetres is decided
//! later, with the plate in view.

use super::{DpiTag, DpiUnit, ScanSettings, Want};
use crate::units::MM_PER_INCH;

// Resolutions that flatbed and film scanners offer, dots per inch: common practice. Only the
// choice of the working grid hangs on them (test `tag_decides_the_reduction`).
const USUAL_DPI: [f64; 14] = [
    150.0, 200.0, 240.0, 300.0, 400.0, 600.0, 800.0, 1200.0, 1600.0, 2400.0, 3200.0, 4800.0,
    6400.0, 9600.0,
];

// Range in which a resolution and a picture side are believed. Our own choice: half the coarsest
// and a third above the finest usual resolution; from a lantern slide cropped to a corner to the
// largest ultra-large plate (test `tag_decides_the_reduction`).
const BELIEVED_DPI: std::ops::RangeInclusive<f64> = 150.0..=12800.0;
const BELIEVED_SIDE_MM: std::ops::RangeInclusive<f64> = 15.0..=650.0;

// Largest working grid and colour grid, cells. Our own choice: 64 Mcell of f32 are 256 MB; a page
// shows at most about 4 Mcell (test `grids_stay_within_their_limits`).
const MAX_WORKING_CELLS: u64 = 64 << 20;
const MAX_COLOUR_CELLS: u64 = 4 << 20;
// Finest colour grid, cells per inch: the page prints at about 200. Our own choice (test
// `grids_stay_within_their_limits`).
const COLOUR_CELLS_PER_INCH: f64 = 200.0;

/// File pixels along one side of a working cell and of a colour cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Reduction {
    /// File pixels along one side of a working cell.
    pub working: usize,
    /// Working cells along one side of a colour cell.
    pub colour_in_working: usize,
}

/// The resolution that the tag most likely means, dots per inch, or `None` when it is not one that
/// a scan of a plate has. Of two unlike axes the coarser one counts.
pub(super) fn believed_dpi(tag: &DpiTag, width_px: usize, height_px: usize) -> Option<f64> {
    let fits = |(x, y): (f64, f64)| {
        let fits_side = |px: usize, dpi: f64| {
            BELIEVED_DPI.contains(&dpi)
                && BELIEVED_SIDE_MM.contains(&(px as f64 / dpi * MM_PER_INCH))
        };
        (fits_side(width_px, x) && fits_side(height_px, y)).then_some(x.min(y))
    };
    let usual = |value: f64| USUAL_DPI.contains(&value);
    if tag.unit == DpiUnit::Centimetre && usual(tag.x) && usual(tag.y) {
        return fits((tag.x, tag.y));
    }
    fits(tag.dpi()?)
}

/// Decides both grids.
pub(super) fn reduction(
    want: Want,
    settings: &ScanSettings,
    tag: Option<&DpiTag>,
    width_px: usize,
    height_px: usize,
) -> Reduction {
    let dpi = tag.and_then(|tag| believed_dpi(tag, width_px, height_px));
    let asked = match want {
        Want::Reduce(n) => n.max(1),
        Want::FromTag => {
            let ratio = dpi.unwrap_or(0.0) / settings.working_dpi;
            if ratio.is_finite() {
                (ratio.round() as usize).max(1)
            } else {
                1
            }
        }
    };
    // Averaging more than the longer side into one cell changes nothing.
    let asked = asked.min(width_px.max(height_px).max(1));
    let working = at_least(asked, MAX_WORKING_CELLS, width_px, height_px);
    let wished = dpi.map_or(1.0, |dpi| dpi / working as f64 / COLOUR_CELLS_PER_INCH);
    let (columns, rows) = (width_px.div_ceil(working), height_px.div_ceil(working));
    let colour_in_working = at_least(
        (wished.round() as usize).max(1),
        MAX_COLOUR_CELLS,
        columns,
        rows,
    );
    Reduction {
        working,
        colour_in_working,
    }
}

/// The smallest reduction, `asked` or more, that leaves at most `max_cells`.
fn at_least(asked: usize, max_cells: u64, width: usize, height: usize) -> usize {
    let cells = |n: usize| (width.div_ceil(n) as u64).saturating_mul(height.div_ceil(n) as u64);
    let mut n = asked;
    while cells(n) > max_cells {
        // Grows by an eighth or by one, so that the loop is short for any size.
        n += (n / 8).max(1);
    }
    n
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tag(value: f64, unit: DpiUnit) -> DpiTag {
        DpiTag {
            x: value,
            y: value,
            unit,
        }
    }

    #[test]
    fn tag_decides_the_reduction() {
        let settings = ScanSettings::default();
        let working = |value, unit, w, h| {
            reduction(Want::FromTag, &settings, Some(&tag(value, unit)), w, h).working
        };
        assert_eq!(working(600.0, DpiUnit::Inch, 2400, 3000), 1);
        assert_eq!(working(1200.0, DpiUnit::Inch, 4800, 6000), 2);
        assert_eq!(working(2400.0, DpiUnit::Inch, 9600, 12000), 4);
        assert_eq!(working(47244.0, DpiUnit::Metre, 4800, 6000), 2);
        assert_eq!(working(472.44, DpiUnit::Centimetre, 4800, 6000), 2);
        // A usual number per inch in the field for centimetres.
        assert_eq!(working(1200.0, DpiUnit::Centimetre, 4800, 6000), 2);
        // Tags that no scan of a plate has.
        assert_eq!(working(72.0, DpiUnit::Inch, 4800, 6000), 1);
        assert_eq!(working(1.0, DpiUnit::None, 4800, 6000), 1);
        assert_eq!(working(f64::NAN, DpiUnit::Inch, 4800, 6000), 1);
        assert_eq!(working(0.0, DpiUnit::Inch, 4800, 6000), 1);
        // The picture would be 9 mm wide.
        assert_eq!(working(4800.0, DpiUnit::Inch, 1700, 6000), 1);
    }

    #[test]
    fn grids_stay_within_their_limits() {
        let settings = ScanSettings::default();
        for (w, h) in [
            (40_000, 30_000),
            (1_500_000_000, 1),
            (1, 1),
            (2400, 3000),
            (65_535, 65_535),
        ] {
            for want in [
                Want::FromTag,
                Want::Reduce(0),
                Want::Reduce(3),
                Want::Reduce(usize::MAX),
            ] {
                let r = reduction(want, &settings, Some(&tag(600.0, DpiUnit::Inch)), w, h);
                let (columns, rows) = (w.div_ceil(r.working), h.div_ceil(r.working));
                assert!((columns * rows) as u64 <= MAX_WORKING_CELLS);
                let k = r.colour_in_working;
                assert!((columns.div_ceil(k) * rows.div_ceil(k)) as u64 <= MAX_COLOUR_CELLS);
            }
        }
        let r = reduction(
            Want::FromTag,
            &settings,
            Some(&tag(600.0, DpiUnit::Inch)),
            2400,
            3000,
        );
        assert_eq!((r.working, r.colour_in_working), (1, 3));
        let r = reduction(Want::Reduce(5), &settings, None, 2400, 3000);
        assert_eq!((r.working, r.colour_in_working), (5, 1));
    }
}
