//! Light becomes codes, codes become a file with its resolution and colour profile.

use std::io::Cursor;

use image::codecs::jpeg::{JpegEncoder, PixelDensity, PixelDensityUnit};
use image::{ExtendedColorType, ImageEncoder};
use moxcms::{ColorDateTime, ColorProfile, ToneReprCurve};
use png::{BitDepth, PixelDimensions, Unit};
use rayon::prelude::*;
use tiff::encoder::{Compression, DeflateLevel, Predictor, Rational, TiffEncoder, colortype};
use tiff::tags::{ResolutionUnit, Tag};

use super::Scanned;
use crate::practice::PracticeError;
use crate::practice::maths::{self, CellNormal};
use crate::practice::recipe::{Coding, FileFormat, Recipe, ScanRecipe, TagState};

/// Exponent of Adobe RGB (1998), and what a profile's one-number curve can state next to 2.2.
const GAMMA: f32 = 563.0 / 256.0;

/// Luminance weights of linear sRGB (IEC 61966-2-1).
const LUMA: [f32; 3] = [0.2126, 0.7152, 0.0722];

/// Linear sRGB to linear Adobe RGB (1998): from the primaries of both (IEC 61966-2-1; Adobe RGB
/// (1998) colour image encoding, 4.3.1), white D65. Each row sums to 1.
const SRGB_TO_ADOBE: [[f32; 3]; 3] = [
    [0.715_13, 0.284_87, 0.0],
    [0.0, 1.0, 0.0],
    [0.0, 0.041_17, 0.958_83],
];

/// The bytes of the scan's file.
pub(in crate::practice) fn encode(
    recipe: &Recipe,
    scanned: &Scanned,
) -> Result<Vec<u8>, PracticeError> {
    let scan = &recipe.scan;
    let profile = if scan.icc { Some(icc(scan)?) } else { None };
    let (width, height) = (scanned.width_px as u32, scanned.height_px as u32);
    let codes = codes(recipe, scanned);
    match scan.format {
        FileFormat::Tiff => tiff_bytes(scan, width, height, &codes, profile),
        FileFormat::Png => png_bytes(scan, width, height, &codes, profile),
        FileFormat::Jpeg => jpeg_bytes(scan, width, height, &codes, profile),
    }
    .map_err(PracticeError::Encode)
}

/// Code values, channels interleaved, 0 to 65535 or 0 to 255.
fn codes(recipe: &Recipe, scanned: &Scanned) -> Vec<u16> {
    let scan = &recipe.scan;
    let channels = usize::from(scan.channels);
    let table = CodeTable::new(
        scan.encoding,
        if scan.bits == 16 { 65_535.0 } else { 255.0 },
    );
    let tints: Vec<[f32; 3]> = std::iter::once([1.0, 1.0, 1.0])
        .chain(recipe.plates.iter().map(|plate| {
            let [red, blue] = plate.tone.warmth.map(|factor| factor as f32);
            let luma = LUMA[0] * red + LUMA[1] + LUMA[2] * blue;
            [red / luma, 1.0 / luma, blue / luma]
        }))
        .collect();
    // Each channel has a little noise of its own beside the noise they share.
    let own = CellNormal::new(maths::sub_seed(
        scan.noise_seed(recipe.seed),
        "channel noise",
    ));
    let read = 0.7 * scan.read as f32;
    let mut codes = vec![0_u16; scanned.light.len() * channels];
    let width = scanned.width_px;
    codes
        .par_chunks_mut(width * channels)
        .enumerate()
        .for_each(|(row, line)| {
            let light = &scanned.light[row * width..(row + 1) * width];
            let owner = &scanned.owner[row * width..(row + 1) * width];
            if channels == 1 {
                for (code, light) in line.iter_mut().zip(light) {
                    *code = table.code(*light);
                }
                return;
            }
            for (column, pixel) in line.chunks_exact_mut(3).enumerate() {
                let mut tint = tints[usize::from(owner[column])];
                if let Some([red, blue]) = scanned.cast(owner[column], column, row) {
                    let [r, g, b] = [
                        tint[0] * libm::expf(red),
                        tint[1],
                        tint[2] * libm::expf(blue),
                    ];
                    let luma = LUMA[0] * r + LUMA[1] * g + LUMA[2] * b;
                    tint = [r / luma, g / luma, b / luma];
                }
                let mut rgb: [f32; 3] = std::array::from_fn(|channel| {
                    let cell = (3 * column + channel) as i32;
                    light[column] * tint[channel] + read * own.at(cell, row as i32)
                });
                if scan.encoding == Coding::Adobe {
                    rgb = SRGB_TO_ADOBE.map(|r| r[0] * rgb[0] + r[1] * rgb[1] + r[2] * rgb[2]);
                }
                for (code, value) in pixel.iter_mut().zip(rgb) {
                    *code = table.code(value);
                }
            }
        });
    codes
}

