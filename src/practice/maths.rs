//! Sums that give the same bits on every machine.
//!
//! The transcendental functions come from the `libm` crate instead of the system's library, whose
//! last bits differ between machines; noise comes from integer hashes of position and seed, so that
//! rows can be painted in any order.

use std::sync::LazyLock;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// A stream of chance of its own for each purpose, so that a change to one leaves the others alone.
pub(super) fn stream(seed: u64, purpose: &str) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(sub_seed(seed, purpose))
}

/// Seed of one purpose: FNV-1a of its name, mixed with the plate's seed.
pub(super) fn sub_seed(seed: u64, purpose: &str) -> u64 {
    let name = purpose
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        });
    mix(seed ^ name)
}

/// Final mixing steps of SplitMix64 (Steele, Lea and Flood 2014).
fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A column's and a row's share in a cell's hash.
#[inline]
fn column_key(x: i32) -> u64 {
    (x as u32 as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15)
}

#[inline]
fn row_key(y: i32) -> u64 {
    (y as u32 as u64)
        .wrapping_mul(0xc2b2_ae3d_27d4_eb4f)
        .rotate_left(29)
}

/// 32 well-mixed bits of a cell's key.
#[inline]
fn bits(key: u64) -> u32 {
    let z = key.wrapping_mul(0xd6e8_feb8_6659_fd93);
    let z = (z ^ (z >> 32)).wrapping_mul(0xd6e8_feb8_6659_fd93);
    (z >> 32) as u32
}

/// 32 well-mixed bits for a cell of an endless grid.
#[inline]
pub(super) fn cell_hash(seed: u64, x: i32, y: i32) -> u32 {
    bits(seed ^ column_key(x) ^ row_key(y))
}

/// Bits to a number between 0 and 1.
#[inline]
fn unit(bits: u32) -> f32 {
    (bits >> 8) as f32 * (1.0 / 16_777_216.0)
}

/// A number between 0 and 1 for a cell.
#[inline]
pub(super) fn cell_unit(seed: u64, x: i32, y: i32) -> f32 {
    unit(cell_hash(seed, x, y))
}

/// Normal quantiles at the middles of 65 536 equal shares.
static NORMALS: LazyLock<Vec<f32>> = LazyLock::new(|| {
    (0..65_536)
        .map(|i| normal_quantile((f64::from(i) + 0.5) / 65_536.0) as f32)
        .collect()
});

/// Normal noise of unit variance, independent from cell to cell; tails end at 4.3 sd.
#[derive(Clone, Copy)]
pub(super) struct CellNormal {
    seed: u64,
    table: &'static [f32],
}

impl CellNormal {
    pub(super) fn new(seed: u64) -> Self {
        CellNormal {
            seed,
            table: &NORMALS,
        }
    }

    #[inline]
    pub(super) fn at(&self, x: i32, y: i32) -> f32 {
        self.table[(cell_hash(self.seed, x, y) & 0xffff) as usize]
    }
}

/// Quantile of the standard normal distribution, by bisection of its distribution function
/// (Abramowitz and Stegun 7.1.22: P = erfc(-z / sqrt 2) / 2).
pub(super) fn normal_quantile(share: f64) -> f64 {
    let (mut low, mut high) = (-6.0, 6.0);
    for _ in 0..50 {
        let mid = 0.5 * (low + high);
        if 0.5 * libm::erfc(-mid * std::f64::consts::FRAC_1_SQRT_2) < share {
            low = mid;
        } else {
            high = mid;
        }
    }
    0.5 * (low + high)
}

/// Value noise: random heights on a unit grid, joined by quintic blends. Mean 0, between -1 and 1.
#[inline]
pub(super) fn value_noise(seed: u64, x: f32, y: f32) -> f32 {
    let (column, row) = (whole_below(x), whole_below(y));
    let (u, v) = (quintic(x - column as f32), quintic(y - row as f32));
    let (left, right) = (column_key(column), column_key(column.wrapping_add(1)));
    let (above, below) = (seed ^ row_key(row), seed ^ row_key(row.wrapping_add(1)));
    let top = lerp(unit(bits(above ^ left)), unit(bits(above ^ right)), u);
    let bottom = lerp(unit(bits(below ^ left)), unit(bits(below ^ right)), u);
    2.0 * lerp(top, bottom, v) - 1.0
}

/// The whole number at or below `x`; a call of `floor` would cost more than the rest of the noise.
#[inline]
fn whole_below(x: f32) -> i32 {
    let cut = x as i32;
    cut.wrapping_sub(i32::from(x < cut as f32))
}

/// Value noise summed over octaves, each twice as fine and half as strong (Perlin 1985, from
/// memory). Mean 0; sd near 0.35 whatever the number of octaves.
#[inline]
pub(super) fn fractal(seed: u64, x: f32, y: f32, octaves: u32) -> f32 {
    let (mut sum, mut weight, mut total, mut scale) = (0.0, 1.0, 0.0, 1.0);
    for octave in 0..octaves {
        // Shifted by an odd amount so that the octaves' grids do not lie on each other.
        let shift = 17.37 * octave as f32;
        sum += weight
            * value_noise(
                seed.wrapping_add(u64::from(octave)),
                x * scale + shift,
                y * scale - shift,
            );
        total += weight * weight;
        weight *= 0.5;
        scale *= 2.0;
    }
    sum / total.sqrt()
}

fn quintic(t: f32) -> f32 {
    t * t * t * (t * (t * 6.0 - 15.0) + 10.0)
}

#[inline]
pub(super) fn lerp(a: f32, b: f32, t: f32) -> f32 {
    a + (b - a) * t
}

/// 0 below `low`, 1 above `high`, smooth between.
#[inline]
pub(super) fn smoothstep(low: f32, high: f32, x: f32) -> f32 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Ten to the power of `x`.
#[inline]
pub(super) fn pow10(x: f32) -> f32 {
    libm::exp2f(x * std::f32::consts::LOG2_10)
}

/// Density of a reflectance or transmittance (ISO 5-1).
#[inline]
pub(super) fn density(light: f32) -> f32 {
    -libm::log10f(light.max(1e-6))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_agree_with_published_values() {
        // 97.5 % and 99.5 % points of the normal distribution (any table of it).
        assert!((normal_quantile(0.975) - 1.959_964).abs() < 1e-6);
        assert!((normal_quantile(0.995) - 2.575_829).abs() < 1e-6);
    }

    #[test]
    fn cell_noise_has_unit_variance_and_no_neighbours() {
        let noise = CellNormal::new(7);
        let n = 200;
        let (mut sum, mut square, mut beside) = (0.0, 0.0, 0.0);
        for y in 0..n {
            for x in 0..n {
                let z = f64::from(noise.at(x, y));
                sum += z;
                square += z * z;
                beside += z * f64::from(noise.at(x + 1, y));
            }
        }
        let count = f64::from(n * n);
        assert!((sum / count).abs() < 0.02);
        assert!((square / count - 1.0).abs() < 0.03);
        assert!((beside / count).abs() < 0.02);
    }

    #[test]
    fn streams_differ_by_purpose() {
        assert_ne!(sub_seed(1, "dust"), sub_seed(1, "scene"));
        assert_ne!(sub_seed(1, "dust"), sub_seed(2, "dust"));
    }
}
