//! Draws for scenes and shapes, in single precision.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use super::maths;

/// One stream of chance.
pub(super) struct Chance(ChaCha8Rng);

impl Chance {
    /// The stream of a seed for one purpose.
    pub(super) fn of(seed: u64, purpose: &str) -> Self {
        Chance(maths::stream(seed, purpose))
    }

    pub(super) fn between(&mut self, low: f32, high: f32) -> f32 {
        low + (high - low) * self.0.random_range(0.0_f64..1.0) as f32
    }

    pub(super) fn whole(&mut self, low: u32, high: u32) -> u32 {
        self.0.random_range(low..=high)
    }

    pub(super) fn yes(&mut self, share: f32) -> bool {
        self.between(0.0, 1.0) < share
    }

    pub(super) fn sign(&mut self) -> f32 {
        if self.yes(0.5) { 1.0 } else { -1.0 }
    }

    /// Around a median, normal in the logarithm (twelve even draws), cut at two standard deviations.
    pub(super) fn around(&mut self, median: f64, spread: f64) -> f32 {
        let normal: f32 = (0..12).map(|_| self.between(0.0, 1.0)).sum::<f32>() - 6.0;
        median as f32 * libm::expf(spread as f32 * normal.clamp(-2.0, 2.0))
    }

    pub(super) fn seed(&mut self) -> u64 {
        self.0.random_range(0..u64::MAX)
    }
}
