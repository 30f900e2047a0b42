//! Decoded light against published and computed figures.

use std::path::Path;

use moxcms::{
    CicpColorPrimaries, CicpProfile, ColorProfile, LutDataType, LutMultidimensionalType, LutStore,
    LutType, LutWarehouse, Matrix3d, MatrixCoefficients, ProfileClass, ToneReprCurve,
    TransferCharacteristics, Vector3d,
};
use oystermark::doubts::Doubt;
use oystermark::scan::{Encoding, Scan, ScanSettings, Want, read};

use crate::scan_files::{Codes, Tiff, png, write};

/// 8-bit code, and its light in sRGB, Adobe RGB (1998) and a power of 2.2. Computed from
/// IEC 61966-2-1:1999, from the exponent 563/256 of the Adobe RGB (1998) encoding (version 2005-05)
/// and from 2.2; cross-checked against colour-science 0.4.7.
const LIGHT_OF_CODE: [(u16, f64, f64, f64); 8] = [
    (1, 0.000303526983549, 5.09907867148e-06, 5.07705190066e-06),
    (16, 0.00518151670234, 0.0022678532876, 0.00226295316071),
    (64, 0.051269458374, 0.0478273785128, 0.0477757535562),
    (117, 0.177888415984, 0.18025396983, 0.180144289154),
    (128, 0.215860500114, 0.219637953261, 0.219519718075),
    (188, 0.502886458033, 0.511519618616, 0.511397818885),
    (200, 0.57758044043, 0.586084213175, 0.58597298395),
    (255, 1.0, 1.0, 1.0),
];

// f32 holds 7 digits; sums over three channels lose one.
const F32: f64 = 1e-6;
// ICC stores curve parameters to 1/65536, which moves the toe of sRGB by this much.
const ICC_ROUNDING: f64 = 2e-4;

fn grey_ramp() -> Codes {
    Codes::new(256, 1, 1, |_, column, _| column as u16)
}

fn neutral_ramp() -> Codes {
    Codes::new(256, 1, 3, |_, column, _| column as u16)
}

fn scan(bytes: &[u8], settings: &ScanSettings) -> Scan {
    let folder = tempfile::tempdir().unwrap();
    let file = write(folder.path(), "scan", bytes);
    read(&file, settings, Want::Reduce(1)).unwrap()
}

fn close(got: f32, wanted: f64, tolerance: f64) -> bool {
    (f64::from(got) - wanted).abs() <= tolerance * wanted.abs().max(1e-9)
}

#[track_caller]
fn check_ramp(scan: &Scan, wanted: impl Fn(usize) -> f64, tolerance: f64) {
    let codes = scan.code_light.as_ref().unwrap();
    for (code, &table) in codes.iter().enumerate() {
        let (light, wanted) = (scan.light[[0, code]], wanted(code));
        assert!(
            close(light, wanted, tolerance),
            "code {code}: {light}, not {wanted}"
        );
        assert!(close(table, wanted, tolerance), "code {code}: {table}");
    }
}

#[test]
fn codes_become_the_light_of_the_assumed_encoding() {
    let settings = |encoding| ScanSettings {
        encoding,
        ..ScanSettings::default()
    };
    for codes in [grey_ramp(), neutral_ramp()] {
        let photometric = if codes.samples == 1 { 1 } else { 2 };
        let file = Tiff {
            photometric,
            ..Tiff::default()
        }
        .encode(&codes);
        for (encoding, column) in [
            (Encoding::Srgb, 0),
            (Encoding::AdobeRgb1998, 1),
            (Encoding::Gamma22, 2),
        ] {
            let scan = scan(&file, &settings(encoding));
            assert_eq!(scan.doubts, [Doubt::EncodingAssumed]);
            assert!(
                scan.colour_source.starts_with("assumed"),
                "{}",
                scan.colour_source
            );
            for (code, srgb, adobe, gamma22) in LIGHT_OF_CODE {
                let wanted = [srgb, adobe, gamma22][column];
                let got = scan.light[[0, usize::from(code)]];
                assert!(
                    close(got, wanted, F32),
                    "{encoding:?} {code}: {got}, not {wanted}"
                );
            }
        }
        check_ramp(
            &scan(&file, &settings(Encoding::Linear)),
            |code| code as f64 / 255.0,
            F32,
        );
    }
}

