//! Densities of the plate as painted and as scanned.

use serde_json::{Value, json};

use super::{Mean, View, Zone, mean_density, round};
use crate::practice::maths::{density, pow10};

/// Cells of a histogram, 0.0005 D each from -0.5 to 4.5.
const CELLS: usize = 10_000;
const CELL_D: f64 = 0.0005;
const LOW_D: f64 = -0.5;

struct Histogram {
    counts: Vec<u32>,
    mean: Mean,
}

impl Histogram {
    fn new() -> Self {
        Histogram {
            counts: vec![0; CELLS],
            mean: Mean::default(),
        }
    }

    fn add(&mut self, d: f32) {
        let cell = ((f64::from(d) - LOW_D) / CELL_D).max(0.0) as usize;
        self.counts[cell.min(CELLS - 1)] += 1;
        self.mean.add(f64::from(d));
    }

    fn percentile(&self, percent: f64) -> Option<f64> {
        let goal = percent / 100.0 * self.mean.count;
        let mut below = 0.0;
        for (cell, count) in self.counts.iter().enumerate() {
            let count = f64::from(*count);
            if count > 0.0 && below + count >= goal {
                let share = ((goal - below) / count).clamp(0.0, 1.0);
                return Some(round(LOW_D + (cell as f64 + share) * CELL_D));
            }
            below += count;
        }
        None
    }

    fn percentiles(&self) -> Vec<(String, Value)> {
        [1, 2, 5, 50, 95, 98, 99]
            .iter()
            .map(|p| (format!("p{p}"), json!(self.percentile(f64::from(*p)))))
            .chain([("mean".into(), json!(self.mean.get().map(round)))])
            .collect()
    }
}

/// Percentiles of the whole plate, of its picture area and of the plate as scanned; patch values.
pub(super) fn of(view: &View) -> Value {
    let (mut whole, mut picture, mut scanned) =
        (Histogram::new(), Histogram::new(), Histogram::new());
    // Squares of 1 mm: light over all of the plate, and whether all of it is picture.
    let columns = (view.width_mm.floor() as usize).max(1);
    let rows = (view.height_mm.floor() as usize).max(1);
    let mut patches = vec![(Mean::default(), true); columns * rows];
    for spot in view.spots() {
        let d = spot.sample.d;
        whole.add(d);
        scanned.add(density(spot.light));
        let in_picture = spot.sample.zone == Zone::Picture;
        if in_picture {
            picture.add(d);
        }
        if spot.x >= 0.0 && spot.y >= 0.0 {
            let (column, row) = (spot.x as usize, spot.y as usize);
            if column < columns && row < rows {
                let (mean, inner) = &mut patches[row * columns + column];
                mean.add(f64::from(pow10(-d)));
                *inner &= in_picture;
            }
        }
    }
    // A patch counts when nearly all of it is on the plate.
    let full = 0.9 / (view.pixel_mm * view.pixel_mm);
    let ends = |only_inner: bool| {
        let values = patches
            .iter()
            .filter(|(mean, inner)| mean.count >= full && (*inner || !only_inner))
            .filter_map(|(mean, _)| mean_density(*mean));
        values.fold(None, |ends: Option<(f64, f64)>, d| {
            Some(ends.map_or((d, d), |(low, high)| (low.min(d), high.max(d))))
        })
    };
    let (outer, inner) = (ends(false), ends(true).or(ends(false)));
    let tone = &view.plate.tone;
    let mut truth: serde_json::Map<String, Value> = whole.percentiles().into_iter().collect();
    for (name, value) in [
        ("patch_min", outer.map(|e| e.0)),
        ("patch_max", outer.map(|e| e.1)),
        ("inner_patch_min", inner.map(|e| e.0)),
        ("inner_patch_max", inner.map(|e| e.1)),
    ] {
        truth.insert(name.into(), json!(value.map(round)));
    }
    let area: serde_json::Map<String, Value> = if picture.mean.count > 0.0 {
        picture.percentiles().into_iter().collect()
    } else {
        whole.percentiles().into_iter().collect()
    };
    truth.insert("image_area".into(), Value::Object(area));
    truth.insert("d_support".into(), json!(tone.support_d));
    truth.insert("d_unexposed".into(), json!(round(tone.unexposed_d)));
    truth.insert(
        "veil_floor_d".into(),
        json!(round((tone.support_d - tone.unexposed_d).abs())),
    );
    truth.insert(
        "scanned".into(),
        Value::Object(scanned.percentiles().into_iter().collect()),
    );
    Value::Object(truth)
}
