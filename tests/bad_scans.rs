//! Damaged files at the scan room's door: every one gets a scan or an error in words, never a
//! panic, and none takes more memory than the caps allow.
//!
//! The short run is part of every test run. `OYSTERMARK_MUTATIONS=100000` makes it longer.
//! `OYSTERMARK_CORPUS=FOLDER` writes the sound files there, as seeds for `fuzz/`.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

use base64::Engine;
use moxcms::{ColorProfile, LutDataType, LutStore, LutType, LutWarehouse, Matrix3d, ProfileClass};
use oystermark::scan::{ScanSettings, Want, read};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::scan_files::{Codes, Tiff, exif_block, exif_segment, interlaced_png, jpeg, png};

const SHORT_RUN: usize = 2_000;

// Caps of the run: the working, clipping and colour grids of the largest picture take 44 MB, and
// what is held twice 16 MB.
const MAX_PIXELS: u64 = 4_000_000;
const MAX_HELD_BYTES: u64 = 16 << 20;
// What the caps above allow, with room for the threads' own buffers and for decoders that set
// something aside before they look.
const MEMORY_MIB: u64 = 300;

/// A progressive JPEG of 24 x 16 pixels, made for this test.
const PROGRESSIVE: &str = "/9j/4AAQSkZJRgABAQAAAQABAAD/2wBDAA0JCgsKCA0LCgsODg0PEyAVExISEyccHhcgLikxMC4pLSwzOko+MzZGNywtQFdBRkxOUlNSMj5aYVpQYEpRUk//2wBDAQ4ODhMREyYVFSZPNS01T09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT09PT0//wgARCAAQABgDASIAAhEBAxEB/8QAFgABAQEAAAAAAAAAAAAAAAAABAUA/8QAFgEBAQEAAAAAAAAAAAAAAAAAAwEF/9oADAMBAAIQAxAAAAGIlyxOdrOul//EABgQAAMBAQAAAAAAAAAAAAAAAAABAwIR/9oACAEBAAEFAlMUxSMzMzFjh//EABkRAAIDAQAAAAAAAAAAAAAAAAAEAQIDEf/aAAgBAwEBPwHJkozPD//EABkRAQACAwAAAAAAAAAAAAAAAAEAAgMREv/aAAgBAgEBPwGr1FxDpZ//xAAUEAEAAAAAAAAAAAAAAAAAAAAg/9oACAEBAAY/Al//xAAYEAEBAAMAAAAAAAAAAAAAAAAAYQEhQf/aAAgBAQABPyGSaSCLDxt//9oADAMBAAIAAwAAABCjH//EABgRAAIDAAAAAAAAAAAAAAAAAAABESFB/9oACAEDAQE/EItGKH//xAAYEQACAwAAAAAAAAAAAAAAAAAAATFxsf/aAAgBAgEBPxA86VN4j//EABgQAQEBAQEAAAAAAAAAAAAAAAAxASFR/9oACAEBAAE/EJkiRMmaGZ14f//Z";