#[test]
fn every_code_of_the_check_table() {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/checks/01_code_to_density_8bit.csv");
    let Ok(table) = std::fs::read_to_string(&path) else {
        eprintln!("skipped: no check table beside the checkout");
        return;
    };
    let rows: Vec<Vec<f64>> = table
        .lines()
        .skip(2)
        .map(|line| {
            line.split(',')
                .map(|cell| cell.parse().unwrap_or(f64::NAN))
                .collect()
        })
        .collect();
    assert_eq!(rows.len(), 256);
    let file = Tiff::default().encode(&grey_ramp());
    for (encoding, column) in [
        (Encoding::Srgb, 1),
        (Encoding::AdobeRgb1998, 4),
        (Encoding::Gamma22, 6),
    ] {
        let settings = ScanSettings {
            encoding,
            ..ScanSettings::default()
        };
        check_ramp(&scan(&file, &settings), |code| rows[code][column], F32);
    }
}

#[test]
fn colours_become_their_luminance() {
    // Computed with the weights of IEC 61966-2-1:1999 (0.2126, 0.7152, 0.0722).
    let colours: [([u16; 3], f64); 5] = [
        ([200, 180, 150], 0.47123884949),
        ([150, 120, 90], 0.20655157245),
        ([90, 60, 40], 0.0555857783803),
        ([12, 9, 8], 0.0029106851305),
        ([180, 190, 200], 0.507003405604),
    ];
    let codes = Codes::new(colours.len(), 1, 3, |_, column, sample| {
        colours[column].0[sample]
    });
    let scan = scan(&Tiff::rgb8().encode(&codes), &ScanSettings::default());
    for (i, (rgb, wanted)) in colours.iter().enumerate() {
        let got = scan.light[[0, i]];
        assert!(close(got, *wanted, F32), "{rgb:?}: {got}, not {wanted}");
    }
}

fn with_profile(codes: &Codes, profile: &ColorProfile) -> Scan {
    let tiff = Tiff {
        photometric: if codes.samples == 1 { 1 } else { 2 },
        profile: Some(profile.encode().unwrap()),
        ..Tiff::default()
    };
    let scan = scan(&tiff.encode(codes), &ScanSettings::default());
    assert_eq!(scan.doubts, [], "{:?}", scan.warnings);
    assert!(
        scan.colour_source.starts_with("embedded profile"),
        "{}",
        scan.colour_source
    );
    scan
}

#[test]
fn embedded_profiles_are_followed() {
    let srgb = with_profile(&neutral_ramp(), &ColorProfile::new_srgb());
    let adobe = with_profile(&neutral_ramp(), &ColorProfile::new_adobe_rgb());
    for (code, light_srgb, light_adobe, _) in LIGHT_OF_CODE {
        let at = [0, usize::from(code)];
        assert!(
            close(srgb.light[at], light_srgb, ICC_ROUNDING),
            "{code}: {}",
            srgb.light[at]
        );
        // 563/256 is held without rounding.
        assert!(
            close(adobe.light[at], light_adobe, F32),
            "{code}: {}",
            adobe.light[at]
        );
    }
    assert_eq!(srgb.colour_source, "embedded profile \"sRGB IEC61966-2.1\"");
}

