//! The plate's picture for a page: averaged down in linear light, coded to sRGB, JPEG, base64.

use std::sync::LazyLock;

use base64::Engine;
use jpeg_encoder::{ColorType, Encoder, EncodingError};

use super::ReportError;
use crate::raster::Grid;

/// Long side of the picture on a plate's page, pixels: our own choice, 180 a printed inch at 200 mm.
const PAGE_LONG_PX: usize = 1400;
/// Long side of a thumbnail on a session's page, pixels.
const THUMBNAIL_LONG_PX: usize = 320;
/// JPEG quality of 100: our own choice; the page's size is watched by `tests/page.rs`.
const QUALITY: u8 = 80;

/// The pictures of one plate that pages show, coded: a few hundred kilobytes, where the plate itself takes
/// tens of megabytes, so that all plates of a session can be kept.
#[derive(Debug)]
pub struct PlatePicture {
    pub(super) page: Option<DataPicture>,
    pub(super) thumbnail: Option<DataPicture>,
}

impl PlatePicture {
    /// Codes the pictures of a squared-up plate in linear sRGB, channels 0 to 65535; `file` names it in
    /// errors.
    ///
    /// # Errors
    /// When JPEG cannot hold it.
    pub fn of(picture: &Grid<[u16; 3]>, file: &str) -> Result<PlatePicture, ReportError> {
        let coded = |long_px| {
            data_picture(picture, long_px).map_err(|why| ReportError::Picture {
                file: file.to_owned(),
                why: why.to_string(),
            })
        };
        Ok(PlatePicture {
            page: coded(PAGE_LONG_PX)?,
            thumbnail: coded(THUMBNAIL_LONG_PX)?,
        })
    }
}

/// A picture as a `data:` address, with its size in pixels.
#[derive(Debug)]
pub(super) struct DataPicture {
    pub(super) address: String,
    pub(super) width_px: usize,
    pub(super) height_px: usize,
}

/// sRGB code of a linear value, 0 to 65535 (IEC 61966-2-1).
static CODE: LazyLock<Vec<u8>> = LazyLock::new(|| {
    (0..=u16::MAX)
        .map(|linear| {
            let linear = f64::from(linear) / 65535.0;
            let coded = if linear <= 0.003_130_8 {
                12.92 * linear
            } else {
                1.055 * linear.powf(1.0 / 2.4) - 0.055
            };
            (coded * 255.0).round() as u8
        })
        .collect()
});

/// Codes a linear picture; `None` when there is nothing to show.
fn data_picture(
    picture: &Grid<[u16; 3]>,
    long_px: usize,
) -> Result<Option<DataPicture>, EncodingError> {
    let (height, width) = picture.dim();
    if height == 0 || width == 0 {
        return Ok(None);
    }
    let long = height.max(width);
    let shown = |side: usize| ((side * long_px.min(long)).div_ceil(long)).max(1);
    let (width_px, height_px) = (shown(width), shown(height));
    let mut pixels = match (width_px, height_px) == (width, height) {
        true => coded(picture.iter().flatten().copied()),
        false => {
            let means = averaged(picture, width_px, height_px);
            coded(means.iter().flatten().map(|value| (value + 0.5) as u16))
        }
    };
    let mut colour = ColorType::Rgb;
    if pixels.chunks_exact(3).all(|p| p[0] == p[1] && p[1] == p[2]) {
        // A grey scan needs one channel: a third of the work, and smaller.
        pixels = pixels.into_iter().step_by(3).collect();
        colour = ColorType::Luma;
    }
    let mut jpeg = Vec::with_capacity(pixels.len() / 4);
    // No picture that is asked for is longer than 65,535 pixels, which is all that JPEG can hold.
    let (width, height) = (width_px as u16, height_px as u16);
    Encoder::new(&mut jpeg, QUALITY).encode(&pixels, width, height, colour)?;
    let mut address = String::from("data:image/jpeg;base64,");
    base64::engine::general_purpose::STANDARD.encode_string(&jpeg, &mut address);
    Ok(Some(DataPicture {
        address,
        width_px,
        height_px,
    }))
}

