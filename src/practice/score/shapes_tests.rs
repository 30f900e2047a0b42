//! Faults with a shape are matched by boxes, axes and lines.

use serde_json::{Value, json};

use super::*;

fn truth(fault: Value) -> Value {
    json!({"stem": "A-002", "clean": false, "scene": "fence", "dust": [], "residual": [],
           "faults": [fault], "plate": {"kind": "flat", "process": "positive_on_metal",
           "width_mm": 70.0, "height_mm": 83.0, "coat_margin_mm": [0.5, 0.0, 0.0, 0.0]}})
}

fn found(fault: &Value, finding: Value) -> (bool, Verdict, BTreeMap<&'static str, (f64, f64)>) {
    let scored = score(Some(&json!({"findings": [finding]})), &truth(fault.clone()));
    assert!(scored.lines);
    let planted = &scored.faults[0];
    (
        planted.found,
        scored.findings[0].verdict,
        planted.figures.clone(),
    )
}

#[test]
fn streaks_and_ridges_run_along_the_same_axis() {
    for kind in ["streaks", "ridges"] {
        let fault = json!({"fault": kind, "accept": [kind], "level": 3, "findable": true,
            "axis_deg": 176.0, "box_mm": [0, 0, 70, 83],
            "measured": {"count": 20, "width_mm": 0.5}});
        let said = |axis: f64| {
            json!({"fault": kind, "axis_deg": axis, "box_mm": [2, 0, 60, 80],
                   "measured": {"count": 18, "width_mm": {"value": 0.6}}})
        };
        let (hit, verdict, figures) = found(&fault, said(6.0));
        assert!(hit && verdict == Verdict::Right);
        assert_eq!(figures["count"], (20.0, 18.0));
        assert_eq!(figures["width_mm"], (0.5, 0.6));
        assert_eq!(figures["axis_deg"], (176.0, 6.0));
        let (hit, verdict, _) = found(&fault, said(90.0));
        assert!(!hit && verdict == Verdict::False);
    }
}

#[test]
fn a_pour_matches_by_kind_and_compares_corner_and_range() {
    let fault = json!({"fault": "uneven_pour", "accept": ["uneven_pour"], "level": 2,
        "findable": true, "direction_deg": 40.0, "box_mm": [0, 0, 70, 83],
        "measured": {"range_d": 0.2, "thick_corner": "top_right"}});
    let said = json!({"fault": "uneven_pour", "box_mm": [60, 0, 62, 1],
        "measured": {"range_d": 0.25, "direction_deg": 50.0, "thick_corner": "top_left"}});
    let (hit, _, figures) = found(&fault, said);
    assert!(hit);
    assert_eq!(figures["range_d"], (0.2, 0.25));
    assert_eq!(figures["direction_deg"], (40.0, 50.0));
    assert_eq!(figures["thick_corner"], (1.0, 0.0));
}

#[test]
fn shapes_match_by_boxes_and_a_rim_is_natural() {
    for kind in ["bare_area", "stain", "dip_line"] {
        let fault = json!({"fault": kind, "accept": [kind], "level": 3, "findable": true,
            "box_mm": [50, 60, 70, 83], "measured": {"area_mm2": 90.0}});
        let said =
            |b: [f64; 4]| json!({"fault": kind, "box_mm": b, "measured": {"area_mm2": 60.0}});
        let (hit, _, figures) = found(&fault, said([52.0, 65.0, 70.0, 83.0]));
        assert!(hit);
        assert_eq!(figures["area_mm2"], (90.0, 60.0));
        assert!(!found(&fault, said([0.0, 0.0, 20.0, 20.0])).0);
        let rim = found(&fault, said([0.0, 0.0, 70.0, 1.2])).1;
        let natural = if kind == "bare_area" {
            Verdict::Natural
        } else {
            Verdict::False
        };
        assert_eq!(rim, natural, "{kind}");
    }
}

#[test]
fn a_scratch_is_found_anywhere_along_its_line() {
    let fault = json!({"fault": "scratch", "accept": ["scratch"], "level": 3, "findable": true,
        "axis_deg": 90.0, "box_mm": [10, 40, 50, 41], "measured": {"count": 1},
        "members": [{"centre_mm": [30.0, 40.5], "axis_deg": 90.0, "length_mm": 40.0,
                     "size_mm": 0.2, "contrast_d": 0.3, "findable": true}]});
    let said = |x: f64, y: f64| {
        json!({"fault": "scratch", "box_mm": [x - 5.0, y - 0.5, x + 5.0, y + 0.5],
               "members": [{"centre_mm": [x, y], "size_mm": 0.2}]})
    };
    assert!(found(&fault, said(45.0, 40.9)).0);
    let (hit, verdict, _) = found(&fault, said(30.0, 47.0));
    assert!(!hit && verdict == Verdict::False);
}