#[test]
fn grey_profiles_are_followed() {
    let mut profile = ColorProfile::new_gray_with_gamma(2.2);
    // The nearest exponent that the profile can hold.
    profile.gray_trc = Some(ToneReprCurve::Parametric(vec![2.2]));
    let exponent = (2.2f64 * 65_536.0).round() / 65_536.0;
    let scan = with_profile(&grey_ramp(), &profile);
    check_ramp(&scan, |code| (code as f64 / 255.0).powf(exponent), F32);
    for (code, _, _, gamma22) in LIGHT_OF_CODE {
        assert!(close(
            scan.light[[0, usize::from(code)]],
            gamma22,
            ICC_ROUNDING
        ));
    }
    profile.gray_trc = Some(ToneReprCurve::Lut(vec![]));
    check_ramp(
        &with_profile(&grey_ramp(), &profile),
        |code| code as f64 / 255.0,
        F32,
    );
}

#[test]
fn curves_of_points_are_interpolated() {
    let mut profile = ColorProfile::new_srgb();
    let curve = ToneReprCurve::Lut(
        (0..256u32)
            .map(|i| (i * i * 65_535 / 65_025) as u16)
            .collect(),
    );
    for trc in [
        &mut profile.red_trc,
        &mut profile.green_trc,
        &mut profile.blue_trc,
    ] {
        *trc = Some(curve.clone());
    }
    let scan = with_profile(&neutral_ramp(), &profile);
    check_ramp(
        &scan,
        |code| (code * code * 65_535 / 65_025) as f64 / 65_535.0,
        F32,
    );
}

#[test]
fn a_grey_picture_may_carry_an_rgb_profile() {
    let scan = with_profile(&grey_ramp(), &ColorProfile::new_adobe_rgb());
    for (code, _, light, _) in LIGHT_OF_CODE {
        assert!(close(scan.light[[0, usize::from(code)]], light, F32));
    }
}

#[test]
fn curve_wins_over_code_point_tag() {
    // A profile whose curve is a power of 1.8 while its code point tag claims linear values: an
    // engine that trusts the tag hands the codes back as light.
    for transfer in [
        TransferCharacteristics::Linear,
        TransferCharacteristics::Srgb,
    ] {
        let mut profile = ColorProfile::new_srgb();
        let curve = Some(ToneReprCurve::Parametric(vec![1.8]));
        profile.red_trc = curve.clone();
        profile.green_trc = curve.clone();
        profile.blue_trc = curve;
        profile.cicp = Some(CicpProfile {
            color_primaries: CicpColorPrimaries::Bt709,
            transfer_characteristics: transfer,
            matrix_coefficients: MatrixCoefficients::Identity,
            full_range: true,
        });
        let bytes = profile.encode().unwrap();
        assert!(
            bytes.windows(4).any(|part| part == b"cicp"),
            "the tag is really there"
        );
        let exponent = (1.8f64 * 65_536.0).round() / 65_536.0;
        let scan = with_profile(&neutral_ramp(), &profile);
        check_ramp(&scan, |code| (code as f64 / 255.0).powf(exponent), F32);
    }
}

#[test]
fn the_luminance_of_a_profile_is_that_of_its_colorants() {
    // One channel at a time: the Y of each colorant, which the D50 connection space makes
    // 0.2225, 0.7169 and 0.0606 for sRGB (ICC profile of sRGB, common knowledge; from memory).
    let codes = Codes::new(
        3,
        1,
        3,
        |_, column, sample| if column == sample { 255 } else { 0 },
    );
    let scan = with_profile(&codes, &ColorProfile::new_srgb());
    // The chromaticity of D65 is rounded in more than one way, hence the tolerance.
    for (i, wanted) in [0.2225, 0.7169, 0.0606].into_iter().enumerate() {
        assert!(
            (f64::from(scan.light[[0, i]]) - wanted).abs() < 3e-4,
            "{}",
            scan.light[[0, i]]
        );
        let mut colour = [0u16; 3];
        colour[i] = 65_535;
        for (got, wanted) in scan.colour[[0, i]].into_iter().zip(colour) {
            assert!(got.abs_diff(wanted) < 20, "{:?}", scan.colour[[0, i]]);
        }
    }
}

