//! How well a second scan, turned half round, tells dust: pairs painted, read and scored.
//!
//! Comes in: a [`Reader`]. Goes out: [`TurnedAccuracy`]. What dust can be seen is told by a third
//! painting of each plate without any.

use std::fmt::Write;
use std::path::Path;

use rayon::prelude::*;
use serde_json::Value;

use super::Reader;
use super::design::BUSY;
use super::shares::{in_words, quantile};
use crate::plate::{PlateKind, Process};
use crate::practice::pose::{self, Map};
use crate::practice::recipe::{Crop, FaultWish, Glass, Wish};
use crate::practice::scenes::SceneName;
use crate::practice::score::{DustNamed, dust_named};
use crate::practice::{PracticeError, PracticePlate, Recipe, write_whole};
use crate::raster::Grid;
use crate::scan::{ScanSettings, Want};
use crate::units::MM_PER_INCH;

/// Least change of density that dust makes where it can be seen, and how often it exceeds the standard
/// deviation of what is around it. The marks of the plate are asked for by like limits.
const SEEN_D: f64 = 0.1;
/// See [`SEEN_D`].
const SEEN_SIGMAS: f64 = 3.0;

/// Half the side of the square that counts as around, millimetres.
const AROUND_MM: f64 = 0.75;

/// Dust nearer to the plate's edge is not asked for, millimetres: marks keep off it too.
const EDGE_MM: f64 = 2.0;

/// Light below which a scan holds noise rather than tones.
const DARKEST_LIGHT: f32 = 0.0015;

/// Kinds of dust, and what of each was called.
const KINDS: [(&str, &[&str]); 3] = [
    ("specks", &["speck"]),
    ("flakes", &["fleck"]),
    ("fibres and hairs", &["fibre", "hair"]),
];

/// A piece of dust that can be seen on a plate, and what it was called.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Piece {
    /// Index into [`KINDS`].
    kind: usize,
    /// In one scan, and with the second.
    alone: DustNamed,
    turned: DustNamed,
}

/// One pair, scored.
#[derive(Debug, Clone, Default)]
struct Pair {
    picture: bool,
    read: bool,
    /// Laid on by the picture, not by the outline alone.
    by_picture: bool,
    /// Largest error of registration over the plate, millimetres.
    off_mm: Option<f64>,
    seen: Vec<Piece>,
    /// Marks called dust, and of these such as are the plate's own.
    called: usize,
    wrong: usize,
}

/// What became of a few dozen turned pairs.
#[derive(Debug, Clone)]
pub struct TurnedAccuracy {
    seeds: (u64, u64),
    pairs: Vec<Pair>,
}

impl TurnedAccuracy {
    /// Paints, reads and scores so many pairs, each of the next seed. Scans lie in `dir` only while
    /// they are read.
    pub fn measure(
        first_seed: u64,
        count: usize,
        dir: &Path,
        reader: Reader,
    ) -> Result<Self, PracticeError> {
        let pairs: Result<Vec<Pair>, PracticeError> = (0..count)
            .into_par_iter()
            .map(|i| pair(first_seed + i as u64, i, dir, reader))
            .collect();
        Ok(TurnedAccuracy {
            seeds: (first_seed, first_seed + (count as u64).saturating_sub(1)),
            pairs: pairs?,
        })
    }

    /// Share of the dust that can be seen that was called dust; `None` without any.
    pub fn called_dust(&self) -> Option<f64> {
        let (right, of) = self.count(|_| true, |piece| piece.turned == DustNamed::Dust);
        (of > 0).then(|| right as f64 / of as f64)
    }

    /// Share of all marks called dust that are the plate's own; `None` when nothing was called so.
    pub fn wrongly_called(&self) -> Option<f64> {
        let called: usize = self.pairs.iter().map(|pair| pair.called).sum();
        let wrong: usize = self.pairs.iter().map(|pair| pair.wrong).sum();
        (called > 0).then(|| wrong as f64 / called as f64)
    }

    /// Largest error of registration of each pair that was laid on by its picture, millimetres.
    pub fn registration_off_mm(&self) -> Vec<f64> {
        let laid = self.pairs.iter().filter(|pair| pair.by_picture);
        laid.filter_map(|pair| pair.off_mm).collect()
    }

