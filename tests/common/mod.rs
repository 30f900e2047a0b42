//! A fresh folder, a ready command and small drawn scans for each test.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// A fresh folder that goes away with the test, in which the program runs.
pub struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    pub fn new() -> Bench {
        Bench {
            folder: tempfile::tempdir().expect("a fresh folder"),
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The program with arguments, its folder the fresh one.
    pub fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_oystermark"));
        command
            .args(args)
            .current_dir(self.folder.path())
            .stdin(Stdio::null());
        command
    }

    pub fn run(&self, args: &[&str]) -> Ran {
        Ran::of(&mut self.command(args))
    }

    /// A drawn scan of one clean plate.
    pub fn clean(&self, name: &str) {
        self.scan(name, &[Plate::clean()]);
    }

    /// A drawn scan of plates side by side on a white lid.
    pub fn scan(&self, name: &str, plates: &[Plate]) {
        draw(&self.path(name), plates);
    }

    pub fn write(&self, name: &str, content: &str) {
        let path = self.path(name);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).expect("a folder for a file of the test");
        }
        fs::write(path, content).expect("a file of the test");
    }

    pub fn read(&self, name: &str) -> String {
        let path = self.path(name);
        fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    }

    pub fn json(&self, name: &str) -> serde_json::Value {
        serde_json::from_str(&self.read(name)).expect("a report in JSON")
    }

    /// Names in a folder, sorted, hidden ones too.
    pub fn names(&self, folder: &str) -> Vec<String> {
        let mut names: Vec<_> = fs::read_dir(self.path(folder))
            .expect("a folder that can be listed")
            .map(|entry| {
                let name = entry.expect("an entry").file_name();
                name.to_string_lossy().into_owned()
            })
            .collect();
        names.sort();
        names
    }
}

/// How a run of the program ended.
pub struct Ran {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

impl Ran {
    pub fn of(command: &mut Command) -> Ran {
        let Output {
            status,
            stdout,
            stderr,
        } = command.output().expect("the program starts");
        Ran {
            code: status.code(),
            out: String::from_utf8(stdout).expect("output in UTF-8"),
            err: String::from_utf8(stderr).expect("errors in UTF-8"),
        }
    }

    /// Checks the exit code and shows what was printed if it is another.
    #[track_caller]
    pub fn ends_with(self, code: i32) -> Ran {
        assert_eq!(
            self.code,
            Some(code),
            "\n--- out\n{}\n--- err\n{}",
            self.out,
            self.err
        );
        self
    }

    /// Checks that the errors are so many sentences, each in the form `oystermark: ...`.
    #[track_caller]
    pub fn complains(self, sentences: usize) -> Ran {
        let lines: Vec<_> = self.err.lines().collect();
        assert_eq!(lines.len(), sentences, "{}", self.err);
        for line in lines {
            assert!(line.starts_with("oystermark: "), "{line}");
            assert!(line.contains("; "), "no hint: {line}");
        }
        self
    }
}

/// A drawn sixth plate: a blank positive on black metal, evenly dark.
#[derive(Clone, Copy)]
pub struct Plate {
    /// Extra silver at its left edge, density; falls to 1/e within 5 mm.
    pub fog_d: f64,
}

impl Plate {
    pub fn clean() -> Plate {
        Plate { fog_d: 0.0 }
    }

    pub fn fogged() -> Plate {
        Plate { fog_d: 0.8 }
    }
}

/// Resolution of the drawn scans.
const DPI: f64 = 150.0;

fn draw(path: &Path, plates: &[Plate]) {
    let px = |mm: f64| (mm / 25.4 * DPI).round() as usize;
    let (plate_w, plate_h, lid) = (px(69.85), px(82.55), px(12.0));
    let width = lid + plates.len() * (plate_w + lid);
    let height = plate_h + 2 * lid;
    let mut rows = Vec::with_capacity(width * height);
    // A fixed sequence in place of chance: grain of the size of one code value or so.
    let mut state = 1_u32;
    for y in 0..height {
        for x in 0..width {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let grain = (f64::from(state >> 16) / 65_536.0 - 0.5) * 0.02;
            let column = x % (plate_w + lid);
            let in_plate = (lid..lid + plate_h).contains(&y)
                && column >= lid
                && x / (plate_w + lid) < plates.len();
            let density_d = if in_plate {
                let from_left_mm = (column - lid) as f64 / DPI * 25.4;
                1.55 - plates[x / (plate_w + lid)].fog_d * (-from_left_mm / 5.0).exp()
            } else {
                0.06
            };
            let light = 10_f64.powf(-(density_d + grain));
            // IEC 61966-2-1, all of it above the linear toe.
            let coded = 1.055 * light.powf(1.0 / 2.4) - 0.055;
            rows.push((coded.clamp(0.0, 1.0) * 255.0).round() as u8);
        }
    }
    let file = fs::File::create(path).expect("a scan of the test");
    let mut encoder = png::Encoder::new(file, width as u32, height as u32);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    let per_metre = (DPI / 0.0254).round() as u32;
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        xppu: per_metre,
        yppu: per_metre,
        unit: png::Unit::Meter,
    }));
    let mut writer = encoder.write_header().expect("a PNG header");
    writer.write_image_data(&rows).expect("PNG rows");
}

/// A text of the shared facts and check values, which lie beside the checkout; `None` where they are absent.
pub fn shared(name: &str) -> Option<String> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared");
    std::fs::read_to_string(folder.join(name)).ok()
}
