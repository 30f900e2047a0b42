//! Means of runs of cells of a profile across bands, and its scatter place by place.

use crate::raster::stats::median_and_sigma;

/// Running sums of a profile, for the mean of any run of its cells.
pub(super) struct Sums {
    sums: Vec<f64>,
    unknown: Vec<u32>,
}

impl Sums {
    pub(super) fn of(profile: impl Iterator<Item = f32>) -> Sums {
        let (mut sum, mut missing) = (0.0, 0);
        let (mut sums, mut unknown) = (vec![0.0], vec![0]);
        for value in profile {
            match value.is_finite() {
                true => sum += f64::from(value),
                false => missing += 1,
            }
            sums.push(sum);
            unknown.push(missing);
        }
        Sums { sums, unknown }
    }

    /// NaN where a cell is unknown or the profile ends.
    pub(super) fn mean(&self, from: usize, wide: usize) -> f32 {
        let to = from + wide;
        match self.sums.get(to) {
            Some(sum) if self.unknown[to] == self.unknown[from] => {
                ((sum - self.sums[from]) / wide as f64) as f32
            }
            _ => f32::NAN,
        }
    }
}

/// Robust scatter of a stretch, place by place, at least half of what it is all over and `least_d` more, density.
pub(super) struct Scatter {
    hop: usize,
    at_hops: Vec<f32>,
}

impl Scatter {
    pub(super) fn of(values: &[f32], window: usize, least_d: f64) -> Scatter {
        let all = scatter(values).unwrap_or(0.0);
        let hop = (window / 4).max(1);
        let at_hops = (0..values.len())
            .step_by(hop)
            .map(|middle| {
                let from = middle.saturating_sub(window / 2);
                let to = (middle + window / 2).min(values.len());
                let near = scatter(&values[from..to]).unwrap_or(all);
                (near.max(0.5 * all) + least_d) as f32
            })
            .collect();
        Scatter { hop, at_hops }
    }

    /// Between places, straight.
    pub(super) fn at(&self, column: usize) -> f32 {
        let (hop, past) = (column / self.hop, column % self.hop);
        let here = self.at_hops[hop];
        let next = self.at_hops.get(hop + 1).copied().unwrap_or(here);
        here + (next - here) * past as f32 / self.hop as f32
    }
}

/// Fewest known cells that scatter is told by.
const FEWEST_CELLS: usize = 20;

fn scatter(values: &[f32]) -> Option<f64> {
    let known = values.iter().filter(|value| value.is_finite());
    let known: Vec<f32> = known.copied().collect();
    (known.len() >= FEWEST_CELLS)
        .then(|| median_and_sigma(&known))?
        .map(|(_, sigma)| sigma)
}
