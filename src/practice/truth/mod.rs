//! What is on a made-up plate: the truth that reports are scored against.
//!
//! Everything here comes from the recipe and from the painting with and without its faults, never
//! from a detector.

use serde_json::{Value, json};

use super::maths;
use super::paint::{Painter, Sample, Zone};
use super::pose::{self, Pose};
use super::recipe::{Crop, PlateRecipe, Recipe, ScanRecipe, TagState};
use super::scanner::{DustKind, PlateSamples, Scanned};
use crate::units::MM_PER_INCH;

mod density;
mod faults;
mod turned;

/// Name and version of the truth's layout.
pub const TRUTH_SCHEMA: &str = "oystermark/plate-truth/1";

/// One truth for each plate, with the stem of its report's name.
pub(super) fn of(recipe: &Recipe, painters: &[Painter], scanned: &Scanned) -> Vec<(String, Value)> {
    let several = recipe.plates.len() > 1;
    recipe
        .plates
        .iter()
        .zip(painters)
        .zip(&scanned.plates)
        .enumerate()
        .map(|(i, ((plate, painter), samples))| {
            let stem = if several {
                format!("{}-{}", recipe.name, i + 1)
            } else {
                recipe.name.clone()
            };
            let view = View::new(recipe, plate, samples, scanned);
            let mut truth = truth_of(recipe, &stem, &view, painter);
            if recipe.scan.turned {
                turned::half_round(&mut truth, view.width_mm, view.height_mm);
            }
            (stem, truth)
        })
        .collect()
}

/// A plate as the scan shows it: where the scan ends inside it, the visible piece is the plate.
pub(super) struct View<'a> {
    plate: &'a PlateRecipe,
    scan: &'a ScanRecipe,
    samples: &'a PlateSamples,
    scanned: &'a Scanned,
    /// Frame of the visible plate.
    frame: Pose,
    /// What the crop took from each edge, in the order of `Edge::ALL`, millimetres.
    cut_mm: [f64; 4],
    width_mm: f64,
    height_mm: f64,
    pixel_mm: f64,
}

/// One pixel of the plate in the two frames.
#[derive(Clone, Copy)]
struct Spot {
    sample: Sample,
    /// In the frame of the visible plate, millimetres.
    x: f64,
    y: f64,
    /// In the frame of the whole plate, millimetres.
    whole: [f64; 2],
    /// Linear light of the scan.
    light: f32,
}

impl<'a> View<'a> {
    fn new(
        recipe: &'a Recipe,
        plate: &'a PlateRecipe,
        samples: &'a PlateSamples,
        scanned: &'a Scanned,
    ) -> Self {
        let pixel_mm = MM_PER_INCH / recipe.scan.dpi;
        let (w_px, h_px) = (scanned.width_px, scanned.height_px);
        let (frame, cut_mm, width_mm, height_mm) = if recipe.scan.crop == Crop::Inside {
            let low = pose::apply(&samples.pose.to_mm, 0.0, 0.0);
            let (w, h) = (w_px as f64 * pixel_mm, h_px as f64 * pixel_mm);
            let cut = [
                low[1].max(0.0),
                (plate.width_mm - w - low[0]).max(0.0),
                (plate.height_mm - h - low[1]).max(0.0),
                low[0].max(0.0),
            ];
            (Pose::visible(w_px, h_px, recipe.scan.dpi), cut, w, h)
        } else {
            (
                samples.pose.clone(),
                [0.0; 4],
                plate.width_mm,
                plate.height_mm,
            )
        };
        View {
            plate,
            scan: &recipe.scan,
            samples,
            scanned,
            frame,
            cut_mm,
            width_mm,
            height_mm,
            pixel_mm,
        }
    }

