//! Figures of a planted fault beside those of the finding that names it.

use std::collections::BTreeMap;

use serde_json::Value;

use super::number;

/// Corners, clockwise: figures number them.
const CORNERS: [&str; 4] = ["top_left", "top_right", "bottom_right", "bottom_left"];

/// Figures that both sides state.
pub(super) fn figures(fault: &Value, finding: &Value) -> BTreeMap<&'static str, (f64, f64)> {
    let pairs: [(&'static str, &str, &str); 13] = [
        ("fog_d", "/measured/fog_d", "/measured/fog_d"),
        ("depth_mm", "/measured/depth_mm", "/measured/depth_mm"),
        ("length_mm", "/measured/length_mm", "/measured/length_mm"),
        ("veil_d", "/measured/veil_d", "/measured/veil_d"),
        ("direction_deg", "/direction_deg", "/direction_deg"),
        ("axis_deg", "/axis_deg", "/axis_deg"),
        ("range_d", "/measured/range_d", "/measured/range_d"),
        ("count", "/measured/count", "/measured/count"),
        ("width_mm", "/measured/width_mm", "/measured/width_mm"),
        ("spacing_mm", "/measured/spacing_mm", "/measured/spacing_mm"),
        ("area_mm2", "/measured/area_mm2", "/measured/area_mm2"),
        (
            "visible_mm2",
            "/measured/visible_area_mm2",
            "/measured/area_mm2",
        ),
        ("contrast_d", "/measured/contrast_d", "/measured/contrast_d"),
    ];
    let mut figures: BTreeMap<&'static str, (f64, f64)> = pairs
        .into_iter()
        .filter_map(|(name, there, here)| {
            Some((name, (number(fault, there)?, number(finding, here)?)))
        })
        .collect();
    // What a report states among its measures only.
    for (name, path) in [
        ("axis_deg", "/measured/axis_deg"),
        ("direction_deg", "/measured/direction_deg"),
    ] {
        if let (None, Some(there), Some(here)) = (
            figures.get(name),
            number(fault, &format!("/{name}")),
            number(finding, path),
        ) {
            figures.insert(name, (there, here));
        }
    }
    // A corner is right or not: as many corners away as there are edges between.
    let corner = |of: &Value| {
        let word = of.pointer("/measured/thick_corner")?.as_str()?;
        CORNERS.iter().position(|corner| *corner == word)
    };
    if let (Some(there), Some(here)) = (corner(fault), corner(finding)) {
        figures.insert("thick_corner", (there as f64, here as f64));
    }
    figures
}
