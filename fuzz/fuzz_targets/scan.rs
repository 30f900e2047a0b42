//! Any bytes at the scan room's door: a scan or an error, never a panic.
//!
//! Runs with the stable toolchain and a C++ compiler (for libFuzzer). From this folder:
//!
//! ```sh
//! mkdir -p corpus/scan
//! (cd .. && OYSTERMARK_CORPUS=$PWD/fuzz/corpus/scan cargo test --test tests damaged)
//! RUSTFLAGS="-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
//!   -Cllvm-args=-sanitizer-coverage-inline-8bit-counters \
//!   -Cllvm-args=-sanitizer-coverage-pc-table -Ccodegen-units=1" \
//!   cargo build --release --target x86_64-unknown-linux-gnu
//! target/x86_64-unknown-linux-gnu/release/scan corpus/scan -max_len=8192 -rss_limit_mb=1024
//! ```
#![no_main]

use std::cell::OnceCell;

use libfuzzer_sys::fuzz_target;
use oystermark::scan::{ScanSettings, Want, read};

thread_local! {
    static FOLDER: OnceCell<tempfile::TempDir> = const { OnceCell::new() };
}

fuzz_target!(|bytes: &[u8]| {
    FOLDER.with(|folder| {
        let folder = folder.get_or_init(|| tempfile::tempdir().expect("a temporary folder"));
        let file = folder.path().join("plate");
        std::fs::write(&file, bytes).expect("room for a small file");
        let settings = ScanSettings {
            max_pixels: 1_000_000,
            max_held_bytes: 16 << 20,
            ..ScanSettings::default()
        };
        if let Ok(scan) = read(&file, &settings, Want::Reduce(2)) {
            assert!(scan.light.iter().all(|light| (0.0..=1.0).contains(light)));
        }
    });
});
