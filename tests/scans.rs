//! Scan files of every kind, size, turn and ailment through the door of the scan room.

use oystermark::raster::Grid;
use oystermark::scan::{
    CLIPPED_DARK, CLIPPED_LIGHT, DpiTag, DpiUnit, Encoding, Scan, ScanSettings, Want, read,
};

use crate::scan_files::{Codes, Tiff, exif_block, exif_segment, interlaced_png, jpeg, png, write};

fn linear() -> ScanSettings {
    ScanSettings {
        encoding: Encoding::Linear,
        ..ScanSettings::default()
    }
}

fn try_scan(
    bytes: &[u8],
    settings: &ScanSettings,
    want: Want,
) -> Result<Scan, oystermark::scan::ScanError> {
    let folder = tempfile::tempdir().unwrap();
    read(&write(folder.path(), "plate", bytes), settings, want)
}

fn scan(bytes: &[u8], want: Want) -> Scan {
    try_scan(bytes, &linear(), want).unwrap_or_else(|error| panic!("{error}"))
}

/// What the light should be: the mean over each cell, worked out the plain way.
fn averaged(codes: &Codes, colour: usize, last: f64, reduce: usize) -> Grid<f32> {
    let weights: &[f64] = if colour == 1 {
        &[1.0]
    } else {
        &[0.2126, 0.7152, 0.0722]
    };
    Grid::from_shape_fn(
        (codes.height.div_ceil(reduce), codes.width.div_ceil(reduce)),
        |(row, column)| {
            let rows = row * reduce..((row + 1) * reduce).min(codes.height);
            let columns = column * reduce..((column + 1) * reduce).min(codes.width);
            let (mut sum, mut count) = (0.0, 0.0);
            for r in rows {
                for c in columns.clone() {
                    let samples = weights.iter().enumerate();
                    sum += samples
                        .map(|(s, w)| w * f64::from(codes.at(r, c, s)) / last)
                        .sum::<f64>();
                    count += 1.0;
                }
            }
            (sum / count) as f32
        },
    )
}

#[track_caller]
fn same_light(got: &Grid<f32>, wanted: &Grid<f32>) {
    assert_eq!(got.dim(), wanted.dim());
    for ((at, got), wanted) in got.indexed_iter().zip(wanted) {
        assert!((got - wanted).abs() < 2e-6, "{at:?}: {got}, not {wanted}");
    }
}

fn same_colour(got: &Grid<[u16; 3]>, wanted: &Grid<[u16; 3]>) {
    assert_eq!(got.dim(), wanted.dim());
    for (got, wanted) in got.iter().flatten().zip(wanted.iter().flatten()) {
        assert!(got.abs_diff(*wanted) <= 1);
    }
}

/// Every way to lay out the same picture.
fn layouts() -> Vec<Tiff> {
    let mut all = Vec::new();
    for big_endian in [false, true] {
        for big_tiff in [false, true] {
            for planar in [false, true] {
                for (compression, predictor) in [
                    (1, 1),
                    (5, 1),
                    (5, 2),
                    (8, 1),
                    (8, 2),
                    (32946, 2),
                    (32773, 1),
                ] {
                    for (rows_per_strip, tile) in [
                        (usize::MAX, None),
                        (1, None),
                        (5, None),
                        (0, Some((16, 16))),
                        (0, Some((64, 48))),
                    ] {
                        all.push(Tiff {
                            big_endian,
                            big_tiff,
                            planar,
                            compression,
                            predictor,
                            rows_per_strip,
                            tile,
                            ..Tiff::default()
                        });
                    }
                }
            }
        }
    }
    all
}

#[test]
fn every_layout_gives_the_same_light() {
    let folder = tempfile::tempdir().unwrap();
    let mut tried = 0;
    for (samples, bits, photometric) in [(1, 8, 1), (1, 16, 1), (3, 8, 2), (3, 16, 2), (4, 16, 2)] {
        let codes = Codes::varied(37, 29, samples, bits.into());
        let last = f64::from((1u32 << bits) - 1);
        let wanted = averaged(&codes, samples.min(3), last, 3);
        for layout in layouts() {
            let tiff = Tiff {
                bits,
                photometric,
                ..layout
            };
            let path = write(folder.path(), "plate.tif", &tiff.encode(&codes));
            let got = read(&path, &linear(), Want::Reduce(3))
                .unwrap_or_else(|error| panic!("{error}: {tiff:?}"));
            same_light(&got.light, &wanted);
            assert_eq!(
                (got.bits, usize::from(got.channels)),
                (bits as u8, samples),
                "{tiff:?}"
            );
            assert!(got.clipped.iter().all(|&bits| bits == 0));
            tried += 1;
        }
    }
    assert_eq!(tried, 5 * 280);
}