/// Light to code by a table over the square root of light, where all four codings are nearly
/// straight; the error is below a tenth of a 16-bit step except in the first few steps of black.
struct CodeTable {
    values: Vec<f32>,
}

const TABLE: usize = 16_384;

impl CodeTable {
    fn new(coding: Coding, full: f32) -> Self {
        let values = (0..=TABLE)
            .map(|i| {
                let root = i as f32 / TABLE as f32;
                full * encoded(coding, root * root)
            })
            .collect();
        CodeTable { values }
    }

    #[inline]
    fn code(&self, light: f32) -> u16 {
        let at = light.clamp(0.0, 1.0).sqrt() * TABLE as f32;
        let cell = (at as usize).min(TABLE - 1);
        let value = maths::lerp(self.values[cell], self.values[cell + 1], at - cell as f32);
        (value + 0.5) as u16
    }
}

/// Linear light to coded value, both 0 to 1.
fn encoded(coding: Coding, light: f32) -> f32 {
    match coding {
        // IEC 61966-2-1.
        Coding::Srgb if light <= 0.003_130_8 => 12.92 * light,
        Coding::Srgb => 1.055 * libm::powf(light, 1.0 / 2.4) - 0.055,
        Coding::Adobe | Coding::Gamma22 => libm::powf(light, 1.0 / GAMMA),
        Coding::Linear => light,
    }
}

/// The profile of the scan's coding. Its date is fixed, so that the bytes are.
fn icc(scan: &ScanRecipe) -> Result<Vec<u8>, PracticeError> {
    let linear = ToneReprCurve::Lut(Vec::new());
    let mut profile = if scan.channels == 1 {
        let mut grey = ColorProfile::new_gray_with_gamma(GAMMA);
        match scan.encoding {
            Coding::Srgb => grey.gray_trc = ColorProfile::new_srgb().red_trc,
            Coding::Linear => grey.gray_trc = Some(linear),
            Coding::Adobe | Coding::Gamma22 => {}
        }
        grey
    } else {
        match scan.encoding {
            Coding::Adobe => ColorProfile::new_adobe_rgb(),
            Coding::Srgb => ColorProfile::new_srgb(),
            Coding::Gamma22 | Coding::Linear => {
                let mut rgb = ColorProfile::new_srgb();
                let curve = if scan.encoding == Coding::Linear {
                    linear
                } else {
                    moxcms::curve_from_gamma(GAMMA)
                };
                rgb.red_trc = Some(curve.clone());
                rgb.green_trc = Some(curve.clone());
                rgb.blue_trc = Some(curve);
                rgb.cicp = None;
                rgb
            }
        }
    };
    profile.creation_date_time = ColorDateTime {
        year: 2000,
        month: 1,
        day_of_the_month: 1,
        hours: 0,
        minutes: 0,
        seconds: 0,
    };
    profile
        .encode()
        .map_err(|error| PracticeError::Encode(format!("colour profile: {error}")))
}

fn tiff_bytes(
    scan: &ScanRecipe,
    width: u32,
    height: u32,
    codes: &[u16],
    profile: Option<Vec<u8>>,
) -> Result<Vec<u8>, String> {
    let bytes = || codes.iter().map(|code| *code as u8).collect::<Vec<u8>>();
    match (scan.channels, scan.bits) {
        (1, 8) => tiff_of::<colortype::Gray8>(scan, width, height, &bytes(), profile),
        (1, _) => tiff_of::<colortype::Gray16>(scan, width, height, codes, profile),
        (_, 8) => tiff_of::<colortype::RGB8>(scan, width, height, &bytes(), profile),
        _ => tiff_of::<colortype::RGB16>(scan, width, height, codes, profile),
    }
    .map_err(|error| error.to_string())
}

