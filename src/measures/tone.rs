//! Light and dark density, range, mean, clipping, histogram, tone.
//!
//! Percentiles are taken over cells of the working grid (about 600 an inch) and, beside them, over
//! means of 1 mm squares, because grain and dust own the tails of single cells.

use std::sync::LazyLock;

use rayon::prelude::*;

use crate::density::{DensityMap, LEAST_LIGHT, density, wholly_in};
use crate::doubts::Doubt;
use crate::plate::{Part, Plate, Process};
use crate::raster::filter::average_down;
use crate::raster::stats::quantile;
use crate::scan::{CLIPPED_DARK, CLIPPED_LIGHT, Scan};
use crate::units::{Reading, lab_of_linear_srgb};

/// Counts of working-grid cells by density.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Histogram {
    /// Bin edges, density, rising; one more than there are counts.
    pub edges_d: Vec<f64>,
    /// Cells a bin over the whole plate, its border and rim included.
    pub counts: Vec<u64>,
    /// Cells a bin over the picture area alone.
    pub picture_counts: Vec<u64>,
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
    /// Share of picture cells that hold pixels at the highest file value.
    pub clipped_light_fraction: f64,
    /// Share of picture cells that hold pixels at the lowest file value.
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

/// Width of the fine bins that percentiles are read from, density. Ten times finer than the
/// histogram that is reported.
const FINE_BIN_D: f64 = 0.001;
/// Fine bins in one reported bin (0.01 D).
const FINE_IN_BIN: usize = 10;
/// Fine bins in all: density 0 to 5 and one below for light above white.
const FINE_BINS: usize = 5200;
/// Density at the lower edge of the first fine bin.
const FIRST_D: f64 = -0.2;

/// Half width (95 %) of what an unmeasured scanner may be off in its white, density: about 3 % of
/// light (from memory of flatbeds with automatic white).
const WHITE_U_D: f64 = 0.026;

/// Stray light that a flatbed may add, as a share of the light beside it (0.5 to 1 %, from memory).
const FLARE_SHARE: f64 = 0.01;

/// Veil above bare support is good to about this, density (95 %): bare and coated support reflect
/// differently, and the rim is hardly wider than the scanner's blur.
const VEIL_U_D: f64 = 0.15;

/// Measures the tone of a plate.
pub fn measure(scan: &Scan, plate: &Plate, map: &DensityMap) -> Tone {
    let fine = FineCounts::over(plate);
    let share = |cells: u64| cells as f64 / fine.picture_cells.max(1) as f64;
    let clipped_dark_fraction = share(fine.clipped_dark);
    let clipped_light_fraction = share(fine.clipped_light);
    let reading = |value: f64, clip: Option<Doubt>| {
        let mut doubts = vec![Doubt::Uncalibrated, Doubt::FlareUnknown];
        doubts.extend(clip);
        if code_step_d(scan, value) > 0.02 {
            doubts.push(Doubt::EightBitSteps);
        }
        if plate.process != Process::NegativeOnGlass && value > 1.2 {
            doubts.push(Doubt::GlossySupport);
        }
        Reading::new(value, uncertainty_d(scan, plate, value)).doubted(&doubts)
    };
    let dark_clip = (clipped_dark_fraction > 0.02).then_some(Doubt::ClippedDark);
    let light_clip = (clipped_light_fraction > 0.02).then_some(Doubt::ClippedLight);
    let picture = &fine.picture;
    let d_light = reading(percentile(picture, 0.02), light_clip);
    let d_dark = reading(percentile(picture, 0.98), dark_clip);
    let range = d_dark.value - d_light.value;
    // The scanner's white cancels in a difference; flare and steps do not.
    let range_u = (d_dark.u.powi(2) + d_light.u.powi(2) - 2.0 * WHITE_U_D.powi(2))
        .max(0.0)
        .sqrt();
    let range_d = Reading::new(range, range_u)
        .doubted(&d_dark.doubts)
        .doubted(&d_light.doubts);
    let mean_d = reading(mean(picture), None);
    let mut patches = patch_densities(plate);
    let patch_d_light = quantile(&mut patches, 0.02).map(|d| reading(d, light_clip));
    let patch_d_dark = quantile(&mut patches, 0.98).map(|d| reading(d, dark_clip));
    let veil_d = map.rim_d.and_then(|_| {
        let covered = map.border_d.unwrap_or(match plate.process.is_positive() {
            true => d_dark.value,
            false => d_light.value,
        });
        let veil = plate.silver_sign() * (covered - map.rim_d?);
        Some(Reading::new(veil, VEIL_U_D).doubted(&[Doubt::ZeroFromRim, Doubt::Uncalibrated]))
    });
    Tone {
        d_light,
        d_dark,
        range_d,
        mean_d,
        patch_d_light,
        patch_d_dark,
        veil_d,
        clipped_light_fraction,
        clipped_dark_fraction,
        histogram: fine.histogram(),
        lab: mean_lab(scan, plate),
        zero_d: map.zero_d,
        zero_source: map.zero_source.words().to_owned(),
    }
}

// ---------------------------------------------------------------- counts

