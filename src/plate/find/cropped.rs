//! Tells a plate that lies in the scan from the picture area of a plate that the scan is cropped to.

use super::outside::LEDGE_SHARE;
use super::sides::{PROFILES, STEP, share_along};
use super::surround::Surround;
use super::{FAINT_SIDE, FITS, Outline};
use crate::raster::Grid;
use crate::raster::geometry::{Point, distance, sample};
use crate::raster::stats::median;

/// What speaks for or against a plate that lies whole in the scan.
#[derive(Debug, Clone, Copy)]
struct Evidence {
    /// The surround goes on smoothly all round the rim.
    clean_rim: bool,
    /// No margin is wider than a holder's ledge, so the rectangle may be the ledge's opening.
    narrow: bool,
    /// How well the weakest side is marked, multiples of the noise.
    weakest: f64,
    /// Median width of the steps across the sides, cells; 0 when too faint on all sides but one.
    soft: f64,
    /// Sides whose width could be measured.
    measured: usize,
    /// How far the whole picture and the rectangle are from a size that may be expected.
    whole: Option<f64>,
    inner: Option<f64>,
}

/// Strength of the weakest side, and width of its step in cells, from which an edge speaks for
/// itself. Our own choice.
const STRONG_SIDE: f64 = 5.0;
const SHARP_CELLS: f64 = 1.3;

/// Misfit from which it has not, with an allowance for a plate cut carelessly.
const MISSES: f64 = 0.03;

/// Misfit up to which the whole picture can be a plate that the scan is cropped to.
const CROPPED_FITS: f64 = 0.045;

impl Evidence {
    /// Whether the rectangle is a plate in its surround, not a shape inside a picture that reaches
    /// the rim of a cropped scan.
    fn is_a_plate(&self) -> bool {
        if self.soft > SOFT_CELLS[1] || self.size_says_cropped() {
            return false;
        }
        let sharp = self.measured >= 3 && self.soft < SHARP_CELLS && self.weakest >= STRONG_SIDE;
        let misses = self.inner.is_some_and(|inner| inner > MISSES);
        let whole_fits = self.whole.is_some_and(|whole| whole <= FITS);
        match (self.narrow, self.clean_rim) {
            (true, true) => sharp || (self.soft <= SOFT_CELLS[0] && !misses),
            (true, false) => sharp && !misses && !whole_fits,
            (false, true) => !(misses && self.weakest < FAINT_SIDE),
            // A plate that touches the rim, or things on the glass that do.
            (false, false) => match self.inner {
                Some(inner) => inner <= FITS && self.weakest >= FAINT_SIDE && !whole_fits,
                None => sharp,
            },
        }
    }

    /// Where a size is expected, the whole scan may fit it while the rectangle does not.
    fn size_says_cropped(&self) -> bool {
        match (self.whole, self.inner) {
            (Some(whole), Some(inner)) if self.narrow => {
                whole < CROPPED_FITS && inner > whole + 0.012
            }
            (Some(whole), Some(inner)) => whole < CROPPED_FITS && inner > 0.03 + 2.0 * whole,
            _ => false,
        }
    }
}

/// Whether an outline is that of a plate in its surround, rather than the picture area of a plate
/// whose dark border fills the rim of a cropped scan, or a shape inside its picture.
///
/// A plate's edge is as sharp as the scanner, the half shadow of a holder's ledge or a dark slide is
/// softer; a surround goes on smoothly all round the rim, a picture mostly does not; and where a
/// size is expected, a plate has it.
pub(super) fn lies_in_its_surround(
    light: &Grid<f32>,
    outline: &Outline,
    surround: &Surround,
    misfit: &dyn Fn(f64, f64) -> Option<f64>,
) -> bool {
    let (rows, columns) = light.dim();
    let c = &outline.corners;
    let mut widths: Vec<f64> = (0..4)
        .filter_map(|k| step_width(light, c[k], c[(k + 1) % 4], outline.centre()))
        .collect();
    let evidence = Evidence {
        clean_rim: surround.is_all_round(),
        narrow: has_narrow_margins(light, outline),
        weakest: outline.weakest,
        soft: match widths.len() {
            // One faint side can be as soft by chance.
            0 | 1 => 0.0,
            _ => median(&mut widths).unwrap_or(0.0),
        },
        measured: widths.len(),
        whole: misfit(columns as f64, rows as f64),
        inner: misfit(distance(c[0], c[1]), distance(c[1], c[2])),
    };
    evidence.is_a_plate()
}

/// Whether no margin beside the outline is wider than a holder's ledge.
pub(super) fn has_narrow_margins(light: &Grid<f32>, outline: &Outline) -> bool {
    let (rows, columns) = light.dim();
    let c = &outline.corners;
    let margins = [
        c[0][1].max(c[1][1]),
        columns as f64 - c[1][0].min(c[2][0]),
        rows as f64 - c[2][1].min(c[3][1]),
        c[3][0].max(c[0][0]),
    ];
    let widest = margins.iter().copied().fold(0.0, f64::max);
    widest <= LEDGE_SHARE * outline.short_side()
}