    /// Pairs, and how many of them were read as such.
    pub fn read(&self) -> (usize, usize) {
        let read = self.pairs.iter().filter(|pair| pair.read).count();
        (self.pairs.len(), read)
    }

    /// Pieces of which something holds, of those of some kind.
    fn count(&self, of: impl Fn(&Piece) -> bool, holds: impl Fn(&Piece) -> bool) -> (usize, usize) {
        let pieces = self
            .pairs
            .iter()
            .flat_map(|pair| &pair.seen)
            .filter(|piece| of(piece));
        pieces.fold((0, 0), |(n, all), piece| {
            (n + usize::from(holds(piece)), all + 1)
        })
    }

    /// The table in Markdown.
    pub fn table(&self) -> String {
        let (pairs, read) = self.read();
        let by_picture = self.pairs.iter().filter(|pair| pair.by_picture).count();
        let mut out = String::from("# Accuracy with a turned scan\n\n");
        // Writing to a string cannot fail.
        let mut line = |text: String| {
            let _ = writeln!(out, "{text}");
        };
        line(format!(
            "oystermark {}, seeds {} to {}: {pairs} made-up plates on dirty glass, each scanned twice, the \
             second time turned half round; {read} pairs read, {by_picture} of them laid on each other by \
             the plate's picture, the rest by its outline. Dust counts as seen when it changes the \
             density by at least {SEEN_D} and {SEEN_SIGMAS} standard deviations of what is around it. \
             Intervals hold 95 %.",
            env!("CARGO_PKG_VERSION"),
            self.seeds.0,
            self.seeds.1,
        ));
        line(String::new());
        line("| dust that is seen | called dust with the turned scan | called a mark of the plate then | called a mark of the plate with one scan |".into());
        line("|---|---|---|---|".into());
        for (k, (name, _)) in KINDS.iter().enumerate() {
            line(self.row(name, |piece| piece.kind == k));
        }
        line(self.row("all", |_| true));
        line(String::new());
        let called: usize = self.pairs.iter().map(|pair| pair.called).sum();
        let wrong: usize = self.pairs.iter().map(|pair| pair.wrong).sum();
        line(format!(
            "Called dust though no dust lay there: {}.",
            in_words(wrong, called)
        ));
        for (name, picture) in [("pictures", true), ("even plates", false)] {
            let laid = self
                .pairs
                .iter()
                .filter(|pair| pair.read && pair.picture == picture);
            let mut off: Vec<f64> = laid.filter_map(|pair| pair.off_mm).collect();
            let count = off.len();
            if let (Some(middle), Some(most)) = (quantile(&mut off, 0.5), quantile(&mut off, 1.0)) {
                line(format!(
                    "Largest error of registration over a plate, {count} {name}: median {middle:.3} mm, most {most:.3} mm."
                ));
            }
        }
        out
    }

    fn row(&self, name: &str, of: impl Fn(&Piece) -> bool) -> String {
        let cell = |holds: &dyn Fn(&Piece) -> bool| {
            let (n, all) = self.count(&of, holds);
            in_words(n, all)
        };
        format!(
            "| {name} | {} | {} | {} |",
            cell(&|piece| piece.turned == DustNamed::Dust),
            cell(&|piece| piece.turned == DustNamed::Mark),
            cell(&|piece| piece.alone == DustNamed::Mark),
        )
    }
}

/// A dirty scan of a plate of one kind after the other, with marks on three of four.
fn recipe(seed: u64, turn: usize) -> Recipe {
    let even = [PlateKind::Flat, PlateKind::Blank];
    let kind = (turn % 4 == 3).then(|| even[turn / 4 % 2]);
    let scenes = SceneName::PICTURES.len();
    let scene = match turn % 4 {
        0 => Some(BUSY[turn / 4 % BUSY.len()]),
        3 => None,
        _ => Some(SceneName::PICTURES[turn * 5 % scenes]),
    };
    let level = 2 + (turn / 4 % 3) as u8;
    let faults = match turn % 5 {
        0 | 4 => Vec::new(),
        1 => vec![FaultWish::Comets(level)],
        2 if kind != Some(PlateKind::Blank) => vec![FaultWish::Pinholes(level)],
        _ => vec![FaultWish::Specks(level)],
    };
    let wish = Wish {
        faults,
        kind,
        scene,
        process: Some(
            [
                Process::PositiveOnMetal,
                Process::PositiveOnGlass,
                Process::NegativeOnGlass,
            ][turn % 3],
        ),
        crop: Some(Crop::Margin),
        dpi: Some([600.0, 400.0][turn / 2 % 2]),
        size_name: Some(["sixth", "ninth"][turn % 2]),
        glass: Some([Glass::Filthy, Glass::Dusty][turn / 3 % 2]),
        ..Wish::default()
    };
    Recipe::random(seed, &format!("turned-{seed}"), &wish)
}