struct FineCounts {
    whole: Vec<u64>,
    picture: Vec<u64>,
    /// Cells of the picture area, those of them that hold a pixel at the lowest and at the highest
    /// value of the file.
    picture_cells: u64,
    clipped_dark: u64,
    clipped_light: u64,
}

impl FineCounts {
    fn over(plate: &Plate) -> Self {
        let table = FINE_BIN.as_slice();
        let empty = || (vec![0u32; FINE_BINS], vec![0u32; FINE_BINS], [0u64; 2]);
        let (picture, beside, [dark, light]) = (0..plate.light.nrows())
            .into_par_iter()
            .with_min_len(64)
            .fold(empty, |(mut picture, mut beside, mut clipped), i| {
                let (light, parts) = (plate.light.row(i), plate.parts.row(i));
                light.iter().zip(&parts).for_each(|(v, part)| match part {
                    Part::Picture => picture[fine_bin(table, *v)] += 1,
                    Part::Rim | Part::Border => beside[fine_bin(table, *v)] += 1,
                    Part::Outside => {}
                });
                let bits = plate.clipped.row(i);
                let any = bits.iter().fold(0, |any, bits| any | bits);
                for (count, bit) in clipped.iter_mut().zip([CLIPPED_DARK, CLIPPED_LIGHT]) {
                    // Most rows hold none.
                    if any & bit != 0 {
                        let cells = parts.iter().zip(&bits);
                        *count += cells
                            .filter(|(part, bits)| **part == Part::Picture && **bits & bit != 0)
                            .count() as u64;
                    }
                }
                (picture, beside, clipped)
            })
            .reduce(empty, |mut a, b| {
                a.0.iter_mut().zip(b.0).for_each(|(x, y)| *x += y);
                a.1.iter_mut().zip(b.1).for_each(|(x, y)| *x += y);
                a.2.iter_mut().zip(b.2).for_each(|(x, y)| *x += y);
                a
            });
        let mut picture: Vec<u64> = picture.into_iter().map(u64::from).collect();
        let whole: Vec<u64> = picture
            .iter()
            .zip(beside)
            .map(|(picture, beside)| picture + u64::from(beside))
            .collect();
        let picture_cells = picture.iter().sum();
        if picture_cells == 0 {
            // All border: better the whole plate than nothing.
            picture.clone_from(&whole);
        }
        FineCounts {
            whole,
            picture,
            picture_cells,
            clipped_dark: dark,
            clipped_light: light,
        }
    }

    /// The reported histogram: bins of 0.01 D from the first to the last that holds a cell.
    fn histogram(&self) -> Histogram {
        let gather = |fine: &[u64]| -> Vec<u64> {
            fine.chunks(FINE_IN_BIN).map(|c| c.iter().sum()).collect()
        };
        let (counts, picture_counts) = (gather(&self.whole), gather(&self.picture));
        let Some(first) = counts.iter().position(|n| *n > 0) else {
            return Histogram::default();
        };
        let last = counts.iter().rposition(|n| *n > 0).unwrap_or(first);
        let bin_d = FINE_BIN_D * FINE_IN_BIN as f64;
        Histogram {
            edges_d: (first..=last + 1)
                .map(|k| FIRST_D + k as f64 * bin_d)
                .collect(),
            counts: counts[first..=last].to_vec(),
            picture_counts: picture_counts[first..=last].to_vec(),
        }
    }
}

/// Low bits of a light that do not count: 2048 steps an octave are left, 0.00015 D each, which moves
/// a cell at the edge of a fine bin by half of that.
const DROPPED_BITS: u32 = 12;

/// Brightest light told apart from what is brighter: it falls below the first bin.
const MOST_LIGHT: f32 = 2.0;

/// The fine bin of each light from [`LEAST_LIGHT`] to [`MOST_LIGHT`], by its leading bits: a
/// logarithm for each cell would take longer than all else here.
static FINE_BIN: LazyLock<Vec<u16>> = LazyLock::new(|| {
    (0..=leading_bits(MOST_LIGHT) - leading_bits(LEAST_LIGHT))
        .map(|step| {
            let bits = (leading_bits(LEAST_LIGHT) + step) << DROPPED_BITS;
            let middle = f32::from_bits(bits | 1 << (DROPPED_BITS - 1));
            let d = -f64::from(middle).log10();
            let bin = ((d - FIRST_D) / FINE_BIN_D).max(0.0) as usize;
            bin.min(FINE_BINS - 1) as u16
        })
        .collect()
});

/// Bits of a positive number rise with it (IEEE 754).
fn leading_bits(light: f32) -> u32 {
    light.to_bits() >> DROPPED_BITS
}

fn fine_bin(table: &[u16], light: f32) -> usize {
    let step = leading_bits(light.max(LEAST_LIGHT)) - leading_bits(LEAST_LIGHT);
    usize::from(table[(step as usize).min(table.len() - 1)])
}

