//! Light and dark density, range, mean, clipping, histogram, tone.

use crate::units::Reading;

/// Counts of working-grid cells by density.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Histogram {
    /// Bin edges, density, rising; one more than there are counts.
    pub edges_d: Vec<f64>,
    /// Cells a bin.
    pub counts: Vec<u64>,
}

/// The tone of one plate.
#[derive(Debug, Clone, PartialEq)]
pub struct Tone {
    /// 2nd percentile of density over the picture area.
    pub d_light: Reading,
    /// 98th percentile of density over the picture area.
    pub d_dark: Reading,
    /// `d_dark - d_light`.
    pub range_d: Reading,
    /// Mean density over the picture area.
    pub mean_d: Reading,
    /// 2nd percentile over means of 1 mm squares.
    pub patch_d_light: Option<Reading>,
    /// 98th percentile over means of 1 mm squares.
    pub patch_d_dark: Option<Reading>,
    /// Veil above bare support, when the plate shows bare support.
    pub veil_d: Option<Reading>,
    /// Share of cells that hold pixels at the highest file value.
    pub clipped_light_fraction: f64,
    /// Share of cells that hold pixels at the lowest file value.
    pub clipped_dark_fraction: f64,
    /// Density histogram.
    pub histogram: Histogram,
    /// CIE L*, a*, b* (D50) of the mean light of the picture area; `None` for a grey scan.
    pub lab: Option<[f64; 3]>,
    /// The density that counts as no silver.
    pub zero_d: f64,
    /// In words, where the zero comes from.
    pub zero_source: String,
}