/// A profile with nothing but a table of colours.
fn table_profile(lut: LutDataType, pcs: moxcms::DataColorSpace) -> ColorProfile {
    let mut profile = ColorProfile::new_srgb();
    profile.profile_class = ProfileClass::InputDevice;
    profile.cicp = None;
    profile.pcs = pcs;
    profile.red_trc = None;
    profile.green_trc = None;
    profile.blue_trc = None;
    profile.lut_a_to_b_perceptual = Some(LutWarehouse::Lut(lut));
    profile
}

fn lut16(input: Vec<u16>, side: u8, clut: Vec<u16>) -> LutDataType {
    LutDataType {
        num_input_channels: 3,
        num_output_channels: 3,
        num_clut_grid_points: side,
        matrix: Matrix3d::IDENTITY,
        num_input_table_entries: (input.len() / 3) as u16,
        num_output_table_entries: 2,
        input_table: LutStore::Store16(input),
        clut_table: LutStore::Store16(clut),
        output_table: LutStore::Store16([0, 65_535].repeat(3)),
        lut_type: LutType::Lut16,
    }
}

#[test]
fn tables_of_colours_are_exact() {
    // Input curves that square the code, then a table whose corners hold XYZ.
    let square: Vec<u16> = (0..256u32)
        .map(|i| (i * i * 65_535 / 65_025) as u16)
        .collect();
    let y_of = [0.25, 0.65, 0.1];
    let corner = |i: usize| {
        let on = [i >> 2 & 1, i >> 1 & 1, i & 1].map(|bit| bit as f64);
        let y: f64 = on.iter().zip(y_of).map(|(on, y)| on * y).sum();
        [0.9642 * y, y, 0.8249 * y].map(|v| (v * 32_768.0).round() as u16)
    };
    let lut = lut16(square.repeat(3), 2, (0..8).flat_map(corner).collect());
    let profile = table_profile(lut, moxcms::DataColorSpace::Xyz);
    let scan = with_profile(&neutral_ramp(), &profile);
    // Far down a table of 33 nodes would be off by more than a stop.
    check_ramp(
        &scan,
        |code| (code * code * 65_535 / 65_025) as f64 / 65_535.0,
        1e-5,
    );
    let codes = Codes::new(
        3,
        1,
        3,
        |_, column, sample| if column == sample { 128 } else { 0 },
    );
    let coloured = with_profile(&codes, &profile);
    for (i, y) in y_of.into_iter().enumerate() {
        let wanted = (128.0f64 / 255.0).powi(2) * y;
        assert!(
            close(coloured.light[[0, i]], wanted, 2e-4),
            "{}",
            coloured.light[[0, i]]
        );
    }
}

#[test]
fn newer_tables_apply_their_curves_and_matrix() {
    // lutAToBType: M curves that square the code, a matrix to XYZ (1 is held as 32768/65535) and
    // B curves that do nothing; then the same with a table of two nodes a side before it.
    let half = 32_768.0 / 65_535.0;
    let y_of = [0.25, 0.65, 0.1];
    let row = |white: f64| y_of.map(|y| y * white * half);
    let square = ToneReprCurve::Parametric(vec![2.0]);
    let straight = ToneReprCurve::Lut(vec![]);
    let mut grid_points = [0; 16];
    grid_points[..3].fill(2);
    let corners = (0..8).flat_map(|i| [i >> 2 & 1, i >> 1 & 1, i & 1].map(|bit| bit * 65_535));
    for clut in [None, Some(LutStore::Store16(corners.collect()))] {
        let lut = LutMultidimensionalType {
            num_input_channels: 3,
            num_output_channels: 3,
            grid_points,
            a_curves: if clut.is_some() {
                vec![straight.clone(); 3]
            } else {
                vec![]
            },
            clut,
            b_curves: vec![straight.clone(); 3],
            m_curves: vec![square.clone(); 3],
            matrix: Matrix3d {
                v: [row(0.9642), row(1.0), row(0.8249)],
            },
            bias: Vector3d::default(),
        };
        let mut profile = table_profile(
            lut16([0, 65_535].repeat(3), 2, vec![0; 24]),
            moxcms::DataColorSpace::Xyz,
        );
        profile.lut_a_to_b_perceptual = Some(LutWarehouse::Multidimensional(lut));
        let scan = with_profile(&neutral_ramp(), &profile);
        // The matrix is held to 1/65536; formulas are sampled finely enough for D 3.
        for code in [8, 16, 32, 64, 128, 200, 255] {
            let wanted = (code as f64 / 255.0).powi(2);
            let got = scan.light[[0, code]];
            assert!(
                close(got, wanted, ICC_ROUNDING),
                "{code}: {got}, not {wanted}"
            );
        }
    }
}