    /// All pixels that lie wholly on the plate, row by row.
    fn spots(&self) -> impl Iterator<Item = Spot> + '_ {
        let [left, top] = self.samples.origin;
        let columns = self.samples.size[0].max(1);
        self.samples
            .samples
            .iter()
            .enumerate()
            .filter(|(_, sample)| sample.zone != Zone::Outside)
            .map(move |(i, sample)| {
                let (column, row) = (left + i % columns, top + i / columns);
                let whole = pose::apply(
                    &self.samples.pose.to_mm,
                    column as f64 + 0.5,
                    row as f64 + 0.5,
                );
                let [x, y] = self.seen(whole);
                Spot {
                    sample: *sample,
                    x,
                    y,
                    whole,
                    light: self.scanned.light[row * self.scanned.width_px + column],
                }
            })
    }

    /// A place of the whole plate, millimetres, in the frame of the visible one: where the scan ends
    /// inside the plate, the scan's own frame, in which the plate may lie a little turned.
    fn seen(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        if self.scan.crop != Crop::Inside {
            return [x, y];
        }
        let [x, y] = pose::apply(&self.samples.pose.to_px, x, y);
        pose::apply(&self.frame.to_mm, x, y)
    }

    /// A width along an edge that is left after the crop, in the order of `Edge::ALL`.
    fn left_over(&self, widths_mm: [f64; 4]) -> [f64; 4] {
        std::array::from_fn(|i| (widths_mm[i] - self.cut_mm[i]).max(0.0))
    }
}

/// Five decimals: a hundredth of a micrometre, finer than anything measured here.
fn round(value: f64) -> f64 {
    (value * 1e5).round() / 1e5
}

fn rounded<const N: usize>(values: [f64; N]) -> Vec<f64> {
    values.into_iter().map(round).collect()
}

fn truth_of(recipe: &Recipe, stem: &str, view: &View, painter: &Painter) -> Value {
    let plate = view.plate;
    let positive = plate.process.is_positive();
    let tone = &plate.tone;
    let tone_truth = if positive {
        json!({"process": plate.process, "d_dark": tone.support_d, "d_light": tone.full_silver_d,
               "gamma": tone.gamma})
    } else {
        json!({"process": plate.process, "base": tone.support_d, "d_max": tone.full_silver_d,
               "gamma": tone.gamma})
    };
    json!({
        "schema": TRUTH_SCHEMA,
        "stem": stem,
        "file": format!("{}.{}", recipe.name, recipe.scan.format.extension()),
        "set": "practice",
        "index": recipe.seed,
        "clean": plate.faults.is_empty(),
        "scan": scan_truth(recipe, view),
        "plate": plate_truth(view),
        "density": density::of(view),
        "tone": tone_truth,
        "scene": plate.scene.word(),
        "bait": plate.scene.is_bait(),
        "handling": Value::Null,
        "faults": faults::of(view, painter),
        "residual": residual(view, painter),
        "natural": {"pour": plate.texture.pour_d, "cloud": plate.texture.cloud_d,
                    "grain": plate.texture.grain_d, "mottle": plate.texture.mottle_d,
                    "support": plate.texture.support_d, "specks": plate.texture.specks},
        "dust": dust(view),
        "row": {},
    })
}

fn scan_truth(recipe: &Recipe, view: &View) -> Value {
    let scan = &recipe.scan;
    let (state, value, unit) = match scan.dpi_tag {
        TagState::Ok => ("ok", Some(scan.dpi), Some("inch")),
        TagState::Absent => ("absent", None, None),
        TagState::Default72 => ("default72", Some(72.0), Some("inch")),
        TagState::WrongUnit => (
            "wrong_unit",
            Some(scan.dpi),
            Some(if scan.format == super::FileFormat::Png {
                "m"
            } else {
                "cm"
            }),
        ),
    };
    json!({
        "file": format!("{}.{}", recipe.name, scan.format.extension()),
        "width_px": view.scanned.width_px,
        "height_px": view.scanned.height_px,
        "bits": scan.bits,
        "channels": scan.channels,
        "dpi_true": scan.dpi,
        "dpi_tag": {"state": state, "x": value, "y": value, "unit": unit},
        "encoding": scan.encoding.word(),
        "icc": scan.icc,
        "format": scan.format.extension(),
        "quality": (scan.format == super::FileFormat::Jpeg).then_some(scan.jpeg_quality),
        "background": scan.lid.word(),
        "crop": scan.crop.word(),
        "psf_px": scan.blur_px,
        "flare": scan.flare,
        "gain": scan.gain,
        "shot": scan.shot,
        "read": scan.read,
        "columns": scan.columns,
        "sharpen": scan.sharpen,
    })
}

