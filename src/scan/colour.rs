//! From code values to linear light: one table a channel, a row of weights and a matrix.

use std::sync::Arc;

use moxcms::{Chromaticity, ColorPrimaries, ColorProfile, Matrix3d, Xyzd};

use super::Encoding;
use super::icc;
use super::icc_tables::Cube;
use super::picture::Samples;
use crate::doubts::Doubt;

/// What the file says of its tone curve and colours.
pub(super) enum Coding {
    /// An ICC profile.
    Profile(Vec<u8>),
    /// The file names sRGB, in the place given.
    Srgb(&'static str),
    /// The file names linear values of sRGB primaries, in the place given.
    Linear(&'static str),
    /// The gAMA chunk of PNG, an exponent from light to code, perhaps with primaries.
    PngGamma {
        gamma: f64,
        chromaticities: Option<Chromaticities>,
    },
    /// Nothing usable.
    Unstated,
}

/// CIE 1931 x and y of an RGB space.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Chromaticities {
    pub white: [f64; 2],
    pub red: [f64; 2],
    pub green: [f64; 2],
    pub blue: [f64; 2],
}

/// How code values become light.
pub(super) struct Tone {
    /// Linear light of each code value, one table for each colour channel (grey uses the first);
    /// 256 or 65536 values.
    pub tables: [Arc<[f32]>; 3],
    /// Weights of the channels in CIE Y; their sum is 1.
    pub y: [f32; 3],
    /// From the channels' linear light to linear sRGB.
    pub to_srgb: [[f32; 3]; 3],
    /// Follows `tables` for profiles that are not separable; the channels are CIE XYZ after it.
    pub cube: Option<Cube>,
    /// For people.
    pub source: String,
}

impl Tone {
    /// Linear light of each 8-bit code for a neutral.
    pub fn code_light(&self) -> Vec<f32> {
        let wide = self.tables[0].len() > 256;
        (0..256)
            .map(|code| {
                // 257 codes of 16 bits a code of 8.
                let index = if wide { code * 257 } else { code };
                let channels = self.tables.each_ref().map(|table| table[index]);
                let light = self
                    .cube
                    .as_ref()
                    .map_or(channels, |cube| cube.light(channels));
                light
                    .iter()
                    .zip(self.y)
                    .map(|(light, y)| light * y)
                    .sum::<f32>()
                    .clamp(0.0, 1.0)
            })
            .collect()
    }
}

/// Decides how the values of a picture become light.
pub(super) fn tone(
    coding: &Coding,
    assumed: Encoding,
    samples: &Samples,
    warnings: &mut Vec<String>,
    doubts: &mut Vec<Doubt>,
) -> Tone {
    match coding {
        Coding::Profile(bytes) => match icc::tone(bytes, samples) {
            Ok(tone) => return tone,
            Err(why) => {
                warnings.push(format!("The colour profile was not used: {why}."));
                doubts.push(Doubt::ProfileUnreadable);
            }
        },
        Coding::Srgb(place) => return named(Encoding::Srgb, (*place).into(), samples),
        Coding::Linear(place) => return named(Encoding::Linear, (*place).into(), samples),
        Coding::PngGamma {
            gamma,
            chromaticities,
        } => match png_gamma(*gamma, chromaticities.as_ref(), samples) {
            Some(tone) => return tone,
            None => {
                warnings.push("The PNG's gAMA chunk makes no sense and was not used.".into());
                doubts.push(Doubt::EncodingAssumed);
            }
        },
        Coding::Unstated => doubts.push(Doubt::EncodingAssumed),
    }
    let name = match assumed {
        Encoding::Srgb => "sRGB (IEC 61966-2-1)",
        Encoding::AdobeRgb1998 => "Adobe RGB (1998)",
        Encoding::Gamma22 => "a power of 2.2",
        Encoding::Linear => "linear values",
    };
    named(assumed, format!("assumed: {name}"), samples)
}

/// sRGB to light, IEC 61966-2-1:1999.
pub(super) fn srgb_light(code: f64) -> f64 {
    if code <= 0.04045 {
        code / 12.92
    } else {
        ((code + 0.055) / 1.055).powf(2.4)
    }
}

// IEC 61966-2-1:1999, luminance of linear sRGB relative to its white.
const SRGB_Y: [f64; 3] = [0.2126, 0.7152, 0.0722];
// Adobe RGB (1998) Color Image Encoding, version 2005-05.
const ADOBE_EXPONENT: f64 = 563.0 / 256.0;
const ADOBE: Chromaticities = Chromaticities {
    white: [0.3127, 0.3290],
    red: [0.64, 0.33],
    green: [0.21, 0.71],
    blue: [0.15, 0.06],
};
const IDENTITY: [[f64; 3]; 3] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

fn named(encoding: Encoding, source: String, samples: &Samples) -> Tone {
    let curve: fn(f64) -> f64 = match encoding {
        Encoding::Srgb => srgb_light,
        Encoding::AdobeRgb1998 => |code| code.powf(ADOBE_EXPONENT),
        Encoding::Gamma22 => |code| code.powf(2.2),
        Encoding::Linear => |code| code,
    };
    let (y, to_srgb) = match encoding {
        Encoding::AdobeRgb1998 => colorimetry(&ADOBE).unwrap_or((SRGB_Y, IDENTITY)),
        _ => (SRGB_Y, IDENTITY),
    };
    from_curves([curve; 3], y, to_srgb, source, samples)
}

fn png_gamma(gamma: f64, primaries: Option<&Chromaticities>, samples: &Samples) -> Option<Tone> {
    // Exponents outside this range do not occur. Our own choice (test `png_gamma_is_believed`).
    if !(0.1..=1.0).contains(&gamma) {
        return None;
    }
    let curve = |code: f64| code.powf(1.0 / gamma);
    let (y, to_srgb) = primaries
        .and_then(colorimetry)
        .unwrap_or((SRGB_Y, IDENTITY));
    let source = format!("PNG gAMA chunk ({gamma:.5})");
    Some(from_curves([curve; 3], y, to_srgb, source, samples))
}

/// Luminance weights and the matrix to linear sRGB of an RGB space.
fn colorimetry(c: &Chromaticities) -> Option<([f64; 3], [[f64; 3]; 3])> {
    let point = |[x, y]: [f64; 2]| Chromaticity::new(x as f32, y as f32);
    let white = point(c.white).to_xyyb();
    let primaries = ColorPrimaries {
        red: point(c.red),
        green: point(c.green),
        blue: point(c.blue),
    };
    let columns = [c.red, c.green, c.blue].map(|[x, y]| [x / y, 1.0, (1.0 - x - y) / y]);
    let xyz = Matrix3d {
        v: std::array::from_fn(|i| std::array::from_fn(|j| columns[j][i])),
    };
    let [x, y] = c.white;
    let to_xyz = ColorProfile::rgb_to_xyz_d(xyz, Xyzd::new(x / y, 1.0, (1.0 - x - y) / y));
    let y_row = usable_weights(to_xyz.v[1])?;
    let to_srgb = matrix_to_srgb(ColorProfile::colorants_matrix(white, primaries))?;
    Some((y_row, to_srgb))
}

/// From the colorants of a space (columns, relative to D50) to linear sRGB.
pub(super) fn matrix_to_srgb(colorants: Matrix3d) -> Option<[[f64; 3]; 3]> {
    let matrix = moxcms::srgb_colorants().inverse().mat_mul(colorants).v;
    matrix
        .iter()
        .flatten()
        .all(|value| value.is_finite())
        .then_some(matrix)
}

/// Luminance weights with the sum 1, or nothing when they are none.
pub(super) fn usable_weights(row: [f64; 3]) -> Option<[f64; 3]> {
    let sum: f64 = row.iter().sum();
    // The sum is 1 in a sound profile; rounding of its numbers changes it by less than 0.001.
    let sound = (0.9..=1.1).contains(&sum) && row.iter().all(|&w| (-0.2..=1.2).contains(&w));
    sound.then(|| row.map(|w| w / sum))
}

/// Tables for the samples of a picture from one curve a channel, each from code (0 to 1) to light.
pub(super) fn from_curves<F: Fn(f64) -> f64>(
    curves: [F; 3],
    y: [f64; 3],
    to_srgb: [[f64; 3]; 3],
    source: String,
    samples: &Samples,
) -> Tone {
    let table = |curve: &dyn Fn(f64) -> f64| -> Arc<[f32]> {
        let last = if samples.bytes == 2 { 65_535usize } else { 255 };
        (0..=last)
            .map(|code| {
                let code = if samples.white_is_zero {
                    last - code
                } else {
                    code
                };
                let light = curve(code as f64 / last as f64);
                if light.is_finite() {
                    light.clamp(0.0, 1.0) as f32
                } else {
                    0.0
                }
            })
            .collect()
    };
    if samples.colour == 1 {
        let grey: Arc<[f32]> =
            table(&|code| curves.iter().zip(y).map(|(curve, y)| curve(code) * y).sum());
        return Tone {
            tables: [grey.clone(), grey.clone(), grey],
            y: [1.0, 0.0, 0.0],
            to_srgb: [[1.0, 0.0, 0.0]; 3],
            cube: None,
            source,
        };
    }
    let tables = share(curves.map(|curve| table(&curve)));
    Tone {
        tables,
        y: y.map(|w| w as f32),
        to_srgb: to_srgb.map(|row| row.map(|v| v as f32)),
        cube: None,
        source,
    }
}

/// Equal tables become one, which stays in the processor's cache.
fn share([r, g, b]: [Arc<[f32]>; 3]) -> [Arc<[f32]>; 3] {
    let g = if g == r { r.clone() } else { g };
    let b = if b == r { r.clone() } else { b };
    [r, g, b]
}