/// Quantile of binned densities, linear within a bin.
fn percentile(counts: &[u64], q: f64) -> f64 {
    let total: u64 = counts.iter().sum();
    let target = q * total as f64;
    let mut below = 0.0;
    for (bin, n) in counts.iter().enumerate() {
        let n = *n as f64;
        if n > 0.0 && below + n >= target {
            return FIRST_D + (bin as f64 + (target - below) / n) * FINE_BIN_D;
        }
        below += n;
    }
    FIRST_D + counts.len() as f64 * FINE_BIN_D
}

fn mean(counts: &[u64]) -> f64 {
    let total: u64 = counts.iter().sum();
    let sum: f64 = counts
        .iter()
        .enumerate()
        .map(|(bin, n)| (FIRST_D + (bin as f64 + 0.5) * FINE_BIN_D) * *n as f64)
        .sum();
    sum / total.max(1) as f64
}

fn patch_densities(plate: &Plate) -> Vec<f64> {
    let factor = plate.cells_along(1.0);
    let wholly = wholly_in(&plate.parts, factor, |part| part == Part::Picture);
    average_down(&plate.light, factor)
        .indexed_iter()
        .filter(|(at, _)| wholly[*at])
        .map(|(_, v)| density(*v))
        .collect()
}

// ---------------------------------------------------------------- uncertainty

/// Width of one step of an 8-bit file at a density, in density; 0 for finer files.
fn code_step_d(scan: &Scan, density_d: f64) -> f64 {
    let Some(levels) = &scan.code_light else {
        return 0.0;
    };
    let light = crate::units::light_of(density_d);
    let above = levels.partition_point(|v| f64::from(*v) <= light);
    match (levels.get(above.wrapping_sub(1)), levels.get(above)) {
        (Some(low), Some(high)) => {
            let step = f64::from(high - low);
            step / (light.max(1e-6) * std::f64::consts::LN_10)
        }
        _ => 0.0,
    }
}

/// Half width of the 95 % interval of a density read from an uncalibrated scan, combined in
/// quadrature (GUM, JCGM 100:2008, 5.1.2): the scanner's white, stray light, half a code step.
fn uncertainty_d(scan: &Scan, plate: &Plate, density_d: f64) -> f64 {
    let light = crate::units::light_of(density_d);
    // Stray light comes from what is lit beside the spot: the lid when it is bright, the plate's own
    // lights otherwise.
    let beside = plate.surround_light.unwrap_or(0.3).max(0.3);
    let flare_d = (1.0 + FLARE_SHARE * beside / light.max(1e-4)).log10();
    let step_d = 0.5 * code_step_d(scan, density_d);
    (WHITE_U_D.powi(2) + flare_d.powi(2) + step_d.powi(2)).sqrt()
}

// ---------------------------------------------------------------- tone

/// CIE L*, a*, b* under D50 of the mean light of the picture area.
fn mean_lab(scan: &Scan, plate: &Plate) -> Option<[f64; 3]> {
    if scan.channels < 3 {
        return None;
    }
    let ratio = plate.picture_pitch_mm / plate.pitch_mm;
    let (rows, columns) = plate.parts.dim();
    let cell_at = |i: usize, cells: usize| (((i as f64 + 0.5) * ratio) as usize).min(cells - 1);
    let across: Vec<usize> = (0..plate.picture.ncols())
        .map(|j| cell_at(j, columns))
        .collect();
    // Whole numbers, which no order of adding changes.
    let (mut sum, mut cells) = ([0u64; 3], 0u64);
    for (i, row) in plate.picture.rows().into_iter().enumerate() {
        let parts = plate.parts.row(cell_at(i, rows));
        for (rgb, at) in row.iter().zip(&across) {
            if parts[*at] == Part::Picture {
                cells += 1;
                sum.iter_mut()
                    .zip(rgb)
                    .for_each(|(s, v)| *s += u64::from(*v));
            }
        }
    }
    let full = cells as f64 * 65_535.0;
    (cells > 0).then(|| lab_of_linear_srgb(sum.map(|v| v as f64 / full)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_from_bins_are_good_to_half_a_bin() {
        let mut counts = vec![0u64; FINE_BINS];
        for k in 0..1000u64 {
            let d = 0.5 + k as f64 * 0.001;
            counts[((d - FIRST_D) / FINE_BIN_D) as usize] += 1;
        }
        assert!((percentile(&counts, 0.5) - 1.0).abs() < 0.001);
        assert!((mean(&counts) - 1.0).abs() < 0.001);
    }

    #[test]
    fn bins_hold_the_density_they_are_named_for() {
        for d in [0.0, 0.301, 1.0, 2.5, 4.2] {
            let bin = fine_bin(&FINE_BIN, 10f32.powf(-d)) as f32;
            let low = FIRST_D as f32 + bin * FINE_BIN_D as f32;
            assert!((low - d).abs() <= 0.0011, "{d} {low}");
        }
        let least = fine_bin(&FINE_BIN, LEAST_LIGHT);
        assert_eq!(fine_bin(&FINE_BIN, 0.0), least);
        assert_eq!(fine_bin(&FINE_BIN, f32::NAN), least);
        assert_eq!(fine_bin(&FINE_BIN, 9.0), 0);
    }
}
