//! What a band is like across and along: a bell that keeps its contrast, or a thing with edges.

use crate::raster::stats::{median, robust_line};

/// What tells a soft band from a thing of the scene.
#[derive(Debug, Clone, PartialEq)]
pub struct BandForm {
    /// Width at half height of the likest bell, millimetres.
    pub width_mm: f64,
    /// Its height, density.
    pub height_d: f64,
    /// Squares left by the likest bell over those left by the likest box: below 1 for a soft band.
    pub bell_over_box: f64,
    /// Steepest change from cell to cell, in heights per width: 1.4 for a bell, more for what has edges.
    pub steepness: f64,
    /// Median contrast along it, density.
    pub contrast_d: f64,
    /// Scatter of its contrast along it about a straight fall, as a share of the median.
    pub unevenness: f64,
    /// Share of its stretches that have its sign clearly.
    pub coverage: f64,
}

/// Widths of bells and boxes that are tried, millimetres, and how far off the middle they may lie.
const WIDTHS_MM: [f64; 9] = [0.7, 1.0, 1.3, 1.7, 2.2, 2.8, 3.5, 4.4, 5.5];
/// See [`WIDTHS_MM`].
const OFF_MM: [f64; 3] = [-0.4, 0.0, 0.4];
/// Between them, as shares.
const FINER: [f64; 4] = [0.86, 0.93, 1.07, 1.15];
/// Half as high half a width off.
const BELL: f64 = 4.0 * std::f64::consts::LN_2;
/// An edge of a box is this wide: the blur of scan and cells, millimetres.
const EDGE_MM: f64 = 0.5;
/// Fewest known cells across a band.
const FEWEST: usize = 6;
/// Least height and contrast that are believed, density.
const LEAST_D: f64 = 2e-3;
/// Least squares that count as left, density squared.
const LEAST_LEFT: f64 = 1e-9;

impl BandForm {
    /// From silver across it in cells of `pitch_mm`, the middle one its own, and from contrasts along it with their
    /// places.
    pub(super) fn of(
        across: &[Option<f64>],
        pitch_mm: f64,
        along: &[(f64, f64)],
        coverage: f64,
    ) -> BandForm {
        let mut contrasts: Vec<f64> = along.iter().map(|(_, contrast_d)| *contrast_d).collect();
        let contrast_d = median(&mut contrasts).unwrap_or(0.0);
        let scatter = robust_line(along).map(|(_, _, scatter)| scatter);
        let mut form = BandForm {
            width_mm: WIDTHS_MM[1],
            height_d: 0.0,
            bell_over_box: 1.0,
            steepness: f64::INFINITY,
            contrast_d,
            unevenness: scatter.unwrap_or(f64::INFINITY) / contrast_d.max(LEAST_D),
            coverage,
        };
        let middle = (across.len() / 2) as f64;
        let known: Vec<(f64, f64)> = across
            .iter()
            .enumerate()
            .filter_map(|(k, silver)| Some(((k as f64 - middle) * pitch_mm, (*silver)?)))
            .collect();
        if known.len() < FEWEST {
            return form;
        }
        let ground = Ground::of(&known);
        let bell = |off: f64, width: f64| (-BELL * (off / width).powi(2)).exp();
        let boxed = |off: f64, width: f64| {
            ((0.5 * (width + EDGE_MM) - off.abs()) / EDGE_MM).clamp(0.0, 1.0)
        };
        let (left, height_d, width_mm) = ground.likest(&bell);
        let (of_box, _, _) = ground.likest(&boxed);
        let steepest = known
            .windows(3)
            .map(|three| (0.5 * (three[2].1 - three[0].1)).abs())
            .fold(0.0, f64::max);
        form.width_mm = width_mm;
        form.height_d = height_d;
        form.bell_over_box = (left + LEAST_LEFT) / (of_box + LEAST_LEFT);
        form.steepness = steepest / pitch_mm * width_mm / height_d.max(LEAST_D);
        form
    }
}

/// Silver across a band, freed of its level and slope.
struct Ground {
    places: Vec<f64>,
    silver: Vec<f64>,
}

impl Ground {
    fn of(known: &[(f64, f64)]) -> Ground {
        let (places, silver): (Vec<f64>, Vec<f64>) = known.iter().copied().unzip();
        let silver = freed(&places, silver);
        Ground { places, silver }
    }

    /// Squares that the likest of a shape's widths leaves, its height and its width.
    fn likest(&self, shape: &dyn Fn(f64, f64) -> f64) -> (f64, f64, f64) {
        let all: f64 = self.silver.iter().map(|silver| silver * silver).sum();
        let mut best = (all, 0.0, WIDTHS_MM[1]);
        let mut middle = 0.0;
        let try_at = |best: &mut (f64, f64, f64), middle: &mut f64, off: f64, width: f64| {
            let of = self.places.iter().map(|place| shape(place - off, width));
            let of = freed(&self.places, of.collect());
            let own: f64 = of.iter().map(|of| of * of).sum();
            let with: f64 = of.iter().zip(&self.silver).map(|(a, b)| a * b).sum();
            let left = (all - with * with / own.max(1e-12)).max(0.0);
            if with > 0.0 && left < best.0 {
                *best = (left, with / own.max(1e-12), width);
                *middle = off;
            }
        };
        for width in WIDTHS_MM {
            for off in OFF_MM {
                try_at(&mut best, &mut middle, off, width);
            }
        }
        let (at, width) = (middle, best.2);
        for finer in FINER {
            for off in [-0.2, 0.0, 0.2] {
                try_at(&mut best, &mut middle, at + off, width * finer);
            }
        }
        best
    }
}

/// Values less their mean and their slope over the places.
fn freed(places: &[f64], values: Vec<f64>) -> Vec<f64> {
    let count = places.len() as f64;
    let mean = |of: &[f64]| of.iter().sum::<f64>() / count;
    let (middle, level) = (mean(places), mean(&values));
    let spread: f64 = places.iter().map(|place| (place - middle).powi(2)).sum();
    let with = places.iter().zip(&values);
    let slope = with
        .map(|(place, value)| (place - middle) * (value - level))
        .sum::<f64>()
        / spread.max(1e-12);
    let pairs = places.iter().zip(values);
    pairs
        .map(|(place, value)| value - level - slope * (place - middle))
        .collect()
}