fn pair(seed: u64, turn: usize, dir: &Path, reader: Reader) -> Result<Pair, PracticeError> {
    let recipe = recipe(seed, turn);
    let [first, second] = PracticePlate::paint_pair(&recipe)?;
    let without = without_dust(&recipe)?;
    let write = |plate: &PracticePlate| write_whole(&dir.join(&plate.file_name), &plate.file);
    let (one, two, bare) = (write(&first)?, write(&second)?, write(&without)?);
    let truth = |plate: &PracticePlate| plate.truths.first().map(|(_, truth)| truth.clone());
    let mut pair = Pair {
        picture: recipe.plates.first().map(|plate| plate.kind) == Some(PlateKind::Picture),
        ..Pair::default()
    };
    if let (Some(here), Some(there)) = (truth(&first), truth(&second)) {
        let report = |second| reader(&one, second, &recipe).into_iter().next();
        let (alone, turned) = (report(None), report(Some(two.as_path())));
        let seen = seen(&one, &bare, &here);
        let named = |report: Option<&Value>| report.map(|report| dust_named(report, &here));
        let (alone, told) = (named(alone.as_ref()), named(turned.as_ref()));
        for (i, kind) in seen {
            let of = |all: &Option<(Vec<DustNamed>, [usize; 2])>| {
                all.as_ref()
                    .and_then(|(named, _)| named.get(i).copied())
                    .unwrap_or(DustNamed::Not)
            };
            pair.seen.push(Piece {
                kind,
                alone: of(&alone),
                turned: of(&told),
            });
        }
        if let Some((_, [called, wrong])) = told {
            (pair.called, pair.wrong) = (called, wrong);
        }
        if let Some(report) = &turned {
            pair.read = true;
            pair.by_picture =
                report.pointer("/scan/turned/laid_by") == Some(&Value::from("picture"));
            pair.off_mm = off_mm(report, &here, &there);
        }
    }
    for path in [one, two, bare] {
        // A scan that cannot be removed is only in the way.
        let _ = std::fs::remove_file(path);
    }
    Ok(pair)
}

fn without_dust(recipe: &Recipe) -> Result<PracticePlate, PracticeError> {
    let mut bare = recipe.clone();
    bare.name = format!("{}-bare", recipe.name);
    let scan = &mut bare.scan;
    (
        scan.dust_specks,
        scan.dust_fibres,
        scan.dust_hairs,
        scan.dust_flecks,
    ) = (0, 0, 0, 0);
    PracticePlate::paint(&bare)
}

/// The pieces of dust over the plate that can be seen, by number in the truth, with their kind.
fn seen(dusty: &Path, bare: &Path, truth: &Value) -> Vec<(usize, usize)> {
    let density = |path: &Path| {
        let scan = crate::scan::read(path, &ScanSettings::default(), Want::Reduce(1)).ok()?;
        Some(scan.light.mapv(|light| -light.max(DARKEST_LIGHT).log10()))
    };
    let (Some(dusty), Some(bare), Some(to_px)) = (density(dusty), density(bare), map(truth)) else {
        return Vec::new();
    };
    let number = |path: &str| truth.pointer(path).and_then(Value::as_f64);
    let (Some(w), Some(h), Some(dpi)) = (
        number("/plate/width_mm"),
        number("/plate/height_mm"),
        number("/scan/dpi_true"),
    ) else {
        return Vec::new();
    };
    let around = (AROUND_MM * dpi / MM_PER_INCH).ceil() as usize;
    let pieces = truth["dust"].as_array();
    pieces
        .into_iter()
        .flatten()
        .enumerate()
        .filter_map(|(i, piece)| {
            let kind = piece["kind"].as_str()?;
            let kind = KINDS.iter().position(|(_, names)| names.contains(&kind))?;
            let box_mm: [f64; 4] = serde_json::from_value(piece["box_mm"].clone()).ok()?;
            let [l, t, r, b] = box_mm;
            let (x, y) = (0.5 * (l + r), 0.5 * (t + b));
            let over = x > EDGE_MM && y > EDGE_MM && x < w - EDGE_MM && y < h - EDGE_MM;
            let corners = [[l, t], [r, t], [r, b], [l, b]].map(|[x, y]| pose::apply(&to_px, x, y));
            (over && stands_out(&dusty, &bare, corners, around)?).then_some((i, kind))
        })
        .collect()
}