#[test]
fn tables_in_lab_give_the_luminance_of_their_lightness() {
    // Codes are L*, in the coding of lut16Type (0xff00 is L* 100; 0x8000 is a* or b* 0).
    let corner = |i: usize| {
        let on = ((i >> 2 & 1) + (i >> 1 & 1) + (i & 1)) as f64 / 3.0;
        [(on * 65_280.0).round() as u16, 0x8000, 0x8000]
    };
    let lut = lut16([0, 65_535].repeat(3), 2, (0..8).flat_map(corner).collect());
    let scan = with_profile(
        &neutral_ramp(),
        &table_profile(lut, moxcms::DataColorSpace::Lab),
    );
    // CIE 15 (ISO 11664-4), computed: L* 20, 40, 60, 80, 100 are codes 51, 102, 153, 204, 255.
    for (code, y) in [
        (51, 0.0298905244167),
        (102, 0.112509737997),
        (153, 0.2812333429),
        (204, 0.566812907458),
        (255, 1.0),
    ] {
        assert!(
            close(scan.light[[0, code]], y, 1e-5),
            "{code}: {}",
            scan.light[[0, code]]
        );
    }
    let grey = scan.colour[[0, 102]];
    assert!(
        grey.iter().all(|v| v.abs_diff(grey[0]) < 20),
        "neutral stays neutral: {grey:?}"
    );
}

#[test]
fn white_is_zero_is_turned_once() {
    let reversed = Codes::new(256, 1, 1, |_, column, _| 255 - column as u16);
    let tiff = Tiff {
        photometric: 0,
        ..Tiff::default()
    };
    let scan_of = |tiff: &Tiff, codes: &Codes| scan(&tiff.encode(codes), &ScanSettings::default());
    let got = scan_of(&tiff, &reversed);
    for (code, srgb, ..) in LIGHT_OF_CODE {
        assert!(close(got.light[[0, usize::from(code)]], srgb, F32));
    }
    // The table of codes speaks of codes as they are in the file.
    let codes = got.code_light.unwrap();
    assert!(codes[0] == 1.0 && codes[255] == 0.0);
    assert_eq!((got.clipped[[0, 0]], got.clipped[[0, 255]]), (1, 2));
    let deep = Codes::new(256, 1, 1, |_, column, _| (255 - column as u16) * 257);
    for big_endian in [false, true] {
        let tiff = Tiff {
            photometric: 0,
            bits: 16,
            big_endian,
            ..Tiff::default()
        };
        let got = scan_of(&tiff, &deep);
        for (code, srgb, ..) in LIGHT_OF_CODE {
            assert!(close(got.light[[0, usize::from(code)]], srgb, F32));
        }
    }
    // With a profile: the curve applies to the turned codes.
    let profile = ColorProfile::new_gray_with_gamma(1.0).encode().unwrap();
    let tiff = Tiff {
        photometric: 0,
        profile: Some(profile),
        ..Tiff::default()
    };
    let got = scan_of(&tiff, &reversed);
    assert!(
        close(got.light[[0, 51]], 0.2, F32),
        "{}",
        got.light[[0, 51]]
    );
}

