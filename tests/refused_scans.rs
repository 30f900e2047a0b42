//! Files that are no scan, or more than can be read: each refused in words that help.

use std::path::Path;

use oystermark::scan::{Scan, ScanError, ScanSettings, Want, read};

use crate::scan_files::{Codes, Tiff, exif_segment, interlaced_png, jpeg, png, write};

fn try_scan(bytes: &[u8], settings: &ScanSettings, want: Want) -> Result<Scan, ScanError> {
    let folder = tempfile::tempdir().unwrap();
    read(&write(folder.path(), "plate", bytes), settings, want)
}

#[track_caller]
fn refused(bytes: &[u8], settings: &ScanSettings, text: &str) -> ScanError {
    match try_scan(bytes, settings, Want::FromTag) {
        Ok(_) => panic!("was read, though it should say: {text}"),
        Err(error) => {
            let said = error.to_string();
            assert!(said.contains(text), "{said} | wanted: {text}");
            assert!(said.contains("plate") && !said.contains('\n'), "{said}");
            assert!(error.hint().ends_with('.'));
            error
        }
    }
}

#[test]
fn what_is_no_scan_is_refused_in_words() {
    let settings = ScanSettings::default();
    refused(b"", &settings, "the file is empty");
    refused(
        b"Dear diary, today the bath was cloudy again.",
        &settings,
        "not a picture",
    );
    refused(
        b"%PDF-1.7 and so on",
        &settings,
        "is a PDF, which is not read",
    );
    refused(
        b"RIFF....WEBPVP8 ",
        &settings,
        "is a WebP, which is not read",
    );
    refused(b"II*\0", &settings, "cut short");
    refused(
        &[0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n'],
        &settings,
        "cut short",
    );
    refused(&[0xff, 0xd8, 0xff, 0xd9], &settings, "plate");
    let folder = tempfile::tempdir().unwrap();
    let missing = read(&folder.path().join("plate.tif"), &settings, Want::FromTag).unwrap_err();
    assert!(matches!(missing, ScanError::Missing { .. }), "{missing}");
    let folder = read(folder.path(), &settings, Want::FromTag).unwrap_err();
    assert!(matches!(folder, ScanError::Folder { .. }), "{folder}");
    if cfg!(unix) {
        let device = read(Path::new("/dev/zero"), &settings, Want::FromTag).unwrap_err();
        assert!(matches!(device, ScanError::NotAFile { .. }), "{device}");
    }
}

#[test]
fn values_that_are_not_light_are_refused() {
    let settings = ScanSettings::default();
    let four = Codes::varied(8, 8, 4, 8);
    let three = Codes::varied(8, 8, 3, 8);
    let tiff = |photometric, bits, shorts: Vec<(u16, Vec<u16>)>, codes: &Codes| {
        Tiff {
            photometric,
            bits,
            shorts,
            ..Tiff::default()
        }
        .encode(codes)
    };
    refused(&tiff(5, 8, vec![], &four), &settings, "a CMYK picture");
    refused(&tiff(6, 8, vec![], &three), &settings, "YCbCr");
    refused(&tiff(8, 8, vec![], &three), &settings, "Lab");
    refused(
        &tiff(2, 16, vec![(339, vec![3; 3])], &three),
        &settings,
        "floating point",
    );
    refused(
        &tiff(2, 16, vec![(339, vec![2; 3])], &three),
        &settings,
        "signed",
    );
    refused(
        &tiff(32_803, 16, vec![], &three),
        &settings,
        "raw camera data",
    );
    refused(
        &tiff(2, 8, vec![(258, vec![32; 3])], &three),
        &settings,
        "32 bits",
    );
    refused(
        &tiff(2, 8, vec![(259, vec![7])], &three),
        &settings,
        "JPEG inside",
    );
    refused(
        &tiff(2, 8, vec![(259, vec![50_000])], &three),
        &settings,
        "compression number 50000",
    );
    refused(&cmyk_jpeg(), &settings, "a CMYK picture");
}

/// A JPEG that states four channels, as printers' files do; only its headers are looked at.
fn cmyk_jpeg() -> Vec<u8> {
    let grey = jpeg(&Codes::varied(8, 8, 1, 8), &[]);
    let at = grey
        .windows(2)
        .position(|pair| pair == [0xff, 0xc0])
        .unwrap();
    let length = usize::from(u16::from_be_bytes([grey[at + 2], grey[at + 3]]));
    let mut frame = vec![0xff, 0xc0, 0, 20, 8, 0, 8, 0, 8, 4];
    for component in 1..=4 {
        frame.extend([component, 0x11, 0]);
    }
    let mut bytes = grey.clone();
    bytes.splice(at..at + 2 + length, frame);
    let scan = bytes
        .windows(2)
        .position(|pair| pair == [0xff, 0xda])
        .unwrap();
    let length = usize::from(u16::from_be_bytes([bytes[scan + 2], bytes[scan + 3]]));
    let start = vec![0xff, 0xda, 0, 14, 4, 1, 0, 2, 0, 3, 0, 4, 0, 0, 63, 0];
    bytes.splice(scan..scan + 2 + length, start);
    bytes
}

#[test]
fn cut_files_say_how_much_is_there() {
    let settings = ScanSettings::default();
    let codes = Codes::varied(40, 60, 3, 16);
    for tiff in [
        Tiff {
            rows_per_strip: 8,
            ..Tiff::rgb16()
        },
        Tiff::rgb16(),
        Tiff {
            planar: true,
            ..Tiff::rgb16()
        },
    ] {
        // The directory comes last in our files: put it first by cutting pixels out instead.
        let bytes = directory_first(&tiff.encode(&codes));
        let cut = &bytes[..bytes.len() - 40 * 6 * 10];
        let said = refused(cut, &settings, "of 60 rows could be read").to_string();
        assert!(!said.contains(" 60 of 60"), "{said}");
    }
    let single = directory_first(&Tiff::rgb16().encode(&codes));
    refused(
        &single[..single.len() - 40 * 6 * 10],
        &settings,
        "50 of 60 rows could be read",
    );
    let whole = png(&codes, 16, |_| ());
    refused(
        &whole[..whole.len() / 2],
        &settings,
        "of 60 rows could be read",
    );
    let smooth = Codes::new(64, 64, 3, |row, column, sample| {
        (row * 3 + column + sample * 9) as u16 % 256
    });
    let whole = jpeg(&smooth, &[exif_segment(1, None)]);
    refused(
        &whole[..whole.len() * 2 / 3],
        &settings,
        "of 64 rows could be read",
    );
}

/// The same little-endian TIFF with its pixels at the end of the file.
fn directory_first(bytes: &[u8]) -> Vec<u8> {
    let number = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap()) as usize;
    let directory = number(4);
    let entries = usize::from(u16::from_le_bytes([bytes[directory], bytes[directory + 1]]));
    let entry = |tag: u16| {
        (0..entries)
            .map(|i| directory + 2 + 12 * i)
            .find(|&at| u16::from_le_bytes([bytes[at], bytes[at + 1]]) == tag)
            .unwrap()
    };
    let strips = entry(273);
    let count = number(strips + 4);
    let list = if count == 1 {
        strips + 8
    } else {
        number(strips + 8)
    };
    let start = number(list);
    let mut out = bytes.to_vec();
    let shift = bytes.len() - start;
    out.extend(&bytes[start..]);
    for i in 0..count {
        let at = list + 4 * i;
        out[at..at + 4].copy_from_slice(&((number(at) + shift) as u32).to_le_bytes());
    }
    // The old pixels are no longer needed; what follows them is.
    out
}