#[test]
fn averaging_happens_in_linear_light() {
    let chequered = Codes::new(
        8,
        6,
        1,
        |row, column, _| if (row + column) % 2 == 0 { 255 } else { 0 },
    );
    for settings in [linear(), ScanSettings::default()] {
        let got = try_scan(
            &Tiff::default().encode(&chequered),
            &settings,
            Want::Reduce(2),
        )
        .unwrap();
        assert!(got.light.iter().all(|&light| (light - 0.5).abs() < 1e-6));
        assert!(
            got.clipped
                .iter()
                .all(|&bits| bits == CLIPPED_DARK | CLIPPED_LIGHT)
        );
    }
}

#[test]
fn cells_at_the_far_edges_hold_fewer_pixels() {
    let codes = Codes::varied(13, 11, 3, 16);
    for reduce in [1, 2, 3, 4, 5, 7, 13, 40] {
        let got = scan(&Tiff::rgb16().encode(&codes), Want::Reduce(reduce));
        // More than the longer side changes nothing.
        assert_eq!(got.reduce, reduce.min(13));
        same_light(&got.light, &averaged(&codes, 3, 65_535.0, got.reduce));
        assert_eq!((got.width_px, got.height_px), (13, 11));
    }
}

#[test]
fn colour_cells_cover_whole_working_cells() {
    let codes = Codes::varied(50, 41, 3, 16);
    let folder = tempfile::tempdir().unwrap();
    // 1200 dpi asks for 2 file pixels a working cell and 6 a colour cell.
    let big = Codes::new(1500, 1230, 3, |row, column, sample| {
        codes.at(row / 30, column / 30, sample)
    });
    let tiff = Tiff {
        dpi: Some((1200, 2)),
        rows_per_strip: 7,
        ..Tiff::rgb16()
    };
    let path = write(folder.path(), "plate.tif", &tiff.encode(&big));
    let got = read(&path, &linear(), Want::FromTag).unwrap();
    assert_eq!((got.reduce, got.colour_reduce), (2, 6));
    assert_eq!(got.light.dim(), (615, 750));
    assert_eq!(got.colour.dim(), (205, 250));
    for ((row, column), colour) in got.colour.indexed_iter() {
        for (sample, &value) in colour.iter().enumerate() {
            assert!(value.abs_diff(codes.at(row / 5, column / 5, sample)) <= 1);
        }
    }
}

#[test]
fn turns_lay_the_picture_upright() {
    let folder = tempfile::tempdir().unwrap();
    // A size that no cell divides.
    let codes = Codes::varied(25, 19, 3, 16);
    for turn in 1..=8u16 {
        for (reduce, rows_per_strip) in [(1, 4), (2, usize::MAX), (3, 1), (4, 3)] {
            let turned = Tiff {
                orientation: turn,
                rows_per_strip,
                ..Tiff::rgb16()
            };
            let plain = Tiff::rgb16().encode(&codes.turned(turn));
            let got = read(
                &write(folder.path(), "turned.tif", &turned.encode(&codes)),
                &linear(),
                Want::Reduce(reduce),
            )
            .unwrap();
            let wanted = read(
                &write(folder.path(), "plain.tif", &plain),
                &linear(),
                Want::Reduce(reduce),
            )
            .unwrap();
            assert_eq!(
                (got.width_px, got.height_px),
                (wanted.width_px, wanted.height_px)
            );
            same_light(&got.light, &wanted.light);
            same_colour(&got.colour, &wanted.colour);
        }
    }
}

