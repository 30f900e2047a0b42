//! Silver along lines of one course, and the even waves across them.

use super::lines::{Course, Lines};
use crate::handling::Spot;
use crate::measures::bands::response::Response;

/// Core of a wave, millimetres: between the finest spacing and the widest it answers best.
pub(super) const CORE_MM: f64 = 0.45;
/// Spacings looked at, millimetres, evenly in the logarithm.
const SPACINGS_MM: [f64; 2] = [1.8, 8.0];
/// Number of spacings.
const SPACINGS: usize = 22;
/// Steps between one spacing and the next in which the best one is looked for at last.
const FINER: i32 = 8;
/// Widest spacing of waves, millimetres (from memory): where wider ones are stronger it is the scene's own broad
/// light and dark.
pub(super) const WIDEST_MM: f64 = 5.4;

/// How far from the corner or edge waves are looked for, millimetres.
const DEPTHS_MM: [f64; 3] = [18.0, 26.0, 36.0];

/// Shortest line that counts, millimetres.
const SHORTEST_MM: f64 = 4.8;

/// Cells of the response that hang together: its blur holds about so many. It scales the power only.
const TOGETHER: f64 = 10.0;

/// Silver along lines of one course.
pub(super) struct Profile {
    pub(super) course: Course,
    /// Where the first line lies across them, millimetres, and from line to line.
    pub(super) first_mm: f64,
    pub(super) step_mm: f64,
    /// Mean response of each line over what chance makes of it; 0 where the line is too short.
    pub(super) means: Vec<f64>,
    pub(super) long: Vec<bool>,
}

/// Even waves at one end of a profile.
#[derive(Clone, Copy)]
pub(super) struct Waves {
    pub(super) spot: Spot,
    pub(super) low_end: bool,
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) spacing_mm: f64,
    pub(super) power: f64,
    pub(super) share: f64,
}

impl Profile {
    pub(super) fn of(response: &Response, course: Course) -> Profile {
        let lines = Lines::of(response.cells.dim(), course);
        let mut sums = vec![(0.0f64, 0usize); lines.count];
        for ((i, j), known) in response.known.indexed_iter() {
            if *known > 0.0 {
                let of = &mut sums[lines.at(i, j)];
                *of = (of.0 + f64::from(response.cells[[i, j]]), of.1 + 1);
            }
        }
        let shortest = (SHORTEST_MM / response.pitch_mm) as usize;
        let long: Vec<bool> = sums.iter().map(|(_, n)| *n >= shortest.max(1)).collect();
        let means = sums.iter().zip(&long).map(|((sum, n), long)| match long {
            true => sum / (*n as f64 * TOGETHER).sqrt(),
            false => 0.0,
        });
        Profile {
            course,
            first_mm: (lines.first + 0.5) * response.pitch_mm,
            step_mm: response.pitch_mm,
            means: means.collect(),
            long,
        }
    }

    /// Where its low and its high end lie.
    fn spot(&self, low_end: bool) -> Spot {
        let [low, high] = match self.course.axis_deg {
            axis if axis < 22.5 => [Spot::Left, Spot::Right],
            axis if axis < 67.5 => [Spot::TopLeft, Spot::BottomRight],
            axis if axis < 112.5 => [Spot::Top, Spot::Bottom],
            _ => [Spot::TopRight, Spot::BottomLeft],
        };
        if low_end { low } else { high }
    }

    /// The strongest even waves from one end on.
    pub(super) fn waves(&self, low_end: bool) -> Option<Waves> {
        let first = self.long.iter().position(|long| *long)?;
        let last = self.long.iter().rposition(|long| *long)?;
        let windows = DEPTHS_MM.map(|depth_mm| {
            let lines = (depth_mm / self.step_mm) as usize;
            match low_end {
                true => (first, (first + lines).min(last + 1)),
                false => ((last + 1).saturating_sub(lines).max(first), last + 1),
            }
        });
        let of_window = |(from, to): (usize, usize)| {
            let values = &self.means[from..to];
            let count = values.len() as f64;
            let mean = values.iter().sum::<f64>() / count.max(1.0);
            let all: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
            let of_spacing = move |spacing_mm: f64| {
                let (re, im) = turned(values, mean, self.step_mm, spacing_mm);
                let power = (re * re + im * im) / count.max(1.0);
                Waves {
                    spot: self.spot(low_end),
                    low_end,
                    from,
                    to,
                    spacing_mm,
                    power,
                    share: 2.0 * power / all.max(1e-9),
                }
            };
            spacings_mm(SPACINGS_MM, SPACINGS).map(of_spacing)
        };
        windows
            .into_iter()
            .filter(|(from, to)| (to - from) as f64 * self.step_mm >= 0.5 * DEPTHS_MM[0])
            .flat_map(of_window)
            .max_by(|a, b| a.power.total_cmp(&b.power))
            .filter(|waves| waves.spacing_mm <= WIDEST_MM)
    }

    /// The waves with the spacing between those looked at that has the most power.
    pub(super) fn finer(&self, waves: Waves) -> Waves {
        let values = &self.means[waves.from..waves.to];
        let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
        let [least, most] = SPACINGS_MM;
        let step = (most / least).powf(1.0 / (SPACINGS - 1) as f64);
        let power = |spacing_mm: f64| {
            let (re, im) = turned(values, mean, self.step_mm, spacing_mm);
            re * re + im * im
        };
        let near =
            (-FINER..=FINER).map(|k| waves.spacing_mm * step.powf(f64::from(k) / f64::from(FINER)));
        let spacing_mm = near
            .max_by(|a, b| power(*a).total_cmp(&power(*b)))
            .unwrap_or(waves.spacing_mm);
        Waves {
            spacing_mm,
            ..waves
        }
    }
}

/// Sum of values turned by their phase from the first on.
pub(super) fn turned(values: &[f64], mean: f64, step_mm: f64, spacing_mm: f64) -> (f64, f64) {
    let by = std::f64::consts::TAU * step_mm / spacing_mm;
    let sums = values.iter().enumerate();
    sums.fold((0.0, 0.0), |(re, im), (k, value)| {
        let (sin, cos) = (by * k as f64).sin_cos();
        (re + (value - mean) * cos, im + (value - mean) * sin)
    })
}

/// So many spacings, evenly in the logarithm.
pub(super) fn spacings_mm([least, most]: [f64; 2], count: usize) -> impl Iterator<Item = f64> {
    (0..count).map(move |k| least * (most / least).powf(k as f64 / (count - 1) as f64))
}