/// Widths of a step in cells (see [`step_width`]) that are too soft for a plate's edge: when the
/// margins are as narrow as a ledge, and in any case. A scanner's blur of 0.8 cells gives 1.6; half
/// shadows of 0.2 to 0.5 mm give 4 to 10 at 600 cells an inch.
const SOFT_CELLS: [f64; 2] = [2.8, 4.5];

/// Cells that 80 % of the step across a side would take at its steepest slope, median along the side:
/// a shadow on the lid beside a plate widens the step but not its steepest part.
fn step_width(light: &Grid<f32>, from: Point, to: Point, centre: Point) -> Option<f64> {
    let along = [to[0] - from[0], to[1] - from[1]];
    let length = along[0].hypot(along[1]).max(1.0);
    let mut out = [along[1] / length, -along[0] / length];
    if out[0] * (from[0] - centre[0]) + out[1] * (from[1] - centre[1]) < 0.0 {
        out = [-out[0], -out[1]];
    }
    let mut widths: Vec<f64> = (0..PROFILES)
        .filter_map(|k| {
            let t = share_along(k);
            let profile: Vec<f64> = (-24..=24)
                .map(|s| {
                    let u = f64::from(s) * STEP;
                    let x = from[0] + t * along[0] + u * out[0];
                    let y = from[1] + t * along[1] + u * out[1];
                    f64::from(sample(light, x, y))
                })
                .collect();
            let inner = profile[..8].iter().sum::<f64>() / 8.0;
            let outer = profile[profile.len() - 8..].iter().sum::<f64>() / 8.0;
            if (inner - outer).abs() < 0.02 {
                return None;
            }
            let steepest = profile
                .windows(3)
                .map(|w| (w[2] - w[0]).abs() / (2.0 * STEP))
                .fold(0.0, f64::max);
            Some(0.8 * (inner - outer).abs() / steepest.max(1e-9))
        })
        .collect();
    median(&mut widths)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A plate with room round it, nothing known of its size.
    const FREE: Evidence = Evidence {
        clean_rim: true,
        narrow: false,
        weakest: 6.0,
        soft: 2.0,
        measured: 4,
        whole: None,
        inner: None,
    };

    #[test]
    fn a_plate_with_room_round_it_is_one() {
        assert!(FREE.is_a_plate());
        // A shadow on the lid does not matter, a shape with soft edges is none.
        assert!(Evidence { soft: 3.5, ..FREE }.is_a_plate());
        assert!(!Evidence { soft: 5.0, ..FREE }.is_a_plate());
    }

    #[test]
    fn a_shape_in_a_picture_that_reaches_the_rim_is_none() {
        let shape = Evidence {
            clean_rim: false,
            ..FREE
        };
        assert!(!shape.is_a_plate());
        let of_no_size = Evidence {
            inner: Some(0.06),
            ..shape
        };
        assert!(!of_no_size.is_a_plate());
        let of_a_size = Evidence {
            inner: Some(0.01),
            ..shape
        };
        assert!(of_a_size.is_a_plate());
        // Sizes are many, and a shape may have one by chance; the whole picture has one too.
        let in_a_plate = Evidence {
            whole: Some(0.003),
            ..of_a_size
        };
        assert!(!in_a_plate.is_a_plate());
    }

    #[test]
    fn faint_sides_need_an_expected_size() {
        let faint = Evidence {
            weakest: 1.5,
            inner: Some(0.01),
            ..FREE
        };
        assert!(faint.is_a_plate());
        let of_no_size = Evidence {
            inner: Some(0.2),
            ..faint
        };
        assert!(!of_no_size.is_a_plate());
    }

    #[test]
    fn a_ledge_all_round_is_told_by_softness_rim_or_size() {
        let narrow = Evidence {
            narrow: true,
            soft: 2.2,
            ..FREE
        };
        assert!(narrow.is_a_plate());
        assert!(
            !Evidence {
                soft: 3.0,
                ..narrow
            }
            .is_a_plate()
        );
        let uneven_rim = Evidence {
            clean_rim: false,
            ..narrow
        };
        assert!(!uneven_rim.is_a_plate());
        let sharp = Evidence {
            soft: 1.0,
            ..uneven_rim
        };
        assert!(sharp.is_a_plate());
        let of_no_size = Evidence {
            inner: Some(0.07),
            ..narrow
        };
        assert!(!of_no_size.is_a_plate());
        let whole_fits = Evidence {
            whole: Some(0.003),
            inner: Some(0.02),
            ..narrow
        };
        assert!(!whole_fits.is_a_plate());
    }
}
