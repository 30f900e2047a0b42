//! One number for each station of the way, measured on a scan of a whole plate.
//!
//! `base` is the time from file to working grid. Run with `cargo bench`; the scans are made in the
//! system's temporary folder and removed again.

use std::fs::File;
use std::hint::black_box;
use std::io::{self, BufWriter, Write};
use std::path::Path;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use oystermark::scan::{ScanSettings, Want, read};

/// A 4 x 5 inch plate at 1200 dpi, 16 bits, RGB: 173 MB.
const WIDTH_PX: u32 = 4800;
const HEIGHT_PX: u32 = 6000;
const DPI: u32 = 1200;

fn base(criterion: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let plain = folder.path().join("plain.tif");
    let packed = folder.path().join("packed.tif");
    write_scan(&plain, false).expect("room for a scan of 173 MB");
    write_scan(&packed, true).expect("room for a packed scan");
    let pixels = u64::from(WIDTH_PX) * u64::from(HEIGHT_PX);
    let mut group = criterion.benchmark_group("base");
    group
        .sample_size(10)
        .throughput(Throughput::Elements(pixels));
    for (name, file) in [("uncompressed", &plain), ("deflate", &packed)] {
        group.bench_function(name, |bench| {
            bench.iter(|| {
                let scan = read(file, &ScanSettings::default(), Want::FromTag);
                black_box(scan.expect("a sound file"))
            });
        });
    }
    group.finish();
}

/// Writes a scan with grain: a TIFF of one strip, or of packed strips of 64 rows.
fn write_scan(path: &Path, packed: bool) -> io::Result<()> {
    let rows_per_strip = if packed { 64 } else { HEIGHT_PX };
    let strips = HEIGHT_PX.div_ceil(rows_per_strip);
    let mut file = BufWriter::new(File::create(path)?);
    let (mut offsets, mut counts) = (Vec::new(), Vec::new());
    let mut at = 8u32;
    file.write_all(b"II*\0\0\0\0\0")?;
    let mut grain = 1u32;
    for strip in 0..strips {
        let rows = rows_per_strip.min(HEIGHT_PX - strip * rows_per_strip);
        let mut count = 0;
        for band in 0..rows.div_ceil(64) {
            let mut bytes = Vec::new();
            for _ in 0..64.min(rows - band * 64) {
                let mut last = [0u16; 3];
                for column in 0..WIDTH_PX {
                    grain = grain.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    let code = (6000 + column * 9 + (grain >> 23)) as u16;
                    for before in &mut last {
                        let stored = if packed {
                            code.wrapping_sub(*before)
                        } else {
                            code
                        };
                        *before = code;
                        bytes.extend(stored.to_le_bytes());
                    }
                }
            }
            if packed {
                let level = flate2::Compression::default();
                let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), level);
                encoder.write_all(&bytes)?;
                bytes = encoder.finish()?;
            }
            file.write_all(&bytes)?;
            count += bytes.len() as u32;
        }
        offsets.push(at);
        counts.push(count);
        at += count;
    }
    let lists = at;
    for number in offsets.iter().chain(&counts).chain(&[DPI, 1]) {
        file.write_all(&number.to_le_bytes())?;
    }
    let bits = lists + 8 * strips + 8;
    for _ in 0..3 {
        file.write_all(&16u16.to_le_bytes())?;
    }
    file.write_all(&[0, 0])?;
    let list = |start: u32, values: &[u32]| if strips == 1 { values[0] } else { start };
    let entries: [(u16, u16, u32, u32); 13] = [
        (256, 4, 1, WIDTH_PX),
        (257, 4, 1, HEIGHT_PX),
        (258, 3, 3, bits),
        (259, 3, 1, if packed { 8 } else { 1 }),
        (262, 3, 1, 2),
        (273, 4, strips, list(lists, &offsets)),
        (277, 3, 1, 3),
        (278, 4, 1, rows_per_strip),
        (279, 4, strips, list(lists + 4 * strips, &counts)),
        (282, 5, 1, lists + 8 * strips),
        (283, 5, 1, lists + 8 * strips),
        (296, 3, 1, 2),
        (317, 3, 1, if packed { 2 } else { 1 }),
    ];
    file.write_all(&(entries.len() as u16).to_le_bytes())?;
    for (tag, kind, count, value) in entries {
        file.write_all(&tag.to_le_bytes())?;
        file.write_all(&kind.to_le_bytes())?;
        file.write_all(&count.to_le_bytes())?;
        file.write_all(&value.to_le_bytes())?;
    }
    file.write_all(&[0; 4])?;
    let mut file = file.into_inner()?;
    io::Seek::seek(&mut file, io::SeekFrom::Start(4))?;
    file.write_all(&(bits + 8).to_le_bytes())
}

criterion_group!(stations, base);
criterion_main!(stations);