/// Small sound files of every kind.
fn sound_files() -> Vec<Vec<u8>> {
    let grey = Codes::varied(21, 13, 1, 8);
    let deep = Codes::varied(21, 13, 3, 16);
    let colour = Codes::varied(21, 13, 3, 8);
    let four = Codes::varied(21, 13, 4, 8);
    let few = Codes::new(21, 13, 1, |row, column, _| ((row + column) % 4) as u16);
    let srgb = ColorProfile::new_srgb().encode().unwrap();
    let grey_profile = ColorProfile::new_gray_with_gamma(2.2).encode().unwrap();
    let palette: Vec<u16> = (0..48).map(|i| i * 1300).collect();
    let tile = Some((16, 16));
    let tiffs = [
        (Tiff::default(), &grey),
        (
            Tiff {
                profile: Some(grey_profile.clone()),
                photometric: 0,
                ..Tiff::default()
            },
            &grey,
        ),
        (
            Tiff {
                rows_per_strip: 4,
                orientation: 6,
                ..Tiff::rgb16()
            },
            &deep,
        ),
        (
            Tiff {
                big_endian: true,
                rows_per_strip: 3,
                compression: 5,
                ..Tiff::rgb16()
            },
            &deep,
        ),
        (
            Tiff {
                compression: 5,
                predictor: 2,
                tile,
                ..Tiff::rgb8()
            },
            &colour,
        ),
        (
            Tiff {
                compression: 8,
                predictor: 2,
                rows_per_strip: 5,
                ..Tiff::rgb16()
            },
            &deep,
        ),
        (
            Tiff {
                compression: 8,
                planar: true,
                tile,
                ..Tiff::rgb8()
            },
            &colour,
        ),
        (
            Tiff {
                compression: 32773,
                rows_per_strip: 2,
                ..Tiff::rgb8()
            },
            &colour,
        ),
        (
            Tiff {
                planar: true,
                rows_per_strip: 4,
                big_endian: true,
                ..Tiff::rgb16()
            },
            &deep,
        ),
        (
            Tiff {
                big_tiff: true,
                tile,
                orientation: 3,
                ..Tiff::rgb16()
            },
            &deep,
        ),
        (
            Tiff {
                big_tiff: true,
                big_endian: true,
                ..Tiff::rgb8()
            },
            &colour,
        ),
        (
            Tiff {
                shorts: vec![(338, vec![2])],
                ..Tiff::rgb8()
            },
            &four,
        ),
        (
            Tiff {
                bits: 2,
                rows_per_strip: 5,
                ..Tiff::default()
            },
            &few,
        ),
        (
            Tiff {
                bits: 1,
                compression: 32773,
                photometric: 0,
                ..Tiff::default()
            },
            &few,
        ),
        (
            Tiff {
                bits: 4,
                photometric: 3,
                shorts: vec![(320, palette)],
                ..Tiff::default()
            },
            &few,
        ),
        (
            Tiff {
                profile: Some(srgb.clone()),
                ..Tiff::rgb16()
            },
            &deep,
        ),
        (
            Tiff {
                profile: Some(table_profile()),
                ..Tiff::rgb8()
            },
            &colour,
        ),
    ];
    let mut files: Vec<Vec<u8>> = tiffs
        .iter()
        .map(|(tiff, codes)| tiff.encode(codes))
        .collect();
    files.push(png(&grey, 8, |_| ()));
    files.push(png(&deep, 16, |info| {
        info.icc_profile = Some(srgb.clone().into())
    }));
    files.push(png(&four, 8, |info| {
        info.source_gamma = Some(png::ScaledFloat::new(0.45455));
        info.exif_metadata = Some(exif_block(5, Some(600)).into());
    }));
    files.push(png(&few, 2, |_| ()));
    files.push(png(&few, 8, |info| {
        info.color_type = png::ColorType::Indexed;
        info.palette = Some(vec![7; 12].into());
        info.trns = Some(vec![255, 0].into());
    }));
    files.push(interlaced_png(&deep));
    let icc_segment = |profile: &[u8]| {
        let mut body = b"ICC_PROFILE\0\x01\x01".to_vec();
        body.extend(profile);
        (0xe2, body)
    };
    files.push(jpeg(&grey, &[icc_segment(&grey_profile)]));
    files.push(jpeg(
        &colour,
        &[exif_segment(8, Some(1200)), icc_segment(&srgb)],
    ));
    files.push(
        base64::engine::general_purpose::STANDARD
            .decode(PROGRESSIVE)
            .unwrap(),
    );
    files
}

fn table_profile() -> Vec<u8> {
    let mut profile = ColorProfile::new_srgb();
    profile.profile_class = ProfileClass::InputDevice;
    profile.cicp = None;
    (profile.red_trc, profile.green_trc, profile.blue_trc) = (None, None, None);
    profile.lut_a_to_b_perceptual = Some(LutWarehouse::Lut(LutDataType {
        num_input_channels: 3,
        num_output_channels: 3,
        num_clut_grid_points: 2,
        matrix: Matrix3d::IDENTITY,
        num_input_table_entries: 2,
        num_output_table_entries: 2,
        input_table: LutStore::Store16([0, 65_535].repeat(3)),
        clut_table: LutStore::Store16((0..24).map(|i| i * 1365).collect()),
        output_table: LutStore::Store16([0, 65_535].repeat(3)),
        lut_type: LutType::Lut16,
    }));
    profile.encode().unwrap()
}

/// Damages a file in one to four ways.
fn damaged(files: &[Vec<u8>], chance: &mut ChaCha8Rng) -> Vec<u8> {
    let mut bytes = files[chance.random_range(0..files.len())].clone();
    for _ in 0..chance.random_range(1..=4) {
        if bytes.is_empty() {
            break;
        }
        // Headers and directories are hit more often than pixels.
        let length = bytes.len();
        let at = match chance.random_range(0..4) {
            0 => chance.random_range(0..length.min(64)),
            1 => length - 1 - chance.random_range(0..length.min(400)),
            _ => chance.random_range(0..length),
        };
        match chance.random_range(0..8) {
            0 => bytes[at] ^= 1 << chance.random_range(0..8),
            1 => bytes[at] = chance.next_u32() as u8,
            2 => bytes.truncate(at),
            3 | 4 => blow_up(&mut bytes, at, chance),
            5 => {
                let other = &files[chance.random_range(0..files.len())];
                let start = chance.random_range(0..other.len());
                let end = (start + chance.random_range(1..64usize)).min(other.len());
                let place = at..(at + end - start).min(length);
                bytes.splice(place, other[start..end].iter().copied());
            }
            6 => {
                let end = (at + chance.random_range(1..32usize)).min(length);
                let again = bytes[at..end].to_vec();
                bytes.splice(at..at, again);
            }
            _ => {
                let end = (at + chance.random_range(1..16usize)).min(length);
                bytes.drain(at..end);
            }
        }
    }
    // Most damage to a PNG would be caught by its checksums alone.
    if bytes.starts_with(b"\x89PNG") && chance.random_range(0..4) > 0 {
        mend_checksums(&mut bytes);
    }
    bytes
}

