//! Values from the literature and from standards: source, place in it, tolerance and why.

use oystermark::plate::sizes::{GUESS_TOLERANCE_MM, TRADE_SIZES, nearest};
use oystermark::units::{MM_PER_INCH, density_of, light_of};

/// The tables of check values beside the checkout, if they are there; says so when they are not.
pub(crate) fn table(name: &str) -> Option<serde_json::Value> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../shared/checks")
        .join(name);
    match std::fs::read_to_string(&path) {
        Ok(text) => Some(serde_json::from_str(&text).expect("a table in JSON")),
        Err(_) => {
            eprintln!("skipped: {} is not there", path.display());
            None
        }
    }
}

pub(crate) fn rows<'a>(table: &'a serde_json::Value, name: &str) -> &'a [serde_json::Value] {
    let rows = table[name].as_array().expect("rows");
    assert!(!rows.is_empty(), "{name} is empty");
    rows
}

pub(crate) fn value(row: &serde_json::Value, name: &str) -> f64 {
    row[name].as_f64().expect("a number")
}

#[track_caller]
pub(crate) fn close(ours: f64, theirs: f64, tolerance: f64) {
    assert!(
        (ours - theirs).abs() <= tolerance,
        "ours {ours}, theirs {theirs}, tolerance {tolerance}"
    );
}

/// Plate sizes in inches: a web page "19th Century Photographic Plate Sizes"; Living Image, plate
/// cameras part 1 (licm.org.uk); The Century Dictionary, entries half-plate and whole-plate;
/// L. McGinnis Schulze, Identifying Photographs part 2 (2014) for the small tintypes. Sheet sizes
/// (4x5 to 8x10) and the continental sizes in centimetres from memory. Exact: an inch is 25.4 mm.
#[test]
fn plate_sizes_are_those_of_the_trade() {
    let sizes_in = [
        ("whole", 6.5, 8.5),
        ("half (US)", 4.25, 5.5),
        ("half (UK)", 4.75, 6.5),
        ("quarter", 3.25, 4.25),
        ("quarter (variant)", 3.125, 4.125),
        ("sixth", 2.75, 3.25),
        ("sixth (variant)", 2.5, 3.5),
        ("eighth", 2.125, 3.25),
        ("ninth", 2.0, 2.5),
        ("sixteenth", 1.375, 1.625),
        ("sixteenth (variant)", 1.625, 2.125),
        ("gem (large)", 0.75, 1.0),
        ("gem (small)", 0.5, 1.0),
        ("double whole", 8.0, 13.0),
        ("carte de visite", 2.5, 4.0),
        ("4x5", 4.0, 5.0),
        ("5x7", 5.0, 7.0),
        ("8x10", 8.0, 10.0),
        ("11x14", 11.0, 14.0),
        ("14x17", 14.0, 17.0),
        ("18x22", 18.0, 22.0),
        ("20x24", 20.0, 24.0),
        ("lantern (UK)", 3.25, 3.25),
        ("lantern (US)", 3.25, 4.0),
        ("stereo", 3.25, 6.75),
        ("9x12 cm", 90.0 / 25.4, 120.0 / 25.4),
        ("13x18 cm", 130.0 / 25.4, 180.0 / 25.4),
        ("18x24 cm", 180.0 / 25.4, 240.0 / 25.4),
    ];
    assert_eq!(TRADE_SIZES.len(), sizes_in.len());
    for (size, (name, short_in, long_in)) in TRADE_SIZES.iter().zip(sizes_in) {
        assert_eq!(size.name, name);
        close(size.short_mm, short_in * 25.4, 1e-9);
        close(size.long_mm, long_in * 25.4, 1e-9);
    }
    assert_eq!(MM_PER_INCH, 25.4);
}

/// The same against the full table, and a guess from its pixel examples, which must be right within
/// 3 mm (period plates were cut by hand).
#[test]
fn plate_sizes_agree_with_the_table_beside_the_checkout() {
    let Some(table) = table("15_plate_sizes.json") else {
        return;
    };
    assert_eq!(GUESS_TOLERANCE_MM, 3.0);
    for row in rows(&table, "rows") {
        let (short_mm, long_mm) = (value(row, "short_mm"), value(row, "long_mm"));
        let size = nearest(long_mm, short_mm).expect("a size of the trade");
        close(size.short_mm, short_mm, 1e-6);
        close(size.long_mm, long_mm, 1e-6);
    }
    for example in rows(&table, "pixel_examples") {
        let mm = |name| value(example, name) / value(example, "ppi") * 25.4;
        for off_mm in [-1.0, 0.0, 1.0] {
            let size = nearest(mm("long_px") + off_mm, mm("short_px") - off_mm).expect("a size");
            let name = example["name"].as_str().expect("a name");
            let plain = size.name.split(' ').next().expect("a word");
            assert!(name.starts_with(plain), "{name}: {}", size.name);
        }
    }
}

/// B. Atkins, article on scanner dynamic range (2003), table of per cent and density; printed to one
/// or two places, hence half a unit of the second place and a little.
#[test]
fn density_of_a_share_of_light() {
    for (percent, density_d) in [
        (50.0, 0.3),
        (25.0, 0.6),
        (10.0, 1.0),
        (1.0, 2.0),
        (0.1, 3.0),
        (0.01, 4.0),
        (95.0, 0.02),
        (5.0, 1.3),
    ] {
        close(
            density_of(percent / 100.0).expect("light"),
            density_d,
            0.006,
        );
    }
}

/// ISO 5-2 and ISO 5-4: D = -log10 of transmittance or reflectance factor. Values computed from the
/// definition by a second route, to the digits printed.
#[test]
fn density_by_definition() {
    for (density_d, light) in [
        (0.0, 1.0),
        (0.05, 0.891_250_938_134),
        (0.3, 0.501_187_233_627),
        (1.0, 0.1),
        (1.55, 0.028_183_829_312_6),
        (2.45, 0.003_548_133_892_34),
        (4.0, 0.000_1),
    ] {
        close(light_of(density_d), light, 1e-9);
        close(density_of(light).expect("light"), density_d, 1e-8);
    }
    for (percent, density_d) in [
        (95.0, 0.022_276_394_711_2),
        (18.0, 0.744_727_494_897),
        (12.5, 0.903_089_986_992),
        (3.0, 1.522_878_745_28),
    ] {
        close(density_of(percent / 100.0).expect("light"), density_d, 1e-8);
    }
    for dark in [0.0, -1e-9, f64::NAN] {
        assert_eq!(density_of(dark), None);
    }
}

/// All rows of the table of which a few stand above.
#[test]
fn density_agrees_with_the_table_beside_the_checkout() {
    let Some(table) = table("01_optical_density.json") else {
        return;
    };
    for row in rows(&table, "density_to_transmittance") {
        close(light_of(value(row, "D")), value(row, "T"), 1e-9);
        close(
            density_of(value(row, "T")).expect("light"),
            value(row, "D"),
            1e-8,
        );
    }
    for row in rows(&table, "percent_to_density") {
        let light = value(row, "percent") / 100.0;
        close(density_of(light).expect("light"), value(row, "D"), 1e-8);
    }
}
