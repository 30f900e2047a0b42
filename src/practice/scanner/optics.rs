//! Blur, flare and sharpening of a picture of light.

use rayon::prelude::*;

/// Blurs with a Gaussian of the given standard deviation in pixels; edges repeat.
pub(in crate::practice) fn blur(light: &mut [f32], width: usize, sigma: f32) {
    if sigma <= 0.0 || width == 0 {
        return;
    }
    let kernel = gaussian(sigma);
    let radius = kernel.len() / 2;
    let height = light.len() / width;
    let mut across = vec![0.0_f32; light.len()];
    across
        .par_chunks_mut(width)
        .zip(light.par_chunks(width))
        .for_each(|(out, line)| {
            for (column, cell) in out.iter_mut().enumerate() {
                *cell = if column >= radius && column + radius < width {
                    line[column - radius..=column + radius]
                        .iter()
                        .zip(&kernel)
                        .map(|(value, weight)| value * weight)
                        .sum()
                } else {
                    kernel
                        .iter()
                        .enumerate()
                        .map(|(k, weight)| {
                            let at = (column + k).saturating_sub(radius).min(width - 1);
                            line[at] * weight
                        })
                        .sum()
                };
            }
        });
    light
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(row, out)| {
            out.fill(0.0);
            for (k, weight) in kernel.iter().enumerate() {
                let at = (row + k).saturating_sub(radius).min(height - 1);
                let line = &across[at * width..(at + 1) * width];
                for (cell, value) in out.iter_mut().zip(line) {
                    *cell += value * weight;
                }
            }
        });
}

/// Weights that sum to one.
fn gaussian(sigma: f32) -> Vec<f32> {
    let radius = (3.5 * sigma).ceil().max(1.0) as i32;
    let raw: Vec<f32> = (-radius..=radius)
        .map(|i| libm::expf(-0.5 * (i as f32 / sigma) * (i as f32 / sigma)))
        .collect();
    let sum: f32 = raw.iter().sum();
    raw.into_iter().map(|weight| weight / sum).collect()
}

/// How far the near part of flare carries, millimetres (standard deviation): our own choice, as is
/// the other half, which the whole glass gives evenly.
const FLARE_REACH_MM: f32 = 10.0;
const NEAR_SHARE: f32 = 0.5;
/// Flare is worked out on cells of this side, millimetres.
const FLARE_CELL_MM: f32 = 1.5;

/// Adds light that strays in from the surroundings of each place.
pub(super) fn flare(light: &mut [f32], width: usize, px_per_mm: f32, share: f32) {
    if share <= 0.0 || width == 0 {
        return;
    }
    let height = light.len() / width;
    let cell = (FLARE_CELL_MM * px_per_mm).round().max(1.0) as usize;
    let (columns, rows) = (width.div_ceil(cell), height.div_ceil(cell));
    let mut coarse = vec![0.0_f32; columns * rows];
    coarse
        .par_chunks_mut(columns)
        .enumerate()
        .for_each(|(r, out)| {
            let lines = r * cell..((r + 1) * cell).min(height);
            let mut count = vec![0.0_f32; columns];
            for row in lines {
                let line = &light[row * width..(row + 1) * width];
                for (c, part) in line.chunks(cell).enumerate() {
                    out[c] += part.iter().sum::<f32>();
                    count[c] += part.len() as f32;
                }
            }
            for (sum, count) in out.iter_mut().zip(count) {
                *sum /= count.max(1.0);
            }
        });
    let everywhere = coarse.iter().sum::<f32>() / coarse.len().max(1) as f32;
    blur(
        &mut coarse,
        columns,
        FLARE_REACH_MM * px_per_mm / cell as f32,
    );
    light
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(row, line)| {
            let y = ((row as f32 + 0.5) / cell as f32 - 0.5).clamp(0.0, (rows - 1) as f32);
            let (r, v) = (y as usize, y - y.floor());
            let upper = &coarse[r * columns..(r + 1) * columns];
            let next = (r + 1).min(rows - 1);
            let lower = &coarse[next * columns..(next + 1) * columns];
            for (column, value) in line.iter_mut().enumerate() {
                let x =
                    ((column as f32 + 0.5) / cell as f32 - 0.5).clamp(0.0, (columns - 1) as f32);
                let (c, u) = (x as usize, x - x.floor());
                let d = (c + 1).min(columns - 1);
                let top = upper[c] + (upper[d] - upper[c]) * u;
                let bottom = lower[c] + (lower[d] - lower[c]) * u;
                let near = top + (bottom - top) * v;
                let around = everywhere + NEAR_SHARE * (near - everywhere);
                *value += share * (around - *value);
            }
        });
}

/// Unsharp masking as scanners' programs do it: adds `amount` of what a one-pixel blur takes away.
pub(super) fn sharpen(light: &mut [f32], width: usize, amount: f32) {
    let mut soft = light.to_vec();
    blur(&mut soft, width, 1.0);
    light
        .par_iter_mut()
        .zip(soft.par_iter())
        .for_each(|(value, soft)| *value += amount * (*value - soft));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blur_keeps_the_sum_and_has_the_stated_width() {
        let (width, height) = (41, 31);
        let mut light = vec![0.0; width * height];
        light[15 * width + 20] = 1.0;
        blur(&mut light, width, 2.0);
        let sum: f32 = light.iter().sum();
        assert!((sum - 1.0).abs() < 1e-4);
        let variance: f32 = light
            .iter()
            .enumerate()
            .map(|(i, value)| value * ((i % width) as f32 - 20.0).powi(2))
            .sum();
        assert!((variance - 4.0).abs() < 0.1, "{variance}");
    }

    #[test]
    fn flare_lifts_the_dark_beside_the_bright() {
        let (width, height) = (200, 100);
        let mut light: Vec<f32> = (0..width * height)
            .map(|i| if i % width < 100 { 1.0 } else { 0.0 })
            .collect();
        flare(&mut light, width, 4.0, 0.01);
        let near = light[50 * width + 104];
        let far = light[50 * width + 190];
        assert!(near > far && near < 0.01 && far >= 0.0);
    }
}
