//! The truth of a plate that lies turned half round.
//!
//! The plate frame starts at the top left corner as the plate lies in the scan, so everything that is
//! stated in it changes: places go to the far side, directions turn about, edges swap their names;
//! axes and sizes stay. The recipe in `params` stays as it was meant.

use serde_json::{Map, Value, json};

use super::round;

/// Each edge or corner, and what it is called after half a turn.
const PLACES: [(&str, &str); 4] = [
    ("top", "bottom"),
    ("left", "right"),
    ("top_left", "bottom_right"),
    ("top_right", "bottom_left"),
];

/// Turns a truth stated in the plate's own frame into that of the turned plate.
pub(super) fn half_round(truth: &mut Value, width_mm: f64, height_mm: f64) {
    let frame = [width_mm, height_mm];
    if let Some(plate) = truth.get_mut("plate").and_then(Value::as_object_mut) {
        turn_plate(plate, frame);
    }
    for list in ["faults", "residual", "dust"] {
        for one in truth[list].as_array_mut().into_iter().flatten() {
            turn_one(one, frame);
        }
    }
}

/// Corners start at the new top left; the map takes the new frame; edges swap.
fn turn_plate(plate: &mut Map<String, Value>, [w, h]: [f64; 2]) {
    if let Some(corners) = plate.get_mut("corners_px").and_then(Value::as_array_mut) {
        corners.rotate_left(2);
    }
    if let Some(map) = plate.get("homography_mm_to_px").and_then(rows) {
        // The old place of (x, y) is (w - x, h - y); the last entry is brought back to 1.
        let turned = map.map(|[a, b, c]| [-a, -b, a * w + b * h + c]);
        let last = turned[2][2];
        let turned = turned.map(|row| row.map(|value| (value / last * 1e10).round() / 1e10));
        plate.insert("homography_mm_to_px".into(), json!(turned));
    }
    if let Some(Value::Object(ledge)) = plate.get_mut("ledge") {
        for (one, other) in &PLACES[..2] {
            if let (Some(a), Some(b)) = (ledge.remove(*one), ledge.remove(*other)) {
                ledge.insert((*one).into(), b);
                ledge.insert((*other).into(), a);
            }
        }
    }
    if let Some(rims) = plate
        .get_mut("coat_margin_mm")
        .and_then(Value::as_array_mut)
    {
        rims.rotate_left(2);
    }
}

fn rows(map: &Value) -> Option<[[f64; 3]; 3]> {
    serde_json::from_value(map.clone()).ok()
}

/// One fault, mark or piece of dust, with its members.
fn turn_one(one: &mut Value, frame: [f64; 2]) {
    let Some(fields) = one.as_object_mut() else {
        return;
    };
    for (name, value) in fields.iter_mut() {
        match (name.as_str(), value) {
            ("box_mm", Value::Array(sides)) => {
                flip(sides, frame);
                sides.rotate_left(2);
            }
            ("centre_mm" | "tail_end_mm", Value::Array(point)) => flip(point, frame),
            ("direction_deg", Value::Number(deg)) => {
                if let Some(turned) = deg.as_f64().map(|deg| (deg + 180.0).rem_euclid(360.0))
                    && let Some(turned) = serde_json::Number::from_f64(round(turned))
                {
                    *deg = turned;
                }
            }
            ("measured", inner @ Value::Object(_)) => turn_one(inner, frame),
            ("place" | "thick_corner", Value::String(place)) => {
                for (one, other) in PLACES {
                    if place == one {
                        *place = other.into();
                        break;
                    }
                    if place == other {
                        *place = one.into();
                        break;
                    }
                }
            }
            ("variant", Value::String(variant)) => {
                for (one, other) in &PLACES[..2] {
                    let (a, b) = (format!("toward_{one}"), format!("toward_{other}"));
                    if *variant == a {
                        *variant = b;
                        break;
                    }
                    if *variant == b {
                        *variant = a;
                        break;
                    }
                }
            }
            ("members", Value::Array(members)) => {
                members.iter_mut().for_each(|mark| turn_one(mark, frame));
            }
            _ => {}
        }
    }
}

/// Coordinates x, y, x, y ... counted from the far corner.
fn flip(coordinates: &mut [Value], frame: [f64; 2]) {
    for (i, value) in coordinates.iter_mut().enumerate() {
        if let Some(at) = value.as_f64() {
            *value = json!(round(frame[i % 2] - at));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_turn_carries_places_directions_and_the_map() {
        let start = json!({
            "plate": {"corners_px": [[10.0, 10.0], [110.0, 10.0], [110.0, 60.0], [10.0, 60.0]],
                      "homography_mm_to_px": [[2.0, 0.0, 10.0], [0.0, 2.0, 10.0], [0.0, 0.0, 1.0]],
                      "coat_margin_mm": [1.0, 2.0, 3.0, 4.0],
                      "ledge": {"top": 1.0, "right": 2.0, "bottom": 3.0, "left": 4.0}},
            "faults": [{"place": "top_left", "direction_deg": 350.0, "box_mm": [0.0, 1.0, 20.0, 5.0],
                        "variant": "toward_left", "params": {"direction_deg": 350.0},
                        "members": [{"centre_mm": [3.0, 4.0], "direction_deg": null}]}],
            "residual": [], "dust": [],
        });
        let mut turned = start.clone();
        half_round(&mut turned, 50.0, 25.0);
        let plate = &turned["plate"];
        assert_eq!(plate["corners_px"][0], json!([110.0, 60.0]));
        assert_eq!(
            plate["homography_mm_to_px"],
            json!([[-2.0, 0.0, 110.0], [0.0, -2.0, 60.0], [0.0, 0.0, 1.0]])
        );
        assert_eq!(plate["coat_margin_mm"], json!([3.0, 4.0, 1.0, 2.0]));
        assert_eq!(plate["ledge"]["top"], json!(3.0));
        let fault = &turned["faults"][0];
        assert_eq!(fault["box_mm"], json!([30.0, 20.0, 50.0, 24.0]));
        assert_eq!(
            (&fault["place"], &fault["variant"]),
            (&json!("bottom_right"), &json!("toward_right"))
        );
        assert_eq!(
            (&fault["direction_deg"], &fault["params"]),
            (&json!(170.0), &start["faults"][0]["params"])
        );
        assert_eq!(fault["members"][0]["centre_mm"], json!([47.0, 21.0]));
        // Twice is where it was.
        half_round(&mut turned, 50.0, 25.0);
        assert_eq!(turned, start);
    }
}