/// Whether the dust within these corners (pixels) changes the plate enough.
fn stands_out(
    dusty: &Grid<f32>,
    bare: &Grid<f32>,
    corners: [[f64; 2]; 4],
    around: usize,
) -> Option<bool> {
    let (rows, columns) = bare.dim();
    let span = |axis: usize, cells: usize| {
        let of = corners.map(|c| c[axis]);
        let low = of.iter().copied().fold(f64::MAX, f64::min).floor().max(0.0) as usize;
        let high = of.iter().copied().fold(0.0, f64::max).ceil().max(0.0) as usize;
        (low.min(cells), high.min(cells))
    };
    let ((left, right), (top, bottom)) = (span(0, columns), span(1, rows));
    let mut most = (0.0f32, top, left);
    for i in top..bottom {
        for j in left..right {
            let change = (dusty[[i, j]] - bare[[i, j]]).abs();
            if change > most.0 {
                most = (change, i, j);
            }
        }
    }
    let (peak, i, j) = (f64::from(most.0), most.1, most.2);
    let (mut n, mut sum, mut squares) = (0.0, 0.0, 0.0);
    for i in i.saturating_sub(around)..(i + around + 1).min(rows) {
        for j in j.saturating_sub(around)..(j + around + 1).min(columns) {
            let d = f64::from(bare[[i, j]]);
            (n, sum, squares) = (n + 1.0, sum + d, squares + d * d);
        }
    }
    let mean = (n > 0.0).then(|| sum / n)?;
    let sd = (squares / n - mean * mean).max(0.0).sqrt();
    Some(peak >= SEEN_D && peak >= SEEN_SIGMAS * sd)
}

/// From the plate's own millimetres to pixels, as painted.
fn map(truth: &Value) -> Option<Map> {
    serde_json::from_value(truth.pointer("/plate/homography_mm_to_px")?.clone()).ok()
}

/// Largest distance between where the report puts a place of the plate in the second scan and where it
/// lies, over the whole plate, millimetres.
fn off_mm(report: &Value, here: &Value, there: &Value) -> Option<f64> {
    let number = |of: &Value, path: &str| of.pointer(path).and_then(Value::as_f64);
    let corners = |path: &str| -> Option<[[f64; 2]; 4]> {
        serde_json::from_value(report.pointer(path)?.clone()).ok()
    };
    let (w, h) = (
        number(here, "/plate/width_mm")?,
        number(here, "/plate/height_mm")?,
    );
    let (first, second) = (
        corners("/plate/corners_px")?,
        corners("/scan/turned/corners_px")?,
    );
    let to_report = pose::inverse(&pose::rectangle_to(first, w, h));
    let to_second = pose::rectangle_to(second, w, h);
    let (here_px, there_px) = (map(here)?, map(there)?);
    let px_per_mm = number(there, "/scan/dpi_true")? / MM_PER_INCH;
    let mut most = 0.0f64;
    for (x, y) in (1..10).flat_map(|i| (1..10).map(move |j| (f64::from(i), f64::from(j)))) {
        let (x, y) = (0.1 * x * w, 0.1 * y * h);
        let [px, py] = pose::apply(&here_px, x, y);
        let [u, v] = pose::apply(&to_report, px, py);
        let [sx, sy] = pose::apply(&to_second, u, v);
        let [tx, ty] = pose::apply(&there_px, w - x, h - y);
        most = most.max(libm::hypot(sx - tx, sy - ty) / px_per_mm);
    }
    Some(most)
}
