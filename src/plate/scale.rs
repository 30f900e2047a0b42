//! How many file pixels make a millimetre, and who says so.
//!
//! The file's tag is taken where it is believable; a plate size that the maker gave settles what the
//! tag leaves open. Nothing is guessed: without either the scale is unknown.

use super::find::Outline;
use super::sizes::{self, Sides};
use super::{Given, ScaleSource};
use crate::doubts::Doubt;
use crate::raster::geometry::distance;
use crate::scan::{DpiUnit, Scan};
use crate::units::MM_PER_INCH;

/// Resolutions that scanners offer, dots per inch. Common practice.
const USUAL_DPI: [f64; 16] = [
    100.0, 150.0, 200.0, 240.0, 300.0, 360.0, 400.0, 600.0, 720.0, 800.0, 1200.0, 1600.0, 2400.0,
    3200.0, 4800.0, 6400.0,
];

/// Shortest and longest plate side that a tag may lead to, millimetres: under the smallest gem, and
/// the longest mammoth plate with an allowance.
const BELIEVABLE_SIDE_MM: [f64; 2] = [12.0, 660.0];

/// How far tag and plate size may differ before they count as two scales. Plates are cut by hand to
/// about 2 mm of 60; our own choice; the table of corners in `reports/accuracy.md` would show it.
const AGREE_SHARE: f64 = 0.035;

/// The settled scale.
#[derive(Debug, Clone)]
pub(super) struct Scale {
    /// Dots per inch along x and y.
    pub dpi: Option<(f64, f64)>,
    pub source: ScaleSource,
    pub doubts: Vec<Doubt>,
    /// What disagreed with what, for people.
    pub words: Option<String>,
}

/// A resolution that the file may mean, best first.
fn tagged(scan: &Scan) -> Vec<((f64, f64), ScaleSource)> {
    let Some(tag) = scan.dpi_tag else {
        return Vec::new();
    };
    let Some(dpi) = tag.dpi() else {
        return Vec::new();
    };
    let usual = |v: f64| USUAL_DPI.iter().any(|u| (u - v).abs() < 0.51);
    let mut readings = vec![(dpi, ScaleSource::FileTag)];
    // No scanner works in round numbers per centimetre: such a tag mostly has its unit mistaken.
    if tag.unit == DpiUnit::Centimetre && usual(tag.x) && usual(tag.y) {
        readings.insert(0, ((tag.x, tag.y), ScaleSource::FileTagUnitCorrected));
    }
    readings
}

fn believable(dpi: (f64, f64), width_px: f64, height_px: f64) -> bool {
    let sides = [
        width_px / dpi.0 * MM_PER_INCH,
        height_px / dpi.1 * MM_PER_INCH,
    ];
    let shortest = sides[0].min(sides[1]);
    let longest = sides[0].max(sides[1]);
    dpi.0.is_finite()
        && dpi.1.is_finite()
        && (0.8..=1.25).contains(&(dpi.0 / dpi.1))
        && shortest >= BELIEVABLE_SIDE_MM[0]
        && longest <= BELIEVABLE_SIDE_MM[1]
}

