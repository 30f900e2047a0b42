//! What each station of the way costs, beside the time from file to working grid.
//!
//! A 4 x 5 inch plate lies on the lid, painted at 1200 dots per inch with fog at its edges: 16 bits,
//! RGB, an embedded profile, a TIFF that is not packed. Every round goes all the way once, so that
//! whatever else the machine does falls on all stations alike. A machine's clock swings within a round
//! too: for the bars the base is taken anew right before each whole way, and the two are compared. Run
//! with `cargo bench`; the scan is made in the system's temporary folder and removed again.

use std::fs::File;
use std::hint::black_box;
use std::io::{BufReader, BufWriter};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use oystermark::analysis::read_scan;
use oystermark::causes::{Catalogue, PlateFacts, rank};
use oystermark::density::DensityMap;
use oystermark::findings::judge;
use oystermark::measures::{Measures, clear_parts, contrast, fog, shapes, specks, tone};
use oystermark::plate::{Given, PlateKind, Process, plates};
use oystermark::practice::{
    Coding, Crop, FaultWish, FileFormat, Lid, Recipe, SceneName, TagState, Wish, paint_to,
};
use oystermark::report::{Parts, Report};
use oystermark::scan::{Want, read};
use oystermark::settings::{MeasureName, Settings};
use tiff::TiffError;
use tiff::decoder::{Decoder, DecodingResult};
use tiff::encoder::colortype::RGB16;
use tiff::encoder::{Compression, Rational, TiffEncoder};
use tiff::tags::{ResolutionUnit, Tag};

/// Resolution of the scan, dots per inch.
const DPI: u32 = 1200;

/// Rounds that count, after one that fills the file cache.
const ROUNDS: usize = 15;

const BASE: &str = "base: file to linear light on the working grid";
const PACKED: &str = "  the same from a packed file (deflate)";
const PLATES: &str = "plates: found, squared up, parts told apart";
const PLATES_STATED: &str = "  of which without finding the outline";
const DENSITY: &str = "density: zero of silver";
const TONE: &str = "tone";
const COLOURS: &str = "contrast and colour of the clear parts";
const FOG: &str = "fog";
const SPECKS: &str = "specks";
const SHAPES: &str = "bands, pour, bare places, stains, scratches";
const JUDGE: &str = "findings";
const CAUSES: &str = "causes, with their catalogue";
const REPORT: &str = "report put together";
const JSON: &str = "report as JSON";
const PAGE: &str = "report as a page";

/// The whole way with ever more measures, and the most that each may take, in times of the base: our own bars.
const WHOLE: [(&str, &[MeasureName], f64); 3] = [
    (
        "whole way, read_scan: tone and fog",
        &[MeasureName::Tone, MeasureName::Fog],
        2.5,
    ),
    (
        "whole way with specks too",
        &[MeasureName::Tone, MeasureName::Fog, MeasureName::Specks],
        3.5,
    ),
    ("whole way with every measure", MeasureName::ALL, 4.0),
];

/// Rows of the stations, in the order of the way.
const ROWS: [&str; 15] = [
    BASE,
    PACKED,
    PLATES,
    PLATES_STATED,
    DENSITY,
    TONE,
    COLOURS,
    FOG,
    SPECKS,
    SHAPES,
    JUDGE,
    CAUSES,
    REPORT,
    JSON,
    PAGE,
];

fn main() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let packed = painted(folder.path());
    let plain = folder.path().join("plain.tif");
    unpack(&packed, &plain).expect("room for a scan of 200 MB");
    let mut times = Times::default();
    for round in 0..=ROUNDS {
        if round == 1 {
            times = Times::default();
        }
        all_the_way(&plain, &packed, &mut times);
    }
    print!("{}", times.table());
}

/// Paints the scan, packed, and gives its path.
fn painted(folder: &Path) -> PathBuf {
    let wish = Wish {
        faults: vec![FaultWish::EdgeFog(3)],
        process: Some(Process::PositiveOnMetal),
        kind: Some(PlateKind::Picture),
        scene: Some(SceneName::Portrait),
        crop: Some(Crop::Margin),
        dpi: Some(f64::from(DPI)),
        size_name: Some("4x5"),
        format: Some(FileFormat::Tiff),
        bare_rim: true,
        glass: None,
        channels: Some(3),
    };
    let mut recipe = Recipe::random(45, "bench", &wish);
    let scan = &mut recipe.scan;
    (scan.bits, scan.channels) = (16, 3);
    (scan.encoding, scan.icc) = (Coding::Adobe, true);
    (scan.lid, scan.lid_light) = (Lid::White, 0.85);
    scan.dpi_tag = TagState::Ok;
    let mut files = paint_to(folder, &recipe).expect("a scan of 100 MB");
    files.swap_remove(0)
}

/// Writes the painted scan as it comes from a scanner's program: in one strip, not packed.
fn unpack(packed: &Path, plain: &Path) -> Result<(), TiffError> {
    let mut decoder = Decoder::new(BufReader::new(File::open(packed)?))?;
    let (width, height) = decoder.dimensions()?;
    let profile = decoder.get_tag_u8_vec(Tag::IccProfile)?;
    let DecodingResult::U16(codes) = decoder.read_image()? else {
        panic!("16 bits were painted");
    };
    let file = BufWriter::new(File::create(plain)?);
    let mut encoder = TiffEncoder::new(file)?.with_compression(Compression::Uncompressed);
    let mut picture = encoder.new_image::<RGB16>(width, height)?;
    picture.resolution(ResolutionUnit::Inch, Rational { n: DPI, d: 1 });
    picture.encoder().write_tag(Tag::IccProfile, &profile[..])?;
    picture.write_data(&codes)
}