fn coded(linear: impl Iterator<Item = u16>) -> Vec<u8> {
    let code = &*CODE;
    linear.map(|value| code[usize::from(value)]).collect()
}

/// Area average: each cell of the source goes to the cells it overlaps, by its share.
fn averaged(picture: &Grid<[u16; 3]>, width: usize, height: usize) -> Vec<[f32; 3]> {
    let (source_height, source_width) = picture.dim();
    let across = shares(source_width, width);
    let down = shares(source_height, height);
    let mut out = vec![[0f32; 3]; width * height];
    let mut line = vec![[0f32; 3]; width];
    for (row, &(first, in_first, in_next)) in picture.rows().into_iter().zip(&down) {
        line.fill([0.0; 3]);
        for (cell, &(column, in_column, in_right)) in row.iter().zip(&across) {
            let cell = cell.map(f32::from);
            add(&mut line[column], cell, in_column);
            if in_right > 0.0 {
                add(&mut line[column + 1], cell, in_right);
            }
        }
        for (offset, weight) in [(0, in_first), (1, in_next)] {
            if weight > 0.0 {
                let start = (first + offset) * width;
                for (to, from) in out[start..start + width].iter_mut().zip(&line) {
                    add(to, *from, weight);
                }
            }
        }
    }
    out
}

fn add(to: &mut [f32; 3], from: [f32; 3], weight: f32) {
    for (to, from) in to.iter_mut().zip(from) {
        *to += from * weight;
    }
}

/// For each source cell the target cell it begins in, and the weights with which it enters that
/// one and the next. Targets never outnumber sources, so a cell meets at most two.
fn shares(source: usize, target: usize) -> Vec<(usize, f32, f32)> {
    let ratio = target as f64 / source as f64;
    (0..source)
        .map(|i| {
            let (start, end) = (i as f64 * ratio, (i + 1) as f64 * ratio);
            let first = (start.floor() as usize).min(target - 1);
            let boundary = (first + 1) as f64;
            let over = (end - boundary).max(0.0);
            if over < 1e-9 || first + 1 >= target {
                (first, ratio as f32, 0.0)
            } else {
                (first, (boundary - start) as f32, over as f32)
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn averaging_keeps_the_mean_light() {
        let picture = Grid::from_shape_fn((50, 70), |(i, j)| [(i * 900 + j * 11) as u16; 3]);
        let mean = picture.iter().map(|c| f64::from(c[0])).sum::<f64>() / 3500.0;
        let small = averaged(&picture, 13, 9);
        let small_mean = small.iter().map(|c| f64::from(c[0])).sum::<f64>() / 117.0;
        assert!((mean - small_mean).abs() < 1.0, "{mean} {small_mean}");
    }

    #[test]
    fn a_picture_that_fits_is_coded_as_it_is() {
        let picture = Grid::from_shape_fn((50, 70), |(i, j)| [(i * 900 + j * 11) as u16; 3]);
        let same = averaged(&picture, 70, 50);
        let same = same.iter().flatten().map(|value| (value + 0.5) as u16);
        assert!(same.eq(picture.iter().flatten().copied()));
    }

    #[test]
    fn half_light_is_coded_as_the_standard_says() {
        // IEC 61966-2-1: linear 0.5 is code 187.5 of 255.
        assert_eq!(CODE[32768], 188);
        assert_eq!((CODE[0], CODE[65535]), (0, 255));
    }

    #[test]
    fn an_empty_picture_is_none_and_a_thin_one_works() {
        let none = data_picture(&Grid::from_elem((0, 5), [0; 3]), 100).unwrap();
        assert!(none.is_none());
        let thin = data_picture(&Grid::from_elem((1, 5000), [9; 3]), 100)
            .unwrap()
            .unwrap();
        assert_eq!((thin.width_px, thin.height_px), (100, 1));
    }
}