#[test]
fn colour_cells_of_a_turned_picture_start_at_its_upright_corner() {
    let folder = tempfile::tempdir().unwrap();
    let codes = Codes::varied(1000, 803, 1, 8);
    let tiff = |orientation| Tiff {
        orientation,
        dpi: Some((1200, 2)),
        ..Tiff::default()
    };
    for turn in [3, 6, 7, 8] {
        let turned = write(folder.path(), "turned.tif", &tiff(turn).encode(&codes));
        let plain = write(
            folder.path(),
            "plain.tif",
            &tiff(1).encode(&codes.turned(turn)),
        );
        let got = read(&turned, &linear(), Want::FromTag).unwrap();
        let wanted = read(&plain, &linear(), Want::FromTag).unwrap();
        assert_eq!((got.reduce, got.colour_reduce), (2, 6));
        same_light(&got.light, &wanted.light);
        same_colour(&got.colour, &wanted.colour);
    }
}

#[test]
fn exif_turns_and_measures_jpeg_and_png() {
    let half = Codes::new(32, 16, 1, |_, column, _| if column < 16 { 0 } else { 255 });
    let got = scan(
        &jpeg(&half, &[exif_segment(6, Some(300))]),
        Want::Reduce(16),
    );
    assert_eq!((got.width_px, got.height_px), (16, 32));
    assert!(
        got.light[[0, 0]] < 0.1 && got.light[[1, 0]] > 0.9,
        "{:?}",
        got.light
    );
    assert_eq!(
        got.dpi_tag,
        Some(DpiTag {
            x: 300.0,
            y: 300.0,
            unit: DpiUnit::Inch
        })
    );
    let turned = png(&half, 8, |info| {
        info.exif_metadata = Some(exif_block(3, None).into())
    });
    let got = scan(&turned, Want::Reduce(16));
    assert!(got.light[[0, 0]] == 1.0 && got.light[[0, 1]] == 0.0);
}

#[test]
fn resolutions_are_read_in_their_own_units() {
    let codes = Codes::varied(8, 8, 1, 8);
    let tag = |x: f64, unit| Some(DpiTag { x, y: x, unit });
    let tiff = |dpi| {
        scan(
            &Tiff {
                dpi,
                ..Tiff::default()
            }
            .encode(&codes),
            Want::FromTag,
        )
        .dpi_tag
    };
    assert_eq!(tiff(Some((1200, 2))), tag(1200.0, DpiUnit::Inch));
    assert_eq!(tiff(Some((472, 3))), tag(472.0, DpiUnit::Centimetre));
    assert_eq!(tiff(Some((1, 1))), tag(1.0, DpiUnit::None));
    assert_eq!(tiff(Some((0, 2))), None);
    assert_eq!(tiff(None), None);
    let with_unit = |unit| {
        let bytes = png(&codes, 8, |info| {
            info.pixel_dims = Some(png::PixelDimensions {
                xppu: 23622,
                yppu: 23622,
                unit,
            });
        });
        scan(&bytes, Want::FromTag).dpi_tag
    };
    assert_eq!(with_unit(png::Unit::Meter), tag(23622.0, DpiUnit::Metre));
    assert_eq!(
        with_unit(png::Unit::Unspecified),
        tag(23622.0, DpiUnit::None)
    );
    // A JFIF header with a resolution of its own wins over EXIF, except for 72.
    let jfif = |dpi: u16| {
        let mut bytes = jpeg(&codes, &[exif_segment(1, Some(400))]);
        bytes[13] = 1;
        bytes[14..16].copy_from_slice(&dpi.to_be_bytes());
        bytes[16..18].copy_from_slice(&dpi.to_be_bytes());
        scan(&bytes, Want::FromTag).dpi_tag
    };
    assert_eq!(jfif(600), tag(600.0, DpiUnit::Inch));
    assert_eq!(jfif(72), tag(400.0, DpiUnit::Inch));
}