/// Puts an extreme number where a length or an offset may stand.
fn blow_up(bytes: &mut [u8], at: usize, chance: &mut ChaCha8Rng) {
    let size = [1, 2, 4, 4, 8][chance.random_range(0..5)];
    let at = if chance.random_range(0..2) == 0 {
        at & !1
    } else {
        at
    };
    let length = bytes.len() as u64;
    let value = match chance.random_range(0..9) {
        0 => 0,
        1 => 1,
        2 => u64::MAX,
        3 => u64::MAX >> 1,
        4 => 0x7fff_ffff_7fff_ffff,
        5 => 0x8000_0000_8000_0000,
        6 => length.wrapping_sub(chance.random_range(0..3)),
        7 => u64::from(chance.next_u32() >> chance.random_range(0..32)),
        _ => 1000 << chance.random_range(0..12),
    };
    let coded = if chance.random_range(0..2) == 0 {
        value.to_le_bytes()[..size].to_vec()
    } else {
        value.to_be_bytes()[8 - size..].to_vec()
    };
    for (byte, value) in bytes.iter_mut().skip(at).zip(coded) {
        *byte = value;
    }
}

fn mend_checksums(bytes: &mut [u8]) {
    let mut at = 8;
    while let Some(head) = bytes.get(at..at + 4) {
        let length = u32::from_be_bytes([head[0], head[1], head[2], head[3]]) as usize;
        let end = at + 8 + length;
        if end + 4 > bytes.len() {
            return;
        }
        let mut sum = flate2::Crc::new();
        sum.update(&bytes[at + 4..end]);
        bytes[end..end + 4].copy_from_slice(&sum.sum().to_be_bytes());
        at = end + 4;
    }
}

/// A figure of this process from the system, MiB, where the system tells.
fn memory_mib(name: &str) -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with(name))?;
    let kib: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1024)
}

#[test]
fn damaged_files_are_read_or_refused_in_words() {
    let long: Option<usize> = std::env::var("OYSTERMARK_MUTATIONS")
        .ok()
        .and_then(|count| count.parse().ok());
    let cases = long.unwrap_or(SHORT_RUN);
    let files = sound_files();
    let settings = ScanSettings {
        max_pixels: MAX_PIXELS,
        max_held_bytes: MAX_HELD_BYTES,
        ..ScanSettings::default()
    };
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("plate");
    let corpus = std::env::var_os("OYSTERMARK_CORPUS").map(std::path::PathBuf::from);
    for (i, file) in files.iter().enumerate() {
        if let Some(corpus) = &corpus {
            std::fs::write(corpus.join(format!("sound-{i:02}")), file).unwrap();
        }
        std::fs::write(&path, file).unwrap();
        read(&path, &settings, Want::Reduce(2)).unwrap();
    }

    let before = memory_mib("VmRSS");
    let (mut sound, mut refused) = (0, 0);
    let mut slowest = (Duration::ZERO, 0);
    for case in 0..cases {
        let mut chance = ChaCha8Rng::seed_from_u64(case as u64);
        let bytes = damaged(&files, &mut chance);
        std::fs::write(&path, &bytes).unwrap();
        let want = [Want::FromTag, Want::Reduce(1), Want::Reduce(3)][case % 3];
        let start = Instant::now();
        let result = catch_unwind(AssertUnwindSafe(|| read(&path, &settings, want)));
        slowest = slowest.max((start.elapsed(), case));
        match result {
            Ok(Ok(scan)) => {
                let in_range = |light: &f32| (0.0..=1.0).contains(light);
                assert!(
                    scan.light.iter().all(in_range),
                    "case {case}: light out of range"
                );
                assert!(
                    !scan.light.is_empty() && !scan.colour.is_empty(),
                    "case {case}"
                );
                sound += 1;
            }
            Ok(Err(error)) => {
                let text = error.to_string();
                assert!(
                    text.contains("plate") && !text.contains('\n'),
                    "case {case}: {text}"
                );
                assert!(error.hint().ends_with('.'), "case {case}: {}", error.hint());
                refused += 1;
            }
            Err(_) => panic!("case {case} of seed {case} panicked"),
        }
    }
    eprintln!(
        "{cases} damaged files: {sound} read, {refused} refused; slowest {:?} (case {})",
        slowest.0, slowest.1
    );
    assert!(
        sound > cases / 20 && refused > cases / 4,
        "the damage is too mild or too harsh"
    );
    assert!(
        slowest.0 < Duration::from_secs(20),
        "case {} took {:?}",
        slowest.1,
        slowest.0
    );
    // Other tests of this binary may run beside the short run and use memory of their own.
    if let (Some(before), Some(peak), Some(_)) = (before, memory_mib("VmHWM"), long) {
        eprintln!("memory: {before} MiB before, {peak} MiB at most");
        assert!(peak < before + MEMORY_MIB, "{peak} MiB, from {before} MiB");
    }
}