/// Goes the way station by station, then in one.
fn all_the_way(file: &Path, packed: &Path, times: &mut Times) {
    let settings = Settings::default();
    let given = Given {
        process: Some(Process::PositiveOnMetal),
        kind: Some(PlateKind::Picture),
        ..Given::default()
    };
    let scan = times
        .of(BASE, || read(file, &settings.scan, Want::FromTag))
        .expect("a sound file");
    let from_packed = times.of(PACKED, || read(packed, &settings.scan, Want::FromTag));
    black_box(from_packed.expect("a sound file"));
    let found = times
        .of(PLATES, || plates(&scan, &given, &settings.plate))
        .expect("a plate");
    let [plate] = &found[..] else {
        panic!("one plate was painted, {} were found", found.len());
    };
    assert!(plate.found, "the plate is told from the lid");
    let stated = Given {
        corners_px: Some(plate.corners_px),
        ..given.clone()
    };
    let again = times.of(PLATES_STATED, || plates(&scan, &stated, &settings.plate));
    black_box(again.expect("a plate"));
    let map = times.of(DENSITY, || DensityMap::of(plate, None));
    let tone = times.of(TONE, || tone::measure(&scan, plate, &map));
    let (contrast, clear_parts) = times.of(COLOURS, || {
        (
            contrast(plate, &map, &tone),
            clear_parts::measure(&scan, plate),
        )
    });
    let measures = Measures {
        tone,
        contrast: Some(contrast),
        clear_parts,
        fog: Some(times.of(FOG, || fog::measure(plate, &map))),
        specks: Some(times.of(SPECKS, || specks::measure(&scan, plate, &map))),
        shapes: Some(times.of(SHAPES, || shapes(plate, &map))),
    };
    let (findings, cannot_tell) = times.of(JUDGE, || judge(plate, &map, &measures));
    let ranked = times.of(CAUSES, || {
        let catalogue = Catalogue::built_in().expect("a sound catalogue");
        rank(&findings, &PlateFacts::of(plate), None, &catalogue)
    });
    let profiles = measures.fog.as_ref().map_or(&[][..], |fog| &fog.profiles);
    let report = times.of(REPORT, || {
        Report::assemble(Parts {
            scan: &scan,
            plate,
            handling: None,
            calibration: None,
            tone: &measures.tone,
            profiles,
            findings: &findings,
            ranked,
            looked_for: &[],
            cannot_tell: &cannot_tell,
            settings: serde_json::to_value(&settings).unwrap_or_default(),
        })
    });
    black_box(times.of(JSON, || report.json()).expect("a report"));
    black_box(
        times
            .of(PAGE, || report.html(&plate.picture))
            .expect("a page"),
    );
    drop((scan, found));
    for (row, measures, _) in WHOLE {
        let settings = Settings {
            measures: measures.iter().copied().collect(),
            ..settings.clone()
        };
        let base = times.of(BASE, || read(file, &settings.scan, Want::FromTag));
        drop(base.expect("a sound file"));
        let outcomes = times.of(row, || read_scan(file, &given, &settings));
        black_box(outcomes.expect("a plate"));
    }
}

/// Times of each row, in the order in which they were taken.
#[derive(Default)]
struct Times(Vec<(&'static str, Duration)>);

impl Times {
    fn of<T>(&mut self, row: &'static str, work: impl FnOnce() -> T) -> T {
        let start = Instant::now();
        let done = work();
        self.0.push((row, start.elapsed()));
        done
    }

    /// Least and median time of a row, milliseconds.
    fn least_and_median(&self, row: &str) -> (f64, f64) {
        let mut times: Vec<f64> = self
            .0
            .iter()
            .filter(|(name, _)| *name == row)
            .map(|(_, time)| time.as_secs_f64() * 1e3)
            .collect();
        times.sort_by(f64::total_cmp);
        (times[0], times[times.len() / 2])
    }

    /// Quartiles of a whole way's times over those of the base right before each.
    fn over_base(&self, row: &str) -> [f64; 3] {
        let mut ratios: Vec<f64> = self
            .0
            .windows(2)
            .filter(|pair| pair[0].0 == BASE && pair[1].0 == row)
            .map(|pair| pair[1].1.as_secs_f64() / pair[0].1.as_secs_f64())
            .collect();
        ratios.sort_by(f64::total_cmp);
        [1, 2, 3].map(|quarter| ratios[quarter * (ratios.len() - 1) / 4])
    }

    fn table(&self) -> String {
        let base = self.least_and_median(BASE);
        let mut table = format!(
            "\n{:48} {:>9} {:>9} {:>7} {:>7}\n{:48} {:>9} {:>9} {:>15}\n",
            "4 x 5 in at 1200 dpi, 16-bit RGB TIFF",
            "least",
            "median",
            "least",
            "median",
            "",
            "ms",
            "ms",
            "times base"
        );
        for row in ROWS.into_iter().chain(WHOLE.map(|(row, ..)| row)) {
            let (least, median) = self.least_and_median(row);
            table.push_str(&format!(
                "{row:48} {least:9.1} {median:9.1} {:7.2} {:7.2}\n",
                least / base.0,
                median / base.1
            ));
        }
        for (row, _, most) in WHOLE {
            let [low, middle, high] = self.over_base(row);
            let kept = if middle <= most { "kept" } else { "missed" };
            table.push_str(&format!(
                "bar: {row} at most {most} times the base right before it, {kept} \
                 ({middle:.2}, half of the rounds {low:.2} to {high:.2})\n"
            ));
        }
        table
    }
}