#[test]
fn few_bits_and_palettes_are_expanded() {
    for bits in [1u16, 2, 4] {
        let last = (1u16 << bits) - 1;
        let codes = Codes::new(19, 5, 1, |row, column, _| {
            (row + column) as u16 % (last + 1)
        });
        let wanted = averaged(&codes, 1, last.into(), 1);
        for tile in [None, Some((16, 16))] {
            let tiff = Tiff {
                bits,
                tile,
                rows_per_strip: 2,
                ..Tiff::default()
            };
            let got = scan(&tiff.encode(&codes), Want::Reduce(1));
            same_light(&got.light, &wanted);
            assert!(got.bits == bits as u8 && got.code_light.is_none());
        }
        let got = scan(&png(&codes, bits as u8, |_| ()), Want::Reduce(1));
        same_light(&got.light, &wanted);
    }
    let codes = Codes::new(4, 2, 1, |_, column, _| column as u16);
    let map: Vec<u16> = [
        [0, 65_535, 0, 32_768],
        [0, 0, 65_535, 32_768],
        [0, 0, 0, 32_768],
    ]
    .into_iter()
    .flat_map(|channel| channel.into_iter().chain([0; 12]))
    .collect();
    let tiff = Tiff {
        bits: 4,
        photometric: 3,
        shorts: vec![(320, map)],
        ..Tiff::default()
    };
    let got = scan(&tiff.encode(&codes), Want::Reduce(1));
    for (column, wanted) in [0.0, 0.2126, 0.7152, 32_768.0 / 65_535.0]
        .into_iter()
        .enumerate()
    {
        assert!((got.light[[1, column]] - wanted).abs() < 1e-6);
    }
    let indexed = png(&codes, 8, |info| {
        info.color_type = png::ColorType::Indexed;
        info.palette = Some(vec![0, 0, 0, 255, 0, 0, 0, 255, 0, 255, 255, 255].into());
    });
    let got = scan(&indexed, Want::Reduce(1));
    for (column, wanted) in [0.0, 0.2126, 0.7152, 1.0].into_iter().enumerate() {
        assert!((got.light[[0, column]] - wanted).abs() < 1e-6);
    }
}

#[test]
fn png_of_16_bits_and_interlaced() {
    let codes = Codes::varied(23, 17, 3, 16);
    let wanted = averaged(&codes, 3, 65_535.0, 2);
    same_light(
        &scan(&png(&codes, 16, |_| ()), Want::Reduce(2)).light,
        &wanted,
    );
    same_light(
        &scan(&interlaced_png(&codes), Want::Reduce(2)).light,
        &wanted,
    );
}

#[test]
fn jpeg_comes_close_to_what_went_in() {
    for samples in [1, 3] {
        let codes = Codes::new(64, 48, samples, |row, column, _| {
            (40 + row * 2 + column) as u16
        });
        let got = scan(&jpeg(&codes, &[]), Want::Reduce(4));
        let wanted = averaged(&codes, samples, 255.0, 4);
        for (got, wanted) in got.light.iter().zip(&wanted) {
            assert!((got - wanted).abs() < 0.01);
        }
        assert_eq!(got.code_light.unwrap().len(), 256);
    }
}

#[test]
fn opacity_is_left_out_and_said() {
    let solid = Codes::new(
        6,
        4,
        4,
        |_, column, sample| if sample == 3 { 255 } else { column as u16 },
    );
    let holed = Codes::new(6, 4, 4, |row, column, sample| match (row, column, sample) {
        (2, 5, 3) => 0,
        (_, _, 3) => 255,
        _ => column as u16,
    });
    for (codes, warnings) in [(&solid, 0), (&holed, 1)] {
        let wanted = averaged(codes, 3, 255.0, 1);
        let tiff = Tiff {
            shorts: vec![(338, vec![2])],
            ..Tiff::rgb8()
        };
        for bytes in [png(codes, 8, |_| ()), tiff.encode(codes)] {
            let got = scan(&bytes, Want::Reduce(1));
            same_light(&got.light, &wanted);
            assert_eq!(got.warnings.len(), warnings, "{:?}", got.warnings);
        }
    }
    // Grey with opacity, in a picture where white is zero.
    let grey = Codes::new(
        6,
        4,
        2,
        |_, column, sample| if sample == 1 { 255 } else { column as u16 },
    );
    let tiff = Tiff {
        photometric: 0,
        shorts: vec![(338, vec![2])],
        ..Tiff::default()
    };
    let got = scan(&tiff.encode(&grey), Want::Reduce(1));
    assert!((got.light[[0, 5]] - 250.0 / 255.0).abs() < 1e-6 && got.warnings.is_empty());
    // A fourth channel that is not opacity.
    let infrared = Tiff {
        shorts: vec![(338, vec![0])],
        ..Tiff::rgb8()
    };
    assert_eq!(
        scan(&infrared.encode(&holed), Want::Reduce(1))
            .warnings
            .len(),
        1
    );
}