/// The candidate whose aspect fits a rectangle best, and by how much it misses.
fn by_aspect(candidates: &[Sides], width_px: f64, height_px: f64) -> Option<(Sides, f64)> {
    let aspect = (width_px / height_px).max(height_px / width_px);
    candidates
        .iter()
        .map(|sides| (*sides, (aspect / sides.aspect()).ln().abs()))
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

/// Resolution at which a rectangle of file pixels has these sides.
fn dpi_of(sides: Sides, width_px: f64, height_px: f64) -> f64 {
    let (short_px, long_px) = (width_px.min(height_px), width_px.max(height_px));
    MM_PER_INCH * (short_px / sides.short_mm + long_px / sides.long_mm) / 2.0
}

/// How far a rectangle (file pixels) is from the size given, or from the nearest trade size at the
/// tagged resolution, as a share of a side; `None` when neither is known. Not found near any: 1.
pub(super) fn misfit(scan: &Scan, given: &Given, width_px: f64, height_px: f64) -> Option<f64> {
    let (short_px, long_px) = (width_px.min(height_px), width_px.max(height_px));
    let off = |dpi: f64, sides: Sides| {
        let share = |px: f64, mm: f64| (px / dpi * MM_PER_INCH / mm - 1.0).abs();
        share(short_px, sides.short_mm).max(share(long_px, sides.long_mm))
    };
    let readings: Vec<f64> = tagged(scan)
        .into_iter()
        .filter(|(dpi, _)| believable(*dpi, width_px, height_px))
        .map(|(dpi, _)| (dpi.0 * dpi.1).sqrt())
        .collect();
    if let Some(size) = &given.plate_size {
        let by_tag = readings
            .iter()
            .flat_map(|dpi| size.candidates.iter().map(|sides| off(*dpi, *sides)))
            .fold(f64::INFINITY, f64::min);
        if by_tag < 0.2 {
            return Some(by_tag);
        }
        return by_aspect(&size.candidates, width_px, height_px).map(|(_, miss)| miss);
    }
    let dpi = readings.first()?;
    let (w, h) = (width_px / dpi * MM_PER_INCH, height_px / dpi * MM_PER_INCH);
    Some(sizes::nearest(w, h).map_or(1.0, |size| {
        off(
            *dpi,
            Sides {
                short_mm: size.short_mm,
                long_mm: size.long_mm,
            },
        )
    }))
}

/// Settles the scale of one plate.
pub(super) fn settle(scan: &Scan, given: &Given, outline: &Outline) -> Scale {
    let reduce = scan.reduce as f64;
    let c = outline.corners;
    let side = |a: usize, b: usize| distance(c[a], c[b]) * reduce;
    let width_px = (side(0, 1) + side(3, 2)) / 2.0;
    let height_px = (side(0, 3) + side(1, 2)) / 2.0;
    let readings: Vec<_> = tagged(scan)
        .into_iter()
        .filter(|(dpi, _)| believable(*dpi, width_px, height_px))
        .collect();
    let from_tag = |(dpi, source): ((f64, f64), ScaleSource)| Scale {
        dpi: Some(dpi),
        source,
        doubts: match source {
            ScaleSource::FileTagUnitCorrected => vec![Doubt::ScaleUnitMistaken],
            _ => Vec::new(),
        },
        words: None,
    };
    let Some(size) = &given.plate_size else {
        return match readings.first() {
            Some(reading) => from_tag(*reading),
            None => Scale {
                dpi: None,
                source: ScaleSource::Unknown,
                doubts: vec![Doubt::ScaleUnknown],
                words: None,
            },
        };
    };
    // A tag that agrees with the size is finer than the size: plates are cut by hand. A cropped scan
    // shows less than the whole plate, so there the tag may say somewhat less.
    let shortfall = if outline.found { AGREE_SHARE } else { 0.12 };
    let agreeing = readings.iter().find(|(dpi, _)| {
        let dpi = (dpi.0 * dpi.1).sqrt();
        size.candidates.iter().any(|sides| {
            let share = dpi_of(*sides, width_px, height_px) / dpi;
            (1.0 - shortfall..=1.0 + AGREE_SHARE).contains(&share)
        })
    });
    if let Some(reading) = agreeing {
        return from_tag(*reading);
    }
    let Some((sides, _)) = by_aspect(&size.candidates, width_px, height_px) else {
        return Scale {
            dpi: None,
            source: ScaleSource::Unknown,
            doubts: vec![Doubt::ScaleUnknown],
            words: None,
        };
    };
    let dpi = dpi_of(sides, width_px, height_px);
    let mut doubts = vec![Doubt::ScaleFromSizeName];
    let mut words = None;
    if let Some((tag, _)) = readings.first() {
        doubts.push(Doubt::ScaleDisagrees);
        words = Some(format!(
            "The file says {:.0} dots per inch, the plate size {} leads to {:.0}; the plate size was taken.",
            (tag.0 * tag.1).sqrt(),
            size.given,
            dpi
        ));
    }
    Scale {
        dpi: Some((dpi, dpi)),
        source: ScaleSource::PlateSize,
        doubts,
        words,
    }
}