#[test]
fn too_much_is_refused_before_it_is_set_aside() {
    let codes = Codes::varied(40, 30, 3, 8);
    let small = ScanSettings {
        max_pixels: 1000,
        ..ScanSettings::default()
    };
    let tight = ScanSettings {
        max_held_bytes: 1000,
        ..ScanSettings::default()
    };
    for bytes in [
        Tiff::rgb8().encode(&codes),
        png(&codes, 8, |_| ()),
        jpeg(&codes, &[]),
    ] {
        refused(&bytes, &small, "larger than the limit of 1000 pixels");
    }
    let deep = Codes::varied(40, 30, 3, 16);
    for (bytes, what) in [
        (jpeg(&codes, &[]), "a JPEG"),
        (interlaced_png(&deep), "an interlaced PNG"),
        (
            Tiff {
                tile: Some((32, 32)),
                ..Tiff::rgb8()
            }
            .encode(&codes),
            "a row of its tiles",
        ),
    ] {
        let error = refused(&bytes, &tight, what);
        assert!(error.hint().contains("uncompressed or tiled TIFF"));
    }
}

#[test]
fn a_bomb_is_refused() {
    let settings = ScanSettings::default();
    // A few hundred bytes that claim 900 million pixels.
    let zeros = Codes::new(4, 4, 1, |_, _, _| 0);
    let mut bytes = png(&zeros, 8, |_| ());
    bytes[16..20].copy_from_slice(&30_000u32.to_be_bytes());
    bytes[20..24].copy_from_slice(&30_000u32.to_be_bytes());
    let mut sum = flate2::Crc::new();
    sum.update(&bytes[12..29]);
    bytes[29..33].copy_from_slice(&sum.sum().to_be_bytes());
    refused(&bytes, &settings, "cannot hold the 30000 x 30000 pixels");
    let tiff = Tiff {
        compression: 8,
        shorts: vec![
            (256, vec![30_000]),
            (257, vec![30_000]),
            (278, vec![30_000]),
        ],
        ..Tiff::default()
    };
    refused(
        &tiff.encode(&zeros),
        &settings,
        "cannot hold the 30000 x 30000 pixels",
    );
}
