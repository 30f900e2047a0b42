//! ICC profiles: the curves and colorants of plain ones, a cube of light for the rest.

use std::sync::Arc;

use moxcms::{
    ColorProfile, DataColorSpace, Layout, ProfileText, RenderingIntent, ToneReprCurve,
    TransformF32Executor, TransformOptions,
};

use super::colour::{Tone, from_curves, matrix_to_srgb, usable_weights};
use super::picture::Samples;

/// A profile that is not separable, evaluated pixel by pixel by the colour library.
pub(super) struct Cube {
    transform: Arc<TransformF32Executor>,
    y: [f32; 3],
}

impl Cube {
    /// Turns rows of red, green and blue codes (0 to 1) into linear light.
    pub fn run(&self, codes: &[f32], light: &mut [f32]) {
        if self.transform.transform(codes, light).is_err() {
            light.fill(0.0);
        }
        for value in light {
            *value = super::colour::srgb_light(f64::from(value.clamp(0.0, 1.0))) as f32;
        }
    }

    /// CIE Y of a neutral code.
    pub fn neutral_light(&self, code: f32) -> f32 {
        let mut light = [0.0; 3];
        self.run(&[code; 3], &mut light);
        light.iter().zip(self.y).map(|(light, y)| light * y).sum()
    }
}

/// Reads a profile; the error says in a few words why it cannot be used.
pub(super) fn tone(bytes: &[u8], samples: &Samples) -> Result<Tone, String> {
    let mut profile =
        ColorProfile::new_from_slice(bytes).map_err(|error| format!("it is damaged ({error})"))?;
    // The curves count. A code point tag that disagrees with them would otherwise be believed in
    // their place (test `curve_wins_over_code_point_tag`).
    profile.cicp = None;
    let source = match name(&profile) {
        Some(name) => format!("embedded profile \"{name}\""),
        None => "embedded profile".to_string(),
    };
    match profile.color_space {
        DataColorSpace::Gray if samples.colour == 1 => grey(&profile, source, samples),
        DataColorSpace::Gray => Err("it is for grey pictures, and this one is in colour".into()),
        DataColorSpace::Rgb => rgb(&profile, source, samples),
        other => Err(format!("it is for {other:?} values")),
    }
}

fn grey(profile: &ColorProfile, source: String, samples: &Samples) -> Result<Tone, String> {
    let curve = profile.gray_trc.as_ref().ok_or("it has no tone curve")?;
    let curve = usable(curve)?;
    let curves = [&curve, &curve, &curve].map(|curve| move |code| eval(curve, code));
    Ok(from_curves(
        curves,
        [1.0, 0.0, 0.0],
        [[1.0, 0.0, 0.0]; 3],
        source,
        samples,
    ))
}

fn rgb(profile: &ColorProfile, source: String, samples: &Samples) -> Result<Tone, String> {
    let (Some(r), Some(g), Some(b)) = (&profile.red_trc, &profile.green_trc, &profile.blue_trc)
    else {
        return cube(profile, source, samples);
    };
    let colorants = profile.colorant_matrix();
    let y = usable_weights(colorants.v[1]).ok_or("its colorants make no sense")?;
    let to_srgb = matrix_to_srgb(colorants).ok_or("its colorants make no sense")?;
    let curves = [usable(r)?, usable(g)?, usable(b)?];
    let curves = [&curves[0], &curves[1], &curves[2]].map(|curve| move |code| eval(curve, code));
    Ok(from_curves(curves, y, to_srgb, source, samples))
}

fn cube(profile: &ColorProfile, source: String, samples: &Samples) -> Result<Tone, String> {
    // The library interpolates between 33 nodes a side, so the far side must be coded like the near
    // one: wide primaries with the curve of sRGB, undone afterwards.
    let mut wide = ColorProfile::new_pro_photo_rgb();
    let curve = ColorProfile::new_srgb().red_trc;
    wide.red_trc = curve.clone();
    wide.green_trc = curve.clone();
    wide.blue_trc = curve;
    let options = TransformOptions {
        rendering_intent: RenderingIntent::RelativeColorimetric,
        allow_use_cicp_transfer: false,
        prefer_fixed_point: false,
        ..TransformOptions::default()
    };
    let transform = profile
        .create_transform_f32(Layout::Rgb, &wide, Layout::Rgb, options)
        .map_err(|error| format!("its tables cannot be read ({error})"))?;
    let colorants = wide.colorant_matrix();
    let y = usable_weights(colorants.v[1])
        .ok_or("its tables cannot be read")?
        .map(|w| w as f32);
    let to_srgb = matrix_to_srgb(colorants).ok_or("its tables cannot be read")?;
    let cube = Cube { transform, y };
    let identity = |code: f64| code;
    if samples.colour == 1 {
        let lookup = |code: f64| f64::from(cube.neutral_light(code as f32));
        return Ok(from_curves(
            [lookup; 3],
            [1.0, 0.0, 0.0],
            to_srgb,
            source,
            samples,
        ));
    }
    let tone = from_curves([identity; 3], [1.0, 0.0, 0.0], to_srgb, source, samples);
    Ok(Tone {
        y,
        cube: Some(cube),
        ..tone
    })
}

/// A curve that rises, or why it does not do.
fn usable(curve: &ToneReprCurve) -> Result<&ToneReprCurve, String> {
    let (low, high) = (eval(curve, 0.0), eval(curve, 1.0));
    if (high - low).is_finite() && high > low {
        return Ok(curve);
    }
    Err("its tone curve does not rise".into())
}

/// Light of a code between 0 and 1 (ICC.1:2022, 10.6 curveType and 10.18 parametricCurveType).
pub(super) fn eval(curve: &ToneReprCurve, code: f64) -> f64 {
    match curve {
        ToneReprCurve::Lut(table) => match table.as_slice() {
            [] => code,
            [exponent] => code.powf(f64::from(*exponent) / 256.0),
            table => {
                let at = code * (table.len() - 1) as f64;
                let i = (at as usize).min(table.len() - 2);
                let (low, high) = (f64::from(table[i]), f64::from(table[i + 1]));
                (low + (high - low) * (at - i as f64)) / 65_535.0
            }
        },
        ToneReprCurve::Parametric(parameters) => {
            let p = |i: usize| parameters.get(i).copied().map_or(0.0, f64::from);
            let (g, a, b, c, d) = (p(0), p(1), p(2), p(3), p(4));
            let power = |offset: f64| (a * code + b).max(0.0).powf(g) + offset;
            match parameters.len() {
                1 => code.powf(g),
                3 if code >= -b / a => power(0.0),
                3 => 0.0,
                4 if code >= -b / a => power(c),
                4 => c,
                5 if code >= d => power(0.0),
                5 => c * code,
                7 if code >= d => power(p(5)),
                7 => c * code + p(6),
                _ => f64::NAN,
            }
        }
    }
}

/// The profile's own name, in one short line.
fn name(profile: &ColorProfile) -> Option<String> {
    let text = match profile.description.as_ref()? {
        ProfileText::PlainString(text) => text.clone(),
        ProfileText::Localizable(texts) => texts.first()?.value.clone(),
        ProfileText::Description(text) if text.ascii_string.is_empty() => {
            text.unicode_string.clone()
        }
        ProfileText::Description(text) => text.ascii_string.clone(),
    };
    let text: String = text.chars().filter(|c| !c.is_control()).take(80).collect();
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_string())
}