#[test]
fn png_gamma_is_believed() {
    let plain = png(&grey_ramp(), 8, |info| {
        info.source_gamma = Some(png::ScaledFloat::new(0.5));
    });
    let got = scan(&plain, &ScanSettings::default());
    assert!(got.doubts.is_empty() && got.colour_source.starts_with("PNG gAMA"));
    check_ramp(&got, |code| (code as f64 / 255.0).powi(2), F32);

    // With primaries of its own: those of Adobe RGB (1998), whose luminance weights follow from
    // its chromaticities (0.2973, 0.6274, 0.0753 in the encoding's document; from memory).
    let codes = Codes::new(
        3,
        1,
        3,
        |_, column, sample| if column == sample { 255 } else { 0 },
    );
    let coloured = png(&codes, 8, |info| {
        info.source_gamma = Some(png::ScaledFloat::new(0.5));
        info.source_chromaticities = Some(png::SourceChromaticities::new(
            (0.3127, 0.3290),
            (0.64, 0.33),
            (0.21, 0.71),
            (0.15, 0.06),
        ));
    });
    let got = scan(&coloured, &ScanSettings::default());
    for (i, wanted) in [0.2973, 0.6274, 0.0753].into_iter().enumerate() {
        assert!(
            (f64::from(got.light[[0, i]]) - wanted).abs() < 1e-4,
            "{}",
            got.light[[0, i]]
        );
    }

    let wrong = png(&grey_ramp(), 8, |info| {
        info.source_gamma = Some(png::ScaledFloat::new(40.0));
    });
    let got = scan(&wrong, &ScanSettings::default());
    assert_eq!(got.doubts, [Doubt::EncodingAssumed]);
    assert_eq!(got.warnings.len(), 1);
}

#[test]
fn png_says_srgb_or_carries_a_profile() {
    let named = png(&neutral_ramp(), 8, |info| {
        info.srgb = Some(png::SrgbRenderingIntent::RelativeColorimetric);
    });
    let got = scan(
        &named,
        &ScanSettings {
            encoding: Encoding::Linear,
            ..ScanSettings::default()
        },
    );
    assert!(got.doubts.is_empty());
    for (code, srgb, ..) in LIGHT_OF_CODE {
        assert!(close(got.light[[0, usize::from(code)]], srgb, F32));
    }
    let profiled = png(&neutral_ramp(), 8, |info| {
        info.icc_profile = Some(ColorProfile::new_adobe_rgb().encode().unwrap().into());
    });
    let got = scan(&profiled, &ScanSettings::default());
    assert_eq!(got.colour_source, "embedded profile \"Adobe RGB 1998\"");
    for (code, _, adobe, _) in LIGHT_OF_CODE {
        assert!(close(got.light[[0, usize::from(code)]], adobe, F32));
    }
}

#[test]
fn a_useless_profile_is_a_doubt_and_a_warning() {
    let mut flat = ColorProfile::new_srgb();
    flat.red_trc = Some(ToneReprCurve::Lut(vec![9, 9, 9]));
    let for_print = {
        let mut bytes = ColorProfile::new_srgb().encode().unwrap();
        bytes[16..20].copy_from_slice(b"CMYK");
        bytes
    };
    let grey = ColorProfile::new_gray_with_gamma(2.2).encode().unwrap();
    for profile in [
        b"nonsense".to_vec(),
        vec![0; 200],
        flat.encode().unwrap(),
        for_print,
        grey,
    ] {
        let tiff = Tiff {
            profile: Some(profile),
            ..Tiff::rgb8()
        };
        let got = scan(&tiff.encode(&neutral_ramp()), &ScanSettings::default());
        assert_eq!(got.doubts, [Doubt::ProfileUnreadable]);
        assert!(
            got.warnings[0].starts_with("The colour profile was not used"),
            "{:?}",
            got.warnings
        );
        for (code, srgb, ..) in LIGHT_OF_CODE {
            assert!(close(got.light[[0, usize::from(code)]], srgb, F32));
        }
    }
}
