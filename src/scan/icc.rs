//! ICC profiles: the curves and colorants of plain ones, tables of colours for the rest.

use moxcms::{
    ColorProfile, DataColorSpace, LutWarehouse, Matrix3d, ParsingOptions, ProfileClass,
    ProfileText, ToneReprCurve,
};

use super::colour::{Tone, from_curves, matrix_to_srgb, usable_weights};
use super::icc_tables::{self, Cube};
use super::picture::Samples;

/// Reads a profile; the error says in a few words why it cannot be used.
pub(super) fn tone(bytes: &[u8], samples: &Samples) -> Result<Tone, String> {
    // One entry for each 16-bit code is the longest sensible curve.
    let options = ParsingOptions {
        max_allowed_trc_size: 65_536,
        ..ParsingOptions::default()
    };
    let mut profile = ColorProfile::new_from_slice_with_options(bytes, options)
        .map_err(|error| format!("it is damaged ({error})"))?;
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
    // Colorimetric tables come first, then the curves, then a table that may have been shaped for
    // viewing (ICC.1:2022, 8.10 lets tables take precedence; a scanner's only table is a measured
    // one).
    let measured = profile.lut_a_to_b_colorimetric.as_ref().or_else(|| {
        let scanner = profile.profile_class == ProfileClass::InputDevice;
        profile.lut_a_to_b_perceptual.as_ref().filter(|_| scanner)
    });
    let curves = (&profile.red_trc, &profile.green_trc, &profile.blue_trc);
    match (measured, curves, &profile.lut_a_to_b_perceptual) {
        (Some(table), ..) => colour_table(table, profile, source, samples),
        (None, (Some(r), Some(g), Some(b)), _) => matrix([r, g, b], profile, source, samples),
        (None, _, Some(table)) => colour_table(table, profile, source, samples),
        _ => Err("it has neither tone curves nor a table of colours".into()),
    }
}

fn matrix(
    curves: [&ToneReprCurve; 3],
    profile: &ColorProfile,
    source: String,
    samples: &Samples,
) -> Result<Tone, String> {
    let colorants = profile.colorant_matrix();
    let y = usable_weights(colorants.v[1]).ok_or("its colorants make no sense")?;
    let to_srgb = matrix_to_srgb(colorants).ok_or("its colorants make no sense")?;
    for curve in curves {
        usable(curve)?;
    }
    let curves = curves.map(|curve| move |code| eval(curve, code));
    Ok(from_curves(curves, y, to_srgb, source, samples))
}

fn colour_table(
    table: &LutWarehouse,
    profile: &ColorProfile,
    source: String,
    samples: &Samples,
) -> Result<Tone, String> {
    let (curves, cube) = icc_tables::read(table, profile.pcs)?;
    let neutral = |code: f64| {
        let input = curves.each_ref().map(|curve| curve(code) as f32);
        f64::from(cube.light(input)[1])
    };
    if neutral(1.0) <= neutral(0.0) {
        return Err("its table of colours does not rise".into());
    }
    if samples.colour == 1 {
        return Ok(from_curves([&neutral; 3], Y_OF_GREY, GREY, source, samples));
    }
    // The channels are those of CIE XYZ from here on.
    let to_srgb =
        matrix_to_srgb(Matrix3d::IDENTITY).ok_or("its table of colours makes no sense")?;
    let tone = from_curves(
        curves.map(|c| move |code| c(code)),
        Cube::Y,
        to_srgb,
        source,
        samples,
    );
    Ok(Tone {
        cube: Some(cube),
        ..tone
    })
}

// One channel that is light itself.
const Y_OF_GREY: [f64; 3] = [1.0, 0.0, 0.0];
const GREY: [[f64; 3]; 3] = [[1.0, 0.0, 0.0]; 3];

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