fn plate_truth(view: &View) -> Value {
    let plate = view.plate;
    let corners: Vec<Vec<f64>> = view.frame.corners_px.iter().map(|c| rounded(*c)).collect();
    // The map keeps ten decimals: its last row is small.
    let homography = view
        .frame
        .to_px
        .map(|row| row.map(|value| (value * 1e10).round() / 1e10));
    let ledge = plate.ledge.as_ref().map(|ledge| {
        let [top, right, bottom, left] = view.left_over(ledge.width_mm).map(round);
        json!({"top": top, "right": right, "bottom": bottom, "left": left,
               "penumbra": ledge.penumbra_mm, "corner": ledge.support_mm,
               "form": ledge.form.word()})
    });
    let rim = view.left_over(plate.rim_mm);
    json!({
        "found": true,
        "corners_px": corners,
        "homography_mm_to_px": homography,
        "turn_deg": round(plate.turn_deg),
        "width_mm": round(view.width_mm),
        "height_mm": round(view.height_mm),
        "size_name": plate.size_name,
        "process": plate.process,
        "kind": plate.kind,
        "corner_form": plate.corners.word(),
        "corner_mm": plate.corner_mm,
        "true_width_mm": plate.width_mm,
        "true_height_mm": plate.height_mm,
        "ledge": ledge,
        "coat_margin_mm": rim.iter().any(|mm| *mm > 0.0).then(|| rounded(rim)),
    })
}

/// The few specks of any plate that lie on the visible piece.
fn residual(view: &View, painter: &Painter) -> Vec<Value> {
    painter
        .specks()
        .iter()
        .filter_map(|speck| {
            let [x, y] = view.seen([f64::from(speck.x), f64::from(speck.y)]);
            let size = f64::from(speck.size);
            let on = (0.0..view.width_mm).contains(&x) && (0.0..view.height_mm).contains(&y);
            let lighter = speck.peak_d < 0.0;
            let more = lighter == view.plate.process.is_positive();
            on.then(|| {
                json!({
                    "contrast_d": round(f64::from(speck.peak_d.abs())),
                    "box_mm": rounded([x - 0.5 * size, y - 0.5 * size, x + 0.5 * size, y + 0.5 * size]),
                    "centre_mm": rounded([x, y]),
                    "size_mm": round(size),
                    "length_mm": null, "direction_deg": null, "axis_deg": null,
                    "polarity": if more { "more_silver" } else { "less_silver" },
                    "findable": false,
                })
            })
        })
        .collect()
}

/// Dust within 15 mm of the plate, in its frame.
fn dust(view: &View) -> Vec<Value> {
    let near = |low: f64, high: f64, limit: f64| high > -15.0 && low < limit + 15.0;
    view.scanned
        .dust
        .iter()
        .filter_map(|dust| {
            let half_px = (0.5 * dust.size_mm / view.pixel_mm).max(0.5) as f32;
            let [l, t, r, b] = dust.bounds_px(half_px).map(f64::from);
            let mut limits = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
            for [x, y] in [[l, t], [r, t], [r, b], [l, b]] {
                let [x, y] = pose::apply(&view.frame.to_mm, x, y);
                limits[0] = limits[0].min(x);
                limits[1] = limits[1].min(y);
                limits[2] = limits[2].max(x);
                limits[3] = limits[3].max(y);
            }
            let [l, t, r, b] = limits;
            let kind = match dust.kind {
                DustKind::Speck => "speck",
                DustKind::Fibre => "fibre",
                DustKind::Hair => "hair",
                DustKind::Fleck => "fleck",
            };
            (near(l, r, view.width_mm) && near(t, b, view.height_mm)).then(|| {
                json!({
                    "kind": kind,
                    "bright": dust.bright,
                    "size_mm": round(dust.size_mm),
                    "length_mm": dust.length_mm.map(round),
                    "box_mm": rounded(limits),
                    "centre_mm": rounded([0.5 * (l + r), 0.5 * (t + b)]),
                })
            })
        })
        .collect()
}

/// Mean of values, with how many there are.
#[derive(Debug, Clone, Copy, Default)]
struct Mean {
    sum: f64,
    count: f64,
}

impl Mean {
    fn add(&mut self, value: f64) {
        self.sum += value;
        self.count += 1.0;
    }

    fn get(self) -> Option<f64> {
        (self.count > 0.0).then(|| self.sum / self.count)
    }
}

/// Density of a mean of light.
fn mean_density(mean: Mean) -> Option<f64> {
    mean.get()
        .map(|light| f64::from(maths::density(light as f32)))
}