#[test]
fn ends_of_the_range_are_marked() {
    let codes = Codes::new(4, 1, 3, |_, column, sample| match column {
        0 => 0,
        1 => 65_535,
        2 => [0, 0, 1][sample],
        _ => [65_535, 65_535, 65_534][sample],
    });
    let got = scan(&Tiff::rgb16().encode(&codes), Want::Reduce(1));
    assert_eq!(
        got.clipped.as_slice().unwrap(),
        [CLIPPED_DARK, CLIPPED_LIGHT, 0, 0]
    );
}

#[test]
fn tiny_pictures_are_read() {
    for (width, height) in [(1, 1), (1, 5), (5, 1), (2, 2)] {
        let codes = Codes::varied(width, height, 3, 8);
        for want in [Want::FromTag, Want::Reduce(0), Want::Reduce(9)] {
            for bytes in [
                Tiff::rgb8().encode(&codes),
                png(&codes, 8, |_| ()),
                jpeg(&codes, &[]),
            ] {
                let got = scan(&bytes, want);
                assert_eq!((got.width_px, got.height_px), (width, height));
            }
        }
    }
}

#[test]
fn the_first_full_picture_of_a_file_is_read() {
    // Two directories: a thumbnail (NewSubfileType 1), then the picture.
    let thumbnail = Codes::varied(4, 3, 1, 8);
    let full = Codes::varied(40, 30, 1, 8);
    let first = Tiff {
        shorts: vec![(254, vec![1])],
        ..Tiff::default()
    }
    .encode(&thumbnail);
    let second = Tiff {
        shorts: vec![(254, vec![0])],
        ..Tiff::default()
    };
    let both = chain(&first, &second.encode(&full));
    let got = scan(&both, Want::Reduce(1));
    assert_eq!(
        (got.width_px, got.height_px, got.warnings.len()),
        (40, 30, 0)
    );
    let plain = Tiff::default().encode(&thumbnail);
    let got = scan(&chain(&plain, &second.encode(&full)), Want::Reduce(1));
    assert_eq!((got.width_px, got.height_px, got.warnings.len()), (4, 3, 1));
}

/// Appends a second little-endian TIFF as a further picture of the first.
fn chain(first: &[u8], second: &[u8]) -> Vec<u8> {
    let number =
        |bytes: &[u8], at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap());
    let shift = first.len() as u32;
    let mut out = [first, second].concat();
    let entries =
        |bytes: &[u8], at: usize| usize::from(u16::from_le_bytes([bytes[at], bytes[at + 1]]));
    let directory = number(first, 4) as usize;
    let next = directory + 2 + 12 * entries(first, directory);
    let second_directory = number(second, 4) + shift;
    out[next..next + 4].copy_from_slice(&second_directory.to_le_bytes());
    let start = second_directory as usize;
    for i in 0..entries(&out, start) {
        let entry = start + 2 + 12 * i;
        let tag = u16::from_le_bytes([out[entry], out[entry + 1]]);
        let kind = u16::from_le_bytes([out[entry + 2], out[entry + 3]]);
        // Offsets: where the strips lie, and values that are too long for their entry.
        if tag == 273 || kind == 5 {
            let moved = number(&out, entry + 8) + shift;
            out[entry + 8..entry + 12].copy_from_slice(&moved.to_le_bytes());
        }
    }
    out
}

#[test]
fn the_name_of_a_file_does_not_matter() {
    let folder = tempfile::tempdir().unwrap();
    let bytes = png(&Codes::varied(9, 9, 1, 8), 8, |_| ());
    assert!(
        read(
            &write(folder.path(), "plate.tif", &bytes),
            &linear(),
            Want::FromTag
        )
        .is_ok()
    );
}

#[test]
fn long_packed_strips_are_streamed() {
    // 40 MB in one strip: over the limit above which a strip is not held.
    let line = Codes::varied(4096, 1, 1, 16);
    let codes = Codes::new(4096, 5000, 1, |row, column, _| {
        line.at(0, (column + row) % 4096, 0)
    });
    let wanted = averaged(&codes, 1, 65_535.0, 8);
    for compression in [8, 5, 32773] {
        let predictor = if compression == 8 { 2 } else { 1 };
        let tiff = Tiff {
            bits: 16,
            compression,
            predictor,
            ..Tiff::default()
        };
        same_light(&scan(&tiff.encode(&codes), Want::Reduce(8)).light, &wanted);
    }
}
