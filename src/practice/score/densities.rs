//! Densities of a report against those of the plate.

use std::collections::BTreeMap;

use serde_json::Value;

use super::number;

/// Reported minus true, by name, with the stated half width where there is one.
pub(super) fn densities(
    report: &Value,
    truth: &Value,
) -> BTreeMap<&'static str, (f64, Option<f64>)> {
    let mut errors = BTreeMap::new();
    for (name, path, sure, there) in [
        (
            "d_light",
            "/density/d_light",
            "/density/d_light_u",
            "/density/image_area/p2",
        ),
        (
            "d_dark",
            "/density/d_dark",
            "/density/d_dark_u",
            "/density/image_area/p98",
        ),
    ] {
        if let (Some(here), Some(there)) = (number(report, path), number(truth, there)) {
            errors.insert(name, (here - there, number(report, sure)));
        }
    }
    let histogram = |key: &str| -> Option<Vec<f64>> {
        report
            .pointer(&format!("/density/histogram/{key}"))?
            .as_array()?
            .iter()
            .map(Value::as_f64)
            .collect()
    };
    if let (Some(edges), Some(counts)) = (histogram("edges_d"), histogram("picture_counts")) {
        for (name, percent, path) in [
            ("p5", 5.0, "/density/image_area/p5"),
            ("p50", 50.0, "/density/image_area/p50"),
            ("p95", 95.0, "/density/image_area/p95"),
        ] {
            let here = percentile(&edges, &counts, percent);
            if let (Some(here), Some(there)) = (here, number(truth, path)) {
                errors.insert(name, (here - there, None));
            }
        }
    }
    errors
}

/// Percentile of a histogram, spread evenly within its cells.
fn percentile(edges: &[f64], counts: &[f64], percent: f64) -> Option<f64> {
    let total: f64 = counts.iter().sum();
    if edges.len() != counts.len() + 1 || total <= 0.0 {
        return None;
    }
    let goal = percent / 100.0 * total;
    let mut below = 0.0;
    for (cell, count) in edges.windows(2).zip(counts) {
        if *count > 0.0 && below + count >= goal {
            return Some(cell[0] + (cell[1] - cell[0]) * (goal - below) / count);
        }
        below += count;
    }
    edges.last().copied()
}