fn tiff_of<C>(
    scan: &ScanRecipe,
    width: u32,
    height: u32,
    data: &[C::Inner],
    profile: Option<Vec<u8>>,
) -> Result<Vec<u8>, tiff::TiffError>
where
    C: colortype::ColorType,
    [C::Inner]: tiff::encoder::TiffValue,
{
    let mut out = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut out)?
        .with_compression(Compression::Deflate(DeflateLevel::Fast))
        .with_predictor(Predictor::Horizontal);
    let mut picture = encoder.new_image::<C>(width, height)?;
    let whole = |dpi: f64| Rational {
        n: dpi.round() as u32,
        d: 1,
    };
    match scan.dpi_tag {
        TagState::Ok => picture.resolution(ResolutionUnit::Inch, whole(scan.dpi)),
        TagState::Default72 => picture.resolution(ResolutionUnit::Inch, whole(72.0)),
        TagState::WrongUnit => picture.resolution(ResolutionUnit::Centimeter, whole(scan.dpi)),
        // The format wants the three tags; without a unit they state nothing.
        TagState::Absent => picture.resolution(ResolutionUnit::None, whole(1.0)),
    }
    if let Some(profile) = profile {
        picture.encoder().write_tag(Tag::IccProfile, &profile[..])?;
    }
    picture.write_data(data)?;
    Ok(out.into_inner())
}

fn png_bytes(
    scan: &ScanRecipe,
    width: u32,
    height: u32,
    codes: &[u16],
    profile: Option<Vec<u8>>,
) -> Result<Vec<u8>, String> {
    let mut info = png::Info::with_size(width, height);
    info.color_type = if scan.channels == 1 {
        png::ColorType::Grayscale
    } else {
        png::ColorType::Rgb
    };
    info.bit_depth = if scan.bits == 16 {
        BitDepth::Sixteen
    } else {
        BitDepth::Eight
    };
    info.icc_profile = profile.map(Into::into);
    // PNG counts per metre; the wrong unit is then a number per inch written as per metre.
    let per_metre = match scan.dpi_tag {
        TagState::Ok => Some(scan.dpi / 0.0254),
        TagState::Default72 => Some(72.0 / 0.0254),
        TagState::WrongUnit => Some(scan.dpi),
        TagState::Absent => None,
    };
    info.pixel_dims = per_metre.map(|value| PixelDimensions {
        xppu: value.round() as u32,
        yppu: value.round() as u32,
        unit: Unit::Meter,
    });
    let data: Vec<u8> = if scan.bits == 16 {
        codes.iter().flat_map(|code| code.to_be_bytes()).collect()
    } else {
        codes.iter().map(|code| *code as u8).collect()
    };
    let mut out = Vec::new();
    let mut encoder = png::Encoder::with_info(&mut out, info).map_err(|e| e.to_string())?;
    encoder.set_compression(png::Compression::Fast);
    let mut writer = encoder.write_header().map_err(|e| e.to_string())?;
    writer.write_image_data(&data).map_err(|e| e.to_string())?;
    writer.finish().map_err(|e| e.to_string())?;
    Ok(out)
}

fn jpeg_bytes(
    scan: &ScanRecipe,
    width: u32,
    height: u32,
    codes: &[u16],
    profile: Option<Vec<u8>>,
) -> Result<Vec<u8>, String> {
    let data: Vec<u8> = codes.iter().map(|code| *code as u8).collect();
    let mut out = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut out, scan.jpeg_quality);
    let dpi = scan.dpi.round().clamp(1.0, 65_535.0) as u16;
    let (value, unit) = match scan.dpi_tag {
        TagState::Ok => (dpi, PixelDensityUnit::Inches),
        TagState::Default72 => (72, PixelDensityUnit::Inches),
        TagState::WrongUnit => (dpi, PixelDensityUnit::Centimeters),
        TagState::Absent => (1, PixelDensityUnit::PixelAspectRatio),
    };
    encoder.set_pixel_density(PixelDensity {
        density: (value, value),
        unit,
    });
    if let Some(profile) = profile {
        encoder
            .set_icc_profile(profile)
            .map_err(|error| error.to_string())?;
    }
    let colour = if scan.channels == 1 {
        ExtendedColorType::L8
    } else {
        ExtendedColorType::Rgb8
    };
    encoder
        .write_image(&data, width, height, colour)
        .map_err(|error| error.to_string())?;
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codings_agree_with_their_standards() {
        // IEC 61966-2-1: 18 % grey is code 117.6 of 255.
        assert!((255.0 * encoded(Coding::Srgb, 0.18) - 117.6).abs() < 0.1);
        assert!((encoded(Coding::Adobe, 0.5) - 0.729_69).abs() < 1e-4);
        let table = CodeTable::new(Coding::Srgb, 65_535.0);
        for i in 1..2000 {
            let light = i as f32 / 2000.0;
            let exact = 65_535.0 * encoded(Coding::Srgb, light);
            assert!(
                (f32::from(table.code(light)) - exact).abs() <= 0.75,
                "{light}"
            );
        }
    }

    #[test]
    fn white_stays_white_in_adobe_rgb() {
        for row in SRGB_TO_ADOBE {
            assert!((row.iter().sum::<f32>() - 1.0).abs() < 1e-5);
        }
    }
}
